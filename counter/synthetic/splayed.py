"""A second make of single crochet: live loops splay outwards, worked ones stand upright.

The stitches of :mod:`counter.synthetic.piece` settle by springs and their Vs
are pressed flat or stand up alike. Here a round is laid along its surface: each
stitch takes a place between an equal share of the round and the place over the
stitch it is worked into, and a spiral climbs by one height a turn, so that it
ends in a step. A V that nothing is worked into leans outwards and opens; one
that carries a stitch is pulled upright and pinched.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from counter.synthetic.pattern import Worked
from counter.synthetic.piece import SEAM_ROOM_WIDTHS, Splay, Tension, WorkedPiece, profile, smooth_noise
from counter.synthetic.yarn import Strand, begin_and_join, resample

__all__ = ["can_splay", "lay_out_splayed", "splayed_end", "splayed_strand"]

# The crown, from the neck along the front arm to the tip; the back arm is its mirror image.
# (along from the stitch's middle in widths, share of half the gap between the arms, height over the round in
# radii of the yarn). The tip's place comes from Splay.
_ARM = np.array(
    [
        (-0.66, 0.20, -1.10),
        (-0.54, 0.24, 0.00),
        (-0.34, 0.40, 0.55),
        (-0.08, 0.70, 0.58),
        (0.20, 0.97, 0.35),
        (0.45, 0.93, -0.18),
        (0.60, 0.53, -0.60),
    ]
)
#: Points of the crown that are told as its loops, and those among them between which its middle lies.
_LOOPS = [2, 3, 4, 5, 7, 9, 10, 11, 12]
_MIDDLE = [1, 2, 6, 7]

# One leg from behind the hole up the front to the head: (share of the way up, toward the maker in depths of the
# front, toward in radii, towards the centre in depths of the hole); where it lies along comes from Splay.
_LEG = np.array(
    [
        (0.00, 0.00, -1.30, 0.40),
        (0.00, 0.00, -0.10, 1.00),
        (0.00, 0.60, 0.00, 0.75),
        (0.10, 1.00, 0.00, 0.00),
        (0.30, 0.93, 0.00, 0.00),
        (0.58, 0.80, 0.00, 0.00),
        (0.82, 0.60, 0.00, 0.00),
        (0.97, 0.00, 0.43, 0.00),
        (1.06, 0.00, -0.43, 0.00),
    ]
)


def can_splay(worked: Worked) -> bool:
    """True where every round is of single crochet and none was turned."""
    return not worked.turned and all(worked.kind(r) == "single" for r in range(len(worked.bases)))


def _unit(v: np.ndarray) -> np.ndarray:
    return v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-12)


def _places(gaps: np.ndarray, over: np.ndarray, first: float, last: float, pull: float) -> np.ndarray:
    """Angles between two ends that keep to the wanted gaps and to the places below as well as both allow.

    Least squares over ``(angle[k + 1] - angle[k] - gaps[k])`` and, with the
    weight `pull`, ``(angle[k] - over[k])``; the normal equations are solved
    for all angles but the fixed ends.
    """
    n = len(gaps)
    gaps = gaps * (last - first) / gaps.sum()
    if n < 2:
        return np.full(n, first)
    # Unknown: angles 1 to n - 1; angle 0 is `first`, angle n is `last`.
    size = n - 1
    normal = np.diag(np.full(size, 2.0 + pull**2))
    normal -= np.eye(size, k=1) + np.eye(size, k=-1)
    right = gaps[:-1] - gaps[1:] + pull**2 * over[1:]
    right[0] += first
    right[-1] += last
    angles = np.concatenate([[first], np.linalg.solve(normal, right)])
    # No stitch passes its neighbour.
    least = 0.4 * gaps.mean()
    return np.maximum.accumulate(angles - least * np.arange(n)) + least * np.arange(n)


def _around(
    worked: Worked, tension: Tension, splay: Splay, radius: np.ndarray, width_of: np.ndarray
) -> tuple[list[np.ndarray], list[float]]:
    """Angle of every stitch, growing in working direction, and where each round starts, radians."""
    starts = np.concatenate([[0], np.cumsum([len(b) for b in worked.bases])])
    angles: list[np.ndarray] = []
    begins: list[float] = []
    begin, below = 0.0, np.zeros(0)
    for r, base in enumerate(worked.bases):
        own = width_of[starts[r] : starts[r + 1]]
        gaps = 0.5 * (own + np.append(own[1:], own[:1]))
        lag = tension.drift * tension.width / max(radius[r], tension.width)
        room = SEAM_ROOM_WIDTHS["single"] if worked.joined else 0.0
        is_open = worked.open_round and r == len(worked.bases) - 1
        gaps[-1] += 0.0 if is_open else room * tension.width
        turn = 2 * np.pi - (0.0 if worked.joined else lag)
        reach = int(np.floor(base.max())) + 1
        if worked.joined:
            # The join's middle is where the round begins; half its room and half a stitch come first.
            begin -= lag if r else 0.0
            share = 2 * np.pi / (len(base) + room) if not is_open else turn * reach / len(below) / len(base)
            first = begin + 0.5 * (1 + room) * share
            last = first + (share * len(base) if is_open else 2 * np.pi)
        else:
            first = begin
            last = begin + turn if not is_open else float(np.append(below, begin)[reach] + begin - below[0])
        if r == 0:
            places = _places(gaps, np.zeros(len(base)), first, last, 0.0)
        else:
            closed = np.append(below, below[0] + 2 * np.pi if worked.joined else begin)
            over = np.interp(base, np.arange(len(closed)), closed) + (-lag if worked.joined else begin - below[0])
            low = np.floor(base).astype(int)
            for j in np.unique(low):
                kin = np.flatnonzero(low == j)
                over[kin] += 0.8 * (np.arange(len(kin)) - (len(kin) - 1) / 2) * (last - first) / len(base)
            places = _places(gaps, over, first, last, splay.align)
        angles.append(places)
        begins.append(begin)
        below = places
        begin = begin if worked.joined else last
    return angles, begins


class _Surface:
    """The sheet that the rounds lie on: place for an angle and a number of turns from the first round."""

    def __init__(self, shape: np.ndarray, room: float, tension: Tension, rng: np.random.Generator) -> None:
        w, h = tension.width, tension.height
        radius, rise = shape.T
        step = np.diff(shape, axis=0)[-1] if len(shape) > 1 else np.array([h, 0.0])
        turns = np.concatenate([[-2, -1], np.arange(len(shape)), len(shape) + np.arange(2)])
        self._radius = PchipInterpolator(
            turns, np.concatenate([[0, 0.45 * radius[0]], radius, radius[-1] + step[0] * np.array([1, 2])])
        )
        self._rise = PchipInterpolator(turns, np.concatenate([[0, 0], rise, rise[-1] + step[1] * np.array([1, 2])]))
        self._far = float(radius.max())
        # No hand makes a true circle, and nothing lies dead flat.
        self._waves = [(k, rng.uniform(0.002, 0.02) * rng.normal() / k, rng.uniform(0, 2 * np.pi)) for k in range(2, 6)]
        self._swells = [
            (rng.normal(size=2) * (1.2 + 0.5 * k) / max(self._far, 2 * w), 0.1 * w * rng.normal() / (1 + 0.4 * k), p)
            for k, p in enumerate(rng.uniform(0, 2 * np.pi, 4))
        ]
        self._curl = rng.uniform(-0.2, 0.5) * w
        self._turns = int(rng.integers(4, 9)), rng.uniform(0, 2 * np.pi)
        excess = 1 / room - 1
        # Height of a ruffle that takes up what a crowded rim is too long by (as in `lay_out`).
        self._ruffle = min(2 * self._far * np.sqrt(excess) / self._turns[0], 0.9 * h) if excess > 0.05 else 0.0

    def at(self, angle: np.ndarray, turn: np.ndarray) -> np.ndarray:
        """Places of shape (..., 3), mm."""
        radius, rise = self._radius(turn), self._rise(turn)
        far = np.clip(radius / self._far, 0, 1.3)
        eased = np.clip(far, 0, 1) ** 2 * (3 - 2 * np.clip(far, 0, 1))
        radius = radius * (1 + eased * sum(a * np.cos(k * angle + p) for k, a, p in self._waves))
        x, y = radius * np.cos(angle), radius * np.sin(angle)
        z = rise + sum(a * np.sin(v[0] * x + v[1] * y + p) for v, a, p in self._swells) + self._curl * far**3
        if self._ruffle:
            z = z + 0.5 * self._ruffle * far**3 * (1 + np.sin(self._turns[0] * angle + self._turns[1]))
        return np.stack([x, y, z], axis=-1)


def _chain(points: np.ndarray, along: np.ndarray, widths: np.ndarray, sink: np.ndarray | float = 0.0) -> CubicSpline:
    """Line through the middles of a run of stitches, by their number, with one more before and after.

    `sink` is by how much the one after goes down again, as the yarn does at the end of a spiral.
    """
    before, after = points[0] - widths[0] * along[0], points[-1] + widths[-1] * along[-1] - sink
    return CubicSpline(np.arange(-1, len(points) + 1), np.vstack([before, points, after]))


def _runs(worked: Worked) -> list[tuple[int, int]]:
    """First and last (beyond) number of the stitches that follow each other without a join."""
    starts = np.concatenate([[0], np.cumsum([len(b) for b in worked.bases])])
    return list(pairwise(starts.tolist())) if worked.joined else [(0, int(starts[-1]))]


def lay_out_splayed(worked: Worked, tension: Tension, rng: np.random.Generator) -> WorkedPiece:
    """Lay a worked piece of single crochet on the table, round by round on its surface.

    Parameters
    ----------
    worked : Worked
        One that :func:`can_splay`.
    tension : Tension
        With a `splay`.
    rng : numpy.random.Generator
        Unevenness of the hand.

    Returns
    -------
    WorkedPiece

    Raises
    ------
    ValueError
        Where the stitches can't be of this make.
    """
    splay = tension.splay
    if splay is None or not can_splay(worked):
        raise ValueError("only single crochet that was never turned can be splayed")
    w, h = tension.width, tension.height
    counts = [len(base) for base in worked.bases]
    starts = np.concatenate([[0], np.cumsum(counts)])
    size = int(starts[-1])
    round_of = np.repeat(np.arange(len(counts)), counts)
    totals = list(worked.totals)
    if worked.open_round:
        growth = worked.done / max(1.0, worked.bases[-1].max() + 1)
        totals.append(round(totals[-1] * max(growth, 0.5)))
    shape = profile(totals, tension)
    if shape[-1, 1] < 0.8 * h:
        shape[:, 1] = 0.0
    room = 2 * np.pi * shape[:, 0] / (np.asarray(totals) * w)

    width_of = w * np.exp(0.8 * tension.uneven * rng.normal(size=size))
    if tension.wander:
        width_of *= np.exp(np.clip(0.7 * tension.wander * smooth_noise(rng, size, rng.uniform(2.0, 9.0)), -0.35, 0.35))
    loose = rng.random(size) < 0.015
    width_of[loose] *= 1.25
    angles, begins = _around(worked, tension, splay, shape[:, 0], width_of)
    angle = np.concatenate(angles)
    turn = round_of.astype(float)
    if not worked.joined:
        # Part of the climb is spread over the turn, the rest is at its beginning and end.
        x = (angle - np.asarray(begins)[round_of]) / (2 * np.pi)
        jog = np.minimum(splay.jog / np.asarray(counts, float), 0.5)[round_of]
        low, high = np.clip(x / jog, 0, 1), np.clip((x - 1 + jog) / jog, 0, 1)
        steps = 0.5 * (low**2 * (3 - 2 * low) + high**2 * (3 - 2 * high))
        turn += splay.climb * x + (1 - splay.climb) * steps - 0.5
        if not worked.open_round and (len(counts) == 1 or rng.random() < 0.75):
            # A careful maker lets the last stitches sink towards the first ones.
            sunk = min(3, counts[-1])
            turn[-sunk:] -= rng.uniform(0.2, 0.7) * np.arange(1, sunk + 1) / sunk
    turn += np.clip(0.4 * tension.uneven * smooth_noise(rng, size, 0.9), -0.15, 0.15)
    surface = _Surface(shape, float(room.min()), tension, rng)
    tops = surface.at(angle, turn)
    out = surface.at(angle, turn + 0.05) - surface.at(angle, turn - 0.05)
    along = np.stack([-np.sin(angle), np.cos(angle), np.zeros(size)], axis=1)
    for first, last in _runs(worked):
        chain = _chain(tops[first:last], along[first:last], width_of[first:last])
        along[first:last] = chain(np.arange(last - first), 1)
    tops[:, 2] -= min(tops[:, 2].min(), 0.0)
    along = _unit(along)
    normal = _unit(np.cross(out, along))
    out = np.cross(along, normal)

    ring = np.stack([np.cos(angle), np.sin(angle), np.zeros(size)], axis=1)
    bases = ring * tension.ring * w
    base_along = np.stack([-ring[:, 1], ring[:, 0], ring[:, 2]], axis=1)
    base_out, base_normal = ring.copy(), np.tile([0.0, 0.0, 1.0], (size, 1))
    for r, base in enumerate(worked.bases[1:], 1):
        own = np.arange(starts[r], starts[r + 1])
        low = starts[r - 1] + np.floor(base).astype(int)
        high = np.minimum(low + 1, starts[r] - 1)
        part = (base % 1.0)[:, None]
        bases[own] = (1 - part) * tops[low] + part * tops[high]
        for j in np.unique(low):
            kin = np.flatnonzero(low == j)
            aside = np.arange(len(kin)) - (len(kin) - 1) / 2
            bases[own[kin]] += 0.26 * w * aside[:, None] * along[j]
        base_along[own], base_out[own], base_normal[own] = along[low], out[low], normal[low]

    widths = np.full(size, w)
    for first, last in _runs(worked):
        gaps = np.linalg.norm(np.diff(tops[first:last], axis=0), axis=1)
        if len(gaps):
            widths[first:last] = 0.5 * (np.append(gaps[:1], gaps) + np.append(gaps, gaps[-1:]))
    face = 0.5 * np.pi - splay.lean + 0.5 * tension.swing * np.cos(angle - tension.swing_at)
    face = face + splay.lean_spread * (rng.normal(size=size) + smooth_noise(rng, size, 5))
    return WorkedPiece(
        worked,
        tension,
        round_of,
        tops,
        bases,
        along,
        out,
        normal,
        base_along,
        base_out,
        base_normal,
        np.clip(widths, 0.6 * w, 1.5 * w),
        np.linalg.norm(tops - bases, axis=1),
        np.clip(face, 0.05, 1.5),
    )


def _worked_over(piece: WorkedPiece) -> np.ndarray:
    """Which stitches carry another one."""
    over = np.zeros(len(piece.tops), dtype=bool)
    for r, base in enumerate(piece.worked.bases[1:]):
        over[piece.starts[r] + np.floor(base).astype(int)] = True
        over[piece.starts[r] + np.ceil(base).astype(int)] = True
    return over


def _at(chains, runs, size: int, shift: np.ndarray) -> np.ndarray:
    """Values of each run's spline at its stitches' numbers shifted; shape (stitches, places, 3)."""
    found = np.empty((size, len(shift), 3))
    for chain, (first, last) in zip(chains, runs, strict=True):
        found[first:last] = chain(np.arange(last - first)[:, None] + shift)
    return found


def splayed_strand(piece: WorkedPiece, diameter: float, rng: np.random.Generator, *, step: float = 0.16) -> Strand:
    """Run the yarn through every stitch of a piece laid out by :func:`lay_out_splayed`.

    Parameters
    ----------
    piece : WorkedPiece
    diameter : float
        Thickness of the yarn where it is pulled tight, mm.
    rng : numpy.random.Generator
        Slack that differs from stitch to stitch.
    step : float
        Distance of the points along the yarn, in diameters.

    Returns
    -------
    Strand
        From the first stitch to where the last loop is drawn through; its
        marks lie between the two arms of every V.

    Raises
    ------
    ValueError
        Where the piece's tension has no `splay`.
    """
    splay, tension, worked = piece.tension.splay, piece.tension, piece.worked
    if splay is None:
        raise ValueError("the piece was not laid out splayed")
    size, w, h, radius = len(piece.tops), tension.width, tension.height, 0.5 * diameter
    over = _worked_over(piece)
    runs = _runs(worked)
    # The last post of a whole spiral bows to the first stitches, which lie a height further in.
    sink = 0.0 if worked.joined or worked.open_round else 0.4 * h * piece.out[-1]
    lines = [_chain(piece.tops[a:b], piece.along[a:b], piece.widths[a:b], sink) for a, b in runs]
    ways = [CubicSpline(np.arange(-1, b - a + 1), piece.out[np.r_[a, a:b, b - 1]]) for a, b in runs]

    def frames(shift):
        """Middle line, along, out and normal at places between the stitches, each (stitches, places, 3)."""
        along = _unit(_at([line.derivative() for line in lines], runs, size, shift))
        normal = _unit(np.cross(_at(ways, runs, size, shift), along))
        return _at(lines, runs, size, shift), along, np.cross(along, normal), normal

    hand = np.random.default_rng([tension.habit_seed, 5])
    arm = _ARM + tension.habit * hand.normal(size=_ARM.shape) * [0.4, 0.6, 1.5]
    arm[:, 2] *= np.where(arm[:, 2] > 0, splay.bow, 1.0)
    arm[:2, 1] *= splay.neck
    tip = np.array([[0.5 + splay.tip, 0.0, -0.78]])
    crown = np.vstack([arm, tip, arm[::-1] * [1, -1, 1]])
    middle, _, out, normal = frames(crown[:, 0])
    lean = np.where(over, splay.lean_worked + splay.lean_spread * rng.normal(size=size), 0.5 * np.pi - piece.face)
    cos, sin = np.cos(lean)[:, None, None], np.sin(lean)[:, None, None]
    apart = np.where(over, splay.pinch, splay.gap) * diameter * np.exp(splay.slack * rng.normal(size=size))
    # Across the V from its back arm, which lies further out, to its front arm; and up out of it.
    across, up = sin * normal - cos * out, cos * normal + sin * out
    crowns = middle + across * (apart[:, None] * crown[:, 1])[..., None] + up * (radius * crown[:, 2])[:, None]
    crowns += rng.normal(0, 0.15 * tension.uneven * w, crowns.shape)

    post, _, post_out, _ = frames(np.array([0.5 + splay.post]))
    _, post_along, _, post_normal = frames(np.array([0.5]))
    heads = post - splay.drop * h * post_out
    leg = _LEG + tension.habit * hand.normal(size=_LEG.shape) * [0.5, 0.3, 0.6, 0.3]
    foot, belly, head = splay.foot, splay.belly, splay.head * (-1.0 if splay.crossed else 1.0)
    aside = np.array(
        [1.2 * foot, 0.8 * foot, foot, foot + 0.02, 0.5 * (foot + belly), belly, head, 0.8 * head, 0.4 * head]
    )
    behind = -1.55 * splay.back
    rows = np.vstack(
        [
            [[0.5, -0.22, 0.0, behind, 0.0]],
            np.insert(leg, 1, -aside, axis=1),
            [[1.08, 0.0, 0.0, -0.65, 0.0]],
            np.insert(leg, 1, aside, axis=1)[::-1],
            [[0.5, 0.18, 0.0, behind, 0.0], [0.9, 0.05, 0.0, -1.3 * splay.back, 0.0]],
        ]
    )
    share, along, fronts, radii, holes = rows.T
    part = np.clip(share, 0, 1)[:, None]
    first_round = piece.round_of == 0
    shared = np.zeros(size, dtype=bool)
    for r in range(1, len(worked.bases)):
        shared[piece.starts[r] + np.asarray(worked.increases(r), dtype=int)] = True
    crowd = np.where(shared, 0.7, 1.0)
    crowd[first_round] = np.clip(4 * 2 * np.pi * tension.ring / max(first_round.sum(), 1), 0.25, 1.0) * 0.6
    depth = np.where(first_round, 0.06 * w, 0.9 * splay.pinch * diameter) + 1.45 * radius
    hole = np.where(first_round, -0.05 * w, -splay.hole * h)
    bend = (1 - np.abs(2 * np.clip(share, 0, 1) - 1)) * splay.slant
    push = np.exp(splay.slack * rng.normal(size=(size, 2)))
    u = along * ((1 - part[:, 0]) * crowd[:, None] + part[:, 0]) * push[:, :1] + bend
    toward = (fronts * depth[:, None] + radii * radius) * push[:, 1:] ** 0.6
    base, head_at = piece.bases[:, None], heads
    lean_to = (1 - part) * piece.base_along[:, None] + part * post_along
    facing = _unit((1 - part) * piece.base_normal[:, None] + part * post_normal)
    legs = (1 - share[:, None]) * base + share[:, None] * head_at
    legs = legs + w * u[..., None] * lean_to + toward[..., None] * facing
    legs = legs + (holes * hole[:, None])[..., None] * piece.base_out[:, None]
    legs += rng.normal(0, 0.2 * tension.uneven * w, legs.shape)

    loops = crowns[:, _LOOPS].copy()
    controls = [np.vstack([crowns[g], legs[g]]) for g in range(size)]
    if worked.joined:
        begin_and_join(piece, controls, loops, diameter)
    owner = np.repeat(piece.order, [len(controls[g]) for g in piece.order])
    points = np.concatenate([controls[g] for g in piece.order])
    apart = np.linalg.norm(np.diff(points, axis=0), axis=1)
    kept = np.append(True, apart > 1e-3 * diameter)
    points, owner = points[kept], owner[kept]
    # Exponent between that of a uniform and of a centripetal to chordal spline: short spans bend without a kink.
    knots = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1) ** 0.6)])
    fine = np.linspace(0, knots[-1], 7 * len(points))
    line = CubicSpline(knots, points)(fine)
    owners = owner[np.clip(np.searchsorted(knots, fine, side="right") - 1, 0, len(owner) - 1)]
    path, stitch = resample(line, step * diameter, owners)
    return Strand(path, stitch, loops, loops[:, _MIDDLE].mean(axis=1))


def splayed_end(
    piece: WorkedPiece, marks: np.ndarray, diameter: float, kind: str, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The yarn after the last stitch of a spiral or of a round in progress.

    Parameters
    ----------
    piece : WorkedPiece
    marks : ndarray of shape (stitches, 3), float
        Between the arms of every V, mm.
    diameter : float
        Of the yarn, mm.
    kind : {"fastened", "woven in", "loop"}
        Fastened, the yarn goes over into the first V of the round and down
        behind; woven in, it stays there; the working loop is a long V that
        points outwards, flat or raised as on a hook.
    rng : numpy.random.Generator

    Returns
    -------
    tuple of ndarray
        Control points, the middle of the loop, and the heading of what is left.
    """
    w, radius = piece.tension.width, 0.5 * diameter
    final = piece.order[-1]
    t, o, m = piece.along[final], piece.out[final], piece.normal[final]
    neck = piece.tops[final] + 0.5 * piece.widths[final] * t
    if not piece.worked.open_round:
        neck = neck - 0.15 * piece.tension.height * o
    if kind != "loop":
        first = piece.rim[0]
        at, side, beyond, above = marks[first], piece.along[first], piece.out[first], piece.normal[first]
        points = [
            neck + radius * m,
            0.45 * neck + 0.55 * at + 1.25 * radius * above + 0.05 * w * beyond,
            at + 0.7 * radius * above - 0.1 * w * beyond,
            at - 0.65 * radius * above - 0.12 * w * beyond,
            at - 2.0 * radius * above - 0.05 * w * beyond,
        ]
        away = beyond + rng.uniform(-0.8, 0.8) * side
        if kind == "fastened":
            points.append(at - 2.0 * radius * above + 0.6 * w * beyond)
        else:
            points += [at - 2.2 * radius * above - r * w * (beyond + 0.7 * side) for r in (0.6, 1.2)]
        return np.array(points), points[1], away
    long, wide, raised = rng.uniform(0.8, 2.4), rng.uniform(0.7, 1.4), rng.uniform(0.6, 2.2)
    lean = o + rng.normal(0, 0.35) * t
    half = np.array([(0.02, 0.06, 0.2), (0.25, 0.17 + 0.08 * long, 0.7), (0.60, 0.26 + 0.10 * long, 1.0)])
    half = np.vstack([half, [(0.92, 0.14 + 0.08 * long, 0.85)]])
    row = np.vstack([half, [(1.0, 0.0, 0.8)], half[::-1] * [1, -1, 1]])
    # In the working direction it opens; outwards it reaches; the middle of it stands as high as a hook would hold it.
    loop = neck + w * long * row[:, :1] * (0.5 * t + 0.35 * lean) + w * wide * row[:, 1:2] * lean
    loop = loop + radius * raised * row[:, 2:] * m
    back = [neck - 0.1 * w * t - 0.12 * w * o - 1.2 * radius * m, neck - 1.8 * radius * m + 0.3 * w * o]
    return np.vstack([loop, back]), loop[2:7].mean(axis=0), o + rng.uniform(-0.2, 1.0) * t
