"""A sheet of photos as plain records that a browser can remember, and back.

What comes back is trusted no more than a file from anywhere: every record is
looked at by itself, and one that makes no sense costs only its own photo.
"""

from __future__ import annotations

import base64
import contextlib
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Annotated

from msgspec import Meta, Struct, structs

from counter.basics.answer import Refusal
from counter.comparing.questions import questions_of
from counter.notebook.codec import as_text, from_text
from counter.notebook.limits import MOST_PHOTO_BYTES
from counter.notebook.pictures import bare_photo
from counter.notebook.schema import GoalData, converted
from counter.notebook.store import Notebook
from counter.notebook.trouble import NotebookError
from counter.notebook.values import Entry, Goal
from counter.page import door, keeping
from counter.page.edits import Edits
from counter.page.goal import goal_of_session
from counter.page.session import session
from counter.page.several import MOST_NAME, MOST_PHOTOS, SMALL_SIDE_PX, SheetPhoto, small_picture
from counter.page.trail import followed, trail_of

__all__ = ["ADDRESS", "LeftSheet", "head_of_session", "picture_of", "read_sheet", "sketch_of", "unsaid"]

#: What the address of a picture begins with.
ADDRESS = "data:image/jpeg;base64,"
#: Most characters that a refusal says about its very photo.
MOST_DETAIL = 300
#: Most photos that can have been left out, and most changes of one photo.
MOST_MANY = 100_000
_Token = Annotated[str, Meta(pattern="^[0-9a-f]{16}$")]
_Many = Annotated[int, Meta(ge=0, lt=MOST_MANY)]


class _Sketch(Struct):
    """All of a piece but its picture: of a counted one "entry", of a refused one "code" and "detail"."""

    name: Annotated[str, Meta(max_length=MOST_NAME)]
    entry: str = ""
    trail: str = ""
    hook: int | None = None
    code: str = ""
    detail: Annotated[str, Meta(max_length=MOST_DETAIL)] = ""


class _Part(Struct):
    """One photo of a sheet."""

    photo: _Token
    revision: _Many
    sketch: _Sketch
    picture: Annotated[str, Meta(max_length=2 * MOST_PHOTO_BYTES)]


class _Head(Struct):
    """How a sheet stood; what isn't known is taken as at its start."""

    goal: GoalData | None = None
    opened: str | None = None
    left_out: int = 0
    rest: int = 0
    kept: int = 0


class _Sheet(Struct):
    """A sheet that a browser remembered; each of its parts, and its head, is looked at by itself."""

    name: _Token
    parts: list[object]
    many: object = 0
    head: object = None


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
    state = session()
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
    if isinstance(piece.answer, Refusal):
        return {"name": piece.name, "code": piece.answer.code, "detail": piece.answer.detail}
    if piece.edits is None:
        raise ValueError("what was counted has marks")
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
    try:
        sheet = converted(message, _Sheet)
    except ValueError:
        return None
    head = _Head()
    with contextlib.suppress(ValueError):
        head = converted(sheet.head, _Head)
    book = None
    if door.kind() == "own":
        with contextlib.suppress(NotebookError):
            book = door.notebook()
    pieces: dict[str, SheetPhoto] = {}
    for part in sheet.parts[:MOST_PHOTOS]:
        with contextlib.suppress(ValueError):
            piece = _piece(converted(part, _Part), book)
            pieces.setdefault(piece.key, piece)
    many = sheet.many if isinstance(sheet.many, int) else 0
    return LeftSheet(
        sheet.name, tuple(pieces.values()), _within(many, MOST_PHOTOS), _goal(head.goal), head.opened,
        _within(head.left_out, MOST_MANY), _within(head.rest, MOST_MANY), _within(head.kept, MOST_MANY),
    )  # fmt: skip


def _piece(part: _Part, book: Notebook | None) -> SheetPhoto:
    """One photo; ValueError where it makes no sense."""
    sketch = part.sketch
    picture = _picture(part.picture)
    if not sketch.entry:
        if picture and max(bare_photo(picture).size) > SMALL_SIDE_PX:
            raise ValueError("its small picture is large")
        refusal = Refusal(sketch.code, sketch.detail)
        return SheetPhoto(sketch.name, refusal, small=part.picture, key=part.photo, revision=part.revision)
    drafted, photo = from_text(sketch.entry, picture)
    entry, tie = drafted, None
    if book and (kept := _kept(book, drafted)):
        # It goes on as the notebook has it, which may be later than what the browser was told.
        entry, tie = kept, keeping.Tie(book, kept)
    own = entry.count
    edits = Edits.resumed(own.marks, questions_of(own), entry.marks, entry.answers, entry.by_hand)
    if entry.marks == drafted.marks:
        edits = followed(edits, sketch.trail, own.size)
    return SheetPhoto(
        sketch.name, own, picture, small_picture(photo, own.centre), edits, entry.confirmed, tie, part.photo,
        part.revision, sketch.hook,
    )  # fmt: skip


def _kept(book: Notebook, drafted: Entry) -> Entry | None:
    """The notebook's count of that photo, None where it has none."""
    try:
        own = book.entry(drafted.key)
    except NotebookError:
        return None
    return own if own.count.size == drafted.count.size else None


def _picture(address: str) -> bytes:
    if not address:
        return b""
    if not address.startswith(ADDRESS):
        raise ValueError("it has no picture")
    return base64.b64decode(address.removeprefix(ADDRESS), validate=True)


def _goal(told: GoalData | None) -> Goal:
    with contextlib.suppress(ValueError):
        return Goal() if told is None else Goal(**structs.asdict(told))
    return Goal()


def _within(number: int, most: int) -> int:
    return min(max(number, 0), most)
