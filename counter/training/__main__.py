"""Cut rims, train, and write weights: ``python -m counter.training --help``."""

from __future__ import annotations

import argparse
import dataclasses
import json
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


def _grounds(options: argparse.Namespace) -> None:
    from counter.training.finding.grounds import gather

    print(f"{gather(options.folder)} grounds")


def _layers(options: argparse.Namespace) -> None:
    from counter.synthetic.layer_set import render_layer_set

    render_layer_set(
        options.folder,
        options.count,
        options.seed,
        long_side=options.long_side,
        workers=options.workers,
        open_share=options.open_share,
        tag=options.tag,
        progress=_tell,
    )


def _finder(options: argparse.Namespace) -> None:
    import torch

    from counter.training.finding.store import Store, read_grounds
    from counter.training.finding.train import train_piece, train_rim

    device = "cuda" if torch.cuda.is_available() else "cpu"
    store = Store.read(options.layers.glob("*.json"), device, options.workers)
    train = train_piece if options.network == "piece" else train_rim
    network = train(store, read_grounds(options.grounds, device), options.steps)
    torch.save(network.state_dict(), options.file)


def _composed(options: argparse.Namespace) -> None:
    from counter.training.cut import cut_composed

    cut_composed(options.layers, options.grounds, options.times, options.workers, seed=options.seed).save(options.file)


def _photos(options: argparse.Namespace) -> None:
    from counter.training.compose import write_composed

    written = write_composed(
        options.layers,
        options.grounds,
        options.folder,
        every=options.every,
        seed=options.seed,
        workers=options.workers,
    )
    print(f"{written} photos")


def _calibrate(options: argparse.Namespace) -> None:
    from counter.training.calibrate import calibrate

    data = calibrate(
        options.folders,
        options.out,
        seed=options.seed,
        risk=options.risk,
        kept=options.keep,
        workers=options.workers,
        progress=_tell,
    )
    print(json.dumps({name: value for name, value in data.items() if name not in ("weights", "how")}, indent=1))


def _tell(done: int, total: int) -> None:
    if done % 20 == 0 or done == total:
        print(f"{done} of {total} photos", file=sys.stderr, flush=True)


_STEPS = {
    "grounds": _grounds,
    "layers": _layers,
    "finder": _finder,
    "composed-rims": _composed,
    "composed-photos": _photos,
    "calibrate": _calibrate,
}


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
    learn.add_argument("--steps", type=int, default=20000)
    learn.add_argument("--batch", type=int, default=128, help="bands of one step")
    learn.add_argument(
        "--start", type=Path, metavar="WEIGHTS", help="go on from these weights (.pt, or the published .onnx)"
    )
    learn.add_argument("--rate", type=float, default=3e-3, help="highest learning rate; lower with --start")
    learn.add_argument("--seed", type=int, default=1)
    ground = steps.add_parser("grounds", help="bring pictures to lay under pieces, from Debian's packages")
    ground.add_argument("folder", type=Path)
    layers = steps.add_parser("layers", help="render photos in layers")
    layers.add_argument("folder", type=Path)
    layers.add_argument("--count", type=int, default=1800)
    layers.add_argument("--seed", type=int, default=410001)
    layers.add_argument("--long-side", type=int, default=900)
    layers.add_argument("--workers", type=int, default=1)
    layers.add_argument("--open-share", type=float, help="share of pieces in progress, where more than a fifth")
    layers.add_argument("--tag", help="only the seeds whose piece is tagged so, 'splayed' for instance")
    find = steps.add_parser("finder", help="train the networks that find pieces and follow rims, on layers and grounds")
    find.add_argument("network", choices=("piece", "rim"))
    find.add_argument("layers", type=Path)
    find.add_argument("grounds", type=Path)
    find.add_argument("file", type=Path, help="where the weights go, piece.pt or rim.pt")
    find.add_argument("--steps", type=int, default=4800)
    find.add_argument("--workers", type=int, default=1, help="processes that read")
    composed = steps.add_parser("composed-rims", help="cut the rims of photos composed from layers and grounds")
    composed.add_argument("layers", type=Path)
    composed.add_argument("grounds", type=Path)
    composed.add_argument("file", type=Path, help="where they go, .npz")
    composed.add_argument("--times", type=int, default=2, help="photos from each photo in layers")
    composed.add_argument("--seed", type=int, default=0, help="of the first photo from each; the others follow")
    composed.add_argument("--workers", type=int, default=1)
    photos = steps.add_parser("composed-photos", help="write photos composed from layers and grounds, with truth files")
    photos.add_argument("layers", type=Path)
    photos.add_argument("grounds", type=Path)
    photos.add_argument("folder", type=Path, help="where they go")
    photos.add_argument("--every", type=int, default=1, metavar="N", help="only the first of N photos in layers")
    photos.add_argument("--seed", type=int, default=0, help="another seed dyes and develops them in another way")
    photos.add_argument("--workers", type=int, default=1)
    fit = steps.add_parser("calibrate", help="fit on photos with truth what a count makes of what the networks say")
    fit.add_argument("folders", type=Path, nargs="+", help="photos that trained nothing; more than one look")
    fit.add_argument("--out", type=Path, help="another file than calibration.json beside the weights")
    fit.add_argument("--keep", type=Path, metavar="DIR", help="keep there what the networks see, for the next time")
    fit.add_argument("--seed", type=int, default=1, help="of the parts that fit, set the limit and judge")
    fit.add_argument("--risk", type=float, default=0.01, help="sure and wrong, as a share of all photos")
    fit.add_argument("--workers", type=int, default=1, help="processes")
    options = parser.parse_args(arguments)
    if options.step in _STEPS:
        _STEPS[options.step](options)
        return 0
    if options.step == "rims":
        from counter.training.cut import cut_rims

        cut_rims(options.folder, _tell).save(options.file)
        return 0
    from counter.training.rims import Rims
    from counter.training.train import train

    train(
        *_split(Rims.load(options.files), 0.1),
        options.folder,
        steps=options.steps,
        batch=options.batch,
        seed=options.seed,
        start=options.start,
        rate=options.rate,
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
