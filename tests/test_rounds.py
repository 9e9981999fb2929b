import pytest
from drawn import draw_round

from counter.centre import find_centre
from counter.piece import find_piece
from counter.rounds import BODY_DEPTHS, count_rounds
from counter.unwrap import unwrap


# Outside check: round totals of a flat circle worked in single crochet from a
# ring of 6 grow by 6 (published in a craft magazine's stitch guide, October
# 2020, and in a shop's online tutorial: 6 12 18 24 30).
@pytest.mark.parametrize("rounds, stitches", [(2, 12), (3, 18), (4, 24), (5, 30), (8, 48), (10, 60)])
def test_rounds_of_a_drawn_circle(rounds, stitches):
    pixels, _ = draw_round(stitches, rounds, radius=250)
    piece = find_piece(pixels)
    strip = unwrap(pixels, piece, find_centre(pixels, piece), BODY_DEPTHS, 720)
    assert count_rounds(strip.pixels, stitches)[0] == rounds


def test_probability_is_one():
    pixels, _ = draw_round(30, 5, radius=250)
    piece = find_piece(pixels)
    strip = unwrap(pixels, piece, piece.centre, BODY_DEPTHS, 720)
    _, probability = count_rounds(strip.pixels, 30)
    assert 0 < probability <= 1
