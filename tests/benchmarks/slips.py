"""Is a slip found where it was made, and nothing found where nothing was?

    rimtally render short --count 35 --seed 950036 --difficulty short   (and right, over)
    python tests/benchmarks/slips.py right short over

A place counts as found where the first place that is named is of the right kind
and within a twelfth of the way round; an alarm is a place named in a round that
is right. Only what is claimed counts: not places that come with "the count may
be off itself".
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np

from counter import Count, count_photo
from counter.comparing.slips import PLACES_AROUND, find_slips
from counter.plan import read_plan


def main() -> None:
    for folder in map(Path, sys.argv[1:]):
        photos = found = claimed = counted = 0
        for path in sorted(folder.glob("*.json")):
            truth = json.loads(path.read_text())
            count = count_photo(path.with_suffix(".jpg"))
            photos += 1
            if not isinstance(count, Count):
                continue
            counted += count.stitches == truth["stitches"]
            slips = find_slips(count, read_plan(truth["written"]).rounds[0])
            if not slips.claimed:
                continue
            claimed += 1
            if truth["slip"]:
                seen, made = (np.subtract(at, count.centre) for at in (slips.claimed[0].at, truth["slip"]["at"]))
                apart = abs((np.diff(np.arctan2(*np.transpose([seen, made])))[0] / (2 * np.pi) + 0.5) % 1 - 0.5)
                found += apart <= 1 / PLACES_AROUND and slips.claimed[0].what == truth["slip"]["what"]
        print(f"{folder.name}: {photos} photos, {counted} counted right, {claimed} places claimed, {found} right")


if __name__ == "__main__":
    main()
