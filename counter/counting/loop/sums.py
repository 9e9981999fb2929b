"""Sums over all loops: how much each number of stitches weighs, and where its stitches stand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import as_strided

from counter.counting.loop import limits
from counter.counting.loop.chains import sum_over_chains
from counter.counting.loop.evidence import RULED_OUT
from counter.counting.loop.opened import OpenedLoop
from counter.counting.loop.sweeps import backward_sweep, forward_sweeps

__all__ = ["LoopSums", "place_chances", "sum_over_loops"]


@dataclass(frozen=True, eq=False)
class LoopSums:
    """Sums over all loops.

    Parameters
    ----------
    starts : ndarray of shape (S,), int
        First gap and scale of each column, as indices into the loop's.
    by_start : ndarray of shape (S, C), float
        Weight of the loops of each start and number.
    stitch : ndarray of shape (widths, rows), float
        Probability of a stitch of each width that ends at each row.
    lost : float
        Bound on the share of the posterior left out.
    """

    starts: np.ndarray
    by_start: np.ndarray
    stitch: np.ndarray
    lost: float


def sum_over_loops(loop: OpenedLoop, favour: np.ndarray, work: float) -> LoopSums | None:
    """Sum over all loops, leaving out as much as :data:`~counter.counting.loop.limits.LOST_SHARE` allows.

    Parameters
    ----------
    favour : ndarray of shape (C,), float
        What the weight of the loops of each number is multiplied by.
    work : float
        Most multiplications; None is returned where it would take more.
    """
    leave = 1.0 if loop.places > limits.EXACT_PLACES else 0.0
    while True:
        starts, lost = _starts_worth_following(loop, leave * limits.START_SHARE)
        edge = leave * limits.EDGE_SHARE * float(loop.into @ loop.out) / float(loop.out.sum())
        pairs = [np.zeros((band.blocks, limits.BLOCK_ROWS, band.columns)) for band in loop.chain.onward_matrices]
        by_start = np.zeros((len(loop.first), len(favour)))
        for columns, sweep in forward_sweeps(loop, starts, edge):
            by_start[columns], lost = sweep.closed, lost + sweep.lost
            if sweep.work * 3 * len(starts) / len(columns) > work:
                return None
            for step, following, _ in backward_sweep(loop, sweep, favour):
                for at, k in enumerate(step.scales):
                    block = step.begin // limits.BLOCK_ROWS
                    windows = step.windows[at]
                    pairs[k][block : block + len(windows)] += np.matmul(
                        following[at].reshape(len(windows), limits.BLOCK_ROWS, -1), windows.swapaxes(1, 2)
                    )
        total = float(favour @ by_start.sum(axis=0))
        if total > 0 and lost * favour.max() <= limits.LOST_SHARE * total:
            stitch = _stitch_weights(loop, pairs) / total
            return LoopSums(starts, by_start[starts], stitch, lost * favour.max() / total)
        if leave == 0:
            raise ValueError(RULED_OUT)
        # An overestimate mostly; what is left out grows in proportion.
        leave = leave * 0.1 * limits.LOST_SHARE * total / lost if leave > 1e-30 and total > 0 else 0.0


def _starts_worth_following(loop: OpenedLoop, share: float) -> tuple[np.ndarray, float]:
    """First gaps worth following, and a bound on the weight of the loops of all others.

    Were a turn to forget how it began, the loops of start s would weigh
    into(s) out(s) / sum(out), the weights of all open chains into and out of
    it; that ranks the starts. The bound does not need it to forget: the loops
    of the starts left out weigh no more than all chains that begin at one of
    them and end at any of them, whatever positive factor x(s) / x(s') each
    chain is given besides, for it is 1 on a loop.
    """
    guess = loop.into * loop.out
    order = np.argsort(guess, kind="stable")
    rank = np.cumsum(guess[order])
    left_out = order[rank <= share * rank[-1]]
    starts = np.sort(order[len(left_out) :])
    left_out = left_out[guess[left_out] > 0]  # nothing leads into or out of the others
    if not len(left_out):
        return starts, 0.0
    factor = np.sqrt(loop.into[left_out] / loop.out[left_out])
    source = np.zeros((loop.chain.rows, len(loop.grid.scales)))
    first, scale = loop.first[left_out], loop.scale[left_out]
    source[first, scale] = factor / factor.max() * loop.begin_unit[first]
    share_at, _, level = sum_over_chains(
        loop.chain.weights, np.zeros(loop.chain.rows), loop.chain.last, loop.grid.drift, source
    )
    end = first + loop.places
    reached = np.exp(level[end]) * share_at[end, scale] * loop.end_unit[first] * factor.max()
    return starts, float((reached / factor).sum())


def _stitch_weights(loop: OpenedLoop, pairs: list[np.ndarray]) -> np.ndarray:
    """Weight of the stitches of each width that end at each row, from the sums over pairs of gaps."""
    chain = loop.chain
    stitch = np.zeros((len(loop.width), chain.rows))
    for k, (dense, share) in enumerate(zip(pairs, loop.grid.share, strict=True)):
        block, row, column = dense.strides
        band = as_strided(
            dense, (len(dense), limits.BLOCK_ROWS, len(share)), (block, row + column, column), writeable=False
        )
        begin = chain.last - (loop.grid.narrow[k] + len(share) - 1)
        part = slice(begin, begin + len(share))
        stitch[part] += (band.reshape(-1, len(share))[: chain.rows] * chain.weights[:, k, part]).T
    return stitch


def place_chances(loop: OpenedLoop, sums: LoopSums) -> tuple[np.ndarray, np.ndarray]:
    """Probability of a gap and of a middle at each place."""
    stitch, places = sums.stitch, loop.places
    middle = np.zeros(places + loop.chain.last)
    for at, width in enumerate(loop.width):
        begins = stitch[at, width : width + places]
        offset, share = loop.middle_share(int(width))
        for o, chance in zip(offset, share, strict=True):
            middle[o : o + len(begins)] += begins * chance[: len(begins)]
    return _fold(stitch.sum(axis=0), places), _fold(middle, places)


def _fold(array: np.ndarray, places: int) -> np.ndarray:
    """Add up what lies whole turns apart."""
    padded = np.zeros(-(-len(array) // places) * places)
    padded[: len(array)] = array
    return padded.reshape(-1, places).sum(axis=0)
