"""The network that looks at a band."""

from __future__ import annotations

import torch
from torch import nn
from torch.nn import functional

from counter.counting import band

__all__ = ["CHANNELS", "BandNetwork", "prepared"]

#: What the network says of each place, in order of its channels: five log-odds, the
#: depth of the marks, and unnormalised log chances of each scale.
CHANNELS = ("middle", "gap", "seam", "pair", "seen", "depth", *(f"scale {s:+.1f}" for s in band.SCALES))


def _convolution(
    inner: int, outer: int, size: tuple[int, int], stride=(1, 1), dilation=(1, 1), rows_padded=True
) -> nn.Sequential:
    pad = (size[0] // 2 if rows_padded else 0, size[1] // 2 * dilation[1])
    return nn.Sequential(
        nn.Conv2d(inner, outer, size, stride, pad, dilation, bias=False), nn.BatchNorm2d(outer), nn.ReLU(inplace=True)
    )


class _Step(nn.Module):
    """Looks further along the rim and adds what it finds."""

    def __init__(self, width: int, dilation: int) -> None:
        super().__init__()
        self.look = _convolution(width, width, (1, 5), dilation=(1, dilation))
        self.mix = nn.Sequential(nn.Conv2d(width, width, 1, bias=False), nn.BatchNorm2d(width))

    def forward(self, x):
        """One layer more on top, as torch asks for it."""
        return torch.relu(x + self.mix(self.look(x)))


class BandNetwork(nn.Module):
    """Convolutions down to one row, then along the rim; any number of columns.

    Input (B, 4, ROWS, W), output (B, len(CHANNELS), 1, W / STRIDE).
    """

    def __init__(self, width: int = 96) -> None:
        super().__init__()
        self.rows = nn.Sequential(
            _convolution(4, 24, (3, 5), stride=(2, 2)),
            _convolution(24, 36, (3, 3)),
            _convolution(36, 48, (3, 3), stride=(2, 1)),
            _convolution(48, 64, (3, 3), stride=(2, 1)),
            _convolution(64, width, (band.ROWS // 8, 3), rows_padded=False),
        )
        self.along = nn.Sequential(*(_Step(width, d) for d in (1, 2, 4, 8, 12)))
        self.say = nn.Conv2d(width, len(CHANNELS), 1)

    def forward(self, x):
        """What the network says of bands of shape (B, 3, H, W), as torch asks for it."""
        return self.say(self.along(self.rows(x)))


def prepared(pixels: torch.Tensor) -> torch.Tensor:
    """Input of the network; :func:`counter.counting.prediction.network_input` does the same without torch.

    Parameters
    ----------
    pixels : Tensor of shape (B, 3, ROWS, W), float
        sRGB, 0 to 1.

    Returns
    -------
    Tensor of shape (B, 4, ROWS, W), float
        Colour against the whole band, and lightness against its neighbourhood.
    """
    light = pixels.mean(1, keepdim=True)
    whole = (pixels - pixels.mean((1, 2, 3), keepdim=True)) / (
        pixels.std((1, 2, 3), keepdim=True, correction=0) + band.FAINTEST
    )
    reach = band.NEARBY // 2
    around = functional.pad(light, (reach,) * 4, mode="replicate")

    def blurred(picture):
        # First down, then along: a square of places at once takes seven times as long on a CPU.
        return functional.avg_pool2d(functional.avg_pool2d(picture, (band.NEARBY, 1), 1), (1, band.NEARBY), 1)

    mean, square = blurred(around), blurred(around**2)
    near = (light - mean) / (torch.sqrt((square - mean**2).clamp(min=0)) + band.FAINTEST)
    return torch.cat([whole, near], 1)
