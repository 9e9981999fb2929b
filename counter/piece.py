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

__all__ = ["Piece", "find_piece", "find_pieces"]

#: Long side of the small copy, in pixels.
SMALL = 420
#: Number of directions in which the outline is measured.
DIRECTIONS = 360
#: Smallest piece, as a share of the picture's short side (diameter).
SMALLEST = 0.08
#: An outline this near to the frame, as a share of the picture's long side, lies on it.
FRAME = 0.006
#: Share of the radius by which the ellipse through the rest of the outline must
#: leave the picture before a piece that meets the frame is cut off.
BEYOND = 0.04
#: A second round thing is looked at where it has this share of the best one's score.
WORTH_A_LOOK = 0.3


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
    cut_off : bool
        True where the piece runs out of the picture.
    """

    outline: np.ndarray
    centre: tuple[float, float]
    to_circle: np.ndarray
    roundness: float
    raggedness: float
    cut_off: bool = False

    def __post_init__(self) -> None:
        for array in (self.outline, self.to_circle):
            array.flags.writeable = False

    @property
    def radius(self) -> float:
        """Geometric mean of the half axes, in pixels."""
        return float(1 / np.sqrt(np.linalg.det(self.to_circle)))


def find_pieces(pixels: np.ndarray) -> tuple[Piece, ...]:
    """Find everything in a photo that is round enough to be a worked piece.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB picture.

    Returns
    -------
    tuple of Piece
        Largest and roundest first; empty where there is none. A ball of yarn
        or a plate is among them: whether something was worked in rounds is
        not told by its shape.
    """
    scale = SMALL / max(pixels.shape[:2])
    small = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    pieces = []
    for mask in _bodies(_foreground(small)):
        rows, columns = np.nonzero(mask)
        if min(np.ptp(rows), np.ptp(columns)) + 1 >= SMALLEST * min(small.shape[:2]):
            piece = _look_closer(pixels, mask, scale)
            if piece is not None:
                pieces.append(piece)
    return tuple(pieces)


def find_piece(pixels: np.ndarray) -> Piece | Refusal:
    """Find the piece in a photo that holds one, without asking whether it was worked in rounds.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB picture.

    Returns
    -------
    Piece or Refusal
        The refusal is "no piece" or "cut off".
    """
    pieces = find_pieces(pixels)
    whole = [piece for piece in pieces if not piece.cut_off]
    if whole:
        return whole[0]
    return Refusal("cut off" if pieces else "no piece")


def _look_closer(pixels: np.ndarray, mask: np.ndarray, scale: float) -> Piece | None:
    """Outline of a body on an enlarged crop with half a piece of background on every side."""
    height, width = pixels.shape[:2]
    rows, columns = np.nonzero(mask)
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
    refined = next(iter(_bodies(_refined(close, prior))), None)
    if refined is None or _overlap(refined, prior) < 0.6:
        refined = prior
    outline = (_radial_outline(refined) + 0.5) / zoom - 0.5 + low
    return _measure(outline, (width, height))


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


def _bodies(mask: np.ndarray) -> list[np.ndarray]:
    """Round parts of a mask without their thin attachments, best first.

    Parts that only touch each other are told apart: each has its own core,
    the places that lie deep inside it.
    """
    filled = ndimage.binary_fill_holes(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, _disc(3)))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(filled.astype(np.uint8))
    found = []
    for label in range(1, count):
        if stats[label, cv2.CC_STAT_AREA] < 0.002 * mask.size:
            continue
        part = np.pad(labels == label, 1)
        depth = cv2.distanceTransform(part.astype(np.uint8), cv2.DIST_L2, 5)
        inner = float(depth.max())
        number, cores, core_stats, _ = cv2.connectedComponentsWithStats((depth > 0.4 * inner).astype(np.uint8))
        for core_label in range(1, number):
            core = cores == core_label
            own = float(depth[core].max())
            away = cv2.distanceTransform((~core).astype(np.uint8), cv2.DIST_L2, 5)
            body = part & (away <= 0.43 * inner)
            area = float(body.sum())
            # A disc seen at a slant has area pi * a * b with its largest inner circle of radius b.
            found.append((own * min(1.0, np.pi * own**2 / area), body[1:-1, 1:-1]))
    found.sort(key=lambda scored: -scored[0])
    return [body for score, body in found if score >= WORTH_A_LOOK * found[0][0]]


def _disc(radius: float) -> np.ndarray:
    side = 2 * max(1, round(radius)) + 1
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))


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


def _measure(outline: np.ndarray, size: tuple[int, int]) -> Piece | None:
    """Fit the ellipse of tilt to an outline; None where it is no ellipse."""
    # Where a finger or a hook comes in over the frame the outline runs along the
    # frame too, but the rest of it closes within the picture.
    free = ((outline > FRAME * max(size)) & (outline < np.array(size) - 1 - FRAME * max(size))).all(axis=1)
    cut_off = False
    if not free.all():
        if free.sum() < DIRECTIONS / 3:
            return None
        x, y, to_circle, _ = _ellipse(outline[free])
        reach = np.sqrt(np.diag(np.linalg.inv(to_circle.T @ to_circle)))
        beyond = max((reach - (x, y)).max(), (reach + (x, y) - size).max()) / reach.mean()
        cut_off = bool(beyond > BEYOND)
        if not cut_off:
            turn = np.flatnonzero(free)
            outline = np.column_stack(
                [np.interp(np.arange(len(outline)), turn, outline[free, axis], period=len(outline)) for axis in (0, 1)]
            )
    x, y, to_circle, roundness = _ellipse(outline)
    lengths = np.linalg.norm((outline - (x, y)) @ to_circle.T, axis=1)
    raggedness = float(np.sqrt(np.mean((lengths - 1) ** 2)))
    if (roundness < 0.55 or raggedness > 0.15) and not cut_off:
        return None
    return Piece(outline, (x, y), to_circle, roundness, raggedness, cut_off)


def _ellipse(points: np.ndarray) -> tuple[float, float, np.ndarray, float]:
    """Centre, undoing matrix and roundness of the ellipse through points."""
    (x, y), (width, height), degrees = cv2.fitEllipse(points.astype(np.float32))
    a, b, angle = width / 2, height / 2, np.radians(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    return float(x), float(y), turn.T @ np.diag([1 / a, 1 / b]) @ turn, float(min(a, b) / max(a, b))
