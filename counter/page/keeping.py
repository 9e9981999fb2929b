"""Keeping a count in the notebook: from then on whatever a person changes about it is saved at once.

A photo on the page is tied to its count in the notebook. Every run of the page
begins by saving what differs, before anything is drawn: an edit is on the disk
before it is seen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import streamlit as st

from counter.basics import words
from counter.basics.answer import Count
from counter.basics.photo import Photo
from counter.comparing.questions import questions_of
from counter.notebook.codec import entry_of
from counter.notebook.limits import MOST_NOTE, MOST_TITLE
from counter.notebook.store import Notebook
from counter.notebook.trouble import NotebookError
from counter.notebook.values import Entry, Goal
from counter.page import door, putting_away
from counter.page.edits import Edits
from counter.page.goal import goal_of_session
from counter.page.rim_picture import browser_picture, shown_size
from counter.page.session import bound, count_of_session, forget_photo, session
from counter.page.show import TICK, amiss, day

__all__ = [
    *(
        "Tie",
        "ask_for_photo",
        "close",
        "drafted",
        "hold_against",
        "keep",
        "kept",
        "leave",
        "panel",
        "question",
        "reopen",
    ),
    *("save_changes", "sketched", "take_up"),
]

#: Troubles after which the count on the page is on its own again and can be kept anew.
PARTED = ("gone", "changed elsewhere")
#: Names of the plan that make room while a count of the list is open.
PLAN = ("pattern", "hook", "uk", "twin", "chain")


@dataclass(eq=False)
class Tie:
    """What ties a photo on the page to its count in the notebook.

    Parameters
    ----------
    notebook : Notebook
    entry : Entry or None
        As it was saved last; None once it was deleted, or went on elsewhere.
    saved : dict
        What was saved of the page, see :func:`_standing`.
    trouble : str
        Why the last change could not be saved; empty where it was.
    """

    notebook: Notebook
    entry: Entry | None
    saved: dict = field(default_factory=dict)
    trouble: str = ""

    def change(self, size: tuple[int, int] | None = None, **what) -> None:
        """Save a change; where that can't be, say so and let it be tried again."""
        try:
            if self.entry is not None:
                self.entry = self.notebook.change(self.entry, size=size, **what)
            self.trouble = ""
        except NotebookError as error:
            self.trouble = str(error)
            if error.code in PARTED:
                self.entry = None


# One count -----------------------------------------------------------------


def kept() -> Entry | None:
    """The notebook's count of the photo on the page; None where it isn't kept."""
    tie: Tie | None = st.session_state.get("tie")
    return tie.entry if tie else None


def save_changes() -> None:
    """Begin a run of the page: save what was changed, then let go of the photo where that was asked for."""
    state, known = st.session_state, _trouble()
    _save()
    # What can't be saved keeps the photo until that was seen.
    if state.leaving is not None and _trouble() in ("", known):
        if kept() is None and state.opened is None:
            putting_away.hold_photo()
        forget_photo()
        state.update({"plan_before": None, "said": ""} | state.leaving)
    state.leaving = None


def leave(**then) -> None:
    """Let go of the photo once all that was kept of it is saved.

    Parameters
    ----------
    **then
        What the session remembers afterwards; without a word, that the list is not shown.
    """
    # Not at once: what is typed as the button is pressed may reach the page after the press.
    st.session_state.leaving = {"listed": False} | then


def ask_for_photo(**then) -> None:
    """Let go of the photo for another one, as :func:`leave` does; a phone offers its camera and pictures at once."""
    leave(**then)
    st.session_state.asked += 1


def _trouble() -> str:
    """Why the count on the page could not be saved; empty where it is, or isn't kept."""
    tie: Tie | None = st.session_state.get("tie")
    return tie.trouble if tie else ""


def _save() -> None:
    """Save what was changed since the last time about the count on the page."""
    state = session()
    tie: Tie | None = state.get("tie")
    if tie is None or tie.entry is None:
        return
    stands = _standing(state.edits, state.confirmed, goal_of_session(), state.title, state.note)
    if stands != tie.saved or tie.trouble:
        tie.change((state.photo.width, state.photo.height), **stands)
        if not tie.trouble:
            tie.saved = stands


def _standing(edits: Edits, confirmed: bool, goal: Goal, title: str, note: str) -> dict:
    """All that a person may have changed, as the notebook's methods take it."""
    return {
        "marks": edits.kept,
        "answers": tuple(edits.answers.get(k) for k in range(len(edits.questions))),
        "by_hand": edits.now.by_hand,
        "confirmed": confirmed,
        "goal": goal,
        "title": _text(title, MOST_TITLE),
        "note": _text(note, MOST_NOTE),
    }


def _text(text: str, most: int) -> str:
    # Half of a pair of code units, as a file's name may have it, is no text.
    return text[:most].encode("utf-8", "replace").decode()


def keep(
    notebook: Notebook, photo: Photo, own: Count, edits: Edits, confirmed: bool, goal: Goal, title: str = "",
    note: str = "",
) -> Tie:  # fmt: skip
    """Keep a count.

    Parameters
    ----------
    notebook : Notebook
    photo : Photo
    own : Count
        The photo's own count.
    edits : Edits
        Its marks as they stand.
    confirmed : bool
        A person looked and said that it is so.
    goal : Goal
        What it is held against.
    title, note : str, optional

    Returns
    -------
    Tie

    Raises
    ------
    NotebookError
        If it can't be kept.
    """
    stands = _standing(edits, confirmed, goal, title, note)
    return Tie(notebook, notebook.keep(photo, own, **stands), stands)


def hold_against(tie: Tie, goal: Goal) -> bool:
    """Hold a kept count of the sheet against what the sheet is held against now.

    Parameters
    ----------
    tie : Tie
    goal : Goal
        Its twin, the rounds worked since and whether it is finished are each count's own matter.

    Returns
    -------
    bool
        False where it could not be saved.
    """
    if tie.entry is None:
        return not tie.trouble
    own = tie.entry.goal
    goal = replace(goal, twin=own.twin, since=own.since, twin_holds=own.twin_holds, finished=own.finished)
    if goal != tie.entry.goal:
        tie.change(goal=goal)
    return not tie.trouble


# From the list and back ----------------------------------------------------


def reopen(key: str) -> None:
    """Go on with a count of the notebook, with its photo and its plan."""
    state = session()
    book = state.notebook
    if book is None:
        return
    try:
        entry, photo = book.entry(key), book.photo(key)
    except NotebookError as error:
        state.said = str(error)
        return
    state.plan_before = {name: state[name] for name in PLAN}
    take_up(entry, photo, Tie(book, entry))


def take_up(entry: Entry, photo: Photo, tie: Tie | None = None) -> None:
    """Show a count as it was left, with its photo and its plan.

    Parameters
    ----------
    entry : Entry
    photo : Photo
        Its own.
    tie : Tie, optional
        To the notebook, where it comes from there.
    """
    state = session()
    own, goal = entry.count, entry.goal
    edits = Edits.resumed(own.marks, questions_of(own), entry.marks, entry.answers, entry.by_hand)
    state.update(
        answer=own, photo=photo, picture=browser_picture(photo.pixels), edits=edits, seen=0, confirmed=entry.confirmed,
        scale=None, tie=tie, title=entry.title, note=entry.note, opened=None, said="", turn=state.turn + 1,
        pattern=goal.plan, hook=goal.round, uk=goal.uk, chain=None, twin=goal.twin, since=goal.since,
        twin_holds=goal.twin_holds, finished=goal.finished, expected=goal.expected,
    )  # fmt: skip
    if tie:
        tie.saved = _standing(edits, entry.confirmed, goal_of_session(), entry.title, entry.note)


def sketched() -> Entry | None:
    """The photo on the page as an entry, kept or not; None where none is shown."""
    state = session()
    if not isinstance(state.get("answer"), Count) or state.get("by_hand"):
        return None
    size = shown_size((state.photo.width, state.photo.height))
    texts = state.get("title", ""), state.get("note", "")
    return drafted(
        count_of_session(), size, state.edits, state.confirmed, goal_of_session(), *texts, tie=state.get("tie")
    )


def drafted(
    own: Count, size: tuple[int, int], edits: Edits, confirmed: bool, goal: Goal, title: str = "", note: str = "",
    tie: Tie | None = None,
) -> Entry:  # fmt: skip
    """A count as an entry, kept or not.

    Parameters
    ----------
    own, edits, confirmed, goal, title
        As in :func:`keep`.
    size : tuple of int
        (width, height) of the reduced photo beside which it stands.
    note : str, optional
    tie : Tie, optional
        To the notebook; the entry has the key of the one there.

    Returns
    -------
    Entry
        In pixels of that photo.
    """
    entry = entry_of(own, size, **_standing(edits, confirmed, goal, title, note))
    return replace(entry, key=tie.entry.key) if tie and tie.entry else entry


def close() -> None:
    """Go back to the list; the plan that had made room is there again."""
    leave(listed=True, **st.session_state.plan_before)


# What is shown -------------------------------------------------------------


def panel() -> None:
    """Offer to keep the count on the page; where it is kept, its title, its note and the way to delete it."""
    if door.kind() == "off":
        return
    state = session()
    entry = kept()
    amiss(_trouble())
    if entry is None:
        _offer()
        return
    with st.container(key="kept"):
        st.html(f'<p class="kept" role="status">{TICK}<b>{words.KEPT}</b> <span>{day(entry.kept)}</span></p>')
        door.code()
        key, changed = bound("title", "")
        st.text_input(words.ENTRY_TITLE, key=key, on_change=changed, max_chars=MOST_TITLE)
        key, changed = bound("note", "")
        st.text_area(words.ENTRY_NOTE, key=key, on_change=changed, max_chars=MOST_NOTE, height=90)
        if state.get("deleting"):
            question(1, _delete, lambda: state.update(deleting=False))
            return
        with st.container(horizontal=True, horizontal_alignment="distribute"):
            if state.plan_before is None:
                st.button(words.TO_BOOK, key="to-book", on_click=_to_list, type="tertiary", icon=":material/menu_book:")
            st.button(
                words.DELETE, key="delete", on_click=lambda: state.update(deleting=True), type="tertiary",
                icon=":material/delete:",
            )  # fmt: skip


def _offer() -> None:
    state = session()
    if door.kind() == "own" or state.notebook is not None:
        amiss(state.said)
        door.code()
        st.button(words.KEEP, key="keep", on_click=_keep, width="stretch", icon=":material/bookmark_add:")
        return
    key = f"door-open-{state.turn}"
    with st.expander(words.KEEP, key=key, on_change="rerun", icon=":material/bookmark_add:") as box:
        if box.open:
            door.ask()


def _keep() -> None:
    state = session()
    # A photo of several has the name of its file. What was typed before the entry was lost or deleted stays.
    title = state.get("title") or ("" if state.opened is None else state.pieces[state.opened].name)
    note = state.get("note", "")
    try:
        book, count = door.notebook(), count_of_session()
        if book is None:
            return
        state.tie = keep(book, state.photo, count, state.edits, state.confirmed, goal_of_session(), title, note)
        state.update(title=title, note=note, said="")
    except NotebookError as error:
        state.said = str(error)


def _to_list() -> None:
    leave(listed=True, rows_shown=0)


def question(many: int, do: Callable[[], None], leave_it: Callable[[], None]) -> None:
    """Ask the one question before something is deleted for good.

    Parameters
    ----------
    many : int
        How many counts.
    do, leave_it : callable
        What the answers do.
    """
    st.html(
        f'<p class="do" role="status"><b>{words.DELETE_ASKED}</b>'
        f" {words.DELETE_ONE if many == 1 else words.DELETE_MANY.format(n=many)}</p>"
    )
    with st.container(horizontal=True, gap="small"):
        st.button(words.DELETE_DO, key="delete-do", on_click=do, icon=":material/delete:", width="stretch")
        st.button(words.DELETE_NOT, key="delete-not", on_click=leave_it, width="stretch")


def _delete() -> None:
    state = session()
    state.deleting = False
    said, tie = words.DELETED, state.tie
    if tie is None or tie.entry is None:
        return
    try:
        tie.notebook.delete(tie.entry.key)
    except NotebookError as error:
        said = str(error)
        if error.code != "not tidied":
            tie.trouble = said
            return
    state.tie = None
    if state.plan_before is None:
        state.said = said
    else:
        leave(listed=True, said=said, **state.plan_before)
