"""The command line.

Exit codes of `rimtally count`:
  0  sure, and it agrees with the expected total or none was given
  1  sure, and short or over
  2  bad use: nothing was counted, or a picture could not be written
  3  not sure, or the comparison can't be made
  4  refused: no such file, no picture, or nothing in it to count
  5  the program broke on a photo (a fault of the program: please report it)
With several photos the highest code of all of them.
The other commands: 0 done, 2 bad use, 5 broke on a photo. Stopped with Ctrl-C: 130.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path

from counter import audit, count
from counter.answer import Count, Refusal, clock_position
from counter.overlay import doubt_letter, draw_marks, picture_format, save_picture
from counter.page import command
from counter.photo import read_photo
from counter.plots import draw_plots
from counter.say import CAUTION, either, percent
from counter.verdict import Verdict, check_expected, compare

__all__ = ["FIELDS", "main"]

#: Fields of one photo's answer, in the order in which they are printed; with an
#: expected total "verdict" and "off_by" follow.
FIELDS = (
    *("photo", "state", "stitches", "probability", "posterior", "likely", "rounds", "centre", "marks", "doubts"),
    *("in_progress", "reason", "hint", "seconds"),
)
AGREES, MISMATCH, BAD_USE, NOT_SURE, REFUSED, BROKE = range(6)
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
        "--marked",
        metavar="OUT",
        help="write the marked picture to OUT, which ends in .jpg or .png; or, for several photos, into the folder "
        "OUT (made if it is missing) as NAME-marked.jpg",
    )
    one.add_argument("--json", action="store_true", help="print one JSON object a photo, one a line")
    one.add_argument("--left-handed", action="store_true", help="number the marks clockwise")
    one.set_defaults(run=_count)

    many = commands.add_parser("evaluate", help="count photos whose truth is known and measure how well")
    many.add_argument("folder", metavar="FOLDER", help="holds NAME.jpg and NAME.json side by side")
    many.add_argument("--json", metavar="FILE", help="write all measures and a row a photo there")
    many.add_argument(
        "--plots", metavar="DIR", help="write reliability diagram and risk-coverage curve there (needs the extra 'plots')"
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
    render.add_argument("--long-side", type=int, metavar="PIXELS", help="of each photo (default: drawn from 1000 to 1280)")
    render.set_defaults(run=_render)

    page = commands.add_parser("page", help="open the page in a browser")
    page.add_argument("--port", type=_port, metavar="N", help="port to serve it at (default: first free from 8501)")
    page.add_argument("--no-browser", action="store_true", help="serve it without opening a browser")
    page.set_defaults(run=_page)
    return parser


def _expected(text: str) -> int:
    try:
        return check_expected(int(text) if text.strip().lstrip("+-").isdigit() else text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _port(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"a port is a whole number from 1 to 65535, not {text!r}")
    return int(text)


def _count(options: argparse.Namespace) -> int:
    outs = _marked_paths(options.marked, options.photos)
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
            print(f"rimtally: {_shown(name)}: the program broke on this photo ({what}); please report it", file=sys.stderr)
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
    answer = photo if isinstance(photo, Refusal) else count.count_photo(photo, left_handed=options.left_handed)
    seconds = time.perf_counter() - began
    verdict = None
    if isinstance(answer, Count) and options.expected is not None:
        verdict = compare(answer, options.expected)
    if out is not None and isinstance(answer, Count):
        _save(out, draw_marks(photo, answer, verdict))
    if options.json:
        row = _row(name, answer, seconds)
        if options.expected is not None:
            row["verdict"] = verdict.verdict if verdict else "can't say"
            row["off_by"] = verdict.off_by if verdict else None
        text = json.dumps(row, allow_nan=False)
    else:
        text = _sentences(name, answer, verdict)
        if out is not None and isinstance(answer, Refusal):
            text += "\n  No marked picture was written."
    return _exit_code(answer, verdict), text


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
        _write_whole(out, json.dumps(data, indent=1, allow_nan=False) + "\n")
    print(audit.as_table(result))
    if options.plots:
        try:
            written = draw_plots(result.rows, options.plots)
        except (ImportError, ValueError, OSError) as error:
            raise _BadUse(str(error)) from None
        print("", *(f"{_shown(path)} written" for path in written), sep="\n")
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
    print(f"{len(photos)} photos with truth in {_shown(options.folder)}")
    return AGREES


def _page(options: argparse.Namespace) -> int:
    return subprocess.call(command(options.port, headless=options.no_browser))


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
        text = f"{done + 1} of {total}: {_shown(name)}{left}"
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
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


def _shown(name: str) -> str:
    """A file's name as it can be printed: bytes that are no text and control codes are replaced."""
    text = os.fsencode(name).decode("utf-8", "replace")
    return "".join(c if c.isprintable() else "?" for c in text)


def _exit_code(answer: Count | Refusal, verdict: Verdict | None) -> int:
    if isinstance(answer, Refusal):
        return REFUSED
    if not answer.sure or verdict and verdict.off_by is None:
        return NOT_SURE
    return MISMATCH if verdict and verdict.off_by else AGREES


def _marked_paths(marked: str | None, photos: Sequence[str]) -> list[Path | None]:
    """Where the marked picture of each photo goes; all is checked before anything is counted."""
    if marked is None:
        return [None] * len(photos)
    out = Path(marked)
    if out.suffix and not out.is_dir():
        if len(photos) > 1:
            raise _BadUse(f"{_shown(marked)}: several marked pictures don't fit into one file; give --marked a folder")
        try:
            picture_format(out)
        except ValueError as error:
            raise _BadUse(str(error)) from None
        if not out.parent.is_dir():
            raise _BadUse(f"{_shown(marked)} can't be written: there is no folder {_shown(str(out.parent))}")
        paths = [out]
    else:
        try:
            out.mkdir(exist_ok=True)
        except OSError as error:
            raise _BadUse(f"{_shown(marked)} can't be made a folder: {error.strerror}") from None
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
            raise _BadUse(f"{_shown(str(path))}: the marked picture would overwrite a photo; choose another name")
    return paths


def _save(path: Path, pixels) -> None:
    try:
        save_picture(path, pixels)
    except OSError as error:
        raise _BadUse(f"{_shown(str(path))} can't be written: {error.strerror or error}") from None


def _write_whole(path: Path, text: str) -> None:
    """Write a text file whole or not at all."""
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".json")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
            os.chmod(name, 0o644)
            os.replace(name, path)
        except BaseException:
            os.unlink(name)
            raise
    except OSError as error:
        raise _BadUse(f"{_shown(str(path))} can't be written: {error.strerror or error}") from None


def _row(name: str, answer: Count | Refusal, seconds: float) -> dict:
    """One photo's answer as plain data."""
    if isinstance(answer, Refusal):
        values = dict.fromkeys(FIELDS) | {"posterior": {}, "likely": [], "marks": [], "doubts": []}
        values |= {"photo": name, "state": "refused", "reason": answer.reason, "hint": answer.hint}
        return values | {"seconds": round(seconds, 3)}
    progress = answer.in_progress
    return {
        "photo": name,
        "state": answer.state,
        "stitches": answer.stitches,
        "probability": round(float(answer.probability), 6),
        "posterior": {str(n): round(float(p), 6) for n, p in sorted(answer.posterior.items())},
        "likely": [int(n) for n in answer.likely],
        "rounds": answer.rounds,
        "centre": _pair(answer.centre),
        "marks": [_pair(mark) for mark in answer.marks],
        "doubts": [{"mark": d.mark, "at": _pair(d.at), "why": d.why} for d in answer.doubts],
        "in_progress": progress and {"done": progress.done, "left": progress.left, "loop": _pair(progress.loop)},
        "reason": answer.reason,
        "hint": "" if answer.sure else CAUTION,
        "seconds": round(seconds, 3),
    }


def _pair(place: Sequence[float]) -> list[float]:
    return [round(float(v), 1) for v in place]


def _sentences(name: str, answer: Count | Refusal, verdict: Verdict | None) -> str:
    """One photo's answer for a person."""
    if isinstance(answer, Refusal):
        return f"{_shown(name)}: refused. {answer.reason} {answer.hint}"
    numbers = either(answer.likely)
    rounds = f", {answer.rounds} round{'' if answer.rounds == 1 else 's'}" if answer.rounds else ""
    chance = percent(answer.probability) + ("" if answer.sure else f" for {answer.stitches}")
    lines = [f"{_shown(name)}: {numbers} stitch{'' if numbers == '1' else 'es'}{rounds}. {answer.state.capitalize()} ({chance})."]
    if answer.in_progress:
        lines.append(f"  In the round on the hook: {answer.in_progress.done} made, {answer.in_progress.left} left.")
    if verdict:
        said = "" if verdict.verdict in verdict.words else f"{verdict.verdict.capitalize()}. "
        lines.append(f"  {said}{verdict.words}")
    elif not answer.sure:
        lines.append(f"  {answer.reason} {CAUTION}")
    for index, doubt in enumerate(answer.doubts):
        where = clock_position(doubt.at, answer.centre)
        lines.append(f"  {doubt_letter(index)}  near {where}, at mark {doubt.mark}: {doubt.why}")
    return "\n".join(lines)
