"""What is kept: a count with its marks, its corrections and its goal."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np

from counter.basics import words
from counter.basics.answer import Count
from counter.comparing.check import Check, check, total_of
from counter.comparing.questions import questions_of, reweighed_number
from counter.comparing.verdict import MOST_EXPECTED
from counter.notebook.checks import text_within, whole_within
from counter.notebook.limits import MOST_ENTRIES, MOST_PLAN
from counter.plan import read_plan

__all__ = ["Corrections", "Entry", "Exported", "Goal", "Imported", "KeptMark", "Listed", "Listing", "counted_by_person"]


@dataclass(frozen=True)
class Goal:
    """What a round is held against.

    Parameters
    ----------
    expected : int or None
        Its total, 1 to 1000; not together with a plan.
    plan : str
        Written rounds, at most :data:`MOST_PLAN` characters; empty without a plan.
    uk : bool
        The plan is in UK terms.
    round : int or None
        Which round of the plan it is; None lets the photo say.
    twin : bool
        The piece must match another one.
    since : int
        Rounds that were worked after this one, 0 to 1000.
    twin_holds : int or None
        How many stitches that other piece holds, 1 to 1000.
    finished : bool or None
        Whether the round is finished, as a person says.

    Raises
    ------
    ValueError
        With one line that says what is wrong.
    """

    expected: int | None = None
    plan: str = ""
    uk: bool = False
    round: int | None = None
    twin: bool = False
    since: int = 0
    twin_holds: int | None = None
    finished: bool | None = None

    def __post_init__(self) -> None:
        if self.expected is not None:
            whole_within(self.expected, 1, MOST_EXPECTED, "the expected total")
            if self.plan:
                raise ValueError(words.TOTAL_OR_PLAN)
        text_within(self.plan, MOST_PLAN, "the plan")
        if self.round is not None:
            whole_within(self.round, 1, MOST_EXPECTED, "the round")
        whole_within(self.since, 0, MOST_EXPECTED, "the rounds worked since")
        if self.twin_holds is not None:
            whole_within(self.twin_holds, 1, MOST_EXPECTED, "what the other one holds")
        for flag in (self.uk, self.twin, False if self.finished is None else self.finished):
            if not isinstance(flag, bool):
                raise ValueError(words.KEPT_SWITCH)

    def check(self, count: Count) -> Check:
        """Hold a count against it.

        Parameters
        ----------
        count : Count

        Returns
        -------
        Check

        Raises
        ------
        ValueError
            As :func:`counter.comparing.check.check` does: the plan doesn't have the round, or not its total.
        """
        plan = read_plan(self.plan, uk=self.uk) if self.plan else None
        return check(
            count, expected=self.expected, plan=plan, round_number=self.round if plan else None,
            twin=self.twin, since=self.since, uk=self.uk, twin_holds=self.twin_holds, finished=self.finished,
        )  # fmt: skip

    @property
    def total(self) -> int | None:
        """The total that is expected, by itself or by the plan's round; None where it isn't known."""
        if self.expected is not None or not self.plan or self.round is None:
            return self.expected
        return _planned(self.plan, self.uk, self.round)


@functools.lru_cache(maxsize=MOST_ENTRIES)
def _planned(plan: str, uk: bool, number: int) -> int | None:
    """The total of a plan's round, None where it isn't known. A long plan takes a third of a second to read."""
    try:
        return total_of(read_plan(plan, uk=uk), number).stitches
    except ValueError:
        return None


@dataclass(frozen=True)
class KeptMark:
    """One mark on the rim as a person left it.

    Parameters
    ----------
    x, y : float
        Pixels of the upright photo, finite.
    own : int or None
        Number, from 1, that it has in the photo's own count; None where a person put it.
    """

    x: float
    y: float
    own: int | None = None


@dataclass(frozen=True)
class Corrections:
    """What a person changed about the photo's own marks.

    Parameters
    ----------
    added, moved : tuple of int
        Numbers, from 1, of marks as they stand.
    removed : tuple of int
        Numbers, from 1, of marks of the photo's own count.
    """

    added: tuple[int, ...]
    removed: tuple[int, ...]
    moved: tuple[int, ...]

    def __bool__(self) -> bool:
        return bool(self.added or self.removed or self.moved)


@dataclass(frozen=True)
class Entry:
    """One kept count, whole but for its photo.

    Parameters
    ----------
    key : str
        Names it: 32 hexadecimal digits.
    revision : int
        Grows with every change.
    kept, changed : datetime
        When it was kept and last changed (UTC).
    title, note : str
        In the person's words.
    count : Count
        The photo's own count, in pixels of the kept photo.
    marks : tuple of KeptMark
        As they stand, in working order, in pixels of the kept photo.
    confirmed : bool
        A person looked and said that it is so.
    goal : Goal
        What it is held against.
    answers : tuple of int or None
        What was asked about the first places in doubt of the photo's own
        count, one after the other: by how much the answer changes the number
        (-1, 0 or 1), None where it is still open.
    by_hand : bool
        Marks were changed otherwise than by answers.
    """

    key: str
    revision: int
    kept: datetime
    changed: datetime
    title: str
    note: str
    count: Count
    marks: tuple[KeptMark, ...]
    confirmed: bool
    goal: Goal
    answers: tuple[int | None, ...] = ()
    by_hand: bool = False

    @property
    def corrections(self) -> Corrections:
        """What a person changed."""
        first = self.count.marks
        stays = {mark.own for mark in self.marks}
        return Corrections(
            added=tuple(n for n, mark in enumerate(self.marks, start=1) if mark.own is None),
            removed=tuple(n for n in range(1, len(first) + 1) if n not in stays),
            moved=tuple(
                n for n, mark in enumerate(self.marks, start=1)
                if mark.own is not None and (mark.x, mark.y) != tuple(first[mark.own - 1])
            ),
        )  # fmt: skip

    @property
    def by_person(self) -> bool:
        """True where a person confirmed the count, answered all that was asked, or corrected one that asked nothing."""
        if self.confirmed:
            return True
        asked = len(questions_of(self.count))
        answered = sum(answer is not None for answer in self.answers[:asked])
        return answered == asked if asked else self.by_hand and bool(self.corrections)

    @property
    def settled(self) -> Count:
        """The count as it stands: the person's where there is one, else the photo's own."""
        if not self.by_person:
            return self.count
        return counted_by_person(self.count, np.array([(mark.x, mark.y) for mark in self.marks]))

    @property
    def state(self) -> str:
        """Who says so, and how sure: "counted by a person", "sure" or "not sure"."""
        return "counted by a person" if self.by_person else self.count.state

    @property
    def likely(self) -> tuple[int, ...]:
        """The numbers that it may be as it stands, ascending; the person's alone where there is one."""
        if self.by_person:
            return (len(self.marks),)
        questions = questions_of(self.count)
        # What can't be an answer is passed over, as where the count is gone on with.
        given = zip(self.answers, questions, strict=False)
        answers = {k: answer for k, (answer, question) in enumerate(given) if answer in question.changes}
        return tuple(sorted(reweighed_number(self.count, questions, answers, len(self.marks))[1]))

    @property
    def off_by(self) -> int | None:
        """Stitches over the expected total, negative where short; None while either isn't known."""
        if self.goal.total is None or not self.settled.sure or self.count.in_progress:
            return None
        return len(self.marks) - self.goal.total

    def check(self) -> Check:
        """Hold the count as it stands against its goal; raises as :meth:`Goal.check` does."""
        return self.goal.check(self.settled)


@dataclass(frozen=True)
class Listed:
    """One line of the notebook's list.

    Parameters
    ----------
    key, title, note : str
    kept, changed : datetime
        UTC.
    stitches : int
        As many as there are marks.
    likely : tuple of int
        The numbers that it may be, ascending; only `stitches` where it is sure or counted by a person.
    state : str
        "counted by a person", "sure" or "not sure".
    expected, round, off_by : int or None
        Total and round that it is held against, and stitches over the total,
        negative where short; None where they aren't known.
    small : bytes
        A small JPEG of the photo, at most :data:`SMALL_SIDE` pixels wide and high.
    """

    key: str
    title: str
    note: str
    kept: datetime
    changed: datetime
    stitches: int
    likely: tuple[int, ...]
    state: str
    expected: int | None
    round: int | None
    off_by: int | None
    small: bytes = field(repr=False)


@dataclass(frozen=True)
class Listing:
    """A part of the list.

    Parameters
    ----------
    lines : tuple of Listed
        Kept last first.
    found : int
        How many there are in all.
    damaged : tuple of str
        Beginnings of the keys of those of this part that can't be read.
    """

    lines: tuple[Listed, ...]
    found: int
    damaged: tuple[str, ...] = ()


@dataclass(frozen=True)
class Imported:
    """What an import did.

    Parameters
    ----------
    added : int
        Counts that are new in the notebook.
    already : int
        Counts that were in it, just so.
    left_out : tuple of str
        One line for each that was left out, which begins with its name.
    """

    added: int
    already: int
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class Exported:
    """What an export did.

    Parameters
    ----------
    counts : int
        Counts that are in the zip.
    left_out : tuple of str
        One line for each that is damaged and so is not in it, which begins with its name.
    """

    counts: int
    left_out: tuple[str, ...] = ()


def counted_by_person(count: Count, marks: np.ndarray) -> Count:
    """What a person counted: the marks as they stand, beyond doubt.

    Parameters
    ----------
    count : Count
        The photo's own count.
    marks : ndarray of shape (N, 2), float
        The person's marks, (x, y) in the pixels that the count is in.

    Returns
    -------
    Count
        Sure, with all probability on the number of marks. The places in doubt
        stay, each with the number of the mark that is nearest now.
    """
    doubts = tuple(
        replace(doubt, mark=int(np.argmin(np.linalg.norm(marks - doubt.at, axis=1))) + 1) for doubt in count.doubts
    )
    total = len(marks)
    return replace(count, posterior={total: 1.0}, sure=True, likely=(total,), marks=marks, doubts=doubts, reason="")
