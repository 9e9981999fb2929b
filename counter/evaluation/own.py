"""Photos that a person counted are photos with truth: measured, and "sure" set by them on this machine."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from counter.basics.answer import Refusal
from counter.basics.files import write_whole
from counter.basics.threads import one_thread_for_algebra
from counter.counting.calibration import in_use, own_file, shipped, shipped_mark
from counter.counting.posterior import tally_of
from counter.counting.reading import read_rim
from counter.evaluation.limits import RISK, Case, case_of, figures, limit_of, promised
from counter.notebook.limits import MOST_ENTRIES
from counter.notebook.store import Notebook
from counter.notebook.trouble import NotebookError
from counter.notebook.values import Entry

__all__ = [
    "ENOUGH",
    "LOOK",
    "FewPhotos",
    "OwnLimit",
    "forget",
    "own_counts",
    "own_file",
    "set_own_limit",
    "write_truth",
]

#: What a truth file says of the look of one's own photos.
LOOK = "own photos"
#: Least photos from which "sure" is set, and from which it may become more frequent than as shipped: with none
#: wrong of fewer, no more than 3% (of 30) could be promised for the next one, and of 99 one percent.
ENOUGH, ENOUGH_TO_LOWER = 30, 99


class FewPhotos(ValueError):
    """There are too few counts by a person to set anything by them."""


@dataclass(frozen=True)
class OwnLimit:
    """What was set by a person's own photos.

    Parameters
    ----------
    sure, before : float
        Least probability of a sure count, now and as shipped.
    photos : int
    figures : dict
        "before" and "now" -> as :func:`counter.evaluation.limits.figures` has them for all of these photos.
    promised : float
        Chance, at most, that the next photo like them is sure and wrong.
    """

    sure: float
    before: float
    photos: int
    figures: dict[str, dict[str, Any]]
    promised: float


def own_counts(book: Notebook) -> tuple[list[Entry], list[str]]:
    """Counts that a person put right or confirmed.

    Parameters
    ----------
    book : Notebook

    Returns
    -------
    entries : list of Entry
        In the order in which they were kept. A round under way is not among them: its marks are those that are made.
    damaged : list of str
        Beginnings of the keys of those that can't be read.

    Raises
    ------
    NotebookError
        If the notebook can't be read.
    """
    found = book.listing(most=MOST_ENTRIES)
    entries, damaged = [], list(found.damaged)
    for line in reversed(found.lines):
        if line.state != "counted by a person":
            continue
        try:
            entry = book.entry(line.key)
        except NotebookError as error:
            if error.code != "damaged count":
                raise
            damaged.append(line.key[:8])
            continue
        if not entry.count.in_progress:
            entries.append(entry)
    return entries, damaged


def write_truth(book: Notebook, folder: Path) -> tuple[int, list[str]]:
    """Write the photos that a person counted into a folder, each with a truth file.

    Parameters
    ----------
    book : Notebook
    folder : Path
        That is empty, or not there yet; only its user may look into one that is made.

    Returns
    -------
    written : int
    damaged : list of str
        Beginnings of the keys of those that can't be read.

    Raises
    ------
    NotebookError
        If the notebook can't be read.
    OSError
        If the folder can't be written, or holds something (FileExistsError).
    """
    entries, damaged = own_counts(book)
    folder.mkdir(mode=0o700, exist_ok=True)
    if any(folder.iterdir()):
        raise FileExistsError("it is not empty")
    for entry in entries:
        marks = [[round(mark.x, 1), round(mark.y, 1)] for mark in entry.marks]
        truth = {
            "stitches": len(marks),
            "rounds": None,
            "centre": None,
            "marks": marks,
            "in_progress": None,
            "increases": [],
            "refuse": None,
            "look": LOOK,
            "tags": ["corrected" if entry.corrections or any(entry.answers) else "confirmed"],
        }
        name = f"{entry.kept:%Y-%m-%d}-{entry.key[:8]}"
        write_whole(folder / f"{name}.jpg", book.photo_file(entry.key))
        write_whole(folder / f"{name}.json", (json.dumps(truth) + "\n").encode())
    return len(entries), damaged


def set_own_limit(book: Notebook, progress: Callable[[int, int, str], None] | None = None) -> OwnLimit:
    """Set by a person's own photos from when on a count is sure, on this machine.

    With fewer than :data:`ENOUGH_TO_LOWER` photos counts can only become less often sure than as shipped.

    Parameters
    ----------
    book : Notebook
    progress : callable, optional
        Called with done, total and what is counted, before each photo.

    Returns
    -------
    OwnLimit

    Raises
    ------
    FewPhotos
        If fewer than :data:`ENOUGH` were counted by a person.
    NotebookError
        If the notebook can't be read.
    OSError
        If what was set can't be written.
    """
    entries, _ = own_counts(book)
    if len(entries) < ENOUGH:
        raise FewPhotos(f"{len(entries)} of your counts are put right or confirmed by you: it takes at least {ENOUGH}")
    cases = []
    for done, entry in enumerate(entries):
        if progress:
            progress(done, len(entries), entry.title)
        cases.append(_case(book.photo_file(entry.key), entry))
    before = shipped()
    limit = limit_of(cases, before, RISK)
    if len(cases) < ENOUGH_TO_LOWER:
        limit = max(limit, before.sure)
    told = {"for": shipped_mark(), "sure": limit, "photos": len(cases)}
    own_file().parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    write_whole(own_file(), (json.dumps(told, indent=1) + "\n").encode())
    now = in_use()
    came = {"before": figures(cases, before)["all"], "now": figures(cases, now)["all"]}
    return OwnLimit(limit, before.sure, len(cases), came, promised(cases, now)[LOOK])


def forget() -> bool:
    """Take back what was set by a person's own photos.

    Returns
    -------
    bool
        Whether there was anything.
    """
    there = own_file().exists()
    own_file().unlink(missing_ok=True)
    return there


@one_thread_for_algebra()
def _case(data: bytes, entry: Entry) -> Case:
    read = read_rim(data)
    if isinstance(read, Refusal):
        return case_of(entry.key, LOOK, len(entry.marks), None, None)
    return case_of(entry.key, LOOK, len(entry.marks), read, tally_of(read.seen, shipped()).posterior)
