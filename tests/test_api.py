"""What scripts and notebooks get from ``import counter``: every form of a picture, examples that hold, no traces."""

import ast
import doctest
import importlib
import inspect
import io
import json
import subprocess
import sys
import types
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from threadpoolctl import threadpool_info, threadpool_limits

import counter
from counter.basics.threads import one_thread_for_algebra

ROOT = Path(__file__).parents[1]
DISC = ROOT / "sample_images" / "blue-disc.jpg"
FUNCTIONS = [name for name in counter.__all__ if inspect.isfunction(getattr(counter, name))]


def test_all_that_is_offered_is_there():
    assert set(dir(counter)) == set(counter.__all__)
    assert {"count", "read_plan", "check", "find_scale", "render_marks", "evaluate", "examine"} <= set(FUNCTIONS)
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        counter.nothing  # noqa: B018


@pytest.mark.parametrize("name", FUNCTIONS)
def test_examples_hold(name, monkeypatch):
    monkeypatch.chdir(ROOT)
    function = getattr(counter, name)
    module = importlib.import_module(function.__module__)
    examples = doctest.DocTestFinder(recurse=False).find(inspect.unwrap(function), name, module=module, globs={})
    assert examples and examples[0].examples, f"{name} has no example"
    ran = doctest.DocTestRunner().run(examples[0])
    assert ran.failed == 0 and ran.attempted


def test_importing_sets_nothing_and_loads_little():
    """The environment and the libraries' threads stay the caller's."""
    code = (
        "import os, sys; before = dict(os.environ); import counter;"
        "assert dict(os.environ) == before;"
        "print(sorted({'numpy', 'cv2', 'scipy', 'streamlit'} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_threads_of_the_caller_come_back():
    def threads():
        return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}

    with threadpool_limits(2, user_api="blas"):
        before = threads()
        with one_thread_for_algebra():
            assert threads() == {1}
            with one_thread_for_algebra():
                assert threads() == {1}
            assert threads() == {1}  # one of two that count is done
        assert threads() == before


@pytest.fixture(scope="module")
def pixels():
    with Image.open(DISC) as picture:
        return np.asarray(picture.convert("RGB"))


@pytest.mark.parametrize(
    "form",
    [
        str, Path, Path.read_bytes, lambda path: bytearray(path.read_bytes()), lambda path: memoryview(path.read_bytes()),
        lambda path: io.BytesIO(path.read_bytes()),
    ],
    ids=["text", "path", "bytes", "bytearray", "memoryview", "file"],
)  # fmt: skip
def test_a_picture_in_any_form_is_the_same_photo(form, pixels):
    assert np.array_equal(counter.read_photo(form(DISC)).pixels, pixels)


def test_an_open_file_is_read_from_where_it_stands(pixels):
    with DISC.open("rb") as file:
        assert np.array_equal(counter.read_photo(file).pixels, pixels)
        assert counter.read_photo(file).code == "empty"


def test_pixels_are_counted_and_stay_the_callers(pixels):
    own = pixels.copy()
    assert counter.count(own).stitches == counter.count(DISC).stitches
    own[0, 0] = 0  # not locked
    assert counter.read_photo(np.zeros((50, 3000, 3), np.uint8)).code == "too small"  # a strip
    with pytest.raises(ValueError, match="must have pixels"):
        counter.read_photo(np.zeros((0, 0, 3), np.uint8))


@pytest.mark.parametrize(
    "wrong", [7, 3.5, None, True, ["a.jpg"], io.StringIO("text"), np.zeros((300, 300, 3))],
    ids=["int", "float", "none", "bool", "list", "text file", "floats"],
)  # fmt: skip
def test_what_is_no_picture_is_a_type_error(wrong):
    for takes in (counter.count, counter.read_photo, counter.count_photo, counter.examine, counter.find_scale):
        with pytest.raises(TypeError, match="picture"):
            takes(wrong)


def test_pixels_of_another_shape():
    with pytest.raises(ValueError, match=r"\(height, width, 3\)"):
        counter.count(np.zeros((300, 300), np.uint8))


def test_marks_belong_on_their_own_photo(make_count):
    with pytest.raises(ValueError, match="640 x 640"):
        counter.render_marks(DISC, make_count({24: 1.0}))
    with pytest.raises(ValueError, match="no such file"):
        counter.render_marks("nowhere.jpg", make_count({24: 1.0}))


def test_a_refusal_comes_through_the_door():
    done = counter.examine("nowhere.jpg", expected=24)
    assert (done.photo, done.answer.code, done.scale, done.check) == (None, "missing", None, None)
    with pytest.raises(ValueError, match="coin must be one of"):
        counter.examine(DISC, coin="doubloon")


def test_a_piece_that_a_person_shows_is_counted_where_it_lies(pixels):
    truth = json.loads(DISC.with_suffix(".json").read_text(encoding="utf-8"))
    marks = np.array(truth["marks"])
    radius = np.linalg.norm(marks - marks.mean(axis=0), axis=1).max()
    # Beside it there is nothing but more of the table.
    wide = np.hstack([pixels, np.flip(pixels, axis=1)[:, :60].repeat(8, axis=1)])
    answer = counter.examine(wide, around=(*marks.mean(axis=0), radius)).answer
    assert answer.stitches == truth["stitches"] and answer.size == (wide.shape[1], wide.shape[0])
    assert np.abs(answer.marks.mean(axis=0) - marks.mean(axis=0)).max() < 5
    with pytest.raises(ValueError, match="outside of the photo"):
        counter.examine(wide, around=(-500.0, -500.0, 50.0))


def test_every_count_goes_through_one_door():
    """The mat, the scale and the comparison are dispatched in one place: nothing else calls the count."""
    calls = {}
    for path in (ROOT / "counter").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                if called in ("count_photo", "mat_middle"):
                    calls.setdefault(called, set()).add(path.relative_to(ROOT / "counter").as_posix())
    assert calls == {"count_photo": {"examination.py"}, "mat_middle": {"examination.py"}}


def test_names_are_at_home_where_they_are_loaded_from():
    for home, names in counter._HOMES.items():
        for name in names:
            assert getattr(importlib.import_module(home), name) is getattr(counter, name)
    assert {name for names in counter._HOMES.values() for name in names} == set(counter.__all__)
    assert isinstance(counter.Picture, types.UnionType)


def test_the_example_of_the_readme_holds(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    code = (ROOT / "README.md").read_text(encoding="utf-8").partition("```python\n")[2].partition("```")[0]
    found = {}
    exec(code, found)
    said = capsys.readouterr().out.strip().split("\n")
    assert said == ["24 sure 4 agrees", "Go on with the next round: 30 stitches"]
    assert all(f"# {line}\n" in code for line in said)
    assert found["picture"].dtype == np.uint8 and found["picture"].shape[2] == 3
