"""All that reaches a person with the words of counter/basics/words.py between signs: nothing stands outside of them.

Run by test_words.py in a Python of its own, as ``pytest -p signed_words signed_page.py``.
"""

import csv
import io
import re
import zipfile

import numpy as np
import pypdfium2
import pytest
from paging import counted, edited, fresh, handed_back, listed, opened, pressed, shown, with_plan
from PIL import ImageDraw
from signed_words import OPEN, outside, read_in_data, read_on

from counter.basics import answer, words
from counter.basics.language import known
from counter.basics.photo import Photo, read_photo
from counter.comparing.check import check
from counter.lengths import flatness, gauge, pair, scale
from counter.lengths.mat import mat_page
from counter.lengths.measure import Measured
from counter.notebook import archive, trouble
from counter.notebook.store import open_own
from counter.notebook.trouble import NotebookError
from counter.plan import read_plan
from counter.showing import summary
from counter.showing.overlay import draw_marks
from counter.showing.report import Row, class_sheet, report_page, sheet_csv
from counter.showing.sentences import round_words

#: No test touches the notebook of whoever runs it.
pytestmark = pytest.mark.usefixtures("data_folder")
PLAN = """R1: 6 sc in ring [6]
R2: inc x 6 [12]
R3: (sc 1, inc) x 6 [18]
R4: (sc 2, inc) x 6 [24]
R5: (sc 3, inc) x 6 [31]
R6-7: sc around [30]
R8: (sc 3, dec) x 6"""
#: What may stand outside of the signs:
#: the pattern's own text,
WRITTEN = {own.text for own in read_plan(PLAN).rounds}
#: names of files, here those of the samples, and of photos that a test drops,
NAMES = {
    *("Black under a lamp", "Blue disc", "Finger on the rim", "Green disc on wood", "Large hexagon"),
    *("Many colours on gingham", "ada", "<b>", "cy", "letter"),
    # and other languages by their own names,
    *(said.LANGUAGE_NAME for said in known().values() if said),
}
#: what a person typed,
TYPED = {"Left ear", "soft wool"}
#: names of coins and the signs of currencies,
COINS = set(scale.COINS)
#: letters by which places in doubt are called,
LETTERS = set("ABCD")
#: and what stands in a table's cells for programs to read.
DATA = {"sure", "not sure", "refused", "counted by a person", "agrees", "can't say", "short by 1", "over by 1"}
EXCEPT = WRITTEN | NAMES | TYPED | COINS | LETTERS

#: Every kind of doubt at a place of its own.
DOUBTS = [(1 + k, (320.0 + 20 * k, 60.0 + 30 * k), *why[::-1]) for k, why in enumerate(words.IN_DOUBT.items())]
#: The pairs of (sc 2, inc) x 6 with the third one missing.
PAIRS = [3, 4, 7, 8, 14, 15, 18, 19, 22, 23]


def all_signed(texts, beside=EXCEPT):
    """Nothing of the texts stands outside of the signs but what may; and signs there are."""
    texts = list(texts)
    assert any(OPEN in text for text in texts)
    # Labels have backslashes before what Streamlit would take for a mark-up.
    texts = [re.sub(r"\\(.)", r"\1", text).strip() for text in texts]
    left = [outside(text).strip() for text in texts if text not in beside]
    strange = [said for said in left if re.search(r"[^\W\d_]", said) and said not in beside]
    assert not strange


def signed_page(page, mounted=None):
    """All that the page says, and the rim picture on it."""
    assert not page.exception
    all_signed(read_on(page._tree))
    if mounted:
        all_signed(read_in_data({key: value for key, value in mounted["data"].items() if key not in ("photo", "id")}))
    return page


# The page -------------------------------------------------------------------


def test_start(page, here):
    signed_page(page)
    signed_page(fresh())


def test_sure_count(page, mounted, make_count, monkeypatch):
    page = signed_page(counted(page, make_count({24: 0.99, 23: 0.01}), monkeypatch), mounted)
    for expected in (24, 25, 22, 40):
        signed_page(page.number_input("expected-shown").set_value(expected).run(), mounted)


def test_count_that_is_not_sure(page, mounted, make_count, monkeypatch):
    for part in (DOUBTS[:4], DOUBTS[3:]):
        count = make_count({24: 0.6, 23: 0.2, 25: 0.2}, sure=False, doubts=part)
        page = signed_page(counted(fresh(), count, monkeypatch), mounted)
        assert mounted["data"]["asks"]
        signed_page(page.number_input("expected-shown").set_value(24).run(), mounted)
        signed_page(opened(page, "marks"), mounted)
        signed_page(edited(page, lambda edits: edits.answer(0, 0)), mounted)
        signed_page(pressed(page, words.CONFIRM.format(n=24)), mounted)


def test_round_that_is_not_finished(page, mounted, make_count, monkeypatch):
    working = answer.InProgress(7, 12, (300.0, 300.0))
    page = counted(page, make_count({19: 1.0}, in_progress=working), monkeypatch)
    signed_page(page.number_input("expected-shown").set_value(24).run(), mounted)


@pytest.mark.parametrize("pairs", [PAIRS, [], range(1, 24)])
def test_place_of_a_slip_and_advice(page, mounted, make_count, monkeypatch, pairs):
    page = with_plan(page, PLAN, hook=4)
    page = signed_page(counted(page, make_count({23: 0.99, 24: 0.01}, rounds=4, paired=pairs), monkeypatch), mounted)
    assert bool(mounted["data"]["slips"]) == (pairs is PAIRS)
    signed_page(opened(page, "marks"), mounted)
    for twin, since in ((True, 0), (True, 2), (False, 2)):
        page.toggle(key="twin-shown").set_value(twin).run()
        signed_page(page.number_input(key="since-shown").set_value(since).run(), mounted)


@pytest.mark.parametrize(("total", "rounds"), [(24, 4), (30, None), (77, 9)])
def test_which_round_it_is(page, mounted, make_count, monkeypatch, total, rounds):
    page = with_plan(page, PLAN)
    signed_page(counted(page, make_count({total: 0.97, total + 1: 0.03}, rounds=rounds), monkeypatch), mounted)


def test_plan_that_can_not_be_compared(page, mounted, make_count, monkeypatch):
    page = with_plan(page, "R1: 6 sc in ring [6]\nR2: shells around", hook=2)
    page = counted(page, make_count({24: 1.0}), monkeypatch)
    all_signed(read_on(page._tree), EXCEPT | {"shells around"})


@pytest.mark.parametrize("code", [*answer.REFUSALS, None])
def test_refused_photo(page, monkeypatch, code):
    refusal = answer.Refusal(code, words.PIXELS.format(width=3, height=3)) if code else read_photo(b"dear maker")
    signed_page(counted(page, refusal, monkeypatch))


def test_photo_with_which_something_goes_wrong(page, monkeypatch):
    def fail(photo):
        raise RuntimeError("entrails")

    signed_page(counted(page, fail, monkeypatch))


def test_pattern_with_findings(page):
    text = PLAN + "\nR9: (sc 3, inc\nR9: wurble\nR12: sc 4 [9]\nR12: htr around\nR13: sc 99999"
    page = opened(with_plan(page, text))
    written = set(text.splitlines())
    all_signed(read_on(page._tree), EXCEPT | written | {own.text for own in read_plan(text).rounds})


@pytest.mark.parametrize("typed", ["4 in", "wide", "9 km", ""])
def test_size_and_gauge(with_photo, mounted, typed):
    page, _ = with_photo()
    page = opened(page, "size")
    page.text_input(key="wide-shown").set_value(typed)
    signed_page(opened(page, "size"))


@pytest.mark.parametrize(("posterior", "sure"), [({25: 0.99, 24: 0.01}, True), ({25: 0.6, 24: 0.4}, False)])
def test_two_alike(with_photo, make_count, monkeypatch, posterior, sure):
    page, _ = with_photo({24: 0.99, 23: 0.01}, rounds=4)
    pressed(opened(page, "alike"), words.KEEP_FIRST)
    signed_page(opened(page, "alike"))
    signed_page(pressed(page, words.SECOND))
    twin = make_count(posterior, sure=sure, size=(1000, 750), rounds=4)
    signed_page(counted(page, twin, monkeypatch))


def test_sheet_of_several_photos(with_several, mounted):
    signed_page(with_several)
    signed_page(with_several.number_input(key="all_total-shown").set_value(24).run())
    signed_page(with_several.button(key="open-1").click().run(), mounted)


def test_notebook(here, page, count_of_sample, monkeypatch):
    signed_page(listed(page))
    pressed(page, words.BACK_TO_PHOTOS)
    unsure = count_of_sample({24: 0.6, 25: 0.4}, sure=False, doubts=DOUBTS[:2])
    page = signed_page(pressed(counted(page, unsure, monkeypatch), words.KEEP))
    signed_page(pressed(page, words.DELETE))
    page = pressed(fresh(), words.NOTEBOOK)
    page.session_state["move-open"] = True
    signed_page(page.run())
    page.session_state["move-open"] = True
    signed_page(page.text_input(key="sought-shown").set_value("zzz").run())


def test_notebook_of_a_server(elsewhere, page):
    signed_page(listed(page))
    signed_page(pressed(page, words.BEGIN_BOOK))


def test_count_of_an_earlier_tab(left_behind):
    _, message = left_behind
    page = signed_page(handed_back(fresh(), message, own=False))
    assert words.LEFT_HERE in shown(page)


# Files and answers ----------------------------------------------------------


def checked(make_count):
    """A count of every kind, and what it is held against."""
    plan = read_plan(PLAN)
    off = make_count({23: 0.99, 24: 0.01}, rounds=4, paired=PAIRS)
    unsure = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=DOUBTS[:4])
    working = make_count({19: 1.0}, rounds=1, in_progress=answer.InProgress(7, 12, (300.0, 300.0)))
    yield off, check(off, plan=plan, round_number=4)
    yield off, check(off, plan=plan, round_number=4, twin=True)
    yield unsure, check(unsure, expected=24)
    yield unsure, check(unsure)
    yield unsure, check(unsure, expected=50)
    yield working, check(working, expected=24)
    for total in (24, 23, 25, 20, 28):
        yield (count := make_count({total: 0.97, total - 1: 0.03})), check(count, expected=24)


def white():
    return Photo(np.full((640, 640, 3), 230, np.uint8))


def test_page_to_print(make_count):
    for count, held in checked(make_count):
        for by_person in (False, True):
            told = {"title": "Left ear", "note": "soft wool", "by_person": by_person}
            data = report_page(white(), count, held, **told)
            page = pypdfium2.PdfDocument(data)[0].get_textpage().get_text_bounded()
            left = [said for said in re.split(r"\s+", outside(page)) if said not in LETTERS]
            # Signs must stand round all but what the person typed.
            assert OPEN in page and re.findall(r"[^\W\d_]+", " ".join(left)) == ["Left", "ear", "soft", "wool"]


def test_marked_picture(make_count, monkeypatch):
    drawn = []
    monkeypatch.setattr(ImageDraw.ImageDraw, "text", lambda pen, at, text, *_, **__: drawn.append(text))
    for count, held in checked(make_count):
        for by_person in (False, True):
            draw_marks(white(), count, held.verdict, by_person=by_person)
    # A sentence takes several lines.
    all_signed([" ".join(text for text in drawn if text not in LETTERS)])


def test_mat():
    page = pypdfium2.PdfDocument(mat_page("A4"))[0].get_textpage().get_text_bounded()
    assert OPEN in page and not re.search(r"[^\W\d_]", outside(page))


def test_sheet_for_spreadsheets(make_count):
    rows = [Row("ada", count, held) for count, held in checked(make_count)]
    rows += [Row("cy", answer.Refusal("no piece")), Row("cy", rows[0].answer, rows[0].check, by_person=True)]
    cells = [cell for line in csv.reader(io.StringIO(sheet_csv(class_sheet(rows)))) for cell in line]
    all_signed(cells, EXCEPT | DATA | {f"{way} by {n}" for way in ("short", "over") for n in range(9)})


def test_notebook_for_spreadsheets(here, page, count_of_sample, monkeypatch):
    pressed(counted(page, count_of_sample(), monkeypatch), words.KEEP)
    pack = io.BytesIO()
    open_own().export(pack)
    table = zipfile.ZipFile(pack).read(archive.SHEET).decode("utf-8-sig")
    head = next(csv.reader(io.StringIO(table)))
    all_signed(head)


def test_sentences_of_the_command_line(make_count):
    for count, held in checked(make_count):
        said = [summary.answer_words("ada", count).removeprefix("ada"), summary.check_words(count, held)]
        lines = [re.sub("^  [A-D]  ", "", line) for text in said for line in text.split("\n")]
        all_signed(lines)
    all_signed(summary.plan_words(read_plan("R1: wurble\n" + PLAN)).split("\n"))


def test_which_round_of_a_plan(make_count):
    told, plan = [], read_plan(PLAN)
    for total in (6, 12, 18, 19, 24, 30, 31, 77):
        for rounds in (3, 4, 6, 9, None):
            count = make_count({total: 0.97, total + 1: 0.03}, rounds=rounds)
            told += round_words(check(count, plan=plan)) + round_words(check(count, plan=plan, round_number=4))
    assert len(set(told)) > 10
    all_signed(told)


def test_what_is_found_in_written_rounds():
    told = []
    for text in (
        *("", "\0", "(" * 99, "x" * 40_001, "Row 1: sc 6", "6, 12\nR1: 6\nR2: 9\nR1: 6", "R1: 6\nR5: 9\nR3: 2"),
        *("R1: 6\nR3: 9", "R1: 6\nR2: repeat round 7", "R1: sc 99999999", "R9999: sc 4", "R5-2: sc 6", "R1: sc 6)"),
        *("R1: (sc 6", "R1: wurble", "R1: 6\nR2: (sc 4, inc) x 6", "R1: 6\nR2: sc 3", "R1: 7\nR2: (sc 1, inc) around"),
        *("R1: 6\nR2: inc x 6 [13]", "R1: 6\nR2: inc x 6 [11]", "R1: 6\nR2: inc x 6 [2]", "start 6, add 6 to 20"),
        *("R1: htr 6 in ring", "R1: 0", "R1: 6\nR2: sc x 5000", "R1: 12\nR2: ((sc 1, inc) around) x 3", "R1:\nR2:"),
        *("R1-2: 6, 12, 18", "R1: [6]\nR2: in pink"),
    ):
        told += [said for found in read_plan(text).findings for said in (found.what, found.fix)]
    told += [said for found in read_plan("R1: sc 6 in ring", uk=True).findings for said in (found.what, found.fix)]
    assert len(set(told)) > 40
    all_signed(told)


def test_every_trouble_and_reason():
    all_signed(str(NotebookError(code)) for code in trouble.TROUBLES)
    for cause in (b"", b"PK", b"x" * 99):
        with pytest.raises(NotebookError) as caught:
            open_own().import_zip(io.BytesIO(cause))
        all_signed([str(caught.value)])
    for code in scale.NO_SCALES:
        missing = scale.NoScale(code, words.CARDS.format(n=2))
        all_signed([missing.reason, missing.hint])


def test_lengths_and_tension():
    told = []
    for mm in (0.9, 2.0, 4.0, 6.5, 12.0, 60.0):
        for error in (0.0, 0.5):
            made = gauge.gauge(gauge.Length(mm, error), gauge.Length(mm, error))
            told += [made.words, made.category_words]
        told.append(gauge.PieceSize(gauge.Length(mm, 0.1), 2 * mm, mm).words)
    for kind in ("diameter", "mat", "card", *scale.COINS):
        told.append(scale.Scale(kind, 1.0, 0.01, np.eye(3), np.zeros((4, 2)), 0.0, 200.0).words)
    for what in ("stitches", "rounds"):
        for sizes in ([5.0], [5.0] * 6, [5, 5.5, 6, 6.6, 7.3], [7, 6.4, 5.8, 5.3, 4.8], [5, 7, 4, 8, 5, 9]):
            told.append(gauge.drift(sizes, what=what).words)
    all_signed(told)


def test_how_pieces_lie(make_count):
    told = []
    for totals in ([6, 12, 18, 24], [6, 9, 12, 15, 18], [6] * 6, [6, 16, 26, 36, 46], [6, 12, 24, 48, 96]):
        for ratio in (None, Measured(0.95, 0.3)):
            told += flatness.flatness(totals, ratio).words
        told += flatness.flatness_of_plan(read_plan(", ".join(map(str, totals)))).words
    for rounds in (None, 1, 4, 9):
        told += flatness.flatness_of_piece(make_count({24: 1.0}, rounds=rounds), rounds=rounds).words
    all_signed(told)


def test_pairs(make_count):
    told = []
    for total in (21, 23, 24, 25):
        for rounds in (4, 9, None):
            for sure in (True, False):
                one, other = make_count({24: 1.0}), make_count({total: 0.7, total + 1: 0.3}, sure=sure, rounds=rounds)
                for goal in (None, 24, 30):
                    told += pair.compare_pieces(one, other, expected=goal).words
    all_signed(told)
