"""Texts that want to break the reader: each gets an answer, and one clear finding."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counter.plan import plan_data, read_plan, write_plan


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "No round was found"),
        ("   \n\t\n", "No round was found"),
        ("hello", "No round was found"),
        ("R²: sc ²", "No round was found"),  # isdigit() is true of ², int() fails
        ("#@ " * 13_000, "No round was found"),
        ("(" * 10_000 + "sc" + ")" * 10_000, "More than 20 brackets"),
        ("R1: " + "[" * 21 + "sc", "More than 20 brackets"),
        ("x" * 1_000_000, "The text is too long: 1,000,000 characters."),
        ("sc, inc; " * 120_000, "The text is too long"),
        ("R1: 6 sc\0", "This isn't text"),
        ("\0" * 1000, "This isn't text"),
        ("R1: (sc 2, inc) x 999999999", "999999999 is more than a round can hold."),
        ("R1: sc " + "9" * 30_000, "is more than a round can hold."),
        ("R1: " + "(" * 19 + "sc 9" + ") x 9999" * 19, "stitches."),
        ("R1: (sc, inc) x 10000", "That makes 30000 stitches."),
        ("R" + "9" * 30_000 + ": sc", "too high a number"),
        ("R1-9999999999: sc", "too high a number"),
        ("1 " * 19_000, "too many totals"),
        ("6 x 999999999", "too many totals"),
        ("R1: " + "sc, " * 3_000, "too long to be read"),
        ("R1: " + "sc, " * 9_000, "too long to be worked out"),
        ("R1: sc" + ", rep from * around" * 40, "Too many repeats"),
        ("R1: " + "(sc)" * 9_000, "too long"),
        ("R1: 10000\n" + "".join(f"R{k}: sc around\n" for k in range(2, 1000)), "too long to be worked out"),
        ("R1: 10000\nR2-1000: sc around", "too long to be worked out"),
        (
            "R1-1000: " + "ch 3, 3 dc in next 3 sts, sc inc, 2 dc around, sl st, " * 60 + "(77)",
            "too long to be worked out",
        ),
    ],
    ids=lambda value: value[:24].replace("\0", "NUL"),
)
def test_hostile_text_gets_one_clear_finding(text, what):
    plan = read_plan(text)
    assert len(plan.findings) == 1
    finding = plan.findings[0]
    assert what in finding.what and finding.fix
    assert finding.line >= 1 and finding.column >= 1
    assert len(finding.what) < 120 and len(finding.fix) < 120
    assert finding.what.isprintable() and finding.fix.isprintable()


def test_a_text_full_of_errors_ends_with_a_last_finding():
    plan = read_plan("R1: floof\n" * 3_000)
    assert len(plan.findings) == 51 and "more" in plan.findings[-1].what


def test_limits_are_taken_in():
    assert read_plan("R1: sc 10000").round(1).stitches == 10_000
    assert len(read_plan("R1-1000: sc 6").rounds) == 1000
    deep = "(" * 20 + "sc" + ")" * 20
    assert read_plan(f"R1: {deep} x 6 [6]").round(1).stitches == 6
    assert read_plan("sc " + " " * 39_000).findings


@pytest.mark.parametrize(
    "text",
    [
        "R１: ６ sc in ring （６）",  # full-width digits and brackets
        "R1: ٦ sc in ring [٦]",  # Arabic digits
        "R1: 6\u00a0sc in\u2009ring (6)",
        "\ufeffR1: 6 sc in ring\u200b (6)\r\n",
        "R1: 6 sc in ring (6)\r",
        "\u202eR1: 6 sc in ring (6)",
        "\ud800 R1: 6 sc in ring (6)",
        "R1\v: 6 sc in ring (6)",
        "R1 — 6 sc in ring — 6",
    ],
)
def test_odd_signs_do_no_harm(text):
    assert [one.stitches for one in read_plan(text).rounds] == [6]


def test_columns_are_those_of_the_text():
    text = "“A title”\r\n•\u00a0R4: (sc 2, inc × 6 [24]"
    (finding,) = read_plan(text).findings
    line = text.split("\r\n")[finding.line - 1]
    assert line[finding.column - 1] == "("


WORDS = st.sampled_from(
    [
        "R1",
        "Rnd",
        "2:",
        "3)",
        "sc",
        "inc",
        "dec",
        "hdc",
        "dc2tog",
        "sc3tog",
        "sl",
        "st",
        "ch",
        "3",
        "counts",
        "as",
        "not",
        "in",
        "next",
        "each",
        "sts",
        "same",
        "ring",
        "magic",
        "around",
        "to",
        "last",
        "x",
        "6",
        "times",
        "*",
        "**",
        ";",
        ",",
        ".",
        "(",
        ")",
        "[",
        "]",
        "{",
        "}",
        "<",
        ">",
        "=",
        "-",
        "repeat",
        "rep",
        "from",
        "between",
        "more",
        "even",
        "evenly",
        "turn",
        "join",
        "BLO",
        "htr",
        "miss",
        "sk",
        "every",
        "other",
        "2nd",
        "total",
        "\n",
        "24",
        "0",
        "10000",
        "floof",
        "with",
        "A",
        "start",
        "add",
        "+",
        "for",
        "rounds",
        "row",
        "fasten",
        "off",
        "unworked",
        "tog",
        "mc",
        "/",
        "|",
        "->",
        "'",
        "²",
        "½",
        "é",
    ]
)


@settings(max_examples=300)
@given(st.lists(WORDS, max_size=40).map(" ".join), st.booleans())
def test_any_words_get_an_answer(text, uk):
    plan = read_plan(text, uk=uk)
    plan_data(plan)
    assert plan.rounds or plan.findings
    for one in plan.rounds:
        assert one.stitches is None or 1 <= one.stitches <= 10_000
        assert one.used is None or 0 <= one.used <= 10_000
        assert all(1 <= shaping.at <= one.stitches for shaping in (*one.increases, *one.decreases))
    read_plan(write_plan(plan))


@settings(max_examples=200)
@given(st.text(max_size=200))
def test_any_text_gets_an_answer(text):
    plan = read_plan(text)
    assert plan.rounds or plan.findings
    lines = text.count("\n") + text.count("\r") + sum(text.count(sign) for sign in "\u2028\u2029\x85") + 1
    assert all(1 <= finding.line <= lines for finding in plan.findings)


@pytest.mark.parametrize(
    "text", ["R1: sc, inc", "R2: ( sc inc", "R1: *", "R2: [", "R5: +six", "R4:\nR5: +6", "R1: sc (\nR2: inc )"]
)
def test_a_round_that_breaks_off_is_no_trouble(text):
    assert isinstance(read_plan(text).findings, tuple)
    assert isinstance(read_plan(f"R1: 6 sc in ring (6)\n{text}").findings, tuple)
