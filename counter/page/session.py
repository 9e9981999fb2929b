"""What the page remembers of one person's visit, in Streamlit's session state.

:class:`Visit` and :class:`OfPhoto` name all of it, each with its type: the first
is set by :func:`begin`, the second with every photo. :func:`session` gives Streamlit's
own state under these types. Streamlit forgets a widget's state when the widget is
not shown; these stay.
"""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any, cast

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx
from streamlit.runtime.uploaded_file_manager import UploadedFile

from counter.basics.answer import Count
from counter.basics.language import best_of
from counter.basics.memory import tidy
from counter.page.link import LinkedPlan, unpack

if TYPE_CHECKING:
    from concurrent.futures import Future
    from pathlib import Path

    from counter.basics.answer import Refusal
    from counter.basics.photo import Photo
    from counter.group.store import Answer
    from counter.group.table import Line
    from counter.lengths.scale import NoScale, Scale
    from counter.notebook.store import Notebook
    from counter.page.alike import FirstPiece
    from counter.page.edits import Edits, Marks
    from counter.page.keeping import Tie
    from counter.page.records import LeftSheet
    from counter.page.resume import LeftByHand, LeftVisit
    from counter.page.rim_strip import RimStrip
    from counter.page.several import SheetPhoto
    from counter.showing.report import Row

__all__ = [
    "PHOTO",
    "VISIT",
    "OfPhoto",
    "Session",
    "Visit",
    "begin",
    "bound",
    "count_of_session",
    "forget_photo",
    "kept",
    "let_go",
    "session",
]


class OfPhoto:
    """What belongs to one photo."""

    answer: Count | Refusal
    #: Not set where nothing could be read; the same as an address, as it travels to the browser.
    photo: Photo
    picture: str
    #: The photo's name, and its rim laid straight once that is done.
    strip: tuple[str, Future[RimStrip]]
    #: For which name and marks places were enlarged, and their pictures by place.
    crops: tuple[tuple[str, bytes], dict[tuple[float, float], str]]
    edits: Edits
    #: Number of the last message of the rim picture that was heeded.
    seen: int
    #: A person looked and said that it is so.
    confirmed: bool
    scale: Scale | NoScale | None
    #: Kind of the coin beside the piece, and how wide the piece is, as typed.
    coin: str | None
    wide: str
    #: How many stitches its twin holds, as a person says.
    twin_holds: int | None
    #: Rounds that were worked since, whether the round is finished, and the last stitch made; None where not said.
    since: int
    finished: bool | None
    made: int | None
    #: Middle and radius of the piece that a person showed, px.
    shown: tuple[float, float, float] | None
    #: Marks are being put along the rim of a piece that could not be counted.
    by_hand: bool
    #: To its count in the notebook; None where it isn't kept.
    tie: Tie | None
    title: str
    note: str
    #: Whether to delete that count is being asked.
    deleting: bool
    #: What the round should hold.
    expected: int | None


@dataclass
class Visit:
    """What stays when photos come and go."""

    #: Code of the language that is spoken (ISO 639-1).
    language: str
    # The plan: as pasted, number of the round on the hook, whether in UK terms, chosen piece and size.
    pattern: str
    hook: int | None
    uk: bool
    part: str | None
    made_size: str | None
    #: Whether the chain that a round begins with counts as a stitch, as a person says.
    chain: bool | None
    #: Grows with every photo, and with every tap that asks for another one.
    turn: int = 0
    asked: int = 0
    #: The sample that is to be counted.
    chosen: Path | None = None
    # The piece: whether it must match another one, and the first of the two.
    twin: bool = False
    first: FirstPiece | None = None
    # Several photos: those of the sheet; those of them that are counted already, by the name that Streamlit gives each
    # file; how many were too many; the sheet's rows as last worked out; index of the one in the rim picture; what every
    # round should hold; the sheet's name in the browser, empty until it has one; keys of those that the browser asks
    # for, and whether for the picture too; a line about what did not survive a reload.
    pieces: tuple[SheetPhoto, ...] = ()
    under_way: dict[str, SheetPhoto] = field(default_factory=dict)
    left_out: int = 0
    rows: dict[int, tuple[SheetPhoto, object, Row]] = field(default_factory=dict)
    opened: int | None = None
    all_total: int | None = None
    sheet: str = ""
    wanted: dict[str, bool] = field(default_factory=dict)
    unreturned: str = ""
    #: Round on the hook of the whole sheet, while one of its photos with a round of its own is open.
    sheet_hook: int | None = None
    # The notebook: None until it is needed, or its code was given; the code of one just begun, until it is written
    # down; whether its list is shown; what is looked for, and how many rows; what was done there last; the plan that
    # waits while a count of the list is open; keys that are being asked about before they are deleted; grows with each
    # import; what holds once the photo is let go, None where it stays.
    notebook: Notebook | None = None
    code: str = ""
    listed: bool = False
    sought: str = ""
    rows_shown: int = 0
    said: str = ""
    plan_before: dict[str, Any] | None = None
    clearing: tuple[str, ...] = ()
    imports: int = 0
    leaving: dict[str, object] | None = None
    # A group of makers: its folder, empty while it is asked for, None elsewhere; the line whose photo is open, with its
    # marks as they were saved; the plan that waits while it is; answers that were read already, by content.
    group: str | None = None
    group_at: tuple[Line, tuple[Marks, Mapping[int, int], bool]] | None = None
    group_plan: dict[str, object] = field(default_factory=dict)
    group_known: dict[str, Answer] = field(default_factory=dict)
    # The visit itself: its name, drawn at random; what an earlier tab left behind, while it is offered; how often the
    # browser said what it found; whether it is to hand over all of it; why a file could not be saved from what is
    # shown, by the name of its button, or nothing; what came from the phone; the turn that was sent to the desk, -1
    # where none waits there; what was put away and can be brought back.
    visit: str = field(default_factory=lambda: secrets.token_hex(8))
    left: LeftSheet | LeftVisit | LeftByHand | None = None
    heard: int = 0
    hand: bool = False
    unmade: dict[str, str] = field(default_factory=dict)
    arrived: dict[str, Any] | None = None
    sent_on: int | None = None
    held: dict[str, object] | None = None


class Session(Visit, OfPhoto):
    """Streamlit's session state, by its names and their types; see :func:`session`."""

    if TYPE_CHECKING:

        def __contains__(self, name: str) -> bool:
            """Whether it is set."""

        def __getitem__(self, name: str) -> Any:
            """By its name as a text: widgets and components have keys that are no names."""

        def __setitem__(self, name: str, value: object) -> None:
            """The same."""

        def get(self, name: str, default: object = None) -> Any:
            """What belongs to a photo, where one is there."""

        def update(self, *others: Mapping[str, object], **values: object) -> None:
            """Set several at once."""


#: Names of what belongs to one photo, and of what stays when photos come and go.
PHOTO = tuple(OfPhoto.__annotations__)
VISIT = tuple(each.name for each in fields(Visit))


def session() -> Session:
    """What the page remembers of this visit."""
    return cast(Session, st.session_state)


def begin() -> bool:
    """Set what a visit begins with; the plan comes from the address. Gives False where it has begun."""
    if "turn" in st.session_state:
        return False
    found = unpack(st.query_params)
    language = best_of(st.query_params.get("language") or st.context.locale)
    begun = Visit(language, found.text, found.round, found.uk, found.piece, found.size, found.chain)
    st.session_state.update(vars(begun))
    return True


def count_of_session() -> Count:
    """The count of the photo on the page.

    Raises
    ------
    ValueError
        Where none is shown.
    """
    answer = session().get("answer")
    if not isinstance(answer, Count):
        raise ValueError("no counted photo is shown")
    return answer


def kept() -> LinkedPlan:
    """The plan and its round, for the address."""
    state = session()
    return LinkedPlan(state.pattern, state.hook, state.uk, state.part, state.made_size, state.chain)


def forget_photo() -> None:
    """Let go of the photo and of everything that was said about it."""
    for name in PHOTO:
        st.session_state.pop(name, None)
    tidy()
    st.session_state.unmade = {}  # another one: what is still being made speaks into the old one


def let_go(files: Iterable[UploadedFile]) -> None:
    """Let go of the bytes of uploaded files, which Streamlit keeps until the visit ends.

    Parameters
    ----------
    files : iterable of uploaded files
        From widgets that are not shown again.
    """
    # Streamlit has no public way to it: where a later version has moved it, the bytes stay until the visit ends.
    run = get_script_run_ctx()
    with contextlib.suppress(AttributeError):
        for file in files:
            run.uploaded_file_mgr.remove_file(session_id=run.session_id, file_id=file.file_id)  # type: ignore[union-attr]


def bound(name: str, value: object) -> tuple[str, Callable[[], None]]:
    """Tie a widget to a name that stays when the widget is gone.

    Parameters
    ----------
    name : str
        Of the session state.
    value : object
        What it holds where it was not set.

    Returns
    -------
    key : str
        For the widget.
    on_change : callable
        For the widget.
    """
    key = f"{name}-shown"
    held = st.session_state.setdefault(name, value)
    # Setting a widget's state sends it to the browser, over what is being typed there: only where it differs.
    if key not in st.session_state or st.session_state[key] != held:
        st.session_state[key] = held

    def changed() -> None:
        st.session_state[name] = st.session_state[key]

    return key, changed
