"""What comes out of settling the words of a round, and a bracket on the way there."""

from __future__ import annotations

from dataclasses import dataclass, field

from lark import Token

from counter.plan.tokens import place_of

__all__ = ["Bracket", "Normalised"]


@dataclass
class Bracket:
    """A bracket and what is in it."""

    open: Token
    inside: list
    close: Token | None = None
    type: str = "BRACKET"

    @property
    def start_pos(self) -> int:
        """Where it is opened."""
        return place_of(self.open)


@dataclass
class Normalised:
    """The words of a round as the grammar takes them, and what was said beside them.

    ``stated`` are the totals written down, ``stated_at`` where; ``doubtful``
    words that may be stitches that aren't known, ``lost`` those among them that
    say a number, which must not be passed over; ``unworked`` says that
    stitches are left on purpose; ``idle`` counts the places with words that
    make no stitch; ``short`` is the same up to a total in the middle, where
    what follows may be a remark.
    """

    tokens: list[Token]
    stated: tuple[int, ...] = ()
    stated_at: int = 0
    doubtful: list[Token] = field(default_factory=list)
    lost: list[Token] = field(default_factory=list)
    unworked: bool = False
    idle: int = 0
    short: Normalised | None = None
    #: How a last "24 sc" was taken, or None where there is none; and how it is to be taken.
    closing: bool | None = None
    wanted: bool | None = None
    #: Whether the round joins parts (legs to a body), so that a chain between them is worked on both sides.
    joins: bool = False
