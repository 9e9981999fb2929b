"""What a line of a pattern is where it is no round: a heading, a term explained, a material, a remark."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from lark import Token

from counter.plan.tokens import KINDS, NUMBERS
from counter.plan.wording import DEFINITION

__all__ = ["Heading", "glossary", "heading_of", "joins_parts", "needs_an_answer", "open_ended", "remark_of", "set_up"]

#: Parts of a toy or a garment that a heading names (common practice).
PIECES = frozenset(
    [
        "head",
        "body",
        "arm",
        "arms",
        "leg",
        "legs",
        "ear",
        "ears",
        "tail",
        "foot",
        "feet",
        "hand",
        "hands",
        "nose",
        "muzzle",
        "snout",
        "beak",
        "bill",
        "wing",
        "wings",
        "fin",
        "fins",
        "horn",
        "horns",
        "antler",
        "antlers",
        "hat",
        "cap",
        "stem",
        "stalk",
        "trunk",
        "base",
        "bottom",
        "top",
        "lid",
        "handle",
        "handles",
        "strap",
        "petal",
        "petals",
        "leaf",
        "leaves",
        "flower",
        "side",
        "sides",
        "panel",
        "eye",
        "eyes",
        "eyelid",
        "cheek",
        "cheeks",
        "tooth",
        "hoof",
        "hooves",
        "mane",
        "shell",
        "tongue",
        "belly",
        "tummy",
        "crown",
        "brim",
        "heel",
        "toe",
        "toes",
        "cuff",
        "sole",
        "soles",
        "upper",
        "gusset",
        "thumb",
        "finger",
        "fingers",
        "collar",
        "scarf",
        "bow",
        "button",
        "neck",
        "back",
        "front",
        "spot",
        "spots",
        "spike",
        "spikes",
        "wheel",
        "wheels",
        "sleeve",
        "sleeves",
        "yoke",
        "pocket",
        "pompom",
        "bobble",
        "flipper",
        "flippers",
        "claw",
        "claws",
        "paw",
        "paws",
        "hair",
        "comb",
        "whisker",
        "crest",
        "dress",
        "skirt",
        "shirt",
        "bag",
        "pot",
        "plant",
        "cactus",
        "berry",
        "fruit",
        "roof",
        "wall",
        "walls",
        "door",
        "window",
        "boot",
        "boots",
        "shoe",
        "shoes",
        "kopf",
        "körper",
        "koerper",
        "arm",
        "arme",
        "bein",
        "beine",
        "ohr",
        "ohren",
        "schwanz",
        "nase",
        "flügel",
        "hut",
        "cabeza",
        "cuerpo",
        "brazo",
        "brazos",
        "pierna",
        "piernas",
        "oreja",
        "orejas",
        "cola",
        "nariz",
        "tête",
        "tete",
        "corps",
        "bras",
        "jambe",
        "jambes",
        "oreille",
        "oreilles",
        "queue",
        "nez",
        "aile",
        "ailes",
        "hoofd",
        "kop",
        "lijf",
        "lichaam",
        "armen",
        "been",
        "benen",
        "oor",
        "oren",
        "staart",
        "neus",
        "cabeça",
        "cabeca",
        "corpo",
        "braço",
        "bracos",
        "braços",
        "braco",
        "perna",
        "pernas",
        "orelha",
        "orelhas",
        "rabo",
        "focinho",
    ]
)
#: Headings of what is no piece.
ASIDE = re.compile(
    r"\b(?:materials?|abbreviations?|terms?|gauge|tension|notes?|instructions?|pattern|directions"
    r"|finish(?:ed|ing)|assembly|"
    r"tools?|supplies|you(?:'ll)?[ ]need|stitch(?:es)?[ ](?:used|guide)|special|skill|level|sizes?"
    r"|measurements?|colou?rs?|yarn|"
    r"hook|rounds?|rnds?|introduction|about|tips?|sewing|making[ ]up|level|difficulty|copyright)\b",
    re.IGNORECASE,
)
#: How a heading says in any of the languages that are read that a piece is made, and how often.
_DO = (
    r"(?:make|work|crochet|häkeln|häkle|arbeiten|anfertigen|hacer|haz|tejer|faire|crocheter|haken|haak|maken|maak"
    r"|fazer|faça|tecer)"
)
_OFTEN = r"(?:x|×|pcs?\.?|pieces?|times|stück|stk\.?|mal|veces|fois|keer|stuks|vezes|unidades)"
_MAKE = re.compile(
    rf"[(\[,:;-]?[ ]*(?:\b{_DO}[ ]|\b(?:x|×)[ ]?(?=\d)|(?=\d+[ ]?{_OFTEN}(?![^\W\d_])))"
    r"(?P<many>\d{1,2}|one|two|three|four|five|six|seven|eight)(?:\b|(?=x))[ ]?"
    rf"(?:{_OFTEN}|alike|the[ ]same|of[ ](?:them|these))?(?:[ ]{_DO})?(?:[ ]*,[^()\[\]\n]{{1,30}}(?=[)\]]))?[ ]*[)\]]?",
    re.IGNORECASE,
)
_ONE_PIECE = re.compile(
    r"\bone[ ]piece\b|\b(?:aus|in)[ ]einem[ ]stück\b|\bde[ ]una[ ](?:sola[ ])?pieza\b|\bune[ ]seule[ ]pièce\b"
    r"|\béén[ ]stuk\b|\buma[ ](?:só[ ])?peça\b",
    re.IGNORECASE,
)
_ASIDE_IN_BRACKETS = re.compile(r"[ ]*[(\[][^()\[\]\d]{1,30}[)\]][ ]*$")
_MEASURE = re.compile(
    r"\d[ ]?(?:cm|mm|inch(?:es)?|in\b|\"|')|\b(?:gauge|tension|measures?|tall|wide|size)\b", re.IGNORECASE
)
_MATERIAL = re.compile(
    r"\b(?:yarn|cotton|wool|acrylic|hook|needle|stuffing|fib(?:er|re)fill|scissors|safety eyes|ball"
    r"|skein|\d+ ?g|\d+ ?m|grams?|"
    r"yards|metres?|meters?|felt|buttons?|thread)\b",
    re.IGNORECASE,
)
_EXPLAINS = re.compile(
    r"\b(?:means?|stands[ ]for|abbreviations?|gauge|tension|terms|techniques?|stitches[ ]used|skills?|"
    r"you[ ](?:need|should)[ ](?:to[ ])?know|is[ ]worked[ ]in|are[ ]worked[ ]in|throughout|if[ ]you|unless)\b",
    re.IGNORECASE,
)
_FINISHES = re.compile(
    r"\b(?:sew|sewing|stuff|stuffing|weave|fasten|embroider|glue|pin|attach|assemble|close[ ]the"
    r"|cut[ ](?:the[ ])?yarn|"
    r"pull[ ]tight|leave[ ]a[ ](?:long[ ])?tail|repeat[ ]for[ ](?:the[ ])?(?:other|second))\b",
    re.IGNORECASE,
)
_JOINS = re.compile(
    r"\bjoin(?:ing|ed|s)?[ ](?:the[ ])?(?:(?:two|both|2)[ ])?(?:legs?|parts?|pieces?|ears?|arms?|sleeves?|feet)\b"
    r"|\b(?:first|second|other|1st|2nd|left|right|next)[ ](?:leg|ear|arm|foot)\b|\bleg[ ](?:1|2|one|two|a|b)\b",
    re.IGNORECASE,
)
_OPEN_ENDED = re.compile(
    r"(?:\b(?:un)?til(?:l)?\b[^.;\n]{0,60}?(?:measures?|inch(?:es)?|cm\b|mm\b|\d[ ]?in\b|desired"
    r"|long\b|length|tall|high\b|big[ ]enough|fits?\b|reach|wide\b|size)"
    r"|\bas[ ](?:long|many)[ ]as[ ]you[ ](?:like|want)|\bfor[ ](?:about[ ])?\d+(?:\.\d+)?[ ]?(?:cm|mm"
    r"|inch(?:es)?)\b|\bto[ ](?:the[ ])?desired)[^.;(\[\n]{0,40}",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Heading:
    """A line that names a piece: its name, how often it is made, whether it surely names one.

    ``whole`` says that all parts that follow are worked in one piece.
    """

    name: str
    make: int
    sure: bool
    whole: bool = False


def heading_of(text: str, tokens: Sequence[Token]) -> Heading | None:
    """Read a line as the heading of a piece.

    Parameters
    ----------
    text : str
        The line as it was written.
    tokens : sequence of Token
        Its words.

    Returns
    -------
    Heading or None
        None where it is none.
    """
    line = text.strip(" \t\r\n*#=_~-•●◦▪■.:|–—<>")
    whole = bool(_ONE_PIECE.search(line))
    if not line or len(line) > 60 or ASIDE.search(line) or _FINISHES.search(line):
        return None
    found = _MAKE.search(line)
    make = 1
    if found:
        many = found["many"].lower()
        make = int(many) if many.isdigit() else NUMBERS[many]
        line = (line[: found.start()] + " " + line[found.end() :]).strip(" \t*#=_~-.:,;()[]–—")
    line = _ASIDE_IN_BRACKETS.sub("", line)  # "HEAD (white)"
    said = re.findall(r"[^\W\d_]+(?:'[^\W\d_]+)?", line)
    if not said or len(said) > 5 or any(token.type in KINDS - {"SKIP"} for token in tokens):
        return None
    if re.search(r"[.;!?]|\d{2}|[=(\[]", line):
        return None
    part = any(word.lower() in PIECES for word in said)
    if part and len(said) > 3 and not found and not line.isupper():
        part = False  # a sentence about the arms
    titled = line.isupper() or text.strip().endswith(":") or text.strip().startswith(("#", "**", "=", "--", "~"))
    if not (part or found or titled or len(said) <= 3 and line[:1].isupper()):
        return None
    return Heading(" ".join(line.split()), make, part or make > 1, whole)


def glossary(tokens: Sequence[Token]) -> bool:
    """Whether a line explains a term: "sc = single crochet", "inc: 2 sc in one st"."""
    kinds = [token.type for token in tokens if token.type not in ("STAR", "OTHER")]
    if not kinds or kinds[0] not in KINDS | {"ST", "LOOPS", "RING", "RND", "REPEAT", "SPACE", "STITCH"}:
        return False
    second = kinds[1:3]
    if kinds[0] == "RING" and "NUM" in kinds and "EQ" not in kinds:
        return False  # "Magic ring: 8 sc"
    if second[:1] == ["OPEN"] and kinds[-1:] == ["CLOSE"] and "NUM" not in kinds and kinds.count("OPEN") == 1:
        return True  # "st(s)", "sl st (slip stitch)"
    return bool(second) and (second[0] in ("EQ", "COLON", "DASH") or second in (["OPEN", "STITCH"], ["OPEN", "SLIP"]))


def open_ended(text: str) -> tuple[int, int] | None:
    """Where a line goes on until something is so long, which says no number of rounds; None where it doesn't."""
    found = _OPEN_ENDED.search(text)
    return found.span() if found else None


def joins_parts(text: str) -> bool:
    """Whether a round joins parts that were made before: legs to a body, sleeves to a yoke."""
    return bool(_JOINS.search(text))


def set_up(tokens: Sequence[Token]) -> bool:
    """Whether a line only makes the chain or the ring that a first round is worked into."""
    kinds = {token.type for token in tokens}
    works = kinds & (KINDS - {"CHAIN", "SLIP"})
    return not works and bool(kinds & {"CHAIN", "RING"}) and not kinds & {"FILL", "X", "REPEAT"}


def needs_an_answer(text: str, tokens: Sequence[Token]) -> bool:
    """Whether a line that is no round still tells stitches to be worked, so that it must not be passed over."""
    kinds = [token.type for token in tokens]
    if not set(kinds) & {"STITCH", "TOG", "INC", "DEC", "EVEN", "FILL"} or DEFINITION.search(text):
        return False
    if open_ended(text) or "EVEN" in kinds and "RND" in kinds:
        return True
    if _EXPLAINS.search(text) or _FINISHES.search(text) and "FILL" not in kinds:
        return False
    tells = set(kinds) & {"FILL", "EACH", "TO_LAST", "RING", "X", "TIMES_WORD", "TWICE", "STAR", "REPEAT"}
    counts = any(
        kind in ("NUM", "NUM_WORD") and set(kinds[max(0, at - 1) : at + 2]) & {"STITCH", "INC", "DEC", "TOG"}
        for at, kind in enumerate(kinds)
    )
    return bool(tells) and bool(set(kinds) & {"STITCH", "TOG", "INC", "DEC", "EVEN"}) or counts


def remark_of(text: str, tokens: Sequence[Token], heading: Heading | None) -> str:
    """Name the kind of remark that a line is: a key of :data:`counter.words.REMARKS`."""
    if heading is not None:
        return "heading"
    if glossary(tokens) or DEFINITION.search(text):
        return "term"
    if not any(token.type not in ("STAR", "DASH", "EQ", "OTHER", "SEP", "NL") for token in tokens):
        return "rule"
    if _FINISHES.search(text):
        return "finishing"
    if _MATERIAL.search(text):
        return "material"
    if _MEASURE.search(text):
        return "measure"
    return "note"
