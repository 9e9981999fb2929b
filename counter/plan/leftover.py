"""Numbers of a round that nothing was made of: none is passed over without a word."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from lark import Token

from counter.plan.segments import ASIDE
from counter.plan.settled import Normalised
from counter.plan.tokens import KINDS, WHERE, whole_number

__all__ = ["left_over"]

#: What stands right behind a number, or ahead of it, that says something other than how much is worked: a round, a
#: chain that is joined to or counts, stitches that are told once more.
EXPLAINS_BEHIND = frozenset(
    {"RND", "CHAIN", "SPACE", "ST", "COUNT_WORD", "INC", "DEC", "REST", "UNWORKED", "MORE", "EACH", "TAKE"}
)
EXPLAINS_AHEAD = frozenset({"RND", "CHAIN", "COUNT_WORD", "ADD", "TOTAL", "REST", "UNWORKED"})
#: What parts one sentence or bracket from the next.
ENDS_SENTENCE = frozenset({"NL", "OPEN", "CLOSE"})
#: Words ahead of what a round is said to end with, once more.
TOLD_AGAIN = frozenset({"ending", "ends", "end"})
#: Fewest words that make a sentence of a person out of what stands beside a number, and how long they are.
FEWEST_WORDS, FEWEST_LETTERS = 2, 2
#: Words at a round's beginning among which its own number says nothing new.
LABEL_ENDS = 4
#: Most letters of an ending, "3e", "1er".
MOST_LETTERS_OF_AN_ENDING = 3


def left_over(tokens: Sequence[Token], settled: Normalised, made: int | None, number: int) -> Token | None:
    """Find a number that the reading of a round has no use for, and that nothing beside it explains.

    Parameters
    ----------
    tokens : sequence of Token
        The words of the round, as they were written.
    settled : Normalised
        The same as they were read.
    made : int or None
        Stitches that the round makes.
    number : int
        The round's number, which may be left of its label: "R-9:".

    Returns
    -------
    Token or None
        The first such number; None where there is none.
    """
    have: Counter[int] = Counter(
        int(digits) for token in settled.tokens for digits in re.findall(r"[0-9]+", str(token)) if len(digits) < 10
    )
    known = {*settled.stated, made}
    for at, token in enumerate(tokens):
        if token.type not in ("NUM", "DECIMAL"):
            continue
        said = whole_number(token) if token.type == "NUM" else -1
        if have[said] and _surely_worked(tokens, at):
            have[said] -= 1
        elif said in known or said == number and _labels(tokens, at) or _explained(tokens, at):
            continue
        elif not have[said]:
            return token
        else:
            have[said] -= 1
    return None


def _labels(tokens: Sequence[Token], at: int) -> bool:
    """Whether a number stands as a label does, "9:", "(9)"."""
    return at < LABEL_ENDS and at + 1 < len(tokens) and tokens[at + 1].type in ("COLON", "CLOSE", "DASH")


def _surely_worked(tokens: Sequence[Token], at: int) -> bool:
    """Whether a number says how much is worked: "in next 3 sts", "(3 sc, inc)", but not "inc (2 sc in same st)"."""
    before = [token.type for token in tokens[max(0, at - 3) : at] if token.type != "NOISE"]
    behind = [token.type for token in tokens[at + 1 : at + 3] if token.type != "NOISE"][:1]
    if before[-1:] and before[-1] in (*WHERE, "IN"):
        return behind in (["ST"], ["STITCH"])
    opens = before[-1:] == ["OPEN"] and behind == ["STITCH"]
    return opens and not set(before[-2:-1]) & {*KINDS, "NUM", "ST"}


def _explained(tokens: Sequence[Token], at: int) -> bool:
    """Whether something beside a number says what it is about."""
    before = [token for token in tokens[max(0, at - 4) : at] if token.type != "NOISE"]
    after = [token for token in tokens[at + 1 : at + 5] if token.type not in ("NOISE", "OTHER")]
    linked = before[-1:] and before[-1].type in ("AND", "DASH", "TO")  # "rounds 5 and 6"
    ahead = [*before[-1:], *(before[-3:-2] if linked else [])]
    behind = after[:1]
    ending = behind and behind[0].type == "WORD" and len(behind[0]) <= MOST_LETTERS_OF_AN_ENDING
    if tokens[at].type == "DECIMAL" and behind and behind[0].type == "IN":
        return True  # "6 cm (2.5 in)"
    if ending or behind and behind[0] == ".":
        behind = after[:2]  # "3e ch", "1. dc"
    if {token.type for token in ahead} & EXPLAINS_AHEAD or {token.type for token in behind} & EXPLAINS_BEHIND:
        return True
    if at == 1 and tokens[0].type == "WORD" and behind and behind[0].type == "COLON":
        return True  # "Step 2: ..."
    begin, end = _sentence(tokens, at, ENDS_SENTENCE)
    bracket = begin > 0 and tokens[begin - 1].type == "OPEN" and end < len(tokens) and tokens[end].type == "CLOSE"
    if begin > 0 and tokens[begin - 1].type == "OPEN" and behind and behind[-1].type == "STITCH":
        return True  # "inc (2 sc in same st)", "ch 3 (counts as 1 dc)"
    numbers = sum(token.type == "NUM" for token in tokens[begin:end])
    repeated = end + 1 < len(tokens) and tokens[end + 1].type in ("X", "NUM", "FILL", "STAR", "TIMES_WORD", "IN")
    if bracket and numbers > 1 and tokens[begin].type == "NUM" and not repeated:
        return True  # a total with its parts: "(6 shells, 6 sc)"
    if bracket and end - begin == 1:
        begin, end = _sentence(tokens, at, frozenset({"NL"}))
    beside = [*tokens[begin:at], *tokens[at + 1 : end]]
    words = [token.lower() for token in beside if token.type == "WORD"]
    return (
        any(word in ASIDE or word in TOLD_AGAIN for word in words)
        or sum(len(word) >= FEWEST_LETTERS for word in words) >= FEWEST_WORDS
    )


def _sentence(tokens: Sequence[Token], at: int, ends: frozenset[str]) -> tuple[int, int]:
    """Where the sentence begins and ends that a word stands in."""
    begin, end = at, at
    while begin and not _parts(tokens[begin - 1], ends):
        begin -= 1
    while end < len(tokens) and not _parts(tokens[end], ends):
        end += 1
    return begin, end


def _parts(token: Token, ends: frozenset[str]) -> bool:
    return token.type in ends or token.type == "SEP" and token in ".;!"
