"""The whole count of one photo: photo -> piece -> rim -> prediction -> evidence -> posterior -> count.

:func:`count_photo` is never told what the round should hold.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping

import numpy as np

from counter.basics import words
from counter.basics.answer import DOUBTS, Count, Doubt, Refusal
from counter.basics.photo import Photo, Picture
from counter.basics.threads import one_thread_for_algebra
from counter.counting import band
from counter.counting.calibration import in_use
from counter.counting.hidden import with_hidden
from counter.counting.model import network
from counter.counting.posterior import signs_of, tally_of
from counter.counting.prediction import RimPrediction
from counter.counting.reading import Reading, read_rim
from counter.counting.rounds import count_rounds
from counter.counting.seam import RoundTally
from counter.counting.unwrap import rim_places, to_picture

__all__ = ["Reading", "count_photo", "load", "read_rim", "signs_of", "tally_of"]

#: Least chance of the seam for marks to be numbered from there; else from twelve o'clock (guessed).
CLEAR_SEAM_CHANCE = 0.3
#: Probability that the numbers shown to a person must add up to (ours).
SHOWN_PROBABILITY = 0.9
#: Depths of marks below the rim, in stitch widths; a prediction beyond is an outlier (guessed).
MARK_DEPTH_RANGE_WIDTHS = (-0.3, 1.0)


@one_thread_for_algebra()
def count_photo(
    photo: Photo | Picture,
    *,
    left_handed: bool = False,
    around: tuple[float, float, float] | None = None,
    number: int | None = None,
    on_seen: Callable[[np.ndarray], None] | None = None,
) -> Count | Refusal:
    """Count the stitches around the rim of a worked round.

    Parameters
    ----------
    photo : Photo, path, bytes, file object or ndarray of shape (H, W, 3), uint8
        The photo, or as for :func:`counter.basics.photo.read_photo`.
    left_handed : bool, optional
        Number the marks clockwise instead of counter-clockwise.
    around : tuple of float, optional
        (x, y, radius) of a ring round the piece that is meant, in pixels of the upright photo, where a
        person showed it; the rim is taken where it is seen near that ring.
    number : int, optional
        Which piece is meant where there are several, from 1, left to right.
    on_seen : callable, optional
        Told on the way what is seen, for whoever waits: the outline of the piece that was found, then the line that its
        top loops follow, each an array of shape (K, 2) of (x, y) in pixels of the upright photo.

    Returns
    -------
    Count or Refusal

    Raises
    ------
    TypeError
        If the photo is nothing of that.
    ValueError
        If the ring lies outside of the photo.

    Examples
    --------
    >>> from counter import count_photo
    >>> count_photo("sample_images/blue-disc.jpg").likely
    (24,)
    """
    began = time.perf_counter()
    read = read_rim(photo, around=around, number=number, on_seen=on_seen)
    if isinstance(read, Refusal):
        return read
    calibration = in_use()
    tally = tally_of(read.seen, calibration)
    sure = calibration.allows(signs_of(read, tally.posterior))
    rounds, _ = count_rounds(read.body, tally.stitches)
    marks, doubts = _in_the_photo(read, tally, left_handed)
    shrink = read.photo.shrink
    return Count(
        posterior={n: chance for n, chance in tally.posterior.items() if chance > 1e-4},
        sure=sure,
        likely=_likely(tally.posterior, sure),
        marks=marks,
        doubts=() if sure else doubts,
        centre=(read.centre[0] * shrink, read.centre[1] * shrink),
        outline=read.outline * shrink,
        shared=read.seen.pair.copy(),
        start_seen=_start_seen(read.seen),
        rounds=rounds,
        in_progress=None,
        reason="" if sure else words.READ_IN_MORE_WAYS,
        size=(read.photo.width, read.photo.height),
        seconds=time.perf_counter() - began,
    )


def load() -> None:
    """Load what the first count would otherwise wait for."""
    for name in ("piece", "rim", "band"):
        network(name)


def _likely(posterior: Mapping[int, float], sure: bool) -> tuple[int, ...]:
    """The numbers to show to a person, most probable first."""
    ranked = sorted(posterior, key=lambda n: -posterior[n])
    if sure:
        return (max(posterior, key=lambda n: (posterior[n], -n)),)
    enough = int(np.searchsorted(np.cumsum([posterior[n] for n in ranked]), SHOWN_PROBABILITY)) + 1
    return tuple(ranked[: max(2, min(enough, 4))])


def _start_seen(prediction: RimPrediction) -> bool:
    return bool(prediction.seam.max() >= CLEAR_SEAM_CHANCE)


def _in_the_photo(read: Reading, tally: RoundTally, left_handed: bool) -> tuple[np.ndarray, tuple[Doubt, ...]]:
    """Marks in working order, (x, y) in pixels of the photo, and places in doubt."""
    seen, centre, shrink = read.seen, read.centre, read.photo.shrink
    rim = rim_places(read.laid, len(seen.gap))
    width = 2 * np.pi / seen.supposed
    places = _in_working_order(tally.marks, tally.seam if _start_seen(seen) else 0.0, left_handed)
    deep = np.interp(places, np.arange(len(seen.depth)), seen.depth, period=len(seen.depth))
    marks = to_picture(rim, centre, places, np.clip(deep, *MARK_DEPTH_RANGE_WIDTHS) * width)
    doubts = []
    for place, kind in with_hidden(tally.doubts, seen.seen, tally.stitches):
        at = to_picture(rim, centre, np.array(place), np.array(band.MARK_DEPTH * width))
        nearest = int(np.argmin(np.linalg.norm(marks - at, axis=1)))
        x, y = (at * shrink).tolist()
        doubts.append(Doubt(nearest + 1, (x, y), DOUBTS[kind], kind))
    return marks * shrink, tuple(doubts)


def _in_working_order(places: np.ndarray, start: float, left_handed: bool) -> np.ndarray:
    """Places that ascend clockwise, from the start of the round on in the direction of work."""
    clockwise = np.roll(places, -int(np.searchsorted(places, start)))
    return clockwise if left_handed else clockwise[::-1]
