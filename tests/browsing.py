"""The page served, and a real browser that looks at it: for tests and for screenshots."""

import contextlib
import shutil
import socket
import subprocess
import time
import urllib.request
from pathlib import Path

from counter.page import command

CHROMIUM = shutil.which("chromium")
FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
SAMPLES = Path(__file__).parents[1] / "sample_images"
#: Windows by name: width and height in pixels, and whether they are touched.
WINDOWS = {"phone": ((360, 740), True), "desk": ((1280, 900), False)}
#: Patience of a test on a busy machine, in milliseconds.
PATIENCE = 60_000


@contextlib.contextmanager
def served(folder: Path, samples=()):
    """Serve the page from a folder that holds some samples; gives its address."""
    (folder / "sample_images").mkdir(exist_ok=True)
    for sample in samples:
        shutil.copy(sample, folder / "sample_images")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    log = folder / "log"
    with log.open("w") as file:
        server = subprocess.Popen(command(port, headless=True), cwd=folder, stdout=file, stderr=subprocess.STDOUT)
    try:
        url = f"http://localhost:{port}"
        for _ in range(120):
            try:
                with urllib.request.urlopen(f"{url}/_stcore/health", timeout=2):
                    break
            except OSError:
                time.sleep(0.5)
        else:
            raise RuntimeError(f"the page did not start: {log.read_text()}")
        yield url
    finally:
        server.terminate()
        server.wait(20)
    assert "Traceback" not in log.read_text()


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


def pressed(page, button: str):
    """Press the first button of that name."""
    page.get_by_role("button", name=button).first.click()


def unfolded(page, panel: str):
    """Open or close the panel of that name."""
    page.locator("summary").filter(has_text=panel).first.click()
