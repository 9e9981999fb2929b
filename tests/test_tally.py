import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counter.tally import Evidence, WidthModel, tally


def brute_force(evidence, widths):
    """Every way to cut a small loop, one by one."""
    places = len(evidence.gap)
    allowed = range(max(2, int(0.45 * widths.centre)), min(int(np.ceil(2.2 * widths.centre)), places - 1) + 1)
    prior = {d: np.exp(-0.5 * (np.log(d / widths.centre) / widths.jitter) ** 2) / d for d in allowed}
    whole = sum(prior.values())
    twice = np.stack([evidence.middle, (evidence.middle + np.roll(evidence.middle, -1)) / 2], axis=1).ravel()
    seen, unseen, best = {}, {}, {}
    for number in range(1, places // 2 + 1):
        for cuts in itertools.combinations(range(places), number):
            steps = np.diff([*cuts, cuts[0] + places])
            if not all(d in prior for d in steps):
                continue
            weight = np.prod([prior[d] / whole for d in steps])
            told = sum(evidence.gap[c] * evidence.seen[c] for c in cuts)
            told += sum(twice[(2 * c + d) % (2 * places)] for c, d in zip(cuts, steps, strict=True))
            unseen[number] = unseen.get(number, 0) + weight
            seen[number] = seen.get(number, 0) + weight * np.exp(told)
            if number not in best or weight * np.exp(told) > best[number][0]:
                best[number] = (weight * np.exp(told), cuts)
    chance = {
        n: seen[n] / unseen[n] * np.exp(-0.5 * (np.log(places / n / widths.centre) / widths.spread) ** 2) for n in seen
    }
    whole = sum(chance.values())
    return {n: c / whole for n, c in chance.items()}, {n: cuts for n, (_, cuts) in best.items()}


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("places, centre", [(13, 3.5), (16, 4.0), (17, 5.0)])
def test_agrees_with_brute_force(seed, places, centre):
    rng = np.random.default_rng(seed)
    evidence = Evidence(rng.normal(0, 1.2, places), rng.normal(0, 1.2, places), np.ones(places))
    widths = WidthModel(centre, 0.3, 0.3)
    wanted, best = brute_force(evidence, widths)
    result = tally(evidence, widths, n_min=1)
    for number, chance in wanted.items():
        assert result.posterior[number] == pytest.approx(chance, abs=1e-9)
    assert tuple(result.gaps) == best[result.stitches]


def comb(widths, strength=3.0, noise=0.0, seed=0):
    """Evidence of stitches of given widths in places."""
    edges = np.concatenate([[0], np.cumsum(widths)])
    places = int(round(edges[-1]))
    phase = np.interp(np.arange(places), edges, np.arange(len(edges))) * 2 * np.pi
    wave = strength * np.cos(phase) + np.random.default_rng(seed).normal(0, noise, places)
    normal = np.log(np.i0(strength))
    return Evidence(-wave - normal, wave - normal, np.ones(places))


@pytest.mark.parametrize("stitches", [5, 6, 12, 23, 24, 60, 119])
def test_regular_rims(stitches):
    result = tally(comb(np.full(stitches, 12.0)), WidthModel(12, 0.1, 0.2))
    assert result.stitches == stitches
    assert result.posterior[stitches] > 0.95
    assert np.sort(result.marks % (12 * stitches)) == pytest.approx(np.arange(stitches) * 12 + 6, abs=1)


@pytest.mark.parametrize("seed", range(5))
def test_widths_that_vary_by_a_factor_of_two(seed):
    rng = np.random.default_rng(seed)
    widths = rng.uniform(8, 16, 30)
    widths *= round(widths.sum()) / widths.sum()
    result = tally(comb(widths, noise=0.8, seed=seed), WidthModel(12, 0.1, 0.2))
    assert result.stitches == 30


def test_without_evidence_the_width_alone_speaks():
    none = np.zeros(240)
    result = tally(Evidence(none, none, np.ones(240)), WidthModel(12, 0.1, 0.2))
    numbers = np.array(list(result.posterior))
    wanted = np.exp(-0.5 * (np.log(240 / numbers / 12) / 0.1) ** 2)
    assert np.array(list(result.posterior.values())) == pytest.approx(wanted / wanted.sum(), abs=1e-9)


def test_hidden_stretch_widens_the_posterior():
    full = comb(np.full(24, 12.0))
    hidden = np.ones(288)
    hidden[40:130] = 0
    open_view = tally(full, WidthModel(12, 0.1, 0.2))
    covered = tally(Evidence(full.middle, full.gap, hidden), WidthModel(12, 0.1, 0.2))
    assert covered.posterior[24] < open_view.posterior[24] - 0.1
    assert covered.stitches in (23, 24, 25)


@settings(max_examples=15, deadline=None)
@given(shift=st.integers(1, 119), seed=st.integers(0, 1000))
def test_turning_the_loop_turns_the_marks(shift, seed):
    evidence = comb(np.full(10, 12.0), strength=1.5, noise=0.5, seed=seed)
    turned = Evidence(*(np.roll(a, shift) for a in (evidence.middle, evidence.gap, evidence.seen)))
    one, other = (tally(e, WidthModel(12, 0.1, 0.2)) for e in (evidence, turned))
    assert list(one.posterior.values()) == pytest.approx(list(other.posterior.values()), abs=1e-9)
    assert np.array_equal(np.sort((one.gaps + shift) % 120), np.sort(other.gaps))


@pytest.mark.parametrize(
    "middle, gap",
    [(np.zeros(5), np.zeros(6)), (np.full(50, np.nan), np.zeros(50)), (np.zeros((5, 5)), np.zeros((5, 5)))],
)
def test_bad_evidence_is_named(middle, gap):
    with pytest.raises(ValueError, match="evidence must be finite|equally long"):
        Evidence(middle, gap, np.ones(len(gap)))


def test_impossible_range_is_named():
    none = np.zeros(60)
    with pytest.raises(ValueError, match="no number of stitches"):
        tally(Evidence(none, none, none), WidthModel(12, 0.1, 0.2), n_min=50)
