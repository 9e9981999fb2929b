"""A photo read: its piece, its rim, and what the network predicts along it; nothing is counted yet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from counter.basics import words
from counter.basics.answer import Refusal
from counter.basics.photo import Photo, Picture, read_photo
from counter.counting.piece import Piece
from counter.counting.pieces import WorkedPiece, find_worked
from counter.counting.prediction import RimPrediction, predict_augmented
from counter.counting.rim import SHOWN_SMOOTH_STITCHES, in_view_of, refine_outline, trace_rim

__all__ = ["Reading", "read_rim"]

#: Least share of the rim that must be in view (guessed).
LEAST_IN_VIEW_SHARE = 0.3
#: Least pixels a stitch along the rim: below it single stitches don't show. Below ten even a careful person is
#: unsure by one or two (seen on photos).
LEAST_PITCH_PX = 7.0
#: Where a stitch has fewer pixels than this in the picture that is looked at, the photo itself is looked at, if it
#: has more; where no stitch was seen, at pieces of less than this radius (both guessed).
SMALL_PITCH_PX, SMALL_RADIUS_PX = 12.0, 150.0
#: How much round the piece is shown then, in its radii: the band reaches a stitch beyond the rim.
MARGIN_RADII = 0.5


@dataclass(frozen=True, eq=False)
class Reading:
    """A piece in a photo, its rim, and what the network predicts along it.

    Parameters
    ----------
    photo : Photo
    laid : Piece
        With its outline along the top loops, in pixels of the working picture; this is the line that is looked along.
    outline : ndarray of shape (K, 2), float
        The rim as it is shown: along what all predictions agree on, smoothed less, in pixels of the working picture.
    centre : tuple of float
        (x, y) of the centre ring, in pixels of the working picture.
    body : ndarray of shape (rows, columns, 3), uint8
        The piece laid straight, see :func:`counter.counting.rounds.body_strip`.
    one_width : bool
        The rough look names one width of a stitch, not two.
    seen : RimPrediction
        Along `laid`.
    """

    photo: Photo
    laid: Piece
    outline: np.ndarray
    centre: tuple[float, float]
    body: np.ndarray
    one_width: bool
    seen: RimPrediction


def read_rim(
    photo: Photo | Picture,
    *,
    around: tuple[float, float, float] | None = None,
    number: int | None = None,
    on_seen: Callable[[np.ndarray], None] | None = None,
) -> Reading | Refusal:
    """Find the piece and look at its rim; nothing is counted yet.

    Parameters
    ----------
    photo, around, number, on_seen
        As for :func:`count_photo`.

    Returns
    -------
    Reading or Refusal

    Raises
    ------
    TypeError, ValueError
        As :func:`count_photo`.
    """
    read = photo if isinstance(photo, Photo) else read_photo(photo)
    if isinstance(read, Refusal):
        return read
    pixels, shrink = read.working, read.shrink
    shown = None
    if around is not None:
        x, y, radius = (float(value) for value in around)
        if not (-radius < x < read.width + radius and -radius < y < read.height + radius):
            raise ValueError(f"the ring lies outside of the photo, which has {read.width} x {read.height} pixels")
        shown = (x / shrink, y / shrink, radius / shrink)
    worked = find_worked(pixels, around=shown, number=number)
    if isinstance(worked, Refusal):
        return replace(worked, outlines=tuple(outline * shrink for outline in worked.outlines))
    outlines = (worked.piece.outline * shrink,)
    if on_seen:
        on_seen(outlines[0])
    rim, view = trace_rim(pixels, worked), _View(pixels, 1.0, np.zeros(2))
    small = worked.piece.radius < SMALL_RADIUS_PX if rim is None else rim.pitch_px < SMALL_PITCH_PX
    if shrink > 1 and small:
        # Of so small stitches the photo itself shows more than the copy that is looked at.
        view = _original_round(read, worked.piece)
        rim = trace_rim(view.pixels, view.entered(worked))
    if rim is not None and rim.pitch_px < LEAST_PITCH_PX:
        return Refusal("too small", words.PIXELS_A_STITCH.format(pitch=rim.pitch_px), outlines)
    unread = Refusal("no stitches", "", outlines)
    if rim is None:
        return unread
    laid = view.left(rim.piece)
    if on_seen:
        on_seen(laid.outline * shrink)
    prediction = predict_augmented(view.pixels, rim.piece, rim.centre, rim.stitches, known=rim.prediction)
    prediction = in_view_of(prediction, rim.piece, view.entered(worked))
    if prediction.in_view < LEAST_IN_VIEW_SHARE:
        return unread
    shown_piece = refine_outline(rim.piece, rim.centre, prediction, smooth_stitches=SHOWN_SMOOTH_STITCHES)
    return Reading(read, laid, view.left(shown_piece).outline, worked.centre, worked.body, rim.one_width, prediction)


@dataclass(frozen=True, eq=False)
class _View:
    """A picture of a piece, and where the working picture lies in it: at `factor` times its places plus `shift`."""

    pixels: np.ndarray
    factor: float
    shift: np.ndarray

    def entered(self, worked: WorkedPiece) -> WorkedPiece:
        """A piece of the working picture, as it lies in the view."""
        x, y = self.factor * np.asarray(worked.centre) + self.shift
        return replace(worked, piece=worked.piece.scaled(self.factor, self.shift), centre=(float(x), float(y)))

    def left(self, piece: Piece) -> Piece:
        """A piece of the view, as it lies in the working picture."""
        return piece if self.factor == 1 else piece.scaled(1 / self.factor, -self.shift / self.factor)


def _original_round(photo: Photo, piece: Piece) -> _View:
    """The part of the photo, at its full size, that holds a piece."""
    factor = photo.shrink
    # Pixels are squares: the middle of the first one of the copy lies in the middle of those that it was made from.
    shift = np.full(2, (factor - 1) / 2)
    own = piece.scaled(factor, shift)
    margin = MARGIN_RADII * own.radius
    low = np.clip(np.floor(own.outline.min(axis=0) - margin), 0, None).astype(int)
    high = np.ceil(own.outline.max(axis=0) + margin).astype(int)
    return _View(photo.pixels[low[1] : high[1], low[0] : high[0]], factor, shift - low)
