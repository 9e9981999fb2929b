import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.basics.answer import InProgress
from counter.comparing.which import LEAST_NAMED_PROBABILITY, counted_chance, fitting_rounds
from counter.plan import read_plan
from counter.showing.sentences import which_words

# Totals: a flat circle of single crochet holds 6, 12, 18, 24, 30 (published in a
# craft magazine's stitch guide, October 2020, and in a shop's online tutorial);
# rounds without increases keep the total (common practice).
CIRCLE = read_plan("6, 12, 18, 24, 30, 36")
HEAD = read_plan("6, 12, 18, 24, 24, 24, 18, 12")


def test_the_total_finds_the_round(make_count):
    fits = fitting_rounds(CIRCLE, make_count({24: 0.97, 23: 0.03}, rounds=4))
    assert (fits[0].round, fits[0].stitches, fits[0].off, fits[0].rounds_off) == (4, 24, 0, 0)
    assert fits[0].probability > 0.98 and len(fits) == 1
    assert which_words(fits) == "Most likely round 4 (24 stitches by the plan; over 99%)."


@pytest.mark.parametrize("counted, off", [(23, -1), (25, 1), (22, -2)])
def test_a_round_that_is_off_is_still_found(make_count, counted, off):
    fits = fitting_rounds(CIRCLE, make_count({counted: 1.0}, rounds=4))
    assert (fits[0].round, fits[0].off) == (4, off) and fits[0].probability > 0.9
    assert which_words(fits).endswith(f"The photo shows {abs(off)} {'more' if off > 0 else 'fewer'}.")


def test_counted_rounds_decide_between_two_totals_that_fit_alike(make_count):
    posterior = {27: 1.0}
    plan = read_plan("6, 12, 18, 24, 30")
    assert fitting_rounds(plan, make_count(posterior, rounds=5))[0].round == 5
    assert fitting_rounds(plan, make_count(posterior, rounds=4))[0].round == 4
    without = fitting_rounds(plan, make_count(posterior, rounds=None))
    assert [fit.round for fit in without] == [4, 5] and without[0].rounds_off is None
    assert without[0].probability == pytest.approx(without[1].probability)


def test_counted_rounds_tell_the_way_out_from_the_way_back(make_count):
    fits = fitting_rounds(HEAD, make_count({18: 1.0}, rounds=3))
    assert [fit.round for fit in fits] == [3, 7] and fits[0].probability > 3 * fits[1].probability
    assert which_words(fits) == (
        f"Most likely round 3 (18 stitches by the plan; {fits[0].probability:.0%}). "
        "Others hold 18, too; only the rounds counted in the photo speak for this one, and they are off in about one "
        "photo of four: count them yourself, or say which it is."
    )


def test_equal_rounds_are_said_to_be_indistinct(make_count):
    fits = fitting_rounds(HEAD, make_count({24: 1.0}, rounds=None))
    assert [fit.round for fit in fits] == [4, 5, 6]
    assert which_words(fits) == (
        "Rounds 4, 5 and 6 all hold 24 stitches and can't be told apart in this photo: "
        "count the rounds, or say which one it is."
    )
    two = fitting_rounds(read_plan("6, 12, 12"), make_count({12: 1.0}, rounds=None))
    assert which_words(two).startswith("Rounds 2 and 3 both hold 12 stitches")


def test_a_count_that_is_not_sure_names_more_than_one_round(make_count):
    count = make_count({24: 0.5, 26: 0.45, 25: 0.05}, sure=False, rounds=None)
    fits = fitting_rounds(read_plan("R4: 24\nR5: 26\nR6: 28"), count)
    assert {fit.round for fit in fits} == {4, 5}
    assert which_words(fits).endswith("It may also be round 5.")


def test_nothing_is_forced(make_count):
    fits = fitting_rounds(CIRCLE, make_count({90: 1.0}, rounds=12))
    assert fits == ()
    assert which_words(fits) == "No round of the plan fits what was counted: it may be unfinished, or another piece."
    assert fitting_rounds(read_plan("no rounds here"), make_count({24: 1.0})) == ()


def test_a_round_in_progress_is_the_one_on_the_hook(make_count):
    # 12 of 24 stitches of round 4 worked into, with an increase in every fourth: 15 made, 12 left.
    working = InProgress(15, 12, (320.0, 100.0))
    fits = fitting_rounds(CIRCLE, make_count({27: 1.0}, rounds=4, in_progress=working))
    assert fits[0].round == 5 and fits[0].rounds_off == 0 and fits[0].probability > 0.9


@given(
    counted=st.integers(3, 80), rounds=st.none() | st.integers(1, 14), share=st.floats(0.5, 1),
    totals=st.lists(st.integers(1, 60), min_size=1, max_size=12),
)  # fmt: skip
def test_probabilities_add_up_to_at_most_one(make_count, counted, rounds, share, totals):
    count = make_count({counted: share, counted + 1: 1 - share}, rounds=rounds)
    before = (dict(count.posterior), count.stitches, count.rounds)
    fits = fitting_rounds(read_plan(", ".join(map(str, totals))), count)
    assert sum(fit.probability for fit in fits) <= 1 + 1e-9
    assert all(fit.probability >= LEAST_NAMED_PROBABILITY for fit in fits)
    assert list(fits) == sorted(fits, key=lambda fit: (-fit.probability, fit.round))
    assert (dict(count.posterior), count.stitches, count.rounds) == before
    assert which_words(fits).endswith(".")


@pytest.mark.parametrize("complete, even", [(5, 0), (14, 0), (8, 3), (12, 6), (1, 1)])
def test_chances_of_all_counted_rounds_add_up_to_one(complete, even):
    whole = sum(counted_chance(counted, complete, even) for counted in range(complete + 20))
    # What may lie below no rounds at all is lost.
    assert 0.97 < whole < 1.01


def test_walls_hide_rounds():
    assert counted_chance(5, 5) > counted_chance(4, 5) > counted_chance(1, 5) > 0
    assert max(range(12), key=lambda counted: counted_chance(counted, 9, 4)) == 6
