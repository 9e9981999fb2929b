import numpy as np
import pytest
from drawn import draw_round, only_piece
from skimage.transform import warp_polar

from counter.counting.piece import Piece
from counter.counting.unwrap import rim_places, to_picture, to_strip, unwrap


def circle(centre, radius, squash=1.0):
    turn = np.arange(360) / 360 * 2 * np.pi
    outline = np.column_stack([np.sin(turn), -squash * np.cos(turn)]) * radius + centre
    return Piece(outline, centre, np.diag([1 / radius, 1 / (radius * squash)]), squash, 0.0)


def test_strip_agrees_with_a_polar_warp():
    # Outside reference: skimage.transform.warp_polar (scikit-image), whose
    # columns are radii from the centre and whose rows are angles from the
    # x axis, clockwise in the picture.
    pixels, _ = draw_round(radius=200, centre=(320, 310))
    columns, radius = 800, 200
    depths = np.linspace(0.1, 0.8, 141)
    strip = unwrap(pixels, circle((320, 310), radius), (320, 310), depths, columns)
    polar = warp_polar(pixels, center=(310, 320), radius=radius, output_shape=(columns, radius), channel_axis=-1)
    polar = np.roll(polar * 255, columns // 4, axis=0)
    # Row r of our strip lies at radius (1 - depth) * 200.
    wanted = polar[:, np.rint((1 - depths) * radius).astype(int)].transpose(1, 0, 2)
    assert np.abs(strip.pixels - wanted).mean() < 3


def test_places_are_equally_long_without_the_tilt():
    piece = circle((300, 300), 200, squash=0.75)
    flat = (rim_places(piece, 240) - piece.centre) @ piece.to_circle.T
    steps = np.linalg.norm(np.roll(flat, -1, axis=0) - flat, axis=1)
    assert steps == pytest.approx(2 * np.pi / 240, rel=1e-3)


def test_map_back_lands_where_the_strip_was_taken():
    pixels, _ = draw_round()
    piece = only_piece(pixels)
    depths = np.linspace(-0.1, 0.9, 51)
    strip = unwrap(pixels, piece, piece.centre, depths, 300)
    back = to_picture(strip.rim, strip.centre, np.array([0.0, 74.5, 300.0]), np.array([0.0, 0.5, 1.0]))
    assert back[0] == pytest.approx(strip.rim[0])
    assert back[1] == pytest.approx((strip.rim[74:76].mean(axis=0) + piece.centre) / 2)
    assert back[2] == pytest.approx(piece.centre)


def test_strip_reads_the_picture_it_maps_to():
    height, width = 400, 500
    y, x = np.mgrid[:height, :width]
    pixels = np.stack([x / 2, y / 2, np.zeros_like(x)], axis=-1).astype(np.uint8)
    piece = circle((250, 200), 150, squash=0.9)
    strip = unwrap(pixels, piece, piece.centre, np.linspace(0, 0.5, 40), 700)
    row, column = 20, 123
    place = to_picture(strip.rim, strip.centre, np.array(column), strip.depths[row])
    assert strip.pixels[row, column, :2] * 2.0 == pytest.approx(place, abs=3)


def test_place_in_the_strip_is_the_way_back_from_it():
    turn = np.arange(300) / 300 * 2 * np.pi
    away = 200 * (1 + 0.1 * np.cos(6 * turn))
    rim = np.column_stack([310 + away * np.sin(turn), 290 - 0.8 * away * np.cos(turn)])
    centre = (330.0, 300.0)
    random = np.random.default_rng(3)
    place, depth = random.uniform(0, 300, 500), random.uniform(-0.4, 0.95, 500)
    found, deep = to_strip(rim, centre, to_picture(rim, centre, place, depth))
    assert found == pytest.approx(place, abs=1e-6)
    assert deep == pytest.approx(depth, abs=1e-9)


def test_where_the_rim_overhangs_the_nearest_place_counts():
    # From (0, 0) to the right the rim is met at 10, at 20 and at 30.
    rim = np.array([[10, -5], [10, 5], [20, 5], [20, -6], [30, -6], [30, 9], [-9, 9], [-9, -9], [10, -9]], float)
    place, depth = to_strip(rim, (0.0, 0.0), np.array([[11.0, 0.0], [19.0, 0.0], [33.0, 0.0], [-9.0, 0.0]]))
    assert place == pytest.approx([0.5, 2 + 5 / 11, 4.4, 6.5])
    assert depth == pytest.approx([-0.1, 0.05, -0.1, 0.0])
