"""Many visitors of one page: ``python tests/benchmarks/visitors.py [PHOTO] [VISITORS]``

Each does what the page for others does with a photo, without a browser: waits
for a turn, has the photo read, and counted by the processes beside the server.
A photo alone, the slowest and the middle one of eight that come at once, and a
photo that comes while a sheet of 40 is counted; times as multiples of the one
alone, in the same run, for a machine's own speed says nothing about the
program. Memory is that of the processes that count, by Linux.
"""

from __future__ import annotations

import os
import statistics
import sys
import threading
import time
from pathlib import Path

import cv2

from counter.basics.photo import read_photo
from counter.page import pool
from counter.page.turns import Turns

SAMPLE = Path(__file__).parents[2] / "sample_images" / "blue-disc.jpg"
MEGAPIXELS, SHEET, TURNS = 12, 40, 5


def served(line: Turns, data: bytes) -> float:
    """Seconds from the photo's arrival to its count."""
    began = time.perf_counter()
    with line.turn(lambda before: None):
        pool.examined(read_photo(data))
    return time.perf_counter() - began


def at_once(line: Turns, data: bytes, visitors: int) -> list[float]:
    """Seconds that each of some visitors waits who come at the same time."""
    took: list[float] = []
    threads = [threading.Thread(target=lambda: took.append(served(line, data))) for _ in range(visitors)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(took)


def beside_a_sheet(line: Turns, data: bytes) -> list[float]:
    """Seconds that single photos take which come one after the other while a sheet is counted."""
    counted = [0]

    def sheet() -> None:
        for counted[0] in range(SHEET):
            served(line, data)

    busy = threading.Thread(target=sheet)
    busy.start()
    took = []
    while busy.is_alive() and len(took) < TURNS:
        took.append(served(line, data))
    busy.join()
    return took


def main(given: list[str]) -> None:
    """Print a line for each."""
    visitors = int(next((text for text in given if text.isdigit()), "8"))
    picture = cv2.imread(next((text for text in given if not text.isdigit()), str(SAMPLE)))
    share = (MEGAPIXELS * 1e6 / picture[..., 0].size) ** 0.5
    data = cv2.imencode(".jpg", cv2.resize(picture, None, fx=share, fy=share, interpolation=cv2.INTER_CUBIC))[
        1
    ].tobytes()
    line = Turns(pool.cores())
    at_once(line, data, 2 * pool.cores())  # what is loaded once is loaded
    alone = statistics.median(served(line, data) for _ in range(TURNS))
    waits = at_once(line, data, visitors)
    sheet = beside_a_sheet(line, data)
    print(
        f"{pool.cores()} cores, load {os.getloadavg()[0]:.1f}; a photo of {MEGAPIXELS} megapixels alone {alone:.2f} s"
    )
    print(
        f"{visitors} at once: slowest {waits[-1] / alone:.1f}, middle {statistics.median(waits) / alone:.1f} times that"
    )
    print(
        f"beside a sheet of {SHEET}: middle {statistics.median(sheet) / alone:.1f}, slowest {max(sheet) / alone:.1f} times that"
    )
    for number in sorted(pool._processes()._processes):
        told = Path(f"/proc/{number}/status")
        if told.exists():
            print(
                f"a process that counts: {int(told.read_text().partition('VmHWM:')[2].split()[0]) / 1024:.0f} MB at most"
            )


if __name__ == "__main__":
    main(sys.argv[1:])
