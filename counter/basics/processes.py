"""Processes beside this one: how many at a time, and that none stays behind."""

from __future__ import annotations

import os
import time
from functools import cache
from threading import Thread

__all__ = ["cores", "end_with"]

#: Seconds between two looks whether the parent is still there.
WATCH_INTERVAL_S = 1.0


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@cache
def end_with(parent: int) -> None:
    """See that this process doesn't stay behind where its parent is killed; said again, nothing happens.

    Parameters
    ----------
    parent : int
        Number of the process.
    """

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(WATCH_INTERVAL_S)
        os._exit(1)

    Thread(target=watch, daemon=True).start()
