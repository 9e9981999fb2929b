"""The command line.

Exit codes: 0 sure, and it agrees or nothing was expected; 1 short or over;
2 bad use; 3 not sure; 4 refused. With several photos the highest one counts.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from pathlib import Path

from counter.answer import Count, Refusal, clock_position
from counter.audit import evaluate
from counter.count import count_photo
from counter.overlay import draw_marks, save_picture
from counter.page import command
from counter.photo import read_photo
from counter.verdict import CAUTION, compare

__all__ = ["main"]

#: Fields of one photo's answer, in the order in which they are printed.
FIELDS = (
    *("photo", "state", "stitches", "probability", "posterior", "likely", "rounds", "centre", "marks", "doubts"),
    *("in_progress", "reason", "hint", "seconds"),
)
AGREES, MISMATCH, BAD_USE, NOT_SURE, REFUSED = range(5)


def main(argv: list[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    argv : list of str, optional
        Arguments without the program's name; those of the process by default.

    Returns
    -------
    int
        The exit code, see the module's text.
    """
    parser = _parser()
    try:
        options = parser.parse_args(argv)
        return options.run(options)
    except _BadUse as error:
        print(f"rimtally: {error}", file=sys.stderr)
        return BAD_USE
    except KeyboardInterrupt:
        return 130


class _BadUse(Exception):
    """A request that can't be carried out; the text says what to do."""


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="rimtally",
        description="Counts the stitches around the rim of a crocheted round from a photo.",
        epilog=__doc__.partition("\n\n")[2],
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    count = commands.add_parser("count", help="count photos", epilog=__doc__.partition("\n\n")[2])
    count.add_argument("photos", nargs="+", metavar="PHOTO", help="JPEG, PNG, WebP, TIFF or HEIC")
    count.add_argument("--expected", type=int, metavar="N", help="what the round should hold")
    count.add_argument("--marked", metavar="OUT", help="write the marked picture there; a folder for several photos")
    count.add_argument("--json", action="store_true", help="print one JSON object a photo")
    count.add_argument("--left-handed", action="store_true", help="number the marks clockwise")
    count.set_defaults(run=_count)
    evaluate = commands.add_parser("evaluate", help="count photos whose truth is known and measure how well")
    evaluate.add_argument("folder", metavar="FOLDER", help="holds NAME.jpg and NAME.json side by side")
    evaluate.add_argument("--json", metavar="FILE", help="write all measures and a row a photo there")
    evaluate.set_defaults(run=_evaluate)
    page = commands.add_parser("page", help="open the page in a browser")
    page.add_argument("--port", type=int, metavar="N", help="port to serve it at (default: first free from 8501)")
    page.add_argument("--no-browser", action="store_true", help="serve it without opening a browser")
    page.set_defaults(run=_page)
    return parser


def _count(options: argparse.Namespace) -> int:
    if options.expected is not None and not 1 <= options.expected <= 1000:
        raise _BadUse(f"--expected must be a whole number from 1 to 1000, not {options.expected}")
    worst = AGREES
    for name in options.photos:
        photo = read_photo(name)
        answer = photo if isinstance(photo, Refusal) else count_photo(photo, left_handed=options.left_handed)
        verdict = None
        if isinstance(answer, Count) and options.expected is not None:
            verdict = compare(answer, options.expected)
        if isinstance(answer, Count) and options.marked:
            _save(_marked_path(options, name), draw_marks(photo, answer))
        row = _row(name, answer)
        if options.expected is not None:
            row |= {"verdict": verdict.verdict if verdict else "can't say", "off_by": verdict.off_by if verdict else None}
        print(json.dumps(row) if options.json else _sentences(name, answer, verdict))
        worst = max(worst, _exit_code(answer, verdict))
    return worst


def _evaluate(options: argparse.Namespace) -> int:
    def progress(done: int, total: int, name: str) -> None:
        print(f"{done + 1} of {total}: {name}", file=sys.stderr)

    try:
        result = evaluate(options.folder, progress)
        if options.json:
            text = json.dumps({"summary": result.summary, "photos": result.rows}, indent=1)
            Path(options.json).write_text(text, encoding="utf-8")
    except (ValueError, OSError) as error:
        raise _BadUse(str(error)) from None
    measures = list(result.summary["overall"])
    print(f"{'':20}", *(f"{name[:10]:>10}" for name in result.summary))
    for measure in measures:
        cells = [_cell(measure, group[measure]) for group in result.summary.values()]
        print(f"{measure:20}", *(f"{cell:>10}" for cell in cells))
    return AGREES


def _page(options: argparse.Namespace) -> int:
    return subprocess.call(command(options.port, headless=options.no_browser))


def _cell(measure: str, value: float | None) -> str:
    if value is None:
        return "-"
    if isinstance(value, int):
        return str(value)
    plain = ("error", "bias", "area", "seconds", "memory")
    return f"{value:.2f}" if any(word in measure for word in plain) else f"{value:.0%}"


def _exit_code(answer: Count | Refusal, verdict) -> int:
    if isinstance(answer, Refusal):
        return REFUSED
    if not answer.sure:
        return NOT_SURE
    return MISMATCH if verdict and verdict.off_by else AGREES


def _marked_path(options: argparse.Namespace, name: str) -> Path:
    out = Path(options.marked)
    if len(options.photos) > 1 and not out.is_dir():
        raise _BadUse("with several photos --marked must name a folder that exists")
    path = out / f"{Path(name).stem}-marked.jpg" if out.is_dir() else out
    if path.resolve() == Path(name).resolve():
        raise _BadUse(f"{path}: the marked picture would overwrite the photo; choose another name")
    return path


def _save(path: Path, pixels) -> None:
    try:
        save_picture(path, pixels)
    except (ValueError, OSError) as error:
        raise _BadUse(f"the marked picture can't be written: {error}") from None


def _row(name: str, answer: Count | Refusal) -> dict:
    """One photo's answer as plain data."""
    if isinstance(answer, Refusal):
        unknown = dict.fromkeys(("stitches", "probability", "rounds", "centre", "in_progress", "seconds"))
        nothing = {"posterior": {}, "likely": [], "marks": [], "doubts": []}
        known = {"photo": name, "state": "refused", "reason": answer.reason, "hint": answer.hint}
        values = unknown | nothing | known
        return {field: values[field] for field in FIELDS}
    progress = answer.in_progress
    return {
        "photo": name,
        "state": answer.state,
        "stitches": answer.stitches,
        "probability": round(answer.probability, 4),
        "posterior": {str(n): round(p, 6) for n, p in sorted(answer.posterior.items())},
        "likely": list(answer.likely),
        "rounds": answer.rounds,
        "centre": [round(v, 1) for v in answer.centre],
        "marks": answer.marks.round(1).tolist(),
        "doubts": [{"mark": d.mark, "at": [round(v, 1) for v in d.at], "why": d.why} for d in answer.doubts],
        "in_progress": progress and {"done": progress.done, "left": progress.left, "loop": list(progress.loop)},
        "reason": answer.reason,
        "hint": "" if answer.sure else CAUTION,
        "seconds": round(answer.seconds, 3),
    }


def _sentences(name: str, answer: Count | Refusal, verdict) -> str:
    if isinstance(answer, Refusal):
        return f"{name}: refused. {answer.reason} {answer.hint}"
    numbers = " or ".join(str(n) for n in answer.likely)
    rounds = f", {answer.rounds} rounds" if answer.rounds else ""
    lines = [f"{name}: {numbers} stitches{rounds} ({answer.state}; {answer.probability:.0%} for {answer.stitches})"]
    if verdict:
        lines.append(f"  {verdict.verdict}. {verdict.words}")
    elif not answer.sure:
        lines.append(f"  {answer.reason} {CAUTION}")
    for doubt in answer.doubts:
        lines.append(f"  look at mark {doubt.mark}, near {clock_position(doubt.at, answer.centre)}: {doubt.why}")
    return "\n".join(lines)
