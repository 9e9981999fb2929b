"""What the page remembers of one person's visit, in Streamlit's session state.

Names, all of them set by :func:`begin` or with a photo:

- of the photo: ``answer``, ``photo``, ``picture``, ``strip`` (the name of the photo,
  and its rim laid straight once that is done), ``crops`` (places enlarged for the marks as they
  stand), ``edits``, ``seen``, ``confirmed``, ``scale``, ``coin``, ``wide``,
  ``since``, ``turn`` (grows with every photo), ``asked`` (grows with every tap
  that asks for another one), ``chosen`` (the sample that is to be counted);
  ``tie`` (to its count in the notebook, or None), ``title``, ``note``,
  ``deleting`` (whether to delete that count is being asked);
- of the plan: ``pattern`` (as pasted), ``uk``, ``hook`` (number of the round on
  the hook, or None);
- of the piece: ``twin``, ``first`` (the first of two that must match);
- of several photos: ``pieces``, ``under_way`` (those of them that are counted
  already, by the name that Streamlit gives each file), ``left_out`` (how many
  were too many), ``rows`` (of the sheet, as last worked out), ``opened`` (index
  of the one in the rim picture, or None), ``all_total`` (what every round
  should hold), ``sheet`` (its name in the browser, empty until it has one),
  ``wanted`` (keys of those that the browser asks for, and whether for the picture
  too), ``unreturned`` (a line about what did not survive a reload);
- of the notebook: ``notebook`` (None until it is needed, or its code was
  given), ``code`` (of one just begun, until it is written down), ``listed``
  (whether its list is shown), ``sought`` and ``rows_shown`` (of the list),
  ``said`` (what was done there last), ``plan_before`` (the plan that waits while a
  count of the list is open, None where none is), ``clearing`` (keys that are
  being asked about before they are deleted), ``imports`` (grows with each),
  ``leaving`` (what holds once the photo is let go, None where it stays);
- of a group of makers: ``group`` (its folder, empty while it is asked for, None
  elsewhere), ``group_at`` (the line whose photo is open, with its marks as they were
  saved, or None), ``group_plan`` (the plan that waits while it is), ``group_known``
  (answers that were read already, by content);
- of the visit itself: ``language`` (its code), ``visit`` (its name, drawn at random), ``left`` (what an
  earlier tab left behind, while it is offered, else None), ``heard`` (how often
  the browser said what it found), ``hand`` (whether it is to hand over all of it),
  ``unmade`` (why a file could not be saved from what is shown, by the name of its
  button, or nothing).

Streamlit forgets a widget's state when the widget is not shown; these stay.
"""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Callable, Iterable

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx
from streamlit.runtime.uploaded_file_manager import UploadedFile

from counter.basics.language import best_of
from counter.basics.memory import tidy
from counter.page.link import LinkedPlan, unpack

__all__ = ["PHOTO", "VISIT", "begin", "bound", "forget_photo", "kept", "let_go"]

#: Names of what belongs to one photo.
PHOTO = (
    *("answer", "photo", "picture", "strip", "crops", "edits", "seen", "confirmed"),
    *(
        "scale",
        "coin",
        "wide",
        "since",
        "finished",
        "made",
        "shown",
        "by_hand",
        "tie",
        "title",
        "note",
        "deleting",
        "expected",
    ),
)
#: Names of what stays when photos come and go.
VISIT = (
    *("turn", "asked", "chosen", "pattern", "hook", "uk", "twin", "first", "part", "made_size"),
    *("pieces", "under_way", "left_out", "rows", "opened", "all_total", "sheet", "wanted", "unreturned"),
    *("notebook", "code", "listed", "sought", "rows_shown", "said", "plan_before", "clearing", "imports", "leaving"),
    *("language", "visit", "left", "heard", "hand", "unmade", "arrived", "sent_on", "held", "sheet_hook"),
    *("group", "group_at", "group_plan", "group_known"),
)


def begin() -> bool:
    """Set what a visit begins with; the plan comes from the address. Gives False where it has begun."""
    if "turn" in st.session_state:
        return False
    found = unpack(st.query_params)
    st.session_state.update(
        language=best_of(st.query_params.get("language") or st.context.locale),
        turn=0, asked=0, chosen=None, pattern=found.text, hook=found.round, uk=found.uk, twin=False, first=None,
        part=found.piece, made_size=found.size,
        pieces=(), under_way={}, left_out=0, rows={}, opened=None, all_total=None, notebook=None, code="", listed=False,
        sought="", rows_shown=0, said="", plan_before=None, clearing=(), imports=0, leaving=None,
        visit=secrets.token_hex(8), left=None, heard=0, hand=False, sheet="", wanted={}, unreturned="", unmade={},
        group=None, group_at=None, group_plan={}, group_known={},
        arrived=None, sent_on=None, held=None, sheet_hook=None,
    )  # fmt: skip
    return True


def kept() -> LinkedPlan:
    """The plan and its round, for the address."""
    state = st.session_state
    return LinkedPlan(state.pattern, state.hook, state.uk, state.part, state.made_size)


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
            run.uploaded_file_mgr.remove_file(session_id=run.session_id, file_id=file.file_id)


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
