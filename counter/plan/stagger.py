"""Rounds whose increases stand above each other, worked so that no corner grows: the same totals, shaped in between."""

from __future__ import annotations

from dataclasses import replace

from counter.plan.adjust import shaped_row, written_row
from counter.plan.read import read_plan
from counter.plan.values import Plan, PlanRound

__all__ = ["staggered"]


def staggered(plan: Plan) -> Plan:
    """Shift the increases and decreases of every other shaped round by half their distance.

    Stacked increases make a polygon, staggered ones a circle (jillhacker.com).
    Rounds whose shaping isn't evenly spaced, or whose places aren't told, stay as they are.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    Plan
        With the same totals on every round.
    """
    pieces = tuple(replace(piece, rounds=_piece(piece.rounds)) for piece in plan.pieces)
    chosen = next((piece for piece in pieces if piece.name == plan.piece), pieces[0] if pieces else None)
    return replace(plan, rounds=chosen.rounds if chosen else _piece(plan.rounds), pieces=pieces)


def _piece(rounds: tuple[PlanRound, ...]) -> tuple[PlanRound, ...]:
    out: list[PlanRound] = []
    shift = False
    for own in rounds:
        shaped = own.kind in ("increase", "decrease") and len(own.increases) + len(own.decreases) > 1
        if not shaped:
            out.append(own)
            continue
        out.append((_shifted(own) if shift else None) or own)
        shift = not shift
    return tuple(out)


def _shifted(own: PlanRound) -> PlanRound | None:
    """A round begun half a repeat later; None where it can't be."""
    row = shaped_row(own)
    if not row or own.stitches is None or own.used is None:
        return None
    places = [at for at, (base, made, _) in enumerate(row) if (base, made) != (1, 1)]
    gaps = {(after - before) % len(row) for before, after in zip(places, places[1:] + places[:1], strict=True)}
    if len(gaps) != 1 or gaps == {0} or gaps == {1}:
        return None
    half = gaps.pop() // 2
    text = written_row(row[half:] + row[:half], own.stitch, own.used, own.stitches)
    return None if text is None else _with_text(own, text)


def _with_text(own: PlanRound, text: str) -> PlanRound:
    """The same round with other instructions, and its shaping where they put it."""
    read = read_plan(f"R{own.round - 1}: [{own.used}]\nR{own.round}: {text} [{own.stitches}]").round(own.round)
    if read is None:
        raise ValueError(f"round {own.round} can't be read as it was written anew")
    return replace(own, text=text, increases=read.increases, decreases=read.decreases, stated=own.stitches)
