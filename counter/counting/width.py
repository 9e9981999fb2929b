"""How many stitches the rim holds, roughly: where to look closely.

The rim is looked at as if it held 7, 14, 28 ... stitches. At each of these the
network says how the true width compares, so that the answers overlap; added up
they leave one or two numbers that a closer look goes on from.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from counter.counting import band
from counter.counting.braid import Braid, looks
from counter.counting.piece import Piece

__all__ = ["Rough", "find_width", "refined"]

#: Fewest and most stitches that are looked for.
FEWEST, MOST = 4, 140
#: Numbers of stitches at which the rim is looked at.
LOOKS = (7, 14, 28, 56, 112)
#: Narrowest stitch that can be told apart, in photo pixels.
NARROWEST = 4.5
#: Chance that a place speaks of something else than stitches.
ASTRAY = 0.01
#: Nats a place that must speak for a number (wound yarn reaches 0.9; pieces that
#: were counted right had at least 1.1), and for a second one as a share of the first.
LEAST_SUPPORT, RIVAL = 1.0, 0.4
#: Numbers between those looked at, for each octave.
FINENESS = 25
#: A second number is named only where it is this far from the first, in octaves.
APART = 0.6


class Rough(NamedTuple):
    """A number of stitches worth a closer look.

    Parameters
    ----------
    stitches : float
        The number.
    support : float
        How much speaks for it, in nats a place.
    """

    stitches: float
    support: float


def find_width(pixels: np.ndarray, piece: Piece, centre: tuple[float, float]) -> list[Rough]:
    """Numbers of stitches worth a closer look, best first, at most two.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.
    piece : Piece
        The piece in it.
    centre : tuple of float
        (x, y) of the centre ring, in pixels.

    Returns
    -------
    list of Rough
        Empty where nothing looks like a rim.
    """
    length = 2 * np.pi * piece.radius
    numbers = [number for number in LOOKS if length / number > NARROWEST]
    octaves = np.arange(np.log2(FEWEST), np.log2(MOST), 1 / FINENESS)
    support = _support(looks(pixels, piece, centre, [(number, False) for number in numbers[:-1]]), octaves)
    # The finest look is as long as all the others together: it is left out where it can't change anything.
    if numbers and not _decided(support, octaves, numbers):
        support += _support(looks(pixels, piece, centre, [(numbers[-1], False)]), octaves)
    best = int(np.argmax(support))
    if support[best] < LEAST_SUPPORT:
        return []
    found = [Rough(float(2 ** octaves[best]), float(support[best]))]
    apart = np.where(np.abs(octaves - octaves[best]) >= APART, support, -np.inf)
    second = int(np.argmax(apart))
    if apart[second] > RIVAL * support[best]:
        found.append(Rough(float(2 ** octaves[second]), float(support[second])))
    return found


def _speaks_of(supposed: float, octaves: np.ndarray) -> np.ndarray:
    """Which numbers (log2) a look at one supposed number can tell of."""
    away = np.log2(supposed) - octaves
    return (away >= band.SCALES[0]) & (away <= band.SCALES[-1])


def _support(seen: list[Braid], octaves: np.ndarray) -> np.ndarray:
    """What looks say for each number (log2), in nats a place."""
    support = np.zeros(len(octaves))
    for one in seen:
        away = np.log2(one.supposed) - octaves
        chance = np.stack([np.interp(away, band.SCALES, row) for row in one.scale]) + ASTRAY
        told = (np.log(chance * len(band.SCALES)) * one.seen[:, None]).sum(axis=0) / max(one.seen.sum(), 1e-6)
        support += np.where(_speaks_of(one.supposed, octaves), told * one.in_view, 0)
    return support


def _decided(support: np.ndarray, octaves: np.ndarray, numbers: list[int]) -> bool:
    """True where the last of some looks changes neither the best number nor a second one, whatever it says."""
    best = int(np.argmax(support))
    told = np.any([_speaks_of(number, octaves) for number in numbers[:-1]], axis=0)
    last = _speaks_of(numbers[-1], octaves)
    # Of numbers that only the last look tells of, the nearest that the others do has to stand for all.
    most = support[told & last] + np.log((1 + ASTRAY) * len(band.SCALES))
    return not last[best] and support[best] >= LEAST_SUPPORT and bool((most <= RIVAL * support[best]).all())


def refined(seen: Braid) -> float:
    """Number of stitches by what a look says of their widths.

    Parameters
    ----------
    seen : Braid

    Returns
    -------
    float
        The mean of the local density of stitches, where the rim is in view.
    """
    density = 2.0 ** -(seen.scale @ band.SCALES)
    weight = seen.seen + 1e-3
    return float(seen.supposed * (density * weight).sum() / weight.sum())
