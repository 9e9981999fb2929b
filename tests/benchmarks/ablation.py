"""What each part of the count is worth: ``python tests/benchmarks/ablation.py FOLDER``.

FOLDER holds photos with truth files. Each way of counting leaves one part out;
all of them see the same pieces, so that the shares can be compared line by line.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np

from counter.basics.answer import Refusal
from counter.basics.photo import read_photo
from counter.counting import count
from counter.counting.braid import follow, look, look_again
from counter.counting.calibration import shipped
from counter.counting.centre import find_worked
from counter.counting.tally import tally
from counter.counting.width import find_width, refined


def ways(pixels, piece, centre):
    """Number of stitches by every way of counting, or None where no rim is seen."""
    rough = find_width(pixels, piece, centre)
    if not rough:
        return None
    first = look(pixels, piece, centre, count.whole(rough[0].stitches))
    laid = follow(piece, centre, first)
    number = count.whole(refined(look(pixels, laid, centre, count.whole(refined(first)))))
    again = look_again(pixels, laid, centre, number)
    calibration = shipped()
    evidence, widths, low, high = count.evidence_of(again, calibration.trust)
    return {
        "first look at widths": round(rough[0].stitches),
        "widths alone": round(refined(again)),
        "without room at the seam": tally(evidence, widths, n_min=low, n_max=high).stitches,
        "one look": count.tally_of(look(pixels, laid, centre, number), calibration).stitches,
        "outline not followed": count.tally_of(look_again(pixels, piece, centre, number), calibration).stitches,
        "whole": count.tally_of(again, calibration).stitches,
    }


def main(folder: str) -> None:
    results, groups = [], []
    for path in sorted(Path(folder).glob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        photo = read_photo(path.with_suffix(".jpg"))
        if truth["refuse"] is not None or isinstance(photo, Refusal):
            continue
        pixels = photo.working
        found = find_worked(pixels)
        got = None if isinstance(found, Refusal) else ways(pixels, found.piece, found.centre)
        if got:
            results.append({name: number - truth["stitches"] for name, number in got.items()})
            groups.append(next((tag for tag in truth["tags"] if tag in ("easy", "ordinary", "hard")), "other"))
    names = [name for name in ("easy", "ordinary", "hard", "other") if name in groups]
    print(f"{len(results)} pieces that were found; exact / within one")
    print(f"{'':26}" + "".join(f"{name:>14}" for name in names))
    for way in results[0]:
        cells = []
        for name in names:
            off = np.array([row[way] for row, group in zip(results, groups, strict=True) if group == name])
            cells.append(f"{(off == 0).mean():.0%} / {(abs(off) <= 1).mean():.0%}")
        print(f"{way:26}" + "".join(f"{cell:>14}" for cell in cells))


if __name__ == "__main__":
    main(sys.argv[1])
