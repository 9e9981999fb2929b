"""The centre ring.

Posts run outward from the centre ring and rounds run round it, so the ring is
where lines along the rounds' gradient meet: each edge of a round votes along
its gradient, as in the radial symmetry transform (Loy and Zelinsky, "Fast
radial symmetry for detecting points of interest", IEEE PAMI 25(8), 2003). The
votes are weighed by a broad bump round the middle of the outline, because a
covered or blurred ring must not pull the centre far off.
"""

from __future__ import annotations

import cv2
import numpy as np

from counter.piece import Piece

__all__ = ["find_centre"]

#: Side of the untilted picture of the piece, in pixels.
SIDE = 200
#: Standard deviation of the bump round the middle, as a share of the radius.
TRUST = 0.12


def find_centre(pixels: np.ndarray, piece: Piece) -> tuple[float, float]:
    """Find the centre ring of a piece.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.
    piece : Piece
        The piece in it.

    Returns
    -------
    tuple of float
        (x, y) in pixels of the photo.
    """
    half = SIDE / 2
    back = np.linalg.inv(piece.to_circle) * (1.05 / half)
    shift = np.asarray(piece.centre) - back @ (half, half)
    shrink = max(1.0, 1.05 * piece.radius / half)
    photo = cv2.resize(pixels, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    flat = cv2.warpAffine(
        cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY),
        np.column_stack([back, shift]) / shrink,
        (SIDE, SIDE),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.float32)
    flat = cv2.GaussianBlur(flat, (0, 0), 1.5)
    down, right = np.gradient(flat)
    strength = np.hypot(down, right)
    rows, columns = np.mgrid[:SIDE, :SIDE]
    away = np.hypot(rows - half, columns - half)
    edge = (strength > np.percentile(strength, 60)) & (away < 0.8 * half)
    y, x = rows[edge], columns[edge]
    unit_y, unit_x = down[edge] / strength[edge], right[edge] / strength[edge]
    votes = np.zeros((SIDE, SIDE))
    for distance in np.arange(4, 0.55 * half, 2):
        for sign in (-1, 1):
            to_y = np.rint(y + sign * distance * unit_y).astype(int)
            to_x = np.rint(x + sign * distance * unit_x).astype(int)
            ok = (to_y >= 0) & (to_y < SIDE) & (to_x >= 0) & (to_x < SIDE)
            votes += np.bincount(to_y[ok] * SIDE + to_x[ok], minlength=SIDE * SIDE).reshape(SIDE, SIDE) / distance
    votes = cv2.GaussianBlur(votes, (0, 0), 3) * np.exp(-0.5 * (away / (TRUST * half)) ** 2)
    row, column = np.unravel_index(np.argmax(votes), votes.shape)
    x, y = back @ (column, row) + shift
    return float(x), float(y)
