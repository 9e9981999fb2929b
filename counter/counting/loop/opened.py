"""The loop with its evidence, opened at a clear gap so that it can be swept from stitch to stitch."""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy import ndimage

from counter.counting.loop.chains import StitchMatrices, sum_over_chains
from counter.counting.loop.evidence import CERTAIN_NATS, RULED_OUT
from counter.counting.loop.widths import WidthGrid, middle_offsets

__all__ = ["OpenedLoop", "balanced_loop", "opening_place"]

#: Exponents stay well inside the range of floating-point numbers.
EXPONENT_RANGE_NATS = 300.0


def opening_place(gap: np.ndarray, width: float) -> int:
    """Place half a stitch before the gap that stands out most from its surroundings.

    The better the first gap behind the opening is known, the fewer first gaps need
    to be followed; any place gives the same sums.
    """
    size = max(3, 2 * int(width / 2) + 1)
    weight = np.exp(np.maximum(gap - gap.max(), -50))
    alone = weight / ndimage.correlate1d(weight, np.ones(min(size, len(gap) // 2 * 2 - 1)), mode="wrap")
    return (int(np.argmax(alone)) - int(width / 2)) % len(gap)


class OpenedLoop:
    """The loop, opened at a clear gap, with its evidence.

    Rows 0 ... M + W, W the widest width: the loop begins at its first gap, in a
    row below W, and ends when it comes back to that gap M rows further on. All
    weights are in the unit of the row's sum over open chains, so that none
    leaves the range of floating-point numbers.
    """

    def __init__(self, grid: WidthGrid, middle: np.ndarray, gap: np.ndarray) -> None:
        self.grid, self.places = grid, grid.places
        places, scales = grid.places, len(grid.scales)
        wide = grid.wide
        last, narrow = max(wide), min(grid.narrow)
        rows = places + min(last, places)
        self._height = np.exp(middle - middle.max())
        width = last - np.arange(last - narrow + 1)
        log_middle = np.empty((len(width), places))
        with np.errstate(divide="ignore"):
            for at, w in enumerate(width):
                log_middle[at] = np.log(self._middle_sum(int(w))) + middle.max()
        begin = np.arange(rows)[:, None] - width
        told = log_middle[np.arange(len(width)), begin % places] + gap[np.arange(rows) % places, None]
        told[(begin < 0) | (begin >= places)] = -np.inf
        log_share = np.full((scales, len(width)), -np.inf)
        for k, share in enumerate(grid.share):
            log_share[k, last - wide[k] : last - wide[k] + len(share)] = np.log(share[::-1])
        log_weights = told[:, None, :] + log_share
        log_unit = log_weights.max(axis=(1, 2))
        log_unit[np.isneginf(log_unit)] = 0

        source = np.zeros((rows, scales))
        source[: min(last, places)] = 1
        share, _, level = sum_over_chains(
            np.exp(log_weights - log_unit[:, None, None]), log_unit, last, grid.drift, source
        )
        first = np.arange(min(last, places))
        with np.errstate(invalid="ignore"):
            turn = np.nan_to_num(level[first + places] - level[first], nan=-np.inf, neginf=-np.inf)
        fullest = int(np.argmax(turn))
        if np.isneginf(turn[fullest]):
            raise ValueError(RULED_OUT)
        self.log_unit = float(turn[fullest])
        floor = np.where(np.isneginf(level), np.inf, level)
        change = np.where(begin >= 0, level[np.maximum(begin, 0)], -np.inf) - floor[:, None]
        self.log_weights = log_weights + change[:, None, :]
        self.chain = StitchMatrices(np.exp(self.log_weights), last, grid)
        self.width = width

        # Unit of the loops that begin at each row, against that of the fullest, as
        # a factor at the beginning and one at the end, so that neither gets too large.
        log_begin = np.clip(level[fullest] - level[first], -EXPONENT_RANGE_NATS, EXPONENT_RANGE_NATS)
        self.begin_unit = np.exp(log_begin)
        self.end_unit = np.exp(np.minimum(turn - turn[fullest] - log_begin, EXPONENT_RANGE_NATS))
        ends = np.zeros((rows, scales))
        ends[places:] = self.end_unit[:, None]
        _, ahead, high = sum_over_chains(
            self.chain.reverse, np.zeros(rows), last, grid.drift, (ends @ grid.drift)[::-1]
        )
        high[np.isneginf(high)] = 0
        self.ahead = (ahead * np.exp(high)[:, None])[::-1].T + ends.T
        self.first, self.scale = (a.ravel() for a in np.meshgrid(first, np.arange(scales), indexing="ij"))
        passing = (share * self.ahead.T).sum(axis=1)
        #: Mean number of stitches of all chains that go once round, whatever their number.
        self.usual = float(passing[:places].sum() / max(passing[places:].sum(), np.finfo(float).tiny))
        self.into = (share[places:] * self.end_unit[:, None]).ravel()
        self.out = (self.ahead.T[first] * self.begin_unit[:, None]).ravel()

    def _middle_sum(self, width: int) -> np.ndarray:
        """Summed evidence of the middle of a stitch that begins at each place, in the unit of the largest."""
        offset, chance = middle_offsets(width)
        around = np.resize(self._height, self.places + int(offset[-1]))
        return np.correlate(around[offset[0] :], chance, "valid")[: self.places]

    def middle_share(self, width: int) -> tuple[np.ndarray, np.ndarray]:
        """Where the middle of a stitch lies, given the evidence.

        Returns
        -------
        offset : ndarray of shape (m,), int
            Places behind the stitch's first gap.
        share : ndarray of shape (m, M), float
            Probability of each, for a stitch that begins at each place.
        """
        offset, chance = middle_offsets(width)
        around = np.resize(self._height, self.places + int(offset[-1]))
        share = chance[:, None] * sliding_window_view(around, self.places)[offset]
        whole = share.sum(axis=0)
        return offset, share / np.where(whole > 0, whole, 1)


def balanced_loop(grid: WidthGrid, middle: np.ndarray, gap: np.ndarray) -> tuple[OpenedLoop, float]:
    """The loop with a bonus for each stitch that makes the numbers considered usual.

    What is left out for speed, and the range of floating-point numbers, go by
    what is usual. Only evidence that points far out of the range of numbers
    considered needs a bonus; taken off again in N of them, it changes nothing.

    Returns
    -------
    loop : OpenedLoop
    bonus : float
        In nats.
    """
    fewest, most = grid.numbers[0] - 1, grid.numbers[-1] + 1
    low, high, bonus, step = -np.inf, np.inf, 0.0, 0.5
    while True:
        loop = OpenedLoop(grid, middle, gap + bonus)
        if fewest <= loop.usual <= most or high - low < 1e-2 or abs(bonus) > 4 * CERTAIN_NATS:
            return loop, bonus
        low, high = (bonus, high) if loop.usual < fewest else (low, bonus)
        if np.isfinite(low) and np.isfinite(high):
            bonus = (low + high) / 2
        else:
            bonus += step if loop.usual < fewest else -step
            step *= 2
