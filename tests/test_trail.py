"""What undo and redo go back to survives a reload."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from counter.basics import words
from counter.comparing.questions import questions_of
from counter.comparing.verdict import MOST_EXPECTED
from counter.notebook.codec import as_text, entry_of, from_text
from counter.page.edits import Edits
from counter.page.show import jpeg
from counter.page.trail import MOST_STEPS, MOST_TRAIL, followed, trail_of

SIZE = (640, 480)
DOUBTS = (
    (1, (320.0, 60.0), words.IN_DOUBT["two"], "two"),
    (13, (320.0, 420.0), words.IN_DOUBT["hidden"], "hidden"),
)


@pytest.fixture(scope="module")
def count(make_count):
    return make_count({24: 0.6, 25: 0.4}, sure=False, doubts=DOUBTS, size=SIZE)


def started(count):
    return Edits.of(count.marks, questions_of(count))


def come_back(count, edits, kept=SIZE, trail=None):
    """The edits as they come back, and what they looked like in pixels of the kept copy."""
    answers = tuple(edits.answers.get(k) for k in range(len(edits.questions)))
    entry = entry_of(count, kept, edits.kept, answers=answers, by_hand=edits.now.by_hand)
    entry, _ = from_text(as_text(entry), jpeg(Image.new("RGB", kept), 50))
    own = entry.count
    resumed = Edits.resumed(own.marks, questions_of(own), entry.marks, entry.answers, entry.by_hand)
    return followed(resumed, trail_of(edits, count.size, kept) if trail is None else trail, kept)


def looks(edits):
    """What a person could tell: names, places, whose they are, answers, by hand or not."""
    places = tuple((mark.name, round(mark.x, 2), round(mark.y, 2), mark.added) for mark in edits.marks)
    return places, edits.answers, edits.now.by_hand, edits.corrected


def way(edits, step, can):
    found = []
    while getattr(edits, can):
        edits = step(edits)
        found.append(looks(edits))
    return found


EDITS = st.lists(
    st.one_of(
        st.fixed_dictionaries({"do": st.just("add"), "x": st.integers(0, 639), "y": st.integers(0, 479)}),
        st.fixed_dictionaries({"do": st.just("remove"), "name": st.integers(-2, 30)}),
        st.fixed_dictionaries(
            {"do": st.just("move"), "name": st.integers(-2, 30), "x": st.integers(0, 639), "y": st.integers(0, 479)}
        ),
        st.fixed_dictionaries({"do": st.just("answer"), "question": st.integers(0, 1), "change": st.integers(-1, 1)}),
        st.fixed_dictionaries({"do": st.sampled_from(["undo", "undo", "redo", "restart"])}),
    ),
    max_size=25,
)


@given(EDITS)
def test_undo_and_redo_go_where_they_would_have_gone(count, steps):
    edits = started(count)
    for step in steps:
        edits = edits.apply(step, SIZE)
    back = come_back(count, edits)
    assert looks(back) == looks(edits)
    assert way(back, Edits.undo, "before") == way(edits, Edits.undo, "before")
    assert way(back, Edits.redo, "after") == way(edits, Edits.redo, "after")
    # A mark that comes next has a name of its own, wherever undo leads.
    new = back.add(3, 3).marks
    assert len({mark.name for mark in new}) == len(new)


def test_trail_is_that_of_the_smaller_photo(count):
    edits = started(count).add(100.0, 50.0).move(3, 601.0, 201.0)
    back = come_back(count, edits, (320, 240))
    assert back.undo().redo() == back
    moved = next(mark for mark in back.marks if mark.name == 3)
    assert (moved.x, moved.y) == (300.25, 100.25)
    first = back.undo().undo()
    assert not first.corrected and not first.before and first.redo().redo() == back


def test_trail_stays_small(count):
    edits = started(count)
    for k in range(3 * MOST_STEPS):
        edits = edits.move(k % 24, 1.0 + k, 7.0)
    trail = trail_of(edits, SIZE, SIZE)
    assert len(trail) < 7000
    assert len(come_back(count, edits).before) == MOST_STEPS
    big = Edits.of(np.arange(2.0 * MOST_EXPECTED).reshape(-1, 2) % 400)
    for _ in range(3):
        big = big.restart() if big.corrected else big.move(0, 1.0, 1.0)
        for name in range(1, 500):
            big = big.move(name, 5.0, float(name % 300))
    assert len(trail_of(big, SIZE, SIZE)) <= MOST_TRAIL


def test_nothing_to_undo_is_no_trail(count):
    assert trail_of(started(count), SIZE, SIZE) == ""


def spoilt(trail, **what):
    return json.dumps(json.loads(trail) | what)


STEP = [0, 1, [], [], True]
MARK = [40, 5.0, 5.0]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda trail: "marks",
        lambda trail: "7",
        lambda trail: "[" * 50_000,
        lambda trail: trail + " " * MOST_TRAIL,
        lambda trail: spoilt(trail, names=[]),
        lambda trail: spoilt(trail, names=list(range(24))[::-1]),
        lambda trail: spoilt(trail, names=[*range(23), 0]),
        lambda trail: spoilt(trail, names=[*range(23), "x"]),
        lambda trail: spoilt(trail, back=None),
        lambda trail: spoilt(trail, back=[STEP] * (MOST_STEPS + 1)),
        lambda trail: spoilt(trail, back=[STEP[:4]]),
        lambda trail: spoilt(trail, back=[7]),
        lambda trail: spoilt(trail, back=[[0, 22, [], [], True]]),
        lambda trail: spoilt(trail, back=[[-1, 1, [], [], True]]),
        lambda trail: spoilt(trail, back=[[0, -1, [], [], True]]),
        lambda trail: spoilt(trail, back=[[0, 30, [], [], True]]),
        lambda trail: spoilt(trail, back=[[0, True, [], [], True]]),
        lambda trail: spoilt(trail, back=[[0, 0, [MARK, MARK], [], True]]),
        lambda trail: spoilt(trail, back=[[0, 0, [[40, 5.0]], [], True]]),
        lambda trail: spoilt(trail, back=[[0, 0, [[4, 5.0, 5.0]], [], True]]),
        lambda trail: spoilt(trail, back=[[0, 0, [[10**9, 5.0, 5.0]], [], True]]),
        lambda trail: spoilt(trail, back=[[0, 0, [[40, 1e9, 5.0]], [], True]]),
        lambda trail: spoilt(trail, back=[[0, 0, [[40, 10**400, 5.0]], [], True]]),
        lambda trail: spoilt(trail, back=[[0, 0, [[40, float("nan"), 5.0]], [], True]]),
        lambda trail: spoilt(trail, back=[[0, 0, [[40, "5", 5.0]], [], True]]),
        lambda trail: spoilt(trail, back=[[0, 1, [], [[0, 5]], True]]),
        lambda trail: spoilt(trail, back=[[0, 1, [], [[7, 0]], True]]),
        lambda trail: spoilt(trail, back=[[0, 1, [], [[0, 0], [0, 1]], True]]),
        lambda trail: spoilt(trail, back=[[0, 1, [], [], 1]]),
    ],
)
def test_trail_that_makes_no_sense_is_left(count, spoil):
    edits = started(count).remove(3).add(3.0, 3.0)
    trail = trail_of(edits, SIZE, SIZE)
    assert come_back(count, edits).before
    back = come_back(count, edits, trail=spoil(trail))
    assert looks(back)[1:] == looks(edits)[1:] and not back.before and not back.after
