"""Which maker and which round each photo of a folder belongs to.

Three ways say so: subfolders and file names, read by one pattern for all of
them; a table in a file; and what a person typed in the list, which goes before
both. A photo that none of them places stays unmatched and is listed: which
round it looks like is never taken for where it belongs.
"""

from __future__ import annotations

import csv
import io
import os
import re
import unicodedata
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from counter.basics import words

__all__ = ["ENDINGS", "MOST_PHOTOS", "MatchedPhoto", "find_photos", "guess_names", "match", "read_names", "read_table"]

#: Endings of files that are taken for photos, whatever is in them; a file of another kind is passed over.
ENDINGS = frozenset(
    [
        ".jpg",
        ".jpeg",
        ".jpe",
        ".jfif",
        ".png",
        ".webp",
        ".heic",
        ".heif",
        ".hif",
        ".avif",
        ".tif",
        ".tiff",
        ".bmp",
        ".gif",
        ".jp2",
        ".ppm",
        ".pgm",
    ]
)
#: Most photos of one group, most characters of a maker's name and largest number of a round.
MOST_PHOTOS, MOST_NAME, MOST_ROUND = 20_000, 60, 999
#: Most bytes of a table that says which photo is whose.
MOST_TABLE = 5_000_000
#: What a pattern may hold, and what each part matches. A round is a number, with the word or letter for
#: "round" before it or not; a maker begins and ends with a letter or number.
_MAKER = r"(?P<maker>[^\W_](?:[^/]*?[^/\s_.-])?)(?:[\s_.-]+(?=/|$))?"
_ROUND = r"(?:(?:rounds?|rnds?|rd|rows?|r)[ ._-]*)?0*(?P<round>\d{1,3})(?!\d)"
_SAID_ROUND = r"(?<![^\W_])(?:rounds?|rnds?|rd|rows?|r)[ ._-]*0*(?P<round>\d{1,3})(?!\d)"
_PARTS = {"{maker}": _MAKER, "{round}": _ROUND, "*": r"[^/]*?"}
#: Patterns that are tried where none is given, the plainest first.
_PLAIN = (
    *("{maker}/{round}", "{round}/{maker}"),
    *("{maker}_{round}", "{maker}-{round}", "{maker} {round}", "{round}_{maker}", "{round}-{maker}", "{round} {maker}"),
    *("{maker}/*{round}", "{maker}/{round}*"),
)
GUESSES = (*_PLAIN, *(f"*/{pattern}" for pattern in _PLAIN))
#: Names of a table's columns, in any case.
COLUMNS = ("photo", "maker", "round")


@dataclass(frozen=True)
class MatchedPhoto:
    """Where a photo belongs.

    Parameters
    ----------
    photo : str
        Path below the group's folder, with "/" between its parts.
    maker : str
        As it is shown; empty where nothing says it.
    round : int or None
        None where nothing says it.
    how : {"names", "table", "typed", ""}
        What said so; empty where nothing did.
    why : str
        What keeps it from being matched, one line; empty where it is matched.
    home : str
        The folders of its path that name neither maker nor round.
    """

    photo: str
    maker: str = ""
    round: int | None = None
    how: str = ""
    why: str = ""
    home: str = ""

    @property
    def number(self) -> int:
        """:attr:`round` of a matched photo.

        Raises
        ------
        ValueError
            Where nothing says it.
        """
        if self.round is None:
            raise ValueError(f"nothing says which round {self.photo} shows")
        return self.round

    @property
    def matched(self) -> bool:
        """True where maker and round are known and the plan has the round."""
        return not self.why


def find_photos(folder: Path) -> list[str]:
    """Photos in a folder and its subfolders.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    list of str
        Paths below the folder with "/" between their parts, in natural order
        ("r2" before "r10"); bytes of a name that are no text are replaced by
        U+FFFD. Hidden files and folders are passed over, and so
        are links to folders, which might run in a circle.

    Raises
    ------
    ValueError
        If there is no such folder, no photo in it, or more than
        :data:`MOST_PHOTOS`.
    """
    if not folder.is_dir():
        raise ValueError(words.GROUP_NO_FOLDER if not folder.exists() else words.GROUP_NOT_FOLDER)
    found: list[str] = []
    waiting = [folder]
    while waiting:
        here = waiting.pop()
        try:
            inside = sorted(here.iterdir())
        except OSError as error:
            raise ValueError(words.GROUP_SHUT.format(folder=here.name, why=error.strerror or error)) from None
        for path in inside:
            if path.name.startswith("."):
                continue
            if path.is_dir():
                if not path.is_symlink():
                    waiting.append(path)
            elif path.suffix.lower() in ENDINGS:
                name = path.relative_to(folder).as_posix()
                # No file or table could hold a name whose bytes are no text: it is listed as it can be shown.
                found.append(os.fsencode(name).decode("utf-8", "replace"))
                if len(found) > MOST_PHOTOS:
                    raise ValueError(words.GROUP_TOO_MANY.format(most=MOST_PHOTOS))
    if not found:
        raise ValueError(words.GROUP_EMPTY)
    return sorted(found, key=_natural)


def _natural(text: str) -> tuple[tuple[int, int, str], ...]:
    return tuple((0, int(part), "") if part.isdigit() else (1, 0, part) for part in re.split(r"(\d+)", text.casefold()))


# Names ----------------------------------------------------------------------


def read_names(pattern: str) -> re.Pattern[str]:
    """Read a pattern of paths.

    Parameters
    ----------
    pattern : str
        What stands for the maker is "{maker}", for the round "{round}" (a
        number, with or without "round" or "r" before it), for anything within
        a name "*"; all else stands for itself, in any case. A "/" parts
        folders; the file's ending is left out.

    Returns
    -------
    compiled pattern
        Of a whole path without its ending, with the groups "maker" and "round".

    Raises
    ------
    ValueError
        With one line that says what to do.
    """
    parts = re.findall(r"\{maker\}|\{round\}|\*|[^{*]+|.", pattern.strip().strip("/"))
    if parts.count("{maker}") != 1 or parts.count("{round}") != 1 or "{" in parts:
        raise ValueError(words.GROUP_PATTERN.format(pattern=pattern))
    # Behind "*" any number could be the round's: there it needs its word.
    said = "*" in parts and "/" not in pattern[pattern.find("*") :]
    known = _PARTS | ({"{round}": _SAID_ROUND} if said else {})
    return re.compile("".join(known.get(part) or _literal(part) for part in parts), re.IGNORECASE)


def _literal(text: str) -> str:
    """A text of a pattern; where it has a blank, names may have several, or an underscore."""
    return "".join(r"[ _]+" if blank else re.escape(part) for part, blank in re.findall(r"([^ ]+)|( +)", text))


def guess_names(photos: Sequence[str], rounds: Collection[int]) -> str | None:
    """Guess the pattern by which photos are named.

    Parameters
    ----------
    photos : sequence of str
        Paths below the folder.
    rounds : collection of int
        Those of the plan.

    Returns
    -------
    str or None
        The first of :data:`GUESSES` that places more photos in rounds of the
        plan than the others do, and at least half of all; None where none does.
        It is a guess: show it on examples before it is used.
    """
    best, most = None, (len(photos) - 1) // 2
    for pattern in GUESSES:
        read = read_names(pattern)
        placed = sum(place.round in rounds for place in (_by_name(photo, read) for photo in photos))
        if placed > most:
            best, most = pattern, placed
    return best


def _by_name(photo: str, names: re.Pattern[str]) -> MatchedPhoto:
    bare = str(PurePosixPath(photo).with_suffix(""))
    found = names.fullmatch(bare)
    if not found:
        return MatchedPhoto(photo)
    spans, at, home = (found.span("maker"), found.span("round")), 0, []
    for folder in bare.split("/")[:-1]:
        if not any(begin < at + len(folder) and end > at for begin, end in spans):
            home.append(folder)
        at += len(folder) + 1
    return MatchedPhoto(photo, _clean(found["maker"]), int(found["round"]), "names", home="/".join(home))


def _clean(name: str) -> str:
    """A name on one line, without what can't be shown, in one form of its letters (Unicode NFC)."""
    name = "".join(c if c.isprintable() else " " for c in unicodedata.normalize("NFC", name))
    return " ".join(name.replace("_", " ").split())[:MOST_NAME]


# A table --------------------------------------------------------------------


def read_table(data: bytes) -> dict[str, tuple[str, int | None]]:
    """Read a table that says which photo is whose.

    Parameters
    ----------
    data : bytes
        Comma, semicolon or tab separated values in UTF-8, with a header that
        names the columns "photo", "maker" and "round" in any order and case;
        other columns are passed over.

    Returns
    -------
    dict of str to (str, int or None)
        Path of each photo below the folder -> maker and round; the round is
        None where the field is empty.

    Raises
    ------
    ValueError
        With one line that names the row and says what to do.
    """
    if len(data) > MOST_TABLE:
        raise ValueError(words.GROUP_TABLE_LARGE.format(most=MOST_TABLE // 1_000_000))
    text = data.decode("utf-8-sig", "replace")
    head = text.partition("\n")[0]
    mark = max(",;\t", key=head.count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    try:
        names = [name.strip().casefold() for name in next(rows, [])]
        if missing := [column for column in COLUMNS if column not in names]:
            raise ValueError(words.GROUP_TABLE_HEAD.format(missing=words.all_of(missing)))
        at = [names.index(column) for column in COLUMNS]
        found: dict[str, tuple[str, int | None]] = {}
        for row in rows:
            if not any(field.strip() for field in row):
                continue
            photo, maker, number = (row[k].strip() if k < len(row) else "" for k in at)
            number = number.removesuffix(".0")
            if number and not (number.isascii() and number.isdigit() and int(number) <= MOST_ROUND):
                raise ValueError(words.GROUP_TABLE_ROUND.format(line=rows.line_num, round=number))
            photo = photo.replace("\\", "/").removeprefix("./")
            if photo in found:
                raise ValueError(words.GROUP_TABLE_TWICE.format(line=rows.line_num, photo=photo))
            found[photo] = (_clean(maker), int(number) if number else None)
    except csv.Error as error:
        raise ValueError(words.GROUP_TABLE_BROKEN.format(line=rows.line_num, why=error)) from None
    if not found:
        raise ValueError(words.GROUP_TABLE_EMPTY)
    return found


# All of them ----------------------------------------------------------------


def match(
    photos: Sequence[str],
    rounds: Collection[int],
    *,
    names: str | None = None,
    table: Mapping[str, tuple[str, int | None]] | None = None,
    typed: Mapping[str, tuple[str, int | None]] | None = None,
) -> tuple[MatchedPhoto, ...]:
    """Say where each photo belongs.

    Parameters
    ----------
    photos : sequence of str
        Paths below the folder.
    rounds : collection of int
        Those of the plan whose total is known.
    names : str, optional
        A pattern, see :func:`read_names`.
    table : mapping, optional
        As of :func:`read_table`; photos that it names go by it alone.
    typed : mapping, optional
        What a person typed: it goes before both, field by field.

    Returns
    -------
    tuple of Place
        In the order of `photos`. Names that differ by case, blanks or the form
        of their letters are one maker; the same name in several folders is as
        many makers, told apart by their folders.

    Raises
    ------
    ValueError
        If the pattern can't be read.
    """
    read = read_names(names) if names else None
    table, typed = table or {}, typed or {}
    found = []
    for photo in photos:
        if photo in table:
            maker, number = table[photo]
            place = MatchedPhoto(photo, maker, number, "table")
        else:
            place = _by_name(photo, read) if read else MatchedPhoto(photo)
        if photo in typed:
            maker, number = typed[photo]
            place = MatchedPhoto(
                photo, _clean(maker) or place.maker, place.round if number is None else number, "typed"
            )
        found.append(place)
    return tuple(replace(place, why=_why(place, rounds)) for place in _told_apart(found))


def _why(place: MatchedPhoto, rounds: Collection[int]) -> str:
    if not place.how:
        return words.GROUP_UNPLACED
    if not place.maker or place.round is None:
        return words.GROUP_NO_MAKER if not place.maker else words.GROUP_NO_ROUND
    if place.round in rounds:
        return ""
    if not rounds:
        return words.GROUP_NO_TOTALS
    return words.GROUP_OUTSIDE.format(n=place.round, first=min(rounds), last=max(rounds))


def folded(name: str) -> str:
    """What is the same of names that differ by case, blanks or the form of their letters only."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def _told_apart(places: Iterable[MatchedPhoto]) -> list[MatchedPhoto]:
    """One spelling for each maker, and a folder's name behind a name that several folders have."""
    places = list(places)
    homes: dict[str, set[str]] = defaultdict(set)
    for place in places:
        if place.how == "names":
            homes[folded(place.maker)].add(place.home)
    spelled: dict[str, str] = {}
    made = []
    for place in places:
        key = folded(place.maker)
        name = spelled.setdefault(key, place.maker)
        if place.how == "names" and len(homes[key]) > 1:
            name = f"{name} ({place.home})" if place.home else name
        made.append(replace(place, maker=name if place.maker else ""))
    return made
