"""Everyday wordings, said again in the words that the grammar knows.

Each rule (in ``wordings/``) is one habit of writing: what is looked for, what stands there for the
grammar, and an example of both, which is also its test. A rule works on one line
and never on the meaning of a round; where two meanings are possible, that is
settled later, by the numbers. The text may grow shorter or longer: every sign
remembers where it stood, so that lines and columns stay those of the maker's text.
"""

from __future__ import annotations

import re

from counter.plan.reworded import Reworded
from counter.plan.wordings.phrases import Rule
from counter.plan.wordings.places import PLACES
from counter.plan.wordings.remarks import REMARKS
from counter.plan.wordings.rounds import ROUNDS
from counter.plan.wordings.shaping import SHAPING
from counter.plan.wordings.stitches import STITCHES
from counter.plan.wordings.totals import TOTALS

__all__ = ["DEFINITION", "RULES", "own_lines", "reword", "say_letters"]

#: Every habit, in the order in which they are undone.
RULES: tuple[Rule, ...] = (*STITCHES, *ROUNDS, *SHAPING, *PLACES, *TOTALS, *REMARKS)

#: A line that writes stitches in the letters of charts: an X and behind it a V or an A.
_IN_LETTERS = re.compile(r"(?<![A-Za-z])X(?![A-Za-z])[^\n]{0,60}(?<![A-Za-z])[VA](?![A-Za-z])")


def say_letters(text: Reworded) -> None:
    """Say the letters of charts as stitches, before they are taken for words of another language (a Dutch "v").

    Parameters
    ----------
    text : Reworded
        With plain signs; it is changed where it is written in such letters.
    """
    if _IN_LETTERS.search(text.text):
        rule = next(rule for rule in RULES if rule.name == "stitches by single letters")
        text.apply(rule.pattern, rule.said)


#: Words for a round in the languages that are read, and letters that stand for one.
_ROUND_WORDS = (
    r"rounds?|rnds?|rds?|runden?|vueltas?|vtas?|rondas?|tours?|rangs?|toer(?:en)?|carreiras?|carrs?|voltas?"
    r"|[rvt](?=[ ]?\d)"
)
#: Where another round begins in the middle of a line: a label behind the end of a sentence or of a bracket.
_LATER_LABEL = re.compile(
    rf"(?<=[.;!)\]|])(?P<gap>[ ]+)(?:(?:and|then)[ ])?(?:"
    rf"(?P<in>in[ ])(?:the[ ])?(?P<word>{_ROUND_WORDS})[ ]?(?P<number>\d+),"
    rf"|(?=(?:next|the[ ]next)[ ](?:(?:\d+|two|three|four|five|six)[ ])?(?:{_ROUND_WORDS})\.?(?:"
    rf"[ ]?\([^()\n]{{1,20}}\))?[ ]?[:,-])"
    rf"|(?=(?:first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth)[ ](?:{_ROUND_WORDS})\.?[:,])"
    rf"|(?=\d{{1,3}}(?:\.|st|nd|rd|th|[ªºe]|er)[ ]?(?:{_ROUND_WORDS})\.?[ ]?[:,])"
    rf"|(?=(?:{_ROUND_WORDS})\.?[ ]?\d{{1,3}}(?:[ ]?-[ ]?\d{{1,3}})?[ ]?:)"
    r")",
    re.IGNORECASE,
)


#: What is worked for several rounds behind the total of the one before: "... (6); sc around for 5 rounds".
_LATER_ROUNDS = re.compile(
    r"(?<=[)\]])[.;,]?(?P<gap>[ ]+)(?=(?:then[ ])?(?:sc|hdc|dc|work|crochet)\b[^.;:()\[\]\n]{0,30}\bfor[ ]"
    r"(?:\d+|two|three|four|five|six)[ ](?:rounds|rnds|rds)\b)",
    re.IGNORECASE,
)


def own_lines(text: Reworded) -> None:
    """Give each round that begins in the middle of a line a line of its own.

    Parameters
    ----------
    text : Reworded
        With plain signs, in any of the languages that are read; it is changed.
    """
    text.apply(
        _LATER_LABEL, lambda found: f"\n{found['word']} {found['number']}:" if found["in"] else "\n" + found["gap"][1:]
    )
    text.apply(_LATER_ROUNDS, lambda found: "\n" + found["gap"][1:])
    text.apply(_ALL_ROUNDS, _numbered)


#: All rounds of a piece in one line, from the ring on, each but the first with its total: "Tail: 6 sc in magic ring,
#: inc around (12), sc around (12)".
_ALL_ROUNDS = re.compile(
    r"^(?:[a-z]{2,12}:[ ])?\d{1,2}[ ]?(?:sc|hdc|dc)[ ]in[ ](?:a[ ])?(?:magic[ ]ring|mr)(?:[ ]\(\d{1,3}\))?"
    r"(?:[,;][ ][^():;\n]{2,60}[ ]\(\d{1,3}\)){2,}",
    re.IGNORECASE | re.MULTILINE,
)


def _numbered(found: re.Match) -> str:
    """Each of the rounds that stand in one line, with its number."""
    name, _, rounds = found.group().rpartition(": ")
    each = re.split(r"(?<=[)g])[,;][ ]|(?<=mr)[,;][ ]", rounds, flags=re.IGNORECASE)
    told = [f"Rnd {number}: {one}" for number, one in enumerate(each, 1)]
    return "\n".join([f"{name}:", *told] if name else told)


#: Signs of a text that are looked at for definitions.
LOOKED_AT = 20_000


def reword(text: Reworded) -> None:
    """Say a plain text again in the words that the grammar knows.

    Parameters
    ----------
    text : Reworded
        With plain signs; it is changed.
    """
    for name, made in _defined(text.text).items():
        text.apply(
            re.compile(rf"\b(?<!: )(?<!= )(?:an?[ ])?{name}s?\b(?![ ]?(?:[:=)-]|st(?:itch)?[ ]?[:=(-]))", re.I),
            f"({made})",
        )
    for rule in RULES:
        text.apply(rule.pattern, rule.said)


#: "Shell: 5 dc in the same st", "fan = (2 dc, ch 1, 2 dc) in next st".
DEFINITION = re.compile(
    r"^[ *-]*(?:(?:note|special[ ]stitch(?:es)?|abbreviations?)[ ]?:?[ ]*)?(?P<name>shell|fan|scallop"
    r"|petal|v[ -]?st)(?:[ ]st(?:itch)?)?"
    r"[ ]?(?:[:=]|-[ ]|means[ ])[ ]?(?:work[ ])?[(\[]?(?P<made>(?:\d+[ ](?:sc|hdc|dc|tr|htr|dtr))"
    r"(?:,[ ]?(?:ch[ ]?\d+|\d+[ ](?:sc|hdc|dc|tr|htr|dtr)))*)",
    re.IGNORECASE | re.MULTILINE,
)


def _defined(text: str) -> dict[str, str]:
    """Shells and fans that a text defines: what each is made of."""
    return {found["name"].lower(): found["made"] for found in DEFINITION.finditer(text[:LOOKED_AT])}
