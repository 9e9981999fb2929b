"""What to do about a round that is off.

The rules are those of the trade (common practice): one or two off in a plain
round is made up for in the next; three or more off, or a piece that must match a
twin, is ripped back; short or over by exactly one has its usual suspects at the
start of the round. Nothing is ever ripped on the word of a photo alone, and
nothing at all as long as a question is open that would make a right piece of it:
is the round finished, is it the one that it is held against, and does its twin
hold as many?
"""

from __future__ import annotations

from dataclasses import dataclass

from counter.comparing.remarks import Remark
from counter.comparing.slips import Slip, Slips
from counter.plan import PlanRound, adjusted_round, in_terms, read_plan

__all__ = ["ACTIONS", "MOST_TAKEN_UP_STITCHES", "Advice", "advise", "unfinished_explains"]

#: Every action there is, and what it means.
ACTIONS = {
    "go on": "Nothing to do.",
    "look again": "The count must be settled before anything is done.",
    "ask": "A question comes first: is the round finished, is it another round, what does its twin hold?",
    "take up": "Put it right in the next round.",
    "rip to the place": "Take the round back to the place and work it again from there.",
    "rip to the round": "Take whole rounds back, to the last one that agrees.",
}
CAUTION = Remark.of("caution")
#: Most stitches that are taken up in the next round.
MOST_TAKEN_UP_STITCHES = 2


@dataclass(frozen=True)
class Advice:
    """What to do next.

    Parameters
    ----------
    action : str
        A key of :data:`ACTIONS`.
    remarks : tuple of Remark
        What to tell a maker, the action first; :func:`counter.showing.sentences.advice_words` puts it into words.
    adjusted : str or None
        The next round as it must be worked to land on its total, written out
        with that total; where something is taken up, or would be if the round is finished.
    """

    action: str
    remarks: tuple[Remark, ...]
    adjusted: str | None = None


def advise(
    off: int,
    counted: int,
    expected: int,
    *,
    written: PlanRound | None = None,
    following: PlanRound | None = None,
    standing: int | None = None,
    slips: Slips | None = None,
    start_seen: bool = True,
    twin: bool = False,
    since: int = 0,
    uk: bool = False,
    below: int | None = None,
    finished: bool | None = None,
    named: bool = True,
    elsewhere: PlanRound | None = None,
    underway: bool = False,
    outside: bool = False,
    twin_holds: int | None = None,
    chain: bool | None = None,
) -> Advice:
    """Say what to do about a round that holds too few or too many stitches.

    Parameters
    ----------
    off : int
        Stitches counted less stitches expected, not 0.
    counted : int
        Stitches that stand around the rim.
    expected : int
        Stitches that should.
    written : PlanRound, optional
        The round as written; its kind and number go into the advice.
    following : PlanRound, optional
        The round to be worked next; without one, an even round is supposed.
    standing : int, optional
        Stitches on the hook now, after the rounds since; without it the next
        round is not written out.
    slips : Slips, optional
        Where the round left its plan, from :func:`counter.comparing.slips.find_slips`.
    start_seen : bool, optional
        True where mark 1 is the round's first stitch, so that it can be said how
        many stitches a place is back.
    twin : bool, optional
        The piece must match another one: an arm, a leg, an ear.
    since : int, optional
        Rounds that were worked after the one that went wrong, 0 or more.
    uk : bool, optional
        Write rounds out in UK terms.
    below : int, optional
        Stitches of the round below, where they are known.
    finished : bool, optional
        Whether a person says that the round is finished; None where nobody said. Nothing is undone in one that isn't.
    named : bool, optional
        False where the round was only guessed from the photo.
    elsewhere : PlanRound, optional
        Another round of the plan, which holds exactly what was counted, or would on the way to its
        end, or is no further from it than the one that it is held against.
    underway : bool, optional
        Whether that other round would hold what was counted on the way to its end.
    outside : bool, optional
        Whether no round of the plan comes near what was counted.
    twin_holds : int, optional
        Stitches of the twin's same round, where they are known.
    chain : bool, optional
        Whether what is expected counts a chain that the round begins with; None where there is none, or nobody said.

    Returns
    -------
    Advice

    Raises
    ------
    ValueError
        If `off` is 0 or `since` negative.
    """
    if off == 0 or since < 0:
        raise ValueError("advice is for a round that is off, and the rounds since must not be negative")
    off_round = _Off(off, counted, expected, written, slips, start_seen, since)
    small = abs(off) <= MOST_TAKEN_UP_STITCHES
    if elsewhere is not None and elsewhere.stitches == counted:
        return Advice("ask", (_another(elsewhere, written, uk), CAUTION))
    if finished is False:
        return Advice("ask", (_work_on(off_round, below, elsewhere if underway else None), CAUTION))
    if (off, chain) in ((-1, True), (1, False)):  # at the seam a chain is easily marked or left out
        return Advice("ask", (Remark.of("chain marked?", n=counted, expected=expected, counts=chain), CAUTION))
    adjusted = None
    if small and standing is not None and (not twin or twin_holds == counted):
        adjusted = _adjusted(standing, expected, following, uk)
    if twin_holds is not None and twin_holds == counted:
        matches = Remark.of("twin matches", stitches=counted)
        said = (matches, _made_up(off, adjusted)) if small else (matches,)
        return Advice("take up" if small else "go on", (*said, CAUTION), adjusted)
    question = _question(off_round, below, finished, twin, adjusted, elsewhere if underway else None)
    if question is None and (twin or not small):
        question = _before_ripping(off_round, named, elsewhere, underway, outside)
    if question is not None:
        return Advice("ask", (*question, CAUTION), adjusted)
    if not small or twin:
        return _rip(off_round, twin, twin_holds, finished and unfinished_explains(counted, expected, below, written))
    told = [_made_up(off, adjusted)]
    if off_round.place and named and finished and written and written.kind in ("increase", "decrease"):
        do = _rip_to_place(off_round.place, counted, start_seen)
        told.append(Remark.of("as written", kind=written.kind, do=do))
    return Advice("take up", (*told, *off_round.where, CAUTION), adjusted)


@dataclass(frozen=True)
class _Off:
    """A round that is off: by how much, against what, where it went wrong, and how many rounds came since."""

    off: int
    counted: int
    expected: int
    written: PlanRound | None
    slips: Slips | None
    start_seen: bool
    since: int

    @property
    def place(self) -> Slip | None:
        """The place that is surely wrong."""
        return self.slips.claimed[0] if self.slips and self.slips.claimed else None

    @property
    def where(self) -> tuple[Remark, ...]:
        """Where it most likely went wrong."""
        return _where(self.slips, self.place, self.off)

    @property
    def said(self) -> int:
        """Number of the round, or its total where no round is known."""
        return self.written.round if self.written else self.expected


def _work_on(own: _Off, below: int | None, elsewhere: PlanRound | None) -> Remark:
    """What is said of a round that isn't finished: all is well, it is another one, or it can't be."""
    if unfinished_explains(own.counted, own.expected, below, own.written):
        return Remark.of("work on")
    if elsewhere is not None:
        return Remark.of("on the way", n=elsewhere.round, said=own.said, off=None)
    return Remark.of("beyond the way", n=own.counted, expected=own.expected)


def _question(
    own: _Off, below: int | None, finished: bool | None, twin: bool, adjusted: str | None, elsewhere: PlanRound | None
) -> tuple[Remark, ...] | None:
    """What is asked where nobody said whether the round is finished; None where that explains nothing."""
    if finished is not None or own.since:
        return None
    small = abs(own.off) <= MOST_TAKEN_UP_STITCHES
    # One or two over a total alone: a decrease round under way is rare, and nothing is undone.
    rare = small and not twin and own.off > 0 and own.written is None and below is None
    done = Remark.of("if finished", do=_made_up(own.off, adjusted))
    if not rare and unfinished_explains(own.counted, own.expected, below, own.written):
        first = Remark.of("finished?", n=own.counted)
        return (first, done, *own.where) if small and not twin else (first, Remark.of("say finished"))
    if elsewhere is not None:
        first = Remark.of("on the way", n=elsewhere.round, said=own.said, off=None)
        return (first, done) if small and not twin else (first,)
    return None


def _before_ripping(
    own: _Off, named: bool, elsewhere: PlanRound | None, underway: bool, outside: bool
) -> tuple[Remark, ...] | None:
    """Say what is asked before anything is undone: whether it is that round of that plan at all."""
    if not named:
        return (Remark.of("guessed round", n=own.said),)
    off = abs(own.off)
    if elsewhere is not None and underway:
        return (Remark.of("on the way", n=elsewhere.round, said=own.said, off=off),)
    if elsewhere is not None and elsewhere.stitches is not None:
        held = elsewhere.stitches
        near = {"n": elsewhere.round, "stitches": held, "nearer": abs(own.counted - held) < off}
        return (Remark.of("near another round", said=own.said, off=off, **near),)
    if outside:
        return (Remark.of("outside the plan", n=own.counted, said=own.said, off=off),)
    return None


def _rip(own: _Off, twin: bool, twin_holds: int | None, said_finished: bool | None) -> Advice:
    """Take work back, where nothing is left to be asked but what the twin holds; a look of one's own comes first."""
    if twin and twin_holds not in (None, own.expected):
        told = Remark.of("twin differs", twin=twin_holds, expected=own.expected)
        return Advice("ask", (told, *own.where, CAUTION))
    matches = twin and twin_holds is not None
    if twin and own.place and not own.since and abs(own.off) <= MOST_TAKEN_UP_STITCHES:
        action, do = "rip to the place", _rip_to_place(own.place, own.counted, own.start_seen)
        do = Remark.of("twin must match", do=do) if matches else do
    else:
        # A total alone may be another round's, unless the twin's same round holds as many.
        known = own.written is not None or twin
        action, do = "rip to the round" if known else "ask", _rip_to_round(own.written, own.since)
        do = Remark.of("twin must match", do=do) if matches else do
        do = Remark.of("count first", n=own.counted, expected=None if known else own.expected, do=do)
    if twin and not matches:
        told = Remark.of("twin holds?", n=own.counted, expected=own.expected, do=do)
        return Advice("ask", (told, *own.where, CAUTION))
    if said_finished:
        do = Remark.of("as you say", do=do)
    return Advice(action, (do, *own.where, CAUTION))


def unfinished_explains(counted: int, expected: int, below: int | None, written: PlanRound | None) -> bool:
    """Whether a round that is right so far, but not finished, could hold so many.

    Parameters
    ----------
    counted, expected : int
        Stitches that stand around the rim, those made and those left to work into together, and
        those of the finished round.
    below : int or None
        Stitches of the round below.
    written : PlanRound or None
        The round as written.

    Returns
    -------
    bool
        What stands lies between the round below and the finished round. Without
        the round below: it is short and the round may increase, or over and the round may decrease.
    """
    if below is None and written is not None and written.used:
        below = written.used
    if below is not None:
        return min(below, expected) <= counted <= max(below, expected)
    kind = written.kind if written is not None else "unknown"
    if counted < expected:
        return kind != "decrease"
    return kind in ("decrease", "mixed", "unknown")


def _made_up(off: int, adjusted: str | None) -> Remark:
    return Remark.of("make up", off=off, text=adjusted)


def _another(elsewhere: PlanRound, written: PlanRound | None, uk: bool) -> Remark:
    """What to say where the piece holds what another round of its plan should."""
    held = {"n": elsewhere.round, "stitches": elsewhere.stitches or 0}
    if written is not None and elsewhere.round == written.round - 1:
        text = in_terms(written.text, False, uk)
        return Remark.of("holds the round below", next=written.round, text=text, total=written.stitches, **held)
    return Remark.of("holds another round", **held)


def _where(slips: Slips | None, place: Slip | None, off: int) -> tuple[Remark, ...]:
    """Where it most likely went wrong, or the usual suspects."""
    told = []
    if place and slips:
        told += [
            Remark.of("most likely", slip=slip, probability=slip.probability * (1 - slips.right))
            for slip in slips.places
        ]
    elif slips and slips.places:
        told.append(Remark.of("perhaps", slip=slips.places[0]))
    elif slips and slips.why_none:
        told.append(slips.why_none)
    if not place and abs(off) == 1:
        told.append(Remark.of("usual suspects", off=off))
    return tuple(told)


def _rip_to_place(place: Slip, counted: int, start_seen: bool) -> Remark:
    mark = place.marks[0]
    return Remark.of("rip to the mark", mark=mark, stitches=counted - mark + 1 if start_seen else None)


def _rip_to_round(written: PlanRound | None, since: int) -> Remark:
    if written is None or written.round < 2:
        return Remark.of("rip to what agrees")
    return Remark.of("rip to the round", many=since + 1, n=written.round - 1)


def _adjusted(standing: int, expected: int, following: PlanRound | None, uk: bool) -> str | None:
    if following is None or following.stitches is None:
        following = read_plan(f"R2: sc in each st around ({expected})").round(2)
    adjusted = adjusted_round(standing, following) if following else None
    if not adjusted or following is None:
        return None
    return f"{in_terms(adjusted, False, uk)} [{following.stitches}]"
