"""Which round of a plan a photo shows.

Two things speak for a round: the number of stitches on the rim, and the
number of rounds that were counted between rim and centre. The second is
less reliable, above all where the piece has a wall that the camera looks
along; how far off it usually is was measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from counter.basics.answer import Count
from counter.plan import Plan

__all__ = ["LEAST_NAMED_PROBABILITY", "Fit", "counted_chance", "fitting_rounds", "not_told_apart"]

#: Counted rounds less true ones -> share, for pieces whose every round increases: 401 rendered
#: photos of development and training, 114 of them of rounds in progress, which the count
#: takes for complete ones (282 right, 62 and 35 one too many and too few).
ROUNDS_OFF_SHARES = {-3: 0.01, -2: 0.03, -1: 0.09, 0: 0.70, 1: 0.15, 2: 0.015}
#: Every round without an increase adds to the wall, of which a camera above sees less than
#: its height: so many rounds are lost for each, with such a spread (113 of the same photos).
ROUNDS_LOST_PER_WALL_ROUND, ROUNDS_LOST_SD = 0.85, 1.3
#: Share of the chance that any number of rounds up to this many off keeps.
ANY_OFF_SHARE, MOST_OFF_ROUNDS = 0.02, 12
#: Total of the finished round less that of the plan -> share: most rounds are as written, and
#: the slips of the rest are an increase left out or made twice, rarely more (supposed).
STITCHES_OFF_SHARES = {-3: 0.005, -2: 0.015, -1: 0.05, 0: 0.86, 1: 0.05, 2: 0.015, 3: 0.005}
#: Chance that the photo shows no round of the plan, and the range of totals that it may then have.
NO_ROUND_PROBABILITY, TOTALS_OF_ANY_ROUND = 0.02, 150
#: Least probability of a round that is named.
LEAST_NAMED_PROBABILITY = 0.02
#: Rounds of one total are told apart where the first is this many times as probable as the next.
TOLD_APART_RATIO = 3.0


@dataclass(frozen=True)
class Fit:
    """A round of a plan that a photo may show.

    Parameters
    ----------
    round : int
        Number of the round.
    stitches : int
        Its total by the plan.
    probability : float
        That it is this one, 0 to 1; what all fits leave to 1 is the chance
        that it is none of the plan, or one that is hardly probable.
    off : int
        Most probable number of stitches less `stitches`.
    rounds_off : int or None
        Counted rounds less those that were complete in this round; None where none were counted.
    """

    round: int
    stitches: int
    probability: float
    off: int
    rounds_off: int | None


def counted_chance(counted: int, complete: int, even: int = 0) -> float:
    """How likely so many rounds are counted where so many are complete.

    Parameters
    ----------
    counted, complete : int
        Rounds, 0 or more.
    even : int, optional
        How many of the complete ones, after the first, hold no more stitches than the one below.

    Returns
    -------
    float
        0 to 1.
    """
    off = counted - complete
    if even == 0:
        near = ROUNDS_OFF_SHARES.get(off, 0.0)
    else:
        numbers = np.arange(-complete, MOST_OFF_ROUNDS + 1)
        shares = np.exp(-0.5 * ((numbers + ROUNDS_LOST_PER_WALL_ROUND * even) / ROUNDS_LOST_SD) ** 2)
        near = float(shares[off + complete] / shares.sum()) if -complete <= off <= MOST_OFF_ROUNDS else 0.0
    return (1 - ANY_OFF_SHARE) * near + (
        ANY_OFF_SHARE / (2 * MOST_OFF_ROUNDS + 1) if abs(off) <= MOST_OFF_ROUNDS else 0.0
    )


def fitting_rounds(plan: Plan, count: Count) -> tuple[Fit, ...]:
    """Find the rounds of a plan that a photo may show.

    By Bayes' rule, all rounds of the plan being equally likely beforehand.

    Parameters
    ----------
    plan : Plan
        Rounds whose total is not known are left out.
    count : Count
        It is not changed by the plan.

    Returns
    -------
    tuple of Fit
        Best first, of equally probable ones the lower round; those below
        :data:`LEAST_NAMED_PROBABILITY` are left out, so that there may be none.
    """
    known = [own for own in plan.rounds if own.stitches is not None]
    if not known:
        return ()
    working = count.in_progress
    strange = NO_ROUND_PROBABILITY / TOTALS_OF_ANY_ROUND
    if count.rounds is not None:
        strange /= 2 * MOST_OFF_ROUNDS + 1
    chances: list[float] = []
    totals = {own.round: own.total for own in known}
    even = _even(totals)
    for own in known:
        complete, expected, spread = own.round, {own.total: 1.0}, STITCHES_OFF_SHARES
        if working:
            # The round on the hook: its done stitches and those left of the round below.
            below = totals.get(own.round - 1)
            if below is None or below < working.left:
                chances.append(0.0)
                continue
            complete = own.round - 1
            grown = working.left + (below - working.left) * own.total / below
            # Increases come in a bunch, or have yet to come.
            expected = {round(grown) + aside: share for aside, share in ((-1, 0.25), (0, 0.5), (1, 0.25))}
        chance: float = sum(
            share * slip * count.posterior.get(total + off, 0.0)
            for total, share in expected.items()
            for off, slip in spread.items()
        )
        if count.rounds is not None:
            chance *= counted_chance(count.rounds, complete, even.get(complete, 0))
        chances.append((1 - NO_ROUND_PROBABILITY) / len(known) * chance)
    whole = sum(chances) + strange
    fits = [
        Fit(
            own.round,
            own.total,
            chance / whole,
            count.stitches - own.total,
            None if count.rounds is None else count.rounds - own.round + (1 if working else 0),
        )
        for own, chance in zip(known, chances, strict=True)
    ]
    named = [fit for fit in fits if fit.probability >= LEAST_NAMED_PROBABILITY]
    return tuple(sorted(named, key=lambda fit: (-fit.probability, fit.round)))


def not_told_apart(fits: Sequence[Fit]) -> list[Fit]:
    """The rounds that can't be told apart from the best one: as many stitches, and nearly as probable.

    Parameters
    ----------
    fits : sequence of Fit
        As from :func:`fitting_rounds`, at least one.

    Returns
    -------
    list of Fit
        The best one among them; alone where it can be told.
    """
    best = fits[0]
    return [
        fit for fit in fits if fit.stitches == best.stitches and fit.probability * TOLD_APART_RATIO > best.probability
    ]


def _even(totals: dict[int, int]) -> dict[int, int]:
    """For each round, how many up to it hold no more stitches than the one below."""
    found = {}
    number, below = 0, None
    for own in sorted(totals):
        number += below is not None and totals[own] <= below
        found[own], below = number, totals[own]
    return found
