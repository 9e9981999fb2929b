"""Lines of bare totals, "6, 12, 18", and growth rules, "start 6, add 6 each round up to 48"."""

from __future__ import annotations

from collections.abc import Sequence

from lark import Token, UnexpectedInput

from counter.plan.tokens import MOST_ROUNDS, PARTS, grammar, whole_number

__all__ = ["NO_GROWTH", "growth_phase", "growth_phases", "growth_rule", "how_often", "is_bare", "second_total"]

#: What a line of bare totals may hold.
BARE = frozenset({"NUM", "NUM_WORD", "X", "TIMES_WORD", "ST", "OPEN", "CLOSE", "TOTAL", *PARTS})
#: What a growth rule is made of.
GROWTH = frozenset({"NUM", "STARTS", "ADD", "INC", "TAKE", "DEC", "FOR", "UP_TO", "RND"})
GROWS = frozenset({"ADD", "TAKE", "INC", "DEC"})
NO_GROWTH = frozenset({"X", "FILL", "TIMES_WORD", "REPEAT", "STAR", "TOG", "TO_LAST"})


def is_bare(tokens: Sequence[Token]) -> bool:
    """Whether a line holds nothing but totals."""
    kinds = {token.type for token in tokens if token.type not in ("NOISE", "OTHER")}
    first = next((token.type for token in tokens if token.type in ("NUM", "NUM_WORD", "X", "TIMES_WORD")), "")
    return kinds <= BARE and first in ("NUM", "NUM_WORD")


def how_often(tokens: Sequence[Token], at: int) -> tuple[int, int]:
    """How often a bare total is said to stand, "24 x 4" or "24 (4x)", and how many words say so."""
    opened = at < len(tokens) and tokens[at].type == "OPEN"
    inside = tokens[at + opened : at + opened + 3]
    kinds = [one.type for one in inside]
    if kinds[:2] == ["X", "NUM"]:
        number, taken = inside[1], 2
    elif opened and kinds[:1] == ["NUM"] and kinds[1:2] in (["X"], ["TIMES_WORD"], ["RND"]):
        number, taken = inside[0], 2
    else:
        return 1, 0
    if opened and kinds[2:3] != ["CLOSE"]:
        return 1, 0
    return min(whole_number(number), MOST_ROUNDS + 1), taken + 2 * opened


def growth_phases(tokens: Sequence[Token]) -> tuple[list[list[Token]], int | None]:
    """The phases of a growth rule ("start 6, add 6 up to 30, then 3 rounds even"), and the total behind the first."""
    phases: list[list[Token]] = [[]]
    grown = False
    last = max((at for at, one in enumerate(tokens) if one.type in (*GROWS, "EVEN")), default=-1)
    for index, token in enumerate(tokens):
        grown = grown or token.type in GROWS
        if grown and (token.type == "AND" and token.lower() == "then" or token == "." and index < last):
            phases.append([])
        else:
            phases[-1].append(token)
    phases[0], held = _without_total(phases[0])
    return phases, held


def _without_total(tokens: list[Token]) -> tuple[list[Token], int | None]:
    """Take the total in brackets off the end of a growth rule: "add 6 every round (30 at the end)"."""
    opened = next((at for at, token in enumerate(tokens) if token.type == "OPEN"), len(tokens))
    inside = tokens[opened + 1 :]
    numbers = [token for token in inside if token.type == "NUM"]
    if len(numbers) != 1 or inside[0] is not numbers[0] or sum(token.type == "CLOSE" for token in inside) != 1:
        return tokens, None
    return tokens[:opened], whole_number(numbers[0])


def growth_rule(tokens: Sequence[Token]) -> tuple[int, int, int | None, int | None] | None:
    """First total, stitches added each round, how many rounds and up to which total; None where it is no such rule."""
    rule: list[Token] = []
    for index, token in enumerate(tokens):
        kind = {"NUM_WORD": "NUM", "TO": "UP_TO"}.get(token.type, token.type)
        if kind == "RND" and [one.type for one in rule[-2:]] != ["FOR", "NUM"]:
            continue
        if kind in ("FOR", "UP_TO") and not any(
            one.type in ("NUM", "NUM_WORD") for one in tokens[index + 1 : index + 4]
        ):
            continue
        if kind in GROWTH:
            rule.append(Token.new_borrow_pos(kind, token.value, token))
    parser = grammar().parse_interactive("", start="growth")
    try:
        for token in rule:
            parser.feed_token(token)
        tree = parser.feed_eof()
    except UnexpectedInput:
        return None
    first, step = (whole_number(one) for one in tree.children if isinstance(one, Token) and one.type == "NUM")
    limits = {
        part.data: next(whole_number(one) for one in part.children if one.type == "NUM")
        for part in tree.children
        if not isinstance(part, Token)
    }
    return first, step if tree.data == "growing" else -step, limits.get("for_rounds"), limits.get("up_to")


def growth_phase(tokens: Sequence[Token]) -> tuple[int, int, int | None] | None:
    """What follows a growth rule: stitches added each round, how many rounds, up to which total."""
    kinds = [token.type for token in tokens]
    numbers = [whole_number(token) for token in tokens if token.type in ("NUM", "NUM_WORD")]
    if "EVEN" in kinds and len(numbers) == 1 and "RND" in kinds:
        return 0, numbers[0], None
    shrinks, grows = bool({"TAKE", "DEC"} & set(kinds)), bool({"ADD", "INC"} & set(kinds))
    if shrinks == grows or not numbers:
        return None
    limit = "UP_TO" in kinds or "TO" in kinds or "STATED" in kinds
    rounds = "FOR" in kinds and "RND" in kinds
    if len(numbers) != 1 + (limit or rounds):
        return None
    step = -numbers[0] if shrinks else numbers[0]
    return step, numbers[1] if rounds and not limit else 1, numbers[1] if limit else None


def second_total(tokens: Sequence[Token]) -> int:
    """Where a bracket with another total stands behind a bare one, "24 (30)"; 0 where none does."""
    kinds = [token.type for token in tokens[:4]]
    opened = 2 if kinds[1:2] == ["ST"] else 1
    if kinds[:1] != ["NUM"] or kinds[opened : opened + 2] != ["OPEN", "NUM"] or how_often(tokens, opened)[1]:
        return 0
    return opened
