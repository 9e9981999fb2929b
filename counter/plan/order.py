"""Lines of a pattern in the order in which they are worked, and what a line without doubt is, or isn't."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from lark import Token

from counter.plan.labels import LabelledLine
from counter.plan.lines import set_up
from counter.plan.tokens import KINDS, MOST_ROUNDS, MOST_STITCHES, PARTS, whole_number
from counter.plan.totals import is_bare

__all__ = [
    *(
        "end_of",
        "for_rounds",
        "has_prose",
        "in_order",
        "is_count",
        "may_be_round",
        "names_a_round",
        "not_repeated",
        "only_counts",
        "rounds_called_rows",
        "salvaged",
        "set_apart",
        "shaped_in_ring",
    ),
    "with_set_ups",
]

#: Words beside instructions that leave no doubt about them.
BESIDE = frozenset(
    {"fasten", "off", "stuff", "stuffing", "begin", "start", "color", "colour", "change", "switch", "white", "black"}
    | {"red", "blue", "green", "yellow", "brown", "pink", "grey", "gray", "orange", "purple", "yarn", "marker", "place"}
    | {"move", "mark", "note", "eyes", "st", "sts", "mc", "cc"}
)


def with_set_ups(entries: list[LabelledLine]) -> list[LabelledLine]:
    """Take the chain or ring that is made ahead of a first round to that round."""
    out: list[LabelledLine] = []
    for entry in entries:
        before = out[-1] if out else None
        if (
            entry.numbers == (1,)
            and not entry.row
            and not entry.problem
            and before is not None
            and before.numbers is None
            and not before.row
            and set_up(before.tokens)
            and len(before.tokens) < 60
            and not is_bare(entry.tokens)
        ):
            comma = Token("SEP", ",", start_pos=entry.at, end_pos=entry.at)
            out[-1] = replace(entry, tokens=[*before.tokens, comma, *entry.tokens])
            continue
        out.append(entry)
    return out


def rounds_called_rows(entries: list[LabelledLine]) -> list[LabelledLine]:
    """Take rows for rounds where nothing is turned and the text says that it goes around."""
    rows = [entry for entry in entries if entry.row]
    turns = any(
        token.type == "TURN" and not (at and entry.tokens[at - 1].type == "NOT")
        for entry in rows
        for at, token in enumerate(entry.tokens)
    )
    around = any(token.type in ("RING", "RND") or token.lower() == "around" for entry in rows for token in entry.tokens)
    if not around or turns:
        return entries
    return [replace(entry, row=False) for entry in entries]


def in_order(entries: list[LabelledLine]) -> list[LabelledLine]:
    """Put rounds that are told out of turn ("R5, R7, R9: ...", "R6, R8: ...") where they are worked."""
    gaps = [entry for entry in entries if entry.numbers and entry.numbers[-1] - entry.numbers[0] >= len(entry.numbers)]
    if not gaps:
        return entries
    out: list[LabelledLine] = []
    for entry in entries:
        if not entry.numbers or entry not in gaps:
            out.append(entry)
            continue
        out += [replace(entry, numbers=(number,), listed=True) for number in entry.numbers]
    runs: list[list[LabelledLine]] = [[]]
    for entry in out:  # up to where the count begins again
        if entry.numbers and entry.numbers[0] == 1 and any(one.numbers for one in runs[-1]):
            runs.append([])
        runs[-1].append(entry)
    for run in runs:
        places = [at for at, entry in enumerate(run) if entry.numbers]
        ordered = sorted((run[at] for at in places), key=lambda entry: (entry.numbers or (0,))[0])
        for at, entry in zip(places, ordered, strict=True):
            run[at] = entry
    return [entry for run in runs for entry in run]


def _said(tokens: Sequence[Token]) -> list[str]:
    return [token.type for token in tokens if token.type not in ("SEP", "NL", "NOISE")]


def is_count(tokens: Sequence[Token]) -> bool:
    """Whether a round is told by a number of stitches and nothing else: "12 sc"."""
    return _said(tokens) == ["NUM", "STITCH"] and tokens[0].type == "NUM"


def only_counts(entries: Sequence[LabelledLine]) -> bool:
    """Whether all rounds of a text are told so, but for those that begin in a ring or a chain: they are its totals."""
    rounds = [entry for entry in entries if entry.numbers and not entry.row]
    told = [entry for entry in rounds if is_count(entry.tokens)]
    others = [entry for entry in rounds if entry not in told]
    begin = all(entry.numbers == (1,) and {"RING", "CHAIN"} & set(_said(entry.tokens)) for entry in others)
    return len(told) > 1 and len(rounds) > 2 and begin


def not_repeated(entry: LabelledLine) -> bool:
    """Whether a round tells what is repeated and nothing else, neither how often nor its total: "R4: 2 sc, inc"."""
    kinds = set(_said(entry.tokens))
    shaped = bool(kinds & {"INC", "DEC"}) and "STITCH" in kinds
    told = {"NUM", "NUM_WORD", "STITCH", "INC", "DEC", "AND", "ADD", "STAR", "OPEN", "CLOSE"}
    total = "OPEN" in kinds and _said(entry.tokens)[-2:] == ["NUM", "CLOSE"]
    return bool(entry.numbers) and shaped and kinds <= told and not total


def set_apart(entry: LabelledLine) -> bool:
    """Whether what is repeated stands between asterisks or in brackets, and nothing else: "R4: *2 sc, inc*"."""
    kinds = _said(entry.tokens)
    return not_repeated(entry) and (kinds[0], kinds[-1]) in (("STAR", "STAR"), ("OPEN", "CLOSE"))


def shaped_in_ring(tokens: Sequence[Token]) -> Token | None:
    """An increase or a decrease in a round that is worked into a ring, where there is nothing to increase in."""
    if not any(token.type == "RING" for token in tokens):
        return None
    return next((token for token in tokens if token.type in ("INC", "DEC")), None)


def for_rounds(tokens: Sequence[Token], labelled: bool) -> tuple[int, list[Token]]:
    """Take "for 3 rounds" or "3 rounds" off a line; return how many rounds it says, and the rest.

    Behind a label only "for" makes more rounds of one; "(3 rounds)" is a remark there.
    """
    tokens = list(tokens)
    for index in range(len(tokens) - 1):
        if tokens[index].type not in ("NUM", "NUM_WORD") or tokens[index + 1].type != "RND":
            continue
        if index + 2 < len(tokens) and tokens[index + 2].type in ("NUM", "NUM_WORD"):
            continue  # "... 24, round 5 ..."
        start = index
        while start and tokens[start - 1].type in ("NOISE", "NEXT"):
            start -= 1
        said = start > 0 and tokens[start - 1].type in ("FOR", "X")
        count = whole_number(tokens[index]) if said or not labelled else 1
        if 1 <= count <= MOST_ROUNDS:
            return count, tokens[: start - said] + tokens[index + 2 :]
    return 1, tokens


def end_of(token: Token) -> int:
    """Where a word ends."""
    return token.end_pos or (token.start_pos or 0) + len(token)


def salvaged(tokens: Sequence[Token]) -> tuple[int | None, int]:
    """Return the last total of a round that can't be read, and where its instructions end: at a total that is last."""
    end = end_of(tokens[-1])
    for index in range(len(tokens) - 1, 0, -1):
        if tokens[index].type != "NUM" or whole_number(tokens[index]) > MOST_STITCHES:
            continue
        before = tokens[index - 1]
        after = [token.type for token in tokens[index + 1 : index + 4]]
        closed = 1 if after[:1] == ["CLOSE"] else 2 if after[:2] in (["ST", "CLOSE"], ["STITCH", "CLOSE"]) else 0
        rest = tokens[index + 1 + closed :]
        last = all(token.type in PARTS for token in rest)
        if before.type == "OPEN" and closed or before.type == "EQ" and last and not closed:
            return whole_number(tokens[index]), (before.start_pos or 0) if last else end
    return None, end


def may_be_round(tokens: Sequence[Token]) -> bool:
    """Whether what follows a bare number can be a round: it names a stitch, or is a total and nothing else."""
    if is_bare(tokens):
        return True
    kinds = [token.type for token in tokens]
    return any(kind in KINDS or kind in ("RING", "EVEN") for kind in kinds) or "REPEAT" in kinds and "RND" in kinds


def names_a_round(tokens: Sequence[Token]) -> bool:
    """Whether a line without a label speaks of rounds by their numbers."""
    return any(
        token.type == "RND" and after.type in ("NUM", "NUM_WORD") and (not at or tokens[at - 1].lower() != "of")
        for at, (token, after) in enumerate(pairwise(tokens))
    )


def has_prose(tokens: Sequence[Token]) -> bool:
    """Whether instructions hold words that are neither stitches nor among those that makers put beside them."""
    return any(token.type == "WORD" and token.lower() not in BESIDE and len(token) > 1 for token in tokens)
