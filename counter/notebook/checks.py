"""Values that a person or a caller gave, looked at one by one: each comes back, or ValueError with a line for them.

Plain data is read by :mod:`counter.notebook.schema`.
"""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime

from counter.basics import words

__all__ = [
    "flag_of",
    "folded",
    "moment_of",
    "number_within",
    "text_within",
    "this_moment",
    "whole_within",
]


def this_moment() -> datetime:
    """Now, in UTC, as it is kept."""
    return datetime.now(UTC).replace(microsecond=0)


def moment_of(text: str) -> datetime:
    """A moment as it is kept, from its text."""
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None or not 2000 <= moment.year < 2200:
        raise ValueError(words.KEPT_WRONG["date"])
    return moment.astimezone(UTC).replace(microsecond=0)


def folded(text: str) -> str:
    """A text in which capitals and accents make no difference."""
    return unicodedata.normalize("NFKC", text).casefold()


def text_within(text: object, most: int, what: str) -> str:
    """A text of at most so many characters."""
    if not isinstance(text, str) or len(text) > most:
        raise ValueError(words.KEPT_TEXT.format(what=words.KEPT_PARTS[what], most=most))
    if any(0xD800 <= ord(c) < 0xE000 for c in text):  # half of a character: no file can hold it
        raise ValueError(words.KEPT_CHARACTERS.format(what=words.KEPT_PARTS[what]))
    return text


def whole_within(number: object, low: int, high: int, what: str) -> int:
    """A whole number between two bounds, both included."""
    if isinstance(number, bool) or not isinstance(number, int) or not low <= number <= high:
        raise ValueError(words.KEPT_WHOLE.format(what=words.KEPT_PARTS[what], low=low, high=high))
    return number


def number_within(number: object, low: float, high: float, what: str) -> float:
    """A number between two bounds, both included."""
    if isinstance(number, bool) or not isinstance(number, int | float) or not low <= number <= high:  # NaN fails, too
        raise ValueError(words.KEPT_NUMBER.format(what=words.KEPT_PARTS[what], low=low, high=high))
    return float(number)


def flag_of(value: object) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise ValueError(words.KEPT_SWITCH)
    return value
