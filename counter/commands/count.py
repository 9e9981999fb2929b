"""Counts photos."""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Sequence
from pathlib import Path

from counter.basics.answer import Count, Refusal
from counter.basics.photo import Photo
from counter.basics.text import shown
from counter.commands.common import AGREES, BROKE, MISMATCH, NOT_SURE, REFUSED, BadUse, Progress, written
from counter.commands.plan import choices, plan_of, total, whole_number, with_rounds
from counter.comparing.check import Check
from counter.comparing.verdict import check_expected
from counter.examination import Examination, examine, examine_every
from counter.lengths.scale import COINS, NoScale, Scale, read_length, scale_from_diameter
from counter.lengths.sizing import Sizing, size_up
from counter.showing import summary
from counter.showing.overlay import draw_marks, picture_format, save_picture

__all__ = ["arguments", "run"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("photos", nargs="+", metavar="PHOTO", help="JPEG, PNG, WebP, TIFF or HEIC")
    parser.add_argument(
        "--expected", type=_expected, metavar="N", help="what the finished round should hold, 1 to 1000"
    )
    parser.add_argument(
        "--plan", metavar="FILE", help="compare with the written rounds in FILE (- reads them from the input)"
    )
    parser.add_argument(
        "--round",
        type=whole_number,
        metavar="K",
        help="which round of the plan it is (default: the one that fits best)",
    )
    choices(parser)
    parser.add_argument(
        "--twin",
        action="store_true",
        help="the piece must match another one (an arm, a leg, an ear), or its colours line up with the count",
    )
    parser.add_argument(
        "--twin-holds",
        type=_expected,
        metavar="N",
        help="how many stitches the same round of its twin holds; says --twin, too",
    )
    parser.add_argument(
        "--finished", action="store_true", help="the round is finished, so that what it lacks is not still to come"
    )
    parser.add_argument(
        "--since", type=whole_number, default=0, metavar="N", help="rounds that were worked after this one (default: 0)"
    )
    parser.add_argument(
        "--gauge", action="store_true", help="look for a card, a coin or the printed mat, and say size and gauge"
    )
    parser.add_argument(
        "--size",
        type=_length,
        metavar="LENGTH",
        help="how wide the piece is (85 mm, 8.5 cm, 3 3/8 in), for size and gauge",
    )
    parser.add_argument(
        "--coin", choices=tuple(COINS), help="which euro coin lies beside the piece, for size and gauge"
    )
    parser.add_argument(
        "--marked",
        metavar="OUT",
        help="write the marked picture to OUT, which ends in .jpg or .png; or, for several photos, into the folder "
        "OUT (made if it is missing) as NAME-marked.jpg",
    )
    meant = parser.add_mutually_exclusive_group()
    meant.add_argument(
        "--around",
        type=_ring,
        metavar="X,Y,R",
        help="which piece is meant: a ring round it, by its middle and radius in pixels of the upright photo",
    )
    meant.add_argument(
        "--which",
        type=whole_number,
        metavar="K",
        help="which piece is meant where there are several: the K-th from the left",
    )
    meant.add_argument("--every-piece", action="store_true", help="count every piece of a photo, from left to right")
    parser.add_argument("--json", action="store_true", help="print one JSON object a photo, one a line")
    parser.add_argument("--left-handed", action="store_true", help="number the marks clockwise")


def _expected(text: str) -> int:
    try:
        return check_expected(int(text) if text.strip().lstrip("+-").isdigit() else text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _ring(text: str) -> tuple[float, float, float]:
    try:
        x, y, radius = (float(part) for part in text.split(","))
    except ValueError:
        radius = math.nan
    if not (radius >= 4 and math.isfinite(x) and math.isfinite(y) and math.isfinite(radius)):
        raise argparse.ArgumentTypeError(f"{shown(text)} is not X,Y,R: three numbers in pixels, R at least 4")
    return x, y, radius


def _length(text: str) -> float:
    try:
        return read_length(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def run(options: argparse.Namespace) -> int:
    """Count photos; gives the exit code."""
    outs = _marked_paths(options.marked, options.photos)
    options.gauge = options.gauge or options.coin is not None
    if options.plan is not None:
        if options.expected is not None:
            raise BadUse("give --expected or --plan, not both")
        name = options.plan
        options.plan = with_rounds(plan_of(name, options), name)
        if len(options.plan.pieces) > 1 and options.plan.piece is None:
            pieces = ", ".join(piece.name for piece in options.plan.pieces)
            raise BadUse(f"{shown(name)} holds several pieces: say which with --piece ({pieces})")
        if options.round is not None:
            total(options.plan, options.round)
    elif options.round is not None:
        raise BadUse("--round needs --plan")
    progress = Progress()
    worst = AGREES
    for done, (name, out) in enumerate(zip(options.photos, outs, strict=True)):
        if len(options.photos) > 1:
            progress(done, len(options.photos), name)
        try:
            code, text = _count_one(name, out, options)
        except Exception as error:  # BadUse passes; a fault of the program is one line, and the other photos go on
            if isinstance(error, BadUse):
                raise
            progress.clear()
            what = f"{type(error).__name__}: {error}"
            print(
                f"rimtally: {shown(name)}: the program broke on this photo ({what}); please report it, with what "
                "'rimtally about' says",
                file=sys.stderr,
            )
            code, text = BROKE, None
        worst = max(worst, code)
        progress.clear()
        if text is not None:
            print(text, flush=True)
    return worst


def _count_one(name: str, out: Path | None, options: argparse.Namespace) -> tuple[int, str]:
    """Exit code and text of one photo; writes its marked picture."""
    wanted = {
        "left_handed": options.left_handed,
        "lengths": options.gauge,
        "coin": options.coin,
        "expected": options.expected,
        "plan": options.plan,
        "round_number": options.round,
        "twin": options.twin,
        "since": options.since,
        "uk": options.uk,
        "finished": options.finished or None,
        "twin_holds": options.twin_holds,
        "chain_counts": options.chain_counts,
    }
    if not options.every_piece:
        try:
            done = examine(name, around=options.around, number=options.which, **wanted)
        except ValueError as error:
            if options.around is None:
                raise
            raise BadUse(f"{shown(name)}: {error}") from None
        return _told(name, done, out, options)
    pieces = examine_every(name, **wanted)
    if len(pieces) == 1:
        return _told(name, pieces[0], out, options)
    told = [
        _told(name, done, out and out.with_name(f"{out.stem}-{which}{out.suffix}"), options)
        for which, done in enumerate(pieces, start=1)
    ]
    worst = max(code for code, _ in told)
    if options.json:
        rows = [json.loads(text) for _, text in told]
        return worst, json.dumps({"photo": name, "state": "several pieces", "pieces": rows}, allow_nan=False)
    return worst, "\n".join(f"{which}: {text}" for which, (_, text) in enumerate(told, start=1))


def _told(name: str, done: Examination, out: Path | None, options: argparse.Namespace) -> tuple[int, str]:
    """Exit code and text of what came out for one piece; writes its marked picture."""
    compared = options.expected is not None or options.plan is not None
    answer, found = done.answer, done.check
    sizing = None
    if isinstance(answer, Count):
        photo, count, held = done.counted()
        if options.gauge or options.size:
            sizing = _sizing(photo, count, done.scale, held, options)
        if out is not None:
            written(out, lambda: save_picture(out, draw_marks(photo, count, held.verdict)))
    if options.json:
        row = summary.answer_data(name, answer, done.seconds)
        if compared:
            row |= summary.check_data(found)
        if options.gauge or options.size:
            row["gauge"] = summary.sizing_data(sizing)
        text = json.dumps(row, allow_nan=False)
    else:
        text = summary.answer_words(name, answer)
        if found and isinstance(answer, Count):
            told = [f"  {line}" for line in sizing.words] if sizing else []
            text = "\n".join(filter(None, (text, summary.check_words(answer, found), *told)))
        elif out is not None:
            text += "\n  No marked picture was written."
    return _exit_code(answer, found, compared), text


def _sizing(
    photo: Photo, answer: Count, scale: Scale | NoScale | None, found: Check, options: argparse.Namespace
) -> Sizing:
    """Size and gauge, in the stitch of the round that was compared with."""
    try:
        if options.size:
            scale = scale_from_diameter(answer, options.size)
        if scale is None:
            raise ValueError("no scale was looked for")
        rounds = options.round
        stitch = found.compared.stitch if found.compared else "sc"
        return size_up(photo, answer, scale, rounds=rounds, stitch=stitch, uk=options.uk)
    except ValueError as error:
        raise BadUse(str(error)) from None


def _exit_code(answer: Count | Refusal, found: Check | None, compared: bool) -> int:
    if isinstance(answer, Refusal):
        return REFUSED
    off = found.verdict.off_by if found and found.verdict else None
    if not answer.sure or compared and off is None:
        return NOT_SURE
    return MISMATCH if off else AGREES


def _marked_paths(marked: str | None, photos: Sequence[str]) -> Sequence[Path | None]:
    """Where the marked picture of each photo goes; all is checked before anything is counted."""
    if marked is None:
        return [None] * len(photos)
    out = Path(marked)
    if out.suffix and not out.is_dir():
        if len(photos) > 1:
            raise BadUse(f"{shown(marked)}: several marked pictures don't fit into one file; give --marked a folder")
        try:
            picture_format(out)
        except ValueError as error:
            raise BadUse(str(error)) from None
        if not out.parent.is_dir():
            raise BadUse(f"{shown(marked)} can't be written: there is no folder {shown(str(out.parent))}")
        paths = [out]
    else:
        try:
            out.mkdir(exist_ok=True)
        except OSError as error:
            raise BadUse(f"{shown(marked)} can't be made a folder: {error.strerror}") from None
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
            raise BadUse(f"{shown(str(path))}: the marked picture would overwrite a photo; choose another name")
    return paths
