"""Where the worked piece is: its outline and the ellipse of its tilt.

The piece is what differs from the border of the picture. A small copy is
enough: the background is modelled from the colours along the frame, a graph
cut decides, and an opening with a disc that is large against the piece takes
off yarn tails, hooks and fingers. A second pass on an enlarged crop gives the
same accuracy to a piece that fills little of the picture.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy import ndimage

from counter.answer import Refusal

__all__ = ["Piece", "find_piece"]

#: Long side of the small copy, in pixels.
SMALL = 420
#: Number of directions in which the outline is measured.
DIRECTIONS = 360
#: Smallest piece, as a share of the picture's short side (diameter).
SMALLEST = 0.08
#: Share of the outline that may lie on the frame before the piece is cut off.
FRAME_SHARE = 0.04


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
    """

    outline: np.ndarray
    centre: tuple[float, float]
    to_circle: np.ndarray
    roundness: float
    raggedness: float

    def __post_init__(self) -> None:
        for array in (self.outline, self.to_circle):
            array.flags.writeable = False

    @property
    def radius(self) -> float:
        """Geometric mean of the half axes, in pixels."""
        return float(1 / np.sqrt(np.linalg.det(self.to_circle)))


def find_piece(pixels: np.ndarray) -> Piece | Refusal:
    """Find the one worked piece in a photo.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB picture.

    Returns
    -------
    Piece or Refusal
        The refusal is "no piece" or "cut off".
    """
    height, width = pixels.shape[:2]
    scale = SMALL / max(height, width)
    small = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    mask = _body(_foreground(small))
    if mask is None:
        return Refusal("no piece")
    rows, columns = np.nonzero(mask)
    if min(np.ptp(rows), np.ptp(columns)) + 1 < SMALLEST * min(small.shape[:2]):
        return Refusal("no piece")
    if _on_frame(mask) > FRAME_SHARE:
        return Refusal("cut off")

    # Second look at a crop with half a piece of background on every side.
    size = max(np.ptp(rows), np.ptp(columns)) + 1
    middle = np.array([columns.mean(), rows.mean()])
    low = np.maximum(np.floor((middle - 0.85 * size) / scale), 0).astype(int)
    high = np.minimum(np.ceil((middle + 0.85 * size) / scale), (width, height)).astype(int)
    crop = pixels[low[1] : high[1], low[0] : high[0]]
    zoom = SMALL / max(crop.shape[:2])
    close = cv2.resize(crop, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
    prior = cv2.warpAffine(
        mask.astype(np.uint8),
        np.array([[zoom / scale, 0, -low[0] * zoom], [0, zoom / scale, -low[1] * zoom]]),
        (close.shape[1], close.shape[0]),
    ).astype(bool)
    refined = _body(_refined(close, prior))
    if refined is None or _overlap(refined, prior) < 0.6:
        refined = prior
    outline = (_radial_outline(refined) + 0.5) / zoom - 0.5 + low
    return _measure(outline)


def _foreground(picture: np.ndarray) -> np.ndarray:
    """Mask of what differs from the picture's border, shape (H, W), bool."""
    lab = cv2.cvtColor(picture, cv2.COLOR_RGB2LAB).astype(np.float32)
    smooth = cv2.GaussianBlur(lab, (0, 0), 1.5)
    texture = _texture(lab[..., 0])
    features = np.dstack([0.6 * smooth[..., 0], 1.6 * smooth[..., 1:], texture]).astype(np.float32)

    height, width = picture.shape[:2]
    margin = max(4, round(0.05 * min(height, width)))
    border = np.ones((height, width), bool)
    border[margin:-margin, margin:-margin] = False
    samples = features[border]
    cv2.setRNGSeed(0)
    _, labels, centres = cv2.kmeans(
        samples, 6, None, (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 15, 0.5), 1, cv2.KMEANS_PP_CENTERS
    )
    distance = np.full((height, width), np.inf, np.float32)
    for index, centre in enumerate(centres):
        members = samples[labels[:, 0] == index]
        if len(members) < 0.03 * len(samples):
            continue  # a hook or a finger that crosses the frame is not background
        deviation = np.sqrt(members.var(axis=0) + 3.0**2)
        distance = np.minimum(distance, np.sqrt((((features - centre) / deviation) ** 2).sum(-1)))

    threshold = max(2.5, float(np.percentile(distance[border], 90)))
    cut = np.full((height, width), cv2.GC_PR_BGD, np.uint8)
    cut[distance > threshold] = cv2.GC_PR_FGD
    cut[border & (distance < threshold)] = cv2.GC_BGD
    if not (cut == cv2.GC_PR_FGD).any():
        return np.zeros((height, width), bool)
    guide = np.dstack([0.7 * smooth[..., 0] + 2 * texture, lab[..., 1:]])
    return _graph_cut(guide, cut, 4)


def _refined(picture: np.ndarray, body: np.ndarray) -> np.ndarray:
    """Mask of a piece whose rough place is known, shape (H, W), bool.

    The texture that helps to find a piece spreads beyond its edge, so the edge
    itself is decided by colour alone, and only near the rough outline.
    """
    radius = np.sqrt(body.sum() / np.pi)
    grown = cv2.dilate(body.astype(np.uint8), _disc(0.06 * radius))
    core = cv2.erode(body.astype(np.uint8), _disc(0.15 * radius))
    cut = np.where(grown == 1, cv2.GC_PR_FGD, cv2.GC_BGD).astype(np.uint8)
    cut[(grown == 1) & ~body] = cv2.GC_PR_BGD
    cut[core == 1] = cv2.GC_FGD
    lab = cv2.cvtColor(picture, cv2.COLOR_RGB2LAB)
    return _graph_cut(lab, cut, 3)


def _texture(light: np.ndarray) -> np.ndarray:
    """How much lightness varies near each pixel, on a scale like lightness itself."""
    variance = cv2.GaussianBlur(light**2, (0, 0), 3) - cv2.GaussianBlur(light, (0, 0), 3) ** 2
    return 8 * np.log1p(np.sqrt(np.maximum(variance, 0)))


def _graph_cut(guide: np.ndarray, cut: np.ndarray, turns: int) -> np.ndarray:
    """Foreground by GrabCut from a first guess, shape (H, W), bool."""
    guide = np.clip(guide, 0, 255).astype(np.uint8)
    cv2.setRNGSeed(0)
    cv2.grabCut(guide, cut, None, np.zeros((1, 65)), np.zeros((1, 65)), turns, cv2.GC_INIT_WITH_MASK)
    return (cut == cv2.GC_FGD) | (cut == cv2.GC_PR_FGD)


def _body(mask: np.ndarray) -> np.ndarray | None:
    """Roundest large part of a mask without its thin attachments, or None."""
    filled = ndimage.binary_fill_holes(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, _disc(3)))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(filled.astype(np.uint8))
    best, best_score = None, 0.0
    for label in range(1, count):
        if stats[label, cv2.CC_STAT_AREA] < 0.002 * mask.size:
            continue
        part = np.pad(labels == label, 1)
        depth = cv2.distanceTransform(part.astype(np.uint8), cv2.DIST_L2, 5)
        inner = float(depth.max())
        core = (depth > 0.4 * inner).astype(np.uint8)
        _, cores, core_stats, _ = cv2.connectedComponentsWithStats(core)
        core = cores == 1 + int(np.argmax(core_stats[1:, cv2.CC_STAT_AREA]))
        away = cv2.distanceTransform((~core).astype(np.uint8), cv2.DIST_L2, 5)
        body = (part & (away <= 0.43 * inner))[1:-1, 1:-1]
        area = float(body.sum())
        # A disc seen at a slant has area pi * a * b with its largest inner circle of radius b.
        score = inner * min(1.0, np.pi * inner**2 / area)
        if score > best_score:
            best, best_score = body, score
    return best


def _disc(radius: float) -> np.ndarray:
    side = 2 * max(1, round(radius)) + 1
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))


def _on_frame(mask: np.ndarray) -> float:
    """Share of a mask's outline that lies on the picture's frame."""
    touching = mask[0].sum() + mask[-1].sum() + mask[:, 0].sum() + mask[:, -1].sum()
    return float(touching / (2 * np.sqrt(np.pi * mask.sum())))


def _overlap(one: np.ndarray, other: np.ndarray) -> float:
    return float((one & other).sum() / max(1, (one | other).sum()))


def _radial_outline(mask: np.ndarray) -> np.ndarray:
    """Outline of a mask in :data:`DIRECTIONS` directions from its middle, (x, y) in its pixels.

    Dents and spurs narrower than a fifth of the turn that leave the smooth
    outline by more than a twelfth of the radius are bridged.
    """
    rows, columns = np.nonzero(mask)
    centre = np.array([columns.mean(), rows.mean()])
    turn = np.arange(DIRECTIONS) / DIRECTIONS * 2 * np.pi
    direction = np.column_stack([np.sin(turn), -np.cos(turn)])
    steps = np.arange(0, np.hypot(*mask.shape), 0.25)
    places = centre[:, None, None] + direction.T[:, :, None] * steps
    inside = ndimage.map_coordinates(mask.astype(np.float32), places[::-1], order=1, cval=0) > 0.5
    radius = steps[inside.shape[1] - 1 - np.argmax(inside[:, ::-1], axis=1)]
    level = ndimage.median_filter(radius, DIRECTIONS // 5 | 1, mode="wrap")
    odd = ndimage.binary_dilation(np.abs(radius - level) > level / 12, iterations=2)
    if odd.any() and not odd.all():
        radius = np.interp(np.arange(DIRECTIONS), np.flatnonzero(~odd), radius[~odd], period=DIRECTIONS)
    radius = ndimage.gaussian_filter1d(radius, 1.0, mode="wrap")
    return centre + direction * radius[:, None]


def _measure(outline: np.ndarray) -> Piece | Refusal:
    """Fit the ellipse of tilt to an outline."""
    (x, y), (width, height), degrees = cv2.fitEllipse(outline.astype(np.float32))
    a, b, angle = width / 2, height / 2, np.radians(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    to_circle = turn.T @ np.diag([1 / a, 1 / b]) @ turn
    lengths = np.linalg.norm((outline - (x, y)) @ to_circle.T, axis=1)
    roundness = min(a, b) / max(a, b)
    raggedness = float(np.sqrt(np.mean((lengths - 1) ** 2)))
    if roundness < 0.55 or raggedness > 0.15:
        return Refusal("no piece")
    return Piece(outline, (float(x), float(y)), to_circle, float(roundness), raggedness)
