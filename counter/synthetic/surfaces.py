"""Table tops: wood, cloth, paper, cutting mat, stone and printed patterns."""

from __future__ import annotations

import cv2
import numpy as np

__all__ = ["SURFACES", "from_srgb", "noise", "surface"]


def from_srgb(value) -> np.ndarray:
    """sRGB 0 to 1, or "#rrggbb", to linear (IEC 61966-2-1)."""
    if isinstance(value, str):
        value = [int(value[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    v = np.asarray(value, dtype=float)
    return np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0.04045) + 0.055) / 1.055) ** 2.4)


def noise(rng: np.random.Generator, shape: tuple[int, int], cells: tuple[float, float], octaves: int = 4) -> np.ndarray:
    """Cloudy noise of unit spread.

    Parameters
    ----------
    rng : numpy.random.Generator
    shape : tuple of int
        (rows, columns).
    cells : tuple of float
        How many blobs lie down and across at the coarsest octave.
    octaves : int

    Returns
    -------
    ndarray of shape `shape`, float32
    """
    total = np.zeros(shape, np.float32)
    for k in range(octaves):
        rows = int(np.clip(cells[0] * 2**k, 2, shape[0])) + 2
        columns = int(np.clip(cells[1] * 2**k, 2, shape[1])) + 2
        grid = rng.normal(size=(rows, columns)).astype(np.float32)
        total += 0.55**k * cv2.resize(grid, shape[::-1], interpolation=cv2.INTER_CUBIC)
    return (total - total.mean()) / max(float(total.std()), 1e-6)


def _tinted(base: np.ndarray, shade: np.ndarray) -> np.ndarray:
    return np.clip(base[None, None, :] * shade[..., None], 0.004, 0.93)


def _turned(size: int, mm: float, angle: float) -> tuple[np.ndarray, np.ndarray]:
    y, x = np.mgrid[0:size, 0:size].astype(np.float32) * mm
    c, s = np.cos(angle), np.sin(angle)
    return c * x + s * y, -s * x + c * y


def _spin(picture: np.ndarray, angle: float) -> np.ndarray:
    size = picture.shape[0]
    # Scaled so that the corners stay filled.
    matrix = cv2.getRotationMatrix2D((size / 2, size / 2), np.degrees(angle), 1.45)
    return cv2.warpAffine(
        picture.astype(np.float32), matrix, (size, size), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    )


def _wood(rng, size, mm):
    base = from_srgb(rng.choice(["#a9793f", "#7a4f2c", "#c9a26b", "#5b4636", "#b58d63", "#8d7a66", "#d8c3a0"]))
    extent = size * mm
    bands = noise(rng, (size, size), (extent / 9, max(2, extent / 350)), 4)
    warp = noise(rng, (size, size), (extent / 60, max(2, extent / 200)), 2)
    pores = noise(rng, (size, size), (extent / 1.2, extent / 25), 2)
    grain = np.sin(2.5 * bands + 1.6 * warp)
    shade = np.exp(0.13 * grain + 0.10 * bands + 0.07 * pores)
    width = rng.uniform(60, 160)
    if rng.random() < 0.6:
        row = (np.arange(size) * mm + rng.uniform(0, width)) % width
        seam = np.exp(-((np.minimum(row, width - row) / 0.7) ** 2))
        plank = ((np.arange(size) * mm) // width).astype(int)
        shade *= np.exp(rng.normal(0, 0.12, plank.max() + 2)[plank])[:, None]
        shade *= (1 - 0.75 * seam)[:, None]
    picture = _tinted(base, shade)
    picture *= 1 + 0.05 * warp[..., None] * np.array([1, 0, -1])
    return _spin(picture, rng.uniform(0, 2 * np.pi))


_CLOTHS = (
    "#e6e0d3",
    "#cfc3ad",
    "#b3a48c",
    "#8c8f93",
    "#5c626b",
    "#3b3f46",
    "#dfe4e8",
    "#9fb0bd",
    "#5f7f96",
    "#34506b",
    "#7d8f78",
    "#a8b59a",
    "#b98a7a",
    "#c9a7a0",
    "#8a6f86",
    "#c2a25a",
    "#7a5a45",
    "#27282b",
)


def _dyed(rng):
    base = from_srgb(str(rng.choice(_CLOTHS)))
    return np.clip(base * np.exp(rng.normal(0, 0.06, 3)) * np.exp(rng.normal(0, 0.12)), 0.01, 0.85)


def _cloth(rng, size, mm):
    first = _dyed(rng)
    second = np.clip(first * rng.uniform(0.7, 1.25), 0, 0.9)
    pitch = max(rng.uniform(0.8, 2.2), 2.5 * mm)
    u, v = _turned(size, mm, rng.uniform(0, np.pi))
    u = u + 0.12 * pitch * noise(rng, (size, size), (size * mm / 12, size * mm / 12), 2)
    v = v + 0.12 * pitch * noise(rng, (size, size), (size * mm / 12, size * mm / 12), 2)
    over = ((np.floor(u / pitch) + np.floor(v / pitch)) % 2).astype(np.float32)
    across = np.where(over > 0, np.abs((u / pitch) % 1 - 0.5), np.abs((v / pitch) % 1 - 0.5))
    ends = np.where(over > 0, np.abs((v / pitch) % 1 - 0.5), np.abs((u / pitch) % 1 - 0.5))
    shade = (1 - 1.6 * across**2) * (1 - 1.2 * ends**2)
    slub = noise(rng, (size, size), (size * mm / 4, size * mm / 40), 3) + noise(
        rng, (size, size), (size * mm / 40, size * mm / 4), 3
    )
    shade *= np.exp(0.06 * slub)
    return np.where(over[..., None] > 0, _tinted(first, shade), _tinted(second, shade))


def _paper(rng, size, mm):
    tone = rng.choice(["#f2efe8", "#e9e4d8", "#dfe3e6", "#cfc6b4", "#f7f7f5", "#b9b4aa", "#9aa3a8", "#c7b6a6"])
    base = from_srgb(tone)
    shade = 1 + 0.012 * noise(rng, (size, size), (size / 3, size / 3), 2) + 0.02 * noise(rng, (size, size), (3, 3), 3)
    return _tinted(base, shade)


def _mat(rng, size, mm):
    base = from_srgb(rng.choice(["#1f6b52", "#1d4f86", "#5b5f66", "#a6527c", "#2c2f33", "#2f7f86"]))
    shade = 1 + 0.03 * noise(rng, (size, size), (size / 3, size / 3), 2) + 0.04 * noise(rng, (size, size), (5, 5), 3)
    picture = _tinted(base, shade)
    u, v = _turned(size, mm, rng.uniform(0, np.pi))
    ink = np.clip(base * 0.4 + 0.45, 0, 0.9)
    for step, thick, strong in ((10.0, 0.22, 0.45), (50.0, 0.35, 0.85)):
        thick = max(thick, 0.8 * mm)
        for axis in (u, v):
            near = np.abs((axis / step + 0.5) % 1 - 0.5) * step
            line = np.clip(1.5 - near / thick, 0, 1)[..., None] * strong
            picture = picture * (1 - line) + ink * line
    return picture


def _stone(rng, size, mm):
    base = from_srgb(rng.choice(["#e8e6e3", "#6f7275", "#3a3b3e", "#b9b2a8", "#d6d0c6", "#8f8a86"]))
    cloud = noise(rng, (size, size), (4, 4), 6)
    vein = np.abs(noise(rng, (size, size), (3, 5), 5) + 0.5 * cloud)
    line = np.exp(-((vein / 0.05) ** 2)) * np.clip(noise(rng, (size, size), (3, 3), 2), 0, 1.5)
    speck = noise(rng, (size, size), (size / 2, size / 2), 1)
    return _tinted(base, np.exp(0.08 * cloud - rng.uniform(0, 0.7) * line + 0.04 * speck))


def _weave_shade(rng, size, mm):
    u, v = _turned(size, mm, rng.uniform(0, np.pi))
    pitch = max(0.7, 2.2 * mm)
    return (
        1
        - 0.10 * np.cos(2 * np.pi * u / pitch) * np.cos(2 * np.pi * v / pitch)
        + 0.03 * noise(rng, (size, size), (8, 8), 4)
    )


def _ink(rng):
    hue = rng.uniform(0, 180)
    hsv = np.uint8([[[hue, rng.uniform(70, 210), rng.uniform(60, 220)]]])
    return from_srgb(cv2.cvtColor(hsv, cv2.COLOR_HSV2RGB)[0, 0] / 255.0)


def _gingham(rng, size, mm):
    ink, ground = _ink(rng), from_srgb("#f1ede6")
    pitch = rng.uniform(6, 22)
    u, v = _turned(size, mm, rng.uniform(0, np.pi))
    part = 0.5 * (((u / pitch) % 1 < 0.5).astype(np.float32) + ((v / pitch) % 1 < 0.5))
    picture = ground * (1 - part[..., None]) + ink * part[..., None]
    return picture * _weave_shade(rng, size, mm)[..., None]


def _dots(rng, size, mm):
    ink, ground = (_ink(rng), from_srgb("#eeeae2")) if rng.random() < 0.5 else (from_srgb("#eeeae2"), _ink(rng))
    pitch = rng.uniform(7, 25)
    u, v = _turned(size, mm, rng.uniform(0, np.pi))
    row = np.floor(v / pitch)
    du, dv = (u / pitch + 0.5 * (row % 2)) % 1 - 0.5, (v / pitch) % 1 - 0.5
    dot = np.clip((rng.uniform(0.14, 0.28) - np.hypot(du, dv)) * pitch / mm + 0.5, 0, 1)[..., None]
    return (ground * (1 - dot) + ink * dot) * _weave_shade(rng, size, mm)[..., None]


def _stripes(rng, size, mm):
    ink, ground = _ink(rng), from_srgb("#e6e1d8")
    pitch = rng.uniform(8, 45)
    u, _ = _turned(size, mm, rng.uniform(0, np.pi))
    part = ((u / pitch) % 1 < rng.uniform(0.25, 0.6)).astype(np.float32)[..., None]
    return (ground * (1 - part) + ink * part) * _weave_shade(rng, size, mm)[..., None]


def _leaves(rng, size, mm):
    ground = from_srgb(rng.uniform(0.15, 0.9, 3))
    picture = np.broadcast_to(ground.astype(np.float32), (size, size, 3)).copy()
    inks = [_ink(rng) for _ in range(3)]
    for _ in range(int(np.clip((size * mm / 22) ** 2, 30, 900))):
        at = rng.uniform(0, size, 2).astype(int)
        axes = (int(max(2, rng.uniform(4, 9) / mm)), int(max(1, rng.uniform(1.5, 4) / mm)))
        colour = inks[rng.integers(3)].tolist()
        cv2.ellipse(picture, (int(at[0]), int(at[1])), axes, rng.uniform(0, 180), 0, 360, colour, -1, cv2.LINE_AA)
    return picture * _weave_shade(rng, size, mm)[..., None]


def _towel(rng, size, mm):
    base = _dyed(rng)
    loops = noise(rng, (size, size), (size * mm / 1.6, size * mm / 1.6), 2)
    return _tinted(base, np.exp(0.16 * loops + 0.05 * noise(rng, (size, size), (6, 6), 3)))


#: Every table top: name -> (maker, True where it is a printed or busy pattern).
SURFACES = {
    "wood": (_wood, False),
    "cloth": (_cloth, False),
    "paper": (_paper, False),
    "mat": (_mat, True),
    "stone": (_stone, False),
    "gingham": (_gingham, True),
    "dots": (_dots, True),
    "bands": (_stripes, True),
    "leaves": (_leaves, True),
    "towel": (_towel, False),
}


def surface(kind: str, rng: np.random.Generator, size: int, mm: float) -> np.ndarray:
    """Picture of a table top.

    Parameters
    ----------
    kind : str
        A key of :data:`SURFACES`.
    rng : numpy.random.Generator
    size : int
        Pixels on a side.
    mm : float
        Millimetres to a pixel.

    Returns
    -------
    ndarray of shape (size, size, 3), float32
        Linear RGB reflectance, 0 to 1.
    """
    return np.clip(SURFACES[kind][0](rng, size, mm), 0.003, 0.95).astype(np.float32)
