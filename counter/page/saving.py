"""Files to be saved: made when they are asked for; where one can't be, the page says so in a line of its own."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from counter.basics import words
from counter.basics.language import said_now, speaking
from counter.notebook.trouble import NotebookError
from counter.page.show import amiss

__all__ = ["in_vain", "offer"]


def offer(name: str, label: str, make: Callable[[], bytes], file: str, kind: str, icon: str = "download") -> None:
    """Offer a file.

    Parameters
    ----------
    name : str
        Names the button, in lower case letters.
    label : str
        What it says.
    make : callable
        Gives the bytes. It runs outside of a run of the page, so that all that
        it says is put together before.
    file : str
        Name under which the file is saved.
    kind : str
        Its media type.
    icon : str, optional
        Of the button, as Streamlit names it.
    """
    said: dict[str, str] = st.session_state.unmade
    said.setdefault(name, "")
    language = said_now()

    def made() -> bytes:
        said[name] = ""
        try:
            with speaking(language):
                return make()
        except NotebookError as error:
            with speaking(language):
                said[name] = str(error)
            raise
        except Exception:  # whatever it was, a maker gets a calm line and Streamlit's log the rest
            with speaking(language):
                said[name] = words.UNMADE
            raise

    with st.container(key=f"save-{name}"):
        st.download_button(
            label, made, file, kind, key=f"file-{name}", on_click="ignore", width="stretch",
            icon=f":material/{icon}:",
        )  # fmt: skip
        amiss(said[name])


def in_vain(name: object) -> None:
    """Take down that the browser waited in vain for a file, whatever the reason.

    Parameters
    ----------
    name : object
        Of the button, as the browser says it: not to be trusted.
    """
    said: dict[str, str] = st.session_state.unmade
    if isinstance(name, str) and name in said:
        said[name] = said[name] or words.UNMADE
