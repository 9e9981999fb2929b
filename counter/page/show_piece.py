"""A photo that could not be counted, to show the piece in it: a tap on its middle, one on its edge."""

from __future__ import annotations

import inspect
import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import streamlit as st

from counter.basics import words
from counter.basics.answer import Count, Refusal
from counter.basics.photo import Photo
from counter.counting import count as counting
from counter.page.show import lines

__all__ = ["count_shown", "shown_place", "view"]

HERE = Path(__file__).parent
#: How far beyond the edge that was shown the photo is looked at, as a share of the radius.
BEYOND = 1.35
#: Least radius of a piece, in pixels: smaller ones have no stitches to be told apart.
LEAST = 40.0
KEY = "shown-piece"

_mount = st.components.v2.component(
    "show_piece",
    html='<div class="show-piece"></div>',
    css=(HERE / "show_piece.css").read_text(encoding="utf-8"),
    js=(HERE / "show_piece.js").read_text(encoding="utf-8"),
)


def view(photo: Photo, picture: str, on_shown) -> None:
    """Show the photo and ask for the piece.

    Parameters
    ----------
    photo : Photo
    picture : str
        The same for the browser.
    on_shown : callable
        Called with the place, (x, y, radius) in pixels of the photo.
    """
    key = f"{KEY}-{st.session_state.turn}"

    def shown() -> None:
        place = shown_place(st.session_state[key].shown, (photo.width, photo.height))
        if place:
            on_shown(place)

    lines([words.SHOW_PIECE])
    _mount(
        key=key,
        data={
            "picture": picture,
            "width": photo.width,
            "height": photo.height,
            "words": {
                "middle": words.SHOW_MIDDLE, "edge": words.SHOW_EDGE, "count": words.SHOW_COUNT,
                "again": words.SHOW_AGAIN, "picture": words.SHOW_PICTURE,
            },
        },
        on_shown_change=shown,
    )  # fmt: skip


def shown_place(message: object, size: tuple[int, int]) -> tuple[float, float, float] | None:
    """The place that a browser says a person showed; None where it makes no sense."""
    if not isinstance(message, Mapping):
        return None
    values = [message.get(name) for name in ("x", "y", "radius")]
    if not all(isinstance(v, int | float) and not isinstance(v, bool) and math.isfinite(v) for v in values):
        return None
    x, y, radius = map(float, values)
    if not (0 <= x < size[0] and 0 <= y < size[1] and LEAST <= radius <= max(size)):
        return None
    return x, y, radius


def count_shown(photo: Photo, place: tuple[float, float, float]) -> Count | Refusal:
    """Count the piece that a person showed.

    Parameters
    ----------
    photo : Photo
    place : tuple of float
        (x, y) of its middle and its radius, in pixels of the photo.

    Returns
    -------
    Count or Refusal
        In pixels of the photo.
    """
    if "around" in inspect.signature(counting.count_photo).parameters:
        return counting.count_photo(photo, around=place)
    x, y, radius = place
    left, right = (int(np.clip(x + side * BEYOND * radius, 0, photo.width)) for side in (-1, 1))
    top, bottom = (int(np.clip(y + side * BEYOND * radius, 0, photo.height)) for side in (-1, 1))
    answer = counting.count_photo(Photo(np.ascontiguousarray(photo.pixels[top:bottom, left:right])))
    return answer if isinstance(answer, Refusal) else _moved(answer, left, top, (photo.width, photo.height))


def _moved(count: Count, left: int, top: int, size: tuple[int, int]) -> Count:
    """A count of a part of a photo as one of the photo."""

    def moved(at: tuple[float, float]) -> tuple[float, float]:
        return at[0] + left, at[1] + top

    progress = count.in_progress
    return replace(
        count,
        marks=count.marks + (left, top),
        doubts=tuple(replace(doubt, at=moved(doubt.at)) for doubt in count.doubts),
        centre=moved(count.centre),
        outline=count.outline + (left, top),
        in_progress=progress and replace(progress, loop=moved(progress.loop)),
        size=size,
    )
