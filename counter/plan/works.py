"""What steps come to: works, repeats of works, and what a round of them holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from counter.basics import words
from counter.plan.tokens import Unreadable
from counter.plan.values import Shaping

__all__ = ["Conflict", "Note", "Outcome", "Repeat", "Spread", "Work", "is_worked", "row_of", "shared", "sum_of", "sums"]


@dataclass(frozen=True)
class Work:
    """`times` times the same: `made` stitches in `base` stitches of the round below.

    ``kind`` is "plain", "inc", "dec", "skip", "ring", "space", "hook" (in a
    chain), "same" (once more into the stitch before), "chain" (a first one, that
    counts), "bridge" (chains over skipped stitches, where they count)
    or "into" (several kinds into one stitch, written out in ``form``).
    """

    kind: str
    stitch: str
    base: int
    made: int
    times: int = 1
    form: str = ""


@dataclass(frozen=True)
class Repeat:
    """A row of works, repeated; `times` None goes on to the last `leave` stitches.

    ``tail`` marks a repeat without a bracket that was written behind a single
    step, ``bracket`` a bracket that nothing was said about yet.
    """

    body: tuple
    times: int | None
    leave: int = 0
    at: int = 0
    tail: bool = False
    bracket: bool = False
    depth: int = 1


@dataclass(frozen=True)
class Spread:
    """Increases or decreases whose places aren't told.

    ``change`` are stitches more or fewer, None where only the total tells;
    ``total`` stitches made in all, where that was said instead.
    """

    sign: int
    change: int | None
    total: int | None
    stitch: str


@dataclass(frozen=True)
class Note:
    """Something that makes no stitch; ``chain`` is the length of a chain that could count as one."""

    text: str
    chain: int = 0
    fixed: bool = False
    stitch: str = ""
    #: Chains between stitches, which make a space.
    gap: int = 0


@dataclass(frozen=True)
class Conflict:
    """Something about a round that doesn't agree; ``at`` is None for the round as a whole, or its written ``total``."""

    what: str
    fix: str
    at: int | None = None
    total: bool = False


@dataclass(frozen=True)
class Outcome:
    """What a round comes to.

    ``row`` are (base, made, stitch) of every work in order, None where their
    places aren't known; stitches that share a base are one work. ``bridges``
    are chains over skipped stitches, which the next round may count, and
    ``spaces`` the arches that they make.
    """

    made: int | None
    used: int | None
    text: str
    row: tuple[tuple[int, int, str], ...] | None
    conflicts: tuple[Conflict, ...]
    start: bool
    bridges: int = 0
    spaces: int = 0
    #: The works as they were read, where something doesn't agree, and in other readings.
    nodes: tuple = ()
    others: tuple[tuple, ...] = ()
    #: Whether a chain that the round begins with is counted; None where there is none.
    chain: bool | None = None

    def shapings(self) -> tuple[tuple[Shaping, ...], tuple[Shaping, ...]]:
        """Increases and decreases with their places."""
        increases, decreases = [], []
        if self.row and not self.start:
            at = 1
            for base, made, _ in self.row:
                if base == 1 and made > 1:
                    increases.append(Shaping(at, made))
                elif made == 1 and base > 1:
                    decreases.append(Shaping(at, base))
                at += made
        return tuple(increases), tuple(decreases)


def sums(node) -> tuple[int, int]:
    """Return stitches used and made by a work, a repeat or a note.

    Raises
    ------
    Unreadable
        If a repeat goes on to the end of the round inside of another.
    """
    if isinstance(node, Work):
        return node.base * node.times, node.made * node.times
    if isinstance(node, Repeat):
        if node.times is None:
            raise Unreadable(node.at, *words.finding("around inside"))
        used, made = sum_of(node.body)
        return used * node.times, made * node.times
    return 0, 0


def sum_of(nodes: Sequence) -> tuple[int, int]:
    """Stitches used and made by all of a row."""
    pairs = [sums(node) for node in nodes]
    return sum(used for used, _ in pairs), sum(made for _, made in pairs)


def row_of(nodes: Sequence, ring: bool) -> list[tuple[int, int, str, bool]]:
    """Write all works out one by one; the last value says whether it shares the base before it."""
    out: list = []
    for node in nodes:
        if isinstance(node, Work):
            base = 0 if ring and node.kind in ("plain", "chain", "hook") else node.base
            out += [(base, node.made, node.stitch, node.kind == "same")] * node.times
        elif isinstance(node, Repeat):
            out += row_of(node.body, ring) * (node.times or 0)
    return out


def shared(row: list[tuple[int, int, str, bool]]) -> tuple[tuple[int, int, str], ...]:
    """Put stitches that share a base together."""
    out: list[tuple[int, int, str]] = []
    for base, made, stitch, same in row:
        if same and out and out[-1][0] == 1:
            out[-1] = (1, out[-1][1] + made, out[-1][2])
        elif same:
            out.append((1, made, stitch))  # "in the same st as the join": the first stitch
        else:
            out.append((base, made, stitch))
    return tuple(out)


def is_worked(node) -> bool:
    """Whether a node makes or uses stitches, where a note doesn't."""
    return not isinstance(node, Note)
