"""How many millimetres a pixel of a photo is at the piece.

The scale comes from a diameter that a person typed, or from something of known
size that lies in the picture: the printed mat, a card of the size of a bank
card, or a coin. What is found by itself must be beyond doubt, for a false
scale is worse than none: a mat must agree with its layout, a card in its
proportions under some camera and in its rounded corners, a coin in its exact
edge, its metal and the size of stitch that follows from it.

All lengths are measured in the plane of the table: a homography takes the
picture there, so a slanted view does no harm. The rim of a piece lies a few
millimetres above the table, nearer to the camera, and looks larger by that;
the usual height is taken into account and the rest is part of the error.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

import cv2
import numpy as np

from counter.answer import Count, Refusal
from counter.count import count_photo
from counter.mat import CLEAR, MARKERS, dictionary
from counter.photo import LEAST_SIDE, Photo

__all__ = [
    "CARD", "COINS", "NO_SCALES", "NoScale", "Rectified", "Scale", "count_and_scale", "find_scale", "in_words", "mat_middle",
    "read_length", "rectified", "scale_from_diameter", "to_plane",
]

#: Length and width of a card, and the radius of its corners, mm (ISO/IEC 7810, format ID-1).
CARD, CARD_CORNER = (85.60, 53.98), 3.18
#: Diameters of coins, mm (Council Regulation (EC) No 975/98, annex I).
COINS: Mapping[str, float] = MappingProxyType({"2 EUR": 25.75, "1 EUR": 23.25, "50 c": 24.25})
#: Height of the measured edge over the table, mm: a card's from ISO/IEC 7810, a coin's
#: from the regulation above (2.20 to 2.38), of which the edge that shows is the upper one.
HEIGHTS: Mapping[str, float] = MappingProxyType({"mat": 0.1, "card": 0.76, "coin": 2.2})
#: Words -> millimetres. One inch is 25.4 mm (international yard and pound agreement, 1959).
UNITS: Mapping[str, float] = MappingProxyType({"mm": 1.0, "cm": 10.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4, "\u2033": 25.4})
_UNIT = "(" + "|".join(sorted(map(re.escape, UNITS), key=len, reverse=True)) + ")"
#: "12.5 cm", "4 1/2 in"; ASCII digits only.
_PLAIN = re.compile(r"([0-9]{1,6}(?:[.,][0-9]{1,4})?)\s*" + _UNIT)
_BROKEN = re.compile(r"(?:([0-9]{1,4})\s+)?([0-9]{1,2})/([0-9]{1,2})\s*" + _UNIT)
#: Sizes of a piece that are believed, mm.
SMALLEST, LARGEST = 5.0, 2000.0
#: Widths of a stitch that are believed, mm, or else what was found is no such thing.
NARROWEST, WIDEST = 1.0, 40.0

#: Long side in pixels at which references are looked for and measured, and of the copy for a first look.
WORKING_SIDE, COPY = 2000, 640
#: Focal length of a phone's camera over the long side of its picture, and the spread of its
#: logarithm: 24 to 28 mm on 35 mm film are 0.69 to 0.81, a second lens twice that.
FOCAL, FOCAL_SPREAD = 0.9, 0.35
#: Focal lengths that are tried, over the long side.
FOCALS = np.geomspace(0.55, 2.4, 24)
#: How high the top loops of a flat piece lie over the table, in stitch widths, and the spread of that.
RIM_HEIGHT, RIM_SPREAD = 0.9, 0.3
#: The same in mm where the stitches are not known.
ANY_RIM, ANY_SPREAD = 4.5, 2.5

#: Share of a side, or of a coin's edge, along which the edge must be seen.
SEEN_SIDE, SEEN_EDGE = 0.6, 0.75
#: The same for a side of a marker.
SEEN_MARKER = 0.8
#: How far the proportions of a card may be off under the camera that suits it best (as a
#: share, one standard deviation), and the misfit that is still believed.
CARD_SPREAD, CARD_MISFIT = 0.008, 12.0
#: Shortest side of a card that can be told from another rectangle, px.
LEAST_CARD = 50
#: Spread of the shape of a coin's edge and of a piece's rim, as the logarithm of the ratio of axes.
COIN_SHAPE, PIECE_SHAPE = 0.012, 0.04
#: Smallest radius of a coin that can be told from another disc, px.
LEAST_COIN = 16
#: Most outlines of each kind that are looked at closely, largest first: on a patterned cloth there are hundreds.
MOST_OUTLINES = 60
#: Spread of the slant of a camera, and the steepest that is believed, radians.
SLANT, STEEPEST = 0.26, 0.75
#: The edge of a card that is found is this true to size: its shadow is as wide as it is thick, on some sides.
CARD_TRUE = 0.005
#: Fewest markers of the mat, and the largest distance of one from its place, mm.
FEWEST_MARKERS, ASTRAY = 3, 0.5
#: A page that came out of a printer is this true to size (paper takes up and gives off moisture).
PRINT = 0.002
#: A scale less sure than this is none.
WORST = 0.06

#: Why there is no scale: code -> (reason, hint).
NO_SCALES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "nothing": (
            "Nothing of known size was found in the picture.",
            "Lay the printed mat under the piece or a bank card beside it, or say how wide the piece is.",
        ),
        "which coin": (
            "There may be a coin in the picture, but not which one.",
            f"Say which coin it is: {', '.join(COINS)}.",
        ),
        "no coin": (
            "The coin was not found in the picture.",
            "Lay it flat and free beside the piece, on a ground of another colour.",
        ),
        "several": (
            "More than one thing in the picture could be the one of known size.",
            "Leave only one of them in the picture.",
        ),
        "unlikely": (
            "By what was found in the picture, the stitches would have an unlikely size.",
            "Use the printed mat or a bank card, or say how wide the piece is.",
        ),
        "too uncertain": (
            "What is seen of the thing of known size is too little to measure by.",
            "Show all of it, as near to the piece as can be, and hold the camera straight above.",
        ),
    }
)


@dataclass(frozen=True)
class NoScale:
    """Why lengths can't be said in millimetres, and what to do about it.

    Parameters
    ----------
    code : str
        A key of :data:`NO_SCALES`.
    detail : str, optional
        What was seen in this very photo; it is added to the reason in brackets.
    """

    code: str
    detail: str = ""

    def __post_init__(self) -> None:
        if self.code not in NO_SCALES:
            raise ValueError(f"unknown reason {self.code!r}; known: {', '.join(NO_SCALES)}")

    @property
    def reason(self) -> str:
        """One sentence that says why."""
        reason = NO_SCALES[self.code][0]
        return f"{reason[:-1]} ({self.detail})." if self.detail else reason

    @property
    def hint(self) -> str:
        """One sentence that says what to do."""
        return NO_SCALES[self.code][1]


@dataclass(frozen=True, eq=False)
class Scale:
    """Millimetres in the picture.

    Parameters
    ----------
    kind : str
        "diameter", "mat", "card", or a key of :data:`COINS`.
    mm_per_px : float
        At the piece, mean over all directions.
    error : float
        Relative standard error of lengths at the rim of a flat piece, with
        what its height above the table adds.
    homography : ndarray of shape (3, 3), float
        Takes homogeneous picture coordinates (px) to the plane of the rim
        (mm; x right, y down as far as the reference lies so; any origin).
    outline : ndarray of shape (K, 2), float
        The reference in the picture, as a closed line, px: a card's or the
        mat's corners, a coin's edge, or the rim of the piece itself.
    rim_height : float
        Height of the rim over the table that is reckoned with, mm; 0 for a
        typed diameter, which is that of the rim itself.
    distance : float or None
        Height of the camera over the table, mm, as far as it can be told;
        None for a typed diameter.
    """

    kind: str
    mm_per_px: float
    error: float
    homography: np.ndarray
    outline: np.ndarray
    rim_height: float
    distance: float | None

    def __post_init__(self) -> None:
        for array in (self.homography, self.outline):
            array.flags.writeable = False

    @property
    def words(self) -> str:
        """The scale as sentences for a maker."""
        by = {"diameter": "the size that you gave", "mat": "the mat", "card": "the card"}.get(self.kind, f"the {self.kind} coin")
        words = f"Measured by {by}: lengths are good to about {2 * self.error:.1%}."
        if self.distance is None:
            return words
        return (
            f"{words} That is for a piece that lies flat: the rim of a cup is nearer to the camera, and each centimetre"
            f" of height makes it look {10 / self.distance:.0%} larger."
        )


@dataclass(frozen=True, eq=False)
class Rectified:
    """A photo as seen from straight above.

    Parameters
    ----------
    photo : Photo
    mm_per_px : float
        The same everywhere and in all directions.
    homography : ndarray of shape (3, 3), float
        Takes homogeneous coordinates of the picture that was given to those of this one (px).
    """

    photo: Photo
    mm_per_px: float
    homography: np.ndarray

    def __post_init__(self) -> None:
        self.homography.flags.writeable = False


def read_length(text: str) -> float:
    """Read a length that a person typed.

    Parameters
    ----------
    text : str
        A number and a unit: "12.5 cm", "125mm", "5 in", '5"', "4 1/2 in"; a comma does for a point.

    Returns
    -------
    float
        mm, 5 to 2000.

    Raises
    ------
    ValueError
        If it is not a length with its unit in that range.
    """
    advice = 'write a number and mm, cm or in, like "12.5 cm" or "5 in"'
    if not isinstance(text, str):
        raise ValueError(f"{text!r} is not a size: {advice}")
    shown, clean = text.strip()[:40], text.strip().lower()
    plain, broken = _PLAIN.fullmatch(clean), _BROKEN.fullmatch(clean)
    if plain:
        number, unit = float(plain[1].replace(",", ".")), plain[2]
    elif broken and int(broken[3]):
        number, unit = int(broken[1] or 0) + int(broken[2]) / int(broken[3]), broken[4]
    else:
        raise ValueError(f"{shown!r} is not a size: {advice}")
    length = number * UNITS[found[4]]
    if not SMALLEST <= length <= LARGEST:
        raise ValueError(f"a piece is {SMALLEST:.0f} mm to {LARGEST / 1000:.0f} m wide, not {shown!r}")
    return length


def in_words(mm: float) -> str:
    """A length in both units, to about a hundredth of it: "12.4 cm (4.9 in)"."""
    metric = f"{mm:.1f} mm" if mm < 30 else f"{mm / 10:.1f} cm"
    return f"{metric} ({mm / 25.4:.{2 if mm < 50 else 1}f} in)"


def to_plane(points: np.ndarray, scale: Scale) -> np.ndarray:
    """Where places of the picture lie in the plane of the rim.

    Parameters
    ----------
    points : ndarray of shape (..., 2), float
        (x, y) in pixels of the upright photo.
    scale : Scale

    Returns
    -------
    ndarray of shape (..., 2), float
        mm.
    """
    return _through(scale.homography, points)


def rectified(photo: Photo, scale: Scale, *, most: int = 3000) -> Rectified:
    """The photo as seen from straight above the table.

    Parameters
    ----------
    photo : Photo
        That the scale was found in.
    scale : Scale
    most : int, optional
        Largest side of the result in pixels.

    Returns
    -------
    Rectified
        As fine as the photo is at the piece, unless that would be too large.
        Parts that the photo shows more than three times coarser than the piece are left off.
    """
    height, width = photo.pixels.shape[:2]
    x, y = np.meshgrid(np.linspace(0, width - 1, 60), np.linspace(0, height - 1, 60))
    frame = np.stack([x.ravel(), y.ravel()], axis=1)
    fine = _mm_per_px(scale.homography, frame)
    # Behind the horizon the depth changes its sign, towards it pixels grow without bound.
    depth = frame @ scale.homography[2, :2] + scale.homography[2, 2]
    ahead = np.sign(depth) == np.sign(depth[np.argmin(np.abs(fine - scale.mm_per_px))])
    seen = _through(scale.homography, frame[ahead & (fine < 3 * scale.mm_per_px)])
    low, high = seen.min(axis=0), seen.max(axis=0)
    step = max(scale.mm_per_px, float((high - low).max()) / most)
    to_pixels = np.array([[1 / step, 0, -low[0] / step], [0, 1 / step, -low[1] / step], [0, 0, 1]]) @ scale.homography
    size = np.maximum(np.ceil((high - low) / step).astype(int), 1)
    pixels = cv2.warpPerspective(photo.pixels, to_pixels, (int(size[0]), int(size[1])), flags=cv2.INTER_LINEAR, borderValue=(255, 255, 255))
    return Rectified(Photo(pixels), step, to_pixels)


def scale_from_diameter(count: Count, diameter: float) -> Scale:
    """The scale that follows from how wide the piece is.

    Parameters
    ----------
    count : Count
        Its outline is the rim.
    diameter : float
        Of the piece from edge to edge, mm, 5 to 2000.

    Returns
    -------
    Scale
        Its homography undoes the tilt of the ellipse that the rim makes, as
        if the piece were round. The error is that of a ruler's millimetre, of
        the outline, and of a piece that is not quite round.

    Raises
    ------
    ValueError
        If the diameter is out of range.
    """
    if not SMALLEST <= diameter <= LARGEST:
        raise ValueError(f"the piece must be {SMALLEST:.0f} to {LARGEST:.0f} mm wide, not {diameter!r}")
    outline = np.asarray(count.outline, dtype=float)
    centre, spread = _moments(outline)
    # A disc's spread is a quarter of its radius squared.
    values, axes = np.linalg.eigh(4 * spread)
    to_circle = axes @ np.diag(1 / np.sqrt(values)) @ axes.T * diameter / 2
    homography = np.eye(3)
    homography[:2, :2] = to_circle
    homography[:2, 2] = -to_circle @ centre
    far = np.linalg.norm(_through(homography, outline), axis=1) / (diameter / 2)
    # A ruler across the piece meets two places of its rim.
    error = float(np.sqrt((1.0 / diameter) ** 2 + 0.01**2 + (far.std() / np.sqrt(2)) ** 2))
    return Scale("diameter", _mm_per_px(homography, centre[None])[0], error, homography, outline.copy(), 0.0, None)


def find_scale(photo: Photo, count: Count | None = None, *, coin: str | None = None) -> Scale | NoScale:
    """Look for something of known size in a photo.

    Parameters
    ----------
    photo : Photo
    count : Count or None
        What was counted in it: where the piece is and how many stitches it
        has. Without it the scale is that of the middle of the picture, and no
        coin is looked for.
    coin : str or None
        A key of :data:`COINS`: the coin that lies in the picture. A coin of
        unknown value is no measure.

    Returns
    -------
    Scale or NoScale
        By the mat where it is there, else by a card, else by the coin.

    Raises
    ------
    ValueError
        If there is no such coin.
    """
    if coin is not None and coin not in COINS:
        raise ValueError(f"the coin must be one of {', '.join(COINS)}, not {coin!r}")
    scene, to_full = _at_working_size(photo, count)
    answer = _by_mat(scene) or _by_card(scene)
    if answer is None and count is not None:
        answer = _by_coin(scene, coin)
    if answer is None:
        return NoScale("nothing")
    if isinstance(answer, NoScale):
        return answer
    found = replace(
        answer,
        mm_per_px=answer.mm_per_px * float(to_full[0, 0]),
        homography=answer.homography @ to_full,
        outline=_through(np.linalg.inv(to_full), answer.outline),
    )
    if count is not None:
        width = _around(to_plane(count.marks, found)) / count.stitches
        if not NARROWEST <= width <= WIDEST:
            return NoScale("unlikely", f"{width:.1f} mm wide")
    return found if found.error <= WORST else NoScale("too uncertain")


def mat_middle(photo: Photo) -> Rectified | None:
    """The white middle of the printed mat as seen from straight above.

    The piece that lies there is counted in this picture: it has a plain ground
    and no slant, and no markers stand around it.

    Parameters
    ----------
    photo : Photo

    Returns
    -------
    Rectified or None
        As fine as the photo; None where no mat is found.
    """
    scene, to_full = _at_working_size(photo, None)
    found = _mat_plane(scene)
    if found is None:
        return None
    homography = found[0] @ to_full
    half = 0.5 * CLEAR
    middle = _through(np.linalg.inv(homography), np.zeros((1, 2)))
    step = max(float(_mm_per_px(homography, middle)[0]), CLEAR / 3000)
    to_pixels = np.array([[1 / step, 0, half / step], [0, 1 / step, half / step], [0, 0, 1]]) @ homography
    size = int(CLEAR / step)
    # Where the photo does not reach, the paper is taken to go on.
    pixels = cv2.warpPerspective(photo.pixels, to_pixels, (size, size), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return Rectified(Photo(pixels), step, to_pixels)


def count_and_scale(
    photo: Photo, *, left_handed: bool = False, coin: str | None = None
) -> tuple[Count | Refusal, Scale | NoScale]:
    """Count a photo and look for a scale, on the mat in its white middle.

    Parameters
    ----------
    photo : Photo
    left_handed : bool, optional
        As for :func:`counter.count.count_photo`.
    coin : str or None
        As for :func:`find_scale`.

    Returns
    -------
    tuple of (Count or Refusal, Scale or NoScale)
        The count in pixels of the photo that was given.

    Raises
    ------
    ValueError
        If there is no such coin.
    """
    middle = mat_middle(photo)
    count = None
    if middle is not None and min(middle.photo.width, middle.photo.height) >= LEAST_SIDE:
        count = count_photo(middle.photo, left_handed=left_handed)
        if isinstance(count, Count):
            count = _carried(count, np.linalg.inv(middle.homography), (photo.width, photo.height))
    if not isinstance(count, Count):
        # No mat, or the piece is larger than its middle.
        whole = count_photo(photo, left_handed=left_handed)
        count = whole if count is None or isinstance(whole, Count) else count
    return count, find_scale(photo, count if isinstance(count, Count) else None, coin=coin)


def _carried(count: Count, homography: np.ndarray, size: tuple[int, int]) -> Count:
    """A count with all its places taken to another picture."""

    def place(at: tuple[float, float]) -> tuple[float, float]:
        return tuple(float(v) for v in _through(homography, np.array(at)))

    progress = count.in_progress
    return replace(
        count,
        marks=_through(homography, count.marks),
        outline=_through(homography, count.outline),
        centre=place(count.centre),
        doubts=tuple(replace(doubt, at=place(doubt.at)) for doubt in count.doubts),
        in_progress=replace(progress, loop=place(progress.loop)) if progress else None,
        size=size,
    )


# --- planes -----------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Scene:
    """A photo at working size, and where its piece is.

    `marks` and `outline` are of shape (N, 2) and (K, 2), px of the working
    size, or None; `at` is the place whose scale is wanted.
    """

    pixels: np.ndarray
    lab: np.ndarray
    marks: np.ndarray | None
    outline: np.ndarray | None
    at: np.ndarray

    @cached_property
    def hulls(self) -> tuple[list[np.ndarray], float]:
        return _masks(self)

    @property
    def long(self) -> int:
        return max(self.pixels.shape[:2])

    @property
    def middle(self) -> np.ndarray:
        return (np.array(self.pixels.shape[1::-1]) - 1) / 2

    def covers(self, polygon: np.ndarray) -> bool:
        """True where a polygon (px) lies on the piece, or the piece on it."""
        if self.outline is None:
            return False
        whole = cv2.contourArea(polygon.astype(np.float32))
        piece = cv2.convexHull(self.outline.astype(np.float32))
        common = cv2.intersectConvexConvex(cv2.convexHull(polygon.astype(np.float32)), piece)[0]
        return common > 0.15 * min(whole, cv2.contourArea(piece))


def _at_working_size(photo: Photo, count: Count | None) -> tuple[_Scene, np.ndarray]:
    """A photo at working size, and the matrix from places of the photo to places there."""
    pixels, shrink = photo.pixels, max(1.0, max(photo.pixels.shape[:2]) / WORKING_SIDE)
    if shrink > 1:
        pixels = cv2.resize(pixels, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    # A pixel of the small copy is centred on the middle of those that it stands for.
    shift = 0.5 / shrink - 0.5
    to_working = np.array([[1 / shrink, 0, shift], [0, 1 / shrink, shift], [0, 0, 1.0]])
    marks = outline = None
    at = (np.array(pixels.shape[1::-1]) - 1) / 2
    if count is not None:
        marks, outline = _through(to_working, count.marks), _through(to_working, count.outline)
        at = marks.mean(axis=0)
    return _Scene(pixels, cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB).astype(np.float32), marks, outline, at), to_working


def _through(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    points = np.asarray(points, dtype=float)
    seen = points @ homography[:, :2].T + homography[:, 2]
    return seen[..., :2] / seen[..., 2:]


def _mm_per_px(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Root of the area that a pixel has at some places, shape (K,)."""
    depth = points @ homography[2, :2] + homography[2, 2]
    return np.sqrt(abs(np.linalg.det(homography)) / np.abs(depth) ** 3)


def _around(points: np.ndarray) -> float:
    """Length of a closed line."""
    return float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum())


def _moments(polygon: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Centre and second moments about it, over the area of a polygon."""
    m = cv2.moments(polygon.astype(np.float32).reshape(-1, 1, 2))
    area = m["m00"]
    spread = np.array([[m["mu20"], m["mu11"]], [m["mu11"], m["mu02"]]]) / area
    return np.array([m["m10"], m["m01"]]) / area, spread


def _fit_error(homography: np.ndarray, px: np.ndarray, sigma: float, at: np.ndarray) -> float:
    """Relative standard error of the scale at a place, from points that are off by `sigma` px each way.

    The covariance of the eight free numbers of the homography by least
    squares, carried on to the logarithm of the scale (R. Hartley and A.
    Zisserman, "Multiple View Geometry", 2nd ed., section 5.2).
    """
    # About the place that is asked for, in units of the points' extent, all is well conditioned.
    extent = np.ptp(px, axis=0).max()
    to_px = np.array([[extent, 0, at[0]], [0, extent, at[1]], [0, 0, 1.0]])
    own = homography @ to_px
    own = own / own[2, 2]
    points = (px - at) / extent
    x, y = points.T
    depth = points @ own[2, :2] + own[2, 2]
    plane = _through(own, points)
    zero, one = np.zeros_like(x), np.ones_like(x)
    rows = [
        np.stack([x, y, one, zero, zero, zero, -plane[:, 0] * x, -plane[:, 0] * y], axis=1) / depth[:, None],
        np.stack([zero, zero, zero, x, y, one, -plane[:, 1] * x, -plane[:, 1] * y], axis=1) / depth[:, None],
    ]
    noise = sigma * _mm_per_px(homography, px)
    weighted = np.concatenate(rows) / np.tile(noise, 2)[:, None]
    covariance = np.linalg.pinv(weighted.T @ weighted)

    def scale(values):
        return 0.5 * np.log(abs(np.linalg.det(np.append(values, 1.0).reshape(3, 3))))

    values, slope = own.ravel()[:8], np.zeros(8)
    for k in range(8):
        step = np.zeros(8)
        step[k] = 1e-5 * max(np.abs(values).max(), 1.0)
        slope[k] = (scale(values + step) - scale(values - step)) / (2 * step[k])
    return float(np.sqrt(slope @ covariance @ slope))


def _views(homography: np.ndarray, middle: np.ndarray, long: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
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
        Cosine between the axes, logarithm of the ratio of their units, for each of :data:`FOCALS`.
    height : ndarray of shape (F,), float
        Of the camera over the plane, mm.
    slant : ndarray of shape (F,), float
        Angle between the view and the plumb line, radians.
    """
    to_px = np.linalg.inv(homography)
    centred = np.array([[1, 0, -middle[0]], [0, 1, -middle[1]], [0, 0, 1.0]]) @ to_px
    axes = centred[None] / np.stack([FOCALS * long, FOCALS * long, np.ones(len(FOCALS))], axis=1)[:, :, None]
    first, second, third = axes[..., 0], axes[..., 1], axes[..., 2]
    long1, long2 = np.linalg.norm(first, axis=1), np.linalg.norm(second, axis=1)
    skew = (first * second).sum(axis=1) / (long1 * long2)
    normal = np.cross(first, second)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    height = np.abs((normal * third).sum(axis=1)) / np.sqrt(long1 * long2)
    return skew, np.log(long1 / long2), height, np.arccos(np.clip(np.abs(normal[:, 2]), 0, 1))


def _view_misfit(skew: np.ndarray, stretch: np.ndarray, spread: float) -> np.ndarray:
    return (skew / spread) ** 2 + (stretch / spread) ** 2


def _finished(scene: _Scene, kind: str, homography: np.ndarray, outline: np.ndarray, error: float, height: float | None = None, lost: float = 0.0) -> Scale:
    """A scale at the rim of the piece, from a homography to the plane of the reference.

    Parameters
    ----------
    scene : _Scene
    kind : str
    homography : ndarray of shape (3, 3), float
        px -> mm in the plane of the reference.
    outline : ndarray of shape (K, 2), float
        Of the reference, px.
    error : float
        Relative standard error of lengths in that plane, at the piece.
    height : float or None
        Of the camera over the plane, mm; None to reckon it from the plane's slant and usual cameras.
    lost : float
        Spread of the logarithm of `height`, where it is given.

    Returns
    -------
    Scale
        In pixels of the working size.
    """
    if height is None:
        skew, stretch, heights, _ = _views(homography, scene.middle, scene.long)
        odds = np.exp(-0.5 * (_view_misfit(skew, stretch, 0.01) - _view_misfit(skew, stretch, 0.01).min() + (np.log(FOCALS / FOCAL) / FOCAL_SPREAD) ** 2))
        odds /= odds.sum()
        height = float(np.exp((odds * np.log(heights)).sum()))
        lost = float(np.sqrt((odds * np.log(heights / height) ** 2).sum()))
    rim, spread = ANY_RIM, ANY_SPREAD
    if scene.marks is not None:
        stitch = _around(_through(homography, scene.marks)) / len(scene.marks)
        rim, spread = RIM_HEIGHT * stitch, RIM_SPREAD * stitch
    above = rim - HEIGHTS[kind if kind in HEIGHTS else "coin"]
    nearer = above / height
    error = float(np.sqrt(error**2 + (spread / height) ** 2 + (nearer * lost) ** 2))
    # Seen from the camera, the plane of the rim is the table shrunk towards the foot of the camera.
    lifted = np.diag([1 - nearer, 1 - nearer, 1.0]) @ homography
    return Scale(kind, float(_mm_per_px(lifted, scene.at[None])[0]), error, lifted, outline, float(rim), float(height))


# --- the mat ----------------------------------------------------------------------------------------


def _mat_plane(scene: _Scene) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """Homography from px to mm of the mat, and the corners of its markers in both; None where there is no mat."""
    options = cv2.aruco.DetectorParameters()
    # Twice the pixels that a cell is usually looked at with: soft pictures need them.
    options.perspectiveRemovePixelPerCell = 8
    grey = cv2.cvtColor(scene.pixels, cv2.COLOR_RGB2GRAY)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary(), options).detectMarkers(grey)
    if numbers is None:
        return None
    numbers = np.ravel(numbers)
    # A number that is seen twice is wrong at least once.
    usable = [k for k, n in enumerate(numbers) if int(n) in MARKERS and np.count_nonzero(numbers == n) == 1]
    if len(usable) < FEWEST_MARKERS:
        return None
    px = np.concatenate([np.reshape(corners[k], (4, 2)) for k in usable]).astype(float)
    mm = np.concatenate([MARKERS[int(numbers[k])] for k in usable])
    homography, agree = cv2.findHomography(px, mm, cv2.RANSAC, 4 * ASTRAY)
    if homography is None or agree.sum() < 4 * FEWEST_MARKERS:
        return None
    for _ in range(2):
        # Sides are where they are also in soft pictures, which round the corners off; and markers
        # that could not be read, but whose place is known, have sides, too.
        px, mm = _marker_corners(scene, homography)
        if len(px) < 4 * FEWEST_MARKERS:
            return None
        homography, _ = cv2.findHomography(px, mm, 0)
        if homography is None:
            return None
        # A soft picture moves the sides of every marker inwards, its middle stays.
        off = _middles_off(homography, px, mm)
        keep = np.repeat(off <= max(ASTRAY, 3 * float(np.median(off))), 4)
        if keep.sum() < 4 * FEWEST_MARKERS:
            return None
        px, mm = px[keep], mm[keep]
        homography, _ = cv2.findHomography(px, mm, 0)
        if homography is None or np.max(_middles_off(homography, px, mm)) > 2 * ASTRAY:
            return None
    skew, stretch, _, _ = _views(homography, scene.middle, scene.long)
    if _view_misfit(skew, stretch, 0.02).min() > 9:
        return None  # no camera sees a flat page like that
    return homography, px, mm


def _middles_off(homography: np.ndarray, px: np.ndarray, mm: np.ndarray) -> np.ndarray:
    """How far the middle of each marker is from its place, mm."""
    return np.linalg.norm((_through(homography, px) - mm).reshape(-1, 4, 2).mean(axis=1), axis=1)


def _marker_corners(scene: _Scene, homography: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Corners of the markers where their sides meet, px and mm, each of shape (4 M, 2)."""
    back = np.linalg.inv(homography)
    depth = np.sign(back[2, 2])  # of the middle of the mat
    px, mm = [], []
    for places in MARKERS.values():
        if np.any((places @ back[2, :2] + back[2, 2]) * depth <= 0):
            continue
        quad = _through(back, places)
        lengths = np.linalg.norm(np.roll(quad, -1, axis=0) - quad, axis=1)
        if lengths.min() < 12 or np.any(quad < 2) or np.any(quad > np.array(scene.pixels.shape[1::-1]) - 3):
            continue
        # Less than a cell, or the next cell's edge could be taken.
        reach = max(0.11 * float(lengths.mean()), 2.0)
        sides = [_side(scene.lab, quad[k], quad[(k + 1) % 4], reach) for k in range(4)]
        if all(side is not None and side[2] >= SEEN_MARKER for side in sides):
            px.append(np.array([_crossing(sides[k - 1][:2], sides[k][:2]) for k in range(4)]))
            mm.append(places)
    if not px:
        return np.zeros((0, 2)), np.zeros((0, 2))
    return np.concatenate(px), np.concatenate(mm)


def _by_mat(scene: _Scene) -> Scale | None:
    found = _mat_plane(scene)
    if found is None:
        return None
    homography, px, mm = found
    # One point a marker: its corners err together, by blur and where the page curls.
    middles = px.reshape(-1, 4, 2).mean(axis=1)
    off = _middles_off(homography, px, mm) / _mm_per_px(homography, middles)
    sigma = max(0.1, float(np.sqrt((off**2).mean() / 2)))
    error = np.hypot(_fit_error(homography, px, 2 * sigma, scene.at), PRINT)
    edge = np.concatenate([MARKERS[k][j][None] for k, j in _RING_CORNERS])
    return _finished(scene, "mat", homography, _through(np.linalg.inv(homography), edge), float(error))


#: Marker and its corner that make the four corners of the ring, clockwise.
_RING_CORNERS = tuple(
    max(((k, j) for k in MARKERS for j in range(4)), key=lambda place, way=way: float(MARKERS[place[0]][place[1]] @ way))
    for way in (np.array([-1, -1]), np.array([1, -1]), np.array([1, 1]), np.array([-1, 1]))
)


# --- edges ------------------------------------------------------------------------------------------


def _masks(scene: _Scene) -> tuple[list[np.ndarray], float]:
    """Outlines of whatever stands out in a small copy by lightness or colour, and the copy's scale.

    Every outline is the convex hull of one, of shape (K, 2), px of the copy.
    """
    shrink = max(1.0, scene.long / COPY)
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
            binaries += [high, *(cv2.morphologyEx(side, cv2.MORPH_OPEN, kernel) for side in (high, 1 - high) for kernel in kernels)]
        for low in (15, 40):
            edges = cv2.Canny(channel, low, 3 * low)
            binaries += [cv2.dilate(edges, None), 1 - np.minimum(cv2.dilate(edges, None), 1)]
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


def _steps(lab: np.ndarray, points: np.ndarray, normals: np.ndarray, reach: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
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


def _side(lab: np.ndarray, start: np.ndarray, end: np.ndarray, reach: float) -> tuple[np.ndarray, np.ndarray, float] | None:
    """The straight edge near a line: two points on it (px) and the share of it that was seen, or None."""
    along = np.linspace(0.1, 0.9, 48)
    heading = end - start
    length = np.linalg.norm(heading)
    normal = np.array([-heading[1], heading[0]]) / length
    points = start + along[:, None] * heading
    which, off, strength = _steps(lab, points, np.tile(normal, (len(along), 1)), reach)
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


def _crossing(one: tuple[np.ndarray, np.ndarray], other: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    """Where two lines meet, each given by two points."""
    a, b = (np.cross(np.append(p, 1.0), np.append(q, 1.0)) for p, q in (one, other))
    meet = np.cross(a, b)
    return meet[:2] / meet[2] if abs(meet[2]) > 1e-9 else np.full(2, np.inf)


# --- cards ------------------------------------------------------------------------------------------


def _quads(hulls: list[np.ndarray]) -> list[np.ndarray]:
    """Four-sided ones among some outlines, corners clockwise in the picture, shape (4, 2)."""
    found = []
    for hull in hulls:
        line = hull.astype(np.float32).reshape(-1, 1, 2)
        around, area = cv2.arcLength(line, True), cv2.contourArea(line)
        for share in (0.02, 0.03, 0.045):
            corners = cv2.approxPolyDP(line, share * around, True)[:, 0].astype(float)
            if len(corners) <= 4:
                break
        if len(corners) != 4 or cv2.contourArea(corners.astype(np.float32)) < 0.9 * area:
            continue
        lengths = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        # No view of a card that can be measured is more slender than this.
        if lengths.min() < 12 or lengths.max() > 4 * lengths.min():
            continue
        turned = (corners[2] - corners[0])[0] * (corners[3] - corners[1])[1] - (corners[2] - corners[0])[1] * (corners[3] - corners[1])[0]
        corners = corners if turned > 0 else corners[::-1]
        turns = np.stack([np.roll(corners, k, axis=0) for k in range(4)])
        if not found or np.abs(np.stack(found)[:, None] - turns).max(axis=(2, 3)).min() > 0.03 * lengths.max():
            found.append(corners)
    return sorted(found, key=lambda corners: -cv2.contourArea(corners.astype(np.float32)))[:MOST_OUTLINES]


@dataclass(frozen=True, eq=False)
class _Card:
    """A card that was found: px -> mm, its corners (px), share of its edge that was seen, misfit."""

    homography: np.ndarray
    corners: np.ndarray
    seen: float
    misfit: float


def _as_card(scene: _Scene, quad: np.ndarray) -> _Card | None:
    """A card at about these four corners, if it is one."""
    corners = quad
    for narrow in (0.035, 0.012):
        lengths = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        reach = max(narrow * float(lengths.min()), 3.0)
        sides = [_side(scene.lab, corners[k], corners[(k + 1) % 4], reach) for k in range(4)]
        if any(side is None or side[2] < SEEN_SIDE for side in sides):
            return None
        corners = np.array([_crossing(sides[k - 1][:2], sides[k][:2]) for k in range(4)])
        if not np.isfinite(corners).all() or np.abs(corners - quad).max() > 0.2 * lengths.max():
            return None
    if not cv2.isContourConvex(corners.astype(np.float32)) or lengths.min() < LEAST_CARD or not _stands_out(scene.lab, corners):
        return None
    best = None
    for shape in (CARD, CARD[::-1]):
        plane = np.array([[0, 0], [shape[0], 0], shape, [0, shape[1]]], dtype=np.float32)
        homography = cv2.getPerspectiveTransform(corners.astype(np.float32), plane)
        skew, stretch, _, slant = _views(homography, scene.middle, scene.long)
        ways = _view_misfit(skew, stretch, CARD_SPREAD) + (np.log(FOCALS / FOCAL) / FOCAL_SPREAD) ** 2 + (slant / SLANT) ** 2
        misfit = float(np.where(slant < STEEPEST, ways, np.inf).min())
        if scene.outline is not None:
            # The slant that makes a card of it must make the piece about round.
            misfit += float((_shape(_through(homography, scene.outline)[None])[0] ** 2).sum()) / PIECE_SHAPE**2
        if misfit <= CARD_MISFIT and (best is None or misfit < best.misfit) and _round_corners(scene.lab, homography, shape):
            best = _Card(homography, corners, min(side[2] for side in sides), misfit)
    return best


def _stands_out(lab: np.ndarray, corners: np.ndarray) -> bool:
    """True where there is another colour inside than outside along every side; along a drawn line there is not."""
    along = np.linspace(0.1, 0.9, 40)[:, None]
    for start, end in zip(corners, np.roll(corners, -1, axis=0)):
        heading = (end - start) / np.linalg.norm(end - start)
        away = np.array([heading[1], -heading[0]]) * max(3.0, 0.012 * np.linalg.norm(end - start))
        places = start + along * (end - start)
        both = np.stack([places + away, places - away]).astype(np.float32)
        outside, inside = cv2.remap(lab, both[..., 0], both[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        if np.mean(np.linalg.norm(outside - inside, axis=1) > 6) < 0.6:
            return False
    return True


def _corner_masks() -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Places about a corner, mm inwards from where the sides would meet, and which tell what it is like."""
    u, v = (axis.ravel() for axis in np.meshgrid(np.arange(-2.4, 9.01, 0.2), np.arange(-2.4, 9.01, 0.2)))
    r = CARD_CORNER
    far = np.hypot(u - r, v - r)
    in_corner = (u < r) & (v < r)
    lower, upper = np.minimum(u, v), np.maximum(u, v)
    return np.stack([u, v], axis=1), {
        "ground": (lower < -0.8) & (upper < 7),
        "card": (lower > 0.8) & (lower < 2.6) & (upper > 4.2) & (upper < 8),
        "notch": in_corner & (far > r + 0.35) & (lower > 0.15),
        "arc": in_corner & (far < r - 0.5) & (far > r - 1.6),
    }


_CORNER_PLACES, _CORNER_MASKS = _corner_masks()


def _round_corners(lab: np.ndarray, homography: np.ndarray, shape: tuple[float, float]) -> bool:
    """True where the corners are cut as round as a card's: ground outside the arc, card inside of it."""
    back = np.linalg.inv(homography)
    notch, arc = [], []
    for right in (0, 1):
        for low in (0, 1):
            u, v = _CORNER_PLACES.T
            places = np.stack([shape[0] - u if right else u, shape[1] - v if low else v], axis=1)
            px = _through(back, places).astype(np.float32)
            seen = cv2.remap(lab, px[None, :, 0], px[None, :, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0]
            colour = {name: np.median(seen[mask], axis=0) for name, mask in _CORNER_MASKS.items()}
            away = colour["ground"] - colour["card"]
            if np.linalg.norm(away) < 8:
                continue
            notch.append(float((colour["notch"] - colour["card"]) @ away / (away @ away)))
            arc.append(float((colour["arc"] - colour["card"]) @ away / (away @ away)))
    if len(notch) < 3:
        return False
    return np.median(notch) > 0.5 and np.sort(notch)[-3] > 0.35 and np.median(arc) < 0.5


def _by_card(scene: _Scene) -> Scale | NoScale | None:
    hulls, shrink = scene.hulls
    found: list[_Card] = []
    for quad in _quads(hulls):
        card = _as_card(scene, (quad + 0.5) * shrink - 0.5)
        if card is not None and not scene.covers(card.corners):
            found.append(card)
    if not found:
        return None
    best = min(found, key=lambda card: card.misfit - 20 * card.seen)
    middle = best.corners.mean(axis=0)
    if any(cv2.pointPolygonTest(card.corners.astype(np.float32), tuple(map(float, middle)), False) < 0 for card in found):
        return NoScale("several", "two cards")
    # A side is the line through half a hundred steps, each good to about half a pixel, and all of
    # them off together by the card's own shadow.
    error = np.hypot(_fit_error(best.homography, best.corners, 0.3, scene.at), CARD_TRUE)
    return _finished(scene, "card", best.homography, best.corners, float(error))


# --- coins ------------------------------------------------------------------------------------------


def _ellipses(hulls: list[np.ndarray]) -> list[tuple[np.ndarray, np.ndarray]]:
    """Round ones among some outlines: middle, and the matrix that makes a circle of radius 1 of it."""
    found: list[tuple[np.ndarray, np.ndarray]] = []
    known = np.zeros((0, 3))  # middle and radius of each
    for hull in hulls:
        if len(hull) < 12:
            continue
        centre, spread = _moments(hull)
        values, axes = np.linalg.eigh(4 * spread)
        if values[0] < 25 or values[1] > 4 * values[0]:
            continue
        to_circle = axes @ np.diag(1 / np.sqrt(values)) @ axes.T
        far = np.linalg.norm((hull - centre) @ to_circle, axis=1)
        if far.std() > 0.04:
            continue
        radius = float(values.prod() ** 0.25)
        if not np.any((np.abs(known[:, :2] - centre).max(axis=1) < 0.06 * radius) & (np.abs(known[:, 2] / radius - 1) < 0.06)):
            found.append((centre, to_circle))
            known = np.vstack([known, [*centre, radius]])
    return found


def _pattern(rounds: list[tuple[np.ndarray, np.ndarray]], centre: np.ndarray, radius: float) -> bool:
    """True where two more discs of the same size lie elsewhere: dots of a cloth, not coins."""
    places: list[np.ndarray] = [centre]
    for other, to_circle in rounds:
        if abs(np.log(radius**2 * np.linalg.det(to_circle))) < 0.5 and all(np.linalg.norm(other - place) > 1.5 * radius for place in places):
            places.append(other)
            if len(places) > 2:
                return True
    return False


@dataclass(frozen=True, eq=False)
class _Disc:
    """A coin that was found: its edge as points, shape (K, 2), px, and the share of it that was seen."""

    edge: np.ndarray
    seen: float

    @property
    def radius(self) -> float:
        return float(np.sqrt(cv2.contourArea(self.edge.astype(np.float32)) / np.pi))


def _as_disc(scene: _Scene, centre: np.ndarray, to_circle: np.ndarray) -> _Disc | None:
    """The exact ellipse near a rough one, if the picture has one there."""
    turn = np.linspace(0, 2 * np.pi, 96, endpoint=False)
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    for narrow in (0.10, 0.05, 0.03):
        back = np.linalg.inv(to_circle)
        points = centre + circle @ back.T
        normals = circle @ to_circle
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        radius = 1 / np.sqrt(np.linalg.det(to_circle))
        which, off, strength = _steps(scene.lab, points, normals, max(narrow * radius, 3.0))
        if len(off) < 40:
            return None
        # All around, the step that lies at the most usual distance.
        near = max(0.9, 0.012 * radius)
        levels = np.arange(off.min(), off.max() + 0.01, 0.5 * near)
        votes = [np.sqrt(np.minimum(strength, 12.0))[np.abs(off - level) < (2.5 if narrow == 0.10 else 1.2) * near].sum() for level in levels]
        level = levels[int(np.argmax(votes))]
        own = np.abs(off - level) < (2.5 if narrow == 0.10 else 1.2) * near
        # Of two steps at one place the stronger.
        order = np.argsort(-strength)
        order = order[own[order]]
        _, unique = np.unique(which[order], return_index=True)
        chosen = order[unique]
        if len(chosen) < 40:
            return None
        seen = points[which[chosen]] + off[chosen, None] * normals[which[chosen]]
        fitted = _fit_ellipse(seen)
        if fitted is None:
            return None
        centre, to_circle = fitted
        far = (np.linalg.norm((seen - centre) @ to_circle, axis=1) - 1) / np.sqrt(np.linalg.det(to_circle))
        fitted = _fit_ellipse(seen[np.abs(far) < near])
        if fitted is None:
            return None
        centre, to_circle = fitted
    far = (np.linalg.norm((seen - centre) @ to_circle, axis=1) - 1) / np.sqrt(np.linalg.det(to_circle))
    share = np.count_nonzero(np.abs(far) < max(0.7, 0.01 * radius)) / len(turn)
    return _Disc(centre + circle @ np.linalg.inv(to_circle).T, share) if share >= SEEN_EDGE else None


def _fit_ellipse(points: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    if len(points) < 30:
        return None
    (x, y), (width, height), angle = cv2.fitEllipseDirect(points.astype(np.float32))
    if not (min(width, height) > 6 and max(width, height) < 3 * min(width, height)):
        return None
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    axes = np.array([[c, -s], [s, c]])
    return np.array([x, y]), axes @ np.diag([2 / width, 2 / height]) @ axes.T


def _is_metal(scene: _Scene, disc: _Disc) -> bool:
    """True for a disc that differs from its ground, in the colours of coin metals, with some relief and no holes like a button's."""
    rings = [(disc.edge.mean(axis=0) + share * (disc.edge - disc.edge.mean(axis=0))).astype(np.float32) for share in (0.8, 1.2)]
    inside, outside = (cv2.remap(scene.lab, ring[None, :, 0], ring[None, :, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0] for ring in rings)
    if np.mean(np.linalg.norm(inside - outside, axis=1) > 8) < 0.7:
        return False
    mask = np.zeros(scene.lab.shape[:2], np.uint8)
    centre = disc.edge.mean(axis=0)
    inner = centre + 0.88 * (disc.edge - centre)
    cv2.fillPoly(mask, [np.round(inner).astype(np.int32)], 1)
    colour = scene.lab[mask > 0].astype(float) - [0, 128, 128]
    chroma, hue = np.hypot(colour[:, 1], colour[:, 2]), np.degrees(np.arctan2(colour[:, 2], colour[:, 1]))
    metal = (chroma < 16) | ((hue > 35) & (hue < 110) & (chroma < 75))
    light = cv2.GaussianBlur(scene.lab[..., 0], (0, 0), max(1.0, 0.04 * disc.radius))[mask > 0]
    if metal.mean() < 0.85 or light.std() < 5:
        return False
    # Holes: dark spots in the inner half, each with its like on the other side of the middle.
    half = np.zeros_like(mask)
    cv2.fillPoly(half, [np.round(centre + 0.55 * (disc.edge - centre)).astype(np.int32)], 1)
    dark = ((scene.lab[..., 0] < 0.45 * np.median(light)) & (half > 0)).astype(np.uint8)
    number, _, sizes, middles = cv2.connectedComponentsWithStats(dark)
    area = np.pi * disc.radius**2
    spots = [middles[k] - centre for k in range(1, number) if 0.003 < sizes[k, cv2.CC_STAT_AREA] / area < 0.06]
    paired = [a for a in spots if any(np.linalg.norm(a + b) < 0.15 * disc.radius for b in spots) and np.linalg.norm(a) > 0.08 * disc.radius]
    return len(paired) < 2


def _belongs_to(disc: _Disc, other: _Disc) -> bool:
    """True where an edge is only the relief of another, or the other with its shadow."""
    small, large = (disc, other) if disc.radius < other.radius else (other, disc)
    if small.radius > 0.985 * large.radius:
        return False  # the same edge twice
    centre = small.edge.mean(axis=0)
    if cv2.pointPolygonTest(large.edge.astype(np.float32), tuple(map(float, centre)), False) < 0:
        return False
    gap = large.radius - small.radius
    # A ring is as wide on all sides; a shadow, or the coin's wall seen at a slant, is a crescent.
    crescent = small.radius > 0.75 * large.radius and np.linalg.norm(centre - large.edge.mean(axis=0)) > 0.45 * gap
    return disc is (large if crescent else small)


def _by_coin(scene: _Scene, coin: str | None) -> Scale | NoScale | None:
    hulls, shrink = scene.hulls
    diameters = [COINS[coin]] if coin else list(COINS.values())
    stitch = _around(scene.marks) / len(scene.marks)
    found: list[_Disc] = []
    rounds = _ellipses(hulls)
    for centre, to_circle in sorted(rounds, key=lambda own: np.linalg.det(own[1]))[:MOST_OUTLINES]:
        if _pattern(rounds, centre, 1 / np.sqrt(np.linalg.det(to_circle))):
            continue
        disc = _as_disc(scene, (centre + 0.5) * shrink - 0.5, to_circle / shrink)
        if disc is None or scene.covers(disc.edge):
            continue
        width = [stitch * diameter / (2 * disc.radius) for diameter in diameters]
        if disc.radius < LEAST_COIN:
            continue
        if max(width) > 0.9 * NARROWEST and min(width) < 1.1 * WIDEST and _is_metal(scene, disc):
            found.append(disc)
    outer = [disc for disc in found if not any(_belongs_to(disc, other) for other in found if other is not disc)]
    separate: list[_Disc] = []
    for disc in sorted(outer, key=lambda disc: -disc.seen):
        if all(np.linalg.norm(disc.edge.mean(axis=0) - other.edge.mean(axis=0)) > 0.5 * other.radius for other in separate):
            separate.append(disc)
    if not coin:
        return NoScale("which coin") if len(separate) == 1 else None
    if not separate:
        return NoScale("no coin")
    if len(separate) > 1:
        return NoScale("several", f"{len(separate)} round discs")
    return _from_disc(scene, coin, separate[0])


def _from_disc(scene: _Scene, coin: str, disc: _Disc) -> Scale:
    """The scale at the piece from a coin beside it.

    A circle's picture leaves open how the plane lies that it is in. All slants
    and focal lengths are tried, each as likely as it makes the coin a circle
    and the rim nearly one; the length that they agree on is the answer, and
    what they disagree by its error.
    """
    slants = np.radians(np.arange(-42, 42.1, 2.0))
    sideways, lengthways = (v.ravel() for v in np.meshgrid(slants, slants))
    tilt = np.hypot(sideways, lengthways)
    turn = np.arctan2(lengthways, sideways)
    rim = scene.outline[:: max(1, len(scene.outline) // 90)]
    edge = disc.edge[::3]
    best, logs, odds, heights = None, [], [], []
    for focal in FOCALS[2:-2:3]:
        # The plane's normal in camera coordinates; depth along a ray is 1 / (normal . ray).
        normal = np.stack([np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.cos(tilt)], axis=1)
        first = np.stack([np.cos(tilt) * np.cos(turn), np.cos(tilt) * np.sin(turn), -np.sin(tilt)], axis=1)
        second = np.stack([-np.sin(turn), np.cos(turn), np.zeros_like(turn)], axis=1)
        to_ray = np.array([[1, 0, -scene.middle[0]], [0, 1, -scene.middle[1]], [0, 0, focal * scene.long]]) / (focal * scene.long)
        all_planes = np.stack([first, second, normal], axis=1) @ to_ray  # px -> plane at height 1 below the camera
        laid_edge, laid_rim = (_laid(all_planes, points) for points in (edge, rim))
        shape_edge, radius = _shape(laid_edge)
        shape_rim, _ = _shape(laid_rim)
        misfit = (shape_edge**2).sum(axis=1) / COIN_SHAPE**2 + (shape_rim**2).sum(axis=1) / PIECE_SHAPE**2
        misfit += (tilt / SLANT) ** 2 + (np.log(focal / FOCAL) / FOCAL_SPREAD) ** 2
        misfit = np.where(radius > 0, misfit, np.inf)
        unit = 0.5 * COINS[coin] / np.maximum(radius, 1e-12)
        laid = _laid(all_planes, scene.marks)
        length = unit * np.linalg.norm(np.roll(laid, -1, axis=1) - laid, axis=2).sum(axis=1)
        logs.append(np.log(length))
        odds.append(misfit)
        heights.append(unit)
        k = int(misfit.argmin())
        if best is None or misfit[k] < best[0]:
            best = (misfit[k], np.diag([unit[k], unit[k], 1.0]) @ all_planes[k], np.log(length[k]))
    logs, odds, heights = (np.concatenate(v) for v in (logs, odds, heights))
    odds = np.exp(-0.5 * (odds - odds.min()))
    odds /= odds.sum()
    mean = float((odds * logs).sum())
    spread = float(np.sqrt((odds * (logs - mean) ** 2).sum()))
    height = float(np.exp((odds * np.log(heights)).sum()))
    lost = float(np.sqrt((odds * np.log(heights / height) ** 2).sum()))
    more = np.exp(mean - best[2])
    error = float(np.sqrt(spread**2 + (0.4 / disc.radius) ** 2 + 0.005**2))
    return _finished(scene, coin, np.diag([more, more, 1.0]) @ best[1], disc.edge, error, height, lost)


def _laid(planes: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Points through many homographies; shape (planes, points, 2)."""
    seen = np.c_[points, np.ones(len(points))] @ planes.transpose(0, 2, 1)
    return seen[..., :2] / seen[..., 2:]


def _shape(lines: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
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
