"""The page in a real browser: what tests do with it there."""

import re
import time

import pytest
from browsing import PATIENCE
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from counter.basics import words

sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")
expect = sync_api.expect
expect.set_options(timeout=PATIENCE)


def downloaded(page, button) -> bytes:
    """What a button saves, pressed once the page stands still: it may be drawn anew until then."""
    expect(page.locator('[data-testid="stApp"]')).to_have_attribute("data-test-script-state", "notRunning")
    panel = page.locator("details").filter(has=page.locator("summary").filter(has_text=words.SAVE_OR_PRINT))
    if panel.count() and panel.first.get_attribute("open") is None:
        unfold(page, words.SAVE_OR_PRINT)
    with page.expect_download() as saved:
        page.get_by_role("button", name=button).first.click()
    return saved.value.path().read_bytes()


def choose(page, path):
    dropped = page.locator('input[type="file"]')
    expect(dropped).to_have_count(1, timeout=PATIENCE)  # the one of the last photo is on its way out
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


def press(page, name):
    # Older Streamlit reads a button's icon out before its name.
    button = page.get_by_role("button", name=re.compile(rf"^(\w+ )?{re.escape(name)}$"))
    expect(button).to_be_enabled(timeout=PATIENCE)
    touched(page, button)


def unfold(page, label):
    touched(page, page.locator("summary").filter(has_text=label))


#: A name of this machine that is not "localhost" (RFC 6761, 6.3): who comes by it may sit anywhere.
ELSEWHERE = "studio.localhost"


class Held:
    """What the server says to a page, held back on demand: as on a slow way, or beside a busy browser.

    Once it has said `until`, it is held back from there on.
    """

    def __init__(self, page, until: bytes | None = None):
        self.waiting, self.socket, self.ended, self.until = None, None, 0, until
        page.route_web_socket(re.compile("/_stcore/stream"), self._joined)

    def _joined(self, socket):
        self.socket = socket
        server = socket.connect_to_server()
        server.on_message(lambda said: self._said(socket, said))

    def _said(self, socket, said):
        if ForwardMsg.FromString(said).WhichOneof("type") == "script_finished":
            self.ended += 1
        if self.waiting is None:
            socket.send(said)
            if self.until and self.until in said:
                self.until = None
                self.hold()
        else:
            self.waiting.append((socket, said))

    def say(self, message):
        self.socket.send(message.SerializeToString())

    def hold(self):
        self.waiting = []

    def lose(self):
        """Let what was held back never come."""
        self.waiting = None

    def let_go(self):
        waiting, self.waiting = self.waiting, None
        for socket, said in waiting:
            socket.send(said)

    def until_ended(self, page, runs):
        """Wait until the server has ended so many runs; the browser may not know of it."""
        until = time.monotonic() + PATIENCE / 1000
        while self.ended < runs:
            assert time.monotonic() < until, "the server does not end its run"
            page.wait_for_timeout(20)
