"""Everyday wordings, said again in the words that the grammar knows.

Each rule is one habit of writing: what is looked for, what stands there for the
grammar, and an example of both, which is also its test. A rule works on one line
and never on the meaning of a round; where two meanings are possible, that is
settled later, by the numbers. The text may grow shorter or longer: every sign
remembers where it stood, so that lines and columns stay those of the maker's text.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

__all__ = ["DEFINITION", "RULES", "Reworded", "Rule", "own_lines", "reword", "say_letters"]


@dataclass(frozen=True)
class Rule:
    """One habit of writing.

    Parameters
    ----------
    name : str
        What it is about.
    pattern : re.Pattern
        What is looked for; it never runs over the end of a line.
    said : str or callable
        What stands there instead, as for :func:`re.sub`.
    example, becomes : str
        A text with it, and the same reworded by this rule alone.
    """

    name: str
    pattern: re.Pattern
    said: str | Callable[[re.Match], str]
    example: str
    becomes: str


class Reworded:
    """A text in other words, each sign of which knows where it stood.

    Parameters
    ----------
    text : str
        The text to begin with.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self._origins: list[int] | None = None
        self._length = len(text)

    def origin(self, at: int) -> int:
        """Place in the first text of a place in the reworded one."""
        if self._origins is None:
            return at
        return self._origins[at] if at < len(self._origins) else self._length

    def apply(self, pattern: re.Pattern, said: str | Callable[[re.Match], str]) -> None:
        """Reword every place that a pattern finds."""
        found = list(pattern.finditer(self.text))
        if found:
            self.replace([(*one.span(), said(one) if callable(said) else one.expand(said)) for one in found])

    def replace(self, changes: Sequence[tuple[int, int, str]]) -> None:
        """Put other words into places (begin, end, words), in order and apart from each other."""
        at, parts, origins = 0, [], []
        for begin, end, new in changes:
            if new == self.text[begin:end]:
                continue
            stood = self._origins = self._origins if self._origins is not None else list(range(self._length))
            parts += [self.text[at:begin], new]
            origins += stood[at:begin]
            # Signs beyond the old ones stand where the last of them stood.
            own = stood[begin:end] or [self.origin(begin)]
            origins += own[: len(new)] + own[-1:] * (len(new) - len(own))
            at = end
        if parts and self._origins is not None:
            origins += self._origins[at:]
            self.text = "".join(parts) + self.text[at:]
            self._origins = origins


# ------------------------------------------------------------------ parts of patterns

#: A stitch by name, in US or UK terms.
_STITCH = (
    r"(?:(?:half[ -]?)?(?:double|treble)[ ]crochets?|single[ ]crochets?|half[ -]?trebles?|trebles?|"
    r"(?:sc|hdc|dc|tr|htr|dtr)s?)"
)
_ST = rf"(?:sts?\b\.?|stitch(?:es)?\b|{_STITCH}\b)"
#: A part of a toy that a round is worked across where it is joined to another.
_LIMB = (
    r"(?:the[ ])?(?:(?:first|second|other|next|1st|2nd|left|right|one)[ ])?(?:legs?|ears?|arms?|feet|foot)\b"
    r"(?:[ ](?:1|2|one|two|a|b)\b)?"
)
_RND = r"(?:rounds?|rnds?|rds?)\b\.?"
_TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80,
    "ninety": 90,
}  # fmt: skip
_ONES = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10,
    "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17,
    "eighteen": 18, "nineteen": 19,
}  # fmt: skip
_BELOW_HUNDRED = (
    rf"(?:(?:{'|'.join(_TENS)})(?:[ -](?:{'|'.join(list(_ONES)[:9])})\b)?"
    rf"|(?:{'|'.join(reversed(_ONES))}))"
)


def _number(found: re.Match) -> str:
    total = 0
    for word in re.split(r"[ -]", found.group().lower()):
        if word == "hundred":
            total = max(total, 1) * 100
        else:
            total += _TENS.get(word, 0) + _ONES.get(word, 0)
    return str(total)


#: Letters of charts in a row of text (common practice in East Asian patterns, from memory).
_LETTERS = {"X": "sc", "V": "inc", "A": "dec", "W": "3 sc in next st", "M": "sc3tog", "T": "hdc", "F": "dc"}


def _letters(found: re.Match) -> str:
    """A row of single letters, X for sc and V for inc, where no other stitch is named; "X 6" says times."""

    def said(one: re.Match) -> str:
        name = _LETTERS[one[2]]
        return f"{one[1]}{' ' if one[1] else ''}{name}"

    return re.sub(
        r"(?<![A-Za-z])(\d*)(?<![A-Za-z])([XVAWMTF])(?![A-Za-z])(?![ ]?\d|[ ]?[(\[][^)\]]*[XVA])", said, found.group()
    )


def _by_numbers(found: re.Match) -> str:
    """So many increases or decreases as stitches are named; where they stand is left to the maker."""
    return f"{found[1]} {len(re.findall(r'first|[0-9]+', found['list']))} evenly"


def _blank(found: re.Match) -> str:
    """Nothing, but for the comma or stop that ended it."""
    return " "


def _remain(found: re.Match) -> str:
    """What "until 3 sts remain" says: how far, where more is worked behind it, else what is left in all."""
    line = found.string
    end = line.find("\n", found.end())
    rest = line[found.end() : end if end >= 0 else len(line)]
    ahead = line[max(0, found.start() - 40) : found.start()]
    goes_on = re.match(
        r"[ ]*[,;.]?[ ]*(?:and |then |work |\d+ ?)*(?:[\w-]*(?:sc|hdc|dc|tr|inc|dec|tog|sl ?st|ch)\b|\d)",
        rest,
        re.IGNORECASE,
    )
    if re.search(r"\b(?:dec\w*|tog\w*|repeat\w*|rep|continue)\b|tog", ahead, re.IGNORECASE) and not goes_on:
        return f" [{found['n']}]"
    return f"to last {found['n']} sts"


def _rule(name: str, pattern: str, said, example: str, becomes: str) -> Rule:
    return Rule(name, re.compile(pattern, re.IGNORECASE | re.MULTILINE), said, example, becomes)


_N = r"(?P<n>\d{1,5})"

#: Bobbles by their short names.
_BOBBLES = {"cl": "cluster", "pc": "popcorn", "bo": "bobble"}

#: Every habit, in the order in which they are undone.
RULES: tuple[Rule, ...] = (
    # Numbers
    _rule(
        "number words above twelve",
        rf"\b(?:a|one|two|three|four|five|six|seven|eight|nine)[ ]hundred(?:(?:[ ]and)?[ ]{_BELOW_HUNDRED})?\b"
        rf"|\b(?:(?:{'|'.join(_TENS)})(?:[ -](?:{'|'.join(list(_ONES)[:9])}))?|(?:{'|'.join(list(_ONES)[12:])}))\b",
        _number,
        "Sixteen stitches, then twenty-four",
        "16 stitches, then 24",
    ),
    # Stitches
    _rule(
        "stitches by single letters",
        r"^(?=[^\n]*(?-i:(?<![A-Za-z])[XV](?![A-Za-z])))(?![^\n]*\b(?:sc|inc|dec|hdc|dc|dec|sts?)\b)[^\n]*$",
        _letters,
        "R3: (X, V)*6 [18]",
        "R3: (sc, inc)*6 [18]",
    ),
    _rule(
        "a stitch and its shaping in one word",
        r"\b(sc|hdc|dc|tr|htr)[-_.]?(inc|dec)(s?)\b",
        r"\1 \2\3",
        "scinc x 6, hdc-dec",
        "sc inc x 6, hdc dec",
    ),
    _rule(
        "foundation stitches",
        r"\b(?:f(sc|hdc|dc)|foundation[ ](sc|hdc|dc|single crochet|half double crochet"
        r"|double crochet))s?\b(?:[ ]sts?\b)?",
        lambda found: f"{found[1] or found[2]} in ring",
        "work 24 fsc, join",
        "work 24 sc in ring, join",
    ),
    _rule(
        "foundation stitches with their number behind",
        r"\b(sc|hdc|dc|(?:single|half[ ]double|double)[ ]crochet)s?[ ]in[ ]ring[ ](\d+)",
        r"\2 \1 in ring",
        "sc in ring 40, join",
        "40 sc in ring, join",
    ),
    _rule(
        "increases named by their stitches",
        r"\b(sc|hdc|dc|tr|htr|dtr)2inc\b",
        r"\1 inc",
        "(1 dc, dc2inc) x 6",
        "(1 dc, dc inc) x 6",
    ),
    _rule(
        "worked round a post",
        r"\baround[ ](?:the[ ])?(?:posts?[ ]of[ ])?(?:the[ ])?(?=(?:next|each|same|first|every)\b)",
        "in ",
        "FPdc around next st",
        "FPdc in next st",
    ),
    _rule(
        "a repeat that says where behind how often",
        r"([)\]])[ ]?(?:x[ ]?)?(\d+)(?:[ ]times)?[ ](in(?:to)?[ ](?:the[ ])?(?:magic[ ])?(?:ring|circle|loop|mr))\b",
        r"\1 \3 x \2",
        "(sc, ch 3) x 12 in ring",
        "(sc, ch 3) in ring x 12",
    ),
    _rule(
        "where ahead of what",
        r"(?<![a-z0-9][ ])\bin(?:to)?[ ](?:the[ ])?((?:2nd|second|3rd|third)[ ](?:ch|chain)[ ]from[ ]"
        r"(?:the[ ])?hook)[ ]?[:,][ ]?(?:work[ ])?(\d+[ ]?[a-z]+)\b",
        r"\2 in \1",
        "In 2nd ch from hook: 1 sc, sc 3",
        "1 sc in 2nd ch from hook, sc 3",
    ),
    _rule(
        "rounds without shaping",
        r"\b(?:(?:now[ ])?(?:crochet|work|do|make)[ ])?(?P<n>\d+|one|two|three|four|five|six|seven"
        r"|eight|nine|ten|eleven|twelve)[ ](?:more[ ])?(?:even[ ]|plain[ ]|straight[ ])?"
        rf"{_RND}[ ](?:straight|even|plain|evenly|as[ ]is|without[ ](?:any[ ])?(?:inc\w*|dec\w*"
        rf"|shaping))\b(?:[ ]or[ ](?:inc|dec)\w*)?",
        r"work even for \g<n> rounds",
        "Crochet 3 rounds straight (30)",
        "work even for 3 rounds (30)",
    ),
    _rule(
        "rounds without shaping, said ahead",
        r"\b(?:(?:now[ ])?(?:crochet|work|do|make)[ ])?(?P<n>\d+|one|two|three|four|five|six|seven"
        r"|eight|nine|ten|eleven|twelve)[ ](?:even|plain|straight)[ ]"
        rf"{_RND}",
        r"work even for \g<n> rounds",
        "then 3 plain rounds",
        "then work even for 3 rounds",
    ),
    _rule(
        "shaping that is announced",
        r"\b(?:(?:keep|continue|start|begin)[ ](?:to[ ])?(?:inc|dec)(?:rease|reasing)|(?:inc"
        r"|dec)rease[ ]by[ ](?:working|making))[ ]?(?=[:(\[])",
        _blank,
        "keep decreasing (sc 4, dec) x 6",
        " (sc 4, dec) x 6",
    ),
    _rule(
        "stitches that are doubled",
        r"\bdouble[ ](each|every|all)(?=[ ](?:(?:\d+(?:st|nd|rd|th)|second|third|fourth|fifth|sixth|other|the)[ ])?st)",
        r"inc in \1",
        "double every 2nd st (24)",
        "inc in every 2nd st (24)",
    ),
    _rule(
        "one, and two in one",
        r"(?<=[(\[*])[ ]?(?:1[ ])?(sc|hdc|dc|tr),[ ]2[ ]\1[ ]?(?=[)\]*])",
        r"1 \1, 2 \1 in next st",
        "[hdc, 2 hdc] around",
        "[1 hdc, 2 hdc in next st] around",
    ),
    _rule(
        "a number and a stop ahead of the round's name",
        rf"^([ ]*)(\d+)\.(?:[ ]?-[ ]?(\d+)\.)?[ ]?({_RND})[ ]?[:.-]",
        lambda found: f"{found[1]}Rnd {found[2]}{'-' + found[3] if found[3] else ''}:",
        "5.-8. Rnd: sc (32)",
        "Rnd 5-8: sc (32)",
    ),
    _rule(
        "so many to a stitch, by a stroke",
        r"(?<=[:,(*\[][ ])(\d+[ ]?(?:sc|hdc|dc|tr))/(?:st|stitch)\b",
        r"\1 in each st",
        "R2: 2sc/st (14)",
        "R2: 2sc in each st (14)",
    ),
    _rule(
        "how often is shaped, said ahead",
        r"(?<=[:.][ ])(?:inc|dec)(?:rease)?[ ]\d+[ ](?:times|sts|stitches)(?:[ ]evenly)?:[ ](?=[(\[*])",
        _blank,
        "R3: increase 7 times: (sc, inc) x 7",
        "R3:  (sc, inc) x 7",
    ),
    _rule(
        "stitches by main and contrast colour alone",
        r"(?<=[,(*\[:])([ ]?\d+)[ ](?:mc|cc\d?)(?=[ ]?[,)\]*])",
        r"\1 sc",
        "R10: *3 MC, 1 CC* x 7",
        "R10: *3 sc, 1 sc* x 7",
    ),
    _rule(
        "all of it so many times",
        r",[ ]all(?:[ ]of[ ](?:this|that|it))?[ ](?=x[ ]?\d|\d+[ ]?x\b|\d+[ ]times)",
        ", repeat ",
        "sc x 4, inc x 1, all x 6",
        "sc x 4, inc x 1, repeat x 6",
    ),
    _rule(
        "the same place as another stitch",
        r"\b(in(?:to)?[ ])(?:the[ ])?(?:very[ ])?same[ ](?:st(?:itch)?|ch(?:ain)?|sp(?:ace)?|place)[ ]as[ ]"
        rf"(?:(?:the|your|very)[ ])*(?:first|1st|last|previous|prev)[ ]{_ST}",
        r"\1same st",
        "5 sc, 2 sc in the same ch as the first sc",
        "5 sc, 2 sc in same st",
    ),
    _rule(
        "so many times some in one",
        r"(?<=[:,(\[*][ ])(\d+)[ ]?x[ ](\d[ ](?:sc|hdc|dc|tr))[ ]in[ ](?:the[ ])?(?:1|one|same|next|each)[ ]sts?\b",
        r"(\2 in next st) x \1",
        "Rnd 2: 6 x 2 sc in 1 st (12)",
        "Rnd 2: (2 sc in next st) x 6 (12)",
    ),
    _rule(
        "a total with its spaces behind the join",
        rf"(?<=[.;][ ])(\d+)[ ]{_STITCH}(?:,[ ]and|,|[ ]and)[ ]\d+[ ]ch-?\d*[ -]?(?:sps?|spaces?|lps?|loops?)\b\.?"
        r"(?=[ ]*$)",
        r"[\1]",
        "join. 32 dc, 16 ch-1 sps",
        "join. [32]",
    ),
    _rule(
        "an ordinal by its dot",
        r"\b(in(?:to)?|to)[ ](the[ ])?(\d)\.[ ](?=(?:ch|chain|st|sc|hdc|dc|tr)\b)",
        r"\1 \2\3th ",
        "sl st in 3. ch",
        "sl st in 3th ch",
    ),
    _rule(
        "how often and the total in one bracket",
        r"[(\[](?:repeat|rep)[ ](x[ ]?\d+|\d+[ ]?x|\d+[ ]times),[ ](\d+)[ ](?:sts|stitches)(?:[ ]total)?[)\]]",
        r"repeat \1 [\2]",
        "2 sc, 1 inc (repeat 6 times, 24 stitches)",
        "2 sc, 1 inc repeat 6 times [24]",
    ),
    _rule(
        "so many each",
        r"\b((?:[7-9]|\d{2,4})[ ](?:sc|hdc|dc|tr)s?)[ ]each(?:[ ](?:round|rnd))?\b(?=[ ]*(?:[.,;(\[]|$))",
        r"\1",
        "R7-10: 36 sc each",
        "R7-10: 36 sc",
    ),
    _rule(
        "into the foot of a chain",
        r"\bin(?:to)?[ ](?:the[ ])?(?:base|bottom|foot)[ ]of[ ](?:the[ ])?(?:(?:beg"
        r"(?:inning)?|first|starting|same)[ ])?"
        r"(?:ch(?:ain)?)\b(?:[ ]?-?[ ]?\d)?",
        "in same st",
        "3 ch, 1 tr in base of ch, 2 tr in each st",
        "3 ch, 1 tr in same st, 2 tr in each st",
    ),
    _rule(
        "yarn that is joined",
        r"\b(?:re-?)?(?:attach|join)[ ](?:the[ ])?(?:new[ ]|working[ ])*(?:yarn|colou?r[ ]\w+|[A-H])(?:[ ][A-H])?"
        r"(?:[ ]to[ ][^,.;()\n]{1,30}?)?[ ]with[ ](?:a[ ])?(?:sl[ ]?st|slip[ ]stitch|ss)\b(?:[ ](?:in|to)"
        r"[ ][^,.;()\n]{1,30})?",
        _blank,
        "attach yarn with sl st, ch 1, sc 40",
        " , ch 1, sc 40",
    ),
    _rule(
        "each stitch that gets so many",
        r"\b(each|every)[ ](st|stitch)[ ](?:gets|receives|takes)[ ](\d+[ ](?:sc|hdc|dc|tr))\b",
        r"\3 in \1 \2",
        "each st gets 2 sc (16)",
        "2 sc in each st (16)",
    ),
    _rule(
        "as far as the marker",
        r"\b(?:un)?til(?:l)?[ ](?:you[ ])?(?:reach|get[ ](?:back[ ])?to|come[ ](?:back[ ])?to|are[ ]back[ ]at)[ ]"
        r"(?:the[ ]|your[ ])?(?:markers?|start|beginning|first[ ]st(?:itch)?)\b(?:[ ]again\b)?",
        "around",
        "sc in every st until you reach the marker",
        "sc in every st around",
    ),
    _rule(
        "evenly said ahead",
        r"\bevenly[ ](inc|dec)(?:r?(?:ease|easing)?)?[ ](?:by[ ])?(\d+)\b",
        r"\1 \2 evenly",
        "work 24 sc, evenly increasing 6 (30)",
        "work 24 sc, inc 6 evenly (30)",
    ),
    _rule(
        "a remark behind the total",
        r"(?<=\d[)\]])[ ](?=(?-i:[A-Z][a-z]+)[ ](?:the|a|an|your|to|in|up|for|with|eyes|and)\b)",
        ". ",
        "(dec, 3 sc)x6 (24) Put the eyes between rnd 6 and 7",
        "(dec, 3 sc)x6 (24). Put the eyes between rnd 6 and 7",
    ),
    _rule(
        "the same once more",
        rf"^([ ]*(?:{_RND}|r)[ ]?(?P<n>\d+)(?:-\d+)?[ ]?[:.)-]+[ ]*)(?:same|ditto|idem|likewise|as[ ]"
        rf"(?:above|before)|same[ ]as[ ](?:above|before|previous|last))(?:[ ]{_RND})?(?=[ ]*(?:[(\[.]|$))",
        lambda found: f"{found[1]}repeat Rnd {int(found['n']) - 1}",
        "R12: same (30)",
        "R12: repeat Rnd 11 (30)",
    ),
    _rule(
        "a round that is repeated for others",
        rf"^([ ]*)(?:repeat|rep|work)[ ]((?:{_RND}|r)[ ]?\d+)[ ](?:for|in)[ ]((?:{_RND}|r)[ ]?\d+(?:[ ]?"
        rf"(?:-|to|through|and|&|,)[ ]?(?:r[ ]?)?\d+)*)",
        r"\1\3: repeat \2",
        "Repeat round 6 for rounds 7-9 (36)",
        "rounds 7-9: repeat round 6 (36)",
    ),
    _rule(
        "a total with its stitches in brackets",
        rf"^([ ]*(?:{_RND}|r)[ ]?\d+[ ]?[:.)-]+[ ]*)(\d+)[ ](?:(?:{_ST}[ ])?(?:in[ ])?total,?[ ]?"
        rf"(?=[(\[])|{_ST}[ ](?=[(\[]\d[ ]in[ ]))[(\[]((?:\d+[ ])?(?:inc|dec|sc|hdc|dc|in)\b[^()\[\]\n]*)[)\]]",
        r"\1\3 [\2]",
        "Rnd 2: 12 sc total (2 in each stitch)",
        "Rnd 2: 2 in each stitch [12]",
    ),
    _rule(
        "columns with blanks",
        r"^([ ]*)(\d{1,3})[ ]{2,}(?=[^\s\d][^\n]*[a-z]|\d+[ ]?[a-z])",
        r"\1Rnd \2: ",
        "4    (2 sc, inc) x6     24",
        "Rnd 4: (2 sc, inc) x6     24",
    ),
    _rule(
        "joined with a stitch",
        r"\bjoin(?:ing)?\b[^,.;:()\n]{1,40}?\bwith[ ](?:an?[ ])?(?:standing[ ])?(sc|hdc|dc|tr|htr|dtr)\b",
        r"join with \1",
        "join color B with a standing dc in any st",
        "join with dc in any st",
    ),
    _rule(
        "bobbles by their short names alone",
        r"(?<=[,(*:][ ])(bo|pc|cl)(?=[ ]?(?:[,.;)*(\[]|$|in[ ]|x[ ]?\d))",
        lambda found: _BOBBLES[found[1].lower()],
        "sc 10, bo, sc 19",
        "sc 10, bobble, sc 19",
    ),
    _rule(
        "two in one, by a hyphen",
        r"\b2[ -]?(sc|hdc|dc|tr)-inc\b",
        r"\1 inc",
        "(1 sc, 2sc-inc) x 6",
        "(1 sc, sc inc) x 6",
    ),
    _rule(
        "each stitch named ahead",
        r"(?:(?<=^)|(?<=[:,.;(*\[][ ])|(?<=[:*(\[]))in(?:to)?[ ](?:the[ ])?(each|every|all|next|same)[ ]"
        r"(sts?|stitch(?:es)?|sc|hdc|dc)(?:[ ]around)?[ ]?[:,]?[ ](?:work[ ]|crochet[ ]|make[ ])*"
        r"((?:\d+|one|two|three)[ ](?:sc|hdc|dc|tr|htr|dtr)|(?:sc|hdc|dc|inc|dec)(?![ ]\d))\b(?:[ ]work\b)?",
        r"\3 in \1 \2",
        "Rnd 2: in each st work 2 sc",
        "Rnd 2: 2 sc in each st",
    ),
    _rule(
        "so many times two in one",
        r"(?<=[:,(\[][ ])(\d+)[ ]?x[ ]?2[ ](sc|hdc|dc|tr)(?=[ ]*(?:[,.;(\[=-]|$))",
        r"(2 \2 in next st) x \1",
        "Rnd 2: 8 x 2 hdc (16)",
        "Rnd 2: (2 hdc in next st) x 8 (16)",
    ),
    _rule(
        "by how many a round grows",
        r"[(\[][ ]?[+-][ ]?\d{1,3}(?:[ ]?(?:sts?|stitches|inc|dec))?[ ]?[)\]]",
        _blank,
        "R2: inc x 6 (12) (+6)",
        "R2: inc x 6 (12)  ",
    ),
    _rule(
        "the first and the last",
        r"\b(inc|dec)(?:rease)?[ ]in[ ](?:the[ ])?first[ ](?:sts?[ ])?and[ ](?:in[ ])?(?:the[ ])?last(?:[ ]"
        r"(?:sts?|stitch(?:es)?))?\b",
        r"\1 2 evenly",
        "inc in first and last st (42)",
        "inc 2 evenly (42)",
    ),
    _rule(
        "bobbles named by their stitches",
        r"\b(?:(\d+)[ ](?:x[ ])?)?\d[ -]?(?:sc|hdc|dc|tr|htr|dtr)?[ -]?(bobbles?|puffs?|popcorns?"
        r"|clusters?|cl|pc|bo)\b(?:[ ]?sts?\b)?",
        lambda found: f"{found[1] + ' ' if found[1] else ''}{_BOBBLES.get(found[2].lower(), found[2])}",
        "5-dc popcorn in next st, 2 3dc-cl",
        "popcorn in next st, 2 cluster",
    ),
    _rule(
        "how many shells that makes",
        r"[(\[]\d+[ ](?:v[ -]?st(?:itche)?s?|shells?|arches|arcs|fans?|petals?|scallops?|points?"
        r"|picots?|corners?)(?:[ ](?:made|total))?[)\]]",
        _blank,
        "*V-st in next st, sk 1* around (12 V-sts)",
        "*V-st in next st, sk 1* around  ",
    ),
    _rule(
        "V-stitches",
        r"\bv[ -]?st(?:itch)?\b(?:[ ]?\([^()\n]{1,40}\))?",
        "(dc, ch 1, dc)",
        "V-st in next st, sk 1",
        "(dc, ch 1, dc) in next st, sk 1",
    ),
    # Totals
    _rule(
        "a count with its name ahead",
        rf"(?:\b(?:total[ ])?(?:st(?:itch)?(?:es)?[ ]?(?:count|total)|sts|stitches)|\btotal(?:[ ](?:number[ ]of[ ])?"
        rf"(?:sts|stitches))?|\bcount)[ ]?(?:is[ ]|[:=]|-(?=[ ]))[ ]?{_N}(?:[ ]{_ST})?(?![\w,]|[ ]?[x(*])",
        r"[\g<n>]",
        "(sc 2, inc) x 6. St count: 24",
        "(sc 2, inc) x 6. [24]",
    ),
    _rule(
        "what the maker has now",
        rf"(?<!til )(?<!ntil )(?:\b(?:so|and|then)[ ])?\b(?:you(?:'ll|'ve)?|there|this|which|it)[ ]"
        rf"(?:should[ ]|will[ ]"
        rf"|now[ ]|shall[ ]|must[ ])*"
        rf"(?:have|get|are|be|is|makes|gives|leaves|end[ ]up[ ]with|got)(?:[ ]you)?(?:[ ]now)?(?:[ ]a)?"
        rf"(?:[ ]total[ ]of)?[ ]"
        rf"{_N}(?:[ ]{_ST})?(?:[ ](?:in[ ]total|total|altogether|left|now|remain\w*|around|made|in[ ]"
        rf"(?:the|this)[ ]{_RND}))*"
        r"(?![\w-]|[ ]?[x(*]|,[ ]\d)",
        r"[\g<n>]",
        "2 sc in each st. You should now have 12 sts.",
        "2 sc in each st. [12]",
    ),
    _rule(
        "what a round comes to",
        rf"\b(?:(?:giving|making|leaving|ending[ ]with|ends[ ]with|end[ ]with|resulting[ ]in"
        rf"|bringing[ ]you[ ]to|to[ ]make|to[ ]give)"
        rf"(?:[ ]you)?(?:[ ]a)?(?:[ ]total[ ]of)?|for[ ]a[ ]total[ ]of|total[ ]of)[ ]{_N}[ ]?{_ST}"
        r"(?:[ ](?:in[ ]total|total|altogether|left|now|remain\w*))*(?![\w-]|[ ]?(?:unworked|free|open"
        r"|un|before|for|to[ ]be))",
        r"[\g<n>]",
        "(sc 2, dec) x 6, leaving 18 sts.",
        "(sc 2, dec) x 6, [18]",
    ),
    _rule(
        "a total of two parts",
        r"(?<==)[ ]?(?P<n>\d{1,4})[ ]?\+[ ]?(?P<more>\d{1,4})(?:[ ]?=[ ]?\d+)?(?=[ ]*(?:sts?|stitch"
        r"(?:es)?)?\.?[ ]*(?:$|[)\]]))",
        lambda found: f" {int(found['n']) + int(found['more'])}",
        "sc 12, ch 3, sc 12, = 24 + 6",
        "sc 12, ch 3, sc 12, = 30",
    ),
    _rule(
        "a total with its chains",
        r"[(\[](?P<n>\d{1,5})(?:[ ]sts?)?,?[ ](?:including|incl\.?|counting|with)[ ](?:the[ ])?(?:ch"
        r"|chains?|ch[ ]sps?|chain[ ]spaces)\b[^()\[\]\n]{0,20}[)\]]",
        r"[\g<n>]",
        "sc 6, ch 6, sk 6, sc 6 (18 including ch)",
        "sc 6, ch 6, sk 6, sc 6 [18]",
    ),
    _rule(
        "shaping to a total",
        r"\b(inc|dec)(?:r?(?:ease|easing|eas))?[ ](?:evenly[ ])?to[ ](\d+)(?:[ ](?:sts?|stitches))?"
        r"(?:[ ](?:evenly|spaced|around|in[ ]total))*",
        r"\1 evenly [\2]",
        "increase to 42 sts evenly spaced",
        "inc evenly [42]",
    ),
    # How far
    _rule(
        "until some stitches remain",
        rf"\b(?:un)?til(?:l)?[ ](?:there[ ](?:are|is)[ ])?(?:only[ ])?{_N}[ ](?:{_ST}[ ])?(?:are[ ]"
        rf"|is[ ])?(?:remain(?:s|ing)?|left)\b"
        rf"(?:[ ](?:in[ ](?:the[ ])?{_RND}|unworked))?",
        _remain,
        "sc until 3 sts remain, sc3tog",
        "sc to last 3 sts, sc3tog",
    ),
    _rule(
        "so far from the marker or the end",
        rf"(?:,[ ])?\b(?:(?:until|till|to|ending|stopping|stop)[ ])(?:within[ ])?(?:you[ ]are[ ])?"
        rf"(?:the[ ]last[ ])?{_N}[ ]{_ST}[ ]?"
        rf"(?:before|from|short[ ]of|of|ahead[ ]of)[ ](?:the[ ])?(?:end|marker|marked|start|beginning|m|beg)\b\.?"
        rf"(?:[ ]st(?:itch)?\b)?(?:[ ]of[ ](?:the[ ])?{_RND})?",
        r" to last \g<n> sts",
        "sc around, ending 2 sts before marker, inc",
        "sc around to last 2 sts, inc",
    ),
    _rule(
        "once round a part that is joined",
        rf"\b(?P<st>{_STITCH})[ ](?:in[ ]each[ ]st(?:itch)?[ ])?(?:all[ ])?(?:around|across|along|of|on"
        rf"|over)[ ]{_LIMB}[ ]?[(\[](?P<n>\d+)(?:[ ]{_ST})?[)\]]",
        r"\g<st> \g<n>",
        "sc around leg 1 (12), ch 3",
        "sc 12, ch 3",
    ),
    _rule(
        "stitches of a part that is joined",
        rf"(?<=[\w)])[ ](?:around|across|along|of|on|over|into|in)[ ]{_LIMB}(?![ ]?[(\[]\d)",
        " ",
        "sc 12 on the first leg, ch 3",
        "sc 12 , ch 3",
    ),
    _rule(
        "and in the next",
        r"\b(sc|hdc|dc|tr)[ ]in[ ]([^,;.()\n]{1,30}?)[ ]and[ ](?:in[ ])?(?=(?:the[ ]|each[ ]of[ ](?:the"
        r"[ ])?)?(?:next|each|last|first)\b)",
        r"\1 in \2, \1 in ",
        "sc in 2nd ch from hook and in next 8 ch",
        "sc in 2nd ch from hook, sc in next 8 ch",
    ),
    _rule(
        "stitches by colours alone",
        r"(?<![a-z])(?<![a-z][ ])\b(\d+)([A-H])(?=[ ]?[,;)(.]|[ ]*$)",
        r"\1 sc",
        "10A, 4B, 22A (36)",
        "10 sc, 4 sc, 22 sc (36)",
    ),
    _rule(
        "a colour in brackets",
        r"(?<=[\w)])[ ]?[(\[][A-H][)\]][ ]?:?",
        ",",
        "18 sc (A), 18 sc (B): 18 sc",
        "18 sc,, 18 sc, 18 sc",
    ),
    # Remarks
    _rule(
        "increases or decreases that were counted",
        r"\b\d+[ ](?:inc|dec)(?:r?(?:rease)?s?)?\b\.?[ ](?:(?:were|are|have[ ]been)[ ])?(?:made|done"
        r"|worked|in[ ]total|total)\b",
        _blank,
        "(sc 4, dec) x 6. 6 decreases made (30)",
        "(sc 4, dec) x 6.   (30)",
    ),
    _rule(
        "by how many a round has grown",
        rf"\b(?:you[ ](?:have|will[ ]have|should[ ]have)|you've|we[ ]have)[ ]?(?:now[ ])?(?:inc"
        rf"|dec)reased[ ](?:by[ ])?\d+(?:[ ]{_ST})?",
        _blank,
        "inc x 6. You have increased by 6 sts (12)",
        "inc x 6.   (12)",
    ),
    _rule(
        "markers",
        r"\b(?:place|placing|put|putting|move|moving|add|adding|insert|attach|pm|use|keep)\b(?:[ ](?:a"
        r"|the|your|one|another|stitch|st))*"
        rf"[ ]?(?:stitch[ ])?(?:markers?|pm)\b(?:[ ](?:up|in|into|on|at|to|for|after|before|the|this"
        rf"|first|last|next|each|every|{_ST}"
        rf"|beginning|start|of|{_RND}|here|also|#?\d+(?:st|nd|rd|th)?(?:[ ]?(?:,|&|and|-|to)[ ]?"
        rf"(?:and[ ])?\d+(?:st|nd|rd|th)?)*))*",
        _blank,
        "sc around, place a marker in sts 5, 10, 15 and 20 (24)",
        "sc around,   (24)",
    ),
    _rule(
        "the far side of a chain",
        r"\b(?:(?:now[ ])?(?:work(?:ing)?|turn(?:ing)?|rotat(?:e|ing)|continu(?:e|ing)|go"
        r"(?:ing)?)[ ])?(?:(?:work|and|to|along|on|in|into|down|up|across|over|the|work[ ])[ ])*"
        r"(?:other|opposite|bottom|second|back|far|unused|remaining|free)[ ](?:sides?|loops?|edge)"
        r"(?:[ ]of[ ](?:the[ ])?(?:(?:starting|foundation|beginning|beg|found)[ ])?(?:chains?|ch))?\b",
        _blank,
        "3 sc in last ch, working on the other side of the chain, sc 3",
        "3 sc in last ch,  , sc 3",
    ),
    _rule(
        "stitches that were gained or lost",
        rf"\b\d+[ ](?:{_ST}[ ])(?:were[ ]|are[ ])?(?:in|de)creased\b|\b(?:in|de)creased[ ](?:by[ ])?\d+(?:[ ]{_ST})",
        _blank,
        "(sc 4, dec) x 6. 6 sts decreased. (30)",
        "(sc 4, dec) x 6.  . (30)",
    ),
    _rule(
        "how many increases that makes",
        r"\b(?:so|thus|that[ ]is|that's|this[ ]is|meaning)[ ]\d+[ ](?:inc|dec)(?:r?(?:rease)?s?)\b|"
        r"(?<=\d[ ])[(\[]\+?\d+[ ](?:inc|dec)(?:r?(?:rease)?s?)[)\]]",
        _blank,
        "inc in every 4th st, so 6 increases, [30 (6 increases)]",
        "inc in every 4th st,  , [30  ]",
    ),
    _rule(
        "no shaping",
        r"\b(?:no|without(?:[ ]any)?)[ ](?:inc\w*|dec\w*|shaping)\b\.?(?:[ ](?:or|and)[ ](?:inc|dec)\w*\b\.?)?",
        ",",
        "no inc. 24 sc",
        ", 24 sc",
    ),
    _rule(
        "shaping that is spread evenly",
        r"\b(\d+)[ ](?:evenly[ -]spaced|evenly[ -]spread|equally[ -]spaced)[ ](inc|dec)(?:r?(?:rease)?s?)\b",
        r"\2 \1 evenly",
        "sc around making 6 evenly spaced increases",
        "sc around making inc 6 evenly",
    ),
    _rule(
        "which stitches a decrease joins",
        r"\bover[ ](?:the[ ])?sts?[ ]\d+[ ]?(?:and|&|-|to)[ ]?\d+\b",
        _blank,
        "dec over sts 1 and 2, sc 28",
        "dec  , sc 28",
    ),
    _rule(
        "a chain that is the first stitch",
        r"[(\[](?:is[ ]|=[ ]?|equals[ ]|as[ ]|this[ ]is[ ])?(?:the[ ]|your[ ])?(?:first|1st|1\.)[ ](sc|hdc"
        r"|dc|tr|htr|dtr)[)\]]",
        r"(counts as \1)",
        "ch 3 (first dc), dc in each remaining st",
        "ch 3 (counts as dc), dc in each remaining st",
    ),
    _rule(
        "how often, close to its stitch",
        r"\b(sc|hdc|dc|tr|htr|dtr|inc|dec)x(\d+)\b",
        r"\1 x \2",
        "(scx4, incx1) x 6",
        "(sc x 4, inc x 1) x 6",
    ),
    _rule(
        "so many more rounds",
        rf"\b(\d+|one|two|three|four|five|six|seven|eight|nine|ten|twelve)[ ]more[ ]({_RND})",
        r"\1 \2",
        "Do 3 more rounds of 30 sc",
        "Do 3 rounds of 30 sc",
    ),
    _rule(
        "two stitches that are joined each time",
        r"\bevery[ ](\d+)(st|nd|rd|th)[ ]and[ ](\d+)(st|nd|rd|th)[ ]st(?:itch)?[ ]tog(?:ether)?\b",
        r"dec every \1\2 and \3\4 st",
        "Every 4th and 5th stitch together",
        "dec every 4th and 5th st",
    ),
    # Names of rounds
    _rule(
        "brackets behind both ends of a range",
        r"^([ ]*r[ ]?\d+)\)[ ]?-[ ]?r?[ ]?(\d+)\)",
        r"\1-\2:",
        "R4)-R10) sc around",
        "R4-10: sc around",
    ),
    _rule(
        "shortened words",
        r"\b(?:ea|arnd|ard)\b\.?",
        lambda found: "each" if found.group().lower().startswith("ea") else "around",
        "sc in ea st arnd",
        "sc in each st around",
    ),
    _rule(
        "so many to a stitch",
        r"\bper[ ](?=(?:st(?:itch)?|sc|hdc|dc|tr)\b)",
        "in each ",
        "2 hdc per st",
        "2 hdc in each st",
    ),
    _rule(
        "what is repeated, by name",
        r"\b(repeat|rep)[ ](?:this|the|these|that)[ ](?:sequence|pattern|steps?|set|section|last[ ]two[ ]steps)\b",
        r"\1",
        "4 sc, 1 dec; repeat this sequence 6 times",
        "4 sc, 1 dec; repeat 6 times",
    ),
    _rule(
        "shaping in stitches by their numbers",
        r"\b(inc|dec)(?:r?(?:rease)?)?[ ](?:in[ ]|at[ ])(?:the[ ])?(?:sts?[ ]|stitches[ ])?"
        r"(?P<list>(?:first|\d+(?:st|nd|rd|th)?)(?:,[ ]\d+(?:st|nd|rd|th)?)*(?:,?[ ]and[ ]\d+(?:st|nd"
        r"|rd|th)?))(?:[ ]st(?:itch(?:es)?)?\b|s\b)?(?![ ]?(?:more|x|times))",
        _by_numbers,
        "inc in sts 1, 9 and 17 (27)",
        "inc 3 evenly (27)",
    ),
    _rule(
        "all but the last stitches",
        r"\bin[ ](?:each|every)[ ]st(?:itch)?[ ](?:but|except)[ ](?:for[ ])?(?:the[ ])?last[ ](\d+)(?:[ ]sts)?",
        r"to last \1 sts, leave remaining sts unworked",
        "sc in every stitch but the last 4 (20)",
        "sc to last 4 sts, leave remaining sts unworked (20)",
    ),
    _rule(
        "rounds that are named in a sentence",
        rf"^([ ]*)(?:for|in|work|on)[ ]({_RND}[ ]?\d+)[ ]?(?:-|to|through|thru)[ ]?(\d+)(?:[ ]?[,:]|(?=[ ]even\b))",
        r"\1\2-\3:",
        "For rounds 8 to 10, sc in each st around",
        "rounds 8-10: sc in each st around",
    ),
    _rule(
        "from a round to a round",
        rf"^([ ]*)from[ ]({_RND}[ ]?\d+)[ ]?(?:to|through|thru)[ ](?:{_RND}[ ])?(\d+)[ ]?[,:]",
        r"\1\2-\3:",
        "From round 8 to round 10: sc around",
        "round 8-10: sc around",
    ),
    _rule(
        "columns with commas",
        r"^([ ]*)(\d{1,3}),(?=[ ]?[^\s,][^,\n]*[a-z][^,\n]*,)",
        r"\1Rnd \2: ",
        "2,inc x 6,12",
        "Rnd 2: inc x 6,12",
    ),
    _rule(
        "a colon ahead of the number",
        rf"^([ ]*(?:{_RND}|r))[ ]?:[ ]?(\d+)\b",
        r"\1 \2:",
        "R:9 (3 sc, inc) x 6",
        "R 9: (3 sc, inc) x 6",
    ),
    _rule(
        "a number behind a hash",
        r"^([ ]*)#[ ]?(\d+)[ ]?[.:)-]?(?=[ ])",
        r"\1Rnd \2:",
        "#2 inc x 6 (12)",
        "Rnd 2: inc x 6 (12)",
    ),
    _rule(
        "ordinals from and to",
        rf"^([ ]*)(\d+)(?:st|nd|rd|th)[ ]?(-|to|and|&)[ ]?(\d+)(?:st|nd|rd|th)[ ]({_RND})",
        r"\1\5 \2 \3 \4",
        "10th-12th rnd: 30 sc",
        "rnd 10 - 12: 30 sc",
    ),
    _rule(
        "dots from one round to another",
        rf"^([ ]*(?:{_RND}|r)[ ]?\d+)\.{{2,3}}r?(\d+)\b",
        r"\1-\2",
        "R10..12: sc around",
        "R10-12: sc around",
    ),
    _rule(
        "a round with a name in brackets",
        rf"^([ ]*(?:(?:{_RND}|r)[ ]?[\d, and&-]+?|next[ ]{_RND}))[ ]*[(\[](?:(?:the|an?)[ ])?(?:[a-z]+[ ])?(?:inc"
        rf"(?:rease)?|dec(?:rease)?|joining|join|even|plain|straight|shaping|increasing|decreasing"
        rf"|color|colour|last|first)(?:[ ](?:{_RND}))?[)\]](?![ ]*(?:[x*](?![a-z])|\d+[ ]?(?:x|times)|times|around|all"
        r"|rep|in[ ]|un?til|to[ ]))",
        r"\1",
        "Rnd 12 (dec round): (sc 4, dec) x 6",
        "Rnd 12: (sc 4, dec) x 6",
    ),
    _rule(
        "a round with a name behind a dash or comma",
        rf"^([ ]*(?:{_RND}|r)[ ]?[\d-]+)[ ]*[,-]?[ ]*(?:inc(?:rease)?|dec(?:rease)?|joining|even|plain"
        rf"|shaping|increasing|decreasing)(?:[ ]{_RND}[ ]?(?=[:.-])|[ ]?(?=:))",
        r"\1",
        "Rnd 5, inc round: (sc 3, inc) x 6",
        "Rnd 5: (sc 3, inc) x 6",
    ),
    _rule(
        "a round with a name ahead of its number",
        rf"^([ ]*)(?:inc(?:rease)?|dec(?:rease)?|joining|even|plain|shaping|increasing|decreasing"
        rf"|set[ -]?up|foundation|first)[ ]({_RND}[ ]?\d)",
        r"\1\2",
        "Increase round 5: (sc 3, inc) x 6",
        "round 5: (sc 3, inc) x 6",
    ),
    _rule(
        "a round with a name and no number",
        rf"^([ ]*)(?:(?:next|the)[ ])?(?:inc(?:rease)?|dec(?:rease)?|joining|even|plain|shaping"
        rf"|increasing|decreasing)[ ]{_RND}[ ]?[:.-]",
        r"\1Next rnd:",
        "Inc rnd. (sc 3, inc) x 6",
        "Next rnd: (sc 3, inc) x 6",
    ),
)  # fmt: skip

#: A line that writes stitches in the letters of charts: an X and behind it a V or an A.
_IN_LETTERS = re.compile(r"(?<![A-Za-z])X(?![A-Za-z])[^\n]{0,60}(?<![A-Za-z])[VA](?![A-Za-z])")


def say_letters(text: Reworded) -> None:
    """Say the letters of charts as stitches, before they are taken for words of another language (a Dutch "v").

    Parameters
    ----------
    text : Reworded
        With plain signs; it is changed where it is written in such letters.
    """
    if _IN_LETTERS.search(text.text):
        rule = next(rule for rule in RULES if rule.name == "stitches by single letters")
        text.apply(rule.pattern, rule.said)


#: Words for a round in the languages that are read, and letters that stand for one.
_ROUND_WORDS = (
    r"rounds?|rnds?|rds?|runden?|vueltas?|vtas?|rondas?|tours?|rangs?|toer(?:en)?|carreiras?|carrs?|voltas?"
    r"|[rvt](?=[ ]?\d)"
)
#: Where another round begins in the middle of a line: a label behind the end of a sentence or of a bracket.
_LATER_LABEL = re.compile(
    rf"(?<=[.;!)\]|])(?P<gap>[ ]+)(?:(?:and|then)[ ])?(?:"
    rf"(?P<in>in[ ])(?:the[ ])?(?P<word>{_ROUND_WORDS})[ ]?(?P<number>\d+),"
    rf"|(?=(?:next|the[ ]next)[ ](?:(?:\d+|two|three|four|five|six)[ ])?(?:{_ROUND_WORDS})\.?(?:"
    rf"[ ]?\([^()\n]{{1,20}}\))?[ ]?[:,-])"
    rf"|(?=(?:first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth)[ ](?:{_ROUND_WORDS})\.?[:,])"
    rf"|(?=\d{{1,3}}(?:\.|st|nd|rd|th|[ªºe]|er)[ ]?(?:{_ROUND_WORDS})\.?[ ]?[:,])"
    rf"|(?=(?:{_ROUND_WORDS})\.?[ ]?\d{{1,3}}(?:[ ]?-[ ]?\d{{1,3}})?[ ]?:)"
    r")",
    re.IGNORECASE,
)


#: What is worked for several rounds behind the total of the one before: "... (6); sc around for 5 rounds".
_LATER_ROUNDS = re.compile(
    r"(?<=[)\]])[.;,]?(?P<gap>[ ]+)(?=(?:then[ ])?(?:sc|hdc|dc|work|crochet)\b[^.;:()\[\]\n]{0,30}\bfor[ ]"
    r"(?:\d+|two|three|four|five|six)[ ](?:rounds|rnds|rds)\b)",
    re.IGNORECASE,
)


def own_lines(text: Reworded) -> None:
    """Give each round that begins in the middle of a line a line of its own.

    Parameters
    ----------
    text : Reworded
        With plain signs, in any of the languages that are read; it is changed.
    """
    text.apply(
        _LATER_LABEL, lambda found: f"\n{found['word']} {found['number']}:" if found["in"] else "\n" + found["gap"][1:]
    )
    text.apply(_LATER_ROUNDS, lambda found: "\n" + found["gap"][1:])


#: Signs of a text that are looked at for definitions.
LOOKED_AT = 20_000


def reword(text: Reworded) -> None:
    """Say a plain text again in the words that the grammar knows.

    Parameters
    ----------
    text : Reworded
        With plain signs; it is changed.
    """
    for name, made in _defined(text.text).items():
        text.apply(
            re.compile(rf"\b(?<!: )(?<!= )(?:an?[ ])?{name}s?\b(?![ ]?(?:[:=)-]|st(?:itch)?[ ]?[:=(-]))", re.I),
            f"({made})",
        )
    for rule in RULES:
        text.apply(rule.pattern, rule.said)


#: "Shell: 5 dc in the same st", "fan = (2 dc, ch 1, 2 dc) in next st".
DEFINITION = re.compile(
    r"^[ *-]*(?:(?:note|special[ ]stitch(?:es)?|abbreviations?)[ ]?:?[ ]*)?(?P<name>shell|fan|scallop"
    r"|petal|v[ -]?st)(?:[ ]st(?:itch)?)?"
    r"[ ]?(?:[:=]|-[ ]|means[ ])[ ]?(?:work[ ])?[(\[]?(?P<made>(?:\d+[ ](?:sc|hdc|dc|tr|htr|dtr))"
    r"(?:,[ ]?(?:ch[ ]?\d+|\d+[ ](?:sc|hdc|dc|tr|htr|dtr)))*)",
    re.IGNORECASE | re.MULTILINE,
)


def _defined(text: str) -> dict[str, str]:
    """Shells and fans that a text defines: what each is made of."""
    return {found["name"].lower(): found["made"] for found in DEFINITION.finditer(text[:LOOKED_AT])}
