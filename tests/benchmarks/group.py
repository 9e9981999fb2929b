"""Measures the audit of groups: whose doing, killed runs, throughput and memory.

    python tests/benchmarks/group.py whose --groups 1000 [--counts EVALUATED.json]
    python tests/benchmarks/group.py killed FOLDER --times 10
    python tests/benchmarks/group.py speed FOLDER

FOLDER holds photos as `rimtally render --group` makes them; it is copied and left as it is. `speed` says how many
times one worker's pace all workers keep together, as a ratio: that of `workers` at a perfect one. EVALUATED.json is
what `rimtally evaluate SET --json EVALUATED.json` writes: the groups' photos are then as sure, and as wrong, as those.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from group_sets import measured, simulated

from counter.group.attribution import attribute_deviations
from counter.group.audit import Group
from counter.group.sheets import group_csv
from counter.group.store import NAME, GroupFile
from counter.group.work import program

#: Seconds between two looks how many photos are kept, and the longest from the last of them to the kill.
POLL_S, MOST_WAIT_S = 0.02, 2.0
PLAN = "6, 12, 18, 24, 31, 36, 42"
SETS = {
    "pattern": {"pattern": True, "missing": 0.0},
    "none": {},
    "both": {"pattern": True, "maker": True, "missing": 0.0},
    "maker": {"maker": True},
    "none, makers slip four times as often": {"slips": 0.2},
}


def whose_doing(groups: int, counts: Sequence[Mapping[int, float]]) -> None:
    """False discoveries, and how often what was planted is found."""
    kinds = {"as sure as they come": {}, "all sure": {"sure": True}}
    if counts:
        kinds["as evaluated"] = {"counts": counts}
    for label, planted in SETS.items():
        for photos, how in kinds.items():
            false = found = makers = planted_makers = blamed = looked = hidden = seen_any = 0.0
            for seed in range(groups):
                seen, truth = simulated(np.random.default_rng([seed, 77]), **how, **planted)
                verdicts = attribute_deviations(seen)
                rounds = {own.round: own.off for own in verdicts.pattern}
                if truth.pattern is not None:
                    seen_any += truth.pattern[0] in verdicts.looked and truth.pattern[0] not in verdicts.hidden
                    found += rounds.pop(truth.pattern[0], None) == truth.pattern[1]
                false += len(rounds) / max(1, len(verdicts.pattern))
                looked += len(verdicts.looked)
                hidden += len(verdicts.hidden)
                named = {(own.maker, own.round) for own in verdicts.makers}
                planted_makers += len(truth.slips)
                makers += sum(key in named for key in truth.slips)
                blamed += sum(number in rounds for _, number in truth.slips)
            told = [
                f"false discoveries {false / groups:.2%}",
                f"rounds said to stay open {hidden / max(1, looked):.1%}",
            ]
            if planted.get("pattern"):
                told.append(f"pattern's error found {found / groups:.1%} (could show it: {seen_any / groups:.1%})")
            if planted_makers:
                told.append(f"maker's slips found {makers / planted_makers:.1%}")
                told.append(f"taken for the pattern's {blamed / planted_makers:.1%}")
            print(f"photos {photos}, planted {label}: {', '.join(told)}", flush=True)


def _copied(folder: Path, into: Path) -> Path:
    own = into / "photos"
    shutil.copytree(folder, own, ignore=shutil.ignore_patterns(NAME, "*.json"))
    Group.open(own, plan=PLAN, names="{maker}/{round}")
    return own


def _table(folder: Path) -> str:
    group = Group.open(folder)
    job = group.stock()
    assert not job.todo
    return group_csv(group.lay_out(job))


def killed(folder: Path, times: int, seed: int) -> None:
    """Whether runs that are killed at random moments end with the same table as one that isn't."""
    rng = random.Random(seed)
    with tempfile.TemporaryDirectory() as place:
        undisturbed = _copied(folder, Path(place) / "undisturbed")
        subprocess.run([sys.executable, "-m", "counter", "audit", undisturbed], check=True, capture_output=True)
        table, photos = _table(undisturbed), len(Group.open(undisturbed).photos)
        same = 0
        for turn in range(times):
            own = _copied(folder, Path(place) / f"killed {turn}")
            command = [sys.executable, "-m", "counter", "audit", str(own)]
            process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            # Some moment after so many photos were kept, however fast or busy the machine is.
            book, least = GroupFile(own / NAME), rng.randrange(photos)
            while process.poll() is None and len(book.counted(program())) < least:
                time.sleep(POLL_S)
            time.sleep(rng.uniform(0, MOST_WAIT_S))
            process.send_signal(signal.SIGKILL)  # to the process alone: its workers must end by themselves
            process.wait()
            job = Group.open(own).stock()
            subprocess.run([*command[:-1], own], check=True, capture_output=True)
            same += _table(own) == table
            everything = len(set(job.contents.values()))
            print(
                f"killed once {least} were there: {everything - len(job.todo)} of {everything} photos were kept",
                flush=True,
            )
            shutil.rmtree(own.parent)
        print(f"the same table as an undisturbed run, bit for bit: {same} of {times}")


def speed(folder: Path) -> None:
    """Throughput of all workers over that of one, and the largest memory of a worker."""
    pace = {}
    for workers in (1, os.cpu_count() or 1):
        with tempfile.TemporaryDirectory() as place:
            own = _copied(folder, Path(place))
            script = (
                "import sys, time\nfrom pathlib import Path\nfrom counter.group.audit import Group\n"
                "group = Group.open(Path(sys.argv[1])); job = group.stock(); told = []\n"
                "group.count(job, workers=int(sys.argv[2]), progress=lambda now: told.append((now.done, time.monotonic())))\n"
                "import resource\n"
                "(a, t0), (b, t1) = told[len(told) // 5], told[-1]\n"
                "print((b - a) / (t1 - t0), resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)\n"
            )
            made = subprocess.run(
                [sys.executable, "-c", script, str(own), str(workers)], check=True, capture_output=True, text=True
            )
            pace[workers], most = map(float, made.stdout.split())
            print(f"{workers} workers: {pace[workers]:.2f} photos a second, at most {most:.0f} MB a worker", flush=True)
    print(f"ratio {pace[max(pace)] / pace[1]:.2f} of {max(pace)}; load of the machine {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("whose", "killed", "speed"))
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--groups", type=int, default=1000)
    parser.add_argument("--counts", type=Path)
    parser.add_argument("--times", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    if options.what == "whose":
        rows = json.loads(options.counts.read_text())["photos"] if options.counts else []
        whose_doing(options.groups, measured(rows))
    elif options.what == "killed":
        killed(options.folder, options.times, options.seed)
    else:
        speed(options.folder)
