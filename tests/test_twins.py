import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.basics.answer import InProgress
from counter.lengths.pair import compare_pieces
from counter.lengths.scale import scale_from_diameter

CAUTION = "Check by eye and finger before you rip anything back."


def test_match(make_count):
    pair = compare_pieces(make_count({24: 0.98, 23: 0.02}), make_count({24: 0.95, 25: 0.05}))
    assert (pair.verdict, pair.off_by) == ("match", 0)
    # Sum over n of p1(n) p2(n), worked out by hand.
    assert pair.probability == pytest.approx(0.98 * 0.95)
    assert pair.words[0] == "The totals match: 24 stitches each." and CAUTION not in pair.words


def test_difference_is_named_with_advice(make_count):
    pair = compare_pieces(make_count({24: 0.98, 23: 0.02}), make_count({23: 0.99, 24: 0.01}))
    assert (pair.verdict, pair.off_by) == ("differ by 1", -1)
    assert pair.probability == pytest.approx(0.98 * 0.01 + 0.02 * 0.99)
    assert pair.words[0] == "The totals differ by 1: 24 stitches in the first piece, 23 in the second."
    assert "See in the pattern which of the two is right." in pair.words
    # One or two off is taken up in the next round, a piece that must match a twin is
    # ripped back (common practice).
    assert any("rip back the one that is off" in words for words in pair.words)
    assert "Are both finished, and at the same round? If not, nothing is wrong yet." in pair.words
    assert any("1 stitch can be made up for in the next round" in words for words in pair.words)
    assert pair.words[-1] == CAUTION


@pytest.mark.parametrize("second, taken_up", [(26, True), (27, False), (20, False)])
def test_three_or_more_are_not_taken_up(make_count, second, taken_up):
    # Three or more off: rip back to the last round that agrees (common practice).
    pair = compare_pieces(make_count({24: 1.0}), make_count({second: 1.0}))
    assert pair.verdict == f"differ by {abs(second - 24)}"
    assert any("made up for" in words for words in pair.words) == taken_up


def test_expected_total_tells_which_one_is_off(make_count):
    pair = compare_pieces(make_count({24: 1.0}), make_count({25: 1.0}), expected=24)
    assert "Both should hold 24: the second one is off." in pair.words
    assert any("rip back the second one" in words for words in pair.words)
    neither = compare_pieces(make_count({24: 1.0}), make_count({25: 1.0}), expected=30)
    assert "Both should hold 30: neither does." in neither.words
    assert not any("made up for" in words for words in neither.words)
    same = compare_pieces(make_count({24: 1.0}), make_count({24: 1.0}), expected=30)
    assert same.verdict == "match" and "Both should hold 30." in same.words


@pytest.mark.parametrize("sure", [(False, True), (True, False), (False, False)])
def test_a_count_that_is_not_sure_makes_no_verdict(make_count, sure):
    first, second = (make_count({24: 0.6, 23: 0.4}, sure=own) for own in sure)
    pair = compare_pieces(first, second)
    assert (pair.verdict, pair.off_by) == ("can't say", None)
    assert pair.probability == pytest.approx(0.6 * 0.6 + 0.4 * 0.4)
    assert pair.words[0].startswith("Not sure: the first piece has 2") and "hold the same is 52%." in pair.words[0]
    assert "Most likely they differ." not in pair.words and pair.words[-1] == CAUTION


def test_two_unsure_counts_far_apart_most_likely_differ(make_count):
    pair = compare_pieces(make_count({24: 0.6, 23: 0.4}, sure=False), make_count({30: 0.6, 31: 0.4}, sure=False))
    assert pair.verdict == "can't say" and "Most likely they differ." in pair.words


def test_a_round_in_progress_is_not_compared(make_count):
    working = make_count({24: 1.0}, in_progress=InProgress(12, 12, (320.0, 100.0)))
    pair = compare_pieces(make_count({24: 1.0}), working)
    assert pair.verdict == "can't say"
    assert pair.words[0] == "The second piece has a round on the hook that is not finished: finish it, then compare."


def test_rounds_are_not_said_to_match(make_count):
    counted = make_count({24: 1.0}, rounds=5)
    pair = compare_pieces(counted, counted)
    assert pair.rounds.verdict == "can't say" and "count them by hand" in pair.rounds.words
    assert 0.5 < pair.rounds.probability < 1
    unknown = compare_pieces(counted, make_count({24: 1.0}, rounds=None))
    assert unknown.rounds.verdict == "can't say" and unknown.rounds.probability is None


def test_rounds_far_apart_differ(make_count):
    pair = compare_pieces(make_count({24: 1.0}, rounds=4), make_count({24: 1.0}, rounds=12))
    assert pair.verdict == "match" and pair.rounds.verdict == "differ"
    assert "The rounds differ: 4 rounds were counted in the first piece, 12 in the second." in pair.words
    assert pair.words[-1] == CAUTION


def test_sizes_are_compared_where_there_is_a_scale(make_count):
    count = make_count({24: 1.0})
    same = compare_pieces(count, count, scales=(scale_from_diameter(count, 50.0), scale_from_diameter(count, 50.5)))
    assert same.sizes.verdict == "same" and "no difference can be told" in same.words[-1]
    other = compare_pieces(count, count, scales=(scale_from_diameter(count, 50.0), scale_from_diameter(count, 60.0)))
    assert other.sizes.verdict == "differ" and "the second one is 20% larger" in other.words[-1]
    assert other.verdict == "match"
    assert compare_pieces(count, count).sizes is None


@given(
    st.dictionaries(st.integers(3, 60), st.floats(0.01, 1), min_size=1, max_size=6),
    st.dictionaries(st.integers(3, 60), st.floats(0.01, 1), min_size=1, max_size=6),
    st.booleans(), st.booleans(),
)  # fmt: skip
def test_difference_is_that_of_two_independent_numbers(make_count, one, other, sure, second_sure):
    # In ascending order the factory takes the lowest of equally probable numbers, as counts do.
    one, other = ({n: own[n] / sum(own.values()) for n in sorted(own)} for own in (one, other))
    first, second = make_count(one, sure=sure), make_count(other, sure=second_sure)
    pair, back = compare_pieces(first, second), compare_pieces(second, first)
    # The distribution of a difference is the correlation of the two distributions (NumPy).
    dense = [np.bincount(list(own), weights=list(own.values()), minlength=61) for own in (one, other)]
    reference = np.correlate(dense[1], dense[0], mode="full")
    for off, chance in pair.differences.items():
        assert chance == pytest.approx(reference[60 + off])
    assert math.isclose(pair.probability, back.probability, abs_tol=1e-3)
    assert (pair.verdict == "can't say") == (not (sure and second_sure))
    assert pair.verdict == back.verdict
    if pair.off_by is not None:
        assert pair.off_by == -back.off_by == second.stitches - first.stitches


def test_neither_count_is_changed(make_count):
    first, second = make_count({24: 0.9, 23: 0.1}), make_count({23: 0.9, 24: 0.1})
    before = [(dict(count.posterior), count.marks.tobytes()) for count in (first, second)]
    compare_pieces(first, second, expected=30)
    assert [(dict(count.posterior), count.marks.tobytes()) for count in (first, second)] == before
