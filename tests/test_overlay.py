import os

import numpy as np
import pytest
from PIL import Image, ImageDraw
from skimage.color import rgb2gray
from skimage.feature import match_template

from counter.basics.answer import doubt_letter
from counter.basics.photo import Photo
from counter.comparing.verdict import compare
from counter.plan import read_plan
from counter.showing.overlay import crop_doubt, draw_marks, picture_format, save_picture

SIDE = 1200
GREY = np.full((SIDE, SIDE, 3), 120, np.uint8)


def photo(pixels=GREY):
    return Photo(pixels.copy())


def checked(side=SIDE, cell=7):
    y, x = np.mgrid[:side, :side] // cell
    return np.repeat(((x + y) % 2 * 255).astype(np.uint8)[..., None], 3, axis=2)


def shown_at(drawn, picture, count):
    """Where the photo stands in the marked picture: (scale, offset) by matching a patch of noise."""
    patch = rgb2gray(picture[int(count.centre[1]) + 40 :][:60, int(count.centre[0]) + 40 :][:, :60])
    found = match_template(rgb2gray(drawn), patch)
    row, column = np.unravel_index(np.argmax(found), found.shape)
    assert found.max() > 0.9
    return np.array([column - int(count.centre[0]) - 40, row - int(count.centre[1]) - 40])


@pytest.mark.parametrize("total", [1, 2, 3, 12, 24, 60, 130])
def test_a_sign_stands_at_every_mark(make_count, total):
    rng = np.random.default_rng(3)
    pixels = rng.integers(90, 150, (SIDE, SIDE, 3)).astype(np.uint8)
    count = make_count({total: 1.0}, size=(SIDE, SIDE), radius=500.0)
    drawn = draw_marks(photo(pixels), count)
    x, y = (count.marks + shown_at(drawn, pixels, count)).round().astype(int).T
    # The ground is grey; light and dark of a sign lie within a fifth of a stitch of its middle, or 14 pixels.
    for i, (column, row) in enumerate(zip(x, y, strict=True)):
        near = drawn[row - 14 : row + 15, column - 14 : column + 15].astype(int)
        assert near.max() > 240 and near.min() < 60, i


@pytest.mark.parametrize("ground", ["white", "black", "checked"])
def test_signs_show_on_any_ground(make_count, ground):
    pixels = {"white": np.full_like(GREY, 255), "black": np.zeros_like(GREY), "checked": checked()}[ground]
    count = make_count({24: 1.0}, size=(SIDE, SIDE), radius=450.0)
    drawn, bare = (draw_marks(photo(p), count).astype(int) for p in (pixels, np.full_like(GREY, 120)))
    # Wherever a sign is drawn on grey, the same pixels are drawn on any ground: no sign depends on it.
    top = drawn.shape[0] - bare.shape[0]
    assert top == 0
    body = bare[300:1100]
    light, dark = (body > 250).all(axis=2), (body < 40).all(axis=2)
    assert light.sum() > 3000 and dark.sum() > 3000
    same = (np.abs(drawn[300:1100] - body).max(axis=2) < 60) & (light | dark)
    # Numbers change their ink with the ground; the rest, most of the signs, stays as it is.
    assert same.sum() > 0.6 * (light | dark).sum()


def test_numbers_are_dark_on_light_and_light_on_dark(make_count, monkeypatch):
    inks = set()
    plain = ImageDraw.ImageDraw.text

    def text(self, xy, words, ink, *args, **kwargs):
        if kwargs.get("stroke_width"):
            inks.add((sum(ink) > 380, sum(kwargs["stroke_fill"]) > 380))
        return plain(self, xy, words, ink, *args, **kwargs)

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", text)
    count = make_count({12: 1.0}, size=(SIDE, SIDE))
    draw_marks(photo(np.full_like(GREY, 250)), count)
    assert inks == {(False, True)}
    inks.clear()
    draw_marks(photo(np.zeros_like(GREY)), count)
    assert inks == {(True, False)}


def test_places_in_doubt_get_a_square_and_a_letter(make_count):
    bare = draw_marks(photo(), make_count({24: 1.0}, size=(SIDE, SIDE)))
    boxed = draw_marks(photo(), make_count({24: 1.0}, size=(SIDE, SIDE), doubts=[(3, (600.0, 300.0), "wide gap")]))
    changed = (np.abs(boxed[: bare.shape[0] - 80].astype(int) - bare[:-80]).max(axis=2) > 60).sum()
    assert changed > 500


def test_the_first_mark_has_a_shape_of_its_own(make_count):
    count = make_count({12: 1.0}, size=(SIDE, SIDE), radius=450.0)
    rng = np.random.default_rng(3)
    pixels = rng.integers(90, 150, (SIDE, SIDE, 3)).astype(np.uint8)
    drawn = draw_marks(photo(pixels), count)
    at = (count.marks + shown_at(drawn, pixels, count)).round().astype(int)
    first, second, fifth = (drawn[r - 2 : r + 3, c - 2 : c + 3].reshape(-1, 3) for c, r in at[[0, 1, 4]])
    assert (first == (255, 176, 0)).all() and (fifth == 255).all() and (second < 160).all()


@pytest.mark.parametrize("total, wanted", [(24, 24), (60, 60), (300, 62)])
def test_labels_never_touch_and_thin_out_where_there_is_no_room(make_count, monkeypatch, total, wanted):
    boxes = {}
    plain = ImageDraw.ImageDraw.text

    def text(self, xy, words, *args, **kwargs):
        if words.isdigit() and kwargs.get("stroke_width"):
            boxes[int(words)] = self.textbbox(xy, words, args[1], anchor="mm")
        return plain(self, xy, words, *args, **kwargs)

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", text)
    count = make_count({total: 1.0}, size=(SIDE, SIDE), doubts=[(3, (300.0, 600.0), "wide gap")])
    drawn = draw_marks(photo(), count)
    assert 1 in boxes and total in boxes and abs(len(boxes) - wanted) <= 2
    listed = list(boxes.values())
    for i, a in enumerate(listed):
        assert a[0] >= 0 and a[2] <= drawn.shape[1]
        for b in listed[:i]:
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_rim_at_the_frame_keeps_its_labels(make_count):
    count = make_count({24: 1.0}, size=(SIDE, SIDE), radius=600.0)
    drawn = draw_marks(photo(), count)
    assert drawn.shape[1] > SIDE + 40


def test_large_photo_is_made_smaller_and_a_small_one_larger(make_count):
    for side, wanted in ((4000, 1600), (400, 1100)):
        drawn = draw_marks(photo(np.full((side, side, 3), 120, np.uint8)), make_count({24: 1.0}, size=(side, side)))
        assert drawn.shape[1] == wanted


def test_small_piece_fills_the_picture(make_count):
    count = make_count({24: 1.0}, size=(4000, 3000), centre=(2000.0, 1500.0), radius=200.0)
    drawn = draw_marks(photo(np.full((3000, 4000, 3), 120, np.uint8)), count)
    assert drawn.shape[1] == 1100


@pytest.fixture
def written(monkeypatch):
    """Every text that is drawn."""
    words, plain = [], ImageDraw.ImageDraw.text

    def text(self, xy, text, *args, **kwargs):
        words.append(text)
        return plain(self, xy, text, *args, **kwargs)

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", text)
    return words


def test_words_say_the_count_and_the_verdict(make_count, written):
    count = make_count({23: 0.98, 24: 0.02}, size=(SIDE, SIDE), doubts=[(3, (1000.0, 600.0), "a wide gap")])
    draw_marks(photo(), count, compare(count, 24))
    told = " ".join(written)
    for part in ("23 stitches", "sure", "short by 1", "4 complete rounds", "before you rip anything back"):
        assert part in told
    assert "A" in written and "Look near 3 o'clock, at mark 3: a wide gap" in told


def test_words_of_a_count_that_is_not_sure(make_count, written):
    draw_marks(photo(), make_count({24: 0.6, 23: 0.4}, sure=False, size=(SIDE, SIDE)))
    told = " ".join(written)
    assert (
        "23 or 24 stitches" in told
        and "not sure" in told
        and "60%" not in told
        and "before you rip anything back" in told
    )


def test_words_of_a_persons_count(make_count, written):
    draw_marks(photo(), make_count({24: 1.0}, size=(SIDE, SIDE)), by_person=True)
    assert "counted by a person" in written and not any("%" in text for text in written)


def test_crop_shows_the_place_enlarged(make_count):
    # Nearest-pixel enlargement is checked by a dot of 3 x 3 pixels at the place itself.
    pixels = GREY.copy()
    pixels[599:602, 824:827] = 255
    count = make_count({24: 1.0}, size=(SIDE, SIDE), doubts=[(1, (825.0, 600.0), "a dot")])
    crop = crop_doubt(photo(pixels), count, count.doubts[0], 400)
    assert crop.shape == (400, 400, 3)
    white = np.argwhere((crop[190:211, 190:211] > 200).all(axis=2)).mean(axis=0)
    assert np.abs(white - 9.5).max() < 1


def test_crop_at_the_frame_is_filled_up(make_count):
    count = make_count({24: 1.0}, size=(SIDE, SIDE), radius=600.0, doubts=[(1, (600.0, 0.0), "cut")])
    crop = crop_doubt(photo(np.full_like(GREY, 250)), count, count.doubts[0])
    assert (crop[2, :150] == 128).all() and (crop[-2, :50] == 250).all()


def test_crop_shows_the_same_whatever_lies_beside_it(make_count):
    pixels = np.random.default_rng(5).integers(0, 256, (SIDE, SIDE, 3), dtype=np.uint8)
    count = make_count({24: 1.0}, size=(SIDE, SIDE), doubts=[(1, (825.0, 600.0), "a place")])
    elsewhere = pixels.copy()
    elsewhere[:, :400] = elsewhere[:200] = 0
    assert (
        crop_doubt(photo(pixels), count, count.doubts[0]) == crop_doubt(photo(elsewhere), count, count.doubts[0])
    ).all()


def test_crop_beside_the_photo_is_grey(make_count):
    count = make_count({24: 1.0}, size=(SIDE, SIDE), doubts=[(1, (-900.0, SIDE + 900.0), "nowhere")])
    crop = crop_doubt(photo(), count, count.doubts[0])
    assert (crop[:40, :40] == 128).all()


def test_letters():
    assert [doubt_letter(i) for i in (0, 1, 25, 26, 52)] == ["A", "B", "Z", "A2", "A3"]


@pytest.mark.parametrize("name, form", [("a.jpg", "JPEG"), ("a.JPEG", "JPEG"), ("a.png", "PNG")])
def test_saved_picture_is_whole_and_bare(tmp_path, name, form):
    pixels = checked(64, 16)
    save_picture(tmp_path / name, pixels)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    with Image.open(tmp_path / name) as saved:
        assert saved.format == form and not saved.getexif() and "icc_profile" not in saved.info
        assert np.abs(np.asarray(saved).astype(int) - pixels).mean() < 3


@pytest.mark.parametrize("name", ["a.gif", "a", "a.jpg.txt"])
def test_other_endings_are_named(tmp_path, name):
    with pytest.raises(ValueError, match=r"must end in \.jpg or \.png"):
        save_picture(tmp_path / name, GREY)
    with pytest.raises(ValueError, match=r"must end in \.jpg or \.png"):
        picture_format(name)
    assert not list(tmp_path.iterdir())


def test_nothing_half_written(tmp_path, monkeypatch):
    (tmp_path / "a.jpg").write_bytes(b"before")

    def fail(self, file, *args, **kwargs):
        file.write(b"half")
        raise OSError("disk full")

    monkeypatch.setattr(Image.Image, "save", fail)
    with pytest.raises(OSError, match="disk full"):
        save_picture(tmp_path / "a.jpg", GREY)
    assert (tmp_path / "a.jpg").read_bytes() == b"before"
    assert os.listdir(tmp_path) == ["a.jpg"]


def test_missing_folder_is_named(tmp_path):
    with pytest.raises(FileNotFoundError, match="there is no folder"):
        save_picture(tmp_path / "none" / "a.jpg", GREY)
    (tmp_path / "b.jpg").mkdir()
    with pytest.raises(IsADirectoryError, match="is a folder"):
        save_picture(tmp_path / "b.jpg", GREY)


def test_where_the_round_left_its_plan_is_drawn_and_named(make_count, written):
    # (2 single crochets, increase) six times; the increase at stitch 11 was made as one stitch.
    plan = read_plan("R4: (sc 2, inc) x 6 (24)").round(4)
    count = make_count({23: 1.0}, paired=[3, 4, 7, 8, 14, 15, 18, 19, 22, 23], size=(SIDE, SIDE))
    bare = draw_marks(photo(), count, compare(count, 24))
    assert "-1" not in written
    drawn = draw_marks(photo(), count, compare(count, 24, written=plan))
    assert written.count("-1") == 2  # at the place and in the key
    assert "an increase was made as one plain stitch near" in " ".join(written)
    # Nearer to the centre than the mark, and nowhere else in the picture.
    changed = (drawn[: len(bare)] != bare).any(axis=2)[: -len(bare) // 8]
    rows, columns = np.nonzero(changed)
    middle = np.array([columns.mean(), rows.mean()]) - (bare.shape[1] / 2, len(bare) / 2)
    place = count.marks[10] - count.centre
    assert middle @ place > 0.9 * np.linalg.norm(middle) * np.linalg.norm(place)
