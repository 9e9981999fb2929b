"""Where the worked piece is: its outline and the ellipse of its tilt.

First, on a small copy, whatever differs from the ground is found: the ground
is modelled from the colours along the frame and a graph cut decides. Round
bodies are taken from it without their tails, hooks and fingers. Then the rim
of each is traced on an enlarged crop: the closed line round the body that best
parts what looks like its inside from what looks like its surroundings. Colour
without brightness and the unevenness of yarn tell a hard shadow from the
piece; shadows are expected on either side.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy import ndimage

from counter.basics.answer import Refusal

__all__ = ["Piece", "find_piece", "find_pieces"]

#: Long side of the small copy on which bodies are found, in pixels.
COPY = 320
#: Long side of the crop on which a rim is traced, in pixels.
CROP = 420
#: Number of directions in which the outline is measured.
DIRECTIONS = 360
#: Smallest piece, as a share of the picture's short side (diameter).
SMALLEST = 0.08
#: An outline this near to the frame, as a share of the picture's long side, lies on it.
FRAME = 0.006
#: Share of the radius by which the ellipse through the rest of the outline must
#: leave the picture before a piece that meets the frame is cut off.
BEYOND = 0.04
#: Parts of the frame that are looked at for what lies on it in one or two places only,
#: and the share of it that such a thing leaves free.
FRAME_PARTS, FREE = 40, 0.45
#: Shades of the ground are neighbours up to this many of their own deviations.
NEIGHBOURS = 5.0
#: A second round thing is looked at where it has this share of the best one's
#: score, and so many at most.
WORTH_A_LOOK, MOST_PIECES = 0.3, 4
#: How deep a core lies, as shares of the deepest place of a part; the deeper
#: levels tell apart what touches.
CORES = (0.4, 0.65)
#: Rays and steps per radius of the polar picture in which a rim is traced, and
#: how far it reaches in radii.
RAYS, PER_RADIUS, REACH = 240, 64, 1.7
#: Steps that a rim may rise from one ray to the next, and the price of each in nats.
RISE, PRICE = 2, 1.5
#: Most that one pixel counts for or against the piece, in nats.
MOST_ODDS = 3.0
#: Share of the piece and of the ground that lies in shadow, which takes up to
#: three quarters of the light.
PIECE_SHADE, GROUND_SHADE, DEEPEST = 0.15, 0.3, 4.0
#: Contrast of yarn at which a pixel teaches in full what a piece looks like.
UNEVEN = 0.06


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


def find_pieces(pixels: np.ndarray) -> tuple[Piece, ...]:
    """Find everything in a photo that is round enough to be a worked piece.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB picture.

    Returns
    -------
    tuple of Piece
        Whole before cut off, then large and round ones first; empty where
        there is none. A ball of yarn or a plate is among them: whether
        something was worked in rounds is not told by its shape.
    """
    scale = COPY / max(pixels.shape[:2])
    small = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    masks: list[np.ndarray] = []
    for foreground in _foregrounds(small):
        for mask in _bodies(foreground):
            rows, columns = np.nonzero(mask)
            large = min(np.ptp(rows), np.ptp(columns)) + 1 >= SMALLEST * min(small.shape[:2])
            if large and not any(_overlap(mask, other) > 0.9 for other in masks):
                masks.append(mask)
    pieces = [piece for mask in masks[: 2 * MOST_PIECES] if (piece := _look_closer(pixels, mask, scale)) is not None]
    pieces.sort(key=lambda piece: (piece.cut_off, -piece.radius * np.exp(-10 * piece.raggedness)))
    kept: list[Piece] = []
    for piece in pieces:
        if not any(_same_place(piece, other) for other in kept):
            kept.append(piece)
    return tuple(kept[:MOST_PIECES])


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
    if pieces and not pieces[0].cut_off:
        return pieces[0]
    return Refusal("cut off" if pieces else "no piece")


def _foregrounds(picture: np.ndarray) -> list[np.ndarray]:
    """Masks of what may differ from the ground, each of shape (H, W), bool.

    One takes everything along the frame for ground; where something lies on
    the frame in one place only, another takes that for a thing in the picture.
    """
    lab = cv2.cvtColor(picture, cv2.COLOR_RGB2LAB).astype(np.float32)
    smooth = cv2.GaussianBlur(lab, (0, 0), 1.5)
    texture = _texture(lab[..., 0])
    features = np.dstack([0.6 * smooth[..., 0], 1.6 * smooth[..., 1:], texture]).astype(np.float32)
    guide = np.dstack([0.7 * smooth[..., 0] + 2 * texture, lab[..., 1:]])

    height, width = picture.shape[:2]
    margin = max(4, round(0.05 * min(height, width)))
    border = np.ones((height, width), bool)
    border[margin:-margin, margin:-margin] = False
    samples = features[border]
    cv2.setRNGSeed(0)
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 15, 0.5)
    _, labels, _ = cv2.kmeans(samples, 6, None, criteria, 1, cv2.KMEANS_PP_CENTERS)
    # A hook or a finger that crosses the frame is not ground.
    shades = [labels[:, 0] == index for index in range(6) if (labels == index).mean() >= 0.03]
    y, x = np.mgrid[:height, :width]
    turn = np.arctan2((x + 0.5) / width - 0.5, 0.5 - (y + 0.5) / height) / (2 * np.pi) % 1
    part = (turn[border] * FRAME_PARTS).astype(int) % FRAME_PARTS

    spread = _spread(samples, shades, part)
    grounds = [shades] if len(spread) == len(shades) else [shades, spread]
    # Cutting takes a quarter of a whole count, on one core each.
    with ThreadPoolExecutor(len(grounds)) as beside:
        return list(beside.map(lambda ground: _apart(features, guide, border, ground), grounds))


def _spread(samples: np.ndarray, shades: list[np.ndarray], part: np.ndarray) -> list[np.ndarray]:
    """Those shades that lie all round the frame, and those that pass into them by small steps."""
    middles = np.array([samples[own].mean(axis=0) for own in shades])
    deviations = np.sqrt([samples[own].var(axis=0) + 3.0**2 for own in shades])
    step = np.linalg.norm((middles[:, None] - middles) / np.minimum(deviations[:, None], deviations), axis=2)
    ground = np.array(
        [
            _longest_gap(np.bincount(part[own], minlength=FRAME_PARTS) > 0.1 * len(samples) / FRAME_PARTS)
            <= FREE * FRAME_PARTS
            for own in shades
        ]
    )
    ground[int(np.argmax([own.sum() for own in shades]))] = True
    for _ in shades:
        ground |= (step[:, ground] < NEIGHBOURS).any(axis=1)
    return [own for own, is_ground in zip(shades, ground, strict=True) if is_ground]


def _longest_gap(there: np.ndarray) -> int:
    """Longest run of False in a closed ring."""
    where = np.flatnonzero(there)
    if not len(where):
        return len(there)
    return int(np.diff(np.append(where, where[0] + len(there))).max()) - 1


def _apart(features: np.ndarray, guide: np.ndarray, border: np.ndarray, shades: list[np.ndarray]) -> np.ndarray:
    """Mask of what differs from some shades of the border, shape (H, W), bool."""
    samples = features[border]
    distance = np.full(border.shape, np.inf, np.float32)
    for own in shades:
        deviation = np.sqrt(samples[own].var(axis=0) + 3.0**2)
        distance = np.minimum(distance, np.sqrt((((features - samples[own].mean(axis=0)) / deviation) ** 2).sum(-1)))
    ground = np.any(shades, axis=0)
    threshold = max(2.5, float(np.percentile(distance[border][ground], 93)))
    cut = np.full(border.shape, cv2.GC_PR_BGD, np.uint8)
    cut[distance > threshold] = cv2.GC_PR_FGD
    cut[border & (distance < threshold)] = cv2.GC_BGD
    if not (cut == cv2.GC_PR_FGD).any() or not (cut == cv2.GC_BGD).any():
        return np.zeros(border.shape, bool)
    cv2.setRNGSeed(0)
    guide = np.clip(guide, 0, 255).astype(np.uint8)
    cv2.grabCut(guide, cut, None, np.zeros((1, 65)), np.zeros((1, 65)), 3, cv2.GC_INIT_WITH_MASK)
    return (cut == cv2.GC_FGD) | (cut == cv2.GC_PR_FGD)


def _texture(light: np.ndarray) -> np.ndarray:
    """How much lightness varies near each pixel, on a scale like lightness itself."""
    variance = cv2.GaussianBlur(light**2, (0, 0), 3) - cv2.GaussianBlur(light, (0, 0), 3) ** 2
    return 8 * np.log1p(np.sqrt(np.maximum(variance, 0)))


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
        for level in CORES:
            number, cores = cv2.connectedComponents((depth > level * inner).astype(np.uint8))
            for core_label in range(1, number):
                core = cores == core_label
                own = float(depth[core].max())
                away = cv2.distanceTransform((~core).astype(np.uint8), cv2.DIST_L2, 5)
                body = part & (away <= 1.08 * level * inner)
                # A disc seen at a slant has area pi * a * b with its largest inner circle of radius b.
                found.append((own * min(1.0, np.pi * own**2 / float(body.sum())), body[1:-1, 1:-1]))
    found.sort(key=lambda scored: -scored[0])
    return [body for score, body in found if score >= WORTH_A_LOOK * found[0][0]]


def _disc(radius: float) -> np.ndarray:
    side = 2 * max(1, round(radius)) + 1
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))


def _overlap(one: np.ndarray, other: np.ndarray) -> float:
    return float((one & other).sum() / max(1, (one | other).sum()))


def _same_place(one: Piece, other: Piece) -> bool:
    """True where one of two pieces lies on the other."""
    small, large = sorted((one, other), key=lambda piece: piece.radius)
    edge = np.array([large.to_circle @ (point - large.centre) for point in small.outline[::10]])
    return bool(np.mean(np.linalg.norm(edge, axis=1) < 1) > 0.25 or np.linalg.norm(edge.mean(axis=0)) < 0.8)


def _look_closer(pixels: np.ndarray, mask: np.ndarray, scale: float) -> Piece | None:
    """Trace the rim of a body on an enlarged crop with half a piece of ground on every side."""
    height, width = pixels.shape[:2]
    rows, columns = np.nonzero(mask)
    size = max(np.ptp(rows), np.ptp(columns)) + 1
    middle = np.array([columns.mean(), rows.mean()])
    low = np.maximum(np.floor((middle - 0.85 * size) / scale), 0).astype(int)
    high = np.minimum(np.ceil((middle + 0.85 * size) / scale), (width, height)).astype(int)
    crop = pixels[low[1] : high[1], low[0] : high[0]]
    zoom = CROP / max(crop.shape[:2])
    close = cv2.resize(crop, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
    outline = ((_radial_outline(mask) + 0.5) / scale - low) * zoom - 0.5
    outline = (_trace(close, outline) + 0.5) / zoom - 0.5 + low
    return _measure(outline, (width, height))


def _radial_outline(mask: np.ndarray) -> np.ndarray:
    """Outline of a mask in :data:`DIRECTIONS` directions from its middle, (x, y) in its pixels."""
    rows, columns = np.nonzero(mask)
    centre = np.array([columns.mean(), rows.mean()])
    direction = _directions(DIRECTIONS)
    steps = np.arange(0, np.hypot(rows - centre[1], columns - centre[0]).max() + 1.5, 0.25)
    places = centre[:, None, None] + direction.T[:, :, None] * steps
    inside = ndimage.map_coordinates(mask.astype(np.float32), places[::-1], order=1, cval=0) > 0.5
    radius = steps[inside.shape[1] - 1 - np.argmax(inside[:, ::-1], axis=1)]
    return centre + direction * _bridged(radius)[:, None]


def _directions(number: int) -> np.ndarray:
    """Unit vectors clockwise from twelve o'clock, shape (number, 2)."""
    turn = np.arange(number) / number * 2 * np.pi
    return np.column_stack([np.sin(turn), -np.cos(turn)])


def _bridged(radius: np.ndarray) -> np.ndarray:
    """Radii without dents and spurs.

    Those narrower than a fifth of the turn that leave the smooth outline by
    more than a twelfth of the radius are a tail, a hook or a finger.
    """
    level = ndimage.median_filter(radius, len(radius) // 5 | 1, mode="wrap")
    odd = ndimage.binary_dilation(np.abs(radius - level) > level / 12, iterations=2)
    if odd.any() and not odd.all():
        place = np.arange(len(radius))
        radius = np.interp(place, place[~odd], radius[~odd], period=len(radius))
    return ndimage.gaussian_filter1d(radius, 1.0, mode="wrap")


def _trace(picture: np.ndarray, outline: np.ndarray) -> np.ndarray:
    """Follow the rim near a rough outline, shape (DIRECTIONS, 2), in pixels of the picture.

    The unevenness of yarn helps to find the rim but spreads beyond it, so the
    second, narrower turn goes by colour alone.
    """
    lab = cv2.cvtColor(picture, cv2.COLOR_RGB2LAB).astype(np.float32)
    light = cv2.GaussianBlur(lab[..., 0], (0, 0), 3)
    fine = lab[..., 0] - light
    contrast = np.sqrt(cv2.GaussianBlur(fine**2, (0, 0), 3)) / (light + 20)
    for blur, allowed, inside, around in (
        (1.0, (0.45, 1.35), (0.1, 0.85), (1.15, 1.7)),
        (0.7, (0.85, 1.15), (0.1, 0.96), (1.06, 1.4)),
    ):
        smooth = cv2.GaussianBlur(lab, (0, 0), blur)
        # Colour as a share of the light does not change in a shadow.
        tint = (smooth[..., 1:] - 128) / (smooth[..., :1] + 30)
        planes = np.dstack([np.log(smooth[..., 0] + 10), tint, np.log(contrast + 0.003)])
        outline = _closed_line(planes, outline, allowed, inside, around, uneven=blur == 1.0)
    return outline


def _closed_line(
    planes: np.ndarray,
    outline: np.ndarray,
    allowed: tuple[float, float],
    inside: tuple[float, float],
    around: tuple[float, float],
    uneven: bool,
) -> np.ndarray:
    """Closed line near an outline that best parts inside from surroundings.

    Parameters
    ----------
    planes : ndarray of shape (H, W, 4), float32
        Logarithm of lightness, tint in two planes, logarithm of contrast.
    outline : ndarray of shape (DIRECTIONS, 2), float
        Rough outline.
    allowed, inside, around : tuple of float
        As shares of the way from the middle to the rough outline: where the
        line may run, and what is sure to be piece and ground.
    uneven : bool
        Go by contrast, too.

    Returns
    -------
    ndarray of shape (DIRECTIONS, 2), float
    """
    x, y, to_circle, _ = _ellipse(outline)
    back = np.linalg.inv(to_circle)
    reach = np.arange(round(REACH * PER_RADIUS)) / PER_RADIUS
    places = ((_directions(RAYS) @ back.T)[:, None] * reach[:, None] + (x, y)).astype(np.float32)
    polar = cv2.remap(planes, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    height, width = planes.shape[:2]
    pictured = (places >= 0).all(axis=-1) & (places <= (width - 1, height - 1)).all(axis=-1)

    flat = (outline - (x, y)) @ to_circle.T
    angle = np.arctan2(flat[:, 0], -flat[:, 1]) / (2 * np.pi) % 1
    order = np.argsort(angle)
    now = np.interp(np.arange(RAYS) / RAYS, angle[order], np.linalg.norm(flat, axis=1)[order], period=1)
    share = reach / now[:, None]
    # A shadow that was taken in is smooth and must not teach what the piece looks like.
    yarn = np.minimum(1, np.exp(polar[..., 3]) / UNEVEN) ** 2
    area = np.broadcast_to(reach, share.shape)
    piece = area * yarn * pictured * (share > inside[0]) * (share < inside[1])
    ground = area * pictured * (share > around[0]) * (share < around[1])
    if not piece.any() or not ground.any():
        return outline
    odds = _odds(polar[..., :1], ((np.log(10), np.log(265), 32),), piece, ground, (PIECE_SHADE, GROUND_SHADE))
    odds += _odds(polar[..., 1:3], ((-0.8, 0.8, 28),) * 2, piece, ground)
    if uneven:
        odds += _odds(polar[..., 3:], ((np.log(0.003), np.log(0.6), 24),), piece, ground)
    odds = np.clip(odds, -MOST_ODDS, MOST_ODDS) * pictured
    gain = np.cumsum(odds * reach if uneven else odds, axis=1)
    gain[(share < allowed[0]) | (share > allowed[1])] = -1e6
    radius = np.interp(
        np.arange(DIRECTIONS) / DIRECTIONS, np.arange(RAYS) / RAYS, _best_loop(gain) / PER_RADIUS, period=1
    )
    return (_directions(DIRECTIONS) * _bridged(radius)[:, None]) @ back.T + (x, y)


def _odds(
    values: np.ndarray,
    axes: tuple[tuple[float, float, int], ...],
    piece: np.ndarray,
    ground: np.ndarray,
    shade: tuple[float, float] = (0.0, 0.0),
) -> np.ndarray:
    """Logarithm of the odds for the piece at every place, by smoothed histograms.

    Parameters
    ----------
    values : ndarray of shape (rays, steps, len(axes)), float
    axes : tuple of (low, high, bins)
    piece, ground : ndarray of shape (rays, steps), float
        Weight of each place as an example.
    shade : tuple of float
        Share of either that lies in shadow, where the values are logarithms
        of light.

    Returns
    -------
    ndarray of shape (rays, steps), float
    """
    shape = tuple(bins for _, _, bins in axes)
    index = [
        np.clip((values[..., k] - low) / (high - low) * bins, 0, bins - 1).astype(int)
        for k, (low, high, bins) in enumerate(axes)
    ]
    place = np.ravel_multi_index(index, shape).ravel()
    logs = []
    for weight, dark in zip((piece, ground), shade, strict=True):
        seen = np.bincount(place, weights=weight.ravel(), minlength=int(np.prod(shape))).reshape(shape)
        seen = ndimage.gaussian_filter(seen, 1.0, mode="nearest") / seen.sum()
        if dark:
            low, high, bins = axes[0]
            depths = range(1, round(np.log(DEEPEST) / (high - low) * bins) + 1)
            shadow = sum(np.append(seen[depth:], np.zeros(depth)) for depth in depths)
            seen = (1 - dark) * seen + dark * shadow / max(shadow.sum(), 1e-9)
        logs.append(np.log(seen + 0.1 / seen.size))
    return (logs[0] - logs[1]).ravel()[place].reshape(piece.shape)


def _best_loop(gain: np.ndarray) -> np.ndarray:
    """Closed path of greatest gain that rises at most :data:`RISE` steps a ray, shape (rays,).

    The path is followed for two turns; half a turn from either end the start
    is forgotten and the path closes.
    """
    rays, steps = gain.shape
    rises = np.arange(-RISE, RISE + 1)
    price = PRICE * np.abs(rises)[:, None]
    padded = np.full(steps + 2 * RISE, -np.inf)
    score = padded[RISE:-RISE]
    come_from = sliding_window_view(padded, steps)
    score[:] = gain[0]
    best = np.empty((2 * rays, steps), int)
    for ray in range(1, 2 * rays):
        options = come_from - price
        options.argmax(axis=0, out=best[ray])
        np.add(options.max(axis=0), gain[ray % rays], out=score)
    path = np.empty(2 * rays, int)
    path[-1] = int(np.argmax(score))
    for ray in range(2 * rays - 1, 0, -1):
        path[ray - 1] = path[ray] + rises[best[ray, path[ray]]]
    half = rays // 2
    return np.roll(path[half : half + rays], half).astype(float)


def _measure(outline: np.ndarray, size: tuple[int, int]) -> Piece | None:
    """Fit the ellipse of tilt to an outline; None where it is no ellipse."""
    # Where a finger or a hook comes in over the frame the outline runs along the
    # frame too, but the rest of it closes within the picture.
    edge = FRAME * max(size)
    free = ((outline > edge) & (outline < np.array(size) - 1 - edge)).all(axis=1)
    cut_off = False
    if not free.all():
        if free.sum() < len(outline) / 3:
            return None
        x, y, to_circle, _ = _ellipse(outline[free])
        reach = np.sqrt(np.diag(np.linalg.inv(to_circle.T @ to_circle)))
        cut_off = bool(max((reach - (x, y)).max(), (reach + (x, y) - size).max()) > BEYOND * reach.mean())
        if not cut_off:
            place = np.arange(len(outline))
            outline = np.column_stack(
                [np.interp(place, place[free], outline[free, axis], period=len(outline)) for axis in (0, 1)]
            )
    x, y, to_circle, roundness = _ellipse(outline)
    lengths = np.linalg.norm((outline - (x, y)) @ to_circle.T, axis=1)
    raggedness = float(np.sqrt(np.mean((lengths - 1) ** 2)))
    if (roundness < 0.55 or raggedness > 0.15) and not cut_off:
        return None
    return Piece(outline, (x, y), to_circle, roundness, raggedness, not free.all(), cut_off)


def measured(line: np.ndarray, hidden: np.ndarray, size: tuple[int, int]) -> Piece | None:
    """A piece from its rim.

    Parameters
    ----------
    line : ndarray of shape (K, 2), float
        Closed, clockwise, (x, y) in pixels.
    hidden : ndarray of shape (K,), bool
        Where the rim is not in view.
    size : tuple of int
        Width and height of the photo, pixels.

    Returns
    -------
    Piece or None
        None where the line is no rim.
    """
    x, y, to_circle, roundness = _ellipse(line)
    lengths = np.linalg.norm((line - (x, y)) @ to_circle.T, axis=1)
    raggedness = float(np.sqrt(np.mean((lengths - 1) ** 2)))
    outside = ((line < 0) | (line > np.array(size) - 1)).any(axis=1)
    start = int(np.argmin(np.where(line[:, 1] < y, np.abs(line[:, 0] - x), np.inf)))
    line = np.roll(line, -start, axis=0)
    return Piece(line, (x, y), to_circle, roundness, raggedness, bool(outside.any()), bool(outside.mean() > CUT_OFF))


#: A piece of whose rim more than this share lies outside the photo is cut off.
CUT_OFF = 0.03


def _ellipse(points: np.ndarray) -> tuple[float, float, np.ndarray, float]:
    """Centre x and y, undoing matrix and roundness of the ellipse through points."""
    (x, y), (width, height), degrees = cv2.fitEllipse(points.astype(np.float32))
    a, b, angle = width / 2, height / 2, np.radians(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    return float(x), float(y), turn.T @ np.diag([1 / a, 1 / b]) @ turn, float(min(a, b) / max(a, b))
