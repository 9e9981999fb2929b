"""The path of the yarn through the stitches, and the yarn as a mesh.

One single crochet is one run of the yarn: out of the top of the stitch before,
along the front strand of the V, round the tip and back along the back strand,
down behind to the hole below the loops of the round below, through it to the
front, up as the first leg, round at the top, down as the second leg, back
through the hole and up behind, to come out through both loops as the next V.
Half double and double crochet are taller, and the yarn laid over the hook
first winds once round the post on the way up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from counter.synthetic.pattern import CHAINS
from counter.synthetic.piece import WorkedPiece

__all__ = [
    "Mesh",
    "Strand",
    "begin_and_join",
    "box",
    "fuzz",
    "merged",
    "piece_strand",
    "resample",
    "revolved",
    "spline",
    "tube",
    "twisted",
]


@dataclass(frozen=True, eq=False)
class Mesh:
    """Triangles with a colour at every corner.

    Parameters
    ----------
    points : ndarray of shape (V, 3), float32
    faces : ndarray of shape (F, 3), uint32
    colours : ndarray of shape (V, 3), float32
        Linear RGB reflectance, 0 to 1.
    """

    points: np.ndarray
    faces: np.ndarray
    colours: np.ndarray


@dataclass(frozen=True, eq=False)
class Strand:
    """A length of yarn.

    Parameters
    ----------
    path : ndarray of shape (K, 3), float
        Middle line, evenly spaced, mm.
    stitch : ndarray of shape (K,), int
        Number of the stitch that each point belongs to, in working order.
    loops : ndarray of shape (stitches, 9, 3), float
        Points along the two top loops of every stitch, mm.
    marks : ndarray of shape (stitches, 3), float, or None
        Middle of the top loops of every stitch, mm; None where it is that of the piece.
    """

    path: np.ndarray
    stitch: np.ndarray
    loops: np.ndarray
    marks: np.ndarray | None = None


def spline(control: np.ndarray, steps: int) -> np.ndarray:
    """Smooth open curve through control points (uniform Catmull-Rom spline).

    Parameters
    ----------
    control : ndarray of shape (K, D), float
    steps : int
        Points for each span.

    Returns
    -------
    ndarray of shape ((K - 1) * steps + 1, D), float
    """
    p = np.vstack([2 * control[0] - control[1], control, 2 * control[-1] - control[-2]])
    t = (np.arange(steps) / steps)[None, :, None]
    a, b, c, d = p[:-3, None], p[1:-2, None], p[2:-1, None], p[3:, None]
    curve = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
    return np.vstack([curve.reshape(-1, control.shape[1]), control[-1:]])


def resample(path: np.ndarray, step: float, *others: np.ndarray) -> tuple[np.ndarray, ...]:
    """Points at even distances along a line, and values that go with them.

    Parameters
    ----------
    path : ndarray of shape (K, 3), float
    step : float
        Distance wanted, same unit as the path.
    *others : ndarray of shape (K,), number
        Values to carry along; the nearest one before is taken.

    Returns
    -------
    tuple of ndarray
        The line, then the values.
    """
    length = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    at = np.linspace(0, length[-1], max(4, round(length[-1] / step) + 1))
    line = np.stack([np.interp(at, length, path[:, k]) for k in range(path.shape[1])], axis=1)
    before = np.clip(np.searchsorted(length, at, side="right") - 1, 0, len(path) - 1)
    return (line, *(value[before] for value in others))


# One single crochet: where the yarn passes, as (frame, along, out, toward).
# Frame "top" stands at the middle of the stitch's own top loops, "base" at the
# middle of the loops it is worked under. Along is in stitch widths; out is in
# round heights; toward (the maker) is in yarn diameters. V strands are turned
# about the working direction by the braid's face.
# Frame "post" runs from base to top: along from the post's middle, out as a
# share of the whole post.
_V, _TOP, _BASE, _POST = 0, 1, 2, 3
_SINGLE = np.array(
    [
        (_V, -0.50, -0.18, 0.20),
        (_V, -0.28, 0.08, 0.42),
        (_V, 0.08, 0.12, 0.70),
        (_V, 0.42, 0.02, 0.78),
        (_V, 0.66, -0.13, 0.00),
        (_V, 0.42, 0.02, -0.78),
        (_V, 0.08, 0.12, -0.70),
        (_V, -0.28, 0.08, -0.42),
        (_V, -0.47, -0.18, -0.20),
        (_TOP, -0.30, -0.45, -1.00),
        (_BASE, -0.10, -0.26, -0.95),
        (_BASE, -0.10, -0.36, 0.10),
        (_BASE, -0.17, -0.20, 1.30),
        (_BASE, -0.17, 0.12, 1.75),
        (_TOP, 0.26, -0.48, 1.25),
        (_TOP, 0.33, -0.24, 0.55),
        (_TOP, 0.50, -0.10, -0.75),
        (_TOP, 0.67, -0.24, 0.55),
        (_TOP, 0.68, -0.48, 1.25),
        (_BASE, 0.17, 0.12, 1.75),
        (_BASE, 0.17, -0.20, 1.30),
        (_BASE, 0.10, -0.36, 0.10),
        (_BASE, 0.10, -0.26, -0.95),
        (_TOP, 0.45, -0.45, -1.05),
    ]
)


_FIRST_LEG, _SECOND_LEG = 14, 19
# The yarn over winds round the post and slants up to the right on the front.
_HALF_DOUBLE = np.vstack(
    [
        _SINGLE[:_FIRST_LEG],
        (_POST, -0.16, 0.40, 1.20),
        (_POST, -0.08, 0.56, 1.70),
        (_POST, 0.20, 0.70, 1.50),
        (_POST, 0.30, 0.74, 0.10),
        (_POST, 0.05, 0.76, -1.30),
        (_POST, -0.30, 0.78, -0.30),
        (_POST, -0.26, 0.84, 0.90),
        _SINGLE[_FIRST_LEG:_SECOND_LEG],
        (_POST, 0.15, 0.55, 1.00),
        _SINGLE[_SECOND_LEG:],
    ]
)
_DOUBLE = np.vstack(
    [
        _SINGLE[:_FIRST_LEG],
        (_POST, -0.14, 0.28, 1.10),
        (_POST, -0.09, 0.38, 1.60),
        (_POST, 0.18, 0.50, 1.50),
        (_POST, 0.27, 0.53, 0.10),
        (_POST, 0.05, 0.54, -1.25),
        (_POST, -0.27, 0.55, -0.30),
        (_POST, -0.22, 0.62, 0.95),
        (_POST, -0.15, 0.76, 1.05),
        _SINGLE[_FIRST_LEG:_SECOND_LEG],
        (_POST, 0.15, 0.72, 0.95),
        (_POST, 0.13, 0.50, 0.80),
        (_POST, 0.14, 0.28, 1.00),
        _SINGLE[_SECOND_LEG:],
    ]
)
_STITCHES = {"single": _SINGLE, "half double": _HALF_DOUBLE, "double": _DOUBLE}
# One chain: up its length, across and towards the maker in yarn diameters.
_CHAIN = np.array(
    [
        (0.00, -0.50, 0.35),
        (0.35, -0.85, 0.55),
        (0.85, -0.55, 0.40),
        (1.12, 0.00, 0.10),
        (0.85, 0.55, 0.40),
        (0.35, 0.85, 0.55),
        (0.00, 0.50, 0.35),
        (0.15, 0.15, -0.60),
        (0.65, 0.00, -0.60),
    ]
)
# The slip stitch's V: along from the join's middle in widths, out in heights of a single crochet, toward in
# yarn diameters.
_SLIP = np.array(
    [
        (-0.40, -0.20, -0.20),
        (-0.22, 0.02, 0.45),
        (0.05, 0.06, 0.60),
        (0.30, -0.02, 0.35),
        (0.38, -0.12, 0.00),
        (0.30, -0.02, -0.35),
        (0.05, 0.04, -0.50),
        (-0.20, -0.04, -0.40),
        (-0.10, -0.30, -0.90),
        (0.05, -0.34, 0.20),
        (0.02, -0.16, 0.90),
    ]
)


def _chain(
    start: np.ndarray, end: np.ndarray, links: int, along: np.ndarray, normal: np.ndarray, diameter: float
) -> np.ndarray:
    """Control points of a chain from a point to another; shape (9 * links, 3)."""
    up = (end - start) / links
    across = along - up * (np.dot(along, up) / max(np.dot(up, up), 1e-12))
    across /= max(np.linalg.norm(across), 1e-12)
    step = _CHAIN[None, :, :1] + np.arange(links)[:, None, None]
    line = start + step * up + diameter * (_CHAIN[:, 1:2] * across + _CHAIN[:, 2:] * normal)
    return line.reshape(-1, 3)


def piece_strand(piece: WorkedPiece, diameter: float, rng: np.random.Generator, *, step: float = 0.16) -> Strand:
    """Run the yarn through every stitch of a piece.

    Parameters
    ----------
    piece : WorkedPiece
    diameter : float
        Thickness of the yarn where it is pulled tight, mm.
    rng : numpy.random.Generator
        Lean and slack that differ from stitch to stitch.
    step : float
        Distance of the points along the yarn, in diameters.

    Returns
    -------
    Strand
        From the first stitch to where the last loop is drawn through.
    """
    worked = piece.worked
    size = len(piece.tops)
    h = piece.tension.height
    uneven = piece.tension.uneven
    # A V with a stitch worked over it is pressed flat; one on the rim stands up.
    worked_over = np.zeros(size, dtype=bool)
    starts = piece.starts
    for r, base in enumerate(worked.bases[1:]):
        worked_over[starts[r] + np.floor(base).astype(int)] = True
        worked_over[starts[r] + np.ceil(base).astype(int)] = True
    kind_of = np.array([worked.kind(r) for r in piece.round_of])
    controls: list[np.ndarray] = [np.zeros((0, 3))] * size
    loops = np.empty((size, 9, 3))
    for name, table in _STITCHES.items():
        own = np.flatnonzero(kind_of == name)
        if not len(own):
            continue
        kind = table[:, 0].astype(int)
        shape = np.repeat(table[None, :, 1:], len(own), axis=0)
        if piece.tension.habit:
            hand = np.random.default_rng([piece.tension.habit_seed, 5])
            shape += piece.tension.habit * hand.normal(size=table[:, 1:].shape) * [1.0, 0.8, 2.0]
        shape += rng.normal(0, 0.25 * uneven, shape.shape) * [1.0, 0.8, 0.8]
        # Tension: a slack stitch stands out more and has a wider V.
        shape[:, :, 2] *= np.exp(rng.normal(0, 1.5 * uneven, (len(own), 1)))
        lean = rng.normal(0, 0.8 * uneven, len(own))
        shape[:, kind == _TOP, 0] += lean[:, None]
        over = worked_over[own]
        v_points, outwards = np.flatnonzero(kind == _V), np.array([2])
        shape[np.ix_(over, v_points, outwards)] *= 0.75
        shape[np.ix_(~over, v_points, outwards)] *= piece.tension.loose
        along_scale = piece.widths[own][:, None]
        control = np.empty((len(own), len(table), 3))
        turn = piece.face[own][:, None]
        cos, sin = np.cos(turn), np.sin(turn)
        above = piece.tops[own], piece.along[own], piece.out[own], piece.normal[own]
        under = piece.bases[own], piece.base_along[own], piece.base_out[own], piece.base_normal[own]
        for k in (_V, _TOP, _BASE, _POST):
            sel = kind == k
            if not sel.any():
                continue
            u = shape[:, sel, 0] * along_scale
            v = shape[:, sel, 1] * h
            # Worked tight, the strands press into each other.
            n = shape[:, sel, 2] * diameter * (1.0 if k == _V else 0.86)
            if k == _V:
                # The front strand sinks towards the centre, the back strand comes out beyond it.
                v, n = v - n * sin - 0.15 * diameter * sin, n * cos
                n += np.where(over, -0.1, 0.75)[:, None] * diameter
            if k == _POST:
                share = shape[:, sel, 1][..., None]
                low, high = under[0] + 0.10 * h * under[2], above[0] - 0.45 * h * above[2]
                a, m = (
                    ((1 - share) * f[:, None] + share * g[:, None])
                    for f, g in ((under[1], above[1]), (under[3], above[3]))
                )
                # The tops sit half a stitch off their posts, so the post leans.
                u = u + 0.47 * share[..., 0] * along_scale
                control[:, sel] = (
                    (1 - share) * low[:, None] + share * high[:, None] + u[..., None] * a + n[..., None] * m
                )
                continue
            origin, a, o, m = (f[:, None, :] for f in (under if k == _BASE else above))
            control[:, sel] = origin + u[..., None] * a + v[..., None] * o + n[..., None] * m
        loops[own] = control[:, v_points]
        for g, line in zip(own, control, strict=False):
            controls[g] = line
    order = piece.order
    if worked.joined:
        begin_and_join(piece, controls, loops, diameter)
    owner = np.repeat(order, [len(controls[g]) for g in order])
    line = spline(np.concatenate([controls[g] for g in order]), 6)
    owner = np.append(np.repeat(owner, 6)[: len(line) - 1], order[-1])
    path, stitch = resample(line, step * diameter, owner)
    return Strand(path, stitch, loops)


def begin_and_join(piece: WorkedPiece, controls: list[np.ndarray], loops: np.ndarray, diameter: float) -> None:
    """Put the chain before the first stitch of every joined round, and the slip stitch after its last."""
    worked, h, w = piece.worked, piece.tension.height, piece.tension.width
    for r in range(len(worked.bases)):
        last, first = piece.join(r)
        along, out, normal = piece.along[first], piece.out[first], piece.normal[first]
        if r == 0:
            spot = piece.bases[first] - 0.5 * piece.widths[first] * along * (0.0 if worked.chained(0) else 0.4)
        else:
            before, after = piece.join(r - 1)
            spot = 0.5 * (piece.tops[before] + piece.tops[after])
        if worked.chained(r):
            end = piece.tops[first] - 0.1 * h * out
        else:
            edge = (
                0.5 * (piece.tops[last] + piece.tops[first])
                if worked.closed(r)
                else piece.tops[first] - 0.6 * w * along
            )
            end = edge - 0.25 * h * out
        chain = _chain(spot, end, CHAINS[worked.kind(r)], along, normal, diameter)
        # A chain that counts has no post under its top loops.
        controls[first] = np.vstack([chain, loops[first] if worked.chained(r) else controls[first]])
        if worked.closed(r):
            middle = 0.5 * (piece.tops[last] + piece.tops[first])
            gap = piece.tops[first] - piece.tops[last]
            wide = np.linalg.norm(gap)
            slip = middle + _SLIP[:, :1] * gap / max(wide, 1e-9) * min(wide, w) + _SLIP[:, 1:2] * h * out
            slip = slip + (_SLIP[:, 2:] + 0.2) * diameter * normal
            controls[last] = np.vstack([controls[last], slip])


def _frames(path: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Two unit vectors across a line that turn with it as little as possible.

    Found by carrying one normal along by the double reflection method (Wang,
    Jüttler, Zheng, Liu, "Computation of Rotation Minimizing Frames", ACM
    Transactions on Graphics 27(1), 2008).
    """
    tangent = np.gradient(path, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-12)
    first = np.cross(tangent[0], [0.0, 0.0, 1.0])
    if np.linalg.norm(first) < 1e-3:
        first = np.cross(tangent[0], [1.0, 0.0, 0.0])
    first /= np.linalg.norm(first)
    across = np.empty_like(path)
    across[0] = first
    steps = np.diff(path, axis=0)
    r = first.tolist()
    squared = np.maximum(np.sum(steps**2, axis=1), 1e-18).tolist()
    steps_l, tangent_l = steps.tolist(), tangent.tolist()
    for i, v in enumerate(steps_l):
        c = 2.0 / squared[i]
        dr = (v[0] * r[0] + v[1] * r[1] + v[2] * r[2]) * c
        t = tangent_l[i]
        dt = (v[0] * t[0] + v[1] * t[1] + v[2] * t[2]) * c
        rl = (r[0] - dr * v[0], r[1] - dr * v[1], r[2] - dr * v[2])
        tl = (t[0] - dt * v[0], t[1] - dt * v[1], t[2] - dt * v[2])
        n = tangent_l[i + 1]
        q = (n[0] - tl[0], n[1] - tl[1], n[2] - tl[2])
        qq = q[0] * q[0] + q[1] * q[1] + q[2] * q[2]
        if qq > 1e-18:
            d = 2.0 * (q[0] * rl[0] + q[1] * rl[1] + q[2] * rl[2]) / qq
            r = [rl[0] - d * q[0], rl[1] - d * q[1], rl[2] - d * q[2]]
        else:
            r = list(rl)
        across[i + 1] = r
    across -= np.sum(across * tangent, axis=1, keepdims=True) * tangent
    across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-12)
    return across, np.cross(tangent, across)


def tube(path: np.ndarray, radius: np.ndarray | float, colours: np.ndarray, sides: int = 6) -> Mesh:
    """Sweep a circle along a line and close both ends.

    Parameters
    ----------
    path : ndarray of shape (K, 3), float
    radius : float or ndarray of shape (K,) or (K, sides), float
    colours : ndarray of shape (3,), (K, 3) or (K, sides, 3), float
        Linear RGB.
    sides : int
        Corners of the circle.

    Returns
    -------
    Mesh
    """
    count = len(path)
    across, other = _frames(path)
    angle = 2 * np.pi * np.arange(sides) / sides
    r = np.broadcast_to(
        np.asarray(radius, dtype=float).reshape(count, -1) if np.ndim(radius) else radius, (count, sides)
    )
    ring = r[..., None] * (
        np.cos(angle)[None, :, None] * across[:, None] + np.sin(angle)[None, :, None] * other[:, None]
    )
    points = np.concatenate([(path[:, None] + ring).reshape(-1, 3), path[:1], path[-1:]])
    c = np.asarray(colours, dtype=float)
    c = np.broadcast_to(c if c.ndim == 3 else c.reshape(-1, 1, 3), (count, sides, 3)).reshape(-1, 3)
    colours = np.concatenate([c, c[:1], c[-1:]])
    i = np.arange(count - 1)[:, None] * sides
    k = np.arange(sides)[None, :]
    k2 = (k + 1) % sides
    a, b, e, f = i + k, i + k2, i + sides + k, i + sides + k2
    side = np.stack([np.stack([a, b, f], -1), np.stack([a, f, e], -1)]).reshape(-1, 3)
    k, k2 = k[0], k2[0]
    start = np.stack([k2, k, np.full(sides, count * sides)], -1)
    last = (count - 1) * sides
    end = np.stack([last + k, last + k2, np.full(sides, count * sides + 1)], -1)
    return Mesh(
        points.astype(np.float32), np.concatenate([side, start, end]).astype(np.uint32), colours.astype(np.float32)
    )


def merged(meshes: list[Mesh]) -> Mesh:
    """Put several meshes into one."""
    shift = np.cumsum([0] + [len(m.points) for m in meshes[:-1]])
    return Mesh(
        np.concatenate([m.points for m in meshes]),
        np.concatenate([m.faces + np.uint32(s) for m, s in zip(meshes, shift, strict=False)]),
        np.concatenate([m.colours for m in meshes]),
    )


def _tufts(rng: np.random.Generator, count: int, sides: int) -> np.ndarray:
    """Noise of unit spread over the surface of a tube, a little longer than one point; shape (count, sides)."""
    loose = rng.normal(size=(count + 2, sides))
    return (0.5 * loose[:-2] + loose[1:-1] + 0.5 * loose[2:]) / np.sqrt(1.5)


def twisted(
    path: np.ndarray,
    diameter: float,
    colours: np.ndarray,
    rng: np.random.Generator,
    *,
    plies: int = 3,
    pitch: float = 4.0,
    handed: int = 1,
    streaks: float = 0.08,
    sides: int = 8,
    relief: float = 0.0,
    pile: float = 0.0,
    carved: bool = False,
) -> Mesh:
    """Yarn of several plies twisted round each other along a line.

    Parameters
    ----------
    path : ndarray of shape (K, 3), float
        Middle line of the yarn, mm.
    diameter : float
        Thickness of the whole yarn, mm.
    colours : ndarray of shape (K, 3), float
        Linear RGB along the yarn.
    rng : numpy.random.Generator
        Streaks of colour and lumps along each ply.
    plies : int
        1 to 4.
    pitch : float
        Length of one twist in diameters.
    handed : int
        1 or -1, the sense of the twist.
    streaks : float
        Relative spread of brightness over the surface of a ply.
    sides : int
        Corners across one ply.
    relief : float
        How deep the plies stand apart, 0 (pressed into each other) to 1.
    pile : float
        Relative spread of a short dense pile over the surface, 0 to 0.3.
    carved : bool
        True for one tube with the plies as ridges on it, for yarn that is few
        pixels thick: a third of the triangles. `sides` then counts the
        corners across the whole yarn.

    Returns
    -------
    Mesh
    """
    count = len(path)
    half = 0.5 * diameter
    length = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    if carved:
        around = 2 * np.pi * np.arange(sides) / sides
        turned = plies * (around[None, :] - handed * 2 * np.pi * length[:, None] / (pitch * diameter))
        ridge = np.cos(turned) if plies > 1 else np.zeros((count, sides))
        tuft = _tufts(rng, count, sides)
        lump = np.exp(0.05 * np.convolve(rng.normal(size=count + 24), np.ones(25) / 5, "valid"))[:, None]
        radius = half * lump * (1 + (0.05 + 0.07 * relief) * (ridge - 0.5)) * np.exp((pile + 0.03) * tuft)
        shade = np.exp((0.10 + 0.22 * relief) * (ridge - 0.4) + (0.6 * streaks + 1.2 * pile) * tuft)
        return tube(path, radius, np.clip(colours[:, None, :] * shade[..., None], 0.002, 0.98), sides)
    across, other = _frames(path)
    # Radius of a ply and of the circle its middle runs on: touching circles in
    # a ring; plies press into each other, so both are taken a little larger.
    near = {1: (1.0, 0.0), 2: (0.58, 0.44), 3: (0.52, 0.50), 4: (0.46, 0.56)}[plies]
    apart = {1: (1.0, 0.0), 2: (0.50, 0.50), 3: (0.45, 0.55), 4: (0.39, 0.61)}[plies]
    ratio = [(1 - relief) * n + relief * a for n, a in zip(near, apart, strict=False)]
    meshes = []
    for p in range(plies):
        angle = handed * 2 * np.pi * length / (pitch * diameter) + 2 * np.pi * p / plies
        angle = angle + 0.25 * np.cumsum(rng.normal(0, 0.02, count))
        offset = half * ratio[1] * (np.cos(angle)[:, None] * across + np.sin(angle)[:, None] * other)
        lump = np.exp(0.05 * np.convolve(rng.normal(size=count + 24), np.ones(25) / 5, "valid"))
        # Fibres run along the ply and turn round it: noise that is long one way.
        grains = rng.normal(size=(count + 8, sides))
        summed = np.zeros((count, sides))
        for k in range(9):
            summed = summed + grains[k : count + k]
        places = (np.arange(sides)[None, :] + handed * np.arange(count)[:, None] // 4) % sides
        fibre = np.take_along_axis(summed / 3.0, places, axis=1)
        grain = np.exp(0.045 * fibre + 0.025 * rng.normal(size=(count, sides)))
        shade = np.exp(streaks * (fibre + 0.5 * rng.normal(size=(count, sides)) + rng.normal(0, 0.5)))
        if pile:
            # Tufts of a pile: their tips catch the light, between them it is dark.
            tuft = _tufts(rng, count, sides)
            grain = grain * np.exp(pile * tuft)
            shade = shade * np.exp(1.2 * pile * tuft)
        tint = np.clip(colours[:, None, :] * shade[..., None], 0.002, 0.98)
        meshes.append(tube(path + offset, half * ratio[0] * lump[:, None] * grain, tint, sides))
    return merged(meshes)


def fuzz(
    path: np.ndarray,
    diameter: float,
    colours: np.ndarray,
    rng: np.random.Generator,
    *,
    per_mm: float = 3.0,
    length: float = 1.2,
    thickness: float = 0.01,
) -> Mesh:
    """Loose fibres that stand off the yarn.

    Parameters
    ----------
    path : ndarray of shape (K, 3), float
    diameter : float
        Thickness of the yarn, mm.
    colours : ndarray of shape (K, 3), float
        Linear RGB along the yarn.
    rng : numpy.random.Generator
    per_mm : float
        Fibres for each millimetre of yarn.
    length : float
        Mean length of a fibre in yarn diameters.
    thickness : float
        Of a fibre, in yarn diameters.

    Returns
    -------
    Mesh
        Three-sided tubes of three spans each.
    """
    total = np.linalg.norm(np.diff(path, axis=0), axis=1).sum()
    count = max(1, int(total * per_mm))
    at = rng.integers(1, len(path) - 1, count)
    tangent = path[at + 1] - path[at - 1]
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-12)
    side = np.cross(tangent, rng.normal(size=(count, 3)))
    side /= np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-12)
    reach = diameter * length * rng.gamma(2.0, 0.5, count)[:, None]
    start = path[at] + 0.42 * diameter * side
    heading = side * rng.uniform(0.15, 1.0, (count, 1)) + tangent * rng.choice([-1, 1], (count, 1)) * rng.uniform(
        0.3, 1.2, (count, 1)
    )
    curl = rng.normal(0, 0.35, (count, 3))
    t = np.linspace(0, 1, 4)
    lines = start[:, None] + reach[:, None] * (
        t[None, :, None] * heading[:, None] + t[None, :, None] ** 2 * curl[:, None]
    )
    across = np.cross(heading, tangent)
    across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-12)
    third = np.cross(heading, across)
    third /= np.maximum(np.linalg.norm(third, axis=1, keepdims=True), 1e-12)
    angle = 2 * np.pi * np.arange(3) / 3
    r = diameter * thickness * np.linspace(1, 0.4, 4)
    ring = (
        np.cos(angle)[None, None, :, None] * across[:, None, None]
        + np.sin(angle)[None, None, :, None] * third[:, None, None]
    )
    points = lines[:, :, None] + r[None, :, None, None] * ring
    i = (np.arange(count)[:, None, None] * 4 + np.arange(3)[None, :, None]) * 3
    k = np.arange(3)[None, None, :]
    k2 = (k + 1) % 3
    faces = np.stack([np.stack([i + k, i + k2, i + 3 + k2], -1), np.stack([i + k, i + 3 + k2, i + 3 + k], -1)])
    tint = np.repeat(np.clip(colours[at] * np.exp(rng.normal(0, 0.1, (count, 1))) * 1.1, 0, 0.98), 12, axis=0)
    return Mesh(
        points.reshape(-1, 3).astype(np.float32), faces.reshape(-1, 3).astype(np.uint32), tint.astype(np.float32)
    )


def revolved(outline: np.ndarray, colours: np.ndarray, sides: int = 64) -> Mesh:
    """Turn an outline about the z axis.

    Parameters
    ----------
    outline : ndarray of shape (K, 2), float
        (radius, height), mm; from the bottom outwards and up.
    colours : ndarray of shape (3,) or (K, 3), float
        Linear RGB.
    sides : int
        Corners of the circle.

    Returns
    -------
    Mesh
    """
    outline = np.asarray(outline, dtype=float)
    angle = 2 * np.pi * np.arange(sides) / sides
    r, z = outline.T
    points = np.stack(
        [r[:, None] * np.cos(angle), r[:, None] * np.sin(angle), np.broadcast_to(z[:, None], (len(r), sides))], axis=-1
    ).reshape(-1, 3)
    i = np.arange(len(r) - 1)[:, None] * sides
    k = np.arange(sides)[None, :]
    k2 = (k + 1) % sides
    faces = np.stack(
        [np.stack([i + k, i + k2, i + sides + k2], -1), np.stack([i + k, i + sides + k2, i + sides + k], -1)], 0
    )
    colours = np.repeat(np.broadcast_to(np.asarray(colours, dtype=float), (len(r), 3)), sides, axis=0)
    return Mesh(points.astype(np.float32), faces.reshape(-1, 3).astype(np.uint32), colours.astype(np.float32))


def box(size: tuple[float, float, float], colour: np.ndarray) -> Mesh:
    """A block that stands on the table with its middle at the origin.

    Parameters
    ----------
    size : tuple of float
        Length, width and height, mm.
    colour : ndarray of shape (3,), float
        Linear RGB.

    Returns
    -------
    Mesh
        Corners are not shared between sides, so that edges stay sharp.
    """
    corners = np.array([[x, y, z] for z in (0, 1) for y in (-0.5, 0.5) for x in (-0.5, 0.5)]) * size
    quads = np.array([[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]])
    points = corners[quads].reshape(-1, 3)
    start = np.arange(6)[:, None] * 4
    faces = np.concatenate([start + [[0, 1, 2]], start + [[0, 2, 3]]])
    return Mesh(points.astype(np.float32), faces.astype(np.uint32), np.tile(np.asarray(colour, np.float32), (24, 1)))
