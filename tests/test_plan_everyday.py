"""Patterns as people write them: totals, round trips, and what becomes of every line."""

import re

import pytest
from blind_rounds import BLIND
from everyday_rounds import EVERYDAY
from written_rounds import LAST, LATER, LATEST, PROSE, UK, US
from wrong_patterns import WRONG

from counter.basics import words
from counter.plan import read_plan, write_plan
from counter.plan.habits import HOW_OFTEN, LEFT_OUT
from counter.plan.normalise import normalise
from counter.plan.reworded import Reworded
from counter.plan.tokens import words_of
from counter.plan.wording import RULES

_LABEL = re.compile(r"\b(?:r|rnds?|rds?|rounds?)[ ./:-]*(?:no\. )?(\d+)", re.IGNORECASE)


def with_below(row):
    """The text of a row above the total of the round below, and how it is read."""
    number, below, text, totals = row[:4]
    how = row[4] if len(row) > 4 else {}
    label = _LABEL.search(text)
    if re.match(r"\W*\d+(?:th|\. Rd|\. -)", text):
        label = re.match(r"\W*(\d+)", text)
    number = int(label[1]) if label else number + ("hirteen" in text or "#13" in text)
    return ("" if below is None else f"R{number - 1}: [{below}]\n") + text, totals, how, below is not None


ALL = [pytest.param(*with_below(row), id=row[2][:60]) for row in EVERYDAY]


@pytest.mark.parametrize(("text", "totals", "how", "first"), ALL)
def test_everyday_rounds_come_to_what_was_worked_out_by_hand(text, totals, how, first):
    plan = read_plan(text, **how)
    assert tuple(one.stitches for one in plan.rounds)[first:] == totals
    assert plan.findings == ()


@pytest.mark.parametrize(("text", "totals", "how", "first"), ALL)
def test_everyday_rounds_are_the_same_written_out_and_read_again(text, totals, how, first):
    plan = read_plan(text, **how)
    for uk in (False, True):
        written = write_plan(plan, uk=uk)
        back = read_plan(written, uk=uk)
        assert back == plan and back.findings == ()
        assert write_plan(back, uk=uk) == written


TEXTS = [param.values[0] for param in ALL] + [
    *(row.text for row in (*US, *LATER, *LATEST, *LAST, *UK)),
    *PROSE,
    *(f"R1: 6 sc in ring (6)\n{line}\nR2: inc x 6 (12)" for line in PROSE),
]


@pytest.mark.parametrize("text", TEXTS, ids=lambda text: text[:60])
def test_every_line_ends_as_a_round_a_named_remark_or_a_finding(text):
    plan = read_plan(text)
    if not plan.rounds and len(plan.lines) == 0:
        assert plan.findings  # nothing but signs
        return
    lines = {number for number, line in enumerate(text.split("\n"), 1) if re.search(r"\w", line)}
    assert lines <= {line.line for line in plan.lines}
    found = {finding.line for finding in plan.findings}
    numbers = {one.round for piece in plan.pieces for one in piece.rounds}
    for line in plan.lines:
        if line.what == "round":
            assert line.rounds and set(line.rounds) <= numbers
        elif line.what == "remark":
            assert line.remark in words.REMARKS
        else:
            assert line.what == "finding" and found
    assert {number for line in plan.lines for number in line.rounds} == numbers


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_each_habit_of_writing_has_an_example(rule):
    text = Reworded(rule.example)
    text.apply(rule.pattern, rule.said)
    assert text.text == rule.becomes
    assert [text.origin(at) for at in range(len(text.text))] == sorted(text.origin(at) for at in range(len(text.text)))


@pytest.mark.parametrize("row", BLIND, ids=[row[2][:60] for row in BLIND])
def test_rounds_of_the_blind_sets_are_read_written_and_read_again(row):
    number, below, text, totals = row[:4]
    how = row[4] if len(row) > 4 else {}
    full = ("" if below is None else f"R{number - 1}: [{below}]\n") + text
    plan = read_plan(full, **how)
    rounds = plan.rounds[below is not None :]
    assert tuple(one.stitches for one in rounds) == totals
    assert tuple(one.round for one in rounds) == tuple(range(number, number + len(totals)))
    assert plan.findings == ()
    lines = {at for at, line in enumerate(full.split("\n"), 1) if re.search(r"\w", line)}
    assert lines <= {line.line for line in plan.lines}
    for uk in (False, True):
        written = write_plan(plan, uk=uk)
        back = read_plan(written, uk=uk)
        assert back.rounds == plan.rounds and back.findings == ()
        assert write_plan(back, uk=uk) == written


@pytest.mark.parametrize("row", WRONG, ids=[row[0][-60:] for row in WRONG])
def test_one_slip_is_one_finding_on_its_line_with_the_right_mend_first(row):
    text, line, says, *how = row
    (finding,) = read_plan(text, **(how[0] if how else {})).findings
    assert finding.line == line
    assert any(part in finding.fix for part in says)


@pytest.mark.parametrize(
    "habit",
    [habit for table in (HOW_OFTEN, LEFT_OUT) for habits in table.values() for habit in habits],
    ids=lambda habit: habit.example,
)
def test_each_habit_reads_its_example_as_plain_words(habit):
    said, plain = (
        [(token.type, str(token).lower()) for token in normalise(words_of(text)).tokens if token.type != "SEP"]
        for text in (habit.example, habit.becomes)
    )
    below = "R4: [24]\nR5: "
    assert said == plain or read_plan(below + habit.example) == read_plan(below + habit.becomes)
