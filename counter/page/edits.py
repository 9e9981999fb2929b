"""A person's corrections of the marks, with undo and redo."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

__all__ = ["Edits"]

Marks = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Edits:
    """Marks as they stand, and as they stood.

    Parameters
    ----------
    marks : tuple of (float, float)
        (x, y) in pixels of the upright photo, in working order.
    before, after : tuple of marks
        What undo and redo go to, nearest last.
    """

    marks: Marks
    before: tuple[Marks, ...] = ()
    after: tuple[Marks, ...] = ()

    @classmethod
    def of(cls, marks: np.ndarray) -> Edits:
        """Start from the marks of a count, shape (N, 2)."""
        return cls(tuple((float(x), float(y)) for x, y in marks))

    def add(self, x: float, y: float) -> Edits:
        """Add a mark between the two neighbours that it lies between."""
        if len(self.marks) < 2:
            return self._to((*self.marks, (x, y)))
        marks = np.array(self.marks)
        after = np.roll(marks, -1, axis=0)
        detour = np.linalg.norm(marks - (x, y), axis=1) + np.linalg.norm(after - (x, y), axis=1)
        place = int(np.argmin(detour - np.linalg.norm(after - marks, axis=1))) + 1
        return self._to((*self.marks[:place], (x, y), *self.marks[place:]))

    def remove(self, index: int) -> Edits:
        """Remove the mark of an index from 0; an index that is not there changes nothing."""
        if not 0 <= index < len(self.marks):
            return self
        return self._to(self.marks[:index] + self.marks[index + 1 :])

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

    def _to(self, marks: Marks) -> Edits:
        return Edits(marks, (*self.before, self.marks))
