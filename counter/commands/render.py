"""Makes photos whose truth is known."""

from __future__ import annotations

import argparse

from counter import synthetic
from counter.basics.text import shown
from counter.commands.common import AGREES, BadUse, Progress
from counter.synthetic.group import render_group

__all__ = ["arguments", "run"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("folder", metavar="FOLDER", help="where to; photos that are there already are kept")
    parser.add_argument("--count", type=int, default=150, metavar="N", help="how many photos (default: 150)")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="of the first photo (default: 1)")
    parser.add_argument(
        "--difficulty",
        choices=("easy", "ordinary", "hard", "mixed", "wide", "right", "short", "over"),
        default="mixed",
        help="default: mixed; wide is for training; right, short, over: increase rounds without a slip, "
        "with an increase left out, with one too many",
    )
    parser.add_argument(
        "--group",
        action="store_true",
        help="make a small test group for `rimtally audit` instead: 8 makers, 6 rounds each, one round that the "
        "pattern has wrong, one slip of a maker",
    )
    parser.add_argument(
        "--long-side", type=int, metavar="PIXELS", help="of each photo (default: drawn from 1000 to 1280)"
    )


def run(options: argparse.Namespace) -> int:
    """Make photos; gives the exit code."""
    progress = Progress()

    def forward(done: int, total: int) -> None:
        if done < total:
            progress(done, total, "rendering")

    try:
        if options.group:
            photos = render_group(options.folder, options.seed, long_side=options.long_side, progress=forward)
        else:
            photos = synthetic.render_set(
                options.folder,
                options.count,
                options.seed,
                difficulty=options.difficulty,
                long_side=options.long_side,
                progress=forward,
            )
    except (ImportError, ValueError, OSError) as error:
        raise BadUse(str(error)) from None
    finally:
        progress.clear()
    print(f"{len(photos)} photos with truth in {shown(options.folder)}")
    return AGREES
