"""A count against the total that the round should hold."""

from __future__ import annotations

from dataclasses import dataclass

from counter.answer import Count, Doubt, clock_position

__all__ = ["CAUTION", "Verdict", "compare"]

#: Said with everything that could make somebody rip back.
CAUTION = "Check by eye and finger before you rip anything back."
#: Largest total that can be expected.
MOST = 1000


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
        Probability of what the verdict says; for "can't say", that the round
        holds the expected total.
    expected : int
        The expected total.
    words : str
        The verdict as sentences for a maker.
    look : tuple of Doubt
        Where to look first.
    """

    verdict: str
    off_by: int | None
    probability: float
    expected: int
    words: str
    look: tuple[Doubt, ...]


def compare(count: Count, expected: int) -> Verdict:
    """Compare a count with the expected total.

    Parameters
    ----------
    count : Count
        What was counted; it is not changed by the expectation.
    expected : int
        Stitches that the round should hold, 1 to 1000.

    Returns
    -------
    Verdict

    Raises
    ------
    ValueError
        If `expected` is not a whole number from 1 to 1000.
    """
    if isinstance(expected, bool) or not isinstance(expected, int) or not 1 <= expected <= MOST:
        raise ValueError(f"the expected total must be a whole number from 1 to {MOST}, not {expected!r}")
    agreeing = count.posterior.get(expected, 0.0)
    where = _where(count)
    if not count.sure:
        numbers = " or ".join(str(n) for n in sorted(count.likely))
        words = f"Not sure: {numbers} stitches; {expected} expected.{where} {CAUTION}"
        return Verdict("can't say", None, agreeing, expected, words, count.doubts)
    off = count.stitches - expected
    if off == 0:
        return Verdict("agrees", 0, agreeing, expected, f"{expected} stitches, as expected.", count.doubts)
    verdict = f"{'short' if off < 0 else 'over'} by {abs(off)}"
    words = f"{count.stitches} stitches, {verdict}: {expected} expected.{where} {CAUTION}"
    return Verdict(verdict, off, count.probability, expected, words, count.doubts)


def _where(count: Count) -> str:
    """Sentence that says near which clock positions to look; empty without doubts."""
    hours = dict.fromkeys(clock_position(doubt.at, count.centre) for doubt in count.doubts)
    return f" Look near {' and '.join(hours)}." if hours else ""
