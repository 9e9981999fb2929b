"""A written plan, read round after round, each against the one below."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, pairwise

from lark import Token, UnexpectedInput

from counter.basics import words
from counter.plan.labels import LabelledLine, label_numbers, split
from counter.plan.language import translate
from counter.plan.lines import (
    Heading,
    glossary,
    heading_of,
    joins_parts,
    needs_an_answer,
    open_ended,
    remark_of,
    set_up,
)
from counter.plan.mend import Suits, mended
from counter.plan.normalise import Normalised, normalise, variants
from counter.plan.sizes import Sizes, choose_size
from counter.plan.steps import parse
from counter.plan.stitches import in_terms, main_stitch
from counter.plan.tokens import (
    KINDS,
    MOST_CHARACTERS,
    MOST_NESTED_BRACKETS,
    MOST_ROUNDS,
    MOST_STITCHES,
    PARTS,
    Unreadable,
    deepest,
    grammar,
    plain,
    shown,
    whole_number,
    words_of,
)
from counter.plan.values import Finding, Plan, PlanLine, PlanPiece, PlanRound
from counter.plan.wording import Reworded, own_lines, reword, say_letters
from counter.plan.work import work_out
from counter.plan.works import Outcome

__all__ = ["read_plan"]

#: Most findings that are told; a text with more is no plan.
MOST_FINDINGS = 50
#: What a line of bare totals may hold.
BARE = frozenset({"NUM", "NUM_WORD", "X", "TIMES_WORD", "ST", "OPEN", "CLOSE", "TOTAL", *PARTS})
#: What a growth rule is made of.
GROWTH = frozenset({"NUM", "STARTS", "ADD", "INC", "TAKE", "DEC", "FOR", "UP_TO", "RND"})
NO_GROWTH = frozenset({"X", "FILL", "TIMES_WORD", "REPEAT", "STAR", "TOG", "TO_LAST"})
#: Most words in one round, and most work for a whole plan, in words and stitches worked out.
MOST_WORDS = 2000
MOST_WORK = 15_000
#: Words beside instructions that leave no doubt about them.
BESIDE = frozenset(
    {"fasten", "off", "stuff", "stuffing", "begin", "start", "color", "colour", "change", "switch", "white", "black"}
    | {"red", "blue", "green", "yellow", "brown", "pink", "grey", "gray", "orange", "purple", "yarn", "marker", "place"}
    | {"move", "mark", "note", "eyes", "st", "sts", "mc", "cc"}
)
#: Most words of the next round that are read ahead.
MOST_AHEAD = 120
#: Most ways in which one round is read.
MOST_WAYS = 8


def read_plan(
    text: str,
    *,
    uk: bool = False,
    rounds: int = 12,
    piece: str | None = None,
    size: str | None = None,
    chain_counts: bool | None = None,
) -> Plan:
    r"""Read written rounds.

    Parameters
    ----------
    text : str
        Rounds as makers write them, one a line or several; a list of totals
        ("6, 12, 18, 24"); or a growth rule ("start 6, add 6"). Lines that
        are no rounds are told to be remarks, or found. Up to 40,000 characters.
    uk : bool, optional
        Whether it is written in UK terms, where dc is what is sc in US terms.
    rounds : int, optional
        How many rounds a growth rule gives, 1 to 1000.
    piece : str, optional
        Name of the piece whose rounds are wanted, where the text holds several,
        or its number, from 1; the first one where it is left out.
    size : str, optional
        Name of the size that is made, where the text is written for several,
        or its number, from 1; the first one where it is left out.
    chain_counts : bool, optional
        Whether the chain that a round of taller stitches begins with counts as a stitch, where neither the
        text nor its totals say so; where that is left out, too, it is asked and not counted.

    Returns
    -------
    Plan
        Without rounds, and with one finding, where the text can't be read at all.

    Raises
    ------
    ValueError
        If `rounds` is out of range. A text never raises.

    Examples
    --------
    >>> from counter import read_plan
    >>> plan = read_plan("R1: 6 sc in ring [6]\nR2: inc x 6 [12]\nR3: (sc 1, inc) x 6 [19]")
    >>> [round.stitches for round in plan.rounds]
    [6, 12, 18]
    >>> [finding.line for finding in plan.findings]  # the written total of the third is wrong
    [3]
    """
    if isinstance(rounds, bool) or not isinstance(rounds, int) or not 1 <= rounds <= MOST_ROUNDS:
        raise ValueError(f"rounds must be a whole number from 1 to {MOST_ROUNDS}, not {rounds!r}")
    reader = _Reader(text, uk, rounds)
    reader.chain_counts = chain_counts
    if len(text) > MOST_CHARACTERS:
        return reader.nothing(0, *words.finding("too long", n=len(text), most=MOST_CHARACTERS))
    if "\0" in text:
        return reader.nothing(text.index("\0"), *words.finding("no text"))
    reader.source = plain(text)
    deep = deepest(reader.source)
    if deep is not None:
        return reader.nothing(deep, *words.finding("deep", most=MOST_NESTED_BRACKETS))
    reader.reworded = Reworded(reader.source)
    own_lines(reader.reworded)
    say_letters(reader.reworded)
    reader.language = translate(reader.reworded)
    reader.sizes = choose_size(reader.reworded, size)
    reword(reader.reworded)
    reader.text = reader.reworded.text
    reader.uk = uk and reader.language == "en"  # the lists of other languages say stitches in US terms
    return reader.read(split(words_of(reader.text)), piece, size)


@dataclass
class _Part:
    """One piece of the text, as far as it was read."""

    name: str = ""
    make: int = 1
    at: int = 0
    rounds: list[PlanRound] = field(default_factory=list)
    #: Parsed rounds by number, for "repeat round 5".
    sources: dict[int, tuple[list, Normalised, str]] = field(default_factory=dict)
    #: Chains of the round below, over stitches that it skipped or for a start, and its spaces.
    bridges: int = 0
    spaces: int = 0
    #: Whether the heading surely names a piece, and the piece whose last round this one goes on from.
    sure: bool = False
    #: What the last round makes when it is mended.
    mended: int | None = None
    carried: _Part | None = None


@dataclass
class _Reading:
    """The words of a round, settled and parsed in one way, and the other ways to read them."""

    settled: Normalised
    items: list
    others: Iterator[tuple[Normalised, list] | Unreadable] = field(default_factory=lambda: iter(()))


class _Reader:
    """Reads the entries of one text in turn."""

    def __init__(self, text: str, uk: bool, growth_rounds: int) -> None:
        self.source = self.text = text
        self.reworded: Reworded | None = None
        self.sizes: Sizes | None = None
        self.language = "en"
        #: Whether a first chain counts: as the text says for all of it, as the person says, as it did before.
        self.chain_said: bool | None = None
        self.chain_counts: bool | None = None
        self.chain_was: bool | None = None
        self.chain_asked = False
        self.uk, self.growth_rounds = uk, growth_rounds
        self.starts: list[int] | None = None
        self.part = _Part()
        self.parts = [self.part]
        self.findings: list[Finding] = []
        self.lines: dict[int, PlanLine] = {}
        #: The heading that the next round may begin a piece under.
        self.heading: tuple[Heading, int] | None = None
        self.read_tokens: list[Token] = []
        self.over = self.rows = False
        self.spent = 0
        self.entries: list[LabelledLine] = []
        self.index = 0

    @property
    def rounds(self) -> list[PlanRound]:
        """Rounds of the piece that is being read."""
        return self.part.rounds

    # -------------------------------------------------------------- places and findings

    def place(self, at: int) -> tuple[int, int]:
        """Line and column of a place, both from 1."""
        return self.at_source(self.reworded.origin(at) if self.reworded else at)

    def at_source(self, at: int) -> tuple[int, int]:
        """Line and column, both from 1, of a place in the maker's own text."""
        if self.starts is None:
            self.starts = [0, *(index + 1 for index, sign in enumerate(self.source) if sign == "\n")]
        line = bisect_right(self.starts, at)
        return line, at - self.starts[line - 1] + 1

    def words_at(self, begin: int, end: int) -> str:
        """The maker's own words between two places."""
        if self.reworded:
            begin, end = self.reworded.origin(begin), self.reworded.origin(end)
        return self.source[begin:end]

    def find(self, at: int, what: str, fix: str, kind: str = "wrong") -> None:
        """Note a finding."""
        if len(self.findings) < MOST_FINDINGS:
            self.findings.append(Finding(*self.place(at), what, fix, kind))
        else:
            self.over = True

    def nothing(self, at: int, what: str, fix: str) -> Plan:
        """Answer a text that can't be read at all."""
        return Plan((), (Finding(*self.place(at), what, fix, "unread"),))

    # -------------------------------------------------------------- entries

    def read(self, entries: list[LabelledLine], piece: str | None = None, size: str | None = None) -> Plan:
        """Read all entries."""
        if self.sizes and not self.sizes.known:
            names = ", ".join(self.sizes.names)
            if size is not None:
                self.find(0, *words.finding("no size", size=shown(size), sizes=names), "asked")
            first = self.sizes.names[self.sizes.chosen]
            self.findings.append(
                Finding(*self.at_source(self.sizes.at), *words.finding("which size", sizes=names, size=first), "asked")
            )
        self.entries = entries = _in_order(_set_ups(_rounds_called_rows(entries)))
        labelled = [entry for entry in entries if entry.numbers and not entry.weak and not entry.row]
        self.labels = bool(labelled) or any(
            entry.weak and any(token.type in KINDS for token in entry.tokens) for entry in entries
        )
        written = any(token.type in KINDS or token.type == "RING" for entry in labelled for token in entry.tokens)
        self.bare = not written
        for index, entry in enumerate(entries):
            if self.over or self.spent > MOST_WORK:
                break
            self.index = index
            self.ahead = next((later.numbers[0] for later in entries[index + 1 :][:20] if later.numbers), None)
            rounds, findings = self._far(), len(self.findings)
            self._entry(entry)
            self._account(entry, self._far() - rounds, len(self.findings) > findings)
        self._terms()
        parts = [part for part in self.parts if part.rounds]
        if not parts and not self.findings:
            return self.nothing(0, *words.finding("no round"))
        if self.spent > MOST_WORK:
            return self.nothing(0, *words.finding("too much"))
        chosen = self._chosen(parts, piece)
        self.findings.sort(key=lambda finding: (finding.line, finding.column))
        if self.over:
            last = self.findings[-1]
            self.findings.append(Finding(last.line, last.column, *words.finding("more"), "unread"))
        pieces = tuple(
            PlanPiece(name, part.make, tuple(part.rounds), self.place(part.at)[0])
            for part, name in zip(parts, _names(parts), strict=True)
        )
        return Plan(
            pieces[chosen or 0].rounds if pieces else (),
            tuple(self.findings),
            pieces,
            None if chosen is None else pieces[chosen].name,
            self.sizes.names if self.sizes else (),
            self.sizes.names[self.sizes.chosen] if self.sizes and self.sizes.known else None,
            lines=tuple(self.lines[line] for line in sorted(self.lines)),
            language=self.language,
        )

    def _chosen(self, parts: list[_Part], piece: str | None) -> int | None:
        """Which piece is wanted, None without a choice."""
        if piece is None or not parts:
            return None
        names = _names(parts)
        low = [name.lower() for name in names]
        if piece.strip().lower() in low:
            return low.index(piece.strip().lower())
        if piece.strip().isdigit() and 1 <= int(piece) <= len(parts):
            return int(piece) - 1
        known = ", ".join(name or str(number) for number, name in enumerate(names, 1))
        self.find(0, *words.finding("no piece", piece=shown(piece), pieces=known), "asked")
        return None

    def _far(self) -> int:
        return sum(len(part.rounds) for part in self.parts)

    def _account(self, entry: LabelledLine, rounds: int, found: bool) -> None:
        """Note what the lines of an entry were taken for."""
        numbers = tuple(one.round for one in self.part.rounds[-rounds:]) if rounds else ()
        what = "round" if numbers else "finding" if found else "remark"
        begin, end = self._line_of(entry)
        text = self.source[self.starts[begin - 1] : self.starts[end] if end < len(self.starts) else None]
        heading = self._heading(entry, text)
        remark = "" if what != "remark" else remark_of(text, entry.tokens, heading)
        for line in sorted({begin, end, *(self.place(token.start_pos)[0] for token in entry.tokens)}):
            before = self.lines.get(line)
            if before is not None and before.what == "round":
                self.lines[line] = PlanLine(line, "round", "", before.rounds + numbers)
            elif before is None or before.what == "remark" or what == "round":
                self.lines[line] = PlanLine(line, what, remark, numbers)
        if what == "remark" and heading is not None:
            self.heading = heading, entry.at

    def _line_of(self, entry: LabelledLine) -> tuple[int, int]:
        begin = self.place(entry.at)[0]
        return begin, self.place(entry.tokens[-1].start_pos)[0] if entry.tokens else begin

    def _heading(self, entry: LabelledLine, text: str) -> Heading | None:
        return (
            heading_of(text, entry.tokens)
            if entry.numbers is None and not entry.row and "\n" not in text.strip()
            else None
        )

    def _entry(self, entry: LabelledLine) -> None:
        """Read one entry."""
        if entry.row:
            self._row(entry)
        elif entry.problem:
            self.find(entry.problem.at, entry.problem.what, entry.problem.fix, "unread")
        elif entry.numbers is None:
            self._without_label(entry)
        else:
            self._with_label(entry)

    def _row(self, entry: LabelledLine) -> None:
        if not self.rows:
            self.find(entry.at, *words.finding("rows"), "unread")
        self.rows = True

    def _begin_piece(self, entry: LabelledLine, restarts: bool) -> None:
        """Begin another piece where the count begins again, or a heading surely names one."""
        heading, at = self.heading or (None, entry.at)
        if not self.rounds:
            if heading is not None:
                self.part.name, self.part.make, self.part.at = heading.name, heading.make, at
                self.part.sure = heading.sure
            elif not self.part.at:
                self.part.at = entry.at
        elif restarts or heading is not None and heading.sure:
            before = self.part
            self.part = _Part(heading.name if heading else "", heading.make if heading else 1, at)
            self.part.sure = heading is not None and heading.sure
            self.part.carried = None if restarts else before
            self.parts.append(self.part)
        self.heading = None

    def _without_label(self, entry: LabelledLine) -> None:
        tokens = entry.tokens
        rounds, findings = self._far(), len(self.findings)
        begin, end = self._line_of(entry)
        text = self.source[self.starts[begin - 1] : self.starts[end] if end < len(self.starts) else None]
        if self._heading(entry, text) is not None:
            return
        kinds = {token.type for token in tokens}
        if {"COUNT_WORD", "CHAIN"} <= kinds:  # "Ch 3 counts as a dc throughout"
            self.chain_said = "NOT" not in kinds
        if _is_bare(tokens) and (self.bare or self._leads_up(tokens)):
            self._begin_piece(entry, False)
            self._totals(tokens, (self._next(),), entry.at)
        elif self.bare and self._growth(entry) or self._again(entry) or self._grown_on(entry):
            pass
        elif not glossary(tokens) and any(token.type in KINDS or token.type in ("EVEN", "RING") for token in tokens):
            if open_ended(text) and needs_an_answer(text, tokens):
                self.find(entry.at, *words.finding("no end"), "unread")
                return
            self._loose(entry)
            done = self._far() > rounds or len(self.findings) > findings
            if not done and needs_an_answer(text, tokens):
                self.find(entry.at, *words.finding("line unused"), "unread")

    def _leads_up(self, tokens: Sequence[Token]) -> bool:
        """Whether bare totals ahead of a labelled round are those of the rounds up to it: "6, 12, 18" ahead of R4."""
        totals = sum(token.type == "NUM" for token in tokens)
        return totals > 1 and self.ahead == self._next() + totals

    def _loose(self, entry: LabelledLine) -> None:
        """Read a line without a label if it can only be a round."""
        # Sentences that only remark something are left out.
        clear = [own for own in variants(entry.tokens) if not any(token.type == "WORD" for token in own)]
        count, tokens = _for_rounds(clear[0] if clear else entry.tokens, False)
        starts = any(token.type in ("RING", "HOOK") for token in tokens)
        if self.rounds and starts and self.heading is not None:
            self._begin_piece(entry, True)
        number = self._next()
        if self.labels and self.ahead == number or _names_a_round(tokens):
            return
        prose = any(token.type == "WORD" for token in tokens)
        strong = any(
            token.type in ("FILL", "X", "TIMES_WORD", "TWICE", "TO_LAST", "STAR", "EACH", "EVEN") for token in tokens
        )
        strong = strong or count > 1
        starts = starts and not self.rounds
        try:
            reading = self._settle(tokens)
            settled = reading.settled
            below = self._below(number)
            outcome = self._work(reading.items, settled, number, below, _last(settled.stated))
        except Unreadable as error:
            if not prose and strong and not self.labels:
                self._unreadable(entry, number, tokens, error)
            return
        stated = _last(settled.stated)
        checks = stated is not None and outcome.made == stated
        counts = strong or stated is not None or any(token.type in ("NUM", "NUM_WORD") for token in tokens)
        # One that says no number still follows the rounds above where it comes out over them.
        follows = strong and not prose and below is not None and outcome.used == below and not outcome.conflicts
        follows = (follows or starts and self.ahead == number + 1) and (self.ahead is None or self.ahead > number)
        if self.labels and not follows and (stated is None or prose and not checks):
            return
        if (
            (settled.idle or prose)
            and not checks
            and not (starts and outcome.made and not settled.doubtful)
            or not counts
            or not (outcome.made or outcome.made is None and strong)
        ):
            return
        self._begin_piece(entry, False)
        self._add(tuple(range(number, number + count)), entry, tokens, reading)

    def _with_label(self, entry: LabelledLine) -> None:
        """Read a round with a label."""
        numbers = entry.numbers or (self._next(),)
        if entry.weak and not _may_be_round(entry.tokens):
            due = numbers[0] == self._next() and bool(self.rounds)
            if not due or not entry.tokens or _salvage(entry.tokens)[0] is None:
                return  # an item of a list; but one that carries the count on and states a total is a round
        last = self.rounds[-1].round if self.rounds else None
        restarts = last is not None and numbers[0] == 1 and (last > 1 or self.heading is not None)
        restarts = (
            restarts or last is not None and numbers[0] <= last and self.heading is not None and self.heading[0].sure
        )
        self._begin_piece(entry, restarts)
        numbers = entry.numbers or (self._next(),)
        count, tokens = _for_rounds(entry.tokens, True)
        if len(numbers) == 1 and count > 1:
            numbers = tuple(range(numbers[0], numbers[0] + count))
        if not tokens:
            self.find(entry.at, *words.finding("nothing said", n=numbers[0]), "unread")
            return
        if _is_bare(tokens):
            self._number(numbers[0], entry.at)
            self._totals(tokens, numbers, entry.at)
            return
        tokens = self._ended(entry, tokens, numbers)
        if not tokens:
            return
        if self._growth(entry):
            return
        sources, rest, part = self._reference(tokens, numbers[0])
        if sources:
            self._number(numbers[0], entry.at)
            self._repeat(numbers, sources, entry, rest, part)
            return
        try:
            reading = self._settle(tokens)
            settled = reading.settled
            if not any(token.type in KINDS for token in settled.tokens) and (settled.doubtful or not settled.stated):
                token = settled.doubtful[0] if settled.doubtful else tokens[0]
                raise Unreadable(token.start_pos, *words.finding("no stitch", n=numbers[0]))
            if not any(token.type in KINDS or token.type == "RING" for token in settled.tokens):
                self._number(numbers[0], entry.at)  # "R5: in pink (24)"
                for offset, number in enumerate(numbers):
                    each = len(settled.stated) == len(numbers)
                    self._total(number, settled.stated[offset if each else -1], entry.at)
                return
        except Unreadable as error:
            self._number(numbers[0], entry.at)
            self._unreadable(entry, numbers[0], tokens, error)
            return
        self._number(numbers[0], entry.at)
        self._add(numbers, entry, tokens, reading)

    def _ended(self, entry: LabelledLine, tokens: list[Token], numbers: tuple[int, ...]) -> list[Token]:
        """Leave out "until it measures 5 cm", which says no number of rounds, and tell it."""
        begin, end = tokens[0].start_pos, tokens[-1].end_pos or tokens[-1].start_pos + len(tokens[-1])
        found = open_ended(self.text[begin:end])
        if not found:
            return tokens
        low, high = begin + found[0], begin + found[1]
        if len(numbers) == 1:
            self.find(low, *words.finding("no end"), "unread")
        return [token for token in tokens if not low <= token.start_pos < high]

    def _next(self) -> int:
        if self.rounds:
            return self.rounds[-1].round + 1
        return self.part.carried.rounds[-1].round + 1 if self.part.carried else 1

    def _number(self, number: int, at: int) -> None:
        """Check that round numbers follow each other."""
        if not self.rounds or number == self._next():
            return
        last = self.rounds[-1].round
        if number in {one.round for one in self.rounds}:
            kind = "again"
        elif number > last:
            kind = "one left out" if number == last + 2 else "several left out"
        else:
            kind = "late"
        told = any((finding.line, finding.column) == self.place(at) for finding in self.findings)
        if told and self.entries[self.index].listed:
            return  # "R5, R7, R9": that those between are missing is told once
        self.find(at, *words.finding(kind, n=number, last=last, next=last + 1, before=number - 1))

    def _below(self, number: int) -> int | None:
        """Stitches of the round below, None where they aren't known."""
        if not self.rounds:
            carried = self.part.carried
            return carried.rounds[-1].stitches if carried and number == carried.rounds[-1].round + 1 else None
        last = self.rounds[-1]
        total = last.stitches if last.stitches is not None else last.stated
        return total if total is not None else self.part.bridges or None

    # -------------------------------------------------------------- totals and growth

    def _total(self, number: int, total: int, at: int) -> None:
        if not 1 <= total <= MOST_STITCHES:
            self.find(at, *words.finding("impossible total", n=number, total=shown(str(total)), most=MOST_STITCHES))
            return
        used = self._below(number) if self.rounds else 0 if number == 1 else None
        line, column = self.place(at)
        self.rounds.append(PlanRound(number, total, used, (), (), "", total, line, column, self._main_before()))

    def _main_before(self) -> str:
        return self.rounds[-1].stitch if self.rounds else "sc"

    def _totals(self, tokens: Sequence[Token], numbers: tuple[int, ...], at: int) -> None:
        """Read a line of bare totals."""
        totals: list[tuple[int, int]] = []
        index = 0
        while index < len(tokens):
            token = tokens[index]
            if token.type not in ("NUM", "NUM_WORD"):
                index += 1
                continue
            often, taken = _often(tokens, index + 1)
            index += taken
            totals += [(whole_number(token), token.start_pos)] * often
            index += 1
            if len(totals) > MOST_ROUNDS:
                self.find(token.start_pos, *words.finding("many totals", most=MOST_ROUNDS))
                return
        if len(totals) == 1:
            totals *= len(numbers)
        for offset, (total, place) in enumerate(totals):
            number = numbers[offset] if offset < len(numbers) else numbers[-1] + offset - len(numbers) + 1
            self._total(number, total, place if len(totals) > len(numbers) else at)
        if len(numbers) > 1 and len(totals) != len(numbers):
            self.find(at, *words.finding("uneven totals", rounds=len(numbers), totals=len(totals)))

    def _growth(self, entry: LabelledLine) -> bool:
        """Read a growth rule: "start 6, add 6 each round up to 48, then 3 rounds even"."""
        phases: list[list[Token]] = [[]]
        for token in entry.tokens:
            if token.type == "AND" and token.lower() == "then":
                phases.append([])
            else:
                phases[-1].append(token)
        kinds = [token.type for token in phases[0]]
        starts, each = "STARTS" in kinds, "RND" in kinds
        if set(kinds) & NO_GROWTH or not set(kinds) & {"ADD", "TAKE", "INC", "DEC"}:
            return False
        if not starts and (set(kinds) & (KINDS - {"INC", "DEC"}) or not set(kinds) & {"ADD", "TAKE"}):
            return False
        if entry.numbers is not None and not (starts and each):
            return False
        rule = _growth_rule(phases[0])
        later = [_phase(tokens) for tokens in phases[1:] if any(token.type not in PARTS for token in tokens)]
        if rule is None or None in later:
            return False
        self._grow(entry, *rule)
        for step, count, limit in later:
            if not self.rounds or self.rounds[-1].stitches is None:
                break
            last = self.rounds[-1].stitches
            if step and limit is not None:
                count = (limit - last) // step
                if count < 1 or last + count * step != limit:
                    self.find(entry.at, *words.finding("no such growth", first=last, step=abs(step), limit=limit))
            for index in range(min(max(count, 0), MOST_ROUNDS)):
                self._total(self._next(), last + (index + 1) * step, entry.at)
        return True

    def _grown_on(self, entry: LabelledLine) -> bool:
        """Go on from the last round: "continue increasing 6 sts per round until you have 48 sts"."""
        kinds = [token.type for token in entry.tokens]
        start = self._below(self._next()) if self.rounds else None
        if start is None or not {"INC", "DEC"} & set(kinds) or set(kinds) & (KINDS - {"INC", "DEC"}):
            return False
        phase = _phase([token for token in entry.tokens if token.type not in ("OPEN", "CLOSE")])
        if phase is None or phase[2] is None or "RND" not in kinds:
            return False
        step, _, limit = phase
        count, left = divmod(limit - start, step)
        if left or not 1 <= count <= MOST_ROUNDS:
            self.find(entry.at, *words.finding("no such growth", first=start, step=abs(step), limit=limit))
            return True
        reading = self._settle(words_of(f"{'inc' if step > 0 else 'dec'} {abs(step)} evenly"))
        for index in range(count):
            own = replace(reading.settled, stated=(start + (index + 1) * step,), stated_at=entry.at)
            self._add((self._next(),), entry, (), _Reading(own, reading.items))
        return True

    def _grow(self, entry: LabelledLine, first: int, step: int, count: int | None, limit: int | None) -> None:
        number = entry.numbers[0] if entry.numbers else self._next()
        self._number(number, entry.at)
        count = self.growth_rounds if count is None else count
        if limit is not None and step:
            count = (limit - first) // step + 1
            if count < 1 or first + (count - 1) * step != limit:
                self.find(entry.at, *words.finding("no such growth", first=first, step=abs(step), limit=limit))
        for index in range(max(min(count, MOST_ROUNDS), 1)):
            total = first + index * step
            if not 1 <= total <= MOST_STITCHES:
                if index == 0 or step > 0:
                    self._total(number + index, total, entry.at)
                break
            self._total(number + index, total, entry.at)

    # -------------------------------------------------------------- instructions

    def _settle(self, tokens: Sequence[Token]) -> _Reading:
        """Settle and parse the words of a round, in the first way in which they can be read."""
        error = None
        ways = self._ways(tokens)
        for way in ways:
            if not isinstance(way, Unreadable):
                return _Reading(*way, ways)
            error = error or way
        raise error

    def _ways(self, tokens: Sequence[Token]) -> Iterator[tuple[Normalised, list] | Unreadable]:
        """The ways in which the words of a round can be read, the commonest first; what can't be read as an error."""
        self.spent += len(tokens)
        if len(tokens) > MOST_WORDS:
            yield Unreadable(tokens[0].start_pos, *words.finding("long round"))
            return
        flipped: list = []
        joins = bool(tokens) and joins_parts(self.words_at(tokens[0].start_pos, tokens[-1].start_pos + len(tokens[-1])))
        for own in (tokens, *variants(tokens)):
            try:
                settled = normalise(own)
            except Unreadable as error:
                yield error
                continue
            ways = [settled] if settled.short is None else [settled, settled.short]
            if settled.closing is not None:
                flipped.append((own, not settled.closing))
            for one in ways:
                try:
                    one.joins = joins
                    yield one, parse(one)
                except Unreadable as error:
                    yield error
            for other, closing in flipped:
                try:
                    one = normalise(other, closing)
                    one.joins = joins
                    yield one, parse(one)
                except Unreadable as error:
                    yield error
            flipped = []

    def _work(self, items: list, settled: Normalised, number: int, below: int | None, stated: int | None) -> Outcome:
        self.spent += len(settled.tokens)
        if self.spent > MOST_WORK:
            raise Unreadable(settled.stated_at, *words.finding("too much"))
        outcome = work_out(
            items,
            number=number,
            below=below,
            stated=stated,
            main=main_stitch(settled, self.uk, self._main_before()),
            uk=self.uk,
            unworked=settled.unworked,
            spaces=self.part.spaces,
            joins=settled.joins,
            chain_counts=next(
                (one for one in (self.chain_said, self.chain_counts, self.chain_was) if one is not None), False
            ),
        )
        self.spent += (outcome.made or 0) // 25 + 10 * len(settled.tokens) * bool(outcome.conflicts)
        return outcome

    def _ask_chain(self, entry: LabelledLine, settled: Normalised, items: list, number: int, outcome: Outcome) -> None:
        """Take up what a round says about its first chain, and ask where nothing tells whether it counts."""
        said = {token.type for token in settled.tokens} & {"COUNTS", "NOT_COUNTED"}
        if said:
            self.chain_said = "COUNTS" in said
        if outcome.chain and not outcome.conflicts:
            self.chain_was = True
        known = (self.chain_said, self.chain_counts, self.chain_was) != (None, None, None) or bool(settled.stated)
        if known or outcome.chain is not False or self.chain_asked or outcome.conflicts or outcome.made is None:
            return
        self.chain_was = True
        try:
            other = self._work(items, settled, number, self._below(number), None)
        except Unreadable:
            return
        finally:
            self.chain_was = None
        if other.chain and not other.conflicts and other.made not in (None, outcome.made):
            self.chain_asked = True
            self.find(entry.at, *words.finding("chain", n=number, made=outcome.made, more=other.made), "asked")

    def _add(self, numbers: tuple[int, ...], entry: LabelledLine, tokens: Sequence[Token], reading: _Reading) -> None:
        """Work out a round, or several alike, and take them up."""
        told = wrong_total = False
        self.read_tokens += tokens
        try:
            settled, items, *first = self._best(reading, numbers)
        except Unreadable as error:
            at = error.at or entry.at
            self._unreadable(entry, numbers[0], tokens or entry.tokens, Unreadable(at, error.what, error.fix))
            return
        stated = _for_each(settled.stated, numbers)
        for offset, number in enumerate(numbers):
            total = stated[offset] if len(stated) == len(numbers) else _last(stated)
            total = None if wrong_total and len(stated) == 1 else total  # the same slip is told once
            try:
                if offset == 0:
                    outcome, total = first
                else:
                    outcome, total = self._fitting(items, settled, number, total, offset, len(numbers), len(stated))
            except Unreadable as error:
                at = error.at or entry.at
                self._unreadable(entry, number, tokens, Unreadable(at, error.what, error.fix))
                return
            conflicts, self.part.mended = outcome.conflicts, None
            if conflicts and not told and self.spent <= MOST_WORK:
                conflicts, self.part.mended = mended(
                    outcome,
                    number=number,
                    below=self._below(number),
                    stated=total,
                    main=main_stitch(settled, self.uk, self._main_before()),
                    suits=self._suits(number) if len(numbers) == 1 else lambda total: None,
                    steady=self._steady(total),
                )
            if not outcome.text and outcome.made is None:
                error = Unreadable(entry.at, *words.finding("nothing said", n=number))
                self._unreadable(entry, number, tokens or entry.tokens, error)
                return
            if settled.lost or settled.doubtful and (conflicts or total is None):
                word = (settled.lost or settled.doubtful)[0]
                error = Unreadable(word.start_pos, *words.finding("strange word", word=shown(word)))
                self._unreadable(entry, number, tokens, error)
                return
            if not told:
                for conflict in conflicts:
                    at = settled.stated_at if conflict.total and settled.stated else conflict.at
                    at = entry.at if at is None or not tokens else at  # a repeated round's own words stand elsewhere
                    if _prose(tokens) and (self.part.mended is None or conflict.total):
                        # With words that aren't known it is the reader rather than the writer who is wrong.
                        said = words.finding("unclear", what=conflict.what, fix=conflict.fix)
                        self.find(at, *said, "unread")
                    else:
                        self.find(at, conflict.what, conflict.fix)
            if not told:
                wrong_total = any(conflict.total for conflict in conflicts)
            told = told or bool(conflicts)
            if offset == 0:
                self._ask_chain(entry, settled, items, number, outcome)
            self.part.bridges, self.part.spaces = outcome.bridges, outcome.spaces
            increases, decreases = outcome.shapings()
            line, column = self.place(entry.at)
            main = main_stitch(settled, self.uk, self._main_before())
            made = outcome.made if outcome.made is not None else total
            self.rounds.append(
                PlanRound(
                    number,
                    made,
                    outcome.used,
                    increases,
                    decreases,
                    outcome.text,
                    total,
                    line,
                    column,
                    main,
                    outcome.chain,
                )
            )
            self.part.sources[number] = (items, settled, main)

    def _best(self, reading: _Reading, numbers: tuple[int, ...]) -> tuple[Normalised, list, Outcome, int | None]:
        """The way to read a round that comes out, the commonest one where none does, and what it comes to."""
        first: tuple[Normalised, list, Outcome, int | None] | None = None
        problem: Unreadable | None = None
        for tried, way in enumerate(chain([(reading.settled, reading.items)], reading.others)):
            if tried > MOST_WAYS or self.spent > MOST_WORK:
                break
            if isinstance(way, Unreadable):
                continue
            settled, items = way
            stated = _for_each(settled.stated, numbers)
            total = stated[0] if len(stated) == len(numbers) else _last(stated)
            try:
                outcome, total = self._fitting(items, settled, numbers[0], total, 0, len(numbers), len(stated))
            except Unreadable as error:
                problem = problem or error
                continue
            here = settled, items, outcome, total
            first = first or here
            if outcome.conflicts or settled.doubtful and total is None or outcome.made is None and first is not here:
                continue
            if settled.stated or settled.short is None:
                return here
        if first is None:
            raise problem or Unreadable(0, *words.finding("too much"))
        return first

    def _fitting(self, items, settled, number, total, offset, count, totals) -> tuple[Outcome, int | None]:
        """Work a round out against the round below, or against what that may have been meant to hold."""
        below = self._below(number)
        outcome = self._work(items, settled, number, below, total)
        if below is None and count > 1 and totals == 1 and offset == 0 and None not in (outcome.made, outcome.used):
            start = total - (outcome.made - outcome.used) * count  # the total is the last round's
            if start > 0 and outcome.made != outcome.used:
                other = self._work(items, settled, number, start, None)
                if not other.conflicts:
                    return other, None
        if not outcome.conflicts:
            return outcome, total
        if count > 1 and totals == 1 and offset < count - 1:
            other = self._work(items, settled, number, below, None)  # "R2-5: inc 6 evenly (30)": the last has 30
            if not other.conflicts and other.made != other.used:
                return other, None
        for guess in self._other_belows(settled, number, below):
            other = self._work(items, settled, number, guess, total)
            if not other.conflicts:
                return other, total
        return outcome, total

    def _other_belows(self, settled: Normalised, number: int, below: int | None) -> Iterator[int | None]:
        """What the round below may have been meant to hold."""
        if settled.joins:
            yield None
        if not self.rounds:
            return
        last = self.rounds[-1]
        if last.stated is not None and last.stated != below:
            yield last.stated
        if self.part.mended is not None and self.part.mended != below:
            yield self.part.mended
        if self.part.bridges and below is not None:
            yield below + self.part.bridges
        if number != last.round + 1:  # a round may be missing, or one too many
            earlier = next((one for one in self.rounds if one.round == number - 1), None)
            yield from (earlier.stitches if earlier else None, None)

    def _steady(self, total: int | None) -> bool:
        """Whether a total grows by as much as the round below did."""
        last = [one.stitches for one in self.rounds[-2:]]
        return total is not None and len(last) == 2 and None not in last and total - last[1] == last[1] - last[0] != 0

    def _suits(self, number: int) -> Suits:
        """Whether the round after a number can be worked over a total; None where nothing tells."""
        following = next((entry for entry in self.entries[self.index + 1 :][:6] if entry.numbers or entry.row), None)
        if following is None or following.row or following.problem or following.numbers != (number + 1,):
            return lambda total: None
        if _is_bare(following.tokens) or len(following.tokens) > MOST_AHEAD or self.spent > MOST_WORK // 2:
            return lambda total: None
        try:
            reading = self._settle(following.tokens)
        except Unreadable:
            return lambda total: None
        stated = _last(reading.settled.stated)
        known: dict[int, bool | None] = {}

        def suits(total: int) -> bool | None:
            if total not in known:
                try:
                    outcome = self._work(reading.items, reading.settled, number + 1, total, stated)
                    # A round without a total that only goes around fits everything.
                    tells = stated is not None or "around" not in outcome.text
                    known[total] = not outcome.conflicts if tells and not outcome.start else None
                except Unreadable:
                    known[total] = None
            return known[total]

        return suits

    def _unreadable(self, entry: LabelledLine, number: int, tokens: Sequence[Token], error: Unreadable) -> None:
        """Take a round up that can't be read, with the total that was written for it."""
        self.find(error.at or entry.at, error.what, error.fix, "unread")
        stated, end = _salvage(tokens)
        raw = in_terms(" ".join(self.text[tokens[0].start_pos : end].split())[:200], self.uk, False)
        line, column = self.place(entry.at)
        for one in range(number, number + max(len(entry.numbers or ()), 1)):
            self.rounds.append(PlanRound(one, stated, None, (), (), raw, stated, line, column, self._main_before()))

    def _reference(self, tokens: Sequence[Token], number: int) -> tuple[tuple[int, ...], Sequence[Token], _Part | None]:
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
                for one in reversed(self.parts)
                if one.sources and {word.removesuffix("s") for word in one.name.lower().split()} & said
            ),
            None,
        )
        if part is self.part and self.heading is None:
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
            return numbers, tokens[end:], part
        if set(kinds[:at]) & {"LAST", "PREVIOUS"}:
            return (number - 1,), tokens[at + 1 :], part
        return none

    def _again(self, entry: LabelledLine) -> bool:
        """Read a line without a label that repeats rounds: "repeat rounds 3 and 4 twice", "as for the head"."""
        sources, rest, part = self._reference(entry.tokens, self._next())
        kinds = [token.type for token in entry.tokens]
        if not sources or part is None and (not self.rounds or "FOR" in kinds or "REPEAT" not in kinds):
            return False
        text = " ".join(entry.tokens)
        if open_ended(text):
            self.find(entry.at, *words.finding("no end"), "unread")
            return True
        if part is not None and "RND" not in kinds:
            sources = tuple(sorted(part.sources))
        times = 1
        for index, token in enumerate(rest):
            if (
                token.type == "TWICE"
                or (
                    token.type in ("NUM", "NUM_WORD")
                    and rest[index + 1 :][:1]
                    and rest[index + 1].type in ("MORE", "TIMES_WORD")
                )
                or token.type == "NUM"
                and index
                and rest[index - 1].type == "X"
            ):
                times = whole_number(token)
        if not 1 <= times * len(sources) <= MOST_ROUNDS:
            self.find(entry.at, *words.finding("high number", n=times * len(sources), most=MOST_ROUNDS), "unread")
            return True
        self._begin_piece(entry, part is not None and bool(self.rounds) and self.heading is not None)
        first = self._next()
        self._repeat(tuple(range(first, first + times * len(sources))), sources, entry, rest, part)
        return True

    def _repeat(
        self,
        numbers: tuple[int, ...],
        sources: tuple[int, ...],
        entry: LabelledLine,
        tokens: Sequence[Token],
        part: _Part | None,
    ) -> None:
        """Carry out "repeat round 5"."""
        part = part or self.part
        kinds = [token.type for token in tokens]
        if part is not self.part and sources == (numbers[0],) and len(numbers) > 1:
            sources = numbers  # "Rnds 1-6: as for the head"
        change = next((token for token in tokens if token.type in ("INC", "DEC")), None)
        try:
            stated = normalise([token for token in tokens if token is not change]).stated
        except Unreadable:
            stated = ()
        if change is not None:
            said = next((whole_number(token) for token in tokens if token.type in ("NUM", "NUM_WORD")), None)
            text = f"{'inc' if change.type == 'INC' else 'dec'} {said} evenly"
            try:
                reading = self._settle(words_of(text))
            except Unreadable:
                reading = None
            if said and reading and kinds.index(change.type) < len(kinds):
                for number in numbers:
                    own = replace(reading.settled, stated=stated[-1:], stated_at=entry.at)
                    self._add((number,), entry, (), _Reading(own, reading.items))
                return
        for offset, number in enumerate(numbers):
            source = sources[offset % len(sources)]
            known = part.sources.get(source)
            line, column = self.place(entry.at)
            total = stated[offset] if len(stated) == len(numbers) else stated[-1] if stated else None
            if len(stated) == 1 and offset < len(numbers) - 1:
                total = None  # the total is the last one's, unless all are alike
            if known is None:
                model = next((one for one in part.rounds if one.round == source), None)
                if model is None:
                    self.find(entry.at, *words.finding("no source", n=source))
                held = total if total is not None else model.stitches if model else None
                used = self._below(number) if model else None
                self.rounds.append(PlanRound(number, held, used, (), (), "", total, line, column, self._main_before()))
                continue
            items, settled, _ = known
            own = Normalised(settled.tokens, () if total is None else (total,), entry.at, unworked=settled.unworked)
            self._add((number,), entry, (), _Reading(own, items))

    # -------------------------------------------------------------- terms

    def _terms(self) -> None:
        """Tell a text that is read in the wrong terms."""
        said = [(token, token.lower()) for token in self.read_tokens if token.type in ("STITCH", "TOG", "SKIP")]
        us = [
            token
            for token, word in said
            if word.startswith(("sc", "hdc", "single", "half double", "fpsc", "bpsc", "fphdc"))
        ]
        if self.uk:
            if us:
                self.find(us[0].start_pos, *words.finding("US term", word=shown(us[0])))
            return
        uk = [token for token, word in said if word.startswith(("htr", "half treble", "half-treble"))]
        miss = [token for token, word in said if word.startswith("miss")]
        if uk or miss and not us:
            token = (uk or miss)[0]
            self.find(token.start_pos, *words.finding("UK term", word=shown(token)))


# ------------------------------------------------------------------ what a line is


def _for_each(stated: tuple[int, ...], numbers: tuple[int, ...]) -> tuple[int, ...]:
    """The totals of rounds written together: one for all, or one for each."""
    return stated if len(stated) in (1, len(numbers)) else stated[-1:]


def _prose(tokens: Sequence[Token]) -> bool:
    """Whether instructions hold words that are neither stitches nor among those that makers put beside them."""
    return any(token.type == "WORD" and token.lower() not in BESIDE and len(token) > 1 for token in tokens)


def _names_a_round(tokens: Sequence[Token]) -> bool:
    """Whether a line without a label speaks of rounds by their numbers."""
    return any(
        token.type == "RND" and after.type in ("NUM", "NUM_WORD") and (not at or tokens[at - 1].lower() != "of")
        for at, (token, after) in enumerate(pairwise(tokens))
    )


def _last(values: Sequence[int]) -> int | None:
    return values[-1] if values else None


def _is_bare(tokens: Sequence[Token]) -> bool:
    """Whether a line holds nothing but totals."""
    kinds = {token.type for token in tokens if token.type not in ("NOISE", "OTHER")}
    return kinds <= BARE and bool(kinds & {"NUM", "NUM_WORD"})


def _often(tokens: Sequence[Token], at: int) -> tuple[int, int]:
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


def _may_be_round(tokens: Sequence[Token]) -> bool:
    """Whether what follows a bare number can be a round: it names a stitch, or is a total and nothing else."""
    if _is_bare(tokens):
        return True
    kinds = [token.type for token in tokens]
    return any(kind in KINDS or kind in ("RING", "EVEN") for kind in kinds) or "REPEAT" in kinds and "RND" in kinds


def _growth_rule(tokens: Sequence[Token]) -> tuple[int, int, int | None, int | None] | None:
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


def _phase(tokens: Sequence[Token]) -> tuple[int, int, int | None] | None:
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


def _set_ups(entries: list[LabelledLine]) -> list[LabelledLine]:
    """Take the chain or ring that is made ahead of a first round to that round."""
    out: list[LabelledLine] = []
    for entry in entries:
        before = out[-1] if out else None
        if (
            entry.numbers == (1,)
            and not entry.row
            and not entry.problem
            and before is not None
            and before.numbers is None
            and not before.row
            and set_up(before.tokens)
            and len(before.tokens) < 60
            and not _is_bare(entry.tokens)
        ):
            comma = Token("SEP", ",", start_pos=entry.at, end_pos=entry.at)
            out[-1] = replace(entry, tokens=[*before.tokens, comma, *entry.tokens])
            continue
        out.append(entry)
    return out


def _rounds_called_rows(entries: list[LabelledLine]) -> list[LabelledLine]:
    """Take rows for rounds where nothing is turned and the text says that it goes around."""
    rows = [entry for entry in entries if entry.row]
    said = {token.type for entry in rows for token in entry.tokens}
    around = any(token.type in ("RING", "RND") or token.lower() == "around" for entry in rows for token in entry.tokens)
    if not around or "TURN" in said:
        return entries
    return [replace(entry, row=False) for entry in entries]


def _in_order(entries: list[LabelledLine]) -> list[LabelledLine]:
    """Put rounds that are told out of turn ("R5, R7, R9: ...", "R6, R8: ...") where they are worked."""
    gaps = [entry for entry in entries if entry.numbers and entry.numbers[-1] - entry.numbers[0] >= len(entry.numbers)]
    if not gaps:
        return entries
    out: list[LabelledLine] = []
    for entry in entries:
        if not entry.numbers or entry not in gaps:
            out.append(entry)
            continue
        out += [replace(entry, numbers=(number,), listed=True) for number in entry.numbers]
    runs: list[list[LabelledLine]] = [[]]
    for entry in out:  # up to where the count begins again
        if entry.numbers and entry.numbers[0] == 1 and any(one.numbers for one in runs[-1]):
            runs.append([])
        runs[-1].append(entry)
    for run in runs:
        places = [at for at, entry in enumerate(run) if entry.numbers]
        ordered = sorted((run[at] for at in places), key=lambda entry: entry.numbers[0])
        for at, entry in zip(places, ordered, strict=True):
            run[at] = entry
    return [entry for run in runs for entry in run]


def _names(parts: Sequence[_Part]) -> list[str]:
    """A name of its own for each piece."""
    if len(parts) == 1:
        return [parts[0].name if parts[0].sure else ""]
    names: list[str] = []
    for number, part in enumerate(parts, 1):
        name = part.name or words.PIECE_N.format(n=number)
        again = 1
        while name.lower() in (own.lower() for own in names):
            again += 1
            name = f"{part.name or words.PIECE_N.format(n=number)} {again}"
        names.append(name)
    return names


def _for_rounds(tokens: Sequence[Token], labelled: bool) -> tuple[int, list[Token]]:
    """Take "for 3 rounds" or "3 rounds" off a line; return how many rounds it says, and the rest.

    Behind a label only "for" makes more rounds of one; "(3 rounds)" is a remark there.
    """
    tokens = list(tokens)
    for index in range(len(tokens) - 1):
        if tokens[index].type not in ("NUM", "NUM_WORD") or tokens[index + 1].type != "RND":
            continue
        if index + 2 < len(tokens) and tokens[index + 2].type in ("NUM", "NUM_WORD"):
            continue  # "... 24, round 5 ..."
        start = index
        while start and tokens[start - 1].type in ("NOISE", "NEXT"):
            start -= 1
        said = start > 0 and tokens[start - 1].type in ("FOR", "X")
        count = whole_number(tokens[index]) if said or not labelled else 1
        if 1 <= count <= MOST_ROUNDS:
            return count, tokens[: start - said] + tokens[index + 2 :]
    return 1, tokens


def _salvage(tokens: Sequence[Token]) -> tuple[int | None, int]:
    """Return the last total of a round that can't be read, and where its instructions end: at a total that is last."""
    end = tokens[-1].end_pos or tokens[-1].start_pos + len(tokens[-1])
    for index in range(len(tokens) - 1, 0, -1):
        if tokens[index].type != "NUM" or whole_number(tokens[index]) > MOST_STITCHES:
            continue
        before = tokens[index - 1]
        after = [token.type for token in tokens[index + 1 : index + 4]]
        closed = 1 if after[:1] == ["CLOSE"] else 2 if after[:2] in (["ST", "CLOSE"], ["STITCH", "CLOSE"]) else 0
        rest = tokens[index + 1 + closed :]
        last = all(token.type in PARTS for token in rest)
        if before.type == "OPEN" and closed or before.type == "EQ" and last and not closed:
            return whole_number(tokens[index]), before.start_pos if last else end
    return None, end
