"""A written plan, read round after round, each against the one below."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from lark import Token, UnexpectedInput

from counter.basics import words
from counter.plan.tokens import (
    DEEPEST,
    KINDS,
    LONGEST,
    MOST,
    MOST_ROUNDS,
    PARTS,
    Entry,
    Settled,
    Unreadable,
    deepest,
    grammar,
    label_numbers,
    plain,
    settle,
    shown,
    split,
    whole_number,
    words_of,
)
from counter.plan.values import Finding, Plan, PlanRound
from counter.plan.work import Outcome, in_terms, main_stitch, parse, work_out

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


def read_plan(text: str, *, uk: bool = False, rounds: int = 12) -> Plan:
    """Read written rounds.

    Parameters
    ----------
    text : str
        Rounds as makers write them, one a line or several; a list of totals
        ("6, 12, 18, 24"); or a growth rule ("start 6, add 6"). Lines that
        are no rounds are left alone. Up to 40,000 characters.
    uk : bool, optional
        Whether it is written in UK terms, where dc is what is sc in US terms.
    rounds : int, optional
        How many rounds a growth rule gives, 1 to 1000.

    Returns
    -------
    Plan
        Without rounds, and with one finding, where the text can't be read at all.

    Raises
    ------
    ValueError
        If `rounds` is out of range. A text never raises.
    """
    if isinstance(rounds, bool) or not isinstance(rounds, int) or not 1 <= rounds <= MOST_ROUNDS:
        raise ValueError(f"rounds must be a whole number from 1 to {MOST_ROUNDS}, not {rounds!r}")
    reader = _Reader(text, uk, rounds)
    if len(text) > LONGEST:
        return reader.nothing(0, *words.finding("too long", n=len(text), most=LONGEST))
    if "\0" in text:
        return reader.nothing(text.index("\0"), *words.finding("no text"))
    reader.text = plain(text)
    deep = deepest(reader.text)
    if deep is not None:
        return reader.nothing(deep, *words.finding("deep", most=DEEPEST))
    return reader.read(split(words_of(reader.text)))


class _Reader:
    """Reads the entries of one text in turn."""

    def __init__(self, text: str, uk: bool, growth_rounds: int) -> None:
        self.text, self.uk, self.growth_rounds = text, uk, growth_rounds
        self.starts: list[int] | None = None
        self.rounds: list[PlanRound] = []
        self.findings: list[Finding] = []
        #: Parsed rounds by number, for "repeat round 5".
        self.sources: dict[int, tuple[list, Settled, str]] = {}
        self.read_tokens: list[Token] = []
        self.over = self.rows = False
        self.spent = 0
        #: Chains of the round below, over stitches that it skipped or for a start.
        self.bridges = 0

    # -------------------------------------------------------------- places and findings

    def place(self, at: int) -> tuple[int, int]:
        """Line and column of a place, both from 1."""
        if self.starts is None:
            self.starts = [0, *(index + 1 for index, sign in enumerate(self.text) if sign == "\n")]
        line = bisect_right(self.starts, at)
        return line, at - self.starts[line - 1] + 1

    def find(self, at: int, what: str, fix: str) -> None:
        """Note a finding."""
        if len(self.findings) < MOST_FINDINGS:
            self.findings.append(Finding(*self.place(at), what, fix))
        else:
            self.over = True

    def nothing(self, at: int, what: str, fix: str) -> Plan:
        """Answer a text that can't be read at all."""
        return Plan((), (Finding(*self.place(at), what, fix),))

    # -------------------------------------------------------------- entries

    def read(self, entries: list[Entry]) -> Plan:
        """Read all entries."""
        labelled = [entry for entry in entries if entry.numbers and not entry.weak and not entry.row]
        self.labels = bool(labelled) or any(
            entry.weak and any(token.type in KINDS for token in entry.tokens) for entry in entries
        )
        written = any(token.type in KINDS or token.type == "RING" for entry in labelled for token in entry.tokens)
        self.bare = not written
        for index, entry in enumerate(entries):
            if self.over or self.spent > MOST_WORK:
                break
            self.ahead = next((later.numbers[0] for later in entries[index + 1 :][:20] if later.numbers), None)
            if entry.row:
                self._row(entry)
            elif entry.problem:
                self.find(entry.problem.at, entry.problem.what, entry.problem.fix)
            elif entry.numbers is None:
                self._without_label(entry)
            elif not self._with_label(entry):
                break
        self._terms()
        if not self.rounds and not self.findings:
            return self.nothing(0, *words.finding("no round"))
        self.findings.sort(key=lambda finding: (finding.line, finding.column))
        if self.spent > MOST_WORK:
            return self.nothing(0, *words.finding("too much"))
        if self.over:
            last = self.findings[-1]
            self.findings.append(Finding(last.line, last.column, *words.finding("more")))
        return Plan(tuple(self.rounds), tuple(self.findings))

    def _row(self, entry: Entry) -> None:
        if not self.rows:
            self.find(entry.at, *words.finding("rows"))
        self.rows = True

    def _without_label(self, entry: Entry) -> None:
        tokens = entry.tokens
        if _is_bare(tokens) and (self.bare or self._leads_up(tokens)):
            self._totals(tokens, (self._next(),), entry.at)
        elif self.bare and self._growth(entry):
            pass
        elif not _glossary(tokens) and any(token.type in KINDS or token.type == "EVEN" for token in tokens):
            self._loose(entry)

    def _leads_up(self, tokens: Sequence[Token]) -> bool:
        """Whether bare totals ahead of a labelled round are those of the rounds up to it: "6, 12, 18" ahead of R4."""
        totals = sum(token.type == "NUM" for token in tokens)
        return totals > 1 and self.ahead == self._next() + totals

    def _loose(self, entry: Entry) -> None:
        """Read a line without a label if it can only be a round."""
        count, tokens = _for_rounds(entry.tokens, False)
        number = self._next()
        if self.labels and self.ahead == number:
            return
        prose = any(token.type == "WORD" for token in tokens)
        strong = any(
            token.type in ("FILL", "X", "TIMES_WORD", "TWICE", "TO_LAST", "STAR", "EACH", "EVEN") for token in tokens
        )
        try:
            settled, items = self._settle(tokens)
            below = self._below(number)
            outcome = self._work(items, settled, number, below, _last(settled.stated))
        except Unreadable as error:
            if not prose and strong and not self.labels:
                self._unreadable(entry, number, tokens, error)
            return
        stated = _last(settled.stated)
        checks = stated is not None and outcome.made == stated
        counts = strong or stated is not None or any(token.type in ("NUM", "NUM_WORD") for token in tokens)
        if self.labels and (stated is None or prose and not checks):
            return
        if (
            (settled.idle or prose)
            and not checks
            or not counts
            or not (outcome.made or outcome.made is None and strong)
        ):
            return
        self._add(tuple(range(number, number + count)), entry, tokens, settled, items)

    def _with_label(self, entry: Entry) -> bool:
        """Read a round with a label; False where another piece begins."""
        numbers = entry.numbers or (self._next(),)
        if entry.weak and not _may_be_round(entry.tokens):
            return True
        last = self.rounds[-1].round if self.rounds else None
        if last is not None and last > 1 and numbers[0] == 1:
            self.find(entry.at, *words.finding("another piece"))
            return False
        count, tokens = _for_rounds(entry.tokens, True)
        if len(numbers) == 1 and count > 1:
            numbers = tuple(range(numbers[0], numbers[0] + count))
        if not tokens:
            self.find(entry.at, *words.finding("nothing said", n=numbers[0]))
            return True
        if _is_bare(tokens):
            self._number(numbers[0], entry.at)
            self._totals(tokens, numbers, entry.at)
            return True
        if self._growth(entry):
            return True
        sources, rest = _reference(tokens, numbers[0])
        if sources:
            self._number(numbers[0], entry.at)
            self._repeat(numbers, sources, entry, rest)
            return True
        try:
            settled, items = self._settle(tokens)
            if not any(token.type in KINDS for token in settled.tokens) and (settled.doubtful or not settled.stated):
                token = settled.doubtful[0] if settled.doubtful else tokens[0]
                raise Unreadable(token.start_pos, *words.finding("no stitch", n=numbers[0]))
            if not any(token.type in KINDS or token.type == "RING" for token in settled.tokens):
                self._number(numbers[0], entry.at)  # "R5: in pink (24)"
                for offset, number in enumerate(numbers):
                    each = len(settled.stated) == len(numbers)
                    self._total(number, settled.stated[offset if each else -1], entry.at)
                return True
        except Unreadable as error:
            if not entry.weak or any(token.type in ("X", "FILL", "TIMES_WORD", "STAR") for token in tokens):
                self._number(numbers[0], entry.at)
                self._unreadable(entry, numbers[0], tokens, error)
            return True
        self._number(numbers[0], entry.at)
        self._add(numbers, entry, tokens, settled, items)
        return True

    def _next(self) -> int:
        return self.rounds[-1].round + 1 if self.rounds else 1

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
        self.find(at, *words.finding(kind, n=number, last=last, next=last + 1, before=number - 1))

    def _below(self, number: int) -> int | None:
        """Stitches of the round below, None where they aren't known."""
        if not self.rounds:
            return None
        last = self.rounds[-1]
        total = last.stitches if last.stitches is not None else last.stated
        return total if total is not None else self.bridges or None

    # -------------------------------------------------------------- totals and growth

    def _total(self, number: int, total: int, at: int) -> None:
        if not 1 <= total <= MOST:
            self.find(at, *words.finding("impossible total", n=number, total=shown(str(total)), most=MOST))
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
            kinds = [one.type for one in tokens[index + 1 : index + 3]]
            if token.type not in ("NUM", "NUM_WORD"):
                index += 1
                continue
            often = 1
            if kinds[:2] == ["X", "NUM"]:
                often = min(whole_number(tokens[index + 2]), MOST_ROUNDS + 1)
                index += 2
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

    def _growth(self, entry: Entry) -> bool:
        """Read a growth rule: "start 6, add 6 each round"."""
        kinds = [token.type for token in entry.tokens]
        starts, each = "STARTS" in kinds, "RND" in kinds
        if set(kinds) & NO_GROWTH or not set(kinds) & {"ADD", "TAKE", "INC", "DEC"}:
            return False
        if not starts and (set(kinds) & (KINDS - {"INC", "DEC"}) or not set(kinds) & {"ADD", "TAKE"}):
            return False
        if entry.numbers is not None and not (starts and each):
            return False
        rule: list[Token] = []
        for index, token in enumerate(entry.tokens):
            kind = "NUM" if token.type == "NUM_WORD" else token.type
            if kind == "TO":
                kind = "UP_TO"
            if kind == "RND" and [one.type for one in rule[-2:]] != ["FOR", "NUM"]:
                continue
            if kind in ("FOR", "UP_TO") and not any(
                one.type in ("NUM", "NUM_WORD") for one in entry.tokens[index + 1 : index + 4]
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
            return False
        numbers = [whole_number(token) for token in tree.children if isinstance(token, Token) and token.type == "NUM"]
        first, step = numbers
        step = step if tree.data == "growing" else -step
        count, limit = self.growth_rounds, None
        for part in tree.children:
            if not isinstance(part, Token):
                value = next(whole_number(token) for token in part.children if token.type == "NUM")
                if part.data == "for_rounds":
                    count = value
                else:
                    limit = value
        self._grow(entry, first, step, count, limit)
        return True

    def _grow(self, entry: Entry, first: int, step: int, count: int, limit: int | None) -> None:
        number = entry.numbers[0] if entry.numbers else self._next()
        self._number(number, entry.at)
        if limit is not None and step:
            count = (limit - first) // step + 1
            if count < 1 or first + (count - 1) * step != limit:
                self.find(entry.at, *words.finding("no such growth", first=first, step=abs(step), limit=limit))
        for index in range(max(min(count, MOST_ROUNDS), 1)):
            total = first + index * step
            if not 1 <= total <= MOST:
                if index == 0 or step > 0:
                    self._total(number + index, total, entry.at)
                break
            self._total(number + index, total, entry.at)

    # -------------------------------------------------------------- instructions

    def _settle(self, tokens: Sequence[Token]) -> tuple[Settled, list]:
        """Settle and parse the words of a round."""
        self.spent += len(tokens)
        if len(tokens) > MOST_WORDS:
            raise Unreadable(tokens[0].start_pos, *words.finding("long round"))
        settled = settle(tokens)
        try:
            return settled, parse(settled)
        except Unreadable:
            if settled.short is None:
                raise
            return settled.short, parse(settled.short)

    def _work(self, items: list, settled: Settled, number: int, below: int | None, stated: int | None) -> Outcome:
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
        )
        self.spent += (outcome.made or 0) // 25 + 10 * len(settled.tokens) * bool(outcome.conflicts)
        return outcome

    def _add(
        self, numbers: tuple[int, ...], entry: Entry, tokens: Sequence[Token], settled: Settled, items: list
    ) -> None:
        """Work out a round, or several alike, and take them up."""
        told = False
        self.read_tokens += tokens
        if settled.short is not None:
            settled, items = self._without_remark(settled, items, numbers[0])
        stated = settled.stated
        if len(stated) not in (1, len(numbers)):
            stated = stated[-1:]
        for offset, number in enumerate(numbers):
            total = stated[offset] if len(stated) == len(numbers) else _last(stated)
            try:
                outcome, total = self._fitting(items, settled, number, total, offset, len(numbers), len(stated))
            except Unreadable as error:
                at = error.at or entry.at
                self._unreadable(entry, number, tokens, Unreadable(at, error.what, error.fix))
                return
            conflicts = outcome.conflicts
            if not outcome.text and outcome.made is None:
                error = Unreadable(entry.at, *words.finding("nothing said", n=number))
                self._unreadable(entry, number, tokens or entry.tokens, error)
                return
            if settled.doubtful and (conflicts or total is None):
                word = settled.doubtful[0]
                error = Unreadable(word.start_pos, *words.finding("strange word", word=shown(word)))
                self._unreadable(entry, number, tokens, error)
                return
            if not told:
                for conflict in conflicts:
                    at = settled.stated_at if conflict.total and settled.stated else conflict.at
                    at = entry.at if at is None or not tokens else at  # a repeated round's own words stand elsewhere
                    self.find(at, conflict.what, conflict.fix)
            told = told or bool(conflicts)
            self.bridges = outcome.bridges
            increases, decreases = outcome.shapings()
            line, column = self.place(entry.at)
            main = main_stitch(settled, self.uk, self._main_before())
            made = outcome.made if outcome.made is not None else total
            self.rounds.append(
                PlanRound(number, made, outcome.used, increases, decreases, outcome.text, total, line, column, main)
            )
            self.sources[number] = (items, settled, main)

    def _without_remark(self, settled: Settled, items: list, number: int) -> tuple[Settled, list]:
        """Leave out what follows the total where the round agrees with it, and doesn't with all of the words."""
        below = self._below(number)
        try:
            if not self._work(items, settled, number, below, _last(settled.stated)).conflicts and settled.stated:
                return settled, items
        except Unreadable:
            pass
        try:
            short = parse(settled.short)
            if not self._work(short, settled.short, number, below, _last(settled.short.stated)).conflicts:
                return settled.short, short
        except Unreadable:
            pass
        return settled, items

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
        if outcome.conflicts and count > 1 and totals == 1 and offset < count - 1:
            other = self._work(items, settled, number, below, None)  # "R2-5: inc 6 evenly (30)": the last has 30
            if not other.conflicts and other.made != other.used:
                return other, None
        if not outcome.conflicts or not self.rounds:
            return outcome, total
        last = self.rounds[-1]
        if last.stated is not None and last.stated != below:
            other = self._work(items, settled, number, last.stated, total)
            if not other.conflicts:
                return other, total
        if self.bridges and below is not None:
            other = self._work(items, settled, number, below + self.bridges, total)
            if not other.conflicts:
                return other, total
        if number != last.round + 1:  # a round may be missing, or one too many
            earlier = next((one for one in self.rounds if one.round == number - 1), None)
            for guess in (earlier.stitches if earlier else None, None):
                other = self._work(items, settled, number, guess, total)
                if not other.conflicts:
                    return other, total
        return outcome, total

    def _unreadable(self, entry: Entry, number: int, tokens: Sequence[Token], error: Unreadable) -> None:
        """Take a round up that can't be read, with the total that was written for it."""
        self.find(error.at or entry.at, error.what, error.fix)
        stated, end = _salvage(tokens)
        raw = in_terms(" ".join(self.text[tokens[0].start_pos : end].split())[:200], self.uk, False)
        line, column = self.place(entry.at)
        for one in range(number, number + max(len(entry.numbers or ()), 1)):
            self.rounds.append(PlanRound(one, stated, None, (), (), raw, stated, line, column, self._main_before()))

    def _repeat(
        self, numbers: tuple[int, ...], sources: tuple[int, ...], entry: Entry, tokens: Sequence[Token]
    ) -> None:
        """Carry out "repeat round 5"."""
        try:
            stated = _last(settle(tokens).stated)
        except Unreadable:
            stated = None
        for offset, number in enumerate(numbers):
            source = sources[offset % len(sources)]
            known = self.sources.get(source)
            line, column = self.place(entry.at)
            if known is None:
                model = next((one for one in self.rounds if one.round == source), None)
                if model is None:
                    self.find(entry.at, *words.finding("no source", n=source))
                total = stated if stated is not None else model.stitches if model else None
                used = self._below(number) if model else None
                self.rounds.append(
                    PlanRound(number, total, used, (), (), "", stated, line, column, self._main_before())
                )
                continue
            items, settled, _ = known
            self._add(
                (number,),
                entry,
                (),
                Settled(settled.tokens, (stated,) if stated else (), entry.at, [], settled.unworked),
                items,
            )

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


def _last(values: Sequence[int]) -> int | None:
    return values[-1] if values else None


def _is_bare(tokens: Sequence[Token]) -> bool:
    """Whether a line holds nothing but totals."""
    kinds = {token.type for token in tokens if token.type not in ("NOISE", "OTHER")}
    return kinds <= BARE and bool(kinds & {"NUM", "NUM_WORD"})


def _may_be_round(tokens: Sequence[Token]) -> bool:
    """Whether what follows a bare number can be a round: it names a stitch, or is a total and nothing else."""
    if _is_bare(tokens):
        return True
    kinds = [token.type for token in tokens]
    return any(kind in KINDS or kind in ("RING", "EVEN") for kind in kinds) or "REPEAT" in kinds and "RND" in kinds


def _glossary(tokens: Sequence[Token]) -> bool:
    """Whether a line explains a term: "sc = single crochet", "inc: 2 sc in one st"."""
    kinds = [token.type for token in tokens if token.type not in ("STAR", "OTHER")]
    if not kinds or kinds[0] not in KINDS | {"ST", "LOOPS", "RING", "RND", "REPEAT", "SPACE"}:
        return False
    second = kinds[1:3]
    return bool(second) and (second[0] in ("EQ", "COLON", "DASH") or second in (["OPEN", "STITCH"], ["OPEN", "SLIP"]))


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


def _reference(tokens: Sequence[Token], number: int) -> tuple[tuple[int, ...], Sequence[Token]]:
    """Return the rounds that a round repeats ("rep Rnd 5", "as round 4"), none where it doesn't, and what follows."""
    kinds = [token.type for token in tokens]
    if "RND" not in kinds or set(kinds) & KINDS or not set(kinds) & {"REPEAT", "LIKE", "SAME"}:
        return (), tokens
    at = kinds.index("RND")
    if at + 1 < len(tokens) and tokens[at + 1].type in ("NUM", "NUM_WORD"):
        try:
            numbers, end = label_numbers(list(tokens), at + 1)
        except Unreadable:
            return (), tokens
        return numbers, tokens[end:]
    return ((number - 1,) if set(kinds[:at]) & {"LAST", "PREVIOUS"} else ()), tokens[at + 1 :]


def _salvage(tokens: Sequence[Token]) -> tuple[int | None, int]:
    """Return the last total of a round that can't be read, and where its instructions end: at a total that is last."""
    end = tokens[-1].end_pos or tokens[-1].start_pos + len(tokens[-1])
    for index in range(len(tokens) - 1, 0, -1):
        if tokens[index].type != "NUM" or whole_number(tokens[index]) > MOST:
            continue
        before = tokens[index - 1]
        after = [token.type for token in tokens[index + 1 : index + 4]]
        closed = 1 if after[:1] == ["CLOSE"] else 2 if after[:2] in (["ST", "CLOSE"], ["STITCH", "CLOSE"]) else 0
        rest = tokens[index + 1 + closed :]
        last = all(token.type in PARTS for token in rest)
        if before.type == "OPEN" and closed or before.type == "EQ" and last and not closed:
            return whole_number(tokens[index]), before.start_pos if last else end
    return None, end
