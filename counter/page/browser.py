"""What the page asks of the browser: to keep the plan in the address, and to hand over pasted text at once."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

__all__ = ["tell_browser"]

_mount = st.components.v2.component(
    "browser",
    html='<i hidden></i>',
    js=Path(__file__).with_name("browser.js").read_text(encoding="utf-8"),
)


def tell_browser(query: str | None) -> None:
    """Let the browser's address end in a query.

    Parameters
    ----------
    query : str or None
        From :func:`counter.page.link.pack`; None leaves the address as it is.
    """
    with st.container(key="browser"):
        _mount(key="told", data={"query": query})
