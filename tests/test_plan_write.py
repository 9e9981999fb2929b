"""Plans written out read back as themselves; adjusted rounds land where they should."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from written_rounds import LAST, LATER, LATEST, UK, US

from counter.plan import adjusted_round, read_plan, write_plan


def test_the_clean_form():
    text = "Rnd 4: *2 sc, 2 sc in next st; rep from * 5 more times (24)\n"
    text += "Rnds 5-8: single crochet in each stitch\nRnd 9: (sc2tog, 2 sc) x 6"
    plan = read_plan(text)
    assert write_plan(plan) == "R4: (sc 2, inc) x 6 [24]\nR5-8: sc around [24]\nR9: (dec, sc 2) x 6 [18]\n"
    assert write_plan(plan, uk=True) == "R4: (dc 2, inc) x 6 [24]\nR5-8: dc around [24]\nR9: (dec, dc 2) x 6 [18]\n"
    assert write_plan(read_plan("R1: 6, 12, 18")) == "R1: [6]\nR2: [12]\nR3: [18]\n"
    assert write_plan(read_plan("R2: (sc 2, inc) around")) == "R2: (sc 2, inc) around\n"
    assert write_plan(read_plan("")) == ""


@pytest.mark.parametrize(
    ("row", "uk"),
    [(row, False) for row in (*US, *LATER, *LATEST, *LAST)] + [(row, True) for row in UK],
    ids=lambda value: value.text if hasattr(value, "text") else "uk" if value else "us",
)
def test_the_corpus_survives_the_round_trip(row, uk):
    below = "" if row.below is None else f"R{row.number - 1}: [{row.below}]\n"
    plan = read_plan(below + row.text, uk=uk)
    for terms in (False, True):
        written = write_plan(plan, uk=terms)
        back = read_plan(written, uk=terms)
        assert back == plan and back.findings == ()
        assert write_plan(back, uk=terms) == written


@pytest.mark.parametrize("row", [row for row in (*US, *LATER, *LATEST, *LAST) if row.below], ids=lambda row: row.text)
def test_a_total_or_a_round_below_that_is_one_off_is_found(row):
    one = read_plan(f"R{row.number - 1}: [{row.below}]\n{row.text}").round(row.number)
    if not one.text:  # a bare total can't be checked
        return
    for off in (-1, 1):
        if "ch 1" in one.text and off > 0:
            continue  # with the chain counted that is another good reading
        wrong = read_plan(f"R1: [{row.below}]\nR2: {one.text} [{row.made + off}]")
        assert [finding.line for finding in wrong.findings] == [2]
        if "around" not in one.text and "evenly" not in one.text:
            wrong = read_plan(f"R1: [{row.below + off}]\nR2: {one.text} [{row.made}]")
            assert [finding.line for finding in wrong.findings] == [2]


def test_what_was_found_is_found_again():
    plan = read_plan("R3: [18]\nR4: (sc 2, inc) x 6 [25]\nR5: floof 3 [24]\nR6: (sc 2, inc [24]\nR7: sc around")
    for uk in (False, True):
        back = read_plan(write_plan(plan, uk=uk), uk=uk)
        assert back == plan
        assert [finding.what for finding in back.findings] == [finding.what for finding in plan.findings]


@st.composite
def plans(draw):
    """A random plan in the clean form, with the totals and stitches used that it was built with."""
    stitch = draw(st.sampled_from(["sc", "hdc", "dc", "tr"]))
    own = "" if stitch == "sc" else f"{stitch} "
    inc, dec = f"{own}inc", "dec" if stitch == "sc" else f"{stitch}2tog"
    first = draw(st.integers(3, 16))
    number = draw(st.integers(1, 40))
    lines, totals, used = [f"R{number}: {first} {stitch} in ring [{first}]"], [first], [0]
    for _ in range(draw(st.integers(0, 8))):
        number, below = number + 1, totals[-1]
        parts, left, made = [], below, 0
        while left:
            kind = draw(st.sampled_from(["plain", "inc", "dec", "three", "repeat", "skip", "double"]))
            if kind == "plain":
                many = draw(st.integers(1, left))
                parts.append(f"{stitch} {many}")
                left, made = left - many, made + many
            elif kind == "inc":
                many = draw(st.integers(1, min(left, 4)))
                parts.append(f"{inc} x {many}")
                left, made = left - many, made + 2 * many
            elif kind == "three":
                parts.append(f"3 {stitch} in next st")
                left, made = left - 1, made + 3
            elif kind == "dec" and left > 1:
                parts.append(dec)
                left, made = left - 2, made + 1
            elif kind == "skip" and left > 1:
                parts.append(f"sk 1, {stitch} 1")
                left, made = left - 2, made + 1
            elif kind in ("repeat", "double") and left > 4:
                plain = draw(st.integers(1, left // 2 - 1))
                times = draw(st.integers(2, left // (plain + 1)))
                shaped, adds = (inc, 2) if kind == "repeat" else (f"({inc}, {dec}) x 1", 3)
                takes = 1 if kind == "repeat" else 3
                if (plain + takes) * times > left:
                    continue
                parts.append(f"({stitch} {plain}, {shaped}) x {times}")
                left, made = left - (plain + takes) * times, made + (plain + adds) * times
        if made > 300 or made < 1:
            number -= 1
            break
        lines.append(f"R{number}: {', '.join(parts)} [{made}]")
        totals.append(made)
        used.append(below)
    return "\n".join(lines), totals, used


@settings(max_examples=200)
@given(plans())
def test_random_plans_chain_and_survive_the_round_trip(drawn):
    text, totals, used = drawn
    plan = read_plan(text)
    assert plan.findings == ()
    assert [one.stitches for one in plan.rounds] == totals
    assert [one.used for one in plan.rounds] == used
    for below, one in zip(plan.rounds, plan.rounds[1:], strict=False):
        assert one.used == below.stitches
        if "sk" not in one.text:
            gained = sum(shaping.stitches - 1 for shaping in one.increases)
            lost = sum(shaping.stitches - 1 for shaping in one.decreases)
            assert one.stitches == one.used + gained - lost
    for uk in (False, True):
        assert read_plan(write_plan(plan, uk=uk), uk=uk) == plan
    # Totals that aren't written down are worked out.
    silent = "\n".join(line.partition(" [")[0] for line in text.splitlines())
    assert read_plan(silent) == plan


def target(below, text):
    return read_plan(f"R4: [{below}]\nR5: {text}").round(5)


@pytest.mark.parametrize(
    ("below", "text", "have", "expected"),
    [
        (24, "sc around", 23, "sc 11, inc, sc 11"),
        (24, "sc around", 25, "sc 11, dec, sc 12"),
        (24, "(sc 3, inc) x 6", 24, "(sc 3, inc) x 6"),
        (24, "(sc 3, inc) x 6", 25, "(sc 3, inc) x 3, sc 8, inc, sc 3, inc"),
        (12, "dec x 6", 11, "dec x 3, sc 1, dec x 2"),
        (12, "dec x 6", 13, "dec x 3, sc3tog, dec x 2"),
        (12, "dc around", 11, "dc 5, dc inc, dc 5"),
        (24, "[24]", 23, "sc 11, inc, sc 11"),
    ],
)
def test_a_round_is_adjusted(below, text, have, expected):
    assert adjusted_round(have, target(below, text)) == expected


def test_an_increase_round_worked_into_one_stitch_fewer_keeps_most_of_its_repeat():
    # From 23 to 30 takes 7 increases; four of the six written repeats stand as they were.
    text = adjusted_round(23, target(24, "(sc 3, inc) x 6 [30]"))
    assert text == "sc 2, inc, (sc 3, inc) x 2, (sc 1, inc) x 2, (sc 3, inc) x 2"


@settings(max_examples=150)
@given(plans(), st.integers(-15, 15))
def test_an_adjusted_round_lands_on_its_total(drawn, off):
    plan = read_plan(drawn[0])
    for one in plan.rounds[1:]:
        have = one.used + off
        text = adjusted_round(have, one)
        if text is None:
            assert (
                have < 1
                or have * 2 < one.stitches
                or have > 2 * one.stitches
                or "3 " in one.text
                or "sk" in one.text
                or off
            )
            continue
        back = read_plan(f"R1: {have}\nR2: {text}")
        assert back.findings == ()
        assert (back.round(2).used, back.round(2).stitches) == (have, one.stitches)


@pytest.mark.parametrize("off", range(-6, 7))
def test_every_small_slip_in_a_common_round_can_be_made_good(off):
    for below, text in (
        (24, "(sc 3, inc) x 6"),
        (24, "sc around"),
        (24, "(sc 2, dec) x 6"),
        (30, "inc 6 evenly"),
        (36, "[42]"),
    ):
        one = target(below, text)
        written = adjusted_round(below + off, one)
        back = read_plan(f"R1: {below + off}\nR2: {written}").round(2)
        assert (back.used, back.stitches) == (below + off, one.stitches)


def test_what_cannot_be_adjusted_is_none():
    assert adjusted_round(11, target(12, "inc x 12")) is None  # each stitch is increased already
    assert adjusted_round(100, target(24, "sc around")) is None
    assert adjusted_round(0, target(24, "sc around")) is None
    assert adjusted_round(23, target(24, "floof 24 [24]")) is None
    assert adjusted_round(5, read_plan("R1: 6 sc in ring").round(1)) is None
    assert adjusted_round(23, read_plan("R5: (sc 2, inc) around").round(5)) is None


@pytest.mark.parametrize(("have", "text"), [(22, "sc 5, inc, sc 10, inc, sc 5"), (26, "sc 5, dec, sc 11, dec, sc 6")])
def test_what_is_made_up_for_stands_opposite_each_other(have, text):
    assert adjusted_round(have, target(24, "sc around")) == text
