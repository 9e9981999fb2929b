from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counter.basics import words
from counter.basics.answer import Count
from counter.comparing.slips import PLACES_AROUND, PLAIN_SLIPS, find_slips
from counter.plan import read_plan
from counter.showing.sentences import no_place_words

# A round of (2 single crochets, increase) six times makes 24 of 18: a flat circle's
# totals 12, 18, 24 are published (stitch guide of a craft magazine, October 2020).
ROUND = read_plan("R4: (sc 2, inc) x 6 (24)").round(4)
#: Numbers, from 1, of the stitches of that round that share a base.
PAIRS = [n for repeat in range(6) for n in (4 * repeat + 3, 4 * repeat + 4)]


def turns_apart(count: Count, first, second) -> float:
    """Angle between two places as seen from the centre, in turns, 0 to 0.5."""
    a, b = (np.arctan2(at[0] - count.centre[0], count.centre[1] - at[1]) / (2 * np.pi) for at in (first, second))
    return abs((a - b + 0.5) % 1 - 0.5)


def without(pairs, left_out: int) -> list[int]:
    """The pairs that are left where increase number `left_out`, from 0, was made as one stitch."""
    single = pairs[2 * left_out]
    return [n - (n > single) for n in pairs if n not in (single, single + 1)]


def with_doubled(pairs, at: int) -> list[int]:
    """The pairs where plain stitch number `at` was made twice."""
    return sorted([n + (n > at) for n in pairs] + [at, at + 1])


@pytest.mark.parametrize("left_out", range(6))
@pytest.mark.parametrize("start_seen", [True, False])
def test_an_increase_left_out_is_found_where_it_is(make_count, left_out, start_seen):
    count = make_count({23: 1.0}, paired=without(PAIRS, left_out), start_seen=start_seen)
    slips = find_slips(count, ROUND)
    assert [slip.what for slip in slips.places] == ["increase left out"]
    slip, where = slips.places[0], PAIRS[2 * left_out] - 1
    assert abs(slip.marks[0] - 1 - where) <= 1 and slip.probability > 0.8 and slips.right < 0.01
    assert turns_apart(count, slip.at, count.marks[where]) <= 1 / PLACES_AROUND


@pytest.mark.parametrize("at", [1, 5, 10, 13, 18])
def test_a_stitch_made_twice_is_found_where_it_is(make_count, at):
    count = make_count({25: 1.0}, paired=with_doubled(PAIRS, at))
    slip = find_slips(count, ROUND).places[0]
    assert slip.what == "increase too many" and slip.probability > 0.8
    assert turns_apart(count, slip.at, count.marks[at - 1]) <= 1 / PLACES_AROUND


def test_two_increases_left_out_are_two_places(make_count):
    once = without(PAIRS, 1)
    twice = without(once, 3)
    count = make_count({22: 1.0}, paired=twice)
    slips = find_slips(count, ROUND)
    assert [slip.what for slip in slips.places] == ["increase left out"] * 2
    assert {slip.hour for slip in slips.places} == {slip.hour for slip in slips.places} and len(slips.places) == 2


def test_a_round_with_all_its_increases_lacks_a_plain_stitch(make_count):
    # All six pairs are there, and one run of plain stitches is one short.
    count = make_count({23: 1.0}, paired=[n - (n > 9) for n in PAIRS])
    slips = find_slips(count, ROUND)
    assert slips.places[0].what == "stitch skipped"
    assert turns_apart(count, slips.places[0].at, count.marks[8]) <= 1 / PLACES_AROUND


def test_an_error_of_the_round_below_is_no_increases_fault(make_count):
    # All six increases are there, in their order, and one run of plain stitches is short: one was
    # skipped, or the round below had one fewer.
    plan = read_plan("R5: (sc 3, inc) x 6 (30)").round(5)
    slips = find_slips(make_count({29: 1.0}, paired=[2, 3, 7, 8, 12, 13, 17, 18, 22, 23, 26, 27]), plan)
    assert all(slip.what in PLAIN_SLIPS for slip in slips.places) and no_place_words(slips) in (
        "",
        words.NO_PLACE_PLAIN,
    )
    more = find_slips(make_count({25: 1.0}, paired=[n + (n > 9) for n in PAIRS]), ROUND)
    assert [slip.what for slip in more.places] == ["stitch too many"]


def test_a_picture_without_pairs_does_not_tell_where(make_count):
    plain = read_plan("R5: sc in each st around (24)\nR6: sc in each st around (24)").round(6)
    slips = find_slips(make_count({23: 1.0}, start_seen=False), plain)
    assert slips.places == () and no_place_words(slips) == "The photo doesn't show where."


def test_a_miscount_beside_the_start_is_weighed_against_a_slip(make_count):
    # The first mark is missing: every pair stands one mark early, and the count itself leans to 24.
    paired = [n - 1 for n in PAIRS]
    leaning = make_count({23: 0.51, 24: 0.49}, sure=False, paired=paired)
    certain = make_count({23: 1.0}, paired=paired)
    assert find_slips(leaning, ROUND).right > 0.7 > 0.01 > find_slips(certain, ROUND).right


def test_a_round_that_holds_what_it_should_has_no_places(make_count):
    slips = find_slips(make_count({24: 1.0}, paired=PAIRS), ROUND)
    assert slips.right > 0.99 and slips.places == () and "holds what it should" in no_place_words(slips)


@pytest.mark.parametrize("number", [12, 40])
def test_many_off_is_nobodys_place(make_count, number):
    slips = find_slips(make_count({number: 1.0}), ROUND)
    assert slips.places == () and "no single place" in no_place_words(slips)


@pytest.mark.parametrize("text", ["6, 12, 18, 24", "start 6, add 6", "R3: 18\nR4: inc 6 times evenly (24)"])
def test_increases_without_places_are_supposed_even(make_count, text):
    # Spread evenly, as is usual (common practice), and staggered from round to round or not.
    paired = [(n + 1) % 24 + 1 for n in without(PAIRS, 2)]
    paired = [min(n, 23) for n in paired if n <= 23]
    count = make_count({23: 1.0}, paired=paired)
    slip = find_slips(count, read_plan(text).round(4)).places[0]
    assert slip.what == "increase left out" and abs(slip.marks[0] - (PAIRS[4] + 2)) <= 1


def test_a_bare_total_does_not_tell_where(make_count):
    slips = find_slips(make_count({23: 1.0}, paired=PAIRS[:10]), read_plan("R4: 24").round(4))
    assert slips.places == () and "doesn't say how" in no_place_words(slips)


def test_a_decrease_left_out_of_a_round_is_a_stitch_too_many(make_count):
    slips = find_slips(make_count({19: 1.0}), read_plan("R8: (sc 2, dec) x 6 (18)").round(8))
    assert slips.places == () and "doesn't show" in no_place_words(slips)


def test_a_plan_without_a_total_says_so(make_count):
    unknown = read_plan("R4: sc around").round(4)
    assert unknown.stitches is None
    assert "doesn't say" in no_place_words(find_slips(make_count({23: 1.0}), unknown))


@settings(max_examples=30)
@given(st.integers(0, 23), st.integers(0, 5))
def test_turning_the_photo_turns_the_place(make_count, turn, left_out):
    """Metamorphic: with marks numbered from another stitch the same stitch is named."""
    count = make_count({23: 1.0}, paired=without(PAIRS, left_out), start_seen=False)
    turned = replace(count, marks=np.roll(count.marks, -turn, axis=0).copy())
    first, second = find_slips(count, ROUND).places[0], find_slips(turned, ROUND).places[0]
    assert first.at == pytest.approx(second.at) and first.probability == pytest.approx(second.probability)
    assert (first.marks[0] - 1 - turn) % 23 + 1 == second.marks[0]


@settings(max_examples=40)
@given(st.lists(st.floats(0, 1), min_size=23, max_size=23), st.booleans())
def test_whatever_the_picture_says_chances_are_chances(make_count, chances, start_seen):
    count = make_count({23: 1.0}, start_seen=start_seen)
    around = np.floor(np.arange(120) / 120 * 23).astype(int)
    slips = find_slips(replace(count, shared=np.array(chances)[around]), ROUND)
    assert 0 <= slips.right <= 1 and all(0.5 <= slip.probability <= 1 for slip in slips.places)
    assert len(slips.places) <= 1
