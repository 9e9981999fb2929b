"""Where the pieces of a photo are, and where the rim of each runs.

Two trained networks do the looking. The first sees a small copy of the whole
photo and says, pixel by pixel, where something worked in rounds lies, where
its edge is, its centre ring, what lies over it and what yarn is not the piece;
each find is looked at once more on an enlarged crop. The second sees the rim
laid straight round the ellipse of that find and says in every direction how
far out the rim runs and whether it is in view. Where it is not, the rim goes
on from what is.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy import ndimage, special
from skimage.measure import regionprops

from counter.counting.model import predicted
from counter.counting.piece import Piece, measured

__all__ = ["Find", "find_all", "find_around", "follow_rim", "plane_chances"]

#: Long side of the copy that the first network is given, pixels; its sides are multiples of the second number.
COPY_PX, COPY_STEP_PX = 288, 32
#: What the first network says, in its order.
PLANES = ("body", "edge", "thing", "loose", "centre")
#: Rows and columns of a rim laid straight, columns shown again on either side, and
#: distances of the first and last row from the middle, in radii of the ellipse.
RIM_ROWS, RIM_COLUMNS, WRAP_COLUMNS, RIM_RADII = 96, 512, 32, (0.45, 1.55)
#: Least chance of a pixel of a piece (the even chance that the network was trained for).
BODY_CHANCE = 0.5
#: Chances of an edge that part two pieces: the first always, the others where what lies
#: between them fills less than this share of its convex hull (a piece fills 0.95 and more), if
#: each part then fills the second share of its own and has at least the third share of the whole's
#: pixels. Chosen between a few ways with a look at both sets of photos.
EDGE_CHANCES, WHOLE_SOLIDITY, PART_SOLIDITY, PART_AREA_SHARE = (0.5, 0.35, 0.25, 0.15), 0.9, 0.88, 0.1
#: Pixels of the copy by which a part is grown back into the edge that was taken from it (guessed).
GROWN_PX = 6
#: Side of the crop of a closer look, in diameters of the find; a find that fills more than
#: this share of the copy is large enough as it is (both guessed).
CROP_DIAMETERS, LARGE_COPY_SHARE = 1.7, 0.5
#: Diameter of the smallest find, as a share of the copy's long side (guessed).
SMALLEST_COPY_SHARE = 0.05
#: Least mean chance over a find (guessed).
LEAST_MEAN_CHANCE = 0.6
#: Most finds of a photo, for speed.
MOST_FINDS = 12
#: Least chance that the ring is where it is said to be (guessed).
RING_CHANCE = 0.25
#: A direction in which the rim is less likely in view than this, or said less narrowly, is bridged (guessed).
VIEW_CHANCE, NARROW_RADII = 0.35, 0.12
#: Waves round the rim that a bridge may have (guessed).
BRIDGE_WAVES = 4
#: A rim that leaves out what the first network saw in more than this share of the directions, by
#: more than the margin, must lie on clearer edges: lobes go all the way round, a thing that
#: was taken for a part of the piece lies on one side (both guessed).
LEFT_OUT_SHARE, LEFT_OUT_RADII = 0.5, 0.04


@dataclass(frozen=True, eq=False)
class Find:
    """A piece that was found.

    Parameters
    ----------
    piece : Piece
        Its rim.
    chance : float
        How sure the network is that this was worked in rounds, 0 to 1: mean over the find.
    ring : tuple of float or None
        (x, y) of the centre ring in pixels of the photo, where it was seen.
    hidden : ndarray of shape (len(piece.outline),), bool
        Where the rim is not in view and was bridged.
    """

    piece: Piece
    chance: float
    ring: tuple[float, float] | None
    hidden: np.ndarray

    def __post_init__(self) -> None:
        self.hidden.flags.writeable = False

    @property
    def in_view(self) -> float:
        """Share of the rim that is in view, 0 to 1."""
        return float(1 - self.hidden.mean())


def plane_chances(pixels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """What the first network says of each pixel of a picture.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.

    Returns
    -------
    chances : ndarray of shape (len(PLANES), h, w), float32
        0 to 1.
    scale : ndarray of shape (2,), float
        Pixels of the chances for each pixel of the picture, across and down.
    """
    height, width = pixels.shape[:2]
    zoom = COPY_PX / max(height, width)
    size = [max(COPY_STEP_PX, COPY_STEP_PX * round(zoom * side / COPY_STEP_PX)) for side in (width, height)]
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA if zoom < 1 else cv2.INTER_LINEAR)
    said = predicted("piece", small.transpose(2, 0, 1)[None].astype(np.float32) / 255)[0]
    return special.expit(said), np.array([said.shape[2] / width, said.shape[1] / height])


def _parts(chances: np.ndarray) -> list[np.ndarray]:
    """Masks of what the network took for pieces, one each."""
    body, edge = chances[0], chances[1]
    least = np.pi / 4 * (SMALLEST_COPY_SHARE * max(body.shape)) ** 2
    masks: list[np.ndarray] = []
    for mask in _cores(body > BODY_CHANCE, edge < EDGE_CHANCES[0], 0.4 * least):
        masks += _parted(mask, edge, least)
    whole = [ndimage.binary_fill_holes(ndimage.binary_closing(np.pad(mask, 1)))[1:-1, 1:-1] for mask in masks]
    return [mask for mask in whole if mask.sum() >= least]


def _cores(inside: np.ndarray, clear: np.ndarray, least: float) -> list[np.ndarray]:
    """Connected parts of what is inside and clear of edges, each grown back into the edges that are its own."""
    labels, number = ndimage.label(inside & clear)
    sizes = np.bincount(labels.ravel(), minlength=number + 1)
    kept = [label for label in range(1, number + 1) if sizes[label] >= least]
    if not kept:
        return []
    away, nearest = ndimage.distance_transform_edt(~np.isin(labels, kept), return_indices=True)
    owner = np.where(inside & (away < GROWN_PX), labels[tuple(nearest)], 0)
    return [owner == label for label in kept]


def _solid(mask: np.ndarray) -> float:
    """Share of its convex hull that a mask fills, without its holes."""
    return float(regionprops(ndimage.binary_fill_holes(mask).astype(np.uint8))[0].solidity)


def _parted(mask: np.ndarray, edge: np.ndarray, least: float) -> list[np.ndarray]:
    """The pieces of a mask, which touch where it has a waist: parted along fainter and fainter edges."""
    if _solid(mask) >= WHOLE_SOLIDITY:
        return [mask]
    for faint in EDGE_CHANCES[1:]:
        parts = _cores(mask, edge < faint, max(least, PART_AREA_SHARE * mask.sum()))
        if len(parts) > 1 and min(map(_solid, parts)) >= PART_SOLIDITY:
            return parts
    return [mask]


def _crop(pixels: np.ndarray, middle: np.ndarray, side: float) -> tuple[np.ndarray, np.ndarray]:
    """A square of the picture, and where its first pixel lies; beyond the frame the edge is repeated."""
    half = max(8, round(side / 2))
    low = np.round(middle).astype(int) - half
    high = low + 2 * half
    height, width = pixels.shape[:2]
    within_low, within_high = np.clip(low, 0, (width, height)), np.clip(high, 0, (width, height))
    cut = pixels[within_low[1] : within_high[1], within_low[0] : within_high[0]]
    return cut, within_low


def _ellipse_of(mask: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Middle of a mask, and the matrix that makes the unit circle the ellipse of its moments."""
    rows, columns = np.nonzero(mask)
    points = np.column_stack([columns, rows]).astype(float)
    middle = points.mean(axis=0)
    # The second moment of an even disc is a quarter of its squared radius.
    spread = np.cov((points - middle).T) * 4 + 1e-6 * np.eye(2)
    values, vectors = np.linalg.eigh(spread)
    return middle, vectors @ np.diag(np.sqrt(values)) @ vectors.T


def follow_rim(
    pixels: np.ndarray, middle: np.ndarray, ellipse: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Let the second network see a rim laid straight round an ellipse.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.
    middle : ndarray of shape (2,), float
        (x, y) in pixels.
    ellipse : ndarray of shape (2, 2), float
        Makes the unit circle the ellipse.

    Returns
    -------
    line : ndarray of shape (RIM_COLUMNS / 2, 2), float
        The rim, (x, y) in pixels, clockwise from twelve o'clock of the ellipse.
    clear : ndarray of shape (RIM_COLUMNS / 2,), float
        How narrowly the network says where, as the spread in radii of the ellipse.
    seen : ndarray of shape (RIM_COLUMNS / 2,), float
        Chance that the rim is in view, 0 to 1.
    """
    turn = (np.arange(-WRAP_COLUMNS, RIM_COLUMNS + WRAP_COLUMNS) + 0.5) / RIM_COLUMNS * 2 * np.pi
    far = np.linspace(*RIM_RADII, RIM_ROWS)
    unit = far[:, None, None] * np.column_stack([np.sin(turn), -np.cos(turn)])
    places = unit @ ellipse.T + middle
    # One row may cover several pixels: shrink first, so that none are skipped.
    step = np.sqrt(abs(np.linalg.det(ellipse))) * (RIM_RADII[1] - RIM_RADII[0]) / (RIM_ROWS - 1)
    if step > 1.5:
        reach = np.ceil(np.abs(places - middle).max(axis=(0, 1))).astype(int) + 2
        low = np.clip(np.floor(middle).astype(int) - reach, 0, np.array(pixels.shape[1::-1]) - 1)
        high = np.clip(np.ceil(middle).astype(int) + reach, low + 1, pixels.shape[1::-1])
        pixels = cv2.resize(
            pixels[low[1] : high[1], low[0] : high[0]], None, fx=1 / step, fy=1 / step, interpolation=cv2.INTER_AREA
        )
        at = (places - low + 0.5) / step - 0.5
    else:
        at = places
    across, down = np.moveaxis(at.astype(np.float32), 2, 0)
    straight = cv2.remap(pixels, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    said = predicted("rim", straight.transpose(2, 0, 1)[None].astype(np.float32) / 255)[0]
    said = said[..., WRAP_COLUMNS // 2 : -(WRAP_COLUMNS // 2)]
    chance = special.softmax(said[0], axis=0)
    # Rows and columns of what is said are two of what is shown.
    radii = RIM_RADII[0] + (2 * np.arange(len(chance)) + 0.5) * (RIM_RADII[1] - RIM_RADII[0]) / (RIM_ROWS - 1)
    best = radii[chance.argmax(axis=0)]
    near = chance * (np.abs(radii[:, None] - best) < 4 * (radii[1] - radii[0]))
    radius = (near * radii[:, None]).sum(axis=0) / near.sum(axis=0)
    spread = np.sqrt((chance * (radii[:, None] - radius) ** 2).sum(axis=0))
    turn = (np.arange(RIM_COLUMNS // 2) + 0.5) / (RIM_COLUMNS // 2) * 2 * np.pi
    line = (radius[:, None] * np.column_stack([np.sin(turn), -np.cos(turn)])) @ ellipse.T + middle
    return line, spread, special.expit(said[1].mean(axis=0))


def _bridged(
    line: np.ndarray, clear: np.ndarray, seen: np.ndarray, middle: np.ndarray, ellipse: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """The rim with what is not in view bridged by a smooth closed line, and where that is."""
    back = (line - middle) @ np.linalg.inv(ellipse).T
    radius = np.linalg.norm(back, axis=1)
    turn = np.arctan2(back[:, 0], -back[:, 1])
    waves = np.column_stack(
        [np.ones_like(turn), *(f(k * turn) for k in range(1, BRIDGE_WAVES + 1) for f in (np.cos, np.sin))]
    )
    weight = np.where((seen > VIEW_CHANCE) & (clear < NARROW_RADII), seen / (clear + 0.02), 1e-3)
    # A robust fit: what stands far off the smooth line weighs less (Huber's weights, iterated).
    keep = np.diag([0.0, *(1e-3 * k**4 for k in range(1, BRIDGE_WAVES + 1) for _ in "cs")]) * weight.sum()
    own = weight.copy()
    for _ in range(8):
        fit = np.linalg.solve(waves.T @ (waves * own[:, None]) + keep, waves.T @ (own * radius))
        off = np.abs(radius - waves @ fit)
        own = weight * np.minimum(1, 0.03 / np.maximum(off, 1e-6))
    smooth = waves @ fit
    bad = (seen < VIEW_CHANCE) | (clear > NARROW_RADII) | (np.abs(radius - smooth) > 0.2)
    trust = ndimage.gaussian_filter1d((~bad).astype(float), 2, mode="wrap")
    radius = np.where(bad, smooth, trust * radius + (1 - trust) * smooth)
    radius = ndimage.gaussian_filter1d(radius, 1.0, mode="wrap")
    ray = np.column_stack([np.sin(turn), -np.cos(turn)])
    return (radius[:, None] * ray) @ ellipse.T + middle, bad


def _ring(chances: np.ndarray, mask: np.ndarray, offset: np.ndarray, scale: np.ndarray) -> tuple[float, float] | None:
    """Where the centre ring of a find is, in pixels of the photo, or None where it is not clear."""
    spot = np.where(ndimage.binary_dilation(mask, iterations=2), chances[PLANES.index("centre")], 0)
    row, column = np.unravel_index(int(spot.argmax()), spot.shape)
    if spot[row, column] < RING_CHANCE:
        return None
    low_row, low_column = max(row - 4, 0), max(column - 4, 0)
    near = spot[low_row : row + 5, low_column : column + 5]
    rows, columns = np.mgrid[low_row : low_row + near.shape[0], low_column : low_column + near.shape[1]]
    x, y = (columns * near).sum() / near.sum(), (rows * near).sum() / near.sum()
    place = (np.array([x, y]) + 0.5) / scale - 0.5 + offset
    return float(place[0]), float(place[1])


def find_all(pixels: np.ndarray) -> list[Find]:
    """Find everything in a photo that was worked in rounds.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB picture.

    Returns
    -------
    list of Find
        Largest first.
    """
    chances, scale = plane_chances(pixels)
    found: list[Find] = []
    masks = sorted(_parts(chances), key=lambda mask: -mask.sum())[:MOST_FINDS]
    for mask in masks:
        find = _closer_find(pixels, mask, chances, scale)
        if find is not None and not any(_same_place(find.piece, other.piece) for other in found):
            found.append(find)
    found.sort(key=lambda find: -find.piece.radius)
    return found


def _closer_find(pixels: np.ndarray, mask: np.ndarray, chances: np.ndarray, scale: np.ndarray) -> Find | None:
    """A find looked at once more, and its rim followed."""
    middle, ellipse = _ellipse_of(mask)
    offset = np.zeros(2)
    across = 2 * float(np.sqrt(np.linalg.eigvalsh(ellipse @ ellipse.T).max()))
    photo_middle = (middle + 0.5) / scale - 0.5
    if across < LARGE_COPY_SHARE * max(mask.shape):
        side = CROP_DIAMETERS * across / scale.mean()
        crop, offset = _crop(pixels, photo_middle, side)
        chances, scale = plane_chances(crop)
        at = (photo_middle - offset + 0.5) * scale - 0.5
        masks = _parts(chances)
        if not masks:
            return None
        # The find is the part whose middle is nearest to where it was seen.
        mask = min(masks, key=lambda own: float(np.linalg.norm(_ellipse_of(own)[0] - at)))
        middle, ellipse = _ellipse_of(mask)
    chance = float(chances[0][mask].mean())
    if chance < LEAST_MEAN_CHANCE:
        return None
    ring = _ring(chances, mask, offset, scale)
    middle = (middle + 0.5) / scale - 0.5 + offset
    line, hidden = _rim_of(pixels, middle, np.diag(1 / scale) @ ellipse)
    outer = _outer_line(mask, offset, scale)
    if _left_out(outer, line) > LEFT_OUT_SHARE and _along(chances[1], outer, offset, scale) > _along(
        chances[1], line, offset, scale
    ):
        # Lobes and picots: the second network looks for a line that is not there.
        line, hidden = outer, np.zeros(len(outer), bool)
    piece, hidden = _measured(line, hidden, pixels)
    return Find(piece, chance, ring, hidden)


def _measured(line: np.ndarray, hidden: np.ndarray, pixels: np.ndarray) -> tuple[Piece, np.ndarray]:
    """The piece of a rim, and where it is hidden, both from the point where the piece's outline starts."""
    piece = measured(line, (pixels.shape[1], pixels.shape[0]))
    start = int(np.argmin(np.linalg.norm(line - piece.outline[0], axis=1)))
    return piece, np.roll(hidden, -start)


def _rim_of(pixels: np.ndarray, middle: np.ndarray, ellipse: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The rim followed round an ellipse, and again round its own; with where it is hidden."""
    for _ in range(2):
        line, clear, seen = follow_rim(pixels, middle, ellipse)
        line, hidden = _bridged(line, clear, seen, middle, ellipse)
        values, vectors = np.linalg.eigh(2 * np.cov((line - line.mean(axis=0)).T) + 1e-6 * np.eye(2))
        middle, ellipse = line.mean(axis=0), vectors @ np.diag(np.sqrt(values)) @ vectors.T
    return line, hidden


def find_around(pixels: np.ndarray, x: float, y: float, radius: float) -> Find | None:
    """The piece that a person shows: its rim as it is seen near a ring that was drawn.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB picture.
    x, y, radius : float
        Middle and radius of the ring, pixels.

    Returns
    -------
    Find or None
        None where the ring is no ring (radius under 4 pixels) or lies outside of the picture.
    """
    if radius < 4:
        return None
    line, hidden = _rim_of(pixels, np.array([x, y], float), radius * np.eye(2))
    piece, hidden = _measured(line, hidden, pixels)
    crop, offset = _crop(pixels, np.array([x, y], float), 2 * CROP_DIAMETERS * radius)
    if not crop.size:
        return None
    chances, scale = plane_chances(crop)
    inside = np.zeros(chances.shape[1:], np.uint8)
    cv2.fillPoly(inside, [np.round((line - offset + 0.5) * scale - 0.5).astype(np.int32)], 1)
    if not inside.any():
        return None
    return Find(piece, float(chances[0][inside > 0].mean()), _ring(chances, inside > 0, offset, scale), hidden)


def _along(edge: np.ndarray, line: np.ndarray, offset: np.ndarray, scale: np.ndarray) -> float:
    """Mean chance of an edge near a line, 0 to 1."""
    at = (line - offset + 0.5) * scale - 0.5
    near = ndimage.maximum_filter(edge, 3)
    return float(ndimage.map_coordinates(near, at.T[::-1], order=1, mode="constant").mean())


def _outer_line(mask: np.ndarray, offset: np.ndarray, scale: np.ndarray) -> np.ndarray:
    """Outline of a mask as seen from its middle, (x, y) in pixels of the photo; shape (RIM_COLUMNS / 2, 2)."""
    padded = np.pad(mask.astype(np.uint8), 1)
    outlines, _ = cv2.findContours(padded, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    edge = max(outlines, key=len)[:, 0].astype(float) - 1
    middle, _ = _ellipse_of(mask)
    away = edge - middle
    turn = np.arctan2(away[:, 0], -away[:, 1]) % (2 * np.pi)
    wanted = (np.arange(RIM_COLUMNS // 2) + 0.5) / (RIM_COLUMNS // 2) * 2 * np.pi
    order = np.argsort(turn)
    radius = np.interp(wanted, turn[order], np.linalg.norm(away, axis=1)[order] + 0.5, period=2 * np.pi)
    radius = ndimage.gaussian_filter1d(radius, 1.5, mode="wrap")
    line = middle + radius[:, None] * np.column_stack([np.sin(wanted), -np.cos(wanted)])
    return (line + 0.5) / scale - 0.5 + offset


def _left_out(outer: np.ndarray, line: np.ndarray) -> float:
    """Share of the directions in which an outline lies clearly outside of a rim."""
    closed = line.astype(np.float32)
    far = LEFT_OUT_RADII * np.sqrt(cv2.contourArea(closed) / np.pi)
    return float(np.mean([cv2.pointPolygonTest(closed, (float(x), float(y)), True) < -far for x, y in outer[::2]]))


def _same_place(one: Piece, other: Piece) -> bool:
    """True where two finds are one piece."""
    small, large = sorted((one, other), key=lambda piece: piece.radius)
    return bool(np.linalg.norm(large.to_circle @ (np.asarray(small.centre) - large.centre)) < 0.5)
