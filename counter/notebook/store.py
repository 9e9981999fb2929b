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
import hashlib
import itertools
import json
import os
import secrets
import shutil
import sqlite3
import time
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO

import numpy as np
import platformdirs
from msgspec import structs
from PIL import Image

from counter.basics import words
from counter.basics.answer import Count
from counter.basics.database import begun, connection, transaction
from counter.basics.photo import Photo
from counter.basics.table import csv_table
from counter.comparing.verdict import MOST_EXPECTED
from counter.notebook.archive import (
    ABOUT,
    FORMAT,
    FORMAT_VERSION,
    MOST_PLAN_CHARACTERS,
    SHEET,
    contents_of,
    from_zip,
    look_at,
    name_of,
    one_line,
    opened_zip,
    put_into,
    sheet_line,
    unpacked_file,
)
from counter.notebook.checks import folded, moment_of, text_within, this_moment
from counter.notebook.codec import as_text, checked_entry, entry_of, entry_of_text, scaled_marks
from counter.notebook.limits import (
    MOST_ENTRIES,
    MOST_NOTE,
    MOST_PHOTO_BYTES,
    MOST_SOUGHT,
    MOST_TITLE,
    PHOTO_JPEG_QUALITY,
    PHOTO_SIDE_PX,
)
from counter.notebook.migrations import FILE, LIKELY_SINCE
from counter.notebook.pictures import cut_at_end, decoded_jpeg, jpeg_of, reduced_to, small_jpeg
from counter.notebook.schema import ListedData, converted
from counter.notebook.trouble import NotebookError
from counter.notebook.values import Entry, Exported, Goal, Imported, KeptMark, Listed, Listing

__all__ = [
    "BUSY_TIMEOUT_S",
    "EMPTY_DAYS",
    "LEAST_FREE_BYTES",
    "MOST_NOTEBOOKS",
    "Notebook",
    "new_shared",
    "open_own",
    "open_shared",
    "own_path",
]

#: Free bytes on the disk below which nothing more is kept.
LEAST_FREE_BYTES = 100_000_000


#: Most notebooks on a shared server, and days after which one goes in which nothing was ever kept.
MOST_NOTEBOOKS, EMPTY_DAYS = 500, 30


#: Seconds to wait for another session that is just writing.
BUSY_TIMEOUT_S = 5.0


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
        _clear_empty(folder)
        if sum(1 for _ in folder.glob("*.sqlite3")) >= MOST_NOTEBOOKS:
            raise NotebookError("no more notebooks")
    # Base 32 (RFC 4648) in lower case: neither 0 nor 1, which look like letters.
    letters = base64.b32encode(secrets.token_bytes(15)).decode().lower()[:20]
    code = "-".join(letters[k : k + 4] for k in range(0, 20, 4))
    return code, Notebook.open(_shared_path(code))


def _clear_empty(folder: Path) -> None:
    """Remove notebooks in which nothing is kept and nothing was changed for :data:`EMPTY_DAYS`."""
    for path in folder.glob("*.sqlite3"):
        if time.time() - path.stat().st_mtime < EMPTY_DAYS * 86400:
            continue
        # What can't be read, or is being written, stays.
        with contextlib.suppress(NotebookError, OSError), Notebook(path)._writing() as link:
            if not link.execute("SELECT count(*) FROM entry").fetchone()[0]:
                path.unlink()


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
    def open(cls, path: str | os.PathLike[str]) -> Notebook:
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
            begun(book.path)
        except OSError as error:
            raise NotebookError("no file", error.strerror.lower() if error.strerror else words.FILE_UNMADE) from None
        with book._connection() as link:
            FILE.look_over(link, _bring_up)
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
            Kept at a long side of at most :data:`PHOTO_SIDE_PX` pixels, without metadata.
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
        picture = reduced_to(Image.fromarray(photo.working), PHOTO_SIDE_PX)
        entry = entry_of(
            count, picture.size, marks, confirmed=confirmed, goal=goal, title=title, note=note, answers=answers,
            by_hand=by_hand,
        )  # fmt: skip
        large = jpeg_of(picture, PHOTO_JPEG_QUALITY)
        self._need_room(len(large))
        with self._writing() as link:
            _need_places(link, 1)
            _insert(link, entry, large, small_jpeg(picture))
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
            marks=entry.marks if marks is None else scaled_marks(marks, size or own, own),
            confirmed=entry.confirmed if confirmed is None else confirmed,
            goal=entry.goal if goal is None else goal,
            title=entry.title if title is None else title,
            note=entry.note if note is None else note,
            answers=entry.answers if answers is None else tuple(answers),
            by_hand=entry.by_hand if by_hand is None else by_hand,
        )
        new = checked_entry(new, work_out=by_hand is None and not entry.by_hand)
        if as_text(new) == as_text(entry):
            return entry
        new = replace(new, revision=entry.revision + 1, changed=this_moment())
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

    def photo_file(self, key: str) -> bytes:
        """Read the photo of one count as the JPEG that is kept; raises as :meth:`entry` does."""
        with self._connection() as link:
            row = link.execute("SELECT large FROM photo WHERE key = ?", (key,)).fetchone()
        if row is None:
            raise NotebookError("gone")
        return bytes(row["large"])

    def photo(self, key: str) -> Photo:
        """Read the photo of one count; raises as :meth:`entry` does."""
        try:
            return Photo(np.array(decoded_jpeg(self.photo_file(key))))
        except ValueError:
            raise NotebookError("damaged count", words.COUNT_NAMED.format(key=name_of(key))) from None

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
        seek = [folded(word) for word in sought.split()[:MOST_SOUGHT]]
        where = " AND ".join(["instr(sought, ?) > 0"] * len(seek)) or "1"
        with self._connection() as link, transaction(link, "BEGIN"):
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
                damaged.append(name_of(row["key"]))
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
        with self._connection() as link, transaction(link, "BEGIN"), zipfile.ZipFile(file, "w") as pack:
            keys = [row["key"] for row in link.execute("SELECT key FROM entry ORDER BY kept, key")]
            lines, left_out = [], []
            for key in keys:
                row = link.execute(
                    "SELECT data, large FROM entry JOIN photo USING (key) WHERE key = ?", (key,)
                ).fetchone()
                try:
                    entry = entry_of_text(row["data"])
                    text = as_text(entry).encode()
                    look_at(key, text, row["large"])
                except (ValueError, TypeError) as error:
                    left_out.append(words.ZIP_COUNT.format(key=name_of(key), detail=one_line(error)))
                    continue
                lines.append(sheet_line(entry))
                put_into(pack, f"entries/{key}.json", text)
                put_into(pack, f"photos/{key}.jpg", row["large"], zipfile.ZIP_STORED)
            about = {"format": FORMAT, "version": FORMAT_VERSION, "counts": len(lines)}
            put_into(pack, ABOUT, json.dumps(about, indent=1).encode())
            # With a byte order mark, by which spreadsheets know UTF-8.
            put_into(pack, SHEET, csv_table(words.BOOK_SHEET_HEAD, lines).encode("utf-8-sig"))
        return Exported(len(lines), tuple(left_out))

    def import_zip(
        self,
        source: str | os.PathLike[str] | bytes | BinaryIO,
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
        with opened_zip(source) as pack:
            found, left_out = contents_of(pack, leave_out)
            # Everything is looked at before the notebook is touched; photos are not held in memory meanwhile.
            checked = []
            for done, key in enumerate(found):
                if progress:
                    progress(done, len(found))
                try:
                    checked.append(from_zip(pack, key))
                except NotebookError as error:
                    if not leave_out:
                        raise
                    left_out.append(error.detail)
            self._need_room(sum(one.size for one in checked))
            read, unread = set(), MOST_PLAN_CHARACTERS
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
                    large = cut_at_end(unpacked_file(pack, f"photos/{one.entry.key}.jpg", MOST_PHOTO_BYTES))
                    if hashlib.sha256(large).digest() != one.digest:
                        raise NotebookError("import", words.ZIP["changed"])
                    _need_places(link, 1)
                    _insert(link, entry, large, one.small, planned=entry.goal.plan in read)
                    added += 1
        return Imported(added, already, tuple(left_out))

    # Connections ------------------------------------------------------------

    def _connection(self) -> contextlib.AbstractContextManager[sqlite3.Connection]:
        return connection(self.path, NotebookError, BUSY_TIMEOUT_S)

    @contextlib.contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction that may write."""
        with self._connection() as link, transaction(link):
            if not FILE.is_current(link):  # brought up by a newer program while this one was open
                _bring_up(link)
            yield link

    def _need_room(self, more: int) -> None:
        try:
            free = shutil.disk_usage(self.path.parent).free
        except OSError:
            return  # SQLite will say
        if free < LEAST_FREE_BYTES + more:
            raise NotebookError("full", words.DISK_LEFT.format(n=LEAST_FREE_BYTES // 1_000_000))


def _bring_up(link: sqlite3.Connection) -> None:
    """Bring the file to this version, and fill in what it then has of the entries that are there."""
    if 0 < FILE.bring_up(link) < LIKELY_SINCE:
        for key, data in link.execute("SELECT key, data FROM entry WHERE state = 'not sure'").fetchall():
            try:
                likely = _in_column(entry_of_text(data))
            except (ValueError, TypeError):  # a row that isn't sound is left to whoever opens it
                continue
            if likely:
                link.execute(
                    "UPDATE entry SET likely = ?1, sought = sought || char(10) || replace(?1, ' ', ' or ')"
                    " WHERE key = ?2",
                    (likely, key),
                )


def _in_column(entry: Entry) -> str:
    """The numbers that a count may be, with blanks; empty where there is one."""
    return " ".join(map(str, entry.likely)) if len(entry.likely) > 1 else ""


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
        "sought": folded("\n".join(said)),
        "data": as_text(entry),
    }  # fmt: skip


def _listed(row: sqlite3.Row) -> Listed:
    """A line of the list; what it raises says that the row is damaged."""
    data = converted(dict(row), ListedData)
    text_within(data.title, MOST_TITLE, "the title")  # a damaged page may hold half of a character
    text_within(data.note, MOST_NOTE, "the note")
    likely = tuple(int(number) for number in data.likely.split())
    if data.state not in words.STATES or any(not 1 <= number <= MOST_EXPECTED for number in likely):
        raise ValueError(words.KEPT_WRONG["fields"])
    own = {"kept": moment_of(data.kept), "changed": moment_of(data.changed), "likely": likely or (data.stitches,)}
    return Listed(**structs.asdict(data) | own)


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
        return replace(entry_of_text(row["data"]), revision=row["revision"])
    except (ValueError, TypeError):
        raise NotebookError("damaged count", words.COUNT_NAMED.format(key=name_of(key))) from None


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
