"""What is known of a group's photos: one SQLite file that lies beside them.

Every photo's answer is one transaction that is on the disk before the next photo
is handed out, so that a run that is stopped or killed loses no more than the
photos in work. Answers belong to a photo's content and to the program that
counted it; where a photo lies and what it is called may change. What a person
says stands in rows of its own, beside the automatic answer, and is never changed.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from counter.basics import words
from counter.basics.answer import Refusal
from counter.basics.database import Format, begun, connection, transaction
from counter.notebook.codec import as_text, entry_of_text
from counter.notebook.values import Entry

__all__ = ["NAME", "Answer", "Correction", "GroupError", "GroupFile", "Part", "Typed"]

#: Name of the file in a group's folder.
NAME = "rimtally-group.sqlite3"
#: Steps from one version of the file to the next.
STEPS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
        (
            "CREATE TABLE file (photo TEXT PRIMARY KEY, size INTEGER NOT NULL, changed INTEGER NOT NULL,"
            " content TEXT NOT NULL) WITHOUT ROWID"
        ),
        (
            "CREATE TABLE answer (content TEXT PRIMARY KEY, program TEXT NOT NULL, parts INTEGER NOT NULL,"
            " seconds REAL NOT NULL)"
        ),
        (
            "CREATE TABLE part (content TEXT NOT NULL REFERENCES answer ON DELETE CASCADE, piece INTEGER NOT NULL,"
            " entry TEXT, refusal TEXT, detail TEXT, sizing TEXT, box TEXT, small BLOB NOT NULL,"
            " PRIMARY KEY (content, piece))"
        ),
        (
            "CREATE TABLE crop (content TEXT NOT NULL, piece INTEGER NOT NULL, place INTEGER NOT NULL,"
            " picture BLOB NOT NULL, PRIMARY KEY (content, piece, place),"
            " FOREIGN KEY (content, piece) REFERENCES part ON DELETE CASCADE)"
        ),
        (
            "CREATE TABLE correction (id INTEGER PRIMARY KEY, content TEXT NOT NULL, piece INTEGER NOT NULL,"
            " made TEXT NOT NULL, what TEXT NOT NULL, before TEXT NOT NULL, after TEXT NOT NULL, entry TEXT)"
        ),
        "CREATE INDEX correction_of ON correction (content, piece, id)",
        (
            "CREATE TABLE typed (photo TEXT PRIMARY KEY, made TEXT NOT NULL, maker TEXT NOT NULL, round INTEGER)"
            " WITHOUT ROWID"
        ),
    ),
)
#: Seconds to wait for another process that is just writing.
BUSY_TIMEOUT_S = 20.0


class GroupError(Exception):
    """What keeps a group's file from being used; its text is one line that says what to do.

    Parameters
    ----------
    code : str
        A key of :data:`counter.basics.words.GROUP_TROUBLES`.
    """

    def __init__(self, code: str) -> None:
        super().__init__(words.GROUP_TROUBLES[code].format(file=NAME))
        self.code = code


def _trouble(code: str, detail: str = "") -> GroupError:
    # What else SQLite knows of it is no news to whoever has the folder.
    return GroupError("read-only" if code == "no file" else code)


#: The file, marked as one of this program's groups ("RimG").
_FORMAT = Format(0x52696D47, STEPS, _trouble)


@dataclass(frozen=True)
class Part:
    """The answer about one piece of a photo.

    Parameters
    ----------
    answer : Entry or Refusal
        An entry holds the automatic count in pixels of the photo made no larger
        than a notebook keeps it.
    small : bytes
        A small JPEG of the photo, or of the piece; empty where there is no picture.
    crops : tuple of bytes
        JPEGs of the places in doubt that are asked about, one for each question.
    sizing : mapping or None
        "tension", "each_round" (change of a round's height to the next, as a share) and "gauge" ("stitches_10_cm"
        with its "error", or None); None where there is no count.
    box : tuple of int or None
        Left, top, right and bottom of the piece's part of the upright photo, in its pixels; None for all of it.
    """

    answer: Entry | Refusal
    small: bytes = field(default=b"", repr=False)
    crops: tuple[bytes, ...] = field(default=(), repr=False)
    sizing: Mapping[str, object] | None = None
    box: tuple[int, int, int, int] | None = None


@dataclass(frozen=True)
class Answer:
    """What counting one photo came to.

    Parameters
    ----------
    content : str
        SHA-256 of the file, 64 hexadecimal digits.
    program : str
        What counted it, see :func:`counter.group.work.program`.
    parts : tuple of Part
        One for each piece; one where there is none.
    seconds : float
        Time it took.
    """

    content: str
    program: str
    parts: tuple[Part, ...]
    seconds: float = 0.0


@dataclass(frozen=True)
class Correction:
    """What a person said about a piece.

    Parameters
    ----------
    made : datetime
        When (UTC).
    what : {"marks", "total", "again", "back"}
        The marks as they stand now were put or confirmed; the total was counted
        in the hand; the photo must be taken again; all that was said is taken back.
    before, after : str
        What stood before and stands since: "23 or 24, not sure", "24, counted by a person".
    entry : Entry or None
        For "marks", the automatic count at that time with the person's marks.
    """

    made: datetime
    what: str
    before: str
    after: str
    entry: Entry | None = None

    @property
    def total(self) -> int | None:
        """For "total", the number."""
        return int(self.after.partition(",")[0]) if self.what == "total" else None


@dataclass(frozen=True)
class Typed:
    """Whose a photo is and which round, as a person typed it; an empty field leaves it as it was."""

    maker: str
    round: int | None


@dataclass(frozen=True)
class GroupFile:
    """A group's file; make one by :meth:`open`.

    Every method raises :class:`GroupError` where the file can't be read or
    written, and then nothing has been changed. Nothing stays open between calls.

    Parameters
    ----------
    path : Path
    """

    path: Path

    @classmethod
    def open(cls, path: str | os.PathLike[str]) -> GroupFile:
        """Open a group's file, or begin one.

        Parameters
        ----------
        path : path
            Its folder must be there. The file is for this user alone (Unix permissions).

        Returns
        -------
        GroupFile

        Raises
        ------
        GroupError
            If it is damaged, something else or of a newer version: it is then
            left as it is. Also if it can't be made.
        """
        book = cls(Path(path))
        try:
            begun(book.path)
        except OSError as error:
            raise GroupError("full" if error.errno in (28, 122) else "read-only") from None
        with book._link() as link:
            _FORMAT.look_over(link, _FORMAT.bring_up)
        return book

    # Settings

    def settings(self) -> dict[str, str]:
        """How the group was last looked at: "plan", "uk", "names", "table"."""
        with self._link() as link:
            return {row["name"]: row["value"] for row in link.execute("SELECT name, value FROM setting")}

    def change_settings(self, **values: str) -> None:
        """Keep settings."""
        with self._link() as link, transaction(link):
            link.executemany("INSERT OR REPLACE INTO setting VALUES (?, ?)", list(values.items()))

    # Files

    def files(self) -> dict[str, tuple[int, int, str]]:
        """Path -> size in bytes, time of the last change in ns, and content, as they were when last looked at."""
        with self._link() as link:
            return {row["photo"]: tuple(row)[1:] for row in link.execute("SELECT * FROM file")}

    def set_files(self, files: Mapping[str, tuple[int, int, str]]) -> None:
        """Keep what the files are; those that are gone are forgotten, their answers are not."""
        with self._link() as link, transaction(link):
            link.execute("DELETE FROM file")
            link.executemany("INSERT INTO file VALUES (?, ?, ?, ?)", [(name, *rest) for name, rest in files.items()])

    # Answers

    def counted(self, program: str) -> set[str]:
        """Contents that this program has counted."""
        with self._link() as link:
            return {row[0] for row in link.execute("SELECT content FROM answer WHERE program = ?", (program,))}

    def add(self, answer: Answer) -> None:
        """Keep an answer in place of that of another program; corrections stay."""
        with self._link() as link, transaction(link):
            link.execute("DELETE FROM answer WHERE content = ?", (answer.content,))
            row = (answer.content, answer.program, len(answer.parts), answer.seconds)
            link.execute("INSERT INTO answer VALUES (?, ?, ?, ?)", row)
            for piece, part in enumerate(answer.parts):
                own = part.answer
                text = None if isinstance(own, Refusal) else as_text(own)
                code, detail = (own.code, own.detail) if isinstance(own, Refusal) else (None, None)
                link.execute(
                    "INSERT INTO part VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    (
                        answer.content, piece, text, code, detail, part.sizing and json.dumps(part.sizing),
                        part.box and json.dumps(part.box), part.small,
                    ),
                )  # fmt: skip
                crops = [(answer.content, piece, place, picture) for place, picture in enumerate(part.crops)]
                link.executemany("INSERT INTO crop VALUES (?, ?, ?, ?)", crops)

    def answers(self, contents: Sequence[str]) -> dict[str, Answer]:
        """Answers about photos, without their crops.

        Parameters
        ----------
        contents : sequence of str

        Returns
        -------
        dict of str to Answer
            Those that were counted, by whatever program.
        """
        found = {}
        with self._link() as link:
            for content in dict.fromkeys(contents):
                own = link.execute("SELECT program, seconds FROM answer WHERE content = ?", (content,)).fetchone()
                if own:
                    rows = link.execute("SELECT * FROM part WHERE content = ? ORDER BY piece", (content,))
                    found[content] = Answer(content, own["program"], tuple(map(_part, rows)), own["seconds"])
        return found

    def crops(self, content: str, piece: int) -> tuple[bytes, ...]:
        """Pictures of the places that are asked about, in the order of the questions."""
        with self._link() as link:
            order = "SELECT picture FROM crop WHERE content = ? AND piece = ? ORDER BY place"
            return tuple(row[0] for row in link.execute(order, (content, piece)))

    # What a person says

    def correct(self, content: str, piece: int, correction: Correction) -> None:
        """Add what a person said."""
        entry = correction.entry and as_text(correction.entry)
        row = (content, piece, correction.made.isoformat(), correction.what, correction.before, correction.after, entry)
        with self._link() as link, transaction(link):
            link.execute(
                "INSERT INTO correction (content, piece, made, what, before, after, entry)"
                " VALUES (?, ?, ?, ?, ?, ?, ?)",
                row,
            )

    def corrections(self) -> dict[tuple[str, int], tuple[Correction, ...]]:
        """All that a person said, by content and piece, the first first."""
        found: dict[tuple[str, int], tuple[Correction, ...]] = {}
        with self._link() as link:
            for row in link.execute("SELECT * FROM correction ORDER BY id"):
                key = row["content"], row["piece"]
                found[key] = (*found.get(key, ()), _correction(row))
        return found

    def type(self, photo: str, typed: Typed) -> None:
        """Keep whose a photo is."""
        now = datetime.now(UTC).isoformat()
        with self._link() as link, transaction(link):
            link.execute("INSERT OR REPLACE INTO typed VALUES (?, ?, ?, ?)", (photo, now, typed.maker, typed.round))

    def typed(self) -> dict[str, Typed]:
        """What was typed, by path."""
        with self._link() as link:
            return {row["photo"]: Typed(row["maker"], row["round"]) for row in link.execute("SELECT * FROM typed")}

    def _link(self) -> contextlib.AbstractContextManager[sqlite3.Connection]:
        return connection(self.path, _trouble, BUSY_TIMEOUT_S)


def _part(row: sqlite3.Row) -> Part:
    sizing = json.loads(row["sizing"]) if row["sizing"] else None
    box = tuple(json.loads(row["box"])) if row["box"] else None
    answer = Refusal(row["refusal"], row["detail"]) if row["entry"] is None else _entry(row["entry"])
    return Part(answer, row["small"], (), sizing, box)


def _correction(row: sqlite3.Row) -> Correction:
    entry = row["entry"] and _entry(row["entry"])
    return Correction(datetime.fromisoformat(row["made"]), row["what"], row["before"], row["after"], entry or None)


def _entry(text: str) -> Entry:
    try:
        return entry_of_text(text)
    except ValueError:
        raise GroupError("damaged") from None
