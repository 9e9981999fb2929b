"""Things that lie beside a piece and on it: markers, hooks, fingers, yarn, what else is on a table."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from counter.synthetic import props
from counter.synthetic.props import Mesh, Part, moved
from counter.synthetic.shades import random_shade, triple
from counter.synthetic.surfaces import from_srgb
from counter.synthetic.yarn import spline, twisted

if TYPE_CHECKING:
    from counter.synthetic.scene import Crochet, Yarn

__all__ = ["draw_coverings", "draw_extras", "hook_part"]


@dataclass(frozen=True)
class _Around:
    """What things lie round or on, and what draws them.

    Parameters
    ----------
    crochet : Crochet
    radius : float
        Of the piece, mm.
    yarn : Yarn
        The piece's own.
    field : float
        Width of the view on the table, mm.
    rng : numpy.random.Generator
    """

    crochet: Crochet
    radius: float
    yarn: Yarn
    field: float
    rng: np.random.Generator

    @property
    def centre(self) -> np.ndarray:
        """Of the piece, shape (3,), mm."""
        return self.crochet.centre

    def rest_on(self, points: np.ndarray, gap: float) -> float:
        """Height over the table at which something flat rests on the marks near it."""
        marks = self.crochet.marks
        near = np.linalg.norm(marks[:, None, :2] - points[None, :, :2], axis=2).min(axis=1)
        return float(marks[near < np.percentile(near, 30) + gap, 2].max())

    def other_yarn(self) -> Yarn:
        """The same yarn in one colour of its own."""
        return replace(self.yarn, colours=(triple(random_shade(self.rng)),), kind="solid")

    def ball(self, size: float, of: Yarn, loose: float, carved: bool) -> Mesh:
        """A ball of a yarn, wound as thick as the piece's own."""
        return props.yarn_ball(
            size, self.yarn.diameter, lambda at: of.along(at, None, self.rng), self.rng, self.yarn.plies, loose, carved
        )


# Beside the piece, and where a maker would put it ----------------------------


def draw_extras(
    rng: np.random.Generator,
    crochet: Crochet,
    radius: float,
    width: float,
    yarn: Yarn,
    difficulty: str,
    open_loop: bool,
    field: float,
    carved: bool = False,
) -> tuple[list[Part], list[str]]:
    """Marker, hook, ball, finger and other things.

    Parameters
    ----------
    rng : numpy.random.Generator
    crochet : Crochet
    radius, width : float
        Of the piece and of a stitch, mm.
    yarn : Yarn
        The piece's own.
    difficulty : {"easy", "ordinary", "hard"}
    open_loop : bool
        The last loop hangs open: a hook or a marker may be in it.
    field : float
        Width of the view on the table, mm.
    carved : bool, optional
        Balls are carved out of what is wound.

    Returns
    -------
    parts : list of Part
    tags : list of str
    """
    around = _Around(crochet, radius, yarn, field, rng)
    parts: list[Part] = []
    tags: list[str] = []
    if rng.random() < (0.5 if open_loop else 0.18):
        tags.append("marker")
        parts.append(_marker(around, width))
    hook_radius = width * rng.uniform(0.28, 0.42)
    if open_loop and rng.random() < 0.55:
        tags.append("hook")
        parts += _hook_in_loop(around, width, hook_radius)
    elif rng.random() < 0.15:
        tags.append("hook")
        parts += _hook_beside(around, hook_radius, difficulty)
    if rng.random() < {"easy": 0.05, "ordinary": 0.12, "hard": 0.3}[difficulty]:
        tags.append("finger")
        parts += _fingers(around, width, difficulty)
    side = rng.uniform(0, 2 * np.pi)
    if rng.random() < {"easy": 0.06, "ordinary": 0.14, "hard": 0.22}[difficulty]:
        tags.append("ball")
        parts.append(_ball_beside(around, side, carved))
        side += rng.uniform(1.5, 4.5)
    if rng.random() < 0.16:
        kind = str(rng.choice(["coin", "ruler", "scissors"]))
        parts += _thing_beside(around, kind, side)
        tags.append(kind)
    return parts, tags


def _marker(around: _Around, width: float) -> Part:
    """A locking ring or a scrap of yarn in the first stitch."""
    rng, first = around.rng, around.crochet.marks[0]
    outward = first[:2] - around.centre[:2]
    direction = float(np.arctan2(outward[1], outward[0]))
    if rng.random() < 0.6:
        ring = props.locking_ring(rng.uniform(0.5, 0.8) * width, rng.uniform(0.14, 0.24) * width, random_shade(rng))
        # Half through the V, tipped over so that it lies on the work.
        tip = rng.uniform(0.5, 1.2)
        points = ring.points @ np.array([[1, 0, 0], [0, np.cos(tip), np.sin(tip)], [0, -np.sin(tip), np.cos(tip)]])
        ring = replace(ring, points=points.astype(np.float32))
        at = first + np.array([np.cos(direction), np.sin(direction), 0]) * 0.5 * width
        return Part("marker", moved(ring, at, direction + rng.normal(0, 0.3)), "plastic")
    scrap = replace(around.other_yarn(), diameter=around.yarn.diameter * 0.8, plies=2)
    out = np.array([np.cos(direction), np.sin(direction), 0.0])
    aside = np.array([-out[1], out[0], 0.0])
    d = scrap.diameter
    line = [
        first - out * width * rng.uniform(1.6, 3.0) + aside * width * rng.normal(0, 0.5) + [0, 0, 1.9 * d],
        first - out * width * 0.7 + [0, 0, 1.7 * d],
        first - out * 0.25 * width + [0, 0, 0.6 * d],
        first + [0, 0, -0.9 * d],
        first + out * width * 0.6 - [0, 0, 0.4 * d],
    ]
    end = first + out * width * rng.uniform(1.5, 4) + aside * width * rng.normal(0, 1.0)
    line.append(np.array([end[0], end[1], 0.5 * d]))
    path = spline(np.array(line), 14)
    return Part("marker", twisted(path, d, np.tile(scrap.colours[0], (len(path), 1)), rng, plies=2), "yarn")


def hook_part(
    rng: np.random.Generator, tip: np.ndarray, heading: float, radius: float, name: str = "hook", over: float = 0.0
) -> list[Part]:
    """A hook whose tip lies there, `over` mm above the table; with a grip or without."""
    colour = from_srgb(
        str(rng.choice(["#b9bcc2", "#c9a24b", "#3f7fbf", "#c55f8e", "#7fc7a4", "#d8b98f", "#6b4a8c", "#e5e0d6"]))
    )
    grip = random_shade(rng) if rng.random() < 0.5 else None
    shaft, handle = props.hook(radius * rng.uniform(38, 55), radius, colour, grip)
    finish = "metal" if rng.random() < 0.5 else "plastic"
    at = np.array([tip[0], tip[1], over])
    parts = [Part(name, moved(shaft, at, heading), finish)]
    if handle is not None:
        parts.append(Part(f"{name} grip", moved(handle, at, heading), "plastic"))
    return parts


def _hook_in_loop(around: _Around, width: float, radius: float) -> list[Part]:
    rng, loop = around.rng, around.crochet.loop
    to = loop[:2] - around.centre[:2]
    heading = float(np.arctan2(to[1], to[0])) + rng.normal(0, 0.6) + np.pi
    lead = np.array([np.cos(heading), np.sin(heading)])
    tip = loop[:2] + lead * width * rng.uniform(0.8, 2.0)
    return hook_part(rng, tip, heading, radius, over=max(0.0, loop[2] - radius))


def _hook_beside(around: _Around, radius: float, difficulty: str) -> list[Part]:
    """Beside the piece, or across it."""
    rng = around.rng
    side = rng.uniform(0, 2 * np.pi)
    over = difficulty == "hard" and rng.random() < 0.4
    far = around.radius * (rng.uniform(0.5, 0.9) if over else rng.uniform(1.15, 1.5))
    tip = around.centre[:2] + far * np.array([np.cos(side), np.sin(side)])
    heading = side + np.pi + rng.normal(0, 0.5) if over else side + rng.choice([-1, 1]) * rng.uniform(1.2, 2.4)
    high = around.crochet.marks[:, 2].max() + 0.6 * around.yarn.diameter if over else 0.0
    return hook_part(rng, tip, heading, radius, over=high)


def _fingers(around: _Around, width: float, difficulty: str) -> list[Part]:
    """One or two that hold the rim."""
    rng, marks = around.rng, around.crochet.marks
    side = rng.uniform(0, 2 * np.pi)
    skin = props.SKINS[rng.integers(len(props.SKINS))]
    thick = width * rng.uniform(1.0, 1.7)
    over = rng.uniform(-1.2, 0.2) if difficulty == "easy" else rng.uniform(0.0, 2.5)
    parts = []
    for k in range(int(rng.choice([1, 2], p=[0.75, 0.25]))):
        angle = side + k * 2.3 * thick / around.radius
        tip = around.centre + [*(np.cos([angle, angle - np.pi / 2]) * (around.radius - over * thick)), 0]
        body, nail = props.finger(1.3 * around.field, thick, skin)
        rise = 0.7 * marks[:, 2].mean() + 0.3 * marks[:, 2].max() if over > -0.3 else 0.0
        parts += [
            Part(f"finger {k}", moved(body, tip + [0, 0, rise], angle + np.pi), "skin"),
            Part(f"nail {k}", moved(nail, tip + [0, 0, rise], angle + np.pi), "plastic"),
        ]
    return parts


def _ball_beside(around: _Around, side: float, carved: bool) -> Part:
    rng, radius, centre = around.rng, around.radius, around.centre
    size = radius * rng.uniform(0.35, 0.8) if radius > 18 else rng.uniform(12, 22)
    wound = around.yarn if rng.random() < 0.6 else around.other_yarn()
    far = radius + size * rng.uniform(0.95, 1.5)
    mesh = around.ball(size, wound, 0.45 if carved else 0.35, carved)
    return Part("ball", moved(mesh, centre + [far * np.cos(side), far * np.sin(side), -centre[2]]), "yarn")


def _thing_beside(around: _Around, kind: str, side: float) -> list[Part]:
    """A coin, a ruler or a pair of scissors."""
    rng, centre = around.rng, around.centre
    far = around.radius * rng.uniform(1.25, 1.6) + 8
    at = centre + [far * np.cos(side), far * np.sin(side), -centre[2]]
    turn = side + np.pi / 2 + rng.normal(0, 0.4)
    if kind == "coin":
        mesh = props.coin(rng.uniform(21, 26), from_srgb(str(rng.choice(["#c9a24b", "#b8bcc0", "#b8764a"]))))
        return [Part("coin", moved(mesh, at), "metal")]
    if kind == "ruler":
        at = at + np.array([np.cos(side), np.sin(side), 0]) * 12
        mesh = props.ruler(
            rng.uniform(120, 200),
            rng.uniform(22, 32),
            from_srgb(str(rng.choice(["#e9d9a0", "#f0f0ee", "#b9c3c9", "#d9a86a"]))),
            from_srgb("#222222"),
        )
        return [Part("ruler", moved(mesh, at, turn), "plastic")]
    blades, grips = props.scissors(rng.uniform(90, 130), random_shade(rng))
    at = at + np.array([np.cos(side), np.sin(side), 0]) * 14
    return [Part("blades", moved(blades, at, turn), "metal"), Part("grips", moved(grips, at, turn), "plastic")]


# On a stretch of the rim ------------------------------------------------------


def _flower_over(around: _Around, side: float, lead: np.ndarray) -> list[Part]:
    rng, radius = around.rng, around.radius
    size = radius * rng.uniform(0.2, 0.45)
    at = around.centre + lead * radius * rng.uniform(0.75, 1.05)
    mesh = props.flower(size, int(rng.integers(4, 9)), random_shade(rng), random_shade(rng), rng)
    at[2] = around.rest_on(at[None], size) + 0.4 * around.yarn.diameter
    return [Part("flower", moved(mesh, at, rng.uniform(0, 6.28)), "matte")]


def _button_over(around: _Around, side: float, lead: np.ndarray) -> list[Part]:
    rng, radius = around.rng, around.radius
    size = radius * rng.uniform(0.25, 0.6)
    at = around.centre + lead * radius * rng.uniform(0.8, 1.05)
    at[2] = around.rest_on(at[None], size) + 0.4 * around.yarn.diameter
    return [Part("button", moved(props.button(size, random_shade(rng)), at, rng.uniform(0, 6.28)), "plastic")]


def _strap_over(around: _Around, side: float, lead: np.ndarray) -> list[Part]:
    rng, radius, centre = around.rng, around.radius, around.centre
    wide = float(np.clip(radius * rng.uniform(0.12, 0.35), 3, 30))
    off = radius * rng.uniform(0.55, 1.0)
    across = np.array([-lead[1], lead[0], 0.0])
    line = centre + lead * off + across * np.linspace(-radius, radius, 20)[:, None]
    at = centre + lead * off
    at[2] = around.rest_on(line, wide) + 0.5 * around.yarn.diameter
    mesh = props.strap(2.2 * around.field, wide, random_shade(rng), random_shade(rng) if rng.random() < 0.5 else None)
    return [Part("strap", moved(mesh, at, side + np.pi / 2), "plastic" if rng.random() < 0.3 else "matte")]


def _strand_over(around: _Around, side: float, lead: np.ndarray) -> list[Part]:
    rng, radius, centre, yarn = around.rng, around.radius, around.centre, around.yarn
    thick = yarn.diameter * rng.uniform(0.7, 1.3)
    turn = side + rng.normal(0, 0.5) + (0 if rng.random() < 0.5 else 1.2)
    ahead = np.array([np.cos(turn), np.sin(turn), 0.0])
    aside = np.array([-ahead[1], ahead[0], 0.0])
    t = np.linspace(-1.3, rng.uniform(-0.2, 1.4), 9)[:, None] * radius
    line = centre + lead * radius * rng.uniform(0.5, 1.0) - ahead * t + aside * rng.normal(0, 0.09 * radius, (9, 1))
    high = around.rest_on(line, 2 * thick) + 0.5 * (yarn.diameter + thick)
    line[:, 2] = np.where(np.linalg.norm((line - centre)[:, :2], axis=1) < 1.06 * radius, high, 0.5 * thick)
    path = spline(line, 24)
    colour = np.asarray(yarn.colours[0]) if rng.random() < 0.6 else random_shade(rng)
    mesh = twisted(path, thick, np.tile(colour, (len(path), 1)), rng, plies=yarn.plies, sides=6)
    return [Part("strand", mesh, yarn.finish)]


def _thumb_over(around: _Around, side: float, lead: np.ndarray) -> list[Part]:
    rng, radius = around.rng, around.radius
    skin = props.SKINS[rng.integers(len(props.SKINS))]
    thick = radius * rng.uniform(0.16, 0.3)
    tip = around.centre + lead * (radius - rng.uniform(0.3, 2.5) * thick)
    tip[2] = 0.8 * around.rest_on(tip[None], 2 * thick)
    body, nail = props.finger(1.5 * around.field, thick, skin)
    return [
        Part("thumb", moved(body, tip, side + np.pi), "skin"),
        Part("thumb nail", moved(nail, tip, side + np.pi), "plastic"),
    ]


def _ball_over(around: _Around, side: float, lead: np.ndarray) -> list[Part]:
    rng, radius, centre = around.rng, around.radius, around.centre
    size = max(radius * rng.uniform(0.4, 0.9), 10.0)
    far = radius + size * rng.uniform(0.35, 0.8)
    wound = around.yarn if rng.random() < 0.6 else around.other_yarn()
    at = np.array([centre[0] + far * lead[0], centre[1] + far * lead[1], 0.0])
    return [Part("ball over", moved(around.ball(size, wound, 0.45, True), at), around.yarn.finish)]


#: What may lie on a stretch of the rim: name -> (how often, what draws it).
COVERINGS: dict[str, tuple[float, Callable[[_Around, float, np.ndarray], list[Part]]]] = {
    "flower": (0.16, _flower_over),
    "button": (0.12, _button_over),
    "strap": (0.14, _strap_over),
    "strand": (0.24, _strand_over),
    "thumb": (0.22, _thumb_over),
    "ball": (0.12, _ball_over),
}


def draw_coverings(
    rng: np.random.Generator, crochet: Crochet, radius: float, yarn: Yarn, field: float
) -> tuple[list[Part], list[str]]:
    """One or two things that lie on a stretch of the rim; see :func:`draw_extras` for what it takes and gives."""
    around = _Around(crochet, radius, yarn, field, rng)
    many = int(rng.choice([1, 2], p=[0.85, 0.15]))
    chosen = rng.choice(list(COVERINGS), many, replace=False, p=[often for often, _ in COVERINGS.values()])
    parts: list[Part] = []
    for kind in map(str, chosen):
        side = rng.uniform(0, 2 * np.pi)
        parts += COVERINGS[kind][1](around, side, np.array([np.cos(side), np.sin(side), 0.0]))
    return parts, [*map(str, chosen)]
