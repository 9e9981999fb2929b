import hashlib
import json
from dataclasses import replace
from importlib import resources

import pytest

from counter.counting.calibration import NAME, Calibration, Signs, calibration_of, shipped

WEIGHTS = resources.files("counter.counting") / "weights"
GOOD = Signs(probability=0.99, one_width=True, in_view=1.0, seam=0.8, off_width=1.01, pitch_px=20.0)
NUMBERS = Calibration(trust=1.0, temperature=2.0, sure=0.9, in_view=0.9, seam=0.3, off_width=1.06, pitch_px=12.0)


def test_the_calibration_belongs_to_the_weights_beside_it():
    fitted_for = json.loads((WEIGHTS / NAME).read_text(encoding="utf-8"))["weights"]
    there = {path.name.removesuffix(".onnx"): path for path in WEIGHTS.iterdir() if path.name.endswith(".onnx")}
    assert fitted_for == {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in there.items()}
    assert shipped().trust > 0


def test_temperature_flattens_and_keeps_the_order():
    # By hand: square roots of 0.81, 0.16 and 0.01 are 0.9, 0.4 and 0.1, whose sum is 1.4.
    assert NUMBERS.tempered({23: 0.16, 24: 0.81, 25: 0.01}) == pytest.approx({23: 0.4 / 1.4, 24: 0.9 / 1.4, 25: 1 / 14})


@pytest.mark.parametrize(
    "worse",
    [
        {"probability": 0.89},
        {"one_width": False},
        {"in_view": 0.8},
        {"seam": 0.2},
        {"off_width": 1.07},
        {"pitch_px": 11.9},
    ],
)
def test_one_bad_sign_is_enough_not_to_be_sure(worse):
    assert NUMBERS.allows(GOOD)
    assert not NUMBERS.allows(replace(GOOD, **worse))


@pytest.mark.parametrize(
    "data",
    [
        *([], {}, {"values": {}}, {"values": {**vars(NUMBERS), "more": 1}}),
        *({"values": {**vars(NUMBERS), **bad}} for bad in ({"trust": 0}, {"sure": "0.9"}, {"seam": True})),
        {"values": {**vars(NUMBERS), "temperature": float("nan")}},
    ],
)
def test_a_damaged_file_is_no_calibration(data):
    with pytest.raises(ValueError, match="must"):
        calibration_of(data)
