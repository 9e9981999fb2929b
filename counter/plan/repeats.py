"""Rounds that are told by others: "repeat rounds 3 and 4 twice", "as round 5", "as for the head"."""

from __future__ import annotations

from collections.abc import Sequence

from lark import Token

from counter.plan.labels import label_numbers
from counter.plan.pieces import Part
from counter.plan.tokens import KINDS, Unreadable, whole_number

__all__ = ["how_often_again", "referred"]


def referred(
    tokens: Sequence[Token], number: int, parts: Sequence[Part], current: Part | None
) -> tuple[tuple[int, ...], Sequence[Token], Part | None]:
    """Return the rounds that a round repeats ("rep Rnd 5", "as round 4", "as for the head"), none where it doesn't.

    Also what follows, and the piece that they belong to.
    """
    none = (), tokens, None
    kinds = [token.type for token in tokens]
    if not set(kinds) & {"REPEAT", "LIKE", "SAME"}:
        return none
    changes = {"INC", "DEC"} if "RND" in kinds else set()
    if set(kinds) & (KINDS - changes):
        return none
    said = {token.lower().removesuffix("s") for token in tokens if token.type in ("WORD", "NOISE")}
    part = next(
        (
            one
            for one in reversed(parts)
            if one.sources and {word.removesuffix("s") for word in one.name.lower().split()} & said
        ),
        None,
    )
    if part is current:
        part = None
    if "RND" not in kinds:
        return ((number,), tokens, part) if part is not None else none
    at = kinds.index("RND")
    times = at + 2 < len(tokens) and tokens[at + 2].type in ("MORE", "TIMES_WORD")  # "the last round 3 more times"
    if at + 1 < len(tokens) and tokens[at + 1].type in ("NUM", "NUM_WORD") and not times:
        try:
            numbers, end = label_numbers(list(tokens), at + 1)
        except Unreadable:
            return none
        if at and tokens[at - 1].type in ("TO", "UP_TO") and len(numbers) == 1 and part is not None:
            numbers = tuple(range(1, numbers[0] + 1))  # "same as the head until round 3"
        return numbers, tokens[end:], part
    if set(kinds[:at]) & {"LAST", "PREVIOUS"}:
        return (number - 1,), tokens[at + 1 :], part
    return none


def how_often_again(tokens: Sequence[Token]) -> int:
    """How often rounds are repeated, by what is said behind their numbers: "twice", "3 more times", "x 3"."""
    times = 1
    for index, token in enumerate(tokens):
        after = tokens[index + 1].type if index + 1 < len(tokens) else ""
        number = token.type in ("NUM", "NUM_WORD")
        counted = number and after in ("MORE", "TIMES_WORD")
        behind_x = token.type == "NUM" and index > 0 and tokens[index - 1].type == "X"
        if token.type == "TWICE" or counted or behind_x:
            times = whole_number(token)
    return times
