import pytest

from counter.verdict import CAUTION, compare

# Round totals used below: a flat circle of single crochet holds 6, 12, 18, 24,
# 30 (published in a craft magazine's stitch guide, October 2020, and in a
# shop's online tutorial).


def test_agrees(make_count):
    verdict = compare(make_count({24: 0.99, 23: 0.01}), 24)
    assert (verdict.verdict, verdict.off_by, verdict.probability) == ("agrees", 0, 0.99)
    assert CAUTION not in verdict.words


@pytest.mark.parametrize("counted, words, off", [(23, "short by 1", -1), (26, "over by 2", 2), (18, "short by 6", -6)])
def test_mismatch_says_by_how_much_and_to_look_first(make_count, counted, words, off):
    verdict = compare(make_count({counted: 0.98, 24: 0.02}), 24)
    assert (verdict.verdict, verdict.off_by) == (words, off)
    assert words in verdict.words and CAUTION in verdict.words


def test_unsure_count_says_nothing_about_the_round(make_count):
    count = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=[(3, (520.0, 320.0), "unclear")])
    verdict = compare(count, 23)
    assert (verdict.verdict, verdict.off_by, verdict.probability) == ("can't say", None, 0.4)
    assert "23 or 24" in verdict.words and "3 o'clock" in verdict.words and CAUTION in verdict.words
    assert verdict.look == count.doubts


@pytest.mark.parametrize("expected", [0, -6, 1001, 2.5, True, "24"])
def test_bad_expectation_is_named(make_count, expected):
    with pytest.raises(ValueError, match="whole number from 1 to 1000"):
        compare(make_count({24: 1.0}), expected)
