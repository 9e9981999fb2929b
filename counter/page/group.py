"""A folder of many makers' photos: counted beside the page, worked through one after another, given away as sheets."""

from __future__ import annotations

import base64
import os
import signal
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from html import escape
from pathlib import Path

import streamlit as st

from counter.basics import words
from counter.basics.answer import Refusal
from counter.comparing.questions import questions_of
from counter.group import correct
from counter.group.audit import FOLDER, Group
from counter.group.console import example_words, photo_of, sign_of
from counter.group.labels import CALLED
from counter.group.sheets import address_of, group_csv, group_page, marked_svg
from counter.group.store import Answer, Correction, GroupError, Typed
from counter.group.table import Line, Table, whose_words
from counter.group.work import Job, program
from counter.notebook.values import Entry, Goal
from counter.page import door, keeping, saving
from counter.page.edits import Edits
from counter.page.session import forget_photo, session
from counter.page.show import amiss, lines, paper_for
from counter.showing.sentences import answers_words, question_words

__all__ = ["close", "keep_up", "link", "open_from_environment", "view"]

HERE = Path(__file__).parent
#: Photos that are asked about at once: the next ones stand there while one is answered. Most rows of a list.
AT_ONCE, MOST_ROWS = 4, 60
#: Seconds between two looks at how far the counting is.
PROGRESS_INTERVAL_S = 1.5


@dataclass
class _Run:
    """Counting that goes on beside the page; a window that is closed doesn't end it."""

    process: subprocess.Popen
    log: Path
    before: int
    began: float = field(default_factory=time.monotonic)

    @property
    def going(self) -> bool:
        """True until it has ended."""
        return self.process.poll() is None

    @property
    def trouble(self) -> str:
        """What it said where it could not go on; empty where it could, or was stopped."""
        if self.going or self.process.returncode in (0, 130, -signal.SIGINT):
            return ""
        said = self.log.read_text(encoding="utf-8", errors="replace").strip().splitlines()
        return said[-1].removeprefix("rimtally: ") if said else words.UNMADE


@st.cache_resource(show_spinner=False)
def _runs() -> dict[str, _Run]:
    """By folder, for all visits alike."""
    return {}


# Coming and going ----------------------------------------------------------


def open_from_environment() -> None:
    """Begin with the folder that the command line names, once a visit and only at this machine."""
    folder = os.environ.get(FOLDER)
    if folder and door.at_home():
        st.session_state.group = folder


def link() -> None:
    """The way in, for whoever sits at the machine: photos of others' folders are nobody else's business."""
    if door.at_home():
        st.button(words.GROUP_LINK, key="group-link", on_click=_enter, icon=":material/groups:", type="tertiary")


def _enter() -> None:
    st.session_state.group = ""


def close() -> None:
    """Go back: from a photo to the group, from the group to the start."""
    state = session()
    if state.group_at is not None:
        keep_up()
        state.update(state.group_plan, group_at=None, group_plan={})
        forget_photo()
    else:
        state.update(group=None, group_known={}, said="")


def keep_up() -> None:
    """Keep what a person does to the marks of a group's photo."""
    state = session()
    if state.group_at is None or "edits" not in state:
        return
    line, saved = state.group_at
    edits: Edits = state.edits
    if (edits.marks, edits.answers, state.confirmed) == saved:
        return
    entry = _with(line, edits, state.confirmed)
    try:
        Group.open(Path(state.group or "")).book.correct(line.content, line.piece, correct.marked(line, entry))
        state.group_at = (
            replace(line, said=(*line.said, correct.marked(line, entry))), (edits.marks, edits.answers, state.confirmed)
        )  # fmt: skip
    except (ValueError, GroupError) as error:
        state.said = str(error)


def _with(line: Line, edits: Edits, confirmed: bool) -> Entry:
    answers = tuple(edits.answers.get(k) for k in range(len(edits.questions)))
    entry = correct.standing_entry(line)
    if isinstance(line.automatic, Entry):
        entry = replace(entry, count=line.automatic.count)
    return replace(entry, marks=edits.kept, answers=answers, by_hand=edits.now.by_hand, confirmed=confirmed)


def _edits(line: Line) -> Edits:
    entry = correct.standing_entry(line)
    own = entry.count
    return Edits.resumed(own.marks, questions_of(own), entry.marks, entry.answers, entry.by_hand)


def _open(line: Line) -> None:
    """Show a photo with its marks, to put them right by hand."""
    state = session()
    try:
        group = Group.open(Path(state.group or ""))
        photo = group.photo(line)
    except (ValueError, GroupError) as error:
        state.said = str(error)
        return
    if isinstance(photo, Refusal):
        state.said = words.together(photo.reason, photo.hint)
        return
    # What is pasted under "Your pattern" makes room for the group's plan and comes back.
    before = {name: state[name] for name in ("pattern", "hook", "uk", "twin")}
    goal = Goal(plan=group.text, uk=group.uk, round=line.place.round) if line.place.matched else Goal()
    entry = replace(correct.standing_entry(line), goal=goal)
    keeping.take_up(entry, photo)
    state.update(group_at=(line, (state.edits.marks, state.edits.answers, state.confirmed)), group_plan=before)


# What a tap says -----------------------------------------------------------


def _say(line: Line, make: Callable[[], Correction]) -> None:
    state = session()
    try:
        Group.open(Path(state.group or "")).book.correct(line.content, line.piece, make())
        state.said = ""
    except (ValueError, GroupError) as error:
        state.said = str(error)


def _answer(line: Line, question: int, change: int) -> None:
    edits = _edits(line).answer(question, change)
    _say(line, lambda: correct.marked(line, _with(line, edits, False)))


def _in_hand(line: Line, key: str) -> None:
    total = st.session_state.get(key)
    if total:
        _say(line, lambda: correct.in_hand(line, int(total)))


# The view ------------------------------------------------------------------


def view() -> None:
    """Show the group, or ask for its folder."""
    state = session()
    st.html(HERE / "group.css")
    if not door.at_home():
        amiss(words.GROUP_AWAY)
        return
    if not state.group:
        _ask()
        return
    try:
        group = Group.open(Path(state.group or ""))
        if not group.names and not group.table and not group.book.typed():
            _naming(group)
            return
        job = group.stock()
        answers = _known(group, job)
        table = group.lay_out(job, answers)
    except (ValueError, GroupError) as error:
        amiss(str(error))
        _ask()
        return
    _shown(group, job, table, answers)


def _ask() -> None:
    state = session()
    st.html(f'<h1 class="lead">{words.GROUP_LEAD}</h1>')
    with st.form("group-form", border=False):
        folder = st.text_input(words.GROUP_FOLDER, value=state.group or "", help=words.GROUP_FOLDER_HELP)
        plan = st.text_area(words.GROUP_PLAN, value=state.pattern, height=160, help=words.GROUP_PLAN_HELP)
        uk = st.checkbox(words.UK, value=state.uk)
        if st.form_submit_button(words.GROUP_OPEN, type="primary", icon=":material/folder_open:"):
            try:
                opened = Path(folder.strip()).expanduser()
                Group.open(opened, plan=plan if plan.strip() else None, uk=uk)
                state.update(group=str(opened), group_known={}, said="")
                st.rerun()
            except (ValueError, GroupError) as error:
                amiss(str(error))


def _naming(group: Group) -> None:
    """Show on examples what a pattern of names makes of the photos, before it is used."""
    st.html(f'<h2 class="section">{words.GROUP_NAMING}</h2>')
    pattern = st.text_input(words.GROUP_NAMES, value=group.guess or "{maker}/{round}", help=words.GROUP_NAMES_HELP)
    try:
        places = group.places(pattern)
    except ValueError as error:
        amiss(str(error))
        return
    lines(text.strip() for text in example_words(places)[:12])
    if st.button(words.GROUP_USE_NAMES, type="primary", icon=":material/check:"):
        _start(group.named(pattern))
        st.rerun()


def _known(group: Group, job: Job) -> dict[str, Answer]:
    """Answers by content; those that were read in this visit are not read again."""
    state, now = st.session_state, program()
    done = group.book.counted(now)
    wanted = set(job.contents.values())
    known = {content: own for content, own in state.group_known.items() if content in wanted}
    missing = [
        content for content in wanted if content not in known or (content in done and known[content].program != now)
    ]
    state.group_known = known | group.book.answers(missing)
    return state.group_known


def _shown(group: Group, job: Job, table: Table, answers: dict[str, Answer]) -> None:
    state = session()
    looks = [line for line in table.lines if line.need == "look"]
    main, side = st.columns([8, 4], gap="large")
    with main:
        st.html(f'<p class="sum" role="status">{escape(words.sentence(table.summary))}</p>')
        run = _runs().get(str(group.folder))
        _progress(str(group.folder), len(set(job.contents.values())), len(job.todo), not looks)
        if run and run.trouble:
            amiss(run.trouble)
        amiss(state.said)
        for text in whose_words(table):
            st.html(f'<p class="whose">{escape(text)}</p>')
        if looks:
            st.html(f'<h2 class="section">{words.GROUP_LOOKS} <span class="many">{len(looks)}</span></h2>')
        for line in looks[:AT_ONCE]:
            _card(group, line, answers)
        for need, head in words.GROUP_HEADS.items():
            own = [line for line in table.lines if line.need == need]
            if own:
                st.html(f'<h2 class="section">{head} <span class="many">{len(own)}</span></h2>')
                for line in own[:MOST_ROWS]:
                    _row(line, answers)
                if len(own) > MOST_ROWS:
                    lines([words.GROUP_AND_MORE.format(n=len(own) - MOST_ROWS)])
    with side:
        _grid(table)
        lines(table.notices)
        _sheets(group, job, answers)
        _whose(group, table)


def _grid(table: Table) -> None:
    if not table.makers:
        return
    head = "".join(
        f'<th scope="col"{" class=loud" if table.pattern_off(number) else ""}>{number}</th>' for number in table.rounds
    )
    cells = {(line.place.maker, line.place.round): line for line in table.lines if line.chosen}
    rows = []
    for maker in table.makers:
        own = [cells.get((maker, number)) for number in table.rounds]
        row = "".join(f'<td class="{line.need if line else ""}">{sign_of(line)}</td>' for line in own)
        rows.append(f'<tr><th scope="row">{escape(maker)}</th>{row}</tr>')
    st.html(
        f'<div class="grid" tabindex="0"><table class="group"><caption>{words.GROUP_GRID}</caption>'
        f"<thead><tr><td></td>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>"
        f'<p class="quiet">{words.GROUP_SIGNS}</p>'
    )


def _said_of(line: Line) -> str:
    number = words.TOTAL.format(n=words.either(line.likely)) if line.likely else words.NO_COUNT
    against = f" {words.GROUP_OF.format(expected=line.expected)}" if line.expected is not None else ""
    who = line.place.maker or photo_of(line)
    which = "" if line.place.round is None else words.ROUND_N.format(n=line.place.round)
    name = words.COMMA.join(filter(None, (who, which)))
    return f"<span>{escape(name)}</span><b>{escape(number + against)}</b>"


def _card(group: Group, line: Line, answers: dict[str, Answer]) -> None:
    """One photo with its next question and crop; a tap answers it."""
    key = f"{line.content[:16]}-{line.piece}"
    entry = correct.standing_entry(line)
    questions = questions_of(entry.count)
    open_ones = [
        k for k, answer in enumerate((*entry.answers, *[None] * len(questions))[: len(questions)]) if answer is None
    ]
    crops = group.book.crops(line.content, line.piece)
    small = answers[line.content].parts[line.piece].small
    total = 0 if isinstance(line.answer, Refusal) else line.answer.stitches
    with st.container(key=f"look-{key}"):
        st.html(f'<div class="ask-head">{_said_of(line)}</div>')
        index = open_ones[0] if open_ones else None
        # As a picture of its own: what the page shows as HTML is cleaned of drawings with pictures in them.
        drawn = "data:image/svg+xml;base64," + base64.b64encode(marked_svg(line, small).encode()).decode()
        pictures = f'<img src="{drawn}" alt="{escape(words.PICTURE.format(n=total))}">'
        if index is not None and index < len(crops):
            pictures += f'<img class="crop" src="{address_of(crops[index])}" alt="">'
        st.html(f'<div class="pictures">{pictures}</div>')
        with st.container(horizontal=True, gap="small"):
            if index is not None:
                question = questions[index]
                st.html(f'<p class="do"><b>{escape(question_words(question))}</b></p>')
                for number, (text, change) in enumerate(answers_words(question)):
                    st.button(
                        text, key=f"answer-{key}-{index}-{number}", on_click=_answer, args=(line, index, change),
                        type="primary",
                    )  # fmt: skip
            else:  # nothing to ask: the number itself
                for other in line.likely[1:]:
                    st.button(
                        words.CONFIRM.format(n=other), key=f"total-{key}-{other}", on_click=_say,
                        args=(line, lambda other=other: correct.in_hand(line, other)),
                    )  # fmt: skip
            said = words.CONFIRM.format(n=total)
            st.button(said, key=f"confirm-{key}", on_click=_say, args=(line, lambda: correct.confirmed(line)))
            st.button(
                words.GROUP_AGAIN, key=f"again-{key}", on_click=_say, args=(line, lambda: correct.again(line)),
                icon=":material/photo_camera:",
            )  # fmt: skip
            st.button(words.OPEN, key=f"open-{key}", on_click=_open, args=(line,), icon=":material/chevron_right:")
            hand = f"hand-{key}"
            st.number_input(
                words.GROUP_HAND, min_value=1, max_value=1000, value=None, step=1, key=hand, on_change=_in_hand,
                args=(line, hand), label_visibility="collapsed", placeholder=words.GROUP_HAND, width=190,
            )  # fmt: skip


def _row(line: Line, answers: dict[str, Answer]) -> None:
    key = f"{line.place.photo}-{line.piece}"
    small = answers[line.content].parts[line.piece].small if line.content else b""
    picture = f'<img src="{address_of(small)}" alt="">' if small else "<i></i>"
    with st.container(key=f"piece-{key}", horizontal=True, vertical_alignment="center", gap="small"):
        st.html(
            f'<div class="piece {line.need}">{picture}<div>{_said_of(line)} <em>{escape(sign_of(line))}</em>'
            f"<p>{escape(line.words)}</p></div></div>"
        )
        if line.said and line.said[-1].what != "back":
            st.button(
                words.GROUP_BACK, key=f"back-{key}", on_click=_say, args=(line, lambda: correct.back(line)),
                icon=":material/undo:",
            )  # fmt: skip
        if not isinstance(line.answer, Refusal) and line.need != "agrees":
            st.button(words.OPEN, key=f"row-{key}", on_click=_open, args=(line,), icon=":material/chevron_right:")


# Counting ------------------------------------------------------------------


def _start(group: Group) -> None:
    """Count beside the page, by the same command as on the command line."""
    runs, folder = _runs(), str(group.folder)
    if folder in runs and runs[folder].going:
        return
    log = Path(tempfile.mkdtemp(prefix="rimtally-")) / "log"
    with log.open("wb") as file:
        process = subprocess.Popen(
            [sys.executable, "-m", "counter", "audit", folder], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
            stderr=file, start_new_session=True,
        )  # fmt: skip
    runs[folder] = _Run(process, log, len(group.book.counted(program())))


def _stop(folder: str) -> None:
    run = _runs().get(folder)
    if run and run.going:
        run.process.send_signal(signal.SIGINT)
        run.process.wait(30)


def _progress(folder: str, everything: int, todo: int, idle: bool) -> None:
    """How far the counting is, and the way to stop it or to go on; looked at again while it goes on."""
    run = _runs().get(folder)
    often = PROGRESS_INTERVAL_S if run and run.going else None
    st.fragment(_progress_once, run_every=often)(folder, everything, todo, idle)


def _progress_once(folder: str, everything: int, todo: int, idle: bool) -> None:
    group, run = Group.open(Path(folder)), _runs().get(folder)
    left = len(group.stock().todo)
    going = run is not None and run.going
    # What came since is shown once there is nothing else to look at, and at the end.
    if (left < todo and (idle or left == 0)) or (todo and not going and left < todo):
        st.rerun()
    if run is not None and going:
        made = len(group.book.counted(program())) - run.before
        said = words.GROUP_COUNTING.format(n=everything - left, all=everything)
        if made > 1:
            rest = (time.monotonic() - run.began) / made * left
            said = words.COMMA.join((said, words.GROUP_LEFT.format(time=words.duration(rest))))
        st.progress((everything - left) / max(1, everything), said)
        if st.button(words.GROUP_STOP, key="group-stop", icon=":material/pause:"):
            _stop(folder)
            st.rerun()
    elif left:
        said = words.GROUP_COUNT.format(photos=words.photos(left))
        if st.button(said, key="group-count", type="primary", icon=":material/play_arrow:"):
            _start(group)
            st.rerun()


# Sheets and names ----------------------------------------------------------


def _sheets(group: Group, job: Job, answers: dict[str, Answer]) -> None:
    called = st.segmented_control(
        words.GROUP_CALL, CALLED, default=CALLED[0], format_func=lambda how: words.GROUP_CALLED[how], key="group-call"
    )
    day = time.strftime("%Y-%m-%d")
    paper = paper_for(st.context.locale)

    def table() -> Table:
        return group.lay_out(job, answers, called=called or CALLED[0])

    def pdf() -> bytes:
        from counter.group.pages import group_pdf

        return group_pdf(table(), answers, date=day, paper=paper)

    saving.offer(
        "group-page", words.GROUP_SAVE_PAGE, lambda: group_page(table(), answers, date=day).encode(), "rounds.html",
        "text/html",
    )  # fmt: skip
    saving.offer("group-pdf", words.GROUP_SAVE_PDF, pdf, "rounds.pdf", "application/pdf", "print")
    saving.offer(
        "group-csv", words.GROUP_SAVE_CSV, lambda: group_csv(table()).encode("utf-8-sig"), "rounds.csv", "text/csv"
    )


def _whose(group: Group, table: Table) -> None:
    """Whose each photo is, editable; those without a place first."""
    with st.expander(words.GROUP_WHOSE, icon=":material/badge:"):
        places = sorted(group.places(), key=lambda place: place.matched)
        head = words.GROUP_WHOSE_HEAD
        rows = [dict(zip(head, (own.photo, own.maker, own.round, own.why), strict=True)) for own in places]
        # Another table each time that anything in it is another: what was typed belongs to its row.
        key = f"group-whose-{zlib.crc32(repr(rows).encode()):08x}"

        def typed() -> None:
            for index, changed in st.session_state[key]["edited_rows"].items():
                own = places[int(index)]
                number = changed.get(head[2], own.round)
                try:
                    new = Typed(str(changed.get(head[1], own.maker) or ""), None if number is None else int(number))
                    group.book.type(own.photo, new)
                except (ValueError, GroupError) as error:
                    st.session_state.said = str(error)

        st.data_editor(
            rows, key=key, on_change=typed, hide_index=True, disabled=(head[0], head[3]), num_rows="fixed",
            column_config={head[2]: st.column_config.NumberColumn(min_value=1, max_value=999, step=1)},
        )  # fmt: skip
        if group.missing:
            lines(f"{photo}: {words.GROUP_MISSING}" for photo in group.missing)
