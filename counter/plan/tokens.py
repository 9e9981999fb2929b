"""From a text to the rounds in it, and from a round's words to what the grammar takes.

Makers leave out, abbreviate and explain. What a word means hangs on its
neighbours: an asterisk opens a repeat, closes one or says "times"; a number
in brackets is a total, or part of a group; "with colour B" is no stitch at
all. That is settled here, each word looked at once with a few of its
neighbours, so that the time grows with the length of the text alone.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

from lark import Lark, Token

from counter.basics import words

__all__ = [
    *("DEEPEST", "Entry", "LONGEST", "MOST", "MOST_ROUNDS", "Settled", "Unreadable"),
    *("deepest", "grammar", "label_numbers", "plain", "settle", "shown", "split", "variants"),
    *("whole_number", "words_of"),
    *("KINDS", "PARTS"),
]

#: Most characters that are read.
LONGEST = 40_000
#: Most brackets inside each other.
DEEPEST = 20
#: Most stitches in a round, and the largest number that is taken in one.
MOST = 10_000
#: Highest number of a round.
MOST_ROUNDS = 1000

NUMBERS = dict(
    one=1, two=2, three=3, four=4, five=5, six=6, seven=7, eight=8, nine=9, ten=10, eleven=11, twelve=12,
    second=2, third=3, fourth=4, fifth=5, sixth=6, seventh=7, eighth=8, ninth=9, tenth=10, once=1, twice=2, thrice=3,
)  # fmt: skip

#: Words for something that is worked.
KINDS = frozenset({"STITCH", "TOG", "INC", "DEC", "SKIP", "CHAIN", "SLIP"})
#: Words that say which stitch of the round below.
WHERE = frozenset({"EACH", "NEXT", "FIRST", "LAST", "SAME", "REST", "ORDINAL", "EVERY_OTHER", "EVERY_NTH"})
#: What parts one step from the next.
PARTS = frozenset({"SEP", "AND", "ADD", "NL", "COLON", "DASH", "EQ"})
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
#: What no round ends with.
UNFINISHED = frozenset(
    {"AND", "CHAIN", "IN", "EACH", "NEXT", "SAME", "FROM", "X", "REPEAT", "SKIP", "EVERY_NTH", "EVERY_OTHER"}
)
#: Words ahead of a place that make no stitch there.
HARMLESS = frozenset(
    {"change", "switch", "mark", "start", "begin", "end", "finish", "place", "insert", "up", "same", "picot"}
)
#: What ends a label.
ENDS = frozenset({"COLON", "DASH", "EQ", "CLOSE"})
BULLETS = frozenset({"OTHER", "DASH", "STAR", "EQ"})


class Unreadable(Exception):
    """Words of a round that can't be read: where, what, and what to write instead."""

    def __init__(self, at: int, what: str, fix: str) -> None:
        super().__init__(what)
        self.at, self.what, self.fix = at, what, fix


@cache
def grammar() -> Lark:
    """Return the grammar of written rounds, made once."""
    text = files("counter.plan").joinpath("rounds.lark").read_text(encoding="utf-8")
    return Lark(
        text,
        parser="lalr",
        lexer="basic",
        start=["round", "totals", "growth", "other_word"],
        g_regex_flags=re.IGNORECASE,
        maybe_placeholders=False,
    )


class _Plain(dict):
    """Sign by sign what is read for it; every sign stays one sign, so that columns stay true."""

    SAME = {
        "×": "x", "✕": "x", "✖": "x", "⨯": "x", "·": " ", "•": " ", "●": " ", "◦": " ", "▪": " ", "■": " ", "□": " ",
        "◆": " ", "○": " ", "☐": " ", "✓": " ", "\ufeff": " ", "\u200b": " ", "\u200c": " ", "\u200d": " ",
        "\u2060": " ", "\u00ad": " ", "“": " ", "”": " ", "„": " ", "‟": " ", '"': " ", "«": "<", "»": ">", "‹": "<",
        "›": ">", "’": "'", "‘": "'", "‚": ",", "`": " ", "´": "'", "−": "-", "＝": "=", "⇒": "=", "→": "=", "➔": "=",
        "：": ":", "，": ",", "；": ";", "（": "(", "）": ")", "［": "[", "］": "]", "＊": "*", "∗": "*",
        "✱": "*", "⁎": "*", "＋": "+", "_": " ", "\t": "|", "\r": "\n", "\u2028": "\n", "\u2029": "\n", "\x85": "\n",
    }  # fmt: skip

    def __missing__(self, code: int) -> str:
        sign = chr(code)
        if sign in self.SAME:
            said = self.SAME[sign]
        elif sign == "\n":
            said = sign
        elif (digit := unicodedata.decimal(sign, None)) is not None:
            said = str(digit)
        elif unicodedata.category(sign) in ("Cc", "Zs"):
            said = " "
        elif unicodedata.category(sign) == "Pd":
            said = "-"
        else:
            said = sign
        self[code] = said
        return said


def plain(text: str) -> str:
    """Write a text with plain signs: one kind of dash, of quotation mark, of blank and of line end.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        Of the same length.
    """
    return text.replace("\r\n", " \n").replace("->", " =").replace("=>", " =").translate(_Plain())


def deepest(text: str) -> int | None:
    """Return where brackets go deeper than :data:`DEEPEST`, None where they don't."""
    depth = 0
    for at, sign in enumerate(text):
        if sign in "([{<":
            depth += 1
            if depth > DEEPEST:
                return at
        elif sign in ")]}>":
            depth = max(depth - 1, 0)
        elif sign == "\n":
            depth = 0
    return None


def words_of(text: str) -> list[Token]:
    """Cut a plain text into its words."""
    return list(grammar().lex(text))


def shown(text: str) -> str:
    """Return a piece of the maker's text as it can stand in a sentence."""
    clean = "".join(sign if sign.isprintable() else "?" for sign in text)
    return clean if len(clean) <= 24 else clean[:21] + "..."


# ------------------------------------------------------------------ which words are a round


@dataclass
class Entry:
    """The words of one line that may be a round (or several alike).

    ``numbers`` are what the label says: None without a label, () for "next
    round". ``weak`` is a label that could be something else ("5." counts
    items as well as rounds), ``row`` a label that says row, ``listed`` one of
    several rounds that are told together out of turn, ``problem`` what is
    wrong with the label.
    """

    numbers: tuple[int, ...] | None
    tokens: list[Token]
    at: int
    weak: bool = False
    row: bool = False
    listed: bool = False
    problem: Unreadable | None = None


def split(tokens: Sequence[Token]) -> list[Entry]:
    """Cut the words of a text into entries: one a line, more where a line holds several labels.

    A line without a label that carries on from one that isn't finished (it
    ends with a comma, or a bracket is open) is taken to it.

    Parameters
    ----------
    tokens : sequence of Token

    Returns
    -------
    list of Entry
        Lines without a word are left out.
    """
    entries: list[Entry] = []
    line: list[Token] = []
    listed = _listed(tokens)
    for token in [*tokens, Token("NL", "\n", start_pos=0)]:
        if token.type != "NL":
            line.append(token)
            continue
        for entry in _entries(line, listed):
            if (
                entry.numbers is None
                and not entry.row
                and entries
                and (_open(entries[-1]) or _only_total(entry, entries[-1]))
                and entry.at == line[0].start_pos
            ):
                cut = entries[-1].tokens and entries[-1].tokens[-1].type in UNFINISHED - {"AND", "CHAIN"}
                entries[-1].tokens += [*([] if cut else [Token("NL", "\n", start_pos=entry.at)]), *entry.tokens]
            else:
                entries.append(entry)
        line = []
    return entries


def _only_total(entry: Entry, before: Entry) -> bool:
    """Whether a line holds nothing but the total in brackets of the labelled round above it, "(18 sts)"."""
    kinds = [token.type for token in entry.tokens]
    if not before.numbers or not before.tokens or kinds[:2] != ["OPEN", "NUM"] or kinds.count("NUM") != 1:
        return False
    ends = [token.type for token in before.tokens[-3:] if token.type != "SEP"]
    return set(kinds) <= {"OPEN", "NUM", "ST", "STITCH", "CLOSE", "SEP"} and ends[-2:] != ["NUM", "CLOSE"]


def _open(entry: Entry) -> bool:
    """Whether a labelled entry is plainly not finished."""
    if not entry.numbers or not entry.tokens:
        return entry.numbers is not None and not entry.row and not entry.tokens
    last = entry.tokens[-1]
    if last.type in UNFINISHED or last.type == "SEP" and last in ",;":
        return True
    depth = sum((token.type == "OPEN") - (token.type == "CLOSE") for token in entry.tokens)
    return depth > 0


def _listed(tokens: Sequence[Token]) -> frozenset[int]:
    """Places of lines that number themselves, "1- 6", "2- 12": each carries the count on."""
    found, due = [], 1
    begins = True
    for at, token in enumerate(tokens):
        if token.type == "NL":
            begins = True
            continue
        if not begins or token.type in BULLETS:
            continue
        begins = False
        if token.type != "NUM" or whole_number(token) != due:
            continue
        kinds = [one.type for one in tokens[at + 1 : at + 4]]
        if kinds[:2] == ["DASH", "NUM"]:
            found.append(token.start_pos)
            due += 1
            if kinds[2:] == ["DASH"]:  # "5-8- 24"
                due = whole_number(tokens[at + 2]) + 1
        elif kinds == ["TO", "NUM", "DASH"]:
            found.append(token.start_pos)
            due = whole_number(tokens[at + 2]) + 1
    return frozenset(found if len(found) > 1 else ())


def _entries(line: list[Token], listed: frozenset[int] = frozenset()) -> list[Entry]:
    if not line:
        return []
    start, found = 0, []
    while start < len(line) and line[start].type in BULLETS:
        start += 1
    try:
        label = _label(line, start, listed)
    except Unreadable as error:
        return [Entry((), line[start:], line[start].start_pos, problem=error)]
    if label:
        numbers, body, weak, row, _ = label
        found.append(Entry(numbers, [], line[start].start_pos, weak, row))
    else:
        body = 0
        found.append(Entry(None, [], line[0].start_pos))
    at = body
    while at < len(line):
        token, before = line[at], line[at - 1] if at else None
        first = len(found) == 1 and found[0].numbers is None and before is not None
        if (
            token.type == "RND"
            and at > body
            and (
                before.type in ("SEP", "CLOSE", "STAR", "NUM", "ST")
                or first
                and before.type in ("COLON", "DASH", "WORD", "COLOUR_OR_RING")
            )
        ):
            try:
                inner = _label(line, at)
            except Unreadable as error:
                found.append(Entry((), line[at:], token.start_pos, problem=error))
                break
            # A colour ahead: "CC: R5: sc around".
            ahead = found[-1].numbers is None and len(found) == 1
            ahead = ahead and not any(one.type in KINDS or one.type in ("RING", "FILL") for one in found[-1].tokens)
            # Without a mark behind it ("R1 6 sc, R2 inc x 6") a label must carry on the count.
            counts_on = inner and found[-1].numbers and inner[0] and inner[0][0] == found[-1].numbers[-1] + 1
            colon = inner and ahead and any(one.type in ("COLON", "DASH") for one in line[inner[1] - 1 : inner[1]])
            if inner and (inner[4] and not first or colon or counts_on and before.type in ("SEP", "CLOSE")):
                if colon:  # what stands ahead is a colour, or a remark on this round
                    found.pop()
                found.append(Entry(inner[0], [], token.start_pos, inner[2], inner[3]))
                at = body = inner[1]
                continue
        found[-1].tokens.append(token)
        at += 1
    return [entry for entry in found if entry.tokens or entry.numbers is not None]


def _label(
    line: list[Token], at: int, listed: frozenset[int] = frozenset()
) -> tuple[tuple[int, ...], int, bool, bool, bool] | None:
    """Read a label: its numbers, where the rest begins, whether it is weak, a row, and has a mark at its end."""
    kind = [token.type for token in line[at : at + 12]]
    kind += [""] * (12 - len(kind))
    bracket = kind[0] == "OPEN"
    bold = at > 0 and line[at - 1].type == "STAR"
    if bracket:  # "[8]: ..."
        at, kind = at + 1, [*kind[1:], ""]
    row = "ROW" in kind[:2]
    if kind[1] in ("RND", "ROW") and kind[0] in ("ORDINAL", "FIRST", "NEXT"):
        body, ended = _past_end(line, at + 2, bracket, bold)
        numbers = () if kind[0] == "NEXT" else (whole_number(line[at]) if kind[0] == "ORDINAL" else 1,)
        return numbers, body, False, row, ended
    named = kind[0] in ("RND", "ROW")
    first = at + named
    if named and kind[1] == "OTHER" and line[first] in "#№":
        first += 1
    if first >= len(line) or line[first].type not in ("NUM", "NUM_WORD"):
        return None
    numbers, body = _range(line, first, named)
    after, ended = _past_end(line, body, bracket, bold)
    if named:
        return numbers, after, False, row, ended
    tight = body < len(line) and line[body].start_pos == line[body - 1].end_pos
    if bracket:
        weak = ended and after - body >= 2  # "[8]:" or "(8) -", but not "(24)"
    else:
        weak = body < len(line) and (
            line[body].type in ("COLON", "CLOSE")
            or line[body].type == "SEP"
            and line[body] == "."
            and tight
            or line[body].type == "DASH"
            and (
                line[at].start_pos in listed
                or any(token.type in KINDS or token.type == "RING" for token in line[body:])
            )
        )
    return (numbers, after, True, False, ended) if weak else None


def _range(line: list[Token], at: int, named: bool) -> tuple[tuple[int, ...], int]:
    """Read "5", "5-8", "5 to 8", "5, 6 and 7", "R5-R8" from a place on; return the numbers and where they end."""
    first = whole_number(line[at])
    numbers, at = [first], at + 1
    while at + 1 < len(line):
        link = line[at]
        if link.type == "SEP" and link == "." and line[at + 1].type in ("DASH", "TO"):  # "5.-8."
            at += 1
            continue
        if link.type == "SEP" and line[at + 1].type == "AND" and named:
            at += 1
            continue
        skip = 2 if line[at + 1].type == "RND" and named else 1
        if at + skip >= len(line) or line[at + skip].type not in ("NUM", "NUM_WORD"):
            break
        number, after = whole_number(line[at + skip]), at + skip + 1
        follower = line[after].type if after < len(line) else ""
        closed = follower in ENDS or follower == "SEP" and line[after] == "."
        if link.type in ("TO", "DASH") and len(numbers) == 1:
            spaced = link.start_pos > line[at - 1].end_pos or line[at + 1].start_pos > link.end_pos
            if link.type == "DASH" and named and number > max(first, 3) and _in_each(line, after):
                return tuple(range(first, min(number, MOST_ROUNDS) + 1)), after  # "Rnd 5 - 8 sc in all 24 sts"
            before = link.start_pos > line[at - 1].end_pos and line[at + 1].start_pos == link.end_pos
            if link.type == "DASH" and (before or not closed and (spaced or first == 1 or not named)):
                break  # "R2 - 6 sc", "R1-6 sc in ring"
            if number <= first:
                if link.type == "TO" or closed:
                    raise Unreadable(link.start_pos, *words.finding("backwards", first=first, last=number))
                break
            if number > MOST_ROUNDS:
                raise Unreadable(line[at + skip].start_pos, *_too_high(number))
            return tuple(range(first, number + 1)), after
        follows = named and (
            number == numbers[-1] + 1 or number > numbers[-1] and (skip == 2 or len(numbers) > 1 or closed)
        )
        follows = follows and (number == numbers[-1] + 1 or _ends_label(line, after))
        if follows and (
            link.type == "AND" or link.type in ("SEP", "ADD") and (closed or follower in ("SEP", "AND", "ADD"))
        ):
            if link.type == "SEP" and link not in ",/":
                break
            numbers.append(number)
            at = after
            continue
        if link.type == "SEP" and line[at + 1].type == "AND":
            at += 1
            continue
        break
    if first > MOST_ROUNDS:
        raise Unreadable(line[at - 1].start_pos, *_too_high(first))
    return tuple(numbers), at


def _in_each(line: list[Token], at: int) -> bool:
    """Whether "sc in all 24 sts", "sc around" stands at a place: more than three in each would be strange."""
    kinds = [token.type for token in line[at : at + 4] if token.type != "NOISE"]
    return kinds[:1] == ["STITCH"] and bool({"EACH", "FILL"} & set(kinds[1:3])) and "SPACE" not in _types(line[at:])


def _ends_label(line: list[Token], at: int) -> bool:
    """Whether a list of round numbers ("R5, R7 and R9:") that goes on from a place ends as a label does."""
    while at < len(line) and line[at].type in ("SEP", "AND", "ADD", "RND", "NUM"):
        at += 1
    return at < len(line) and line[at].type in ("COLON", "DASH", "CLOSE", "EQ")


def label_numbers(tokens: list[Token], at: int) -> tuple[tuple[int, ...], int]:
    """Return the numbers of rounds that stand from a place on, as in "5-8" or "5 and 6", and where they end.

    Raises
    ------
    Unreadable
        If they run backwards, or too high.
    """
    return _range(tokens, at, True)


def _too_high(number: int) -> tuple[str, str]:
    return words.finding("high number", n=shown(str(number)), most=MOST_ROUNDS)


def _past_end(line: list[Token], at: int, bracket: bool, bold: bool) -> tuple[int, bool]:
    """Go past what ends a label, a colon, a dash, a dot, a bracket, a note like (RS); say also if there was any."""
    begin = at
    if bracket and at < len(line) and line[at].type == "CLOSE":
        at += 1
    if at + 2 < len(line) and line[at].type == "OPEN" and line[at + 1].type == "WORD" and line[at + 2].type == "CLOSE":
        at += 3
    ends = ENDS | {"SEP", "OTHER"} | ({"STAR"} if bold else set())  # "**Rnd 5:** sc around"
    while at < len(line) and line[at].type in ends:
        at += 1
    return at, at > begin


def whole_number(token: Token) -> int:
    """Return the number that a word says ("6", "six", "2nd"), at most 10**9."""
    text = token.lower()
    if text in NUMBERS:
        return NUMBERS[text]
    digits = re.match(r"[0-9]+", text).group()
    return int(digits) if len(digits) <= 9 else 10**9


# ------------------------------------------------------------------ what the words mean


@dataclass
class _Bracket:
    """A bracket and what is in it."""

    open: Token
    inside: list
    close: Token | None = None
    type: str = "BRACKET"

    @property
    def start_pos(self) -> int:
        return self.open.start_pos


@dataclass
class Settled:
    """The words of a round as the grammar takes them, and what was said beside them.

    ``stated`` are the totals written down, ``stated_at`` where; ``doubtful``
    words that may be stitches that aren't known; ``unworked`` says that
    stitches are left on purpose; ``idle`` counts the places with words that
    make no stitch; ``short`` is the same up to a total in the middle, where
    what follows may be a remark.
    """

    tokens: list[Token]
    stated: tuple[int, ...] = ()
    stated_at: int = 0
    doubtful: list[Token] = field(default_factory=list)
    unworked: bool = False
    idle: int = 0
    short: Settled | None = None
    #: How a last "24 sc" was taken, or None where there is none; and how it is to be taken.
    closing: bool | None = None
    wanted: bool | None = None
    #: Whether the round joins parts (legs to a body), so that a chain between them is worked on both sides.
    joins: bool = False


def settle(tokens: Sequence[Token], closing: bool | None = None) -> Settled:
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
    Settled

    Raises
    ------
    Unreadable
        Where a bracket is left open or closed twice, or a number is too large.
    """
    result = Settled([], wanted=closing)
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
            result.stated_at = token.start_pos
    if middle is not None and not result.stated:
        said = tuple(int(number) for number in flat[middle].value.split())
        head = [token for token in flat[:middle] if token.type != "STATED"]
        result.short = Settled(head, said, flat[middle].start_pos, result.doubtful, result.unworked, result.idle)
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
            inside = tokens[opened + 1 : at]
            if (
                depth == 0
                and after not in ("X", "TIMES_WORD", "NUM", "FILL", "IN")
                and any(t.type == "WORD" for t in inside)
            ):
                found.append((opened, at + 1))
        elif depth == 0 and (token.type == "NL" or token.type == "SEP" and token in ".;!,"):
            words_here = [one for one in tokens[begin:at] if one.type != "NL"]
            if begin and any(one.type in ("WORD", "DECIMAL") for one in words_here):
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
    if token.type == "NUM" and whole_number(token) > MOST:
        raise Unreadable(token.start_pos, *words.finding("large number", n=shown(token), most=MOST))
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
                raise Unreadable(token.start_pos, *words.finding("not open", bracket=token))
            brackets.pop().close = token
            stack.pop()
        else:
            stack[-1].append(token)
    if brackets:
        bracket = brackets[-1]
        mate = dict(zip("([{<", ")]}>", strict=True))[bracket.open.value]
        raise Unreadable(bracket.start_pos, *words.finding("not closed", bracket=bracket.open, mate=mate))
    return top


def _types(items: Sequence) -> list[str]:
    return [item.type for item in items]


def _made(kind: str, value: object, place) -> Token:
    """Make a word of our own at the place of another."""
    return Token(kind, str(value), start_pos=place.start_pos, end_pos=getattr(place, "end_pos", None))


def _level(items: list, result: Settled, inside: bool) -> list:
    """Settle one level of brackets."""
    items = _times(items)
    items = _brackets(items, result)
    items = _stars(items)
    return _segments(items, result, inside)


def _times(items: list) -> list:
    """Put together what says how often: "x 6", "6x", "six times", "5 more times", "twice"."""
    out: list = []
    at = 0
    while at < len(items):
        item, rest = items[at], _types(items[at + 1 : at + 4]) + ["", "", ""]
        before = out[-1].type if out else ""
        if item.type == "X" and rest[0] == "NUM":
            more = "MORE" in rest[1:3] and (rest[1] == "MORE" or rest[1] == "TIMES_WORD")
            out.append(_made("TIMES", f"+{items[at + 1]}" if more else items[at + 1], item))
            at += 2 + (rest[1] == "TIMES_WORD") + more
        elif item.type == "EVERY_NTH" and rest[:2] == ["AND", "ORDINAL"]:  # "dec every 3rd and 4th st"
            out.append(_made("EVERY_NTH", items[at + 2], item))
            at += 3
        elif item.type == "NUM" and rest[0] == "MORE" and rest[1] == "TIMES_WORD":
            out.append(_made("TIMES", f"+{item}", item))
            at += 3
        elif item.type == "NUM" and rest[0] == "TIMES_WORD":
            more = rest[1] == "MORE"
            out.append(_made("TIMES", f"+{item}" if more else item, item))
            at += 3 if more else 2
        elif (
            item.type == "NUM"
            and rest[:2] == ["STAR", "BRACKET"]
            and (before in ("", "NL", "LOOPS") or before in PARTS)
        ):  # "6*(2 sc, inc)"
            out.append(_made("BEFORE", item, item))
            at += 2
        elif item.type == "NUM" and rest[0] == "X":
            ahead = before in ("", "REPEAT", "NL") or before in PARTS
            kind = "BEFORE" if ahead and (rest[1] == "BRACKET" or rest[1] in KINDS) and before != "REPEAT" else "TIMES"
            out.append(_made(kind, item, item))
            at += 3 if rest[1] == "TIMES_WORD" else 2
        elif (
            item.type == "AND"
            and before in ("ST", "STITCH")
            and rest[0] in ("ST", "STITCH", "CHAIN", "SPACE")
            and ("EACH" in _types(out[-3:]) and rest[1] not in ("NUM", "IN", *WHERE))
        ):
            at += 2  # "in each st and ch around"
        elif item.type == "TIMES_WORD" and rest[0] == "NUM" and rest[1] not in ("ST", "STITCH", *KINDS):
            out.append(_made("TIMES", items[at + 1], item))  # "times six"
            at += 2
        elif item.type == "TWICE":
            out.append(_made("TIMES", NUMBERS[item.lower()], item))
            at += 1
        elif (
            (
                item.type == "NUM"
                and before == "REPEAT"
                and (rest[0] not in ("BRACKET", *KINDS) or rest[0] == "BRACKET" and _types(out[-2:-1]) == ["BRACKET"])
            )
            or item.type == "NUM"
            and before == "BRACKET"
            and (rest[0] == "" or rest[0] in PARTS or rest[0] == "BRACKET")
        ):
            out.append(_made("TIMES", item, item))
            at += 1
        elif item.type == "TO_LAST":
            last = item.split()[-1]
            number = int(last) if last.isdigit() else NUMBERS.get(last.lower(), 1)
            out.append(_made("FILL", number, item))
            at += 2 if rest[0] in ("ST", "STITCH") else 1
        elif item.type == "FILL":
            out.append(_made("FILL", 0, item))
            at += 1
        else:
            out.append(item)
            at += 1
    exact: list = []  # "a total of 6 times", "6 times in total"
    for index, item in enumerate(out):
        near = _types(out[max(index - 1, 0) : index]) + _types(out[index + 1 : index + 3])
        if item.type == "TIMES" and "TOTAL" in near:
            exact.append(_made("TIMES", f"={item.lstrip('+=')}", item))
        elif item.type == "TOTAL" and "TIMES" in _types(out[max(index - 2, 0) : index + 2]):
            if exact and exact[-1].type == "IN":
                exact.pop()
        else:
            exact.append(item)
    return exact


def _brackets(items: list, result: Settled) -> list:
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
        inside = _types(item.inside)
        if inside[:1] == ["EQ"] and ("BRACKET" in inside or set(inside) & KINDS):  # "24 [= (2 sc, inc) x 6]"
            out += [item.inside[0], *_level(item.inside[1:], result, False)]
            continue
        if len(inside) > 40 or any(one.type == "BRACKET" for one in item.inside):
            only = item.inside[0] if len(item.inside) == 1 else None
            if only is not None and not again and (total := _total(only.inside)):
                out.append(_made("STATED", total, item))
            elif any(one.type == "COUNT_WORD" for one in item.inside):
                out.append(
                    _made("NOT_COUNTED" if any(one.type == "NOT" for one in item.inside) else "COUNTS", "", item)
                )
            else:
                out.append(_Bracket(item.open, _level(item.inside, result, True), item.close))
            continue
        before = out[-1].type if out else ""
        times = _types(_times(item.inside))
        if "COUNT_WORD" in inside:
            out.append(_made("NOT_COUNTED" if "NOT" in inside else "COUNTS", "", item))
        elif times == ["TIMES"]:
            out.append(_times(item.inside)[0])
        elif not again and (total := _total(item.inside)):
            out.append(_made("STATED", total, item))
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
    kinds = _types(items)
    if "NUM" not in kinds or not set(kinds) <= TOTALS:
        return ""
    numbers = [item for item in items if item.type == "NUM"]
    if len(numbers) == 1:
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
        heads = [part for part in _parted(items) if not {"SPACE", "CHAIN"} & set(_types(part))]
        if len(heads) == 1 and _types(heads[0])[:1] == ["NUM"]:
            return str(heads[0][0])
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
        kinds = _types(items[at + 1 : at + 12])
        if item.type == "REPEAT":
            ahead = kinds[:7]
            if "STAR" in ahead and set(ahead[: ahead.index("STAR")]) <= {"FROM", "FIRST", "WORD", "ST", "IN", "STITCH"}:
                at += ahead.index("STAR") + 2
                rest = _types(items[at : at + 4])
                if "STAR" in rest and set(rest[: rest.index("STAR")]) <= {"TO", "AND", "WORD", "SEP"}:
                    at += rest.index("STAR") + 1
                out.append(_made("REP_FROM", "again", item))
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
                    out.append(_made("REP_FROM", "all", item))
                    at += 1 + gap  # the word "repeat" itself goes too
                    opened = False
            elif then in ("TIMES", "FILL"):
                out.append(_made("REP_FROM", "all", item))
                at += gap
                opened = False
            elif then == "NUM" and gap and items[at + 1].type in ("DASH", "EQ", "COLON"):
                out.append(_made("REP_FROM", "all", item))  # "*1 sc, inc* - 18": around, and a total
                opened = False
            elif then == "NUM":
                out += [_made("REP_FROM", "all", item), _made("TIMES", items[at + gap + 1], item)]
                at += gap + 1
                opened = False
            at += 1
        elif (
            out
            and kinds[:1] == ["NUM"]
            and (out[-1].type == "BRACKET" or out[-1].type in KINDS or out[-1].type == "ST")
        ):
            out.append(_made("TIMES", items[at + 1], item))
            at += 2
        else:
            out.append(item)
            opened = True
            at += 1
    return out


def _segments(items: list, result: Settled, inside: bool) -> list:
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
            among = kinds and (inside or at <= last or result.wanted is False)
            among = among and (item is None or item.type in ("SEP", "AND"))
            settled = _plain(segment, sign) if among and not _stated(out) else None
            settled = settled or _segment(segment, sign, out, result, inside, kinds, at > last)
            if settled:
                if out and out[-1].type != "SEP":
                    out.append(_made("SEP", ",", segment[0]))
                out += settled
        segment, sign = [], item
    return out


def _stated(out: list) -> bool:
    return any(item.type == "STATED" for item in out)


def _plain(segment: list, sign: Token | None) -> list | None:
    """A number all alone among stitches is that many plain ones: "(1, 1, inc) x 6"."""
    types = _types(segment)
    if [kind for kind in types if kind != "STAR"] != ["NUM"] or sign is not None and sign.type not in ("SEP", "AND"):
        return None
    place = types.index("NUM") + 1
    return [*segment[:place], _made("STITCH", "main", segment[place - 1]), *segment[place:]]


def _segment(
    segment: list, sign: Token | None, out: list, result: Settled, inside: bool, kinds: bool, ends: bool
) -> list:
    types = _types(segment)
    core = [kind for kind in types if kind not in ("WORD", "STAR", "OTHER")]
    # A total that isn't in brackets: "= 24", "- 24 sts", ". 24 stitches in total", or a number all alone.
    bare = [item for item in segment if item.type not in ("STAR", "STATED", "OTHER")]
    if ends and not inside and (total := _closing(bare, sign, out, result)):
        return [item for item in segment if item.type == "STAR"] + [_made("STATED", total, segment[0])]
    if ends and not inside and result.closing is False and _types(bare) == ["NUM"]:
        return [*(_plain(bare, sign) or []), *(item for item in segment if item.type == "STATED")]
    total = _total(bare) if bare and not inside and "STATED" not in types else ""
    if total and " " not in total and core.count("NUM") == 1:
        strong = sign is not None and (sign.type in ("EQ", "DASH", "COLON") or sign.type == "SEP" and sign == ".")
        again = any(item.type in ("FILL", "TIMES", "BRACKET") for item in out)
        named = "STITCH" in core or "CHAIN" in core
        marked = strong and (sign.type == "EQ" or ends and sign.type != "SEP")
        if (
            named
            and (marked or strong and again)
            or not named
            and ("ST" in core or "TOTAL" in core or strong or not kinds or not out or again and ends)
        ):
            return [item for item in segment if item.type == "STAR"] + [_made("STATED", total, segment[0])]
    if core == ["NUM"] and _stated(out):
        return []
    if "COUNT_WORD" in types:
        where = types.index("COUNT_WORD")
        said = "NOT_COUNTED" if "NOT" in types else "COUNTS"
        head = segment[: min(where, types.index("NOT") if "NOT" in types else where)]
        head = [item for item in head if item.type not in IDLE]
        return [*head, _made(said, "", segment[where])]
    if "UNWORKED" in types and any(kind in types for kind in ("ST", "REST", "STITCH")):
        result.unworked = True
        return []
    if "JOIN" in types or "SLIP" in types:
        first = min(types.index(kind) for kind in ("JOIN", "SLIP") if kind in types)
        rest = segment[first:]
        tail = _types(rest)
        closes = any(kind in tail for kind in ("FIRST", "STARTS", "ORDINAL", "SPACE")) or any(
            item.type == "WORD" and item.lower() in ("top", "form") for item in rest
        )
        if "SAME" in types[:first]:  # "sc in the same st as the join"
            segment = segment[:first]
            types = _types(segment)
        elif (
            "JOIN" in tail and tail[1:2] == ["STITCH"] and "SLIP" not in tail
        ):  # "join with a sc in any st" works that sc
            segment = [*segment[:first], *rest[1:]]
            types = _types(segment)
        elif "JOIN" in tail or closes:
            head = _segment(segment[:first], sign, out, result, inside, kinds, False) if first else []
            ends = [item for item in rest if item.type in ("STAR", "STATED", "REP_FROM")]
            return [*head, _made("JOIN", "", segment[first]), *ends]
    if types[0] == "NOT" or "NOT" in types and not any(kind in KINDS or kind == "BRACKET" for kind in types):
        return [item for item in segment if item.type in ("STAR", "STATED")]
    segment = _loops(segment)
    segment = _idle(segment, result, inside)
    return _joints(segment)


def _closing(segment: list, sign: Token | None, out: list, result: Settled) -> str:
    """Return the total that a round ends with, "... join. 24 sc", "" where it is worked, or there is none."""
    kinds = [kind for kind in _types(segment) if kind not in ("WORD", "NOISE", "REST", "TOTAL")]
    worked = [item for item in out if item.type in KINDS - {"CHAIN", "SLIP"} or item.type in ("BRACKET", "FILL")]
    if kinds not in (["NUM"], ["NUM", "STITCH"], ["NUM", "ST"]) or not worked or _stated(out):
        return ""
    if sign is not None and sign.type not in ("SEP", "NL", "AND"):
        return ""  # a sign that says more is looked at elsewhere
    joined = any(item.type == "JOIN" for item in out)
    plain = any(item.type == "STITCH" and item == "main" for item in out)
    usual = joined or (sign is not None and sign == "." if kinds[1:] == ["STITCH"] else not plain)
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
    return [*kept[:first], _made("LOOPS", "BLO" if word[0] == "b" else "FLO", segment[places[0]]), *kept[first:]]


def _idle(segment: list, result: Settled, inside: bool) -> list:
    """Take out words that make no stitch; note those that might be a stitch that isn't known."""
    out: list = []
    for at, item in enumerate(segment):  # "mc" is a magic circle or the main colour
        if item.type == "COLOUR_OR_RING":
            near = _types(segment[max(at - 1, 0) : at + 2])
            out.append(_made("RING" if "IN" in near or "NUM" in near or "STITCH" in near else "WORD", item, item))
        else:
            out.append(item)
    segment = out
    types = _types(segment)
    idle = [item for item in segment if item.type in IDLE]
    acts = [
        at
        for at, kind in enumerate(types)
        if kind in KINDS or kind in ("BRACKET", "RING", "REPEAT", "REP_FROM", "EVEN")
    ]
    kept = [item for item in segment if item.type in ("STAR", "STATED", "LOOPS", "TURN")]
    if idle and not acts:
        result.idle += 1
        result.doubtful += _strange(segment, inside)
        return kept
    if not acts:
        return [item for item in segment if item.type not in IDLE]
    first = acts[0]
    if idle and types[0] in IDLE and types[first] in KINDS and first and types[first - 1] in (*WHERE, "IN"):
        result.idle += 1
        return kept  # "change colour in the last sc"
    if idle:
        result.idle += 1
    out = []
    at = 0
    while at < len(segment):
        item = segment[at]
        if item.type == "IN":
            end = at + 1
            while end < len(segment) and (
                segment[end].type in WHERE or segment[end].type in ("NUM", "WORD", "OTHER", "DECIMAL")
            ):
                end += 1
            phrase = _types(segment[at + 1 : end])
            noun = end < len(segment) and segment[end].type in ("ST", "STITCH", "CHAIN", "RING", "SPACE", "FILL")
            if "WORD" in phrase and not noun:  # "in pink", "on 4 mm hook"
                keep = [one for one in segment[at + 1 : end] if one.type in WHERE and phrase[0] != "WORD"]
                out += [item, *keep] if keep else []
                at = end
                continue
        if item.type == "NUM" and at + 1 < len(segment) and segment[at + 1].type == "WORD":
            after = at + 1
            while after < len(segment) and segment[after].type == "WORD":
                after += 1
            if out and out[-1].type in KINDS:
                out.append(item)  # "sc 6 A"
                at = after
                continue
            if after >= len(segment) or segment[after].type not in KINDS:
                result.doubtful.append(segment[at + 1])
                at = after
                continue
        if item.type not in IDLE or item.type == "HOOK" and out and out[-1].type in ("CHAIN", "ST", "STITCH"):
            out.append(item)
        at += 1
    return out


def _strange(items: list, inside: bool) -> list[Token]:
    """Words that look like a stitch that isn't known: "crab 3", "6 floofs", or a word alone in a repeat."""
    items = [item for item in items if item.type not in ("STAR", "SEP", "STATED")]
    types = _types(items)
    if any(item.type == "WORD" and item.lower() in ASIDE for item in items):
        return []
    if types in (["WORD", "NUM"], ["NUM", "WORD"], ["NUM", "WORD", "ST"]):
        return [items[types.index("WORD")]]
    placed = types[:1] == ["WORD"] and types.count("WORD") == 1 and set(types[1:]) <= {"IN", "ST", *WHERE}
    if (
        placed
        and types[-1] == "ST"
        and not items[0].lower().endswith(("ing", "er"))
        and items[0].lower() not in HARMLESS
    ):
        return [items[0]]  # "shell in next st"
    return [items[0]] if inside and types == ["WORD"] else []


def _joints(segment: list) -> list:
    """Put in the words that makers leave out: "sc next 3" for "sc in next 3", "MR 6" for "6 sc in MR"."""
    out: list = []
    skip = 0
    for at, item in enumerate(segment):
        before = out[-1].type if out else ""
        after = segment[at + 1].type if at + 1 < len(segment) else ""
        if item.type == "IN" and (before == "IN" or not out and after == "RING"):
            continue  # "in a magic ring: 6 sc"
        if item.type == "EACH" and before == "FILL" or at < skip:
            continue  # "sc across all 24 sts"
        if item.type in WHERE and before != "IN" and before not in WHERE:
            out.append(_made("IN", "in", item))
        elif item.type == "ST" and before == "STITCH" and (after == "IN" or after in WHERE):
            continue  # "2 single crochet stitches in each stitch"
        elif item.type in ("ST", "SPACE") and before in KINDS:
            out.append(_made("IN", "in", item))
        elif (
            item.type == "IN"
            and before == "NUM"
            and after not in ("RING", "NUM", "")
            and (len(out) == 1 or out[-2].type in PARTS)
        ):
            out.append(_made("STITCH", "main", item))  # "two in the next"
        elif item.type == "ST" and before == "NUM" and after == "IN" and len(out) == 1:
            out.append(_made("STITCH", "main", item))  # "6 sts in ring"
            continue
        elif item.type == "TIMES" and before == "STITCH" and (after == "IN" or after in WHERE):
            out.append(_made("NUM", item.lstrip("+="), item))  # "sc twice in each st"
            continue
        elif (
            item.type == "IN"
            and before == "NUM"
            and (len(out) == 1 or out[-2].type not in KINDS)
            and _ring_ahead(segment, at)
        ):
            out.append(_made("STITCH", "main", item))  # "6 in ring"
        elif (
            item.type == "RING"
            and before not in ("IN", *WHERE)
            and after in ("NUM", "TIMES")
            and not (at + 2 < len(segment) and segment[at + 2].type in KINDS)
        ):
            out += [item, _made("STITCH", "main", item)]  # "MR 6"
            continue
        elif item.type == "RING" and before not in ("", "IN", "STAR", "SEP", *WHERE):
            if before == "NUM" and (len(out) == 1 or out[-2].type not in KINDS):
                out.append(_made("STITCH", "main", item))  # "6 MR"
            out.append(_made("IN", "in", item))
        elif item.type == "NUM" and before in ("TIMES", "FILL") and after in ("", "ST", "STATED"):
            out.append(_made("STATED", item, item))  # "(sc 2, inc) x 6 24"
            continue
        elif item.type == "ST" and before in ("STATED", "TIMES", "FILL", ""):
            continue
        elif item.type == "EVEN":
            if _types(segment[at + 1 : at + 3]) == ["IN", "STITCH"]:  # "even in sc"
                out.append(segment[at + 2])
                skip = at + 3
            elif before != "STITCH":
                out.append(_made("STITCH", "main", item))
            out.append(_made("FILL", 0, item))
            continue
        elif item.type == "FILL" and before == "FILL":
            if item != "0":
                out[-1] = item
            continue
        elif item.type == "AND":
            continue
        out.append(item)
    return out


def _ring_ahead(segment: list, at: int) -> bool:
    return any(item.type == "RING" for item in segment[at + 1 : at + 4])


def _flatten(items: list, out: list[Token]) -> None:
    """Write the settled levels out as one row of words."""
    for item in items:
        if item.type != "BRACKET":
            out.append(item)
            continue
        out.append(_made("LEFT", "(", item))
        _flatten(item.inside, out)
        out.append(_made("RIGHT", ")", item.close))
