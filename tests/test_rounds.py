import numpy as np
import pytest
from drawn import draw_round, shown_piece

from counter.counting.centre import find_centre
from counter.counting.rounds import BODY_DEPTHS, count_rounds, ring_lines
from counter.counting.unwrap import unwrap


# Outside check: round totals of a flat circle worked in single crochet from a
# ring of 6 grow by 6 (published in a craft magazine's stitch guide, October
# 2020, and in a shop's online tutorial: 6 12 18 24 30).
@pytest.mark.parametrize("rounds, stitches", [(2, 12), (3, 18), (4, 24), (5, 30), (8, 48), (10, 60)])
def test_rounds_of_a_drawn_circle(rounds, stitches):
    pixels, _ = draw_round(stitches, rounds, radius=250)
    piece = shown_piece(pixels)
    strip = unwrap(pixels, piece, find_centre(pixels, piece), BODY_DEPTHS, 720)
    assert count_rounds(strip.pixels, stitches)[0] == rounds


def test_a_centre_that_is_a_little_off_does_not_matter():
    pixels, _ = draw_round(36, 6, radius=250)
    piece = shown_piece(pixels)
    x, y = piece.centre
    strip = unwrap(pixels, piece, (x + 15, y - 10), BODY_DEPTHS, 720)
    assert count_rounds(strip.pixels, 36)[0] == 6


def test_no_line_explains_more_than_there_is():
    strip = np.random.default_rng(1).normal(120, 20, (len(BODY_DEPTHS), 720))
    share = ring_lines(strip)
    assert ((share >= 0) & (share < 0.5)).all()
    lines = 120 + 20 * np.cos(2 * np.pi * 7.35 * BODY_DEPTHS)[:, None] + np.zeros(720)
    assert 0.5 < ring_lines(lines).max() <= 1
    assert np.argmax(ring_lines(lines)) == 6


def test_probability_is_a_probability():
    pixels, _ = draw_round(30, 5, radius=250)
    piece = shown_piece(pixels)
    strip = unwrap(pixels, piece, piece.centre, BODY_DEPTHS, 720)
    _, probability = count_rounds(strip.pixels, 30)
    assert 0 < probability <= 1
