"""The rim laid straight, for counting along it.

Made once for each photo; rim_strip.js shows it, with the marks as they stand
and the round's first mark at its left end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from counter.basics.answer import Count
from counter.basics.photo import Photo
from counter.counting.unwrap import evenly, lay_straight, to_strip
from counter.page.show import data_address

__all__ = ["RimStrip", "lay_rim_straight"]

#: How far it reaches outside the rim and towards the centre, in stitch widths: the top
#: loops lie a third of a width inside, and below them about the height of a stitch.
OUTSIDE_STITCHES, INSIDE_STITCHES = 0.75, 1.75
#: Stitches that a rim without marks is laid straight for: room for a finger between those of a large round.
BY_HAND_STITCHES = 60
#: Most pixels from one stitch to the next, and along the whole strip.
MOST_STITCH_PX, MOST_STRIP_PX = 64, 6000


@dataclass(frozen=True)
class RimStrip:
    """A picture of the rim, and the map between it and the photo.

    It is the photo turned, never its mirror image: work to the left, seen from
    the centre, would run to the right with the braid on top. So where the marks
    run counter-clockwise, the braid lies at the bottom.

    Parameters
    ----------
    picture : str
        A JPEG as a data address.
    rim : tuple of (float, float)
        The rim as a closed line, (x, y) in pixels of the photo, in working
        order. The picture begins at its first point, in the middle between the
        last mark and the first, and is as long as the line, at one scale.
    stitch : float
        From one stitch to the next, in pixels of the photo.
    depths : tuple of float
        Depth of the picture's top and bottom edge, as in :mod:`counter.counting.unwrap`.
    """

    picture: str
    rim: tuple[tuple[float, float], ...]
    stitch: float
    depths: tuple[float, float]


def lay_rim_straight(photo: Photo, count: Count) -> RimStrip:
    """Lay the rim of a counted photo straight.

    Parameters
    ----------
    photo : Photo
    count : Count
        Its count; one without marks is laid in the order of right-handed work, from twelve o'clock on.

    Returns
    -------
    RimStrip
    """
    centre = count.centre
    if len(count.marks):
        steps = np.linalg.norm(np.roll(count.marks, -1, axis=0) - count.marks, axis=1)
        stitch = float(np.median(steps))
        rim, clockwise = _in_working_order(count.outline, centre, count.marks)
    else:
        rim, clockwise = _from_twelve(count.outline, centre), False
        stitch = float(np.linalg.norm(np.roll(rim, -1, axis=0) - rim, axis=1).sum()) / BY_HAND_STITCHES
    width = stitch / float(np.linalg.norm(rim - centre, axis=1).mean())
    depths = (
        (-OUTSIDE_STITCHES * width, INSIDE_STITCHES * width)
        if clockwise
        else (INSIDE_STITCHES * width, -OUTSIDE_STITCHES * width)
    )
    length = np.linalg.norm(np.roll(rim, -1, axis=0) - rim, axis=1).sum()
    scale = min(1.0, MOST_STITCH_PX / stitch, MOST_STRIP_PX / length)
    rows = max(1, round((OUTSIDE_STITCHES + INSIDE_STITCHES) * stitch * scale))
    columns = max(1, round(length * scale))
    middles = depths[0] + (np.arange(rows) + 0.5) / rows * (depths[1] - depths[0])
    line, middle, pixels = evenly(rim, columns), centre, photo.pixels
    if scale * photo.shrink <= 1:
        # The smaller copy shows as much, and is there already.
        line, pixels = (line + 0.5) / photo.shrink - 0.5, photo.working
        middle = (centre[0] + 0.5) / photo.shrink - 0.5, (centre[1] + 0.5) / photo.shrink - 0.5
    straight = lay_straight(pixels, line, middle, middles)
    return RimStrip(data_address(straight), tuple((float(x), float(y)) for x, y in rim), stitch, depths)


def _from_twelve(outline: np.ndarray, centre: tuple[float, float]) -> np.ndarray:
    """The outline counter-clockwise from the point that is nearest to twelve o'clock."""
    away = outline - centre
    start = int(np.argmax(-away[:, 1] / np.linalg.norm(away, axis=1)))
    return np.roll(outline, -start - 1, axis=0)[::-1]


def _in_working_order(outline: np.ndarray, centre: tuple[float, float], marks: np.ndarray) -> tuple[np.ndarray, bool]:
    """The outline from between the last mark and the first on, and whether the marks run clockwise like it."""
    around = len(outline)
    places, _ = to_strip(outline, centre, marks)
    steps = np.mod(np.roll(places, -1) - places, around)
    clockwise = bool(np.median(steps) < around / 2)
    seam = steps[-1] if clockwise else steps[-1] - around
    start = np.mod(places[-1] + seam / 2, around)
    before = int(start) % around
    share = start - int(start)
    rolled = np.roll(outline, -before, axis=0)
    first = rolled[0] + share * (rolled[1 % around] - rolled[0])
    rim = np.vstack([first, rolled[1:], rolled[:1]])
    return (rim if clockwise else np.vstack([first, rim[:0:-1]])), clockwise
