"""The centre ring: the place that the threads of the body run towards or round.

Posts point at the ring and the loops of each round run round it, so seen from
the ring nearly every thread lies along or across the way there. The middle of
the outline is only a first guess, because a tilted or cupped piece shows its
ring elsewhere.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np

from counter.counting.piece import Piece

__all__ = ["find_centre"]

#: Radius of the untilted picture in which the ring is sought, in pixels.
RADIUS_PX = 110
#: Only every third pixel of it is asked.
STEP_PX = 3
#: Places that are tried, in radii: how far off the middle and how far apart (guessed).
REACH_RADII, STEP_RADII = 0.32, 0.02
#: Standard deviation of the ring's place, in radii (guessed).
PLACE_SD_RADII = 0.12
#: Weight of the threads against that, in nats (guessed).
THREADS_NATS = 16.0


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
    shrink = max(1.0, piece.radius / RADIUS_PX)
    small = cv2.resize(pixels, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    light = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)[..., 0]
    back = np.linalg.inv(piece.to_circle)
    side = (np.arange(2 * RADIUS_PX + 1) - RADIUS_PX) / RADIUS_PX
    places = np.stack(np.meshgrid(side, side), axis=-1) @ back.T + piece.centre
    places = ((places + 0.5) / shrink - 0.5).astype(np.float32)
    flat = cv2.remap(light, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)

    # Direction of the threads near each pixel and how clear it is: the structure tensor.
    smooth = cv2.GaussianBlur(flat.astype(np.float32), (0, 0), 1)
    across, down = cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    xx, yy, xy = (cv2.GaussianBlur(product, (0, 0), 2) for product in (across**2, down**2, across * down))
    angle = 0.5 * np.arctan2(2 * xy, xx - yy)
    clear = np.sqrt((xx - yy) ** 2 + 4 * xy**2) / (xx + yy + 20)  # 20: below the noise nothing is clear
    inside, tried, turned = _directions()
    # Four times the angle is the same for threads along and across the way.
    threads = (clear * np.exp(4j * angle))[::STEP_PX, ::STEP_PX][inside]
    score = (turned @ threads).real / max(float(clear[::STEP_PX, ::STEP_PX][inside].sum()), 1e-9)
    score = THREADS_NATS * score - 0.5 * (np.linalg.norm(tried, axis=1) / PLACE_SD_RADII) ** 2
    across_grid = round(np.sqrt(len(tried)))
    score = cv2.GaussianBlur(score.reshape(across_grid, across_grid), (0, 0), 1)
    x, y = back @ tried[int(np.argmax(score))] + piece.centre
    return float(x), float(y)


@cache
def _directions() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
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
    side = ((np.arange(2 * RADIUS_PX + 1) - RADIUS_PX) / RADIUS_PX)[::STEP_PX]
    x, y = np.meshgrid(side, side)
    inside = np.hypot(x, y) < 0.95
    steps = np.arange(-round(REACH_RADII / STEP_RADII), round(REACH_RADII / STEP_RADII) + 1) * STEP_RADII
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
