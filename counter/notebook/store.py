"""The notebook: the counts that a person chooses to keep.

One SQLite file in the user's data folder. Every save is one transaction that
is on the disk before the call returns, so that neither a crash nor a closed
tab loses it; what is deleted is overwritten in the file, not merely unlinked.
Photos are kept small and without position and device data.

Nothing stays open between calls: each opens the file, does one thing and
closes it, so that any number of sessions, threads and processes share it.
"""

from __future__ import annotations

import base64
import contextlib
import functools
import hashlib
import io
import ipaddress
import itertools
import json
import math
import os
import re
import secrets
import shutil
import sqlite3
import unicodedata
import zipfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType
from typing import BinaryIO, NoReturn

import cv2
import numpy as np
import platformdirs
from PIL import Image

from counter.basics import words
from counter.basics.answer import DOUBTS, Count, Doubt, InProgress
from counter.basics.photo import Photo
from counter.basics.table import csv_table
from counter.comparing.check import Check, check, total_of
from counter.comparing.questions import questions_of, weighed
from counter.comparing.verdict import MOST_EXPECTED
from counter.plan import read_plan
from counter.plan.tokens import LONGEST

__all__ = [
    *(
        "Corrections",
        "Entry",
        "Exported",
        "Goal",
        "Imported",
        "KeptMark",
        "Listed",
        "Listing",
        "Notebook",
        "NotebookError",
    ),
    *(
        "SWITCH",
        "TROUBLES",
        "as_text",
        "bare_photo",
        "counted_by_person",
        "entry_of",
        "entry_of_text",
        "from_text",
        "in_copy",
    ),
    *("is_local", "is_this_machine", "new_shared", "open_own", "open_shared", "own_path", "scaled", "turned_on"),
]

#: Environment variable by which whoever runs a shared server turns the notebook on ("on") or,
#: anywhere, off ("off").
SWITCH = "RIMTALLY_NOTEBOOK"
#: Long side in pixels and JPEG quality of a kept photo and of its small picture for the list.
LONG_SIDE, QUALITY = 1600, 85
SMALL_SIDE, SMALL_QUALITY = 240, 78
#: Most entries of a notebook; most characters of a title, a note and a written plan (as many as are
#: read of one); most bytes of a photo (noise at full contrast takes 2.5 million) and of an entry's data.
MOST_ENTRIES = 1000
MOST_TITLE, MOST_NOTE, MOST_PLAN = 100, 4000, LONGEST
MOST_PHOTO, MOST_DATA = 3_000_000, 800_000
#: Fewest marks that make a rim; most points of an outline and most places in doubt.
FEWEST_MARKS, MOST_POINTS, MOST_DOUBTS = 3, 5000, 100
#: Most characters of a sentence that comes with a count, and most words that are searched for.
MOST_SENTENCE, MOST_SOUGHT = 500, 10
#: Most bytes of a zip's table of contents, and most characters of its written plans that are read while it comes
#: in (a second takes 110,000 of them): what is held against the others is told once such a count is changed.
MOST_CONTENTS, MOST_READ = 1_000_000, 500_000
#: Free bytes on the disk below which nothing more is kept.
LEAST_FREE = 100_000_000
#: Most notebooks on a shared server.
MOST_NOTEBOOKS = 500
#: Seconds to wait for another session that is just writing.
PATIENCE = 5.0
#: What is set on every connection. EXTRA: a save is on the disk, and so is the removal of its journal, before
#: the call returns. A rollback journal, unlike a write-ahead log, leaves no copy of what was deleted.
SETUP = (
    "PRAGMA journal_mode = DELETE",
    "PRAGMA synchronous = EXTRA",
    "PRAGMA secure_delete = ON",
    "PRAGMA foreign_keys = ON",
    "PRAGMA trusted_schema = OFF",
)
#: Marks the file as a notebook of this program ("RimN", SQLite file format, offset 68).
APPLICATION = 0x52696D4E
#: Steps from one version of the file to the next; the version is how many were made (offset 60). A step that
#: has been in use is never changed: what comes later is another step.
STEPS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE entry (key TEXT PRIMARY KEY, revision INTEGER NOT NULL, kept TEXT NOT NULL,"
        " changed TEXT NOT NULL, title TEXT NOT NULL, note TEXT NOT NULL, stitches INTEGER NOT NULL,"
        " state TEXT NOT NULL, expected INTEGER, round INTEGER, sought TEXT NOT NULL, data TEXT NOT NULL)"
        " WITHOUT ROWID",
        "CREATE TABLE photo (key TEXT PRIMARY KEY REFERENCES entry ON DELETE CASCADE, large BLOB NOT NULL,"
        " small BLOB NOT NULL)",
        "CREATE INDEX entry_by_date ON entry (kept, key)",
    ),
    # With answers in an entry's data (:func:`_entry_of` says what holds where they lack), and the verdict.
    (
        "ALTER TABLE entry ADD COLUMN off_by INTEGER",
        "UPDATE entry SET off_by = stitches - expected"
        """ WHERE state <> 'not sure' AND instr(data, '"in_progress": null') > 0""",
    ),
    # With the kind of each place in doubt in an entry's data (:data:`KIND_OF` where it lacks).
    (),
    # With the numbers that a count may be where it is more than one: as they are shown, and searched for.
    (
        "ALTER TABLE entry ADD COLUMN likely TEXT NOT NULL DEFAULT ''",
        "UPDATE entry SET likely = likely_of(data) WHERE state = 'not sure'",
        "UPDATE entry SET sought = sought || char(10) || replace(likely, ' ', ' or ') WHERE likely <> ''",
    ),
)
#: What an exported zip says it is, and the version of what it holds.
FORMAT, FORMAT_VERSION = "rimtally notebook", 3
#: Kinds of places in doubt by what earlier versions kept instead: the sentence as they said it.
KIND_OF = {
    "Here the round starts and ends: is this a stitch, or the loop and the yarn end?": "seam",
    "it is not clear that one stitch ends here": "end",
    "there may be two stitches here": "two",
    "this stitch is much wider than its neighbours": "wide",
    "this stitch is much narrower than its neighbours": "narrow",
    "part of the rim is hidden here": "hidden",
    "the whole rim is hidden": "all hidden",
}
#: Names of what a zip holds.
ABOUT, SHEET = "about.json", "notebook.csv"
_NAME = re.compile(r"(?:entries/([0-9a-f]{32})\.json|photos/([0-9a-f]{32})\.jpg)")

#: Every trouble there is: code -> (what is the matter, what to do). One place explains each.
TROUBLES: Mapping[str, tuple[str, str]] = MappingProxyType(words.TROUBLES)


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


# Whether there is one -------------------------------------------------------

#: Headers that only something between the browser and the page adds (RFC 7239, RFC 9110 7.6.3, and the
#: usual ones of reverse proxies).
_BETWEEN = re.compile(r"forwarded|via|x-forwarded-.*|x-real-ip|x-client-ip|true-client-ip|cf-connecting-ip")


def is_local(address: str | None, headers: Mapping[str, str]) -> bool:
    """Tell whether a visitor sits at the machine on which the page runs.

    All of it must say so: what cannot be told is taken for a visitor from elsewhere.

    Parameters
    ----------
    address : str or None
        The address that the page listens on; None for all of the machine's.
    headers : mapping of str to str
        What the browser sent, names in any case. The host and the origin, which
        every browser gives (RFC 6455, 10.2), must be this machine, and nothing may
        stand between.

    Returns
    -------
    bool
    """
    sent = {name.lower(): value for name, value in headers.items()}
    return (
        is_this_machine(address)
        and is_this_machine(_host(sent.get("host", "")))
        and is_this_machine(_host(sent.get("origin", "").partition("://")[2]))
        and not any(_BETWEEN.fullmatch(name) for name in sent)
    )


def _host(authority: str) -> str:
    """The name in "name", "name:port" or "[address]:port" (RFC 3986, 3.2)."""
    found = re.fullmatch(r"(?:\[([^\]]+)\]|([^:\[\]/]+))(?::\d+)?/?", authority)
    return (found[1] or found[2]) if found else ""


def is_this_machine(name: str | None) -> bool:
    """Whether a name or address never leaves the machine.

    Parameters
    ----------
    name : str or None
        Without a port.

    Returns
    -------
    bool
        By RFC 6761, 6.3; RFC 1122, 3.2.1.3; RFC 4291, 2.5.3.
    """
    if not name:
        return False
    if name.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def turned_on(local: bool, switch: str | None) -> str:
    """Say whether a visitor has a notebook, and which.

    Parameters
    ----------
    local : bool
        The visitor sits at the machine itself, see :func:`is_local`.
    switch : str or None
        Value of the environment variable :data:`SWITCH`.

    Returns
    -------
    {"own", "shared", "off"}
        "own": that of the user who runs the page, :func:`open_own`. "shared":
        one of many on a server, which opens only to its code,
        :func:`open_shared`. "off": none. Whoever is not at the machine has
        none unless the switch says "on"; anything but "on" or nothing is off.
    """
    said = (switch or "").strip().lower()
    if said not in ("", "on"):
        return "off"
    if local:
        return "own"
    return "shared" if said else "off"


def _folder() -> Path:
    return platformdirs.user_data_path("rimtally", appauthor=False)


def own_path() -> Path:
    """Where the notebook of the user who runs the program lies, whether or not there is one yet."""
    return _folder() / "notebook.sqlite3"


def open_own() -> Notebook:
    """Open the notebook of the user who runs the program, a new one where there is none.

    Returns
    -------
    Notebook

    Raises
    ------
    NotebookError
        If it can't be opened.
    """
    return Notebook.open(own_path())


def new_shared() -> tuple[str, Notebook]:
    """Begin a notebook on a shared server.

    Returns
    -------
    code : str
        What opens it, and nothing else does: 100 random bits as five groups of
        four letters and digits. It is not kept anywhere, so that the person has to.
    notebook : Notebook

    Raises
    ------
    NotebookError
        If the server holds as many as it may, or the file can't be made.
    """
    folder = _folder() / "shared"
    with contextlib.suppress(OSError):
        if sum(1 for _ in folder.glob("*.sqlite3")) >= MOST_NOTEBOOKS:
            raise NotebookError("no more notebooks")
    # Base 32 (RFC 4648) in lower case: neither 0 nor 1, which look like letters.
    letters = base64.b32encode(secrets.token_bytes(15)).decode().lower()[:20]
    code = "-".join(letters[k : k + 4] for k in range(0, 20, 4))
    return code, Notebook.open(_shared_path(code))


def open_shared(code: str) -> Notebook | None:
    """Open a notebook on a shared server by its code.

    Parameters
    ----------
    code : str
        As a person types it; case, blanks and hyphens don't matter.

    Returns
    -------
    Notebook or None
        None where no notebook has that code; none is begun.

    Raises
    ------
    NotebookError
        If it can't be opened.
    """
    path = _shared_path(code)
    return Notebook.open(path) if os.path.exists(path) else None


def _shared_path(code: str) -> Path:
    """Where the notebook of a code lies: the folder's listing doesn't tell the code."""
    letters = "".join(c for c in code.lower() if c.isalnum())
    return _folder() / "shared" / f"{hashlib.sha256(letters.encode()).hexdigest()}.sqlite3"


# What is kept ---------------------------------------------------------------


@dataclass(frozen=True)
class Goal:
    """What a round is held against.

    Parameters
    ----------
    expected : int or None
        Its total, 1 to 1000; not together with a plan.
    plan : str
        Written rounds, at most :data:`MOST_PLAN` characters; empty without a plan.
    uk : bool
        The plan is in UK terms.
    round : int or None
        Which round of the plan it is; None lets the photo say.
    twin : bool
        The piece must match another one.
    since : int
        Rounds that were worked after this one, 0 to 1000.

    Raises
    ------
    ValueError
        With one line that says what is wrong.
    """

    expected: int | None = None
    plan: str = ""
    uk: bool = False
    round: int | None = None
    twin: bool = False
    since: int = 0

    def __post_init__(self) -> None:
        if self.expected is not None:
            _whole(self.expected, 1, MOST_EXPECTED, "the expected total")
            if self.plan:
                raise ValueError(words.TOTAL_OR_PLAN)
        _text(self.plan, MOST_PLAN, "the plan")
        if self.round is not None:
            _whole(self.round, 1, MOST_EXPECTED, "the round")
        _whole(self.since, 0, MOST_EXPECTED, "the rounds worked since")
        for flag in (self.uk, self.twin):
            if not isinstance(flag, bool):
                raise ValueError(words.KEPT_SWITCH)

    def check(self, count: Count) -> Check:
        """Hold a count against it.

        Parameters
        ----------
        count : Count

        Returns
        -------
        Check

        Raises
        ------
        ValueError
            As :func:`counter.comparing.check.check` does: the plan doesn't have the round, or not its total.
        """
        plan = read_plan(self.plan, uk=self.uk) if self.plan else None
        return check(
            count, expected=self.expected, plan=plan, round_number=self.round if plan else None,
            twin=self.twin, since=self.since, uk=self.uk,
        )  # fmt: skip

    @property
    def total(self) -> int | None:
        """The total that is expected, by itself or by the plan's round; None where it isn't known."""
        if self.expected is not None or not self.plan or self.round is None:
            return self.expected
        return _planned(self.plan, self.uk, self.round)


@functools.lru_cache(maxsize=MOST_ENTRIES)
def _planned(plan: str, uk: bool, number: int) -> int | None:
    """The total of a plan's round, None where it isn't known. A long plan takes a third of a second to read."""
    try:
        return total_of(read_plan(plan, uk=uk), number).stitches
    except ValueError:
        return None


@dataclass(frozen=True)
class KeptMark:
    """One mark on the rim as a person left it.

    Parameters
    ----------
    x, y : float
        Pixels of the upright photo, finite.
    own : int or None
        Number, from 1, that it has in the photo's own count; None where a person put it.
    """

    x: float
    y: float
    own: int | None = None


@dataclass(frozen=True)
class Corrections:
    """What a person changed about the photo's own marks.

    Parameters
    ----------
    added, moved : tuple of int
        Numbers, from 1, of marks as they stand.
    removed : tuple of int
        Numbers, from 1, of marks of the photo's own count.
    """

    added: tuple[int, ...]
    removed: tuple[int, ...]
    moved: tuple[int, ...]

    def __bool__(self) -> bool:
        return bool(self.added or self.removed or self.moved)


@dataclass(frozen=True)
class Entry:
    """One kept count, whole but for its photo.

    Parameters
    ----------
    key : str
        Names it: 32 hexadecimal digits.
    revision : int
        Grows with every change.
    kept, changed : datetime
        When it was kept and last changed (UTC).
    title, note : str
        In the person's words.
    count : Count
        The photo's own count, in pixels of the kept photo.
    marks : tuple of KeptMark
        As they stand, in working order, in pixels of the kept photo.
    confirmed : bool
        A person looked and said that it is so.
    goal : Goal
        What it is held against.
    answers : tuple of int or None
        What was asked about the first places in doubt of the photo's own
        count, one after the other: by how much the answer changes the number
        (-1, 0 or 1), None where it is still open.
    by_hand : bool
        Marks were changed otherwise than by answers.
    """

    key: str
    revision: int
    kept: datetime
    changed: datetime
    title: str
    note: str
    count: Count
    marks: tuple[KeptMark, ...]
    confirmed: bool
    goal: Goal
    answers: tuple[int | None, ...] = ()
    by_hand: bool = False

    @property
    def corrections(self) -> Corrections:
        """What a person changed."""
        first = self.count.marks
        stays = {mark.own for mark in self.marks}
        return Corrections(
            added=tuple(n for n, mark in enumerate(self.marks, start=1) if mark.own is None),
            removed=tuple(n for n in range(1, len(first) + 1) if n not in stays),
            moved=tuple(
                n for n, mark in enumerate(self.marks, start=1)
                if mark.own is not None and (mark.x, mark.y) != tuple(first[mark.own - 1])
            ),
        )  # fmt: skip

    @property
    def by_person(self) -> bool:
        """True where a person confirmed the count, answered all that was asked, or corrected one that asked nothing."""
        if self.confirmed:
            return True
        asked = len(questions_of(self.count))
        answered = sum(answer is not None for answer in self.answers[:asked])
        return answered == asked if asked else self.by_hand and bool(self.corrections)

    @property
    def settled(self) -> Count:
        """The count as it stands: the person's where there is one, else the photo's own."""
        if not self.by_person:
            return self.count
        return counted_by_person(self.count, np.array([(mark.x, mark.y) for mark in self.marks]))

    @property
    def state(self) -> str:
        """Who says so, and how sure: "counted by a person", "sure" or "not sure"."""
        return "counted by a person" if self.by_person else self.count.state

    @property
    def likely(self) -> tuple[int, ...]:
        """The numbers that it may be as it stands, ascending; the person's alone where there is one."""
        if self.by_person:
            return (len(self.marks),)
        questions = questions_of(self.count)
        # What can't be an answer is passed over, as where the count is gone on with.
        given = zip(self.answers, questions, strict=False)
        answers = {k: answer for k, (answer, question) in enumerate(given) if answer in question.changes}
        return tuple(sorted(weighed(self.count, questions, answers, len(self.marks))[1]))

    @property
    def off_by(self) -> int | None:
        """Stitches over the expected total, negative where short; None while either isn't known."""
        if self.goal.total is None or not self.settled.sure or self.count.in_progress:
            return None
        return len(self.marks) - self.goal.total

    def check(self) -> Check:
        """Hold the count as it stands against its goal; raises as :meth:`Goal.check` does."""
        return self.goal.check(self.settled)


@dataclass(frozen=True)
class Listed:
    """One line of the notebook's list.

    Parameters
    ----------
    key, title, note : str
    kept, changed : datetime
        UTC.
    stitches : int
        As many as there are marks.
    likely : tuple of int
        The numbers that it may be, ascending; only `stitches` where it is sure or counted by a person.
    state : str
        "counted by a person", "sure" or "not sure".
    expected, round, off_by : int or None
        Total and round that it is held against, and stitches over the total,
        negative where short; None where they aren't known.
    small : bytes
        A small JPEG of the photo, at most :data:`SMALL_SIDE` pixels wide and high.
    """

    key: str
    title: str
    note: str
    kept: datetime
    changed: datetime
    stitches: int
    likely: tuple[int, ...]
    state: str
    expected: int | None
    round: int | None
    off_by: int | None
    small: bytes = field(repr=False)


@dataclass(frozen=True)
class Listing:
    """A part of the list.

    Parameters
    ----------
    lines : tuple of Listed
        Kept last first.
    found : int
        How many there are in all.
    damaged : tuple of str
        Beginnings of the keys of those of this part that can't be read.
    """

    lines: tuple[Listed, ...]
    found: int
    damaged: tuple[str, ...] = ()


@dataclass(frozen=True)
class Imported:
    """What an import did.

    Parameters
    ----------
    added : int
        Counts that are new in the notebook.
    already : int
        Counts that were in it, just so.
    left_out : tuple of str
        One line for each that was left out, which begins with its name.
    """

    added: int
    already: int
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class Exported:
    """What an export did.

    Parameters
    ----------
    counts : int
        Counts that are in the zip.
    left_out : tuple of str
        One line for each that is damaged and so is not in it, which begins with its name.
    """

    counts: int
    left_out: tuple[str, ...] = ()


def counted_by_person(count: Count, marks: np.ndarray) -> Count:
    """What a person counted: the marks as they stand, beyond doubt.

    Parameters
    ----------
    count : Count
        The photo's own count.
    marks : ndarray of shape (N, 2), float
        The person's marks, (x, y) in the pixels that the count is in.

    Returns
    -------
    Count
        Sure, with all probability on the number of marks. The places in doubt
        stay, each with the number of the mark that is nearest now.
    """
    doubts = tuple(
        replace(doubt, mark=int(np.argmin(np.linalg.norm(marks - doubt.at, axis=1))) + 1) for doubt in count.doubts
    )
    total = len(marks)
    return replace(count, posterior={total: 1.0}, sure=True, likely=(total,), marks=marks, doubts=doubts, reason="")


def entry_of(
    count: Count,
    size: tuple[int, int],
    marks: Sequence[KeptMark] | None = None,
    *,
    confirmed: bool = False,
    goal: Goal | None = None,
    title: str = "",
    note: str = "",
    answers: Sequence[int | None] = (),
    by_hand: bool | None = None,
) -> Entry:
    """A count as it would be kept, with a new key; it isn't kept.

    Parameters
    ----------
    count, marks, confirmed, goal, title, note, answers, by_hand
        As in :meth:`Notebook.keep`.
    size : tuple of int
        (width, height) of the reduced photo beside which it stands.

    Returns
    -------
    Entry
        In pixels of that photo.

    Raises
    ------
    ValueError
        If a text, a mark or their number can't be.
    """
    if marks is None:
        marks = [KeptMark(float(x), float(y), n) for n, (x, y) in enumerate(count.marks, start=1)]
    now = _now()
    return _checked(
        Entry(
            secrets.token_hex(16), 1, now, now, title, note, scaled(count, size),
            _scaled_marks(marks, count.size, size), confirmed, goal or Goal(), tuple(answers), by_hand,
        )
    )  # fmt: skip


def entry_of_text(text: str | bytes) -> Entry:
    """Read what :func:`as_text` wrote, from anywhere, without its photo: every value is looked at.

    Parameters
    ----------
    text : str or bytes

    Returns
    -------
    Entry

    Raises
    ------
    ValueError
        If it is not such a text.
    """
    if len(text) > MOST_DATA:
        raise ValueError(words.KEPT_WRONG["large"])
    try:
        return _entry_of(_parsed(text))
    except TypeError as error:
        raise ValueError(str(error)) from None


def from_text(text: str | bytes, picture: bytes, least: int | None = None) -> tuple[Entry, Image.Image]:
    """Read what :func:`as_text` wrote, from anywhere: every value is looked at.

    Parameters
    ----------
    text : str or bytes
    picture : bytes
        Its photo, a JPEG that holds nothing but a picture.
    least : int, optional
        As for :func:`bare_photo`.

    Returns
    -------
    entry : Entry
    photo : Image
        RGB.

    Raises
    ------
    ValueError
        If it is not such a text, or the photo not the one that was counted.
    """
    if len(picture) > MOST_PHOTO:
        raise ValueError(words.KEPT_WRONG["large"])
    entry = entry_of_text(text)
    photo = bare_photo(picture, least)
    if photo.info["size"] != entry.count.size:
        raise ValueError(words.KEPT_WRONG["another photo"])
    return entry, photo


# The file -------------------------------------------------------------------


@dataclass(frozen=True)
class Notebook:
    """A notebook file; make one by :meth:`open`, which sees that it is sound.

    Every method raises :class:`NotebookError` where the file can't be read or
    written, and then nothing has been changed.

    Parameters
    ----------
    path : Path
        Where the file is.
    """

    path: Path

    @classmethod
    def open(cls, path: str | os.PathLike) -> Notebook:
        """Open a notebook, or begin one where there is no file.

        Parameters
        ----------
        path : path
            Its folder is made where it is missing. File and folder are for
            this user alone (Unix permissions).

        Returns
        -------
        Notebook

        Raises
        ------
        NotebookError
            If the file is damaged, something else or of a newer version: it is
            then left as it is. Also if it can't be made.
        """
        book = cls(Path(path))
        try:
            book.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with contextlib.suppress(FileExistsError):
                os.close(os.open(book.path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        except OSError as error:
            raise NotebookError("no file", error.strerror.lower() if error.strerror else words.FILE_UNMADE) from None
        with book._connection() as link:
            if [tuple(row) for row in link.execute("PRAGMA quick_check(1)")] != [("ok",)]:
                raise NotebookError("damaged")
            if not _is_current(link):
                with _transaction(link):
                    _bring_up(link)
        return book

    def keep(
        self,
        photo: Photo,
        count: Count,
        marks: Sequence[KeptMark] | None = None,
        *,
        confirmed: bool = False,
        goal: Goal | None = None,
        title: str = "",
        note: str = "",
        answers: Sequence[int | None] = (),
        by_hand: bool | None = None,
    ) -> Entry:
        """Keep a count.

        Parameters
        ----------
        photo : Photo
            Kept at a long side of at most :data:`LONG_SIDE` pixels, without metadata.
        count : Count
            The photo's own count of it.
        marks : sequence of KeptMark, optional
            As a person left them, in pixels of `photo`, 3 to 1000; else those of the count.
        confirmed : bool, optional
            A person looked and said that it is so.
        goal : Goal, optional
            What it is held against.
        title, note : str, optional
            In the person's words, at most :data:`MOST_TITLE` and :data:`MOST_NOTE` characters.
        answers, by_hand : optional
            As an :class:`Entry` has them. Without a word, marks that are not
            the photo's own count as changed by hand, unless there are answers.

        Returns
        -------
        Entry
            As it stands in the notebook now: all places are in pixels of the kept photo.

        Raises
        ------
        ValueError
            If the photo is not the count's, or a text, a mark or their number can't be.
        NotebookError
            If it can't be kept.
        """
        if (photo.width, photo.height) != tuple(count.size):
            raise ValueError(f"the count is of a photo of {count.size} pixels, not {(photo.width, photo.height)}")
        # The working copy is larger than what is kept, and is there already.
        picture = _reduced(Image.fromarray(photo.working), LONG_SIDE)
        entry = entry_of(
            count, picture.size, marks, confirmed=confirmed, goal=goal, title=title, note=note, answers=answers,
            by_hand=by_hand,
        )  # fmt: skip
        large = _jpeg(picture, QUALITY)
        self._need_room(len(large))
        with self._writing() as link:
            _need_places(link, 1)
            _insert(link, entry, large, _small(picture))
        return entry

    def change(
        self,
        entry: Entry,
        *,
        marks: Sequence[KeptMark] | None = None,
        size: tuple[int, int] | None = None,
        confirmed: bool | None = None,
        goal: Goal | None = None,
        title: str | None = None,
        note: str | None = None,
        answers: Sequence[int | None] | None = None,
        by_hand: bool | None = None,
    ) -> Entry:
        """Save what a person changed; what isn't given stays.

        Parameters
        ----------
        entry : Entry
            As it was read or saved last.
        marks : sequence of KeptMark, optional
            All marks as they stand now.
        size : tuple of int, optional
            (width, height) of the photo whose pixels `marks` are in, where it
            is not the kept one.
        confirmed, goal, title, note, answers, by_hand : optional
            As in :meth:`keep`.

        Returns
        -------
        Entry
            As it stands in the notebook now; the same where nothing is changed.

        Raises
        ------
        ValueError
            If a text, a mark or their number can't be.
        NotebookError
            If it was deleted or changed elsewhere since, or can't be written.
        """
        own = entry.count.size
        new = replace(
            entry,
            marks=entry.marks if marks is None else _scaled_marks(marks, size or own, own),
            confirmed=entry.confirmed if confirmed is None else confirmed,
            goal=entry.goal if goal is None else goal,
            title=entry.title if title is None else title,
            note=entry.note if note is None else note,
            answers=entry.answers if answers is None else tuple(answers),
            by_hand=(entry.by_hand or None) if by_hand is None else by_hand,
        )
        new = _checked(new)
        if as_text(new) == as_text(entry):
            return entry
        new = replace(new, revision=entry.revision + 1, changed=_now())
        columns = _columns(new)
        setting = ", ".join(f"{name} = :{name}" for name in columns)
        with self._writing() as link:
            done = link.execute(
                f"UPDATE entry SET {setting} WHERE key = :key AND revision = :revision - 1",
                columns,
            )
            if not done.rowcount:
                there = link.execute("SELECT 1 FROM entry WHERE key = ?", (entry.key,)).fetchone()
                raise NotebookError("changed elsewhere" if there else "gone")
        return new

    def entry(self, key: str) -> Entry:
        """Read one count.

        Parameters
        ----------
        key : str

        Returns
        -------
        Entry

        Raises
        ------
        NotebookError
            If it is not there, or can't be read.
        """
        with self._connection() as link:
            return _read(link, key)

    def photo(self, key: str) -> Photo:
        """Read the photo of one count; raises as :meth:`entry` does."""
        with self._connection() as link:
            row = link.execute("SELECT large FROM photo WHERE key = ?", (key,)).fetchone()
        if row is None:
            raise NotebookError("gone")
        try:
            return Photo(np.array(_decoded(row["large"])))
        except ValueError:
            raise NotebookError("damaged count", words.COUNT_NAMED.format(key=_name_of(key))) from None

    def listing(self, sought: str = "", *, first: int = 0, most: int = 50) -> Listing:
        """List what is kept.

        Parameters
        ----------
        sought : str, optional
            Words that must all be found in title, note, plan, date ("2031-05-04",
            "4 May 2031"), numbers of stitches, state or verdict; case doesn't matter.
        first : int, optional
            Lines to pass over.
        most : int, optional
            Most lines to give.

        Returns
        -------
        Listing
        """
        seek = [_folded(word) for word in sought.split()[:MOST_SOUGHT]]
        where = " AND ".join(["instr(sought, ?) > 0"] * len(seek)) or "1"
        with self._connection() as link, _transaction(link, "BEGIN"):
            found = link.execute(f"SELECT count(*) FROM entry WHERE {where}", seek).fetchone()[0]
            rows = link.execute(
                "SELECT key, title, note, kept, changed, stitches, likely, state, expected, round, off_by, small"
                f" FROM entry JOIN photo USING (key) WHERE {where} ORDER BY kept DESC, key LIMIT ? OFFSET ?",
                (*seek, max(0, most), max(0, first)),
            ).fetchall()
        lines, damaged = [], []
        for row in rows:
            try:
                lines.append(_listed(row))
            except (ValueError, TypeError, AttributeError):  # one that is damaged is no reason to lose the others
                damaged.append(_name_of(row["key"]))
        return Listing(tuple(lines), found, tuple(damaged))

    def delete(self, *keys: str) -> int:
        """Delete counts and their photos for good: their bytes are gone from the file, too.

        Parameters
        ----------
        *keys : str
            What isn't there is passed over.

        Returns
        -------
        int
            How many were deleted.

        Raises
        ------
        NotebookError
            With the code "not tidied" where they were deleted and overwritten,
            but the file could not be written anew; with any other, nothing was deleted.
        """
        with self._writing() as link:
            gone = sum(link.execute("DELETE FROM entry WHERE key = ?", (key,)).rowcount for key in keys)
        if gone:
            # Overwriting spares what SQLite had copied when it moved rows from page to page; writing the file
            # anew leaves only what is kept, and gives the room back.
            try:
                with self._connection() as link:
                    link.execute("VACUUM")
            except NotebookError as error:
                raise NotebookError("not tidied", words.NOT_TIDIED.get(error.code, error.code)) from None
        return gone

    # Export and import ------------------------------------------------------

    def export(self, file: BinaryIO) -> Exported:
        """Write everything into one zip, after a look at it such as an import takes.

        It holds ``notebook.csv`` (one line a count, for a spreadsheet),
        ``entries/KEY.json`` (all of a count as plain JSON) and
        ``photos/KEY.jpg``, and ``about.json``, which says what it is.

        Parameters
        ----------
        file : binary file
            Open for writing.

        Returns
        -------
        Exported

        Raises
        ------
        NotebookError
            If the notebook can't be read.
        OSError
            If `file` can't be written.
        """
        # One transaction: what another session saves meanwhile is in it whole or not at all.
        with self._connection() as link, _transaction(link, "BEGIN"), zipfile.ZipFile(file, "w") as pack:
            keys = [row["key"] for row in link.execute("SELECT key FROM entry ORDER BY kept, key")]
            lines, left_out = [], []
            for key in keys:
                row = link.execute(
                    "SELECT data, large FROM entry JOIN photo USING (key) WHERE key = ?", (key,)
                ).fetchone()
                try:
                    entry = _entry_of(_parsed(row["data"]))
                    text = as_text(entry).encode()
                    _look_at(key, text, row["large"])
                except (ValueError, TypeError) as error:
                    left_out.append(words.ZIP_COUNT.format(key=_name_of(key), detail=_one_line(error)))
                    continue
                lines.append(_sheet_line(entry))
                _put(pack, f"entries/{key}.json", text)
                _put(pack, f"photos/{key}.jpg", row["large"], zipfile.ZIP_STORED)
            about = {"format": FORMAT, "version": FORMAT_VERSION, "counts": len(lines)}
            _put(pack, ABOUT, json.dumps(about, indent=1).encode())
            # With a byte order mark, by which spreadsheets know UTF-8.
            _put(pack, SHEET, csv_table(words.BOOK_SHEET_HEAD, lines).encode("utf-8-sig"))
        return Exported(len(lines), tuple(left_out))

    def import_zip(
        self,
        source: str | os.PathLike | bytes | BinaryIO,
        progress: Callable[[int, int], None] | None = None,
        *,
        leave_out: bool = False,
    ) -> Imported:
        """Take in what was exported, all of it or nothing.

        What is already there, just so, is left out; a count that went on
        elsewhere is added beside the one that is here. Nothing is overwritten.

        Parameters
        ----------
        source : path, bytes or seekable binary file
            A zip as :meth:`export` writes it; whatever else it may be is refused.
        progress : callable, optional
            Told before each count is looked at how many were and how many there are.
        leave_out : bool, optional
            Leave out, by name, what is damaged or lacks its photo, and take in the others.

        Returns
        -------
        Imported

        Raises
        ------
        NotebookError
            If it can't be imported; the notebook is then as it was.
        """
        with _opened_zip(source) as pack:
            found, left_out = _contents(pack, leave_out)
            # Everything is looked at before the notebook is touched; photos are not held in memory meanwhile.
            checked = []
            for done, key in enumerate(found):
                if progress:
                    progress(done, len(found))
                try:
                    checked.append(_from_zip(pack, key))
                except NotebookError as error:
                    if not leave_out:
                        raise
                    left_out.append(error.detail)
            self._need_room(sum(one.size for one in checked))
            read, unread = set(), MOST_READ
            for one in checked:  # plans are read before anybody has to wait for the file
                goal = one.entry.goal
                if goal.plan not in read and len(goal.plan) <= unread:
                    read.add(goal.plan)
                    unread -= len(goal.plan)
                    _ = goal.total
            added = already = 0
            with self._writing() as link:
                for one in checked:
                    entry = _placed(link, one.entry)
                    if entry is None:
                        already += 1
                        continue
                    large = _cut(_unpacked(pack, f"photos/{one.entry.key}.jpg", MOST_PHOTO))
                    if hashlib.sha256(large).digest() != one.digest:
                        raise NotebookError("import", words.ZIP["changed"])
                    _need_places(link, 1)
                    _insert(link, entry, large, one.small, planned=entry.goal.plan in read)
                    added += 1
        return Imported(added, already, tuple(left_out))

    # Connections ------------------------------------------------------------

    @contextlib.contextmanager
    def _connection(self) -> Iterator[sqlite3.Connection]:
        """A connection that is closed at the end; SQLite's errors leave as one readable line."""
        link = None
        try:
            link = sqlite3.connect(
                f"{self.path.absolute().as_uri()}?mode=rw", uri=True, timeout=PATIENCE, isolation_level=None
            )
            link.row_factory = sqlite3.Row
            # Bytes that are no text are found where a count is read, which says whose they are.
            link.text_factory = lambda data: data.decode("utf-8", "surrogateescape")
            for order in SETUP:
                link.execute(order).fetchall()
            yield link
        except sqlite3.Error as error:
            _explain(error)
        finally:
            if link is not None:
                link.close()

    @contextlib.contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction that may write."""
        with self._connection() as link, _transaction(link):
            if not _is_current(link):  # brought up by a newer program while this one was open
                _bring_up(link)
            yield link

    def _need_room(self, more: int) -> None:
        try:
            free = shutil.disk_usage(self.path.parent).free
        except OSError:
            return  # SQLite will say
        if free < LEAST_FREE + more:
            raise NotebookError("full", words.DISK_LEFT.format(n=LEAST_FREE // 1_000_000))


@contextlib.contextmanager
def _transaction(link: sqlite3.Connection, begin: str = "BEGIN IMMEDIATE") -> Iterator[None]:
    link.execute(begin)
    try:
        yield
        link.execute("COMMIT")
    except BaseException:
        if link.in_transaction:  # SQLite may have taken it back by itself
            link.execute("ROLLBACK")
        raise


#: SQLite's primary result codes -> trouble (https://www.sqlite.org/rescode.html).
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


def _explain(error: sqlite3.Error) -> NoReturn:
    if not hasattr(error, "sqlite_errorcode"):  # not from the file, but a mistake in how it is called
        raise error
    trouble = _BY_RESULT.get(error.sqlite_errorcode & 0xFF)  # the low byte is the primary code
    raise NotebookError(trouble or "disk", "" if trouble else error.sqlite_errorname) from error


def _is_current(link: sqlite3.Connection) -> bool:
    """Whether the file is a notebook of this version; raises where it must not be touched."""
    application = link.execute("PRAGMA application_id").fetchone()[0]
    version = link.execute("PRAGMA user_version").fetchone()[0]
    if application != APPLICATION:
        if application or version or link.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            raise NotebookError("not ours")
        return False
    if version > len(STEPS):
        raise NotebookError("newer")
    return version == len(STEPS)


def _bring_up(link: sqlite3.Connection) -> None:
    """Bring the file to this version, within the transaction that has begun."""
    if _is_current(link):  # another process was faster
        return
    link.create_function("likely_of", 1, _likely_of, deterministic=True)
    for step in STEPS[link.execute("PRAGMA user_version").fetchone()[0] :]:
        for order in step:
            link.execute(order)
    link.execute(f"PRAGMA application_id = {APPLICATION}")
    link.execute(f"PRAGMA user_version = {len(STEPS)}")


def _need_places(link: sqlite3.Connection, more: int) -> None:
    if link.execute("SELECT count(*) FROM entry").fetchone()[0] + more > MOST_ENTRIES:
        raise NotebookError("too many")


def _columns(entry: Entry, planned: bool = True) -> dict[str, object]:
    """One row of the table, by column; what the plan says only where it is read."""
    kept = entry.kept.isoformat()
    total = entry.goal.total if planned else entry.goal.expected
    off = None if total is None else entry.off_by
    # In every way in which it is shown: a date with its month's name, the person as "you".
    said = [entry.title, entry.note, entry.goal.plan, kept[:10], words.date(entry.kept)]
    said += [words.stitches(words.either(entry.likely)), words.TOTAL.format(n=len(entry.marks))]
    said += [entry.state, words.STATES[entry.state]]
    said += [] if off is None else [words.headline(off)]
    said += [] if entry.goal.round is None else [words.ROUND_N.format(n=entry.goal.round)]
    return {
        "key": entry.key, "revision": entry.revision, "kept": kept, "changed": entry.changed.isoformat(),
        "title": entry.title, "note": entry.note, "stitches": len(entry.marks), "likely": _in_column(entry),
        "state": entry.state, "expected": total, "round": entry.goal.round, "off_by": off,
        "sought": _folded("\n".join(said)),
        "data": as_text(entry),
    }  # fmt: skip


def _in_column(entry: Entry) -> str:
    """The numbers that a count may be, with blanks; empty where there is one."""
    return " ".join(map(str, entry.likely)) if len(entry.likely) > 1 else ""


def _likely_of(data: str) -> str:
    """The same of an entry's data, for files of before; a row that isn't sound is left to whoever opens it."""
    try:
        return _in_column(_entry_of(_parsed(data)))
    except (ValueError, TypeError):
        return ""


def _listed(row: sqlite3.Row) -> Listed:
    """A line of the list; what it raises says that the row is damaged."""
    _text(row["title"], MOST_TITLE, "the title")
    _text(row["note"], MOST_NOTE, "the note")
    _whole(row["stitches"], FEWEST_MARKS, MOST_EXPECTED, "a count")
    if not re.fullmatch(r"[0-9a-f]{32}", row["key"]) or row["state"] not in words.STATES:
        raise ValueError(words.KEPT_WRONG["fields"])
    for name in ("expected", "round", "off_by"):
        if row[name] is not None:
            _whole(row[name], -MOST_EXPECTED, MOST_EXPECTED, "a count")
    own = {name: _moment(row[name]) for name in ("kept", "changed")}
    likely = tuple(_whole(int(n), 1, MOST_EXPECTED, "a count") for n in row["likely"].split())
    return Listed(**dict(row) | own | {"likely": likely or (row["stitches"],), "small": bytes(row["small"])})


def _name_of(key: object) -> str:
    """The beginning of a key, by which a count is named; a damaged one may be anything."""
    return "".join(c if c.isascii() and c.isprintable() else "?" for c in str(key)[:8])


def _insert(link: sqlite3.Connection, entry: Entry, large: bytes, small: bytes, planned: bool = True) -> None:
    columns = _columns(entry, planned)
    link.execute(
        f"INSERT INTO entry ({', '.join(columns)}) VALUES ({', '.join(f':{name}' for name in columns)})", columns
    )
    link.execute("INSERT INTO photo (key, large, small) VALUES (?, ?, ?)", (entry.key, large, small))


def _read(link: sqlite3.Connection, key: str) -> Entry:
    row = link.execute("SELECT revision, data FROM entry WHERE key = ?", (key,)).fetchone()
    if row is None:
        raise NotebookError("gone")
    try:
        return replace(_entry_of(_parsed(row["data"])), revision=row["revision"])
    except (ValueError, TypeError):
        raise NotebookError("damaged count", words.COUNT_NAMED.format(key=_name_of(key))) from None


def _placed(link: sqlite3.Connection, entry: Entry) -> Entry | None:
    """An imported entry under a key that is free; None where it is here already, just so.

    One that differs from the one that is here gets a key that its content
    decides, so that importing it again finds it.
    """
    own, content = entry, ""
    for turn in itertools.count(1):
        if link.execute("SELECT 1 FROM entry WHERE key = ?", (own.key,)).fetchone() is None:
            return own
        content = content or as_text(entry)
        # Read, so that one of an earlier version is the same as its like.
        if as_text(_read(link, own.key)) == as_text(own):
            return None
        own = replace(entry, key=hashlib.sha256(f"{turn} {content}".encode()).hexdigest()[:32])
    return None


# Photos ---------------------------------------------------------------------


def _reduced(picture: Image.Image, side: int) -> Image.Image:
    share = side / max(picture.size)
    if share >= 1:
        return picture
    size = tuple(max(1, round(share * length)) for length in picture.size)
    return picture.resize(size, Image.Resampling.LANCZOS, reducing_gap=3)


def _jpeg(picture: Image.Image, quality: int) -> bytes:
    """Pixels alone: what else the picture carried is left behind."""
    data = io.BytesIO()
    Image.fromarray(np.asarray(picture)).save(data, "JPEG", quality=quality)
    return data.getvalue()


def _small(picture: Image.Image) -> bytes:
    share = SMALL_SIDE / max(picture.size)
    if share < 1:
        size = tuple(max(1, round(share * length)) for length in picture.size)
        picture = Image.fromarray(cv2.resize(np.asarray(picture), size, interpolation=cv2.INTER_AREA))
    return _jpeg(picture, SMALL_QUALITY)


def _decoded(data: bytes, least: int | None = None) -> Image.Image:
    """The picture of a kept photo, all of it looked at, decoded no larger than asked; ValueError where it isn't one.

    Its ``info["size"]`` is that of the whole.
    """
    try:
        with Image.open(io.BytesIO(data), formats=["JPEG"]) as picture:
            size = picture.size
            if max(size) > LONG_SIDE:
                raise ValueError(words.KEPT_WRONG["pixels"])
            part = next((s for s in (8, 4, 2) if least and max(size) // s >= least and min(size) >= s), 1)
            picture.draft(picture.mode, (size[0] // part, size[1] // part))
            picture.load()
            if picture.mode != "RGB":
                raise ValueError(words.KEPT_WRONG["colour"])
            picture.info["size"] = size
            return picture
    except ValueError:
        raise
    except Exception:  # decoders raise whatever they like on damaged data
        raise ValueError(words.KEPT_WRONG["photo"]) from None


#: What follows upon a byte 0xFF in the midst of a scan of a JPEG: a data byte, a restart, or fill (ITU-T T.81, B.1.1).
_MARKER = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")


def _cut(data: bytes) -> bytes:
    """A JPEG up to its end (ITU-T T.81, B.1.1.2): what stands behind it is nobody's picture."""
    at = 2
    while len(data) >= at + 4 and data[at] == 0xFF:
        if data[at + 1] == 0xD9:
            return data[: at + 2]
        scan = data[at + 1] == 0xDA
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if scan:
            found = _MARKER.search(data, at)
            if found is None:
                break
            at = found.start()
    return data[: at + 2] if data[at : at + 2] == b"\xff\xd9" else data


def bare_photo(data: bytes, least: int | None = None) -> Image.Image:
    """Open a JPEG that holds nothing but a picture, as ours do.

    Parameters
    ----------
    data : bytes
        From anywhere.
    least : int, optional
        Pixels that the long side need not exceed.

    Returns
    -------
    Image
        RGB, at most :data:`LONG_SIDE` pixels wide and high; ``info["size"]`` is the size of the whole.

    Raises
    ------
    ValueError
        If it is anything else.
    """
    picture = _decoded(data, least)
    # One application segment, JFIF, and nothing behind the end of the image (ITU-T T.81, B.2.1).
    segments = [name for name, _ in picture.applist]
    if segments != ["APP0"] or "comment" in picture.info or len(_cut(data)) != len(data) or data[-2:] != b"\xff\xd9":
        raise ValueError(words.KEPT_WRONG["more"])
    return picture


# Entries as plain data ------------------------------------------------------


def _now() -> datetime:
    return datetime.now(UTC).replace(microsecond=0)


def _moment(text: object) -> datetime:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None or not 2000 <= moment.year < 2200:
        raise ValueError(words.KEPT_WRONG["date"])
    return moment.astimezone(UTC).replace(microsecond=0)


def _folded(text: str) -> str:
    return unicodedata.normalize("NFKC", text).casefold()


def _text(text: object, most: int, what: str) -> str:
    if not isinstance(text, str) or len(text) > most:
        raise ValueError(words.KEPT_TEXT.format(what=words.KEPT_PARTS[what], most=most))
    if any(0xD800 <= ord(c) < 0xE000 for c in text):  # half of a character: no file can hold it
        raise ValueError(words.KEPT_CHARACTERS.format(what=words.KEPT_PARTS[what]))
    return text


def _whole(number: object, low: int, high: int, what: str) -> int:
    if isinstance(number, bool) or not isinstance(number, int) or not low <= number <= high:
        raise ValueError(words.KEPT_WHOLE.format(what=words.KEPT_PARTS[what], low=low, high=high))
    return number


def _number(number: object, low: float, high: float, what: str) -> float:
    if isinstance(number, bool) or not isinstance(number, int | float) or not low <= number <= high:  # NaN fails, too
        raise ValueError(words.KEPT_NUMBER.format(what=words.KEPT_PARTS[what], low=low, high=high))
    return float(number)


def _numbers(values: Sequence[object], low: float, high: float, what: str) -> np.ndarray:
    """The same for many, at once where all of them are."""
    if set(map(type, values)) <= {int, float}:
        with contextlib.suppress(OverflowError):
            found = np.array(values, float)
            if ((found >= low) & (found <= high)).all():  # NaN fails, too
                return found
    return np.array([_number(value, low, high, what) for value in values])


def _checked(entry: Entry) -> Entry:
    """The same entry, with a word about its marks where it has none; ValueError where it can't be kept."""
    _text(entry.title, MOST_TITLE, "the title")
    _text(entry.note, MOST_NOTE, "the note")
    if not isinstance(entry.confirmed, bool):
        raise ValueError(words.KEPT_SWITCH)
    if not FEWEST_MARKS <= len(entry.marks) <= MOST_EXPECTED:
        raise ValueError(words.KEPT_MARKS.format(least=FEWEST_MARKS, most=MOST_EXPECTED, n=len(entry.marks)))
    own = [mark.own for mark in entry.marks if mark.own is not None]
    for number in own:
        _whole(number, 1, len(entry.count.marks), "the number of a mark")
    if len(set(own)) < len(own):
        raise ValueError(words.KEPT_WRONG["twice"])
    width, height = entry.count.size
    for mark in entry.marks:
        # The rim may leave the frame a little.
        _number(mark.x, -width, 2 * width, "the place of a mark")
        _number(mark.y, -height, 2 * height, "the place of a mark")
    if len(entry.answers) > len(entry.count.doubts):
        raise ValueError(words.KEPT_WRONG["answers"])
    for answer in entry.answers:
        if answer is not None:
            _whole(answer, -1, 1, "an answer")
    if entry.by_hand is None:
        answered = any(answer is not None for answer in entry.answers)
        return replace(entry, by_hand=bool(entry.corrections) and not answered)
    _flag(entry.by_hand)
    return entry


def in_copy(
    points: Sequence[tuple[float, float]] | np.ndarray, size: tuple[int, int], kept: tuple[int, int]
) -> np.ndarray:
    """Places of a photo in a copy of it.

    Parameters
    ----------
    points : array of shape (N, 2)
        (x, y) in pixels of the photo.
    size, kept : tuple of int
        (width, height) of the photo and of the copy.

    Returns
    -------
    ndarray of shape (N, 2)
        Rounded to a thousandth of a pixel; the middle of the first pixel is (0, 0) in both.
    """
    return np.round((np.asarray(points, float).reshape(-1, 2) + 0.5) * (np.array(kept) / size) - 0.5, 3)


def _scaled_marks(marks: Sequence[KeptMark], size: tuple[int, int], kept: tuple[int, int]) -> tuple[KeptMark, ...]:
    points = [(mark.x, mark.y) for mark in marks]
    if not all(math.isfinite(v) for point in points for v in point):
        raise ValueError(words.KEPT_WRONG["place"])
    placed = in_copy(points, size, kept)
    return tuple(replace(mark, x=float(x), y=float(y)) for mark, (x, y) in zip(marks, placed, strict=True))


def scaled(count: Count, kept: tuple[int, int]) -> Count:
    """A count in pixels of a smaller copy of its photo.

    Parameters
    ----------
    count : Count
    kept : tuple of int
        (width, height) of the copy.

    Returns
    -------
    Count
        Places are rounded to a thousandth of a pixel; the middle of the first
        pixel is (0, 0) in both.
    """

    def at(point: tuple[float, float]) -> tuple[float, float]:
        x, y = in_copy([point], count.size, kept)[0]
        return float(x), float(y)

    working = count.in_progress
    return replace(
        count,
        marks=in_copy(count.marks, count.size, kept),
        outline=in_copy(count.outline, count.size, kept),
        shared=np.round(np.asarray(count.shared, float), 4),
        centre=at(count.centre),
        doubts=tuple(replace(doubt, at=at(doubt.at)) for doubt in count.doubts),
        in_progress=working and replace(working, loop=at(working.loop)),
        size=tuple(kept),
    )


def as_text(entry: Entry) -> str:
    """All of an entry but its photo as JSON, as in an exported zip.

    Parameters
    ----------
    entry : Entry

    Returns
    -------
    str
        The same for the same entry; its revision is the file's own matter.
    """
    count, goal, working = entry.count, entry.goal, entry.count.in_progress
    data = {
        "key": entry.key,
        "kept": entry.kept.isoformat(),
        "changed": entry.changed.isoformat(),
        "title": entry.title,
        "note": entry.note,
        "confirmed": entry.confirmed,
        "goal": {
            "expected": goal.expected, "plan": goal.plan, "uk": goal.uk, "round": goal.round, "twin": goal.twin,
            "since": goal.since,
        },
        "marks": [{"x": mark.x, "y": mark.y, "own": mark.own} for mark in entry.marks],
        "answers": list(entry.answers),
        "by_hand": entry.by_hand,
        "count": {
            "posterior": {str(n): float(count.posterior[n]) for n in sorted(count.posterior)},
            "sure": bool(count.sure),
            "likely": [int(n) for n in count.likely],
            "marks": count.marks.tolist(),
            "doubts": [
                {"mark": int(d.mark), "at": [float(v) for v in d.at], "why": d.why, "kind": d.kind}
                for d in count.doubts
            ],
            "centre": [float(v) for v in count.centre],
            "outline": count.outline.tolist(),
            "shared": count.shared.tolist(),
            "start_seen": bool(count.start_seen),
            "rounds": None if count.rounds is None else int(count.rounds),
            "in_progress": working
            and {"done": int(working.done), "left": int(working.left), "loop": [float(v) for v in working.loop]},
            "reason": count.reason,
            "size": [int(v) for v in count.size],
            "seconds": round(float(count.seconds), 3),
        },
    }  # fmt: skip
    return json.dumps(data, ensure_ascii=False, allow_nan=False)


def _parsed(text: str | bytes) -> object:
    """JSON -> plain data; ValueError where it isn't any."""

    def refuse(name: str) -> NoReturn:
        raise ValueError(words.KEPT_NO_NUMBER.format(text=name))

    try:
        return json.loads(text, parse_constant=refuse)
    except RecursionError:
        raise ValueError(words.KEPT_WRONG["deep"]) from None


def _fields(data: object, *names: str) -> list:
    """Values of exactly these fields."""
    if not isinstance(data, dict) or data.keys() != set(names):
        raise ValueError(words.KEPT_WRONG["fields"])
    return [data[name] for name in names]


def _list(data: object, least: int, most: int) -> list:
    if not isinstance(data, list) or not least <= len(data) <= most:
        raise ValueError(words.KEPT_LIST.format(least=least, most=most))
    return data


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueError(words.KEPT_SWITCH)
    return value


def _entry_of(data: object) -> Entry:
    """Plain data -> an entry, every value looked at; ValueError where one can't be.

    Version 1 kept no answers: nothing had been asked there, and marks that are
    not the photo's own had been changed by hand.
    """
    if isinstance(data, dict) and not data.keys() & {"answers", "by_hand"}:
        data = data | {"answers": [], "by_hand": None}
    elif isinstance(data, dict) and data.get("by_hand") is None:
        raise ValueError(words.KEPT_WRONG["by hand"])
    key, kept, changed, title, note, confirmed, goal, marks, answers, by_hand, count = _fields(
        data, "key", "kept", "changed", "title", "note", "confirmed", "goal", "marks", "answers", "by_hand", "count"
    )
    if not isinstance(key, str) or not re.fullmatch(r"[0-9a-f]{32}", key):
        raise ValueError(words.KEPT_WRONG["key"])
    if not isinstance(kept, str) or not isinstance(changed, str):
        raise ValueError(words.KEPT_WRONG["date"])
    names = ("expected", "plan", "uk", "round", "twin", "since")
    places = [_fields(mark, "x", "y", "own") for mark in _list(marks, FEWEST_MARKS, MOST_EXPECTED)]
    far = 2.0 * LONG_SIDE
    return _checked(
        Entry(
            key, 1, _moment(kept), _moment(changed), title, note, _count_of(count),
            tuple(KeptMark(_number(x, -far, far, "x"), _number(y, -far, far, "y"), own) for x, y, own in places),
            confirmed, Goal(**dict(zip(names, _fields(goal, *names), strict=True))),
            tuple(_list(answers, 0, MOST_DOUBTS)), by_hand,
        )
    )  # fmt: skip


def _count_of(data: object) -> Count:
    (
        posterior, sure, likely, marks, doubts, centre, outline, shared, start_seen, rounds, in_progress, reason, size,
        seconds,
    ) = _fields(
        data, "posterior", "sure", "likely", "marks", "doubts", "centre", "outline", "shared", "start_seen", "rounds",
        "in_progress", "reason", "size", "seconds",
    )  # fmt: skip
    width, height = (_whole(v, 1, LONG_SIDE, "the size") for v in _list(size, 2, 2))

    def at(place: object) -> tuple[float, float]:
        x, y = _list(place, 2, 2)
        return _number(x, -width, 2 * width, "a place"), _number(y, -height, 2 * height, "a place")

    def places(points: list) -> np.ndarray:
        flat = [_list(point, 2, 2) for point in points]
        columns = zip((width, height), zip(*flat, strict=True), strict=True)
        return np.stack([_numbers(values, -side, 2 * side, "a place") for side, values in columns], -1)

    if not isinstance(posterior, dict) or not 1 <= len(posterior) <= MOST_EXPECTED:
        raise ValueError(words.KEPT_WRONG["probabilities"])
    if not all(re.fullmatch(r"[1-9][0-9]{0,3}", number) for number in posterior):
        raise ValueError(words.KEPT_WRONG["probabilities"])
    chances = {
        _whole(int(number), 1, MOST_EXPECTED, "a count"): _number(chance, 0, 1, "a probability")
        for number, chance in posterior.items()
    }
    if not 0 < sum(chances.values()) < 1.001:
        raise ValueError(words.KEPT_WRONG["probabilities"])
    numbers = tuple(_whole(n, 1, MOST_EXPECTED, "a count") for n in _list(likely, 1, MOST_EXPECTED))
    if len(set(numbers)) < len(numbers) or not set(numbers) <= chances.keys():
        raise ValueError(words.KEPT_WRONG["likely"])
    stood = places(_list(marks, 1, MOST_EXPECTED))
    working = None
    if in_progress is not None:
        done, left, loop = _fields(in_progress, "done", "left", "loop")
        working = InProgress(
            _whole(done, 0, MOST_EXPECTED, "stitches made"), _whole(left, 0, MOST_EXPECTED, "stitches left"), at(loop)
        )
    unsure = [
        _fields({"kind": ""} | doubt if isinstance(doubt, dict) else doubt, "mark", "at", "why", "kind")
        for doubt in _list(doubts, 0, MOST_DOUBTS)
    ]
    return Count(
        posterior=chances,
        sure=_flag(sure),
        likely=numbers,
        marks=stood,
        doubts=tuple(
            Doubt(
                _whole(mark, 1, len(stood), "a mark"),
                at(place),
                *_what_in_doubt(_text(why, MOST_SENTENCE, "a reason"), kind),
            )
            for mark, place, why, kind in unsure
        ),
        centre=at(centre),
        outline=places(_list(outline, 3, MOST_POINTS)),
        shared=_numbers(_list(shared, 3, MOST_POINTS), 0, 1, "a chance"),
        start_seen=_flag(start_seen),
        rounds=None if rounds is None else _whole(rounds, 0, MOST_EXPECTED, "the rounds"),
        in_progress=working,
        reason=_text(reason, MOST_SENTENCE, "the reason"),
        size=(width, height),
        seconds=_number(seconds, 0, 1e6, "the seconds"),
    )


def _what_in_doubt(why: str, kind: object) -> tuple[str, str]:
    """What is in doubt at a place, in the words of today, and its kind; older versions kept the words alone."""
    if kind == "":
        kind = KIND_OF.get(why, "")
    elif not isinstance(kind, str) or kind not in DOUBTS:
        raise ValueError(words.KEPT_WRONG["doubt"])
    return DOUBTS.get(kind, why), kind


# The zip --------------------------------------------------------------------


def _sheet_line(entry: Entry) -> tuple:
    made = entry.corrections
    return (
        entry.key, entry.kept.isoformat(), entry.changed.isoformat(), entry.title, entry.note, len(entry.marks),
        words.either(entry.likely), entry.state, entry.goal.total, entry.off_by, entry.goal.round, entry.count.rounds,
        len(made.added), len(made.removed), len(made.moved), f"photos/{entry.key}.jpg",
    )  # fmt: skip


def _put(pack: zipfile.ZipFile, name: str, data: bytes, way: int = zipfile.ZIP_DEFLATED) -> None:
    # A fixed date: the same notebook gives the same file.
    info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
    info.compress_type = way
    info.external_attr = 0o644 << 16
    pack.writestr(info, data)


@contextlib.contextmanager
def _opened_zip(source: str | os.PathLike | bytes | BinaryIO) -> Iterator[zipfile.ZipFile]:
    """A zip whose table of contents is small enough to be read; errors leave as one readable line."""
    with contextlib.ExitStack() as stack:
        try:
            if isinstance(source, bytes):
                file: BinaryIO = io.BytesIO(source)
            elif isinstance(source, str | os.PathLike):
                file = stack.enter_context(open(source, "rb"))
            else:
                file = source
            # The end record of a zip without a comment (PKWARE APPNOTE 4.3.16) says how large the table is;
            # zipfile would read a table of any size.
            file.seek(0, io.SEEK_END)
            size = file.tell()
            file.seek(max(0, size - 42))
            tail = file.read(42)
            end = tail[-22:]
            if len(end) < 22 or end[:4] != b"PK\5\6" or end[-2:] != b"\0\0":
                raise NotebookError("import", words.ZIP["no zip"])
            if int.from_bytes(end[12:16], "little") > MOST_CONTENTS or tail[:4] == b"PK\6\7":
                raise NotebookError("import", words.ZIP["many"])
            pack = stack.enter_context(zipfile.ZipFile(file))
        except NotebookError:
            raise
        except OSError as error:
            raise NotebookError("import", error.strerror.lower() if error.strerror else words.FILE_CLOSED) from None
        except Exception:  # a damaged table of contents fails in struct, in zlib, in zipfile
            raise NotebookError("import", words.ZIP["no zip"]) from None
        yield pack


def _contents(pack: zipfile.ZipFile, leave_out: bool) -> tuple[list[str], list[str]]:
    """Keys of a zip's counts, and a line for each that is not whole; refuses it where it holds anything else."""
    infos = [info for info in pack.infolist() if info.filename not in ("entries/", "photos/")]
    if len(infos) > 2 * MOST_ENTRIES + 2:
        raise NotebookError("import", words.ZIP["many"])
    names = [info.filename for info in infos]
    entries, photos = set(), set()
    for info in infos:
        found = _NAME.fullmatch(info.filename)
        if info.flag_bits & 1 or info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise NotebookError("import", words.ZIP["packed"])
        if info.filename not in (ABOUT, SHEET) and not found:
            raise NotebookError("import", words.ZIP["strange"])
        if found:
            (entries if found[1] else photos).add(found[1] or found[2])
    whole = entries & photos
    if len(set(names)) < len(names) or ABOUT not in names or not (leave_out or entries == photos):
        raise NotebookError("import", words.ZIP["part"])
    try:
        kind, version, counts = _fields(_parsed(_unpacked(pack, ABOUT, 1000)), "format", "version", "counts")
        if kind != FORMAT or _whole(version, 1, 1_000_000, "the version") < 1:
            raise ValueError
    except ValueError:
        raise NotebookError("import", words.ZIP["other"]) from None
    if version > FORMAT_VERSION:
        raise NotebookError("import", words.ZIP["newer"])
    if counts != len(entries) and not leave_out:
        raise NotebookError("import", words.ZIP["part"])
    parted = [words.ZIP_COUNT.format(key=_name_of(key), detail=words.ZIP["part"]) for key in sorted(entries ^ photos)]
    return sorted(whole), parted


def _unpacked(pack: zipfile.ZipFile, name: str, most: int) -> bytes:
    """One member, at most so many bytes of it, whatever its header says."""
    info = pack.getinfo(name)
    try:
        with pack.open(info) as member:
            data = member.read(most + 1)
    except Exception:  # damaged members fail in zlib, in struct, in zipfile
        raise NotebookError("import", words.ZIP["damaged"]) from None
    if len(data) > most:
        raise NotebookError("import", words.ZIP["large"])
    return data


@dataclass(frozen=True)
class _Checked:
    """One count of a zip after a look at every value: without its photo, of which the SHA-256 stays."""

    entry: Entry
    digest: bytes
    small: bytes
    size: int


def _from_zip(pack: zipfile.ZipFile, key: str) -> _Checked:
    text = _unpacked(pack, f"entries/{key}.json", MOST_DATA)
    large = _cut(_unpacked(pack, f"photos/{key}.jpg", MOST_PHOTO))
    try:
        entry, picture = _look_at(key, text, large)
    except ValueError as error:
        raise NotebookError("import", words.ZIP_COUNT.format(key=_name_of(key), detail=_one_line(error))) from None
    return _Checked(entry, hashlib.sha256(large).digest(), _small(picture), len(text) + len(large))


def _look_at(key: str, text: bytes, large: bytes) -> tuple[Entry, Image.Image]:
    """A count and its photo, every value looked at; ValueError where it is not what an export holds."""
    if not isinstance(large, bytes):
        raise ValueError(words.KEPT_WRONG["photo"])
    entry, picture = from_text(text, large, SMALL_SIDE)
    if entry.key != key:
        raise ValueError(words.KEPT_WRONG["other key"])
    return entry, picture


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split())[:120]
