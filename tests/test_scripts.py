"""The page's scripts without a browser: by node's own test runner, and against what Python reckons for the same rim."""

import json
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from counter.counting.unwrap import to_picture, to_strip

HERE = Path(__file__).parent
SCRIPTS = HERE / "scripts"
NODE = shutil.which("node")
pytestmark = pytest.mark.skipif(NODE is None, reason="node is not installed (Debian: apt install nodejs)")


def test_scripts_pass_their_own_tests():
    run = subprocess.run(
        [NODE, "--test", "--test-reporter=tap", str(SCRIPTS / "rim.test.mjs")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout[-6000:] + run.stderr[-2000:]
    assert "# pass 0" not in run.stdout and "# skipped 0" in run.stdout


@pytest.mark.parametrize("path", sorted((HERE.parent / "counter" / "page").glob("*.js")), ids=lambda path: path.name)
def test_a_script_can_be_parsed(path, tmp_path):
    module = tmp_path / f"{path.stem}.mjs"
    shutil.copy(path, module)
    run = subprocess.run([NODE, "--check", str(module)], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr


def rims():
    """Rims of every kind: even, waved, seen at a slant, out of the middle, either way round."""
    rng = np.random.default_rng(1)
    for k in range(24):
        turn = np.linspace(0, 2 * np.pi, int(rng.integers(60, 400)), endpoint=False)
        away = 200 * (1 + 0.1 * rng.random() * np.cos(rng.integers(2, 9) * turn))
        line = np.column_stack([400 + away * np.sin(turn), 350 - away * rng.uniform(0.6, 1) * np.cos(turn)])
        line = line if k % 2 else line[::-1]
        centre = np.array([400.0, 350.0]) + rng.uniform(-30, 30, 2)
        yield line, centre, centre + rng.uniform(-260, 260, (40, 2))


def test_the_strip_is_the_same_in_both_languages():
    cases = list(rims())
    sent = [
        {"rim": line.tolist(), "centre": centre.tolist(), "stitch": 20, "depths": [-0.2, 0.4], "places": at.tolist()}
        for line, centre, at in cases
    ]
    run = subprocess.run(
        [NODE, str(SCRIPTS / "mapping.mjs")], input=json.dumps(sent), capture_output=True, text=True, check=True
    )
    for (line, centre, at), answer in zip(cases, json.loads(run.stdout), strict=True):
        along, depth, x, y = np.array(answer).T
        place, deep = to_strip(line, tuple(centre), at)
        steps = np.linalg.norm(np.roll(line, -1, axis=0) - line, axis=1)
        walked = np.concatenate([[0], np.cumsum(steps)])
        # Python counts points of the rim, the script the way along it.
        reckoned = np.interp(place, np.arange(len(walked)), walked)
        apart = np.abs(along - reckoned) % walked[-1]
        assert np.minimum(apart, walked[-1] - apart).max() < 1e-6
        assert depth == pytest.approx(deep, abs=1e-9)
        assert np.column_stack([x, y]) == pytest.approx(to_picture(line, tuple(centre), place, deep), abs=1e-6)
        # And back at the place itself.
        assert np.column_stack([x, y]) == pytest.approx(at, abs=1e-6)
