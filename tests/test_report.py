import csv
import ctypes
import io
import itertools
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.basics.answer import Doubt, Refusal
from counter.basics.photo import Photo, read_photo
from counter.basics.table import csv_table
from counter.comparing.check import Check, check
from counter.comparing.slips import Slip, Slips
from counter.plan import read_plan
from counter.showing.report import NEEDS, Row, class_sheet, report_page, sheet_csv, sheet_data

SAMPLE = Path(__file__).parents[1] / "sample_images" / "blue-disc.jpg"
PLAN = read_plan("R3: (sc 1, inc) x 6 (18)\nR4: (sc 2, inc) x 6 (24)\nR5: (sc 3, inc) x 6 (30)")
#: Width and height, mm: A4 by ISO 216, letter by ANSI/ASME Y14.1 (8.5 x 11 in).
SIZES = {"A4": (210, 297), "letter": (215.9, 279.4)}
DOUBT = "Here the round starts and ends: is this a stitch, or the loop and the yarn end?"


def plain(grey=230, size=(640, 640)):
    return Photo(np.full((size[1], size[0], 3), grey, np.uint8))


def opened(data):
    document = pypdfium2.PdfDocument(data)
    assert len(document) == 1
    return document[0]


def words_of(data):
    return opened(data).get_textpage().get_text_bounded()


def drawn(data, scale=2.0):
    """The page as a grey picture, `scale` pixels to the point."""
    return np.asarray(opened(data).render(scale=scale, grayscale=True).to_pil().convert("L"))


def boxes(data):
    """Left, bottom, right and top of every run of text, points."""
    text = opened(data).get_textpage()
    return [text.get_rect(k) for k in range(text.count_rects())]


# --- One page ---


@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("marks", [3, 24, 60, 130, 131, 400])
@pytest.mark.parametrize("long", [False, True])
def test_it_is_one_page_and_all_of_it_lies_on_the_paper(make_count, paper, marks, long):
    doubts = [(1 + k, (320.0 + 60 * k, 120.0), DOUBT) for k in range(4 if long else 0)]
    count = make_count({marks: 0.9, marks + 1: 0.1}, sure=not long, doubts=doubts)
    data = report_page(
        plain(), count, check(count, expected=24), paper=paper, title="Left ear " * (20 if long else 1),
        note="soft wool " * (400 if long else 1), date="4 May 2031",
    )  # fmt: skip
    page = opened(data)
    assert np.allclose(np.array(page.get_size()) * 25.4 / 72, SIZES[paper], atol=0.05)
    width, height = page.get_size()
    # Printers leave a margin of 1/4 in (6.4 mm) and less (from memory).
    for left, bottom, right, top in boxes(data):
        assert left > 18 and right < width - 18 and bottom > 18 and top < height - 18
    pixels = drawn(data)
    for edge in (pixels[:36], pixels[-36:], pixels[:, :36], pixels[:, -36:]):
        assert edge.min() == 255


def test_nothing_is_written_over_anything_else(make_count):
    # Places on the rim, the first two side by side.
    turns = 2 * np.pi * np.array([0.0, 0.004, 0.2, 0.6])
    doubts = [(1, (320 + 200 * np.sin(turn), 320 - 200 * np.cos(turn)), DOUBT) for turn in turns]
    for marks, long, radius in itertools.product((3, 24, 70, 130, 400), (False, True), (200, 300)):
        count = make_count({marks: 0.9, marks + 1: 0.1}, sure=not long, doubts=doubts if long else (), radius=radius)
        data = report_page(
            plain(), count, check(count, expected=25), note="soft wool " * 400 * long, title="Ear " * 60 * long,
            date="4 May 2031",
        )  # fmt: skip
        found = np.array(boxes(data))
        found[:, :2] += 0.4
        found[:, 2:] -= 0.4
        for k, one in enumerate(found):
            rest = found[k + 1 :]
            over = (rest[:, 0] < one[2]) & (one[0] < rest[:, 2]) & (rest[:, 1] < one[3]) & (one[1] < rest[:, 3])
            assert not over.any(), (marks, long, radius, one, rest[over])


def test_numbers_keep_clear_of_the_boxes_of_places_in_doubt(make_count):
    count = make_count({24: 0.6, 23: 0.4}, sure=False)
    # Just where the numbers of marks 1 and 6 would stand.
    doubts = tuple(Doubt(n, tuple(320 + 1.17 * (count.marks[n - 1] - 320)), DOUBT) for n in (1, 6))
    count = replace(count, doubts=doubts)
    data = report_page(plain(), count)
    pointed = []
    page = opened(data)
    for part in page.get_objects([pypdfium2.raw.FPDF_PAGEOBJ_PATH]):
        bounds = [ctypes.c_float() for _ in range(4)]
        assert pypdfium2.raw.FPDFPageObj_GetBounds(part.raw, *bounds)
        left, bottom, right, top = (bound.value for bound in bounds)
        if abs((right - left) - (top - bottom)) < 1 and 25 < right - left < 60:
            pointed.append((left, bottom, right, top))
    assert len(pointed) == 4  # a light and a dark line each
    for left, bottom, right, top in pointed:
        assert not any(a < right and left < c and b < top and bottom < d for a, b, c, d in boxes(data))


@pytest.mark.parametrize("off", [-1, 0, 2])
def test_it_says_how_many_how_sure_and_what_that_means(make_count, off):
    count = make_count({24: 0.97, 23: 0.03})
    said = words_of(report_page(plain(), count, check(count, expected=24 - off), title="Bär", date="4 May 2031"))
    assert "Bär" in said and "4 May 2031" in said and "24\r\nstitches" in said.replace(" stitches", "\r\nstitches")
    assert (
        "Sure: nothing on the edge is in doubt." in " ".join(said.split())
        and "97%" not in said
        and "4 complete rounds" in said
        and f"{24 - off} stitches expected" in said
    )
    assert {-1: "Short by 1", 0: "Agrees", 2: "Over by 2"}[off] in said
    assert {-1: "\u20131", 0: "=", 2: "+2"}[off] in said
    assert ("ake up for it in the next round" in said) == bool(off)
    assert "Check by eye and finger before you rip anything back." in said


def test_without_anything_to_compare_with_it_says_no_verdict(make_count):
    said = words_of(report_page(plain(), make_count({24: 1.0})))
    assert "expected" not in said and "A counted round" in said
    unsure = words_of(report_page(plain(), make_count({24: 0.6, 23: 0.4}, sure=False)))
    assert "23 or 24" in unsure and "60%" not in unsure
    assert "Not sure: the stitches don't show clearly in this photo." in " ".join(unsure.split())


def test_a_person_s_count_has_no_probability_and_no_doubts(make_count):
    count = make_count({24: 1.0}, doubts=[(3, (300.0, 120.0), DOUBT)])
    said = words_of(report_page(plain(), count, by_person=True, added=(7,)))
    assert "Counted by a person" in said and "%" not in said and DOUBT not in said and said.count("added") == 1


def test_places_to_look_at_are_told_with_the_sign_that_they_have_in_the_picture(make_count):
    doubts = [(1, (320.0, 120.0), DOUBT), (7, (120.0, 320.0), "One or two?")]
    count = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=doubts)
    said = words_of(report_page(plain(), count, check(count, expected=24)))
    assert f"Look near 12 o'clock, at mark 1: {DOUBT}" in said and "Look near 9 o'clock, at mark 7: One or two?" in said
    assert said.count("\nA") >= 1 and said.count("\nB") >= 1
    sure = make_count({29: 0.99, 30: 0.01}, rounds=5)
    found = check(sure, plan=PLAN, round_number=5)
    slips = Slips(0.1, 29, (Slip("increase left out", (14, 14), tuple(sure.marks[13]), 6, 0.8),))
    found = replace(found, verdict=replace(found.verdict, slips=slips))
    said = words_of(report_page(plain(), sure, found))
    assert "Most likely an increase was made as one plain stitch near 6 o'clock, at mark 14." in said
    assert said.count("-1") >= 3  # in the list, in the picture, in the table


def test_the_table_holds_every_mark_and_says_where_it_stops(make_count):
    for total in (24, 130, 131):
        count = make_count({total: 1.0})
        said = words_of(report_page(plain(), count))
        # What is left when the first ones, of the picture, are passed over.
        table = said[said.index("The marks, and near") :]
        assert table.count("o'clock") == min(total, 130)
        assert ("1 to 130 of 131; the others are in the picture only" in table) == (total == 131)
        assert f"{min(total, 130)} " in table


def test_the_marks_lie_on_their_stitches(make_count):
    count = make_count({12: 1.0}, radius=200)
    pixels = np.full((640, 640, 3), 200, np.uint8)
    for line in (150, 490):  # two lines across and two down tell where the photo lies on the page
        pixels[line - 1 : line + 2] = pixels[:, line - 1 : line + 2] = 90
    empty = drawn(report_page(plain(200), count), 3.0)
    other = np.abs(drawn(report_page(Photo(pixels), count), 3.0).astype(float) - empty)

    def lines(profile):
        first, second = (slice(0, len(profile) // 2), slice(len(profile) // 2, None))
        where = np.arange(len(profile)) * (profile > 0.5 * profile.max())
        return [np.average(where[part], weights=profile[part] * (where[part] > 0)) for part in (first, second)]

    photo = np.nonzero((empty == 200).sum(axis=1) > 300)[0]
    across = lines(other.sum(axis=0))
    down = np.array(lines(other[photo[0] : photo[-1]].sum(axis=1))) + photo[0]
    scale, origin = (across[1] - across[0]) / 340, np.array([across[0], down[0]])
    assert (down[1] - down[0]) / 340 == pytest.approx(scale, rel=2e-3)
    for at in count.marks:
        place = origin + (at - 150) * scale
        left, top = (round(v) - 13 for v in place)
        near = empty[top : top + 27, left : left + 27]
        assert near.min() < 40 and near.max() == 255  # the sign, dark and light
        rows, columns = np.nonzero(near < 120)
        # 1.5 pixels are 0.18 mm, or the width of a strand of thread.
        assert abs(left + columns.mean() - place[0]) < 1.5 and abs(top + rows.mean() - place[1]) < 1.5


def test_numbers_stand_beside_the_photo_where_the_rim_fills_it(make_count):
    count = make_count({24: 1.0}, radius=300)  # the rim reaches to within 2 of 640 pixels
    data = report_page(plain(20), count)
    page = opened(data)
    pixels = drawn(data)
    rows, columns = (np.nonzero((pixels == 20).sum(axis=axis) > 300)[0] / 2 for axis in (1, 0))
    left, right, top, bottom = columns[0], columns[-1], page.get_height() - rows[0], page.get_height() - rows[-1]
    words = page.get_textpage()
    picture = words.get_text_bounded().index("first stitch")
    beside = set()
    for number in range(1, 25):
        found = words.search(str(number), match_whole_word=True)
        while (at := found.get_next()) and at[0] < picture:
            box = np.array([words.get_charbox(k) for k in range(at[0], at[0] + at[1])])
            x, y = (box[:, 0].min() + box[:, 2].max()) / 2, (box[:, 1].min() + box[:, 3].max()) / 2
            if not (left < x < right and bottom < y < top) and y < top + 30:
                beside.add(number)
    # At twelve, nine, six and three o'clock, where the rim comes close to the frame.
    assert {1, 6, 7, 12, 13, 18, 19, 24} <= beside


def test_it_reads_the_same_without_colour(make_count):
    count = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=[(1, (320.0, 120.0), DOUBT)])
    page = opened(report_page(plain(), count, check(count, expected=24)))
    colours = np.asarray(page.render(scale=1.5).to_pil().convert("RGB")).astype(int)
    assert np.ptp(colours, axis=2).max() <= 3  # the photo is grey, and so is everything else


def test_the_same_count_gives_the_same_bytes_and_nothing_of_the_camera(make_count):
    photo = read_photo(SAMPLE)
    count = make_count({24: 1.0}, size=(photo.width, photo.height))
    first, second = report_page(photo, count), report_page(photo, count)
    assert first == second and first.startswith(b"%PDF-") and len(first) < 1_500_000
    for word in (b"Exif", b"GPS", b"CreationDate (D:202"):
        assert word not in first


def test_a_photo_that_was_counted_comes_out_whole(counts_of_samples):
    photo = read_photo(SAMPLE)
    count = counts_of_samples[SAMPLE.stem]
    said = words_of(report_page(photo, count, check(count, expected=24)))
    assert "24 stitches expected" in said and said.count("o'clock") >= 24


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("Łódź", "Lódz"),  # without a stroke or an accent that the fonts don't have
        ("Straße Ñandú €5", "Straße Ñandú €5"),
        ("пряжа", "?????"),
        ("one\ntwo\tthree\0", "one two three"),
        ("ear 🧶", "ear ?"),
        ("ﬁne", "fine"),
        ("\u0384", "A counted round"),  # an accent on a blank: there is no title
    ],
)
def test_letters_that_the_fonts_do_not_have(make_count, typed, printed):
    assert words_of(report_page(plain(), make_count({24: 1.0}), title=typed)).startswith(printed)


@given(st.text(max_size=60), st.text(max_size=200))
def test_any_words_can_be_printed(make_count, title, note):
    count = make_count({6: 1.0}, size=(200, 200))
    opened(report_page(plain(size=(200, 200)), count, title=title, note=note, date=title))


def test_a_word_that_no_line_holds_is_broken(make_count):
    data = report_page(plain(), make_count({24: 1.0}), note="w" * 300, title="W" * 300)
    assert words_of(data).count("w") > 100 and max(box[2] for box in boxes(data)) < 595 - 40


def test_papers(make_count):
    with pytest.raises(ValueError, match="A4 or letter"):
        report_page(plain(), make_count({24: 1.0}), paper="A3")


# --- The sheet of a class ---


@pytest.fixture
def rows(make_count):
    def against(count, expected):
        return check(count, expected=expected)

    sure, other = make_count({24: 0.98, 23: 0.02}), make_count({22: 0.97, 24: 0.03})
    unsure = make_count({24: 0.55, 23: 0.45}, sure=False, doubts=[(1, (320.0, 120.0), DOUBT)])
    surer = make_count({24: 0.8, 25: 0.2}, sure=False)
    return [
        Row("agrees", sure, against(sure, 24)),
        Row("alone", sure),
        Row("short by two", other, against(other, 24)),
        Row("over by one", sure, against(sure, 23)),
        Row("surer", surer, against(surer, 24)),
        Row("cut off", Refusal("cut off")),
        Row("unsure", unsure, against(unsure, 24)),
        Row("by hand", make_count({24: 1.0}), against(make_count({24: 1.0}), 24), by_person=True),
        Row("Also refused", Refusal("no piece")),
    ]


def test_it_is_sorted_by_how_much_a_person_is_needed(rows):
    lines = class_sheet(rows)
    assert [line.name for line in lines] == [
        "Also refused", "cut off", "unsure", "surer", "short by two", "over by one", "alone", "agrees", "by hand",
    ]  # fmt: skip
    assert [line.need for line in lines] == [
        "refused", "refused", "not sure", "not sure", "off", "off", "counted", "agrees", "agrees",
    ]  # fmt: skip
    assert sorted({line.need for line in lines}, key=NEEDS.index) == list(NEEDS)
    for line in lines:
        assert rows[line.index].name == line.name
    assert class_sheet(rows[::-1])[0].name == "Also refused" and class_sheet([]) == ()


def test_each_line_says_what_there_is_to_know(rows, make_count):
    by_name = {line.name: line for line in class_sheet(rows)}
    cut, off, unsure, hand = (by_name[name] for name in ("cut off", "short by two", "unsure", "by hand"))
    assert cut.state == "refused" and cut.stitches is None and "Step back" in cut.words
    assert (off.verdict, off.off_by, off.stitches, off.expected) == ("short by 2", -2, 22, 24)
    assert (unsure.likely, unsure.verdict, unsure.off_by) == ("23 or 24", "can't say", None)
    assert "12 o'clock" in unsure.words
    assert (hand.state, hand.probability) == ("counted by a person", None)
    count = make_count({24: 0.98, 23: 0.02})
    line = class_sheet([Row("planned", count, check(count, plan=PLAN, round_number=4))])[0]
    assert (line.round, line.expected, line.need) == (4, 24, "agrees")
    # A sure count of a plan's piece that fits no round can't be judged without a person.
    strange = make_count({41: 0.99, 40: 0.01}, rounds=2)
    assert class_sheet([Row("strange", strange, check(strange, plan=PLAN))])[0].need == "not sure"
    assert class_sheet([Row("open", count, Check(None))])[0].need == "counted"


def test_the_sheet_is_plain_data(rows):
    data = json.loads(json.dumps(sheet_data(class_sheet(rows))))
    assert len(data) == len(rows) and data[0]["name"] == "Also refused" and data[4]["off_by"] == -2


def test_the_sheet_opens_in_a_spreadsheet(rows):
    text = sheet_csv(class_sheet(rows))
    read = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [row["name"] for row in read][:3] == ["Also refused", "cut off", "unsure"]
    assert {row["a person is needed"] for row in read[:4]} == {"yes"}
    assert read[4]["off by"] == "-2" and read[4]["stitches"] == "22" and read[0]["stitches"] == ""
    assert read[4]["probability"] == "0.97"


def test_names_cannot_become_formulas(make_count):
    # The signs named by OWASP, "CSV Injection": = + - @, tab and carriage return, also as wide forms.
    bad = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\uff1d1", "\uff0b1", "\uff0d1", "\uff201"]
    rows = [Row(name, make_count({24: 1.0})) for name in bad]
    for row in csv.reader(io.StringIO(sheet_csv(class_sheet(rows)), newline="")):
        assert row[0] == "name" or row[0].startswith(("'", "?"))
    for name in bad:
        table = list(csv.reader(io.StringIO(csv_table(["a"], [[name]]), newline="")))
        assert table == [["a"], [f"'{name}"]]
    assert csv_table(["a"], [[-1], ["a-1"], [None], [0.5]]) == 'a\r\n-1\r\na-1\r\n""\r\n0.5\r\n'


def test_the_table_is_written_by_rfc_4180():
    # Section 2: 1 lines end in CR LF; 5 and 6 quotes round commas, quotes and line ends; 7 quotes are doubled.
    text = csv_table(["a", "b"], [["x,y", 'say "hi"'], ["one\r\ntwo", "plain"]])
    assert text == 'a,b\r\n"x,y","say ""hi"""\r\n"one\r\ntwo",plain\r\n'


@given(st.lists(st.lists(st.text(st.characters(exclude_categories=["Cs"])), min_size=2, max_size=2), max_size=5))
def test_every_text_comes_back(rows_of_text):
    read = list(csv.reader(io.StringIO(csv_table(["a", "b"], rows_of_text), newline="")))[1:]
    assert len(read) == len(rows_of_text)
    for row, own in zip(read, rows_of_text, strict=True):
        for value, text in zip(row, own, strict=True):
            assert value in (text, f"'{text}")
            assert value[:1] not in ("=", "+", "-", "@", "\t", "\r")
