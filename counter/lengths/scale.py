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
from types import MappingProxyType

import cv2
import numpy as np

from counter.basics import words
from counter.basics.answer import Count
from counter.basics.language import Told
from counter.basics.photo import Photo
from counter.lengths.card import CARD_THICKNESS_MM, find_cards
from counter.lengths.coin import COIN_HEIGHT_MM, COINS, find_discs, plane_of_discs, suits
from counter.lengths.edges import TableView, at_working_size, corners_of
from counter.lengths.mat import CLEAR_SIDE_MM, MARKERS, dictionary
from counter.lengths.plane import (
    FOCAL_GRID_LONG_SIDES,
    FOCAL_LOG_SD,
    FOCAL_LONG_SIDES,
    around,
    fit_error,
    mm_per_px,
    moments,
    through,
    view_misfit,
    views,
)

__all__ = [
    "COINS",
    "NO_SCALES",
    "NoScale",
    "Rectified",
    "Scale",
    "find_scale",
    "in_words",
    "mat_middle",
    "read_length",
    "rectified",
    "scale_from_diameter",
    "to_plane",
]

#: Words -> millimetres. One inch is 25.4 mm (international yard and pound agreement, 1959).
UNITS: Mapping[str, float] = MappingProxyType(
    {"mm": 1.0, "cm": 10.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4, "\u2033": 25.4}
)
_UNIT = "(" + "|".join(sorted(map(re.escape, UNITS), key=len, reverse=True)) + ")"
#: "12.5 cm", "4 1/2 in"; ASCII digits only.
_PLAIN = re.compile(r"([0-9]{1,6}(?:[.,][0-9]{1,4})?)\s*" + _UNIT)
_BROKEN = re.compile(r"(?:([0-9]{1,4})\s+)?([0-9]{1,2})/([0-9]{1,2})\s*" + _UNIT)
#: Sizes of a piece that are believed, mm.
SMALLEST_PIECE_MM, LARGEST_PIECE_MM = 5.0, 2000.0
#: Widths of a stitch that are believed, mm, or else what was found is no such thing.
NARROWEST_STITCH_MM, WIDEST_STITCH_MM = 1.0, 40.0

#: How high the top loops of a flat piece lie over the table, in stitch widths, and the spread of that.
RIM_HEIGHT_STITCHES, RIM_SD_STITCHES = 0.9, 0.3
#: The same in mm where the stitches are not known.
ANY_RIM_MM, ANY_RIM_SD_MM = 4.5, 2.5

#: A camera nearer than this sees the rim of a thick piece much larger than the table, mm; and what to do better.
NEAR_CAMERA_MM, BETTER_CAMERA_MM = 250.0, 400.0
#: Share of a marker's side along which the edge must be seen.
SEEN_MARKER_SHARE = 0.8
#: The edge of a card that is found is this true to size: its shadow is as wide as it is thick, on some sides.
CARD_RELATIVE_ERROR = 0.005
#: Fewest markers of the mat, and the largest distance of one from its place, mm.
FEWEST_MARKERS, MARKER_OFF_MM = 3, 0.5
#: A page that came out of a printer is this true to size (paper takes up and gives off moisture).
PRINT_RELATIVE_ERROR = 0.002
#: A scale less sure than this is none.
WORST_RELATIVE_ERROR = 0.06

#: Why there is no scale: code -> (reason, hint).
NO_SCALES: Mapping[str, tuple[str, str]] = Told("NO_SCALES")


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
        return words.with_detail(NO_SCALES[self.code][0], self.detail)

    @property
    def hint(self) -> str:
        """One sentence that says what to do."""
        return NO_SCALES[self.code][1].format(coins=words.COMMA.join(COINS))


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
        mat's corners, a coin's edge (of two coins one after the other, 96 points each), or the rim of the piece itself.
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
        by = words.MEASURED_BY.get(self.kind, words.MEASURED_COIN)
        told = [by.format(coin=self.kind, error=f"{2 * self.error:.1%}")]
        if self.distance is not None:
            told.append(words.LIES_LOW.format(p=f"{10 / self.distance:.0%}"))
            if self.distance < NEAR_CAMERA_MM:
                told.append(words.FROM_FARTHER.format(cm=round(BETTER_CAMERA_MM / 10)))
        return words.together(*told)


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
    if not isinstance(text, str):
        raise ValueError(words.NO_SIZE.format(text=repr(text)))
    shown, clean = text.strip()[:40], text.strip().lower()
    plain, broken = _PLAIN.fullmatch(clean), _BROKEN.fullmatch(clean)
    if plain:
        number, unit = float(plain[1].replace(",", ".")), plain[2]
    elif broken and int(broken[2]) < int(broken[3]):
        number, unit = int(broken[1] or 0) + int(broken[2]) / int(broken[3]), broken[4]
    else:
        raise ValueError(words.NO_SIZE.format(text=repr(shown)))
    length = number * UNITS[unit]
    if not SMALLEST_PIECE_MM <= length <= LARGEST_PIECE_MM:
        raise ValueError(
            words.NO_SUCH_SIZE.format(mm=round(SMALLEST_PIECE_MM), m=round(LARGEST_PIECE_MM / 1000), text=repr(shown))
        )
    return length


def in_words(mm: float) -> str:
    """A length in both units, to about a hundredth of it: "12.4 cm (4.9 in)"."""
    metric = words.MM.format(n=f"{mm:.1f}") if mm < 30 else words.CM.format(n=f"{mm / 10:.1f}")
    return words.BOTH_UNITS.format(metric=metric, inches=f"{mm / 25.4:.{2 if mm < 50 else 1}f}")


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
    return through(scale.homography, points)


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
    fine = mm_per_px(scale.homography, frame)
    # Behind the horizon the depth changes its sign, towards it pixels grow without bound.
    depth = frame @ scale.homography[2, :2] + scale.homography[2, 2]
    ahead = np.sign(depth) == np.sign(depth[np.argmin(np.abs(fine - scale.mm_per_px))])
    seen = through(scale.homography, frame[ahead & (fine < 3 * scale.mm_per_px)])
    low, high = seen.min(axis=0), seen.max(axis=0)
    step = max(scale.mm_per_px, float((high - low).max()) / most)
    to_pixels = np.array([[1 / step, 0, -low[0] / step], [0, 1 / step, -low[1] / step], [0, 0, 1]]) @ scale.homography
    size = np.maximum(np.ceil((high - low) / step).astype(int), 1)
    pixels = cv2.warpPerspective(
        photo.pixels, to_pixels, (int(size[0]), int(size[1])), flags=cv2.INTER_LINEAR, borderValue=(255, 255, 255)
    )
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
    if not SMALLEST_PIECE_MM <= diameter <= LARGEST_PIECE_MM:
        raise ValueError(
            words.PIECE_WIDE.format(least=round(SMALLEST_PIECE_MM), most=round(LARGEST_PIECE_MM), mm=repr(diameter))
        )
    outline = np.asarray(count.outline, dtype=float)
    centre, spread = moments(outline)
    # A disc's spread is a quarter of its radius squared.
    values, axes = np.linalg.eigh(4 * spread)
    to_circle = axes @ np.diag(1 / np.sqrt(values)) @ axes.T * diameter / 2
    homography = np.eye(3)
    homography[:2, :2] = to_circle
    homography[:2, 2] = -to_circle @ centre
    far = np.linalg.norm(through(homography, outline), axis=1) / (diameter / 2)
    # A ruler across the piece meets two places of its rim.
    error = float(np.sqrt((1.0 / diameter) ** 2 + 0.01**2 + (far.std() / np.sqrt(2)) ** 2))
    return Scale("diameter", mm_per_px(homography, centre[None])[0], error, homography, outline.copy(), 0.0, None)


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
        A key of :data:`COINS`: the coin that lies in the picture, or two of
        them on opposite sides of the piece, which is far better: one alone
        hardly says how the camera is held. A coin of unknown value is no measure.

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
    scene, to_full = at_working_size(photo, count)
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
        outline=through(np.linalg.inv(to_full), answer.outline),
    )
    if count is not None:
        width = around(to_plane(count.marks, found)) / count.stitches
        if not NARROWEST_STITCH_MM <= width <= WIDEST_STITCH_MM:
            return NoScale("unlikely", words.STITCH_WIDE.format(mm=f"{width:.1f}"))
    return found if found.error <= WORST_RELATIVE_ERROR else NoScale("too uncertain")


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
    scene, to_full = at_working_size(photo, None)
    found = _mat_plane(scene)
    if found is None:
        return None
    homography = found[0] @ to_full
    half = 0.5 * CLEAR_SIDE_MM
    middle = through(np.linalg.inv(homography), np.zeros((1, 2)))
    step = max(float(mm_per_px(homography, middle)[0]), CLEAR_SIDE_MM / 3000)
    to_pixels = np.array([[1 / step, 0, half / step], [0, 1 / step, half / step], [0, 0, 1]]) @ homography
    size = int(CLEAR_SIDE_MM / step)
    # Where the photo does not reach, the paper is taken to go on.
    pixels = cv2.warpPerspective(
        photo.pixels, to_pixels, (size, size), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return Rectified(Photo(pixels), step, to_pixels)


def _finished(
    scene: TableView,
    kind: str,
    homography: np.ndarray,
    outline: np.ndarray,
    error: float,
    height: float | None = None,
    lost: float = 0.0,
) -> Scale:
    """A scale at the rim of the piece, from a homography to the plane of the reference.

    Parameters
    ----------
    scene : Scene
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
        skew, stretch, heights, _ = views(homography, scene.middle, scene.long)
        odds = np.exp(
            -0.5
            * (
                view_misfit(skew, stretch, 0.01)
                - view_misfit(skew, stretch, 0.01).min()
                + (np.log(FOCAL_GRID_LONG_SIDES / FOCAL_LONG_SIDES) / FOCAL_LOG_SD) ** 2
            )
        )
        odds /= odds.sum()
        height = float(np.exp((odds * np.log(heights)).sum()))
        lost = float(np.sqrt((odds * np.log(heights / height) ** 2).sum()))
    rim, spread = ANY_RIM_MM, ANY_RIM_SD_MM
    if scene.marks is not None:
        stitch = around(through(homography, scene.marks)) / len(scene.marks)
        rim, spread = RIM_HEIGHT_STITCHES * stitch, RIM_SD_STITCHES * stitch
    above = rim - {"mat": 0.0, "card": CARD_THICKNESS_MM}.get(kind, COIN_HEIGHT_MM)
    nearer = above / height
    error = float(np.sqrt(error**2 + (spread / height) ** 2 + (nearer * lost) ** 2))
    # Seen from the camera, the plane of the rim is the table shrunk towards the foot of the camera.
    lifted = np.diag([1 - nearer, 1 - nearer, 1.0]) @ homography
    return Scale(kind, float(mm_per_px(lifted, scene.at[None])[0]), error, lifted, outline, float(rim), float(height))


def _mat_plane(scene: TableView) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
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
    homography, agree = cv2.findHomography(px, mm, cv2.RANSAC, 4 * MARKER_OFF_MM)
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
        keep = np.repeat(off <= max(MARKER_OFF_MM, 3 * float(np.median(off))), 4)
        if keep.sum() < 4 * FEWEST_MARKERS:
            return None
        px, mm = px[keep], mm[keep]
        homography, _ = cv2.findHomography(px, mm, 0)
        if homography is None or np.max(_middles_off(homography, px, mm)) > 2 * MARKER_OFF_MM:
            return None
    skew, stretch, _, _ = views(homography, scene.middle, scene.long)
    if view_misfit(skew, stretch, 0.02).min() > 9:
        return None  # no camera sees a flat page like that
    return homography, px, mm


def _middles_off(homography: np.ndarray, px: np.ndarray, mm: np.ndarray) -> np.ndarray:
    """How far the middle of each marker is from its place, mm."""
    return np.linalg.norm((through(homography, px) - mm).reshape(-1, 4, 2).mean(axis=1), axis=1)


def _marker_corners(scene: TableView, homography: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Corners of the markers where their sides meet, px and mm, each of shape (4 M, 2)."""
    back = np.linalg.inv(homography)
    depth = np.sign(back[2, 2])  # of the middle of the mat
    px, mm = [], []
    for places in MARKERS.values():
        if np.any((places @ back[2, :2] + back[2, 2]) * depth <= 0):
            continue
        quad = through(back, places)
        lengths = np.linalg.norm(np.roll(quad, -1, axis=0) - quad, axis=1)
        if lengths.min() < 12 or np.any(quad < 2) or np.any(quad > np.array(scene.pixels.shape[1::-1]) - 3):
            continue
        # Less than a cell, or the next cell's edge could be taken.
        reach = max(0.11 * float(lengths.mean()), 2.0)
        found = corners_of(scene.lab, quad, reach, SEEN_MARKER_SHARE)
        if found is not None:
            px.append(found[0])
            mm.append(places)
    if not px:
        return np.zeros((0, 2)), np.zeros((0, 2))
    return np.concatenate(px), np.concatenate(mm)


def _by_mat(scene: TableView) -> Scale | None:
    found = _mat_plane(scene)
    if found is None:
        return None
    homography, px, mm = found
    # One point a marker: its corners err together, by blur and where the page curls.
    middles = px.reshape(-1, 4, 2).mean(axis=1)
    off = _middles_off(homography, px, mm) / mm_per_px(homography, middles)
    sigma = max(0.1, float(np.sqrt((off**2).mean() / 2)))
    error = np.hypot(fit_error(homography, px, 2 * sigma, scene.at), PRINT_RELATIVE_ERROR)
    edge = np.concatenate([MARKERS[k][j][None] for k, j in _RING_CORNERS])
    return _finished(scene, "mat", homography, through(np.linalg.inv(homography), edge), float(error))


#: Marker and its corner that make the four corners of the ring, clockwise.
_RING_CORNERS = tuple(
    max((float(MARKERS[k][j] @ way), -k, -j, (k, j)) for k in MARKERS for j in range(4))[-1]
    for way in (np.array([-1, -1]), np.array([1, -1]), np.array([1, 1]), np.array([-1, 1]))
)


def _by_card(scene: TableView) -> Scale | NoScale | None:
    cards = find_cards(scene)
    if len(cards) > 1:
        return NoScale("several", words.CARDS.format(n=len(cards)))
    if not cards:
        return None
    # A side is the line through half a hundred steps, each good to about half a pixel, and all of
    # them off together by the card's own shadow.
    error = np.hypot(fit_error(cards[0].homography, cards[0].corners, 0.3, scene.at), CARD_RELATIVE_ERROR)
    return _finished(scene, "card", cards[0].homography, cards[0].corners, float(error))


def _by_coin(scene: TableView, coin: str | None) -> Scale | NoScale | None:
    sizes = [COINS[coin]] if coin else list(COINS.values())
    marks, _ = scene.counted()
    stitch = around(marks) / len(marks)
    # Radius of the coin over the width of a stitch, both in mm and in px.
    discs = find_discs(
        scene, stitch * 0.5 * min(sizes) / WIDEST_STITCH_MM, stitch * 0.5 * max(sizes) / NARROWEST_STITCH_MM
    )
    if not coin:
        return NoScale("which coin") if len(discs) == 1 else None
    if not discs:
        return NoScale("no coin")
    coins = [disc for disc in discs if suits(scene, disc, coin)]
    if not coins:
        return NoScale("other coin", words.NOT_COIN.format(coin=coin))
    if len(coins) > 2:
        return NoScale("several", words.COINS_SEEN.format(n=len(coins)))
    homography, error, height, lost = plane_of_discs(scene, coins, COINS[coin])
    outline = np.concatenate([disc.edge for disc in coins])
    return _finished(scene, coin, homography, outline, error, height, lost)
