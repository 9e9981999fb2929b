"""What the closed loop is given: what is seen at each place of the rim, and how wide stitches are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = ["RULED_OUT", "Evidence", "WidthModel", "coarsened", "coarsening", "weighted"]

#: Evidence beyond this many nats (odds of 10^13) is taken for certain.
CERTAIN_NATS = 30.0
#: Least drift of the logarithm of the local width from stitch to stitch (a guess): no hand is as even as
#: that, and scales that nothing leads to would leave the range of floating-point numbers.
LEAST_DRIFT_LOG_WIDTH = 0.01
RULED_OUT = "the evidence rules out every loop: give places that are not ruled out for gaps and middles"


@dataclass(frozen=True, eq=False)
class Evidence:
    """What is seen at each place of the rim.

    Places are equally spaced along the rim, and the last is next to the first.

    Parameters
    ----------
    middle, gap : ndarray of shape (M,), float
        Log-likelihood ratio, in nats, that the place is the middle of a
        stitch, or the gap between two, against any other place. Minus infinity
        rules the place out; other values beyond :data:`CERTAIN_NATS` either way
        count as that.
    seen : ndarray of shape (M,), float
        Weight of the evidence, 0 to 1: 0 where the rim is hidden (finger, hook,
        frame), 1 in full view.

    Raises
    ------
    ValueError
        If the arrays are not one-dimensional and equally long, or hold values
        that mean nothing.
    """

    middle: np.ndarray
    gap: np.ndarray
    seen: np.ndarray

    def __post_init__(self) -> None:
        for name in ("middle", "gap", "seen"):
            array = np.array(getattr(self, name), float)
            array.flags.writeable = False
            object.__setattr__(self, name, array)
        shape = self.gap.shape
        if len(shape) != 1 or self.middle.shape != shape or self.seen.shape != shape:
            raise ValueError(
                "evidence: middle, gap and seen must be one-dimensional and equally long, "
                f"not {self.middle.shape}, {shape} and {self.seen.shape}"
            )
        for name in ("middle", "gap"):
            array = getattr(self, name)
            if np.isnan(array).any() or (array == np.inf).any():
                raise ValueError(f"evidence: {name} must not hold NaN or plus infinity")
        if not ((self.seen >= 0) & (self.seen <= 1)).all():
            raise ValueError("evidence: seen must lie between 0 and 1")


@dataclass(frozen=True)
class WidthModel:
    """How wide stitches are.

    Parameters
    ----------
    centre : float
        Most likely mean width, in places.
    spread : float
        Standard deviation of the logarithm of the mean width.
    jitter : float
        Standard deviation of the logarithm of one stitch's width round the
        local scale.
    drift : float, optional
        Standard deviation of the change of the logarithm of the local scale
        from one stitch to the next; less than :data:`LEAST_DRIFT_LOG_WIDTH` counts as that.

    Raises
    ------
    ValueError
        If a value is not a positive number (`drift`: not negative).
    """

    centre: float
    spread: float
    jitter: float
    drift: float = 0.06

    def __post_init__(self) -> None:
        for name in ("centre", "spread", "jitter"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0):
                raise ValueError(f"width model: {name} must be a positive number, not {value}")
        if not (np.isfinite(self.drift) and self.drift >= 0):
            raise ValueError(f"width model: drift must be 0 or a positive number, not {self.drift}")


def weighted(ratio: np.ndarray, seen: np.ndarray) -> np.ndarray:
    """Log-likelihood ratios that count, weighed by how well each place is seen."""
    limited = np.where(np.isneginf(ratio), -np.inf, np.clip(ratio, -CERTAIN_NATS, CERTAIN_NATS))
    return np.where(seen > 0, limited, 0) * seen


def coarsening(places: int, size: int) -> np.ndarray:
    """Matrix (size, places) that averages over the places that each of fewer, wider places covers."""
    edges = np.arange(size + 1) * (places / size)
    place = np.arange(places)
    shared = np.minimum(edges[1:, None], place + 1) - np.maximum(edges[:-1, None], place)
    return np.maximum(shared, 0) * (size / places)


def coarsened(coarse: np.ndarray, ratio: np.ndarray) -> np.ndarray:
    """Log-likelihood ratio of wider places: the mean of the ratios, for it may be at any of them."""
    with np.errstate(divide="ignore"):
        return np.log(coarse @ np.exp(ratio))
