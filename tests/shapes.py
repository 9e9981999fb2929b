"""Drawings from package registries, as evidence for the closed-loop counter.

Nothing here knows how many parts a drawing has, and every drawing is treated
alike: it is looked at round its middle, on the ring where it shows most
contrast.
"""

import io
import shutil
import subprocess
import tarfile

import numpy as np
from PIL import Image
from scipy import ndimage
from skimage.transform import warp_polar

from counter.counting.loop.evidence import Evidence

#: Side of a drawing in pixels.
SIDE = 512
#: Places round the middle, and looks at each (averaged).
PLACES, FINER = 240, 4
#: Evidence of full contrast, in nats before it is normalised.
STRENGTH = 3.0


class NotHere(Exception):
    """A package can't be had, and why."""


def package(name: str, version: str, folder) -> tarfile.TarFile:
    """A package of the npm registry, fetched by name and version and kept in a folder."""
    kept = folder / f"{name.replace('/', '-').lstrip('@')}-{version}.tgz"
    if not kept.exists():
        npm = shutil.which("npm")
        if npm is None:
            raise NotHere("npm is not installed")
        asked = [npm, "pack", "--silent", "--ignore-scripts", f"{name}@{version}"]
        try:
            done = subprocess.run(asked, cwd=folder, capture_output=True, text=True, timeout=60)
        except subprocess.TimeoutExpired as error:
            raise NotHere("the npm registry did not answer within a minute") from error
        if done.returncode or not kept.exists():
            raise NotHere(f"npm could not fetch {name}@{version}: {done.stderr.strip().splitlines()[-1:] or 'no word'}")
    return tarfile.open(kept)


def raster(drawing: str) -> np.ndarray:
    """An SVG drawing on white paper, shape (SIDE, SIDE, 3), 0 to 1."""
    import resvg_py

    png = resvg_py.svg_to_bytes(
        svg_string=drawing, width=SIDE, height=SIDE, background="#ffffff", skip_system_fonts=True
    )
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGB"), float) / 255


def evidence_round_the_middle(picture: np.ndarray) -> Evidence:
    """Evidence from the ring of most contrast: its two extremes are middles and gaps.

    Which extreme is which does not matter to the count. Both ratios are
    normalised round the ring, as a likelihood ratio against any other place is:
    the mean of exp(ratio) is 1.
    """
    middle = (SIDE - 1) / 2
    polar = warp_polar(
        picture,
        center=(middle, middle),
        radius=SIDE / 2,
        output_shape=(PLACES * FINER, SIDE // 2),
        channel_axis=2,
    )
    rings = polar.reshape(PLACES, FINER, SIDE // 2, 3).mean(axis=1)
    rings = ndimage.gaussian_filter1d(rings, 3, axis=1)
    ring = rings[:, int(np.argmax(rings.var(axis=0).sum(axis=1)))]
    # One number a place: the colour along the line on which the ring's colours vary most.
    directions, _, _ = np.linalg.svd(ring - ring.mean(axis=0), full_matrices=False)
    low, high = np.percentile(directions[:, 0], [5, 95])
    level = STRENGTH * np.clip(2 * (directions[:, 0] - low) / (high - low) - 1, -1, 1)
    return Evidence(
        middle=level - np.log(np.exp(level).mean()),
        gap=-level - np.log(np.exp(-level).mean()),
        seen=np.ones(PLACES),
    )
