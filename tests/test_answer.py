import numpy as np
import pytest

from counter.basics.answer import REFUSALS, Refusal, clock_position


def test_every_refusal_says_why_and_what_to_do():
    for code, (reason, hint) in REFUSALS.items():
        assert reason.endswith(".") and hint.endswith(".")
        assert Refusal(code).reason == reason
        assert Refusal(code, "3 x 3 pixels").reason.endswith("(3 x 3 pixels).")


def test_unknown_refusal_is_named():
    with pytest.raises(ValueError, match="unknown refusal"):
        Refusal("because")


@pytest.mark.parametrize(
    "at, hour", [((0, -1), 12), ((1, 0), 3), ((0, 1), 6), ((-1, 0), 9), ((0.5, -0.866), 1), ((-0.5, -0.866), 11)]
)
def test_clock(at, hour):
    assert clock_position(at, (0, 0)) == f"{hour} o'clock"


def test_count_is_frozen(make_count):
    count = make_count({24: 0.9, 25: 0.1}, sure=False)
    assert (count.stitches, count.probability, count.state) == (24, 0.9, "not sure")
    with pytest.raises(ValueError):
        count.marks[0] = 0
    with pytest.raises(AttributeError):
        count.sure = True
    assert np.shape(count.marks) == (24, 2)
