"""The notebook's file from one version to the next: steps that never change once they are in use."""

from __future__ import annotations

from counter.basics.database import Format
from counter.notebook.trouble import NotebookError

__all__ = ["FILE", "LIKELY_SINCE", "STEPS"]

#: Steps from one version of the file to the next.
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
    # With what the other one holds, and whether the round is finished, in an entry's data.
    (),
)
#: First version with those numbers. They follow from an entry's data, so that no step works them out, which
#: would change with whatever reads entries: whoever brings a file up from before fills them in.
LIKELY_SINCE = 4

#: The file, marked as a notebook of this program ("RimN").
FILE = Format(0x52696D4E, STEPS, NotebookError)
