"""Folders of photos in layers, for training the finder."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

from counter.synthetic.layers import render_layers, tags_of_layers
from counter.synthetic.render import share_cores

__all__ = ["read_layers", "render_layer_set", "write_layers"]

#: JPEG quality of the pixels, which are developed and compressed again in training.
JPEG_QUALITY = 93
#: The body lies in the third bit of the picture of labels.
_BODY = 4


def write_layers(
    folder: Path, name: str, pixels: np.ndarray, labels: np.ndarray, body: np.ndarray, truth: dict
) -> None:
    """Write NAME.jpg, NAME.png and NAME.json; the truth comes last, so what has one is whole.

    Parameters
    ----------
    folder : Path
    name : str
        Without ending.
    pixels, labels, body, truth
        As from :func:`counter.synthetic.layers.render_layers`.
    """
    cv2.imwrite(str(folder / f"{name}.jpg"), pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    cv2.imwrite(str(folder / f"{name}.png"), labels | (body * np.uint8(_BODY)))
    (folder / f"{name}.json").write_text(json.dumps(truth) + "\n", encoding="utf-8")


def read_layers(truth_file: Path) -> tuple[np.ndarray, np.ndarray, np.ndarray, dict]:
    """Read what :func:`write_layers` wrote; the way back."""
    truth = json.loads(truth_file.read_text(encoding="utf-8"))
    pixels = np.asarray(cv2.imread(str(truth_file.with_suffix(".jpg"))))[..., ::-1]
    both = np.asarray(cv2.imread(str(truth_file.with_suffix(".png")), cv2.IMREAD_GRAYSCALE))
    return np.ascontiguousarray(pixels), both & (_BODY - 1), (both & _BODY) > 0, truth


def _one(folder: Path, seed: int, long_side: int, open_share: float | None, tag: str | None) -> None:
    if tag is not None and tag not in tags_of_layers(seed, long_side=long_side, open_share=open_share):
        return
    write_layers(folder, f"{seed:06d}", *render_layers(seed, long_side=long_side, open_share=open_share))


def render_layer_set(
    folder: str | os.PathLike,
    count: int,
    seed: int,
    *,
    long_side: int = 720,
    workers: int = 1,
    open_share: float | None = None,
    tag: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Render a folder of photos in layers; what is there already is kept.

    Parameters
    ----------
    folder : path
        Made where it does not exist.
    count, seed : int
        How many, and the first seed.
    long_side : int
        The longest that a picture may be, in pixels.
    workers : int
        Processes side by side.
    open_share : float or None
        Of pieces in progress, as for :func:`counter.synthetic.wide.compose_wide`.
    tag : str or None
        Leave out the seeds whose piece is not tagged so, "splayed" for instance.
    progress : callable or None
        Called with (photos done, photos in all).
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    missing = [own for own in range(seed, seed + count) if not (folder / f"{own:06d}.json").exists()]
    with ProcessPoolExecutor(workers, get_context("spawn"), share_cores, (workers,)) as pool:
        jobs = [pool.submit(_one, folder, own, long_side, open_share, tag) for own in missing]
        for done, finished in enumerate(as_completed(jobs)):
            finished.result()
            if progress:
                progress(count - len(missing) + done + 1, count)
