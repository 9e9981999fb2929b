"""Whose doing it is: errors that were planted in simulated groups are found where they are."""

import numpy as np
import pytest
from group_sets import simulated
from scipy import stats

from counter.group.attribution import FALSE_DISCOVERY_RATE, MakerOff, ObservedRound, attribute_deviations


def seen(offs, *, sure=0.97, first=1):
    """Photos of makers (rows) and rounds (columns) that are off by so much, each that sure."""
    rest = (1 - sure) / 2
    return [
        ObservedRound(
            f"maker {chr(65 + k)}",
            number,
            6 * number,
            {6 * number + off + step: p for step, p in ((0, sure), (-1, rest), (1, rest))},
        )
        for k, row in enumerate(offs)
        for number, off in enumerate(row, start=first)
    ]


def off_at(makers, rounds, *cells):
    """Rows of zeros with these (maker, round, off)."""
    offs = np.zeros((makers, rounds), int)
    for maker, number, off in cells:
        offs[maker, number - 1] = off
    return offs.tolist()


def found(verdicts):
    return [(own.round, own.off) for own in verdicts.pattern]


def test_round_that_six_of_eight_have_one_short_is_the_patterns():
    offs = off_at(8, 12, *((maker, 7, -1) for maker in range(6)), (2, 4, 1), (2, 9, -1))
    verdicts = attribute_deviations(seen(offs))
    assert found(verdicts) == [(7, -1)]
    (pattern,) = verdicts.pattern
    assert pattern.makers == 8 and round(pattern.alike) == 6 and pattern.p < 1e-3
    makers = [(own.maker, own.round, own.off) for own in verdicts.makers]
    assert makers == [("maker C", 4, 1), ("maker C", 9, -1)]


def test_what_is_carried_on_is_found_once():
    offs = [[0] * 6 + [-1] * 6] * 6 + [[0] * 12] * 2
    verdicts = attribute_deviations(seen(offs))
    assert found(verdicts) == [(7, -1)]
    assert {own.round for own in verdicts.makers} <= {7}


def test_one_makers_slips_are_not_the_patterns():
    verdicts = attribute_deviations(seen(off_at(8, 12, (2, 7, -1), (2, 9, 1))))
    assert not verdicts.pattern
    assert [(own.maker, own.round, own.off) for own in verdicts.makers] == [("maker C", 7, -1), ("maker C", 9, 1)]


def test_photos_that_are_not_sure_weigh_less():
    offs = off_at(8, 12, *((maker, 7, -1) for maker in range(4)))
    p = [attribute_deviations(seen(offs, sure=sure)).looked[7] for sure in (0.98, 0.8, 0.5)]
    assert p[0] < p[1] < p[2] and p[0] < 0.01 and p[2] > 0.2


def test_groups_too_small_to_tell_say_nothing_of_the_pattern():
    verdicts = attribute_deviations(seen(off_at(2, 3, (0, 2, -1), (1, 2, -1))))
    assert not verdicts.looked and not verdicts.pattern
    assert [(own.maker, own.round) for own in verdicts.makers] == [("maker A", 2), ("maker B", 2)]
    assert not attribute_deviations([]).makers


@pytest.mark.parametrize("rounds", [1, 6])
@pytest.mark.parametrize("sure", [0.97, 0.8, 0.5])
@pytest.mark.parametrize("makers", [3, 4, 8])
def test_one_makers_slip_is_never_the_patterns_however_rare_its_size(makers, sure, rounds):
    for off in (-12, -6, -5, 4, 9):
        assert not found(attribute_deviations(seen(off_at(makers, rounds, (0, rounds, off)), sure=sure)))


def test_three_makers_that_are_off_by_three_amounts_are_not_off_alike():
    assert not found(attribute_deviations(seen(off_at(3, 6, (0, 4, -6), (1, 4, -4), (2, 4, 3)))))


def test_three_makers_show_what_all_of_them_do_alike():
    verdicts = attribute_deviations(seen(off_at(3, 6, *((maker, 4, -1) for maker in range(3)))))
    assert found(verdicts) == [(4, -1)] and not verdicts.hidden
    assert not found(attribute_deviations(seen(off_at(3, 6, (0, 4, -1), (1, 4, -1)))))  # two of them may do by chance


def test_rounds_whose_photos_could_not_show_an_error_are_named():
    """Checked by the error itself: where it is said to stay unseen it does, elsewhere it is found."""
    for makers, sure, hidden in ((3, 0.97, False), (3, 0.6, True), (5, 0.9, False), (8, 0.8, False), (8, 0.4, True)):
        follow = -(-3 * makers // 4)
        right = attribute_deviations(seen(off_at(makers, 6), sure=sure))
        wrong = attribute_deviations(seen(off_at(makers, 6, *((maker, 4, -1) for maker in range(follow))), sure=sure))
        assert (4 in right.hidden) == ((4, -1) not in found(wrong)) == hidden, (makers, sure)


def test_chance_follows_from_the_binomial_where_photos_are_certain():
    """Held against SciPy's binomial distribution: as many as so many makers off alike by chance alone."""
    verdicts = attribute_deviations(seen(off_at(10, 1, *((maker, 1, -1) for maker in range(4))), sure=1 - 1e-9))
    # Slips: one and a half times 10% of all, 70% of them by one, half of these short; 2% of all photos misread, most of it near.
    once = 1.5 * 0.1 * 0.7 / 2
    lower, upper = (stats.binom.sf(3, 10, rate) / 0.25 for rate in (0.8 * once, 1.5 * once))
    assert lower < verdicts.looked[1] < upper


def test_false_discoveries_are_held_as_the_paper_does():
    """Y. Benjamini and Y. Hochberg 1995, section 4.1: of these 15 p-values the first four are found (from memory)."""
    p = [
        0.0001,
        0.0004,
        0.0019,
        0.0095,
        0.0201,
        0.0278,
        0.0298,
        0.0344,
        0.0459,
        0.3240,
        0.4262,
        0.5719,
        0.6528,
        0.7590,
        1.0,
    ]
    assert (stats.false_discovery_control(p) <= FALSE_DISCOVERY_RATE).sum() == 4


def test_maker_with_a_round_twice_is_refused():
    own = ObservedRound("maker A", 1, 6, {6: 1.0})
    with pytest.raises(ValueError, match="twice"):
        attribute_deviations([own, own])
    with pytest.raises(ValueError, match="no probabilities"):
        attribute_deviations([ObservedRound("maker A", 1, 6, {})])


def test_far_numbers_count_as_far():
    verdicts = attribute_deviations([ObservedRound("maker A", 1, 6, {40: 1.0})])
    assert verdicts.makers == (MakerOff("maker A", 1, 12, verdicts.makers[0].probability),)


@pytest.mark.parametrize(
    ("planted", "least"),
    [({"pattern": True}, 0.9), ({"maker": True}, None), ({"pattern": True, "maker": True}, 0.9), ({}, None)],
)
def test_simulated_groups(planted, least):
    """Twenty groups each here; a thousand each are measured by tests/benchmarks/group.py."""
    right = false = 0
    for k in range(20):
        photos, truth = simulated(np.random.default_rng([5, k]), missing=0.0, sure=True, **planted)
        rounds = found(attribute_deviations(photos))
        right += truth.pattern in rounds
        false += any(number != (truth.pattern or (0, 0))[0] for number, _ in rounds)
    assert false <= 3
    if least:
        assert right >= least * 20
