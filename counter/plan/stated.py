"""Totals as they are written down: "(24)", "= 24 sts", "12 dc, 12 ch-1 sps"."""

from __future__ import annotations

from counter.plan.habits import types
from counter.plan.tokens import PARTS

__all__ = ["parted", "stated_total"]

#: What may stand in a bracket, or after a dash, that holds a total.
TOTALS = frozenset(
    {
        "NUM",
        "ST",
        "STITCH",
        "SPACE",
        "TOTAL",
        "EQ",
        "COLON",
        "SEP",
        "AND",
        "CHAIN",
        "INC",
        "DEC",
        "NL",
        "DASH",
        "REST",
        "ADD",
    }
)
BESIDE_TOTALS = frozenset({"altogether", "overall", "loops", "left", "each", "remain", "remaining", "live", "working"})


def stated_total(items: list) -> str:
    """Return the totals that a bracket or the end of a line states, "" where it states none."""
    items = [
        item for item in items if item.type != "IN" and not (item.type == "WORD" and item.lower() in BESIDE_TOTALS)
    ]
    kinds = types(items)
    if "NUM" not in kinds or not set(kinds) <= TOTALS:
        return ""
    numbers = [item for item in items if item.type == "NUM"]
    if len(numbers) == 1:
        if any(set(types(part)) <= {"INC", "DEC"} for part in parted(items)):
            return ""  # "(1 sc, inc)" is a group, "(24 sc, 6 inc)" a total
        place = kinds.index("NUM")
        if (
            kinds[place + 1 : place + 2] in (["INC"], ["DEC"])
            or place
            and kinds[place - 1] in ("STITCH", "INC", "DEC", "CHAIN")
        ):
            return ""
        if kinds[place + 1 : place + 2] == ["CHAIN"]:
            return ""
        return str(numbers[0])
    if "SPACE" in kinds or "CHAIN" in kinds:  # "12 dc, 12 ch-1 sps"
        heads = [part for part in parted(items) if not {"SPACE", "CHAIN"} & set(types(part))]
        if len(heads) == 1 and types(heads[0])[:1] == ["NUM"]:
            return str(heads[0][0])
    parts = parted(items)
    if len(parts) > 1 and all(types(part) in (["NUM", "ST"], ["NUM", "STITCH"]) for part in parts):
        of_which = types(parts[0]) == ["NUM", "ST"] and all(types(part)[1] == "STITCH" for part in parts[1:])
        return str(numbers[0] if of_which else sum(int(number) for number in numbers))  # "36 sts, 12 popcorns"
    for place, kind in enumerate(kinds):
        if kind == "EQ" and kinds[place + 1 : place + 2] == ["NUM"] and "NUM" not in kinds[place + 2 :]:
            return str(items[place + 1])
        if kind == "TOTAL":
            near = [*items[place + 1 : place + 3], *items[max(place - 2, 0) : place]]
            near = [item for item in near if item.type == "NUM"]
            if near:
                return str(near[0])
    if set(kinds) <= {"NUM", "SEP", "ST"} and not any(item.type == "SEP" and item not in "," for item in items):
        return " ".join(str(number) for number in numbers)
    return ""


def parted(items: list) -> list[list]:
    """Items between commas and "and"."""
    parts: list[list] = [[]]
    for item in items:
        if item.type in PARTS:
            parts.append([])
        else:
            parts[-1].append(item)
    return [part for part in parts if part]
