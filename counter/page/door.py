"""The way into the notebook: whose it is, and what opens it."""

from __future__ import annotations

import os

import streamlit as st

from counter.basics import words
from counter.notebook.store import Notebook, new_shared, open_own, open_shared
from counter.notebook.trouble import NotebookError
from counter.page import beside, phone
from counter.page.guard import public_name
from counter.page.session import session
from counter.page.show import amiss, lines
from counter.page.visitors import SWITCH, is_local, turned_on

__all__ = ["ask", "at_home", "code", "kind", "notebook"]


def at_home() -> bool:
    """True where the visitor sits at the machine on which the page runs.

    Nobody does where the page is told a name under which others reach it: a proxy
    that doesn't hand on what it was asked makes everybody look like the machine itself.
    """
    if public_name() is not None:
        return False
    if phone.phones() is not None:
        return beside.is_desk()
    return is_local(st.get_option("server.address"), st.context.headers)


def kind() -> str:
    """Which notebook this visitor has: "own", "shared" or "off", see :func:`counter.page.visitors.turned_on`."""
    return turned_on(at_home(), os.environ.get(SWITCH))


def notebook() -> Notebook | None:
    """The visitor's notebook, for this session alone.

    Returns
    -------
    Notebook or None
        None where there is none, or none yet: a shared server asks for a code.

    Raises
    ------
    NotebookError
        If it can't be opened.
    """
    state = session()
    if state.notebook is None and kind() == "own":
        state.notebook = open_own()
    return state.notebook


def ask() -> None:
    """Ask for the code of a notebook, or begin one."""
    lines([words.DOOR])
    with st.form("door", border=False):
        st.text_input(words.CODE, key="code-typed", placeholder=words.CODE_EXAMPLE, autocomplete="off", max_chars=60)
        st.form_submit_button(words.OPEN_BOOK, on_click=_open, icon=":material/key:", width="stretch")
    st.button(words.BEGIN_BOOK, key="begin", on_click=_begin, icon=":material/add:", width="stretch")
    amiss(st.session_state.said)


def code() -> None:
    """Show the code of a notebook that was just begun, this once."""
    state = session()
    if not state.code:
        return
    with st.container(key="code"):
        st.html(f'<p class="do"><b>{words.CODE_HEAD}</b></p>')
        st.code(state.code, language=None)
        lines([words.CODE_HINT])
        st.button(words.CODE_NOTED, key="noted", on_click=lambda: state.update(code=""), icon=":material/check:")


def _begin() -> None:
    state = session()
    try:
        state.code, state.notebook = new_shared()
        state.said = ""
    except NotebookError as error:
        state.said = str(error)


def _open() -> None:
    # The code stays nowhere: neither in the page's address nor in the box.
    state = session()
    typed, state["code-typed"] = state["code-typed"], ""
    try:
        state.notebook = open_shared(typed)
        state.said = "" if state.notebook else words.NO_SUCH_BOOK
    except NotebookError as error:
        state.said = str(error)
