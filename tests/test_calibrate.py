import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from counter.counting.calibration import Calibration, Signs, calibration_of
from counter.evaluation.limits import LEAST, NEVER, Case, allowed, figures, limit_of, promised, upper_bound, with_signs
from counter.training.calibrate import Seen, calibrate, fitted_temperature, parted

SAMPLES = Path(__file__).parents[1] / "sample_images"
OPEN = Calibration(trust=1.0, temperature=1.0, sure=0.0, in_view=0.9, seam=0.3, off_width=1.06, pitch_px=0.0)


def case(probability, right, look="ours", **signs):
    good = {"one_width": True, "in_view": 1.0, "seam": 1.0, "off_width": 1.0, "pitch_px": 20.0}
    return Case("x", look, right, Signs(probability, **(good | signs)))


@pytest.mark.parametrize("wrong, of", [(0, 1), (0, 99), (1, 99), (3, 40), (40, 40), (0, 300)])
def test_the_bound_is_that_of_the_exact_test(wrong, of):
    # Outside check: scipy.stats.binomtest, exact method, one-sided.
    exact = stats.binomtest(wrong, of, alternative="less").proportion_ci(0.95, "exact").high
    assert upper_bound(wrong, of) == pytest.approx(exact, abs=1e-9)


def test_zero_wrong_of_99_promises_no_more_than_three_percent():
    # By hand: 0.97 ** 99 is just below 0.05, so 3% is ruled out at 95% and 1% (0.99 ** 99 = 0.37) is not.
    assert 0.029 < upper_bound(0, 99) < 0.030
    assert upper_bound(0, 0) == 1.0


def test_what_conformal_risk_control_allows():
    # By hand: (wrong + 1) / (photos + 1) at most 1%.
    assert [allowed(n, 0.01) for n in (50, 98, 99, 198, 199, 299, 999)] == [0, 0, 0, 0, 1, 2, 9]
    assert allowed(9, 0.5) == 4


def test_the_limit_keeps_the_wrong_ones_out_of_every_look():
    ours = [case(0.9, True), case(0.76, False), case(0.8, True)]
    theirs = [case(0.95, True, "theirs"), case(0.8412, False, "theirs"), case(0.99, False, "theirs", in_view=0.5)]
    assert limit_of(ours, OPEN) == pytest.approx(0.761)
    assert limit_of(ours + theirs, OPEN) == pytest.approx(0.842)
    assert limit_of([case(0.9, True), case(0.2, False)], OPEN) == LEAST
    assert limit_of([case(1.0, False)], OPEN) == NEVER and limit_of([], OPEN) == NEVER
    # With two allowed, the third from the top sets it.
    many = [case(p, False) for p in (0.97, 0.9, 0.8)] + [case(0.99, True)] * 300
    assert limit_of(many, OPEN, 0.01) == pytest.approx(0.801)


def test_photos_drawn_anew_are_wrong_while_sure_as_seldom_as_promised():
    # Outside check: the promise holds on the mean over draws, whatever the law of the scores; here a law under
    # which the probability that is said has little to do with being right.
    rng = np.random.default_rng(3)
    risk, wrongs = 0.05, []
    for _ in range(3000):
        said = rng.beta(4, 1, 40)
        right = rng.random(40) < 0.4 + 0.5 * said
        drawn = [case(float(p), bool(r)) for p, r in zip(said, right, strict=True)]
        limit = limit_of(drawn[:-1], OPEN, risk)
        wrongs.append(not drawn[-1].right and drawn[-1].signs.probability >= limit)
    assert np.mean(wrongs) <= risk + 3 * np.sqrt(risk * (1 - risk) / len(wrongs))


def test_signs_are_chosen_so_that_most_are_sure():
    cases = [case(0.99, True, seam=0.15, off_width=1.0)] * 5 + [case(0.995, False, seam=0.15, off_width=1.15)]
    chosen = with_signs(cases, OPEN)
    assert chosen.seam == 0.1 and chosen.off_width == 1.03
    # One of seven more is not worth a change.
    almost = [case(0.99, True)] * 6 + [case(0.99, True, seam=0.15)]
    assert with_signs(almost, OPEN).seam == OPEN.seam
    assert figures(cases, chosen)["all"] == {
        "photos": 6,
        "counted right": 5,
        "sure": 5,
        "wrong while sure": 0,
        "at most wrong of sure": pytest.approx(1 - 0.05 ** (1 / 5), abs=1e-4),
    }
    assert promised(cases, chosen) == {"ours": pytest.approx(1 / 7, abs=1e-4)}


def test_temperature_of_numbers_drawn_with_one():
    rng = np.random.default_rng(1)
    posteriors, true = [], []
    for _ in range(3000):
        said = dict(zip(range(20, 25), rng.dirichlet(np.full(5, 0.6)), strict=True))
        heated = np.array([max(chance, 1e-12) ** (1 / 1.8) for chance in said.values()])
        posteriors.append(said)
        true.append(int(rng.choice(list(said), p=heated / heated.sum())))
    temperature, loss = fitted_temperature(posteriors, true)
    assert temperature == pytest.approx(1.8, rel=0.1)
    assert loss < -np.mean([np.log(max(said[n], 1e-6)) for said, n in zip(posteriors, true, strict=True)])


def test_parts_are_apart_the_same_every_time_and_have_their_share_of_each_look():
    seen = [Seen(f"{look}{k}.jpg", look, 24, None) for look in ("ours", "theirs") for k in range(50)]
    parts = parted(seen, seed=1)
    assert {name: len(part) for name, part in parts.items()} == {"fit": 40, "limit": 30, "judge": 30}
    assert sorted(one.photo for part in parts.values() for one in part) == sorted(one.photo for one in seen)
    assert all(sum(one.look == "ours" for one in part) == len(part) / 2 for part in parts.values())
    again = parted(seen[::-1], seed=1)
    assert [one.photo for one in again["fit"]] == [one.photo for one in parts["fit"]]
    assert [one.photo for one in parted(seen, seed=2)["fit"]] != [one.photo for one in parts["fit"]]


def test_calibrating_writes_what_a_count_reads(tmp_path, monkeypatch):
    monkeypatch.setattr("counter.training.calibrate.TRUSTS", (0.65,))
    folder = tmp_path / "photos"
    folder.mkdir()
    for name in ("blue-disc", "plate", "rose-cup", "striped", "green-disc-on-wood"):
        for ending in ("jpg", "json"):
            shutil.copy(SAMPLES / f"{name}.{ending}", folder)
    told = calibrate([folder], tmp_path / "one.json", kept=tmp_path / "kept")
    assert len(list((tmp_path / "kept").iterdir())) == 5
    monkeypatch.setattr("counter.training.calibrate.counting.read_rim", None)  # what was seen is kept
    assert calibrate([folder], tmp_path / "two.json", kept=tmp_path / "kept") == told
    assert (tmp_path / "one.json").read_bytes() == (tmp_path / "two.json").read_bytes()
    written = json.loads((tmp_path / "one.json").read_text())
    assert calibration_of(written).trust == 0.65
    assert sum(part["all"]["photos"] for part in written["figures"].values()) == 5
