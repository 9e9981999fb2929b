"""What the instructions of one round come to.

A round is a row of works (so many stitches, each made into so many stitches
of the round below) and of repeats of such rows. Some ways to write are read
in two ways by good makers; then the reading is taken that agrees best with
the round below and with the written total, and the commoner one where they
agree equally well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

from lark import Token, Transformer, UnexpectedInput

from counter.basics import words
from counter.plan.settle import Settled
from counter.plan.tokens import DEEPEST, MOST, Unreadable, grammar, shown, words_of
from counter.plan.values import Shaping

__all__ = [
    *("Conflict", "Note", "Outcome", "Repeat", "Spread", "UK_TO_US", "US_TO_UK", "Work"),
    *("clean_text", "in_terms", "main_stitch", "parse", "sums", "work_out"),
]

#: Four independent charts of abbreviations agree on these.
US_TO_UK = {"sc": "dc", "hdc": "htr", "dc": "tr", "tr": "dtr", "dtr": "trtr"}
UK_TO_US = {uk: us for us, uk in US_TO_UK.items()}
#: Written out -> abbreviation, in the terms of the text.
NAMES = (
    ("half double", "hdc"), ("half treble", "htr"), ("double treble", "dtr"), ("single", "sc"), ("double", "dc"),
    ("treble", "tr"), ("trc", "tr"),
)  # fmt: skip
#: The rarer readings, the likelier ones first.
READINGS = (
    "as many",
    "chain",
    "slip",
    "whole",
    "pair",
    "each",
    "around",
    "same",
    "apart",
    "bridge",
    "both sides",
    "round",
    "all",
    "evenly",
)
#: Most other readings that are kept for mending.
MOST_OTHERS = 4
#: Most rarer readings that are taken together.
MOST_TOGETHER = 2
#: Said ahead of a round that joins parts.
JOINED = "join parts"
MAIN = ("sc", "hdc", "dc", "tr", "dtr")


# ------------------------------------------------------------------ the parsed steps


@dataclass
class Place:
    """Which stitches of the round below a step goes into."""

    where: frozenset[str] = frozenset()
    number: int | None = None
    noun: str = ""
    nth: int = 0


@dataclass
class Step:
    """One step as it is written."""

    kind: str
    token: Token | None
    count: int | None = None
    after: bool = False  # "sc 2", where "2 sc" has its number ahead
    place: Place | None = None
    tails: list[Token] = field(default_factory=list)
    body: list | None = None
    again: str = ""  # for a repeat of what went before: "REPEAT" or the value of REP_FROM

    @property
    def at(self) -> int:
        return self.token.start_pos


_TAILS = ("TIMES", "FILL", "EVENLY", "TOGETHER")
_ORDINALS = {"second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "eighth": 8}


def _like(kind: str, token: Token) -> Token:
    return Token.new_borrow_pos(kind, token.value, token)


class _Steps(Transformer):
    """From the parser's tree to steps."""

    def round(self, items):
        return items

    def item(self, items):
        return items[0]

    def tail(self, items):
        return items[0]

    def where(self, items):
        return items[0]

    def noun(self, items):
        return "HOOK" if len(items) > 1 else items[0].type

    def kind(self, items):
        return items[0]

    def pair(self, items):
        return Token.new_borrow_pos("PAIR_" + items[1].type, items[0].value, items[0])

    def place(self, items):
        where = frozenset(item.type for item in items if isinstance(item, Token) and item.type not in ("IN", "NUM"))
        numbers = [int(item) for item in items if isinstance(item, Token) and item.type == "NUM"]
        noun = next((item for item in items if not isinstance(item, Token)), "")
        if noun == "CHAIN" and "ORDINAL" in where:
            noun = "HOOK"
        nth = 0
        for item in items:
            if isinstance(item, Token) and item.type in ("EVERY_NTH", "EVERY_OTHER"):
                last = item.split()[-1].lower()
                digits = "".join(sign for sign in last if sign.isdigit())
                nth = 2 if item.type == "EVERY_OTHER" else int(digits) if digits else _ORDINALS[last]
        return Place(where, numbers[0] if numbers else None, noun, nth)

    def counted(self, items):
        number = next(int(item) for item in items if isinstance(item, Token) and item.type == "NUM")
        return self._step(items, number, items[0].type != "NUM")

    def single(self, items):
        before = items[0].type == "BEFORE"
        return self._step(items, int(items[0]) if before else None, False)

    def _step(self, items, number, after):
        kind = next(item for item in items if isinstance(item, Token) and item.type not in ("NUM", "BEFORE"))
        place = next((item for item in items if isinstance(item, Place)), None)
        tails = [item for item in items if isinstance(item, Token) and item.type in _TAILS]
        return Step(kind.type, kind, number, after, place, tails)

    def body(self, items):
        return items

    def group(self, items):
        body = next(item for item in items if isinstance(item, list))
        place = next((item for item in items if isinstance(item, Place)), None)
        tails = [item for item in items if isinstance(item, Token) and item.type in _TAILS]
        ahead = [_like("TIMES", item) for item in items if isinstance(item, Token) and item.type == "BEFORE"]
        left = next(item for item in items if isinstance(item, Token) and item.type == "LEFT")
        return Step("GROUP", left, None, False, place, ahead + tails, body)

    def again(self, items):
        head = items[0]
        tails = [item for item in items if item.type in ("TIMES", "FILL")]
        again = head.value if head.type == "REP_FROM" else "REPEAT"
        return Step("AGAIN", head, tails=tails, again=again)


def parse(settled: Settled) -> list:
    """Parse the settled words of a round.

    Parameters
    ----------
    settled : Settled

    Returns
    -------
    list
        :class:`Step` objects, and words that stand for themselves, in order.

    Raises
    ------
    Unreadable
        At the first word that doesn't fit.
    """
    parser = grammar().parse_interactive("", start="round")
    last = None
    try:
        for token in settled.tokens:
            parser.feed_token(token)
            last = token
        tree = parser.feed_eof()
    except UnexpectedInput as error:
        token = getattr(error, "token", None)
        token = last if token is None or token.type == "$END" else token
        raise Unreadable(token.start_pos, *words.finding("unreadable", word=shown(token))) from None
    return _Steps().transform(tree)


# ------------------------------------------------------------------ works and repeats


@dataclass(frozen=True)
class Work:
    """`times` times the same: `made` stitches in `base` stitches of the round below.

    ``kind`` is "plain", "inc", "dec", "skip", "ring", "space", "hook" (in a
    chain), "same" (once more into the stitch before), "chain" (a first one, that
    counts), "bridge" (chains over skipped stitches, where they count)
    or "into" (several kinds into one stitch, written out in ``form``).
    """

    kind: str
    stitch: str
    base: int
    made: int
    times: int = 1
    form: str = ""


@dataclass(frozen=True)
class Repeat:
    """A row of works, repeated; `times` None goes on to the last `leave` stitches.

    ``tail`` marks a repeat without a bracket that was written behind a single
    step, ``bracket`` a bracket that nothing was said about yet.
    """

    body: tuple
    times: int | None
    leave: int = 0
    at: int = 0
    tail: bool = False
    bracket: bool = False
    depth: int = 1


@dataclass(frozen=True)
class Spread:
    """Increases or decreases whose places aren't told.

    ``change`` are stitches more or fewer, None where only the total tells;
    ``total`` stitches made in all, where that was said instead.
    """

    sign: int
    change: int | None
    total: int | None
    stitch: str


@dataclass(frozen=True)
class Note:
    """Something that makes no stitch; ``chain`` is the length of a chain that could count as one."""

    text: str
    chain: int = 0
    fixed: bool = False
    stitch: str = ""
    #: Chains between stitches, which make a space.
    gap: int = 0


@dataclass(frozen=True)
class Conflict:
    """Something about a round that doesn't agree; ``at`` is None for the round as a whole, or its written ``total``."""

    what: str
    fix: str
    at: int | None = None
    total: bool = False


@dataclass(frozen=True)
class Outcome:
    """What a round comes to.

    ``row`` are (base, made, stitch) of every work in order, None where their
    places aren't known; stitches that share a base are one work. ``bridges``
    are chains over skipped stitches, which the next round may count, and
    ``spaces`` the arches that they make.
    """

    made: int | None
    used: int | None
    text: str
    row: tuple[tuple[int, int, str], ...] | None
    conflicts: tuple[Conflict, ...]
    start: bool
    bridges: int = 0
    spaces: int = 0
    #: The works as they were read, where something doesn't agree, and in other readings.
    nodes: tuple = ()
    others: tuple[tuple, ...] = ()

    def shapings(self) -> tuple[tuple[Shaping, ...], tuple[Shaping, ...]]:
        """Increases and decreases with their places."""
        increases, decreases = [], []
        if self.row and not self.start:
            at = 1
            for base, made, _ in self.row:
                if base == 1 and made > 1:
                    increases.append(Shaping(at, made))
                elif made == 1 and base > 1:
                    decreases.append(Shaping(at, base))
                at += made
        return tuple(increases), tuple(decreases)


def stitch_name(token: str, uk: bool) -> str:
    """Return the US name of a stitch as it is written.

    Parameters
    ----------
    token : str
        "Double crochets", "hdc", "FPdc", ...
    uk : bool
        Whether it is written in UK terms.

    Returns
    -------
    str
        "sc", "hdc", "FPdc", "bobble", ...
    """
    low = " ".join(token.lower().replace("-", " ").split())
    if low == "main":
        return low
    for name in ("bobble", "puff", "popcorn", "cluster"):
        if low.startswith(name):
            return name
    prefix = ""
    for start, short in (
        ("front post ", "FP"),
        ("back post ", "BP"),
        ("extended ", "ext "),
        ("ext. ", "ext "),
        ("ext ", "ext "),
    ):
        if low.startswith(start):
            prefix, low = short, low[len(start) :]
    if low[:2] in ("fp", "bp"):
        prefix, low = low[:2].upper(), low[2:]
    low = next((short for long, short in NAMES if low.startswith(long)), low.rstrip("s"))
    if uk:
        return prefix + UK_TO_US.get(low, low)
    return prefix + ("hdc" if low == "htr" else low)


def bare(stitch: str) -> str:
    """Return a stitch without what says how it is worked: "FPdc" is a dc."""
    return stitch.removeprefix("ext ").removeprefix("FP").removeprefix("BP")


def in_terms(text: str, uk: bool, to_uk: bool) -> str:
    """Say the stitches of a written round in other terms.

    Parameters
    ----------
    text : str
        One line of instructions.
    uk : bool
        Whether it is in UK terms.
    to_uk : bool
        Whether UK terms are wanted.

    Returns
    -------
    str
        The same with the abbreviations of the terms that are wanted.
    """
    out, at = [], 0
    for token in words_of(text):
        said, skips = str(token), token.type == "SKIP"
        if skips:
            said = "miss" if to_uk else "sk"
        elif token.type in ("STITCH", "TOG"):
            head = said.lower().split("tog")[0].rstrip(" -0123456789") if token.type == "TOG" else said
            name = stitch_name(head, uk) if head else ""
            plain = bare(name)
            name = name.removesuffix(plain) + US_TO_UK.get(plain, plain) if to_uk and plain else name
            said = name + (said[len(head) :] if token.type == "TOG" else "")
        out += [text[at : token.start_pos], said]
        at = token.end_pos
    return "".join(out) + text[at:]


def main_stitch(settled: Settled, uk: bool, before: str) -> str:
    """Return the stitch that a round is mostly worked in, in US terms.

    Parameters
    ----------
    settled : Settled
        The round's words.
    uk : bool
        Whether they are in UK terms.
    before : str
        Main stitch of the round before, for a round that names none.

    Returns
    -------
    str
    """
    said: dict[str, int] = {}
    for token in settled.tokens:
        if token.type in ("STITCH", "TOG"):
            name = token.lower().split("tog")[0].rstrip(" -0123456789") if token.type == "TOG" else token
            name = bare(stitch_name(name, uk)) if name else ""
            if name in MAIN:
                said[name] = said.get(name, 0) + 1
    return max(said, key=said.get) if said else before


class _Builder:
    """Makes works of steps, under one reading."""

    def __init__(self, main: str, uk: bool, reading: frozenset[str], told: bool, joins: bool = False) -> None:
        self.main, self.uk, self.reading, self.joins = main, uk, reading, joins
        #: Whether the round's total was written down.
        self.told = told
        #: Readings that would make a difference here.
        self.open: set[str] = set()
        self.ring = self.spaces = self.sparse = False
        self.first_chain = 0
        self.into_first = False
        self.worked = self.worked_before = self.lone = False

    def chosen(self, name: str) -> bool:
        """Whether the rarer of two readings is to be taken."""
        self.open.add(name)
        return name in self.reading

    def row(self, items: Sequence, top: bool = False) -> list:
        """Make the works of a row of steps."""
        nodes: list = []
        star: int | None = None
        if top:
            steps = [item for item in items if isinstance(item, Step) and item.kind not in ("CHAIN", "SLIP")]
            self.lone = len(steps) == 1
        for item in items:
            if isinstance(item, Step):
                if item.kind == "AGAIN":
                    star = self._again(item, nodes, star)
                else:
                    nodes += self._step(item)
            elif item.type == "STAR":
                star = len(nodes)
            elif item.type == "LOOPS":
                nodes.append(Note(item.value))
            elif item.type in ("JOIN", "TURN"):
                nodes.append(Note(item.type.lower()))
            elif item.type == "RING":
                self.ring = True
            elif item.type in ("COUNTS", "NOT_COUNTED"):
                self._counts(nodes, item.type == "COUNTS")
            elif item.type == "EVENLY" and nodes:
                nodes[-1] = self._spread(nodes[-1])
        return self._finish(nodes) if top else nodes

    def _counts(self, nodes: list, yes: bool) -> None:
        for index in range(len(nodes) - 1, -1, -1):
            node = nodes[index]
            if isinstance(node, Note) and node.chain > 0:
                if yes:
                    nodes[index] = Work("chain", node.stitch, 1, 1, 1, node.text)
                else:
                    nodes[index] = replace(node, fixed=True, text=f"{node.text} (not counted)")
                return

    def _again(self, step: Step, nodes: list, star: int | None) -> int | None:
        """Carry out "rep from * ..." on what has been worked so far."""
        said = next((tail for tail in step.tails if tail.type == "TIMES"), None)
        fill = next((tail for tail in step.tails if tail.type == "FILL"), None)
        bracket = (
            step.again == "REPEAT" and star is None and nodes and isinstance(nodes[-1], Repeat) and nodes[-1].bracket
        )
        start = len(nodes) - 1 if bracket else star or 0
        while start < len(nodes) and not _works(nodes[start]):
            start += 1  # the chain and the loops that a round begins with aren't repeated
        if (
            star is None
            and not bracket
            and start < len(nodes)
            and isinstance(nodes[start], Work)
            and nodes[start].kind == "chain"
        ):
            start += 1
        if start >= len(nodes):
            return None
        times, leave = None, 0
        if said is not None:
            number = int(said.lstrip("+="))
            times = number + 1 if said.startswith("+") else number
            # "rep from * 5 times" is six in all by the letter of it, five to many makers.
            if said[0] not in "+=" and step.again == "again" and not self.chosen("as many"):
                times = number + 1
        elif fill is not None:
            leave = int(fill)
        body = tuple(_slipped(nodes[start].body if bracket else nodes[start:]))
        depth = 1 + max((node.depth for node in body if isinstance(node, Repeat)), default=0)
        if depth > DEEPEST:
            raise Unreadable(step.at, *words.finding("many repeats"))
        nodes[start:] = [Repeat(body, times, leave, step.at, depth=depth)]
        return None

    def _step(self, step: Step) -> list:
        if step.kind == "GROUP":
            return self._group(step)
        kind = step.kind
        times = next((tail for tail in step.tails if tail.type == "TIMES"), None)
        fill = next((tail for tail in step.tails if tail.type == "FILL"), None)
        even = any(tail.type == "EVENLY" for tail in step.tails)
        place = step.place
        number = place.number if place else None
        whole = (
            place is not None
            and ("EACH" in place.where or "REST" in place.where)
            and number is None
            and place.noun not in ("RING", "HOOK")
        )
        if fill is None and whole and times is None:
            fill = Token("FILL", "0", start_pos=step.at)
        stitch = self._stitch(step)
        count = step.count
        if kind == "CHAIN":
            length = (count or number or 1) * (int(times.lstrip("+=")) if times else 1)
            if not self.worked and not self.first_chain:
                self.first_chain = length
            if self.worked and self.joins and self.chosen("both sides"):
                return [Work("bridge", "ch", 0, 2, length)]
            if self.worked and self.chosen("bridge"):
                return [Work("bridge", "ch", 0, 1, length)]
            if self.worked:
                return [Note(f"ch {length}", stitch=self.main, gap=length)]
            return [Note(f"ch {length}", length, stitch=self.main)]
        if kind.startswith("PAIR_"):
            plain = Work("plain", stitch, 1, 1, count or 1)
            apart = self.chosen("pair") != (count is not None and not step.after)
            one = replace(step, kind=kind[5:], count=None if apart else count)
            self.worked = True
            return (
                [plain, *self._shaped(one, stitch, times, fill, even)]
                if apart
                else self._shaped(one, stitch, times, fill, even)
            )
        if kind == "SLIP":
            return self._slip(step, count, number, fill, times)
        if not self.worked and place is not None and "FIRST" in place.where and place.number is None:
            self.into_first = True
        self.worked_before, self.worked = self.worked, True
        if self.lone and count is None and place is None and not step.tails and kind != "SKIP" and self.chosen("all"):
            fill = Token("FILL", "0", start_pos=step.at)  # "R5: sc (24)"
        if kind in ("INC", "DEC", "TOG"):
            return self._shaped(step, stitch, times, fill, even)
        if kind == "SKIP" and place is not None and place.nth:
            return self._every(step, Work("skip", "", 1, 0), place.nth)
        if kind == "SKIP":
            return self._often(Work("skip", "", 1, 0, number or count or 1), times, fill, step)
        return self._plain(step, stitch, times, fill, even)

    def _stitch(self, step: Step) -> str:
        if step.kind == "STITCH" or step.kind.startswith("PAIR_"):
            name = stitch_name(step.token, self.uk)
            return self.main if name == "main" else name
        if step.kind == "TOG":
            name = step.token.lower().split("tog")[0].rstrip(" -0123456789")
            return stitch_name(name, self.uk) if name else self.main
        return self.main

    def _plain(self, step: Step, stitch: str, times, fill, even: bool) -> list:
        place, count = step.place, step.count
        where = place.where if place else frozenset()
        number = place.number if place else None
        noun = place.noun if place else ""
        if any(tail.type == "TOGETHER" for tail in step.tails):
            return self._often(Work("dec", stitch, number or count or 2, 1), times, fill, step)
        if even:
            if count is None and times is None:
                return self._often(Work("plain", stitch, 1, 1), None, Token("FILL", "0", start_pos=step.at), step)
            return [Spread(0, None, (count or 1) * (int(times.lstrip("+=")) if times else 1), stitch)]
        if noun == "RING" or self.ring and place == Place():  # "make a ring, 6 sc into it"
            self.ring = True
            return self._often(Work("ring", stitch, 0, 1, count or number or 1), times, None, step)
        if noun == "SPACE":
            self.spaces = True
            return self._often(Work("space", stitch, 0, 1, count or 1), times, fill, step)
        if noun == "HOOK":
            return self._often(Work("hook", stitch, 1, count or 1), times, fill, step)
        if "SAME" in where and not (self.worked_before and (count or 1) > 1 and not self.chosen("same")):
            return self._often(Work("same", stitch, 0, count or 1), times, None, step)
        if place and place.nth:
            return self._every(
                step, Work("plain", stitch, 1, 1) if (count or 1) == 1 else self._inc(stitch, count), place.nth
            )
        many = count if count is not None and count > 1 else None
        if fill is not None:
            if many is None:
                unit = Work("plain", stitch, 1, 1, number or 1)
            elif place is not None or (many < 4) != self.chosen("around"):
                unit = self._inc(stitch, many)
            else:
                return self._often(Work("plain", stitch, 1, 1, many), times, None, step)
            return self._often(unit, None, fill, step)
        if place is None:
            return self._often(Work("plain", stitch, 1, 1, count if count is not None else 1), times, None, step)
        number = number if number is not None else 1
        if many is None:
            works = Work("plain", stitch, 1, 1, number)
        elif number == 1 or "EACH" in where:
            works = self._inc(stitch, many, number)
        else:  # "3 sc in next 3 sts": one in each, by far most often; else so many in each
            each = (many != number) != self.chosen("each")
            works = self._inc(stitch, many, number) if each else Work("plain", stitch, 1, 1, number)
        return self._often(works, times, None, step)

    @staticmethod
    def _inc(stitch: str, made: int, times: int = 1) -> Work:
        return Work("inc", stitch, 1, made, times)

    def _shaped(self, step: Step, stitch: str, times, fill, even: bool) -> list:
        place, count = step.place, step.count
        number = place.number if place else None
        sign = 1 if step.kind == "INC" else -1
        often = int(times.lstrip("+=")) if times is not None else None
        alone = self.lone and self.told and count is not None and count > 1 and times is None and fill is None
        spread = alone and place is None and self.chosen("evenly")  # "dec 6 (24)"
        if even or spread or count is not None and count > 1 and fill is not None:  # "inc 6 evenly", "inc 6 around"
            self.sparse = True
            change = count if count is not None else often
            return [Spread(sign, change if count is None or often is None else count * often, None, stitch)]
        if place and place.nth:
            unit = self._inc(stitch, 2) if sign > 0 else Work("dec", stitch, 2, 1)
            return self._every(step, unit, place.nth)
        if sign > 0:
            if place and "SAME" in place.where:
                return self._often(Work("same", stitch, 0, 2), times, None, step)
            many = max(count or 1, number or 1)
            unit = self._inc(stitch, 2, 1 if fill is not None else many)
        else:
            base = _together(step.token) if step.kind == "TOG" else 2
            many = count or 1
            if count is None and number is not None:
                if number % base == 0:
                    many = number // base
                elif number > 1 and step.kind == "DEC":
                    base = number
            unit = Work("dec", stitch, base, 1, 1 if fill is not None else many)
        return self._often(unit, times, fill, step)

    def _slip(self, step: Step, count, number, fill, times) -> list:
        if fill is not None or step.after or (number or 1) > 1 or (count or 1) > 1 or times is not None:
            self.worked = True
            return self._often(Work("plain", "sl st", 1, 1, max(count or 1, number or 1)), times, fill, step)
        into = step.place is not None and {"NEXT", "EACH"} & step.place.where and step.place.noun != "HOOK"
        return [Note("sl st", -1, stitch="next" if into else "")]

    def _every(self, step: Step, unit: Work, nth: int) -> list:
        """Work "inc in every 3rd st": a repeat that takes the place of "sc around" before it."""
        self.sparse = True
        between = nth if self.chosen("apart") else nth - unit.base  # "inc every 6 sts": in the sixth, or after six
        plain = Work("plain", self.main, 1, 1, between)
        body = (plain, unit) if plain.times > 0 else (unit,)
        return [Repeat(body, None, 0, step.at)]

    def _often(self, work: Work, times, fill, step: Step) -> list:
        """Repeat one work as its tail says."""
        if times is not None:
            return [Repeat((work,), int(times.lstrip("+=")), 0, step.at, tail=True)]
        if fill is not None:
            return [Repeat((work,), None, int(fill), step.at, tail=True)]
        return [work]

    def _spread(self, node):
        """Take back the places of what turns out to be spread evenly."""
        times = 1
        work = node
        if isinstance(node, Repeat) and len(node.body) == 1 and isinstance(node.body[0], Work):
            work, times = node.body[0], node.times
        if isinstance(work, Work) and work.kind in ("inc", "dec") and times is not None:
            self.sparse = True
            return Spread(1 if work.kind == "inc" else -1, work.times * times, None, work.stitch)
        return node

    def _group(self, step: Step) -> list:
        self.worked = True
        body = _slipped(self.row(step.body))
        times = next((tail for tail in step.tails if tail.type == "TIMES"), None)
        fill = next((tail for tail in step.tails if tail.type == "FILL"), None)
        place = step.place
        if place is not None and place.noun not in ("RING", "SPACE"):
            works = [node for node in body if isinstance(node, Work)]
            if len(works) == 1 and len(body) == 1 and place.number is None and works[0].kind in ("inc", "dec"):
                whole = "EACH" in place.where
                if whole and times is None:
                    fill = fill or Token("FILL", "0", start_pos=step.at)
            elif body and all(one in works and one.kind == "plain" and one.stitch == works[0].stitch for one in body):
                return self._plain(
                    replace(step, kind="STITCH", count=sum(one.times for one in works)),
                    works[0].stitch,
                    times,
                    fill,
                    False,
                )
            else:
                made = sum(sums(node)[1] for node in body)
                form = f"({clean_text(body, self.main)})"
                unit = Work("into", works[0].stitch if works else self.main, 1, made, 1, form)
                if place.number is None and "EACH" in place.where and times is None:
                    fill = fill or Token("FILL", "0", start_pos=step.at)
                body = [replace(unit, times=place.number or 1)]
        elif place is not None:
            self.ring = self.ring or place.noun == "RING"
            self.spaces = self.spaces or place.noun == "SPACE"
            body = [replace(node, kind=place.noun.lower(), base=0) if isinstance(node, Work) else node for node in body]
        if times is not None:
            number = int(times.lstrip("+="))
            return [Repeat(tuple(body), number + 1 if times.startswith("+") else number, 0, step.at)]
        if fill is not None:
            return [Repeat(tuple(body), None, int(fill), step.at)]
        return [Repeat(tuple(body), 1, 0, step.at, bracket=True)]

    def _finish(self, nodes: list) -> list:
        """Settle what hangs on the whole round: its last slip stitch, its first chain, a tail that is meant for all."""
        nodes = _unbracket(nodes)
        works = [at for at, node in enumerate(nodes) if _works(node)]
        for at, node in enumerate(nodes):
            if isinstance(node, Note) and node.chain == -1:
                last = not works or at > works[-1]
                if last == self.chosen("slip"):
                    nodes[at] = Work("plain", "sl st", 1, 1)
                else:
                    nodes[at] = replace(node, chain=0)
        chains = [at for at, node in enumerate(nodes) if isinstance(node, Note) and node.chain > 1 and not node.fixed]
        chains = [at for at in chains if works and at < works[0]]
        if chains and self.main != "sc" and self.chosen("chain"):
            at = chains[-1]
            nodes[at] = Work("chain", nodes[at].stitch, 1, 1, 1, nodes[at].text)
            first = works[0]
            if self.into_first and isinstance(nodes[first], Work) and nodes[first].kind in ("plain", "inc"):
                # "ch 3, dc in first st": both stand on it
                one = nodes[first]
                rest = [replace(one, times=one.times - 1)] if one.times > 1 else []
                nodes[first : first + 1] = [Work("same", one.stitch, 0, one.made), *rest]
        works = [at for at, node in enumerate(nodes) if _works(node)]
        one = nodes[works[0]] if works else None
        if isinstance(one, Repeat) and one.times and len(one.body) == 1 and isinstance(one.body[0], Work):
            one = replace(one.body[0], times=1, made=one.body[0].made * one.body[0].times * one.times)
        if isinstance(one, Work) and one.kind == "same":
            # Nothing came before: the same stitch as the join's is the first.
            nodes[works[0]] = Work("plain" if one.made == 1 else "inc", one.stitch, 1, one.made)
        if len(works) > 1 and isinstance(nodes[works[-1]], Repeat) and nodes[works[-1]].tail:
            last = nodes[works[-1]]
            first = next(at for at in works if not (isinstance(nodes[at], Work) and nodes[at].kind == "chain"))
            simple = all(isinstance(nodes[at], Work) for at in works[:-1]) and first != works[-1]
            shaped = last.body[0].kind != "plain"
            if simple and self.chosen("whole") != (last.times is None and shaped and last.leave == 0):
                body = (*nodes[first : works[-1]], *last.body)
                nodes[first : works[-1] + 1] = [Repeat(body, last.times, last.leave, last.at)]
        if len(works) > 1 and self.told and all(isinstance(nodes[at], Work) for at in works) and self.chosen("round"):
            first = works[0] + (nodes[works[0]].kind == "chain")  # "R4: sc 2, inc (24)"
            nodes[first : works[-1] + 1] = [Repeat(tuple(nodes[first : works[-1] + 1]), None)]
        if self.ring:  # "MR, 6 sc"
            nodes = [_into_ring(node) for node in nodes]
            if not any(_in_ring(node) for node in nodes):
                nodes.insert(0, Note("ring"))
        if self.sparse:  # "sc around, inc 6 evenly": the increases are among those sc
            plain = [
                at
                for at, node in enumerate(nodes)
                if isinstance(node, Repeat)
                and node.times is None
                and all(one.kind == "plain" for one in node.body if isinstance(one, Work))
            ]
            nodes = [node for at, node in enumerate(nodes) if at not in plain]
        return nodes


def _slipped(nodes: Sequence) -> list:
    """Count slip stitches into stitches of their own, which repeats are worked with: "sl st in next st"."""
    return [
        Work("plain", "sl st", 1, 1) if isinstance(node, Note) and (node.chain, node.stitch) == (-1, "next") else node
        for node in nodes
    ]


def _into_ring(node):
    """Work plain stitches into the ring."""
    if isinstance(node, Repeat):
        return replace(node, body=tuple(_into_ring(one) for one in node.body))
    return replace(node, kind="ring", base=0) if isinstance(node, Work) and node.kind == "plain" else node


def _in_ring(node) -> bool:
    return (
        any(_in_ring(one) for one in node.body)
        if isinstance(node, Repeat)
        else isinstance(node, Work) and node.kind == "ring"
    )


def _together(token: Token) -> int:
    return int(next(sign for sign in reversed(token) if sign.isdigit()))


def _works(node) -> bool:
    return not isinstance(node, Note)


def _unbracket(nodes: Sequence) -> list:
    """Take off brackets that repeat nothing."""
    out: list = []
    for node in nodes:
        if isinstance(node, Repeat):
            body = _unbracket(node.body)
            if node.bracket:
                out += body
                continue
            node = replace(node, body=tuple(body))
        out.append(node)
    return out


def sums(node) -> tuple[int, int]:
    """Return stitches used and made by a work, a repeat or a note.

    Raises
    ------
    Unreadable
        If a repeat goes on to the end of the round inside of another.
    """
    if isinstance(node, Work):
        return node.base * node.times, node.made * node.times
    if isinstance(node, Repeat):
        if node.times is None:
            raise Unreadable(node.at, *words.finding("around inside"))
        used, made = _sum(node.body)
        return used * node.times, made * node.times
    return 0, 0


def _sum(nodes: Sequence) -> tuple[int, int]:
    pairs = [sums(node) for node in nodes]
    return sum(used for used, _ in pairs), sum(made for _, made in pairs)


def _row(nodes: Sequence, ring: bool) -> list[tuple[int, int, str, bool]]:
    """Write all works out one by one; the last value says whether it shares the base before it."""
    out: list = []
    for node in nodes:
        if isinstance(node, Work):
            base = 0 if ring and node.kind in ("plain", "chain", "hook") else node.base
            out += [(base, node.made, node.stitch, node.kind == "same")] * node.times
        elif isinstance(node, Repeat):
            out += _row(node.body, ring) * node.times
    return out


def _shared(row: list[tuple[int, int, str, bool]]) -> tuple[tuple[int, int, str], ...]:
    """Put stitches that share a base together."""
    out: list[tuple[int, int, str]] = []
    for base, made, stitch, same in row:
        if same and out and out[-1][0] == 1:
            out[-1] = (1, out[-1][1] + made, out[-1][2])
        elif same:
            out.append((1, made, stitch))  # "in the same st as the join": the first stitch
        else:
            out.append((base, made, stitch))
    return tuple(out)


# ------------------------------------------------------------------ what it comes to


def work_out(
    items: list,
    *,
    number: int,
    below: int | None,
    stated: int | None,
    main: str,
    uk: bool = False,
    unworked: bool = False,
    spaces: int = 0,
    joins: bool = False,
) -> Outcome:
    """Work out what a parsed round comes to.

    Parameters
    ----------
    items : list
        From :func:`parse`.
    number : int
        The round's number.
    below : int or None
        Stitches of the round below.
    stated : int or None
        The total as it was written down.
    main : str
        The main stitch, in US terms.
    uk : bool, optional
        Whether the round is written in UK terms.
    unworked : bool, optional
        Whether stitches of the round below are left on purpose.
    spaces : int, optional
        Chain spaces of the round below, 0 where there are none or they aren't known.
    joins : bool, optional
        Whether the round joins parts, so that a chain between them is worked on both sides.

    Returns
    -------
    Outcome

    Raises
    ------
    Unreadable
        Where it can't be carried out, or makes more than a round can hold.
    """
    best, known = _under(frozenset(), items, number, below, stated, main, uk, unworked, spaces, joins)
    others: list[tuple] = []
    for size in range(1, 1 + MOST_TOGETHER):
        for reading in combinations(sorted(known, key=READINGS.index), size):
            if not best.conflicts:
                return best
            try:
                other, more = _under(
                    frozenset(reading), items, number, below, stated, main, uk, unworked, spaces, joins
                )
            except Unreadable:
                continue
            known = known | more  # one reading may open another; it is tried with the next size
            if size == 1 and other.nodes and len(others) < MOST_OTHERS:
                others.append(other.nodes)
            if other.made is not None and len(other.conflicts) < len(best.conflicts):
                best = other
    return replace(best, others=tuple(others)) if best.conflicts else best


def _under(reading, items, number, below, stated, main, uk, unworked, spaces, joins) -> tuple[Outcome, set[str]]:
    """Work a round out under one reading; return also the readings that would make a difference."""
    builder = _Builder(main, uk, reading, stated is not None, joins)
    nodes = builder.row(items, top=True)
    if joins:
        nodes = [Note(JOINED), *(node for node in nodes if not (isinstance(node, Note) and node.text == "join"))]
    start = builder.ring or below is None and (builder.first_chain > 1 or number == 1 and _all_plain(nodes))
    outcome = _come_to(nodes, builder, start, number, below, stated, unworked, spaces)
    return outcome, builder.open


def _all_plain(nodes: Sequence) -> bool:
    works = [node for node in nodes if _works(node)]
    return bool(works) and all(
        isinstance(node, Work)
        and node.kind == "plain"
        or isinstance(node, Repeat)
        and node.tail
        and node.times is not None
        and node.body[0].kind == "plain"
        for node in works
    )


def _come_to(nodes, builder: _Builder, start: bool, number, below, stated, unworked, spaces=0) -> Outcome:
    conflicts: list[Conflict] = []
    spread = [node for node in nodes if isinstance(node, Spread)]
    fills = [at for at, node in enumerate(nodes) if isinstance(node, Repeat) and node.times is None]
    fixed = _sum([node for at, node in enumerate(nodes) if at not in fills])
    ring = builder.ring
    base = 0 if start else below
    room = below if not start else _chain_room(nodes, builder)
    if spread:
        made, used = _spread_out(spread, fixed, below, stated)
        if made is not None and used is not None and (made > MOST or made < 1):
            raise Unreadable(0, *words.finding("makes nothing", n=shown(str(made)), most=MOST))
        text = clean_text(nodes, builder.main)
        if made is not None and stated is not None and made != stated:
            conflicts.append(_wrong_total(number, made, stated, None))
        return Outcome(made, 0 if start else used, text, None, tuple(conflicts), start)
    known = True
    resolved = list(nodes)
    for at in fills:
        times = _fill(resolved, at, fills, room, stated, ring, start, number, conflicts, spaces)
        if times is None:
            known = False
        else:
            resolved[at] = replace(resolved[at], times=times)
    if not known:
        text = clean_text(nodes, builder.main)
        return Outcome(None, 0 if start else None, text, None, tuple(conflicts), start, nodes=tuple(nodes))
    used, made = _sum(resolved)
    if made > MOST or used > MOST:
        raise Unreadable(0, *words.finding("makes too much", n=shown(str(max(made, used))), most=MOST))
    row = _shared(_row(_effective(resolved), ring))
    used = sum(one[0] for one in row)
    if made == 0:  # a chain, closed to a ring
        return Outcome(
            None,
            0 if start else None,
            clean_text(resolved, builder.main),
            None,
            tuple(conflicts),
            start,
            builder.first_chain,
        )
    even = bool(fills) or below == used
    text = clean_text(resolved, builder.main, around=even and not start)
    total_wrong = stated is not None and made != stated
    # "sc in the first 9 sts, turn (9)": what is left is left on purpose.
    turned = not total_wrong and stated is not None and bool(nodes) and nodes[-1] == Note("turn")
    unworked = unworked or turned
    use_wrong = base is not None and not start and used is not None and used != base and not (unworked and used < base)
    if unworked and below is not None and used < below:
        text += ", leave rest unworked"
    if start or builder.spaces:
        used = 0 if start else None
    use_wrong = use_wrong and used is not None
    if start and total_wrong:
        conflicts.append(_wrong_start(number, made, stated, builder.main))
    elif total_wrong or use_wrong:
        conflicts += _explained(resolved, number, made, used, base, stated, total_wrong, use_wrong, builder.main)
    chains, gaps = _chains(resolved)
    bridges = 0 if "bridge" in builder.reading else chains
    read = tuple(nodes) if conflicts else ()
    return Outcome(made, used, text, row, tuple(conflicts), start, bridges, gaps, read)


def _chains(nodes: Sequence) -> tuple[int, int]:
    """Chains between stitches, and the spaces that they make."""
    chains = spaces = 0
    for node in nodes:
        if isinstance(node, Note) and node.gap:
            chains, spaces = chains + node.gap, spaces + 1
        elif isinstance(node, Work) and node.kind == "bridge":
            chains, spaces = chains + node.times, spaces + 1
        elif isinstance(node, Repeat):
            own = _chains(node.body)
            chains, spaces = chains + own[0] * (node.times or 1), spaces + own[1] * (node.times or 1)
    return chains, spaces


def _effective(nodes: Sequence) -> list:
    """Leave out what uses and makes nothing, so that writing a row out takes no longer than it has stitches."""
    out: list = []
    for node in nodes:
        if isinstance(node, Work) and (node.base or node.made) and node.times:
            out.append(node)
        elif isinstance(node, Repeat):
            body = _effective(node.body)
            if body and node.times:
                out.append(replace(node, body=tuple(body)))
    return out


def _chain_room(nodes: Sequence, builder: _Builder) -> int | None:
    """Stitches that a first round on a chain finds there: all, or all but those that the hook passes over."""
    if not builder.first_chain or builder.first_chain < 2:
        return None
    hooked = any(isinstance(node, Work) and node.kind == "hook" for node in nodes)
    return builder.first_chain - 1 if hooked else builder.first_chain


def _fill(nodes, at, fills, room, stated, ring, start, number, conflicts, spaces=0) -> int | None:
    """How often a repeat "around" is worked; None where that can't be known."""
    node = nodes[at]
    used, made = _sum(node.body)
    others = [other for index, other in enumerate(nodes) if index != at and index not in fills]
    if ring and used and all(isinstance(one, Work) and one.kind == "ring" for one in node.body):
        return 1
    if made == 0 and used == 0:
        return 1
    if used == 0 and all(isinstance(one, Note) or one.kind == "space" for one in node.body):
        # So often as there are spaces; a written total knows best, then the chains of the round below.
        rest = None if stated is None else stated - _sum(others)[1]
        if rest is not None and rest > 0 and rest % made == 0 and len(fills) == 1:
            return rest // made
        return spaces or room
    if room is not None and used:
        before = sum(_used(one) for one in nodes[:at] if not (isinstance(one, Repeat) and one.times is None))
        after = node.leave
        if not after:
            after = sum(_used(one) for one in nodes[at + 1 :] if not (isinstance(one, Repeat) and one.times is None))
        free = room - before - after
        if start and (free < 0 or free % used):
            room = None
        elif free < 0:
            return 0
        elif free % used == 0:
            return free // used
        else:
            conflicts.append(_not_even(node, number, room, before + after, used, made, stated))
            return None
    if stated is not None and made and len(fills) == 1:
        rest = stated - _sum(others)[1]
        if rest >= 0 and rest % made == 0:
            return rest // made
        if room is None and not start:
            conflicts.append(
                Conflict(
                    words.ROUND_CANT_MAKE.format(n=number, stated=stated, made=made),
                    _near(stated, rest, made),
                    total=True,
                )
            )
    return None


def _near(stated: int, rest: int, step: int) -> str:
    low = stated - rest % step
    return (words.MEND_NEAR if low > 0 else words.MEND_NEAR_ONE).format(low=low, high=low + step)


def _used(node) -> int:
    used, _ = sums(node)
    if isinstance(node, Work) and node.kind == "same":
        return 0
    return used


def _spread_out(spread, fixed, below, stated) -> tuple[int | None, int | None]:
    """Total and stitches used where the places of the shaping aren't told."""
    if spread[0].total is not None:
        return spread[0].total + fixed[1], below
    used_fixed, made_fixed = fixed
    change = made_fixed - used_fixed
    for one in spread:
        if one.change is None:
            return (stated, below) if stated is not None else (None, below)
        change += one.sign * one.change
    if below is not None:
        return below + change, below
    return (stated, stated - change) if stated is not None else (None, None)


# ------------------------------------------------------------------ what would be right


def _wrong_total(number: int, made: int, stated: int, row) -> Conflict:
    off = stated - made
    many = abs(off)
    if many > 6:
        mend = "again"
    elif off > 0:
        mend = "one inc" if many == 1 else "incs"
    else:
        incs = sum(1 for base, out, _ in row or () if base == 1 and out == 2)
        if incs >= many:
            mend = "one inc fewer" if many == 1 else "incs fewer"
        else:
            mend = "one dec" if many == 1 else "decs"
    what = words.ROUND_MAKES.format(n=number, made=made, stated=stated)
    return Conflict(what, words.MEND_TOTAL[mend].format(made=made, many=many), total=True)


def _wrong_start(number: int, made: int, stated: int, main: str) -> Conflict:
    """A first round has no increases: it takes stitches more or fewer."""
    off = stated - made
    fix = words.MEND_RING if off > 0 else words.MEND_RING_FEWER
    what = words.ROUND_MAKES.format(n=number, made=made, stated=stated)
    return Conflict(what, fix.format(made=made, many=abs(off), stitch=main), total=True)


def _explained(nodes, number, made, used, below, stated, total_wrong, use_wrong, main) -> list[Conflict]:
    """Say what doesn't agree, and what would."""
    if not use_wrong:
        return [_wrong_total(number, made, stated, _shared(_row(_effective(nodes), False)))]
    if used < below:
        what = words.ROUND_USES.format(n=number, used=used, stitches=words.stitches(below))
    else:
        what = words.ROUND_NEEDS.format(n=number, stitches=words.stitches(used), below=below)
    total = stated if stated is not None else None
    for node in nodes:  # another number of repeats, or of plain stitches, may make both right
        if isinstance(node, Repeat) and node.times is not None:
            each_used, each_made = _sum(node.body)
            rest_used, rest_made = used - each_used * node.times, made - each_made * node.times
            if each_used and below > rest_used and (below - rest_used) % each_used == 0:
                times = (below - rest_used) // each_used
                result = rest_made + times * each_made
                if total is None or result == total or not total_wrong:
                    fix = words.MEND_TIMES if result == total else words.MEND_TIMES_MAKES
                    return [Conflict(what, fix.format(times=times, made=result), node.at or None)]
    works = [node for node in nodes if _works(node)]
    if (
        len(works) > 1
        and used
        and below % used == 0
        and below > used
        and made * (below // used) == (total or made * (below // used))
    ):
        return [Conflict(what, words.MEND_REPEAT.format(text=clean_text(works, main), times=below // used))]
    if (
        len(works) == 1
        and isinstance(works[0], Work)
        and works[0].kind == "plain"
        and (total in (None, below) or not total_wrong)
    ):
        return [Conflict(what, words.MEND_ALL.format(stitch=works[0].stitch, n=below))]
    off = below - used
    if off > 0:
        fix = words.MEND_MORE_ONE if off == 1 else words.MEND_MORE
    else:
        fix = words.MEND_FEWER_ONE if off == -1 else words.MEND_FEWER
    found = [Conflict(what, fix.format(n=abs(off)))]
    if total_wrong:
        found.append(_wrong_total(number, made, stated, _shared(_row(_effective(nodes), False))))
    return found


def _not_even(node: Repeat, number, room, rest, used, made, stated) -> Conflict:
    free = room - rest
    times, left = divmod(free, used)
    what = words.ONE_LEFT_OVER if left == 1 else words.LEFT_OVER
    what = what.format(n=number, stitches=words.stitches(used), free=free, left=left)
    added = stated - room if stated is not None and not rest else 0
    if added > 0 and room % added == 0:
        plain = room // added - 1
        inc = f"(sc {plain}, inc) x {added}" if plain else f"inc x {added}"
        return Conflict(what, words.MEND_INCS.format(text=inc, stated=stated, room=room), node.at)
    low = rest + times * used
    near = words.either([low, low + used] if times else [low + used])
    return Conflict(what, words.MEND_BELOW.format(numbers=near), node.at)


# ------------------------------------------------------------------ the clean form


def clean_text(nodes: Sequence, main: str, around: bool = False) -> str:
    """Write works in the clean form.

    Parameters
    ----------
    nodes : sequence
        Works, repeats and notes in order.
    main : str
        The round's main stitch, in US terms.
    around : bool, optional
        Whether a single plain work goes all the way round.

    Returns
    -------
    str
        "sc 1, inc, (sc 2, inc) x 5, sc 1".
    """
    nodes = _merged(nodes)
    works = [node for node in nodes if _works(node)]
    alone = works[0] if len(works) == 1 else None
    parts: list[str] = []
    lead = ""
    for node in nodes:
        if isinstance(node, Note):
            if node.text in ("BLO", "FLO"):
                lead = node.text + " "
                continue
            said = {"join": "join", "turn": "turn"}.get(node.text, node.text)
        elif node is alone and around and isinstance(node, Work) and node.kind == "plain":
            said = f"{node.stitch} around"
        else:
            said = _said(node, main)
        parts.append(lead + said)
        lead = ""
    return ", ".join(parts) if parts else lead.strip()


def _merged(nodes: Sequence) -> list:
    """Put equal neighbours together, and repeats of one work or of one repeat into one."""
    out: list = []
    for node in nodes:
        if isinstance(node, Repeat):
            body = tuple(_merged(node.body))
            only = body[0] if len(body) == 1 else None
            if node.times == 0 or not body:
                continue
            if (
                node.times is not None
                and isinstance(only, Work)
                or node.times is not None
                and isinstance(only, Repeat)
                and only.times is not None
            ):
                node = replace(only, times=only.times * node.times)
            elif node.times == 1:
                for inner in body:
                    _append(out, inner)
                continue
            else:
                node = replace(node, body=body)
        _append(out, node)
    return out


def _append(out: list, node) -> None:
    last = out[-1] if out else None
    if (
        isinstance(node, Work)
        and isinstance(last, Work)
        and replace(node, times=1) == replace(last, times=1)
        and node.kind != "chain"
    ):
        out[-1] = replace(last, times=last.times + node.times)
    else:
        out.append(node)


def _said(node, main: str) -> str:
    if isinstance(node, Spread):
        if node.total is not None:
            return f"{node.total} {node.stitch} evenly"
        word = "inc" if node.sign > 0 else "dec"
        word = word if node.stitch == main == "sc" else f"{node.stitch} {word}"
        return f"{word} {node.change} evenly" if node.change is not None else f"{word} evenly"
    if isinstance(node, Repeat):
        inside = clean_text(node.body, main)
        end = f"to last {node.leave}" if node.leave else "around"
        if node.times is None and len(node.body) == 1 and isinstance(node.body[0], Work):
            work = node.body[0]
            if work.kind == "inc" and work.made > 2 and not node.leave:
                return f"{work.made} {work.stitch} in each st around"
            if (
                work.times == 1
                and work.kind in ("plain", "dec")
                or work.kind == "inc"
                and work.made == 2
                and work.times == 1
            ):
                return f"{inside.removesuffix(' 1')} {end}"
        return f"({inside}) {end}" if node.times is None else f"({inside}) x {node.times}"
    times = f" x {node.times}" if node.times > 1 else ""
    own = "" if node.stitch == main == "sc" else f"{node.stitch} "
    if node.kind == "plain":
        return f"{node.stitch} {node.times}"
    if node.kind == "inc" and node.made == 2:
        return f"{own}inc{times}"
    if node.kind == "inc":
        return f"{node.made} {node.stitch} in {'next st' if node.times == 1 else f'each of next {node.times} sts'}"
    if node.kind == "dec":
        return f"{'dec' if node.base == 2 and not own else f'{node.stitch}{node.base}tog'}{times}"
    if node.kind == "skip":
        return f"sk {node.times}"
    if node.kind == "ring":
        return f"{node.times * node.made} {node.stitch} in ring"
    if node.kind == "space":
        return f"{node.times * node.made} {node.stitch} in ch-sp"
    if node.kind == "hook":
        return f"{f'{node.made} ' if node.made > 1 else ''}{node.stitch} in 2nd ch from hook"
    if node.kind == "same":
        return f"{f'{node.made * node.times} ' if node.made * node.times > 1 else ''}{node.stitch} in same st"
    if node.kind == "bridge":
        return f"ch {node.times}"
    if node.kind == "chain":
        return f"{node.form} (counts as {node.stitch})"
    return f"{node.form} in {'next st' if node.times == 1 else f'each of next {node.times} sts'}"
