"""The page itself: run by Streamlit, once for everything a person does."""

from __future__ import annotations

import gc
import importlib
import logging
from datetime import UTC, datetime
from html import escape
from pathlib import Path
from threading import Thread

import numpy as np
import streamlit as st
from PIL import Image, ImageDraw, ImageOps
from streamlit.runtime.uploaded_file_manager import UploadedFile

from counter.basics import words
from counter.basics.answer import Count, Refusal
from counter.basics.memory import give_back_large
from counter.basics.photo import Photo, read_photo
from counter.comparing.check import Check, check
from counter.comparing.questions import questions_of
from counter.comparing.verdict import MOST_EXPECTED, Verdict
from counter.counting.count import load
from counter.examination import examine
from counter.page import alike, book, door, keeping, pattern, resume, saving, several, size
from counter.page.browser import tell_browser
from counter.page.edits import Edits, count_so_far, persons_count
from counter.page.goal import hooked, plan_of_session
from counter.page.link import pack
from counter.page.marks_table import marks_table
from counter.page.rim_picture import begin_strip, beside, browser_picture, requested, rim_picture
from counter.page.session import begin, bound, forget_photo, kept, let_go
from counter.page.show import EYE, LOGO, NOTE, TICK, day, jpeg, lines, paper_for, says
from counter.plan import Plan
from counter.showing.overlay import draw_marks
from counter.showing.report import report_page

HERE = Path(__file__).parent
#: The answer where something went wrong inside.
BROKEN = "broken"
#: Where sample photos may lie: beside the package, or where the page was started.
SAMPLES = (HERE.parents[1] / "sample_images", Path("sample_images"))
#: Most samples that are offered, and the side of their small pictures in pixels.
MOST_SAMPLES, SMALL = 6, 320
TEAL = (47, 143, 134)
#: Most rounds that can have been worked since.
MOST_SINCE = 50


def main() -> None:
    """Draw the page."""
    begin()
    # Before anything else: what was changed is safe even where the next tap breaks in.
    several.keep_up()
    keeping.settle()
    st.set_page_config(page_title=words.TITLE, page_icon=_tab_picture(), layout="wide")
    st.html(HERE / "home.css")
    _load()
    state = st.session_state
    answer = state.get("answer")
    with st.container(horizontal=True, vertical_alignment="center", horizontal_alignment="distribute"):
        st.html(f'<div class="brand">{LOGO}<b>{words.TITLE}</b></div>', width="content")
        if isinstance(answer, Count) and state.plan_before is not None:
            st.button(words.BACK_TO_BOOK, on_click=keeping.close, icon=":material/arrow_back:")
        elif isinstance(answer, Count) and state.opened is not None:
            st.button(words.BACK, on_click=keeping.leave, icon=":material/arrow_back:")
        elif isinstance(answer, Count):
            st.button(words.AGAIN, on_click=keeping.ask_for_photo, icon=":material/photo_camera:")
        elif state.listed:
            st.button(words.BACK_TO_PHOTOS, on_click=keeping.leave, icon=":material/arrow_back:")
        else:
            book.link()
    if answer is None and state.listed:
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
        _start()
    elif answer == BROKEN:
        says(words.BROKEN, words.BROKEN_HINT)
        _start()
    else:
        _result(answer)
    # Last, when this run's taps have had their effect.
    tell_browser(pack(kept()), _place(answer), state.asked)
    resume.remember()


def _place(answer: object) -> str:
    """Names what is shown."""
    state = st.session_state
    if isinstance(answer, Count):
        return f"photo-{state.turn}"
    return "notebook" if state.listed else "sheet" if state.pieces else "start"


@st.cache_resource(show_spinner=False)
def _load() -> None:
    """Load what the first count needs while the person still looks for a photo."""
    give_back_large()
    Thread(target=_load_beside, daemon=True).start()


def _load_beside() -> None:
    # Streamlit asks it about all data for the browser, and would load it when the first marks are ready.
    importlib.import_module("pandas")
    load()
    # Streamlit looks for garbage after every run, on the way to the marked picture too: not in the
    # libraries, which is where nearly all of that time goes.
    gc.collect()
    gc.freeze()


@st.cache_resource
def _tab_picture() -> Image.Image:
    """A round for the browser's tab; a named icon would be fetched from elsewhere."""
    picture = Image.new("RGBA", (128, 128))
    draw = ImageDraw.Draw(picture)
    draw.ellipse((52, 52, 76, 76), fill=TEAL)
    for radius, stitches in ((32, 6), (54, 12)):
        box = (64 - radius, 64 - radius, 64 + radius, 64 + radius)
        for stitch in range(stitches):
            turn = 360 * stitch / stitches
            draw.arc(box, turn, turn + 220 / stitches, fill=TEAL, width=12)
    return picture.resize((64, 64), Image.Resampling.LANCZOS)


# Start ---------------------------------------------------------------------


def _start() -> None:
    """Ask for a photo."""
    if "answer" not in st.session_state:
        st.html(f'<h1 class="lead">{words.LEAD}</h1>')
    plan = plan_of_session()
    hook = hooked(plan) if plan else None
    resume.banner()
    alike.banner()
    turn = st.session_state.turn
    # No list of types: a phone then offers its camera too, and what is no
    # picture is refused in our own words.
    label = words.DROP_ROUND.format(n=hook.round) if hook else words.DROP
    dropped = st.file_uploader(label, accept_multiple_files=True, key=f"photo-{turn}")
    taken = None
    if st.toggle(words.CAMERA, key="camera"):
        # Without a number of lines it would take no more pixels than the page shows.
        taken = st.camera_input(words.CAMERA_LABEL, key=f"camera-{turn}", resolution="1080p")
    if len(dropped) > 1:
        _count_several(dropped)
    st.session_state.update(under_way={}, sheet="")
    if chosen := dropped[0] if dropped else taken:
        _count(chosen.getvalue(), chosen)
    pattern.panel()
    if plan:
        pattern.round_card(plan, hook)
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
    tips = "".join(f"<div><b>{head}</b><span>{text}</span></div>" for head, text in words.TIPS)
    st.html(f'<div class="tips">{tips}</div>')
    with st.expander(words.SIZE, icon=":material/straighten:"):
        lines([words.MAT])
        size.mats()
    private = words.PRIVATE_HOME if door.at_home() else words.PRIVATE if door.kind() == "off" else words.PRIVATE_BOOK
    st.html(f'<p class="quiet">{private}</p>')


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
        return browser_picture(np.asarray(ImageOps.fit(picture.convert("RGB"), (SMALL, SMALL))))


def _count(data: bytes, *uploaded: UploadedFile) -> None:
    """Count a photo, keep the answer for this session alone, and show it."""
    step = st.empty()
    photo = None
    try:
        with step, st.spinner(words.READING):
            photo = read_photo(data)
            # The smaller copy shows as much.
            small = None if isinstance(photo, Refusal) else photo.working
        with step, st.spinner(words.COUNTING):
            # The picture for the browser is made while the photo is counted.
            picture = None if small is None else beside(browser_picture, small)
            done = examine(photo)
            answer = done.answer
            if isinstance(answer, Count):
                st.session_state.update(
                    photo=photo, picture=picture.result(), seen=0,
                    edits=Edits.of(answer.marks, questions_of(answer)), confirmed=False, scale=done.scale,
                )  # fmt: skip
    except Exception:  # whatever it was, a maker gets a calm line and the log the rest
        logging.getLogger(__name__).exception("a photo could not be counted")
        answer = BROKEN
    # A new key empties the uploader.
    let_go(uploaded)
    st.session_state.update(answer=answer, chosen=None, unreturned="", turn=st.session_state.turn + 1)
    if isinstance(answer, Count):
        begin_strip(str(st.session_state.turn), photo, answer)
    st.rerun()


def _count_several(files: list) -> None:
    """Count photos, keep them for this session alone beside those that are there, and show what came of each."""
    state = st.session_state
    room = several.MOST_PHOTOS - len(state.pieces)
    state.unreturned = ""
    pieces = several.count_several(
        files[:room], lambda photo: examine(photo).answer, state.under_way, resume.hand_over_each()
    )
    forget_photo()
    let_go(files)
    if not state.pieces:
        state.all_total = None
    state.update(pieces=(*state.pieces, *pieces), left_out=len(files) - len(pieces), under_way={}, turn=state.turn + 1)
    st.rerun()


# Result --------------------------------------------------------------------


def _result(own: Count) -> None:
    """Show a count, its marks and the comparison."""
    photo: Photo = st.session_state.photo
    edits: Edits = st.session_state.edits
    by_person = edits.settled or st.session_state.confirmed
    count = persons_count(own, edits) if by_person else count_so_far(own, edits)
    plan = plan_of_session()
    # The photo comes first: on a phone, nothing above it may change its height under a finger.
    picture, panel = st.columns([8, 4], gap="large")
    with panel:
        st.html(_answer(own, count, by_person))
        found = _compared(count, plan)
    verdict = found.verdict
    with picture:
        state = words.YOU_SAY if by_person else words.SURE if count.sure else words.NOT_SURE
        note = words.JOIN.join([state, words.said(verdict.off_by)] if verdict else [state])
        slips = verdict.slips.claimed if verdict and verdict.slips else ()
        rim_picture(
            str(st.session_state.turn), st.session_state.picture, photo, count, edits, slips, st.session_state.seen,
            note, _edited,
        )  # fmt: skip
        marks_table(count, edits, slips)
    with panel:
        _verdict(count, verdict)
        if not count.sure:
            label = words.CONFIRM.format(n=count.stitches)
            st.button(label, on_click=_confirm, width="stretch", icon=":material/check:")
        if plan and found.compared and st.session_state.opened is None:
            done = verdict.advice is not None and verdict.advice.action in ("go on", "take up")
            pattern.next_photo(plan, found.compared, done)
        keeping.panel()
        _save(photo, count, found, by_person)
        pattern.panel()
        size.panel(photo, own, count, found.compared)
        if st.session_state.opened is None:
            alike.panel(photo, count, verdict.expected if verdict else None)


def _edited(message: object) -> None:
    edits, seen = requested(st.session_state.edits, st.session_state.seen, message, st.session_state.answer.size)
    st.session_state.update(edits=edits, seen=seen)


def _confirm() -> None:
    st.session_state.confirmed = True


def _compared(count: Count, plan: Plan | None) -> Check:
    """Hold the count against the round of the plan, or against a total that is typed."""
    state = st.session_state
    how = {
        "twin": state.twin, "since": state.get("since", 0), "uk": state.uk, "finished": state.get("finished") or None
    }  # fmt: skip
    if plan:
        hook = hooked(plan)
        try:
            found = check(count, plan=plan, round_number=hook and hook.round, **how)
        except ValueError as error:
            pattern.round_card(plan, hook)
            says(words.NO_COMPARISON, words.sentence(str(error)))
            return Check(None)
        pattern.round_card(plan, hook or found.compared)
        pattern.choices(plan, found)
        return found
    if st.session_state.opened is not None:
        return check(count, expected=several.total_for_all(), **how)
    expected = st.number_input(
        words.EXPECTED,
        min_value=1,
        max_value=MOST_EXPECTED,
        value=None,
        step=1,
        key="expected",
        placeholder=words.EXPECTED_NONE,
        help=words.EXPECTED_HELP,
    )
    return check(count, expected=expected, **how)


def _answer(own: Count, count: Count, by_person: bool) -> str:
    """The count and how sure it is, in HTML."""
    numbers = sorted(count.likely)
    shown = f"<i>{words.OR.strip()}</i>".join(str(n) for n in numbers)
    who = words.YOU_SAY if by_person else words.PHOTO_SAYS
    if by_person:
        icon, state = TICK, words.YOURS
        detail = words.YOURS_DETAIL.format(numbers=words.OR.join(str(n) for n in sorted(own.likely)))
    elif count.sure:
        icon, state, detail = TICK, words.SURE, words.SURE_DETAIL.format(p=words.percent(count.probability))
    else:
        left = len(st.session_state.edits.questions) - len(st.session_state.edits.answers)
        detail = words.NOT_SURE_DETAIL if count is own else words.ASKED_DETAIL.format(left=left)
        icon, state = EYE, words.NOT_SURE
    odds = ""
    if len(numbers) > 1:
        rows = ((n, count.posterior.get(n, 0.0)) for n in numbers)
        bar = '<b>{n}</b><div><div style="width:{p:.0%}"></div></div><span>{said}</span>'
        odds = "".join(bar.format(n=n, p=p, said=words.percent(p)) for n, p in rows)
        odds = f'<div class="odds">{odds}</div>'
    more = []
    if own.rounds:
        more.append(words.rounds(own.rounds))
    if own.in_progress:
        more.append(words.IN_PROGRESS.format(done=own.in_progress.done, left=own.in_progress.left))
    return (
        f'<div class="answer" role="status"><div class="who">{who}</div>'
        f'<div class="total{" many" if len(numbers) > 2 else ""}" data-total="{words.OR.join(map(str, numbers))}">'
        f"{shown}<small>{words.STITCHES}</small></div>"
        f'<div class="state"><b>{icon}{state}</b><span>{escape(detail)}</span></div>{odds}'
        + "".join(f'<p class="more">{escape(line)}</p>' for line in more)
        + "</div>"
    )


def _verdict(count: Count, verdict: Verdict | None) -> None:
    """The comparison and what to do; without an expected total, what to look at."""
    if verdict is None:
        if not count.sure:
            says(words.LOOK, words.together(count.reason, words.CAUTION), icon=EYE)
        return
    kind, icon = {"agrees": ("agrees", TICK), "can't say": ("open", EYE)}.get(verdict.verdict, ("off", NOTE))
    says(words.headline(verdict.off_by), verdict.words, kind, icon)
    if verdict.advice:
        _advice(verdict)


def _advice(verdict: Verdict) -> None:
    """What to do next: the main thing first, the next round to be copied."""
    advice = verdict.advice
    # The caution stands in the verdict just above.
    main, *rest = (text for text in advice.words if text != words.CAUTION)
    with st.container(key="advice"):
        made_up = advice.action == "take up" and advice.adjusted
        st.html(f'<p class="do"><b>{escape(words.TAKE_UP if made_up else main)}</b></p>')
        if advice.adjusted:
            st.code(advice.adjusted, language=None, wrap_lines=True)
        lines(rest)
        if verdict.off_by:
            key, changed = bound("finished", False)
            st.toggle(words.FINISHED, key=key, on_change=changed)
            key, changed = bound("twin", False)
            st.toggle(words.TWIN, key=key, on_change=changed)
            key, changed = bound("since", 0)
            st.number_input(words.SINCE, min_value=0, max_value=MOST_SINCE, step=1, key=key, on_change=changed)


def _save(photo: Photo, count: Count, found: Check, by_person: bool) -> None:
    """Offer the marked picture and the page to print, both drawn when they are asked for, not at every edit.

    They are drawn outside of a run of the page, so that all that they say is put together here.
    """
    entry = keeping.kept()
    told = {
        "by_person": by_person,
        "added": [number for number, mark in enumerate(st.session_state.edits.marks, start=1) if mark.added],
        "title": entry.title if entry else "",
        "note": entry.note if entry else "",
        "date": day(datetime.now(UTC)),
        "paper": paper_for(st.context.locale),
    }
    saving.offer(
        "marked", words.SAVE, lambda: _marked(photo, count, found.verdict, by_person), words.SAVE_NAME, "image/jpeg"
    )
    saving.offer(
        "page", words.SAVE_PAGE, lambda: report_page(photo, count, found, **told), words.SAVE_PAGE_NAME,
        "application/pdf", "print",
    )  # fmt: skip


def _marked(photo: Photo, count: Count, verdict: Verdict | None, by_person: bool) -> bytes:
    return jpeg(Image.fromarray(draw_marks(photo, count, verdict, by_person=by_person)), 90)


if __name__ == "__main__":
    main()
