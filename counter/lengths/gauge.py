"""Gauge, size and tension: what lengths in millimetres say about the work.

Gauge is how many stitches and rounds go to 10 cm, or to 4 in, which is 1.6%
more. It is held against the yarn-industry council's standard table, whose
ranges overlap in places and leave gaps in others; a gauge is in all the
categories whose range it lies in, and in none where it lies in none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from scipy import special

from counter.basics import words
from counter.basics.answer import Count
from counter.lengths.scale import Scale, in_words, to_plane

__all__ = [
    "CATEGORIES",
    "Category",
    "Drift",
    "Gauge",
    "Length",
    "PieceSize",
    "categories_of",
    "drift",
    "gauge",
    "piece_size",
    "stitch_width",
]

#: Four inches in mm: one inch is 25.4 mm (international yard and pound agreement, 1959).
FOUR_INCHES_MM = 101.6
#: Sizes of stitches and rounds that are taken, mm.
SMALLEST_STITCH_MM, LARGEST_STITCH_MM = 0.5, 100.0
#: Fewest rounds that drift is told from.
FEWEST_DRIFT_ROUNDS = 4
#: Drift for each round that counts as even, as a share, and the chance with which an interval holds the truth.
EVEN_DRIFT_SHARE, INTERVAL_PROBABILITY = 0.02, 0.95


@dataclass(frozen=True)
class Length:
    """A length with its error.

    Parameters
    ----------
    mm : float
        More than 0.
    error : float
        Standard error, mm, 0 or more.
    """

    mm: float
    error: float = 0.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.mm) and self.mm > 0 and np.isfinite(self.error) and self.error >= 0):
            raise ValueError(
                f"a length must be more than 0 mm and its error not negative, not {self.mm!r} and {self.error!r}"
            )


@dataclass(frozen=True)
class Category:
    """A row of the council's table.

    Parameters
    ----------
    number : int
        1 to 7.
    name : str
    fewest, most : int
        Single crochets to 4 in.
    """

    number: int
    fewest: int
    most: int

    @property
    def name(self) -> str:
        """What it is called, in the language that is spoken."""
        return words.YARNS[self.number]


#: Single crochets to 4 in for each category of yarn: the yarn-industry council's standard
#: table, as reprinted in Crochet World, October 2018, p. 64; "guidelines only". Category 0
#: is given in double crochets and left out; 7 is "5 and fewer".
CATEGORIES = (
    Category(1, 21, 32),
    Category(2, 16, 20),
    Category(3, 12, 17),
    Category(4, 11, 14),
    Category(5, 8, 11),
    Category(6, 6, 9),
    Category(7, 0, 5),
)


@dataclass(frozen=True)
class Gauge:
    """How many stitches and rounds go to a length.

    Parameters
    ----------
    stitch : Length
        Width of a stitch.
    round : Length or None
        Height of a round, None where it is not known.
    categories : tuple of Category
        All that the gauge lies in; none where it lies in none.
    perhaps : tuple of Category
        Those that it misses by no more than twice its error.
    single : bool
        True where the stitches are single crochets, which the table is for.
    """

    stitch: Length
    round: Length | None
    categories: tuple[Category, ...]
    perhaps: tuple[Category, ...]
    single: bool

    def stitches(self, over: float = 100.0) -> tuple[float, float]:
        """Stitches to a length in mm, with the standard error."""
        return _to(self.stitch, over)

    def rounds(self, over: float = 100.0) -> tuple[float, float] | None:
        """Rounds to a length in mm, with the standard error; None where it is not known."""
        return None if self.round is None else _to(self.round, over)

    @property
    def words(self) -> str:
        """The gauge as sentences for a maker."""
        told = [_to_both(words.GAUGE_STITCHES, self.stitch)]
        if self.round is not None:
            told.append(_to_both(words.GAUGE_ROUNDS, self.round))
        return words.together(*told, self.category_words)

    @property
    def category_words(self) -> str:
        """Where the gauge stands in the table, as sentences for a maker; empty unless it is of single crochets."""
        if not self.single:
            return ""
        number = self.stitches(FOUR_INCHES_MM)[0]
        if self.categories:
            told = words.YARN_IS.format(yarn=_either(self.categories))
        else:
            finer = [c for c in CATEGORIES if c.fewest > number]
            heavier = [c for c in CATEGORIES if c.most < number]
            if finer and heavier:
                told = words.YARN_BETWEEN.format(heavier=_named(heavier[0]), finer=_named(finer[-1]))
            else:
                told = words.YARN_FINER
        perhaps = words.YARN_PERHAPS.format(yarn=_either(self.perhaps)) if self.perhaps else ""
        return words.together(told, perhaps, words.YARN_GUIDELINE)


@dataclass(frozen=True)
class PieceSize:
    """How large a piece is.

    Parameters
    ----------
    diameter : Length
        Of the disc that has the same area.
    widest, narrowest : float
        Largest and smallest distance of two parallel lines that touch the piece, mm.
    """

    diameter: Length
    widest: float
    narrowest: float

    @property
    def words(self) -> str:
        """The size as a sentence for a maker."""
        told = {"across": in_words(self.diameter.mm), "error": f"{2 * self.diameter.error:.1f}"}
        # Less than this is within what an outline is good to.
        if self.widest > 1.06 * self.narrowest:
            told |= {"narrowest": in_words(self.narrowest), "widest": in_words(self.widest)}
            return words.SIZE_BOTH.format(**told)
        return words.SIZE_ACROSS.format(**told)


@dataclass(frozen=True)
class Drift:
    """How the size of stitches changes from round to round.

    Parameters
    ----------
    share : float or None
        Change for each round as a share (-0.04: each round is 4% smaller than the one before); None
        where it can't be told.
    error : float or None
        Standard error of that.
    state : {"even", "tightens", "loosens", "can't say"}
    words : str
        The same as a sentence for a maker.
    """

    share: float | None
    error: float | None
    state: str
    words: str


def stitch_width(count: Count, scale: Scale) -> Length:
    """Width of a stitch along the rim of a piece.

    Parameters
    ----------
    count : Count
    scale : Scale
        Found in the same photo.

    Returns
    -------
    Length
        The closed line through the marks, laid flat, over their number. Its
        error is that of the scale and, where the count is not sure, of the
        number of stitches.
    """
    plane = to_plane(count.marks, scale)
    around = float(np.linalg.norm(np.roll(plane, -1, axis=0) - plane, axis=1).sum())
    numbers = np.array(list(count.posterior), dtype=float)
    chances = np.array(list(count.posterior.values()))
    spread = np.sqrt((chances * (np.log(numbers / count.stitches)) ** 2).sum() / chances.sum())
    width = around / count.stitches
    return Length(width, width * float(np.hypot(scale.error, spread)))


def gauge(stitch: Length, round: Length | None = None, *, single: bool = True) -> Gauge:
    """Stitches and rounds to a length, and the category of yarn.

    Parameters
    ----------
    stitch : Length
        Width of a stitch, 0.5 to 100 mm.
    round : Length or None
        Height of a round, 0.5 to 100 mm; None where it is not known.
    single : bool, optional
        False where the stitches are not single crochets; no category is given then.

    Returns
    -------
    Gauge

    Raises
    ------
    ValueError
        If a length is out of range.
    """
    for what, length in (("stitch", stitch), ("round", round)):
        if length is not None and not SMALLEST_STITCH_MM <= length.mm <= LARGEST_STITCH_MM:
            told = words.MUST_MEASURE[what]
            raise ValueError(
                told.format(least=SMALLEST_STITCH_MM, most=f"{LARGEST_STITCH_MM:.0f}", mm=f"{length.mm:.2f}")
            )
    if not single:
        return Gauge(stitch, round, (), (), False)
    number, error = _to(stitch, FOUR_INCHES_MM)
    inside = categories_of(number)
    near = tuple(
        c for c in CATEGORIES if c not in inside and c.fewest <= number + 2 * error and number - 2 * error <= c.most
    )
    return Gauge(stitch, round, inside, near, True)


def categories_of(number: float) -> tuple[Category, ...]:
    """Every category of the table that a gauge lies in.

    Parameters
    ----------
    number : float
        Single crochets to 4 in, more than 0.

    Returns
    -------
    tuple of Category
        None, one or more: the ranges overlap, and between some lies nothing.
    """
    return tuple(c for c in CATEGORIES if c.fewest <= number <= c.most)


def piece_size(count: Count, scale: Scale) -> PieceSize:
    """How large a piece is.

    Parameters
    ----------
    count : Count
    scale : Scale
        Found in the same photo.

    Returns
    -------
    PieceSize
        Of the rim, along the table.
    """
    plane = to_plane(count.outline, scale)
    area = cv2.contourArea(plane.astype(np.float32))
    diameter = 2 * float(np.sqrt(area / np.pi))
    turn = np.linspace(0, np.pi, 180, endpoint=False)
    across = np.ptp(plane @ np.stack([np.cos(turn), np.sin(turn)]), axis=0)
    # The outline itself is good to about a hundredth of the piece.
    error = diameter * (scale.error if scale.kind == "diameter" else float(np.hypot(scale.error, 0.01)))
    return PieceSize(Length(diameter, error), float(across.max()), float(across.min()))


def drift(sizes: Sequence[float | None], *, what: str = "stitches") -> Drift:
    """Tension from round to round.

    A straight line through the logarithms of the sizes by least squares; its
    slope is the change for each round, its error follows from how the rounds
    scatter about it (Student's t for the interval).

    Parameters
    ----------
    sizes : sequence of float or None
        Width of the stitches, or height, of each round from the first on, in
        any one unit, more than 0; None where a round was not seen.
    what : str, optional
        What has that size: "stitches" or "rounds".

    Returns
    -------
    Drift
        "even" only where the interval lies within 2% a round, "tightens" or
        "loosens" only where it leaves no change outside; else it can't be said.

    Raises
    ------
    ValueError
        If a size is not a number more than 0.
    """
    known = [(k, float(size)) for k, size in enumerate(sizes, 1) if size is not None]
    if any(not (np.isfinite(size) and size > 0) for _, size in known):
        raise ValueError("the size of a round must be more than 0, or None where it was not seen")
    if len(known) < FEWEST_DRIFT_ROUNDS:
        return Drift(None, None, "can't say", words.TENSION_FEW[what])
    number, size = np.array(known).T
    far, logs = number - number.mean(), np.log(size) - np.log(size).mean()
    slope = float((far * logs).sum() / (far**2).sum())
    scatter = float(((logs - slope * far) ** 2).sum()) / (len(known) - 2)
    error = float(np.sqrt(scatter / (far**2).sum()))
    share = float(np.expm1(slope))
    reach = float(special.stdtrit(len(known) - 2, 0.5 + INTERVAL_PROBABILITY / 2)) * error
    low, high = np.expm1(slope - reach), np.expm1(slope + reach)
    if low >= -EVEN_DRIFT_SHARE and high <= EVEN_DRIFT_SHARE:
        return Drift(share, error, "even", words.TENSION_EVEN[what])
    if low > 0 or high < 0:
        state = "loosens" if share > 0 else "tightens"
        change = f"{abs(share):.0%}" if abs(share) >= 0.01 else words.TENSION_UNDER
        within = f"{reach:.0%}" if reach >= 0.01 else words.TENSION_WITHIN
        return Drift(share, error, state, words.TENSION[state][what].format(change=change, within=within))
    return Drift(share, error, "can't say", words.TENSION_UNCLEAR[what])


def _to_both(sentence: str, length: Length) -> str:
    """A sentence about how many of a length go to 10 cm and to 4 inches."""
    return sentence.format(metric=_stated(*_to(length, 100.0)), inches=_stated(*_to(length, FOUR_INCHES_MM)))


def _to(length: Length, over: float) -> tuple[float, float]:
    number = over / length.mm
    return number, number * length.error / length.mm


def _stated(number: float, error: float) -> str:
    """A number with twice its error, neither with more places than it has."""
    places = 1 if 2 * error < 2 else 0
    return f"{number:.{places}f} \u00b1 {max(2 * error, 10.0**-places):.{places}f}" if error else f"{number:.1f}"


def _named(category: Category) -> str:
    return words.YARN.format(n=category.number, name=category.name)


def _either(categories: Sequence[Category]) -> str:
    return words.OR.join(_named(c) for c in categories)
