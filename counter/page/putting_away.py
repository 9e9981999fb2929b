"""What was put away with a tap can be brought back, until the next photo is counted."""

from __future__ import annotations

from html import escape

import streamlit as st

from counter.basics import words
from counter.basics.answer import Count
from counter.page.session import PHOTO, session

__all__ = ["banner", "bring_back", "hold_photo", "hold_sheet"]

#: Names of the sheet of several photos.
SHEET = ("pieces", "left_out", "all_total", "sheet")


def hold_photo() -> None:
    """Remember the photo that is about to be let go, with all that was said about it."""
    state = session()
    if isinstance(state.get("answer"), Count):
        # The rim laid straight is made anew; the rest can't be.
        state.held = {name: state[name] for name in PHOTO if name in state and name not in ("strip", "crops")}


def hold_sheet() -> None:
    """Remember the sheet that is about to be let go."""
    state = session()
    if any(piece.edits is not None and not piece.kept for piece in state.pieces):
        state.held = {name: state[name] for name in SHEET}


def bring_back() -> None:
    """Show again what was put away."""
    state = session()
    if state.held:
        if "all_total" in state.held:
            # Before its box is drawn: what the browser still remembers of the box would go first.
            state["all_total-shown"] = state.held["all_total"]
        state.update({**state.held, "held": None, "listed": False, "turn": state.turn + 1})


def banner() -> None:
    """Offer what was put away."""
    held = st.session_state.held
    if not held:
        return
    if "pieces" in held:
        many = len(held["pieces"])
        what = words.PHOTO if many == 1 else words.PHOTOS.format(n=many)
    else:
        what = words.stitches(len(held["edits"].marks))
    with st.container(key="held", horizontal=True, vertical_alignment="center"):
        st.html(f'<p class="kept" role="status"><span>{escape(words.PUT_AWAY_IS.format(what=what))}</span></p>')
        st.button(words.BRING_BACK, key="bring-back", on_click=bring_back, icon=":material/undo:")
