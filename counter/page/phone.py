"""The phone beside the desk: a way in for one scan of a code, and photos that it sends to the desk's screen.

``rimtally page --phone`` listens on the home network. A phone gets in by a link
with a token that holds once; whoever comes without is shown a closed door. When
the last page at the desk is closed, everybody else is sent away.
"""

from __future__ import annotations

import os
import secrets
import socket
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from html import escape
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

import segno

from counter.basics import words

__all__ = [
    *("admitted", "known"),
    *("COOKIE", "QUERY", "SWITCH", "TOKEN", "Phones", "at_desk", "closed_door", "invitation", "lan_address"),
    *("phones", "picture_of", "printed"),
]

#: Environment: turns it on, holds the first token, and the address that the link names where another is wanted.
SWITCH, TOKEN, ADDRESS = "RIMTALLY_PHONE", "RIMTALLY_PHONE_TOKEN", "RIMTALLY_PHONE_ADDRESS"
#: Name of the token in the link, and of what a phone is known by afterwards.
QUERY, COOKIE = "phone", "rimtally-phone"
#: Seconds for which the door stays open after the desk's last page went: it may only be loaded anew.
GRACE_S = 20.0
#: Most photos that wait for the desk, and most phones at a time.
MOST_WAITING, MOST_PHONES = 12, 8
#: The machine itself, as a browser at the desk calls it.
DESK = ("localhost", "127.0.0.1", "::1")


@dataclass
class Phones:
    """Who may come in from the home network, and what they sent.

    Parameters
    ----------
    token : str
        Opens the door once.
    """

    token: str = field(default_factory=lambda: secrets.token_urlsafe(16))
    _known: list[str] = field(default_factory=list)
    _waiting: list[Any] = field(default_factory=list)
    _desks: int = 0
    _left: float = 0.0
    _lock: threading.RLock = field(default_factory=threading.RLock, repr=False)

    def redeem(self, token: str) -> str | None:
        """Let a phone in.

        Parameters
        ----------
        token : str
            From its link; it holds once, and the next phone gets another.

        Returns
        -------
        str or None
            What the phone is known by from now on; None where the token doesn't hold.
        """
        with self._lock:
            if not self.open or not secrets.compare_digest(token.encode(), self.token.encode()):
                return None
            self.token = secrets.token_urlsafe(16)
            self._known = [*self._known, secrets.token_urlsafe(24)][-MOST_PHONES:]
            return self._known[-1]

    def knows(self, name: str) -> bool:
        """Whether a phone was let in, and the door is still open."""
        with self._lock:
            return self.open and any(secrets.compare_digest(name.encode(), one.encode()) for one in self._known)

    @property
    def open(self) -> bool:
        """True while a page is open at the desk, or was a moment ago."""
        with self._lock:
            if self._desks == 0 and self._left and time.monotonic() - self._left > GRACE_S:
                self._known.clear()
                self._waiting.clear()
                return False
            return True

    @property
    def many(self) -> int:
        """How many phones were let in."""
        return len(self._known)

    def desk_came(self) -> None:
        """A page was opened at the desk."""
        with self._lock:
            if not self.open:
                self.token = secrets.token_urlsafe(16)
            self._desks += 1
            self._left = 0.0

    def desk_went(self) -> None:
        """A page at the desk was closed."""
        with self._lock:
            self._desks -= 1
            self._left = time.monotonic() if self._desks == 0 else 0.0

    def send(self, what: object) -> bool:
        """Leave something for the desk; False where too much waits there already."""
        with self._lock:
            if len(self._waiting) >= MOST_WAITING:
                return False
            self._waiting.append(what)
            return True

    def take(self) -> dict[str, object] | None:
        """What came first of what waits for the desk; None where nothing does."""
        with self._lock:
            return self._waiting.pop(0) if self._waiting else None


_PHONES = Phones(os.environ.get(TOKEN) or secrets.token_urlsafe(16)) if os.environ.get(SWITCH) == "on" else None


def phones() -> Phones | None:
    """Those of this server; None where it doesn't listen on the home network."""
    return _PHONES


def at_desk(headers: Mapping[str, str], peer: str | None) -> bool:
    """Whether a visitor sits at the machine itself, where the page listens on the home network.

    Parameters
    ----------
    headers : mapping of str to str
        What the browser sent, names in lower case.
    peer : str or None
        The address that it comes from; None where it is this machine.
    """
    host = headers.get("host", "").rsplit(":", 1)[0].strip("[]").lower()
    return host in DESK and (peer is None or peer in DESK) and "x-forwarded-for" not in headers


def known(headers: Mapping[str, str]) -> bool:
    """Whether a visitor is a phone that was let in."""
    try:
        cookies = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return False
    return COOKIE in cookies and _PHONES is not None and _PHONES.knows(cookies[COOKIE].value)


def admitted(query: bytes) -> bytes | None:
    """The cookie for a phone whose link holds; None where it doesn't.

    Parameters
    ----------
    query : bytes
        Of the address that it asked for.
    """
    tokens = parse_qs(query.decode("latin-1")).get(QUERY, [])
    name = _PHONES.redeem(tokens[0]) if tokens and _PHONES else None
    return f"{COOKIE}={name}; Path=/; HttpOnly; SameSite=Strict".encode() if name else None


def closed_door() -> bytes:
    """What whoever comes without a token is shown."""
    return (
        '<!doctype html><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        f"<title>{escape(words.TITLE)}</title><body style='font: 18px/1.5 system-ui, sans-serif; max-width: 30em;"
        f" margin: 4em auto; padding: 0 1em'><h1>{escape(words.DOOR_CLOSED)}</h1>"
        f"<p>{escape(words.DOOR_CLOSED_HINT)}</p>"
    ).encode()


def lan_address() -> str:
    """The address of this machine on the home network; nothing is sent to find it."""
    if told := os.environ.get(ADDRESS):
        return told
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        try:
            # Only the way there is looked up (RFC 5737: nobody lives at this address).
            way.connect(("192.0.2.1", 9))
            return way.getsockname()[0]
        except OSError:
            return "127.0.0.1"


def invitation(port: int, token: str) -> str:
    """The link that lets one phone in."""
    return f"http://{lan_address()}:{port}/?{QUERY}={token}"


def picture_of(link: str) -> str:
    """A link as a QR code (ISO/IEC 18004), the address of a picture that a page can hold."""
    return segno.make(link, error="m").svg_data_uri(scale=6, border=3, dark="#10191c", light="#ffffff")


def printed(link: str) -> None:
    """Show a link as a QR code in the terminal."""
    segno.make(link, error="l").terminal(compact=True, border=2)
