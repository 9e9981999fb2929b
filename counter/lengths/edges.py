"""Edges of things on the table: rough outlines in a small copy, exact lines in the photo."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from counter.basics.answer import Count
from counter.basics.photo import Photo
from counter.lengths.plane import through

__all__ = ["MOST_OUTLINES", "TableView", "at_working_size", "corners_of", "hulls_of", "side_near", "steps"]

#: Long side of the copy for a first look, in pixels.
COPY_SIDE_PX = 640
#: Most outlines of each kind that are looked at closely, largest first: on a patterned cloth there are hundreds.
MOST_OUTLINES = 60
#: What Canny's edges are widened by: a square of three pixels.
_WIDENED = np.ones((3, 3), np.uint8)

#: A straight edge: a point of it beside either end of the line that it was looked for along, each of shape (2,), px,
#: and the share of that line's middle four fifths along which it is seen, 0 to 1.
Side = tuple[np.ndarray, np.ndarray, float]


@dataclass(frozen=True, eq=False)
class TableView:
    """A photo at working size, and where its piece is.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.
    marks : ndarray of shape (N, 2), float, or None
        Of the stitches, px of the working size; None where no piece was counted.
    outline : ndarray of shape (K, 2), float, or None
        Of the piece, px.
    at : ndarray of shape (2,), float
        The place whose scale is wanted, px.
    """

    pixels: np.ndarray
    marks: np.ndarray | None
    outline: np.ndarray | None
    at: np.ndarray

    @cached_property
    def lab(self) -> np.ndarray:
        """OpenCV's 8-bit CIE L*a*b* of the picture, 0 to 255, of shape (H, W, 3), float32."""
        return cv2.cvtColor(self.pixels, cv2.COLOR_RGB2LAB).astype(np.float32)

    @cached_property
    def hulls(self) -> tuple[list[np.ndarray], float]:
        """As from :func:`hulls_of`."""
        return hulls_of(self)

    @property
    def long(self) -> int:
        """Long side, px."""
        return max(self.pixels.shape[:2])

    @property
    def middle(self) -> np.ndarray:
        """Middle of the picture, (x, y), px."""
        return (np.array(self.pixels.shape[1::-1]) - 1) / 2

    def counted(self) -> tuple[np.ndarray, np.ndarray]:
        """Marks and outline of the piece, px.

        Raises
        ------
        ValueError
            Where no piece was counted.
        """
        if self.marks is None or self.outline is None:
            raise ValueError("a scale by a thing beside the piece needs a counted piece")
        return self.marks, self.outline

    def covers(self, polygon: np.ndarray) -> bool:
        """True where a polygon (px) lies on the piece, or the piece on it."""
        if self.outline is None:
            return False
        whole = cv2.contourArea(polygon.astype(np.float32))
        piece = cv2.convexHull(self.outline.astype(np.float32))
        common = cv2.intersectConvexConvex(cv2.convexHull(polygon.astype(np.float32)), piece)[0]
        return bool(common > 0.15 * min(whole, cv2.contourArea(piece)))


def at_working_size(photo: Photo, count: Count | None) -> tuple[TableView, np.ndarray]:
    """Make a photo no larger than the working size.

    Parameters
    ----------
    photo : Photo
    count : Count or None
        Of the piece in it.

    Returns
    -------
    scene : TableView
    to_working : ndarray of shape (3, 3), float
        From places of the photo to places of the scene, homogeneous px.
    """
    pixels, shrink = photo.working, photo.shrink
    # A pixel of the small copy is centred on the middle of those that it stands for.
    shift = 0.5 / shrink - 0.5
    to_working = np.array([[1 / shrink, 0, shift], [0, 1 / shrink, shift], [0, 0, 1.0]])
    marks = outline = None
    at = (np.array(pixels.shape[1::-1]) - 1) / 2
    if count is not None:
        marks, outline = through(to_working, count.marks), through(to_working, count.outline)
        at = marks.mean(axis=0)
    return TableView(pixels, marks, outline, at), to_working


def hulls_of(scene: TableView) -> tuple[list[np.ndarray], float]:
    """Outlines of whatever stands out by lightness or colour.

    Parameters
    ----------
    scene : TableView

    Returns
    -------
    hulls : list of ndarray of shape (K, 2), float
        Their convex hulls, px of a small copy; the same thing may come many times.
    shrink : float
        How many times smaller the copy is, 1 or more.
    """
    shrink = max(1.0, scene.long / COPY_SIDE_PX)
    size = (round(scene.pixels.shape[1] / shrink), round(scene.pixels.shape[0] / shrink))
    copy = cv2.resize(scene.pixels, size, interpolation=cv2.INTER_AREA)
    lab = cv2.medianBlur(cv2.cvtColor(copy, cv2.COLOR_RGB2LAB), 5)
    small, large = 0.0008 * lab[..., 0].size, 0.45 * lab[..., 0].size
    kernels = [cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (wide, wide)) for wide in (7, 15)]
    binaries = []
    for channel in cv2.split(lab):
        for level in np.unique(np.percentile(channel, np.linspace(4, 96, 17)).astype(int)):
            high = (channel > level).astype(np.uint8)
            # Opened, so that no yarn end or shadow hangs on to what is found.
            binaries += [
                high,
                *(cv2.morphologyEx(side, cv2.MORPH_OPEN, kernel) for side in (high, 1 - high) for kernel in kernels),
            ]
        for low in (15, 40):
            edges = cv2.Canny(channel, low, 3 * low)
            binaries += [cv2.dilate(edges, _WIDENED), 1 - np.minimum(cv2.dilate(edges, _WIDENED), 1)]
    hulls = []
    for binary in binaries:
        for contour in cv2.findContours(binary, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)[0]:
            if len(contour) < 30:
                continue
            area = cv2.contourArea(contour)
            if not small < area < large:
                continue
            hull = cv2.convexHull(contour)
            if area > 0.8 * cv2.contourArea(hull):
                hulls.append(hull[:, 0].astype(float))
    return hulls, shrink


def steps(
    lab: np.ndarray, points: np.ndarray, normals: np.ndarray, reach: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Steps of colour across a line.

    Parameters
    ----------
    lab : ndarray of shape (H, W, 3), float32
    points, normals : ndarray of shape (K, 2), float
        Places on the line, px, and unit vectors across it.
    reach : float
        How far to look on either side, px.

    Returns
    -------
    which : ndarray of shape (P,), int
        Place at which each step was found.
    off : ndarray of shape (P,), float
        How far along its normal, px.
    strength : ndarray of shape (P,), float
        Levels of colour for each pixel.
    """
    offsets = np.arange(-reach - 1, reach + 1.01, 0.5)
    places = (points[:, None] + offsets[:, None] * normals[:, None]).astype(np.float32)
    seen = cv2.remap(lab, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    # Across the line against noise, and along it, where it is the same.
    smooth = cv2.GaussianBlur(seen, (9, 5), sigmaX=1.8, sigmaY=1.2)
    rise = np.linalg.norm(smooth[:, 2:] - smooth[:, :-2], axis=2)  # for one pixel
    top = (rise[:, 1:-1] >= rise[:, :-2]) & (rise[:, 1:-1] > rise[:, 2:]) & (rise[:, 1:-1] > 1.5)
    which, column = np.nonzero(top)
    before, at, after = rise[which, column], rise[which, column + 1], rise[which, column + 2]
    # Top of the parabola through three values.
    shift = 0.5 * (before - after) / np.minimum(before - 2 * at + after, -1e-6)
    return which, offsets[column + 2] + 0.5 * np.clip(shift, -1, 1), at


def side_near(lab: np.ndarray, start: np.ndarray, end: np.ndarray, reach: float) -> Side | None:
    """Find the straight edge near a line.

    Parameters
    ----------
    lab : ndarray of shape (H, W, 3), float32
    start, end : ndarray of shape (2,), float
        Ends of the line, px.
    reach : float
        How far off the edge may be, px.

    Returns
    -------
    Side or None
        None where hardly anything is seen.
    """
    along = np.linspace(0.1, 0.9, 48)
    heading = end - start
    length = np.linalg.norm(heading)
    normal = np.array([-heading[1], heading[0]]) / length
    points = start + along[:, None] * heading
    which, off, strength = steps(lab, points, np.tile(normal, (len(along), 1)), reach)
    if len(off) < 12:
        return None
    # Try every line from one end to the other; count the places that have a step on it.
    ends = np.arange(-reach, reach + 0.01, 0.75)
    first, second = (v.ravel() for v in np.meshgrid(ends, ends))
    line = first[:, None] + (second - first)[:, None] * ((along[which] - 0.1) / 0.8)
    worth = np.where(np.abs(line - off) < 0.9, np.minimum(strength, 12.0), 0.0)
    # Steps come place by place; of each place the best one counts.
    best = np.maximum.reduceat(worth, np.flatnonzero(np.diff(which, prepend=-1)), axis=1)
    chosen = int(np.sqrt(best).sum(axis=1).argmax())
    slope, base = second[chosen] - first[chosen], first[chosen]
    for _ in range(3):
        value = base + slope * (along[which] - 0.1) / 0.8
        near = np.abs(value - off) < 0.9
        if np.count_nonzero(near) < 12:
            return None
        slope, base = np.polyfit((along[which] - 0.1)[near] / 0.8, off[near], 1, w=np.sqrt(strength[near]))
    seen = len(np.unique(which[near])) / len(along)
    ends = base + slope * np.array([-0.125, 1.125])
    return start + ends[0] * normal, end + ends[1] * normal, seen


def corners_of(lab: np.ndarray, quad: np.ndarray, reach: float, least_seen: float) -> tuple[np.ndarray, float] | None:
    """Where the four sides near a quadrilateral meet.

    Parameters
    ----------
    lab : ndarray of shape (H, W, 3), float32
    quad : ndarray of shape (4, 2), float
        Rough corners, one after the other, px.
    reach : float
        How far off a side may be, px.
    least_seen : float
        Share of a side along which the picture must have an edge, 0 to 1.

    Returns
    -------
    corners : ndarray of shape (4, 2), float
        In the same order, px; infinite where sides are parallel.
    seen : float
        The share of the side of which least is seen. None for both where a side is not seen enough.
    """
    near = [side_near(lab, quad[k], quad[(k + 1) % 4], reach) for k in range(4)]
    sides = [side for side in near if side is not None and side[2] >= least_seen]
    if len(sides) < 4:
        return None
    return np.array([_crossing(sides[k - 1], sides[k]) for k in range(4)]), min(side[2] for side in sides)


def _crossing(one: Side, other: Side) -> np.ndarray:
    """Where two lines meet, shape (2,); infinite where they are parallel."""
    a, b = (np.cross(np.append(p, 1.0), np.append(q, 1.0)) for p, q, _ in (one, other))
    meet = np.cross(a, b)
    return meet[:2] / meet[2] if abs(meet[2]) > 1e-9 else np.full(2, np.inf)
