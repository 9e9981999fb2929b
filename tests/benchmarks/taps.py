"""How many taps and seconds it takes a simulated thumb from opening the page to a right count.

    python tests/benchmarks/taps.py [FOLDER]

walks through the photos of a folder with truth files (default: the samples),
in a phone's window, with touches that scatter by 5 pixels (`tests/thumb.py`).
The thumb belongs to a person who sees: it knows the true marks, and so which
questions to answer how and which marks to put right. Opening the phone's choice
of photos and picking one are two taps. Seconds are those of a thumb that waits
half a second before each touch, and of this machine.
"""

import argparse
import json
import math
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import TimeoutError as Waited
from playwright.sync_api import sync_playwright

from counter.basics import words

sys.path.insert(0, str(Path(__file__).parents[1]))
from browsing import PACE, SAMPLES, opened, served
from thumb import Thumb

#: Marks that lie nearer than this share of a stitch are the same.
SAME = 0.5
#: Most corrections before the thumb gives up.
MOST = 12


def marks(page) -> list[tuple[float, float]]:
    """The marks that stand, in pixels of the photo."""
    return page.locator(".stage .mark .halo").evaluate_all(
        "(all) => all.map((one) => [one.cx.baseVal.value, one.cy.baseVal.value])"
    )


def matched(stand, true) -> tuple[list[int], list[tuple[float, float]]]:
    """Numbers from 1 of the marks that are no stitches, and stitches that have no mark."""
    steps = sorted(math.dist(one, true[k - 1]) for k, one in enumerate(true))
    pitch = steps[len(steps) // 2]
    pairs = sorted(
        (math.dist(one, other), i, j)
        for i, one in enumerate(stand)
        for j, other in enumerate(true)
        if math.dist(one, other) < 1.2 * pitch
    )
    left, right = set(range(len(stand))), set(range(len(true)))
    for _, i, j in pairs:
        if i in left and j in right:
            left.discard(i)
            right.discard(j)
    return [i + 1 for i in sorted(left)], [true[j] for j in sorted(right)]


class Walk:
    """One photo, from the start page on."""

    def __init__(self, page, truth: dict) -> None:
        self.page, self.truth, self.thumb = page, truth, Thumb(page, seed=7)
        self.true = [tuple(at) for at in truth["marks"]]

    def standing(self) -> str:
        total = self.page.locator(".total")
        return total.get_attribute("data-total") if total.count() else "refused"

    @property
    def settled(self) -> bool:
        state = self.page.locator(".answer .pill")
        return bool(state.count()) and state.text_content() in (words.SURE, words.YOURS)

    def rest(self) -> None:
        self.page.wait_for_timeout(300)
        self.page.locator('[data-testid="stApp"][data-test-script-state="notRunning"]').wait_for()

    def press(self, name: str) -> None:
        self.thumb.tap(self.page.get_by_role("button", name=name).first)
        self.rest()

    def begin(self, photo: Path) -> None:
        self.rest()
        with self.page.expect_file_chooser() as choice:
            self.thumb.tap(self.page.get_by_role("button", name=words.TAKE))
        self.thumb.taps += 1
        choice.value.set_files(photo)
        self.page.locator(".total, .verdict").first.wait_for()
        self.rest()

    def show(self) -> None:
        """Show the piece in a photo that was refused: its middle and its edge."""
        svg = self.page.locator(".show-piece svg")
        wide = float(svg.get_attribute("viewBox").split()[2])
        svg.evaluate("(e) => e.scrollIntoView({ block: 'center' })")
        box = svg.bounding_box()
        grain = box["width"] / wide
        x, y = self.truth["centre"]
        edge = max(self.true, key=lambda at: math.dist(at, (x, y)))
        for place in ((x, y), edge):
            self.thumb.look()
            self.thumb.touch(box["x"] + grain * place[0], box["y"] + grain * place[1])
        self.press(words.SHOW_COUNT)
        self.page.locator(".total, .verdict").first.wait_for()
        self.rest()

    def correct(self) -> None:
        """Put one mark right, where its question is or by hand; nothing where all are."""
        extra, missing = matched(marks(self.page), self.true)
        change = -1 if extra else 1
        at = marks(self.page)[extra[0] - 1] if extra else missing[0]
        if self.answered(at, change):
            return
        if extra:
            self.thumb.remove(extra[0])
        else:
            near = min(range(len(marks(self.page))), key=lambda k: math.dist(marks(self.page)[k], at))
            self.thumb.choose(near + 1)
            self.thumb.tap(self.page.locator(".loupe .more"))
        self.rest()
        self.page.wait_for_timeout(PACE)
        self.thumb.tap(self.page.locator(".loupe .off"))
        self.page.wait_for_timeout(PACE)

    def answered(self, at, change: int) -> bool:
        """Answer the question about a place, where there is one that offers the change."""
        steps = sorted(math.dist(one, self.true[k - 1]) for k, one in enumerate(self.true))
        asked = self.page.evaluate(
            """() => [...document.querySelectorAll('*')].map((one) => one.shadowRoot?.querySelector('.rim'))
                .filter(Boolean).flatMap((rim) => [...rim.querySelectorAll('.ask')].map((card) => [
                    Number(card.dataset.x), Number(card.dataset.y),
                    [...card.querySelectorAll('.answers button')].map((one) => Number(one.dataset.change)),
                    card.querySelector('[aria-pressed=true]') !== null]))"""
        )
        for k, (x, y, changes, done) in enumerate(asked):
            if not done and change in changes and math.dist((x, y), at) < 1.2 * steps[len(steps) // 2]:
                card = self.page.locator(".ask").nth(k)
                self.thumb.tap(card.locator(".answers button").nth(changes.index(change)))
                self.rest()
                return True
        return False

    def under_way(self) -> None:
        done = self.truth["in_progress"]["done"]
        option = self.page.get_by_role("radio", name=words.NOT_YET)
        self.thumb.tap(option)
        self.rest()
        stand = marks(self.page)
        for end, button in ((self.true[0], "starts"), (self.true[done - 1], "made")):
            near = min(range(len(stand)), key=lambda k: math.dist(marks(self.page)[k], end))
            if button == "starts" and near == 0:
                continue
            self.thumb.choose(near + 1)
            self.thumb.tap(self.page.locator(f".loupe .{button}"))
            self.rest()

    def go(self, photo: Path) -> str:
        """Walk to a right count; gives what it had to do."""
        self.begin(photo)
        kind = "sure" if self.settled else "not sure"
        if self.standing() == "refused":
            if self.truth["refuse"]:
                return "refused, rightly"
            kind = "refused, shown by hand"
            self.show()
            if self.standing() == "refused":
                return "refused again"
        if self.truth.get("in_progress"):
            self.under_way()
            right = self.standing() == str(self.truth["in_progress"]["done"])
            return "in progress" if right else f"in progress, {self.standing()} made"
        extra, missing = matched(marks(self.page), self.true)
        if extra or missing:
            kind += f", {len(extra) + len(missing)} marks wrong"
        for _ in range(MOST):
            if not any(matched(marks(self.page), self.true)):
                break
            self.correct()
        if not self.settled:
            button = self.page.locator(".st-key-confirm button")
            self.thumb.tap(button)
            self.rest()
        return kind if self.standing() == str(self.truth["stitches"]) and self.settled else kind + ", not put right"


def main(folder: Path) -> None:
    print(f"{'photo':30} {'way':38} {'taps':>5} {'seconds':>8}")
    with (
        tempfile.TemporaryDirectory() as home,
        served(Path(home), []) as address,
        sync_playwright() as driver,
        opened(driver, Path(home) / "profile", "phone", "light") as page,
    ):
        for photo in sorted(folder.glob("*.jpg")):
            page.goto(address)
            page.get_by_role("button", name=words.TAKE).wait_for()
            page.wait_for_timeout(1500)
            walk = Walk(page, json.loads(photo.with_suffix(".json").read_text(encoding="utf-8")))
            began = time.monotonic()
            try:
                way = walk.go(photo)
            except (AssertionError, Waited) as error:
                way = f"given up: {str(error).splitlines()[0][:60]}"
            print(f"{photo.stem:30} {way:38} {walk.thumb.taps:5} {time.monotonic() - began:8.1f}", flush=True)
            page.evaluate("sessionStorage.clear(); localStorage.clear()")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, nargs="?", default=SAMPLES)
    main(parser.parse_args().folder)
