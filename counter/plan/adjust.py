"""A round worked into more or fewer stitches than it was written for, with its own total all the same."""

from __future__ import annotations

from itertools import groupby

from counter.plan.clean import clean_text
from counter.plan.normalise import normalise
from counter.plan.read import read_plan
from counter.plan.steps import parse
from counter.plan.tokens import MOST_STITCHES, Unreadable, words_of
from counter.plan.values import PlanRound
from counter.plan.work import work_out
from counter.plan.works import Repeat, Work

__all__ = ["adjusted_round", "shaped_row", "written_row"]

#: With more places to change than this, shaping is spread anew instead of mending the written repeat.
MENDED = 12

Row = list[tuple[int, int, str]]


def adjusted_round(have: int, target: PlanRound) -> str | None:
    """Write a round so that it lands on its total from another number of stitches.

    The repeat of the round is kept as far as it goes. What is missing or left
    over is made up where it shows least: a missing stitch by an increase in
    the middle of a plain stretch and a plain stitch fewer elsewhere, one left
    over by an increase worked as two plain stitches, or by a decrease.

    Parameters
    ----------
    have : int
        Stitches of the round below, as it is.
    target : PlanRound
        The round as it was written.

    Returns
    -------
    str or None
        The round in the clean form, in US terms, without number and total:
        worked into `have` stitches it makes ``target.stitches``. None where
        it can't be: the round can't be read, is a first round, or more than
        every stitch would have to be increased or decreased.
    """
    total = target.stitches
    if total is None or target.used == 0 or not 1 <= have <= MOST_STITCHES:
        return None
    row = shaped_row(target)
    if target.text and row is None:
        return None
    if row:
        missing = sum(base for base, _, _ in row) - have
        if missing == 0:
            return target.text
        plain = all(_plain(work) for work in row)  # shaping in a plain round goes opposite each other
        mended = (
            not plain and abs(missing) <= MENDED and (_fewer(row, missing) if missing > 0 else _more(row, -missing))
        )
        if mended and (text := written_row(mended, target.stitch, have, total)):
            return text
    spread = _spread(have, total, target.stitch)
    return written_row(spread, target.stitch, have, total) if spread else None


def shaped_row(target: PlanRound) -> Row | None:
    """Works of a round in order: none where their places aren't told, None where it can't be read."""
    if not target.text:
        return None
    try:
        items = parse(normalise(words_of(target.text)))
        outcome = work_out(items, number=2, below=target.used, stated=target.stitches, main=target.stitch)
    except Unreadable:
        return None
    if outcome.made != target.stitches:
        return None
    return [] if outcome.row is None or any(base == 0 for base, _, _ in outcome.row) else list(outcome.row)


def _plain(work: tuple[int, int, str]) -> bool:
    return work[:2] == (1, 1)


def _middle(row: Row, ideal: float) -> int | None:
    """Return the middle of one of the longest plain stretches: of that nearest to a place, round the round."""
    stretches, at = [], 0
    for plain, run in groupby(row, key=_plain):
        length = len(list(run))
        if plain:
            stretches.append((length, at + (length - 1) // 2))
        at += length
    if not stretches:
        return None
    most = max(length for length, _ in stretches)
    near = [middle for length, middle in stretches if 2 * length >= most]
    return min(near, key=lambda middle: (min((middle - ideal) % len(row), (ideal - middle) % len(row)), middle))


def _fewer(row: Row, missing: int) -> Row | None:
    """Work a round into fewer stitches: decreases left out, or increases put in."""
    row = list(row)
    decreases = [at for at, (base, made, _) in enumerate(row) if base > 1 and made == 1]
    if len(decreases) >= missing:
        for index in range(missing):
            at = decreases[(2 * index + 1) * len(decreases) // (2 * missing)]
            row[at] = (row[at][0] - 1, 1, row[at][2])
        return row
    if decreases:
        return None
    for index in range(missing):
        ideal = (2 * index + 1) * len(row) / (2 * missing)
        more = _middle(row, ideal)
        if more is None:
            return None
        row[more] = (1, 2, row[more][2])
        fewer = _middle(row, ideal + len(row) / 2)  # the stitch that is one fewer, far from it
        if fewer is None:
            return None
        del row[fewer]
    return row


def _more(row: Row, over: int) -> Row | None:
    """Work a round into more stitches: increases left out, or decreases put in."""
    row = list(row)
    increases = [at for at, (base, made, _) in enumerate(row) if base == 1 and made > 1]
    if len(increases) >= over:
        for index in reversed(range(over)):
            at = increases[(2 * index + 1) * len(increases) // (2 * over)]
            _, made, stitch = row[at]
            row[at : at + 1] = [(1, made - 1, stitch), (1, 1, stitch)]
        return row
    if increases:
        return None
    for index in range(over):
        middle = _middle(row, (2 * index + 1) * len(row) / (2 * over))
        if middle is None:  # nothing is left but decreases: join one stitch more
            pairs = [place for place, (base, made, _) in enumerate(row) if (base, made) == (2, 1)]
            if not pairs:
                return None
            middle = pairs[len(pairs) // 2]
        row[middle] = (row[middle][0] + 1, 1, row[middle][2])
    return row


def _spread(have: int, total: int, stitch: str) -> Row | None:
    """Spread increases or decreases evenly over a plain round, half a stretch before the first."""
    change = abs(total - have)
    if change == 0:
        return [(1, 1, stitch)] * have
    shaping = (1, 2, stitch) if total > have else (2, 1, stitch)
    plain = have - change * shaping[0]
    if plain < 0:
        return None
    stretches = [(index + 1) * plain // change - index * plain // change for index in range(change)]
    row: Row = [(1, 1, stitch)] * (stretches[0] // 2)
    for stretch in [*stretches[1:], stretches[0] - stretches[0] // 2]:
        row += [shaping] + [(1, 1, stitch)] * stretch
    return row


def written_row(row: Row, main: str, have: int, total: int) -> str | None:
    """Write a row of works in the clean form; None where it doesn't read back as what it should be."""
    units: list[list[tuple[int, int, str]]] = [[]]
    for work in row:
        units[-1].append(work)
        if not _plain(work):
            units.append([])
    nodes: list = []
    for unit, run in groupby(tuple(unit) for unit in units if unit):
        works = tuple(_work(*work, len(list(same))) for work, same in groupby(unit))
        times = len(list(run))
        nodes += [Repeat(works, times)] if times > 1 else works
    text = clean_text(nodes, main)
    back = read_plan(f"R1: {have}\nR2: {text} [{total}]").round(2)
    return text if back is not None and (back.used, back.stitches) == (have, total) else None


def _work(base: int, made: int, stitch: str, times: int) -> Work:
    kind = "skip" if made == 0 else "dec" if base > 1 else "inc" if made > 1 else "plain"
    return Work(kind, stitch, base, made, times)
