"""Write FIGURES.md anew: ``python tests/benchmarks/figures.py``

Runs the benchmarks that take minutes at most and need no rendered photos, and
writes what they say with commit, machine, versions and command. Times differ
from machine to machine: compare ratios, or times of one machine.
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
SAMPLES = sorted(str(path.relative_to(ROOT)) for path in (ROOT / "sample_images").glob("*.jpg"))
#: What is run, from the root of the repository.
COMMANDS = (
    ("start.py", []),
    ("plan.py", []),
    ("speed.py", SAMPLES),
)
LIBRARIES = ("numpy", "opencv-python", "scipy", "pillow", "streamlit", "lark")


def main() -> int:
    commit = subprocess.run(
        ["git", "describe", "--always", "--dirty"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    lines = [
        "# Figures of this version",
        "",
        "Written by `python tests/benchmarks/figures.py`; don't edit. No photo is rendered for these: seeds are none.",
        "",
        f"- commit {commit.stdout.strip()}, {datetime.now(UTC):%Y-%m-%d}",
        f"- {platform.system()} on {platform.machine()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before",
        f"- Python {platform.python_version()}, " + ", ".join(f"{name} {version(name)}" for name in LIBRARIES),
    ]
    for script, arguments in COMMANDS:
        command = [f"tests/benchmarks/{script}", *arguments]
        print("python", *command, flush=True)
        run = subprocess.run([sys.executable, *command], cwd=ROOT, capture_output=True, text=True, check=False)
        if run.returncode:
            print(run.stderr, file=sys.stderr)
            return 1
        shown = ["sample_images/*.jpg"] if arguments == SAMPLES else arguments
        lines += ["", f"## `python {' '.join([command[0], *shown])}`", "", "```", run.stdout.strip(), "```"]
    (HERE / "FIGURES.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
