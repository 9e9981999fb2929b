"""Cutting the rims of photos with truth.

A strip is cut twice from each photo: along the true rim, as smooth as one that
was followed, and along the outline that the program finds, so that the network
meets the program's own errors. A line through the very marks would tell where
they are.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from scipy import interpolate, ndimage

from counter.basics.answer import Refusal
from counter.basics.photo import read_photo
from counter.counting.band import MARK_DEPTH
from counter.counting.centre import find_centre
from counter.counting.finder import find_all
from counter.counting.piece import Piece
from counter.counting.unwrap import unwrap
from counter.training.compose import composed
from counter.training.rims import ABOVE, BELOW, PIXELS, Rims

__all__ = ["cut_composed", "cut_rims", "joined", "strips_of"]

#: Long side in pixels at which photos are looked at.
WORKING_SIDE = 1600
#: A found outline whose marks lie deeper or further out than this many stitch
#: widths is not a rim that one could learn from.
FURTHEST = 1.6
#: Least share of a rim that a strip must show.
LEAST_SEEN = 0.5
#: Spread over which true rims are smoothed, in stitch widths, drawn from this range.
SMOOTH = (0.6, 1.8)


def cut_rims(folder: str | Path, progress: Callable[[int, int], None] | None = None) -> Rims:
    """Cut the strips of all photos of a folder.

    Parameters
    ----------
    folder : path
        Photos with truth files beside them.
    progress : callable or None
        Called with (photos done, photos in all).

    Returns
    -------
    Rims

    Raises
    ------
    ValueError
        If the folder holds no photo with truth.
    """
    truths = sorted(Path(folder).glob("*.json"))
    strips = []
    for done, path in enumerate(truths):
        strips += _strips_of(path)
        if progress:
            progress(done + 1, len(truths))
    if not strips:
        raise ValueError(f"{folder} holds no photo with a truth file")
    return joined(strips)


def _composed_strips(truth_file: Path, grounds: list[Path], seed: int) -> list[dict]:
    cv2.setNumThreads(1)
    pixels, truth = composed(truth_file, grounds, seed)
    return [strip | {"source": truth_file.stem} for strip in strips_of(pixels, truth, f"{truth_file.stem}{seed:04d}")]


def cut_composed(folder: str | Path, grounds: str | Path, times: int, workers: int = 1, *, seed: int = 0) -> Rims:
    """Cut the strips of photos composed from layers.

    Parameters
    ----------
    folder : path
        Photos in layers.
    grounds : path
        Folder of JPEG files to lay under them.
    times : int
        Photos from each.
    workers : int
        Processes.
    seed : int
        Of the first photo from each.

    Returns
    -------
    Rims
    """
    pictures = sorted(Path(grounds).glob("*.jpg"))
    tasks = [(path, k) for path in sorted(Path(folder).glob("*.json")) for k in range(seed, seed + times)]
    # Started anew: a fork of a process in which OpenCV has threads may stand still.
    with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
        done = pool.map(_composed_strips, *zip(*((path, pictures, k) for path, k in tasks), strict=True), chunksize=4)
        return joined([strip for strips in done for strip in strips])


def joined(strips: list[dict]) -> Rims:
    """Strips as :func:`strips_of` gives them, one after the other."""
    columns = [strip["pixels"].shape[1] for strip in strips]
    arrays = {
        name: np.concatenate([strip[name] for strip in strips]).astype(np.float32)
        for name in ("phase", "depth", "seen", "seam", "pair")
    }
    return Rims(
        pixels=np.concatenate([strip["pixels"] for strip in strips], axis=1),
        starts=np.concatenate([[0], np.cumsum(columns)]),
        stitches=np.array([strip["stitches"] for strip in strips]),
        source=np.array([strip["source"] for strip in strips]),
        **arrays,
    )


@dataclass(frozen=True, eq=False)
class _Points:
    """What a truth file says, in pixels of the picture that is looked at."""

    marks: np.ndarray
    centre: np.ndarray
    increases: np.ndarray
    loop: np.ndarray | None
    hidden: tuple[int, ...]

    @classmethod
    def of(cls, truth: dict, scale: float) -> _Points:
        loop = truth["in_progress"] and np.array(truth["in_progress"]["loop"], float) * scale
        return cls(
            marks=np.array(truth["marks"], float) * scale,
            centre=np.array(truth["centre"], float) * scale,
            increases=np.array(truth.get("increases") or np.zeros((0, 2)), float) * scale,
            loop=loop,
            hidden=tuple(truth.get("hidden") or ()),
        )


def _strips_of(path: Path) -> list[dict]:
    """The strips of one photo."""
    photo = read_photo(path.with_suffix(".jpg"))
    if isinstance(photo, Refusal):
        return []
    return strips_of(photo.pixels, json.loads(path.read_text(encoding="utf-8")), path.stem)


def strips_of(pixels: np.ndarray, truth: dict, name: str) -> list[dict]:
    """The strips of one picture.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.
    truth : dict
        As the truth file.
    name : str
        Of the photo.

    Returns
    -------
    list of dict
        Fields of :class:`Rims` for each strip.
    """
    shrink = max(1.0, max(pixels.shape[:2]) / WORKING_SIDE)
    if shrink > 1:
        pixels = cv2.resize(pixels, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    finds = find_all(pixels)
    rng = np.random.default_rng(int.from_bytes(name.encode()[-4:], "big"))
    strips = []
    if truth["refuse"] is None and truth["marks"]:
        points = _Points.of(truth, 1 / shrink)
        laid = [(_true_piece(points, rng.uniform(*SMOOTH)), points.centre)]
        if finds:
            found = min(finds, key=lambda find: float(np.linalg.norm(find.piece.centre - points.marks.mean(axis=0))))
            laid.append((found.piece, np.array(found.ring or find_centre(pixels, found.piece))))
        for piece, centre in laid:
            strip = _strip(pixels, piece, centre, points)
            if strip and strip["seen"].mean() > LEAST_SEEN:
                strips.append(strip)
    elif truth["refuse"] == "no piece":
        strips += [_no_rim(pixels, find.piece, find.piece.centre, rng) for find in finds[:1]]
        height, width = pixels.shape[:2]
        radius = rng.uniform(0.1, 0.4) * min(height, width)
        centre = rng.uniform((radius, radius), (width - radius, height - radius))
        turn = np.linspace(0, 2 * np.pi, 360, endpoint=False)
        strips.append(
            _no_rim(pixels, _piece(centre + radius * np.column_stack([np.sin(turn), -np.cos(turn)])), centre, rng)
        )
    return [strip | {"source": name} for strip in strips]


def _piece(outline: np.ndarray) -> Piece:
    (x, y), (width, height), degrees = cv2.fitEllipse(outline.astype(np.float32))
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    to_circle = turn.T @ np.diag([2 / width, 2 / height]) @ turn
    return Piece(outline, (x, y), to_circle, min(width, height) / max(width, height), 0.0)


def _true_piece(points: _Points, smooth: float) -> Piece:
    """The piece whose rim passes outside its marks, smoothed over some stitch widths, clockwise from twelve o'clock."""
    centre, far = points.centre, points.marks - points.centre
    deep = min(MARK_DEPTH * 2 * np.pi / len(far), 0.6)
    rim = centre + far / (1 - deep)
    turn = np.arctan2(far[:, 0], -far[:, 1]) % (2 * np.pi)
    order = np.argsort(turn)
    turn, radius = turn[order], np.linalg.norm(rim - centre, axis=1)[order]
    keep = np.concatenate([[True], np.diff(turn) > 1e-3])
    turn, radius = turn[keep], radius[keep]
    line = interpolate.PchipInterpolator(
        np.concatenate([turn[-2:] - 2 * np.pi, turn, turn[:2] + 2 * np.pi]),
        np.concatenate([radius[-2:], radius, radius[:2]]),
    )
    wanted = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    reach = ndimage.gaussian_filter1d(line(wanted), smooth * len(wanted) / len(far), mode="wrap")
    return _piece(centre + reach[:, None] * np.column_stack([np.sin(wanted), -np.cos(wanted)]))


def _laid(pixels: np.ndarray, piece: Piece, centre: np.ndarray, stitches: int):
    width = 2 * np.pi / stitches
    depths = (ABOVE + (np.arange(round((BELOW - ABOVE) * PIXELS)) + 0.5) / PIXELS) * width
    return unwrap(pixels, piece, tuple(centre), depths, PIXELS * stitches)


def _strip(pixels: np.ndarray, piece: Piece, centre: np.ndarray, points: _Points) -> dict | None:
    marks, count = points.marks, len(points.marks)
    strip = _laid(pixels, piece, centre, count)
    columns = strip.pixels.shape[1]
    # The place of a mark is where the line from the centre through it meets the rim.
    rim_turn = np.unwrap(_turns(strip.rim - centre), period=1)
    if rim_turn[-1] - rim_turn[0] < 0.9 or (np.diff(rim_turn) < 0).mean() > 0.02:
        return None
    rim_turn = np.maximum.accumulate(rim_turn)
    closed = np.append(rim_turn, rim_turn[0] + 1)
    reach = np.linalg.norm(strip.rim - centre, axis=1)

    def place(spots):
        turn = rim_turn[0] + (_turns(spots - centre) - rim_turn[0]) % 1
        return turn, np.interp(turn, closed, np.arange(columns + 1))

    turn, at = place(marks)
    far = np.linalg.norm(marks - centre, axis=1)
    depth = (1 - far / np.interp(turn, closed, np.append(reach, reach[0]))) * count / (2 * np.pi)
    order = np.argsort(at, kind="stable")
    ranked = at[order]
    places = np.arange(columns) + 0.5

    def round_loop(values, step=0.0):
        return np.interp(
            places,
            np.concatenate([ranked[-1:] - columns, ranked, ranked[:1] + columns]),
            np.concatenate([values[-1:] - step, values, values[:1] + step]),
        )

    hidden = np.zeros(count)
    hidden[list(points.hidden)] = 1
    # Marks far from the band: the strip shows no rim there.
    lost = round_loop(np.abs(depth[order] - MARK_DEPTH)) > FURTHEST
    seen = np.where((round_loop(hidden[order]) > 0.5) | lost, 0.0, 1.0)
    if points.loop is not None:
        seam = place(points.loop)[1]
    else:
        seam = at[-1] + ((at[0] - at[-1] + columns / 2) % columns - columns / 2) / 2
    seam = _bump(places, np.array([seam]), columns)
    near = [int(np.argmin(np.linalg.norm(marks - spot, axis=1))) for spot in points.increases]
    pair = _bump(places, at[near], columns)
    return {
        "pixels": strip.pixels,
        "stitches": count,
        "phase": round_loop(np.arange(count, dtype=float), count),
        "depth": round_loop(depth[order]),
        "seen": seen,
        "seam": seam,
        "pair": pair,
    }


def _turns(vectors: np.ndarray) -> np.ndarray:
    return np.arctan2(vectors[..., 0], -vectors[..., 1]) / (2 * np.pi)


def _bump(places: np.ndarray, at: np.ndarray, columns: int) -> np.ndarray:
    """1 within half a stitch of any of some places, round the loop."""
    if len(at) == 0:
        return np.zeros(len(places))
    away = np.abs((places[:, None] - at + columns / 2) % columns - columns / 2)
    return (away.min(axis=1) < PIXELS / 2).astype(float)


def _no_rim(pixels: np.ndarray, piece: Piece, centre: np.ndarray, rng: np.random.Generator) -> dict:
    supposed = int(np.exp(rng.uniform(np.log(8), np.log(70))))
    strip = _laid(pixels, piece, np.asarray(centre, float), supposed)
    columns = strip.pixels.shape[1]
    none = np.zeros(columns)
    phase = (np.arange(columns) + 0.5) / PIXELS
    return {
        "pixels": strip.pixels,
        "stitches": 0,
        "phase": phase,
        "depth": none + MARK_DEPTH,
        "seen": none,
        "seam": none,
        "pair": none,
    }
