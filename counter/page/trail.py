"""What undo and redo go back to, as a text that the browser remembers.

Each step is what changed from one standing of the marks to the next, so that a
hundred of them take a few thousand characters. What comes back is looked at
like anything from a browser; where it makes no sense there is nothing to undo.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Annotated

from msgspec import Meta, Struct

from counter.comparing.verdict import MOST_EXPECTED
from counter.notebook.codec import in_copy
from counter.notebook.schema import read
from counter.page.edits import FEWEST_MARKS, Edits, Mark, Marks, Standing

__all__ = ["MOST_STEPS", "MOST_TRAIL", "followed", "trail_of"]

#: Most steps to either side that are remembered, and most characters of them all.
MOST_STEPS, MOST_TRAIL = 100, 60_000
#: No name of a mark is this far from zero.
FURTHEST_NAME = 1_000_000
_Name = Annotated[int, Meta(gt=-FURTHEST_NAME, lt=FURTHEST_NAME)]
_Index = Annotated[int, Meta(ge=0, le=MOST_EXPECTED)]


class _Step(Struct, array_like=True, forbid_unknown_fields=True):
    """From one standing to the next: from which mark on, how many go, what comes, and the answers then."""

    start: _Index
    out: _Index
    put: list[tuple[_Name, float, float]]
    answers: list[tuple[_Index, int]]
    by_hand: bool


class _Trail(Struct):
    """Names of the marks as they stand, and the steps to either side, nearest first."""

    names: list[_Name]
    back: Annotated[list[_Step], Meta(max_length=MOST_STEPS)]
    forth: Annotated[list[_Step], Meta(max_length=MOST_STEPS)]


def trail_of(edits: Edits, size: tuple[int, int], kept: tuple[int, int]) -> str:
    """What undo and redo go back to.

    Parameters
    ----------
    edits : Edits
    size, kept : tuple of int
        (width, height) of the photo, and of its copy beside which the text is remembered.

    Returns
    -------
    str
        JSON; the nearest steps, as many as :data:`MOST_STEPS` and :data:`MOST_TRAIL`
        allow. Empty where there is nothing to go back to.
    """
    if not edits.before and not edits.after:
        return ""
    room = MOST_TRAIL // 2 - 10 * len(edits.marks)
    trail = {
        "names": [mark.name for mark in edits.marks],
        "back": _steps(edits.now, edits.before[::-1], size, kept, room),
        "forth": _steps(edits.now, edits.after[::-1], size, kept, room),
    }
    return json.dumps(trail, separators=(",", ":"))


def _steps(
    now: Standing, others: Sequence[Standing], size: tuple[int, int], kept: tuple[int, int], room: int
) -> list[list]:
    """The way from standing to standing, nearest first, in at most so many characters."""
    steps = []
    for other in others[:MOST_STEPS]:
        start, end = _same(now.marks, other.marks), len(other.marks)
        tail = _same(now.marks[start:][::-1], other.marks[start:][::-1])
        new = other.marks[start : end - tail]
        places = in_copy([(mark.x, mark.y) for mark in new], size, kept).tolist()
        put = [[mark.name, x, y] for mark, (x, y) in zip(new, places, strict=True)]
        step = [start, len(now.marks) - start - tail, put, [list(answer) for answer in other.answers], other.by_hand]
        room -= len(json.dumps(step))
        if room < 0:
            break
        steps.append(step)
        now = other
    return steps


def _same(one: Iterable[Mark], other: Iterable[Mark]) -> int:
    """How many marks both begin with."""
    many = 0
    for a, b in zip(one, other, strict=False):
        if a is not b and a != b:
            break
        many += 1
    return many


def followed(edits: Edits, trail: str, size: tuple[int, int]) -> Edits:
    """The same edits with what undo and redo go back to.

    Parameters
    ----------
    edits : Edits
        As they stand, with nothing to undo.
    trail : str
        From :func:`trail_of`, by way of a browser.
    size : tuple of int
        (width, height) of the photo.

    Returns
    -------
    Edits
        The very same where the trail makes no sense or belongs to other marks.
    """
    if not trail or len(trail) > MOST_TRAIL:
        return edits
    try:
        told = read(trail, _Trail)
        now = replace(edits.now, marks=_named(edits, told.names))
        before, after = (_standings(edits, now, steps, size) for steps in (told.back, told.forth))
    except ValueError:
        return edits
    used = [mark.name for standing in (now, *before, *after) for mark in standing.marks]
    return replace(edits, now=now, before=before[::-1], after=after[::-1], fresh=max(edits.fresh, *used) + 1)


def _named(edits: Edits, names: list[int]) -> Marks:
    """The marks as they stand, under the names that they had; ValueError where they are others."""
    marks, own = [], len(edits.first)
    for mark, name in zip(edits.marks, names, strict=True):
        # A person's marks get theirs back; one of the photo's own is called by its place among them.
        if name != mark.name and (not mark.added or 0 <= name < own):
            raise ValueError("these are other marks")
        marks.append(replace(mark, name=name))
    return _checked(tuple(marks))


def _standings(edits: Edits, now: Standing, steps: list[_Step], size: tuple[int, int]) -> tuple[Standing, ...]:
    """The standings that steps lead to, nearest first; ValueError where one can't be made."""
    own, found = len(edits.first), []
    for step in steps:
        end = step.start + step.out
        if end > len(now.marks):
            raise ValueError("there are no such marks")
        new = tuple(
            Mark(name, _place(x, size[0]), _place(y, size[1]), added=not 0 <= name < own) for name, x, y in step.put
        )
        marks = _checked((*now.marks[: step.start], *new, *now.marks[end:]))
        given = tuple(step.answers)
        if len(dict(given)) < len(given) or any(
            not 0 <= question < len(edits.questions) or change not in edits.questions[question].changes
            for question, change in given
        ):
            raise ValueError("that was not asked")
        now = Standing(marks, given, step.by_hand)
        found.append(now)
    return tuple(found)


def _checked(marks: Marks) -> Marks:
    if not FEWEST_MARKS <= len(marks) <= MOST_EXPECTED or len({mark.name for mark in marks}) < len(marks):
        raise ValueError("such marks can't be")
    return marks


def _place(value: float, length: int) -> float:
    # The rim may leave the frame a little.
    if not -length <= value <= 2 * length:
        raise ValueError("that is no place in the photo or near it")
    return value
