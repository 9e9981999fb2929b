"""The page for a group's folder: named, counted, worked through one after another, given away."""

import hashlib
import io
import shutil
import time
from pathlib import Path

import pytest
from paging import HOME, shown
from PIL import Image

from counter.basics import words
from counter.group.audit import FOLDER, Group
from counter.group.store import NAME, Answer, GroupFile, Part, Typed
from counter.group.work import program
from counter.notebook.codec import entry_of
from counter.page import group as group_page

sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")
expect = sync_api.expect

from browsing import CHROMIUM, PATIENCE, served, visited  # noqa: E402
from streamlit.testing.v1 import AppTest  # noqa: E402

SAMPLES = Path(__file__).parents[1] / "sample_images"
PLAN = "6, 12, 18, 24, 30"
MAKERS = ("Bramble", "Clover", "Fern", "Heron")
#: Where the columns of the list of names are, in pixels from its left.
MAKER_COLUMN, ROUND_COLUMN = 140, 220


@pytest.fixture(scope="module")
def classroom(tmp_path_factory, make_count):
    """Twenty photos of four makers that were counted: five need a look, one is off, one must be taken again."""
    folder = tmp_path_factory.mktemp("class") / "photos"
    folder.mkdir()
    group_of(folder, make_count)
    return folder


def group_of(folder, make_count):
    found = {}
    looks = {("Bramble", 4), ("Clover", 2), ("Clover", 5), ("Fern", 3), ("Heron", 5)}
    for k, (maker, number) in enumerate((maker, number) for maker in MAKERS for number in range(1, 6)):
        path = folder / maker / f"{number}.jpg"
        path.parent.mkdir(exist_ok=True)
        Image.new("RGB", (640, 640), (60 + 5 * k, 120, 130)).save(path)
        expected = 6 * number
        if (maker, number) in looks:
            doubts = [((1, (320.0, 120.0)), "seam"), ((3, (200.0, 300.0)), "wide")][: 1 + (k % 2)]
            count = make_count(
                {expected: 0.6, expected - 1: 0.3, expected + 1: 0.1}, sure=False,
                doubts=[(*place, "", kind) for place, kind in doubts],
            )  # fmt: skip
        else:
            count = make_count({expected - (1 if (maker, number) == ("Fern", 5) else 0): 1.0})
        small = io.BytesIO()
        Image.new("RGB", (240, 240), (60 + 5 * k, 120, 130)).save(small, "JPEG")
        part = Part(entry_of(count, count.size), small.getvalue(), (small.getvalue(),) * len(count.doubts))
        content = hashlib.sha256(path.read_bytes()).hexdigest()
        found[content] = Answer(content, program(), (part,))
    Group.open(folder, plan=PLAN, names="{maker}/{round}")
    book = GroupFile.open(folder / NAME)
    for own in found.values():
        book.add(own)
    Image.new("RGB", (100, 100)).save(folder / "Heron" / "1.jpg")  # no piece: to be taken again
    Group.open(folder).count(Group.open(folder).stock(), workers=1)


@pytest.fixture
def own(classroom, tmp_path):
    """A copy of the class's folder, for a test of its own."""
    folder = tmp_path / "photos"
    shutil.copytree(classroom, folder)
    return folder


@pytest.fixture
def at_home(monkeypatch):
    monkeypatch.setattr("counter.page.door.is_local", lambda *_: True)


@pytest.fixture
def page(own, at_home, mounted, address, monkeypatch):
    monkeypatch.setenv(FOLDER, str(own))
    page = AppTest.from_file(str(HOME), default_timeout=60).run()
    assert not page.exception
    return page


def pressed(page, label, which=0):
    [button for button in page.button if button.label == label][which].click().run()
    assert not page.exception
    return page


def summary(folder):
    group = Group.open(folder)
    return group.lay_out(group.stock()).summary


def test_group_is_shown_with_those_that_need_a_look_on_top(page):
    said = shown(page)
    assert "13 of 20 agree, 1 off, 5 to look at, 1 to take again." in said
    assert said.index(words.GROUP_LOOKS) < said.index(words.GROUP_HEADS["off"]) < said.index(words.GROUP_HEADS["again"])
    assert len([button for button in page.button if button.label == words.GROUP_AGAIN]) == group_page.AT_ONCE
    assert "short by 1" in said and words.ASK_RIGHT in said or words.ASK_LOOP in said


def test_answers_confirmations_and_takes_are_kept_beside(page, own):
    for _ in range(2):
        page = pressed(page, next(b.label for b in page.button if b.label.startswith("I looked")))
    assert "3 to look at" in summary(own) and "15 of 20" in summary(own)
    page = pressed(page, words.GROUP_AGAIN)
    assert "2 to take again" in summary(own) and "2 to look at" in summary(own)
    number = next(box for box in page.number_input if box.key.startswith("hand-"))
    number.set_value(7).run()
    assert "1 to look at" in summary(own)
    book = GroupFile.open(own / NAME)
    told = [one for said in book.corrections().values() for one in said]
    assert sorted(one.what for one in told) == ["again", "marks", "marks", "total"]
    assert all("not sure" in one.before for one in told)
    # What was said is taken back, and nothing of it is lost.
    page = pressed(page, words.GROUP_BACK)
    assert len([one for said in book.corrections().values() for one in said]) == 5
    assert "2 to look at" in summary(own)


def test_questions_are_answered_one_after_the_other(page, own):
    while any(button.key.startswith("answer-") for button in page.button if button.key):
        next(button for button in page.button if button.key and button.key.startswith("answer-")).click().run()
        assert not page.exception
    assert "to look at" not in summary(own)
    kept = [said[-1] for said in GroupFile.open(own / NAME).corrections().values()]
    assert len(kept) == 5 and all(one.after.endswith("counted by a person") for one in kept)


def test_photo_is_opened_put_right_and_left(page, own, mounted):
    page = pressed(page, words.OPEN)
    assert page.session_state["group_at"] is not None and mounted
    marks = len(page.session_state["edits"].marks)
    page.session_state["edits"] = page.session_state["edits"].remove(2)
    page.run()
    page = pressed(page, words.BACK)
    assert page.session_state["group_at"] is None and "answer" not in page.session_state
    last = [said[-1] for said in GroupFile.open(own / NAME).corrections().values()]
    assert len(last) == 1 and len(last[0].entry.marks) == marks - 1
    assert page.session_state["pattern"] == ""  # what was pasted on the page is there again
    assert words.GROUP_LOOKS in shown(page)


def test_files_of_other_photos_are_not_shown(page, own):
    for path in own.rglob("*.jpg"):
        Image.new("RGB", (300, 300)).save(path)
    page = pressed(page, words.OPEN)
    assert words.GROUP_CHANGED in page.session_state["said"] and page.session_state["group_at"] is None


def test_names_are_shown_on_examples_before_they_are_used(own, at_home, mounted, address, monkeypatch):
    (own / NAME).unlink()
    Group.open(own, plan=PLAN)
    monkeypatch.setenv(FOLDER, str(own))
    started = []
    monkeypatch.setattr("counter.page.group._start", started.append)
    page = AppTest.from_file(str(HOME), default_timeout=60).run()
    assert "Bramble/1.jpg -> Bramble, round 1" in shown(page) and not started
    page.text_input[0].set_value("{round}").run()
    assert "must hold" in shown(page)
    page.text_input[0].set_value("{maker}/{round}").run()
    page = pressed(page, words.GROUP_USE_NAMES)
    assert started and Group.open(own).names == "{maker}/{round}"


def test_folders_are_opened_at_the_machine_alone(own, mounted, address, monkeypatch):
    monkeypatch.setenv(FOLDER, str(own))
    monkeypatch.setattr("counter.page.door.is_local", lambda address, headers: False)
    page = AppTest.from_file(str(HOME), default_timeout=60).run()
    assert page.session_state["group"] is None
    assert words.GROUP_LINK not in [button.label for button in page.button]
    page.session_state["group"] = str(own)
    page.run()
    assert words.GROUP_AWAY in shown(page) and "Bramble" not in shown(page)


def test_folder_is_asked_for(at_home, mounted, address, own, tmp_path):
    page = AppTest.from_file(str(HOME), default_timeout=60).run()
    page = pressed(page, words.GROUP_LINK)
    page.text_input[0].set_value(str(tmp_path / "none"))
    page = pressed(page, words.GROUP_OPEN)
    assert words.GROUP_NO_FOLDER in shown(page)
    page.text_input[0].set_value(str(own))
    page = pressed(page, words.GROUP_OPEN)
    assert "13 of 20 agree" in shown(page)
    page = pressed(page, words.BACK_TO_PHOTOS)
    assert page.session_state["group"] is None and "Bramble" not in shown(page)


def still(browser):
    """Wait until the page has been drawn."""
    expect(browser.locator('[data-testid="stApp"]')).to_have_attribute(
        "data-test-script-state", "notRunning", timeout=PATIENCE
    )


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="this test needs chromium")
@pytest.mark.parametrize("window", ["desk", "phone"])
def test_teacher_goes_through_twenty_photos_in_twelve_taps(chromium, own, tmp_path, window):
    folder = tmp_path / "server"
    folder.mkdir()
    taps = 0
    with (
        served(folder, **{FOLDER: str(own)}) as where,
        visited(chromium, window, "light") as browser,
    ):
        browser.goto(where)
        expect(browser.locator(".sum")).to_contain_text("5 to look at", timeout=PATIENCE)
        # The next photo and its crop stand there already.
        expect(browser.locator('[class*="st-key-look-"] img')).to_have_count(2 * group_page.AT_ONCE, timeout=PATIENCE)
        still(browser)
        while browser.locator('[class*="st-key-look-"]').count():
            card = browser.locator('[class*="st-key-look-"]').first
            before = card.inner_text()
            card.locator('[class*="st-key-answer-"] button').first.click()
            taps += 1
            browser.wait_for_function(
                """(before) => {
                    const card = document.querySelector('[class*="st-key-look-"]');
                    return !card || card.innerText !== before;
                }""",
                arg=before,
                timeout=PATIENCE,
            )
            still(browser)
        expect(browser.locator(".sum")).not_to_contain_text("to look at", timeout=PATIENCE)
    assert taps <= 12
    assert "to look at" not in summary(own)


def type_in_list(browser, column, text):
    """Type into a cell of the list's first row: the list may be drawn anew while its box is asked for."""
    soon = PATIENCE / 20
    for _ in range(20):
        still(browser)
        grid = browser.locator('[data-testid="stDataFrame"] canvas').first
        if not grid.is_visible():  # at first; and it folds where a line above it has gone
            browser.get_by_text(words.GROUP_WHOSE).click()
        try:
            grid.scroll_into_view_if_needed(timeout=soon)
            grid.click(position={"x": column, "y": 52}, force=True, timeout=soon)  # the first row, under what scrolls
            browser.keyboard.press("Enter")
            box = browser.locator("#portal textarea, #portal input").first
            box.fill(text, timeout=soon)
            box.press("Enter", timeout=soon)
        except sync_api.TimeoutError:
            browser.keyboard.press("Escape")
        else:
            return
    raise AssertionError("no cell of the list opens")


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="this test needs chromium")
def test_names_are_typed_in_the_list(chromium, own, tmp_path):
    (own / "loose.jpg").write_bytes((own / "Fern" / "1.jpg").read_bytes())
    folder = tmp_path / "server"
    folder.mkdir()
    with (
        served(folder, **{FOLDER: str(own)}) as where,
        visited(chromium, "desk", "light") as browser,
    ):
        browser.goto(where)
        expect(browser.locator(".sum")).to_be_visible(timeout=PATIENCE)
        still(browser)
        # A photo without a place stands on top; with one it goes among the others, and another is on top.
        moss, moss_3, wren_1 = Typed("Moss", None), Typed("Moss", 3), Typed("Wren", 1)
        for column, text, typed in (
            (MAKER_COLUMN, "Moss", {"loose.jpg": moss}),
            (ROUND_COLUMN, "3", {"loose.jpg": moss_3}),
            (MAKER_COLUMN, "Wren", {"loose.jpg": moss_3, "Bramble/1.jpg": wren_1}),
        ):
            type_in_list(browser, column, text)
            until = time.monotonic() + PATIENCE / 1000
            while Group.open(own).book.typed() != typed and time.monotonic() < until:
                browser.wait_for_timeout(200)
            assert Group.open(own).book.typed() == typed
            still(browser)


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="this test needs chromium")
def test_counting_goes_on_beside_the_page_and_stops(chromium, tmp_path):
    photos = tmp_path / "photos"
    for maker in ("Moss", "Wren"):
        (photos / maker).mkdir(parents=True)
        for number, sample in ((4, "blue-disc"), (5, "plate")):
            with Image.open(SAMPLES / f"{sample}.jpg") as picture:
                picture.rotate(90 if maker == "Moss" else 0).save(photos / maker / f"{number}.jpg")
    Group.open(photos, plan=PLAN)
    folder = tmp_path / "server"
    folder.mkdir()
    with (
        served(folder, **{FOLDER: str(photos)}) as where,
        visited(chromium, "desk", "light") as browser,
    ):
        browser.goto(where)
        browser.get_by_role("button", name=words.GROUP_USE_NAMES).click(timeout=PATIENCE)
        browser.get_by_role("button", name=words.GROUP_STOP).click(timeout=PATIENCE)
        expect(browser.get_by_role("button", name="Count ")).to_be_visible(timeout=PATIENCE)
        kept = len(Group.open(photos).stock().todo)
        assert 0 < kept <= 4
        browser.get_by_role("button", name="Count ").click()
        expect(browser.locator(".sum")).to_contain_text("2 to take again", timeout=3 * PATIENCE)
        expect(browser.locator(".sum")).not_to_contain_text("not counted", timeout=PATIENCE)
    assert not Group.open(photos).stock().todo
