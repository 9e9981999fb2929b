"""A group's folder as the command line and the page look at it: opened, matched, counted, laid out."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2

from counter.basics import words
from counter.basics.answer import Refusal
from counter.basics.photo import Photo, read_photo
from counter.group.labels import called_by
from counter.group.match import MatchedPhoto, find_photos, guess_names, match, read_names, read_table
from counter.group.store import NAME, Answer, GroupFile
from counter.group.table import Line, Table, lay_out
from counter.group.work import Job, Progress, run, take_stock
from counter.plan import Plan, read_plan

__all__ = ["FOLDER", "Group"]

#: Environment variable by which the command line tells the page which folder it begins with.
FOLDER = "RIMTALLY_GROUP"


@dataclass(frozen=True)
class Group:
    """A folder of photos, the plan that they are held against, and what is known of them.

    Make one by :meth:`open`.

    Parameters
    ----------
    folder : Path
    book : GroupFile
    photos : tuple of str
        Paths below the folder.
    text : str
        The plan as it is written.
    plan : Plan
        With at least one round.
    uk : bool
        The plan is in UK terms.
    names : str
        Pattern of the photos' names; empty where there is none yet.
    table : mapping
        As of :func:`counter.group.match.read_table`; empty where there is none.
    """

    folder: Path
    book: GroupFile
    photos: tuple[str, ...]
    text: str
    plan: Plan
    uk: bool
    names: str
    table: Mapping[str, tuple[str, int | None]]

    @classmethod
    def open(
        cls,
        folder: Path,
        *,
        plan: str | None = None,
        uk: bool = False,
        piece: str | None = None,
        size: str | None = None,
        names: str | None = None,
        table: bytes | None = None,
    ) -> Group:
        """Open a folder; what isn't given is as it was the last time.

        Parameters
        ----------
        folder : Path
        plan : str, optional
            Written rounds.
        uk, piece, size : optional
            As for :func:`counter.plan.read_plan`; they belong to `plan`.
        names : str, optional
            A pattern of names, see :func:`counter.group.match.read_names`.
        table : bytes, optional
            A table that says whose each photo is.

        Returns
        -------
        Group

        Raises
        ------
        ValueError
            With one line that says what to do: no folder, no photo, no plan, or
            a plan, pattern or table that can't be read. Nothing is written then.
        GroupError
            If the group's file can't be used.
        """
        photos = find_photos(folder)
        begun = (folder / NAME).exists()
        kept = GroupFile.open(folder / NAME).settings() if begun else {}
        if plan is None:
            plan, uk = kept.get("plan"), kept.get("uk") == "yes"
            piece, size = piece or kept.get("piece") or None, size or kept.get("size") or None
        if plan is None:
            raise ValueError(words.GROUP_NO_PLAN)
        made = read_plan(plan, uk=uk, piece=piece, size=size)
        if not made.rounds:
            told = made.findings[0]
            raise ValueError(
                words.IN_LINE.format(line=told.line, column=told.column, what=told.what, fix=told.fix).rstrip()
            )
        if names is not None:
            read_names(names)
        own = read_table(table) if table is not None else _table_of(kept.get("table", ""))
        book = GroupFile.open(folder / NAME)
        now = {"piece": piece or "", "size": size or ""} | {
            "plan": plan,
            "uk": "yes" if uk else "no",
            "table": json.dumps(own),
            "names": names or kept.get("names", ""),
        }
        if any(kept.get(name) != value for name, value in now.items()):
            book.change_settings(**now)
        return cls(folder, book, tuple(photos), plan, made, uk, now["names"], own)

    @property
    def rounds(self) -> tuple[int, ...]:
        """Rounds of the plan whose total is known."""
        return tuple(own.round for own in self.plan.rounds if own.stitches is not None)

    @property
    def guess(self) -> str | None:
        """A pattern of names, to be shown before it is used; None where none fits."""
        return guess_names(self.photos, self.rounds)

    @property
    def missing(self) -> tuple[str, ...]:
        """Photos that the table names and the folder doesn't have."""
        return tuple(sorted(set(self.table) - set(self.photos)))

    def named(self, names: str) -> Group:
        """The same group by another pattern of names, which is kept."""
        read_names(names)
        self.book.change_settings(names=names)
        return replace(self, names=names)

    def places(self, names: str | None = None) -> tuple[MatchedPhoto, ...]:
        """Where each photo belongs, by another pattern than the group's where one is given."""
        typed = {photo: (own.maker, own.round) for photo, own in self.book.typed().items()}
        pattern = self.names if names is None else names
        return match(self.photos, self.rounds, names=pattern or None, table=self.table, typed=typed)

    def stock(self) -> Job:
        """What must be counted."""
        return take_stock(self.folder, self.photos, self.book)

    def count(self, job: Job, *, progress: Callable[[Progress], None] = lambda _: None, **how: Any) -> None:
        """Count it; `how` and what is raised are those of :func:`counter.group.work.run`."""
        run(self.folder, job, self.book, progress=progress, **how)

    def lay_out(self, job: Job, answers: Mapping[str, Answer] | None = None, *, called: str = "names") -> Table:
        """The table as it stands.

        Parameters
        ----------
        job : Job
        answers : mapping of str to Answer, optional
            By content, where they are at hand; else they are read from the file.
        called : {"names", "initials", "numbers"}
            What makers and photos are called in it.

        Returns
        -------
        Table
        """
        if answers is None:
            answers = self.book.answers(tuple(job.contents.values()))
        places = self.places()
        named = called_by(places, called)
        labels = {place.photo: label.photo for place, label in zip(places, named, strict=True)}
        return lay_out(
            named,
            {labels[photo]: content for photo, content in job.contents.items()},
            {labels[photo]: refusal for photo, refusal in job.unread.items()},
            answers,
            self.plan,
            corrections=self.book.corrections(),
            uk=self.uk,
        )

    def photo(self, line: Line) -> Photo | Refusal:
        """The photo of a line, or the piece's part of it, as its marks lie on it.

        Parameters
        ----------
        line : Line
            With a count.

        Returns
        -------
        Photo or Refusal
            Refused where the file can't be read any more, or holds another photo by now.
        """
        path = self.folder / line.place.photo
        try:
            data = path.read_bytes()
        except OSError:
            return Refusal("missing")
        if isinstance(line.answer, Refusal):
            return line.answer
        if hashlib.sha256(data).hexdigest() != line.content:
            return Refusal("not a picture", words.GROUP_CHANGED)
        photo = read_photo(data)
        if isinstance(photo, Refusal):
            return photo
        pixels, size = photo.pixels, line.answer.size
        if (box := self.book.answers([line.content])[line.content].parts[line.piece].box) is not None:
            pixels = pixels[box[1] : box[3], box[0] : box[2]]
        return Photo(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA))


def _table_of(text: str) -> dict[str, tuple[str, int | None]]:
    return {photo: (maker, number) for photo, (maker, number) in json.loads(text or "{}").items()}
