import pytest
from drawn import draw_round

from counter.centre import find_centre
from counter.piece import find_piece


@pytest.mark.parametrize("squash", [1.0, 0.8])
@pytest.mark.parametrize("ring", [(0.0, 0.0), (0.12, -0.08), (-0.05, 0.1)])
def test_ring_is_found_off_the_middle(squash, ring):
    middle, radius = (330, 300), 220
    pixels, _ = draw_round(36, 6, centre=middle, radius=radius, squash=squash, ring=ring)
    wanted = (middle[0] + ring[0] * radius, middle[1] + ring[1] * radius * squash)
    assert find_centre(pixels, find_piece(pixels)) == pytest.approx(wanted, abs=0.04 * radius)
