"""Texts for several sizes: "48 (54, 60) sts" is 48 for the first, 54 for the second, 60 for the third.

One size is read at a time, as a maker with a pen would mark it; the others stay in the text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from counter.plan.reworded import Reworded

__all__ = ["Sizes", "choose_size"]

#: "48 (54, 60)", "48 [54: 60]" (a bracket with one number only where the text says that it has sizes), "48/54/60 sts".
_ANY = re.compile(
    r"(?<![\w./])(?P<first>\d{1,4})(?:[ ]?[(\[](?P<rest>\d{1,4}(?:[ ]?[,:/;|-][ ]?\d{1,4})*)[)\]]"
    r"|/(?P<more>\d{1,4}(?:/\d{1,4})+)(?=[ ]?(?:sts?|stitch|sc|hdc|dc|tr|ch)\b|[)\]]))"
)
#: The same with strokes, where sizes are named so: "6 / 8 sc".
_SLASHES = re.compile(r"(?<![\w./])(?P<first>\d{1,4})(?P<rest>(?:[ ]?/[ ]?\d{1,4})+)(?![\w/])(?P<more>)")
_SIZE_LINE = re.compile(
    r"^[ *#]*(?:finished[ ])?(?:sizes?|to[ ]fit|for[ ]sizes?|instructions[ ]are[ ](?:given"
    r"|written)[ ]for[ ](?:size[ ])?)[ ]?:?[ ]*"
    r"(?P<first>[\w ./+\"'-]+?)[ ]?[(\[](?P<rest>[^()\[\]\n]+)[)\]]",
    re.IGNORECASE | re.MULTILINE,
)
_NAMED = (
    r"(?:(?:x{0,3}[sl]|m|small|medium|large|extra[ ]"
    r"(?:small|large)|preemie|newborn|baby|toddler|child|kid|teen|adult)s?"
    r"|\d+-\d+[ ]?(?:months|years|mths|yrs))"
)
_SIZE_NAMES = re.compile(
    rf"(?<![\w.])(?P<first>{_NAMED})[ ]?[(\[](?P<rest>{_NAMED}(?:[ ]?[,:/;|][ ]?{_NAMED})*)[)\]]", re.IGNORECASE
)
_SIZE_SLASHES = re.compile(rf"(?<![\w./])(?P<first>{_NAMED})(?P<rest>(?:[ ]?/[ ]?{_NAMED})+)(?![\w/])", re.IGNORECASE)
_RANGE = re.compile(r"^[ ]*(?:r|rnds?|rds?|rounds?)?[ ]?(\d{1,4})[ ]?(?:-|to)[ ]?r?(\d{1,4})\b", re.IGNORECASE)
_BETWEEN = re.compile(r"[ ]?[,:/;|][ ]?|[ ]?-[ ]?(?=\d)")


@dataclass(frozen=True)
class Sizes:
    """The sizes of a text: their names, which one was read, whether it was asked for, and where the first stands."""

    names: tuple[str, ...]
    chosen: int
    known: bool
    at: int


def choose_size(text: Reworded, size: str | None) -> Sizes | None:
    """Keep the numbers of one size.

    Parameters
    ----------
    text : Reworded
        With plain signs; it is changed.
    size : str or None
        Name or number, from 1, of the size that is wanted.

    Returns
    -------
    Sizes or None
        None where the text is written for one size.
    """
    line = _SIZE_LINE.search(text.text) or _SIZE_NAMES.search(text.text)
    slashes = None if line else _SIZE_SLASHES.search(text.text)
    line = line or slashes
    pattern = _SLASHES if slashes else _ANY
    named: list[str] = []
    if line:
        named = [
            line["first"].strip(),
            *(name.strip() for name in re.split(r"[,;|:]|/(?!\d)", line["rest"]) if name.strip()),
        ]
    found = [one for one in pattern.finditer(text.text) if not _totals_of_rounds(text.text, one)]
    counts = [len(_numbers(one)) for one in found]
    if named:
        many = len(named)
        found = [
            one
            for one, count in zip(found, counts, strict=True)
            if count == many and not (line and line.start() <= one.start() < line.end())
        ]
        if not found:
            return None
    else:
        several = [count for count in counts if count > 2]
        if not several:
            return None
        many = max(set(several), key=several.count)
        found = [one for one, count in zip(found, counts, strict=True) if count == many]
        named = [str(number) for number in range(1, many + 1)]
    low = [name.lower() for name in named]
    wanted = (size or "").strip().lower()
    known = bool(wanted) and (wanted in low or wanted.isdigit() and 1 <= int(wanted) <= many)
    chosen = (low.index(wanted) if wanted in low else int(wanted) - 1) if known else 0
    at = text.origin(found[0].start())
    spans = {one.span() for one in found}
    text.apply(pattern, lambda one: str(_numbers(one)[chosen]) if one.span() in spans else one.group())
    return Sizes(tuple(named), chosen, known, at)


def _numbers(found: re.Match) -> list[int]:
    return [
        int(found["first"]),
        *(int(number) for number in _BETWEEN.split((found["rest"] or found["more"]).strip(" /"))),
    ]


def _totals_of_rounds(text: str, found: re.Match) -> bool:
    """Whether a bracket holds totals of rounds: "Rnds 2-4: inc x 6 (12, 18, 24)", or "x 6 (24)"."""
    begin = text.rfind("\n", 0, found.start()) + 1
    label = _RANGE.match(text, begin)
    if label and label.end() <= found.start() and int(label[2]) - int(label[1]) + 2 == len(_numbers(found)):
        return True
    return (
        bool(label and label.end() > found.start())
        or len(_numbers(found)) == 2
        and bool(re.search(r"(?:x|\*|times)[ ]?$", text[max(0, found.start() - 8) : found.start()], re.IGNORECASE))
    )
