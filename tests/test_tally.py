import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counter.counting.loop import limits
from counter.counting.loop.doubts import NEAR_WIDTHS
from counter.counting.loop.evidence import Evidence, WidthModel
from counter.counting.loop.tally import tally
from counter.counting.loop.widths import MIDDLE_SD_WIDTHS, width_grid

WIDTHS = WidthModel(centre=12, spread=0.1, jitter=0.18, drift=0.06)


def comb(widths, strength=3.0, noise=0.0, seed=0):
    """Evidence of stitches of given widths in places, a gap at place 0.

    The phase at a gap follows a von Mises law, exp(k cos x) / (2 pi I0(k)) (K. V.
    Mardia, "Statistics of Directional Data", 1972), and a uniform one elsewhere.
    """
    edges = np.concatenate([[0], np.cumsum(widths)])
    places = round(edges[-1])
    phase = np.interp(np.arange(places), edges, np.arange(len(edges))) * 2 * np.pi
    wave = strength * np.cos(phase) + np.random.default_rng(seed).normal(0, noise, places)
    normal = np.log(np.i0(strength))
    return Evidence(-wave - normal, wave - normal, np.ones(places))


def splayed(stitches, factor=2.0, cycles=2, mean=12.0):
    """Widths that vary along the rim by a factor, and fill whole places."""
    turn = np.arange(stitches) / stitches * 2 * np.pi
    widths = factor ** (0.5 * np.sin(cycles * turn))
    return widths * round(mean * stitches) / widths.sum()


# ---- against enumeration of every loop ---------------------------------------


def every_loop(evidence, widths, n_min, n_max):
    """The model as its docstring states it, one loop after the other.

    Returns the posterior, the best gaps of each number (with the best scales),
    and the chances of a gap and of a middle at each place.
    """
    places = len(evidence.gap)
    grid = width_grid(places, widths, n_min, n_max)
    scales = len(grid.scales)
    chance = np.zeros((places + 1, scales))
    for k, (first, share) in enumerate(zip(grid.narrow, grid.share, strict=True)):
        chance[first : first + len(share), k] = share
    gap_ratio = np.exp(np.where(evidence.seen > 0, evidence.gap, 0) * evidence.seen)
    middle_ratio = np.exp(np.where(evidence.seen > 0, evidence.middle, 0) * evidence.seen)
    with_evidence, without, best, gap_sum, middle_sum = {}, {}, {}, {}, {}
    for number in map(int, grid.numbers):
        with_evidence[number] = without[number] = 0.0
        gap_sum[number], middle_sum[number] = np.zeros(places), np.zeros(places)
        for cuts in itertools.combinations(range(places), number):
            steps = np.diff([*cuts, cuts[0] + places])
            if not chance[steps].any(axis=1).all():
                continue
            turn, heaviest = np.eye(scales), np.eye(scales)
            for d in steps:
                turn = turn @ (chance[d][:, None] * grid.drift)
                heaviest = (heaviest[:, :, None] * (chance[d][:, None] * grid.drift)[None]).max(axis=1)
            told, middles = np.prod(gap_ratio[list(cuts)]), np.zeros(places)
            for cut, d in zip(cuts, steps, strict=True):
                offset = np.arange(1, d)
                q = np.exp(-0.5 * ((offset - d / 2) / (MIDDLE_SD_WIDTHS * d)) ** 2)
                q[q < 1e-3 * q.max()] = 0
                q *= middle_ratio[(cut + offset) % places] / q.sum()
                told *= q.sum()
                np.add.at(middles, (cut + offset) % places, q / q.sum() if q.sum() > 0 else 0)
            weight = np.trace(turn) * told
            without[number] += np.trace(turn)
            with_evidence[number] += weight
            gap_sum[number][list(cuts)] += weight
            middle_sum[number] += weight * middles
            top = np.diag(heaviest).max() * told
            if top > best.get(number, (0.0, ()))[0]:
                best[number] = top, cuts
    favour = {
        n: np.exp(-0.5 * (np.log(places / n / widths.centre) / widths.spread) ** 2) / without[n]
        for n in without
        if without[n] > 0
    }
    whole = sum(favour[n] * with_evidence[n] for n in favour)
    return (
        {n: favour[n] * with_evidence[n] / whole for n in favour},
        {n: cuts for n, (_, cuts) in best.items()},
        sum(favour[n] * gap_sum[n] for n in favour) / whole,
        sum(favour[n] * middle_sum[n] for n in favour) / whole,
    )


@pytest.mark.parametrize(
    "places, centre, drift, seed",
    [
        (14, 4.0, 0.1, 0),
        (14, 4.5, 0.0, 1),
        (15, 4.0, 0.3, 2),
        (16, 4.0, 0.1, 3),
        *(pytest.param(*long, marks=pytest.mark.slow) for long in ((16, 5.0, 0.06, 4), (17, 5.0, 0.1, 5))),
    ],
)
def test_agrees_with_enumeration_of_every_loop(places, centre, drift, seed):
    rng = np.random.default_rng(seed)
    ruled_out = np.where(rng.random(places) < 0.1, -np.inf, 0)
    evidence = Evidence(
        rng.normal(0, 1.5, places), rng.normal(0, 1.5, places) + ruled_out, np.clip(rng.normal(1, 0.7, places), 0, 1)
    )
    widths = WidthModel(centre, 0.3, 0.2, drift)
    posterior, best, gap_chance, middle_chance = every_loop(evidence, widths, 1, 8)
    result = tally(evidence, widths, n_min=1, n_max=8)
    assert sum(result.posterior.values()) == pytest.approx(1, abs=1e-12)
    for number, chance in result.posterior.items():
        assert chance == pytest.approx(posterior.get(number, 0), abs=1e-9)
    assert result.gap_chance == pytest.approx(gap_chance, abs=1e-9)
    assert result.middle_chance == pytest.approx(middle_chance, abs=1e-9)
    assert tuple(result.gaps) == best[result.stitches]
    # The best loop of every other number too.
    for number in set(best) & set(result.posterior):
        posterior, best_here, *_ = every_loop(evidence, widths, number, number)
        assert tuple(tally(evidence, widths, n_min=number, n_max=number).gaps) == best_here[number]


def test_what_is_left_out_for_speed_is_bounded(monkeypatch):
    evidence = comb(splayed(12), strength=1.0, noise=0.8, seed=3)
    monkeypatch.setattr(limits, "EXACT_PLACES", len(evidence.gap))
    exact = tally(evidence, WIDTHS)
    assert exact.truncated == 0
    monkeypatch.setattr(limits, "EXACT_PLACES", 0)
    monkeypatch.setattr(limits, "LOST_SHARE", 1e-2)
    monkeypatch.setattr(limits, "START_SHARE", 1e-4)
    monkeypatch.setattr(limits, "EDGE_SHARE", 1e-6)
    rough = tally(evidence, WIDTHS)
    assert 0 < rough.truncated <= 1e-2
    off = max(abs(exact.posterior[n] - rough.posterior[n]) for n in exact.posterior)
    assert 0 < off <= 2 * rough.truncated  # a share lost at one number is gained by the others
    monkeypatch.setattr(limits, "LOST_SHARE", 1e-6)
    fine = tally(evidence, WIDTHS)
    assert fine.truncated <= 1e-6
    assert max(abs(exact.posterior[n] - fine.posterior[n]) for n in exact.posterior) <= 2e-6


@pytest.mark.parametrize("places", [240, 241])
def test_places_taken_together_tell_nearly_the_same(monkeypatch, places):
    evidence = comb(np.full(20, places / 20), strength=1.0, noise=0.5, seed=2)
    whole = tally(evidence, WIDTHS)
    monkeypatch.setattr(limits, "MOST_PRODUCTS", 0)
    pairs = tally(evidence, WIDTHS)
    assert pairs.stitches == whole.stitches
    for number, chance in whole.posterior.items():
        assert pairs.posterior[number] == pytest.approx(chance, abs=0.1)
    apart = (pairs.marks - whole.marks + places / 2) % places - places / 2
    assert np.abs(apart).max() < 0.35 * 12
    assert pairs.gap_chance.shape == (places,)
    mean = sum(n * p for n, p in pairs.posterior.items())
    assert pairs.gap_chance.sum() == pytest.approx(mean, rel=1e-4)
    assert pairs.middle_chance.sum() == pytest.approx(mean, rel=1e-4)


# ---- the model of widths ------------------------------------------------------


@pytest.mark.parametrize("places, widths", [(288, WIDTHS), (150, WidthModel(9, 0.35, 0.1, 0.2))])
def test_width_model_is_a_proper_probability(places, widths):
    grid = width_grid(places, widths, 5, 130)
    for share in grid.share:
        assert share.sum() == pytest.approx(1)
    assert grid.drift.sum(axis=1) == pytest.approx(1)
    assert grid.drift == pytest.approx(grid.drift.T)
    # Away from the ends the walk moves the logarithm of the scale by `drift`.
    log_scales = np.log(grid.scales)
    inner = len(log_scales) // 2
    moved = np.sqrt(grid.drift[inner] @ (log_scales - log_scales[inner]) ** 2)
    assert moved == pytest.approx(widths.drift, rel=0.02)


@pytest.mark.parametrize(
    "places, widths", [(240, WIDTHS), (96, WidthModel(10, 0.35, 0.2)), (33, WidthModel(5, 0.2, 0.2))]
)
def test_without_evidence_the_prior_of_the_mean_width_alone_speaks(places, widths):
    none = np.zeros(places)
    for seen in (none, none + 1):
        result = tally(Evidence(none, none, seen), widths)
        numbers = np.array(list(result.posterior))
        wanted = np.exp(-0.5 * (np.log(places / numbers / widths.centre) / widths.spread) ** 2)
        assert np.array(list(result.posterior.values())) == pytest.approx(wanted / wanted.sum(), abs=1e-6)
        # No place is special: every one is as likely a gap as a middle as any other.
        mean = sum(n * p for n, p in result.posterior.items())
        assert result.gap_chance == pytest.approx(mean / places, rel=1e-3)
        assert result.middle_chance == pytest.approx(mean / places, rel=1e-3)


# ---- loops whose count is known ------------------------------------------------


@pytest.mark.parametrize("stitches", [5, 6, 12, 23, 24, 48, 61, 120])
def test_regular_rims(stitches):
    result = tally(comb(np.full(stitches, 12.0)), WIDTHS)
    assert result.stitches == stitches
    assert result.probability > 0.9
    assert result.marks == pytest.approx(np.arange(stitches) * 12 + 6, abs=0.5)
    assert result.gaps == pytest.approx(np.arange(stitches) * 12, abs=0.5)
    assert result.gap_clear.min() > 0.95 and result.mark_clear.min() > 0.95
    assert result.doubts == ()


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("stitches", [14, 30, 55])
def test_widths_that_vary_by_a_factor_of_two(stitches, seed):
    widths = splayed(stitches, factor=2.0, cycles=1 + seed % 2)
    result = tally(comb(widths, noise=0.8, seed=seed), WIDTHS)
    assert result.stitches == stitches
    truth = np.cumsum(widths) - widths / 2
    assert np.abs(result.marks - truth).max() < NEAR_WIDTHS * widths.min()


@pytest.mark.parametrize("seed", range(4))
def test_broad_prior_over_a_wrong_width(seed):
    evidence = comb(splayed(20, factor=1.5, mean=9.0), noise=0.8, seed=seed)
    assert tally(evidence, WidthModel(13, 0.35, 0.18)).stitches == 20


def test_alternating_strong_and_weak_teeth_are_not_halved():
    strong, weak = comb(np.full(24, 12.0), strength=3.0), comb(np.full(24, 12.0), strength=1.0)
    is_weak = (np.arange(288) // 12) % 2 == 1
    evidence = Evidence(
        np.where(is_weak, weak.middle, strong.middle), np.where(is_weak, weak.gap, strong.gap), np.ones(288)
    )
    # Even where half the number is supposed.
    for centre in (12, 18, 24):
        assert tally(evidence, WidthModel(centre, 0.35, 0.18)).stitches == 24


@settings(max_examples=10, derandomize=True)
@given(stitches=st.integers(5, 40), factor=st.floats(1, 1.8), mean=st.floats(8, 14), seed=st.integers(0, 999))
def test_any_clear_rim_is_counted(stitches, factor, mean, seed):
    result = tally(comb(splayed(stitches, factor, 1, mean), noise=0.4, seed=seed), WidthModel(11, 0.25, 0.18))
    assert result.stitches == stitches
    assert sum(result.posterior.values()) == pytest.approx(1)
    assert len(result.gaps) == len(result.marks) == stitches
    assert (np.diff(result.gaps) > 0).all()
    assert result.gap_chance.sum() == pytest.approx(sum(n * p for n, p in result.posterior.items()), rel=1e-4)


# ---- what must not matter ------------------------------------------------------


@settings(max_examples=10, derandomize=True)
@given(shift=st.integers(1, 119), seed=st.integers(0, 1000))
def test_turning_and_reversing_the_loop(shift, seed):
    evidence = comb(np.full(10, 12.0), strength=1.5, noise=0.5, seed=seed)
    seen = np.ones(120)
    seen[30:41] = 0
    evidence = Evidence(evidence.middle, evidence.gap, seen)
    arrays = evidence.middle, evidence.gap, evidence.seen
    one = tally(evidence, WIDTHS)
    turned = tally(Evidence(*(np.roll(a, shift) for a in arrays)), WIDTHS)
    mirrored = tally(Evidence(*(a[::-1] for a in arrays)), WIDTHS)
    for other, place in ((turned, lambda p: (p + shift) % 120), (mirrored, lambda p: (119 - p) % 120)):
        assert list(one.posterior.values()) == pytest.approx(list(other.posterior.values()), abs=2e-6)
        assert np.array_equal(np.sort(place(one.gaps)), np.sort(other.gaps))
        assert np.sort(place(one.marks)) == pytest.approx(np.sort(other.marks), abs=1e-6)
        assert np.sort(one.gap_clear) == pytest.approx(np.sort(other.gap_clear), abs=1e-4)
        assert sorted(round(place(d.place), 3) % 120 for d in one.doubts) == pytest.approx(
            sorted(round(d.place, 3) % 120 for d in other.doubts), abs=1e-2
        )


def test_twice_as_many_places_give_the_same_count():
    evidence = comb(splayed(16, 1.5), strength=2.0, noise=0.6, seed=1)
    coarse = tally(evidence, WIDTHS)
    twice = Evidence(*(np.repeat(a, 2) for a in (evidence.middle, evidence.gap, evidence.seen)))
    fine = tally(twice, WidthModel(24, WIDTHS.spread, WIDTHS.jitter, WIDTHS.drift))
    assert fine.stitches == coarse.stitches == 16
    for number, chance in coarse.posterior.items():
        assert fine.posterior[number] == pytest.approx(chance, abs=0.05)
    assert fine.marks / 2 == pytest.approx(coarse.marks, abs=1)


@pytest.mark.parametrize("shift", [-500.0, 500.0])
def test_evidence_of_any_size_stays_in_range(shift):
    evidence = comb(np.full(60, 12.0), strength=3.0)
    result = tally(Evidence(evidence.middle, evidence.gap * 50 + shift, evidence.seen), WIDTHS, n_min=60, n_max=60)
    assert result.gaps == pytest.approx(np.arange(60) * 12)


def test_same_again():
    evidence = comb(splayed(20), strength=1.0, noise=1.0)
    one, other = tally(evidence, WIDTHS), tally(evidence, WIDTHS)
    assert one.posterior == other.posterior
    assert np.array_equal(one.marks, other.marks)
    assert one.doubts == other.doubts


# ---- doubts --------------------------------------------------------------------


def test_hidden_stretch_widens_the_posterior():
    full = comb(np.full(24, 12.0))
    chances = []
    for hidden in (0, 60, 120, 200):
        seen = np.ones(288)
        seen[40 : 40 + hidden] = 0
        result = tally(Evidence(full.middle, full.gap, seen), WIDTHS)
        chances.append(result.posterior[24])
        assert abs(result.stitches - 24) <= 1
        if hidden:
            assert result.doubts[0].kind == "hidden"
            assert result.doubts[0].place == pytest.approx(40 + hidden / 2, abs=8)
    assert all(a > b + 0.02 for a, b in itertools.pairwise(chances))


def test_what_is_hidden_does_not_count():
    full = comb(np.full(24, 12.0), noise=0.5)
    seen = np.ones(288)
    seen[40:130] = 0
    other = np.where(seen > 0, full.gap, -np.inf)
    one, two = tally(Evidence(full.middle, full.gap, seen), WIDTHS), tally(Evidence(full.middle, other, seen), WIDTHS)
    assert one.posterior == two.posterior


@pytest.mark.parametrize(
    "faintness, likelier, kind",
    [(4, 24, "end"), (6, 23, "two")],
)
def test_a_faint_gap_is_pointed_out(faintness, likelier, kind):
    evidence = comb(np.full(24, 12.0), strength=4.0)
    # The gap at place 120 all but vanishes: 24, or 23 with a wide stitch.
    faint, middle = np.array(evidence.gap), np.array(evidence.middle)
    faint[114:127] = np.minimum(faint[114:127], -faintness)
    middle[117:124] = 2.0
    result = tally(Evidence(middle, faint, evidence.seen), WIDTHS)
    assert {23, 24} == {n for n, p in result.posterior.items() if p > 0.05}
    assert result.stitches == likelier
    assert result.doubts == ((120.0, kind),)


def test_an_odd_width_is_pointed_out():
    widths = np.full(24, 12.0)
    widths[10] = 22.0
    result = tally(comb(widths, strength=4.0), WIDTHS)
    assert result.stitches == 24
    assert [doubt.kind for doubt in result.doubts if abs(doubt.place - 131) < 6] == ["wide"]


# ---- bad input -----------------------------------------------------------------


@pytest.mark.parametrize(
    "middle, gap, seen, message",
    [
        (np.zeros(5), np.zeros(6), np.ones(6), "equally long"),
        (np.zeros((5, 5)), np.zeros((5, 5)), np.ones((5, 5)), "one-dimensional"),
        (np.full(50, np.nan), np.zeros(50), np.ones(50), "middle must not hold NaN"),
        (np.zeros(50), np.full(50, np.inf), np.ones(50), "gap must not hold NaN or plus infinity"),
        (np.zeros(50), np.zeros(50), np.full(50, 1.1), "seen must lie between 0 and 1"),
        (np.zeros(50), np.zeros(50), np.full(50, np.nan), "seen must lie between 0 and 1"),
    ],
)
def test_bad_evidence_is_named(middle, gap, seen, message):
    with pytest.raises(ValueError, match=message):
        Evidence(middle, gap, seen)


@pytest.mark.parametrize(
    "values",
    [{"centre": 0}, {"centre": np.nan}, {"spread": 0}, {"jitter": -1}, {"drift": -0.1}, {"drift": np.inf}],
)
def test_bad_widths_are_named(values):
    with pytest.raises(ValueError, match=f"width model: {next(iter(values))} must be"):
        WidthModel(**{"centre": 12, "spread": 0.1, "jitter": 0.2, "drift": 0.1, **values})


@pytest.mark.parametrize("places, n_min", [(60, 50), (10, 5), (0, 5)])
def test_impossible_range_is_named(places, n_min):
    none = np.zeros(places)
    with pytest.raises(ValueError, match="no number of stitches"):
        tally(Evidence(none, none, none), WIDTHS, n_min=n_min)


@pytest.mark.parametrize("gaps", [[], [0], [0, 3]])
def test_evidence_that_rules_everything_out_is_named(gaps):
    none, gap = np.zeros(120), np.full(120, -np.inf)
    gap[gaps] = 0
    with pytest.raises(ValueError, match="rules out every loop"):
        tally(Evidence(none, gap, none + 1), WIDTHS)


def test_without_evidence_nothing_is_explained():
    none = np.zeros(160)
    result = tally(Evidence(none, none, none + 1), WidthModel(8, 0.1, 0.15), n_min=14, n_max=27)
    assert result.log_evidence == pytest.approx(0, abs=1e-6)
