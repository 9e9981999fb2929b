"""A photo read: its piece, its rim, and what the network predicts along it; nothing is counted yet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from counter.basics.answer import Refusal
from counter.basics.photo import Photo, Picture, read_photo
from counter.counting.piece import Piece
from counter.counting.pieces import find_worked
from counter.counting.prediction import RimPrediction, predict_augmented
from counter.counting.rim import SHOWN_SMOOTH_STITCHES, refine_outline, trace_rim

__all__ = ["Reading", "read_rim"]

#: Least share of the rim that must be in view (guessed).
LEAST_IN_VIEW_SHARE = 0.3


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
    if on_seen:
        on_seen(worked.piece.outline * shrink)
    unread = Refusal("no stitches", "", (worked.piece.outline * shrink,))
    rim = trace_rim(pixels, worked)
    if rim is None:
        return unread
    if on_seen:
        on_seen(rim.piece.outline * shrink)
    prediction = predict_augmented(pixels, rim.piece, rim.centre, rim.stitches, known=rim.prediction)
    if prediction.in_view < LEAST_IN_VIEW_SHARE:
        return unread
    shown_line = refine_outline(rim.piece, rim.centre, prediction, smooth_stitches=SHOWN_SMOOTH_STITCHES).outline
    return Reading(read, rim.piece, shown_line, rim.centre, worked.body, rim.one_width, prediction)
