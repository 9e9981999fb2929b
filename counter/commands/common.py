"""What the commands share: exit codes, one readable line for bad use, progress, files written whole."""

from __future__ import annotations

import os
import stat
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from counter.basics import words
from counter.basics.text import shown

__all__ = [
    "AGREES",
    "BAD_USE",
    "BROKE",
    "MISMATCH",
    "NOT_SURE",
    "REFUSED",
    "BadUse",
    "Progress",
    "need_plain_file",
    "written",
]

T = TypeVar("T")
AGREES, MISMATCH, BAD_USE, NOT_SURE, REFUSED, BROKE = range(6)
#: Seconds between two lines of progress where they can't overwrite each other.
PROGRESS_INTERVAL_S = 5.0


class BadUse(Exception):
    """A request that can't be carried out; the text says what to do."""


class Progress:
    """Which of many is being worked on, and about how long the rest takes, on the error stream.

    One line that overwrites itself on a terminal; elsewhere a plain line every
    few seconds, so that a log stays short.
    """

    def __init__(self) -> None:
        self.began = time.monotonic()
        self.told = -PROGRESS_INTERVAL_S
        self.terminal = sys.stderr.isatty()
        self.on_screen = False

    def __call__(self, done: int, total: int, name: str) -> None:
        """Say how far it is."""
        now = time.monotonic() - self.began
        self.told_by(done, total, name, now / done * (total - done) if done else None)

    def told_by(self, done: int, total: int, name: str, rest: float | None) -> None:
        """Say it where somebody else knows how many seconds the rest takes."""
        now = time.monotonic() - self.began
        if not self.terminal and now - self.told < PROGRESS_INTERVAL_S and done + 1 < total:
            return
        self.told = now
        left = f", about {words.duration(rest)} left" if rest is not None and now > 2 else ""
        text = f"{done + 1} of {total}{f': {shown(name)}' if name else ''}{left}"
        if self.terminal:
            self.clear()
            print(text[:100], end="", file=sys.stderr, flush=True)
            self.on_screen = True
        else:
            print(text, file=sys.stderr, flush=True)

    def clear(self) -> None:
        """Take the line off the terminal."""
        if self.on_screen:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)  # ECMA-48: erase to the end of the line
            self.on_screen = False


def written(path: Path, write: Callable[[], T]) -> T:
    """What writing a file gives; bad use with the file's name where it can't be written."""
    try:
        return write()
    except OSError as error:
        raise BadUse(f"{shown(str(path))} can't be written: {error.strerror or error}") from None


def need_plain_file(name: str, instead: str = "name a file") -> None:
    """Raise where a name is no plain file: a pipe or device may never end, or never begin.

    Parameters
    ----------
    name : str
    instead : str
        What to do.

    Raises
    ------
    BadUse
    """
    try:
        kind = os.stat(name).st_mode
    except FileNotFoundError:
        raise BadUse(f"{shown(name)}: there is no such file") from None
    except (OSError, ValueError) as error:  # ValueError: a name with a null character
        raise BadUse(f"{shown(name)} can't be read: {getattr(error, 'strerror', None) or error}") from None
    if not stat.S_ISREG(kind):
        what = "a folder" if stat.S_ISDIR(kind) else "a pipe or a device"
        raise BadUse(f"{shown(name)} is {what}: {instead}")
