"""In which language a person is spoken to: which file of words holds.

``words.py`` is English. A file beside it whose name ends in the language
(``words_de.py``) takes its place, word by word, wherever that language is
spoken; what such a file lacks stays English. It is spoken where
:func:`speaking` says so, else where whatever :func:`listen` was given says so:
the page asks the visit that is being served, so that two visitors can read the
same server's page in two languages.
"""

from __future__ import annotations

import functools
import importlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from types import ModuleType
from typing import Any

from counter.basics import words

__all__ = ["ENGLISH", "Told", "best_of", "known", "listen", "said_now", "speaking"]

ENGLISH = "en"
_spoken: ContextVar[str | None] = ContextVar("language", default=None)
_asked: list[Callable[[], str | None]] = []


class _Words(ModuleType):
    """The module of words, which answers in the language that is spoken."""

    def __getattribute__(self, name: str) -> Any:
        if name[:1] != "_":
            other = known().get(said_now())
            if other is not None and hasattr(other, name):
                return getattr(other, name)
        return super().__getattribute__(name)


class Told(Mapping[str, Any]):
    """A table of words, by its name, read in the language that is spoken.

    Parameters
    ----------
    name : str
        Of a table in ``words.py``.
    """

    def __init__(self, name: str) -> None:
        self._name = name

    def __getitem__(self, key: str) -> Any:
        """What is said under a key."""
        return getattr(words, self._name)[key]

    def __iter__(self) -> Iterator[str]:
        """The keys, which are the same in every language."""
        return iter(getattr(words, self._name))

    def __len__(self) -> int:
        """How many there are."""
        return len(getattr(words, self._name))


@functools.cache
def known() -> Mapping[str, ModuleType | None]:
    """Every language there is, by its code, and its words; None for English, which is always there."""
    files = sorted(Path(__file__).parent.glob("words_*.py"))
    others = {path.stem.partition("_")[2]: importlib.import_module(f"counter.basics.{path.stem}") for path in files}
    for other in others.values():
        for name, own in vars(words).items():
            if isinstance(own, dict) and isinstance(table := getattr(other, name, None), dict):
                _filled(table, own)
    return {ENGLISH: None, **others}


def _filled(table: dict[Any, Any], own: dict[Any, Any]) -> None:
    """Fill in from our own table what another language's lacks."""
    for key, value in own.items():
        there = table.setdefault(key, value)
        if isinstance(there, dict) and isinstance(value, dict):
            _filled(there, value)


def said_now() -> str:
    """The code of the language that is spoken here and now."""
    spoken = _spoken.get()
    if spoken is None and _asked:
        spoken = _asked[-1]()
    return spoken or ENGLISH


@contextmanager
def speaking(language: str | None) -> Iterator[None]:
    """Speak a language for a while, in this thread; None goes by :func:`listen`."""
    before = _spoken.set(language)
    try:
        yield
    finally:
        _spoken.reset(before)


def listen(ask: Callable[[], str | None]) -> None:
    """Have something asked for the language wherever :func:`speaking` doesn't say; None is English."""
    _asked[:] = [ask]
    words.__class__ = _Words


def best_of(wanted: str | None) -> str:
    """The language to speak to somebody whose browser wants one.

    Parameters
    ----------
    wanted : str or None
        A language tag (BCP 47), "de-AT".

    Returns
    -------
    str
        The code of a language that is known here; English where that one isn't.
    """
    code = (wanted or "").lower().replace("_", "-").partition("-")[0]
    return code if code in known() else ENGLISH
