"""Photos counted beside the server."""

import io
import os
import pickle
import signal
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from counter.basics.answer import Refusal
from counter.basics.photo import read_photo
from counter.examination import examine
from counter.page import home, pool

SAMPLES = Path(__file__).parents[1] / "sample_images"


@pytest.fixture(scope="module")
def beside():
    yield pool.examined
    pool.end()


def numbers(photo):
    """Of the processes that count, once one has counted."""
    pool.examined(photo)
    return set(pool._processes()._processes)


def test_another_process_says_the_same(beside):
    photo = read_photo(SAMPLES / "blue-disc.jpg")
    done, here = beside(photo), examine(photo)
    assert done.photo is photo and done.answer.posterior == here.answer.posterior
    for name in ("marks", "outline", "shared"):
        own = getattr(done.answer, name)
        assert np.array_equal(own, getattr(here.answer, name)) and not own.flags.writeable
    shown = (*here.answer.centre, 0.5 * float(np.ptp(here.answer.outline[:, 0])))
    assert beside(photo, around=shown).answer.stitches == examine(photo, around=shown).answer.stitches
    assert beside(read_photo(SAMPLES / "plate.jpg")).answer.code == "no piece"
    assert beside(Refusal("empty")).answer.code == "empty"


def test_no_more_processes_than_cores_and_a_killed_one_is_replaced(beside):
    photo = read_photo(SAMPLES / "plate.jpg")
    before = numbers(photo)
    assert 1 <= len(before) <= pool.cores() and os.getpid() not in before
    os.kill(min(before), signal.SIGKILL)
    assert beside(photo).answer.code == "no piece"
    assert min(before) not in numbers(photo)


@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_a_photo_goes_to_another_process_without_its_copies(form):
    file = io.BytesIO()
    with Image.open(SAMPLES / "blue-disc.jpg") as picture:
        picture.resize((1000, 4000)).save(file, form)
    photo = read_photo(file.getvalue())
    sent = pickle.dumps(photo)
    assert len(sent) < 1.01 * (len(file.getvalue()) if form == "JPEG" else photo.pixels.nbytes)
    there = pickle.loads(sent)
    assert np.array_equal(there.working, photo.working) and there.shrink == photo.shrink
    assert not there.pixels.flags.writeable


def test_only_a_page_for_others_counts_beside_itself(monkeypatch):
    monkeypatch.setattr(home, "examine", lambda photo, around, on_seen: "here")
    monkeypatch.setattr(home.pool, "examined", lambda photo, around: "beside")
    assert home._examine(Refusal("empty")) == "here"
    monkeypatch.setattr(home, "public_name", lambda: "rounds.example.org")
    assert home._examine(Refusal("empty")) == "beside"


def test_processes_begin_before_the_first_photo_and_end_with_the_server():
    pool.begin()
    there = set(pool._processes()._processes)
    assert 1 <= len(there) <= pool.cores()
    pool.end()
    for number in there:
        with pytest.raises(ProcessLookupError):
            os.kill(number, 0)
