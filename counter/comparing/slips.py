"""Where a round left its plan: which increase was left out, or made twice, and near which marks.

The written round says how many stitches go into each stitch of the round
below; the photo says how many marks there are, and how likely each of them
shares its base with a neighbour. The marks are read as the written round with
slips: begun at any mark, each group of stitches with one stitch fewer or more
than written, as often as makers slip. Summing over all readings (a hidden
Markov model over the groups, forward and backward: L. R. Rabiner, "A tutorial
on hidden Markov models", Proceedings of the IEEE 77(2), 1989) gives the
probability of a slip at every mark. The count itself may be off as well: a mark too
many or too few, most likely in a place in doubt, as probable as the count says.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from counter.basics.answer import Count, clock_hour
from counter.comparing.remarks import Remark
from counter.plan import PlanRound

__all__ = ["Slip", "Slips", "find_slips", "shared_at"]

#: How often makers slip at one place (from memory; only the order matters): an
#: increase or a decrease left out, one made twice, a plain stitch made twice,
#: a plain stitch skipped or missing from the round below, one more in the round below.
LEFT_OUT_RATE, MADE_TWICE_RATE, PLAIN_DOUBLED_RATE, PLAIN_SKIPPED_RATE, MORE_BELOW_RATE = 0.04, 0.01, 0.02, 0.01, 0.001
#: Share of the log-odds of a shared base that counts, and the most that one mark says.
EVIDENCE_SHARE, MOST_EVIDENCE_NATS = 0.7, 3.0
#: Share of miscounts that lie within this many marks of a place in doubt or the start of the round.
MISCOUNTS_IN_DOUBT_SHARE, NEAR_DOUBT_MARKS = 0.8, 1.5
#: Chance that the round begins where its start was seen, and by how many marks it may be off then.
START_SEEN_PROBABILITY, START_SD_MARKS = 0.9, 1.0
#: Differences from the written total beyond which no single place is to blame.
MOST_OFF_STITCHES = 3
#: Chance that the picture itself misleads: of 112 places that were claimed on rendered photos
#: 5 were wrong, and real photos were not measured.
MISLED_PROBABILITY = 0.05
#: Marks that a count may have too many or too few.
MOST_MISCOUNTED_MARKS = 1
#: A place is as wide as a twelfth of the way round, one hour of the clock.
PLACES_AROUND = 12
#: Least probability of a place that is named at all; a round that is right with this
#: probability has none.
LEAST_NAMED_PROBABILITY, ROUND_RIGHT_PROBABILITY = 0.5, 0.99

#: Slips that leave all increases where they belong.
PLAIN_SLIPS = ("stitch skipped", "stitch too many")


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
    hour : int
        The place as on a clock face, 1 to 12; 12 is up.
    probability : float
        Probability that it lies there, within a twelfth of the way round to either side, 0 to 1,
        where the round is not right.
    """

    what: str
    marks: tuple[int, int]
    at: tuple[float, float]
    hour: int
    probability: float


@dataclass(frozen=True)
class Slips:
    """What the marks say about a round against its writing.

    Parameters
    ----------
    right : float
        Probability that the round holds what is written; where the count is
        another, that the count is off.
    holds : int
        Most likely number of stitches, by count and plan together.
    places : tuple of Slip
        The likely places, most probable first, as many as stitches are short or
        over at most; none where the photo can't tell.
    why_none : Remark or None
        Why there are no places; None where there are.
    """

    right: float
    holds: int
    places: tuple[Slip, ...]
    why_none: Remark | None = None

    @property
    def claimed(self) -> tuple[Slip, ...]:
        """The places, where it is likelier that the round is off than that it is right."""
        return self.places if self.right < 0.5 else ()


@dataclass(frozen=True)
class _Way:
    """One way to work or count a group of stitches: how many marks it leaves, of which how many look paired."""

    marks: int
    paired: int
    chance: float
    what: str = ""
    miscount: int = 0


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
        return Slips(0.0, number, (), Remark.of("no place: total"))
    off = number - total
    if abs(off) > MOST_OFF_STITCHES:
        return Slips(0.0, number, (), Remark.of("no place: far off", off=off))
    groups = _groups(written, total)
    if groups is None:
        return Slips(0.0, number, (), Remark.of("no place: not told"))
    # Even shaping whose places aren't written may begin anywhere in the round.
    told = bool(written.increases or written.decreases) or written.kind == "even"
    chances, at = _read(groups, count, _begins(count, count.start_seen and told), off)
    if not chances:
        return Slips(0.0, number, (), Remark.of("no place: fits nowhere"))
    held = max(chances, key=lambda slipped: chances[slipped])
    right = chances.get(0, 0.0)
    # Of the readings with a slip, not of all.
    at = {what: chance / max(1 - right, 1e-9) for what, chance in at.items()}
    places = tuple(_places(count, at, max(1, abs(held)))) if right < ROUND_RIGHT_PROBABILITY else ()
    if not places and right >= ROUND_RIGHT_PROBABILITY:
        return Slips(right, total + held, (), Remark.of("no place: right"))
    if not places:
        plain = sum(float(at[what].sum()) for what in PLAIN_SLIPS if what in at)
        whole = written.kind == "increase" and held != 0 and plain > LEAST_NAMED_PROBABILITY * abs(held)
        return Slips(right, total + held, (), Remark.of("no place: plain" if whole else "no place: not seen"))
    return Slips(right, total + held, places)


def _groups(written: PlanRound, total: int) -> list[tuple[int, bool]] | None:
    """(stitches made, whether it joins stitches) of each group of the round, in order; None where nothing tells.

    Increases and decreases whose places aren't written are spread evenly, as is usual (common practice).
    """
    used = written.used
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


def shared_at(count: Count) -> np.ndarray:
    """Chance that each mark shares its base with a neighbour.

    Parameters
    ----------
    count : Count
        N marks.

    Returns
    -------
    ndarray of shape (N,), float
        0 to 1, read off :attr:`counter.basics.answer.Count.shared` where the marks stand.
    """
    away = np.linalg.norm(count.marks[:, None] - count.outline[None], axis=2)
    nearest = away.argmin(axis=1)
    points = len(count.outline)
    # About a sixth of a stitch to either side: the chance is of the stitch, not of the point.
    reach = max(0, round(points / len(count.marks) / 6))
    around = (nearest[:, None] + np.arange(-reach, reach + 1)) % points
    return count.shared[around].mean(axis=1)


def _log_odds(count: Count) -> np.ndarray:
    """Log-odds that each mark shares its base, as far as they are trusted, shape (N,)."""
    said = special.logit(np.clip(shared_at(count), 1e-4, 1 - 1e-4))
    return np.clip(EVIDENCE_SHARE * said, -MOST_EVIDENCE_NATS, MOST_EVIDENCE_NATS)


def _begins(count: Count, known: bool) -> np.ndarray:
    """Log probability that the round begins at each mark, shape (N,)."""
    number = len(count.marks)
    even = np.full(number, 1 / number)
    if not known:
        return np.log(even)
    away = np.minimum(np.arange(number), number - np.arange(number))
    near = np.exp(-0.5 * (away / START_SD_MARKS) ** 2)
    return np.log(START_SEEN_PROBABILITY * near / near.sum() + (1 - START_SEEN_PROBABILITY) * even)


def _doubtful(count: Count) -> np.ndarray:
    """Log probability that a miscount lies at each mark, shape (N,)."""
    number = len(count.marks)
    places = [doubt.mark - 1 for doubt in count.doubts] + ([0, number - 1] if count.start_seen else [])
    even = np.full(number, 1 / number)
    if not places:
        return np.log(even)
    away = np.abs(np.arange(number)[:, None] - np.array(places))
    near = (np.minimum(away, number - away).min(axis=1) <= NEAR_DOUBT_MARKS).astype(float)
    return np.log(MISCOUNTS_IN_DOUBT_SHARE * near / near.sum() + (1 - MISCOUNTS_IN_DOUBT_SHARE) * even)


def _ways(made: int, joins: bool) -> list[_Way]:
    """The ways to work a group of stitches, and to count it."""
    if joins:
        ways = [_Way(1, 0, 1 - LEFT_OUT_RATE), _Way(2, 0, LEFT_OUT_RATE, "decrease left out")]
    elif made > 1:
        ways = [
            _Way(made, made, 1 - LEFT_OUT_RATE - MADE_TWICE_RATE),
            _Way(made - 1, made - 1 if made > 2 else 0, LEFT_OUT_RATE, "increase left out"),
            _Way(made + 1, made + 1, MADE_TWICE_RATE, "increase too many"),
        ]
    else:
        ways = [
            _Way(1, 0, 1 - PLAIN_DOUBLED_RATE - PLAIN_SKIPPED_RATE - MORE_BELOW_RATE),
            _Way(2, 2, PLAIN_DOUBLED_RATE, "increase too many"),
            _Way(0, 0, PLAIN_SKIPPED_RATE, "stitch skipped"),
            _Way(2, 0, MORE_BELOW_RATE, "stitch too many"),
        ]
    # A stitch that is there but has no mark still looks as it is worked, and so does one beside a false mark.
    paired = made if made > 1 else 0
    return [*ways, _Way(made - 1, max(paired - 1, 0), 1.0, "", -1), _Way(made + 1, paired, 1.0, "", 1)]


def _read(
    groups: Sequence[tuple[int, bool]], count: Count, begins: np.ndarray, off: int
) -> tuple[dict[int, float], dict[str, np.ndarray]]:
    """All readings of the marks as these groups.

    Parameters
    ----------
    groups : list of (int, bool)
        U groups, as of :func:`_groups`.
    count : Count
        N marks.
    begins : ndarray of shape (N,), float
        Log probability that the round begins at each mark.
    off : int
        Marks less stitches written.

    Returns
    -------
    dict of int to float
        Probability of every number of stitches worked more than written;
        empty where the marks fit nowhere.
    dict of str to ndarray of shape (N,), float
        Expected number of each slip at each mark.
    """
    log_odds, doubtful = _log_odds(count), _doubtful(count)
    number = len(log_odds)
    # The state, for a round begun at each mark: stitches worked more than written, marks
    # more than stitches, in a table of shape (N, slips, miscounts).
    reach = abs(off) + 2
    slips, wrong = 2 * reach + 1, 2 * MOST_MISCOUNTED_MARKS + 1
    begun = np.arange(number)
    ahead = np.arange(-reach, reach + 1)[:, None] + np.arange(-MOST_MISCOUNTED_MARKS, MOST_MISCOUNTED_MARKS + 1)
    walked = np.concatenate([[0.0], np.cumsum(np.tile(log_odds, 3))])
    planned = np.concatenate([[0], np.cumsum([made for made, _ in groups])])
    options = [_ways(*group) for group in groups]
    shape = (number, slips, wrong)

    def place(group: int) -> np.ndarray:
        """Mark that comes next, for every start and state."""
        return (begun[:, None, None] + planned[group] + ahead) % number

    def step(group: int, way: _Way, first: np.ndarray) -> tuple[tuple[int, int], np.ndarray]:
        """How a way moves the state, and its log weight for every start and state."""
        weight = np.log(way.chance) + walked[first + way.paired] - walked[first]
        if way.miscount:
            return (0, way.miscount), weight + doubtful[first]
        return (way.marks - groups[group][0], 0), weight

    def moved(values: np.ndarray, by: tuple[int, int]) -> np.ndarray:
        if by == (0, 0):
            return values
        out = np.full(shape, -np.inf)
        (to_a, from_a), (to_b, from_b) = (_shifted(k, size) for k, size in zip(by, shape[1:], strict=True))
        out[:, to_a, to_b] = values[:, from_a, from_b]
        return out

    forward = np.full((len(groups) + 1, *shape), -np.inf)
    forward[0, :, reach, MOST_MISCOUNTED_MARKS] = begins
    for group, ways in enumerate(options):
        first = place(group)
        for way in ways:
            by, weight = step(group, way, first)
            forward[group + 1] = np.logaddexp(forward[group + 1], moved(forward[group] + weight, by))
    backward = np.full(shape, -np.inf)
    for miscount in range(-MOST_MISCOUNTED_MARKS, MOST_MISCOUNTED_MARKS + 1):
        worked = off - miscount
        if abs(worked) <= reach:
            # How likely so many stitches are by the count alone.
            backward[:, reach + worked, MOST_MISCOUNTED_MARKS + miscount] = np.log(
                count.posterior.get(number - miscount, 0.0) + 1e-9
            )
    ends = special.logsumexp(forward[-1] + backward, axis=(0, 2))
    whole = float(special.logsumexp(ends))
    if not np.isfinite(whole):
        return {}, {}
    found: dict[str, np.ndarray] = {}
    for group in range(len(groups) - 1, -1, -1):
        now = np.full(shape, -np.inf)
        first = place(group)
        for way in options[group]:
            by, weight = step(group, way, first)
            after = moved(backward, (-by[0], -by[1])) + weight
            now = np.logaddexp(now, after)
            if way.what:
                np.add.at(found.setdefault(way.what, np.zeros(number)), first, np.exp(forward[group] + after - whole))
        backward = now
    chances = np.exp(ends - whole)
    return {k - reach: float(chance) for k, chance in enumerate(chances) if chance > 0}, found


def _shifted(by: int, size: int) -> tuple[slice, slice]:
    """Where values go to and come from, moved along an axis of some size."""
    return slice(max(by, 0), size + min(by, 0)), slice(max(-by, 0), size - max(by, 0))


def _places(count: Count, at: dict[str, np.ndarray], most: int) -> Iterator[Slip]:
    """The likely places, best first; what is named has at least an even chance."""
    number = len(count.marks)
    reach = number / PLACES_AROUND
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
        probability = (1 - MISLED_PROBABILITY) * float(min(sums[what][mark], 1.0))
        if probability < LEAST_NAMED_PROBABILITY:
            return
        mark = int(np.argmax(np.where(near[mark], left[what], -1)))
        first = mark + 1
        last = first % number + 1 if what in ("increase too many", "decrease left out", "stitch too many") else first
        first, last = ((number if mark == 0 else mark), first) if what == "stitch skipped" else (first, last)
        spot = (count.marks[first - 1] + count.marks[last - 1]) / 2
        point = (float(spot[0]), float(spot[1]))
        yield Slip(what, (first, last), point, clock_hour(point, count.centre), probability)
        for chance in left.values():
            chance[near[mark]] = 0.0
