import json

import cv2
import numpy as np
import pytest

from counter.synthetic.layer_set import write_layers
from counter.training.compose import composed, write_composed


@pytest.fixture
def folders(tmp_path):
    """Three photos in layers, the second of which shows no piece, and two grounds."""
    random = np.random.default_rng(3)
    layers, grounds = tmp_path / "layers", tmp_path / "grounds"
    layers.mkdir()
    grounds.mkdir()
    rows, columns = np.mgrid[:60, :80]
    body = (rows - 30) ** 2 + (columns - 40) ** 2 < 20**2
    for number, refuse in ((1, None), (2, "no piece"), (3, None)):
        pixels = np.where(body[..., None], (200, 60, 60), (150, 150, 150)).astype(np.uint8)
        write_layers(layers, f"{number:06d}", pixels, body.astype(np.uint8), body, {"refuse": refuse, "stitches": 18})
    for number in (1, 2):
        cv2.imwrite(str(grounds / f"{number}.jpg"), random.integers(0, 255, (64, 64, 3), np.uint8))
    return layers, grounds


def test_photos_are_written_with_their_truth_and_without_those_that_show_no_piece(folders, tmp_path):
    layers, grounds = folders
    assert write_composed(layers, grounds, tmp_path / "out", seed=5) == 2
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "000001.jpg",
        "000001.json",
        "000003.jpg",
        "000003.json",
    ]
    assert json.loads((tmp_path / "out" / "000003.json").read_text())["stitches"] == 18
    assert write_composed(layers, grounds, tmp_path / "third", every=3) == 1


def test_a_seed_makes_the_same_photo_and_each_layer_its_own(folders):
    layers, grounds = folders
    pictures = sorted(grounds.glob("*.jpg"))
    one, again = (composed(layers / "000001.json", pictures, 5)[0] for _ in range(2))
    np.testing.assert_array_equal(one, again)
    for file, seed in (("000001.json", 6), ("000003.json", 5)):
        assert not np.array_equal(one, composed(layers / file, pictures, seed)[0])
