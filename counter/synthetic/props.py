"""Things that lie on the table, and things that are not crochet at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from counter.lengths import mat
from counter.synthetic.surfaces import from_srgb
from counter.synthetic.yarn import Mesh, box, merged, resample, revolved, spline, tube, twisted

__all__ = [
    "Part",
    "button",
    "card",
    "coaster",
    "coin",
    "euro",
    "finger",
    "flower",
    "hook",
    "knitted",
    "locking_ring",
    "moved",
    "plate",
    "printed_mat",
    "ruler",
    "scissors",
    "strap",
    "table_line",
    "yarn_ball",
]


@dataclass(frozen=True, eq=False)
class Part:
    """A thing in the scene.

    Parameters
    ----------
    name : str
        Unique in its scene.
    mesh : Mesh
    finish : {"yarn", "sheen", "matte", "plastic", "metal", "skin"}
        How its surface takes the light.
    """

    name: str
    mesh: Mesh
    finish: str


def moved(mesh: Mesh, at: np.ndarray | Sequence[float], turn: float = 0.0) -> Mesh:
    """Turn a mesh about the z axis, then shift it.

    Parameters
    ----------
    mesh : Mesh
    at : array_like of shape (3,), float
        Shift, mm.
    turn : float
        Radians.

    Returns
    -------
    Mesh
    """
    c, s = np.cos(turn), np.sin(turn)
    points = mesh.points @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]) + np.asarray(at, dtype=float)
    return Mesh(points.astype(np.float32), mesh.faces, mesh.colours)


def table_line(
    start: np.ndarray,
    heading: float,
    length: float,
    thickness: float,
    rng: np.random.Generator,
    *,
    keep_out: float = 0.0,
) -> np.ndarray:
    """Line of a yarn end that falls from a point and wanders over the table.

    Parameters
    ----------
    start : ndarray of shape (3,), float
        Where it leaves the piece, mm.
    heading : float
        First direction on the table, radians.
    length : float
        mm.
    thickness : float
        Of the yarn, mm; it lies on the table.
    rng : numpy.random.Generator
    keep_out : float
        Radius about the origin that the line bends away from, mm; 0 to let it
        cross the piece.

    Returns
    -------
    ndarray of shape (K, 3), float
    """
    steps = 40
    step = length / steps
    point, line = np.array(start, dtype=float), []
    bend = rng.normal(0, 0.10)
    for _ in range(steps):
        bend = 0.85 * bend + rng.normal(0, 0.07)
        heading += bend
        away = np.arctan2(point[1], point[0])
        if keep_out and np.hypot(*point[:2]) < keep_out + 3 * thickness:
            heading += 0.5 * np.sin(away - heading)
        point = point + step * np.array([np.cos(heading), np.sin(heading), 0.0])
        point[2] += 0.5 * (0.5 * thickness - point[2])
        line.append(point.copy())
    return np.vstack([start, line])


def hook(length: float, radius: float, colour: np.ndarray, handle: np.ndarray | None) -> tuple[Mesh, Mesh | None]:
    """Crochet hook along the x axis: head at the origin, handle at negative x.

    Parameters
    ----------
    length, radius : float
        mm.
    colour : ndarray of shape (3,), float
        Of the shaft, linear RGB.
    handle : ndarray of shape (3,), float, or None
        Of a soft grip; None for a hook all of one piece.

    Returns
    -------
    tuple of Mesh
        The hook, and its grip or None.
    """
    x = np.array([0, -0.35, -0.9, -1.6, -2.3, -3.2, -4.2, -8, -length / radius]) * radius
    thick = np.array([0.25, 0.75, 0.95, 0.8, 0.62, 0.75, 1.0, 1.0, 1.0]) * radius
    lean = np.array([0.0, 0.12, 0.2, 0.0, -0.2, -0.1, 0.0, 0.0, 0.0]) * radius
    path = spline(np.stack([x, lean, np.full(len(x), radius), thick], axis=1), 8)
    shaft = tube(path[:, :3], np.maximum(path[:, 3], 0.05 * radius)[:, None], colour, 20)
    if handle is None:
        return shaft, None
    x = np.linspace(-0.35 * length, -1.02 * length, 24)
    bulge = radius * (1.15 + 0.9 * np.sin(np.linspace(0.25, np.pi - 0.25, 24)) ** 0.6)
    grip = tube(np.stack([x, np.zeros(24), np.full(24, radius)], axis=1), bulge[:, None], handle, 24)
    return shaft, grip


def yarn_ball(
    radius: float, diameter: float, colours, rng: np.random.Generator, plies: int, step: float, carved: bool = False
) -> Mesh:
    """Ball of yarn that stands on the table.

    Parameters
    ----------
    radius, diameter : float
        Of the ball and of its yarn, mm.
    colours : callable
        Lengths along the yarn (mm) -> linear RGB, shape (K, 3).
    rng : numpy.random.Generator
    plies : int
    step : float
        Distance of the points along the yarn, in diameters.
    carved : bool
        As for :func:`counter.synthetic.yarn.twisted`.

    Returns
    -------
    Mesh
    """
    lines = []
    wraps = int(np.clip(2.6 * np.pi * radius / diameter, 40, 130))
    pole = rng.normal(size=3)
    for k in range(wraps):
        if k % 9 == 0:
            pole = rng.normal(size=3)
            pole /= np.linalg.norm(pole)
            side = np.cross(pole, rng.normal(size=3))
            side /= np.linalg.norm(side)
        t = np.linspace(0, 2 * np.pi, 48, endpoint=False)
        across = (k % 9 - 4) * 1.15 * diameter
        ring = np.sqrt(max(radius**2 - across**2, 0.2 * radius**2))
        third = np.cross(pole, side)
        layer = 1 + 0.012 * rng.normal() - 0.10 * (1 - k / wraps)
        lines.append(layer * (across * pole + ring * (np.cos(t)[:, None] * side + np.sin(t)[:, None] * third)))
    path = resample(np.vstack(lines), step * diameter)[0]
    length = np.arange(len(path)) * step * diameter
    core = revolved(
        0.93 * radius * np.stack([np.sin(np.linspace(0, np.pi, 24)), -np.cos(np.linspace(0, np.pi, 24))], axis=1),
        0.6 * colours(np.zeros(1))[0],
        48,
    )
    wound = twisted(path, diameter, colours(length), rng, plies=plies, sides=8 if carved else 5, carved=carved)
    return moved(merged([core, wound]), (0, 0, radius))


def finger(length: float, radius: float, skin: np.ndarray) -> tuple[Mesh, Mesh]:
    """A finger along the x axis, tip at the origin, with its nail on top.

    Parameters
    ----------
    length : float
        Of finger and hand behind it, mm; enough to leave the picture.
    radius : float
        Of the finger, mm.
    skin : ndarray of shape (3,), float
        Linear RGB.

    Returns
    -------
    tuple of Mesh
        Finger and nail.
    """
    s = np.unique(np.concatenate([np.linspace(0, 1.2, 24) ** 2, np.linspace(1.5, max(length / radius, 12), 50)]))
    x = -radius * s
    tip = np.sqrt(np.clip(1 - (1 - np.minimum(s / 1.15, 1)) ** 2, 0.0, 1))
    knuckles = (
        1
        + 0.07 * np.exp(-(((s - 3.0) / 0.6) ** 2))
        + 0.12 * np.exp(-(((s - 6.5) / 0.9) ** 2))
        + 0.02 * np.maximum(s - 3, 0)
    )
    rise = radius * (0.10 * s + 0.12 * np.maximum(s - 3.0, 0))
    redder = np.exp(-((s / 1.3) ** 2)) + 0.4 * np.exp(-(((s - 3.0) / 0.5) ** 2))
    tint = np.clip(skin * (1 + redder[:, None] * np.array([0.06, -0.10, -0.08])), 0, 0.9)
    body = tube(
        np.stack([x, 0 * x, radius + rise], axis=1),
        np.maximum(radius * tip * knuckles, 0.03 * radius)[:, None],
        tint,
        28,
    )
    u = np.linspace(-0.55, 0.55, 14)
    nail_path = np.stack([-0.85 * radius + u * radius, 0 * u, 1.72 * radius + 0.1 * radius * u], axis=1)
    wide = radius * 0.58 * np.sqrt(np.clip(1 - (u / 0.62) ** 4, 0, 1))
    nail = tube(
        nail_path, np.maximum(wide, 0.02 * radius)[:, None], np.clip(skin * [1.12, 1.02, 1.02] + 0.05, 0, 0.9), 20
    )
    points = nail.points.copy()
    points[:, 2] = 1.72 * radius + (points[:, 2] - 1.72 * radius) * 0.6
    return body, Mesh(points, nail.faces, nail.colours)


def coin(diameter: float, colour: np.ndarray) -> Mesh:
    """A coin with a raised rim and a plain head in relief."""
    r = diameter / 2
    outline = np.array(
        [
            [0, 0],
            [0.97, 0],
            [1, 0.05],
            [1, 0.16],
            [0.97, 0.19],
            [0.9, 0.19],
            [0.88, 0.15],
            [0.62, 0.15],
            [0.56, 0.19],
            [0.4, 0.18],
            [0.3, 0.15],
            [0, 0.15],
        ]
    )
    return revolved(outline * [r, min(r, 12.0)], colour, 96)


def euro(diameter: float, middle: np.ndarray, ring: np.ndarray) -> Mesh:
    """A coin of two metals, like one of 1 or 2 euro, or of one where both colours are the same.

    Parameters
    ----------
    diameter : float
        mm.
    middle, ring : ndarray of shape (3,), float
        Colours, linear RGB.

    Returns
    -------
    Mesh
    """
    outline = np.array(
        [
            [0, 0],
            [0.985, 0],
            [1, 0.02],
            [1, 0.17],
            [0.985, 0.19],
            [0.93, 0.19],
            [0.91, 0.15],
            [0.74, 0.15],
            [0.72, 0.14],
            [0.5, 0.18],
            [0.34, 0.15],
            [0, 0.15],
        ]
    )
    tint = np.where(np.arange(len(outline))[:, None] < 8, ring, middle)
    return revolved(outline * [diameter / 2, 12.0], tint, 128)


def card(size: tuple[float, float, float], corner: float, colours: np.ndarray, rng: np.random.Generator) -> Mesh:
    """A plastic card with rounded corners that lies on the table, its middle at the origin.

    Parameters
    ----------
    size : tuple of float
        Length, width and thickness, mm.
    corner : float
        Radius of the corners, mm.
    colours : ndarray of shape (3, 3), float
        Of the card and of what is printed on it, linear RGB.
    rng : numpy.random.Generator
        What is printed where.

    Returns
    -------
    Mesh
    """
    length, width, thick = size
    turn = np.linspace(0, np.pi / 2, 9)
    arc = corner * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    quarters = []
    for k, (x, y) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        c, s = np.cos(k * np.pi / 2), np.sin(k * np.pi / 2)
        quarters.append(arc @ np.array([[c, s], [-s, c]]) + [x * (length / 2 - corner), y * (width / 2 - corner)])
    edge = np.concatenate(quarters)
    count = len(edge)
    here, after = np.arange(count), (np.arange(count) + 1) % count
    # Top and side share no points, so that the edge between them stays sharp.
    points = np.concatenate(
        [
            np.c_[edge, np.full(count, thick)],
            [[0, 0, thick]],
            np.c_[edge, np.full(count, thick)],
            np.c_[edge, np.zeros(count)],
        ]
    )
    top = np.stack([here, after, np.full(count, count)], axis=1)
    upper, lower = count + 1 + here, 2 * count + 1 + here
    upper2, lower2 = count + 1 + after, 2 * count + 1 + after
    faces = np.concatenate([top, np.stack([lower, lower2, upper2], axis=1), np.stack([lower, upper2, upper], axis=1)])
    body = Mesh(
        points.astype(np.float32),
        faces.astype(np.uint32),
        np.tile(np.asarray(colours[0], np.float32), (len(points), 1)),
    )
    printed = [
        (rng.uniform(-0.25, 0.25), rng.uniform(-0.3, 0.3), rng.uniform(0.1, 0.4), rng.uniform(0.05, 0.3), 1),
        (-0.33, 0.05, 0.14, 0.18, 2),
    ]
    # A stripe from edge to edge on half of the cards, short lines like writing on all.
    if rng.random() < 0.5:
        printed.append((0.0, rng.uniform(0.2, 0.34), 1.0, 0.2, 2))
    printed += [(rng.uniform(-0.1, 0.1), -0.38 + 0.1 * line, rng.uniform(0.3, 0.6), 0.035, 2) for line in range(2)]
    layers = [
        _flat([(x * length, y * width)], (wide * length, tall * width), thick + 0.01 * (layer + 1), colours[ink])
        for layer, (x, y, wide, tall, ink) in enumerate(printed)
    ]
    return merged([body, *layers])


def _flat(places: list[tuple[float, float]], size: tuple[float, float], height: float, colour: np.ndarray) -> Mesh:
    """Flat rectangles with these middles that face up."""
    square = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) * size
    points = (np.asarray(places, dtype=float)[:, None] + square).reshape(-1, 2)
    start = 4 * np.arange(len(places))[:, None]
    faces = np.concatenate([start + [[0, 1, 2]], start + [[0, 2, 3]]])
    points = np.c_[points, np.full(len(points), height)]
    return Mesh(
        points.astype(np.float32), faces.astype(np.uint32), np.tile(np.asarray(colour, np.float32), (len(points), 1))
    )


def printed_mat(paper: str) -> Mesh:
    """The printed measuring mat on the table, the middle of its ring at the origin.

    Parameters
    ----------
    paper : str
        A key of :data:`counter.lengths.mat.PAPERS`.

    Returns
    -------
    Mesh
        The page and its markers, without the words.
    """
    size = np.array(mat.PAPERS[paper])
    # Places of the mat have y down, the table has y up.
    up = np.array([1.0, -1.0])
    page = _flat([tuple(up * (size / 2 - mat.on_page(np.zeros(2), paper)))], tuple(size), 0.1, np.full(3, 0.8))
    cell = mat.MARKER_SIDE_MM / 6
    black = [tuple(up * corners.mean(axis=0)) for corners in mat.MARKERS.values()]
    white = [
        tuple(up * (corners[0] + (np.array([column, row]) + 0.5) * cell))
        for number, corners in mat.MARKERS.items()
        for row, column in np.argwhere(mat.cells(number))
    ]
    return merged(
        [
            page,
            _flat(black, (mat.MARKER_SIDE_MM, mat.MARKER_SIDE_MM), 0.12, np.full(3, 0.03)),
            _flat(white, (cell, cell), 0.14, np.full(3, 0.8)),
        ]
    )


def button(diameter: float, colour: np.ndarray) -> Mesh:
    """A button with a raised rim and four dark holes."""
    r = diameter / 2
    outline = np.array(
        [[0, 0], [0.9, 0], [1, 0.1], [1, 0.22], [0.93, 0.3], [0.84, 0.3], [0.76, 0.2], [0.5, 0.18], [0, 0.18]]
    )
    disc = revolved(outline * r, colour, 64)
    hole = revolved(np.array([[0, 0], [0.11, 0], [0.11, 0.19], [0, 0.19]]) * r, np.full(3, 0.01), 12)
    return merged([disc] + [moved(hole, (0.2 * r * a, 0.2 * r * b, 0)) for a in (-1, 1) for b in (-1, 1)])


def flower(radius: float, petals: int, colour: np.ndarray, heart: np.ndarray, rng: np.random.Generator) -> Mesh:
    """A flat flower of felt or paper, its heart at the origin.

    Parameters
    ----------
    radius : float
        To the tips, mm.
    petals : int
    colour, heart : ndarray of shape (3,), float
        Of petals and middle, linear RGB.
    rng : numpy.random.Generator
        Petals differ a little.

    Returns
    -------
    Mesh
    """
    turn = np.linspace(0, np.pi / 2, 7)
    meshes = [
        moved(revolved(np.stack([np.cos(turn), np.sin(turn)], axis=1) * 0.22 * radius, heart, 24), (0, 0, 0.1 * radius))
    ]
    round_leaf = revolved(
        np.stack([np.sin(np.linspace(0, np.pi, 13)), -np.cos(np.linspace(0, np.pi, 13))], axis=1), colour, 24
    )
    for k in range(petals):
        size = radius * np.exp(rng.normal(0, 0.05))
        points = round_leaf.points * [0.5 * size, min(0.42, 2.2 / petals) * size, 0.09 * radius]
        # Each petal rises towards its tip and lies over the one before.
        points = points + [0.55 * size, 0, 0.10 * radius]
        points[:, 2] += 0.16 * points[:, 0] + 0.05 * radius * (k % 2)
        petal = Mesh(
            points.astype(np.float32), round_leaf.faces, round_leaf.colours * np.float32(np.exp(rng.normal(0, 0.08)))
        )
        meshes.append(moved(petal, (0, 0, 0), 2 * np.pi * k / petals))
    colours = [m.colours.clip(0, 0.95) for m in meshes]
    return merged([Mesh(m.points, m.faces, c) for m, c in zip(meshes, colours, strict=False)])


def strap(length: float, width: float, colour: np.ndarray, stitching: np.ndarray | None) -> Mesh:
    """A flat strap or ribbon along the x axis, its middle at the origin.

    Parameters
    ----------
    length, width : float
        mm.
    colour : ndarray of shape (3,), float
        Linear RGB.
    stitching : ndarray of shape (3,), float, or None
        Colour of the stripes along both edges.

    Returns
    -------
    Mesh
    """
    sides = 24
    x = np.linspace(-length / 2, length / 2, 80)
    line = np.stack([x, 0.03 * length * np.sin(2.2 * x / length), np.zeros(80)], axis=1)
    tint = np.tile(colour, (80, sides, 1))
    if stitching is not None:
        tint[:, [1, 2, 10, 11, 13, 14, 22, 23]] = stitching
    band = tube(line, width / 2, tint, sides)
    points = band.points.copy()
    points[:, 2] *= min(0.12, 1.5 / width)
    return Mesh(points, band.faces, band.colours)


def plate(radius: float, colour: np.ndarray, ring: np.ndarray) -> Mesh:
    """A plate or saucer seen from above."""
    t = np.linspace(0, 1, 60)
    height = radius * (0.02 + 0.14 * np.clip((t - 0.6) / 0.25, 0, 1) ** 1.5)
    tint = np.where(((np.abs(t - 0.66) < 0.012) | (np.abs(t - 0.95) < 0.012))[:, None], ring, colour)
    under = np.array([[0.0, 0.0], [0.55, 0.0], [1.0, 0.14]]) * radius
    outline = np.vstack([under, np.stack([t[::-1] * radius, height[::-1]], axis=1)])
    return revolved(outline, np.vstack([np.tile(colour, (3, 1)), tint[::-1]]), 128)


def ruler(length: float, width: float, colour: np.ndarray, ink: np.ndarray) -> Mesh:
    """A ruler with a mark each millimetre, along the x axis."""
    meshes = [box((length, width, 1.2), colour)]
    for k in range(int(length) - 3):
        tall = 0.36 if k % 10 == 0 else 0.27 if k % 5 == 0 else 0.18
        mark = box((0.22, tall * width, 0.05), ink)
        meshes.append(moved(mark, (k + 2 - length / 2, width / 2 - tall * width / 2, 1.2)))
    return merged(meshes)


def scissors(length: float, colour: np.ndarray) -> tuple[Mesh, Mesh]:
    """Small scissors along the x axis: blades, and handles of a colour."""
    blades, grips = [], []
    for sign in (-1, 1):
        line = np.array([[0.5, 0.01 * sign, 0], [0.2, 0.022 * sign, 0], [0.0, 0, 0], [-0.16, -0.05 * sign, 0]])
        path = spline(np.c_[line, [0.004, 0.022, 0.03, 0.02]] * length, 10)
        blade = tube(path[:, :3] + [0, 0, 0.02 * length], path[:, 3:], np.full(3, 0.72), 12)
        points = blade.points.copy()
        points[:, 2] = 0.02 * length + 0.25 * (points[:, 2] - 0.02 * length)
        blades.append(Mesh(points, blade.faces, blade.colours))
        t = np.linspace(0, 2 * np.pi, 40)
        loop = (
            np.stack([-0.3 + 0.16 * np.cos(t), -0.115 * sign + 0.085 * np.sin(t), np.full(40, 0.03)], axis=1) * length
        )
        grips.append(tube(loop, 0.027 * length, colour, 14))
    return merged(blades), merged(grips)


def locking_ring(radius: float, thickness: float, colour: np.ndarray) -> Mesh:
    """A stitch marker: a wire bent to a long ring in the x-z plane, middle at the origin."""
    t = np.linspace(0, 2 * np.pi, 60)
    line = np.stack([1.5 * radius * np.cos(t), 0.35 * thickness * np.sin(t / 2), radius * np.sin(t)], axis=1)
    return tube(line, 0.5 * thickness, colour, 12)


def coaster(
    radius: float, diameter: float, colours: np.ndarray, rng: np.random.Generator, *, round_shape: bool
) -> Mesh:
    """A plain-woven coaster: strands over and under each other.

    Parameters
    ----------
    radius, diameter : float
        Of the coaster and of its strands, mm.
    colours : ndarray of shape (2, 3), float
        Of the two directions, linear RGB.
    rng : numpy.random.Generator
    round_shape : bool
        True for a disc, False for a square.

    Returns
    -------
    Mesh
    """
    pitch = 1.12 * diameter
    count = int(radius / pitch)
    meshes = []
    for direction in (0, 1):
        for k in range(-count, count + 1):
            at = k * pitch
            half = np.sqrt(max(radius**2 - at**2, 0)) if round_shape else radius
            if half < 2 * pitch:
                continue
            t = np.arange(-half, half, 0.25 * diameter)
            wave = 0.45 * diameter * np.cos(np.pi * (t / pitch + k + direction))
            side = at + 0.06 * diameter * rng.normal()
            line = np.stack([t, np.full_like(t, side), 1.0 * diameter + wave], axis=1)
            if direction:
                line = line[:, [1, 0, 2]]
            meshes.append(twisted(line, diameter, np.tile(colours[direction], (len(t), 1)), rng, plies=3, sides=6))
    return merged(meshes)


def knitted(extent: float, diameter: float, colour: np.ndarray, rng: np.random.Generator) -> Mesh:
    """A square of stocking stitch (knitting, not crochet).

    Parameters
    ----------
    extent : float
        Side of the square, mm.
    diameter : float
        Of the yarn, mm.
    colour : ndarray of shape (3,), float
        Linear RGB.
    rng : numpy.random.Generator

    Returns
    -------
    Mesh
    """
    w, h = 2.6 * diameter, 2.0 * diameter
    columns, rows = int(extent / w), int(extent / h)
    t = np.linspace(0, 2 * np.pi * columns, 28 * columns)
    meshes = []
    for row in range(rows):
        # Loop curve of a knitted row: it swings back on itself at every loop.
        x = w * (t / (2 * np.pi)) + 0.30 * w * np.sin(2 * t) - extent / 2
        y = 0.95 * h * -np.cos(t) + row * h - extent / 2
        z = 1.2 * diameter + 0.55 * diameter * np.cos(2 * t)
        line = np.stack([x, y, z], axis=1) + rng.normal(0, 0.02 * diameter, (len(t), 3))
        meshes.append(twisted(line, 0.95 * diameter, np.tile(colour, (len(t), 1)), rng, plies=3, sides=6))
    return merged(meshes)


SKINS = tuple(from_srgb(c) for c in ("#f0c8a8", "#d9a47e", "#b97f58", "#8a5a3c", "#5c3a28"))
