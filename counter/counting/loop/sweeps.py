"""Sweeps over the opened loop: forward from each possible first gap, and back again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from counter.counting.loop import limits
from counter.counting.loop.opened import OpenedLoop

__all__ = ["Step", "Sweep", "backward_sweep", "forward_sweep", "forward_sweeps", "kept_range"]


@dataclass(frozen=True, eq=False)
class Step:
    """One stitch of a forward sweep: where it came from and where it went."""

    count: int
    scales: range
    rows: range
    begin: int
    source: np.ndarray
    windows: list[np.ndarray]

    @property
    def kept_bytes(self) -> int:
        """Memory that the source and the windows look at."""
        return int((self.source if self.source.base is None else self.source.base).nbytes)


@dataclass(frozen=True, eq=False)
class Sweep:
    """A forward sweep of some starts: its steps, the weight of its loops, what was left out."""

    starts: np.ndarray
    steps: list[Step]
    closed: np.ndarray
    lost: float

    @property
    def work(self) -> float:
        """Multiplications that the sweep took."""
        return sum(window.size * limits.BLOCK_ROWS for step in self.steps for window in step.windows)


def forward_sweeps(loop: OpenedLoop, starts: np.ndarray, edge: float) -> Iterator[tuple[np.ndarray, Sweep]]:
    """Forward sweeps of all starts, as many at a time as memory allows."""
    # The first is a probe of how wide the windows are: half the loop at most, as a rule.
    most = int(loop.grid.numbers[-1]) * loop.ahead.size * loop.out.itemsize
    at, size = 0, max(limits.STARTS_AT_ONCE, int(2 * limits.SWEEP_BYTES / most))
    while at < len(starts):
        columns = starts[at : at + size]
        sweep = forward_sweep(loop, columns, edge * len(columns) / len(starts))
        yield columns, sweep
        at += size
        kept = sum(step.kept_bytes for step in sweep.steps)
        size = max(limits.STARTS_AT_ONCE, int(limits.SWEEP_BYTES * len(columns) / kept))


def forward_sweep(loop: OpenedLoop, starts: np.ndarray, edge: float) -> Sweep:
    """Weight of all chains of 0, 1, 2 ... stitches from each start.

    Parameters
    ----------
    starts : ndarray of shape (S,), int
        One column each.
    edge : float
        Weight that may be left out at each edge of each window.
    """
    grid, chain, places = loop.grid, loop.chain, loop.places
    first, scale, column = loop.first[starts], loop.scale[starts], np.arange(len(starts))
    fewest, most = int(grid.numbers[0]), int(grid.numbers[-1])
    low = int(first.min())
    state = np.zeros((len(grid.scales), int(first.max()) + 1 - low, len(starts)))
    state[scale, first - low, column] = loop.begin_unit[first]
    scales, lost, steps = range(len(grid.scales)), 0.0, []
    closed = np.zeros((len(starts), len(grid.numbers)))
    for count in range(1, most + 1):
        begin, moved, source, windows = chain.onward(scales, state, low)
        steps.append(Step(count, scales, range(low, low + state.shape[1]), begin, source, windows))
        if not moved.size:
            break
        state = (grid.drift[:, scales.start : scales.stop] @ moved.reshape(len(scales), -1)).reshape(
            len(grid.scales), moved.shape[1], len(starts)
        )
        end = first + places - begin
        if count >= fewest:
            back = (end >= 0) & (end < state.shape[1])
            closed[back, count - fewest] = state[scale[back], end[back], column[back]] * loop.end_unit[first[back]]
        state = state[:, : max(0, places - begin)]
        if not state.size or count == most:
            break
        weight = state.sum(axis=2) * loop.ahead[:, begin : begin + state.shape[1]]
        rows, left_rows = kept_range(weight.sum(axis=0), edge)
        scales, left_scales = kept_range(weight[:, rows.start : rows.stop].sum(axis=1), edge)
        lost += left_rows + left_scales
        if not len(rows) or not len(scales):
            break
        state = state[scales.start : scales.stop, rows.start : rows.stop]
        low = begin + rows.start
    return Sweep(starts, steps, closed, lost)


def kept_range(weight: np.ndarray, edge: float) -> tuple[range, float]:
    """The range that leaves out at most `edge` on either side, and how much it leaves out."""
    up, down = np.cumsum(weight), np.cumsum(weight[::-1])
    low, high = int(np.searchsorted(up, edge, "right")), int(np.searchsorted(down, edge, "right"))
    if low + high >= len(weight):
        return range(0), float(up[-1])
    return range(low, len(weight) - high), float((up[low - 1] if low else 0) + (down[high - 1] if high else 0))


def backward_sweep(loop: OpenedLoop, sweep: Sweep, favour: np.ndarray) -> Iterator[tuple[Step, np.ndarray, np.ndarray]]:
    """Go back through a sweep with the weight of all that follows each stitch.

    Parameters
    ----------
    favour : ndarray of shape (C,), float
        Weight of each number of stitches.

    Yields
    ------
    step : Step
        Last stitch first.
    following : ndarray of shape (len(step.scales), rows, S), float
        Weight of all that follows the stitch if it ends at each row from
        `step.begin`, by the scale of the stitch.
    after : ndarray of shape (len(step.scales), len(step.rows), S), float
        Weight of the stitch and all that follows it if it begins at each of
        `step.rows`.
    """
    grid, places = loop.grid, loop.places
    first, scale, column = loop.first[sweep.starts], loop.scale[sweep.starts], np.arange(len(sweep.starts))
    scales, rows, after = range(0), range(0), np.zeros((0, 0, len(column)))
    for step in reversed(sweep.steps):
        length = step.windows[0].shape[0] * limits.BLOCK_ROWS
        weight = np.zeros((len(grid.scales), length, len(column)))
        if len(rows):
            at = rows.start - step.begin
            weight[scales.start : scales.stop, at : at + len(rows)] = after
        number = step.count - int(grid.numbers[0])
        if number >= 0:
            end = first + places - step.begin
            back = (end >= 0) & (end < length)
            weight[scale[back], end[back], column[back]] = favour[number] * loop.end_unit[first[back]]
        drift = grid.drift[step.scales.start : step.scales.stop]
        following = (drift @ weight.reshape(len(grid.scales), -1)).reshape(len(drift), length, len(column))
        scales, rows = step.scales, step.rows
        after = loop.chain.backward(scales, following, step.begin, rows)
        yield step, following, after
