"""What a process does with its memory between photos."""

from __future__ import annotations

import contextlib
import ctypes

__all__ = ["give_back_large", "tidy"]

#: Bytes from which memory goes back at once, when it is let go. Smaller pieces are asked for so often that
#: a count would take longer.
LARGE_BYTES = 16 << 20
#: How the C library of Linux names that (malloc.h, M_MMAP_THRESHOLD).
M_MMAP_THRESHOLD = -3


def give_back_large() -> None:
    """Have large pieces of memory given back to the system as soon as they are let go.

    The C library of Linux begins so, and keeps ever larger pieces to itself once
    it saw some come and go: half of the memory of the page was free and given to
    nobody. Said once, the limit stays where it is (mallopt(3)). Other systems
    have no such call, and need none.
    """
    with contextlib.suppress(AttributeError, TypeError, OSError):
        ctypes.CDLL(None).mallopt(M_MMAP_THRESHOLD, LARGE_BYTES)


def tidy() -> None:
    """Have the system take back what was let go piece by piece.

    Counting leaves holes between what is still used, and each thread that
    counted has its own; the C library of Linux gives them back when it is asked
    (malloc_trim(3)), which takes about a millisecond.
    """
    with contextlib.suppress(AttributeError, TypeError, OSError):
        ctypes.CDLL(None).malloc_trim(0)
