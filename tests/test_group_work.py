"""A group's folder is counted, kept beside the photos, and gone on with."""

import contextlib
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import ExifTags, Image

from counter.basics.answer import Count, Refusal
from counter.cli import main
from counter.group import work
from counter.group.audit import Group
from counter.group.store import NAME, STEPS, Answer, Correction, GroupError, GroupFile, Part, Typed
from counter.group.table import said_before

SAMPLES = Path(__file__).parents[1] / "sample_images"
PLAN = "6, 12, 18, 24, 30, 36"


def copied(folder, **photos):
    for place, sample in photos.items():
        path = folder / place.replace("__", "/")
        path = path.with_name(path.name + ".jpg")
        path.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(SAMPLES / f"{sample}.jpg", path)


@pytest.fixture(scope="module")
def counted(tmp_path_factory):
    """Good photos of two makers and every kind of bad file among them, counted once on two processes."""
    folder = tmp_path_factory.mktemp("group")
    copied(folder, ada__r4="blue-disc", ada__r6="green-disc-on-wood", bo__r4="plate", bo__r5="one-increase-missed")
    shutil.copy(folder / "ada" / "r4.jpg", folder / "ada" / "r5.jpg")  # the same photo twice
    whole = (SAMPLES / "striped.jpg").read_bytes()
    (folder / "bo" / "r1.jpg").write_bytes(b"")
    (folder / "bo" / "r2.jpg").write_bytes(b"no picture at all")
    (folder / "bo" / "r3.jpg").write_bytes(whole[: len(whole) // 3])
    (folder / "bo" / "r6.jpg").symlink_to(folder / "gone.jpg")
    os.mkfifo(folder / "bo" / "r7.jpg")
    frames = [Image.new("RGB", (300, 300), shade) for shade in ("red", "blue")]
    frames[0].save(folder / "bo" / "r8.gif", save_all=True, append_images=frames[1:])
    Image.new("RGB", (50, 50)).save(folder / "ada" / "swatch.png")
    group = Group.open(folder, plan=PLAN, names="{maker}/{round}")
    told = []
    group.count(group.stock(), workers=2, progress=told.append)
    return folder, told


def laid_out(folder):
    group = Group.open(folder)
    return group.lay_out(group.stock())


def facts(table):
    return [
        (line.place.photo, line.need, line.state, line.likely, line.expected, line.off_by, line.words, line.chosen)
        for line in table.lines
    ]


def test_good_photos_are_counted_and_bad_ones_listed_with_their_reason(counted):
    table = laid_out(counted[0])
    by_photo = {line.place.photo: line for line in table.lines}
    assert len(by_photo) == 12
    for name in ("ada/r4.jpg", "ada/r6.jpg", "bo/r5.jpg"):
        assert isinstance(by_photo[name].answer, Count)
    assert by_photo["ada/r4.jpg"].likely[0] == 24 and by_photo["ada/r4.jpg"].expected == 24
    refused = {name: line.answer.code for name, line in by_photo.items() if isinstance(line.answer, Refusal)}
    assert refused == {
        "bo/r1.jpg": "empty", "bo/r2.jpg": "not a picture", "bo/r3.jpg": "truncated", "bo/r4.jpg": "no piece",
        "bo/r6.jpg": "not a picture", "bo/r7.jpg": "not a picture", "bo/r8.gif": "animated",
        "ada/swatch.png": "no piece",
    }  # fmt: skip
    assert all(by_photo[name].words for name in refused)
    assert not by_photo["ada/swatch.png"].place.matched and not by_photo["bo/r7.jpg"].place.matched
    assert table.makers == ("ada", "bo") and table.rounds == (1, 2, 3, 4, 5, 6)
    needs = [line.need for line in table.lines]
    assert needs == sorted(needs, key=("again", "look", "off", "counted", "agrees").index)
    assert "of 12 agree" in table.summary and "8 to take again" in table.summary


def test_progress_says_how_far_it_is(counted):
    told = counted[1]
    assert [own.done for own in told] == list(range(len(told))) and told[0].of == len(told) - 1 == 9
    assert all(own.left is not None and own.left >= 0 for own in told[2:]) and told[-1].left == 0


def test_rerun_counts_only_what_is_new_or_changed(counted, tmp_path):
    folder = tmp_path / "group"
    shutil.copytree(counted[0], folder, symlinks=True, ignore=shutil.ignore_patterns("r7.jpg"))
    before = facts(laid_out(folder))
    group = Group.open(folder)
    assert group.stock().todo == ()
    # A photo under another name is known; one that was taken again isn't.
    (folder / "ada" / "r4.jpg").rename(folder / "ada" / "r3.jpg")
    shutil.copy(SAMPLES / "plate.jpg", folder / "ada" / "r6.jpg")
    os.utime(folder / "ada" / "r6.jpg", (1, 1))
    assert Group.open(folder).stock().todo == ()  # the plate was counted as bo's
    shutil.copy(SAMPLES / "striped.jpg", folder / "ada" / "r6.jpg")
    assert [photo for photo, _ in Group.open(folder).stock().todo] == ["ada/r6.jpg"]
    assert before != facts(laid_out(folder))


def test_other_program_counts_anew_and_other_plan_only_compares_anew(counted, monkeypatch):
    folder = counted[0]
    group = Group.open(folder)
    other = replace(group, plan=Group.open(folder, plan="6, 12, 18, 25, 30, 36").plan)
    job = other.stock()
    assert job.todo == ()
    line = next(line for line in other.lay_out(job).lines if line.place.photo == "ada/r4.jpg")
    assert line.expected == 25 and line.likely[0] == 24
    Group.open(folder, plan=PLAN)
    monkeypatch.setattr(work, "program", lambda: "another")
    assert len(group.stock().todo) == 9


def test_what_a_person_says_stands_beside_and_survives_a_recount(counted, tmp_path):
    folder = tmp_path / "group"
    shutil.copytree(counted[0], folder, symlinks=True, ignore=shutil.ignore_patterns("r7.jpg"))
    table = laid_out(folder)
    line = next(line for line in table.lines if line.place.photo == "bo/r5.jpg")
    book = GroupFile.open(folder / NAME)
    now = datetime(2031, 5, 4, tzinfo=UTC)
    book.correct(
        line.content, 0, Correction(now, "marks", said_before(line), "x", replace(line.automatic, confirmed=True))
    )
    first = next(line for line in laid_out(folder).lines if line.place.photo == "bo/r5.jpg")
    assert first.state == "counted by a person" and first.probability is None and first.off_by == first.likely[0] - 30
    assert first.automatic == line.automatic or first.automatic.count.likely == line.automatic.count.likely
    assert first.said[0].made == now and first.said[0].before == said_before(line)
    # Counted again by a newer program: the person's word stays.
    answers = book.answers([line.content])
    book.add(replace(answers[line.content], program="newer"))
    assert facts(laid_out(folder)) == facts(laid_out(folder))
    assert next(x for x in laid_out(folder).lines if x.place.photo == "bo/r5.jpg").state == "counted by a person"
    book.correct(line.content, 0, Correction(now, "total", said_before(first), "30, counted by a person"))
    second = next(line for line in laid_out(folder).lines if line.place.photo == "bo/r5.jpg")
    assert (second.need, second.likely, second.off_by) == ("agrees", (30,), 0)
    book.correct(line.content, 0, Correction(now, "again", said_before(second), "again"))
    assert next(x for x in laid_out(folder).lines if x.place.photo == "bo/r5.jpg").need == "again"
    book.correct(line.content, 0, Correction(now, "back", "again", said_before(line)))
    last = next(x for x in laid_out(folder).lines if x.place.photo == "bo/r5.jpg")
    assert (last.need, last.state, last.likely) == (line.need, line.state, line.likely) and len(last.said) == 4


def test_names_are_editable_and_kept(counted, tmp_path):
    folder = tmp_path / "group"
    shutil.copytree(counted[0], folder, symlinks=True, ignore=shutil.ignore_patterns("r7.jpg"))
    GroupFile.open(folder / NAME).type("ada/swatch.png", Typed("Cy", 2))
    table = laid_out(folder)
    assert "Cy" in table.makers
    assert "Cy" in Group.open(folder).lay_out(Group.open(folder).stock()).makers


def test_two_photos_of_one_round_are_both_listed_and_the_surest_counts(counted):
    group = Group.open(counted[0])
    table = {"ada/r4.jpg": ("ada", 4), "bo/r5.jpg": ("ada", 4)}
    told = replace(group, table=table)
    laid = told.lay_out(told.stock())
    own = [line for line in laid.lines if (line.place.maker, line.place.round) == ("ada", 4)]
    assert len(own) == 2 and [line.chosen for line in own].count(True) == 1
    assert any("2 photos of one round" in notice for notice in laid.notices)


# --- the file ---


def test_newer_damaged_and_foreign_files_are_left_as_they_are(tmp_path):
    copied(tmp_path, r1="blue-disc")
    path = tmp_path / NAME
    GroupFile.open(path)
    with closing(sqlite3.connect(path)) as link:
        link.execute(f"PRAGMA user_version = {len(STEPS) + 1}")
    newer = path.read_bytes()
    with pytest.raises(GroupError, match="newer version"):
        GroupFile.open(path)
    assert path.read_bytes() == newer
    path.write_bytes(b"not a database, but long enough to look like one" * 100)
    with pytest.raises(GroupError, match="damaged"):
        GroupFile.open(path)
    path.unlink()
    with closing(sqlite3.connect(path)) as link:
        link.execute("CREATE TABLE theirs (x)")
    with pytest.raises(GroupError, match="something else"):
        GroupFile.open(path)


def test_full_disk_is_one_line_and_keeps_what_there_is(counted, tmp_path):
    folder = tmp_path / "group"
    shutil.copytree(counted[0], folder, symlinks=True, ignore=shutil.ignore_patterns("r7.jpg"))
    book = GroupFile.open(folder / NAME)
    before = facts(laid_out(folder))

    class Small(GroupFile):
        def _link(self):
            return _Capped(GroupFile._link(self))

    full = Small(book.path)
    with pytest.raises(GroupError, match="disk is full"):
        full.add(Answer("0" * 64, "x", (Part(Refusal("empty"), small=bytes(4_000_000)),)))
    assert facts(laid_out(folder)) == before


class _Capped:
    """A connection whose file may not grow: SQLite answers as it does on a full disk (SQLITE_FULL)."""

    def __init__(self, link):
        self.link = link

    def __enter__(self):
        own = self.link.__enter__()
        own.execute("PRAGMA max_page_count = 1").fetchall()
        return own

    def __exit__(self, *error):
        return self.link.__exit__(*error)


# --- the command line ---


def run(capsys, *arguments):
    code = main([str(argument) for argument in arguments])
    printed = capsys.readouterr()
    return code, printed.out, printed.err


def test_command_line_shows_the_guess_before_it_is_used(tmp_path, capsys):
    copied(tmp_path, ada__r4="plate", bo__r4="plate")
    plan = tmp_path / "plan.txt"
    plan.write_text(PLAN)
    code, out, err = run(capsys, "audit", tmp_path, "--plan", plan)
    assert code == 2 and "ada/r4.jpg -> ada, round 4" in out and "is a guess" in err and err.count("\n") == 1
    assert GroupFile.open(tmp_path / NAME).counted(work.program()) == set()
    code, out, _ = run(capsys, "audit", tmp_path, "--match")
    assert code == 0 and "bo/r4.jpg -> bo, round 4" in out
    code, out, _ = run(capsys, "audit", tmp_path, "--yes")  # the plan is that of the last run
    assert code == 0 and "2 to take again" in out
    code, out, _ = run(capsys, "audit", tmp_path)  # the pattern, too
    assert code == 0 and "2 to take again" in out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--names", "{maker}"], "must hold"),
        (["--table", "none.csv"], "no such file"),
        (["--plan", "none.txt"], "no such file"),
        (["--scheduler", "tcp://127.0.0.1:9", "--yes"], "No scheduler answers"),
        (["--scheduler", "nonsense", "--yes"], "No scheduler answers"),
    ],
)
def test_bad_use_is_one_line(tmp_path, capsys, monkeypatch, arguments, told):
    monkeypatch.setattr("counter.group.work.CLUSTER_TIMEOUT_S", 1)  # nobody answers there, however long one waits
    copied(tmp_path, ada__r4="plate", bo__r4="plate")
    (tmp_path / "plan.txt").write_text(PLAN)
    given = arguments if "--plan" in arguments else ["--plan", tmp_path / "plan.txt", *arguments]
    code, _, err = run(capsys, "audit", tmp_path, *given)
    assert code == 2 and told in err and err.count("rimtally:") == 1 and len(err.splitlines()) <= 2


def test_folder_without_plan_or_photos_is_one_line(tmp_path, capsys):
    code, _, err = run(capsys, "audit", tmp_path)
    assert code == 2 and "no photo" in err and not (tmp_path / NAME).exists()
    copied(tmp_path, ada__r4="plate")
    code, _, err = run(capsys, "audit", tmp_path)
    assert code == 2 and "plan" in err and not (tmp_path / NAME).exists()


# --- many machines ---


@pytest.mark.slow
def test_cluster_counts_the_same_though_a_worker_is_killed(counted, tmp_path):
    distributed = pytest.importorskip("distributed", reason="this test needs a Dask cluster (extra 'cluster')")
    names = ("blue-disc", "striped", "plate", "green-disc-on-wood", "one-increase-missed")
    copied(tmp_path, **{f"ada__r{n}": name for n, name in enumerate(names, start=2)})
    group = Group.open(tmp_path, plan=PLAN, names="{maker}/{round}")
    job, killed, told = group.stock(), [], []
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as cluster:

        def progress(now):
            told.append(now)
            if now.done == 1 and not killed:
                nanny = next(iter(cluster.workers.values()))
                killed.append(nanny.pid)
                os.kill(nanny.pid, signal.SIGKILL)

        group.count(job, scheduler=cluster.scheduler_address, progress=progress)
    assert killed and told[-1].done == len(names)
    assert group.stock().todo == ()
    # Here and there the same comes out.
    here = {line.content: line.likely for line in laid_out(counted[0]).lines}
    there = {line.content: line.likely for line in group.lay_out(job).lines}
    same = here.keys() & there.keys()
    assert len(same) == 4 and all(here[content] == there[content] for content in same)


# --- killed ---


def _group_lives(group):
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.slow
def test_killed_run_is_gone_on_with(tmp_path):
    photos = {f"{maker}__r{n}": name for maker in ("ada", "bo") for n, name in ((3, "blue-disc"), (4, "striped"))}
    copied(tmp_path, **photos)
    for path in tmp_path.rglob("*.jpg"):  # so that no two are the same photo
        with Image.open(path) as picture:
            picture.rotate(90 * (path.parent.name == "bo"), expand=True).save(path, quality=95)
    (tmp_path / "plan.txt").write_text(PLAN)
    command = [sys.executable, "-m", "counter", "audit", str(tmp_path), "--plan", str(tmp_path / "plan.txt"), "--yes"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
    book = tmp_path / NAME
    until = time.monotonic() + 120
    while time.monotonic() < until:
        if book.exists() and GroupFile(book).counted(work.program()):
            break
        time.sleep(0.05)
    process.kill()  # the process alone
    process.wait()
    while time.monotonic() < until and _group_lives(process.pid):
        time.sleep(0.1)
    assert not _group_lives(process.pid)  # its workers ended by themselves
    kept = GroupFile.open(book).counted(work.program())
    assert 1 <= len(kept) <= 4
    group = Group.open(tmp_path)
    assert len(group.stock().todo) == 4 - len(kept)
    group.count(group.stock(), workers=2)
    table = facts(group.lay_out(group.stock()))
    # An undisturbed run ends with the same.
    book.unlink()
    group = Group.open(tmp_path, plan=PLAN, names="{maker}/{round}")
    group.count(group.stock(), workers=2)
    assert facts(group.lay_out(group.stock())) == table


def _workers_of(parent):
    """Numbers of the worker processes of a process."""
    found = []
    for folder in Path("/proc").iterdir():
        with contextlib.suppress(OSError, ValueError, IndexError):
            if int((folder / "stat").read_text().rpartition(")")[2].split()[1]) == parent:
                found += [int(folder.name)] * (b"popen_loky" in (folder / "cmdline").read_bytes())
    return found


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="this test finds processes as Linux lists them")
def test_workers_end_though_the_run_is_killed_before_their_first_photo(tmp_path):
    copied(tmp_path, ada__r3="blue-disc", bo__r3="striped")
    (tmp_path / "plan.txt").write_text(PLAN)
    command = [sys.executable, "-m", "counter", "audit", str(tmp_path), "--plan", str(tmp_path / "plan.txt"), "--yes"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
    while not (workers := _workers_of(process.pid)):
        assert process.poll() is None  # no fixed wait: it begins workers or ends
    process.kill()  # the process alone, while its workers still load what they need
    process.wait()
    assert workers and not GroupFile.open(tmp_path / NAME).counted(work.program())
    until = time.monotonic() + 120  # patience for a busy machine
    while time.monotonic() < until and _group_lives(process.pid):
        time.sleep(0.1)
    lives = _group_lives(process.pid)
    if lives:
        os.killpg(process.pid, signal.SIGKILL)
    assert not lives


# --- several pieces in one photo ---


def test_every_piece_of_a_photo_is_counted(tmp_path):
    with Image.open(SAMPLES / "blue-disc.jpg") as picture:
        own = picture.convert("RGB")
    both = Image.new("RGB", (2 * own.width, own.height), own.getpixel((5, 5)))
    both.paste(own, (0, 0))
    both.paste(own.rotate(180), (own.width, 0))
    (tmp_path / "ada").mkdir()
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "A camera of somebody's"
    exif.get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitude] = (52.0, 31.0, 12.0)
    both.save(tmp_path / "ada" / "r4.jpg", quality=95, exif=exif)
    assert b"Exif" in (tmp_path / "ada" / "r4.jpg").read_bytes()
    group = Group.open(tmp_path, plan=PLAN, names="{maker}/{round}")
    group.count(group.stock(), workers=1)
    # Neither device nor place is kept beside the photos.
    kept = (tmp_path / NAME).read_bytes()
    assert b"Exif" not in kept and b"somebody's" not in kept
    table = group.lay_out(group.stock())
    assert [(line.piece, line.pieces, 24 in line.likely) for line in sorted(table.lines, key=lambda x: x.piece)] == [
        (0, 2, True), (1, 2, True),
    ]  # fmt: skip
    assert any("2 pieces in one photo" in notice for notice in table.notices)
    # From left to right, each in its own part of the photo, with its marks where they are.
    content = table.lines[0].content
    parts = group.book.answers([content])[content].parts
    assert parts[0].box[0] < own.width / 4 and parts[1].box[0] > own.width / 2
    for line in table.lines:
        photo = group.photo(line)
        assert (photo.width, photo.height) == line.answer.size
        marks = np.rint(line.answer.marks).astype(int)
        red, _, blue = photo.pixels[marks[:, 1], marks[:, 0]].astype(int).T
        assert np.median(blue - red) > 40  # on the yarn
