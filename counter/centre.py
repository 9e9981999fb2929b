"""The centre ring: the place round which the rounds line up best.

The middle of the outline is only a first guess, because a tilted or cupped
piece shows its ring elsewhere. Places near the guess are tried on a grid: from
each the body is laid straight towards it, and the right one makes the lines
between the rounds level (or climbing evenly, in a spiral).
"""

from __future__ import annotations

import cv2
import numpy as np

from counter.answer import Refusal
from counter.piece import Piece, find_pieces
from counter.rounds import BODY_DEPTHS, has_texture, is_worked, ring_lines
from counter.unwrap import rim_places

__all__ = ["find_centre", "find_worked"]

#: Radius of the reduced picture in which the ring is sought, in pixels.
RADIUS = 110
#: Columns of the strips.
COLUMNS = 144
#: Steps of the grids, coarse to fine, as shares of the radius.
STEPS = (0.07, 0.035, 0.015)
#: Standard deviation of the ring's place, as a share of the radius.
TRUST = 0.12


def find_worked(pixels: np.ndarray) -> tuple[Piece, tuple[float, float]] | Refusal:
    """Find the one piece in a photo that was worked in rounds, and its centre ring.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.

    Returns
    -------
    piece : Piece
    centre : tuple of float
        (x, y) in pixels of the photo. Or a refusal: "no piece", "several
        pieces" or "cut off".
    """
    pieces = find_pieces(pixels)
    worked = []
    for piece in pieces:
        if not piece.cut_off:
            centre = find_centre(pixels, piece)
            if is_worked(pixels, piece, centre):
                worked.append((piece, centre))
    if len(worked) > 1:
        # Beside a piece a ball of yarn must not pass for another, nor scissors that meet the frame.
        second = [
            (piece, centre)
            for piece, centre in worked[1:]
            if not piece.at_frame and is_worked(pixels, piece, centre, clearly=True)
        ]
        if second and is_worked(pixels, *worked[0], clearly=True):
            return Refusal("several pieces")
        return (second or worked)[0]
    if worked:
        return worked[0]
    # Something cut off shows too little of its rounds; a finger or a plate at
    # the frame is smooth.
    if any(piece.cut_off and has_texture(pixels, piece, piece.centre) for piece in pieces):
        return Refusal("cut off")
    return Refusal("no piece")


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
    shrink = max(1.0, piece.radius / RADIUS)
    light = cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB)[..., 0]
    light = cv2.resize(light, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    rim = rim_places(piece, COLUMNS)
    back = np.linalg.inv(piece.to_circle)
    offset = np.zeros(2)
    for step in STEPS:
        grid = np.arange(-2, 3) * step
        tried = offset + np.stack(np.meshgrid(grid, grid), axis=-1).reshape(-1, 2)
        centres = tried @ back.T + piece.centre
        places = rim + BODY_DEPTHS[:, None, None] * (centres[:, None, None] - rim)
        places = ((places + 0.5) / shrink - 0.5).reshape(-1, COLUMNS, 2).astype(np.float32)
        strips = cv2.remap(light, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        strips = strips.reshape(len(tried), len(BODY_DEPTHS), COLUMNS).astype(float)
        score = ring_lines(strips).max(axis=1) * np.exp(-0.5 * (np.linalg.norm(tried, axis=1) / TRUST) ** 2)
        offset = tried[int(np.argmax(score))]
    x, y = back @ offset + piece.centre
    return float(x), float(y)
