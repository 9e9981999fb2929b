"""A plan written out: in the clean form, or as plain data."""

from __future__ import annotations

from counter.plan.stitches import in_terms
from counter.plan.values import Plan, PlanPiece, PlanRound

__all__ = ["BOX", "plan_data", "write_plan"]

#: A box to tick; it is read as a blank.
BOX = "\u2610"


def _line(label: str, one: PlanRound, uk: bool, made: bool = False) -> str:
    # A copy to work from holds what the round makes; the clean form keeps what was written, to be read again.
    first, other = (one.stitches, one.stated) if made else (one.stated, one.stitches)
    total = first if first is not None else other
    parts = [label, in_terms(one.text, False, uk), f"[{total}]" if total is not None else ""]
    return " ".join(part for part in parts if part)


def write_plan(plan: Plan, *, uk: bool = False, check_list: bool = False) -> str:
    """Write a plan in the clean form, which reads back as the same plan.

    Parameters
    ----------
    plan : Plan
    uk : bool, optional
        Whether to write UK terms.
    check_list : bool, optional
        Write a line for every round, each with a box to tick.

    Returns
    -------
    str
        One line a round, "R4: (sc 2, inc) x 6 [24]"; even rounds that follow
        each other alike share one, "R5-8: sc around [24]". Each line ends
        with a line end.

    Examples
    --------
    >>> from counter import read_plan, write_plan
    >>> print(write_plan(read_plan("Rnd 4: *2 sc, inc; rep from * 5 more times (24)")), end="")
    R4: (sc 2, inc) x 6 [24]
    """
    if plan.piece is not None or not plan.pieces:
        return _written(plan.rounds, uk, check_list)
    return "\n".join(_heading(piece) + _written(piece.rounds, uk, check_list) for piece in plan.pieces)


def _heading(piece: PlanPiece) -> str:
    if not piece.name:
        return ""
    return f"{piece.name} (make {piece.make}):\n" if piece.make > 1 else f"{piece.name}:\n"


def _written(rounds: tuple[PlanRound, ...], uk: bool, check_list: bool) -> str:
    if check_list:
        return "".join(f"{BOX} {_line(f'R{own.round}:', own, uk, made=True)}\n" for own in rounds)
    lines: list[str] = []
    at = 0
    while at < len(rounds):
        first, end = rounds[at], at + 1
        while first.kind == "even" and first.text and end < len(rounds) and _alike(first, rounds[end], end - at):
            end += 1
        label = f"R{first.round}" + (f"-{rounds[end - 1].round}" if end - at > 1 else "") + ":"
        lines.append(_line(label, first, uk))
        at = end
    return "".join(line + "\n" for line in lines)


def _alike(first: PlanRound, other: PlanRound, offset: int) -> bool:
    totals = {one.stated if one.stated is not None else one.stitches for one in (first, other)}
    return (
        other.round == first.round + offset
        and other.kind == "even"
        and (other.text, other.stitches, other.used) == (first.text, first.stitches, first.used)
        and len(totals) == 1
    )


def plan_data(plan: Plan, *, uk: bool = False) -> dict:
    """Return a plan as plain data.

    Parameters
    ----------
    plan : Plan
    uk : bool, optional
        Whether the instructions are given in UK terms.

    Returns
    -------
    dict
        ``{"rounds": [{"round", "stitches", "used", "increases", "decreases",
        "text", "chain"}], "findings": [{"line", "column", "what", "fix", "kind"}],
        "pieces": [{"name", "make", "line", "rounds"}], "piece", "sizes", "size",
        "lines": [{"line", "what", "remark", "rounds"}], "language"}``; what
        can't be known is None; increases and decreases are the numbers, from
        1, of each one's first stitch among the stitches made.
    """
    return {
        "rounds": [_round_data(one, uk) for one in plan.rounds],
        "findings": [
            {"line": found.line, "column": found.column, "what": found.what, "fix": found.fix, "kind": found.kind}
            for found in plan.findings
        ],
        "pieces": [
            {
                "name": piece.name,
                "make": piece.make,
                "line": piece.line,
                "rounds": [_round_data(one, uk) for one in piece.rounds],
            }
            for piece in plan.pieces
        ],
        "piece": plan.piece,
        "sizes": list(plan.sizes),
        "size": plan.size,
        "lines": [
            {"line": line.line, "what": line.what, "remark": line.remark, "rounds": list(line.rounds)}
            for line in plan.lines
        ],
        "language": plan.language,
    }


def _round_data(one: PlanRound, uk: bool) -> dict:
    return {
        "round": one.round,
        "stitches": one.stitches,
        "used": one.used,
        "increases": [shaping.at for shaping in one.increases],
        "decreases": [shaping.at for shaping in one.decreases],
        "text": in_terms(one.text, False, uk),
        "chain": one.chain,
    }
