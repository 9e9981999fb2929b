"""Which stitch is meant, and what it is made of: letters of charts, foundations, bobbles, colours."""

from __future__ import annotations

import re

from counter.plan.wordings.phrases import BELOW_HUNDRED, ONES, TENS, Rule, rule

__all__ = ["STITCHES"]


def _number(found: re.Match) -> str:
    total = 0
    for word in re.split(r"[ -]", found.group().lower()):
        if word == "hundred":
            total = max(total, 1) * 100
        else:
            total += TENS.get(word, 0) + ONES.get(word, 0)
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


#: Bobbles by their short names.
_BOBBLES = {"cl": "cluster", "pc": "popcorn", "bo": "bobble"}


#: In the order in which they are undone.
STITCHES: tuple[Rule, ...] = (
    rule(
        "number words above twelve",
        rf"\b(?:a|one|two|three|four|five|six|seven|eight|nine)[ ]hundred(?:(?:[ ]and)?[ ]{BELOW_HUNDRED})?\b"
        rf"|\b(?:(?:{'|'.join(TENS)})(?:[ -](?:{'|'.join(list(ONES)[:9])}))?|(?:{'|'.join(list(ONES)[12:])}))\b",
        _number,
        "Sixteen stitches, then twenty-four",
        "16 stitches, then 24",
    ),
    rule(
        "going on in a stitch",
        r"\b(?:continue|carry[ ]on|keep[ ]on|go[ ]on)(?:[ ](?:working|crocheting))?[ ]in[ ](sc|hdc|dc|tr)\b",
        r"\1",
        "Continue in sc around until it measures 10 cm",
        "sc around until it measures 10 cm",
    ),
    rule(
        "abbreviations with stops",
        r"\b(?:s\.[ ]?c|h\.[ ]?d\.[ ]?c|d\.[ ]?c|t\.[ ]?r)\b\.?",
        lambda found: re.sub(r"[. ]", "", found.group()),
        "S.c. in next 3 sts (30 s.c.)",
        "Sc in next 3 sts (30 sc)",
    ),
    rule(
        "in a colour by its letter",
        r"(?<=[a-z])[ ](?:in|with)[ ](?:colou?r[ ])?(?-i:[A-H])(?=[ ]*(?:[,;/.)(]|$))",
        " ",
        "8 sc in A / 8 sc in B (16)",
        "8 sc  / 8 sc  (16)",
    ),
    rule(
        "stitches by single letters",
        r"^(?=[^\n]*(?-i:(?<![A-Za-z])[XV](?![A-Za-z])))(?![^\n]*\b(?:sc|inc|dec|hdc|dc|dec|sts?)\b)[^\n]*$",
        _letters,
        "R3: (X, V)*6 [18]",
        "R3: (sc, inc)*6 [18]",
    ),
    rule(
        "a stitch and its shaping in one word",
        r"\b(sc|hdc|dc|tr|htr)[-_.]?(inc|dec)(s?)\b",
        r"\1 \2\3",
        "scinc x 6, hdc-dec",
        "sc inc x 6, hdc dec",
    ),
    rule(
        "foundation stitches",
        r"\b(?:f(sc|hdc|dc)|foundation[ ](sc|hdc|dc|single crochet|half double crochet"
        r"|double crochet))s?\b(?:[ ]sts?\b)?",
        lambda found: f"{found[1] or found[2]} in ring",
        "work 24 fsc, join",
        "work 24 sc in ring, join",
    ),
    rule(
        "foundation stitches with their number behind",
        r"\b(sc|hdc|dc|(?:single|half[ ]double|double)[ ]crochet)s?[ ]in[ ]ring[ ](\d+)",
        r"\2 \1 in ring",
        "sc in ring 40, join",
        "40 sc in ring, join",
    ),
    rule(
        "increases named by their stitches",
        r"\b(sc|hdc|dc|tr|htr|dtr)2inc\b",
        r"\1 inc",
        "(1 dc, dc2inc) x 6",
        "(1 dc, dc inc) x 6",
    ),
    rule(
        "one, and two in one",
        r"(?<=[(\[*])[ ]?(?:1[ ])?(sc|hdc|dc|tr),[ ]2[ ]\1[ ]?(?=[)\]*])",
        r"1 \1, 2 \1 in next st",
        "[hdc, 2 hdc] around",
        "[1 hdc, 2 hdc in next st] around",
    ),
    rule(
        "stitches by main and contrast colour alone",
        r"(?<=[,(*\[:])([ ]?\d+)[ ](?:mc|cc\d?)(?=[ ]?[,)\]*])",
        r"\1 sc",
        "R10: *3 MC, 1 CC* x 7",
        "R10: *3 sc, 1 sc* x 7",
    ),
    rule(
        "so many times some in one",
        r"(?<=[:,(\[*][ ])(\d+)[ ]?x[ ](\d[ ](?:sc|hdc|dc|tr))[ ]in[ ](?:the[ ])?(?:1|one|same|next|each)[ ]sts?\b",
        r"(\2 in next st) x \1",
        "Rnd 2: 6 x 2 sc in 1 st (12)",
        "Rnd 2: (2 sc in next st) x 6 (12)",
    ),
    rule(
        "so many each",
        r"\b((?:[7-9]|\d{2,4})[ ](?:sc|hdc|dc|tr)s?)[ ]each(?:[ ](?:round|rnd))?\b(?=[ ]*(?:[.,;(\[]|$))",
        r"\1",
        "R7-10: 36 sc each",
        "R7-10: 36 sc",
    ),
    rule(
        "each stitch that gets so many",
        r"\b(each|every)[ ](st|stitch)[ ](?:gets|receives|takes)[ ](\d+[ ](?:sc|hdc|dc|tr))\b",
        r"\3 in \1 \2",
        "each st gets 2 sc (16)",
        "2 sc in each st (16)",
    ),
    rule(
        "joined with a stitch",
        r"\bjoin(?:ing)?\b[^,.;:()\n]{1,40}?\bwith[ ](?:an?[ ])?(?:standing[ ])?(sc|hdc|dc|tr|htr|dtr)\b",
        r"join with \1",
        "join color B with a standing dc in any st",
        "join with dc in any st",
    ),
    rule(
        "bobbles by their short names alone",
        r"(?<=[,(*:][ ])(bo|pc|cl)(?=[ ]?(?:[,.;)*(\[]|$|in[ ]|x[ ]?\d))",
        lambda found: _BOBBLES[found[1].lower()],
        "sc 10, bo, sc 19",
        "sc 10, bobble, sc 19",
    ),
    rule(
        "two in one, by a hyphen",
        r"\b2[ -]?(sc|hdc|dc|tr)-inc\b",
        r"\1 inc",
        "(1 sc, 2sc-inc) x 6",
        "(1 sc, sc inc) x 6",
    ),
    rule(
        "so many times two in one",
        r"(?<=[:,(\[][ ])(\d+)[ ]?x[ ]?2[ ](sc|hdc|dc|tr)(?=[ ]*(?:[,.;(\[=-]|$))",
        r"(2 \2 in next st) x \1",
        "Rnd 2: 8 x 2 hdc (16)",
        "Rnd 2: (2 hdc in next st) x 8 (16)",
    ),
    rule(
        "bobbles named by their stitches",
        r"\b(?:(\d+)[ ](?:x[ ])?)?\d[ -]?(?:sc|hdc|dc|tr|htr|dtr)?[ -]?(bobbles?|puffs?|popcorns?"
        r"|clusters?|cl|pc|bo)\b(?:[ ]?sts?\b)?",
        lambda found: f"{found[1] + ' ' if found[1] else ''}{_BOBBLES.get(found[2].lower(), found[2])}",
        "5-dc popcorn in next st, 2 3dc-cl",
        "popcorn in next st, 2 cluster",
    ),
    rule(
        "V-stitches",
        r"\bv[ -]?st(?:itch)?\b(?:[ ]?\([^()\n]{1,40}\))?",
        "(dc, ch 1, dc)",
        "V-st in next st, sk 1",
        "(dc, ch 1, dc) in next st, sk 1",
    ),
    rule(
        "stitches by colours alone",
        r"(?<![a-z])(?<![a-z][ ])\b(\d+)([A-H])(?=[ ]?[,;)(.]|[ ]*$)",
        r"\1 sc",
        "10A, 4B, 22A (36)",
        "10 sc, 4 sc, 22 sc (36)",
    ),
    rule(
        "a colour in brackets",
        r"(?<=[\w)])[ ]?[(\[][A-H][)\]][ ]?:?",
        ",",
        "18 sc (A), 18 sc (B): 18 sc",
        "18 sc,, 18 sc, 18 sc",
    ),
    rule(
        "a chain that is the first stitch",
        r"[(\[](?:is[ ]|=[ ]?|equals[ ]|as[ ]|this[ ]is[ ])?(?:the[ ]|your[ ])?(?:first|1st|1\.)[ ](sc|hdc"
        r"|dc|tr|htr|dtr)[)\]]",
        r"(counts as \1)",
        "ch 3 (first dc), dc in each remaining st",
        "ch 3 (counts as dc), dc in each remaining st",
    ),
)  # fmt: skip
