import pytest

from counter.comparing.check import check, total_of
from counter.plan import read_plan
from counter.showing.sentences import advice_words, round_words

# Totals of a flat circle of single crochet, 6 12 18 24 30, are published (stitch guide of a
# craft magazine, October 2020); even rounds and decreases follow (common practice).
PLAN = read_plan(
    "R1: 6 sc in ring (6)\nR2: inc x 6 (12)\nR3: (sc 1, inc) x 6 (18)\nR4: (sc 2, inc) x 6 (24)\n"
    "R5-7: sc in each st around (24)\nR8: (sc 2, dec) x 6 (18)\nR9: sc around"
)


def test_without_a_plan_it_is_the_plain_comparison(make_count):
    count = make_count({23: 0.98, 24: 0.02})
    assert check(count).verdict is None
    found = check(count, expected=24)
    assert found.verdict.verdict == "short by 1" and found.compared is None and not round_words(found)
    assert found.verdict.advice.action == "ask" and "Is this round finished?" in advice_words(found.verdict.advice)[0]
    found = check(count, expected=24, finished=True)
    assert found.verdict.advice.action == "take up"


def test_a_round_that_was_named_is_compared_with_and_the_next_one_told(make_count):
    found = check(make_count({18: 0.99, 17: 0.01}, rounds=3), plan=PLAN, round_number=3)
    assert (found.verdict.verdict, found.compared.round, found.fits) == ("agrees", 3, ())
    assert "(sc 2, inc) x 6" in advice_words(found.verdict.advice)[0]


def test_the_round_is_found_by_total_and_counted_rounds(make_count):
    found = check(make_count({12: 0.99, 11: 0.01}, rounds=2), plan=PLAN)
    assert found.compared.round == 2 and found.verdict.verdict == "agrees" and "round 2" in round_words(found)[0]


def test_rounds_that_hold_the_same_are_not_guessed_at(make_count):
    found = check(make_count({24: 0.99, 23: 0.01}, rounds=None), plan=PLAN)
    assert found.verdict.verdict == "agrees" and found.compared is None
    assert {fit.round for fit in found.fits} >= {4, 5, 6, 7} and "can't be told apart" in round_words(found)[0]


def test_a_count_that_fits_nothing_is_compared_with_nothing(make_count):
    found = check(make_count({90: 1.0}, rounds=14), plan=PLAN)
    assert found.verdict is None and found.fits == () and "No round of the plan fits" in round_words(found)[0]


def test_another_round_that_fits_is_named(make_count):
    found = check(make_count({12: 0.99, 11: 0.01}, rounds=2), plan=PLAN, round_number=3)
    assert found.verdict.verdict == "short by 6" and round_words(found) == ()
    assert advice_words(found.verdict.advice)[0].startswith("It holds exactly what round 2 should (12 stitches)")
    unsure = check(make_count({12: 0.7, 11: 0.3}, sure=False, rounds=2), plan=PLAN, round_number=3)
    assert "perhaps that round" in round_words(unsure)[0]


def test_a_round_that_was_guessed_may_be_the_next_one_half_done(make_count):
    growing = read_plan("R1: 6 sc in ring (6)\nR2: inc x 6 (12)\nR3: (sc 1, inc) x 6 (18)\nR4: (sc 2, inc) x 6 (24)")
    # Round 4 under way: some stitches of the new round and the rest of the 18 below add up to a number between.
    found = check(make_count({21: 0.99, 20: 0.01}, rounds=3), plan=growing)
    assert found.compared.round == 3 and found.verdict.verdict == "over by 3"
    assert found.verdict.advice.action == "ask"
    assert advice_words(found.verdict.advice)[0].startswith("It may be round 4, not finished yet")


def test_advice_lands_on_the_round_that_comes_next(make_count):
    at_once = check(make_count({23: 0.99, 24: 0.01}), plan=PLAN, round_number=7).verdict.advice
    later = check(make_count({23: 0.99, 24: 0.01}), plan=PLAN, round_number=6, since=1).verdict.advice
    assert at_once.adjusted == later.adjusted
    landed = read_plan(f"R7: sc in each st around (23)\nR8: {at_once.adjusted}").round(8)
    assert (landed.used, landed.stitches) == (23, 18)


def test_rounds_worked_since_with_increases_are_reckoned_with(make_count):
    # Round 3 holds 17 of 18; rounds 4 (increase) and 5 (even) were worked since: 23 of 24 stand now.
    advice = check(make_count({17: 0.99, 18: 0.01}), plan=PLAN, round_number=3, since=2).verdict.advice
    landed = read_plan(f"R5: sc in each st around (23)\nR6: {advice.adjusted}").round(6)
    assert (landed.used, landed.stitches) == (23, 24)
    beyond = check(make_count({17: 0.99, 18: 0.01}), plan=PLAN, round_number=3, since=20).verdict.advice
    alone = check(make_count({17: 0.99, 18: 0.01}), expected=18, since=2).verdict.advice
    assert beyond.adjusted is None and alone.adjusted is None


def test_rounds_are_written_out_in_uk_terms(make_count):
    # A US single crochet is a UK double crochet (common practice).
    agrees = check(make_count({18: 0.99, 17: 0.01}, rounds=3), plan=PLAN, round_number=3, uk=True).verdict.advice
    off = check(make_count({23: 0.99, 24: 0.01}), plan=PLAN, round_number=6, uk=True).verdict.advice
    assert "(dc 2, inc) x 6" in advice_words(agrees)[0]
    assert off.adjusted in advice_words(off)[0] and "dc" in off.adjusted and "sc" not in off.adjusted


@pytest.mark.parametrize("expected", [6, 23, 24, 500])
def test_the_count_never_sees_what_is_expected(make_count, expected):
    count = make_count({24: 0.9, 23: 0.1})
    before = (dict(count.posterior), count.marks.copy(), count.likely)
    check(count, expected=expected)
    check(count, plan=read_plan(f"R4: {expected}"), round_number=4)
    assert before[0] == dict(count.posterior) and (before[1] == count.marks).all() and before[2] == count.likely


@pytest.mark.parametrize(
    "options, words",
    [
        ({"expected": 24, "plan": PLAN}, "not both"),
        ({"round_number": 3}, "needs a plan"),
        ({"plan": PLAN, "round_number": 12}, "goes from 1 to 9"),
        ({"plan": read_plan(""), "round_number": 1}, "no rounds"),
        ({"expected": 24, "since": -1}, "negative"),
    ],
)
def test_what_can_not_be_compared_says_what_to_do(make_count, options, words):
    with pytest.raises(ValueError, match=words):
        check(make_count({24: 1.0}), **options)


def test_a_round_without_a_total_says_what_to_do():
    with pytest.raises(ValueError, match="write the total"):
        total_of(read_plan("R9: sc around"), 9)
