"""The law of widths on a loop of some places, without evidence.

A stitch of scale w is d places wide with the probability p(d | w), lognormal
round w, cut off and normalised over whole places; the scale drifts from stitch
to stitch on a grid of widths equally spaced in the logarithm.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import linalg

from counter.counting.loop.evidence import LEAST_DRIFT_LOG_WIDTH, WidthModel

__all__ = ["MIDDLE_SD_WIDTHS", "WidthGrid", "middle_offsets", "width_grid"]

#: Numbers whose mean width is further from the supposed one than this many
#: `spread` are not considered (a guess: 3 of 1,000 would be).
MEAN_REACH_SDS = 3.0
#: Local widths on one rim vary from 0.7 to 1.4 of their mean (seen on real
#: photos): how far the grid of scales goes on beyond the mean widths considered.
LOCAL_RANGE_LOG_WIDTH = np.log(1.4)
#: Widths of one stitch are cut off at this many deviations from its scale (a guess).
WIDTH_CUT_SDS = 2.5
#: Distance of neighbouring scales as a multiple of `jitter`; the sum of normal
#: laws that far apart is flat to 0.03%.
SCALE_STEP_JITTERS = 1.5
#: Most scales on the grid, for speed.
MOST_SCALES = 16
#: Narrowest mean width, in places: below it widths can't be told apart.
NARROWEST_MEAN_PLACES = 2.0
#: Deviation of a stitch's middle from the half of its width, as a share of the
#: width: tops sit a little off their posts (common practice; the value is a guess).
MIDDLE_SD_WIDTHS = 0.08


@dataclass(frozen=True, eq=False)
class WidthGrid:
    """The model of widths on a loop of some places, without evidence.

    Parameters
    ----------
    places : int
        M.
    numbers : ndarray of shape (C,), int
        Numbers of stitches considered, ascending by 1.
    scales : ndarray of shape (K,), float
        Grid of local scales, in places.
    narrow : tuple of int
        Narrowest stitch of each scale, in places.
    share : tuple of ndarray
        Probability of each width of each scale, from `narrow` up; adds up to 1.
    drift : ndarray of shape (K, K), float
        Probability of the next stitch's scale, symmetric.
    """

    places: int
    numbers: np.ndarray
    scales: np.ndarray
    narrow: tuple[int, ...]
    share: tuple[np.ndarray, ...]
    drift: np.ndarray

    @property
    def wide(self) -> tuple[int, ...]:
        """Widest stitch of each scale, in places."""
        return tuple(narrow + len(share) - 1 for narrow, share in zip(self.narrow, self.share, strict=True))


# Room for every number of stitches that is counted, with every amount of room at the join: some 10 MB.
@lru_cache(maxsize=1024)
def width_grid(places: int, widths: WidthModel, n_min: int, n_max: int) -> WidthGrid:
    """Lay the grid of widths for a loop and a range of numbers of stitches.

    Parameters
    ----------
    places : int
        M.
    widths : WidthModel
    n_min, n_max : int
        Fewest and most stitches to consider.

    Returns
    -------
    WidthGrid

    Raises
    ------
    ValueError
        If no number of stitches in the range fits on the loop.
    """
    reach = np.exp(MEAN_REACH_SDS * widths.spread)
    fewest = max(n_min, 1, int(np.ceil(places / (widths.centre * reach))))
    most = min(n_max, int(places / NARROWEST_MEAN_PLACES), int(places * reach / widths.centre))
    if most < fewest:
        raise ValueError(
            f"no number of stitches from {n_min} to {n_max} fits on a loop of {places} places "
            f"with stitches {widths.centre:g} places wide: widen the range, or use more places"
        )
    numbers = np.arange(fewest, most + 1)
    low, high = np.log(places / most) - LOCAL_RANGE_LOG_WIDTH, np.log(places / fewest) + LOCAL_RANGE_LOG_WIDTH
    step = max(SCALE_STEP_JITTERS * widths.jitter, (high - low) / (MOST_SCALES - 1))
    count = int(np.ceil((high - low) / step)) + 1
    log_scales = (low + high) / 2 + step * (np.arange(count) - (count - 1) / 2)
    # Scales between two of the grid are taken for the nearer one.
    deviation = np.hypot(widths.jitter, step / np.sqrt(12))
    narrow, share = [], []
    for log_scale in log_scales:
        first = max(2, int(np.floor(np.exp(log_scale - WIDTH_CUT_SDS * deviation))))
        last = min(places, max(first, int(np.ceil(np.exp(log_scale + WIDTH_CUT_SDS * deviation)))))
        width = np.arange(min(first, last), last + 1)
        weight = np.exp(-0.5 * ((np.log(width) - log_scale) / deviation) ** 2) / width
        narrow.append(int(width[0]))
        share.append(weight / weight.sum())
    # A random walk in continuous time, reflected at the ends, moves the variance
    # drift^2 a stitch exactly; its matrix is symmetric, so no scale is favoured.
    walk = np.diag(np.r_[-1.0, np.full(max(count - 2, 0), -2.0), -1.0][:count]) if count > 1 else np.zeros((1, 1))
    walk += (np.diag(np.ones(count - 1), 1) + np.diag(np.ones(count - 1), -1)) if count > 1 else 0
    drift = linalg.expm(0.5 * (max(widths.drift, LEAST_DRIFT_LOG_WIDTH) / step) ** 2 * walk)
    return WidthGrid(places, numbers, np.exp(log_scales), tuple(narrow), tuple(share), drift)


def middle_offsets(width: int) -> tuple[np.ndarray, np.ndarray]:
    """Where the middle of a stitch may lie, in places behind its first gap, and how probable each is."""
    offset = np.arange(1, width)
    chance = np.exp(-0.5 * ((offset - width / 2) / (MIDDLE_SD_WIDTHS * width)) ** 2)
    likely = chance > 1e-3 * chance.max()
    return offset[likely], chance[likely] / chance[likely].sum()
