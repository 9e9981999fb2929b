"""The pieces of a photo that were worked in rounds, and the one that is meant."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from counter.basics import words
from counter.basics.answer import Refusal
from counter.counting.centre import find_centre
from counter.counting.finder import Find, find_all, find_around
from counter.counting.piece import Piece
from counter.counting.rounds import PATCH_RADIUS_PX, body_strip, is_worked

__all__ = ["WorkedPiece", "find_pieces", "find_worked"]

#: A piece is another that may be meant where its radius is more than this share of the largest one's (guessed).
RIVAL_RADIUS_SHARE = 0.35
#: Least radius at which the texture of a body says whether it was worked in rounds: half of that to which it is
#: brought to look at (guessed).
LEAST_TEXTURE_RADIUS_PX = PATCH_RADIUS_PX / 2


@dataclass(frozen=True, eq=False)
class WorkedPiece:
    """A piece that was worked in rounds.

    Parameters
    ----------
    piece : Piece
        Its rim.
    centre : tuple of float
        (x, y) of its centre ring, in pixels of the photo.
    body : ndarray of shape (rows, columns, 3), uint8
        The whole body laid straight, see :func:`counter.counting.rounds.body_strip`.
    hidden : ndarray of shape (len(piece.outline),), bool
        Where the rim is not in view and was bridged.
    """

    piece: Piece
    centre: tuple[float, float]
    body: np.ndarray
    hidden: np.ndarray


def _worked(pixels: np.ndarray, find: Find) -> WorkedPiece:
    centre = find.ring or find_centre(pixels, find.piece)
    return WorkedPiece(find.piece, centre, body_strip(pixels, find.piece, centre), find.hidden)


def find_pieces(pixels: np.ndarray) -> list[WorkedPiece]:
    """Find every piece in a photo that was worked in rounds, cut off or not, from left to right.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.

    Returns
    -------
    list of WorkedPiece
    """
    return _worked_of(pixels, find_all(pixels))


def _worked_of(pixels: np.ndarray, finds: list[Find]) -> list[WorkedPiece]:
    found = []
    for find in finds:
        own = _worked(pixels, find)
        # Where the network sees no centre ring, the texture must speak for rounds by itself.
        if is_worked(pixels, own.piece, own.centre, own.body, clearly=find.ring is None):
            found.append(own)
    return sorted(found, key=lambda own: own.piece.centre[0])


def find_worked(
    pixels: np.ndarray, *, around: tuple[float, float, float] | None = None, number: int | None = None
) -> WorkedPiece | Refusal:
    """Find the one piece in a photo that was worked in rounds, and its centre ring.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.
    around : tuple of float, optional
        (x, y, radius) of a ring, in pixels, that a person drew round the piece that is meant.
    number : int, optional
        Which of several pieces is meant, from 1, left to right.

    Returns
    -------
    WorkedPiece or Refusal
        The refusal says why there is no such piece: "no piece", "too small", "several pieces", "no such
        piece" or "cut off"; it holds the outlines of what was seen.
    """
    if around is not None:
        find = find_around(pixels, *around)
        return Refusal("no piece") if find is None else _worked(pixels, find)
    finds = find_all(pixels)
    worked = _worked_of(pixels, finds)
    outlines = tuple(own.piece.outline.copy() for own in worked)
    whole = [own for own in worked if not own.piece.cut_off]
    if number is not None:
        if not 1 <= number <= len(worked):
            return Refusal("no such piece", words.pieces_seen(len(worked)), outlines)
        return worked[number - 1]
    if len(whole) > 1:
        # Beside a piece that fills the picture a scrap is not another that could be meant.
        largest = max(own.piece.radius for own in whole)
        whole = [own for own in whole if own.piece.radius > RIVAL_RADIUS_SHARE * largest]
    if len(whole) > 1:
        return Refusal("several pieces", "", outlines)
    if whole:
        return whole[0]
    if worked:
        return Refusal("cut off", "", outlines)
    outlines = tuple(find.piece.outline.copy() for find in finds)
    # What the network takes for worked, and is too small for its texture to speak, is not said to be no piece.
    return Refusal("too small" if any(map(_too_small, finds)) else "no piece", "", outlines)


def _too_small(find: Find) -> bool:
    return find.piece.radius < LEAST_TEXTURE_RADIUS_PX
