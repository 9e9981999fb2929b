"""Polar strips of a piece, with the maps both ways.

A strip has one column for each place along the rim and one row for each depth
below it. Depth is measured towards the centre as a share of the way, 0 on the
rim and 1 at the centre, so that a strip follows the outline (stacked increases
make a hexagon) and the tilt cancels. Columns are equally long along the rim as
it would lie without tilt. Places run clockwise in the picture from twelve
o'clock.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from counter.piece import Piece

__all__ = ["Strip", "rim_places", "to_picture", "unwrap"]


@dataclass(frozen=True, eq=False)
class Strip:
    """A piece of the picture laid straight along the rim.

    Parameters
    ----------
    pixels : ndarray of shape (rows, columns, 3), uint8
        sRGB.
    depths : ndarray of shape (rows,), float
        Depth of each row, negative outside the rim, 1 at the centre.
    rim : ndarray of shape (columns, 2), float
        (x, y) on the rim of each column, in pixels of the photo.
    centre : tuple of float
        (x, y) towards which depth is measured.
    """

    pixels: np.ndarray
    depths: np.ndarray
    rim: np.ndarray
    centre: tuple[float, float]

    def __post_init__(self) -> None:
        for array in (self.pixels, self.depths, self.rim):
            array.flags.writeable = False


def rim_places(piece: Piece, columns: int) -> np.ndarray:
    """Places equally spaced along the untilted rim.

    Parameters
    ----------
    piece : Piece
        The piece.
    columns : int
        How many places.

    Returns
    -------
    ndarray of shape (columns, 2), float
        (x, y) in pixels of the photo.
    """
    closed = np.vstack([piece.outline, piece.outline[:1]])
    flat = (closed - piece.centre) @ piece.to_circle.T
    walked = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(flat, axis=0), axis=1))])
    wanted = np.arange(columns) / columns * walked[-1]
    return np.column_stack([np.interp(wanted, walked, closed[:, axis]) for axis in (0, 1)])


def to_picture(rim: np.ndarray, centre: tuple[float, float], place: np.ndarray, depth: np.ndarray) -> np.ndarray:
    """Map places of a strip back into the photo.

    Parameters
    ----------
    rim : ndarray of shape (columns, 2), float
        As in :class:`Strip`.
    centre : tuple of float
        As in :class:`Strip`.
    place : ndarray, float
        Column, fractions allowed; wraps round.
    depth : ndarray, float
        Depth, same shape as `place`.

    Returns
    -------
    ndarray of shape place.shape + (2,), float
        (x, y) in pixels of the photo.
    """
    columns = np.arange(len(rim) + 1)
    closed = np.vstack([rim, rim[:1]])
    wrapped = np.mod(place, len(rim))
    base = np.stack([np.interp(wrapped, columns, closed[:, axis]) for axis in (0, 1)], axis=-1)
    return base + np.asarray(depth)[..., None] * (np.asarray(centre) - base)


def unwrap(
    pixels: np.ndarray, piece: Piece, centre: tuple[float, float], depths: np.ndarray, columns: int
) -> Strip:
    """Lay a piece straight along its rim.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.
    piece : Piece
        The piece in it.
    centre : tuple of float
        (x, y) of the centre ring, in pixels.
    depths : ndarray of shape (rows,), float
        Depths to show.
    columns : int
        Places along the rim.

    Returns
    -------
    Strip
        Pixels outside the photo repeat its edge.
    """
    rim = rim_places(piece, columns)
    inward = np.asarray(centre) - rim
    places = rim[None] + depths[:, None, None] * inward[None]
    # One strip pixel may cover several photo pixels: shrink first, so that none are skipped.
    pitch = np.linalg.norm(np.roll(rim, -1, axis=0) - rim, axis=1).mean()
    step = max(1.0, min(pitch, np.ptp(depths) / max(1, len(depths) - 1) * np.linalg.norm(inward, axis=1).mean()))
    if step > 1.5:
        pixels = cv2.resize(pixels, None, fx=1 / step, fy=1 / step, interpolation=cv2.INTER_AREA)
        places = (places + 0.5) / step - 0.5
    places = places.astype(np.float32)
    straight = cv2.remap(pixels, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return Strip(straight, np.array(depths, float), rim, (float(centre[0]), float(centre[1])))
