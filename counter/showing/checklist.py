"""A pattern to tick off on paper: every round in one line with its total and a box."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

from counter.basics import words
from counter.lengths.mat import PAPERS, POINTS_PER_MM
from counter.plan import Plan, PlanPiece, PlanRound, in_terms
from counter.showing.report import page_text

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

__all__ = ["plan_page"]

#: Edge of the page, box, room for a round's number and its total, from one line to the next, mm.
EDGE_MM, BOX_MM, NUMBER_MM, TOTAL_MM, STEP_MM = 18.0, 3.6, 15.0, 20.0, 6.6
#: Sizes of letters, points, and shades of grey.
HEAD_PT, PIECE_PT, TEXT_PT, FINE_PT = 15.0, 12.0, 10.5, 8.0
SOFT_GREY, HAIR_GREY = 0.32, 0.75
PLAIN_FONT, BOLD_FONT = "Helvetica", "Helvetica-Bold"


class _Line(NamedTuple):
    """The heading of a piece, or a round and its instructions in lines; None for what it isn't."""

    piece: PlanPiece | None
    round: PlanRound | None
    parts: Sequence[str]


def plan_page(plan: Plan, *, title: str = "", uk: bool = False, paper: str = "A4") -> bytes:
    """Write a plan as a PDF file to tick off: a box, the number, the instructions and the total of every round.

    Parameters
    ----------
    plan : Plan
        Of several pieces, the one that was chosen, or all of them.
    title : str, optional
        In the person's words.
    uk : bool, optional
        Write UK terms.
    paper : {"A4", "letter"}

    Returns
    -------
    bytes
        As many pages as it takes; the same bytes for the same plan.

    Raises
    ------
    ValueError
        If there is no such paper.
    """
    if paper not in PAPERS:
        raise ValueError(f"the paper must be {' or '.join(PAPERS)}, not {paper!r}")
    # Only who prints needs the PDF library.
    from reportlab.lib.utils import simpleSplit
    from reportlab.pdfgen.canvas import Canvas

    width, height = PAPERS[paper]
    room = width - 2 * EDGE_MM - BOX_MM - 3 - NUMBER_MM - TOTAL_MM
    lines: list[_Line] = []
    for piece in _pieces(plan):
        if piece.name or piece.make > 1:
            lines.append(_Line(piece, None, ()))
        for own in piece.rounds:
            text = page_text(in_terms(own.text, False, uk))
            lines.append(_Line(None, own, simpleSplit(text, PLAIN_FONT, TEXT_PT, room * POINTS_PER_MM) or [""]))
    pages = list(_paged(lines, height))
    data = io.BytesIO()
    # "invariant" leaves dates and random names out of the file.
    canvas = Canvas(
        data, pagesize=(width * POINTS_PER_MM, height * POINTS_PER_MM), invariant=1, initialFontName=PLAIN_FONT
    )
    canvas.setTitle(page_text(title) or words.LIST_TITLE)
    canvas.setAuthor("rimtally")
    for number, page in enumerate(pages, 1):
        _drawn(canvas, page, width, height, page_text(title) or words.LIST_TITLE)
        canvas.setFont(PLAIN_FONT, FINE_PT)
        canvas.setFillGray(SOFT_GREY)
        canvas.drawString(EDGE_MM * POINTS_PER_MM, 10 * POINTS_PER_MM, page_text(words.LIST_FOOT))
        if len(pages) > 1:
            said = words.LIST_PAGE.format(n=number, all=len(pages))
            canvas.drawRightString((width - EDGE_MM) * POINTS_PER_MM, 10 * POINTS_PER_MM, said)
        canvas.showPage()
    canvas.save()
    return data.getvalue()


def _pieces(plan: Plan) -> tuple[PlanPiece, ...]:
    if plan.piece is not None or not plan.pieces:
        return (PlanPiece(plan.piece or "", plan.make, plan.rounds, 0),)
    return plan.pieces


def _paged(lines: Sequence[_Line], height: float) -> Iterator[list[_Line]]:
    """Lines by pages, a heading never alone at the foot of one."""
    left = room = height - 2 * EDGE_MM - 12
    page: list[_Line] = []
    for index, line in enumerate(lines):
        need = STEP_MM * (1.8 if line.piece else max(1, len(line.parts)))
        follows = STEP_MM if line.piece and index + 1 < len(lines) else 0.0
        if page and need + follows > left:
            yield page
            page, left = [], room
        page.append(line)
        left -= need
    yield page


def _drawn(canvas: Canvas, page: Sequence[_Line], width: float, height: float, title: str) -> None:
    """Draw the lines of one page."""
    y = height - EDGE_MM
    canvas.setFillGray(0)
    canvas.setFont(BOLD_FONT, HEAD_PT)
    canvas.drawString(EDGE_MM * POINTS_PER_MM, (y - 4) * POINTS_PER_MM, title[:70])
    y -= 12
    for piece, own, parts in page:
        canvas.setFillGray(0)
        if piece is not None:
            y -= STEP_MM * 0.8
            canvas.setFont(BOLD_FONT, PIECE_PT)
            make = f" ({words.LIST_MAKE.format(n=piece.make)})" if piece.make > 1 else ""
            canvas.drawString(EDGE_MM * POINTS_PER_MM, (y - 4) * POINTS_PER_MM, page_text(piece.name) + make)
            y -= STEP_MM
            continue
        if own is None:
            continue
        canvas.setStrokeGray(0.15)
        canvas.setLineWidth(0.8)
        canvas.rect(EDGE_MM * POINTS_PER_MM, (y - 4.4) * POINTS_PER_MM, BOX_MM * POINTS_PER_MM, BOX_MM * POINTS_PER_MM)
        at = EDGE_MM + BOX_MM + 3
        canvas.setFont(BOLD_FONT, TEXT_PT)
        canvas.drawString(at * POINTS_PER_MM, (y - 4) * POINTS_PER_MM, f"R{own.round}")
        total = own.stitches if own.stitches is not None else own.stated
        canvas.drawRightString(
            (width - EDGE_MM) * POINTS_PER_MM, (y - 4) * POINTS_PER_MM, "?" if total is None else str(total)
        )
        canvas.setFont(PLAIN_FONT, TEXT_PT)
        for part in parts:
            canvas.drawString((at + NUMBER_MM) * POINTS_PER_MM, (y - 4) * POINTS_PER_MM, part)
            y -= STEP_MM
        canvas.setStrokeGray(HAIR_GREY)
        canvas.setLineWidth(0.3)
        canvas.line(
            EDGE_MM * POINTS_PER_MM,
            (y + 0.5) * POINTS_PER_MM,
            (width - EDGE_MM) * POINTS_PER_MM,
            (y + 0.5) * POINTS_PER_MM,
        )
