"""Who is counted next: no more photos at a time than the machine has cores, in the order in which they came."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator

import streamlit as st
from streamlit.runtime import exists, get_instance
from streamlit.runtime.scriptrunner import get_script_run_ctx

from counter.basics.processes import cores

__all__ = ["TURNS", "Turns", "stop_where_nobody_is"]

#: Seconds from one look at the line to the next: a visitor who left makes room within them.
LOOK_INTERVAL_S = 1.0


class Turns:
    """A line of those who wait, for few who are served at a time.

    Each photo of a sheet takes a turn of its own, so that a single photo waits
    for one photo of it, not for all.

    Parameters
    ----------
    most : int
        Most that are served at a time.
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self._line: list[object] = []
        self._served = 0
        self._changed = threading.Condition()

    @contextlib.contextmanager
    def turn(self, told: Callable[[int], object]) -> Iterator[None]:
        """Wait for a turn, and have it while the block lasts.

        Parameters
        ----------
        told : callable
            Told again and again while it waits how many are before this one;
            what it raises ends the waiting.
        """
        mine, patience = object(), 0.0  # the first time it is told at once
        with self._changed:
            self._line.append(mine)
        try:
            while (before := self._before(mine, patience)) is not None:
                told(before)
                patience = LOOK_INTERVAL_S
        except BaseException:
            with self._changed:
                if mine in self._line:
                    self._line.remove(mine)
                else:
                    self._served -= 1
                self._changed.notify_all()
            raise
        try:
            yield
        finally:
            with self._changed:
                self._served -= 1
                self._changed.notify_all()

    def _before(self, mine: object, patience: float) -> int | None:
        """How many must be served first, after so many seconds; None once it is this one's turn."""
        with self._changed:
            if self._changed.wait_for(lambda: self._served < self.most and self._line[0] is mine, patience):
                self._line.pop(0)
                self._served += 1
                self._changed.notify_all()
                return None
            return self._line.index(mine) + 1


#: The line of this server.
TURNS = Turns(cores())


def stop_where_nobody_is() -> None:
    """End this run of the page where its visitor is gone: nobody waits for what it would find."""
    run = get_script_run_ctx()
    if run is not None and exists() and not get_instance().is_active_session(run.session_id):
        st.stop()
