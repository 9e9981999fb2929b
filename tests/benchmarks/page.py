"""How quickly the page answers, and whether its memory grows.

    python tests/benchmarks/page.py [--photos N]

A photo of 12 megapixels and some 4 MB is given to a real browser; what is
timed begins when its bytes are read and ends when the marked picture stands.
Then marks are added and taken away again, and N photos follow one after the
other (default 40) while the server's memory is looked at.
"""

import argparse
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))
from browsing import SAMPLES, opened, pressed, served  # noqa: E402


def large(folder: Path) -> Path:
    """A sample enlarged to 12 megapixels, with the grain of a camera."""
    picture = Image.open(SAMPLES / "blue-disc.jpg").convert("RGB")
    zoom = (12e6 / (picture.width * picture.height)) ** 0.5
    picture = picture.resize((round(picture.width * zoom), round(picture.height * zoom)), Image.Resampling.BICUBIC)
    grain = np.random.default_rng(1).normal(0, 4, (picture.height, picture.width, 1))
    path = folder / "large.jpg"
    Image.fromarray(np.clip(np.asarray(picture) + grain, 0, 255).astype(np.uint8)).save(path, quality=88)
    return path


def resident(port: str) -> float:
    """Memory of the process that serves a port, MB."""
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if f"--server.port\0{port}" in (process / "cmdline").read_text():
                return int((process / "statm").read_text().split()[1]) * 4096 / 1e6
        except OSError:
            continue
    raise RuntimeError("the server is gone")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--photos", type=int, default=40)
    photos = options.parse_args().photos
    with tempfile.TemporaryDirectory() as home, sync_playwright() as driver:
        home = Path(home)
        photo = large(home)
        with served(home) as address, opened(driver, home / "profile", "desk", "light") as page:
            page.goto(address)
            times = []
            for _ in range(4):
                page.locator('input[type="file"]').first.wait_for(state="attached")
                began = time.perf_counter()
                page.locator('input[type="file"]').first.set_input_files(photo)
                page.locator(".mark").first.wait_for()
                times.append(time.perf_counter() - began)
                pressed(page, "Another photo")
                page.locator(".mark").first.wait_for(state="detached")
            print(f"{photo.stat().st_size / 1e6:.1f} MB photo to marked picture, s:", *(f"{t:.2f}" for t in times))

            page.locator('input[type="file"]').first.set_input_files(SAMPLES / "blue-disc.jpg")
            page.locator(".mark").first.wait_for()
            marks, times = page.locator(".mark").count(), []
            for step in range(6):
                began = time.perf_counter()
                page.locator(".mark").nth(5).click() if step % 2 == 0 else pressed(page, "Undo")
                wanted = marks - 1 if step % 2 == 0 else marks
                page.wait_for_function(f"document.querySelector('.total').dataset.total == '{wanted}'", polling=10)
                times.append(time.perf_counter() - began)
            print("edit to the new total beside the picture, s:", *(f"{t:.2f}" for t in times))

            port = address.rpartition(":")[2]
            for done in range(photos):
                pressed(page, "Another photo")
                page.locator(".mark").first.wait_for(state="detached")
                page.locator('input[type="file"]').first.set_input_files(photo if done % 2 else SAMPLES / "blue-disc.jpg")
                page.locator(".mark").first.wait_for()
                if done % 10 == 9:
                    print(f"after {done + 1} photos: {resident(port):.0f} MB", flush=True)


if __name__ == "__main__":
    main()
