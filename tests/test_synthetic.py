"""Rendered photos own their truth: patterns, geometry, camera, files. No path tracer needed."""

import importlib
import json
import sys

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counter.plan import read_plan
from counter.synthetic import catalogue, dataset, render, scene
from counter.synthetic.camera import Finish, aimed, develop, to_srgb
from counter.synthetic.pattern import flat_increase, plan_totals, random_worked, work, work_with_slip, written
from counter.synthetic.piece import Tension, lay_out, profile
from counter.synthetic.surfaces import SURFACES, from_srgb, surface
from counter.synthetic.yarn import _frames, piece_strand, resample, spline, tube


def rng(seed=0):
    return np.random.default_rng(seed)


# ---- rounds ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "added", "published"),
    [
        # Single crochet 6 12 18 24 30, half double 8 16 24 32 40, double 12 24 36 48 60:
        # garturstitchfarm, "stitch farm shop" tutorial on flat circles.
        (6, 6, (6, 12, 18, 24, 30)),
        (8, 8, (8, 16, 24, 32, 40)),
        (12, 12, (12, 24, 36, 48, 60)),
    ],
)
def test_totals_of_flat_circles_are_the_published_ones(start, added, published):
    assert plan_totals(start, added, 5) == published
    for stacked in (True, False):
        assert work(published, rng(), stacked=stacked).totals == published


def test_rounds_of_a_ball_grow_stay_and_shrink():
    # From a ring of 6: 6 12 18 24, even rounds keep 24, decreases 18 12 6 (common practice).
    plan = (6, 12, 18, 24, 24, 24, 18, 12, 6)
    assert work(plan, rng()).totals == plan


def test_stitches_to_add_for_a_flat_circle():
    # Height equal to width gives 6.28 (geometry of the circle; worked through on
    # mspremiseconclusion.wordpress.com, 24 Jul 2018).
    assert flat_increase(1.0, 1.0) == pytest.approx(6.283, abs=1e-3)
    assert flat_increase(0.75, 1.0) < 5 < flat_increase(1.1, 1.0) < 7


def test_pieces_lie_flat_or_cup_as_published_samples_do():
    # Ten published samples of six rounds (revedreams.com, crochet category, page 12):
    # 1 to 4 added a cone, 5 cupped, 7 and 8 flat.
    tension = Tension(width=6.0, ratio=1.05)
    rise = {n: profile(list(plan_totals(6, n, 6)), tension)[-1, 1] for n in (2, 4, 5, 7, 8)}
    assert rise[2] > rise[4] > rise[5] > 0
    assert rise[7] == rise[8] == 0


def test_increase_shares_a_base_and_both_its_stitches_are_told():
    worked = work((6, 12, 18), rng(), stacked=True)
    assert len(worked.increases(2)) == 12
    pairs = np.reshape(worked.increases(2), (-1, 2))
    assert np.all(worked.bases[2][pairs[:, 0]] == worked.bases[2][pairs[:, 1]])
    assert worked.increases(0) == []


def test_stacked_increases_stand_above_each_other_and_staggered_do_not():
    def spots(stacked, seed):
        worked = work((6, 12, 18, 24, 30), rng(seed), stacked=stacked)
        return [np.unique(worked.bases[r][worked.increases(r)]) / len(worked.bases[r - 1]) for r in (2, 3, 4)]

    still = [np.abs(a - b).max() for a, b in zip(*(lambda s: (s[:-1], s[1:]))(spots(True, 0)), strict=False)]
    moving = [
        np.abs(a - b).max()
        for k in range(5)
        for a, b in zip(*(lambda s: (s[:-1], s[1:]))(spots(False, k)), strict=False)
    ]
    assert max(still) < 0.05
    assert max(moving) > 0.05


@settings(max_examples=60)
@given(st.integers(0, 10_000), st.integers(1, 3))
def test_slips_change_the_total_by_no_more_than_their_number(seed, slips):
    plan = (6, 12, 18, 24, 30)
    worked = work(plan, rng(seed), stacked=False, slips=slips)
    assert abs(worked.totals[-1] - plan[-1]) <= slips
    assert len(worked.slips) <= slips
    if not worked.slips:
        assert worked.totals == plan


@settings(max_examples=60)
@given(st.integers(0, 10_000), st.floats(0.05, 0.95))
def test_a_round_in_progress_holds_done_and_left(seed, share):
    worked = work((6, 12, 18, 24), rng(seed), stacked=bool(seed % 2), open_share=share)
    assert worked.open_round
    assert worked.totals == (6, 12, 18)
    reached = len(np.unique(worked.bases[-1]))
    # What is worked into and what is left make up the round below.
    assert reached + worked.left == 18
    assert len(worked.rim) == worked.done + worked.left


@settings(max_examples=150)
@given(st.integers(0, 100_000), st.sampled_from(scene.DIFFICULTIES))
def test_random_pieces_stay_in_range(seed, difficulty):
    worked, ratio = random_worked(rng(seed), difficulty=difficulty)
    assert 5 <= len(worked.rim) <= 120
    assert 0.75 <= ratio <= 1.1
    for below, base in zip(worked.bases, worked.bases[1:], strict=False):
        assert np.all(np.diff(base) >= 0)
        assert base.min() >= 0
        assert base.max() <= len(below) - 1


def test_a_plan_of_too_few_stitches_is_refused():
    with pytest.raises(ValueError, match="at least 3"):
        work((2, 4), rng())


# ---- the piece in space ---------------------------------------------------


def laid(rounds=7, seed=0, **options):
    worked = work(plan_totals(6, 6, rounds), rng(seed), stacked=bool(seed % 2))
    return lay_out(worked, Tension(width=6.0, ratio=0.95, **options), rng(seed))


def test_working_order_runs_counter_clockwise_about_the_centre():
    piece = laid()
    x, y = piece.tops[piece.rim][:, :2].T
    turned = np.unwrap(np.arctan2(y, x))
    assert np.all(np.diff(turned) > 0)
    assert 5.5 < turned[-1] - turned[0] < 6.6


@pytest.mark.parametrize("seed", range(6))
def test_stitches_keep_their_width_and_height(seed):
    piece = laid(rounds=9, seed=seed, uneven=0.05)
    gaps = np.linalg.norm(np.diff(piece.tops[piece.rim], axis=0), axis=1) / 6.0
    assert 0.85 < gaps.mean() < 1.15
    assert gaps.min() > 0.55
    assert gaps.max() < 1.6
    later = piece.round_of > 1
    assert np.median(piece.heights[later]) / 5.7 == pytest.approx(1.0, abs=0.2)


def test_the_radius_steps_by_about_a_round_where_the_spiral_ends():
    steps = []
    for seed in range(8):
        piece = laid(rounds=8, seed=seed)
        radius = np.hypot(*piece.tops[piece.rim][:, :2].T)
        steps.append((radius[-4] - radius[0]) / 5.7)
    assert 0.4 < np.median(steps) < 1.4


def test_too_few_stitches_make_a_cup():
    plan = plan_totals(6, 6, 4) + (24, 24, 24)
    cup = lay_out(work(plan, rng()), Tension(6.0, 0.95), rng())
    flat = laid()
    assert np.ptp(cup.tops[:, 2]) > 1.5 * 5.7
    assert np.ptp(flat.tops[:, 2]) < 0.8 * 5.7


def test_frames_are_square_and_face_the_maker():
    piece = laid()
    for a, b in ((piece.along, piece.out), (piece.out, piece.normal), (piece.along, piece.normal)):
        assert np.abs(np.sum(a * b, axis=1)).max() < 1e-6
    assert piece.normal[:, 2].min() > 0.7


def test_the_yarn_runs_through_every_stitch_in_order_and_passes_its_top():
    piece = laid(rounds=5)
    strand = piece_strand(piece, 2.0, rng())
    assert np.all(np.diff(strand.stitch) >= 0)
    assert set(strand.stitch) == set(range(len(piece.tops)))
    step = np.linalg.norm(np.diff(strand.path, axis=0), axis=1)
    assert step.max() < 2.0 * np.median(step)
    near = [np.linalg.norm(strand.path - top, axis=1).min() for top in piece.tops]
    assert max(near) < 3.0


# ---- curves and tubes -----------------------------------------------------


def test_spline_passes_through_its_control_points():
    control = rng().normal(size=(9, 3))
    assert np.allclose(spline(control, 5)[::5], control)


def test_resampled_line_is_evenly_spaced():
    t = np.linspace(0, 2 * np.pi, 400)
    line, half = resample(np.stack([np.cos(t), np.sin(t), 0 * t], axis=1), 0.05, (t > np.pi).astype(int))
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    assert np.ptp(steps) < 0.01 * steps.mean()
    assert half.sum() == pytest.approx(len(half) / 2, abs=2)


def test_frames_of_a_plane_curve_do_not_turn():
    # A rotation minimising frame of a plane curve keeps the normal of the plane
    # (Wang et al., ACM Transactions on Graphics 27(1), 2008, section 3).
    t = np.linspace(0, 5, 300)
    across, other = _frames(np.stack([t, np.sin(t), 0 * t], axis=1))
    flat = np.stack([np.abs(across[:, 2]), np.abs(other[:, 2])], axis=1)
    assert np.ptp(flat, axis=0).max() < 1e-3


def test_tube_is_closed_and_has_the_volume_of_a_cylinder():
    line = np.stack([np.linspace(0, 10, 30), np.zeros(30), np.zeros(30)], axis=1)
    mesh = tube(line, 1.0, np.ones(3), 24)
    corners = mesh.points[mesh.faces].astype(float)
    volume = abs(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum()) / 6
    # Area of a regular polygon of 24 corners times the length (geometry).
    assert volume == pytest.approx(10 * 12 * np.sin(2 * np.pi / 24), rel=1e-3)
    edges = np.sort(mesh.faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    assert np.all(np.unique(edges, axis=0, return_counts=True)[1] == 2)


# ---- camera ---------------------------------------------------------------


@settings(max_examples=40)
@given(st.integers(0, 1_000_000))
def test_projection_agrees_with_opencv(seed):
    # Outside reference: cv2.projectPoints (OpenCV calib3d, pinhole model).
    r = rng(seed)
    camera = aimed(
        50.0,
        (1200, 900),
        share=r.uniform(0.3, 0.9),
        tilt=r.uniform(0, 0.6),
        azimuth=r.uniform(0, 6.28),
        roll=r.uniform(0, 6.28),
        offset=tuple(r.uniform(-0.2, 0.2, 2)),
        lens=r.uniform(0.8, 1.5),
    )
    points = r.uniform(-50, 50, (20, 3))
    rotation, _ = cv2.Rodrigues(camera.rotation)
    matrix = np.array([[camera.focal, 0, camera.middle[0]], [0, camera.focal, camera.middle[1]], [0, 0, 1]])
    seen, _ = cv2.projectPoints(points, rotation, -camera.rotation @ camera.position, matrix, None)
    assert np.allclose(camera.project(points), seen[:, 0], atol=1e-4)


def test_a_level_camera_sees_counter_clockwise_work_counter_clockwise():
    camera = aimed(50.0, (900, 900), share=0.8, tilt=0.0, azimuth=0.0, roll=0.0, offset=(0, 0), lens=1.0)
    x, y = camera.project(np.array([[40.0, 0, 0], [0, 40.0, 0]])).T
    # East then north: with y down the second one lies higher in the picture.
    assert x[0] > 449.5
    assert y[1] < 449.5


def test_piece_lies_where_it_was_asked_for():
    camera = aimed(50.0, (1200, 900), share=0.5, tilt=0.0, azimuth=0.0, roll=0.7, offset=(0.2, -0.1), lens=1.1)
    assert camera.project(np.zeros(3)) == pytest.approx([599.5 + 180, 449.5 - 90], abs=1)
    rim = camera.project(50 * np.array([[1, 0, 0], [-1, 0, 0]]))
    assert np.linalg.norm(rim[0] - rim[1]) == pytest.approx(450, abs=2)


def test_srgb_curve_meets_the_standard():
    # IEC 61966-2-1: 18 % grey is 0.4613; 0.0031308 is where the two pieces meet.
    assert to_srgb(np.array([0.0, 0.18, 1.0])) == pytest.approx([0, 0.4614, 1], abs=1e-3)
    assert from_srgb([0.5] * 3) == pytest.approx([0.2140] * 3, abs=1e-3)
    values = np.linspace(0, 1, 50)
    assert from_srgb(to_srgb(values)) == pytest.approx(values, abs=1e-6)


def test_developing_is_repeatable_and_noise_grows_when_asked():
    light = np.full((80, 120, 3), 0.2, np.float32)
    clean = develop(light, Finish(noise=0.0, read_noise=0.0, vignette=0.0), rng())
    noisy = develop(light, Finish(noise=0.05, read_noise=0.004, vignette=0.0), rng())
    assert np.array_equal(noisy, develop(light, Finish(noise=0.05, read_noise=0.004, vignette=0.0), rng()))
    assert clean.std() < 1 < noisy.std()


@pytest.mark.parametrize("kind", SURFACES)
def test_table_tops_are_reflectances(kind):
    picture = surface(kind, rng(3), 128, 0.8)
    assert picture.shape == (128, 128, 3)
    assert picture.dtype == np.float32
    assert picture.min() > 0
    assert picture.max() <= 0.95
    assert np.array_equal(picture, surface(kind, rng(3), 128, 0.8))


# ---- scenes and their truth -----------------------------------------------

KEYS = {
    "stitches",
    "rounds",
    "centre",
    "marks",
    "in_progress",
    "increases",
    "refuse",
    "tags",
    "hidden",
    "round_counts",
    "rim",
    "seam",
    "tops",
    "ends",
}


@pytest.fixture(scope="module", params=[(11, "easy"), (12, "ordinary"), (13, "hard")], ids=str)
def composed(request):
    seed, difficulty = request.param
    return seed, difficulty, scene.compose(seed, difficulty=difficulty, long_side=480)


def test_truth_has_the_form_of_a_truth_file(composed):
    _, difficulty, drawn = composed
    truth = json.loads(json.dumps(drawn.truth))
    assert set(truth) == KEYS
    assert truth["stitches"] == len(truth["marks"]) == len(drawn.marks)
    assert truth["rounds"] == len(truth["round_counts"])
    assert truth["refuse"] is None
    assert [t for t in truth["tags"] if t in scene.DIFFICULTIES] == [difficulty]
    if truth["in_progress"]:
        assert truth["in_progress"]["done"] + truth["in_progress"]["left"] == truth["stitches"]
        assert "in progress" in truth["tags"]
    else:
        assert truth["stitches"] == truth["round_counts"][-1]
    assert [len(own) for own in truth["tops"]][: truth["rounds"]] == truth["round_counts"]
    # The rim begins with the last round, in progress or not.
    done = truth["in_progress"]["done"] if truth["in_progress"] else len(truth["marks"])
    assert sorted(truth["tops"][-1]) == sorted(truth["marks"][:done])


def test_every_mark_lies_in_the_picture_and_in_working_order(composed):
    _, _, drawn = composed
    marks = np.array(drawn.truth["marks"])
    width, height = drawn.camera.size
    assert np.all(marks > 0)
    assert np.all(marks < [width - 1, height - 1])
    around = np.unwrap(np.arctan2(*(marks - marks.mean(axis=0)).T[::-1]))
    # y points down, so counter-clockwise work turns to smaller angles.
    direction = 1 if "left-handed" in drawn.truth["tags"] else -1
    assert direction * (around[-1] - around[0]) > 4.5


def test_the_same_seed_gives_the_same_scene(composed):
    seed, difficulty, drawn = composed
    again = scene.compose(seed, difficulty=difficulty, long_side=480)
    assert again.truth == drawn.truth
    assert np.array_equal(again.ground, drawn.ground)
    for a, b in zip(again.parts, drawn.parts, strict=True):
        assert a.name == b.name
        assert np.array_equal(a.mesh.points, b.mesh.points)
        assert np.array_equal(a.mesh.colours, b.mesh.colours)


def test_a_larger_picture_shows_the_same_scene(composed):
    seed, difficulty, drawn = composed
    larger = scene.compose(seed, difficulty=difficulty, long_side=960)
    assert larger.truth["tags"] == drawn.truth["tags"]
    assert larger.lights == drawn.lights
    assert [p.name for p in larger.parts] == [p.name for p in drawn.parts]
    # The yarn's points lie closer in a larger picture, so the height it rests at differs a little.
    assert np.allclose(larger.marks, drawn.marks, atol=0.05)


@pytest.mark.parametrize("seed", range(40))
def test_no_light_stands_before_the_camera(seed):
    r = rng(seed)
    camera = aimed(
        50.0,
        (1200, 900),
        share=r.uniform(0.4, 0.9),
        tilt=r.uniform(0, 0.6),
        azimuth=r.uniform(0, 6.28),
        roll=0.0,
        offset=(0.1, 0.1),
        lens=r.uniform(0.8, 1.5),
    )
    lights, _, _ = scene.draw_lights(r, 50.0, "ordinary", camera)
    for light in lights:
        # Lines of sight to the corners and the middle of the picture must not cross the panel.
        for pixel in ([0, 0], [1199, 0], [0, 899], [1199, 899], [600, 450]):
            ray = np.append((np.array(pixel) - camera.middle) / camera.focal, 1.0) @ camera.rotation
            place = np.array(light.position)
            facing = place / np.linalg.norm(place)
            along = ((place - camera.position) @ facing) / (ray @ facing)
            if along > 0 and (camera.position + along * ray)[2] > 0:
                off = camera.position + along * ray - place
                assert np.linalg.norm(off) > light.width / 2


def test_meshes_are_sound(composed):
    _, _, drawn = composed
    assert len({p.name for p in drawn.parts}) == len(drawn.parts)
    for part in drawn.parts:
        assert np.isfinite(part.mesh.points).all()
        assert part.mesh.faces.max() < len(part.mesh.points) == len(part.mesh.colours)
        assert part.mesh.colours.min() >= 0
        assert part.mesh.colours.max() <= 1


def test_piece_rests_on_the_table(composed):
    _, _, drawn = composed
    lowest = np.percentile(drawn.parts[0].mesh.points[:, 2], 0.2)
    assert abs(lowest) < 0.25 * drawn.stitch_width


def test_left_handed_work_is_the_mirror_image():
    worked = work((6, 12, 18), rng())
    tension = Tension(6.0, 0.95)
    yarn = scene._yarn(rng(1), 6.0, "easy")
    right = scene.crocheted(worked, tension, yarn, rng(2), end="woven in")
    left = scene.crocheted(worked, tension, yarn, rng(2), end="woven in", left_handed=True)
    assert np.allclose(right.marks * [-1, 1, 1], left.marks)


@pytest.mark.parametrize("kind", scene.NEGATIVES)
def test_photos_with_nothing_to_count_say_why(kind):
    drawn = scene.compose(5, negative=kind, long_side=320)
    truth = drawn.truth
    assert set(truth) == KEYS
    assert truth["stitches"] is None
    assert truth["marks"] == []
    assert truth["refuse"] == scene.NEGATIVES[kind]
    assert "negative" in truth["tags"]


@pytest.mark.parametrize("seed", range(4))
def test_a_cut_off_piece_leaves_the_picture(seed):
    drawn = scene.compose(seed, negative="cut off", long_side=320)
    points = drawn.camera.project(drawn.parts[0].mesh.points.astype(float))
    outside = np.any((points < -2) | (points > np.array(drawn.camera.size) + 1), axis=1)
    assert 0.02 < outside.mean() < 0.9


def test_unknown_choices_are_told():
    with pytest.raises(ValueError, match="easy, ordinary, hard"):
        scene.compose(1, difficulty="trivial")
    with pytest.raises(ValueError, match="plate"):
        scene.compose(1, negative="elephant")


def test_hidden_marks_are_those_behind_something():
    drawn = scene.compose(11, difficulty="easy", long_side=480)
    width, height = drawn.camera.size
    far = np.full((height, width), 1e6)
    nothing = np.full((height, width), len(drawn.parts))
    assert render.hidden_marks(drawn, far, nothing) == []
    x, y = np.array(drawn.truth["marks"])[2].astype(int)
    near = far.copy()
    near[y - 6 : y + 7, x - 6 : x + 7] = 1.0
    assert 2 in render.hidden_marks(drawn, near, nothing)


# ---- files ----------------------------------------------------------------


def test_photos_and_truth_are_written_whole(tmp_path):
    pixels = rng().integers(0, 255, (120, 160, 3), dtype=np.uint8)
    dataset.write_photo(tmp_path, "one", pixels, {"stitches": None}, 90, most_bytes=9000)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["one.jpg", "one.json"]
    assert (tmp_path / "one.jpg").stat().st_size <= 9000
    assert cv2.imread(str(tmp_path / "one.jpg")).shape == (120, 160, 3)
    assert json.loads((tmp_path / "one.json").read_text()) == {"stitches": None}


def test_a_set_goes_on_where_it_stopped(tmp_path, monkeypatch):
    drawn = []

    def stand_in(seed, **_):
        drawn.append(seed)
        if len(drawn) == 3:
            raise KeyboardInterrupt
        return np.zeros((8, 8, 3), np.uint8), {"stitches": seed}

    monkeypatch.setattr(dataset, "render_photo", stand_in)
    with pytest.raises(KeyboardInterrupt):
        dataset.render_set(tmp_path, 4, 20)
    told = []
    photos = dataset.render_set(tmp_path, 4, 20, progress=lambda *a: told.append(a))
    assert drawn == [20, 21, 22, 22, 23]
    assert [p.name for p in photos] == [f"{s:06d}.jpg" for s in range(20, 24)]
    assert told == [(2, 4), (3, 4), (4, 4)]


def test_a_mixed_set_holds_photos_with_nothing_to_count():
    specs = [dataset.photo_spec(seed, "mixed") for seed in range(400)]
    share = np.mean([s["negative"] is not None for s in specs])
    assert 0.04 < share < 0.13
    assert {s["negative"] for s in specs} > {"plate", "cut off", "several"}
    assert dataset.photo_spec(3, "hard") == {"difficulty": "hard", "negative": None}


@pytest.mark.parametrize("bad", [{"count": 0}, {"seed": -1}, {"difficulty": "odd"}])
def test_bad_requests_for_a_set_are_told(tmp_path, bad):
    with pytest.raises(ValueError, match="must be"):
        dataset.render_set(tmp_path, **bad)


def test_without_the_path_tracer_one_line_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "mitsuba", None)
    package = importlib.import_module("counter.synthetic")
    with pytest.raises(ImportError, match=r"rimtally\[render\]"):
        package.render_photo(1)


def test_samples_have_names_of_their_own_and_cover_what_they_should():
    names = [s.name for s in catalogue.SAMPLES]
    assert len(set(names)) == len(names) == 12
    assert {s.difficulty for s in catalogue.SAMPLES} == set(scene.DIFFICULTIES)
    assert any(s.negative for s in catalogue.SAMPLES)
    missed = next(s for s in catalogue.SAMPLES if s.name == "one-increase-missed").wish.worked
    assert missed.totals[-1] != missed.plan[-1]
    assert missed.slips


def test_wishes_are_kept():
    worked = work((6, 12, 18), rng(), stacked=False)
    wish = scene.SceneRequest(worked, "woven in", "stripes", ("#ff0000", "#ffffff"), "gingham")
    truth = scene.compose(3, difficulty="ordinary", long_side=320, wish=wish).truth
    assert truth["stitches"] == 18
    assert {"stripes", "gingham", "patterned background"} <= set(truth["tags"])
    assert truth["in_progress"] is None


def test_tweed_colours_any_length():
    yarn = scene._yarn(rng(1), 6.0, "ordinary", "tweed")
    for count in (1, 2, 400):
        assert yarn.along(np.zeros(count), None, rng(2)).shape == (count, 3)


@pytest.mark.parametrize("seed", range(12))
def test_a_slip_is_where_its_truth_says_and_the_plan_is_the_same_without(seed):
    right, short, over = (
        work_with_slip(np.random.default_rng(seed), slip) for slip in (None, "increase left out", "increase too many")
    )
    assert right[2] is None and np.array_equal(right[1], short[1]) and np.array_equal(right[1], over[1])
    total = len(right[0].bases[-1])
    assert (len(short[0].bases[-1]), len(over[0].bases[-1])) == (total - 1, total + 1)
    for (worked, meant, at), made in ((short, 1), (over, 2)):
        below = worked.bases[-1][at]
        assert (worked.bases[-1] == below).sum() == made != meant[int(below)]
        children = np.bincount(worked.bases[-1].astype(int), minlength=len(meant))
        assert (children != meant).sum() == 1


@pytest.mark.parametrize("seed", range(6))
def test_a_round_is_written_as_it_was_meant(seed):
    worked, meant, _ = work_with_slip(np.random.default_rng(seed), "increase left out")
    plan = read_plan(written(len(worked.bases), meant))
    own = plan.round(len(worked.bases))
    assert (own.stitches, own.used, plan.findings) == (meant.sum(), len(meant), ())
    starts = np.cumsum(meant) - meant + 1
    assert [shaping.at for shaping in own.increases] == starts[meant == 2].tolist()


def test_sets_with_slips_show_the_same_piece():
    specs = [dataset.photo_spec(950003, kind) for kind in ("right", "short", "over")]
    assert len({spec["difficulty"] for spec in specs}) == 1 and all(spec["wish"].worked for spec in specs)
