"""Rimtally: counts the stitches around the rim of a crocheted round from a photo."""

import os
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counter.basics.answer import Count, Doubt, InProgress, Refusal
    from counter.basics.photo import Photo, read_photo
    from counter.comparing.verdict import Verdict, compare
    from counter.counting.count import count_photo

__all__ = ["Count", "Doubt", "InProgress", "Photo", "Refusal", "Verdict", "compare", "count_photo", "read_photo"]

# The matrices of a count are small, and threads that wait for each other take longer over them,
# the more so the busier the machine. The library reads this once, when numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

#: Where each public name lives. It is loaded when it is asked for: pictures and matrices take half a second
#: that help, a plan or the notebook's list need not wait for.
_HOME = {
    "Count": "basics.answer",
    "Doubt": "basics.answer",
    "InProgress": "basics.answer",
    "Refusal": "basics.answer",
    "Photo": "basics.photo",
    "read_photo": "basics.photo",
    "Verdict": "comparing.verdict",
    "compare": "comparing.verdict",
    "count_photo": "counting.count",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"counter.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOME])
