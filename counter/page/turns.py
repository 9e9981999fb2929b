"""Who is counted next: no more photos at a time than the machine has cores, single photos before those of sheets."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import streamlit as st
from streamlit.runtime import exists, get_instance
from streamlit.runtime.scriptrunner import get_script_run_ctx

from counter.basics.processes import cores

__all__ = ["TURNS", "Turns", "stop_where_nobody_is"]

#: Seconds from one look at the line to the next: a visitor who left makes room within them.
LOOK_INTERVAL_S = 1.0
#: Most single photos that go before a photo of a sheet.
MOST_OVERTAKEN = 8


class Turns:
    """A line of those who wait, for few who are served at a time.

    Each photo of a sheet takes a turn of its own. A single photo goes before
    all photos of sheets that wait, and where there is more than one place to
    be served, sheets leave one to it: so it waits for one photo of a sheet at
    most, and mostly for none. That a sheet is counted all the same, only
    :data:`MOST_OVERTAKEN` single photos go before each of its photos.

    Parameters
    ----------
    most : int
        Most that are served at a time.
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self._line: list[_Waiting] = []
        self._served: list[_Waiting] = []
        self._changed = threading.Condition()

    @contextlib.contextmanager
    def turn(self, told: Callable[[int], object], *, of_sheet: bool = False) -> Iterator[None]:
        """Wait for a turn, and have it while the block lasts.

        Parameters
        ----------
        told : callable
            Told again and again while it waits how many are before this one;
            what it raises ends the waiting.
        of_sheet : bool, optional
            It is one photo of many that a visitor gave together.
        """
        mine, patience = _Waiting(of_sheet), 0.0  # the first time it is told at once
        with self._changed:
            self._come(mine)
        try:
            while (before := self._before(mine, patience)) is not None:
                told(before)
                patience = LOOK_INTERVAL_S
        except BaseException:
            self._go(mine)
            raise
        try:
            yield
        finally:
            self._go(mine)

    def _come(self, mine: _Waiting) -> None:
        """Stand at the end of the line, or before the photos of sheets there."""
        place = len(self._line)
        while not mine.of_sheet and place and self._line[place - 1].yields:
            place -= 1
        for other in self._line[place:]:
            other.overtaken += 1
        self._line.insert(place, mine)

    def _before(self, mine: _Waiting, patience: float) -> int | None:
        """How many must be served first, after so many seconds; None once it is this one's turn."""
        with self._changed:
            if self._changed.wait_for(lambda: self._next() is mine, patience):
                self._line.remove(mine)
                self._served.append(mine)
                self._changed.notify_all()
                return None
            return self._line.index(mine) + 1

    def _next(self) -> _Waiting | None:
        """Who has a turn now: the first in the line that finds a place."""
        if len(self._served) == self.most:
            return None
        # One place is left to single photos, unless there is no other.
        sheets_may = sum(one.of_sheet for one in self._served) < max(1, self.most - 1)
        return next((one for one in self._line if sheets_may or not one.of_sheet), None)

    def _go(self, mine: _Waiting) -> None:
        with self._changed:
            (self._line if mine in self._line else self._served).remove(mine)
            self._changed.notify_all()


@dataclass(eq=False)
class _Waiting:
    """One photo in the line; `overtaken` says how many single photos went before it."""

    of_sheet: bool
    overtaken: int = 0

    @property
    def yields(self) -> bool:
        """A single photo goes before it."""
        return self.of_sheet and self.overtaken < MOST_OVERTAKEN


#: The line of this server.
TURNS = Turns(cores())


def stop_where_nobody_is() -> None:
    """End this run of the page where its visitor is gone: nobody waits for what it would find."""
    run = get_script_run_ctx()
    if run is not None and exists() and not get_instance().is_active_session(run.session_id):
        st.stop()
