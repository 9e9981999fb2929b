"""The photo with numbered marks that can be added and removed by tapping."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable
from pathlib import Path

import streamlit as st
from PIL import Image

from counter.answer import Count
from counter.page.edits import Edits
from counter.photo import Photo

__all__ = ["browser_picture", "rim_picture"]

#: Long side of the picture that travels to the browser, in pixels.
LONG_SIDE = 1400
HERE = Path(__file__).parent


def browser_picture(photo: Photo) -> str:
    """Reduce a photo for the browser.

    Parameters
    ----------
    photo : Photo
        The photo.

    Returns
    -------
    str
        A JPEG without metadata as a data address.
    """
    picture = Image.fromarray(photo.pixels)
    picture.thumbnail((LONG_SIDE, LONG_SIDE), Image.Resampling.LANCZOS)
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=85)
    return "data:image/jpeg;base64," + base64.b64encode(file.getvalue()).decode()


def rim_picture(picture: str, count: Count, edits: Edits, label: str, on_edit: Callable[[dict], None]) -> None:
    """Show the photo with its marks.

    Parameters
    ----------
    picture : str
        From :func:`browser_picture`.
    count : Count
        The count of the photo.
    edits : Edits
        Marks as they stand.
    label : str
        What the picture shows, for those who don't see it.
    on_edit : callable
        Called with {"do": "add", "x", "y"} in pixels of the upright photo, or
        {"do": "remove", "index"} from 0.
    """
    component = st.components.v2.component(
        "rim_picture",
        css=(HERE / "rim_picture.css").read_text(encoding="utf-8"),
        js=(HERE / "rim_picture.js").read_text(encoding="utf-8"),
    )

    def forward() -> None:
        edit = st.session_state.rim_picture.edit
        if edit:
            on_edit(edit)

    component(
        key="rim_picture",
        data={
            "width": count.size[0],
            "height": count.size[1],
            "image": picture,
            "marks": [list(mark) for mark in edits.marks],
            "doubts": [list(doubt.at) for doubt in count.doubts],
            "centre": list(count.centre),
            "label": label,
        },
        on_edit_change=forward,
    )
