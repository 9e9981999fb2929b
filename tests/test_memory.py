import ctypes
import os
import platform
import subprocess
import sys

import pytest

from counter.basics import memory

#: MB that stay with a process which twice held a large array and let it go, with a small one made in between.
STAYING = """
import os
import numpy as np
from counter.basics.memory import give_back_large, tidy

def resident():
    return int(open("/proc/self/statm").read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6

{before}
started = resident()
for _ in range(2):
    large = np.ones(24 << 20, np.uint8)
    small = [np.ones(100) for _ in range(100)]
    del large
{after}
print(resident() - started)
"""


def staying(before="", after=""):
    # Nothing from outside may set the C library's limits.
    own = {name: value for name, value in os.environ.items() if not name.startswith(("MALLOC_", "GLIBC_"))}
    run = [sys.executable, "-c", STAYING.format(before=before, after=after)]
    told = subprocess.run(run, capture_output=True, text=True, env=own)
    assert told.returncode == 0, told.stderr
    return float(told.stdout)


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="other C libraries give memory back by themselves")
def test_large_memory_that_is_let_go_goes_back():
    # mallopt(3): once a larger piece was let go, its size is the new limit, and twice that stays on top.
    assert staying() > 15
    assert staying(before="give_back_large()") < 5
    assert staying(after="tidy()") < 5


@pytest.mark.parametrize("missing", [TypeError, AttributeError, OSError])
def test_elsewhere_nothing_happens(monkeypatch, missing):
    def library(name):
        raise missing

    monkeypatch.setattr(ctypes, "CDLL", library)
    memory.give_back_large()
    memory.tidy()
