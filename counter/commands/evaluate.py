"""Counts photos whose truth is known and measures how well."""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

from counter.basics import words
from counter.basics.files import write_whole
from counter.basics.text import shown
from counter.commands.common import AGREES, BROKE, BadUse, Progress, written
from counter.commands.notebook import noted, opened_notebook
from counter.evaluation.evaluate import MEASURES, Evaluation, evaluate
from counter.evaluation.own import write_truth
from counter.evaluation.plots import draw_plots
from counter.evaluation.tables import as_table, side_by_side, worst
from counter.evaluation.truth import PHOTOS

__all__ = ["arguments", "run"]

#: Stands for no notebook at all, where None is one's own.
NONE = object()
#: What one's own photos are called.
OWN = "your own photos"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument(
        "folders",
        nargs="*",
        metavar="FOLDER",
        help="holds NAME.jpg and NAME.json side by side; several are set out beside each other",
    )
    parser.add_argument(
        "--notebook",
        nargs="?",
        const=None,
        default=NONE,
        metavar="FILE",
        help="the photos that you counted yourself, from your notebook or another one; nothing leaves this machine",
    )
    parser.add_argument("--json", metavar="FILE", help="write all measures and a row a photo there")
    parser.add_argument(
        "--plots",
        metavar="DIR",
        help="write reliability diagram and risk-coverage curve of all photos there (needs the extra 'plots')",
    )


def run(options: argparse.Namespace) -> int:
    """Count photos whose truth is known; gives the exit code."""
    if options.json:
        out = Path(options.json)
        if not out.parent.is_dir() or out.is_dir():
            raise BadUse(f"{out} can't be written: name a file in a folder that exists")
        if out.exists() and any(out.with_suffix(ending).exists() for ending in PHOTOS):
            raise BadUse(f"{out} looks like the truth file of a photo; choose another name")
    if not options.folders and options.notebook is NONE:
        raise BadUse("name a folder of photos with truth files, or --notebook for the photos that you counted yourself")
    results = _counted([Path(folder) for folder in options.folders])
    if options.notebook is not NONE:
        results[OWN] = _own(options)
    if options.json:
        known = {name: {"unit": unit, "what": what} for name, (unit, what) in MEASURES.items()}
        told = {name: _as_data(result) for name, result in results.items()}
        data = {"measures": known} | (next(iter(told.values())) if len(told) == 1 else {"folders": told})
        text = json.dumps(data, indent=1, allow_nan=False) + "\n"
        written(out, lambda: write_whole(out, text.encode()))
    single = next(iter(results.values()))
    several = len(results) > 1 or len({row["look"] for row in single.rows}) > 1
    print(side_by_side(results) if several else as_table(single))
    if options.plots:
        try:
            drawn = draw_plots([row for result in results.values() for row in result.rows], options.plots)
        except (ImportError, ValueError, OSError) as error:
            raise BadUse(str(error)) from None
        print("", *(f"{shown(str(path))} written" for path in drawn), sep="\n")
    return BROKE if any(result.summary["overall"]["crashed"] for result in results.values()) else AGREES


def _counted(folders: list[Path]) -> dict[str, Evaluation]:
    """Each folder's evaluation, by its name, or by its path where two have the same name."""
    names = [folder.resolve().name for folder in folders]
    names = [str(folder) if names.count(name) > 1 else name for folder, name in zip(folders, names, strict=True)]
    if len(set(names)) < len(names):
        raise BadUse("a folder is named twice")
    return {name: _evaluated(folder) for folder, name in zip(folders, names, strict=True)}


def _evaluated(folder: Path) -> Evaluation:
    progress = Progress()
    try:
        return evaluate(folder, progress)
    except ValueError as error:
        raise BadUse(str(error)) from None
    finally:
        progress.clear()


def _own(options: argparse.Namespace) -> Evaluation:
    """How well the photos are counted that a person counted."""
    book = opened_notebook(options)
    with tempfile.TemporaryDirectory() as folder:
        number, damaged = noted(book.path, lambda: write_truth(book, Path(folder)))
        for key in damaged:
            print(f"rimtally: {words.COUNT_NAMED.format(key=key)}; it is damaged and left out", file=sys.stderr)
        if not number:
            raise BadUse("none of your counts is put right or confirmed by you yet")
        return _evaluated(Path(folder))


def _as_data(result: Evaluation) -> dict[str, object]:
    """An evaluation ready for JSON."""
    looks = sorted({row["look"] for row in result.rows})
    return {
        "summary": result.summary,
        "looks": looks,
        "worst": worst(result.rows),
        "left_out": result.left_out,
        "photos": result.rows,
    }
