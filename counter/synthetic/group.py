"""A small test group: several makers, the rounds of one pattern, one error of the pattern and one of a maker."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np

from counter.synthetic.dataset import write_photo
from counter.synthetic.pattern import Worked, work
from counter.synthetic.render import render_photo
from counter.synthetic.scene import SceneRequest

__all__ = ["LOOKS", "PATTERN", "PATTERN_FILE", "render_group", "worked_by"]

#: The makers, each with a yarn and a ground of their own.
LOOKS = {
    "Bramble": (("#5b86b8",), "paper"),
    "Clover": (("#7f9f5a",), "stone"),
    "Fern": (("#b9a6d8",), "wood"),
    "Heron": (("#d0a05a",), "cloth"),
    "Juniper": (("#3f8f9b",), "paper"),
    "Moss": (("#c98f7a",), "stone"),
    "Tansy": (("#d8c04a",), "wood"),
    "Wren": (("#a65f6b",), "cloth"),
}
#: What the pattern says of each round, and what it must make.
PATTERN = (6, 12, 18, 24, 31, 36, 42)
MEANT = (6, 12, 18, 24, 30, 36, 42)
PATTERN_FILE = "pattern.txt"
#: Rounds that are photographed.
ROUNDS = tuple(range(2, 8))
#: The round that the pattern has wrong, and those who work it by its total all the same.
WRONG_ROUND, BY_THE_TOTAL = 5, ("Heron", "Wren")
#: Who is one short in which round, and goes on with it for one round more.
SLIPPED, SLIP_ROUND = "Fern", 6
#: Longer side of a photo in pixels, and most bytes of its file.
LONG_SIDE_PX, MOST_BYTES = 1000, 260_000


def worked_by(maker: str, number: int) -> Worked:
    """A maker's piece after a round.

    Parameters
    ----------
    maker : str
        A key of :data:`LOOKS`.
    number : int
        Of the round.

    Returns
    -------
    Worked
    """
    totals = list(MEANT[:number])
    if maker in BY_THE_TOTAL and number >= WRONG_ROUND:
        totals[WRONG_ROUND - 1] = PATTERN[WRONG_ROUND - 1]
    if maker == SLIPPED and number >= SLIP_ROUND:
        totals[SLIP_ROUND - 1 :] = [total - 1 for total in totals[SLIP_ROUND - 1 :]]
    return work(tuple(totals), np.random.default_rng([list(LOOKS).index(maker), 1]), stacked=False)


def render_group(
    folder: str | os.PathLike,
    seed: int = 1,
    *,
    long_side: int | None = None,
    samples: int = 12,
    progress: Callable[[int, int], None] | None = None,
) -> list[Path]:
    """Render a small test group; photos that are there already are kept.

    Parameters
    ----------
    folder : path
        Made where it does not exist. It gets a folder for each maker with
        "round 2.jpg" to "round 7.jpg", their truth beside them, and the
        pattern in "pattern.txt".
    seed : int
        Of all that is left to chance.
    long_side : int or None
        In pixels.
    samples : int
        Paths for each pixel.
    progress : callable or None
        Called with (photos done, photos in all) before the first and after each photo.

    Returns
    -------
    list of Path
    """
    if seed < 0:
        raise ValueError("seed must not be negative")
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / PATTERN_FILE).write_text(", ".join(map(str, PATTERN)) + "\n", encoding="utf-8")
    wanted = [(maker, number) for maker in LOOKS for number in ROUNDS]
    photos = []
    for done, (maker, number) in enumerate(wanted):
        if progress:
            progress(done, len(wanted))
        name = f"round {number}"
        photo = folder / maker / f"{name}.jpg"
        photos.append(photo)
        if photo.exists() and photo.with_suffix(".json").exists():
            continue
        photo.parent.mkdir(exist_ok=True)
        colours, ground = LOOKS[maker]
        wish = SceneRequest(worked_by(maker, number), "woven in", "solid", colours, ground)
        pixels, truth = render_photo(
            1000 * seed + 10 * list(LOOKS).index(maker) + number, difficulty="easy", wish=wish,
            long_side=long_side or LONG_SIDE_PX, samples=samples,
        )  # fmt: skip
        write_photo(photo.parent, name, pixels, truth, 88, MOST_BYTES)
    if progress:
        progress(len(wanted), len(wanted))
    return photos
