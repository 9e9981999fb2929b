import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from drawn import draw_round
from hypothesis import given
from hypothesis import strategies as st
from skimage.measure import regionprops

from counter.basics.answer import Count, InProgress
from counter.basics.photo import read_photo
from counter.lengths.measure import FEWEST_LINE_ROUNDS, LEAST_LOG_AXIS_RATIO, flattened, measure

SAMPLES = Path(__file__).parents[1] / "sample_images"


def ellipse(long, short, lean=0.0, middle=(0.0, 0.0), points=240):
    turn = np.linspace(0, 2 * np.pi, points, endpoint=False)
    flat = np.column_stack([long * np.cos(turn), short * np.sin(turn)])
    return flat @ [[np.cos(lean), np.sin(lean)], [-np.sin(lean), np.cos(lean)]] + middle


def drawn_count(marks, outline, size, *, rounds, centre, posterior=None, in_progress=None):
    number = len(marks)
    return Count(
        posterior=posterior or {number: 1.0}, sure=True, likely=(number,), marks=np.array(marks), doubts=(),
        centre=centre, outline=np.array(outline), shared=np.zeros(len(outline)), start_seen=True, rounds=rounds,
        in_progress=in_progress, reason="", size=size, seconds=0.1,
    )  # fmt: skip


@given(
    long=st.floats(50, 2000), squash=st.floats(0.6, 1), lean=st.floats(0, np.pi),
    x=st.floats(-3000, 3000), y=st.floats(-3000, 3000),
)  # fmt: skip
def test_slanted_circle_becomes_round(long, squash, lean, x, y):
    outline = ellipse(long, long * squash, lean, (x, y))
    stretch, middle, roundness = flattened(outline)
    assert middle == pytest.approx((x, y), abs=0.01 * long)
    assert roundness == pytest.approx(squash, abs=0.01)
    lengths = np.linalg.norm((outline - middle) @ stretch.T, axis=1)
    assert lengths.max() == pytest.approx(long, rel=0.01)
    # What an outline may be out of round by chance is left in.
    assert lengths.min() == pytest.approx(long * max(squash, np.exp(-LEAST_LOG_AXIS_RATIO)), rel=0.01)


def test_ellipse_has_the_moments_of_the_area():
    # Reference: scikit-image's properties of the filled region, which has the same second moments.
    outline = ellipse(210, 170, 0.7, (400, 300)) + 6 * ellipse(1, 1, points=240)[:, ::-1] ** 3
    mask = cv2.fillPoly(np.zeros((640, 800), np.uint8), [np.rint(outline).astype(np.int32)], 1)
    (region,) = regionprops(mask)
    _, middle, roundness = flattened(outline)
    assert middle == pytest.approx(region.centroid[::-1], abs=0.5)
    assert roundness == pytest.approx(region.axis_minor_length / region.axis_major_length, abs=0.005)


def test_an_outline_without_area_is_bad_input():
    with pytest.raises(ValueError, match="no area"):
        flattened(np.zeros((8, 2)))


@pytest.mark.parametrize("squash, lean", [(1.0, 0.0), (0.8, 0.0), (0.7, 0.9)])
@pytest.mark.parametrize("stitches, rounds", [(24, 4), (48, 8)])
def test_drawn_round_seen_at_a_slant(stitches, rounds, squash, lean):
    pixels, marks = draw_round(stitches, rounds, radius=260, squash=squash, lean=lean)
    outline = ellipse(260, 260 * squash, lean, (319.5, 319.5))
    found = measure(pixels, drawn_count(marks, outline, (640, 640), rounds=rounds, centre=(319.5, 319.5)))
    # Marks stand on a circle of 247 px: a polygon of so many corners has sides of 2 r sin(pi / N).
    tilted = np.exp(LEAST_LOG_AXIS_RATIO) if squash < np.exp(-LEAST_LOG_AXIS_RATIO) else 1.0
    side = 2 * 247 * np.sin(np.pi / stitches)
    assert side / tilted <= found.width.value * 1.001 and found.width.value <= side * 1.001
    assert found.widths.shape == (stitches,) and found.widths.mean() == pytest.approx(found.width.value)
    # Rounds are 260 / (rounds + 0.35) px high in the drawing.
    drawn = 260 / (rounds + 0.35)
    assert found.height.value == pytest.approx(drawn, rel=0.06)
    assert abs(found.height.value - drawn) < 2 * found.height.error
    assert found.ratio.value == pytest.approx(found.height.value / found.width.value)
    assert found.roundness == pytest.approx(squash, abs=0.01)


def uneven(heights, size=640):
    """A disc whose rounds have these heights, px, from the first on; rings of light and dark."""
    edges = np.concatenate([[0.0], np.cumsum(heights)])
    y, x = np.mgrid[:size, :size] - (size - 1) / 2
    away = np.hypot(x, y)
    turn = np.arctan2(x, -y) / (2 * np.pi)
    number = np.interp(away, edges, np.arange(len(edges)))
    light = 120 + 40 * np.cos(2 * np.pi * number) + 12 * np.sin(2 * np.pi * 40 * turn)
    light = np.where(away < edges[-1], light, 215) + np.random.default_rng(3).normal(0, 6, away.shape)
    return np.repeat(np.clip(light, 0, 255).astype(np.uint8)[..., None], 3, axis=2), float(edges[-1])


@pytest.mark.parametrize("drift", [0.0, 0.03, -0.03])
def test_height_of_each_round_is_followed(drift):
    heights = 26.0 * np.exp(drift * (np.arange(10) - 4.5))
    pixels, reach = uneven(heights)
    middle = (319.5, 319.5)
    marks = ellipse(0.96 * reach, 0.96 * reach, 0, middle, 60)
    found = measure(pixels, drawn_count(marks, ellipse(reach, reach, 0, middle), (640, 640), rounds=10, centre=middle))
    assert len(found.heights) == 10 and found.why_no_heights == ""
    # Next to the ring and to the edge nothing is said.
    assert found.heights[:2] == (None, None) and found.heights[-1] is None
    told = np.array([own.value for own in found.heights[2:-1]])
    assert told == pytest.approx(heights[2:-1], rel=0.06)
    assert np.polyfit(np.arange(7), np.log(told), 1)[0] == pytest.approx(drift, abs=0.008)
    assert all(0 < own.error < 0.1 * own.value for own in found.heights[2:-1])


def test_no_lines_no_heights():
    pixels = np.random.default_rng(5).normal(120, 20, (640, 640, 3)).clip(0, 255).astype(np.uint8)
    middle = (319.5, 319.5)
    marks, outline = ellipse(240, 240, 0, middle, 48), ellipse(250, 250, 0, middle)
    found = measure(pixels, drawn_count(marks, outline, (640, 640), rounds=8, centre=middle))
    assert found.heights == () and "not clear enough" in found.why_no_heights
    assert found.height is not None and found.why_no_height == ""


def test_few_rounds_have_no_heights_of_their_own():
    pixels, marks = draw_round(24, FEWEST_LINE_ROUNDS - 1)
    count = drawn_count(
        marks, ellipse(220, 220, 0, (319.5, 319.5)), (640, 640), rounds=FEWEST_LINE_ROUNDS - 1, centre=(319.5, 319.5)
    )
    assert measure(pixels, count).why_no_heights == "The heights of single rounds are told from 5 rounds on."


def test_rounds_that_can_not_be_told_leave_the_width(make_count):
    found = measure(np.full((640, 640, 3), 120, np.uint8), make_count({24: 1.0}, rounds=None))
    assert (found.rounds, found.height, found.ratio, found.heights) == (None, None, None, ())
    assert found.why_no_height == found.why_no_heights == "The rounds can't be told in this photo."
    # Chords of a circle of 200 px.
    assert found.width.value == pytest.approx(2 * 200 * np.sin(np.pi / 24))


def test_what_a_person_knows_goes_before_what_was_counted(make_count):
    blank = np.full((640, 640, 3), 120, np.uint8)
    counted = measure(blank, make_count({24: 1.0}, rounds=4))
    known = measure(blank, make_count({24: 1.0}, rounds=4), rounds=5)
    assert (counted.rounds, known.rounds) == (4, 5)
    assert known.height.value < counted.height.value
    assert known.height.error / known.height.value < counted.height.error / counted.height.value


def test_an_unsure_number_makes_the_width_less_sure(make_count):
    blank = np.full((640, 640, 3), 120, np.uint8)
    sure, unsure = (measure(blank, make_count(own)) for own in ({24: 1.0}, {24: 0.5, 22: 0.3, 26: 0.2}))
    assert sure.width.value == unsure.width.value and unsure.width.error > 2 * sure.width.error
    assert unsure.ratio.error > sure.ratio.error


def test_a_round_in_progress_counts_in_part(make_count):
    blank = np.full((640, 640, 3), 120, np.uint8)
    whole = measure(blank, make_count({24: 1.0}, rounds=4))
    begun = measure(blank, make_count({24: 1.0}, rounds=4, in_progress=InProgress(12, 12, (0.0, 0.0))))
    next_one = measure(blank, make_count({24: 1.0}, rounds=5))
    assert next_one.height.value < begun.height.value < whole.height.value


def test_bad_input_is_named(make_count):
    with pytest.raises(ValueError, match="sizes differ"):
        measure(np.zeros((64, 64, 3), np.uint8), make_count({24: 1.0}))
    with pytest.raises(ValueError, match="at least 1 round"):
        measure(np.zeros((640, 640, 3), np.uint8), make_count({24: 1.0}), rounds=0)


def test_result_is_read_only(make_count):
    found = measure(np.full((640, 640, 3), 120, np.uint8), make_count({24: 1.0}))
    with pytest.raises(ValueError):
        found.widths[0] = 1.0


@pytest.mark.parametrize("name", ["green-disc-on-wood", "blue-disc"])
def test_photo_against_its_truth(name, counts_of_samples):
    # The truth is that of the renderer: where every stitch's top loops are, and how many rounds there are.
    photo = read_photo(SAMPLES / f"{name}.jpg")
    truth = json.loads((SAMPLES / f"{name}.json").read_text())
    found = measure(photo, counts_of_samples[name])
    marks = np.array(truth["marks"])
    true_width = np.linalg.norm(np.roll(marks, -1, axis=0) - marks, axis=1).mean()
    assert found.rounds == truth["rounds"]
    assert found.width.value == pytest.approx(true_width, rel=0.06)
    true_height = np.sqrt(cv2.contourArea(marks.astype(np.float32)) / np.pi) / truth["rounds"]
    assert abs(found.height.value - true_height) < 2 * found.height.error
