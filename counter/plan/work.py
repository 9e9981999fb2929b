"""What the instructions of one round come to.

A round is a row of works (so many stitches, each made into so many stitches
of the round below) and of repeats of such rows. Some ways to write are read
in two ways by good makers; then the reading is taken that agrees best with
the round below and with the written total, and the commoner one where they
agree equally well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

from counter.basics import words
from counter.plan.build import READINGS, Builder
from counter.plan.clean import clean_text
from counter.plan.tokens import MOST_STITCHES, Unreadable, shown
from counter.plan.works import Conflict, Note, Outcome, Repeat, Spread, Work, is_worked, row_of, shared, sum_of, sums

__all__ = ["work_out"]

#: Most other readings that are kept for mending.
MOST_OTHERS = 4
#: Most rarer readings that are taken together.
MOST_TOGETHER = 2
#: Said ahead of a round that joins parts.
JOINED = "join parts"


def work_out(
    items: list,
    *,
    number: int,
    below: int | None,
    stated: int | None,
    main: str,
    uk: bool = False,
    unworked: bool = False,
    spaces: int = 0,
    joins: bool = False,
    chain_counts: bool = False,
) -> Outcome:
    """Work out what a parsed round comes to.

    Parameters
    ----------
    items : list
        From :func:`parse`.
    number : int
        The round's number.
    below : int or None
        Stitches of the round below.
    stated : int or None
        The total as it was written down.
    main : str
        The main stitch, in US terms.
    uk : bool, optional
        Whether the round is written in UK terms.
    unworked : bool, optional
        Whether stitches of the round below are left on purpose.
    spaces : int, optional
        Chain spaces of the round below, 0 where there are none or they aren't known.
    joins : bool, optional
        Whether the round joins parts, so that a chain between them is worked on both sides.
    chain_counts : bool, optional
        Whether a chain that the round begins with is more likely counted as a stitch than not.

    Returns
    -------
    Outcome

    Raises
    ------
    Unreadable
        Where it can't be carried out, or makes more than a round can hold.
    """
    round_ = items, number, below, stated, main, uk, unworked, spaces, joins, chain_counts
    best, known = _under(frozenset(), *round_)
    others: list[tuple] = []
    for size in range(1, 1 + MOST_TOGETHER):
        for reading in combinations(sorted(known, key=READINGS.index), size):
            if not best.conflicts:
                return best
            try:
                other, more = _under(frozenset(reading), *round_)
            except Unreadable:
                continue
            known = known | more  # one reading may open another; it is tried with the next size
            if size == 1 and other.nodes and len(others) < MOST_OTHERS:
                others.append(other.nodes)
            if other.made is not None and len(other.conflicts) < len(best.conflicts):
                best = other
    return replace(best, others=tuple(others)) if best.conflicts else best


def _under(
    reading, items, number, below, stated, main, uk, unworked, spaces, joins, chain_counts
) -> tuple[Outcome, set[str]]:
    """Work a round out under one reading; return also the readings that would make a difference."""
    builder = Builder(main, uk, reading, stated is not None, joins, chain_counts)
    nodes = builder.row(items, top=True)
    if joins:
        nodes = [Note(JOINED), *(node for node in nodes if not (isinstance(node, Note) and node.text == "join"))]
    start = builder.ring or below is None and (builder.first_chain > 1 or number == 1 and _all_plain(nodes))
    outcome = _come_to(nodes, builder, start, number, below, stated, unworked, spaces)
    return replace(outcome, chain=_first_chain(nodes)), builder.open


def _first_chain(nodes: Sequence) -> bool | None:
    """Whether the chain that a round begins with is counted; None where it begins with none."""
    for node in nodes:
        if isinstance(node, Work):
            return True if node.kind == "chain" else None
        if isinstance(node, Note) and node.chain > 0:
            return False
        if is_worked(node):
            return None
    return None


def _all_plain(nodes: Sequence) -> bool:
    works = [node for node in nodes if is_worked(node)]
    return bool(works) and all(
        isinstance(node, Work)
        and node.kind == "plain"
        or isinstance(node, Repeat)
        and node.tail
        and node.times is not None
        and node.body[0].kind == "plain"
        for node in works
    )


def _come_to(nodes, builder: Builder, start: bool, number, below, stated, unworked, spaces=0) -> Outcome:
    """What a row of works comes to over the round below, and what doesn't agree."""
    conflicts: list[Conflict] = []
    if any(isinstance(node, Spread) for node in nodes):
        return _spread_outcome(nodes, builder, start, number, below, stated)
    room = below if not start else _chain_room(nodes, builder)
    filling = _Filling(room, stated, builder.ring, start, number, spaces, conflicts)
    resolved = filling.resolved(nodes)
    none_used = 0 if start else None
    if resolved is None:
        text = clean_text(nodes, builder.main)
        return Outcome(None, none_used, text, None, tuple(conflicts), start, nodes=tuple(nodes))
    used, made = sum_of(resolved)
    if made > MOST_STITCHES or used > MOST_STITCHES:
        raise Unreadable(0, *words.finding("makes too much", n=shown(str(max(made, used))), most=MOST_STITCHES))
    if made == 0:  # a chain, closed to a ring
        text = clean_text(resolved, builder.main)
        return Outcome(None, none_used, text, None, tuple(conflicts), start, builder.first_chain)
    row = shared(row_of(_effective(resolved), builder.ring))
    into = sum(one[0] for one in row)
    even = any(_fills(node) for node in nodes) or below == into
    text = clean_text(resolved, builder.main, around=even and not start)
    total_wrong = stated is not None and made != stated
    # "sc in the first 9 sts, turn (9)": what is left is left on purpose.
    unworked = unworked or not total_wrong and stated is not None and bool(nodes) and nodes[-1] == Note("turn")
    if unworked and below is not None and into < below:
        text += ", leave rest unworked"
    free = start or builder.spaces or below is None
    use_wrong = not free and into != below and not (unworked and into < below)
    worked: int | None = none_used if start or builder.spaces else into
    if start and total_wrong:
        conflicts.append(_wrong_start(number, made, stated, builder.main))
    elif total_wrong or use_wrong:
        conflicts += _explained(resolved, number, made, worked, below, stated, total_wrong, use_wrong, builder.main)
    chains, gaps = _chains(resolved)
    bridges = 0 if "bridge" in builder.reading else chains
    read = tuple(nodes) if conflicts else ()
    return Outcome(made, worked, text, row, tuple(conflicts), start, bridges, gaps, read)


def _fills(node) -> bool:
    """Whether a node goes on to the end of the round."""
    return isinstance(node, Repeat) and node.times is None


def _spread_outcome(nodes, builder: Builder, start: bool, number, below, stated) -> Outcome:
    """What a round comes to whose increases or decreases have no places."""
    spread = [node for node in nodes if isinstance(node, Spread)]
    fixed = sum_of([node for node in nodes if not _fills(node)])
    if fixed == (below, below):
        fixed = 0, 0  # "24 sc, inc 6 evenly" over 24: the increases are among those
    made, used = _spread_out(spread, fixed, below, stated)
    if made is not None and used is not None and not 1 <= made <= MOST_STITCHES:
        raise Unreadable(0, *words.finding("makes nothing", n=shown(str(made)), most=MOST_STITCHES))
    conflicts: tuple[Conflict, ...] = ()
    if made is not None and stated is not None and made != stated:
        conflicts = (_wrong_total(number, made, stated, None),)
    return Outcome(made, 0 if start else used, clean_text(nodes, builder.main), None, conflicts, start)


def _chains(nodes: Sequence) -> tuple[int, int]:
    """Chains between stitches, and the spaces that they make."""
    chains = spaces = 0
    for node in nodes:
        if isinstance(node, Note) and node.gap:
            chains, spaces = chains + node.gap, spaces + 1
        elif isinstance(node, Work) and node.kind == "bridge":
            chains, spaces = chains + node.times, spaces + 1
        elif isinstance(node, Repeat):
            own = _chains(node.body)
            chains, spaces = chains + own[0] * (node.times or 1), spaces + own[1] * (node.times or 1)
    return chains, spaces


def _effective(nodes: Sequence) -> list:
    """Leave out what uses and makes nothing, so that writing a row out takes no longer than it has stitches."""
    out: list = []
    for node in nodes:
        if isinstance(node, Work) and (node.base or node.made) and node.times:
            out.append(node)
        elif isinstance(node, Repeat):
            body = _effective(node.body)
            if body and node.times:
                out.append(replace(node, body=tuple(body)))
    return out


def _chain_room(nodes: Sequence, builder: Builder) -> int | None:
    """Stitches that a first round on a chain finds there: all, or all but those that the hook passes over."""
    if not builder.first_chain or builder.first_chain < 2:
        return None
    hooked = any(isinstance(node, Work) and node.kind == "hook" for node in nodes)
    return builder.first_chain - 1 if hooked else builder.first_chain


class _Filling:
    """Tells how often repeats "around" are worked: the round below, or the written total, fills them."""

    def __init__(self, room, stated, ring: bool, start: bool, number: int, spaces: int, conflicts: list) -> None:
        self.room, self.stated, self.ring, self.start = room, stated, ring, start
        self.number, self.spaces, self.conflicts = number, spaces, conflicts

    def resolved(self, nodes: Sequence) -> list | None:
        """The same nodes with numbers for "around"; None where one can't be known."""
        out = list(nodes)
        fills = [at for at, node in enumerate(out) if _fills(node)]
        known = True
        for at in fills:
            times = self._times(out, at, fills)
            if times is None:
                known = False
            else:
                out[at] = replace(out[at], times=times)
        return out if known else None

    def _times(self, nodes: list, at: int, fills: list[int]) -> int | None:
        node = nodes[at]
        used, made = sum_of(node.body)
        if self.ring and used and all(isinstance(one, Work) and one.kind == "ring" for one in node.body):
            return 1
        if used == 0:
            return 1 if made == 0 else self._into_spaces(nodes, at, fills, made)
        room = self.room
        if room is not None:
            taken = self._taken(nodes, at)
            free = room - taken
            if free >= 0 and free % used == 0:
                return free // used
            if not self.start:
                if free < 0:
                    return 0
                self.conflicts.append(_not_even(node, self.number, room, taken, used, made, self.stated))
                return None
        return self._by_total(nodes, at, fills, made, unknown=room is None and not self.start)

    def _into_spaces(self, nodes: list, at: int, fills: list[int], made: int) -> int | None:
        """As often as there are spaces; a written total knows best, then the chains of the round below."""
        spaces = all(isinstance(one, Note) or one.kind == "space" for one in nodes[at].body)
        rest = self._rest(nodes, at, fills)
        if spaces and rest is not None and rest > 0 and rest % made == 0:
            return rest // made
        if spaces:
            return self.spaces or self.room
        return self._by_total(nodes, at, fills, made, unknown=self.room is None and not self.start)

    def _by_total(self, nodes: list, at: int, fills: list[int], made: int, *, unknown: bool) -> int | None:
        """How often it takes to make the written total."""
        rest = self._rest(nodes, at, fills) if made else None
        if rest is None:
            return None
        if rest >= 0 and rest % made == 0:
            return rest // made
        if unknown:
            what = words.ROUND_CANT_MAKE.format(n=self.number, stated=self.stated, made=made)
            self.conflicts.append(Conflict(what, _near(self.stated, rest, made), total=True))
        return None

    def _rest(self, nodes: list, at: int, fills: list[int]) -> int | None:
        """What the written total leaves for the one repeat "around"."""
        if self.stated is None or len(fills) != 1:
            return None
        return self.stated - sum_of([other for index, other in enumerate(nodes) if index != at])[1]

    def _taken(self, nodes: list, at: int) -> int:
        """Stitches of the round below that others take."""
        before = sum(_used(one) for one in nodes[:at] if not _fills(one))
        return before + (nodes[at].leave or sum(_used(one) for one in nodes[at + 1 :] if not _fills(one)))


def _near(stated: int, rest: int, step: int) -> str:
    low = stated - rest % step
    return (words.MEND_NEAR if low > 0 else words.MEND_NEAR_ONE).format(low=low, high=low + step)


def _used(node) -> int:
    used, _ = sums(node)
    if isinstance(node, Work) and node.kind == "same":
        return 0
    return used


def _spread_out(spread, fixed, below, stated) -> tuple[int | None, int | None]:
    """Total and stitches used where the places of the shaping aren't told."""
    if spread[0].total is not None:
        return spread[0].total + fixed[1], below
    used_fixed, made_fixed = fixed
    change = made_fixed - used_fixed
    for one in spread:
        if one.change is None:
            return (stated, below) if stated is not None else (None, below)
        change += one.sign * one.change
    if below is not None:
        return below + change, below
    return (stated, stated - change) if stated is not None else (None, None)


# ------------------------------------------------------------------ what would be right


def _wrong_total(number: int, made: int, stated: int, row) -> Conflict:
    off = stated - made
    many = abs(off)
    if many > 6:
        mend = "again"
    elif off > 0:
        mend = "one inc" if many == 1 else "incs"
    else:
        incs = sum(1 for base, out, _ in row or () if base == 1 and out == 2)
        mend = "inc fewer" if incs >= many else "dec"
        mend = f"one {mend}" if many == 1 else {"inc fewer": "incs fewer", "dec": "decs"}[mend]
    what = words.ROUND_MAKES.format(n=number, made=made, stated=stated)
    return Conflict(what, words.MEND_TOTAL[mend].format(made=made, many=many), total=True)


def _wrong_start(number: int, made: int, stated: int, main: str) -> Conflict:
    """A first round has no increases: it takes stitches more or fewer."""
    off = stated - made
    fix = words.MEND_RING if off > 0 else words.MEND_RING_FEWER
    what = words.ROUND_MAKES.format(n=number, made=made, stated=stated)
    return Conflict(what, fix.format(made=made, many=abs(off), stitch=main), total=True)


def _explained(nodes, number, made, used, below, stated, total_wrong, use_wrong, main) -> list[Conflict]:
    """Say what doesn't agree, and what would."""
    if not use_wrong:
        return [_wrong_total(number, made, stated, shared(row_of(_effective(nodes), False)))]
    if used < below:
        what = words.ROUND_USES.format(n=number, used=used, stitches=words.stitches(below))
    else:
        what = words.ROUND_NEEDS.format(n=number, stitches=words.stitches(used), below=below)
    total = stated if stated is not None else None
    for node in nodes:  # another number of repeats, or of plain stitches, may make both right
        if isinstance(node, Repeat) and node.times is not None:
            each_used, each_made = sum_of(node.body)
            rest_used, rest_made = used - each_used * node.times, made - each_made * node.times
            if each_used and below > rest_used and (below - rest_used) % each_used == 0:
                times = (below - rest_used) // each_used
                result = rest_made + times * each_made
                if total is None or result == total or not total_wrong:
                    fix = words.MEND_TIMES if result == total else words.MEND_TIMES_MAKES
                    return [Conflict(what, fix.format(times=times, made=result), node.at or None)]
    works = [node for node in nodes if is_worked(node)]
    if (
        len(works) > 1
        and used
        and below % used == 0
        and below > used
        and made * (below // used) == (total or made * (below // used))
    ):
        return [Conflict(what, words.MEND_REPEAT.format(text=clean_text(works, main), times=below // used))]
    if (
        len(works) == 1
        and isinstance(works[0], Work)
        and works[0].kind == "plain"
        and (total in (None, below) or not total_wrong)
    ):
        return [Conflict(what, words.MEND_ALL.format(stitch=works[0].stitch, n=below))]
    off = below - used
    if off > 0:
        fix = words.MEND_MORE_ONE if off == 1 else words.MEND_MORE
    else:
        fix = words.MEND_FEWER_ONE if off == -1 else words.MEND_FEWER
    found = [Conflict(what, fix.format(n=abs(off)))]
    if total_wrong:
        found.append(_wrong_total(number, made, stated, shared(row_of(_effective(nodes), False))))
    return found


def _not_even(node: Repeat, number, room, rest, used, made, stated) -> Conflict:
    free = room - rest
    times, left = divmod(free, used)
    what = words.ONE_LEFT_OVER if left == 1 else words.LEFT_OVER
    what = what.format(n=number, stitches=words.stitches(used), free=free, left=left)
    added = stated - room if stated is not None and not rest else 0
    if added > 0 and room % added == 0:
        plain = room // added - 1
        inc = f"(sc {plain}, inc) x {added}" if plain else f"inc x {added}"
        return Conflict(what, words.MEND_INCS.format(text=inc, stated=stated, room=room), node.at)
    low = rest + times * used
    near = words.either([low, low + used] if times else [low + used])
    return Conflict(what, words.MEND_BELOW.format(numbers=near), node.at)
