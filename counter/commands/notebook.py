"""Takes a notebook away, takes one in, lists it."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

from counter.basics import words
from counter.basics.files import whole
from counter.basics.text import printable, shown
from counter.commands.common import AGREES, BAD_USE, BadUse, Progress, need_plain_file, written
from counter.notebook.limits import MOST_ENTRIES
from counter.notebook.store import Notebook, own_path
from counter.notebook.trouble import NotebookError
from counter.notebook.values import Exported, Listed

__all__ = ["arguments", "noted", "opened_notebook"]

T = TypeVar("T")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    which = argparse.ArgumentParser(add_help=False)
    which.add_argument(
        "--notebook",
        metavar="FILE",
        help="another notebook than yours, which is the one that the page keeps on this machine",
    )
    does = parser.add_subparsers(required=True, metavar="WHAT")
    away = does.add_parser("export", parents=[which], help="write all of it into one zip, of any size")
    away.add_argument("out", metavar="OUT.zip", help="where to; a file that is there already is left as it is")
    away.set_defaults(run=_export)
    taken = does.add_parser(
        "import", parents=[which], help="take in what was exported, all of it or nothing; nothing is overwritten"
    )
    taken.add_argument(
        "--leave-out-damaged",
        action="store_true",
        help="leave out, by name, counts that are damaged; take in the others",
    )
    taken.add_argument("zip", metavar="FILE.zip", help="a zip of any size that a notebook was exported to")
    taken.set_defaults(run=_import)
    listed = does.add_parser("list", parents=[which], help="list what is kept, the last first")
    listed.add_argument(
        "words",
        nargs="*",
        metavar="WORD",
        help="only what has all of these in title, note, pattern, date, number or verdict",
    )
    listed.add_argument("--json", action="store_true", help="print one JSON object a count, one a line")
    listed.set_defaults(run=_list)
    truth = does.add_parser(
        "truth", parents=[which], help="write the photos that you counted yourself, with your counts, for 'evaluate'"
    )
    truth.add_argument("folder", metavar="FOLDER", help="where to: a new folder, or an empty one")
    truth.set_defaults(run=_truth)
    sure = does.add_parser(
        "calibrate", parents=[which],
        help="set by photos that you counted yourself (30 at least) when a count is sure, on this machine alone",
    )  # fmt: skip
    sure.add_argument("--forget", action="store_true", help="go back to how it came")
    sure.set_defaults(run=_calibrate)


def _truth(options: argparse.Namespace) -> int:
    from counter.evaluation.own import write_truth  # what counts takes a moment to load

    book, folder = opened_notebook(options), Path(options.folder)
    number, damaged = written(folder, lambda: noted(book.path, lambda: write_truth(book, folder)))
    print(f"{shown(options.folder)} written: {_counts(number)} of yours")
    return _told([words.COUNT_NAMED.format(key=key) for key in damaged], "is damaged and not in it")


def _calibrate(options: argparse.Namespace) -> int:
    from counter.evaluation.own import FewPhotos, forget, own_file, set_own_limit  # as above

    if options.forget:
        there = written(own_file(), forget)
        print("forgotten: a count is sure as it came" if there else "nothing was set: a count is sure as it came")
        return AGREES
    book, progress = opened_notebook(options), Progress()
    try:
        done = written(own_file(), lambda: noted(book.path, lambda: set_own_limit(book, progress)))
    except FewPhotos as error:
        raise BadUse(str(error)) from None
    finally:
        progress.clear()
    for when, name in (("as it came", "before"), ("now", "now")):
        told = done.figures[name]
        print(
            f"{when}: {told['sure']} of {done.photos} photos sure, {told['wrong while sure']} of them wrong"
            f" (at most {told['at most wrong of sure']:.0%} wrong, at 95% confidence)"
        )
    print(
        f"a count is sure from a probability of {done.sure:.3f} on ({done.before:.3f} as it came); the next photo like"
        f" these is sure and wrong with a chance of at most {done.promised:.1%}\n"
        "set on this machine alone; 'rimtally notebook calibrate --forget' takes it back"
    )
    return AGREES


def _export(options: argparse.Namespace) -> int:
    book, out = opened_notebook(options), Path(options.out)
    # What is there may be all that is left of counts that the notebook no longer has.
    if out.exists():
        raise BadUse(f"{shown(options.out)} is there already: name another file, or move that one away")

    def write() -> Exported:
        with whole(out, 0o600) as file:  # as private as the notebook
            return book.export(file)

    done = written(out, lambda: noted(book.path, write))
    print(f"{shown(options.out)} written: {_counts(done.counts)}")
    return _told(done.left_out, "is damaged and not in it")


def _import(options: argparse.Namespace) -> int:
    need_plain_file(options.zip, "name a zip that a notebook was exported to")  # before a notebook is begun
    book, progress = opened_notebook(options, begin=True), Progress()
    try:
        done = noted(
            book.path,
            lambda: book.import_zip(
                options.zip, lambda done, total: progress(done, total, options.zip), leave_out=options.leave_out_damaged
            ),
            options.zip,
        )
    finally:
        progress.clear()
    print(f"{_counts(done.added)} came in, {done.already} {'was' if done.already == 1 else 'were'} there already")
    return _told(done.left_out, "was left out")


def _told(left_out: Sequence[str], what: str) -> int:
    """A line on the error stream for each count that is not among the others, and the exit code."""
    for line in left_out:
        print(f"rimtally: {printable(line)}; it {what}", file=sys.stderr)
    return BAD_USE if left_out else AGREES


def _list(options: argparse.Namespace) -> int:
    book = opened_notebook(options)
    found = noted(book.path, lambda: book.listing(" ".join(options.words), most=MOST_ENTRIES))
    for line in found.lines:
        print(json.dumps(_listed_data(line)) if options.json else _listed_words(line))
    code = _told([words.COUNT_NAMED.format(key=key) for key in found.damaged], "is damaged and can't be read")
    if not found.lines and not found.damaged:
        print(
            "rimtally: nothing with that in it" if options.words else "rimtally: nothing is kept yet", file=sys.stderr
        )
    return code


def opened_notebook(options: argparse.Namespace, *, begin: bool = False) -> Notebook:
    """The notebook that is asked for; a new one only where one may be begun."""
    path = own_path() if options.notebook is None else Path(options.notebook)
    if not begin and not path.exists():
        raise BadUse(f"there is no notebook {shown(str(path))} yet: keep a count on the page, or import one")
    if options.notebook is not None and not path.parent.is_dir():
        raise BadUse(f"{shown(str(path))} can't be begun: there is no folder {shown(str(path.parent))}")
    return noted(path, lambda: Notebook.open(path))


def noted(path: Path, do: Callable[[], T], source: str | None = None) -> T:
    """What is done with the notebook, or with what it takes in; its trouble is one line that names the file."""
    try:
        return do()
    except NotebookError as error:
        named = source if source is not None and error.code == "import" else str(path)
        raise BadUse(f"{shown(named)}: {error}") from None


def _counts(number: int) -> str:
    return "1 count" if number == 1 else f"{number} counts"


def _listed_words(line: Listed) -> str:
    """One line of the list: when, what it is called, what it holds."""
    named = " ".join((line.title or line.note).split())
    said = [
        words.stitches(words.either(line.likely)),
        line.state,
        *([] if line.round is None else [f"round {line.round}"]),
    ]
    if line.off_by is not None:
        said.append(words.said(line.off_by))
    return f"{line.kept:%Y-%m-%d}  {', '.join(said)}" + (f"  {printable(named)}" if named else "")


def _listed_data(line: Listed) -> dict[str, object]:
    """The same as plain data, all of it but the small picture."""
    data = {name: value for name, value in vars(line).items() if name != "small"}
    return data | {"kept": line.kept.isoformat(), "changed": line.changed.isoformat()}
