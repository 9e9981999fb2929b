"""Written rounds: what each comes to, and what is found in patterns that don't agree with themselves."""

import json

import numpy as np
import pytest
from written_rounds import LAST, LATER, LATEST, PROSE, UK, US

from counter.plan import Finding, Plan, PlanRound, Shaping, plan_data, read_plan
from counter.synthetic.pattern import written


def read_one(row, uk=False):
    """Read one row of the corpus above the total of the round below; return the plan and the round."""
    below = "" if row.below is None else f"R{row.number - 1}: [{row.below}]\n"
    plan = read_plan(below + row.text, uk=uk)
    return plan, plan.round(row.number)


def totals(text, **how):
    return [one.stitches for one in read_plan(text, **how).rounds]


def found(text, **how):
    return [(one.line, one.column, one.what, one.fix) for one in read_plan(text, **how).findings]


def test_the_corpus_is_large():
    assert len(US) + len(UK) + len(LATER) + len(LATEST) + len(LAST) >= 240


@pytest.mark.parametrize(
    ("row", "uk"),
    [(row, False) for row in (*US, *LATER, *LATEST, *LAST)] + [(row, True) for row in UK],
    ids=lambda value: value.text if hasattr(value, "text") else "uk" if value else "us",
)
def test_each_written_round_comes_to_what_was_worked_out_by_hand(row, uk):
    plan, one = read_one(row, uk)
    assert one is not None
    assert (one.stitches, one.used) == (row.made, row.used)
    assert tuple(shaping.at for shaping in one.increases) == row.increases
    assert tuple(shaping.at for shaping in one.decreases) == row.decreases
    assert plan.findings == ()  # none of them has anything wrong
    assert len(plan.rounds) == (1 if row.below is None else 2)


@pytest.mark.parametrize("line", PROSE)
def test_lines_that_are_no_rounds_are_left_alone(line):
    alone = read_plan(line)
    assert alone.rounds == () and "No round" in alone.findings[0].what
    within = read_plan(f"R1: 6 sc in ring (6)\n{line}\nR2: inc x 6 (12)\n{line}")
    assert [one.stitches for one in within.rounds] == [6, 12] and within.findings == ()


# Totals of flat circles, from published tutorials, not from this program.
@pytest.mark.parametrize(
    ("stitch", "start", "published"),
    [
        ("sc", 6, [6, 12, 18, 24, 30]),  # garturstitchfarm, "stitch farm shop" tutorial
        ("hdc", 8, [8, 16, 24, 32, 40]),  # the same tutorial
        ("dc", 12, [12, 24, 36, 48, 60]),  # the same tutorial
    ],
)
def test_flat_circles_have_their_published_totals(stitch, start, published):
    lines = [f"Rnd 1: {start} {stitch} in ring", f"Rnd 2: 2 {stitch} in each st around"]
    lines += [
        f"Rnd {k}: *{stitch} in next {k - 2} sts, 2 {stitch} in next st; rep from * around"
        for k in range(3, len(published) + 1)
    ]
    plan = read_plan("\n".join(lines))
    assert [one.stitches for one in plan.rounds] == published
    assert [one.used for one in plan.rounds] == [0, *published[:-1]]
    assert plan.findings == () and {one.stitch for one in plan.rounds} == {stitch}
    assert [len(one.increases) for one in plan.rounds[1:]] == [start] * (len(published) - 1)


def test_a_cup_of_single_crochet_comes_back_to_six():
    # Increases to 24, even, and decreases to 6: common practice.
    text = "R1: 6 sc in ring\nR2: inc x 6\nR3: (sc 1, inc) x 6\nR4: (sc 2, inc) x 6\nR5-7: sc around\n"
    text += "R8: (sc 2, dec) x 6\nR9: (sc 1, dec) x 6\nR10: dec x 6"
    plan = read_plan(text)
    assert [one.stitches for one in plan.rounds] == [6, 12, 18, 24, 24, 24, 24, 18, 12, 6]
    assert [one.kind for one in plan.rounds] == ["start"] + ["increase"] * 3 + ["even"] * 3 + ["decrease"] * 3


# US to UK: sc = dc, hdc = htr, dc = tr, tr = dtr; four independent charts of abbreviations agree.
@pytest.mark.parametrize(("us", "uk"), [("sc", "dc"), ("hdc", "htr"), ("dc", "tr"), ("tr", "dtr")])
def test_terms_of_both_sides_mean_the_same(us, uk):
    text = "R1: 8 {0} in ring\nR2: ({0} 1, {0} inc) x 4\nR3: ({0} 1, {0}2tog) x 4"
    plan = read_plan(text.format(us))
    assert plan == read_plan(text.format(uk), uk=True)
    assert {one.stitch for one in plan.rounds} == {us}
    assert totals(text.format(us)) == [8, 12, 8]


def test_a_round_knows_its_places_and_kind():
    plan = read_plan("R4: [18]\nR5: sc 4, 3 sc in next st, sc 5, dec, sc3tog, sc 3 [18]")
    one = plan.round(5)
    assert one.increases == (Shaping(5, 3),)
    assert one.decreases == (Shaping(13, 2), Shaping(14, 3))
    assert (one.stitches, one.used, one.kind, one.stitch) == (17, 18, "mixed", "sc")
    assert one.text == "sc 4, 3 sc in next st, sc 5, dec, sc3tog, sc 3"
    assert plan.round(6) is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("6, 12, 18, 24, 24", [6, 12, 18, 24, 24]),
        ("6\n12\n18\n", [6, 12, 18]),
        ("6 12 18 24", [6, 12, 18, 24]),
        ("6 - 12 - 18", [6, 12, 18]),
        ("R1 6\nR2 12\nR3 18", [6, 12, 18]),
        ("R1: 6 sts\r\nR2: 12 sts\r\n", [6, 12]),
        ("\ufeffR1: (6)\nR2: (12)", [6, 12]),
        ("R1-4: 6, 12, 18, 24", [6, 12, 18, 24]),
        ("6, 12, 18, 24 x 3, 18", [6, 12, 18, 24, 24, 24, 18]),
        ("Rnds 1-3: 24", [24, 24, 24]),
    ],
)
def test_plain_numbers_are_totals(text, expected):
    plan = read_plan(text)
    assert [one.stitches for one in plan.rounds] == expected
    assert [one.round for one in plan.rounds] == list(range(1, len(expected) + 1))
    assert [one.used for one in plan.rounds] == [0, *expected[:-1]]
    assert plan.findings == ()


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        ("start 6, add 6", [6 * k for k in range(1, 13)]),
        ("Start with 6, add 6 each round", [6 * k for k in range(1, 13)]),
        ("6 + 6 each round", [6 * k for k in range(1, 13)]),
        ("Begin with 8 and increase by 8 every round for 4 rounds", [8, 16, 24, 32]),
        ("Start with 6 sc in a magic ring, inc 6 each round, up to 24", [6, 12, 18, 24]),
        ("start 30, take off 6", [30, 24, 18, 12, 6]),
        ("start 12, add 12 for three rounds", [12, 24, 36]),
    ],
)
def test_a_growth_rule_gives_its_rounds(rule, expected):
    assert totals(rule) == expected and found(rule) == []


def test_a_growth_rule_gives_as_many_rounds_as_asked_for():
    assert totals("start 6, add 6", rounds=3) == [6, 12, 18]
    for wrong in (0, 1001, 2.0, True, "3"):
        with pytest.raises(ValueError, match="rounds must be a whole number from 1 to 1000"):
            read_plan("start 6, add 6", rounds=wrong)


def test_a_growth_rule_that_misses_its_last_total_is_told():
    assert "no round comes to 31" in found("start 6, add 6 up to 31")[0][2]


@pytest.mark.parametrize("seed", range(5))
def test_rounds_that_the_renderer_writes_are_read(seed):
    children = np.random.default_rng(seed).choice([1, 2], size=30, p=[0.8, 0.2])
    one = read_plan(written(4, children)).round(4)
    assert (one.stitches, one.used) == (children.sum(), 30)
    first = np.cumsum(children) - children + 1
    assert [shaping.at for shaping in one.increases] == first[children == 2].tolist()


def test_a_range_gives_an_entry_for_each_round():
    plan = read_plan("R4: [24]\nRounds 5 to 8: sc in each st (24)")
    assert [(one.round, one.stitches, one.used) for one in plan.rounds[1:]] == [(k, 24, 24) for k in (5, 6, 7, 8)]
    for text in (
        "R5–R8: sc around (24)",
        "Rnds 5 - 8: sc around (24)",
        "5.-8. sc around (24)",
        "Rnds 5, 6, 7 and 8: sc around (24)",
    ):
        assert [one.round for one in read_plan(text).rounds] == [5, 6, 7, 8], text
    assert totals("R1: 6 sc in ring\nRnds 2-4: inc 6 evenly each rnd (12, 18, 24)") == [6, 12, 18, 24]
    assert totals("Rnds 2-4: inc 6 evenly (24)") == [12, 18, 24]


def test_a_dash_after_a_label_is_no_range():
    assert [one.round for one in read_plan("Rnd 1 - 6 sc in magic ring").rounds] == [1]
    assert totals("R1-6 sc in ring\nR2 - 6 inc") == [6, 12]


def test_several_rounds_on_a_line():
    assert totals("Rnd 1: 6 sc in ring (6); Rnd 2: inc x 6 (12); Rnd 3: (sc, inc) x 6 (18)") == [6, 12, 18]
    assert totals("R1 6sc mr, R2 6inc, R3 (sc, inc)*6, R4 (2sc, inc)*6") == [6, 12, 18, 24]


def test_a_round_may_run_over_lines():
    plan = read_plan(
        "Rnd 3: *sc in next st,\n   2 sc in next st; rep from *\n\nRnd 4: (sc 2,\ninc) x 6 (24)\nFasten off."
    )
    assert [one.stitches for one in plan.rounds] == [None, 24]
    assert totals("Rnd 2: [12]\nRnd 3: *sc in next st,\n   2 sc in next st; rep from * around (18)") == [12, 18]


def test_rounds_that_repeat_others():
    text = "R1: 6 sc in ring\nR2: inc x 6\nR3: sc around\nR4: repeat round 3\nR5: as Rnd 3 (12)\nR6: rep last rnd"
    assert totals(text) == [6, 12, 12, 12, 12, 12] and found(text) == []
    text = "R4: 24\nR5: dc in each st around\nR6: sc in each st around\nRnds 7-10: Rep Rnds 5 and 6"
    assert [one.stitch for one in read_plan(text).rounds[3:]] == ["dc", "sc", "dc", "sc"]
    assert "Rnd 9 isn't in this plan" in found("R1: 6 sc in ring\nR2: repeat round 9")[0][2]


def test_rounds_without_labels_count_on():
    text = "6 sc in magic ring (6)\ninc x 6 (12)\n(sc 1, inc) x 6 (18)\nwork even for 3 rounds (18)"
    assert totals(text) == [6, 12, 18, 18, 18, 18] and found(text) == []
    assert totals("(sc 2, inc) x 6 [24]") == [24]


def test_a_plan_may_begin_at_any_round():
    plan = read_plan("R5: (sc 2, inc) around (24)\nR6: sc around")
    assert [(one.round, one.stitches, one.used) for one in plan.rounds] == [(5, 24, 18), (6, 24, 24)]
    plan = read_plan("R5: (sc 2, inc) around")
    assert plan.round(5).stitches is None and plan.round(5).used is None and plan.findings == ()
    assert plan_data(plan)["rounds"][0]["stitches"] is None


def test_a_whole_pattern_is_read_round_by_round():
    text = """A small mushroom's cap

    You need: 20 g of red cotton, a 2.5 mm hook, 8 mm safety eyes (2), stuffing.
    ch = chain, sc = single crochet, inc = 2 sc in one stitch, dec = invisible decrease

    Work in a spiral; move the marker up every round.
    Rnd 1: 6 sc in a magic ring (6)
    Rnd 2: inc in each st around (12)
    Rnd 3: (1 sc, inc) x 6 (18)
    Rnds 4–6 (3 rounds): sc in each st around (18)
    Rnd 7: (1 sc, dec) x 6 (12). Place the eyes between Rnds 5 and 6, 4 sts apart.
    Stuff firmly.
    Rnd 8: dec x 6 (6)
    Fasten off, leaving a long tail. Close the last 6 sts with the tail.
    """
    assert totals(text) == [6, 12, 18, 18, 18, 18, 12, 6] and found(text) == []


def test_joined_rounds_with_counting_and_other_chains():
    text = """Using yarn A, ch 4, ss to form a ring.
    Round 1: ch 3 (counts as 1 tr), 11 tr in ring, ss to top of 3 ch. (12 tr)
    Round 2: ch 3 (counts as 1 tr), 1 tr in same st, 2 tr in each tr around, ss to join. (24 tr)
    Change to yarn B.
    Round 3: ch 3, 2 tr in next st, *1 tr in next st, 2 tr in next st; rep from * around, ss to top of ch 3. (36 tr)
    Round 4: ch 1, 1 dc in each st around, ss in first dc. Fasten off. (36 dc)"""
    plan = read_plan(text, uk=True)
    assert [one.stitches for one in plan.rounds] == [12, 24, 36, 36] and plan.findings == ()
    assert [one.stitch for one in plan.rounds] == ["dc", "dc", "dc", "sc"]


def test_chains_over_skipped_stitches_count_where_the_pattern_counts_them():
    text = "R9: [36]\nR10: sc 6, ch 6, sk 6 sts, sc 12, ch 6, sk 6 sts, sc 6{}\nR11: sc in each st and ch around (36)"
    assert totals(text.format("")) == [36, 24, 36] and found(text.format("")) == []
    assert totals(text.format(" (36)")) == [36, 36, 36] and found(text.format(" (36)")) == []


def test_stitches_left_on_purpose_are_no_finding():
    assert found("R4: [24]\nR5: sc 20, leave remaining 4 sts unworked (20)") == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "R3: [18]\nR4: (sc 2, inc) x 6 [25]",
            [(2, 21, "Rnd 4 makes 24, not 25.", "Write [24], or work one more inc.")],
        ),
        (
            "R3: [18]\nR4: (sc 2, inc) x 6 = 22",
            [(2, 23, "Rnd 4 makes 24, not 22.", "Write [24], or work 2 inc fewer.")],
        ),
        (
            "R3: [18]\nR4: (sc 2, inc) x 5 [24]",
            [
                (
                    2,
                    5,
                    "Rnd 4 uses 15 of the 18 stitches below.",
                    "Write (sc 2, inc) x 6, which makes 24 of 18; or check the total of the round below.",
                )
            ],
        ),
        (
            "R3: [18]\nR4: (sc 2, inc) x 7",
            [
                (
                    2,
                    5,
                    "Rnd 4 needs 21 stitches, the round below has 18.",
                    "Write (sc 2, inc) x 6, which makes 24 of 18; or check the total of the round below.",
                )
            ],
        ),
        (
            "R3: [18]\nR4: (sc 3, inc) around [24]",
            [
                (
                    2,
                    5,
                    "The repeat of Rnd 4 takes 4 stitches, which doesn't come out over 18: 2 are left over.",
                    "Write (sc 2, inc) around, which makes 24 of 18; or check the total of the round below.",
                )
            ],
        ),
        (
            "R3: [18]\nR4: (sc 3, inc) around",
            [
                (
                    2,
                    5,
                    "The repeat of Rnd 4 takes 4 stitches, which doesn't come out over 18: 2 are left over.",
                    "It comes out with 16 or 20 stitches below: check that total, or change the repeat.",
                )
            ],
        ),
        (
            "R3: [18]\nR4: sc 20",
            [
                (
                    2,
                    1,
                    "Rnd 4 needs 20 stitches, the round below has 18.",
                    "Write sc 18, which makes 18 of 18; or check the total of the round below.",
                )
            ],
        ),
        (
            "R3: [18]\nR4: sc 2, inc",
            [
                (
                    2,
                    1,
                    "Rnd 4 uses 3 of the 18 stitches below.",
                    "Write (sc 2, inc) x 6, which makes 24 of 18; or check the total of the round below.",
                )
            ],
        ),
        ("R3: [18]\nR5: (sc 2, inc) x 6 [24]", [(2, 1, "Rnd 5 follows Rnd 3.", "Add Rnd 4, or number it 4.")]),
        (
            "R3: [18]\nR7: sc around [24]",
            [(2, 1, "Rnd 7 follows Rnd 3.", "Add Rnds 4 to 6, or number it 4.")],
        ),
        (
            "R3: [18]\n  R3: (sc 2, inc) x 6 [24]",
            [(2, 3, "Rnd 3 comes again after Rnd 3.", "Number it 4, or leave it out.")],
        ),
        ("R5: [18]\nR3: sc around", [(2, 1, "Rnd 3 comes after Rnd 5.", "Number it 6, or move it up.")]),
        (
            "R4: (sc 2, inc x 6 [24]",
            [(1, 5, "The bracket ( is never closed.", "Close it with ) where the repeat ends.")],
        ),
        (
            "R4: (sc 2, inc)) x 6 [24]",
            [(1, 16, "The bracket ) closes nothing.", "Open it where the repeat begins, or take it out.")],
        ),
        ("R8-5: sc around", [(1, 3, "The rounds 8 to 5 run backwards.", "Write the lower number first.")]),
        (
            "R6: (sc 2, inc) around [25]",
            [
                (
                    1,
                    24,
                    "Rnd 6 can't make 25: its repeat makes 4 stitches at a time.",
                    "Write [24] or [28], or change the repeat.",
                )
            ],
        ),
        (
            "R1: 6 htr in ring\nR2: 2 htr in each st",
            [(1, 7, "'htr' is a UK term.", "Read this pattern in UK terms.")],
        ),
        (
            "Row 1: ch 10, sc across\nRow 2: sc across",
            [
                (
                    1,
                    1,
                    "This is worked in rows, not in rounds.",
                    "Rows have no rim to count: give the rounds, as in 'R1: ...'.",
                )
            ],
        ),
    ],
)
def test_what_does_not_agree_is_found_with_its_place_and_what_would_be_right(text, expected):
    assert found(text) == expected


def test_a_us_term_in_uk_terms_is_found():
    assert found("R1: 6 sc in ring", uk=True) == [
        (1, 7, "'sc' is a US term; it never occurs in UK terms.", "Read this pattern in US terms.")
    ]
    assert found("R4: 18\nR5: (dc 1, miss 1) x 9")[0][2] == "'miss' is a UK term."
    assert found("R4: 18\nR5: (sc 1, miss 1) x 9") == []  # a US text may say miss


def test_one_wrong_total_is_one_finding():
    text = "R1: 6 sc in ring (6)\nR2: inc x 6 (13)\nR3: (sc 1, inc) x 6 (18)\nR4: sc around (18)"
    assert [finding[:2] for finding in found(text)] == [(2, 13)]
    # The text of the round makes 12, but everything above agrees with the 18 that was written.
    text = "R2: [12]\nR3: (sc 1, inc) x 5 (18)\nR4: sc around (18)"
    assert [finding[:2] for finding in found(text)] == [(2, 5)]


def test_an_unknown_stitch_is_found_and_the_written_total_kept():
    plan = read_plan("R2: [12]\nR3: floof 6, sc 6 [12]\nR4: sc around")
    assert plan.findings[0].what == "'floof' is no stitch that is known here."
    assert (plan.findings[0].line, plan.findings[0].column) == (2, 5)
    assert [(one.stitches, one.used) for one in plan.rounds] == [(12, None), (12, None), (12, 12)]
    assert read_plan("R3: floof 6").round(3).stitches is None


def test_a_remark_behind_the_total_is_no_instruction():
    text = "R5: (sc 2, inc) x 6 (24) Note: inc means 2 sc in next st.\nR6: sc around (24)"
    assert totals(text) == [24, 24] and found(text) == []


@pytest.mark.parametrize(
    ("text", "below", "expected"),
    [
        # "rep from * 5 times" is worked six times by the letter of it, five times by many: both are right somewhere.
        ("*sc 1, inc, rep from * 5 times (18)", 12, 18),
        ("*sc 1, inc, rep from * 6 times (18)", 12, 18),
        # A first chain counts where only that comes out.
        ("ch 3, dc in next 11 sts, join (12)", 12, 12),
        ("ch 3, 2 dc in each st around (24)", 12, 24),
        # A tail is meant for all where only that comes out.
        ("sc 2, inc x 6 (24)", 18, 24),
        ("sc 2, inc x 6 (14)", 8, 14),
        ("sc 1, inc around (18)", 12, 18),
        ("sc inc x 6 (18)", 12, 18),
        ("sc inc x 12 (24)", 12, 24),
        # What is said once is meant for the whole round where only that comes out.
        ("sc (24)", 24, 24),
        ("inc (24)", 12, 24),
        ("hdc", 24, 24),
        ("sc 2, inc (24)", 18, 24),
        ("*sc, inc [3 sts]* rep 6 times (18)", 12, 18),
        # The last slip stitch is a join, or a stitch.
        ("sc 6, hdc 6, sl st (12)", 12, 12),
        ("sc 6, hdc 5, sl st in next st (12)", 12, 12),
        # So many in the next so many: one in each, or so many in each.
        ("3 sc in next 3 sts, sc 3 (6)", 6, 6),
        ("2 sc in next 2 sts, sc 4 (8)", 6, 8),
    ],
)
def test_what_is_read_in_two_ways_is_read_so_that_it_agrees(text, below, expected):
    plan = read_plan(f"R2: [{below}]\nR3: {text}")
    assert plan.findings == () and (plan.round(3).stitches, plan.round(3).used) == (expected, below)


def test_plain_data_is_json():
    plan = read_plan("R1: 6 sc in ring\nR2: inc x 6 [13]\nR3: floof")
    data = json.loads(json.dumps(plan_data(plan), allow_nan=False))
    assert data["rounds"][1] == {
        "round": 2, "stitches": 12, "used": 6, "increases": [1, 3, 5, 7, 9, 11], "decreases": [], "text": "inc x 6", "chain": None,
    }  # fmt: skip
    assert data["rounds"][2]["stitches"] is None and data["rounds"][2]["used"] is None
    assert [(one["line"], one["column"]) for one in data["findings"]] == [(2, 13), (3, 5)]
    assert set(data["findings"][0]) == {"line", "column", "what", "fix", "kind"}
    assert plan_data(plan, uk=True)["rounds"][0]["text"] == "6 dc in ring"


def test_plans_are_equal_where_they_are_worked_alike():
    assert read_plan("R4: (sc 2, inc) x 6 [24]") == read_plan("\n  Rnd 4: *2 sc, 2 sc in next st*, rep 6 times")
    assert read_plan("R4: (sc 2, inc) x 6") != read_plan("R4: (inc, sc 2) x 6")
    assert Plan((), (Finding(1, 1, "a", "b"),)) == Plan((), ())
    with pytest.raises(AttributeError):
        read_plan("R1: 6").rounds[0].stitches = 7


def test_kinds():
    def kind(made, used, increases=(), decreases=()):
        return PlanRound(4, made, used, increases, decreases, "", None, 1, 1, "sc").kind

    assert (
        kind(6, 0) == "start" and kind(12, 12) == "even" and kind(18, 12) == "increase" and kind(12, 18) == "decrease"
    )
    assert kind(12, 12, (Shaping(1, 2),), (Shaping(3, 2),)) == "mixed"
    assert kind(None, 12) == kind(12, None) == "unknown"


def test_totals_ahead_of_a_written_round_are_those_of_the_rounds_up_to_it():
    plan = read_plan("6, 12, 18\nR4: (sc 2, inc) x 6 (24)")
    assert [(one.round, one.stitches) for one in plan.rounds] == [(1, 6), (2, 12), (3, 18), (4, 24)]
    assert not plan.findings and plan.round(4).used == 18


# ------------------------------------------------------------------ a chain that the round begins with


@pytest.mark.parametrize(
    ("text", "totals", "chains"),
    [
        # Said in the text, or by what is joined to: to the top of a chain where it is a stitch (common practice).
        (
            "Rnd 1: ch 3 (counts as dc), 11 dc in ring, join\nRnd 2: ch 3, dc in same st, 2 dc in each st around, join",
            (12, 24),
            (True, True),
        ),
        ("Rnd 1: ch 3, 11 dc in ring, sl st to top of ch 3", (12,), (True,)),
        ("Ch 3 counts as a dc throughout.\nRnd 1: ch 3, 11 dc in ring, join", (12,), (True,)),
        ("Ch 2 does not count as a stitch.\nRnd 1: ch 2, 12 hdc in ring, join", (12,), (False,)),
        ("Rnd 1: ch 2 (does not count), 12 hdc in ring, join", (12,), (False,)),
        # Said by the total.
        ("Rnd 1: ch 3, 11 dc in ring, join (12)\nRnd 2: ch 3, 2 dc in each st (24)", (12, 24), (True, False)),
        ("Rnd 1: ch 1, 6 sc in ring, join", (6,), (False,)),
        ("Rnd 1: 6 sc in ring", (6,), (None,)),
    ],
)
def test_whether_a_first_chain_is_counted_is_told(text, totals, chains):
    plan = read_plan(text)
    assert tuple(one.stitches for one in plan.rounds) == totals
    assert tuple(one.chain for one in plan.rounds) == chains
    assert plan.findings == ()


def test_a_first_chain_that_nothing_tells_of_is_asked_about_once():
    text = "Rnd 1: ch 3, 11 dc in ring, join\nRnd 2: ch 3, 2 dc in each st around, join"
    plan = read_plan(text)
    (found,) = plan.findings
    assert (found.kind, found.line) == ("asked", 1) and "Without it Rnd 1 holds 11, with it 12" in found.what
    assert read_plan(text, chain_counts=True).rounds[0].stitches == 12
    assert read_plan(text, chain_counts=False).rounds[0].stitches == 11
    assert not read_plan(text, chain_counts=True).findings and not read_plan(text, chain_counts=False).findings
    # What the text says goes before what is said beside it.
    assert read_plan("Rnd 1: ch 3 (counts as dc), 11 dc in ring", chain_counts=False).rounds[0].stitches == 12


# ------------------------------------------------------------------ nothing is passed over

#: What no round is made of, and the rounds that it is put into, between their steps.
STRAY = ("blub 7", "9 zorps", "V4", "Q3 Q5", "(blub 7)", "{9 foo}", "(8)", "7-9", "8.5", "@3", "= 8", "[x5]")
WHOLE = (
    "(sc 3, inc) x 6|(30)",
    "sc 5, inc, sc 11|, inc, sc 6 (26)",
    "*sc in next 3 sts, inc|; rep from * around (30)",
    "[3 sc, inc] 6 times| [30]",
    "*sc in next 3 sts|, inc; rep from * around (30)",
    "(sc 3|, inc) x 6 (30)",
    "*3 sc|, inc* x 6 (30)",
)


@pytest.mark.parametrize("stray", STRAY)
@pytest.mark.parametrize("whole", WHOLE)
def test_a_number_that_nothing_is_made_of_is_found(whole, stray):
    ahead, behind = whole.split("|")
    assert read_plan(f"R4: [24]\nR5: {ahead}{behind}").findings == ()
    assert read_plan(f"R4: [24]\nR5: {ahead}, {stray} {behind}").findings
    assert read_plan(f"R4: [24]\nR5: {stray}, {ahead}{behind}").findings


def test_two_numbers_of_times_are_found():
    assert read_plan("R4: [24]\nR5: (sc 3, inc) x 6 x 9 (30)").findings
    assert read_plan("R4: [24]\nR5: (sc 3, inc) x 6 (6 times) (30)").findings == ()
    assert read_plan("R4: [24]\nR5: x 6 (30)").findings


@pytest.mark.parametrize("text", ["mr 6, inc 12, (1,inc) 18, (2,inc) 24", "R1: 6 sc in MR, inc x 6 (12)"])
def test_increases_in_a_ring_are_found(text):
    (found,) = read_plan(text).findings
    assert "'inc' can't be read here" in found.what


def test_a_repeat_that_is_left_out_goes_around_all_of_it_or_is_found():
    plan = read_plan("R1: 6 sc in MR\nR2: 6 inc\nR3: sc, inc\nR4: 2 sc, inc\nR5: 3 sc, inc")
    assert [one.stitches for one in plan.rounds] == [6, 12, 18, 24, 30] and plan.findings == ()
    (found,) = read_plan("R1: 6 sc in MR\nR2: 6 inc\nR3: sc, inc\nR4: 2 sc, inc\nR5: 4 sc, inc").findings
    assert found.line == 5 and "5 of the 24" in found.what
    # Where it would go around twice, nobody knows that it was meant.
    assert read_plan("R1: 12 sc in MR\nR2: 5 sc, inc\nR3: 6 sc, inc").findings
    # One such round alone is a slip, and so are counts among instructions.
    assert read_plan("R1: 6 sc in MR\nR2: 6 inc\nR3: sc, inc").findings
    assert read_plan("R1: 6 sc in MR\nR2: 12 sc\nR3: (sc, inc) x 6").findings
