"""What a kept count looks like as plain data: every field, its type and its bounds, read by msgspec.

The same for the notebook's file, a zip and a browser's memory. Nothing is turned into what it isn't (a text that
holds a number is no number), nothing is left out and nothing is added. What hangs on several fields at once is the
business of :mod:`counter.notebook.codec`.
"""

from __future__ import annotations

from typing import Annotated, TypeVar

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType

from counter.basics import words
from counter.comparing.verdict import MOST_EXPECTED
from counter.notebook.limits import (
    FEWEST_MARKS,
    MOST_DOUBTS,
    MOST_NOTE,
    MOST_PLAN,
    MOST_POINTS,
    MOST_SENTENCE,
    MOST_TITLE,
    PHOTO_SIDE_PX,
)

__all__ = ["AboutData", "CountData", "EntryData", "ListedData", "converted", "read"]

T = TypeVar("T")

#: A place, px; the rim may leave the frame a little, and no photo is larger.
Coordinate = Annotated[float, Meta(ge=-2.0 * PHOTO_SIDE_PX, le=2.0 * PHOTO_SIDE_PX)]
Place = tuple[Coordinate, Coordinate]
Side = Annotated[int, Meta(ge=1, le=PHOTO_SIDE_PX)]
Total = Annotated[int, Meta(ge=1, le=MOST_EXPECTED)]
Number = Annotated[int, Meta(ge=0, le=MOST_EXPECTED)]
Difference = Annotated[int, Meta(ge=-MOST_EXPECTED, le=MOST_EXPECTED)]
Probability = Annotated[float, Meta(ge=0, le=1)]
Sentence = Annotated[str, Meta(max_length=MOST_SENTENCE)]
Key = Annotated[str, Meta(pattern="^[0-9a-f]{32}$")]


class _Data(Struct, forbid_unknown_fields=True):
    """Exactly these fields."""


class GoalData(_Data):
    """As :class:`counter.notebook.values.Goal`; older versions kept neither of the last two."""

    expected: Total | None
    plan: Annotated[str, Meta(max_length=MOST_PLAN)]
    uk: bool
    round: Total | None
    twin: bool
    since: Number
    twin_holds: Total | None = None
    finished: bool | None = None


class MarkData(_Data):
    """As :class:`counter.notebook.values.KeptMark`."""

    x: Coordinate
    y: Coordinate
    own: Total | None


class DoubtData(_Data):
    """As :class:`counter.basics.answer.Doubt`; older versions kept no kind."""

    mark: Total
    at: Place
    why: Sentence
    kind: str = ""


class InProgressData(_Data):
    """As :class:`counter.basics.answer.InProgress`."""

    done: Number
    left: Number
    loop: Place


class CountData(_Data):
    """As :class:`counter.basics.answer.Count`."""

    posterior: Annotated[
        dict[Annotated[str, Meta(pattern="^[1-9][0-9]{0,3}$")], Probability],
        Meta(min_length=1, max_length=MOST_EXPECTED),
    ]
    sure: bool
    likely: Annotated[list[Total], Meta(min_length=1, max_length=MOST_EXPECTED)]
    marks: Annotated[list[Place], Meta(min_length=1, max_length=MOST_EXPECTED)]
    doubts: Annotated[list[DoubtData], Meta(max_length=MOST_DOUBTS)]
    centre: Place
    outline: Annotated[list[Place], Meta(min_length=3, max_length=MOST_POINTS)]
    shared: Annotated[list[Probability], Meta(min_length=3, max_length=MOST_POINTS)]
    start_seen: bool
    rounds: Number | None
    in_progress: InProgressData | None
    reason: Sentence
    size: tuple[Side, Side]
    seconds: Annotated[float, Meta(ge=0, le=1e6)]


class EntryData(_Data):
    """As :class:`counter.notebook.values.Entry`, without its revision.

    Version 1 kept no answers, and not whether marks were changed by hand.
    """

    key: Key
    kept: str
    changed: str
    title: Annotated[str, Meta(max_length=MOST_TITLE)]
    note: Annotated[str, Meta(max_length=MOST_NOTE)]
    confirmed: bool
    goal: GoalData
    marks: Annotated[list[MarkData], Meta(min_length=FEWEST_MARKS, max_length=MOST_EXPECTED)]
    count: CountData
    answers: Annotated[list[Annotated[int, Meta(ge=-1, le=1)] | None], Meta(max_length=MOST_DOUBTS)] | UnsetType = UNSET
    by_hand: bool | UnsetType = UNSET


class ListedData(_Data):
    """A row of the list, as the file has it."""

    key: Key
    title: Annotated[str, Meta(max_length=MOST_TITLE)]
    note: Annotated[str, Meta(max_length=MOST_NOTE)]
    kept: str
    changed: str
    stitches: Annotated[int, Meta(ge=FEWEST_MARKS, le=MOST_EXPECTED)]
    likely: str
    state: str
    expected: Difference | None
    round: Difference | None
    off_by: Difference | None
    small: bytes


class AboutData(_Data):
    """What an exported zip says it is."""

    format: str
    version: Annotated[int, Meta(ge=1, le=1_000_000)]
    counts: int


def read(text: str | bytes, kind: type[T]) -> T:
    """JSON -> one of these.

    Parameters
    ----------
    text : str or bytes
    kind : type
        One of the classes of this module, or a type that is made of them.

    Raises
    ------
    ValueError
        With one line that says where what can't be stands.
    """
    try:
        return msgspec.json.decode(text, type=kind)
    except (msgspec.DecodeError, UnicodeError, RecursionError) as error:
        raise ValueError(_where(error)) from None


def converted(data: object, kind: type[T]) -> T:
    """Plain data -> one of these; as :func:`read`."""
    try:
        return msgspec.convert(data, kind)
    except (msgspec.ValidationError, RecursionError) as error:
        raise ValueError(_where(error)) from None


def _where(error: Exception) -> str:
    """The place of what can't be, as msgspec names it at the end of what it says in English: "at `$.goal.round`"."""
    _, found, place = str(error).partition(" - at `")
    return words.KEPT_AT.format(where=place.rstrip("`").removeprefix("$.")) if found else words.KEPT_WRONG["fields"]
