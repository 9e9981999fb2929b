"""Gauge, size and tension against published values and plain arithmetic."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.lengths.gauge import (
    CATEGORIES,
    FOUR_INCHES_MM,
    Length,
    categories_of,
    drift,
    gauge,
    piece_size,
    stitch_width,
)
from counter.lengths.scale import Scale


def plain_scale(mm_per_px=0.2, error=0.01, kind="mat"):
    """Straight from above, the same everywhere."""
    return Scale(kind, mm_per_px, error, np.diag([mm_per_px, mm_per_px, 1.0]), np.zeros((4, 2)), 0.0, 400.0)


def test_categories_are_those_of_the_published_table():
    # The yarn-industry council's standard table, as reprinted in Crochet World, October 2018, p. 64:
    # single crochets to 4 in.
    assert [(c.number, c.name, c.fewest, c.most) for c in CATEGORIES] == [
        (1, "super fine", 21, 32),
        (2, "fine", 16, 20),
        (3, "light", 12, 17),
        (4, "medium", 11, 14),
        (5, "bulky", 8, 11),
        (6, "super bulky", 6, 9),
        (7, "jumbo", 0, 5),
    ]


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        (32.5, ()), (32, (1,)), (21, (1,)), (20.5, ()), (20, (2,)), (17, (2, 3)), (16, (2, 3)), (15, (3,)),
        (14, (3, 4)), (12, (3, 4)), (11.5, (4,)),
        (11, (4, 5)), (10, (5,)), (9, (5, 6)), (7, (6,)), (5.5, ()), (5, (7,)), (2, (7,)),
    ],
)  # fmt: skip
def test_a_gauge_is_in_all_categories_it_lies_in_and_never_forced(number, expected):
    assert tuple(c.number for c in categories_of(number)) == expected
    found = gauge(Length(FOUR_INCHES_MM / number * (1 - 1e-12)))
    assert found.stitches(FOUR_INCHES_MM)[0] == pytest.approx(number)


def test_the_words_say_what_lies_between():
    assert "between 2 (fine) and 1 (super fine)" in gauge(Length(FOUR_INCHES_MM / 20.5, 0.001)).words
    assert "between 7 (jumbo) and 6 (super bulky)" in gauge(Length(FOUR_INCHES_MM / 5.5, 0.001)).words
    assert "finer than any category" in gauge(Length(FOUR_INCHES_MM / 40, 0.001)).words
    medium = gauge(Length(FOUR_INCHES_MM / 13, 0.001)).words
    assert "category 3 (light) or 4 (medium)" in medium and "toys are worked tighter" in medium


def test_an_error_that_reaches_other_categories_is_told():
    near = gauge(Length(FOUR_INCHES_MM / 10.6, 0.4))
    assert [c.number for c in near.categories] == [5]
    assert [c.number for c in near.perhaps] == [4, 6] or [c.number for c in near.perhaps] == [4]
    assert "Within its error it may also be" in near.words
    assert not gauge(Length(FOUR_INCHES_MM / 10.6, 0.01)).perhaps


def test_other_stitches_get_no_category():
    found = gauge(Length(8.0, 0.1), single=False)
    assert found.categories == () and found.category_words == "" and "table" not in found.words


def test_four_inches_are_1_6_percent_more_than_10_cm():
    # One inch is 25.4 mm (international yard and pound agreement, 1959).
    assert FOUR_INCHES_MM == 4 * 25.4
    found = gauge(Length(6.35, 0.0635), Length(5.08))
    ten, four = found.stitches(100.0), found.stitches(FOUR_INCHES_MM)
    assert four[0] / ten[0] == pytest.approx(1.016)
    assert four == pytest.approx((16.0, 0.16))
    assert found.rounds(FOUR_INCHES_MM) == pytest.approx((20.0, 0.0))
    assert "15.7 \u00b1 0.3 stitches to 10 cm, 16.0 \u00b1 0.3 to 4 in." in found.words
    assert gauge(Length(6.35)).rounds() is None


@pytest.mark.parametrize("mm", [0.4, 101.0])
def test_absurd_sizes_are_told(mm):
    with pytest.raises(ValueError, match="a stitch must measure"):
        gauge(Length(mm))
    with pytest.raises(ValueError, match="a round must measure"):
        gauge(Length(5.0), Length(mm))


@pytest.mark.parametrize("values", [(0.0, 0.0), (-1.0, 0.0), (float("nan"), 0.0), (5.0, -0.1), (5.0, float("inf"))])
def test_a_length_is_positive(values):
    with pytest.raises(ValueError, match="more than 0"):
        Length(*values)


def test_stitch_width_and_size_of_a_round_piece(make_count):
    # 24 marks on a circle of 200 px: chords of 2 r sin(pi / 24); the outline at 1.06 of it.
    count = make_count({24: 0.95, 23: 0.05}, size=(640, 640), radius=200)
    width = stitch_width(count, plain_scale(0.2, 0.01))
    assert width.mm == pytest.approx(0.2 * 2 * 200 * np.sin(np.pi / 24), rel=1e-6)
    unsure = 0.05**0.5 * np.log(24 / 23)
    assert width.error == pytest.approx(width.mm * np.hypot(0.01, unsure), rel=1e-3)
    size = piece_size(count, plain_scale(0.2, 0.01))
    assert size.diameter.mm == pytest.approx(0.2 * 2 * 212, rel=0.002)
    assert size.widest == pytest.approx(size.narrowest, rel=0.01)
    assert size.words.startswith("8.5 cm (3.3 in) across") and "narrowest" not in size.words
    assert size.diameter.error > 0.01 * size.diameter.mm


def test_an_oval_piece_is_told_by_both_its_widths(make_count):
    count = make_count({24: 1.0}, size=(640, 640), radius=200)
    scale = plain_scale()
    stretched = Scale("card", 0.2, 0.01, np.diag([0.24, 0.2, 1.0]), scale.outline.copy(), 0.0, 400.0)
    size = piece_size(count, stretched)
    assert size.widest / size.narrowest == pytest.approx(1.2, rel=0.01)
    assert "where it is widest" in size.words


def test_a_typed_size_comes_back(make_count):
    from counter.lengths.scale import scale_from_diameter

    count = make_count({24: 1.0}, size=(640, 640), radius=200)
    size = piece_size(count, scale_from_diameter(count, 85.0))
    assert size.diameter.mm == pytest.approx(85.0, rel=0.002)


# --- tension ----------------------------------------------------------------------------------------


def test_steady_tightening_is_found():
    found = drift(6.0 * 0.96 ** np.arange(6))
    assert found.state == "tightens" and found.share == pytest.approx(-0.04)
    assert "tightens" in found.words and "4% smaller" in found.words


def test_steady_loosening_is_found_and_unseen_rounds_are_skipped():
    sizes = list(5.0 * 1.03 ** np.arange(8))
    sizes[2] = sizes[5] = None
    found = drift(sizes, what="rounds")
    assert found.state == "loosens" and found.share == pytest.approx(0.03) and "rounds get 3% larger" in found.words


def test_slope_and_error_are_those_of_least_squares():
    # Outside reference: NumPy's polynomial fit with its covariance.
    sizes = np.array([6.1, 5.9, 5.95, 5.5, 5.6, 5.3, 5.35])
    (slope, _), covariance = np.polyfit(np.arange(1, 8), np.log(sizes), 1, cov=True)
    found = drift(sizes)
    assert np.log1p(found.share) == pytest.approx(slope)
    assert found.error == pytest.approx(np.sqrt(covariance[0, 0]))


def test_even_work_is_even_and_noise_is_not_called_a_change():
    rng = np.random.default_rng(4)
    assert drift(6.0 + rng.normal(0, 0.05, 8)).state == "even"
    states = [drift(6.0 * np.exp(rng.normal(0, 0.12, 6))).state for _ in range(200)]
    # A 95% interval leaves out the truth once in twenty.
    assert np.mean([state in ("tightens", "loosens") for state in states]) < 0.1
    assert "can't say" in states


@pytest.mark.parametrize("sizes", [[], [6.0], [6.0, 5.8, 5.6], [6.0, None, 5.8, None, 5.6]])
def test_too_few_rounds_say_nothing(sizes):
    found = drift(sizes)
    assert found.state == "can't say" and found.share is None and "Too few" in found.words


@pytest.mark.parametrize("bad", [0.0, -2.0, float("nan"), float("inf")])
def test_a_round_has_a_size(bad):
    with pytest.raises(ValueError, match="more than 0"):
        drift([6.0, 5.0, bad, 6.0, 5.0])


@given(st.lists(st.floats(0.5, 50), min_size=4, max_size=12), st.floats(0.01, 100))
def test_the_unit_does_not_matter(sizes, factor):
    one, other = drift(sizes), drift([factor * size for size in sizes])
    assert one.share == pytest.approx(other.share, abs=1e-9)
    assert one.error == pytest.approx(other.error, abs=1e-7)


@given(st.floats(0.7, 45.0), st.floats(0.0, 2.0))
def test_every_gauge_has_words_and_its_categories_hold_it(mm, error):
    found = gauge(Length(mm, error))
    number = found.stitches(FOUR_INCHES_MM)[0]
    assert all(c.fewest <= number <= c.most for c in found.categories)
    assert not set(found.categories) & set(found.perhaps)
    assert found.words.endswith(".") and "nan" not in found.words
