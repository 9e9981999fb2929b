import json
from pathlib import Path

import numpy as np
import pytest

from counter.basics.photo import Photo, read_photo
from counter.cli import main
from counter.counting.calibration import Signs, in_use, shipped
from counter.evaluation import own
from counter.evaluation.limits import LEAST, Case
from counter.evaluation.truth import read_folder
from counter.notebook.store import Notebook
from counter.notebook.values import KeptMark

SAMPLE = Path(__file__).parents[1] / "sample_images" / "blue-disc.jpg"


@pytest.fixture
def book(tmp_path):
    return Notebook.open(tmp_path / "kept" / "notebook.sqlite3")


@pytest.fixture
def grey():
    return Photo(np.full((640, 640, 3), 128, np.uint8))


def run(capsys, *arguments):
    code = main([str(one) for one in arguments])
    told = capsys.readouterr()
    return code, told.out, told.err


def corrected(count):
    """The marks without the last one, as a person would leave them."""
    return [KeptMark(float(x), float(y), n) for n, (x, y) in enumerate(count.marks[:-1], start=1)]


def test_what_a_person_counted_becomes_a_truth_folder(book, grey, make_count, tmp_path, capsys):
    count = make_count({24: 0.6, 23: 0.4}, sure=False)
    book.keep(grey, count)  # nobody said anything
    first = book.keep(grey, count, confirmed=True)
    second = book.keep(grey, count, corrected(count), confirmed=True)
    code, out, _ = run(capsys, "notebook", "truth", tmp_path / "mine", "--notebook", book.path)
    assert code == 0 and "2 counts of yours" in out
    truths, left_out = read_folder(tmp_path / "mine")
    assert not left_out and {path.stem[-8:] for path, _ in truths} == {first.key[:8], second.key[:8]}
    by_key = {path.stem[-8:]: truth for path, truth in truths}
    assert (by_key[first.key[:8]].stitches, by_key[second.key[:8]].stitches) == (24, 23)
    assert by_key[first.key[:8]].tags == ("confirmed",) and by_key[second.key[:8]].tags == ("corrected",)
    assert np.allclose(by_key[second.key[:8]].marks, [(mark.x, mark.y) for mark in second.marks], atol=0.06)
    photo = next(path for path, _ in truths if path.stem.endswith(first.key[:8]))
    assert photo.read_bytes() == book.photo_file(first.key)
    # Nothing is written over.
    code, _, err = run(capsys, "notebook", "truth", tmp_path / "mine", "--notebook", book.path)
    assert code == 2 and "can't be written" in err and err.count("\n") == 1


def test_evaluate_measures_ones_own_photos(book, make_count, tmp_path, capsys):
    from counter import count_photo

    photo = read_photo(SAMPLE)
    kept = count_photo(photo)
    code, _, err = run(capsys, "evaluate", "--notebook", book.path)
    assert code == 2 and "none of your counts" in err
    book.keep(photo, kept, confirmed=True)
    book.keep(photo, kept, corrected(kept), confirmed=True)
    code, out, _ = run(capsys, "evaluate", "--notebook", book.path, "--json", tmp_path / "told.json")
    assert code == 0 and "best guess exact" in out
    told = json.loads((tmp_path / "told.json").read_text())
    assert told["summary"]["overall"]["photos"] == 2 and told["summary"]["overall"]["best guess exact"] == 0.5
    assert told["summary"]["confirmed"]["best guess exact"] == 1.0
    code, _, err = run(capsys, "evaluate")
    assert code == 2 and "--notebook" in err


def kept_many(book, grey, make_count, number):
    count = make_count({24: 0.6, 23: 0.4}, sure=False)
    return [book.keep(grey, count, confirmed=True) for _ in range(number)]


def cases(monkeypatch, probability, wrong):
    """Own photos are counted with such a probability, and so many of them are wrong."""
    told = iter(range(1000))

    def case(_, entry):
        signs = Signs(probability, one_width=True, in_view=1.0, seam=1.0, off_width=1.0, pitch_px=20.0)
        return Case(entry.key, own.LOOK, next(told) >= wrong, signs)

    monkeypatch.setattr(own, "_case", case)


def test_thirty_photos_can_take_sureness_away_and_not_give_it(book, grey, make_count, monkeypatch, capsys):
    kept_many(book, grey, make_count, 29)
    cases(monkeypatch, 0.97, 1)
    code, _, err = run(capsys, "notebook", "calibrate", "--notebook", book.path)
    assert code == 2 and "29 of your counts" in err and "30" in err
    assert in_use() == shipped()
    kept_many(book, grey, make_count, 1)
    code, out, _ = run(capsys, "notebook", "calibrate", "--notebook", book.path)
    assert code == 0 and in_use().sure == pytest.approx(0.971) and "--forget" in out
    # 1 of 30 wrong before: Clopper-Pearson bound 15%, by scipy.stats.binomtest(1, 30).
    assert "as it came: 30 of 30 photos sure, 1 of them wrong (at most 15% wrong" in out
    assert "now: 0 of 30 photos sure" in out
    assert run(capsys, "notebook", "calibrate", "--forget")[1].startswith("forgotten")
    assert in_use() == shipped()
    assert run(capsys, "notebook", "calibrate", "--forget")[1].startswith("nothing was set")
    cases(monkeypatch, 0.8, 0)
    assert own.set_own_limit(book).sure == shipped().sure


def test_a_hundred_photos_without_a_wrong_one_make_more_of_them_sure(book, grey, make_count, monkeypatch):
    kept_many(book, grey, make_count, own.ENOUGH_TO_LOWER)
    cases(monkeypatch, 0.8, 0)
    done = own.set_own_limit(book)
    assert done.sure == in_use().sure == LEAST < shipped().sure
    assert done.promised == 0.01 and done.figures["now"]["sure"] == own.ENOUGH_TO_LOWER


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"for": "another", "sure": 0.1}', '{"for": "MARK", "sure": "no"}'])
def test_a_limit_that_is_damaged_or_for_another_calibration_does_not_count(text):
    from counter.counting.calibration import own_file, shipped_mark

    own_file().parent.mkdir()
    own_file().write_text(text.replace("MARK", shipped_mark()))
    assert in_use() == shipped()
