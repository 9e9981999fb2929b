import errno
import io
import json
import os
import shutil
import socket
import sqlite3
import stat
import subprocess
import sys
import zipfile
from contextlib import closing
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from counter.basics.answer import InProgress, Refusal
from counter.basics.photo import Photo
from counter.cli import main
from counter.counting import count
from counter.notebook import store as notebook
from counter.notebook import trouble, values
from counter.page import OPTIONS
from counter.showing.summary import FIELDS

SAMPLE = Path(__file__).parents[1] / "sample_images" / "blue-disc.jpg"
THREE = (520.0, 320.0)

#: What follows the fields of a photo where it was compared.
COMPARED = ("verdict", "off_by", "expected", "round", "fits", "slips", "advice")


@pytest.fixture
def photo(tmp_path):
    path = tmp_path / "round.png"
    Image.new("RGB", (640, 640), (90, 120, 130)).save(path)
    return path


@pytest.fixture
def answers(monkeypatch):
    """Makes the count say what the test sets; what it was asked is kept."""

    class Answers:
        says = None
        asked = ()

        def __call__(self, *args, **kwargs):
            self.asked += ((args, kwargs),)
            if isinstance(self.says, BaseException):
                raise self.says
            return self.says

    made = Answers()
    monkeypatch.setattr(count, "count_photo", made)
    return made


def run(capsys, *arguments):
    """Exit code, lines printed, text of the error stream."""
    code = main([str(a) for a in arguments])
    printed = capsys.readouterr()
    return code, printed.out.splitlines(), printed.err


# --- JSON: the fields, in order and kind, that others rely on ---


def test_json_of_a_count(photo, answers, capsys, make_count):
    answers.says = make_count(
        {24: 0.6, 23: 0.4}, sure=False, doubts=[(3, THREE, "a wide gap")], in_progress=InProgress(5, 19, (1.0, 2.0))
    )
    code, lines, _ = run(capsys, "count", photo, "--json")
    assert code == 3 and len(lines) == 1
    row = json.loads(lines[0])
    assert tuple(row) == FIELDS
    for name in ("marks", "outline"):
        places, said = row.pop(name), getattr(answers.says, name)
        assert len(places) == len(said) and np.allclose(places, said, atol=0.06)
    assert row.pop("seconds") >= 0
    assert row.pop("hint") and row.pop("reason")
    assert row.pop("pieces") == []
    assert row == {
        "photo": str(photo),
        "state": "not sure",
        "stitches": 24,
        "probability": 0.6,
        "posterior": {"23": 0.4, "24": 0.6},
        "likely": [24, 23],
        "rounds": 4,
        "centre": [320.0, 320.0],
        "doubts": [{"mark": 3, "at": [520.0, 320.0], "why": "a wide gap"}],
        "in_progress": {"done": 5, "left": 19, "loop": [1.0, 2.0]},
    }


def test_json_of_a_sure_count_has_no_reason(photo, answers, capsys, make_count):
    answers.says = make_count({24: 1.0})
    row = json.loads(run(capsys, "count", photo, "--json")[1][0])
    assert (row["state"], row["reason"], row["hint"], row["in_progress"], row["likely"]) == ("sure", "", "", None, [24])


@pytest.mark.parametrize("more", [[], ["--expected", "24"]])
def test_json_of_a_refusal(tmp_path, capsys, more):
    code, lines, _ = run(capsys, "count", tmp_path / "none.jpg", "--json", *more)
    row = json.loads(lines[0])
    assert code == 4
    assert tuple(row) == FIELDS + (COMPARED if more else ())
    assert row["state"] == "refused" and row["reason"] == "There is no such file." and row["hint"]
    for field in ("stitches", "probability", "rounds", "centre", "in_progress"):
        assert row[field] is None
    assert (row["posterior"], row["likely"], row["marks"], row["doubts"]) == ({}, [], [], [])
    if more:
        assert (row["verdict"], row["off_by"]) == ("can't say", None)


@pytest.mark.parametrize(
    "expected, code, verdict, off", [(24, 0, "agrees", 0), (25, 1, "short by 1", -1), (18, 1, "over by 6", 6)]
)
def test_expected_total(photo, answers, capsys, make_count, expected, code, verdict, off):
    answers.says = make_count({24: 0.99, 25: 0.01})
    got, lines, _ = run(capsys, "count", photo, "--json", "--expected", expected)
    row = json.loads(lines[0])
    assert tuple(row) == (*FIELDS, *COMPARED)
    assert (got, row["verdict"], row["off_by"], row["stitches"]) == (code, verdict, off, 24)


def test_not_sure_with_an_expected_total(photo, answers, capsys, make_count):
    answers.says = make_count({24: 0.6, 23: 0.4}, sure=False)
    code, lines, _ = run(capsys, "count", photo, "--json", "--expected", 24)
    assert (code, json.loads(lines[0])["verdict"]) == (3, "can't say")


# --- in earnest ---


def test_wrong_expectations_never_move_the_count(capsys):
    rows = []
    for expected in ([], ["--expected", 23], ["--expected", 24], ["--expected", 1000]):
        row = json.loads(run(capsys, "count", SAMPLE, "--json", *expected)[1][0])
        rows.append(json.dumps([row[field] for field in FIELDS if field != "seconds"]))
    assert len(set(rows)) == 1
    assert json.loads(rows[0])[FIELDS.index("stitches")] == 24


def test_bare_table_is_refused(tmp_path, capsys):
    Image.fromarray(np.full((300, 300, 3), 180, np.uint8)).save(tmp_path / "bare.png")
    code, lines, _ = run(capsys, "count", tmp_path / "bare.png")
    assert code == 4 and len(lines) == 1 and "refused" in lines[0]


# --- words ---


def test_words_of_a_mismatch(photo, answers, capsys, make_count):
    answers.says = make_count({23: 0.98, 24: 0.02}, doubts=[(3, THREE, "a wide gap")])
    code, lines, _ = run(capsys, "count", photo, "--expected", 24)
    assert code == 1
    assert lines == [
        f"{photo}: 23 stitches, 4 rounds. Sure: nothing on the edge is in doubt.",
        "  23 stitches, short by 1: 24 expected. Look near 3 o'clock. "
        "Check these places by eye and finger before you rip anything back.",
        "  A  near 3 o'clock, at mark 3: a wide gap",
        "  Is this round finished? If not, nothing is wrong yet: on the way to its total it may well hold 23."
        " Work on to its end, then photograph it again.",
        "  If it is finished, make up for it in the next round: sc 11, inc, sc 11 [24]",
        "  Short by one often means that the first stitch was skipped or the marker moved by one.",
    ]


def test_words_of_other_answers(photo, answers, capsys, make_count):
    answers.says = make_count({24: 1.0})
    assert run(capsys, "count", photo)[1] == [f"{photo}: 24 stitches, 4 rounds. Sure: nothing on the edge is in doubt."]
    assert run(capsys, "count", photo, "--expected", 24)[1][1] == "  Agrees. 24 stitches, as expected."
    answers.says = make_count({24: 0.6, 23: 0.4}, sure=False)
    lines = run(capsys, "count", photo)[1]
    told = "the stitches don't show clearly in this photo."
    assert lines[0].endswith(f"23 or 24 stitches, 4 rounds. Not sure: {told}")
    assert "before you rip" in lines[1]
    assert run(capsys, "count", photo, "--expected", 24)[1][1].startswith("  Can't say. Not sure: 23 or 24 stitches")
    answers.says = make_count({24: 1.0}, in_progress=InProgress(5, 19, (0.0, 0.0)))
    assert run(capsys, "count", photo)[1][1] == "  In the round on the hook: 5 made, 19 left."


def test_name_that_is_no_text_can_be_printed(tmp_path, capsys):
    name = os.fsdecode(os.fsencode(str(tmp_path)) + b"/caf\xe9\x1b[31m.jpg")
    code, lines, _ = run(capsys, "count", name)
    assert code == 4 and lines[0].startswith(f"{tmp_path}/caf\ufffd?[31m.jpg: refused.")
    assert json.loads(run(capsys, "count", name, "--json")[1][0])["photo"] == name


# --- several photos ---


@pytest.fixture
def several(tmp_path, monkeypatch, make_count):
    """Photos whose grey level says what the count of them is."""
    answers = {10: make_count({24: 1.0}), 20: make_count({23: 1.0}), 30: make_count({24: 0.6, 23: 0.4}, sure=False)}
    answers |= {40: Refusal("no piece"), 50: RuntimeError("out of yarn")}

    def fake(photo: Photo, **_):
        answer = answers[int(photo.pixels[0, 0, 0])]
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr(count, "count_photo", fake)
    paths = {}
    for name, level in {"agrees": 10, "short": 20, "unsure": 30, "bare": 40, "broken": 50}.items():
        paths[name] = tmp_path / f"{name}.png"
        Image.new("RGB", (640, 640), (level,) * 3).save(paths[name])
    return paths


@pytest.mark.parametrize(
    "names, code",
    [
        (["agrees", "agrees"], 0),
        (["agrees", "short"], 1),
        (["unsure", "short", "agrees"], 3),
        (["short", "bare", "unsure"], 4),
        (["broken", "bare"], 5),
    ],
)
def test_highest_code_of_several_counts(several, capsys, names, code):
    got, lines, errors = run(capsys, "count", *(several[n] for n in names), "--expected", 24, "--json")
    assert got == code
    assert [json.loads(line)["photo"] for line in lines] == [str(several[n]) for n in names if n != "broken"]
    assert f"1 of {len(names)}: " in errors and f"{len(names)} of {len(names)}: " in errors


def test_fault_of_the_program_is_one_line_and_the_others_go_on(several, capsys):
    code, lines, errors = run(capsys, "count", several["broken"])
    assert (code, lines) == (5, [])
    assert "the program broke on this photo (RuntimeError: out of yarn); please report it" in errors
    assert errors.count("\n") == 1


# --- the marked picture ---


def test_marked_picture(several, tmp_path, capsys):
    out = tmp_path / "out" / "marked.jpg"
    out.parent.mkdir()
    assert run(capsys, "count", several["agrees"], "--marked", out)[0] == 0
    with Image.open(out) as marked:
        assert marked.format == "JPEG" and min(marked.size) > 1000
    assert os.listdir(out.parent) == ["marked.jpg"]


def test_marked_pictures_of_several_photos(several, tmp_path, capsys):
    twin = tmp_path / "twin" / "agrees.png"
    twin.parent.mkdir()
    twin.write_bytes(several["agrees"].read_bytes())
    out = tmp_path / "out"
    code, lines, _ = run(capsys, "count", several["agrees"], twin, several["bare"], "--marked", out)
    assert code == 4 and sorted(os.listdir(out)) == ["agrees-marked-2.jpg", "agrees-marked.jpg"]
    assert lines[-1] == "  No marked picture was written."


def test_the_piece_that_is_meant(photo, answers, capsys, make_count):
    answers.says = make_count({24: 1.0})
    run(capsys, "count", photo, "--around", "320,300,150")
    run(capsys, "count", photo, "--which", "2")
    asked = [(kwargs["around"], kwargs["number"]) for _, kwargs in answers.asked]
    assert asked == [((320.0, 300.0, 150.0), None), (None, 2)]


@pytest.mark.parametrize("ring", ["320,300", "1,2,x", "10,10,1", "nan,1,50", "inf,1,50"])
def test_a_ring_that_makes_no_sense_is_one_line(photo, capsys, ring):
    code, _, said = run(capsys, "count", photo, "--around", ring)
    assert code == 2
    assert "X,Y,R" in str(said)


def test_every_piece_of_a_photo(tmp_path, capsys):
    left, right = (cv2.imread(str(SAMPLES / f"{name}.jpg"))[..., ::-1] for name in ("blue-disc", "one-increase-missed"))
    high = min(left.shape[0], right.shape[0])
    both = np.hstack([left[:high], right[:high]])
    path = tmp_path / "both.png"
    Image.fromarray(np.ascontiguousarray(both)).save(path)
    code, lines, _ = run(capsys, "count", path, "--json")
    assert code == 4 and json.loads(lines[0])["reason"].startswith("More than one piece")
    assert len(json.loads(lines[0])["pieces"]) == 2
    _, lines, _ = run(capsys, "count", path, "--every-piece", "--json")
    assert [piece["stitches"] for piece in json.loads(lines[0])["pieces"]] == [24, 29]
    _, lines, _ = run(capsys, "count", path, "--which", "2", "--json")
    assert json.loads(lines[0])["stitches"] == 29


def test_left_handed(photo, answers, capsys, make_count):
    answers.says = make_count({24: 1.0})
    run(capsys, "count", photo, "--left-handed")
    run(capsys, "count", photo)
    assert [kwargs["left_handed"] for _, kwargs in answers.asked] == [True, False]


# --- bad use ---


@pytest.mark.parametrize(
    "more, words",
    [
        (["--marked", "{photo}"], "would overwrite a photo"),
        (["--marked", "{folder}/out.gif"], "must end in .jpg or .png"),
        (["--marked", "{folder}/none/out.jpg"], "there is no folder"),
        (["--marked", "{folder}/none/out"], "can't be made a folder"),
        (["{photo}", "--marked", "{folder}/out.jpg"], "give --marked a folder"),
        (["--expected", "0"], "whole number from 1 to 1000, not 0"),
        (["--expected", "-3"], "whole number from 1 to 1000, not -3"),
        (["--expected", "24.5"], "whole number from 1 to 1000, not '24.5'"),
        (["--expected", "many"], "whole number from 1 to 1000, not 'many'"),
        (["--expected"], "expected one argument"),
        (["--colour"], "unrecognized arguments: --colour"),
    ],
)
def test_bad_use_is_one_line_and_counts_nothing(photo, answers, tmp_path, capsys, more, words):
    before = photo.read_bytes()
    code, lines, errors = run(capsys, "count", photo, *(m.format(photo=photo, folder=tmp_path) for m in more))
    assert (code, lines) == (2, [])
    assert words in errors and errors.startswith("rimtally: ") and errors.count("\n") == 1
    assert answers.asked == () and photo.read_bytes() == before and os.listdir(tmp_path) == ["round.png"]


@pytest.mark.parametrize("arguments", [[], ["count"], ["measure"], ["page", "--port", "0"], ["page", "--port", "x"]])
def test_other_bad_use(arguments, capsys):
    code, lines, errors = run(capsys, *arguments)
    assert (code, lines) == (2, []) and errors.count("\n") == 1


def test_picture_that_can_not_be_written(photo, answers, tmp_path, capsys, monkeypatch, make_count):
    answers.says = make_count({24: 1.0})

    def fail(*args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    code, lines, errors = run(capsys, "count", photo, "--marked", tmp_path / "out.jpg")
    assert (code, lines, errors) == (2, [], f"rimtally: {tmp_path}/out.jpg can't be written: No space left on device\n")
    assert os.listdir(tmp_path) == ["round.png"]


def test_help_documents_the_exit_codes(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["count", "--help"])
    told = capsys.readouterr().out
    assert stopped.value.code == 0
    for line in (
        "0  sure",
        "1  sure, and short or over",
        "2  bad use",
        "3  not sure",
        "4  refused",
        "5  the program broke",
    ):
        assert line in told


# --- stopping ---


def test_interrupt_is_quiet(photo, answers, capsys):
    answers.says = KeyboardInterrupt()
    code, lines, errors = run(capsys, "count", photo)
    assert (code, lines, errors) == (130, [], "\nrimtally: stopped\n")


def test_reader_that_leaves_early_is_no_fault(tmp_path):
    names = [str(tmp_path / f"{i}.jpg") for i in range(3)]
    with subprocess.Popen(
        [sys.executable, "-m", "counter", "count", *names, "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        process.stdout.close()
        errors = process.stderr.read()
    assert "Traceback" not in errors and "Exception" not in errors
    assert process.returncode == 141


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="a device that is always full is Linux's")
@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["plan", "{plan}"], ["count", "nowhere.jpg"]])
def test_answer_that_can_not_be_written_is_one_line(plan, arguments):
    with open("/dev/full", "w") as full:
        command = [sys.executable, "-m", "counter", *(a.format(plan=plan) for a in arguments)]
        process = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True)
    assert process.stderr == "rimtally: the answer can't be written: No space left on device\n"
    assert process.returncode == 2


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="named pipes are POSIX")
@pytest.mark.parametrize("arguments", [["plan"], ["notebook", "import"], ["count", "nowhere.jpg", "--plan"]])
def test_pipe_in_the_place_of_a_file_is_one_line(tmp_path, capsys, arguments, data_folder):
    os.mkfifo(tmp_path / "pipe")  # nobody writes into it: whoever opened it would wait for ever
    code, lines, errors = run(capsys, *arguments, tmp_path / "pipe")
    assert code == 2 and not lines and "is a pipe or a device: " in errors and errors.count("\n") == 1
    assert not data_folder.exists()


def test_what_is_closed_breaks_nothing(plan):
    closed = (
        "import os; os.close(0); os.close(1); import sys; os.execv(sys.executable, [sys.executable, *sys.argv[1:]])"
    )
    for arguments, code, said in ([["plan", "-"], 2, "the input is closed"], [["plan", plan], 0, ""]):
        command = [sys.executable, "-c", closed, "-m", "counter", *map(str, arguments)]
        process = subprocess.run(command, stderr=subprocess.PIPE, text=True)
        assert process.returncode == code and said in process.stderr and "Traceback" not in process.stderr


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["count"], []])
def test_help_loads_nothing_of_the_count(arguments):
    source = (
        "import sys; from counter.cli import main\ntry: main(sys.argv[1:])\nexcept SystemExit: pass\n"
        "print(sorted({name.split('.')[0] for name in sys.modules} & {'numpy', 'cv2', 'scipy', 'streamlit', 'PIL'}))"
    )
    if arguments == ["count"]:
        arguments = ["no such command"]
    process = subprocess.run([sys.executable, "-c", source, *arguments], capture_output=True, text=True)
    assert process.stdout.splitlines()[-1] == "[]", process.stderr


# --- the other commands ---


@pytest.fixture
def known(tmp_path, answers, make_count):
    answers.says = make_count({24: 0.99, 23: 0.01})
    folder = tmp_path / "known"
    folder.mkdir()
    for name in ("a", "b"):
        Image.new("RGB", (300, 300)).save(folder / f"{name}.jpg")
        (folder / f"{name}.json").write_text('{"stitches": 24, "rounds": 4, "marks": [], "tags": ["easy"]}')
    return folder


def test_evaluate(known, tmp_path, capsys):
    out = tmp_path / "result.json"
    code, lines, errors = run(capsys, "evaluate", known, "--json", out)
    assert code == 0 and "2 of 2: b.jpg" in errors
    assert any(line.startswith("best guess exact") and "100.0%" in line for line in lines)
    data = json.loads(out.read_text())
    assert set(data) == {"summary", "measures", "left_out", "photos", "looks", "worst"} and len(data["photos"]) == 2
    assert set(data["summary"]) == {"overall", "easy"} and set(data["summary"]["easy"]) == set(data["measures"])


def test_evaluate_sets_folders_side_by_side(known, tmp_path, capsys):
    out = tmp_path / "result.json"
    shutil.copytree(known, tmp_path / "others")
    code, lines, _ = run(capsys, "evaluate", known, tmp_path / "others", "--json", out)
    assert code == 0 and lines[0].split() == ["known", "others"]
    assert ["best", "guess", "exact", "100.0%", "100.0%"] in [line.split() for line in lines]
    assert list(json.loads(out.read_text())["folders"]) == ["known", "others"]


def test_evaluate_reports_crashes(known, answers, capsys):
    answers.says = RuntimeError("out of yarn")
    code, lines, _ = run(capsys, "evaluate", known)
    assert code == 5 and lines[-1].startswith("Crashed on b.jpg: RuntimeError")


@pytest.mark.parametrize(
    "arguments, words",
    [
        (["{known}/none"], "no such folder"),
        (["{known}", "{known}"], "named twice"),
        (["{known}", "--json", "{known}/a.json"], "looks like the truth file of a photo"),
        (["{known}", "--json", "{known}/none/a.json"], "can't be written"),
        (["{known}", "--json", "{known}"], "can't be written"),
    ],
)
def test_evaluate_bad_use(known, answers, capsys, arguments, words):
    before = (known / "a.json").read_text()
    code, lines, errors = run(capsys, "evaluate", *(a.format(known=known) for a in arguments))
    assert (code, lines) == (2, []) and words in errors and errors.count("\n") == 1
    assert answers.asked == () and (known / "a.json").read_text() == before


def test_render(tmp_path, capsys, monkeypatch):
    asked = {}

    def fake(folder, count, seed, *, difficulty, long_side, progress):
        asked.update(folder=folder, count=count, seed=seed, difficulty=difficulty, long_side=long_side)
        for done in range(count + 1):
            progress(done, count)
        return [tmp_path] * count

    monkeypatch.setattr("counter.synthetic.render_set", fake)
    code, lines, errors = run(
        capsys, "render", tmp_path, "--count", 3, "--seed", 7, "--difficulty", "hard", "--long-side", 900
    )
    assert code == 0 and lines == [f"3 photos with truth in {tmp_path}"] and "3 of 3" in errors
    assert asked == {"folder": str(tmp_path), "count": 3, "seed": 7, "difficulty": "hard", "long_side": 900}


@pytest.mark.parametrize(
    "error", [ImportError("pip install 'rimtally[render]'"), ValueError("count must be"), OSError("full")]
)
def test_render_that_can_not_be_done(tmp_path, capsys, monkeypatch, error):
    def fake(*args, **kwargs):
        raise error

    monkeypatch.setattr("counter.synthetic.render_set", fake)
    assert run(capsys, "render", tmp_path) == (2, [], f"rimtally: {error}\n")


def test_page_is_served_by_streamlit(monkeypatch):
    called = []
    monkeypatch.setattr(os, "execv", lambda program, command: called.append(command))
    main(["page", "--port", "8765", "--no-browser", "--public", "Rounds.example.org"])
    assert called[0][:4] == [sys.executable, "-m", "streamlit", "run"] and "8765" in called[0]
    assert called[0][called[0].index("--browser.serverAddress") + 1] == "rounds.example.org"


def test_page_hears_other_machines_only_behind_a_public_name(monkeypatch, capsys):
    called = []
    monkeypatch.setattr(os, "execv", lambda program, command: called.append(command))
    code, lines, errors = run(capsys, "page", "--address", "0.0.0.0")
    assert code == 2 and not called and not lines and "--address needs --public" in errors
    main(["page", "--address", "0.0.0.0", "--public", "rounds.example.org"])
    assert called[0][called[0].index("--server.address") + 1] == "0.0.0.0"


def test_about_says_what_is_installed_and_nothing_of_the_user(capsys):
    code, lines, errors = run(capsys, "about", "--json")
    said = json.loads(lines[0])
    assert code == 0 and not errors and said["rimtally"] and said["weights"].isdigit()
    assert all(said[name][0].isdigit() for name in ("numpy", "opencv-python", "pillow", "streamlit", "libjpeg"))
    assert run(capsys, "about")[1] == [f"{name}: {value}" for name, value in said.items()]
    for own in (os.getcwd(), os.path.expanduser("~"), socket.gethostname()):
        assert own not in "\n".join(lines)


@pytest.mark.parametrize(
    "name", ["localhost", "127.0.0.1", "http://rounds.example.org", "a b", "-x.org", "", "x" * 300]
)
def test_a_public_name_that_is_none(capsys, name):
    code, lines, errors = run(capsys, "page", f"--public={name}")
    assert code == 2 and not lines and errors.startswith("rimtally: argument --public") and errors.count("\n") == 1


# --- written plans ---

# Totals of a flat circle of single crochet are published (stitch guide of a craft magazine, October 2020).
SAMPLES = Path(__file__).parents[1] / "sample_images"
PLAN = "R1: 6 sc in ring (6)\nR2: inc x 6 (12)\nR3: (sc 1, inc) x 6 (18)\nR4: (sc 2, inc) x 6 (24)\nR5-6: sc around\n"


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "plan.txt"
    path.write_text(PLAN)
    return path


def test_plan_as_json(plan, capsys):
    code, lines, _ = run(capsys, "plan", plan, "--json")
    data = json.loads(lines[0])
    assert code == 0 and len(lines) == 1 and list(data)[:2] == ["rounds", "findings"]
    assert [row["stitches"] for row in data["rounds"]] == [6, 12, 18, 24, 24, 24]
    assert [row["round"] for row in data["rounds"]] == [1, 2, 3, 4, 5, 6] and data["findings"] == []
    assert data["rounds"][3] == {
        "round": 4,
        "stitches": 24,
        "used": 18,
        "increases": [3, 7, 11, 15, 19, 23],
        "decreases": [],
        "text": "(sc 2, inc) x 6",
        "chain": None,
    }


def test_plan_that_contradicts_itself(tmp_path, capsys):
    path = tmp_path / "plan.txt"
    path.write_text(PLAN.replace("(24)", "(25)"))
    found = json.loads(run(capsys, "plan", path, "--json")[1][0])["findings"]
    assert [list(row) for row in found] == [["line", "column", "what", "fix", "kind"]] and found[0]["line"] == 4
    code, lines, _ = run(capsys, "plan", path)
    assert code == 0 and any(line.startswith("line 4, column ") and "24, not 25" in line for line in lines)


def test_plan_in_clean_form_is_the_same_plan(plan, tmp_path, capsys):
    lines = run(capsys, "plan", plan)[1]
    clean = tmp_path / "clean.txt"
    clean.write_text("\n".join(lines[: lines.index("")]))
    first, again = (json.loads(run(capsys, "plan", path, "--json")[1][0]) for path in (plan, clean))
    assert first == again


@pytest.mark.parametrize(
    "text, more, total",
    [
        (PLAN, [], "24"),
        ("6, 12, 18, 24", [], "24"),
        ("start 6, add 6", [], "24"),
        ("R4: (2 dc, inc) x 6 (24)", ["--uk"], "24"),
    ],
)
def test_expected_total_of_a_round_alone(tmp_path, capsys, text, more, total):
    path = tmp_path / "plan.txt"
    path.write_text(text)
    assert run(capsys, "plan", path, "--round", 4, *more)[:2] == (0, [total])


def test_growth_rule_makes_as_many_rounds_as_asked(tmp_path, capsys):
    path = tmp_path / "rule.txt"
    path.write_text("start 6, add 6")
    for more, rounds in (([], 12), (["--rounds", 3], 3)):
        data = json.loads(run(capsys, "plan", path, "--json", *more)[1][0])
        assert [row["stitches"] for row in data["rounds"]] == [6 * k for k in range(1, rounds + 1)]


def test_plan_from_the_input(capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(PLAN.encode())))
    assert run(capsys, "plan", "-", "--round", 3)[:2] == (0, ["18"])


@pytest.mark.parametrize(
    "text, more, words",
    [
        (None, [], "there is no such file"),
        ("stuff firmly", [], "line 1"),
        ("(" * 10_000, [], "line 1"),
        (PLAN, ["--round", 9], "goes from 1 to 6"),
        ("R9: sc around", ["--round", 9], "write the total"),
        (PLAN, ["--rounds", "many"], "whole number"),
        (PLAN, ["--rounds", "0"], "1 to 1000"),
    ],
)
def test_plan_that_can_not_be_read_is_one_line(tmp_path, capsys, text, more, words):
    path = tmp_path / "plan.txt"
    if text is not None:
        path.write_text(text)
    code, lines, error = run(capsys, "plan", path, *more)
    assert code == 2 and lines == [] and words in error and error.count("\n") == 1


def test_what_is_wrong_with_a_plan_without_rounds_is_said_as_json_too(tmp_path, capsys):
    path = tmp_path / "plan.txt"
    path.write_text("(" * 10_000)
    code, lines, error = run(capsys, "plan", path, "--json")
    data = json.loads(lines[0])
    assert code == 2 and data["rounds"] == [] and len(data["findings"]) == 1 and data["findings"][0]["what"] in error


def test_a_total_that_can_not_be_known_is_null(tmp_path, capsys):
    path = tmp_path / "plan.txt"
    path.write_text("R9: sc around")
    row = json.loads(run(capsys, "plan", path, "--json")[1][0])["rounds"][0]
    assert (row["round"], row["stitches"], row["used"]) == (9, None, None)


@pytest.mark.parametrize("counted, code, verdict", [(24, 0, "agrees"), (23, 1, "short by 1"), (26, 1, "over by 2")])
def test_count_against_a_round_of_a_plan(photo, answers, plan, capsys, make_count, counted, code, verdict):
    answers.says = make_count({counted: 1.0})
    got, lines, _ = run(capsys, "count", photo, "--json", "--plan", plan, "--round", 4)
    row = json.loads(lines[0])
    assert (got, row["verdict"], row["expected"], row["round"]) == (code, verdict, 24, 4)
    assert row["advice"]["action"] in ("go on", "ask", "take up")


def test_count_finds_its_round_of_a_plan(photo, answers, plan, capsys, make_count):
    answers.says = make_count({12: 0.99, 11: 0.01}, rounds=2)
    code, lines, _ = run(capsys, "count", photo, "--json", "--plan", plan)
    row = json.loads(lines[0])
    assert (code, row["round"], row["verdict"]) == (0, 2, "agrees") and row["fits"][0]["round"] == 2


def test_where_an_increase_was_left_out_is_said(photo, answers, plan, capsys, make_count):
    answers.says = make_count({23: 1.0}, paired=[3, 4, 7, 8, 14, 15, 18, 19, 22, 23])
    row = json.loads(run(capsys, "count", photo, "--json", "--plan", plan, "--round", 4)[1][0])
    place = row["slips"]["places"][0]
    assert (
        place["what"] == "increase left out" and abs(place["marks"][0] - 11) <= 1 and place["clock"].endswith("o'clock")
    )
    told = " ".join(run(capsys, "count", photo, "--plan", plan, "--round", 4, "--twin", "--finished")[1])
    assert "How many does its twin hold?" in told
    told = " ".join(run(capsys, "count", photo, "--plan", plan, "--round", 4, "--twin-holds", 24, "--finished")[1])
    assert (
        "rip back to mark" in told
        and "an increase was made as one plain stitch" in told
        and "by eye and finger" in told
    )


@pytest.mark.parametrize(
    "more, words",
    [
        (["--expected", "24", "--plan", "PLAN"], "not both"),
        (["--round", "4"], "needs --plan"),
        (["--plan", "PLAN", "--round", "40"], "goes from 1 to 6"),
        (["--plan", "nowhere.txt"], "there is no such file"),
        (["--size", "wide"], "wide"),
    ],
)
def test_bad_use_of_a_plan_counts_nothing(photo, answers, plan, capsys, more, words):
    code, lines, error = run(capsys, "count", photo, *(plan if own == "PLAN" else own for own in more))
    assert code == 2 and lines == [] and words in error and error.count("\n") == 1


# --- size, gauge, mat, twins ---


def test_size_and_gauge_from_a_typed_diameter(capsys):
    row = json.loads(run(capsys, "count", SAMPLE, "--json", "--size", "85 mm")[1][0])["gauge"]
    assert row["scale"] == "diameter" and row["diameter_mm"][0] == pytest.approx(85, rel=0.02)
    # 10 cm and 4 in differ by 1.6%: an inch is 25.4 mm (international yard and pound agreement, 1959).
    assert row["stitches_4_in"][0] / row["stitches_10_cm"][0] == pytest.approx(1.016, rel=1e-3)
    # 24 stitches round a disc of 85 mm: their top loops lie a little inside its edge.
    assert row["stitch_mm"][0] == pytest.approx(np.pi * 85 / 24, rel=0.12)


def test_nothing_of_known_size_is_said(capsys):
    code, lines, _ = run(capsys, "count", SAMPLE, "--gauge")
    assert code == 0 and "Nothing of known size was found" in lines[1]


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_mat(tmp_path, capsys, paper):
    out = tmp_path / "mat.pdf"
    code, lines, _ = run(capsys, "mat", out, "--paper", paper)
    assert code == 0 and out.read_bytes().startswith(b"%PDF-") and "100 mm" in lines[0]


@pytest.mark.parametrize("name, words", [("mat.txt", "must end in .pdf"), ("none/mat.pdf", "no folder")])
def test_mat_that_can_not_be_written(tmp_path, capsys, name, words):
    code, _lines, error = run(capsys, "mat", tmp_path / name)
    assert code == 2 and words in error and error.count("\n") == 1


def test_twins(photo, answers, capsys, make_count):
    answers.says = make_count({24: 1.0})
    code, lines, _ = run(capsys, "twins", photo, photo)
    assert code == 0 and any("totals match" in line for line in lines)
    data = json.loads(run(capsys, "twins", photo, photo, "--json")[1][0])
    assert (
        data["verdict"] == "match" and data["off_by"] == 0 and [row["stitches"] for row in data["photos"]] == [24, 24]
    )


def test_twins_that_are_not_sure(photo, answers, capsys, make_count):
    answers.says = make_count({24: 0.6, 23: 0.4}, sure=False)
    assert run(capsys, "twins", photo, photo)[0] == 3
    assert run(capsys, "twins", photo, photo.with_name("none.jpg"))[0] == 4


# --- the notebook ---


@pytest.fixture
def data_folder(tmp_path, monkeypatch):
    """No test touches the notebook of whoever runs it."""
    monkeypatch.setattr(notebook, "_folder", lambda: tmp_path / "data")
    return tmp_path / "data"


@pytest.fixture
def three(data_folder, make_count):
    """The user's notebook with three counts, the last kept first."""
    book, grey = notebook.open_own(), Photo(np.full((640, 640, 3), 90, np.uint8))
    sure, unsure = make_count({24: 1.0}), make_count({24: 0.6, 25: 0.4}, sure=False)
    book.keep(grey, sure, title="Left ear", goal=values.Goal(expected=25))
    book.keep(grey, unsure, note="soft\nwool", goal=values.Goal(plan="6, 12, 18, 24", round=4))
    book.keep(grey, sure, title="Brim\x1b[31m", goal=values.Goal(expected=24))
    return book


def test_notebook_goes_away_and_comes_in(three, tmp_path, capsys):
    out, other = tmp_path / "out.zip", tmp_path / "other.sqlite3"
    assert run(capsys, "notebook", "export", out) == (0, [f"{out} written: 3 counts"], "")
    assert stat.S_IMODE(out.stat().st_mode) == 0o600 and sorted(os.listdir(tmp_path)) == ["data", "out.zip"]
    for said in ("3 counts came in, 0 were there already", "0 counts came in, 3 were there already"):
        code, lines, errors = run(capsys, "notebook", "import", out, "--notebook", other)
        assert (code, lines) == (0, [said]) and f"3 of 3: {out}" in errors
    mine = [(line.key, line.title, line.small) for line in three.listing().lines]
    assert [(line.key, line.title, line.small) for line in notebook.Notebook.open(other).listing().lines] == mine

    three.delete(mine[0][0])
    assert run(capsys, "notebook", "import", out)[1] == ["1 count came in, 2 were there already"]
    assert [(line.key, line.title, line.small) for line in three.listing().lines] == mine


def test_notebook_of_more_than_the_page_takes_comes_in(data_folder, tmp_path, capsys, make_count):
    # Noise doesn't get smaller: a dozen photos of 2.5 MB.
    count, dice = make_count({24: 1.0}, size=(1600, 1600)), np.random.default_rng(1)
    photo = Photo(dice.choice(np.array([0, 255], np.uint8), (1600, 1600, 3)))
    for title in range(12):
        notebook.open_own().keep(photo, count, title=str(title))
    out = tmp_path / "out.zip"
    assert run(capsys, "notebook", "export", out)[0] == 0
    assert out.stat().st_size > int(OPTIONS["server.maxUploadSize"]) * 2**20
    (data_folder / "notebook.sqlite3").unlink()
    assert run(capsys, "notebook", "import", out)[1] == ["12 counts came in, 0 were there already"]
    assert notebook.open_own().listing().found == 12


def test_notebook_is_listed(three, capsys):
    code, lines, errors = run(capsys, "notebook", "list")
    day = f"{three.listing().lines[0].kept:%Y-%m-%d}"
    assert (code, errors) == (0, "")
    assert sorted(lines) == [
        f"{day}  24 or 25 stitches, not sure, round 4  soft wool",
        f"{day}  24 stitches, sure, agrees  Brim?[31m",
        f"{day}  24 stitches, sure, short by 1  Left ear",
    ]
    (line,) = run(capsys, "notebook", "list", "EAR", "left")[1]
    assert line.endswith("Left ear")
    assert run(capsys, "notebook", "list", "ear", "right") == (0, [], "rimtally: nothing with that in it\n")


def test_notebook_as_json(three, capsys):
    rows = [json.loads(line) for line in run(capsys, "notebook", "list", "--json")[1]]
    (ear,) = [row for row in rows if row["title"] == "Left ear"]
    own = three.entry(ear["key"])
    assert len(rows) == 3 and ear == {
        "key": own.key, "title": "Left ear", "note": "", "kept": own.kept.isoformat(),
        "changed": own.changed.isoformat(), "stitches": 24, "likely": [24], "state": "sure", "expected": 25,
        "round": None, "off_by": -1,
    }  # fmt: skip


def test_notebook_that_is_not_there_is_not_begun_by_looking(data_folder, tmp_path, capsys):
    for arguments in (["list"], ["export", tmp_path / "out.zip"], ["import", tmp_path / "none.zip"]):
        code, lines, errors = run(capsys, "notebook", *arguments)
        assert (code, lines) == (2, []) and errors.count("\n") == 1 and not os.listdir(tmp_path)
    notebook.open_own()
    assert run(capsys, "notebook", "list") == (0, [], "rimtally: nothing is kept yet\n")


@pytest.mark.parametrize(
    "arguments, words",
    [
        ([], "arguments are required: WHAT"),
        (["export"], "arguments are required: OUT.zip"),
        (["export", "{folder}/there.txt"], "there.txt is there already: name another file"),
        (["export", "{folder}"], "is there already"),
        (["export", "{folder}/none/out.zip"], "can't be written: there is no folder"),
        (["export", "{folder}/out.zip", "--notebook", "{folder}/none.sqlite3"], "there is no notebook"),
        (
            ["export", "{folder}/out.zip", "--notebook", "{folder}/there.txt"],
            "there.txt: The notebook's file is damaged",
        ),
        (["import", "{folder}/none.zip"], "none.zip: there is no such file"),
        (["import", "{folder}/there.txt"], "there.txt: This file can't be imported (it is not a zip)"),
        (["import", "{folder}"], "is a folder: name a zip"),
        (["import", "{folder}/there.txt", "--notebook", "{folder}/none/of.sqlite3"], "there is no folder"),
        (["list", "--notebook", "{folder}"], "can't be opened"),
    ],
)
def test_notebook_bad_use_is_one_line_and_changes_nothing(three, tmp_path, capsys, arguments, words):
    (tmp_path / "there.txt").write_text("dear maker " * 100)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    code, lines, errors = run(capsys, "notebook", *(a.format(folder=tmp_path) for a in arguments))
    assert (code, lines) == (2, [])
    assert words in errors and errors.startswith("rimtally: ") and errors.count("\n") == 1
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_notebook_in_use_elsewhere(three, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(notebook, "BUSY_TIMEOUT_S", 0.05)
    out = tmp_path / "out.zip"
    assert run(capsys, "notebook", "export", out)[0] == 0
    with closing(sqlite3.connect(three.path, isolation_level=None)) as link:
        link.execute("BEGIN EXCLUSIVE")
        for arguments in (["list"], ["export", tmp_path / "other.zip"], ["import", out]):
            code, lines, errors = run(capsys, "notebook", *arguments)
            assert (code, lines) == (2, [])
            assert errors == f"rimtally: {three.path}: {' '.join(trouble.TROUBLES['locked'])}\n"
    assert sorted(os.listdir(tmp_path)) == ["data", "out.zip"]


def test_export_that_breaks_leaves_nothing_behind(three, tmp_path, capsys, monkeypatch):
    def fail(pack, name, *_):
        if name == "about.json":  # the last but one
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(notebook, "put_into", fail)
    code, lines, errors = run(capsys, "notebook", "export", tmp_path / "out.zip")
    assert (code, lines) == (2, []) and "No space left" in errors and os.listdir(tmp_path) == ["data"]


def test_what_is_damaged_in_a_notebook_is_named_and_the_others_go_on(three, tmp_path, capsys):
    broken = three.listing().lines[0].key
    with closing(sqlite3.connect(three.path)) as link:
        link.execute("UPDATE entry SET data = '{}', kept = 'x' WHERE key = ?", (broken,))
        link.commit()
    code, lines, errors = run(capsys, "notebook", "list")
    assert code == 2 and len(lines) == 2
    assert errors == f"rimtally: count {broken[:8]}; it is damaged and can't be read\n"
    code, lines, errors = run(capsys, "notebook", "export", tmp_path / "out.zip")
    assert code == 2 and lines[0].endswith("written: 2 counts") and broken[:8] in errors and errors.count("\n") == 1
    assert run(capsys, "notebook", "import", tmp_path / "out.zip", "--notebook", tmp_path / "other.sqlite3")[0] == 0


def test_what_is_damaged_in_a_zip_is_left_out_where_that_is_asked(three, tmp_path, capsys):
    run(capsys, "notebook", "export", tmp_path / "out.zip")
    with zipfile.ZipFile(tmp_path / "out.zip") as pack:
        parts = {name: pack.read(name) for name in pack.namelist()}
    name = next(name for name in parts if name.startswith("entries/"))
    with zipfile.ZipFile(tmp_path / "bad.zip", "w") as pack:
        for part, data in parts.items():
            pack.writestr(part, b"{}" if part == name else data)
    into = ("--notebook", tmp_path / "other.sqlite3")
    code, lines, errors = run(capsys, "notebook", "import", tmp_path / "bad.zip", *into)
    assert code == 2 and not lines and name[8:16] in errors
    code, lines, errors = run(capsys, "notebook", "import", tmp_path / "bad.zip", "--leave-out-damaged", *into)
    assert code == 2 and lines == ["2 counts came in, 0 were there already"] and name[8:16] in errors
