"""Where every stitch of a worked piece comes to lie.

The stitches hang together by springs: along the round by the width of a
stitch, to the stitch below by the height of a round, and across by the
diagonal of the two. Letting the springs settle gives what such a piece does on
a table: stacked increases make corners, too few stitches make a cup, too many
a ruffle, and a slip pulls its neighbours along.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from counter.synthetic.pattern import HEIGHTS, Worked

__all__ = ["SEAM_ROOM_WIDTHS", "Splay", "Tension", "WorkedPiece", "lay_out", "profile", "smooth_noise"]

#: Room that slip stitch and chain take between the last and the first stitch of
#: a joined round, in widths. A chain that counts has a stitch's room already.
SEAM_ROOM_WIDTHS = {"single": 0.45, "half double": 0.6, "double": 0.25}


@dataclass(frozen=True)
class Splay:
    """How the second make of :mod:`counter.synthetic.splayed` forms a stitch.

    Parameters
    ----------
    lean : float
        Of the Vs on the rim, radians: 0 lies flat and shows the V full-face, pi/2 stands.
    lean_worked : float
        Of the Vs that carry a stitch, radians.
    lean_spread : float
        How much the lean differs from stitch to stitch, radians.
    gap, pinch : float
        Half the distance of the two arms of a V, on the rim and worked over, in yarn diameters.
    tip : float
        How far a V reaches under the neck of the next one, in widths, 0.1 to 0.25.
    neck : float
        How wide a V starts, over the usual.
    bow : float
        How far its arms arch up, over the usual.
    hole : float
        How far below the V the legs go through, in heights of a round.
    foot, belly, head : float
        Half the distance of the legs at the hole, half-way up and at the top, in widths.
    slant : float
        How far the legs bow to one side half-way up, in widths, -0.15 to 0.15.
    crossed : bool
        True where the legs change sides at the top.
    drop : float
        How far below the V the legs end, in heights of a round.
    post : float
        How far a post's top stands off the middle between two Vs, in widths.
    back : float
        How far behind the yarn runs up again, over the usual.
    slack : float
        Relative spread of gaps and legs from stitch to stitch.
    align : float
        How strongly a stitch is drawn over the one below, 0 (rounds of equal widths) to 0.5.
    climb : float
        Share of a spiral's rise that is spread over the whole turn, 0 (all at the seam) to 1.
    jog : float
        Stitches over which the rest of the rise takes place.
    """

    lean: float = 0.75
    lean_worked: float = 1.3
    lean_spread: float = 0.08
    gap: float = 0.55
    pinch: float = 0.44
    tip: float = 0.17
    neck: float = 1.0
    bow: float = 1.0
    hole: float = 0.16
    foot: float = 0.085
    belly: float = 0.2
    head: float = 0.25
    slant: float = 0.0
    crossed: bool = False
    drop: float = 0.22
    post: float = 0.0
    back: float = 1.0
    slack: float = 0.06
    align: float = 0.2
    climb: float = 0.6
    jog: float = 1.8


@dataclass(frozen=True)
class Tension:
    """How a maker's hand forms the stitches.

    Parameters
    ----------
    width : float
        Mean width of a stitch, mm.
    ratio : float
        Height of a round over width of a stitch, 0.7 to 1.2.
    uneven : float
        Relative spread of width and height from stitch to stitch, 0 to 0.2.
    drift : float
        How far a stitch stands behind the one it is worked into, in widths, 0 to 0.45.
    ring : float
        Radius of the adjustable ring, in widths, 0.05 to 0.6.
    face : float
        Mean turn of the braid towards the camera, radians: 0 is edge-on, pi/2
        shows the Vs full-face.
    face_spread : float
        How much that turn changes along a round, radians.
    loose : float
        How far the two strands of a V on the rim stand apart, 0.6 (tight) to 1.1.
    swing : float
        How far the braid's turn goes up on one side of the piece and down on
        the other, radians; 0 for a turn that has no side.
    swing_at : float
        Side where it goes up, radians about the centre.
    wander : float
        Relative spread of a slow change of width along the rounds, 0 to 0.25.
    habit : float
        How far the yarn's way through every stitch of the piece differs from the
        usual one, in stitch widths (and twice as much in yarn diameters towards the
        maker), 0 to 0.2: no two hands and hooks form the same stitch.
    habit_seed : int
        Which way it differs.
    splay : Splay or None
        Where given, the piece is of the second make (:mod:`counter.synthetic.splayed`).
    """

    width: float
    ratio: float
    uneven: float = 0.06
    drift: float = 0.25
    ring: float = 0.25
    face: float = 0.7
    face_spread: float = 0.3
    loose: float = 0.8
    swing: float = 0.0
    swing_at: float = 0.0
    wander: float = 0.0
    habit: float = 0.0
    habit_seed: int = 0
    splay: Splay | None = None

    @property
    def height(self) -> float:
        """Height of a round, mm."""
        return self.width * self.ratio


@dataclass(frozen=True, eq=False)
class WorkedPiece:
    """Stitches in space; right-handed work, right side up (z up), mm.

    Stitches are numbered round by round in the direction of the first round;
    `order` holds the order in which they were worked.

    Parameters
    ----------
    worked : Worked
        The rounds.
    tension : Tension
    round_of : ndarray of shape (stitches,), int
        Round of every stitch, from 0.
    tops : ndarray of shape (stitches, 3), float
        Middle of the top loops of every stitch.
    bases : ndarray of shape (stitches, 3), float
        Middle of the top loops that the stitch is worked under (for the first
        round: the strand of the ring).
    along, out, normal : ndarray of shape (stitches, 3), float
        Unit vectors at the tops: working direction, away from the base, and
        towards the maker (down, where a round was worked from the other side).
    base_along, base_out, base_normal : ndarray of shape (stitches, 3), float
        The same at the bases.
    widths, heights : ndarray of shape (stitches,), float
        Room that each stitch found along the round, and length of its post, mm.
    face : ndarray of shape (stitches,), float
        Turn of the braid towards the maker, radians.
    """

    worked: Worked
    tension: Tension
    round_of: np.ndarray
    tops: np.ndarray
    bases: np.ndarray
    along: np.ndarray
    out: np.ndarray
    normal: np.ndarray
    base_along: np.ndarray
    base_out: np.ndarray
    base_normal: np.ndarray
    widths: np.ndarray
    heights: np.ndarray
    face: np.ndarray

    def __post_init__(self) -> None:
        for value in vars(self).values():
            if isinstance(value, np.ndarray):
                value.flags.writeable = False

    @property
    def starts(self) -> np.ndarray:
        """Number of the first stitch of every round."""
        return np.concatenate([[0], np.cumsum([len(b) for b in self.worked.bases])])

    @property
    def order(self) -> np.ndarray:
        """Numbers of all stitches in the order in which they were worked."""
        numbers = np.arange(len(self.tops))
        rounds = np.split(numbers, self.starts[1:-1])
        return np.concatenate([own[::-1] if self.worked.backwards(r) else own for r, own in enumerate(rounds)])

    def join(self, round_number: int) -> tuple[int, int]:
        """Numbers of the last and the first stitch worked of a round, between which it is joined."""
        first, last = self.starts[round_number], self.starts[round_number + 1] - 1
        return (int(first), int(last)) if self.worked.backwards(round_number) else (int(last), int(first))

    @property
    def rim(self) -> np.ndarray:
        """Numbers of the stitches on the rim, in working order."""
        starts = self.starts
        return np.array([starts[r] + i for r, i in self.worked.rim])

    @property
    def rim_radius(self) -> float:
        """Largest distance of a rim stitch from the centre, mm."""
        return float(np.hypot(*self.tops[self.rim, :2].T).max())


def profile(totals: list[int], tension: Tension, heights: np.ndarray | None = None) -> np.ndarray:
    """Radius and height over the table of every round, before the springs settle.

    A round of n stitches is ``n * width`` long. Where that is too short for a
    flat round the piece turns up: the rise takes what is left of the round's
    height (geometry of a cone).

    Parameters
    ----------
    totals : list of int
        Stitches of every round.
    tension : Tension
    heights : ndarray of shape (rounds,), float, or None
        Height of every round, mm; None for single crochet.

    Returns
    -------
    ndarray of shape (rounds, 2), float
        (radius, height over the table) in mm.
    """
    heights = np.full(len(totals), tension.height) if heights is None else heights
    radius, rise = float(tension.ring * tension.width + heights[0]), 0.0
    rows = [(radius, rise)]
    for n, h in zip(totals[1:], map(float, heights[1:]), strict=False):
        natural = n * tension.width / (2 * np.pi)
        # Crochet gives by about a tenth before it leaves the table.
        step = np.clip(natural * 1.12 - radius, -0.9 * h, h)
        radius += step
        # ... and the last hundredths of a height are pressed flat by the piece's own weight.
        rise += np.sqrt(max((0.93 * h) ** 2 - step**2, 0.0))
        rows.append((radius, rise))
    return np.array(rows)


def _sequence_angles(worked: Worked, drift: float) -> list[np.ndarray]:
    """Angle of every stitch, radians, growing in working direction."""
    first = len(worked.bases[0])
    angles = [2 * np.pi * (np.arange(first) + 0.5) / first]
    if worked.joined:
        angles[0] = _spread(first, SEAM_ROOM_WIDTHS[worked.kind(0)])
    for r, base in enumerate(worked.bases[1:], 1):
        below = angles[-1]
        step = np.append(np.diff(below), below[0] + 2 * np.pi - below[-1])
        low = np.floor(base).astype(int)
        nearest = np.minimum(low, len(below) - 1)
        at = below[nearest] + (base - low) * step[nearest]
        # Siblings part to both sides of the stitch they share.
        for j in np.unique(low):
            kin = np.flatnonzero(low == j)
            at[kin] += (np.arange(len(kin)) - (len(kin) - 1) / 2) / len(kin) * step[min(j, len(below) - 1)]
        # A round spreads itself evenly; only a trace of the places below shows through.
        order = np.arange(len(at))
        lag = drift * step[nearest].mean()
        if worked.closed(r):
            even = _spread(len(at), SEAM_ROOM_WIDTHS[worked.kind(r)])
            even += np.mean(at - even)
            angles.append(even + 0.3 * (at - even) + (lag if worked.backwards(r) else -lag))
            continue
        slope = 2 * np.pi / len(at) if base[-1] >= len(below) - 1.5 or len(at) < 3 else np.polyfit(order, at, 1)[0]
        even = slope * order + np.mean(at - slope * order)
        angles.append(even + 0.3 * (at - even) - lag)
    return angles


def _spread(stitches: int, room: float) -> np.ndarray:
    """Angles of a joined round's stitches, radians, with room for the join in widths."""
    return 2 * np.pi * (np.arange(stitches) + 0.5 * (1 + room)) / (stitches + room)


def _settle(
    points: np.ndarray, pairs: np.ndarray, rest: np.ndarray, stiff: np.ndarray, flat: bool, rounds: int
) -> np.ndarray:
    """Let springs settle by projecting them in parallel (position-based dynamics)."""
    a, b = pairs.T
    share = np.bincount(np.concatenate([a, b]), weights=np.concatenate([stiff, stiff]), minlength=len(points))
    share = np.maximum(share, 1e-9)[:, None]
    points = points.copy()
    for _ in range(rounds):
        gap = points[b] - points[a]
        length = np.maximum(np.linalg.norm(gap, axis=1), 1e-9)
        push = (0.5 * stiff * (length - rest) / length)[:, None] * gap
        move = np.zeros_like(points)
        for axis in range(3):
            move[:, axis] = np.bincount(a, push[:, axis], len(points)) - np.bincount(b, push[:, axis], len(points))
        points += 1.3 * move / share
        if flat:
            points[:, 2] *= 0.9
        else:
            points[:, 2] = np.maximum(points[:, 2], 0.0)
    return points


def _unit(v: np.ndarray) -> np.ndarray:
    return v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-12)


def smooth_noise(rng: np.random.Generator, size: int, reach: float) -> np.ndarray:
    """Noise of unit spread that changes slowly over about `reach` places."""
    if size < 3:
        return rng.normal(size=size)
    radius = int(np.ceil(3 * reach))
    kernel = np.exp(-0.5 * (np.arange(-radius, radius + 1) / reach) ** 2)
    noise = np.convolve(rng.normal(size=size + 2 * radius), kernel, "valid")
    return noise / np.sqrt(np.sum(kernel**2))


def _eased(lie: np.ndarray, closed: bool) -> np.ndarray:
    """Take (radius, height, angle) along a joined round towards that of the neighbours."""
    if len(lie) < 3:
        return lie
    before, after = np.roll(lie, 1, axis=0), np.roll(lie, -1, axis=0)
    before[0, 2] -= 2 * np.pi
    after[-1, 2] += 2 * np.pi
    eased = 0.5 * lie + 0.25 * (before + after)
    # The join's room shall not be shared out among its neighbours.
    eased[[0, -1], 2] = lie[[0, -1], 2]
    if not closed:
        eased[[0, -1]] = lie[[0, -1]]
    return eased


def _rooms(tops: np.ndarray, closed: bool, between: float, width: float) -> np.ndarray:
    """Room that each stitch of a joined round found along it, mm."""
    if len(tops) < 3:
        return np.full(len(tops), width)
    gaps = np.linalg.norm(np.diff(tops, axis=0), axis=1)
    ends = np.full(1, np.linalg.norm(tops[0] - tops[-1]) - between) if closed else gaps[-1:]
    return 0.5 * (np.concatenate([gaps, ends]) + np.concatenate([ends if closed else gaps[:1], gaps]))


def lay_out(worked: Worked, tension: Tension, rng: np.random.Generator) -> WorkedPiece:
    """Lay a worked piece on the table.

    Parameters
    ----------
    worked : Worked
    tension : Tension
    rng : numpy.random.Generator
        Unevenness of the hand.

    Returns
    -------
    WorkedPiece
    """
    layout = _Layout.of(worked, tension)
    width_of, height_of = _by_hand(layout, rng)
    springs, parents = _springs(layout, width_of, height_of)
    start = layout.points + rng.normal(0, 0.01 * tension.width, layout.points.shape) * [1, 1, 0]
    settled = _settle(np.vstack([start, [0, 0, 0]]), *springs, layout.flat, 260)
    tops = _spaced(layout, (settled - settled[-1])[:-1], width_of)
    if layout.flat:
        tops = _swollen(layout, tops, rng)
    along, out, normal = _frames(layout, tops, parents)
    bases, base_along, base_out, base_normal = _bases(layout, tops, along, out, normal)
    size = layout.size
    face = tension.face + tension.face_spread * (0.8 * smooth_noise(rng, size, 5) + 0.3 * rng.normal(size=size))
    if worked.turned:
        # A round worked from the other side has its working direction and its maker there.
        side = np.array([-1.0 if worked.backwards(int(r)) else 1.0 for r in layout.round_of])[:, None]
        along, normal, base_along, base_normal = along * side, normal * side, base_along * side, base_normal * side
    low, high = -0.2, 1.5
    if tension.swing:
        # One side shows the Vs and the other the braid from its edge, or leans beyond either.
        face = face + tension.swing * np.cos(np.arctan2(tops[:, 1], tops[:, 0]) - tension.swing_at)
        low, high = -0.6, 1.9
    return WorkedPiece(
        worked,
        tension,
        layout.round_of,
        tops,
        bases,
        along,
        out,
        normal,
        base_along,
        base_out,
        base_normal,
        np.clip(_widths_found(layout, tops), 0.6 * tension.width, 1.5 * tension.width),
        np.linalg.norm(tops - bases, axis=1),
        np.clip(face, low, high),
    )


@dataclass(frozen=True, eq=False)
class _Layout:
    """Where the stitches of a piece go before their springs settle.

    Parameters
    ----------
    worked : Worked
    tension : Tension
    counts : list of int
        Stitches of each round.
    starts : ndarray of shape (rounds + 1,), int
        First stitch of each round, and their number.
    round_of : ndarray of shape (stitches,), int
    tall : ndarray of shape (rounds,), float
        Height of each round, mm.
    flat : bool
        The piece lies on the table.
    angles, radius : ndarray of shape (stitches,), float
        Radians, mm.
    points : ndarray of shape (stitches, 3), float
        The same as places, mm.
    room : ndarray of shape (rounds,), float
        Room that the radius of a round has, over what its stitches need.
    """

    worked: Worked
    tension: Tension
    counts: list[int]
    starts: np.ndarray
    round_of: np.ndarray
    tall: np.ndarray
    flat: bool
    angles: np.ndarray
    radius: np.ndarray
    points: np.ndarray
    room: np.ndarray

    @property
    def size(self) -> int:
        """Number of stitches."""
        return int(self.starts[-1])

    @classmethod
    def of(cls, worked: Worked, tension: Tension) -> _Layout:
        """Every stitch at its angle, on the profile that the totals give."""
        w, h = tension.width, tension.height
        counts = [len(base) for base in worked.bases]
        starts = np.concatenate([[0], np.cumsum(counts)])
        size = int(starts[-1])
        round_of = np.repeat(np.arange(len(counts)), counts)
        place = np.arange(size) - starts[round_of]
        totals = list(worked.totals)
        if worked.open_round:
            growth = worked.done / max(1.0, worked.bases[-1].max() + 1)
            totals.append(round(totals[-1] * max(growth, 0.5)))
        tall = np.array([HEIGHTS[worked.kind(r)] for r in range(len(counts))]) * h
        shape = profile(totals, tension, tall)
        flat = bool(shape[-1, 1] < 0.8 * h)
        angles = np.concatenate(_sequence_angles(worked, tension.drift))
        turn = round_of if worked.joined else round_of + place / np.asarray(totals)[round_of] - 0.5
        radius = np.interp(turn, np.arange(len(totals)), shape[:, 0])
        if not worked.joined:
            radius[round_of == 0] -= tall[0] * 0.35 * (1 - place[round_of == 0] / counts[0])
        rise = np.interp(turn, np.arange(len(totals)), shape[:, 1]) if not flat else np.zeros(size)
        points = np.stack([radius * np.cos(angles), radius * np.sin(angles), rise], axis=1)
        room = 2 * np.pi * shape[:, 0] / (np.asarray(totals) * w)
        return cls(worked, tension, counts, starts, round_of, tall, flat, angles, radius, points, room)

    def kin(self, r: int, i: int) -> tuple[int, float]:
        """For the i-th stitch of a round: the stitch below it, and how far aside of that it stands, in stitches."""
        base = self.worked.bases[r]
        kin = np.flatnonzero(np.floor(base) == np.floor(base[i]))
        return int(self.starts[r - 1]) + int(np.floor(base[i])), np.flatnonzero(kin == i)[0] - (len(kin) - 1) / 2

    def between(self) -> np.ndarray:
        """Room between each stitch and the one that follows it along the rim, mm, of shape (stitches,)."""
        found = np.zeros(self.size)
        if self.worked.joined:
            found[self.starts[1:] - 1] = [
                SEAM_ROOM_WIDTHS[self.worked.kind(r)] * self.tension.width for r in range(len(self.counts))
            ]
        return found


def _by_hand(layout: _Layout, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Widths and heights of the stitches, mm: they wander with the hand and jump from one to the next."""
    worked, tension, size = layout.worked, layout.tension, layout.size
    spread = tension.uneven
    width_of = tension.width * np.exp(spread * (0.8 * rng.normal(size=size) + 0.7 * smooth_noise(rng, size, 4)))
    if tension.wander:
        width_of *= np.exp(np.clip(tension.wander * smooth_noise(rng, size, rng.uniform(2.0, 9.0)), -0.45, 0.45))
    uneven = 0.8 * spread * (0.7 * rng.normal(size=size) + 0.7 * smooth_noise(rng, size, 5))
    height_of = layout.tall[layout.round_of] * np.exp(uneven)
    if not worked.open_round and not worked.joined and rng.random() < 0.6:
        # A careful maker ends with a lower stitch or two, so that the step at the seam is small.
        ease = int(rng.integers(2, 4))
        height_of[-ease:] *= np.linspace(1.0, rng.uniform(0.55, 0.8), ease + 1)[1:]
    # A round with more stitches than its radius has room for is squeezed.
    width_of *= np.minimum(1.0, layout.room)[layout.round_of]
    return width_of, height_of


def _springs(
    layout: _Layout, width_of: np.ndarray, height_of: np.ndarray
) -> tuple[tuple[np.ndarray, np.ndarray, np.ndarray], np.ndarray]:
    """Pairs of stitches with length at rest and stiffness of the spring between them; and the stitch below each."""
    worked, w = layout.worked, layout.tension.width
    counts, starts, size = layout.counts, layout.starts, layout.size
    pairs: list[tuple[int, int]] = []
    rest: list[float] = []
    stiff: list[float] = []

    def spring(i: int, j: int, length: float, weight: float) -> None:
        pairs.append((i, j))
        rest.append(length)
        stiff.append(weight)

    # The stitch that follows each one along the rim, and the room between the two.
    following = np.append(np.arange(1, size), -1)
    between = layout.between()
    if worked.joined:
        following[starts[1:] - 1] = [starts[r] if worked.closed(r) else -1 for r in range(len(counts))]
    for g in range(size):
        after = following[g]
        if after < 0:
            continue
        spring(g, after, 0.5 * (width_of[g] + width_of[after]) + between[g], 1.0)
        # The braid is stiff: a crowded round is squeezed, it does not fold.
        second = following[after]
        if second >= 0 and second != g:
            spring(
                g,
                second,
                0.95 * (0.5 * width_of[g] + width_of[after] + 0.5 * width_of[second]) + between[g] + between[after],
                0.8,
            )
    parents = np.full(size, -1)
    for r in range(1, len(counts)):
        lag = -layout.tension.drift if worked.backwards(r) else layout.tension.drift
        for i in range(counts[r]):
            g = int(starts[r]) + i
            low, beside = layout.kin(r, i)
            aside = beside * 0.8 - lag + (worked.bases[r][i] % 1.0)
            parents[g] = low
            for offset, weight in ((-1, 0.15), (0, 1.0), (1, 0.15)):
                other = low + offset
                if worked.joined:
                    other = starts[r - 1] + (other - starts[r - 1]) % counts[r - 1]
                if 0 <= other < g:
                    spring(g, other, float(np.hypot(height_of[g], (aside - offset) * w)), weight)
            if r > 1 and parents[low] >= 0:
                spring(g, parents[low], layout.tall[r] + layout.tall[r - 1], 0.15)
    # The ring holds the first round at its radius; the centre is one more point.
    for g in range(counts[0]):
        spring(g, size, layout.radius[g], 1.0)
    return (np.array(pairs), np.array(rest), np.array(stiff)), parents


def _spaced(layout: _Layout, tops: np.ndarray, width_of: np.ndarray) -> np.ndarray:
    """Settled tops, eased: the yarn is thick, and neighbours can't lie in one place, nor pass each other."""
    worked, starts = layout.worked, layout.starts
    # A stitch can't stick out alone. Ease radius and height along the round.
    around = np.unwrap(np.arctan2(tops[:, 1], tops[:, 0]))
    lie = np.stack([np.hypot(tops[:, 0], tops[:, 1]), tops[:, 2], around], axis=1)
    for _ in range(6 if layout.room.min() < 0.95 else 3):
        if worked.joined:
            rounds = range(len(layout.counts))
            lie = np.concatenate([_eased(lie[starts[r] : starts[r + 1]], worked.closed(r)) for r in rounds])
        else:
            lie[1:-1] = 0.5 * lie[1:-1] + 0.25 * (lie[2:] + lie[:-2])
    far = np.maximum(0.5 * (lie[1:, 0] + lie[:-1, 0]), 0.5 * layout.tension.width)
    least = 0.62 * np.minimum(width_of[1:], width_of[:-1]) / far
    for _ in range(40):
        short = 0.5 * np.maximum(0.0, least - np.diff(lie[:, 2]))
        lie[1:, 2] += short
        lie[:-1, 2] -= short
    return np.stack([lie[:, 0] * np.cos(lie[:, 2]), lie[:, 0] * np.sin(lie[:, 2]), lie[:, 1]], axis=1)


def _swollen(layout: _Layout, tops: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A flat piece as it really lies: with a slow swell of a fraction of the thickness, and ruffles where crowded."""
    h = layout.tension.height
    swell = rng.normal(size=2) * 0.12 * h
    far = np.hypot(*tops[:, :2].T) / max(np.hypot(*tops[:, :2].T).max(), 1e-9)
    phase = np.arctan2(tops[:, 1], tops[:, 0])
    tops[:, 2] = far**2 * (
        swell[0] * np.cos(2 * phase + rng.uniform(0, 6.3)) + swell[1] * np.cos(3 * phase + rng.uniform(0, 6.3))
    )
    excess = 1 / layout.room.min() - 1
    if excess > 0.05:
        # What a crowded rim is too long by goes up and down as a ruffle: a wave of
        # height A and m turns is longer than its base by (m A / radius)^2 / 4.
        waves = int(rng.integers(4, 9))
        height = min(2 * np.hypot(*tops[:, :2].T).max() * np.sqrt(excess) / waves, 0.9 * h)
        tops[:, 2] += 0.5 * height * far**3 * (1 + np.sin(waves * phase + rng.uniform(0, 6.3)))
    tops[:, 2] -= min(tops[:, 2].min(), 0)
    return tops


def _directions(layout: _Layout, tops: np.ndarray) -> np.ndarray:
    """Unit vectors of the working direction at the tops, of shape (stitches, 3)."""
    starts, worked = layout.starts, layout.worked
    along = np.empty_like(tops)
    along[1:-1] = tops[2:] - tops[:-2]
    along[0], along[-1] = tops[1] - tops[0], tops[-1] - tops[-2]
    for r in range(len(layout.counts) if worked.joined else 0):
        first, last = starts[r], starts[r + 1] - 1
        if worked.closed(r):
            along[first], along[last] = (
                tops[min(first + 1, last)] - tops[last],
                tops[first] - tops[max(last - 1, first)],
            )
        elif first < last:
            along[first], along[last] = tops[first + 1] - tops[first], tops[last] - tops[last - 1]
        else:
            along[first] = np.cross([0.0, 0.0, 1.0], tops[first])
    return _unit(along)


def _ring(layout: _Layout) -> np.ndarray:
    """Unit vectors from the centre to each stitch, of shape (stitches, 3)."""
    return np.stack([np.cos(layout.angles), np.sin(layout.angles), np.zeros(layout.size)], axis=1)


def _frames(layout: _Layout, tops: np.ndarray, parents: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Working direction, away from the base, and towards the maker at the tops, each of shape (stitches, 3)."""
    along = _directions(layout, tops)
    in_ring = _ring(layout) * layout.tension.ring * layout.tension.width
    below = np.where((parents >= 0)[:, None], tops[np.maximum(parents, 0)], in_ring)
    # Remove the drift from the line base - top before taking it as "out".
    out = tops - below
    out = _unit(out - np.sum(out * along, axis=1, keepdims=True) * along)
    normal = _unit(np.cross(out, along))
    for _ in range(3):
        blur = normal.copy()
        blur[1:] += normal[:-1]
        blur[:-1] += normal[1:]
        inner = parents >= 0
        blur[inner] += 2 * normal[parents[inner]]
        normal = _unit(blur)
    along = _unit(along - np.sum(along * normal, axis=1, keepdims=True) * normal)
    return along, np.cross(along, normal), normal


def _bases(
    layout: _Layout, tops: np.ndarray, along: np.ndarray, out: np.ndarray, normal: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Middles of the loops that the stitches are worked under, and their three directions there."""
    worked, starts, w, ring = layout.worked, layout.starts, layout.tension.width, _ring(layout)
    bases = np.empty_like(tops)
    base_along, base_out, base_normal = along.copy(), out.copy(), normal.copy()
    first = slice(0, layout.counts[0])
    bases[first] = ring[first] * layout.tension.ring * w
    base_out[first], base_normal[first] = ring[first], (0, 0, 1)
    base_along[first] = np.stack([-ring[first, 1], ring[first, 0], np.zeros(layout.counts[0])], axis=1)
    for r in range(1, len(layout.counts)):
        base = worked.bases[r]
        for i in range(layout.counts[r]):
            g = starts[r] + i
            low, beside = layout.kin(r, i)
            high = min(low + 1, starts[r] - 1)
            part = base[i] % 1.0
            bases[g] = (1 - part) * tops[low] + part * tops[high]
            bases[g] += beside * 0.3 * w * along[low]
            base_along[g], base_out[g], base_normal[g] = along[low], out[low], normal[low]
    return bases, base_along, base_out, base_normal


def _widths_found(layout: _Layout, tops: np.ndarray) -> np.ndarray:
    """Room that each stitch found along its round, mm."""
    worked, starts, w = layout.worked, layout.starts, layout.tension.width
    if worked.joined:
        between = layout.between()
        own = [tops[starts[r] : starts[r + 1]] for r in range(len(layout.counts))]
        return np.concatenate([_rooms(t, worked.closed(r), between[starts[r + 1] - 1], w) for r, t in enumerate(own)])
    if layout.size <= 2:
        return np.full(layout.size, w)
    gaps = np.linalg.norm(np.diff(tops, axis=0), axis=1)
    return np.concatenate([gaps[:1], 0.5 * (gaps[1:] + gaps[:-1]), gaps[-1:]])
