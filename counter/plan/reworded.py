"""A text in other words that remembers where every sign stood."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

__all__ = ["Reworded"]


class Reworded:
    """A text in other words, each sign of which knows where it stood.

    Parameters
    ----------
    text : str
        The text to begin with.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self._origins: list[int] | None = None
        self._length = len(text)

    def origin(self, at: int) -> int:
        """Place in the first text of a place in the reworded one."""
        if self._origins is None:
            return at
        return self._origins[at] if at < len(self._origins) else self._length

    def apply(self, pattern: re.Pattern, said: str | Callable[[re.Match], str]) -> None:
        """Reword every place that a pattern finds."""
        found = list(pattern.finditer(self.text))
        if found:
            self.replace([(*one.span(), said(one) if callable(said) else one.expand(said)) for one in found])

    def replace(self, changes: Sequence[tuple[int, int, str]]) -> None:
        """Put other words into places (begin, end, words), in order and apart from each other."""
        at, parts, origins = 0, [], []
        for begin, end, new in changes:
            if new == self.text[begin:end]:
                continue
            stood = self._origins = self._origins if self._origins is not None else list(range(self._length))
            parts += [self.text[at:begin], new]
            origins += stood[at:begin]
            # Signs beyond the old ones stand where the last of them stood.
            own = stood[begin:end] or [self.origin(begin)]
            origins += own[: len(new)] + own[-1:] * (len(new) - len(own))
            at = end
        if parts and self._origins is not None:
            origins += self._origins[at:]
            self.text = "".join(parts) + self.text[at:]
            self._origins = origins
