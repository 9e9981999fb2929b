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

from counter.counting.piece import Piece

__all__ = ["Strip", "evenly", "lay_straight", "length_of", "rim_places", "to_picture", "to_strip", "unwrap"]


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
    return _at_shares(closed, (closed - piece.centre) @ piece.to_circle.T, np.arange(columns) / columns)


def evenly(line: np.ndarray, columns: int) -> np.ndarray:
    """Middles of equally long pieces of a closed line, one for each column.

    Parameters
    ----------
    line : ndarray of shape (K, 2), float
        (x, y); from the last point it goes on to the first.
    columns : int
        How many pieces.

    Returns
    -------
    ndarray of shape (columns, 2), float
        (x, y); the first piece begins at the first point.
    """
    closed = np.vstack([line, line[:1]])
    return _at_shares(closed, closed, (np.arange(columns) + 0.5) / columns)


def length_of(line: np.ndarray) -> float:
    """Length of a closed line.

    Parameters
    ----------
    line : ndarray of shape (K, 2), float
        (x, y); from the last point it goes on to the first.

    Returns
    -------
    float
        In the unit of the points.
    """
    return float(np.linalg.norm(np.diff(line, axis=0, append=line[:1]), axis=1).sum())


def _at_shares(closed: np.ndarray, measured: np.ndarray, shares: np.ndarray) -> np.ndarray:
    """Points of a line at shares of its length, as it is measured along another line of as many points."""
    walked = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(measured, axis=0), axis=1))])
    wanted = shares * walked[-1]
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


def to_strip(rim: np.ndarray, centre: tuple[float, float], points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Map points of the photo to places of a strip; the way back of :func:`to_picture`.

    Parameters
    ----------
    rim : ndarray of shape (columns, 2), float
        As in :class:`Strip`.
    centre : tuple of float
        As in :class:`Strip`.
    points : ndarray of shape (P, 2), float
        (x, y) in pixels of the photo.

    Returns
    -------
    place : ndarray of shape (P,), float
        Column, fractions allowed, 0 to `columns`. Where the rim overhangs, so
        that a ray from the centre meets it several times, the nearest.
    depth : ndarray of shape (P,), float
    """
    first = rim - centre
    rays = np.asarray(points, float) - centre
    off = first[:, 0] * rays[:, 1, None] - first[:, 1] * rays[:, 0, None]
    off_next = np.roll(off, -1, axis=1)
    # Where each ray from the centre passes between two neighbours.
    share = np.where(off == off_next, 0, off / np.where(off == off_next, 1, off - off_next))
    base = first + share[..., None] * (np.roll(first, -1, axis=0) - first)
    met = (off * off_next <= 0) & ((base * rays[:, None]).sum(axis=-1) >= 0)
    away = np.where(met, np.linalg.norm(base - rays[:, None], axis=-1), np.inf)
    best = np.argmin(away, axis=1)
    chosen = np.arange(len(best)), best
    return best + share[chosen], 1 - np.linalg.norm(rays, axis=-1) / np.linalg.norm(base[chosen], axis=-1)


def unwrap(pixels: np.ndarray, piece: Piece, centre: tuple[float, float], depths: np.ndarray, columns: int) -> Strip:
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
    straight = lay_straight(pixels, rim, centre, depths)
    return Strip(straight, np.array(depths, float), rim, (float(centre[0]), float(centre[1])))


def lay_straight(pixels: np.ndarray, rim: np.ndarray, centre: tuple[float, float], depths: np.ndarray) -> np.ndarray:
    """Lay the picture along a closed line straight.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.
    rim : ndarray of shape (columns, 2), float
        (x, y) of each column on the line.
    centre : tuple of float
        (x, y) towards which depth is measured.
    depths : ndarray of shape (rows,), float
        Depths to show.

    Returns
    -------
    ndarray of shape (rows, columns, 3), uint8
        Pixels outside the photo repeat its edge.
    """
    inward = np.asarray(centre) - rim
    places = rim[None] + depths[:, None, None] * inward[None]
    # One strip pixel may cover several photo pixels: shrink first, so that none are skipped.
    pitch = np.linalg.norm(np.roll(rim, -1, axis=0) - rim, axis=1).mean()
    step = max(1.0, min(pitch, np.ptp(depths) / max(1, len(depths) - 1) * np.linalg.norm(inward, axis=1).mean()))
    if step > 1.5:
        # As far right and down as the places reach; what is left out there moves no cell of what is shrunk.
        right, down = (int(far) for far in np.ceil(np.maximum(places.max(axis=(0, 1)), 0) + 3 * step))
        pixels = cv2.resize(pixels[:down, :right], None, fx=1 / step, fy=1 / step, interpolation=cv2.INTER_AREA)
        places = (places + 0.5) / step - 0.5
    places = places.astype(np.float32)
    return cv2.remap(pixels, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
