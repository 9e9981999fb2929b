"""Rimtally: counts the stitches around the rim of a crocheted round from a photo.

What a script or notebook needs is here; it is loaded when it is first asked
for, so that importing costs next to nothing and sets nothing in the process.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counter.api import __version__, count, find_scale, render_marks, sentences
    from counter.basics.answer import Count, Doubt, InProgress, Refusal
    from counter.basics.photo import Photo, Picture, read_photo
    from counter.comparing.check import Check, check
    from counter.comparing.verdict import Verdict, compare
    from counter.counting.count import count_photo
    from counter.evaluation.evaluate import Evaluation, evaluate
    from counter.examination import Examination, examine
    from counter.lengths.scale import NoScale, Scale
    from counter.plan import Plan, PlanRound, read_plan, write_plan

__all__ = [
    "Check",
    "Count",
    "Doubt",
    "Evaluation",
    "Examination",
    "InProgress",
    "NoScale",
    "Photo",
    "Picture",
    "Plan",
    "PlanRound",
    "Refusal",
    "Scale",
    "Verdict",
    "__version__",
    "check",
    "compare",
    "count",
    "count_photo",
    "evaluate",
    "examine",
    "find_scale",
    "read_photo",
    "read_plan",
    "render_marks",
    "sentences",
    "write_plan",
]

#: Where each name is at home.
_HOMES = {
    "counter.api": ("__version__", "count", "find_scale", "render_marks", "sentences"),
    "counter.basics.answer": ("Count", "Doubt", "InProgress", "Refusal"),
    "counter.basics.photo": ("Photo", "Picture", "read_photo"),
    "counter.comparing.check": ("Check", "check"),
    "counter.comparing.verdict": ("Verdict", "compare"),
    "counter.counting.count": ("count_photo",),
    "counter.evaluation.evaluate": ("Evaluation", "evaluate"),
    "counter.examination": ("Examination", "examine"),
    "counter.lengths.scale": ("NoScale", "Scale"),
    "counter.plan": ("Plan", "PlanRound", "read_plan", "write_plan"),
}


def __getattr__(name: str) -> object:
    """Load what is asked for (PEP 562)."""
    for home, names in _HOMES.items():
        if name in names:
            value = getattr(importlib.import_module(home), name)
            globals()[name] = value
            return value
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
