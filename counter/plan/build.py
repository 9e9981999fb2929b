"""Works made of steps, under one reading of what can be read in two ways."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lark import Token

from counter.basics import words
from counter.plan.clean import clean_text
from counter.plan.steps import Step, Target
from counter.plan.stitches import stitch_name
from counter.plan.tokens import MOST_NESTED_BRACKETS, Unreadable, shown
from counter.plan.works import Note, Repeat, Spread, Work, is_worked, sums

__all__ = ["READINGS", "Builder"]

#: The rarer readings, the likelier ones first.
READINGS = (
    "as many",
    "chain",
    "slip",
    "slipped",
    "whole",
    "pair",
    "each",
    "around",
    "same",
    "stands on",
    "apart",
    "bridge",
    "both sides",
    "round",
    "all",
    "evenly",
)


class Builder:
    """Makes works of steps, under one reading."""

    def __init__(
        self, main: str, uk: bool, reading: frozenset[str], told: bool, joins: bool = False, chain_counts: bool = False
    ) -> None:
        self.main, self.uk, self.reading, self.joins = main, uk, reading, joins
        #: Whether a chain that the round begins with is more likely counted than not.
        self.chain_counts = chain_counts
        #: Whether the round's total was written down.
        self.told = told
        #: Readings that would make a difference here.
        self.open: set[str] = set()
        self.ring = self.spaces = self.sparse = False
        self.first_chain = 0
        self.into_first = self.skips_first = False
        self.worked = self.worked_before = self.lone = False

    def chosen(self, name: str) -> bool:
        """Whether the rarer of two readings is to be taken."""
        self.open.add(name)
        return name in self.reading

    def row(self, items: Sequence, top: bool = False) -> list:
        """Make the works of a row of steps."""
        nodes: list = []
        star: int | None = None
        if top:
            steps = [item for item in items if isinstance(item, Step) and item.kind not in ("CHAIN", "SLIP")]
            self.lone = len(steps) == 1
        for item in items:
            if isinstance(item, Step):
                if item.kind == "AGAIN":
                    star = self._again(item, nodes, star)
                else:
                    nodes += self._step(item)
            elif item.type == "STAR":
                star = len(nodes)
            elif item.type == "LOOPS":
                nodes.append(Note(item.value))
            elif item.type in ("JOIN", "TURN"):
                self.chain_counts = self.chain_counts or item == "top"  # what is joined to, is a stitch
                nodes.append(Note(item.type.lower()))
            elif item.type == "RING":
                self.ring = True
            elif item.type in ("COUNTS", "NOT_COUNTED"):
                self._counts(nodes, item.type == "COUNTS")
            elif item.type == "EVENLY" and nodes:
                nodes[-1] = self._spread(nodes[-1])
        return self._finish(nodes) if top else nodes

    def _counts(self, nodes: list, yes: bool) -> None:
        for index in range(len(nodes) - 1, -1, -1):
            node = nodes[index]
            if isinstance(node, Note) and node.chain > 0:
                if yes:
                    nodes[index] = Work("chain", node.stitch, 1, 1, 1, node.text)
                else:
                    nodes[index] = replace(node, fixed=True, text=f"{node.text} (not counted)")
                return

    def _again(self, step: Step, nodes: list, star: int | None) -> int | None:
        """Carry out "rep from * ..." on what has been worked so far."""
        said = next((tail for tail in step.tails if tail.type == "TIMES"), None)
        fill = next((tail for tail in step.tails if tail.type == "FILL"), None)
        bracket = (
            step.again == "REPEAT" and star is None and nodes and isinstance(nodes[-1], Repeat) and nodes[-1].bracket
        )
        start = len(nodes) - 1 if bracket else star or 0
        if star is not None:
            nodes[star:] = self._slipped(nodes[star:])  # a repeat may begin with one
        while start < len(nodes) and not is_worked(nodes[start]):
            start += 1  # the chain and the loops that a round begins with aren't repeated
        if (
            star is None
            and not bracket
            and start < len(nodes)
            and isinstance(nodes[start], Work)
            and nodes[start].kind == "chain"
        ):
            start += 1
        if start >= len(nodes):
            if not nodes and said is not None:
                raise Unreadable(step.at, *words.finding("nothing repeated"))
            return None
        times, leave = None, 0
        if said is not None:
            number = int(said.lstrip("+="))
            times = number + 1 if said.startswith("+") else number
            # "rep from * 5 times" is six in all by the letter of it, five to many makers.
            if said[0] not in "+=" and step.again == "again" and not self.chosen("as many"):
                times = number + 1
        elif fill is not None:
            leave = int(fill)
        body = tuple(self._slipped(nodes[start].body if bracket else nodes[start:]))
        depth = 1 + max((node.depth for node in body if isinstance(node, Repeat)), default=0)
        if depth > MOST_NESTED_BRACKETS:
            raise Unreadable(step.at, *words.finding("many repeats"))
        nodes[start:] = [Repeat(body, times, leave, step.at, depth=depth)]
        return None

    def _step(self, step: Step) -> list:
        if step.kind == "GROUP":
            return self._group(step)
        kind = step.kind
        times = _how_often(step)
        fill = next((tail for tail in step.tails if tail.type == "FILL"), None)
        even = any(tail.type == "EVENLY" for tail in step.tails)
        place = step.place
        number = place.number if place else None
        whole = (
            place is not None
            and ("EACH" in place.where or "REST" in place.where)
            and number is None
            and place.noun not in ("RING", "HOOK")
        )
        if fill is None and whole and times is None:
            fill = Token("FILL", "0", start_pos=step.at)
        stitch = self._stitch(step)
        count = step.count
        if kind == "CHAIN":
            return self._chain((count or number or 1) * (int(times.lstrip("+=")) if times else 1))
        if kind.startswith("PAIR_"):
            return self._pair(step, stitch, times, fill, even)
        if kind == "SLIP":
            return self._slip(step, count, number, fill, times)
        if not self.worked and place is not None and "FIRST" in place.where and number is None:
            self.into_first = True
        self.worked_before, self.worked = self.worked, True
        if self.lone and count is None and place is None and not step.tails and kind != "SKIP" and self.chosen("all"):
            fill = Token("FILL", "0", start_pos=step.at)  # "R5: sc (24)"
        if kind in ("INC", "DEC", "TOG"):
            return self._shaped(step, stitch, times, fill, even)
        if kind == "SKIP":
            self.skips_first = (
                self.skips_first or not self.worked_before and place is not None and "FIRST" in place.where
            )
            if place is not None and place.nth:
                return self._every(step, Work("skip", "", 1, 0), place.nth)
            return self._often(Work("skip", "", 1, 0, number or count or 1), times, fill, step)
        return self._plain(step, stitch, times, fill, even)

    def _chain(self, length: int) -> list:
        """A chain: the first may count as a stitch, one between stitches makes a space or is counted."""
        if not self.worked:
            self.first_chain = self.first_chain or length
            return [Note(f"ch {length}", length, stitch=self.main)]
        if self.joins and self.chosen("both sides"):
            return [Work("bridge", "ch", 0, 2, length)]
        if self.chosen("bridge"):
            return [Work("bridge", "ch", 0, 1, length)]
        return [Note(f"ch {length}", stitch=self.main, gap=length)]

    def _pair(self, step: Step, stitch: str, times, fill, even: bool) -> list:
        """What "2 sc inc" is: two plain ones and an increase, or two increases in sc."""
        apart = self.chosen("pair") != (step.count is not None and not step.after)
        one = replace(step, kind=step.kind[5:], count=None if apart else step.count)
        self.worked = True
        shaped = self._shaped(one, stitch, times, fill, even)
        return [Work("plain", stitch, 1, 1, step.count or 1), *shaped] if apart else shaped

    def _stitch(self, step: Step) -> str:
        if step.kind == "STITCH" or step.kind.startswith("PAIR_"):
            name = stitch_name(step.word, self.uk)
            return self.main if name == "main" else name
        if step.kind == "TOG":
            name = step.word.lower().split("tog")[0].rstrip(" -0123456789")
            return stitch_name(name, self.uk) if name else self.main
        return self.main

    def _plain(self, step: Step, stitch: str, times, fill, even: bool) -> list:
        place, count = step.place, step.count
        where = place.where if place else frozenset()
        number = place.number if place else None
        noun = place.noun if place else ""
        if any(tail.type == "TOGETHER" for tail in step.tails):
            return self._often(Work("dec", stitch, number or count or 2, 1), times, fill, step)
        if even:
            if count is None and times is None:
                return self._often(Work("plain", stitch, 1, 1), None, Token("FILL", "0", start_pos=step.at), step)
            return [Spread(0, None, (count or 1) * (int(times.lstrip("+=")) if times else 1), stitch)]
        if noun == "RING" or self.ring and place == Target():  # "make a ring, 6 sc into it"
            self.ring = True
            return self._often(Work("ring", stitch, 0, 1, count or number or 1), times, None, step)
        if noun == "SPACE":
            self.spaces = True
            return self._often(Work("space", stitch, 0, 1, count or 1), times, fill, step)
        if noun == "HOOK":
            return self._often(Work("hook", stitch, 1, count or 1), times, fill, step)
        if "SAME" in where and not (self.worked_before and (count or 1) > 1 and not self.chosen("same")):
            return self._often(Work("same", stitch, 0, count or 1), times, None, step)
        if place and place.nth:
            return self._every(
                step, Work("plain", stitch, 1, 1) if (count or 1) == 1 else self._inc(stitch, count or 1), place.nth
            )
        return self._into_stitches(step, stitch, times, fill)

    def _into_stitches(self, step: Step, stitch: str, times, fill) -> list:
        """Plain stitches, so many in each of so many."""
        place, count = step.place, step.count
        many = count if count is not None and count > 1 else None
        if fill is not None:
            if many is None:
                return self._often(
                    Work("plain", stitch, 1, 1, (place.number if place else None) or 1), None, fill, step
                )
            if place is not None or (many < 4) != self.chosen("around"):
                return self._often(self._inc(stitch, many), None, fill, step)
            return self._often(Work("plain", stitch, 1, 1, many), times, None, step)
        if place is None:
            return self._often(Work("plain", stitch, 1, 1, count if count is not None else 1), times, None, step)
        number = place.number if place.number is not None else 1
        if many is None:
            works = Work("plain", stitch, 1, 1, number)
        elif number == 1 or "EACH" in place.where:
            works = self._inc(stitch, many, number)
        else:  # "3 sc in next 3 sts": one in each, by far most often; else so many in each
            each = (many != number) != self.chosen("each")
            works = self._inc(stitch, many, number) if each else Work("plain", stitch, 1, 1, number)
        return self._often(works, times, None, step)

    @staticmethod
    def _inc(stitch: str, made: int, times: int = 1) -> Work:
        return Work("inc", stitch, 1, made, times)

    def _shaped(self, step: Step, stitch: str, times, fill, even: bool) -> list:
        place, count = step.place, step.count
        number = place.number if place else None
        sign = 1 if step.kind == "INC" else -1
        often = int(times.lstrip("+=")) if times is not None else None
        alone = self.lone and self.told and count is not None and count > 1 and times is None and fill is None
        spread = alone and place is None and self.chosen("evenly")  # "dec 6 (24)"
        if even or spread or count is not None and count > 1 and fill is not None:  # "inc 6 evenly", "inc 6 around"
            self.sparse = True
            change = count if count is not None else often
            return [Spread(sign, change if count is None or often is None else count * often, None, stitch)]
        if place and place.nth:
            unit = self._inc(stitch, 2) if sign > 0 else Work("dec", stitch, 2, 1)
            return self._every(step, unit, place.nth)
        if sign > 0:
            if place and "SAME" in place.where:
                return self._often(Work("same", stitch, 0, 2), times, None, step)
            many = max(count or 1, number or 1)
            unit = self._inc(stitch, 2, 1 if fill is not None else many)
        else:
            base = _together(step.word) if step.kind == "TOG" else 2
            many = count or 1
            if count is None and number is not None:
                if number % base == 0:
                    many = number // base
                elif number > 1 and step.kind == "DEC":
                    base = number
            unit = Work("dec", stitch, base, 1, 1 if fill is not None else many)
        return self._often(unit, times, fill, step)

    def _slip(self, step: Step, count, number, fill, times) -> list:
        if fill is not None or step.after or (number or 1) > 1 or (count or 1) > 1 or times is not None:
            self.worked = True
            return self._often(Work("plain", "sl st", 1, 1, max(count or 1, number or 1)), times, fill, step)
        into = step.place is not None and {"NEXT", "EACH"} & step.place.where and step.place.noun != "HOOK"
        return [Note("sl st", -1, stitch="next" if into else "")]

    def _every(self, step: Step, unit: Work, nth: int) -> list:
        """Work "inc in every 3rd st": a repeat that takes the place of "sc around" before it."""
        self.sparse = True
        between = nth if self.chosen("apart") else nth - unit.base  # "inc every 6 sts": in the sixth, or after six
        plain = Work("plain", self.main, 1, 1, between)
        body = (plain, unit) if plain.times > 0 else (unit,)
        return [Repeat(body, None, 0, step.at)]

    def _often(self, work: Work, times, fill, step: Step) -> list:
        """Repeat one work as its tail says."""
        if times is not None:
            return [Repeat((work,), int(times.lstrip("+=")), 0, step.at, tail=True)]
        if fill is not None:
            return [Repeat((work,), None, int(fill), step.at, tail=True)]
        return [work]

    def _spread(self, node):
        """Take back the places of what turns out to be spread evenly."""
        times = 1
        work = node
        if isinstance(node, Repeat) and len(node.body) == 1 and isinstance(node.body[0], Work):
            work, times = node.body[0], node.times
        if isinstance(work, Work) and work.kind in ("inc", "dec") and times is not None:
            self.sparse = True
            return Spread(1 if work.kind == "inc" else -1, work.times * times, None, work.stitch)
        return node

    def _group(self, step: Step) -> list:
        self.worked = True
        body = self._slipped(self.row(step.body or []))
        times = _how_often(step)
        fill = next((tail for tail in step.tails if tail.type == "FILL"), None)
        place = step.place
        if place is not None and place.noun not in ("RING", "SPACE"):
            works = [node for node in body if isinstance(node, Work)]
            if len(works) == 1 and len(body) == 1 and place.number is None and works[0].kind in ("inc", "dec"):
                whole = "EACH" in place.where
                if whole and times is None:
                    fill = fill or Token("FILL", "0", start_pos=step.at)
            elif body and all(one in works and one.kind == "plain" and one.stitch == works[0].stitch for one in body):
                return self._plain(
                    replace(step, kind="STITCH", count=sum(one.times for one in works)),
                    works[0].stitch,
                    times,
                    fill,
                    False,
                )
            else:
                made = sum(sums(node)[1] for node in body)
                form = f"({clean_text(body, self.main)})"
                unit = Work("into", works[0].stitch if works else self.main, 1, made, 1, form)
                if place.number is None and "EACH" in place.where and times is None:
                    fill = fill or Token("FILL", "0", start_pos=step.at)
                body = [replace(unit, times=place.number or 1)]
        elif place is not None:
            self.ring = self.ring or place.noun == "RING"
            self.spaces = self.spaces or place.noun == "SPACE"
            body = [replace(node, kind=place.noun.lower(), base=0) if isinstance(node, Work) else node for node in body]
        if times is not None:
            number = int(times.lstrip("+="))
            return [Repeat(tuple(body), number + 1 if times.startswith("+") else number, 0, step.at)]
        if fill is not None:
            return [Repeat(tuple(body), None, int(fill), step.at)]
        return [Repeat(tuple(body), 1, 0, step.at, bracket=True)]

    def _finish(self, nodes: list) -> list:
        """Settle what hangs on the whole round."""
        nodes = _unbracket(nodes)
        self._slips(nodes)
        self._first_chain(nodes)
        self._skipped_first(nodes)
        self._same_first(nodes)
        self._meant_for_all(nodes)
        if self.ring:  # "MR, 6 sc"
            nodes = [_into_ring(node) for node in nodes]
            if not any(_in_ring(node) for node in nodes):
                nodes.insert(0, Note("ring"))
        if self.sparse:  # "sc around, inc 6 evenly": the increases are among those sc
            nodes = [node for node in nodes if not _plain_around(node)]
        return nodes

    def _slips(self, nodes: list) -> None:
        """The last slip stitch joins, others are stitches; or the other way round."""
        works = [at for at, node in enumerate(nodes) if is_worked(node)]
        for at, node in enumerate(nodes):
            if isinstance(node, Note) and node.chain == -1:
                last = not works or at > works[-1]
                joins = last != self.chosen("slip")
                nodes[at] = replace(node, chain=0) if joins else Work("plain", "sl st", 1, 1)

    def _slipped(self, nodes: Sequence) -> list:
        """Count slip stitches that repeats are worked with: "sl st in next st", and a mere "sl st" where that fits."""
        return [
            Work("plain", "sl st", 1, 1)
            if isinstance(node, Note) and node.chain == -1 and (node.stitch == "next" or self.chosen("slipped"))
            else node
            for node in nodes
        ]

    def _first_chain(self, nodes: list) -> None:
        """A first chain that counts as a stitch."""
        works = [at for at, node in enumerate(nodes) if is_worked(node)]
        chains = [at for at, node in enumerate(nodes) if isinstance(node, Note) and node.chain > 1 and not node.fixed]
        chains = [at for at in chains if works and at < works[0]]
        if not chains or self.main == "sc" or self.chosen("chain") == self.chain_counts:
            return
        at, first = chains[-1], works[0]
        nodes[at] = Work("chain", nodes[at].stitch, 1, 1, 1, nodes[at].text)
        one = nodes[first]
        if self.into_first and isinstance(one, Work) and one.kind in ("plain", "inc"):
            # "ch 3, dc in first st": both stand on it
            rest = [replace(one, times=one.times - 1)] if one.times > 1 else []
            nodes[first : first + 1] = [Work("same", one.stitch, 0, one.made), *rest]

    def _skipped_first(self, nodes: list) -> None:
        """A first chain that counts stands on the stitch that is skipped for it: "ch 3, skip first st"."""
        worked = [at for at, node in enumerate(nodes) if is_worked(node)]
        if len(worked) < 2 or not isinstance(nodes[worked[0]], Work) or nodes[worked[0]].kind != "chain":
            return
        skip = nodes[worked[1]]
        if isinstance(skip, Work) and skip.kind == "skip" and self.chosen("stands on") != self.skips_first:
            nodes[worked[1] : worked[1] + 1] = [replace(skip, times=skip.times - 1)] if skip.times > 1 else []

    def _same_first(self, nodes: list) -> None:
        """Where nothing came before, the same stitch as the join's is the first."""
        first = next((at for at, node in enumerate(nodes) if is_worked(node)), None)
        one = None if first is None else nodes[first]
        if isinstance(one, Repeat) and one.times and len(one.body) == 1 and isinstance(one.body[0], Work):
            one = replace(one.body[0], times=1, made=one.body[0].made * one.body[0].times * one.times)
        if first is not None and isinstance(one, Work) and one.kind == "same":
            nodes[first] = Work("plain" if one.made == 1 else "inc", one.stitch, 1, one.made)

    def _meant_for_all(self, nodes: list) -> None:
        """What is said behind a step may be meant for all of them: "sc 2, inc x 6", "sc 2, inc (24)"."""
        works = [at for at, node in enumerate(nodes) if is_worked(node)]
        if len(works) < 2:
            return
        last = nodes[works[-1]]
        if isinstance(last, Repeat) and last.tail:
            first = next(at for at in works if not (isinstance(nodes[at], Work) and nodes[at].kind == "chain"))
            simple = all(isinstance(nodes[at], Work) for at in works[:-1]) and first != works[-1]
            again = any(isinstance(nodes[at], Work) and nodes[at].kind == "same" for at in works[:-1])
            usual = not again and last.times is None and last.body[0].kind != "plain" and last.leave == 0
            if simple and self.chosen("whole") != usual:
                body = (*nodes[first : works[-1]], *last.body)
                nodes[first : works[-1] + 1] = [Repeat(body, last.times, last.leave, last.at)]
        elif self.told and all(isinstance(nodes[at], Work) for at in works) and self.chosen("round"):
            first = works[0] + (nodes[works[0]].kind == "chain")
            nodes[first : works[-1] + 1] = [Repeat(tuple(nodes[first : works[-1] + 1]), None)]


def _how_often(step: Step) -> Token | None:
    """How often a step is worked; None where nothing says so.

    Raises
    ------
    Unreadable
        Where two different numbers say so.
    """
    said = [tail for tail in step.tails if tail.type == "TIMES"]
    other = next((tail for tail in said if tail.lstrip("+=") != said[0].lstrip("+=")), None)
    if other is not None:
        raise Unreadable(other.start_pos or 0, *words.finding("unreadable", word=shown(other)))
    return said[0] if said else None


def _plain_around(node) -> bool:
    """Whether a node is "sc around"."""
    around = isinstance(node, Repeat) and node.times is None
    return around and all(one.kind == "plain" for one in node.body if isinstance(one, Work))


def _into_ring(node):
    """Work plain stitches into the ring."""
    if isinstance(node, Repeat):
        return replace(node, body=tuple(_into_ring(one) for one in node.body))
    return replace(node, kind="ring", base=0) if isinstance(node, Work) and node.kind == "plain" else node


def _in_ring(node) -> bool:
    return (
        any(_in_ring(one) for one in node.body)
        if isinstance(node, Repeat)
        else isinstance(node, Work) and node.kind == "ring"
    )


def _together(token: Token) -> int:
    return int(next(sign for sign in reversed(token) if sign.isdigit()))


def _unbracket(nodes: Sequence) -> list:
    """Take off brackets that repeat nothing."""
    out: list = []
    for node in nodes:
        if isinstance(node, Repeat):
            body = _unbracket(node.body)
            if node.bracket:
                out += body
                continue
            node = replace(node, body=tuple(body))
        out.append(node)
    return out
