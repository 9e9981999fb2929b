"""A group as lines of text for the command line."""

from __future__ import annotations

from collections.abc import Sequence

from counter.basics import words
from counter.basics.text import printable, shown
from counter.group.match import MatchedPhoto
from counter.group.table import Line, Table, whose_words

__all__ = ["example_words", "photo_of", "sign_of", "table_words"]

#: Examples that are shown of a pattern, and lines of a list that says what needs a person.
MOST_EXAMPLES, MOST_LISTED = 3, 40
#: Widest name in the table of makers by rounds, in letters.
WIDEST_NAME_LETTERS = 16


def example_words(
    places: Sequence[MatchedPhoto], *, all_of_them: bool = False, missing: Sequence[str] = ()
) -> list[str]:
    """Which photo would be whose.

    Parameters
    ----------
    places : sequence of Place
    all_of_them : bool, optional
        Every photo instead of a few examples.
    missing : sequence of str, optional
        Photos that a table names and nobody has.

    Returns
    -------
    list of str
        Examples of those that are matched, then all that are not, with the reason.
    """
    matched = [place for place in places if place.matched]
    told = [
        f"  {shown(place.photo)} -> {printable(place.maker)}, {words.ROUND_N.format(n=place.round)}"
        for place in (matched if all_of_them else matched[:: max(1, len(matched) // MOST_EXAMPLES)][:MOST_EXAMPLES])
    ]
    makers, rounds = len({place.maker for place in matched}), len({place.round for place in matched})
    told.append(words.GROUP_MATCHED.format(n=len(matched), all=len(places), makers=makers, rounds=rounds))
    told += [f"  {shown(place.photo)}: {place.why}" for place in places if not place.matched]
    told += [f"  {shown(photo)}: {words.GROUP_MISSING}" for photo in missing]
    return told


def sign_of(line: Line | None) -> str:
    """A cell of makers by rounds, told apart without colour: "=", "-1", "+2", "?", "x", or nothing."""
    if line is None:
        return ""
    if line.need in ("again", "look"):
        return "x" if line.need == "again" else "?"
    return "" if line.off_by is None else "=" if line.off_by == 0 else f"{line.off_by:+d}"


def photo_of(line: Line) -> str:
    """What a line's photo is called, with the piece where it shows several."""
    if line.pieces == 1:
        return line.place.photo
    return words.COMMA.join((line.place.photo, words.GROUP_PIECE.format(n=line.piece + 1)))


def table_words(table: Table) -> str:
    """How a group stands.

    Parameters
    ----------
    table : Table

    Returns
    -------
    str
        The summary, whose doing it is, makers by rounds, and what needs a person.
    """
    whose = whose_words(table)
    # The caution stands once, at the end.
    told = [words.sentence(table.summary), *(text for text in whose if text != words.CAUTION), *table.notices]
    if table.makers:
        told += ["", *_grid(table), words.GROUP_SIGNS]
    listed = [line for line in table.lines if line.need in ("again", "look", "off")]
    told += ["", *map(_listed, listed[:MOST_LISTED])] if listed else []
    if len(listed) > MOST_LISTED:
        told.append(words.GROUP_AND_MORE.format(n=len(listed) - MOST_LISTED))
    if words.CAUTION in whose or any(line.need != "again" for line in listed):
        told += ["", words.CAUTION]
    return "\n".join(told)


def _grid(table: Table) -> list[str]:
    cells = {(line.place.maker, line.place.round): sign_of(line) for line in table.lines if line.chosen}
    wide = min(WIDEST_NAME_LETTERS, max(map(len, table.makers)))
    rows = ["".join([" " * wide, *(f"{number:>4}" for number in table.rounds)])]
    for maker in table.makers:
        name = printable(maker)
        name = name if len(name) <= wide else f"{name[: wide - 2]}.."
        rows.append("".join([f"{name:<{wide}}", *(f"{cells.get((maker, n), ''):>4}" for n in table.rounds)]).rstrip())
    return rows


def _listed(line: Line) -> str:
    need = f"{words.GROUP_NEEDS[line.need]:<{max(map(len, words.GROUP_NEEDS.values()))}}"
    place, photo = line.place, shown(photo_of(line))
    if place.matched:
        photo = f"{words.COMMA.join((printable(place.maker), words.ROUND_N.format(n=place.round)))} ({photo})"
    # What is held against a total says its number in words.
    number = f"{words.stitches(words.either(line.likely))}. " if line.likely and line.expected is None else ""
    told = line.words.replace(words.CAUTION_PLACES, "").replace(words.CAUTION, "").strip()
    return f"{need}  {photo}: {number}{told}"
