"""Photos as they are kept: reduced, and with nothing in them but the picture."""

from __future__ import annotations

import io
import re

import cv2
import numpy as np
from PIL import Image

from counter.basics import words
from counter.notebook.limits import PHOTO_SIDE_PX, SMALL_JPEG_QUALITY, SMALL_SIDE_PX

__all__ = ["bare_photo", "cut_at_end", "decoded_jpeg", "jpeg_of", "reduced_to", "small_jpeg"]


def reduced_to(picture: Image.Image, side: int) -> Image.Image:
    """The picture with a long side of at most so many pixels."""
    share = side / max(picture.size)
    if share >= 1:
        return picture
    width, height = (max(1, round(share * length)) for length in picture.size)
    return picture.resize((width, height), Image.Resampling.LANCZOS, reducing_gap=3)


def jpeg_of(picture: Image.Image, quality: int) -> bytes:
    """Pixels alone: what else the picture carried is left behind."""
    data = io.BytesIO()
    Image.fromarray(np.asarray(picture)).save(data, "JPEG", quality=quality)
    return data.getvalue()


def small_jpeg(picture: Image.Image) -> bytes:
    """The small picture of the list."""
    share = SMALL_SIDE_PX / max(picture.size)
    if share < 1:
        size = tuple(max(1, round(share * length)) for length in picture.size)
        picture = Image.fromarray(cv2.resize(np.asarray(picture), size, interpolation=cv2.INTER_AREA))
    return jpeg_of(picture, SMALL_JPEG_QUALITY)


def decoded_jpeg(data: bytes, least: int | None = None) -> Image.Image:
    """The picture of a kept photo, all of it looked at, decoded no larger than asked; ValueError where it isn't one.

    Its ``info["size"]`` is that of the whole.
    """
    try:
        with Image.open(io.BytesIO(data), formats=["JPEG"]) as picture:
            size = picture.size
            if max(size) > PHOTO_SIDE_PX:
                raise ValueError(words.KEPT_WRONG["pixels"])
            part = next((s for s in (8, 4, 2) if least and max(size) // s >= least and min(size) >= s), 1)
            picture.draft(picture.mode, (size[0] // part, size[1] // part))
            picture.load()
            if picture.mode != "RGB":
                raise ValueError(words.KEPT_WRONG["colour"])
            picture.info["size"] = size
            return picture
    except ValueError:
        raise
    except Exception:  # decoders raise whatever they like on damaged data
        raise ValueError(words.KEPT_WRONG["photo"]) from None


#: What follows upon a byte 0xFF in the midst of a scan of a JPEG: a data byte, a restart, or fill (ITU-T T.81, B.1.1).
_MARKER = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")


def cut_at_end(data: bytes) -> bytes:
    """A JPEG up to its end (ITU-T T.81, B.1.1.2): what stands behind it is nobody's picture."""
    at = 2
    while len(data) >= at + 4 and data[at] == 0xFF:
        if data[at + 1] == 0xD9:
            return data[: at + 2]
        scan = data[at + 1] == 0xDA
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if scan:
            found = _MARKER.search(data, at)
            if found is None:
                break
            at = found.start()
    return data[: at + 2] if data[at : at + 2] == b"\xff\xd9" else data


def bare_photo(data: bytes, least: int | None = None) -> Image.Image:
    """Open a JPEG that holds nothing but a picture, as ours do.

    Parameters
    ----------
    data : bytes
        From anywhere.
    least : int, optional
        Pixels that the long side need not exceed.

    Returns
    -------
    Image
        RGB, at most :data:`PHOTO_SIDE_PX` pixels wide and high; ``info["size"]`` is the size of the whole.

    Raises
    ------
    ValueError
        If it is anything else.
    """
    picture = decoded_jpeg(data, least)
    # One application segment, JFIF, and nothing behind the end of the image (ITU-T T.81, B.2.1).
    segments = [name for name, _ in picture.applist]  # type: ignore[attr-defined]  # a JPEG has it
    if (
        segments != ["APP0"]
        or "comment" in picture.info
        or len(cut_at_end(data)) != len(data)
        or data[-2:] != b"\xff\xd9"
    ):
        raise ValueError(words.KEPT_WRONG["more"])
    return picture
