"""The marked picture: every stitch with its number, places in doubt boxed."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from counter.answer import Count, Doubt
from counter.photo import Photo

__all__ = ["crop_doubt", "draw_marks", "save_picture"]

#: Long side of the marked picture, in pixels.
LONG_SIDE = 1600
#: Light and dark of every sign, so that it stands out on any yarn.
LIGHT, DARK = (255, 255, 255), (22, 28, 38)
#: Colour of the first mark and of places in doubt; their shape differs too.
FIRST, DOUBT = (255, 176, 0), (230, 70, 120)
#: Formats by suffix.
FORMATS = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG"}


def draw_marks(photo: Photo, count: Count, marks: np.ndarray | None = None) -> np.ndarray:
    """Draw the marks of a count on its photo.

    Parameters
    ----------
    photo : Photo
        The photo that was counted.
    count : Count
        Its count.
    marks : ndarray of shape (N, 2), float, optional
        A person's corrected marks, instead of those of the count.

    Returns
    -------
    ndarray of shape (H, W, 3), uint8
        sRGB, long side at most :data:`LONG_SIDE`.
    """
    shrink = min(1.0, LONG_SIDE / max(photo.width, photo.height))
    picture = Image.fromarray(photo.pixels)
    picture = picture.resize((round(photo.width * shrink), round(photo.height * shrink)), Image.Resampling.LANCZOS)
    draw = ImageDraw.Draw(picture)
    marks = (count.marks if marks is None else marks) * shrink
    centre = np.array(count.centre) * shrink
    steps = np.linalg.norm(np.roll(marks, -1, axis=0) - marks, axis=1)
    pitch = float(np.median(steps)) if len(marks) > 1 else 40.0
    size = float(np.clip(0.16 * pitch, 3, 14))
    font = ImageFont.load_default(float(np.clip(0.5 * pitch, 13, 30)))
    every = 1 if pitch > 26 else 5
    line = max(1, round(size / 4))

    for number, (x, y) in enumerate(marks, start=1):
        if number == 1:
            big = 1.7 * size
            points = [(x, y - big), (x + big, y), (x, y + big), (x - big, y)]
            draw.polygon(points, fill=FIRST, outline=DARK, width=line)
        else:
            draw.ellipse((x - size, y - size, x + size, y + size), fill=LIGHT, outline=DARK, width=line)
        if number == 1 or number % every == 0:
            outward = (np.array([x, y]) - centre) / max(1e-9, np.hypot(x - centre[0], y - centre[1]))
            at = np.array([x, y]) + outward * (0.75 * pitch + 0.5 * font.size)
            draw.text(tuple(at), str(number), LIGHT, font, anchor="mm", stroke_width=2 + line, stroke_fill=DARK)
    for doubt in count.doubts:
        x, y = np.array(doubt.at) * shrink
        half = max(0.7 * pitch, 10)
        for colour, width in ((DARK, 3 * line + 2), (DOUBT, 2 * line)):
            draw.rectangle((x - half, y - half, x + half, y + half), outline=colour, width=width)
    x, y = centre
    draw.line((x - 2 * size, y, x + 2 * size, y), DARK, line + 1)
    draw.line((x, y - 2 * size, x, y + 2 * size), DARK, line + 1)
    return np.array(picture)


def crop_doubt(photo: Photo, count: Count, doubt: Doubt, side: int = 360) -> np.ndarray:
    """Enlarge a place in doubt, about five stitches wide.

    Parameters
    ----------
    photo : Photo
        The photo that was counted.
    count : Count
        Its count.
    doubt : Doubt
        The place.
    side : int, optional
        Width and height of the crop in pixels.

    Returns
    -------
    ndarray of shape (side, side, 3), uint8
        sRGB; grey where the crop leaves the photo.
    """
    pitch = float(np.median(np.linalg.norm(np.roll(count.marks, -1, axis=0) - count.marks, axis=1)))
    half = max(2.5 * pitch, 12)
    x, y = doubt.at
    box = (x - half, y - half, x + half, y + half)
    size = (side, side)
    crop = Image.fromarray(photo.pixels).transform(size, Image.Transform.EXTENT, box, Image.Resampling.BICUBIC, fillcolor=(128, 128, 128))
    draw = ImageDraw.Draw(crop)
    for mark in count.marks:
        u, v = (mark - (x - half, y - half)) * side / (2 * half)
        draw.ellipse((u - 6, v - 6, u + 6, v + 6), fill=LIGHT, outline=DARK, width=2)
    return np.array(crop)


def save_picture(path: str | os.PathLike, pixels: np.ndarray) -> None:
    """Write a picture whole or not at all, without metadata.

    Parameters
    ----------
    path : path
        Where to; the suffix .jpg, .jpeg or .png decides the format.
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.

    Raises
    ------
    ValueError
        If the suffix is none of these.
    OSError
        If the file can't be written.
    """
    path = Path(path)
    if path.suffix.lower() not in FORMATS:
        raise ValueError(f"{path.name}: the marked picture must end in .jpg or .png")
    handle, name = tempfile.mkstemp(dir=path.parent, suffix=path.suffix)
    try:
        with os.fdopen(handle, "wb") as file:
            Image.fromarray(pixels).save(file, FORMATS[path.suffix.lower()], quality=90)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        os.unlink(name)
        raise
