"""A person's corrections of the marks, with undo and redo."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from counter.basics.answer import Count
from counter.comparing.questions import Question, reweighed_number
from counter.comparing.verdict import MOST_EXPECTED
from counter.notebook.values import KeptMark, counted_by_person

__all__ = ["Edits", "Mark", "count_so_far", "persons_count"]

#: Fewest marks that still make a rim.
FEWEST_MARKS = 3
#: A place in doubt lies on a mark, not between two, where the mark is nearer than this share of the way to the next.
ON_MARK_SHARE = 0.3
#: What is added or removed this many stitch widths from a place in doubt says what is there.
BESIDE_DOUBT_STITCHES = 0.8
#: Marks that were kept are where answers put them if they are nearer than this, in pixels: they were rounded.
SAME_PLACE_PX = 0.5


@dataclass(frozen=True)
class Mark:
    """One mark on the rim.

    Parameters
    ----------
    name : int
        Stays the same while marks before it come and go, unlike its number.
    x, y : float
        Pixels of the upright photo.
    added : bool
        True where a person put it.
    """

    name: int
    x: float
    y: float
    added: bool = False


Marks = tuple[Mark, ...]


@dataclass(frozen=True)
class Standing:
    """What undo and redo go to.

    Parameters
    ----------
    marks : tuple of Mark
        In working order.
    answers : tuple of (int, int)
        Index of a question and the change of the number that was answered, by index.
    by_hand : bool
        True once marks were added, moved or removed otherwise than by an answer.
    """

    marks: Marks
    answers: tuple[tuple[int, int], ...] = ()
    by_hand: bool = False


@dataclass(frozen=True)
class Edits:
    """Marks as they stand, as they stood, and as the photo's own count had them.

    Every change returns new edits; one that can't be made returns the same.

    Parameters
    ----------
    now : Standing
    first : tuple of Mark
        The marks of the photo's own count.
    fresh : int
        Name of the next mark.
    questions : tuple of Question
        What is asked about the photo's own count.
    before, after : tuple of Standing
        What undo and redo go to, nearest last.
    around : tuple of float or None
        The middle that marks are put around by hand, one after the other; None where they came from a count.
    """

    now: Standing
    first: Marks
    fresh: int
    questions: tuple[Question, ...] = ()
    before: tuple[Standing, ...] = ()
    after: tuple[Standing, ...] = ()
    around: tuple[float, float] | None = None

    @classmethod
    def of(cls, marks: np.ndarray, questions: tuple[Question, ...] = ()) -> Edits:
        """Start from the marks of a count, shape (N, 2), and what is asked about it."""
        first = tuple(Mark(name, float(x), float(y)) for name, (x, y) in enumerate(marks))
        return cls(Standing(first), first, len(first), questions)

    @classmethod
    def resumed(
        cls,
        first: np.ndarray,
        questions: tuple[Question, ...],
        marks: Sequence[KeptMark],
        answers: Sequence[int | None],
        by_hand: bool,
    ) -> Edits:
        """Go on from what was kept; there is nothing to undo yet.

        Parameters
        ----------
        first : ndarray of shape (N, 2)
            The marks of the photo's own count.
        questions : tuple of Question
            What is asked about it.
        marks : sequence of KeptMark
            As they stood. They stand so again, whatever would be made of the
            answers today.
        answers : sequence of int or None
            To the questions, one after the other; what can't be an answer is
            passed over.
        by_hand : bool
            Marks were changed otherwise than by answers.

        Returns
        -------
        Edits
        """
        fresh = answered = cls.of(first, questions)
        for index, change in enumerate(answers):
            if change is not None:
                answered = answered.answer(index, change)
        stood = np.array([(mark.x, mark.y) for mark in marks])
        if (
            not by_hand
            and stood.shape == answered.points.shape
            and np.abs(stood - answered.points).max() < SAME_PLACE_PX
        ):
            return replace(fresh, now=answered.now)
        names = iter(range(len(first), len(first) + len(marks)))
        own = tuple(
            Mark(next(names) if mark.own is None else mark.own - 1, mark.x, mark.y, added=mark.own is None)
            for mark in marks
        )
        return replace(fresh, now=Standing(own, answered.now.answers, True), fresh=next(names, len(first) + len(marks)))

    @property
    def kept(self) -> tuple[KeptMark, ...]:
        """The marks as the notebook keeps them."""
        own = len(self.first)
        return tuple(KeptMark(mark.x, mark.y, mark.name + 1 if 0 <= mark.name < own else None) for mark in self.marks)

    @property
    def marks(self) -> Marks:
        """The marks as they stand, in working order."""
        return self.now.marks

    @property
    def answers(self) -> dict[int, int]:
        """Index of each question that was answered, and the change of the number."""
        return dict(self.now.answers)

    @property
    def settled(self) -> bool:
        """True where a person has decided: every question is answered, or none was asked and a mark was corrected.

        A correction by hand settles its own place and no other.
        """
        if self.around is not None:
            return False
        if self.questions:
            return len(self.now.answers) == len(self.questions)
        # Where the round starts is another matter than how many stitches it has.
        return self.now.by_hand and set(self.marks) != set(self.first)

    @property
    def corrected(self) -> bool:
        """True where the marks are not those of the photo's own count."""
        return self.marks != self.first

    @property
    def points(self) -> np.ndarray:
        """The marks, shape (N, 2), (x, y) in pixels of the upright photo."""
        return _points(self.marks)

    def add(self, x: float, y: float) -> Edits:
        """Add a mark between the two neighbours that it lies between.

        They are the ones between which passing through the new mark makes the
        least detour.
        """
        if len(self.marks) >= MOST_EXPECTED:  # more could not be compared
            return self
        new = Mark(self.fresh, x, y, added=True)
        marks = _inserted(self.marks, new) if self.around is None else _in_turn((*self.marks, new), self.around)
        return self._to(marks, fresh=self.fresh + 1, said=self._said((x, y), 1))

    def remove(self, name: int) -> Edits:
        """Remove the mark of that name; three marks always stay."""
        gone = next((mark for mark in self.marks if mark.name == name), None)
        if gone is None or len(self.marks) <= min(FEWEST_MARKS, len(self.first)):
            return self
        marks = tuple(mark for mark in self.marks if mark.name != name)
        return self._to(marks, said=self._said((gone.x, gone.y), -1))

    def move(self, name: int, x: float, y: float) -> Edits:
        """Put the mark of that name elsewhere; its number stays."""
        return self._to(tuple(replace(mark, x=x, y=y) if mark.name == name else mark for mark in self.marks))

    def answer(self, question: int, change: int) -> Edits:
        """Answer a question, or answer it otherwise; what was changed by hand elsewhere stays.

        Parameters
        ----------
        question : int
            Its index.
        change : int
            Of the number of stitches, one of those that the question offers.
        """
        if not 0 <= question < len(self.questions) or change not in self.questions[question].changes:
            return self
        answers = dict(sorted((self.answers | {question: change}).items()))
        if self.now.by_hand:
            # What was done by hand is not computed anew: only this place is.
            marks, at = self.marks, self.questions[question].doubt.at
            if self.answers.get(question) != change:
                marks = self._taken_back(question)
                marks = _answered(marks, self._name(question, marks), at, change)
        else:
            marks = self.first
            for index, given in answers.items():
                marks = _answered(marks, -1 - index, self.questions[index].doubt.at, given)
        if not FEWEST_MARKS <= len(marks) <= MOST_EXPECTED:
            return self
        edits = self._to_standing(Standing(marks, tuple(answers.items()), self.now.by_hand))
        fresh = max(self.fresh, *(mark.name + 1 for mark in marks))
        return edits if fresh == self.fresh else replace(edits, fresh=fresh)

    def start(self, name: int) -> Edits:
        """Let the round start at the mark of that name; the others follow in working order."""
        at = next((k for k, mark in enumerate(self.marks) if mark.name == name), 0)
        return self._to((*self.marks[at:], *self.marks[:at]))

    def restart(self) -> Edits:
        """Go back to the photo's own marks; undo takes that back too."""
        return self._to_standing(Standing(self.first))

    def undo(self) -> Edits:
        """Take the last edit back."""
        if not self.before:
            return self
        return replace(self, now=self.before[-1], before=self.before[:-1], after=(*self.after, self.now))

    def redo(self) -> Edits:
        """Make the edit again that was taken back last."""
        if not self.after:
            return self
        return replace(self, now=self.after[-1], before=(*self.before, self.now), after=self.after[:-1])

    def apply(self, edit: Mapping, size: tuple[int, int]) -> Edits:
        """Make an edit that the browser asks for.

        Parameters
        ----------
        edit : mapping
            "do" is "add" (with "x", "y"), "remove" (with "name"), "move" (with
            all three), "start" (with "name"), "answer" (with "question" and "change"), "restart",
            "undo" or "redo".
        size : tuple of int
            (width, height) of the upright photo; places beyond it are put on
            its edge.

        Returns
        -------
        Edits
            The same edits where the request makes no sense: what a browser
            sends is not to be trusted.
        """
        match edit:
            case {"do": "add", "x": x, "y": y} if _numbers(x, y):
                return self.add(*_within(x, y, size))
            case {"do": "remove", "name": name}:
                return self.remove(name)
            case {"do": "start", "name": name}:
                return self.start(name)
            case {"do": "move", "name": name, "x": x, "y": y} if _numbers(x, y):
                return self.move(name, *_within(x, y, size))
            case {"do": "answer", "question": question, "change": change} if _whole(question, change):
                return self.answer(question, change)
            case {"do": "restart" | "undo" | "redo" as what}:
                return getattr(self, what)()
        return self

    def _name(self, question: int, marks: Marks) -> int:
        """The name of a mark that an answer puts; a hand may have put one there by that name."""
        return -1 - question if all(mark.name != -1 - question for mark in marks) else self.fresh

    def _taken_back(self, question: int) -> Marks:
        """The marks without the answer to a question, as far as a hand left what it made of them."""
        given, at = self.answers.get(question, 0), self.questions[question].doubt.at
        if given == 0:
            return self.marks
        # What the answer moved goes back, unless a hand moved it since.
        moved = {mark.name: mark for mark in _answered(self.first, -1 - question, at, given)}
        own = {mark.name: mark for mark in self.first}
        marks = tuple(own.get(mark.name, mark) if moved.get(mark.name) == mark else mark for mark in self.marks)
        if given > 0:
            added = [mark for mark in marks if mark.added and self._beside(at, mark)]
            gone = min(added, key=lambda mark: (mark.name != -1 - question, _away(at, mark)), default=None)
            return tuple(mark for mark in marks if mark is not gone)
        there = {mark.name for mark in marks}
        lost = [mark for mark in self.first if mark.name not in there and self._beside(at, mark)]
        back = min(lost, key=lambda mark: _away(at, mark), default=None)
        if back is None:
            return marks
        # In its own place in the row: before the next of the photo's own marks that is there.
        after = (self.first.index(back) + step for step in range(1, len(self.first)))
        following = next((name % len(self.first) for name in after if name % len(self.first) in there), None)
        place = next((k for k, mark in enumerate(marks) if mark.name == following), len(marks))
        return (*marks[:place], back, *marks[place:])

    def _beside(self, at: tuple[float, float], mark: Mark) -> bool:
        return _away(at, mark) <= 2 * BESIDE_DOUBT_STITCHES * self._pitch

    @property
    def _pitch(self) -> float:
        """From one mark of the photo to the next, in pixels: the median."""
        points = _points(self.first)
        return float(np.median(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)))

    def _said(self, at: tuple[float, float], change: int) -> tuple[tuple[int, int], ...]:
        """The answers once a person added or removed a mark: at a place in doubt that is its answer."""
        if not self.questions:
            return self.now.answers
        places = [(math.dist(at, question.doubt.at), index) for index, question in enumerate(self.questions)]
        away, index = min(places)
        if away > BESIDE_DOUBT_STITCHES * self._pitch:
            return self.now.answers
        before = self.answers.get(index, 0)
        given = before + change if before + change in self.questions[index].changes else before
        return tuple(sorted((self.answers | {index: given}).items()))

    def _to(self, marks: Marks, fresh: int | None = None, said: tuple[tuple[int, int], ...] | None = None) -> Edits:
        if marks == self.marks:
            return self
        # The answers stay: what was seen there was seen.
        answers = self.now.answers if said is None else said
        return replace(self._to_standing(Standing(marks, answers, True)), fresh=fresh or self.fresh)

    def _to_standing(self, standing: Standing) -> Edits:
        if standing == self.now:
            return self
        return replace(self, now=standing, before=(*self.before, self.now), after=())


def _away(at: tuple[float, float], mark: Mark) -> float:
    return math.dist(at, (mark.x, mark.y))


def _points(marks: Marks) -> np.ndarray:
    return np.array([(mark.x, mark.y) for mark in marks], dtype=float).reshape(-1, 2)


def _inserted(marks: Marks, new: Mark) -> Marks:
    """The marks and a new one between the two that it lies between."""
    points, at = _points(marks), (new.x, new.y)
    following = np.roll(points, -1, axis=0)
    detour = np.linalg.norm(points - at, axis=1) + np.linalg.norm(following - at, axis=1)
    place = int(np.argmin(detour - np.linalg.norm(following - points, axis=1))) + 1
    return (*marks[:place], new, *marks[place:])


def _in_turn(marks: Marks, around: tuple[float, float]) -> Marks:
    """Marks in working order around a middle, beginning with the first: counter-clockwise in the picture."""
    turns = np.arctan2(around[1] - _points(marks)[:, 1], _points(marks)[:, 0] - around[0])
    order = np.argsort(np.mod(turns - turns[0], 2 * np.pi), kind="stable")
    return tuple(marks[k] for k in order)


def _answered(marks: Marks, name: int, at: tuple[float, float], change: int) -> Marks:
    """The marks after an answer about a place; a new mark gets that name."""
    if change == 0:
        return marks
    points = _points(marks)
    away = np.linalg.norm(points - at, axis=1)
    k = int(np.argmin(away))
    before, after = points[k - 1], points[(k + 1) % len(points)]
    pitch = max(float(np.linalg.norm(after - before)) / 2, 1e-9)
    on_mark = away[k] < ON_MARK_SHARE * pitch
    if change > 0:
        if not on_mark:
            return _inserted(marks, Mark(name, *at, added=True))
        # One stitch becomes two: they share its room.
        (x0, y0), (x1, y1) = points[k] + (before - points[k]) / 4, points[k] + (after - points[k]) / 4
        halves = (replace(marks[k], x=_kept(x0), y=_kept(y0)), Mark(name, _kept(x1), _kept(y1), added=True))
        return (*marks[:k], *halves, *marks[k + 1 :])
    if on_mark:
        return (*marks[:k], *marks[k + 1 :])
    # Two become one that stands between them, unless the other is no neighbour.
    other = int(np.argsort(away)[1])
    rest = [mark for i, mark in enumerate(marks) if i != k]
    if away[other] < pitch and (other - k) % len(marks) in (1, len(marks) - 1):
        x, y = (points[k] + points[other]) / 2
        kept = rest.index(marks[other])
        rest[kept] = replace(marks[other], x=_kept(x), y=_kept(y))
    return tuple(rest)


def _kept(value: float) -> float:
    """A place as it is kept, so that it comes back as it was."""
    return round(float(value), 3)


def _whole(*values: object) -> bool:
    return all(isinstance(v, int) and not isinstance(v, bool) for v in values)


def _numbers(*values: object) -> bool:
    return all(isinstance(v, int | float) and not isinstance(v, bool) and math.isfinite(v) for v in values)


def _within(x: float, y: float, size: tuple[int, int]) -> tuple[float, float]:
    return min(max(float(x), 0.0), size[0] - 1.0), min(max(float(y), 0.0), size[1] - 1.0)


def persons_count(count: Count, edits: Edits) -> Count:
    """What a person counted: the marks as they stand, beyond doubt.

    Parameters
    ----------
    count : Count
        The photo's own count.
    edits : Edits
        The person's marks.

    Returns
    -------
    Count
        As :func:`counter.notebook.values.counted_by_person` says.
    """
    return counted_by_person(count, edits.points)


def count_so_far(count: Count, edits: Edits) -> Count:
    """What the photo, the answers and the corrections so far say together.

    Parameters
    ----------
    count : Count
        The photo's own count.
    edits : Edits
        Not settled yet.

    Returns
    -------
    Count
        Not sure; the same count before the first answer or correction. The
        marks are those that stand; the places that are still open stay in doubt.
    """
    if not edits.answers and not edits.corrected:
        return count
    if edits.around is not None:
        return replace(persons_count(count, edits), sure=False, reason=count.reason)
    posterior, likely = reweighed_number(count, edits.questions, edits.answers, len(edits.marks))
    open_ones = [question.doubt for i, question in enumerate(edits.questions) if i not in edits.answers]
    whole = persons_count(replace(count, doubts=tuple(open_ones)), edits)
    return replace(whole, posterior=posterior, sure=False, likely=likely, reason=count.reason)
