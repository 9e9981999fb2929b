"""How many rounds a piece has, and how well they line up round a centre.

Each round leaves lines along the rounds: the row of posts is lighter than the
row of loops below it. In the polar strip these lines repeat once a round along
the depth; in a spiral they climb by one round in one turn, and round a centre
that is a little off they wander. The power of every number of lines, whatever
way they wander, is the evidence for it, and the number of stitches on
the rim bounds what is physically possible, because a round is neither much
lower nor many times taller than a stitch is wide.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from scipy import ndimage

from counter.counting.piece import Piece
from counter.counting.unwrap import unwrap

__all__ = [
    "BODY_DEPTHS",
    "MOST_WAVES",
    "PATCH_RADIUS_PX",
    "SECTORS",
    "body_strip",
    "contrast_share",
    "count_rounds",
    "is_worked",
    "line_profiles",
    "ring_lines",
    "texture_likeness",
]

#: Depths of the rows of a strip of the whole body, as shares of the way to the centre.
BODY_DEPTHS = np.linspace(0.0, 0.92, 160)
#: Columns of such a strip.
BODY_COLUMNS = 720
#: Height of a round over the width of a stitch on the rim: the likely value
#: and the spread of its logarithm. Single crochets are about as high as wide,
#: taller stitches up to twice (common practice).
HEIGHT_IN_WIDTHS = 1.0
HEIGHT_SD_LOG = 0.2
#: Most rounds that are looked for (ours).
MOST_ROUNDS = 40
#: Rounds that the centre ring takes up (guessed).
RING_ROUNDS = 0.35
#: Sectors that are averaged on their own before they are compared (guessed).
SECTORS = 48
#: Most waves by which a line wanders on one way round: a spiral climbs, a centre
#: that is a little off makes one wave, a hexagon more.
MOST_WAVES = 3
#: Least contrast along the rounds of the plainest quarter of a worked body, as a
#: share of its lightness. Yarn is uneven everywhere; a plate, a coin or a finger
#: is not: on development photos all but one piece have at least 0.06, the least
#: plain plate 0.007.
LEAST_CONTRAST_SHARE = 0.02
#: Radius to which a body is brought to look at its texture, side of the patches
#: that are cut from it, their number and their depth.
PATCH_RADIUS_PX, PATCH_PX, PATCHES, PATCH_DEPTH_SHARE = 128, 48, 12, 0.4
#: Likeness of the texture in patches that are cut upright above which a body is
#: of one cloth (woven, knitted): pieces stay below 0.93, cloth starts at 0.97.
ONE_CLOTH_LIKENESS = 0.95
#: Texture of a body worked in rounds turns with the place: patches that turn
#: along are more alike than upright ones, by 0.1 in the median piece. Less than
#: the first of these is no piece (99 in 100 pieces: above -0.07); the second shows
#: it clearly (9 in 10).
LEAST_TURNING, CLEAR_TURNING = -0.1, 0.02
#: A body whose texture does not turn clearly must show lines of rounds this strong
#: (share of contrast), or it is wound or crumpled: balls of yarn that fill a photo
#: reach 0.04, such pieces have at least 0.09.
LEAST_LINES_SHARE = 0.07


@cache
def _waves() -> np.ndarray:
    """Lines of every harmonic and number along the depth, shape (2, MOST_ROUNDS, rows), complex."""
    phase = (np.arange(1, MOST_ROUNDS + 1) + RING_ROUNDS)[:, None] * BODY_DEPTHS
    waves = np.exp(2j * np.pi * np.stack([phase, 2 * phase])) * _weight()
    waves.flags.writeable = False
    return waves


def _weight() -> np.ndarray:
    """Weight of each row: the ring disturbs the inner ones, shadow and fuzz the outermost."""
    return np.sqrt(np.sin(np.pi * np.clip(BODY_DEPTHS / BODY_DEPTHS[-1], 0, 1)))


def line_profiles(body: np.ndarray) -> np.ndarray:
    """Contrast along the depth in every sector of a strip of the whole body.

    Parameters
    ----------
    body : ndarray of shape (rows, columns), float
        Lightness of a polar strip, at least :data:`SECTORS` columns.

    Returns
    -------
    ndarray of shape (rows, SECTORS), float
        What is left without slow changes, every row brought to the same
        contrast; where the sectors agree lies a line.
    """
    rows, columns = body.shape
    contrast = body - ndimage.gaussian_filter1d(body, rows / 8, axis=0)
    contrast = contrast / (np.sqrt((contrast**2).mean(axis=1, keepdims=True)) + 2)
    use = columns // SECTORS * SECTORS
    return contrast[:, :use].reshape(rows, SECTORS, -1).mean(axis=-1)


def ring_lines(body: np.ndarray) -> np.ndarray:
    """How strongly every number of rounds shows in a strip of the whole body.

    Parameters
    ----------
    body : ndarray of shape (len(BODY_DEPTHS), columns), float
        Lightness of a polar strip, rows at :data:`BODY_DEPTHS`.

    Returns
    -------
    ndarray of shape (MOST_ROUNDS,), float
        Share of the strip's contrast along the depth that 1, 2, ... rounds
        explain, 0 to 1.
    """
    profiles = line_profiles(body) * _weight()[:, None]
    # Lines that climb or wander on the way round the piece are slow waves along it.
    climbs = np.fft.fft(profiles, axis=1, norm="ortho")
    slow = climbs[:, np.abs(np.fft.fftfreq(SECTORS, 1 / SECTORS)) <= MOST_WAVES]
    # Posts, loops and the gap between two rounds make two lines a round as often as one.
    power = (np.abs(_waves() @ slow) ** 2).sum(axis=(0, 2))
    return 2 * power / max(float((profiles**2).sum() * (_weight() ** 2).sum()), 1e-9)


def body_strip(pixels: np.ndarray, piece: Piece, centre: tuple[float, float]) -> np.ndarray:
    """The whole body laid straight.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.
    piece : Piece
        The piece in it.
    centre : tuple of float
        (x, y) of its centre ring, in pixels.

    Returns
    -------
    ndarray of shape (len(BODY_DEPTHS), BODY_COLUMNS, 3), uint8
    """
    return unwrap(pixels, piece, centre, BODY_DEPTHS, BODY_COLUMNS).pixels


def is_worked(
    pixels: np.ndarray, piece: Piece, centre: tuple[float, float], body: np.ndarray, *, clearly: bool = False
) -> bool:
    """Tell whether a round thing was worked in rounds.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.
    piece : Piece
        The round thing.
    centre : tuple of float
        (x, y) of its centre ring, in pixels.
    body : ndarray of shape (len(BODY_DEPTHS), BODY_COLUMNS, 3), uint8
        From :func:`body_strip`.
    clearly : bool, optional
        Ask for a texture that turns with the place, whatever lines there are.

    Returns
    -------
    bool
        False for what is smooth, woven, knitted or wound.
    """
    light = cv2.cvtColor(body, cv2.COLOR_RGB2LAB)[..., 0]
    if contrast_share(light) < LEAST_CONTRAST_SHARE:
        return False
    upright, turned = texture_likeness(pixels, piece, centre)
    turns = turned - upright
    if turns < LEAST_TURNING or (turns < 0 and upright > ONE_CLOTH_LIKENESS):
        return False
    if clearly or turns >= CLEAR_TURNING:
        return turns >= CLEAR_TURNING
    return bool(ring_lines(light.astype(float)).max() >= LEAST_LINES_SHARE)


def contrast_share(light: np.ndarray) -> float:
    """How uneven the plainest quarter of a body is along the rounds, as a share of its lightness.

    Parameters
    ----------
    light : ndarray of shape (len(BODY_DEPTHS), BODY_COLUMNS), uint8
        Lightness of its strip.
    """
    # Along the rounds only: the ridges of a plate run round its middle.
    light = light.astype(np.float32)
    light = np.hstack([light[:, -90:], light, light[:, :90]])
    fine = light - cv2.GaussianBlur(light, (0, 0), sigmaX=12, sigmaY=0.01)
    # Twenty levels of lightness on top keep the noise of near-black yarn small.
    contrast = np.sqrt(cv2.GaussianBlur(fine**2, (0, 0), 20)) / (cv2.GaussianBlur(light, (0, 0), 20) + 20)
    return float(np.percentile(contrast[:, 90:-90], 25))


def texture_likeness(pixels: np.ndarray, piece: Piece, centre: tuple[float, float]) -> tuple[float, float]:
    """How alike the texture is all over a body, in upright patches and in patches that turn with the place.

    Patches are compared by the Bhattacharyya coefficient of their power
    spectra, which does not care where exactly a thread lies in a patch.
    """
    shrink = max(1.0, piece.radius / PATCH_RADIUS_PX)
    small = cv2.resize(pixels, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    light = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)[..., 0].astype(np.float32)
    light -= cv2.GaussianBlur(light, (0, 0), 8)
    back = np.linalg.inv(piece.to_circle)
    ring = piece.to_circle @ (np.asarray(centre) - piece.centre)
    turn = np.arange(PATCHES) / PATCHES * 2 * np.pi
    middles = np.column_stack([np.sin(turn), -np.cos(turn)]) * (1 - PATCH_DEPTH_SHARE) + ring * PATCH_DEPTH_SHARE
    side = (np.arange(PATCH_PX) + 0.5 - PATCH_PX / 2) / PATCH_RADIUS_PX
    square = np.stack(np.meshgrid(side, side), axis=-1)
    window = np.outer(np.hanning(PATCH_PX), np.hanning(PATCH_PX))
    found = []
    for angles in (np.zeros(PATCHES), turn):
        cos, sin = np.cos(angles), np.sin(angles)
        turning = np.stack([np.stack([cos, -sin], axis=-1), np.stack([sin, cos], axis=-1)], axis=-2)
        places = np.einsum("nij,yxj->nyxi", turning, square) + middles[:, None, None]
        places = ((places @ back.T + piece.centre + 0.5) / shrink - 0.5).reshape(-1, PATCH_PX, 2).astype(np.float32)
        patches = cv2.remap(light, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        power = np.abs(np.fft.fft2(patches.reshape(PATCHES, PATCH_PX, PATCH_PX) * window)) ** 2
        power = ndimage.gaussian_filter(power, (0, 1, 1), mode="wrap").reshape(PATCHES, -1)
        root = np.sqrt(power / np.maximum(power.sum(axis=1, keepdims=True), 1e-9))
        alike = root @ root.T
        # Opposite patches are left out: a spectrum does not change in half a turn.
        found.append(np.mean([np.diag(np.roll(alike, -apart, axis=1)).mean() for apart in (2, 3, 4)]))
    return float(found[0]), float(found[1])


def count_rounds(pixels: np.ndarray, stitches: int) -> tuple[int, float]:
    """Count the rounds of a piece.

    Parameters
    ----------
    pixels : ndarray of shape (len(BODY_DEPTHS), columns, 3), uint8
        Strip of the whole body, sRGB, rows at :data:`BODY_DEPTHS`.
    stitches : int
        Stitches on the rim.

    Returns
    -------
    rounds : int
        Most likely number of complete rounds.
    probability : float
        Its probability among all numbers of rounds, 0 to 1.
    """
    light = cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB)[..., 0].astype(float)
    rounds = np.arange(1, MOST_ROUNDS + 1)
    flat = stitches * HEIGHT_IN_WIDTHS / (2 * np.pi)
    chance = ring_lines(light) * np.exp(-0.5 * (np.log(flat / rounds) / HEIGHT_SD_LOG) ** 2)
    chance /= chance.sum()
    best = int(np.argmax(chance))
    return best + 1, float(chance[best])
