"""Which rounds a line tells: their numbers, names and ranges, rounds without shaping, rounds like others."""

from __future__ import annotations

from counter.plan.wordings.phrases import RND, Rule, rule

__all__ = ["ROUNDS"]


#: In the order in which they are undone.
ROUNDS: tuple[Rule, ...] = (
    rule(
        "rounds without shaping",
        r"\b(?:(?:now[ ])?(?:crochet|work|do|make)[ ])?(?P<n>\d+|one|two|three|four|five|six|seven"
        r"|eight|nine|ten|eleven|twelve)[ ](?:more[ ])?(?:even[ ]|plain[ ]|straight[ ])?"
        rf"{RND}[ ](?:straight|even|plain|evenly|as[ ]is|without[ ](?:any[ ])?(?:inc\w*|dec\w*"
        rf"|shaping))\b(?:[ ]or[ ](?:inc|dec)\w*)?",
        r"work even for \g<n> rounds",
        "Crochet 3 rounds straight (30)",
        "work even for 3 rounds (30)",
    ),
    rule(
        "rounds without shaping, said ahead",
        r"\b(?:(?:now[ ])?(?:crochet|work|do|make)[ ])?(?P<n>\d+|one|two|three|four|five|six|seven"
        r"|eight|nine|ten|eleven|twelve)[ ](?:even|plain|straight)[ ]"
        rf"{RND}",
        r"work even for \g<n> rounds",
        "then 3 plain rounds",
        "then work even for 3 rounds",
    ),
    rule(
        "a number and a stop ahead of the round's name",
        rf"^([ ]*)(\d+)\.(?:[ ]?-[ ]?(\d+)\.)?[ ]?({RND})[ ]?[:.-]",
        lambda found: f"{found[1]}Rnd {found[2]}{'-' + found[3] if found[3] else ''}:",
        "5.-8. Rnd: sc (32)",
        "Rnd 5-8: sc (32)",
    ),
    rule(
        "a number ahead of the round's name",
        r"^([ ]*)(\d+)(?:[ ]?-[ ]?(\d+))?[ ](?:round|rnd|rd)[ ]?:",
        lambda found: f"{found[1]}Rnd {found[2]}{'-' + found[3] if found[3] else ''}:",
        "4-5 rnd: 18 sc",
        "Rnd 4-5: 18 sc",
    ),
    rule(
        "a round that is repeated for so many more",
        rf"\b(repeat|rep)[ ]({RND}[ ]?\d+)[ ]for[ ](?:the[ ]next[ ]|another[ ])?(\d+)[ ](?:more[ ])?{RND}",
        r"\1 \2 x \3",
        "Repeat round 3 for 5 more rounds.",
        "Repeat round 3 x 5",
    ),
    rule(
        "the same once more",
        rf"^([ ]*(?:{RND}|r)[ ]?(?P<n>\d+)(?:-\d+)?[ ]?[:.)-]+[ ]*)(?:same|ditto|idem|likewise|as[ ]"
        rf"(?:above|before)|same[ ]as[ ](?:above|before|previous|last))(?:[ ]{RND})?(?=[ ]*(?:[(\[.]|$))",
        lambda found: f"{found[1]}repeat Rnd {int(found['n']) - 1}",
        "R12: same (30)",
        "R12: repeat Rnd 11 (30)",
    ),
    rule(
        "a round that is repeated for others",
        rf"^([ ]*)(?:repeat|rep|work)[ ]((?:{RND}|r)[ ]?\d+)[ ](?:for|in)[ ]((?:{RND}|r)[ ]?\d+(?:[ ]?"
        rf"(?:-|to|through|and|&|,)[ ]?(?:r[ ]?)?\d+)*)",
        r"\1\3: repeat \2",
        "Repeat round 6 for rounds 7-9 (36)",
        "rounds 7-9: repeat round 6 (36)",
    ),
    rule(
        "columns with blanks",
        r"^([ ]*)(\d{1,3})[ ]{2,}(?=[^\s\d][^\n]*[a-z]|\d+[ ]?[a-z])",
        r"\1Rnd \2: ",
        "4    (2 sc, inc) x6     24",
        "Rnd 4: (2 sc, inc) x6     24",
    ),
    rule(
        "so many more rounds",
        rf"\b(\d+|one|two|three|four|five|six|seven|eight|nine|ten|twelve)[ ]more[ ]({RND})",
        r"\1 \2",
        "Do 3 more rounds of 30 sc",
        "Do 3 rounds of 30 sc",
    ),
    rule(
        "brackets behind both ends of a range",
        r"^([ ]*r[ ]?\d+)\)[ ]?-[ ]?r?[ ]?(\d+)\)",
        r"\1-\2:",
        "R4)-R10) sc around",
        "R4-10: sc around",
    ),
    rule(
        "rounds that are named in a sentence",
        rf"^([ ]*)(?:for|in|work|on)[ ]({RND}[ ]?\d+)[ ]?(?:-|to|through|thru)[ ]?(\d+)(?:[ ]?[,:]|(?=[ ]even\b))",
        r"\1\2-\3:",
        "For rounds 8 to 10, sc in each st around",
        "rounds 8-10: sc in each st around",
    ),
    rule(
        "from a round to a round",
        rf"^([ ]*)from[ ]({RND}[ ]?\d+)[ ]?(?:to|through|thru)[ ](?:{RND}[ ])?(\d+)[ ]?[,:]",
        r"\1\2-\3:",
        "From round 8 to round 10: sc around",
        "round 8-10: sc around",
    ),
    rule(
        "columns with commas",
        r"^([ ]*)(\d{1,3}),(?=[ ]?[^\s,][^,\n]*[a-z][^,\n]*,)",
        r"\1Rnd \2: ",
        "2,inc x 6,12",
        "Rnd 2: inc x 6,12",
    ),
    rule(
        "a colon ahead of the number",
        rf"^([ ]*(?:{RND}|r))[ ]?:[ ]?(\d+)\b",
        r"\1 \2:",
        "R:9 (3 sc, inc) x 6",
        "R 9: (3 sc, inc) x 6",
    ),
    rule(
        "a number behind a hash",
        r"^([ ]*)#[ ]?(\d+)[ ]?[.:)-]?(?=[ ])",
        r"\1Rnd \2:",
        "#2 inc x 6 (12)",
        "Rnd 2: inc x 6 (12)",
    ),
    rule(
        "ordinals from and to",
        rf"^([ ]*)(\d+)(?:st|nd|rd|th)[ ]?(-|to|and|&)[ ]?(\d+)(?:st|nd|rd|th)[ ]({RND})",
        r"\1\5 \2 \3 \4",
        "10th-12th rnd: 30 sc",
        "rnd 10 - 12: 30 sc",
    ),
    rule(
        "dots from one round to another",
        rf"^([ ]*(?:{RND}|r)[ ]?\d+)\.{{2,3}}r?(\d+)\b",
        r"\1-\2",
        "R10..12: sc around",
        "R10-12: sc around",
    ),
    rule(
        "a round with a name in brackets",
        rf"^([ ]*(?:(?:{RND}|r)[ ]?[\d, and&-]+?|next[ ]{RND}))[ ]*[(\[](?:(?:the|an?)[ ])?(?:[a-z]+[ ])?(?:inc"
        rf"(?:rease)?|dec(?:rease)?|joining|join|even|plain|straight|shaping|increasing|decreasing"
        rf"|color|colour|last|first)(?:[ ](?:{RND}))?[)\]](?![ ]*(?:[x*](?![a-z])|\d+[ ]?(?:x|times)|times|around|all"
        r"|rep|in[ ]|un?til|to[ ]))",
        r"\1",
        "Rnd 12 (dec round): (sc 4, dec) x 6",
        "Rnd 12: (sc 4, dec) x 6",
    ),
    rule(
        "a round with a name behind a dash or comma",
        rf"^([ ]*(?:{RND}|r)[ ]?[\d-]+)[ ]*[,-]?[ ]*(?:inc(?:rease)?|dec(?:rease)?|joining|even|plain"
        rf"|shaping|increasing|decreasing)(?:[ ]{RND}[ ]?(?=[:.-])|[ ]?(?=:))",
        r"\1",
        "Rnd 5, inc round: (sc 3, inc) x 6",
        "Rnd 5: (sc 3, inc) x 6",
    ),
    rule(
        "a round with a name ahead of its number",
        rf"^([ ]*)(?:inc(?:rease)?|dec(?:rease)?|joining|even|plain|shaping|increasing|decreasing"
        rf"|set[ -]?up|foundation|first)[ ]({RND}[ ]?\d)",
        r"\1\2",
        "Increase round 5: (sc 3, inc) x 6",
        "round 5: (sc 3, inc) x 6",
    ),
    rule(
        "a round with a name and no number",
        rf"^([ ]*)(?:(?:next|the)[ ])?(?:inc(?:rease)?|dec(?:rease)?|joining|even|plain|shaping"
        rf"|increasing|decreasing)[ ]{RND}[ ]?[:.-]",
        r"\1Next rnd:",
        "Inc rnd. (sc 3, inc) x 6",
        "Next rnd: (sc 3, inc) x 6",
    ),
)  # fmt: skip
