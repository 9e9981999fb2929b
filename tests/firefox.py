"""Firefox led over WebDriver BiDi (https://w3c.github.io/webdriver-bidi/), which it speaks by itself.

Playwright drives a Firefox of its own build only; Debian's ``firefox-esr`` is the one that people have.
"""

import base64
import contextlib
import json
import re
import shutil
import subprocess
import time

from browsing import PATIENCE
from websockets.sync.client import connect

FIREFOX = shutil.which("firefox-esr") or shutil.which("firefox")
#: Finds what stands behind the shadow roots of components, too.
DEEP = """
const deep = (selector, root = document) => {
  const found = [...root.querySelectorAll(selector)];
  for (const one of root.querySelectorAll("*")) if (one.shadowRoot) found.push(...deep(selector, one.shadowRoot));
  return found;
};
"""


class Firefox:
    """One window of it.

    Parameters
    ----------
    link : connection
        To its WebSocket.
    """

    def __init__(self, link):
        self.link, self.serial = link, 0
        self.ask("session.new", capabilities={})
        self.context = self.ask("browsingContext.getTree")["contexts"][0]["context"]

    def ask(self, method, **params):
        """What the browser answers to one command; raises ``RuntimeError`` where it refuses."""
        self.serial += 1
        self.link.send(json.dumps({"id": self.serial, "method": method, "params": params}))
        while True:
            said = json.loads(self.link.recv(timeout=PATIENCE / 1000))
            if said.get("id") == self.serial:
                if said["type"] == "error":
                    raise RuntimeError(f"{method}: {said['message']}")
                return said["result"]

    def go(self, url):
        """Open an address."""
        self.ask("browsingContext.navigate", context=self.context, url=url, wait="complete")

    def window(self, width, height):
        """Give the page so much room, in pixels."""
        self.ask("browsingContext.setViewport", context=self.context, viewport={"width": width, "height": height})

    def value(self, expression):
        """The value of an expression in the page, which may use ``deep``."""
        said = self.ask(
            "script.evaluate", expression=f"(() => {{ {DEEP} return JSON.stringify(({expression}) ?? null); }})()",
            target={"context": self.context}, awaitPromise=True,
        )  # fmt: skip
        if said["type"] == "exception":
            raise RuntimeError(said["exceptionDetails"]["text"])
        return json.loads(said["result"]["value"])

    def wait(self, expression):
        """Wait until an expression is true, and give its value."""
        until = time.monotonic() + PATIENCE / 1000
        while not (value := self.value(expression)):
            if time.monotonic() > until:
                raise AssertionError(f"never true in Firefox: {expression}")
            time.sleep(0.1)
        return value

    def drop(self, path):
        """Choose a file in the page's box for photos."""
        self.wait("deep('input[type=file]').length")
        (node,) = self.ask(
            "browsingContext.locateNodes", context=self.context,
            locator={"type": "css", "value": '[data-testid="stFileUploader"] input[type="file"]'},
        )["nodes"]  # fmt: skip
        self.ask("input.setFiles", context=self.context, element={"sharedId": node["sharedId"]}, files=[str(path)])

    def tap(self, selector, kind="touch"):
        """Touch the middle of the first thing of that selector, by a real pointer."""
        self.wait(f"deep({json.dumps(selector)}).length")
        x, y = self.value(
            f"(() => {{ const e = deep({json.dumps(selector)})[0]; e.scrollIntoView({{ block: 'center' }});"
            " const b = e.getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2]; })()"
        )
        moves = [
            {"type": "pointerMove", "x": round(x), "y": round(y)},
            {"type": "pointerDown", "button": 0},
            {"type": "pause", "duration": 40},
            {"type": "pointerUp", "button": 0},
        ]
        finger = {"type": "pointer", "id": kind, "parameters": {"pointerType": kind}, "actions": moves}
        self.ask("input.performActions", context=self.context, actions=[finger])

    def type(self, text):
        """Press keys where the focus is."""
        keys = [{"type": f"key{way}", "value": key} for key in text for way in ("Down", "Up")]
        self.ask("input.performActions", context=self.context, actions=[{"type": "key", "id": "keys", "actions": keys}])

    def picture(self):
        """What is seen, as PNG."""
        return base64.b64decode(self.ask("browsingContext.captureScreenshot", context=self.context)["data"])


@contextlib.contextmanager
def firefox(folder):
    """A Firefox with a fresh profile in a folder, which ends with the block."""
    (folder / "profile").mkdir()
    with (folder / "firefox").open("w+") as log:
        process = subprocess.Popen(
            [FIREFOX, "--headless", "--no-remote", "--profile", str(folder / "profile"), "--remote-debugging-port", "0"],
            stdout=log, stderr=subprocess.STDOUT,
        )  # fmt: skip
        try:
            until, found = time.monotonic() + PATIENCE / 1000, None
            while not found:
                assert process.poll() is None and time.monotonic() < until, "Firefox did not start"
                time.sleep(0.2)
                found = re.search(r"WebDriver BiDi listening on (ws://\S+)", (folder / "firefox").read_text())
            with connect(f"{found[1]}/session", max_size=None) as link:
                yield Firefox(link)
        finally:
            process.terminate()
            process.wait(20)
