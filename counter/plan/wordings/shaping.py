"""Increases and decreases: how many, in which stitches, spread evenly, or none."""

from __future__ import annotations

import re

from counter.plan.wordings.phrases import RND, Rule, blank, rule

__all__ = ["SHAPING"]


def _by_numbers(found: re.Match) -> str:
    """So many increases or decreases as stitches are named; where they stand is left to the maker."""
    return f"{found[1]} {len(re.findall(r'first|[0-9]+', found['list']))} evenly"


#: In the order in which they are undone.
SHAPING: tuple[Rule, ...] = (
    rule(
        "so many in each of several rounds",
        rf"^([ ]*(?:{RND}|r)[ ]?\d+[ ]?(?:-|to)[ ]?r?\d+[ ]?[:.)-]+[ ]*)(inc|dec)(?:rease)?[ ](?:by[ ])?(\d+)"
        rf"(?:[ ](?:sts|stitches))?[ ](?:in[ ])?(?:each|every|per)[ ]{RND}",
        r"\1\2 \3 evenly",
        "R2-5: increase 6 each round",
        "R2-5: inc 6 evenly",
    ),
    rule(
        "in the fifth stitch, all round",
        r"\b(inc|dec)(?:rease)?[ ]in[ ](?:the|each|every)[ ](\d+)(st|nd|rd|th)[ ]st(?:itch)?[ ](?=around\b|all[ ])",
        r"\1 every \2\3 st ",
        "Inc in the 5th stitch around (36)",
        "Inc every 5th st around (36)",
    ),
    rule(
        "shaping that is announced",
        r"\b(?:(?:keep|continue|start|begin)[ ](?:to[ ])?(?:inc|dec)(?:rease|reasing)|(?:inc"
        r"|dec)rease[ ]by[ ](?:working|making))[ ]?(?=[:(\[])",
        blank,
        "keep decreasing (sc 4, dec) x 6",
        " (sc 4, dec) x 6",
    ),
    rule(
        "stitches that are doubled",
        r"\bdouble[ ](each|every|all)(?=[ ](?:(?:\d+(?:st|nd|rd|th)|second|third|fourth|fifth|sixth|other|the)[ ])?st)",
        r"inc in \1",
        "double every 2nd st (24)",
        "inc in every 2nd st (24)",
    ),
    rule(
        "how often is shaped, said ahead",
        r"(?<=[:.][ ])(?:inc|dec)(?:rease)?[ ]\d+[ ](?:times|sts|stitches)(?:[ ]evenly)?:[ ](?=[(\[*])",
        blank,
        "R3: increase 7 times: (sc, inc) x 7",
        "R3:  (sc, inc) x 7",
    ),
    rule(
        "evenly said ahead",
        r"\bevenly[ ](inc|dec)(?:r?(?:ease|easing)?)?[ ](?:by[ ])?(\d+)\b",
        r"\1 \2 evenly",
        "work 24 sc, evenly increasing 6 (30)",
        "work 24 sc, inc 6 evenly (30)",
    ),
    rule(
        "the first and the last",
        r"\b(inc|dec)(?:rease)?[ ]in[ ](?:the[ ])?first[ ](?:sts?[ ])?and[ ](?:in[ ])?(?:the[ ])?last(?:[ ]"
        r"(?:sts?|stitch(?:es)?))?\b",
        r"\1 2 evenly",
        "inc in first and last st (42)",
        "inc 2 evenly (42)",
    ),
    rule(
        "shaping that is spread evenly",
        r"\b(\d+)[ ](?:evenly[ -]spaced|evenly[ -]spread|equally[ -]spaced)[ ](inc|dec)(?:r?(?:rease)?s?)\b",
        r"\2 \1 evenly",
        "sc around making 6 evenly spaced increases",
        "sc around making inc 6 evenly",
    ),
    rule(
        "which stitches a decrease joins",
        r"\bover[ ](?:the[ ])?sts?[ ]\d+[ ]?(?:and|&|-|to)[ ]?\d+\b",
        blank,
        "dec over sts 1 and 2, sc 28",
        "dec  , sc 28",
    ),
    rule(
        "two stitches that are joined each time",
        r"\bevery[ ](\d+)(st|nd|rd|th)[ ]and[ ](\d+)(st|nd|rd|th)[ ]st(?:itch)?[ ]tog(?:ether)?\b",
        r"dec every \1\2 and \3\4 st",
        "Every 4th and 5th stitch together",
        "dec every 4th and 5th st",
    ),
    rule(
        "shaping in stitches by their numbers",
        r"\b(inc|dec)(?:r?(?:rease)?)?[ ](?:in[ ]|at[ ])(?:the[ ])?(?:sts?[ ]|stitches[ ])?"
        r"(?P<list>(?:first|\d+(?:st|nd|rd|th)?)(?:,[ ]\d+(?:st|nd|rd|th)?)*(?:,?[ ]and[ ]\d+(?:st|nd"
        r"|rd|th)?))(?:[ ]st(?:itch(?:es)?)?\b|s\b)?(?![ ]?(?:more|x|times))",
        _by_numbers,
        "inc in sts 1, 9 and 17 (27)",
        "inc 3 evenly (27)",
    ),
)  # fmt: skip
