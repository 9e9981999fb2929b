"""Size and gauge: how large the piece is, how many stitches go to 10 cm, and whether it lies flat."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial
from html import escape

import streamlit as st

from counter.basics import words
from counter.basics.answer import Count
from counter.basics.language import said_now
from counter.basics.photo import Photo
from counter.lengths.gauge import FOUR_INCHES_MM, Gauge
from counter.lengths.mat import PAPERS, mat_page
from counter.lengths.scale import COINS, NoScale, Scale, find_scale, read_length, scale_from_diameter
from counter.lengths.sizing import Sizing, size_up
from counter.page.session import bound, session
from counter.page.show import lines
from counter.plan import PlanRound

__all__ = ["mats", "panel"]


@lru_cache(maxsize=8)
def _mat_page(paper: str, language: str) -> bytes:
    """The mat for a paper, drawn once in each language."""
    return mat_page(paper)


def panel(photo: Photo, own: Count, count: Count, compared: PlanRound | None) -> None:
    """Say size, gauge, tension and how the piece lies.

    Parameters
    ----------
    photo : Photo
    own, count : Count
        The photo's own count and the one that holds, which a person may have corrected.
    compared : PlanRound or None
        The round of the plan that it was compared with.
    """
    with st.expander(words.SIZE, key="size-open", on_change="rerun", icon=":material/straighten:") as box:
        if not box.open:
            return
        key, changed = bound("wide", "")
        typed = st.text_input(words.WIDE, key=key, on_change=changed, placeholder=words.WIDE_EXAMPLE)
        scale: Scale | NoScale | None = _typed(count, typed) if typed.strip() else None
        if scale is None:
            key, changed = bound("coin", None)
            st.segmented_control(words.COIN, list(COINS), key=key, on_change=partial(_look_again, changed))
            scale = _found(photo, own)
        state = session()
        try:
            sizing = size_up(
                photo, count, scale, rounds=compared.round if compared and state.hook == compared.round else None,
                stitch=compared.stitch if compared else "sc", uk=state.uk,
            )  # fmt: skip
        except ValueError as error:
            lines([words.sentence(str(error))])
        else:
            _sizing(sizing)
        st.html(f'<p class="quiet">{escape(words.MAT)}</p>')
        mats()


def mats() -> None:
    """Offer the mat to print, for both papers."""
    with st.container(horizontal=True, gap="small"):
        for paper in PAPERS:
            st.download_button(
                words.MAT_PAPER.format(paper=paper),
                _mat_page(paper, said_now()),
                words.MAT_NAME.format(paper=paper.lower()),
                "application/pdf",
                key=f"mat-{paper}",
                on_click="ignore",
                icon=":material/download:",
            )


def _typed(count: Count, text: str) -> Scale | None:
    try:
        return scale_from_diameter(count, read_length(text))
    except ValueError as error:
        st.html(f'<p class="amiss" role="status">{escape(words.SENTENCE.format(text=error))}</p>')
        return None


def _found(photo: Photo, own: Count) -> Scale | NoScale:
    """What lies in the picture, looked for once."""
    if st.session_state.get("scale") is None:
        with st.spinner(words.LOOKING):
            st.session_state.scale = find_scale(photo, own, coin=st.session_state.coin)
    return st.session_state.scale


def _look_again(changed: Callable[[], None]) -> None:
    changed()
    session().scale = None


def _sizing(sizing: Sizing) -> None:
    scale, said = sizing.scale, list[str]()
    if isinstance(scale, NoScale):
        said = [scale.reason, scale.hint]
    elif sizing.gauge and sizing.size:
        _numbers(sizing.gauge)
        said = [words.SIZE_IS.format(size=sizing.size.words), sizing.gauge.category_words, scale.words]
    lines([text for text in (*said, sizing.tension.words) if text])
    name = words.LIES.get(sizing.lie.name or "")
    if name:
        st.html(f'<p class="lie"><b>{escape(name)}</b></p>')
    lines(sizing.lie.words)


def _numbers(made: Gauge) -> None:
    """Stitches and rounds to a length, as a small table."""

    def cell(value: tuple[float, float] | None) -> str:
        return words.UNKNOWN if value is None else f"{value[0]:.1f}<small> ± {max(2 * value[1], 0.1):.1f}</small>"

    rows = "".join(
        f"<tr><th scope='row'>{words.TO_LENGTH[over]}</th>"
        f"<td>{cell(made.stitches(over))}</td><td>{cell(made.rounds(over))}</td></tr>"
        for over in (100.0, FOUR_INCHES_MM)
    )
    head = f"<tr><td></td><th scope='col'>{words.STITCHES}</th><th scope='col'>{words.ROUNDS_HEAD}</th></tr>"
    st.html(f'<table class="gauge"><caption>{words.GAUGE}</caption>{head}{rows}</table>')
