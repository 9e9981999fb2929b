"""The place where the round starts and ends.

There the even run of stitches is broken: the working loop or the fastened end
takes room that no stitch fills, and the last stitch may be narrow where the
first is wide. The numbers are weighed along paths from the first stitch to the
last with every join that what is seen allows; the places of the stitches are
those of the closed loop once the room of the most probable join is taken out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from scipy import ndimage

from counter.counting.loop.doubts import PlaceInDoubt
from counter.counting.loop.evidence import Evidence, WidthModel, weighted
from counter.counting.loop.tally import tally
from counter.counting.path import Join, PathOdds, path_odds

__all__ = ["RoundTally", "joins_of", "tally_round"]

#: Most room between the last stitch and the first, in stitch widths: a slip stitch and a chain (common practice).
MOST_ROOM_WIDTHS = 1.75
#: What each place of room speaks against a join, in nats, the same in every photo: nothing is seen of room by itself.
#: Of -0.6 to -0.1 the one with which right counts stand best above wrong ones on two looks (area under the
#: risk-coverage curve); ``python tests/benchmarks/fitted.py FOLDER`` tries them again.
ROOM_NATS = -0.3
#: How far the middle of the join may lie from where it is seen, and how far apart the places
#: are that are tried, in stitch widths (guessed).
AROUND_WIDTHS, APART_WIDTHS = 0.75, 0.25
#: Standard deviation of the smoothing of the chance of a seam, in stitch widths (guessed).
SEAM_SMOOTH_WIDTHS = 0.4
#: Chance of a seam that any place has, whatever is seen (guessed).
ANYWHERE_CHANCE = 1e-4
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


def joins_of(gap: np.ndarray, seam: np.ndarray, centre: float, *, room_nats: float = ROOM_NATS) -> tuple[Join, ...]:
    """Joins that what is seen allows.

    Parameters
    ----------
    gap : ndarray of shape (M,), float
        Log-likelihood ratio of a gap.
    seam : ndarray of shape (M,), float
        Chance that the round ends there, 0 to 1.
    centre : float
        Supposed width of a stitch, in places.
    room_nats : float, optional
        What each place of room speaks against a join.

    Returns
    -------
    tuple of Join
    """
    places = len(gap)
    smooth = ndimage.gaussian_filter1d(seam, SEAM_SMOOTH_WIDTHS * centre, mode="wrap")
    at = int(np.argmax(smooth))
    step = max(1, round(APART_WIDTHS * centre))
    reach = round(AROUND_WIDTHS * centre)
    found = []
    for half in range(0, round(MOST_ROOM_WIDTHS * centre) // 2 + 1, max(1, step // 2)):
        if 2 * half >= places - centre:
            break
        for off in range(-reach, reach + 1, step):
            there = np.arange(at + off - half, at + off + half + 1) % places
            seen = np.log(smooth[(at + off) % places] + ANYWHERE_CHANCE) + gap[there].max()
            found.append(Join((at + off + half) % places, 2 * half, float(seen + room_nats * 2 * half)))
    return tuple(found)


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
    middle, gap = (weighted(ratio, evidence.seen) for ratio in (evidence.middle, evidence.gap))
    found = path_odds(middle, gap, joins_of(gap, seam, widths.centre), widths, n_min, n_max)
    posterior = found.posterior
    stitches = max(posterior, key=lambda n: (posterior[n], -n))
    join = found.join_of(stitches)
    # The loop without the room of the join, laid so that the first stitch begins it.
    here = (join.first + np.arange(places - join.room)) % places
    loop = Evidence(evidence.middle[here], evidence.gap[here], evidence.seen[here])
    result = tally(loop, widths, n_min=stitches, n_max=stitches)

    def back(place: np.ndarray | float) -> np.ndarray:
        low = np.floor(np.asarray(place, float)).astype(int)
        return (here[low % len(here)] + np.asarray(place, float) - low) % places

    at = float((join.first - join.room / 2) % places)
    doubts = [PlaceInDoubt(float(back(place)), kind) for place, kind in result.doubts]
    return RoundTally(
        posterior=MappingProxyType(posterior),
        marks=np.sort(back(result.marks)),
        doubts=tuple(_seam_first(doubts, at, found, stitches)),
        seam=at,
    )


def _seam_first(doubts: list[PlaceInDoubt], at: float, found: PathOdds, stitches: int) -> list[PlaceInDoubt]:
    """The seam leads the doubts where what is supposed of its room changes the number."""
    best = found.numbers[np.argmax(found.chance, axis=0)]
    if found.chance.sum(axis=0)[best != stitches].sum() < DOUBT_PROBABILITY:
        return doubts
    return [PlaceInDoubt(at, "seam"), *doubts]
