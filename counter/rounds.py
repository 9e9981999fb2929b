"""How many rounds a piece has, and how well they line up round a centre.

Each round leaves lines along the rounds: the row of posts is lighter than the
row of loops below it. In the polar strip these lines repeat once a round along
the depth; in a spiral they climb by one round in one turn. The strength of
every number of lines is measured for a climb of -1, 0 and 1 a turn, and the
number of stitches on the rim bounds what is physically possible, because a
round is neither much lower nor many times taller than a stitch is wide.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from scipy import ndimage, special

__all__ = ["BODY_DEPTHS", "count_rounds", "fit", "ring_lines"]

#: Depths of the rows of a strip of the whole body, as shares of the way to the centre.
BODY_DEPTHS = np.linspace(0.0, 0.92, 160)
#: Height of a round over the width of a stitch on the rim: the likely value
#: and the spread of its logarithm. Single crochets are about as high as wide,
#: taller stitches up to twice (common practice).
HEIGHT_PER_WIDTH = 1.0
HEIGHT_SPREAD = 0.25
#: Most rounds that are looked for.
MOST_ROUNDS = 40
#: Share of a round that the centre ring takes up.
RING = 0.35
#: Sectors that are averaged on their own before they are compared.
SECTORS = 24
#: Independent readings of the lines' strength in one strip.
READINGS = 100


@cache
def _waves() -> np.ndarray:
    """Lines of every harmonic, climb and number, shape (2, 3, MOST_ROUNDS, rows, SECTORS), complex."""
    lines = np.arange(1, MOST_ROUNDS + 1) + RING
    climb = np.array([-1, 0, 1])[:, None, None, None]
    turn = np.arange(SECTORS) / SECTORS
    phase = lines[:, None, None] * BODY_DEPTHS[:, None] + climb * turn
    waves = np.exp(2j * np.pi * np.stack([phase, 2 * phase])) * _weight()[:, None]
    waves.flags.writeable = False
    return waves


def _weight() -> np.ndarray:
    """Weight of each row: the outer lines are sharper and the ring disturbs the inner ones."""
    return 0.3 + 0.7 * np.cos(np.pi / 2 * BODY_DEPTHS)


def ring_lines(body: np.ndarray) -> np.ndarray:
    """How strongly every number of rounds shows in strips of the whole body.

    Parameters
    ----------
    body : ndarray of shape (..., len(BODY_DEPTHS), columns), float
        Lightness of polar strips, rows at :data:`BODY_DEPTHS`.

    Returns
    -------
    ndarray of shape (..., MOST_ROUNDS), float
        Share of the strip's contrast along the depth that 1, 2, ... rounds
        explain, 0 to 1.
    """
    rows, columns = body.shape[-2:]
    contrast = body - ndimage.gaussian_filter1d(body, rows / 8, axis=-2)
    contrast = contrast / (np.sqrt((contrast**2).mean(axis=-1, keepdims=True)) + 2)
    use = columns // SECTORS * SECTORS
    profiles = contrast[..., :use].reshape(*body.shape[:-1], SECTORS, -1).mean(axis=-1)
    weighted = profiles * _weight()[:, None]
    # Posts, loops and the gap between two rounds make two lines a round as often as one.
    power = (np.abs(np.tensordot(weighted, _waves(), axes=((-2, -1), (3, 4)))) ** 2).sum(axis=-3)
    total = (weighted**2).sum(axis=(-2, -1))[..., None] * (_weight() ** 2).sum() * SECTORS
    return 2 * power.max(axis=-2) / np.maximum(total, 1e-9)


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
    score = _scores(pixels, np.array([stitches]))[0]
    chance = np.exp(score - score.max())
    chance /= chance.sum()
    best = int(np.argmax(chance))
    return best + 1, float(chance[best])


def fit(pixels: np.ndarray, stitches: np.ndarray) -> np.ndarray:
    """How well numbers of stitches on the rim fit the rounds of the body.

    Parameters
    ----------
    pixels : ndarray of shape (len(BODY_DEPTHS), columns, 3), uint8
        As in :func:`count_rounds`.
    stitches : ndarray of shape (S,), float
        Supposed stitches on the rim.

    Returns
    -------
    ndarray of shape (S,), float
        Logarithm of the evidence, in nats, summed over all numbers of rounds.
    """
    return special.logsumexp(_scores(pixels, stitches), axis=1)


def _scores(pixels: np.ndarray, stitches: np.ndarray) -> np.ndarray:
    """Log joint evidence of each number of rounds, shape (S, MOST_ROUNDS)."""
    light = cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB)[..., 0].astype(float)
    explained = np.minimum(ring_lines(light), 0.99)
    flat = stitches * HEIGHT_PER_WIDTH / (2 * np.pi)
    rounds = np.arange(1, MOST_ROUNDS + 1)
    prior = -0.5 * (np.log(flat[:, None] / rounds) / HEIGHT_SPREAD) ** 2
    return prior - READINGS / 2 * np.log1p(-explained)
