"""Reads written rounds and checks them."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from counter.basics.files import write_whole
from counter.basics.text import shown
from counter.commands.common import AGREES, BadUse, need_plain_file, written
from counter.comparing.check import total_of
from counter.comparing.verdict import MOST_EXPECTED, check_expected
from counter.lengths.mat import PAPERS
from counter.plan import Plan, plan_data, read_plan, staggered, write_plan
from counter.showing import summary
from counter.showing.checklist import plan_page

__all__ = ["arguments", "choices", "plan_in", "plan_of", "run", "text_of", "total", "whole_number", "with_rounds"]

#: Most bytes of a plan that are read; a reader of plans refuses so many.
MOST_TEXT_BYTES = 2_000_000


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument(
        "plan",
        metavar="FILE",
        help="a text file with written rounds, a list of totals or a growth rule; - reads the input",
    )
    choices(parser)
    parser.add_argument(
        "--rounds", type=whole_number, default=12, metavar="N", help="how many rounds a growth rule makes (default: 12)"
    )
    parser.add_argument(
        "--round", type=whole_number, metavar="K", help="print what this round should hold, and nothing else"
    )
    parser.add_argument("--check-list", action="store_true", help="write a line for every round, with a box to tick")
    parser.add_argument(
        "--staggered", action="store_true", help="shift increases so that no corner grows; the totals stay the same"
    )
    parser.add_argument("--pdf", metavar="OUT.pdf", help="write the check list as a file to print")
    parser.add_argument("--paper", choices=tuple(PAPERS), default="A4", help="of that file (default: A4)")
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def choices(parser: argparse.ArgumentParser) -> None:
    """Say for what a plan is read: its terms, a piece and a size of it."""
    parser.add_argument("--uk", action="store_true", help="the plan is written in UK terms")
    parser.add_argument(
        "--chain-counts",
        action=argparse.BooleanOptionalAction,
        help="whether the chain that a round begins with counts as a stitch, where the plan doesn't say",
    )
    parser.add_argument(
        "--piece", metavar="NAME", help="which piece of the plan, by its heading or its number, where it holds several"
    )
    parser.add_argument(
        "--for-size", metavar="SIZE", help="which size of the plan, by its name or its number, where it has several"
    )


def whole_number(text: str) -> int:
    """A whole number from 0 to the most that a round may hold, for ``argparse``."""
    if not text.isascii() or not text.isdigit() or int(text) > MOST_EXPECTED:
        raise argparse.ArgumentTypeError(f"this must be a whole number from 0 to {MOST_EXPECTED}, not {text!r}")
    return int(text)


def plan_of(name: str, options: argparse.Namespace, rounds: int = 12) -> Plan:
    """The plan in a file, or in the input, for the piece and the size that are wanted."""
    return plan_in(text_of(name), name, options, rounds)


def plan_in(text: str, name: str, options: argparse.Namespace, rounds: int = 12) -> Plan:
    """The plan in a text that came from there, for the piece and the size that are wanted."""
    plan = read_plan(
        text,
        uk=options.uk,
        rounds=rounds,
        piece=options.piece,
        size=options.for_size,
        chain_counts=options.chain_counts,
    )
    lost = options.piece is not None and plan.pieces and plan.piece is None
    if lost or options.for_size is not None and plan.size is None and plan.rounds:
        told = next((one for one in plan.findings if one.kind == "asked"), None)
        raise BadUse(f"{shown(name)}: {told.what} {told.fix}" if told else f"{shown(name)} is written for one size")
    return plan


def text_of(name: str) -> str:
    """The text of a plan in a file, or in the input."""
    if name == "-" and sys.stdin is None:
        raise BadUse("the input is closed: name a file with the written rounds")
    if name != "-":
        need_plain_file(name, "name a file, or give its text to the input and say -")
    try:
        data = sys.stdin.buffer.read(MOST_TEXT_BYTES + 1) if name == "-" else _start_of(name)
    except OSError as error:
        raise BadUse(f"{shown(name)} can't be read: {error.strerror or error}") from None
    return data.decode("utf-8-sig", "replace")


def with_rounds(plan: Plan, name: str) -> Plan:
    """The same plan; one without rounds is bad use."""
    if not plan.rounds:
        told = plan.findings[0]
        raise BadUse(f"{shown(name)}, line {told.line}, column {told.column}: {told.what} {told.fix}".rstrip())
    return plan


def _start_of(name: str) -> bytes:
    with open(name, "rb") as file:
        return file.read(MOST_TEXT_BYTES + 1)


def total(plan: Plan, number: int) -> int:
    """The total of a round; bad use where the plan doesn't say it."""
    try:
        return check_expected(total_of(plan, number).stitches)
    except ValueError as error:
        raise BadUse(str(error)) from None


def run(options: argparse.Namespace) -> int:
    """Read written rounds; gives the exit code."""
    if not 1 <= options.rounds <= MOST_EXPECTED:
        raise BadUse(f"--rounds must be 1 to {MOST_EXPECTED}")
    plan = plan_of(options.plan, options, options.rounds)
    if options.staggered:
        plan = staggered(plan)
    if options.json and options.round is None:
        print(json.dumps(plan_data(plan), allow_nan=False))  # what is wrong with a plan without rounds, too
    with_rounds(plan, options.plan)
    if options.round is not None:
        print(total(plan, options.round))
    elif not options.json:
        print(write_plan(plan, uk=options.uk, check_list=options.check_list))
        print(summary.plan_words(plan, uk=options.uk))
    if options.pdf:
        out = Path(options.pdf)
        if not out.parent.is_dir() or out.is_dir():
            raise BadUse(f"{shown(options.pdf)} can't be written: name a file in a folder that exists")
        title = "" if options.plan == "-" else Path(options.plan).stem
        written(out, lambda: write_whole(out, plan_page(plan, title=title, uk=options.uk, paper=options.paper)))
    return AGREES
