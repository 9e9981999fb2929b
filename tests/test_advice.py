import pytest

from counter.comparing.advice import ACTIONS, advise
from counter.comparing.remarks import Remark
from counter.comparing.slips import Slip, Slips
from counter.plan import read_plan
from counter.showing.sentences import advice_words

# The rules are those of the trade (common practice): one or two off in a plain round
# is taken up; three or more off is ripped back; what must match a twin is ripped back.
PLAN = read_plan(
    "R4: (sc 2, inc) x 6 (24)\nR5: (sc 3, inc) x 6 (30)\nR6-7: sc in each st around (30)\nR8: (sc 3, dec) x 6 (24)"
)
THERE = Slips(0.1, 23, (Slip("increase left out", (15, 15), (100.0, 100.0), 4, 0.9),))
UNKNOWN = Slips(0.1, 23, (), Remark.of("no place: not seen"))


def given_round(number, off, **more):
    written = PLAN.round(number)
    return advise(
        off,
        written.stitches + off,
        written.stitches,
        written=written,
        following=PLAN.round(number + 1),
        **{"standing": written.stitches + off, "finished": True} | more,
    )


@pytest.mark.parametrize("off", [-2, -1, 1, 2])
@pytest.mark.parametrize("number", [4, 5, 6, 7])
def test_one_or_two_off_is_made_up_for_and_lands_on_the_total(number, off):
    advice = given_round(number, off)
    following = PLAN.round(number + 1)
    assert advice.action == "take up" and advice.adjusted in advice_words(advice)[0]
    have = PLAN.round(number).stitches + off
    read = read_plan(f"R{number}: sc in each st around ({have})\nR{number + 1}: {advice.adjusted}")
    landed = read.round(number + 1)
    assert (landed.used, landed.stitches) == (have, following.stitches) and not read.findings


def test_without_a_plan_the_next_round_comes_back_to_the_total():
    advice = advise(-1, 23, 24, standing=23, finished=True)
    landed = read_plan(f"R4: sc in each st around (23)\nR5: {advice.adjusted}").round(5)
    assert (advice.action, landed.stitches) == ("take up", 24)


@pytest.mark.parametrize("off", [-3, 3, -7, 12])
def test_three_or_more_off_is_ripped_back(off):
    advice = given_round(5, off)
    assert advice.action == "rip to the round" and advice.adjusted is None
    assert "to the end of round 4" in advice_words(advice)[0]


def test_a_twin_is_ripped_back_to_the_place():
    advice = given_round(4, -1, slips=THERE, twin=True, twin_holds=24)
    assert advice.action == "rip to the place"
    assert "rip back to mark 15 (9 stitches)" in advice_words(advice)[0]


def test_a_twin_is_ripped_back_to_a_round_where_the_place_is_unknown_or_below():
    for more in ({"slips": UNKNOWN}, {"slips": THERE, "since": 2}):
        advice = given_round(5, -1, twin=True, twin_holds=30, **more)
        assert advice.action == "rip to the round"
    assert "rip back 3 rounds" in advice_words(given_round(7, -1, twin=True, since=2))[0]


def test_the_place_is_named_with_its_probability():
    words = " ".join(advice_words(given_round(4, -1, slips=THERE)))
    assert "an increase was made as one plain stitch near 4 o'clock, at mark 15 (81%)" in words


def test_a_count_that_may_be_off_itself_accuses_nobody():
    unsettled = Slips(0.8, 24, THERE.places)
    words = " ".join(advice_words(given_round(4, -1, slips=unsettled)))
    assert "The count may be off by one itself" in words and "Most likely" not in words


def test_where_the_photo_does_not_tell_the_usual_suspects_are_named():
    short, over = (" ".join(advice_words(given_round(4, off, slips=UNKNOWN))) for off in (-1, 1))
    assert "doesn't show where" in short and "first stitch was skipped" in short
    assert "joining slip stitch" in over


@pytest.mark.parametrize("off", [-9, -2, -1, 1, 2, 5])
@pytest.mark.parametrize("twin", [True, False])
@pytest.mark.parametrize("slips", [None, THERE, UNKNOWN])
def test_nothing_is_ripped_without_a_look(off, twin, slips):
    advice = given_round(5, off, twin=twin, slips=slips)
    assert advice.action in ACTIONS
    assert advice_words(advice)[-1] == "Check by eye and finger before you rip anything back."


def test_where_the_start_is_not_seen_no_number_of_stitches_is_claimed():
    words = advice_words(given_round(4, -1, slips=THERE, twin=True, start_seen=False))[0]
    assert "rip back to mark 15 and work" in words and "look at mark 15 by eye" in words


def test_without_what_stands_on_the_hook_the_next_round_is_not_written_out():
    advice = given_round(4, -1, standing=None)
    assert advice.adjusted is None and "work it with 1 stitch more" in advice_words(advice)[0]


@pytest.mark.parametrize("what", ["stitch skipped", "stitch too many", "increase left out"])
def test_sentences_end_well(what):
    there = Slips(0.8, 24, (Slip(what, (15, 15), (0.0, 0.0), 4, 0.9),))
    for slips in (there, Slips(0.1, 23, there.places)):
        assert not any(",." in words or ".." in words for words in advice_words(given_round(4, -1, slips=slips)))


def test_a_round_that_agrees_needs_no_advice():
    with pytest.raises(ValueError, match="off"):
        advise(0, 24, 24)
    with pytest.raises(ValueError, match="negative"):
        advise(1, 25, 24, since=-1)
