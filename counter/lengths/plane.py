"""Planes in a picture: homographies, how sure they are, and the cameras that could have seen them."""

from __future__ import annotations

import cv2
import numpy as np

__all__ = [
    "FOCAL_GRID_LONG_SIDES",
    "FOCAL_LOG_SD",
    "FOCAL_LONG_SIDES",
    "PIECE_LOG_AXIS_RATIO_SD",
    "SLANT_SD_RAD",
    "STEEPEST_RAD",
    "around",
    "fit_error",
    "laid",
    "mm_per_px",
    "moments",
    "out_of_round",
    "through",
    "view_misfit",
    "views",
]

#: Focal length of a phone's camera over the long side of its picture, and the spread of its
#: logarithm: 24 to 28 mm on 35 mm film are 0.69 to 0.81, a second lens twice that.
FOCAL_LONG_SIDES, FOCAL_LOG_SD = 0.9, 0.35
#: Focal lengths that are tried, over the long side.
FOCAL_GRID_LONG_SIDES = np.geomspace(0.55, 2.4, 24)
#: Spread of the slant of a camera, and the steepest that is believed, radians.
SLANT_SD_RAD, STEEPEST_RAD = 0.26, 0.75
#: Spread of the shape of a piece's rim, as the logarithm of the ratio of its axes.
PIECE_LOG_AXIS_RATIO_SD = 0.04


def through(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Where a homography takes places.

    Parameters
    ----------
    homography : ndarray of shape (3, 3), float
    points : ndarray of shape (..., 2), float

    Returns
    -------
    ndarray of shape (..., 2), float
    """
    points = np.asarray(points, dtype=float)
    seen = points @ homography[:, :2].T + homography[:, 2]
    return seen[..., :2] / seen[..., 2:]


def mm_per_px(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    """How large a pixel is in a plane.

    Parameters
    ----------
    homography : ndarray of shape (3, 3), float
        px -> mm.
    points : ndarray of shape (K, 2), float
        px.

    Returns
    -------
    ndarray of shape (K,), float
        Root of the area of a pixel there, mm: of the determinant of the
        homography over the third power of the depth (its Jacobian).
    """
    depth = points @ homography[2, :2] + homography[2, 2]
    return np.sqrt(abs(np.linalg.det(homography)) / np.abs(depth) ** 3)


def around(points: np.ndarray) -> float:
    """Length of a closed line through `points`, an ndarray of shape (K, 2), in their unit."""
    return float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum())


def moments(polygon: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where the area of a polygon lies and how it spreads.

    Parameters
    ----------
    polygon : ndarray of shape (K, 2), float

    Returns
    -------
    centre : ndarray of shape (2,), float
    spread : ndarray of shape (2, 2), float
        Second moments about the centre, over the area.
    """
    m = cv2.moments(polygon.astype(np.float32).reshape(-1, 1, 2))
    area = m["m00"]
    spread = np.array([[m["mu20"], m["mu11"]], [m["mu11"], m["mu02"]]]) / area
    return np.array([m["m10"], m["m01"]]) / area, spread


def fit_error(homography: np.ndarray, px: np.ndarray, sigma: float, at: np.ndarray) -> float:
    """How sure the scale at a place is that follows from a fitted homography.

    The covariance of the eight free numbers of the homography by least
    squares, carried on to the logarithm of the scale (R. Hartley and A.
    Zisserman, "Multiple View Geometry", 2nd ed., section 5.2).

    Parameters
    ----------
    homography : ndarray of shape (3, 3), float
        px -> mm.
    px : ndarray of shape (K, 2), float
        The points it was fitted to, at least 4.
    sigma : float
        How far off each of them is in x and in y, px.
    at : ndarray of shape (2,), float
        The place, px.

    Returns
    -------
    float
        Relative standard error.
    """
    # About the place that is asked for, in units of the points' extent, all is well conditioned.
    extent = np.ptp(px, axis=0).max()
    to_px = np.array([[extent, 0, at[0]], [0, extent, at[1]], [0, 0, 1.0]])
    own = homography @ to_px
    own = own / own[2, 2]
    points = (px - at) / extent
    x, y = points.T
    depth = points @ own[2, :2] + own[2, 2]
    plane = through(own, points)
    zero, one = np.zeros_like(x), np.ones_like(x)
    rows = [
        np.stack([x, y, one, zero, zero, zero, -plane[:, 0] * x, -plane[:, 0] * y], axis=1) / depth[:, None],
        np.stack([zero, zero, zero, x, y, one, -plane[:, 1] * x, -plane[:, 1] * y], axis=1) / depth[:, None],
    ]
    noise = sigma * mm_per_px(homography, px)
    weighted = np.concatenate(rows) / np.tile(noise, 2)[:, None]
    covariance = np.linalg.pinv(weighted.T @ weighted)

    def scale(values: np.ndarray) -> float:
        return float(0.5 * np.log(abs(np.linalg.det(np.append(values, 1.0).reshape(3, 3)))))

    values, slope = own.ravel()[:8], np.zeros(8)
    for k in range(8):
        step = np.zeros(8)
        step[k] = 1e-5 * max(np.abs(values).max(), 1.0)
        slope[k] = (scale(values + step) - scale(values - step)) / (2 * step[k])
    return float(np.sqrt(slope @ covariance @ slope))


def views(
    homography: np.ndarray, middle: np.ndarray, long: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """How well a plane fits to cameras of each focal length.

    A camera with square pixels sees two directions that are square to each
    other in the plane, and lengths along them, as square and as equally long
    (Z. Zhang, "A flexible new technique for camera calibration", IEEE PAMI
    22(11), 2000, equations 3 and 4).

    Parameters
    ----------
    homography : ndarray of shape (3, 3), float
        px -> mm.
    middle : ndarray of shape (2,), float
        Of the picture.
    long : int
        Its longer side.

    Returns
    -------
    skew, stretch : ndarray of shape (F,), float
        Cosine between the axes, logarithm of the ratio of their units, for each of :data:`FOCAL_GRID_LONG_SIDES`.
    height : ndarray of shape (F,), float
        Of the camera over the plane, mm.
    slant : ndarray of shape (F,), float
        Angle between the view and the plumb line, radians.
    """
    to_px = np.linalg.inv(homography)
    centred = np.array([[1, 0, -middle[0]], [0, 1, -middle[1]], [0, 0, 1.0]]) @ to_px
    axes = (
        centred[None]
        / np.stack(
            [FOCAL_GRID_LONG_SIDES * long, FOCAL_GRID_LONG_SIDES * long, np.ones(len(FOCAL_GRID_LONG_SIDES))], axis=1
        )[:, :, None]
    )
    first, second, third = axes[..., 0], axes[..., 1], axes[..., 2]
    long1, long2 = np.linalg.norm(first, axis=1), np.linalg.norm(second, axis=1)
    skew = (first * second).sum(axis=1) / (long1 * long2)
    normal = np.cross(first, second)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    height = np.abs((normal * third).sum(axis=1)) / np.sqrt(long1 * long2)
    return skew, np.log(long1 / long2), height, np.arccos(np.clip(np.abs(normal[:, 2]), 0, 1))


def view_misfit(skew: np.ndarray, stretch: np.ndarray, spread: float) -> np.ndarray:
    """How badly cameras suit a plane, from :func:`views`, in squared standard deviations of `spread` each."""
    return (skew / spread) ** 2 + (stretch / spread) ** 2


def laid(planes: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Places through many homographies.

    Parameters
    ----------
    planes : ndarray of shape (M, 3, 3), float
    points : ndarray of shape (K, 2), float

    Returns
    -------
    ndarray of shape (M, K, 2), float
    """
    seen = np.c_[points, np.ones(len(points))] @ planes.transpose(0, 2, 1)
    return seen[..., :2] / seen[..., 2:]


def out_of_round(lines: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far closed lines are from circles, and their mean radius.

    Parameters
    ----------
    lines : ndarray of shape (M, K, 2), float

    Returns
    -------
    shape : ndarray of shape (M, 2), float
        Its length is about the logarithm of the ratio of the axes.
    radius : ndarray of shape (M,), float
    """
    x, y = lines[..., 0], lines[..., 1]
    x2, y2 = np.roll(x, -1, axis=1), np.roll(y, -1, axis=1)
    cross = x * y2 - x2 * y
    area = cross.sum(axis=1) / 2
    cx, cy = ((a + b) * cross for a, b in ((x, x2), (y, y2)))
    cx, cy = cx.sum(axis=1) / (6 * area), cy.sum(axis=1) / (6 * area)
    xx = ((x * x + x * x2 + x2 * x2) * cross).sum(axis=1) / (12 * area) - cx**2
    yy = ((y * y + y * y2 + y2 * y2) * cross).sum(axis=1) / (12 * area) - cy**2
    xy = ((x * y2 + 2 * x * y + 2 * x2 * y2 + x2 * y) * cross).sum(axis=1) / (24 * area) - cx * cy
    return np.stack([xx - yy, 2 * xy], axis=1) / (xx + yy)[:, None], np.sqrt(np.abs(area) / np.pi)
