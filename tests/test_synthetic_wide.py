"""The set for training: every stitch, join, yarn, light and camera, with the truth that goes with it. No path tracer needed."""

import itertools
import json
from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counter.synthetic import dataset, props, render, scene
from counter.synthetic.__main__ import main
from counter.synthetic.camera import Finish, develop
from counter.synthetic.pattern import CHAINS, HEIGHTS, Worked, flat_increase, plan_to, plan_totals, random_wide, work
from counter.synthetic.piece import SEAM_ROOM_WIDTHS, Tension, lay_out, profile
from counter.synthetic.wide import LEAST_PITCH_PX, compose_wide
from counter.synthetic.yarn import piece_strand, twisted


def rng(seed=0):
    return np.random.default_rng(seed)


def made(plan, kind="single", *, joined=True, turned=False, open_share=None, seed=0):
    worked = work(plan, rng(seed), stacked=False, open_share=open_share)
    return replace(worked, kinds=(kind,) * len(plan), joined=joined, turned=turned)


def laid(plan, kind="single", *, seed=0, ratio=0.95, **options):
    tension = Tension(6.0, ratio, uneven=0.03, ring=max(0.2, 0.92 * plan[0] / (2 * np.pi) - ratio * HEIGHTS[kind]))
    return lay_out(made(plan, kind, seed=seed, **options), tension, rng(seed))


# ---- stitches and joins ---------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "published"),
    [
        # Totals of flat circles: garturstitchfarm, "stitch farm shop" tutorial.
        ("single", (6, 12, 18, 24, 30)),
        ("half double", (8, 16, 24, 32, 40)),
        ("double", (12, 24, 36, 48, 60)),
    ],
)
def test_published_circles_of_each_stitch_lie_flat_and_with_half_the_increases_they_cup(kind, published):
    tension = Tension(6.0, 0.95, ring=0.2)
    heights = np.full(5, tension.height * HEIGHTS[kind])
    rise = profile(list(published), tension, heights)[-1, 1]
    assert rise < 0.9 * heights[0]
    few = plan_totals(published[0], published[0] // 2, 5)
    assert profile(list(few), tension, heights)[-1, 1] > 2 * heights[0]


@pytest.mark.parametrize(("kind", "published"), [("half double", 8), ("double", 12)])
def test_heights_of_stitches_ask_for_the_published_increases(kind, published):
    # The same tutorial adds 8 half doubles and 12 doubles a round; others add 8 to 10, and 10 to 14.
    assert published - 1 < flat_increase(0.95 * HEIGHTS[kind], 1.0) < published + 2


@pytest.mark.parametrize(
    ("plan", "kind", "counted_by_hand"),
    [
        # Common practice: the slip stitch never counts, a chain of one or two does not,
        # a chain of three stands for the first double. Hand counts of posts and chains:
        # 18 posts; 16 posts; 1 chain of three and 23 posts.
        ((6, 12, 18), "single", {"posts": 18, "chains": 0}),
        ((8, 16), "half double", {"posts": 16, "chains": 0}),
        ((12, 24), "double", {"posts": 23, "chains": 1}),
    ],
)
def test_joined_rounds_hold_what_a_person_counts(plan, kind, counted_by_hand):
    piece = laid(plan, kind)
    strand = piece_strand(piece, 1.8, rng())
    inner, outer = piece.starts[-2:]
    posts = 0
    for g in range(inner, outer):
        # A stitch is worked round the loops below: its yarn passes behind and before its base. A chain's does not.
        off = strand.path[strand.stitch == g] - piece.bases[g]
        near = (np.abs(off @ piece.base_along[g]) < 3.0) & (np.abs(off @ piece.base_out[g]) < 3.0)
        toward = off[near] @ piece.base_normal[g]
        posts += bool(near.any() and toward.max() > 1.8 and toward.min() < -0.9)
    chained = piece.worked.chained(len(plan) - 1)
    assert posts == counted_by_hand["posts"]
    assert chained == bool(counted_by_hand["chains"])
    assert posts + int(chained) == len(piece.worked.rim) == plan[-1]
    assert CHAINS[kind] == {"single": 1, "half double": 2, "double": 3}[kind]


@pytest.mark.parametrize("kind", HEIGHTS)
@pytest.mark.parametrize("seed", range(3))
def test_a_joined_round_has_no_step_and_its_join_has_room(kind, seed):
    start = {"single": 6, "half double": 8, "double": 12}[kind]
    piece = laid(plan_totals(start, start, 4), kind, seed=seed)
    rim = piece.tops[piece.rim]
    radius = np.hypot(*rim[:, :2].T)
    height = 5.7 * HEIGHTS[kind]
    assert abs(radius[0] - radius[-1]) < 0.3 * height
    gaps = np.linalg.norm(np.diff(rim, axis=0), axis=1)
    join = np.linalg.norm(rim[0] - rim[-1])
    assert 0.85 < join / (np.median(gaps) + 6.0 * SEAM_ROOM_WIDTHS[kind]) < 1.2
    around = np.unwrap(np.arctan2(rim[:, 1], rim[:, 0]))
    assert np.all(np.diff(around) > 0)
    assert around[-1] - around[0] < 2 * np.pi


@pytest.mark.parametrize(("kind", "tall"), [("single", 5.7), ("half double", 5.7 * 1.4), ("double", 5.7 * 2.1)])
def test_posts_are_as_tall_as_their_stitch(kind, tall):
    start = {"single": 6, "half double": 8, "double": 12}[kind]
    piece = laid(plan_totals(start, start, 4), kind)
    assert np.median(piece.heights[piece.round_of > 1]) == pytest.approx(tall, rel=0.15)


def test_turned_rounds_run_back_and_show_their_wrong_side():
    piece = laid((6, 12, 18, 24), turned=True)
    assert piece.normal[piece.round_of == 2][:, 2].min() > 0.7
    assert piece.normal[piece.round_of == 3][:, 2].max() < -0.7
    around = np.unwrap(np.arctan2(*piece.tops[piece.rim][:, [1, 0]].T))
    assert np.all(np.diff(around) < 0)
    assert sorted(piece.order) == list(range(60))
    # Working directions of neighbouring rounds are opposite.
    ahead = np.cross([0.0, 0.0, 1.0], piece.tops)
    side = np.sign(np.sum(ahead * piece.along, axis=1))
    assert np.all(side == np.where(piece.round_of % 2 == 1, -1, 1))


def test_the_yarn_of_a_turned_piece_runs_in_working_order():
    piece = laid((6, 12, 18), turned=True)
    strand = piece_strand(piece, 1.8, rng())
    assert [
        g for g, before in zip(strand.stitch, np.append(-1, strand.stitch[:-1]), strict=False) if g != before
    ] == piece.order.tolist()
    step = np.linalg.norm(np.diff(strand.path, axis=0), axis=1)
    assert step.max() < 2.0 * np.median(step)


@settings(max_examples=25)
@given(st.integers(0, 10_000), st.floats(0.1, 0.9), st.sampled_from(list(HEIGHTS)))
def test_a_joined_round_in_progress_holds_done_and_left(seed, share, kind):
    worked = made((6, 12, 18, 24), kind, open_share=share, seed=seed)
    assert len(worked.rim) == worked.done + worked.left
    piece = lay_out(worked, Tension(6.0, 0.95), rng(seed))
    assert np.isfinite(piece.tops).all()
    assert len(set(piece.rim.tolist())) == len(worked.rim)


def test_bad_joins_are_told():
    whole = work((6, 12), rng())
    with pytest.raises(ValueError, match="kind of stitch"):
        replace(whole, kinds=("single",))
    with pytest.raises(ValueError, match="joined and whole"):
        replace(whole, turned=True)
    with pytest.raises(ValueError, match="joined and whole"):
        Worked(whole.bases, whole.plan, True, (), joined=True, turned=True)


@pytest.mark.parametrize("total", [3, 5, 6, 23, 61, 120])
def test_a_plan_ends_at_its_total(total):
    plan = plan_to(total, 6, 6)
    assert plan[-1] == total
    assert plan[0] == min(6, total)
    assert all(0 < b - a <= 6 for a, b in itertools.pairwise(plan))
    assert plan_to(60, 6, [6, 12]) == (6, 12, 24, 36, 48, 60)


def test_totals_of_training_are_spread_over_all_that_occur():
    pieces = [random_wide(rng([seed, 9])) for seed in range(1500)]
    totals = np.array([len(worked.rim) for worked, _, _ in pieces])
    assert totals.min() >= 3
    assert totals.max() <= 123
    # Every fifth of the range holds its part, and no remainder by six is rare.
    assert np.histogram(totals, [3, 26, 50, 73, 97, 124])[0].min() > 150
    assert np.bincount(totals % 6, minlength=6).min() > 150
    kinds = [worked.kinds[-1] for worked, _, _ in pieces]
    assert min(kinds.count(k) for k in HEIGHTS) > 200
    assert 0.3 < np.mean([worked.joined for worked, _, _ in pieces]) < 0.8
    assert np.mean([worked.turned for worked, _, _ in pieces]) > 0.08


# ---- wrong side, colours, yarn, camera ------------------------------------


def test_from_the_wrong_side_the_work_runs_clockwise_and_rests_on_the_table():
    worked = made((6, 12, 18), joined=False)
    yarn = scene.Yarn(1.8, 3, 4.0, 1, ((0.5, 0.5, 0.5),), "solid", 1.0, 0.05, 0.0, 0.3)
    right, wrong = (
        scene.crocheted(worked, Tension(6.0, 0.95), yarn, rng(2), end="woven in", wrong_side=w) for w in (False, True)
    )
    assert np.allclose(right.marks[:, :2] * [1, -1], wrong.marks[:, :2])
    assert abs(np.percentile(wrong.parts[0].mesh.points[:, 2], 0.2)) < 1.5


def test_only_the_last_round_takes_the_edge_colour():
    yarn = scene.Yarn(1.8, 3, 4.0, 1, ((0.5, 0.1, 0.1), (0.1, 0.1, 0.5)), "edge", 1.0, 0.05, 0.0, 0.3)
    colours = yarn.along(np.zeros(6), np.array([0, 0, 1, 1, 2, 2]), rng())
    assert np.array_equal(colours[:4], np.tile([0.5, 0.1, 0.1], (4, 1)))
    assert np.array_equal(colours[4:], np.tile([0.1, 0.1, 0.5], (2, 1)))


def test_the_braid_turns_from_one_side_to_the_other():
    tension = Tension(6.0, 0.95, face=0.6, face_spread=0.0, swing=0.7, swing_at=0.0)
    piece = lay_out(work(plan_totals(6, 6, 7), rng()), tension, rng())
    x = piece.tops[piece.rim][:, 0]
    face = piece.face[piece.rim]
    assert face[x > 0.8 * x.max()].mean() > 1.1
    assert face[x < 0.8 * x.min()].mean() < 0.1


def test_carved_yarn_is_as_thick_as_plied_yarn_and_has_fewer_triangles():
    line = np.stack([np.linspace(0, 40, 100), np.zeros(100), np.zeros(100)], axis=1)
    plied = twisted(line, 2.0, np.full((100, 3), 0.5), rng(), plies=3, sides=6)
    carved = twisted(line, 2.0, np.full((100, 3), 0.5), rng(), plies=3, sides=9, carved=True)
    assert len(carved.faces) < 0.6 * len(plied.faces)
    across = [np.percentile(np.hypot(*m.points[:, 1:].T), 95) for m in (plied, carved)]
    assert across[0] == pytest.approx(across[1], rel=0.15)
    assert carved.colours.min() > 0
    assert carved.colours.max() < 1


def test_overexposure_burns_out_and_zoom_keeps_places():
    light = np.full((90, 120, 3), 0.1, np.float32)
    light[40:51, 70:81] = 0.6
    plain = Finish(noise=0.0, read_noise=0.0, vignette=0.0, sharpen=0.0, contrast=0.0)
    burnt = develop(light, replace(plain, exposure=0.7, headroom=3.0), rng())
    assert (burnt > 250).mean() > (develop(light, plain, rng()) > 250).mean()
    far = develop(light, replace(plain, zoom=2.5), rng()).astype(float)[..., 1]
    assert far.shape == (90, 120)
    weight = np.maximum(far - np.median(far), 0)
    y, x = np.mgrid[:90, :120]
    # The middle of the bright square stays where it was.
    assert (weight * x).sum() / weight.sum() == pytest.approx(75, abs=0.3)
    assert (weight * y).sum() / weight.sum() == pytest.approx(45, abs=0.3)


@pytest.mark.parametrize(
    "mesh",
    [
        props.button(20.0, np.full(3, 0.4)),
        props.flower(18.0, 6, np.full(3, 0.4), np.full(3, 0.6), rng()),
        props.strap(100.0, 12.0, np.full(3, 0.4), np.full(3, 0.8)),
    ],
    ids=["button", "flower", "strap"],
)
def test_things_that_lie_on_the_rim_are_sound(mesh):
    assert np.isfinite(mesh.points).all()
    assert mesh.faces.max() < len(mesh.points) == len(mesh.colours)
    assert 0 <= mesh.colours.min() <= mesh.colours.max() <= 1
    assert np.ptp(mesh.points[:, 2]) < 0.6 * np.ptp(mesh.points[:, 1])


# ---- scenes ---------------------------------------------------------------


@pytest.fixture(scope="module", params=[501, 504, 509, 512, 522, 525, 528], ids=str)
def wide(request):
    return request.param, compose_wide(request.param, long_side=500)


def test_truth_of_a_wide_scene(wide):
    _seed, drawn = wide
    truth = json.loads(json.dumps(drawn.truth))
    marks, rim = np.array(truth["marks"]), np.array(truth["rim"])
    assert truth["tags"][0] == "wide"
    assert truth["stitches"] == len(marks) == len(rim)
    assert np.all(marks > 0)
    assert np.all(marks < np.array(drawn.camera.size) - 1)
    pitch = np.median(np.linalg.norm(np.diff(marks, axis=0), axis=1))
    assert pitch > 0.6 * LEAST_PITCH_PX
    # The outline goes round the marks: no mark lies further outside than a chord cuts off.
    for mark in marks:
        assert cv2.pointPolygonTest(rim.astype(np.float32), tuple(map(float, mark)), True) > -0.65 * pitch
    seam = np.array(truth["seam"])
    if truth["in_progress"]:
        done = truth["in_progress"]["done"]
        assert np.linalg.norm(seam - marks[done - 1]) < 1.5 * pitch
    else:
        assert truth["stitches"] == truth["round_counts"][-1]
        assert np.linalg.norm(seam - marks[-1]) < 2.0 * pitch
        assert np.linalg.norm(seam - marks[0]) < 4.5 * pitch


def test_the_same_seed_gives_the_same_wide_scene(wide):
    seed, drawn = wide
    again = compose_wide(seed, long_side=500)
    assert again.truth == drawn.truth
    assert again.lights == drawn.lights
    for a, b in zip(again.parts, drawn.parts, strict=True):
        assert a.name == b.name
        assert np.array_equal(a.mesh.points, b.mesh.points)


def test_meshes_of_a_wide_scene_are_sound(wide):
    _, drawn = wide
    assert len({p.name for p in drawn.parts}) == len(drawn.parts)
    for part in drawn.parts:
        assert np.isfinite(part.mesh.points).all()
        assert part.mesh.faces.max() < len(part.mesh.points) == len(part.mesh.colours)
        assert 0 <= part.mesh.colours.min() <= part.mesh.colours.max() <= 1


def test_no_wide_photo_is_longer_than_asked(wide):
    _, drawn = wide
    assert max(drawn.camera.size) <= 500


# ---- sets -----------------------------------------------------------------


def test_a_wide_set_holds_few_photos_with_nothing_to_count_and_strong_compression():
    specs = [dataset.photo_spec(seed, "wide") for seed in range(600)]
    assert 0.015 < np.mean([s["negative"] is not None for s in specs]) < 0.08
    assert {s["difficulty"] for s in specs if s["negative"] is None} == {"wide"}
    qualities = [dataset.jpeg_quality(seed, 40) for seed in range(300)]
    assert min(qualities) < 45
    assert max(qualities) > 90


def test_the_command_asks_for_a_wide_set(tmp_path, monkeypatch):
    asked = {}

    def stand_in(seed, **options):
        asked[seed] = options
        return np.zeros((8, 8, 3), np.uint8), {"stitches": seed}

    monkeypatch.setattr(dataset, "render_photo", stand_in)
    assert (
        main(
            [
                str(tmp_path),
                "--count",
                "2",
                "--seed",
                "7",
                "--difficulty",
                "wide",
                "--long-side",
                "900",
                "--samples",
                "8",
            ]
        )
        == 0
    )
    assert sorted(asked) == [7, 8]
    assert all(o["samples"] == 8 and o["long_side"] == 900 and o["difficulty"] == "wide" for o in asked.values())
    assert main([str(tmp_path), "--samples", "0"]) == 2


def test_a_wide_photo_takes_no_wish(monkeypatch):
    monkeypatch.setattr(render, "_tracer", lambda: None)
    with pytest.raises(ValueError, match="no wish"):
        render.render_photo(1, difficulty="wide", wish=scene.SceneRequest(end="loop"))
