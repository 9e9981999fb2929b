"""The zip to which a notebook is exported, and that is taken in."""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from PIL import Image

from counter.basics import words
from counter.notebook.codec import from_text
from counter.notebook.limits import MOST_DATA_BYTES, MOST_ENTRIES, MOST_PHOTO_BYTES, SMALL_SIDE_PX
from counter.notebook.pictures import cut_at_end, small_jpeg
from counter.notebook.schema import AboutData, read
from counter.notebook.trouble import NotebookError
from counter.notebook.values import Entry

__all__ = [
    "ABOUT",
    "FORMAT",
    "FORMAT_VERSION",
    "MOST_CONTENTS_BYTES",
    "MOST_PLAN_CHARACTERS",
    "SHEET",
    "contents_of",
    "from_zip",
    "look_at",
    "name_of",
    "one_line",
    "opened_zip",
    "put_into",
    "sheet_line",
    "unpacked_file",
]

#: Most bytes of a zip's table of contents, and most characters of its written plans that are read while it comes
#: in (a second takes 110,000 of them): what is held against the others is told once such a count is changed.
MOST_CONTENTS_BYTES, MOST_PLAN_CHARACTERS = 1_000_000, 500_000
#: What an exported zip says it is, and the version of what it holds.
FORMAT, FORMAT_VERSION = "rimtally notebook", 3
#: Names of what a zip holds.
ABOUT, SHEET = "about.json", "notebook.csv"
_NAME = re.compile(r"(?:entries/([0-9a-f]{32})\.json|photos/([0-9a-f]{32})\.jpg)")


def name_of(key: object) -> str:
    """The beginning of a key, by which a count is named; a damaged one may be anything."""
    return "".join(c if c.isascii() and c.isprintable() else "?" for c in str(key)[:8])


def sheet_line(entry: Entry) -> tuple[object, ...]:
    """An entry as a line of the table."""
    made = entry.corrections
    return (
        entry.key, entry.kept.isoformat(), entry.changed.isoformat(), entry.title, entry.note, len(entry.marks),
        words.either(entry.likely), entry.state, entry.goal.total, entry.off_by, entry.goal.round, entry.count.rounds,
        len(made.added), len(made.removed), len(made.moved), f"photos/{entry.key}.jpg",
    )  # fmt: skip


def put_into(pack: zipfile.ZipFile, name: str, data: bytes, way: int = zipfile.ZIP_DEFLATED) -> None:
    """One file into the zip."""
    # A fixed date: the same notebook gives the same file.
    info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
    info.compress_type = way
    info.external_attr = 0o644 << 16
    pack.writestr(info, data)


@contextlib.contextmanager
def opened_zip(source: str | os.PathLike[str] | bytes | BinaryIO) -> Iterator[zipfile.ZipFile]:
    """A zip whose table of contents is small enough to be read; errors leave as one readable line."""
    with contextlib.ExitStack() as stack:
        try:
            if isinstance(source, bytes):
                file: BinaryIO = io.BytesIO(source)
            elif isinstance(source, str | os.PathLike):
                file = stack.enter_context(open(source, "rb"))
            else:
                file = source
            # The end record of a zip without a comment (PKWARE APPNOTE 4.3.16) says how large the table is;
            # zipfile would read a table of any size.
            file.seek(0, io.SEEK_END)
            size = file.tell()
            file.seek(max(0, size - 42))
            tail = file.read(42)
            end = tail[-22:]
            if len(end) < 22 or end[:4] != b"PK\5\6" or end[-2:] != b"\0\0":
                raise NotebookError("import", words.ZIP["no zip"])
            if int.from_bytes(end[12:16], "little") > MOST_CONTENTS_BYTES or tail[:4] == b"PK\6\7":
                raise NotebookError("import", words.ZIP["many"])
            pack = stack.enter_context(zipfile.ZipFile(file))
        except NotebookError:
            raise
        except OSError as error:
            raise NotebookError("import", error.strerror.lower() if error.strerror else words.FILE_CLOSED) from None
        except Exception:  # a damaged table of contents fails in struct, in zlib, in zipfile
            raise NotebookError("import", words.ZIP["no zip"]) from None
        yield pack


def contents_of(pack: zipfile.ZipFile, leave_out: bool) -> tuple[list[str], list[str]]:
    """Keys of a zip's counts, and a line for each that is not whole; refuses it where it holds anything else."""
    infos = [info for info in pack.infolist() if info.filename not in ("entries/", "photos/")]
    if len(infos) > 2 * MOST_ENTRIES + 2:
        raise NotebookError("import", words.ZIP["many"])
    names = [info.filename for info in infos]
    entries: set[str] = set()
    photos: set[str] = set()
    for info in infos:
        found = _NAME.fullmatch(info.filename)
        if info.flag_bits & 1 or info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise NotebookError("import", words.ZIP["packed"])
        if info.filename not in (ABOUT, SHEET) and not found:
            raise NotebookError("import", words.ZIP["strange"])
        if found:
            (entries if found[1] else photos).add(found[1] or found[2])
    whole = entries & photos
    if len(set(names)) < len(names) or ABOUT not in names or not (leave_out or entries == photos):
        raise NotebookError("import", words.ZIP["part"])
    try:
        about = read(unpacked_file(pack, ABOUT, 1000), AboutData)
        if about.format != FORMAT:
            raise ValueError(about.format)
    except ValueError:
        raise NotebookError("import", words.ZIP["other"]) from None
    if about.version > FORMAT_VERSION:
        raise NotebookError("import", words.ZIP["newer"])
    if about.counts != len(entries) and not leave_out:
        raise NotebookError("import", words.ZIP["part"])
    parted = [words.ZIP_COUNT.format(key=name_of(key), detail=words.ZIP["part"]) for key in sorted(entries ^ photos)]
    return sorted(whole), parted


def unpacked_file(pack: zipfile.ZipFile, name: str, most: int) -> bytes:
    """One member, at most so many bytes of it, whatever its header says."""
    info = pack.getinfo(name)
    try:
        with pack.open(info) as member:
            data = member.read(most + 1)
    except Exception:  # damaged members fail in zlib, in struct, in zipfile
        raise NotebookError("import", words.ZIP["damaged"]) from None
    if len(data) > most:
        raise NotebookError("import", words.ZIP["large"])
    return data


@dataclass(frozen=True)
class _Checked:
    """One count of a zip after a look at every value: without its photo, of which the SHA-256 stays."""

    entry: Entry
    digest: bytes
    small: bytes
    size: int


def from_zip(pack: zipfile.ZipFile, key: str) -> _Checked:
    """An entry and its photo out of the zip, looked at."""
    text = unpacked_file(pack, f"entries/{key}.json", MOST_DATA_BYTES)
    large = cut_at_end(unpacked_file(pack, f"photos/{key}.jpg", MOST_PHOTO_BYTES))
    try:
        entry, picture = look_at(key, text, large)
    except ValueError as error:
        raise NotebookError("import", words.ZIP_COUNT.format(key=name_of(key), detail=one_line(error))) from None
    return _Checked(entry, hashlib.sha256(large).digest(), small_jpeg(picture), len(text) + len(large))


def look_at(key: str, text: bytes, large: bytes) -> tuple[Entry, Image.Image]:
    """A count and its photo, every value looked at; ValueError where it is not what an export holds."""
    if not isinstance(large, bytes):
        raise ValueError(words.KEPT_WRONG["photo"])
    entry, picture = from_text(text, large, SMALL_SIDE_PX)
    if entry.key != key:
        raise ValueError(words.KEPT_WRONG["other key"])
    return entry, picture


def one_line(error: Exception) -> str:
    """What went wrong, in one line."""
    return " ".join(str(error).split())[:120]
