"""From a round's words to what the grammar takes.

Makers leave out, abbreviate and explain. What a word means hangs on its
neighbours: an asterisk opens a repeat, closes one or says "times"; a number
in brackets is a total, or part of a group; "with colour B" is no stitch at
all. That is settled here, in :mod:`counter.plan.segments` and in :mod:`counter.plan.habits`, each word looked at
once with a few of its neighbours, so that the time grows with the length of the
text alone.
"""

from __future__ import annotations

from collections.abc import Sequence

from lark import Token

from counter.basics import words
from counter.plan.habits import HOW_OFTEN, carried_out, exact_times, made, types
from counter.plan.segments import segments
from counter.plan.settled import Bracket, Normalised
from counter.plan.stated import stated_total
from counter.plan.tokens import KINDS, MOST_STITCHES, NUMBERS, PARTS, Unreadable, place_of, shown, whole_number

__all__ = ["normalise"]


def normalise(tokens: Sequence[Token], closing: bool | None = None) -> Normalised:
    """Settle what the words of one round mean.

    Parameters
    ----------
    tokens : sequence of Token
        The words after the label.
    closing : bool, optional
        Whether a last "24 sc" or "24" is the round's total (True) or is worked (False);
        the commoner of both where it is left out.

    Returns
    -------
    Normalised

    Raises
    ------
    Unreadable
        Where a bracket is left open or closed twice, or a number is too large.
    """
    result = Normalised([], wanted=closing)
    level = _nest([_number(token) for token in _without_rounds(tokens) if token.type != "NOISE"])
    flat: list[Token] = []
    _flatten(_level(level, result, False), flat)
    kinds = [at for at, token in enumerate(flat) if token.type in KINDS]
    closed = max((at for at, token in enumerate(flat) if token.type == "REP_FROM"), default=-1)
    depth, star, middle = 0, False, None
    totals = [token for token in flat if token.type == "STATED"]
    if not kinds and len({token.value for token in totals}) > 1:
        result.doubtful.append(totals[0])  # "10 A, 4 B, 22 A": no totals of one round
    for index, token in enumerate(flat):
        depth += (token.type == "LEFT") - (token.type == "RIGHT")
        star = token.type == "STAR" or star and token.type != "REP_FROM"
        if token.type != "STATED" or depth or star and index < closed:
            continue  # inside a repeat a total says what that comes to
        if kinds and kinds[0] < index < kinds[-1]:
            middle = index
        else:
            result.stated = tuple(int(number) for number in token.value.split())
            result.stated_at = place_of(token)
    if middle is not None and not result.stated:
        said = tuple(int(number) for number in flat[middle].value.split())
        head = [token for token in flat[:middle] if token.type != "STATED"]
        result.short = Normalised(
            head, said, place_of(flat[middle]), result.doubtful, result.lost, result.unworked, result.idle
        )
    result.tokens = [token for token in flat if token.type != "STATED"]
    return result


def _without_rounds(tokens: Sequence[Token]) -> list[Token]:
    """Leave out words that only name a round: "of the previous round", "of Rnd 3", "each round"."""
    out: list[Token] = []
    skip = linked = False
    for token in tokens:
        if token.type == "RND":
            while out and out[-1].type in ("NOISE", "EACH", "NEXT", "LAST", "PREVIOUS", "FIRST", "SAME"):
                out.pop()
            if out and out[-1].type in ("IN", "FOR"):
                out.pop()
            skip, linked = True, False
        elif skip and (token.type in ("NUM", "NUM_WORD") or linked and token.type in ("AND", "DASH", "TO")):
            linked = token.type in ("NUM", "NUM_WORD")  # "rounds 9 and 10"
        else:
            skip = False
            out.append(token)
    return out


def _number(token: Token) -> Token:
    if token.type == "NUM_WORD":
        return Token.new_borrow_pos("NUM", str(NUMBERS[token.lower()]), token)
    if token.type == "NUM" and whole_number(token) > MOST_STITCHES:
        raise Unreadable(place_of(token), *words.finding("large number", n=shown(token), most=MOST_STITCHES))
    if token.type == "NUM":
        return Token.new_borrow_pos("NUM", str(int(token)), token)
    return token


def _nest(tokens: list[Token]) -> list:
    top: list = []
    stack = [top]
    brackets: list[Bracket] = []
    for token in tokens:
        if token.type == "OPEN":
            bracket = Bracket(token, [])
            stack[-1].append(bracket)
            stack.append(bracket.inside)
            brackets.append(bracket)
        elif token.type == "CLOSE":
            if not brackets:
                raise Unreadable(place_of(token), *words.finding("not open", bracket=token))
            brackets.pop().close = token
            stack.pop()
        else:
            stack[-1].append(token)
    if brackets:
        bracket = brackets[-1]
        mate = dict(zip("([{<", ")]}>", strict=True))[bracket.open.value]
        raise Unreadable(bracket.start_pos, *words.finding("not closed", bracket=bracket.open, mate=mate))
    return top


def _level(items: list, result: Normalised, inside: bool) -> list:
    """Settle one level of brackets."""
    items = exact_times(carried_out(items, HOW_OFTEN))
    items = _brackets(items, result)
    items = _stars(items)
    return segments(items, result, inside)


def _brackets(items: list, result: Normalised) -> list:
    """Tell groups from totals, explanations, notes and "x 6" in brackets."""
    out: list = []
    for at, item in enumerate(items):
        if item.type != "BRACKET":
            out.append(item)
            continue
        if not item.inside:
            continue
        after = items[at + 1].type if at + 1 < len(items) else ""
        then = items[at + 2].type if at + 2 < len(items) else ""
        # Said at once how often, or where: a group. "Repeat" behind a comma says so too.
        direct = after in ("TIMES", "IN", "FILL", "TIMES_WORD") or after == "STAR" and then == "NUM"
        again = direct or after in ("SEP", "NL", "AND") and then in ("TIMES", "REPEAT")
        again = again or bool(out) and out[-1].type == "BEFORE"
        again = again or bool(out) and out[-1].type == "REPEAT" and not stated_total(item.inside)
        inside = types(item.inside)
        if inside[:1] == ["EQ"] and ("BRACKET" in inside or set(inside) & KINDS):  # "24 [= (2 sc, inc) x 6]"
            out += [item.inside[0], *_level(item.inside[1:], result, False)]
            continue
        if len(inside) > 40 or any(one.type == "BRACKET" for one in item.inside):
            only = item.inside[0] if len(item.inside) == 1 else None
            if only is not None and not again and (total := stated_total(only.inside)):
                out.append(made("STATED", total, item))
            elif any(one.type == "COUNT_WORD" for one in item.inside):
                out.append(made("NOT_COUNTED" if any(one.type == "NOT" for one in item.inside) else "COUNTS", "", item))
            else:
                out.append(Bracket(item.open, _level(item.inside, result, True), item.close))
            continue
        before = out[-1].type if out else ""
        often = exact_times(carried_out(item.inside, HOW_OFTEN))
        if "COUNT_WORD" in inside:
            out.append(made("NOT_COUNTED" if "NOT" in inside else "COUNTS", "", item))
        elif types(often) in (["TIMES"], ["REPEAT", "TIMES"]):
            out.append(often[-1])
        elif not again and (total := stated_total(item.inside)):
            out.append(made("STATED", total, item))
        elif (
            before in ("INC", "DEC", "TOG")
            and _explains(inside)
            or before in ("ST", "STITCH", "NEXT", "TOG", "TOGETHER")
            and not direct
            and _names(inside)
        ):
            pass
        elif not again and not any(kind in KINDS or kind in ("RING", "REPEAT") for kind in inside):
            result.idle += 1
        else:
            out.append(Bracket(item.open, _level(item.inside, result, True), item.close))
    return out


def _explains(inside: list[str]) -> bool:
    """Whether a bracket after "inc" or "dec" only says what that is: (2 sc in one st), (sc2tog)."""
    if "SEP" in inside or "INC" in inside or "DEC" in inside or "AND" in inside:
        return False
    return "TOG" in inside or "TOGETHER" in inside or "STITCH" in inside and ("IN" in inside or inside[0] == "NUM")


def _names(inside: list[str]) -> bool:
    """Whether a bracket after instructions only gives them a name: (inc), (decrease made)."""
    kinds = [kind for kind in inside if kind not in ("WORD", "NUM")]
    return kinds in (["INC"], ["DEC"], ["STITCH", "INC"], ["STITCH", "DEC"])


def _stars(items: list) -> list:
    """Tell what each asterisk does: open a repeat, close it, or say "times"."""
    out: list = []
    opened = False
    at = 0
    while at < len(items):
        item = items[at]
        kinds = types(items[at + 1 : at + 12])
        if item.type == "REPEAT":
            ahead = kinds[:7]
            if "STAR" in ahead and set(ahead[: ahead.index("STAR")]) <= {"FROM", "FIRST", "WORD", "ST", "IN", "STITCH"}:
                at += ahead.index("STAR") + 2
                rest = types(items[at : at + 4])
                if "STAR" in rest and set(rest[: rest.index("STAR")]) <= {"TO", "AND", "WORD", "SEP"}:
                    at += rest.index("STAR") + 1
                out.append(made("REP_FROM", "again", item))
                opened = False
            elif kinds[:1] == ["BRACKET"]:
                at += 1
            else:
                out.append(item)
                at += 1
        elif item.type != "STAR":
            out.append(item)
            at += 1
        elif opened:
            gap = 1 if kinds[:1] and kinds[0] in PARTS else 0
            then = kinds[gap] if len(kinds) > gap else ""
            if then == "REPEAT":
                ahead = kinds[gap + 1 : gap + 7]
                if "STAR" not in ahead:
                    out.append(made("REP_FROM", "all", item))
                    at += 1 + gap  # the word "repeat" itself goes too
                    opened = False
            elif then in ("TIMES", "FILL"):
                out.append(made("REP_FROM", "all", item))
                at += gap
                opened = False
            elif then == "NUM" and gap and items[at + 1].type in ("DASH", "EQ", "COLON"):
                out.append(made("REP_FROM", "all", item))  # "*1 sc, inc* - 18": around, and a total
                opened = False
            elif then == "NUM":
                out += [made("REP_FROM", "all", item), made("TIMES", items[at + gap + 1], item)]
                at += gap + 1
                opened = False
            at += 1
        elif (
            out
            and kinds[:1] == ["NUM"]
            and (out[-1].type in ("BRACKET", "ST", *KINDS) or types(out[-2:])[1:] == ["NUM"] and out[-2].type in KINDS)
        ):
            out.append(made("TIMES", items[at + 1], item))
            at += 2
        else:
            out.append(item)
            opened = True
            at += 1
    return out


def _flatten(items: list, out: list[Token]) -> None:
    """Write the settled levels out as one row of words."""
    for item in items:
        if item.type != "BRACKET":
            out.append(item)
            continue
        out.append(made("LEFT", "(", item))
        _flatten(item.inside, out)
        out.append(made("RIGHT", ")", item.close))
