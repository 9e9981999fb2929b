import itertools
from collections import defaultdict

import numpy as np
import pytest

from counter.counting.loop.evidence import WidthModel
from counter.counting.loop.widths import MIDDLE_SD_WIDTHS
from counter.counting.path import SCALE_REACH_LOG, SCALE_STEP_LOG, Join, path_odds, widths_of

WIDTHS = WidthModel(centre=3, spread=0.3, jitter=0.3, drift=0.06)


def middle_shares(wide):
    """Where the middle of a stitch may lie behind its first gap, and how probable each place is."""
    at = np.arange(1, wide)
    share = np.exp(-0.5 * ((at - wide / 2) / max(MIDDLE_SD_WIDTHS * wide, 0.5)) ** 2)
    return at, share / share.sum()


def by_enumeration(middle, gap, joins, widths, numbers):
    """Every path of every number for every join, one by one; the formula at the head of the module."""
    places = len(gap)
    wide, law, step = widths_of(widths)
    walk = (1 - 2 * step) * np.eye(len(law)) + step * (np.eye(len(law), k=1) + np.eye(len(law), k=-1))
    walk[0, 0] += step
    walk[-1, -1] += step
    told = {}
    for join in joins:
        length = places - join.room
        sums = defaultdict(float), defaultdict(float)
        for number in numbers:
            for path in itertools.product(range(len(wide)), repeat=number):
                if sum(wide[w] for w in path) != length:
                    continue
                state = np.full(len(law), 1 / len(law))
                seen, at = 1.0, join.first
                for k, w in enumerate(path):
                    state = (state @ walk) * law[:, w]
                    offset, share = middle_shares(wide[w])
                    seen *= (share * np.exp(middle[(at + offset) % places])).sum()
                    at += wide[w]
                    if k < number - 1:
                        seen *= np.exp(gap[at % places])
                sums[0][number] += state.sum() * seen
                sums[1][number] += state.sum()
        for number in numbers:
            if sums[1][number]:
                prior = -0.5 * (np.log(length / number / widths.centre) / widths.spread) ** 2
                told[number, join] = sums[0][number] / sums[1][number] * np.exp(prior + join.log_weight)
    whole = sum(told.values())
    return {key: value / whole for key, value in told.items()}


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_small_rounds_agree_with_enumeration(seed):
    random = np.random.default_rng(seed)
    middle, gap = random.normal(0, 1.5, (2, 11))
    joins = (Join(0, 0, 0.0), Join(4, 2, -0.7), Join(9, 1, 0.3))
    numbers = range(2, 6)
    found = path_odds(middle, gap, joins, WIDTHS, numbers[0], numbers[-1])
    told = by_enumeration(middle, gap, joins, WIDTHS, numbers)
    for column, join in enumerate(joins):
        for row, number in enumerate(found.numbers.tolist()):
            assert found.chance[row, column] == pytest.approx(told.get((number, join), 0.0), abs=1e-9)


def test_without_evidence_the_width_alone_speaks():
    places = 60
    none = np.zeros(places)
    found = path_odds(none, none, (Join(7, 0, 0.0),), WIDTHS, 12, 30)
    prior = np.exp(-0.5 * (np.log(places / found.numbers / WIDTHS.centre) / WIDTHS.spread) ** 2)
    np.testing.assert_allclose(list(found.posterior.values()), prior / prior.sum(), rtol=1e-6)


def test_turned_evidence_says_the_same():
    random = np.random.default_rng(5)
    middle, gap = random.normal(0, 1, (2, 40))
    joins = (Join(3, 2, 0.0), Join(5, 0, 0.4))
    turned = tuple(Join((join.first + 11) % 40, join.room, join.log_weight) for join in joins)
    one = path_odds(middle, gap, joins, WIDTHS, 8, 20)
    other = path_odds(np.roll(middle, 11), np.roll(gap, 11), turned, WIDTHS, 8, 20)
    np.testing.assert_allclose(one.chance, other.chance, atol=1e-9)


def test_a_number_that_fits_nowhere_is_an_error():
    with pytest.raises(ValueError, match="no number of stitches"):
        path_odds(np.zeros(10), np.zeros(10), (Join(0, 0, 0.0),), WIDTHS, 20, 30)


def test_evidence_that_rules_out_every_gap_is_an_error():
    with pytest.raises(ValueError, match="no number of stitches"):
        path_odds(np.zeros(30), np.full(30, -np.inf), (Join(0, 0, 0.0),), WIDTHS, 8, 12)


def test_reach_is_a_whole_number_of_steps():
    assert pytest.approx(round(2 * SCALE_REACH_LOG / SCALE_STEP_LOG)) == 2 * SCALE_REACH_LOG / SCALE_STEP_LOG
