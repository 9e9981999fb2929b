import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.basics.answer import InProgress
from counter.basics.words import either, percent
from counter.comparing.verdict import compare
from counter.showing.sentences import verdict_words

# Round totals used below: a flat circle of single crochet holds 6, 12, 18, 24,
# 30 (published in a craft magazine's stitch guide, October 2020, and in a
# shop's online tutorial).

THREE, SIX = (520.0, 320.0), (320.0, 520.0)


def test_agrees(make_count):
    verdict = compare(make_count({24: 0.99, 23: 0.01}), 24)
    assert (verdict.verdict, verdict.off_by, verdict.probability) == ("agrees", 0, 0.99)
    assert verdict_words(verdict) == "24 stitches, as expected."


@pytest.mark.parametrize("counted, words, off", [(23, "short by 1", -1), (26, "over by 2", 2), (18, "short by 6", -6)])
def test_mismatch_says_by_how_much_and_to_look_first(make_count, counted, words, off):
    verdict = compare(make_count({counted: 0.98, 24: 0.02}), 24)
    assert (verdict.verdict, verdict.off_by, verdict.probability) == (words, off, 0.98)
    assert words in verdict_words(verdict) and "by eye and finger before you rip" in verdict_words(verdict)


def test_mismatch_names_the_places(make_count):
    count = make_count({23: 0.98, 24: 0.02}, doubts=[(3, THREE, "wide gap"), (4, THREE, "dark"), (9, SIX, "wide gap")])
    verdict = compare(count, 24)
    assert verdict_words(verdict) == (
        "23 stitches, short by 1: 24 expected. Look near 3 o'clock and 6 o'clock. "
        "Check these places by eye and finger before you rip anything back."
    )
    assert verdict.look == count.doubts


def test_unsure_count_says_nothing_about_the_round(make_count):
    count = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=[(3, THREE, "unclear")])
    verdict = compare(count, 23)
    assert (verdict.verdict, verdict.off_by, verdict.probability) == ("can't say", None, 0.4)
    assert verdict_words(verdict).startswith(
        "Not sure: 23 or 24 stitches; 23 expected. Look near 3 o'clock. Check these places"
    )
    assert "among" not in verdict_words(verdict)


def test_unsure_count_far_from_the_total_says_so(make_count):
    verdict = compare(make_count({24: 0.6, 23: 0.4}, sure=False), 30)
    assert (verdict.verdict, verdict.off_by, verdict.probability) == ("can't say", None, 0.0)
    assert "30 expected, which is not among them." in verdict_words(verdict) and "before you rip" in verdict_words(
        verdict
    )


def test_unfinished_round_is_neither_short_nor_over(make_count):
    count = make_count({24: 1.0}, in_progress=InProgress(1, 23, THREE))
    verdict = compare(count, 30)
    assert (verdict.verdict, verdict.off_by) == ("can't say", None)
    assert (
        verdict_words(verdict) == "The round is not finished: 1 stitch made, 23 of the round below left; 30 expected."
    )


@pytest.mark.parametrize("expected", [0, -6, 1001, 2.5, True, "24", None, float("nan")])
def test_bad_expectation_is_named(make_count, expected):
    with pytest.raises(ValueError, match="whole number from 1 to 1000"):
        compare(make_count({24: 1.0}), expected)


def test_any_kind_of_whole_number_will_do(make_count):
    assert compare(make_count({24: 1.0}), np.int64(24)).verdict == "agrees"


@pytest.mark.parametrize(
    "p, words",
    [(0, "under 1%"), (0.009, "under 1%"), (0.5, "50%"), (0.99, "99%"), (0.999, "over 99%"), (1, "over 99%")],
)
def test_percent_claims_no_certainty(p, words):
    assert percent(p) == words


@pytest.mark.parametrize("numbers, words", [((24,), "24"), ((24, 23), "23 or 24"), ((24, 22, 23), "22, 23 or 24")])
def test_either(numbers, words):
    assert either(numbers) == words


@given(counted=st.integers(3, 150), expected=st.integers(1, 1000), sure=st.booleans(), share=st.floats(0.5, 1))
def test_the_count_stays_what_it_is(make_count, counted, expected, sure, share):
    count = make_count({counted: share, counted + 1: 1 - share}, sure=sure)
    before = (dict(count.posterior), count.stitches, count.likely, count.marks.tobytes())
    verdict = compare(count, expected)
    assert (dict(count.posterior), count.stitches, count.likely, count.marks.tobytes()) == before
    # The verdict says the difference and nothing else.
    off = counted - expected
    wanted = "agrees" if off == 0 else f"short by {-off}" if off < 0 else f"over by {off}"
    assert verdict.verdict == (wanted if sure else "can't say")
    assert verdict.off_by == (off if sure else None)
    assert ("before you rip" in verdict_words(verdict)) == (verdict.verdict != "agrees")
