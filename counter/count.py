"""The whole count of one photo: every room in turn, top to bottom.

:func:`count_photo` is never told what the round should hold.
"""

from __future__ import annotations

import os
import time

import cv2
import numpy as np

from counter.answer import Count, Doubt, Refusal
from counter.braid import PLACES, Braid, look
from counter.centre import find_worked
from counter.photo import Photo, read_photo
from counter.piece import Piece
from counter.rounds import BODY_DEPTHS, count_rounds, fit
from counter.tally import Evidence, Tally, WidthModel, tally
from counter.unwrap import rim_places, to_picture, unwrap

__all__ = ["count_photo"]

#: Long side in pixels at which a photo is looked at; more shows no more stitches.
WORKING_SIDE = 2400
#: Fewest and most stitches that are looked for.
FEWEST, MOST = 5, 130
#: Factor between neighbouring supposed numbers of stitches.
STEP = 1.09
#: How many of the supposed numbers are counted in full.
COUNTED = 5
#: A supposed number with less than this share of the best one's weight is left out.
NEGLIGIBLE = 0.02
#: Narrowest stitch that can be told apart, in photo pixels.
NARROWEST = 5.0
#: Logarithm of the odds per unit of log repetition.
TRUST_IN_REPETITION = 6.0
#: Octave bands of a picture's rows hold contrast that falls as one over the
#: frequency, stitches or none (D. J. Field, "Relations between the statistics of
#: natural images and the response properties of cortical cells", JOSA A 4(12),
#: 1987). This share of that fall is made up for; all of it would favour plies.
TILT = 0.4
#: Least repetition that a worked rim shows.
LEAST_REPETITION = 0.01
#: Width of stitches: spread of the prior of the mean and jitter of single stitches
#: (both of log width).
SPREAD, JITTER = 0.10, 0.2
#: Depth of a mark below the outline, in stitch widths.
MARK_DEPTH = 0.3
#: Least probability of a sure count.
SURE = 0.97
#: Least probability of the number of rounds for a sure count.
CLEAR_ROUNDS = 0.6
#: Probability that the numbers shown to a person must add up to.
SHOWN = 0.9
#: Columns of the strip that shows the whole body.
BODY_COLUMNS = 720


def count_photo(photo: Photo | str | os.PathLike | bytes, *, left_handed: bool = False) -> Count | Refusal:
    """Count the stitches around the rim of a worked round.

    Parameters
    ----------
    photo : Photo, path or bytes
        The photo, or where it is, or the bytes of its file.
    left_handed : bool, optional
        Number the marks clockwise instead of counter-clockwise.

    Returns
    -------
    Count or Refusal
    """
    began = time.perf_counter()
    if not isinstance(photo, Photo):
        photo = read_photo(photo)
        if isinstance(photo, Refusal):
            return photo
    pixels = photo.pixels
    shrink = max(1.0, max(pixels.shape[:2]) / WORKING_SIDE)
    if shrink > 1:
        pixels = cv2.resize(pixels, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    found = find_worked(pixels)
    if isinstance(found, Refusal):
        return found
    piece, centre = found
    body = unwrap(pixels, piece, centre, BODY_DEPTHS, BODY_COLUMNS).pixels
    looks, weights = _look_at_every_width(pixels, piece, centre, body)
    if not looks or looks[0].repetition < LEAST_REPETITION:
        return Refusal("no stitches")

    tallies = [_tally(look) for look in looks]
    posterior = _mix(tallies, weights)
    stitches = int(np.argmax(posterior))
    chosen = max(
        range(len(looks)), key=lambda i: (tallies[i].stitches == stitches, weights[i])
    )
    if tallies[chosen].stitches != stitches:
        tallies[chosen] = _tally(looks[chosen], only=stitches)
    best, seen = tallies[chosen], looks[chosen]

    width = 2 * np.pi / stitches
    rim = rim_places(piece, len(seen.gap))
    order = slice(None) if left_handed else slice(None, None, -1)
    marks = to_picture(rim, centre, best.marks, np.full(stitches, MARK_DEPTH * width))[order]
    doubts = tuple(
        Doubt(_nearest(marks, at) + 1, tuple(float(v) for v in at * shrink), why)
        for at, why in (
            (to_picture(rim, centre, np.array(place), np.array(MARK_DEPTH * width)), why)
            for place, why in best.doubts
        )
    )
    rounds, rounds_clear = count_rounds(body, stitches)
    probability = float(posterior[stitches])
    # One strong period may be the yarn's plies, the light or two stitches taken
    # together: a count is sure only where every width that was tried says the
    # same and the rounds of the body fit it.
    agreed = all(result.stitches == stitches for result in tallies)
    sure = probability >= SURE and agreed and rounds_clear >= CLEAR_ROUNDS
    ranked = np.argsort(-posterior, kind="stable")
    enough = int(np.searchsorted(np.cumsum(posterior[ranked]), SHOWN)) + 1
    likely = (stitches,) if sure else tuple(int(n) for n in ranked[: max(2, min(enough, 4))])
    return Count(
        posterior={int(n): float(posterior[n]) for n in np.flatnonzero(posterior > 1e-4)},
        sure=sure,
        likely=likely,
        marks=marks * shrink,
        doubts=doubts,
        centre=(centre[0] * shrink, centre[1] * shrink),
        outline=piece.outline * shrink,
        rounds=rounds,
        in_progress=None,
        reason="" if sure else "The stitches along the rim can be read in more than one way.",
        size=(photo.width, photo.height),
        seconds=time.perf_counter() - began,
    )


def _look_at_every_width(
    pixels: np.ndarray, piece: Piece, centre: tuple[float, float], body: np.ndarray
) -> tuple[list[Braid], np.ndarray]:
    """The supposed stitch widths that repeat and fit the rounds best, best first, and their weights."""
    most = min(MOST, 2 * np.pi * piece.radius / NARROWEST)
    supposed = FEWEST * STEP ** np.arange(0, np.log(most / FEWEST) / np.log(STEP))
    looks = [look(pixels, piece, centre, number) for number in supposed]
    repetition = np.array([look.repetition for look in looks])
    score = TRUST_IN_REPETITION * np.log(repetition * supposed**TILT) + fit(body, supposed)
    order = np.argsort(-score)[:COUNTED]
    weights = np.exp(score[order] - score[order[0]])
    order, weights = order[weights >= NEGLIGIBLE], weights[weights >= NEGLIGIBLE]
    return [looks[i] for i in order], weights / weights.sum()


def _tally(seen: Braid, only: int | None = None) -> Tally:
    evidence = Evidence(middle=seen.middle, gap=seen.gap, seen=seen.seen)
    widths = WidthModel(centre=PLACES, spread=SPREAD, jitter=JITTER)
    low = max(3, int(seen.supposed / 1.5)) if only is None else only
    high = int(np.ceil(seen.supposed * 1.5)) if only is None else only
    return tally(evidence, widths, n_min=low, n_max=high)


def _mix(tallies: list[Tally], weights: np.ndarray) -> np.ndarray:
    """Posterior over 0 ... 2 * MOST from those at each supposed width."""
    posterior = np.zeros(2 * MOST + 1)
    for result, weight in zip(tallies, weights, strict=True):
        for number, probability in result.posterior.items():
            posterior[number] += weight * probability
    return posterior / posterior.sum()


def _nearest(marks: np.ndarray, at: np.ndarray) -> int:
    return int(np.argmin(np.linalg.norm(marks - at, axis=1)))
