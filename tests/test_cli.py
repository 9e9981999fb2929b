import json

import numpy as np
import pytest
from drawn import draw_round
from PIL import Image

from counter.cli import main


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    path = tmp_path_factory.mktemp("photos") / "round.png"
    Image.fromarray(draw_round(24, 4)[0]).save(path)
    return path


FIELDS = [
    *("photo", "state", "stitches", "probability", "posterior", "likely", "rounds", "centre", "marks", "doubts"),
    *("in_progress", "reason", "hint", "seconds"),
]


def test_json_has_every_field(photo, capsys):
    assert main(["count", str(photo), "--json"]) == 0
    row = json.loads(capsys.readouterr().out)
    assert list(row) == FIELDS
    assert (row["stitches"], row["rounds"], len(row["marks"])) == (24, 4, 24)


@pytest.mark.parametrize("expected, code, verdict, off", [(24, 0, "agrees", 0), (25, 1, "short by 1", -1), (18, 1, "over by 6", 6)])
def test_expected_total(photo, capsys, expected, code, verdict, off):
    assert main(["count", str(photo), "--json", "--expected", str(expected)]) == code
    row = json.loads(capsys.readouterr().out)
    assert (row["verdict"], row["off_by"], row["stitches"]) == (verdict, off, 24)


def test_wrong_expectations_never_move_the_count(photo, capsys):
    rows = []
    for expected in (None, 6, 23, 24, 25, 48, 1000):
        main(["count", str(photo), "--json", *(["--expected", str(expected)] if expected else [])])
        rows.append(json.loads(capsys.readouterr().out))
    assert len({json.dumps([row[f] for f in FIELDS if f != "seconds"]) for row in rows}) == 1


def test_refused_photo_says_why(tmp_path, capsys):
    path = tmp_path / "bare.png"
    Image.fromarray(np.full((300, 300, 3), 180, np.uint8)).save(path)
    assert main(["count", str(path), "--json"]) == 4
    row = json.loads(capsys.readouterr().out)
    assert list(row) == FIELDS and row["state"] == "refused" and row["reason"] and row["hint"]


def test_marked_picture(photo, tmp_path, capsys):
    out = tmp_path / "marked.jpg"
    assert main(["count", str(photo), "--marked", str(out)]) == 0
    assert "24 stitches, 4 rounds" in capsys.readouterr().out
    with Image.open(out) as marked:
        assert marked.size == (640, 640)
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize(
    "more, words",
    [
        (["--marked", "{photo}"], "would overwrite"),
        (["--marked", "{folder}/out.gif"], "must end in"),
        (["--marked", "{folder}/none/out.jpg"], "can't be written"),
        (["--expected", "0"], "whole number from 1 to 1000"),
    ],
)
def test_bad_use_is_one_line(photo, tmp_path, capsys, more, words):
    arguments = [m.format(photo=photo, folder=tmp_path) for m in more]
    assert main(["count", str(photo), *arguments]) == 2
    error = capsys.readouterr().err
    assert words in error and error.count("\n") == 1
