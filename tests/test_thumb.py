"""What a thumb of some width does to the marks: a phone's window, touches that scatter by 5 pixels."""

import re

import numpy as np
import pytest
from PIL import Image

from counter.basics import words
from counter.basics.photo import Photo
from counter.notebook.store import Notebook

sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")

from browsing import CHROMIUM, PATIENCE, served, visited  # noqa: E402
from thumb import Thumb  # noqa: E402

expect = sync_api.expect
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed"),
]
#: Stitches of the pieces, and how many touches each of them gets.
PIECES = {24: 30, 48: 40, 96: 30}
SIDE = 900


@pytest.fixture
def kept(tmp_path, make_count):
    """A notebook with sure counts of these numbers; what the photo shows doesn't matter to a thumb."""
    book = Notebook.open(tmp_path / "data" / "rimtally" / "notebook.sqlite3")
    photo = Photo(np.asarray(Image.effect_noise((SIDE, SIDE), 60).convert("RGB")))
    for number in PIECES:
        count = make_count({number: 1.0}, size=(SIDE, SIDE), radius=0.36 * SIDE, start_seen=True)
        book.keep(photo, count, title=f"piece of {number}")
    return tmp_path


def marks(page):
    return page.locator(".stage .mark").evaluate_all("(all) => all.map((one) => Number(one.dataset.name))")


def still(page):
    """A press is forgotten where the page is just being drawn anew."""
    page.wait_for_timeout(300)
    page.locator('[data-testid="stApp"][data-test-script-state="notRunning"]').wait_for()


def stands(page, number):
    expect(page.locator(".stage .mark")).to_have_count(number, timeout=PATIENCE)
    expect(page.locator(".stage .going")).to_have_count(0)


def test_thumb_changes_the_mark_that_it_means(chromium, kept):
    wrong = {}
    with (
        served(kept) as address,
        visited(chromium, "phone", "light") as page,
    ):
        page.goto(address)
        for number, touches in PIECES.items():
            page.get_by_role("button", name=re.compile(words.NOTEBOOK)).first.click()
            expect(page.get_by_role("heading", name=words.BOOK_HEAD)).to_be_visible(timeout=PATIENCE)
            still(page)
            row = page.locator('[class*="st-key-row-"]').filter(has_text=f"piece of {number}")
            row.get_by_role("button").click()
            stands(page, number)
            page.locator(".stage").scroll_into_view_if_needed()
            thumb = Thumb(page, seed=number)
            wrong[number] = 0
            for _ in range(touches):
                meant = thumb.random.randrange(number)
                before = marks(page)
                thumb.look()
                thumb.touch(*thumb.places()[meant])
                # The touch itself changed nothing, whatever it met.
                assert marks(page) == before
                thumb.remove(meant + 1)
                stands(page, number - 1)
                wrong[number] += [name for name in before if name not in marks(page)] != [before[meant]]
                page.wait_for_timeout(500)
                page.locator(".loupe .off").click()
                page.wait_for_timeout(300)
                if page.locator(".loupe").is_visible():  # the machine was slower than the thumb
                    page.locator(".loupe .off").click()
                page.locator('[data-do="undo"]').click()
                stands(page, number)
            page.get_by_role("button", name=words.BACK_TO_BOOK).click()
            page.get_by_role("heading", name=words.BOOK_HEAD).wait_for()
            still(page)
            page.get_by_role("button", name=words.BACK_TO_PHOTOS).click()
            page.get_by_text(words.DROP).wait_for()
            still(page)
    print("wrong mark changed:", wrong)
    assert sum(wrong.values()) <= 1
