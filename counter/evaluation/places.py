"""Places that were found against the true ones: marks and outlines."""

from __future__ import annotations

import cv2
import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from counter.counting.band import MARK_DEPTH
from counter.evaluation.truth import Truth

__all__ = [
    "ASIDE_RIM_STITCHES",
    "NEAR_MARK_STITCHES",
    "match_marks",
    "overlap",
    "share_followed",
    "true_outline",
    "usual_width",
]

#: A mark is right within this share of the usual stitch width.
NEAR_MARK_STITCHES = 0.35
#: An outline follows the rim where it is at most this many stitch widths off.
ASIDE_RIM_STITCHES = 0.4
#: Points of a line that is joined smoothly, and pixels of the longer side that areas are compared at.
POINTS, GRAIN = 720, 1000


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
    hidden = np.isin(np.arange(len(truth.marks)), truth.hidden)
    apart = cdist(found, truth.marks) / usual_width(truth)
    near = apart <= NEAR_MARK_STITCHES
    most = len(found) + len(truth.marks)
    # A matched pair always outweighs what it costs; a hidden one costs more than a seen one.
    rows, columns = linear_sum_assignment(np.where(near, apart + hidden - 2.0 * most, 0))
    pairs = [(r, c) for r, c in zip(rows, columns, strict=True) if near[r, c]]
    right = sum(not hidden[c] for _, c in pairs)
    return right, len(found) - len(pairs), int((~hidden).sum()) - right


def usual_width(truth: Truth) -> float:
    """Median distance of neighbouring marks, in pixels, above 0."""
    return max(float(np.median(np.linalg.norm(np.roll(truth.marks, -1, axis=0) - truth.marks, axis=1))), 1e-9)


def share_followed(outline: np.ndarray, truth: Truth) -> float | None:
    """At how many of the seen stitches an outline lies right.

    Parameters
    ----------
    outline : ndarray of shape (K, 2), float
        (x, y) of the rim as a closed line, in pixels.
    truth : Truth
        At least two marks.

    Returns
    -------
    float or None
        Share, 0 to 1, of the seen marks that lie within :data:`ASIDE_RIM_STITCHES` usual stitch widths of
        :data:`counter.counting.band.MARK_DEPTH` stitch widths inside the outline; None where none is seen. A
        round of single crochet is about as high as a stitch is wide (common practice).
    """
    seen = np.delete(truth.marks, list(truth.hidden), axis=0)
    if not len(seen):
        return None
    line = outline.astype(np.float32)
    inside = np.array([cv2.pointPolygonTest(line, (float(x), float(y)), True) for x, y in seen])
    return float((np.abs(inside / usual_width(truth) - MARK_DEPTH) <= ASIDE_RIM_STITCHES).mean())


def true_outline(truth: Truth) -> np.ndarray | None:
    """The outline that a truth file tells, or that its marks let be drawn.

    Parameters
    ----------
    truth : Truth

    Returns
    -------
    ndarray of shape (K, 2), float, or None
        None where neither is known. Marks lie :data:`counter.counting.band.MARK_DEPTH` usual stitch widths
        inside of it. Points that are no more than the stitches are joined smoothly (a periodic cubic spline).
    """
    line = truth.rim
    if len(line) < 3 and len(truth.marks) > 3:
        outward = truth.marks - truth.marks.mean(axis=0)
        away = np.linalg.norm(outward, axis=1, keepdims=True)
        line = truth.marks + outward / np.maximum(away, 1e-9) * MARK_DEPTH * usual_width(truth)
    if len(line) < 3:
        return None
    if truth.stitches is None or len(line) > truth.stitches:
        return line
    closed = np.vstack([line, line[:1]])
    smooth = CubicSpline(np.arange(len(closed)), closed, bc_type="periodic")
    return smooth(np.linspace(0, len(line), POINTS, endpoint=False))


def overlap(one: np.ndarray, other: np.ndarray) -> float:
    """How far two closed lines enclose the same.

    Parameters
    ----------
    one, other : ndarray of shape (K, 2), float
        (x, y), in pixels.

    Returns
    -------
    float
        Area that both enclose over the area that either does, 0 to 1 (P. Jaccard, 1901, the coefficient
        of community), to about a hundredth.
    """
    both = np.vstack([one, other])
    low = both.min(axis=0)
    grain = GRAIN / max(float(np.ptp(both, axis=0).max()), 1e-9)
    wide, high = (int(side) + 3 for side in np.ptp(both, axis=0) * grain)
    filled = []
    for line in (one, other):
        area = np.zeros((high, wide), np.uint8)
        cv2.fillPoly(area, [np.round((line - low) * grain + 1).astype(np.int32)], 1)
        filled.append(area.astype(bool))
    return float((filled[0] & filled[1]).sum() / max((filled[0] | filled[1]).sum(), 1))
