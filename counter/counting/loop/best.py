"""The heaviest loop of a number of stitches: where its gaps and middles stand."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from counter.counting.loop import limits
from counter.counting.loop.opened import OpenedLoop
from counter.counting.loop.sums import LoopSums
from counter.counting.loop.sweeps import backward_sweep, forward_sweep, kept_range

__all__ = ["best_loop"]


def best_loop(loop: OpenedLoop, sums: LoopSums, stitches: int) -> tuple[np.ndarray, np.ndarray]:
    """Gaps and middles of the heaviest loop of a number of stitches.

    The most probable first gaps are followed first. No loop of a start weighs
    more than all of them together, which tells when no other can be better; on
    longer loops, those of the starts that hold all but :data:`~counter.counting.loop.limits.ASIDE_SHARE` of the
    probability are enough, and :data:`~counter.counting.loop.limits.MOST_STARTS` starts, which only a rim
    without clear evidence needs.

    Returns
    -------
    gaps, marks : ndarray of shape (stitches,)
        In rows behind the opening; each mark is the mean place of the middle of
        the stitch that begins at the gap, given the evidence.
    """
    number = stitches - int(loop.grid.numbers[0])
    weight = sums.by_start[:, number]
    order = np.argsort(-weight, kind="stable")
    order = order[weight[order] > 0]
    if loop.places > limits.EXACT_PLACES:
        held = np.cumsum(weight[order])
        order = order[: min(limits.MOST_STARTS, 1 + int(np.searchsorted(held, (1 - limits.ASIDE_SHARE) * held[-1])))]
    best, gaps, widths = -np.inf, np.zeros(0, int), np.zeros(0, int)
    for begin in range(0, len(order), limits.STARTS_AT_ONCE):
        batch = order[begin : begin + limits.STARTS_AT_ONCE]
        if np.log(weight[batch[0]]) <= best:
            break
        found, *way = _best_of(loop, np.sort(sums.starts[batch]), number, float(weight[batch].sum()))
        if found > best:
            best, (gaps, widths) = found, way
    marks = np.empty(stitches)
    for width in np.unique(widths):
        offset, share = loop.middle_share(int(width))
        chosen = widths == width
        marks[chosen] = gaps[chosen] + offset @ share[:, gaps[chosen]]
    return gaps, marks


def _best_of(loop: OpenedLoop, starts: np.ndarray, number: int, total: float) -> tuple[float, np.ndarray, np.ndarray]:
    """Heaviest loop of some starts (L. R. Rabiner 1989, section III-B): log weight, gaps, widths."""
    grid, places, last = loop.grid, loop.places, loop.chain.last
    scales, stitches = len(grid.scales), int(grid.numbers[number])
    first, scale, column = loop.first[starts], loop.scale[starts], np.arange(len(starts))
    only = np.zeros(len(grid.numbers))
    only[number] = 1
    rows = [range(int(first.min()) + places, int(first.max()) + places + 1)]
    sweep = forward_sweep(loop, starts, limits.EDGE_SHARE * total)
    for step, _, after in backward_sweep(loop, sweep, only):
        if step.count == 1:
            rows.append(step.rows)
        elif step.count <= stitches:
            kept, _ = kept_range((step.source * after).sum(axis=(0, 2)), limits.EDGE_SHARE * total)
            rows.append(range(step.rows.start + kept.start, step.rows.start + kept.stop))
    rows.reverse()

    with np.errstate(divide="ignore"):
        drift, unit = np.log(grid.drift), np.log(loop.begin_unit)
    best = np.full((scales, len(rows[0]), len(starts)), -np.inf)
    best[scale, first - rows[0].start, column] = unit[first]
    came: list[tuple[np.ndarray, np.ndarray]] = []
    for here, there in itertools.pairwise(rows):
        low, high = there.start - last, there.stop - 1
        padded = np.full((scales, high - low, len(starts)), -np.inf)
        take = range(max(low, here.start), min(high, here.stop))
        padded[:, take.start - low : take.stop - low] = best[:, take.start - here.start : take.stop - here.start]
        arrived = np.empty((scales, len(there), len(starts)))
        choice = np.empty((scales, len(there), len(starts)), np.int16)
        for k, share in enumerate(grid.share):
            at = last - (grid.narrow[k] + len(share) - 1)
            options = sliding_window_view(padded[k, at:], len(share), axis=0)[: len(there)]
            options = options + loop.log_weights[there.start : there.stop, k, None, at : at + len(share)]
            pick = options.argmax(axis=2)
            arrived[k] = np.take_along_axis(options, pick[..., None], 2)[..., 0]
            choice[k] = grid.narrow[k] + len(share) - 1 - pick
        onward = arrived[:, None] + drift[:, :, None, None]
        before = onward.argmax(axis=0)
        best = np.take_along_axis(onward, before[None], 0)[0]
        came.append((before.astype(np.int16), np.take_along_axis(choice, before, 0)))
    with np.errstate(divide="ignore"):
        final = best[scale, first + places - rows[-1].start, column] + np.log(loop.end_unit[first])
    s = int(np.argmax(final))
    row, k = int(first[s]) + places, int(scale[s])
    gaps, widths = [], []
    for there, (before, width) in zip(rows[:0:-1], came[::-1], strict=True):
        at = row - there.start
        widths.append(int(width[k, at, s]))
        row, k = row - widths[-1], int(before[k, at, s])
        gaps.append(row)
    return float(final[s]), np.array(gaps[::-1]), np.array(widths[::-1])
