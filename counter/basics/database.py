"""One SQLite file that outlives its program: begun, brought up from version to version, and its errors as one line.

Every call of a room that keeps something opens the file, does one thing and
closes it, so that any number of sessions, threads and processes share it.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

__all__ = ["SETUP", "Format", "begun", "connection", "transaction"]

#: What is set on every connection. EXTRA: a save is on the disk, and so is the removal of its journal, before
#: the call returns. A rollback journal, unlike a write-ahead log, leaves no copy of what was deleted; what is
#: deleted is overwritten.
SETUP = (
    "PRAGMA journal_mode = DELETE",
    "PRAGMA synchronous = EXTRA",
    "PRAGMA secure_delete = ON",
    "PRAGMA foreign_keys = ON",
    "PRAGMA trusted_schema = OFF",
)
#: SQLite's primary result codes (https://www.sqlite.org/rescode.html) -> what is the matter.
_BY_RESULT = {
    sqlite3.SQLITE_BUSY: "locked",
    sqlite3.SQLITE_LOCKED: "locked",
    sqlite3.SQLITE_FULL: "full",
    sqlite3.SQLITE_READONLY: "read-only",
    sqlite3.SQLITE_PERM: "read-only",
    sqlite3.SQLITE_CANTOPEN: "no file",
    sqlite3.SQLITE_ERROR: "damaged",  # a sound file has every table and column that is asked for
    sqlite3.SQLITE_CORRUPT: "damaged",
    sqlite3.SQLITE_NOTADB: "damaged",
    sqlite3.SQLITE_IOERR: "disk",
}

#: Makes a room's own error of what is the matter ("locked", "full", "read-only", "no file", "damaged", "not ours",
#: "newer" or "disk") and of what is known beside it.
Trouble = Callable[[str, str], Exception]


@dataclass(frozen=True)
class Format:
    """One kind of file.

    Parameters
    ----------
    application : int
        Marks the file as this program's (SQLite file format, offset 68).
    steps : tuple of tuple of str
        SQL from one version of the file to the next; the version is how many were made (offset 60). A step that
        has been in use is never changed: what comes later is another step.
    trouble : callable
        Makes the error that is raised.
    """

    application: int
    steps: tuple[tuple[str, ...], ...]
    trouble: Trouble

    def is_current(self, link: sqlite3.Connection) -> bool:
        """Whether the file is of this kind and version; raises where it must not be touched."""
        application = link.execute("PRAGMA application_id").fetchone()[0]
        version = link.execute("PRAGMA user_version").fetchone()[0]
        if application != self.application:
            if application or version or link.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                raise self.trouble("not ours", "")
            return False
        if version > len(self.steps):
            raise self.trouble("newer", "")
        return bool(version == len(self.steps))

    def bring_up(self, link: sqlite3.Connection) -> int:
        """Bring the file to this version, within the transaction that has begun; gives the version before."""
        before: int = link.execute("PRAGMA user_version").fetchone()[0]
        if self.is_current(link):  # another process was faster
            return before
        for step in self.steps[before:]:
            for order in step:
                link.execute(order)
        link.execute(f"PRAGMA application_id = {self.application}")
        link.execute(f"PRAGMA user_version = {len(self.steps)}")
        return before

    def look_over(self, link: sqlite3.Connection, bring_up: Callable[[sqlite3.Connection], object]) -> None:
        """Look over a file that is opened: it must be sound, and is brought up where it is of an earlier version."""
        if [tuple(row) for row in link.execute("PRAGMA quick_check(1)")] != [("ok",)]:
            raise self.trouble("damaged", "")
        if not self.is_current(link):
            with transaction(link):
                bring_up(link)


def begun(path: Path) -> None:
    """Begin an empty file for this user alone (Unix permissions) where there is none; OSError where it can't be."""
    with contextlib.suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))


@contextlib.contextmanager
def connection(path: Path, trouble: Trouble, patience: float) -> Iterator[sqlite3.Connection]:
    """Open a file that is there, and close it at the end.

    Parameters
    ----------
    path : Path
    trouble : callable
        Makes a room's own error, which is raised in place of SQLite's.
    patience : float
        Seconds to wait for another process that is just writing.

    Yields
    ------
    sqlite3.Connection
        Rows are read by name; bytes that are no text come as they are ("surrogateescape"), and are found where
        what they belong to is read.
    """
    link = None
    try:
        link = sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=patience, isolation_level=None)
        link.row_factory = sqlite3.Row
        link.text_factory = lambda data: data.decode("utf-8", "surrogateescape")
        for order in SETUP:
            link.execute(order).fetchall()
        yield link
    except sqlite3.Error as error:
        _explain(error, trouble)
    finally:
        if link is not None:
            link.close()


@contextlib.contextmanager
def transaction(link: sqlite3.Connection, begin: str = "BEGIN IMMEDIATE") -> Iterator[None]:
    """One transaction: all that is done in it, or nothing."""
    link.execute(begin)
    try:
        yield
        link.execute("COMMIT")
    except BaseException:
        if link.in_transaction:  # SQLite may have taken it back by itself
            link.execute("ROLLBACK")
        raise


def _explain(error: sqlite3.Error, trouble: Trouble) -> NoReturn:
    if not hasattr(error, "sqlite_errorcode"):  # not from the file, but a mistake in how it is called
        raise error
    code = _BY_RESULT.get(error.sqlite_errorcode & 0xFF)  # the low byte is the primary code
    raise trouble(code or "disk", "" if code else error.sqlite_errorname) from error
