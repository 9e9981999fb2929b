"""What stands before the page: who may speak to it, how much they may leave there, and what every answer says."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import streamlit as st
from starlette.middleware import Middleware
from streamlit import net_util

from counter.page import homescreen, phone
from counter.page.visitors import is_this_machine

__all__ = ["HEADERS", "HOME", "Guard", "guarded", "may_speak", "public_name"]

#: What is run for each visitor.
HOME = Path(__file__).with_name("home.py")
#: Addresses of the server that nobody needs here: what it counts about itself, and a way in for programs.
CLOSED = re.compile(r".*/_stcore/(?:metrics|agent(?:/.*)?)")
#: The address that takes uploads: of which visit.
UPLOAD = re.compile(r".*/_stcore/upload_file/([^/]+)/[^/]+")
#: Most files and most bytes that one visit may leave unread: a sheet of 40 photos, and some more.
MOST_FILES, MOST_BYTES = 60, 600_000_000
#: Said with every answer: nobody else's page may frame this one (CSP level 3, 6.4.2; RFC 7034), what is sent is
#: what it says it is (Fetch, "nosniff"), and the address, which holds the plan, is told to nobody.
HEADERS = {
    b"content-security-policy": b"frame-ancestors 'none'",
    b"x-frame-options": b"DENY",
    b"x-content-type-options": b"nosniff",
    b"referrer-policy": b"same-origin",
    b"cross-origin-opener-policy": b"same-origin",
}
#: Ports that an origin leaves out (RFC 6454, 4).
PORTS = {"http": 80, "https": 443, "ws": 80, "wss": 443}

Scope = Mapping[str, Any]


def public_name() -> str | None:
    """The name under which others reach the page (``browser.serverAddress``); None where it is for this machine."""
    name = (st.get_option("browser.serverAddress") or "").strip().lower()
    return None if not name or is_this_machine(name) else name


def may_speak(origin: str | None, host: str | None, address: str | None, public: str | None) -> bool:
    """Tell whether a page may hold a conversation with the server.

    Parameters
    ----------
    origin : str or None
        Of the page that asks, as its browser says; browsers always do
        (RFC 6455, 10.2).
    host : str or None
        Whom it asked.
    address : str or None
        The address that the server listens on; None for all of the machine's.
    public : str or None
        The name under which others reach it, see :func:`public_name`.

    Returns
    -------
    bool
        True for the server's own page. Another port of the same name is
        another page; another name that leads here (DNS rebinding), too.
    """
    asks, asked = _parted(origin), _parted(f"//{host}")
    if asks is None or asked is None:
        return False
    own = asks[0] == asked[0] and _port(asks) == (asked[1] or _port(asks, standard=True))
    if public:
        # A proxy that does not hand on whom was asked says the page's local name instead.
        return asks[0] == public and (own or is_this_machine(asked[0]))
    return own and (is_this_machine(asked[0]) or not is_this_machine(address))


def _parted(origin: str | None) -> tuple[str, int | None, str] | None:
    """Name, port where one is said, and scheme; None where it is nothing of the kind."""
    try:
        parts = urlsplit(origin or "")
        return (parts.hostname, parts.port, parts.scheme) if parts.hostname else None
    except ValueError:
        return None


def _port(parts: tuple[str, int | None, str], *, standard: bool = False) -> int | None:
    return PORTS.get(parts[2]) if standard else parts[1] or PORTS.get(parts[2])


def guarded() -> list[Middleware]:
    """What the page is served behind.

    Streamlit asks a service on the internet for its own address where it has to
    tell whether an unknown page may speak to it, on the thread that serves
    everybody. Which pages may is told by :func:`may_speak`; those questions are
    answered here.

    Returns
    -------
    list of Middleware
        For ``streamlit.App``.
    """
    net_util.get_external_ip = lambda: None
    net_util.get_internal_ip = lambda: None
    return [Middleware(Guard)]


class Guard:
    """ASGI middleware (https://asgi.readthedocs.io) before everything else of the server.

    Parameters
    ----------
    app : ASGI application
    left : callable, optional
        Visit -> sizes in bytes of the files that it left unread.
    """

    def __init__(self, app: Callable, left: Callable[[str], Iterable[int]] | None = None) -> None:
        self.app, self.left = app, left or _left

    async def __call__(self, scope: Scope, receive: Callable, send: Callable) -> None:
        """Answer one request."""
        phones = phone.phones()
        if phones is not None and scope["type"] in ("http", "websocket"):
            await self._on_home_network(phones, scope, receive, send)
        else:
            await self._guarded(scope, receive, send)

    async def _on_home_network(self, phones: phone.Phones, scope: Scope, receive: Callable, send: Callable) -> None:
        """Answer at the desk, and a phone that was let in; anybody else stands before a closed door."""
        headers = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]}
        talks = scope["type"] == "websocket"
        if phone.at_desk(headers, scope["client"][0] if scope.get("client") else None):
            if talks:
                phones.desk_came()
            try:
                await self._guarded(scope, receive, send)
            finally:
                if talks:
                    phones.desk_went()
        elif phone.known(headers):
            await self._guarded(scope, _while_open(receive, headers) if talks else receive, send)
        elif talks:
            await receive()  # websocket.connect
            await send({"type": "websocket.close", "code": 1008})
        elif cookie := phone.admitted(scope.get("query_string", b"")):
            # Without the token in its address, which would stay in the phone's history.
            await _answer(_with_headers(send), 303, b"", (b"set-cookie", cookie), (b"location", b"/"))
        else:
            kind = (b"content-type", b"text/html; charset=utf-8")
            await _answer(_with_headers(send), 403, phone.closed_door(), kind)

    async def _guarded(self, scope: Scope, receive: Callable, send: Callable) -> None:
        if scope["type"] == "websocket":
            headers = {name.lower(): value.decode("latin-1") for name, value in scope["headers"]}
            allowed = (st.get_option("server.address"), public_name())
            if not may_speak(headers.get(b"origin"), headers.get(b"host"), *allowed):
                await receive()  # websocket.connect
                await send({"type": "websocket.close", "code": 1008})
                return
        elif scope["type"] == "http":
            send = _with_headers(send)
            upload = UPLOAD.fullmatch(scope["path"])
            own = "/" + scope["path"].rpartition("/")[2]
            if own in homescreen.FILES and scope["method"] in ("GET", "HEAD"):
                await _answer(send, 200, homescreen.file_of(own), (b"content-type", homescreen.FILES[own].encode()))
                return
            if CLOSED.fullmatch(scope["path"]):
                await _refuse(send, 404)
                return
            if upload and scope["method"] == "PUT":
                sizes = list(self.left(upload[1]))
                if len(sizes) >= MOST_FILES or sum(sizes) >= MOST_BYTES:
                    await _refuse(send, 413)
                    return
        await self.app(scope, receive, send)


def _left(visit: str) -> list[int]:
    from streamlit.runtime import get_instance

    # Streamlit has no public way to it: where a later version has moved it, each file has its limit still.
    files = getattr(get_instance().uploaded_file_mgr, "file_storage", {}).get(visit, {})
    return [len(file.data) for file in list(files.values())]


def _with_headers(send: Callable) -> Callable:
    async def sent(message: dict) -> None:
        if message["type"] == "http.response.start":
            given = [(name, value) for name, value in message.get("headers", ()) if name.lower() not in HEADERS]
            message = message | {"headers": [*given, *HEADERS.items()]}
        await send(message)

    return sent


def _while_open(receive: Callable, headers: Mapping[str, str]) -> Callable:
    """What a phone says, until the desk is closed: then it has left."""

    async def received() -> dict:
        message = await receive()
        return message if phone.known(headers) else {"type": "websocket.disconnect", "code": 1008}

    return received


async def _refuse(send: Callable, status: int) -> None:
    await _answer(send, status, b"")


async def _answer(send: Callable, status: int, body: bytes, *headers: tuple[bytes, bytes]) -> None:
    length = (b"content-length", str(len(body)).encode())
    await send({"type": "http.response.start", "status": status, "headers": [length, *headers]})
    await send({"type": "http.response.body", "body": body})
