import inspect

import cv2
import numpy as np
import pytest
from drawn import draw_round

from counter.answer import Count, Refusal
from counter.count import count_photo


def as_png(pixels):
    return cv2.imencode(".png", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))[1].tobytes()


# Outside check: a flat circle of single crochet holds 6, 12, 18, 24, 30, ...
# (published in a craft magazine's stitch guide, October 2020, and in a shop's
# online tutorial).
@pytest.mark.parametrize("rounds", [2, 3, 4, 5, 8, 10])
def test_drawn_rounds_are_counted(rounds):
    pixels, marks = draw_round(6 * rounds, rounds, size=(900, 900), radius=380)
    count = count_photo(as_png(pixels))
    assert isinstance(count, Count)
    assert (count.stitches, count.rounds) == (6 * rounds, rounds)
    width = 2 * np.pi * 380 / (6 * rounds)
    nearest = np.linalg.norm(count.marks[:, None] - marks, axis=2).min(axis=0)
    assert (nearest < 0.35 * width).mean() > 0.95


def test_answer_holds_together():
    pixels, _ = draw_round(24, 4)
    count = count_photo(as_png(pixels))
    assert sum(count.posterior.values()) == pytest.approx(1, abs=0.01)
    assert count.marks.shape == (count.stitches, 2)
    assert count.stitches == count.likely[0]
    assert count.state == ("sure" if count.sure else "not sure")
    assert bool(count.reason) != count.sure


def test_marks_run_in_working_order():
    pixels, _ = draw_round(24, 4)
    for left_handed, sign in ((False, -1), (True, 1)):
        marks = count_photo(as_png(pixels), left_handed=left_handed).marks
        x, y = (marks - marks.mean(axis=0)).T
        # With y down, a positive signed area runs clockwise on the screen.
        assert np.sign((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) == sign


def test_count_is_never_told_the_expected_total():
    assert list(inspect.signature(count_photo).parameters) == ["photo", "left_handed"]


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_count_does_not_depend_on_how_the_photo_is_held(turns):
    pixels, _ = draw_round(30, 5, size=(720, 640), centre=(340, 310))
    upright = count_photo(as_png(pixels))
    turned = count_photo(as_png(np.ascontiguousarray(np.rot90(pixels, turns))))
    assert turned.stitches == upright.stitches


def test_bare_table_is_refused():
    noise = np.random.default_rng(5).normal(170, 5, (500, 600, 3))
    refusal = count_photo(as_png(np.clip(noise, 0, 255).astype(np.uint8)))
    assert isinstance(refusal, Refusal)
    assert refusal.reason and refusal.hint


def test_missing_file_is_refused(tmp_path):
    assert count_photo(tmp_path / "none.jpg").code == "missing"
