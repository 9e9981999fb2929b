"""The notebook's file from one version to the next: steps that never change once they are in use."""

from __future__ import annotations

import sqlite3

from counter.notebook.trouble import NotebookError

__all__ = ["APPLICATION", "LIKELY_SINCE", "STEPS", "bring_up", "is_current"]

#: Marks the file as a notebook of this program ("RimN", SQLite file format, offset 68).
APPLICATION = 0x52696D4E
#: Steps from one version of the file to the next; the version is how many were made (offset 60). A step that
#: has been in use is never changed: what comes later is another step.
STEPS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE entry (key TEXT PRIMARY KEY, revision INTEGER NOT NULL, kept TEXT NOT NULL,"
        " changed TEXT NOT NULL, title TEXT NOT NULL, note TEXT NOT NULL, stitches INTEGER NOT NULL,"
        " state TEXT NOT NULL, expected INTEGER, round INTEGER, sought TEXT NOT NULL, data TEXT NOT NULL)"
        " WITHOUT ROWID",
        "CREATE TABLE photo (key TEXT PRIMARY KEY REFERENCES entry ON DELETE CASCADE, large BLOB NOT NULL,"
        " small BLOB NOT NULL)",
        "CREATE INDEX entry_by_date ON entry (kept, key)",
    ),
    # With answers in an entry's data, and the verdict; where answers lack, see
    # :func:`counter.notebook.codec.entry_of_data`.
    (
        "ALTER TABLE entry ADD COLUMN off_by INTEGER",
        "UPDATE entry SET off_by = stitches - expected"
        """ WHERE state <> 'not sure' AND instr(data, '"in_progress": null') > 0""",
    ),
    # With the kind of each place in doubt in an entry's data (:data:`counter.notebook.codec.KIND_OF` where it lacks).
    (),
    # With the numbers that a count may be where it is more than one: as they are shown, and searched for.
    ("ALTER TABLE entry ADD COLUMN likely TEXT NOT NULL DEFAULT ''",),
)
#: First version with those numbers. They follow from an entry's data, so that no step works them out, which
#: would change with whatever reads entries: whoever brings a file up from before fills them in.
LIKELY_SINCE = 4


def is_current(link: sqlite3.Connection) -> bool:
    """Whether the file is a notebook of this version; raises where it must not be touched."""
    application = link.execute("PRAGMA application_id").fetchone()[0]
    version = link.execute("PRAGMA user_version").fetchone()[0]
    if application != APPLICATION:
        if application or version or link.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            raise NotebookError("not ours")
        return False
    if version > len(STEPS):
        raise NotebookError("newer")
    return version == len(STEPS)


def bring_up(link: sqlite3.Connection) -> int:
    """Bring the file to this version, within the transaction that has begun; gives the version before."""
    before: int = link.execute("PRAGMA user_version").fetchone()[0]
    if is_current(link):  # another process was faster
        return before
    for step in STEPS[before:]:
        for order in step:
            link.execute(order)
    link.execute(f"PRAGMA application_id = {APPLICATION}")
    link.execute(f"PRAGMA user_version = {len(STEPS)}")
    return before
