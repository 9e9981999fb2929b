"""``python -m counter.synthetic FOLDER``: render photos without the rest of the program."""

from __future__ import annotations

import argparse
import sys
import time

from counter.synthetic.catalogue import render_samples
from counter.synthetic.dataset import SETS, render_set


def main(argv: list[str] | None = None) -> int:
    """Render a set, or the samples; returns 0, or 2 where it can't."""
    parser = argparse.ArgumentParser(
        prog="python -m counter.synthetic", description="Render photos of crochet that own their truth."
    )
    parser.add_argument("folder", help="where the photos go; those there already are kept")
    parser.add_argument(
        "--samples-only", action="store_true", help="write the program's own sample photos instead of a set"
    )
    parser.add_argument("--count", type=int, default=150, help="how many photos (150)")
    parser.add_argument("--seed", type=int, default=1, help="first seed (1)")
    parser.add_argument("--difficulty", default="mixed", choices=SETS, help="kind of set (mixed); wide is for training")
    parser.add_argument("--long-side", type=int, help="longer side in pixels")
    parser.add_argument("--samples", type=int, default=12, help="paths for each pixel (12)")
    parser.add_argument("--workers", type=int, default=1, help="processes side by side (1)")
    options = parser.parse_args(argv)
    start = time.monotonic()

    def progress(done: int, total: int) -> None:
        print(f"{done} of {total} photos, {time.monotonic() - start:.0f} s", file=sys.stderr, flush=True)

    try:
        if options.samples_only:
            render_samples(options.folder, long_side=options.long_side or 1000, progress=progress)
        else:
            render_set(
                options.folder,
                options.count,
                options.seed,
                difficulty=options.difficulty,
                long_side=options.long_side,
                samples=options.samples,
                workers=options.workers,
                progress=progress,
            )
    except (ImportError, OSError, ValueError) as error:
        print(error, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
