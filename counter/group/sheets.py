"""A group's table as files to give away: CSV for a spreadsheet, and a page that needs nothing but itself."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from html import escape
from importlib.resources import files

from counter.basics import words
from counter.basics.answer import Refusal
from counter.basics.table import csv_table
from counter.group.advise import lines_of, told_to
from counter.group.console import photo_of, sign_of
from counter.group.store import Answer
from counter.group.table import Line, Table, whose_words

__all__ = ["address_of", "group_csv", "group_page", "marked_svg"]


def group_csv(table: Table) -> str:
    """Every line of a group for a spreadsheet.

    Parameters
    ----------
    table : Table

    Returns
    -------
    str
        As of :func:`counter.basics.table.csv_table`, a header first; numbers are numbers.
    """
    return csv_table(words.GROUP_CSV_HEAD, [_row(line) for line in table.lines])


def _row(line: Line) -> tuple[object, ...]:
    last, automatic = (line.said[-1] if line.said else None), line.automatic
    own = None if isinstance(automatic, Refusal) else automatic.count
    return (
        photo_of(line), line.piece + 1, line.place.maker, line.place.round, line.place.how,
        words.GROUP_NEEDS[line.need], line.state, line.likely[0] if line.likely else None, words.either(line.likely)
        if line.likely else "", None if line.probability is None else round(line.probability, 3), line.expected,
        line.verdict, line.off_by, words.COMMA.join(line.where), "yes" if line.chosen else "no",
        own.stitches if own else None, "" if own is None else own.state,
        last.made.strftime("%Y-%m-%d %H:%M") if last else "", last.before if last else "",
        words.together(line.place.why if line.place.how else "", line.words),
    )  # fmt: skip


def address_of(jpeg: bytes) -> str:
    """A JPEG file as a data address."""
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode()


def marked_svg(line: Line, small: bytes) -> str:
    """A small photo with the marks of its count drawn on it, as SVG within HTML.

    Parameters
    ----------
    line : Line
    small : bytes
        JPEG of the whole photo, or of the piece's part of it, of any size.

    Returns
    -------
    str
        The first stitch is a diamond, every fifth full; empty where there is no picture.
    """
    if not small:
        return ""
    address = address_of(small)
    if isinstance(line.answer, Refusal):
        return f'<img src="{address}" alt="">'
    wide, high = line.answer.size
    size = max(wide, high) / 110
    marks = []
    for number, (x, y) in enumerate(line.answer.marks, start=1):
        if number == 1:
            s = 1.8 * size
            around = f"{s:.0f} {s:.0f}-{s:.0f} {s:.0f}-{s:.0f}-{s:.0f}"
            marks.append(f'<path fill="#ffb000" d="M{x:.0f} {y - s:.0f}l{around}z"/>')
        else:
            full = ' fill="#1d2929"' if number % 5 == 0 else ""
            marks.append(f'<circle{full} cx="{x:.0f}" cy="{y:.0f}" r="{size:.1f}"/>')
    alt = words.PICTURE.format(n=len(line.answer.marks))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" role="img" aria-label="{escape(alt)}">'
        f'<image href="{address}" width="{wide}" height="{high}" preserveAspectRatio="none"/>'
        f'<g fill="none" stroke="#fff" stroke-width="{size / 2:.1f}">{"".join(marks)}</g></svg>'
    )


def group_page(table: Table, answers: Mapping[str, Answer], *, date: str = "") -> str:
    """A group as one HTML file that loads nothing.

    Parameters
    ----------
    table : Table
    answers : mapping of str to Answer
        By content: the small pictures.
    date : str, optional

    Returns
    -------
    str
        Summary, whose doing it is, makers by rounds, and each maker's photos
        with their marks; it reads the same in black and white.
    """
    parts = [f"<h1>{escape(words.GROUP_TITLE)}</h1>", f"<p class=date>{escape(date)}</p>" if date else ""]
    parts.append(f"<p class=sum>{escape(words.sentence(table.summary))}</p>")
    parts += [f"<p class=whose>{escape(text)}</p>" for text in whose_words(table)]
    parts += [f"<p>{escape(text)}</p>" for text in table.notices]
    parts.append(_grid(table))
    for maker in table.makers:
        told = "".join(f"<li>{escape(text)}</li>" for text in told_to(table, maker))
        cards = "".join(_card(line, answers) for line in lines_of(table, maker))
        name = escape(maker)
        parts.append(f"<section><h2>{name}</h2><ul>{told}</ul><div class=cards>{cards}</div></section>")
    rest = [line for line in table.lines if not line.place.matched]
    if rest:
        cards = "".join(_card(line, answers) for line in rest)
        parts.append(f"<section><h2>{escape(words.GROUP_REST)}</h2><div class=cards>{cards}</div></section>")
    style = files("counter.group").joinpath("sheet.css").read_text(encoding="utf-8")
    return (
        f'<!doctype html>\n<html lang="{words.LANGUAGE}"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        # Nothing is loaded from anywhere, and nothing runs.
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; img-src data:; '
        "style-src 'unsafe-inline'\">"
        f"<title>{escape(words.GROUP_TITLE)}</title><style>{style}</style></head><body>"
        + "\n".join(filter(None, parts))
        + f"<footer>{escape(words.PAGE_FOOT.format(caution=words.CAUTION))}</footer></body></html>\n"
    )


def _grid(table: Table) -> str:
    if not table.makers:
        return ""
    cells = {(line.place.maker, line.place.round): line for line in table.lines if line.chosen}
    head = "".join(f"<th scope=col{_loud(table, n)}>{n}</th>" for n in table.rounds)
    rows = []
    for maker in table.makers:
        row = "".join(_cell(cells.get((maker, number))) for number in table.rounds)
        rows.append(f"<tr><th scope=row>{escape(maker)}</th>{row}</tr>")
    return (
        f"<div class=grid><table><caption>{escape(words.GROUP_GRID)}</caption><thead><tr><td></td>{head}</tr></thead>"
        f"<tbody>{''.join(rows)}</tbody></table></div><p class=signs>{escape(words.GROUP_SIGNS)}</p>"
    )


def _cell(line: Line | None) -> str:
    if line is None:
        return "<td></td>"
    return f'<td class="{line.need}" title="{escape(words.GROUP_NEEDS[line.need])}">{sign_of(line)}</td>'


def _loud(table: Table, number: int) -> str:
    return " class=loud" if table.pattern_off(number) else ""


def _card(line: Line, answers: Mapping[str, Answer]) -> str:
    small = answers[line.content].parts[line.piece].small if line.content else b""
    head = words.ROUND_N.format(n=line.place.round) if line.place.round is not None else photo_of(line)
    number = words.TOTAL.format(n=words.either(line.likely)) if line.likely else words.NO_COUNT
    against = f" {words.GROUP_OF.format(expected=line.expected)}" if line.expected is not None else ""
    return (
        f'<figure class="{line.need}">{marked_svg(line, small)}<figcaption><b>{escape(words.begun(head))}</b> '
        f"<span class=sign>{sign_of(line)}</span><br>{escape(number + against)}<br>"
        f"<em>{escape(words.GROUP_NEEDS[line.need])}</em><p>{escape(line.words)}</p></figcaption></figure>"
    )
