"""The printed mat, drawn by another library's PDF renderer and read by OpenCV."""

import subprocess
import sys

import cv2
import numpy as np
import pypdfium2
import pytest

from counter.lengths import mat

DPI = 254  # ten pixels to the millimetre


@pytest.fixture(scope="module", params=list(mat.PAPERS))
def page(request):
    """(paper, grey pixels of the page at 10 px/mm)."""
    document = pypdfium2.PdfDocument(mat.mat_page(request.param))
    assert len(document) == 1
    picture = np.array(document[0].render(scale=DPI / 72, grayscale=True).to_pil())
    document.close()
    return request.param, picture.reshape(picture.shape[:2])


def test_papers_have_their_published_sizes():
    # ISO 216: A4 is 210 x 297 mm. ANSI letter is 8.5 x 11 in; one inch is 25.4 mm.
    assert mat.PAPERS["A4"] == (210.0, 297.0)
    assert mat.PAPERS["letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))


@pytest.mark.parametrize("paper", list(mat.PAPERS))
def test_page_has_the_size_of_the_paper(paper):
    document = pypdfium2.PdfDocument(mat.mat_page(paper))
    # PDF 1.7 (ISO 32000-1): a point is 1/72 in.
    assert np.array(document[0].get_size()) * 25.4 / 72 == pytest.approx(mat.PAPERS[paper], abs=0.01)
    document.close()


def test_opencv_reads_every_marker_where_the_layout_says(page):
    paper, picture = page
    options = cv2.aruco.DetectorParameters()
    options.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    found, numbers, _ = cv2.aruco.ArucoDetector(mat.dictionary(), options).detectMarkers(picture)
    assert sorted(np.ravel(numbers).tolist()) == sorted(mat.MARKERS)
    for number, corners in zip(np.ravel(numbers), found, strict=True):
        # The middle of the first pixel is half a pixel from the edge of the paper.
        seen = (np.reshape(corners, (4, 2)) + 0.5) * 25.4 / DPI
        assert np.abs(seen - mat.on_page(mat.MARKERS[int(number)], paper)).max() < 0.1


def test_check_line_is_100_mm(page):
    _, picture = page
    row = picture[round((mat.CHECK_TOP_MM - 2.6) * 10)]
    # Above the line itself only the two end ticks reach so high.
    dark = np.flatnonzero(row < 128)
    assert (dark.max() + 1 - dark.min()) / 10 == pytest.approx(100.0, abs=0.15)
    line = picture[round(mat.CHECK_TOP_MM * 10), dark.min() : dark.max() + 1]
    assert (line < 128).all()


def test_middle_is_plain_and_margins_are_kept(page):
    paper, picture = page
    low, high = np.round(mat.on_page(np.array([[-1, -1], [1, 1]]) * mat.CLEAR_SIDE_MM / 2, paper) * 10).astype(int)
    assert (picture[low[1] : high[1], low[0] : high[0]] == 255).all()
    assert mat.CLEAR_SIDE_MM >= 120
    rows, columns = np.nonzero(picture < 250)
    edge = 100  # most printers leave 5 mm white or less (common practice)
    assert rows.min() > edge / 2 and columns.min() > edge / 2
    assert rows.max() < picture.shape[0] - edge / 2 and columns.max() < picture.shape[1] - edge / 2


def test_markers_stand_apart_and_the_same_way_on_every_paper():
    # ArUco needs a white rim of one cell around each marker (OpenCV's tutorial "Detection of ArUco markers").
    corners = np.array(list(mat.MARKERS.values()))
    middles = corners.mean(axis=1)
    apart = np.abs(middles[:, None] - middles[None]).max(axis=2) + 1e3 * np.eye(len(middles))
    assert apart.min() >= mat.MARKER_SIDE_MM + 2 * mat.MARKER_SIDE_MM / 6
    assert np.ptp(corners.reshape(-1, 2), axis=0) == pytest.approx([mat.RING_SIDE_MM, mat.RING_SIDE_MM])
    first, second = (mat.on_page(corners, paper) for paper in mat.PAPERS)
    assert np.ptp((first - second).reshape(-1, 2), axis=0) == pytest.approx([0, 0], abs=1e-9)


def test_the_words_say_how_to_print_it():
    document = pypdfium2.PdfDocument(mat.mat_page("letter"))
    words = document[0].get_textpage().get_text_range()
    document.close()
    for part in ("100%", "it must be 100 mm", "at least four markers", "Measure this line"):
        assert part in words


def test_same_bytes_in_another_process():
    code = "import hashlib; from counter.lengths.mat import mat_page; print(hashlib.sha256(mat_page('A4')).hexdigest())"
    sums = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed, "TZ": zone},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo"))
    }
    assert len(sums) == 1


def test_written_whole_or_not_at_all(tmp_path, monkeypatch):
    path = tmp_path / "mat.pdf"
    mat.write_mat(path)
    assert path.read_bytes() == mat.mat_page("A4")
    assert [p.name for p in tmp_path.iterdir()] == ["mat.pdf"]

    def broken(source, target):
        raise OSError("the disk is full")

    monkeypatch.setattr(mat.os, "replace", broken)
    with pytest.raises(OSError, match="full"):
        mat.write_mat(path, "letter")
    assert path.read_bytes() == mat.mat_page("A4")
    assert [p.name for p in tmp_path.iterdir()] == ["mat.pdf"]


@pytest.mark.parametrize(
    ("name", "paper", "said"),
    [("mat.png", "A4", "must end in .pdf"), ("mat.pdf", "A5", "A4 or letter"), ("mat.pdf", ["A4"], "A4 or letter")],
)
def test_bad_wishes_are_told(tmp_path, name, paper, said):
    with pytest.raises(ValueError, match=said):
        mat.write_mat(tmp_path / name, paper)
    assert not list(tmp_path.iterdir())


def test_no_folder_is_told(tmp_path):
    with pytest.raises(FileNotFoundError, match="no folder"):
        mat.write_mat(tmp_path / "missing" / "mat.pdf")
    (tmp_path / "folder.pdf").mkdir()
    with pytest.raises(IsADirectoryError):
        mat.write_mat(tmp_path / "folder.pdf")
