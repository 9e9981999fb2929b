import csv
import io
import re
import shutil
import signal
import time
from urllib.parse import urlsplit

import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageOps
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from touching import Held, choose, downloaded, expecting, press, tap, total, touched, unfold

from counter.basics import words
from counter.basics.photo import read_photo
from counter.counting.count import count_photo
from counter.counting.unwrap import to_strip
from counter.lengths.mat import mat_page
from counter.page.rim_strip import lay_rim_straight
from counter.showing.overlay import draw_marks

sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")
expect = sync_api.expect

from browsing import (  # noqa: E402
    CHROMIUM,
    DISC,
    PACE,
    PATIENCE,
    SAMPLES,
    added,
    chosen,
    free_port,
    opened,
    removed,
    settled,
    started,
    visited,
)

expect.set_options(timeout=PATIENCE)

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed"),
]


@pytest.fixture
def address(served_page):
    return served_page


#: Where neither touch nor layout matters, one window says as much as two.
on_desk, on_phone = (pytest.mark.parametrize("page", [window], indirect=True) for window in ("desk", "phone"))


@pytest.fixture(params=["desk", "phone"])
def page(request, address, chromium):
    theme = "dark" if request.param == "phone" else "light"
    with visited(chromium, request.param, theme) as page:
        troubles, hosts = [], set()
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.on("console", lambda line: troubles.append(line.text) if line.type == "error" else None)
        page.on("request", lambda sent: hosts.add(urlsplit(sent.url).hostname))
        page.goto(address)
        yield page
        wide = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
    assert not troubles
    assert hosts - {None} == {"localhost"}, "the page asked for something elsewhere"
    assert wide[0] <= wide[1], "the page is wider than the window"


@pytest.fixture
def photo():
    return DISC


#: Run by Python as it starts: asked by a signal, the server writes down how many bytes of uploads it holds.
TELLS_HELD = """
import os, pathlib, signal
def told(*_):
    from streamlit.runtime import get_instance
    files = [file for visit in get_instance().uploaded_file_mgr.file_storage.values() for file in visit.values()]
    new = pathlib.Path(os.environ["HELD"] + ".new")
    new.write_text(f"{len(files)} {sum(len(file.data) for file in files)}")
    new.rename(os.environ["HELD"])
if "HELD" in os.environ:
    signal.signal(signal.SIGUSR1, told)
"""


@pytest.fixture
def holding(tmp_path):
    """A page whose server tells what uploads it holds: its address, and how to ask for (files, bytes)."""
    (tmp_path / "sitecustomize.py").write_text(TELLS_HELD)
    told, port = tmp_path / "held", free_port()
    server = started(tmp_path, port, HELD=str(told), PYTHONPATH=str(tmp_path))

    def held():
        told.unlink(missing_ok=True)
        server.send_signal(signal.SIGUSR1)
        until = time.monotonic() + PATIENCE / 1000
        while not told.exists():
            assert time.monotonic() < until, "the server does not say what it holds"
            time.sleep(0.05)
        return tuple(map(int, told.read_text().split()))

    try:
        yield f"http://localhost:{port}", held
    finally:
        server.kill()
        server.wait(20)


def test_count_correct_and_compare(page, asked):
    whole = asked.count.stitches
    choose(page, asked.path)
    total(page, whole)
    expect(page.locator(".who")).to_have_text(words.PHOTO_SAYS)

    removed(page, 5)
    total(page, whole - 1)
    # The place that is asked about is as open as before.
    expect(page.locator(".who")).to_have_text(words.SO_FAR)
    press(page, words.CONFIRM.format(n=whole - 1))
    expect(page.locator(".who")).to_have_text(words.YOU_SAY)
    added(page, 12)
    total(page, whole)
    # It is numbered like the marks that it stands between.
    assert page.locator(".mark.added").get_attribute("data-mark") in ("12", "13")

    page.get_by_role("button", name=words.UNDO, exact=True).click()
    total(page, whole - 1)
    expecting(page, whole)
    expect(page.get_by_role("heading", name="Short by 1")).to_be_visible()
    expect(page.get_by_text("before you rip")).to_be_visible()
    page.get_by_role("button", name=words.REDO, exact=True).click()
    total(page, whole)
    expect(page.get_by_role("heading", name=words.VERDICTS["agrees"])).to_be_visible()
    expect(page.get_by_text("before you rip")).not_to_be_visible()
    page.get_by_role("button", name=words.RESTART).click()
    total(page, whole)


def test_tap_changes_nothing_by_itself(page, photo):
    choose(page, photo)
    total(page, 36)
    for across, down in ((0.5, 0.5), (0.35, 0.6), (0.02, 0.02)):
        tap(page, across, down)
        expect(page.locator(".loupe")).to_be_hidden()
    # On the rim it only shows the place, enlarged, and what could be done there.
    chosen(page, 5)
    for sign in (".loupe .ring.over", ".loupe .ghost.cross", ".stage .ring.over", ".stage .ghost.cross"):
        expect(page.locator(sign)).to_have_count(1)
    for _ in range(3):
        page.locator(".loupe .forth").click()
    expect(page.locator(".loupe > b")).to_have_text(words.STITCH_HERE.format(n=8, total=36))
    page.keyboard.press("Escape")
    expect(page.locator(".loupe")).to_be_hidden()
    total(page, 36)
    expect(page.locator(".who")).to_have_text(words.PHOTO_SAYS)
    expect(page.get_by_role("button", name=words.UNDO, exact=True)).to_be_disabled()


def test_magnifier_shows_what_it_puts_before_it_counts(page, photo):
    choose(page, photo)
    total(page, 36)
    chosen(page, 20)
    places = page.locator(".stage .ghost").first.evaluate("(e) => [e.cx.baseVal.value, e.cy.baseVal.value]")
    page.locator(".loupe .more").click()
    total(page, 37)
    page.wait_for_timeout(PACE)
    put = page.locator(".mark.added .halo").evaluate("(e) => [e.cx.baseVal.value, e.cy.baseVal.value]")
    assert put == pytest.approx(places, abs=0.01)
    # A second tap on the way up counts for nothing.
    page.locator(".loupe .remove").dblclick()
    total(page, 36)
    page.wait_for_timeout(1000)
    total(page, 36)


def test_place_in_doubt_is_settled_by_one_tap(page, asked):
    whole = asked.count.stitches
    choose(page, asked.path)
    total(page, whole)
    answer = page.locator(".ask").get_by_role("button", name=asked.other)
    expect(page.locator(".ask")).to_have_count(1)
    expect(page.locator(".ask")).to_contain_text(asked.ask)
    # The question stands above the photo, and in sight without scrolling.
    expect(answer).to_be_in_viewport()
    where = page.locator(".stage").bounding_box()["y"]
    touched(page, answer)
    total(page, asked.changed)
    expect(page.locator(".who")).to_have_text(words.YOU_SAY)
    expect(answer).to_have_attribute("aria-pressed", "true")
    # What is said above it changes; the photo stays where it is.
    assert page.locator(".stage").bounding_box()["y"] == pytest.approx(where, abs=1)
    touched(page, page.locator(".ask").get_by_role("button", name=asked.kept))
    total(page, whole)
    expect(page.locator(".who")).to_have_text(words.YOU_SAY)
    page.get_by_role("button", name=words.UNDO, exact=True).click()
    page.get_by_role("button", name=words.UNDO, exact=True).click()
    expect(page.locator(".who")).to_have_text(words.PHOTO_SAYS)
    total(page, whole)
    # By keyboard: the answer is a button like any other.
    answer.focus()
    page.keyboard.press("Enter")
    total(page, asked.changed)
    expect(answer).to_be_focused()


@on_phone
def test_magnifier_leaves_the_buttons_beside_the_photo_free(page, photo):
    choose(page, photo)
    total(page, 36)
    bar, tall = page.locator(".bar"), page.locator(".bar button").first.bounding_box()["height"]
    for number in (4, 9, 14, 19, 24, 30, 34):
        chosen(page, number)
        box = page.locator(".loupe").bounding_box()
        assert box["y"] + box["height"] < bar.bounding_box()["y"] + tall / 3
        page.locator(".loupe .off").click()
        expect(page.locator(".loupe")).to_be_hidden()
        page.wait_for_timeout(PACE)


def test_marks_stand_in_their_order_for_whoever_hears_them(page, photo):
    choose(page, photo)
    total(page, 36)
    chosen(page, 12)
    page.locator(".loupe .starts").click()
    numbers = [str(number) for number in range(1, 37)]
    first = page.locator('.mark[data-mark="1"]')
    expect(first).to_have_attribute("data-name", "11", timeout=PATIENCE)
    assert page.locator(".mark").evaluate_all("(all) => all.map((e) => e.dataset.mark)") == numbers


@on_phone
def test_heic_of_a_phone_is_counted(page, tmp_path):
    pillow_heif.from_pillow(Image.open(DISC)).save(tmp_path / "IMG_0001.HEIC", quality=90)
    choose(page, tmp_path / "IMG_0001.HEIC")
    total(page, 36)


@pytest.mark.parametrize("window", ["desk"])
def test_camera_of_the_device_takes_the_photo(address, driver, tmp_path, photo, window):
    # What the camera sees: the sample, as film in full high definition (Motion JPEG: one JPEG after the other).
    with Image.open(photo) as picture:
        seen = ImageOps.pad(picture.convert("RGB"), (1920, 1080), color=picture.getpixel((5, 5)))
    frame = io.BytesIO()
    seen.save(frame, "JPEG", quality=95)
    film = tmp_path / "film.mjpeg"
    film.write_bytes(frame.getvalue() * 30)
    camera = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
    camera.append(f"--use-file-for-fake-video-capture={film}")
    profile = tmp_path / "profile"
    with opened(driver, profile, window, "light", camera) as page:
        page.goto(address)
        touched(page, page.locator("label").filter(has_text=words.CAMERA))
        press(page, "Take Photo")
        total(page, 36)
        image = page.locator(".stage image")
        assert (image.get_attribute("width"), image.get_attribute("height")) == ("1920", "1080")


def test_quick_keys_are_neither_lost_nor_doubled(page, photo):
    choose(page, photo)
    total(page, 36)
    page.locator('[data-mark="12"]').focus()
    for _ in range(10):
        page.keyboard.press("Delete")
        page.keyboard.press("ArrowLeft")
    total(page, 26)
    for left in range(27, 37):
        page.get_by_role("button", name=words.UNDO, exact=True).click()
        total(page, left)


@on_desk
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


def tabbed(page, name):
    """Press the tab key until the focus is on what has that name."""
    for _ in range(60):
        page.keyboard.press("Tab")
        focused = page.evaluate(
            """() => {
                let here = document.activeElement;
                while (here?.shadowRoot?.activeElement) here = here.shadowRoot.activeElement;
                if (!here.matches("button, input, [role=button]")) return "";
                return here.getAttribute("aria-label") || here.innerText || "";
            }"""
        )
        if re.search(name, focused):
            return
    raise AssertionError(f"the tab key does not reach {name!r}")


@on_desk
def test_from_opening_to_a_corrected_count_by_keyboard_alone(page):
    page.get_by_text(words.SAMPLES).wait_for()
    tabbed(page, "Green disc on wood")
    page.keyboard.press("Enter")
    total(page, 36)
    tabbed(page, "^Mark 1 of 36")
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Delete")
    total(page, 35)
    tabbed(page, f"^{words.UNDO}$")
    page.keyboard.press("Enter")
    total(page, 36)
    tabbed(page, re.escape(words.CONFIRM.format(n=36)))
    page.keyboard.press("Enter")
    expect(page.locator(".who")).to_have_text(words.YOU_SAY)
    tabbed(page, f"^{words.EXPECTED}$")
    page.keyboard.type("36")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name=words.VERDICTS["agrees"])).to_be_visible()


def test_theme_is_that_of_the_device(page):
    page.get_by_text(words.SAMPLES).wait_for()
    colour = page.evaluate("getComputedStyle(document.querySelector('.stApp')).backgroundColor")
    light = sum(map(int, re.findall(r"\d+", colour)[:3])) / 3
    assert light < 60 if page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches") else light > 230


def test_drag_moves_a_mark(page, asked):
    choose(page, asked.path)
    total(page, asked.count.stitches)
    mark = page.locator('[data-mark="7"]')
    mark.scroll_into_view_if_needed()
    before = mark.bounding_box()
    x, y = before["x"] + before["width"] / 2, before["y"] + before["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 12, y - 9, steps=4)
    page.mouse.up()
    expect(page.locator(".who")).to_have_text(words.SO_FAR, timeout=PATIENCE)
    after = mark.bounding_box()
    assert (after["x"] - before["x"], after["y"] - before["y"]) == pytest.approx((12, -9), abs=1.5)
    total(page, asked.count.stitches)


def strip_numbers(page, number):
    """The strip's numbers are those of the photo, from left to right."""
    copies = page.locator(".strip .copy")
    expect(copies).to_have_count(number)
    numbers = page.locator(".strip .numbers text").filter(has_text=re.compile(r"^\d+$"))
    assert numbers.all_text_contents() == [str(n) for n in range(1, number + 1)]
    across = [float(text.get_attribute("x")) for text in numbers.all()]
    assert across == sorted(across)
    return across


def in_view(page, x, y):
    left, top, wide, high = map(float, page.locator(".stage svg").get_attribute("viewBox").split())
    return left < x < left + wide and top < y < top + high


def strip_rests(page):
    """Where the strip is scrolled to, once it stands still."""
    return page.evaluate(
        """async () => {
            const strip = document.querySelector(".stApp") && [...document.querySelectorAll("*")]
                .find((e) => e.shadowRoot?.querySelector(".strip")).shadowRoot.querySelector(".strip");
            let [last, still] = [NaN, 0];
            while (still < 12) {
                await new Promise(requestAnimationFrame);
                still = strip.scrollLeft === last ? still + 1 : 0;
                last = strip.scrollLeft;
            }
            return last;
        }"""
    )


@on_desk
def test_rim_laid_straight_has_the_marks_of_the_photo(page, photo):
    choose(page, photo)
    total(page, 36)
    across = strip_numbers(page, 36)
    # Where the picture that Python made shows the places of the marks.
    count = count_photo(photo)
    strip = lay_rim_straight(read_photo(photo), count)
    rim = np.array(strip.rim)
    places, _ = to_strip(rim, count.centre, count.marks)
    walked = np.concatenate([[0], np.cumsum(np.linalg.norm(np.roll(rim, -1, axis=0) - rim, axis=1))])
    picture = page.locator(".strip image").evaluate_all(
        "(all) => all.map((one) => [Number(one.getAttribute('x')), Number(one.getAttribute('width'))])"
    )
    long = picture[0][1]
    start = min((x for x, _ in picture if x + long > across[1]), key=lambda x: abs(x - across[0]))
    shares = np.interp(places, np.arange(len(rim) + 1), walked) / walked[-1]
    assert np.array(across) == pytest.approx(start + shares * long, abs=1)

    removed(page, 5)
    total(page, 35)
    after = strip_numbers(page, 35)
    assert after == pytest.approx(across[:4] + across[5:], abs=0.1)
    page.get_by_role("button", name=words.UNDO, exact=True).click()
    total(page, 36)
    assert strip_numbers(page, 36) == pytest.approx(across, abs=0.1)
    # Without its first mark the round begins at the next one.
    removed(page, 1)
    total(page, 35)
    moved = strip_numbers(page, 35)
    assert np.diff(moved) == pytest.approx(np.diff(across[1:]), abs=0.1) and moved[0] < across[1]


def test_tap_on_the_straight_rim_chooses_the_place(page, photo):
    choose(page, photo)
    total(page, 36)
    marks = count_photo(photo).marks
    page.locator(".strip").scroll_into_view_if_needed()
    scrolled = page.locator(".stMain").evaluate("(e) => e.scrollTop")
    slider = page.locator(".strip")
    for number in (3, 20):
        slider.evaluate("(e, left) => { e.scrollLeft = left; }", 52 * (number - 2))
        before = strip_rests(page)
        touched(page, page.locator(".strip .copy").nth(number - 1))
        assert in_view(page, *marks[number - 1])
        assert strip_rests(page) == before
        expect(slider).to_have_attribute("aria-valuenow", str(number))
        expect(slider).to_have_attribute("aria-valuetext", re.compile(rf"^Mark {number} of 36"))
        for ring in (".stage .ring.over", ".strip .ring.over"):
            expect(page.locator(ring)).to_have_count(1)
        assert page.locator(".strip .frame.over").count() > 0
    assert not in_view(page, *marks[2])
    assert page.locator(".stMain").evaluate("(e) => e.scrollTop") == scrolled
    total(page, 36)
    # The keys go on from there; between two marks a mark can be put where the ring is.
    slider.press("Delete")
    total(page, 35)
    expect(slider).to_have_attribute("aria-valuenow", "19")
    across = strip_numbers(page, 35)
    touched(page, slider, position={"x": (across[18] + across[19]) / 2 - strip_rests(page), "y": 50})
    total(page, 35)
    assert in_view(page, *marks[19])
    slider.press("Delete")  # there is none
    slider.press("Insert")
    total(page, 36)
    expect(page.locator(".strip .copy.added")).to_have_count(1)
    assert page.locator(".mark.added").get_attribute("data-mark") == "20"


def test_every_correction_can_be_made_in_the_straight_rim(page, photo):
    choose(page, photo)
    total(page, 36)
    strip = page.locator(".strip")
    strip.scroll_into_view_if_needed()
    tools = page.locator(".rim > .tools")
    expect(tools).to_be_hidden()
    touched(page, page.locator(".strip .copy").nth(2))
    strip_rests(page)
    expect(tools).to_be_visible()
    touched(page, tools.locator(".more"))
    total(page, 37)
    assert page.locator(".mark.added").get_attribute("data-mark") in ("3", "4")
    page.wait_for_timeout(500)
    touched(page, tools.locator(".remove"))
    total(page, 36)
    expect(page.locator(".mark.added")).to_have_count(0)
    # The mark that is chosen can be taken hold of and moved along.
    touched(page, page.locator(".strip .copy").nth(4))
    strip_rests(page)
    before = strip_numbers(page, 36)
    hold = page.locator(".strip .hold").bounding_box()
    x, y = hold["x"] + hold["width"] / 2, hold["y"] + hold["height"] / 2
    if page.evaluate("navigator.maxTouchPoints"):
        fingers(page, *([(x + step, y)] for step in range(0, 16, 3)))
    else:
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + 15, y, steps=5)
        page.mouse.up()
    expect(page.get_by_role("button", name=words.RESTART)).to_be_enabled()
    after = strip_numbers(page, 36)
    assert after[4] - before[4] == pytest.approx(15, abs=2)
    assert after[:4] + after[5:] == pytest.approx(before[:4] + before[5:], abs=0.1)
    total(page, 36)


@on_phone
def test_straight_rim_goes_to_what_is_undone(page, photo):
    choose(page, photo)
    total(page, 36)
    removed(page, 20)
    total(page, 35)
    slider = page.locator(".strip")
    for button, left in ((words.UNDO, 36), (words.REDO, 35)):
        slider.evaluate("(e) => { e.scrollLeft = 0; }")
        strip_rests(page)
        page.get_by_role("button", name=button, exact=True).click()
        total(page, left)
        assert strip_rests(page) > 52 * 12


def test_walking_and_moving_the_photo_move_the_straight_rim(page, photo):
    choose(page, photo)
    total(page, 36)
    strip = page.locator(".strip")
    half = strip.evaluate("(e) => e.clientWidth") / 2
    across = strip_numbers(page, 36)
    for _ in range(2):
        page.get_by_role("button", name=words.ZOOM_IN).click()
    wide = page.locator(".stage svg").get_attribute("viewBox").split()[2]
    page.locator('.mark[data-mark="1"]').focus()
    marks = count_photo(photo).marks
    for _ in range(17):
        page.keyboard.press("ArrowRight")
    assert strip_rests(page) + half == pytest.approx(across[17], abs=2)
    assert in_view(page, *marks[17])
    expect(page.locator('.mark[data-mark="18"]')).to_be_focused()
    strip.focus()
    for _ in range(3):
        page.keyboard.press("ArrowLeft")
    expect(strip).to_be_focused()
    expect(strip).to_have_attribute("aria-valuenow", "15")
    assert strip_rests(page) + half == pytest.approx(across[14], abs=2)
    assert page.locator(".stage svg").get_attribute("viewBox").split()[2] == wide
    # The photo is taken hold of and moved: the strip goes along, and stays.
    before = strip_rests(page)
    stage = page.locator(".stage svg")
    stage.scroll_into_view_if_needed()
    box = stage.bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    for dx, dy in ((0.4, 0.3), (0.4, 0.3)):
        page.mouse.move(*middle)
        page.mouse.down()
        page.mouse.move(middle[0] + dx * box["width"], middle[1] + dy * box["height"], steps=5)
        page.mouse.up()
    after = strip_rests(page)
    assert after != before
    left, top, w, h = map(float, stage.get_attribute("viewBox").split())
    shown = [x for x, (px, py) in zip(across, marks, strict=True) if left < px < left + w and top < py < top + h]
    assert min(abs(x - after - half) for x in shown) < 60
    total(page, 36)
    strip.press("Home")
    expect(strip).to_have_attribute("aria-valuenow", "1")
    assert strip_rests(page) == 0


def test_zoom_stays_while_marks_are_corrected(page, asked):
    choose(page, asked.path)
    total(page, asked.count.stitches)
    svg = page.locator(".stage svg")
    whole = svg.get_attribute("viewBox")
    for _ in range(2):
        page.get_by_role("button", name=words.ZOOM_IN).click()
    close = svg.get_attribute("viewBox")
    assert close != whole
    # The rim is in the middle, and the place that is asked about.
    left, top, wide, high = map(float, close.split())
    assert (left + wide / 2, top + high / 2) == pytest.approx(asked.count.doubts[0].at, abs=0.1 * wide)
    tap(page, 0.5, 0.5)
    page.wait_for_timeout(PACE)
    page.locator(".loupe .more").click()
    total(page, asked.count.stitches + 1)
    assert svg.get_attribute("viewBox") == close
    # By its key: on a phone the magnifier may lie over the button.
    page.get_by_role("button", name=words.WHOLE).press("Enter")
    assert svg.get_attribute("viewBox") == whole


def view(page):
    """What of the photo is seen: x, y, width and height."""
    return [float(v) for v in page.locator(".stage svg").get_attribute("viewBox").split()]


def fingers(page, *path):
    """Lay fingers on the screen, move them along, lift them; each step is a list of (x, y)."""
    link = page.context.new_cdp_session(page)
    for kind, points in (("touchStart", path[0]), *(("touchMove", step) for step in path[1:]), ("touchEnd", [])):
        sent = [{"x": x, "y": y, "id": k} for k, (x, y) in enumerate(points)]
        link.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": sent})


def test_pinch_and_wheel_zoom_about_the_place_and_dragging_pans(page, photo):
    choose(page, photo)
    total(page, 36)
    touch = page.evaluate("navigator.maxTouchPoints")
    page.locator(".stage").scroll_into_view_if_needed()
    box = page.locator(".stage svg").bounding_box()
    x, y = box["x"] + 0.4 * box["width"], box["y"] + 0.5 * box["height"]

    def place():
        """Where in the photo the place under (x, y) is."""
        left, top, wide, high = view(page)
        return left + 0.4 * wide, top + 0.5 * high

    whole, before = view(page), place()
    if touch:
        fingers(page, *([(x - apart, y), (x + apart, y)] for apart in range(20, 81, 10)))
    else:
        page.mouse.move(x, y)
        page.keyboard.down("Control")
        for _ in range(4):
            page.mouse.wheel(0, -60)
        page.keyboard.up("Control")
    close = view(page)
    assert close[2] < 0.5 * whole[2]
    assert place() == pytest.approx(before, abs=0.02 * whole[2])
    # Close up, one finger or the mouse pans.
    if touch:
        fingers(page, *([(x - step, y)] for step in range(0, 61, 10)))
    else:
        page.mouse.down()
        page.mouse.move(x - 60, y, steps=5)
        page.mouse.up()
    moved = view(page)
    assert moved[2] == close[2]
    assert moved[0] - close[0] == pytest.approx(60 * close[2] / box["width"], rel=0.25)
    # None of it was taken for a tap.
    total(page, 36)
    expect(page.locator(".who")).to_have_text(words.PHOTO_SAYS)
    expect(page.get_by_role("button", name=words.UNDO, exact=True)).to_be_disabled()


@on_desk
def test_marked_picture_is_saved_without_metadata(page, asked):
    choose(page, asked.path)
    total(page, asked.count.stitches)
    with Image.open(io.BytesIO(downloaded(page, words.SAVE))) as picture:
        as_elsewhere = draw_marks(read_photo(asked.path), asked.count)
        assert picture.format == "JPEG" and picture.size == as_elsewhere.shape[1::-1] and not picture.getexif()


@on_phone
def test_sample_is_tried_with_one_click(page):
    page.locator(".st-key-samples button").last.click()
    expect(page.locator(".answer, .verdict").first).to_be_visible(timeout=PATIENCE)


@on_phone
def test_file_that_is_no_picture(page, tmp_path, photo):
    path = tmp_path / "letter.jpg"
    path.write_text("dear maker")
    choose(page, path)
    expect(page.get_by_text("This file is not a picture that can be read.")).to_be_visible(timeout=PATIENCE)
    choose(page, photo)
    total(page, 36)


@pytest.fixture
def pair(tmp_path):
    """Two pieces beside each other in one photo, which is refused: path, and middle and reach of the first."""
    one = count_photo(SAMPLES / "blue-disc.jpg")
    with Image.open(SAMPLES / "blue-disc.jpg") as piece:
        both = Image.new("RGB", (2 * piece.width, piece.height))
        for k in range(2):
            both.paste(piece, (k * piece.width, 0))
    both.save(tmp_path / "pair.jpg", quality=95)
    return tmp_path / "pair.jpg", one.centre, np.ptp(one.outline[:, 0]) / 2, both.size


def refused(page, pair):
    """The photo of two pieces with what was found in it; gives its picture and how to tap it."""
    choose(page, pair[0])
    expect(page.get_by_text(words.REFUSALS["several pieces"][0])).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_text(words.SHOW_FOUND)).to_be_visible(timeout=PATIENCE)
    expect(page.locator(".show-piece .found.over")).to_have_count(2)
    svg = page.locator(".show-piece svg")
    svg.evaluate("(e) => e.scrollIntoView({ block: 'center' })")
    box = svg.bounding_box()
    grain = pair[3][0] / box["width"]
    return lambda x, y: touched(page, svg, position={"x": x / grain, "y": y / grain})


def test_piece_is_shown_in_a_photo_that_was_refused(page, pair):
    _, middle, reach, size = pair
    tap_at = refused(page, pair)
    go = page.get_by_role("button", name=words.SHOW_COUNT)
    expect(go).to_be_disabled()
    # One tap inside of what was found; begun anew, its middle and its edge where nothing is found.
    tap_at(middle[0] + 0.5 * reach, middle[1])
    expect(go).to_be_enabled()
    press(page, words.SHOW_AGAIN)
    expect(go).to_be_disabled()
    tap_at(*middle)
    tap_at(middle[0] + reach, middle[1])
    touched(page, go)
    total(page, 24)
    # In the photo's own pixels: the marks lie round the piece that was shown.
    assert page.locator(".stage image").get_attribute("width") == str(size[0])
    xs = [float(x) for x in page.locator(".mark .halo").evaluate_all("(all) => all.map((e) => e.cx.baseVal.value)")]
    assert np.mean(xs) / size[0] == pytest.approx(middle[0] / size[0], abs=0.02)


def test_marks_are_put_by_hand_where_a_photo_was_refused(page, pair):
    _, middle, reach, _ = pair
    tap_at = refused(page, pair)
    tap_at(*middle)
    press(page, words.SHOW_BY_HAND)
    expect(page.locator('.total[data-total="0"]')).to_be_visible(timeout=PATIENCE)
    strip = page.locator(".strip")
    strip.scroll_into_view_if_needed()
    sign = page.locator(".strip svg")
    whole, high = sign.bounding_box()["width"], sign.bounding_box()["height"]
    sure = page.locator(".st-key-confirm button")
    expect(sure).to_be_disabled()
    places = [whole * (0.06 + 0.88 * k / 9) for k in range(9)]
    # Out of turn, too: a mark is numbered by where it stands.
    for made, k in enumerate([0, 1, 2, 4, 3, 5, 8, 7, 6], start=1):
        strip.evaluate("(e, left) => { e.scrollLeft = left; }", places[k] - 120)
        strip_rests(page)
        shift = strip.evaluate("(e) => e.scrollLeft")
        box = strip.bounding_box()
        at = (box["x"] + places[k] - shift, box["y"] + high / 2)
        (page.touchscreen.tap if page.evaluate("navigator.maxTouchPoints") else page.mouse.click)(*at)
        total(page, made)
    press(page, words.UNDO)
    total(page, 8)
    press(page, words.REDO)
    total(page, 9)
    expect(page.locator(".who")).to_have_text(words.SO_FAR)
    marks = page.locator(".mark").evaluate_all(
        "(all) => all.map((e) => [+e.dataset.mark, ...['cx', 'cy'].map((at) => e.children[1][at].baseVal.value)])"
    )
    ordered = np.array([at for _, *at in sorted(marks)])
    away = np.linalg.norm(ordered - middle, axis=1)
    assert (away > 0.75 * reach).all() and (away < 1.1 * reach).all()
    # Counter-clockwise in the picture, as right-handed work grows, once round.
    turns = np.unwrap(np.arctan2(middle[1] - ordered[:, 1], ordered[:, 0] - middle[0]))
    assert (np.diff(turns) > 0).all() and turns[-1] - turns[0] < 2 * np.pi
    press(page, words.CONFIRM.format(n=9))
    expect(page.locator(".who")).to_have_text(words.YOU_SAY)
    total(page, 9)
    # From here on it is a count like any other.
    expecting(page, 10)
    expect(page.get_by_role("heading", name="Short by 1")).to_be_visible()
    settled(page)
    removed(page, 2)
    total(page, 8)


def test_press_that_crosses_the_end_of_a_run_finds_what_it_comes_back_to(address, chromium, photo):
    # The browser says with each press which pictures it still has, and puts away those that no run used for a while:
    # those that it had named must not be among them.
    with visited(chromium, "phone", "light") as page:
        troubles = []
        page.on("console", lambda line: troubles.append(line.text) if line.type == "error" else None)
        way = Held(page)
        page.goto(address)
        choose(page, photo)
        total(page, 36)
        totals = iter(range(20, 60))
        for between in (0, 0, 1, 1):
            for press_this, found in ((words.AGAIN, words.DROP), (words.BRING_BACK, words.PHOTO_SAYS)):
                for _ in range(between):
                    settled(page)
                    expecting(page, next(totals))
                settled(page)
                way.hold()
                ended = way.ended
                expecting(page, next(totals))
                way.until_ended(page, ended + 1)
                page.get_by_role("button", name=press_this).tap()
                way.until_ended(page, ended + 2)
                way.let_go()
                expect(page.get_by_text(found)).to_be_visible()
                assert not troubles


def test_page_that_stands_still_is_loaded_anew_by_itself(address, chromium, photo):
    with visited(chromium, "phone", "light") as page:
        way = Held(page)
        page.goto(address)
        choose(page, photo)
        total(page, 36)
        removed(page, 5)
        total(page, 35)
        settled(page)
        with page.expect_navigation():
            # Something that the browser can't have: Streamlit gives up on it for good.
            way.say(ForwardMsg(ref_hash="0" * 32))
        total(page, 35)


def test_back_goes_a_step_back_inside_the_page_and_nothing_is_lost(page, photo):
    choose(page, photo)
    total(page, 36)
    removed(page, 5)
    total(page, 35)
    press(page, words.AGAIN)
    expect(page.get_by_text(words.PUT_AWAY_IS.format(what=words.stitches(35)))).to_be_visible(timeout=PATIENCE)
    press(page, words.BRING_BACK)
    total(page, 35)
    # What undo goes back to has come, too.
    press(page, words.UNDO)
    total(page, 36)
    settled(page)
    page.go_back()
    expect(page.get_by_text(words.DROP)).to_be_visible(timeout=PATIENCE)
    settled(page)
    page.go_forward()
    total(page, 36)
    settled(page)
    page.go_back()
    expect(page.get_by_text(words.DROP)).to_be_visible(timeout=PATIENCE)
    settled(page)
    press(page, words.NOTEBOOK)
    expect(page.get_by_role("heading", name=words.BOOK_HEAD)).to_be_visible(timeout=PATIENCE)
    settled(page)
    page.go_back()
    expect(page.get_by_text(words.DROP)).to_be_visible(timeout=PATIENCE)


#: Rounds of our own for the sample: its last increase round, and one plain round more.
PLAN = """R1: 6 sc in ring [6]
R2: inc x 6 [12]
R3: (sc 1, inc) x 6 [18]
R4: (sc 2, inc) x 6 [24]
R5: (sc 3, inc) x 6 [31]
R6: (sc 4, inc) x 6 [36]
R7: sc around [36]"""


def paste(page, text):
    """Paste from the clipboard."""
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.evaluate("(text) => navigator.clipboard.writeText(text)", text)
    page.locator("textarea").focus()
    page.keyboard.press("Control+V")


def on_the_hook(page, number, total):
    card = page.locator(".hook").filter(has_text=words.ROUND_OF.format(n=number, last=7))
    expect(card.filter(has_text=words.TOTAL.format(n=total))).to_have_count(1, timeout=PATIENCE)


@on_phone
def test_pattern_is_pasted_stepped_through_and_there_after_a_reload(page):
    unfold(page, words.PATTERN)
    paste(page, PLAN)
    # Read at once, without another tap.
    expect(page.locator(".findings")).to_contain_text("Line 5")
    expect(page.locator(".findings")).to_contain_text("30")
    # A row takes a tap anywhere: the instructions are under its label's area.
    row = page.locator(".st-key-rounds").get_by_text("(sc 2, inc) x 6", exact=True)
    row.scroll_into_view_if_needed()
    touched(page, row, force=True)
    on_the_hook(page, 4, 24)
    press(page, words.NEXT)
    on_the_hook(page, 5, 30)
    press(page, words.NEXT)
    on_the_hook(page, 6, 36)
    press(page, words.BEFORE)
    on_the_hook(page, 5, 30)
    expect(page.get_by_role("radio", name=re.compile("^" + words.ROUND_ROW.format(n=5, total=30)))).to_be_checked()
    page.wait_for_url("**/?plan=*&round=5")
    page.reload()
    on_the_hook(page, 5, 30)
    unfold(page, words.PATTERN)
    expect(page.locator("textarea")).to_have_value(PLAN)
    # Stepping leaves nothing behind that "back" would have to go through.
    assert page.evaluate("history.length") <= 2


def test_photo_is_held_against_the_pattern(page, photo):
    unfold(page, words.PATTERN)
    paste(page, PLAN)
    on_card = page.locator(".hook")
    expect(on_card).to_contain_text(words.WHICH)
    choose(page, photo)
    total(page, 36)
    # Two rounds of 36: the page asks, best first.
    choices = page.locator(".st-key-choices button")
    expect(choices.first).to_contain_text("36")
    touched(page, choices.filter(has_text=words.ROUND_ROW.format(n=6, total=36)))
    on_the_hook(page, 6, 36)

    # A stitch that is not there: where, and what to do.
    press(page, words.CONFIRM.format(n=36))
    removed(page, 14)
    total(page, 35)
    expect(page.get_by_role("heading", name="Short by 1")).to_be_visible()
    expect(page.locator(".stage .slip")).to_have_count(1)
    expect(page.locator(".stage .on-slip")).to_have_text("\u22121")
    card = page.locator(".cards.tags button")
    expect(card).to_contain_text("o'clock")
    whole = page.locator(".stage svg").get_attribute("viewBox")
    touched(page, card)
    assert page.locator(".stage svg").get_attribute("viewBox") != whole
    expect(page.get_by_text("before you rip")).to_be_visible()
    # Once it is said that the round is finished, the next one is written out to land on 36, with its copy button.
    touched(page, page.locator(".st-key-next-step").get_by_role("radio", name=words.FINISHED))
    adjusted = page.locator(".st-key-next-step code")
    expect(adjusted).to_contain_text("inc")
    expect(page.locator(".st-key-next-step").get_by_role("button", name="Copy")).to_be_visible()
    unfold(page, words.DETAILS)
    settled(page)
    touched(page, page.locator(".st-key-advice label").filter(has_text=words.TWIN))
    expect(page.locator(".st-key-next-step")).to_contain_text("rip back to mark")
    expect(adjusted).to_have_count(0)

    press(page, words.UNDO)
    total(page, 36)
    expect(page.locator(".stage .slip")).to_have_count(0)
    expect(page.get_by_role("heading", name=words.VERDICTS["agrees"])).to_be_visible()
    if page.evaluate("navigator.maxTouchPoints"):
        # One tap to the phone's own choice of camera and pictures.
        with page.expect_file_chooser() as choice:
            press(page, words.NEXT_PHOTO)
        assert choice.value.is_multiple()
    else:
        press(page, words.NEXT_PHOTO)
    expect(page.get_by_text(words.DROP_ROUND.format(n=7))).to_be_visible()
    on_the_hook(page, 7, 36)
    choose(page, photo)
    total(page, 36)
    on_the_hook(page, 7, 36)


def test_round_under_way_is_told_by_hand(page, photo):
    expecting(page, 42)
    choose(page, photo)
    expect(page.locator(".mark")).to_have_count(36, timeout=PATIENCE)
    touched(page, page.get_by_role("radio", name=words.NOT_YET))
    expect(page.get_by_text(words.SHOW_LAST)).to_be_visible(timeout=PATIENCE)
    chosen(page, 17)
    page.locator(".loupe .made").click()
    standing = page.locator('.total[data-total="17"]')
    expect(standing).to_have_attribute("data-left", "25", timeout=PATIENCE)
    expect(standing).to_contain_text(words.TO_GO)
    # The round starts at the marker: everything is numbered from there.
    page.wait_for_timeout(PACE)
    chosen(page, 4)
    page.locator(".loupe .starts").click()
    expect(page.locator('.total[data-total="14"]')).to_have_attribute("data-left", "28", timeout=PATIENCE)
    # Both ends can be drawn along the rim.
    for end, mark, done in (("made", 20, 20), ("start", 3, 18)):
        knob = page.locator(f".end.{end} .knob")
        settled(page)  # a handle is drawn anew with the marks
        knob.evaluate("(e) => e.scrollIntoView({ block: 'center' })")
        page.wait_for_timeout(PACE)
        at = [(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
              for box in (knob.bounding_box(), page.locator(f'.mark[data-mark="{mark}"] .dot').bounding_box())]  # fmt: skip
        between = [tuple(a + (b - a) * k / 6 for a, b in zip(*at, strict=True)) for k in range(7)]
        if page.evaluate("navigator.maxTouchPoints"):
            fingers(page, *([place] for place in between))
        else:
            page.mouse.move(*between[0])
            page.mouse.down()
            for place in between[1:]:
                page.mouse.move(*place)
            page.mouse.up()
        expect(page.locator(f'.total[data-total="{done}"]')).to_be_visible(timeout=PATIENCE)
    touched(page, page.get_by_role("radio", name=words.FINISHED))
    total(page, 36)


def test_size_mat_and_twins(page, photo):
    choose(page, photo)
    total(page, 36)
    unfold(page, words.SIZE)
    expect(page.get_by_text("Nothing of known size")).to_be_visible()
    wide = page.get_by_role("textbox", name=words.WIDE)
    wide.fill("12 cm")
    wide.press("Enter")
    expect(page.locator(".gauge")).to_contain_text(words.TO_LENGTH[100.0])
    expect(page.locator(".lines").filter(has_text="The piece is 12.0 cm (4.7 in) across")).to_be_visible()
    assert downloaded(page, words.MAT_PAPER.format(paper="A4")) == mat_page("A4")

    unfold(page, words.ALIKE)
    press(page, words.KEEP_FIRST)
    press(page, words.SECOND)
    expect(page.locator(".first-piece").filter(has_text=words.FIRST_WAITS)).to_be_visible(timeout=PATIENCE)
    choose(page, photo)
    total(page, 36)
    expect(page.get_by_role("heading", name=words.PAIRS["can't say"])).to_be_visible()
    press(page, words.CONFIRM.format(n=36))
    expect(page.locator(".first-piece").filter(has_text=words.FIRST_WAS)).to_be_visible()
    press(page, words.LET_GO)
    expect(page.locator(".first-piece")).to_have_count(0)


def test_several_photos_are_sorted_opened_and_saved(page, asked, tmp_path):
    photo, whole = asked.path, asked.count.stitches
    letter = tmp_path / "letter.jpg"
    letter.write_text("dear maker")
    twin, off = tmp_path / "twin.jpg", tmp_path / "off.jpg"
    shutil.copy(photo, twin)
    shutil.copy(SAMPLES / "blue-disc.jpg", off)
    choose(page, [photo, letter, twin, off])
    rows = page.locator(".piece")
    expect(rows).to_have_count(4, timeout=PATIENCE)
    expect(rows.nth(0)).to_contain_text("letter")
    expecting(page, whole)
    touched(page, page.locator(".st-key-piece-3").get_by_role("button"))
    total(page, 24)
    press(page, words.CONFIRM.format(n=24))
    expect(page.get_by_role("heading", name=f"Short by {whole - 24}")).to_be_visible()
    press(page, words.BACK)
    # What is settled goes down.
    expect(rows.nth(3)).to_contain_text("24 stitches", timeout=PATIENCE)
    expect(rows.nth(3)).to_contain_text(f"Short by {whole - 24}")

    touched(page, page.locator(".st-key-piece-2").get_by_role("button"))
    total(page, whole)
    expect(page.locator(".ask")).to_be_in_viewport()  # the view begins at its top
    touched(page, page.locator(".ask").get_by_role("button", name=asked.kept))
    expect(page.get_by_role("heading", name=words.VERDICTS["agrees"])).to_be_visible()
    press(page, words.BACK)
    expect(rows.nth(3)).to_contain_text("twin", timeout=PATIENCE)
    expect(rows.nth(3)).to_contain_text(words.VERDICTS["agrees"])
    table = list(csv.DictReader(downloaded(page, words.SAVE_SHEET).decode("utf-8-sig").splitlines()))
    assert [line["name"] for line in table] == ["letter", photo.stem, "off", "twin"]
    assert table[3]["state"] == "counted by a person" and table[3]["stitches"] == str(whole)
    press(page, words.PUT_SHEET_AWAY)
    expect(page.locator('input[type="file"]')).to_have_count(1, timeout=PATIENCE)
    press(page, words.BRING_BACK)
    expect(rows.nth(3)).to_contain_text("twin", timeout=PATIENCE)
    expect(rows.nth(3)).to_contain_text(words.VERDICTS["agrees"])


@pytest.mark.skipif(not hasattr(signal, "SIGUSR1"), reason="signals are POSIX")
def test_bytes_of_photos_are_let_go_once_they_are_counted(chromium, holding, photo, tmp_path):
    address, held = holding
    with visited(chromium, "desk", "light") as page:
        page.goto(address)
        # Streamlit holds what is dropped: what the server tells is no empty promise.
        seen = []
        page.on("requestfinished", lambda sent: seen.append(held()) if sent.method == "PUT" else None)
        choose(page, photo)
        total(page, 36)
        settled(page)
        assert held() == (0, 0)
        press(page, words.AGAIN)
        other = tmp_path / "other.jpg"
        shutil.copy(photo, other)
        choose(page, [photo, other])
        expect(page.locator(".piece")).to_have_count(2, timeout=PATIENCE)
        settled(page)
        assert held() == (0, 0)
        assert max(seen) > (0, 0)
