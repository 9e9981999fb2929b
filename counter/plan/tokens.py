"""The words of a text: plain signs, numbers, and the grammar that cuts a text into words."""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from importlib.resources import files

from lark import Lark, Token

__all__ = [
    "KINDS",
    "MOST_CHARACTERS",
    "MOST_NESTED_BRACKETS",
    "MOST_ROUNDS",
    "MOST_STITCHES",
    "NUMBERS",
    "PARTS",
    "WHERE",
    "Unreadable",
    "deepest",
    "end_of",
    "grammar",
    "place_of",
    "plain",
    "shown",
    "whole_number",
    "words_of",
]  # fmt: skip

#: Most characters that are read.
MOST_CHARACTERS = 40_000
#: Most brackets inside each other.
MOST_NESTED_BRACKETS = 20
#: Most stitches in a round, and the largest number that is taken in one.
MOST_STITCHES = 10_000
#: Highest number of a round.
MOST_ROUNDS = 1000

NUMBERS = dict(
    one=1, two=2, three=3, four=4, five=5, six=6, seven=7, eight=8, nine=9, ten=10, eleven=11, twelve=12,
    second=2, third=3, fourth=4, fifth=5, sixth=6, seventh=7, eighth=8, ninth=9, tenth=10, once=1, twice=2, thrice=3,
)  # fmt: skip

#: Words for something that is worked.
KINDS = frozenset({"STITCH", "TOG", "INC", "DEC", "SKIP", "CHAIN", "SLIP"})
#: Words that say which stitch of the round below.
WHERE = frozenset({"EACH", "NEXT", "FIRST", "LAST", "SAME", "REST", "ORDINAL", "EVERY_OTHER", "EVERY_NTH"})
#: What parts one step from the next.
PARTS = frozenset({"SEP", "AND", "ADD", "NL", "COLON", "DASH", "EQ"})


class Unreadable(Exception):
    """Words of a round that can't be read: where, what, and what to write instead."""

    def __init__(self, at: int, what: str, fix: str) -> None:
        super().__init__(what)
        self.at, self.what, self.fix = at, what, fix


@cache
def grammar() -> Lark:
    """Return the grammar of written rounds, made once."""
    text = files("counter.plan").joinpath("rounds.lark").read_text(encoding="utf-8")
    return Lark(
        text,
        parser="lalr",
        lexer="basic",
        start=["round", "totals", "growth", "other_word"],
        g_regex_flags=re.IGNORECASE,
        maybe_placeholders=False,
    )


class _Plain(dict):
    """Sign by sign what is read for it; every sign stays one sign, so that columns stay true."""

    SAME = {
        "×": "x", "✕": "x", "✖": "x", "⨯": "x", "·": " ", "•": " ", "●": " ", "◦": " ", "▪": " ", "■": " ", "□": " ",
        "◆": " ", "○": " ", "☐": " ", "✓": " ", "\ufeff": " ", "\u200b": " ", "\u200c": " ", "\u200d": " ",
        "\u2060": " ", "\u00ad": " ", "“": " ", "”": " ", "„": " ", "‟": " ", '"': " ", "«": "<", "»": ">", "‹": "<",
        "›": ">", "’": "'", "‘": "'", "‚": ",", "`": " ", "´": "'", "−": "-", "＝": "=", "⇒": "=", "→": "=", "➔": "=",
        "：": ":", "，": ",", "；": ";", "（": "(", "）": ")", "［": "[", "］": "]", "＊": "*", "∗": "*",
        "✱": "*", "⁎": "*", "＋": "+", "_": " ", "\t": "|", "\r": "\n", "\u2028": "\n", "\u2029": "\n", "\x85": "\n",
    }  # fmt: skip

    def __missing__(self, code: int) -> str:
        sign = chr(code)
        if sign in self.SAME:
            said = self.SAME[sign]
        elif sign == "\n":
            said = sign
        elif (digit := unicodedata.decimal(sign, None)) is not None:
            said = str(digit)
        elif unicodedata.category(sign) in ("Cc", "Zs"):
            said = " "
        elif unicodedata.category(sign) == "Pd":
            said = "-"
        else:
            said = sign
        self[code] = said
        return said


def plain(text: str) -> str:
    """Write a text with plain signs: one kind of dash, of quotation mark, of blank and of line end.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        Of the same length.
    """
    return text.replace("\r\n", " \n").replace("->", " =").replace("=>", " =").translate(_Plain())


def deepest(text: str) -> int | None:
    """Return where brackets go deeper than :data:`MOST_NESTED_BRACKETS`, None where they don't."""
    depth = 0
    for at, sign in enumerate(text):
        if sign in "([{<":
            depth += 1
            if depth > MOST_NESTED_BRACKETS:
                return at
        elif sign in ")]}>":
            depth = max(depth - 1, 0)
        elif sign == "\n":
            depth = 0
    return None


def words_of(text: str) -> list[Token]:
    """Cut a plain text into its words."""
    return list(grammar().lex(text))


def shown(text: str) -> str:
    """Return a piece of the maker's text as it can stand in a sentence."""
    clean = "".join(sign if sign.isprintable() else "?" for sign in text)
    return clean if len(clean) <= 24 else clean[:21] + "..."


def place_of(token: Token) -> int:
    """Where a word stands in the text, from 0; what was put in without a place stands at its beginning."""
    return 0 if token.start_pos is None else token.start_pos


def end_of(token: Token) -> int:
    """Where a word ends in the text, behind its last sign."""
    return place_of(token) + len(token) if token.end_pos is None else token.end_pos


def whole_number(token: Token) -> int:
    """Return the number that a word says ("6", "six", "2nd"), at most 10**9."""
    text = token.lower()
    if text in NUMBERS:
        return NUMBERS[text]
    digits = re.match(r"[0-9]*", text)
    return int(digits.group() or 0) if digits and len(digits.group()) <= 9 else 10**9
