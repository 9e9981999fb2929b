"""What a group's table says, and the files that are given away: CSV, page, PDF."""

import base64
import csv
import io
import re
from dataclasses import replace

import pypdfium2
import pytest
from group_sets import written_group
from PIL import Image

from counter.basics import words
from counter.group.advise import told_to
from counter.group.attribution import Verdicts
from counter.group.console import sign_of, table_words
from counter.group.labels import called_by
from counter.group.pages import group_pdf
from counter.group.sheets import group_csv, group_page
from counter.group.table import Table, lay_out, whose_words
from counter.plan import read_plan

NAMES = ("=2+5 Ada", "Bo <b>", "Cy Dee", "C. D.")


@pytest.fixture(scope="module")
def group(make_count):
    file = io.BytesIO()
    Image.new("RGB", (320, 320), (90, 120, 130)).save(file, "JPEG")
    return written_group(make_count, file.getvalue())


@pytest.fixture(scope="module")
def laid(group):
    """The table of the group, its makers called in some way."""

    def lay(called="names"):
        places, contents, answers, plan = group
        named = called_by(places, called)
        now = {label.photo: contents[place.photo] for place, label in zip(places, named, strict=True)}
        return lay_out(named, now, {}, answers, plan)

    return lay


def text_of(data):
    document = pypdfium2.PdfDocument(data)
    return [page.get_textpage().get_text_bounded() for page in document]


def test_table_sorts_by_need_and_sums_up(laid):
    table = laid()
    assert [line.need for line in table.lines] == [*["again"], "look", *["off"] * 4, "counted", *["agrees"] * 6]
    assert table.summary == "6 of 13 agree, 4 off, 1 to look at, 1 to take again, 1 counted, held against nothing"
    signs = {maker: [sign_of(table.cell(maker, n)) for n in table.rounds] for maker in table.makers}
    assert signs == {
        "=2+5 Ada": ["=", "=", "-1"], "Bo <b>": ["=", "+1", "-1"], "C. D.": ["=", "?", "x"], "Cy Dee": ["=", "=", "-1"],
    }  # fmt: skip
    assert "1 photo without a maker and round" in table.notices[0]


def test_pattern_and_makers_are_told_apart(laid):
    told = whose_words(laid())
    assert told[0] == "Look at the pattern's round 3: 3 of 3 makers came out one short."
    assert words.CAUTION in told and "Bo <b> was off at round 2." in told
    assert not any("Ada" in text for text in told)
    assert "Look at the pattern's round 3" in table_words(laid())


def test_what_is_held_against_the_pattern_says_how_much_of_it_is_not_settled(laid):
    table = laid()
    for unsure, said in ((1, words.GROUP_UNSETTLED_ONE), (2, words.GROUP_UNSETTLED.format(n=2))):
        doubtful = [line for line in table.lines if line.place.round == 3 and line.need == "off"][:unsure]
        lines = tuple(replace(line, need="look") if line in doubtful else line for line in table.lines)
        assert whose_words(replace(table, lines=lines))[0].endswith(f"came out one short. {said}")


@pytest.mark.parametrize(
    ("looked", "hidden", "makers", "told"),
    [
        ({1: 1.0, 2: 1.0}, (), 3, words.GROUP_NONE_OFF),
        ({1: 1.0, 2: 1.0}, (1, 2), 3, words.GROUP_ALL_HIDDEN),
        ({}, (), 2, words.GROUP_TOO_FEW),
    ],
)
def test_that_nothing_speaks_against_the_pattern_is_said_only_where_it_could_be_seen(looked, hidden, makers, told):
    table = Table((), tuple("abc"[:makers]), (1, 2), Verdicts((), (), looked, hidden), (), 0)
    assert whose_words(table) == (told,)
    assert not whose_words(replace(table, makers=("a",), verdicts=Verdicts((), (), {})))


def test_rounds_that_could_not_show_an_error_are_named(laid):
    table = Table((), ("a", "b", "c"), (1, 2, 3), Verdicts((), (), dict.fromkeys((1, 2, 3), 1.0), (2, 3)), (), 0)
    assert whose_words(table) == (words.GROUP_NONE_OFF, words.GROUP_HIDDEN.format(rounds="rounds 2 and 3"))
    found = replace(table.verdicts, pattern=laid().verdicts.pattern)  # round 3 is found
    assert whose_words(replace(table, verdicts=found))[-1] == words.GROUP_HIDDEN.format(rounds="round 2")


def test_list_of_what_needs_a_person_names_maker_and_round_and_cautions_once(laid):
    told = table_words(laid()).splitlines()
    assert "really off  Bo <b>, round 2 (Bo <b>/2.jpg): 13 stitches, over by 1: 12 expected." in told
    assert told[-1] == words.CAUTION and told[-2] == ""
    listed = told[told.index("") :][-8:-2]
    assert len(listed) == 6 and not any("rip" in line for line in listed)


def test_makers_are_told_what_to_do(laid):
    table = laid()
    bo = told_to(table, "Bo <b>")
    assert bo[0] == "As the pattern says: round 1."
    assert "Round 2: over by 1 (13 instead of 12)." in bo[1] and "came out so" not in bo[1]
    assert "3 of 3 makers came out so: the pattern is the likelier cause." in bo[2] and bo[3] == words.CAUTION
    assert any("18.0" not in text and "stitches to 10 cm" in text for text in bo)
    last = told_to(table, "C. D.")
    assert "Round 2: not settled, 11 or 12 stitches." in last
    assert any(text.startswith("Round 3: please send the photo again. No worked round") for text in last)
    assert words.CAUTION not in last


def test_csv_has_numbers_as_numbers_and_no_formulas(laid):
    rows = list(csv.DictReader(io.StringIO(group_csv(laid()))))
    assert len(rows) == 13
    ada = next(row for row in rows if row["maker"] == "'=2+5 Ada" and row["round"] == "3")
    assert ada["photo"] == "'=2+5 Ada/3.jpg" and ada["off by"] == "-1" and float(ada["probability"]) == 0.995
    assert ada["stitches"] == "17" and ada["expected"] == "18" and ada["needs"] == "really off"
    assert not any(value.startswith(("=", "+", "@")) for row in rows for value in row.values())
    # A number that is negative stays a number: nothing is put before it.
    assert {row["off by"] for row in rows} == {"", "0", "1", "-1"}


@pytest.mark.parametrize("called", ["initials", "numbers"])
def test_pupils_stay_private(laid, group, called):
    table, answers = laid(called), group[2]
    files = [group_csv(table), group_page(table, answers), "\n".join(text_of(group_pdf(table, answers)))]
    for text in files:
        for secret in (*NAMES, "Ada", "Dee", "secret", ".jpg", "Bo &lt;b&gt;"):
            assert secret not in text
    expected = {"initials": {"A", "B", "CD1", "CD2"}, "numbers": {f"Maker {n}" for n in range(1, 5)}}[called]
    if called == "initials":
        assert set(table.makers) - {"A", "2A"} == expected - {"A"}
    else:
        assert set(table.makers) == expected
    assert "photo 1" in files[0] and len(whose_words(table)) == len(whose_words(laid()))


def test_page_loads_nothing_and_keeps_names_as_text(laid, group):
    page = group_page(laid(), group[2], date="4 May 2031")
    named = page.replace('xmlns="http://www.w3.org/2000/svg"', "")  # a name, not an address
    assert not re.search(r"https?:|<script|<link|@import|url\(", named)
    assert "Bo &lt;b&gt;" in page and "<b>/" not in page and page.count("<section>") == 5
    pictures = re.findall(r'(?:href|src)="data:image/jpeg;base64,([^"]+)"', page)
    assert len(pictures) == 13
    for data in pictures:
        with Image.open(io.BytesIO(base64.b64decode(data))) as picture:
            assert not picture.getexif() and picture.format == "JPEG"
    # A mark each, drawn: the first a diamond.
    assert page.count("<circle") + page.count("<path") == 6 * 5 + 12 * 3 + 13 + 17 * 3


def test_pdf_has_the_table_and_a_page_for_each_maker(laid, group):
    table, answers = laid(), group[2]
    data = group_pdf(table, answers, date="4 May 2031")
    pages = text_of(data)
    assert len(pages) == 1 + len(table.makers)
    assert "Look at the pattern's round 3" in pages[0] and "4 May 2031" in pages[0]
    assert [text.splitlines()[1] for text in pages[1:]] == list(table.makers)
    assert data == group_pdf(table, answers, date="4 May 2031")
    with pytest.raises(ValueError, match="A4"):
        group_pdf(table, answers, paper="napkin")


def test_many_rounds_still_take_one_page_each(group):
    places, contents, answers, _ = group
    some = next(place for place in places if place.photo == "Bo <b>/2.jpg")
    many = tuple(replace(some, photo=f"{n}.jpg", round=n) for n in range(1, 31))
    plan = read_plan(", ".join(str(6 * n) for n in range(1, 31)))
    table = lay_out(many, {place.photo: contents[some.photo] for place in many}, {}, answers, plan)
    assert len(text_of(group_pdf(table, answers))) == 2
