"""What of a round is still to be worked: reckoned by hand from the written rounds (counting stitches one by one)."""

import pytest

from counter import read_plan
from counter.plan.remaining import remaining_of

PLAN = """R1: 6 sc in ring
R2: inc x 6
R3: (sc 1, inc) x 6
R4: (sc 1, dec) x 6
R5: sc around
R6: 24"""


@pytest.mark.parametrize(
    ("number", "done", "rest"),
    [
        (2, 0, "inc x 6"),
        (2, 1, "1 sc in same st, inc x 5"),
        (2, 12, ""),
        (3, 3, "(sc 1, inc) x 5"),
        (3, 2, "1 sc in same st, (sc 1, inc) x 5"),
        (3, 16, "inc"),
        (4, 3, "dec, sc 1, dec, sc 1, dec, sc 1, dec, sc 1, dec"),
        (4, 4, "(sc 1, dec) x 4"),
        (5, 4, "sc 8"),
        (6, 4, ""),  # how it is worked isn't told
    ],
)
def test_next_stitches_of_a_round(number, done, rest):
    assert remaining_of(read_plan(PLAN).round(number), done) == rest


def test_next_stitches_in_uk_terms():
    assert remaining_of(read_plan(PLAN).round(3), 3, uk=True) == "(dc 1, inc) x 5"
