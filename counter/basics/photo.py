"""A file or its bytes -> an upright sRGB picture, or the refusal that says why not."""

from __future__ import annotations

import io
import os
import stat
import warnings
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import BinaryIO

import cv2
import numpy as np
import pillow_heif
from PIL import ExifTags, Image, ImageCms, ImageOps, ImageSequence, UnidentifiedImageError

from counter.basics import words
from counter.basics.answer import Refusal

__all__ = ["LEAST_SIDE", "MOST_PIXELS", "WORKING_SIDE", "Photo", "Picture", "read_photo"]

#: A picture from outside: where its file lies, the bytes of the file, an open file, or pixels
#: (height, width, 3) of uint8 in sRGB, upright.
Picture = str | os.PathLike | bytes | bytearray | memoryview | BinaryIO | np.ndarray

pillow_heif.register_heif_opener()
Image.init()

#: Most pixels that are decoded.
MOST_PIXELS = 100_000_000
#: Least width and height in pixels.
LEAST_SIDE = 200
#: Long side in pixels at which a photo is looked at; more shows no more stitches.
WORKING_SIDE = 2000
#: Most bytes that are read: :data:`MOST_PIXELS` of 16-bit RGB, uncompressed.
MOST_BYTES = 6 * MOST_PIXELS
#: Colour put behind transparent pixels: a middle grey differs from light and dark yarn
#: alike, whereas white hides a white piece that was cut out and black a black one.
BEHIND = (128, 128, 128)
#: Formats of photos. What else Pillow knows stays shut: documents, icons, and formats
#: that start other programs.
FORMATS = tuple(
    name
    for name in ("JPEG", "PNG", "WEBP", "HEIF", "AVIF", "TIFF", "BMP", "GIF", "JPEG2000", "PPM")
    if name in Image.OPEN
)
#: Formats whose further frames are an animation. In the others they are a depth map, a
#: second view or a small copy (MPO, HEIF), or pages (TIFF).
MOVING = frozenset({"GIF", "PNG", "WEBP", "AVIF"})
#: Largest difference, in levels of 255, that makes a colour profile as good as sRGB.
ALIKE = 2


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

    @property
    def width(self) -> int:
        """Width in pixels."""
        return self.pixels.shape[1]

    @property
    def height(self) -> int:
        """Height in pixels."""
        return self.pixels.shape[0]

    @property
    def shrink(self) -> float:
        """How many pixels a pixel of :attr:`working` is wide, at least 1."""
        return max(1.0, max(self.pixels.shape[:2]) / WORKING_SIDE)

    @cached_property
    def working(self) -> np.ndarray:
        """The picture no larger than :data:`WORKING_SIDE`, of shape (H, W, 3), uint8, read-only."""
        if self.shrink == 1:
            return self.pixels
        part = 1 / self.shrink
        pixels = cv2.resize(self.pixels, None, fx=part, fy=part, interpolation=cv2.INTER_AREA)
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
    return Refusal("too small", size) if min(width, height) < LEAST_SIDE else Photo(pixels.copy())


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


def _content(path: str | os.PathLike) -> bytes | Refusal:
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
    try:
        picture = Image.open(io.BytesIO(data), formats=FORMATS)
    except Image.DecompressionBombError:
        return Refusal("too large")
    except UnidentifiedImageError:
        return Refusal("not a picture")
    except Exception:  # decoders raise whatever they like on damaged headers
        return Refusal("truncated")
    size = words.PIXELS.format(width=picture.width, height=picture.height)
    if picture.width * picture.height > MOST_PIXELS:
        return Refusal("too large", size)
    if min(picture.size) < LEAST_SIDE:
        return Refusal("too small", size)
    try:
        if picture.format in MOVING and getattr(picture, "is_animated", False):
            return Refusal("animated")
        if picture.format == "TIFF" and _pages(picture) > 1:
            return Refusal("several pictures")
        picture.load()
        return Photo(np.asarray(_to_srgb(_upright(picture))))
    except Exception:  # the same goes for damaged picture data
        return Refusal("truncated")


def _pages(picture: Image.Image) -> int:
    """Pictures in a TIFF file, at most 2; small copies and masks don't count."""
    pages = 0
    for page in ImageSequence.Iterator(picture):
        # TIFF 6.0, tag 254 (NewSubfileType): bit 0 a reduced copy, bit 2 a mask.
        pages += not page.tag_v2.get(254, 0) & 0b101
        if pages > 1:
            break
    picture.seek(0)
    return pages


def _upright(picture: Image.Image) -> Image.Image:
    try:
        # Pillow would copy all that lies upright already.
        turned = picture.getexif().get(ExifTags.Base.Orientation, 1) != 1
        return ImageOps.exif_transpose(picture) if turned else picture
    except Exception:  # damaged EXIF data beside sound pixels: as it lies
        return picture


def _to_srgb(picture: Image.Image) -> Image.Image:
    """Convert any mode and colour profile to 8-bit sRGB."""
    profile = picture.info.get("icc_profile")
    if picture.mode == "F" or picture.mode.startswith("I"):
        picture, profile = _eight_bits(picture), None
    elif picture.mode == "LAB":
        lab = ImageCms.createProfile("LAB")
        return ImageCms.profileToProfile(picture, lab, ImageCms.createProfile("sRGB"), outputMode="RGB")
    if picture.mode in {"LA", "PA", "RGBA", "RGBa", "La"} or "transparency" in picture.info:
        ground = Image.new("RGBA", picture.size, (*BEHIND, 255))
        picture = Image.alpha_composite(ground, picture.convert("RGBA")).convert("RGB")
    elif picture.mode in {"P", "1"}:
        picture = picture.convert("RGB")
    if profile:
        try:
            return _through(picture, profile)
        except (ImageCms.PyCMSError, OSError, ValueError):
            pass  # a damaged profile, or one for another mode: the plain conversion will do
    return picture if picture.mode == "RGB" else picture.convert("RGB")


def _eight_bits(picture: Image.Image) -> Image.Image:
    """Grey levels of 16 bits, 32 bits or floating point -> 8 bits.

    16 bits keep their range. Where the range is not laid down (mode "I" may
    hold 8, 16 or 32 bits, mode "F" anything) it is 255 or 65535, or 1, and
    else what the picture holds.
    """
    levels = np.asarray(picture).astype(np.float32)
    levels[~np.isfinite(levels)] = 0
    if picture.mode.startswith("I;16"):
        top = 65535.0
    else:
        most = float(levels.max())
        top = next((t for t in ((1.0,) if picture.mode == "F" else (255.0, 65535.0)) if most <= t), most)
    return Image.fromarray(np.clip(levels * (255 / top), 0, 255).round().astype(np.uint8))


def _through(picture: Image.Image, profile: bytes) -> Image.Image:
    """Convert through the embedded colour profile, unless that would change nothing."""
    given = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    wanted = ImageCms.createProfile("sRGB")
    if picture.mode == "RGB":
        # Nearly every camera tags sRGB; converting 12 megapixels takes longer than decoding them.
        steps = np.linspace(0, 255, 9).astype(np.uint8)
        colours = np.stack(np.meshgrid(steps, steps, steps), -1).reshape(27, 27, 3)
        probe = np.asarray(ImageCms.profileToProfile(Image.fromarray(colours), given, wanted))
        if np.abs(probe.astype(int) - colours).max() <= ALIKE:
            return picture
    return ImageCms.profileToProfile(picture, given, wanted, outputMode="RGB")
