"""Counts photos whose truth is known and measures how well."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from counter.basics.files import write_whole
from counter.basics.text import shown
from counter.commands.common import AGREES, BROKE, BadUse, Progress, written
from counter.evaluation import evaluate
from counter.evaluation.plots import draw_plots

__all__ = ["arguments", "run"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("folder", metavar="FOLDER", help="holds NAME.jpg and NAME.json side by side")
    parser.add_argument("--json", metavar="FILE", help="write all measures and a row a photo there")
    parser.add_argument(
        "--plots",
        metavar="DIR",
        help="write reliability diagram and risk-coverage curve there (needs the extra 'plots')",
    )


def run(options: argparse.Namespace) -> int:
    """Count photos whose truth is known; gives the exit code."""
    folder = Path(options.folder)
    if options.json:
        out = Path(options.json)
        if not out.parent.is_dir() or out.is_dir():
            raise BadUse(f"{out} can't be written: name a file in a folder that exists")
        if out.exists() and any(out.with_suffix(ending).exists() for ending in evaluate.PHOTOS):
            raise BadUse(f"{out} looks like the truth file of a photo; choose another name")
    progress = Progress()
    try:
        result = evaluate.evaluate(folder, progress)
    except ValueError as error:
        raise BadUse(str(error)) from None
    finally:
        progress.clear()
    if options.json:
        known = {name: {"unit": unit, "what": what} for name, (unit, what) in evaluate.MEASURES.items()}
        data = {"summary": result.summary, "measures": known, "left_out": result.left_out, "photos": result.rows}
        text = json.dumps(data, indent=1, allow_nan=False) + "\n"
        written(out, lambda: write_whole(out, text.encode()))
    print(evaluate.as_table(result))
    if options.plots:
        try:
            drawn = draw_plots(result.rows, options.plots)
        except (ImportError, ValueError, OSError) as error:
            raise BadUse(str(error)) from None
        print("", *(f"{shown(path)} written" for path in drawn), sep="\n")
    return BROKE if result.summary["overall"]["crashed"] else AGREES
