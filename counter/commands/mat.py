"""Writes the mat to print."""

from __future__ import annotations

import argparse

from counter.basics.text import shown
from counter.commands.common import AGREES, BadUse
from counter.lengths.mat import PAPERS, write_mat

__all__ = ["arguments", "run"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("out", metavar="OUT.pdf", help="where to")
    parser.add_argument("--paper", choices=tuple(PAPERS), default="A4", help="default: A4")


def run(options: argparse.Namespace) -> int:
    """Write the mat; gives the exit code."""
    try:
        write_mat(options.out, options.paper)
    except (ValueError, OSError) as error:
        raise BadUse(str(error)) from None
    print(
        f"{shown(options.out)} written: print it at 100%, measure its 100 mm line, and photograph pieces in its middle"
    )
    return AGREES
