"""What a round comes to: totals in words, in parts, and what repeats them in other words."""

from __future__ import annotations

from counter.plan.wordings.phrases import RND, ST, STITCH, N, Rule, blank, rule

__all__ = ["TOTALS"]


#: In the order in which they are undone.
TOTALS: tuple[Rule, ...] = (
    rule(
        "what the round below holds, said ahead",
        rf"^([ ]*(?:{RND}|r)?[ ]?\d+[ ]?[:.)-]+[ ]*)\d+[ ]?=[ ]?(?=[(\[*][^\n=]*=[ ]?\d)",
        r"\1",
        "R9: 48 = (6 sc, dec) x 6 = 42",
        "R9: (6 sc, dec) x 6 = 42",
    ),
    rule(
        "a total with its spaces behind the join",
        rf"(?<=[.;][ ])(\d+)[ ]{STITCH}(?:,[ ]and|,|[ ]and)[ ]\d+[ ]ch-?\d*[ -]?(?:sps?|spaces?|lps?|loops?)\b\.?"
        r"(?=[ ]*$)",
        r"[\1]",
        "join. 32 dc, 16 ch-1 sps",
        "join. [32]",
    ),
    rule(
        "how often and the total in one bracket",
        r"[(\[](?:repeat|rep)[ ](x[ ]?\d+|\d+[ ]?x|\d+[ ]times),[ ](\d+)[ ](?:sts|stitches)(?:[ ]total)?[)\]]",
        r"repeat \1 [\2]",
        "2 sc, 1 inc (repeat 6 times, 24 stitches)",
        "2 sc, 1 inc repeat 6 times [24]",
    ),
    rule(
        "a total with its stitches in brackets",
        rf"^([ ]*(?:{RND}|r)[ ]?\d+[ ]?[:.)-]+[ ]*)(\d+)[ ](?:(?:{ST}[ ])?(?:in[ ])?total,?[ ]?"
        rf"(?=[(\[])|{ST}[ ](?=[(\[]\d[ ]in[ ]))[(\[]((?:\d+[ ])?(?:inc|dec|sc|hdc|dc|in)\b[^()\[\]\n]*)[)\]]",
        r"\1\3 [\2]",
        "Rnd 2: 12 sc total (2 in each stitch)",
        "Rnd 2: 2 in each stitch [12]",
    ),
    rule(
        "by how many a round grows",
        r"[(\[][ ]?[+-][ ]?\d{1,3}(?:[ ]?(?:sts?|stitches|inc|dec))?[ ]?[)\]]",
        blank,
        "R2: inc x 6 (12) (+6)",
        "R2: inc x 6 (12)  ",
    ),
    rule(
        "how many shells that makes",
        r"[(\[]\d+[ ](?:v[ -]?st(?:itche)?s?|shells?|arches|arcs|fans?|petals?|scallops?|points?"
        r"|picots?|corners?)(?:[ ](?:made|total))?[)\]]",
        blank,
        "*V-st in next st, sk 1* around (12 V-sts)",
        "*V-st in next st, sk 1* around  ",
    ),
    rule(
        "a count with its name ahead",
        rf"(?:\b(?:total[ ])?(?:st(?:itch)?(?:es)?[ ]?(?:count|total)|sts|stitches)|\btotal(?:[ ](?:number[ ]of[ ])?"
        rf"(?:sts|stitches))?|\bcount)[ ]?(?:is[ ]|[:=]|-(?=[ ]))[ ]?{N}(?:[ ]{ST})?(?![\w,]|[ ]?[x(*])",
        r"[\g<n>]",
        "(sc 2, inc) x 6. St count: 24",
        "(sc 2, inc) x 6. [24]",
    ),
    rule(
        "what the maker has now",
        rf"(?<!til )(?<!ntil )(?:\b(?:so|and|then)[ ])?\b(?:you(?:'ll|'ve)?|there|this|which|it)[ ]"
        rf"(?:should[ ]|will[ ]"
        rf"|now[ ]|shall[ ]|must[ ])*"
        rf"(?:have|get|are|be|is|makes|gives|leaves|end[ ]up[ ]with|got)(?:[ ]you)?(?:[ ]now)?(?:[ ]a)?"
        rf"(?:[ ]total[ ]of)?[ ]"
        rf"{N}(?:[ ]{ST})?(?:[ ](?:in[ ]total|total|altogether|left|now|remain\w*|around|made|in[ ]"
        rf"(?:the|this)[ ]{RND}))*"
        r"(?![\w-]|[ ]?[x(*]|,[ ]\d)",
        r"[\g<n>]",
        "2 sc in each st. You should now have 12 sts.",
        "2 sc in each st. [12]",
    ),
    rule(
        "what a round comes to",
        rf"\b(?:(?:giving|making|leaving|ending[ ]with|ends[ ]with|end[ ]with|resulting[ ]in"
        rf"|bringing[ ]you[ ]to|to[ ]make|to[ ]give)"
        rf"(?:[ ]you)?(?:[ ]a)?(?:[ ]total[ ]of)?|for[ ]a[ ]total[ ]of|total[ ]of)[ ]{N}[ ]?{ST}"
        r"(?:[ ](?:in[ ]total|total|altogether|left|now|remain\w*))*(?![\w-]|[ ]?(?:unworked|free|open"
        r"|un|before|for|to[ ]be))",
        r"[\g<n>]",
        "(sc 2, dec) x 6, leaving 18 sts.",
        "(sc 2, dec) x 6, [18]",
    ),
    rule(
        "a total of two parts",
        r"(?<==)[ ]?(?P<n>\d{1,4})[ ]?\+[ ]?(?P<more>\d{1,4})(?:[ ]?=[ ]?\d+)?(?=[ ]*(?:sts?|stitch"
        r"(?:es)?)?\.?[ ]*(?:$|[)\]]))",
        lambda found: f" {int(found['n']) + int(found['more'])}",
        "sc 12, ch 3, sc 12, = 24 + 6",
        "sc 12, ch 3, sc 12, = 30",
    ),
    rule(
        "a total with its chains",
        r"[(\[](?P<n>\d{1,5})(?:[ ]sts?)?,?[ ](?:including|incl\.?|counting|with)[ ](?:the[ ])?(?:ch"
        r"|chains?|ch[ ]sps?|chain[ ]spaces)\b[^()\[\]\n]{0,20}[)\]]",
        r"[\g<n>]",
        "sc 6, ch 6, sk 6, sc 6 (18 including ch)",
        "sc 6, ch 6, sk 6, sc 6 [18]",
    ),
    rule(
        "shaping to a total",
        r"\b(inc|dec)(?:r?(?:ease|easing|eas))?[ ](?:evenly[ ])?to[ ](\d+)(?:[ ](?:sts?|stitches))?"
        r"(?:[ ](?:evenly|spaced|around|in[ ]total))*",
        r"\1 evenly [\2]",
        "increase to 42 sts evenly spaced",
        "inc evenly [42]",
    ),
    rule(
        "increases or decreases that were counted",
        r"\b\d+[ ](?:inc|dec)(?:r?(?:rease)?s?)?\b\.?[ ](?:(?:were|are|have[ ]been)[ ])?(?:made|done"
        r"|worked|in[ ]total|total)\b",
        blank,
        "(sc 4, dec) x 6. 6 decreases made (30)",
        "(sc 4, dec) x 6.   (30)",
    ),
    rule(
        "by how many a round has grown",
        rf"\b(?:you[ ](?:have|will[ ]have|should[ ]have)|you've|we[ ]have)[ ]?(?:now[ ])?(?:inc"
        rf"|dec)reased[ ](?:by[ ])?\d+(?:[ ]{ST})?",
        blank,
        "inc x 6. You have increased by 6 sts (12)",
        "inc x 6.   (12)",
    ),
    rule(
        "stitches that were gained or lost",
        rf"\b\d+[ ](?:{ST}[ ])(?:were[ ]|are[ ])?(?:in|de)creased\b|\b(?:in|de)creased[ ](?:by[ ])?\d+(?:[ ]{ST})",
        blank,
        "(sc 4, dec) x 6. 6 sts decreased. (30)",
        "(sc 4, dec) x 6.  . (30)",
    ),
    rule(
        "how many increases that makes",
        r"\b(?:so|thus|that[ ]is|that's|this[ ]is|meaning)[ ]\d+[ ](?:inc|dec)(?:r?(?:rease)?s?)\b|"
        r"(?<=\d[ ])[(\[]\+?\d+[ ](?:inc|dec)(?:r?(?:rease)?s?)[)\]]",
        blank,
        "inc in every 4th st, so 6 increases, [30 (6 increases)]",
        "inc in every 4th st,  , [30  ]",
    ),
)  # fmt: skip
