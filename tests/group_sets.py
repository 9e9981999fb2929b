"""Groups of makers whose every slip is known: for tests and measurements of whose doing it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from counter.basics.answer import Refusal
from counter.group.attribution import ObservedRound
from counter.group.match import MatchedPhoto
from counter.group.store import Answer, Part
from counter.group.table import LEAST_LOOK_PROBABILITY
from counter.notebook.codec import entry_of
from counter.plan import read_plan

#: How sure photos are, from nearly always to hardly ever: probabilities of the truth lying -2 to 2 from the photo's
#: own number. Their mix is like that of counts of rendered photos, most of them not sure.
SHAPES = (
    (0.0, 0.01, 0.98, 0.01, 0.0),
    (0.01, 0.05, 0.88, 0.05, 0.01),
    (0.02, 0.2, 0.7, 0.07, 0.01),
    (0.03, 0.1, 0.55, 0.28, 0.04),
    (0.08, 0.24, 0.4, 0.2, 0.08),
)
MIX = (0.35, 0.2, 0.2, 0.15, 0.1)


@dataclass(frozen=True)
class Planted:
    """What is wrong in a group: the pattern's round and by how much, and slips by (maker, round)."""

    pattern: tuple[int, int] | None
    slips: dict[tuple[str, int], int]


def measured(rows: Sequence[Mapping]) -> list[dict[int, float]]:
    """What photos whose truth is known say of it.

    Parameters
    ----------
    rows : sequence of mapping
        Those of ``rimtally evaluate --json``.

    Returns
    -------
    list of dict
        For each photo that holds a piece: stitches over the true number -> probability; empty where it is refused
        or has to be taken again, so that a group doesn't look at it.
    """
    counts = []
    for row in rows:
        if row["refuse"] is not None:
            continue
        says = {number - row["true"]: chance for number, chance in row["posterior"]}
        first = max(says, key=says.__getitem__, default=0)
        near = sum(says.get(first + step, 0.0) for step in (-1, 0, 1))
        counts.append(says if row["state"] == "sure" or near >= LEAST_LOOK_PROBABILITY else {})
    return counts


def simulated(
    rng: np.random.Generator,
    *,
    makers: int = 8,
    rounds: int = 12,
    pattern: bool = False,
    maker: bool = False,
    share: float = 0.75,
    slips: float = 0.05,
    missing: float = 0.05,
    sure: bool = False,
    counts: Sequence[Mapping[int, float]] = (),
) -> tuple[list[ObservedRound], Planted]:
    """A group of makers who work one pattern and photograph their rounds.

    Parameters
    ----------
    rng : numpy.random.Generator
    makers, rounds : int
    pattern : bool
        One round of the pattern is wrong: `share` of the makers come out off by it alike.
    maker : bool
        The first maker is off in two rounds.
    share : float
    slips : float
        How often any maker is off by a slip of their own; each has a rate of their own about it.
    missing : float
        Share of photos that were not sent.
    sure : bool
        Every photo is of the two surest kinds.
    counts : sequence of mapping
        What real photos say, as of :func:`measured`; each photo then is one of
        them, and one that says nothing isn't seen.
    """
    names = [f"maker {chr(65 + k)}" for k in range(makers)]
    wrong = None
    if pattern:
        wrong = (int(rng.integers(2, rounds + 1)), int(rng.choice([-1, 1, -2, -6], p=[0.5, 0.2, 0.2, 0.1])))
        follow = set(rng.permutation(names)[: round(share * makers)])
    planted: dict[tuple[str, int], int] = {}
    if maker:
        own = sorted(int(r) for r in rng.choice(np.arange(2, rounds + 1), 2, replace=False))
        own = [r for r in own if wrong is None or r != wrong[0]]
        planted = {(names[0], r): int(rng.choice([-1, 1, -2])) for r in own}
    seen = []
    for name in names:
        rate = float(rng.beta(2, 2 / slips - 2))
        keeps = rng.random()  # how likely a maker goes on with what is off
        off = 0
        for number in range(1, rounds + 1):
            off = off if rng.random() < keeps else 0
            if (name, number) in planted:
                off += planted[name, number]
            elif rng.random() < rate:
                off += int(rng.choice([-1, 1, -2, 2, 3], p=[0.5, 0.25, 0.12, 0.08, 0.05]))
            if wrong and number == wrong[0] and name in follow:
                off += wrong[1]
            expected = 6 * number
            if counts:
                says = counts[rng.integers(len(counts))]
                if says and rng.random() >= missing:
                    chances = {expected + off + step: p for step, p in says.items() if expected + off + step > 0}
                    seen.append(ObservedRound(name, number, expected, chances))
                continue
            shape = np.array(SHAPES[rng.choice(2) if sure else rng.choice(len(SHAPES), p=MIX)])
            if rng.random() < 0.5:
                shape = shape[::-1]
            photo = expected + off - int(rng.choice(np.arange(-2, 3), p=shape / shape.sum()))
            if rng.random() >= missing:
                chances = {photo + k - 2: float(p) for k, p in enumerate(shape) if p > 0}
                seen.append(ObservedRound(name, number, expected, chances))
    return seen, Planted(wrong, planted)


def written_group(make_count, small):
    """A group of invented photos whose every number is chosen: answers by content, places by photo, and its plan.

    Four makers and three rounds: three are one short in round 3, one photo is not sure, one refused, one has no place.
    """
    numbers = {
        ("=2+5 Ada", 1): 6, ("=2+5 Ada", 2): 12, ("=2+5 Ada", 3): 17,
        ("Bo <b>", 1): 6, ("Bo <b>", 2): 13, ("Bo <b>", 3): 17,
        ("Cy Dee", 1): 6, ("Cy Dee", 2): 12, ("Cy Dee", 3): 17,
        ("C. D.", 1): 6, ("C. D.", 2): (12, 11), ("C. D.", 3): None,
    }  # fmt: skip
    answers, places, contents = {}, [], {}
    for k, ((maker, number), counted) in enumerate(numbers.items()):
        content, photo = f"{k:064x}", f"{maker}/{number}.jpg"
        if counted is None:
            part = Part(Refusal("no piece"), small)
        else:
            if isinstance(counted, tuple):
                doubts = ((3, (320.0, 120.0), "", "wide"),)
                count = make_count({counted[0]: 0.6, counted[1]: 0.4}, sure=False, doubts=doubts)
            else:
                count = make_count({counted: 0.995, counted + 1: 0.005})
            sizing = {"tension": "even", "each_round": 0.002 * k, "gauge": {"stitches_10_cm": 18.0 + k, "error": 0.5}}
            crops = (small,) if isinstance(counted, tuple) else ()
            part = Part(entry_of(count, count.size), small, crops, sizing)
        answers[content] = Answer(content, "test", (part,))
        places.append(MatchedPhoto(photo, maker, number, "names"))
        contents[photo] = content
    places.append(MatchedPhoto("secret place.jpg", why="Nothing says whose it is and which round."))
    contents["secret place.jpg"] = contents["Bo <b>/1.jpg"]
    return tuple(places), contents, answers, read_plan("6, 12, 18")
