"""The two networks of the finder.

Both are small U-shaped convolutional networks (O. Ronneberger and others,
"U-Net: Convolutional networks for biomedical image segmentation", MICCAI 2015)
of residual blocks, in operations that OpenCV's dnn runs.
"""

from __future__ import annotations

import torch
from torch import nn

__all__ = ["PieceNet", "RimNet"]


def _conv(inside: int, outside: int, size: int = 3, stride: int | tuple[int, int] = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inside, outside, size, stride, size // 2, bias=False), nn.BatchNorm2d(outside), nn.ReLU(inplace=True)
    )


class _Block(nn.Module):
    def __init__(self, width: int) -> None:
        super().__init__()
        self.first = _conv(width, width)
        self.second = nn.Sequential(nn.Conv2d(width, width, 3, 1, 1, bias=False), nn.BatchNorm2d(width))

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return torch.relu(x + self.second(self.first(x)))


class _U(nn.Module):
    """Features at half the size of a picture, with sight of all of it."""

    def __init__(self, widths: tuple[int, ...], blocks: tuple[int, ...], strides: tuple[tuple[int, int], ...]) -> None:
        super().__init__()
        self.stem = _conv(3, widths[0], 5, 2)
        self.down = nn.ModuleList()
        for inside, outside, number, stride in zip(widths[:-1], widths[1:], blocks, strides, strict=True):
            self.down.append(
                nn.Sequential(_conv(inside, outside, 3, stride), *(_Block(outside) for _ in range(number)))
            )
        self.across = nn.ModuleList(_conv(width, widths[1], 1) for width in widths[1:-1])
        self.top = _conv(widths[-1], widths[1], 1)
        self.up = nn.ModuleList(_conv(widths[1], widths[1]) for _ in widths[1:-1])
        self.last = _conv(widths[1] + widths[0], widths[0] + 8)
        self.strides = strides

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        kept = [self.stem(x)]
        for stage in self.down:
            kept.append(stage(kept[-1]))
        y = self.top(kept[-1])
        for index in range(len(self.down) - 1, 0, -1):
            y = nn.functional.interpolate(y, scale_factor=tuple(map(float, self.strides[index])), mode="nearest")
            y = self.up[index - 1](y + self.across[index - 1](kept[index]))
        y = nn.functional.interpolate(y, scale_factor=tuple(map(float, self.strides[0])), mode="nearest")
        return self.last(torch.cat([y, kept[0]], dim=1))


class PieceNet(nn.Module):
    """Says of each pixel of a small copy whether it is a piece.

    Takes (B, 3, S, S), sRGB 0 to 1, S a multiple of 32; gives (B, 5, S / 2, S / 2), log-odds of body, edge,
    thing, loose yarn and centre ring.
    """

    OUTPUTS = ("body", "edge", "thing", "loose", "centre")

    def __init__(self) -> None:
        super().__init__()
        self.u = _U((20, 40, 72, 104, 128), (1, 2, 2, 2), ((2, 2),) * 4)
        self.head = nn.Conv2d(28, len(self.OUTPUTS), 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """What is said of pictures, as torch asks for it."""
        return self.head(self.u(x - 0.5))


class RimNet(nn.Module):
    """Says where the rim runs in a picture of it laid straight.

    Takes (B, 3, R, C), sRGB 0 to 1; gives (B, 2, R / 2, C / 2): log-odds (up to a constant in each column) that
    the rim runs in that row, and log-odds that it is in view there.
    """

    def __init__(self) -> None:
        super().__init__()
        self.u = _U((16, 28, 48, 64, 80), (1, 1, 2, 2), ((2, 2),) * 4)
        self.head = nn.Conv2d(24, 2, 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """What is said of pictures, as torch asks for it."""
        return self.head(self.u(x - 0.5))
