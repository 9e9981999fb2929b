"""The sample photos are whole, small, and are what the catalogue says."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from counter.synthetic import scene
from counter.synthetic.catalogue import MOST_BYTES, SAMPLES

FOLDER = Path(__file__).parent.parent / "sample_images"


def test_every_photo_is_in_the_catalogue_and_the_other_way_round():
    assert (
        {p.stem for p in FOLDER.glob("*.jpg")} == {s.name for s in SAMPLES} == {p.stem for p in FOLDER.glob("*.json")}
    )


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda s: s.name)
def test_sample_is_what_its_wish_says(sample):
    photo = FOLDER / f"{sample.name}.jpg"
    truth = json.loads((FOLDER / f"{sample.name}.json").read_text())
    height, width = cv2.imread(str(photo)).shape[:2]
    assert photo.stat().st_size <= MOST_BYTES <= 400_000
    assert max(height, width) == 1000
    if sample.negative:
        assert truth["refuse"] == scene.NEGATIVES[sample.negative]
        assert truth["stitches"] is None
        return
    worked = sample.wish.worked
    assert truth["stitches"] == len(worked.rim) == len(truth["marks"])
    assert truth["round_counts"] == list(worked.totals)
    assert (truth["in_progress"] is not None) == worked.open_round
    marks = np.array(truth["marks"])
    assert np.all(marks > 0)
    assert np.all(marks < [width, height])


@pytest.mark.parametrize(
    "sample",
    # Each takes seconds; what makes them is the same for all.
    [pytest.param(s, marks=[pytest.mark.slow] if k > 1 else ()) for k, s in enumerate(SAMPLES) if not s.negative],
    ids=lambda s: s.name,
)
def test_truth_of_a_sample_is_remade_from_its_seed(sample):
    truth = json.loads((FOLDER / f"{sample.name}.json").read_text())
    again = scene.compose(sample.seed, difficulty=sample.difficulty, wish=sample.wish, long_side=1000).truth
    assert np.allclose(again["marks"], truth["marks"], atol=0.11)
    # What is hidden is known only once the scene is traced.
    assert again["tags"] == [t for t in truth["tags"] if t != "hidden rim"]
