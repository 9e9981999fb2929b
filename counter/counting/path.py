"""The round as a path from its first stitch to its last.

Unlike the closed loop of :mod:`counter.counting.loop.tally`, a path owes nothing to
the place where the round starts and ends: the last stitch may be narrow and the
first one wide, and between them lies the join, where the working loop, the
fastened end or a slip stitch and chain take room that no stitch fills. For each
place where the first stitch may begin, a forward sum over whole numbers of
stitches gives the weight of all paths that end at each place behind it
(L. R. Rabiner, "A tutorial on hidden Markov models and selected applications in
speech recognition", Proc. IEEE 77(2), 1989, section IV-D, explicit durations).
With Z(N, L) the sum over paths of N stitches and L places, and Z0 the same
without evidence,

    p(N | evidence)  ~  sum over joins of  p(join) p(N | L) Z(N, L) / Z0(N, L)

so that no number is favoured for having more paths.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from counter.counting.loop.evidence import WidthModel
from counter.counting.loop.widths import MIDDLE_SD_WIDTHS

__all__ = ["Join", "PathOdds", "path_odds"]

#: Scales of a stitch's width: how far they go from the mean on either side, and how far
#: they lie apart (of the logarithm; guessed).
SCALE_REACH_LOG, SCALE_STEP_LOG = 0.72, 0.12
#: Narrowest and widest stitch, as factors of the supposed width (guessed).
NARROWEST_WIDTHS, WIDEST_WIDTHS = 0.35, 2.5
#: What is left out of each step, as a share of its largest sum.
LOST_SHARE = 1e-12


class Join(NamedTuple):
    """Where a round may start and end.

    Parameters
    ----------
    first : int
        Place where the first stitch begins.
    room : int
        Places before it that no stitch fills.
    log_weight : float
        How much speaks for it, in nats.
    """

    first: int
    room: int
    log_weight: float


@dataclass(frozen=True, eq=False)
class PathOdds:
    """How many stitches stand on a round, and where it starts.

    Parameters
    ----------
    numbers : ndarray of shape (K,), int
        Numbers of stitches considered, ascending.
    joins : tuple of Join
    chance : ndarray of shape (K, joins), float
        Probability of each number together with each join; adds up to 1.
    """

    numbers: np.ndarray
    joins: tuple[Join, ...]
    chance: np.ndarray

    @property
    def posterior(self) -> dict[int, float]:
        """Probability of each number."""
        return dict(zip(self.numbers.tolist(), self.chance.sum(axis=1).tolist(), strict=True))

    def join_of(self, number: int) -> Join:
        """The most probable join where the round holds so many stitches."""
        return self.joins[int(np.argmax(self.chance[int(np.searchsorted(self.numbers, number))]))]


@lru_cache(maxsize=8)
def widths_of(widths: WidthModel) -> tuple[np.ndarray, np.ndarray, float]:
    """Widths in places, the chance of each at each scale (scales, widths), and that of a step of the scale."""
    scales = np.arange(-SCALE_REACH_LOG, SCALE_REACH_LOG + SCALE_STEP_LOG / 2, SCALE_STEP_LOG)
    wide = np.arange(max(2, int(NARROWEST_WIDTHS * widths.centre)), int(np.ceil(WIDEST_WIDTHS * widths.centre)) + 1)
    away = (np.log(wide / widths.centre)[None] - scales[:, None]) / widths.jitter
    chance = np.exp(-0.5 * away**2)
    # A random walk of this variance on a grid moves so often either way.
    return wide, chance / chance.sum(axis=1, keepdims=True), 0.5 * (widths.drift / SCALE_STEP_LOG) ** 2


def _middle_sums(middle: np.ndarray, wide: np.ndarray) -> np.ndarray:
    """Mean ratio of the middle of a stitch that begins at each place, for each width; shape (widths, places)."""
    places = len(middle)
    ratio = np.exp(np.concatenate([middle, middle, middle])[: places + int(wide[-1]) + 1])
    sums = np.empty((len(wide), places))
    for row, d in enumerate(wide):
        at = np.arange(1, d)
        kernel = np.exp(-0.5 * ((at - d / 2) / max(MIDDLE_SD_WIDTHS * d, 0.5)) ** 2)
        sums[row] = np.convolve(ratio[1 : places + d - 1], (kernel / kernel.sum())[::-1], "valid")[:places]
    return sums


def _log_sums(
    middle_sums: np.ndarray, gap: np.ndarray, firsts: np.ndarray, length: int, most: int, widths: WidthModel
) -> np.ndarray:
    """Log of the sum over all paths; shape (most + 1, firsts, length + 1), minus infinity where there is none.

    The gap at a path's end is left to the join.
    """
    wide, law, step = widths_of(widths)
    places = len(gap)
    column = (firsts[:, None] + np.arange(length + 1)) % places
    gaps = np.exp(gap)[column]
    middles = middle_sums[:, column]
    ending = np.full((most + 1, len(firsts), length + 1), -np.inf)
    scales = len(law)
    state = np.zeros((length + 1, len(firsts), scales))
    state[0] = 1 / scales
    logs, low, high = 0.0, 0, 0
    for number in range(1, most + 1):
        here = state[low : high + 1]
        moved = (1 - 2 * step) * here
        moved[..., 1:] += step * here[..., :-1]
        moved[..., :-1] += step * here[..., 1:]
        moved[..., 0] += step * here[..., 0]
        moved[..., -1] += step * here[..., -1]
        new = np.zeros_like(state)
        for row, d in enumerate(wide):
            last = min(high, length - d)
            if last < low:
                break
            part = moved[: last - low + 1] * middles[row, :, low : last + 1].T[..., None]
            new[low + d : last + d + 1] += part * law[:, row]
        whole = new.sum(axis=2)
        peak = whole.max()
        if peak <= 0:
            break
        with np.errstate(divide="ignore"):
            ending[number] = np.log(whole).T + logs
        state = new * gaps.T[..., None]
        by_place = state.max(axis=(1, 2))
        peak = by_place.max()
        if peak <= 0:
            break
        kept = np.flatnonzero(by_place > LOST_SHARE * peak)
        low, high = int(kept[0]), int(kept[-1])
        state /= peak
        logs += np.log(peak)
    return ending


@lru_cache(maxsize=64)
def _log_without_evidence(length: int, most: int, widths: WidthModel) -> np.ndarray:
    """The same where nothing is seen; shape (most + 1, length + 1)."""
    wide, _, _ = widths_of(widths)
    none = np.zeros(length + 1)
    return _log_sums(np.ones((len(wide), length + 1)), none, np.zeros(1, int), length, most, widths)[:, 0]


def path_odds(
    middle: np.ndarray, gap: np.ndarray, joins: tuple[Join, ...], widths: WidthModel, n_min: int, n_max: int
) -> PathOdds:
    """Say how probable each number of stitches is, and each join.

    Parameters
    ----------
    middle, gap : ndarray of shape (M,), float
        Log-likelihood ratios of places, as in :class:`counter.counting.loop.evidence.Evidence`.
    joins : tuple of Join
        Where the round may start and end, with what speaks for each.
    widths : WidthModel
    n_min, n_max : int
        Fewest and most stitches to consider.

    Returns
    -------
    PathOdds

    Raises
    ------
    ValueError
        If no number fits.
    """
    places = len(gap)
    wide, _, _ = widths_of(widths)
    firsts = np.array(sorted({join.first for join in joins}))
    with_evidence = _log_sums(_middle_sums(middle, wide), gap, firsts, places, n_max, widths)
    without = _log_without_evidence(places, n_max, widths)
    numbers = np.arange(n_min, n_max + 1)
    logs = np.empty((len(numbers), len(joins)))
    for column, join in enumerate(joins):
        length = places - join.room
        prior = -0.5 * (np.log(length / numbers / widths.centre) / widths.spread) ** 2
        row = int(np.searchsorted(firsts, join.first))
        with np.errstate(invalid="ignore"):
            ratio = with_evidence[n_min : n_max + 1, row, length] - without[n_min : n_max + 1, length]
        logs[:, column] = np.where(np.isfinite(ratio), ratio, -np.inf) + prior + join.log_weight
    most = logs.max()
    if not np.isfinite(most):
        raise ValueError("no number of stitches in the range fits on the round")
    chance = np.exp(logs - most)
    return PathOdds(numbers, joins, chance / chance.sum())
