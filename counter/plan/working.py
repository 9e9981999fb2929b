"""How the words of one round are read and worked out over the round below: the way that comes out is taken."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain

from lark import Token

from counter.basics import words
from counter.plan.labels import LabelledLine
from counter.plan.lines import joins_parts
from counter.plan.mend import Suits
from counter.plan.normalise import normalise
from counter.plan.order import end_of, not_repeated, set_apart
from counter.plan.pieces import Part
from counter.plan.places import Places
from counter.plan.settled import Normalised
from counter.plan.steps import parse
from counter.plan.stitches import main_stitch
from counter.plan.tokens import KINDS, Unreadable
from counter.plan.totals import is_bare
from counter.plan.variants import variants
from counter.plan.work import work_out
from counter.plan.works import Outcome

__all__ = ["MOST_WORK", "Reading", "Working", "for_each", "last_of"]

#: Most words in one round, and most work for a whole plan, in words and stitches worked out.
MOST_WORDS = 2000
MOST_WORK = 15_000
#: Most words of the next round that are read ahead.
MOST_AHEAD = 120
#: Most ways in which one round is read.
MOST_WAYS = 8
#: What is put behind two stitches that are worked into one.
INTO_NEXT = (("IN", "in"), ("NEXT", "next"), ("ST", "st"))
#: Fewest times that a round is repeated for which nothing says so.
FEWEST_REPEATS = 3
#: What a last number may stand behind that is the round's total all the same.
BEFORE_TOTALS = frozenset({"EACH", "ST", "STITCH", "RING", "INC", "DEC"})


@dataclass
class Reading:
    """The words of a round, settled and parsed in one way, and the other ways to read them."""

    settled: Normalised
    items: list
    others: Iterator[tuple[Normalised, list] | Unreadable] = field(default_factory=lambda: iter(()))


class Working:
    """Works rounds out, one after the other.

    Parameters
    ----------
    places : Places
        The text, for its words and for findings.
    part : Part
        The piece that is being read.
    uk : bool
        Whether the text is written in UK terms.
    chain_counts : bool or None
        Whether a first chain counts where nothing else tells.
    """

    def __init__(self, places: Places, part: Part, uk: bool, chain_counts: bool | None) -> None:
        self.places, self.part, self.uk = places, part, uk
        #: Words and stitches worked out so far.
        self.spent = 0
        #: Whether a first chain counts: as the text says for all of it, as the person says, as it did before.
        self.chain_said: bool | None = None
        self.chain_counts = chain_counts
        self.chain_was: bool | None = None
        self.chain_asked = False
        #: Whether the text tells rounds without saying that they are repeated: "R4: 2 sc, inc".
        self.unrepeated = False

    def settle(self, tokens: Sequence[Token]) -> Reading:
        """Settle and parse the words of a round, in the first way in which they can be read."""
        error = Unreadable(0, *words.finding("too much"))
        first = True
        ways = self._ways(tokens)
        for way in ways:
            if not isinstance(way, Unreadable):
                return Reading(*way, ways)
            error, first = (way, False) if first else (error, False)
        raise error

    def _ways(self, tokens: Sequence[Token]) -> Iterator[tuple[Normalised, list] | Unreadable]:
        """The ways in which the words of a round can be read, the commonest first; what can't be read as an error."""
        self.spent += len(tokens)
        if len(tokens) > MOST_WORDS:
            yield Unreadable(tokens[0].start_pos or 0, *words.finding("long round"))
            return
        flipped: list = []
        joins = bool(tokens) and joins_parts(self.places.words_at(tokens[0].start_pos or 0, end_of(tokens[-1])))
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
        for own in self._otherwise(tokens):
            try:
                settled = normalise(own)
                settled.joins = joins
                yield settled, parse(settled)
            except Unreadable as error:
                yield error

    def _otherwise(self, tokens: Sequence[Token]) -> Iterator[list[Token]]:
        """The same words with a total made plain, or with a repeat that was left out."""
        kinds = [token.type for token in tokens if token.type != "NL"]
        depth, whole = 0, kinds[:2] == ["NUM", "OPEN"] and kinds[-1] == "CLOSE"
        for at, kind in enumerate(kinds):
            depth += (kind == "OPEN") - (kind == "CLOSE")
            whole = whole and (at == 0 or depth > 0 or at == len(kinds) - 1)
        if whole and set(kinds) & KINDS:  # "R4 24 (2 sc, inc)"
            yield [*tokens[2:-1], tokens[1], tokens[0], tokens[-1]]
        lone = next((at for at in range(len(tokens) - 3) if _two_alone(tokens, at)), None)
        if lone is not None:  # "[2 sc] x 6 (12)" over 6
            mark = tokens[lone + 2]
            into = [Token.new_borrow_pos(kind, sign, mark) for kind, sign in INTO_NEXT]
            yield [*tokens[: lone + 3], *into, *tokens[lone + 3 :]]
        if kinds[-1:] == ["NUM"] and set(kinds[-2:-1]) & BEFORE_TOTALS:  # "2 sc each 12"
            mark = tokens[-1]
            around = [Token.new_borrow_pos(kind, sign, mark) for kind, sign in (("OPEN", "("), ("CLOSE", ")"))]
            yield [*tokens[:-1], around[0], mark, around[1]]
        entry = LabelledLine((1,), list(tokens), 0)
        if self.unrepeated and not_repeated(entry) and (set_apart(entry) or not {"STAR", "OPEN"} & set(kinds)):
            own = list(tokens)
            if not set_apart(entry):  # all of it goes around, not its last step
                around = [Token.new_borrow_pos(kind, sign, own[0]) for kind, sign in (("OPEN", "("), ("CLOSE", ")"))]
                own = [around[0], *own, around[1]]
            yield [*own, Token.new_borrow_pos("FILL", "around", tokens[-1])]

    def work(self, items: list, settled: Normalised, number: int, below: int | None, stated: int | None) -> Outcome:
        """What parsed words come to over a round below, within what is left to be spent."""
        self.spent += len(settled.tokens)
        if self.spent > MOST_WORK:
            raise Unreadable(settled.stated_at, *words.finding("too much"))
        outcome = work_out(
            items,
            number=number,
            below=below,
            stated=stated,
            main=main_stitch(settled, self.uk, self.part.main),
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

    def ask_chain(self, entry: LabelledLine, settled: Normalised, items: list, number: int, outcome: Outcome) -> None:
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
            other = self.work(items, settled, number, self.part.below(number), None)
        except Unreadable:
            return
        finally:
            self.chain_was = None
        if other.chain and not other.conflicts and other.made not in (None, outcome.made):
            self.chain_asked = True
            self.places.find(entry.at, *words.finding("chain", n=number, made=outcome.made, more=other.made), "asked")

    def best(self, reading: Reading, numbers: tuple[int, ...]) -> tuple[Normalised, list, Outcome, int | None]:
        """The way to read a round that comes out, the commonest one where none does, and what it comes to."""
        first: tuple[Normalised, list, Outcome, int | None] | None = None
        problem: Unreadable | None = None
        for tried, way in enumerate(chain([(reading.settled, reading.items)], reading.others)):
            if tried > MOST_WAYS or self.spent > MOST_WORK:
                break
            if isinstance(way, Unreadable):
                continue
            settled, items = way
            stated = for_each(settled.stated, numbers)
            total = stated[0] if len(stated) == len(numbers) else last_of(stated)
            try:
                outcome, total = self.fitting(items, settled, numbers[0], total, 0, len(numbers), len(stated))
            except Unreadable as error:
                problem = problem or error
                continue
            here = settled, items, outcome, total
            first = first or here
            if self.unrepeated and not settled.stated and first is not here and not self._left_out(first, here):
                continue
            if outcome.conflicts or settled.doubtful and total is None or outcome.made is None and first is not here:
                continue
            if settled.stated or settled.short is None:
                return here
        if first is None:
            raise problem or Unreadable(0, *words.finding("too much"))
        return first

    @staticmethod
    def _left_out(once: tuple, again: tuple) -> bool:
        """Whether a repeat that was left out goes round often enough that it is surely meant."""
        return (once[2].used or 0) * FEWEST_REPEATS <= (again[2].used or 0)

    def fitting(self, items, settled, number, total, offset, count, totals) -> tuple[Outcome, int | None]:
        """Work a round out against the round below, or against what that may have been meant to hold."""
        below = self.part.below(number)
        outcome = self.work(items, settled, number, below, total)
        made, used = outcome.made, outcome.used
        several = below is None and count > 1 and totals == 1 and offset == 0
        if several and total is not None and made is not None and used is not None:
            start = total - (made - used) * count  # the total is the last round's
            if start > 0 and made != used:
                other = self.work(items, settled, number, start, None)
                if not other.conflicts:
                    return other, None
        if not outcome.conflicts:
            return outcome, total
        if count > 1 and totals == 1 and offset < count - 1:
            other = self.work(items, settled, number, below, None)  # "R2-5: inc 6 evenly (30)": the last has 30
            if not other.conflicts and other.made != other.used:
                return other, None
        for guess in self._other_belows(settled, number, below):
            other = self.work(items, settled, number, guess, total)
            if not other.conflicts:
                return other, total
        return outcome, total

    def _other_belows(self, settled: Normalised, number: int, below: int | None) -> Iterator[int | None]:
        """What the round below may have been meant to hold."""
        if settled.joins:
            yield None
        if not self.part.rounds:
            return
        last = self.part.rounds[-1]
        if last.stated is not None and last.stated != below:
            yield last.stated
        if self.part.mended is not None and self.part.mended != below:
            yield self.part.mended
        if self.part.bridges and below is not None:
            yield below + self.part.bridges
        if number != last.round + 1:  # a round may be missing, or one too many
            earlier = next((one for one in self.part.rounds if one.round == number - 1), None)
            yield from (earlier.stitches if earlier else None, None)

    def suits(self, number: int, following: LabelledLine | None) -> Suits:
        """Whether the round after a number can be worked over a total; None where nothing tells."""
        if following is None or following.row or following.problem or following.numbers != (number + 1,):
            return lambda total: None
        if is_bare(following.tokens) or len(following.tokens) > MOST_AHEAD or self.spent > MOST_WORK // 2:
            return lambda total: None
        try:
            reading = self.settle(following.tokens)
        except Unreadable:
            return lambda total: None
        stated = last_of(reading.settled.stated)
        known: dict[int, bool | None] = {}

        def suits(total: int) -> bool | None:
            if total not in known:
                try:
                    outcome = self.work(reading.items, reading.settled, number + 1, total, stated)
                    # A round without a total that only goes around fits everything.
                    tells = stated is not None or "around" not in outcome.text
                    known[total] = not outcome.conflicts if tells and not outcome.start else None
                except Unreadable:
                    known[total] = None
            return known[total]

        return suits


def _two_alone(tokens: Sequence[Token], at: int) -> bool:
    """Whether a bracket that is repeated holds two or three stitches and nothing else: "[2 sc] x 6"."""
    inside = [token.type for token in tokens[at : at + 4]]
    few = inside == ["OPEN", "NUM", "STITCH", "CLOSE"] and tokens[at + 1] in ("2", "3")
    return few and at + 4 < len(tokens) and tokens[at + 4].type in ("X", "NUM", "STAR", "FILL")


def for_each(stated: tuple[int, ...], numbers: tuple[int, ...]) -> tuple[int, ...]:
    """The totals of rounds written together: one for all, or one for each."""
    return stated if len(stated) in (1, len(numbers)) else stated[-1:]


def last_of(values: Sequence[int]) -> int | None:
    """The last of some numbers, None where there is none."""
    return values[-1] if values else None
