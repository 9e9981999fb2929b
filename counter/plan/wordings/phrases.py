"""What rules for everyday wordings are made of: the rule itself, and parts of patterns that they share."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["BELOW_HUNDRED", "LIMB", "ONES", "RND", "ST", "STITCH", "TENS", "N", "Rule", "blank", "rule"]


@dataclass(frozen=True)
class Rule:
    """One habit of writing.

    Parameters
    ----------
    name : str
        What it is about.
    pattern : re.Pattern
        What is looked for; it never runs over the end of a line.
    said : str or callable
        What stands there instead, as for :func:`re.sub`.
    example, becomes : str
        A text with it, and the same reworded by this rule alone.
    """

    name: str
    pattern: re.Pattern
    said: str | Callable[[re.Match], str]
    example: str
    becomes: str


#: A stitch by name, in US or UK terms.
STITCH = (
    r"(?:(?:half[ -]?)?(?:double|treble)[ ]crochets?|single[ ]crochets?|half[ -]?trebles?|trebles?|"
    r"(?:sc|hdc|dc|tr|htr|dtr)s?)"
)
ST = rf"(?:sts?\b\.?|stitch(?:es)?\b|{STITCH}\b)"
#: A part of a toy that a round is worked across where it is joined to another.
LIMB = (
    r"(?:the[ ])?(?:(?:first|second|other|next|1st|2nd|left|right|one)[ ])?(?:legs?|ears?|arms?|feet|foot)\b"
    r"(?:[ ](?:1|2|one|two|a|b)\b)?"
)
RND = r"(?:rounds?|rnds?|rds?)\b\.?"
TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80,
    "ninety": 90,
}  # fmt: skip
ONES = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10,
    "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17,
    "eighteen": 18, "nineteen": 19,
}  # fmt: skip
BELOW_HUNDRED = (
    rf"(?:(?:{'|'.join(TENS)})(?:[ -](?:{'|'.join(list(ONES)[:9])})\b)?"
    rf"|(?:{'|'.join(reversed(ONES))}))"
)
#: A number by the name "n".
N = r"(?P<n>\d{1,5})"


def blank(found: re.Match) -> str:
    """Nothing, but for the comma or stop that ended it."""
    return " "


def rule(name: str, pattern: str, said, example: str, becomes: str) -> Rule:
    """Make a rule, whatever the case of the letters, line by line."""
    return Rule(name, re.compile(pattern, re.IGNORECASE | re.MULTILINE), said, example, becomes)
