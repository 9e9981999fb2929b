import base64
import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from counter.basics.photo import Photo
from counter.page.rim_strip import INSIDE_STITCHES, MOST_STITCH_PX, MOST_STRIP_PX, OUTSIDE_STITCHES, lay_rim_straight


def telling(size):
    """A photo whose every pixel says where it is: across in red, down in green."""
    width, height = size
    y, x = np.mgrid[:height, :width]
    return Photo(np.stack([x * 250 / width, y * 250 / height, np.full_like(x, 90)], axis=-1).astype(np.uint8))


def black(*shape):
    return Photo(np.zeros(shape, np.uint8))


def picture_of(strip):
    head, data = strip.picture.split(",")
    assert head == "data:image/jpeg;base64"
    with Image.open(io.BytesIO(base64.b64decode(data))) as picture:
        return np.asarray(picture).astype(float)


def turned(count, clockwise):
    return replace(count, marks=count.marks[::-1]) if clockwise else count


@pytest.mark.parametrize("large", [1, 3])  # three times as large, a smaller copy shows as much
@pytest.mark.parametrize("clockwise", [False, True])
@pytest.mark.parametrize("begins", [0, 7, 23])
def test_round_reads_from_the_first_mark_in_working_order(make_count, clockwise, begins, large):
    size, centre = (900 * large, 700 * large), (430 * large, 360 * large)
    count = turned(make_count({24: 1.0}, size=size, centre=centre, radius=250 * large), clockwise)
    count = replace(count, marks=np.roll(count.marks, -begins, axis=0))
    strip = lay_rim_straight(telling(count.size), count)
    shown = picture_of(strip)
    rows, columns = shown.shape[:2]
    # Marks stand evenly on a circle, so that the k-th is in the middle of its 24th of the length.
    depth = 1 - 250 / (250 * 1.06)
    row = (depth - strip.depths[0]) / (strip.depths[1] - strip.depths[0]) * rows
    for k, (x, y) in enumerate(count.marks):
        seen = shown[int(row), int((k + 0.5) / 24 * columns)]
        assert seen[:2] == pytest.approx([x * 250 / size[0], y * 250 / size[1]], abs=4), k


@pytest.mark.parametrize("clockwise", [False, True])
def test_photo_is_turned_and_never_mirrored(make_count, clockwise):
    count = turned(make_count({24: 1.0}, size=(900, 700), centre=(430, 360), radius=250), clockwise)
    shown = picture_of(lay_rim_straight(telling(count.size), count))
    rows, columns = shown.shape[:2]
    # Steps to the right and down in the strip, as steps in the photo: alike in sense, as a turn keeps it.
    for x in range(40, columns - 40, 97):
        right = (shown[rows // 2, x + 20] - shown[rows // 2, x - 20])[:2] * (900, 700)
        down = (shown[rows - 9, x] - shown[8, x])[:2] * (900, 700)
        assert right[0] * down[1] - right[1] * down[0] > 0
    outer = shown[0] if clockwise else shown[-1]
    x, y = outer[:, 0] * 900 / 250, outer[:, 1] * 700 / 250
    assert np.hypot(x - 430, y - 360).mean() > 265  # the outline lies at 265


def test_rim_may_be_any_line_and_the_centre_anywhere_within(make_count):
    turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    away = 240 * (1 + 0.08 * np.cos(6 * turn)) * (1 + 0.1 * np.sin(turn))
    outline = np.column_stack([400 + away * np.sin(turn), 350 - away * np.cos(turn)])
    marks = 0.97 * (outline[::-20] - (380, 380)) + (380, 380)
    count = make_count({20: 1.0}, size=(900, 700))
    count = replace(count, marks=marks, outline=outline, shared=np.zeros(400), centre=(380.0, 380.0))
    strip = lay_rim_straight(telling(count.size), count)
    shown = picture_of(strip)
    rows, columns = shown.shape[:2]
    rim = np.array(strip.rim)
    walked = np.concatenate([[0], np.cumsum(np.linalg.norm(np.roll(rim, -1, axis=0) - rim, axis=1))])
    row = (0.03 - strip.depths[0]) / (strip.depths[1] - strip.depths[0]) * rows
    before = -1
    for base, (x, y) in zip(outline[::-20], marks, strict=True):
        column = walked[np.argmin(np.linalg.norm(rim - base, axis=1))] / walked[-1] * columns
        assert column > before
        assert shown[int(row), int(column), :2] == pytest.approx([x * 250 / 900, y * 250 / 700], abs=4)
        before = column


def test_picture_is_no_larger_than_needed_and_no_larger_than_the_photo(make_count):
    near = make_count({24: 1.0}, size=(4000, 3000), radius=1300)
    shown = picture_of(lay_rim_straight(black(3000, 4000, 3), near))
    assert shown.shape[0] == round((OUTSIDE_STITCHES + INSIDE_STITCHES) * MOST_STITCH_PX)
    assert shown.shape[1] / 24 == pytest.approx(1.06 * MOST_STITCH_PX, rel=0.01)
    many = make_count({180: 1.0}, size=(4000, 3000), radius=1300)
    assert picture_of(lay_rim_straight(black(3000, 4000, 3), many)).shape[1] <= MOST_STRIP_PX
    far = make_count({60: 1.0}, size=(640, 640), radius=200)
    shown = picture_of(lay_rim_straight(black(640, 640, 3), far))
    assert shown.shape[1] == pytest.approx(2 * np.pi * 212, rel=0.01)  # one pixel for one of the photo
