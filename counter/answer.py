"""What the program says about one photo: a count, or a refusal with its reason.

Both are values. Nothing in the package raises an exception to say that a
photo can't be counted; it returns a :class:`Refusal` that carries the reason
and what to do about it.

Picture coordinates are those of the upright full-size photo: x right, y down,
the centre of the top-left pixel at (0, 0).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

__all__ = ["Count", "Doubt", "InProgress", "REFUSALS", "Refusal", "clock_position"]

#: Every refusal there is: code -> (reason, hint). One place explains each.
REFUSALS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "missing": (
            "There is no such file.",
            "Check the name and the folder.",
        ),
        "empty": (
            "The file is empty.",
            "Take or copy the photo again.",
        ),
        "not a picture": (
            "This file is not a picture that can be read.",
            "Use a JPEG, PNG, WebP, TIFF or HEIC photo.",
        ),
        "truncated": (
            "The picture file is cut off or damaged.",
            "Copy it again from the camera or the phone.",
        ),
        "too large": (
            "The picture has more pixels than can be read safely.",
            "Save it at 100 megapixels or less.",
        ),
        "too small": (
            "The picture is too small to show single stitches.",
            "Use a photo at least 200 pixels wide and high.",
        ),
        "animated": (
            "This is an animation, not a photo.",
            "Use a single still photo.",
        ),
        "several pictures": (
            "The file holds more than one picture.",
            "Save the photo of the piece as a file of its own.",
        ),
        "no piece": (
            "No worked round was found in the picture.",
            "Lay the piece flat on a plain background of another colour and fill most of the picture with it.",
        ),
        "several pieces": (
            "More than one piece is in the picture.",
            "Photograph one piece at a time.",
        ),
        "cut off": (
            "The piece runs out of the picture.",
            "Step back until the whole rim is in the picture.",
        ),
        "no stitches": (
            "Something round was found, but no stitches can be told apart on its rim.",
            "Come closer, hold the camera still and let light fall from the side.",
        ),
    }
)


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
    """

    code: str
    detail: str = ""

    def __post_init__(self) -> None:
        if self.code not in REFUSALS:
            raise ValueError(f"unknown refusal {self.code!r}; known: {', '.join(REFUSALS)}")

    @property
    def reason(self) -> str:
        """One sentence that says what is wrong."""
        reason = REFUSALS[self.code][0]
        return f"{reason[:-1]} ({self.detail})." if self.detail else reason

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
    """

    mark: int
    at: tuple[float, float]
    why: str


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
            raise ValueError(f"{len(self.shared)} chances of a shared base for {len(self.outline)} points of the outline")
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
        """ "sure" or "not sure"."""
        return "sure" if self.sure else "not sure"


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
    turn = np.arctan2(at[0] - centre[0], centre[1] - at[1]) / (2 * np.pi)
    hour = round(turn * 12) % 12
    return f"{hour or 12} o'clock"
