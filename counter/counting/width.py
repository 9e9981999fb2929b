"""How many stitches the rim holds, roughly: where to look closely.

The network is given the rim as if it held 7, 14, 28 ... stitches. At each of these
it predicts how the true width compares, so that the answers overlap; added up they
leave one or two numbers to go on from.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from counter.counting import band
from counter.counting.piece import Piece
from counter.counting.prediction import RimPrediction, predict_each

__all__ = ["RoughCount", "rough_counts", "supposable"]

#: Fewest and most stitches that are considered (ours).
FEWEST_STITCHES, MOST_STITCHES = 4, 140
#: Numbers of stitches at which the network is given the rim, an octave apart: each prediction reaches
#: over 1.2 octaves either way.
SUPPOSED_STITCHES = (7, 14, 28, 56, 112)
#: Narrowest stitch that can be told apart, in pixels of the picture (guessed).
NARROWEST_PX = 4.5
#: Chance that a place speaks of something else than stitches (guessed).
OUTLIER_CHANCE = 0.01
#: Nats a place that must speak for a number (wound yarn reaches 0.9; pieces of the development
#: set that were counted right had at least 1.1), and for a second one as a share of the first (guessed).
LEAST_SUPPORT_NATS, RIVAL_SHARE = 1.0, 0.4
#: Numbers between those supposed, for each octave.
STEPS_PER_OCTAVE = 25
#: A second number is named only where it is this far from the first, in octaves (guessed).
RIVAL_APART_OCTAVES = 0.6


class RoughCount(NamedTuple):
    """A number of stitches worth going on from.

    Parameters
    ----------
    stitches : float
        The number.
    support : float
        How much speaks for it, in nats a place.
    """

    stitches: float
    support: float


def rough_counts(pixels: np.ndarray, piece: Piece, centre: tuple[float, float]) -> list[RoughCount]:
    """Numbers of stitches worth going on from, best first, at most two.

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
    list of RoughCount
        Empty where nothing looks like a rim.
    """
    length = 2 * np.pi * piece.radius
    numbers = [number for number in SUPPOSED_STITCHES if length / number > NARROWEST_PX]
    octaves = np.arange(np.log2(FEWEST_STITCHES), np.log2(MOST_STITCHES), 1 / STEPS_PER_OCTAVE)
    support = _support(predict_each(pixels, piece, centre, [(number, False) for number in numbers[:-1]]), octaves)
    # The finest is as long as all the others together: it is left out where it can't change anything.
    if numbers and not _decided(support, octaves, numbers):
        support += _support(predict_each(pixels, piece, centre, [(numbers[-1], False)]), octaves)
    best = int(np.argmax(support))
    if support[best] < LEAST_SUPPORT_NATS:
        return []
    found = [RoughCount(float(2 ** octaves[best]), float(support[best]))]
    apart = np.where(np.abs(octaves - octaves[best]) >= RIVAL_APART_OCTAVES, support, -np.inf)
    second = int(np.argmax(apart))
    if apart[second] > RIVAL_SHARE * support[best]:
        found.append(RoughCount(float(2 ** octaves[second]), float(support[second])))
    return found


def _speaks_of(supposed: float, octaves: np.ndarray) -> np.ndarray:
    """Which numbers (log2) a prediction at one supposed number can tell of."""
    away = np.log2(supposed) - octaves
    return (away >= band.SCALES[0]) & (away <= band.SCALES[-1])


def _support(predictions: list[RimPrediction], octaves: np.ndarray) -> np.ndarray:
    """What predictions say for each number (log2), in nats a place."""
    support = np.zeros(len(octaves))
    for one in predictions:
        away = np.log2(one.supposed) - octaves
        chance = np.stack([np.interp(away, band.SCALES, row) for row in one.scale]) + OUTLIER_CHANCE
        told = (np.log(chance * len(band.SCALES)) * one.seen[:, None]).sum(axis=0) / max(one.seen.sum(), 1e-6)
        support += np.where(_speaks_of(one.supposed, octaves), told * one.in_view, 0)
    return support


def _decided(support: np.ndarray, octaves: np.ndarray, numbers: list[int]) -> bool:
    """True where the last of some predictions changes neither the best number nor a second one, whatever it says."""
    best = int(np.argmax(support))
    told = np.any([_speaks_of(number, octaves) for number in numbers[:-1]], axis=0)
    last = _speaks_of(numbers[-1], octaves)
    # Of numbers that only the last one tells of, the nearest that the others do has to stand for all.
    most = support[told & last] + np.log((1 + OUTLIER_CHANCE) * len(band.SCALES))
    return not last[best] and support[best] >= LEAST_SUPPORT_NATS and bool((most <= RIVAL_SHARE * support[best]).all())


def supposable(stitches: float) -> int:
    """The whole number of stitches to suppose for a rough one."""
    return int(np.clip(round(stitches), FEWEST_STITCHES, MOST_STITCHES))
