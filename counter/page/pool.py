"""Photos of many visitors, counted beside the server: by processes of their own, as many as there are cores.

A page for this machine alone has no use of it: what a single person asks for
comes one after the other, and another process would hold its memory for nothing.
The processes load nothing of the page.
"""

from __future__ import annotations

import gc
import os
import signal
from dataclasses import replace

import cv2
from joblib.externals.loky import ProcessPoolExecutor, get_reusable_executor
from joblib.externals.loky.process_executor import BrokenProcessPool

from counter.basics.answer import Count, Refusal
from counter.basics.memory import give_back_large, tidy
from counter.basics.photo import Photo
from counter.basics.processes import cores, end_with
from counter.counting.count import load
from counter.examination import Examination, examine

__all__ = ["begin", "end", "examined"]

#: Seconds after which processes without work end and give their memory back; the next photo waits for new ones.
IDLE_S = 600.0


def examined(photo: Photo | Refusal, *, around: tuple[float, float, float] | None = None) -> Examination:
    """Do the whole job for one photo beside this process, see :func:`counter.examination.examine`.

    Parameters
    ----------
    photo : Photo or Refusal
    around : tuple of float, optional
        Which piece is meant.

    Returns
    -------
    Examination

    Raises
    ------
    Exception
        Whatever comes of a photo that two processes die of.
    """
    if isinstance(photo, Refusal):
        return examine(photo, around=around)
    for last in (False, True):
        try:
            done = _processes().submit(_examined, photo, around).result()
            break
        except BrokenProcessPool:  # a process was killed, perhaps over another visitor's photo
            if last:
                raise
    # What comes from elsewhere is read-only again.
    return replace(done, photo=photo, answer=replace(done.answer) if isinstance(done.answer, Count) else done.answer)


def _processes() -> ProcessPoolExecutor:
    """Those that are there, or new ones."""
    return get_reusable_executor(cores(), timeout=IDLE_S, initializer=_begin, initargs=(os.getpid(),))


def begin() -> None:
    """Begin the processes, so that the first photo finds them ready."""
    for _ in range(cores()):
        _processes().submit(os.getpid)


def end() -> None:
    """End the processes once the photos in work are counted, and give back what the system holds for them."""
    _processes().shutdown(wait=True)
    gc.collect()


def _begin(parent: int) -> None:
    """Once a process: every core has a photo of its own, and the server says when it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    end_with(parent)
    cv2.setNumThreads(1)
    give_back_large()
    load()


def _examined(photo: Photo, around: tuple[float, float, float] | None) -> Examination:
    done = replace(examine(photo, around=around), photo=None, check=None)
    tidy()
    return done
