"""Many visitors of one page: ``python tests/benchmarks/visitors.py [PHOTO] [VISITORS]``

Each does what the page for others does with a photo, without a browser: waits
for a turn, has the photo read, and counted by the processes beside the server.
A photo alone, the slowest and the middle one of eight that come at once, and a
photo that comes while one sheet of 40, and while four, are counted; times as
multiples of the one alone, in the same run, for a machine's own speed says
nothing about the program. What a second core costs the first one on this
machine, whoever uses it, is said beside it: as many photos at once as there are
cores, without a line. How many photos were begun between a single one's arrival
and its own beginning is the line's doing alone. Memory is that of the processes
that count, by Linux.
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
MEGAPIXELS, SHEET, SINGLES = 12, 40, 9


class Counted:
    """Photos that go through a line, with how many were begun so far."""

    def __init__(self, line: Turns, data: bytes) -> None:
        self.line, self.data, self.begun = line, data, 0

    def served(self, *, of_sheet: bool = False) -> tuple[float, int]:
        """Seconds from a photo's arrival to its count, and how many others were begun before it."""
        began, others = time.perf_counter(), self.begun
        with self.line.turn(lambda before: None, of_sheet=of_sheet):
            others = self.begun - others
            self.begun += 1
            pool.examined(read_photo(self.data))
        return time.perf_counter() - began, others

    def at_once(self, visitors: int) -> list[float]:
        """Seconds that each of some visitors waits who come at the same time."""
        took: list[float] = []
        threads = [threading.Thread(target=lambda: took.append(self.served()[0])) for _ in range(visitors)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return sorted(took)

    def beside_sheets(self, sheets: int) -> list[tuple[float, int]]:
        """What single photos take which come one after the other while sheets are counted."""
        enough = threading.Event()

        def sheet() -> None:
            for _ in range(SHEET):
                if not enough.is_set():
                    self.served(of_sheet=True)

        busy = [threading.Thread(target=sheet) for _ in range(sheets)]
        for one in busy:
            one.start()
        took = [self.served() for _ in range(SINGLES)]
        enough.set()
        for one in busy:
            one.join()
        return took


def main(given: list[str]) -> None:
    """Print a line for each."""
    visitors = int(next((text for text in given if text.isdigit()), "8"))
    picture = cv2.imread(next((text for text in given if not text.isdigit()), str(SAMPLE)))
    share = (MEGAPIXELS * 1e6 / picture[..., 0].size) ** 0.5
    data = cv2.imencode(".jpg", cv2.resize(picture, None, fx=share, fy=share, interpolation=cv2.INTER_CUBIC))[
        1
    ].tobytes()
    counted = Counted(Turns(pool.cores()), data)
    counted.at_once(2 * pool.cores())  # what is loaded once is loaded
    alone = statistics.median(counted.served()[0] for _ in range(SINGLES))
    full = statistics.median(seconds for _ in range(SINGLES) for seconds in counted.at_once(pool.cores()))
    waits = counted.at_once(visitors)
    print(
        f"{pool.cores()} cores, load {os.getloadavg()[0]:.1f}; a photo of {MEGAPIXELS} megapixels alone {alone:.2f} s, "
        f"{full / alone:.1f} times that where every core has one"
    )
    print(
        f"{visitors} at once: slowest {waits[-1] / alone:.1f}, middle {statistics.median(waits) / alone:.1f} times that"
    )
    for sheets in (1, 4):
        took = counted.beside_sheets(sheets)
        times = sorted(seconds / alone for seconds, _ in took)
        print(
            f"beside {sheets} of {SHEET}: middle {statistics.median(times):.1f}, slowest {times[-1]:.1f} times that; "
            f"at most {max(others for _, others in took)} of theirs begun before it"
        )
    for number in sorted(pool._processes()._processes):
        told = Path(f"/proc/{number}/status")
        if told.exists():
            print(
                f"a process that counts: {int(told.read_text().partition('VmHWM:')[2].split()[0]) / 1024:.0f} MB at most"
            )


if __name__ == "__main__":
    main(sys.argv[1:])
