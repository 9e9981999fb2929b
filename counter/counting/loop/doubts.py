"""Places of a loop where a look may change the count."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy import ndimage

__all__ = ["NEAR_WIDTHS", "PlaceInDoubt", "mass_within", "places_in_doubt"]

#: A gap or mark is where it is said to be if it lies this near, as a share of the
#: stitch's width (the same share that matches a mark with its truth).
NEAR_WIDTHS = 0.35
#: A gap less probable than this, or a further one more probable than its
#: complement, is in doubt. Probabilities here are those before the temperature,
#: which makes 0.75 of 0.9.
CLEAR_PROBABILITY = 0.9
#: A stitch this much wider or narrower than the median of its neighbours is odd (a guess).
ODD_WIDTH_RATIO = 1.6
#: Neighbours on either side that an odd width is held against (a guess).
ODD_NEIGHBOURS = 3


class PlaceInDoubt(NamedTuple):
    """A place of the loop that a person should look at.

    Parameters
    ----------
    place : float
        Where, in places, [0, M).
    kind : str
        What is in doubt there, a key of :data:`counter.basics.answer.DOUBTS`.
    """

    place: float
    kind: str


def mass_within(chance: np.ndarray, at: np.ndarray, radius: np.ndarray) -> np.ndarray:
    """Sum of `chance` over the places within a radius (at least half a place) of each of some places."""
    places = len(chance)
    summed = np.concatenate([[0], np.cumsum(np.tile(chance, 3))])
    radius = np.maximum(radius, 0.5)
    low = np.ceil(at - radius).astype(int) + places
    high = np.floor(at + radius).astype(int) + places
    return summed[high + 1] - summed[low]


def places_in_doubt(
    gaps: np.ndarray, wide: np.ndarray, gap_clear: np.ndarray, gap_chance: np.ndarray, seen: np.ndarray
) -> tuple[PlaceInDoubt, ...]:
    """Places where a look may change the count, most doubtful first."""
    places, stitches = len(gap_chance), len(gaps)
    middle = gaps + wide / 2
    found: list[tuple[float, float, str]] = []

    view = mass_within(seen, middle, wide / 2) / (np.floor(middle + wide / 2) - np.ceil(middle - wide / 2) + 1)
    hidden = view < 0.5
    if hidden.all():
        found.append((1.0, middle[0], "all hidden"))
    elif hidden.any():
        # Begin behind a stitch in view, so that no run is cut at the loop's start.
        turned = np.roll(hidden, -int(np.argmin(hidden)))
        run, count = ndimage.label(turned)
        for r in range(1, count + 1):
            of = (np.flatnonzero(run == r) + int(np.argmin(hidden))) % stitches
            found.append((1.0, gaps[of[0]] + wide[of].sum() / 2, "hidden"))

    visible = ~hidden
    unclear = visible & np.roll(visible, 1) & (gap_clear < CLEAR_PROBABILITY)
    found += [(1 - gap_clear[i], gaps[i], "end") for i in np.flatnonzero(unclear)]

    further = mass_within(gap_chance, middle, wide * (0.5 - NEAR_WIDTHS))
    for i in np.flatnonzero(visible & (further > 1 - CLEAR_PROBABILITY)):
        found.append((min(further[i], 1.0), middle[i], "two"))

    if stitches > 2 * ODD_NEIGHBOURS:
        around = [np.roll(wide, shift) for shift in range(-ODD_NEIGHBOURS, ODD_NEIGHBOURS + 1) if shift]
        ratio = wide / np.median(around, axis=0)
        for i in np.flatnonzero(visible & (np.maximum(ratio, 1 / ratio) > ODD_WIDTH_RATIO)):
            # An odd width that the evidence is sure of is the least of doubts.
            found.append((0.0, middle[i], "wide" if ratio[i] > 1 else "narrow"))

    found.sort(key=lambda doubt: (-doubt[0], doubt[1]))
    kept: list[PlaceInDoubt] = []
    for _, place, kind in found:
        # One look covers a stitch and its neighbours.
        apart = [abs((place - other.place + places / 2) % places - places / 2) for other in kept]
        if all(a > places / stitches for a in apart):
            kept.append(PlaceInDoubt(float(place % places), kind))
    return tuple(kept)
