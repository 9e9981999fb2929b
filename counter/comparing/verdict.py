"""A count against the total that the round should hold."""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Integral

from counter.basics import words
from counter.basics.answer import Count, Doubt, clock_position
from counter.comparing.advice import Advice, advise
from counter.comparing.slips import Slips, find_slips
from counter.plan import PlanRound, in_terms

__all__ = ["MOST_EXPECTED", "Verdict", "check_expected", "compare"]

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
    slips : Slips or None
        Where the round left its plan; None without a written round, and where
        it holds what it should.
    advice : Advice or None
        What to do next; None where the round isn't finished.
    """

    verdict: str
    off_by: int | None
    probability: float
    expected: int
    words: str
    look: tuple[Doubt, ...]
    slips: Slips | None = None
    advice: Advice | None = None


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
    if isinstance(expected, bool) or not isinstance(expected, Integral) or not 1 <= int(expected) <= MOST_EXPECTED:
        raise ValueError(f"the expected total must be a whole number from 1 to {MOST_EXPECTED}, not {expected!r}")
    return int(expected)


def compare(
    count: Count,
    expected: int,
    *,
    written: PlanRound | None = None,
    following: PlanRound | None = None,
    standing: int | None = None,
    twin: bool = False,
    since: int = 0,
    uk: bool = False,
    below: int | None = None,
    finished: bool | None = None,
    named: bool = True,
    elsewhere: PlanRound | None = None,
    underway: bool = False,
    outside: bool = False,
    twin_holds: int | None = None,
    chain: bool | None = None,
) -> Verdict:
    """Compare a count with the expected total.

    Parameters
    ----------
    count : Count
        What was counted; it is not changed by the expectation.
    expected : int
        Stitches that the finished round should hold, 1 to 1000.
    written : PlanRound, optional
        The round as it is written, to say where it went wrong.
    following : PlanRound, optional
        The round to be worked next, to say how to land on its total.
    standing : int, optional
        Stitches that should be on the hook now, after the rounds worked since;
        without rounds since they are those of this one.
    twin : bool, optional
        The piece must match another one.
    since : int, optional
        Rounds that were worked after the one that went wrong, 0 or more.
    uk : bool, optional
        Write rounds out in UK terms.
    below, finished, named, elsewhere, underway, outside, twin_holds, chain : optional
        As for :func:`counter.comparing.advice.advise`.

    Returns
    -------
    Verdict

    Raises
    ------
    ValueError
        If `expected` is not a whole number from 1 to 1000, the written round
        makes another total, or `since` is negative.

    Examples
    --------
    >>> import counter
    >>> answer = counter.count("sample_images/blue-disc.jpg")
    >>> verdict = counter.compare(answer, 25)
    >>> verdict.verdict, verdict.off_by
    ('short by 1', -1)
    """
    expected = check_expected(expected)
    if written is not None and written.stitches != expected:
        raise ValueError(f"the written round makes {written.stitches} stitches, not {expected}")
    if since < 0:
        raise ValueError(f"the rounds worked since must not be negative, not {since}")
    agreeing = float(count.posterior.get(expected, 0.0))
    if count.in_progress:
        done, left = count.in_progress.done, count.in_progress.left
        told = words.NOT_FINISHED.format(stitches=words.stitches(done), left=left, expected=expected)
        return Verdict("can't say", None, agreeing, expected, told, count.doubts)
    off = count.stitches - expected
    if off == 0 and count.sure:
        on = words.GO_ON_NEXT
        if following is not None:
            on = words.GO_ON_WRITTEN.format(text=in_terms(following.text, False, uk))
        if finished is None and written is not None and written.kind == "even":
            on = words.GO_ON_FINISHED.format(do=words.carried_on(on))  # begun or finished, it holds the same
        told = _with_chain(words.AS_EXPECTED.format(stitches=words.stitches(expected)), expected, chain)
        return Verdict("agrees", 0, agreeing, expected, told, count.doubts, None, Advice("go on", (on,)))
    slips = find_slips(count, written) if written else None
    if not count.sure:
        # That the total is not among the likely ones is said, but not made a verdict:
        # a count that is not sure may be wrong about all of them.
        told = words.UNSURE_OF if expected in count.likely else words.UNSURE_NOT_AMONG
        told = told.format(numbers=words.either(count.likely), expected=expected)
        return Verdict(
            "can't say",
            None,
            agreeing,
            expected,
            _with_caution(told, count),
            count.doubts,
            slips,
            Advice("look again", (words.SETTLE,)),
        )
    if not since:
        standing = expected
    advice = advise(
        off,
        count.stitches,
        expected,
        written=written,
        following=following,
        standing=None if standing is None else standing + off,
        slips=slips,
        start_seen=count.start_seen,
        twin=twin,
        since=since,
        uk=uk,
        below=below,
        finished=finished,
        named=named,
        elsewhere=elsewhere,
        underway=underway,
        outside=outside,
        twin_holds=twin_holds,
        chain=chain,
    )
    verdict = f"{'short' if off < 0 else 'over'} by {abs(off)}"
    told = words.SHORT_OF if off < 0 else words.OVER_IT
    told = told.format(stitches=words.stitches(count.stitches), n=abs(off), expected=expected)
    told = _with_caution(_with_chain(told, expected, chain), count)
    return Verdict(verdict, off, float(count.probability), expected, told, count.doubts, slips, advice)


def _with_chain(told: str, expected: int, chain: bool | None) -> str:
    """Add which way of counting is meant, where the round begins with a chain."""
    if chain is None:
        return told
    return words.together(told, (words.CHAIN_WITHIN if chain else words.CHAIN_BESIDE).format(expected=expected))


def _with_caution(told: str, count: Count) -> str:
    """Add near which clock positions to look, and to look before anything is ripped back."""
    hours = list(dict.fromkeys(clock_position(doubt.at, count.centre) for doubt in count.doubts))
    if not hours:
        return words.together(told, words.CAUTION)
    return words.together(told, words.LOOK_NEAR.format(where=words.all_of(hours)), words.CAUTION_PLACES)
