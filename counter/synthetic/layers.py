"""Photos in layers: what the finder is trained on.

A scene is traced on a plain grey table, so that what the table shows is the
light and the shadows alone; any picture can then be laid under the piece, in
light that fits. Beside it stands what each pixel shows.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from counter.synthetic.camera import to_srgb
from counter.synthetic.render import MOST_HIDDEN_SHARE, hidden_marks, trace
from counter.synthetic.scene import NEGATIVES, Scene, compose
from counter.synthetic.wide import compose_wide

__all__ = ["LABELS", "TABLE_REFLECTANCE", "render_layers", "tags_of_layers"]

#: What a pixel shows, by its number in a picture of labels.
LABELS = ("ground", "piece", "thing", "loose yarn")
#: Reflectance of the table.
TABLE_REFLECTANCE = 0.5
#: Share of photos that hold something round that was not worked in rounds.
NEGATIVE_SHARE = 0.14
#: Parts of a scene that are yarn but not the piece, by how their names begin.
_YARN = ("piece end", "ball", "strand", "working yarn", "tail")


def _label_of(name: str, negative: bool) -> int:
    if name == "piece" and not negative:
        return LABELS.index("piece")
    if any(name.startswith(own) for own in _YARN):
        return LABELS.index("loose yarn")
    return LABELS.index("thing")


def _body(scene: Scene, size: tuple[int, int]) -> np.ndarray:
    """Pixels of the piece as if nothing lay over it, shape (H, W), bool."""
    seen = scene.camera.project(scene.parts[0].mesh.points.astype(float))
    width, height = size
    column, row = np.round(seen).astype(int).T
    inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    body = np.zeros((height, width), np.uint8)
    body[row[inside], column[inside]] = 1
    # Corners of the mesh are less than two pixels apart.
    return cv2.morphologyEx(body, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)).astype(bool)


def _scene_of(seed: int, long_side: int, open_share: float | None) -> tuple[Scene, bool]:
    """The scene of a seed, and whether it shows no piece."""
    rng = np.random.default_rng([seed, 46])
    negative = bool(rng.random() < NEGATIVE_SHARE)
    if negative:
        kind = str(rng.choice([name for name, why in NEGATIVES.items() if why == "no piece" and name != "plain"]))
        scene = compose(seed, difficulty=None, long_side=min(long_side, 640), negative=kind)
    else:
        scene = compose_wide(seed, long_side=long_side, open_share=open_share)
    return scene, negative


def tags_of_layers(seed: int, *, long_side: int = 720, open_share: float | None = None) -> list[str]:
    """What a photo in layers would be tagged, without rendering it.

    Parameters
    ----------
    seed, long_side, open_share
        As for :func:`render_layers`.
    """
    return list(_scene_of(seed, long_side, open_share)[0].truth["tags"])


def render_layers(
    seed: int, *, long_side: int = 720, samples: int = 12, open_share: float | None = None
) -> tuple[np.ndarray, np.ndarray, np.ndarray, dict]:
    """Render a photo for training the finder.

    Parameters
    ----------
    seed : int
        The same seed gives the same photo.
    long_side : int
        The longest that the picture may be, in pixels.
    samples : int
        Paths for each pixel.
    open_share : float or None
        Of pieces in progress, as for :func:`counter.synthetic.wide.compose_wide`.

    Returns
    -------
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB, on a table of :data:`TABLE_REFLECTANCE`; the brightest two hundredth are full white.
    labels : ndarray of shape (H, W), uint8
        Numbers of :data:`LABELS`.
    body : ndarray of shape (H, W), bool
        Where the piece is, also under what lies over it.
    truth : dict
        As the truth file beside a photo; "refuse" where there is nothing to count.
    """
    scene, negative = _scene_of(seed, long_side, open_share)
    scene = replace(scene, ground=np.full((8, 8, 3), TABLE_REFLECTANCE, np.float32))
    traced = trace(scene)
    distance, thing = traced.depth()
    hidden = hidden_marks(scene, distance, thing)
    if len(hidden) > MOST_HIDDEN_SHARE * len(scene.marks):
        bare = compose_wide(seed, long_side=long_side, bare=True, open_share=open_share)
        scene = replace(bare, ground=scene.ground)
        traced = trace(scene)
        distance, thing = traced.depth()
        hidden = hidden_marks(scene, distance, thing)
    light = traced.light(samples, seed % 2**31, None if negative else 2)
    light = light / max(float(np.percentile(light, 99.5)), 1e-6)
    numbers = np.array([*(_label_of(part.name, negative) for part in scene.parts), 0], np.uint8)
    labels = numbers[np.minimum(thing, len(scene.parts))]
    body = np.zeros(labels.shape, bool) if negative else _body(scene, scene.camera.size) | (labels == 1)
    pixels = np.clip(to_srgb(np.clip(light, 0, 1)) * 255 + 0.5, 0, 255).astype(np.uint8)
    return pixels, labels, body, {**scene.truth, "hidden": hidden}
