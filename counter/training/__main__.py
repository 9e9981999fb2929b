"""Cut rims, train, and write weights: ``python -m counter.training --help``."""

from __future__ import annotations

import argparse
import dataclasses
import sys
from pathlib import Path

import numpy as np


def _split(source, share: float):
    """Every tenth photo apart; all strips of a photo go to the same side."""
    numbers = np.unique(source.source, return_inverse=True)[1]
    apart = numbers % round(1 / share) == 0
    parts = []
    for chosen in (~apart, apart):
        columns = np.repeat(chosen, np.diff(source.starts))
        arrays = {name: getattr(source, name)[columns] for name in ("phase", "depth", "seen", "seam", "pair")}
        parts.append(
            dataclasses.replace(
                source,
                pixels=source.pixels[:, columns],
                starts=np.concatenate([[0], np.cumsum(np.diff(source.starts)[chosen])]),
                stitches=source.stitches[chosen],
                source=source.source[chosen],
                **arrays,
            )
        )
    return parts


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; gives the exit code."""
    parser = argparse.ArgumentParser(
        prog="python -m counter.training", description="Make the weights of the network that looks at rims."
    )
    steps = parser.add_subparsers(dest="step", required=True)
    rims = steps.add_parser("rims", help="cut the rims of photos with truth files")
    rims.add_argument("folder", type=Path)
    rims.add_argument("file", type=Path, help="where they go, .npz")
    learn = steps.add_parser("train", help="train on rims")
    learn.add_argument("files", nargs="+", type=Path, help=".npz files of rims")
    learn.add_argument("folder", type=Path, help="where weights and log go")
    learn.add_argument("--minutes", type=float, default=20.0)
    learn.add_argument("--batch", type=int, default=48, help="bands of one step")
    learn.add_argument("--start", type=Path, metavar="WEIGHTS", help="go on from these weights (.pt)")
    learn.add_argument("--rate", type=float, default=3e-3, help="highest learning rate; lower with --start")
    learn.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    if options.step == "rims":
        from counter.training.cut import cut_rims

        def tell(done, total):
            if done % 20 == 0 or done == total:
                print(f"{done} of {total} photos", file=sys.stderr, flush=True)

        cut_rims(options.folder, tell).save(options.file)
        return 0
    from counter.training.rims import Rims
    from counter.training.train import train

    train(
        *_split(Rims.load(options.files), 0.1),
        options.folder,
        minutes=options.minutes,
        batch=options.batch,
        seed=options.seed,
        start=options.start,
        rate=options.rate,
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
