"""Rimtally: counts the stitches around the rim of a crocheted round from a photo."""

from counter.answer import Count, Doubt, InProgress, Refusal
from counter.count import count_photo
from counter.photo import Photo, read_photo
from counter.verdict import Verdict, compare

__all__ = ["Count", "Doubt", "InProgress", "Photo", "Refusal", "Verdict", "compare", "count_photo", "read_photo"]
