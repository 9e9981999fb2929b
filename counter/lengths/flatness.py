"""Whether rounds lie flat, cup or ruffle, from the height of a round and the width of a stitch.

A round of N stitches is N widths long; a flat disc has room for 2 pi times the
way from its centre. Crochet gives a little in both directions: held flat, the
rounds take the radii at which, all together, they are strained least. As long
as the rim need not stretch or shrink by more than about a tenth, the piece lies
flat; where it would have to stretch more, it leaves the table as a cup or a
cone; where there is too much of it, as waves. How high it stands over the
table, as a share of its radius, says what to call it.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from counter.basics import words
from counter.basics.answer import Count
from counter.basics.language import Told
from counter.lengths.measure import Measured
from counter.plan import Plan, PlanRound

__all__ = [
    *(
        "CLASSES",
        "Flatness",
        "FLAT_STRAIN",
        "LOW_RISE_RATIO",
        "RoundShape",
        "MOST_ROUNDS",
        "CONE_RISE_RATIO",
        "USUAL_ADDED",
        "flat_added",
        "flatness",
    ),
    *("flatness_of_piece", "flatness_of_plan", "usual_ratio"),
]

#: Strain that crochet takes along its rim, either way, and still lies on the table (common
#: practice: about a tenth). With this one every number of stitches that the sources of
#: :data:`USUAL_ADDED` give for one kind of stitch lies flat at one shape of that stitch.
FLAT_STRAIN = 0.09
#: What stands less than this share of its radius over the table departs a little; what
#: stands higher than its radius and still increases is a cone.
LOW_RISE_RATIO, CONE_RISE_RATIO = 0.4, 1.0
#: A piece that rises by less than this share of a round's height still lies flat.
FLAT_RISE_ROUND_HEIGHTS = 0.5
#: The first two rounds are too small to lie otherwise than flat.
ALWAYS_FLAT_ROUNDS = 2
#: Stitches in one stitch, beside skipped ones, that are a fan.
FEWEST_STITCHES_OF_A_FAN = 3
#: Rounds that are judged at most.
MOST_ROUNDS = 500
#: Waves of a rim that is a little too long: a saddle has two.
SADDLE_WAVES = 2
#: Fewest rounds that tell a constant growth ratio from other growth, and how even it must be.
FEWEST_GROWING_ROUNDS, GROWTH_RATIO_TOLERANCE = 4, 0.1
#: How often in a row increases must stand above those of the round below to make a corner plain.
FEWEST_STACKED_ROUNDS = 2
#: More corners than these can't be told from a circle.
MOST_CORNERS = 8

#: Stitches added each round for a flat circle, as taught: single 6 to 8 and half double
#: 8 to 10, double 10 to 14 (garturstitchfarm, stitch farm shop tutorial; Simply Crochet,
#: October 2020), treble from 12 to 14 (mkcarroll.com, 2009) to 16 to 18 (taught, from
#: memory; 2 pi h / w gives 17 for a treble 2.7 times as high as wide).
USUAL_ADDED: Mapping[str, tuple[int, int]] = MappingProxyType(
    {"sc": (6, 8), "hdc": (8, 10), "dc": (10, 14), "tr": (12, 18)}
)
#: Stitches of which the sources disagree by more than crochet gives: flat is what lies flat
#: with any shape between theirs.
SOURCES_DISAGREE = frozenset({"tr"})
#: A single round that is longer by this much than the one below leaves room for ripples,
#: whatever lies below.
RIPPLE_STRAIN = 2 * FLAT_STRAIN
#: Every class there is, from cup to waves: name -> what the piece does, in a maker's words.
CLASSES: Mapping[str, str] = Told("DOES")


@dataclass(frozen=True)
class RoundShape:
    """How a piece lies when it has been worked up to a round.

    Parameters
    ----------
    round : int
        Number of the round.
    stitches : int
        Its total.
    flat : float
        The total with which the piece, worked flat, would have no strain here.
    lift : float
        How high it stands over the table, as a share of its radius: positive
        for a cup, negative for waves from crest to trough, 0 for flat.
    name : str
        A key of :data:`CLASSES`.
    """

    round: int
    stitches: int
    flat: float
    lift: float
    name: str


@dataclass(frozen=True)
class Flatness:
    """Whether rounds lie flat, cup or ruffle.

    Parameters
    ----------
    lies : tuple of Lie
        One for each round; empty where nothing can be said.
    name : str or None
        Class of the whole piece, a key of :data:`CLASSES`; None where nothing can be said.
    since : int or None
        The round from which on the piece does not lie flat; None where it
        does, or where nothing can be said.
    added : float or None
        Stitches that a round of this shape adds to lie flat, 2 pi h / w.
    ratio : Measured or None
        Height of a round over width of a stitch that this was judged with; both
        None where it is neither measured nor usual.
    measured : bool
        False where the ratio is the usual one of the stitch.
    steady : bool
        True where the class stays on its side (cup, flat, waves) within the error of the ratio.
    words : tuple of str
        Sentences for a maker.
    """

    lies: tuple[RoundShape, ...]
    name: str | None
    since: int | None
    added: float | None
    ratio: Measured | None
    measured: bool
    steady: bool
    words: tuple[str, ...]


def flat_added(ratio: float) -> float:
    """Stitches to add each round so that a disc lies flat.

    A round one height further out is longer by 2 pi h (geometry of the circle;
    worked through on mspremiseconclusion.wordpress.com, 24 July 2018).

    Parameters
    ----------
    ratio : float
        Height of a round over width of a stitch, more than 0.

    Returns
    -------
    float
        ``2 * pi * ratio``.
    """
    return 2 * np.pi * ratio


def _ends(stitch: str) -> tuple[int, int]:
    fewest, most = USUAL_ADDED[stitch]
    return fewest, most + 1


def usual_ratio(stitch: str = "sc") -> Measured:
    """Height over width of a stitch that nobody has measured.

    Parameters
    ----------
    stitch : str
        A key of :data:`USUAL_ADDED`.

    Returns
    -------
    Measured
        The middle of what is taught for a flat circle, and as its error a
        quarter of the range: most makers lie within it.

    Raises
    ------
    ValueError
        For any other stitch.
    """
    if stitch not in USUAL_ADDED:
        raise ValueError(f"how many {stitch!r} lie flat is not known; measure a flat piece of them")
    fewest, most = USUAL_ADDED[stitch]
    return Measured((fewest + most) / 2 / (2 * np.pi), (most - fewest) / 4 / (2 * np.pi))


def flatness(
    totals: Sequence[int],
    ratio: Measured | None = None,
    *,
    first: int = 1,
    stitch: str = "sc",
    taller: Sequence[float] | None = None,
    uk: bool = False,
) -> Flatness:
    """Judge rounds by their totals.

    Parameters
    ----------
    totals : sequence of int
        Stitches of each round, at least 1; at most :data:`MOST_ROUNDS` rounds are judged.
    ratio : Measured, optional
        Height of a round over width of a stitch as measured; the usual one of
        `stitch` where it is left out.
    first : int, optional
        Number of the first of these rounds, at least 1. What lies below a later one is
        taken to be flat.
    stitch : str, optional
        "sc", "hdc", "dc" or "tr", for the usual ratio.
    taller : sequence of float, optional
        Height of each round over that of a round of `ratio`, where they differ.
    uk : bool, optional
        Name stitches in UK terms in the words.

    Returns
    -------
    Flatness

    Raises
    ------
    ValueError
        If a total, a height, the ratio or the first number can't be one.
    """
    totals = [int(total) for total in totals][:MOST_ROUNDS]
    heights = [1.0] * len(totals) if taller is None else [float(height) for height in taller][: len(totals)]
    if any(total < 1 for total in totals):
        raise ValueError("every round needs at least 1 stitch")
    if first < 1:
        raise ValueError(f"rounds are numbered from 1, not {first}")
    if len(heights) != len(totals) or any(not (np.isfinite(height) and height > 0) for height in heights):
        raise ValueError("every round needs a height more than 0")
    used = ratio if ratio is not None else usual_ratio(stitch)
    if not (np.isfinite(used.value) and used.value > 0 and np.isfinite(used.error) and used.error >= 0):
        raise ValueError("the height of a round over the width of a stitch must be more than 0")
    lies = _lies(totals, used.value, first, heights)
    if not lies:
        return _nothing(words.LIE_NO_ROUNDS)
    apart = ratio is None and stitch in SOURCES_DISAGREE
    if apart:
        ways = [_lies(totals, added / (2 * np.pi), first, heights) for added in range(*_ends(stitch))]
        lies = min((lies, *ways), key=lambda way: sum(abs(lie.lift) for lie in way))
    # A share of the value keeps the ratio above 0, however large its error.
    factor = float(np.exp(used.error / used.value))
    near = [_lies(totals, other, first, heights) for other in (used.value / factor, used.value * factor)]
    sides = {np.sign(way[-1].lift) for way in (lies, *near)}
    steady = len(sides) == 1 or apart and lies[-1].name == "flat"
    since = _since(lies)
    told = [_what(lies, since, used, first), *_before(lies, since), _by_what(used, ratio is not None, stitch, uk)]
    if not steady:
        others = sorted({way[-1].name for way in near} - {lies[-1].name}, key=list(CLASSES).index)
        perhaps = words.any_of(CLASSES[name] for name in others)
        told.append(words.LIE_CLOSE.format(does=perhaps))
    return Flatness(lies, lies[-1].name, since, flat_added(used.value), used, ratio is not None, steady, tuple(told))


def flatness_of_plan(plan: Plan, ratio: Measured | None = None, *, uk: bool = False) -> Flatness:
    """Judge a written plan.

    Parameters
    ----------
    plan : Plan
        Its rounds are judged from the first on, as far as their totals are
        known and their numbers follow each other.
    ratio : Measured, optional
        Height of a round over width of a stitch, measured on a piece of the same
        maker in the plan's main stitch; the usual one of that stitch where it is left out.
    uk : bool, optional
        Name stitches in UK terms in the words.

    Returns
    -------
    Flatness
    """
    rounds: list[PlanRound] = []
    totals: list[int] = []
    for own in plan.rounds:
        if own.stitches is None or own.stitches < 1 or (rounds and own.round != rounds[-1].round + 1):
            break
        if rounds and _fans(own):
            break
        rounds.append(own)
        totals.append(own.stitches)
    if not rounds:
        return flatness((), ratio)
    kinds = [own.stitch for own in rounds]
    main = max(dict.fromkeys(kinds), key=kinds.count)
    taller = None
    if len(set(kinds)) > 1 or ratio is None:
        strange = [kind for kind in kinds if kind not in USUAL_ADDED]
        if strange:
            return _nothing(_unknown(strange[0]))
        taller = [usual_ratio(kind).value / usual_ratio(main).value for kind in kinds]
    first = max(1, rounds[0].round)
    judged = flatness(totals, ratio, first=first, stitch=main, taller=taller, uk=uk)
    told = list(judged.words)
    if judged.ratio is not None and _shaped_after_flat(rounds, judged):
        told[0] = _what(judged.lies, judged.since, judged.ratio, first, head=True)
    corners = _corners(rounds, totals)
    if judged.name in ("flat", "a little cupped", "crowded") and corners:
        told.append(words.LIE_CORNERS.format(n=corners))
    if len(rounds) < len(plan.rounds):
        fans = _fans(plan.rounds[len(rounds)])
        told.append((words.LIE_UP_TO_FANS if fans else words.LIE_UP_TO).format(n=rounds[-1].round))
    return Flatness(
        judged.lies, judged.name, judged.since, judged.added, judged.ratio, judged.measured, judged.steady, tuple(told)
    )


def flatness_of_piece(
    count: Count,
    *,
    rounds: int | None = None,
    ratio: Measured | None = None,
    stitch: str = "sc",
    uk: bool = False,
) -> Flatness:
    """Judge a counted piece by the number of its stitches and rounds.

    Its rounds are taken to have grown evenly. From straight above, a cone and
    a disc look alike, so that the photo of the piece itself can't say how high
    its rounds are unless it lies flat: `ratio` comes from another photo, of a
    piece that does.

    Parameters
    ----------
    count : Count
    rounds : int, optional
        Complete rounds where a person knows them; else the counted ones.
    ratio : Measured, optional
        Height of a round over width of a stitch, from :class:`counter.lengths.measure.Measures`
        of a flat piece of the same maker; the usual one where it is left out.
    stitch : str, optional
        Main stitch in US terms, for the usual ratio.
    uk : bool, optional
        Name stitches in UK terms in the words.

    Returns
    -------
    Flatness
        Without lies where the rounds can't be told, or the stitch has no usual ratio.

    Raises
    ------
    ValueError
        If `rounds` is less than 1.
    """
    if rounds is not None and rounds < 1:
        raise ValueError(f"a piece has at least 1 round, not {rounds}")
    known = rounds if rounds is not None else count.rounds
    if count.in_progress or not known:
        return _nothing(words.LIE_UNFINISHED if count.in_progress else words.LIE_UNKNOWN)
    if ratio is None and stitch not in USUAL_ADDED:
        return _nothing(_unknown(stitch))
    totals = [max(1, round(count.stitches * k / known)) for k in range(1, known + 1)]
    judged = flatness(totals, ratio, stitch=stitch, uk=uk)
    if judged.name is None:
        return judged
    grown = words.LIE_PIECE if judged.name == "flat" else words.LIE_PIECE_OFF
    told = [
        grown.format(
            stitches=words.stitches(count.stitches), rounds=words.rounds(known), does=CLASSES[judged.name],
            n=round(judged.lies[-1].flat),
        ),
        *judged.words[1:],
    ]  # fmt: skip
    if rounds is None:
        told.append(words.LIE_COUNTED)
    return Flatness(
        judged.lies, judged.name, judged.since, judged.added, judged.ratio, judged.measured,
        judged.steady and count.sure and rounds is not None, tuple(told),
    )  # fmt: skip


def _fans(own: PlanRound) -> bool:
    """Whether a round is made of fans and shells, whose many stitches stand in few and skip the others.

    A fan spreads over what is skipped beside it (common practice), so that its number says nothing of its rim.
    """
    return any(shaping.stitches >= FEWEST_STITCHES_OF_A_FAN for shaping in own.increases) and "sk " in own.text


def _nothing(why: str) -> Flatness:
    return Flatness((), None, None, None, None, False, False, (why,))


def _unknown(stitch: str) -> str:
    return words.LIE_STITCH.format(stitch=stitch)


def _lies(totals: list[int], ratio: float, first: int, taller: list[float]) -> tuple[RoundShape, ...]:
    """The piece as it lies after each round."""
    if not totals:
        return ()
    # Lengths in heights of a round; `natural` are the radii of the rounds by themselves.
    heights = np.array(taller)
    natural = np.array(totals) / flat_added(ratio)
    start, least = (0.0, ALWAYS_FLAT_ROUNDS) if first == 1 else (max(0.0, natural[0] - heights[0]), 0)
    way = start + np.cumsum(heights)
    rims = _rims(natural, heights, start)
    strain = rims / natural - 1
    leaves = np.flatnonzero(np.abs(strain[least:]) > FLAT_STRAIN) + least
    begins = int(leaves[0]) if len(leaves) else len(totals)
    side = np.sign(strain[begins]) if len(leaves) else 0
    named = begins
    # What leaves the table as soon as that can be seen has been about to do so before.
    while named == least and begins > 0 and strain[begins - 1] * side > FLAT_STRAIN:
        begins -= 1
    radius = rims[begins - 1] if begins else start
    ripples = _ripples(natural, heights, least)
    lies, rise = [], 0.0
    for k, total in enumerate(totals):
        lift = 0.0
        if k >= begins and side > 0:
            radius, rise = _up(radius, rise, natural[k], heights[k])
            lift = rise / max(radius, heights[k]) if rise >= FLAT_RISE_ROUND_HEIGHTS * heights[k] else 0.0
        elif k >= begins:
            # Stretched outwards as far as it gives, the rim is still too long: that much goes into waves.
            radius += heights[k] * (1 + FLAT_STRAIN)
            excess = natural[k] * (1 - FLAT_STRAIN) / radius
            # Waves of amplitude A lengthen a circle of radius r by (WAVES A / 2 r)^2.
            lift = -4 / SADDLE_WAVES * np.sqrt(max(excess - 1, 0.0))
        lift = float(lift) if k >= named else 0.0
        lift = min(lift, ripples[k]) if ripples[k] < 0 else lift
        name = _name(lift, k == 0 or total > totals[k - 1])
        lies.append(RoundShape(first + k, total, float(way[k] * flat_added(ratio)), lift, name))
    return tuple(lies)


def _ripples(natural: np.ndarray, heights: np.ndarray, least: int) -> list[float]:
    """How high each round ripples because it is much longer than the one below, whatever that lies on; 0 or less.

    A rim can't be wider than the one below and a round's height on either side, with
    what crochet gives; what is longer than that goes into waves. Rounds that
    follow make room again.
    """
    found, room = [], natural[0] if len(natural) else 0.0
    for k in range(len(natural)):
        if k:
            room = min(natural[k], room + heights[k] * (1 + RIPPLE_STRAIN))
        excess = natural[k] * (1 - FLAT_STRAIN) / max(room, 1e-9) - 1
        found.append(
            float(-4 / SADDLE_WAVES * np.sqrt(excess)) if k >= max(least, ALWAYS_FLAT_ROUNDS) and excess > 0 else 0.0
        )
        if k < max(least, ALWAYS_FLAT_ROUNDS):
            room = natural[k]
    return found


def _rims(natural: np.ndarray, heights: np.ndarray, start: float) -> np.ndarray:
    """Radius of the rim of a disc that is held flat, after each round.

    Every stitch is a spring along the round and one across it, as stiff in
    proportion; the sum of N times the squared strains is least. Of many rounds
    that grow by the same number, q times that of a flat disc, the rim settles at
    2 q / (1 + q) of the way along the disc, so that it is strained by (1 - q) / (1 + q).

    Parameters
    ----------
    natural, heights : ndarray of shape (rounds,), float
        Radius that each round has by itself, and its height.
    start : float
        Radius inside the first round.

    Returns
    -------
    ndarray of shape (rounds,), float
    """
    # The equations join each round to its neighbours only. Solved from the centre outwards
    # they give the radius of a round as `fixed` + `share` times that of the next one.
    fixed, share = start, 0.0
    rims = np.empty(len(natural))
    stiff = natural / heights**2
    for k in range(len(natural)):
        pull = stiff[k] * (heights[k] + fixed) + 1
        hold = stiff[k] * (1 - share) + 1 / natural[k]
        rims[k] = pull / hold
        if k + 1 < len(natural):
            fixed = (pull - stiff[k + 1] * heights[k + 1]) / (hold + stiff[k + 1])
            share = stiff[k + 1] / (hold + stiff[k + 1])
    return rims


def _up(radius: float, rise: float, natural: float, height: float) -> tuple[float, float]:
    """Radius and height of the next round of a piece that stands up: a cone as long as the round's height."""
    long = height * (1 - FLAT_STRAIN)
    step = float(np.clip(natural * (1 + FLAT_STRAIN) - radius, -long, long))
    return radius + step, rise + float(np.sqrt(long**2 - step**2))


def _name(lift: float, grows: bool) -> str:
    """Class of a piece that stands so high, and whose last round has more stitches than the one below or not."""
    if lift == 0:
        return "flat"
    if lift < 0:
        return "crowded" if -lift < LOW_RISE_RATIO else "ruffled"
    if lift < LOW_RISE_RATIO:
        return "a little cupped"
    return "cone" if lift > CONE_RISE_RATIO and grows else "cupped"


def _since(lies: tuple[RoundShape, ...]) -> int | None:
    """The round from which on none lies flat, or stands to the other side (a cup, then waves)."""
    if lies[-1].name == "flat":
        return None
    other = [lie.round for lie in lies if np.sign(lie.lift) != np.sign(lies[-1].lift)]
    return max(other) + 1 if other else lies[0].round


def _before(lies: tuple[RoundShape, ...], since: int | None) -> list[str]:
    """What the piece does up to the round from which on it does something else, where that isn't flat."""
    if since is None or (last := next((lie for lie in lies if lie.round == since - 1), None)) is None:
        return []
    if last.name == "flat" or np.sign(last.lift) == np.sign(lies[-1].lift):
        return []
    begins = last.round
    while (lie := next((one for one in lies if one.round == begins - 1), None)) and np.sign(lie.lift) == np.sign(
        last.lift
    ):
        begins -= 1
    return [words.LIE_BEFORE.format(will=words.WILL[last.name], first=begins)]


def _what(lies: tuple[RoundShape, ...], since: int | None, ratio: Measured, first: int, *, head: bool = False) -> str:
    """What the piece does and from where on, as a sentence; `head`: as that of a toy."""
    last = lies[-1]
    if since is None:
        return words.LIES_FLAT
    totals = [lie.stitches for lie in lies]
    grown = np.diff(totals)
    steady = grown[max(0, since - first - 1) :]
    told = {"will": words.WILL[last.name], "n": since}
    if last.lift < 0 and _growing(totals):
        return words.LIE_HYPERBOLIC.format(**told)
    if len(steady) and steady[0] > 0 and (steady == steady[0]).all():
        told |= {"added": steady[0], "flat": _about(flat_added(ratio.value))}
        return (words.LIE_ADDS_HEAD if head else words.LIE_ADDS).format(**told)
    return (words.LIE_FROM_HEAD if head else words.LIE_FROM).format(**told)


def _growing(totals: list[int]) -> bool:
    """True where every round is longer than the one before by the same factor, and not by the same number."""
    if len(totals) < FEWEST_GROWING_ROUNDS:
        return False
    factors = np.array(totals[1:]) / totals[:-1]
    return bool(factors.min() > 1.1 and factors.max() <= factors.min() * (1 + GROWTH_RATIO_TOLERANCE))


def _by_what(ratio: Measured, measured: bool, stitch: str, uk: bool) -> str:
    if measured:
        return words.LIE_MEASURED.format(
            ratio=f"{ratio.value:.2f}", error=f"{2 * ratio.error:.2f}", flat=_about(flat_added(ratio.value))
        )
    fewest, most = USUAL_ADDED[stitch]
    said = words.LIE_APART if stitch in SOURCES_DISAGREE else words.LIE_TAUGHT
    return said.format(stitch=words.STITCH_NAMES[stitch][uk], fewest=fewest, most=most)


def _about(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")


def _shaped_after_flat(rounds: list[PlanRound], judged: Flatness) -> bool:
    """True where a piece that lies flat cups because a round no longer increases."""
    if judged.since is None or judged.lies[-1].lift <= 0:
        return False
    kinds = {own.round: own.kind for own in rounds}
    grew = [k for k, kind in kinds.items() if kind == "increase" and k < judged.since]
    return bool(grew) and any(kinds[k] in ("even", "decrease") for k in (judged.since - 1, judged.since) if k in kinds)


def _corners(rounds: list[PlanRound], totals: list[int]) -> int:
    """Corners of a piece whose increases stand above each other round after round; 0 for none."""
    stacked = 0
    number = 0
    for k, (below, above) in enumerate(itertools.pairwise(rounds)):
        if not below.increases or len(below.increases) != len(above.increases):
            stacked = 0
            continue
        turns = [
            np.array([(own.at + (own.stitches - 1) / 2 - 0.5) / total for own in one.increases])
            for one, total in ((below, totals[k]), (above, totals[k + 1]))
        ]
        apart = np.abs(turns[0] - turns[1])
        number = len(below.increases)
        # An increase stands above another where it is not farther away than a stitch.
        above_each_other = (np.minimum(apart, 1 - apart) <= 1 / totals[k]).all()
        stacked = stacked + 1 if above_each_other and number <= MOST_CORNERS and number < totals[k] / 2 else 0
    return number if stacked >= FEWEST_STACKED_ROUNDS else 0
