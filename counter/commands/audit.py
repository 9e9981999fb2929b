"""Counts a folder of many makers' rounds and holds each against its round of a plan."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from counter.basics.text import shown
from counter.commands.common import AGREES, BadUse, Progress, need_plain_file
from counter.commands.plan import choices, plan_in, text_of, whole_number, with_rounds
from counter.group.audit import Group
from counter.group.store import GroupError
from counter.group.tell import example_words, table_words
from counter.group.work import Stopped

__all__ = ["arguments", "run"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.description = (
        "Counts every photo in a folder, matches it to its maker and round, and says which rounds are off and whether "
        "a maker or the pattern is to blame. What was counted is kept in the folder: stop at any moment, and the next "
        "run goes on with what is new or changed."
    )
    parser.add_argument("folder", metavar="FOLDER", help="holds the photos, in subfolders or not")
    parser.add_argument("--plan", metavar="FILE", help="the written rounds (default: those of the last run)")
    choices(parser)
    parser.add_argument(
        "--names",
        metavar="PATTERN",
        help="how photos are named: {maker}/{round} for a folder each, {maker}_r{round}, ... ; * stands for anything. "
        "Without it a pattern is guessed, shown on examples, and asked about",
    )
    parser.add_argument(
        "--table", metavar="FILE.csv", help="says whose each photo is, in the columns photo, maker and round"
    )
    parser.add_argument("--yes", action="store_true", help="use the guessed pattern without asking")
    parser.add_argument("--match", action="store_true", help="only show which photo would be whose; count nothing")
    parser.add_argument("--workers", type=whole_number, metavar="N", help="processes (default: one for each core)")
    parser.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="count on the Dask cluster of this scheduler instead (needs the extra 'cluster')",
    )
    parser.add_argument("--gauge", action="store_true", help="look for a card, a coin or the printed mat in each photo")
    parser.add_argument("--left-handed", action="store_true", help="number the marks clockwise")


def run(options: argparse.Namespace) -> int:
    """Count a group's photos; gives the exit code."""
    progress = Progress()
    plan = None if options.plan is None else text_of(options.plan)
    if plan is not None:
        with_rounds(plan_in(plan, options.plan, options), options.plan)
    try:
        group = Group.open(
            Path(options.folder),
            plan=plan,
            uk=options.uk,
            piece=options.piece,
            size=options.for_size,
            names=options.names,
            table=None if options.table is None else _content(options.table),
        )
        if group.names or group.table:
            for line in example_words(group.places(), all_of_them=options.match, missing=group.missing):
                print(line)
        else:
            group = _guessed(group, options)
        if options.match:
            return AGREES
        job = group.stock()
        group.count(
            job,
            workers=options.workers or None,
            scheduler=options.scheduler,
            gauge=options.gauge,
            left_handed=options.left_handed,
            progress=lambda now: now.done < now.of and progress.told_by(now.done, now.of, now.photo, now.left),
        )
        progress.clear()
        print(table_words(group.lay_out(job)))
    except (ValueError, GroupError, Stopped) as error:
        raise BadUse(f"{shown(options.folder)}: {error}") from None
    finally:
        progress.clear()
    return AGREES


def _guessed(group: Group, options: argparse.Namespace) -> Group:
    """The group with the pattern that was guessed, once it has been shown and taken."""
    guess = group.guess
    if guess is None:
        raise BadUse(
            f"{shown(options.folder)}: nothing tells whose the photos are (the first is {shown(group.photos[0])}); "
            "give --names '{maker}/{round}' or another pattern, or --table FILE.csv"
        )
    print(f"The names look like {guess}:")
    for line in example_words(group.places(guess), all_of_them=options.match):
        print(line)
    if options.match:
        print(f"To use it, give --names '{guess}' or --yes.")
        return group
    if not options.yes:
        if sys.stdin is None or not sys.stdin.isatty():
            raise BadUse(f"{guess} is a guess: give --names '{guess}' or --yes to use it, or --names another one")
        if input("Is that so? [y/N] ").strip().lower() not in {"y", "yes"}:
            raise BadUse("nothing was counted; give --names PATTERN or --table FILE.csv")
    return group.named(guess)


def _content(name: str) -> bytes:
    need_plain_file(name)
    try:
        return Path(name).read_bytes()
    except OSError as error:
        raise BadUse(f"{shown(name)} can't be read: {error.strerror or error}") from None
