import numpy as np
import pytest
from drawn import draw_round

from counter.braid import PLACES, look
from counter.piece import find_piece
from counter.unwrap import rim_places


@pytest.mark.parametrize("stitches", [9, 24, 60])
def test_evidence_stands_where_the_stitches_are(stitches):
    pixels, marks = draw_round(stitches, max(1, stitches // 6), size=(900, 900), radius=380)
    piece = find_piece(pixels)
    seen = look(pixels, piece, piece.centre, stitches)
    assert len(seen.gap) == PLACES * stitches
    rim = rim_places(piece, len(seen.gap))
    nearest = np.linalg.norm(rim[:, None] - marks, axis=2).argmin(axis=0)
    assert (seen.middle[nearest] > 0).all()
    assert (seen.gap[(nearest + PLACES // 2) % len(seen.gap)] > 0).all()


def test_right_width_repeats_best():
    pixels, _ = draw_round(30, 5, radius=250)
    piece = find_piece(pixels)
    repetition = {n: look(pixels, piece, piece.centre, n).repetition for n in (15, 20, 24, 30, 38, 45, 60)}
    assert max(repetition, key=repetition.get) == 30


def test_evidence_turns_with_the_piece():
    pixels, _ = draw_round(24, 4, radius=250, size=(641, 641))
    piece = find_piece(pixels)
    turned = np.ascontiguousarray(np.rot90(pixels))
    quarter = PLACES * 24 // 4
    one = look(pixels, piece, piece.centre, 24).gap
    other = look(turned, find_piece(turned), find_piece(turned).centre, 24).gap
    assert np.corrcoef(np.roll(one, -quarter), other)[0, 1] > 0.9
