"""Closed-loop count: a circular hidden semi-Markov model over the rim.

The rim is a loop of M places. A count of N is a way to cut the loop into N
stitches; each cut is a gap between two stitches. Three things are hidden:

* the gaps, whole places g(1) ... g(N) in order round the loop;
* the local scale of each stitch, a state of a grid of widths equally spaced in
  the logarithm, which drifts from stitch to stitch (a random walk, reflected at
  the ends of the grid) and must come back to itself where the loop closes;
* the place of the middle of each stitch, which lies near the half of its width.

A stitch of scale w is d places wide with the probability p(d | w), lognormal
round w, cut off at :data:`CUT` deviations and normalised over whole places. The
evidence at a gap and at a middle are likelihood ratios against any other place,
so that their product is p(evidence | loop) but for a constant. With Z(N) the
sum of the weights of all loops of N stitches and Z0(N) the same sum without
evidence,

    p(N | evidence)  ~  p(N) Z(N) / Z0(N)

exactly: no number of stitches is favoured for having more loops, or more
places that carry evidence. On a closed loop the mean width *is* M / N, so the
prior p(N) comes from the supposed mean width alone:
p(N) ~ exp(-(log(M / N / centre) / spread)^2 / 2).

Sources: L. R. Rabiner, "A tutorial on hidden Markov models and selected
applications in speech recognition", Proc. IEEE 77(2), 1989, sections III and
IV-D (forward and backward sums, best path, explicit durations). A loop is
opened at the first gap behind a seam: the sum over loops is the trace of one
turn's transfer matrix, a column for each possible first gap and scale.

How it is made fast, and what that costs: sweeps go from stitch to stitch, each
scale one banded matrix product over a window of places. First gaps and edges
of windows that can hold next to nothing are left out; what they could have held
is bounded from above by sums over open chains (which count every loop, and
more), and if the bound on the posterior exceeds :data:`LOST` the sweep is done
again with less left out. :attr:`Tally.truncated` says what the bound came to.
On a long rim with hardly any evidence nothing can be left out; then places are
first taken together in pairs, which keeps the likelihood but rounds the widths.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.lib.stride_tricks import as_strided, sliding_window_view
from scipy import linalg, ndimage, special

__all__ = ["Evidence", "Odds", "PlaceInDoubt", "Tally", "WidthModel", "odds", "tally"]

#: Counts whose mean width is further from the supposed one than this many
#: `spread` are not considered.
REACH = 3.0
#: Local widths on one rim vary from 0.7 to 1.4 of their mean (seen on real
#: photos): how far the grid of scales goes on beyond the mean widths considered.
ROOM = np.log(1.4)
#: Widths of one stitch are cut off at this many deviations from its scale.
CUT = 2.5
#: Distance of neighbouring scales as a multiple of `jitter`; the sum of normal
#: laws that far apart is flat to 0.03%.
FINENESS = 1.5
#: Least drift: no hand is as even as that, and scales that nothing leads to would
#: leave the range of floating-point numbers.
LEAST_DRIFT = 0.01
#: Most scales on the grid.
MOST_SCALES = 16
#: Narrowest mean width, in places: below it widths can't be told apart.
NARROWEST = 2.0
#: Deviation of a stitch's middle from the half of its width, as a share of the
#: width: tops sit a little off their posts (common practice; the value is ours).
OFF_CENTRE = 0.08
#: Evidence beyond this many nats (odds of 10^13) is taken for certain.
CERTAIN = 30.0
#: Largest share of the posterior that may be lost to what is left out.
LOST = 1e-6
#: What is left out at first, as a share of the sum over loops: at the start, and
#: at either edge of each window.
AT_START, AT_EDGE = 1e-9, 1e-10
#: Nothing is left out on loops of so few places.
FEW = 48
#: Most multiplications for the sums over one loop; where it would take more, on
#: long rims without clear evidence, places are taken together in pairs ...
WORK = 1.5e9
#: ... as long as the supposed width stays this many places.
THINNEST = 5.0
#: Rows of a block of a banded matrix: small wastes calls, large wastes zeros.
ROWS = 16
#: Most numbers kept of a forward sweep at once, in bytes.
MEMORY = 64e6
#: How many possible first gaps are followed at a time, and at most, for the best loop ...
BATCH, MOST_STARTS = 16, 48
#: ... which ends where all others together hold less than this share.
ASIDE = 1e-3
#: A gap or mark is where it is said to be if it lies this near, as a share of the
#: stitch's width (the same share that matches a mark with its truth).
NEAR = 0.35
#: A gap less probable than this, or a further one more probable than its
#: complement, is in doubt. Probabilities here are those before the temperature,
#: which makes 0.75 of 0.9.
CLEAR = 0.9
#: A stitch this much wider or narrower than the median of its neighbours is odd.
ODD = 1.6
#: Neighbours on either side that an odd width is held against.
NEIGHBOURS = 3


@dataclass(frozen=True, eq=False)
class Evidence:
    """What is seen at each place of the rim.

    Places are equally spaced along the rim, and the last is next to the first.

    Parameters
    ----------
    middle, gap : ndarray of shape (M,), float
        Log-likelihood ratio, in nats, that the place is the middle of a
        stitch, or the gap between two, against any other place. Minus infinity
        rules the place out; other values beyond :data:`CERTAIN` either way
        count as that.
    seen : ndarray of shape (M,), float
        Weight of the evidence, 0 to 1: 0 where the rim is hidden (finger, hook,
        frame), 1 in full view.

    Raises
    ------
    ValueError
        If the arrays are not one-dimensional and equally long, or hold values
        that mean nothing.
    """

    middle: np.ndarray
    gap: np.ndarray
    seen: np.ndarray

    def __post_init__(self) -> None:
        for name in ("middle", "gap", "seen"):
            array = np.array(getattr(self, name), float)
            array.flags.writeable = False
            object.__setattr__(self, name, array)
        shape = self.gap.shape
        if len(shape) != 1 or self.middle.shape != shape or self.seen.shape != shape:
            raise ValueError(
                "evidence: middle, gap and seen must be one-dimensional and equally long, "
                f"not {self.middle.shape}, {shape} and {self.seen.shape}"
            )
        for name in ("middle", "gap"):
            array = getattr(self, name)
            if np.isnan(array).any() or (array == np.inf).any():
                raise ValueError(f"evidence: {name} must not hold NaN or plus infinity")
        if not ((self.seen >= 0) & (self.seen <= 1)).all():
            raise ValueError("evidence: seen must lie between 0 and 1")


@dataclass(frozen=True)
class WidthModel:
    """How wide stitches are.

    Parameters
    ----------
    centre : float
        Most likely mean width, in places.
    spread : float
        Standard deviation of the logarithm of the mean width.
    jitter : float
        Standard deviation of the logarithm of one stitch's width round the
        local scale.
    drift : float, optional
        Standard deviation of the change of the logarithm of the local scale
        from one stitch to the next; less than :data:`LEAST_DRIFT` counts as that.

    Raises
    ------
    ValueError
        If a value is not a positive number (`drift`: not negative).
    """

    centre: float
    spread: float
    jitter: float
    drift: float = 0.06

    def __post_init__(self) -> None:
        for name in ("centre", "spread", "jitter"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0):
                raise ValueError(f"width model: {name} must be a positive number, not {value}")
        if not (np.isfinite(self.drift) and self.drift >= 0):
            raise ValueError(f"width model: drift must be 0 or a positive number, not {self.drift}")


class PlaceInDoubt(NamedTuple):
    """A place of the loop that a person should look at.

    Parameters
    ----------
    place : float
        Where, in places, [0, M).
    kind : str
        What is in doubt there, a key of :data:`counter.basics.answer.DOUBTS`.
    """

    place: float
    kind: str


@dataclass(frozen=True, eq=False)
class Odds:
    """How many stitches stand on the loop.

    Parameters
    ----------
    posterior : mapping of int to float
        Probability of each number considered, ascending; adds up to 1.
    log_evidence : float
        Logarithm of the probability of the evidence under the model, against that
        of a loop without stitches; 0 where nothing is seen.
    truncated : float
        Bound on the share of the posterior that was left out for speed.
    """

    posterior: Mapping[int, float]
    log_evidence: float
    truncated: float

    @property
    def stitches(self) -> int:
        """The most probable number of stitches (the lowest of equals)."""
        return max(self.posterior, key=lambda n: (self.posterior[n], -n))

    @property
    def probability(self) -> float:
        """Probability of :attr:`stitches`, 0 to 1."""
        return self.posterior[self.stitches]


@dataclass(frozen=True, eq=False)
class Tally(Odds):
    """How many stitches stand on the loop, and where.

    Parameters
    ----------
    posterior, log_evidence, truncated
        As in :class:`Odds`.
    gaps : ndarray of shape (stitches,), float
        Place of the gap before each stitch on the best loop of
        :attr:`stitches` stitches, ascending, [0, M).
    marks : ndarray of shape (stitches,), float
        Place of the middle of each stitch of that loop, [0, M); the last may
        lie behind the loop's start, all others ascend.
    gap_clear, mark_clear : ndarray of shape (stitches,), float
        Probability, over all loops of all numbers, that a gap (the middle of a
        stitch) lies within :data:`NEAR` of the stitch's width of each gap
        (mark), 0 to 1.
    gap_chance, middle_chance : ndarray of shape (M,), float
        Probability, over all loops of all numbers, that a gap (the middle of a
        stitch) lies at each place, 0 to 1.
    doubts : tuple of PlaceInDoubt
        Where a look may change the count, most doubtful first.
    """

    gaps: np.ndarray
    marks: np.ndarray
    gap_clear: np.ndarray
    mark_clear: np.ndarray
    gap_chance: np.ndarray
    middle_chance: np.ndarray
    doubts: tuple[PlaceInDoubt, ...]

    def __post_init__(self) -> None:
        for array in (
            self.gaps,
            self.marks,
            self.gap_clear,
            self.mark_clear,
            self.gap_chance,
            self.middle_chance,
        ):
            array.flags.writeable = False


def odds(evidence: Evidence, widths: WidthModel, *, n_min: int = 5, n_max: int = 130) -> Odds:
    """Say how probable each number of stitches is, in a third of the time of :func:`tally`.

    Parameters
    ----------
    evidence, widths, n_min, n_max
        As for :func:`tally`.

    Returns
    -------
    Odds
        What :func:`tally` says of the numbers.

    Raises
    ------
    ValueError
        As :func:`tally`.
    """
    return _reckoned(evidence, widths, n_min, n_max, places=False).odds


def tally(evidence: Evidence, widths: WidthModel, *, n_min: int = 5, n_max: int = 130) -> Tally:
    """Count the stitches on a closed loop.

    Parameters
    ----------
    evidence : Evidence
        What is seen at each place; 8 to 16 places a stitch are enough.
    widths : WidthModel
        How wide stitches are.
    n_min, n_max : int, optional
        Fewest and most stitches to consider.

    Returns
    -------
    Tally

    Raises
    ------
    ValueError
        If no number of stitches in the range fits on the loop, or the evidence
        rules out every loop.
    """
    reckoned = _reckoned(evidence, widths, n_min, n_max, places=True)
    loop, sums, seam, thin = reckoned.loop, reckoned.sums, reckoned.seam, reckoned.thin
    places, size = len(evidence.gap), loop.places
    gaps, marks = (
        ((at + seam + 0.5) * (places / size) - 0.5) % places for at in _best_loop(loop, sums, reckoned.odds.stitches)
    )
    first = int(np.argmin(gaps))
    gaps, marks = np.roll(gaps, -first), np.roll(marks, -first)
    gap_chance, middle_chance = (np.roll(chance, seam) for chance in _chances(loop, sums))
    if thin is not None:
        gap_chance, middle_chance = gap_chance @ thin, middle_chance @ thin
    wide = np.diff(gaps, append=gaps[0] + places)
    # Round a gap the stitches on both sides say what is near.
    gap_clear = _within(gap_chance, gaps, NEAR * np.minimum(wide, np.roll(wide, 1)))
    mark_clear = _within(middle_chance, marks, NEAR * wide)
    return Tally(
        posterior=reckoned.odds.posterior,
        log_evidence=reckoned.odds.log_evidence,
        truncated=reckoned.odds.truncated,
        gaps=gaps,
        marks=marks,
        gap_clear=np.minimum(gap_clear, 1),
        mark_clear=np.minimum(mark_clear, 1),
        gap_chance=gap_chance,
        middle_chance=middle_chance,
        doubts=_doubts(gaps, wide, gap_clear, gap_chance, evidence.seen),
    )


class _Reckoned(NamedTuple):
    """The odds, and what they were reckoned from.

    Parameters
    ----------
    odds : Odds
    loop : _Loop
        Opened behind the seam.
    sums : _Sums
    seam : int
        Place of the loop's row 0.
    thin : ndarray of shape (loop.places, M), float, or None
        Where places were taken together: which place belongs to which.
    """

    odds: Odds
    loop: _Loop
    sums: _Sums
    seam: int
    thin: np.ndarray | None


def _reckoned(evidence: Evidence, widths: WidthModel, n_min: int, n_max: int, *, places: bool) -> _Reckoned:
    """Reckon how probable each number is and, where `places` is true, the sums that say where stitches stand."""
    whole = size = len(evidence.gap)
    middle, gap = _weighed(evidence.middle, evidence.seen), _weighed(evidence.gap, evidence.seen)
    thin = None
    while True:
        scaled = widths if size == whole else replace(widths, centre=widths.centre * size / whole)
        shape = _shape(size, scaled, n_min, n_max)
        numbers = shape.numbers
        looked = [ratio if thin is None else _thinned(thin, ratio) for ratio in (middle, gap)]
        if np.isneginf(looked).all(axis=1).any():
            raise ValueError(_NO_LOOP)
        seam = _seam(looked[1], scaled.centre)
        loop, bonus = _balanced(shape, *(np.roll(ratio, -seam) for ratio in looked))
        log_prior = -0.5 * (np.log(whole / numbers / widths.centre) / widths.spread) ** 2
        log_prior -= special.logsumexp(log_prior)
        favour = log_prior - shape.log_loops - bonus * numbers
        most_favour = favour.max()
        favour = np.exp(favour - most_favour)
        coarser = -(-size // 2)
        may_thin = widths.centre * coarser / whole >= THINNEST
        sums = _sum_over_loops(loop, favour, WORK if may_thin else np.inf, places=places)
        if sums is not None:
            break
        size, thin = coarser, _thinning(whole, coarser)

    chance = favour * sums.by_start.sum(axis=0)
    log_evidence = float(np.log(chance.sum()) + most_favour + loop.log_unit)
    chance /= chance.sum()
    posterior = MappingProxyType(dict(zip(numbers.tolist(), chance.tolist(), strict=True)))
    return _Reckoned(Odds(posterior, log_evidence, sums.lost), loop, sums, seam, thin)


def _weighed(ratio: np.ndarray, seen: np.ndarray) -> np.ndarray:
    """Log-likelihood ratios that count, weighed by how well each place is seen."""
    limited = np.where(np.isneginf(ratio), -np.inf, np.clip(ratio, -CERTAIN, CERTAIN))
    return np.where(seen > 0, limited, 0) * seen


def _thinning(places: int, size: int) -> np.ndarray:
    """Matrix (size, places) that averages over the places that each of fewer, wider places covers."""
    edges = np.arange(size + 1) * (places / size)
    place = np.arange(places)
    shared = np.minimum(edges[1:, None], place + 1) - np.maximum(edges[:-1, None], place)
    return np.maximum(shared, 0) * (size / places)


def _thinned(thin: np.ndarray, ratio: np.ndarray) -> np.ndarray:
    """Log-likelihood ratio of wider places: the mean of the ratios, for it may be at any of them."""
    with np.errstate(divide="ignore"):
        return np.log(thin @ np.exp(ratio))


# ---- widths -----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Shape:
    """The model of widths on a loop of some places, without evidence.

    Parameters
    ----------
    places : int
        M.
    numbers : ndarray of shape (C,), int
        Numbers of stitches considered, ascending by 1.
    scales : ndarray of shape (K,), float
        Grid of local scales, in places.
    narrow : tuple of int
        Narrowest stitch of each scale, in places.
    share : tuple of ndarray
        Probability of each width of each scale, from `narrow` up; adds up to 1.
    drift : ndarray of shape (K, K), float
        Probability of the next stitch's scale, symmetric.
    log_loops : ndarray of shape (C,), float
        log Z0(N): summed weight of all loops of N stitches.
    """

    places: int
    numbers: np.ndarray
    scales: np.ndarray
    narrow: tuple[int, ...]
    share: tuple[np.ndarray, ...]
    drift: np.ndarray
    log_loops: np.ndarray


# Room for every number of stitches that is counted, with every amount of room at the seam: some 10 MB.
@lru_cache(maxsize=1024)
def _shape(places: int, widths: WidthModel, n_min: int, n_max: int) -> _Shape:
    reach = np.exp(REACH * widths.spread)
    fewest = max(n_min, 1, int(np.ceil(places / (widths.centre * reach))))
    most = min(n_max, int(places / NARROWEST), int(places * reach / widths.centre))
    if most < fewest:
        raise ValueError(
            f"no number of stitches from {n_min} to {n_max} fits on a loop of {places} places "
            f"with stitches {widths.centre:g} places wide: widen the range, or use more places"
        )
    numbers = np.arange(fewest, most + 1)
    low, high = np.log(places / most) - ROOM, np.log(places / fewest) + ROOM
    step = max(FINENESS * widths.jitter, (high - low) / (MOST_SCALES - 1))
    count = int(np.ceil((high - low) / step)) + 1
    log_scales = (low + high) / 2 + step * (np.arange(count) - (count - 1) / 2)
    # Scales between two of the grid are taken for the nearer one.
    deviation = np.hypot(widths.jitter, step / np.sqrt(12))
    narrow, share = [], []
    for log_scale in log_scales:
        first = max(2, int(np.floor(np.exp(log_scale - CUT * deviation))))
        last = min(places, max(first, int(np.ceil(np.exp(log_scale + CUT * deviation)))))
        width = np.arange(min(first, last), last + 1)
        weight = np.exp(-0.5 * ((np.log(width) - log_scale) / deviation) ** 2) / width
        narrow.append(int(width[0]))
        share.append(weight / weight.sum())
    # A random walk in continuous time, reflected at the ends, moves the variance
    # drift^2 a stitch exactly; its matrix is symmetric, so no scale is favoured.
    walk = np.diag(np.r_[-1.0, np.full(max(count - 2, 0), -2.0), -1.0][:count]) if count > 1 else np.zeros((1, 1))
    walk += (np.diag(np.ones(count - 1), 1) + np.diag(np.ones(count - 1), -1)) if count > 1 else 0
    drift = linalg.expm(0.5 * (max(widths.drift, LEAST_DRIFT) / step) ** 2 * walk)
    shape = _Shape(places, numbers, np.exp(log_scales), tuple(narrow), tuple(share), drift, np.zeros(len(numbers)))
    return _Shape(places, numbers, shape.scales, shape.narrow, shape.share, drift, _log_loops_without_evidence(shape))


def _middles(width: int) -> tuple[np.ndarray, np.ndarray]:
    """Where the middle of a stitch may lie, in places behind its first gap, and how probable each is."""
    offset = np.arange(1, width)
    chance = np.exp(-0.5 * ((offset - width / 2) / (OFF_CENTRE * width)) ** 2)
    likely = chance > 1e-3 * chance.max()
    return offset[likely], chance[likely] / chance[likely].sum()


# ---- banded matrices --------------------------------------------------------


class _Band:
    """A matrix with entries only at column = row - width, as blocks of rows.

    Row i of `entries` holds the weights of the widths in descending order, so
    from left to right in the columns i - last ... i - first. With ROWS - 1
    zeros between the rows, the block of ROWS rows from i and all the columns
    that they touch is the same memory seen with a row length that is one
    shorter: no copy, and a plain matrix to BLAS.
    """

    def __init__(self, weights: np.ndarray, last: int) -> None:
        rows, self.widths = weights.shape
        self.last, self.blocks = last, -(-rows // ROWS)
        self.columns = self.widths + ROWS - 1
        entries = np.zeros((self.blocks * ROWS + 1, self.columns))
        entries[1 : rows + 1, : self.widths] = weights
        flat, size = entries.ravel()[self.columns :], entries.itemsize
        self.block = as_strided(
            flat,
            (self.blocks, ROWS, self.columns),
            (ROWS * self.columns * size, (self.columns - 1) * size, size),
            writeable=False,
        )


class _Chain:
    """Stitches on an opened loop: rows are places 0 ... P, a gap may stand at each.

    Parameters
    ----------
    weights : ndarray of shape (P, K, D), float
        Weight of the stitch of scale k that ends at row i; the last axis holds
        widths in descending order, from the widest of all scales.
    last : int
        Widest width.
    shape : _Shape
        The model of widths.
    """

    def __init__(self, weights: np.ndarray, last: int, shape: _Shape) -> None:
        self.weights, self.last, self.shape = weights, last, shape
        self.rows = len(weights)
        row, span = np.arange(self.rows)[:, None], np.arange(weights.shape[2])
        behind = row + last - span  # the row where a stitch that begins here ends
        reverse = np.where(
            (behind < self.rows)[..., None], weights[np.minimum(behind, self.rows - 1), :, span], 0
        ).swapaxes(1, 2)
        self.reverse = np.ascontiguousarray(reverse[::-1])
        self._onward = [self._band(weights, k) for k in range(len(shape.scales))]
        self._backward = [self._band(self.reverse, k) for k in range(len(shape.scales))]

    def _band(self, weights: np.ndarray, scale: int) -> _Band:
        widest = self.shape.narrow[scale] + len(self.shape.share[scale]) - 1
        begin = self.last - widest
        return _Band(weights[:, scale, begin : begin + len(self.shape.share[scale])], widest)

    def _move(
        self, bands: list[_Band], scales: range, state: np.ndarray, first: int
    ) -> tuple[int, np.ndarray, np.ndarray, list[np.ndarray]]:
        """One stitch on, without drift.

        Parameters
        ----------
        bands : list of _Band
            Which way.
        scales : range
            Scales that `state` holds.
        state : ndarray of shape (len(scales), n, S), float
            Weight at n rows from `first`, for S columns.

        Returns
        -------
        first : int
            First row reached, a multiple of ROWS.
        moved : ndarray of shape (len(scales), blocks * ROWS, S)
        source : ndarray of shape (len(scales), n, S)
            `state`, in the memory that the windows look at.
        windows : list of ndarray of shape (blocks, columns, S)
            What each block of rows of each scale was made from.
        """
        narrow, wide = min(bands[k].last - bands[k].widths + 1 for k in scales), max(bands[k].last for k in scales)
        begin = (first + narrow) // ROWS * ROWS
        blocks = max(0, -(-(min(self.rows, first + state.shape[1] - 1 + wide + 1) - begin) // ROWS))
        depth, columns = self.last + max(blocks * ROWS, state.shape[1]), state.shape[2]
        padded = np.zeros((len(scales), depth, columns))
        offset = first - begin + self.last
        padded[:, offset : offset + state.shape[1]] = state
        moved = np.empty((len(scales), blocks * ROWS, columns))
        size = padded.itemsize
        windows = []
        for at, k in enumerate(scales):
            band = bands[k]
            window = np.ndarray(
                (blocks, band.columns, columns),
                float,
                padded,
                (at * depth + self.last - band.last) * columns * size,
                (ROWS * columns * size, columns * size, size),
            )
            block = band.block[begin // ROWS : begin // ROWS + blocks]
            np.matmul(block, window, out=moved[at].reshape(blocks, ROWS, columns))
            windows.append(window)
        return begin, moved, padded[:, offset : offset + state.shape[1]], windows

    def onward(
        self, scales: range, state: np.ndarray, first: int
    ) -> tuple[int, np.ndarray, np.ndarray, list[np.ndarray]]:
        """One stitch on, without drift, as in :meth:`_move`."""
        return self._move(self._onward, scales, state, first)

    def backward(self, scales: range, state: np.ndarray, first: int, rows: range) -> np.ndarray:
        """Weight at `rows` of what follows, from the weight `state` at rows from `first`."""
        state = state[:, : self.rows - first]  # a block may reach beyond the last row
        begin, moved, _, _ = self._move(self._backward, scales, state[:, ::-1], self.rows - first - state.shape[1])
        out = np.zeros((len(scales), len(rows), state.shape[2]))
        low = self.rows - rows.stop  # the wanted rows, mirrored
        take = range(max(low, begin), min(low + len(rows), begin + moved.shape[1]))
        if len(take):
            out[:, take.start - low : take.stop - low] = moved[:, take.start - begin : take.stop - begin]
        return out[:, ::-1]


def _sum_over_chains(
    weights: np.ndarray, log_unit: np.ndarray, last: int, drift: np.ndarray, source: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Summed weight of all open chains from a source to each row, of any number of stitches.

    Parameters
    ----------
    weights : ndarray of shape (P, K, D), float
        As in :class:`_Chain`.
    log_unit : ndarray of shape (P,), float
        Logarithm of the unit of each row's weights.
    last : int
        Widest width.
    drift : ndarray of shape (K, K), float
        Probability of the next scale.
    source : ndarray of shape (P, K), float
        Weight of the chains that begin at each row.

    Returns
    -------
    share : ndarray of shape (P, K), float
        Weight of each scale at each row, adding up to 1 in a row that is reached.
    before : ndarray of shape (P, K), float
        The same before drift and without the source.
    level : ndarray of shape (P,), float
        Logarithm of the row's unit; minus infinity where nothing gets.
    """
    rows, scales, span = weights.shape
    weights = weights * np.exp(log_unit)[:, None, None]
    arrived, total, units = np.zeros((rows, scales)), np.zeros((rows, scales)), []
    state = np.zeros((last + rows, scales))  # the same as `total`, but what is in reach has one unit
    reach = sliding_window_view(state, span, axis=0)
    # The narrowest stitch is as wide as this, so that many rows depend on earlier ones only.
    step = last - span + 1
    begins = np.logical_or.reduceat(source.any(axis=1), np.arange(0, rows, step)).tolist()
    unit = 0.0  # logarithm
    for row, begin in zip(range(0, rows, step), begins, strict=True):
        part, behind = slice(row, min(row + step, rows)), slice(row, last + row)
        largest = state[behind].max()
        if largest and not 1 / _FAR < largest < _FAR or begin and unit < 0:
            rescaled = unit + np.log(largest) if largest else 0.0
            rescaled = max(rescaled, 0.0) if begin else rescaled
            state[behind] *= np.exp(unit - rescaled)
            unit = rescaled
        came, now = arrived[part], total[part]
        np.einsum("rkd,rkd->rk", weights[part], reach[part], out=came)
        np.matmul(came, drift, out=now)
        if begin:
            now += source[part] * np.exp(-unit)
        state[last + row : last + part.stop] = now
        units.append(unit)
    unit_of = np.repeat(units, step)[:rows]
    whole = total.sum(axis=1)
    reached = whole > 0
    whole[~reached] = 1
    level = np.where(reached, np.log(whole) + unit_of, -np.inf)
    return total / whole[:, None], arrived / whole[:, None], level


def _log_loops_without_evidence(shape: _Shape) -> np.ndarray:
    """Log Z0(N) of each number considered.

    Without evidence every turn of a loop weighs the same. Each loop has N gaps,
    so N Z0(N) = M times the weight of the loops with a gap at place 0.
    """
    places, scales = shape.places, len(shape.scales)
    last = max(first + len(share) - 1 for first, share in zip(shape.narrow, shape.share, strict=True))
    narrow = min(shape.narrow)
    weights = np.zeros((places + 1, scales, last - narrow + 1))
    for k, (first, share) in enumerate(zip(shape.narrow, shape.share, strict=True)):
        begin = last - (first + len(share) - 1)
        weights[:, k, begin : begin + len(share)] = share[::-1]
    chain = _Chain(weights, last, shape)
    fewest, most = int(shape.numbers[0]), int(shape.numbers[-1])
    sums = np.zeros(len(shape.numbers))
    first, state = 0, np.eye(scales)[:, None, :]
    for count in range(1, most + 1):
        first, moved, _, _ = chain.onward(range(scales), state, first)
        state = np.tensordot(shape.drift, moved, 1)
        if count >= fewest and first <= places < first + state.shape[1]:
            sums[count - fewest] = places / count * np.trace(state[:, places - first])
        # Only what can still arrive at the end in time goes on.
        low = max(first, places - (most - count) * last)
        high = min(first + state.shape[1], places, places - max(fewest - count, 1) * narrow + 1)
        if high <= low:
            break
        state, first = state[:, low - first : high - first], low
    with np.errstate(divide="ignore"):
        return np.log(sums)


# ---- sums over loops ----------------------------------------------------------


def _seam(gap: np.ndarray, width: float) -> int:
    """Place half a stitch before the gap that stands out most from its surroundings.

    The better the first gap behind the seam is known, the fewer first gaps need
    to be followed; any place gives the same sums.
    """
    size = max(3, 2 * int(width / 2) + 1)
    weight = np.exp(np.maximum(gap - gap.max(), -50))
    alone = weight / ndimage.correlate1d(weight, np.ones(min(size, len(gap) // 2 * 2 - 1)), mode="wrap")
    return (int(np.argmax(alone)) - int(width / 2)) % len(gap)


class _Loop:
    """The loop, opened behind the seam, with its evidence.

    Rows 0 ... M + W, W the widest width: the loop begins at its first gap, in a
    row below W, and ends when it comes back to that gap M rows further on. All
    weights are in the unit of the row's sum over open chains, so that none
    leaves the range of floating-point numbers.
    """

    def __init__(self, shape: _Shape, middle: np.ndarray, gap: np.ndarray) -> None:
        self.shape, self.places = shape, shape.places
        places, scales = shape.places, len(shape.scales)
        wide = [first + len(share) - 1 for first, share in zip(shape.narrow, shape.share, strict=True)]
        last, narrow = max(wide), min(shape.narrow)
        rows = places + min(last, places)
        self._height = np.exp(middle - middle.max())
        width = last - np.arange(last - narrow + 1)
        log_middle = np.empty((len(width), places))
        with np.errstate(divide="ignore"):
            for at, w in enumerate(width):
                log_middle[at] = np.log(self._middle_sum(int(w))) + middle.max()
        begin = np.arange(rows)[:, None] - width
        told = log_middle[np.arange(len(width)), begin % places] + gap[np.arange(rows) % places, None]
        told[(begin < 0) | (begin >= places)] = -np.inf
        log_share = np.full((scales, len(width)), -np.inf)
        for k, share in enumerate(shape.share):
            log_share[k, last - wide[k] : last - wide[k] + len(share)] = np.log(share[::-1])
        log_weights = told[:, None, :] + log_share
        log_unit = log_weights.max(axis=(1, 2))
        log_unit[np.isneginf(log_unit)] = 0

        source = np.zeros((rows, scales))
        source[: min(last, places)] = 1
        share, _, level = _sum_over_chains(
            np.exp(log_weights - log_unit[:, None, None]), log_unit, last, shape.drift, source
        )
        first = np.arange(min(last, places))
        with np.errstate(invalid="ignore"):
            turn = np.nan_to_num(level[first + places] - level[first], nan=-np.inf, neginf=-np.inf)
        fullest = int(np.argmax(turn))
        if np.isneginf(turn[fullest]):
            raise ValueError(_NO_LOOP)
        self.log_unit = float(turn[fullest])
        floor = np.where(np.isneginf(level), np.inf, level)
        change = np.where(begin >= 0, level[np.maximum(begin, 0)], -np.inf) - floor[:, None]
        self.log_weights = log_weights + change[:, None, :]
        self.chain = _Chain(np.exp(self.log_weights), last, shape)
        self.width = width

        # Unit of the loops that begin at each row, against that of the fullest, as
        # a factor at the beginning and one at the end, so that neither gets too large.
        log_begin = np.clip(level[fullest] - level[first], -_RANGE, _RANGE)
        self.begin_unit = np.exp(log_begin)
        self.end_unit = np.exp(np.minimum(turn - turn[fullest] - log_begin, _RANGE))
        ends = np.zeros((rows, scales))
        ends[places:] = self.end_unit[:, None]
        _, ahead, high = _sum_over_chains(
            self.chain.reverse, np.zeros(rows), last, shape.drift, (ends @ shape.drift)[::-1]
        )
        high[np.isneginf(high)] = 0
        self.ahead = (ahead * np.exp(high)[:, None])[::-1].T + ends.T
        self.first, self.scale = (a.ravel() for a in np.meshgrid(first, np.arange(scales), indexing="ij"))
        passing = (share * self.ahead.T).sum(axis=1)
        #: Mean number of stitches of all chains that go once round, whatever their number.
        self.usual = float(passing[:places].sum() / max(passing[places:].sum(), np.finfo(float).tiny))
        self.into = (share[places:] * self.end_unit[:, None]).ravel()
        self.out = (self.ahead.T[first] * self.begin_unit[:, None]).ravel()

    def _middle_sum(self, width: int) -> np.ndarray:
        """Summed evidence of the middle of a stitch that begins at each place, in the unit of the largest."""
        offset, chance = _middles(width)
        around = np.resize(self._height, self.places + int(offset[-1]))
        return np.correlate(around[offset[0] :], chance, "valid")[: self.places]

    def middle_share(self, width: int) -> tuple[np.ndarray, np.ndarray]:
        """Where the middle of a stitch lies, given the evidence.

        Returns
        -------
        offset : ndarray of shape (m,), int
            Places behind the stitch's first gap.
        share : ndarray of shape (m, M), float
            Probability of each, for a stitch that begins at each place.
        """
        offset, chance = _middles(width)
        around = np.resize(self._height, self.places + int(offset[-1]))
        share = chance[:, None] * sliding_window_view(around, self.places)[offset]
        whole = share.sum(axis=0)
        return offset, share / np.where(whole > 0, whole, 1)


def _balanced(shape: _Shape, middle: np.ndarray, gap: np.ndarray) -> tuple[_Loop, float]:
    """The loop with a bonus for each stitch that makes the numbers considered usual.

    What is left out for speed, and the range of floating-point numbers, go by
    what is usual. Only evidence that points far out of the range of numbers
    considered needs a bonus; taken off again in N of them, it changes nothing.

    Returns
    -------
    loop : _Loop
    bonus : float
        In nats.
    """
    fewest, most = shape.numbers[0] - 1, shape.numbers[-1] + 1
    low, high, bonus, step = -np.inf, np.inf, 0.0, 0.5
    while True:
        loop = _Loop(shape, middle, gap + bonus)
        if fewest <= loop.usual <= most or high - low < 1e-2 or abs(bonus) > 4 * CERTAIN:
            return loop, bonus
        low, high = (bonus, high) if loop.usual < fewest else (low, bonus)
        if np.isfinite(low) and np.isfinite(high):
            bonus = (low + high) / 2
        else:
            bonus += step if loop.usual < fewest else -step
            step *= 2


#: Sums are taken in another unit once they are this far from 1, either way.
_FAR = 1e60
#: Exponents stay well inside the range of floating-point numbers.
_RANGE = 300.0
_NO_LOOP = "the evidence rules out every loop: give places that are not ruled out for gaps and middles"


@dataclass(frozen=True, eq=False)
class _Sums:
    """Sums over all loops.

    Parameters
    ----------
    starts : ndarray of shape (S,), int
        First gap and scale of each column, as indices into the loop's.
    by_start : ndarray of shape (S, C), float
        Weight of the loops of each start and number.
    stitch : ndarray of shape (widths, rows), float, or None
        Probability of a stitch of each width that ends at each row; None where it
        was not asked for.
    lost : float
        Bound on the share of the posterior left out.
    """

    starts: np.ndarray
    by_start: np.ndarray
    stitch: np.ndarray | None
    lost: float


def _sum_over_loops(loop: _Loop, favour: np.ndarray, work: float, *, places: bool) -> _Sums | None:
    """Sum over all loops, leaving out as much as :data:`LOST` allows.

    Parameters
    ----------
    favour : ndarray of shape (C,), float
        What the weight of the loops of each number is multiplied by.
    work : float
        Most multiplications; None is returned where it would take more.
    places : bool
        Sum up where stitches stand, too, which takes twice as long again.
    """
    leave = 1.0 if loop.places > FEW else 0.0
    while True:
        starts, lost = _starts(loop, leave * AT_START)
        edge = leave * AT_EDGE * float(loop.into @ loop.out) / float(loop.out.sum())
        pairs = [np.zeros((band.blocks, ROWS, band.columns)) for band in loop.chain._onward]
        by_start = np.zeros((len(loop.first), len(favour)))
        for columns, sweep in _sweeps(loop, starts, edge):
            by_start[columns], lost = sweep.closed, lost + sweep.lost
            if sweep.work * 3 * len(starts) / len(columns) > work:
                return None
            for step, following, _ in _follow(loop, sweep, favour) if places else ():
                for at, k in enumerate(step.scales):
                    block = step.begin // ROWS
                    windows = step.windows[at]
                    pairs[k][block : block + len(windows)] += np.matmul(
                        following[at].reshape(len(windows), ROWS, -1), windows.swapaxes(1, 2)
                    )
        total = float(favour @ by_start.sum(axis=0))
        if total > 0 and lost * favour.max() <= LOST * total:
            stitch = _stitches(loop, pairs) / total if places else None
            return _Sums(starts, by_start[starts], stitch, lost * favour.max() / total)
        if leave == 0:
            raise ValueError(_NO_LOOP)
        # An overestimate mostly; what is left out grows in proportion.
        leave = leave * 0.1 * LOST * total / lost if leave > 1e-30 and total > 0 else 0.0


def _starts(loop: _Loop, share: float) -> tuple[np.ndarray, float]:
    """First gaps worth following, and a bound on the weight of the loops of all others.

    Were a turn to forget how it began, the loops of start s would weigh
    into(s) out(s) / sum(out), the weights of all open chains into and out of
    it; that ranks the starts. The bound does not need it to forget: the loops
    of the starts left out weigh no more than all chains that begin at one of
    them and end at any of them, whatever positive factor x(s) / x(s') each
    chain is given besides, for it is 1 on a loop.
    """
    guess = loop.into * loop.out
    order = np.argsort(guess, kind="stable")
    rank = np.cumsum(guess[order])
    left_out = order[rank <= share * rank[-1]]
    starts = np.sort(order[len(left_out) :])
    left_out = left_out[guess[left_out] > 0]  # nothing leads into or out of the others
    if not len(left_out):
        return starts, 0.0
    factor = np.sqrt(loop.into[left_out] / loop.out[left_out])
    source = np.zeros((loop.chain.rows, len(loop.shape.scales)))
    first, scale = loop.first[left_out], loop.scale[left_out]
    source[first, scale] = factor / factor.max() * loop.begin_unit[first]
    share_at, _, level = _sum_over_chains(
        loop.chain.weights, np.zeros(loop.chain.rows), loop.chain.last, loop.shape.drift, source
    )
    end = first + loop.places
    reached = np.exp(level[end]) * share_at[end, scale] * loop.end_unit[first] * factor.max()
    return starts, float((reached / factor).sum())


@dataclass(frozen=True, eq=False)
class _Step:
    """One stitch of a forward sweep: where it came from and where it went."""

    count: int
    scales: range
    rows: range
    begin: int
    source: np.ndarray
    windows: list[np.ndarray]


@dataclass(frozen=True, eq=False)
class _Sweep:
    """A forward sweep of some starts: its steps, the weight of its loops, what was left out."""

    starts: np.ndarray
    steps: list[_Step]
    closed: np.ndarray
    lost: float

    @property
    def work(self) -> float:
        """Multiplications that the sweep took."""
        return sum(window.size * ROWS for step in self.steps for window in step.windows)


def _sweeps(loop: _Loop, starts: np.ndarray, edge: float) -> Iterator[tuple[np.ndarray, _Sweep]]:
    """Forward sweeps of all starts, as many at a time as memory allows."""
    # The first is a probe of how wide the windows are: half the loop at most, as a rule.
    most = int(loop.shape.numbers[-1]) * loop.ahead.size * loop.out.itemsize
    at, size = 0, max(BATCH, int(2 * MEMORY / most))
    while at < len(starts):
        columns = starts[at : at + size]
        sweep = _sweep(loop, columns, edge * len(columns) / len(starts))
        yield columns, sweep
        at += size
        kept = sum(step.source.base.nbytes for step in sweep.steps)
        size = max(BATCH, int(MEMORY * len(columns) / kept))


def _sweep(loop: _Loop, starts: np.ndarray, edge: float) -> _Sweep:
    """Weight of all chains of 0, 1, 2 ... stitches from each start.

    Parameters
    ----------
    starts : ndarray of shape (S,), int
        One column each.
    edge : float
        Weight that may be left out at each edge of each window.
    """
    shape, chain, places = loop.shape, loop.chain, loop.places
    first, scale, column = loop.first[starts], loop.scale[starts], np.arange(len(starts))
    fewest, most = int(shape.numbers[0]), int(shape.numbers[-1])
    low = int(first.min())
    state = np.zeros((len(shape.scales), int(first.max()) + 1 - low, len(starts)))
    state[scale, first - low, column] = loop.begin_unit[first]
    scales, lost, steps = range(len(shape.scales)), 0.0, []
    closed = np.zeros((len(starts), len(shape.numbers)))
    for count in range(1, most + 1):
        begin, moved, source, windows = chain.onward(scales, state, low)
        steps.append(_Step(count, scales, range(low, low + state.shape[1]), begin, source, windows))
        if not moved.size:
            break
        state = (shape.drift[:, scales.start : scales.stop] @ moved.reshape(len(scales), -1)).reshape(
            len(shape.scales), moved.shape[1], len(starts)
        )
        end = first + places - begin
        if count >= fewest:
            back = (end >= 0) & (end < state.shape[1])
            closed[back, count - fewest] = state[scale[back], end[back], column[back]] * loop.end_unit[first[back]]
        state = state[:, : max(0, places - begin)]
        if not state.size or count == most:
            break
        weight = state.sum(axis=2) * loop.ahead[:, begin : begin + state.shape[1]]
        rows, left_rows = _inside(weight.sum(axis=0), edge)
        scales, left_scales = _inside(weight[:, rows.start : rows.stop].sum(axis=1), edge)
        lost += left_rows + left_scales
        if not len(rows) or not len(scales):
            break
        state = state[scales.start : scales.stop, rows.start : rows.stop]
        low = begin + rows.start
    return _Sweep(starts, steps, closed, lost)


def _inside(weight: np.ndarray, edge: float) -> tuple[range, float]:
    """The range that leaves out at most `edge` on either side, and how much it leaves out."""
    up, down = np.cumsum(weight), np.cumsum(weight[::-1])
    low, high = int(np.searchsorted(up, edge, "right")), int(np.searchsorted(down, edge, "right"))
    if low + high >= len(weight):
        return range(0), float(up[-1])
    return range(low, len(weight) - high), float((up[low - 1] if low else 0) + (down[high - 1] if high else 0))


def _follow(loop: _Loop, sweep: _Sweep, favour: np.ndarray) -> Iterator[tuple[_Step, np.ndarray, np.ndarray]]:
    """Go back through a sweep with the weight of all that follows each stitch.

    Parameters
    ----------
    favour : ndarray of shape (C,), float
        Weight of each number of stitches.

    Yields
    ------
    step : _Step
        Last stitch first.
    following : ndarray of shape (len(step.scales), rows, S), float
        Weight of all that follows the stitch if it ends at each row from
        `step.begin`, by the scale of the stitch.
    after : ndarray of shape (len(step.scales), len(step.rows), S), float
        Weight of the stitch and all that follows it if it begins at each of
        `step.rows`.
    """
    shape, places = loop.shape, loop.places
    first, scale, column = loop.first[sweep.starts], loop.scale[sweep.starts], np.arange(len(sweep.starts))
    scales, rows, after = range(0), range(0), np.zeros((0, 0, len(column)))
    for step in reversed(sweep.steps):
        length = step.windows[0].shape[0] * ROWS
        weight = np.zeros((len(shape.scales), length, len(column)))
        if len(rows):
            at = rows.start - step.begin
            weight[scales.start : scales.stop, at : at + len(rows)] = after
        number = step.count - int(shape.numbers[0])
        if number >= 0:
            end = first + places - step.begin
            back = (end >= 0) & (end < length)
            weight[scale[back], end[back], column[back]] = favour[number] * loop.end_unit[first[back]]
        drift = shape.drift[step.scales.start : step.scales.stop]
        following = (drift @ weight.reshape(len(shape.scales), -1)).reshape(len(drift), length, len(column))
        scales, rows = step.scales, step.rows
        after = loop.chain.backward(scales, following, step.begin, rows)
        yield step, following, after


def _stitches(loop: _Loop, pairs: list[np.ndarray]) -> np.ndarray:
    """Weight of the stitches of each width that end at each row, from the sums over pairs of gaps."""
    chain = loop.chain
    stitch = np.zeros((len(loop.width), chain.rows))
    for k, (dense, share) in enumerate(zip(pairs, loop.shape.share, strict=True)):
        block, row, column = dense.strides
        band = as_strided(dense, (len(dense), ROWS, len(share)), (block, row + column, column), writeable=False)
        begin = chain.last - (loop.shape.narrow[k] + len(share) - 1)
        part = slice(begin, begin + len(share))
        stitch[part] += (band.reshape(-1, len(share))[: chain.rows] * chain.weights[:, k, part]).T
    return stitch


def _chances(loop: _Loop, sums: _Sums) -> tuple[np.ndarray, np.ndarray]:
    """Probability of a gap and of a middle at each place."""
    places = loop.places
    middle = np.zeros(places + loop.chain.last)
    for at, width in enumerate(loop.width):
        begins = sums.stitch[at, width : width + places]
        offset, share = loop.middle_share(int(width))
        for o, chance in zip(offset, share, strict=True):
            middle[o : o + len(begins)] += begins * chance[: len(begins)]
    return _fold(sums.stitch.sum(axis=0), places), _fold(middle, places)


def _fold(array: np.ndarray, places: int) -> np.ndarray:
    """Add up what lies whole turns apart."""
    padded = np.zeros(-(-len(array) // places) * places)
    padded[: len(array)] = array
    return padded.reshape(-1, places).sum(axis=0)


# ---- best loop ----------------------------------------------------------------


def _best_loop(loop: _Loop, sums: _Sums, stitches: int) -> tuple[np.ndarray, np.ndarray]:
    """Gaps and middles of the heaviest loop of a number of stitches.

    The most probable first gaps are followed first. No loop of a start weighs
    more than all of them together, which tells when no other can be better; on
    longer loops, those of the starts that hold all but :data:`ASIDE` of the
    probability are enough, and :data:`MOST_STARTS` starts, which only a rim
    without clear evidence needs.

    Returns
    -------
    gaps, marks : ndarray of shape (stitches,)
        In rows behind the seam; each mark is the mean place of the middle of
        the stitch that begins at the gap, given the evidence.
    """
    number = stitches - int(loop.shape.numbers[0])
    weight = sums.by_start[:, number]
    order = np.argsort(-weight, kind="stable")
    order = order[weight[order] > 0]
    if loop.places > FEW:
        held = np.cumsum(weight[order])
        order = order[: min(MOST_STARTS, 1 + int(np.searchsorted(held, (1 - ASIDE) * held[-1])))]
    best, gaps, widths = -np.inf, np.zeros(0, int), np.zeros(0, int)
    for begin in range(0, len(order), BATCH):
        batch = order[begin : begin + BATCH]
        if np.log(weight[batch[0]]) <= best:
            break
        found, *way = _best_of(loop, np.sort(sums.starts[batch]), number, float(weight[batch].sum()))
        if found > best:
            best, (gaps, widths) = found, way
    marks = np.empty(stitches)
    for width in np.unique(widths):
        offset, share = loop.middle_share(int(width))
        chosen = widths == width
        marks[chosen] = gaps[chosen] + offset @ share[:, gaps[chosen]]
    return gaps, marks


def _best_of(loop: _Loop, starts: np.ndarray, number: int, total: float) -> tuple[float, np.ndarray, np.ndarray]:
    """Heaviest loop of some starts (L. R. Rabiner 1989, section III-B): log weight, gaps, widths."""
    shape, places, last = loop.shape, loop.places, loop.chain.last
    scales, stitches = len(shape.scales), int(shape.numbers[number])
    first, scale, column = loop.first[starts], loop.scale[starts], np.arange(len(starts))
    only = np.zeros(len(shape.numbers))
    only[number] = 1
    rows = [range(int(first.min()) + places, int(first.max()) + places + 1)]
    sweep = _sweep(loop, starts, AT_EDGE * total)
    for step, _, after in _follow(loop, sweep, only):
        if step.count == 1:
            rows.append(step.rows)
        elif step.count <= stitches:
            kept, _ = _inside((step.source * after).sum(axis=(0, 2)), AT_EDGE * total)
            rows.append(range(step.rows.start + kept.start, step.rows.start + kept.stop))
    rows.reverse()

    with np.errstate(divide="ignore"):
        drift, unit = np.log(shape.drift), np.log(loop.begin_unit)
    best = np.full((scales, len(rows[0]), len(starts)), -np.inf)
    best[scale, first - rows[0].start, column] = unit[first]
    came: list[tuple[np.ndarray, np.ndarray]] = []
    for here, there in itertools.pairwise(rows):
        low, high = there.start - last, there.stop - 1
        padded = np.full((scales, high - low, len(starts)), -np.inf)
        take = range(max(low, here.start), min(high, here.stop))
        padded[:, take.start - low : take.stop - low] = best[:, take.start - here.start : take.stop - here.start]
        arrived = np.empty((scales, len(there), len(starts)))
        choice = np.empty((scales, len(there), len(starts)), np.int16)
        for k, share in enumerate(shape.share):
            at = last - (shape.narrow[k] + len(share) - 1)
            options = sliding_window_view(padded[k, at:], len(share), axis=0)[: len(there)]
            options = options + loop.log_weights[there.start : there.stop, k, None, at : at + len(share)]
            pick = options.argmax(axis=2)
            arrived[k] = np.take_along_axis(options, pick[..., None], 2)[..., 0]
            choice[k] = shape.narrow[k] + len(share) - 1 - pick
        onward = arrived[:, None] + drift[:, :, None, None]
        before = onward.argmax(axis=0)
        best = np.take_along_axis(onward, before[None], 0)[0]
        came.append((before.astype(np.int16), np.take_along_axis(choice, before, 0)))
    with np.errstate(divide="ignore"):
        final = best[scale, first + places - rows[-1].start, column] + np.log(loop.end_unit[first])
    s = int(np.argmax(final))
    row, k = int(first[s]) + places, int(scale[s])
    gaps, widths = [], []
    for there, (before, width) in zip(rows[:0:-1], came[::-1], strict=True):
        at = row - there.start
        widths.append(int(width[k, at, s]))
        row, k = row - widths[-1], int(before[k, at, s])
        gaps.append(row)
    return float(final[s]), np.array(gaps[::-1]), np.array(widths[::-1])


# ---- doubts -------------------------------------------------------------------


def _within(chance: np.ndarray, at: np.ndarray, radius: np.ndarray) -> np.ndarray:
    """Sum of `chance` over the places within a radius (at least half a place) of each of some places."""
    places = len(chance)
    summed = np.concatenate([[0], np.cumsum(np.tile(chance, 3))])
    radius = np.maximum(radius, 0.5)
    low = np.ceil(at - radius).astype(int) + places
    high = np.floor(at + radius).astype(int) + places
    return summed[high + 1] - summed[low]


def _doubts(
    gaps: np.ndarray, wide: np.ndarray, gap_clear: np.ndarray, gap_chance: np.ndarray, seen: np.ndarray
) -> tuple[PlaceInDoubt, ...]:
    """Places where a look may change the count, most doubtful first."""
    places, stitches = len(gap_chance), len(gaps)
    middle = gaps + wide / 2
    found: list[tuple[float, float, str]] = []

    view = _within(seen, middle, wide / 2) / (np.floor(middle + wide / 2) - np.ceil(middle - wide / 2) + 1)
    hidden = view < 0.5
    if hidden.all():
        found.append((1.0, middle[0], "all hidden"))
    elif hidden.any():
        # Begin behind a stitch in view, so that no run is cut at the loop's start.
        turned = np.roll(hidden, -int(np.argmin(hidden)))
        run, count = ndimage.label(turned)
        for r in range(1, count + 1):
            of = (np.flatnonzero(run == r) + int(np.argmin(hidden))) % stitches
            found.append((1.0, gaps[of[0]] + wide[of].sum() / 2, "hidden"))

    visible = ~hidden
    unclear = visible & np.roll(visible, 1) & (gap_clear < CLEAR)
    found += [(1 - gap_clear[i], gaps[i], "end") for i in np.flatnonzero(unclear)]

    further = _within(gap_chance, middle, wide * (0.5 - NEAR))
    for i in np.flatnonzero(visible & (further > 1 - CLEAR)):
        found.append((min(further[i], 1.0), middle[i], "two"))

    if stitches > 2 * NEIGHBOURS:
        around = [np.roll(wide, shift) for shift in range(-NEIGHBOURS, NEIGHBOURS + 1) if shift]
        ratio = wide / np.median(around, axis=0)
        for i in np.flatnonzero(visible & (np.maximum(ratio, 1 / ratio) > ODD)):
            # An odd width that the evidence is sure of is the least of doubts.
            found.append((0.0, middle[i], "wide" if ratio[i] > 1 else "narrow"))

    found.sort(key=lambda doubt: (-doubt[0], doubt[1]))
    kept: list[PlaceInDoubt] = []
    for _, place, kind in found:
        # One look covers a stitch and its neighbours.
        apart = [abs((place - other.place + places / 2) % places - places / 2) for other in kept]
        if all(a > places / stitches for a in apart):
            kept.append(PlaceInDoubt(float(place % places), kind))
    return tuple(kept)
