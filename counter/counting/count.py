"""The whole count of one photo: every room in turn, top to bottom.

:func:`count_photo` is never told what the round should hold.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from scipy import ndimage

from counter.basics import words
from counter.basics.answer import DOUBTS, Count, Doubt, Refusal
from counter.basics.photo import Photo, Picture, read_photo
from counter.basics.threads import one_thread_for_algebra
from counter.counting import band
from counter.counting.braid import FINE, Braid, follow, look, look_again
from counter.counting.calibration import Calibration, Signs, in_use
from counter.counting.centre import find_worked
from counter.counting.loop.doubts import PlaceInDoubt
from counter.counting.loop.evidence import Evidence, WidthModel
from counter.counting.model import network
from counter.counting.piece import Piece
from counter.counting.rounds import count_rounds
from counter.counting.seam import RoundTally, tally_round
from counter.counting.unwrap import length_of, rim_places, to_picture
from counter.counting.width import FEWEST, MOST, find_width, refined

__all__ = ["Reading", "count_photo", "evidence_of", "load", "read_rim", "signs_of", "tally_of", "whole"]

#: Least share of the rim that must be in view.
LEAST_IN_VIEW = 0.3
#: Spread of the mean width that is left after the look at widths, jitter of single
#: stitches and drift of the local width (all of log width).
SPREAD, JITTER, DRIFT = 0.1, 0.16, 0.06
#: Numbers of stitches this factor away from the looked-at one are considered.
RANGE = 1.35
#: Least chance of the seam for marks to be numbered from there; else from twelve o'clock.
CLEAR_SEAM = 0.3
#: Probability that the numbers shown to a person must add up to.
SHOWN = 0.9
#: The rim doesn't show where its chance to be in view, smoothed over a share of a stitch, is less; from so many
#: stitches on that is a place to ask about.
HIDDEN, BLUR_VIEW, LEAST_HIDDEN = 0.5, 0.2, 0.6
#: Depths of marks below the rim, in stitch widths; what is said beyond is astray.
DEEP = (-0.3, 1.0)


@dataclass(frozen=True, eq=False)
class Reading:
    """A rim as the networks saw it.

    Parameters
    ----------
    photo : Photo
    laid : Piece
        With its outline along the top loops, in pixels of the working picture.
    centre : tuple of float
        (x, y) of the centre ring, in pixels of the working picture.
    body : ndarray of shape (rows, columns, 3), uint8
        The piece laid straight, see :func:`counter.counting.rounds.body_strip`.
    one_width : bool
        The first look names one width of a stitch, not two.
    seen : Braid
    """

    photo: Photo
    laid: Piece
    centre: tuple[float, float]
    body: np.ndarray
    one_width: bool
    seen: Braid


@one_thread_for_algebra()
def count_photo(
    photo: Photo | Picture,
    *,
    left_handed: bool = False,
    around: tuple[float, float, float] | None = None,
    number: int | None = None,
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
    read = read_rim(photo, around=around, number=number)
    if isinstance(read, Refusal):
        return read
    seen, laid, centre, shrink = read.seen, read.laid, read.centre, read.photo.shrink
    calibration = in_use()
    result = tally_of(seen, calibration)
    stitches = result.stitches

    rim = rim_places(laid, len(seen.gap))
    width = 2 * np.pi / seen.supposed
    places = _in_working_order(result.marks, result.seam if seen.seam.max() >= CLEAR_SEAM else 0.0, left_handed)
    deep = np.interp(places, np.arange(len(seen.depth)), seen.depth, period=len(seen.depth))
    marks = to_picture(rim, centre, places, np.clip(deep, *DEEP) * width)
    doubts = tuple(
        Doubt(_nearest(marks, at) + 1, tuple(float(v) for v in at * shrink), DOUBTS[kind], kind)
        for at, kind in (
            (to_picture(rim, centre, np.array(place), np.array(band.MARK_DEPTH * width)), kind)
            for place, kind in _with_hidden(result.doubts, seen, stitches)
        )
    )
    rounds, _ = count_rounds(read.body, stitches)
    posterior = result.posterior
    sure = calibration.allows(signs_of(read, posterior))
    ranked = sorted(posterior, key=lambda n: -posterior[n])
    enough = int(np.searchsorted(np.cumsum([posterior[n] for n in ranked]), SHOWN)) + 1
    likely = (stitches,) if sure else tuple(ranked[: max(2, min(enough, 4))])
    return Count(
        posterior={n: chance for n, chance in posterior.items() if chance > 1e-4},
        sure=sure,
        likely=likely,
        marks=marks * shrink,
        doubts=() if sure else doubts,
        centre=(centre[0] * shrink, centre[1] * shrink),
        outline=follow(laid, centre, seen, smooth=FINE).outline * shrink,
        shared=seen.pair.copy(),
        start_seen=bool(seen.seam.max() >= CLEAR_SEAM),
        rounds=rounds,
        in_progress=None,
        reason="" if sure else words.READ_IN_MORE_WAYS,
        size=(read.photo.width, read.photo.height),
        seconds=time.perf_counter() - began,
    )


def read_rim(
    photo: Photo | Picture,
    *,
    around: tuple[float, float, float] | None = None,
    number: int | None = None,
) -> Reading | Refusal:
    """Find the piece and look at its rim; nothing is counted yet.

    Parameters
    ----------
    photo, around, number
        As for :func:`count_photo`.

    Returns
    -------
    Reading or Refusal

    Raises
    ------
    TypeError, ValueError
        As :func:`count_photo`.
    """
    read = photo if isinstance(photo, Photo) else read_photo(photo)
    if isinstance(read, Refusal):
        return read
    pixels, shrink = read.working, read.shrink
    shown = None
    if around is not None:
        x, y, radius = (float(value) for value in around)
        if not (-radius < x < read.width + radius and -radius < y < read.height + radius):
            raise ValueError(f"the ring lies outside of the photo, which has {read.width} x {read.height} pixels")
        shown = (x / shrink, y / shrink, radius / shrink)
    found = find_worked(pixels, around=shown, number=number)
    if isinstance(found, Refusal):
        return replace(found, outlines=tuple(outline * shrink for outline in found.outlines))
    piece, centre = found.piece, found.centre
    rough = find_width(pixels, piece, centre)
    unread = Refusal("no stitches", "", (piece.outline * shrink,))
    if not rough:
        return unread
    seen, laid = _look_closely(pixels, piece, centre, rough[0].stitches)
    if seen.in_view < LEAST_IN_VIEW:
        return unread
    return Reading(read, laid, centre, found.body, len(rough) == 1, seen)


def load() -> None:
    """Load what the first count would otherwise wait for."""
    for name in ("piece", "rim", "band"):
        network(name)


def _look_closely(pixels: np.ndarray, piece: Piece, centre: tuple[float, float], rough: float) -> tuple[Braid, Piece]:
    """The rim looked at with its own width, along its own top loops."""
    seen = look(pixels, piece, centre, whole(rough))
    laid = follow(piece, centre, seen)
    seen = look(pixels, laid, centre, whole(refined(seen)))
    return look_again(pixels, laid, centre, whole(refined(seen)), known=seen), laid


def whole(number: float) -> int:
    """The whole number of stitches to suppose for a rough one."""
    return int(np.clip(round(number), FEWEST, MOST))


def evidence_of(seen: Braid, trust: float) -> tuple[Evidence, WidthModel, int, int]:
    """What a look says, as the closed-loop count takes it.

    Parameters
    ----------
    seen : Braid
    trust : float
        Share of the log-odds that counts, :attr:`counter.counting.calibration.Calibration.trust`.

    Returns
    -------
    evidence : Evidence
        Log-odds against how often a place is a middle, or a gap, at all.
    widths : WidthModel
    n_min, n_max : int
        Fewest and most stitches to consider.
    """
    usual = np.log(band.PLACES - 1)
    evidence = Evidence(
        middle=trust * (seen.middle + usual), gap=trust * (seen.gap + usual), seen=np.ones(len(seen.gap))
    )
    widths = WidthModel(centre=band.PLACES, spread=SPREAD, jitter=JITTER, drift=DRIFT)
    return evidence, widths, max(3, int(seen.supposed / RANGE)), int(np.ceil(seen.supposed * RANGE))


def tally_of(seen: Braid, calibration: Calibration) -> RoundTally:
    """The closed-loop count of a look, its probabilities calibrated."""
    evidence, widths, low, high = evidence_of(seen, calibration.trust)
    result = tally_round(evidence, seen.seam, widths, low, high)
    return replace(result, posterior=MappingProxyType(calibration.tempered(result.posterior)))


def signs_of(read: Reading, posterior: Mapping[int, float]) -> Signs:
    """What speaks for the most probable number of a rim.

    Parameters
    ----------
    read : Reading
    posterior : mapping of int to float
        Calibrated.

    Returns
    -------
    Signs
    """
    stitches = max(posterior, key=lambda n: (posterior[n], -n))
    by_width = refined(read.seen)
    return Signs(
        probability=posterior[stitches],
        one_width=read.one_width,
        in_view=read.seen.in_view,
        seam=float(read.seen.seam.max()),
        off_width=max(by_width, stitches) / min(by_width, stitches),
        pitch_px=length_of(read.laid.outline) / stitches,
    )


def _in_working_order(places: np.ndarray, start: float, left_handed: bool) -> np.ndarray:
    """Places that ascend clockwise, from the start of the round on in the direction of work."""
    clockwise = np.roll(places, -int(np.searchsorted(places, start)))
    return clockwise if left_handed else clockwise[::-1]


def _with_hidden(doubts: tuple[PlaceInDoubt, ...], seen: Braid, stitches: int) -> list[PlaceInDoubt]:
    """Places in doubt with the stretches of the rim that don't show, the longest first, behind the seam."""
    places = len(seen.seen)
    pitch = places / stitches
    shut = ndimage.gaussian_filter1d(seen.seen, BLUR_VIEW * pitch, mode="wrap") < HIDDEN
    first = [doubt for doubt in doubts if doubt.kind == "seam"]
    hidden: list[tuple[int, PlaceInDoubt]] = []
    if shut.any() and not shut.all():
        begin = int(np.argmin(shut))
        run, _ = ndimage.label(np.roll(shut, -begin))
        for (at,) in ndimage.find_objects(run):
            middle = (begin + (at.start + at.stop - 1) / 2) % places
            hidden.append((at.stop - at.start, PlaceInDoubt(float(middle), "hidden")))
    kept = first
    longest = [doubt for length, doubt in sorted(hidden, key=lambda one: -one[0]) if length >= LEAST_HIDDEN * pitch]
    for doubt in [*longest, *(doubt for doubt in doubts if doubt.kind != "seam")]:
        apart = [abs((doubt.place - other.place + places / 2) % places - places / 2) for other in kept]
        if all(far > pitch for far in apart):
            kept.append(doubt)
    return kept


def _nearest(marks: np.ndarray, at: np.ndarray) -> int:
    return int(np.argmin(np.linalg.norm(marks - at, axis=1)))
