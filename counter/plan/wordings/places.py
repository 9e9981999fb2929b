"""Where, how far and how often: the next stitch, the far side of a chain, until three remain."""

from __future__ import annotations

import re

from counter.plan.wordings.phrases import LIMB, RND, ST, STITCH, N, Rule, blank, rule

__all__ = ["PLACES"]


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


#: In the order in which they are undone.
PLACES: tuple[Rule, ...] = (
    rule(
        "worked round a post",
        r"\baround[ ](?:the[ ])?(?:posts?[ ]of[ ])?(?:the[ ])?(?=(?:next|each|same|first|every)\b)",
        "in ",
        "FPdc around next st",
        "FPdc in next st",
    ),
    rule(
        "a repeat that says where behind how often",
        r"([)\]])[ ]?(?:x[ ]?)?(\d+)(?:[ ]times)?[ ](in(?:to)?[ ](?:the[ ])?(?:magic[ ])?(?:ring|circle|loop|mr))\b",
        r"\1 \3 x \2",
        "(sc, ch 3) x 12 in ring",
        "(sc, ch 3) in ring x 12",
    ),
    rule(
        "where ahead of what",
        r"(?<![a-z0-9][ ])\bin(?:to)?[ ](?:the[ ])?((?:2nd|second|3rd|third)[ ](?:ch|chain)[ ]from[ ]"
        r"(?:the[ ])?hook)[ ]?[:,][ ]?(?:work[ ])?(\d+[ ]?[a-z]+)\b",
        r"\2 in \1",
        "In 2nd ch from hook: 1 sc, sc 3",
        "1 sc in 2nd ch from hook, sc 3",
    ),
    rule(
        "so many to a stitch, by a stroke",
        r"(?<=[:,(*\[][ ])(\d+[ ]?(?:sc|hdc|dc|tr))/(?:st|stitch)\b",
        r"\1 in each st",
        "R2: 2sc/st (14)",
        "R2: 2sc in each st (14)",
    ),
    rule(
        "all of it so many times",
        r",[ ]all(?:[ ]of[ ](?:this|that|it))?[ ](?=x[ ]?\d|\d+[ ]?x\b|\d+[ ]times)",
        ", repeat ",
        "sc x 4, inc x 1, all x 6",
        "sc x 4, inc x 1, repeat x 6",
    ),
    rule(
        "the same place as another stitch",
        r"\b(in(?:to)?[ ])(?:the[ ])?(?:very[ ])?same[ ](?:st(?:itch)?|ch(?:ain)?|sp(?:ace)?|place)[ ]as[ ]"
        rf"(?:(?:the|your|very)[ ])*(?:first|1st|last|previous|prev)[ ]{ST}",
        r"\1same st",
        "5 sc, 2 sc in the same ch as the first sc",
        "5 sc, 2 sc in same st",
    ),
    rule(
        "an ordinal by its dot",
        r"\b(in(?:to)?|to)[ ](the[ ])?(\d)\.[ ](?=(?:ch|chain|st|sc|hdc|dc|tr)\b)",
        r"\1 \2\3th ",
        "sl st in 3. ch",
        "sl st in 3th ch",
    ),
    rule(
        "into the foot of a chain",
        r"\bin(?:to)?[ ](?:the[ ])?(?:base|bottom|foot)[ ]of[ ](?:the[ ])?(?:(?:beg"
        r"(?:inning)?|first|starting|same)[ ])?"
        r"(?:ch(?:ain)?)\b(?:[ ]?-?[ ]?\d)?",
        "in same st",
        "3 ch, 1 tr in base of ch, 2 tr in each st",
        "3 ch, 1 tr in same st, 2 tr in each st",
    ),
    rule(
        "as far as the marker",
        r"\b(?:un)?til(?:l)?[ ](?:you[ ])?(?:reach|get[ ](?:back[ ])?to|come[ ](?:back[ ])?to|are[ ]back[ ]at)[ ]"
        r"(?:the[ ]|your[ ])?(?:markers?|start|beginning|first[ ]st(?:itch)?)\b(?:[ ]again\b)?",
        "around",
        "sc in every st until you reach the marker",
        "sc in every st around",
    ),
    rule(
        "each stitch named ahead",
        r"(?:(?<=^)|(?<=[:,.;(*\[][ ])|(?<=[:*(\[]))in(?:to)?[ ](?:the[ ])?(each|every|all|next|same)[ ]"
        r"(sts?|stitch(?:es)?|sc|hdc|dc)(?:[ ]around)?[ ]?[:,]?[ ](?:work[ ]|crochet[ ]|make[ ])*"
        r"((?:\d+|one|two|three)[ ](?:sc|hdc|dc|tr|htr|dtr)|(?:sc|hdc|dc|inc|dec)(?![ ]\d))\b(?:[ ]work\b)?",
        r"\3 in \1 \2",
        "Rnd 2: in each st work 2 sc",
        "Rnd 2: 2 sc in each st",
    ),
    rule(
        "until some stitches remain",
        rf"\b(?:un)?til(?:l)?[ ](?:there[ ](?:are|is)[ ])?(?:only[ ])?{N}[ ](?:{ST}[ ])?(?:are[ ]"
        rf"|is[ ])?(?:remain(?:s|ing)?|left)\b"
        rf"(?:[ ](?:in[ ](?:the[ ])?{RND}|unworked))?",
        _remain,
        "sc until 3 sts remain, sc3tog",
        "sc to last 3 sts, sc3tog",
    ),
    rule(
        "so far from the marker or the end",
        rf"(?:,[ ])?\b(?:(?:until|till|to|ending|stopping|stop)[ ])(?:within[ ])?(?:you[ ]are[ ])?"
        rf"(?:the[ ]last[ ])?{N}[ ]{ST}[ ]?"
        rf"(?:before|from|short[ ]of|of|ahead[ ]of)[ ](?:the[ ])?(?:end|marker|marked|start|beginning|m|beg)\b\.?"
        rf"(?:[ ]st(?:itch)?\b)?(?:[ ]of[ ](?:the[ ])?{RND})?",
        r" to last \g<n> sts",
        "sc around, ending 2 sts before marker, inc",
        "sc around to last 2 sts, inc",
    ),
    rule(
        "once round a part that is joined",
        rf"\b(?P<st>{STITCH})[ ](?:in[ ]each[ ]st(?:itch)?[ ])?(?:all[ ])?(?:around|across|along|of|on"
        rf"|over)[ ]{LIMB}[ ]?[(\[](?P<n>\d+)(?:[ ]{ST})?[)\]]",
        r"\g<st> \g<n>",
        "sc around leg 1 (12), ch 3",
        "sc 12, ch 3",
    ),
    rule(
        "stitches of a part that is joined",
        rf"(?<=[\w)])[ ](?:around|across|along|of|on|over|into|in)[ ]{LIMB}(?![ ]?[(\[]\d)",
        " ",
        "sc 12 on the first leg, ch 3",
        "sc 12 , ch 3",
    ),
    rule(
        "and in the next",
        r"\b((?:\d[ ])?(?:sc|hdc|dc|tr))[ ]in[ ]([^,;.()\n]{1,30}?)[ ]and[ ](?:in[ ])?(?=(?:the[ ]|each[ ]of[ ](?:the"
        r"[ ])?)?(?:next|each|last|first)\b)",
        r"\1 in \2, \1 in ",
        "sc in 2nd ch from hook and in next 8 ch",
        "sc in 2nd ch from hook, sc in next 8 ch",
    ),
    rule(
        "from the beginning, around",
        r"\b(repeat|rep)[ ]from[ ](?:the[ ])?(?:beg(?:inning)?|start)\b\.?[ ](?=around\b)",
        r"\1 ",
        "3 dc, inc, repeat from beg. around",
        "3 dc, inc, repeat around",
    ),
    rule(
        "the far side of a chain",
        r"\b(?:(?:now[ ])?(?:work(?:ing)?|turn(?:ing)?|rotat(?:e|ing)|continu(?:e|ing)|go"
        r"(?:ing)?)[ ])?(?:(?:work|and|to|along|on|in|into|down|up|across|over|the|work[ ])[ ])*"
        r"(?:other|opposite|bottom|second|back|far|unused|remaining|free)[ ](?:sides?|loops?|edge)"
        r"(?:[ ]of[ ](?:the[ ])?(?:(?:starting|foundation|beginning|beg|found)[ ])?(?:chains?|ch))?\b",
        blank,
        "3 sc in last ch, working on the other side of the chain, sc 3",
        "3 sc in last ch,  , sc 3",
    ),
    rule(
        "how often, close to its stitch",
        r"\b(sc|hdc|dc|tr|htr|dtr|inc|dec)x(\d+)\b",
        r"\1 x \2",
        "(scx4, incx1) x 6",
        "(sc x 4, inc x 1) x 6",
    ),
    rule(
        "shortened words",
        r"\b(?:ea|arnd|ard)\b\.?",
        lambda found: "each" if found.group().lower().startswith("ea") else "around",
        "sc in ea st arnd",
        "sc in each st around",
    ),
    rule(
        "so many to a stitch",
        r"\bper[ ](?=(?:st(?:itch)?|sc|hdc|dc|tr)\b)",
        "in each ",
        "2 hdc per st",
        "2 hdc in each st",
    ),
    rule(
        "what is repeated, by name",
        r"\b(repeat|rep)[ ](?:this|the|these|that)[ ](?:sequence|pattern|steps?|set|section|last[ ]two[ ]steps)\b",
        r"\1",
        "4 sc, 1 dec; repeat this sequence 6 times",
        "4 sc, 1 dec; repeat 6 times",
    ),
    rule(
        "all but the last stitches",
        r"\bin[ ](?:each|every)[ ]st(?:itch)?[ ](?:but|except)[ ](?:for[ ])?(?:the[ ])?last[ ](\d+)(?:[ ]sts)?",
        r"to last \1 sts, leave remaining sts unworked",
        "sc in every stitch but the last 4 (20)",
        "sc to last 4 sts, leave remaining sts unworked (20)",
    ),
)  # fmt: skip
