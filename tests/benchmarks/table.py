"""What a count costs beside decoding and beside a plain pipeline: ``python tests/benchmarks/table.py [PHOTO] [--quick]``

One photo (``sample_images/blue-disc.jpg`` by default) is brought to 2, 12, 24
and 48 megapixels and written as JPEG, PNG and HEIC. Each row is measured in
processes of its own, one after the other, on one core and on two: decoding
alone (OpenCV; libheif for HEIC), a plain pipeline of scikit-image (decoded,
grey, smoothed, Otsu's threshold, the largest region, its rim laid straight,
the strongest period along it), and a whole count. Processor time and clock are
medians of a few turns, memory is the peak of the process. Compare ratios
within a run: a machine's own speed says nothing about the program.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

SAMPLE = Path(__file__).parents[2] / "sample_images" / "blue-disc.jpg"
MEGAPIXELS, FORMATS, CORES = (2, 12, 24, 48), ("jpg", "png", "heic"), (1, 2)
TURNS = 3


def decoded(path: str) -> np.ndarray:
    """Decode alone."""
    if path.endswith(".heic"):
        import pillow_heif

        return np.asarray(pillow_heif.open_heif(path))
    return cv2.imread(path, cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)


def plain(path: str) -> float:
    """Stitches as a plain pipeline would tell them."""
    from skimage import color, filters, measure, transform

    grey = color.rgb2gray(decoded(path))
    smooth = filters.gaussian(grey, 2)
    regions = measure.regionprops(measure.label(smooth < filters.threshold_otsu(smooth)))
    largest = max(regions, key=lambda region: region.area)
    radius = largest.equivalent_diameter_area / 2
    strip = transform.warp_polar(grey, center=largest.centroid, radius=1.2 * radius, output_shape=(1440, 240))
    rim = strip[:, 160:200].mean(axis=1)
    return float(np.argmax(np.abs(np.fft.rfft(rim - rim.mean()))[6:200]) + 6)


def ours(path: str) -> object:
    """A whole count."""
    from counter.counting.count import count_photo

    return count_photo(path)


WAYS = {"decode": decoded, "plain": plain, "ours": ours}


def child(way: str, path: str, cores: int) -> None:
    """Measure one way in this process, and print what it took."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:cores])
    cv2.setNumThreads(cores)
    WAYS[way](path)  # what is loaded once is loaded
    spent, waited = [], []
    for _ in range(TURNS):
        began, at = time.process_time(), time.perf_counter()
        WAYS[way](path)
        spent.append(time.process_time() - began)
        waited.append(time.perf_counter() - at)
    memory = 0.0
    if os.path.exists("/proc/self/status"):
        memory = int(Path("/proc/self/status").read_text().partition("VmHWM:")[2].split()[0]) / 1024
    print(json.dumps([statistics.median(spent), statistics.median(waited), memory]))


def main(given: list[str]) -> None:
    """Print the table."""
    import pillow_heif

    pillow_heif.register_heif_opener()
    quick = "--quick" in given
    photos = [name for name in given if not name.startswith("--")]
    picture = cv2.imread(str(photos[0] if photos else SAMPLE))
    print(
        "| megapixels | file | cores | decode | plain, times that | ours, times that | clock | MB decode / plain / ours |"
    )
    print("|---|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for megapixels in (12,) if quick else MEGAPIXELS:
            share = (megapixels * 1e6 / picture[..., 0].size) ** 0.5
            large = cv2.resize(picture, None, fx=share, fy=share, interpolation=cv2.INTER_CUBIC)
            large = Image.fromarray(np.ascontiguousarray(large[..., ::-1]))
            for form in FORMATS:
                path = f"{folder}/{megapixels}.{form}"
                large.save(path, **({"quality": 92} if form != "png" else {"compress_level": 3}))
                for cores in CORES:
                    took = {}
                    for way in WAYS:
                        run = [sys.executable, __file__, "--child", way, path, str(cores)]
                        took[way] = json.loads(subprocess.run(run, capture_output=True, text=True, check=True).stdout)
                    base = took["decode"][0]
                    memory = " / ".join(f"{took[way][2]:.0f}" for way in WAYS)
                    print(
                        f"| {megapixels} | {form} | {cores} | {base:.3f} s | {took['plain'][0] / base:.1f} "
                        f"| {took['ours'][0] / base:.1f} | {took['ours'][1]:.2f} s | {memory} |",
                        flush=True,
                    )


if __name__ == "__main__":
    if "--child" in sys.argv:
        child(sys.argv[2], sys.argv[3], int(sys.argv[4]))
    else:
        main(sys.argv[1:])
