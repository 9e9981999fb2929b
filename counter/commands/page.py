"""Opens the page."""

from __future__ import annotations

import argparse
import os
import re
import secrets
import socket
import subprocess
import sys

from counter.commands.common import AGREES, BAD_USE, BadUse
from counter.page import command
from counter.page.visitors import is_this_machine

__all__ = ["arguments", "run"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--port", type=_port, metavar="N", help="port to serve it at (default: first free from 8501)")
    parser.add_argument(
        "--phone",
        action="store_true",
        help="listen on the home network, too, and show a code to scan: a phone that scans it may take the photos",
    )
    parser.add_argument("--no-browser", action="store_true", help="serve it without opening a browser")
    parser.add_argument(
        "--public",
        type=_public,
        metavar="NAME",
        help="the name under which others reach the page, through a web server in front of it that asks for a "
        "password; nobody is then taken for the user of this machine",
    )
    parser.add_argument(
        "--address",
        metavar="ADDRESS",
        help="address of this machine to listen on, where the web server in front runs elsewhere (0.0.0.0 for all; "
        "needs --public)",
    )


def _port(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"a port is a whole number from 1 to 65535, not {text!r}")
    return int(text)


def _public(text: str) -> str:
    # RFC 1123, 2.1: letters, digits and hyphens between dots; an address is a name, too.
    if len(text) > 253 or not re.fullmatch(r"(?!-)[a-z0-9-]{1,63}(\.(?!-)[a-z0-9-]{1,63})*", text.lower()):
        raise argparse.ArgumentTypeError(f"this must be a name such as rounds.example.org, not {text!r}")
    if is_this_machine(text):
        raise argparse.ArgumentTypeError(f"{text} is this machine itself; name what others type into their browser")
    return text.lower()


def run(options: argparse.Namespace) -> int:
    """Serve the page, in the place of this process where the system can do that; gives the exit code."""
    port = options.port
    if options.phone:
        if options.public is not None:
            print("rimtally: --phone is for the home network, --public for a server: give one of them", file=sys.stderr)
            return BAD_USE
        port = port or _free_port()
        _invite(port)
    if options.address is not None and options.public is None:
        raise BadUse("--address needs --public: only a page that is told its public name is for others")
    hidden = options.no_browser or options.public is not None
    serve = command(port, headless=hidden, public=options.public, network=options.phone, address=options.address)
    if os.name == "nt":  # Windows can't put one program in another's place
        return subprocess.call(serve)
    # In this one's place, so that whatever ends this process ends the server, and its memory is not held twice.
    sys.stdout.flush()
    os.execv(serve[0], serve)
    return AGREES


def _free_port() -> int:
    """The first that is free from 8501 on, as Streamlit would take it."""
    for port in range(8501, 8601):
        with socket.socket() as way:
            if way.connect_ex(("127.0.0.1", port)):
                return port
    return 8501


def _invite(port: int) -> None:
    """Show the first phone's link in the terminal; the server that begins here knows its token."""
    from counter.page import phone

    token = secrets.token_urlsafe(16)
    os.environ.update({phone.SWITCH: "on", phone.TOKEN: token})
    link = phone.invitation(port, token)
    print("Scan this with a phone in the same network; the link lets one phone in:\n")
    phone.printed(link)
    print(f"\n{link}\n\nWhoever is let in sees this page and its photos until it is closed. The way is not encrypted.")
