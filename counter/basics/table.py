"""Tables as text that a spreadsheet reads and takes nothing in for a formula."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterable, Sequence

__all__ = ["csv_table"]


def csv_table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A table as comma-separated values.

    Parameters
    ----------
    head : sequence of str
        Names of the columns.
    rows : iterable of sequences
        Numbers stay numbers, None becomes an empty field. Texts that a
        spreadsheet would take for a formula get an apostrophe in front, by
        which it takes them for text (OWASP, "CSV Injection").

    Returns
    -------
    str
        By RFC 4180: lines end in CR LF, fields with commas, quotes or line
        ends stand in quotes. Write it as UTF-8, with a byte order mark where
        it is meant for a spreadsheet.
    """
    file = io.StringIO(newline="")
    table = csv.writer(file, lineterminator="\r\n")
    table.writerow(head)
    for row in rows:
        table.writerow([_harmless(value) for value in row])
    return file.getvalue()


def _harmless(value: object) -> object:
    if not isinstance(value, str):
        return value
    # Wide forms of the same signs count, too, and blanks in front don't save.
    start = unicodedata.normalize("NFKC", value).lstrip()[:1]
    return f"'{value}" if start in {"=", "+", "-", "@"} or value[:1] in {"\t", "\r", "\n"} else value
