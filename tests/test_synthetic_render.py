"""The path tracer sees the stitches where the truth says they are."""

from dataclasses import replace

import numpy as np
import pytest

from counter.synthetic import render, scene
from counter.synthetic.dataset import render_set
from counter.synthetic.props import Part, moved, strap
from counter.synthetic.wide import compose_wide
from counter.synthetic.yarn import box, revolved

pytest.importorskip("mitsuba", reason="needs the extra 'render'")
pytest.importorskip("pyoidn", reason="needs the extra 'render'")

pytestmark = pytest.mark.render


@pytest.fixture(scope="module")
def drawn():
    return scene.compose(21, difficulty="ordinary", long_side=360)


@pytest.mark.parametrize(
    ("seed", "difficulty"), [(21, "ordinary"), (22, "hard"), (501, "wide"), (509, "wide"), (510, "wide")]
)
def test_marks_of_the_truth_are_where_the_tracer_sees_them(seed, difficulty):
    # Outside reference: Mitsuba's own camera. A small ball stands at each mark;
    # the middle of the pixels that see it must be the mark of the truth file.
    # Of the wide scenes two are turned, and one is joined and lies wrong side up.
    drawn = (
        compose_wide(seed, long_side=360)
        if difficulty == "wide"
        else scene.compose(seed, difficulty=difficulty, long_side=360)
    )
    turn = np.linspace(0, np.pi, 12)
    ball = revolved(0.3 * drawn.stitch_width * np.stack([np.sin(turn), -np.cos(turn)], axis=1), np.ones(3), 16)
    balls = tuple(Part(f"mark {i}", moved(ball, at), "matte") for i, at in enumerate(drawn.marks))
    _, thing = render.trace(replace(drawn, parts=balls)).depth()
    seen = np.array([np.argwhere(thing == i).mean(axis=0)[::-1] for i in range(len(balls))])
    assert np.abs(seen - np.array(drawn.truth["marks"])).max() < 0.8


def test_depth_at_the_marks_is_that_of_the_braid(drawn):
    distance, thing = render.trace(drawn).depth()
    marks = np.round(drawn.truth["marks"]).astype(int)
    far = np.linalg.norm(drawn.marks - drawn.camera.position, axis=1)
    open_marks = [i for i in range(len(marks)) if i not in render.hidden_marks(drawn, distance, thing)]
    assert len(open_marks) > 0.5 * len(marks)
    near = [abs(distance[y, x] - far[i]) for i, (x, y) in enumerate(marks) if i in open_marks]
    assert np.median(near) < drawn.stitch_width


def test_two_scenes_in_use_do_not_mix_up_their_parts(drawn):
    first = render.trace(drawn)
    second = render.trace(drawn)
    assert np.array_equal(first.depth()[1], second.depth()[1])
    assert 0 in first.depth()[1]


def test_what_lies_on_the_rim_hides_its_marks(drawn):
    at = drawn.marks[4]
    lid = Part(
        "lid",
        moved(box((3 * drawn.stitch_width, 3 * drawn.stitch_width, 2.0), np.full(3, 0.5)), at + [0, 0, 1.5]),
        "matte",
    )
    bare = render.hidden_marks(drawn, *render.trace(drawn).depth())
    covered = render.hidden_marks(drawn, *render.trace(replace(drawn, parts=(*drawn.parts, lid))).depth())
    assert 4 in covered
    assert set(bare) <= set(covered)
    opposite = (4 + len(drawn.marks) // 2) % len(drawn.marks)
    assert (opposite in covered) == (opposite in bare)


def test_a_strap_hides_the_marks_that_lie_under_it():
    # Outside reference: plane geometry. A line of sight to a mark is cut where it
    # passes the strap's height, within the strap's width or outside it.
    drawn = compose_wide(509, long_side=420)
    wide = 3.0 * drawn.stitch_width
    top = drawn.parts[0].mesh.points[:, 2].max() + 1.0
    x = 0.8 * drawn.marks[:, 0].max()
    band = strap(800.0, wide, np.full(3, 0.4), None)
    points = band.points * [1.0, 1.0, 0.2]
    # The strap bends a little; laid straight, its edges are where the test says.
    points[:, 1] -= 0.03 * 800 * np.sin(2.2 * points[:, 0] / 800)
    band = replace(band, points=points.astype(np.float32))
    lid = Part("band", moved(band, (x, 0.0, top), np.pi / 2), "matte")
    bare = set(render.hidden_marks(drawn, *render.trace(drawn).depth()))
    covered = set(render.hidden_marks(drawn, *render.trace(replace(drawn, parts=(*drawn.parts, lid))).depth()))
    sight = drawn.camera.position - drawn.marks
    cut = drawn.marks + sight * ((top - drawn.marks[:, 2]) / sight[:, 2])[:, None]
    off = np.abs(cut[:, 0] - x)
    under = set(np.flatnonzero(off < 0.5 * wide - 0.25 * drawn.stitch_width))
    clear = set(np.flatnonzero(off > 0.5 * wide + 0.25 * drawn.stitch_width))
    assert len(under) > 2
    assert under <= covered
    assert not (covered - bare) & clear


def test_a_wide_photo_is_what_its_truth_says():
    pixels, truth = render.render_photo(504, difficulty="wide", long_side=240, samples=3)
    assert max(pixels.shape) <= 240
    assert pixels.std() > 5
    assert set(truth["hidden"]) <= set(range(truth["stitches"]))
    again, same = render.render_photo(504, difficulty="wide", long_side=240, samples=3)
    assert truth == same
    assert np.abs(pixels.astype(int) - again).mean() < 1.0


def test_the_same_seed_gives_the_same_photo():
    first, truth = render.render_photo(5, difficulty="easy", long_side=200, samples=2)
    again, same = render.render_photo(5, difficulty="easy", long_side=200, samples=2)
    assert first.shape == (*first.shape[:2], 3)
    assert max(first.shape) == 200
    assert truth == same
    # The tracer adds up light on several threads, so the last bit may differ.
    assert np.abs(first.astype(int) - again).max() <= 3
    assert first.std() > 10


def test_yarn_and_table_differ_in_a_photo_and_the_piece_is_where_its_marks_are():
    pixels, truth = render.render_photo(5, difficulty="easy", long_side=240, samples=4)
    marks = np.array(truth["marks"])
    centre = np.array(truth["centre"])
    inner = (centre + 0.8 * (marks - centre)).round().astype(int)
    outer = (centre + 1.35 * (marks - centre)).round().astype(int)
    keep = np.all((outer >= 0) & (outer < [pixels.shape[1], pixels.shape[0]]), axis=1)
    inside = np.median(pixels[inner[keep, 1], inner[keep, 0]], axis=0)
    outside = np.median(pixels[outer[keep, 1], outer[keep, 0]], axis=0)
    assert np.abs(inside - outside).max() > 20


def test_a_set_is_rendered_side_by_side(tmp_path):
    photos = render_set(tmp_path, 2, 40, difficulty="easy", long_side=128, samples=1, workers=2)
    assert [p.exists() and p.with_suffix(".json").exists() for p in photos] == [True, True]
    assert len(list(tmp_path.iterdir())) == 4
