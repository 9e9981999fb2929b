"""Many photos: how well the count does on photos whose truth is known.

A truth file ``NAME.json`` stands beside each photo ``NAME.jpg``::

    {"stitches": 24, "rounds": 4, "centre": [x, y], "marks": [[x, y], ...],
     "in_progress": null, "increases": [[x, y], ...], "hidden": [i, ...],
     "refuse": null, "tags": ["easy", ...]}
"""

from __future__ import annotations

import json
import os
import resource
import traceback
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.integrate import trapezoid
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from counter.answer import Count, Refusal
from counter.count import count_photo

__all__ = ["Evaluation", "Truth", "evaluate", "match_marks", "read_truth", "risk_coverage_area"]

#: A mark is right within this share of the mean stitch width.
NEAR = 0.35


@dataclass(frozen=True, eq=False)
class Truth:
    """What is known about a photo.

    Parameters
    ----------
    stitches, rounds : int or None
        On the rim, and complete rounds; None where not known.
    marks : ndarray of shape (stitches, 2), float
        (x, y) of the middle of each stitch's top loops, in pixels.
    hidden : tuple of int
        Indices of marks that can't be seen.
    refuse : str or None
        Why there is nothing to count.
    tags : tuple of str
        Groups that the photo belongs to.
    """

    stitches: int | None
    rounds: int | None
    marks: np.ndarray
    hidden: tuple[int, ...]
    refuse: str | None
    tags: tuple[str, ...]


@dataclass(frozen=True)
class Evaluation:
    """How well the count does on a folder.

    Parameters
    ----------
    rows : tuple of dict
        One a photo.
    summary : dict
        "overall" and each tag -> measures, see :func:`evaluate`.
    """

    rows: tuple[dict, ...]
    summary: Mapping[str, dict]


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
    if not isinstance(data, dict) or not isinstance(data.get("tags", []), list):
        raise ValueError(f"{path.name}: a truth file holds one object, its tags a list")
    refuse, stitches = data.get("refuse"), data.get("stitches")
    if refuse is None and (not isinstance(stitches, int) or stitches < 1):
        raise ValueError(f"{path.name}: 'stitches' must be a whole number from 1 where nothing is refused")
    try:
        marks = np.array(data.get("marks") or [], float).reshape(-1, 2)
    except ValueError:
        raise ValueError(f"{path.name}: 'marks' must be pairs of numbers") from None
    if refuse is None and len(marks) not in (0, stitches):
        raise ValueError(f"{path.name}: {len(marks)} marks for {stitches} stitches")
    return Truth(stitches, data.get("rounds"), marks, tuple(data.get("hidden") or ()), refuse, tuple(data.get("tags", ())))


def match_marks(found: np.ndarray, truth: Truth) -> tuple[int, int, int]:
    """Match marks one to one within :data:`NEAR` of a stitch.

    Parameters
    ----------
    found : ndarray of shape (N, 2), float
        Marks that the count placed, in pixels.
    truth : Truth
        The truth; its hidden marks are neither missed nor false.

    Returns
    -------
    right, false, missed : int
    """
    width = np.linalg.norm(np.roll(truth.marks, -1, axis=0) - truth.marks, axis=1).mean()
    near = cdist(found, truth.marks) <= NEAR * width
    rows, columns = linear_sum_assignment(~near)
    pairs = [(r, c) for r, c in zip(rows, columns, strict=True) if near[r, c]]
    hidden = set(truth.hidden)
    right = sum(c not in hidden for _, c in pairs)
    return right, len(found) - len(pairs), len(truth.marks) - len(hidden) - right


def risk_coverage_area(right: np.ndarray, confidence: np.ndarray) -> float:
    """Area under the generalised risk-coverage curve.

    At each coverage the generalised risk is the share of all photos that are
    answered and wrong, so that few answers are not punished for their own
    sake (J. Traub et al., "Overcoming Common Flaws in the Evaluation of
    Selective Classification Systems", NeurIPS 2024; definition from memory).

    Parameters
    ----------
    right : ndarray of shape (n,), bool
        Whether each answer is right.
    confidence : ndarray of shape (n,), float
        How sure each answer is.

    Returns
    -------
    float
        0 (never wrong) to 0.5 (always wrong).
    """
    wrong = ~np.asarray(right, bool)[np.argsort(-np.asarray(confidence), kind="stable")]
    risk = np.concatenate([[0], np.cumsum(wrong) / len(wrong)])
    return float(trapezoid(risk, dx=1 / len(wrong)))


def evaluate(folder: str | os.PathLike, progress: Callable[[int, int, str], None] | None = None) -> Evaluation:
    """Count every photo of a folder and compare with its truth.

    Parameters
    ----------
    folder : path
        Holds ``NAME.json`` and ``NAME.jpg`` (or .png) side by side.
    progress : callable, optional
        Called with done, total and name before each photo.

    Returns
    -------
    Evaluation

    Raises
    ------
    ValueError
        If the folder holds no truth files, or a broken one.
    """
    folder = Path(folder)
    files = sorted(folder.glob("*.json")) if folder.is_dir() else []
    truths = [(file, read_truth(file)) for file in files]
    if not truths:
        raise ValueError(f"{folder}: no truth files (NAME.json beside NAME.jpg) in this folder")
    rows = []
    for done, (file, truth) in enumerate(truths):
        photo = next((p for p in map(file.with_suffix, (".jpg", ".jpeg", ".png")) if p.exists()), None)
        if photo is None:
            raise ValueError(f"{file.name}: the photo that belongs to it is missing")
        if progress:
            progress(done, len(truths), photo.name)
        rows.append(_row(photo, truth))
    groups = {"overall": rows}
    for tag in sorted({tag for row in rows for tag in row["tags"]}):
        groups[tag] = [row for row in rows if tag in row["tags"]]
    return Evaluation(tuple(rows), {name: _measures(group) for name, group in groups.items()})


def _row(photo: Path, truth: Truth) -> dict:
    row = {"photo": photo.name, "tags": list(truth.tags), "true": truth.stitches, "true_rounds": truth.rounds}
    row |= {"refuse": truth.refuse, "stitches": None, "probability": None, "rounds": None, "seconds": None}
    try:
        answer = count_photo(photo)
    except Exception:  # a crash is a result like any other, and the worst but one
        return row | {"state": "crashed", "reason": traceback.format_exc(limit=-1)}
    if isinstance(answer, Refusal):
        return row | {"state": "refused", "reason": answer.reason}
    assert isinstance(answer, Count)
    row |= {"state": answer.state, "stitches": answer.stitches, "probability": answer.probability}
    row |= {"rounds": answer.rounds, "seconds": answer.seconds, "reason": answer.reason}
    if len(truth.marks):
        row |= dict(zip(("right", "false", "missed"), match_marks(answer.marks, truth), strict=True))
    return row


def _measures(rows: list[dict]) -> dict:
    """Measures of a group of rows; None where nothing can be measured.

    "Answered" is a photo of a piece that got a number, sure or not.
    """
    pieces = [row for row in rows if row["refuse"] is None]
    answered = [row for row in pieces if row["stitches"] is not None]
    sure = [row for row in rows if row["state"] == "sure"]
    off = np.array([row["stitches"] - row["true"] for row in answered])
    marked = [row for row in answered if "right" in row]
    right, false, missed = (sum(row[key] for row in marked) for key in ("right", "false", "missed"))
    seconds = [row["seconds"] for row in answered]
    known = [row for row in answered if row["true_rounds"] is not None]
    to_refuse = [row for row in rows if row["refuse"] is not None]
    return {
        "photos": len(rows),
        "answered": _share(len(answered), len(pieces)),
        "exact of answered": _share((off == 0).sum(), len(answered)),
        "best guess exact": _share((off == 0).sum(), len(pieces)),
        "within one": _share((abs(off) <= 1).sum(), len(pieces)),
        "sure": _share(sum(row["refuse"] is None for row in sure), len(pieces)),
        "exact of sure": _share(sum(row["stitches"] == row["true"] for row in sure), len(sure)),
        "wrong while sure": _share(sum(row["stitches"] != row["true"] for row in sure), len(rows)),
        "mean absolute error": float(abs(off).mean()) if len(off) else None,
        "bias": float(off.mean()) if len(off) else None,
        "rounds exact": _share(sum(row["rounds"] == row["true_rounds"] for row in known), len(known)),
        "refusals right": _share(sum(row["state"] == "refused" for row in to_refuse), len(to_refuse)),
        "mark precision": _share(right, right + false),
        "mark recall": _share(right, right + missed),
        "risk-coverage area": risk_coverage_area(off == 0, [row["probability"] for row in answered]) if answered else None,
        "median seconds": float(np.median(seconds)) if seconds else None,
        "95% seconds": float(np.percentile(seconds, 95)) if seconds else None,
        "peak memory MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "crashed": sum(row["state"] == "crashed" for row in rows),
    }


def _share(part: int, whole: int) -> float | None:
    return float(part / whole) if whole else None
