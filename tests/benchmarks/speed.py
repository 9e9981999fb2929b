"""Where the time of a count goes: ``python tests/benchmarks/speed.py PHOTO...``

Each photo is brought to 12 megapixels. Times are processor time, of both cores
together, and shares of one whole count in the same run, for a machine's own
speed says nothing about the program.
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict

import cv2
import numpy as np

from counter.basics.photo import read_photo
from counter.counting import count, pieces, posterior, prediction, reading, rim, rounds, seam, width

MEGAPIXELS = 12


def timed(spent, name, function):
    def run(*values, **named):
        began = time.process_time()
        try:
            return function(*values, **named)
        finally:
            spent[name] += time.process_time() - began

    return run


def main(paths: list[str]) -> None:
    count.load()
    spent = defaultdict(float)
    rim.predict = timed(spent, "predictions of the network", prediction.predict)
    prediction.predict_each = width.predict_each = timed(spent, "predictions of the network", prediction.predict_each)
    reading.find_worked = timed(spent, "piece and centre", pieces.find_worked)
    posterior.tally_round = timed(spent, "closed-loop count", seam.tally_round)
    count.count_rounds = timed(spent, "rounds", rounds.count_rounds)
    whole, waited = [], []
    for path in paths:
        picture = cv2.imread(path)
        factor = (MEGAPIXELS * 1e6 / picture[..., 0].size) ** 0.5
        data = cv2.imencode(".jpg", cv2.resize(picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_CUBIC))[
            1
        ].tobytes()
        began = time.process_time()
        timed(spent, "reading the photo", read_photo)(data)
        before = time.process_time() - began
        began, waits = time.process_time(), time.perf_counter()
        count.count_photo(data)
        whole.append(time.process_time() - began)
        waited.append(time.perf_counter() - waits)
        assert before < whole[-1]
    total = sum(whole)
    print(
        f"{len(paths)} photos of {MEGAPIXELS} megapixels: median {np.median(whole):.2f} s of processor time, "
        f"most {max(whole):.2f} s; {np.median(waited):.2f} s by the clock, most {max(waited):.2f} s"
    )
    for name, seconds in sorted(spent.items(), key=lambda item: -item[1]):
        print(f"{name:24} {seconds / total:6.0%}   {seconds / len(paths) * 1000:5.0f} ms a photo")


if __name__ == "__main__":
    main(sys.argv[1:])
