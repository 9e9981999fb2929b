"""Stretches of a rim that don't show: places to ask about."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from counter.counting.loop.doubts import PlaceInDoubt

__all__ = ["with_hidden"]

#: The rim doesn't show where its chance to be in view is less than this, smoothed with this standard deviation in
#: stitch widths; so many stitch widths of it are a place to ask about (all guessed, with a look at how many
#: answers a person has to give, which ``rimtally evaluate`` measures).
VIEW_CHANCE, VIEW_SMOOTH_WIDTHS, LEAST_HIDDEN_WIDTHS = 0.5, 0.2, 0.6


def with_hidden(doubts: tuple[PlaceInDoubt, ...], in_view: np.ndarray, stitches: int) -> list[PlaceInDoubt]:
    """Places in doubt with the stretches of the rim that don't show, the longest first, behind the seam.

    Parameters
    ----------
    doubts : tuple of PlaceInDoubt
        Of the closed loop, most doubtful first.
    in_view : ndarray of shape (M,), float
        Chance that the rim is in view at each place, 0 to 1.
    stitches : int

    Returns
    -------
    list of PlaceInDoubt
    """
    places = len(in_view)
    pitch = places / stitches
    shut = ndimage.gaussian_filter1d(in_view, VIEW_SMOOTH_WIDTHS * pitch, mode="wrap") < VIEW_CHANCE
    first = [doubt for doubt in doubts if doubt.kind == "seam"]
    hidden: list[tuple[int, PlaceInDoubt]] = []
    if shut.any() and not shut.all():
        begin = int(np.argmin(shut))
        run, _ = ndimage.label(np.roll(shut, -begin))
        for (at,) in ndimage.find_objects(run):
            middle = (begin + (at.start + at.stop - 1) / 2) % places
            hidden.append((at.stop - at.start, PlaceInDoubt(float(middle), "hidden")))
    kept = first
    longest = [
        doubt for length, doubt in sorted(hidden, key=lambda one: -one[0]) if length >= LEAST_HIDDEN_WIDTHS * pitch
    ]
    for doubt in [*longest, *(doubt for doubt in doubts if doubt.kind != "seam")]:
        apart = [abs((doubt.place - other.place + places / 2) % places - places / 2) for other in kept]
        if all(far > pitch for far in apart):
            kept.append(doubt)
    return kept
