"""Marks put by hand along the rim of a piece that the photo alone could not be counted on."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated

import numpy as np
from msgspec import Meta, Struct, to_builtins

from counter.basics import words
from counter.basics.answer import Count
from counter.comparing.verdict import MOST_EXPECTED
from counter.notebook.codec import in_copy
from counter.notebook.limits import MOST_POINTS
from counter.notebook.schema import Place, Side, Total, read
from counter.page.edits import FEWEST_MARKS, Edits, Mark, Standing
from counter.page.session import count_of_session, session

__all__ = ["BEGINS", "Sketch", "begun", "ended", "of_sketch", "rim_of", "sketched"]

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
    return _without_marks(place[:2], rim_of(place, outlines), size)


def _without_marks(centre: tuple[float, float], outline: np.ndarray, size: tuple[int, int]) -> Count:
    return Count(
        posterior={0: 1.0}, sure=False, likely=(0,), marks=np.empty((0, 2)), doubts=(), centre=centre,
        outline=outline, shared=np.zeros(len(outline)), start_seen=True, rounds=None, in_progress=None,
        reason=words.BY_HAND_WHY, size=size, seconds=0.0,
    )  # fmt: skip


class Sketch(Struct, forbid_unknown_fields=True):
    """Marks that are being put, as the browser remembers them.

    Parameters
    ----------
    size : tuple of int
        (width, height) of the reduced photo, in whose pixels the places are.
    centre : tuple of float
    outline : list of tuple of float
        The rim.
    marks : list of tuple of float
        In working order.
    expected : int or None
        What the round should hold.
    """

    size: tuple[Side, Side]
    centre: Place
    outline: Annotated[list[Place], Meta(min_length=3, max_length=MOST_POINTS)]
    marks: Annotated[list[Place], Meta(max_length=MOST_EXPECTED)]
    expected: Total | None = None


class _Told(Struct, forbid_unknown_fields=True):
    by_hand: Sketch


#: What the text of a sketch begins with, by which it is told from that of a count.
BEGINS = '{"by_hand"'


def sketched(own: Count, edits: Edits, kept: tuple[int, int], expected: int | None) -> str:
    """What the browser remembers while marks are being put.

    Parameters
    ----------
    own : Count
        From :func:`begun`.
    edits : Edits
        The marks so far.
    kept : tuple of int
        (width, height) of the reduced photo that the browser remembers beside it.
    expected : int or None
        What the round should hold.

    Returns
    -------
    str
        JSON.
    """

    def there(points: np.ndarray) -> list[tuple[float, float]]:
        return [(x, y) for x, y in in_copy(points, own.size, kept).tolist()]

    (centre,) = there(np.array([own.centre]))
    return json.dumps(to_builtins(_Told(Sketch(kept, centre, there(own.outline), there(edits.points), expected))))


def of_sketch(text: str) -> tuple[Count, Edits, Sketch]:
    """Go on from what :func:`sketched` wrote, from anywhere: every value is looked at.

    Parameters
    ----------
    text : str

    Returns
    -------
    own : Count
    edits : Edits
        There is nothing to undo yet.
    sketch : Sketch

    Raises
    ------
    ValueError
        If it makes no sense.
    """
    told = read(text, _Told).by_hand
    places = np.array([told.centre, *told.outline, *told.marks])
    if not ((places >= -np.array(told.size)) & (places <= 2 * np.array(told.size))).all():  # what isn't finite, too
        raise ValueError(words.KEPT_WRONG["outside"])
    own = _without_marks(told.centre, np.array(told.outline), told.size)
    marks = tuple(Mark(name, x, y, added=True) for name, (x, y) in enumerate(told.marks))
    edits = replace(Edits.of(own.marks), now=Standing(marks, (), True), fresh=len(marks), around=told.centre)
    return own, edits, told


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
