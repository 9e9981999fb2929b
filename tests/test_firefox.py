"""The main path in Firefox as Debian has it: another engine than the one that all other tests of the page run in."""

import pytest
from browsing import PACE, SAMPLES
from firefox import FIREFOX, firefox

from counter.basics import words

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(FIREFOX is None, reason="Debian's package 'firefox-esr' is not installed"),
]


def total(page, number):
    page.wait(f"deep('.total')[0]?.dataset.total.includes('{number}') && deep('.stage .mark').length === {number}")


@pytest.mark.parametrize(("size", "pointer"), [((360, 740), "touch"), ((1280, 900), "mouse")], ids=["phone", "desk"])
def test_photo_is_counted_corrected_and_held_against_a_total(served_page, tmp_path, size, pointer):
    with firefox(tmp_path) as page:
        page.window(*size)
        page.go(served_page)
        page.wait("document.querySelector('.lead')?.textContent")
        assert page.value("document.querySelector('.lead').textContent") == words.LEAD
        page.drop(SAMPLES / "white-on-paper.jpg")
        total(page, 42)
        # A tap chooses, and its button removes.
        page.tap('.stage .mark[data-mark="7"] .dot', pointer)
        page.wait("deep('.loupe:not([hidden])').length")
        total(page, 42)
        pause(page)
        page.tap(".loupe .remove", pointer)
        total(page, 41)
        pause(page)
        page.tap(".loupe .off", pointer)
        page.wait("deep('.loupe[hidden]').length")
        page.tap('[data-do="undo"]', pointer)
        total(page, 42)
        # The rim laid straight shows the same marks, and one is chosen there.
        assert page.value("deep('.strip .copy').length") == 42
        page.tap(".strip .copy:nth-of-type(3)", pointer)
        page.wait("deep('.strip .ring.over').length")
        # The question is answered, and the total that is typed is held against it.
        page.tap(".ask .answers button:nth-of-type(2)", pointer)
        total(page, 41)
        page.wait(f"document.querySelector('.who').textContent === {words.YOU_SAY!r}")
        page.tap('[data-testid="stNumberInput"] input', pointer)
        page.type("42\ue007")
        page.wait("document.querySelector('.verdict h2')?.textContent.includes('Short by 1')")
        wide = page.value("[document.documentElement.scrollWidth, innerWidth]")
        assert wide[0] <= wide[1], "the page is wider than the window"


def pause(page):
    """From one touch to the next: a second one at once counts for nothing."""
    page.ask(
        "script.evaluate", expression=f"new Promise((done) => setTimeout(done, {PACE}))",
        target={"context": page.context}, awaitPromise=True,
    )  # fmt: skip
