import json

import numpy as np
import pytest
from drawn import draw_round
from PIL import Image

from counter.audit import Truth, evaluate, match_marks, read_truth, risk_coverage_area
from counter.cli import main


def truth(marks, hidden=()):
    return Truth(len(marks), None, np.array(marks, float), hidden, None, ())


SQUARE = [(0, 0), (100, 0), (100, 100), (0, 100)]


@pytest.mark.parametrize(
    "found, hidden, wanted",
    [
        (SQUARE, (), (4, 0, 0)),
        ([(30, 0), (100, 40), (100, 100)], (), (2, 1, 2)),
        ([(0, 0), (5, 0)], (), (1, 1, 3)),  # one mark can't serve two stitches
        ([(0, 0), (100, 0), (100, 100)], (3,), (3, 0, 0)),
        (SQUARE, (3,), (3, 0, 0)),
    ],
)
def test_matching_by_hand(found, hidden, wanted):
    assert match_marks(np.array(found, float), truth(SQUARE, hidden)) == wanted


def test_risk_coverage_area_by_hand():
    # Right, wrong, right, wrong in order of confidence: risks 0, 0, 1/4, 1/4, 2/4.
    area = risk_coverage_area(np.array([True, False, True, False]), np.array([0.9, 0.8, 0.7, 0.6]))
    assert area == pytest.approx((0 + 1 / 8 + 1 / 4 + 3 / 8) / 4)
    assert risk_coverage_area(np.ones(5, bool), np.arange(5)) == 0


@pytest.fixture
def folder(tmp_path):
    pixels, marks = draw_round(24, 4)
    for name, stitches, refuse, tag in (("a", 24, None, "easy"), ("b", None, "no piece", "negative")):
        picture = pixels if refuse is None else np.full((300, 300, 3), 170, np.uint8)
        Image.fromarray(picture).save(tmp_path / f"{name}.png")
        known = {"stitches": stitches, "rounds": stitches and 4, "marks": marks.tolist() if stitches else []}
        (tmp_path / f"{name}.json").write_text(json.dumps(known | {"refuse": refuse, "tags": [tag]}))
    return tmp_path


def test_evaluate(folder):
    result = evaluate(folder)
    overall = result.summary["overall"]
    assert (overall["photos"], overall["best guess exact"], overall["rounds exact"]) == (2, 1.0, 1.0)
    assert (overall["wrong while sure"], overall["refusals right"], overall["crashed"]) == (0.0, 1.0, 0)
    assert overall["mark recall"] > 0.9
    assert set(result.summary) == {"overall", "easy", "negative"}


def test_evaluate_on_the_command_line(folder, tmp_path, capsys):
    out = tmp_path / "result.json"
    assert main(["evaluate", str(folder), "--json", str(out)]) == 0
    printed = capsys.readouterr()
    assert "best guess exact" in printed.out and "2 of 2" in printed.err
    assert len(json.loads(out.read_text())["photos"]) == 2


@pytest.mark.parametrize(
    "text, words",
    [
        ("{", "not a readable truth file"),
        ("[]", "one object"),
        ('{"stitches": 0, "tags": []}', "'stitches'"),
        ('{"stitches": 2, "marks": [[1, 2]], "tags": []}', "1 marks for 2"),
        ('{"stitches": 2, "marks": ["x"], "tags": []}', "'marks'"),
    ],
)
def test_broken_truth_is_named(tmp_path, text, words):
    (tmp_path / "x.json").write_text(text)
    with pytest.raises(ValueError, match=words):
        read_truth(tmp_path / "x.json")


def test_empty_folder_is_named(tmp_path, capsys):
    assert main(["evaluate", str(tmp_path)]) == 2
    assert "no truth files" in capsys.readouterr().err
