"""Colours of yarn and of things."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from counter.synthetic.surfaces import from_srgb

__all__ = ["luminance", "random_shade", "triple"]

#: Invented yarn shades, from white to near-black.
SHADES = (
    "#f4f1ea",
    "#e8dcc6",
    "#d8b98f",
    "#c98f5a",
    "#8a5a3a",
    "#4d3427",
    "#f2c14b",
    "#e0862f",
    "#c8452f",
    "#9e2436",
    "#e79ab0",
    "#c55f8e",
    "#7d4a8c",
    "#b9a6d8",
    "#5b6bb5",
    "#2f4f8f",
    "#1d2b4a",
    "#7fb3d5",
    "#3f8f9b",
    "#1f5f63",
    "#8fc1a1",
    "#5f8f4e",
    "#3d5a34",
    "#c3c76a",
    "#9aa0a6",
    "#5f666d",
    "#2b2d31",
    "#17171a",
    "#d5d8da",
    "#b5533c",
)


def random_shade(rng: np.random.Generator) -> np.ndarray:
    """A shade of yarn, linear RGB, shape (3,)."""
    base = from_srgb(str(rng.choice(SHADES)))
    base = base * np.exp(rng.normal(0, 0.12, 3)) * np.exp(rng.normal(0, 0.15))
    # Dyed fibre is never as pure as a screen colour, and light bounces in the yarn.
    return np.clip(0.86 * base + 0.14 * luminance(base), 0.006, 0.82)


def luminance(colour: np.ndarray) -> float:
    """Of a linear sRGB colour (Rec. ITU-R BT.709)."""
    return float(np.dot(colour, [0.2126, 0.7152, 0.0722]))


def triple(values: Sequence[float] | np.ndarray) -> tuple[float, float, float]:
    """A colour or a place as plain numbers, for what is kept and compared."""
    first, second, third = values
    return float(first), float(second), float(third)
