"""A group on paper: the table, then a page for each maker."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color, black, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable, KeepInFrame, PageBreak, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from counter.basics import words
from counter.basics.answer import Refusal
from counter.group import table as group_table
from counter.group.advise import lines_of, told_to
from counter.group.console import sign_of
from counter.group.store import Answer
from counter.lengths.mat import PAPERS, POINTS_PER_MM
from counter.showing.report import page_text

__all__ = ["group_pdf"]

#: Edge of a page, height of a maker's heading and advice at most, narrowest and widest column, mm.
EDGE_MM, ADVICE_MM, NARROW_MM, WIDE_MM = 15.0, 110.0, 5.0, 11.0
#: Room of a maker's name in the table, mm, and of the words under a photo, points.
NAME_MM, CAPTION_PT = 38.0, 22.0
#: From photo to photo, points.
GAP_PT = 12.0
#: Most photos of a maker's page beside each other.
MOST_COLUMNS = 10
GREY = Color(0.35, 0.35, 0.35)
BAND = Color(0.9, 0.9, 0.9)
HEAD = ParagraphStyle("head", fontName="Helvetica-Bold", fontSize=16, leading=20, spaceAfter=4)
STRONG = ParagraphStyle("strong", fontName="Helvetica-Bold", fontSize=11, leading=15, spaceAfter=3)
TEXT = ParagraphStyle("text", fontName="Helvetica", fontSize=9.5, leading=12.5, spaceAfter=2)
POINT = ParagraphStyle("point", parent=TEXT, leftIndent=10, bulletIndent=0)


def group_pdf(
    table: group_table.Table,
    answers: Mapping[str, Answer],
    *,
    date: str = "",
    paper: str = "A4",
) -> bytes:
    """A group as a PDF file to print.

    Parameters
    ----------
    table : Table
    answers : mapping of str to Answer
        By content: the small pictures.
    date : str, optional
    paper : {"A4", "letter"}

    Returns
    -------
    bytes
        Makers by rounds first, then one page for each maker; the same bytes
        for the same table, without metadata of the photos.

    Raises
    ------
    ValueError
        If there is no such paper.
    """
    if paper not in PAPERS:
        raise ValueError(f"the paper must be {' or '.join(PAPERS)}, not {paper!r}")
    wide, high = (length * POINTS_PER_MM for length in PAPERS[paper])
    edge = EDGE_MM * POINTS_PER_MM
    data = io.BytesIO()
    pages = SimpleDocTemplate(
        data, pagesize=(wide, high), leftMargin=edge, rightMargin=edge, topMargin=edge, bottomMargin=edge + 12,
        title=words.GROUP_TITLE, author="rimtally", invariant=1,
    )  # fmt: skip
    inner = wide - 2 * edge - 12  # a frame keeps 6 points free on each side
    said = [*group_table.whose_words(table)]
    parts: list[Flowable] = [_paragraph(words.GROUP_TITLE, HEAD)]
    parts += [_paragraph(date, TEXT)] if date else []
    parts.append(_paragraph(words.sentence(table.summary), STRONG))
    parts += [_paragraph(text, TEXT) for text in (*said, *table.notices)]
    if table.makers:
        parts += [Spacer(0, 8), _grid(table, inner), Spacer(0, 6), _paragraph(words.GROUP_SIGNS, TEXT)]
    for maker in table.makers:
        own = [line for line in lines_of(table, maker) if line.content]
        told = [_paragraph(maker, HEAD)]
        told += [Paragraph(escape(page_text(text)), POINT, bulletText="\u2022") for text in told_to(table, maker)]
        parts += [PageBreak(), KeepInFrame(inner, ADVICE_MM * POINTS_PER_MM, told, mode="shrink")]
        room = high - 2 * edge - 48 - ADVICE_MM * POINTS_PER_MM
        parts += [Spacer(0, 6), _Pictures(own, answers, inner, room)] if own else []

    def foot(canvas: Any, _document: object) -> None:
        canvas.setFont("Helvetica", 7.6)
        canvas.setFillColor(GREY)
        canvas.drawCentredString(
            wide / 2, 9.5 * POINTS_PER_MM, page_text(words.PAGE_FOOT.format(caution=words.CAUTION))
        )

    pages.build(parts, onFirstPage=foot, onLaterPages=foot)
    return data.getvalue()


def _paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(escape(page_text(text)), style)


def _grid(table: group_table.Table, inner: float) -> Table:
    """Makers by rounds; a round that speaks against the pattern is white on black."""
    cells = {(line.place.maker, line.place.round): line for line in table.lines if line.chosen}
    name = NAME_MM * POINTS_PER_MM
    column = min(WIDE_MM * POINTS_PER_MM, (inner - name) / max(1, len(table.rounds)))
    size = 9 if column >= 7 * POINTS_PER_MM else 7 if column >= NARROW_MM * POINTS_PER_MM else 5
    fit = ParagraphStyle("name", parent=TEXT, fontSize=size, leading=size + 2)
    rows = [[_paragraph(words.GROUP_GRID, fit), *(str(n) for n in table.rounds)]]
    style = [
        ("GRID", (0, 0), (-1, -1), 0.4, GREY), ("ALIGN", (1, 0), (-1, -1), "CENTER"),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("FONT", (1, 0), (-1, -1), "Helvetica", size),
        ("LEFTPADDING", (1, 0), (-1, -1), 0), ("RIGHTPADDING", (1, 0), (-1, -1), 0),
    ]  # fmt: skip
    for k, number in enumerate(table.rounds, start=1):
        if table.pattern_off(number):
            style += [("BACKGROUND", (k, 0), (k, 0), black), ("TEXTCOLOR", (k, 0), (k, 0), white)]
    for row, maker in enumerate(table.makers, start=1):
        own = [cells.get((maker, number)) for number in table.rounds]
        rows.append([_paragraph(maker, fit), *(sign_of(line) for line in own)])
        for k, line in enumerate(own, start=1):
            if line is not None and line.need == "off":
                style += [("FONT", (k, row), (k, row), "Helvetica-Bold", size), ("BOX", (k, row), (k, row), 1.6, black)]
            elif line is not None and line.need in ("look", "again"):
                style.append(("BACKGROUND", (k, row), (k, row), BAND))
    made = Table(rows, [name, *[column] * len(table.rounds)], repeatRows=1)
    made.setStyle(TableStyle(style))
    return made


class _Pictures(Flowable):  # type: ignore[misc]  # the library has no types
    """A maker's photos with their marks, as large as all of them fit."""

    def __init__(
        self, lines: Sequence[group_table.Line], answers: Mapping[str, Answer], wide: float, room: float
    ) -> None:
        super().__init__()
        self.lines, self.answers = lines, answers
        self.width = wide
        self.side, self.columns = 0.0, 1
        for columns in range(1, MOST_COLUMNS + 1):
            rows = -(-len(lines) // columns)
            side = min(wide / columns - GAP_PT, room / rows - CAPTION_PT - 6)
            if side > self.side:
                self.side, self.columns = side, columns
        self.side = min(self.side, 70 * POINTS_PER_MM)
        self.height = -(-len(lines) // self.columns) * (self.side + CAPTION_PT + 6)

    def wrap(self, *_room: float) -> tuple[float, float]:
        """How large it is."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it; the origin is its lower left corner."""
        for index, line in enumerate(self.lines):
            row, column = divmod(index, self.columns)
            x = column * (self.side + GAP_PT)
            y = self.height - (row + 1) * (self.side + CAPTION_PT + 6) + CAPTION_PT
            self._one(line, x, y)

    def _one(self, line: group_table.Line, x: float, y: float) -> None:
        pen = self.canv
        small = self.answers[line.content].parts[line.piece].small
        if small:
            picture = ImageReader(io.BytesIO(small))
            wide, high = picture.getSize()
            scale = self.side / max(wide, high)
            left, low = x, y
            pen.drawImage(picture, left, low, scale * wide, scale * high)
            if not isinstance(line.answer, Refusal):
                share = scale * wide / line.answer.size[0]
                self._marks(line, left, low + scale * high, share)
        number = words.either(line.likely) if line.likely else words.NO_COUNT
        head = words.ROUND_N.format(n=line.place.round)
        against = "" if line.expected is None else f" {words.GROUP_OF.format(expected=line.expected)}"
        pen.setFillColor(black)
        pen.setFont("Helvetica-Bold", 8)
        pen.drawString(x, y - 9, page_text(words.begun(head)))
        pen.drawRightString(x + self.side, y - 9, sign_of(line))
        pen.setFont("Helvetica", 7.5)
        pen.drawString(x, y - 18, page_text(f"{number}{against}"))

    def _marks(self, line: group_table.Line, left: float, top: float, share: float) -> None:
        pen, size = self.canv, max(0.9, self.side / 120)
        marks = () if isinstance(line.answer, Refusal) else line.answer.marks
        for number, (u, v) in enumerate(marks, start=1):
            x, y = left + share * (u + 0.5), top - share * (v + 0.5)
            pen.setLineWidth(0.5 * size)
            pen.setStrokeColor(white)
            pen.setFillColor(black)
            if number == 1:
                pen.rect(x - 1.5 * size, y - 1.5 * size, 3 * size, 3 * size, stroke=1, fill=1)
            else:
                pen.circle(x, y, size, stroke=1, fill=int(number % 5 == 0))
