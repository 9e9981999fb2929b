"""The page served, and a real browser that looks at it: for tests and for screenshots."""

import contextlib
import json
import os
import re
import shutil
import socket
import subprocess
import time
import urllib.request
from pathlib import Path

from counter.counting.calibration import NAME, shipped_mark
from counter.page import command

CHROMIUM = shutil.which("chromium")
FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
SAMPLES = Path(__file__).parents[1] / "sample_images"
#: A sample of 36 stitches.
DISC = SAMPLES / "green-disc-on-wood.jpg"
#: Windows by name: width and height in pixels, and whether they are touched.
WINDOWS = {"phone": ((360, 740), True), "desk": ((1280, 900), False)}
#: Patience of a test on a busy machine, in milliseconds.
PATIENCE = 60_000
#: From one touch to the next, in milliseconds: a second one at once counts for nothing.
PACE = 500
#: A page in which nothing changes for so long is drawn to its end, in milliseconds: a tap has begun its run by then.
QUIET = 500


def doubt_everything(data: Path) -> None:
    """Let no count be sure: the user's own limit, as their photos may set it, stands above every probability.

    What a test asks about stays in doubt, however well the networks or the calibration that are shipped do.

    Parameters
    ----------
    data : Path
        The program's folder of the user's data.
    """
    data.mkdir(parents=True, exist_ok=True)
    (data / NAME).write_text(json.dumps({"for": shipped_mark(), "sure": 2.0}))


def started(folder: Path, port: int, network: bool = False, sure: bool = True, **variables) -> subprocess.Popen:
    """Start the page in a folder, which holds its log and the user's data, too; gives the process once it answers.

    Where it is not to be sure, it isn't of any count.
    """
    log = folder / "log"
    if not sure:
        doubt_everything(folder / "data" / "rimtally")
    # By the XDG Base Directory Specification: no test touches the notebook of whoever runs it.
    own = os.environ | {"XDG_DATA_HOME": str(folder / "data")} | variables
    with log.open("a") as file:
        server = subprocess.Popen(
            command(port, headless=True, network=network), cwd=folder, env=own, stdout=file, stderr=subprocess.STDOUT
        )
    for _ in range(120):
        try:
            with urllib.request.urlopen(f"http://localhost:{port}/_stcore/health", timeout=2):
                return server
        except OSError:
            time.sleep(0.5)
    server.kill()
    raise RuntimeError(f"the page did not start: {log.read_text()}")


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


@contextlib.contextmanager
def served(folder: Path, samples=(), network=False, sure=True, **variables):
    """Serve the page from a folder that holds some samples, with these environment variables; gives its address."""
    (folder / "sample_images").mkdir(exist_ok=True)
    for sample in samples:
        shutil.copy(sample, folder / "sample_images")
    port = free_port()
    server = started(folder, port, network, sure, **variables)
    try:
        yield f"http://localhost:{port}"
    finally:
        server.terminate()
        server.wait(20)
    assert "Traceback" not in (folder / "log").read_text()


@contextlib.contextmanager
def opened(driver, profile: Path, window: str, theme: str, flags=()):
    """A page in a browser with a fresh profile; more flags may be given to the browser."""
    (width, height), touch = WINDOWS[window]
    browser = driver.chromium.launch_persistent_context(
        profile,
        executable_path=CHROMIUM,
        args=[*FLAGS, *flags],
        viewport={"width": width, "height": height},
        has_touch=touch,
        color_scheme=theme,
    )
    try:
        page = browser.new_page()
        page.set_default_timeout(PATIENCE)
        yield page
    finally:
        browser.close()


@contextlib.contextmanager
def visited(browser, window: str, theme: str):
    """A page in a fresh context of a browser that runs already: nothing in it of what another test left."""
    (width, height), touch = WINDOWS[window]
    context = browser.new_context(
        viewport={"width": width, "height": height}, has_touch=touch, color_scheme=theme, accept_downloads=True
    )
    try:
        page = context.new_page()
        page.set_default_timeout(PATIENCE)
        yield page
    finally:
        context.close()


def settled(page):
    """Wait until no run of the page goes on and nothing in it has changed for a while."""
    page.evaluate(
        """quiet => new Promise(resolve => {
          const running = () =>
            document.querySelector('[data-testid="stApp"]')?.dataset.testScriptState !== "notRunning";
          let timer;
          const wait = () => {
            clearTimeout(timer);
            timer = setTimeout(() => (running() ? wait() : (watch.disconnect(), resolve())), quiet);
          };
          const watch = new MutationObserver(wait);
          watch.observe(document, { subtree: true, childList: true, attributes: true, characterData: true });
          wait();
        })""",
        QUIET,
    )


def pressed(page, button: str):
    """Press the first button of that name."""
    page.get_by_role("button", name=button).first.click()


def unfolded(page, panel: str):
    """Open or close the panel of that name."""
    page.locator("summary").filter(has_text=panel).first.click()


def chosen(page, number: int):
    """Tap a mark in the photo, and go to it in the magnifier where a neighbour was nearer."""
    dot = page.locator(f'.mark[data-mark="{number}"] .dot')
    dot.evaluate("(e) => e.scrollIntoView({ block: 'center' })")
    box = dot.bounding_box()
    at = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    (page.touchscreen.tap if page.evaluate("navigator.maxTouchPoints") else page.mouse.click)(*at)
    page.wait_for_timeout(PACE)
    for _ in range(5):
        title = page.locator(".loupe > b").filter(has_text=re.compile(r"\d")).text_content()
        here = int(title.split()[1])
        if here == number:
            return
        page.locator(f".loupe .{'forth' if here < number else 'back'}").click()
    raise AssertionError(f"mark {number} is out of reach: {title}")


def removed(page, number: int):
    """Choose a mark in the photo and remove it."""
    chosen(page, number)
    page.locator(".loupe .remove").click()
    page.wait_for_timeout(PACE)
    page.locator(".loupe .off").click()


def added(page, number: int):
    """Choose a mark in the photo and put one more beside it."""
    chosen(page, number)
    page.locator(".loupe .more").click()
    page.wait_for_timeout(PACE)
    page.locator(".loupe .off").click()
