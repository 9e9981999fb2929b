import io
import struct
import zlib

import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageCms

from counter.answer import Refusal
from counter.photo import Photo, read_photo

#: A picture whose four corners differ, so that every turn shows.
CORNERS = np.zeros((240, 320, 3), np.uint8)
CORNERS[:120, :160], CORNERS[:120, 160:] = (200, 30, 30), (30, 200, 30)
CORNERS[120:, :160], CORNERS[120:, 160:] = (30, 30, 200), (220, 220, 60)


def saved(picture, form, **options):
    file = io.BytesIO()
    picture.save(file, form, **options)
    return file.getvalue()


def corners(photo):
    return [tuple(int(v) for v in photo.pixels[y, x]) for y, x in ((20, 20), (20, -20), (-20, 20), (-20, -20))]


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF", "BMP", "HEIF"])
def test_formats(form):
    pillow_heif.register_heif_opener()
    photo = read_photo(saved(Image.fromarray(CORNERS), form))
    assert isinstance(photo, Photo)
    assert (photo.width, photo.height) == (320, 240)
    assert np.abs(np.array(corners(photo)) - CORNERS[[20, 20, -20, -20], [20, -20, 20, -20]]).max() < 16


@pytest.mark.parametrize("orientation", range(1, 9))
def test_exif_rotation(orientation):
    # Source: CIPA DC-008 (Exif), tag 274: where row 0 and column 0 of the stored picture belong.
    turn = {
        1: lambda a: a,
        2: lambda a: a[:, ::-1],
        3: lambda a: a[::-1, ::-1],
        4: lambda a: a[::-1],
        5: lambda a: a.transpose(1, 0, 2),
        6: lambda a: np.rot90(a, -1),
        7: lambda a: np.rot90(a, 2).transpose(1, 0, 2),
        8: lambda a: np.rot90(a),
    }
    exif = Image.Exif()
    exif[274] = orientation
    photo = read_photo(saved(Image.fromarray(CORNERS), "PNG", exif=exif))
    assert np.array_equal(photo.pixels, turn[orientation](CORNERS))


def test_sixteen_bits_keep_their_range():
    ramp = np.tile(np.linspace(0, 65535, 320), (240, 1)).astype(np.uint16)
    photo = read_photo(saved(Image.fromarray(ramp), "PNG"))
    assert np.abs(photo.pixels[..., 0].astype(int) - ramp / 257).max() <= 1


def test_cmyk_alpha_palette_and_grey():
    picture = Image.fromarray(CORNERS)
    for made in (
        saved(picture.convert("CMYK"), "JPEG"),
        saved(picture.convert("P"), "PNG"),
        saved(picture.convert("L"), "PNG"),
        saved(picture.convert("1"), "PNG"),
    ):
        assert read_photo(made).pixels.shape == (240, 320, 3)
    clear = picture.convert("RGBA")
    clear.putalpha(0)
    assert (read_photo(saved(clear, "PNG")).pixels == 128).all()


def test_colour_profile_is_applied():
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    tagged = saved(Image.fromarray(CORNERS), "PNG", icc_profile=profile.tobytes())
    assert isinstance(read_photo(tagged), Photo)  # a profile for another mode does no harm


def png_that_claims(width, height):
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunk = lambda kind, data: struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    "content, code",
    [
        (b"", "empty"),
        (b"not a picture at all", "not a picture"),
        (png_that_claims(60000, 60000), "too large"),
        (png_that_claims(11000, 11000), "too large"),
        (saved(Image.fromarray(CORNERS[:100, :100]), "PNG"), "too small"),
        (saved(Image.fromarray(CORNERS), "JPEG")[:2000], "truncated"),
        (saved(Image.fromarray(CORNERS), "PNG")[:500], "truncated"),
    ],
)
def test_bad_files_are_refused(content, code):
    refusal = read_photo(content)
    assert isinstance(refusal, Refusal)
    assert refusal.code == code


@pytest.mark.parametrize("form", ["GIF", "PNG", "WEBP"])
def test_animations_are_refused(form):
    frames = [Image.fromarray(CORNERS), Image.fromarray(CORNERS[::-1].copy())]
    moving = saved(frames[0], form, save_all=True, append_images=frames[1:], duration=50)
    assert read_photo(moving) == Refusal("animated")


def test_paths(tmp_path):
    assert read_photo(tmp_path / "none.jpg") == Refusal("missing")
    assert read_photo(tmp_path).code == "not a picture"
    path = tmp_path / "photo.png"
    path.write_bytes(saved(Image.fromarray(CORNERS), "PNG"))
    assert isinstance(read_photo(str(path)), Photo)


def test_random_damage_never_raises():
    whole = saved(Image.fromarray(CORNERS), "JPEG")
    rng = np.random.default_rng(0)
    for _ in range(60):
        damaged = bytearray(whole)
        for place in rng.integers(0, len(whole), 8):
            damaged[place] = rng.integers(256)
        assert isinstance(read_photo(bytes(damaged)), Photo | Refusal)
