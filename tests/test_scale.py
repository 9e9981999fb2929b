"""Scales found in pictures of known geometry: a pinhole camera over a drawn table."""

from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.basics.answer import Count
from counter.basics.photo import Photo, read_photo
from counter.examination import examine
from counter.lengths import mat
from counter.lengths.card import CARD_CORNER_MM, CARD_SIDES_MM, CARD_THICKNESS_MM
from counter.lengths.coin import COIN_HEIGHT_MM, COIN_ROUNDING_MM, COINS
from counter.lengths.plane import FOCAL_LONG_SIDES
from counter.lengths.scale import (
    NO_SCALES,
    NoScale,
    Scale,
    find_scale,
    in_words,
    mat_middle,
    read_length,
    rectified,
    scale_from_diameter,
    to_plane,
)

SAMPLES = Path(__file__).parent.parent / "sample_images"
#: Drawn tables: pixels to the millimetre, and how large, mm.
FINE, TABLE = 6, 420


@dataclass(frozen=True)
class View:
    """A pinhole camera: px from mm on the table (x right, y down, z towards the camera)."""

    matrix: np.ndarray
    size: tuple[int, int]

    @property
    def homography(self):
        return self.matrix[:, [0, 1, 3]]

    def project(self, points, height=0.0):
        points = np.asarray(points, dtype=float)
        places = np.c_[points, np.full(len(points), height), np.ones(len(points))] @ self.matrix.T
        return places[:, :2] / places[:, 2:]

    def photo(self, table):
        """The table as the camera sees it; a pixel of the table's picture is 1 / FINE mm."""
        to_mm = np.array([[1 / FINE, 0, (0.5 / FINE - TABLE / 2)], [0, 1 / FINE, (0.5 / FINE - TABLE / 2)], [0, 0, 1]])
        # Twice as large and then shrunk, so that edges are as soft as a lens makes them.
        twice = np.array([[2, 0, 0.5], [0, 2, 0.5], [0, 0, 1.0]])
        width, height = self.size
        large = cv2.warpPerspective(
            table,
            twice @ self.homography @ to_mm,
            (2 * width, 2 * height),
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REFLECT,
        )
        small = cv2.GaussianBlur(cv2.resize(large, self.size, interpolation=cv2.INTER_AREA), (0, 0), 0.7)
        grain = np.random.default_rng(5).normal(0, 2, small.shape)
        return Photo(np.clip(small + grain, 0, 255).astype(np.uint8))


def view(tilt=0.0, turn=0.0, height=400.0, size=(1200, 900), focal=FOCAL_LONG_SIDES, roll=0.0, aim=(0.0, 0.0)):
    """A camera that looks at a place of the table from so many mm away, `tilt` and `roll` in degrees."""
    t, a, r = np.radians([tilt, turn, roll])
    lean = np.array([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)])
    forward = -lean
    right = np.cross([np.sin(r), -np.cos(r), 0.0], forward)
    right /= np.linalg.norm(right)
    rows = np.stack([right, np.cross(forward, right), forward])
    # y runs down on the table and z up to the camera: a left-handed frame, mirrored once.
    if np.linalg.det(np.c_[rows[:2, :2]]) < 0:
        rows[0] *= -1
    position = np.array([*aim, 0.0]) + height * lean
    inner = np.array([[focal * max(size), 0, (size[0] - 1) / 2], [0, focal * max(size), (size[1] - 1) / 2], [0, 0, 1]])
    return View(inner @ np.c_[rows, -rows @ position], size)


def table(colour=(150, 160, 150), seed=1):
    """A cloth that is uneven everywhere."""
    side = TABLE * FINE
    coarse = np.random.default_rng(seed).normal(0, 5, (side // 12, side // 12))
    uneven = cv2.resize(coarse, (side, side), interpolation=cv2.INTER_CUBIC)
    return np.clip(np.array(colour) + uneven[..., None], 0, 255).astype(np.uint8)


def rounded(picture, shape, corner, colour, at=(0.0, 0.0), turn=0.0):
    """Draw a rectangle with rounded corners; mm from the middle of the table."""
    outline = []
    for k, (x, y) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        arc = np.radians(np.linspace(0, 90, 12) + 90 * k)
        middle = [x * (shape[0] / 2 - corner), y * (shape[1] / 2 - corner)]
        outline.append(np.stack([np.cos(arc), np.sin(arc)], axis=1) * corner + middle)
    return filled(picture, np.concatenate(outline), colour, at, turn)


def filled(picture, outline, colour, at=(0.0, 0.0), turn=0.0):
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    places = (outline @ np.array([[c, s], [-s, c]]) + at + TABLE / 2) * FINE - 0.5
    cv2.fillPoly(picture, [np.round(places * 16).astype(np.int32)], colour, cv2.LINE_AA, 4)
    return picture


def card_on(picture, at=(70.0, 20.0), turn=20.0):
    """A card with a stripe from edge to edge and a picture on it."""
    rounded(picture, CARD_SIDES_MM, CARD_CORNER_MM, (60, 80, 170), at, turn)
    stripe = np.array([[-1, -0.4], [1, -0.4], [1, -0.6], [-1, -0.6]]) * np.array(CARD_SIDES_MM) / 2
    filled(picture, stripe, (220, 190, 90), at, turn)
    return filled(picture, np.array([[-30, 5], [-18, 5], [-18, 15], [-30, 15]]), (230, 220, 190), at, turn)


def disc(picture, diameter, colour, at, rings=()):
    """A metal disc: shaded, with rings (share of the radius, colour)."""
    around = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    unit = np.stack([np.cos(around), np.sin(around)], axis=1)
    filled(picture, unit * diameter / 2, colour, at)
    for share, tone in rings:
        filled(picture, unit * share * diameter / 2, tone, at)
    # Gloss: lighter to one side.
    low, high = ((np.array(at) + way * diameter / 2 + TABLE / 2) * FINE for way in (-1, 1))
    (left, top), (right, bottom) = np.maximum(low.astype(int), 0), high.astype(int) + 1
    part = picture[top:bottom, left:right]
    y, x = np.mgrid[0 : part.shape[0], 0 : part.shape[1]] + 0.5
    x, y = (x + left) / FINE - TABLE / 2 - at[0], (y + top) / FINE - TABLE / 2 - at[1]
    near = np.hypot(x, y) < diameter / 2
    shade = 1 + 0.35 * (x + y) / diameter
    part[near] = np.clip(part[near] * shade[near, None], 0, 255)
    return picture


SILVER, GOLD = (175, 177, 180), (180, 150, 75)
#: Council Regulation (EC) No 975/98, annex I: 2 euro white outside and yellow inside, 1 euro
#: the other way round, 50 cent yellow. The share of the inner part is from memory.
METALS = {
    "2 EUR": (SILVER, ((0.73, GOLD), (0.4, (165, 138, 70)))),
    "1 EUR": (GOLD, ((0.7, SILVER), (0.4, (160, 163, 165)))),
    "50 c": (GOLD, ((0.9, (165, 138, 70)), (0.5, (190, 160, 82)))),
}


def coin_on(picture, coin, at):
    colour, rings = METALS[coin]
    return disc(picture, COINS[coin], colour, at, rings)


def worked(camera, stitches=30, width=6.0, at=(0.0, 0.0), height=0.0):
    """A count of a round piece on the table, as the camera sees its rim."""
    radius = stitches * width / (2 * np.pi)
    turn = -2 * np.pi * (np.arange(stitches) + 0.5) / stitches
    ring = np.stack([np.sin(turn), -np.cos(turn)], axis=1)
    around = 2 * np.pi * np.arange(120) / 120
    outline = np.stack([np.sin(around), -np.cos(around)], axis=1)
    return Count(
        posterior={stitches: 1.0},
        sure=True,
        likely=(stitches,),
        marks=camera.project(radius * ring + at, height),
        doubts=(),
        centre=tuple(map(float, camera.project([at], height)[0])),
        outline=camera.project(1.02 * radius * outline + at, height),
        rounds=4,
        in_progress=None,
        reason="",
        shared=np.zeros(len(outline)),
        start_seen=True,
        size=camera.size,
        seconds=0.1,
    )


def piece_on(picture, stitches=30, width=6.0, at=(0.0, 0.0), colour=(150, 60, 70)):
    """A ragged disc of that size, with posts."""
    radius = stitches * width / (2 * np.pi)
    around = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    far = radius * (1 + 0.03 * np.cos(stitches * around))[:, None]
    filled(picture, np.stack([np.cos(around), np.sin(around)], axis=1) * far, colour, at)
    for k in range(stitches):
        a = 2 * np.pi * (k + 0.5) / stitches
        post = np.array([[np.cos(a), np.sin(a)]]) * radius * np.array([[0.55], [0.92]])
        ends = np.round((post + at + TABLE / 2) * FINE).astype(int)
        cv2.line(
            picture,
            tuple(map(int, ends[0])),
            tuple(map(int, ends[1])),
            tuple(int(0.5 * c) for c in colour),
            5,
            cv2.LINE_AA,
        )
    return picture


def stitch_of(scale, count):
    """Mean distance of neighbouring marks, mm."""
    plane = to_plane(count.marks, scale)
    return float(np.linalg.norm(np.roll(plane, -1, axis=0) - plane, axis=1).mean())


def on_table(scale):
    """How much shorter lengths at the height of the rim are than the same on the table."""
    return 1 - scale.rim_height / scale.distance


@pytest.fixture(scope="module")
def mat_table():
    """A table with the printed mat on it, through another library's PDF renderer."""
    document = pypdfium2.PdfDocument(mat.mat_page("A4"))
    page = np.array(document[0].render(scale=FINE * 25.4 / 72).to_pil().convert("RGB"))
    document.close()
    picture = table((140, 110, 90))
    middle = mat.on_page(np.zeros(2), "A4") * FINE
    left, top = np.round(TABLE * FINE / 2 - middle).astype(int)
    # What sticks out of the table is left away.
    down = min(page.shape[0], picture.shape[0] - top)
    picture[max(top, 0) : top + down, left : left + page.shape[1]] = page[max(-top, 0) : down] * 0.92
    return picture


# --- sizes that are typed ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        # One inch is 25.4 mm (international yard and pound agreement, 1959).
        ("5 in", 127.0), ('5"', 127.0), ("4 1/2 in", 114.3), ("1/2 inch", 12.7), ("6 inches", 152.4),
        ("12.5 cm", 125.0), ("12,5cm", 125.0), ("125MM", 125.0), ("  7 mm ", 7.0),
    ],
)  # fmt: skip
def test_lengths_are_read(text, mm):
    assert read_length(text) == pytest.approx(mm)


@pytest.mark.parametrize(
    "text",
    [
        "", "5", "cm", "-5 cm", "1e3 mm", "5 km", "4 mm", "3 m", "2001 mm", "0 in", "4 1/0 in", "41/2 in",
        "\u0663\u0660 mm", "5 cm 2", "9" * 400 + "cm", None, 5.0,
    ],
)  # fmt: skip
def test_what_is_no_length_is_told_in_one_line(text):
    with pytest.raises(ValueError, match="size|wide") as told:
        read_length(text)
    assert "\n" not in str(told.value) and len(str(told.value)) < 160


@given(st.text(max_size=60))
def test_any_text_is_a_length_or_a_clear_error(text):
    try:
        assert 5 <= read_length(text) <= 2000
    except ValueError as error:
        assert len(str(error)) < 300


@pytest.mark.parametrize("tilt", [0, 15, 30])
def test_a_typed_diameter_measures_along_and_across_the_slant(tilt):
    camera = view(tilt, turn=40, height=500)
    count = worked(camera)
    diameter = 2 * 1.02 * 30 * 6 / (2 * np.pi)
    scale = scale_from_diameter(count, diameter)
    assert scale.kind == "diameter" and scale.rim_height == 0 and scale.distance is None
    assert stitch_of(scale, count) == pytest.approx(6 * np.sinc(1 / 30), rel=0.006)
    plane = to_plane(count.outline, scale)
    assert np.ptp(plane, axis=0) == pytest.approx([diameter, diameter], rel=0.02)
    assert "size that you gave" in scale.words


def test_an_uneven_outline_makes_the_typed_diameter_less_sure():
    count = worked(view(), stitches=24)
    bumpy = count.outline + 12 * np.stack([np.sin(np.arange(120) * 0.7), np.cos(np.arange(120) * 1.1)], axis=1)
    assert scale_from_diameter(replace(count, outline=bumpy), 50).error > 1.5 * scale_from_diameter(count, 50).error


@pytest.mark.parametrize("diameter", [0, 4.9, 2001, float("nan"), float("inf")])
def test_an_absurd_diameter_is_told(diameter):
    with pytest.raises(ValueError, match="must be 5 to 2000 mm"):
        scale_from_diameter(worked(view()), diameter)


def test_lengths_in_words():
    assert in_words(12.7) == "12.7 mm (0.50 in)"
    assert in_words(101.6) == "10.2 cm (4.0 in)"


# --- the mat ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("tilt", "turn", "roll"), [(0, 0, 0), (12, 200, 33), (25, 75, 140), (35, 300, 250)])
def test_mat_gives_lengths_to_half_a_percent(mat_table, tilt, turn, roll):
    camera = view(tilt, turn, 420, roll=roll, focal=0.8)
    scale = find_scale(camera.photo(mat_table))
    assert scale.kind == "mat"
    places = np.random.default_rng(3).uniform(-70, 70, (40, 2))
    seen = to_plane(camera.project(places), scale) / on_table(scale)
    true = np.linalg.norm(places[1:] - places[:-1], axis=1)
    assert np.linalg.norm(seen[1:] - seen[:-1], axis=1) == pytest.approx(true, rel=0.005)
    ring = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * mat.RING_SIDE_MM / 2
    assert np.abs(scale.outline - camera.project(ring)).max() < 0.6


def test_the_height_of_the_rim_is_reckoned_with(mat_table):
    # A rim at the usual height under a usual camera: parallax by plane geometry, h / distance.
    camera = view(10, 60, 420, focal=FOCAL_LONG_SIDES)
    count = worked(camera, width=6.0, height=0.9 * 6.0)
    scale = find_scale(camera.photo(mat_table), count)
    assert stitch_of(scale, count) == pytest.approx(6 * np.sinc(1 / 30), rel=0.005)
    assert scale.distance == pytest.approx(420 * np.cos(np.radians(10)), rel=0.1)
    # Its error holds what another height would make.
    assert scale.error > 0.3 * 6 / 420 * 0.9
    assert "lies flat" in scale.words and "cup" in scale.words and "farther away" not in scale.words
    assert "From farther away, about 40 cm" in replace(scale, distance=180.0).words


def test_a_photo_of_any_size_gives_the_same_plane(mat_table):
    camera = view(15, 30, 420, size=(1400, 1050))
    photo = camera.photo(mat_table)
    large = Photo(cv2.resize(photo.pixels, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC))
    places = camera.project(np.array([[-50.0, -40], [50, -40], [50, 40], [-50, 40]]))
    one, other = find_scale(photo), find_scale(large)
    # Places of the doubled picture: pixel middles at 2 x + 0.5.
    first, second = to_plane(places, one), to_plane(2 * places + 0.5, other)
    assert np.linalg.norm(np.diff(second, axis=0), axis=1) == pytest.approx(
        np.linalg.norm(np.diff(first, axis=0), axis=1), rel=0.002
    )
    assert other.mm_per_px == pytest.approx(one.mm_per_px / 2, rel=0.003)


def covered(picture, numbers):
    hidden = picture.copy()
    for number in numbers:
        rounded(hidden, (26, 26), 3.0, (90, 120, 90), mat.MARKERS[number].mean(axis=0))
    return hidden


@pytest.mark.parametrize("free", [(0, 5, 10, 15), (1, 4, 8), (0, 1, 2, 3, 4, 5), tuple(range(20))])
def test_some_markers_are_enough(mat_table, free):
    camera = view(18, 100, 420, roll=20)
    scale = find_scale(camera.photo(covered(mat_table, [n for n in mat.MARKERS if n not in free])))
    places = np.array([[-30.0, -30], [30, -30], [30, 30], [-30, 30]])
    off = np.linalg.norm(np.diff(to_plane(camera.project(places), scale) / on_table(scale), axis=0), axis=1) / 60 - 1
    assert np.abs(off).max() < max(0.005, 2.5 * scale.error)
    assert np.abs(off).max() < 0.02


def test_fewer_markers_are_less_sure(mat_table):
    camera = view(18, 100, 420, roll=20)
    whole = find_scale(camera.photo(mat_table))
    row = find_scale(camera.photo(covered(mat_table, [n for n in mat.MARKERS if n not in (0, 1, 2)])))
    assert row.error > whole.error


def test_half_a_marker_does_not_mislead(mat_table):
    picture = mat_table.copy()
    for number in (2, 7, 12):
        rounded(picture, (30, 30), 2.0, (90, 120, 90), mat.MARKERS[number].mean(axis=0) + [9.0, 4.0])
    camera = view(12, 10, 420)
    scale = find_scale(camera.photo(picture))
    places = np.array([[-60.0, 0], [60, 0]])
    seen = to_plane(camera.project(places), scale) / on_table(scale)
    assert np.linalg.norm(seen[1] - seen[0]) == pytest.approx(120, rel=0.005)


def test_two_markers_are_no_mat(mat_table):
    photo = view(5, 10, 420).photo(covered(mat_table, [n for n in mat.MARKERS if n not in (0, 10)]))
    assert find_scale(photo).code == "nothing"


def test_markers_in_other_places_are_no_mat():
    # The same patterns from the same dictionary, in the order of another page.
    picture = table()
    order = np.random.default_rng(1).permutation(list(mat.MARKERS))
    for number, other in zip(mat.MARKERS, order, strict=True):
        cells = cv2.resize(mat.cells(int(other)).astype(np.uint8) * 255, (108, 108), interpolation=cv2.INTER_NEAREST)
        patch = cv2.copyMakeBorder(cells, 18, 18, 18, 18, cv2.BORDER_CONSTANT, value=255)
        left, top = np.round((mat.MARKERS[number][0] - 3 + TABLE / 2) * FINE).astype(int)
        picture[top : top + 144, left : left + 144] = patch[..., None]
    assert find_scale(view(5, 10, 420).photo(picture)).code == "nothing"


def test_rectified_photo_is_the_same_everywhere(mat_table):
    camera = view(30, 60, 420, roll=15)
    photo = camera.photo(mat_table)
    scale = find_scale(photo)
    flat = rectified(photo, scale)
    corners, numbers, _ = cv2.aruco.ArucoDetector(mat.dictionary(), cv2.aruco.DetectorParameters()).detectMarkers(
        flat.photo.pixels
    )
    assert len(numbers) >= 15
    sides = [np.linalg.norm(np.diff(np.reshape(c, (4, 2)), axis=0), axis=1) for c in corners]
    # Every side of every marker is 18 mm on the table.
    assert np.median(sides) * flat.mm_per_px / on_table(scale) == pytest.approx(mat.MARKER_SIDE_MM, rel=0.01)
    assert np.std(sides) / np.mean(sides) < 0.03
    near, far = np.percentile([np.mean(s) for s in sides], [10, 90])
    assert (far - near) / np.mean(sides) < 0.03
    assert max(flat.photo.width, flat.photo.height) <= 3000


def test_rectifying_leaves_the_horizon_out():
    # A camera held so flat that the horizon is in the picture.
    camera = view(70, 0, 600, size=(600, 800), focal=0.75)
    count = worked(camera)
    to_mm = np.linalg.inv(camera.homography)
    scale = Scale("mat", 0.6, 0.01, to_mm, count.outline.copy(), 0.0, 300.0)
    flat = rectified(Photo(np.full((800, 600, 3), 128, np.uint8)), scale, most=500)
    assert max(flat.photo.width, flat.photo.height) <= 500


def test_middle_of_the_mat_is_seen_from_above(mat_table):
    camera = view(28, 130, 420, roll=70)
    middle = mat_middle(camera.photo(piece_on(mat_table.copy())))
    assert middle.photo.width == middle.photo.height == pytest.approx(mat.CLEAR_SIDE_MM / middle.mm_per_px, abs=1)
    frame = np.concatenate([middle.photo.pixels[:4].reshape(-1, 3), middle.photo.pixels[:, -4:].reshape(-1, 3)])
    assert frame.min() > 180  # no marker in it
    dark = np.argwhere(middle.photo.pixels[..., 1] < 120)
    # The ragged disc measures 30 x 6 / pi mm across, give or take its teeth.
    assert np.ptp(dark, axis=0) * middle.mm_per_px == pytest.approx([30 * 6 / np.pi * 1.03] * 2, rel=0.03)
    assert mat_middle(view().photo(table())) is None


def test_a_piece_on_the_mat_is_counted_and_measured(mat_table):
    # The sample photo of a blue disc, printed 130 mm wide and laid on the mat: 24 stitches by its truth file.
    sample = read_photo(SAMPLES / "blue-disc.jpg").pixels
    side = min(sample.shape[:2])
    alone = examine(Photo(sample)).answer
    assert alone.stitches == 24
    top, left = (sample.shape[0] - side) // 2, (sample.shape[1] - side) // 2
    print_ = cv2.resize(
        sample[top : top + side, left : left + side], (130 * FINE, 130 * FINE), interpolation=cv2.INTER_AREA
    )
    picture = mat_table.copy()
    start = TABLE * FINE // 2 - 65 * FINE
    picture[start : start + 130 * FINE, start : start + 130 * FINE] = print_
    camera = view(22, 45, 330, size=(1800, 1350), roll=30)
    done = examine(camera.photo(picture))
    count, scale = done.answer, done.scale
    assert count.stitches == 24 and scale.kind == "mat" and count.size == (1800, 1350)
    around = np.linalg.norm(np.roll(alone.marks, -1, axis=0) - alone.marks, axis=1).mean() * 130 / side
    assert stitch_of(scale, count) / on_table(scale) == pytest.approx(around, rel=0.03)
    # Marks lie on the piece in the photo that was given.
    assert np.linalg.norm(count.marks - camera.project([[0, 0]])[0], axis=1).max() < 450


# --- cards ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("tilt", "turn", "roll"), [(0, 0, 10), (12, 200, 33), (22, 75, 140), (32, 300, 250)])
def test_card_gives_lengths_to_one_percent(tilt, turn, roll):
    # ISO/IEC 7810: ID-1 is 85.60 x 53.98 mm and 0.76 mm thick, its corners 3.18 mm round.
    assert CARD_SIDES_MM == (85.60, 53.98) and CARD_CORNER_MM == 3.18 and CARD_THICKNESS_MM == 0.76
    camera = view(tilt, turn, 380, roll=roll)
    count = worked(camera, at=(-30.0, -10.0))
    scale = find_scale(camera.photo(card_on(piece_on(table(), at=(-30.0, -10.0)))), count)
    assert scale.kind == "card"
    # Card and piece are drawn in one plane, so nothing is to be taken off for the height of the rim.
    above = 1 - (scale.rim_height - CARD_THICKNESS_MM) / scale.distance
    assert stitch_of(scale, count) / above == pytest.approx(6 * np.sinc(1 / 30), rel=0.01)
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(CARD_SIDES_MM) / 2
    c, s = np.cos(np.radians(20)), np.sin(np.radians(20))
    true = camera.project(corners @ np.array([[c, s], [-s, c]]) + [70.0, 20.0])
    assert min(np.abs(np.roll(scale.outline, k, axis=0) - true).max() for k in range(4)) < 1.0


@pytest.mark.parametrize("tilt", [0, 15, 30])
@pytest.mark.parametrize(
    ("what", "shape", "corner"),
    [
        ("square-cornered card", CARD_SIDES_MM, 0.0),
        ("book", (130.0, 97.0), 1.0),
        ("sheet, A6 by ISO 216", (148.0, 105.0), 0.0),
        ("phone", (147.0, 71.0), 10.0),
        ("playing card", (88.9, 63.5), 3.2),
        ("tile", (100.0, 100.0), 2.0),
        ("square box", (60.0, 60.0), 6.0),
    ],
)
def test_other_rectangles_are_no_card(what, shape, corner, tilt):
    camera = view(tilt, 70, 400, roll=25)
    picture = rounded(piece_on(table(), at=(-45.0, -10.0)), shape, corner, (60, 80, 170), (60.0, 20.0), 20.0)
    found = find_scale(camera.photo(picture), worked(camera, at=(-45.0, -10.0)))
    assert isinstance(found, NoScale), what
    assert found.code in ("nothing", "which coin")


@pytest.mark.parametrize("seed", range(3))
def test_nothing_is_found_beside_a_piece_alone(seed):
    camera = view(8 * seed, 50, 400)
    colour = [(200, 190, 170), (70, 90, 120), (150, 110, 80)][seed]
    found = find_scale(camera.photo(piece_on(table(colour, seed))), worked(camera))
    assert found == NoScale("nothing")
    assert found.hint.startswith("Lay the printed mat")


def test_a_cutting_mat_is_no_heap_of_cards():
    picture = table((60, 65, 70))
    for k in range(0, TABLE, 10):
        at = k * FINE
        cv2.line(picture, (at, 0), (at, TABLE * FINE), (150, 155, 160), 5)
        cv2.line(picture, (0, at), (TABLE * FINE, at), (150, 155, 160), 5)
    camera = view(14, 20, 400, roll=30)
    assert find_scale(camera.photo(piece_on(picture)), worked(camera)) == NoScale("nothing")


def test_two_cards_are_one_too_many():
    picture = card_on(card_on(table()), at=(-70.0, -60.0), turn=-30.0)
    assert find_scale(view(5, 0, 420).photo(picture)).code == "several"


def test_a_card_with_an_unlikely_piece_is_not_believed():
    # What is drawn as a card measures 850 mm by the stitches beside it.
    camera = view(0, 0, 400)
    count = worked(camera, width=0.6, stitches=60, at=(-40.0, 0.0))
    found = find_scale(camera.photo(card_on(table())), count)
    assert found.code == "unlikely" and "mm wide" in found.reason


def test_a_card_under_the_piece_is_not_taken():
    camera = view(0, 0, 400)
    picture = piece_on(card_on(table(), at=(0.0, 0.0)), width=4.0)
    assert find_scale(camera.photo(picture), worked(camera, width=4.0)).code in ("nothing", "which coin")


# --- coins ------------------------------------------------------------------------------------------


def test_coins_have_their_published_diameters():
    # Council Regulation (EC) No 975/98, annex I.
    assert dict(COINS) == {"2 EUR": 25.75, "1 EUR": 23.25, "50 c": 24.25}


@pytest.mark.parametrize("coin", list(COINS))
@pytest.mark.parametrize("tilt", [0, 15])
def test_a_coin_gives_lengths_within_its_error(coin, tilt):
    camera = view(tilt, 70, 330, roll=25)
    picture = coin_on(piece_on(table((70, 90, 120))), coin, (48.0, 12.0))
    count = worked(camera)
    scale = find_scale(camera.photo(picture), count, coin=coin)
    assert isinstance(scale, Scale) and scale.kind == coin
    off = stitch_of(scale, count) / (6 * np.sinc(1 / 30)) - 1
    assert abs(off) < 2.5 * scale.error
    assert 0.01 < scale.error < 0.06
    edge = camera.project([[48.0, 12.0]])[0]
    assert np.abs(scale.outline.mean(axis=0) - edge).max() < 2.0


def test_two_coins_are_surer_than_one():
    camera = view(15, 70, 330, roll=25)
    count = worked(camera)
    one = coin_on(piece_on(table((70, 90, 120))), "2 EUR", (48.0, 12.0))
    single = find_scale(camera.photo(one), count, coin="2 EUR")
    double = find_scale(camera.photo(coin_on(one.copy(), "2 EUR", (-48.0, -14.0))), count, coin="2 EUR")
    assert double.error < 0.7 * single.error
    # All is drawn in one plane and the coins without a rounded rim.
    drawn = (1 - (double.rim_height - COIN_HEIGHT_MM) / double.distance) * (1 - 2 * COIN_ROUNDING_MM / COINS["2 EUR"])
    assert stitch_of(double, count) / drawn == pytest.approx(6 * np.sinc(1 / 30), rel=0.012)


def test_three_coins_are_too_many():
    camera = view(3, 70, 330)
    picture = piece_on(table((70, 90, 120)))
    for at in ((48.0, 12.0), (-50.0, -14.0), (3.0, 55.0)):
        coin_on(picture, "2 EUR", at)
    # Three alike might be a pattern of the cloth.
    assert find_scale(camera.photo(picture), worked(camera), coin="2 EUR").code in ("several", "no coin")


def test_a_coin_must_be_named_and_named_right():
    camera = view(5, 70, 330)
    photo, count = camera.photo(coin_on(piece_on(table((70, 90, 120))), "1 EUR", (48.0, 12.0))), worked(camera)
    assert find_scale(photo, count).code == "which coin"
    assert find_scale(photo, count, coin="2 EUR").code == "other coin"
    assert find_scale(photo, count, coin="50 c").code == "other coin"
    with pytest.raises(ValueError, match="must be one of 2 EUR"):
        find_scale(photo, count, coin="penny")


def test_without_a_count_no_coin_is_looked_for():
    photo = view(5, 70, 330).photo(coin_on(table((70, 90, 120)), "1 EUR", (10.0, 12.0)))
    assert find_scale(photo, coin="1 EUR") == NoScale("nothing")


def test_neither_a_button_nor_the_piece_nor_dots_are_coins():
    camera = view(5, 70, 330)
    count = worked(camera)
    button = disc(piece_on(table((70, 90, 120))), 24.0, SILVER, (48.0, 12.0), ((0.85, (165, 167, 170)),))
    around = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    for x in (-2.6, 2.6):
        for y in (-2.6, 2.6):
            filled(button, np.stack([np.cos(around), np.sin(around)], axis=1) * 1.4, (15, 15, 15), (48.0 + x, 12.0 + y))
    dots = table((70, 90, 120))
    for x in range(-180, 181, 45):
        for y in range(-180, 181, 45):
            disc(dots, 24.0, SILVER, (float(x), float(y)))
    grey = piece_on(table((70, 90, 120)), colour=SILVER)
    for picture in (button, piece_on(dots), grey):
        for coin in COINS:
            assert isinstance(find_scale(camera.photo(picture), count, coin=coin), NoScale)


# --- values -----------------------------------------------------------------------------------------


def test_every_reason_has_words():
    for code in NO_SCALES:
        none = NoScale(code, "as seen")
        assert none.reason.endswith("(as seen).") and none.hint.endswith(".")
    with pytest.raises(ValueError, match="unknown reason"):
        NoScale("tired")


def test_arrays_are_read_only(mat_table):
    scale = find_scale(view(10, 0, 420).photo(mat_table))
    for array in (scale.homography, scale.outline):
        with pytest.raises(ValueError, match="read-only"):
            array[0, 0] = 0


# --- rendered photos --------------------------------------------------------------------------------


def test_a_reference_in_a_rendered_scene_changes_nothing_of_the_piece():
    from counter.synthetic.scene import REFERENCES, SceneRequest, compose

    bare = compose(31, difficulty="easy", long_side=400)
    assert "scale" not in bare.truth
    for kind in REFERENCES:
        scene = compose(31, difficulty="easy", long_side=400, wish=SceneRequest(reference=kind))
        # The same stitches in the same places on the table, under another camera.
        assert np.array_equal(scene.marks, bare.marks)
        truth = scene.truth["scale"]
        assert truth["kind"] == kind
        around = np.linalg.norm(np.roll(scene.marks[:, :2], -1, axis=0) - scene.marks[:, :2], axis=1)
        assert truth["stitch_mm"] == pytest.approx(around[:-1].mean(), rel=0.1)
        assert (np.array(truth["corners"]) > 0).all() and (np.array(truth["corners"]) < 400).all()
    with pytest.raises(ValueError, match="reference must be one of"):
        compose(31, wish=SceneRequest(reference="ruler"))


@pytest.mark.render
@pytest.mark.parametrize("kind", ["card", "mat"])
def test_tracer_sees_the_reference_at_its_size(kind):
    # Outside reference: Mitsuba's camera, and the published sizes of card and paper.
    pytest.importorskip("mitsuba")
    from counter.synthetic import render
    from counter.synthetic.scene import SceneRequest, compose

    scene = compose(32, difficulty="ordinary", long_side=420, wish=SceneRequest(reference=kind))
    number = [part.name for part in scene.parts].index("reference")
    _, thing = render.trace(scene).depth()
    seen = np.argwhere(thing == number)[:, ::-1].astype(float)
    corners = np.array(scene.truth["scale"]["corners"])
    size = np.array(CARD_SIDES_MM) if kind == "card" else np.full(2, mat.RING_SIDE_MM)
    plane = np.array([[0, 0], [size[0], 0], size, [0, size[1]]], dtype=np.float32)
    to_mm = cv2.getPerspectiveTransform(corners.astype(np.float32), plane)
    places = np.c_[seen, np.ones(len(seen))] @ to_mm.T
    places = places[:, :2] / places[:, 2:]
    pixel = np.sqrt(size.prod() / cv2.contourArea(corners.astype(np.float32)))
    if kind == "card":
        assert np.ptp(places, axis=0) == pytest.approx(size, abs=2.5 * pixel)
    else:
        # The page is a strip of paper wider than its ring of markers on every side.
        assert (places.min(axis=0) < -5).all() and (places.max(axis=0) > size + 5).all()


@pytest.mark.render
def test_a_rendered_photo_is_measured():
    pytest.importorskip("mitsuba")
    pytest.importorskip("pyoidn")
    from counter.synthetic.pattern import work
    from counter.synthetic.render import render_photo
    from counter.synthetic.scene import SceneRequest

    plan = work([6, 12, 18, 24, 30], np.random.default_rng(2))
    pixels, truth = render_photo(
        33, difficulty="ordinary", long_side=1000, samples=8, wish=SceneRequest(plan, reference="mat")
    )
    done = examine(Photo(pixels), lengths=True)
    count, scale = done.answer, done.scale
    assert isinstance(count, Count) and scale.kind == "mat"
    marks = to_plane(np.array(truth["marks"]), scale)
    stitch = np.linalg.norm(np.roll(marks, -1, axis=0) - marks, axis=1).mean()
    # Marks of the truth file are rounded to a tenth of a pixel.
    assert stitch == pytest.approx(truth["scale"]["stitch_mm"], rel=0.015)
