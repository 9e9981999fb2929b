"""What the program says about one photo: a count, or a refusal with its reason.

Both are values. Nothing in the package raises an exception to say that a
photo can't be counted; it returns a :class:`Refusal` that carries the reason
and what to do about it.

Picture coordinates are those of the upright full-size photo: x right, y down,
the centre of the top-left pixel at (0, 0).
"""

from __future__ import annotations

import string
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from counter.basics import words
from counter.basics.language import Told

__all__ = [
    "DOUBTS",
    "REFUSALS",
    "Count",
    "Doubt",
    "InProgress",
    "Refusal",
    "clock_hour",
    "clock_position",
    "doubt_letter",
]

#: Every refusal there is: code -> (reason, hint). One place explains each.
REFUSALS: Mapping[str, tuple[str, str]] = Told("REFUSALS")
#: Every kind of doubt there is: kind -> what is in doubt at the place, in a maker's words.
DOUBTS: Mapping[str, str] = Told("IN_DOUBT")


@dataclass(frozen=True)
class Refusal:
    """Why a photo can't be counted, and what to do about it.

    Parameters
    ----------
    code : str
        A key of :data:`REFUSALS`.
    detail : str, optional
        What was seen in this very photo ("24000 x 24000 pixels"); it is added
        to the reason in brackets.
    outlines : tuple of ndarray of shape (K, 2), float
        Closed lines round what was seen and not counted, (x, y) in pixels of the
        upright photo, left to right. Two refusals are equal whatever was seen.
    """

    code: str
    detail: str = ""
    outlines: tuple[np.ndarray, ...] = field(default=(), compare=False, repr=False)

    def __post_init__(self) -> None:
        for outline in self.outlines:
            outline.flags.writeable = False
        if self.code not in REFUSALS:
            raise ValueError(f"unknown refusal {self.code!r}; known: {', '.join(REFUSALS)}")

    @property
    def reason(self) -> str:
        """One sentence that says what is wrong."""
        return words.with_detail(REFUSALS[self.code][0], self.detail)

    @property
    def hint(self) -> str:
        """One sentence that says what to do."""
        return REFUSALS[self.code][1]


@dataclass(frozen=True)
class Doubt:
    """A place on the rim that a person should look at.

    Parameters
    ----------
    mark : int
        Number of the mark nearest to the place, from 1.
    at : tuple of float
        (x, y) of the place, in pixels of the upright photo.
    why : str
        What is in doubt there, in a maker's words.
    kind : str
        A key of :data:`DOUBTS`; empty where what is in doubt is none of them.
    """

    mark: int
    at: tuple[float, float]
    why: str
    kind: str = ""

    @property
    def said(self) -> str:
        """What is in doubt, in the language that is spoken now."""
        return words.IN_DOUBT.get(self.kind, self.why)


@dataclass(frozen=True)
class InProgress:
    """A round that is not finished yet.

    Parameters
    ----------
    done : int
        Stitches made in the round on the hook.
    left : int
        Stitches of the round below that are not worked into yet.
    loop : tuple of float
        (x, y) of the working loop, in pixels of the upright photo.
    """

    done: int
    left: int
    loop: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Count:
    """How many stitches stand around the rim, and how sure that is.

    Parameters
    ----------
    posterior : mapping of int to float
        Probability of every number of stitches that is worth naming; the
        values add up to 1 (to within rounding).
    sure : bool
        True where the best number may be trusted without a look.
    likely : tuple of int
        The numbers to show to a person, most probable first; one number
        where the count is sure.
    marks : ndarray of shape (stitches, 2), float
        Middle of the top loops of each stitch, (x, y) in pixels of the upright
        photo, in working order (counter-clockwise unless left-handed).
    doubts : tuple of Doubt
        Places to look at first, most doubtful first; none where the count is sure.
    centre : tuple of float
        (x, y) of the centre ring.
    outline : ndarray of shape (K, 2), float
        The rim as a closed line (x, y), clockwise in the picture.
    shared : ndarray of shape (K,), float
        For each point of the outline the chance that the stitch there shares its
        base with a neighbour, 0 to 1: two stitches of an increase do.
    start_seen : bool
        True where the start of the round shows, so that mark 1 is the round's
        first stitch or next to it; else the numbers begin anywhere.
    rounds : int or None
        Complete rounds, None where they can't be told.
    in_progress : InProgress or None
        None where the round looks complete.
    reason : str
        Why the count is not sure; empty where it is sure.
    size : tuple of int
        (width, height) of the upright photo in pixels.
    seconds : float
        Time the count took.
    """

    posterior: Mapping[int, float]
    sure: bool
    likely: tuple[int, ...]
    marks: np.ndarray
    doubts: tuple[Doubt, ...]
    centre: tuple[float, float]
    outline: np.ndarray
    shared: np.ndarray
    start_seen: bool
    rounds: int | None
    in_progress: InProgress | None
    reason: str
    size: tuple[int, int]
    seconds: float

    def __post_init__(self) -> None:
        if len(self.marks) != self.stitches:
            raise ValueError(f"{len(self.marks)} marks for a count of {self.stitches}")
        if len(self.shared) != len(self.outline):
            raise ValueError(
                f"{len(self.shared)} chances of a shared base for {len(self.outline)} points of the outline"
            )
        for array in (self.marks, self.outline, self.shared):
            array.flags.writeable = False

    @property
    def stitches(self) -> int:
        """The most probable number of stitches."""
        return max(self.posterior, key=lambda n: (self.posterior[n], -n))

    @property
    def probability(self) -> float:
        """Probability of :attr:`stitches`, 0 to 1."""
        return self.posterior[self.stitches]

    @property
    def state(self) -> str:
        """How sure: "sure" or "not sure"."""
        return "sure" if self.sure else "not sure"


def clock_hour(at: tuple[float, float], centre: tuple[float, float]) -> int:
    """The hour near which a place lies, as on a clock face.

    Parameters
    ----------
    at, centre : tuple of float
        (x, y) in pixels of the upright photo.

    Returns
    -------
    int
        1 to 12; 12 is up.
    """
    turn = np.arctan2(at[0] - centre[0], centre[1] - at[1]) / (2 * np.pi)
    return round(turn * 12) % 12 or 12


def clock_position(at: tuple[float, float], centre: tuple[float, float]) -> str:
    """Say where a place lies, as on a clock face.

    Parameters
    ----------
    at, centre : tuple of float
        (x, y) in pixels of the upright photo.

    Returns
    -------
    str
        "1 o'clock" to "12 o'clock"; 12 is up.
    """
    return words.CLOCK.format(hour=clock_hour(at, centre))


def doubt_letter(index: int) -> str:
    """Letter of a place in doubt, by its index from 0: A to Z, then A2 and on."""
    again, letter = divmod(index, 26)
    return string.ascii_uppercase[letter] + (str(again + 1) if again else "")
