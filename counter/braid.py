"""Evidence of a stitch at each place along the rim.

Whatever a yarn looks like, each stitch repeats the same picture: a post with a
dark gap on either side of it, a section of the braid above. So the band below
the rim is looked at for what repeats once a stitch: every row of it is band
passed round the loop at a supposed stitch width, and the rows are added with
the weights and phases that agree best (the leading eigenvector of their
covariance). The phase of the sum runs through one turn a stitch; it is
anchored by the darkness of the gaps between posts.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy import ndimage, special

from counter.piece import Piece
from counter.unwrap import unwrap

__all__ = ["PLACES", "Braid", "look"]

#: Places along the rim for each supposed stitch.
PLACES = 12
#: Columns and rows of the band that is looked at, whatever the supposed width:
#: its contrast is then the same whole of which a repetition explains a share.
COLUMNS, ROWS = 1536, 20
#: The band reaches from outside the rim to below the braid, in stitch widths.
#: Further in lies the round before the last, which holds fewer stitches.
ABOVE, BELOW = -0.3, 0.65
#: Rows between posts, in stitch widths below the rim: where the gaps are dark.
POSTS = (0.3, 0.65)
#: Standard deviation of the band pass, in octaves.
OCTAVES = 0.25
#: Contrast that varies less often round the rim is light and tilt, not stitches.
SLOWEST = 3
#: Stitches over which the usual strength of the repetition is taken.
NEARBY = 6
#: Largest concentration of the phase, see :func:`_likelihood`.
SHARPEST = 3.0


@dataclass(frozen=True, eq=False)
class Braid:
    """What is seen along the rim at one supposed stitch width.

    Parameters
    ----------
    middle, gap : ndarray of shape (M,), float
        Log-likelihood ratio, in nats, that the place is the middle of a stitch,
        or the gap between two, against any other place.
    seen : ndarray of shape (M,), float
        0 where the rim is hidden, 1 where it is in full view.
    supposed : float
        Stitches on the rim that were supposed, M / PLACES.
    repetition : float
        Share of the band's contrast that repeats once a stitch in all rows
        together, 0 to 1.
    """

    middle: np.ndarray
    gap: np.ndarray
    seen: np.ndarray
    supposed: float
    repetition: float

    def __post_init__(self) -> None:
        for array in (self.middle, self.gap, self.seen):
            array.flags.writeable = False


def look(pixels: np.ndarray, piece: Piece, centre: tuple[float, float], supposed: float) -> Braid:
    """Look at the rim for stitches of one supposed width.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Upright sRGB photo.
    piece : Piece
        The piece in it.
    centre : tuple of float
        (x, y) of the centre ring, in pixels.
    supposed : float
        Supposed number of stitches on the rim; fractions are allowed.

    Returns
    -------
    Braid
    """
    width = 2 * np.pi / supposed
    depths = np.linspace(ABOVE * width, min(BELOW * width, 0.9), ROWS)
    strip = unwrap(pixels, piece, centre, depths, COLUMNS)
    light = cv2.cvtColor(strip.pixels, cv2.COLOR_RGB2LAB)[..., 0].astype(float)
    spectrum = np.fft.rfft(light, axis=1) / COLUMNS
    total = 2 * float((np.abs(spectrum[:, SLOWEST : COLUMNS // 2]) ** 2).sum())

    columns = round(PLACES * supposed)
    waves = _band_pass(spectrum, supposed, columns)
    values, vectors = np.linalg.eigh(waves @ waves.conj().T / columns)
    combined = vectors[:, -1].conj() @ waves
    # An analytic signal has twice the power of the wave it stands for.
    repetition = float(values[-1] / 2 / max(total, 1e-9))

    between = (depths / width > POSTS[0]) & (depths / width < POSTS[1])
    gaps = -waves[between].mean(axis=0)
    combined = combined * np.exp(-1j * np.angle(np.vdot(gaps, combined)))
    return Braid(*_likelihood(combined), np.ones(columns), columns / PLACES, repetition)


def _band_pass(spectrum: np.ndarray, cycles: float, columns: int) -> np.ndarray:
    """Analytic signal round the loop near a number of cycles, shape (rows, columns), complex.

    `spectrum` has shape (rows, K) and holds the coefficients of 0, 1, ... cycles.
    """
    frequency = np.arange(1, min(spectrum.shape[1], columns // 2))
    passed = np.zeros((len(spectrum), columns), complex)
    passed[:, frequency] = spectrum[:, frequency] * 2 * np.exp(-0.5 * (np.log2(frequency / cycles) / OCTAVES) ** 2)
    return np.fft.ifft(passed, axis=1) * columns


def _likelihood(wave: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Log-likelihood ratios of middle and gap from a wave that peaks at the gaps.

    The phase at a gap is taken to follow a von Mises law round zero, and a
    uniform one elsewhere; it is the more concentrated the stronger the wave is
    against its usual strength (K. V. Mardia, "Statistics of Directional Data",
    1972: density exp(k cos x) / (2 pi I0(k))).
    """
    strength = np.abs(wave)
    usual = np.sqrt(ndimage.uniform_filter1d(strength**2, NEARBY * PLACES, mode="wrap")) + 1e-9
    sharpness = SHARPEST * np.tanh(strength / usual)
    phase = np.angle(wave)
    normal = np.log(special.i0(sharpness))
    return -sharpness * np.cos(phase) - normal, sharpness * np.cos(phase) - normal
