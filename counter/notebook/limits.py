"""How much a notebook takes: of entries, text, pixels and bytes."""

from __future__ import annotations

from counter.plan.tokens import MOST_CHARACTERS

__all__ = [
    "FEWEST_MARKS",
    "MOST_DATA_BYTES",
    "MOST_DOUBTS",
    "MOST_ENTRIES",
    "MOST_NOTE",
    "MOST_PHOTO_BYTES",
    "MOST_PLAN",
    "MOST_POINTS",
    "MOST_SENTENCE",
    "MOST_SOUGHT",
    "MOST_TITLE",
    "PHOTO_JPEG_QUALITY",
    "PHOTO_SIDE_PX",
    "SMALL_JPEG_QUALITY",
    "SMALL_SIDE_PX",
]

#: Long side in pixels and JPEG quality of a kept photo and of its small picture for the list.
PHOTO_SIDE_PX, PHOTO_JPEG_QUALITY = 1600, 85
SMALL_SIDE_PX, SMALL_JPEG_QUALITY = 240, 78
#: Most entries of a notebook; most characters of a title, a note and a written plan (as many as are
#: read of one); most bytes of a photo (noise at full contrast takes 2.5 million) and of an entry's data.
MOST_ENTRIES = 1000
MOST_TITLE, MOST_NOTE, MOST_PLAN = 100, 4000, MOST_CHARACTERS
MOST_PHOTO_BYTES, MOST_DATA_BYTES = 3_000_000, 800_000
#: Fewest marks that make a rim; most points of an outline and most places in doubt.
FEWEST_MARKS, MOST_POINTS, MOST_DOUBTS = 3, 5000, 100
#: Most characters of a sentence that comes with a count, and most words that are searched for.
MOST_SENTENCE, MOST_SOUGHT = 500, 10
