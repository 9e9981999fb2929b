"""The notebook's list: search it, open a count, take all of it away or in, delete."""

from __future__ import annotations

import base64
import io
import os.path
from collections.abc import Callable
from functools import partial
from html import escape
from urllib.parse import unquote

import streamlit as st

from counter.basics import words
from counter.notebook.limits import MOST_ENTRIES
from counter.notebook.store import Notebook
from counter.notebook.trouble import NotebookError
from counter.notebook.values import Listed
from counter.page import door, saving
from counter.page.keeping import question, reopen
from counter.page.session import bound, forget_photo, let_go, session
from counter.page.show import amiss, day, lines, plain, says

__all__ = ["link", "view"]

#: Rows that are shown at first, and that each "more" adds.
ROWS = 30
#: Most characters of a note in a row.
MOST_SHOWN = 80


def link() -> None:
    """The way to the list, where there is a notebook."""
    if door.kind() != "off":
        st.button(words.NOTEBOOK, key="book", on_click=enter, icon=":material/menu_book:")


def enter() -> None:
    """Go to the list."""
    forget_photo()  # at most a refusal: a count has its own way to the list
    st.session_state.update(listed=True, rows_shown=ROWS, said="")


def view() -> None:
    """Show the notebook."""
    st.html(f'<h1 class="lead">{words.BOOK_HEAD}</h1>')
    try:
        book = door.notebook()
        if book is None:
            door.ask()
            return
        door.code()
        _list(book)
    except NotebookError as error:
        says(words.BOOK_TROUBLE, str(error))


def _seek(changed: Callable[[], None]) -> None:
    changed()
    session().update(clearing=(), said="")


def _list(book: Notebook) -> None:
    state = session()
    listing = book.listing(state.sought, most=max(ROWS, state.rows_shown))
    empty = not listing.found and not state.sought.strip()
    shelf, side = st.columns([8, 4], gap="large")
    with shelf:
        amiss(state.said)
        if empty:
            st.html(f'<p class="empty">{words.EMPTY}</p>')
        else:
            key, changed = bound("sought", "")
            st.text_input(
                words.SEARCH, key=key, on_change=partial(_seek, changed),
                placeholder=words.SEARCH_EXAMPLE,
            )  # fmt: skip
            many = words.FOUND_ONE if listing.found == 1 else words.FOUND.format(n=listing.found)
            st.html(f'<p class="quiet" role="status">{many if listing.found else words.NOTHING_FOUND}</p>')
        for key in listing.damaged:
            amiss(words.DAMAGED_KEPT.format(key=key))
        with st.container(key="shelf"):
            for line in listing.lines:
                _row(line)
        if listing.found > len(listing.lines):
            st.button(words.MORE, key="more", on_click=_more, width="stretch", icon=":material/expand_more:")
    with side, st.expander(words.MOVE, key="move-open", on_change="rerun", icon=":material/swap_vert:") as box:
        if not box.open:
            return
        if not empty:
            _export(book)
        _import(book)
        if listing.found:
            _clear(book, listing.found)


def _more() -> None:
    st.session_state.rows_shown = max(ROWS, st.session_state.rows_shown) + ROWS


def _row(line: Listed) -> None:
    """One count; a tap anywhere on it opens it."""
    total = words.TOTAL.format(n=words.either(line.likely))
    if line.off_by is None:
        said, edge = words.STATES[line.state], "not-sure" if line.state == "not sure" else ""
    else:
        said, edge = words.headline(line.off_by), "off" if line.off_by else "agrees"
    named = line.title or " ".join(line.note.split())[:MOST_SHOWN]
    when = [day(line.kept), *([] if line.round is None else [words.ROUND_N.format(n=line.round)])]
    small = base64.b64encode(line.small).decode()
    with st.container(key=f"row-{line.key}"):
        st.html(
            f'<div class="piece {edge}" aria-hidden="true"><img src="data:image/jpeg;base64,{small}" alt="">'
            f"<div><span>{escape(named)}</span><b>{escape(total)}</b> <em>{escape(said)}</em>"
            f"<small>{escape(words.JOIN.join(when))}</small></div></div>"
        )
        spoken = ", ".join(filter(None, [named, total, said, *when]))
        st.button(plain(spoken), key=f"open-{line.key}", on_click=reopen, args=(line.key,), width="stretch")


# Away and in ---------------------------------------------------------------


def _export(book: Notebook) -> None:
    said: dict[str, str] = st.session_state.unmade
    saving.offer("export", words.EXPORT, lambda: _packed(book, said), words.EXPORT_NAME, "application/zip")
    lines([words.EXPORT_HINT])


def _packed(book: Notebook, said: dict[str, str]) -> bytes:
    """The zip; what is damaged and not in it is named under the button."""
    file = io.BytesIO()
    left_out = book.export(file).left_out
    said["export"] = " ".join(words.LEFT_OUT_ONE.format(name=name) for name in left_out)
    return file.getvalue()


def _place_of(typed: str) -> str:
    """A file's place as file managers copy it, with quotes or as an address; empty where nothing was typed."""
    text = typed.replace("\0", "").strip().strip("\"'")
    return os.path.expanduser(unquote(text.removeprefix("file://")) if text.startswith("file://") else text)


def _import(book: Notebook) -> None:
    state = session()
    # No list of types: what is no such zip is refused in our own words.
    file = st.file_uploader(words.IMPORT, key=f"import-{state.imports}")
    typed = ""
    if door.at_home():
        # Whoever sits at the machine need not send it a file that it has: a large one is read where it lies.
        large = words.IMPORT_LARGE.format(most=st.get_option("server.maxUploadSize"))
        typed = st.text_input(large, key=f"import-path-{state.imports}", placeholder=words.EXPORT_NAME)
    leave_out = st.toggle(words.LEAVE_OUT, key=f"leave-out-{state.imports}")
    path = _place_of(typed)
    if path and not os.path.isfile(path):
        amiss(words.IMPORT_NO_FILE.format(name=path))
        return
    source = path or file
    if source is None:
        return
    try:
        with st.spinner(words.IMPORTING):
            done = book.import_zip(source, leave_out=leave_out)
        said = [words.IMPORTED.format(added=done.added, already=done.already)]
        state.said = " ".join([*said, *(words.LEFT_OUT_ONE.format(name=name) for name in done.left_out)])
    except NotebookError as error:
        state.said = str(error)
    # A new key empties the uploader.
    let_go([file] if file else [])
    state.imports += 1
    st.rerun()


def _clear(book: Notebook, found: int) -> None:
    """Delete all that the list shows, asked once."""
    state = session()
    keys = state.clearing
    if not keys:
        label = words.DELETE_FOUND_ONE if found == 1 else words.DELETE_FOUND.format(n=found)
        st.button(label, key="clear", on_click=_ask_clear, args=(book,), type="tertiary", icon=":material/delete:")
        return
    question(len(keys), lambda: _cleared(book, keys), lambda: state.update(clearing=()))


def _ask_clear(book: Notebook) -> None:
    # What is deleted is what was shown when it was asked.
    state = session()
    try:
        state.clearing = tuple(line.key for line in book.listing(state.sought, most=MOST_ENTRIES).lines)
    except NotebookError as error:
        state.said = str(error)


def _cleared(book: Notebook, keys: tuple[str, ...]) -> None:
    state = session()
    state.clearing = ()
    try:
        book.delete(*keys)
        state.said = words.DELETED
    except NotebookError as error:
        state.said = str(error)
