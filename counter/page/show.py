"""Small pieces of the page that several of its panels share."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Iterable
from datetime import datetime, timedelta
from html import escape

import numpy as np
import streamlit as st
from PIL import Image

from counter.basics import words

__all__ = [
    *("EYE", "LOGO", "NOTE", "TICK", "amiss", "data_address", "day", "jpeg", "lines", "paper_for", "plain", "says"),
]

#: Signs by name, drawn by home.css.
LOGO, TICK, EYE, NOTE = (
    f'<span class="sign {name}" aria-hidden="true"></span>' for name in ("round", "tick", "eye", "note")
)
#: What has a meaning of its own in Streamlit's labels.
_MARKDOWN = re.compile(r"([\\`*_{}\[\]()<>#+\-.!|~$:])")


def says(head: str, text: str | Iterable[str], kind: str = "open", icon: str = NOTE) -> None:
    """Show a box with something that matters now.

    Parameters
    ----------
    head : str
    text : str or iterable of str
        One paragraph, or several.
    kind : {"agrees", "off", "open"}
    icon : str
        One of the signs.
    """
    body = "".join(f"<p>{escape(line)}</p>" for line in ([text] if isinstance(text, str) else text))
    st.html(f'<div class="verdict {kind}" role="status"><h2>{icon}{escape(head)}</h2>{body}</div>')


def lines(texts: Iterable[str]) -> None:
    """Show sentences one below the other, quietly."""
    texts = list(texts)
    if not texts:
        return
    st.html('<div class="lines">' + "".join(f"<p>{escape(text)}</p>" for text in texts) + "</div>")


def amiss(text: str) -> None:
    """Show one line about something that was done, or could not be; nothing where there is no line."""
    if text:
        st.html(f'<p class="amiss" role="status">{escape(text)}</p>')


def plain(text: str) -> str:
    """Text for a label, so that every character of it is shown as it is.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        With backslashes before what Streamlit would take for a mark-up.
    """
    return _MARKDOWN.sub(r"\\\1", text)


def day(moment: datetime) -> str:
    """A date as the visitor's calendar has it: "4 May 2031".

    Parameters
    ----------
    moment : datetime
        UTC.

    Returns
    -------
    str
    """
    # Minutes from the visitor's time to UTC, as browsers count them; no table of zones is needed.
    return words.date(moment - timedelta(minutes=st.context.timezone_offset or 0))


def paper_for(language: str | None) -> str:
    """The paper to print on: letter where the browser speaks the English of the United States, else A4.

    Parameters
    ----------
    language : str or None
        As the browser names it ("en-US", BCP 47); None where it doesn't.

    Returns
    -------
    {"A4", "letter"}
    """
    return "letter" if (language or "").lower() == "en-us" else "A4"


def jpeg(picture: Image.Image, quality: int) -> bytes:
    """A picture as a JPEG file without metadata."""
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=quality)
    return file.getvalue()


def data_address(pixels: np.ndarray) -> str:
    """A picture for the browser.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.

    Returns
    -------
    str
        A JPEG without metadata, as a data address.
    """
    return "data:image/jpeg;base64," + base64.b64encode(jpeg(Image.fromarray(pixels), 85)).decode()
