"""Several photos at once: counted one by one, sorted by how much a person is needed."""

from __future__ import annotations

import base64
import contextlib
import io
import logging
import secrets
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from html import escape
from pathlib import PurePath

import cv2
import numpy as np
import streamlit as st
from PIL import Image, ImageOps

from counter.basics import words
from counter.basics.answer import Count, Refusal
from counter.basics.photo import Photo, read_photo
from counter.comparing.check import Check, check
from counter.comparing.questions import questions_of
from counter.comparing.remarks import Remark
from counter.comparing.verdict import MOST_EXPECTED
from counter.notebook.codec import scaled
from counter.notebook.trouble import NotebookError
from counter.page import door, keeping, pattern, putting_away, saving
from counter.page.edits import Edits, count_so_far, persons_count
from counter.page.goal import goal_of_session, hooked, plan_of_session
from counter.page.rim_picture import shown_size
from counter.page.session import bound, session
from counter.page.show import amiss, jpeg
from counter.plan import Plan
from counter.showing.report import Row, SheetLine, class_sheet, sheet_csv

__all__ = [
    *(
        "MOST_NAME",
        "MOST_PHOTOS",
        "SMALL_SIDE_PX",
        "SheetPhoto",
        "count_several",
        "keep_up",
        "open_piece",
        "put_away",
        "sheet",
    ),
    *("small_picture", "total_for_all"),
]

#: Most photos of one sheet.
MOST_PHOTOS = 40
#: JPEG quality of the photos that are kept, and side of their small pictures in pixels.
JPEG_QUALITY, SMALL_SIDE_PX = 90, 120
#: Most characters of a name on the page.
MOST_NAME = 60
#: Groups of the sheet, put into words when they are shown, and the needs that are in each.
GROUPS = (
    (lambda: words.NEEDS_YOU, ("refused", "not sure")),
    (lambda: words.TO_PUT_RIGHT, ("off",)),
    (lambda: words.COUNTED, ("counted",)),
    (lambda: words.AGREES, ("agrees",)),
)


@dataclass(frozen=True, eq=False)
class SheetPhoto:
    """One photo of several, reduced: the full photo is let go once it is counted.

    Parameters
    ----------
    name : str
        Of the file, without its ending.
    answer : Count or Refusal
        In pixels of the reduced photo.
    picture : bytes
        The reduced photo, a JPEG of at most :data:`counter.page.rim_picture.PICTURE_SIDE_PX`
        pixels a side; empty where refused.
    small : str
        A small picture of it as a data address; empty where there is no picture.
    edits : Edits or None
        None where refused.
    confirmed : bool
        A person looked and said that it is so.
    tie : Tie or None
        To its count in the notebook; None where it was not kept.
    key : str
        Names it, whatever its place: 16 hexadecimal digits.
    revision : int
        Grows with every change.
    hook : int or None
        Number of the round that was chosen for this photo alone; None where
        the sheet's holds.
    """

    name: str
    answer: Count | Refusal
    picture: bytes = b""
    small: str = ""
    edits: Edits | None = None
    confirmed: bool = False
    tie: keeping.Tie | None = None
    key: str = field(default_factory=lambda: secrets.token_hex(8))
    revision: int = 0
    hook: int | None = None

    def changed(self, **what) -> SheetPhoto:
        """The piece with that changed."""
        return replace(self, revision=self.revision + 1, **what)

    @property
    def photo(self) -> Photo:
        """The reduced photo."""
        with Image.open(io.BytesIO(self.picture)) as picture:
            return Photo(np.array(picture.convert("RGB")))

    @property
    def kept(self) -> bool:
        """True where it is in the notebook."""
        return self.tie is not None and self.tie.entry is not None

    @property
    def by_person(self) -> bool:
        """True where a person corrected or confirmed the count."""
        return self.edits is not None and (self.edits.settled or self.confirmed)

    @property
    def standing(self) -> Count | Refusal:
        """The answer as it stands."""
        if self.edits is None:
            return self.answer
        if isinstance(self.answer, Refusal):
            return self.answer
        return (persons_count if self.by_person else count_so_far)(self.answer, self.edits)


# Counting ------------------------------------------------------------------


def count_several(
    files: Sequence,
    counted: Callable[[Photo | Refusal], Count | Refusal],
    done: dict[str, SheetPhoto],
    each: Callable[[SheetPhoto | None, Sequence[SheetPhoto], int], None] = lambda *_: None,
    turn: Callable[[], AbstractContextManager] = contextlib.nullcontext,
) -> tuple[SheetPhoto, ...]:
    """Count photos one after the other, and say how far it is.

    Parameters
    ----------
    files : sequence of uploaded files
        With ``name``, ``file_id`` and ``getvalue``.
    counted : callable
        Photo or refusal -> answer.
    done : dict of str to Piece
        Those that are counted already, by their ``file_id``; the others are
        added as they come. A tap on anything breaks the counting off and
        begins it anew, which then goes on from here.
    each : callable, optional
        Called at first and after each count: with the piece that came (None at
        first), with all that are there, and with how many are still to come.
    turn : callable, optional
        Gives what each photo is counted in.

    Returns
    -------
    tuple of Piece
        In the order of the files.
    """

    def so_far() -> list[SheetPhoto]:
        return [done[file.file_id] for file in files if file.file_id in done]

    bar = st.progress(0.0)
    rows = st.container(key="coming")
    each(None, so_far(), len(files) - len(so_far()))
    for index, file in enumerate(files):
        bar.progress(index / len(files), words.COUNTING_OF.format(n=index + 1, all=len(files)))
        if file.file_id not in done:
            with turn():
                done[file.file_id] = _piece(file, counted)
            each(done[file.file_id], so_far(), len(files) - len(so_far()))
        with rows:
            _came(done[file.file_id])
    return tuple(so_far())


def _came(piece: SheetPhoto) -> None:
    """One photo of the sheet as soon as it is counted, while others are still to come."""
    if isinstance(piece.answer, Refusal):
        number, said, need = words.NO_COUNT, words.together(piece.answer.reason, piece.answer.hint), "refused"
    else:
        number = words.TOTAL.format(n=words.either(piece.answer.likely))
        said, need = words.STATES[piece.answer.state], piece.answer.state
    st.html(_line_of(piece, need, piece.name, number, said))


def _line_of(piece: SheetPhoto, need: str, name: str, number: str, said: str) -> str:
    picture = f'<img src="{piece.small}" alt="">' if piece.small else "<i></i>"
    return (
        f'<div class="piece {need.replace(" ", "-")}">{picture}<div><span>{escape(name)}</span>'
        f"<b>{escape(number)}</b> <em>{escape(said)}</em></div></div>"
    )


def _piece(file, counted: Callable[[Photo | Refusal], Count | Refusal]) -> SheetPhoto:
    name = PurePath(file.name).stem[:MOST_NAME]
    try:
        photo = read_photo(file.getvalue())
        answer = counted(photo)
        if isinstance(photo, Refusal):
            return SheetPhoto(name, answer)
        photo, answer = reduced(photo, answer)
        picture = Image.fromarray(photo.pixels)
        middle = (0.5 * photo.width, 0.5 * photo.height) if isinstance(answer, Refusal) else answer.centre
        small = small_picture(picture, middle)
        if isinstance(answer, Refusal):
            return SheetPhoto(name, answer, small=small)
        edits = Edits.of(answer.marks, questions_of(answer))
        return SheetPhoto(name, answer, jpeg(picture, JPEG_QUALITY), small, edits)
    except Exception:  # one photo that goes wrong must not take the others along
        logging.getLogger(__name__).exception("a photo of several could not be counted")
        return SheetPhoto(name, Refusal("not a picture", words.BROKEN_ONE))


def small_picture(picture: Image.Image, middle: tuple[float, float]) -> str:
    """A small square picture of a photo.

    Parameters
    ----------
    picture : Image
        RGB.
    middle : tuple of float
        (x, y) that comes to lie in the middle, in its pixels.

    Returns
    -------
    str
        A data address.
    """
    share = (middle[0] / picture.width, middle[1] / picture.height)
    small = jpeg(ImageOps.fit(picture, (SMALL_SIDE_PX, SMALL_SIDE_PX), centering=share), 80)
    return "data:image/jpeg;base64," + base64.b64encode(small).decode()


def reduced(photo: Photo, answer: Count | Refusal) -> tuple[Photo, Count | Refusal]:
    """A photo and its answer at most :data:`counter.page.rim_picture.PICTURE_SIDE_PX` pixels a side.

    Parameters
    ----------
    photo : Photo
    answer : Count or Refusal

    Returns
    -------
    photo : Photo
    answer : Count or Refusal
        In the pixels of that photo; the middle of the first pixel is (0, 0) in both.
    """
    size = shown_size((photo.width, photo.height))
    if size == (photo.width, photo.height):
        return photo, answer
    # The working copy shows as much, and is there already.
    pixels = photo.working if max(size) <= max(photo.working.shape) else photo.pixels
    small = Photo(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA))
    if isinstance(answer, Refusal):
        return small, answer
    return small, scaled(answer, size)


# One of them ---------------------------------------------------------------


def open_piece(index: int) -> None:
    """Go on with one photo in the rim picture."""
    state = session()
    piece: SheetPhoto = state.pieces[index]
    state.update(
        sheet_hook=state.hook, hook=state.hook if piece.hook is None else piece.hook,
        answer=piece.answer, photo=piece.photo, edits=piece.edits, seen=0, confirmed=piece.confirmed, scale=None,
        picture="data:image/jpeg;base64," + base64.b64encode(piece.picture).decode(), opened=index, turn=state.turn + 1,
        tie=piece.tie,
    )  # fmt: skip
    entry = piece.tie.entry if piece.tie else None
    if piece.kept and entry is not None:
        goal = entry.goal
        state.update(
            title=entry.title, note=entry.note, twin=goal.twin, since=goal.since, twin_holds=goal.twin_holds,
            finished=goal.finished,
        )  # fmt: skip


def keep_up() -> None:
    """Take over into the sheet what a person does in the rim picture."""
    state = session()
    index = state.opened
    if index is None or "edits" not in state:
        return
    piece: SheetPhoto = state.pieces[index]
    tie = state.get("tie")
    # A round that is chosen for one photo is that photo's only.
    hook = state.hook if state.hook != state.sheet_hook else None
    stands = (piece.edits, piece.confirmed, piece.tie, piece.hook)
    if stands != (state.edits, state.confirmed, tie, hook):
        new = piece.changed(edits=state.edits, confirmed=state.confirmed, tie=tie, hook=hook)
        state.pieces = (*state.pieces[:index], new, *state.pieces[index + 1 :])


def put_away() -> None:
    """Let go of all photos of the sheet; they can be brought back."""
    putting_away.hold_sheet()
    st.session_state.update(pieces=(), left_out=0, opened=None, rows={}, sheet="", unreturned="")


# The sheet -----------------------------------------------------------------


def total_for_all() -> int | None:
    """Ask what every round should hold."""
    key, changed = bound("all_total", None)
    return st.number_input(
        words.ALL_EXPECTED, min_value=1, max_value=MOST_EXPECTED, value=None, step=1, key=key, on_change=changed,
        placeholder=words.EXPECTED_NONE,
    )  # fmt: skip


def sheet() -> list:
    """Show all photos, those that need a person first.

    Returns
    -------
    list of uploaded files
        Those that were dropped to be added.
    """
    state = session()
    if state.opened is not None:
        state.update(opened=None, hook=state.sheet_hook)
    plan = plan_of_session()
    if state.left_out:
        st.html(f'<p class="amiss" role="status">{words.LEFT_OUT.format(most=MOST_PHOTOS, n=state.left_out)}</p>')
    amiss(state.unreturned)
    table, side = st.columns([8, 4], gap="large")
    with table:
        # On a phone it would otherwise stand below all the photos.
        if plan:
            pattern.round_card(plan, hooked(plan))
            total = None
        else:
            total = total_for_all()
        lines = class_sheet([_row(k, piece, plan, total) for k, piece in enumerate(state.pieces)])
    with side:
        # With a byte order mark, by which spreadsheets know UTF-8.
        saving.offer(
            "sheet", words.SAVE_SHEET, lambda: sheet_csv(lines).encode("utf-8-sig"), words.SHEET_NAME, "text/csv"
        )
        more = []
        if len(state.pieces) < MOST_PHOTOS:
            more = st.file_uploader(words.MORE_PHOTOS, accept_multiple_files=True, key=f"more-{state.turn}")
        _keeping()
        pattern.panel()
        st.button(words.PUT_SHEET_AWAY, on_click=put_away, type="tertiary", icon=":material/close:")
    with table:
        for head, needs in GROUPS:
            group = [line for line in lines if line.need in needs]
            if group:
                st.html(f'<h2 class="section">{head()} <span class="many">{len(group)}</span></h2>')
            for line in group:
                _shown(line, state.pieces[line.index])
    return more


def _row(index: int, piece: SheetPhoto, plan: Plan | None, total: int | None) -> Row:
    """One photo against the round; worked out anew only where something changed."""
    state = session()
    goal = (state.pattern, state.hook, state.uk) if plan else total
    if state.rows.get(index, (None,))[:2] != (piece, goal):
        count = piece.standing
        found = Check(None) if isinstance(count, Refusal) else _held(count, plan, total, piece.hook)
        state.rows[index] = (piece, goal, Row(piece.name, count, found, piece.by_person))
    return state.rows[index][2]


def _held(count: Count, plan: Plan | None, total: int | None, own: int | None) -> Check:
    uk = st.session_state.uk
    if plan is None:
        return check(count, expected=total, uk=uk)
    hook = (plan.round(own) if own is not None else None) or hooked(plan)
    try:
        return check(count, plan=plan, round_number=hook.round if hook else None, uk=uk)
    except ValueError as error:
        return Check(None, remarks=(Remark.of("not compared", why=str(error)),))


def _shown(line: SheetLine, piece: SheetPhoto) -> None:
    """One line: what it is, what to know, and the way to its rim picture."""
    number = words.TOTAL.format(n=line.likely) if line.likely else words.NO_COUNT
    if line.need == "refused":
        said = line.words
    else:
        said = words.headline(line.off_by) if line.verdict else words.STATES[line.state]
        # What it was held against: a round of the plan, or the total.
        if line.round is not None:
            said = words.JOIN.join([said, words.ROUND_ROW.format(n=line.round, total=line.expected)])
        elif line.verdict:
            said = words.JOIN.join([said, words.EXPECTED_SHORT.format(n=line.expected)])
    with st.container(key=f"piece-{line.index}", horizontal=True, vertical_alignment="center", gap="small"):
        st.html(_line_of(piece, line.need, line.name, number, said))
        if piece.edits is not None:
            st.button(
                words.OPEN, key=f"open-{line.index}", on_click=open_piece, args=(line.index,),
                icon=":material/chevron_right:",
            )  # fmt: skip


# Keeping them --------------------------------------------------------------


def _keeping() -> None:
    """Offer to keep all of them; those that are kept follow what the sheet is held against."""
    state = session()
    if door.kind() == "off":
        return
    ties = [piece.tie for piece in state.pieces if piece.kept and piece.tie is not None]
    goal = goal_of_session()
    if ties and not all(keeping.hold_against(tie, goal) for tie in ties):  # one that fails is enough to wait for
        amiss(next(tie.trouble for tie in ties if tie.trouble))
    amiss(state.said)
    door.code()
    if all(piece.kept or piece.edits is None for piece in state.pieces):
        if ties:
            many = len(state.pieces)
            some = words.KEPT_SOME.format(n=len(ties), all=many)
            st.html(f'<p class="quiet">{words.KEPT_ALL if len(ties) == many else some}</p>')
    elif door.kind() == "own" or state.notebook is not None:
        if st.button(words.KEEP_ALL, key="keep-all", width="stretch", icon=":material/bookmark_add:"):
            with st.spinner(words.KEEPING):
                _keep_all()
            st.rerun()
    else:
        with st.expander(words.KEEP_ALL, key="door-open", on_change="rerun", icon=":material/bookmark_add:") as box:
            if box.open:
                door.ask()


def _keep_all() -> None:
    """Keep those that were counted and are not kept yet; each is safe as soon as it is kept."""
    state, goal, book = session(), goal_of_session(), door.notebook()
    state.said = ""
    if book is None:
        return
    for index, piece in enumerate(state.pieces):
        if piece.kept or piece.edits is None or isinstance(piece.answer, Refusal):
            continue
        try:
            tie = keeping.keep(book, piece.photo, piece.answer, piece.edits, piece.confirmed, goal, piece.name)
        except NotebookError as error:
            state.said = str(error)
            return
        state.pieces = (*state.pieces[:index], piece.changed(tie=tie), *state.pieces[index + 1 :])
