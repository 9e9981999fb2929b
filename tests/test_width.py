import json
from pathlib import Path

import numpy as np
import pytest

from counter.basics.photo import read_photo
from counter.counting import band
from counter.counting.braid import Braid, look
from counter.counting.centre import find_worked
from counter.counting.width import find_width, refined

SAMPLES = Path(__file__).parents[1] / "sample_images"


@pytest.mark.parametrize("name", ["blue-disc", "green-disc-on-wood", "large-hexagon", "striped", "rose-cup"])
def test_width_is_found_whatever_the_size(name):
    pixels = read_photo(SAMPLES / f"{name}.jpg").pixels
    stitches = json.loads((SAMPLES / f"{name}.json").read_text(encoding="utf-8"))["stitches"]
    found = find_worked(pixels)
    piece, centre = found.piece, found.centre
    assert find_width(pixels, piece, centre)[0].stitches == pytest.approx(stitches, rel=0.18)
    # From a look at a number that is a quarter off, the right one is found.
    for factor in (0.8, 1.25):
        seen = look(pixels, piece, centre, round(stitches * factor))
        assert refined(seen) == pytest.approx(stitches, rel=0.1)


def test_nothing_is_found_where_there_is_no_rim():
    found = find_worked(read_photo(SAMPLES / "blue-disc.jpg").pixels)
    assert find_width(np.full((900, 1200, 3), 128, np.uint8), found.piece, found.centre) == []


def test_hidden_places_do_not_count():
    places = 80
    one = np.zeros((places, len(band.SCALES)))
    one[:, len(band.SCALES) // 2] = 1
    half = np.r_[np.ones(places // 2), np.zeros(places // 2)]
    wrong = one.copy()
    wrong[places // 2 :] = np.eye(len(band.SCALES))[0]
    none = np.zeros(places)
    assert refined(Braid(10, none, none, none, none, half, none, wrong)) == pytest.approx(10, rel=0.01)
