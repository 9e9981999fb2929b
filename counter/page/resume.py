"""What stands on the page survives a reload, and a server that is started again.

The browser remembers it, not this machine: in the tab's own memory, which goes
with the tab, and where the page runs on the visitor's own machine also beyond
it (resume.js). A sheet of several photos has too much for that: it lies in the
browser's database, sealed, and only the key is in those memories
(sheet_memory.js). Each of its photos is sent once, when it is counted; should
the browser lack something afterwards, it asks. What comes back is trusted no
more than a file from anywhere.
"""

from __future__ import annotations

import base64
import binascii
import contextlib
import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

import numpy as np
import streamlit as st

from counter.basics import words
from counter.basics.answer import Count
from counter.basics.photo import Photo
from counter.notebook.codec import as_text, from_text
from counter.notebook.limits import MOST_DATA_BYTES, MOST_PHOTO_BYTES
from counter.notebook.pictures import bare_photo
from counter.notebook.trouble import NotebookError
from counter.notebook.values import Entry
from counter.page import by_hand, door
from counter.page.edits import Edits
from counter.page.keeping import kept, reopen, sketched, take_up
from counter.page.records import (
    ADDRESS,
    LeftSheet,
    head_of_session,
    picture_of,
    read_sheet,
    sketch_of,
    unsaid,
)  # fmt: skip
from counter.page.rim_picture import begin_strip, shown_size
from counter.page.session import count_of_session, session
from counter.page.several import SheetPhoto, open_piece
from counter.page.show import amiss
from counter.page.trail import followed, trail_of

__all__ = ["LeftByHand", "LeftVisit", "banner", "hand_over_each", "remember"]

KEY = "remembered"
HERE = Path(__file__).parent

_mount_memory = st.components.v2.component(
    "resume",
    html="<i hidden></i>",
    # One text: a component's script can't import another.
    js="\n".join((HERE / name).read_text(encoding="utf-8") for name in ("sheet_memory.js", "dropped.js", "resume.js")),
)
_tell = st.components.v2.component(
    "told",
    html="<i hidden></i>",
    js=(HERE / "told.js").read_text(encoding="utf-8"),
)


@dataclass(frozen=True, eq=False)
class LeftVisit:
    """One photo that was left.

    Parameters
    ----------
    entry : Entry
    photo : Photo
    picture : str
        The photo as a data address.
    trail : str
        What undo and redo go back to.
    """

    entry: Entry
    photo: Photo
    picture: str
    trail: str


@dataclass(frozen=True, eq=False)
class LeftByHand:
    """Marks that were being put by hand, and their photo.

    Parameters
    ----------
    own : Count
        Without a mark.
    edits : Edits
        The marks so far.
    expected : int or None
        What the round should hold.
    photo : Photo
    picture : str
        The photo as a data address.
    """

    own: Count
    edits: Edits
    expected: int | None
    photo: Photo
    picture: str


# To the browser ------------------------------------------------------------


def remember(under_way: Sequence[SheetPhoto] = (), rest: int = 0) -> None:
    """Hand the browser what stands on the page; it may hand back what stood when it was last here.

    Parameters
    ----------
    under_way : sequence of Piece, optional
        Photos of the sheet that are counted while others are not yet.
    rest : int, optional
        How many are not.
    """
    state = session()
    # In a shared notebook it is safe already, and this browser is not where its code should be evaded.
    safe = bool(kept()) and door.kind() != "own"
    entry = None if safe else sketched()
    hand = _hand_sketched()
    sheet = _sheet((*state.pieces, *under_way), rest)
    if entry or hand or state.pieces or rest:
        state.update(left=None, hand=False)  # what is looked at now takes its place
    data = {
        "visit": state.visit,
        "name": str(state.turn),
        "sketch": as_text(entry) if entry else hand,
        "trail": trail_of(state.edits, count_of_session().size, entry.count.size) if entry else "",
        "sheet": sheet,
        "lasting": door.at_home(),
        "over": state.left is None,
        "heard": state.heard,
        "hand": state.hand,
        "ask": any(piece.edits is not None and not piece.kept for piece in state.pieces),
    }
    with st.container(key="resume"):
        # It is always the same, so that Streamlit doesn't send it again; the other is short.
        _mount_memory(key=KEY, on_found_change=_found, on_wanted_change=_wanted)
        _tell(key="standing", data=data)


def _hand_sketched() -> str:
    """Marks that are being put by hand; empty where none are."""
    state = session()
    if not state.get("by_hand") or not isinstance(state.get("answer"), Count):
        return ""
    size = shown_size((state.photo.width, state.photo.height))
    return by_hand.sketched(count_of_session(), state.edits, size, state.get("expected"))


def _sheet(all_pieces: Sequence[SheetPhoto], rest: int) -> dict | None:
    """How the sheet stands, for the browser; what it asked for is handed over beside it."""
    state = session()
    pieces = [piece for piece in all_pieces if not unsaid(piece)]
    if not pieces and not rest:
        return None
    state.sheet = state.sheet or secrets.token_hex(8)
    head = head_of_session(all_pieces, rest)
    wanted, state.wanted = state.wanted, {}
    handed = [piece for piece in pieces if piece.key in wanted]
    if handed:
        with st.container(key="handed"):
            for piece in handed:
                _hand_over(piece, head, wanted[piece.key])
    opened: SheetPhoto | None = None if state.opened is None else state.pieces[state.opened]
    return {
        "name": state.sheet,
        "head": head,
        "revisions": {piece.key: piece.revision for piece in pieces},
        "handed": [piece.key for piece in handed],
        # The sketch beside it is then that piece's.
        "open": opened and {"photo": opened.key, "revision": opened.revision, "name": opened.name},
    }


def hand_over_each() -> Callable[[SheetPhoto | None, Sequence[SheetPhoto], int], None]:
    """Hand photos to the browser while others are still counted; see :func:`counter.page.several.count_several`."""
    place = st.container(key="handed-each")

    def hand_over(piece: SheetPhoto | None, so_far: Sequence[SheetPhoto], rest: int) -> None:
        with place:
            if piece is None:
                remember(so_far, rest)  # the run ends with the last count, before it comes to that
            else:
                _hand_over(piece, head_of_session((*st.session_state.pieces, *so_far), rest), True)

    return hand_over


def _hand_over(piece: SheetPhoto, head: dict, with_picture: bool) -> None:
    """Send a piece to the browser, and how the sheet stands with it."""
    data = {
        "sheet": st.session_state.sheet,
        "lasting": door.at_home(),
        "head": head,
        "photo": piece.key,
        "revision": piece.revision,
        "sketch": sketch_of(piece),
        "picture": picture_of(piece) if with_picture else None,
    }
    _tell(key=f"handed-{piece.key}", data=data)


def _wanted() -> None:
    """Take down what the browser lacks; the run that begins hands it over."""
    state = session()
    told = state[KEY].wanted
    if isinstance(told, Mapping):
        state.wanted = {piece.key: told[piece.key] is True for piece in state.pieces if piece.key in told}


# And back ------------------------------------------------------------------


def _found() -> None:
    """Take up at once what stood in this very tab; what stood in an earlier one is offered."""
    state = session()
    state.heard += 1
    message = state[KEY].found
    if not isinstance(message, Mapping) or state.get("answer") is not None or state.sheet:
        return  # what is looked at, or just being counted, goes first
    photo, sheet = _read(message.get("photo")), read_sheet(message.get("sheet"))
    if message.get("own") is True:
        state.update(left=None, hand=False)
        if sheet:
            _take_up_sheet(sheet)
        if photo:  # it was looked at last: a count of the notebook's list may lie over a sheet
            _take_up(photo)
    elif sheet and sheet.pieces:
        state.left = sheet
    else:
        state.left = photo


def _read(message: object) -> LeftVisit | LeftByHand | None:
    if not isinstance(message, Mapping):
        return None
    sketch, picture, trail = (message.get(name) for name in ("sketch", "picture", "trail"))
    if not isinstance(sketch, str) or not isinstance(picture, str) or not picture.startswith(ADDRESS):
        return None
    if len(sketch) > MOST_DATA_BYTES or len(picture) > 2 * MOST_PHOTO_BYTES:
        return None
    try:
        data = base64.b64decode(picture.removeprefix(ADDRESS), validate=True)
        if sketch.startswith(by_hand.BEGINS):
            own, edits, told = by_hand.of_sketch(sketch)
            seen = bare_photo(data)
            if seen.info["size"] != told.size:
                return None
            return LeftByHand(own, edits, told.expected, Photo(np.array(seen)), picture)
        entry, photo = from_text(sketch, data)
    except (ValueError, binascii.Error):
        return None
    return LeftVisit(entry, Photo(np.array(photo)), picture, trail if isinstance(trail, str) else "")


def _take_up(left: LeftVisit | LeftByHand) -> None:
    state = session()
    state.left = None
    if isinstance(left, LeftByHand):
        state.update(
            answer=left.own, photo=left.photo, picture=left.picture, edits=left.edits, expected=left.expected, seen=0,
            confirmed=False, scale=None, by_hand=True, turn=state.turn + 1,
        )  # fmt: skip
        begin_strip(str(state.turn), left.photo, left.own)
        return
    entry = left.entry
    book = door.notebook() if door.kind() == "own" else None
    if book is not None:
        with contextlib.suppress(NotebookError):  # it was not kept
            own = book.entry(entry.key)
            reopen(entry.key)
            # The notebook may know of a later edit, which the browser was not told any more.
            if own.marks == entry.marks:
                state.edits = followed(state.edits, left.trail, entry.count.size)
            return
    before = {name: state[name] for name in ("pattern", "hook", "uk", "chain")}
    take_up(entry, left.photo)
    state.edits = followed(state.edits, left.trail, entry.count.size)
    if not entry.goal.plan:
        state.update(before)


def _take_up_sheet(left: LeftSheet) -> None:
    state, goal = st.session_state, left.goal
    lacks = [
        (left.missing, words.UNRETURNED_ONE, words.UNRETURNED),
        (left.kept, words.IN_BOOK_ONE, words.IN_BOOK),
    ]
    state.unreturned = " ".join((one if n == 1 else many).format(n=n) for n, one, many in lacks if n)
    if not left.pieces:
        return
    state.update(
        pieces=left.pieces, sheet=left.name, left_out=left.left_out, rows={}, opened=None, all_total=goal.expected,
        twin=goal.twin,
    )  # fmt: skip
    if goal.plan:
        state.update(pattern=goal.plan, hook=goal.round, uk=goal.uk)
    opened = [index for index, piece in enumerate(left.pieces) if piece.key == left.opened and piece.edits is not None]
    if opened:
        open_piece(*opened)


def banner() -> None:
    """Offer what was left in an earlier tab, and say what did not come back to this one."""
    state = session()
    amiss(state.unreturned)
    left: LeftVisit | LeftByHand | LeftSheet | None = state.left
    if left is None:
        return
    go_on, let_go = words.GO_ON, words.LET_LEFT_GO
    if isinstance(left, LeftSheet):
        go_on, let_go = words.GO_ON_SHEET, words.LET_SHEET_GO
        head, picture = words.SHEET_LEFT_HERE, left.pieces[0].small
        said = words.PHOTO if left.many == 1 else words.PHOTOS.format(n=left.many)
    else:
        many = (len(left.edits.marks),) if isinstance(left, LeftByHand) else left.entry.likely
        head, picture, said = words.LEFT_HERE, left.picture, words.stitches(words.either(many))
    image = f'<img src="{picture}" alt="">' if picture else "<i></i>"
    with st.container(key="left", border=True):
        st.html(f'<div class="first-piece">{image}<div><span>{escape(head)}</span><b>{escape(said)}</b></div></div>')
        with st.container(horizontal=True, gap="small"):
            st.button(
                go_on, key="go-on", on_click=_go_on, args=(left,), width="stretch", type="primary",
                icon=":material/arrow_forward:",
            )  # fmt: skip
            st.button(let_go, key="left-go", on_click=_let_go, width="stretch", icon=":material/close:")


def _go_on(left: LeftVisit | LeftByHand | LeftSheet) -> None:
    if isinstance(left, LeftSheet):
        st.session_state.hand = True  # only its first photo came so far
    else:
        _take_up(left)


def _let_go() -> None:
    st.session_state.update(left=None, hand=False)
