import numpy as np
import pytest
from drawn import draw_round, only_piece, shown_piece

from counter.counting.finder import find_all, find_around
from counter.counting.piece import Piece


@pytest.mark.parametrize("squash, lean", [(1.0, 0.0), (0.85, 0.4), (0.8, 1.9)])
@pytest.mark.parametrize("centre, radius", [((320, 300), 220), ((430, 400), 110), ((150, 500), 90)])
def test_outline_follows_a_drawn_ellipse(squash, lean, centre, radius):
    pixels, _ = draw_round(centre=centre, radius=radius, squash=squash, lean=lean)
    piece = only_piece(pixels)
    assert isinstance(piece, Piece)
    turned = np.array([[np.cos(lean), np.sin(lean)], [-np.sin(lean), np.cos(lean)]])
    along = (piece.outline - centre) @ turned.T / (radius, radius * squash)
    assert np.abs(np.linalg.norm(along, axis=1) - 1).max() < 0.06
    assert piece.centre == pytest.approx(centre, abs=0.02 * radius)
    assert piece.roundness == pytest.approx(squash, abs=0.03)
    assert piece.radius == pytest.approx(radius * np.sqrt(squash), rel=0.03)


def test_to_circle_undoes_the_tilt():
    pixels, _ = draw_round(squash=0.8, lean=0.7)
    piece = shown_piece(pixels)
    flat = (piece.outline - piece.centre) @ piece.to_circle.T
    assert np.linalg.norm(flat, axis=1).std() < 0.02


@pytest.mark.parametrize("yarn", [(20, 20, 28), (245, 243, 240), (60, 90, 160)])
def test_colour_of_the_yarn_does_not_matter(yarn):
    pixels, _ = draw_round(yarn=yarn, ground=(150, 140, 110))
    piece = only_piece(pixels)
    assert isinstance(piece, Piece)
    assert piece.radius == pytest.approx(220, rel=0.03)


def test_thin_tail_is_left_out():
    pixels, _ = draw_round(centre=(320, 300), radius=150)
    pixels[100:160, 316:324] = (150, 60, 70)
    pixels[20:110, 316:324] = (150, 60, 70)
    piece = only_piece(pixels)
    assert piece.radius == pytest.approx(150, rel=0.03)
    assert piece.centre == pytest.approx((320, 300), abs=4)


def test_plain_ground_has_no_piece():
    noise = np.random.default_rng(3).normal(0, 4, (400, 500, 3))
    assert find_all(np.clip(180 + noise, 0, 255).astype(np.uint8)) == []


def test_piece_that_leaves_the_picture_is_cut_off():
    pixels, _ = draw_round(centre=(560, 320), radius=200)
    assert only_piece(pixels).cut_off


def test_outline_turns_with_the_picture():
    pixels, _ = draw_round(centre=(350, 280), radius=180, squash=0.85)
    upright, turned = only_piece(pixels), only_piece(np.ascontiguousarray(np.rot90(pixels)))
    # np.rot90 sends (x, y) to (y, width - 1 - x).
    assert turned.centre == pytest.approx((upright.centre[1], pixels.shape[1] - 1 - upright.centre[0]), abs=2)
    assert turned.radius == pytest.approx(upright.radius, rel=0.01)


def test_a_finger_over_the_frame_does_not_cut_the_piece_off():
    pixels, _ = draw_round(centre=(320, 330), radius=190)
    pixels[300:350, 480:] = (224, 172, 140)
    piece = only_piece(pixels)
    assert isinstance(piece, Piece)
    assert piece.radius == pytest.approx(190, rel=0.05)
    assert piece.centre == pytest.approx((320, 330), abs=8)


def test_a_ring_that_is_shown_snaps_to_the_rim():
    pixels, _ = draw_round(centre=(330, 310), radius=200)
    find = find_around(pixels, 345, 300, 175)
    assert find.piece.radius == pytest.approx(200, rel=0.03)
    assert find.piece.centre == pytest.approx((330, 310), abs=4)
    assert find.in_view > 0.9
    assert find_around(pixels, 330, 310, 2) is None


def test_two_pieces_are_two_finds():
    one, _ = draw_round(size=(1000, 640), centre=(260, 330), radius=190)
    other, _ = draw_round(size=(1000, 640), centre=(720, 330), radius=190)
    pixels = np.hstack([one[:, :500], other[:, 500:]])
    found = sorted(find.piece.centre[0] for find in find_all(pixels))
    assert found == pytest.approx([260, 720], abs=8)
