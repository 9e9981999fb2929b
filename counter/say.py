"""How numbers and warnings are said, the same everywhere."""

from __future__ import annotations

from collections.abc import Iterable

__all__ = ["CAUTION", "CAUTION_PLACES", "either", "percent", "stitches"]

#: Said with everything that could make somebody rip back.
CAUTION = "Check by eye and finger before you rip anything back."
#: The same where the places have just been named.
CAUTION_PLACES = "Check these places by eye and finger before you rip anything back."


def either(numbers: Iterable[int]) -> str:
    """Say that it is one of some numbers.

    Parameters
    ----------
    numbers : iterable of int
        At least one.

    Returns
    -------
    str
        "24", "23 or 24", "22, 23 or 24".
    """
    *others, last = (str(n) for n in sorted(numbers))
    return f"{', '.join(others)} or {last}" if others else last


def percent(probability: float) -> str:
    """Say a probability so that it claims neither more nor less than is known.

    Parameters
    ----------
    probability : float
        0 to 1.

    Returns
    -------
    str
        Whole percents, or "over 99%", or "under 1%".
    """
    return "over 99%" if probability > 0.99 else "under 1%" if probability < 0.01 else f"{probability:.0%}"


def stitches(number: int) -> str:
    """Say a number of stitches.

    Parameters
    ----------
    number : int

    Returns
    -------
    str
        "1 stitch", "24 stitches".
    """
    return "1 stitch" if number == 1 else f"{number} stitches"
