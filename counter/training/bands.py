"""Random bands of rims, as the network sees them, with what is true in them.

All of it runs in torch, on the CPU or an accelerator alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import torch
from torch.nn import functional

from counter.counting import band
from counter.training import rims
from counter.training.rims import Rims

__all__ = ["Bands", "Batch"]

#: Columns of a band of a batch: 32 stitches at the right scale.
COLUMNS = 32 * band.PIXELS
#: Share of bands that show the place where the round starts and ends, which misleads most.
SEAM = 0.5
#: Where the supposed width is further off than this (log2), stitches can't be told.
TELLABLE = 0.8
#: Spread of the slant of stitches that is added (stitch widths along for each in depth), and of
#: the logarithm of their height: other hands than those that were rendered.
SLANT, SQUEEZE = 0.15, 0.13
#: Marks within these depths of a band's own are in it, in supposed stitch widths.
SHALLOWEST, DEEPEST = -0.75, 1.2


@dataclass(frozen=True)
class Batch:
    """Bands and their truth; B bands of W columns and P = W / STRIDE places.

    Parameters
    ----------
    pixels : Tensor of shape (B, 3, ROWS, W), float
        sRGB, 0 to 1.
    middle, gap, seam, pair, seen : Tensor of shape (B, P), float
        0 or 1.
    depth : Tensor of shape (B, P), float
        Depth of the marks in the band, in supposed stitch widths.
    scale : Tensor of shape (B, P), float
        log2 of the true over the supposed stitch width.
    tellable : Tensor of shape (B, P), float
        1 where stitches can be told at this scale.
    """

    pixels: torch.Tensor
    middle: torch.Tensor
    gap: torch.Tensor
    seam: torch.Tensor
    pair: torch.Tensor
    seen: torch.Tensor
    depth: torch.Tensor
    scale: torch.Tensor
    tellable: torch.Tensor


def _smooth(noise: torch.Tensor, width: int, reach: int) -> torch.Tensor:
    """Noise that changes over `reach` columns, shape (B, width), spread about 1."""
    knots = max(4, width // reach + 3)
    rough = torch.randn(noise.shape[0], 1, knots, device=noise.device)
    return functional.interpolate(rough, size=width, mode="linear", align_corners=True)[:, 0] * 1.2


class Bands:
    """Draws batches from rims.

    Parameters
    ----------
    source : Rims
    device : torch.device
    seed : int
    """

    def __init__(self, source: Rims, device: torch.device, seed: int) -> None:
        self.device = device
        self.random = np.random.default_rng(seed)
        torch.manual_seed(seed)
        self.widths = torch.as_tensor(np.diff(source.starts), device=device)
        self.starts = torch.as_tensor(source.starts[:-1], device=device)
        self.stitches = torch.as_tensor(source.stitches, device=device)
        fine = torch.as_tensor(source.pixels, device=device).reshape(source.pixels.shape[0], -1, 3)
        self.fine = fine
        # Half as fine, for bands in which many pixels fall on one.
        rows = fine.shape[0] // 2
        self.coarse = (
            fine[: 2 * rows, : fine.shape[1] // 2 * 2]
            .reshape(rows, 2, -1, 2, 3)
            .float()
            .mean((1, 3))
            .round()
            .to(torch.uint8)
        )
        arrays = np.stack([source.phase, source.depth, source.seen, source.seam, source.pair])
        # Phase near the seam of a long rim needs more than half precision, so float32 throughout.
        self.truth = torch.as_tensor(arrays, dtype=torch.float32, device=device)
        weight = np.sqrt(np.maximum(source.stitches, 16)) * np.where(source.stitches == 0, 0.6, 1.0)
        self.weight = weight / weight.sum()
        self.by_seam = torch.as_tensor(
            [
                int(np.argmax(source.seam[low:high]))
                for low, high in zip(source.starts[:-1], source.starts[1:], strict=True)
            ],
            device=device,
        )

    def draw(self, size: int, *, plain: bool = False) -> Batch:
        """A random batch.

        Parameters
        ----------
        size : int
            B.
        plain : bool
            True for bands at about the right scale and depth, not disturbed.

        Returns
        -------
        Batch
        """
        device, width = self.device, COLUMNS
        strip = torch.as_tensor(self.random.choice(len(self.weight), size, p=self.weight), device=device)

        def uniform(low, high, *shape):
            return low + (high - low) * torch.rand(*(shape or (size, 1)), device=device)

        wide = torch.rand(size, 1, device=device) < (0.0 if plain else 0.4)
        off = torch.where(wide, uniform(-1.15, 1.15), torch.randn(size, 1, device=device) * (0.05 if plain else 0.2))
        off = off.clamp(-1.2, 1.2)
        step = rims.PIXELS / (band.PIXELS * 2**off)
        warp = torch.exp(_smooth(off, width, 3 * band.PIXELS) * uniform(0, 0.12) * (0.0 if plain else 1.0))
        along = torch.cumsum(step * warp, dim=1)
        own_width, own_start = self.widths[strip][:, None], self.starts[strip][:, None]
        begin = uniform(0, 1) * own_width
        seam = torch.rand(size, 1, device=device) < SEAM
        begin = torch.where(seam, self.by_seam[strip][:, None] - uniform(0.2, 0.8) * along[:, -1:], begin)
        mirrored = torch.rand(size, 1, device=device) < 0.5
        along = torch.where(mirrored, along.flip(1), along) + begin
        shift = torch.randn(size, 1, device=device) * (0.05 if plain else 0.25) + _smooth(
            off, width, 5 * band.PIXELS
        ) * uniform(0, 0.25) * (0 if plain else 1)
        astray = torch.rand(size, 1, device=device) < (0.0 if plain else 0.06)
        shift = torch.where(astray, uniform(-1.8, 2.2), shift)
        squeeze = torch.exp(torch.randn(size, 1, device=device) * (0.0 if plain else SQUEEZE))
        rows = band.ABOVE + (torch.arange(band.ROWS, device=device) + 0.5) / band.PIXELS
        down = rows[None, :, None] / 2 ** off[..., None] * squeeze[..., None] + shift[:, None, :]
        slant = torch.randn(size, 1, 1, device=device) * (0.0 if plain else SLANT)
        bend = _smooth(off, width, 4 * band.PIXELS)[:, None] * (0.0 if plain else SLANT)
        aside = (slant + bend) * (rows - band.MARK_DEPTH)[None, :, None] * rims.PIXELS
        pixels = self._sample(own_start, own_width, along[:, None] + aside, down, step)

        # Truth at the edges of each place.
        edges = torch.cat([along[:, :: band.STRIDE], along[:, -1:] + (along[:, -1:] - along[:, -2:-1])], dim=1)
        laps = torch.floor(edges / own_width)
        column = (edges - laps * own_width).long().clamp(max=self.truth.shape[1] - 1)
        column = torch.minimum(column, own_width - 1)
        part = edges - laps * own_width - 0.5
        at, place = self._truth_at(own_start, own_width, part), own_start + column
        stitches = self.stitches[strip][:, None]
        none = stitches == 0
        phase = at + laps * torch.where(none, own_width / rims.PIXELS, stitches)
        low, high = torch.minimum(phase[:, :-1], phase[:, 1:]), torch.maximum(phase[:, :-1], phase[:, 1:])
        middle = (torch.floor(high) - torch.floor(low)).clamp(0, 1)
        gap = (torch.floor(high + 0.5) - torch.floor(low + 0.5)).clamp(0, 1)
        density = functional.avg_pool1d(
            functional.pad((high - low)[:, None], (12, 12), mode="replicate"), 25, stride=1
        )[:, 0]
        scale = -torch.log2((density * band.PLACES).clamp(0.05, 20))
        depth, seen, seam, pair = (self.truth[k][place[:, :-1]] for k in (1, 2, 3, 4))
        centred = shift[:, :: band.STRIDE]
        depth = (depth - centred) * 2**off
        seen = seen * (depth > SHALLOWEST) * (depth < DEEPEST) * ~none
        tellable = (scale.abs() < TELLABLE).float() * ((depth > SHALLOWEST) & (depth < DEEPEST)) * ~none
        if not plain:
            pixels, covered = self._disturbed(pixels, depth, strip)
            seen = seen * (1 - covered)
        return Batch(pixels.permute(0, 3, 1, 2), middle, gap, seam, pair, seen, depth, scale, tellable)

    def _truth_at(self, start, width, part):
        """Phase at fractions of a column, not wrapped at the seam of the strip."""
        low = torch.floor(part)
        share = part - low
        values = []
        for k in (0, 1):
            column = low + k
            lap = torch.floor(column / width)
            inside = start + (column - lap * width).long()
            first, last = self.truth[0][start], self.truth[0][start + width - 1]
            turn = torch.round(last - first + (last - first) / (width - 1))
            values.append(self.truth[0][inside] + lap * turn)
        return values[0] * (1 - share) + values[1] * share

    def _sample(self, start, width, along, down, step) -> torch.Tensor:
        """Pixels at places of strips, shape (B, ROWS, W, 3), 0 to 1."""
        size = along.shape[0]
        out = torch.empty(size, band.ROWS, along.shape[2], 3, device=self.device)
        coarse = step[:, 0] > 1.6
        for fine, picture in ((True, self.fine), (False, self.coarse)):
            chosen = ~coarse if fine else coarse
            if not chosen.any():
                continue
            zoom = 1.0 if fine else 0.5
            first, columns = start[chosen, :, None] * zoom, width[chosen, :, None] * zoom
            x = along[chosen] * zoom - 0.5
            y = ((down[chosen] - rims.ABOVE) * rims.PIXELS * zoom - 0.5).clamp(0, picture.shape[0] - 1.001)
            left, top = torch.floor(x), torch.floor(y)
            fx, fy = (x - left)[..., None], (y - top)[..., None]
            top = top.long()
            total = 0
            for dx in (0, 1):
                column = (
                    (torch.floor(first) + (left + dx) % torch.floor(columns)).long().clamp(max=picture.shape[1] - 1)
                )
                for dy in (0, 1):
                    value = picture[top + dy, column].float()
                    total = total + value * (fx if dx else 1 - fx) * (fy if dy else 1 - fy)
            out[chosen] = total / 255
        return out

    def _relief(self, pixels: torch.Tensor, lit: torch.Tensor, swollen: torch.Tensor) -> torch.Tensor:
        """Bands lit from another side, as if lightness were height, and with thicker or thinner strands."""
        size, device = len(pixels), self.device
        light = pixels.mean(-1)[:, None]
        soft = functional.avg_pool2d(functional.pad(light, (2,) * 4, mode="replicate"), 5, 1)
        down = functional.pad(soft[:, :, 2:] - soft[:, :, :-2], (0, 0, 1, 1))[:, 0, ..., None]
        along = functional.pad(soft[..., 2:] - soft[..., :-2], (1, 1))[:, 0, ..., None]
        spread = soft.std((1, 2, 3), correction=0)[:, None, None, None] + band.FAINTEST
        turn = 2 * math.pi * torch.rand(size, 1, 1, 1, device=device)
        slope = (torch.cos(turn) * along + torch.sin(turn) * down) / spread
        relit = pixels * torch.exp(0.6 * torch.rand(size, 1, 1, 1, device=device) * slope.clamp(-2, 2))
        pixels = torch.where(lit, relit, pixels)
        picture = pixels.permute(0, 3, 1, 2)
        padded = functional.pad(picture, (1,) * 4, mode="replicate")
        thick = torch.where(
            torch.rand(size, 1, 1, 1, device=device) < 0.5,
            functional.max_pool2d(padded, 3, 1),
            -functional.max_pool2d(-padded, 3, 1),
        )
        part = 0.8 * torch.rand(size, 1, 1, 1, device=device)
        return torch.where(swollen, picture * (1 - part) + thick * part, picture).permute(0, 2, 3, 1)

    def _disturbed(
        self, pixels: torch.Tensor, depth: torch.Tensor, strip: torch.Tensor
    ) -> tuple[torch.Tensor, torch.Tensor]:
        """Bands under other lights, with other surroundings and things in the way; and which places are covered."""
        size, rows, width = pixels.shape[:3]
        device = self.device

        def uniform(low, high, *shape):
            return low + (high - low) * torch.rand(*(shape or (size, 1, 1, 1)), device=device)

        def chance(share):
            return torch.rand(size, 1, 1, 1, device=device) < share

        other = pixels[torch.randperm(size, device=device)].flip(2)
        flat = uniform(0, 1, size, 1, 1, 3).expand_as(pixels)
        foreign = torch.where(chance(0.5), other, flat + 0.1 * torch.randn(size, rows, width, 1, device=device))
        # Other surroundings above the rim.
        level = (torch.arange(rows, device=device) + 0.5) / band.PIXELS + band.ABOVE
        line = functional.interpolate(depth[:, None], scale_factor=band.STRIDE, mode="linear")[:, 0]
        edge = line - 0.45 + 0.05 * torch.randn(size, 1, device=device)
        outside = torch.sigmoid((edge[:, None] - level[None, :, None]) * 12)[..., None]
        pixels = torch.where(chance(0.3), pixels * (1 - outside) + foreign * outside, pixels)
        # Something lies over a part of the rim.
        x = torch.arange(width, device=device)[None, :]
        middle, half = (
            uniform(0, width, size, 1),
            torch.exp(uniform(math.log(0.25), math.log(2.5), size, 1)) * band.PIXELS,
        )
        slant = uniform(-0.7, 0.7, size, 1, 1)
        away = (x - middle).abs()[:, None] + slant * torch.arange(rows, device=device)[None, :, None]
        cover = torch.sigmoid((half[:, None] - away) / 1.0)[..., None] * chance(0.25)
        pixels = pixels * (1 - cover) + (torch.where(chance(0.5), foreign, flat)) * cover
        covered = (cover[:, rows // 2, :: band.STRIDE, 0] > 0.5).float()
        pixels = self._relief(pixels, chance(0.3), chance(0.25))
        # Light: colour of lamp, exposure, contrast, a shade across the band.
        pixels = pixels.clamp(1e-4, 1)
        pixels = pixels ** torch.exp(0.35 * torch.randn(size, 1, 1, 1, device=device))
        pixels = (
            pixels
            * torch.exp(0.12 * torch.randn(size, 1, 1, 3, device=device))
            * torch.exp(0.2 * torch.randn(size, 1, 1, 1, device=device) - 0.05)
        )
        shade = torch.exp(_smooth(depth, width, 10 * band.PIXELS) * uniform(0, 0.35, size, 1))
        pixels = pixels * shade[:, None, :, None]
        tilt = 1 + uniform(-0.25, 0.25) * (torch.arange(rows, device=device) / rows - 0.5)[None, :, None, None]
        pixels = pixels * tilt
        mixed = torch.eye(3, device=device) + 0.15 * torch.randn(size, 3, 3, device=device)
        pixels = torch.where(chance(0.4), torch.einsum("bhwc,bcd->bhwd", pixels, mixed), pixels)
        grey = pixels.mean(-1, keepdim=True).expand_as(pixels)
        pixels = torch.where(chance(0.12), grey, pixels).clamp(0, 1)
        # Blur, few pixels, noise.
        picture = pixels.permute(0, 3, 1, 2)
        sigma = torch.exp(uniform(math.log(0.3), math.log(1.8), size)) * (torch.rand(size, device=device) < 0.5)
        taps = torch.arange(-4, 5, device=device, dtype=torch.float32)
        kernel = torch.exp(-0.5 * (taps / sigma.clamp(min=0.05)[:, None]) ** 2)
        kernel = kernel / kernel.sum(1, keepdim=True)
        kernel = kernel.repeat_interleave(3, 0)[:, None]
        spread = functional.pad(picture.reshape(1, size * 3, rows, width), (4, 4, 4, 4), mode="replicate")
        spread = functional.conv2d(spread, kernel[:, :, None], groups=size * 3)
        picture = functional.conv2d(spread, kernel[:, :, :, None], groups=size * 3).reshape(size, 3, rows, width)
        few = functional.interpolate(functional.avg_pool2d(picture, 2), size=(rows, width), mode="bilinear")
        picture = torch.where(chance(0.15), few, picture)
        noise = (
            torch.randn(size, 1, rows, width, device=device) * 0.7
            + torch.randn(size, 3, rows, width, device=device) * 0.5
        )
        picture = picture + noise * uniform(0, 0.05) * chance(0.6)
        return picture.clamp(0, 1).permute(0, 2, 3, 1), covered
