"""The place where the round starts and ends.

There the even run of stitches is broken: the working loop or the fastened end
takes room that no stitch fills, or the last stitch lies over the first. The
loop is counted with that place stretched or tightened by each of a few amounts,
and the counts are mixed by how well each explains what is seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from scipy import ndimage

from counter.counting.loop.doubts import PlaceInDoubt
from counter.counting.loop.evidence import Evidence, WidthModel
from counter.counting.loop.tally import Odds, odds, tally

__all__ = ["RoundTally", "odds_by_room", "tally_round"]

#: Room between the last stitch and the first beyond that between two others, in
#: stitch widths, and the chance of each. Loops and fastened ends take up to one
#: stitch, and a last stitch that leans over the first takes some off (common
#: practice). The chances are near those that make the true number most probable on 267
#: photos that training did not see, with more for the extremes (guessed);
#: ``python tests/benchmarks/fitted.py FOLDER`` fits them again.
ROOM_WIDTHS = (-0.25, 0.0, 0.25, 0.5, 0.75, 1.0)
ROOM_CHANCES = (0.06, 0.5, 0.19, 0.15, 0.07, 0.03)
#: Standard deviation of the smoothing of the chance of a seam, in stitch widths (guessed).
SEAM_SMOOTH_WIDTHS = 0.4
#: The seam is in doubt where another number than the best one is this likely, before
#: the temperature that makes a tenth of it (guessed).
DOUBT_PROBABILITY = 0.01


@dataclass(frozen=True, eq=False)
class RoundTally:
    """How many stitches stand on the round, and where.

    Parameters
    ----------
    posterior : mapping of int to float
        Probability of each number considered; adds up to 1.
    marks : ndarray of shape (stitches,), float
        Place of the middle of each stitch, [0, M), ascending.
    doubts : tuple of PlaceInDoubt
        Most doubtful first.
    seam : float
        Place where the round starts and ends.
    """

    posterior: Mapping[int, float]
    marks: np.ndarray
    doubts: tuple[PlaceInDoubt, ...]
    seam: float

    @property
    def stitches(self) -> int:
        """The most probable number of stitches (the lowest of equals)."""
        return max(self.posterior, key=lambda n: (self.posterior[n], -n))


def tally_round(evidence: Evidence, seam: np.ndarray, widths: WidthModel, n_min: int, n_max: int) -> RoundTally:
    """Count the stitches of a round whose start and end break the even run.

    Parameters
    ----------
    evidence : Evidence
        What is seen at each of M places.
    seam : ndarray of shape (M,), float
        Chance that the round starts and ends there, 0 to 1.
    widths : WidthModel
    n_min, n_max : int
        Fewest and most stitches to consider.

    Returns
    -------
    RoundTally
    """
    places = len(evidence.gap)
    at, loops = _loops(evidence, seam, widths)
    found = [odds(loop, widths, n_min=n_min, n_max=n_max) for loop, _ in loops]
    support = np.array([result.log_evidence for result in found]) + np.log(ROOM_CHANCES)
    weights = np.exp(support - support.max())
    weights /= weights.sum()
    posterior: dict[int, float] = {}
    for weight, result in zip(weights, found, strict=True):
        for number, chance in result.posterior.items():
            posterior[number] = posterior.get(number, 0.0) + float(weight * chance)
    stitches = max(posterior, key=lambda n: (posterior[n], -n))
    best = max(range(len(ROOM_WIDTHS)), key=lambda i: weights[i] * found[i].posterior.get(stitches, 0.0))
    loop, origin = loops[best]
    low, high = (n_min, n_max) if found[best].stitches == stitches else (stitches, stitches)
    result = tally(loop, widths, n_min=low, n_max=high)

    def back(place: np.ndarray | float) -> np.ndarray:
        return np.interp(np.asarray(place, float), np.arange(len(origin)), origin) % places

    marks = np.sort(back(result.marks))
    doubts = [PlaceInDoubt(float(back(place)), kind) for place, kind in result.doubts]
    return RoundTally(
        posterior=MappingProxyType(dict(sorted(posterior.items()))),
        marks=marks,
        doubts=tuple(_seam_first(doubts, float(at), found, weights, stitches)),
        seam=float(at),
    )


def odds_by_room(evidence: Evidence, seam: np.ndarray, widths: WidthModel, n_min: int, n_max: int) -> list[Odds]:
    """How probable each number of stitches is with each of :data:`ROOM_WIDTHS` at the seam.

    Parameters
    ----------
    evidence, seam, widths, n_min, n_max
        As for :func:`tally_round`.

    Returns
    -------
    list of Odds
    """
    return [odds(loop, widths, n_min=n_min, n_max=n_max) for loop, _ in _loops(evidence, seam, widths)[1]]


def _loops(evidence: Evidence, seam: np.ndarray, widths: WidthModel) -> tuple[int, list[tuple[Evidence, np.ndarray]]]:
    """Where the seam is, and the loop with each of :data:`ROOM_WIDTHS` there, each with where its places were."""
    places = len(evidence.gap)
    at = int(np.argmax(ndimage.gaussian_filter1d(seam, SEAM_SMOOTH_WIDTHS * widths.centre, mode="wrap")))
    # The loop is laid so that the seam lies in its middle.
    shift = at - places // 2
    turned = [np.roll(values, -shift) for values in (evidence.middle, evidence.gap, evidence.seen)]
    here = np.arange(places, dtype=float) + shift
    given = [_with_room(turned, here, round(room * widths.centre)) for room in ROOM_WIDTHS]
    return at, [(Evidence(*values), origin) for values, origin in given]


def _with_room(values: list[np.ndarray], here: np.ndarray, room: int) -> tuple[list[np.ndarray], np.ndarray]:
    """The loop with the room at its middle taken out, or what lies over each other there drawn apart."""
    middle = len(here) // 2
    if room > 0:
        taken = slice(middle - room // 2, middle - room // 2 + room)
        return [np.delete(array, taken) for array in values], np.delete(here, taken)
    if room < 0:
        return (
            [np.insert(array, middle, np.zeros(-room)) for array in values],
            np.insert(here, middle, np.full(-room, here[middle])),
        )
    return values, here


def _seam_first(
    doubts: list[PlaceInDoubt], at: float, found: list[Odds], weights: np.ndarray, stitches: int
) -> list[PlaceInDoubt]:
    """The seam leads the doubts where what is supposed of its room changes the number."""
    other = sum(weight for weight, result in zip(weights, found, strict=True) if result.stitches != stitches)
    if other < DOUBT_PROBABILITY:
        return doubts
    return [PlaceInDoubt(at, "seam"), *doubts]
