"""What each part of the count is worth: ``python tests/benchmarks/ablation.py FOLDER...``

The folders hold photos with truth files. Each way of counting leaves one part
out, or is handed the truth of one; all of them see the same pieces, so that the
shares can be compared line by line. Each folder, or each look that its truth files
name, has its own columns.
"""

from __future__ import annotations

import sys

import numpy as np

from counter.basics.answer import Refusal
from counter.basics.photo import read_photo
from counter.counting.calibration import shipped
from counter.counting.loop.tally import tally
from counter.counting.piece import measured
from counter.counting.pieces import find_worked
from counter.counting.posterior import evidence_of, tally_of
from counter.counting.prediction import predict, predict_augmented
from counter.counting.rim import refine_outline
from counter.counting.width import rough_counts, supposable
from counter.evaluation.places import true_outline
from counter.evaluation.truth import read_folder

GROUPS = ("easy", "ordinary", "hard")


def ways(pixels, piece, centre):
    """Number of stitches by every way of counting, or None where no rim is seen."""
    rough = rough_counts(pixels, piece, centre)
    if not rough:
        return None
    first = predict(pixels, piece, centre, supposable(rough[0].stitches))
    laid = refine_outline(piece, centre, first)
    number = supposable(predict(pixels, laid, centre, supposable(first.stitches_by_width)).stitches_by_width)
    again = predict_augmented(pixels, laid, centre, number)
    calibration = shipped()
    evidence, widths, low, high = evidence_of(again, calibration.trust)
    return {
        "first look at widths": round(rough[0].stitches),
        "widths alone": round(again.stitches_by_width),
        "without room at the seam": tally(evidence, widths, n_min=low, n_max=high).stitches,
        "one look": tally_of(predict(pixels, laid, centre, number), calibration).stitches,
        "outline not followed": tally_of(predict_augmented(pixels, piece, centre, number), calibration).stitches,
        "whole": tally_of(again, calibration).stitches,
    }


def clockwise(line):
    """A closed line so that it runs clockwise in the picture (y down: its area by the shoelace formula is positive)."""
    x, y = line.T
    return line if (x * np.roll(y, -1) - np.roll(x, -1) * y).sum() > 0 else line[::-1]


def main(folders: list[str]) -> None:
    results, groups = [], []
    for folder in folders:
        for path, truth in read_folder(folder)[0]:
            photo, known = read_photo(path), true_outline(truth)
            if truth.refuse is not None or isinstance(photo, Refusal):
                continue
            pixels = photo.working
            found = find_worked(pixels)
            got = None if isinstance(found, Refusal) else ways(pixels, found.piece, found.centre)
            if not got:
                continue
            if known is not None:
                piece = measured(clockwise(known / photo.shrink), pixels.shape[1::-1])
                told = ways(pixels, piece, found.centre)
                got["whole, true rim"] = told["whole"] if told else 0
                if truth.centre is not None:
                    told = ways(pixels, piece, tuple(np.array(truth.centre) / photo.shrink))
                    got["whole, true rim and centre"] = told["whole"] if told else 0
            results.append({name: number - truth.stitches for name, number in got.items()})
            group = next((tag for tag in truth.tags if tag in GROUPS), "other")
            groups.append((truth.look or path.resolve().parent.name, group))
    columns = sorted(set(groups), key=lambda own: (own[0], [*GROUPS, "other"].index(own[1])))
    print(f"{len(results)} pieces that were found; exact / within one")
    heads = [" ".join(own) for own in columns]
    wide = [max(12, len(head)) + 2 for head in heads]
    print(f"{'':28}" + "".join(f"{head:>{w}}" for head, w in zip(heads, wide, strict=True)))
    for way in dict.fromkeys(name for row in results for name in row):
        cells = []
        for own in columns:
            mine = zip(results, groups, strict=True)
            off = np.array([row[way] for row, group in mine if group == own and way in row])
            cells.append(f"{(off == 0).mean():.0%} / {(abs(off) <= 1).mean():.0%}" if len(off) else "-")
        print(f"{way:28}" + "".join(f"{cell:>{w}}" for cell, w in zip(cells, wide, strict=True)))


if __name__ == "__main__":
    main(sys.argv[1:])
