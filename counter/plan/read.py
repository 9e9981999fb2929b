"""A written plan, read round after round, each against the one below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lark import Token

from counter.basics import words
from counter.plan.labels import LabelledLine, split
from counter.plan.language import translate
from counter.plan.leftover import left_over
from counter.plan.lines import Heading, glossary, heading_of, needs_an_answer, open_ended, remark_of
from counter.plan.mend import mended
from counter.plan.normalise import normalise
from counter.plan.order import (
    for_rounds,
    has_prose,
    in_order,
    is_count,
    may_be_round,
    names_a_round,
    not_repeated,
    only_counts,
    rounds_called_rows,
    salvaged,
    set_apart,
    shaped_in_ring,
    with_set_ups,
)
from counter.plan.pieces import Part, names_of
from counter.plan.places import Places
from counter.plan.repeats import how_often_again, referred
from counter.plan.reworded import Reworded
from counter.plan.settled import Normalised
from counter.plan.sizes import Sizes, choose_size
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
    place_of,
    plain,
    shown,
    whole_number,
    words_of,
)
from counter.plan.totals import (
    NO_GROWTH,
    growth_phase,
    growth_phases,
    growth_rule,
    how_often,
    is_bare,
    second_total,
)
from counter.plan.values import Finding, Plan, PlanLine, PlanPiece, PlanRound
from counter.plan.variants import variants
from counter.plan.wording import own_lines, reword, say_letters
from counter.plan.working import MOST_WORK, Reading, Working, for_each, last_of

__all__ = ["read_plan"]


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
    places = Places(text)
    if len(text) > MOST_CHARACTERS:
        return places.nothing(0, *words.finding("too long", n=len(text), most=MOST_CHARACTERS))
    if "\0" in text:
        return places.nothing(text.index("\0"), *words.finding("no text"))
    places.source = plain(text)
    deep = deepest(places.source)
    if deep is not None:
        return places.nothing(deep, *words.finding("deep", most=MOST_NESTED_BRACKETS))
    said = places.reworded = Reworded(places.source)
    own_lines(said)
    say_letters(said)
    language = translate(said)
    sizes = choose_size(said, size)
    reword(said)
    uk = uk and language == "en"  # the lists of other languages say stitches in US terms
    reader = _Reader(places, language, sizes, uk, rounds, chain_counts)
    return reader.read(split(words_of(said.text)), piece, size)


class _Reader:
    """Reads the entries of one text in turn."""

    def __init__(
        self,
        places: Places,
        language: str,
        sizes: Sizes | None,
        uk: bool,
        growth_rounds: int,
        chain_counts: bool | None,
    ) -> None:
        self.places, self.language, self.sizes = places, language, sizes
        self.text = places.reworded.text if places.reworded else places.source
        self.uk, self.growth_rounds = uk, growth_rounds
        self.working = Working(places, Part(), uk, chain_counts)
        self.parts = [self.part]
        self.lines: dict[int, PlanLine] = {}
        #: The heading that the next round may begin a piece under.
        self.heading: tuple[Heading, int] | None = None
        self.read_tokens: list[Token] = []
        self.rows = False
        self.entries: list[LabelledLine] = []
        self.index = 0

    @property
    def part(self) -> Part:
        """The piece that is being read."""
        return self.working.part

    @property
    def rounds(self) -> list[PlanRound]:
        """Rounds of the piece that is being read."""
        return self.part.rounds

    # -------------------------------------------------------------- entries

    def read(self, entries: list[LabelledLine], piece: str | None = None, size: str | None = None) -> Plan:
        """Read all entries."""
        if self.sizes and not self.sizes.known:
            names = ", ".join(self.sizes.names)
            if size is not None:
                self.places.find(0, *words.finding("no size", size=shown(size), sizes=names), "asked")
            first = self.sizes.names[self.sizes.chosen]
            self.places.findings.append(
                Finding(
                    *self.places.at_source(self.sizes.at),
                    *words.finding("which size", sizes=names, size=first),
                    "asked",
                )
            )
        self.entries = entries = in_order(with_set_ups(rounds_called_rows(entries)))
        labelled = [entry for entry in entries if entry.numbers and not entry.weak and not entry.row]
        self.labels = bool(labelled) or any(
            entry.weak and any(token.type in KINDS for token in entry.tokens) for entry in entries
        )
        written = any(token.type in KINDS or token.type == "RING" for entry in labelled for token in entry.tokens)
        self.bare = not written
        self.counts_only = only_counts(entries)
        self.working.unrepeated = sum(not_repeated(entry) + set_apart(entry) for entry in entries) > 1
        for index, entry in enumerate(entries):
            if self.places.over or self.working.spent > MOST_WORK:
                break
            self.index = index
            self.ahead = next((later.numbers[0] for later in entries[index + 1 :][:20] if later.numbers), None)
            rounds, findings = self._far(), len(self.places.findings)
            self._entry(entry)
            self._account(entry, self._far() - rounds, len(self.places.findings) > findings)
        self._terms()
        parts = [part for part in self.parts if part.rounds]
        if not parts and not self.places.findings:
            return self.places.nothing(0, *words.finding("no round"))
        if self.working.spent > MOST_WORK:
            return self.places.nothing(0, *words.finding("too much"))
        chosen = self._chosen(parts, piece)
        self.places.findings.sort(key=lambda finding: (finding.line, finding.column))
        if self.places.over:
            last = self.places.findings[-1]
            self.places.findings.append(Finding(last.line, last.column, *words.finding("more"), "unread"))
        pieces = tuple(
            PlanPiece(name, part.make, tuple(part.rounds), self.places.place(part.at)[0])
            for part, name in zip(parts, names_of(parts), strict=True)
        )
        return Plan(
            pieces[chosen or 0].rounds if pieces else (),
            tuple(self.places.findings),
            pieces,
            None if chosen is None else pieces[chosen].name,
            self.sizes.names if self.sizes else (),
            self.sizes.names[self.sizes.chosen] if self.sizes and self.sizes.known else None,
            lines=tuple(self.lines[line] for line in sorted(self.lines)),
            language=self.language,
        )

    def _chosen(self, parts: list[Part], piece: str | None) -> int | None:
        """Which piece is wanted, None without a choice."""
        if piece is None or not parts:
            return None
        names = names_of(parts)
        low = [name.lower() for name in names]
        if piece.strip().lower() in low:
            return low.index(piece.strip().lower())
        if piece.strip().isdigit() and 1 <= int(piece) <= len(parts):
            return int(piece) - 1
        known = ", ".join(name or str(number) for number, name in enumerate(names, 1))
        self.places.find(0, *words.finding("no piece", piece=shown(piece), pieces=known), "asked")
        return None

    def _far(self) -> int:
        return sum(len(part.rounds) for part in self.parts)

    def _account(self, entry: LabelledLine, rounds: int, found: bool) -> None:
        """Note what the lines of an entry were taken for."""
        numbers = tuple(one.round for one in self.part.rounds[-rounds:]) if rounds else ()
        what = "round" if numbers else "finding" if found else "remark"
        begin, end = self._line_of(entry)
        text = self.places.lines(begin, end)
        heading = self._heading(entry, text)
        remark = "" if what != "remark" else remark_of(text, entry.tokens, heading)
        for line in sorted({begin, end, *(self.places.place(place_of(token))[0] for token in entry.tokens)}):
            before = self.lines.get(line)
            if before is not None and before.what == "round":
                self.lines[line] = PlanLine(line, "round", "", before.rounds + numbers)
            elif before is None or before.what == "remark" or what == "round":
                self.lines[line] = PlanLine(line, what, remark, numbers)
        if what == "remark" and heading is not None:
            self.heading = heading, entry.at

    def _line_of(self, entry: LabelledLine) -> tuple[int, int]:
        begin = self.places.place(entry.at)[0]
        return begin, self.places.place(place_of(entry.tokens[-1]))[0] if entry.tokens else begin

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
            self.places.find(entry.problem.at, entry.problem.what, entry.problem.fix, "unread")
        elif entry.numbers is None:
            self._without_label(entry)
        else:
            self._with_label(entry)

    def _row(self, entry: LabelledLine) -> None:
        if not self.rows:
            self.places.find(entry.at, *words.finding("rows"), "unread")
        self.rows = True

    def _begin_piece(self, entry: LabelledLine, restarts: bool) -> None:
        """Begin another piece where the count begins again, or a heading surely names one."""
        heading, at = self.heading or (None, entry.at)
        if not self.rounds:
            if heading is not None:
                self.part.name, self.part.make, self.part.at = heading.name, heading.make, at
                self.part.sure, self.part.whole = heading.sure, heading.whole
            elif not self.part.at:
                self.part.at = entry.at
        elif restarts or heading is not None and heading.sure and not self.part.whole:
            before = self.part
            self.working.part = Part(heading.name if heading else "", heading.make if heading else 1, at)
            self.part.sure = heading is not None and heading.sure
            self.part.whole = heading is not None and heading.whole
            self.part.carried = None if restarts else before
            self.parts.append(self.part)
        self.heading = None

    def _without_label(self, entry: LabelledLine) -> None:
        tokens = entry.tokens
        rounds, findings = self._far(), len(self.places.findings)
        begin, end = self._line_of(entry)
        text = self.places.lines(begin, end)
        if self._heading(entry, text) is not None:
            return
        kinds = {token.type for token in tokens}
        if {"COUNT_WORD", "CHAIN"} <= kinds:  # "Ch 3 counts as a dc throughout"
            self.working.chain_said = "NOT" not in kinds
        if is_bare(tokens) and (self.bare or self._leads_up(tokens)):
            self._begin_piece(entry, False)
            self._totals(tokens, (self.part.next,), entry.at)
        elif self.bare and self._growth(entry) or self._again(entry) or self._grown_on(entry):
            pass
        elif not glossary(tokens) and any(token.type in KINDS or token.type in ("EVEN", "RING") for token in tokens):
            if open_ended(text) and needs_an_answer(text, tokens):
                self.places.find(entry.at, *words.finding("no end"), "unread")
                return
            self._loose(entry)
            done = self._far() > rounds or len(self.places.findings) > findings
            if not done and needs_an_answer(text, tokens):
                self.places.find(entry.at, *words.finding("line unused"), "unread")

    def _leads_up(self, tokens: Sequence[Token]) -> bool:
        """Whether bare totals ahead of a labelled round are those of the rounds up to it: "6, 12, 18" ahead of R4."""
        totals = sum(token.type == "NUM" for token in tokens)
        return totals > 1 and self.ahead == self.part.next + totals

    def _loose(self, entry: LabelledLine) -> None:
        """Read a line without a label if it can only be a round."""
        # Sentences that only remark something are left out.
        clear = [own for own in variants(entry.tokens) if not any(token.type == "WORD" for token in own)]
        count, tokens = for_rounds(clear[0] if clear else entry.tokens, False)
        starts = any(token.type in ("RING", "HOOK") for token in tokens)
        if self.rounds and starts and self.heading is not None:
            self._begin_piece(entry, True)
        number = self.part.next
        if self.labels and self.ahead == number or names_a_round(tokens):
            return
        prose = any(token.type == "WORD" for token in tokens)
        strong = any(
            token.type in ("FILL", "X", "TIMES_WORD", "TWICE", "TO_LAST", "STAR", "EACH", "EVEN") for token in tokens
        )
        strong = strong or count > 1
        starts = starts and not self.rounds
        try:
            reading = self.working.settle(tokens)
            settled = reading.settled
            lost = shaped_in_ring(settled.tokens)
            if lost is not None:
                error = Unreadable(place_of(lost), *words.finding("unreadable", word=shown(str(lost))))
                self._unreadable(entry, number, tokens, error)
                return
            below = self.part.below(number)
            outcome = self.working.work(reading.items, settled, number, below, last_of(settled.stated))
        except Unreadable as error:
            if not prose and strong and not self.labels:
                self._unreadable(entry, number, tokens, error)
            return
        stated = last_of(settled.stated)
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
        numbers = entry.numbers or (self.part.next,)
        if entry.weak and not may_be_round(entry.tokens):
            due = numbers[0] == self.part.next and bool(self.rounds)
            if not due or not entry.tokens or salvaged(entry.tokens)[0] is None:
                return  # an item of a list; but one that carries the count on and states a total is a round
        last = self.rounds[-1].round if self.rounds else None
        restarts = last is not None and numbers[0] == 1 and (last > 1 or self.heading is not None)
        restarts = (
            restarts or last is not None and numbers[0] <= last and self.heading is not None and self.heading[0].sure
        )
        self._begin_piece(entry, restarts)
        numbers = entry.numbers or (self.part.next,)
        count, tokens = for_rounds(entry.tokens, True)
        if len(numbers) == 1 and count > 1:
            numbers = tuple(range(numbers[0], numbers[0] + count))
        if not tokens:
            self.places.find(entry.at, *words.finding("nothing said", n=numbers[0]), "unread")
            return
        if is_bare(tokens):
            self._bare(entry, tokens, numbers)
            return
        tokens = self._ended(entry, tokens, numbers)
        if not tokens:
            return
        if self.counts_only and is_count(tokens) and whole_number(tokens[0]) != self.part.below(numbers[0]):
            self._bare(entry, tokens[:1], numbers)  # "R1: 6 sc, R2: 12 sc, R3: 18 sc"
            return
        if self._growth(entry):
            return
        sources, rest, part = referred(tokens, numbers[0], self.parts, self._current())
        if sources:
            self._number(numbers[0], entry.at)
            self._repeat(numbers, sources, entry, rest, part)
            return
        self._instructions(entry, tokens, numbers)

    def _bare(self, entry: LabelledLine, tokens: list[Token], numbers: tuple[int, ...]) -> None:
        """Read a label with nothing but totals behind it."""
        self._number(numbers[0], entry.at)
        below = self.part.below(numbers[0])
        if tokens[0].type == "ADD" and below is not None:  # "R5: +6 (30)"
            held = [whole_number(token) for token in tokens if token.type in ("NUM", "NUM_WORD")]
            if len(numbers) > 1 or len(held) > 2 or held[1:] not in ([], [below + held[0]]):
                self.places.find(entry.at, *words.finding("two totals", n=numbers[0]), "unread")
            self._total(numbers[0], held[1] if held[1:] else below + held[0], entry.at)
            return
        if len(numbers) == 1 and (second := second_total(tokens)):
            if whole_number(tokens[second + 1]) != whole_number(tokens[0]):
                self.places.find(entry.at, *words.finding("two totals", n=numbers[0]), "unread")
            tokens = tokens[:second]
        self._totals(tokens, numbers, entry.at)

    def _instructions(self, entry: LabelledLine, tokens: list[Token], numbers: tuple[int, ...]) -> None:
        """Read what stands behind a label, where it is more than totals."""
        try:
            reading = self.working.settle(tokens)
            settled = reading.settled
            if not any(token.type in KINDS for token in settled.tokens) and (settled.doubtful or not settled.stated):
                token = settled.doubtful[0] if settled.doubtful else tokens[0]
                raise Unreadable(place_of(token), *words.finding("no stitch", n=numbers[0]))
            lost = shaped_in_ring(settled.tokens)
            if lost is not None:
                raise Unreadable(place_of(lost), *words.finding("unreadable", word=shown(str(lost))))
            again = next((token for token in settled.tokens if token.type == "TIMES"), None)
            works = any(token.type in KINDS or token.type in ("RING", "EVEN") for token in settled.tokens)
            if again is not None and not works:
                raise Unreadable(again.start_pos or 0, *words.finding("nothing repeated"))
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
        begin, end = place_of(tokens[0]), tokens[-1].end_pos or place_of(tokens[-1]) + len(tokens[-1])
        found = open_ended(self.text[begin:end])
        if not found:
            return tokens
        low, high = begin + found[0], begin + found[1]
        if len(numbers) == 1:
            self.places.find(low, *words.finding("no end"), "unread")
        return [token for token in tokens if not low <= place_of(token) < high]

    def _number(self, number: int, at: int) -> None:
        """Check that round numbers follow each other."""
        if not self.rounds or number == self.part.next:
            return
        last = self.rounds[-1].round
        if number in {one.round for one in self.rounds}:
            kind = "again"
        elif number > last:
            kind = "one left out" if number == last + 2 else "several left out"
        else:
            kind = "late"
        told = any((finding.line, finding.column) == self.places.place(at) for finding in self.places.findings)
        if told and self.entries[self.index].listed:
            return  # "R5, R7, R9": that those between are missing is told once
        self.places.find(at, *words.finding(kind, n=number, last=last, next=last + 1, before=number - 1))

    # -------------------------------------------------------------- totals and growth

    def _total(self, number: int, total: int, at: int) -> None:
        if not 1 <= total <= MOST_STITCHES:
            self.places.find(
                at, *words.finding("impossible total", n=number, total=shown(str(total)), most=MOST_STITCHES)
            )
            return
        used = self.part.below(number) if self.rounds else 0 if number == 1 else None
        line, column = self.places.place(at)
        self.rounds.append(PlanRound(number, total, used, (), (), "", total, line, column, self.part.main))

    def _totals(self, tokens: Sequence[Token], numbers: tuple[int, ...], at: int) -> None:
        """Read a line of bare totals."""
        totals: list[tuple[int, int]] = []
        index = 0
        while index < len(tokens):
            token = tokens[index]
            if token.type not in ("NUM", "NUM_WORD"):
                index += 1
                continue
            often, taken = how_often(tokens, index + 1)
            index += taken
            totals += [(whole_number(token), place_of(token))] * often
            index += 1
            if len(totals) > MOST_ROUNDS:
                self.places.find(place_of(token), *words.finding("many totals", most=MOST_ROUNDS))
                return
        if len(totals) == 1:
            totals *= len(numbers)
        for offset, (total, place) in enumerate(totals):
            number = numbers[offset] if offset < len(numbers) else numbers[-1] + offset - len(numbers) + 1
            self._total(number, total, place if len(totals) > len(numbers) else at)
        if len(numbers) > 1 and len(totals) != len(numbers):
            self.places.find(at, *words.finding("uneven totals", rounds=len(numbers), totals=len(totals)))

    def _growth(self, entry: LabelledLine) -> bool:
        """Read a growth rule: "start 6, add 6 each round up to 48, then 3 rounds even"."""
        phases, held = growth_phases(entry.tokens)
        kinds = [token.type for token in phases[0]]
        starts, each = "STARTS" in kinds, "RND" in kinds
        if set(kinds) & NO_GROWTH or not set(kinds) & {"ADD", "TAKE", "INC", "DEC"}:
            return False
        if not starts and (set(kinds) & (KINDS - {"INC", "DEC"}) or not set(kinds) & {"ADD", "TAKE"}):
            return False
        if entry.numbers is not None and not (starts and each):
            return False
        rule = growth_rule(phases[0])
        phased = [growth_phase(tokens) for tokens in phases[1:] if any(token.type not in PARTS for token in tokens)]
        later = [phase for phase in phased if phase is not None]
        if rule is None or len(later) < len(phased):
            return False
        first, step, count, limit = rule
        if count is None and limit is None and entry.numbers is not None and len(entry.numbers) > 1:
            count = len(entry.numbers)  # "Rounds 1 to 5: start with 6, add 6 every round (30)"
            if held is not None and held != first + (count - 1) * step:
                self.places.find(entry.at, *words.finding("no such growth", first=first, step=abs(step), limit=held))
        self._grow(entry, first, step, count, held if count is None and limit is None else limit)
        for step, count, limit in later:
            if not self.rounds or self.rounds[-1].stitches is None:
                break
            last = self.rounds[-1].stitches
            if step and limit is not None:
                count = (limit - last) // step
                if count < 1 or last + count * step != limit:
                    self.places.find(
                        entry.at, *words.finding("no such growth", first=last, step=abs(step), limit=limit)
                    )
            for index in range(min(max(count, 0), MOST_ROUNDS)):
                self._total(self.part.next, last + (index + 1) * step, entry.at)
        return True

    def _grown_on(self, entry: LabelledLine) -> bool:
        """Go on from the last round: "continue increasing 6 sts per round until you have 48 sts"."""
        kinds = [token.type for token in entry.tokens]
        start = self.part.below(self.part.next) if self.rounds else None
        if start is None or not {"INC", "DEC"} & set(kinds) or set(kinds) & (KINDS - {"INC", "DEC"}):
            return False
        phase = growth_phase([token for token in entry.tokens if token.type not in ("OPEN", "CLOSE")])
        if phase is None or phase[2] is None or "RND" not in kinds:
            return False
        step, limit = phase[0], phase[2]
        count, left = divmod(limit - start, step)
        if left or not 1 <= count <= MOST_ROUNDS:
            self.places.find(entry.at, *words.finding("no such growth", first=start, step=abs(step), limit=limit))
            return True
        reading = self.working.settle(words_of(f"{'inc' if step > 0 else 'dec'} {abs(step)} evenly"))
        for index in range(count):
            own = replace(reading.settled, stated=(start + (index + 1) * step,), stated_at=entry.at)
            self._add((self.part.next,), entry, (), Reading(own, reading.items))
        return True

    def _grow(self, entry: LabelledLine, first: int, step: int, count: int | None, limit: int | None) -> None:
        number = entry.numbers[0] if entry.numbers else self.part.next
        self._number(number, entry.at)
        count = self.growth_rounds if count is None else count
        if limit is not None and step:
            count = (limit - first) // step + 1
            if count < 1 or first + (count - 1) * step != limit:
                self.places.find(entry.at, *words.finding("no such growth", first=first, step=abs(step), limit=limit))
        for index in range(max(min(count, MOST_ROUNDS), 1)):
            total = first + index * step
            if not 1 <= total <= MOST_STITCHES:
                if index == 0 or step > 0:
                    self._total(number + index, total, entry.at)
                break
            self._total(number + index, total, entry.at)

    # -------------------------------------------------------------- instructions

    def _following(self) -> LabelledLine | None:
        """The next line that is labelled."""
        return next((entry for entry in self.entries[self.index + 1 :][:6] if entry.numbers or entry.row), None)

    def _add(self, numbers: tuple[int, ...], entry: LabelledLine, tokens: Sequence[Token], reading: Reading) -> None:
        """Work out a round, or several alike, and take them up."""
        told = wrong_total = False
        self.read_tokens += tokens
        try:
            settled, items, outcome, told_total = self.working.best(reading, numbers)
        except Unreadable as error:
            at = error.at or entry.at
            self._unreadable(entry, numbers[0], tokens or entry.tokens, Unreadable(at, error.what, error.fix))
            return
        stated = for_each(settled.stated, numbers)
        for offset, number in enumerate(numbers):
            total = stated[offset] if len(stated) == len(numbers) else last_of(stated)
            total = None if wrong_total and len(stated) == 1 else total  # the same slip is told once
            try:
                if offset == 0:
                    total = told_total
                else:
                    outcome, total = self.working.fitting(
                        items, settled, number, total, offset, len(numbers), len(stated)
                    )
            except Unreadable as error:
                at = error.at or entry.at
                self._unreadable(entry, number, tokens, Unreadable(at, error.what, error.fix))
                return
            conflicts, self.part.mended = outcome.conflicts, None
            if conflicts and not told and self.working.spent <= MOST_WORK:
                conflicts, self.part.mended = mended(
                    outcome,
                    number=number,
                    below=self.part.below(number),
                    stated=total,
                    main=main_stitch(settled, self.uk, self.part.main),
                    suits=self.working.suits(number, self._following()) if len(numbers) == 1 else lambda total: None,
                    steady=self.part.steady(total),
                )
            if not outcome.text and outcome.made is None:
                nothing = Unreadable(entry.at, *words.finding("nothing said", n=number))
                self._unreadable(entry, number, tokens or entry.tokens, nothing)
                return
            if settled.lost or settled.doubtful and (conflicts or total is None):
                word = (settled.lost or settled.doubtful)[0]
                strange = Unreadable(place_of(word), *words.finding("strange word", word=shown(word)))
                self._unreadable(entry, number, tokens, strange)
                return
            if not told:
                for conflict in conflicts:
                    own = settled.stated_at if conflict.total and settled.stated else conflict.at
                    at = entry.at if own is None or not tokens else own  # a repeated round's own words stand elsewhere
                    if has_prose(tokens) and (self.part.mended is None or conflict.total):
                        # With words that aren't known it is the reader rather than the writer who is wrong.
                        said = words.finding("unclear", what=conflict.what, fix=conflict.fix)
                        self.places.find(at, *said, "unread")
                    else:
                        self.places.find(at, conflict.what, conflict.fix)
            if not told:
                wrong_total = any(conflict.total for conflict in conflicts)
            told = told or bool(conflicts)
            lost = left_over(tokens, settled, outcome.made, number) if offset == 0 and not conflicts else None
            if lost is not None:
                self.places.find(lost.start_pos or 0, *words.finding("left over", word=shown(lost)), "unread")
            if offset == 0:
                self.working.ask_chain(entry, settled, items, number, outcome)
            self.part.bridges, self.part.spaces = outcome.bridges, outcome.spaces
            increases, decreases = outcome.shapings()
            line, column = self.places.place(entry.at)
            main = main_stitch(settled, self.uk, self.part.main)
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

    def _unreadable(self, entry: LabelledLine, number: int, tokens: Sequence[Token], error: Unreadable) -> None:
        """Take a round up that can't be read, with the total that was written for it."""
        self.places.find(error.at or entry.at, error.what, error.fix, "unread")
        stated, end = salvaged(tokens)
        raw = in_terms(" ".join(self.text[tokens[0].start_pos : end].split())[:200], self.uk, False)
        line, column = self.places.place(entry.at)
        for one in range(number, number + max(len(entry.numbers or ()), 1)):
            self.rounds.append(PlanRound(one, stated, None, (), (), raw, stated, line, column, self.part.main))

    def _current(self) -> Part | None:
        """The piece that is being read, None where another may begin under the heading above."""
        return self.part if self.heading is None else None

    def _again(self, entry: LabelledLine) -> bool:
        """Read a line without a label that repeats rounds: "repeat rounds 3 and 4 twice", "as for the head"."""
        sources, rest, part = referred(entry.tokens, self.part.next, self.parts, self._current())
        kinds = [token.type for token in entry.tokens]
        if not sources or part is None and (not self.rounds or "FOR" in kinds or "REPEAT" not in kinds):
            return False
        text = " ".join(entry.tokens)
        if open_ended(text):
            self.places.find(entry.at, *words.finding("no end"), "unread")
            return True
        if part is not None and "RND" not in kinds:
            sources = tuple(sorted(part.sources))
        times = how_often_again(rest)
        if not 1 <= times * len(sources) <= MOST_ROUNDS:
            self.places.find(
                entry.at, *words.finding("high number", n=times * len(sources), most=MOST_ROUNDS), "unread"
            )
            return True
        self._begin_piece(entry, part is not None and bool(self.rounds) and self.heading is not None)
        first = self.part.next
        self._repeat(tuple(range(first, first + times * len(sources))), sources, entry, rest, part)
        return True

    def _repeat(
        self,
        numbers: tuple[int, ...],
        sources: tuple[int, ...],
        entry: LabelledLine,
        tokens: Sequence[Token],
        part: Part | None,
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
                reading = self.working.settle(words_of(text))
            except Unreadable:
                reading = None
            if said and reading and kinds.index(change.type) < len(kinds):
                for number in numbers:
                    own = replace(reading.settled, stated=stated[-1:], stated_at=entry.at)
                    self._add((number,), entry, (), Reading(own, reading.items))
                return
        for offset, number in enumerate(numbers):
            source = sources[offset % len(sources)]
            known = part.sources.get(source)
            line, column = self.places.place(entry.at)
            total = stated[offset] if len(stated) == len(numbers) else stated[-1] if stated else None
            if not stated and part is not self.part:
                total = next((one.stated for one in part.rounds if one.round == source == number), None)
            if len(stated) == 1 and offset < len(numbers) - 1:
                total = None  # the total is the last one's, unless all are alike
            if known is None:
                model = next((one for one in part.rounds if one.round == source), None)
                if model is None:
                    self.places.find(entry.at, *words.finding("no source", n=source))
                held = total if total is not None else model.stitches if model else None
                used = self.part.below(number) if model else None
                self.rounds.append(PlanRound(number, held, used, (), (), "", total, line, column, self.part.main))
                continue
            items, settled, _ = known
            own = Normalised(settled.tokens, () if total is None else (total,), entry.at, unworked=settled.unworked)
            self._add((number,), entry, (), Reading(own, items))

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
                self.places.find(place_of(us[0]), *words.finding("US term", word=shown(us[0])))
            return
        uk = [token for token, word in said if word.startswith(("htr", "half treble", "half-treble"))]
        miss = [token for token, word in said if word.startswith("miss")]
        if uk or miss and not us:
            token = (uk or miss)[0]
            self.places.find(place_of(token), *words.finding("UK term", word=shown(token)))


# ------------------------------------------------------------------ what a line is
