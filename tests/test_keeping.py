import re
import sqlite3
from contextlib import closing
from types import SimpleNamespace

import pytest
import streamlit
from paging import DOUBTS, PLAN, counted, edited, fresh, listed, pressed, shown, the_only
from PIL import Image

from counter.basics import words
from counter.basics.photo import read_photo
from counter.comparing.questions import questions_of
from counter.notebook import store as notebook
from counter.notebook import trouble
from counter.notebook.store import open_own
from counter.notebook.values import Goal
from counter.page import saving, visitors
from counter.page.book import _packed
from counter.page.edits import Edits
from counter.page.keeping import keep
from counter.page.show import paper_for, plain

# What a browser is told is tested in a browser.
pytestmark = pytest.mark.usefixtures("mounted", "address", "data_folder")


@pytest.fixture
def unsure(count_of_sample):
    return count_of_sample({24: 0.6, 25: 0.4}, sure=False, doubts=DOUBTS)


def labels(page):
    return [button.label for button in page.button]


def rows(page):
    """The list: what each row says aloud."""
    return [button.label for button in page.button if button.key and re.fullmatch("open-[0-9a-f]{32}", button.key)]


def went_on(page, entry):
    """The page with that count opened from the list."""
    page.button(key=f"open-{entry.key}").click().run()
    assert not page.exception
    return page


def left(page):
    return pressed(page, words.AGAIN)


# Keeping -------------------------------------------------------------------


def test_nothing_is_kept_by_itself(here, page, count_of_sample, monkeypatch, data_folder):
    assert words.PRIVATE_HOME in shown(page) and words.PRIVATE not in shown(page)
    page = counted(page, count_of_sample(), monkeypatch)
    edited(page, lambda edits: edits.remove(3))
    left(page)
    assert not data_folder.exists()


def test_every_change_is_saved_by_the_run_that_it_starts(here, page, unsure, monkeypatch):
    page = pressed(counted(page, unsure, monkeypatch), words.KEEP)
    book = open_own()
    assert words.KEPT in shown(page) and words.KEEP not in labels(page)
    assert (the_only(book).state, len(the_only(book).marks)) == ("not sure", 24)

    edited(page, lambda edits: edits.answer(0, 1))
    entry = the_only(book)
    # One question is still open: it is not the person's count yet.
    assert (entry.answers, entry.state, len(entry.marks), entry.by_hand) == ((1, None), "not sure", 25, False)
    assert entry.off_by is None
    edited(page, lambda edits: edits.answer(1, 0))
    assert (the_only(book).answers, the_only(book).state) == ((1, 0), "counted by a person")
    page.number_input("expected-shown").set_value(25).run()
    assert (the_only(book).goal.expected, the_only(book).off_by) == (25, 0)
    edited(page, lambda edits: edits.remove(7))
    entry = the_only(book)
    assert (len(entry.marks), entry.by_hand, entry.off_by, entry.corrections.removed) == (24, True, -1, (8,))
    edited(page, Edits.undo)
    assert (len(the_only(book).marks), the_only(book).by_hand) == (25, False)
    page.text_input(key="title-shown").set_value("Left ear").run()
    page.text_area(key="note-shown").set_value("soft\nwool").run()
    page.session_state["twin"] = True
    page.run()
    entry = the_only(book)
    assert (entry.title, entry.note, entry.goal.twin) == ("Left ear", "soft\nwool", True)

    revision = entry.revision
    page.run()
    assert the_only(book).revision == revision  # nothing was changed
    left(page)
    assert the_only(book).title == "Left ear" and the_only(book).goal.expected == 25


def test_confirming_and_a_plan_are_saved(here, page, count_of_sample, monkeypatch):
    page = pressed(counted(page, count_of_sample({24: 0.6, 23: 0.4}, sure=False), monkeypatch), words.KEEP)
    pressed(page, words.CONFIRM.format(n=24))
    entry = the_only(open_own())
    assert entry.confirmed and entry.state == "counted by a person"
    page.session_state["pattern"], page.session_state["hook"] = PLAN, 3
    page.run()
    assert "Over by 6" in shown(page) and the_only(open_own()).off_by == 6
    pressed(page, words.NEXT)
    goal = the_only(open_own()).goal
    assert (goal.plan, goal.round, goal.expected) == (PLAN, 4, None) and the_only(open_own()).off_by == 0
    # The next photo is one of the next round; this one stays one of its own.
    pressed(page, words.NEXT_PHOTO)
    assert page.session_state["hook"] == 5 and the_only(open_own()).goal.round == 4


def test_a_change_that_comes_with_leaving_is_saved_too(here, page, count_of_sample, monkeypatch):
    page = pressed(counted(page, count_of_sample(), monkeypatch), words.KEEP)
    page.text_input(key="title-shown").set_value("typed, then left at once")
    left(page)
    assert the_only(open_own()).title == "typed, then left at once"
    # It is not the title of the next one.
    page = pressed(counted(page, count_of_sample(), monkeypatch), words.KEEP)
    assert page.text_input(key="title-shown").value == ""


# Going on ------------------------------------------------------------------


def test_a_count_is_opened_again_and_goes_on(here, page, unsure, mounted, monkeypatch):
    page = pressed(counted(page, unsure, monkeypatch), words.KEEP)
    page.number_input("expected-shown").set_value(25).run()
    page.text_input(key="title-shown").set_value("Ear").run()
    # "As marked" changes nothing about the marks, and is remembered all the same.
    edited(page, lambda edits: edits.answer(1, 0))
    before = the_only(open_own())

    again = went_on(listed(fresh()), before)
    assert the_only(open_own()).revision == before.revision  # opening changes nothing
    edits = again.session_state["edits"]
    assert edits.answers == {1: 0} and not edits.settled and not edits.corrected
    assert words.ASKED_DETAIL.format(left=1) in shown(again)
    assert again.number_input("expected-shown").value == 25 and again.text_input(key="title-shown").value == "Ear"
    assert [ask["answers"][0]["chosen"] for ask in mounted["data"]["asks"]] == [False, True]
    edited(again, lambda edits: edits.answer(0, 1))
    assert words.VERDICTS["agrees"] in shown(again)
    after = the_only(open_own())
    assert (after.answers, after.state, after.off_by, after.key) == ((1, 0), "counted by a person", 0, before.key)
    pressed(again, words.BACK_TO_BOOK)
    assert rows(again) == [plain(f"Ear, 25 stitches, {words.VERDICTS['agrees']}, {page_date(after)}")]

    # Answers alone: the question can still be answered otherwise.
    last = went_on(again, after)
    assert last.session_state["edits"].settled and not last.session_state["edits"].now.by_hand
    edited(last, lambda edits: edits.answer(0, 0))
    assert len(the_only(open_own()).marks) == 24


def page_date(entry):
    return f"{entry.kept.day} {words.MONTHS[entry.kept.month - 1]} {entry.kept.year}"


def test_a_row_shows_the_numbers_that_the_page_shows(here, page, unsure, monkeypatch):
    page = pressed(counted(page, unsure, monkeypatch), words.KEEP)
    book, changes = open_own(), (None, lambda edits: edits.answer(1, 0), lambda edits: edits.answer(0, 1), Edits.undo)
    seen = []
    for change in changes:
        if change:
            edited(page, change)
        (total,) = re.findall('data-total="(.*?)"', shown(page))
        assert words.OR.join(map(str, the_only(book).likely)) == total
        beside, said = listed(fresh()), words.TOTAL.format(n=total)
        (label,) = rows(beside)
        assert label.startswith(plain(said)) and f"<b>{said}</b>" in shown(beside)
        seen.append(total)
    assert seen == ["24 or 25", "24 or 25", "25", "24 or 25"]


def test_marks_changed_by_hand_come_back_as_they_were(here, page, unsure, monkeypatch):
    page = pressed(counted(page, unsure, monkeypatch), words.KEEP)
    edited(page, lambda edits: edits.answer(0, 1).remove(5).add(200.0, 300.0).move(9, 111.25, 222.5))
    before = page.session_state["edits"]
    again = went_on(listed(fresh()), the_only(open_own()))
    edits = again.session_state["edits"]
    assert edits.now.by_hand and edits.answers == {0: 1}
    assert not edits.settled  # one of two questions is still open: a correction settles its own place alone
    assert edits.points == pytest.approx(before.points, abs=0.01)
    assert [mark.added for mark in edits.marks] == [mark.added for mark in before.marks]
    own = range(len(edits.first))
    assert [mark.name for mark in edits.marks if mark.name in own] == [m.name for m in before.marks if m.name in own]
    # New marks get names that none has; going back to the photo's own marks still works.
    assert len({mark.name for mark in edits.add(1.0, 1.0).marks}) == len(edits.marks) + 1
    edited(again, Edits.restart)
    assert not the_only(open_own()).corrections and the_only(open_own()).state == "not sure"


def test_a_photo_larger_than_the_kept_one_goes_on_at_its_size(here, make_count, tmp_path):
    size = (3200, 2400)
    Image.new("RGB", size, "teal").save(tmp_path / "big.jpg")
    count = make_count({24: 1.0}, size=size)
    edits = Edits.of(count.marks, questions_of(count)).remove(3)
    tie = keep(open_own(), read_photo(tmp_path / "big.jpg"), count, edits, False, Goal())
    again = went_on(listed(fresh()), tie.entry)
    assert again.session_state["photo"].width == 1600
    assert (again.session_state["edits"].points + 0.5) * 2 == pytest.approx(edits.points + 0.5, abs=0.01)


def test_the_plan_of_a_count_makes_room_for_the_one_before(here, page, count_of_sample, monkeypatch):
    page.session_state["pattern"], page.session_state["hook"], page.session_state["uk"] = PLAN, 4, False
    page.run()
    page = counted(page, count_of_sample(), monkeypatch)
    page.session_state["since"], page.session_state["twin"], page.session_state["twin_holds"] = 2, True, 23
    page.session_state["finished"] = True
    pressed(page, words.KEEP)
    entry = the_only(open_own())
    again = fresh()
    again.session_state["pattern"], again.session_state["hook"] = "6, 12, 18", 2
    went_on(listed(again), entry)
    state = again.session_state
    assert (state["pattern"], state["hook"], state["twin"], state["since"]) == (PLAN, 4, True, 2)
    assert (state["twin_holds"], state["finished"]) == (23, True)
    assert words.ROUND_OF.format(n=4, last=8) in shown(again) and words.VERDICTS["agrees"] in shown(again)
    pressed(again, words.BACK_TO_BOOK)
    assert (state["pattern"], state["hook"], state["twin"]) == ("6, 12, 18", 2, False)
    # Who goes on with the plan goes on with the count's own.
    went_on(again, entry)
    pressed(again, words.NEXT_PHOTO)
    assert (state["pattern"], state["hook"]) == (PLAN, 5)
    assert the_only(open_own()).goal.round == 4 and the_only(open_own()).revision == entry.revision


# The list ------------------------------------------------------------------


def keep_some(count, photo, *titles):
    return [open_own().keep(photo, count, title=title) for title in titles]


@pytest.fixture
def photo(sample):
    return read_photo(sample)


def test_an_empty_notebook_says_what_it_is_for(here):
    page = listed(fresh())
    assert words.EMPTY in shown(page) and not rows(page) and not page.text_input
    pressed(page, words.BACK_TO_PHOTOS)
    assert words.LEAD in shown(page)


def test_the_list_is_searched(here, photo, count_of_sample):
    keep_some(count_of_sample(), photo, "Left ear", "Right ear", "<Nose> *1*")
    page = listed(fresh())
    assert len(rows(page)) == 3 and words.FOUND.format(n=3) in shown(page)
    assert "&lt;Nose&gt; *1*" in " ".join(element.proto.body for element in page.get("html"))
    assert any(label.startswith(plain("<Nose> *1*")) for label in rows(page))
    when = page_date(the_only_of("Left ear"))
    for sought, many in (("EAR", 2), ("left ear", 1), ("24", 3), ("23", 0), ("sure", 3), (when, 3), ("ear 1999", 0)):
        page.text_input(key="sought-shown").set_value(sought).run()
        assert not page.exception and len(rows(page)) == many, sought
    assert words.NOTHING_FOUND in shown(page)


def the_only_of(title):
    (line,) = open_own().listing(title).lines
    return line


@pytest.mark.parametrize("home", [True, False])
def test_a_zip_too_large_to_be_sent_is_read_where_it_lies_at_home_alone(
    monkeypatch, home, photo, count_of_sample, tmp_path
):
    monkeypatch.setenv(visitors.SWITCH, "on")
    monkeypatch.setattr("counter.page.door.is_local", lambda address, headers: home)
    book = open_own()
    kept = keep_some(count_of_sample(), photo, "one", "two")
    path = tmp_path / "large one.zip"
    path.write_bytes(_packed(book, {}))
    book.delete(*(entry.key for entry in kept))
    page = fresh()
    page.session_state["notebook"] = book
    page = listed(page)

    def box():
        page.session_state["move-open"] = True
        page.run()
        return [one for one in page.text_input if one.key.startswith("import-path")]

    assert len(box()) == home
    if not home:
        return
    for typed in (tmp_path / "none.zip", tmp_path, "~nobody\0"):
        box()[0].set_value(str(typed)).run()
        assert not page.exception and words.IMPORT_NO_FILE.partition("{")[0] in shown(page)
    box()[0].set_value(path.as_uri()).run()
    assert words.IMPORTED.format(added=2, already=0) in shown(page)
    box()[0].set_value(f'"{path}"').run()
    assert words.IMPORTED.format(added=0, already=2) in shown(page)


def test_a_long_list_comes_in_parts(here, photo, count_of_sample, monkeypatch):
    monkeypatch.setattr("counter.page.book.ROWS", 2)
    keep_some(count_of_sample(), photo, *(f"no {k}" for k in range(5)))
    page = listed(fresh())
    for many in (2, 4, 5):
        assert len(rows(page)) == many and words.FOUND.format(n=5) in shown(page)
        if many < 5:
            pressed(page, words.MORE)
    assert words.MORE not in labels(page)


def test_deleting_asks_once_and_is_for_good(here, photo, count_of_sample, data_folder):
    keep_some(count_of_sample(), photo, "stays", "goes")
    page = went_on(listed(fresh()), the_only_of("goes"))
    pressed(pressed(page, words.DELETE), words.DELETE_NOT)
    assert open_own().listing().found == 2
    pressed(page, words.DELETE)
    assert words.DELETE_ASKED in shown(page)
    pressed(page, words.DELETE_DO)
    assert words.DELETED in shown(page) and len(rows(page)) == 1
    assert b"goes" not in b"".join(path.read_bytes() for path in data_folder.rglob("*.sqlite3"))
    assert [line.title for line in open_own().listing().lines] == ["stays"]


def test_deleted_beside_its_photo_it_can_be_kept_again(here, page, count_of_sample, monkeypatch):
    page = pressed(counted(page, count_of_sample(), monkeypatch), words.KEEP)
    pressed(pressed(page, words.DELETE), words.DELETE_DO)
    assert words.DELETED in shown(page) and open_own().listing().found == 0
    edited(page, lambda edits: edits.remove(3))
    pressed(page, words.KEEP)
    assert len(the_only(open_own()).marks) == 23


def test_all_that_was_found_is_deleted_at_once(here, photo, count_of_sample):
    keep_some(count_of_sample(), photo, "ear 1", "ear 2", "nose")
    page = listed(fresh())
    page.session_state["move-open"] = True
    page.text_input(key="sought-shown").set_value("ear")
    page.run()
    page.session_state["move-open"] = True
    pressed(page, words.DELETE_FOUND.format(n=2))
    page.session_state["move-open"] = True
    page.run()
    assert words.DELETE_MANY.format(n=2) in shown(page)
    keep_some(count_of_sample(), photo, "ear 3")  # after it was asked: it stays
    pressed(page, words.DELETE_DO)
    assert sorted(line.title for line in open_own().listing().lines) == ["ear 3", "nose"]


def test_export_and_import_bring_all_back(photo, count_of_sample):
    kept = keep_some(count_of_sample(), photo, "one", "two")
    book = open_own()
    data = _packed(book, {})
    book.delete(*(entry.key for entry in kept))
    assert book.listing().found == 0
    assert book.import_zip(data).added == 2 and book.import_zip(data).already == 2


# Troubles ------------------------------------------------------------------


def test_what_cannot_be_saved_is_said_and_tried_again(here, page, count_of_sample, monkeypatch):
    page = pressed(counted(page, count_of_sample(), monkeypatch), words.KEEP)
    monkeypatch.setattr(notebook, "BUSY_TIMEOUT_S", 0.05)
    with closing(sqlite3.connect(open_own().path, isolation_level=None)) as link:
        link.execute("BEGIN EXCLUSIVE")
        edited(page, lambda edits: edits.remove(3))
        assert trouble.TROUBLES["locked"][0] in shown(page) and 'data-total="23"' in shown(page)
        link.execute("ROLLBACK")
    assert len(the_only(open_own()).marks) == 24
    edited(page, lambda edits: edits.remove(4))
    assert len(the_only(open_own()).marks) == 22 and trouble.TROUBLES["locked"][0] not in shown(page)


def test_what_cannot_be_saved_is_not_left_unseen(here, page, count_of_sample, monkeypatch):
    page = pressed(counted(page, count_of_sample(), monkeypatch), words.KEEP)
    monkeypatch.setattr(notebook, "BUSY_TIMEOUT_S", 0.05)
    with closing(sqlite3.connect(open_own().path, isolation_level=None)) as link:
        link.execute("BEGIN EXCLUSIVE")
        page.text_input(key="title-shown").set_value("typed last")
        left(page)
        assert trouble.TROUBLES["locked"][0] in shown(page)
        assert page.text_input(key="title-shown").value == "typed last"
        link.execute("ROLLBACK")
    left(page)
    assert the_only(open_own()).title == "typed last" and words.LEAD in shown(page)


def test_deleted_or_changed_in_another_window(here, page, count_of_sample, monkeypatch):
    page = pressed(counted(page, count_of_sample(), monkeypatch), words.KEEP)
    book = open_own()
    page.text_area(key="note-shown").set_value("typed here").run()
    book.change(the_only(book), title="from the other window")
    edited(page, lambda edits: edits.remove(3))
    assert trouble.TROUBLES["changed elsewhere"][0] in shown(page) and words.KEEP in labels(page)
    assert the_only(book).title == "from the other window" and len(the_only(book).marks) == 24
    # It can be kept beside the other one.
    pressed(page, words.KEEP)
    assert sorted(line.stitches for line in book.listing().lines) == [23, 24]
    book.delete(*(line.key for line in book.listing().lines))
    edited(page, lambda edits: edits.remove(4))
    assert trouble.TROUBLES["gone"][0] in shown(page) and 'data-total="22"' in shown(page)
    pressed(page, words.KEEP)
    assert the_only(book).off_by is None and len(the_only(book).marks) == 22
    assert the_only(book).note == page.text_area(key="note-shown").value == "typed here"


def test_a_notebook_that_cannot_be_opened(here, page, count_of_sample, monkeypatch, data_folder):
    data_folder.mkdir()
    (data_folder / "notebook.sqlite3").write_text("dear maker " * 100)
    page = pressed(counted(page, count_of_sample(), monkeypatch), words.KEEP)
    assert trouble.TROUBLES["damaged"][0] in shown(page) and 'data-total="24"' in shown(page)
    listed(left(page))
    assert words.BOOK_TROUBLE in shown(page) and trouble.TROUBLES["damaged"][1] in shown(page)
    assert (data_folder / "notebook.sqlite3").read_text().startswith("dear maker")


def test_a_row_whose_count_is_gone(here, photo, count_of_sample):
    (entry,) = keep_some(count_of_sample(), photo, "ear")
    page = listed(fresh())
    open_own().delete(entry.key)
    went_on(page, entry)
    assert trouble.TROUBLES["gone"][0] in shown(page) and not rows(page)


@pytest.fixture
def makers(monkeypatch):
    """What gives the bytes of each file that the page offers, by the button's label."""
    found = {}
    monkeypatch.setattr(streamlit, "download_button", lambda label, make, *_, **__: found.update({label: make}))
    return found


def test_an_export_that_fails_says_why_until_it_goes(here, photo, count_of_sample, makers, data_folder):
    keep_some(count_of_sample(), photo, "ear")
    page = listed(fresh())

    def again():
        page.session_state["move-open"] = True
        assert not page.run().exception
        return shown(page)

    said = " ".join(trouble.TROUBLES["no file"])
    assert said not in again()
    (data_folder / "notebook.sqlite3").rename(data_folder / "away")
    with pytest.raises(trouble.NotebookError):
        makers[words.EXPORT]()
    (data_folder / "away").rename(data_folder / "notebook.sqlite3")
    assert said in again() and len(rows(page)) == 1
    assert makers[words.EXPORT]().startswith(b"PK") and said not in again()

    # It is not said any more where one comes back later.
    (data_folder / "notebook.sqlite3").rename(data_folder / "away")
    late = makers[words.EXPORT]
    with pytest.raises(trouble.NotebookError):
        late()
    (data_folder / "away").rename(data_folder / "notebook.sqlite3")
    listed(pressed(page, words.BACK_TO_PHOTOS))
    assert said not in again()
    (data_folder / "notebook.sqlite3").rename(data_folder / "away")
    with pytest.raises(trouble.NotebookError):
        late()
    (data_folder / "away").rename(data_folder / "notebook.sqlite3")
    assert said not in again()


@pytest.mark.parametrize(
    ("label", "made_by"), [(words.SAVE, "showing.overlay.draw_marks"), (words.SAVE_PAGE, "showing.report.report_page")]
)
def test_a_file_that_cannot_be_made_is_said_in_a_line(page, count_of_sample, monkeypatch, makers, label, made_by):
    page = counted(page, count_of_sample(), monkeypatch)
    assert words.UNMADE not in shown(page) and makers[label]()

    def broken(*_, **__):
        raise MemoryError("out of yarn")

    monkeypatch.setattr(f"counter.{made_by}", broken)
    page.run()
    with pytest.raises(MemoryError):
        makers[label]()
    page.run()
    assert shown(page).count(words.UNMADE) == 1 and "out of yarn" not in shown(page)
    page = counted(left(page), count_of_sample(), monkeypatch)
    assert words.UNMADE not in shown(page)


@pytest.mark.parametrize(("name", "said"), [
    ("export", words.UNMADE), ("marked", "known"), ("other", None), ("", None), (None, None), (["export"], None),
])  # fmt: skip
def test_a_file_that_never_came_is_said_too(monkeypatch, name, said):
    unmade = {"export": "", "marked": "known"}
    monkeypatch.setattr("counter.page.saving.st", SimpleNamespace(session_state=SimpleNamespace(unmade=unmade)))
    saving.in_vain(name)
    expected = {"export": "", "marked": "known"} | ({name: said} if said else {})
    assert unmade == expected


# Shared --------------------------------------------------------------------


@pytest.mark.parametrize("switch", [None, "off", "yes"])
def test_on_a_server_it_is_off_unless_turned_on(page, count_of_sample, monkeypatch, data_folder, switch):
    if switch:
        monkeypatch.setenv(visitors.SWITCH, switch)
    page = fresh()  # headers of nobody: not at the machine
    assert words.PRIVATE in shown(page) and words.NOTEBOOK not in labels(page)
    page = counted(page, count_of_sample(), monkeypatch)
    assert words.KEEP not in labels(page) and words.KEEP not in [box.label for box in page.expander]
    assert not data_folder.exists()


def test_on_a_server_each_opens_to_its_code(elsewhere, page, count_of_sample, monkeypatch, address):
    page = counted(fresh(), count_of_sample(), monkeypatch)
    assert words.KEEP not in labels(page)
    page.session_state[f"door-open-{page.session_state['turn']}"] = True
    pressed(page.run(), words.BEGIN_BOOK)
    (code,) = [element.value for element in page.code]
    assert re.fullmatch("([a-z2-7]{4}-){4}[a-z2-7]{4}", code) and words.CODE_HINT in shown(page)
    pressed(page, words.KEEP)
    pressed(page, words.CODE_NOTED)
    assert not page.code
    assert code not in str(address) and code not in str(dict(page.query_params))

    # Nobody else sees it, and a code that is none begins nothing.
    other = listed(fresh())
    assert not rows(other) and words.DOOR in shown(other)
    other.text_input(key="code-typed").set_value("abcd-efgh-ijkl-mnop-qrst")
    pressed(other, words.OPEN_BOOK)
    assert words.NO_SUCH_BOOK in shown(other) and not rows(other)
    assert other.text_input(key="code-typed").value == ""
    pressed(other, words.BEGIN_BOOK)
    assert not rows(other) and words.EMPTY in shown(other)

    third = listed(fresh())
    third.text_input(key="code-typed").set_value(f" {code.upper()} ")
    pressed(third, words.OPEN_BOOK)
    assert len(rows(third)) == 1 and not third.code
    assert code not in str(third.session_state["notebook"].path)


# The sheet -----------------------------------------------------------------


def test_all_of_a_sheet_are_kept_and_follow_it(here, with_several):
    page = with_several
    page.number_input(key="all_total-shown").set_value(24).run()
    pressed(page, words.KEEP_ALL)
    book = open_own()
    kept = {line.title: line for line in book.listing().lines}
    assert {name: line.off_by for name, line in kept.items()} == {"ada": 0, "<b>": None, "cy": -1}
    assert words.KEPT_SOME.format(n=3, all=4) in shown(page) and words.KEEP_ALL not in labels(page)
    page.number_input(key="all_total-shown").set_value(23).run()
    assert {line.title: line.off_by for line in book.listing().lines} == {"ada": 1, "<b>": None, "cy": 0}

    page.button(key="open-1").click().run()
    assert words.KEPT in shown(page) and page.text_input(key="title-shown").value == "<b>"
    page.session_state["since"] = 3
    edited(page, lambda edits: edits.answer(0, 0))
    assert book.entry(kept["<b>"].key).state == "counted by a person"
    pressed(page, words.BACK)
    page.button(key="open-1").click().run()
    entry = book.entry(kept["<b>"].key)
    assert (entry.off_by, entry.goal.since) == (1, 3) and book.listing().found == 3
    edited(page, lambda edits: edits.remove(2))
    assert book.entry(entry.key).off_by == 0
    # Deleted here, it can be kept with the others again.
    pressed(pressed(page, words.DELETE), words.DELETE_DO)
    pressed(pressed(page, words.BACK), words.KEEP_ALL)
    assert sorted(line.title for line in book.listing().lines) == ["<b>", "ada", "cy"]


def test_one_of_a_sheet_is_kept_alone(here, with_several):
    page = with_several
    page.button(key="open-0").click().run()
    pressed(page, words.KEEP)
    pressed(page, words.BACK)
    page.button(key="open-0").click().run()
    assert words.KEPT in shown(page) and the_only(open_own()).title == "ada"
    pressed(pressed(page, words.BACK), words.KEEP_ALL)
    assert open_own().listing().found == 3


# Paper ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("language", "paper"),
    [("en-US", "letter"), ("en-us", "letter"), ("en-GB", "A4"), ("de", "A4"), ("en", "A4"), ("", "A4"), (None, "A4")],
)
def test_paper_goes_by_the_browser_s_language(language, paper):
    assert paper_for(language) == paper
