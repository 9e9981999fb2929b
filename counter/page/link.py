"""A plan and its round as part of the page's address, so that a reload or a bookmark finds them again."""

from __future__ import annotations

import base64
import binascii
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from counter.comparing.verdict import MOST_EXPECTED

__all__ = ["LONGEST_LINK", "LONGEST_TEXT", "LinkedPlan", "pack", "unpack"]

#: Most characters of a plan that the page takes, and of what stands for it in the address:
#: servers in front of a page often refuse addresses of more than 8,000.
LONGEST_TEXT, LONGEST_LINK = 20_000, 6_000
#: How the address says whether the chain that a round begins with counts.
CHAIN = {True: "counts", False: "not"}
#: Most characters of the name of a piece or a size.
LONGEST_NAME = 80


@dataclass(frozen=True)
class LinkedPlan:
    """What the address says.

    Parameters
    ----------
    text : str
        The plan as it was pasted; empty without one.
    round : int or None
        Number of the round on the hook; None where the photo is to say.
    uk : bool
        True for UK terms.
    piece, size : str or None
        Names of the piece and of the size that are made; None where the pattern has one, or the first.
    chain : bool or None
        Whether the chain that a round begins with counts as a stitch; None where nobody said.
    """

    text: str = ""
    round: int | None = None
    uk: bool = False
    piece: str | None = None
    size: str | None = None
    chain: bool | None = None


def pack(kept: LinkedPlan) -> str | None:
    """Write a plan and its round as the query of an address.

    Parameters
    ----------
    kept : Kept

    Returns
    -------
    str or None
        "?plan=...&round=4"; empty without a plan; None where the plan is too
        long for an address.
    """
    if not kept.text.strip():
        return ""
    packed = base64.urlsafe_b64encode(zlib.compress(kept.text.encode("utf-8", "replace"), 9)).decode().rstrip("=")
    if len(packed) > LONGEST_LINK:
        return None
    query = {"plan": packed}
    if kept.round is not None:
        query["round"] = str(kept.round)
    if kept.uk:
        query["terms"] = "uk"
    for name, value in (("piece", kept.piece), ("size", kept.size)):
        if value:
            query[name] = value[:LONGEST_NAME]
    if kept.chain is not None:
        query["chain"] = CHAIN[kept.chain]
    return "?" + urlencode(query)


def unpack(query: Mapping[str, str]) -> LinkedPlan:
    """Read what :func:`pack` wrote.

    Parameters
    ----------
    query : mapping of str to str
        Names and values of the address's query, from anywhere: nothing in it
        is trusted, and no more than :data:`LONGEST_TEXT` characters come out.

    Returns
    -------
    Kept
        Without a plan where the query holds none that can be read.
    """
    packed = query.get("plan", "")
    if not packed or len(packed) > LONGEST_LINK:
        return LinkedPlan()
    try:
        data = base64.b64decode(packed + "=" * (-len(packed) % 4), altchars=b"-_", validate=True)
        # What unpacks to more than could have been packed is cut there, not unpacked.
        text = zlib.decompressobj().decompress(data, 4 * LONGEST_TEXT).decode("utf-8", "replace")[:LONGEST_TEXT]
    except (binascii.Error, zlib.error, ValueError):
        return LinkedPlan()
    number = query.get("round", "")
    known = number.isascii() and number.isdigit() and len(number) < 5 and 1 <= int(number) <= MOST_EXPECTED
    piece, size = (query.get(name, "")[:LONGEST_NAME] or None for name in ("piece", "size"))
    chain = next((counts for counts, said in CHAIN.items() if said == query.get("chain")), None)
    return LinkedPlan(text, int(number) if known else None, query.get("terms") == "uk", piece, size, chain)
