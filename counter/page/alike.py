"""Two alike: keep a piece, photograph its twin, compare them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from html import escape

import numpy as np
import streamlit as st
from PIL import Image, ImageOps

from counter.basics import words
from counter.basics.answer import Count
from counter.basics.photo import Photo
from counter.lengths.pair import compare_pieces
from counter.lengths.scale import NoScale, Scale
from counter.page.keeping import ask_for_photo
from counter.page.rim_picture import browser_picture
from counter.page.session import session
from counter.page.show import EYE, NOTE, TICK, lines, says

__all__ = ["FirstPiece", "banner", "panel"]

#: Side of the small picture of the first piece, in pixels.
SMALL_SIDE_PX = 200


@dataclass(frozen=True, eq=False)
class FirstPiece:
    """The first of two pieces that must match.

    Parameters
    ----------
    count : Count
        As counted, or as corrected.
    picture : str
        A small picture of it as a data address.
    scale : Scale or None
        None where it was not looked for, or not found.
    turn : int
        Which photo of the visit it was.
    """

    count: Count
    picture: str
    scale: Scale | None
    turn: int


def banner() -> None:
    """Remind of the first piece where the photo of the second is asked for."""
    first: FirstPiece | None = st.session_state.first
    if first:
        with st.container(key="first"):
            _card(first, words.FIRST_WAITS)
            _let_go()


def panel(photo: Photo, count: Count, expected: int | None) -> None:
    """Keep the piece, or compare it with the one that was kept.

    Parameters
    ----------
    photo : Photo
    count : Count
        As it holds now.
    expected : int or None
        What both should hold, where it is known.
    """
    state = session()
    scale = None if isinstance(state.get("scale"), NoScale) else state.get("scale")
    first: FirstPiece | None = state.first
    here = first is not None and first.turn == state.turn
    if first and here and (first.count is not count or first.scale is not scale):
        # Its marks may be put right after it was kept.
        first = state.first = replace(first, count=count, scale=scale)
    key, icon = f"alike-open-{state.turn}", ":material/join_inner:"
    with st.expander(words.ALIKE, key=key, expanded=bool(first), on_change="rerun", icon=icon) as box:
        if not box.open:
            return
        if first and not here:
            _pair(first, count, scale, expected)
        elif first:
            _card(first, words.FIRST_KEPT)
            icon = ":material/photo_camera:"
            st.button(words.SECOND, key="second", on_click=ask_for_photo, width="stretch", icon=icon)
        else:
            lines([words.ALIKE_HINT])
        if not here:
            this = FirstPiece(count, _small(photo, count), scale, state.turn)
            label = words.KEEP_INSTEAD if first else words.KEEP_FIRST
            icon = ":material/bookmark:"
            st.button(label, key="keep-first", on_click=_keep, args=(this,), width="stretch", icon=icon)
        if first:
            _let_go()


def _pair(first: FirstPiece, count: Count, scale: Scale | None, expected: int | None) -> None:
    _card(first, words.FIRST_WAS)
    scales = (first.scale, scale) if first.scale and scale else None
    pair = compare_pieces(first.count, count, expected=expected, scales=scales)
    kind, icon = ("agrees", TICK) if pair.off_by == 0 else ("open", EYE) if pair.off_by is None else ("off", NOTE)
    says(words.PAIRS.get(pair.verdict, words.PAIR_OFF.format(n=abs(pair.off_by or 0))), pair.words, kind, icon)


def _card(first: FirstPiece, head: str) -> None:
    numbers = words.OR.join(str(n) for n in sorted(first.count.likely))
    total = words.TOTAL.format(n=numbers)
    st.html(
        f'<div class="first-piece"><img src="{first.picture}" alt="">'
        f"<div><span>{escape(head)}</span><b>{escape(total)}</b></div></div>"
    )


def _let_go() -> None:
    st.button(words.LET_GO, key="let-go", on_click=_keep, args=(None,), type="tertiary", icon=":material/close:")


def _keep(first: FirstPiece | None) -> None:
    st.session_state.first = first


def _small(photo: Photo, count: Count) -> str:
    """The piece alone, in a small square."""
    middle = count.outline.mean(axis=0)
    half = 1.15 * abs(count.outline - middle).max()
    left, top = (max(0, int(v)) for v in middle - half)
    right, bottom = (int(v) for v in middle + half)
    piece = Image.fromarray(photo.pixels[top : bottom + 1, left : right + 1])
    return browser_picture(np.asarray(ImageOps.fit(piece, (SMALL_SIDE_PX, SMALL_SIDE_PX))))
