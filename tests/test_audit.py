import json
import re
import shutil
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from scipy.optimize import linprog
from scipy.stats import mannwhitneyu

from counter.basics.answer import Refusal
from counter.evaluation import evaluate as room
from counter.evaluation.answered import totals_answered
from counter.evaluation.evaluate import MEASURES, Evaluation, evaluate, measures, risk_coverage_area
from counter.evaluation.places import NEAR_MARK_STITCHES, match_marks, overlap, share_followed, true_outline
from counter.evaluation.tables import as_table, side_by_side, worst
from counter.evaluation.truth import Truth, read_truth

SAMPLES = Path(__file__).parents[1] / "sample_images"


NOWHERE = np.empty((0, 2))


def truth(marks, hidden=(), rim=NOWHERE):
    return Truth(len(marks), None, None, np.array(marks, float), hidden, np.array(rim), None, None, None, ())


# --- outline ---


def ring(radius, turns):
    at = np.asarray(turns) * 2 * np.pi
    return 300 + np.column_stack([radius * np.sin(at), -radius * np.cos(at)])


def test_outline_must_lie_right_at_every_seen_stitch():
    count, radius = 24, 200.0
    width = 2 * radius * np.sin(np.pi / count)
    known = truth(ring(radius, np.arange(count) / count))
    outline = ring(radius + 0.35 * width, np.linspace(0, 1, 360, endpoint=False))
    assert share_followed(outline, known) == 1
    for off in (-0.7, -0.45, 0.45, 0.7):
        assert share_followed(ring(radius + (0.35 + off) * width, np.linspace(0, 1, 360, endpoint=False)), known) == 0
    dented = outline.copy()
    dented[85:96] = ring(radius - 0.5 * width, np.linspace(85, 95, 11) / 360)
    assert share_followed(dented, known) == pytest.approx(23 / 24)
    # What is hidden is not asked about.
    assert share_followed(dented, truth(ring(radius, np.arange(count) / count), hidden=(5, 6, 7))) == 1
    assert share_followed(dented, truth(ring(radius, np.arange(count) / count), hidden=range(count))) is None


def test_overlap_of_circles():
    # Outside check: two circles of one radius, their centres one radius apart, share (2 pi / 3 - sqrt(3) / 2) r^2
    # (the area of a lens, any collection of formulas).
    one = ring(200.0, np.linspace(0, 1, 720, endpoint=False))
    lens = 2 * np.pi / 3 - np.sqrt(3) / 2
    assert overlap(one, one + [200.0, 0]) == pytest.approx(lens / (2 * np.pi - lens), abs=0.005)
    assert overlap(one, one) == 1
    assert overlap(one, one + [500.0, 0]) == 0
    assert overlap(one, 300 + (one - 300) * 0.9) == pytest.approx(0.81, abs=0.005)


@pytest.mark.parametrize("count", [6, 12, 60])
def test_the_outline_of_a_disc_is_drawn_from_its_marks(count):
    width = 2 * 200.0 * np.sin(np.pi / count)
    outline = ring(200.0 + 0.35 * width, np.linspace(0, 1, 720, endpoint=False))
    drawn = true_outline(truth(ring(200.0, np.arange(count) / count)))
    assert overlap(drawn, outline) > 0.985
    told = true_outline(truth(ring(200.0, np.arange(count) / count), rim=ring(230.0, np.arange(count) / count)))
    assert overlap(told, ring(230.0, np.linspace(0, 1, 720, endpoint=False))) > 0.985
    assert true_outline(truth(SQUARE[:2])) is None


# --- marks ---

SQUARE = [(0, 0), (100, 0), (100, 100), (0, 100)]


@pytest.mark.parametrize(
    "found, hidden, wanted",
    [
        (SQUARE, (), (4, 0, 0)),
        ([(30, 0), (100, 40), (100, 100)], (), (2, 1, 2)),  # 40 is more than 0.35 of 100
        ([(0, 0), (5, 0)], (), (1, 1, 3)),  # one mark can't serve two stitches
        ([(0, 0), (100, 0), (100, 100)], (3,), (3, 0, 0)),  # a hidden stitch is not missed
        (SQUARE, (3,), (3, 0, 0)),  # nor is a mark on it false
        (SQUARE, (0, 1, 2, 3), (0, 0, 0)),
        ([(500, 500)], (), (0, 1, 4)),
    ],
)
def test_matching_by_hand(found, hidden, wanted):
    assert match_marks(np.array(found, float), truth(SQUARE, hidden)) == wanted


def test_one_mark_between_a_seen_and_a_hidden_stitch_goes_to_the_seen_one():
    # Stitches 10 apart but for two that crowd; usual width 10, so 3.5 is near enough.
    marks = [(0, 0), (4, 0), (14, 0), (24, 0), (34, 0), (44, 0)]
    assert match_marks(np.array([(1.0, 0)]), truth(marks, (0,))) == (1, 0, 4)


@settings(max_examples=40)
@given(
    found=st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=1, max_size=7),
    marks=st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=3, max_size=7, unique=True),
)
def test_matching_matches_as_many_as_possible(found, marks):
    # Outside check: maximum matching of a bipartite graph as a linear program (its vertices are whole).
    known = truth(marks)
    width = np.median(np.linalg.norm(np.roll(known.marks, -1, axis=0) - known.marks, axis=1))
    near = np.linalg.norm(np.array(found)[:, None] - known.marks, axis=2) <= NEAR_MARK_STITCHES * width
    each = np.vstack([np.kron(np.eye(len(found)), np.ones(len(marks))), np.tile(np.eye(len(marks)), len(found))])
    best = -linprog(-near.ravel().astype(float), A_ub=each, b_ub=np.ones(len(each)), bounds=(0, 1)).fun
    right, false, missed = match_marks(np.array(found, float), known)
    assert right == round(best)
    assert (false, missed) == (len(found) - right, len(marks) - right)


# --- risk and coverage ---


def test_risk_coverage_area_by_hand():
    # Right, wrong, right, wrong in order of confidence: risks 0, 0, 1/4, 1/4, 2/4.
    area = risk_coverage_area([True, False, True, False], [0.9, 0.8, 0.7, 0.6])
    assert area == pytest.approx((0 + 1 / 8 + 1 / 4 + 3 / 8) / 4)
    assert risk_coverage_area([True] * 5, range(5)) == 0
    assert risk_coverage_area([False] * 5, range(5)) == 0.5
    assert risk_coverage_area([True, False], [0.5, 0.5]) == risk_coverage_area([False, True], [0.5, 0.5]) == 0.25


@given(st.lists(st.tuples(st.booleans(), st.integers(0, 6)), min_size=2, max_size=60))
def test_risk_coverage_area_against_the_rank_statistic(answers):
    # J. Traub et al. 2024 (from memory): area = (1 - AUROC of right against wrong) * accuracy * (1 - accuracy)
    # + (1 - accuracy) ** 2 / 2. The AUROC is scipy's Mann-Whitney statistic over the number of pairs.
    right = np.array([r for r, _ in answers])
    confidence = np.array([c for _, c in answers], float)
    accuracy = right.mean()
    ranked = 1.0
    if 0 < accuracy < 1:
        ranked = mannwhitneyu(confidence[right], confidence[~right], method="asymptotic").statistic / (
            right.sum() * (~right).sum()
        )
    wanted = (1 - ranked) * accuracy * (1 - accuracy) + (1 - accuracy) ** 2 / 2
    assert risk_coverage_area(right, confidence) == pytest.approx(wanted)


# --- measures, worked by hand ---


def row(true, stitches, state="not sure", probability=0.5, refuse=None, **more):
    base = {"photo": "x", "tags": [], "true_rounds": 4, "rounds": 4, "marks": None, "rim_followed": None}
    base |= {"centre_error": None, "seconds": 1.0, "look": "ours", "overlap": None, "true_progress": None}
    base |= {"progress": None, "after_answers": None}
    base |= {"likely": [stitches], "reason": "", "true": true, "stitches": stitches, "state": state}
    return base | {"probability": probability, "refuse": refuse} | more


def test_measures_by_hand():
    rows = [
        row(
            24,
            24,
            "sure",
            0.99,
            marks={"right": 24, "false": 0, "missed": 0},
            centre_error=0.02,
            rim_followed=1.0,
            overlap=0.96,
            after_answers=[24],
            seconds=1.0,
        ),
        row(
            24,
            25,
            "sure",
            0.98,
            marks={"right": 20, "false": 5, "missed": 4},
            centre_error=0.04,
            rim_followed=0.96,
            overlap=0.9,
            after_answers=[25, 25, 25, 24],
            seconds=2.0,
        ),
        row(
            30,
            28,
            probability=0.5,
            likely=[28, 30],
            rounds=5,
            true_progress=[5, 25],
            progress=[4, 24],
            after_answers=[28, 29, 30, 31],
            overlap=0.5,
        ),
        row(12, None, "refused", None, likely=[], rounds=None),
        row(36, None, "crashed", None, likely=[], rounds=None),
        row(None, None, "refused", None, refuse="no piece", true_rounds=None, rounds=None),
        row(None, 40, "sure", 0.97, refuse="a plate", true_rounds=None),
        row(18, 18, probability=0.6, true_rounds=None, seconds=10.0, true_progress=[8, 10], progress=[8, 10]),
    ]
    got = measures(rows)
    assert list(got) == list(MEASURES)
    assert got["photos"] == 8 and got["crashed"] == 1
    assert got["answered"] == pytest.approx(4 / 6)
    assert got["exact of answered"] == pytest.approx(2 / 4)
    assert got["best guess exact"] == pytest.approx(2 / 6)
    assert got["within one"] == pytest.approx(3 / 6)
    assert got["among likely"] == pytest.approx(3 / 4)
    assert got["sure"] == pytest.approx(2 / 6)
    assert got["exact of sure"] == pytest.approx(1 / 3)
    assert got["wrong while sure"] == pytest.approx(2 / 8)
    assert got["mean absolute error"] == pytest.approx(3 / 4)
    assert got["bias"] == pytest.approx(-1 / 4)
    assert got["rounds exact"] == pytest.approx(2 / 3)
    assert got["refusals right"] == pytest.approx(1 / 2)
    assert got["mark precision"] == pytest.approx(44 / 49)
    assert got["mark recall"] == pytest.approx(44 / 48)
    assert got["rim followed"] == pytest.approx(1 / 2) and got["rim mostly followed"] == 1
    assert got["found"] == pytest.approx(2 / 3) and got["outlined closely"] == pytest.approx(1 / 3)
    assert got["outline overlap"] == 0.9
    # Sure and right, wrong until the third answer, right with the second, refused, broken.
    assert got["right after two answers"] == pytest.approx(2 / 5)
    assert got["in progress seen"] == 1 and got["made and left exact"] == pytest.approx(1 / 2)
    assert got["whole taken for open"] == 0
    assert got["centre error"] == pytest.approx(0.03)
    # By confidence: right, wrong, wrong (a plate), right, wrong; risks 0, 0, 1/5, 2/5, 2/5, 3/5.
    assert got["risk-coverage area"] == pytest.approx((0 + 0.1 + 0.3 + 0.4 + 0.5) / 5)
    assert got["median seconds"] == 1.0 and 2 < got["95% seconds"] < 10
    assert got["peak memory"] > 10


def test_what_can_not_be_measured_is_none():
    got = measures([row(None, None, "refused", None, refuse="no piece", true_rounds=None)])
    assert got["answered"] is None and got["bias"] is None and got["risk-coverage area"] is None
    assert got["refusals right"] == 1.0 and got["wrong while sure"] == 0.0


def test_the_worst_are_named_worst_first():
    rows = [
        row(24, 25, "sure", 0.98, photo="a.jpg", overlap=0.9, rim_followed=0.5, after_answers=[25]),
        row(24, 30, probability=0.4, photo="b.jpg", overlap=0.4, rim_followed=1.0, rounds=6, after_answers=[30, 29]),
        row(24, 22, probability=0.7, photo="c.jpg", overlap=0.6, rim_followed=0.2, after_answers=[22, 23, 24]),
        row(24, None, "refused", None, photo="d.jpg", overlap=0.0, rounds=None),
        row(None, 40, "not sure", 0.3, refuse="a plate", photo="e.jpg", true_rounds=None),
    ]
    assert worst(rows) == {
        "wrong while sure": ["a 25 for 24 at 0.98"],
        "wrong and nearly sure": ["c 22 for 24 at 0.70", "b 30 for 24 at 0.40"],
        "furthest off": ["b 30 for 24", "c 22 for 24", "a 25 for 24"],
        "wrong after all answers": ["b 29 for 24", "a 25 for 24"],
        "outline": ["d 0.00", "b 0.40", "c 0.60"],
        "rim": ["c 20%", "a 50%"],
        "rounds": ["b 6 for 4"],
        "refused with a piece": ["d"],
        "counted without one": ["e 40, not sure"],
    }
    assert worst(rows, most=1)["outline"] == ["d 0.00"]


def test_folders_and_looks_stand_side_by_side():
    ours = [row(24, 24, tags=["easy"]), row(24, 23, tags=["hard", "hook"])]
    theirs = [row(12, 12, tags=["easy"], look="theirs"), row(12, 12, tags=["easy"], look="third")]
    table = side_by_side({"dev": Evaluation(ours, {}, ()), "others": Evaluation(theirs, {}, ("x.jpg",))})
    lines = [line.split() for line in table.splitlines()]
    assert lines[0] == ["dev", "others:", "theirs", "others:", "third"]
    assert ["best", "guess", "exact", "50.0%", "100.0%", "100.0%"] in lines
    easy = lines.index(["easy", *lines[0]])
    assert lines[easy + 1] == ["photos", "1", "1", "1"]
    hard = lines.index(["hard", *lines[0]])
    assert lines[hard + 1] == ["photos", "1", "-", "-"]
    assert ["hook", "0.0%/1", "-", "-"] in lines
    assert "furthest off: x 23 for 24" in table and "x.jpg" in table


# --- a person answers ---


def asked(make_count, kinds, at, marks):
    """A count of some marks with doubts of some kinds at some places."""
    doubts = tuple((1, tuple(place), "", kind) for kind, place in zip(kinds, at, strict=True))
    total = len(marks)
    return make_count(
        {total - 1: 0.2, total: 0.6, total + 1: 0.2}, sure=False, doubts=doubts, marks=marks, size=(600, 600)
    )


def test_answers_put_right_what_lies_where_they_are_asked(make_count):
    marks = ring(200.0, np.arange(24) / 24)
    known = truth(marks)
    one_missing = np.delete(marks, 5, axis=0)
    where = marks[5]
    assert totals_answered(asked(make_count, ["two"], [where], one_missing), known) == (23, 24)
    # "end" can only take a stitch away; the place is left as it is.
    assert totals_answered(asked(make_count, ["end"], [where], one_missing), known) == (23, 23)
    # Asked on the other side of the round.
    assert totals_answered(asked(make_count, ["two", "two"], [marks[17], where], one_missing), known) == (23, 23, 24)
    # Asked twice within sight: put right once.
    assert totals_answered(asked(make_count, ["two", "two"], [where, marks[6]], one_missing), known) == (23, 24, 24)
    twice = np.vstack([marks, 300 + (where - 300) * 1.01, 300 + (marks[17] - 300) * 1.01])
    assert totals_answered(asked(make_count, ["end", "end"], [where, marks[17]], twice), known) == (26, 25, 24)
    assert totals_answered(asked(make_count, [], [], marks), known) == (24,)
    # A mark that stands a little aside is neither one too many nor a stitch that is missing.
    aside = marks.copy()
    aside[5] = ring(200.0, [5.7 / 24])[0]
    for at in ring(200.0, np.array([3.0, 7.9]) / 24):
        assert totals_answered(asked(make_count, ["wide"], [at], aside), known) == (24, 24)


# --- a folder ---


@pytest.fixture
def folder(tmp_path):
    """Four photos: two rounds, a bare table and one that breaks the program; another file of each kind."""
    for name, stitches, refuse, tags in (
        ("a", 24, None, ["easy"]),
        ("b", 24, None, ["hard", "tilt"]),
        ("c", None, "no piece", ["negative"]),
        ("d", 24, None, ["hard"]),
    ):
        Image.new("RGB", (300, 300)).save(tmp_path / f"{name}.png")
        turn = -(np.arange(24) + 0.5) / 24 * 2 * np.pi
        marks = (320 + 200 * np.column_stack([np.sin(turn), -np.cos(turn)])).tolist() if stitches else []
        known = {"stitches": stitches, "rounds": 4, "marks": marks, "centre": stitches and [320, 324], "increases": []}
        (tmp_path / f"{name}.json").write_text(
            json.dumps(known | {"refuse": refuse, "tags": tags, "in_progress": None})
        )
    Image.new("RGB", (300, 300)).save(tmp_path / "unknown.jpg")
    (tmp_path / "notes.json").write_text('{"made": "on Tuesday"}')
    return tmp_path


@pytest.fixture
def counted(monkeypatch, make_count):
    """Answers by the photo's name, in place of a count."""
    answers = {"a.png": make_count({24: 0.99, 23: 0.01}), "b.png": make_count({23: 0.6, 24: 0.4}, sure=False)}
    answers |= {"c.png": Refusal("no piece")}

    def fake(path):
        if path.name == "d.png":
            raise RuntimeError("out of yarn")
        return SimpleNamespace(answer=answers[path.name])

    monkeypatch.setattr(room, "examine", fake)


def test_evaluate(folder, counted):
    told = []
    result = evaluate(folder, lambda *args: told.append(args))
    assert told == [(0, 4, "a.png"), (1, 4, "b.png"), (2, 4, "c.png"), (3, 4, "d.png")]
    assert result.left_out == ("unknown.jpg",)
    assert list(result.summary) == ["overall", "easy", "hard", "negative", "tilt"]
    overall = result.summary["overall"]
    assert (overall["photos"], overall["crashed"], overall["refusals right"]) == (4, 1, 1.0)
    assert overall["best guess exact"] == pytest.approx(1 / 3) and overall["within one"] == pytest.approx(2 / 3)
    a, b, c, d = result.rows
    assert a["marks"] == {"right": 24, "false": 0, "missed": 0}
    assert a["centre_error"] == pytest.approx(4 / 200)
    assert b["likely"] == [23, 24] and b["marks"]["false"] > 0
    assert c["state"] == "refused" and c["reason"]
    assert d["state"] == "crashed" and d["reason"].startswith("RuntimeError in test_audit.py, line")
    json.dumps(result.rows, allow_nan=False)


def test_table(folder, counted):
    table = as_table(evaluate(folder))
    assert re.search("best guess exact +33.3%", table) and "unknown.jpg" in table
    assert "Crashed on d.png: RuntimeError" in table
    assert [line.split()[:2] for line in table.splitlines() if line.startswith(("easy", "hard"))] == [
        ["easy", "1"],
        ["hard", "2"],
    ]


def test_evaluate_counts_in_earnest(tmp_path):
    for ending in ("jpg", "json"):
        shutil.copy(SAMPLES / f"blue-disc.{ending}", tmp_path)
    overall = evaluate(tmp_path).summary["overall"]
    assert (overall["best guess exact"], overall["rounds exact"], overall["crashed"]) == (1.0, 1.0, 0)
    assert overall["mark recall"] > 0.9 and overall["mark precision"] > 0.9 and overall["centre error"] < 0.15


@pytest.mark.parametrize(
    "text, words",
    [
        ("{", "not a readable truth file"),
        ("[]", "one object"),
        ('{"stitches": 0, "tags": []}', "'stitches'"),
        ('{"stitches": true}', "'stitches'"),
        ('{"stitches": 24.0}', "'stitches'"),
        ('{"tags": "easy", "stitches": 2}', "'tags'"),
        ('{"tags": ["overall"], "stitches": 2}', "'overall'"),
        ('{"stitches": 2, "rounds": -1}', "'rounds'"),
        ('{"stitches": 2, "centre": [1]}', "'centre'"),
        ('{"stitches": 2, "centre": "middle"}', "'centre'"),
        ('{"stitches": 2, "marks": [[1, 2]]}', "1 marks for 2"),
        ('{"stitches": 2, "marks": ["x"]}', "'marks'"),
        ('{"stitches": 2, "marks": [1, 2, 3, 4]}', "'marks'"),
        ('{"stitches": 2, "marks": [[1, 2], [NaN, 4]]}', "'marks'"),
        ('{"stitches": 2, "marks": [[1, 2], [3, 4]], "hidden": [2]}', "'hidden'"),
        ('{"stitches": 2, "hidden": 1}', "'hidden'"),
        ('{"refuse": true}', "'refuse'"),
        ('{"stitches": 2, "rim": [[1, 2], [3, 4]]}', "'rim'"),
        ('{"stitches": 2, "look": 3}', "'look'"),
        ('{"stitches": 2, "in_progress": {"done": 1, "left": 2}}', "'in_progress'"),
        ('{"stitches": 2, "in_progress": [1, 1]}', "'in_progress'"),
    ],
)
def test_broken_truth_is_named(tmp_path, text, words):
    (tmp_path / "x.json").write_text(text)
    with pytest.raises(ValueError, match=words) as caught:
        read_truth(tmp_path / "x.json")
    assert str(caught.value).startswith("x.json: ") and "\n" not in str(caught.value)


def test_truth_as_laid_down(tmp_path):
    (tmp_path / "x.json").write_text(
        '{"stitches": 3, "rounds": null, "centre": [5, 6.5], "marks": [[1, 2], [3, 4], [5, 6]], "hidden": [2],'
        ' "in_progress": {"done": 1, "left": 2, "loop": [1, 1]}, "increases": [], "refuse": null, "tags": ["hook"]}'
    )
    read = read_truth(tmp_path / "x.json")
    assert (read.stitches, read.rounds, read.centre, read.hidden, read.tags) == (3, None, (5.0, 6.5), (2,), ("hook",))
    assert read.in_progress == (1, 2) and read.look is None and len(read.rim) == 0
    assert read.marks.tolist() == [[1, 2], [3, 4], [5, 6]] and not read.marks.flags.writeable


def test_missing_folder_photo_and_truth_are_named(tmp_path):
    with pytest.raises(ValueError, match="no such folder"):
        evaluate(tmp_path / "none")
    with pytest.raises(ValueError, match="no truth files"):
        evaluate(tmp_path)
    (tmp_path / "x.json").write_text('{"stitches": 3, "tags": []}')
    with pytest.raises(ValueError, match=r"x\.json: the photo that belongs to it is missing"):
        evaluate(tmp_path)
