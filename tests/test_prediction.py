import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from counter.basics.photo import read_photo
from counter.counting import band, model
from counter.counting.finder import find_all, find_around
from counter.counting.pieces import find_worked
from counter.counting.prediction import network_input, predict, predict_augmented
from counter.counting.rim import SHOWN_SMOOTH_STITCHES, refine_outline
from counter.counting.unwrap import rim_places, to_picture

SAMPLES = Path(__file__).parents[1] / "sample_images"
WEIGHTS = Path(model.__file__).with_name("weights")
CLEAR = ["blue-disc", "green-disc-on-wood", "one-increase-missed", "striped", "white-on-paper"]


@pytest.fixture(scope="module")
def samples(worked_samples):
    found = {}
    for name in CLEAR:
        pixels = read_photo(SAMPLES / f"{name}.jpg").pixels
        truth = json.loads((SAMPLES / f"{name}.json").read_text(encoding="utf-8"))
        worked = worked_samples[name]
        found[name] = (pixels, worked.piece, worked.centre, np.array(truth["marks"]))
    return found


def near(seen, piece, centre, marks):
    """Place nearest to each mark."""
    rim = rim_places(piece, len(seen.gap))
    depth = np.full(len(rim), band.MARK_DEPTH * 2 * np.pi / seen.supposed)
    at = to_picture(rim, centre, np.arange(len(rim)), depth)
    return np.linalg.norm(at[:, None] - marks, axis=2).argmin(axis=0)


@pytest.mark.parametrize("name", CLEAR)
def test_evidence_stands_where_the_stitches_are(samples, name):
    pixels, piece, centre, marks = samples[name]
    seen = predict(pixels, piece, centre, len(marks))
    assert len(seen.gap) == band.PLACES * len(marks)
    at = near(seen, piece, centre, marks)
    most = np.max([np.roll(seen.middle, k) for k in (-2, -1, 0, 1, 2)], axis=0)[at]
    between = np.take(seen.middle, at + band.PLACES // 2, mode="wrap")
    assert (most > between).mean() > 0.85
    assert seen.in_view > 0.8
    # The right width is named, to a tenth of an octave.
    assert abs(np.mean(seen.scale @ band.SCALES)) < 0.1


def test_outline_is_moved_to_the_top_loops(samples):
    pixels, piece, centre, marks = samples["green-disc-on-wood"]
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    depths = []
    for shift in (-0.03, 0.0, 0.03):
        moved = piece.outline + shift * (np.array(centre) - piece.outline)
        laid = replace(piece, outline=moved)
        laid = refine_outline(laid, centre, predict(pixels, laid, centre, len(marks)))
        reach = np.linalg.norm(laid.outline - centre, axis=1)
        around = np.arctan2(*(laid.outline - centre).T)
        order = np.argsort(around)
        depths.append(np.interp(turn - np.pi, around[order], reach[order], period=2 * np.pi))
    # Wherever it was laid at first, it ends in the same place, to a fifth of a stitch.
    stitch = 2 * np.pi * piece.radius / len(marks)
    assert np.abs(depths[0] - depths[1]).mean() < 0.2 * stitch
    assert np.abs(depths[2] - depths[1]).mean() < 0.2 * stitch


def test_known_look_need_not_be_taken_again(samples):
    pixels, piece, centre, marks = samples[CLEAR[0]]
    known = predict(pixels, piece, centre, len(marks))
    anew, spared = (
        predict_augmented(pixels, piece, centre, len(marks)),
        predict_augmented(pixels, piece, centre, len(marks), known=known),
    )
    other = predict_augmented(pixels, piece, centre, len(marks), known=predict(pixels, piece, centre, len(marks) + 9))
    for name in ("middle", "gap", "seam", "depth", "scale"):
        assert (getattr(anew, name) == getattr(spared, name)).all() and (
            getattr(anew, name) == getattr(other, name)
        ).all()


@pytest.mark.parametrize("name", CLEAR)
def test_outline_that_is_shown_runs_outside_every_stitch(samples, name):
    pixels, piece, centre, marks = samples[name]
    laid = refine_outline(piece, centre, predict(pixels, piece, centre, len(marks)))
    shown = refine_outline(
        laid, centre, predict_augmented(pixels, laid, centre, len(marks)), smooth_stitches=SHOWN_SMOOTH_STITCHES
    ).outline
    assert len(shown) == band.PLACES * len(marks)
    width = np.median(np.linalg.norm(np.roll(marks, -1, axis=0) - marks, axis=1))
    line = shown.astype(np.float32)
    inside = np.array([cv2.pointPolygonTest(line, (float(x), float(y)), True) for x, y in marks]) / width
    # The renderer knows where its marks lie; nine in ten within a quarter of a stitch, all within half a one.
    off = np.abs(inside - band.MARK_DEPTH)
    assert np.quantile(off, 0.9) < 0.25 and off.max() < 0.5


def test_evidence_turns_with_the_piece(samples):
    pixels, piece, centre, marks = samples["blue-disc"]
    turned = np.ascontiguousarray(np.rot90(pixels))
    worked = find_worked(turned)
    other_piece, other_centre = worked.piece, worked.centre
    one = predict(pixels, piece, centre, len(marks)).gap
    other = predict(turned, other_piece, other_centre, len(marks)).gap
    fit = [np.corrcoef(np.roll(one, shift), other)[0, 1] for shift in range(len(one))]
    assert max(fit) > 0.9
    # A quarter turn moves everything by a quarter of the rim.
    assert abs(int(np.argmax(fit)) - 3 * len(one) // 4) <= band.PLACES // 2


def test_a_plate_shows_no_rim():
    pixels = read_photo(SAMPLES / "plate.jpg").pixels
    # The network sees no piece; what it says of a ring that somebody shows is asked.
    assert find_all(pixels) == []
    height, width = pixels.shape[:2]
    plate = find_around(pixels, width / 2, height / 2, 0.3 * height).piece
    assert max(predict(pixels, plate, plate.centre, number).in_view for number in (12, 24, 48)) < 0.4


def test_network_is_the_one_that_its_card_describes(monkeypatch, tmp_path):
    folder = tmp_path / "weights"
    folder.mkdir()
    (folder / "band.json").write_text('{"sha256": "0", "version": "0", "channels": []}')
    (folder / "band.onnx").write_bytes(b"something else")
    monkeypatch.setattr(model.resources, "files", lambda name: tmp_path)
    for kept in (model.network, model.card_of):
        kept.cache_clear()
    with pytest.raises(RuntimeError, match="install the program again"):
        model.network("band")
    for kept in (model.network, model.card_of):
        kept.cache_clear()


def test_weights_are_small():
    # Four megabytes for finding and one for reading (ours).
    assert sum(path.stat().st_size for path in WEIGHTS.glob("*.onnx")) <= 5_200_000


def test_input_is_prepared_as_in_training():
    torch = pytest.importorskip("torch", reason="torch is missing: install the extra 'train'")
    from counter.training import network

    rng = np.random.default_rng(5)
    pixels = rng.integers(0, 256, (band.ROWS, 200, 3), np.uint8)
    told = network.prepared(torch.as_tensor(pixels.transpose(2, 0, 1)[None] / 255.0, dtype=torch.float32))
    np.testing.assert_allclose(network_input(pixels), told.numpy(), atol=2e-3)
