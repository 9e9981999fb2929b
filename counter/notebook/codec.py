"""An entry as text and back, every value looked at; the same for the notebook's file, a zip and a browser's memory."""

from __future__ import annotations

import json
import math
import secrets
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from msgspec import UNSET, structs
from PIL import Image

from counter.basics import words
from counter.basics.answer import DOUBTS, Count, Doubt, InProgress
from counter.comparing.verdict import MOST_EXPECTED
from counter.notebook.checks import flag_of, moment_of, number_within, text_within, this_moment, whole_within
from counter.notebook.limits import (
    FEWEST_MARKS,
    MOST_DATA_BYTES,
    MOST_NOTE,
    MOST_PHOTO_BYTES,
    MOST_SENTENCE,
    MOST_TITLE,
)
from counter.notebook.pictures import bare_photo
from counter.notebook.schema import CountData, EntryData, converted, read
from counter.notebook.values import Entry, Goal, KeptMark

__all__ = [
    "KIND_OF",
    "as_text",
    "checked_entry",
    "entry_of",
    "entry_of_data",
    "entry_of_text",
    "from_text",
    "in_copy",
    "scaled",
    "scaled_marks",
]

#: Kinds of places in doubt by what earlier versions kept instead: the sentence as they said it.
KIND_OF = {
    "Here the round starts and ends: is this a stitch, or the loop and the yarn end?": "seam",
    "it is not clear that one stitch ends here": "end",
    "there may be two stitches here": "two",
    "this stitch is much wider than its neighbours": "wide",
    "this stitch is much narrower than its neighbours": "narrow",
    "part of the rim is hidden here": "hidden",
    "the whole rim is hidden": "all hidden",
}


def entry_of(
    count: Count,
    size: tuple[int, int],
    marks: Sequence[KeptMark] | None = None,
    *,
    confirmed: bool = False,
    goal: Goal | None = None,
    title: str = "",
    note: str = "",
    answers: Sequence[int | None] = (),
    by_hand: bool | None = None,
) -> Entry:
    """A count as it would be kept, with a new key; it isn't kept.

    Parameters
    ----------
    count, marks, confirmed, goal, title, note, answers, by_hand
        As in :meth:`Notebook.keep`.
    size : tuple of int
        (width, height) of the reduced photo beside which it stands.

    Returns
    -------
    Entry
        In pixels of that photo.

    Raises
    ------
    ValueError
        If a text, a mark or their number can't be.
    """
    if marks is None:
        marks = [KeptMark(float(x), float(y), n) for n, (x, y) in enumerate(count.marks, start=1)]
    now = this_moment()
    return checked_entry(
        Entry(
            secrets.token_hex(16), 1, now, now, title, note, scaled(count, size),
            scaled_marks(marks, count.size, size), confirmed, goal or Goal(), tuple(answers), bool(by_hand),
        ),
        work_out=by_hand is None,
    )  # fmt: skip


def entry_of_text(text: str | bytes) -> Entry:
    """Read what :func:`as_text` wrote, from anywhere, without its photo: every value is looked at.

    Parameters
    ----------
    text : str or bytes

    Returns
    -------
    Entry

    Raises
    ------
    ValueError
        If it is not such a text.
    """
    if len(text) > MOST_DATA_BYTES:
        raise ValueError(words.KEPT_WRONG["large"])
    try:
        return _entry(read(text, EntryData))
    except TypeError as error:
        raise ValueError(str(error)) from None


def from_text(text: str | bytes, picture: bytes, least: int | None = None) -> tuple[Entry, Image.Image]:
    """Read what :func:`as_text` wrote, from anywhere: every value is looked at.

    Parameters
    ----------
    text : str or bytes
    picture : bytes
        Its photo, a JPEG that holds nothing but a picture.
    least : int, optional
        As for :func:`bare_photo`.

    Returns
    -------
    entry : Entry
    photo : Image
        RGB.

    Raises
    ------
    ValueError
        If it is not such a text, or the photo not the one that was counted.
    """
    if len(picture) > MOST_PHOTO_BYTES:
        raise ValueError(words.KEPT_WRONG["large"])
    entry = entry_of_text(text)
    photo = bare_photo(picture, least)
    if photo.info["size"] != entry.count.size:
        raise ValueError(words.KEPT_WRONG["another photo"])
    return entry, photo


def checked_entry(entry: Entry, *, work_out: bool = False) -> Entry:
    """The same entry; ValueError where it can't be kept.

    Parameters
    ----------
    entry : Entry
    work_out : bool, optional
        Whether its marks were changed by hand isn't known, and follows from what differs without an answer.
    """
    text_within(entry.title, MOST_TITLE, "the title")
    text_within(entry.note, MOST_NOTE, "the note")
    flag_of(entry.confirmed)
    if not FEWEST_MARKS <= len(entry.marks) <= MOST_EXPECTED:
        raise ValueError(words.KEPT_MARKS.format(least=FEWEST_MARKS, most=MOST_EXPECTED, n=len(entry.marks)))
    own = [mark.own for mark in entry.marks if mark.own is not None]
    for number in own:
        whole_within(number, 1, len(entry.count.marks), "the number of a mark")
    if len(set(own)) < len(own):
        raise ValueError(words.KEPT_WRONG["twice"])
    width, height = entry.count.size
    for mark in entry.marks:
        # The rim may leave the frame a little.
        number_within(mark.x, -width, 2 * width, "the place of a mark")
        number_within(mark.y, -height, 2 * height, "the place of a mark")
    if len(entry.answers) > len(entry.count.doubts):
        raise ValueError(words.KEPT_WRONG["answers"])
    for answer in entry.answers:
        if answer is not None:
            whole_within(answer, -1, 1, "an answer")
    if work_out:
        answered = any(answer is not None for answer in entry.answers)
        return replace(entry, by_hand=bool(entry.corrections) and not answered)
    flag_of(entry.by_hand)
    return entry


def in_copy(
    points: Sequence[tuple[float, float]] | np.ndarray, size: tuple[int, int], kept: tuple[int, int]
) -> np.ndarray:
    """Places of a photo in a copy of it.

    Parameters
    ----------
    points : array of shape (N, 2)
        (x, y) in pixels of the photo.
    size, kept : tuple of int
        (width, height) of the photo and of the copy.

    Returns
    -------
    ndarray of shape (N, 2)
        Rounded to a thousandth of a pixel; the middle of the first pixel is (0, 0) in both.
    """
    return np.round((np.asarray(points, float).reshape(-1, 2) + 0.5) * (np.array(kept) / size) - 0.5, 3)


def scaled_marks(marks: Sequence[KeptMark], size: tuple[int, int], kept: tuple[int, int]) -> tuple[KeptMark, ...]:
    """Marks on a photo of another size."""
    points = [(mark.x, mark.y) for mark in marks]
    if not all(math.isfinite(v) for point in points for v in point):
        raise ValueError(words.KEPT_WRONG["place"])
    placed = in_copy(points, size, kept)
    return tuple(replace(mark, x=float(x), y=float(y)) for mark, (x, y) in zip(marks, placed, strict=True))


def scaled(count: Count, kept: tuple[int, int]) -> Count:
    """A count in pixels of a smaller copy of its photo.

    Parameters
    ----------
    count : Count
    kept : tuple of int
        (width, height) of the copy.

    Returns
    -------
    Count
        Places are rounded to a thousandth of a pixel; the middle of the first
        pixel is (0, 0) in both.
    """

    def at(point: tuple[float, float]) -> tuple[float, float]:
        x, y = in_copy([point], count.size, kept)[0]
        return float(x), float(y)

    working = count.in_progress
    return replace(
        count,
        marks=in_copy(count.marks, count.size, kept),
        outline=in_copy(count.outline, count.size, kept),
        shared=np.round(np.asarray(count.shared, float), 4),
        centre=at(count.centre),
        doubts=tuple(replace(doubt, at=at(doubt.at)) for doubt in count.doubts),
        in_progress=working and replace(working, loop=at(working.loop)),
        size=(kept[0], kept[1]),
    )


def as_text(entry: Entry) -> str:
    """All of an entry but its photo as JSON, as in an exported zip.

    Parameters
    ----------
    entry : Entry

    Returns
    -------
    str
        The same for the same entry; its revision is the file's own matter.
    """
    count, goal, working = entry.count, entry.goal, entry.count.in_progress
    data = {
        "key": entry.key,
        "kept": entry.kept.isoformat(),
        "changed": entry.changed.isoformat(),
        "title": entry.title,
        "note": entry.note,
        "confirmed": entry.confirmed,
        "goal": {
            "expected": goal.expected, "plan": goal.plan, "uk": goal.uk, "round": goal.round, "twin": goal.twin,
            "since": goal.since,
            # Only where there is one: older versions read what holds neither.
            **{name: said for name in ("twin_holds", "finished") if (said := getattr(goal, name)) is not None},
        },
        "marks": [{"x": mark.x, "y": mark.y, "own": mark.own} for mark in entry.marks],
        "answers": list(entry.answers),
        "by_hand": entry.by_hand,
        "count": {
            "posterior": {str(n): float(count.posterior[n]) for n in sorted(count.posterior)},
            "sure": bool(count.sure),
            "likely": [int(n) for n in count.likely],
            "marks": count.marks.tolist(),
            "doubts": [
                {"mark": int(d.mark), "at": [float(v) for v in d.at], "why": d.why, "kind": d.kind}
                for d in count.doubts
            ],
            "centre": [float(v) for v in count.centre],
            "outline": count.outline.tolist(),
            "shared": count.shared.tolist(),
            "start_seen": bool(count.start_seen),
            "rounds": None if count.rounds is None else int(count.rounds),
            "in_progress": working
            and {"done": int(working.done), "left": int(working.left), "loop": [float(v) for v in working.loop]},
            "reason": count.reason,
            "size": [int(v) for v in count.size],
            "seconds": round(float(count.seconds), 3),
        },
    }  # fmt: skip
    return json.dumps(data, ensure_ascii=False, allow_nan=False)


def entry_of_data(data: object) -> Entry:
    """Plain data, as from :func:`json.loads`, -> an entry, every value looked at; ValueError where one can't be."""
    return _entry(converted(data, EntryData))


def _entry(data: EntryData) -> Entry:
    """An entry of data whose every field is of its type and within its bounds.

    Version 1 kept no answers: nothing had been asked there, and marks that are
    not the photo's own had been changed by hand.
    """
    if (data.answers is UNSET) != (data.by_hand is UNSET):
        raise ValueError(words.KEPT_WRONG["by hand"])
    return checked_entry(
        Entry(
            data.key, 1, moment_of(data.kept), moment_of(data.changed), data.title, data.note, _count_of(data.count),
            tuple(KeptMark(mark.x, mark.y, mark.own) for mark in data.marks), data.confirmed,
            Goal(**structs.asdict(data.goal)), () if data.answers is UNSET else tuple(data.answers),
            data.by_hand is not UNSET and data.by_hand,
        ),
        work_out=data.by_hand is UNSET,
    )  # fmt: skip


def _count_of(data: CountData) -> Count:
    chances = {int(number): chance for number, chance in data.posterior.items()}
    if not 0 < sum(chances.values()) < 1.001 or max(chances) > MOST_EXPECTED:
        raise ValueError(words.KEPT_WRONG["probabilities"])
    if len(set(data.likely)) < len(data.likely) or not set(data.likely) <= chances.keys():
        raise ValueError(words.KEPT_WRONG["likely"])
    for text in (data.reason, *(doubt.why for doubt in data.doubts)):
        text_within(text, MOST_SENTENCE, "a reason")  # of half a character, too, which no file can hold
    if any(doubt.mark > len(data.marks) for doubt in data.doubts):
        raise ValueError(words.KEPT_WRONG["doubt"])
    marks, outline, shared = np.array(data.marks), np.array(data.outline), np.array(data.shared, float)
    others = [data.centre, *(doubt.at for doubt in data.doubts), *([data.in_progress.loop] if data.in_progress else [])]
    for places in (marks, outline, np.array(others)):
        # The rim may leave the frame a little. What isn't finite fails, too.
        if not ((places >= -np.array(data.size)) & (places <= 2 * np.array(data.size))).all():
            raise ValueError(words.KEPT_WRONG["outside"])
    if not np.isfinite([*chances.values(), *data.shared, data.seconds]).all():
        raise ValueError(words.KEPT_WRONG["fields"])
    under_way = data.in_progress
    return Count(
        posterior=chances,
        sure=data.sure,
        likely=tuple(data.likely),
        marks=marks,
        doubts=tuple(Doubt(doubt.mark, doubt.at, *_what_in_doubt(doubt.why, doubt.kind)) for doubt in data.doubts),
        centre=data.centre,
        outline=outline,
        shared=shared,
        start_seen=data.start_seen,
        rounds=data.rounds,
        in_progress=None if under_way is None else InProgress(under_way.done, under_way.left, under_way.loop),
        reason=data.reason,
        size=data.size,
        seconds=data.seconds,
    )


def _what_in_doubt(why: str, kind: str) -> tuple[str, str]:
    """What is in doubt at a place, in the words of today, and its kind; older versions kept the words alone."""
    if kind == "":
        kind = KIND_OF.get(why, "")
    elif kind not in DOUBTS:
        raise ValueError(words.KEPT_WRONG["doubt"])
    return DOUBTS.get(kind, why), kind
