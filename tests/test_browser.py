import io
import shutil
import socket
import subprocess
import time
import urllib.request
from pathlib import Path
from urllib.parse import urlsplit

import pillow_heif
import pytest
from PIL import Image

from counter.count import count_photo
from counter.overlay import draw_marks
from counter.page import command, words
from counter.photo import read_photo

sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")
expect = sync_api.expect

CHROMIUM = shutil.which("chromium")
FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
#: A sample of 36 stitches.
DISC = Path(__file__).parents[1] / "sample_images" / "green-disc-on-wood.jpg"
#: Patience of a test on a busy machine, in milliseconds.
PATIENCE = 60_000
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed"),
]


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    folder = tmp_path_factory.mktemp("server")
    (folder / "sample_images").mkdir()
    shutil.copy(DISC, folder / "sample_images")
    log = folder / "log"
    with log.open("w") as file:
        server = subprocess.Popen(command(port, headless=True), cwd=folder, stdout=file, stderr=subprocess.STDOUT)
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
    assert "Traceback" not in log.read_text()


@pytest.fixture(params=["desk", "phone"])
def page(request, address, tmp_path):
    phone = request.param == "phone"
    size = {"width": 360, "height": 740} if phone else {"width": 1280, "height": 900}
    with sync_api.sync_playwright() as driver:
        browser = driver.chromium.launch_persistent_context(
            tmp_path / "profile",
            executable_path=CHROMIUM,
            args=FLAGS,
            viewport=size,
            has_touch=phone,
            color_scheme="dark" if phone else "light",
        )
        page = browser.new_page()
        page.set_default_timeout(PATIENCE)
        troubles, hosts = [], set()
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.on("console", lambda line: troubles.append(line.text) if line.type == "error" else None)
        page.on("request", lambda sent: hosts.add(urlsplit(sent.url).hostname))
        page.goto(address)
        yield page
        wide = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
        browser.close()
    assert not troubles
    assert hosts - {None} == {"localhost"}, "the page asked for something elsewhere"
    assert wide[0] <= wide[1], "the page is wider than the window"


@pytest.fixture
def photo():
    return DISC


def choose(page, path):
    dropped = page.locator('input[type="file"]')
    expect(dropped).to_have_count(1)  # the one of the last photo is on its way out
    dropped.set_input_files(path)


def total(page, number):
    expect(page.locator(f'.total[data-total*="{number}"]')).to_be_visible(timeout=PATIENCE)
    expect(page.locator(".mark")).to_have_count(number, timeout=PATIENCE)


def touched(page, locator, **at):
    """Tap with a finger where there is a touch screen, else click."""
    (locator.tap if page.evaluate("navigator.maxTouchPoints") else locator.click)(**at)


def tap(page, across, down):
    """Tap the photo at shares of its width and height."""
    svg = page.locator(".stage svg")
    box = svg.bounding_box()
    touched(page, svg, position={"x": box["width"] * across, "y": box["height"] * down})


def expecting(page, number):
    page.get_by_role("spinbutton").fill(str(number))
    page.get_by_role("spinbutton").press("Enter")


def test_count_correct_and_compare(page, photo):
    choose(page, photo)
    total(page, 36)
    expect(page.locator(".who")).to_have_text(words.PHOTO_SAYS)

    touched(page, page.locator('[data-mark="5"]'))
    total(page, 35)
    expect(page.locator(".who")).to_have_text(words.YOU_SAY)
    tap(page, 0.5, 0.05)
    total(page, 36)
    # It is numbered like the marks that it stands between.
    added = int(page.locator(".mark.added").get_attribute("data-mark"))
    assert 1 <= added <= 36

    page.get_by_role("button", name=words.UNDO, exact=True).click()
    total(page, 35)
    expecting(page, 36)
    expect(page.locator("output")).to_contain_text("35 stitches" + words.YOU_SAY + words.JOIN + "short by 1")
    expect(page.get_by_role("heading", name="Short by 1")).to_be_visible()
    expect(page.get_by_text("before you rip")).to_be_visible()
    page.get_by_role("button", name=words.REDO, exact=True).click()
    total(page, 36)
    expect(page.get_by_role("heading", name=words.VERDICTS["agrees"])).to_be_visible()
    expect(page.get_by_text("before you rip")).not_to_be_visible()
    page.get_by_role("button", name=words.RESTART).click()
    total(page, 36)
    expect(page.locator(".who")).to_have_text(words.PHOTO_SAYS)


def test_heic_of_a_phone_is_counted(page, tmp_path):
    pillow_heif.from_pillow(Image.open(DISC)).save(tmp_path / "IMG_0001.HEIC", quality=90)
    choose(page, tmp_path / "IMG_0001.HEIC")
    total(page, 36)


def test_quick_taps_are_neither_lost_nor_doubled(page, photo):
    choose(page, photo)
    total(page, 36)
    page.evaluate(
        """() => {
            const host = [...document.querySelectorAll("*")].find((e) => e.shadowRoot?.querySelector(".rim"));
            for (const mark of [...host.shadowRoot.querySelectorAll(".mark")].slice(2, 12)) {
                const box = mark.getBoundingClientRect();
                const at = { clientX: box.x + box.width / 2, clientY: box.y + box.height / 2 };
                const event = { ...at, bubbles: true, pointerId: 1, pointerType: "touch", button: 0 };
                mark.dispatchEvent(new PointerEvent("pointerdown", event));
                mark.dispatchEvent(new PointerEvent("pointerup", event));
            }
        }"""
    )
    total(page, 26)
    for left in range(27, 37):
        page.get_by_role("button", name=words.UNDO, exact=True).click()
        total(page, left)


def test_keyboard_alone_corrects(page, photo):
    choose(page, photo)
    total(page, 36)
    page.locator('[data-mark="1"]').focus()
    for key in ("ArrowRight", "ArrowRight", "Delete"):
        page.keyboard.press(key)
    total(page, 35)
    page.keyboard.press("Insert")
    total(page, 36)
    assert page.locator(".mark.added").get_attribute("data-mark") == "3"
    page.keyboard.press("Control+z")
    total(page, 35)
    page.keyboard.press("Control+y")
    total(page, 36)


def test_drag_moves_a_mark(page, photo):
    choose(page, photo)
    total(page, 36)
    mark = page.locator('[data-mark="7"]')
    mark.scroll_into_view_if_needed()
    before = mark.bounding_box()
    x, y = before["x"] + before["width"] / 2, before["y"] + before["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 12, y - 9, steps=4)
    page.mouse.up()
    expect(page.locator(".who")).to_have_text(words.YOU_SAY, timeout=PATIENCE)
    after = mark.bounding_box()
    assert (after["x"] - before["x"], after["y"] - before["y"]) == pytest.approx((12, -9), abs=1.5)
    total(page, 36)


def test_zoom_stays_while_marks_are_corrected(page, photo):
    choose(page, photo)
    total(page, 36)
    svg = page.locator(".stage svg")
    whole = svg.get_attribute("viewBox")
    for _ in range(2):
        page.get_by_role("button", name=words.ZOOM_IN).click()
    close = svg.get_attribute("viewBox")
    assert close != whole
    tap(page, 0.5, 0.5)
    total(page, 37)
    assert svg.get_attribute("viewBox") == close
    page.get_by_role("button", name=words.WHOLE).click()
    assert svg.get_attribute("viewBox") == whole


def test_marked_picture_is_saved_without_metadata(page, photo):
    choose(page, photo)
    total(page, 36)
    with page.expect_download() as saved:
        page.get_by_role("button", name=words.SAVE).click()
    with Image.open(io.BytesIO(saved.value.path().read_bytes())) as picture:
        as_elsewhere = draw_marks(read_photo(photo), count_photo(photo))
        assert picture.format == "JPEG" and picture.size == as_elsewhere.shape[1::-1] and not picture.getexif()


def test_sample_is_tried_with_one_click(page):
    page.locator(".st-key-samples button").last.click()
    expect(page.locator(".answer, .verdict").first).to_be_visible(timeout=PATIENCE)


def test_file_that_is_no_picture(page, tmp_path, photo):
    path = tmp_path / "letter.jpg"
    path.write_text("dear maker")
    choose(page, path)
    expect(page.get_by_text("This file is not a picture that can be read.")).to_be_visible(timeout=PATIENCE)
    choose(page, photo)
    total(page, 36)
