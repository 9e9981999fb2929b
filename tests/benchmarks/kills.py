"""Kills a program that keeps counts, over and over: ``python tests/benchmarks/kills.py [KILLS]``

A process keeps counts in a notebook, changes and deletes them, and says of each
act when it begins and, once the notebook has said so, that it is done. It is
killed (SIGKILL) at random moments, a hundred times in the same notebook. All
that was done must be there then, whole, and of what was begun either all or
nothing. The exit code is the number of kills after which it isn't so. Needs
a system that can fork.
"""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from making import make_count

from counter.basics.photo import Photo
from counter.notebook.store import Notebook

MOST_ACTS, MOST_WAIT_S = 12, 0.05


def acts(path: Path, known: dict[str, str], seed: int, out: int) -> None:
    """Keep, change and delete without end; `known` are the keys that are there, with their notes."""
    rng, book = random.Random(seed), Notebook.open(path)
    photo = Photo(np.random.default_rng(seed).integers(0, 255, (640, 640, 3), np.uint8))
    while True:
        note = f"{seed} {rng.random()}"
        what = rng.choice(["keep", "change", "delete"]) if known else "keep"
        key = rng.choice(sorted(known)) if what != "keep" else ""
        os.write(out, f"begun {what} {key} {note}\n".encode())
        if what == "keep":
            key = book.keep(photo, make_count({rng.randint(6, 60): 1.0}), note=note).key
        elif what == "change":
            book.change(book.entry(key), note=note)
        else:
            book.delete(key)
        known.pop(key, None) if what == "delete" else known.update({key: note})
        os.write(out, f"done {what} {key} {note}\n".encode())


def killed(path: Path, known: dict[str, str], seed: int) -> tuple[dict[str, str], list[str], int]:
    """What must be there after a kill, what was begun, and how many acts were done."""
    rng = random.Random(-seed)
    into, out = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(into)
        try:
            acts(path, dict(known), seed, out)
        finally:
            os._exit(1)
    os.close(out)
    told, wait = b"", rng.randrange(MOST_ACTS)
    while told.count(b"done") < wait and (more := os.read(into, 65536)):
        told += more
    time.sleep(rng.uniform(0, MOST_WAIT_S))
    os.kill(child, signal.SIGKILL)
    if not os.WIFSIGNALED(os.waitpid(child, 0)[1]):
        raise RuntimeError("the process ended by itself")
    while more := os.read(into, 65536):
        told += more
    os.close(into)
    known, begun, done = dict(known), [], 0
    for line in told.decode().splitlines():
        state, what, key, note = line.split(" ", 3)
        begun = [what, key, note] if state == "begun" else []
        if state == "done":
            done += 1
            known.pop(key, None) if what == "delete" else known.update({key: note})
    return known, begun, done


def there(path: Path) -> dict[str, str]:
    """All that is in the notebook, read whole: key -> note."""
    with sqlite3.connect(path) as link:
        assert link.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    book, found, first = Notebook.open(path), {}, 0
    while page := book.listing(first=first).lines:
        for listed in page:
            found[listed.key] = book.entry(listed.key).note
            assert book.photo(listed.key).width == 640
        first += len(page)
    return found


def main(kills: int) -> int:
    """Print a line at the end, and one for each kill that lost something."""
    known: dict[str, str] = {}
    lost = total = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "book.sqlite3"
        for seed in range(1, kills + 1):
            must, begun, done = killed(path, known, seed)
            total += done
            known = there(path)
            ways = [must]
            if begun:
                what, key, note = begun
                new = next(iter(known.keys() - must.keys()), "")
                other = {name: text for name, text in must.items() if name != key}
                ways.append(other if what == "delete" else {**must, (key or new): note})
            if known not in ways:
                lost += 1
                print(f"kill {seed}: {len(must)} must be there, {len(known)} are")
    print(f"{kills} kills, {total} acts done before them; something was lost or half done after {lost}")
    return min(lost, 100)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100))
