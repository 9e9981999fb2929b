"""Plain data looked at, value by value: each gives what was asked for, or raises ValueError with a line."""

from __future__ import annotations

import contextlib
import json
import unicodedata
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import NoReturn

import numpy as np

from counter.basics import words

__all__ = [
    "fields_of",
    "flag_of",
    "folded",
    "list_within",
    "moment_of",
    "number_within",
    "numbers_within",
    "parsed",
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


def numbers_within(values: Sequence[object], low: float, high: float, what: str) -> np.ndarray:
    """The same for many, at once where all of them are."""
    if set(map(type, values)) <= {int, float}:
        with contextlib.suppress(OverflowError):
            found = np.array(values, float)
            if ((found >= low) & (found <= high)).all():  # NaN fails, too
                return found
    return np.array([number_within(value, low, high, what) for value in values])


def parsed(text: str | bytes) -> object:
    """JSON -> plain data; ValueError where it isn't any."""

    def refuse(name: str) -> NoReturn:
        raise ValueError(words.KEPT_NO_NUMBER.format(text=name))

    try:
        return json.loads(text, parse_constant=refuse)
    except RecursionError:
        raise ValueError(words.KEPT_WRONG["deep"]) from None


def fields_of(data: object, *names: str) -> list:
    """Values of exactly these fields."""
    if not isinstance(data, dict) or data.keys() != set(names):
        raise ValueError(words.KEPT_WRONG["fields"])
    return [data[name] for name in names]


def list_within(data: object, least: int, most: int) -> list:
    """A list with so many members."""
    if not isinstance(data, list) or not least <= len(data) <= most:
        raise ValueError(words.KEPT_LIST.format(least=least, most=most))
    return data


def flag_of(value: object) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise ValueError(words.KEPT_SWITCH)
    return value
