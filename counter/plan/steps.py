"""The steps of one round, from its settled words, by the grammar."""

from __future__ import annotations

from dataclasses import dataclass, field

from lark import Token, Transformer, UnexpectedInput

from counter.basics import words
from counter.plan.settled import Normalised
from counter.plan.tokens import Unreadable, grammar, place_of, shown

__all__ = ["Step", "Target", "parse"]


@dataclass
class Target:
    """Which stitches of the round below a step goes into."""

    where: frozenset[str] = frozenset()
    number: int | None = None
    noun: str = ""
    nth: int = 0


@dataclass
class Step:
    """One step as it is written."""

    kind: str
    token: Token | None
    count: int | None = None
    after: bool = False  # "sc 2", where "2 sc" has its number ahead
    place: Target | None = None
    tails: list[Token] = field(default_factory=list)
    body: list | None = None
    again: str = ""  # for a repeat of what went before: "REPEAT" or the value of REP_FROM

    @property
    def at(self) -> int:
        """Where the step stands in the text."""
        return place_of(self.word)

    @property
    def word(self) -> Token:
        """The word that says it; a group has none.

        Raises
        ------
        ValueError
            For a group.
        """
        if self.token is None:
            raise ValueError("a group is said by no single word")
        return self.token


_TAILS = ("TIMES", "FILL", "EVENLY", "TOGETHER")
_ORDINALS = {"second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "eighth": 8}


def _like(kind: str, token: Token) -> Token:
    return Token.new_borrow_pos(kind, token.value, token)


class _Steps(Transformer):
    """From the parser's tree to steps."""

    def round(self, items):
        return items

    def item(self, items):
        return items[0]

    def tail(self, items):
        return items[0]

    def where(self, items):
        return items[0]

    def noun(self, items):
        return "HOOK" if len(items) > 1 else items[0].type

    def kind(self, items):
        return items[0]

    def pair(self, items):
        return Token.new_borrow_pos("PAIR_" + items[1].type, items[0].value, items[0])

    def place(self, items):
        where = frozenset(item.type for item in items if isinstance(item, Token) and item.type not in ("IN", "NUM"))
        numbers = [int(item) for item in items if isinstance(item, Token) and item.type == "NUM"]
        noun = next((item for item in items if not isinstance(item, Token)), "")
        if noun == "CHAIN" and "ORDINAL" in where:
            noun = "HOOK"
        nth = 0
        for item in items:
            if isinstance(item, Token) and item.type in ("EVERY_NTH", "EVERY_OTHER"):
                last = item.split()[-1].lower()
                digits = "".join(sign for sign in last if sign.isdigit())
                nth = 2 if item.type == "EVERY_OTHER" else int(digits) if digits else _ORDINALS[last]
        return Target(where, numbers[0] if numbers else None, noun, nth)

    def counted(self, items):
        number = next(int(item) for item in items if isinstance(item, Token) and item.type == "NUM")
        return self._step(items, number, items[0].type != "NUM")

    def single(self, items):
        before = items[0].type == "BEFORE"
        return self._step(items, int(items[0]) if before else None, False)

    def _step(self, items, number, after):
        kind = next(item for item in items if isinstance(item, Token) and item.type not in ("NUM", "BEFORE"))
        place = next((item for item in items if isinstance(item, Target)), None)
        tails = [item for item in items if isinstance(item, Token) and item.type in _TAILS]
        return Step(kind.type, kind, number, after, place, tails)

    def body(self, items):
        return items

    def group(self, items):
        body = next(item for item in items if isinstance(item, list))
        place = next((item for item in items if isinstance(item, Target)), None)
        tails = [item for item in items if isinstance(item, Token) and item.type in _TAILS]
        ahead = [_like("TIMES", item) for item in items if isinstance(item, Token) and item.type == "BEFORE"]
        left = next(item for item in items if isinstance(item, Token) and item.type == "LEFT")
        return Step("GROUP", left, None, False, place, ahead + tails, body)

    def again(self, items):
        head = items[0]
        tails = [item for item in items if item.type in ("TIMES", "FILL")]
        again = head.value if head.type == "REP_FROM" else "REPEAT"
        return Step("AGAIN", head, tails=tails, again=again)


def parse(settled: Normalised) -> list:
    """Parse the settled words of a round.

    Parameters
    ----------
    settled : Normalised

    Returns
    -------
    list
        :class:`Step` objects, and words that stand for themselves, in order.

    Raises
    ------
    Unreadable
        At the first word that doesn't fit.
    """
    parser = grammar().parse_interactive("", start="round")
    last: Token | None = None
    try:
        for token in settled.tokens:
            parser.feed_token(token)
            last = token
        tree = parser.feed_eof()
    except UnexpectedInput as error:
        found: Token | None = getattr(error, "token", None)
        word = last if found is None or found.type == "$END" else found
        if word is None:
            raise
        raise Unreadable(place_of(word), *words.finding("unreadable", word=shown(word))) from None
    return _Steps().transform(tree)
