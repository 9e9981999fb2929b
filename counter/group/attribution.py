"""Whose doing it is that rounds are off: a maker's, or the pattern's.

If the pattern is right, makers slip independently of each other, so that hardly
ever many of them are off by the same amount in the same round. For every round
it is asked how likely so many would be, given how sure each photo is and how
often each maker is off elsewhere; over all rounds the share of false findings is
held at 5% (Y. Benjamini and Y. Hochberg, "Controlling the false discovery rate",
J. R. Stat. Soc. B 57, 1995; SciPy's `false_discovery_control`).

How strongly a round speaks against the pattern is the sum, over its makers, of
the logarithm of how much likelier their photos are if a good part of the makers
came out off by that amount (a likelihood ratio; J. Neyman and E. S. Pearson,
1933). A photo that is not sure is about as likely either way and weighs little.
How large that sum becomes by chance is worked out exactly, from each photo's
spread about its own number and from the maker's slips.

A round that was off stays off until it is taken up, and a photo of the round
after shows it again. So only what is new in a round counts. Whether makers went
on with what was off or took it up isn't known: a round is held against the
pattern only if it is unlikely both ways, and half and half.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.stats import false_discovery_control

__all__ = ["FALSE_DISCOVERY_RATE", "MakerOff", "ObservedRound", "PatternOff", "Verdicts", "attribute_deviations"]

#: Share of false findings that is allowed among all rounds that are found.
FALSE_DISCOVERY_RATE = 0.05
#: Most stitches that a round can be off to be looked at.
MOST_OFF_STITCHES = 12
#: How a maker is off where the pattern is right: chance of any slip in a round before anything is known of the
#: maker, and how the slips spread over 1, 2, 3 stitches and more, fewer and more alike (supposed, as in
#: `which.py`: an increase left out or made twice is what usually happens).
SLIP_PROBABILITY, SLIP_SIZE_SHARES = 0.1, (0.7, 0.2, 0.07, 0.03)
#: So many rounds is that supposed chance worth, against those in which the maker was seen.
PRIOR_WEIGHT_ROUNDS = 4.0
#: Where a round is held against the pattern makers are supposed to slip so many times as often as is known of them,
#: at most this often: slips fall more often one way, and hard rounds trip more makers than easy ones (supposed).
SLIP_EXCESS_FACTOR, MOST_SLIP_PROBABILITY = 1.5, 0.6
#: Share of a photo's probability that is spread over all numbers near: a count may be wrong about all it names.
MISREAD_SHARE = 0.02
#: Share of the makers that an error of the pattern puts off, and how likely a round has one by each amount: one
#: stitch is the usual slip of the pen, a whole repeat happens (supposed).
FOLLOWERS_SHARE = 0.75
PATTERN_ERROR_PROBABILITY = 0.01
PATTERN_ERROR_SIZE_SHARES = (0.5, 0.2, 0.08)
#: Steps of a likelihood ratio's logarithm in which the sums are worked out.
LOG_RATIO_STEP_NATS = 1 / 16
#: How likely makers go on with what is off: never, half of the time, always.
CARRY_PROBABILITIES = (0.0, 0.5, 1.0)
#: Fewest makers of a round that is held against the pattern. Of them so many at least, and such a share, must be off
#: alike, by the sum of their photos' probabilities: two of three, three of eight. One is a slip, however rare its size.
FEWEST_MAKERS, LEAST_ALIKE, LEAST_ALIKE_SHARE = 3, 1.5, 0.3
#: A maker is named where the round is this likely off by the maker's own doing.
LEAST_NAMED_PROBABILITY = 0.5

AMOUNTS = np.arange(-MOST_OFF_STITCHES, MOST_OFF_STITCHES + 1)


@dataclass(frozen=True)
class ObservedRound:
    """A round of a maker as its photo shows it.

    Parameters
    ----------
    maker : str
    round : int
    expected : int
        Its total by the pattern.
    posterior : mapping of int to float
        Probability of every number of stitches.
    """

    maker: str
    round: int
    expected: int
    posterior: Mapping[int, float]


@dataclass(frozen=True)
class PatternOff:
    """A round in which many makers are off alike.

    Parameters
    ----------
    round : int
    off : int
        Stitches that they have more than the pattern says; negative where fewer.
    alike : float
        How many makers are off by that: the sum of their photos' probabilities.
    makers : int
        Of how many.
    p : float
        How likely so many would be so if the pattern were right.
    adjusted : float
        The same, adjusted for all rounds that were looked at; at most :data:`FALSE_DISCOVERY_RATE`.
    """

    round: int
    off: int
    alike: float
    makers: int
    p: float
    adjusted: float


@dataclass(frozen=True)
class MakerOff:
    """A round that is off by its maker's own doing.

    Parameters
    ----------
    maker : str
    round : int
    off : int
        What was new in this round, stitches more than expected; negative where fewer.
    probability : float
        That it is off by anything new, 0 to 1.
    """

    maker: str
    round: int
    off: int
    probability: float


@dataclass(frozen=True)
class Verdicts:
    """Whose doing it is.

    Parameters
    ----------
    pattern : tuple of PatternOff
        By round.
    makers : tuple of MakerOff
        By maker, in the order in which they were first seen, then by round.
    looked : mapping of int to float
        Round -> its p-value, for every round that :data:`FEWEST_MAKERS` makers or more show.
    hidden : tuple of int
        Those of them in which an error of the pattern would stay unseen, even if :data:`FOLLOWERS_SHARE` of the
        makers were one stitch off alike: their photos are too few or not sure enough.
    """

    pattern: tuple[PatternOff, ...]
    makers: tuple[MakerOff, ...]
    looked: Mapping[int, float]
    hidden: tuple[int, ...] = ()


def attribute_deviations(seen: Sequence[ObservedRound]) -> Verdicts:
    """Say which rounds the pattern has wrong and which are single makers' slips.

    Parameters
    ----------
    seen : sequence of Seen
        At most one of each maker and round.

    Returns
    -------
    Verdicts

    Raises
    ------
    ValueError
        If a maker has a round twice, or a photo has no probabilities.
    """
    if len({(own.maker, own.round) for own in seen}) < len(seen):
        raise ValueError("a maker has a round twice")
    photos = {(own.maker, own.round): _Read.of(own) for own in seen}
    first = _followed(photos, dict.fromkeys(photos, SLIP_PROBABILITY))
    done = _followed(photos, _rates(first.slips))
    # The least p-value of all is found where it is at most so much.
    least = FALSE_DISCOVERY_RATE / max(1, len(done.rounds))
    tested = {number: _against_pattern(*own, least) for number, own in done.rounds.items()}
    looked = {number: p for number, (p, *_) in tested.items()}
    hidden = tuple(number for number, (*_, could) in tested.items() if not could)
    adjusted = false_discovery_control(list(looked.values())) if looked else ()
    pattern = []
    for (number, (p, by, _)), all_in_all in zip(tested.items(), adjusted, strict=True):
        if all_in_all <= FALSE_DISCOVERY_RATE:
            alike = done.rounds[number][0].chances[:, MOST_OFF_STITCHES + by]
            pattern.append(PatternOff(number, by, float(alike.sum()), len(alike), p, float(all_in_all)))
    makers = []
    for maker in dict.fromkeys(own.maker for own in seen):
        for number in sorted(own.round for own in seen if own.maker == maker):
            chances = done.slips[maker, number]
            if 1 - chances[MOST_OFF_STITCHES] >= LEAST_NAMED_PROBABILITY:
                others = np.where(AMOUNTS == 0, 0.0, chances)
                makers.append(
                    MakerOff(maker, number, int(AMOUNTS[np.argmax(others)]), float(1 - chances[MOST_OFF_STITCHES]))
                )
    return Verdicts(tuple(pattern), tuple(makers), looked, hidden)


@dataclass(frozen=True)
class _Read:
    """What a photo says of how far a round is off.

    `chances` are those of each amount of :data:`AMOUNTS`; `about` has, for each
    number (row) that the photo might have named first, the chances of the truth.
    """

    chances: np.ndarray
    about: np.ndarray

    @classmethod
    def of(cls, own: ObservedRound) -> _Read:
        chances = np.zeros(len(AMOUNTS))
        for stitches, chance in own.posterior.items():
            chances[MOST_OFF_STITCHES + min(max(stitches - own.expected, -MOST_OFF_STITCHES), MOST_OFF_STITCHES)] += (
                chance
            )
        if not chances.sum() > 0:
            raise ValueError(f"round {own.round} of {own.maker} has no probabilities")
        near = 0.5 ** np.abs(AMOUNTS - AMOUNTS[np.argmax(chances)])
        chances = (1 - MISREAD_SHARE) * chances / chances.sum() + MISREAD_SHARE * near / near.sum()
        mode = int(np.argmax(chances))
        steps = np.zeros(4 * MOST_OFF_STITCHES + 1)  # of the truth from the photo's own number
        steps[2 * MOST_OFF_STITCHES - mode : 4 * MOST_OFF_STITCHES + 1 - mode] = chances
        places = np.arange(len(AMOUNTS))
        return cls(chances, steps[places[None, :] - places[:, None] + 2 * MOST_OFF_STITCHES])


@dataclass(frozen=True)
class _Round:
    """The photos of one round: `chances` (makers, amounts) and `about` (makers, amounts, amounts) as of :class:`_Read`.

    `places` are the indices of the photos' own numbers among :data:`AMOUNTS`.
    """

    chances: np.ndarray
    about: np.ndarray
    places: np.ndarray

    @classmethod
    def of(cls, read: Sequence[_Read]) -> _Round:
        chances = np.array([own.chances for own in read])
        return cls(chances, np.array([own.about for own in read]), chances.argmax(axis=1))

    def __len__(self) -> int:
        return len(self.chances)

    def named_by(self, expected: np.ndarray) -> np.ndarray:
        """Chances of every number that photos might name first, where the truth is spread so (..., makers, amounts)."""
        chances = (self.about @ expected[..., None])[..., 0]
        return chances / chances.sum(axis=-1, keepdims=True)


@dataclass(frozen=True)
class _Followed:
    """All makers followed from round to round.

    `rounds` has those that enough makers show: their photos, and the chances
    of what these might name if the pattern is right (ways of carrying on,
    makers, numbers). `slips` says what each maker slipped, by photo.
    """

    rounds: dict[int, tuple[_Round, np.ndarray]]
    slips: dict[tuple[str, int], np.ndarray]


def _followed(photos: Mapping[tuple[str, int], _Read], rates: Mapping[tuple[str, int], float]) -> _Followed:
    """Go through the rounds from the first to the last; how far each maker is off is carried along.

    `rates` says for each photo how often its maker slips.
    """
    by_round: dict[int, list[str]] = defaultdict(list)
    for maker, number in photos:
        by_round[number].append(maker)
    stands: dict[str, np.ndarray] = {}
    rounds: dict[int, tuple[_Round, np.ndarray]] = {}
    slips: dict[tuple[str, int], np.ndarray] = {}
    nothing = (AMOUNTS == 0).astype(float)
    carry = np.array(CARRY_PROBABILITIES)[:, None, None]
    for number in sorted(by_round):
        makers = by_round[number]
        shown = _Round.of([photos[maker, number] for maker in makers])
        before = np.array([stands.get(maker, nothing) for maker in makers])
        rate = np.array([rates[maker, number] for maker in makers])
        # Held against the pattern only where it is unlikely for makers who slip more often than is known.
        often = _slips(np.minimum(MOST_SLIP_PROBABILITY, SLIP_EXCESS_FACTOR * rate))
        named = shown.named_by(_added(often, carry * before + (1 - carry) * nothing))
        by_pattern = nothing
        if len(makers) >= FEWEST_MAKERS:
            rounds[number] = shown, named
            by_pattern = _pattern_chances(shown, named[1])
        follows = FOLLOWERS_SHARE * np.where(AMOUNTS == 0, 0.0, by_pattern)
        follows[MOST_OFF_STITCHES] = 1 - follows.sum()
        without, slip = _added(follows, 0.5 * before + 0.5 * nothing), _slips(rate)
        now = _weighed(shown.chances, _added(slip, without))
        # What is seen less what was there without a slip.
        new = _weighed((_shifted(shown.chances, AMOUNTS[:, None] + AMOUNTS) @ without[:, :, None])[:, :, 0], slip)
        for k, maker in enumerate(makers):
            stands[maker], slips[maker, number] = now[k], new[k]
    return _Followed(rounds, slips)


def _slips(rates: np.ndarray) -> np.ndarray:
    """Chances of every number of stitches off by makers' own slips, (makers, amounts), by how often they slip."""
    shares = rates[:, None] * _spread(SLIP_SIZE_SHARES)
    shares[:, MOST_OFF_STITCHES] = 1 - rates
    return shares


@cache
def _pattern_sizes() -> np.ndarray:
    """How an error of the pattern spreads over the amounts."""
    return _spread((*PATTERN_ERROR_SIZE_SHARES, 1 - sum(PATTERN_ERROR_SIZE_SHARES)))


@cache
def _spread(shares: tuple[float, ...]) -> np.ndarray:
    """Chance of every amount, where 1, 2 and so on have these shares; the last is that of all from there on."""
    spread = np.zeros(MOST_OFF_STITCHES)
    spread[: len(shares) - 1] = shares[:-1]
    spread[len(shares) - 1 :] = shares[-1] / (MOST_OFF_STITCHES - len(shares) + 1)
    both_ways = np.concatenate((spread[::-1], [0.0], spread)) / 2
    both_ways.flags.writeable = False
    return both_ways


#: How many amounts one of :data:`AMOUNTS` (row) is more than another (column).
_APART = AMOUNTS[:, None] - AMOUNTS


def _shifted(chances: np.ndarray, by: np.ndarray) -> np.ndarray:
    """Chances (..., amounts) of the amounts `by`, in its shape; none beyond those that are looked at."""
    inside = np.abs(by) <= MOST_OFF_STITCHES
    return np.where(inside, chances[..., np.where(inside, by, 0) + MOST_OFF_STITCHES], 0.0)


def _added(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Chances of the sum of two amounts, as far as it is looked at; (..., amounts) each."""
    both = (_shifted(one, _APART) @ other[..., None])[..., 0]
    return both / both.sum(axis=-1, keepdims=True)


def _weighed(chances: np.ndarray, supposed: np.ndarray) -> np.ndarray:
    """Bayes' rule; (..., amounts) each."""
    both = chances * supposed
    return both / both.sum(axis=-1, keepdims=True)


def _rates(slips: Mapping[tuple[str, int], np.ndarray]) -> dict[tuple[str, int], float]:
    """How often each maker slips, by all rounds but one and by what is usual."""
    slipped = {key: 1 - float(chances[MOST_OFF_STITCHES]) for key, chances in slips.items()}
    rates = {}
    for maker, number in slips:
        others = [chance for (name, at), chance in slipped.items() if name == maker and at != number]
        rates[maker, number] = (PRIOR_WEIGHT_ROUNDS * SLIP_PROBABILITY + sum(others)) / (
            PRIOR_WEIGHT_ROUNDS + len(others)
        )
    return rates


def _says(named: np.ndarray) -> np.ndarray:
    """What each number that photos might name first says for a round that the pattern has off.

    Parameters
    ----------
    named : numpy.ndarray
        (makers, numbers); chances if the pattern is right.

    Returns
    -------
    numpy.ndarray
        (makers, amounts that the pattern is off by, numbers); the logarithm of how much likelier it is then, if
        :data:`FOLLOWERS_SHARE` of the makers follow the pattern.
    """
    # Beyond what is looked at: as unlikely as anything is.
    off = np.maximum(_shifted(named, -_APART), named.min(axis=1)[:, None, None])
    return np.log(1 - FOLLOWERS_SHARE + FOLLOWERS_SHARE * off / named[:, None, :])


def _against_pattern(shown: _Round, named: np.ndarray, least: float) -> tuple[float, int, bool]:
    """How likely makers would be off so much alike in a round if the pattern is right, and by how much they are.

    The least of all amounts that enough makers are off by, each divided by how
    likely it is an error's (a weighted Bonferroni correction; C. Genovese,
    K. Roeder and L. Wasserman, Biometrika 93, 2006). That it may be no amount
    which one maker alone is off by makes no chance smaller: a single slip,
    however rare its size, is no pattern's doing.

    Parameters
    ----------
    shown : _Round
    named : numpy.ndarray
        (ways of carrying on, makers, numbers).
    least : float
        The p-value that a single round is found at.

    Returns
    -------
    p : float
    by : int
    could : bool
        The round would be found if as many makers as follow an error of the
        pattern, those with the surest photos, were one stitch off alike, and
        the others right.
    """
    steps = [np.round(_says(own) / LOG_RATIO_STEP_NATS).astype(int) for own in named]
    shares = _pattern_sizes()

    def chance(by: int, places: np.ndarray) -> float:
        """The p-value of one amount, where photos name these numbers first."""
        at = MOST_OFF_STITCHES + by
        ways = zip(named, steps, strict=True)
        return max(_chance_of_more(own, says[:, at], places) for own, says in ways) / float(shares[at])

    enough = shown.chances.sum(axis=0) >= max(LEAST_ALIKE, LEAST_ALIKE_SHARE * len(shown))
    speaks = np.all([says[np.arange(len(shown)), :, shown.places].sum(axis=0) > 0 for says in steps], axis=0)
    chances = {by: chance(by, shown.places) for by in AMOUNTS[enough & speaks & (AMOUNTS != 0)].tolist()}
    strongest = min(chances, key=chances.__getitem__, default=-1)
    sure = np.argsort(-shown.chances.max(axis=1), kind="stable")
    followers = sure[: math.ceil(FOLLOWERS_SHARE * len(shown))]

    def off_alike(by: int) -> np.ndarray:
        places = np.full(len(shown), MOST_OFF_STITCHES)
        places[followers] += by
        return places

    # One of them may be what is carried on from the round below.
    could = any(chance(by, off_alike(by)) <= least for by in (-1, 1))
    return min(1.0, chances.get(strongest, 1.0)), strongest, could


def _chance_of_more(named: np.ndarray, steps: np.ndarray, places: np.ndarray) -> float:
    """Chance that photos say as much against the pattern as they do; 1 where they speak for it.

    `named` and `steps`, what each number says in whole steps, are (makers, numbers).
    """
    seen = int(steps[np.arange(len(places)), places].sum())
    if seen <= 0:
        return 1.0
    low = steps.min(axis=1)
    total = np.ones(1)
    for chances, own in zip(named, steps - low[:, None], strict=True):
        total = np.convolve(total, np.bincount(own, weights=chances))
    return float(min(1.0, total[max(seen - int(low.sum()), 0) :].sum()))


def _pattern_chances(shown: _Round, named: np.ndarray) -> np.ndarray:
    """How likely the pattern is off by every amount in a round, by Bayes' rule; the middle: that it is right."""
    says = _says(named)[np.arange(len(shown)), :, shown.places].sum(axis=0)
    supposed = PATTERN_ERROR_PROBABILITY * _pattern_sizes()
    supposed[MOST_OFF_STITCHES] = 1 - PATTERN_ERROR_PROBABILITY
    return _weighed(np.exp(says - says.max()), supposed)
