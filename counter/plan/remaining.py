"""What of a written round is still to be worked."""

from __future__ import annotations

from counter.plan.stitches import in_terms
from counter.plan.values import PlanRound

__all__ = ["remaining_of"]


def remaining_of(own: PlanRound, done: int, *, uk: bool = False) -> str:
    r"""The next stitches of a round that is under way.

    Parameters
    ----------
    own : PlanRound
    done : int
        Stitches of it that are made, 0 or more.
    uk : bool, optional
        Write UK terms.

    Returns
    -------
    str
        In working order, one line: "(sc 3, inc) x 2". Empty where the
        round is done, or where its increases and decreases aren't told.

    Examples
    --------
    >>> from counter import read_plan
    >>> rest_of(read_plan("R1: 6 sc in ring\\nR2: inc x 6\\nR3: (sc 1, inc) x 6").round(3), 11)
    '1 sc in same st, (sc 1, inc) x 2'
    """
    if own.stitches is None or done >= own.stitches or own.kind == "unknown":
        return ""
    if own.kind in ("increase", "decrease", "mixed") and not (own.increases or own.decreases):
        return ""
    increases = {shaping.at: shaping.stitches for shaping in own.increases}
    decreases = {shaping.at: shaping.stitches for shaping in own.decreases}
    parts: list[str] = []
    begun = ""
    at = 1
    plain = 0
    while at <= own.stitches:
        many = increases.get(at, 1)
        shaped = at in increases or at in decreases
        if at + many - 1 > done:
            if shaped and plain:
                parts.append(f"{own.stitch} {plain}")
                plain = 0
            if at <= done:
                begun = f"{at + many - 1 - done} {own.stitch} in same st"
            elif at in increases:
                parts.append("inc" if many == 2 else f"{many} {own.stitch} in next st")
            elif at in decreases:
                parts.append("dec" if decreases[at] == 2 else f"{own.stitch}{decreases[at]}tog")
            else:
                plain += 1
        at += many
    if plain:
        parts.append(f"{own.stitch} {plain}")
    return in_terms(", ".join([*([begun] if begun else []), *_gathered(parts)]), False, uk)


def _gathered(parts: list[str]) -> list[str]:
    """The same with what is repeated to the end written once: sc 1, inc, sc 1, inc -> (sc 1, inc) x 2."""
    for period in range(1, len(parts) // 2 + 1):
        times, left = divmod(len(parts), period)
        if not left and parts == parts[:period] * times:
            one = ", ".join(parts[:period])
            return [f"{one} x {times}" if period == 1 else f"({one}) x {times}"]
    return parts
