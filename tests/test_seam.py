import numpy as np
import pytest

from counter.counting.loop.evidence import Evidence, WidthModel
from counter.counting.loop.tally import tally
from counter.counting.seam import tally_round

PLACES = 8
WIDTHS = WidthModel(centre=PLACES, spread=0.1, jitter=0.15)


def loop(stitches, room, strength=2.5, turn=0):
    """Evidence of evenly spaced stitches with some room between the last and the first."""
    places = round((stitches + room) * PLACES)
    middle = np.full(places, -1.0)
    gap = np.full(places, -1.0)
    at = np.round((np.arange(stitches) + 0.5) * PLACES).astype(int)
    middle[at] = strength
    gap[np.round(np.arange(1, stitches) * PLACES).astype(int)] = strength
    seam = np.zeros(places)
    between = round((stitches + room / 2) * PLACES) % places
    seam[np.arange(between - 3, between + 4) % places] = 0.8
    gap[between] = strength
    return Evidence(*(np.roll(v, turn) for v in (middle, gap, np.ones(places)))), np.roll(seam, turn), at + turn


@pytest.mark.parametrize("room", [0.0, 0.25, 0.5, 0.75, 1.0])
@pytest.mark.parametrize("turn", [0, 37])
def test_room_at_the_seam_is_no_stitch(room, turn):
    evidence, seam, at = loop(20, room, turn=turn)
    result = tally_round(evidence, seam, WIDTHS, 14, 26)
    assert result.stitches == 20
    assert sum(result.posterior.values()) == pytest.approx(1)
    places = len(evidence.gap)
    away = np.abs((result.marks[:, None] - at + places / 2) % places - places / 2).min(axis=0)
    assert away.max() <= 2


def test_without_a_place_for_it_the_room_is_taken_for_a_stitch():
    evidence, seam, _ = loop(20, 0.75)
    assert tally(evidence, WIDTHS, n_min=14, n_max=26).posterior[20] < 0.5
    assert tally_round(evidence, seam, WIDTHS, 14, 26).posterior[20] > 0.5


def test_room_of_a_whole_stitch_is_rare_but_thought_of():
    evidence, seam, _ = loop(20, 1.0)
    assert tally_round(evidence, seam, WIDTHS, 14, 26).posterior[20] > 0.2


def test_unclear_seam_is_the_first_doubt():
    evidence, seam, _ = loop(20, 0.75, strength=0.6, turn=60)
    places = len(evidence.gap)
    blind = np.ones(places)
    blind[seam > 0] = 0
    result = tally_round(Evidence(evidence.middle, evidence.gap, blind), seam, WIDTHS, 14, 26)
    assert result.posterior[result.stitches] < 0.9
    assert result.doubts and result.doubts[0].place == pytest.approx(np.flatnonzero(seam).mean(), abs=4)


def test_without_evidence_of_any_kind_the_width_alone_speaks():
    places = 20 * PLACES
    none = np.zeros(places)
    result = tally_round(Evidence(none, none, none), none, WIDTHS, 14, 27)
    mean = sum(n * p for n, p in result.posterior.items())
    assert 18 < mean < 21
    assert max(result.posterior.values()) < 0.35
