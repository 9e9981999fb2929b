"""What the picture of a counted piece tells beside its number: ``python tests/benchmarks/evidence.py FOLDER``.

On photos with truth files, marks matched one to one within half a stitch:
how often stitches that share a base are told from the others, how far apart
marks of one increase stand, and how far off stitch width and round height are.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import linear_sum_assignment

from counter import Count, count_photo, read_photo
from counter.comparing.slips import shared_at
from counter.lengths.measure import flattened, measure

#: Least chance of a mark that is taken to share its base.
TAKEN = 0.5


def around(marks: np.ndarray) -> np.ndarray:
    """Distance from every mark to the next, round the rim."""
    return np.linalg.norm(np.roll(marks, -1, axis=0) - marks, axis=1)


def increased(truth: dict) -> np.ndarray:
    """Which of the true marks share a base."""
    marks = np.array(truth["marks"])
    shared = np.zeros(len(marks), dtype=bool)
    if truth["increases"]:
        away = np.linalg.norm(marks[:, None] - np.array(truth["increases"])[None], axis=2)
        shared[away.argmin(axis=0)] = True
    return shared


def main() -> None:
    told: dict[str, list] = {}
    within, beside, widths, heights = [], [], [], []
    for path in sorted(Path(sys.argv[1]).glob("*.json")):
        truth = json.loads(path.read_text())
        if truth.get("refuse") or not truth.get("marks"):
            continue
        photo = read_photo(path.with_suffix(".jpg"))
        count = count_photo(photo)
        if not isinstance(count, Count):
            continue
        marks, shared = np.array(truth["marks"]), increased(truth)
        away = np.linalg.norm(count.marks[:, None] - marks[None], axis=2)
        own, true = linear_sum_assignment(away)
        fits = away[own, true] < 0.5 * np.median(around(marks))
        fits &= ~np.isin(true, truth.get("hidden", []))
        if shared.any():
            kind = next((tag for tag in truth["tags"] if tag in ("easy", "ordinary", "hard")), "all")
            told.setdefault(kind, []).append((shared[true[fits]], shared_at(count)[own[fits]]))
        if shared.any() and shared.mean() < 0.7 and not truth["in_progress"] and not truth.get("hidden"):
            gaps = around(marks)
            near = np.array([np.median(np.take(gaps, range(i - 4, i + 5), mode="wrap")) for i in range(len(gaps))])
            both = shared & np.roll(shared, -1)
            within += (gaps / near)[both].tolist()
            beside += (gaps / near)[~both].tolist()
        if count.stitches != len(marks) or "cup" in truth["tags"] or truth["in_progress"]:
            continue
        stretch, middle, _ = flattened(count.outline)
        flat = (marks - middle) @ stretch.T
        measures = measure(photo, count)
        widths.append(measures.width.value / around(flat).mean() - 1)
        tops = [(np.array(own) - middle) @ stretch.T for own in truth.get("tops") or []]
        if measures.height and count.rounds == truth["rounds"] and len(tops) > 2:
            centre = (np.array(truth["centre"]) - middle) @ stretch.T
            reach = [np.linalg.norm(own - centre, axis=1).mean() for own in tops]
            heights.append(measures.height.value / ((reach[-1] - reach[0]) / (len(reach) - 1)) - 1)
    for kind, pairs in told.items():
        true, chance = (np.concatenate(own) for own in zip(*pairs, strict=True))
        taken = chance > TAKEN
        print(
            f"shared bases, {kind}: {(true & taken).sum() / taken.sum():.0%} right, {(true & taken).sum() / true.sum():.0%} found"
        )
    for name, values in (("within an increase", within), ("elsewhere", beside)):
        print(
            f"distance of marks over their neighbourhood's, {name}: {np.percentile(values, 10):.2f} to {np.percentile(values, 90):.2f}"
        )
    for name, values in (("stitch width", widths), ("round height", heights)):
        if values:
            print(f"{name}, flat pieces counted right: {np.mean(values):+.1%} ± {np.std(values):.1%} ({len(values)})")


if __name__ == "__main__":
    main()
