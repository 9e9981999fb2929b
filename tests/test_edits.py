import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.page.edits import Edits

turn = -np.arange(12) / 12 * 2 * np.pi
RING = Edits.of(100 * np.column_stack([np.sin(turn), -np.cos(turn)]))


@pytest.mark.parametrize("index", range(12))
def test_new_mark_goes_between_its_neighbours(index):
    middle = np.mean([RING.marks[index], RING.marks[(index + 1) % 12]], axis=0)
    edits = RING.add(*middle)
    assert len(edits.marks) == 13
    assert edits.marks[index + 1] == tuple(middle)


def test_remove_takes_that_mark():
    assert RING.remove(3).marks == RING.marks[:3] + RING.marks[4:]
    assert RING.remove(12) is RING and RING.remove(-1) is RING


steps = st.lists(st.one_of(st.integers(0, 15), st.tuples(st.floats(-120, 120), st.floats(-120, 120))), max_size=15)


@given(steps)
def test_undo_takes_everything_back_and_redo_brings_it_again(changes):
    edits = RING
    for change in changes:
        edits = edits.remove(change) if isinstance(change, int) else edits.add(*change)
    final, count = edits.marks, len(edits.before)
    for _ in range(count):
        edits = edits.undo()
    assert edits.marks == RING.marks and edits.undo() is edits
    for _ in range(count):
        edits = edits.redo()
    assert edits.marks == final and edits.redo() is edits
