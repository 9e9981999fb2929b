"""What stands on the page survives a reload, and a server that is started again.

The browser remembers the photo and its marks, not this machine: in the tab's own
memory, which goes with the tab, and where the page runs on the visitor's own
machine also beyond it (resume.js). What comes back from there is trusted no
more than a file from anywhere.
"""

from __future__ import annotations

import base64
import binascii
import contextlib
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from pathlib import Path

import numpy as np
import streamlit as st

from counter.notebook import MOST_DATA, MOST_PHOTO, Entry, NotebookError, as_text, from_text
from counter.page import door, words
from counter.page.keeping import kept, reopen, sketched, take_up
from counter.page.trail import followed, trail_of
from counter.photo import Photo

__all__ = ["Left", "banner", "remember"]

KEY = "remembered"
ADDRESS = "data:image/jpeg;base64,"

_mount = st.components.v2.component(
    "resume",
    html="<i hidden></i>",
    js=Path(__file__).with_name("resume.js").read_text(encoding="utf-8"),
)


@dataclass(frozen=True, eq=False)
class Left:
    """What was left in an earlier tab.

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


def remember() -> None:
    """Hand the browser what stands on the page; it may hand back what stood when it was last here."""
    state = st.session_state
    # In a shared notebook it is safe already, and this browser is not where its code should be evaded.
    safe = bool(kept()) and door.kind() != "own"
    entry = None if safe else sketched()
    if entry:
        state.left = None  # what is looked at now takes its place
    data = {
        "visit": state.visit,
        "name": str(state.turn),
        "sketch": as_text(entry) if entry else "",
        "trail": trail_of(state.edits, state.answer.size, entry.count.size) if entry else "",
        "lasting": door.at_home(),
        "over": state.left is None,
        "ask": any(piece.edits is not None and not piece.kept for piece in state.pieces),
    }
    with st.container(key="resume"):
        _mount(key=KEY, data=data, on_found_change=_found)


def _found() -> None:
    """Take up at once what stood in this very tab; what stood in an earlier one is offered."""
    state = st.session_state
    left = _read(state[KEY].found)
    if left is None or state.get("answer") is not None or state.pieces:
        return
    if state[KEY].found.get("own") is True:
        _take_up(left)
    else:
        state.left = left


def _read(message: object) -> Left | None:
    if not isinstance(message, Mapping):
        return None
    sketch, picture, trail = (message.get(name) for name in ("sketch", "picture", "trail"))
    if not isinstance(sketch, str) or not isinstance(picture, str) or not picture.startswith(ADDRESS):
        return None
    if len(sketch) > MOST_DATA or len(picture) > 2 * MOST_PHOTO:
        return None
    try:
        data = base64.b64decode(picture.removeprefix(ADDRESS), validate=True)
        entry, photo = from_text(sketch, data)
    except (ValueError, binascii.Error):
        return None
    return Left(entry, Photo(np.array(photo)), picture, trail if isinstance(trail, str) else "")


def _take_up(left: Left) -> None:
    state = st.session_state
    state.left = None
    entry = left.entry
    if door.kind() == "own":
        with contextlib.suppress(NotebookError):  # it was not kept
            own = door.notebook().entry(entry.key)
            reopen(entry.key)
            # The notebook may know of a later edit, which the browser was not told any more.
            if own.marks == entry.marks:
                state.edits = followed(state.edits, left.trail, entry.count.size)
            return
    before = {name: state[name] for name in ("pattern", "hook", "uk")}
    take_up(entry, left.photo)
    state.edits = followed(state.edits, left.trail, entry.count.size)
    if not entry.goal.plan:
        state.update(before)


def banner() -> None:
    """Offer what was left in an earlier tab."""
    state = st.session_state
    left: Left | None = state.left
    if left is None:
        return
    total = words.TOTAL.format(n=len(left.entry.marks))
    with st.container(key="left", border=True):
        st.html(
            f'<div class="first-piece"><img src="{left.picture}" alt="">'
            f"<div><span>{escape(words.LEFT_HERE)}</span><b>{escape(total)}</b></div></div>"
        )
        with st.container(horizontal=True, gap="small"):
            st.button(
                words.GO_ON, key="go-on", on_click=_take_up, args=(left,), width="stretch", type="primary",
                icon=":material/arrow_forward:",
            )  # fmt: skip
            st.button(words.LET_LEFT_GO, key="left-go", on_click=_let_go, width="stretch", icon=":material/close:")


def _let_go() -> None:
    st.session_state.left = None
