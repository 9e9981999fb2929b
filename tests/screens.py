"""Screenshots of every state of the page, in both windows and both themes.

    python tests/screens.py FOLDER

writes FOLDER/WINDOW-THEME-STATE.png, each as long as the page.
"""

import sys
import tempfile
from pathlib import Path

from browsing import SAMPLES, WINDOWS, opened, pressed, served, unfolded
from playwright.sync_api import Page, sync_playwright

from counter.basics import words

PLAN = (SAMPLES / "circle.txt").read_text()
#: A camera that films a test picture, and asks nobody.
CAMERA = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
#: What makes visitors of the page people from elsewhere, with notebooks of their own.
ELSEWHERE = "studio.localhost"
SHARED = {"STREAMLIT_BROWSER_SERVER_ADDRESS": ELSEWHERE, "RIMTALLY_NOTEBOOK": "on"}
#: Longest screenshot, in pixels.
LONGEST = 4000


def walk(page: Page, address: str):
    """Go through the states of the page; gives the name of each when it stands."""

    def count(name: str) -> None:
        page.locator('input[type="file"]').first.set_input_files(SAMPLES / name)
        page.wait_for_timeout(1500)  # the counting has begun
        page.locator(".st-key-under-way").wait_for(state="detached")
        page.locator(".total, .verdict").first.wait_for()
        page.wait_for_timeout(1500)

    def again() -> None:
        pressed(page, words.AGAIN)
        page.get_by_text("Or try one").wait_for()
        page.wait_for_timeout(1500)

    page.goto(address)
    page.get_by_text("Or try one").wait_for()
    page.wait_for_timeout(1500)
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
    page.get_by_text("Looking for").wait_for(state="detached")
    page.wait_for_timeout(1500)
    yield "7-panels"
    pressed(page, "Keep this as the first piece")
    page.wait_for_timeout(1500)
    # What was left in a tab is offered to the next one.
    tab = page.context.new_page()
    tab.goto(address)
    tab.get_by_text("Go on with it").wait_for()
    tab.wait_for_timeout(1500)
    yield "8-left", tab
    tab.close()
    again()
    # A phone has its own way to the camera.
    if page.locator(".st-key-camera").is_visible():
        page.locator("label").filter(has_text="Use this device's camera").click()
        page.get_by_role("button", name="Take Photo").wait_for()
        page.wait_for_timeout(2500)
        yield "8-camera"
        page.locator("label").filter(has_text="Use this device's camera").click()
    names = ("blue-disc", "large-hexagon", "one-increase-missed", "plate", "striped")
    page.locator('input[type="file"]').first.set_input_files([SAMPLES / f"{name}.jpg" for name in names])
    page.get_by_text("Put these photos away").wait_for()
    page.wait_for_timeout(1500)
    yield "9-sheet"
    pressed(page, "Open")
    page.locator(".mark").first.wait_for()
    page.wait_for_timeout(1500)
    yield "9-sheet-opened"


def walk_shared(page: Page, address: str):
    """The notebook on a server for several people, as :func:`walk`."""
    page.goto(address.replace("localhost", ELSEWHERE))
    page.get_by_text("Or try one").wait_for()
    pressed(page, "Notebook")
    page.get_by_text("Begin a new notebook").wait_for()
    page.wait_for_timeout(1500)
    yield "shared-1-door"
    page.get_by_label("The code of your notebook").fill("no such code")
    pressed(page, "Open it")
    page.get_by_text("No notebook has that code").wait_for()
    yield "shared-2-no-such"
    pressed(page, "Begin a new notebook")
    page.get_by_text("Write this code down now").wait_for()
    page.wait_for_timeout(1500)
    yield "shared-3-code"


def shoot(walked, page: Page, window: str, folder: Path, start: str) -> None:
    """Write a screenshot of each state of a walk; a state of another tab comes with its page."""
    (width, height), _ = WINDOWS[window]
    for state in walked:
        state, at = state if isinstance(state, tuple) else (state, page)
        long = at.evaluate('document.querySelector(".stMainBlockContainer").scrollHeight')
        at.set_viewport_size({"width": width, "height": max(height, min(long + 20, LONGEST))})
        at.wait_for_timeout(600)
        at.screenshot(path=folder / f"{start}-{state}.png")
        at.set_viewport_size({"width": width, "height": height})


def main(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as home, sync_playwright() as driver:
        for walked, elsewhere in ((walk, {}), (walk_shared, SHARED)):
            own = Path(home) / walked.__name__
            own.mkdir()
            with served(own, sorted(SAMPLES.glob("*.jpg")), **elsewhere) as address:
                for window in WINDOWS:
                    for theme in ("light", "dark"):
                        with opened(driver, own / f"{window}-{theme}", window, theme, CAMERA) as page:
                            shoot(walked(page, address), page, window, folder, f"{window}-{theme}")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
