"""The test group holds what it says: one error of the pattern, one of a maker."""

import json

import numpy as np

from counter.group.match import find_photos, guess_names, match
from counter.plan import read_plan
from counter.synthetic import group
from counter.synthetic.group import LOOKS, PATTERN, PATTERN_FILE, ROUNDS, render_group, worked_by


def test_makers_come_out_as_planted():
    off = {maker: [len(worked_by(maker, n).bases[-1]) - PATTERN[n - 1] for n in ROUNDS] for maker in LOOKS}
    assert sum(own[ROUNDS.index(5)] == -1 for own in off.values()) == 6
    slipped = {maker: own for maker, own in off.items() if any(by for n, by in zip(ROUNDS, own, strict=True) if n != 5)}
    assert slipped == {"Fern": [0, 0, 0, -1, -1, -1]}


def test_group_is_laid_out_for_the_audit(tmp_path, monkeypatch):
    drawn = []

    def drawn_photo(seed, **how):
        drawn.append(seed)
        return np.full((240, 240, 3), 120, np.uint8), {"stitches": len(how["wish"].worked.bases[-1])}

    monkeypatch.setattr(group, "render_photo", drawn_photo)
    told = []
    photos = render_group(tmp_path, progress=lambda *far: told.append(far))
    assert len(photos) == len(set(drawn)) == 48 and told[0] == (0, 48) and told[-1] == (48, 48)
    plan = read_plan((tmp_path / PATTERN_FILE).read_text())
    assert [own.stitches for own in plan.rounds] == list(PATTERN) and not plan.findings
    found = find_photos(tmp_path)
    places = match(found, range(1, 8), names=guess_names(found, range(1, 8)))
    assert {(place.maker, place.round) for place in places} == {(maker, n) for maker in LOOKS for n in ROUNDS}
    assert json.loads((tmp_path / "Wren" / "round 5.json").read_text())["stitches"] == 31
    # What is there is kept.
    (tmp_path / "Wren" / "round 5.json").unlink()
    drawn.clear()
    render_group(tmp_path)
    assert len(drawn) == 1
