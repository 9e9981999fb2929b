"""Rimtally: counts the stitches around the rim of a crocheted round from a photo."""

import os

# The matrices of a count are small, and threads that wait for each other take longer over them,
# the more so the busier the machine. The library reads this once, when numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from counter.basics.answer import Count, Doubt, InProgress, Refusal
from counter.basics.photo import Photo, read_photo
from counter.comparing.verdict import Verdict, compare
from counter.counting.count import count_photo

__all__ = ["Count", "Doubt", "InProgress", "Photo", "Refusal", "Verdict", "compare", "count_photo", "read_photo"]
