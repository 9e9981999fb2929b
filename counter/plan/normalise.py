"""From a round's words to what the grammar takes.

Makers leave out, abbreviate and explain. What a word means hangs on its
neighbours: an asterisk opens a repeat, closes one or says "times"; a number
in brackets is a total, or part of a group; "with colour B" is no stitch at
all. That is settled here and in :mod:`counter.plan.habits`, each word looked at
once with a few of its neighbours, so that the time grows with the length of the
text alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from lark import Token

from counter.basics import words
from counter.plan.habits import HOW_OFTEN, LEFT_OUT, carried_out, exact_times, made, types
from counter.plan.tokens import KINDS, MOST_STITCHES, NUMBERS, PARTS, WHERE, Unreadable, place_of, shown, whole_number

__all__ = ["Normalised", "normalise", "variants"]

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
#: Words that the grammar has no place for: they say something about the work, but make no stitch.
IDLE = frozenset(
    {"WORD", "OTHER", "DECIMAL", "TOTAL", "MORE", "RND", "ROW", "PREVIOUS", "LIKE", "TO", "FOR", "UP_TO", "STARTS"}
    | {"TAKE", "NOT", "COUNT_WORD", "FROM", "HOOK", "X", "TIMES_WORD", "COLOUR_OR_RING", "ADD", "UNWORKED"}
)
#: Words beside a number that are no stitch.
ASIDE = frozenset(
    [
        "color",
        "colour",
        "shade",
        "yarn",
        "strand",
        "strands",
        "ball",
        "balls",
        "part",
        "piece",
        "pieces",
        "step",
        "page",
        "photo",
        "video",
        "picture",
        "chart",
        "fig",
        "figure",
        "size",
        "hook",
        "marker",
        "markers",
        "leg",
        "legs",
        "arm",
        "arms",
        "ear",
        "ears",
        "eye",
        "eyes",
        "side",
        "bead",
        "beads",
        "fewer",
        "apart",
        "cm",
        "mm",
        "m",
        "inch",
        "inches",
        "g",
        "gram",
        "grams",
        "oz",
        "yards",
        "yds",
    ]
)
#: Most remarks in a round that are tried to be left out.
MOST_REMARKS = 6
#: Words ahead of a place that make no stitch there.
HARMLESS = frozenset(
    {"change", "switch", "mark", "start", "begin", "end", "finish", "place", "insert", "up", "same", "picot"}
)


@dataclass
class _Bracket:
    """A bracket and what is in it."""

    open: Token
    inside: list
    close: Token | None = None
    type: str = "BRACKET"

    @property
    def start_pos(self) -> int:
        return place_of(self.open)


@dataclass
class Normalised:
    """The words of a round as the grammar takes them, and what was said beside them.

    ``stated`` are the totals written down, ``stated_at`` where; ``doubtful``
    words that may be stitches that aren't known, ``lost`` those among them that
    say a number, which must not be passed over; ``unworked`` says that
    stitches are left on purpose; ``idle`` counts the places with words that
    make no stitch; ``short`` is the same up to a total in the middle, where
    what follows may be a remark.
    """

    tokens: list[Token]
    stated: tuple[int, ...] = ()
    stated_at: int = 0
    doubtful: list[Token] = field(default_factory=list)
    lost: list[Token] = field(default_factory=list)
    unworked: bool = False
    idle: int = 0
    short: Normalised | None = None
    #: How a last "24 sc" was taken, or None where there is none; and how it is to be taken.
    closing: bool | None = None
    wanted: bool | None = None
    #: Whether the round joins parts (legs to a body), so that a chain between them is worked on both sides.
    joins: bool = False


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


def variants(tokens: Sequence[Token]) -> list[list[Token]]:
    """Leave out what may be a remark: sentences and brackets with words that are no instruction.

    Parameters
    ----------
    tokens : sequence of Token
        The words after the label.

    Returns
    -------
    list of list of Token
        The same without one of them, then without all; none where there is none.
    """
    parts = _remarks(tokens)
    if not parts or len(parts) > MOST_REMARKS:
        return []
    out = []
    for chosen in [[part] for part in parts] + ([parts] if len(parts) > 1 else []):
        left = [token for at, token in enumerate(tokens) if not any(begin <= at < end for begin, end in chosen)]
        if any(token.type in KINDS or token.type in ("RING", "EVEN") for token in left):
            out.append(left)
    return out


def _remarks(tokens: Sequence[Token]) -> list[tuple[int, int]]:
    """First and last place of sentences and brackets that may be remarks."""
    found, begin, depth, opened = [], 0, 0, 0
    ends = next((at for at, token in enumerate(tokens) if token.lower() in ("ending", "ends", "end")), None)
    if ends:  # "(sc 4, dec) around, ending with sc 4, dec": told once more
        stop = (at for at in range(ends, len(tokens)) if tokens[at].type in ("OPEN", "DASH", "EQ") or tokens[at] == ".")
        found.append((ends, next(stop, len(tokens))))
    for at, token in enumerate([*tokens, Token("SEP", ".")]):
        if token.type == "OPEN":
            if depth == 0:
                opened = at
                inside = [one.type for one in tokens[at + 1 : at + 3]]
                if (
                    inside[:1] == ["NUM"]
                    and inside[1:] != ["STITCH"]
                    and begin
                    and any(one.type in ("WORD", "DECIMAL") for one in tokens[begin:at])
                ):
                    found.append((begin, at))  # a remark ends at the total behind it
                    begin = at
            depth += 1
        elif token.type == "CLOSE" and depth:
            depth -= 1
            after = tokens[at + 1].type if at + 1 < len(tokens) else ""
            within = tokens[opened + 1 : at]
            if (
                depth == 0
                and after not in ("X", "TIMES_WORD", "NUM", "FILL", "IN")
                and any(t.type == "WORD" for t in within)
            ):
                found.append((opened, at + 1))
        elif depth == 0 and (token.type == "NL" or token.type == "SEP" and token in ".;!,"):
            words_here = [one for one in tokens[begin:at] if one.type != "NL"]
            strange = "NUM" in types(words_here) and _strange(words_here, False)
            if begin and not strange and any(one.type in ("WORD", "DECIMAL") for one in words_here):
                found.append((begin, at))
            begin = at + 1
    return found


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
    brackets: list[_Bracket] = []
    for token in tokens:
        if token.type == "OPEN":
            bracket = _Bracket(token, [])
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
    return _segments(items, result, inside)


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
        again = again or bool(out) and out[-1].type == "REPEAT" and not _total(item.inside)
        inside = types(item.inside)
        if inside[:1] == ["EQ"] and ("BRACKET" in inside or set(inside) & KINDS):  # "24 [= (2 sc, inc) x 6]"
            out += [item.inside[0], *_level(item.inside[1:], result, False)]
            continue
        if len(inside) > 40 or any(one.type == "BRACKET" for one in item.inside):
            only = item.inside[0] if len(item.inside) == 1 else None
            if only is not None and not again and (total := _total(only.inside)):
                out.append(made("STATED", total, item))
            elif any(one.type == "COUNT_WORD" for one in item.inside):
                out.append(made("NOT_COUNTED" if any(one.type == "NOT" for one in item.inside) else "COUNTS", "", item))
            else:
                out.append(_Bracket(item.open, _level(item.inside, result, True), item.close))
            continue
        before = out[-1].type if out else ""
        often = exact_times(carried_out(item.inside, HOW_OFTEN))
        if "COUNT_WORD" in inside:
            out.append(made("NOT_COUNTED" if "NOT" in inside else "COUNTS", "", item))
        elif types(often) in (["TIMES"], ["REPEAT", "TIMES"]):
            out.append(often[-1])
        elif not again and (total := _total(item.inside)):
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
            out.append(_Bracket(item.open, _level(item.inside, result, True), item.close))
    return out


def _total(items: list) -> str:
    """Return the totals that a bracket or the end of a line states, "" where it states none."""
    items = [
        item for item in items if item.type != "IN" and not (item.type == "WORD" and item.lower() in BESIDE_TOTALS)
    ]
    kinds = types(items)
    if "NUM" not in kinds or not set(kinds) <= TOTALS:
        return ""
    numbers = [item for item in items if item.type == "NUM"]
    if len(numbers) == 1:
        if any(set(types(part)) <= {"INC", "DEC"} for part in _parted(items)):
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
        heads = [part for part in _parted(items) if not {"SPACE", "CHAIN"} & set(types(part))]
        if len(heads) == 1 and types(heads[0])[:1] == ["NUM"]:
            return str(heads[0][0])
    parts = _parted(items)
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


def _parted(items: list) -> list[list]:
    """Items between commas and "and"."""
    parts: list[list] = [[]]
    for item in items:
        if item.type in PARTS:
            parts.append([])
        else:
            parts[-1].append(item)
    return [part for part in parts if part]


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


def _segments(items: list, result: Normalised, inside: bool) -> list:
    """Settle what stands between two commas, one after the other."""
    out: list = []
    segment: list = []
    sign = None
    kinds = any(item.type in KINDS or item.type in ("BRACKET", "RING", "EVEN", "IN") for item in items)
    full = max((at for at, item in enumerate(items) if item.type not in PARTS), default=-1)
    last = max((at for at, item in enumerate(items[:full]) if item.type in PARTS), default=-1)
    for at, item in enumerate([*items, None]):
        if item is not None and item.type not in PARTS:
            segment.append(item)
            continue
        if segment:
            repeated = "REP_FROM" in types(segment)  # the star behind it closes a repeat: "*dec, 4* x6"
            among = kinds and (inside or at <= last or result.wanted is False or repeated)
            among = among and (item is None or item.type in ("SEP", "AND"))
            settled = _plain(segment, sign) if among and not _stated(out) else None
            settled = settled or _segment(_Segment(segment, sign, out, result, inside, kinds, at > last))
            if settled:
                if out and out[-1].type != "SEP":
                    out.append(made("SEP", ",", segment[0]))
                out += settled
        segment, sign = [], item
    return out


def _stated(out: list) -> bool:
    return any(item.type == "STATED" for item in out)


def _plain(segment: list, sign: Token | None) -> list | None:
    """A number all alone among stitches is that many plain ones: "(1, 1, inc) x 6"."""
    kinds = types(segment)
    core = [kind for kind in kinds if kind != "STAR" and not (kind == "STATED" and "REP_FROM" in kinds)]
    if core[:1] == ["NUM"] and core[1:] in (["REP_FROM"], ["REP_FROM", "TIMES"], ["REP_FROM", "FILL"]):
        core = ["NUM"]  # "*dec, 4* x6"
    if core != ["NUM"] or sign is not None and sign.type not in ("SEP", "AND"):
        return None
    place = kinds.index("NUM") + 1
    return [*segment[:place], made("STITCH", "main", segment[place - 1]), *segment[place:]]


@dataclass
class _Segment:
    """What stands between two commas: the sign ahead of it, what came before, and whether it is the last."""

    items: list
    sign: Token | None
    out: list
    result: Normalised
    inside: bool
    kinds: bool
    ends: bool

    @property
    def types(self) -> list[str]:
        return types(self.items)

    @property
    def bare(self) -> list:
        """The words without what was settled already."""
        return [item for item in self.items if item.type not in ("STAR", "STATED", "OTHER")]

    @property
    def stars(self) -> list:
        return [item for item in self.items if item.type == "STAR"]

    def part(self, items: list) -> _Segment:
        """A part of it, read by itself."""
        return _Segment(items, self.sign, self.out, self.result, self.inside, self.kinds, False)


def _segment(segment: _Segment) -> list:
    """Settle what stands between two commas: the first reader that knows it says what it is."""
    for reader in READERS:
        found = reader(segment)
        if found is not None:
            return found
    return carried_out(_idle(_loops(segment.items), segment.result, segment.inside), LEFT_OUT)


def _closing_total(segment: _Segment) -> list | None:
    """The total that a round ends with: "... join. 24 sc"."""
    if not segment.ends or segment.inside:
        return None
    total = _closing(segment.bare, segment.sign, segment.out, segment.result)
    if total:
        return [*segment.stars, made("STATED", total, segment.items[0])]
    if segment.result.closing is False and types(segment.bare) == ["NUM"]:
        stated = [item for item in segment.items if item.type == "STATED"]
        return [*(_plain(segment.bare, segment.sign) or []), *stated]
    return None


def _named_total(segment: _Segment) -> list | None:
    """A total that isn't in brackets: "= 24", "- 24 sts", ". 24 stitches in total", or a number all alone."""
    core = [kind for kind in segment.types if kind not in ("WORD", "STAR", "OTHER")]
    if segment.inside or not segment.bare or "STATED" in segment.types or core.count("NUM") != 1:
        return None
    total = _total(segment.bare)
    if not total or " " in total:
        return None
    sign, ends = segment.sign, segment.ends
    said = sign is not None and sign.type in ("EQ", "DASH", "COLON")
    strong = said or sign is not None and sign == "."
    again = any(item.type in ("FILL", "TIMES", "BRACKET") for item in segment.out)
    if "STITCH" in core or "CHAIN" in core:
        marked = sign is not None and strong and (sign.type == "EQ" or ends and sign.type != "SEP")
        states = marked or strong and again
    else:
        alone = not segment.kinds or not segment.out
        states = "ST" in core or "TOTAL" in core or strong or alone or again and ends
    return [*segment.stars, made("STATED", total, segment.items[0])] if states else None


def _number_after_total(segment: _Segment) -> list | None:
    """A number that stands behind a total says nothing more."""
    core = [kind for kind in segment.types if kind not in ("WORD", "STAR", "OTHER")]
    return [] if core == ["NUM"] and _stated(segment.out) else None


def _counted(segment: _Segment) -> list | None:
    """What says whether a chain counts: "counts as a dc", "does not count as a stitch"."""
    kinds = segment.types
    if "COUNT_WORD" not in kinds:
        return None
    where = kinds.index("COUNT_WORD")
    said = "NOT_COUNTED" if "NOT" in kinds else "COUNTS"
    head = segment.items[: min(where, kinds.index("NOT") if "NOT" in kinds else where)]
    return [*(item for item in head if item.type not in IDLE), made(said, "", segment.items[where])]


def _left_unworked(segment: _Segment) -> list | None:
    """Stitches that are left on purpose: "leave the rest unworked"."""
    kinds = set(segment.types)
    if "UNWORKED" not in kinds or not ({"ST", "REST", "STITCH"} & kinds or "NUM" in kinds and "WORD" not in kinds):
        return None
    segment.result.unworked = True
    return []


def _joined(segment: _Segment) -> list | None:
    """The end of a joined round: "sl st to join"; a stitch that is joined with is worked."""
    kinds = segment.types
    if "JOIN" not in kinds and "SLIP" not in kinds:
        return None
    first = min(kinds.index(kind) for kind in ("JOIN", "SLIP") if kind in kinds)
    rest = segment.items[first:]
    tail = types(rest)
    if "SAME" in kinds[:first]:  # "sc in the same st as the join"
        segment.items = segment.items[:first]
        return None
    if "JOIN" in tail and tail[1:2] == ["STITCH"] and "SLIP" not in tail:  # "join with a sc in any st"
        segment.items = [*segment.items[:first], *rest[1:]]
        return None
    said = any(item.type == "WORD" and item.lower() in ("top", "form") for item in rest)
    if "JOIN" not in tail and not said and not {"FIRST", "STARTS", "ORDINAL", "SPACE"} & set(tail):
        return None
    head = _segment(segment.part(segment.items[:first])) if first else []
    ends = [item for item in rest if item.type in ("STAR", "STATED", "REP_FROM")]
    to_chain = any(item.type == "WORD" and item.lower() == "top" for item in rest) and "CHAIN" in tail
    return [*head, made("JOIN", "top" if to_chain else "", segment.items[first]), *ends]


def _nothing_done(segment: _Segment) -> list | None:
    """What is not to be done: "do not turn"."""
    kinds = segment.types
    works = any(kind in KINDS or kind == "BRACKET" for kind in kinds)
    if kinds[0] != "NOT" and ("NOT" not in kinds or works):
        return None
    return [item for item in segment.items if item.type in ("STAR", "STATED")]


#: What reads a segment, in this order.
READERS = (_closing_total, _named_total, _number_after_total, _counted, _left_unworked, _joined, _nothing_done)


def _closing(segment: list, sign: Token | None, out: list, result: Normalised) -> str:
    """Return the total that a round ends with, "... join. 24 sc", "" where it is worked, or there is none."""
    said = "TOTAL" in types(segment)  # "30 sc in total"
    kinds = [
        kind
        for kind in types(segment)
        if kind not in ("WORD", "NOISE", "REST", "TOTAL") and not (said and kind == "IN")
    ]
    worked = [item for item in out if item.type in KINDS - {"CHAIN", "SLIP"} or item.type in ("BRACKET", "FILL")]
    if kinds not in (["NUM"], ["NUM", "STITCH"], ["NUM", "ST"]) or not worked or _stated(out):
        return ""
    if sign is not None and sign.type not in ("SEP", "NL", "AND"):
        return ""  # a sign that says more is looked at elsewhere
    joined = any(item.type == "JOIN" for item in out)
    plain = any(item.type == "STITCH" and item == "main" for item in out)
    usual = joined or said or (sign is not None and sign == "." if kinds[1:] == ["STITCH"] else not plain)
    result.closing = usual if result.wanted is None else result.wanted
    return str(next(item for item in segment if item.type == "NUM")) if result.closing else ""


def _loops(segment: list) -> list:
    """Take out "in the back loop only" and put BLO ahead of the step."""
    places = [at for at, item in enumerate(segment) if item.type == "LOOPS"]
    if not places:
        return segment
    kept = [
        item for at, item in enumerate(segment) if at not in places and not (item.type == "IN" and at + 1 in places)
    ]
    word = segment[places[0]].lower()
    if word.startswith("both"):
        return kept
    first = 1 if kept and kept[0].type == "STAR" else 0
    name = {"b": "BLO", "f": "FLO"}.get(word[0], "3LO")
    return [*kept[:first], made("LOOPS", name, segment[places[0]]), *kept[first:]]


def _idle(segment: list, result: Normalised, inside: bool) -> list:
    """Take out words that make no stitch; note those that might be a stitch that isn't known."""
    segment = [
        _colour_or_ring(segment, at) if item.type == "COLOUR_OR_RING" else item for at, item in enumerate(segment)
    ]
    kinds = types(segment)
    idle = any(kind in IDLE for kind in kinds)
    acts = [
        at
        for at, kind in enumerate(kinds)
        if kind in KINDS or kind in ("BRACKET", "RING", "REPEAT", "REP_FROM", "EVEN")
    ]
    result.idle += idle
    kept = [item for item in segment if item.type in ("STAR", "STATED", "LOOPS", "TURN")]
    if not acts:
        if idle:
            strange = _strange(segment, inside)
            result.doubtful += strange
            result.lost += strange if "NUM" in kinds else []
        return kept if idle else segment
    first = acts[0]
    if idle and kinds[0] in IDLE and kinds[first] in KINDS and first and kinds[first - 1] in (*WHERE, "IN"):
        return kept  # "change colour in the last sc"
    out: list = []
    at = 0
    while at < len(segment):
        item, after = segment[at], kinds[at + 1] if at + 1 < len(kinds) else ""
        if item.type == "IN" and (found := _aside(segment, at)):
            out += found[0]
            at = found[1]
        elif item.type == "NUM" and after == "WORD":
            at = _counted_words(segment, at, out, result)
        else:
            if item.type not in IDLE or item.type == "HOOK" and out and out[-1].type in ("CHAIN", "ST", "STITCH"):
                out.append(item)
            at += 1
    return out


def _colour_or_ring(segment: list, at: int) -> Token:
    """Tell what "mc" is: a magic circle, or the main colour."""
    near = types(segment[max(at - 1, 0) : at + 2])
    ring = {"IN", "NUM", "STITCH"} & set(near)
    return made("RING" if ring else "WORD", segment[at], segment[at])


def _aside(segment: list, at: int) -> tuple[list, int] | None:
    """Leave out "in pink", "on 4 mm hook"; return what is kept of it, and where the rest begins."""
    end = at + 1
    while end < len(segment) and segment[end].type in (*WHERE, "NUM", "WORD", "OTHER", "DECIMAL"):
        end += 1
    phrase = types(segment[at + 1 : end])
    noun = end < len(segment) and segment[end].type in ("ST", "STITCH", "CHAIN", "RING", "SPACE", "FILL")
    if "WORD" not in phrase or noun:
        return None
    keep = [one for one in segment[at + 1 : end] if one.type in WHERE and phrase[0] != "WORD"]
    return ([segment[at], *keep] if keep else []), end


def _counted_words(segment: list, at: int, out: list, result: Normalised) -> int:
    """Read a number with words behind it, "sc 6 A", "6 floofs"; return where the rest begins."""
    after = at + 1
    while after < len(segment) and segment[after].type == "WORD":
        after += 1
    if out and out[-1].type in KINDS:
        out.append(segment[at])  # "sc 6 A"
        return after
    if after >= len(segment) or segment[after].type not in KINDS:
        result.doubtful.append(segment[at + 1])
        return after
    out.append(segment[at])
    return at + 1


def _strange(items: list, inside: bool) -> list[Token]:
    """Words that look like a stitch that isn't known: "crab 3", "6 floofs", or a word alone in a repeat."""
    items = [item for item in items if item.type not in ("STAR", "SEP", "STATED")]
    kinds = types(items)
    if any(item.type == "WORD" and item.lower() in ASIDE for item in items):
        return []
    if kinds in (["WORD", "NUM"], ["NUM", "WORD"], ["NUM", "WORD", "ST"]):
        return [items[kinds.index("WORD")]]
    codes = [item for item in items if item.type == "WORD"]
    if "NUM" in kinds and codes and set(kinds) <= {"WORD", "NUM", "DASH"} and all(len(item) < 3 for item in codes):
        return [codes[0]]  # "V4 a V6"
    placed = kinds[:1] == ["WORD"] and kinds.count("WORD") == 1 and set(kinds[1:]) <= {"IN", "ST", *WHERE}
    if (
        placed
        and kinds[-1] == "ST"
        and not items[0].lower().endswith(("ing", "er"))
        and items[0].lower() not in HARMLESS
    ):
        return [items[0]]  # "shell in next st"
    return [items[0]] if inside and kinds == ["WORD"] else []


def _flatten(items: list, out: list[Token]) -> None:
    """Write the settled levels out as one row of words."""
    for item in items:
        if item.type != "BRACKET":
            out.append(item)
            continue
        out.append(made("LEFT", "(", item))
        _flatten(item.inside, out)
        out.append(made("RIGHT", ")", item.close))
