import numpy as np
import pytest
from drawn import draw_round, only_piece

from counter.basics.answer import Refusal
from counter.counting.centre import find_centre
from counter.counting.pieces import find_worked


@pytest.mark.parametrize("squash", [1.0, 0.8])
@pytest.mark.parametrize("ring", [(0.0, 0.0), (0.12, -0.08), (-0.05, 0.1)])
def test_ring_is_found_off_the_middle(squash, ring):
    middle, radius = (330, 300), 220
    pixels, _ = draw_round(36, 6, centre=middle, radius=radius, squash=squash, ring=ring)
    wanted = (middle[0] + ring[0] * radius, middle[1] + ring[1] * radius * squash)
    assert find_centre(pixels, only_piece(pixels)) == pytest.approx(wanted, abs=0.04 * radius)


def texture_of(kind, size=640):
    """Lightness of something round that was not worked in rounds, about 0 to 1."""
    y, x = np.mgrid[:size, :size].astype(float)
    if kind == "plate":
        away = np.hypot(x - size / 2, y - size / 2)
        return 0.8 - 0.15 * (np.abs(away - 150) < 3) + 0.1 * np.tanh((away - 150) / 10)
    if kind == "cloth":
        return 0.6 + 0.3 * np.sign(np.sin(x / 3.2)) * np.sign(np.sin(y / 3.2))
    # A ball of yarn: bundles of threads in directions that have nothing to do with the middle.
    rng = np.random.default_rng(4)
    light = np.zeros((size, size))
    for _ in range(60):
        at, angle = rng.uniform(80, size - 80, 2), rng.uniform(0, np.pi)
        across = np.cos(angle) * (x - at[0]) + np.sin(angle) * (y - at[1])
        bundle = np.abs(across) < 45
        light[bundle] = 0.6 + 0.3 * np.sin(across[bundle] / 2.5)
    return light


@pytest.mark.parametrize("kind", ["plate", "cloth", "ball"])
def test_round_things_that_were_not_worked_in_rounds_are_no_piece(kind):
    pixels, _ = draw_round(36, 6)
    y, x = np.mgrid[:640, :640]
    inside = np.hypot(x - 319.5, y - 319.5) < 220
    thing = texture_of(kind)[..., None] * np.array([190, 90, 80])
    noise = np.random.default_rng(2).normal(0, 3, pixels.shape)
    drawn = np.where(inside[..., None], np.clip(thing + noise, 0, 255), pixels).astype(np.uint8)
    assert find_worked(drawn) == Refusal("no piece")


def test_the_piece_is_told_from_a_plate_beside_it():
    pixels, _ = draw_round(24, 4, size=(900, 640), centre=(280, 330), radius=190)
    plate, _ = draw_round(24, 4, size=(900, 640), centre=(690, 330), radius=170)
    y, x = np.mgrid[:640, :900]
    inside = np.hypot(x - 690, y - 330) < 170
    pixels[inside] = (230, 235, 240)
    piece = find_worked(pixels).piece
    assert piece.centre == pytest.approx((280, 330), abs=4)
    pixels[inside] = plate[inside]
    assert find_worked(pixels) == Refusal("several pieces")


def test_a_cut_off_piece_is_said_to_be_cut_off():
    pixels, _ = draw_round(30, 5, centre=(560, 320), radius=200)
    assert find_worked(pixels) == Refusal("cut off")
