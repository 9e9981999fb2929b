"""Random written rounds, worked with the slips that a maker makes.

A worked piece is a list of rounds. Every stitch knows the place in the round
below that it is worked into, so increases, decreases, missed and doubled
increases are all the same thing: how many stitches share a base.

Rounds go on in a spiral, or each is joined to its own first stitch with a slip
stitch and the next one begins with a chain. The slip stitch is never counted.
A chain of one before single crochet and of two before half double is not
counted; a chain of three stands for the first double crochet and is counted
(common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

__all__ = [
    *(
        "CHAINS",
        "HEIGHTS",
        "SLIPS",
        "Worked",
        "flat_increase",
        "plan_totals",
        "plan_to",
        "random_wide",
        "random_worked",
    ),
    *("opened", "work", "work_with_slip", "written"),
]

#: Height of each kind of stitch over that of a single crochet (from memory, and common practice:
#: half double is about a third taller, double twice as tall).
HEIGHTS = {"single": 1.0, "half double": 1.4, "double": 2.1}

#: Chains that begin a joined round of each kind (common practice).
CHAINS = {"single": 1, "half double": 2, "double": 3}


#: What a slip does to the number of stitches worked into one stitch below.
SLIPS = {"increase left out": -1, "increase too many": 1}


@dataclass(frozen=True, eq=False)
class Worked:
    """Rounds as they were worked.

    Parameters
    ----------
    bases : tuple of ndarray of shape (stitches of the round,), float
        For every round, the place of the base of each stitch in the round
        below, counted in stitches from 0; a decrease stands at a half place.
        For the first round the places count round the ring, 0 to stitches.
    plan : tuple of int
        Total of each round as it was meant.
    open_round : bool
        True where the last round is still being worked.
    slips : tuple of str
        What went wrong, in a maker's words; empty where all is on plan.
    kinds : tuple of str
        Stitch of each round, a key of :data:`HEIGHTS`; empty for single crochet throughout.
    joined : bool
        True where each round is closed with a slip stitch and begun with a
        chain, False for a spiral.
    turned : bool
        True where the work is turned after each round, so that every second
        one, from the second, shows its wrong side and runs the other way. The
        places of `bases` then still count in the direction of the first round.
        Turned rounds are joined and whole.
    """

    bases: tuple[np.ndarray, ...]
    plan: tuple[int, ...]
    open_round: bool
    slips: tuple[str, ...]
    kinds: tuple[str, ...] = ()
    joined: bool = False
    turned: bool = False

    def __post_init__(self) -> None:
        if self.kinds and len(self.kinds) != len(self.bases):
            raise ValueError("every round needs its kind of stitch")
        if self.turned and (self.open_round or not self.joined):
            raise ValueError("turned rounds must be joined and whole")
        for base in self.bases:
            base.flags.writeable = False

    @property
    def totals(self) -> tuple[int, ...]:
        """Stitches of every complete round."""
        counts = tuple(len(base) for base in self.bases)
        return counts[:-1] if self.open_round else counts

    @property
    def done(self) -> int:
        """Stitches of the round in progress, 0 where there is none."""
        return len(self.bases[-1]) if self.open_round else 0

    @property
    def left(self) -> int:
        """Stitches of the round below that the round in progress has not reached."""
        if not self.open_round:
            return 0
        return self.totals[-1] - (int(np.ceil(self.bases[-1].max())) + 1)

    def kind(self, round_number: int) -> str:
        """Stitch of a round, a key of :data:`HEIGHTS`."""
        return self.kinds[round_number] if self.kinds else "single"

    def backwards(self, round_number: int) -> bool:
        """True where a round shows its wrong side and runs against the first one."""
        return self.turned and round_number % 2 == 1

    def closed(self, round_number: int) -> bool:
        """True where a round is joined to its own first stitch."""
        return self.joined and not (self.open_round and round_number == len(self.bases) - 1)

    def chained(self, round_number: int) -> bool:
        """True where a chain stands for the first stitch of a round."""
        return self.joined and self.kind(round_number) == "double"

    @property
    def rim(self) -> list[tuple[int, int]]:
        """(round, stitch) of every stitch of the rim, in working order."""
        last = len(self.bases) - 1
        worked = [(last, i) for i in range(len(self.bases[last]))]
        if self.backwards(last):
            worked.reverse()
        below = [(last - 1, self.totals[-1] - self.left + i) for i in range(self.left)]
        return worked + below

    def increases(self, round_number: int) -> list[int]:
        """Stitches of a round that share their base with a neighbour.

        Parameters
        ----------
        round_number : int
            Number of the round, from 0. The first round has no increases.

        Returns
        -------
        list of int
            Numbers of the stitches, from 0.
        """
        if round_number == 0:
            return []
        base = self.bases[round_number]
        same = np.isclose(np.diff(base), 0)
        shared = np.concatenate([same, [False]]) | np.concatenate([[False], same])
        return np.flatnonzero(shared).tolist()


def flat_increase(height: float, width: float) -> float:
    """Stitches to add each round for a flat circle.

    A round that lies one height further out is longer by ``2 * pi * height``
    (geometry of the circle).

    Parameters
    ----------
    height, width : float
        Height of a round and width of a stitch, in the same unit.

    Returns
    -------
    float
        ``2 * pi * height / width``.
    """
    return 2 * np.pi * height / width


def plan_totals(start: int, added: int, rounds: int) -> tuple[int, ...]:
    """Round totals of a circle that grows by the same number every round.

    Parameters
    ----------
    start : int
        Stitches worked into the ring.
    added : int
        Increases of each round after the first.
    rounds : int
        How many rounds.

    Returns
    -------
    tuple of int
        Total of every round.
    """
    return tuple(start + added * r for r in range(rounds))


def _children(below: int, total: int, offset: float) -> np.ndarray:
    """Stitches worked into each stitch below, spread evenly from an offset (0 to 1)."""
    extra = total - below
    children = np.ones(below, dtype=int)
    if extra > 0:
        whole, rest = divmod(extra, below)
        children += whole
        places = np.floor((np.arange(rest) + offset) * below / max(rest, 1)).astype(int) % below
        np.add.at(children, places, 1)
    return children


def _bases(children: np.ndarray) -> np.ndarray:
    return np.repeat(np.arange(len(children), dtype=float), children)


def _decreased(below: int, total: int, offset: float) -> np.ndarray:
    """Bases of a round that joins pairs of stitches below, spread evenly."""
    joins = below - total
    if joins > total:
        raise ValueError(f"a round of {below} can't be decreased to {total} by joining pairs")
    used = np.ones(total, dtype=int)
    used[np.floor((np.arange(joins) + offset) * total / joins).astype(int) % total] += 1
    return np.cumsum(used) - used + (used - 1) / 2


def work(
    plan: tuple[int, ...],
    rng: np.random.Generator,
    *,
    stacked: bool = True,
    slips: int = 0,
    open_share: float | None = None,
) -> Worked:
    """Work a plan, stitch by stitch.

    Parameters
    ----------
    plan : tuple of int
        Total of each round.
    rng : numpy.random.Generator
        Where slips fall and how increases are staggered.
    stacked : bool
        True to put the increases of every round above each other (a hexagon
        for six), False to stagger them (a circle).
    slips : int
        How many times an increase is missed or made twice, or a stitch is
        skipped. Slips fall in the last two rounds worked, so that the rim
        differs from the plan.
    open_share : float or None
        Where given, 0 to 1: the last round is in progress and this share of
        the round below has been worked into.

    Returns
    -------
    Worked
    """
    if min(plan) < 3:
        raise ValueError("a round needs at least 3 stitches")
    rounds = [np.arange(plan[0], dtype=float)]
    told: list[str] = []
    slip_rounds: Sequence[int] | np.ndarray = (
        rng.choice([r for r in (len(plan) - 1, len(plan) - 2) if r > 0], slips) if slips and len(plan) > 1 else []
    )
    for r in range(1, len(plan)):
        below = len(rounds[-1])
        meant = max(3, below + plan[r] - plan[r - 1])
        offset = 0.999 if stacked else float(rng.uniform(0.02, 0.98))
        if meant < below:
            rounds.append(_decreased(below, meant, offset))
            continue
        children = _children(below, meant, offset)
        for _ in range(int(np.sum(np.asarray(slip_rounds) == r))):
            doubled = np.flatnonzero(children >= 2)
            single = np.flatnonzero(children == 1)
            kind = rng.choice(["missed increase", "doubled increase", "skipped stitch"], p=[0.5, 0.35, 0.15])
            if kind == "missed increase" and len(doubled):
                children[rng.choice(doubled)] -= 1
            elif kind == "skipped stitch" and len(single) > 6:
                children[rng.choice(single)] = 0
            elif len(single):
                kind = "doubled increase"
                children[rng.choice(single)] += 1
            else:
                continue
            told.append(f"{kind} in round {r + 1}")
        rounds.append(_bases(children))
    whole = Worked(tuple(rounds), tuple(plan), False, tuple(told))
    return whole if open_share is None else opened(whole, open_share)


def opened(worked: Worked, share: float) -> Worked:
    """A whole piece as it was when its last round was still being worked.

    Parameters
    ----------
    worked : Worked
        Not turned.
    share : float
        How much of the round below has been worked into, 0 to 1.

    Returns
    -------
    Worked
        The piece itself where it has one round only, or the cut leaves
        nothing or everything of the last.
    """
    if len(worked.bases) < 2 or worked.open_round:
        return worked
    below, last = len(worked.bases[-2]), worked.bases[-1]
    reached = int(np.clip(round(share * below), 1, below - 1))
    cut = last[last <= reached - 1]
    if not 0 < len(cut) < len(last):
        return worked
    return replace(worked, bases=(*worked.bases[:-1], cut), open_round=True)


def work_with_slip(rng: np.random.Generator, slip: str | None) -> tuple[Worked, np.ndarray, int | None]:
    """Draw a flat circle whose last round increases, worked with one slip in that round or with none.

    Parameters
    ----------
    rng : numpy.random.Generator
        The same state draws the same plan, whatever the slip.
    slip : {"increase left out", "increase too many"} or None

    Returns
    -------
    worked : Worked
    meant : ndarray of shape (stitches of the round below,), int
        Stitches that the last round was meant to have in each stitch below.
    at : int or None
        Number, from 0, of the first stitch on the rim that the slip concerns.
    """
    start = int(rng.choice([5, 6, 7, 8], p=[0.08, 0.62, 0.16, 0.14]))
    rounds = int(rng.integers(3, 11))
    stacked = bool(rng.random() < 0.55)
    offsets = rng.uniform(0.02, 0.98, rounds)
    totals = plan_totals(start, start, rounds)
    children = [
        _children(below, total, 0.999 if stacked else offset)
        for below, total, offset in zip(totals[:-1], totals[1:], offsets, strict=False)
    ]
    meant = children[-1].copy()
    at = None
    if slip is not None:
        where = int(rng.choice(np.flatnonzero(meant == (2 if SLIPS[slip] < 0 else 1))))
        children[-1][where] += SLIPS[slip]
        at = int(children[-1][:where].sum())
    bases = (np.arange(start, dtype=float), *(_bases(own) for own in children))
    told = (f"{slip} in round {rounds}",) if slip else ()
    return Worked(bases, totals, False, told), meant, at


def written(round_number: int, children: np.ndarray) -> str:
    """A round of single crochet as it is written down.

    Parameters
    ----------
    round_number : int
        From 1.
    children : ndarray of shape (K,), int
        1 or 2 stitches in each stitch of the round below.

    Returns
    -------
    str
        "R3: sc 1, inc, sc 1, inc [6]".
    """
    parts: list[str] = []
    run = 0
    for number in children:
        run = run + 1 if number == 1 else 0
        if number == 1 and run > 1:
            parts[-1] = f"sc {run}"
        else:
            parts.append("sc 1" if number == 1 else "inc")
    return f"R{round_number}: {', '.join(parts)} [{int(np.sum(children))}]"


def random_worked(rng: np.random.Generator, *, difficulty: str) -> tuple[Worked, float]:
    """Draw a piece: its plan, how it was worked, and the shape of its stitches.

    Parameters
    ----------
    rng : numpy.random.Generator
    difficulty : {"easy", "ordinary", "hard"}
        Easy pieces are whole, on plan and of moderate size.

    Returns
    -------
    worked : Worked
        5 to about 110 stitches on the rim.
    ratio : float
        Height of a round over width of a stitch, 0.75 to 1.1.
    """
    start = int(rng.choice([5, 6, 7, 8], p=[0.08, 0.62, 0.16, 0.14]))
    ratio = float(np.clip(rng.normal(0.95, 0.08), 0.75, 1.1))
    added = start if rng.random() < 0.85 else int(rng.integers(5, 9))
    most = {"easy": 11, "ordinary": 14, "hard": 17}[difficulty]
    least = 1 if difficulty == "hard" else 2
    rounds = int(np.clip(round(rng.gamma(3.2, 1.9)), least, most))
    plan = list(plan_totals(start, added, rounds))
    if rounds > 3 and rng.random() < 0.3:
        # Even rounds: at the end they make a cup, in between they are taken up.
        even = int(rng.integers(1, 5 if difficulty != "easy" else 3))
        at = len(plan) if rng.random() < 0.6 else int(rng.integers(2, len(plan)))
        plan = plan[:at] + [plan[at - 1]] * even + plan[at:]
    if difficulty == "hard" and rounds > 5 and rng.random() < 0.15:
        plan.append(plan[-1] - start)
    while plan[-1] > 112:
        plan.pop()
    slips = 0
    if difficulty != "easy" and len(plan) > 2 and rng.random() < 0.35:
        slips = int(rng.integers(1, 3))
    open_share = None
    if len(plan) > 1 and rng.random() < (0.15 if difficulty == "easy" else 0.3):
        open_share = float(rng.uniform(0.08, 0.95))
    stacked = bool(rng.random() < 0.55)
    return work(tuple(plan), rng, stacked=stacked, slips=slips, open_share=open_share), ratio


def plan_to(total: int, start: int, added: int | list[int]) -> tuple[int, ...]:
    """Round totals of a circle that grows steadily and ends at a total.

    Parameters
    ----------
    total : int
        Of the last round; at least 3.
    start : int
        Stitches worked into the ring; no more than `total` are.
    added : int or list of int
        Increases of each round but the last, which takes what is left; of a
        list, the last number goes on.

    Returns
    -------
    tuple of int
        Total of every round.
    """
    steps = [added] if isinstance(added, int) else added
    plan = [min(start, total)]
    while plan[-1] < total:
        plan.append(min(plan[-1] + steps[min(len(plan), len(steps)) - 1], total))
    return tuple(plan)


def random_wide(rng: np.random.Generator) -> tuple[Worked, float, str]:
    """Draw a piece for training: any total, any shape and stitch that a circle can have.

    Parameters
    ----------
    rng : numpy.random.Generator

    Returns
    -------
    worked : Worked
        5 to 120 stitches on the rim, all about equally often, small ones a little more.
    ratio : float
        Height of a round of single crochet over width of a stitch.
    shape : {"flat", "cup", "ruffle"}
    """
    total = int(rng.integers(5, 121)) if rng.random() < 0.7 else int(np.exp(rng.uniform(np.log(5), np.log(60))))
    ratio = float(np.clip(rng.normal(0.95, 0.12), 0.7, 1.2))
    inner, outer = [
        ("single", "single"),
        ("half double",) * 2,
        ("double",) * 2,
        ("single", str(rng.choice(["half double", "double"]))),
    ][rng.choice(4, p=[0.46, 0.18, 0.2, 0.16])]
    change = int(rng.integers(1, 4)) if inner != outer else 0
    # Of some pieces the last round is of another stitch than the rest.
    edge = str(rng.choice(list(HEIGHTS))) if rng.random() < 0.15 else outer
    snug = rng.uniform(0.85, 1.15)

    def added(kind):
        return max(4, round(flat_increase(ratio * HEIGHTS[kind], 1.0) * snug))

    first = inner if change else outer
    start = round(added(first) * rng.uniform(0.85, 1.15))
    if total > 40 and rng.random() < 0.35:
        # Large rings begin with many stitches round an open middle.
        start = int(rng.integers(10, 25))
    steps = [added(inner)] * max(change - 1, 0) + [added(outer)]
    shape = str(rng.choice(["flat", "cup", "ruffle"], p=[0.7, 0.2, 0.1]))
    if shape == "ruffle" and total >= 2 * start:
        # The last round doubles, or nearly.
        below = max(start, int(np.ceil(total / rng.uniform(1.4, 2.0))))
        plan = (*plan_to(below, start, steps), total)
    elif shape == "cup" and total >= 10:
        plan = plan_to(total, start, steps)
        plan = plan + (total,) * int(rng.integers(1, 4))
        if total > 18 and rng.random() < 0.3:
            plan = (*plan_to(total + steps[-1], start, steps), total + steps[-1], total)
    else:
        shape = "flat"
        plan = plan_to(total, start, steps)
    kinds = tuple(inner if r < change else outer for r in range(len(plan) - 1)) + (edge if len(plan) > 1 else first,)
    tall = kinds[-1] != "single"
    joined = bool(rng.random() < (0.75 if tall else 0.4))
    turned = bool(joined and len(plan) > 1 and rng.random() < 0.3)
    slips = int(rng.integers(1, 3)) if len(plan) > 2 and rng.random() < 0.4 else 0
    open_share = float(rng.uniform(0.05, 0.95)) if len(plan) > 1 and not turned and rng.random() < 0.27 else None
    worked = work(plan, rng, stacked=bool(rng.random() < 0.4), slips=slips, open_share=open_share)
    return replace(worked, kinds=kinds, joined=joined, turned=turned), ratio, shape
