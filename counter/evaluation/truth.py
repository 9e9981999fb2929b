"""What is known about photos: truth files.

A truth file ``NAME.json`` stands beside each photo ``NAME.jpg``::

    {"stitches": 24,            stitches around the rim as it stands (in progress: done + left)
     "rounds": 4,               complete rounds, or null where not known
     "centre": [x, y],          of the centre ring, or null
     "marks": [[x, y], ...],    middle of each stitch's top loops, in working order, or []
     "in_progress": null,       or {"done": 5, "left": 60, "loop": [x, y]}
     "increases": [[x, y], ...],
     "hidden": [i, ...],        optional: indices from 0 of the marks that can't be seen
     "rim": [[x, y], ...],      optional: the outline of the piece, a closed line
     "look": "...",             optional: what kind of photos this is one of, the folder's name where it isn't said
     "refuse": null,            or why there is nothing to count
     "tags": ["ordinary", ...]}

Fields that are not named here are left alone.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

__all__ = ["PHOTOS", "Truth", "read_folder", "read_truth"]

#: Endings of the photos that may stand beside a truth file.
PHOTOS = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif", ".tif", ".tiff")


@dataclass(frozen=True, eq=False)
class Truth:
    """What is known about a photo.

    Parameters
    ----------
    stitches, rounds : int or None
        On the rim, and complete rounds; None where not known.
    centre : tuple of float or None
        (x, y) of the centre ring, in pixels.
    marks : ndarray of shape (stitches, 2) or (0, 2), float
        (x, y) of the middle of each stitch's top loops, in pixels.
    hidden : tuple of int
        Indices from 0 of marks that can't be seen.
    rim : ndarray of shape (K, 2), float
        (x, y) of the outline as a closed line, in pixels; K is 0 where it isn't known.
    in_progress : tuple of int or None
        Stitches made and left of a round in progress.
    look : str or None
        What kind of photos this is one of.
    refuse : str or None
        Why there is nothing to count.
    tags : tuple of str
        Groups that the photo belongs to.
    """

    stitches: int | None
    rounds: int | None
    centre: tuple[float, float] | None
    marks: np.ndarray
    hidden: tuple[int, ...]
    rim: np.ndarray
    in_progress: tuple[int, int] | None
    look: str | None
    refuse: str | None
    tags: tuple[str, ...]

    def __post_init__(self) -> None:
        self.marks.flags.writeable = False
        self.rim.flags.writeable = False


def read_truth(path: str | os.PathLike[str]) -> Truth:
    """Read a truth file.

    Parameters
    ----------
    path : path
        The JSON file.

    Returns
    -------
    Truth

    Raises
    ------
    ValueError
        If the file does not hold what it must; the text names file and field.
    """
    path = Path(path)
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise ValueError(f"{path.name}: not a readable truth file ({error})") from None

    def need(right: object, what: str) -> None:
        if not right:
            raise ValueError(f"{path.name}: {what}")

    def places(value: Any, what: str) -> np.ndarray:
        found = _places(value)
        if found is None:
            raise ValueError(f"{path.name}: {what}")
        return found

    need(isinstance(data, dict), "a truth file holds one object")
    refuse, tags = data.get("refuse"), data.get("tags", [])
    need(refuse is None or isinstance(refuse, str) and refuse, "'refuse' must be null or the reason")
    need(isinstance(tags, list) and all(isinstance(t, str) for t in tags), "'tags' must be a list of words")
    need("overall" not in tags, "'tags' must not hold 'overall', which stands for all photos")
    stitches, rounds = data.get("stitches"), data.get("rounds")
    need(refuse is not None or _whole(stitches, 1), "'stitches' must be a whole number from 1 where nothing is refused")
    need(rounds is None or _whole(rounds, 0), "'rounds' must be a whole number or null")
    centre = places(data.get("centre") and [data["centre"]], "'centre' must be a pair of numbers or null")
    marks = places(data.get("marks"), "'marks' must be a list of pairs of numbers")
    hidden = data.get("hidden") or []
    need(
        isinstance(hidden, list) and all(_whole(i, 0) and i < len(marks) for i in hidden),
        f"'hidden' must list indices of marks, from 0 to {len(marks) - 1}",
    )
    rim = places(data.get("rim"), "'rim' must be a list of pairs of numbers")
    need(len(rim) not in (1, 2), "'rim' must hold at least three places")
    look = data.get("look")
    need(look is None or isinstance(look, str) and look, "'look' must be a word or null")
    if refuse is not None:
        return Truth(None, None, None, np.empty((0, 2)), (), np.empty((0, 2)), None, look, refuse, tuple(tags))
    need(len(marks) in (0, stitches), f"{len(marks)} marks for {stitches} stitches")
    place = (float(centre[0, 0]), float(centre[0, 1])) if len(centre) else None
    progress = data.get("in_progress")
    parts: Any = (progress.get("done"), progress.get("left")) if isinstance(progress, dict) else None
    need(
        progress is None or parts is not None and all(_whole(part, 0) for part in parts) and sum(parts) == stitches,
        "'in_progress' must be null or hold 'done' and 'left', which add up to the stitches",
    )
    return Truth(stitches, rounds, place, marks, tuple(hidden), rim, parts, look, None, tuple(tags))


def _whole(value: object, least: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= least


def _places(value: Any) -> np.ndarray | None:
    """Pairs of finite numbers as an array, or None if they are not that."""
    try:
        places = np.array(value or [], float).reshape(-1, 2)
    except (TypeError, ValueError):
        return None
    right = isinstance(value or [], list) and len(places) == len(value or []) and np.isfinite(places).all()
    return places if right else None


def _looks_like_truth(path: Path) -> bool:
    """Whether a JSON file without a photo is a truth file, and not something else that is kept there."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(data, dict) and "stitches" in data and "tags" in data


def read_folder(folder: str | os.PathLike[str]) -> tuple[list[tuple[Path, Truth]], tuple[str, ...]]:
    """Read all truth files of a folder.

    Parameters
    ----------
    folder : path
        Holds ``NAME.json`` and ``NAME.jpg`` (or another ending of :data:`PHOTOS`) side by side.

    Returns
    -------
    truths : list of (Path, Truth)
        Photos with what is known about them, by name.
    left_out : tuple of str
        Photos without a truth file.

    Raises
    ------
    ValueError
        If the folder holds no photos with truth files, or a broken one, or one
        whose photo is missing.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise ValueError(f"{folder}: no such folder")
    photos = {path.stem: path for path in sorted(folder.iterdir(), reverse=True) if path.suffix.lower() in PHOTOS}
    truths = []
    for file in sorted(folder.glob("*.json")):
        if file.stem in photos:
            truths.append((photos.pop(file.stem), read_truth(file)))
        elif _looks_like_truth(file):
            raise ValueError(f"{file.name}: the photo that belongs to it is missing")
    if not truths:
        raise ValueError(f"{folder}: no truth files (NAME.json beside NAME.jpg) in this folder")
    return truths, tuple(path.name for path in reversed(photos.values()))
