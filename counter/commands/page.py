"""Opens the page."""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys

from counter.commands.common import AGREES
from counter.notebook.store import is_this_machine
from counter.page import command

__all__ = ["arguments", "run"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--port", type=_port, metavar="N", help="port to serve it at (default: first free from 8501)")
    parser.add_argument("--no-browser", action="store_true", help="serve it without opening a browser")
    parser.add_argument(
        "--public",
        type=_public,
        metavar="NAME",
        help="the name under which others reach the page, through a web server in front of it that asks for a "
        "password; nobody is then taken for the user of this machine",
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
    serve = command(options.port, headless=options.no_browser or options.public is not None, public=options.public)
    if os.name == "nt":  # Windows can't put one program in another's place
        return subprocess.call(serve)
    # In this one's place, so that whatever ends this process ends the server, and its memory is not held twice.
    sys.stdout.flush()
    os.execv(serve[0], serve)
    return AGREES
