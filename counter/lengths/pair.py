"""Whether two pieces that must match do: arms, legs, ears.

Which side of the pair a piece is for makes no difference to its totals:
mirrored work holds the same number of stitches.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from counter.basics import words
from counter.basics.answer import Count
from counter.comparing.which import counted_chance
from counter.lengths.gauge import Length, piece_size
from counter.lengths.scale import Scale, in_words

__all__ = ["Pair", "RoundsPair", "SizePair", "compare_pieces"]

#: Least chance that two pieces have different rounds before it is said.
LEAST_DIFFERENT_PROBABILITY = 0.95
#: Sizes differ where they are more than this many standard errors apart (95% of a normal distribution).
APART_STANDARD_ERRORS = 1.96
#: Most stitches that are taken up in a later round.
MOST_TAKEN_UP_STITCHES = 2
#: Below this chance two counts that are not sure hardly agree.
HARDLY_PROBABILITY = 0.01


@dataclass(frozen=True)
class RoundsPair:
    """The rounds of two pieces.

    Parameters
    ----------
    first, second : int or None
        Counted complete rounds, None where they can't be told.
    verdict : {"differ", "can't say"}
        Rounds counted in photos are too often off to say that they match.
    probability : float or None
        That both pieces have the same number of rounds, where that was as
        likely as not beforehand; None where it can't be told.
    words : str
        A sentence for a maker.
    """

    first: int | None
    second: int | None
    verdict: str
    probability: float | None
    words: str


@dataclass(frozen=True)
class SizePair:
    """The sizes of two pieces.

    Parameters
    ----------
    first, second : Length
        Diameters.
    verdict : {"same", "differ"}
        "same" means that no difference can be told.
    words : str
        A sentence for a maker.
    """

    first: Length
    second: Length
    verdict: str
    words: str


@dataclass(frozen=True)
class Pair:
    """Two pieces side by side.

    Parameters
    ----------
    verdict : str
        "match", "differ by k" or "can't say"; of the totals alone.
    off_by : int or None
        Stitches of the second piece less those of the first; None where it can't be said.
    probability : float
        That both totals are equal, 0 to 1.
    differences : mapping of int to float
        Probability of every difference, second less first, that is worth
        naming; the most probable first.
    rounds : RoundsPair
    sizes : SizePair or None
        None where a scale is missing.
    words : tuple of str
        Sentences for a maker, the verdict first.
    """

    verdict: str
    off_by: int | None
    probability: float
    differences: Mapping[int, float]
    rounds: RoundsPair
    sizes: SizePair | None
    words: tuple[str, ...]


def compare_pieces(
    first: Count,
    second: Count,
    *,
    expected: int | None = None,
    scales: tuple[Scale, Scale] | None = None,
) -> Pair:
    """Compare two pieces that must match.

    The two photos are counted by themselves; that the pieces should match
    changes neither count. They hold the same number with probability
    sum over n of p1(n) p2(n).

    Parameters
    ----------
    first, second : Count
    expected : int, optional
        What both should hold, where it is known: it tells which one is off.
    scales : tuple of two Scale, optional
        Of the first and of the second photo, to compare the sizes.

    Returns
    -------
    Pair
    """
    differences = _differences(first, second)
    equal = differences.get(0, 0.0)
    rounds = _rounds(first.rounds, second.rounds)
    sizes = None
    if scales is not None:
        across = [piece_size(count, scale).diameter for count, scale in zip((first, second), scales, strict=True)]
        sizes = _sizes(*across)
    unfinished = [name for name, count in (("first", first), ("second", second)) if count.in_progress]
    off_by = None
    if unfinished:
        verdict = "can't say"
        told = [words.PAIR_UNFINISHED["both" if len(unfinished) == 2 else unfinished[0]]]
    elif not (first.sure and second.sure):
        # A count that is not sure may be wrong about all its likely numbers.
        verdict = "can't say"
        numbers = {"first": words.either(first.likely), "second": words.either(second.likely)}
        told = [words.PAIR_UNSURE.format(**numbers, p=words.percent(equal))]
        if equal < HARDLY_PROBABILITY and not set(first.likely) & set(second.likely):
            told.append(words.PAIR_DIFFERS)
        told.append(words.PAIR_SETTLE)
    elif first.stitches == second.stitches:
        verdict, off_by = "match", 0
        told = [words.PAIR_MATCHES.format(stitches=words.stitches(first.stitches))]
    else:
        off_by = second.stitches - first.stitches
        verdict = f"differ by {abs(off_by)}"
        told = [
            words.PAIR_OFF_BY.format(n=abs(off_by), first=words.stitches(first.stitches), second=second.stitches),
            *_advice(first.stitches, second.stitches, expected),
        ]
    if verdict == "match" and expected is not None and first.stitches != expected:
        told.append(words.PAIR_EXPECTED.format(n=expected))
    told.append(rounds.words)
    if sizes:
        told.append(sizes.words)
    if verdict != "match" or rounds.verdict == "differ":
        told.append(words.CAUTION)
    return Pair(verdict, off_by, equal, MappingProxyType(differences), rounds, sizes, tuple(told))


def _differences(first: Count, second: Count) -> dict[int, float]:
    """Probability of each difference, second less first, most probable first."""
    found: dict[int, float] = {}
    for one, chance in first.posterior.items():
        for other, second_chance in second.posterior.items():
            found[other - one] = found.get(other - one, 0.0) + chance * second_chance
    whole = sum(first.posterior.values()) * sum(second.posterior.values())
    named = {off: chance / whole for off, chance in found.items() if chance / whole > 1e-4}
    return dict(sorted(named.items(), key=lambda item: (-item[1], abs(item[0]), item[0])))


def _advice(first: int, second: int, expected: int | None) -> list[str]:
    """What to do about two totals that differ (common practice)."""
    off = abs(first - second)
    wrong = [name for name, number in (("first", first), ("second", second)) if number != expected]
    if expected is None:
        told = [words.PAIR_SEE]
        whose = "off"
    elif len(wrong) == 2:
        told = [words.PAIR_NEITHER.format(n=expected)]
        whose = "each"
        off = max(abs(first - expected), abs(second - expected))
    else:
        told = [words.PAIR_WRONG[wrong[0]].format(n=expected)]
        whose = wrong[0]
    told += [words.PAIR_ASK, words.PAIR_RIP[whose]]
    if off <= MOST_TAKEN_UP_STITCHES:
        told.append(words.PAIR_TAKE_UP.format(stitches=words.stitches(off)))
    return told


def _rounds(first: int | None, second: int | None) -> RoundsPair:
    if first is None or second is None:
        return RoundsPair(first, second, "can't say", None, words.PAIR_ROUNDS_UNKNOWN)
    # Arms and ears are walls for about half of their rounds. Beforehand it is as likely as not that
    # both have the same rounds, and any number up to a little more than twice the counted ones.
    numbers = range(1, 2 * max(first, second) + 4)
    chances = np.array([[counted_chance(counted, k, k // 2) for k in numbers] for counted in (first, second)])
    same = float((chances[0] * chances[1]).mean())
    apart = float(chances[0].mean() * chances[1].mean())
    equal = same / (same + apart)
    if first == second:
        return RoundsPair(first, second, "can't say", equal, words.PAIR_ROUNDS_SAME.format(n=first))
    differ = equal <= 1 - LEAST_DIFFERENT_PROBABILITY
    told = (words.PAIR_ROUNDS_DIFFER if differ else words.PAIR_ROUNDS_OFF).format(first=first, second=second)
    return RoundsPair(first, second, "differ" if differ else "can't say", equal, told)


def _sizes(first: Length, second: Length) -> SizePair:
    apart = second.mm - first.mm
    both = {"first": in_words(first.mm), "second": in_words(second.mm)}
    if abs(apart) <= APART_STANDARD_ERRORS * np.hypot(first.error, second.error):
        return SizePair(first, second, "same", words.PAIR_SIZES_SAME.format(**both))
    share = abs(apart) / min(first.mm, second.mm)
    told = words.PAIR_SECOND_LARGER if apart > 0 else words.PAIR_FIRST_LARGER
    return SizePair(first, second, "differ", told.format(**both, p=f"{share:.0%}"))
