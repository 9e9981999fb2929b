"""How many rounds a piece has.

Each round leaves lines along the rounds: the row of posts is lighter than the
row of loops below it. In the polar strip these lines repeat once a round along
the depth; in a spiral they climb by one round in one turn. The strength of
every number of lines is measured for a climb of -1, 0 and 1 a turn, and the
number of stitches on the rim bounds what is physically possible, because a
round is neither much lower nor many times taller than a stitch is wide.
"""

from __future__ import annotations

import cv2
import numpy as np
from scipy import ndimage

from counter.unwrap import Strip

__all__ = ["body_depths", "count_rounds"]

#: Height of a round over the width of a stitch on the rim: the likely value
#: and the spread of its logarithm. Single crochets are about as high as wide,
#: taller stitches up to twice (common practice).
HEIGHT_PER_WIDTH = 1.0
HEIGHT_SPREAD = 0.22
#: Sectors that are averaged on their own before they are compared.
SECTORS = 24
#: Depth that the rounds of the body cover, as shares of the way to the centre.
FROM, TO = 0.0, 0.9


def body_depths(rows: int = 240) -> np.ndarray:
    """Depths of the strip that :func:`count_rounds` wants, shape (rows,)."""
    return np.linspace(FROM, TO, rows)


def count_rounds(strip: Strip, stitches: int) -> tuple[int, float]:
    """Count the rounds of a piece.

    Parameters
    ----------
    strip : Strip
        The whole body, rows at :func:`body_depths`.
    stitches : int
        Stitches on the rim.

    Returns
    -------
    rounds : int
        Most likely number of complete rounds.
    probability : float
        Its probability among all numbers of rounds, 0 to 1.
    """
    light = cv2.cvtColor(strip.pixels, cv2.COLOR_RGB2LAB)[..., 0].astype(np.float32)
    rows, columns = light.shape
    level = cv2.GaussianBlur(light, (0, 0), rows / 8)
    contrast = light - level
    contrast /= np.sqrt(cv2.GaussianBlur(contrast**2, (0, 0), rows / 8)) + 2
    profiles = contrast[:, : columns // SECTORS * SECTORS].reshape(rows, SECTORS, -1).mean(axis=2)
    profiles = profiles - ndimage.gaussian_filter1d(profiles, rows / 6, axis=0)

    candidates = np.arange(1, 41)
    flat = stitches * HEIGHT_PER_WIDTH / (2 * np.pi)
    prior = -0.5 * (np.log(flat / candidates) / HEIGHT_SPREAD) ** 2
    # The outermost lines are the sharpest and the least disturbed by the ring.
    weight = np.hanning(2 * rows)[rows:, None] + 0.3
    angle = np.arange(SECTORS) / SECTORS
    # The ring itself takes up about a third of a round.
    lines = candidates + 0.35
    power = np.empty((3, len(candidates)))
    for row, climb in enumerate((-1, 0, 1)):
        waves = np.exp(2j * np.pi * (lines[:, None, None] * strip.depths[:, None] + climb * angle))
        power[row] = np.abs((waves * (profiles * weight)).sum(axis=(1, 2))) ** 2
    noise = (np.abs(profiles * weight) ** 2).sum()
    evidence = np.log1p(power.max(axis=0) / noise) * 3
    score = prior + evidence
    chance = np.exp(score - score.max())
    chance /= chance.sum()
    best = int(np.argmax(chance))
    return int(candidates[best]), float(chance[best])
