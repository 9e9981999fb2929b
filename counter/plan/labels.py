"""Which words of a text are a round: lines, labels such as "R5-8:", and lines that carry on from one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lark import Token

from counter.basics import words
from counter.plan.tokens import KINDS, MOST_ROUNDS, Unreadable, end_of, place_of, shown, whole_number

__all__ = ["LabelledLine", "label_numbers", "split"]

#: What no round ends with.
UNFINISHED = frozenset(
    {"AND", "CHAIN", "IN", "EACH", "NEXT", "SAME", "FROM", "X", "REPEAT", "SKIP", "EVERY_NTH", "EVERY_OTHER"}
)
#: What ends a label.
ENDS = frozenset({"COLON", "DASH", "EQ", "CLOSE"})
#: Most words of a label that stands alone in its line, and lines below it that are one with it.
LONGEST_LABEL, MOST_LINES_BELOW = 6, 8
BULLETS = frozenset({"OTHER", "DASH", "STAR", "EQ"})


@dataclass
class LabelledLine:
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


def split(tokens: Sequence[Token]) -> list[LabelledLine]:
    """Cut the words of a text into entries: one a line, more where a line holds several labels.

    A line without a label that carries on from one that isn't finished (it
    ends with a comma, or a bracket is open) is taken to it.

    Parameters
    ----------
    tokens : sequence of Token

    Returns
    -------
    list of LabelledLine
        Lines without a word are left out.
    """
    entries: list[LabelledLine] = []
    listed = _listed(tokens)
    for line in _lines(tokens, listed):
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
    return entries


def _lines(tokens: Sequence[Token], listed: frozenset[int]) -> list[list[Token]]:
    """The lines of a text; those below a label that stands alone, down to their total in brackets, are one with it."""
    lines: list[list[Token]] = [[]]
    for token in tokens:
        if token.type == "NL":
            lines.append([])
        else:
            lines[-1].append(token)
    out: list[list[Token]] = []
    at = 0
    while at < len(lines):
        line, ahead = lines[at], 1
        at += 1
        if line and len(line) <= LONGEST_LABEL and at + 1 < len(lines) and _alone(line, listed):
            below = lines[at : at + MOST_LINES_BELOW]
            while ahead <= len(below) and _goes_on(below[ahead - 1], listed):
                ahead += 1
            if ahead > 2 and ahead <= len(below) and _bracketed(below[ahead - 1]):
                line = [*line]
                for other in below[:ahead]:
                    line += [Token("SEP", ",", start_pos=other[0].start_pos, end_pos=other[0].start_pos), *other]
                at += ahead
        out.append(line)
    return out


def _alone(line: list[Token], listed: frozenset[int]) -> bool:
    """Whether a line is a label and nothing else."""
    entries = _entries(line, listed)
    return len(entries) == 1 and bool(entries[0].numbers) and not entries[0].tokens


def _goes_on(line: list[Token], listed: frozenset[int]) -> bool:
    """Whether a line tells stitches and is no round of its own."""
    return any(token.type in KINDS for token in line) and all(one.numbers is None for one in _entries(line, listed))


def _bracketed(line: list[Token]) -> bool:
    """Whether a line is a total in brackets and nothing else."""
    kinds = [token.type for token in line if token.type not in ("ST", "STITCH", "SEP")]
    return kinds == ["OPEN", "NUM", "CLOSE"]


def _only_setup(tokens: list[Token]) -> bool:
    """Whether words only make a chain or a ring."""
    kinds = {token.type for token in tokens}
    return bool(kinds & {"CHAIN", "RING"}) and not kinds & (KINDS - {"CHAIN", "SLIP"})


def _only_total(entry: LabelledLine, before: LabelledLine) -> bool:
    """Whether a line holds nothing but the total in brackets of the labelled round above it, "(18 sts)"."""
    kinds = [token.type for token in entry.tokens]
    if not before.numbers or not before.tokens or kinds[:2] != ["OPEN", "NUM"] or kinds.count("NUM") != 1:
        return False
    ends = [token.type for token in before.tokens[-3:] if token.type != "SEP"]
    return set(kinds) <= {"OPEN", "NUM", "ST", "STITCH", "CLOSE", "SEP"} and ends[-2:] != ["NUM", "CLOSE"]


def _open(entry: LabelledLine) -> bool:
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
            found.append(place_of(token))
            due += 1
            if kinds[2:] == ["DASH"]:  # "5-8- 24"
                due = whole_number(tokens[at + 2]) + 1
        elif kinds == ["TO", "NUM", "DASH"]:
            found.append(place_of(token))
            due = whole_number(tokens[at + 2]) + 1
    return frozenset(found if len(found) > 1 else ())


def _entries(line: list[Token], listed: frozenset[int] = frozenset()) -> list[LabelledLine]:
    if not line:
        return []
    start, found = 0, []
    while start < len(line) and line[start].type in BULLETS:
        start += 1
    try:
        label = _label(line, start, listed)
    except Unreadable as error:
        return [LabelledLine((), line[start:], place_of(line[start]), problem=error)]
    if label:
        numbers, body, weak, row, _ = label
        found.append(LabelledLine(numbers, [], place_of(line[start]), weak, row))
    else:
        body = 0
        found.append(LabelledLine(None, [], place_of(line[0])))
    at = body
    while at < len(line):
        token, before = line[at], line[at - 1].type if at else ""
        first = len(found) == 1 and found[0].numbers is None and bool(before)
        if (
            token.type == "RND"
            and at > body
            and (
                before in ("SEP", "CLOSE", "STAR", "NUM", "ST", "STITCH", "FILL", "INC", "DEC")
                or first
                and before in ("COLON", "DASH", "WORD", "COLOUR_OR_RING")
            )
        ):
            try:
                inner = _label(line, at)
            except Unreadable as error:
                found.append(LabelledLine((), line[at:], place_of(token), problem=error))
                break
            # A colour ahead: "CC: R5: sc around".
            ahead = found[-1].numbers is None and len(found) == 1
            ahead = ahead and not any(one.type in KINDS or one.type in ("RING", "FILL") for one in found[-1].tokens)
            # Without a mark behind it ("R1 6 sc, R2 inc x 6") a label must carry on the count.
            counts_on = inner and found[-1].numbers and inner[0] and inner[0][0] == found[-1].numbers[-1] + 1
            colon = inner and ahead and any(one.type in ("COLON", "DASH") for one in line[inner[1] - 1 : inner[1]])
            setup = bool(inner and inner[4] and first) and _only_setup(found[0].tokens)  # "Ch 10. Rnd 1: ..."
            behind = before in ("SEP", "CLOSE", "NUM", "STITCH", "FILL", "INC", "DEC", "ST")
            marked = inner and inner[4] and not first and before in ("SEP", "CLOSE", "STAR", "NUM", "ST")
            if inner and (marked or setup or colon or counts_on and behind):
                if colon and not setup:  # what stands ahead is a colour, or a remark on this round
                    found.pop()
                found.append(LabelledLine(inner[0], [], place_of(token), inner[2], inner[3]))
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
        known = () if kind[0] == "NEXT" else (whole_number(line[at]) if kind[0] == "ORDINAL" else 1,)
        return known, body, False, row, ended
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
    if len(numbers) > 1 and _in_each(line, body):
        return numbers, after, True, False, ended  # "10-12 sc in each"
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


@dataclass
class _Link:
    """What joins one number of a label to the next: the sign between, the next number and where it ends."""

    sign: Token
    number: int
    after: int
    #: Whether the next number names "Rnd" once more, and whether the label ends behind it.
    again: bool
    closed: bool
    follower: str


def _link(line: list[Token], at: int, named: bool) -> _Link | None:
    """The link that stands at a place; None where no number follows."""
    again = named and line[at + 1].type == "RND"
    place = at + 1 + again
    if place >= len(line) or line[place].type not in ("NUM", "NUM_WORD"):
        return None
    follower = line[place + 1].type if place + 1 < len(line) else ""
    closed = follower in ENDS or follower == "SEP" and line[place + 1] == "."
    return _Link(line[at], whole_number(line[place]), place + 1, again, closed, follower)


def _range(line: list[Token], at: int, named: bool) -> tuple[tuple[int, ...], int]:
    """Read "5", "5-8", "5 to 8", "5, 6 and 7", "R5-R8" from a place on; return the numbers and where they end."""
    first = whole_number(line[at])
    plural = named and _plural(line, at - 1)
    numbers, at = [first], at + 1
    while at + 1 < len(line):
        if line[at].type == "SEP" and (line[at + 1].type == "AND" or _dotted(line, at)):
            at += 1  # "5.-8.", "5, 6, and 7"
            continue
        link = _link(line, at, named)
        if link is None:
            break
        if link.sign.type in ("TO", "DASH", *(["EQ"] if link.again and link.closed else [])) and len(numbers) == 1:
            if not _runs_on(line, at, link, first, named):
                break
            last, after = link.number, link.after
            while (next_one := _counted_on(line, after, last)) is not None:
                last, after = last + 1, next_one  # "7-8-9"
            return tuple(range(first, last + 1)), after
        if not named or not _follows(line, link, numbers, plural):
            break
        numbers.append(link.number)
        at = link.after
    if first > MOST_ROUNDS:
        raise Unreadable(place_of(line[at - 1]), *_too_high(first))
    return tuple(numbers), at


def _counted_on(line: list[Token], at: int, last: int) -> int | None:
    """Where "-9" ends that goes on from 8 at a place; None where it doesn't."""
    tight = at + 1 < len(line) and line[at].type == "DASH" and line[at + 1].start_pos == line[at].end_pos
    return at + 2 if tight and line[at + 1].type == "NUM" and whole_number(line[at + 1]) == last + 1 else None


def _dotted(line: list[Token], at: int) -> bool:
    return line[at] == "." and line[at + 1].type in ("DASH", "TO")


def _runs_on(line: list[Token], at: int, link: _Link, first: int, named: bool) -> bool:
    """Whether a dash or "to" says from one round to another: "5-8", but not "R2 - 6 sc"."""
    sign = link.sign
    said = link.number > first and (link.again or named and _plural(line, at - 2))  # "R7 - R9", "rounds 5 - 8"
    each = link.number > max(first, 3) and _in_each(line, link.after)
    if sign.type == "DASH" and not said and not each:
        ahead, behind = place_of(sign) > end_of(line[at - 1]), place_of(line[at + 1]) > end_of(sign)
        if ahead and not behind or not link.closed and (ahead or behind or first == 1 or not named):
            return False  # "R2 - 6 sc", "R1-6 sc in ring"; but "Rnd 5 - 8 sc in all 24 sts"
    if link.number <= first:
        if sign.type == "TO" or link.closed:
            raise Unreadable(place_of(sign), *words.finding("backwards", first=first, last=link.number))
        return False
    if link.number > MOST_ROUNDS:
        raise Unreadable(place_of(line[link.after - 1]), *_too_high(link.number))
    return True


def _plural(line: list[Token], at: int) -> bool:
    """Whether the word at a place names several rounds: "rounds", "Rnds."."""
    return at >= 0 and line[at].type == "RND" and line[at].lower().rstrip(". ").endswith("s")


def _follows(line: list[Token], link: _Link, numbers: list[int], plural: bool) -> bool:
    """Whether another number of a list follows: "5, 6 and 7", "R5, R7, R9"."""
    next_one = link.number == numbers[-1] + 1
    if not next_one:
        said = link.again or len(numbers) > 1 or link.closed or plural
        if link.number <= numbers[-1] or not said or not _ends_label(line, link.after):
            return False
    if link.sign.type == "SEP" and link.sign not in ",/":
        return False
    goes_on = link.closed or link.follower in ("SEP", "AND", "ADD")
    return link.sign.type == "AND" or link.sign.type in ("SEP", "ADD") and goes_on


def _in_each(line: list[Token], at: int) -> bool:
    """Whether "sc in all 24 sts", "sc around" stands at a place: more than three in each would be strange."""
    kinds = [token.type for token in line[at : at + 4] if token.type != "NOISE"]
    return (
        kinds[:1] == ["STITCH"]
        and bool({"EACH", "FILL"} & set(kinds[1:3]))
        and "SPACE" not in [token.type for token in line[at:]]
    )


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
