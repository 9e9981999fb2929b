"""What is to be said about a round, as codes and numbers.

Nothing in this room is a sentence: a :class:`Remark` says which one it is and what
is filled in, and ``counter/showing/sentences.py`` puts it into words when somebody
reads it, in the language that is spoken then.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["REMARKS", "Remark"]

#: Every remark there is: code -> names of what it carries, each behind what the remark says.
REMARKS: Mapping[str, tuple[str, ...]] = {
    # Nothing is wrong: go on, with the next round's instructions and its total as far as they are known; `asks` is
    # True where it is only so if the round is finished.
    "go on": ("text", "total", "asks"),
    # The count must be settled first: at the places in doubt, or by eye where none is named.
    "settle": (),
    "count by eye": (),
    # The round is not finished: until then nothing is wrong.
    "work on": (),
    # Neither finished nor on its way can the round hold n.
    "beyond the way": ("n", "expected"),
    # Nothing is to be undone before it was checked by eye and finger.
    "caution": (),
    # Is the round finished? If not, it may hold n on its way; and what follows if it is.
    "finished?": ("n",),
    "if finished": ("do",),
    "say finished": (),
    # It holds what the round below the named one should: the named one, `next`, is still to be worked.
    "holds the round below": ("n", "stitches", "next", "text", "total"),
    # It holds what round n should.
    "holds another round": ("n", "stitches"),
    # It may be round n, not finished; `off` is by how much it is off if it is round `said`, None where that isn't said.
    "on the way": ("n", "said", "off"),
    # Round n is as near or nearer.
    "near another round": ("n", "stitches", "said", "off", "nearer"),
    # The number of the round was only guessed from the photo.
    "guessed round": ("n",),
    # No round of the plan comes near; `said` is the round's number, or its total where no round is known.
    "outside the plan": ("n", "said", "off"),
    # Is the chain at the start of the round among the n marks? `counts` is whether the total counts it.
    "chain marked?": ("n", "expected", "counts"),
    # The twin: holds as many, how many does it hold, holds something else, must match.
    "twin matches": ("stitches",),
    "twin holds?": ("n", "expected", "do"),
    "twin differs": ("twin", "expected"),
    "twin must match": ("do",),
    # What follows if the round is finished, as was said.
    "as you say": ("do",),
    # What comes before anything is undone: the count by eye and, where `expected` is a number, whether that is what
    # this very round should hold.
    "count first": ("n", "expected", "do"),
    # Make up for it in the next round: its instructions where they can be written out.
    "make up": ("off", "text"),
    # What to do to have the round as it is written; `kind` is "increase" or "decrease".
    "as written": ("kind", "do"),
    # Take work back: to a mark (and how many stitches that is, None where it isn't known), to round n, to what agrees.
    "rip to the mark": ("mark", "stitches"),
    "rip to the round": ("many", "n"),
    "rip to what agrees": (),
    # Where it went wrong: surely, perhaps, the usual suspects.
    "most likely": ("slip", "probability"),
    "perhaps": ("slip",),
    "usual suspects": ("off",),
    # Why no place is named: the plan has no total, the round is too far off, isn't told, fits nowhere, is right, has
    # all its increases, doesn't show.
    "no place: total": (),
    "no place: far off": ("off",),
    "no place: not told": (),
    "no place: fits nowhere": (),
    "no place: right": (),
    "no place: plain": (),
    "no place: not seen": (),
    # What decides whether a count is sure: nothing on the edge is in doubt; only where the round starts is; part is
    # hidden; n places are; the stitches don't show clearly.
    "sure: nothing in doubt": (),
    "not sure: start": (),
    "not sure: hidden": (),
    "not sure: places": ("n",),
    "not sure: unclear": (),
    # Which rounds of the plan it may be; that it holds what another one should; why it can't be held against the plan.
    "which round": ("fits",),
    "perhaps round": ("n", "stitches"),
    "not compared": ("why",),
}


@dataclass(frozen=True)
class Remark:
    """Something to be said, not yet in words.

    Parameters
    ----------
    code : str
        A key of :data:`REMARKS`.
    values : mapping of str to object
        What is filled in, by the names that stand there: numbers, instructions as written, slips, other remarks.
    """

    code: str
    values: Mapping[str, object] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.code not in REMARKS:
            raise ValueError(f"unknown remark {self.code!r}; known: {', '.join(REMARKS)}")
        if set(self.values) != set(REMARKS[self.code]):
            raise ValueError(f"{self.code!r} carries {', '.join(REMARKS[self.code]) or 'nothing'}")

    @classmethod
    def of(cls, code: str, **values: object) -> Remark:
        """Make a remark with what is filled in."""
        return cls(code, values)
