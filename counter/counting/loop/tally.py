"""Closed-loop count: a circular hidden semi-Markov model over the rim.

The rim is a loop of M places. A count of N is a way to cut the loop into N
stitches; each cut is a gap between two stitches. Three things are hidden:

* the gaps, whole places g(1) ... g(N) in order round the loop;
* the local scale of each stitch, a state of a grid of widths equally spaced in
  the logarithm, which drifts from stitch to stitch (a random walk, reflected at
  the ends of the grid) and must come back to itself where the loop closes;
* the place of the middle of each stitch, which lies near the half of its width.

A stitch of scale w is d places wide with the probability p(d | w), lognormal
round w, cut off at :data:`WIDTH_CUT_SDS` deviations and normalised over whole places. The
evidence at a gap and at a middle are likelihood ratios against any other place,
so that their product is p(evidence | loop) but for a constant. With Z(N) the
sum of the weights of all loops of N stitches and Z0(N) the same sum without
evidence,

    p(N | evidence)  ~  p(N) Z(N) / Z0(N)

exactly: no number of stitches is favoured for having more loops, or more
places that carry evidence. On a closed loop the mean width *is* M / N, so the
prior p(N) comes from the supposed mean width alone:
p(N) ~ exp(-(log(M / N / centre) / spread)^2 / 2).

Sources: L. R. Rabiner, "A tutorial on hidden Markov models and selected
applications in speech recognition", Proc. IEEE 77(2), 1989, sections III and
IV-D (forward and backward sums, best path, explicit durations). A loop is
opened at a clear gap: the sum over loops is the trace of one
turn's transfer matrix, a column for each possible first gap and scale.

How it is made fast, and what that costs: sweeps go from stitch to stitch, each
scale one banded matrix product over a window of places. First gaps and edges
of windows that can hold next to nothing are left out; what they could have held
is bounded from above by sums over open chains (which count every loop, and
more), and if the bound on the posterior exceeds :data:`~counter.counting.loop.limits.LOST_SHARE` the sweep is done
again with less left out. :attr:`Tally.truncated` says what the bound came to.
On a long rim with hardly any evidence nothing can be left out; then places are
first taken together in pairs, which keeps the likelihood but rounds the widths.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from scipy import special

from counter.counting.loop import limits
from counter.counting.loop.best import best_loop
from counter.counting.loop.chains import log_loops_without_evidence
from counter.counting.loop.doubts import NEAR_WIDTHS, PlaceInDoubt, mass_within, places_in_doubt
from counter.counting.loop.evidence import RULED_OUT, Evidence, WidthModel, coarsened, coarsening, weighted
from counter.counting.loop.opened import OpenedLoop, balanced_loop, opening_place
from counter.counting.loop.sums import LoopSums, place_chances, sum_over_loops
from counter.counting.loop.widths import width_grid

__all__ = ["Odds", "Tally", "tally"]


@dataclass(frozen=True, eq=False)
class Odds:
    """How many stitches stand on the loop.

    Parameters
    ----------
    posterior : mapping of int to float
        Probability of each number considered, ascending; adds up to 1.
    log_evidence : float
        Logarithm of the probability of the evidence under the model, against that
        of a loop without stitches; 0 where nothing is seen.
    truncated : float
        Bound on the share of the posterior that was left out for speed.
    """

    posterior: Mapping[int, float]
    log_evidence: float
    truncated: float

    @property
    def stitches(self) -> int:
        """The most probable number of stitches (the lowest of equals)."""
        return max(self.posterior, key=lambda n: (self.posterior[n], -n))

    @property
    def probability(self) -> float:
        """Probability of :attr:`stitches`, 0 to 1."""
        return self.posterior[self.stitches]


@dataclass(frozen=True, eq=False)
class Tally(Odds):
    """How many stitches stand on the loop, and where.

    Parameters
    ----------
    posterior, log_evidence, truncated
        As in :class:`Odds`.
    gaps : ndarray of shape (stitches,), float
        Place of the gap before each stitch on the best loop of
        :attr:`stitches` stitches, ascending, [0, M).
    marks : ndarray of shape (stitches,), float
        Place of the middle of each stitch of that loop, [0, M); the last may
        lie behind the loop's start, all others ascend.
    gap_clear, mark_clear : ndarray of shape (stitches,), float
        Probability, over all loops of all numbers, that a gap (the middle of a
        stitch) lies within :data:`NEAR_WIDTHS` of the stitch's width of each gap
        (mark), 0 to 1.
    gap_chance, middle_chance : ndarray of shape (M,), float
        Probability, over all loops of all numbers, that a gap (the middle of a
        stitch) lies at each place, 0 to 1.
    doubts : tuple of PlaceInDoubt
        Where a look may change the count, most doubtful first.
    """

    gaps: np.ndarray
    marks: np.ndarray
    gap_clear: np.ndarray
    mark_clear: np.ndarray
    gap_chance: np.ndarray
    middle_chance: np.ndarray
    doubts: tuple[PlaceInDoubt, ...]

    def __post_init__(self) -> None:
        for array in (
            self.gaps,
            self.marks,
            self.gap_clear,
            self.mark_clear,
            self.gap_chance,
            self.middle_chance,
        ):
            array.flags.writeable = False


def tally(evidence: Evidence, widths: WidthModel, *, n_min: int = 5, n_max: int = 130) -> Tally:
    """Count the stitches on a closed loop.

    Parameters
    ----------
    evidence : Evidence
        What is seen at each place; 8 to 16 places a stitch are enough.
    widths : WidthModel
        How wide stitches are.
    n_min, n_max : int, optional
        Fewest and most stitches to consider.

    Returns
    -------
    Tally

    Raises
    ------
    ValueError
        If no number of stitches in the range fits on the loop, or the evidence
        rules out every loop.
    """
    solution = _solved(evidence, widths, n_min, n_max)
    loop, sums, opening, coarse = solution.loop, solution.sums, solution.opening, solution.coarse
    places, size = len(evidence.gap), loop.places
    gaps, marks = (
        ((at + opening + 0.5) * (places / size) - 0.5) % places for at in best_loop(loop, sums, solution.odds.stitches)
    )
    first = int(np.argmin(gaps))
    gaps, marks = np.roll(gaps, -first), np.roll(marks, -first)
    gap_chance, middle_chance = (np.roll(chance, opening) for chance in place_chances(loop, sums))
    if coarse is not None:
        gap_chance, middle_chance = gap_chance @ coarse, middle_chance @ coarse
    wide = np.diff(gaps, append=gaps[0] + places)
    # Round a gap the stitches on both sides say what is near.
    gap_clear = mass_within(gap_chance, gaps, NEAR_WIDTHS * np.minimum(wide, np.roll(wide, 1)))
    mark_clear = mass_within(middle_chance, marks, NEAR_WIDTHS * wide)
    return Tally(
        posterior=solution.odds.posterior,
        log_evidence=solution.odds.log_evidence,
        truncated=solution.odds.truncated,
        gaps=gaps,
        marks=marks,
        gap_clear=np.minimum(gap_clear, 1),
        mark_clear=np.minimum(mark_clear, 1),
        gap_chance=gap_chance,
        middle_chance=middle_chance,
        doubts=places_in_doubt(gaps, wide, gap_clear, gap_chance, evidence.seen),
    )


class _Solution(NamedTuple):
    """The odds, and what they were reckoned from.

    Parameters
    ----------
    odds : Odds
    loop : OpenedLoop
        Opened at a clear gap.
    sums : LoopSums
    opening : int
        Place of the loop's row 0.
    coarse : ndarray of shape (loop.places, M), float, or None
        Where places were taken together: which place belongs to which.
    """

    odds: Odds
    loop: OpenedLoop
    sums: LoopSums
    opening: int
    coarse: np.ndarray | None


def _solved(evidence: Evidence, widths: WidthModel, n_min: int, n_max: int) -> _Solution:
    """Reckon how probable each number is, and the sums that say where stitches stand."""
    whole = size = len(evidence.gap)
    middle, gap = weighted(evidence.middle, evidence.seen), weighted(evidence.gap, evidence.seen)
    coarse = None
    while True:
        scaled = widths if size == whole else replace(widths, centre=widths.centre * size / whole)
        grid = width_grid(size, scaled, n_min, n_max)
        numbers = grid.numbers
        looked = [ratio if coarse is None else coarsened(coarse, ratio) for ratio in (middle, gap)]
        if np.isneginf(looked).all(axis=1).any():
            raise ValueError(RULED_OUT)
        opening = opening_place(looked[1], scaled.centre)
        loop, bonus = balanced_loop(grid, *(np.roll(ratio, -opening) for ratio in looked))
        log_prior = -0.5 * (np.log(whole / numbers / widths.centre) / widths.spread) ** 2
        log_prior -= special.logsumexp(log_prior)
        favour = log_prior - log_loops_without_evidence(grid) - bonus * numbers
        most_favour = favour.max()
        favour = np.exp(favour - most_favour)
        coarser = -(-size // 2)
        may_thin = widths.centre * coarser / whole >= limits.THINNEST_PLACES
        sums = sum_over_loops(loop, favour, limits.MOST_PRODUCTS if may_thin else np.inf)
        if sums is not None:
            break
        size, coarse = coarser, coarsening(whole, coarser)

    chance = favour * sums.by_start.sum(axis=0)
    log_evidence = float(np.log(chance.sum()) + most_favour + loop.log_unit)
    chance /= chance.sum()
    posterior = MappingProxyType(dict(zip(numbers.tolist(), chance.tolist(), strict=True)))
    return _Solution(Odds(posterior, log_evidence, sums.lost), loop, sums, opening, coarse)
