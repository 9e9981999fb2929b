"""How well photos are measured: ``python tests/benchmarks/scale.py FOLDER``.

Renders photos of flat pieces with the mat, a card or a coin beside them into
FOLDER (10 s a photo; those there already are kept) and says how far off the
length of a stitch is that was measured with each, along the true marks, so
that nothing but the scale is judged. ``--none FOLDER`` reads photos without
anything to measure by, in which nothing must be found.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np

from counter.basics.answer import Count
from counter.basics.photo import read_photo
from counter.counting.count import count_photo
from counter.examination import examine
from counter.lengths.scale import COINS, Scale, find_scale, to_plane
from counter.synthetic.dataset import write_photo
from counter.synthetic.pattern import random_worked
from counter.synthetic.piece import Tension, lay_out
from counter.synthetic.render import render_photo
from counter.synthetic.scene import DIFFICULTIES, SceneRequest

#: First seed; those that the reader was built with lie below.
SEED = 810001
#: Reference of each photo in turn.
TURN = ("mat", "card", "2 EUR", "two 2 EUR", "mat", "card", "1 EUR", "two 2 EUR", "card", "50 c")
#: A rim that lies higher than so many stitch widths is that of a cup, which no scale on the table fits.
FLAT = 1.5


def flat(seed: int) -> SceneRequest:
    """A piece that the middle of the mat holds, with the totals of a flat one, and its reference."""
    rng = np.random.default_rng([seed, 9])
    while True:
        worked, ratio = random_worked(rng, difficulty="easy")
        trial = lay_out(
            worked,
            Tension(width=6.0, ratio=ratio, uneven=0, drift=0, ring=0.2, face=0.7, face_spread=0.2, loose=0.8),
            rng,
        )
        if trial.tops[:, 2].max() - trial.tops[:, 2].min() < 3.0 and 15.0 < trial.rim_radius < 46.0:
            return SceneRequest(worked, reference=TURN[seed % len(TURN)])


def render(folder: Path, seed: int, count: int) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for own in range(seed, seed + count):
        if not (folder / f"{own}.json").exists():
            difficulty = DIFFICULTIES[own // len(TURN) % len(DIFFICULTIES)]
            pixels, truth = render_photo(own, difficulty=difficulty, wish=flat(own), long_side=1600)
            write_photo(folder, str(own), pixels, truth, 85)


def along(scale: Scale, marks: np.ndarray) -> float:
    """Mean distance of neighbouring marks, mm."""
    plane = to_plane(marks, scale)
    return float(np.linalg.norm(np.roll(plane, -1, axis=0) - plane, axis=1).mean())


def measure(folder: Path) -> None:
    rows = []
    for path in sorted(folder.glob("*.json")):
        truth = json.loads(path.read_text())
        reference = truth["scale"]["kind"]
        kind = reference.removeprefix("two ")
        if truth["scale"]["rim_height_mm"] > FLAT * truth["scale"]["stitch_mm"]:
            print(f"{path.stem} {reference:9} is a cup, left out")
            continue
        photo = read_photo(path.with_suffix(".jpg"))
        done = examine(photo, lengths=True, coin=kind if kind in COINS else None)
        answer, found = done.answer, done.scale
        count = answer if isinstance(answer, Count) else None
        row = {
            "photo": path.stem,
            "kind": kind,
            "class": "two coins" if reference != kind else "coin" if kind in COINS else kind,
            "counted": count is not None,
        }
        if isinstance(found, Scale):
            off = along(found, np.array(truth["marks"])) / truth["scale"]["stitch_mm"] - 1
            row |= {"found": found.kind, "off": off, "error": found.error}
            print(
                f"{path.stem} {truth['tags'][0]:9} {reference:9} {found.kind:6} off {off:+7.2%}, said {found.error:.2%}"
            )
        else:
            print(
                f"{path.stem} {truth['tags'][0]:9} {reference:9} none: {found.code}{'' if count else ', and no count'}"
            )
        rows.append(row)
    for kind in ("mat", "card", "two coins", "coin"):
        own = [row for row in rows if row["class"] == kind]
        right = [row for row in own if row.get("found") == row["kind"]]
        off = np.abs([row["off"] for row in right])
        if len(off):
            pull = np.abs([row["off"] / row["error"] for row in right])
            print(
                f"{kind:9} found {len(right)} of {len(own)}, wrong kind {sum('found' in r for r in own) - len(right)}, "
                f"counted {sum(row['counted'] for row in own)}; error of lengths: median {np.median(off):.2%}, "
                f"95% {np.percentile(off, 95):.2%}, most {off.max():.2%}; within 1.5%: {np.mean(off <= 0.015):.0%}, "
                f"within twice the error said: {np.mean(pull <= 2):.0%}"
            )


def nothing(folder: Path) -> None:
    """Photos without a reference: whatever is found is wrong, but for coins that lie there."""
    photos = sorted(folder.glob("*.jpg"))
    wrong = 0
    for path in photos:
        photo = read_photo(path)
        answer = count_photo(photo)
        count = answer if isinstance(answer, Count) else None
        for coin in (None, "2 EUR"):
            found = find_scale(photo, count, coin=coin)
            if isinstance(found, Scale):
                coins = "coin" in json.loads(path.with_suffix(".json").read_text())["tags"]
                wrong += not (coins and found.kind == "coin")
                print(f"{path.stem}: {found.kind}, coin asked for: {coin}{', and a coin is there' if coins else ''}")
    print(f"{len(photos)} photos without a reference: {wrong} wrong scales")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=45)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--none", type=Path, action="append", default=[])
    options = parser.parse_args()
    if options.count:
        render(options.folder, options.seed, options.count)
        measure(options.folder)
    for folder in options.none:
        nothing(folder)


if __name__ == "__main__":
    main()
