"""Text that can be printed, whatever it came from."""

from __future__ import annotations

import os

__all__ = ["printable", "shown"]


def shown(name: str) -> str:
    """A file's name as it can be printed: bytes that are no text and control codes are replaced.

    Parameters
    ----------
    name : str

    Returns
    -------
    str
    """
    return printable(os.fsencode(name).decode("utf-8", "replace"))


def printable(text: str) -> str:
    """Text with control codes replaced, by which it could play with a terminal.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return "".join(c if c.isprintable() else "?" for c in text)
