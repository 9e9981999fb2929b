"""The count as a loss, against the enumeration of all ways to cut a stretch."""

import math

import pytest

torch = pytest.importorskip("torch", reason="torch only trains (extra 'train')")

from counter.counting.loop.widths import MIDDLE_SD_WIDTHS  # noqa: E402 - only where there is torch
from counter.training.stretches import NARROW, WIDE, _log_widths, log_counts  # noqa: E402


def enumerated(middle, gap, length):
    """Log of the sum of the weights of all cuts, by number of stitches."""
    widths = _log_widths("cpu")
    found = {}

    def go_on(place, stitches, weight):
        if place == length:
            found.setdefault(stitches, []).append(weight)
            return
        for d in range(NARROW, min(WIDE, length - place) + 1):
            at = torch.arange(1, d, dtype=torch.float32)
            kernel = torch.exp(-0.5 * ((at - d / 2) / max(MIDDLE_SD_WIDTHS * d, 0.5)) ** 2)
            near = float((kernel / kernel.sum() * torch.exp(middle[place + 1 : place + d])).sum())
            go_on(place + d, stitches + 1, weight + float(widths[d - NARROW]) + math.log(near) + float(gap[place + d]))

    go_on(0, 0, 0.0)
    return {n: float(torch.logsumexp(torch.tensor(weights), 0)) for n, weights in found.items()}


@pytest.mark.parametrize("length", [9, 19, 24])
def test_sums_are_those_of_all_cuts(length):
    random = torch.Generator().manual_seed(length)
    middle, gap = torch.randn(2, 30, generator=random), torch.randn(2, 30, generator=random)
    said = log_counts(middle, gap, torch.tensor([length, length]))
    for row in range(2):
        for number, wanted in enumerated(middle[row], gap[row], length).items():
            assert float(said[row, number]) == pytest.approx(wanted, abs=1e-4)


def test_what_can_not_be_is_impossible():
    said = log_counts(torch.zeros(1, 30), torch.zeros(1, 30), torch.tensor([20]))
    assert float(said[0, 0]) < -5e3 and float(said[0, 1]) < -5e3 and float(said[0, 7]) < -5e3
