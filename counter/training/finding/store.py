"""Photos in layers, cut to their piece and ready to be laid on other grounds.

Everything is kept as bytes on the device that trains, for a few thousand
photos; pictures are drawn from it in batches by :mod:`counter.training.finding.scenes`.
"""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
from scipy import interpolate, ndimage

from counter.counting.band import MARK_DEPTH
from counter.synthetic.layer_set import read_layers
from counter.synthetic.layers import TABLE_REFLECTANCE

__all__ = ["SIDE", "Store", "read_grounds"]

#: Side of a stored picture, pixels.
SIDE = 512
#: A stored picture shows the piece with so much around it, in diameters.
AROUND = 1.9
#: Points by which a rim is kept.
POINTS = 1536
#: Side of a stored ground, pixels.
GROUND = 512


@dataclass(frozen=True, eq=False)
class Store:
    """Layers on a device.

    Parameters
    ----------
    pixels : tensor of shape (K, 3, SIDE, SIDE), uint8
        sRGB, on grey.
    cover : tensor of shape (K, 4, SIDE, SIDE), uint8
        0 or 255: piece in view, thing, loose yarn, body (the piece also where it is hidden, holes filled).
    shade : tensor of shape (K, 1, SIDE, SIDE), uint8
        Light on the table, 128 where it is as usual; square root.
    middle : tensor of shape (K, 2), float
        Middle of the piece's body, pixels; of the picture where there is no piece.
    diameter : tensor of shape (K,), float
        Of the body, pixels.
    centre : tensor of shape (K, 2), float
        Centre ring, pixels.
    rim : tensor of shape (K, POINTS, 2), float
        Points along the rim, outside of its marks by their usual depth.
    hidden : tensor of shape (K, POINTS), float
        1 where the mark there can't be seen.
    counts : tensor of shape (K,), int
        Stitches; 0 where there is no piece.
    """

    pixels: torch.Tensor
    cover: torch.Tensor
    shade: torch.Tensor
    middle: torch.Tensor
    diameter: torch.Tensor
    centre: torch.Tensor
    rim: torch.Tensor
    hidden: torch.Tensor
    counts: torch.Tensor

    @classmethod
    def read(cls, truths: Iterable[Path], device: str, workers: int = 1) -> Store:
        """Read folders of layers.

        Parameters
        ----------
        truths : iterable of path
            Truth files of photos in layers.
        device : str
            Of torch.
        workers : int
            Processes that read.
        """
        with ProcessPoolExecutor(workers) as pool:
            rows = [row for row in pool.map(_one, sorted(truths), chunksize=8) if row is not None]
        columns = [torch.from_numpy(np.stack(column)) for column in zip(*rows, strict=True)]
        return cls(*(column.to(device) for column in columns))

    def __len__(self) -> int:
        return len(self.pixels)


def _shade(pixels: np.ndarray, labels: np.ndarray) -> np.ndarray:
    """Light on the table, also under what lies on it, 1 where it is as usual."""
    linear = (pixels.astype(np.float32) / 255) ** 2.2
    light = linear.mean(axis=2) / TABLE_REFLECTANCE
    ground = ndimage.binary_erosion(labels == 0, iterations=2).astype(np.float32)
    if ground.sum() < 50:
        return np.ones(labels.shape, np.float32)
    filled = light * ground
    known = ground
    for spread in (3, 9, 27, 81):
        wide_light, wide = cv2.GaussianBlur(filled, (0, 0), spread), cv2.GaussianBlur(known, (0, 0), spread)
        filled = np.where(known > 0.5, filled, wide_light / np.maximum(wide, 1e-4))
        known = np.maximum(known, (wide > 0.02).astype(np.float32))
    light = np.where(ground > 0, light, filled)
    return light / max(float(np.median(light[ground > 0])), 1e-4)


def _rim(truth: dict) -> tuple[np.ndarray, np.ndarray]:
    """Points along the rim as it goes from stitch to stitch, and whether they are hidden."""
    marks, centre = np.array(truth["marks"], float), np.array(truth["centre"], float)
    count = len(marks)
    # The line of the marks runs inside the edge by the depth at which top loops usually lie.
    step = np.linalg.norm(np.roll(marks, -1, axis=0) - marks, axis=1)
    width = np.median(step)
    out = marks - centre
    out /= np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-6)
    edge = marks + MARK_DEPTH * width * out
    # Smooth over a stitch, as a followed rim is; closed.
    kernel = np.array([0.25, 0.5, 0.25])
    if count >= 8:
        edge = sum(k * np.roll(edge, s, axis=0) for k, s in zip(kernel, (-1, 0, 1), strict=True))
    at = np.linspace(0, count, POINTS, endpoint=False)
    points = interpolate.CubicSpline(np.arange(count + 1), np.vstack([edge, edge[:1]]), bc_type="periodic")(at)
    flag = np.zeros(count)
    flag[list(truth["hidden"])] = 1
    return points, flag[np.round(at).astype(int) % count]


def _one(path: Path):
    pixels, labels, body, truth = read_layers(path)
    height, width = labels.shape
    piece = truth["refuse"] is None and bool(truth["marks"])
    if piece:
        body = ndimage.binary_fill_holes(ndimage.binary_opening(body, iterations=1) | (labels == 1))
        parts, _ = ndimage.label(body)
        sizes = np.bincount(parts.ravel())
        sizes[0] = 0
        body = parts == sizes.argmax()
        rows, columns = np.nonzero(body)
        if len(rows) < 200:
            return None
        low, high = np.array([columns.min(), rows.min()]), np.array([columns.max(), rows.max()]) + 1
    else:
        body = np.zeros_like(body)
        rows, columns = np.nonzero(labels == 2)
        if len(rows) < 200:
            low, high = np.array([0, 0]), np.array([width, height])
        else:
            low, high = np.array([columns.min(), rows.min()]), np.array([columns.max(), rows.max()]) + 1
    middle, size = (low + high) / 2, float((high - low).max())
    left, top = np.maximum(np.floor(middle - AROUND / 2 * size), 0).astype(int)
    right, bottom = np.minimum(np.ceil(middle + AROUND / 2 * size), (width, height)).astype(int)
    zoom = min(1.0, SIDE / max(right - left, bottom - top))
    shade = _shade(pixels, labels)

    def fitted(picture: np.ndarray) -> np.ndarray:
        cut = picture[top:bottom, left:right]
        small = cv2.resize(cut, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
        small = small[:SIDE, :SIDE]
        room = [(0, SIDE - small.shape[0]), (0, SIDE - small.shape[1])] + [(0, 0)] * (small.ndim - 2)
        return np.pad(small, room, mode="edge")

    within = np.zeros((SIDE, SIDE), bool)
    within[: round((bottom - top) * zoom), : round((right - left) * zoom)] = True
    cover = np.stack(
        [fitted((labels == k).astype(np.uint8) * 255) for k in (1, 2, 3)] + [fitted(body.astype(np.uint8) * 255)]
    )
    cover = np.where(within, cover, 0)
    shade = np.clip(np.sqrt(np.clip(fitted(shade), 0, 4)) * 128, 0, 255).astype(np.uint8)

    def moved(points):
        return ((np.asarray(points, float) - (left, top) + 0.5) * zoom - 0.5).astype(np.float32)

    if piece:
        rim, hidden = _rim(truth)
        centre, count = truth["centre"], len(truth["marks"])
    else:
        rim, hidden, centre, count = np.zeros((POINTS, 2)), np.zeros(POINTS), middle, 0
    return (
        fitted(pixels).transpose(2, 0, 1),
        cover,
        shade[None],
        moved(middle),
        np.float32(size * zoom),
        moved(centre),
        moved(rim),
        hidden.astype(np.float32),
        np.int64(count),
    )


def read_grounds(folder: Path, device: str) -> torch.Tensor:
    """Pictures to lay under pieces.

    Parameters
    ----------
    folder : path
        JPEG files, as :mod:`counter.training.finding.grounds` gathers them.
    device : str
        Of torch.

    Returns
    -------
    tensor of shape (K, 3, GROUND, GROUND), uint8
        sRGB.
    """
    pictures = []
    for path in sorted(Path(folder).glob("*.jpg")):
        picture = np.asarray(cv2.imread(str(path)))[..., ::-1]
        side = min(picture.shape[:2])
        picture = picture[:side, :side] if picture.shape[0] > picture.shape[1] else picture[:side, -side:]
        pictures.append(cv2.resize(picture, (GROUND, GROUND), interpolation=cv2.INTER_AREA).transpose(2, 0, 1))
    return torch.from_numpy(np.stack(pictures)).to(device)
