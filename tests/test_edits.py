import inspect
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.basics.answer import DOUBTS
from counter.comparing.questions import questions_of
from counter.comparing.verdict import compare
from counter.counting import seam
from counter.counting.loop import doubts
from counter.page.edits import Edits, count_so_far, persons_count
from counter.showing.sentences import answers_words, question_words

turn = -np.arange(12) / 12 * 2 * np.pi
RING = Edits.of(100 + 90 * np.column_stack([np.sin(turn), -np.cos(turn)]))
SIZE = (200, 200)


def names(edits):
    return [mark.name for mark in edits.marks]


@pytest.mark.parametrize("index", range(12))
@pytest.mark.parametrize("out", [0.9, 1.0, 1.1])
def test_new_mark_goes_between_its_neighbours(index, out):
    middle = 100 + out * (np.mean([RING.points[index], RING.points[(index + 1) % 12]], axis=0) - 100)
    edits = RING.add(*middle)
    assert names(edits) == [*range(index + 1), 12, *range(index + 1, 12)]
    assert edits.points[index + 1] == pytest.approx(middle)
    assert edits.marks[index + 1].added and edits.corrected


def test_remove_takes_that_mark_and_the_others_keep_their_names():
    assert names(RING.remove(3)) == [0, 1, 2, *range(4, 12)]
    assert RING.remove(12) is RING and RING.remove(-1) is RING


def test_three_marks_always_stay():
    edits = RING
    for name in range(12):
        edits = edits.remove(name)
    assert names(edits) == [9, 10, 11]


def test_name_of_a_removed_mark_is_not_used_again():
    edits = RING.add(100, 5).remove(12).add(100, 5)
    assert 13 in names(edits) and 12 not in names(edits)


def test_move_keeps_the_order():
    edits = RING.move(4, 50.0, 60.0)
    assert names(edits) == list(range(12))
    assert tuple(edits.points[4]) == (50.0, 60.0)
    assert RING.move(4, *RING.points[4]) is RING


def test_back_to_the_first_marks_and_undo_of_that():
    edits = RING.remove(1).remove(2)
    again = edits.restart()
    assert again.marks == RING.marks and not again.corrected
    assert again.undo().marks == edits.marks
    assert RING.restart() is RING


@pytest.mark.parametrize(
    "edit",
    [
        {},
        {"do": "burn"},
        {"do": "add", "x": 1},
        {"do": "add", "x": math.nan, "y": 2},
        {"do": "add", "x": "1", "y": 2},
        {"do": "add", "x": True, "y": 2},
        {"do": "remove", "name": "3"},
        {"do": "remove", "name": [3]},
        {"do": "move", "name": 99, "x": 1, "y": 2},
        {"do": "undo"},
        {"do": "__class__"},
    ],
)
def test_request_without_sense_changes_nothing(edit):
    assert RING.apply(edit, SIZE) is RING


def test_place_outside_the_photo_is_put_on_its_edge():
    edits = RING.apply({"do": "move", "name": 0, "x": -5, "y": 1e9}, SIZE)
    assert tuple(edits.points[0]) == (0.0, 199.0)


place = st.floats(-50, 250)
requests = st.lists(
    st.one_of(
        st.fixed_dictionaries({"do": st.just("add"), "x": place, "y": place}),
        st.fixed_dictionaries({"do": st.just("remove"), "name": st.integers(-1, 20)}),
        st.fixed_dictionaries({"do": st.just("move"), "name": st.integers(-1, 20), "x": place, "y": place}),
        st.just({"do": "restart"}),
    ),
    max_size=15,
)


@given(requests)
def test_undo_takes_everything_back_and_redo_brings_it_again(changes):
    edits = RING
    for change in changes:
        edits = edits.apply(change, SIZE)
    final, steps = edits.marks, len(edits.before)
    for _ in range(steps):
        edits = edits.apply({"do": "undo"}, SIZE)
    assert edits.marks == RING.marks and edits.undo() is edits
    for _ in range(steps):
        edits = edits.apply({"do": "redo"}, SIZE)
    assert edits.marks == final and edits.redo() is edits


def test_new_edit_forgets_what_was_undone():
    assert not RING.remove(1).undo().remove(2).after


def test_persons_count_is_compared_without_doubt(make_count):
    count = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=[(5, (320.0, 120.0), "narrow")])
    edits = Edits.of(count.marks).remove(4)
    counted = persons_count(count, edits)
    assert counted.stitches == 23 and counted.sure and counted.probability == 1
    assert compare(counted, 23).verdict == "agrees"
    verdict = compare(counted, 25)
    assert (verdict.verdict, verdict.off_by, verdict.probability) == ("short by 2", -2, 1.0)
    # The place in doubt lies at the top, where mark 1 stands.
    assert [doubt.mark for doubt in verdict.look] == [1]
    assert count.stitches == 24  # the photo's own count stays as it was


# Questions --------------------------------------------------------------------

#: Every kind of doubt, and how its answers change the number.
KINDS = {
    "seam": {0, -1},
    "end": {0, -1},
    "two": {0, 1},
    "wide": {0, 1},
    "narrow": {0, -1},
    "hidden": {0, -1, 1},
    "all hidden": {0, -1, 1},
}


def in_doubt(kind, at=(320.0, 120.0)):
    """A place in doubt as a count has it."""
    return 1, at, DOUBTS[kind], kind


def test_every_kind_of_doubt_has_its_question():
    assert KINDS.keys() == DOUBTS.keys()
    told = "".join(inspect.getsource(room) for room in (doubts, seam))
    assert all(f'"{kind}"' in told for kind in KINDS)


@pytest.mark.parametrize(("kind", "changes"), KINDS.items())
def test_question_fits_the_kind(make_count, kind, changes):
    count = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=[in_doubt(kind)])
    (question,) = questions_of(count)
    assert question.changes == changes and question_words(question).endswith("?")
    assert len({said for said, _ in answers_words(question)}) == len(changes)


@pytest.mark.parametrize(
    ("posterior", "changes"),
    [({24: 0.6, 23: 0.4}, {0, -1}), ({24: 0.6, 25: 0.4}, {0, 1}), ({24: 0.5, 23: 0.25, 25: 0.25}, {0, 1, -1})],
)
def test_question_at_the_start_of_the_round_goes_by_the_photos_numbers(make_count, posterior, changes):
    (question,) = questions_of(make_count(posterior, sure=False, doubts=[in_doubt("seam")]))
    assert question.changes == changes


def test_sure_count_asks_nothing_and_an_unsure_one_four_things_at_most(make_count):
    doubts = [in_doubt("two", (320.0, 120.0 + n)) for n in range(1, 7)]
    assert questions_of(make_count({24: 1.0}, doubts=doubts)) == ()
    assert len(questions_of(make_count({24: 0.6, 23: 0.4}, sure=False, doubts=doubts))) == 4


def asked(make_count, posterior, *doubts):
    """A count with questions at marks (whole numbers) or between two (halves), and its edits."""
    marks = make_count(posterior, sure=False).marks
    places = [in_doubt(kind, tuple((marks[int(k) - 1] + marks[int(k + 0.5) - 1]) / 2)) for k, kind in doubts]
    count = make_count(posterior, sure=False, doubts=places)
    return count, Edits.of(count.marks, questions_of(count))


def test_one_stitch_becomes_two_in_its_own_room(make_count):
    count, edits = asked(make_count, {24: 0.6, 25: 0.4}, (5, "two"))
    two = edits.answer(0, 1)
    assert len(two.marks) == 25 and names(two)[3:6] == [3, 4, -1] and two.marks[5].added
    pair = two.points[4:6]
    assert pair.mean(axis=0) == pytest.approx(count.marks[4], abs=2)  # the rim is bent
    assert two.settled and persons_count(count, two).stitches == 25
    assert two.undo().marks == edits.marks and not two.undo().settled


def test_two_stitches_become_one_between_them(make_count):
    count, edits = asked(make_count, {24: 0.6, 23: 0.4}, (5.5, "end"))
    one = edits.answer(0, -1)
    assert len(one.marks) == 23
    (moved,) = [mark for mark, own in zip(one.marks, [m for m in edits.marks if m.name in names(one)], strict=True)
                if mark != own]  # fmt: skip
    assert (moved.x, moved.y) == pytest.approx(count.marks[4:6].mean(axis=0), abs=0.001)


def test_loop_loses_its_mark_and_a_hidden_stitch_gets_one(make_count):
    _, edits = asked(make_count, {24: 0.6, 23: 0.4}, (1, "seam"))
    assert names(edits.answer(0, -1)) == list(range(1, 24))
    count, edits = asked(make_count, {24: 0.6, 25: 0.4}, (8.5, "seam"))
    more = edits.answer(0, 1)
    assert names(more)[7:10] == [7, -1, 8]
    assert tuple(more.points[8]) == pytest.approx(count.doubts[0].at)


def test_answer_can_be_changed_and_taken_back(make_count):
    _, edits = asked(make_count, {24: 0.6, 23: 0.4}, (1, "seam"), (9, "two"))
    first = edits.answer(0, -1).answer(1, 1)
    other = first.answer(0, 0)
    assert other.answers == {0: 0, 1: 1} and len(other.marks) == 25
    assert other.undo().now == first.now and other.undo().undo().answers == {0: -1}
    assert first.restart().answers == {} and first.restart().marks == edits.marks
    assert edits.answer(0, 1) is edits and edits.answer(2, 0) is edits and edits.answer(-1, 0) is edits
    assert first.answer(0, -1) is first
    # A mark that an answer put and a hand took away: the place is answered, the other one is as open as before.
    taken = edits.answer(1, 1).remove(-2)
    assert taken.answers == {1: 0} and names(taken) == names(edits) and not taken.settled
    assert taken.answer(0, -1).settled


def test_correction_by_hand_settles_only_its_own_place(make_count):
    # Marks 1 and 9 are in doubt, mark 15 is not.
    count, edits = asked(make_count, {24: 0.5, 23: 0.3, 25: 0.2}, (1, "seam"), (9, "two"))
    elsewhere = edits.remove(14)
    assert not elsewhere.settled and elsewhere.answers == {}
    then = count_so_far(count, elsewhere)
    # All numbers are one lower, as likely as they were.
    assert then.posterior == pytest.approx({23: 0.5, 22: 0.3, 24: 0.2}) and then.likely == (23, 22, 24)
    assert not then.sure and then.stitches == len(then.marks) == 23
    assert [doubt.at for doubt in then.doubts] == [doubt.at for doubt in count.doubts]
    # The questions can still be answered, and the correction stays.
    answered = elsewhere.answer(1, 1)
    assert len(answered.marks) == 24 and 14 not in names(answered) and not answered.settled
    assert answered.answer(1, 0).marks == elsewhere.marks
    assert elsewhere.answer(0, -1).answer(0, 0).marks == elsewhere.marks
    assert answered.answer(0, 0).settled
    # By hand at the place in doubt itself: that is its answer.
    assert edits.remove(0).answers == {0: -1} and edits.remove(0).answer(1, 0).settled
    x, y = np.mean([count.marks[8], count.marks[9]], axis=0)
    assert edits.add(x, y).answers == {1: 1}
    # Where nothing was asked, a correction is the person's count.
    assert Edits.of(count.marks).remove(3).settled


def test_two_that_had_become_one_are_two_again_whatever_was_done_elsewhere(make_count):
    _, edits = asked(make_count, {24: 0.6, 23: 0.4}, (5.5, "end"), (12, "two"))
    one = edits.remove(20).answer(0, -1)
    assert len(one.marks) == 22
    assert one.answer(0, 0).marks == edits.remove(20).marks


def test_no_question_beyond_the_frame(make_count):
    doubts = [in_doubt("two", (700.0, 320.0)), in_doubt("two", (320.0, -0.5)), in_doubt("two")]
    (question,) = questions_of(make_count({24: 0.6, 25: 0.4}, sure=False, doubts=doubts))
    assert question.doubt.at == doubts[2][1]


def test_answers_of_the_browser(make_count):
    _, edits = asked(make_count, {24: 0.6, 23: 0.4}, (1, "seam"))
    assert edits.apply({"do": "answer", "question": 0, "change": -1}, (640, 640)).answers == {0: -1}
    for question, change in ((True, 0), (0, "0"), (0, 0.0), (None, 0), (9, 0), (0, 7)):
        assert edits.apply({"do": "answer", "question": question, "change": change}, (640, 640)) is edits


def test_posterior_after_an_answer_by_hand_reckoning(make_count):
    # Bayes' rule worked on paper: two places at either of which a stitch may be too many. "As marked" at the first:
    # 24 stays (0.5 x 1), 23 is halved (0.4 x 1/2), 22 is ruled out (0.1 x 0); their sum is 0.7.
    loops = ((1, "seam"), (9.5, "end"))
    count, edits = asked(make_count, {24: 0.5, 23: 0.4, 22: 0.1}, *loops)
    once = count_so_far(count, edits.answer(0, 0))
    assert once.posterior == pytest.approx({24: 0.5 / 0.7, 23: 0.2 / 0.7})
    assert not once.sure and once.likely == (24, 23) and [doubt.at for doubt in once.doubts] == [count.doubts[1].at]
    # "The loop": 24 is ruled out, 23 by half (0.2), 22 for certain (0.1).
    count_then = count_so_far(count, edits.answer(0, -1))
    assert count_then.posterior == pytest.approx({23: 2 / 3, 22: 1 / 3}) and len(count_then.marks) == 23
    assert not edits.answer(0, 0).settled and edits.answer(0, 0).answer(1, 0).settled
    assert count_so_far(count, edits) is count


@given(
    st.dictionaries(st.integers(-3, 3), st.floats(0.001, 1), min_size=2).filter(lambda d: 0 in d),
    st.lists(st.sampled_from(sorted(KINDS)), min_size=1, max_size=4),
    st.lists(st.integers(-1, 1), min_size=4, max_size=4),
)
def test_whatever_is_answered_is_a_count(make_count, weights, kinds, answers):
    weights[0] = max(weights.values()) * 1.1
    whole = sum(weights.values())
    posterior = {24 + k: v / whole for k, v in sorted(weights.items())}
    count, edits = asked(make_count, posterior, *((3 + 5 * k, kind) for k, kind in enumerate(kinds)))
    for k, change in enumerate(answers[: len(kinds)]):
        edits = edits.answer(k, change)
    then = count_so_far(count, edits)
    assert then.stitches == len(edits.marks) and sum(then.posterior.values()) == pytest.approx(1)
    assert persons_count(count, edits).stitches == len(edits.marks)
