"""Many photos: how well the count does on photos whose truth is known."""

from __future__ import annotations

import os
import sys
import time
import traceback
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from scipy.integrate import trapezoid

from counter.basics.answer import Refusal
from counter.evaluation.answered import totals_answered
from counter.evaluation.places import match_marks, overlap, share_followed, true_outline
from counter.evaluation.truth import Truth, read_folder
from counter.examination import examine

try:
    import resource
except ImportError:  # not every system has it (Windows); the peak of memory is then not known
    resource = None  # type: ignore[assignment]

__all__ = ["FOUND", "MEASURES", "Evaluation", "evaluate", "measures", "risk_coverage_area"]

#: An outline that overlaps by this much has found the piece, by this much is as good as the true one, and a line
#: that lies right at this share of the stitches follows most of the rim.
FOUND, CLOSE, MOST_OF_RIM = 0.85, 0.95, 0.95
#: Answers that a person is willing to give.
FEW_ANSWERS = 2
#: Numbers that are less likely are left out of a row.
RARE = 1e-4

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
        "right after two answers": (
            "%",
            "pieces whose number is right once at most two places in doubt are answered truly, of all pieces",
        ),
        "sure": ("%", "pieces counted as sure, of all pieces"),
        "exact of sure": ("%", "sure counts that are right"),
        "wrong while sure": ("%", "sure counts that are wrong, of all photos; a count without a piece is wrong"),
        "mean absolute error": ("stitches", "mean distance of the best number from the true one, answered pieces"),
        "bias": ("stitches", "mean of best number less true number, answered pieces"),
        "in progress seen": ("%", "rounds in progress that are said to be, of those that were counted"),
        "made and left exact": ("%", "rounds in progress with both numbers right, of all of them"),
        "whole taken for open": ("%", "whole rounds that are said to be in progress, of those that were counted"),
        "rounds exact": ("%", "answered pieces with known rounds whose rounds are right"),
        "refusals right": ("%", "photos without a piece that were refused"),
        "mark precision": ("%", "marks that stand on a stitch, of all marks on seen places"),
        "mark recall": ("%", "seen stitches that got a mark"),
        "found": ("%", f"pieces whose outline overlaps the true one by {FOUND} or more, of all pieces"),
        "outlined closely": ("%", f"pieces whose outline overlaps the true one by {CLOSE} or more, of all pieces"),
        "outline overlap": ("", "median overlap of a piece's outline with the true one, 0 to 1, 0 where there is none"),
        "rim followed": ("%", "answered pieces whose outline lies right at every seen stitch"),
        "rim mostly followed": ("%", f"answered pieces whose outline lies right at {MOST_OF_RIM:.0%} of seen stitches"),
        "centre error": ("% of radius", "median distance of the centre ring, by the mean radius of the rim"),
        "risk-coverage area": ("", "area under the generalised risk-coverage curve, 0 to 0.5; less is better"),
        "median seconds": ("s", "median time a photo, reading included"),
        "95% seconds": ("s", "time that 95% of the photos stay within"),
        "peak memory": ("MB", "most memory that the program held so far"),
        "crashed": ("", "photos that broke the program"),
    }
)


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

    rows: tuple[dict[str, Any], ...]
    summary: Mapping[str, dict[str, Any]]
    left_out: tuple[str, ...]


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
    sure = np.asarray(confidence, float)
    order = np.argsort(-sure, kind="stable")
    wrong = np.cumsum(~np.asarray(right, bool)[order])
    steps = np.append(np.flatnonzero(np.diff(sure[order])), len(order) - 1)
    coverage = np.append(0, (steps + 1) / len(order))
    return float(trapezoid(np.append(0, wrong[steps] / len(order)), coverage))


def evaluate(folder: str | os.PathLike[str], progress: Callable[[int, int, str], None] | None = None) -> Evaluation:
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
    truths, left_out = read_folder(folder)
    rows = []
    for done, (photo, truth) in enumerate(truths):
        if progress:
            progress(done, len(truths), photo.name)
        rows.append(_row(photo, truth))
    groups = {"overall": rows}
    for tag in sorted({tag for row in rows for tag in row["tags"]}):
        groups[tag] = [row for row in rows if tag in row["tags"]]
    summary = {name: measures(group) for name, group in groups.items()}
    return Evaluation(tuple(rows), summary, left_out)


def _row(photo: Path, truth: Truth) -> dict[str, Any]:
    """What came out for one photo, beside what is true."""
    row: dict[str, Any] = {
        "photo": photo.name,
        "look": truth.look or photo.resolve().parent.name,
        "tags": list(truth.tags),
        "refuse": truth.refuse,
        "true": truth.stitches,
        "true_rounds": truth.rounds,
        "true_progress": truth.in_progress and list(truth.in_progress),
        "state": "crashed",
        "reason": "",
        "stitches": None,
        "probability": None,
        "likely": [],
        "posterior": [],
        "rounds": None,
        "progress": None,
        "after_answers": None,
        "marks": None,
        "overlap": None,
        "rim_followed": None,
        "centre_error": None,
        "seconds": None,
    }
    began = time.perf_counter()
    try:
        answer = examine(photo).answer
    except Exception as error:  # a photo that breaks the program must not lose the others
        frame = traceback.extract_tb(error.__traceback__)[-1]
        reason = f"{type(error).__name__} in {Path(frame.filename).name}, line {frame.lineno}: {error}"
        return row | {"reason": reason, "seconds": time.perf_counter() - began}
    row |= {"reason": answer.reason, "seconds": time.perf_counter() - began}
    known = true_outline(truth)
    if known is not None:
        lines = answer.outlines if isinstance(answer, Refusal) else (answer.outline,)
        row["overlap"] = max((overlap(line, known) for line in lines), default=0.0)
    if isinstance(answer, Refusal):
        return row | {"state": "refused"}
    row |= {"state": answer.state, "stitches": answer.stitches, "probability": float(answer.probability)}
    row |= {"likely": list(answer.likely), "rounds": answer.rounds}
    row["posterior"] = [[number, float(chance)] for number, chance in sorted(answer.posterior.items()) if chance > RARE]
    if answer.in_progress:
        row["progress"] = [answer.in_progress.done, answer.in_progress.left]
    if len(truth.marks) > 1:
        right, false, missed = match_marks(answer.marks, truth)
        row["marks"] = {"right": right, "false": false, "missed": missed}
        row["rim_followed"] = share_followed(answer.outline, truth)
        row["after_answers"] = list(totals_answered(answer, truth))
        if truth.centre:
            radius = np.linalg.norm(truth.marks - truth.marks.mean(axis=0), axis=1).mean()
            off = np.hypot(answer.centre[0] - truth.centre[0], answer.centre[1] - truth.centre[1])
            row["centre_error"] = float(off / max(radius, 1e-9))
    return row


def measures(rows: Sequence[dict[str, Any]]) -> dict[str, Any]:
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
    rims = np.array([row["rim_followed"] for row in answered if row["rim_followed"] is not None])
    lines = np.array([row["overlap"] for row in pieces if row["overlap"] is not None])
    asked = [row for row in pieces if row["after_answers"] or row["stitches"] is None]
    opened = [row for row in answered if row["true_progress"]]
    closed = [row for row in answered if not row["true_progress"]]
    centres = [row["centre_error"] for row in answered if row["centre_error"] is not None]
    seconds = [row["seconds"] for row in rows]
    values = {
        "photos": len(rows),
        "answered": _share(len(answered), len(pieces)),
        "exact of answered": _share((off == 0).sum(), len(answered)),
        "best guess exact": _share((off == 0).sum(), len(pieces)),
        "within one": _share((abs(off) <= 1).sum(), len(pieces)),
        "among likely": _share(sum(row["true"] in row["likely"] for row in answered), len(answered)),
        "right after two answers": _share(
            sum(row["true"] in (row["after_answers"] or [])[: FEW_ANSWERS + 1][-1:] for row in asked), len(asked)
        ),
        "sure": _share(sum(row["refuse"] is None for row in sure), len(pieces)),
        "exact of sure": _share(sure_and_right, len(sure)),
        "wrong while sure": _share(len(sure) - sure_and_right, len(rows)),
        "mean absolute error": float(abs(off).mean()) if len(off) else None,
        "bias": float(off.mean()) if len(off) else None,
        "in progress seen": _share(sum(bool(row["progress"]) for row in opened), len(opened)),
        "made and left exact": _share(
            sum(row["progress"] == row["true_progress"] for row in opened),
            sum(bool(row["true_progress"]) for row in pieces),
        ),
        "whole taken for open": _share(sum(bool(row["progress"]) for row in closed), len(closed)),
        "rounds exact": _share(sum(row["rounds"] == row["true_rounds"] for row in known), len(known)),
        "refusals right": _share(sum(row["state"] == "refused" for row in bare), len(bare)),
        "mark precision": _share(right, right + false),
        "mark recall": _share(right, right + missed),
        "found": _share((lines >= FOUND).sum(), len(lines)),
        "outlined closely": _share((lines >= CLOSE).sum(), len(lines)),
        "outline overlap": float(np.median(lines)) if len(lines) else None,
        "rim followed": _share((rims == 1).sum(), len(rims)),
        "rim mostly followed": _share((rims >= MOST_OF_RIM).sum(), len(rims)),
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
