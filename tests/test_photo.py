import io
import os
import struct
import subprocess
import sys
import zlib

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms, TiffImagePlugin
from skimage.color import lab2xyz

from counter.basics import decoding
from counter.basics.answer import Refusal
from counter.basics.decoding import File
from counter.basics.photo import Photo, read_photo

#: A picture whose four corners differ, so that every turn shows.
CORNERS = np.zeros((240, 320, 3), np.uint8)
CORNERS[:120, :160], CORNERS[:120, 160:] = (200, 30, 30), (30, 200, 30)
CORNERS[120:, :160], CORNERS[120:, 160:] = (30, 30, 200), (220, 220, 60)


def saved(picture, form, **options):
    file = io.BytesIO()
    picture.save(file, form, **options)
    return file.getvalue()


def corners(photo):
    return photo.pixels[[20, 20, -20, -20], [20, -20, 20, -20]].astype(int)


def plain(colour, mode="RGB"):
    return Image.new(mode, (240, 240), colour)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF", "HEIF", "JPEG2000"])
def test_formats(form):
    photo = read_photo(saved(Image.fromarray(CORNERS), form))
    assert isinstance(photo, Photo)
    assert (photo.width, photo.height) == (320, 240)
    assert np.abs(corners(photo) - CORNERS[[20, 20, -20, -20], [20, -20, 20, -20]]).max() < 16
    assert not photo.pixels.flags.writeable


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF", "WEBP", "HEIF"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_exif_rotation(form, orientation):
    # Source: CIPA DC-008 (Exif), tag 274: where row 0 and column 0 of the stored picture belong.
    turn = {
        1: lambda a: a,
        2: lambda a: a[:, ::-1],
        3: lambda a: a[::-1, ::-1],
        4: lambda a: a[::-1],
        5: lambda a: a.transpose(1, 0, 2),
        6: lambda a: np.rot90(a, -1),
        7: lambda a: np.rot90(a, 2).transpose(1, 0, 2),
        8: np.rot90,
    }
    exif = Image.Exif()
    exif[274] = orientation
    # A HEIF file turns itself by its own boxes (ISO/IEC 23008-12), which the writer derives from this tag.
    photo = read_photo(saved(Image.fromarray(CORNERS), form, exif=exif.tobytes()))
    wanted = Photo(np.ascontiguousarray(turn[orientation](CORNERS)))
    assert photo.pixels.shape == wanted.pixels.shape
    assert np.abs(corners(photo) - corners(wanted)).max() < 16


def test_damaged_exif_does_no_harm():
    photo = read_photo(saved(Image.fromarray(CORNERS), "JPEG", exif=b"Exif\0\0II*\0\xff\xff\xff\xff\x01"))
    assert (photo.width, photo.height) == (320, 240)


RAMP = np.tile(np.linspace(0, 65535, 320), (240, 1))


@pytest.mark.parametrize(
    "levels, form",
    [
        (RAMP.astype(np.uint16), "PNG"),
        (RAMP.astype(np.uint16), "TIFF"),
        (RAMP.astype(np.int32), "TIFF"),
        ((RAMP / 257).astype(np.int32), "TIFF"),
        ((RAMP * 30000).astype(np.int32), "TIFF"),
        ((RAMP / 65535).astype(np.float32), "TIFF"),
        ((RAMP * 1.5).astype(np.float32), "TIFF"),
    ],
    ids=["16 bits PNG", "16 bits TIFF", "16 in 32", "8 in 32", "32 bits", "0 to 1", "0 to anything"],
)
def test_deep_greys_keep_their_range(levels, form):
    photo = read_photo(saved(Image.fromarray(levels), form))
    assert np.abs(photo.pixels - (RAMP / 257)[..., None]).max() <= 1.01


def test_dark_16_bits_stay_dark():
    photo = read_photo(saved(Image.fromarray((RAMP / 16).astype(np.uint16)), "PNG"))
    assert photo.pixels.max() == 16


def test_values_that_are_no_numbers_count_as_black():
    levels = np.full((240, 240), 0.5, np.float32)
    levels[0, :2] = np.nan, np.inf
    photo = read_photo(saved(Image.fromarray(levels), "TIFF"))
    assert photo.pixels[0, 0, 0] == photo.pixels[0, 1, 0] == 0 and photo.pixels[1, 1, 0] == 128


def test_colours_of_16_bits():
    # 16-bit RGB as PNG (W3C PNG, colour type 2, bit depth 16): big-endian samples, filter byte 0.
    row = b"\0" + struct.pack(">HHH", 0xFFFF, 0x8080, 0x0000) * 240
    photo = read_photo(png(240, 240, row * 240, depth=16))
    assert photo.pixels[5, 5].tolist() == [255, 128, 0]


RASPBERRY = (204, 0, 51)


@pytest.mark.parametrize(
    "mode, form, wanted",
    [
        ("P", "PNG", RASPBERRY),
        ("CMYK", "JPEG", RASPBERRY),
        ("YCbCr", "JPEG", RASPBERRY),
        ("L", "PNG", 67),
        ("1", "PNG", 0),
    ],
)
def test_modes_become_colours(mode, form, wanted):
    # Grey: luma of ITU-R BT.601, 0.299 R + 0.587 G + 0.114 B.
    picture = plain(RASPBERRY).convert(mode, dither=Image.Dither.NONE)
    photo = read_photo(saved(picture, form))
    assert photo.pixels.shape == (240, 240, 3)
    assert np.abs(photo.pixels[9, 9].astype(int) - wanted).max() < 4


@pytest.mark.parametrize("mode", ["RGBA", "LA"])
def test_what_is_transparent_becomes_grey(mode):
    clear = Image.fromarray(CORNERS).convert(mode)
    clear.putalpha(0)
    assert (read_photo(saved(clear, "PNG")).pixels == 128).all()
    half = plain((255, 255, 255, 128), "RGBA")
    assert abs(int(read_photo(saved(half, "PNG")).pixels[0, 0, 0]) - 192) <= 1


def test_transparent_colour_of_a_palette_becomes_grey():
    picture = plain(3, "P")
    picture.putpalette([0, 0, 0] * 3 + [250, 20, 20])
    assert (read_photo(saved(picture, "PNG", transparency=3)).pixels == 128).all()


def test_lab():
    # CIE 1976: L* 50, a* b* 0 is a middle grey, sRGB 119 (Lindbloom's calculator; from memory).
    photo = read_photo(saved(plain((128, 128, 128), "LAB"), "TIFF"))
    assert np.abs(photo.pixels[0, 0].astype(int) - 119).max() <= 2


# --- colour profiles, built by hand from the ICC specification (ICC.1:2001-04) ---

BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
D50, D65 = np.array([0.9642, 1, 0.8249]), np.array([0.3127 / 0.3290, 1, 0.3583 / 0.3290])


def icc(kind, space, pcs, tags):
    table, data = struct.pack(">I", len(tags)), b""
    start = 128 + 4 + 12 * len(tags)
    for name, content in tags.items():
        content += b"\0" * (-len(content) % 4)
        table += struct.pack(">4sII", name, start + len(data), len(content))
        data += content
    white = b"".join(struct.pack(">i", round(v * 65536)) for v in D50)
    head = struct.pack(">I4sI4s4s4s", start + len(data), b"none", 0x02400000, kind, space, pcs)
    head += struct.pack(">6H4s4sII4sIIII", 2026, 1, 1, 0, 0, 0, b"acsp", b"\0" * 4, 0, 0, b"\0" * 4, 0, 0, 0, 0)
    head = head[:68] + white + b"\0" * 48
    return head[:128] + table + data


def text(words):
    return b"text" + b"\0" * 4 + words + b"\0"


def description(words):
    return b"desc" + b"\0" * 4 + struct.pack(">I", len(words) + 1) + words + b"\0" + b"\0" * 78


def to_xyz(primaries):
    """Linear RGB to XYZ of white D65, from chromaticities."""
    columns = np.array([[x / y, 1, (1 - x - y) / y] for x, y in primaries]).T
    return columns * np.linalg.solve(columns, D65)


# Source: SMPTE EG 432-1 primaries with white D65 (Display P3), and IEC 61966-2-1 (sRGB); both as in CSS Color 4.
P3 = to_xyz([(0.680, 0.320), (0.265, 0.690), (0.150, 0.060)])
SRGB = to_xyz([(0.64, 0.33), (0.30, 0.60), (0.15, 0.06)])


def linear(v):
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def encoded(v):
    v = np.clip(v, 0, 1)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)


def rgb_profile(matrix):
    adapted = np.linalg.inv(BRADFORD) @ np.diag((BRADFORD @ D50) / (BRADFORD @ D65)) @ BRADFORD @ matrix
    curve = np.round(linear(np.linspace(0, 1, 1024)) * 65535).astype(">u2").tobytes()
    tags = {b"desc": description(b"made for a test"), b"cprt": text(b"none")}
    tags[b"wtpt"] = b"XYZ " + b"\0" * 4 + b"".join(struct.pack(">i", round(v * 65536)) for v in D50)
    for name, column in zip(b"rgb", adapted.T, strict=True):
        fixed = b"".join(struct.pack(">i", round(v * 65536)) for v in column)
        tags[bytes([name]) + b"XYZ"] = b"XYZ " + b"\0" * 4 + fixed
        tags[bytes([name]) + b"TRC"] = b"curv" + b"\0" * 4 + struct.pack(">I", 1024) + curve
    return icc(b"mntr", b"RGB ", b"XYZ ", tags)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF", "WEBP", "HEIF"])
@pytest.mark.parametrize("colour", [(200, 60, 60), (60, 160, 90), (90, 60, 180), (210, 190, 120)])
def test_wide_colours_are_brought_to_srgb(form, colour):
    wanted = 255 * encoded(np.linalg.inv(SRGB) @ P3 @ linear(np.array(colour) / 255))
    photo = read_photo(saved(plain(colour), form, icc_profile=rgb_profile(P3)))
    assert np.abs(wanted - colour).max() > 6  # the conversion shows
    assert np.abs(photo.pixels[99, 99] - wanted).max() < 5


def test_srgb_profile_leaves_every_level_alone():
    for profile in (rgb_profile(SRGB), ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()):
        rng = np.random.default_rng(1)
        pixels = rng.integers(0, 256, (210, 210, 3), dtype=np.uint8)
        assert np.array_equal(read_photo(saved(Image.fromarray(pixels), "PNG", icc_profile=profile)).pixels, pixels)


def test_cmyk_goes_through_its_own_profile():
    # lut8Type (ICC.1:2001-04, 6.5.8): 4 inks, 2 grid points; this press prints cyan as a dull green.
    green = (60.0, -30.0, 20.0)
    grid = [[100, 0, 0] if not inks else list(green) if inks == 8 else [0, 0, 0] for inks in range(16)]
    levels = bytes(v for L, a, b in grid for v in (round(L * 2.55), int(a) + 128, int(b) + 128))
    even = bytes(range(256))
    matrix = b"".join(struct.pack(">i", v * 65536) for v in (1, 0, 0, 0, 1, 0, 0, 0, 1))
    lut = b"mft1" + b"\0" * 4 + bytes([4, 3, 2, 0]) + matrix + even * 4 + levels + even * 3
    tags = {b"desc": description(b"made for a test"), b"cprt": text(b"none"), b"A2B0": lut}
    profile = icc(b"prtr", b"CMYK", b"Lab ", tags)
    photo = read_photo(saved(plain((255, 0, 0, 0), "CMYK"), "TIFF", icc_profile=profile))
    xyz = np.linalg.inv(BRADFORD) @ ((BRADFORD @ D65) / (BRADFORD @ D50) * (BRADFORD @ lab2xyz(green, "D50")))
    assert np.abs(photo.pixels[9, 9] - 255 * encoded(np.linalg.inv(SRGB) @ xyz)).max() < 3


@pytest.mark.parametrize(
    "profile",
    [b"junk", rgb_profile(SRGB)[:200], ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()],
)
def test_useless_profile_does_no_harm(profile):
    photo = read_photo(saved(Image.fromarray(CORNERS), "PNG", icc_profile=profile))
    assert np.array_equal(photo.pixels, CORNERS)


def test_profile_of_another_mode_does_no_harm():
    assert isinstance(read_photo(saved(plain(90, "L"), "PNG", icc_profile=rgb_profile(P3))), Photo)


# --- what is refused ---


def png(width, height, rows=b"", depth=8):
    head = struct.pack(">IIBBBBB", width, height, depth, 2, 0, 0, 0)

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


JPEG = saved(Image.fromarray(CORNERS), "JPEG")
POSTSCRIPT = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 300 300\n%%EndComments\nshowpage\n%%EOF\n"


@pytest.mark.parametrize(
    "content, code",
    [
        (b"", "empty"),
        (b"not a picture at all", "not a picture"),
        (POSTSCRIPT, "not a picture"),  # would start another program
        (saved(plain(9, "L"), "PDF"), "not a picture"),
        (png(60000, 60000), "too large"),
        (png(11000, 11000), "too large"),
        (png(300, 300), "truncated"),
        (JPEG[:2000], "truncated"),
        (JPEG[:-400], "truncated"),
        (saved(Image.fromarray(CORNERS), "PNG")[:500], "truncated"),
        (saved(Image.fromarray(CORNERS), "HEIF")[:-300], "truncated"),
        (saved(Image.fromarray(CORNERS), "WEBP")[:-100], "truncated"),
        (saved(Image.fromarray(CORNERS), "TIFF")[:-5000], "truncated"),
    ],
)
def test_bad_files_are_refused(content, code):
    refusal = read_photo(content)
    assert isinstance(refusal, Refusal)
    assert refusal.code == code


def test_exactly_200_pixels_will_do():
    assert isinstance(read_photo(saved(Image.fromarray(CORNERS[:200, :200]), "PNG")), Photo)


def frames(form, **options):
    first, second = Image.fromarray(CORNERS), Image.fromarray(CORNERS[::-1].copy())
    return saved(first, form, save_all=True, append_images=[second], **options)


@pytest.mark.parametrize("form", ["GIF", "PNG", "WEBP"])
def test_animations_are_refused(form):
    assert read_photo(frames(form, duration=50)) == Refusal("animated")


@pytest.mark.parametrize("form", ["MPO", "HEIF"])
def test_second_view_of_a_phone_is_left_aside(form):
    photo = read_photo(frames(form))
    assert np.abs(corners(photo) - CORNERS[[20, 20, -20, -20], [20, -20, 20, -20]]).max() < 16


def test_several_pages_are_refused_but_small_copies_are_not():
    assert read_photo(frames("TIFF")) == Refusal("several pictures")
    file = io.BytesIO()
    with TiffImagePlugin.AppendingTiffWriter(file) as writer:
        for pixels, reduced in ((CORNERS, 0), (CORNERS[::4, ::4].copy(), 1)):
            Image.fromarray(pixels).save(writer, "TIFF", tiffinfo={254: reduced})
            writer.newFrame()
    whole = file.getvalue()
    with Image.open(io.BytesIO(whole)) as tiff:
        assert tiff.n_frames == 2
    assert np.array_equal(read_photo(whole).pixels, CORNERS)


def test_paths(tmp_path):
    assert read_photo(tmp_path / "none.jpg") == Refusal("missing")
    assert read_photo("na\0me.jpg") == Refusal("missing")
    assert read_photo(tmp_path).reason == "This file is not a picture that can be read (it is a folder)."
    path = tmp_path / "photo.png"
    path.write_bytes(saved(Image.fromarray(CORNERS), "PNG"))
    assert read_photo(path / "deeper.png") == Refusal("missing")
    assert isinstance(read_photo(str(path)), Photo)
    with open(tmp_path / "huge.tif", "wb") as file:
        file.truncate(700_000_000)
    assert read_photo(tmp_path / "huge.tif").reason.endswith("(the file has 700 megabytes).")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_pipe_does_not_hang(tmp_path):
    os.mkfifo(tmp_path / "pipe.jpg")
    assert read_photo(tmp_path / "pipe.jpg").code == "not a picture"


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF", "TIFF", "GIF", "BMP"])
def test_random_damage_never_raises(form):
    whole = saved(Image.fromarray(CORNERS), form)
    rng = np.random.default_rng(0)
    for _ in range(25):
        damaged = bytearray(whole)
        for place in rng.integers(0, len(whole), 8):
            damaged[place] = rng.integers(256)
        assert isinstance(read_photo(bytes(damaged[: rng.integers(1, len(whole) + 1)])), Photo | Refusal)
        assert isinstance(read_photo(bytes(damaged)), Photo | Refusal)


def test_working_copy_is_made_once_and_stays():
    large = Photo(np.arange(2500 * 400 * 3, dtype=np.uint32).reshape(2500, 400, 3).astype(np.uint8))
    assert large.shrink == 1.25 and large.working.shape == (2000, 320, 3)
    assert large.working is large.working and not large.working.flags.writeable
    small = Photo(CORNERS)
    assert small.shrink == 1 and small.working is small.pixels


def test_pixels_of_another_shape_are_named():
    with pytest.raises(ValueError, match="must be"):
        Photo(np.zeros((300, 300), np.uint8))


# --- how little is held of a large one ---


@pytest.fixture(scope="module")
def large():
    """A smooth picture of 4160 x 3120 pixels."""
    y, x = np.mgrid[:3120, :4160]
    return np.stack([x * 255 // 4159, y * 255 // 3119, (x + y) * 255 // 7278], -1).astype(np.uint8)


@pytest.mark.parametrize("orientation", [1, 3, 6, 7])
def test_of_a_large_jpeg_no_more_is_decoded_than_is_looked_at(large, orientation, monkeypatch):
    asked = []
    monkeypatch.setattr(
        File, "pixels", lambda self, least=None, own=File.pixels: asked.append(least) or own(self, least)
    )
    exif = Image.Exif()
    exif[274] = orientation
    photo = read_photo(saved(Image.fromarray(large), "JPEG", quality=95, exif=exif.tobytes()))
    wanted = {1: large, 3: large[::-1, ::-1], 6: np.rot90(large, -1), 7: np.rot90(large, 2).transpose(1, 0, 2)}[
        orientation
    ]
    assert (photo.width, photo.height) == (wanted.shape[1], wanted.shape[0])
    assert photo.shrink == 2.08 and asked == [2000]
    area = cv2.resize(np.ascontiguousarray(wanted), photo.working.shape[1::-1], interpolation=cv2.INTER_AREA)
    assert max(photo.working.shape) == 2000 and np.abs(photo.working.astype(int) - area).mean() < 1
    assert asked == [2000]
    assert np.abs(photo.pixels.astype(int) - wanted).mean() < 1 and asked == [2000, None]
    assert photo.pixels is photo.pixels and not photo.pixels.flags.writeable


@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_more_than_50_megapixels_are_read_at_half_the_width(form, monkeypatch, large):
    monkeypatch.setattr(decoding, "MOST_KEPT_PIXELS", 10_000_000)
    photo = read_photo(saved(Image.fromarray(large[:3001]), form))
    assert (photo.width, photo.height) == (2080, 1501) and photo.pixels.shape == (1501, 2080, 3)
    assert np.abs(photo.pixels[:1500].astype(int) - large[:3000:2, ::2]).mean() < 1


def webp(width, height):
    """The few bytes of a lossless WebP of one colour (RFC 9649, 3.4), whatever size it says."""
    body = b"\x2f" + struct.pack("<I", (width - 1) | (height - 1) << 14) + b"\x07\x10\x11\x11\x88\x88\xfe\x07\0"
    chunk = b"VP8L" + struct.pack("<I", len(body)) + body
    return b"RIFF" + struct.pack("<I", 4 + len(chunk)) + b"WEBP" + chunk


def scans(side, many):
    """A progressive JPEG whose last scan comes again and again, which asks for as many passes over all pixels."""
    whole = saved(Image.new("RGB", (side, side), (90, 40, 20)), "JPEG", progressive=True)
    last = whole.rindex(b"\xff\xda")
    return whole[:last] + whole[last:-2] * many + b"\xff\xd9"


def test_small_files_that_ask_for_much_are_refused_by_their_header(monkeypatch):
    assert isinstance(read_photo(webp(400, 300)), Photo)
    assert isinstance(read_photo(scans(400, 20)), Photo)
    monkeypatch.setattr(File, "pixels", lambda *_: pytest.fail("something was decoded"))
    lossy = saved(Image.fromarray(CORNERS), "WEBP")
    extended = saved(Image.fromarray(CORNERS), "WEBP", exif=b"Exif\0\0II*\0\x08\0\0\0\0\0\0\0\0\0")
    assert decoding._webp_size(lossy) == decoding._webp_size(extended) == (320, 240)
    assert lossy[12:16] == b"VP8 " and extended[12:16] == b"VP8X"
    with monkeypatch.context() as patch:
        # Opening one lays out its canvases.
        patch.setattr(decoding, "_open", lambda *_: pytest.fail("it was opened"))
        assert read_photo(webp(16383, 6104)).code == "too large"
    assert read_photo(scans(3000, 400)).code == "too large"


@pytest.mark.skipif(not os.path.exists("/proc/self/status"), reason="peak memory is read from Linux")
@pytest.mark.parametrize(
    "mode, form, options",
    [
        ("RGBA", "PNG", {}),
        ("RGB", "JPEG", {"progressive": True}),
        ("RGB", "JPEG2000", {}),
        ("F", "TIFF", {"compression": "tiff_lzw"}),
    ],
)
def test_no_file_takes_more_than_500_megabytes(tmp_path, mode, form, options):
    colour = (200, 30, 60, 99)[: len(mode)] if mode != "F" else 0.5
    Image.new(mode, (6900, 6900), colour).save(tmp_path / "file", form, **options)
    source = (
        "import sys; from counter.basics.photo import read_photo\n"
        "photo = read_photo(sys.argv[1]); photo.working\n"
        "print(open('/proc/self/status').read().partition('VmHWM:')[2].split()[0])"
    )
    run = subprocess.run([sys.executable, "-c", source, tmp_path / "file"], capture_output=True, text=True)
    assert int(run.stdout) * 1024 < 500e6, run.stderr


def directories(many, reduced):
    """A TIFF file whose directories, of 300 x 300 pixels each without data, are chained (TIFF 6.0, section 2)."""
    tags = [(254, reduced), (256, 300), (257, 300), (258, 8), (259, 1), (262, 1), (273, 8), (277, 1), (278, 300)]
    tags.append((279, 90000))
    parts, at = [b"II*\0" + struct.pack("<I", 8)], 8
    for k in range(many):
        at += 2 + 12 * len(tags) + 4
        parts.append(struct.pack("<H", len(tags)) + b"".join(struct.pack("<HHII", tag, 4, 1, v) for tag, v in tags))
        parts.append(struct.pack("<I", 0 if k == many - 1 else at))
    return b"".join(parts)


@pytest.mark.parametrize("reduced", [0, 1])
def test_no_more_than_a_few_directories_are_looked_at(reduced, monkeypatch):
    looked = []
    monkeypatch.setattr(decoding.struct, "unpack_from", lambda *a, own=struct.unpack_from: looked.append(1) or own(*a))
    assert read_photo(directories(40_000, reduced)) == Refusal("several pictures")
    assert len(looked) < 500
    assert isinstance(read_photo(directories(3, 1) + bytes(90_000)), Photo)
    circle = directories(1, 1)
    assert read_photo(circle[:-4] + struct.pack("<I", 8)) == Refusal("several pictures")


@pytest.mark.parametrize("size", [(1, 1), (20, 3), (199, 300)])
def test_no_picture_is_too_small_to_be_read(size):
    assert read_photo(saved(Image.new("L", size), "PNG")).working.shape == (*size[::-1], 3)
    assert read_photo(np.zeros((*size, 3), np.uint8)).width == size[1]


def test_a_strip_is_refused():
    for size in ((200, 5000), (150_000, 200)):
        refusal = read_photo(saved(Image.new("L", size), "PNG"))
        assert refusal.code == "too small" and f"a strip of {size[0]} x {size[1]}" in refusal.reason
    assert isinstance(read_photo(saved(Image.new("L", (200, 4000)), "PNG")), Photo)


def test_decoders_say_nothing_on_the_terminal(capfd):
    whole = saved(Image.fromarray(CORNERS), "TIFF", compression="tiff_lzw")
    for end in (-1000, -4000, len(whole) // 2):
        read_photo(whole[:end])
    assert capfd.readouterr() == ("", "")
