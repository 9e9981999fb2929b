"""One door: the whole job for one photo, on the way that everybody takes who has one.

The command line, the page, the evaluation and whoever counts many photos call
:func:`examine`: the photo is read, the printed mat undone where the piece lies
on it, the rim counted, a scale looked for where one is wanted, and the count
held against what the round should hold. The count is made before anything of
the expectation is looked at.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from counter.basics.answer import Count, Refusal
from counter.basics.photo import Photo, Picture, read_photo
from counter.comparing.check import Check, check
from counter.counting import count as counting
from counter.counting.pieces import find_pieces
from counter.lengths.plane import through
from counter.lengths.scale import COINS, NoScale, Scale, find_scale, mat_middle
from counter.plan import Plan

__all__ = ["Examination", "examine", "examine_every"]


@dataclass(frozen=True, eq=False)
class Examination:
    """All that came out for one photo.

    Parameters
    ----------
    photo : Photo or None
        The photo, upright; None where it could not be read.
    answer : Count or Refusal
        In pixels of the upright photo.
    scale : Scale, NoScale or None
        None where none was looked for; the mat's comes with the count.
    check : Check or None
        None where there is no count.
    seconds : float
        Time that reading, counting and looking for a scale took.
    """

    photo: Photo | None
    answer: Count | Refusal
    scale: Scale | NoScale | None
    check: Check | None
    seconds: float

    def counted(self) -> tuple[Photo, Count, Check]:
        """Photo, count and check of a piece that was counted.

        Raises
        ------
        ValueError
            Where it was refused.
        """
        if self.photo is None or self.check is None or isinstance(self.answer, Refusal):
            raise ValueError("what was refused has neither a count nor a check")
        return self.photo, self.answer, self.check


def examine(
    picture: Photo | Picture | Refusal,
    *,
    left_handed: bool = False,
    around: tuple[float, float, float] | None = None,
    number: int | None = None,
    on_seen: Callable[[np.ndarray], None] | None = None,
    lengths: bool = False,
    coin: str | None = None,
    expected: int | None = None,
    plan: Plan | None = None,
    round_number: int | None = None,
    twin: bool = False,
    since: int = 0,
    finished: bool | None = None,
    twin_holds: int | None = None,
    chain_counts: bool | None = None,
    uk: bool = False,
) -> Examination:
    """Do the whole job for one photo.

    Parameters
    ----------
    picture : Photo, path, bytes, file object or ndarray of shape (H, W, 3), uint8
        As for :func:`counter.basics.photo.read_photo`; a photo that was read
        already, or its refusal, is taken as it is.
    left_handed : bool, optional
        Number the marks clockwise.
    around, number, on_seen : optional
        Which piece is meant, and what is told on the way, as for :func:`counter.counting.count.count_photo`.
    lengths : bool, optional
        Look for a card, a coin or the mat. Without it a scale comes only from
        the mat, which the count itself looks for.
    coin : str, optional
        Which euro coin lies in the picture, as for
        :func:`counter.lengths.scale.find_scale`; lengths are then looked for.
    expected, plan, round_number, twin, since, finished, twin_holds, chain_counts, uk : optional
        What the round should hold, as for :func:`counter.comparing.check.check`.

    Returns
    -------
    Examination

    Raises
    ------
    TypeError
        If the picture is nothing of that.
    ValueError
        If there is no such coin, the ring lies outside of the photo, or as :func:`counter.comparing.check.check` says.

    Examples
    --------
    >>> from counter import examine
    >>> done = examine("sample_images/blue-disc.jpg", expected=23)
    >>> done.answer.stitches, done.answer.state, done.check.verdict.verdict
    (24, 'sure', 'over by 1')
    """
    if coin is not None and coin not in COINS:
        raise ValueError(f"the coin must be one of {', '.join(COINS)}, not {coin!r}")
    began = time.perf_counter()
    photo = picture if isinstance(picture, Photo | Refusal) else read_photo(picture)
    if isinstance(photo, Refusal):
        return Examination(None, photo, None, None, time.perf_counter() - began)
    answer, scale = _counted(photo, left_handed, around, number, on_seen, lengths or coin is not None, coin)
    seconds = time.perf_counter() - began
    held = None
    if isinstance(answer, Count):
        held = check(
            answer,
            expected=expected,
            plan=plan,
            round_number=round_number,
            twin=twin,
            since=since,
            finished=finished,
            twin_holds=twin_holds,
            chain_counts=chain_counts,
            uk=uk,
        )
    return Examination(photo, answer, scale, held, seconds)


def examine_every(picture: Photo | Picture, **wanted: Any) -> tuple[Examination, ...]:
    """Do the whole job for every piece of a photo, from left to right.

    Parameters
    ----------
    picture : Photo, path, bytes, file object or ndarray of shape (H, W, 3), uint8
        As for :func:`examine`.
    **wanted
        As for :func:`examine`, without `around` and `number`.

    Returns
    -------
    tuple of Examination
        One where there is one piece or none.

    Examples
    --------
    >>> from counter.examination import examine_every
    >>> [done.answer.stitches for done in examine_every("sample_images/blue-disc.jpg")]
    [24]
    """
    photo = picture if isinstance(picture, Photo) else read_photo(picture)
    number = 0 if isinstance(photo, Refusal) else len(find_pieces(photo.working))
    if number < 2:
        return (examine(photo, **wanted),)
    return tuple(examine(photo, number=which, **wanted) for which in range(1, number + 1))


def _counted(
    photo: Photo,
    left_handed: bool,
    around: tuple[float, float, float] | None,
    number: int | None,
    on_seen: Callable[[np.ndarray], None] | None,
    lengths: bool,
    coin: str | None,
) -> tuple[Count | Refusal, Scale | NoScale | None]:
    """The count, on the mat in its white middle, and the scale where one is wanted or the mat gives it."""
    middle = mat_middle(photo)
    answer: Count | Refusal | None = None
    pointed = around is not None or number is not None
    if middle is not None and not pointed:
        answer = counting.count_photo(middle.photo, left_handed=left_handed)
        if isinstance(answer, Count):
            answer = _carried(answer, np.linalg.inv(middle.homography), (photo.width, photo.height))
    if not isinstance(answer, Count):
        # No mat, or the piece is larger than its middle.
        whole = counting.count_photo(photo, left_handed=left_handed, around=around, number=number, on_seen=on_seen)
        answer = whole if answer is None or isinstance(whole, Count) else answer
    if middle is None and not lengths:
        return answer, None
    return answer, find_scale(photo, answer if isinstance(answer, Count) else None, coin=coin)


def _carried(count: Count, homography: np.ndarray, size: tuple[int, int]) -> Count:
    """A count with all its places taken to another picture."""

    def place(at: tuple[float, float]) -> tuple[float, float]:
        x, y = through(homography, np.array(at))
        return float(x), float(y)

    progress = count.in_progress
    return replace(
        count,
        marks=through(homography, count.marks),
        outline=through(homography, count.outline),
        centre=place(count.centre),
        doubts=tuple(replace(doubt, at=place(doubt.at)) for doubt in count.doubts),
        in_progress=replace(progress, loop=place(progress.loop)) if progress else None,
        size=size,
    )
