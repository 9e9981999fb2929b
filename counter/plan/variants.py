"""The words of a round without what may be a remark."""

from __future__ import annotations

from collections.abc import Sequence

from lark import Token

from counter.plan.habits import types
from counter.plan.segments import strange_words
from counter.plan.tokens import KINDS

__all__ = ["variants"]

#: Most remarks in a round that are tried to be left out.
MOST_REMARKS = 6


def variants(tokens: Sequence[Token]) -> list[list[Token]]:
    """Leave out what may be a remark: sentences and brackets with words that are no instruction.

    Parameters
    ----------
    tokens : sequence of Token
        The words after the label.

    Returns
    -------
    list of list of Token
        The same without one of them, then without all; none where there is none.
    """
    parts = _remarks(tokens)
    if not parts or len(parts) > MOST_REMARKS:
        return []
    out = []
    for chosen in [[part] for part in parts] + ([parts] if len(parts) > 1 else []):
        left = [token for at, token in enumerate(tokens) if not any(begin <= at < end for begin, end in chosen)]
        if any(token.type in KINDS or token.type in ("RING", "EVEN") for token in left):
            out.append(left)
    return out


def _remarks(tokens: Sequence[Token]) -> list[tuple[int, int]]:
    """First and last place of sentences and brackets that may be remarks."""
    found, begin, depth, opened = [], 0, 0, 0
    ends = next((at for at, token in enumerate(tokens) if token.lower() in ("ending", "ends", "end")), None)
    if ends:  # "(sc 4, dec) around, ending with sc 4, dec": told once more
        stop = (at for at in range(ends, len(tokens)) if tokens[at].type in ("OPEN", "DASH", "EQ") or tokens[at] == ".")
        found.append((ends, next(stop, len(tokens))))
    for at, token in enumerate([*tokens, Token("SEP", ".")]):
        if token.type == "OPEN":
            if depth == 0:
                opened = at
                inside = [one.type for one in tokens[at + 1 : at + 3]]
                if (
                    inside[:1] == ["NUM"]
                    and inside[1:] != ["STITCH"]
                    and begin
                    and any(one.type in ("WORD", "DECIMAL") for one in tokens[begin:at])
                ):
                    found.append((begin, at))  # a remark ends at the total behind it
                    begin = at
            depth += 1
        elif token.type == "CLOSE" and depth:
            depth -= 1
            after = tokens[at + 1].type if at + 1 < len(tokens) else ""
            within = tokens[opened + 1 : at]
            if (
                depth == 0
                and after not in ("X", "TIMES_WORD", "NUM", "FILL", "IN")
                and any(t.type == "WORD" for t in within)
            ):
                found.append((opened, at + 1))
        elif depth == 0 and (token.type == "NL" or token.type == "SEP" and token in ".;!,"):
            words_here = [one for one in tokens[begin:at] if one.type != "NL"]
            strange = "NUM" in types(words_here) and strange_words(words_here, False)
            if begin and not strange and any(one.type in ("WORD", "DECIMAL") for one in words_here):
                found.append((begin, at))
            begin = at + 1
    return found
