"""Where things stand in the maker's own text, and what was found there."""

from __future__ import annotations

from bisect import bisect_right

from counter.plan.reworded import Reworded
from counter.plan.values import Finding, Plan

__all__ = ["MOST_FINDINGS", "Places"]

#: Most findings that are told; a text with more is no plan.
MOST_FINDINGS = 50


class Places:
    """The maker's text with its findings.

    Parameters
    ----------
    source : str
        The text as it was written, with plain signs.
    """

    def __init__(self, source: str) -> None:
        self.source = source
        #: The text said again, each sign of which knows where it stood; None as long as it is as it was written.
        self.reworded: Reworded | None = None
        self.findings: list[Finding] = []
        #: Whether there were more findings than are told.
        self.over = False
        self._starts: list[int] | None = None

    @property
    def starts(self) -> list[int]:
        """Where each line of the text begins."""
        if self._starts is None:
            self._starts = [0, *(index + 1 for index, sign in enumerate(self.source) if sign == "\n")]
        return self._starts

    def place(self, at: int) -> tuple[int, int]:
        """Line and column of a place, both from 1."""
        return self.at_source(self.reworded.origin(at) if self.reworded else at)

    def at_source(self, at: int) -> tuple[int, int]:
        """Line and column, both from 1, of a place in the maker's own text."""
        line = bisect_right(self.starts, at)
        return line, at - self.starts[line - 1] + 1

    def words_at(self, begin: int, end: int) -> str:
        """The maker's own words between two places."""
        if self.reworded:
            begin, end = self.reworded.origin(begin), self.reworded.origin(end)
        return self.source[begin:end]

    def find(self, at: int, what: str, fix: str, kind: str = "wrong") -> None:
        """Note a finding."""
        if len(self.findings) < MOST_FINDINGS:
            self.findings.append(Finding(*self.place(at), what, fix, kind))
        else:
            self.over = True

    def nothing(self, at: int, what: str, fix: str) -> Plan:
        """Answer a text that can't be read at all."""
        return Plan((), (Finding(*self.place(at), what, fix, "unread"),))

    def lines(self, begin: int, end: int) -> str:
        """The maker's lines from one number to another, both from 1."""
        return self.source[self.starts[begin - 1] : self.starts[end] if end < len(self.starts) else None]
