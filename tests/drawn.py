"""Plain drawings of a worked round, for tests that need to know every pixel."""

from __future__ import annotations

import cv2
import numpy as np

from counter.counting.finder import find_all, find_around
from counter.counting.piece import Piece


def draw_round(
    stitches: int = 24,
    rounds: int = 4,
    *,
    size: tuple[int, int] = (640, 640),
    centre: tuple[float, float] | None = None,
    radius: float = 220.0,
    squash: float = 1.0,
    lean: float = 0.0,
    ring: tuple[float, float] = (0.0, 0.0),
    ground: tuple[int, int, int] = (205, 200, 190),
    yarn: tuple[int, int, int] = (150, 60, 70),
) -> tuple[np.ndarray, np.ndarray]:
    """Draw a disc of posts with dark gaps between them.

    Parameters
    ----------
    stitches, rounds : int
        On the rim, and rounds of equal height; inner rounds have
        proportionally fewer stitches.
    size : tuple of int
        (width, height) of the picture in pixels.
    centre : tuple of float, optional
        (x, y); the middle of the picture by default.
    radius, squash, lean : float
        Long half axis in pixels, short over long axis, and direction of the
        long axis in radians.
    ring : tuple of float
        Where the centre ring lies off the middle, in shares of the half axes,
        before leaning; the rounds crowd on that side.
    ground, yarn : tuple of int
        sRGB.

    Returns
    -------
    pixels : ndarray of shape (height, width, 3), uint8
    marks : ndarray of shape (stitches, 2), float
        Middles of the rim's stitches, counter-clockwise.
    """
    width, height = size
    x0, y0 = centre if centre is not None else ((width - 1) / 2, (height - 1) / 2)
    y, x = np.mgrid[:height, :width].astype(float)
    turned = np.array([[np.cos(lean), np.sin(lean)], [-np.sin(lean), np.cos(lean)]])
    u, v = np.tensordot(turned, np.stack([x - x0, y - y0]), 1)
    u, v = u / radius - ring[0], v / squash / radius - ring[1]
    # Length of the ray from the ring through each pixel to the unit circle.
    along = np.hypot(u, v) + 1e-9
    shadow = (u * ring[0] + v * ring[1]) / along
    away = along / (np.sqrt(shadow**2 + 1 - ring[0] ** 2 - ring[1] ** 2) - shadow)
    rim_u, rim_v = ring[0] + u / np.maximum(away, 1e-9), ring[1] + v / np.maximum(away, 1e-9)
    turn = np.arctan2(rim_u, -rim_v) / (2 * np.pi)
    noise = np.random.default_rng(7).normal(0, 3, (height, width))

    line = np.minimum(np.ceil(away * (rounds + 0.35) - 0.35).clip(1), rounds)
    phase = turn * stitches * line / rounds
    gap = np.exp(-((np.abs(phase - np.rint(phase)) / 0.14) ** 2))
    within = (away * (rounds + 0.35) - 0.35) % 1
    braid = np.exp(-(((within - 0.85) / 0.1) ** 2))
    light = 1 - 0.55 * gap * (1 - 0.6 * braid) - 0.25 * (within < 0.15)
    cover = cv2.GaussianBlur((away < 1).astype(np.float64), (0, 0), 0.8)[..., None]
    piece = np.array(yarn) * light[..., None]
    pixels = (1 - cover) * np.array(ground) + cover * piece + noise[..., None]

    middle = -(np.arange(stitches) + 0.5) / stitches * 2 * np.pi
    flat = 0.95 * radius * np.column_stack([np.sin(middle), -squash * np.cos(middle)])
    marks = flat @ turned + (x0, y0)
    return np.clip(pixels, 0, 255).astype(np.uint8), marks


def only_piece(pixels: np.ndarray) -> Piece:
    """The rim of the only thing that the finder takes for a piece."""
    (find,) = find_all(pixels)
    return find.piece


def shown_piece(pixels: np.ndarray, *, radius: float = 220.0) -> Piece:
    """The rim near a ring round the middle of a drawing, for tests that are not about finding."""
    height, width = pixels.shape[:2]
    return find_around(pixels, (width - 1) / 2, (height - 1) / 2, radius).piece
