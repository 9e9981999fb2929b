"""The page itself."""

from __future__ import annotations

import hashlib
import io

import numpy as np
import streamlit as st
from PIL import Image

from counter.answer import Count, Refusal, clock_position
from counter.count import count_photo
from counter.overlay import crop_doubt, draw_marks
from counter.page import words
from counter.page.edits import Edits
from counter.page.rim_picture import browser_picture, rim_picture
from counter.photo import Photo, read_photo
from counter.verdict import CAUTION, compare

STYLE = """
<style>
.block-container { max-width: 1080px; padding-top: 2.2rem; }
.total { font-size: 4.2rem; font-weight: 700; line-height: 1; letter-spacing: -0.02em; }
.total small { font-size: 1.1rem; font-weight: 400; letter-spacing: 0; opacity: 0.75; margin-left: 0.4rem; }
.facts { opacity: 0.8; margin: 0.3rem 0 0.8rem; }
</style>
"""


def main() -> None:
    """Draw the page."""
    st.set_page_config(page_title=words.TITLE, page_icon=":material/motion_mode:", layout="wide")
    st.html(STYLE)
    st.title(words.TITLE, anchor=False)
    st.write(words.LEAD)
    data = _chosen()
    expected = st.number_input(
        words.EXPECTED, min_value=1, max_value=1000, value=None, step=1, help=words.EXPECTED_HELP, key="expected"
    )
    if data is None:
        st.caption(words.PHOTO_TIPS)
        return
    photo, answer = _counted(data)
    if isinstance(answer, Refusal):
        st.warning(f"{answer.reason} {answer.hint}")
        return
    _result(photo, answer, expected)


def _chosen() -> bytes | None:
    """Bytes of the photo that was dropped or taken."""
    dropped = st.file_uploader(words.DROP, type=None, key="dropped")
    with st.expander(words.CAMERA):
        taken = st.camera_input(words.CAMERA, label_visibility="collapsed", key="taken") if dropped is None else None
    chosen = dropped or taken
    return chosen.getvalue() if chosen else None


def _counted(data: bytes) -> tuple[Photo | None, Count | Refusal]:
    """Photo and answer of this session's current file; a new file starts afresh."""
    name = hashlib.sha256(data).hexdigest()
    if st.session_state.get("name") != name:
        with st.spinner(words.COUNTING):
            photo = read_photo(data)
            answer = photo if isinstance(photo, Refusal) else count_photo(photo)
        st.session_state.update(name=name, photo=photo, answer=answer)
        if isinstance(answer, Count):
            st.session_state.update(edits=Edits.of(answer.marks), picture=browser_picture(photo))
    return st.session_state.photo, st.session_state.answer


def _edit(change: dict) -> None:
    edits: Edits = st.session_state.edits
    if change["do"] == "add":
        st.session_state.edits = edits.add(float(change["x"]), float(change["y"]))
    else:
        st.session_state.edits = edits.remove(int(change["index"]))


def _result(photo: Photo, count: Count, expected: int | None) -> None:
    edits: Edits = st.session_state.edits
    corrected = bool(edits.before)
    picture, side = st.columns([5, 3], gap="large")
    with side:
        likely = words.OR.join(str(n) for n in sorted(count.likely))
        shown = f"{len(edits.marks)}" if corrected else likely
        st.html(f'<div class="total" data-total="{shown}">{shown}<small>{words.YOURS if corrected else words.STITCHES}</small></div>')
        state = words.SURE if count.sure else words.NOT_SURE
        rounds = f" · {count.rounds} {words.ROUNDS}" if count.rounds else ""
        st.html(f'<div class="facts">{state}: {count.probability:.0%} for {count.stitches}{rounds}</div>')
        _verdict(count, edits, corrected, expected)
        st.caption(words.EDIT_HINT)
        buttons = st.columns(2)
        undone, redone, first = edits.undo(), edits.redo(), Edits.of(count.marks)
        _button(buttons[0], words.UNDO, undone, disabled=not edits.before)
        _button(buttons[1], words.REDO, redone, disabled=not edits.after)
        _button(st, words.RESET, first, disabled=not corrected)
        st.download_button(words.SAVE, _marked_jpeg(photo, count, edits), "marked.jpg", "image/jpeg", width="stretch")
    with picture:
        rim_picture(st.session_state.picture, count, edits, f"{len(edits.marks)} {words.STITCHES}", _edit)
    if count.doubts:
        st.subheader(words.DOUBTS, anchor=False)
        for column, doubt in zip(st.columns(max(2, len(count.doubts))), count.doubts, strict=False):
            hour = clock_position(doubt.at, count.centre)
            text = words.NEAR.format(mark=doubt.mark, clock=hour, why=doubt.why)
            column.image(crop_doubt(photo, count, doubt), caption=text, width="stretch")


def _verdict(count: Count, edits: Edits, corrected: bool, expected: int | None) -> None:
    if expected is None:
        if not count.sure and not corrected:
            st.info(f"{count.reason} {CAUTION}")
        return
    if not corrected:
        verdict = compare(count, expected)
        {"agrees": st.success, "can't say": st.info}.get(verdict.verdict, st.warning)(verdict.words)
        return
    off = len(edits.marks) - expected
    if off == 0:
        st.success(words.AGREES.format(n=expected))
    else:
        verdict = (words.SHORT if off < 0 else words.OVER).format(k=abs(off))
        st.warning(f"{words.OFF.format(n=len(edits.marks), verdict=verdict, expected=expected)} {CAUTION}")


def _button(place, label: str, to: Edits, *, disabled: bool) -> None:
    place.button(label, disabled=disabled, width="stretch", on_click=st.session_state.update, kwargs={"edits": to})


def _marked_jpeg(photo: Photo, count: Count, edits: Edits) -> bytes:
    file = io.BytesIO()
    marks = np.array(edits.marks).reshape(-1, 2)
    Image.fromarray(draw_marks(photo, count, marks)).save(file, "JPEG", quality=90)
    return file.getvalue()


main()
