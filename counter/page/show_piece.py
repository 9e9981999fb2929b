"""A photo that could not be counted, to show the piece in it: a tap on its middle, one on its edge."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np
import streamlit as st

from counter.basics import words
from counter.basics.photo import Photo
from counter.page.show import lines

__all__ = ["shown_place", "view"]

HERE = Path(__file__).parent
#: Least radius of a piece, in pixels: smaller ones have no stitches to be told apart.
LEAST_RADIUS_PX = 40.0
KEY = "shown-piece"

_mount = st.components.v2.component(
    "show_piece",
    html='<div class="show-piece"></div>',
    css=(HERE / "show_piece.css").read_text(encoding="utf-8"),
    js=(HERE / "show_piece.js").read_text(encoding="utf-8"),
)


def view(
    photo: Photo,
    picture: str,
    outlines: Sequence[np.ndarray],
    on_shown: Callable[[tuple[float, float, float]], None],
    on_by_hand: Callable[[tuple[float, float, float]], None],
) -> None:
    """Show the photo and ask for the piece.

    Parameters
    ----------
    photo : Photo
    picture : str
        The same for the browser.
    outlines : sequence of ndarray of shape (K, 2)
        Lines round what was found in it, in pixels of the photo; a tap inside of one takes it.
    on_shown, on_by_hand : callable
        Called with the place, (x, y, radius) in pixels of the photo: to count it, or to put its marks by hand.
    """
    key = f"{KEY}-{st.session_state.turn}"

    def shown() -> None:
        place = shown_place(st.session_state[key].shown, (photo.width, photo.height))
        if place:
            (on_by_hand if st.session_state[key].shown.get("hand") else on_shown)(place)

    lines([words.SHOW_PIECE])
    _mount(
        key=key,
        data={
            "picture": picture,
            "width": photo.width,
            "height": photo.height,
            "outlines": [[[round(float(v), 1) for v in at] for at in outline] for outline in outlines],
            "words": {
                "middle": words.SHOW_MIDDLE, "edge": words.SHOW_EDGE, "count": words.SHOW_COUNT,
                "hand": words.SHOW_BY_HAND, "found": words.SHOW_FOUND,
                "again": words.SHOW_AGAIN, "picture": words.SHOW_PICTURE,
            },
        },
        on_shown_change=shown,
    )  # fmt: skip


def shown_place(message: object, size: tuple[int, int]) -> tuple[float, float, float] | None:
    """The place that a browser says a person showed; None where it makes no sense."""
    if not isinstance(message, Mapping):
        return None
    told = [message.get(name) for name in ("x", "y", "radius")]
    values = [float(v) for v in told if isinstance(v, int | float) and not isinstance(v, bool) and math.isfinite(v)]
    if len(values) < len(told):
        return None
    x, y, radius = values
    if not (0 <= x < size[0] and 0 <= y < size[1] and LEAST_RADIUS_PX <= radius <= max(size)):
        return None
    return x, y, radius
