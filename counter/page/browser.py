"""What the page asks of the browser.

To keep the plan in the address, to hand over pasted text at once and what is
typed into the notebook while it is typed, to begin each view at its top, or
where it was left, to let a phone offer its camera where a tap asked for another
photo, and to say where a file that was asked for did not come.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from counter.basics import words
from counter.page import saving

__all__ = ["own_words", "take_button", "tell_browser"]

KEY = "told"

_mount = st.components.v2.component(
    "browser",
    html="<i hidden></i>",
    js=Path(__file__).with_name("browser.js").read_text(encoding="utf-8"),
)


def tell_browser(query: str | None, place: str, asked: int, on_went: Callable[[object], None]) -> None:
    """Say what the address ends in, what is shown, and whether another photo was asked for.

    Parameters
    ----------
    query : str or None
        From :func:`counter.page.link.pack`; None leaves the address as it is.
    place : str
        Names what is shown: the start, the sheet, or one photo.
    asked : int
        Grows with every tap that asks for another photo.
    on_went : callable
        Called with the name of the place that the browser's "back" or "forward" leads to.
    """
    with st.container(key="browser"):
        told = {"query": query, "place": place, "asked": asked, "gone": words.SERVER_GONE, "language": words.LANGUAGE}
        _mount(
            key=KEY,
            data=told,
            on_waited_change=lambda: saving.in_vain(st.session_state[KEY].waited),
            on_went_change=lambda: on_went(st.session_state[KEY].went),
        )


def take_button() -> None:
    """A large button that opens a phone's camera, within a thumb's reach; browser.js hands over what it takes."""
    st.html(
        f'<div class="take"><button type="button" data-take="">{words.TAKE}</button>'
        f'<button type="button" data-choose="">{words.CHOOSE_PHOTO}</button></div>'
    )


def own_words() -> None:
    """The page's words for what Streamlit's own parts say, where a style can put them."""
    st.html(
        f"<style>:root {{ --drop-here: {_quoted(words.DROP_HERE)}; --choose-file: {_quoted(words.CHOOSE_PHOTO)};"
        f" --most: {_quoted(words.MOST_SIZE)}; --drop-zip: {_quoted(words.DROP_ZIP)} }}</style>"
    )


def _quoted(text: str) -> str:
    """A text as CSS holds it."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
