"""The second make of single crochet, and which scenes are of it. No path tracer needed."""

import json
from dataclasses import replace

import numpy as np
import pytest

from counter.synthetic import wide
from counter.synthetic.layer_set import render_layer_set
from counter.synthetic.layers import tags_of_layers
from counter.synthetic.pattern import opened, plan_totals, work
from counter.synthetic.piece import Splay, Tension
from counter.synthetic.scene import Yarn, crocheted
from counter.synthetic.splayed import can_splay, lay_out_splayed, splayed_strand
from counter.synthetic.wide import compose_wide

WIDTH, THICK = 6.0, 2.6


def rng(seed=0):
    return np.random.default_rng(seed)


def laid(plan, *, joined=False, open_share=None, seed=0, splay=Splay()):  # noqa: B008  a frozen value
    worked = work(plan, rng(seed), stacked=False, open_share=open_share)
    ring = max(0.2, 0.92 * plan[0] / (2 * np.pi) - 0.95)
    tension = Tension(WIDTH, 0.95, uneven=0.03, ring=ring, splay=splay)
    return lay_out_splayed(replace(worked, joined=joined), tension, rng(seed))


KINDS = pytest.mark.parametrize(
    "options", [{}, {"joined": True}, {"open_share": 0.4}, {"joined": True, "open_share": 0.4}], ids=str
)


@KINDS
@pytest.mark.parametrize("plan", [(6, 12, 18, 24), (5,), (8, 16, 16, 16), (6, 12, 24, 48)], ids=str)
def test_the_yarn_is_one_line_in_working_order(plan, options):
    piece = laid(plan, **options)
    strand = splayed_strand(piece, THICK, rng())
    step = np.linalg.norm(np.diff(strand.path, axis=0), axis=1)
    assert step.max() < 1.5 * np.median(step)
    changes = np.flatnonzero(np.diff(strand.stitch)) + 1
    assert strand.stitch[np.append(0, changes)].tolist() == piece.order.tolist()


@KINDS
def test_every_mark_lies_between_the_two_arms_of_its_v(options):
    piece = laid((6, 12, 18, 24), **options)
    strand = splayed_strand(piece, THICK, rng())
    for g in piece.rim:
        off = strand.path - strand.marks[g]
        near = np.linalg.norm(off, axis=1) < THICK
        # The front arm lies nearer to the centre than the back arm, both about half the gap away.
        inward = off[near] @ piece.out[g]
        assert inward.min() < -0.2 * THICK
        assert inward.max() > 0.2 * THICK
        assert abs((strand.marks[g] - piece.tops[g]) @ piece.along[g]) < 0.2 * WIDTH


@pytest.mark.parametrize("joined", [False, True])
def test_a_person_who_counts_posts_finds_as_many_as_were_worked(joined):
    piece = laid((6, 12, 18, 24), joined=joined)
    strand = splayed_strand(piece, THICK, rng())
    posts = 0
    for g in range(piece.starts[-2], piece.starts[-1]):
        # A stitch is worked round the loops below: its yarn passes behind and before its base.
        off = strand.path[strand.stitch == g] - piece.bases[g]
        near = (np.abs(off @ piece.base_along[g]) < 0.5 * WIDTH) & (np.abs(off @ piece.base_out[g]) < 0.5 * WIDTH)
        toward = off[near] @ piece.base_normal[g]
        posts += bool(near.any() and toward.max() > 0.7 * THICK and toward.min() < -0.4 * THICK)
    assert posts == 24


def test_a_spiral_ends_in_a_step_and_a_joined_round_does_not():
    steps = {}
    for joined in (False, True):
        radius = [
            np.hypot(*piece.tops[piece.rim][:, :2].T)
            for piece in (laid(plan_totals(6, 6, 6), joined=joined, seed=seed) for seed in range(6))
        ]
        steps[joined] = float(np.mean([r[-4] - r[0] for r in radius])) / (0.95 * WIDTH)
    assert 0.3 < steps[False] < 1.2
    assert abs(steps[True]) < 0.15


def test_live_loops_lean_out_and_worked_ones_stand():
    piece = laid((6, 12, 18, 24), splay=Splay(lean=0.5, lean_worked=1.4, lean_spread=0.0))
    strand = splayed_strand(piece, THICK, rng())
    # From the back arm to the front arm, both at the V's middle.
    across = strand.loops[:, [1, 2]].mean(axis=1) - strand.loops[:, [6, 7]].mean(axis=1)
    up = np.sum(across * piece.normal, axis=1) / np.linalg.norm(across, axis=1)
    rim = np.isin(np.arange(len(up)), piece.rim)
    assert np.median(up[rim]) == pytest.approx(np.sin(0.5), abs=0.1)
    assert np.median(up[~rim]) == pytest.approx(np.sin(1.4), abs=0.1)


def test_only_single_crochet_that_was_not_turned_is_of_this_make():
    worked = work((6, 12), rng())
    assert can_splay(worked)
    others = [replace(worked, kinds=("single", "double")), replace(worked, joined=True, turned=True)]
    for other in others:
        assert not can_splay(other)
        with pytest.raises(ValueError, match="single crochet"):
            lay_out_splayed(other, Tension(WIDTH, 0.95, splay=Splay()), rng())
    with pytest.raises(ValueError, match="single crochet"):
        lay_out_splayed(worked, Tension(WIDTH, 0.95), rng())


@pytest.mark.parametrize("end", ["fastened", "woven in", "loop"])
def test_the_yarn_end_starts_where_the_strand_stops(end):
    yarn = Yarn(THICK, 3, 6.0, 1, ((0.5, 0.5, 0.5),), "solid", 1.0, 0.05, 0.0, 0.3)
    tension = Tension(WIDTH, 0.95, uneven=0.03, splay=Splay())
    piece = crocheted(work((6, 12, 18), rng()), tension, yarn, rng(1), end=end)
    body, rest = (part.mesh.points for part in piece.parts)
    assert np.linalg.norm(body[-1] - rest[-2]) < 1.2 * WIDTH
    last, first = piece.marks[-1], piece.marks[0]
    if end == "loop":
        # A long V that reaches outwards beyond the rim.
        assert np.hypot(*piece.loop[:2]) > np.hypot(*last[:2])
    else:
        # Over into the first V of the round.
        assert np.linalg.norm(rest - first, axis=1).min() < THICK


# ---- scenes ---------------------------------------------------------------


# Composed before there was a second make: stitches, centre, first and last mark, pixels.
BEFORE = {
    505: (5, [74.8, 52.9], [96.8, 45.3], [47.3, 45.5]),
    518: (6, [34.8, 57.3], [31.3, 66.9], [14.8, 46.7]),
    536: (15, [63.3, 51.3], [50.9, 27.1], [58.8, 27.7]),
}


@pytest.mark.parametrize("seed", BEFORE)
def test_a_scene_of_the_first_make_is_what_it_always_was(seed):
    truth = compose_wide(seed, long_side=500).truth
    stitches, *places = BEFORE[seed]
    assert truth["stitches"] == stitches
    assert np.allclose([truth["centre"], truth["marks"][0], truth["marks"][-1]], places, atol=0.15)


def looks(seeds, monkeypatch, **options):
    """(worked, tension, yarn) of scenes that are laid out no further."""

    class Enough(Exception):
        pass

    def stop(worked, tension, _rng):
        raise Enough(worked, tension)

    found = []
    with monkeypatch.context() as patched:
        patched.setattr(wide, "first_look", stop)
        for seed in seeds:
            with pytest.raises(Enough) as told:
                compose_wide(seed, **options)
            found.append(told.value.args)
    return found


def test_half_of_the_scenes_that_can_be_are_of_the_second_make_and_the_others_stay_as_drawn(monkeypatch):
    seeds = range(400)
    drawn = looks(seeds, monkeypatch)
    monkeypatch.setattr(wide, "OTHER_SHARE", 0.0)
    before = looks(seeds, monkeypatch)
    able = [tension.splay is not None for worked, tension in drawn if can_splay(worked)]
    assert 0.4 < np.mean(able) < 0.6
    assert not any(tension.splay for worked, tension in drawn if not can_splay(worked))
    same = 0
    for (worked, tension), (_, usual) in zip(drawn, before, strict=True):
        assert usual.splay is None
        assert tension.width == usual.width
        same += tension == usual
        assert tension.splay is None or can_splay(worked)
    assert 0.4 < same / len(drawn) < 0.6


def test_the_share_in_progress_can_be_raised_and_is_left_alone_otherwise(monkeypatch):
    seeds = range(500)
    usual = looks(seeds, monkeypatch)
    more = looks(seeds, monkeypatch, open_share=0.5)
    assert 0.15 < np.mean([worked.open_round for worked, _ in usual]) < 0.25
    assert 0.42 < np.mean([worked.open_round for worked, _ in more]) < 0.56
    for (a, _), (b, _) in zip(usual, more, strict=True):
        assert not a.open_round or b.open_round
        assert not b.open_round or b.done + b.left == len(b.rim)
    assert looks([3], monkeypatch, open_share=0.0)[0][1] == usual[3][1]


def test_a_piece_is_opened_where_its_last_round_can_be_cut():
    whole = work((6, 12, 18), rng())
    cut = opened(whole, 0.5)
    assert (cut.open_round, cut.totals, cut.left) == (True, (6, 12), 6)
    assert len(cut.rim) == cut.done + cut.left
    assert opened(cut, 0.3) is cut
    one = work((6,), rng())
    assert opened(one, 0.5) is one


def test_the_truth_tells_how_a_piece_ends(monkeypatch):
    seen = set()
    for seed in (503, 506, 515, 510, 519):
        truth = json.loads(json.dumps(compose_wide(seed, long_side=400).truth))
        ends, progress = truth["ends"], truth["in_progress"]
        assert ends["first"] == truth["marks"][0]
        assert ends["last"] == truth["marks"][progress["done"] - 1 if progress else -1]
        assert ends["how"] in ("fastened", "woven in", "loop")
        assert ends["how"] == "loop" or not progress
        assert ends["joined"] is (not progress and bool({"joined", "turned"} & set(truth["tags"])))
        seen.add((ends["how"], ends["joined"]))
    assert len(seen) > 2


def test_a_set_hands_on_the_share_in_progress(tmp_path, monkeypatch):
    handed = []

    class Pool:
        def __init__(self, *_):
            pass

        def __enter__(self):
            return self

        def __exit__(self, *_):
            pass

        def submit(self, _job, _folder, seed, long_side, open_share, tag):
            handed.append((seed, long_side, open_share, tag))

    monkeypatch.setattr("counter.synthetic.layer_set.ProcessPoolExecutor", Pool)
    monkeypatch.setattr("counter.synthetic.layer_set.as_completed", lambda _jobs: [])
    render_layer_set(tmp_path, 2, 7, long_side=300, open_share=0.3, tag="splayed")
    assert handed == [(7, 300, 0.3, "splayed"), (8, 300, 0.3, "splayed")]


def test_tags_are_told_without_rendering():
    tagged = {seed: "splayed" in tags_of_layers(seed, long_side=300) for seed in range(440001, 440013)}
    assert set(tagged.values()) == {True, False}


def test_no_drawn_piece_of_the_second_make_is_torn(monkeypatch):
    pieces = 0
    for (worked, tension), seed in zip(looks(range(120), monkeypatch), range(120), strict=True):
        if not tension.splay or len(worked.rim) > 70:
            continue
        piece = lay_out_splayed(worked, tension, rng(seed))
        strand = splayed_strand(piece, 0.45 * tension.width, rng(seed), step=0.3)
        step = np.linalg.norm(np.diff(strand.path, axis=0), axis=1)
        assert step.max() < 1.6 * np.median(step)
        for r in range(len(worked.bases)):
            around = np.unwrap(np.arctan2(*piece.tops[piece.round_of == r][:, [1, 0]].T))
            assert np.all(np.diff(around) > 0)
        pieces += 1
    assert pieces > 5
