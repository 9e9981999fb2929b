"""How wide the stitches and how high the rounds of a counted piece are, in pixels.

Lengths are taken in the plane of the piece: a round piece that is seen at a
slant has an ellipse for its rim, and what the slant has shortened is stretched
again. They are what a camera above sees of a piece that lies flat; the wall
of a cup is seen from above and shows less than its height, so that the heights
of a piece that stands up are the least that they can be.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from counter.basics import words
from counter.basics.answer import Count
from counter.basics.photo import Photo
from counter.counting.piece import Piece
from counter.counting.rounds import BODY_DEPTHS, MOST_WAVES, SECTORS, line_profiles
from counter.counting.unwrap import unwrap

__all__ = ["FEWEST_LINE_ROUNDS", "Measured", "Measures", "flattened", "measure"]

#: An outline this much (logarithm of major over minor axis) out of round says nothing of a
#: slant: pieces that lie straight under the camera are, in the middle of rendered photos.
LEAST_LOG_AXIS_RATIO = 0.05
#: Relative standard error of the stitch width when the number is right: marks, slant and
#: perspective together, against the truth of rendered photos.
WIDTH_RELATIVE_ERROR = 0.02
#: The marks of the last of n rounds lie n and this many heights from the centre: what the
#: ring adds, and its spread (rendered photos; the ring of a piece is drawn as tight or as
#: loose as its maker likes).
RING_ROUND_HEIGHTS, RING_SD_ROUND_HEIGHTS = 0.2, 0.2
#: Standard deviation of counted rounds that nobody has confirmed, in rounds: about
#: two in three are right, nearly all others are one off (rendered photos of flat pieces).
ROUNDS_SD = 0.6
#: The outline lies n and this many round heights from the centre.
EDGE_ROUND_HEIGHTS = 0.6
#: Fewest rounds in which single lines are looked for. Those next to the edge and to the
#: ring are disturbed by them, so that the height of the last round and of the first two isn't told.
FEWEST_LINE_ROUNDS = 5
#: How the height of rounds is supposed to vary: spread of the mean against that from the
#: outline, and of the change from rim to centre, as shares.
HEIGHT_LOG_SD, HEIGHT_CHANGE_SD = 0.06, 0.15
#: What the strength of lines weighs against that, in nats for all contrast there is.
CONTRAST_WEIGHT_NATS = 60.0
#: Reach of the look at one line, in rounds.
LINE_REACH_ROUNDS = 0.6
#: Groups of sectors that are left out in turn to see how far a line can be trusted.
SECTOR_GROUPS = 6
#: A line that wanders by less in them is clear; a height has at least this error besides
#: (both as shares of a round's height; rendered photos).
CLEAR_LINE_ERROR_ROUNDS, LEAST_LINE_ERROR_ROUNDS = 0.06, 0.03
#: Share of the contrast that lines must explain to be followed one by one.
LEAST_EXPLAINED_SHARE = 0.07
#: Columns of the strip of the body.
STRIP_COLUMNS = 720


@dataclass(frozen=True)
class Measured:
    """A measured value.

    Parameters
    ----------
    value : float
        More than 0.
    error : float
        Its standard error, in the same unit.
    """

    value: float
    error: float


@dataclass(frozen=True, eq=False)
class Measures:
    """Sizes of the stitches of one piece, in its own plane.

    Parameters
    ----------
    width : Measured
        Mean width of a stitch along the rim, px.
    widths : ndarray of shape (stitches,), float
        Room of each mark along the rim, half the way to either neighbour, px.
    rounds : int or None
        The rounds that heights were taken with.
    height : Measured or None
        Mean height of a round, px; None where it can't be told.
    why_no_height : str
        The reason; empty where there is a height.
    heights : tuple of Measured or None
        Height of every round from the first (at the centre) on, px; None for
        a round that can't be told. Empty where no round can.
    why_no_heights : str
        The reason; empty where there are any.
    ratio : Measured or None
        Height of a round over width of a stitch. It knows the number of
        stitches and of rounds only: in a piece that lies flat both lengths
        follow from its size.
    radius : float
        Mean distance of the marks from the middle, px.
    roundness : float
        Minor over major axis of the outline in the photo, 0 to 1.
    """

    width: Measured
    widths: np.ndarray
    rounds: int | None
    height: Measured | None
    why_no_height: str
    heights: tuple[Measured | None, ...]
    why_no_heights: str
    ratio: Measured | None
    radius: float
    roundness: float

    def __post_init__(self) -> None:
        self.widths.flags.writeable = False


def flattened(outline: np.ndarray) -> tuple[np.ndarray, tuple[float, float], float]:
    """Undo the slant at which a round piece is seen.

    A circle seen at a slant is an ellipse, shortened in one direction only
    (parallel projection). The ellipse is that with the same second moments of
    area as the outline: half axes are twice the roots of the moments' eigenvalues.

    Parameters
    ----------
    outline : ndarray of shape (K, 2), float
        Closed line (x, y), px.

    Returns
    -------
    stretch : ndarray of shape (2, 2), float
        ``stretch @ (p - middle)`` lies in the plane of the piece, px. Symmetric;
        lengths along the major axis are kept.
    middle : tuple of float
        (x, y) of the middle of the area, px.
    roundness : float
        Minor over major axis, 0 to 1.

    Raises
    ------
    ValueError
        If the outline encloses no area.
    """
    # Moments about a near origin keep their digits.
    near = np.asarray(outline, dtype=float).mean(axis=0)
    moments = cv2.moments((outline - near).astype(np.float32).reshape(-1, 1, 2))
    area = moments["m00"]
    if not area > 0:
        raise ValueError(words.NO_AREA)
    second = np.array([[moments["mu20"], moments["mu11"]], [moments["mu11"], moments["mu02"]]]) / area
    spread, axes = np.linalg.eigh(second)
    roundness = float(np.sqrt(max(spread[0], 1e-12) / spread[1]))
    longer = max(1.0, np.exp(-LEAST_LOG_AXIS_RATIO) / roundness)
    stretch = axes @ np.diag([longer, 1.0]) @ axes.T
    middle = near + (moments["m10"] / area, moments["m01"] / area)
    return stretch, (float(middle[0]), float(middle[1])), roundness


def measure(photo: Photo | np.ndarray, count: Count, *, rounds: int | None = None) -> Measures:
    """Measure the stitches of a counted piece.

    Parameters
    ----------
    photo : Photo or ndarray of shape (H, W, 3), uint8
        The upright photo that was counted, sRGB.
    count : Count
    rounds : int, optional
        Complete rounds where a person knows them, at least 1; else the counted ones.

    Returns
    -------
    Measures

    Raises
    ------
    ValueError
        If `rounds` is less than 1 or the photo is not of the counted size.
    """
    pixels = photo.pixels if isinstance(photo, Photo) else photo
    if (pixels.shape[1], pixels.shape[0]) != tuple(count.size):
        raise ValueError("the photo is not the one that was counted: their sizes differ")
    if rounds is not None and rounds < 1:
        raise ValueError(f"a piece has at least 1 round, not {rounds}")
    stretch, middle, roundness = flattened(count.outline)
    marks = (count.marks - middle) @ stretch.T
    ways = np.linalg.norm(np.roll(marks, -1, axis=0) - marks, axis=1)
    of_number = _spread_of_number(count)
    width = float(ways.mean())
    radius = float(np.sqrt(cv2.contourArea(marks.astype(np.float32)) / np.pi))
    known = rounds if rounds is not None else count.rounds
    height = ratio = None
    why = why_none = ""
    heights: tuple[Measured | None, ...] = ()
    if not known:
        why = why_none = words.NO_ROUNDS_TOLD
    else:
        begun = 0.0
        if count.in_progress:
            begun = count.in_progress.done / max(1, count.in_progress.done + count.in_progress.left)
        reach = known + begun + RING_ROUND_HEIGHTS
        of_rounds = float(np.hypot(RING_SD_ROUND_HEIGHTS, 0.0 if rounds is not None else ROUNDS_SD)) / reach
        height = _measured(radius / reach, of_rounds)
        ratio = _measured(height.value / width, float(np.hypot(of_rounds, of_number)))
        heights, why_none = _heights(pixels, count, stretch, middle, roundness, known)
    return Measures(
        width=_measured(width, float(np.hypot(WIDTH_RELATIVE_ERROR, of_number))),
        widths=0.5 * (ways + np.roll(ways, 1)),
        rounds=known or None,
        height=height,
        why_no_height=why,
        heights=heights,
        why_no_heights=why_none,
        ratio=ratio,
        radius=radius,
        roundness=roundness,
    )


def _measured(value: float, relative: float) -> Measured:
    return Measured(float(value), float(value * relative))


def _spread_of_number(count: Count) -> float:
    """Standard deviation of the logarithm of the number of stitches, about the best one."""
    numbers = np.array(list(count.posterior), dtype=float)
    chances = np.array(list(count.posterior.values()))
    return float(np.sqrt((chances * np.log(numbers / count.stitches) ** 2).sum() / chances.sum()))


def _heights(
    pixels: np.ndarray, count: Count, stretch: np.ndarray, middle: tuple[float, float], roundness: float, rounds: int
) -> tuple[tuple[Measured | None, ...], str]:
    """Height of each round from the lines of rounds, from the first on; and why there are none."""
    if rounds < FEWEST_LINE_ROUNDS:
        return (), words.FEW_HEIGHTS.format(n=FEWEST_LINE_ROUNDS)
    flat = (count.outline - middle) @ stretch.T
    radius = np.sqrt(cv2.contourArea(flat.astype(np.float32)) / np.pi)
    piece = Piece(np.array(count.outline), middle, stretch / radius, roundness, 0.0)
    strip = unwrap(pixels, piece, count.centre, BODY_DEPTHS, STRIP_COLUMNS)
    found = _lines(line_profiles(cv2.cvtColor(strip.pixels, cv2.COLOR_RGB2LAB)[..., 0].astype(float)), rounds)
    if found is None:
        return (), words.NO_LINES
    depths, errors = found
    way = np.linalg.norm((strip.rim - count.centre) @ stretch.T, axis=1).mean()
    inner = [
        Measured(float(way * high), float(way * np.hypot(error, LEAST_LINE_ERROR_ROUNDS * high))) if high > 0 else None
        for high, error in zip(np.diff(depths), np.hypot(errors[1:], errors[:-1]), strict=True)
    ]
    return (None, None, *inner[::-1], None), ""


def _lines(profiles: np.ndarray, rounds: int) -> tuple[np.ndarray, np.ndarray] | None:
    """Depths of the same line in every round but the last and the first, from the rim to the centre.

    A wave that repeats once a round, whose length may change evenly on the way
    to the centre, is laid over the lines so that it explains most of their
    contrast. What is left, near each round, is a shift of phase.

    Parameters
    ----------
    profiles : ndarray of shape (len(BODY_DEPTHS), SECTORS), float
        As from :func:`counter.counting.rounds.line_profiles`.
    rounds : int

    Returns
    -------
    depths, errors : ndarray of shape (rounds - 2,), float
        And their standard errors; None where the lines are not clear.
    """
    weight = np.sqrt(np.sin(np.pi * np.clip(BODY_DEPTHS / BODY_DEPTHS[-1], 0, 1)))
    turns, changes = np.meshgrid(np.linspace(0.8, 1.25, 37), np.linspace(-0.45, 0.45, 31), indexing="ij")
    half = BODY_DEPTHS[-1] / 2
    bent = BODY_DEPTHS + changes[..., None] * ((BODY_DEPTHS - half) ** 2 - half**2) / 2
    phases = (rounds + EDGE_ROUND_HEIGHTS) * turns[..., None] * bent
    waves = np.exp(-2j * np.pi * phases)
    centred = waves * weight
    centred -= weight * (centred.sum(axis=-1) / weight.sum())[..., None]
    # Lines that climb or wander on the way round the piece are slow waves along it.
    slow = np.abs(np.fft.fftfreq(SECTORS, 1 / SECTORS)) <= MOST_WAVES
    power = (np.abs(centred @ np.fft.fft(profiles, axis=1, norm="ortho")[:, slow]) ** 2).sum(axis=-1)
    share = 2 * power / max(float((profiles**2).sum() * (weight**2).sum()), 1e-9)
    score = (
        CONTRAST_WEIGHT_NATS * share
        - 0.5 * (np.log(turns) / HEIGHT_LOG_SD) ** 2
        - 0.5 * (changes / HEIGHT_CHANGE_SD) ** 2
    )
    best = np.unravel_index(int(np.argmax(score)), score.shape)
    if share[best] < LEAST_EXPLAINED_SHARE:
        return None
    phase, wave = phases[best], waves[best]
    # Where on the way round the piece the lines lie early or late, taken as a slow change, is undone.
    along = np.fft.fft((wave * weight) @ profiles)
    along[~slow] = 0
    turned = wave[:, None] * profiles * np.conj(np.fft.ifft(along))
    numbers = np.arange(1, rounds - 1) + 0.5
    near = np.exp(-0.5 * ((phase - numbers[:, None]) / LINE_REACH_ROUNDS) ** 2)
    near = near / near.sum(axis=1, keepdims=True) @ turned
    whole = near.sum(axis=1)
    # Jackknife over interleaved groups of sectors.
    parts = near.reshape(len(near), -1, SECTOR_GROUPS).sum(axis=1)
    without = np.angle((whole[:, None] - parts) * np.conj(whole)[:, None]) / (2 * np.pi)
    errors = np.sqrt(
        (SECTOR_GROUPS - 1) / SECTOR_GROUPS * ((without - without.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    )
    if np.hypot(errors[1:], errors[:-1]).mean() > CLEAR_LINE_ERROR_ROUNDS:
        return None
    shifts = np.unwrap(np.angle(whole)) / (2 * np.pi)
    depths = np.interp(numbers - (shifts - shifts.mean()), phase, BODY_DEPTHS)
    return depths, errors * np.gradient(BODY_DEPTHS, phase)[np.searchsorted(phase, numbers).clip(0, len(phase) - 1)]
