import json
from pathlib import Path

import numpy as np
import pytest

from counter.basics.photo import read_photo
from counter.counting import band
from counter.counting.prediction import RimPrediction, predict
from counter.counting.width import rough_counts

SAMPLES = Path(__file__).parents[1] / "sample_images"


@pytest.mark.parametrize("name", ["blue-disc", "green-disc-on-wood", "large-hexagon", "striped", "rose-cup"])
def test_width_is_found_whatever_the_size(name, worked_samples):
    pixels = read_photo(SAMPLES / f"{name}.jpg").pixels
    stitches = json.loads((SAMPLES / f"{name}.json").read_text(encoding="utf-8"))["stitches"]
    found = worked_samples[name]
    piece, centre = found.piece, found.centre
    assert rough_counts(pixels, piece, centre)[0].stitches == pytest.approx(stitches, rel=0.18)
    # From a look at a number that is a quarter off, the right one is found.
    for factor in (0.8, 1.25):
        seen = predict(pixels, piece, centre, round(stitches * factor))
        assert seen.stitches_by_width == pytest.approx(stitches, rel=0.1)


def test_nothing_is_found_where_there_is_no_rim(worked_samples):
    found = worked_samples["blue-disc"]
    assert rough_counts(np.full((900, 1200, 3), 128, np.uint8), found.piece, found.centre) == []


def test_hidden_places_do_not_count():
    places = 80
    one = np.zeros((places, len(band.SCALES)))
    one[:, len(band.SCALES) // 2] = 1
    half = np.r_[np.ones(places // 2), np.zeros(places // 2)]
    wrong = one.copy()
    wrong[places // 2 :] = np.eye(len(band.SCALES))[0]
    none = np.zeros(places)
    assert RimPrediction(10, none, none, none, none, half, none, wrong).stitches_by_width == pytest.approx(10, rel=0.01)
