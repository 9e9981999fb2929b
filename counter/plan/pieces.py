"""The pieces of a text, as far as they were read, and their names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from counter.basics import words
from counter.plan.settled import Normalised
from counter.plan.values import PlanRound

__all__ = ["Part", "names_of"]


@dataclass
class Part:
    """One piece of the text, as far as it was read."""

    name: str = ""
    make: int = 1
    at: int = 0
    rounds: list[PlanRound] = field(default_factory=list)
    #: Parsed rounds by number, for "repeat round 5".
    sources: dict[int, tuple[list, Normalised, str]] = field(default_factory=dict)
    #: Chains of the round below, over stitches that it skipped or for a start, and its spaces.
    bridges: int = 0
    spaces: int = 0
    #: Whether the heading surely names a piece, and the piece whose last round this one goes on from.
    sure: bool = False
    #: Whether its heading says that what follows under other headings is worked in one piece with it.
    whole: bool = False
    #: What the last round makes when it is mended.
    mended: int | None = None
    carried: Part | None = None

    @property
    def next(self) -> int:
        """Number of the round that comes next."""
        if self.rounds:
            return self.rounds[-1].round + 1
        return self.carried.rounds[-1].round + 1 if self.carried else 1

    @property
    def main(self) -> str:
        """Main stitch of the last round."""
        return self.rounds[-1].stitch if self.rounds else "sc"

    def below(self, number: int) -> int | None:
        """Stitches of the round below, None where they aren't known."""
        if not self.rounds:
            carried = self.carried
            return carried.rounds[-1].stitches if carried and number == carried.rounds[-1].round + 1 else None
        last = self.rounds[-1]
        total = last.stitches if last.stitches is not None else last.stated
        return total if total is not None else self.bridges or None

    def steady(self, total: int | None) -> bool:
        """Whether a total grows by as much as the round below did."""
        last = [one.stitches for one in self.rounds[-2:] if one.stitches is not None]
        return total is not None and len(last) == 2 and total - last[1] == last[1] - last[0] != 0


def names_of(parts: Sequence[Part]) -> list[str]:
    """A name of its own for each piece."""
    if len(parts) == 1:
        return [parts[0].name if parts[0].sure else ""]
    names: list[str] = []
    for number, part in enumerate(parts, 1):
        name = part.name or words.PIECE_N.format(n=number)
        again = 1
        while name.lower() in (own.lower() for own in names):
            again += 1
            name = f"{part.name or words.PIECE_N.format(n=number)} {again}"
        names.append(name)
    return names
