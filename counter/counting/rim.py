"""The rim of a piece, laid along the top loops of its stitches.

First the rim is asked roughly how many stitches it holds, then the network is
given the rim at that width and says how deep the top loops lie; the outline is
moved there, and the network is given the new rim once more at its own width.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage
from scipy.spatial.distance import cdist

from counter.counting import band
from counter.counting.piece import Piece
from counter.counting.pieces import WorkedPiece
from counter.counting.prediction import RimPrediction, predict
from counter.counting.unwrap import length_of, rim_places
from counter.counting.width import rough_counts, supposable

__all__ = ["SHOWN_SMOOTH_STITCHES", "Rim", "in_view_of", "refine_outline", "trace_rim"]

#: The depth of the top loops is smoothed over this many stitches (guessed), and trusted in
#: full where at least this share of them is in view (guessed).
SMOOTH_STITCHES, LEAST_SHARE_IN_VIEW = 1.2, 0.3
#: What several predictions agree on needs less smoothing: enough against the steps between
#: places, and the step of a spiral at its seam stays. Chosen by the share of rims followed,
#: which ``rimtally evaluate FOLDER`` measures.
SHOWN_SMOOTH_STITCHES = 0.2


@dataclass(frozen=True, eq=False)
class Rim:
    """A rim along its top loops.

    Parameters
    ----------
    piece : Piece
        With its outline along the top loops, in pixels of the picture.
    centre : tuple of float
        (x, y) of the centre ring, in pixels of the picture.
    one_width : bool
        The rough look names one width of a stitch, not two.
    prediction : RimPrediction
        Of this very rim, at its own width.
    """

    piece: Piece
    centre: tuple[float, float]
    one_width: bool
    prediction: RimPrediction

    @property
    def stitches(self) -> int:
        """The whole number of stitches that its widths say, roughly."""
        return supposable(self.prediction.stitches_by_width)

    @property
    def pitch_px(self) -> float:
        """Width of one of so many stitches along the rim, in pixels of the picture."""
        return length_of(self.piece.outline) / self.stitches


def trace_rim(pixels: np.ndarray, worked: WorkedPiece) -> Rim | None:
    """Lay the rim of a piece along its top loops.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB picture.
    worked : WorkedPiece
        The piece in it.

    Returns
    -------
    Rim or None
        None where nothing looks like a rim.
    """
    piece, centre = worked.piece, worked.centre
    rough = rough_counts(pixels, piece, centre)
    if not rough:
        return None
    first = in_view_of(predict(pixels, piece, centre, supposable(rough[0].stitches)), piece, worked)
    refined = refine_outline(piece, centre, first)
    own = predict(pixels, refined, centre, supposable(first.stitches_by_width))
    return Rim(refined, centre, len(rough) == 1, in_view_of(own, refined, worked))


def in_view_of(prediction: RimPrediction, line: Piece, worked: WorkedPiece) -> RimPrediction:
    """A prediction that says nothing of places that the finder had to bridge: a fingertip may look like a rim.

    Parameters
    ----------
    prediction : RimPrediction
    line : Piece
        What the prediction was made of.
    worked : WorkedPiece
        As it was found.

    Returns
    -------
    RimPrediction
    """
    if not worked.hidden.any():
        return prediction
    nearest = cdist(rim_places(line, len(prediction.seen)), worked.piece.outline).argmin(axis=1)
    # Neither a middle nor a gap is likelier there than anywhere else.
    view = ~worked.hidden[nearest]
    nothing = -np.log(band.PLACES - 1)
    return replace(
        prediction,
        seen=prediction.seen * view,
        middle=np.where(view, prediction.middle, nothing),
        gap=np.where(view, prediction.gap, nothing),
    )


def refine_outline(
    piece: Piece, centre: tuple[float, float], prediction: RimPrediction, *, smooth_stitches: float = SMOOTH_STITCHES
) -> Piece:
    """The piece with its outline moved to where the top loops are predicted.

    Parameters
    ----------
    piece, centre
        What the prediction was made of.
    prediction : RimPrediction
    smooth_stitches : float, optional
        Stitches over which the depth of the top loops is smoothed.

    Returns
    -------
    Piece
        Its top loops lie :data:`counter.counting.band.MARK_DEPTH` stitch widths below the
        outline, which has one point for each place of the prediction.
    """
    rim = rim_places(piece, len(prediction.depth))
    spread = smooth_stitches * band.PLACES
    weight = ndimage.gaussian_filter1d(prediction.seen, spread, mode="wrap") + 1e-6
    local = ndimage.gaussian_filter1d(prediction.depth * prediction.seen, spread, mode="wrap") / weight
    usual = (prediction.depth * prediction.seen).sum() / (prediction.seen.sum() + 1e-6)
    # Where little of the rim is in view, it goes on as elsewhere.
    trust = np.clip(weight / LEAST_SHARE_IN_VIEW, 0, 1)
    deeper = trust * local + (1 - trust) * usual - band.MARK_DEPTH
    inward = np.asarray(centre) - rim
    return replace(piece, outline=rim + (deeper * 2 * np.pi / prediction.supposed)[:, None] * inward)
