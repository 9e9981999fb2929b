"""The table of a group: every photo with what it comes to, makers by rounds, and whose doing it is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from counter.basics import words
from counter.basics.answer import Count, Refusal, clock_position
from counter.comparing.check import Check, check
from counter.comparing.questions import questions_of, reweighed_number
from counter.comparing.which import fitting_rounds
from counter.group.attribution import ObservedRound, PatternOff, Verdicts, attribute_deviations
from counter.group.match import MatchedPhoto
from counter.group.store import Answer, Correction
from counter.notebook.values import Entry, counted_by_person
from counter.plan import Plan
from counter.showing.sentences import clock_words, round_words, verdict_words, which_words

__all__ = ["NEEDS", "Line", "Table", "lay_out", "rounds_words", "said_before", "standing", "whose_words"]

#: What a photo needs of a person, most first: to be taken again, a look and a tap, a talk with its maker; what is
#: sure but held against nothing; nothing at all.
NEEDS = ("again", "look", "off", "counted", "agrees")
#: A look can settle it where the number and its neighbours make up this probability together.
LEAST_LOOK_PROBABILITY = 0.5


@dataclass(frozen=True)
class Line:
    """One piece of one photo.

    Parameters
    ----------
    place : Place
        Where the photo belongs.
    content : str
        SHA-256 of the file; empty where it can't be read.
    piece, pieces : int
        Which piece of the photo, from 0, of how many.
    answer : Count or Refusal
        As it stands, in pixels of the photo (or of the piece's part of it) as it is kept.
    automatic : Entry or Refusal
        What the program said by itself.
    check : Check or None
        What the count was held against; None for a total that was counted in the hand.
    need : str
        Of :data:`NEEDS`.
    state : {"refused", "not sure", "sure", "counted by a person"}
    likely : tuple of int
        Numbers that it may be, most probable first; empty where refused.
    probability : float or None
        Of the first; None where refused or counted by a person.
    posterior : mapping of int to float
    expected : int or None
    off_by : int or None
        Stitches over the expected total; None where it can't be said.
    words : str
        What to know or to do, in sentences.
    sizing : mapping or None
    said : tuple of Correction
        All that a person said about it.
    chosen : bool
        It stands for its maker's round; of several photos of one round the surest does.
    """

    place: MatchedPhoto
    content: str
    piece: int
    pieces: int
    answer: Count | Refusal
    automatic: Entry | Refusal
    check: Check | None
    need: str
    state: str
    likely: tuple[int, ...] = ()
    probability: float | None = None
    posterior: Mapping[int, float] = field(default_factory=dict)
    expected: int | None = None
    off_by: int | None = None
    words: str = ""
    sizing: Mapping[str, Any] | None = None
    said: tuple[Correction, ...] = ()
    chosen: bool = False

    @property
    def verdict(self) -> str:
        """One of "agrees", "short by k", "over by k", "can't say"; empty where there is nothing to hold it against."""
        return words.said(self.off_by) if self.expected is not None else ""

    @property
    def where(self) -> tuple[str, ...]:
        """Clock positions of the likeliest slips, else of the places in doubt."""
        if isinstance(self.answer, Refusal) or not self.off_by:
            return ()
        slips = self.check and self.check.verdict and self.check.verdict.slips
        if slips and slips.claimed:
            return tuple(dict.fromkeys(clock_words(slip.hour) for slip in slips.claimed))
        doubts = (clock_position(doubt.at, self.answer.centre) for doubt in self.answer.doubts)
        return tuple(dict.fromkeys(doubts))


@dataclass(frozen=True)
class Table:
    """A whole group.

    Parameters
    ----------
    lines : tuple of Line
        Sorted by how much a person is needed.
    makers : tuple of str
        In natural order.
    rounds : tuple of int
        Those of the plan that any photo shows.
    verdicts : Verdicts
    notices : tuple of str
        What else to know: two photos of one round, two makers of one name, photos without a place.
    waiting : int
        Photos that are not counted yet.
    """

    lines: tuple[Line, ...]
    makers: tuple[str, ...]
    rounds: tuple[int, ...]
    verdicts: Verdicts
    notices: tuple[str, ...]
    waiting: int

    def cell(self, maker: str, number: int) -> Line | None:
        """The line that stands for a maker's round, None where no photo shows it."""
        return next(
            (line for line in self.lines if line.chosen and (line.place.maker, line.place.round) == (maker, number)),
            None,
        )

    def many(self, need: str) -> int:
        """How many lines need that."""
        return sum(line.need == need for line in self.lines)

    def pattern_off(self, number: int | None) -> PatternOff | None:
        """What the pattern is found off by in a round."""
        return next((own for own in self.verdicts.pattern if own.round == number), None)

    @property
    def summary(self) -> str:
        """One line: "24 of 30 agree, 3 off, 2 to look at, 1 to take again"."""
        many = {need: self.many(need) for need in NEEDS}
        said = [words.GROUP_AGREE.format(n=many["agrees"], all=len(self.lines))]
        said += [
            words.GROUP_MANY[need].format(n=many[need]) for need in ("off", "look", "again", "counted") if many[need]
        ]
        if self.waiting:
            said.append(words.GROUP_WAITING.format(n=self.waiting))
        return words.COMMA.join(said)


def standing(automatic: Entry, said: Sequence[Correction]) -> tuple[Count, bool, int | None]:
    """What stands after what a person said.

    Parameters
    ----------
    automatic : Entry
        The program's own count.
    said : sequence of Correction
        The first first; the last one holds.

    Returns
    -------
    count : Count
    by_person : bool
    total : int or None
        What was counted in the hand; the count is then the program's own.
    """
    last = said[-1] if said else None
    if last is not None and last.what == "total":
        return automatic.count, True, last.total
    if last is None or last.what != "marks":
        return automatic.count, False, None
    entry = last.entry
    if entry is None:
        raise ValueError("a correction of marks holds the marks")
    if entry.by_person:
        return entry.settled, True, None
    questions = questions_of(entry.count)
    answers = {k: answer for k, answer in enumerate(entry.answers) if answer is not None}
    posterior, likely = reweighed_number(entry.count, questions, answers, len(entry.marks))
    so_far = counted_by_person(entry.count, np.array([(mark.x, mark.y) for mark in entry.marks]))
    open_ones = tuple(own.doubt for k, own in enumerate(questions) if k not in answers)
    return (
        replace(so_far, posterior=posterior, sure=False, likely=likely, doubts=open_ones, reason=entry.count.reason),
        False,
        None,
    )


def said_before(line: Line) -> str:
    """What a line says in a few words, as a correction keeps it: "23 or 24, not sure"."""
    number = words.either(line.likely) if line.likely else words.NO_COUNT
    return words.COMMA.join((number, line.state))


def lay_out(
    places: Sequence[MatchedPhoto],
    contents: Mapping[str, str],
    unread: Mapping[str, Refusal],
    answers: Mapping[str, Answer],
    plan: Plan,
    *,
    corrections: Mapping[tuple[str, int], Sequence[Correction]] | None = None,
    uk: bool = False,
) -> Table:
    """Lay a group's photos out as a table.

    Parameters
    ----------
    places : sequence of Place
        Every photo.
    contents : mapping of str to str
        Path -> content.
    unread : mapping of str to Refusal
        Path -> why the file can't be read.
    answers : mapping of str to Answer
        By content; photos that are not counted yet lack.
    plan : Plan
    corrections : mapping, optional
        By content and piece.
    uk : bool, optional
        Write rounds out in UK terms.

    Returns
    -------
    Table
    """
    corrections, lines, waiting = corrections or {}, [], 0
    for place in places:
        if place.photo in unread:
            refusal = unread[place.photo]
            told = words.together(refusal.reason, refusal.hint)
            lines.append(Line(place, "", 0, 1, refusal, refusal, None, "again", "refused", words=told))
            continue
        content = contents[place.photo]
        if content not in answers:
            waiting += 1
            continue
        parts = answers[content].parts
        for piece, part in enumerate(parts):
            said = tuple(corrections.get((content, piece), ()))
            line = _line(place, part.answer, said, plan, uk)
            lines.append(replace(line, content=content, piece=piece, pieces=len(parts), sizing=part.sizing))
    lines, notices = _chosen(lines)
    seen = [
        ObservedRound(line.place.maker, line.place.number, line.expected, line.posterior)
        for line in lines
        if line.chosen and line.posterior and line.expected is not None and line.need != "again"
    ]
    makers = sorted({place.maker for place in places if place.matched}, key=str.casefold)
    rounds = sorted({place.number for place in places if place.matched})
    unplaced = sum(not place.matched for place in places)
    if unplaced:
        notices.append(words.GROUP_UNPLACED_MANY.format(photos=words.photos(unplaced)))
    lines.sort(key=_by_need)
    return Table(tuple(lines), tuple(makers), tuple(rounds), attribute_deviations(seen), tuple(notices), waiting)


def _by_need(line: Line) -> tuple[object, ...]:
    unsure = (line.probability or 0.0) if line.need == "look" else 0.0
    place = line.place
    return (
        NEEDS.index(line.need), place.matched, unsure, -abs(line.off_by or 0), place.maker.casefold(),
        place.round or 0, place.photo, line.piece,
    )  # fmt: skip


def _line(place: MatchedPhoto, automatic: Entry | Refusal, said: tuple[Correction, ...], plan: Plan, uk: bool) -> Line:
    again = bool(said) and said[-1].what == "again"
    if isinstance(automatic, Refusal):
        refused = words.together(automatic.reason, automatic.hint)
        total = said[-1].total if said else None
        line = Line(place, "", 0, 1, automatic, automatic, None, "again", "refused", words=refused, said=said)
        return line if total is None else _by_hand(line, total, plan)
    count, by_person, total = standing(automatic, said)
    if total is not None:
        return _by_hand(Line(place, "", 0, 1, count, automatic, None, "counted", "", said=said), total, plan)
    found = check(count, plan=plan, round_number=place.round, uk=uk) if place.matched else Check(None)
    verdict = found.verdict
    told: tuple[str, ...] = (*round_words(found), verdict_words(verdict) if verdict else "")
    if not place.matched:
        # What it looks like is said, and never taken for where it belongs.
        fits = fitting_rounds(plan, count)
        told = (place.why, which_words(fits) if fits else "")
    off = verdict.off_by if verdict else None
    need = _need(count, off, bool(verdict))
    if again:
        need, told = "again", (words.GROUP_AGAIN_SAID,)
    return Line(
        place, "", 0, 1, count, automatic, found, need, "counted by a person" if by_person else count.state,
        count.likely, None if by_person else float(count.probability), dict(count.posterior),
        verdict.expected if verdict else None, None if again else off, words.together(*told), None, said,
    )  # fmt: skip


def _need(count: Count, off: int | None, held: bool) -> str:
    if count.sure:
        return "counted" if off is None else "off" if off else "agrees"
    near = sum(count.posterior.get(count.stitches + change, 0.0) for change in (-1, 0, 1))
    return "look" if near >= LEAST_LOOK_PROBABILITY else "again"


def _by_hand(line: Line, total: int, plan: Plan) -> Line:
    """A line whose total a person counted in the hand: no marks say where."""
    written = plan.round(line.place.number) if line.place.matched else None
    expected = written.stitches if written else None
    off = None if expected is None else total - expected
    told = words.GROUP_BY_HAND.format(stitches=words.stitches(total))
    if off:
        told = words.together(told, words.sentence(words.said(off)))
    return replace(
        line, need="counted" if off is None else "off" if off else "agrees", state="counted by a person",
        likely=(total,), posterior={total: 1.0}, expected=expected, off_by=off, words=told,
    )  # fmt: skip


def _chosen(lines: Sequence[Line]) -> tuple[list[Line], list[str]]:
    """For every maker's round the surest line chosen, and what to know of the others."""
    by_cell: dict[tuple[str, int], list[int]] = defaultdict(list)
    for index, line in enumerate(lines):
        if line.place.matched:
            by_cell[line.place.maker, line.place.number].append(index)
    made, notices = list(lines), []

    def worth(index: int) -> tuple[bool, bool, bool, float, int]:
        line = lines[index]
        return (
            line.need != "again", line.state == "counted by a person", line.state == "sure", line.probability or 0.0,
            -index,
        )  # fmt: skip

    for (maker, number), own in by_cell.items():
        best = max(own, key=worth)
        made[best] = replace(made[best], chosen=True)
        photos = dict.fromkeys(lines[index].place.photo for index in own)
        if len(photos) > 1:
            photo, others = made[best].place.photo, len(photos) - 1
            notices.append(
                words.GROUP_TWICE.format(maker=maker, n=number, photos=words.photos(others + 1), photo=photo)
            )
        elif len(own) > 1:
            notices.append(words.GROUP_PIECES.format(maker=maker, n=number, pieces=len(own), photo=next(iter(photos))))
    homes: dict[str, set[str]] = defaultdict(set)
    for line in lines:
        if line.place.how == "names" and line.place.home and line.place.maker.endswith(f"({line.place.home})"):
            homes[line.place.maker.removesuffix(f"({line.place.home})").strip()].add(line.place.maker)
    notices += [words.GROUP_SAME_NAME.format(maker=name, as_=words.all_of(sorted(own))) for name, own in homes.items()]
    return made, notices


def whose_words(table: Table) -> tuple[str, ...]:
    """Whose doing it is, as sentences: the pattern's rounds first, then each maker's.

    Parameters
    ----------
    table : Table

    Returns
    -------
    tuple of str
    """
    told = [_pattern_words(table, own) for own in table.verdicts.pattern]
    if told:
        told.append(words.CAUTION)
    told += _open_words(table)
    settled = {(line.place.maker, line.place.round) for line in table.lines if line.chosen and line.need == "off"}
    by_maker: dict[tuple[str, bool], list[int]] = defaultdict(list)
    for own in table.verdicts.makers:
        by_maker[own.maker, (own.maker, own.round) in settled].append(own.round)
    for (maker, sure), numbers in by_maker.items():
        said = words.GROUP_MAKER_OFF if sure else words.GROUP_MAKER_PERHAPS
        told.append(said.format(maker=maker, rounds=rounds_words(numbers)))
    return tuple(told)


def _pattern_words(table: Table, off: PatternOff) -> str:
    """What speaks against a round of the pattern, and how much of that is not settled."""
    said = words.GROUP_PATTERN_OFF.format(
        n=off.round, alike=round(off.alike), makers=off.makers, by=words.off_alike(off.off)
    )
    unsure = sum(
        line.chosen and line.place.round == off.round and line.need == "look" and _first_off(line) == off.off
        for line in table.lines
    )
    if not unsure:
        return said
    settle = words.GROUP_UNSETTLED_ONE if unsure == 1 else words.GROUP_UNSETTLED.format(n=unsure)
    return words.together(said, settle)


def _first_off(line: Line) -> int | None:
    """Stitches over the expected total by the likeliest number, sure or not."""
    return line.likely[0] - line.expected if line.likely and line.expected is not None else None


def _open_words(table: Table) -> list[str]:
    """What can't be said of the pattern, and that nothing speaks against the rest of it."""
    verdicts = table.verdicts
    if not verdicts.looked:
        return [words.GROUP_TOO_FEW] if len(table.makers) > 1 else []
    hidden = [number for number in verdicts.hidden if table.pattern_off(number) is None]
    if len(hidden) == len(verdicts.looked):
        return [words.GROUP_ALL_HIDDEN]
    told = [] if verdicts.pattern else [words.GROUP_NONE_OFF]
    return told + ([words.GROUP_HIDDEN.format(rounds=rounds_words(hidden))] if hidden else [])


def rounds_words(numbers: Sequence[int]) -> str:
    """Say "round 7" or "rounds 7 and 9".

    Parameters
    ----------
    numbers : sequence of int

    Returns
    -------
    str
    """
    said = words.GROUP_AT_ROUND if len(numbers) == 1 else words.GROUP_AT_ROUNDS
    return said.format(rounds=words.all_of(map(str, numbers)))
