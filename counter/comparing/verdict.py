"""A count against the total that the round should hold."""

from __future__ import annotations

from dataclasses import dataclass, replace
from numbers import Integral

from counter.basics.answer import Count, Doubt, InProgress, clock_hour
from counter.comparing.advice import Advice, advise
from counter.comparing.remarks import Remark
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
    likely : tuple of int
        The numbers that the count may be, most probable first; one where it is sure.
    look : tuple of Doubt
        Where to look first: the doubts of the count.
    hours : tuple of int
        Near which hours of a clock face these lie, 1 to 12, each once.
    chain : bool or None
        Whether what is expected counts a chain that the round begins with; None where there is none, or nobody said.
    in_progress : InProgress or None
        How far a round is that isn't finished.
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
    likely: tuple[int, ...]
    look: tuple[Doubt, ...] = ()
    hours: tuple[int, ...] = ()
    chain: bool | None = None
    in_progress: InProgress | None = None
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
    hours = tuple(dict.fromkeys(clock_hour(doubt.at, count.centre) for doubt in count.doubts))
    fresh = Verdict("can't say", None, agreeing, expected, count.likely, count.doubts, hours)
    if count.in_progress:
        return replace(fresh, in_progress=count.in_progress)
    off = count.stitches - expected
    if off == 0 and count.sure:
        # An even round holds the same begun and finished.
        asks = finished is None and written is not None and written.kind == "even"
        text = in_terms(following.text, False, uk) if following else ""
        total = following.stitches if following else None
        go_on = Advice("go on", (Remark.of("go on", text=text, total=total, asks=asks),))
        return replace(fresh, verdict="agrees", off_by=0, chain=chain, advice=go_on)
    slips = find_slips(count, written) if written else None
    if not count.sure:
        settle = Remark.of("settle" if count.doubts else "count by eye")
        # A count that is not sure may be wrong about all of its likely numbers: no verdict, whether
        # the total is among them or not.
        return replace(fresh, slips=slips, advice=Advice("look again", (settle,)))
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
    return replace(
        fresh, verdict=verdict, off_by=off, probability=float(count.probability), chain=chain, slips=slips,
        advice=advice,
    )  # fmt: skip
