"""The page itself: run by Streamlit, once for everything a person does."""

from __future__ import annotations

import base64
import contextlib
import gc
import importlib
import logging
import sysconfig
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from html import escape
from pathlib import Path
from threading import Thread

import cv2
import numpy as np
import streamlit as st
from PIL import Image, ImageOps
from streamlit.delta_generator import DeltaGenerator
from streamlit.runtime.uploaded_file_manager import UploadedFile

from counter.basics import words
from counter.basics.answer import Count, InProgress, Refusal
from counter.basics.memory import give_back_large
from counter.basics.photo import Photo, read_photo
from counter.comparing.check import Check, check
from counter.comparing.questions import questions_of
from counter.comparing.verdict import MOST_EXPECTED, Verdict
from counter.counting.count import load
from counter.examination import Examination, examine
from counter.page import (
    alike,
    book,
    by_hand,
    door,
    group,
    headline,
    keeping,
    pattern,
    pool,
    putting_away,
    resume,
    saving,
    several,
    show_piece,
    size,
    tongue,
)
from counter.page import beside as phone_beside
from counter.page.browser import own_words, take_button, tell_browser
from counter.page.edits import FEWEST_MARKS, Edits, count_so_far, persons_count
from counter.page.goal import hooked, plan_of_session
from counter.page.guard import public_name
from counter.page.homescreen import round_picture
from counter.page.link import pack
from counter.page.marks_table import marks_table
from counter.page.rim_picture import begin_strip, beside, browser_picture, made_of, requested, rim_picture
from counter.page.session import begin, bound, forget_photo, kept, let_go, session
from counter.page.show import LOGO, data_address, day, jpeg, lines, paper_for, says
from counter.page.turns import TURNS, stop_where_nobody_is
from counter.plan import Plan
from counter.plan.remaining import remaining_of
from counter.showing.overlay import draw_marks
from counter.showing.report import report_page

HERE = Path(__file__).parent
#: The answer where something went wrong inside.
BROKEN = "broken"
#: Where sample photos may lie: beside the package, where the page was started, or where they were installed.
SAMPLES = (
    HERE.parents[1] / "sample_images",
    Path("sample_images"),
    Path(sysconfig.get_path("data")) / "share" / "rimtally" / "sample_images",
)
#: Most samples that are offered, and the side of their small pictures in pixels.
MOST_SAMPLES, SMALL_SIDE_PX = 6, 320
#: Long side of the photo as it is seen while it is counted, in pixels.
GLIMPSE_SIDE_PX = 560
#: Points of the line that is drawn over it, about.
LINE_POINTS = 180


def main() -> None:
    """Draw the page."""
    tongue.begin()
    if begin():
        group.open_from_environment()
    # Before anything else: what was changed is safe even where the next tap breaks in.
    several.keep_up()
    group.keep_up()
    keeping.save_changes()
    st.set_page_config(page_title=words.TITLE, page_icon=_tab_picture(), layout="wide")
    st.html(HERE / "home.css")
    own_words()
    _load()
    state = session()
    answer = state.get("answer")
    _top(answer)
    phone_beside.came()
    if answer is None and state.group is not None:
        group.view()
    elif answer is None and state.listed:
        book.view()
    elif answer is None and state.pieces:
        slot = st.empty()  # how far it is stands on top
        if more := several.sheet():
            with slot.container():
                _count_several(more)
    elif answer is None:
        _start()
    elif isinstance(answer, Refusal):
        says(words.REFUSED, words.together(answer.reason, answer.hint))
        if state.get("photo") is not None:
            with st.container(key="refused"):
                if shown := state.get("shown"):
                    _count_shown(shown)
                show_piece.view(
                    state.photo, state.picture, answer.outlines, lambda place: state.update(shown=place), _by_hand
                )
        _start()
    elif answer == BROKEN:
        says(words.BROKEN, words.BROKEN_HINT)
        _start()
    else:
        _result(answer)
    # Last, when this run's taps have had their effect.
    tell_browser(tongue.in_address(pack(kept())), _place(answer), state.asked, _went)
    resume.remember()


def _top(answer: object) -> None:
    """The line on top: whose page it is, and the way back or to the notebook."""
    state = session()
    with st.container(key="top", horizontal=True, vertical_alignment="center", horizontal_alignment="distribute"):
        st.html(f'<div class="brand">{LOGO}<b>{words.TITLE}</b></div>', width="content")
        if state.group is not None and (answer is None or state.group_at is not None):
            back = words.BACK if answer is not None else words.BACK_TO_PHOTOS
            st.button(back, on_click=group.close, icon=":material/arrow_back:")
        elif isinstance(answer, Count) and state.plan_before is not None:
            st.button(words.BACK_TO_BOOK, on_click=keeping.close, icon=":material/arrow_back:")
        elif isinstance(answer, Count) and state.opened is not None:
            st.button(words.BACK, on_click=keeping.leave, icon=":material/arrow_back:")
        elif isinstance(answer, Count):
            st.button(words.TO_START, on_click=keeping.leave, icon=":material/arrow_back:")
        elif state.listed:
            st.button(words.BACK_TO_PHOTOS, on_click=keeping.leave, icon=":material/arrow_back:")
        else:
            group.link()
            book.link()


def _place(answer: object) -> str:
    """Names what is shown."""
    state = session()
    if isinstance(answer, Count):
        return f"photo-{state.turn}"
    if state.group is not None:
        return "group"
    return "notebook" if state.listed else "sheet" if state.pieces else "start"


def _went(to: object) -> None:
    """Go where the browser's "back" or "forward" leads; what is put away on the way can be brought back."""
    state = session()
    here = _place(state.get("answer"))
    if to == "notebook":
        (keeping.close if state.plan_before is not None else book.enter)()
    elif to == "group" or here == "group":
        group.close()
    elif to == "sheet" and state.opened is not None or to == "start" and here != "sheet":
        keeping.leave()
    elif to == "start":
        several.put_away()
    elif state.held and (to == "sheet") == ("pieces" in state.held):
        putting_away.bring_back()


@st.cache_resource(show_spinner=False)
def _load() -> None:
    """Load what the first count needs while the person still looks for a photo."""
    give_back_large()
    Thread(target=_load_beside, daemon=True).start()


def _load_beside() -> None:
    # Streamlit asks it about all data for the browser, and would load it when the first marks are ready.
    importlib.import_module("pandas")
    # Where others count, this process needs no networks.
    (load if public_name() is None else pool.begin)()
    # Streamlit looks for garbage after every run, on the way to the marked picture too: not in the
    # libraries, which is where nearly all of that time goes.
    gc.collect()
    gc.freeze()


@st.cache_resource
def _tab_picture() -> Image.Image:
    """A round for the browser's tab; a named icon would be fetched from elsewhere."""
    return round_picture(64)


# Start ---------------------------------------------------------------------


def _start() -> None:
    """Ask for a photo."""
    if "answer" not in st.session_state:
        st.html(f'<h1 class="lead">{words.LEAD}</h1>')
    plan = plan_of_session()
    hook = hooked(plan) if plan else None
    resume.banner()
    putting_away.banner()
    alike.banner()
    turn = st.session_state.turn
    with st.container(key="start"):
        photos, round_ = st.container(key="photos"), st.container(key="round")
    with round_:
        # Before the photo: the answer then says at once whether the round is right.
        if plan:
            pattern.round_card(plan, hook)
        else:
            _expected()
        pattern.panel()
    with photos:
        # No list of types: a phone then offers its camera too, and what is no
        # picture is refused in our own words.
        label = words.DROP_ROUND.format(n=hook.round) if hook else words.DROP
        dropped = st.file_uploader(label, accept_multiple_files=True, key=f"photo-{turn}")
        take_button()
        phone_beside.invite()
        taken = None
        if st.toggle(words.CAMERA, key="camera"):
            # Without a number of lines it would take no more pixels than the page shows.
            taken = st.camera_input(words.CAMERA_LABEL, key=f"camera-{turn}", resolution="1080p")
        if len(dropped) > 1:
            _count_several(dropped)
        st.session_state.update(under_way={}, sheet="")
        if chosen := dropped[0] if dropped else taken:
            _count(chosen.getvalue(), chosen)
    with st.expander(words.TIPS_HEAD, icon=":material/lightbulb:"):
        tips = "".join(f"<div><b>{head}</b><span>{text}</span></div>" for head, text in words.TIPS)
        st.html(f'<div class="tips">{tips}</div>')
    samples = _samples()
    if samples:
        st.html(f'<h2 class="section">{words.SAMPLES}</h2>')
        with st.container(key="samples"):
            for column, path in zip(st.columns(len(samples)), samples, strict=True):
                column.html(f'<img src="{_small(path)}" alt="">')  # the button under it has the name
                name = f"sample-{path.stem}"
                column.button(_spoken(path), key=name, on_click=_choose, args=(path,), width="stretch")
            # Kept until it is counted: a press is forgotten where another one breaks the run off.
            if st.session_state.chosen:
                _count(st.session_state.chosen.read_bytes())
    with st.expander(words.SIZE, icon=":material/straighten:"):
        lines([words.MAT])
        size.mats()
    private = words.PRIVATE_HOME if door.at_home() else words.PRIVATE if door.kind() == "off" else words.PRIVATE_BOOK
    st.html(f'<p class="quiet">{private}</p>')
    tongue.choice()


def _samples() -> list[Path]:
    """Those of the first folder that holds any."""
    found = (sorted(folder.absolute().glob("*.jpg")) for folder in SAMPLES)
    return next(filter(None, found), [])[:MOST_SAMPLES]


def _spoken(path: Path) -> str:
    return path.stem.replace("-", " ").replace("_", " ").capitalize()


def _choose(sample: Path) -> None:
    st.session_state.chosen = sample


@st.cache_data(max_entries=MOST_SAMPLES, show_spinner=False)
def _small(path: Path) -> str:
    """A sample for the page, as a data address."""
    with Image.open(path) as picture:
        return browser_picture(np.asarray(ImageOps.fit(picture.convert("RGB"), (SMALL_SIDE_PX, SMALL_SIDE_PX))))


def _count(data: bytes, *uploaded: UploadedFile) -> None:
    """Count a photo, keep the answer for this session alone, and show it."""
    step = st.empty()
    answer: Count | Refusal | str
    try:
        with TURNS.turn(lambda before: _waiting(step, before)):
            answer, photo = _examined(step, data)
    except Exception:  # whatever it was, a maker gets a calm line and the log the rest
        logging.getLogger(__name__).exception("a photo could not be counted")
        answer = BROKEN
    # A new key empties the uploader.
    let_go(uploaded)
    st.session_state.update(answer=answer, chosen=None, unreturned="", turn=st.session_state.turn + 1)
    if isinstance(answer, Count) and not isinstance(photo, Refusal):
        st.session_state.held = None  # there is something newer to be lost
        begin_strip(str(st.session_state.turn), photo, answer)
    st.rerun()


def _waiting(step: DeltaGenerator, before: int) -> None:
    """Say how many photos of others come first; nothing once nobody waits for that."""
    stop_where_nobody_is()
    said = words.BEFORE_ONE if before == 1 else words.BEFORE_MANY.format(n=before)
    step.html(f'<p class="quiet" role="status">{said}</p>')


def _examined(step: DeltaGenerator, data: bytes) -> tuple[Count | Refusal, Photo | Refusal]:
    """The answer to a photo, and the photo; what belongs to a count is kept for this session."""
    with step, st.spinner(words.READING):
        photo = read_photo(data)
        # The smaller copy shows as much.
        small = None if isinstance(photo, Refusal) else photo.working
    stop_where_nobody_is()
    with step.container(key="under-way"), st.spinner(words.COUNTING):
        on_seen = None
        if small is not None and isinstance(photo, Photo):
            with st.container(key="glimpse"):
                st.html(f'<img src="{_glimpse(small)}" alt="">')
                on_seen = partial(_seen, st.empty(), photo)
        # The picture for the browser is made while the photo is counted.
        picture = None if small is None else beside(browser_picture, small)
        done = _examine(photo, on_seen=on_seen)
        if isinstance(done.answer, Count) and picture is not None:
            st.session_state.update(
                photo=photo, picture=picture.result(), seen=0,
                edits=Edits.of(done.answer.marks, questions_of(done.answer)), confirmed=False, scale=done.scale,
            )  # fmt: skip
        elif picture is not None:  # a person may show the piece in it
            st.session_state.update(photo=photo, picture=picture.result())
    return done.answer, photo


def _examine(
    photo: Photo | Refusal,
    *,
    around: tuple[float, float, float] | None = None,
    on_seen: Callable[[np.ndarray], None] | None = None,
) -> Examination:
    """The whole job for one photo; beside the server where it has many visitors, who see nothing on the way."""
    if public_name() is not None:
        return pool.examined(photo, around=around)
    return examine(photo, around=around, on_seen=on_seen)


def _seen(line: DeltaGenerator, photo: Photo, outline: np.ndarray) -> None:
    """Draw over the photo what the count is just looking at."""
    few = outline[:: max(1, len(outline) // LINE_POINTS)]
    points = " ".join(f"{x:.0f},{y:.0f}" for x, y in few)
    # White and dark, on whatever the photo shows; Streamlit lets a drawing through as a picture only.
    drawn = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {photo.width} {photo.height}" width="{photo.width}"'
        f' height="{photo.height}" fill="none" stroke-linejoin="round"><polygon stroke="#fff"'
        f' stroke-width="{photo.width / 60:.0f}" points="{points}"/><polygon stroke="#1f6a63"'
        f' stroke-width="{photo.width / 120:.0f}" points="{points}"/></svg>'
    )
    line.html(f'<img class="seen" src="data:image/svg+xml;base64,{base64.b64encode(drawn.encode()).decode()}" alt="">')


def _glimpse(small: np.ndarray) -> str:
    """A photo as it is seen while it is counted: at once, so small."""
    share = GLIMPSE_SIDE_PX / max(small.shape[:2])
    size = tuple(max(1, round(share * side)) for side in small.shape[1::-1])
    return data_address(cv2.resize(small, size, interpolation=cv2.INTER_AREA))


def _count_shown(place: tuple[float, float, float]) -> None:
    """Count the piece that a person showed in a photo that was refused, and show what came of it."""
    state = session()
    photo, picture = state.photo, state.picture
    step = st.empty()
    answer: Count | Refusal | str
    with st.spinner(words.COUNTING):
        try:
            with TURNS.turn(lambda before: _waiting(step, before)):
                answer = _examine(photo, around=place).answer
        except Exception:
            logging.getLogger(__name__).exception("a piece that was shown could not be counted")
            answer = BROKEN
    state.update(answer=answer, shown=None, turn=state.turn + 1)
    if isinstance(answer, Count):
        edits = Edits.of(answer.marks, questions_of(answer))
        state.update(photo=photo, picture=picture, seen=0, edits=edits, confirmed=False, scale=None)
        begin_strip(str(state.turn), photo, answer)
    st.rerun()


def _by_hand(place: tuple[float, float, float]) -> None:
    """Let a person put the marks along the rim of a piece that they showed."""
    state = session()
    seen = state.answer.outlines if isinstance(state.answer, Refusal) else ()
    own = by_hand.begun(place, seen, (state.photo.width, state.photo.height))
    edits = replace(Edits.of(own.marks), around=own.centre)
    state.update(answer=own, edits=edits, seen=0, confirmed=False, scale=None, by_hand=True, turn=state.turn + 1)
    begin_strip(str(state.turn), state.photo, own)


def _count_several(files: list) -> None:
    """Count photos, keep them for this session alone beside those that are there, and show what came of each."""
    state = session()
    room = several.MOST_PHOTOS - len(state.pieces)
    state.unreturned = ""
    step = st.empty()

    @contextlib.contextmanager
    def turn() -> Iterator[None]:
        stop_where_nobody_is()
        with TURNS.turn(lambda before: _waiting(step, before), of_sheet=True):
            step.empty()
            yield

    pieces = several.count_several(
        files[:room], lambda photo: _examine(photo).answer, state.under_way, resume.hand_over_each(), turn
    )
    if not state.pieces:
        state.all_total = state.get("expected")  # as it was typed before they were dropped
    forget_photo()
    let_go(files)
    state.update(pieces=(*state.pieces, *pieces), left_out=len(files) - len(pieces), under_way={}, turn=state.turn + 1)
    st.rerun()


# Result --------------------------------------------------------------------


def _result(own: Count) -> None:
    """Show a count, its marks and the comparison: what matters now on top, the photo, and all else folded."""
    state = session()
    photo: Photo = st.session_state.photo
    edits: Edits = st.session_state.edits
    by_person = edits.settled or st.session_state.confirmed
    count = persons_count(own, edits) if by_person else count_so_far(own, edits)
    if count.in_progress != (under_way := _under_way(own, edits)):
        count = replace(count, in_progress=under_way)
    plan = plan_of_session()
    with st.container(key="result"):
        # The order on a phone; home.css puts them beside each other where there is room.
        head, view, rest = (st.container(key=name) for name in ("head", "view", "rest"))
    with head:
        said = st.container(key="said")
        found = Check(None) if state.get("by_hand") else _compared(count, plan)
        verdict = found.verdict
        with said:
            if count.in_progress:
                _so_far(count, found, plan)
            else:
                headline.answer(own, count, edits, by_person)
                headline.next_step(count, verdict)
        if count.in_progress or st.session_state.get("finished") is False:
            if count.in_progress or not (verdict and verdict.off_by):
                headline.finished()
            if st.session_state.get("finished") is False and not count.in_progress:
                lines([words.SHOW_LAST])
    with view:
        slips = verdict.slips.claimed if verdict and verdict.slips else ()
        rim_picture(
            str(st.session_state.turn), st.session_state.picture, photo, count, edits, slips, st.session_state.seen,
            _made(count), _edited,
        )  # fmt: skip
    with rest:
        _next(count, found, plan)
        if state.get("by_hand"):
            return
        headline.details(count, verdict)
        if not (verdict and verdict.off_by or count.in_progress or st.session_state.get("finished") is False):
            headline.finished()
        keeping.panel()
        with st.expander(words.SAVE_OR_PRINT, icon=":material/download:", key=f"save-{st.session_state.turn}"):
            _save(photo, count, found, by_person)
        marks_table(count, edits, slips)
        pattern.panel()
        size.panel(photo, own, count, found.compared)
        if st.session_state.opened is None:
            alike.panel(photo, count, verdict.expected if verdict else None)


def _next(count: Count, found: Check, plan: Plan | None) -> None:
    """What a thumb wants next, at the lower edge of a phone."""
    state = session()
    alone = state.plan_before is None and state.opened is None
    # A count out of the notebook goes on with its own plan, too; one of a sheet does not.
    goes_on = bool(plan and found.compared and state.opened is None)
    next_one = pattern.following(plan, found.compared) if plan and found.compared and goes_on else None
    last = goes_on and next_one is None
    if last:
        st.html(f'<p class="quiet">{escape(words.LAST_ROUND)}</p>')
    if count.sure and not alone and (last or not goes_on):
        return
    phone_beside.send_button()
    with st.container(key="bar", horizontal=True, gap="small"):
        if not count.sure:
            label = words.CONFIRM.format(n=count.stitches)
            st.button(
                label, key="confirm", on_click=_confirm, width="stretch", icon=":material/check:",
                disabled=count.stitches < FEWEST_MARKS,
            )  # fmt: skip
        if next_one is not None:
            pattern.next_photo(next_one)
        elif alone:
            st.button(
                words.AGAIN, key="again", on_click=keeping.ask_for_photo, icon=":material/photo_camera:",
                type="primary" if count.sure else "secondary", width="stretch",
            )  # fmt: skip


def _under_way(own: Count, edits: Edits) -> InProgress | None:
    """How far the round is, where the photo or a person says that it is not finished."""
    state = session()
    names = [mark.name for mark in edits.marks]
    if state.get("finished") or (state.get("finished") is None and own.in_progress is None):
        return None
    made: int | None = state.get("made")
    if made is not None and made in names:
        done = names.index(made) + 1
    elif own.in_progress and own.in_progress.done < len(names):
        done = own.in_progress.done
    else:
        return None
    last = edits.marks[done - 1]
    return InProgress(done, len(names) - done, (last.x, last.y))


def _made(count: Count) -> int | None:
    if count.in_progress:
        return count.in_progress.done
    return 0 if st.session_state.get("finished") is False else None


def _so_far(count: Count, found: Check, plan: Plan | None) -> None:
    state = session()
    own = (hooked(plan) or found.compared) if plan else None
    expected = own.stitches if own else state.get("expected")
    working = count.in_progress
    if working is None:
        return
    rest = remaining_of(own, working.done, uk=state.uk) if own else ""
    headline.under_way(working.done, working.left, expected, rest, state.get("made") is not None)


def _edited(message: object) -> None:
    made = made_of(message, st.session_state.seen)
    if made is not None:
        st.session_state.made = made
    edits, seen = requested(st.session_state.edits, st.session_state.seen, message, st.session_state.answer.size)
    st.session_state.update(edits=edits, seen=seen)


def _confirm() -> None:
    if st.session_state.get("by_hand"):
        by_hand.ended()
    st.session_state.confirmed = True


def _compared(count: Count, plan: Plan | None) -> Check:
    """Hold the count against the round of the plan, or against a total that is typed."""
    state = session()
    how = {
        "twin": state.twin, "since": state.get("since", 0), "uk": state.uk, "finished": state.get("finished"),
        "twin_holds": state.get("twin_holds") if state.twin else None,
    }  # fmt: skip
    if plan:
        hook = hooked(plan)
        try:
            found = check(count, plan=plan, round_number=hook.round if hook else None, **how)
        except ValueError as error:
            pattern.round_card(plan, hook, short=True)
            says(words.NO_COMPARISON, words.sentence(str(error)))
            return Check(None)
        pattern.round_card(plan, hook or found.compared, short=True)
        pattern.choices(plan, found)
        return found
    if st.session_state.opened is not None:
        return check(count, expected=several.total_for_all(), **how)
    return check(count, expected=_expected(), **how)


def _expected() -> int | None:
    """Ask what the round should hold."""
    key, changed = bound("expected", None)
    return st.number_input(
        words.EXPECTED, min_value=1, max_value=MOST_EXPECTED, value=None, step=1, key=key, on_change=changed,
        placeholder=words.EXPECTED_NONE,
    )  # fmt: skip


def _save(photo: Photo, count: Count, found: Check, by_person: bool) -> None:
    """Offer the marked picture and the page to print, both drawn when they are asked for, not at every edit.

    They are drawn outside of a run of the page, so that all that they say is put together here.
    """
    entry = keeping.kept()
    draw_page = partial(
        report_page,
        photo,
        count,
        found,
        by_person=by_person,
        added=[number for number, mark in enumerate(session().edits.marks, start=1) if mark.added],
        title=entry.title if entry else "",
        note=entry.note if entry else "",
        date=day(datetime.now(UTC)),
        paper=paper_for(st.context.locale),
    )
    saving.offer(
        "marked", words.SAVE, lambda: _marked(photo, count, found.verdict, by_person), words.SAVE_NAME, "image/jpeg"
    )
    saving.offer(
        "page", words.SAVE_PAGE, draw_page, words.SAVE_PAGE_NAME,
        "application/pdf", "print",
    )  # fmt: skip


def _marked(photo: Photo, count: Count, verdict: Verdict | None, by_person: bool) -> bytes:
    return jpeg(Image.fromarray(draw_marks(photo, count, verdict, by_person=by_person)), 90)


if __name__ == "__main__":
    main()
