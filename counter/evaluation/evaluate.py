"""Many photos: how well the count does on photos whose truth is known.

A truth file ``NAME.json`` stands beside each photo ``NAME.jpg``::

    {"stitches": 24,            stitches around the rim as it stands (in progress: done + left)
     "rounds": 4,               complete rounds, or null where not known
     "centre": [x, y],          of the centre ring, or null
     "marks": [[x, y], ...],    middle of each stitch's top loops, in working order, or []
     "in_progress": null,       or {"done": 5, "left": 60, "loop": [x, y]}
     "increases": [[x, y], ...],
     "hidden": [i, ...],        optional: indices from 0 of the marks that can't be seen
     "refuse": null,            or why there is nothing to count
     "tags": ["ordinary", ...]}

Fields that are not named here are left alone.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import cv2
import numpy as np
from scipy.integrate import trapezoid
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from counter.basics.answer import Refusal
from counter.counting.band import MARK_DEPTH
from counter.examination import examine

try:
    import resource
except ImportError:  # not every system has it (Windows); the peak of memory is then not known
    resource = None

__all__ = [
    *("Evaluation", "MEASURES", "Truth", "as_table", "evaluate", "follows", "match_marks", "measures", "read_truth"),
    "risk_coverage_area",
]

#: A mark is right within this share of the usual stitch width.
NEAR_MARK_STITCHES = 0.35
#: An outline follows the rim where it is at most this many stitch widths off.
ASIDE_RIM_STITCHES = 0.4
#: Endings of the photos that may stand beside a truth file.
PHOTOS = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif", ".tif", ".tiff")

#: Every measure: name -> (unit, what it is). The order is that of the table.
#:
#: A *piece* is a photo that holds something to count (its truth says no
#: "refuse"); it is *answered* if it got a number, sure or not, and not a
#: refusal or a crash.
MEASURES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "photos": ("", "photos, with and without a piece"),
        "answered": ("%", "pieces that got a number, sure or not, of all pieces"),
        "exact of answered": ("%", "answered pieces whose best number is right"),
        "best guess exact": ("%", "pieces whose best number is right, of all pieces"),
        "within one": ("%", "pieces whose best number is at most one off, of all pieces"),
        "among likely": ("%", "answered pieces whose true number is among those shown"),
        "sure": ("%", "pieces counted as sure, of all pieces"),
        "exact of sure": ("%", "sure counts that are right"),
        "wrong while sure": ("%", "sure counts that are wrong, of all photos; a count without a piece is wrong"),
        "mean absolute error": ("stitches", "mean distance of the best number from the true one, answered pieces"),
        "bias": ("stitches", "mean of best number less true number, answered pieces"),
        "rounds exact": ("%", "answered pieces with known rounds whose rounds are right"),
        "refusals right": ("%", "photos without a piece that were refused"),
        "mark precision": ("%", "marks that stand on a stitch, of all marks on seen places"),
        "mark recall": ("%", "seen stitches that got a mark"),
        "rim followed": ("%", "answered pieces whose outline lies right at every seen stitch"),
        "centre error": ("% of radius", "median distance of the centre ring, by the mean radius of the rim"),
        "risk-coverage area": ("", "area under the generalised risk-coverage curve, 0 to 0.5; less is better"),
        "median seconds": ("s", "median time a photo, reading included"),
        "95% seconds": ("s", "time that 95% of the photos stay within"),
        "peak memory": ("MB", "most memory that the program held so far"),
        "crashed": ("", "photos that broke the program"),
    }
)


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
    refuse: str | None
    tags: tuple[str, ...]

    def __post_init__(self) -> None:
        self.marks.flags.writeable = False


@dataclass(frozen=True)
class Evaluation:
    """How well the count does on a folder.

    Parameters
    ----------
    rows : tuple of dict
        One a photo, ready for JSON.
    summary : dict
        "overall" and each tag -> :data:`MEASURES` -> number, or None where
        nothing could be measured. Shares are 0 to 1.
    left_out : tuple of str
        Photos of the folder that have no truth file.
    """

    rows: tuple[dict, ...]
    summary: Mapping[str, dict]
    left_out: tuple[str, ...]


def read_truth(path: str | os.PathLike) -> Truth:
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

    def need(right: bool, what: str) -> None:
        if not right:
            raise ValueError(f"{path.name}: {what}")

    need(isinstance(data, dict), "a truth file holds one object")
    refuse, tags = data.get("refuse"), data.get("tags", [])
    need(refuse is None or isinstance(refuse, str) and refuse, "'refuse' must be null or the reason")
    need(isinstance(tags, list) and all(isinstance(t, str) for t in tags), "'tags' must be a list of words")
    need("overall" not in tags, "'tags' must not hold 'overall', which stands for all photos")
    stitches, rounds = data.get("stitches"), data.get("rounds")
    need(refuse is not None or _whole(stitches, 1), "'stitches' must be a whole number from 1 where nothing is refused")
    need(rounds is None or _whole(rounds, 0), "'rounds' must be a whole number or null")
    centre = _places(data.get("centre") and [data["centre"]])
    need(centre is not None, "'centre' must be a pair of numbers or null")
    marks = _places(data.get("marks"))
    need(marks is not None, "'marks' must be a list of pairs of numbers")
    hidden = data.get("hidden") or []
    need(
        isinstance(hidden, list) and all(_whole(i, 0) and i < len(marks) for i in hidden),
        f"'hidden' must list indices of marks, from 0 to {len(marks) - 1}",
    )
    if refuse is not None:
        return Truth(None, None, None, np.empty((0, 2)), (), refuse, tuple(tags))
    need(len(marks) in (0, stitches), f"{len(marks)} marks for {stitches} stitches")
    place = (float(centre[0, 0]), float(centre[0, 1])) if len(centre) else None
    return Truth(stitches, rounds, place, marks, tuple(hidden), None, tuple(tags))


def _whole(value: object, least: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= least


def _places(value: object) -> np.ndarray | None:
    """Pairs of finite numbers as an array, or None if they are not that."""
    try:
        places = np.array(value or [], float).reshape(-1, 2)
    except (TypeError, ValueError):
        return None
    right = isinstance(value or [], list) and len(places) == len(value or []) and np.isfinite(places).all()
    return places if right else None


def match_marks(found: np.ndarray, truth: Truth) -> tuple[int, int, int]:
    """Match marks one to one within :data:`NEAR_MARK_STITCHES` of the usual stitch width.

    As many marks as possible are matched, to stitches that can be seen where
    there is a choice, and among those as closely as possible.

    Parameters
    ----------
    found : ndarray of shape (N, 2), float
        Marks that the count placed, in pixels.
    truth : Truth
        The truth, with marks; hidden ones are neither right, missed nor
        false, whether a mark was placed on them or not.

    Returns
    -------
    right, false, missed : int
    """
    width = float(np.median(np.linalg.norm(np.roll(truth.marks, -1, axis=0) - truth.marks, axis=1)))
    hidden = np.isin(np.arange(len(truth.marks)), truth.hidden)
    apart = cdist(found, truth.marks) / max(width, 1e-9)
    near = apart <= NEAR_MARK_STITCHES
    most = len(found) + len(truth.marks)
    # A matched pair always outweighs what it costs; a hidden one costs more than a seen one.
    rows, columns = linear_sum_assignment(np.where(near, apart + hidden - 2.0 * most, 0))
    pairs = [(r, c) for r, c in zip(rows, columns, strict=True) if near[r, c]]
    right = sum(not hidden[c] for _, c in pairs)
    return right, len(found) - len(pairs), int((~hidden).sum()) - right


def follows(outline: np.ndarray, truth: Truth) -> bool:
    """Whether an outline lies right at every seen stitch.

    Parameters
    ----------
    outline : ndarray of shape (K, 2), float
        (x, y) of the rim as a closed line, in pixels.
    truth : Truth
        At least two marks.

    Returns
    -------
    bool
        True where every seen mark lies within :data:`ASIDE_RIM_STITCHES` usual stitch widths of
        :data:`counter.counting.band.MARK_DEPTH` stitch widths inside the outline. A round of
        single crochet is about as high as a stitch is wide (common practice).
    """
    width = np.median(np.linalg.norm(np.roll(truth.marks, -1, axis=0) - truth.marks, axis=1))
    seen = np.delete(truth.marks, list(truth.hidden), axis=0)
    line = outline.astype(np.float32)
    inside = np.array([cv2.pointPolygonTest(line, (float(x), float(y)), True) for x, y in seen])
    return bool((np.abs(inside / max(width, 1e-9) - MARK_DEPTH) <= ASIDE_RIM_STITCHES).all())


def risk_coverage_area(right: Sequence[bool], confidence: Sequence[float]) -> float:
    """Area under the generalised risk-coverage curve.

    At each coverage (the share of answers taken, surest first) the generalised
    risk is the share of all answers that are taken and wrong. The area is the
    mean risk of a wrong answer that goes undetected (J. Traub et al.,
    "Overcoming Common Flaws in the Evaluation of Selective Classification
    Systems", NeurIPS 2024; the formula is from memory). Answers of equal
    confidence are taken together.

    Parameters
    ----------
    right : sequence of bool, length n
        Whether each answer is right.
    confidence : sequence of float, length n
        How sure each answer is.

    Returns
    -------
    float
        0 (never wrong) to 0.5 (always wrong).
    """
    confidence = np.asarray(confidence, float)
    order = np.argsort(-confidence, kind="stable")
    wrong = np.cumsum(~np.asarray(right, bool)[order])
    steps = np.append(np.flatnonzero(np.diff(confidence[order])), len(order) - 1)
    coverage = np.append(0, (steps + 1) / len(order))
    return float(trapezoid(np.append(0, wrong[steps] / len(order)), coverage))


def evaluate(folder: str | os.PathLike, progress: Callable[[int, int, str], None] | None = None) -> Evaluation:
    """Count every photo of a folder and compare with its truth.

    All truth files are read before the first photo is counted. A photo that
    breaks the program becomes a row with the state "crashed".

    Parameters
    ----------
    folder : path
        Holds ``NAME.json`` and ``NAME.jpg`` (or another ending of
        :data:`PHOTOS`) side by side.
    progress : callable, optional
        Called with done, total and name before each photo.

    Returns
    -------
    Evaluation

    Raises
    ------
    ValueError
        If the folder holds no photos with truth files, or a broken one, or one
        whose photo is missing.

    Examples
    --------
    >>> import shutil, tempfile
    >>> from counter import evaluate
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     for ending in ("jpg", "json"):
    ...         _ = shutil.copy(f"sample_images/blue-disc.{ending}", folder)
    ...     overall = evaluate(folder).summary["overall"]
    >>> overall["photos"], overall["best guess exact"]
    (1, 1.0)
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
    rows = []
    for done, (photo, truth) in enumerate(truths):
        if progress:
            progress(done, len(truths), photo.name)
        rows.append(_row(photo, truth))
    groups = {"overall": rows}
    for tag in sorted({tag for row in rows for tag in row["tags"]}):
        groups[tag] = [row for row in rows if tag in row["tags"]]
    summary = {name: measures(group) for name, group in groups.items()}
    return Evaluation(tuple(rows), summary, tuple(path.name for path in reversed(photos.values())))


def _looks_like_truth(path: Path) -> bool:
    """Whether a JSON file without a photo is a truth file, and not something else that is kept there."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(data, dict) and "stitches" in data and "tags" in data


def _row(photo: Path, truth: Truth) -> dict:
    """What came out for one photo, beside what is true."""
    row = {
        "photo": photo.name,
        "tags": list(truth.tags),
        "refuse": truth.refuse,
        "true": truth.stitches,
        "true_rounds": truth.rounds,
        "state": "crashed",
        "reason": "",
        "stitches": None,
        "probability": None,
        "likely": [],
        "rounds": None,
        "marks": None,
        "rim_followed": None,
        "centre_error": None,
    }
    began = time.perf_counter()
    try:
        answer = examine(photo).answer
    except Exception as error:  # a crash is a result like any other, and no reason to lose the others
        frame = error.__traceback__
        while frame.tb_next:
            frame = frame.tb_next
        where = f"{Path(frame.tb_frame.f_code.co_filename).name}, line {frame.tb_lineno}"
        row["reason"] = f"{type(error).__name__} in {where}: {error}"
        return row | {"seconds": time.perf_counter() - began}
    row |= {"reason": answer.reason, "seconds": time.perf_counter() - began}
    if isinstance(answer, Refusal):
        return row | {"state": "refused"}
    row |= {"state": answer.state, "stitches": answer.stitches, "probability": float(answer.probability)}
    row |= {"likely": list(answer.likely), "rounds": answer.rounds}
    if len(truth.marks) > 1:
        right, false, missed = match_marks(answer.marks, truth)
        row["marks"] = {"right": right, "false": false, "missed": missed}
        row["rim_followed"] = follows(answer.outline, truth)
        if truth.centre:
            radius = np.linalg.norm(truth.marks - truth.marks.mean(axis=0), axis=1).mean()
            off = np.hypot(answer.centre[0] - truth.centre[0], answer.centre[1] - truth.centre[1])
            row["centre_error"] = float(off / max(radius, 1e-9))
    return row


def measures(rows: Sequence[dict]) -> dict:
    """Measure a group of rows.

    Parameters
    ----------
    rows : sequence of dict
        From :attr:`Evaluation.rows`.

    Returns
    -------
    dict
        :data:`MEASURES` -> number, or None where nothing can be measured.
    """
    pieces = [row for row in rows if row["refuse"] is None]
    bare = [row for row in rows if row["refuse"] is not None]
    counted = [row for row in rows if row["stitches"] is not None]
    answered = [row for row in counted if row["refuse"] is None]
    sure = [row for row in rows if row["state"] == "sure"]
    # A photo without a piece has no true number, so that any number is wrong.
    sure_and_right = sum(row["stitches"] == row["true"] for row in sure)
    off = np.array([row["stitches"] - row["true"] for row in answered])
    marks = [row["marks"] for row in answered if row["marks"]]
    right, false, missed = (sum(m[key] for m in marks) for key in ("right", "false", "missed"))
    known = [row for row in answered if row["true_rounds"] is not None]
    rims = [row["rim_followed"] for row in answered if row["rim_followed"] is not None]
    centres = [row["centre_error"] for row in answered if row["centre_error"] is not None]
    seconds = [row["seconds"] for row in rows]
    values = {
        "photos": len(rows),
        "answered": _share(len(answered), len(pieces)),
        "exact of answered": _share((off == 0).sum(), len(answered)),
        "best guess exact": _share((off == 0).sum(), len(pieces)),
        "within one": _share((abs(off) <= 1).sum(), len(pieces)),
        "among likely": _share(sum(row["true"] in row["likely"] for row in answered), len(answered)),
        "sure": _share(sum(row["refuse"] is None for row in sure), len(pieces)),
        "exact of sure": _share(sure_and_right, len(sure)),
        "wrong while sure": _share(len(sure) - sure_and_right, len(rows)),
        "mean absolute error": float(abs(off).mean()) if len(off) else None,
        "bias": float(off.mean()) if len(off) else None,
        "rounds exact": _share(sum(row["rounds"] == row["true_rounds"] for row in known), len(known)),
        "refusals right": _share(sum(row["state"] == "refused" for row in bare), len(bare)),
        "mark precision": _share(right, right + false),
        "mark recall": _share(right, right + missed),
        "rim followed": _share(sum(rims), len(rims)),
        "centre error": float(np.median(centres)) if centres else None,
        "risk-coverage area": risk_coverage_area(
            [row["stitches"] == row["true"] for row in counted], [row["probability"] for row in counted]
        )
        if counted
        else None,
        "median seconds": float(np.median(seconds)) if seconds else None,
        "95% seconds": float(np.percentile(seconds, 95)) if seconds else None,
        "peak memory": _peak_memory(),
        "crashed": sum(row["state"] == "crashed" for row in rows),
    }
    return {name: values[name] for name in MEASURES}


def _share(part: int, whole: int) -> float | None:
    return float(part / whole) if whole else None


def _peak_memory() -> float | None:
    """Most memory that this process has held, in megabytes."""
    if resource is None:
        return None
    # getrusage(2): kilobytes, but bytes on macOS.
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6


#: Measures that the table gives for each tag; all of them are in the JSON file.
BY_TAG = (
    "photos",
    "answered",
    "best guess exact",
    "within one",
    "sure",
    "wrong while sure",
    "rounds exact",
    "refusals right",
)


def as_table(evaluation: Evaluation) -> str:
    """Set an evaluation out as plain text.

    Parameters
    ----------
    evaluation : Evaluation
        From :func:`evaluate`.

    Returns
    -------
    str
        All measures of all photos, then the main ones for each tag.
    """
    overall = evaluation.summary["overall"]
    lines = [f"{name:20} {_cell(name, overall[name]):>9}   {what}" for name, (_, what) in MEASURES.items()]
    tags = [name for name in evaluation.summary if name != "overall"]
    if tags:
        wide = max(map(len, tags))
        heads = [max(len(name), 6) for name in BY_TAG]
        lines += ["", " " * wide + "  " + "  ".join(f"{n:>{w}}" for n, w in zip(BY_TAG, heads, strict=True))]
        for tag in tags:
            cells = (_cell(name, evaluation.summary[tag][name]) for name in BY_TAG)
            lines.append(f"{tag:{wide}}  " + "  ".join(f"{c:>{w}}" for c, w in zip(cells, heads, strict=True)))
    if evaluation.left_out:
        lines += ["", f"Left out, because no truth file stands beside them: {', '.join(evaluation.left_out)}"]
    lines += [f"Crashed on {r['photo']}: {r['reason']}" for r in evaluation.rows if r["state"] == "crashed"]
    return "\n".join(lines)


def _cell(name: str, value: float | None) -> str:
    unit = MEASURES[name][0]
    if value is None:
        return "-"
    if unit.startswith("%"):
        return f"{value:.1%}"
    if isinstance(value, int):
        return str(value)
    return f"{value:.0f} MB" if unit == "MB" else f"{value:.2f} s" if unit == "s" else f"{value:.3f}"
