"""Where a round left its plan: which increase was left out, or made twice, and near which marks.

The written round says how many stitches go into each stitch of the round
below; the photo says how many marks there are, and how likely each of them
shares its base with a neighbour. The marks are read as the written round with
slips: begun at any mark, each group of stitches with one stitch fewer or more
than written, as often as makers slip. Summing over all readings (a hidden
Markov model over the groups, forward and backward: L. R. Rabiner, "A tutorial
on hidden Markov models", Proceedings of the IEEE 77(2), 1989) gives the
probability of a slip at every mark. Against that stands that the round is right
and the count is not: marks too many or too few, most likely in a place in doubt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from counter.answer import Count, clock_position
from counter.plan import PlanRound

__all__ = ["Slip", "Slips", "find_slips"]

#: How often makers slip at one place (from memory; only the order matters): an
#: increase or a decrease left out, one made twice, a plain stitch made twice,
#: a plain stitch skipped or missing from the round below, one more in the round below.
LEFT_OUT, TWICE, DOUBLED, SKIPPED, BELOW = 0.04, 0.01, 0.02, 0.01, 0.001
#: Share of the log-odds of a shared base that counts, and the most that one mark says.
TRUST, MOST_SAID = 0.7, 3.0
#: Share of miscounts that lie within this many marks of a place in doubt or the start of the round.
IN_DOUBT, NEAR = 0.8, 1.5
#: Chance that the round begins where its start was seen, and by how many marks it may be off then.
BEGINS, OFF = 0.9, 1.0
#: Differences from the written total beyond which no single place is to blame.
FURTHEST = 3
#: A place is as wide as a twelfth of the way round, one hour of the clock.
HOURS = 12
#: Least probability of a place that is named at all.
NAMED = 0.5

#: Slips that leave all increases where they belong, and what is said where only they are likely.
PLAIN = ("stitch skipped", "stitch too many")
ALL_THERE = "All its increases seem to be there: look for the error in the plain stitches, or a round below."


@dataclass(frozen=True)
class Slip:
    """One place where the round most likely left its plan.

    Parameters
    ----------
    what : {"increase left out", "increase too many", "decrease left out", "stitch skipped", "stitch too many"}
        What was most likely done there.
    marks : tuple of int
        First and last of the marks that it concerns, from 1, in working order.
    at : tuple of float
        (x, y) of the place, in pixels of the upright photo.
    clock : str
        The place as on a clock face, "4 o'clock".
    probability : float
        Probability that it lies there, within a twelfth of the way round to either side, 0 to 1.
    """

    what: str
    marks: tuple[int, int]
    at: tuple[float, float]
    clock: str
    probability: float


@dataclass(frozen=True)
class Slips:
    """What the marks say about a round against its writing.

    Parameters
    ----------
    right : float
        Probability that the round holds what is written, and the count is off.
    places : tuple of Slip
        The likely places, most probable first, as many as stitches are short or
        over at most; none where the photo can't tell.
    why_none : str
        Why there are no places, in a maker's words; empty where there are.
    """

    right: float
    places: tuple[Slip, ...]
    why_none: str

    @property
    def claimed(self) -> tuple[Slip, ...]:
        """The places, where it is likelier that the round is off than that the count is."""
        return self.places if self.right < 0.5 else ()


@dataclass(frozen=True)
class _Way:
    """One way to work a group of stitches: how many marks it leaves, of which how many look paired."""

    marks: int
    paired: int
    chance: float
    what: str


def find_slips(count: Count, written: PlanRound) -> Slips:
    """Find where a counted round left what is written.

    Parameters
    ----------
    count : Count
        The marks, as counted or corrected.
    written : PlanRound
        The round as it is written; its total must be known.

    Returns
    -------
    Slips
    """
    number, total = len(count.marks), written.stitches
    if total is None:
        return Slips(0.0, (), "The plan doesn't say what the round holds.")
    off = number - total
    if off == 0:
        return Slips(1.0, (), "The round holds what it should.")
    if abs(off) > FURTHEST:
        return Slips(0.0, (), f"With {abs(off)} stitches {'short' if off < 0 else 'over'} no single place is to blame.")
    groups = _groups(written)
    if groups is None:
        return Slips(0.0, (), "The plan doesn't say how the round is worked, so the photo can't tell where.")
    log_odds = _log_odds(count)
    # Even shaping whose places aren't written may begin anywhere in the round.
    told = bool(written.increases or written.decreases) or written.kind == "even"
    begins = _begins(count, count.start_seen and told)
    spoken, at = _read(groups, _ways_of_slips, log_odds, begins, off)
    miscounted, _ = _read(groups, _ways_of_miscounts, log_odds, begins, off, _doubtful(count))
    slipped = spoken + np.log(count.posterior.get(number, 0.0) + 1e-9)
    right = miscounted + np.log(count.posterior.get(total, 0.0) + 1e-9)
    if not np.isfinite(slipped) and not np.isfinite(right):
        return Slips(0.0, (), "The marks don't fit the written round anywhere.")
    chance_right = float(np.exp(right - np.logaddexp(slipped, right)))
    places = tuple(_places(count, at, abs(off)))
    if not places:
        plain = sum(float(at[what].sum()) for what in PLAIN if what in at)
        whole = written.kind == "increase" and plain > NAMED * abs(off)
        return Slips(chance_right, (), ALL_THERE if whole else "The photo doesn't show where.")
    return Slips(chance_right, places, "")


def _groups(written: PlanRound) -> list[tuple[int, bool]] | None:
    """(stitches made, whether it joins stitches) of each group of the round, in order; None where nothing tells.

    Increases and decreases whose places aren't written are spread evenly, as is usual (common practice).
    """
    total, used = written.stitches, written.used
    if written.increases or written.decreases:
        made = {shaping.at: shaping.stitches for shaping in written.increases}
        joined = {shaping.at for shaping in written.decreases}
        groups, at = [], 1
        while at <= total:
            groups.append((made.get(at, 1), at in joined))
            at += made.get(at, 1)
        return groups
    if used is None:
        return None
    if used in (0, total):
        return [(1, False)] * total
    if total > used:
        share, rest = divmod(total - used, used)
        return [(1 + share + extra, False) for extra in _evenly(used, rest)]
    return [(1, bool(joins)) for joins in _evenly(total, min(used - total, total))]


def _evenly(places: int, number: int) -> np.ndarray:
    """1 at `number` of the places, each at the end of its share of them, else 0."""
    chosen = np.zeros(places, dtype=int)
    chosen[(np.arange(1, number + 1) * places) // max(number, 1) - 1] = 1
    return chosen


def _log_odds(count: Count) -> np.ndarray:
    """Log-odds that each mark shares its base, shape (N,)."""
    away = np.linalg.norm(count.marks[:, None] - count.outline[None], axis=2)
    nearest = away.argmin(axis=1)
    points = len(count.outline)
    # As wide as a quarter of a stitch to either side: the chance is of the stitch, not of the point.
    reach = max(0, round(points / len(count.marks) / 6))
    around = (nearest[:, None] + np.arange(-reach, reach + 1)) % points
    said = special.logit(np.clip(count.shared[around].mean(axis=1), 1e-4, 1 - 1e-4))
    return np.clip(TRUST * said, -MOST_SAID, MOST_SAID)


def _begins(count: Count, known: bool) -> np.ndarray:
    """Log probability that the round begins at each mark, shape (N,)."""
    number = len(count.marks)
    even = np.full(number, 1 / number)
    if not known:
        return np.log(even)
    away = np.minimum(np.arange(number), number - np.arange(number))
    near = np.exp(-0.5 * (away / OFF) ** 2)
    return np.log(BEGINS * near / near.sum() + (1 - BEGINS) * even)


def _doubtful(count: Count) -> np.ndarray:
    """Log probability that a miscount lies at each mark, shape (N,)."""
    number = len(count.marks)
    places = [doubt.mark - 1 for doubt in count.doubts] + ([0, number - 1] if count.start_seen else [])
    even = np.full(number, 1 / number)
    if not places:
        return np.log(even)
    away = np.abs(np.arange(number)[:, None] - np.array(places))
    near = (np.minimum(away, number - away).min(axis=1) <= NEAR).astype(float)
    return np.log(IN_DOUBT * near / near.sum() + (1 - IN_DOUBT) * even)


def _ways_of_slips(made: int, joins: bool) -> list[_Way]:
    if joins:
        return [_Way(1, 0, 1 - LEFT_OUT, ""), _Way(2, 0, LEFT_OUT, "decrease left out")]
    if made > 1:
        fewer = _Way(made - 1, made - 1 if made > 2 else 0, LEFT_OUT, "increase left out")
        return [
            _Way(made, made, 1 - LEFT_OUT - TWICE, ""), fewer, _Way(made + 1, made + 1, TWICE, "increase too many"),
        ]
    return [
        _Way(1, 0, 1 - DOUBLED - SKIPPED - BELOW, ""), _Way(2, 2, DOUBLED, "increase too many"),
        _Way(0, 0, SKIPPED, "stitch skipped"), _Way(2, 0, BELOW, "stitch too many"),
    ]


def _ways_of_miscounts(made: int, joins: bool) -> list[_Way]:
    # A stitch that is there but has no mark still looks as it is worked, and so does a false mark beside it.
    paired = made if made > 1 else 0
    return [
        _Way(made, paired, 1.0, ""), _Way(made - 1, max(paired - 1, 0), 1.0, "missed"),
        _Way(made + 1, paired, 1.0, "false"),
    ]


def _read(groups, ways_of, log_odds, begins, off, elsewhere=None) -> tuple[float, dict[str, np.ndarray]]:
    """All readings of the marks as these groups.

    Parameters
    ----------
    groups : list of (int, bool)
        U groups, as of :func:`_groups`.
    ways_of : callable
        The ways to read a group.
    log_odds, begins : ndarray of shape (N,), float
    off : int
        Marks less stitches written.
    elsewhere : ndarray of shape (N,), float or None
        Log probability of whatever differs from the writing, at each mark.

    Returns
    -------
    float
        Log of the sum over all readings.
    dict of str to ndarray of shape (N,), float
        Expected number of each difference at each mark.
    """
    number = len(log_odds)
    # The state: how many marks more than written so far, for a round begun at each mark.
    reach = abs(off) + 2
    states = 2 * reach + 1
    begun = np.arange(number)
    walked = np.concatenate([[0.0], np.cumsum(np.tile(log_odds, 3))])
    planned = np.concatenate([[0], np.cumsum([made for made, _ in groups])])
    options = [ways_of(*group) for group in groups]

    def place(group: int) -> np.ndarray:
        """Mark that comes next, for every start and state, shape (N, states)."""
        return (begun[:, None] + planned[group] + np.arange(-reach, reach + 1)) % number

    def step(group: int, way: _Way) -> tuple[int, np.ndarray]:
        """How a way moves the state, and its log weight for every start and state."""
        first = place(group)
        weight = np.log(way.chance) + walked[first + way.paired] - walked[first]
        move = way.marks - groups[group][0]
        if move and elsewhere is not None:
            weight = weight + elsewhere[first]
        return move, weight

    def moved(values: np.ndarray, by: int) -> np.ndarray:
        out = np.full_like(values, -np.inf)
        out[:, max(by, 0) : states + min(by, 0)] = values[:, max(-by, 0) : states - max(by, 0)]
        return out

    forward = np.full((len(groups) + 1, number, states), -np.inf)
    forward[0, :, reach] = begins
    for group, ways in enumerate(options):
        for way in ways:
            move, weight = step(group, way)
            forward[group + 1] = np.logaddexp(forward[group + 1], moved(forward[group] + weight, move))
    backward = np.full((number, states), -np.inf)
    backward[:, reach + off] = 0.0
    whole = float(special.logsumexp(forward[-1] + backward))
    found: dict[str, np.ndarray] = {}
    if not np.isfinite(whole):
        return whole, found
    for group in range(len(groups) - 1, -1, -1):
        now = np.full((number, states), -np.inf)
        for way in options[group]:
            move, weight = step(group, way)
            after = moved(backward, -move) + weight
            now = np.logaddexp(now, after)
            if way.what:
                chance = np.exp(forward[group] + after - whole)
                np.add.at(found.setdefault(way.what, np.zeros(number)), place(group), chance)
        backward = now
    return whole, found


def _places(count: Count, at: dict[str, np.ndarray], most: int):
    """The likely places, best first; what is named has at least an even chance."""
    number = len(count.marks)
    reach = number / HOURS
    away = np.abs(np.arange(number)[:, None] - np.arange(number))
    near = np.minimum(away, number - away) <= reach
    left = {what: chance.copy() for what, chance in at.items()}
    for _ in range(most):
        sums = {what: near @ chance for what, chance in left.items()}
        if not sums:
            return
        what = max(sums, key=lambda name: sums[name].max())
        # Of the places with as good a neighbourhood the one that is likeliest by itself.
        best = np.flatnonzero(sums[what] >= sums[what].max() - 1e-6)
        mark = int(best[np.argmax(left[what][best])])
        probability = float(min(sums[what][mark], 1.0))
        if probability < NAMED:
            return
        mark = int(np.argmax(np.where(near[mark], left[what], -1)))
        first = mark + 1
        last = first % number + 1 if what in ("increase too many", "decrease left out", "stitch too many") else first
        first, last = ((number if mark == 0 else mark), first) if what == "stitch skipped" else (first, last)
        spot = (count.marks[first - 1] + count.marks[last - 1]) / 2
        point = (float(spot[0]), float(spot[1]))
        yield Slip(what, (first, last), point, clock_position(point, count.centre), probability)
        for chance in left.values():
            chance[near[mark]] = 0.0
