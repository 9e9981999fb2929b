"""The numbers that were fitted to photos whose truth is known, fitted again: ``python tests/benchmarks/fitted.py FOLDER``

FOLDER holds photos with truth files, as `rimtally render dev` makes them. Each photo is counted (about 3 s), and
every number is printed beside what it says in the code, so that a change of the reader shows where it moves one. The
numbers are not changed: what is measured on rendered photos is a person's to judge.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from counter.basics.answer import Count
from counter.comparing import slips, which
from counter.evaluation.truth import read_folder
from counter.examination import examine
from counter.lengths import measure


def shares(differences: Iterable[int]) -> str:
    """How often each difference comes, as shares."""
    seen = Counter(differences)
    whole = sum(seen.values())
    return ", ".join(f"{off:+d}: {number / whole:.3f}" for off, number in sorted(seen.items()))


def main(folder: str) -> int:
    """Print them."""
    known, _ = read_folder(folder)
    flat: list[int] = []
    walled: list[int] = []
    round_off: list[int] = []
    straight: list[float] = []
    for photo, truth in known:
        answer = examine(Path(photo)).answer
        if truth.refuse is not None or not isinstance(answer, Count) or truth.rounds is None:
            continue
        _, _, roundness = measure.flattened(answer.outline)
        straight.append(-np.log(roundness))
        if answer.rounds is not None and answer.in_progress is None:
            (walled if "cup" in truth.tags else flat).append(answer.rounds - truth.rounds)
            round_off.append(answer.rounds - truth.rounds)
    print(f"{len(known)} photos of {folder}")
    print(f"comparing/which.py ROUNDS_OFF_SHARES = {which.ROUNDS_OFF_SHARES}")
    print(f"    {len(flat)} pieces without a wall: {shares(flat)}")
    print(f"comparing/which.py ROUNDS_LOST_SD = {which.ROUNDS_LOST_SD}")
    if walled:
        print(f"    {len(walled)} pieces with a wall: mean {np.mean(walled):+.2f}, sd {np.std(walled):.2f}")
    print(f"lengths/measure.py ROUNDS_SD = {measure.ROUNDS_SD}")
    if round_off:
        print(f"    {len(round_off)} counted rounds: root mean square {np.sqrt(np.mean(np.square(round_off))):.2f}")
    print(f"lengths/measure.py LEAST_LOG_AXIS_RATIO = {measure.LEAST_LOG_AXIS_RATIO}")
    if straight:
        print(f"    {len(straight)} outlines: half below {np.median(straight):.3f}")
    print(f"comparing/slips.py MISLED_PROBABILITY = {slips.MISLED_PROBABILITY}: by tests/benchmarks/slips.py")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
