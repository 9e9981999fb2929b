"""Folders of rendered photos with their truth files."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

from counter.synthetic.pattern import work_with_slip, written
from counter.synthetic.render import render_photo, share_cores
from counter.synthetic.scene import DIFFICULTIES, NEGATIVES, SceneRequest

__all__ = ["SETS", "photo_spec", "render_set", "write_photo"]

#: Sets of increase rounds with one slip in the last round, or none; the same
#: seed shows the same plan in all three.
SLIP_SETS = {"right": None, "short": "increase left out", "over": "increase too many"}
#: Every kind of set. "mixed" is what most photos look like; "wide", for
#: training, draws each property by itself over all that occurs.
SETS = (*DIFFICULTIES, "mixed", "wide", *SLIP_SETS)

#: Share of photos with nothing to count in the sets that hold such photos.
NEGATIVE_SHARE = {"mixed": 0.08, "wide": 0.04}


def photo_spec(seed: int, difficulty: str) -> dict:
    """What a photo of a set shows: arguments for :func:`render_photo`.

    Parameters
    ----------
    seed : int
    difficulty : str
        One of :data:`SETS`; "mixed" and "wide" also draw photos with nothing to count.

    Returns
    -------
    dict
        "difficulty", "negative" and, where the rounds are fixed, "wish".
    """
    rng = np.random.default_rng([seed, 7])
    if difficulty in SLIP_SETS:
        worked, _, _ = work_with_slip(rng, SLIP_SETS[difficulty])
        ordinary = np.random.default_rng([seed, 9]).random() < 0.6
        return {"difficulty": "ordinary" if ordinary else "easy", "negative": None, "wish": SceneRequest(worked=worked)}
    if difficulty in NEGATIVE_SHARE and rng.random() < NEGATIVE_SHARE[difficulty]:
        return {"difficulty": None, "negative": str(rng.choice(list(NEGATIVES)))}
    return {"difficulty": None if difficulty == "mixed" else difficulty, "negative": None}


def _write(path: Path, data: bytes) -> None:
    """Write a file whole or not at all."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    part.write_bytes(data)
    os.replace(part, path)


def write_photo(
    folder: Path, name: str, pixels: np.ndarray, truth: dict, quality: int, most_bytes: int | None = None
) -> None:
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


def _render_one(folder: Path, seed: int, difficulty: str, long_side: int | None, samples: int) -> None:
    pixels, truth = render_photo(seed, long_side=long_side, samples=samples, **photo_spec(seed, difficulty))
    if difficulty in SLIP_SETS:
        truth |= _slip_of(seed, SLIP_SETS[difficulty], truth["marks"])
    write_photo(folder, photo_name(seed), pixels, truth, jpeg_quality(seed, 40 if difficulty == "wide" else 68))


def _slip_of(seed: int, slip: str | None, marks: list) -> dict:
    """The last round as it was meant, and where a slip was made."""
    worked, meant, at = work_with_slip(np.random.default_rng([seed, 7]), slip)
    where = None if at is None else {"what": slip, "at": marks[at]}
    return {"written": written(len(worked.bases), meant), "slip": where}


def render_set(
    folder: str | os.PathLike,
    count: int = 150,
    seed: int = 1,
    *,
    difficulty: str = "mixed",
    long_side: int | None = None,
    samples: int = 12,
    workers: int = 1,
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
    difficulty : str
        One of :data:`SETS`.
    long_side : int or None
        Longer side in pixels; in a "wide" set the longest one, for many of its
        photos are smaller.
    samples : int
        Paths for each pixel.
    workers : int
        Processes side by side, each with its share of the cores. One process
        already traces on all cores; more than one gains where there are many
        cores, for the geometry is built on one.
    progress : callable or None
        Called with (photos done, photos in all) before the first and after each photo.

    Returns
    -------
    list of Path
        The photos of the set.
    """
    if difficulty not in SETS:
        raise ValueError(f"difficulty must be one of {', '.join(SETS)}, not {difficulty!r}")
    if count < 1 or seed < 0:
        raise ValueError("count must be at least 1 and seed must not be negative")
    if long_side is not None and not 64 <= long_side <= 8000:
        raise ValueError("the long side must be 64 to 8000 pixels")
    if samples < 1:
        raise ValueError("samples must be at least 1")
    if workers < 1:
        raise ValueError("workers must be at least 1")
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    photos = [folder / f"{photo_name(own)}.jpg" for own in range(seed, seed + count)]
    missing = [
        own
        for own, photo in zip(range(seed, seed + count), photos, strict=False)
        if not (photo.exists() and photo.with_suffix(".json").exists())
    ]
    done = count - len(missing)
    if progress:
        progress(done, count)
    tasks = [(folder, own, difficulty, long_side, samples) for own in missing]
    if workers == 1:
        for task in tasks:
            _render_one(*task)
            done += 1
            if progress:
                progress(done, count)
        return photos
    # "spawn": the tracer's threads do not live through a fork.
    with ProcessPoolExecutor(workers, get_context("spawn"), share_cores, (workers,)) as pool:
        for finished in as_completed([pool.submit(_render_one, *task) for task in tasks]):
            finished.result()
            done += 1
            if progress:
                progress(done, count)
    return photos


def photo_name(seed: int) -> str:
    """Name of a photo of a set, without ending."""
    return f"{seed:06d}"


def jpeg_quality(seed: int, least: int = 68) -> int:
    """JPEG quality of a photo of a set, `least` to 94."""
    return int(np.random.default_rng([seed, 8]).integers(least, 95))
