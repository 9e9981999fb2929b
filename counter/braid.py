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
#: Rows of the band.
ROWS = 20
#: The band reaches from outside the rim to below the posts, in stitch widths.
ABOVE, BELOW = -0.3, 1.05
#: Rows between posts, in stitch widths below the rim: where the gaps are dark.
POSTS = (0.3, 0.9)
#: Standard deviation of the band pass, in octaves.
OCTAVES = 0.30
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
    columns = round(PLACES * supposed)
    width = 2 * np.pi / supposed
    depths = np.linspace(ABOVE * width, min(BELOW * width, 0.9), ROWS)
    strip = unwrap(pixels, piece, centre, depths, columns)
    lab = cv2.cvtColor(strip.pixels, cv2.COLOR_RGB2LAB).astype(np.float32)
    light = ndimage.gaussian_filter(lab[..., 0], (0.7, 0.7), mode=("nearest", "wrap"))
    level = ndimage.uniform_filter(light, (1, 2 * PLACES), mode=("nearest", "wrap"))
    contrast = light - level
    local = np.sqrt(ndimage.uniform_filter((contrast**2).mean(axis=0), 3 * PLACES, mode="wrap"))
    contrast = contrast / (local + 2.0)

    waves = _band_pass(contrast, supposed)
    covariance = waves @ waves.conj().T / columns
    values, vectors = np.linalg.eigh(covariance)
    combined = vectors[:, -1].conj() @ waves
    total = float((contrast**2).sum() / columns)
    # An analytic signal has twice the power of the wave it stands for.
    repetition = float(values[-1] / 2 / max(total, 1e-9))

    between = (depths / width > POSTS[0]) & (depths / width < POSTS[1])
    gaps = _band_pass(-contrast[between].mean(axis=0), supposed)
    combined = combined * np.exp(-1j * np.angle(np.vdot(gaps, combined)))
    return Braid(*_likelihood(combined), np.ones(columns), columns / PLACES, repetition)


def _band_pass(signal: np.ndarray, cycles: float) -> np.ndarray:
    """Analytic signal round the loop near a number of cycles, shape as `signal`, complex."""
    columns = signal.shape[-1]
    frequency = np.fft.fftfreq(columns, 1 / columns)
    octave = np.full(columns, np.inf)
    octave[frequency > 0] = np.log2(frequency[frequency > 0] / cycles)
    return np.fft.ifft(np.fft.fft(signal) * 2 * np.exp(-0.5 * (octave / OCTAVES) ** 2))


def _likelihood(wave: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Log-likelihood ratios of middle and gap from a wave that peaks at the gaps.

    The phase at a gap is taken to follow a von Mises law round zero, and a
    uniform one elsewhere; it is the more concentrated the stronger the wave is
    against its usual strength (K. V. Mardia, "Statistics of Directional Data",
    1972: density exp(k cos x) / (2 pi I0(k))).
    """
    strength = np.abs(wave)
    usual = np.sqrt(np.mean(strength**2)) + 1e-9
    sharpness = SHARPEST * np.tanh(strength / usual)
    phase = np.angle(wave)
    normal = np.log(special.i0(sharpness))
    return -sharpness * np.cos(phase) - normal, sharpness * np.cos(phase) - normal
