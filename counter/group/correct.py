"""What a person says about a line, as a correction that stands beside the automatic answer."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from counter.basics import words
from counter.basics.answer import Refusal
from counter.comparing.verdict import MOST_EXPECTED
from counter.group.store import Correction
from counter.group.table import Line, said_before, standing
from counter.notebook.values import Entry

__all__ = ["again", "back", "confirmed", "in_hand", "marked", "standing_entry"]


def standing_entry(line: Line) -> Entry:
    """The entry to go on from: as a person left it last, else the automatic one.

    Raises
    ------
    ValueError
        If the line was refused, so that there are no marks.
    """
    if isinstance(line.automatic, Refusal):
        raise ValueError("a photo that was refused has no marks")
    last = line.said[-1] if line.said else None
    return last.entry if last is not None and last.what == "marks" and last.entry is not None else line.automatic


def marked(line: Line, entry: Entry) -> Correction:
    """A person put the marks so, or answered a question; the entry's count is the automatic one."""
    if isinstance(line.automatic, Refusal):
        raise ValueError("a photo that was refused has no marks")
    count, by_person, _ = standing(line.automatic, [_now(line, "marks", "", entry)])
    after = words.COMMA.join((words.either(count.likely), "counted by a person" if by_person else count.state))
    return _now(line, "marks", after, entry)


def confirmed(line: Line) -> Correction:
    """A person looked and said that all marks are right."""
    return marked(line, replace(standing_entry(line), confirmed=True))


def in_hand(line: Line, total: int) -> Correction:
    """A person counted the piece itself.

    Raises
    ------
    ValueError
        If no round can hold so many.
    """
    if not 1 <= total <= MOST_EXPECTED:
        raise ValueError(f"a total must be 1 to {MOST_EXPECTED}, not {total}")
    return _now(line, "total", words.COMMA.join((str(total), "counted by a person")))


def again(line: Line) -> Correction:
    """The photo must be taken again."""
    return _now(line, "again", words.GROUP_NEEDS["again"])


def back(line: Line) -> Correction:
    """All that was said is taken back: the automatic answer stands."""
    own = line.automatic
    if isinstance(own, Refusal):
        return _now(line, "back", words.COMMA.join((words.NO_COUNT, "refused")))
    return _now(line, "back", words.COMMA.join((words.either(own.count.likely), own.count.state)))


def _now(line: Line, what: str, after: str, entry: Entry | None = None) -> Correction:
    return Correction(datetime.now(UTC), what, said_before(line), after, entry)
