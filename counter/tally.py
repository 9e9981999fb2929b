"""Closed-loop count: a circular hidden semi-Markov model over the rim.

The rim is a loop of places. A count of N is a way to cut the loop into N
stitches; each cut is a gap between two stitches. A stitch of d places has the
prior probability p(d), lognormal round the supposed width, and the places at
its cut and at its middle carry evidence. The sum over all ways to cut the loop
into N stitches, with and without the evidence, gives

    p(evidence | N) = Z(N) / Z0(N)

exactly, so that no number of stitches is favoured by the model itself; the
prior over N comes from the supposed mean width alone. (L. R. Rabiner, "A
tutorial on hidden Markov models and selected applications in speech
recognition", Proc. IEEE 77(2), 1989, section IV-D for explicit durations; the
closed loop is opened at each possible place of its first gap in turn.)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

__all__ = ["Evidence", "Tally", "WidthModel", "tally"]

#: Widest stitch, as a multiple of the supposed width.
WIDEST = 2.2
#: Narrowest stitch, as a multiple of the supposed width.
NARROWEST = 0.45
#: Gaps less probable than this are places in doubt.
CLEAR = 0.75


@dataclass(frozen=True, eq=False)
class Evidence:
    """What is seen at each place of the rim.

    Parameters
    ----------
    middle, gap : ndarray of shape (M,), float
        Log-likelihood ratio, in nats, that the place is the middle of a
        stitch, or the gap between two, against any other place.
    seen : ndarray of shape (M,), float
        Weight of the evidence: 0 where the rim is hidden, 1 in full view.
    """

    middle: np.ndarray
    gap: np.ndarray
    seen: np.ndarray

    def __post_init__(self) -> None:
        shape = self.gap.shape
        if len(shape) != 1 or self.middle.shape != shape or self.seen.shape != shape:
            raise ValueError("middle, gap and seen must be one-dimensional and equally long")
        if not all(np.isfinite(a).all() for a in (self.middle, self.gap, self.seen)):
            raise ValueError("evidence must be finite")


@dataclass(frozen=True)
class WidthModel:
    """How wide stitches are.

    Parameters
    ----------
    centre : float
        Most likely mean width, in places.
    spread : float
        Standard deviation of the logarithm of the mean width.
    jitter : float
        Standard deviation of the logarithm of one stitch's width round it.
    """

    centre: float
    spread: float
    jitter: float


@dataclass(frozen=True, eq=False)
class Tally:
    """How many stitches stand on the loop, and where.

    Parameters
    ----------
    posterior : mapping of int to float
        Probability of each number; adds up to 1.
    stitches : int
        The most probable number.
    gaps : ndarray of shape (stitches,), float
        Place of the gap before each stitch, on the most probable path.
    marks : ndarray of shape (stitches,), float
        Place of the middle of each stitch; may exceed the last place by the
        part of a stitch that lies across the loop's start.
    clear : ndarray of shape (stitches,), float
        Probability that a gap stands within a sixth of a stitch of `gaps`.
    """

    posterior: Mapping[int, float]
    stitches: int
    gaps: np.ndarray
    marks: np.ndarray
    clear: np.ndarray

    @property
    def doubts(self) -> tuple[tuple[float, str], ...]:
        """Places in doubt with the reason, most doubtful first."""
        order = np.argsort(self.clear, kind="stable")
        return tuple(
            (float(self.gaps[i]), "it is not clear where one stitch ends here")
            for i in order[:4]
            if self.clear[i] < CLEAR
        )


def tally(evidence: Evidence, widths: WidthModel, *, n_min: int = 3, n_max: int = 130) -> Tally:
    """Count the stitches on a closed loop.

    Parameters
    ----------
    evidence : Evidence
        What is seen at each place.
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
        If no number of stitches in the range fits on the loop.
    """
    places = len(evidence.gap)
    low = max(2, int(NARROWEST * widths.centre))
    high = min(int(np.ceil(WIDEST * widths.centre)), places - 1)
    width = np.arange(low, high + 1)
    n_min = max(n_min, -(-places // high))
    n_max = min(n_max, places // low)
    if n_max < n_min:
        raise ValueError(f"no number of stitches from {n_min} to {n_max} fits on a loop of {places} places")
    prior = np.exp(-0.5 * (np.log(width / widths.centre) / widths.jitter) ** 2) / width
    prior /= prior.sum()
    numbers = np.arange(n_min, n_max + 1)

    gap, middle = evidence.gap * evidence.seen, evidence.middle * evidence.seen
    none = np.zeros(places)
    seen = _sum_over_loops(_Loop(gap, middle, width, prior), n_max)[numbers]
    unseen = _sum_over_loops(_Loop(none, none, width, prior), n_max)[numbers]
    possible = np.isfinite(unseen)
    score = np.where(
        possible,
        -0.5 * (np.log(places / numbers / widths.centre) / widths.spread) ** 2
        + np.where(possible, seen, 0)
        - np.where(possible, unseen, 0),
        -np.inf,
    )
    chance = np.exp(score - score.max())
    chance /= chance.sum()
    stitches = int(numbers[np.argmax(chance)])
    gaps = _best_loop(_Loop(gap, middle, width, prior), stitches)
    after = np.append(gaps[1:], gaps[0] + places)
    # The phase of the evidence says how clearly a gap stands out from a middle.
    clear = 1 / (1 + np.exp(middle[gaps] - gap[gaps]))
    for array in (gaps, clear):
        array.flags.writeable = False
    return Tally(
        dict(zip(numbers.tolist(), chance.tolist(), strict=True)), stitches, gaps, (gaps + after) / 2, clear
    )


class _Loop:
    """Log weights of one stitch on the loop that ends at a place."""

    def __init__(self, gap: np.ndarray, middle: np.ndarray, width: np.ndarray, prior: np.ndarray) -> None:
        self.places, self.width, self.gap = len(gap), width, gap
        halfway = np.stack([middle, (middle + np.roll(middle, -1)) / 2], axis=1).ravel()
        self._halfway, self._prior = halfway, np.log(prior)

    def stitch(self, end: int) -> np.ndarray:
        """Log weight of the stitch of each width that ends at a place, with the gap there."""
        middles = (2 * end - self.width) % (2 * self.places)
        return self._prior + self._halfway[middles] + self.gap[end % self.places]


def _sum_over_loops(loop: _Loop, most: int) -> np.ndarray:
    """Logarithm of the summed weight of all loops of 0 ... `most` stitches.

    The loop is opened at its first gap, tried at every place that a stitch
    across the loop's start allows.
    """
    width, places = loop.width, loop.places
    widest = width[-1]
    reached = np.zeros((places + widest, widest, most + 1))
    offset = np.zeros(places + widest)
    total = np.full(most + 1, -np.inf)
    for end in range(places + widest):
        start = end - width
        valid = start >= 0
        fresh = np.zeros((widest, most + 1))
        if valid.any():
            weights = loop.stitch(end)[valid] + offset[start[valid]]
            top = weights.max()
            fresh[:, 1:] = np.tensordot(np.exp(weights - top), reached[start[valid]], 1)[:, :-1]
            offset[end] = top
        if end >= places:  # the stitch across the start must have begun before it
            across = valid & (start < places)
            first = end - places
            sums = np.tensordot(np.exp(weights[across[valid]] - top), reached[start[across], first], 1)
            with np.errstate(divide="ignore"):
                total[1:] = np.logaddexp(total[1:], np.log(sums[:-1]) + top)
            continue
        peak = fresh.max()
        if peak > 0:
            fresh /= peak
            offset[end] += np.log(peak)
        if end < widest:
            fresh[end, 0] = np.exp(-offset[end])
        reached[end] = fresh
    return total


def _best_loop(loop: _Loop, stitches: int) -> np.ndarray:
    """Places of the gaps of the heaviest loop of a number of stitches, ascending."""
    width, places = loop.width, loop.places
    widest = width[-1]
    score = np.full((places, widest, stitches + 1), -np.inf)
    best, best_score = None, -np.inf
    back = np.zeros((places, widest, stitches + 1), np.int16)
    for end in range(places + widest):
        start = end - width
        valid = (start >= 0) & (start < places)
        if end >= places:
            first = end - places
            options = score[start[valid], first, stitches - 1] + loop.stitch(end)[valid]
            if options.max() > best_score:
                best, best_score = (start[valid][np.argmax(options)], first), options.max()
            continue
        if valid.any():
            options = score[start[valid]] + loop.stitch(end)[valid][:, None, None]
            choice = options.argmax(axis=0)
            score[end, :, 1:] = np.take_along_axis(options, choice[None], 0)[0, :, :-1]
            back[end, :, 1:] = start[valid][choice][:, :-1]
        if end < widest:
            score[end, end, 0] = 0.0
    place, first = best
    gaps = [place]
    for left in range(stitches - 1, 0, -1):
        place = back[place, first, left]
        gaps.append(place)
    return np.array(gaps[::-1])
