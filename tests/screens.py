"""Screenshots of every state of the page, in both windows and both themes.

    python tests/screens.py FOLDER

writes FOLDER/WINDOW-THEME-STATE.png, each as long as the page.
"""

import sys
import tempfile
from pathlib import Path

from browsing import SAMPLES, WINDOWS, opened, pressed, served, unfolded
from playwright.sync_api import Page, sync_playwright

PLAN = (SAMPLES / "circle.txt").read_text()
#: Longest screenshot, in pixels.
LONGEST = 4000


def walk(page: Page, address: str):
    """Go through the states of the page; gives the name of each when it stands."""

    def count(name: str) -> None:
        page.locator('input[type="file"]').first.set_input_files(SAMPLES / name)
        page.locator(".total, .verdict").first.wait_for()
        page.wait_for_timeout(1500)

    def again() -> None:
        pressed(page, "Another photo")
        page.get_by_text("Or try one").wait_for()

    page.goto(address)
    page.get_by_text("Or try one").wait_for()
    yield "1-start"
    # Empty only before the first walk: the next ones find what was kept.
    pressed(page, "Notebook")
    page.get_by_role("heading", name="Your notebook").wait_for()
    page.wait_for_timeout(1500)
    yield "1-start-notebook"
    pressed(page, "To the photos")
    page.get_by_text("Or try one").wait_for()
    count("blue-disc.jpg")
    yield "2-sure"
    again()
    count("large-hexagon.jpg")
    yield "3-not-sure"
    pressed(page, "Keep in the notebook")
    page.get_by_label("Note").fill("Cushion, after the thread ran out")
    page.get_by_label("Note").blur()
    page.wait_for_timeout(1500)
    pressed(page, "Open the notebook")
    unfolded(page, "Export")
    page.wait_for_timeout(1500)
    yield "3-notebook"
    page.locator('[class*="st-key-row-"] button').first.click()
    page.locator(".total").wait_for()
    pressed(page, "Delete for good")
    page.wait_for_timeout(1500)
    yield "3-opened"
    pressed(page, "Leave it")
    pressed(page, "To the notebook")
    page.get_by_role("heading", name="Your notebook").wait_for()
    page.wait_for_timeout(1500)
    pressed(page, "To the photos")
    page.get_by_text("Or try one").wait_for()
    count("plate.jpg")
    yield "4-refused"
    unfolded(page, "Your pattern")
    page.locator("textarea").fill(PLAN)
    pressed(page, "Read it")
    page.wait_for_timeout(2500)
    yield "5-pattern"
    count("one-increase-missed.jpg")
    yield "6-off"
    unfolded(page, "Size and gauge")
    unfolded(page, "Two alike")
    page.wait_for_timeout(1500)
    yield "7-panels"


def main(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as home, sync_playwright() as driver:
        with served(Path(home), sorted(SAMPLES.glob("*.jpg"))) as address:
            for window, ((width, height), _) in WINDOWS.items():
                for theme in ("light", "dark"):
                    with opened(driver, Path(home) / f"{window}-{theme}", window, theme) as page:
                        for state in walk(page, address):
                            long = page.evaluate('document.querySelector(".stMainBlockContainer").scrollHeight')
                            page.set_viewport_size({"width": width, "height": max(height, min(long + 20, LONGEST))})
                            page.wait_for_timeout(600)
                            page.screenshot(path=folder / f"{window}-{theme}-{state}.png")
                            page.set_viewport_size({"width": width, "height": height})


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
