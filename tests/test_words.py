"""All that a person reads is said by one file, so that another language is one file."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest
from other_words import OWN, lacking, loaded, said_in

TESTS = Path(__file__).parent


def test_nothing_that_a_person_reads_stands_elsewhere():
    """The page and all else with signs round every word of the file; other words would stand outside of them."""
    pytest.importorskip("playwright.sync_api", reason="this test needs playwright (extra 'test')")
    plugins = ["-p", "signed_words", "-p", "no:cacheprovider"]
    command = [sys.executable, "-m", "pytest", "-q", *plugins, "--show-capture=no", "signed_page.py"]
    run = subprocess.run(command, cwd=TESTS, capture_output=True, text=True)
    assert run.returncode == 0, run.stdout[-8000:] + run.stderr[-2000:]
    assert int(re.search(r"(\d+) passed", run.stdout)[1]) >= 40


def test_the_file_stands_by_itself():
    tree = ast.parse(OWN.read_text(encoding="utf-8"))
    names = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert names == {"__future__", "collections.abc", "datetime"}
    assert not any(isinstance(node, ast.Import) for node in ast.walk(tree))


def test_every_word_is_used():
    rooms = [path for path in OWN.parents[1].rglob("*.py") if path != OWN]
    code = "".join(path.read_text(encoding="utf-8") for path in rooms)
    own = OWN.read_text(encoding="utf-8")
    used = set(re.findall(r"words\.([A-Z][A-Z_]*)", code)) | set(re.findall(r'Told\("([A-Z_]+)"\)', code))
    # By the functions of the file itself, or by another of its words.
    used |= {name for name in said_in(loaded(OWN)) if len(re.findall(rf"\b{name}\b", own)) > 1}
    assert said_in(loaded(OWN)).keys() == used


def test_file_that_fits_lacks_nothing(tmp_path):
    other = tmp_path / "words.py"
    own = OWN.read_text(encoding="utf-8")
    other.write_text(own.replace("rip back to mark {mark} ({stitches})", "({stitches}) {mark}:"), encoding="utf-8")
    assert other.read_text(encoding="utf-8") != own and lacking(other) == []


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('LOOK_NEAR = "', 'LOOKS_NEAR = "', "LOOK_NEAR is missing"),
        ('LOOK_NEAR = "', 'LOOKS_NEAR = "', "LOOKS_NEAR is not known"),
        ("Look near {where}.", "Look there.", "LOOK_NEAR: fills in [] instead of ['where']"),
        ("Look near {where}.", "Look near {were}.", "LOOK_NEAR: fills in ['were'] instead of ['where']"),
        ("Look near {where}.", "Look near {where.", "LOOK_NEAR: expected '}' before end of string"),
        ('"narrow": "this stitch', '"thin": "this stitch', "IN_DOUBT['narrow'] is missing"),
        ('"narrow": "this stitch', '"thin": "this stitch', "IN_DOUBT['thin'] is not known"),
        ('("The disk is full.", ', '("The disk is full. " ', "TROUBLES['full']: str instead of tuple"),
        ('"October", "November"', '"October"', "MONTHS: 11 instead of 12"),
        (
            "Rnd {n} makes {made}",
            "Rnd {n} makes",
            "ROUND_MAKES: fills in ['n', 'stated'] instead of ['made', 'n', 'stated']",
        ),
        ("def stitches(", "def stitch(", "stitches() is missing"),
        ("def said(off_by:", "def said(off:", "said() takes other arguments"),
    ],
)
def test_what_a_file_lacks_is_told(tmp_path, old, new, told):
    other, own = tmp_path / "words.py", OWN.read_text(encoding="utf-8")
    assert own.count(old) == 1
    other.write_text(own.replace(old, new), encoding="utf-8")
    assert told in lacking(other)


def test_no_word_takes_the_place_of_another():
    names = [
        name.id
        for line in ast.parse(OWN.read_text(encoding="utf-8")).body
        if isinstance(line, ast.Assign)
        for target in line.targets
        for name in (target.elts if isinstance(target, ast.Tuple) else [target])
    ]
    assert len(names) == len(set(names)), sorted({name for name in names if names.count(name) > 1})
