"""How long the command line takes before it does anything: ``python tests/benchmarks/start.py [TURNS]``

Processor time of whole processes, in turns, so that what else the machine does
meets all of them; the median of each, over that of a bare Python.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys

STARTS = {
    "bare Python": ["-c", "pass"],
    "--help": ["-m", "counter", "--help"],
    "--version": ["-m", "counter", "--version"],
    "what a plan needs": ["-c", "import counter.commands.plan"],
    "what the notebook's list needs": ["-c", "import counter.commands.notebook"],
    "what a count needs": ["-c", "import counter.commands.count; from counter.counting.count import load; load()"],
    "OpenCV and NumPy alone": ["-c", "import cv2"],
}


def spent(arguments: list[str]) -> float:
    """Processor time of one process, in seconds."""
    before = os.times()
    subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def main(turns: int = 9) -> None:
    """Print a line for each start."""
    took: dict[str, list[float]] = {name: [] for name in STARTS}
    for _ in range(turns):
        for name, arguments in STARTS.items():
            took[name].append(spent(arguments))
    bare = statistics.median(took["bare Python"])
    for name, times in took.items():
        print(f"{name:32} {statistics.median(times) - bare:6.3f} s more than a bare Python")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
