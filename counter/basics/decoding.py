"""Bytes of a picture file -> upright sRGB pixels: what is read, how large it may be, and how little of it is held.

What a file costs is told by its header, before anything of it is decoded. Of a
JPEG only as many pixels are decoded as are asked for; everything else is
brought to sRGB strip by strip, so that what a decoder gives is held once.
"""

from __future__ import annotations

import contextlib
import ctypes
import io
import logging
import re
import struct
from collections.abc import Callable, Iterator

import cv2
import numpy as np
import pillow_heif
from PIL import ExifTags, Image, ImageCms, UnidentifiedImageError

from counter.basics import words
from counter.basics.answer import Refusal

__all__ = ["BACKGROUND_RGB", "MOST_KEPT_PIXELS", "MOST_PIXELS", "File", "opened"]

pillow_heif.register_heif_opener()
Image.init()
# A decoder's message is no news to a maker: what it means is told by the refusal. The library for TIFF files
# writes its own past Python; where it can't be found (Windows), it goes on doing so.
for _name in ("PIL", "pillow_heif"):
    logging.getLogger(_name).addHandler(logging.NullHandler())
with contextlib.suppress(AttributeError, OSError):
    ctypes.CDLL(Image.core.__file__).TIFFSetErrorHandler(None)

#: Most pixels that are decoded.
MOST_PIXELS = 100_000_000
#: Most pixels that are kept; a larger picture is read at a half or a quarter of its width and height.
MOST_KEPT_PIXELS = 50_000_000
REDUCTIONS = (1, 2, 4)
#: Parts of its width at which a JPEG can be decoded.
JPEG_REDUCTIONS = (8, 4, 2, 1)
#: Least width and height, in pixels, that may be left in the copy that is looked at.
LEAST_REDUCED_SIDE_PX = 100
#: Most bytes that decoding may take at a time, beside the program's own 120 MB.
MOST_DECODER_BYTES = 370_000_000
#: Most passes over all pixels, counted in pixels: a progressive JPEG may ask for any number of them.
MOST_PASSED_PIXELS = 1_500_000_000
#: Most directories of a TIFF file that are looked at.
MOST_DIRECTORIES = 16
#: Rows that are converted at once are so many that they hold about as many pixels.
STRIP_PIXELS = 1 << 19
#: Colour put behind transparent pixels: a middle grey differs from light and dark yarn
#: alike, whereas white hides a white piece that was cut out and black a black one.
BACKGROUND_RGB = (128, 128, 128)
#: Formats of photos. What else Pillow knows stays shut: documents, icons, and formats
#: that start other programs.
FORMATS = tuple(
    name
    for name in ("JPEG", "PNG", "WEBP", "HEIF", "AVIF", "TIFF", "BMP", "GIF", "JPEG2000", "PPM")
    if name in Image.OPEN
)
#: Formats whose further frames are an animation. In the others they are a depth map, a
#: second view or a small copy (MPO, HEIF), or pages (TIFF).
ANIMATED_FORMATS = frozenset({"GIF", "PNG", "WEBP", "AVIF"})
#: JPEG, and JPEG with a second view.
JPEG_FORMATS = frozenset({"JPEG", "MPO"})
#: Bytes a pixel that Pillow holds, by mode; 4 where it isn't named.
MODE_BYTES = {"RGB": 4, "1": 1, "L": 1, "P": 1, "I;16": 2, "I;16B": 2, "I;16L": 2, "I;16N": 2, "LA": 4, "PA": 4}
#: Bytes a pixel that decoders hold beside that, measured: canvases of libwebp's animation decoder, planes of
#: libheif and of AV1 decoders, 32-bit components of OpenJPEG.
DECODER_BYTES_PER_PIXEL = {"WEBP": 12, "HEIF": 3.5, "AVIF": 5.5, "JPEG2000": 14}
#: Largest difference, in levels of 255, that makes a colour profile as good as sRGB.
SAME_COLOUR_LEVELS = 2


class File:
    """A picture file whose header was read and found bearable.

    Parameters
    ----------
    data : bytes
    picture : Image
        As opened, nothing of it decoded.
    part : int
        By how much it is read smaller than it is, one of :data:`REDUCTIONS`.
    """

    def __init__(self, data: bytes, picture: Image.Image, part: int) -> None:
        self.data, self.part = data, part
        #: Whether fewer pixels than all may be decoded.
        self.scaling = picture.format in JPEG_FORMATS
        self._picture: Image.Image | None = picture
        self._stored = picture.size
        upright = picture.size[::-1] if _orientation(picture) in TRANSPOSED else picture.size
        #: (width, height) of all of it, upright.
        self.size = tuple(-(-side // self.part) for side in upright)

    def pixels(self, least: int | None = None) -> np.ndarray:
        """Decode the picture.

        Parameters
        ----------
        least : int, optional
            Pixels that the long side need not exceed: a JPEG is decoded at a
            half, a quarter or an eighth where that is as many.

        Returns
        -------
        ndarray of shape (height, width, 3), uint8
            sRGB, upright.

        Raises
        ------
        Exception
            Whatever a decoder raises on damaged data.
        """
        # The picture that was opened first serves once: Pillow decodes an opened one once.
        picture, self._picture = self._picture or _open(self.data), None
        part = left = self.part
        if self.scaling:
            part = next(s for s in JPEG_REDUCTIONS if s <= self.part or (least and max(self._stored) >= s * least))
            picture.draft(picture.mode, (picture.width // part, picture.height // part))
            left = 1
        elif picture.format == "JPEG2000" and part > 1:
            # By how many halvings it is decoded smaller; a property here, and a method of all other pictures.
            setattr(picture, "reduce", REDUCTIONS.index(part))  # noqa: B010
            left = 1
        picture.load()
        upright = UPRIGHT.get(_orientation(picture), _as_it_is)
        pixels = _in_strips(picture, left)
        del picture  # turning takes as much again
        return upright(pixels)


def _as_it_is(pixels: np.ndarray) -> np.ndarray:
    return pixels


def opened(data: bytes) -> File | Refusal:
    """Read a picture's header, so that nothing absurd is ever decoded.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    File or Refusal
    """
    width, height = _webp_size(data)
    if width * height * (MODE_BYTES["RGB"] + DECODER_BYTES_PER_PIXEL["WEBP"]) > MOST_DECODER_BYTES:
        return Refusal("too large", words.PIXELS.format(width=width, height=height))
    try:
        picture = _open(data)
    except Image.DecompressionBombError:
        return Refusal("too large")
    except UnidentifiedImageError:
        return Refusal("not a picture")
    except Exception:  # decoders raise whatever they like on damaged headers
        return Refusal("truncated")
    width, height = picture.size
    size = words.PIXELS.format(width=width, height=height)
    if width * height > MOST_PIXELS or _passed(picture, data) > MOST_PASSED_PIXELS:
        return Refusal("too large", size)
    try:
        part = _part(picture, data)
        if part is None:
            return Refusal("too large", size)
        if picture.format in ANIMATED_FORMATS and getattr(picture, "is_animated", False):
            return Refusal("animated")
        if picture.format == "TIFF" and _pages(data) > 1:
            return Refusal("several pictures")
    except Exception:
        return Refusal("truncated")
    return File(data, picture, part)


def _webp_size(data: bytes) -> tuple[int, int]:
    """Width and height of a WebP (RFC 9649), whose canvases are laid out when it is opened; 0 of anything else."""
    if data[:4] != b"RIFF" or data[8:12] != b"WEBP" or len(data) < 30:
        return 0, 0
    kind = data[12:16]
    if kind == b"VP8X":
        return 1 + int.from_bytes(data[24:27], "little"), 1 + int.from_bytes(data[27:30], "little")
    if kind == b"VP8L":
        bits = int.from_bytes(data[21:25], "little")
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    width, height = (int.from_bytes(data[at : at + 2], "little") & 0x3FFF for at in (26, 28))
    return width, height


def _open(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data), formats=FORMATS)


# What it costs ---------------------------------------------------------------


def _part(picture: Image.Image, data: bytes) -> int | None:
    """By how much a picture must be read smaller than it is; None where that would not do."""
    pixels = picture.width * picture.height
    return next(
        (
            p
            for p in REDUCTIONS
            if pixels <= p**2 * MOST_KEPT_PIXELS and pixels * _held(picture, data, p) <= MOST_DECODER_BYTES
        ),
        None,
    )


def _held(picture: Image.Image, data: bytes, part: int) -> float:
    """Bytes that decoding takes at a time, for each pixel of the whole."""
    held, kept = MODE_BYTES.get(picture.mode, 4), 3 / part**2
    if picture.format in JPEG_FORMATS:
        # All coefficients of a progressive JPEG are held, two bytes each (ITU-T T.81, G.1).
        return held / part**2 + kept + (2 * sum(_samples(picture)) if _progressive(data) else 0)
    beside = _strip_of(picture) if picture.format == "TIFF" else DECODER_BYTES_PER_PIXEL.get(picture.format or "", 0)
    if picture.info.get("bit_depth", 8) > 8:  # planes of libheif are then of 16 bits, and of 8 beside them
        beside *= 3.5
    if picture.format == "JPEG2000":
        return (held + beside) / part**2 + kept
    return max(held + beside, held + kept)


def _samples(picture: Image.Image) -> list[float]:
    """Samples a pixel of each component of a JPEG (ITU-T T.81, A.1.1)."""
    layers = getattr(picture, "layer", [])
    most = max((h * v for _, h, v, _ in layers), default=1)
    return [h * v / most for _, h, v, _ in layers] or [1.0, 1.0, 1.0]


#: Start of a scan, and of a progressive frame, in a JPEG (ITU-T T.81, table B.1).
_SCAN, _PROGRESSIVE = re.compile(rb"\xff\xda"), re.compile(rb"\xff[\xc2\xc6\xca\xce]\0")


def _progressive(data: bytes) -> bool:
    return _PROGRESSIVE.search(data) is not None


def _passed(picture: Image.Image, data: bytes) -> int:
    """Pixels times passes over them."""
    if picture.format not in JPEG_FORMATS or not _progressive(data):
        return 0
    return picture.width * picture.height * sum(1 for _ in _SCAN.finditer(data))


def _strip_of(picture: Image.Image) -> float:
    """Bytes a pixel of the whole that one strip or tile of a TIFF file takes while it is unpacked (TIFF 6.0)."""
    tags = getattr(picture, "tag_v2")  # noqa: B009, of Pillow's TIFF pictures, which have no type of their own
    samples, bits = int(tags.get(277, 1)), int(max(tags.get(258, (8,))))
    rows = min(int(tags.get(278, picture.height)), picture.height)
    wide = picture.width
    if 322 in tags:
        wide, rows = int(tags[322]), int(tags.get(323, picture.height))
    return wide * rows * samples * bits / 8 / (picture.width * picture.height)


def _pages(data: bytes) -> int:
    """Pictures in a TIFF file, at most 2; small copies and masks don't count.

    The chain of directories is followed here, a few of them at most: Pillow
    looks through all it saw for each that comes.
    """
    order = "<" if data[:2] == b"II" else ">"
    big = struct.unpack_from(order + "H", data, 2)[0] == 43  # BigTIFF
    first, count, entry, link = ("Q", "Q", 20, "Q") if big else ("I", "H", 12, "I")
    at, pages = struct.unpack_from(order + first, data, 8 if big else 4)[0], 0
    for _ in range(MOST_DIRECTORIES):
        if not at or pages > 1:
            return pages
        entries = struct.unpack_from(order + count, data, at)[0]
        start = at + struct.calcsize(count)
        kind = 0
        for place in range(start, start + entry * min(entries, 100), entry):
            if struct.unpack_from(order + "H", data, place)[0] == 254:
                # TIFF 6.0, tag 254 (NewSubfileType): bit 0 a reduced copy, bit 2 a mask.
                kind = struct.unpack_from(order + "I", data, place + (12 if big else 8))[0]
        pages += not kind & 0b101
        at = struct.unpack_from(order + link, data, start + entry * entries)[0]
    return 2  # more directories than any photo has


# Upright ---------------------------------------------------------------------

#: How pixels come to stand upright, by what EXIF says of row 0 and column 0 (CIPA DC-008, tag 274).
UPRIGHT: dict[int, Callable[[np.ndarray], np.ndarray]] = {
    2: lambda pixels: cv2.flip(pixels, 1),
    3: lambda pixels: cv2.rotate(pixels, cv2.ROTATE_180),
    4: lambda pixels: cv2.flip(pixels, 0),
    5: cv2.transpose,
    6: lambda pixels: cv2.rotate(pixels, cv2.ROTATE_90_CLOCKWISE),
    7: lambda pixels: cv2.flip(cv2.transpose(pixels), -1),
    8: lambda pixels: cv2.rotate(pixels, cv2.ROTATE_90_COUNTERCLOCKWISE),
}


#: Those of them by which width and height change places.
TRANSPOSED = (5, 6, 7, 8)


def _orientation(picture: Image.Image) -> int:
    try:
        return int(picture.getexif().get(ExifTags.Base.Orientation, 1))
    except Exception:  # damaged EXIF data beside sound pixels: as it lies
        return 1


# Colours ---------------------------------------------------------------------


def _in_strips(picture: Image.Image, part: int) -> np.ndarray:
    """A decoded picture of any mode and colour profile as 8-bit sRGB, `part` times smaller."""
    to_srgb = _to_srgb(picture)
    width, height = (-(-side // part) for side in picture.size)
    pixels = np.empty((height, width, 3), np.uint8)
    for top, low in _strips(picture, part):
        strip = np.asarray(to_srgb(picture.crop((0, top, picture.width, low))))
        if part > 1:
            size = (width, -(-len(strip) // part))
            strip = cv2.resize(strip, size, interpolation=cv2.INTER_AREA)
        pixels[top // part : top // part + len(strip)] = strip
    return pixels


def _strips(picture: Image.Image, part: int = 1) -> Iterator[tuple[int, int]]:
    rows = max(part, STRIP_PIXELS // picture.width // part * part)
    for top in range(0, picture.height, rows):
        yield top, min(top + rows, picture.height)


def _to_srgb(picture: Image.Image) -> Callable[[Image.Image], Image.Image]:
    """What brings a strip of a picture to 8-bit sRGB."""
    profile = picture.info.get("icc_profile")
    if picture.mode == "F" or picture.mode.startswith("I"):
        top = _top(picture)
        return lambda strip: _eight_bits(strip, top)
    if picture.mode == "LAB":
        return _transform(ImageCms.createProfile("LAB"), "LAB")
    if picture.mode in {"LA", "PA", "RGBA", "RGBa", "La"} or "transparency" in picture.info:
        plain, mode = _on_ground, "RGB"
    elif picture.mode in {"P", "1"}:
        plain, mode = _in_colours, "RGB"
    else:
        plain, mode = (lambda strip: strip), picture.mode
    if profile:
        try:
            through = _through(profile, mode)
            return lambda strip: through(plain(strip))
        except (ImageCms.PyCMSError, OSError, ValueError):
            pass  # a damaged profile, or one for another mode: the plain conversion will do
    return lambda strip: _in_colours(plain(strip))


def _in_colours(strip: Image.Image) -> Image.Image:
    return strip if strip.mode == "RGB" else strip.convert("RGB")


def _on_ground(strip: Image.Image) -> Image.Image:
    ground = Image.new("RGBA", strip.size, (*BACKGROUND_RGB, 255))
    return Image.alpha_composite(ground, strip.convert("RGBA")).convert("RGB")


def _top(picture: Image.Image) -> float:
    """The level of grey that is white.

    16 bits keep their range. Where the range is not laid down (mode "I" may
    hold 8, 16 or 32 bits, mode "F" anything) it is 255 or 65535, or 1, and
    else what the picture holds.
    """
    if picture.mode.startswith("I;16"):
        return 65535.0
    most = max(float(_levels(picture.crop((0, top, picture.width, low))).max()) for top, low in _strips(picture))
    return next((t for t in ((1.0,) if picture.mode == "F" else (255.0, 65535.0)) if most <= t), most)


def _levels(strip: Image.Image) -> np.ndarray:
    levels = np.asarray(strip).astype(np.float32)
    levels[~np.isfinite(levels)] = 0
    return levels


def _eight_bits(strip: Image.Image, top: float) -> Image.Image:
    """Grey levels of 16 bits, 32 bits or floating point -> 8 bits."""
    levels = np.clip(_levels(strip) * (255 / top), 0, 255).round().astype(np.uint8)
    return Image.fromarray(levels).convert("RGB")


def _transform(
    given: ImageCms.ImageCmsProfile | ImageCms.core.CmsProfile, mode: str
) -> Callable[[Image.Image], Image.Image]:
    way = ImageCms.buildTransform(given, ImageCms.createProfile("sRGB"), mode, "RGB")

    def through(strip: Image.Image) -> Image.Image:
        made = ImageCms.applyTransform(strip, way)
        if made is None:  # only where it changes a picture in place
            raise ImageCms.PyCMSError("the profile gave no picture")
        return made

    return through


def _through(profile: bytes, mode: str) -> Callable[[Image.Image], Image.Image]:
    """The way through the embedded colour profile, unless that would change nothing."""
    way = _transform(ImageCms.ImageCmsProfile(io.BytesIO(profile)), mode)
    if mode == "RGB":
        # Nearly every camera tags sRGB; converting 12 megapixels takes longer than decoding them.
        steps = np.linspace(0, 255, 9).astype(np.uint8)
        colours = np.stack(np.meshgrid(steps, steps, steps), -1).reshape(27, 27, 3)
        if np.abs(np.asarray(way(Image.fromarray(colours))).astype(int) - colours).max() <= SAME_COLOUR_LEVELS:
            return lambda strip: strip
    return way
