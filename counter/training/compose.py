"""Whole photos from layers: a piece on any ground, developed like a photo, with its truth.

The finder draws its pictures on the device that trains; rims are cut from
these, at full size, by many processes.
"""

from __future__ import annotations

import json
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

from counter.basics.files import write_whole
from counter.synthetic.camera import develop
from counter.synthetic.layer_set import read_layers
from counter.synthetic.layers import TABLE_REFLECTANCE
from counter.synthetic.scene import draw_finish

__all__ = ["composed", "write_composed"]

#: JPEG quality of photos that are written.
JPEG_QUALITY = 92
#: Share of photos whose piece takes its colour from the ground, and of those whose yarn keeps its own.
SAME_COLOUR, KEPT = 0.15, 0.4


def _ground(path: Path, shape: tuple[int, int], rng: np.random.Generator) -> np.ndarray:
    """A stretch of a ground, turned and scaled, linear; shape (H, W, 3)."""
    picture = (np.asarray(cv2.imread(str(path)))[..., ::-1].astype(np.float32) / 255) ** 2.2
    height, width = shape
    turn, zoom = rng.uniform(0, 2 * np.pi), float(np.exp(rng.uniform(-0.2, 1.6)))
    matrix = zoom * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    middle = rng.uniform(0, picture.shape[0], 2)
    shift = np.array([width / 2, height / 2]) - matrix @ middle
    laid = cv2.warpAffine(
        picture,
        np.column_stack([matrix, shift]),
        (width, height),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REFLECT_101,
    )
    if rng.random() < 0.3:
        laid = laid * 0.15 + laid.mean(axis=(0, 1))
    return laid * np.exp(rng.normal(0, 0.3, 3)).astype(np.float32) * float(np.exp(rng.normal(0, 0.4)))


def composed(truth_file: Path, grounds: list[Path], seed: int) -> tuple[np.ndarray, dict]:
    """Compose a photo.

    Parameters
    ----------
    truth_file : path
        Of a photo in layers.
    grounds : list of path
        Pictures to lay under it.
    seed : int
        The same seed gives the same photo from the same layers.

    Returns
    -------
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.
    truth : dict
    """
    # Each photo in layers is developed in its own way, whatever the seed.
    own = int.from_bytes(truth_file.stem.encode()[-6:], "big")
    rng = np.random.default_rng([seed, own, 47])
    pixels, labels, _, truth = read_layers(truth_file)
    linear = (pixels.astype(np.float32) / 255) ** 2.2
    yarn = ((labels == 1) | (labels == 3)).astype(np.float32)[..., None]
    under = _ground(grounds[int(rng.integers(len(grounds)))], labels.shape, rng)
    dyed = linear
    if rng.random() > KEPT:
        mix = rng.random((3, 3)) ** 2 + 1e-3
        part = rng.random()
        dyed = linear @ ((1 - part) * np.eye(3) + part * mix / mix.sum(axis=1, keepdims=True)).T.astype(np.float32)
        dyed = dyed * np.exp(rng.normal(0, 0.35, 3)).astype(np.float32)
    if rng.random() < SAME_COLOUR and yarn.any():
        own = (dyed * yarn).sum(axis=(0, 1)) / yarn.sum()
        dyed = dyed * (under.mean(axis=(0, 1)) / np.maximum(own, 1e-3) * np.exp(rng.normal(0, 0.2, 3))).astype(
            np.float32
        )
    soft = cv2.GaussianBlur((labels == 0).astype(np.float32), (0, 0), 0.6)[..., None]
    light = linear.mean(axis=2, keepdims=True) / TABLE_REFLECTANCE
    light = light / max(float(np.median(light[labels == 0])) if (labels == 0).any() else 1.0, 1e-3)
    picture = soft * under * light + (1 - soft) * (dyed * yarn + linear * (1 - yarn))
    finish, _ = draw_finish(rng, str(rng.choice(["easy", "ordinary", "hard"])), False)
    return develop(np.clip(picture, 0, 4).astype(np.float32), finish, rng), truth


def _write_one(truth_file: Path, grounds: list[Path], folder: Path, seed: int) -> bool:
    if json.loads(truth_file.read_text(encoding="utf-8"))["refuse"] is not None:
        return False
    pixels, truth = composed(truth_file, grounds, seed)
    coded = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])[1]
    write_whole(folder / f"{truth_file.stem}.jpg", coded.tobytes())
    write_whole(folder / f"{truth_file.stem}.json", (json.dumps(truth) + "\n").encode())
    return True


def write_composed(
    layers: str | Path, grounds: str | Path, folder: str | Path, *, every: int = 1, seed: int = 0, workers: int = 1
) -> int:
    """Write composed photos with their truth files, to measure or calibrate on.

    Parameters
    ----------
    layers, grounds : path
        Folders of photos in layers, and of JPEG files to lay under them.
    folder : path
        Where they go; made where it does not exist.
    every : int
        Take the first of so many photos in layers; those without a piece are left out.
    seed : int
        As for :func:`composed`.
    workers : int
        Processes.

    Returns
    -------
    int
        How many were written.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    pictures = sorted(Path(grounds).glob("*.jpg"))
    chosen = sorted(Path(layers).glob("*.json"))[::every]
    if workers <= 1:
        return sum(_write_one(path, pictures, folder, seed) for path in chosen)
    # Started anew: a fork of a process in which OpenCV has threads may stand still.
    with ProcessPoolExecutor(workers, get_context("spawn"), cv2.setNumThreads, (1,)) as pool:
        jobs = [pool.submit(_write_one, path, pictures, folder, seed) for path in chosen]
        return sum(job.result() for job in jobs)
