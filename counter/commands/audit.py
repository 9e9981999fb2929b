"""Counts a folder of many makers' rounds and holds each against its round of a plan."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from counter.basics import words
from counter.basics.files import write_whole
from counter.basics.text import shown
from counter.commands import page
from counter.commands.common import AGREES, BadUse, Progress, need_plain_file, written
from counter.commands.plan import choices, plan_in, text_of, whole_number, with_rounds
from counter.group import work
from counter.group.audit import FOLDER, Group
from counter.group.console import example_words, table_words
from counter.group.labels import CALLED
from counter.group.store import GroupError
from counter.group.work import Job, Stopped
from counter.lengths.mat import PAPERS

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
    parser.add_argument(
        "--page", action="store_true", help="count and work through them on the page, in a browser, instead"
    )
    parser.add_argument("--csv", metavar="OUT.csv", help="write every photo's line there, for a spreadsheet")
    parser.add_argument("--html", metavar="OUT.html", help="write a page with small photos and their marks there")
    parser.add_argument("--pdf", metavar="OUT.pdf", help="write the table and a page for each maker there, to print")
    parser.add_argument("--paper", choices=tuple(PAPERS), default="A4", help="of the PDF (default: A4)")
    parser.add_argument(
        "--call",
        choices=CALLED,
        default="names",
        help="what makers are called in these files; unless by names, photos have numbers (default: names)",
    )
    parser.add_argument("--left-handed", action="store_true", help="number the marks clockwise")


def run(options: argparse.Namespace) -> int:
    """Count a group's photos; gives the exit code."""
    progress = Progress()
    for name in filter(None, (options.csv, options.html, options.pdf)):
        if not Path(name).absolute().parent.is_dir() or Path(name).is_dir():
            raise BadUse(f"{shown(name)} can't be written: name a file in a folder that exists")
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
        if options.page:
            if options.yes and not group.names and not group.table and group.guess:
                group.named(group.guess)
            os.environ[FOLDER] = str(group.folder.absolute())
            return page.run(argparse.Namespace(port=None, no_browser=False, public=None))
        if group.names or group.table:
            for line in example_words(group.places(), all_of_them=options.match, missing=group.missing):
                print(line)
        else:
            group = _guessed(group, options)
        if options.match:
            return AGREES
        job = group.stock()

        def far(now: work.Progress) -> None:
            if now.done < now.of:
                progress.told_by(now.done, now.of, now.photo, now.left)

        group.count(
            job,
            workers=options.workers or None,
            scheduler=options.scheduler,
            gauge=options.gauge,
            left_handed=options.left_handed,
            progress=far,
        )
        progress.clear()
        print(table_words(group.lay_out(job)))
        _write(group, job, options)
    except (ValueError, GroupError, Stopped) as error:
        raise BadUse(f"{shown(options.folder)}: {error}") from None
    finally:
        progress.clear()
    return AGREES


def _write(group: Group, job: Job, options: argparse.Namespace) -> None:
    """The files that were asked for."""
    if not (options.csv or options.html or options.pdf):
        return
    from counter.group.pages import group_pdf
    from counter.group.sheets import group_csv, group_page

    answers = group.book.answers(tuple(job.contents.values()))
    table, date = group.lay_out(job, answers, called=options.call), words.date(datetime.now().astimezone())
    # With a byte order mark, by which spreadsheets know UTF-8.

    def write(name: str | None, make: Callable[[], bytes]) -> None:
        if name:
            written(Path(name), lambda: write_whole(name, make()))
            print(f"{shown(name)} written")

    write(options.csv, lambda: group_csv(table).encode("utf-8-sig"))
    write(options.html, lambda: group_page(table, answers, date=date).encode())
    write(options.pdf, lambda: group_pdf(table, answers, date=date, paper=options.paper))


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
