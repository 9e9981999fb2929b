"""The calibration mat: a page of markers that a photo can be measured by.

This is the one place that knows where which marker stands; :mod:`counter.lengths.scale`
reads in a photo what is printed here. The markers are those of OpenCV's ArUco
module (S. Garrido-Jurado and others, "Automatic generation and detection of
highly reliable fiducial markers under occlusion", Pattern Recognition 47(6),
2014). They stand in the same places on every paper, so that the reader need
not know which paper it was.
"""

from __future__ import annotations

import io
import os
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import cv2
import numpy as np

from counter.basics import words
from counter.basics.files import write_whole

__all__ = [
    "CHECK_LINE_MM",
    "CLEAR_SIDE_MM",
    "MARKERS",
    "MARKER_SIDE_MM",
    "PAPERS",
    "RING_SIDE_MM",
    "cells",
    "dictionary",
    "mat_page",
    "on_page",
    "write_mat",
]

#: Width and height of the papers, mm: A4 by ISO 216, letter by ANSI/ASME Y14.1 (8.5 x 11 in).
PAPERS: Mapping[str, tuple[float, float]] = MappingProxyType({"A4": (210.0, 297.0), "letter": (215.9, 279.4)})
#: Side of a marker, mm: six cells of 3 mm.
MARKER_SIDE_MM = 18.0
#: Side of the square that the ring of markers fills, mm.
RING_SIDE_MM = 188.0
#: Markers along one side of the ring, corners included.
MARKERS_ALONG_SIDE = 6
#: Side of the square in the middle that stays white, mm; a marker needs one white cell around it.
CLEAR_SIDE_MM = RING_SIDE_MM - 2 * MARKER_SIDE_MM - 2 * MARKER_SIDE_MM / 6
#: Length of the line that shows whether the page was printed at its true size, mm.
CHECK_LINE_MM = 100.0
#: From the top of the page to the ring and to the check line, mm.
RING_TOP_MM, CHECK_TOP_MM = 40.0, 241.0
#: Points of print in a millimetre (1 in = 25.4 mm = 72 points).
POINTS_PER_MM = 72 / 25.4


def _ring() -> dict[int, np.ndarray]:
    """Corners of every marker, clockwise from the top-left marker of the ring."""
    step = (RING_SIDE_MM - MARKER_SIDE_MM) / (MARKERS_ALONG_SIDE - 1)
    run = [(k * step, 0.0) for k in range(MARKERS_ALONG_SIDE - 1)]
    far = RING_SIDE_MM - MARKER_SIDE_MM
    places = run + [(far, x) for x, _ in run] + [(far - x, far) for x, _ in run] + [(0.0, far - x) for x, _ in run]
    square = np.array([[0, 0], [MARKER_SIDE_MM, 0], [MARKER_SIDE_MM, MARKER_SIDE_MM], [0, MARKER_SIDE_MM]])
    corners = {number: np.array(place) - RING_SIDE_MM / 2 + square for number, place in enumerate(places)}
    for array in corners.values():
        array.flags.writeable = False
    return corners


#: Number of each marker -> its corners from its own top left on clockwise; arrays of
#: shape (4, 2), mm, x right and y down from the middle of the ring.
MARKERS: Mapping[int, np.ndarray] = MappingProxyType(_ring())


def dictionary() -> cv2.aruco.Dictionary:
    """The dictionary that the markers are taken from: 4 x 4 cells, 50 patterns."""
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)


def _size(paper: str) -> tuple[float, float]:
    try:
        return PAPERS[paper]
    except (KeyError, TypeError):
        raise ValueError(f"the paper must be {' or '.join(PAPERS)}, not {paper!r}") from None


def on_page(points: np.ndarray, paper: str = "A4") -> np.ndarray:
    """Where places of the mat lie on the page.

    Parameters
    ----------
    points : ndarray of shape (..., 2), float
        mm from the middle of the ring, x right and y down.
    paper : {"A4", "letter"}

    Returns
    -------
    ndarray of shape (..., 2), float
        mm from the top left of the page.

    Raises
    ------
    ValueError
        If there is no such paper.
    """
    width, _ = _size(paper)
    return np.asarray(points, dtype=float) + [width / 2, RING_TOP_MM + RING_SIDE_MM / 2]


def cells(number: int) -> np.ndarray:
    """The cells of a marker.

    Parameters
    ----------
    number : int
        A key of :data:`MARKERS`.

    Returns
    -------
    ndarray of shape (6, 6), bool
        Row by row, True where white.
    """
    return cv2.aruco.generateImageMarker(dictionary(), number, 6) > 0


def mat_page(paper: str = "A4") -> bytes:
    """The mat as a PDF file of one page.

    Parameters
    ----------
    paper : {"A4", "letter"}

    Returns
    -------
    bytes
        Vector drawing; the same bytes every time.

    Raises
    ------
    ValueError
        If there is no such paper.
    """
    width, height = _size(paper)
    # Only who prints needs the PDF library; whoever reads the mat in a photo does not wait for it.
    from reportlab.pdfgen.canvas import Canvas

    data = io.BytesIO()
    # "invariant" leaves dates and random names out of the file.
    page = Canvas(
        data, pagesize=(width * POINTS_PER_MM, height * POINTS_PER_MM), invariant=1, initialFontName="Helvetica"
    )
    page.setTitle(words.MAT_TITLE)
    page.setAuthor("rimtally")
    page.setSubject(words.MAT_SUBJECT.format(paper=paper))
    page.setViewerPreference("PrintScaling", "None")
    # From here on in mm from the top left, y up: a place (x, y) of the page is (x, -y).
    page.translate(0, height * POINTS_PER_MM)
    page.scale(POINTS_PER_MM, POINTS_PER_MM)

    def text(x: float, y: float, line: str, size: float, font: str = "Helvetica") -> None:
        page.setFont(font, size)
        page.drawString(x, -y, line)

    left = (width - RING_SIDE_MM) / 2
    text(left, 15.5, words.MAT_TITLE, 5.6, "Helvetica-Bold")
    for k, line in enumerate(words.MAT_USE):
        text(left, 22.5 + 5.0 * k, line, 3.45)
    for number, corners in MARKERS.items():
        x, y = on_page(corners[0], paper)
        cell = MARKER_SIDE_MM / 6
        page.setFillGray(0)
        page.rect(x, -y - MARKER_SIDE_MM, MARKER_SIDE_MM, MARKER_SIDE_MM, stroke=0, fill=1)
        page.setFillGray(1)
        for row, white in enumerate(cells(number)):
            # Neighbouring cells of a row are one rectangle, so that no hair line shows between them.
            edges = np.flatnonzero(np.diff(np.r_[False, white, False]))
            for start, stop in edges.reshape(-1, 2):
                page.rect(x + start * cell, -y - (row + 1) * cell, (stop - start) * cell, cell, stroke=0, fill=1)
    page.setFillGray(0)
    page.setLineCap(0)
    page.setLineWidth(0.3)
    start = (width - CHECK_LINE_MM) / 2
    page.line(start, -CHECK_TOP_MM, start + CHECK_LINE_MM, -CHECK_TOP_MM)
    for k in range(11):
        tall = 3.0 if k in (0, 10) else 2.0 if k == 5 else 1.2
        # The outer edges of the end ticks are what is 100 mm apart.
        x = start + k * CHECK_LINE_MM / 10 + (0.15 if k == 0 else -0.15 if k == 10 else 0.0)
        page.line(x, -CHECK_TOP_MM - tall, x, -CHECK_TOP_MM + tall)
    page.setFont("Helvetica-Bold", 3.9)
    page.drawCentredString(width / 2, -CHECK_TOP_MM - 8.0, words.MAT_CHECK)
    page.setFont("Helvetica", 3.3)
    page.drawCentredString(width / 2, -CHECK_TOP_MM - 13.5, words.MAT_BELOW)
    page.showPage()
    page.save()
    return data.getvalue()


def write_mat(path: str | os.PathLike[str], paper: str = "A4") -> None:
    """Write the mat as a PDF file, whole or not at all.

    Parameters
    ----------
    path : path
        Where to; the name must end in .pdf.
    paper : {"A4", "letter"}

    Raises
    ------
    ValueError
        If the name does not end in .pdf, or there is no such paper.
    OSError
        If the file can't be written.
    """
    path = Path(path)
    if path.suffix.lower() != ".pdf":
        raise ValueError(f"{path.name}: the name of the mat must end in .pdf")
    write_whole(path, mat_page(paper))
