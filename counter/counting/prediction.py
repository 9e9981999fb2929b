"""What the network predicts for each place along a rim.

A small convolutional network is given the band of the rim, laid straight at a
supposed stitch width, and predicts for each place how likely it is the middle
of a stitch or the gap between two, how far the supposed width is from the true
one, how deep the top loops lie, and whether there is a rim in view at all. The
weights come from :mod:`counter.training`; OpenCV runs them on the CPU.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from scipy import special

from counter.counting import band
from counter.counting.model import card_of, predicted
from counter.counting.piece import Piece
from counter.counting.unwrap import unwrap

__all__ = ["RimPrediction", "network_input", "predict", "predict_augmented", "predict_each"]

#: The band closes on itself: so many stitches are shown again on either side, as
#: far as the network sees along the rim.
WRAP_STITCHES = 8
#: Supposed width as a factor, and mirrored or not, of predictions whose errors differ
#: (test-time augmentation). Guessed: what each adds is measured by
#: ``python tests/benchmarks/ablation.py FOLDER``.
AUGMENTATIONS = ((1.0, False), (1.0, True), (0.92, False), (1.08, True))


@dataclass(frozen=True, eq=False)
class RimPrediction:
    """What is predicted along the rim at one supposed stitch width.

    Parameters
    ----------
    supposed : int
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

    supposed: int
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

    @property
    def stitches_by_width(self) -> float:
        """Number of stitches by the predicted widths alone: the mean density where the rim is in view."""
        density = 2.0 ** -(self.scale @ band.SCALES)
        weight = self.seen + 1e-3
        return float(self.supposed * (density * weight).sum() / weight.sum())


def network_input(pixels: np.ndarray) -> np.ndarray:
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


def predict(
    pixels: np.ndarray, piece: Piece, centre: tuple[float, float], supposed: int, *, mirrored: bool = False
) -> RimPrediction:
    """Predict the stitches of a rim at one supposed width.

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
        Show it in a mirror; what is predicted is the same but for errors.

    Returns
    -------
    RimPrediction
        M = PLACES * supposed.
    """
    return _predicted(_laid(pixels, piece, centre, supposed), supposed, mirrored)


def predict_each(
    pixels: np.ndarray, piece: Piece, centre: tuple[float, float], views: Sequence[tuple[int, bool]]
) -> list[RimPrediction]:
    """Predict at several supposed widths, each as :func:`predict` does.

    Parameters
    ----------
    pixels, piece, centre
        As in :func:`predict`.
    views : sequence of (int, bool)
        Supposed number of stitches, and mirrored or not, of each.

    Returns
    -------
    list of RimPrediction
    """
    # A band is laid straight by the other core while the network looks at the one before.
    with ThreadPoolExecutor(1) as beside:
        numbers = dict.fromkeys(number for number, _ in views)
        laid = {number: beside.submit(_laid, pixels, piece, centre, number) for number in numbers}
        return [_predicted(laid[number].result(), number, mirrored) for number, mirrored in views]


def _laid(pixels: np.ndarray, piece: Piece, centre: tuple[float, float], supposed: int) -> np.ndarray:
    """The band of the rim, with the first and last stitches shown again behind the others' ends."""
    strip = unwrap(pixels, piece, centre, band.depths(supposed), band.PIXELS * supposed).pixels
    again = band.PIXELS * WRAP_STITCHES
    return np.take(strip, np.arange(-again, strip.shape[1] + again), axis=1, mode="wrap")


def _predicted(closed: np.ndarray, supposed: int, mirrored: bool) -> RimPrediction:
    """What the network predicts for a band."""
    again = band.PIXELS * WRAP_STITCHES
    turned = slice(None, None, -1 if mirrored else 1)
    given = network_input(np.ascontiguousarray(closed[:, turned]))
    output = predicted("band", given)
    output = output[0, :, 0, again // band.STRIDE : -again // band.STRIDE].astype(float)[:, turned]
    channel = dict(zip(card_of("band")["channels"], output, strict=True))
    scale = np.stack([value for name, value in channel.items() if name.startswith("scale")], axis=1)
    return RimPrediction(
        supposed=supposed,
        middle=channel["middle"],
        gap=channel["gap"],
        seam=special.expit(channel["seam"]),
        pair=special.expit(channel["pair"]),
        seen=special.expit(channel["seen"]),
        depth=channel["depth"],
        scale=special.softmax(scale, axis=1),
    )


def predict_augmented(
    pixels: np.ndarray, piece: Piece, centre: tuple[float, float], supposed: int, *, known: RimPrediction | None = None
) -> RimPrediction:
    """Predict several times from views that differ a little, and take the mean (test-time augmentation).

    Parameters
    ----------
    pixels, piece, centre, supposed
        As in :func:`predict`.
    known : RimPrediction, optional
        A prediction for this piece, not mirrored, which is not made again.

    Returns
    -------
    RimPrediction
        M = PLACES * supposed.
    """
    wanted = _middles_of_places(supposed)
    views = [(max(3, round(supposed * factor)), mirrored) for factor, mirrored in AUGMENTATIONS]
    made = {(known.supposed, False): known} if known else {}
    new = [view for view in views if view not in made]
    made.update(zip(new, predict_each(pixels, piece, centre, new), strict=True))
    names = ("middle", "gap", "seam", "pair", "seen", "depth", "scale")
    sums = {name: np.zeros((len(wanted), len(band.SCALES) if name == "scale" else 1)) for name in names}
    for number, mirrored in views:
        one = made[number, mirrored]
        places = _middles_of_places(number)
        # Widths and depths are told in stitch widths of each view's own supposition.
        own = {"depth": one.depth * supposed / number, "scale": _shifted(one.scale, float(np.log2(supposed / number)))}
        for name in names:
            values = own.get(name, getattr(one, name)).reshape(len(places), -1)
            at = np.column_stack([np.interp(wanted, places, column, period=1) for column in values.T])
            sums[name] += at / len(AUGMENTATIONS)
    return RimPrediction(supposed, **{name: sums[name] if name == "scale" else sums[name][:, 0] for name in names})


def _middles_of_places(supposed: int) -> np.ndarray:
    """Where the middle of each place lies, as a share of the way round."""
    return (np.arange(band.PLACES * supposed) + 0.5) / (band.PLACES * supposed)


def _shifted(scale: np.ndarray, octaves: float) -> np.ndarray:
    """Chances of each scale, for a supposition that differs by some octaves."""
    moved = np.stack([np.interp(band.SCALES - octaves, band.SCALES, row) for row in scale])
    return moved / np.maximum(moved.sum(axis=1, keepdims=True), 1e-9)
