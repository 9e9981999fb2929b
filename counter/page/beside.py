"""The phone beside the desk on the page: the code to scan, what that opens, and the photos that come from there."""

from __future__ import annotations

from html import escape

import streamlit as st

from counter.basics import words
from counter.basics.answer import Count
from counter.page import phone
from counter.page.rim_picture import begin_strip
from counter.page.session import count_of_session, forget_photo, session
from counter.page.show import TICK, lines

__all__ = ["came", "invite", "is_desk", "is_phone", "send_button"]

#: What a photo on the page is, for another screen of the same server.
SENT = ("answer", "photo", "picture", "edits", "confirmed")
#: Seconds from one look for what came to the next.
LOOK_INTERVAL_S = 2.0


def is_desk() -> bool:
    """True at the desk of a page that listens on the home network."""
    if phone.phones() is None:
        return False
    headers = {name.lower(): value for name, value in st.context.headers.items()}
    return phone.at_desk(headers, st.context.ip_address)


def is_phone() -> bool:
    """True on a phone that was let in."""
    return phone.phones() is not None and not is_desk()


# At the desk -----------------------------------------------------------------


def invite() -> None:
    """Show the code that lets a phone in, and say what that opens."""
    if not is_desk():
        return
    with st.container(key="invite", border=True):
        _invitation()


@st.fragment(run_every=LOOK_INTERVAL_S)
def _invitation() -> None:
    phones = phone.phones()
    if phones is None:
        return
    link = phone.invitation(int(st.get_option("server.port")), phones.token)
    picture = f'<img src="{phone.picture_of(link)}" alt="{escape(words.SCAN_PICTURE)}">'
    st.html(f'<div class="scan">{picture}<div><b>{words.SCAN}</b><p>{escape(words.SCAN_HINT)}</p></div></div>')
    if phones.many:
        lines([words.PHONES_IN.format(n=phones.many) if phones.many > 1 else words.PHONE_IN])
    with st.expander(words.SCAN_OPENS):
        lines([words.SCAN_EXPOSES, words.SCAN_ENDS])
        st.code(link, language=None, wrap_lines=True)


def came() -> None:
    """Take up what a phone sent; while something is looked at, offer it."""
    if is_desk():
        _came()


@st.fragment(run_every=LOOK_INTERVAL_S)
def _came() -> None:
    state = session()
    phones = phone.phones()
    if state.arrived is None and phones is not None:
        state.arrived = phones.take()
    if state.arrived is None:
        return
    if state.get("answer") is None and not state.pieces and not state.listed:
        _take()
        st.rerun()
    st.button(words.SHOW_SENT, key="show-sent", on_click=_take, type="primary", icon=":material/smartphone:")


def _take() -> None:
    state = session()
    sent, state.arrived = state.arrived, None
    if sent is None:
        return
    forget_photo()
    state.update(
        {name: sent[name] for name in SENT},
        seen=0, scale=None, opened=None, listed=False, plan_before=None, turn=state.turn + 1,
    )  # fmt: skip
    begin_strip(str(state.turn), state.photo, count_of_session())


# On the phone ----------------------------------------------------------------


def send_button() -> None:
    """Offer to show the photo on the desk's screen, with its marks as they stand."""
    state = session()
    if not is_phone() or not isinstance(state.get("answer"), Count):
        return
    if state.sent_on == state.turn:
        st.html(f'<p class="kept" role="status">{TICK}<b>{words.SENT_ON}</b></p>')
        return
    st.button(words.SEND_ON, key="send-on", on_click=_send, width="stretch", icon=":material/computer:")
    if state.sent_on == -1:
        lines([words.SEND_FULL])


def _send() -> None:
    state = session()
    phones = phone.phones()
    sent = phones is not None and phones.send({name: state[name] for name in SENT})
    state.sent_on = state.turn if sent else -1
