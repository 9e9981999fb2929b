"""The house: rooms know only rooms above them, and each says what it is for."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
HOUSE = ROOT / "counter"
#: What each room, or module that stands by itself, may know.
ABOVE = {
    "basics": (),
    "counting": ("basics",),
    "plan": ("basics",),
    "comparing": ("plan", "basics"),
    "lengths": ("comparing", "counting", "plan", "basics"),
    "showing": ("lengths", "comparing", "plan", "basics"),
    "notebook": ("comparing", "plan", "basics"),
    "examination": ("lengths", "comparing", "counting", "plan", "basics"),
    "api": ("examination", "showing", "lengths", "comparing", "basics"),
    "evaluation": ("examination", "notebook", "comparing", "counting", "basics"),
    "group": ("examination", "notebook", "showing", "lengths", "comparing", "counting", "plan", "basics"),
    "page": ("group", "examination", "notebook", "showing", "lengths", "comparing", "counting", "plan", "basics"),
    "synthetic": ("lengths",),
    "training": ("evaluation", "counting", "synthetic", "basics"),
    "commands": (
        *("page", "group", "evaluation", "examination", "notebook", "showing", "lengths", "comparing", "plan"),
        *("synthetic", "basics"),
    ),
    "cli": ("commands",),
    "__main__": ("cli",),
}
ROOMS = [name for name in ABOVE if (HOUSE / name).is_dir()]


def known(path):
    """Rooms that a module imports from."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "counter":
            parts = node.module.split(".")
            yield from [parts[1]] if len(parts) > 1 else [alias.name for alias in node.names]


def test_every_room_is_in_the_plan_of_the_house():
    there = {path.name for path in HOUSE.iterdir() if (path / "__init__.py").exists()}
    assert there == set(ROOMS)
    assert {path.stem for path in HOUSE.glob("*.py")} - {"__init__"} == set(ABOVE) - there


def test_the_plan_has_no_circle():
    placed = set()
    while left := set(ABOVE) - placed:
        ready = {room for room in left if set(ABOVE[room]) <= placed}
        assert ready, f"a circle among {sorted(left)}"
        placed |= ready


@pytest.mark.parametrize("room", ABOVE)
def test_a_room_knows_only_rooms_above_it(room):
    paths = sorted((HOUSE / room).rglob("*.py")) if room in ROOMS else [HOUSE / f"{room}.py"]
    for path in paths:
        assert set(known(path)) <= {room, *ABOVE[room]}, path.relative_to(ROOT)


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_says_what_it_is_for(room):
    text = (HOUSE / room / "README.md").read_text(encoding="utf-8")
    assert text.startswith("# ") and "\n\n" in text
    assert f"(counter/{room}/README.md)" in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = {path.stem for path in (HOUSE / room).glob("*.py")} - {"__init__", "__main__"}
    assert not {name for name in named if f"`{name}" not in text}, "modules that its README doesn't name"


def knows(path):
    """Names of the modules and rooms of one folder that a module, or a room in it, imports from."""
    folder = ".".join(path.parent.relative_to(ROOT).parts)
    for file in sorted(path.rglob("*.py")) if path.is_dir() else [path.with_suffix(".py")]:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module == folder:
                yield from (alias.name for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith(f"{folder}."):
                yield node.module.removeprefix(f"{folder}.").split(".")[0]


@pytest.mark.parametrize("folder", [HOUSE / "counting", HOUSE / "counting" / "loop"], ids=lambda path: path.name)
def test_a_photo_walks_one_way_through_the_modules_of_counting(folder):
    text = (folder / "README.md").read_text(encoding="utf-8").split("| module | says |")[1]
    order = re.findall(r"^\| \[?`(\w+)(?:\.py|/)`", text, flags=re.MULTILINE)
    rooms = {path.parent.name for path in folder.glob("*/__init__.py")}
    assert set(order) == {path.stem for path in folder.glob("*.py")} - {"__init__"} | rooms
    for place, name in enumerate(order):
        assert set(knows(folder / name)) <= {name, *order[:place]}, f"{name} knows what comes after it"
