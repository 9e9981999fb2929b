"""Names of stitches: as they are written, in US and in UK terms."""

from __future__ import annotations

from counter.plan.settled import Normalised
from counter.plan.tokens import words_of

__all__ = ["MAIN", "UK_TO_US", "US_TO_UK", "bare", "in_terms", "main_stitch", "stitch_name"]

#: Four independent charts of abbreviations agree on these.
US_TO_UK = {"sc": "dc", "hdc": "htr", "dc": "tr", "tr": "dtr", "dtr": "trtr"}
UK_TO_US = {uk: us for us, uk in US_TO_UK.items()}
#: Written out -> abbreviation, in the terms of the text.
NAMES = (
    ("half double", "hdc"), ("half treble", "htr"), ("double treble", "dtr"), ("single", "sc"), ("double", "dc"),
    ("treble", "tr"), ("trc", "tr"),
)  # fmt: skip
#: Stitches that a round may mostly be worked in.
MAIN = ("sc", "hdc", "dc", "tr", "dtr")


def stitch_name(token: str, uk: bool) -> str:
    """Return the US name of a stitch as it is written.

    Parameters
    ----------
    token : str
        "Double crochets", "hdc", "FPdc", ...
    uk : bool
        Whether it is written in UK terms.

    Returns
    -------
    str
        "sc", "hdc", "FPdc", "bobble", ...
    """
    low = " ".join(token.lower().replace("-", " ").split())
    if low == "main":
        return low
    for name in ("bobble", "puff", "popcorn", "cluster"):
        if low.startswith(name):
            return name
    prefix = ""
    for start, short in (
        ("front post ", "FP"),
        ("back post ", "BP"),
        ("extended ", "ext "),
        ("ext. ", "ext "),
        ("ext ", "ext "),
    ):
        if low.startswith(start):
            prefix, low = short, low[len(start) :]
    if low[:2] in ("fp", "bp"):
        prefix, low = low[:2].upper(), low[2:]
    low = next((short for long, short in NAMES if low.startswith(long)), low.rstrip("s"))
    if uk:
        return prefix + UK_TO_US.get(low, low)
    return prefix + ("hdc" if low == "htr" else low)


def bare(stitch: str) -> str:
    """Return a stitch without what says how it is worked: "FPdc" is a dc."""
    return stitch.removeprefix("ext ").removeprefix("FP").removeprefix("BP")


def in_terms(text: str, uk: bool, to_uk: bool) -> str:
    """Say the stitches of a written round in other terms.

    Parameters
    ----------
    text : str
        One line of instructions.
    uk : bool
        Whether it is in UK terms.
    to_uk : bool
        Whether UK terms are wanted.

    Returns
    -------
    str
        The same with the abbreviations of the terms that are wanted.
    """
    out, at = [], 0
    for token in words_of(text):
        said, skips = str(token), token.type == "SKIP"
        if skips:
            said = "miss" if to_uk else "sk"
        elif token.type in ("STITCH", "TOG"):
            head = said.lower().split("tog")[0].rstrip(" -0123456789") if token.type == "TOG" else said
            name = stitch_name(head, uk) if head else ""
            plain = bare(name)
            name = name.removesuffix(plain) + US_TO_UK.get(plain, plain) if to_uk and plain else name
            said = name + (said[len(head) :] if token.type == "TOG" else "")
        begin = token.start_pos or 0
        out += [text[at:begin], said]
        at = begin + len(token)
    return "".join(out) + text[at:]


def main_stitch(settled: Normalised, uk: bool, before: str) -> str:
    """Return the stitch that a round is mostly worked in, in US terms.

    Parameters
    ----------
    settled : Normalised
        The round's words.
    uk : bool
        Whether they are in UK terms.
    before : str
        Main stitch of the round before, for a round that names none.

    Returns
    -------
    str
    """
    said: dict[str, int] = {}
    for token in settled.tokens:
        if token.type in ("STITCH", "TOG"):
            name = token.lower().split("tog")[0].rstrip(" -0123456789") if token.type == "TOG" else token
            name = bare(stitch_name(name, uk)) if name else ""
            if name in MAIN:
                said[name] = said.get(name, 0) + 1
    return max(said, key=lambda name: said[name]) if said else before
