"""The few numbers that turn what the networks say into a probability, and a probability into "sure".

They stand in ``calibration.json`` beside the weights that they were fitted for,
with how they were fitted; ``python -m counter.training calibrate`` writes it.
Who has counted enough photos may have "sure" set by them on this machine: that
one number stands in a file of its own in the user's data folder, counts only
for the calibration that it was set for, and goes without a trace.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
from importlib import resources
from pathlib import Path

import platformdirs

__all__ = ["NAME", "Calibration", "Signs", "calibration_of", "in_use", "own_file", "shipped", "shipped_mark"]

#: Name of the file.
NAME = "calibration.json"


@dataclass(frozen=True)
class Signs:
    """What speaks for a count, each by itself.

    Parameters
    ----------
    probability : float
        Of the most probable number, 0 to 1.
    one_width : bool
        The first look names one width of a stitch, not two.
    in_view : float
        Share of the rim that is in view, 0 to 1.
    seam : float
        Chance of the place where the round starts and ends, where it is clearest, 0 to 1.
    off_width : float
        Factor, from 1, between the number and the one that the widths alone say.
    pitch_px : float
        Width of a stitch along the rim, in pixels of the picture that is looked at.
    """

    probability: float
    one_width: bool
    in_view: float
    seam: float
    off_width: float
    pitch_px: float


@dataclass(frozen=True)
class Calibration:
    """The numbers that are fitted once the networks are trained.

    Parameters
    ----------
    trust : float
        Share of the network's log-odds that counts: neighbouring places see the same
        yarn, so what they say is not independent.
    temperature : float
        The posterior's probabilities are taken to the power of one over this (C. Guo
        and others, "On calibration of modern neural networks", ICML 2017).
    sure : float
        Least probability of a sure count; above 1, nothing is sure.
    in_view : float
        Least share of the rim in view of a sure count.
    seam : float
        Least chance of the seam, where it is clearest, of a sure count: a missed seam
        hides or adds a stitch.
    off_width : float
        Most difference of a sure count, as a factor, from the number that the widths alone say.
    pitch_px : float
        Least pixels a stitch of a sure count: below ten even a careful person is unsure by one or two.

    Raises
    ------
    ValueError
        If a number is out of its range.
    """

    trust: float
    temperature: float
    sure: float
    in_view: float
    seam: float
    off_width: float
    pitch_px: float

    def __post_init__(self) -> None:
        for name, low, high in (
            ("trust", 0.01, 10.0),
            ("temperature", 0.01, 100.0),
            ("sure", 0.0, 2.0),
            ("in_view", 0.0, 1.0),
            ("seam", 0.0, 1.0),
            ("off_width", 1.0, 10.0),
            ("pitch_px", 0.0, 100.0),
        ):
            value = getattr(self, name)
            if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
                raise ValueError(f"{name} must be a number from {low} to {high}, not {value!r}")

    def tempered(self, posterior: Mapping[int, float]) -> dict[int, float]:
        """Probabilities as they are told.

        Parameters
        ----------
        posterior : mapping of int to float
            As the closed loop gives them.

        Returns
        -------
        dict of int to float
            Adds up to 1.
        """
        raised = {number: chance ** (1 / self.temperature) for number, chance in posterior.items()}
        total = sum(raised.values())
        return {number: chance / total for number, chance in raised.items()}

    def allows(self, signs: Signs) -> bool:
        """Whether a count with these signs may be called sure."""
        return bool(
            signs.probability >= self.sure
            and signs.one_width
            and signs.in_view >= self.in_view
            and signs.seam >= self.seam
            and signs.off_width <= self.off_width
            and signs.pitch_px >= self.pitch_px
        )


def calibration_of(data: object) -> Calibration:
    """The numbers of a calibration file.

    Parameters
    ----------
    data : object
        As JSON gives it.

    Returns
    -------
    Calibration

    Raises
    ------
    ValueError
        If it isn't one; the text says what is wrong.
    """
    values = data.get("values") if isinstance(data, dict) else None
    names = [field.name for field in fields(Calibration)]
    if not isinstance(values, dict) or sorted(values) != sorted(names):
        raise ValueError(f"'values' must hold {', '.join(names)}")
    return Calibration(**values)


@cache
def shipped() -> Calibration:
    """The calibration that came with the program.

    Raises
    ------
    RuntimeError
        If its file is damaged.
    """
    file = resources.files("counter.counting") / "weights" / NAME
    try:
        return calibration_of(json.loads(file.read_text(encoding="utf-8")))
    except ValueError as error:
        raise RuntimeError(f"{NAME} is damaged ({error}): install the program again") from None


@cache
def shipped_mark() -> str:
    """What tells the calibration that came with the program from any other: SHA-256 of its file."""
    return hashlib.sha256((resources.files("counter.counting") / "weights" / NAME).read_bytes()).hexdigest()


def own_file() -> Path:
    """Where this machine's own limit stands, whether or not there is one."""
    return platformdirs.user_data_path("rimtally", appauthor=False) / NAME


def in_use() -> Calibration:
    """The calibration that counts on this machine: the shipped one, with the user's own limit where there is one.

    Raises
    ------
    RuntimeError
        As :func:`shipped`. An own file that is damaged, or was set for another calibration, doesn't count.
    """
    calibration = shipped()
    try:
        data = json.loads(own_file().read_text(encoding="utf-8"))
        return replace(calibration, sure=data["sure"]) if data["for"] == shipped_mark() else calibration
    except (OSError, ValueError, KeyError, TypeError, IndexError):
        return calibration
