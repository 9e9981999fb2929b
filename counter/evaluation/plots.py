"""Two pictures of how far the probability can be trusted, from the rows of an evaluation (extra ``plots``).

The reliability diagram sets the share of right counts against the probability
that was said; the risk-coverage curve says how many counts are taken and wrong
when only the surest are taken (J. Traub et al., "Overcoming Common Flaws in the
Evaluation of Selective Classification Systems", NeurIPS 2024; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from scipy import stats

__all__ = ["draw_plots", "reliability", "risk_coverage"]

#: Edges of the groups of counts of like probability.
PROBABILITY_EDGES = (0.0, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0)
#: Part of the repeats that an interval should cover.
INTERVAL_PROBABILITY = 0.9


def reliability(probability: Sequence[float], right: Sequence[bool]) -> list[dict[str, Any]]:
    """Share of right counts in groups of like probability.

    Parameters
    ----------
    probability : sequence of float, length n
        Of each count, 0 to 1.
    right : sequence of bool, length n

    Returns
    -------
    list of dict
        For each group that holds counts: "said" (mean probability), "share"
        (right of all), "low" and "high" (Wilson's interval of 90%; E. B. Wilson,
        "Probable Inference, the Law of Succession, and Statistical Inference",
        JASA 22(158), 1927), "counts".
    """
    said, true = np.asarray(probability, float), np.asarray(right, bool)
    groups = np.clip(np.digitize(said, PROBABILITY_EDGES) - 1, 0, len(PROBABILITY_EDGES) - 2)
    rows = []
    for group in np.unique(groups):
        mine = true[groups == group]
        interval = stats.binomtest(int(mine.sum()), len(mine)).proportion_ci(INTERVAL_PROBABILITY, "wilson")
        rows.append(
            {
                "said": float(said[groups == group].mean()),
                "share": float(mine.mean()),
                "low": float(interval.low),
                "high": float(interval.high),
                "counts": len(mine),
            }
        )
    return rows


def risk_coverage(probability: Sequence[float], right: Sequence[bool]) -> tuple[np.ndarray, np.ndarray]:
    """Generalised risk at each coverage, surest counts first.

    Parameters
    ----------
    probability : sequence of float, length n
    right : sequence of bool, length n

    Returns
    -------
    coverage, risk : ndarray of shape (n + 1,), float
        Share of all counts that are taken, and that are taken and wrong.
    """
    order = np.argsort(-np.asarray(probability, float), kind="stable")
    wrong = np.cumsum(~np.asarray(right, bool)[order])
    count = max(1, len(order))
    return np.arange(len(order) + 1) / count, np.append(0, wrong) / count


def draw_plots(rows: Sequence[dict[str, Any]], folder: str | Path) -> list[Path]:
    """Write "reliability.png" and "risk-coverage.png".

    Parameters
    ----------
    rows : sequence of dict
        From :attr:`counter.evaluation.evaluate.Evaluation.rows`.
    folder : path
        Made where it does not exist.

    Returns
    -------
    list of Path

    Raises
    ------
    ImportError
        If matplotlib is missing.
    ValueError
        If no photo was counted.
    """
    try:
        from matplotlib.figure import Figure
    except ImportError as error:
        raise ImportError("Plots need matplotlib: pip install 'rimtally[plots]'") from error
    counted = [row for row in rows if row["stitches"] is not None]
    if not counted:
        raise ValueError("no photo was counted, so there is nothing to plot")
    probability = [row["probability"] for row in counted]
    right = [row["stitches"] == row["true"] for row in counted]
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)

    figure = Figure(figsize=(5.6, 5.2), layout="constrained")
    axes = figure.subplots()
    groups = reliability(probability, right)
    said, share = ([group[name] for group in groups] for name in ("said", "share"))
    bars = [
        [s - group["low"] for s, group in zip(share, groups, strict=False)],
        [group["high"] - s for s, group in zip(share, groups, strict=False)],
    ]
    axes.plot([0, 1], [0, 1], color="0.7", linewidth=1)
    axes.errorbar(said, share, yerr=bars, fmt="o", capsize=3, color="tab:blue")
    for group in groups:
        axes.annotate(
            str(group["counts"]), (group["said"], group["share"]), (7, -10), textcoords="offset points", color="0.35"
        )
    axes.set(
        xlim=(0, 1.02), ylim=(0, 1.02), xlabel="probability that was said", ylabel="share of counts that were right"
    )
    axes.set_title(f"{len(counted)} counts; bars: 90% intervals", fontsize=10)
    paths = [folder / "reliability.png"]
    figure.savefig(paths[0], dpi=140)

    figure = Figure(figsize=(5.6, 4.2), layout="constrained")
    axes = figure.subplots()
    coverage, risk = risk_coverage(probability, right)
    axes.step(100 * coverage, 100 * risk, where="post", color="tab:blue")
    sure = sum(row["state"] == "sure" for row in counted)
    axes.axvline(100 * sure / len(counted), color="0.6", linestyle=":", linewidth=1.5)
    axes.annotate(
        f"{sure} said to be sure",
        (100 * sure / len(counted), 1),
        (4, -4),
        xycoords=("data", "axes fraction"),
        textcoords="offset points",
        va="top",
        color="0.35",
    )
    axes.set(
        xlim=(0, 100),
        ylim=(0, None),
        xlabel="% of counts taken, surest first",
        ylabel="% of all counts: taken and wrong",
    )
    paths.append(folder / "risk-coverage.png")
    figure.savefig(paths[1], dpi=140)
    return paths
