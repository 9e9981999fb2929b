"""How quickly the page answers, and whether its memory grows.

    python tests/benchmarks/page.py [--photos N] [--sheets N]

A photo of 12 megapixels and some 4 MB is given to a real browser; what is
timed begins when its upload is over and ends when the marked picture stands,
and what the server's processor took for it is said beside it, which other work
on the machine changes less. Then marks are added and taken away again, N photos
follow one after the other (default 40; large and small ones, some corrected,
every fifth refused), with sheets of 40 photos between them (default 1), while
the server's memory is looked at.
"""

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import sync_playwright

from counter.basics import words
from counter.page.several import MOST_PHOTOS

sys.path.insert(0, str(Path(__file__).parents[1]))
from browsing import SAMPLES, opened, pressed, served

#: True in the browser where a mark stands: a component keeps its own to itself.
MARKED = "[...document.querySelectorAll('*')].some(one => one.shadowRoot?.querySelector('.mark'))"


def large(folder: Path) -> Path:
    """A sample enlarged to the size of a phone's photo, with the grain of a camera."""
    picture = Image.open(SAMPLES / "blue-disc.jpg").convert("RGB")
    picture = picture.resize((3024, 4032), Image.Resampling.BICUBIC)
    grain = np.random.default_rng(1).normal(0, 6, (picture.height, picture.width, 1))
    path = folder / "large.jpg"
    Image.fromarray(np.clip(np.asarray(picture) + grain, 0, 255).astype(np.uint8)).save(path, quality=92)
    return path


class Server:
    """The process that serves a port.

    Parameters
    ----------
    port : str
    """

    def __init__(self, port: str) -> None:
        lines = {path: path.read_text() for path in Path("/proc").glob("[0-9]*/cmdline") if path.exists()}
        self.at = next(path.parent for path, line in lines.items() if f"--server.port\0{port}\0" in line)

    @property
    def resident(self) -> float:
        """Its memory, MB."""
        return int((self.at / "statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6

    @property
    def spent(self) -> float:
        """Seconds of processor time so far."""
        fields = (self.at / "stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def timed(self, act: Callable[[], object]) -> tuple[float, float]:
        """Seconds that something takes, on the clock and of the server's processor time."""
        began, before = time.perf_counter(), self.spent
        act()
        return time.perf_counter() - began, self.spent - before


def listed(times: list[tuple[float, float]]) -> str:
    return ", ".join(f"{wall:.2f} ({spent:.2f})" for wall, spent in times)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--photos", type=int, default=40)
    options.add_argument("--sheets", type=int, default=1)
    options = options.parse_args()
    with tempfile.TemporaryDirectory() as home, sync_playwright() as driver:
        home = Path(home)
        photo = large(home)
        with served(home) as address, opened(driver, home / "profile", "desk", "light") as page:
            server = Server(address.rpartition(":")[2])
            page.set_default_timeout(15 * 60_000)
            page.goto(address)

            def gives(*paths: Path) -> None:
                # That of the last photo is on its way out.
                page.wait_for_function("document.querySelectorAll('input[type=file]').length == 1", polling=10)
                page.locator('input[type="file"]').set_input_files(paths)

            uploads = []
            page.on("requestfinished", lambda request: request.method == "PUT" and uploads.append(request.timing))

            def marked(path: Path) -> float:
                """Seconds from the end of the upload until the marks stand, by the browser's clock."""
                gives(path)
                # A locator looks but twice a second after a while.
                stood = page.wait_for_function(f"{MARKED} && Date.now()", polling=20).json_value()
                page.wait_for_timeout(200)  # the news of the upload may come later than the marks
                return (stood - uploads[-1]["startTime"] - uploads[-1]["responseEnd"]) / 1000

            def away() -> None:
                pressed(page, words.AGAIN)
                page.locator(".mark").first.wait_for(state="detached")

            def edits() -> list[tuple[float, float]]:
                """A mark taken away and put back, until the total beside the picture follows."""
                total = "document.querySelector('.total').dataset.total"
                before = page.evaluate(total)

                def removed() -> None:
                    page.locator(".mark").nth(5).click()
                    page.wait_for_function(f"{total} != '{before}'", polling=10)

                def undone() -> None:
                    pressed(page, words.UNDO)
                    page.wait_for_function(f"{total} == '{before}'", polling=10)

                return [server.timed(act) for act in (removed, undone)]

            print(f"at the start: {server.resident:.0f} MB", flush=True)
            page.locator('input[type="file"]').first.wait_for(state="attached")
            times = []
            for _ in range(6):
                before = server.spent
                wall = marked(photo)
                times.append((wall, server.spent - before))
                away()
            print(f"{photo.stat().st_size / 1e6:.1f} MB uploaded to marked picture, s (processor):", listed(times))
            marked(photo)
            print("edit to the new total, s (processor):", listed(edits() + edits() + edits()), flush=True)
            away()

            def sheet() -> None:
                samples = sorted(SAMPLES.glob("*.jpg"))
                gives(*(photo if k % 8 == 0 else samples[k % len(samples)] for k in range(MOST_PHOTOS)))
                page.get_by_role("button", name=words.PUT_SHEET_AWAY).wait_for()
                standing = server.resident
                for _ in range(3):
                    pressed(page, words.OPEN)
                    page.locator(".mark").first.wait_for()
                    pressed(page, words.BACK)
                    page.locator(".mark").first.wait_for(state="detached")
                pressed(page, words.PUT_SHEET_AWAY)
                page.get_by_role("button", name=words.PUT_SHEET_AWAY).wait_for(state="detached")
                print(f"a sheet of {MOST_PHOTOS}: {standing:.0f} MB, put away {server.resident:.0f} MB", flush=True)

            for done in range(1, options.photos + 1):
                if done % 5 == 0:
                    gives(SAMPLES / "plate.jpg")
                    page.get_by_text(words.REFUSED).wait_for()
                else:
                    marked(SAMPLES / "blue-disc.jpg" if done % 2 else photo)
                    if done % 3 == 0:
                        edits()
                    away()
                if done % 10 == 0:
                    print(f"after {done} photos: {server.resident:.0f} MB", flush=True)
                if options.sheets and done % max(1, options.photos // options.sheets) == 0:
                    sheet()


if __name__ == "__main__":
    main()
