"""The notebook in a real browser: what is kept outlives tabs, browsers and servers."""

import csv
import io
import itertools
import re
import signal
import sqlite3
import time
import zipfile
from contextlib import closing

import pypdfium2
import pytest
from touching import ELSEWHERE, choose, downloaded, expecting, total, touched, unfold
from touching import press as press_now

from counter.basics import words
from counter.notebook.limits import MOST_TITLE
from counter.notebook.trouble import TROUBLES

sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")
expect = sync_api.expect

from browsing import CHROMIUM, DISC, PATIENCE, added, free_port, removed, served, settled, started, visited  # noqa: E402

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed"),
]
WINDOWS = [("desk", "light"), ("phone", "dark")]


def still(page):
    """Wait until the page is drawn to its end: what is touched before may be drawn anew under the finger."""
    expect(page.locator('[data-testid="stApp"]')).to_have_attribute(
        "data-test-script-state", "notRunning", timeout=PATIENCE
    )


def press(page, name):
    still(page)
    press_now(page, name)


def fill(page, label, text):
    page.get_by_label(label, exact=True).wait_for()
    still(page)
    box = page.get_by_label(label, exact=True)
    box.fill(text)
    box.blur()


def to_list(page):
    press(page, words.NOTEBOOK)
    expect(page.get_by_role("heading", name=words.BOOK_HEAD)).to_be_visible(timeout=PATIENCE)


def row(page, text):
    return page.locator('[class*="st-key-row-"]').filter(has_text=text)


@pytest.mark.parametrize(("window", "theme"), WINDOWS[1:])
def test_kept_corrected_closed_and_gone_on_with(chromium, tmp_path, window, theme):
    with served(tmp_path, [DISC], sure=False) as address:
        with visited(chromium, window, theme) as page:
            page.goto(address)
            choose(page, DISC)
            total(page, 36)
            press(page, words.KEEP)
            expect(page.locator(".kept")).to_contain_text(words.KEPT, timeout=PATIENCE)
            fill(page, words.ENTRY_TITLE, "Brim of the hat")
            expecting(page, 36)
            press(page, words.CONFIRM.format(n=36))
            removed(page, 5)
            total(page, 35)
            expect(page.get_by_role("heading", name="Short by 1")).to_be_visible()
            pdf = pypdfium2.PdfDocument(downloaded(page, words.SAVE_PAGE))
            assert len(pdf) == 1
            said = pdf[0].get_textpage().get_text_range()
            assert "Brim of the hat" in said and "short by 1" in said.lower()
            width = pdf[0].get_size()[0]
            letter = page.evaluate("navigator.language").lower() == "en-us"
            assert width == pytest.approx(612 if letter else 595.3, abs=0.1)
            settled(page)  # what a visit that ends breaks off is told in the log
            page.close()
        with visited(chromium, window, theme) as page:
            page.goto(address)
            to_list(page)
            expect(row(page, "Brim of the hat")).to_contain_text("35 stitches")
            expect(row(page, "Brim of the hat")).to_contain_text("Short by 1")
            touched(page, row(page, "Brim of the hat").get_by_role("button"))
            total(page, 35)
            expect(page.get_by_label(words.ENTRY_TITLE, exact=True)).to_have_value("Brim of the hat")
            expect(page.get_by_label(words.EXPECTED, exact=True)).to_have_value("36")
            # And on with it: the mark that was taken away is put there again.
            added(page, 12)
            total(page, 36)
            press(page, words.BACK_TO_BOOK)
            expect(row(page, "Brim of the hat")).to_contain_text(words.VERDICTS["agrees"], timeout=PATIENCE)
            assert "Traceback" not in (tmp_path / "log").read_text()
            assert "missing ScriptRunContext" not in (tmp_path / "log").read_text()


def test_killed_server_loses_nothing_that_was_seen(chromium, tmp_path):
    port = free_port()
    server = started(tmp_path, port)
    try:
        with visited(chromium, "desk", "light") as page:
            page.goto(f"http://localhost:{port}")
            choose(page, DISC)
            total(page, 36)
            press(page, words.KEEP)
            expect(page.locator(".kept")).to_contain_text(words.KEPT, timeout=PATIENCE)
            for left in (35, 34, 33):
                removed(page, 5)
                total(page, left)
            server.send_signal(signal.SIGKILL)
            server.wait(20)
            server = started(tmp_path, port)
            page.goto(f"http://localhost:{port}")
            # The tab finds what stood in it, from the notebook.
            total(page, 33)
            expect(page.locator(".kept")).to_contain_text(words.KEPT)
            press(page, words.BACK_TO_BOOK)
            touched(page, row(page, "33 stitches").get_by_role("button"))
            total(page, 33)
    finally:
        server.kill()
        server.wait(20)


def kept_text(folder, **wanted):
    """Title and note of the one count in the user's notebook, once they are as wanted."""
    path = folder / "data" / "rimtally" / "notebook.sqlite3"
    until = time.monotonic() + PATIENCE / 1000
    while True:
        # Not through the notebook's own doors, which would bring it up to date, but as it lies on the disk.
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True, timeout=30)) as link:
            ((title, note),) = link.execute("SELECT title, note FROM entry").fetchall()
        found = {"title": title, "note": note}
        if all(found[name] == text for name, text in wanted.items()):
            return found
        if time.monotonic() > until:
            raise AssertionError(f"{found} is kept instead of {wanted}")
        time.sleep(0.05)


@pytest.mark.parametrize(("window", "theme"), WINDOWS[:1])
def test_what_is_typed_is_kept_before_its_box_is_left(chromium, tmp_path, window, theme):
    port = free_port()
    server = started(tmp_path, port)
    try:
        with visited(chromium, window, theme) as page:
            page.goto(f"http://localhost:{port}")
            choose(page, DISC)
            total(page, 36)
            press(page, words.KEEP)
            expect(page.locator(".kept")).to_be_visible(timeout=PATIENCE)
            still(page)
            title, note = (page.get_by_label(label, exact=True) for label in (words.ENTRY_TITLE, words.ENTRY_NOTE))
            page.evaluate("addEventListener('blur', () => window.left = (window.left ?? 0) + 1, true)")
            letters = itertools.cycle("knit not, crochet ")
            for name, box in (("title", title), ("note", note)):
                box.click()
                left = page.evaluate("window.left")
                typed, until = "", time.monotonic() + PATIENCE / 1000
                # On and on, while what came before is on its way to the server and back.
                while not kept_text(tmp_path)[name]:
                    assert time.monotonic() < until, "nothing of what is typed is kept"
                    if len(typed) < MOST_TITLE - 20:
                        typed += next(letters)
                        page.keyboard.type(typed[-1], delay=50)
                for letter in "and on":
                    typed += letter
                    page.keyboard.type(letter)
                kept_text(tmp_path, **{name: typed})
                # In the middle, where the caret stays when the answer comes back.
                page.keyboard.press("Control+Home")
                page.keyboard.type("<")
                kept_text(tmp_path, **{name: f"<{typed}"})
                still(page)
                assert page.evaluate("document.activeElement.selectionStart") == 1
                page.keyboard.type(">")
                kept_text(tmp_path, **{name: f"<>{typed}"})
                # It can be taken back as if nothing had happened.
                page.keyboard.press("Control+z")
                kept_text(tmp_path, **{name: f"<{typed}"})
                expect(box).to_have_value(f"<{typed}")
                assert page.evaluate("window.left") == left, "the box was left"
            # A letter that is made of several keys goes on being made.
            page.keyboard.press("Control+End")
            keys = page.context.new_cdp_session(page)
            for part in ("h", "he", "hen"):
                caret = {"selectionStart": len(part), "selectionEnd": len(part)}
                keys.send("Input.imeSetComposition", {"text": part} | caret)
                kept_text(tmp_path, note=f"<{typed}{part}")
            keys.send("Input.insertText", {"text": "\u7de8"})
            both = kept_text(tmp_path, note=f"<{typed}\u7de8")
            assert both["title"].startswith("<")

            server.send_signal(signal.SIGKILL)
            server.wait(20)
            server = started(tmp_path, port)
            page.goto(f"http://localhost:{port}")
            total(page, 36)
            expect(title).to_have_value(both["title"])
            expect(note).to_have_value(both["note"])
    finally:
        server.kill()
        server.wait(20)


def test_taken_away_deleted_and_brought_back(chromium, tmp_path):
    with served(tmp_path, [DISC], sure=False) as address, visited(chromium, "phone", "light") as page:
        page.goto(address)
        choose(page, DISC)
        total(page, 36)
        press(page, words.KEEP)
        fill(page, words.ENTRY_NOTE, "soft wool, hook 3.5")
        press(page, words.TO_BOOK)
        expect(row(page, "soft wool")).to_have_count(1, timeout=PATIENCE)
        unfold(page, words.MOVE)
        data = downloaded(page, words.EXPORT)
        with zipfile.ZipFile(io.BytesIO(data)) as pack:
            (line,) = csv.DictReader(pack.read("notebook.csv").decode("utf-8-sig").splitlines())
        assert (line["stitches"], line["note"], line["state"]) == ("36", "soft wool, hook 3.5", "not sure")

        press(page, words.DELETE_FOUND_ONE)
        page.get_by_text(words.DELETE_ASKED).wait_for()
        settled(page)  # what the question took the place of has gone
        press(page, words.DELETE_DO)
        expect(page.locator(".empty")).to_be_visible(timeout=PATIENCE)
        for content, said in (
            (bytes(3_000_000), "it is not a zip"),
            (data, words.IMPORTED.format(added=1, already=0)),
            (data, words.IMPORTED.format(added=0, already=1)),
        ):
            still(page)
            page.locator('input[type="file"]').set_input_files(
                {"name": "notebook.zip", "mimeType": "application/zip", "buffer": content}
            )
            expect(page.locator(".amiss")).to_contain_text(said, timeout=PATIENCE)
        touched(page, row(page, "soft wool").get_by_role("button"))
        total(page, 36)


def test_an_export_that_fails_says_why_and_can_be_tried_again(chromium, tmp_path):
    port = free_port()
    server = started(tmp_path, port)
    try:
        with visited(chromium, "phone", "dark") as page:
            page.goto(f"http://localhost:{port}")
            choose(page, DISC)
            total(page, 36)
            press(page, words.KEEP)
            press(page, words.TO_BOOK)
            unfold(page, words.MOVE)
            expect(page.get_by_role("button", name=words.EXPORT)).to_be_visible(timeout=PATIENCE)
            still(page)
            box = page.locator(".st-key-save-export")
            path = tmp_path / "data" / "rimtally" / "notebook.sqlite3"
            with closing(sqlite3.connect(path, isolation_level=None)) as link:
                link.execute("BEGIN EXCLUSIVE")
                press_now(page, words.EXPORT)
                expect(box.locator('[data-testid="stDownloadButtonError"]')).to_have_count(1, timeout=PATIENCE)
                expect(box.locator('[data-testid="stDownloadButtonError"]')).to_be_hidden()
                link.execute("ROLLBACK")
            expect(box.locator(".amiss")).to_have_text(" ".join(TROUBLES["locked"]), timeout=PATIENCE)
            data = downloaded(page, words.EXPORT)
            assert zipfile.ZipFile(io.BytesIO(data)).testzip() is None
            expect(box.locator(".amiss")).to_have_count(0, timeout=PATIENCE)
    finally:
        server.kill()
        server.wait(20)


def test_on_a_server_by_code_alone(chromium, tmp_path):
    there = {"STREAMLIT_BROWSER_SERVER_ADDRESS": ELSEWHERE, "RIMTALLY_NOTEBOOK": "on"}
    with served(tmp_path, [DISC], **there) as address:
        address = address.replace("localhost", ELSEWHERE)
        with visited(chromium, "phone", "light") as page:
            page.goto(address)
            choose(page, DISC)
            total(page, 36)
            unfold(page, words.KEEP)
            press(page, words.BEGIN_BOOK)
            code = page.locator(".st-key-code code").inner_text(timeout=PATIENCE)
            assert re.fullmatch("([a-z2-7]{4}-){4}[a-z2-7]{4}", code)
            press(page, words.KEEP)
            expect(page.locator(".kept")).to_be_visible(timeout=PATIENCE)
            press(page, words.CODE_NOTED)
            expect(page.locator(".st-key-code")).to_have_count(0, timeout=PATIENCE)
            assert code not in page.content() and code not in page.url
        with visited(chromium, "desk", "dark") as page:
            page.goto(address)
            to_list(page)
            expect(page.locator('[class*="st-key-row-"]')).to_have_count(0)
            page.get_by_label(words.CODE, exact=True).fill(code.upper().replace("-", " "))
            press(page, words.OPEN_BOOK)
            expect(row(page, "36 stitches")).to_have_count(1, timeout=PATIENCE)
            assert code not in page.content() and code not in page.url


def test_on_a_server_there_is_none_by_default(chromium, tmp_path):
    with (
        served(tmp_path, [DISC], STREAMLIT_BROWSER_SERVER_ADDRESS=ELSEWHERE) as address,
        visited(chromium, "desk", "light") as page,
    ):
        page.goto(address.replace("localhost", ELSEWHERE))
        expect(page.get_by_text(words.PRIVATE)).to_be_visible(timeout=PATIENCE)
        assert page.get_by_role("button", name=words.NOTEBOOK).count() == 0
        choose(page, DISC)
        total(page, 36)
        unfold(page, words.SAVE_OR_PRINT)
        expect(page.get_by_role("button", name=words.SAVE_PAGE)).to_be_visible()
        assert page.get_by_text(words.KEEP).count() == 0
        assert not (tmp_path / "data").exists()
