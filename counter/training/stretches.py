"""The count as a loss: how probable the true number of stitches is between two true gaps.

The same model as :mod:`counter.counting.loop.tally` takes the evidence in, but for
an open stretch of a rim and with one law for all widths, so that it can be
learned through: the network is told not only where gaps and middles are, but
what it costs to count one too many or too few.
"""

from __future__ import annotations

import math

import torch

from counter.counting import band
from counter.counting.loop.widths import MIDDLE_SD_WIDTHS
from counter.training.bands import Batch

__all__ = ["count_loss", "log_counts", "pick_stretches"]

#: Narrowest and widest stitch, places.
NARROW, WIDE = 3, 18
#: Spread of the logarithm of a stitch's width; a twentieth of the stitches, above all those at
#: the start of the round, are wider or narrower by the second.
SPREAD, ODD, ODD_SPREAD = 0.2, 0.05, 0.5
#: Fewest and most stitches of a stretch, and places that it may be long.
FEWEST, MOST, LONGEST = 3, 12, 120
#: Spread of the mean width of a stretch that the prior allows (of its logarithm).
MEAN_SPREAD = 0.25


def _log_widths(device) -> torch.Tensor:
    """Log chance of each width from NARROW to WIDE."""
    d = torch.arange(NARROW, WIDE + 1, device=device, dtype=torch.float32)
    away = torch.log(d / band.PLACES)
    chance = (1 - ODD) * torch.exp(-0.5 * (away / SPREAD) ** 2) / SPREAD
    chance = chance + ODD * torch.exp(-0.5 * (away / ODD_SPREAD) ** 2) / ODD_SPREAD
    return torch.log(chance / chance.sum())


def log_counts(middle: torch.Tensor, gap: torch.Tensor, length: torch.Tensor) -> torch.Tensor:
    """Log of the sum over all ways to cut stretches into each number of stitches.

    Parameters
    ----------
    middle, gap : tensor of shape (B, L), float
        Log-likelihood ratios of places; a stretch begins at place 0, which is a gap.
    length : tensor of shape (B,), int
        Place of the gap where each stretch ends, less than L.

    Returns
    -------
    tensor of shape (B, MOST + 5), float
        For 0, 1, 2 ... stitches; minus infinity (-1e4) where impossible.
    """
    size, places = middle.shape
    device = middle.device
    numbers = MOST + 5
    widths = _log_widths(device)
    # Log of the mean ratio of the middles of a stitch that begins at each place, for every width.
    shift = middle.amax(dim=1, keepdim=True).detach()
    raised = torch.nn.functional.pad(torch.exp(middle - shift), (0, WIDE))
    scores = []
    for index, d in enumerate(range(NARROW, WIDE + 1)):
        at = torch.arange(1, d, device=device, dtype=torch.float32)
        kernel = torch.exp(-0.5 * ((at - d / 2) / max(MIDDLE_SD_WIDTHS * d, 0.5)) ** 2)
        kernel = kernel / kernel.sum()
        # Not a convolution: its library would plan anew for every length of stretch, which takes seconds.
        near = raised[:, 1 : places + d - 1].unfold(1, d - 1, 1) @ kernel
        scores.append(widths[index] + torch.log(near + 1e-20) + shift)
    # By the place where a stitch ends: its width narrower, narrower ... from the widest on.
    kinds = WIDE - NARROW + 1
    ends = torch.full((kinds, size, places), -1e4, device=device)
    for index, d in enumerate(range(NARROW, WIDE + 1)):
        if d < places:
            ends[kinds - 1 - index, :, d:] = scores[index][:, : places - d]
    none = torch.full((size, numbers), -1e4, device=device)
    first = none.clone()
    first[:, 0] = 0.0
    sums = [none] * WIDE + [first]
    for place in range(1, places):
        before = torch.stack(sums[place : place + kinds])
        total = torch.logsumexp(before + ends[:, :, place, None], dim=0) + gap[:, place, None]
        sums.append(torch.cat([none[:, :1], total[:, :-1]], dim=1).clamp(min=-1e4))
    return torch.stack(sums[WIDE:], dim=1)[torch.arange(size, device=device), length]


def pick_stretches(batch: Batch, most: int) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor, torch.Tensor]:
    """Choose stretches between two true gaps in bands at about the right scale.

    Parameters
    ----------
    batch : Batch
    most : int
        How many at most; bands that show the start of the round come first.

    Returns
    -------
    row, start, length, stitches : tensor of shape (S,), int
    """
    size, places = batch.gap.shape
    device = batch.gap.device
    gaps = batch.gap > 0.5
    number = torch.cumsum(gaps, dim=1)
    good = (batch.tellable > 0.5) & (batch.seen > 0.5) & (batch.scale.abs() < 0.3)
    bad = torch.cumsum(~good, dim=1)
    wanted = torch.randint(FEWEST, MOST + 1, (size,), device=device)
    seam_at = torch.where(
        batch.seam.amax(dim=1) > 0.5, batch.seam.argmax(dim=1), torch.full((size,), places // 2, device=device)
    )
    # The stretch holds the start of the round, anywhere in it, where there is one in view.
    before = (torch.rand(size, device=device) * wanted).long()
    at = number.gather(1, seam_at[:, None])[:, 0]
    low = (at - before).clamp(min=1)
    high = low + wanted
    index = torch.arange(places, device=device)[None]
    big = places + 1
    start = torch.where(gaps & (number == low[:, None]), index, big).amin(dim=1)
    end = torch.where(gaps & (number == high[:, None]), index, big).amin(dim=1)
    fits = (start < places) & (end < places) & (end - start < LONGEST)
    safe_start, safe_end = start.clamp(max=places - 1), end.clamp(max=places - 1)
    clean = bad.gather(1, safe_start[:, None]) == bad.gather(1, safe_end[:, None])
    rows = torch.nonzero(fits & clean[:, 0])[:, 0]
    by_seam = batch.seam.amax(dim=1)[rows]
    rows = rows[torch.argsort(-by_seam)][:most]
    return rows, start[rows], (end - start)[rows], wanted[rows]


def count_loss(middle: torch.Tensor, gap: torch.Tensor, batch: Batch, most: int = 48) -> torch.Tensor:
    """Minus log of the probability of the true number on stretches, mean; 0 where there is none.

    Parameters
    ----------
    middle, gap : tensor of shape (B, P), float
        Log-odds that the network says.
    batch : Batch
    most : int
        Stretches that are looked at.
    """
    row, start, length, stitches = pick_stretches(batch, most)
    if not len(row):
        return middle.sum() * 0
    places = int(length.max()) + 1
    at = (start[:, None] + torch.arange(places, device=middle.device)[None]).clamp(max=middle.shape[1] - 1)
    usual = math.log(band.PLACES - 1)
    own_middle = (middle[row[:, None], at] + usual).clamp(-15, 15)
    own_gap = (gap[row[:, None], at] + usual).clamp(-15, 15)
    with_evidence = log_counts(own_middle, own_gap, length)
    with torch.no_grad():
        without = log_counts(torch.zeros_like(own_middle), torch.zeros_like(own_gap), length)
    numbers = torch.arange(with_evidence.shape[1], device=middle.device).clamp(min=1)
    mean = torch.log(length[:, None] / numbers / band.PLACES)
    posterior = with_evidence - without - 0.5 * (mean / MEAN_SPREAD) ** 2
    posterior = torch.where(without < -5e3, torch.full_like(posterior, -1e4), posterior)
    logs = torch.log_softmax(posterior, dim=1)
    return -logs.gather(1, stitches[:, None]).clamp(min=-20).mean()
