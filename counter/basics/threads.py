"""One thread for linear algebra while something is counted, and the caller's number of threads before and after."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator

from threadpoolctl import threadpool_limits

__all__ = ["one_thread_for_algebra"]

_lock = threading.Lock()
_inside = 0
_limits: threadpool_limits | None = None


@contextlib.contextmanager
def one_thread_for_algebra() -> Iterator[None]:
    """Have BLAS use one thread as long as this lasts.

    The matrices of a count are small: threads that wait for each other take
    two to four times as long over them, the more so the busier the machine.
    The number of threads belongs to the whole process, so that the first of
    several that count at once sets it and the last one puts it back.

    Yields
    ------
    None
    """
    global _inside, _limits  # noqa: PLW0603  the libraries' setting is one for the process, too
    with _lock:
        if _inside == 0:
            _limits = threadpool_limits(1, user_api="blas")
        _inside += 1
    try:
        yield
    finally:
        with _lock:
            _inside -= 1
            if _inside == 0 and _limits is not None:
                _limits.restore_original_limits()
                _limits = None
