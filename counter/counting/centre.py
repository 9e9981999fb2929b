"""The centre ring: the place that the threads of the body run towards or round.

Posts point at the ring and the loops of each round run round it, so seen from
the ring nearly every thread lies along or across the way there. The middle of
the outline is only a first guess, because a tilted or cupped piece shows its
ring elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from counter.basics import words
from counter.basics.answer import Refusal
from counter.counting.finder import Find, find_all, find_around
from counter.counting.piece import Piece
from counter.counting.rounds import body_strip, is_worked

__all__ = ["Worked", "find_centre", "find_pieces", "find_worked", "ways"]

#: Radius of the untilted picture in which the ring is sought, in pixels.
RADIUS = 110
#: Only every third pixel of it is asked.
THIN = 3
#: Places that are tried, as shares of the radius: how far off the middle and how far apart.
FAR, APART = 0.32, 0.02
#: Standard deviation of the ring's place, as a share of the radius.
TRUST = 0.12
#: Weight of the threads against that, in nats.
WEIGHT = 16.0
#: A piece is another that may be meant where its radius is more than this share of the largest one's.
RIVAL = 0.35


@dataclass(frozen=True, eq=False)
class Worked:
    """A piece that was worked in rounds.

    Parameters
    ----------
    piece : Piece
        Its rim.
    centre : tuple of float
        (x, y) of its centre ring, in pixels of the photo.
    body : ndarray of shape (rows, columns, 3), uint8
        The whole body laid straight, see :func:`counter.counting.rounds.body_strip`.
    in_view : float
        Share of the rim that is in view, 0 to 1.
    """

    piece: Piece
    centre: tuple[float, float]
    body: np.ndarray
    in_view: float


def _worked(pixels: np.ndarray, find: Find) -> Worked:
    centre = find.ring or find_centre(pixels, find.piece)
    return Worked(find.piece, centre, body_strip(pixels, find.piece, centre), find.in_view)


def find_pieces(pixels: np.ndarray) -> list[Worked]:
    """Find every piece in a photo that was worked in rounds, cut off or not, from left to right.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.

    Returns
    -------
    list of Worked
    """
    return _worked_of(pixels, find_all(pixels))


def _worked_of(pixels: np.ndarray, finds: list[Find]) -> list[Worked]:
    found = []
    for find in finds:
        own = _worked(pixels, find)
        # Where the network sees no centre ring, the texture must speak for rounds by itself.
        if is_worked(pixels, own.piece, own.centre, own.body, clearly=find.ring is None):
            found.append(own)
    return sorted(found, key=lambda own: own.piece.centre[0])


def find_worked(
    pixels: np.ndarray, *, around: tuple[float, float, float] | None = None, number: int | None = None
) -> Worked | Refusal:
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
    Worked or Refusal
        The refusal says why there is no such piece: "no piece", "several pieces", "no such piece" or
        "cut off"; it holds the outlines of what was seen.
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
        whole = [own for own in whole if own.piece.radius > RIVAL * largest]
    if len(whole) > 1:
        return Refusal("several pieces", "", outlines)
    if whole:
        return whole[0]
    if worked:
        return Refusal("cut off", "", outlines)
    return Refusal("no piece", "", tuple(find.piece.outline.copy() for find in finds))


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
    small = cv2.resize(pixels, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    light = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)[..., 0]
    back = np.linalg.inv(piece.to_circle)
    side = (np.arange(2 * RADIUS + 1) - RADIUS) / RADIUS
    places = np.stack(np.meshgrid(side, side), axis=-1) @ back.T + piece.centre
    places = ((places + 0.5) / shrink - 0.5).astype(np.float32)
    flat = cv2.remap(light, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)

    # Direction of the threads near each pixel and how clear it is: the structure tensor.
    smooth = cv2.GaussianBlur(flat.astype(np.float32), (0, 0), 1)
    across, down = cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    xx, yy, xy = (cv2.GaussianBlur(product, (0, 0), 2) for product in (across**2, down**2, across * down))
    angle = 0.5 * np.arctan2(2 * xy, xx - yy)
    clear = np.sqrt((xx - yy) ** 2 + 4 * xy**2) / (xx + yy + 20)  # 20: below the noise nothing is clear
    inside, tried, turned = ways()
    # Four times the angle is the same for threads along and across the way.
    threads = (clear * np.exp(4j * angle))[::THIN, ::THIN][inside]
    score = (turned @ threads).real / max(float(clear[::THIN, ::THIN][inside].sum()), 1e-9)
    score = WEIGHT * score - 0.5 * (np.linalg.norm(tried, axis=1) / TRUST) ** 2
    across_grid = round(np.sqrt(len(tried)))
    score = cv2.GaussianBlur(score.reshape(across_grid, across_grid), (0, 0), 1)
    x, y = back @ tried[int(np.argmax(score))] + piece.centre
    return float(x), float(y)


@cache
def ways() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pixels of the body, places to try, and four times the direction from each place to each pixel.

    Returns
    -------
    inside : ndarray of shape (N, N), bool
        Which of the thinned pixels belong to the body.
    tried : ndarray of shape (places, 2), float
        In radii off the middle.
    turned : ndarray of shape (places, pixels), complex
        Conjugate of the fourth power of the direction; 0 close to the place,
        where the ring itself has no direction.
    """
    side = ((np.arange(2 * RADIUS + 1) - RADIUS) / RADIUS)[::THIN]
    x, y = np.meshgrid(side, side)
    inside = np.hypot(x, y) < 0.95
    steps = np.arange(-round(FAR / APART), round(FAR / APART) + 1) * APART
    tried = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    turned = np.empty((len(tried), int(inside.sum())), np.complex64)
    for own, (right, down) in zip(turned, tried, strict=True):  # one by one: all at once take five times the memory
        way = (x[inside] - right + 1j * (y[inside] - down)).astype(np.complex64)
        length = np.abs(way)
        own[:] = way.conj() / np.maximum(length, 1e-6)
        for _ in range(2):  # squared twice, which is far quicker than a fourth power
            own *= own
        own[length <= 0.07] = 0
    for array in (inside, tried, turned):
        array.flags.writeable = False
    return inside, tried, turned
