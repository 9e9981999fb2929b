"""The marks as a table: for those who don't see the picture, and for reading aloud."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import streamlit as st

from counter.basics import words
from counter.basics.answer import Count, clock_position
from counter.comparing.questions import lettered
from counter.comparing.slips import Slip
from counter.page.edits import Edits

__all__ = ["marks_table", "rows_of"]


def rows_of(count: Count, edits: Edits, slips: Sequence[Slip]) -> list[tuple[int, str, str]]:
    """What is to be said of each mark.

    Parameters
    ----------
    count : Count
        As it stands, with the marks of `edits`.
    edits : Edits
    slips : sequence of Slip
        Where the round most likely left its plan.

    Returns
    -------
    list of (int, str, str)
        Number from 1 in working order, near which hour of a clock face, and
        what is special about it, often nothing.
    """
    said: dict[int, list[str]] = {1: [words.MARK_FIRST]}
    for number, mark in enumerate(edits.marks, start=1):
        if mark.added:
            said.setdefault(number, []).append(words.MARK_YOURS)
    for doubt, letter in lettered(count.doubts, edits.questions):
        said.setdefault(doubt.mark, []).append(words.MARK_DOUBT.format(letter=letter, why=doubt.said))
    for slip in slips:
        for number in dict.fromkeys(slip.marks):
            said.setdefault(number, []).append(words.DONE[slip.what])
    return [
        (number, clock_position((mark.x, mark.y), count.centre), words.JOIN.join(said.get(number, ())))
        for number, mark in enumerate(edits.marks, start=1)
    ]


def marks_table(count: Count, edits: Edits, slips: Sequence[Slip]) -> None:
    """Show the table when it is unfolded; the parameters are those of :func:`rows_of`."""
    with st.expander(words.MARKS_TABLE, key="marks-open", on_change="rerun", icon=":material/table_rows:") as box:
        if not box.open:
            return
        rows = "".join(
            f'<tr><th scope="row">{number}</th><td>{escape(clock)}</td><td>{escape(said)}</td></tr>'
            for number, clock, said in rows_of(count, edits, slips)
        )
        head = "".join(f'<th scope="col">{name}</th>' for name in words.MARKS_HEAD)
        caption = words.MARKS_CAPTION.format(n=len(edits.marks))
        st.html(
            f'<table class="marks"><caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead>'
            f"<tbody>{rows}</tbody></table>"
        )
