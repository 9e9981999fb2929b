import codecs
import copy
import csv
import io
import json
import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
import zipfile
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from counter.basics import database, words
from counter.basics.answer import InProgress
from counter.basics.photo import Photo, read_photo
from counter.notebook import archive, checks, codec, limits, values
from counter.notebook import store as notebook
from counter.notebook import trouble as troubles
from counter.notebook.migrations import FILE
from counter.notebook.store import Notebook, new_shared, open_own, open_shared
from counter.notebook.trouble import NotebookError
from counter.notebook.values import Goal, KeptMark, counted_by_person
from counter.page.visitors import is_local, turned_on

PLAN = "R1: 6 sc in ring (6)\nR2: inc x 6 (12)\nR3: (sc 1, inc) x 6 (18)\nR4: (sc 2, inc) x 6 (24)"


@pytest.fixture
def book(tmp_path):
    return Notebook.open(tmp_path / "kept" / "notebook.sqlite3")


def picture(size=(640, 640), seed=1):
    """A photo that no other one has the bytes of."""
    rough = np.random.default_rng(seed).integers(0, 256, (24, 24, 3), np.uint8)
    return Photo(np.array(Image.fromarray(rough).resize(size, Image.Resampling.BICUBIC)))


def own_marks(count):
    return [KeptMark(float(x), float(y), n) for n, (x, y) in enumerate(count.marks, start=1)]


def bytes_of(folder):
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def trouble(code, call, *args, **kwargs):
    """The call fails with that trouble, in one line that ends with what to do."""
    with pytest.raises(NotebookError) as caught:
        call(*args, **kwargs)
    assert caught.value.code == code, str(caught.value)
    assert "\n" not in str(caught.value) and str(caught.value).endswith(troubles.TROUBLES[code][1])
    return caught.value


# --- Keeping and reading ---


def test_what_is_kept_is_read_back(book, make_count):
    count = make_count(
        {24: 0.6, 23: 0.3, 25: 0.1}, sure=False, doubts=[(1, (321.5, 100.25), "One stitch or two?")], paired=(4, 5),
        in_progress=InProgress(5, 19, (300.0, 80.5)), rounds=None,
    )  # fmt: skip
    goal = Goal(plan=PLAN, round=4, uk=False, twin=True, since=1, twin_holds=23, finished=True)
    kept = book.keep(picture(), count, goal=goal, title="Ear", note="soft\nwool")
    read = Notebook.open(book.path).entry(kept.key)
    assert (read.key, read.title, read.note, read.goal, read.kept, read.changed) == (
        kept.key, "Ear", "soft\nwool", goal, kept.kept, kept.kept,
    )  # fmt: skip
    assert dict(read.count.posterior) == dict(count.posterior) and read.count.likely == count.likely
    for name in ("sure", "doubts", "centre", "start_seen", "rounds", "in_progress", "reason", "size", "seconds"):
        assert getattr(read.count, name) == getattr(count, name), name
    for name in ("marks", "outline", "shared"):
        assert np.allclose(getattr(read.count, name), getattr(count, name), atol=1e-3), name
        assert not getattr(read.count, name).flags.writeable
    assert read.state == "not sure" and read.settled is read.count and not read.corrections


def test_marks_stay_on_their_stitches_when_the_photo_gets_smaller(book, make_count):
    size = (3000, 2250)
    count = make_count({12: 1.0}, size=size)
    pixels = np.zeros((size[1], size[0], 3), np.uint8)
    for at in count.marks:  # a soft light round each mark
        left, top = (int(v) - 41 for v in at)
        x, y = np.meshgrid(np.arange(left, left + 83), np.arange(top, top + 83))
        reach = np.hypot(x - at[0], y - at[1])
        light = np.where(reach < 40, 255 * np.exp(-((reach / 14) ** 2)), 0)
        pixels[top : top + 83, left : left + 83] = light[..., None].astype(np.uint8)
    kept = book.keep(Photo(pixels), count)
    shown = book.photo(kept.key)
    assert (shown.width, shown.height) == kept.count.size == (1600, 1200)
    light = shown.pixels.mean(axis=2)
    for mark, at in zip(kept.marks, kept.count.marks, strict=True):
        assert (mark.x, mark.y) == tuple(at)
        left, top = int(mark.x) - 21, int(mark.y) - 21
        x, y = np.meshgrid(np.arange(left, left + 43), np.arange(top, top + 43))
        near = light[top : top + 43, left : left + 43] * (np.hypot(x - mark.x, y - mark.y) < 20)
        middle = np.array([(near * x).sum(), (near * y).sum()]) / near.sum()
        assert np.abs(middle - at).max() < 0.1


def test_a_long_narrow_photo_is_kept_too(book, make_count):
    count = make_count({12: 1.0}, size=(4000, 240), radius=60)
    kept = book.keep(picture((4000, 240)), count)
    assert kept.count.size == (1600, 96) and book.photo(kept.key).height == 96


def test_nothing_of_where_and_with_what_it_was_taken_is_kept(book, make_count):
    # Tags by the Exif standard (CIPA DC-008): 0x010F maker, 0x8825 GPS, in it 1 to 4 the position.
    exif = Image.Exif()
    exif[0x010F] = "CameraThatTells"
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 12.0, 30.0), 3: "E", 4: (11.0, 34.0, 12.0)})
    file = io.BytesIO()
    Image.fromarray(picture().pixels).save(file, "JPEG", exif=exif, comment=b"CommentThatTells")
    assert b"CameraThatTells" in file.getvalue() and b"CommentThatTells" in file.getvalue()
    kept = book.keep(read_photo(file.getvalue()), make_count({24: 1.0}))
    all_bytes = bytes_of(book.path.parent)
    for word in (b"CameraThatTells", b"CommentThatTells", b"Exif", b"GPS"):
        assert word not in all_bytes
    small = book.listing().lines[0].small
    with Image.open(io.BytesIO(small)) as shown:
        assert max(shown.size) == 240 and not shown.getexif() and [name for name, _ in shown.applist] == ["APP0"]
    assert book.photo(kept.key).pixels.shape == (640, 640, 3)


def test_the_largest_photo_there_can_be_fits(book, make_count):
    # Noise at full contrast: no photo compresses worse.
    noise = np.random.default_rng(3).choice(np.array([0, 255], np.uint8), (1600, 1600, 3))
    kept = book.keep(Photo(noise), make_count({24: 1.0}, size=(1600, 1600)))
    file = io.BytesIO()
    book.export(file)
    with zipfile.ZipFile(file) as pack:
        assert pack.getinfo(f"photos/{kept.key}.jpg").file_size < limits.MOST_PHOTO_BYTES
    assert book.import_zip(file).already == 1


def test_only_this_user_may_read_it(book):
    if os.name == "nt":
        pytest.skip("permissions as Unix has them")
    assert book.path.stat().st_mode & 0o777 == 0o600 and book.path.parent.stat().st_mode & 0o777 == 0o700


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ({"title": "x" * 101}, "title"),
        ({"note": "x" * 4001}, "note"),
        ({"title": "half \ud83d"}, "characters"),
        ({"marks": []}, "3 to 1000 marks"),
        ({"marks": [KeptMark(1, 1)] * 2}, "3 to 1000 marks"),
        ({"marks": [KeptMark(1, 1)] * 1001}, "3 to 1000 marks"),
        ({"marks": [KeptMark(float("nan"), 1)] * 3}, "must be a number"),
        ({"marks": [KeptMark(1, 1, 25)] * 3}, "from 1 to 24"),
        ({"marks": [KeptMark(1, 1, 2)] * 3}, "same one"),
        ({"marks": [KeptMark(9000, 1)] * 3}, "place of a mark"),
    ],
)
def test_what_cannot_be_is_not_kept(book, make_count, what, said):
    with pytest.raises(ValueError, match=said):
        book.keep(picture(), make_count({24: 1.0}), **what)
    with pytest.raises(ValueError, match="not"):
        book.keep(picture((700, 640)), make_count({24: 1.0}))
    assert book.listing().found == 0


@pytest.mark.parametrize(
    "what",
    [{"expected": 0}, {"expected": 1001}, {"expected": True}, {"expected": 24, "plan": PLAN}, {"plan": "x" * 40_001},
     {"round": 0}, {"since": -1}, {"uk": 1}, {"twin": "yes"}, {"twin_holds": 0}, {"finished": "yes"}],
)  # fmt: skip
def test_a_goal_that_cannot_be(what):
    with pytest.raises(ValueError, match="must|not both"):
        Goal(**what)


# --- What a person changed ---


def test_corrections_are_told(book, make_count):
    kept = book.keep(picture(), make_count({24: 1.0}), goal=Goal(expected=24))
    assert kept.check().verdict.verdict == "agrees" and not kept.by_person
    marks = list(kept.marks)
    marks[4] = KeptMark(marks[4].x + 3, marks[4].y, 5)
    del marks[9]
    marks.insert(2, KeptMark(333.0, 111.0))
    marks.insert(3, KeptMark(340.0, 111.0))
    changed = book.change(kept, marks=marks)
    made = changed.corrections
    assert (made.added, made.removed, made.moved) == ((3, 4), (10,), (7,))
    assert changed.by_person and changed.settled.stitches == 25 and changed.settled.sure
    assert changed.check().verdict.verdict == "over by 1" and changed.count.stitches == 24
    line = book.listing().lines[0]
    assert (line.stitches, line.state, line.expected) == (25, "counted by a person", 24)
    back = book.change(changed, marks=own_marks(kept.count))
    assert not back.corrections and back.state == "sure"
    assert book.change(back, confirmed=True).state == "counted by a person"


def test_marks_in_pixels_of_the_whole_photo_are_saved_alike(book, make_count):
    count = make_count({24: 1.0}, size=(3200, 2400))
    kept = book.keep(picture((3200, 2400)), count)
    assert book.change(kept, marks=own_marks(count), size=count.size) is kept  # nothing has changed
    marks = own_marks(count)[:-1]
    changed = book.change(kept, marks=marks, size=count.size)
    assert changed.corrections.removed == (24,) and not changed.corrections.moved
    # The middle of the first pixel is (0, 0) in both.
    assert changed.marks[0].x == pytest.approx((marks[0].x + 0.5) / 2 - 0.5, abs=1e-3)


def test_a_person_s_count_keeps_the_places_in_doubt(make_count):
    count = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=[(1, (320.0, 120.0), "?")])
    marks = np.roll(count.marks, 5, axis=0)[:20]
    person = counted_by_person(count, marks)
    assert person.sure and dict(person.posterior) == {20: 1.0}
    nearest = 1 + int(np.argmin(np.hypot(*(marks - (320.0, 120.0)).T)))
    assert person.doubts[0].mark == nearest and count.stitches == 24


def test_every_part_can_be_changed_and_the_others_stay(book, make_count):
    kept = book.keep(picture(), make_count({24: 1.0}), title="a", note="b", goal=Goal(expected=24))
    changed = book.change(kept, title="c")
    changed = book.change(changed, note="d")
    changed = book.change(changed, goal=Goal(plan=PLAN, round=3))
    read = book.entry(kept.key)
    assert (read.title, read.note, read.goal.total, read.revision) == ("c", "d", 18, 4)
    assert [(line.title, line.expected, line.round) for line in book.listing("c d").lines] == [("c", 18, 3)]
    with pytest.raises(ValueError, match="title"):
        book.change(read, title="x" * 101)
    assert book.entry(kept.key).title == "c"


def test_an_older_look_does_not_overwrite_a_newer_one(book, make_count):
    kept = book.keep(picture(), make_count({24: 1.0}))
    book.change(kept, note="from the first window")
    trouble("changed elsewhere", book.change, kept, note="from the second")
    assert book.entry(kept.key).note == "from the first window"
    book.delete(kept.key)
    for call in (lambda: book.change(kept, note="x"), lambda: book.entry(kept.key), lambda: book.photo(kept.key)):
        trouble("gone", call)


@pytest.mark.parametrize("goal", [Goal(plan=PLAN, round=9), Goal(plan="R1: sc around", round=1), Goal(plan=PLAN)])
def test_a_plan_without_that_total_is_kept_all_the_same(book, make_count, goal):
    kept = book.keep(picture(), make_count({24: 1.0}), goal=goal)
    assert kept.goal.total is None and book.listing().lines[0].expected is None
    if goal.round:
        with pytest.raises(ValueError, match="plan"):
            kept.check()
    else:
        assert kept.check().compared.round == 4


# --- The list ---


def test_the_list_is_searched_by_words(book, make_count):
    # Folding after the Unicode standard, 3.13: "ß" is "ss", a wide "Ｂ" is "b".
    for title, note, total in (("Bär, Straße", "linkes Ohr", 24), ("BAR_1", "100% wool", 18), ("Ｂar two", "", 24)):
        book.keep(picture(), make_count({total: 1.0}), title=title, note=note)

    def found(sought):
        return {line.title for line in book.listing(sought).lines}

    assert found("STRASSE bär") == {"Bär, Straße"} and found("bar") == {"BAR_1", "Ｂar two"}
    assert found("%") == {"BAR_1"} and found("_") == {"BAR_1"} and found("'") == set()
    assert found("24") == {"Bär, Straße", "Ｂar two"} and found("24 ohr sure") == {"Bär, Straße"}
    assert len(found(f"{book.listing().lines[0].kept:%d %B %Y}".lstrip("0"))) == 3
    today = book.listing().lines[0].kept.date().isoformat()
    assert len(found(today)) == 3 and found("ohr wool") == set()


def test_the_list_comes_in_parts_the_last_first(book, make_count, monkeypatch):
    clock = iter(f"2031-05-{day:02}T10:00:00+00:00" for day in range(1, 8))
    for room in (notebook, codec):
        monkeypatch.setattr(room, "this_moment", lambda: checks.moment_of(next(clock)))
    for k in range(7):
        book.keep(picture(), make_count({24: 1.0}), title=str(k))
    parts = [book.listing(first=first, most=3) for first in (0, 3, 6, 9)]
    assert [[line.title for line in part.lines] for part in parts] == [["6", "5", "4"], ["3", "2", "1"], ["0"], []]
    assert {part.found for part in parts} == {7}


# --- Deleting for good ---


def test_what_is_deleted_is_gone_from_the_file(book, make_count):
    kept = [
        book.keep(picture(seed=k), make_count({24: 1.0}), title=f"title{k}kept", note=f"secret{k}word " * 200)
        for k in range(12)
    ]
    file = io.BytesIO()
    book.export(file)
    with zipfile.ZipFile(file) as pack:
        photos = [pack.read(f"photos/{one.key}.jpg") for one in kept]
    changed = book.change(kept[3], note="only this is left")
    assert b"secret3word" not in bytes_of(book.path.parent), "what was written over is gone, too"
    before = book.path.stat().st_size
    assert book.delete(*[one.key for one in kept[:10]], "f" * 32) == 10
    left = bytes_of(book.path.parent)
    for k in range(10):
        assert f"title{k}kept".encode() not in left and f"secret{k}word".encode() not in left
        assert kept[k].key.encode() not in left
        # Photos lie in pages: look for short pieces of them.
        assert not any(photos[k][at : at + 24] in left for at in range(700, len(photos[k]) - 24, 500))
    assert f"secret{11}word".encode() in left and photos[11][700:724] in left
    assert book.path.stat().st_size < before / 2
    assert book.listing().found == 2 and book.entry(kept[11].key).note == kept[11].note
    assert [path.name for path in book.path.parent.iterdir()] == ["notebook.sqlite3"]
    trouble("gone", book.change, changed, note="x")


def test_it_is_overwritten_even_where_the_file_cannot_be_made_smaller(book, make_count, monkeypatch):
    kept = book.keep(picture(), make_count({24: 1.0}), note="secretword " * 100)
    full = sqlite3.connect
    denied = []

    def connect(*args, **kwargs):
        link = full(*args, **kwargs)

        def decide(action, first, *_):
            # VACUUM attaches a file of its own (sqlite3_set_authorizer: SQLITE_ATTACH).
            denied.append(action == sqlite3.SQLITE_ATTACH)
            return sqlite3.SQLITE_DENY if denied[-1] else sqlite3.SQLITE_OK

        link.set_authorizer(decide)
        return link

    monkeypatch.setattr(sqlite3, "connect", connect)
    trouble("not tidied", book.delete, kept.key)
    assert any(denied)
    monkeypatch.undo()
    assert b"secretword" not in book.path.read_bytes() and book.listing().found == 0


# --- Export and import ---


def exported(book):
    file = io.BytesIO()
    book.export(file)
    return file.getvalue()


@pytest.fixture
def pack(book, make_count):
    """A zip of two counts."""
    book.keep(
        picture(seed=1), make_count({24: 1.0}), title='=HYPERLINK("x")', note='say "hi",\nthen go',
        goal=Goal(expected=25),
    )  # fmt: skip
    book.keep(
        picture(seed=2), make_count({18: 0.6, 17: 0.4}, sure=False, doubts=[(2, (300.0, 100.0), "?")]), title="Grün",
        goal=Goal(plan=PLAN, round=3),
    )  # fmt: skip
    return exported(book)


def test_the_zip_is_plain(book, pack):
    assert exported(book) == pack  # the same notebook, the same bytes
    with zipfile.ZipFile(io.BytesIO(pack)) as opened:
        assert opened.testzip() is None
        rows = list(csv.reader(io.StringIO(opened.read("notebook.csv").decode("utf-8-sig"), newline="")))
        by_title = {row[3]: dict(zip(rows[0], row, strict=True)) for row in rows[1:]}
        assert set(by_title) == {'\'=HYPERLINK("x")', "Grün"}
        first, second = by_title['\'=HYPERLINK("x")'], by_title["Grün"]
        assert [first[name] for name in ("stitches", "expected", "off by")] == ["24", "25", "-1"]
        assert first["note"] == 'say "hi",\nthen go'
        assert (second["state"], second["off by"], second["round of the plan"]) == ("not sure", "", "3")
        for row in by_title.values():
            data = json.loads(opened.read(f"entries/{row['key']}.json"))
            assert data["note"] == row["note"] and len(data["marks"]) == int(row["stitches"])
            with Image.open(opened.open(row["photo"])) as shown:
                assert shown.size == tuple(data["count"]["size"])


def test_what_was_exported_comes_back_whole(book, pack, tmp_path):
    other = Notebook.open(tmp_path / "other.sqlite3")
    done = other.import_zip(pack)
    assert (done.added, done.already) == (2, 0) and exported(other) == pack
    for line in book.listing().lines:
        assert (other.photo(line.key).pixels == book.photo(line.key).pixels).all()
    assert other.import_zip(io.BytesIO(pack)) == values.Imported(0, 2)
    path = tmp_path / "kept.zip"
    path.write_bytes(pack)
    assert book.import_zip(path) == values.Imported(0, 2) and exported(book) == pack


def test_packed_again_by_another_program_it_comes_back_too(book, pack, tmp_path):
    again = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(pack)) as old, zipfile.ZipFile(again, "w", zipfile.ZIP_DEFLATED) as new:
        new.writestr("entries/", b"")
        for info in reversed(old.infolist()):
            if info.filename != "notebook.csv":
                new.writestr(info.filename, old.read(info))
    assert Notebook.open(tmp_path / "other.sqlite3").import_zip(again).added == 2


def test_a_count_that_went_on_elsewhere_is_added_beside(book, pack, tmp_path):
    other = Notebook.open(tmp_path / "other.sqlite3")
    other.import_zip(pack)
    line = other.listing("grün").lines[0]
    other.change(other.entry(line.key), note="gone on elsewhere")
    assert book.import_zip(exported(other)) == values.Imported(1, 1)
    assert {one.note for one in book.listing("grün").lines} == {"", "gone on elsewhere"}
    assert book.import_zip(exported(other)) == values.Imported(0, 2), "known again"
    beside = next(one for one in book.listing("elsewhere").lines)
    book.change(book.entry(beside.key), note="and on here")
    assert book.import_zip(exported(other)) == values.Imported(1, 1), "nothing is overwritten"
    assert {one.note for one in book.listing("grün").lines} == {"", "and on here", "gone on elsewhere"}
    assert book.import_zip(exported(other)) == values.Imported(0, 2)


def repacked(pack, change=None, *, leave=(), more=(), way=None):
    """The zip with members changed, left out or added."""
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(pack)) as old, zipfile.ZipFile(file, "w") as new:
        for info in old.infolist():
            if info.filename not in leave:
                data = old.read(info)
                new.writestr(info.filename, change(info.filename, data) if change else data, way or info.compress_type)
        for name, data in more:
            new.writestr(name, data, zipfile.ZIP_DEFLATED)
    return file.getvalue()


def only(pack, start, change, way=None):
    """The zip with those members changed whose names start so."""
    return repacked(pack, lambda name, old: change(old) if name.startswith(start) else old, way=way)


def with_count(pack, change):
    """The zip with the data of its counts changed."""

    def changed(name, data):
        if not name.startswith("entries/"):
            return data
        data = json.loads(data)
        change(data)
        return json.dumps(data).encode()

    return repacked(pack, changed)


def with_photo(pack, data):
    return only(pack, "photos/", lambda old: data)


def with_seconds(pack, number):
    return only(pack, "entries/", lambda old: old.replace(b'"seconds": 0.1', b'"seconds": ' + number))


def with_about(pack, **values):
    return only(pack, "about.json", lambda old: json.dumps(json.loads(old) | values).encode())


def jpeg(size=(640, 640), mode="RGB", **options):
    file = io.BytesIO()
    Image.new(mode, size).save(file, "JPEG", **options)
    return file.getvalue()


def one_of(pack, folder):
    with zipfile.ZipFile(io.BytesIO(pack)) as opened:
        return next(name for name in opened.namelist() if name.startswith(folder))


def lying(pack):
    """A member whose header says that it unpacks to less than it does."""
    data = bytearray(repacked(pack, lambda name, old: b" " * 50_000_000 if name == "about.json" else old))
    at = 0
    while (at := data.find((50_000_000).to_bytes(4, "little"), at)) >= 0:
        data[at : at + 4] = (90).to_bytes(4, "little")
    return bytes(data)


def encrypted(pack):
    data = bytearray(pack)
    at = data.find(b"PK\1\2")
    data[at + 8] |= 1  # APPNOTE 4.4.4, bit 0
    return bytes(data)


def thousands():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as new:
        for k in range(30_000):
            new.writestr(f"entries/{k:032x}.json", b"")
    return file.getvalue()


def many_counts(pack):
    with zipfile.ZipFile(io.BytesIO(pack)) as opened:
        entry, photo = opened.read(one_of(pack, "entries/")), opened.read(one_of(pack, "photos/"))
    names = [f"{k:032x}" for k in range(1001)]
    more = [(f"entries/{name}.json", entry) for name in names] + [(f"photos/{name}.jpg", photo) for name in names]
    return repacked(pack, more=more)


HOSTILE = {
    "nothing": lambda pack: b"",
    "a text": lambda pack: b"my notebook",
    "a photo": lambda pack: jpeg(),
    "cut off": lambda pack: pack[: len(pack) // 2],
    "its middle is damaged": lambda pack: pack[:3000] + bytes(3000) + pack[6000:],
    "its table of contents is damaged": lambda pack: pack[:-200] + b"\xff" * 150 + pack[-50:],
    "an empty zip": lambda pack: b"PK\5\6" + bytes(18),
    "another zip": lambda pack: repacked(pack, leave=["about.json"]),
    "a path that climbs": lambda pack: repacked(pack, more=[("../../evil.txt", b"x")]),
    "an absolute path": lambda pack: repacked(pack, more=[("/etc/evil", b"x")]),
    "a path of Windows": lambda pack: repacked(pack, more=[("..\\evil.txt", b"x")]),
    "a path within a name": lambda pack: repacked(pack, more=[("photos/../about.json", b"x")]),
    "another file": lambda pack: repacked(pack, more=[("run.exe", b"MZ")]),
    "a bomb in a count": lambda pack: only(pack, one_of(pack, "entries/"), lambda old: b" " * 100_000_000, way=8),
    "a bomb in a photo": lambda pack: only(pack, one_of(pack, "photos/"), lambda old: bytes(100_000_000), way=8),
    "a bomb in the first file": lambda pack: only(pack, "about.json", lambda old: b" " * 100_000_000, way=8),
    "a bomb that lies": lying,
    "a count with much behind it": lambda pack: only(pack, "entries/", lambda old: old + b" " * 900_000, way=8),
    "encrypted": encrypted,
    "packed in another way": lambda pack: repacked(pack, way=zipfile.ZIP_LZMA),
    "thousands of files": lambda pack: thousands(),
    "too many counts": many_counts,
    "a photo is missing": lambda pack: repacked(pack, leave=[one_of(pack, "photos/")]),
    "a count is missing": lambda pack: repacked(pack, leave=[one_of(pack, "entries/")]),
    "both of a count are missing": lambda pack: repacked(
        pack, leave=[one_of(pack, "entries/"), f"photos/{one_of(pack, 'entries/')[8:-5]}.jpg"]
    ),
    "another format": lambda pack: with_about(pack, format="recipes"),
    "a newer version": lambda pack: with_about(pack, version=archive.FORMAT_VERSION + 1),
    "no version": lambda pack: with_about(pack, version=None),
    "more about": lambda pack: with_about(pack, more=1),
    "a huge photo": lambda pack: with_photo(pack, jpeg((20000, 20000), "L")),
    "a photo of another size": lambda pack: with_photo(pack, jpeg((641, 640))),
    "a grey photo": lambda pack: with_photo(pack, jpeg(mode="L")),
    "a photo of another kind": lambda pack: with_photo(pack, b"\x89PNG\r\n\x1a\n" + bytes(100)),
    "a cut off photo": lambda pack: with_photo(pack, jpeg()[:600]),
    "a photo that tells where": lambda pack: with_photo(pack, jpeg(exif=b"Exif\0\0II*\0\x08\0\0\0\0\0\0\0\0\0")),
    "a photo with a comment": lambda pack: with_photo(pack, jpeg(comment=b"x")),
    "no JSON": lambda pack: only(pack, "entries/", lambda old: b"{"),
    "no text": lambda pack: only(pack, "entries/", lambda old: b"\xff\xfe\x80"),
    "deep JSON": lambda pack: only(pack, "entries/", lambda old: b"[" * 400_000, way=8),
    "not a number": lambda pack: with_seconds(pack, b"NaN"),
    "endless": lambda pack: with_seconds(pack, b"1e999"),
    "a number of 5000 digits": lambda pack: with_seconds(pack, b"9" * 5000),
    "another key": lambda pack: with_count(pack, lambda d: d.update(key="0" * 32)),
    "a field too many": lambda pack: with_count(pack, lambda d: d.update(more=1)),
    "a field too few": lambda pack: with_count(pack, lambda d: d.pop("note")),
    "a long title": lambda pack: with_count(pack, lambda d: d.update(title="x" * 101)),
    "half a character": lambda pack: with_count(pack, lambda d: d.update(title="\ud800")),
    "half a character in a reason": lambda pack: with_count(pack, lambda d: d["count"].update(reason="\ud800")),
    "no date": lambda pack: with_count(pack, lambda d: d.update(kept="yesterday")),
    "a date without a zone": lambda pack: with_count(pack, lambda d: d.update(kept="2031-05-04T10:00:00")),
    "a date long ago": lambda pack: with_count(pack, lambda d: d.update(kept="0001-01-01T00:00:00+00:00")),
    "a mark far away": lambda pack: with_count(pack, lambda d: d["marks"][0].update(x=1e9)),
    "a mark of nowhere": lambda pack: with_count(pack, lambda d: d["marks"][0].update(own=1000)),
    "marks missing": lambda pack: with_count(pack, lambda d: d["count"]["marks"].pop()),
    "a chance over one": lambda pack: with_count(pack, lambda d: d["count"]["posterior"].update({"30": 1.5})),
    "a count of minus one": lambda pack: with_count(pack, lambda d: d["count"].update(posterior={"-1": 1.0})),
    "a photo of no size": lambda pack: with_count(pack, lambda d: d["count"].update(size=[0, 640])),
    "a long outline": lambda pack: with_count(pack, lambda d: d["count"].update(outline=[[1, 1]] * 5001)),
    "two goals": lambda pack: with_count(pack, lambda d: d["goal"].update(expected=24, plan="6, 12")),
}  # fmt: skip


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("what", HOSTILE)
def test_a_hostile_zip_is_refused_and_nothing_is_changed(book, pack, what, tmp_path):
    other = Notebook.open(tmp_path / "other" / "n.sqlite3")
    before = other.path.read_bytes()
    bad = HOSTILE[what](pack)
    error = trouble("import", other.import_zip, bad)
    assert other.path.read_bytes() == before and len(str(error)) < 260
    assert [path.name for path in other.path.parent.iterdir()] == ["n.sqlite3"]


def test_a_member_twice_is_refused(book, pack):
    name = one_of(pack, "entries/")
    with pytest.warns(UserWarning, match="Duplicate name"):
        twice = repacked(pack, more=[(name, b"{}")])
    trouble("import", book.import_zip, twice)


def test_where_the_last_has_no_place_none_comes_in(pack, tmp_path, monkeypatch, make_count):
    other = Notebook.open(tmp_path / "other.sqlite3")
    other.keep(picture(seed=3), make_count({24: 1.0}))
    for room in (notebook, archive):
        monkeypatch.setattr(room, "MOST_ENTRIES", 2)
    before = other.path.read_bytes()
    trouble("too many", other.import_zip, pack)
    assert other.listing().found == 1 and other.path.read_bytes() == before


def test_a_file_that_changes_under_the_import_brings_nothing_in(book, pack, tmp_path, monkeypatch):
    other = Notebook.open(tmp_path / "other.sqlite3")
    unpacked, seen = archive.unpacked_file, []

    def changing(opened, name, most):
        data = unpacked(opened, name, most)
        seen.append(name)
        return data[:-2] + b"\0\xd9" if seen.count(name) == 2 and len(set(seen)) == 5 else data

    for room in (notebook, archive):
        monkeypatch.setattr(room, "unpacked_file", changing)
    trouble("import", other.import_zip, pack)
    assert other.listing().found == 0


def test_no_file_and_a_folder(book, tmp_path):
    assert "no such file" in str(trouble("import", book.import_zip, tmp_path / "missing.zip")).lower()
    trouble("import", book.import_zip, tmp_path)


LEAVES = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**20), 10**20), st.floats(allow_nan=False, allow_infinity=False),
    st.text(max_size=5), st.just([]), st.just({}), st.just([[]]), st.sampled_from(["1", "24", "0" * 32]),
)  # fmt: skip


def places(data, path=()):
    yield path
    children = data.items() if isinstance(data, dict) else enumerate(data[:3]) if isinstance(data, list) else ()
    for name, child in children:
        yield from places(child, (*path, name))


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_value_anywhere_is_taken_or_refused_in_one_line(make_count, tmp_path_factory, data):
    count = make_count(
        {6: 0.6, 5: 0.4}, sure=False, doubts=[(1, (300.0, 100.0), "?")], in_progress=InProgress(1, 2, (3.0, 4.0))
    )
    entry = codec.checked_entry(
        values.Entry(
            "a" * 32, 1, checks.this_moment(), checks.this_moment(), "t", "n", count, tuple(own_marks(count)), False,
            Goal(expected=6),
        )
    )  # fmt: skip
    plain = json.loads(codec.as_text(entry))
    assert codec.as_text(codec.entry_of_data(copy.deepcopy(plain))) == codec.as_text(entry)
    place = data.draw(st.sampled_from(list(places(plain))[1:]))
    *way, last = place
    part = plain
    for name in way:
        part = part[name]
    if isinstance(part, dict) and data.draw(st.booleans()):
        part[data.draw(st.text(max_size=3))] = part.pop(last)
    else:
        part[last] = data.draw(LEAVES)
    try:
        taken = codec.entry_of_data(json.loads(json.dumps(plain)))
    except (ValueError, TypeError):
        return
    assert codec.as_text(codec.entry_of_data(json.loads(codec.as_text(taken)))) == codec.as_text(taken)


# --- Files that must not be touched ---


def overwritten(path, at, data):
    with open(path, "r+b") as file:
        file.seek(at)
        file.write(data)


# By the SQLite file format (sqlite.org/fileformat2.html): page size at 16, version at 60, application at 68.
DAMAGE = {
    "a text": ("damaged", lambda path: path.write_bytes(b"Dear diary, " * 500)),
    "zeros": ("damaged", lambda path: path.write_bytes(bytes(8192))),
    "half of it": ("damaged", lambda path: path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])),
    "its head": ("damaged", lambda path: overwritten(path, 0, b"X" * 16)),
    "its page size": ("damaged", lambda path: overwritten(path, 16, b"\3\3")),
    "its tables": ("damaged", lambda path: overwritten(path, 100, b"\x77" * 200)),
    "a page of rows": ("damaged", lambda path: overwritten(path, 4096, b"\x99" * 4096)),
    "another program's": ("not ours", lambda path: overwritten(path, 68, b"Best")),
    "nobody's": ("not ours", lambda path: overwritten(path, 68, bytes(4))),
    "a newer version": ("newer", lambda path: overwritten(path, 60, (99).to_bytes(4, "big"))),
}


@pytest.mark.parametrize("what", DAMAGE)
def test_a_file_that_is_not_sound_is_left_as_it_is(book, make_count, what):
    kept = book.keep(picture(), make_count({24: 1.0}), note="n" * 3000)
    code, spoil = DAMAGE[what]
    spoil(book.path)
    before = book.path.read_bytes()
    trouble(code, Notebook.open, book.path)
    assert book.path.read_bytes() == before
    # One that is spoiled under an open notebook never fails with anything but a line, either.
    for call in (
        lambda: book.entry(kept.key), book.listing, lambda: book.keep(picture(), make_count({24: 1.0})),
        lambda: exported(book),
    ):  # fmt: skip
        try:
            call()
        except NotebookError as error:
            assert "\n" not in str(error)


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE entry SET data = '{}', kept = 'x' WHERE key = ?",
        "UPDATE entry SET data = CAST(x'7b22ff227d' AS TEXT), title = CAST(x'ff41' AS TEXT) WHERE key = ?",
        "UPDATE entry SET data = 7, note = x'08' WHERE key = ?",
        "UPDATE entry SET data = NULL, state = 'well' WHERE key = ?",
        'UPDATE entry SET data = replace(data, \'"title": "\', \'"title": 3, "": "\'), likely = \'many\' WHERE key = ?',
        "UPDATE entry SET data = '[[' || data, stitches = 1e99, changed = x'00' WHERE key = ?",
    ],
)
def test_one_that_is_damaged_is_named_and_the_others_go_on(book, make_count, damage, tmp_path):
    sound, broken = (book.keep(picture(seed=n), make_count({24: 1.0}), title=str(n)) for n in range(2))
    with closing(sqlite3.connect(book.path)) as link:
        # Columns that may hold no NULL: as a damaged page would leave it.
        link.execute("PRAGMA writable_schema = ON")
        link.execute("UPDATE sqlite_master SET sql = replace(sql, ' NOT NULL', '') WHERE name = 'entry'")
        link.commit()
    with closing(sqlite3.connect(book.path)) as link:
        link.execute(damage, (broken.key,))
        link.commit()
    listing = book.listing()
    assert [line.key for line in listing.lines] == [sound.key] and listing.found == 2
    assert listing.damaged == (broken.key[:8],)
    assert broken.key[:8] in str(trouble("damaged count", book.entry, broken.key))
    file = io.BytesIO()
    done = book.export(file)
    assert done.counts == 1 and len(done.left_out) == 1 and broken.key[:8] in done.left_out[0]
    assert Notebook.open(tmp_path / "other.sqlite3").import_zip(file).added == 1


def test_a_photo_that_is_damaged_is_not_exported(book, make_count, tmp_path):
    sound, broken, cut = (book.keep(picture(seed=n), make_count({24: 1.0}), title=str(n)) for n in range(3))
    with closing(sqlite3.connect(book.path)) as link:
        link.execute("UPDATE photo SET large = x'00' WHERE key = ?", (broken.key,))
        link.execute("UPDATE photo SET large = substr(large, 1, length(large) / 2) WHERE key = ?", (cut.key,))
        link.commit()
    trouble("damaged count", book.photo, broken.key)
    file = io.BytesIO()
    done = book.export(file)
    assert done.counts == 1 and sorted(line[6:14] for line in done.left_out) == sorted([broken.key[:8], cut.key[:8]])
    other = Notebook.open(tmp_path / "other.sqlite3")
    assert other.import_zip(file).added == 1 and other.entry(sound.key).title == "0"


def test_what_is_damaged_in_a_zip_is_left_out_where_that_is_asked(book, pack, tmp_path):
    name = one_of(pack, "entries/")
    other = Notebook.open(tmp_path / "other.sqlite3")
    for bad in (
        only(pack, name, lambda old: b"[" * 100_000),
        only(pack, name, lambda old: old[: len(old) // 2]),
        only(pack, f"photos/{name[8:-5]}.jpg", lambda old: old[:-50]),
        repacked(pack, leave=[name]),
    ):
        trouble("import", other.import_zip, bad)
        assert other.listing().found == 0
        done = other.import_zip(bad, leave_out=True)
        assert (done.added, len(done.left_out)) == (1, 1) and name[8:16] in done.left_out[0]
        other.delete(*(line.key for line in other.listing().lines))
    for bad in (b"", repacked(pack, more=[("run.exe", b"MZ")])):
        trouble("import", lambda bad=bad: other.import_zip(bad, leave_out=True))


def test_what_stands_behind_a_photo_s_end_does_not_come_in(book, pack, tmp_path):
    name = f"photos/{one_of(pack, 'entries/')[8:-5]}.jpg"
    with zipfile.ZipFile(io.BytesIO(pack)) as opened:
        photo = opened.read(name)
    other = Notebook.open(tmp_path / "other.sqlite3")
    for more in (b"position: 52.5, 13.4\xff\xd9", b"\xff\xd9", b"\xff\xd8\xff\xe0\xff\xd9"):
        other.import_zip(only(pack, name, lambda old, more=more: old + more))
        with closing(sqlite3.connect(other.path)) as link:
            assert link.execute("SELECT large FROM photo WHERE key = ?", (name[7:39],)).fetchone()[0] == photo
        other.delete(*(line.key for line in other.listing().lines))


def test_only_so_much_of_written_rounds_is_read_while_they_come_in(book, make_count, tmp_path, monkeypatch):
    for n in range(3):
        book.keep(picture(seed=n), make_count({18: 1.0}), title=str(n), goal=Goal(plan=f"{PLAN}\n# {n}", round=3))
    monkeypatch.setattr(notebook, "MOST_PLAN_CHARACTERS", 2 * len(PLAN) + 20)
    values._planned.cache_clear()
    other = Notebook.open(tmp_path / "other.sqlite3")
    assert other.import_zip(exported(book)).added == 3
    lines = other.listing().lines
    assert sorted(str(line.expected) for line in lines) == ["18", "18", "None"]
    (late,) = (line for line in lines if line.expected is None)
    assert late.off_by is None and other.entry(late.key).off_by == 0
    other.change(other.entry(late.key), note="looked at")
    assert {line.expected for line in other.listing().lines} == {18}


def test_a_notebook_whose_making_was_cut_short_is_made_whole(tmp_path, make_count):
    path = tmp_path / "n.sqlite3"
    path.write_bytes(b"")
    Notebook.open(path).keep(picture(), make_count({24: 1.0}))
    assert Notebook.open(path).listing().found == 1


def test_no_folder_can_be_made(tmp_path):
    (tmp_path / "file").write_text("x")
    trouble("no file", Notebook.open, tmp_path / "file" / "n.sqlite3")
    trouble("no file", Notebook.open, tmp_path)


def test_a_file_that_was_taken_away(book, make_count):
    book.path.unlink()
    trouble("no file", book.listing)
    trouble("no file", book.keep, picture(), make_count({24: 1.0}))
    assert not book.path.exists()


# --- Versions ---


def test_an_older_notebook_is_brought_up(book, make_count, monkeypatch):
    kept = book.keep(picture(), make_count({24: 1.0}), title="old")
    more = ("ALTER TABLE entry ADD COLUMN yarn TEXT NOT NULL DEFAULT 'wool'", "CREATE INDEX by_yarn ON entry (yarn)")
    monkeypatch.setattr(notebook, "FILE", replace(FILE, steps=(*FILE.steps, more)))
    assert book.change(book.entry(kept.key), title="went on").title == "went on"  # brings it up, too
    again = Notebook.open(book.path)
    with closing(sqlite3.connect(book.path)) as link:
        assert link.execute("PRAGMA user_version").fetchone() == (len(FILE.steps) + 1,)
        assert link.execute("SELECT title, yarn FROM entry").fetchall() == [("went on", "wool")]
    assert again.entry(kept.key).title == "went on"
    monkeypatch.undo()
    trouble("newer", Notebook.open, book.path)
    trouble("newer", book.keep, picture(), make_count({24: 1.0}))


def without_answers(data):
    """An entry's data as version 1 had it."""
    del data["answers"], data["by_hand"]


def test_what_version_1_kept_is_read_and_brought_up(book, make_count, tmp_path):
    goal = Goal(expected=24)
    same = book.keep(picture(seed=1), make_count({24: 1.0}), goal=goal)
    made = own_marks(make_count({24: 1.0}))[:-1]
    less = book.keep(picture(seed=2), make_count({24: 1.0}), made, goal=goal)
    unsure = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=[(1, (320.0, 100.0), "?")])
    asked = book.keep(picture(seed=3), unsure, goal=goal)
    old_zip = only(with_count(exported(book), without_answers), "about.json", lambda _: json.dumps(
        {"format": archive.FORMAT, "version": 1, "counts": 3}).encode())  # fmt: skip
    with closing(sqlite3.connect(book.path)) as link, link:
        for key, data in link.execute("SELECT key, data FROM entry").fetchall():
            old = json.loads(data)
            without_answers(old)
            link.execute("UPDATE entry SET data = ? WHERE key = ?", (json.dumps(old, ensure_ascii=False), key))
        for column in ("off_by", "likely"):
            link.execute(f"ALTER TABLE entry DROP COLUMN {column}")
        link.execute("PRAGMA user_version = 1")

    again = Notebook.open(book.path)
    assert {line.key: line.off_by for line in again.listing().lines} == {same.key: 0, less.key: -1, asked.key: None}
    for entry in (same, less, asked):
        read = again.entry(entry.key)
        assert (read.answers, read.by_hand) == ((), entry is less) and read.state == entry.state
    # The zip of before is known to be here already, and comes in elsewhere.
    assert again.import_zip(old_zip) == values.Imported(0, 3)
    other = Notebook.open(tmp_path / "other" / "n.sqlite3")
    assert other.import_zip(old_zip) == values.Imported(3, 0)
    assert again.import_zip(exported(other)) == values.Imported(0, 3)
    assert again.change(again.entry(asked.key), answers=[0]).state == "counted by a person"


def test_places_in_doubt_that_were_kept_as_sentences_have_their_kind(book, make_count, tmp_path):
    doubts = [(1, (320.0, 100.0), words.IN_DOUBT[kind], kind) for kind in words.IN_DOUBT] + [(5, (300.0, 100.0), "?")]
    count = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=doubts)
    kept = book.keep(picture(), count)
    assert book.entry(kept.key).count.doubts == count.doubts

    def before(data):
        for doubt, (_, _, _, *kind) in zip(data["count"]["doubts"], doubts, strict=True):
            del doubt["kind"]
            # What was said then, whatever is said now.
            doubt["why"] = next((said for said, of in codec.KIND_OF.items() if [of] == kind), "?")

    old_zip = only(with_count(exported(book), before), "about.json", lambda _: json.dumps(
        {"format": archive.FORMAT, "version": 2, "counts": 1}).encode())  # fmt: skip
    other = Notebook.open(tmp_path / "other" / "n.sqlite3")
    assert other.import_zip(old_zip) == values.Imported(1, 0)
    assert other.entry(kept.key).count.doubts == count.doubts
    assert book.import_zip(old_zip) == values.Imported(0, 1)
    for bad in ("wool", 3, None):
        wrong = with_count(exported(book), lambda data, bad=bad: data["count"]["doubts"][0].update(kind=bad))
        trouble("import", other.import_zip, wrong)


def test_answers_are_kept_and_settle_only_when_all_are_given(book, make_count):
    doubts = [(1, (320.0, 100.0), "a"), (5, (300.0, 100.0), "b")]
    count = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=doubts)
    kept = book.keep(picture(), count, answers=[0, None], goal=Goal(expected=24))
    assert (book.entry(kept.key).answers, kept.state, kept.off_by) == ((0, None), "not sure", None)
    # An answer that takes a mark away leaves the other place in doubt.
    kept = book.change(kept, marks=kept.marks[1:], answers=[-1, None])
    assert (kept.by_hand, kept.state, kept.off_by, kept.settled.sure) == (False, "not sure", None, False)
    assert book.listing("not sure 23").found == 1
    kept = book.change(kept, answers=[-1, 0])
    assert (kept.state, kept.off_by) == ("counted by a person", -1)
    assert book.listing("by you, short by 1".replace(",", "")).found == 1 == book.listing("23 stitches").found
    for wrong in ([2], [True], [0.5], ["0"], [0, 0, 0]):
        with pytest.raises(ValueError):
            book.change(kept, answers=wrong)


SPLIT = "there may be two stitches here"


@pytest.fixture
def open_ones(book, make_count, monkeypatch):
    """Kept counts with all the numbers that each may be, by title; kept on a day without any of these numbers."""
    for room in (notebook, codec):
        monkeypatch.setattr(room, "this_moment", lambda: checks.moment_of("2031-05-04T10:00:00+00:00"))
    doubts = [(1, (320.0, 120.0), SPLIT), (13, (320.0, 520.0), SPLIT)]
    count = make_count({24: 0.5, 25: 0.3, 26: 0.15, 23: 0.05}, sure=False, doubts=doubts)
    made = own_marks(count)
    more = [*made, KeptMark(1.0, 2.0)]
    book.keep(picture(), make_count({24: 1.0}), title="sure")
    book.keep(picture(), count, title="open")
    book.keep(picture(), count, more, title="one answer", answers=[1, None])
    book.keep(picture(), count, more, title="both answers", answers=[1, 0])
    book.keep(picture(), count, made[1:], title="by hand", answers=[None, None], by_hand=True)
    book.keep(picture(), count, title="looked at", confirmed=True)
    return {
        "sure": (24,), "open": (23, 24, 25, 26), "one answer": (25, 26), "both answers": (25,), "by hand": (22, 23, 24, 25),
        "looked at": (24,),
    }  # fmt: skip


def test_all_the_numbers_that_it_may_be_are_listed(book, open_ones):
    lines = {line.title: line for line in book.listing().lines}
    assert {title: line.likely for title, line in lines.items()} == open_ones
    assert {title: book.entry(line.key).likely for title, line in lines.items()} == open_ones
    assert {line.title for line in book.listing("25 or 26").lines} == {"open", "one answer"}
    with zipfile.ZipFile(io.BytesIO(exported(book))) as pack:
        sheet = list(csv.DictReader(io.StringIO(pack.read("notebook.csv").decode("utf-8-sig"), newline="")))
    said = {row["title"]: (row["stitches"], row["it may be"]) for row in sheet}
    assert (said["open"], said["one answer"], said["sure"]) == (
        ("24", "23, 24, 25 or 26"), ("25", "25 or 26"), ("24", "24"),
    )  # fmt: skip
    key = lines["one answer"].key
    book.change(book.entry(key), answers=[1, 1])
    (line,) = book.listing("one answer").lines
    assert (line.likely, book.listing("25 or 26").found) == ((25,), 1)


def test_what_version_2_kept_gets_the_numbers_that_it_may_be(book, open_ones, tmp_path):
    before = exported(book)
    with closing(sqlite3.connect(book.path)) as link, link:
        for title in open_ones:
            link.execute("UPDATE entry SET sought = ? WHERE title = ?", (f"{title}\n24 stitches", title))
        # One that is not sound keeps none of the others from being brought up.
        link.execute("UPDATE entry SET data = '[]' WHERE title = 'by hand'")
        link.execute("ALTER TABLE entry DROP COLUMN likely")
        link.execute("PRAGMA user_version = 2")
    likely = {line.title: line.likely for line in Notebook.open(book.path).listing().lines}
    assert likely == open_ones | {"by hand": (23,)}  # what isn't sound has the number of its marks alone
    assert {line.title for line in book.listing("25 or 26").lines} == {"open", "one answer"}
    assert book.listing("24 stitches").found == len(open_ones)
    # What is exported is not another for it, so that versions of before and after read each other's.
    assert json.loads(zipfile.ZipFile(io.BytesIO(before)).read("about.json"))["version"] == archive.FORMAT_VERSION
    other = Notebook.open(tmp_path / "other.sqlite3")
    other.import_zip(before)
    assert {line.title: line.likely for line in other.listing().lines} == open_ones


def test_a_step_that_fails_changes_nothing(book, make_count, monkeypatch):
    book.keep(picture(), make_count({24: 1.0}))
    before = book.path.read_bytes()
    twice = ("CREATE TABLE a (b)", "CREATE TABLE a (b)")
    monkeypatch.setattr(notebook, "FILE", replace(FILE, steps=(*FILE.steps, twice)))
    with pytest.raises(NotebookError):
        Notebook.open(book.path)
    monkeypatch.undo()
    assert book.path.read_bytes() == before and Notebook.open(book.path).listing().found == 1


# --- Disk and permissions ---


def test_a_full_disk(book, make_count, monkeypatch):
    kept = book.keep(picture(), make_count({24: 1.0}))
    pages = book.path.stat().st_size // 4096
    monkeypatch.setattr(database, "SETUP", (*database.SETUP, f"PRAGMA max_page_count = {pages + 2}"))
    before = book.path.read_bytes()
    trouble("full", book.keep, picture(seed=2), make_count({24: 1.0}))
    trouble("full", book.change, kept, note="x" * 4000, goal=Goal(plan="sc " * 9000))
    assert book.path.read_bytes() == before
    monkeypatch.setattr(notebook, "LEAST_FREE_BYTES", 10**18)
    monkeypatch.setattr(database, "SETUP", database.SETUP[:-1])
    assert "would be left" in str(trouble("full", book.keep, picture(), make_count({24: 1.0})))
    assert book.listing().found == 1


@contextmanager
def nobody():
    """As a user who may not do everything; the superuser may write whatever the permissions say."""
    if os.geteuid():
        yield
        return
    codecs.lookup("utf-8-sig")  # nobody may not read the interpreter's own files, where it lies in a home
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.skipif(os.name == "nt", reason="permissions as Unix has them")
def test_where_it_may_be_read_but_not_written(make_count):
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        inside = Path(folder) / "kept"
        inside.mkdir()
        if not os.geteuid():
            os.chown(inside, 65534, 65534)
        with nobody():
            book = Notebook.open(inside / "n.sqlite3")
            kept = book.keep(picture(), make_count({24: 1.0}))
            for path, mode in ((book.path, 0o400), (inside, 0o500)):
                usual = path.stat().st_mode
                path.chmod(mode)
                trouble("read-only", book.keep, picture(), make_count({24: 1.0}))
                trouble("read-only", book.change, kept, title="x")
                trouble("read-only", book.delete, kept.key)
                assert Notebook.open(book.path).entry(kept.key).title == "" and exported(book)
                path.chmod(usual)
            inside.chmod(0o500)
            trouble("no file", Notebook.open, inside / "other.sqlite3")
            inside.chmod(0o700)
            book.path.chmod(0)
            trouble("no file", book.listing)


def test_another_program_holds_it(book, make_count, monkeypatch):
    kept = book.keep(picture(), make_count({24: 1.0}))
    monkeypatch.setattr(notebook, "BUSY_TIMEOUT_S", 0.1)
    with closing(sqlite3.connect(book.path, isolation_level=None)) as link:
        link.execute("BEGIN EXCLUSIVE")
        for call in (
            lambda: book.keep(picture(), make_count({24: 1.0})), lambda: book.change(kept, note="x"),
            lambda: book.delete(kept.key), book.listing, lambda: Notebook.open(book.path), lambda: exported(book),
        ):  # fmt: skip
            trouble("locked", call)
        link.execute("ROLLBACK")
    assert book.change(kept, note="x").note == "x"


def test_no_more_than_so_many(book, make_count, monkeypatch):
    for room in (notebook, archive):
        monkeypatch.setattr(room, "MOST_ENTRIES", 2)
    for k in range(2):
        kept = book.keep(picture(seed=k), make_count({24: 1.0}))
    trouble("too many", book.keep, picture(), make_count({24: 1.0}))
    assert book.change(kept, note="still").note == "still" and book.listing().found == 2


# --- Several at once, and crashes ---

WORKER = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[3])
import numpy as np
from making import make_count as make
from counter.notebook.store import Notebook
from counter.basics.photo import Photo
book, name = Notebook.open(sys.argv[1]), sys.argv[2]
for k in range(10**6 if name == "endless" else 6):
    photo = Photo(np.full((640, 640, 3), k % 251, np.uint8))
    kept = book.keep(photo, make({24: 1.0}), title=f"{name} {k}")
    print("kept", kept.key, flush=True)
    for n in range(3):
        kept = book.change(kept, marks=kept.marks[:-1], note=f"note {n}")
        print("changed", kept.key, n, flush=True)
"""


def worker(path, name):
    return subprocess.Popen(
        [sys.executable, "-W", "error", "-c", WORKER, str(path), name, str(Path(__file__).parent)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def test_several_processes_and_threads_at_once(tmp_path, make_count):
    path = tmp_path / "n.sqlite3"  # none has made it yet
    workers = [worker(path, f"w{k}") for k in range(3)]
    book = Notebook.open(path)

    def keep(k):
        return book.keep(picture(seed=k), make_count({24: 1.0}), title=f"thread {k}")

    with ThreadPoolExecutor(4) as threads:
        assert len({entry.key for entry in threads.map(keep, range(8))}) == 8
    for process in workers:
        printed, errors = process.communicate(timeout=120)
        assert process.returncode == 0 and not errors, errors
        assert len(printed.splitlines()) == 6 * 4
    assert Notebook.open(path).listing().found == 3 * 6 + 8
    assert all(line.stitches == 21 for line in book.listing("note", most=100).lines)


@pytest.mark.skipif(os.name == "nt", reason="signals as Unix has them")
@pytest.mark.parametrize("after", [0.0, 0.004, 0.013, 0.05])
def test_a_crash_loses_nothing_that_was_saved(tmp_path, after):
    path = tmp_path / "n.sqlite3"
    process = worker(path, "endless")
    told = [process.stdout.readline() for _ in range(9)]
    time.sleep(after)
    process.send_signal(signal.SIGKILL)
    with process:  # not communicate(), which passes over what was read ahead
        told += process.stdout.read().splitlines()
        errors = process.stderr.read()
    assert len(told) >= 9 and not errors
    book = Notebook.open(path)  # looks at the whole file
    kept = {}
    for line in filter(None, map(str.split, told)):
        kept[line[1]] = -1 if line[0] == "kept" else int(line[2])
    for key, last in kept.items():
        entry = book.entry(key)
        done = -1 if not entry.note else int(entry.note.split()[1])
        # The one that was under way may have been saved without being told.
        assert done in (last, last + 1) and len(entry.marks) == 24 - (done + 1)
        assert book.photo(key).width == 640
    assert book.listing().found - len(kept) in (0, 1)
    assert book.import_zip(exported(book)).added == 0


# --- Whether there is one ---


LOCAL = {"Host": "localhost:8501", "Origin": "http://localhost:8501", "User-Agent": "x"}


@pytest.mark.parametrize(
    ("address", "headers", "local"),
    [
        ("localhost", LOCAL, True),
        ("127.0.0.1", {"host": "127.0.0.1:8501", "origin": "http://127.0.0.1:8501"}, True),
        # What says no origin is no browser (RFC 6455, 10.2).
        ("127.0.0.1", {"host": "127.0.0.1:8501"}, False),
        ("::1", {"Host": "[::1]:8501", "Origin": "http://[::1]:8501"}, True),
        ("127.0.0.1", {"Host": "LOCALHOST", "Origin": "HTTP://LOCALHOST"}, True),
        (None, LOCAL, False),
        ("", LOCAL, False),
        ("0.0.0.0", LOCAL, False),
        ("192.168.1.5", LOCAL, False),
        ("localhost", {}, False),
        ("localhost", {"Host": ""}, False),
        ("localhost", LOCAL | {"Host": "studio.example:8501"}, False),
        ("localhost", LOCAL | {"Host": "127.0.0.1.studio.example"}, False),
        ("localhost", LOCAL | {"Host": "localhost@studio.example"}, False),
        ("localhost", LOCAL | {"Host": "localhost:8501:studio.example"}, False),
        # A proxy that hides the host still lets the browser say where it comes from.
        ("localhost", LOCAL | {"Origin": "https://studio.example"}, False),
        ("localhost", LOCAL | {"Origin": "null"}, False),
        ("localhost", LOCAL | {"Origin": "https://localhost.studio.example"}, False),
        ("localhost", LOCAL | {"X-Forwarded-For": "127.0.0.1"}, False),
        ("localhost", LOCAL | {"x-forwarded-proto": "https"}, False),
        ("localhost", LOCAL | {"Forwarded": "for=127.0.0.1"}, False),
        ("localhost", LOCAL | {"Via": "1.1 proxy"}, False),
        ("localhost", LOCAL | {"X-Real-IP": "127.0.0.1"}, False),
    ],
)
def test_who_sits_at_the_machine(address, headers, local):
    assert is_local(address, headers) is local


@pytest.mark.parametrize(
    ("local", "switch", "kind"),
    [
        (True, None, "own"), (True, "", "own"), (True, "on", "own"), (True, "off", "off"), (True, "maybe", "off"),
        (False, None, "off"), (False, "", "off"), (False, "off", "off"), (False, "yes", "off"), (False, "1", "off"),
        (False, "on", "shared"), (False, " ON ", "shared"),
    ],
)  # fmt: skip
def test_which_notebook_a_visitor_has(local, switch, kind):
    assert turned_on(local, switch) == kind


@pytest.fixture
def data_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(notebook, "_folder", lambda: tmp_path / "data")
    return tmp_path / "data"


def test_the_user_s_own(data_folder, make_count):
    open_own().keep(picture(), make_count({24: 1.0}))
    assert open_own().listing().found == 1 and (data_folder / "notebook.sqlite3").is_file()


@pytest.mark.skipif(sys.platform != "linux", reason="folders by the XDG Base Directory Specification")
def test_it_lies_in_the_user_s_data_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert open_own().path.parent == tmp_path / "rimtally"


def test_a_notebook_in_which_nothing_is_kept_goes_after_30_days(data_folder, make_count):
    books = {name: new_shared() for name in ("old and empty", "old", "empty")}
    books["old"][1].keep(picture(), make_count({24: 1.0}))
    long_ago = time.time() - (notebook.EMPTY_DAYS + 1) * 86400
    for name in ("old and empty", "old"):
        os.utime(books[name][1].path, (long_ago, long_ago))
    broken = data_folder / "shared" / "broken.sqlite3"
    broken.write_bytes(b"no notebook")
    os.utime(broken, (long_ago, long_ago))
    new_shared()
    assert open_shared(books["old and empty"][0]) is None and broken.exists()
    assert open_shared(books["old"][0]).listing().found == 1 and open_shared(books["empty"][0]) is not None


def test_on_a_server_each_sees_their_own(data_folder, make_count, monkeypatch):
    code, mine = new_shared()
    other, theirs = new_shared()
    mine.keep(picture(), make_count({24: 1.0}), title="mine")
    assert code != other and theirs.listing().found == 0
    assert open_shared(f" {code.upper().replace('-', ' ')} ").listing().lines[0].title == "mine"
    before = sorted(path.name for path in data_folder.rglob("*"))
    for wrong in ("", "notebook", code[:-1], "../../notebook", "\0", "x" * 10_000):
        assert open_shared(wrong) is None
    assert sorted(path.name for path in data_folder.rglob("*")) == before
    assert not any(code.replace("-", "") in name for name in before)
    # 20 letters of a base of 32 (RFC 4648) are 100 bits.
    assert len(code.replace("-", "")) == 20 and set(code) <= set("abcdefghijklmnopqrstuvwxyz234567-")
    monkeypatch.setattr(notebook, "MOST_NOTEBOOKS", 2)
    trouble("no more notebooks", new_shared)
