"""A count held against what a person knows of the round: a total, or a written plan.

The command line, the page and batches all ask here, so that they give the same answer.
"""

from __future__ import annotations

from dataclasses import dataclass

from counter.basics import words
from counter.basics.answer import Count
from counter.comparing.advice import MOST_TAKEN_UP_STITCHES, unfinished_explains
from counter.comparing.remarks import Remark
from counter.comparing.verdict import Verdict, compare
from counter.comparing.which import Fit, fitting_rounds, not_told_apart
from counter.plan import Plan, PlanRound

__all__ = ["Check", "check", "total_of"]

#: A round of the plan, or the total of several, is taken for the photo's without being
#: told where it is at least this probable.
LEAST_TAKEN_PROBABILITY = 0.5


@dataclass(frozen=True)
class Check:
    """What a count means for a person's plan.

    Parameters
    ----------
    verdict : Verdict or None
        None where there is nothing to compare with.
    compared : PlanRound or None
        The round of the plan that was compared with; None where several that hold the same can't be told apart.
    fits : tuple of Fit
        Rounds of the plan that it may be, best first; empty where the person
        said which round it is and it agrees, or gave no plan.
    remarks : tuple of Remark
        About which round it is; empty where there is nothing to say.
    """

    verdict: Verdict | None
    compared: PlanRound | None = None
    fits: tuple[Fit, ...] = ()
    remarks: tuple[Remark, ...] = ()


def check(
    count: Count,
    *,
    expected: int | None = None,
    plan: Plan | None = None,
    round_number: int | None = None,
    twin: bool = False,
    since: int = 0,
    uk: bool = False,
    finished: bool | None = None,
    twin_holds: int | None = None,
    chain_counts: bool | None = None,
) -> Check:
    """Hold a count against a total or a plan.

    Parameters
    ----------
    count : Count
    expected : int, optional
        What the round should hold, 1 to 1000.
    plan : Plan, optional
        The written rounds; not together with `expected`.
    round_number : int, optional
        Which round of the plan it is; without it the rounds that fit are looked for.
    twin : bool, optional
        The piece must match another one.
    since : int, optional
        Rounds that were worked after this one, 0 or more.
    uk : bool, optional
        Write rounds out in UK terms.
    finished : bool, optional
        Whether a person says that the round is finished; None where nobody said.
    twin_holds : int, optional
        Stitches of the same round of the piece that it must match, where they are known.
    chain_counts : bool, optional
        Whether a total counts the chain that the round begins with as a stitch; a plan says that itself.

    Returns
    -------
    Check

    Raises
    ------
    ValueError
        With one line that says what to do: both a total and a plan, a round
        that the plan doesn't have, or one whose total can't be known.

    Examples
    --------
    >>> import counter
    >>> plan = counter.read_plan("start 6, add 6")
    >>> answer = counter.count("sample_images/blue-disc.jpg")
    >>> held = counter.check(answer, plan=plan)
    >>> held.compared.round, held.verdict.verdict
    (4, 'agrees')
    """
    if plan is None:
        if round_number is not None:
            raise ValueError("a round number needs a plan")
        if expected is None:
            return Check(None)
        twin = twin or twin_holds is not None
        return Check(
            compare(
                count,
                expected,
                twin=twin,
                since=since,
                uk=uk,
                finished=finished,
                twin_holds=twin_holds,
                chain=chain_counts,
            )
        )
    if expected is not None:
        raise ValueError(words.TOTAL_OR_PLAN)
    twin = twin or plan.make > 1 or twin_holds is not None
    if round_number is None:
        fits = fitting_rounds(plan, count)
        told: tuple[Remark, ...] = (Remark.of("which round", fits=fits),)
        if (
            not fits
            or sum(fit.probability for fit in fits if fit.stitches == fits[0].stitches) < LEAST_TAKEN_PROBABILITY
        ):
            return Check(None, fits=fits, remarks=told)
        if fits[0].probability < LEAST_TAKEN_PROBABILITY or len(not_told_apart(fits)) > 1:
            # Which round it is can't be told, but all that it may be hold the same.
            verdict = compare(
                count, fits[0].stitches, twin=twin, since=since, uk=uk, finished=finished, named=False,
                twin_holds=twin_holds,
            )  # fmt: skip
            return Check(verdict, None, fits, told)
        written = total_of(plan, fits[0].round)
    else:
        written = total_of(plan, round_number)
        fits, told = _better(plan, count, written)
    elsewhere, underway = _elsewhere(plan, count, written)
    if round_number is None and not underway:
        elsewhere = None  # the rounds that it may be as well are named already
    if elsewhere is not None and elsewhere.stitches == count.stitches:
        told = ()  # the advice names the round: two names would pull against each other
    last = plan.round(written.round + since)
    before = plan.round(written.round - 1)
    verdict = compare(
        count,
        written.total,
        written=written,
        following=plan.round(written.round + since + 1),
        standing=None if last is None else last.stitches,
        twin=twin,
        since=since,
        uk=uk,
        below=before.stitches if before else written.used or None,
        finished=finished,
        named=round_number is not None,
        elsewhere=elsewhere,
        underway=underway,
        outside=_outside(plan, count),
        twin_holds=twin_holds,
        chain=written.chain,
    )
    return Check(verdict, written, fits, told)


def _elsewhere(plan: Plan, count: Count, said: PlanRound) -> tuple[PlanRound | None, bool]:
    """The nearest other round of the plan that holds what was counted, or nearly, or would on the way to its end.

    Also whether it would on the way to its end.
    """
    if not count.sure or count.stitches == said.stitches:
        return None, False

    def near(own: PlanRound) -> tuple[int, int]:
        return abs(own.round - said.round), own.round

    def underway(own: PlanRound) -> bool:
        before = plan.round(own.round - 1)
        return before is not None and unfinished_explains(count.stitches, own.total, before.stitches, own)

    others = [own for own in plan.rounds if own.round != said.round and own.stitches is not None]
    exact = [own for own in others if own.stitches == count.stitches]
    if exact:
        return min(exact, key=near), False
    # Makers miscount rounds by one; a round further away is asked for only where little else explains the difference.
    off = abs(count.stitches - said.total)
    within = min((own for own in others if underway(own)), key=near, default=None)
    if within is not None and (off > MOST_TAKEN_UP_STITCHES or abs(within.round - said.round) <= 1):
        return within, True
    close = [own for own in others if own.total != said.total and abs(own.total - count.stitches) <= off]
    return min(close, key=lambda own: (abs(own.total - count.stitches), *near(own)), default=None), False


def _outside(plan: Plan, count: Count) -> bool:
    """Whether no round of the plan comes near what was counted, so that it may be another plan, piece or size."""
    totals = [own.stitches for own in plan.rounds if own.stitches is not None]
    low, high = min(totals) - MOST_TAKEN_UP_STITCHES, max(totals) + MOST_TAKEN_UP_STITCHES
    return not low <= count.stitches <= high


def _better(plan: Plan, count: Count, said: PlanRound) -> tuple[tuple[Fit, ...], tuple[Remark, ...]]:
    """Rounds that the photo fits better than the one that the person named, and what to say about it."""
    if count.posterior.get(said.total, 0.0) >= LEAST_TAKEN_PROBABILITY:
        return (), ()
    fits = fitting_rounds(plan, count)
    if not fits or fits[0].round == said.round or fits[0].off or fits[0].probability < LEAST_TAKEN_PROBABILITY:
        return (), ()
    best = fits[0]
    return fits, (Remark.of("perhaps round", n=best.round, stitches=best.stitches),)


def total_of(plan: Plan, round_number: int) -> PlanRound:
    """A round of a plan whose total is known.

    Parameters
    ----------
    plan : Plan
    round_number : int

    Returns
    -------
    PlanRound

    Raises
    ------
    ValueError
        If the plan doesn't have the round, or its total can't be known.
    """
    written = plan.round(round_number)
    if written is None:
        if not plan.rounds:
            raise ValueError(words.PLAN_WITHOUT_ROUNDS)
        first, last = plan.rounds[0].round, plan.rounds[-1].round
        raise ValueError(words.PLAN_WITHOUT_ROUND.format(n=round_number, first=first, last=last))
    if written.stitches is None:
        raise ValueError(words.PLAN_WITHOUT_TOTAL.format(n=round_number))
    return written
