"""Evidence of a stitch at each place along the rim.

A small convolutional network looks at the band of the rim, laid straight at a
supposed stitch width, and says for each place how likely it is the middle of a
stitch or the gap between two, how far the supposed width is from the true one,
how deep the top loops lie, and whether there is a rim to see at all. The
weights come from :mod:`counter.training`; OpenCV runs them on the CPU.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy import ndimage, special

from counter.counting import band
from counter.counting.model import card_of, predicted
from counter.counting.piece import Piece
from counter.counting.unwrap import rim_places, unwrap

__all__ = ["FINE", "Braid", "follow", "look", "look_again", "looks", "prepared"]

#: The band closes on itself: so many stitches are shown again on either side, as
#: far as the network sees along the rim.
AGAIN = 8
#: Supposed width as a factor, and mirrored or not, of looks whose errors differ.
LOOKS = ((1.0, False), (1.0, True), (0.92, False), (1.08, True))
#: The depth of the top loops is smoothed over this many stitches, and trusted in
#: full where at least this share of them is in view.
SMOOTH, ENOUGH = 1.2, 0.3
#: What several looks agree on needs less smoothing (stitches): enough against the steps
#: between places, and the step of a spiral at its seam stays.
FINE = 0.2


@dataclass(frozen=True, eq=False)
class Braid:
    """What is seen along the rim at one supposed stitch width.

    Parameters
    ----------
    supposed : float
        Stitches on the rim that were supposed.
    middle, gap : ndarray of shape (M,), float
        Log-odds that the place is the middle of a stitch, or the gap between two.
    seam, pair, seen : ndarray of shape (M,), float
        Chance that the round starts there, that two stitches share a base, and
        that there is a rim in view, 0 to 1.
    depth : ndarray of shape (M,), float
        Depth of the middle of the top loops below the outline, in stitch widths.
    scale : ndarray of shape (M, len(band.SCALES)), float
        Chance of each log2 of the true over the supposed width.
    """

    supposed: float
    middle: np.ndarray
    gap: np.ndarray
    seam: np.ndarray
    pair: np.ndarray
    seen: np.ndarray
    depth: np.ndarray
    scale: np.ndarray

    def __post_init__(self) -> None:
        for array in (self.middle, self.gap, self.seam, self.pair, self.seen, self.depth, self.scale):
            array.flags.writeable = False

    @property
    def in_view(self) -> float:
        """Share of the rim that is in view, 0 to 1."""
        return float(self.seen.mean())


def prepared(pixels: np.ndarray) -> np.ndarray:
    """Input of the network.

    Parameters
    ----------
    pixels : ndarray of shape (ROWS, W, 3), uint8
        A band, sRGB.

    Returns
    -------
    ndarray of shape (1, 4, ROWS, W), float32
        Colour against the whole band, and lightness against its neighbourhood.
    """
    colour = pixels.astype(np.float32) / 255
    light = colour.mean(axis=2)
    whole = (colour - colour.mean()) / (colour.std() + band.FAINTEST)
    size = (band.NEARBY, band.NEARBY)
    mean = cv2.blur(light, size, borderType=cv2.BORDER_REPLICATE)
    square = cv2.blur(light**2, size, borderType=cv2.BORDER_REPLICATE)
    near = (light - mean) / (np.sqrt(np.maximum(square - mean**2, 0)) + band.FAINTEST)
    return np.concatenate([whole.transpose(2, 0, 1), near[None]])[None].astype(np.float32)


def look(
    pixels: np.ndarray, piece: Piece, centre: tuple[float, float], supposed: int, *, mirrored: bool = False
) -> Braid:
    """Look at the rim for stitches of one supposed width.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.
    piece : Piece
        The piece in it.
    centre : tuple of float
        (x, y) of the centre ring, in pixels.
    supposed : int
        Supposed number of stitches on the rim.
    mirrored : bool, optional
        Look at it in a mirror; what is seen is the same but for errors.

    Returns
    -------
    Braid
        M = PLACES * supposed.
    """
    return _seen(_laid(pixels, piece, centre, supposed), supposed, mirrored)


def looks(
    pixels: np.ndarray, piece: Piece, centre: tuple[float, float], ways: Sequence[tuple[int, bool]]
) -> list[Braid]:
    """Look at the rim several times, as in :func:`look`.

    Parameters
    ----------
    pixels, piece, centre
        As in :func:`look`.
    ways : sequence of (int, bool)
        Supposed number of stitches, and mirrored or not, of each look.

    Returns
    -------
    list of Braid
    """
    # A band is laid straight by the other core while the network looks at the one before.
    with ThreadPoolExecutor(1) as beside:
        numbers = dict.fromkeys(number for number, _ in ways)
        laid = {number: beside.submit(_laid, pixels, piece, centre, number) for number in numbers}
        return [_seen(laid[number].result(), number, mirrored) for number, mirrored in ways]


def _laid(pixels: np.ndarray, piece: Piece, centre: tuple[float, float], supposed: int) -> np.ndarray:
    """The band of the rim, with the first and last stitches shown again behind the others' ends."""
    strip = unwrap(pixels, piece, centre, band.depths(supposed), band.PIXELS * supposed).pixels
    again = band.PIXELS * AGAIN
    return np.take(strip, np.arange(-again, strip.shape[1] + again), axis=1, mode="wrap")


def _seen(closed: np.ndarray, supposed: int, mirrored: bool) -> Braid:
    """What the network says of a band."""
    again = band.PIXELS * AGAIN
    turned = slice(None, None, -1 if mirrored else 1)
    given = prepared(np.ascontiguousarray(closed[:, turned]))
    said = predicted("band", given)
    said = said[0, :, 0, again // band.STRIDE : -again // band.STRIDE].astype(float)[:, turned]
    said = dict(zip(card_of("band")["channels"], said, strict=True))
    scale = np.stack([value for name, value in said.items() if name.startswith("scale")], axis=1)
    return Braid(
        supposed=supposed,
        middle=said["middle"],
        gap=said["gap"],
        seam=special.expit(said["seam"]),
        pair=special.expit(said["pair"]),
        seen=special.expit(said["seen"]),
        depth=said["depth"],
        scale=special.softmax(scale, axis=1),
    )


def look_again(
    pixels: np.ndarray, piece: Piece, centre: tuple[float, float], supposed: int, *, known: Braid | None = None
) -> Braid:
    """Look at the rim several times, a little differently, and take the mean of what is seen.

    Parameters
    ----------
    pixels, piece, centre, supposed
        As in :func:`look`.
    known : Braid, optional
        A look at this piece, not mirrored, which is not taken again.

    Returns
    -------
    Braid
        M = PLACES * supposed.
    """
    wanted = (np.arange(band.PLACES * supposed) + 0.5) / (band.PLACES * supposed)
    sums: dict[str, np.ndarray] = {}
    ways = [(max(3, round(supposed * factor)), mirrored) for factor, mirrored in LOOKS]
    taken = {(known.supposed, False): known} if known else {}
    new = [way for way in ways if way not in taken]
    taken.update(zip(new, looks(pixels, piece, centre, new), strict=True))
    for number, mirrored in ways:
        seen = taken[number, mirrored]
        places = (np.arange(band.PLACES * number) + 0.5) / (band.PLACES * number)
        # Widths and depths are told in stitch widths of each look's own supposition.
        own = {"depth": seen.depth * supposed / number, "scale": _shifted(seen.scale, np.log2(supposed / number))}
        for name in ("middle", "gap", "seam", "pair", "seen", "depth", "scale"):
            values = own.get(name, getattr(seen, name)).reshape(len(places), -1)
            at = np.column_stack([np.interp(wanted, places, column, period=1) for column in values.T])
            sums[name] = sums.get(name, 0) + at / len(LOOKS)
    return Braid(supposed, **{name: values if name == "scale" else values[:, 0] for name, values in sums.items()})


def _shifted(scale: np.ndarray, octaves: float) -> np.ndarray:
    """Chances of each scale, for a supposition that differs by some octaves."""
    moved = np.stack([np.interp(band.SCALES - octaves, band.SCALES, row) for row in scale])
    return moved / np.maximum(moved.sum(axis=1, keepdims=True), 1e-9)


def follow(piece: Piece, centre: tuple[float, float], seen: Braid, *, smooth: float = SMOOTH) -> Piece:
    """The piece with its outline moved to where the top loops were seen.

    Parameters
    ----------
    piece : Piece
        As it was looked at.
    centre : tuple of float
        As it was looked at.
    seen : Braid
        What was seen.
    smooth : float, optional
        Stitches over which the depth of the top loops is smoothed.

    Returns
    -------
    Piece
        Its top loops lie :data:`counter.counting.band.MARK_DEPTH` stitch widths below the
        outline, which has one point for each place that was seen.
    """
    rim = rim_places(piece, len(seen.depth))
    spread = smooth * band.PLACES
    weight = ndimage.gaussian_filter1d(seen.seen, spread, mode="wrap") + 1e-6
    local = ndimage.gaussian_filter1d(seen.depth * seen.seen, spread, mode="wrap") / weight
    usual = (seen.depth * seen.seen).sum() / (seen.seen.sum() + 1e-6)
    # Where little of the rim is in view, it goes on as elsewhere.
    trust = np.clip(weight / ENOUGH, 0, 1)
    deeper = trust * local + (1 - trust) * usual - band.MARK_DEPTH
    inward = np.asarray(centre) - rim
    return replace(piece, outline=rim + (deeper * 2 * np.pi / seen.supposed)[:, None] * inward)
