"""The command line.

Exit codes of `rimtally count`:
  0  sure, and it agrees with the expected total or none was given
  1  sure, and short or over
  2  bad use: nothing was counted, or a picture could not be written
  3  not sure, or the comparison can't be made
  4  refused: no such file, no picture, or nothing in it to count
  5  the program broke on a photo (a fault of the program: please report it)
With several photos the highest code of all of them.
The other commands: 0 done, 2 bad use or it could not be done, 5 broke on a photo. Stopped with Ctrl-C: 130.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import TypeVar

from counter.basics import words
from counter.basics.answer import Count, Refusal
from counter.basics.files import whole, write_whole
from counter.basics.photo import Photo, read_photo
from counter.comparing.check import Check, check, total_of
from counter.comparing.verdict import MOST_EXPECTED, check_expected
from counter.counting import count
from counter.evaluation import evaluate as audit
from counter.evaluation.plots import draw_plots
from counter.lengths.mat import PAPERS, write_mat
from counter.lengths.scale import COINS, NoScale, Scale, count_and_scale, mat_middle, read_length, scale_from_diameter
from counter.lengths.sizing import Sizing, size_up
from counter.lengths.twins import compare_pieces
from counter.notebook.store import MOST_ENTRIES, Listed, Notebook, NotebookError, is_this_machine, own_path
from counter.page import command
from counter.plan import Plan, plan_data, read_plan, write_plan
from counter.showing import tell
from counter.showing.overlay import draw_marks, picture_format, save_picture
from counter.showing.tell import printable, shown

__all__ = ["main"]

T = TypeVar("T")
AGREES, MISMATCH, BAD_USE, NOT_SURE, REFUSED, BROKE = range(6)
#: Most bytes of a plan that are read; a reader of plans refuses so many.
MOST_TEXT = 2_000_000
#: Exit codes of a process that was stopped: 128 and the number of the signal (common practice).
INTERRUPTED, PIPE_CLOSED = 130, 141
#: Seconds between two lines of progress where they can't overwrite each other.
PATIENCE = 5.0


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments without the program's name; those of the process by default.

    Returns
    -------
    int
        The exit code, see the module's text.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a name that the terminal can't show is no reason to stop
            stream.reconfigure(errors="backslashreplace")
    try:
        options = _parser().parse_args(argv)
        code = options.run(options)
        sys.stdout.flush()
        return code
    except _BadUse as error:
        print(f"rimtally: {error}", file=sys.stderr)
        return BAD_USE
    except KeyboardInterrupt:
        print("\nrimtally: stopped", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read the answers wants no more. Python flushes once more on its way out: into nothing.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PIPE_CLOSED


class _BadUse(Exception):
    """A request that can't be carried out; the text says what to do."""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> None:
        raise _BadUse(f"{message} (try: {self.prog} --help)")


def _parser() -> argparse.ArgumentParser:
    codes = __doc__.partition("\n\n")[2]
    shape = argparse.RawDescriptionHelpFormatter
    parser = _Parser(
        prog="rimtally",
        description="Counts the stitches around the rim of a crocheted round from a photo.",
        epilog=codes,
        formatter_class=shape,
    )
    parser.add_argument("--version", action="version", version=f"rimtally {version('rimtally')}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    one = commands.add_parser("count", help="count photos", epilog=codes, formatter_class=shape)
    one.add_argument("photos", nargs="+", metavar="PHOTO", help="JPEG, PNG, WebP, TIFF or HEIC")
    one.add_argument("--expected", type=_expected, metavar="N", help="what the finished round should hold, 1 to 1000")
    one.add_argument(
        "--plan", metavar="FILE", help="compare with the written rounds in FILE (- reads them from the input)"
    )
    one.add_argument(
        "--round", type=_whole, metavar="K", help="which round of the plan it is (default: the one that fits best)"
    )
    one.add_argument("--uk", action="store_true", help="the plan is written in UK terms")
    one.add_argument(
        "--twin",
        action="store_true",
        help="the piece must match another one (an arm, a leg, an ear), or its colours line up with the count",
    )
    one.add_argument(
        "--since", type=_whole, default=0, metavar="N", help="rounds that were worked after this one (default: 0)"
    )
    one.add_argument(
        "--gauge", action="store_true", help="look for a card, a coin or the printed mat, and say size and gauge"
    )
    one.add_argument(
        "--size",
        type=_length,
        metavar="LENGTH",
        help="how wide the piece is (85 mm, 8.5 cm, 3 3/8 in), for size and gauge",
    )
    one.add_argument("--coin", choices=tuple(COINS), help="which euro coin lies beside the piece, for size and gauge")
    one.add_argument(
        "--marked",
        metavar="OUT",
        help="write the marked picture to OUT, which ends in .jpg or .png; or, for several photos, into the folder "
        "OUT (made if it is missing) as NAME-marked.jpg",
    )
    one.add_argument("--json", action="store_true", help="print one JSON object a photo, one a line")
    one.add_argument("--left-handed", action="store_true", help="number the marks clockwise")
    one.set_defaults(run=_count)

    pair = commands.add_parser("twins", help="compare two pieces that must match", epilog=codes, formatter_class=shape)
    pair.add_argument("first", metavar="FIRST", help="photo of one piece")
    pair.add_argument("second", metavar="SECOND", help="photo of the other")
    pair.add_argument("--json", action="store_true", help="print one JSON object")
    pair.add_argument("--left-handed", action="store_true", help="number the marks clockwise")
    pair.set_defaults(run=_twins)

    plan = commands.add_parser("plan", help="read written rounds and check them")
    plan.add_argument(
        "plan",
        metavar="FILE",
        help="a text file with written rounds, a list of totals or a growth rule; - reads the input",
    )
    plan.add_argument("--uk", action="store_true", help="the plan is written in UK terms")
    plan.add_argument(
        "--rounds", type=_whole, default=12, metavar="N", help="how many rounds a growth rule makes (default: 12)"
    )
    plan.add_argument("--round", type=_whole, metavar="K", help="print what this round should hold, and nothing else")
    plan.add_argument("--json", action="store_true", help="print one JSON object")
    plan.set_defaults(run=_plan)

    mat = commands.add_parser("mat", help="write the mat to print and to photograph pieces on, for size and gauge")
    mat.add_argument("out", metavar="OUT.pdf", help="where to")
    mat.add_argument("--paper", choices=tuple(PAPERS), default="A4", help="default: A4")
    mat.set_defaults(run=_mat)

    book = commands.add_parser("notebook", help="take your notebook away as a zip, take one in, or list it")
    which = argparse.ArgumentParser(add_help=False)
    which.add_argument(
        "--notebook",
        metavar="FILE",
        help="another notebook than yours, which is the one that the page keeps on this machine",
    )
    does = book.add_subparsers(required=True, metavar="WHAT")
    away = does.add_parser("export", parents=[which], help="write all of it into one zip, of any size")
    away.add_argument("out", metavar="OUT.zip", help="where to; a file that is there already is left as it is")
    away.set_defaults(run=_export)
    taken = does.add_parser(
        "import", parents=[which], help="take in what was exported, all of it or nothing; nothing is overwritten"
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

    many = commands.add_parser("evaluate", help="count photos whose truth is known and measure how well")
    many.add_argument("folder", metavar="FOLDER", help="holds NAME.jpg and NAME.json side by side")
    many.add_argument("--json", metavar="FILE", help="write all measures and a row a photo there")
    many.add_argument(
        "--plots",
        metavar="DIR",
        help="write reliability diagram and risk-coverage curve there (needs the extra 'plots')",
    )
    many.set_defaults(run=_evaluate)

    render = commands.add_parser("render", help="make photos whose truth is known (needs the extra 'render')")
    render.add_argument("folder", metavar="FOLDER", help="where to; photos that are there already are kept")
    render.add_argument("--count", type=int, default=150, metavar="N", help="how many photos (default: 150)")
    render.add_argument("--seed", type=int, default=1, metavar="N", help="of the first photo (default: 1)")
    render.add_argument(
        "--difficulty",
        choices=("easy", "ordinary", "hard", "mixed", "wide", "right", "short", "over"),
        default="mixed",
        help="default: mixed; wide is for training; right, short, over: increase rounds without a slip, "
        "with an increase left out, with one too many",
    )
    render.add_argument(
        "--long-side", type=int, metavar="PIXELS", help="of each photo (default: drawn from 1000 to 1280)"
    )
    render.set_defaults(run=_render)

    page = commands.add_parser("page", help="open the page in a browser")
    page.add_argument("--port", type=_port, metavar="N", help="port to serve it at (default: first free from 8501)")
    page.add_argument("--no-browser", action="store_true", help="serve it without opening a browser")
    page.add_argument(
        "--public",
        type=_public,
        metavar="NAME",
        help="the name under which others reach the page, through a web server in front of it that asks for a "
        "password; nobody is then taken for the user of this machine",
    )
    page.set_defaults(run=_page)
    return parser


def _expected(text: str) -> int:
    try:
        return check_expected(int(text) if text.strip().lstrip("+-").isdigit() else text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _whole(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text) > MOST_EXPECTED:
        raise argparse.ArgumentTypeError(f"this must be a whole number from 0 to {MOST_EXPECTED}, not {text!r}")
    return int(text)


def _length(text: str) -> float:
    try:
        return read_length(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


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


def _count(options: argparse.Namespace) -> int:
    outs = _marked_paths(options.marked, options.photos)
    options.gauge = options.gauge or options.coin is not None
    if options.plan is not None:
        if options.expected is not None:
            raise _BadUse("give --expected or --plan, not both")
        options.plan = _with_rounds(_plan_of(options.plan, options.uk), options.plan)
        if options.round is not None:
            _total(options.plan, options.round)
    elif options.round is not None:
        raise _BadUse("--round needs --plan")
    progress = _Progress()
    worst = AGREES
    for done, (name, out) in enumerate(zip(options.photos, outs, strict=True)):
        if len(options.photos) > 1:
            progress(done, len(options.photos), name)
        try:
            code, text = _count_one(name, out, options)
        except Exception as error:  # _BadUse passes; a fault of the program is one line, and the other photos go on
            if isinstance(error, _BadUse):
                raise
            progress.clear()
            what = f"{type(error).__name__}: {error}"
            print(
                f"rimtally: {shown(name)}: the program broke on this photo ({what}); please report it", file=sys.stderr
            )
            code, text = BROKE, None
        worst = max(worst, code)
        progress.clear()
        if text is not None:
            print(text, flush=True)
    return worst


def _count_one(name: str, out: Path | None, options: argparse.Namespace) -> tuple[int, str]:
    """Exit code and text of one photo; writes its marked picture."""
    began = time.perf_counter()
    photo = read_photo(name)
    scale = None
    if isinstance(photo, Refusal):
        answer = photo
    elif options.gauge:
        answer, scale = count_and_scale(photo, left_handed=options.left_handed, coin=options.coin)
    else:
        answer = _counted(photo, options.left_handed)
    seconds = time.perf_counter() - began
    compared = options.expected is not None or options.plan is not None
    found = None
    if isinstance(answer, Count):
        found = check(
            answer,
            expected=options.expected,
            plan=options.plan,
            round_number=options.round,
            twin=options.twin,
            since=options.since,
            uk=options.uk,
        )
    sizing = None
    if isinstance(answer, Count) and (options.gauge or options.size):
        sizing = _sizing(photo, answer, scale, found, options)
    if out is not None and isinstance(answer, Count):
        _written(out, lambda: save_picture(out, draw_marks(photo, answer, found.verdict)))
    if options.json:
        row = tell.answer_data(name, answer, seconds)
        if compared:
            row |= tell.check_data(found)
        if options.gauge or options.size:
            row["gauge"] = tell.sizing_data(sizing)
        text = json.dumps(row, allow_nan=False)
    else:
        text = tell.answer_words(name, answer)
        if found:
            told = [f"  {line}" for line in sizing.words] if sizing else []
            text = "\n".join(filter(None, (text, tell.check_words(answer, found), *told)))
        elif out is not None:
            text += "\n  No marked picture was written."
    return _exit_code(answer, found, compared), text


def _counted(photo: Photo, left_handed: bool) -> Count | Refusal:
    """The count of a photo; on the mat, in its white middle."""
    if mat_middle(photo) is None:
        return count.count_photo(photo, left_handed=left_handed)
    return count_and_scale(photo, left_handed=left_handed)[0]


def _sizing(
    photo: Photo, answer: Count, scale: Scale | NoScale | None, found: Check, options: argparse.Namespace
) -> Sizing:
    """Size and gauge, in the stitch of the round that was compared with."""
    try:
        if options.size:
            scale = scale_from_diameter(answer, options.size)
        rounds = options.round
        stitch = found.compared.stitch if found.compared else "sc"
        return size_up(photo, answer, scale, rounds=rounds, stitch=stitch, uk=options.uk)
    except ValueError as error:
        raise _BadUse(str(error)) from None


def _plan_of(name: str, uk: bool, rounds: int = 12) -> Plan:
    """The plan in a file, or in the input."""
    try:
        data = sys.stdin.buffer.read(MOST_TEXT + 1) if name == "-" else _start_of(name)
    except OSError as error:
        raise _BadUse(f"{shown(name)} can't be read: {error.strerror or error}") from None
    return read_plan(data.decode("utf-8-sig", "replace"), uk=uk, rounds=rounds)


def _with_rounds(plan: Plan, name: str) -> Plan:
    """The same plan; one without rounds is bad use."""
    if not plan.rounds:
        told = plan.findings[0]
        raise _BadUse(f"{shown(name)}, line {told.line}, column {told.column}: {told.what} {told.fix}".rstrip())
    return plan


def _start_of(name: str) -> bytes:
    with open(name, "rb") as file:
        return file.read(MOST_TEXT + 1)


def _total(plan: Plan, number: int) -> int:
    try:
        return check_expected(total_of(plan, number).stitches)
    except ValueError as error:
        raise _BadUse(str(error)) from None


def _plan(options: argparse.Namespace) -> int:
    if not 1 <= options.rounds <= MOST_EXPECTED:
        raise _BadUse(f"--rounds must be 1 to {MOST_EXPECTED}")
    plan = _plan_of(options.plan, options.uk, options.rounds)
    if options.json and options.round is None:
        print(json.dumps(plan_data(plan), allow_nan=False))  # what is wrong with a plan without rounds, too
    _with_rounds(plan, options.plan)
    if options.round is not None:
        print(_total(plan, options.round))
    elif not options.json:
        print(write_plan(plan, uk=options.uk))
        print(tell.plan_words(plan, uk=options.uk))
    return AGREES


def _twins(options: argparse.Namespace) -> int:
    answers = []
    for name in (options.first, options.second):
        photo = read_photo(name)
        answer = photo if isinstance(photo, Refusal) else _counted(photo, options.left_handed)
        if isinstance(answer, Refusal):
            if options.json:
                print(json.dumps(tell.answer_data(name, answer, 0.0), allow_nan=False))
            else:
                print(tell.answer_words(name, answer))
            return REFUSED
        answers.append(answer)
    pair = compare_pieces(*answers)
    if options.json:
        rows = [
            tell.answer_data(name, own, own.seconds)
            for name, own in zip((options.first, options.second), answers, strict=True)
        ]
        print(json.dumps(tell.pair_data(pair) | {"photos": rows}, allow_nan=False))
    else:
        for name, own in zip((options.first, options.second), answers, strict=True):
            print(tell.answer_words(name, own))
        print("\n".join(f"  {line}" for line in pair.words))
    return NOT_SURE if pair.off_by is None else MISMATCH if pair.off_by or pair.rounds.verdict == "differ" else AGREES


def _mat(options: argparse.Namespace) -> int:
    try:
        write_mat(options.out, options.paper)
    except (ValueError, OSError) as error:
        raise _BadUse(str(error)) from None
    print(
        f"{shown(options.out)} written: print it at 100%, measure its 100 mm line, and photograph pieces in its middle"
    )
    return AGREES


def _export(options: argparse.Namespace) -> int:
    book, out = _notebook(options), Path(options.out)
    # What is there may be all that is left of counts that the notebook no longer has.
    if out.exists():
        raise _BadUse(f"{shown(options.out)} is there already: name another file, or move that one away")

    def write() -> int:
        with whole(out, 0o600) as file:  # as private as the notebook
            return book.export(file)

    counts = _written(out, lambda: _noted(book.path, write))
    print(f"{shown(options.out)} written: {_counts(counts)}")
    return AGREES


def _import(options: argparse.Namespace) -> int:
    if not os.path.exists(options.zip):  # before a notebook is begun
        raise _BadUse(f"{shown(options.zip)}: there is no such file")
    book, progress = _notebook(options, begin=True), _Progress()
    try:
        done = _noted(
            book.path, lambda: book.import_zip(options.zip, lambda *far: progress(*far, options.zip)), options.zip
        )
    finally:
        progress.clear()
    print(f"{_counts(done.added)} came in, {done.already} {'was' if done.already == 1 else 'were'} there already")
    return AGREES


def _list(options: argparse.Namespace) -> int:
    book = _notebook(options)
    found = _noted(book.path, lambda: book.listing(" ".join(options.words), most=MOST_ENTRIES))
    for line in found.lines:
        print(json.dumps(_listed_data(line)) if options.json else _listed_words(line))
    if not found.lines:
        print(
            "rimtally: nothing with that in it" if options.words else "rimtally: nothing is kept yet", file=sys.stderr
        )
    return AGREES


def _notebook(options: argparse.Namespace, *, begin: bool = False) -> Notebook:
    """The notebook that is asked for; a new one only where one may be begun."""
    path = own_path() if options.notebook is None else Path(options.notebook)
    if not begin and not path.exists():
        raise _BadUse(f"there is no notebook {shown(str(path))} yet: keep a count on the page, or import one")
    if options.notebook is not None and not path.parent.is_dir():
        raise _BadUse(f"{shown(str(path))} can't be begun: there is no folder {shown(str(path.parent))}")
    return _noted(path, lambda: Notebook.open(path))


def _noted(path: Path, do: Callable[[], T], source: str | None = None) -> T:
    """What is done with the notebook, or with what it takes in; its trouble is one line that names the file."""
    try:
        return do()
    except NotebookError as error:
        raise _BadUse(f"{shown(source if error.code == 'import' else str(path))}: {error}") from None


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


def _listed_data(line: Listed) -> dict:
    """The same as plain data, all of it but the small picture."""
    data = {name: value for name, value in vars(line).items() if name != "small"}
    return data | {"kept": line.kept.isoformat(), "changed": line.changed.isoformat()}


def _evaluate(options: argparse.Namespace) -> int:
    folder = Path(options.folder)
    if options.json:
        out = Path(options.json)
        if not out.parent.is_dir() or out.is_dir():
            raise _BadUse(f"{out} can't be written: name a file in a folder that exists")
        if out.exists() and any(out.with_suffix(ending).exists() for ending in audit.PHOTOS):
            raise _BadUse(f"{out} looks like the truth file of a photo; choose another name")
    progress = _Progress()
    try:
        result = audit.evaluate(folder, progress)
    except ValueError as error:
        raise _BadUse(str(error)) from None
    finally:
        progress.clear()
    if options.json:
        known = {name: {"unit": unit, "what": what} for name, (unit, what) in audit.MEASURES.items()}
        data = {"summary": result.summary, "measures": known, "left_out": result.left_out, "photos": result.rows}
        text = json.dumps(data, indent=1, allow_nan=False) + "\n"
        _written(out, lambda: write_whole(out, text.encode()))
    print(audit.as_table(result))
    if options.plots:
        try:
            written = draw_plots(result.rows, options.plots)
        except (ImportError, ValueError, OSError) as error:
            raise _BadUse(str(error)) from None
        print("", *(f"{shown(path)} written" for path in written), sep="\n")
    return BROKE if result.summary["overall"]["crashed"] else AGREES


def _render(options: argparse.Namespace) -> int:
    from counter.synthetic import render_set  # draws in geometry that the other commands don't need

    progress = _Progress()

    def forward(done: int, total: int) -> None:
        if done < total:
            progress(done, total, "rendering")

    try:
        photos = render_set(
            options.folder,
            options.count,
            options.seed,
            difficulty=options.difficulty,
            long_side=options.long_side,
            progress=forward,
        )
    except (ImportError, ValueError, OSError) as error:
        raise _BadUse(str(error)) from None
    finally:
        progress.clear()
    print(f"{len(photos)} photos with truth in {shown(options.folder)}")
    return AGREES


def _page(options: argparse.Namespace) -> int:
    serve = command(options.port, headless=options.no_browser or options.public is not None, public=options.public)
    if os.name == "nt":  # Windows can't put one program in another's place
        return subprocess.call(serve)
    # In this one's place, so that whatever ends this process ends the server, and its memory is not held twice.
    sys.stdout.flush()
    os.execv(serve[0], serve)


class _Progress:
    """Which of many is being worked on, and about how long the rest takes, on the error stream.

    One line that overwrites itself on a terminal; elsewhere a plain line every
    few seconds, so that a log stays short.
    """

    def __init__(self) -> None:
        self.began = time.monotonic()
        self.told = -PATIENCE
        self.terminal = sys.stderr.isatty()
        self.on_screen = False

    def __call__(self, done: int, total: int, name: str) -> None:
        now = time.monotonic() - self.began
        if not self.terminal and now - self.told < PATIENCE and done + 1 < total:
            return
        self.told = now
        left = f", about {_duration(now / done * (total - done))} left" if done and now > 2 else ""
        text = f"{done + 1} of {total}: {shown(name)}{left}"
        if self.terminal:
            self.clear()
            print(text[:100], end="", file=sys.stderr, flush=True)
            self.on_screen = True
        else:
            print(text, file=sys.stderr, flush=True)

    def clear(self) -> None:
        """Take the line off the terminal."""
        if self.on_screen:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)  # ECMA-48: erase to the end of the line
            self.on_screen = False


def _duration(seconds: float) -> str:
    return (
        f"{seconds:.0f} s"
        if seconds < 90
        else f"{seconds / 60:.0f} min"
        if seconds < 5400
        else f"{seconds / 3600:.1f} h"
    )


def _exit_code(answer: Count | Refusal, found: Check | None, compared: bool) -> int:
    if isinstance(answer, Refusal):
        return REFUSED
    off = found.verdict.off_by if found.verdict else None
    if not answer.sure or compared and off is None:
        return NOT_SURE
    return MISMATCH if off else AGREES


def _marked_paths(marked: str | None, photos: Sequence[str]) -> list[Path | None]:
    """Where the marked picture of each photo goes; all is checked before anything is counted."""
    if marked is None:
        return [None] * len(photos)
    out = Path(marked)
    if out.suffix and not out.is_dir():
        if len(photos) > 1:
            raise _BadUse(f"{shown(marked)}: several marked pictures don't fit into one file; give --marked a folder")
        try:
            picture_format(out)
        except ValueError as error:
            raise _BadUse(str(error)) from None
        if not out.parent.is_dir():
            raise _BadUse(f"{shown(marked)} can't be written: there is no folder {shown(str(out.parent))}")
        paths = [out]
    else:
        try:
            out.mkdir(exist_ok=True)
        except OSError as error:
            raise _BadUse(f"{shown(marked)} can't be made a folder: {error.strerror}") from None
        paths = []
        for name in photos:  # photos of one name from several folders all get a picture
            stem, again = Path(name).stem, 1
            path = out / f"{stem}-marked.jpg"
            while path in paths:
                again += 1
                path = out / f"{stem}-marked-{again}.jpg"
            paths.append(path)
    sources = {Path(name).resolve() for name in photos}
    for path in paths:
        if path.resolve() in sources:
            raise _BadUse(f"{shown(str(path))}: the marked picture would overwrite a photo; choose another name")
    return paths


def _written(path: Path, write: Callable[[], T]) -> T:
    try:
        return write()
    except OSError as error:
        raise _BadUse(f"{shown(str(path))} can't be written: {error.strerror or error}") from None
