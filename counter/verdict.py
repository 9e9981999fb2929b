"""A count against the total that the round should hold."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from numbers import Integral

from counter.answer import Count, Doubt, clock_position

__all__ = ["CAUTION", "MOST_EXPECTED", "Verdict", "check_expected", "compare", "either", "percent"]

#: Said with everything that could make somebody rip back.
CAUTION = "Check by eye and finger before you rip anything back."
#: The same where the places have just been named.
CAUTION_PLACES = "Check these places by eye and finger before you rip anything back."
#: Largest total that can be expected.
MOST_EXPECTED = 1000


@dataclass(frozen=True)
class Verdict:
    """Whether a round holds what it should.

    Parameters
    ----------
    verdict : str
        "agrees", "short by k", "over by k" or "can't say".
    off_by : int or None
        Stitches counted less stitches expected; None where it can't be said.
    probability : float
        Probability of what the verdict says, 0 to 1; for "can't say", that the
        round holds the expected total.
    expected : int
        The expected total.
    words : str
        The verdict as sentences for a maker.
    look : tuple of Doubt
        Where to look first: the doubts of the count.
    """

    verdict: str
    off_by: int | None
    probability: float
    expected: int
    words: str
    look: tuple[Doubt, ...]


def check_expected(expected: object) -> int:
    """Make sure that an expected total can be one.

    Parameters
    ----------
    expected : object
        Whatever was given.

    Returns
    -------
    int
        The same, 1 to :data:`MOST_EXPECTED`.

    Raises
    ------
    ValueError
        If it is not a whole number in that range.
    """
    if isinstance(expected, bool) or not isinstance(expected, Integral) or not 1 <= expected <= MOST_EXPECTED:
        raise ValueError(f"the expected total must be a whole number from 1 to {MOST_EXPECTED}, not {expected!r}")
    return int(expected)


def compare(count: Count, expected: int) -> Verdict:
    """Compare a count with the expected total.

    Parameters
    ----------
    count : Count
        What was counted; it is not changed by the expectation.
    expected : int
        Stitches that the finished round should hold, 1 to 1000.

    Returns
    -------
    Verdict

    Raises
    ------
    ValueError
        If `expected` is not a whole number from 1 to 1000.
    """
    expected = check_expected(expected)
    agreeing = float(count.posterior.get(expected, 0.0))
    if not count.sure:
        # That the total is not among the likely ones is said, but not made a verdict:
        # a count that is not sure may be wrong about all of them.
        beside = "" if expected in count.likely else ", which is not among them"
        words = f"Not sure: {either(count.likely)} stitches; {expected} expected{beside}."
        return Verdict("can't say", None, agreeing, expected, _with_caution(words, count), count.doubts)
    if count.in_progress:
        done, left = count.in_progress.done, count.in_progress.left
        words = f"The round is not finished: {_stitches(done)} made, {left} of the round below left; {expected} expected."
        return Verdict("can't say", None, agreeing, expected, words, count.doubts)
    off = count.stitches - expected
    if off == 0:
        return Verdict("agrees", 0, agreeing, expected, f"{_stitches(expected)}, as expected.", count.doubts)
    verdict = f"{'short' if off < 0 else 'over'} by {abs(off)}"
    words = _with_caution(f"{_stitches(count.stitches)}, {verdict}: {expected} expected.", count)
    return Verdict(verdict, off, float(count.probability), expected, words, count.doubts)


def either(numbers: Iterable[int]) -> str:
    """Say that it is one of some numbers.

    Parameters
    ----------
    numbers : iterable of int
        At least one.

    Returns
    -------
    str
        "24", "23 or 24", "22, 23 or 24".
    """
    *others, last = (str(n) for n in sorted(numbers))
    return f"{', '.join(others)} or {last}" if others else last


def percent(probability: float) -> str:
    """Say a probability so that it claims neither more nor less than is known.

    Parameters
    ----------
    probability : float
        0 to 1.

    Returns
    -------
    str
        Whole percents, or "over 99%", or "under 1%".
    """
    return "over 99%" if probability > 0.99 else "under 1%" if probability < 0.01 else f"{probability:.0%}"


def _stitches(number: int) -> str:
    return "1 stitch" if number == 1 else f"{number} stitches"


def _with_caution(words: str, count: Count) -> str:
    """Add near which clock positions to look, and to look before anything is ripped back."""
    hours = list(dict.fromkeys(clock_position(doubt.at, count.centre) for doubt in count.doubts))
    if not hours:
        return f"{words} {CAUTION}"
    where = ", ".join(hours[:-1]) + " and " + hours[-1] if len(hours) > 1 else hours[0]
    return f"{words} Look near {where}. {CAUTION_PLACES}"
