"""Written rounds in other languages, by word lists: each word said in the words of ``rounds.lark``.

The lists stand beside the grammar, one file a language, and say where they come from. Which
language a text is in is found from its words: that of which it holds most, where that is more
than it holds of English.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from counter.plan.reworded import Reworded

__all__ = ["LANGUAGES", "Language", "Term", "language", "translate"]

#: Codes of the languages that are read beside English (ISO 639-1).
LANGUAGES = ("de", "es", "fr", "nl", "pt")
#: Fewest different words of a language, and the most of a text that is looked at to find it.
FEWEST_WORDS, MOST_CHARACTERS = 2, 20_000
#: Words of English patterns that other languages don't have.
_ENGLISH = re.compile(
    r"(?<![^\W\d_])(?:scs?|hdc|dcs?|inc|dec|sts?|stitch(?:es)?|rnds?|rounds?|chs?|chain|single|crochet|each|next|around|repeat|rep|"
    r"into|from|work|join|increase|decrease|the|magic|ring|sl)(?![^\W\d_])",
    re.IGNORECASE,
)


#: Stitches in US terms.
STITCHES = frozenset({"sc", "hdc", "dc", "tr"})
_WORD = re.compile(r"[0-9]+|[^\W\d_]+")


@dataclass(frozen=True)
class Term:
    """One entry of a word list: what finds it, and what it is in English."""

    pattern: re.Pattern
    said: str
    #: Whether it stands at the beginning of a line only.
    begins: bool


@dataclass(frozen=True)
class Language:
    """A word list, ready for use: its code, and its entries by their first word, the longest first."""

    code: str
    entries: dict[str, list[Term]]

    def find(self, text: str) -> Iterator[tuple[re.Match, Term]]:
        """Every place of a text where an entry stands, in order."""
        end = 0
        for word in _WORD.finditer(text):
            if word.start() < end:
                continue
            first = "#" if word.group().isdigit() else word.group().lower()
            for entry in self.entries.get(first, ()):
                found = entry.pattern.match(text, word.start())
                if found and not (
                    entry.begins and text[text.rfind("\n", 0, word.start()) + 1 : word.start()].strip(" *-")
                ):
                    yield found, entry
                    end = found.end()
                    break


@cache
def language(code: str) -> Language:
    """Return the word list of a language.

    Parameters
    ----------
    code : str
        One of :data:`LANGUAGES`.

    Returns
    -------
    Language
    """
    words: list[tuple[str, str]] = []
    stitches: list[tuple[str, str]] = []
    part = words
    for line in files("counter.plan").joinpath(f"languages/{code}.txt").read_text(encoding="utf-8").splitlines():
        if line.startswith("["):
            part = stitches if line == "[stitches]" else words
        elif line and not line.startswith("#"):
            native, _, english = line.rpartition(" = ")
            part += [(word.strip(), english.strip()) for word in native.split(", ")]
    every = list(stitches)
    for native, english in words:
        if "{st}" in native:
            every += [(native.replace("{st}", word), english.replace("{st}", name)) for word, name in stitches]
        else:
            every.append((native, english))
    entries: dict[str, list[Term]] = {}
    for native, english in sorted(every, key=lambda entry: -len(entry[0])):
        bare = native.lstrip("^!")
        word = _WORD.search(bare)
        first = "#" if bare[0] in "{0123456789" or word is None else word.group().lower()
        entries.setdefault(first, []).append(_entry(native, english))
    return Language(code, entries)


def _entry(native: str, english: str) -> Term:
    text = re.escape(native.lstrip("^!"))
    text = text.replace(r"\{n\}", r"(?P<n>[0-9]+)").replace(r"\{m\}", r"(?P<m>[0-9]+)").replace(r"\ ", "[ ]{1,3}")
    text = text.replace("[0-9]+)[ ]{1,3}", "[0-9]+)[ ]{0,3}")  # "2fM zus"
    flags = re.IGNORECASE if "!" not in native[:2] else 0
    last = "" if native.endswith("}") else r"(?![^\W\d_])"
    return Term(re.compile(text + last, flags), english, native.startswith("^"))


def _english(found: re.Match, entry: Term) -> str:
    values = found.groupdict()
    return entry.said.replace("{n}", values.get("n") or "").replace("{m}", values.get("m") or "")


def translate(text: Reworded) -> str:
    """Say a text in another language in the words of rounds.lark, where it is in one.

    Parameters
    ----------
    text : Reworded
        With plain signs; it is changed.

    Returns
    -------
    str
        Code of its language, "en" for English.
    """
    head = text.text[:MOST_CHARACTERS]
    words = {found.group().lower() for found in _WORD.finditer(head)}
    english = {found.group().lower() for found in _ENGLISH.finditer(head)}
    best, most = "en", max(len(english), FEWEST_WORDS - 1)
    for code in LANGUAGES:
        own = language(code)
        if len((words - english) & own.entries.keys()) < most:
            continue
        found = [(one.group(), entry.said) for one, entry in own.find(head) if one.group().lower() not in english]
        # A stitch by its name tells more than other words, which one letter doesn't.
        named = any(said in STITCHES and len(name) > 1 for name, said in found)
        many = len({said for _, said in found}) + named
        if many > most:
            best, most = code, many
    if best != "en":
        text.replace([(*found.span(), _english(found, entry)) for found, entry in language(best).find(text.text)])
    return best
