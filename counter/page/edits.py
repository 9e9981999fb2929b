"""A person's corrections of the marks, with undo and redo."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from counter.answer import Count, Doubt
from counter.verdict import MOST_EXPECTED

__all__ = ["Edits", "Mark", "persons_count"]

#: Fewest marks that still make a rim.
FEWEST = 3


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
class Edits:
    """Marks as they stand, as they stood, and as the photo's own count had them.

    Every change returns new edits; one that can't be made returns the same.

    Parameters
    ----------
    marks : tuple of Mark
        In working order.
    first : tuple of Mark
        The marks of the photo's own count.
    fresh : int
        Name of the next mark.
    before, after : tuple of marks
        What undo and redo go to, nearest last.
    """

    marks: Marks
    first: Marks
    fresh: int
    before: tuple[Marks, ...] = ()
    after: tuple[Marks, ...] = ()

    @classmethod
    def of(cls, marks: np.ndarray) -> Edits:
        """Start from the marks of a count, shape (N, 2)."""
        first = tuple(Mark(name, float(x), float(y)) for name, (x, y) in enumerate(marks))
        return cls(first, first, len(first))

    @property
    def corrected(self) -> bool:
        """True where the marks are not those of the photo's own count."""
        return self.marks != self.first

    @property
    def points(self) -> np.ndarray:
        """The marks, shape (N, 2), (x, y) in pixels of the upright photo."""
        return np.array([(mark.x, mark.y) for mark in self.marks], dtype=float).reshape(-1, 2)

    def add(self, x: float, y: float) -> Edits:
        """Add a mark between the two neighbours that it lies between.

        They are the ones between which passing through the new mark makes the
        least detour.
        """
        if len(self.marks) >= MOST_EXPECTED:  # more could not be compared
            return self
        marks = self.points
        following = np.roll(marks, -1, axis=0)
        detour = np.linalg.norm(marks - (x, y), axis=1) + np.linalg.norm(following - (x, y), axis=1)
        place = int(np.argmin(detour - np.linalg.norm(following - marks, axis=1))) + 1
        added = Mark(self.fresh, x, y, added=True)
        return self._to((*self.marks[:place], added, *self.marks[place:]), fresh=self.fresh + 1)

    def remove(self, name: int) -> Edits:
        """Remove the mark of that name; three marks always stay."""
        marks = tuple(mark for mark in self.marks if mark.name != name)
        return self if len(marks) < FEWEST else self._to(marks)

    def move(self, name: int, x: float, y: float) -> Edits:
        """Put the mark of that name elsewhere; its number stays."""
        return self._to(tuple(replace(mark, x=x, y=y) if mark.name == name else mark for mark in self.marks))

    def restart(self) -> Edits:
        """Go back to the photo's own marks; undo takes that back too."""
        return self._to(self.first)

    def undo(self) -> Edits:
        """Take the last edit back."""
        if not self.before:
            return self
        return replace(self, marks=self.before[-1], before=self.before[:-1], after=(*self.after, self.marks))

    def redo(self) -> Edits:
        """Make the edit again that was taken back last."""
        if not self.after:
            return self
        return replace(self, marks=self.after[-1], before=(*self.before, self.marks), after=self.after[:-1])

    def apply(self, edit: Mapping, size: tuple[int, int]) -> Edits:
        """Make an edit that the browser asks for.

        Parameters
        ----------
        edit : mapping
            "do" is "add" (with "x", "y"), "remove" (with "name"), "move" (with
            all three), "restart", "undo" or "redo".
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
            case {"do": "move", "name": name, "x": x, "y": y} if _numbers(x, y):
                return self.move(name, *_within(x, y, size))
            case {"do": "restart" | "undo" | "redo" as what}:
                return getattr(self, what)()
        return self

    def _to(self, marks: Marks, fresh: int | None = None) -> Edits:
        if marks == self.marks:
            return self
        return replace(self, marks=marks, fresh=fresh or self.fresh, before=(*self.before, self.marks), after=())


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
        Sure, with all probability on the number of marks, so that it is
        compared and drawn like any other count. The places in doubt stay, each
        with the number of the mark that is nearest now.
    """
    marks = edits.points
    doubts = tuple(
        Doubt(int(np.argmin(np.linalg.norm(marks - doubt.at, axis=1))) + 1, doubt.at, doubt.why)
        for doubt in count.doubts
    )
    total = len(marks)
    return replace(
        count, posterior={total: 1.0}, sure=True, likely=(total,), marks=marks, doubts=doubts, reason=""
    )
