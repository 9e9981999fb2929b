"""A person who knows the truth answers what is asked about a count."""

from __future__ import annotations

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from counter.basics.answer import Count
from counter.comparing.questions import in_sight, questions_of
from counter.evaluation.places import usual_width
from counter.evaluation.truth import Truth

__all__ = ["totals_answered"]

#: A mark stands for a stitch within this share of the usual stitch width.
STANDS_FOR = 0.5
#: A mark too many and a missing one this near to each other are one mark that stands aside.
ASIDE = 1.5


def totals_answered(count: Count, truth: Truth) -> tuple[int, ...]:
    """The number of stitches before the first answer and after each, until all questions are answered.

    The person looks at the picture of a question's place and compares marks and stitches in it: where one is
    missing or too many, and an answer says so, it is given; otherwise the marks are said to be right. What was
    put right is not seen again in the next picture.

    Parameters
    ----------
    count : Count
        The photo's own.
    truth : Truth
        With at least two marks.

    Returns
    -------
    tuple of int
        One number more than there are questions.
    """
    width = usual_width(truth)
    found, missing = _unmatched(count.marks, truth.marks, STANDS_FOR * width)
    found, missing = _unmatched(found, missing, ASIDE * width)
    wrong = [(at, -1) for at in found] + [(at, 1) for at in missing]
    totals = [count.stitches]
    for question in questions_of(count):
        off = [np.linalg.norm(at - question.doubt.at) / width for at, _ in wrong]
        seen = [k for k in np.argsort(off, kind="stable") if off[k] <= in_sight(question.doubt)]
        needed = int(np.sign(sum(wrong[k][1] for k in seen)))
        change = needed if needed in question.changes else 0
        if change:
            done = next(k for k in seen if wrong[k][1] == change)
            wrong.pop(done)
        totals.append(totals[-1] + change)
    return tuple(totals)


def _unmatched(one: np.ndarray, other: np.ndarray, near: float) -> tuple[np.ndarray, np.ndarray]:
    """What is left of two sets of places when as many as possible are matched, one to one, within a distance."""
    apart = cdist(one, other)
    # A pair always outweighs what it costs.
    rows, columns = linear_sum_assignment(np.where(apart <= near, apart - near * (sum(apart.shape) + 1), 0))
    pairs = [(r, c) for r, c in zip(rows, columns, strict=True) if apart[r, c] <= near]
    return np.delete(one, [r for r, _ in pairs], axis=0), np.delete(other, [c for _, c in pairs], axis=0)
