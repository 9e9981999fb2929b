"""What is said beside the work: yarn, markers, a sentence behind the total."""

from __future__ import annotations

from counter.plan.wordings.phrases import RND, ST, Rule, blank, rule

__all__ = ["REMARKS"]


#: In the order in which they are undone.
REMARKS: tuple[Rule, ...] = (
    rule(
        "yarn that is joined",
        r"\b(?:re-?)?(?:attach|join)[ ](?:the[ ])?(?:new[ ]|working[ ])*(?:yarn|colou?r[ ]\w+|[A-H])(?:[ ][A-H])?"
        r"(?:[ ]to[ ][^,.;()\n]{1,30}?)?[ ]with[ ](?:a[ ])?(?:sl[ ]?st|slip[ ]stitch|ss)\b(?:[ ](?:in|to)"
        r"[ ][^,.;()\n]{1,30})?",
        blank,
        "attach yarn with sl st, ch 1, sc 40",
        " , ch 1, sc 40",
    ),
    rule(
        "a remark behind the total",
        r"(?<=\d[)\]])[ ](?=(?-i:[A-Z][a-z]+)[ ](?:the|a|an|your|to|in|up|for|with|eyes|and)\b)",
        ". ",
        "(dec, 3 sc)x6 (24) Put the eyes between rnd 6 and 7",
        "(dec, 3 sc)x6 (24). Put the eyes between rnd 6 and 7",
    ),
    rule(
        "markers",
        r"\b(?:place|placing|put|putting|move|moving|add|adding|insert|attach|pm|use|keep)\b(?:[ ](?:a"
        r"|the|your|one|another|stitch|st))*"
        rf"[ ]?(?:stitch[ ])?(?:markers?|pm)\b(?:[ ](?:up|in|into|on|at|to|for|after|before|the|this"
        rf"|first|last|next|each|every|{ST}"
        rf"|beginning|start|of|{RND}|here|also|#?\d+(?:st|nd|rd|th)?(?:[ ]?(?:,|&|and|-|to)[ ]?"
        rf"(?:and[ ])?\d+(?:st|nd|rd|th)?)*))*",
        blank,
        "sc around, place a marker in sts 5, 10, 15 and 20 (24)",
        "sc around,   (24)",
    ),
    rule(
        "no shaping",
        r"\b(?:no|without(?:[ ]any)?)[ ](?:inc\w*|dec\w*|shaping)\b\.?(?:[ ](?:or|and)[ ](?:inc|dec)\w*\b\.?)?",
        ",",
        "no inc. 24 sc",
        ", 24 sc",
    ),
)  # fmt: skip
