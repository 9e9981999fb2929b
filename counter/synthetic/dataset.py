"""Folders of rendered photos with their truth files."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from counter.synthetic.render import render_photo
from counter.synthetic.scene import DIFFICULTIES, NEGATIVES

__all__ = ["photo_spec", "render_set", "write_photo"]

#: Share of photos with nothing to count in a mixed set.
NEGATIVE_SHARE = 0.08


def photo_spec(seed: int, difficulty: str) -> dict:
    """What a photo of a set shows: arguments for :func:`render_photo`.

    Parameters
    ----------
    seed : int
    difficulty : {"easy", "ordinary", "hard", "mixed"}
        "mixed" also draws photos with nothing to count.

    Returns
    -------
    dict
        "difficulty" and "negative".
    """
    rng = np.random.default_rng([seed, 7])
    if difficulty == "mixed" and rng.random() < NEGATIVE_SHARE:
        return {"difficulty": None, "negative": str(rng.choice(list(NEGATIVES)))}
    return {"difficulty": None if difficulty == "mixed" else difficulty, "negative": None}


def _write(path: Path, data: bytes) -> None:
    """Write a file whole or not at all."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    part.write_bytes(data)
    os.replace(part, path)


def write_photo(folder: Path, name: str, pixels: np.ndarray, truth: dict, quality: int, most_bytes: int | None = None) -> None:
    """Write NAME.jpg and NAME.json; the truth comes last, so a photo with truth is whole.

    Parameters
    ----------
    folder : Path
    name : str
        Without ending.
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.
    truth : dict
    quality : int
        Of the JPEG file, 1 to 100.
    most_bytes : int or None
        Lower the quality until the file is no larger.
    """
    while True:
        ok, data = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
        if not ok:
            raise OSError("the photo could not be written as JPEG")
        if most_bytes is None or len(data) <= most_bytes or quality <= 30:
            break
        quality -= 4
    _write(folder / f"{name}.jpg", data.tobytes())
    _write(folder / f"{name}.json", (json.dumps(truth) + "\n").encode())


def render_set(
    folder: str | os.PathLike,
    count: int = 150,
    seed: int = 1,
    *,
    difficulty: str = "mixed",
    long_side: int | None = None,
    samples: int = 12,
    progress: Callable[[int, int], None] | None = None,
) -> list[Path]:
    """Render a folder of photos with truth; what is there already is kept.

    Parameters
    ----------
    folder : path
        Made where it does not exist.
    count : int
        How many photos.
    seed : int
        First seed; the photos use `count` seeds from here, and photo names carry them.
    difficulty : {"easy", "ordinary", "hard", "mixed"}
    long_side : int or None
        Longer side in pixels.
    samples : int
        Paths for each pixel.
    progress : callable or None
        Called with (photos done, photos in all) before the first and after each photo.

    Returns
    -------
    list of Path
        The photos of the set.
    """
    if difficulty not in (*DIFFICULTIES, "mixed"):
        raise ValueError(f"difficulty must be one of {', '.join(DIFFICULTIES)} or mixed, not {difficulty!r}")
    if count < 1 or seed < 0:
        raise ValueError("count must be at least 1 and seed must not be negative")
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    photos = []
    if progress:
        progress(0, count)
    for done in range(count):
        own = seed + done
        name = f"{own:06d}"
        photos.append(folder / f"{name}.jpg")
        if not ((folder / f"{name}.jpg").exists() and (folder / f"{name}.json").exists()):
            pixels, truth = render_photo(own, long_side=long_side, samples=samples, **photo_spec(own, difficulty))
            write_photo(folder, name, pixels, truth, jpeg_quality(own))
        if progress:
            progress(done + 1, count)
    return photos


def jpeg_quality(seed: int) -> int:
    """JPEG quality of a photo of a set, 68 to 94."""
    return int(np.random.default_rng([seed, 8]).integers(68, 95))
