"""What makers leave out or write in their own order, as rules with an example each.

A rule looks at a word with a few of its neighbours. The first rule of a list that knows the
word answers with what stands there for the grammar and how many words that takes up; a word
that no rule knows stays as it is. Each word is looked at once, so that the time grows with
the length of the text alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from lark import Token

from counter.plan.tokens import KINDS, NUMBERS, PARTS, WHERE

__all__ = ["HOW_OFTEN", "LEFT_OUT", "Habit", "carried_out", "exact_times", "made", "types"]

#: What a rule puts in place of words: the new ones, and how many it takes up; None where it doesn't know them.
Answer = tuple[list, int] | None


@dataclass(frozen=True)
class Habit:
    """One rule: an example of what it reads, the same in plain words, and the rule itself."""

    example: str
    becomes: str
    read: Callable[[Surroundings], Answer]


@dataclass
class Surroundings:
    """A word among its neighbours.

    Parameters
    ----------
    items : list
        Words and brackets of one level.
    at : int
        Place of the word.
    out : list
        What stands for the words before it; a rule may take back from it.
    """

    items: list
    at: int
    out: list

    @property
    def item(self):
        """The word."""
        return self.items[self.at]

    @property
    def before(self) -> str:
        """Type of what stands before it, "" for nothing."""
        return self.out[-1].type if self.out else ""

    @property
    def before_that(self) -> str:
        """Type of what stands before that, "" for nothing."""
        return self.out[-2].type if len(self.out) > 1 else ""

    def after(self, far: int = 1) -> str:
        """Type of the word so many further on, "" for none."""
        return self.items[self.at + far].type if self.at + far < len(self.items) else ""

    def word(self, far: int = 1):
        """The word so many further on."""
        return self.items[self.at + far]


def types(items: Sequence) -> list[str]:
    """Types of words and brackets."""
    return [item.type for item in items]


def made(kind: str, value: object, place) -> Token:
    """Make a word of our own at the place of another."""
    return Token(kind, str(value), start_pos=place.start_pos, end_pos=getattr(place, "end_pos", None))


def carried_out(items: list, habits: dict[str, list[Habit]]) -> list:
    """Go through words once and put in place of each what the first rule that knows it says.

    Parameters
    ----------
    items : list
        Words and brackets of one level.
    habits : dict of str to list of Habit
        Rules by the type of word that they begin at.

    Returns
    -------
    list
    """
    out: list = []
    at = 0
    while at < len(items):
        here = Surroundings(items, at, out)
        for habit in habits.get(here.item.type, ()):
            answer = habit.read(here)
            if answer is not None:
                out += answer[0]
                at += answer[1]
                break
        else:
            out.append(here.item)
            at += 1
    return out


def _habit(table: dict[str, list[Habit]], kinds: str, example: str, becomes: str):
    """Put a rule into a list, under the types of words that it begins at."""

    def put(read: Callable[[Surroundings], Answer]) -> Callable[[Surroundings], Answer]:
        for kind in kinds.split():
            table.setdefault(kind, []).append(Habit(example, becomes, read))
        return read

    return put


def _apart(first: Token, second: Token) -> bool:
    """Whether a blank stands between two words."""
    return (second.start_pos or 0) > (first.end_pos or 0)


def _begins(before: str) -> bool:
    return before in ("", "NL") or before in PARTS


def _group(here: Surroundings, far: int) -> bool:
    """Whether a bracket with stitches in it stands so many words further on, where a total would hold none."""
    if here.after(far) != "BRACKET":
        return False
    inside = types(here.word(far).inside)
    return bool(KINDS & set(inside)) and not (inside[:1] == ["NUM"] and set(inside[1:]) <= {"STITCH"})


# ------------------------------------------------------------------ how often

#: Rules that put together what says how often: "x 6", "6x", "six times", "twice".
HOW_OFTEN: dict[str, list[Habit]] = {}


@_habit(HOW_OFTEN, "X", "inc x 6", "inc 6 times")
def _x_six(here: Surroundings) -> Answer:
    if here.after() != "NUM":
        return None
    times = here.after(2) == "TIMES_WORD"
    more = "MORE" in (here.after(2), here.after(3)) and here.after(2) in ("MORE", "TIMES_WORD")
    number = f"+{here.word()}" if more else here.word()
    return [made("TIMES", number, here.item)], 2 + times + more


@_habit(HOW_OFTEN, "EVERY_NTH", "dec every 3rd and 4th st", "dec every 4th st")
def _every_third_and_fourth(here: Surroundings) -> Answer:
    if (here.after(), here.after(2)) != ("AND", "ORDINAL"):
        return None
    return [made("EVERY_NTH", here.word(2), here.item)], 3


@_habit(HOW_OFTEN, "NUM", "*sc, inc, rep from * 5 more times", "*sc, inc, rep from * x 5 more")
def _five_more_times(here: Surroundings) -> Answer:
    if (here.after(), here.after(2)) != ("MORE", "TIMES_WORD"):
        return None
    return [made("TIMES", f"+{here.item}", here.item)], 3


@_habit(HOW_OFTEN, "NUM", "inc 6 times", "inc x 6")
def _six_times(here: Surroundings) -> Answer:
    if here.after() != "TIMES_WORD":
        return None
    more = here.after(2) == "MORE"
    if _group(here, 2) and _begins(here.before):
        return [made("BEFORE", here.item, here.item)], 2  # "6 times (sc, inc)"
    return [made("TIMES", f"+{here.item}" if more else here.item, here.item)], 2 + more


@_habit(HOW_OFTEN, "NUM", "6*(2 sc, inc)", "6 x (2 sc, inc)")
def _six_star_bracket(here: Surroundings) -> Answer:
    if (here.after(), here.after(2)) != ("STAR", "BRACKET") or not (_begins(here.before) or here.before == "LOOPS"):
        return None
    return [made("BEFORE", here.item, here.item)], 2


@_habit(HOW_OFTEN, "NUM", "6x (2 sc, inc)", "(2 sc, inc) x 6")
def _six_x(here: Surroundings) -> Answer:
    if here.after() != "X" or here.before in KINDS and here.after(2) == "NUM" and _apart(here.item, here.word()):
        return None  # "sc3 inc1 x6", but "3sc 1inc 6x 30"
    ahead = _begins(here.before) and (_group(here, 2) or here.after(2) in KINDS)
    return [made("BEFORE" if ahead else "TIMES", here.item, here.item)], 2 + (here.after(2) == "TIMES_WORD")


@_habit(HOW_OFTEN, "NUM", "6 (2 sc, dec)", "6 x (2 sc, dec)")
def _six_bracket(here: Surroundings) -> Answer:
    if not _begins(here.before) or not _group(here, 1):
        return None
    return [made("BEFORE", here.item, here.item)], 1


@_habit(HOW_OFTEN, "NUM", "(sc, inc) repeat 6", "(sc, inc) x 6")
def _repeat_six(here: Surroundings) -> Answer:
    if (
        here.before != "REPEAT"
        or here.out[-1].lower() == "repeat."
        or here.after() in KINDS
        or here.after() == "BRACKET"
        and here.before_that != "BRACKET"
    ):
        return None
    return [made("TIMES", here.item, here.item)], 1


@_habit(HOW_OFTEN, "NUM", "(sc, inc)6", "(sc, inc) x 6")
def _bracket_six(here: Surroundings) -> Answer:
    if here.before == "BRACKET" and here.before_that == "BEFORE" and here.after() in ("", "ST"):
        return [made("STATED", here.item, here.item)], 1 + (here.after() == "ST")  # "6 (2 sc, dec) 18 sts"
    if here.before != "BRACKET" or not (here.after() in ("", "BRACKET") or here.after() in PARTS):
        return None
    return [made("TIMES", here.item, here.item)], 1


@_habit(HOW_OFTEN, "AND", "sc in each st and ch around", "sc in each st around")
def _each_stitch_and_chain(here: Surroundings) -> Answer:
    both = here.before in ("ST", "STITCH") and here.after() in ("ST", "STITCH", "CHAIN", "SPACE")
    if not both or "EACH" not in types(here.out[-3:]) or here.after(2) in ("NUM", "IN", *WHERE):
        return None
    return [], 2


@_habit(HOW_OFTEN, "TIMES_WORD", "(sc, inc) times six", "(sc, inc) x 6")
def _times_six(here: Surroundings) -> Answer:
    if here.after() != "NUM" or here.after(2) in ("ST", "STITCH", *KINDS):
        return None
    return [made("TIMES", here.word(), here.item)], 2


@_habit(HOW_OFTEN, "TWICE", "dec twice", "dec x 2")
def _twice(here: Surroundings) -> Answer:
    more = here.after() == "MORE"
    number = NUMBERS[here.item.lower()]
    return [made("TIMES", f"+{number}" if more else number, here.item)], 1 + more


@_habit(HOW_OFTEN, "TO_LAST", "sc to last 3 sts", "sc to last 3")
def _to_last(here: Surroundings) -> Answer:
    last = here.item.split()[-1]
    number = int(last) if last.isdigit() else NUMBERS.get(last.lower(), 1)
    return [made("FILL", number, here.item)], 1 + (here.after() in ("ST", "STITCH"))


@_habit(HOW_OFTEN, "FILL", "sc all the way around", "sc around")
def _around(here: Surroundings) -> Answer:
    return [made("FILL", 0, here.item)], 1


def exact_times(items: list) -> list:
    """Mark how often as said in all: "a total of 6 times", "6 times in total"."""
    out: list = []
    for index, item in enumerate(items):
        near = types(items[max(index - 1, 0) : index]) + types(items[index + 1 : index + 3])
        if item.type == "TIMES" and "TOTAL" in near:
            out.append(made("TIMES", f"={item.lstrip('+=')}", item))
        elif item.type == "TOTAL" and "TIMES" in types(items[max(index - 2, 0) : index + 2]):
            if out and out[-1].type == "IN":
                out.pop()
        else:
            out.append(item)
    return out


# ------------------------------------------------------------------ words that are left out

#: Rules that put in the words that makers leave out: "sc next 3" for "sc in next 3", "MR 6" for "6 sc in MR".
LEFT_OUT: dict[str, list[Habit]] = {}


def _main(here: Surroundings) -> Token:
    return made("STITCH", "main", here.item)


def _in(here: Surroundings) -> Token:
    return made("IN", "in", here.item)


def _bare_number(here: Surroundings) -> bool:
    """Whether a number that belongs to no stitch stands before the word."""
    return here.before == "NUM" and here.before_that not in KINDS


@_habit(LEFT_OUT, "IN", "in a magic ring: 6 sc", "magic ring: 6 sc")
def _in_ring_first(here: Surroundings) -> Answer:
    return ([], 1) if here.before == "IN" or not here.out and here.after() == "RING" else None


@_habit(LEFT_OUT, "IN", "sc 1, two in the next", "sc 1, two sc in the next")
def _two_in_the_next(here: Surroundings) -> Answer:
    alone = here.before == "NUM" and (len(here.out) == 1 or here.before_that in PARTS)
    return ([_main(here), here.item], 1) if alone and here.after() not in ("RING", "NUM", "") else None


@_habit(LEFT_OUT, "IN", "6 in ring", "6 sc in ring")
def _six_in_ring(here: Surroundings) -> Answer:
    ring = any(item.type == "RING" for item in here.items[here.at + 1 : here.at + 4])
    return ([_main(here), here.item], 1) if ring and _bare_number(here) else None


@_habit(LEFT_OUT, "EACH", "sc across all 24 sts", "sc across 24 sts")
def _across_all(here: Surroundings) -> Answer:
    return ([], 1) if here.before == "FILL" else None


@_habit(LEFT_OUT, " ".join(sorted(WHERE)), "sc next 3", "sc in next 3")
def _where_without_in(here: Surroundings) -> Answer:
    return ([_in(here), here.item], 1) if here.before != "IN" and here.before not in WHERE else None


@_habit(LEFT_OUT, "ST", "2 sc stitches in each stitch", "2 sc in each stitch")
def _crochet_stitches(here: Surroundings) -> Answer:
    return ([], 1) if here.before == "STITCH" and (here.after() == "IN" or here.after() in WHERE) else None


@_habit(LEFT_OUT, "STITCH", "sk sc", "sk 1")
def _skip_stitch(here: Surroundings) -> Answer:
    if here.before == "SKIP" or here.before == "NUM" and here.before_that == "SKIP":
        return [], 1
    return None


@_habit(LEFT_OUT, "ST SPACE", "sc st", "sc in st")
def _stitch_without_in(here: Surroundings) -> Answer:
    return ([_in(here), here.item], 1) if here.before in KINDS else None


@_habit(LEFT_OUT, "ST", "6 sts in ring", "6 sc in ring")
def _stitches_in_ring(here: Surroundings) -> Answer:
    return ([_main(here)], 1) if here.before == "NUM" and here.after() == "IN" and len(here.out) == 1 else None


@_habit(LEFT_OUT, "ST", "(sc 2, inc) x 6 sts", "(sc 2, inc) x 6")
def _idle_stitches(here: Surroundings) -> Answer:
    return ([], 1) if here.before in ("STATED", "TIMES", "FILL", "") else None


@_habit(LEFT_OUT, "TIMES", "sc twice in each st", "2 sc in each st")
def _twice_in_each(here: Surroundings) -> Answer:
    if here.before != "STITCH" or here.after() != "IN" and here.after() not in WHERE:
        return None
    return [made("NUM", here.item.lstrip("+="), here.item)], 1


@_habit(LEFT_OUT, "RING", "MR 6", "6 sc in MR")
def _ring_six(here: Surroundings) -> Answer:
    if here.before in ("IN", *WHERE) or here.after() not in ("NUM", "TIMES") or here.after(2) in KINDS:
        return None
    return [here.item, _main(here)], 1


@_habit(LEFT_OUT, "RING", "6 MR", "6 sc in MR")
def _six_ring(here: Surroundings) -> Answer:
    if here.before in ("", "IN", "STAR", "SEP", *WHERE):
        return None
    return [*([_main(here)] if _bare_number(here) else []), _in(here), here.item], 1


@_habit(LEFT_OUT, "NUM", "sc 2, inc. Repeat. 24 st", "sc 2, inc. Repeat. (24)")
def _total_behind_repeat(here: Surroundings) -> Answer:
    if here.before != "REPEAT" or here.out[-1].lower() != "repeat." or here.after() not in ("", "ST"):
        return None
    return [made("STATED", here.item, here.item)], 1 + (here.after() == "ST")


@_habit(LEFT_OUT, "NUM", "(sc 2, inc) x 6 24", "(sc 2, inc) x 6 (24)")
def _total_behind_times(here: Surroundings) -> Answer:
    if here.before not in ("TIMES", "FILL") or here.after() not in ("", "ST", "STATED", "STITCH"):
        return None
    named = here.after() == "STITCH"  # "sc 4, dec around 30 sc"
    return ([made("STATED", here.item, here.item)], 1 + named) if not named or here.after(2) == "" else None


@_habit(LEFT_OUT, "NUM", "6 sc in MR 6", "6 sc in MR (6)")
def _total_behind_ring(here: Surroundings) -> Answer:
    worked = here.before == "RING" and here.before_that == "IN" and bool({"STITCH"} & set(types(here.out)))
    if not worked or here.after() not in ("", "ST"):
        return None
    return [made("STATED", here.item, here.item)], 1 + (here.after() == "ST")


@_habit(LEFT_OUT, "NUM", "BLO 12", "BLO 12 sc")
def _loops_twelve(here: Surroundings) -> Answer:
    if here.before != "LOOPS" or not (here.after() in ("", "STATED", "TIMES", "FILL") or here.after() in PARTS):
        return None
    return [here.item, _main(here)], 1


@_habit(LEFT_OUT, "EVEN", "work even in sc", "sc around")
def _even(here: Surroundings) -> Answer:
    fill = made("FILL", 0, here.item)
    if (here.after(), here.after(2)) == ("IN", "STITCH"):
        return [here.word(2), fill], 3
    return [*([] if here.before == "STITCH" else [_main(here)]), fill], 1


@_habit(LEFT_OUT, "FILL", "sc around to last 3", "sc to last 3")
def _around_twice(here: Surroundings) -> Answer:
    if here.before != "FILL":
        return None
    if here.item != "0":
        here.out[-1] = here.item
    return [], 1


@_habit(LEFT_OUT, "AND", "sc and inc", "sc inc")
def _and(here: Surroundings) -> Answer:
    return [], 1
