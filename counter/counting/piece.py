"""A piece that was found: its rim, and the ellipse of its tilt."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

__all__ = ["Piece", "measured"]

#: A piece of whose rim more than this share lies outside the photo is cut off (guessed).
CUT_OFF_SHARE = 0.03


@dataclass(frozen=True, eq=False)
class Piece:
    """A piece found in a photo.

    Parameters
    ----------
    outline : ndarray of shape (K, 2), float
        The rim as a closed line (x, y) in pixels of the upright photo,
        clockwise in the picture, starting at twelve o'clock.
    centre : tuple of float
        (x, y) of the middle of the ellipse of tilt, in pixels.
    to_circle : ndarray of shape (2, 2), float
        Undoes the tilt: ``to_circle @ (p - centre)`` has length 1 on the
        ellipse of tilt.
    roundness : float
        Minor over major axis of the ellipse of tilt, 0 to 1.
    raggedness : float
        Root mean square distance of the outline from that ellipse, as a
        share of the radius.
    at_frame : bool
        True where something that belongs to it meets the picture's frame.
    cut_off : bool
        True where the piece itself runs out of the picture.
    """

    outline: np.ndarray
    centre: tuple[float, float]
    to_circle: np.ndarray
    roundness: float
    raggedness: float
    at_frame: bool = False
    cut_off: bool = False

    def __post_init__(self) -> None:
        for array in (self.outline, self.to_circle):
            array.flags.writeable = False

    @property
    def radius(self) -> float:
        """Geometric mean of the half axes, in pixels."""
        return float(1 / np.sqrt(np.linalg.det(self.to_circle)))

    def scaled(self, factor: float, shift: np.ndarray) -> Piece:
        """The same piece in a picture of another scale.

        Parameters
        ----------
        factor : float
            Pixels of the other picture for each of this one.
        shift : ndarray of shape (2,), float
            Where (0, 0) of this picture lies in the other one, in pixels (x, y).

        Returns
        -------
        Piece
        """
        x, y = factor * np.asarray(self.centre) + shift
        return replace(
            self, outline=factor * self.outline + shift, centre=(float(x), float(y)), to_circle=self.to_circle / factor
        )


def measured(line: np.ndarray, size: tuple[int, int]) -> Piece:
    """A piece from its rim.

    Parameters
    ----------
    line : ndarray of shape (K, 2), float
        Closed, clockwise, (x, y) in pixels.
    size : tuple of int
        Width and height of the photo, pixels.

    Returns
    -------
    Piece
    """
    x, y, to_circle, roundness = _ellipse(line)
    lengths = np.linalg.norm((line - (x, y)) @ to_circle.T, axis=1)
    raggedness = float(np.sqrt(np.mean((lengths - 1) ** 2)))
    outside = ((line < 0) | (line > np.array(size) - 1)).any(axis=1)
    start = int(np.argmin(np.where(line[:, 1] < y, np.abs(line[:, 0] - x), np.inf)))
    line = np.roll(line, -start, axis=0)
    return Piece(
        line, (x, y), to_circle, roundness, raggedness, bool(outside.any()), bool(outside.mean() > CUT_OFF_SHARE)
    )


def _ellipse(points: np.ndarray) -> tuple[float, float, np.ndarray, float]:
    """Centre x and y, undoing matrix and roundness of the ellipse through points."""
    (x, y), (width, height), degrees = cv2.fitEllipse(points.astype(np.float32))
    a, b, angle = width / 2, height / 2, np.radians(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    return float(x), float(y), turn.T @ np.diag([1 / a, 1 / b]) @ turn, float(min(a, b) / max(a, b))
