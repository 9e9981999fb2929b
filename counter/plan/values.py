"""What comes out of reading a written plan."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Finding", "Plan", "PlanLine", "PlanPiece", "PlanRound", "Shaping"]


@dataclass(frozen=True)
class Finding:
    """Something about a written plan that a person should look at.

    Parameters
    ----------
    line, column : int
        Where it stands in the text, both from 1.
    what : str
        What is wrong, one sentence.
    fix : str
        What would be right, one sentence.
    kind : {"wrong", "unread", "asked"}
        Whether the text doesn't agree with itself, can't be read or used
        there, or leaves something to be chosen. Only the first accuses.
    """

    line: int
    column: int
    what: str
    fix: str
    kind: str = "wrong"


@dataclass(frozen=True)
class PlanLine:
    """What one line of the text was taken for.

    Parameters
    ----------
    line : int
        Its number, from 1; empty lines are left out.
    what : {"round", "remark", "finding"}
        A round, or part of one; a remark that makes no stitches; or something
        that can't be read or used, of which a finding tells.
    remark : str
        For a remark, which kind: a key of :data:`counter.words.REMARKS`; else empty.
    rounds : tuple of int
        For a round, the numbers of the rounds that it writes.
    """

    line: int
    what: str
    remark: str = ""
    rounds: tuple[int, ...] = ()


@dataclass(frozen=True)
class Shaping:
    """One increase or decrease.

    Parameters
    ----------
    at : int
        Number of its first stitch among the stitches made in the round, from 1.
    stitches : int
        Stitches made in one stitch (an increase), or joined into one (a
        decrease); 2 or more.
    """

    at: int
    stitches: int


@dataclass(frozen=True)
class PlanRound:
    """One round of a plan.

    Two rounds are equal where they are worked alike: where they stand in the
    text, and whether their total was written down, makes no difference.

    Parameters
    ----------
    round : int
        Its number.
    stitches : int or None
        Stitches made, the round's total; None where it can't be known. What
        the instructions make goes before what was written as the total.
    used : int or None
        Stitches of the round below that are worked into; 0 for a first
        round in a ring or on a chain, None where it can't be known.
    increases, decreases : tuple of Shaping
        In working order; empty where their places aren't told.
    text : str
        The instructions in one clean line, in US terms, without number and
        total; empty where only a total was given.
    stated : int or None
        The total as it was written down.
    line, column : int
        Where the round stands in the text, both from 1.
    stitch : str
        The main stitch in US terms: "sc", "hdc", "dc", "tr" or "dtr".
    chain : bool or None
        Whether the total counts the chain that the round begins with as a stitch; None where it begins with none.
    """

    round: int
    stitches: int | None
    used: int | None
    increases: tuple[Shaping, ...]
    decreases: tuple[Shaping, ...]
    text: str
    stated: int | None = field(compare=False)
    line: int = field(compare=False)
    column: int = field(compare=False)
    stitch: str
    chain: bool | None = field(default=None, compare=False)

    @property
    def total(self) -> int:
        """:attr:`stitches` of a round whose total is known.

        Raises
        ------
        ValueError
            Where it can't be known.
        """
        if self.stitches is None:
            raise ValueError(f"the total of round {self.round} is not known")
        return self.stitches

    @property
    def kind(self) -> str:
        """What it does: "start", "increase", "even", "decrease", "mixed"; "unknown" where nothing tells."""
        if self.used == 0:
            return "start"
        if self.increases and self.decreases:
            return "mixed"
        if self.increases or self.decreases:
            return "increase" if self.increases else "decrease"
        if self.stitches is None or self.used is None:
            return "unknown"
        return "even" if self.stitches == self.used else "increase" if self.stitches > self.used else "decrease"


@dataclass(frozen=True)
class PlanPiece:
    """One piece of a pattern.

    Parameters
    ----------
    name : str
        As its heading says; "" where it has none.
    make : int
        How often it is made.
    rounds : tuple of PlanRound
        In the order of the text.
    line : int
        Line of its heading, or of its first round.
    """

    name: str
    make: int
    rounds: tuple[PlanRound, ...]
    line: int = field(compare=False)


@dataclass(frozen=True)
class Plan:
    """Written rounds, read.

    Two plans are equal where their rounds are worked alike; what was found
    in the text makes no difference.

    Parameters
    ----------
    rounds : tuple of PlanRound
        Of the piece that was chosen, the first one without a choice, in the
        order of the text.
    findings : tuple of Finding
        What should be looked at, in the order of the text.
    pieces : tuple of PlanPiece
        Every piece of the text; one without a name where the text holds only one.
    piece : str or None
        Name of the piece that was chosen, None without a choice.
    sizes : tuple of str
        Names of the sizes that the text is written for; empty where it is written for one.
    size : str or None
        Name of the size that was chosen, None without a choice.
    lines : tuple of PlanLine
        What each line of the text was taken for.
    language : str
        Code of the language that the text is written in: "en", "de", ...
    """

    rounds: tuple[PlanRound, ...]
    findings: tuple[Finding, ...] = field(compare=False)
    pieces: tuple[PlanPiece, ...] = ()
    piece: str | None = field(default=None, compare=False)
    sizes: tuple[str, ...] = field(default=(), compare=False)
    size: str | None = field(default=None, compare=False)
    lines: tuple[PlanLine, ...] = field(default=(), compare=False)
    language: str = field(default="en", compare=False)

    @property
    def make(self) -> int:
        """How often the chosen piece is made."""
        chosen = [one for one in self.pieces if one.name == self.piece] or list(self.pieces[:1])
        return chosen[0].make if chosen else 1

    def round(self, number: int) -> PlanRound | None:
        """Return the round of that number, the first where there are several, None where there is none."""
        return next((one for one in self.rounds if one.round == number), None)
