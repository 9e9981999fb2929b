"""Marks put by hand along the rim of a piece that the photo alone could not be counted on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from counter.basics import words
from counter.basics.answer import Count
from counter.page.edits import FEWEST_MARKS, Edits
from counter.page.session import count_of_session, session

__all__ = ["begun", "ended", "rim_of"]

#: Points of a rim that a person showed as a ring.
POINTS = 360
#: A line that was found belongs to the ring that was shown where it runs this near to it, as a share of the radius.
NEAR = 0.15


def rim_of(place: tuple[float, float, float], outlines: Sequence[np.ndarray]) -> np.ndarray:
    """The rim of a piece that was shown.

    Parameters
    ----------
    place : tuple of float
        (x, y, radius) of the ring that a person drew, in pixels of the photo.
    outlines : sequence of ndarray of shape (K, 2)
        Closed lines round what was found in the photo.

    Returns
    -------
    ndarray of shape (K, 2)
        The line that was found nearest to the ring, clockwise in the picture, where one runs along it; else the ring.
    """
    x, y, radius = place
    best, off = None, NEAR * radius
    for outline in outlines:
        away = float(np.abs(np.linalg.norm(outline - (x, y), axis=1) - radius).max())
        if away < off:
            best, off = outline, away
    if best is None:
        turn = np.linspace(0, 2 * np.pi, POINTS, endpoint=False)
        return np.column_stack([x + radius * np.sin(turn), y - radius * np.cos(turn)])
    dx, dy = np.roll(best, -1, axis=0) - best, np.roll(best, -1, axis=0) + best
    # The shoelace formula; y points down, so that a positive area runs clockwise.
    area = float((dx[:, 0] * dy[:, 1] - dx[:, 1] * dy[:, 0]).sum())
    return (best if area < 0 else best[::-1]).copy()


def begun(place: tuple[float, float, float], outlines: Sequence[np.ndarray], size: tuple[int, int]) -> Count:
    """A count without a mark yet, for a person to put them.

    Parameters
    ----------
    place, outlines
        As for :func:`rim_of`.
    size : tuple of int
        (width, height) of the photo.

    Returns
    -------
    Count
    """
    outline = rim_of(place, outlines)
    return Count(
        posterior={0: 1.0}, sure=False, likely=(0,), marks=np.empty((0, 2)), doubts=(), centre=place[:2],
        outline=outline, shared=np.zeros(len(outline)), start_seen=True, rounds=None, in_progress=None,
        reason=words.BY_HAND_WHY, size=size, seconds=0.0,
    )  # fmt: skip


def ended() -> None:
    """Take the marks that were put for the count: from here on it is one like any other, counted by a person."""
    state = session()
    own, marks = count_of_session(), state.edits.points
    if len(marks) < FEWEST_MARKS:
        return
    total = len(marks)
    state.answer = Count(
        posterior={total: 1.0}, sure=False, likely=(total,), marks=marks, doubts=(), centre=own.centre,
        outline=own.outline.copy(), shared=own.shared.copy(), start_seen=True, rounds=None, in_progress=None,
        reason=words.BY_HAND_WHY, size=own.size, seconds=0.0,
    )  # fmt: skip
    state.update(edits=Edits.of(marks), confirmed=True, by_hand=False)
