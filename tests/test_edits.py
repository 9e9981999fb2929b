import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.page.edits import Edits, persons_count
from counter.verdict import compare

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
