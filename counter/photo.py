"""A file or its bytes -> an upright sRGB picture, or the refusal that says why not."""

from __future__ import annotations

import io
import os
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pillow_heif
from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from counter.answer import Refusal

__all__ = ["Photo", "read_photo"]

pillow_heif.register_heif_opener()

#: Most pixels that are decoded.
MOST_PIXELS = 100_000_000
#: Least width and height in pixels.
LEAST_SIDE = 200
#: Colour put behind transparent pixels: a middle grey differs from light and dark yarn alike.
BEHIND = (128, 128, 128)


@dataclass(frozen=True, eq=False)
class Photo:
    """An upright picture.

    Parameters
    ----------
    pixels : ndarray of shape (height, width, 3), uint8
        sRGB, read-only.
    """

    pixels: np.ndarray

    def __post_init__(self) -> None:
        self.pixels.flags.writeable = False

    @property
    def width(self) -> int:
        """Width in pixels."""
        return self.pixels.shape[1]

    @property
    def height(self) -> int:
        """Height in pixels."""
        return self.pixels.shape[0]


def read_photo(source: str | os.PathLike | bytes) -> Photo | Refusal:
    """Read a photo.

    Parameters
    ----------
    source : path or bytes
        Where the file is, or its content.

    Returns
    -------
    Photo or Refusal
        Rotated as EXIF says, colours converted to sRGB, metadata left behind.
    """
    if not isinstance(source, bytes):
        try:
            source = Path(source).read_bytes()
        except FileNotFoundError:
            return Refusal("missing")
        except OSError as error:
            return Refusal("not a picture", error.strerror or "it can't be opened")
    if not source:
        return Refusal("empty")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a warning about a file is no news to a maker
        try:
            picture = Image.open(io.BytesIO(source))
        except Image.DecompressionBombError:
            return Refusal("too large")
        except UnidentifiedImageError:
            return Refusal("not a picture")
        except Exception:  # decoders raise whatever they like on damaged headers
            return Refusal("truncated")
        if picture.width * picture.height > MOST_PIXELS:
            return Refusal("too large", f"{picture.width} x {picture.height} pixels")
        if min(picture.size) < LEAST_SIDE:
            return Refusal("too small", f"{picture.width} x {picture.height} pixels")
        # Phones add a depth map or a second view as further frames of MPO and HEIF files.
        if getattr(picture, "is_animated", False) and picture.format in {"GIF", "PNG", "WEBP", "AVIF"}:
            return Refusal("animated")
        try:
            picture.load()
            picture = _to_srgb(ImageOps.exif_transpose(picture))
        except Exception:  # the same goes for damaged picture data
            return Refusal("truncated")
    return Photo(np.array(picture))


def _to_srgb(picture: Image.Image) -> Image.Image:
    """Convert any mode and colour profile to 8-bit sRGB."""
    profile = picture.info.get("icc_profile")
    if picture.mode.startswith(("I", "F")):
        deep = np.asarray(picture).astype(np.float64)
        top = 65535.0 if picture.mode.startswith("I") else max(float(np.nanmax(deep)), 1e-9)
        if picture.mode == "I" and deep.max() <= 255:
            top = 255.0
        picture = Image.fromarray(np.clip(np.nan_to_num(deep) / top * 255, 0, 255).round().astype(np.uint8))
        profile = None
    if picture.mode in {"LA", "PA", "RGBA", "RGBa", "La"} or "transparency" in picture.info:
        picture = picture.convert("RGBA")
        ground = Image.new("RGBA", picture.size, (*BEHIND, 255))
        picture = Image.alpha_composite(ground, picture).convert("RGB")
    if profile:
        try:
            given = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            converted = ImageCms.profileToProfile(picture, given, ImageCms.createProfile("sRGB"), outputMode="RGB")
            if converted is not None:
                return converted
        except (ImageCms.PyCMSError, OSError):
            pass  # a damaged profile, or one for another mode: the plain conversion will do
    return picture.convert("RGB")
