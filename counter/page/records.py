"""A sheet of photos as plain records that a browser can remember, and back.

What comes back is trusted no more than a file from anywhere: every record is
looked at by itself, and one that makes no sense costs only its own photo.
"""

from __future__ import annotations

import base64
import binascii
import contextlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

import streamlit as st

from counter.basics.answer import Refusal
from counter.comparing.questions import questions_of
from counter.notebook.codec import as_text, from_text
from counter.notebook.limits import MOST_PHOTO_BYTES
from counter.notebook.pictures import bare_photo
from counter.notebook.store import Notebook
from counter.notebook.trouble import NotebookError
from counter.notebook.values import Entry, Goal
from counter.page import door, keeping
from counter.page.edits import Edits
from counter.page.goal import goal_of_session
from counter.page.several import MOST_NAME, MOST_PHOTOS, SMALL_SIDE_PX, SheetPhoto, small_picture
from counter.page.trail import followed, trail_of

__all__ = ["ADDRESS", "LeftSheet", "head_of_session", "picture_of", "read_sheet", "sketch_of", "unsaid"]

#: What the address of a picture begins with.
ADDRESS = "data:image/jpeg;base64,"
#: Most characters that a refusal says about its very photo.
MOST_DETAIL = 300
#: Most photos that can have been left out, and most changes of one photo.
MOST_MANY = 100_000
_TOKEN = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True, eq=False)
class LeftSheet:
    """A sheet that was left, as far as it can be read.

    Parameters
    ----------
    name : str
    pieces : tuple of Piece
        In the order of the sheet.
    many : int
        How many photos it had.
    goal : Goal
        What all of them were held against.
    opened : str or None
        Key of the one that was looked at, if it is there.
    left_out : int
        Photos that were too many for the sheet.
    rest : int
        Photos that were not counted yet.
    kept : int
        Photos that a shared notebook has and the browser was not given.
    """

    name: str
    pieces: tuple[SheetPhoto, ...]
    many: int
    goal: Goal
    opened: str | None
    left_out: int
    rest: int
    kept: int

    @property
    def missing(self) -> int:
        """Photos that have to be dropped again."""
        return max(0, self.many - len(self.pieces)) + self.rest


# To the browser ------------------------------------------------------------


def unsaid(piece: SheetPhoto) -> bool:
    """True where a piece is safe in a shared notebook, which leaves nothing in the browser."""
    return piece.kept and door.kind() != "own"


def head_of_session(pieces: Sequence[SheetPhoto], rest: int = 0) -> dict:
    """How the sheet stands, beside its photos.

    Parameters
    ----------
    pieces : sequence of Piece
        All of its photos.
    rest : int, optional
        How many are not counted yet.

    Returns
    -------
    dict
    """
    state = st.session_state
    kept = sum(unsaid(piece) for piece in pieces)
    return {
        "order": [piece.key for piece in pieces if not unsaid(piece)],
        "goal": asdict(goal_of_session()),
        "opened": None if state.opened is None else pieces[state.opened].key,
        "left_out": state.left_out,
        "rest": rest,
        "kept": kept,
    }


def sketch_of(piece: SheetPhoto) -> dict:
    """All of a piece but its picture."""
    if piece.edits is None:
        return {"name": piece.name, "code": piece.answer.code, "detail": piece.answer.detail}
    size = piece.answer.size
    entry = keeping.drafted(piece.answer, size, piece.edits, piece.confirmed, Goal(), tie=piece.tie)
    trail = trail_of(piece.edits, size, size)
    own = {} if piece.hook is None else {"hook": piece.hook}
    return {"name": piece.name, "entry": as_text(entry), "trail": trail} | own


def picture_of(piece: SheetPhoto) -> str:
    """The picture of a piece as a data address; of a refused one the small one, empty where there is none."""
    return ADDRESS + base64.b64encode(piece.picture).decode() if piece.picture else piece.small


# And back ------------------------------------------------------------------


def read_sheet(message: object) -> LeftSheet | None:
    """Read what the browser remembered of a sheet.

    Parameters
    ----------
    message : object
        From the browser: "name", "head", "many" and "parts", each of these with
        "photo", "revision", "sketch" and "picture".

    Returns
    -------
    LeftSheet or None
        None where it is no sheet at all.
    """
    if not isinstance(message, Mapping):
        return None
    name, parts, many = message.get("name"), message.get("parts"), message.get("many")
    if not _is_token(name) or not isinstance(parts, list):
        return None
    head = message.get("head") if isinstance(message.get("head"), Mapping) else {}
    book = None
    if door.kind() == "own":
        with contextlib.suppress(NotebookError):
            book = door.notebook()
    pieces: dict[str, SheetPhoto] = {}
    for part in parts[:MOST_PHOTOS]:
        with contextlib.suppress(ValueError, TypeError, AttributeError, binascii.Error):
            piece = _piece(part, book)
            pieces.setdefault(piece.key, piece)
    opened = head.get("opened")
    return LeftSheet(
        name, tuple(pieces.values()), _many(many, MOST_PHOTOS), _goal(head.get("goal")),
        opened if isinstance(opened, str) else None,
        *(_many(head.get(what), MOST_MANY) for what in ("left_out", "rest", "kept")),
    )  # fmt: skip


def _piece(part: Mapping, book: Notebook | None) -> SheetPhoto:
    """One photo; what it raises says that it makes no sense."""
    key, revision, sketch, address = (part.get(name) for name in ("photo", "revision", "sketch", "picture"))
    if not _is_token(key) or not isinstance(revision, int) or not 0 <= revision < MOST_MANY:
        raise ValueError("it has no such name")
    name = sketch.get("name")
    if not isinstance(name, str) or len(name) > MOST_NAME:
        raise ValueError("it has no such name")
    same = {"key": key, "revision": revision}
    picture = _picture(address)
    if "entry" not in sketch:
        code, detail = sketch.get("code"), sketch.get("detail")
        if not isinstance(detail, str) or len(detail) > MOST_DETAIL:
            raise ValueError("it is no refusal")
        if picture and max(bare_photo(picture).size) > SMALL_SIDE_PX:
            raise ValueError("its small picture is large")
        return SheetPhoto(name, Refusal(code, detail), small=address, **same)
    drafted, photo = from_text(sketch["entry"], picture)
    entry, tie = drafted, None
    if book and (own := _kept(book, drafted)):
        # It goes on as the notebook has it, which may be later than what the browser was told.
        entry, tie = own, keeping.Tie(book, own)
    own = entry.count
    edits = Edits.resumed(own.marks, questions_of(own), entry.marks, entry.answers, entry.by_hand)
    if entry.marks == drafted.marks and isinstance(sketch.get("trail"), str):
        edits = followed(edits, sketch["trail"], own.size)
    hook = sketch.get("hook")
    same["hook"] = hook if isinstance(hook, int) and not isinstance(hook, bool) else None
    return SheetPhoto(name, own, picture, small_picture(photo, own.centre), edits, entry.confirmed, tie, **same)


def _kept(book: Notebook, drafted: Entry) -> Entry | None:
    """The notebook's count of that photo, None where it has none."""
    try:
        own = book.entry(drafted.key)
    except NotebookError:
        return None
    return own if own.count.size == drafted.count.size else None


def _picture(address: object) -> bytes:
    if address == "":
        return b""
    if not isinstance(address, str) or not address.startswith(ADDRESS) or len(address) > 2 * MOST_PHOTO_BYTES:
        raise ValueError("it has no picture")
    return base64.b64decode(address.removeprefix(ADDRESS), validate=True)


def _goal(told: object) -> Goal:
    try:
        return Goal(**told)
    except (ValueError, TypeError):
        return Goal()


def _many(number: object, most: int) -> int:
    return min(number, most) if isinstance(number, int) and number > 0 else 0


def _is_token(name: object) -> bool:
    return isinstance(name, str) and _TOKEN.fullmatch(name) is not None
