"""The sample photos that come with the program, each for what it shows."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from counter.synthetic.dataset import write_photo
from counter.synthetic.pattern import Worked, work
from counter.synthetic.render import render_photo
from counter.synthetic.scene import SceneRequest

__all__ = ["SAMPLES", "Sample", "render_samples"]

#: No sample is larger than this, in bytes.
MOST_BYTES = 400_000


def _worked(*plan: int, seed: int = 0, **options) -> Worked:
    return work(plan, np.random.default_rng(seed), **options)


@dataclass(frozen=True)
class Sample:
    """One sample photo.

    Parameters
    ----------
    name : str
        Of the files, without ending.
    seed : int
        Of all that is left to chance.
    difficulty : {"easy", "ordinary", "hard"}
    wish : Wish
        What it must show.
    negative : str or None
        A key of :data:`counter.synthetic.scene.NEGATIVES`.
    """

    name: str
    seed: int
    difficulty: str = "easy"
    wish: SceneRequest = field(default_factory=SceneRequest)
    negative: str | None = None


SAMPLES = (
    Sample("blue-disc", 7101, "easy", SceneRequest(_worked(6, 12, 18, 24), "fastened", "solid", ("#5b86b8",), "paper")),
    Sample(
        "green-disc-on-wood",
        7102,
        "easy",
        SceneRequest(_worked(6, 12, 18, 24, 30, 36, stacked=False), "woven in", "solid", ("#7f9f5a",), "wood"),
    ),
    Sample(
        "rose-cup",
        7103,
        "easy",
        SceneRequest(_worked(6, 12, 18, 24, 30, 30, 30, stacked=False), "woven in", "solid", ("#d993a8",), "cloth"),
    ),
    Sample(
        "round-in-progress",
        7201,
        "easy",
        SceneRequest(_worked(6, 12, 18, 24, 30, open_share=0.6), "loop", "solid", ("#e0a95a",), "stone"),
    ),
    Sample(
        "striped",
        7105,
        "ordinary",
        SceneRequest(_worked(7, 14, 21, 28, 35, 42), "fastened", "stripes", ("#2f6f73", "#e5d6b5"), "cloth"),
    ),
    Sample(
        "one-increase-missed",
        7108,
        "ordinary",
        SceneRequest(
            _worked(6, 12, 18, 24, 30, stacked=False, slips=1, seed=3), "fastened", "solid", ("#b9a6d8",), "wood"
        ),
    ),
    Sample(
        "large-hexagon",
        7107,
        "ordinary",
        SceneRequest(_worked(*range(6, 67, 6)), "woven in", "solid", ("#c9b79a",), "mat"),
    ),
    Sample(
        "many-colours-on-gingham",
        7108,
        "ordinary",
        SceneRequest(
            _worked(8, 16, 24, 32, stacked=False),
            "fastened",
            "variegated",
            ("#c8452f", "#f2c14b", "#3f8f9b"),
            "gingham",
        ),
    ),
    Sample(
        "white-on-paper",
        7202,
        "hard",
        SceneRequest(_worked(6, 12, 18, 24, 30, 36, 42), "woven in", "solid", ("#f1eee8",), "paper"),
    ),
    Sample(
        "black-under-a-lamp",
        7208,
        "hard",
        SceneRequest(_worked(6, 12, 18, 24, 30, stacked=False), "fastened", "solid", ("#1b1b1f",), "wood"),
    ),
    Sample(
        "finger-on-the-rim",
        7213,
        "hard",
        SceneRequest(
            _worked(6, 12, 18, 24, 30, 36, 42, 48), "loop", "tweed", ("#b9856a", "#f0e0c0", "#5b3a30"), "towel"
        ),
    ),
    Sample("plate", 7112, "ordinary", negative="plate"),
)


def render_samples(
    folder: str | os.PathLike,
    *,
    long_side: int = 1000,
    samples: int = 24,
    progress: Callable[[int, int], None] | None = None,
) -> list[Path]:
    """Render the sample photos with their truth.

    Parameters
    ----------
    folder : path
        Made where it does not exist; samples there are written anew.
    long_side : int
        In pixels.
    samples : int
        Paths for each pixel.
    progress : callable or None
        Called with (photos done, photos in all).

    Returns
    -------
    list of Path
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    photos = []
    for done, sample in enumerate(SAMPLES):
        if progress:
            progress(done, len(SAMPLES))
        pixels, truth = render_photo(
            sample.seed,
            difficulty=sample.difficulty,
            negative=sample.negative,
            wish=sample.wish,
            long_side=long_side,
            samples=samples,
        )
        write_photo(folder, sample.name, pixels, truth, 90, MOST_BYTES)
        photos.append(folder / f"{sample.name}.jpg")
    if progress:
        progress(len(SAMPLES), len(SAMPLES))
    return photos
