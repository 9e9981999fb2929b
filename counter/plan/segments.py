"""What stands between two commas: a total, a join, a remark, or stitches with the words that makers leave out."""

from __future__ import annotations

from dataclasses import dataclass

from lark import Token

from counter.plan.habits import LEFT_OUT, carried_out, made, types
from counter.plan.settled import Normalised
from counter.plan.stated import stated_total
from counter.plan.tokens import KINDS, PARTS, WHERE

__all__ = ["ASIDE", "segments", "strange_words"]

#: Words that the grammar has no place for: they say something about the work, but make no stitch.
IDLE = frozenset(
    {"WORD", "OTHER", "DECIMAL", "TOTAL", "MORE", "RND", "ROW", "PREVIOUS", "LIKE", "TO", "FOR", "UP_TO", "STARTS"}
    | {"TAKE", "NOT", "COUNT_WORD", "FROM", "HOOK", "X", "TIMES_WORD", "COLOUR_OR_RING", "ADD", "UNWORKED"}
)
#: Words beside a number that are no stitch.
ASIDE = frozenset(
    [
        "color",
        "colour",
        "shade",
        "yarn",
        "strand",
        "strands",
        "ball",
        "balls",
        "part",
        "piece",
        "pieces",
        "step",
        "page",
        "photo",
        "video",
        "picture",
        "chart",
        "fig",
        "figure",
        "size",
        "hook",
        "marker",
        "markers",
        "leg",
        "legs",
        "arm",
        "arms",
        "ear",
        "ears",
        "eye",
        "eyes",
        "side",
        "bead",
        "beads",
        "fewer",
        "apart",
        "cm",
        "mm",
        "m",
        "inch",
        "inches",
        "g",
        "gram",
        "grams",
        "oz",
        "yards",
        "yds",
    ]
)
#: Words ahead of a place that make no stitch there.
HARMLESS = frozenset(
    {"change", "switch", "mark", "start", "begin", "end", "finish", "place", "insert", "up", "same", "picot"}
)


def segments(items: list, result: Normalised, inside: bool) -> list:
    """Settle what stands between two commas, one after the other."""
    out: list = []
    segment: list = []
    sign = None
    kinds = any(item.type in KINDS or item.type in ("BRACKET", "RING", "EVEN", "IN") for item in items)
    full = max((at for at, item in enumerate(items) if item.type not in PARTS), default=-1)
    last = max((at for at, item in enumerate(items[:full]) if item.type in PARTS), default=-1)
    for at, item in enumerate([*items, None]):
        if item is not None and item.type not in PARTS:
            segment.append(item)
            continue
        if segment:
            repeated = "REP_FROM" in types(segment)  # the star behind it closes a repeat: "*dec, 4* x6"
            among = kinds and (inside or at <= last or result.wanted is False or repeated)
            among = among and (item is None or item.type in ("SEP", "AND"))
            settled = _plain(segment, sign) if among and not _stated(out) else None
            settled = settled or _segment(_Segment(segment, sign, out, result, inside, kinds, at > last))
            if settled:
                if out and out[-1].type != "SEP":
                    out.append(made("SEP", ",", segment[0]))
                out += settled
        segment, sign = [], item
    return out


def _stated(out: list) -> bool:
    return any(item.type == "STATED" for item in out)


def _plain(segment: list, sign: Token | None) -> list | None:
    """A number all alone among stitches is that many plain ones: "(1, 1, inc) x 6"."""
    kinds = types(segment)
    core = [kind for kind in kinds if kind != "STAR" and not (kind == "STATED" and "REP_FROM" in kinds)]
    if core[:1] == ["NUM"] and core[1:] in (["REP_FROM"], ["REP_FROM", "TIMES"], ["REP_FROM", "FILL"]):
        core = ["NUM"]  # "*dec, 4* x6"
    if core != ["NUM"] or sign is not None and sign.type not in ("SEP", "AND"):
        return None
    place = kinds.index("NUM") + 1
    return [*segment[:place], made("STITCH", "main", segment[place - 1]), *segment[place:]]


@dataclass
class _Segment:
    """What stands between two commas: the sign ahead of it, what came before, and whether it is the last."""

    items: list
    sign: Token | None
    out: list
    result: Normalised
    inside: bool
    kinds: bool
    ends: bool

    @property
    def types(self) -> list[str]:
        return types(self.items)

    @property
    def bare(self) -> list:
        """The words without what was settled already."""
        return [item for item in self.items if item.type not in ("STAR", "STATED", "OTHER")]

    @property
    def stars(self) -> list:
        return [item for item in self.items if item.type == "STAR"]

    def part(self, items: list) -> _Segment:
        """A part of it, read by itself."""
        return _Segment(items, self.sign, self.out, self.result, self.inside, self.kinds, False)


def _segment(segment: _Segment) -> list:
    """Settle what stands between two commas: the first reader that knows it says what it is."""
    for reader in READERS:
        found = reader(segment)
        if found is not None:
            return found
    return carried_out(_idle(_loops(segment.items), segment.result, segment.inside), LEFT_OUT)


def _closing_total(segment: _Segment) -> list | None:
    """The total that a round ends with: "... join. 24 sc"."""
    if not segment.ends or segment.inside:
        return None
    total = _closing(segment.bare, segment.sign, segment.out, segment.result)
    if total:
        return [*segment.stars, made("STATED", total, segment.items[0])]
    if segment.result.closing is False and types(segment.bare) == ["NUM"]:
        stated = [item for item in segment.items if item.type == "STATED"]
        return [*(_plain(segment.bare, segment.sign) or []), *stated]
    return None


def _named_total(segment: _Segment) -> list | None:
    """A total that isn't in brackets: "= 24", "- 24 sts", ". 24 stitches in total", or a number all alone."""
    core = [kind for kind in segment.types if kind not in ("WORD", "STAR", "OTHER")]
    if segment.inside or not segment.bare or "STATED" in segment.types or core.count("NUM") != 1:
        return None
    total = stated_total(segment.bare)
    if not total or " " in total:
        return None
    sign, ends = segment.sign, segment.ends
    said = sign is not None and sign.type in ("EQ", "DASH", "COLON")
    strong = said or sign is not None and sign == "."
    again = any(item.type in ("FILL", "TIMES", "BRACKET") for item in segment.out)
    if "STITCH" in core or "CHAIN" in core:
        marked = sign is not None and strong and (sign.type == "EQ" or ends and sign.type != "SEP")
        states = marked or strong and again
    else:
        alone = not segment.kinds or not segment.out
        states = "ST" in core or "TOTAL" in core or strong or alone or again and ends
    return [*segment.stars, made("STATED", total, segment.items[0])] if states else None


def _number_after_total(segment: _Segment) -> list | None:
    """A number that stands behind a total says nothing more."""
    core = [kind for kind in segment.types if kind not in ("WORD", "STAR", "OTHER")]
    return [] if core == ["NUM"] and _stated(segment.out) else None


def _counted(segment: _Segment) -> list | None:
    """What says whether a chain counts: "counts as a dc", "does not count as a stitch"."""
    kinds = segment.types
    if "COUNT_WORD" not in kinds:
        return None
    where = kinds.index("COUNT_WORD")
    said = "NOT_COUNTED" if "NOT" in kinds else "COUNTS"
    head = segment.items[: min(where, kinds.index("NOT") if "NOT" in kinds else where)]
    return [*(item for item in head if item.type not in IDLE), made(said, "", segment.items[where])]


def _left_unworked(segment: _Segment) -> list | None:
    """Stitches that are left on purpose: "leave the rest unworked"."""
    kinds = set(segment.types)
    if "UNWORKED" not in kinds or not ({"ST", "REST", "STITCH"} & kinds or "NUM" in kinds and "WORD" not in kinds):
        return None
    segment.result.unworked = True
    return []


def _joined(segment: _Segment) -> list | None:
    """The end of a joined round: "sl st to join"; a stitch that is joined with is worked."""
    kinds = segment.types
    if "JOIN" not in kinds and "SLIP" not in kinds:
        return None
    first = min(kinds.index(kind) for kind in ("JOIN", "SLIP") if kind in kinds)
    rest = segment.items[first:]
    tail = types(rest)
    if "SAME" in kinds[:first]:  # "sc in the same st as the join"
        segment.items = segment.items[:first]
        return None
    if "JOIN" in tail and tail[1:2] == ["STITCH"] and "SLIP" not in tail:  # "join with a sc in any st"
        segment.items = [*segment.items[:first], *rest[1:]]
        return None
    said = any(item.type == "WORD" and item.lower() in ("top", "form") for item in rest)
    if "JOIN" not in tail and not said and not {"FIRST", "STARTS", "ORDINAL", "SPACE"} & set(tail):
        return None
    head = _segment(segment.part(segment.items[:first])) if first else []
    ends = [item for item in rest if item.type in ("STAR", "STATED", "REP_FROM")]
    to_chain = any(item.type == "WORD" and item.lower() == "top" for item in rest) and "CHAIN" in tail
    return [*head, made("JOIN", "top" if to_chain else "", segment.items[first]), *ends]


def _nothing_done(segment: _Segment) -> list | None:
    """What is not to be done: "do not turn"."""
    kinds = segment.types
    works = any(kind in KINDS or kind == "BRACKET" for kind in kinds)
    if kinds[0] != "NOT" and ("NOT" not in kinds or works):
        return None
    return [item for item in segment.items if item.type in ("STAR", "STATED")]


#: What reads a segment, in this order.
READERS = (_closing_total, _named_total, _number_after_total, _counted, _left_unworked, _joined, _nothing_done)


def _closing(segment: list, sign: Token | None, out: list, result: Normalised) -> str:
    """Return the total that a round ends with, "... join. 24 sc", "" where it is worked, or there is none."""
    said = "TOTAL" in types(segment)  # "30 sc in total"
    kinds = [
        kind
        for kind in types(segment)
        if kind not in ("WORD", "NOISE", "REST", "TOTAL") and not (said and kind == "IN")
    ]
    worked = [item for item in out if item.type in KINDS - {"CHAIN", "SLIP"} or item.type in ("BRACKET", "FILL")]
    if kinds not in (["NUM"], ["NUM", "STITCH"], ["NUM", "ST"]) or not worked or _stated(out):
        return ""
    if sign is not None and sign.type not in ("SEP", "NL", "AND"):
        return ""  # a sign that says more is looked at elsewhere
    joined = any(item.type == "JOIN" for item in out)
    plain = any(item.type == "STITCH" and item == "main" for item in out)
    usual = joined or said or (sign is not None and sign == "." if kinds[1:] == ["STITCH"] else not plain)
    result.closing = usual if result.wanted is None else result.wanted
    return str(next(item for item in segment if item.type == "NUM")) if result.closing else ""


def _loops(segment: list) -> list:
    """Take out "in the back loop only" and put BLO ahead of the step."""
    places = [at for at, item in enumerate(segment) if item.type == "LOOPS"]
    if not places:
        return segment
    kept = [
        item for at, item in enumerate(segment) if at not in places and not (item.type == "IN" and at + 1 in places)
    ]
    word = segment[places[0]].lower()
    if word.startswith("both"):
        return kept
    first = 1 if kept and kept[0].type == "STAR" else 0
    name = {"b": "BLO", "f": "FLO"}.get(word[0], "3LO")
    return [*kept[:first], made("LOOPS", name, segment[places[0]]), *kept[first:]]


def _idle(segment: list, result: Normalised, inside: bool) -> list:
    """Take out words that make no stitch; note those that might be a stitch that isn't known."""
    segment = [
        _colour_or_ring(segment, at) if item.type == "COLOUR_OR_RING" else item for at, item in enumerate(segment)
    ]
    kinds = types(segment)
    idle = any(kind in IDLE for kind in kinds)
    acts = [
        at
        for at, kind in enumerate(kinds)
        if kind in KINDS or kind in ("BRACKET", "RING", "REPEAT", "REP_FROM", "EVEN")
    ]
    result.idle += idle
    kept = [item for item in segment if item.type in ("STAR", "STATED", "LOOPS", "TURN")]
    if not acts:
        if idle:
            strange = strange_words(segment, inside)
            result.doubtful += strange
            result.lost += strange if "NUM" in kinds else []
        return kept if idle else segment
    first = acts[0]
    if idle and kinds[0] in IDLE and kinds[first] in KINDS and first and kinds[first - 1] in (*WHERE, "IN"):
        return kept  # "change colour in the last sc"
    out: list = []
    at = 0
    while at < len(segment):
        item, after = segment[at], kinds[at + 1] if at + 1 < len(kinds) else ""
        if item.type == "IN" and (found := _aside(segment, at)):
            out += found[0]
            at = found[1]
        elif item.type == "NUM" and after == "WORD":
            at = _counted_words(segment, at, out, result)
        else:
            if item.type not in IDLE or item.type == "HOOK" and out and out[-1].type in ("CHAIN", "ST", "STITCH"):
                out.append(item)
            at += 1
    return out


def _colour_or_ring(segment: list, at: int) -> Token:
    """Tell what "mc" is: a magic circle, or the main colour."""
    near = types(segment[max(at - 1, 0) : at + 2])
    ring = {"IN", "NUM", "STITCH"} & set(near)
    return made("RING" if ring else "WORD", segment[at], segment[at])


def _aside(segment: list, at: int) -> tuple[list, int] | None:
    """Leave out "in pink", "on 4 mm hook"; return what is kept of it, and where the rest begins."""
    end = at + 1
    while end < len(segment) and segment[end].type in (*WHERE, "NUM", "WORD", "OTHER", "DECIMAL"):
        end += 1
    phrase = types(segment[at + 1 : end])
    noun = end < len(segment) and segment[end].type in ("ST", "STITCH", "CHAIN", "RING", "SPACE", "FILL")
    if "WORD" not in phrase or noun:
        return None
    keep = [one for one in segment[at + 1 : end] if one.type in WHERE and phrase[0] != "WORD"]
    return ([segment[at], *keep] if keep else []), end


def _counted_words(segment: list, at: int, out: list, result: Normalised) -> int:
    """Read a number with words behind it, "sc 6 A", "6 floofs"; return where the rest begins."""
    after = at + 1
    while after < len(segment) and segment[after].type == "WORD":
        after += 1
    if out and out[-1].type in KINDS:
        out.append(segment[at])  # "sc 6 A"
        return after
    if after >= len(segment) or segment[after].type not in KINDS:
        result.doubtful.append(segment[at + 1])
        return after
    out.append(segment[at])
    return at + 1


def strange_words(items: list, inside: bool) -> list[Token]:
    """Words that look like a stitch that isn't known: "crab 3", "6 floofs", or a word alone in a repeat."""
    items = [item for item in items if item.type not in ("STAR", "SEP", "STATED")]
    kinds = types(items)
    if any(item.type == "WORD" and item.lower() in ASIDE for item in items):
        return []
    if kinds in (["WORD", "NUM"], ["NUM", "WORD"], ["NUM", "WORD", "ST"]):
        return [items[kinds.index("WORD")]]
    codes = [item for item in items if item.type == "WORD"]
    if "NUM" in kinds and codes and set(kinds) <= {"WORD", "NUM", "DASH"} and all(len(item) < 3 for item in codes):
        return [codes[0]]  # "V4 a V6"
    placed = kinds[:1] == ["WORD"] and kinds.count("WORD") == 1 and set(kinds[1:]) <= {"IN", "ST", *WHERE}
    if (
        placed
        and kinds[-1] == "ST"
        and not items[0].lower().endswith(("ing", "er"))
        and items[0].lower() not in HARMLESS
    ):
        return [items[0]]  # "shell in next st"
    return [items[0]] if inside and kinds == ["WORD"] else []
