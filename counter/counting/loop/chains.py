"""Open chains of stitches: banded matrices over the places, and sums over chains of any number."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.lib.stride_tricks import as_strided, sliding_window_view

from counter.counting.loop import limits
from counter.counting.loop.widths import WidthGrid

__all__ = ["StitchMatrices", "log_loops_without_evidence", "sum_over_chains"]

#: Sums are taken in another unit once they are this far from 1, either way.
FAR_FACTOR = 1e60


class BandedMatrix:
    """A matrix with entries only at column = row - width, as blocks of rows.

    Row i of `entries` holds the weights of the widths in descending order, so
    from left to right in the columns i - last ... i - first. With limits.BLOCK_ROWS - 1
    zeros between the rows, the block of limits.BLOCK_ROWS rows from i and all the columns
    that they touch is the same memory seen with a row length that is one
    shorter: no copy, and a plain matrix to BLAS.
    """

    def __init__(self, weights: np.ndarray, last: int) -> None:
        rows, self.widths = weights.shape
        self.last, self.blocks = last, -(-rows // limits.BLOCK_ROWS)
        self.columns = self.widths + limits.BLOCK_ROWS - 1
        entries = np.zeros((self.blocks * limits.BLOCK_ROWS + 1, self.columns))
        entries[1 : rows + 1, : self.widths] = weights
        flat, size = entries.ravel()[self.columns :], entries.itemsize
        self.block = as_strided(
            flat,
            (self.blocks, limits.BLOCK_ROWS, self.columns),
            (limits.BLOCK_ROWS * self.columns * size, (self.columns - 1) * size, size),
            writeable=False,
        )


class StitchMatrices:
    """Stitches on an opened loop: rows are places 0 ... P, a gap may stand at each.

    Parameters
    ----------
    weights : ndarray of shape (P, K, D), float
        Weight of the stitch of scale k that ends at row i; the last axis holds
        widths in descending order, from the widest of all scales.
    last : int
        Widest width.
    grid : WidthGrid
        The model of widths.
    """

    def __init__(self, weights: np.ndarray, last: int, grid: WidthGrid) -> None:
        self.weights, self.last, self.grid = weights, last, grid
        self.rows = len(weights)
        row, span = np.arange(self.rows)[:, None], np.arange(weights.shape[2])
        behind = row + last - span  # the row where a stitch that begins here ends
        reverse = np.where(
            (behind < self.rows)[..., None], weights[np.minimum(behind, self.rows - 1), :, span], 0
        ).swapaxes(1, 2)
        self.reverse = np.ascontiguousarray(reverse[::-1])
        self.onward_matrices = [self._band(weights, k) for k in range(len(grid.scales))]
        self._backward_matrices = [self._band(self.reverse, k) for k in range(len(grid.scales))]

    def _band(self, weights: np.ndarray, scale: int) -> BandedMatrix:
        widest = self.grid.wide[scale]
        begin = self.last - widest
        return BandedMatrix(weights[:, scale, begin : begin + len(self.grid.share[scale])], widest)

    def _move(
        self, bands: list[BandedMatrix], scales: range, state: np.ndarray, first: int
    ) -> tuple[int, np.ndarray, np.ndarray, list[np.ndarray]]:
        """One stitch on, without drift.

        Parameters
        ----------
        bands : list of BandedMatrix
            Which way.
        scales : range
            Scales that `state` holds.
        state : ndarray of shape (len(scales), n, S), float
            Weight at n rows from `first`, for S columns.

        Returns
        -------
        first : int
            First row reached, a multiple of limits.BLOCK_ROWS.
        moved : ndarray of shape (len(scales), blocks * limits.BLOCK_ROWS, S)
        source : ndarray of shape (len(scales), n, S)
            `state`, in the memory that the windows look at.
        windows : list of ndarray of shape (blocks, columns, S)
            What each block of rows of each scale was made from.
        """
        narrow, wide = min(bands[k].last - bands[k].widths + 1 for k in scales), max(bands[k].last for k in scales)
        begin = (first + narrow) // limits.BLOCK_ROWS * limits.BLOCK_ROWS
        blocks = max(0, -(-(min(self.rows, first + state.shape[1] - 1 + wide + 1) - begin) // limits.BLOCK_ROWS))
        depth, columns = self.last + max(blocks * limits.BLOCK_ROWS, state.shape[1]), state.shape[2]
        padded = np.zeros((len(scales), depth, columns))
        offset = first - begin + self.last
        padded[:, offset : offset + state.shape[1]] = state
        moved = np.empty((len(scales), blocks * limits.BLOCK_ROWS, columns))
        size = padded.itemsize
        windows = []
        for at, k in enumerate(scales):
            band = bands[k]
            window = np.ndarray(
                (blocks, band.columns, columns),
                float,
                padded,
                (at * depth + self.last - band.last) * columns * size,
                (limits.BLOCK_ROWS * columns * size, columns * size, size),
            )
            block = band.block[begin // limits.BLOCK_ROWS : begin // limits.BLOCK_ROWS + blocks]
            np.matmul(block, window, out=moved[at].reshape(blocks, limits.BLOCK_ROWS, columns))
            windows.append(window)
        return begin, moved, padded[:, offset : offset + state.shape[1]], windows

    def onward(
        self, scales: range, state: np.ndarray, first: int
    ) -> tuple[int, np.ndarray, np.ndarray, list[np.ndarray]]:
        """One stitch on, without drift, as in :meth:`_move`."""
        return self._move(self.onward_matrices, scales, state, first)

    def backward(self, scales: range, state: np.ndarray, first: int, rows: range) -> np.ndarray:
        """Weight at `rows` of what follows, from the weight `state` at rows from `first`."""
        state = state[:, : self.rows - first]  # a block may reach beyond the last row
        begin, moved, _, _ = self._move(
            self._backward_matrices, scales, state[:, ::-1], self.rows - first - state.shape[1]
        )
        out = np.zeros((len(scales), len(rows), state.shape[2]))
        low = self.rows - rows.stop  # the wanted rows, mirrored
        take = range(max(low, begin), min(low + len(rows), begin + moved.shape[1]))
        if len(take):
            out[:, take.start - low : take.stop - low] = moved[:, take.start - begin : take.stop - begin]
        return out[:, ::-1]


def sum_over_chains(
    weights: np.ndarray, log_unit: np.ndarray, last: int, drift: np.ndarray, source: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Summed weight of all open chains from a source to each row, of any number of stitches.

    Parameters
    ----------
    weights : ndarray of shape (P, K, D), float
        As in :class:`StitchMatrices`.
    log_unit : ndarray of shape (P,), float
        Logarithm of the unit of each row's weights.
    last : int
        Widest width.
    drift : ndarray of shape (K, K), float
        Probability of the next scale.
    source : ndarray of shape (P, K), float
        Weight of the chains that begin at each row.

    Returns
    -------
    share : ndarray of shape (P, K), float
        Weight of each scale at each row, adding up to 1 in a row that is reached.
    before : ndarray of shape (P, K), float
        The same before drift and without the source.
    level : ndarray of shape (P,), float
        Logarithm of the row's unit; minus infinity where nothing gets.
    """
    rows, scales, span = weights.shape
    weights = weights * np.exp(log_unit)[:, None, None]
    arrived, total, units = np.zeros((rows, scales)), np.zeros((rows, scales)), []
    state = np.zeros((last + rows, scales))  # the same as `total`, but what is in reach has one unit
    reach = sliding_window_view(state, span, axis=0)
    # The narrowest stitch is as wide as this, so that many rows depend on earlier ones only.
    step = last - span + 1
    begins = np.logical_or.reduceat(source.any(axis=1), np.arange(0, rows, step)).tolist()
    unit = 0.0  # logarithm
    for row, begin in zip(range(0, rows, step), begins, strict=True):
        part, behind = slice(row, min(row + step, rows)), slice(row, last + row)
        largest = state[behind].max()
        if largest and not 1 / FAR_FACTOR < largest < FAR_FACTOR or begin and unit < 0:
            rescaled = unit + np.log(largest) if largest else 0.0
            rescaled = max(rescaled, 0.0) if begin else rescaled
            state[behind] *= np.exp(unit - rescaled)
            unit = rescaled
        came, now = arrived[part], total[part]
        np.einsum("rkd,rkd->rk", weights[part], reach[part], out=came)
        np.matmul(came, drift, out=now)
        if begin:
            now += source[part] * np.exp(-unit)
        state[last + row : last + part.stop] = now
        units.append(unit)
    unit_of = np.repeat(units, step)[:rows]
    whole = total.sum(axis=1)
    reached = whole > 0
    whole[~reached] = 1
    level = np.where(reached, np.log(whole) + unit_of, -np.inf)
    return total / whole[:, None], arrived / whole[:, None], level


@lru_cache(maxsize=1024)
def log_loops_without_evidence(grid: WidthGrid) -> np.ndarray:
    """Log Z0(N) of each number considered.

    Without evidence every turn of a loop weighs the same. Each loop has N gaps,
    so N Z0(N) = M times the weight of the loops with a gap at place 0.
    """
    places, scales = grid.places, len(grid.scales)
    last = max(grid.wide)
    narrow = min(grid.narrow)
    weights = np.zeros((places + 1, scales, last - narrow + 1))
    for k, (first, share) in enumerate(zip(grid.narrow, grid.share, strict=True)):
        begin = last - (first + len(share) - 1)
        weights[:, k, begin : begin + len(share)] = share[::-1]
    chain = StitchMatrices(weights, last, grid)
    fewest, most = int(grid.numbers[0]), int(grid.numbers[-1])
    sums = np.zeros(len(grid.numbers))
    first, state = 0, np.eye(scales)[:, None, :]
    for count in range(1, most + 1):
        first, moved, _, _ = chain.onward(range(scales), state, first)
        state = np.tensordot(grid.drift, moved, 1)
        if count >= fewest and first <= places < first + state.shape[1]:
            sums[count - fewest] = places / count * np.trace(state[:, places - first])
        # Only what can still arrive at the end in time goes on.
        low = max(first, places - (most - count) * last)
        high = min(first + state.shape[1], places, places - max(fewest - count, 1) * narrow + 1)
        if high <= low:
            break
        state, first = state[:, low - first : high - first], low
    with np.errstate(divide="ignore"):
        return np.log(sums)
