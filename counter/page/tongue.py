"""The language of a visit: the browser's, or the one that is chosen."""

from __future__ import annotations

from urllib.parse import urlencode

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from counter.basics import words
from counter.basics.language import best_of, known, listen, speaking
from counter.page.session import bound

__all__ = ["begin", "choice", "in_address"]

#: What the address calls it.
QUERY = "language"


def begin() -> None:
    """Speak to each visit in its own language from here on."""
    listen(_of_visit)


def _of_visit() -> str | None:
    # Beside a run of the page there is no visit to ask.
    return st.session_state.get("language") if get_script_run_ctx(suppress_warning=True) else None


def choice() -> None:
    """Let a person choose another language."""
    key, changed = bound("language", "")

    def chosen() -> None:
        changed()
        st.session_state.rows = {}  # of the sheet: they are put into words anew

    with st.container(key="languages"):
        st.radio(
            words.LANGUAGES, list(known()), key=key, on_change=chosen, format_func=_named, horizontal=True,
        )  # fmt: skip


def _named(language: str) -> str:
    """What a language calls itself."""
    with speaking(language):
        return words.LANGUAGE_NAME


def in_address(query: str | None) -> str | None:
    """The query of the page's address with the language, where it is not the browser's own; None stays None."""
    language = st.session_state.language
    if query is None or language == best_of(st.context.locale):
        return query
    return f"{query}{'&' if query else '?'}{urlencode({QUERY: language})}"
