"""Small pictures: what counts is pixels a stitch, not the size of the photo."""

import json
import re
from pathlib import Path

import cv2
import numpy as np
import pytest

import counter
from counter.basics.answer import Count, Refusal
from counter.basics.photo import read_photo
from counter.counting import reading

SAMPLES = Path(__file__).parents[1] / "sample_images"


def reduced(name, across):
    """A sample made so small that its piece is so many pixels across, and its truth."""
    truth = json.loads((SAMPLES / f"{name}.json").read_text(encoding="utf-8"))
    factor = across / np.ptp(truth["marks"], axis=0).max()
    pixels = read_photo(SAMPLES / f"{name}.jpg").pixels
    return cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA), truth["stitches"]


@pytest.mark.parametrize("name", ["blue-disc", "green-disc-on-wood", "large-hexagon", "striped"])
def test_pieces_of_180_pixels_are_counted(name):
    pixels, stitches = reduced(name, 180)
    answer = counter.count(pixels)
    # Truth files of the samples; 8 to 24 pixels a stitch.
    assert isinstance(answer, Count) and answer.stitches == stitches
    assert counter.render_marks(pixels, answer).size > 0


def test_below_seven_pixels_a_stitch_the_refusal_says_so_and_what_to_do():
    pixels, _ = reduced("finger-on-the-rim", 90)
    refusal = counter.count(pixels)
    assert isinstance(refusal, Refusal) and refusal.code == "too small" and len(refusal.outlines) == 1
    # By the truth file it has 5.7 pixels between two marks.
    told = re.search(r"\(about ([\d.]+) pixels a stitch\)\.$", refusal.reason)
    assert float(told[1]) == pytest.approx(5.7, rel=0.15) and "about 7 pixels each" in refusal.hint


def test_what_is_too_small_for_its_texture_to_speak_is_not_said_to_be_no_piece():
    assert counter.count(reduced("large-hexagon", 90)[0]).code == "too small"


def test_a_small_piece_in_a_large_photo_is_looked_at_in_the_photo_itself(monkeypatch):
    pixels, stitches = reduced("large-hexagon", 400)
    height, width = pixels.shape[:2]
    photo = np.empty((3600, 4900, 3), np.uint8)
    photo[:] = np.median(pixels[:20], axis=(0, 1))
    photo[1000 : 1000 + height, 1500 : 1500 + width] = pixels
    looked = []
    trace = reading.trace_rim
    monkeypatch.setattr(reading, "trace_rim", lambda seen, worked: looked.append(trace(seen, worked)) or looked[-1])
    found = counter.count(photo)
    # First in a copy 2.45 times smaller.
    first, second = (rim.pitch_px for rim in looked)
    assert 7 < first < 9 and second == pytest.approx(2.45 * first, rel=0.05)
    alone = counter.count(pixels)
    assert isinstance(found, Count) and found.stitches == alone.stitches and abs(found.stitches - stitches) <= 1
    away = np.linalg.norm(found.marks[:, None] - (alone.marks + (1500, 1000)), axis=2).min(axis=1)
    pitch = np.linalg.norm(np.diff(alone.marks, axis=0), axis=1).mean()
    assert np.quantile(away, 0.9) < 0.35 * pitch  # the same share that matches marks with truth


@pytest.mark.parametrize("shape", [(1, 1), (3, 9), (9, 3), (20, 20), (64, 48)])
def test_specks_are_refused(shape):
    noise = np.random.default_rng(1).integers(0, 256, (*shape, 3), np.uint8)
    done = counter.examine(noise, lengths=True)
    assert isinstance(done.answer, Refusal) and done.answer.code in {"no piece", "too small"}
