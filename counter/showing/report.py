"""What is given to somebody else: one count on one page, and the sheet of a class.

The page is drawn, not photographed: photo, signs and numbers stay sharp on
paper, every sign is told apart by its shape, and nothing but the photo is
printed in colour, so that it reads the same in black and white.
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from counter.basics import words
from counter.basics.answer import Count, Refusal, clock_position, doubt_letter
from counter.basics.photo import Photo
from counter.basics.table import csv_table
from counter.basics.text import shown
from counter.comparing.check import Check
from counter.comparing.questions import questions_of, what_decides
from counter.comparing.slips import Slip
from counter.comparing.verdict import Verdict
from counter.lengths.mat import PAPERS, POINTS_PER_MM
from counter.showing.overlay import SLIP_SIGNS
from counter.showing.sentences import advice_words, remark_words, round_words, slip_words, verdict_words

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

__all__ = ["NEEDS", "Row", "SheetLine", "class_sheet", "page_text", "report_page", "sheet_csv", "sheet_data"]

# One page -------------------------------------------------------------------

#: Edge of the page, mm; the footer stands below it.
EDGE_MM, FOOT_MM = 15.0, 17.0
#: Most marks that the table holds, and its columns.
MOST_LISTED, MOST_COLUMNS = 130, 6
#: Least height of the picture, of the line below it that says what the signs mean, and room for the numbers
#: around the rim, mm.
LEAST_PICTURE_MM, KEY_MM, NUMBERS_MM = 74.0, 6.5, 9.0
#: Most lines of a note, sentences of advice and places to look at.
MOST_NOTE_LINES, MOST_SENTENCES, MOST_PLACES = 3, 7, 6
#: Ground shown around the piece, as a share of its size: room for the numbers.
MARGIN_SHARE = 0.13
#: Points of the rim that the numbers keep clear of.
OUTLINE_POINTS = 1000
#: Pixels to the mm of paper, and JPEG quality: 220 pixels to the inch.
PICTURE_PX_PER_MM, JPEG_QUALITY = 220 / 25.4, 85
#: Sizes of letters, points.
HEAD_PT, BIG_PT, STRONG_PT, TEXT_PT, FINE_PT = 13.0, 30.0, 13.0, 9.3, 7.6
#: Shades of grey: words of less weight, hair lines, every other row of a table.
SOFT_GREY, HAIR_GREY, BAND_GREY = 0.32, 0.6, 0.94
PLAIN_FONT, BOLD_FONT = "Helvetica", "Helvetica-Bold"
#: From one line of text to the next, and of the table, mm.
STEP_MM, ROW_MM = 1.32 * TEXT_PT / POINTS_PER_MM, 1.38 * FINE_PT / POINTS_PER_MM


def report_page(
    photo: Photo,
    count: Count,
    check: Check | None = None,
    *,
    by_person: bool = False,
    added: Collection[int] = (),
    title: str = "",
    date: str = "",
    note: str = "",
    paper: str = "A4",
) -> bytes:
    """One count as a PDF file of one page: photo, count, verdict, marks.

    Parameters
    ----------
    photo : Photo
        The photo that was counted.
    count : Count
        Its count, as it stands.
    check : Check, optional
        What it was held against.
    by_person : bool, optional
        A person has put the marks right or confirmed them.
    added : collection of int, optional
        Numbers, from 1, of marks that a person put.
    title, date, note : str, optional
        In the person's words. What has no letter in the page's fonts (those
        of every PDF reader, Western European) is printed without its accent
        or as "?"; a note that is too long ends with "...".
    paper : {"A4", "letter"}

    Returns
    -------
    bytes
        The same bytes for the same count; without metadata of the photo.

    Raises
    ------
    ValueError
        If there is no such paper.
    """
    if paper not in PAPERS:
        raise ValueError(f"the paper must be {' or '.join(PAPERS)}, not {paper!r}")
    # Only who prints needs the PDF library.
    from reportlab.pdfgen.canvas import Canvas

    data = io.BytesIO()
    width, height = PAPERS[paper]
    # "invariant" leaves dates and random names out of the file.
    canvas = Canvas(
        data, pagesize=(width * POINTS_PER_MM, height * POINTS_PER_MM), invariant=1, initialFontName=PLAIN_FONT
    )
    canvas.setTitle(page_text(title) or words.PAGE_TITLE)
    canvas.setAuthor("rimtally")
    canvas.setSubject(words.stitches(count.stitches))
    if by_person:  # who has looked has settled the places in doubt
        count = replace(count, doubts=())
    sheet = _Page(canvas, width, height)
    verdict = check.verdict if check else None
    sheet.head(page_text(title) or words.PAGE_TITLE, page_text(date))
    sheet.answer(count, verdict, by_person)
    slips = verdict.slips.claimed if verdict and verdict.slips else ()
    places = [
        (doubt_letter(k), words.LOOK_AT.format(clock=clock_position(d.at, count.centre), mark=d.mark, why=d.said))
        for k, d in enumerate(count.doubts[:MOST_PLACES])
    ]
    places += [(SLIP_SIGNS[slip.what], words.MOST_LIKELY.format(slip=slip_words(slip))) for slip in slips]
    sentences, rows = _sentences(count, check), _rows(count, slips, added)
    pointed, said, noted = sheet.fitted(places[:MOST_PLACES], sentences, page_text(note), len(rows))
    sheet.sentences(said)
    sheet.places(pointed)
    sheet.picture(photo, count, slips, sheet.table_height(len(rows)) + sheet.note_height(noted))
    sheet.table(rows, len(count.marks))
    sheet.note(noted)
    sheet.foot()
    canvas.showPage()
    canvas.save()
    return data.getvalue()


def _sentences(count: Count, check: Check | None) -> list[str]:
    """What is said about it beside the number and the verdict; the caution stands at the foot of the page."""
    said = list(round_words(check)) if check else []
    verdict = check.verdict if check else None
    if verdict:
        # What the verdict's own words say stands in large letters above and beside the places.
        said += advice_words(verdict.advice)
    if count.in_progress:
        working = count.in_progress
        said.append(words.ON_HOOK.format(done=working.done, left=working.left))
    return [text for text in dict.fromkeys(said) if text and text != words.CAUTION][:MOST_SENTENCES]


def _rows(count: Count, slips: Sequence[Slip], added: Collection[int]) -> list[tuple[str, str, str]]:
    """Number, clock position and signs of each mark, as many as the table holds."""
    signs: dict[int, list[str]] = {number: [words.PAGE_ADDED] for number in added}
    for k, doubt in enumerate(count.doubts[:MOST_PLACES]):
        signs.setdefault(doubt.mark, []).append(doubt_letter(k))
    for slip in slips:
        for number in dict.fromkeys(slip.marks):
            signs.setdefault(number, []).append(SLIP_SIGNS[slip.what])
    return [
        (str(n), clock_position(at, count.centre), " ".join(signs.get(n, ())))
        for n, at in enumerate(count.marks[:MOST_LISTED], start=1)
    ]


def _has(c: str) -> bool:
    try:
        return bool(c.encode("cp1252"))
    except UnicodeEncodeError:
        return False


#: Letters with a stroke, which have no accent to take off.
_WITHOUT_STROKE = str.maketrans("\u0141\u0142\u0110\u0111\u0126\u0127\u0131", "LlDdHhi")


def page_text(text: str) -> str:
    """A text in the letters that the page's fonts have (Windows code page 1252), on one line."""
    letters = []
    for c in " ".join(text.split()).translate(_WITHOUT_STROKE):
        if not _has(c):
            parts = "".join(filter(_has, unicodedata.normalize("NFKD", c)))
            # Marks that stand on the letter before, and what joins emoji, leave no "?" behind.
            c = parts or ("" if unicodedata.category(c)[0] in "MC" else "?")
        letters.append(c)
    # Signs that are an accent on a blank leave blanks.
    return " ".join("".join(c for c in "".join(letters) if c.isprintable()).split())


class _Page:
    """The page as it fills from the top; all lengths in mm, y downwards."""

    def __init__(self, canvas: Canvas, width: float, height: float) -> None:
        self.canvas, self.width, self.height = canvas, width, height
        self.wide = width - 2 * EDGE_MM
        self.y = EDGE_MM
        canvas.translate(0, height * POINTS_PER_MM)
        canvas.scale(POINTS_PER_MM, POINTS_PER_MM)

    # Letters

    def text(
        self, x: float, y: float, words: str, size: float, *, bold: bool = False, grey: float = 0.0,
        anchor: str = "left",
    ) -> None:  # fmt: skip
        """Words whose baseline is at `y`; the size in points."""
        font = BOLD_FONT if bold else PLAIN_FONT
        self.canvas.setFont(font, size / POINTS_PER_MM)
        self.canvas.setFillGray(grey)
        draw = {"left": "drawString", "right": "drawRightString", "middle": "drawCentredString"}[anchor]
        getattr(self.canvas, draw)(x, -y, words)

    def long(self, words: str, size: float, bold: bool = False) -> float:
        return self.canvas.stringWidth(words, BOLD_FONT if bold else PLAIN_FONT, size / POINTS_PER_MM)

    def wrapped(self, words: str, size: float, width: float, most: int = 99, bold: bool = False) -> list[str]:
        """Lines no longer than `width`; what is beyond `most` of them ends in "..."."""
        lines: list[str] = []
        for word in words.split():
            while self.long(word, size, bold) > width:  # a word that no line holds is broken
                fits = len(word) - 1
                while fits > 1 and self.long(word[:fits], size, bold) > width:
                    fits -= 1
                lines.append(word[:fits])
                word = word[fits:]
            if lines and self.long(f"{lines[-1]} {word}", size, bold) <= width:
                lines[-1] += f" {word}"
            else:
                lines.append(word)
        if len(lines) > most:
            last = lines[most - 1]
            while last and self.long(f"{last}...", size, bold) > width:
                last = last[:-1]
            lines = [*lines[: most - 1], f"{last.rstrip()}..."]
        return lines

    def rule(self, y: float, x0: float, x1: float, grey: float = HAIR_GREY, width: float = 0.2) -> None:
        self.canvas.setStrokeGray(grey)
        self.canvas.setLineWidth(width)
        self.canvas.line(x0, -y, x1, -y)

    # Parts, from the top

    def head(self, title: str, date: str) -> None:
        room = self.wide - (self.long(date, TEXT_PT) + 6 if date else 0)
        line = self.wrapped(title, HEAD_PT, max(room, self.wide / 3), 1, bold=True)[0]
        self.text(EDGE_MM, self.y + 4, line, HEAD_PT, bold=True)
        when = self.wrapped(date, TEXT_PT, self.wide / 2, 1)[0] if date else ""
        self.text(self.width - EDGE_MM, self.y + 4, when, TEXT_PT, grey=SOFT_GREY, anchor="right")
        self.y += 7.0
        self.rule(self.y, EDGE_MM, self.width - EDGE_MM, 0.0, 0.35)
        self.y += 3.0

    def answer(self, count: Count, verdict: Verdict | None, by_person: bool) -> None:
        """The number, how sure it is, and the verdict with a sign of its own."""
        number = words.either(count.likely)
        base = self.y + 9.5
        self.text(EDGE_MM, base, number, BIG_PT, bold=True)
        x = EDGE_MM + self.long(number, BIG_PT, bold=True) + 2.5
        self.text(x, base, words.STITCH_ALONE if number == "1" else words.STITCHES, STRONG_PT)
        if by_person:
            state = words.PAGE_YOURS
        else:
            told = words.carried_on(remark_words(what_decides(count, questions_of(count))))
            state = words.PAGE_SURENESS.format(state=words.SURE if count.sure else words.NOT_SURE, why=told)
        if count.rounds:
            state += f"  \u00b7  {words.complete_rounds(count.rounds)}"
        self.text(EDGE_MM, base + 6.0, state, TEXT_PT + 0.7)
        if verdict:
            said = words.begun(words.said(verdict.off_by))
            held = words.PAGE_EXPECTED.format(stitches=words.stitches(verdict.expected))
            left = self.width - EDGE_MM - max(self.long(said, STRONG_PT + 4, bold=True), self.long(held, TEXT_PT + 0.7))
            self._verdict_sign(left - 10.5, self.y + 8.0, verdict.off_by)
            self.text(left, self.y + 7.5, said, STRONG_PT + 4, bold=True)
            self.text(left, base + 6.0 - 1.2, held, TEXT_PT + 0.7)
        self.y = base + 9.5

    def _verdict_sign(self, x: float, y: float, off: int | None) -> None:
        """A disc with "=", a square with how many more or fewer, an open ring with "?"."""
        pen, half = self.canvas, 6.5
        words = "?" if off is None else "=" if off == 0 else f"{off:+d}".replace("-", "\u2013")
        pen.setFillGray(0)
        pen.setStrokeGray(0)
        pen.setLineWidth(0.7)
        if off is None:
            pen.circle(x, -y, half - 0.35, stroke=1, fill=0)
        elif off == 0:
            pen.circle(x, -y, half, stroke=0, fill=1)
        else:
            pen.roundRect(x - half, -y - half, 2 * half, 2 * half, 1.4, stroke=0, fill=1)
        size = 20.0 if len(words) < 3 else 15.0
        grey = 0.0 if off is None else 1.0
        self.text(x, y + 0.35 * size / POINTS_PER_MM, words, size, bold=True, grey=grey, anchor="middle")

    def fitted(
        self, places: Sequence[tuple[str, str]], sentences: Sequence[str], note: str, rows: int
    ) -> tuple[list[tuple[str, list[str]]], list[list[str]], list[str]]:
        """Places, sentences and note in lines, the less needed left out where the picture would get too small."""
        pointed = [(sign, self.wrapped(page_text(words), TEXT_PT, self.wide - 8, 2)) for sign, words in places]
        said = [self.wrapped(page_text(words), TEXT_PT, self.wide, 3) for words in sentences]
        most = MOST_NOTE_LINES
        room = self.height - FOOT_MM - self.y - LEAST_PICTURE_MM - KEY_MM - 3.0 - self.table_height(rows)
        while True:
            lines = self.wrapped(note, TEXT_PT, self.wide, most) if most else []
            used = sum(len(words) * STEP_MM + 1.0 for words in [*said, *(words for _, words in pointed)])
            if used + self.note_height(lines) <= room or not (lines or len(said) > 1 or len(pointed) > 1):
                return pointed, said, lines
            if lines:
                most -= 1
            elif len(said) > 1:
                said.pop()
            else:
                pointed.pop()

    def sentences(self, sentences: Sequence[Sequence[str]]) -> None:
        for lines in sentences:
            for line in lines:
                self.y += STEP_MM
                self.text(EDGE_MM, self.y, line, TEXT_PT)
            self.y += 1.0

    def places(self, places: Sequence[tuple[str, Sequence[str]]]) -> None:
        """Places to look at, each with the sign that it has in the picture."""
        for sign, lines in places:
            self._tag(EDGE_MM + 2.6, self.y + STEP_MM - 1.15, sign, FINE_PT, round_=sign in SLIP_SIGNS.values())
            for line in lines:
                self.y += STEP_MM
                self.text(EDGE_MM + 8, self.y, line, TEXT_PT)
            self.y += 1.0

    def _tag(self, x: float, y: float, words: str, size: float, *, round_: bool) -> None:
        """A letter in a black square, or how many more or fewer in a black disc, both with a white edge."""
        pen, half = self.canvas, 0.62 * size / POINTS_PER_MM + 0.35
        pen.setFillGray(0)
        pen.setStrokeGray(1)
        pen.setLineWidth(0.35)
        if round_:
            pen.circle(x, -y, half + 0.3, stroke=1, fill=1)
        else:
            pen.rect(x - half, -y - half, 2 * half, 2 * half, stroke=1, fill=1)
        self.text(x, y + 0.35 * size / POINTS_PER_MM, words, size, bold=True, grey=1.0, anchor="middle")

    # The picture

    def picture(self, photo: Photo, count: Count, slips: Sequence[Slip], below: float) -> None:
        """The photo as large as the page leaves room, its marks drawn on it, and what they mean."""
        from reportlab.lib.utils import ImageReader

        room = max(self.height - FOOT_MM - below - KEY_MM - self.y - 1.5, LEAST_PICTURE_MM)
        x0, y0, x1, y1 = _view(photo, count)
        # Numbers of a rim that nearly touches the frame stand beside the photo.
        points = np.vstack([count.outline, count.marks])
        ground = np.array([*(points.min(axis=0) - (x0, y0)), *((x1, y1) - points.max(axis=0))])
        scale, pads = 1.0, np.zeros(4)
        for _ in range(8):  # how much of the ground is left depends on the scale
            scale = min((self.wide - pads[0] - pads[2]) / (x1 - x0), (room - pads[1] - pads[3]) / (y1 - y0))
            pads = np.maximum(0, NUMBERS_MM - ground * scale)
        wide, high = (x1 - x0) * scale, (y1 - y0) * scale
        left, top = (self.width - wide + pads[0] - pads[2]) / 2, self.y + 1.5 + pads[1]
        picture = Image.fromarray(photo.pixels[y0:y1, x0:x1])
        share = PICTURE_PX_PER_MM * scale
        if share < 1:
            size = (max(1, round((x1 - x0) * share)), max(1, round((y1 - y0) * share)))
            picture = picture.resize(size, Image.Resampling.LANCZOS, reducing_gap=3)
        file = io.BytesIO()
        picture.save(file, "JPEG", quality=JPEG_QUALITY)
        file.seek(0)
        pen = self.canvas
        pen.drawImage(ImageReader(file), left, -top - high, wide, high)
        pen.setStrokeGray(HAIR_GREY)
        pen.setLineWidth(0.2)
        pen.rect(left, -top - high, wide, high, stroke=1, fill=0)

        def placed(points: np.ndarray | Sequence[tuple[float, float]]) -> np.ndarray:
            """Photo -> page; the middle of the first pixel is (0, 0) in the photo."""
            return (np.asarray(points, float).reshape(-1, 2) - (x0, y0) + 0.5) * scale + (left, top)

        # Points close enough that one lies beside every number.
        steps = np.arange(0, len(count.outline), len(count.outline) / OUTLINE_POINTS)
        closed = np.vstack([count.outline, count.outline[:1]])
        outline = np.column_stack([np.interp(steps, np.arange(len(closed)), closed[:, k]) for k in (0, 1)])
        self._marks(placed(count.marks), placed(outline), placed([count.centre])[0], count, slips, placed)
        self.y = top + high + pads[3]
        self._key(self.y + 4.2)
        self.y += KEY_MM

    def _marks(
        self,
        marks: np.ndarray,
        outline: np.ndarray,
        centre: np.ndarray,
        count: Count,
        slips: Sequence[Slip],
        placed: Callable[[np.ndarray | Sequence[tuple[float, float]]], np.ndarray],
    ) -> None:
        pitch = _pitch(marks)
        sign = float(np.clip(0.19 * pitch, 0.45, 1.3))
        hub = outline.mean(axis=0)
        half = float(np.clip(0.62 * pitch, 2.0, 6.0))
        doubts = placed([doubt.at for doubt in count.doubts[:MOST_PLACES]])
        taken = [(at, np.full(2, half + 0.8)) for at in doubts]
        for number, at, large in self._labels(marks, outline, hub, sign, taken):
            self._number(at, str(number), large)
        for number, at in enumerate(marks, start=1):
            self._sign(at, sign, first=number == 1, full=number % 5 == 0)
        self._cross(centre)
        tags: list[np.ndarray] = []
        for k, (x, y) in enumerate(doubts):
            for grey, line in ((1.0, 1.1), (0.0, 0.5)):
                self.canvas.setStrokeGray(grey)
                self.canvas.setLineWidth(line)
                self.canvas.rect(x - half, -y - half, 2 * half, 2 * half, stroke=1, fill=0)
            inwards = (hub - (x, y)) / max(np.abs(hub - (x, y)).max(), 1e-9)
            tag = np.array([x, y]) + inwards * (half + 2.4)
            while any(np.abs(tag - other).max() < 4.4 for other in tags):  # two places side by side
                tag = tag + inwards
            tags.append(tag)
            self._tag(tag[0], tag[1], doubt_letter(k), FINE_PT, round_=False)
        for slip in slips:
            at = placed([slip.at])[0]
            inwards = (hub - at) / max(np.hypot(*(hub - at)), 1e-9)
            tip, tag = at + inwards * (sign + 0.6), at + inwards * (sign + 5.6)
            for grey, line in ((1.0, 1.2), (0.0, 0.6)):
                self.canvas.setStrokeGray(grey)
                self.canvas.setLineWidth(line)
                self.canvas.line(tip[0], -tip[1], tag[0], -tag[1])
            self._tag(tag[0], tag[1], SLIP_SIGNS[slip.what], FINE_PT, round_=True)

    def _labels(
        self,
        marks: np.ndarray,
        outline: np.ndarray,
        hub: np.ndarray,
        sign: float,
        taken: Sequence[tuple[np.ndarray, np.ndarray]],
    ) -> list[tuple[int, np.ndarray, np.ndarray]]:
        """Number, middle and half the size of labels outside the rim: all if there is room, else every 5th or 10th.

        They keep clear of what is `taken`: middle and half the size of each.
        """
        total = len(marks)
        around = outline - hub
        for every in (1, 5, 10):
            # A number that stands near the last one would be hidden by it.
            numbers = [n for n in range(1, total + 1) if n in (1, total) or n % every == 0 and total - n > 0.4 * every]
            if every == 1:
                numbers = list(range(1, total + 1))
            labels = []
            for number in numbers:
                away = marks[number - 1] - hub
                outwards = away / max(np.hypot(*away), 1e-9)
                half = np.array(
                    [self.long(str(number), FINE_PT, bold=True) / 2 + 0.5, 0.4 * FINE_PT / POINTS_PER_MM + 0.35]
                )
                ahead, beside = around @ outwards, np.abs(around @ np.array([-outwards[1], outwards[0]]))
                reach = max([np.hypot(*away), *ahead[(beside < half.max()) & (ahead > 0)]])
                at = hub + outwards * (reach + sign + 0.4 + np.abs(outwards) @ half)
                if every > 1 and number == total:  # next to the 1: one row further out
                    at = at + outwards * 2 * (np.abs(outwards) @ half)
                while any(_touch((at, half), own) for own in taken):
                    at = at + outwards * 0.5
                labels.append((number, at, half))
            apart = not any(_touch(a[1:], b[1:]) for i, a in enumerate(labels) for b in labels[:i])
            if apart or every == 10:
                break
        return labels

    def _number(self, at: np.ndarray, words: str, half: np.ndarray) -> None:
        """Black figures on a white patch, read on any ground."""
        (x, y), (across, down) = at, half
        self.canvas.setFillGray(1)
        self.canvas.roundRect(x - across, -y - down, 2 * across, 2 * down, 0.7, stroke=0, fill=1)
        self.text(x, y + 0.355 * FINE_PT / POINTS_PER_MM, words, FINE_PT, bold=True, anchor="middle")

    def _sign(self, at: np.ndarray, size: float, *, first: bool, full: bool) -> None:
        """A diamond for the first stitch, a disc for every fifth, a ring for the others, light within dark."""
        pen, (x, y) = self.canvas, at
        pen.setStrokeGray(0)
        pen.setFillGray(1)
        if first:
            path = pen.beginPath()
            reach = 1.9 * size
            path.moveTo(x, -y + reach)
            for dx, dy in ((reach, 0), (0, -reach), (-reach, 0)):
                path.lineTo(x + dx, -y + dy)
            path.close()
            pen.setLineWidth(0.45)
            pen.drawPath(path, stroke=1, fill=1)
            return
        if full:
            pen.setLineWidth(0.4)
            pen.circle(x, -y, size, stroke=1, fill=1)
            return
        for grey, line in ((0.0, 0.62), (1.0, 0.28)):
            pen.setStrokeGray(grey)
            pen.setLineWidth(line)
            pen.circle(x, -y, 0.9 * size, stroke=1, fill=0)

    def _cross(self, at: np.ndarray) -> None:
        x, y = at
        for grey, line in ((0.0, 0.8), (1.0, 0.3)):
            self.canvas.setStrokeGray(grey)
            self.canvas.setLineWidth(line)
            self.canvas.line(x - 2, -y, x + 2, -y)
            self.canvas.line(x, -y - 2, x, -y + 2)

    def _key(self, y: float) -> None:
        entries = (
            *(("first", words.KEY_FIRST), ("", words.KEY_STITCH), ("full", words.KEY_FIFTH)),
            ("cross", words.KEY_CENTRE),
        )
        wide = sum(self.long(text, FINE_PT) + 9.0 for _, text in entries) - 5.0
        x = (self.width - wide) / 2
        for kind, text in entries:
            at = np.array([x + 1.2, y - 1.0])
            if kind == "cross":
                self._cross(at)
            else:
                self._sign(at, 0.85, first=kind == "first", full=kind == "full")
            self.text(x + 4.0, y, text, FINE_PT, grey=SOFT_GREY)
            x += self.long(text, FINE_PT) + 9.0

    # The table

    @staticmethod
    def _shape(rows: int) -> tuple[int, int]:
        """Columns and rows of the table: wide and low, so that the picture is large."""
        columns = min(MOST_COLUMNS, max(1, -(-rows // 4)))
        return columns, -(-rows // columns)

    def table_height(self, rows: int) -> float:
        return 10.0 + self._shape(rows)[1] * ROW_MM

    def table(self, rows: Sequence[tuple[str, str, str]], total: int) -> None:
        columns, tall = self._shape(len(rows))
        self.y += 4.0
        self.text(EDGE_MM, self.y, words.PAGE_MARKS, TEXT_PT, bold=True)
        if len(rows) < total:
            left_out = words.PAGE_LEFT_OUT.format(n=len(rows), total=total)
            self.text(self.width - EDGE_MM, self.y, left_out, FINE_PT, grey=SOFT_GREY, anchor="right")
        self.y += 1.6
        wide = self.wide / MOST_COLUMNS
        top = self.y
        for k in range(0, tall, 2):
            self.canvas.setFillGray(BAND_GREY)
            self.canvas.rect(EDGE_MM, -top - (k + 1) * ROW_MM, self.wide, ROW_MM, stroke=0, fill=1)
        for index, (number, clock, signs) in enumerate(rows):
            column, row = divmod(index, tall)
            x, y = EDGE_MM + column * wide, top + (row + 1) * ROW_MM - 0.95
            self.text(x + 5.6, y, number, FINE_PT, bold=True, anchor="right")
            self.text(x + 7.0, y, clock, FINE_PT)
            beside = 7.0 + self.long(words.CLOCK.format(hour=12), FINE_PT) + 1.2
            for line in self.wrapped(signs, FINE_PT, wide - beside - 0.5, 1, bold=True):
                self.text(x + beside, y, line, FINE_PT, bold=True)
        self.y = top + tall * ROW_MM
        for y in (top, self.y):
            self.rule(y, EDGE_MM, self.width - EDGE_MM, 0.0, 0.25)
        self.canvas.setStrokeGray(HAIR_GREY)
        self.canvas.setLineWidth(0.2)
        for column in range(1, columns):
            x = EDGE_MM + column * wide
            self.canvas.line(x, -top, x, -self.y)

    def note_height(self, lines: Sequence[str]) -> float:
        return 4.5 + len(lines) * STEP_MM if lines else 0.0

    def note(self, lines: Sequence[str]) -> None:
        if not lines:
            return
        self.y += 4.0
        for line in lines:
            self.text(EDGE_MM, self.y, line, TEXT_PT)
            self.y += STEP_MM

    def foot(self) -> None:
        foot = words.PAGE_FOOT.format(caution=words.CAUTION)
        self.text(self.width / 2, self.height - 9.5, foot, FINE_PT, grey=SOFT_GREY, anchor="middle")


def _view(photo: Photo, count: Count) -> tuple[int, int, int, int]:
    """Left, top, right and bottom of the part of the photo that is shown: the piece and some ground."""
    points = np.vstack([count.outline, count.marks])
    low, high = points.min(axis=0), points.max(axis=0)
    ground = MARGIN_SHARE * (high - low).max()
    x0, y0 = (int(v) for v in np.maximum(0, np.floor(low - ground)))
    x1, y1 = (int(v) for v in np.minimum((photo.width, photo.height), np.ceil(high + ground)))
    return x0, y0, max(x1, x0 + 1), max(y1, y0 + 1)


def _pitch(marks: np.ndarray) -> float:
    """Usual distance from one mark to the next."""
    return float(np.median(np.linalg.norm(np.roll(marks, -1, axis=0) - marks, axis=1)))


def _touch(a: Sequence[np.ndarray], b: Sequence[np.ndarray]) -> bool:
    """Whether two boxes overlap; each is its middle and half its size."""
    return bool(np.all(np.abs(a[0] - b[0]) < a[1] + b[1]))


# The sheet of a class -------------------------------------------------------

#: How much a person is needed, most first.
NEEDS = ("refused", "not sure", "off", "counted", "agrees")


@dataclass(frozen=True)
class Row:
    """One photo of several.

    Parameters
    ----------
    name : str
        Of the photo, or of who made the piece.
    answer : Count or Refusal
    check : Check or None
        What the count was held against.
    by_person : bool
        A person has put the marks right or confirmed them.
    """

    name: str
    answer: Count | Refusal
    check: Check | None = None
    by_person: bool = False


@dataclass(frozen=True)
class SheetLine:
    """One line of the sheet.

    Parameters
    ----------
    index : int
        Place of its row among those that were given, from 0.
    name : str
        As it can be shown.
    need : str
        Of :data:`NEEDS`: "counted" is sure, but held against nothing.
    state : {"refused", "not sure", "sure", "counted by a person"}
    words : str
        What to know or to do, in sentences.
    stitches : int or None
        None where refused.
    likely : str
        "24", "23 or 24"; empty where refused.
    probability : float or None
        Of `stitches`; None where refused or counted by a person.
    expected : int or None
    round : int or None
        Round of the plan that it was held against.
    verdict : str
        "agrees", "short by k", "over by k", "can't say", or empty.
    off_by : int or None
    rounds : int or None
        Complete rounds that were counted.
    """

    index: int
    name: str
    need: str
    state: str
    words: str
    stitches: int | None = None
    likely: str = ""
    probability: float | None = None
    expected: int | None = None
    round: int | None = None
    verdict: str = ""
    off_by: int | None = None
    rounds: int | None = None


def class_sheet(rows: Sequence[Row]) -> tuple[SheetLine, ...]:
    """Several photos, sorted by how much a person is needed.

    Parameters
    ----------
    rows : sequence of Row

    Returns
    -------
    tuple of SheetLine
        Refused, then not sure (least probable first), then short or over (most
        off first), then sure without anything to hold against, then what
        agrees; alike ones by name.
    """
    lines = [_line(index, row) for index, row in enumerate(rows)]

    def need(line: SheetLine) -> tuple[int, float, int, str, int]:
        chance = 1.0 if line.probability is None else line.probability
        unsure = chance if line.need == "not sure" else 0.0
        return NEEDS.index(line.need), unsure, -abs(line.off_by or 0), line.name.casefold(), line.index

    return tuple(sorted(lines, key=need))


def _line(index: int, row: Row) -> SheetLine:
    name, answer = shown(row.name), row.answer
    if isinstance(answer, Refusal):
        return SheetLine(index, name, "refused", "refused", words.together(answer.reason, answer.hint))
    found = round_words(row.check) if row.check else ()
    verdict = row.check.verdict if row.check else None
    off = verdict.off_by if verdict else None
    # Words without a verdict: there is a plan, but which of its rounds it is can't be told.
    if off is None and (verdict or found) or not answer.sure:
        need = "not sure"
    else:
        need = "counted" if off is None else "off" if off else "agrees"
    if verdict:
        told = words.together(*found, verdict_words(verdict))
    else:
        unsure = () if answer.sure else (answer.reason, words.CAUTION)
        told = words.together(*found, *unsure)
    compared = row.check.compared if row.check else None
    return SheetLine(
        index,
        name,
        need,
        "counted by a person" if row.by_person else answer.state,
        told,
        stitches=answer.stitches,
        likely=words.either(answer.likely),
        probability=None if row.by_person else float(answer.probability),
        expected=verdict.expected if verdict else None,
        round=compared.round if compared else None,
        verdict=verdict.verdict if verdict else "",
        off_by=off,
        rounds=answer.rounds,
    )


def sheet_data(lines: Iterable[SheetLine]) -> list[dict[str, object]]:
    """The sheet as plain data.

    Parameters
    ----------
    lines : iterable of SheetLine

    Returns
    -------
    list of dict
        The fields of :class:`SheetLine`.
    """
    return [asdict(line) for line in lines]


def sheet_csv(lines: Iterable[SheetLine]) -> str:
    """The sheet for a spreadsheet.

    Parameters
    ----------
    lines : iterable of SheetLine

    Returns
    -------
    str
        As of :func:`counter.basics.table.csv_table`, a header first.
    """
    return csv_table(
        words.SHEET_HEAD,
        [
            (
                line.name, words.NEEDS[line.need], line.state, line.stitches, line.likely,
                None if line.probability is None else round(line.probability, 3), line.expected, line.round,
                line.verdict, line.off_by, line.rounds, line.words,
            )
            for line in lines
        ],
    )  # fmt: skip
