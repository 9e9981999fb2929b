"""A file or its bytes -> an upright sRGB picture, or the refusal that says why not."""

from __future__ import annotations

import os
import stat
import warnings
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import BinaryIO

import cv2
import numpy as np

from counter.basics import words
from counter.basics.answer import Refusal
from counter.basics.decoding import LEAST_REDUCED_SIDE_PX, MOST_PIXELS, File, opened

__all__ = ["MOST_PIXELS", "WORKING_SIDE_PX", "Photo", "Picture", "read_photo"]

#: A picture from outside: where its file lies, the bytes of the file, an open file, or pixels
#: (height, width, 3) of uint8 in sRGB, upright.
Picture = str | os.PathLike[str] | bytes | bytearray | memoryview | BinaryIO | np.ndarray

#: Long side in pixels at which a photo is looked at; more shows no more stitches.
WORKING_SIDE_PX = 2000
#: Most bytes that are read: :data:`MOST_PIXELS` of 16-bit RGB, uncompressed.
MOST_BYTES = 6 * MOST_PIXELS


@dataclass(frozen=True, eq=False)
class Photo:
    """An upright picture.

    Parameters
    ----------
    pixels : ndarray of shape (height, width, 3), uint8
        sRGB, read-only.

    Raises
    ------
    ValueError
        If `pixels` has another shape or type.
    """

    pixels: np.ndarray

    def __post_init__(self) -> None:
        if self.pixels.ndim != 3 or self.pixels.shape[2] != 3 or self.pixels.dtype != np.uint8:
            raise ValueError(
                f"pixels must be (height, width, 3) of uint8, not {self.pixels.shape} of {self.pixels.dtype}"
            )
        self.pixels.flags.writeable = False

    def __reduce__(self) -> tuple[object, ...]:
        return Photo, (self.pixels,)  # without its copies

    @property
    def width(self) -> int:
        """Width in pixels."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Height in pixels."""
        return int(self.pixels.shape[0])

    @property
    def shrink(self) -> float:
        """How many pixels a pixel of :attr:`working` is wide, at least 1."""
        return max(1.0, max(self.width, self.height) / WORKING_SIDE_PX)

    @cached_property
    def working(self) -> np.ndarray:
        """The picture no larger than :data:`WORKING_SIDE_PX`, of shape (H, W, 3), uint8, read-only."""
        return self.pixels if self.shrink == 1 else _shrunk(self.pixels, self)


class _Scaled(Photo):
    """A photo of which no more is decoded than is looked at, until somebody asks for all of it.

    Parameters
    ----------
    file : File
    seen : ndarray of shape (H, W, 3), uint8
        Of it as it was decoded: at least as large as :attr:`working`.
    size : tuple of int
        (width, height) of the whole.
    """

    _file: File
    _size: tuple[int, int]

    def __init__(self, file: File, seen: np.ndarray, size: tuple[int, int]) -> None:
        self.__dict__.update(_file=file, _size=size)
        self.__dict__["working"] = _shrunk(seen, self)

    def __reduce__(self) -> tuple[object, ...]:
        # To another process it goes as its file, which is the smallest that there is of it.
        return read_photo, (self._file.data,)

    @cached_property
    def pixels(self) -> np.ndarray:
        """The whole picture, of shape (height, width, 3), uint8, read-only."""
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            pixels = self._file.pixels()
        pixels.flags.writeable = False
        return pixels

    @property
    def width(self) -> int:
        return self._size[0]

    @property
    def height(self) -> int:
        return self._size[1]


def _shrunk(pixels: np.ndarray, photo: Photo) -> np.ndarray:
    """The working copy of a photo, from pixels at least as many."""
    size = (round(photo.width / photo.shrink), round(photo.height / photo.shrink))
    if size != (pixels.shape[1], pixels.shape[0]):
        pixels = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    pixels.flags.writeable = False
    return pixels


def read_photo(source: Picture) -> Photo | Refusal:
    """Read a photo.

    Parameters
    ----------
    source : path, bytes, file object or ndarray of shape (H, W, 3), uint8
        Where the file is, or its content, or a file that is open for reading
        bytes, from where it stands; or the pixels themselves, upright and in
        sRGB, which are copied.

    Returns
    -------
    Photo or Refusal
        Rotated as EXIF says, colours converted to sRGB, metadata left behind.

    Raises
    ------
    TypeError
        If the source is none of these.
    ValueError
        If an array has another shape.

    Examples
    --------
    >>> from counter import read_photo
    >>> photo = read_photo("sample_images/blue-disc.jpg")
    >>> photo.pixels.shape, photo.pixels.dtype.name
    ((1000, 750, 3), 'uint8')
    >>> read_photo("no-such-file.jpg").code
    'missing'
    """
    if isinstance(source, np.ndarray):
        return _of_pixels(source)
    data = _data_of(source)
    if isinstance(data, Refusal):
        return data
    if not data:
        return Refusal("empty")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a decoder's warning is no news to a maker
        return _decoded(data)


def _of_pixels(pixels: np.ndarray) -> Photo | Refusal:
    """A photo of a copy of pixels, which the caller may go on to write to."""
    if pixels.dtype != np.uint8:
        raise TypeError(f"pixels of a picture must be of uint8 (0 to 255), not {pixels.dtype}")
    if pixels.ndim != 3 or pixels.shape[2] != 3:
        raise ValueError(f"pixels of a picture must have the shape (height, width, 3), not {pixels.shape}")
    height, width = pixels.shape[:2]
    size = words.PIXELS.format(width=width, height=height)
    if width * height > MOST_PIXELS:
        return Refusal("too large", size)
    if not width or not height:
        raise ValueError(f"a picture must have pixels: its shape is {pixels.shape}")
    return _strip(width, height) or Photo(pixels.copy())


def _strip(width: int, height: int) -> Refusal | None:
    """The refusal of a picture of which next to nothing is left at the size at which it is looked at."""
    if min(width, height) * WORKING_SIDE_PX >= LEAST_REDUCED_SIDE_PX * max(width, height):
        return None
    return Refusal("too small", words.PIXELS_STRIP.format(width=width, height=height))


def _data_of(source: object) -> bytes | Refusal:
    """Bytes of whatever a picture may come as but pixels."""
    if isinstance(source, bytes):
        return source
    if isinstance(source, bytearray | memoryview):
        return bytes(source)
    if isinstance(source, str | os.PathLike):
        return _content(source)
    read = getattr(source, "read", None)
    if not callable(read):
        # A number is no name of a file, though the system would take it for an open one.
        raise TypeError(
            "a picture is a path, bytes, an open file or an array of shape (height, width, 3), "
            f"not {type(source).__name__}"
        )
    data = read(MOST_BYTES + 1)
    if not isinstance(data, bytes):
        raise TypeError("a picture's file must be open for reading bytes (mode 'rb')")
    return (
        data if len(data) <= MOST_BYTES else Refusal("not a picture", words.FILE_LARGE.format(n=round(len(data) / 1e6)))
    )


def _content(path: str | os.PathLike[str]) -> bytes | Refusal:
    """Bytes of a file; a pipe or device, which might never end, is not touched."""
    try:
        found = os.stat(path)
        if stat.S_ISDIR(found.st_mode):
            return Refusal("not a picture", words.FILE_IS_FOLDER)
        if not stat.S_ISREG(found.st_mode):
            return Refusal("not a picture", words.FILE_NOT_PLAIN)
        if found.st_size > MOST_BYTES:
            return Refusal("not a picture", words.FILE_LARGE.format(n=round(found.st_size / 1e6)))
        return Path(path).read_bytes()
    except (FileNotFoundError, NotADirectoryError, ValueError):  # ValueError: a name with a null character
        return Refusal("missing")
    except OSError as error:
        return Refusal("not a picture", error.strerror.lower() if error.strerror else words.FILE_CLOSED)


def _decoded(data: bytes) -> Photo | Refusal:
    """Header first, so that nothing absurd is ever decoded; then the pixels."""
    file = opened(data)
    if isinstance(file, Refusal):
        return file
    try:
        width, height = file.size
        if strip := _strip(width, height):
            return strip
        seen = file.pixels(WORKING_SIDE_PX)
        if seen.shape[:2] == (height, width):
            return Photo(seen)
        return _Scaled(file, seen, (width, height))
    except Exception:  # decoders raise whatever they like on damaged data
        return Refusal("truncated")
