"""Pictures to lay under pieces: photographs and textures that Debian's packages carry.

None of them is in the repository. Packages are brought by ``apt-get download``
(Debian or a system like it, without installing them) and opened with
``dpkg-deb``; their licences are those of the packages, named in each one's
``/usr/share/doc/PACKAGE/copyright`` (CC BY-SA, GPL and other free licences).
"""

from __future__ import annotations

import io
import subprocess
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

__all__ = ["PACKAGES", "gather"]

#: Wallpapers (landscapes, wood, cloth, drawings) and textures (walls, floors, cloth, metal, grass).
PACKAGES = (
    *("colobot-common-textures", "gimp-data", "gnome-backgrounds", "krita-data", "lomiri-wallpapers"),
    *("lomiri-wallpapers-16.04", "lomiri-wallpapers-20.04", "mate-backgrounds", "nexuiz-textures"),
    *("openarena-081-textures", "plasma-workspace-wallpapers", "sway-backgrounds", "sweethome3d"),
    *("ufoai-textures", "ukui-wallpapers"),
)
#: Side of a ground, pixels, and its JPEG quality; most pictures of one package.
SIDE, QUALITY, MOST = 448, 74, 260
#: Pictures smaller than this, or nearly of one tone, are left out.
LEAST_SIDE, LEAST_SPREAD = 256, 4.0
#: Mean difference (of 255) below which two pictures are the same one.
SAME = 6.0
#: What is no picture of a surface, by parts of its name.
_OTHER = ("_norm", "_local", "_bump", "_gloss", "_glow", "_nm.", "_sm.", "_gm.", "_rm.", "_reflect", "env/", "sky")


def _pictures(folder: Path) -> Iterator[bytes]:
    """The bytes of every picture below a folder, also of those in its archives, by name."""
    for path in sorted(folder.rglob("*")):
        ending = path.suffix.lower()
        if not path.is_file():
            continue
        if ending in (".jpg", ".jpeg", ".png", ".webp", ".tga"):
            yield path.read_bytes()
        elif ending in (".pk3", ".jar"):
            with zipfile.ZipFile(path) as archive:
                for name in sorted(archive.namelist()):
                    low = name.lower()
                    if low.endswith((".jpg", ".jpeg", ".png", ".tga")) and not any(part in low for part in _OTHER):
                        yield archive.read(name)


def _ground(data: bytes) -> np.ndarray | None:
    """A square of a picture, or None where it is no ground."""
    try:
        picture = Image.open(io.BytesIO(data))
        if min(picture.size) < LEAST_SIDE or "A" in picture.getbands():
            return None
        pixels = np.asarray(picture.convert("RGB"))
    except (OSError, ValueError, SyntaxError):
        return None
    mean = pixels.reshape(-1, 3).mean(axis=0)
    normals = mean[2] > 200 and np.abs(mean[:2] - 128).max() < 16
    if pixels.std() < LEAST_SPREAD or normals:
        return None
    side = min(pixels.shape[:2])
    return cv2.resize(pixels[:side, -side:], (SIDE, SIDE), interpolation=cv2.INTER_AREA)


def gather(folder: str | Path, seed: int = 1) -> int:
    """Bring grounds into a folder.

    Parameters
    ----------
    folder : path
        Made where it does not exist; gets JPEG files.
    seed : int
        Of the choice where a package has more than :data:`MOST`.

    Returns
    -------
    int
        How many.

    Raises
    ------
    RuntimeError
        Where packages can't be brought or opened.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    kept: list[np.ndarray] = []
    for package in PACKAGES:
        with tempfile.TemporaryDirectory() as place:
            for command in (["apt-get", "download", package], ["sh", "-c", "dpkg-deb -x ./*.deb ."]):
                done = subprocess.run(command, cwd=place, capture_output=True, text=True, check=False)
                if done.returncode:
                    raise RuntimeError(f"{package}: {done.stderr.strip() or 'could not be brought'}")
            found = [ground for data in _pictures(Path(place)) if (ground := _ground(data)) is not None]
        order = np.random.default_rng(seed).permutation(len(found))[:MOST]
        for ground in (found[index] for index in order):
            small = cv2.resize(ground, (16, 16), interpolation=cv2.INTER_AREA).astype(float)
            if all(np.abs(small - other).mean() >= SAME for other in kept):
                kept.append(small)
                path = folder / f"{package}-{len(kept):04d}.jpg"
                cv2.imwrite(str(path), ground[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    return len(kept)
