import sys

import numpy as np
import pytest
from PIL import Image
from scipy.integrate import trapezoid
from scipy.stats import binom

from counter.cli import main
from counter.evaluation.evaluate import risk_coverage_area
from counter.evaluation.plots import draw_plots, reliability, risk_coverage


def rows(count, seed=1):
    rng = np.random.default_rng(seed)
    said = rng.uniform(0.2, 1, count)
    return [
        {
            "stitches": 24 if rng.random() < p else 23,
            "true": 24,
            "probability": float(p),
            "state": "sure" if p > 0.95 else "not sure",
        }
        for p in said
    ]


def test_counts_that_say_what_is_true_lie_on_the_diagonal():
    made = rows(4000)
    groups = reliability([r["probability"] for r in made], [r["stitches"] == r["true"] for r in made])
    assert sum(group["counts"] for group in groups) == 4000
    for group in groups:
        assert group["share"] == pytest.approx(group["said"], abs=0.06)
        assert group["low"] < group["share"] < group["high"]


def test_interval_covers_what_it_says():
    # Outside check: of 2,000 draws of SciPy's binomial law, about 90% lie in the interval.
    draws = binom.rvs(40, 0.8, size=2000, random_state=3)
    groups = {int(k): reliability([0.85] * 40, [True] * k + [False] * (40 - k))[0] for k in np.unique(draws)}
    assert np.mean([groups[int(k)]["low"] <= 0.8 <= groups[int(k)]["high"] for k in draws]) == pytest.approx(
        0.9, abs=0.04
    )


def test_area_under_the_curve_is_the_measure_of_the_table():
    made = rows(300)
    said, right = [r["probability"] for r in made], [r["stitches"] == r["true"] for r in made]
    coverage, risk = risk_coverage(said, right)
    assert (coverage[0], coverage[-1], risk[0]) == (0, 1, 0) and (np.diff(risk) >= 0).all()
    assert trapezoid(risk, coverage) == pytest.approx(risk_coverage_area(right, said))


def test_pictures_are_written(tmp_path):
    pytest.importorskip("matplotlib", reason="matplotlib is missing: install the extra 'plots'")
    for path in draw_plots(rows(80), tmp_path / "new"):
        with Image.open(path) as picture:
            assert picture.format == "PNG" and min(picture.size) > 500


def test_without_counts_or_library_one_line_says_so(tmp_path, monkeypatch, capsys):
    with pytest.raises(ValueError, match="nothing to plot"):
        draw_plots([{"stitches": None}], tmp_path)
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    with pytest.raises(ImportError, match=r"rimtally\[plots\]"):
        draw_plots(rows(3), tmp_path)
    assert main(["evaluate", str(tmp_path), "--plots", str(tmp_path / "plots")]) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
