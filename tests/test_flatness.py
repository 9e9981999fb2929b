import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from counter.basics.answer import InProgress
from counter.lengths.flatness import (
    FLAT_STRAIN,
    USUAL_ADDED,
    flat_added,
    flatness,
    flatness_of_piece,
    flatness_of_plan,
    usual_ratio,
)
from counter.lengths.measure import Measured
from counter.plan import read_plan


def constant(added, rounds=6):
    return [added * k for k in range(1, rounds + 1)]


# A published series of ten samples in single crochet (revedreams.com, crochet
# category, page 12; worsted yarn, 3.75 mm hook, 6 rounds): 1 to 4 added each
# round make a cone, 5 a cup, 6 is still a little cupped, 7 and 8 lie flat,
# 9 is crowded, 10 ruffled.
SERIES = {
    1: "cone", 2: "cone", 3: "cone", 4: "cone", 5: "cupped", 6: "a little cupped",
    7: "flat", 8: "flat", 9: "crowded", 10: "ruffled",
}  # fmt: skip


@pytest.mark.parametrize("ratio", [1.16, 1.175, 1.19])
def test_published_series(ratio):
    # A round a sixth higher than a stitch is wide; the series does not hang on its last digit.
    found = {added: flatness(constant(added), Measured(ratio, 0.0)).name for added in SERIES}
    assert found == SERIES


def test_height_over_table_falls_and_turns_along_the_series():
    lifts = [flatness(constant(added), Measured(1.175, 0.0)).lies[-1].lift for added in SERIES]
    assert all(above >= below for above, below in itertools.pairwise(lifts))
    assert lifts[0] > 1 and lifts[6] == lifts[7] == 0 and lifts[-1] < -0.4


def test_flat_added_for_a_square_stitch():
    # h = w gives 6.28 (mspremiseconclusion.wordpress.com, 24 July 2018).
    assert flat_added(1.0) == pytest.approx(6.28, abs=0.005)


# What is taught for a flat circle: single 6 to 8, half double 8 to 10, double
# 10 to 14 (garturstitchfarm's tutorial; Simply Crochet, October 2020), treble
# 12 to 14 (mkcarroll.com, 2009), and 16 to 18 (from memory); 2 pi h / w of a treble 2.7
# times as high as wide is 17 (geometry).
@pytest.mark.parametrize(
    "stitch, added",
    [
        ("sc", 6),
        ("sc", 8),
        ("hdc", 8),
        ("hdc", 10),
        ("dc", 10),
        ("dc", 14),
        ("tr", 12),
        ("tr", 14),
        ("tr", 16),
        ("tr", 17),
        ("tr", 18),
    ],
)
def test_what_is_taught_lies_flat_in_the_usual_shape(stitch, added):
    judged = flatness(constant(added, 5), stitch=stitch)
    assert judged.name == "flat" and judged.since is None and not judged.measured
    assert judged.words[1].startswith("Not measured:")


# Totals of the tutorial's circles: 6 12 18 24 30, 8 16 24 32 40, 12 24 36 48 60.
@pytest.mark.parametrize(
    "text",
    ["6 sc in ring\n2 sc in each st (12)\n(sc, inc) x 6\n(2 sc, inc) x 6\n(3 sc, inc) x 6",
     "8 hdc in ring\n2 hdc in each st (16)\n(hdc, inc) x 8\n(2 hdc, inc) x 8",
     "12 dc in ring\n2 dc in each st (24)\n(dc, inc) x 12\n(2 dc, inc) x 12"],
)  # fmt: skip
def test_taught_circles_as_written_lie_flat(text):
    assert flatness_of_plan(read_plan(text)).words[0] == "Lies flat."


def test_wrong_number_for_the_stitch_does_not():
    assert flatness(constant(12), stitch="sc").name == "ruffled"
    assert flatness(constant(6), stitch="dc").name in ("cupped", "cone")


def test_a_long_cone_has_the_slope_of_geometry():
    # A cone of slant s and rim radius q s (its rim is q times that of a flat disc) stands
    # s sqrt(1 - q^2) high; with the give along its rim and its slant q counts as more.
    q = 0.5
    lift = flatness([round(q * 1000 * k) for k in range(1, 201)], Measured(1000 / (2 * np.pi), 0.0)).lies[-1].lift
    stretched = q * (1 + FLAT_STRAIN) / (1 - FLAT_STRAIN)
    assert lift == pytest.approx(np.sqrt(1 - stretched**2) / stretched, rel=0.02)


def test_waves_are_as_long_as_the_rim():
    # Length of a rim with two waves, by numerical integration of its curve.
    judged = flatness(constant(1300, 60), Measured(1000 / (2 * np.pi), 0.0)).lies[-1]
    turn = np.linspace(0, 2 * np.pi, 20001)
    curve = np.column_stack([np.cos(turn), np.sin(turn), -judged.lift / 2 * np.sin(2 * turn)])
    length = np.linalg.norm(np.diff(curve, axis=0), axis=1).sum() / (2 * np.pi)
    assert judged.name == "ruffled"
    assert length == pytest.approx(1.3 * (1 - FLAT_STRAIN) / (1 + FLAT_STRAIN), rel=0.03)


@pytest.mark.parametrize("totals", [constant(6, 5), constant(8, 7), [6, 12, 18, 18], [5, 12, 20, 25, 35], [6]])
def test_disc_settles_where_its_strain_is_least(totals):
    # The same by a general minimiser (SciPy); only whether the rim is strained too far shows outside.
    natural = np.array(totals) / flat_added(1.0)

    def strain(radii):
        across = np.diff(radii, prepend=0) - 1
        return (natural * (across**2 + (radii / natural - 1) ** 2)).sum()

    rim = minimize(strain, np.arange(1, len(totals) + 1.0)).x[-1]
    flat = abs(rim / natural[-1] - 1) <= FLAT_STRAIN or len(totals) <= 2
    assert (flatness(totals, Measured(1.0, 0.0)).lies[-1].name == "flat") == flat


HEAD = read_plan("6, 12, 18, 24, 30, 30, 30, 30, 24, 18, 12, 6")


def test_a_toys_head_cups_where_it_stops_increasing():
    judged = flatness_of_plan(HEAD, Measured(0.95, 0.03))
    assert (judged.since, judged.name, judged.measured, judged.steady) == (6, "cupped", True, True)
    assert judged.words[0] == "Will cup from round 6 on, as a toy's head should."
    assert judged.words[1] == (
        "By the measured shape of the stitches (a round is 0.95 of a stitch's width high, "
        "give or take 0.06) a flat circle adds about 6 each round."
    )


def test_a_single_even_round_far_out_does_no_harm():
    totals = [*constant(6, 15), 90, 96, 102]
    assert flatness(totals, Measured(0.95, 0.0)).since is None
    assert flatness([6, 12, 12, 18], Measured(0.95, 0.0)).since == 3


def test_plan_is_judged_by_the_measured_shape_not_by_six():
    six = read_plan("start 6, add 6")
    assert flatness_of_plan(six, Measured(0.95, 0.02)).name == "flat"
    high = flatness_of_plan(six, Measured(1.3, 0.02))
    assert high.lies[-1].lift > 0
    assert high.words[0].startswith("Will cup") and high.words[0].endswith(
        "from round 3 on: it adds 6 each round, and about 8.2 would lie flat."
    )
    assert flatness_of_plan(six, Measured(0.7, 0.02)).lies[-1].lift < 0


def test_constant_growth_ratio_is_hyperbolic():
    # Henderson and Taimina, "Crocheting the Hyperbolic Plane", The Mathematical
    # Intelligencer 23(2), 2001: constant growth ratio instead of constant growth.
    judged = flatness_of_plan(read_plan("6, 12, 24, 48, 96, 192"), Measured(1.0, 0.05))
    assert judged.name == "ruffled"
    assert judged.words[0] == (
        f"Will ruffle from round {judged.since} on, as a hyperbolic surface does: every round grows by the same factor."
    )
    # The waves grow without end, where those of a plan that adds too much each time do not.
    waves = [lie.lift for lie in judged.lies]
    assert waves[-1] < 2 * waves[-3] < 0


def test_close_calls_are_said():
    judged = flatness(constant(6), Measured(1.17, 0.05))
    assert judged.name == "a little cupped" and not judged.steady
    assert judged.words[-1] == "It is close: within the error of the shape it may also be that it lies flat."
    assert flatness(constant(7), Measured(1.17, 0.05)).steady


def test_stacked_increases_make_a_hexagon():
    # Stacked increases make a hexagon, staggered ones a circle (jillhacker.com).
    start = "R1: 6 sc in ring\nR2: (inc) x 6\nR3: (sc, inc) x 6\n"
    stacked = flatness_of_plan(read_plan(start + "R4: (2 sc, inc) x 6\nR5: (3 sc, inc) x 6"), Measured(0.95, 0.0))
    assert (
        stacked.words[-1] == "Its increases stand above each other: it grows 6 corners. Staggered ones make a circle."
    )
    staggered = flatness_of_plan(
        read_plan(start + "R4: (sc, inc, sc) x 6\nR5: (3 sc, inc) x 6\nR6: (2 sc, inc, 2 sc) x 6"), Measured(0.95, 0.0)
    )
    assert not any("corners" in words for words in staggered.words)


def test_a_plan_that_begins_later_is_judged_from_there():
    assert flatness_of_plan(read_plan("R7: 42\nR8: 48\nR9: 54"), Measured(0.95, 0.0)).since is None
    assert flatness_of_plan(read_plan("R7: 42\nR8: 42\nR9: 42"), Measured(0.95, 0.0)).since in (8, 9)


def test_what_can_not_be_known_ends_the_plan():
    plan = read_plan("R1: 6\nR2: 12\nR3: 18\nR5: 30")
    judged = flatness_of_plan(plan)
    assert [lie.round for lie in judged.lies] == [1, 2, 3]
    assert judged.words[-1] == "Judged up to round 3: the total of the next one is not known."
    nothing = flatness_of_plan(read_plan("no rounds at all"))
    assert nothing.lies == () and nothing.name is None and nothing.words == ("There are no rounds to judge.",)


def test_uk_names():
    assert "half treble is taken" in flatness(constant(8), stitch="hdc", uk=True).words[1]
    assert "half double crochet is taken" in flatness(constant(8), stitch="hdc").words[1]


@pytest.mark.parametrize("stitches, name", [(24, "cupped"), (30, "a little cupped"), (36, "flat"), (60, "ruffled")])
def test_piece(make_count, stitches, name):
    judged = flatness_of_piece(make_count({stitches: 1.0}, rounds=6), rounds=6, ratio=Measured(1.0, 0.02))
    assert judged.name == name and judged.lies[-1].stitches == stitches
    # 2 pi h / w stitches more in each of six rounds: 38 for a square stitch.
    wanted = "" if name == "flat" else "; about 38 would lie flat"
    assert judged.words[0].startswith(f"A piece of {stitches} stitches in 6 rounds ")
    assert judged.words[0].endswith(f"{wanted}.")


def test_piece_with_counted_rounds_is_never_steady(make_count):
    judged = flatness_of_piece(make_count({36: 1.0}, rounds=6), ratio=Measured(1.0, 0.02))
    assert judged.name == "flat" and not judged.steady and "often one off" in judged.words[-1]
    assert flatness_of_piece(make_count({36: 1.0}, rounds=6), rounds=6, ratio=Measured(1.0, 0.02)).steady


def test_piece_that_can_not_be_judged_says_why(make_count):
    unknown = flatness_of_piece(make_count({36: 1.0}, rounds=None))
    assert unknown.name is None and unknown.words[0].startswith("The rounds can't be told")
    strange = flatness_of_piece(make_count({36: 1.0}), stitch="dtr")
    assert strange.name is None and strange.ratio is None and "dtr" in strange.words[0]
    assert flatness_of_plan(read_plan("R1: 20 dtr in ring\nR2: 2 dtr in each st")).words == strange.words
    working = flatness_of_piece(make_count({36: 1.0}, in_progress=InProgress(20, 16, (0.0, 0.0))))
    assert working.name is None and working.words[0].startswith("The round is not finished.")


@pytest.mark.parametrize(
    "call",
    [lambda: flatness([6, 0, 12]), lambda: flatness([6], first=0), lambda: flatness([6, 12], taller=[1.0]),
     lambda: flatness([6], Measured(0.0, 0.1)), lambda: flatness([6], Measured(float("nan"), 0.1)),
     lambda: flatness([6], stitch="knit"), lambda: usual_ratio("dtr")],
)  # fmt: skip
def test_bad_input_is_named(call):
    with pytest.raises(ValueError):
        call()


def test_piece_without_rounds_is_bad_input(make_count):
    with pytest.raises(ValueError, match="at least 1 round"):
        flatness_of_piece(make_count({24: 1.0}), rounds=0)


@given(
    totals=st.lists(st.integers(1, 500), min_size=1, max_size=40),
    ratio=st.floats(0.3, 4),
    error=st.floats(0, 1),
    stitch=st.sampled_from(sorted(USUAL_ADDED)),
)
def test_any_plan_gets_an_answer(totals, ratio, error, stitch):
    judged = flatness(totals, Measured(ratio, error), stitch=stitch)
    assert [lie.stitches for lie in judged.lies] == totals
    assert all(np.isfinite([lie.lift, lie.flat]).all() for lie in judged.lies)
    assert all((lie.lift == 0) == (lie.name == "flat") for lie in judged.lies)
    assert (judged.since is None) == (judged.name == "flat")
    # Twice as large in every direction is the same shape.
    taller = flatness(totals, Measured(ratio / 2, error / 2), taller=[2.0] * len(totals))
    assert [lie.name for lie in taller.lies] == [lie.name for lie in judged.lies]


@pytest.mark.parametrize("added", range(12, 19))
def test_no_treble_circle_within_what_the_sources_say_is_accused(added):
    # Published with 12 to 14 (mkcarroll.com, 2009), taught with 16 to 18 (from memory).
    found = flatness(constant(added, 8), stitch="tr")
    assert found.name == "flat" and found.since is None and "the sources differ" in " ".join(found.words)


@pytest.mark.parametrize(("added", "name"), [(6, "cone"), (26, "ruffled")])
def test_a_treble_piece_far_outside_is_still_told(added, name):
    assert flatness(constant(added, 8), stitch="tr").name == name


@pytest.mark.parametrize("below", [[6, 12, 18, 24, 30, 36], [6, 12, 18, 24, 30, 36] + [36] * 6])
def test_twice_as_many_in_one_round_ruffle_whatever_lies_below(below):
    # An increase in every stitch of a plain piece makes a ruffle (common practice).
    found = flatness([*below, 2 * below[-1]], Measured(1.175, 0.0))
    assert found.lies[-1].name == "ruffled"
    assert all(lie.name != "ruffled" for lie in found.lies[:-1])


def test_rounds_of_a_flat_circle_never_ripple():
    for added in (6, 7, 8):
        assert {lie.name for lie in flatness(constant(added, 40)).lies} <= {"flat", "a little cupped"}


HEAD_TO_36 = (
    "R1: 6 sc in MR\nR2: inc x 6\nR3: (sc 1, inc) x 6\nR4: (sc 2, inc) x 6\nR5: (sc 3, inc) x 6\nR6: (sc 4, inc) x 6"
)


@pytest.mark.parametrize(
    "before", ["", "R7: sc around\n", "R7-12: sc around\n", "R7: (sc 4, dec) x 6\nR8: (sc 3, inc) x 6\n"]
)
def test_twice_as_many_stitches_ruffle_whatever_came_before(before):
    number = {"": 7, "R7: sc around\n": 8, "R7-12: sc around\n": 13}.get(before, 9)
    found = flatness_of_plan(read_plan(f"{HEAD_TO_36}\n{before}R{number}: inc x 36 (72)"))
    assert (found.name, found.since) == ("ruffled", number)
    assert found.words[0].startswith(f"Will ruffle from round {number} on")
    if "12" in before:
        assert "Before that it will cup, from round 7 on." in found.words


def test_fans_are_not_judged_by_their_number():
    plan = read_plan(
        "R1: 12 dc in ring (12)\nR2: 2 dc in each st (24)\nR3: (1 dc, 2 dc in next) x 12 (36)\nR4: *sc in next st, sk 1, 5 dc in next st, sk 1* around (54)"
    )
    found = flatness_of_plan(plan)
    assert found.name == "flat" and "fans" in found.words[-1]
