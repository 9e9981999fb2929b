import shutil
import socket
import subprocess
import time
import urllib.request

import pytest
from drawn import draw_round
from PIL import Image
from playwright.sync_api import expect, sync_playwright

from counter.page import command

CHROMIUM = shutil.which("chromium")
FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed"),
]


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    log = tmp_path_factory.mktemp("server") / "log"
    with log.open("w") as file:
        server = subprocess.Popen(command(port, headless=True), stdout=file, stderr=subprocess.STDOUT)
    url = f"http://localhost:{port}"
    for _ in range(120):
        try:
            with urllib.request.urlopen(f"{url}/_stcore/health", timeout=2):
                break
        except OSError:
            time.sleep(0.5)
    else:
        server.kill()
        pytest.fail(f"the page did not start: {log.read_text()}")
    yield url
    server.terminate()
    server.wait(20)


@pytest.fixture(params=[(1280, 900), (360, 740)], ids=["desk", "phone"])
def page(request, address, tmp_path):
    width, height = request.param
    with sync_playwright() as driver:
        browser = driver.chromium.launch_persistent_context(
            tmp_path / "profile", executable_path=CHROMIUM, args=FLAGS, viewport={"width": width, "height": height}
        )
        page = browser.new_page()
        page.goto(address)
        yield page
        browser.close()


@pytest.fixture
def photo(tmp_path):
    path = tmp_path / "round.png"
    Image.fromarray(draw_round(24, 4)[0]).save(path)
    return path


def total(page, number):
    expect(page.locator(f'.total[data-total="{number}"]')).to_be_visible(timeout=15_000)


def test_count_correct_and_compare(page, photo):
    page.locator('input[type="file"]').set_input_files(photo)
    total(page, 24)
    marks = page.locator(".mark")
    expect(marks).to_have_count(24)

    page.locator('[data-mark="5"]').click()
    total(page, 23)
    expect(marks).to_have_count(23)

    svg = page.locator(".rim svg")
    box = svg.bounding_box()
    svg.click(position={"x": box["width"] * 0.5, "y": box["height"] * 0.4})
    total(page, 24)
    expect(marks).to_have_count(24)

    page.get_by_role("button", name="Undo").click()
    total(page, 23)
    page.get_by_role("spinbutton").fill("24")
    page.get_by_role("spinbutton").press("Enter")
    expect(page.get_by_text("23 stitches, short by 1: 24 expected.")).to_be_visible(timeout=10_000)
    expect(page.get_by_text("before you rip")).to_be_visible()


def test_file_that_is_no_picture(page, tmp_path):
    path = tmp_path / "letter.jpg"
    path.write_text("dear maker")
    page.locator('input[type="file"]').set_input_files(path)
    expect(page.get_by_text("This file is not a picture that can be read.")).to_be_visible(timeout=15_000)
