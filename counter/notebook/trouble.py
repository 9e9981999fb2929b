"""What keeps the notebook from doing as asked."""

from __future__ import annotations

from collections.abc import Mapping

from counter.basics import words
from counter.basics.language import Told
from counter.notebook.limits import MOST_ENTRIES

__all__ = ["TROUBLES", "NotebookError"]

#: Every trouble there is: code -> (what is the matter, what to do). One place explains each.
TROUBLES: Mapping[str, tuple[str, str]] = Told("TROUBLES")


class NotebookError(Exception):
    """What keeps the notebook from doing as asked; its text is one line that says what to do.

    Parameters
    ----------
    code : str
        A key of :data:`TROUBLES`.
    detail : str, optional
        What is the matter in this very case; it is added in brackets.
    """

    def __init__(self, code: str, detail: str = "") -> None:
        what, hint = (text.format(most=MOST_ENTRIES) for text in TROUBLES[code])
        super().__init__(words.together(words.with_detail(what, detail), hint))
        self.code, self.detail = code, detail
