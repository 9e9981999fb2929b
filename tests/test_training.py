import json
from pathlib import Path

import numpy as np
import pytest

from counter.basics.photo import read_photo
from counter.counting import band
from counter.training.cut import cut_rims, joined, strips_of
from counter.training.rims import ABOVE, PIXELS, Rims

SAMPLES = Path(__file__).parents[1] / "sample_images"


def sample(name):
    return read_photo(SAMPLES / f"{name}.jpg").pixels, json.loads(
        (SAMPLES / f"{name}.json").read_text(encoding="utf-8")
    )


@pytest.fixture(scope="module")
def disc():
    pixels, truth = sample("green-disc-on-wood")
    return joined(strips_of(pixels, truth, "disc")), truth


def test_phase_grows_by_one_a_stitch_round_the_loop(disc):
    rims, truth = disc
    assert list(rims.stitches) == [truth["stitches"]] * 2  # along the true rim and along the found one
    for low, high, count in zip(rims.starts[:-1], rims.starts[1:], rims.stitches, strict=True):
        phase = rims.phase[low:high]
        assert high - low == PIXELS * count
        assert (np.diff(phase) > 0).all()
        assert phase[-1] - phase[0] == pytest.approx(count, abs=2)


def test_true_rim_has_its_loops_at_the_depth_of_a_band(disc):
    rims, _ = disc
    own = slice(rims.starts[0], rims.starts[1])
    assert np.median(rims.depth[own]) == pytest.approx(band.MARK_DEPTH, abs=0.08)
    assert rims.seen[own].mean() > 0.9
    # The seam is one place, as wide as a stitch.
    assert rims.seam[own].sum() == pytest.approx(PIXELS, abs=1)


def test_marks_lie_on_yarn(disc):
    rims, _ = disc
    own = slice(rims.starts[0], rims.starts[1])
    rows = np.round((rims.depth[own] - ABOVE) * PIXELS).astype(int)
    loops = rims.pixels[rows, np.arange(rims.starts[0], rims.starts[1])].astype(int)
    above = rims.pixels[rows - int(1.6 * PIXELS), np.arange(rims.starts[0], rims.starts[1])].astype(int)
    # A green disc on brown wood: green beats red on the loops, red beats green above them.
    assert (loops[:, 1] > loops[:, 0]).mean() > 0.8 > 0.2 > (above[:, 1] > above[:, 0]).mean()


def test_a_plate_is_no_rim():
    rims = joined(strips_of(*sample("plate"), "plate"))
    assert set(rims.stitches) == {0} and rims.seen.max() == 0


def test_kept_rims_come_back(disc, tmp_path):
    rims, _ = disc
    rims.save(tmp_path / "rims.npz")
    back = Rims.load([tmp_path / "rims.npz"] * 2)
    assert list(back.stitches) == list(rims.stitches) * 2
    np.testing.assert_allclose(back.phase[: len(rims.phase)], rims.phase)
    # JPEG changes the pixels a little.
    assert np.abs(back.pixels[:, : rims.pixels.shape[1]].astype(int) - rims.pixels).mean() < 6


def test_empty_folder_is_named(tmp_path):
    with pytest.raises(ValueError, match="holds no photo with a truth file"):
        cut_rims(tmp_path)


# --- with torch ---


@pytest.fixture(scope="module")
def bands(disc):
    torch = pytest.importorskip("torch", reason="torch is missing: install the extra 'train'")
    from counter.training.bands import Bands

    return Bands(disc[0], torch.device("cpu"), 1)


def test_plain_bands_hold_one_middle_and_one_gap_a_stitch(bands):
    batch = bands.draw(16, plain=True)
    stitches = (2.0**-batch.scale).sum(1) / band.PLACES
    for what in (batch.middle, batch.gap):
        assert (what.sum(1) - stitches).abs().max() <= 2.5
    assert (batch.middle * batch.gap).sum() == 0
    assert (batch.depth - band.MARK_DEPTH).abs().mean() < 0.3


def test_disturbed_bands_stay_pictures(bands):
    batch = bands.draw(16)
    assert batch.pixels.shape == (16, 3, band.ROWS, 32 * band.PIXELS)
    assert batch.pixels.min() >= 0 and batch.pixels.max() <= 1
    assert batch.seen.mean() > 0.5


# The newer exporter needs one more library and writes the same network.
@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # the older exporter warns of its end
def test_weights_that_are_written_say_the_same(tmp_path):
    torch = pytest.importorskip("torch", reason="torch is missing: install the extra 'train'")
    pytest.importorskip("onnx", reason="onnx is missing: install the extra 'train'")
    import cv2

    from counter.training.network import CHANNELS, BandNetwork
    from counter.training.weigh import write_weights

    network = BandNetwork().eval()
    torch.save(network.state_dict(), tmp_path / "band.pt")
    path = write_weights(tmp_path / "band.pt", tmp_path, "test")
    given = np.random.default_rng(1).normal(size=(1, 4, band.ROWS, 320)).astype(np.float32)
    reader = cv2.dnn.readNetFromONNX(str(path))
    reader.setInput(given)
    with torch.no_grad():
        told = network(torch.as_tensor(given)).numpy()
    assert told.shape[1] == len(CHANNELS)
    np.testing.assert_allclose(reader.forward(), told, atol=1e-4)
