"""What makers and photos are called in what is given away: by name, by initials or by number."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from counter.basics import words
from counter.group.match import MatchedPhoto

__all__ = ["CALLED", "called_by"]

#: Ways in which makers can be called.
CALLED = ("names", "initials", "numbers")


def called_by(places: Sequence[MatchedPhoto], called: str) -> tuple[MatchedPhoto, ...]:
    """Call makers and photos otherwise, before anything is said of them.

    Parameters
    ----------
    places : sequence of Place
    called : {"names", "initials", "numbers"}
        Initials that several makers share get a number. A photo's path may say
        who made it, so that photos have numbers unless makers have names.

    Returns
    -------
    tuple of Place
        In the same order.

    Raises
    ------
    ValueError
        If there is no such way.
    """
    if called not in CALLED:
        raise ValueError(f"makers are called by {', '.join(CALLED)}, not {called!r}")
    if called == "names":
        return tuple(places)
    everybody = sorted({place.maker for place in places if place.maker}, key=str.casefold)
    if called == "numbers":
        makers = {name: words.GROUP_MAKER_N.format(n=n) for n, name in enumerate(everybody, start=1)}
    else:
        short = {name: _initials(name) for name in everybody}
        many, so_far, makers = Counter(short.values()), Counter[str](), {}
        for name, letters in short.items():
            so_far[letters] += 1
            makers[name] = letters if many[letters] == 1 else f"{letters}{so_far[letters]}"
    return tuple(
        replace(place, photo=words.GROUP_PHOTO_N.format(n=n), maker=makers.get(place.maker, ""), home="")
        for n, place in enumerate(places, start=1)
    )


def _initials(name: str) -> str:
    parts = (part.strip("()") for part in name.replace("-", " ").split())
    return "".join(part[0].upper() for part in parts if part[:1].isalnum()) or "X"
