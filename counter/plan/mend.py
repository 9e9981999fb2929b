"""What was most likely meant by a round that doesn't agree: the one change that explains most.

Every small slip of a pen is tried on the round: another number of repeats or of plain
stitches, an increase for a decrease, a stitch more in the ring; another total; another
round below. A change explains the round where afterwards it uses the round below up,
makes its written total, and the next round can be worked over it. The likeliest of those
that explain all of it is told first; where none does, nothing is claimed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from counter.basics import words
from counter.plan.clean import clean_text
from counter.plan.tokens import MOST_STITCHES, Unreadable
from counter.plan.works import Conflict, Note, Outcome, Repeat, Spread, Work, sums

__all__ = ["mended"]

#: How unlikely each slip of a pen is, against a wrong total (supposed; only the order matters).
TOTAL_COST, TIMES_COST, SWAPPED_COST, PLAIN_COST, MADE_COST, BELOW_COST = 1.0, 1.05, 1.1, 1.2, 1.6, 1.3
#: What each further stitch of a plain stretch, or repeat, makes a slip less likely.
FURTHER_COST = 0.05
#: What speaks for a change: it makes a stretch like another one of the round.
LIKE_ANOTHER_GAIN = 0.1
#: What speaks against another total: the written one grows as the rounds below did.
STEADY_GAIN = 0.4
#: What speaks for a total: only over it the next round can be worked; what speaks against a change: the total is
#: wrong, too.
NEXT_GAIN, NEXT_WRONG_GAIN = 0.3, 0.6
#: What a rarer reading costs.
OTHER_READING_COST = 0.05
#: Most changes that are tried.
MOST_TRIED = 200

#: Whether the next round can be worked over a total; None where nothing tells.
Suits = Callable[[int], bool | None]


@dataclass(frozen=True)
class _Change:
    """One change: how unlikely, the works afterwards, where it was made."""

    cost: float
    nodes: tuple
    at: int = 0
    #: Whether it is made inside a repeat "around", of which many fit.
    open: bool = False


def mended(
    outcome: Outcome,
    *,
    number: int,
    below: int | None,
    stated: int | None,
    main: str,
    suits: Suits,
    steady: bool = False,
) -> tuple[tuple[Conflict, ...], int | None]:
    """Say what doesn't agree in a round, with the mend that explains most first.

    Parameters
    ----------
    outcome : Outcome
        What the round comes to, with its conflicts.
    number : int
        The round's number.
    below : int or None
        Stitches of the round below.
    stated : int or None
        The total as it was written down.
    main : str
        The main stitch, in US terms.
    suits : callable
        Whether the next round can be worked over so many stitches; None where nothing tells.
    steady : bool, optional
        Whether the written total grows by as much as the round below did.

    Returns
    -------
    conflicts : tuple of Conflict
        One where a mend was found; else those of the outcome.
    made : int or None
        What the round makes when it is mended; None where no mend was found.
    """
    found = outcome.conflicts
    if not found or not outcome.nodes or any(isinstance(node, Spread) for node in outcome.nodes):
        return found[:1], None
    start = outcome.start
    best: tuple[float, str, _Change, int, int] | None = None

    def offer(cost: float, kind: str, change: _Change, used: int, made: int) -> None:
        nonlocal best
        if best is None or cost < best[0]:
            best = cost, kind, change, used, made

    made, used = outcome.made, outcome.used
    fits = start or below is None or used == below
    if made is not None and stated is not None and made != stated and fits and suits(made) is not False:
        # A next round that can only be worked over the text's own total speaks for it.
        cost = TOTAL_COST - NEXT_GAIN * bool(suits(made)) + STEADY_GAIN * steady
        offer(cost, "total", _Change(TOTAL_COST, ()), used or 0, made)
    ends_well = stated is not None and made == stated
    if made is not None and used and below is not None and used != below and ends_well and suits(made) is not False:
        offer(BELOW_COST, "below", _Change(BELOW_COST, ()), used, made)
    every = chain(
        _changes(outcome.nodes, below, start),
        *(
            (replace(change, cost=change.cost + OTHER_READING_COST) for change in _changes(nodes, below, start))
            for nodes in outcome.others
        ),
    )
    for tried, change in enumerate(every):
        if tried > MOST_TRIED:
            break
        sum_ = _sum(change.nodes, below if not start else None)
        if sum_ is None:
            continue
        new_used, new_made = sum_
        if not start and below is not None and new_used != below or not 1 <= new_made <= MOST_STITCHES:
            continue
        speaks = suits(new_made)
        if speaks is False or stated is not None and new_made != stated and not speaks:
            continue
        if stated is None and (new_made == made and used == new_used or change.open and not speaks):
            continue
        cost = change.cost + NEXT_WRONG_GAIN * (stated is not None and new_made != stated)
        offer(cost, "text", change, new_used, new_made)
    if best is None:
        return found[:1], None
    return (_told(best, found[0], number=number, below=below, stated=stated, main=main, outcome=outcome),), best[4]


def _told(best, conflict: Conflict, *, number, below, stated, main, outcome: Outcome) -> Conflict:
    """The finding with its mend."""
    _, kind, change, used, made = best
    if kind == "total":
        return conflict
    if kind == "below":
        fix = words.MEND_BELOW_IS.format(n=used, before=number - 1)
        return Conflict(conflict.what, fix, conflict.at)
    text = clean_text(change.nodes, main)
    if outcome.start:
        fix = words.MEND_START.format(text=text, made=made)
    else:
        fix = words.MEND_TEXT.format(text=text, made=made, below=below if below is not None else used)
    at = conflict.at if not conflict.total else None
    return Conflict(conflict.what, fix, change.at or at)


# ------------------------------------------------------------------ slips of a pen


def _changes(nodes: Sequence, below: int | None, start: bool) -> Iterator[_Change]:
    """Every small change of a row of works."""
    used = _sum(nodes, None)
    works = [node for node in nodes if not isinstance(node, Note)]
    if used and used[0] and below and below > used[0] and below % used[0] == 0 and len(works) > 1 and not start:
        yield _Change(TIMES_COST, (Repeat(tuple(nodes), below // used[0]),))
    for at, node in enumerate(nodes):
        others = [_placeless(one) for index, one in enumerate(nodes) if index != at]
        around = isinstance(node, Repeat) and node.times is None
        for cost, new, place in _of_node(node, 1, below):
            alike = any(_placeless(one) in others for one in new)
            yield _Change(cost - LIKE_ANOTHER_GAIN * alike, (*nodes[:at], *new, *nodes[at + 1 :]), place, around)
    yield from _plain_left_out(nodes, below, used)
    swapped, many = _all_swapped(nodes)
    if many > 1:
        yield _Change(SWAPPED_COST + 0.05, swapped)


def _plain_left_out(nodes: Sequence, below: int | None, used: tuple[int, int] | None) -> Iterator[_Change]:
    """Plain stitches between increases or decreases, where only these were written: "inc x 6" for "(sc 1, inc) x 6"."""
    works = [at for at, node in enumerate(nodes) if not isinstance(node, Note)]
    node = nodes[works[0]] if len(works) == 1 else None
    times, work = 1, node
    if isinstance(node, Repeat) and node.times and len(node.body) == 1:
        times, work = node.times, node.body[0]
    if not isinstance(work, Work) or work.kind not in ("inc", "dec") or not used or not below:
        return
    many = times * work.times
    plain, left = divmod(below - used[0], many)
    if many > 1 and plain > 0 and not left:
        body = (Work("plain", work.stitch, 1, 1, plain), replace(work, times=1))
        at = works[0]
        yield _Change(PLAIN_COST, (*nodes[:at], Repeat(body, many), *nodes[at + 1 :]))


def _placeless(node):
    return replace(node, at=0) if isinstance(node, Repeat) else node


def _of_node(node, times: int, below: int | None) -> Iterator[tuple[float, tuple, int]]:
    """Changes of one work or repeat that is worked `times` times in all: cost, what stands there then, where."""
    if isinstance(node, Work):
        yield from ((cost, new, 0) for cost, new in _of_work(node, times))
    elif isinstance(node, Repeat):
        if node.times is None:
            counts = [(TIMES_COST, count) for count in _filling(node, below)]
        else:
            counts = [(TIMES_COST + FURTHER_COST * abs(count - node.times), count) for count in _counts(node.times)]
        for cost, count in counts:
            yield cost, (replace(node, times=count),), node.at
        for at, one in enumerate(node.body):
            for cost, new, place in _of_node(one, times * (node.times or 2), below):
                yield cost, (replace(node, body=(*node.body[:at], *new, *node.body[at + 1 :])),), place or node.at


def _of_work(node: Work, times: int) -> Iterator[tuple[float, tuple]]:
    """Changes of one work that is worked `times` times in all."""
    shaping = node.kind in ("inc", "dec")
    if node.kind in ("plain", "ring", "space") or shaping and (node.times > 1 or times == 1):
        each = TIMES_COST if shaping else PLAIN_COST
        for count in _counts(node.times):
            yield each + FURTHER_COST * abs(count - node.times), (replace(node, times=count),) if count else ()
    if node.kind == "plain" and node.times == 1 and times > 1:
        yield MADE_COST, (Work("inc", node.stitch, 1, 2),)
    if (node.kind, node.made) == ("inc", 2):
        yield SWAPPED_COST, (Work("dec", node.stitch, 2, 1, node.times),)
        yield MADE_COST, (replace(node, kind="plain", made=1),)
    if (node.kind, node.base) == ("dec", 2):
        yield SWAPPED_COST, (Work("inc", node.stitch, 1, 2, node.times),)
        yield MADE_COST, (Work("plain", node.stitch, 1, 1, node.times),)


def _counts(times: int) -> list[int]:
    """Numbers that one may be written for another: a few more or fewer, and a digit lost or doubled."""
    near = [times + off for off in (1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6)]
    if times >= 10:
        near += [times // 10, times % 10, *(times + off for off in (10, -10))]
    return [count for count in near if 0 <= count <= MOST_STITCHES and count != times]


def _filling(node: Repeat, below: int | None) -> list[int]:
    """How often a repeat "around" fits, the rest left over."""
    own = _sum(node.body, None)
    return [below // own[0]] if own and own[0] and below else []


def _all_swapped(nodes: Sequence) -> tuple[tuple, int]:
    """Every increase a decrease and every decrease an increase, and how many there are."""
    out, many = [], 0
    for node in nodes:
        if isinstance(node, Repeat):
            body, own = _all_swapped(node.body)
            node, many = replace(node, body=body), many + own
        elif isinstance(node, Work) and (node.kind, node.base, node.made) == ("inc", 1, 2):
            node, many = Work("dec", node.stitch, 2, 1, node.times), many + 1
        elif isinstance(node, Work) and (node.kind, node.base, node.made) == ("dec", 2, 1):
            node, many = Work("inc", node.stitch, 1, 2, node.times), many + 1
        out.append(node)
    return tuple(out), many


def _sum(nodes: Sequence, below: int | None) -> tuple[int, int] | None:
    """Stitches used and made, a repeat "around" filling what the round below leaves; None where it doesn't come out."""
    fills = [at for at, node in enumerate(nodes) if isinstance(node, Repeat) and node.times is None]
    try:
        pairs = [sums(node) for at, node in enumerate(nodes) if at not in fills]
        used, made = sum(one for one, _ in pairs), sum(one for _, one in pairs)
        if not fills:
            return used, made
        if len(fills) > 1 or below is None:
            return None
        node = nodes[fills[0]]
        own = [sums(one) for one in node.body if not isinstance(one, Note)]
    except Unreadable:
        return None
    own_used, own_made = sum(one for one, _ in own), sum(one for _, one in own)
    leave = max(node.leave - sum(one for one, _ in pairs[fills[0] :]), 0)
    room = below - used - leave
    if not own_used or room < 0 or room % own_used:
        return None
    return used + room, made + room // own_used * own_made
