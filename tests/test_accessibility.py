"""The page against the rules of axe-core, which check WCAG 2.2 and good practice in a real browser."""

from pathlib import Path

import pytest

sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="the extra 'test' is not installed")

from browsing import CHROMIUM, SAMPLES, pressed, served, settled, unfolded, visited  # noqa: E402

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed"),
]
PLAN = "R1: 6 sc in ring (6)\nR2: inc x 6 (12)\nR3: (sc 1, inc) x 6 (18)\nR4: (sc 2, inc) x 6 (25)\nR5: (sc 3, inc) x 6 (30)"


def findings(page, rules: axe.Axe) -> list[str]:
    """What axe-core finds in the page as it stands, however small."""
    settled(page)
    found = rules.run(page).response["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found]


@pytest.mark.parametrize("window, theme", [("phone", "dark"), ("desk", "light")])
def test_nothing_is_found(chromium, tmp_path: Path, window, theme):
    rules = axe.Axe()
    with (
        served(tmp_path, [SAMPLES / "blue-disc.jpg"]) as address,
        visited(chromium, window, theme) as page,
    ):
        page.goto(address)
        page.get_by_text("Or try one").wait_for()
        assert findings(page, rules) == []
        unfolded(page, "Your pattern")
        page.locator("textarea").fill(PLAN)
        pressed(page, "Read it")
        page.locator(".findings").first.wait_for()
        assert findings(page, rules) == []
        page.locator('input[type="file"]').first.set_input_files(SAMPLES / "large-hexagon.jpg")
        page.locator(".total").wait_for()
        assert findings(page, rules) == []
        unfolded(page, "Size and gauge")
        unfolded(page, "Two alike")
        assert findings(page, rules) == []
        pressed(page, "Keep in the notebook")
        page.locator(".kept").wait_for()
        pressed(page, "Delete for good")
        assert findings(page, rules) == []
        pressed(page, "Leave it")
        pressed(page, "Open the notebook")
        page.locator('[class*="st-key-row-"]').wait_for()
        unfolded(page, "Export")
        assert findings(page, rules) == []
        pressed(page, "Delete this one for good")
        page.get_by_text("Delete for good?").wait_for()
        assert findings(page, rules) == []
        pressed(page, "Delete")
        page.locator(".empty").wait_for()
        assert findings(page, rules) == []


@pytest.mark.parametrize("window, theme", [("phone", "light"), ("desk", "dark")])
def test_nothing_is_found_on_the_way_from_a_refusal(chromium, served_page, window, theme):
    rules = axe.Axe()
    with visited(chromium, window, theme) as page:
        page.goto(served_page)
        page.locator('input[type="file"]').first.set_input_files(SAMPLES / "plate.jpg")
        page.locator(".show-piece svg").wait_for()
        assert findings(page, rules) == []
        svg = page.locator(".show-piece svg")
        box = svg.bounding_box()
        for across in (0.5, 0.8):
            svg.click(position={"x": across * box["width"], "y": 0.5 * box["height"]})
        pressed(page, "Put the marks myself")
        page.locator('.total[data-total="0"]').wait_for()
        assert findings(page, rules) == []
        page.locator(".strip svg").click(position={"x": 150, "y": 60})
        page.locator(".mark").wait_for()
        assert findings(page, rules) == []
        page.locator('.mark[data-mark="1"]').focus()
        page.keyboard.press("Enter")
        page.locator(".loupe").wait_for()
        assert findings(page, rules) == []


def test_nothing_is_found_at_the_door(chromium, tmp_path: Path):
    # By another name than "localhost" a visitor may sit anywhere (RFC 6761, 6.3).
    there = {"STREAMLIT_BROWSER_SERVER_ADDRESS": "studio.localhost", "RIMTALLY_NOTEBOOK": "on"}
    with (
        served(tmp_path, **there) as address,
        visited(chromium, "phone", "dark") as page,
    ):
        page.goto(address.replace("localhost", "studio.localhost"))
        pressed(page, "Notebook")
        page.get_by_label("The code of your notebook").wait_for()
        assert findings(page, axe.Axe()) == []
        pressed(page, "Begin a new notebook")
        page.locator(".st-key-code").wait_for()
        assert findings(page, axe.Axe()) == []
