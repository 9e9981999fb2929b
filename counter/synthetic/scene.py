"""Everything in front of the camera, drawn from one seed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from counter.lengths import mat
from counter.synthetic import props
from counter.synthetic.camera import Camera, Finish, aimed
from counter.synthetic.extras import draw_extras
from counter.synthetic.pattern import Worked, plan_totals, random_worked, work
from counter.synthetic.piece import Tension, WorkedPiece, lay_out
from counter.synthetic.props import Part, moved
from counter.synthetic.shades import luminance, random_shade, triple
from counter.synthetic.splayed import lay_out_splayed, splayed_end, splayed_strand
from counter.synthetic.surfaces import SURFACES, from_srgb, surface
from counter.synthetic.yarn import fuzz, merged, piece_strand, resample, spline, twisted

__all__ = [
    "DIFFICULTIES",
    "NEGATIVES",
    "REFERENCES",
    "Crochet",
    "Light",
    "Scene",
    "SceneRequest",
    "Yarn",
    "compose",
    "crocheted",
]

DIFFICULTIES = ("easy", "ordinary", "hard")

#: Things of known size that a photo can be measured by.
REFERENCES = ("card", "2 EUR", "1 EUR", "50 c", "two 2 EUR", "mat")
#: Diameters of euro coins, mm (Council Regulation (EC) No 975/98, annex I).
_EURO = {"2 EUR": 25.75, "1 EUR": 23.25, "50 c": 24.25}
#: Length, width and thickness of a card and the radius of its corners, mm (ISO/IEC 7810, ID-1).
_CARD, _CARD_CORNER = (85.60, 53.98, 0.76), 3.18

#: Photos that hold nothing to count: kind -> why, as the truth file says it.
NEGATIVES = {
    "plain": "no piece",
    "plate": "no piece",
    "coin": "no piece",
    "yarn ball": "no piece",
    "coaster": "no piece",
    "knitted": "no piece",
    "cut off": "cut off",
    "several": "several pieces",
}


@dataclass(frozen=True)
class Yarn:
    """What a piece is worked with.

    Parameters
    ----------
    diameter : float
        mm.
    plies : int
        1 to 4.
    pitch : float
        Length of one twist in diameters.
    handed : int
        1 or -1, the sense of the twist.
    colours : tuple of tuple of float
        Linear RGB.
    kind : {"solid", "stripes", "edge", "variegated", "tweed"}
        "edge" has the last round in the second colour.
    repeat : float
        Rounds of one stripe, or length of one colour in mm.
    streaks : float
        Spread of brightness over a ply.
    halo : float
        Loose fibres for each millimetre.
    halo_length : float
        Of the fibres, in diameters.
    relief : float
        How deep the plies stand apart, 0 to 1.
    pile : float
        Relative spread of a short dense pile (chenille), 0 to 0.3.
    sheen : bool
        True for a soft highlight along the strands (mercerised cotton).
    """

    diameter: float
    plies: int
    pitch: float
    handed: int
    colours: tuple[tuple[float, float, float], ...]
    kind: str
    repeat: float
    streaks: float
    halo: float
    halo_length: float
    relief: float = 0.0
    pile: float = 0.0
    sheen: bool = False

    @property
    def seen(self) -> tuple[tuple[float, float, float], ...]:
        """Colours that the eye takes the yarn for: of tweed, whose others are flecks, the first."""
        return self.colours if self.kind != "tweed" else self.colours[:1]

    @property
    def finish(self) -> str:
        """How its surface takes the light, as of a part."""
        return "sheen" if self.sheen else "yarn"

    def along(self, length: np.ndarray, round_of: np.ndarray | None, rng: np.random.Generator) -> np.ndarray:
        """Colour at places along the yarn; shape (K, 3), linear RGB."""
        palette = np.asarray(self.colours)
        if self.kind == "stripes" and round_of is not None:
            return palette[(round_of // int(self.repeat)) % len(palette)]
        if self.kind == "edge" and round_of is not None:
            return palette[(round_of == round_of.max()).astype(int)]
        if self.kind == "variegated":
            at = length / self.repeat
            first = np.floor(at).astype(int)
            blend = np.clip((at - first - 0.85) / 0.15, 0, 1)[:, None]
            return palette[first % len(palette)] * (1 - blend) + palette[(first + 1) % len(palette)] * blend
        colours = np.tile(palette[0], (len(length), 1))
        if self.kind == "tweed":
            run = np.convolve(rng.random(len(length)) < 0.02, np.ones(3), "same")[: len(length)] > 0
            colours[run] = palette[rng.integers(1, len(palette), int(run.sum()))]
        return colours


@dataclass(frozen=True)
class SceneRequest:
    """What a photo must show; whatever is None is drawn from the seed.

    Parameters
    ----------
    worked : Worked or None
        The rounds.
    end : {"fastened", "woven in", "loop"} or None
        What becomes of the last loop.
    kind : {"solid", "stripes", "variegated", "tweed"} or None
    colours : tuple of str or None
        Of the yarn, as "#rrggbb".
    background : str or None
        A key of :data:`counter.synthetic.surfaces.SURFACES`.
    reference : str or None
        One of :data:`REFERENCES`, to lie in the picture; None for none of them.
    """

    worked: Worked | None = None
    end: str | None = None
    kind: str | None = None
    colours: tuple[str, ...] | None = None
    background: str | None = None
    reference: str | None = None


@dataclass(frozen=True, eq=False)
class Reference:
    """A thing of known size on the table.

    Parameters
    ----------
    part : Part
    edge : ndarray of shape (K, 3), float
        What of it must be in the picture, mm.
    corners : ndarray of shape (K, 3), float
        Of a card the four corners, of a mat those of its ring of markers, mm,
        as if not rounded; of a coin its rim.
    """

    part: Part
    edge: np.ndarray
    corners: np.ndarray


@dataclass(frozen=True)
class Light:
    """A lamp or a window.

    Parameters
    ----------
    position : tuple of float
        mm.
    width : float
        Side of a square panel that faces the origin, mm.
    power : tuple of float
        Light that falls on the table at the origin, linear RGB.
    """

    position: tuple[float, float, float]
    width: float
    power: tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Crochet:
    """A piece as meshes, with the points that the truth is made of.

    Parameters
    ----------
    parts : tuple of Part
        The first one is the piece itself.
    marks : ndarray of shape (stitches on the rim, 3), float
        Middle of the top loops, in working order, mm.
    increases : ndarray of shape (K, 3), float
        Marks of the stitches of the last round that share a base.
    centre : ndarray of shape (3,), float
        Of the ring.
    loop : ndarray of shape (3,), float
        Where the last loop leaves the piece.
    seam : ndarray of shape (3,), float
        Place on the rim right after the last stitch worked.
    outer : ndarray of shape (stitches on the rim, 9, 3), float
        Points along the top loops of every stitch of the rim, at the far side
        of the yarn from the centre.
    tops : tuple of ndarray of shape (stitches of the round, 3), float
        Middle of the top loops of every stitch, round by round.
    end : {"fastened", "woven in", "loop"}
        What became of the last loop.
    """

    parts: tuple[Part, ...]
    marks: np.ndarray
    increases: np.ndarray
    centre: np.ndarray
    loop: np.ndarray
    seam: np.ndarray
    outer: np.ndarray
    tops: tuple[np.ndarray, ...]
    end: str


@dataclass(frozen=True, eq=False)
class Scene:
    """All that a render needs, and the truth that goes with it.

    Parameters
    ----------
    parts : tuple of Part
    ground : ndarray of shape (T, T, 3), float32
        Table top, linear RGB.
    ground_half : float
        Half a side of the table top, mm.
    camera : Camera
    lights : tuple of Light
    ambient : tuple of float
        Light of the room from all sides, linear RGB.
    finish : Finish
    marks : ndarray of shape (stitches, 3), float
    stitch_width : float
        mm; 0 where there is no piece.
    truth : dict
        As the truth file, without the hidden marks.
    develop_seed : int
        Of the noise.
    """

    parts: tuple[Part, ...]
    ground: np.ndarray
    ground_half: float
    camera: Camera
    lights: tuple[Light, ...]
    ambient: tuple[float, float, float]
    finish: Finish
    marks: np.ndarray
    stitch_width: float
    truth: dict
    develop_seed: int


def _yarn(rng: np.random.Generator, width: float, difficulty: str, kind: str | None = None) -> Yarn:
    drawn = str(
        rng.choice(
            ["solid", "stripes", "variegated", "tweed"],
            p={"easy": [0.8, 0.12, 0.0, 0.08], "ordinary": [0.66, 0.16, 0.09, 0.09], "hard": [0.6, 0.12, 0.18, 0.10]}[
                difficulty
            ],
        )
    )
    kind = kind or drawn
    colours = [random_shade(rng)]
    if difficulty == "easy":
        while not 0.05 < luminance(colours[0]) < 0.55:
            colours = [random_shade(rng)]
    if difficulty == "hard" and rng.random() < 0.35:
        colours = (
            [np.full(3, 0.012) * rng.uniform(0.6, 1.6, 3)]
            if rng.random() < 0.5
            else [np.array([0.8, 0.78, 0.74]) * rng.uniform(0.92, 1.02)]
        )
    for _ in range(
        {"solid": 0, "stripes": int(rng.integers(1, 3)), "variegated": int(rng.integers(1, 4)), "tweed": 4}[kind]
    ):
        colours.append(random_shade(rng))
    repeat = (
        float(rng.integers(1, 3))
        if kind == "stripes"
        else float(np.exp(rng.uniform(np.log(120), np.log(1200))) * width / 6)
    )
    return Yarn(
        diameter=width * float(rng.uniform(0.29, 0.42)),
        plies=int(rng.choice([1, 2, 3, 4], p=[0.12, 0.23, 0.4, 0.25])),
        pitch=float(rng.uniform(3.0, 6.5)),
        handed=int(rng.choice([-1, 1])),
        colours=tuple(triple(c) for c in colours),
        kind=kind,
        repeat=repeat,
        streaks=float(rng.uniform(0.05, 0.18)),
        halo=float(rng.choice([0.0, 1.0, 3.0, 7.0], p=[0.12, 0.35, 0.33, 0.2])),
        halo_length=float(rng.uniform(0.18, 0.55)),
    )


def _tension(rng: np.random.Generator, width: float, ratio: float, difficulty: str) -> Tension:
    return Tension(
        width=width,
        ratio=ratio,
        uneven={"easy": 0.045, "ordinary": 0.075, "hard": 0.11}[difficulty] * float(rng.uniform(0.7, 1.4)),
        drift=float(rng.uniform(0.08, 0.4)),
        ring=float(rng.choice([rng.uniform(0.08, 0.25), rng.uniform(0.25, 0.55)], p=[0.7, 0.3])),
        face=float(rng.uniform(0.3, 1.15)),
        face_spread=float(rng.uniform(0.1, 0.45)),
        loose=float(rng.uniform(0.65, 1.0)),
    )


def _end(
    piece: WorkedPiece, diameter: float, kind: str, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The yarn after the last stitch: control points, loop tip, and heading of what is left."""
    w, h = piece.tension.width, piece.tension.height
    final = piece.order[-1]
    top, a, o, m = piece.tops[final], piece.along[final], piece.out[final], piece.normal[final]
    if piece.worked.closed(len(piece.worked.bases) - 1):
        # After the slip stitch the yarn leaves from the join.
        last, first = piece.join(len(piece.worked.bases) - 1)
        top = 0.5 * (piece.tops[last] + piece.tops[first]) - 0.35 * w * a

    def at(u, v, n):
        return top + u * w * a + v * h * o + n * diameter * m

    start = [at(0.45, -0.45, -1.05), at(0.5, -0.16, 0.3)]
    if kind == "fastened":
        # Drawn through: one strand that lies along the rim like half a V.
        reach = rng.uniform(0.9, 1.5)
        points = [at(0.72, 0.08, 0.8), at(reach, 0.0, 0.6), at(reach + 0.35, -0.05, -0.6)]
        return np.array(start + points), points[1], a * rng.uniform(0.3, 1.0) + o
    if kind == "woven in":
        points = [at(0.75, 0.05, 0.7), at(1.1, -0.1, 0.3), at(1.4, -0.35, -1.2), at(1.7, -0.6, -1.6)]
        return np.array(start + points), points[1], a
    # The working loop: larger than a V, closed behind by the yarn to the ball.
    tall = rng.uniform(0.8, 2.2)
    wide = rng.uniform(0.25, 0.5)
    lean = rng.uniform(-0.2, 0.9)
    tip = at(0.6 + lean * tall, 0.1 + tall, 0.2)
    points = [
        at(0.55 + wide + 0.3 * lean * tall, 0.1 + 0.35 * tall, 0.7),
        at(0.6 + wide + 0.75 * lean * tall, 0.1 + 0.8 * tall, 0.5),
        tip,
        at(0.6 - wide + 0.75 * lean * tall, 0.1 + 0.8 * tall, -0.1),
        at(0.55 - 0.6 * wide + 0.3 * lean * tall, 0.1 + 0.3 * tall, -0.5),
        at(0.45, -0.1, -0.9),
        at(0.7, -0.2, -1.4),
    ]
    return np.array(start + points), 0.5 * (tip + at(0.6, 0.1, 0)), a * rng.uniform(0.2, 1.2) + o


def placing(turn: float, left_handed: bool, wrong_side: bool = False) -> np.ndarray:
    """Matrix that mirrors left-handed work, turns its wrong side up, and turns the piece on the table."""
    c, s = np.cos(turn), np.sin(turn)
    over = np.diag([-1.0 if left_handed else 1.0, *((-1.0, -1.0) if wrong_side else (1.0, 1.0))])
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]) @ over


def laid(worked: Worked, tension: Tension, rng: np.random.Generator) -> WorkedPiece:
    """Lay a worked piece on the table, in the make that the hand has."""
    return lay_out_splayed(worked, tension, rng) if tension.splay else lay_out(worked, tension, rng)


@dataclass(frozen=True, eq=False)
class FirstLook:
    """What a layout tells before a piece is crocheted.

    Parameters
    ----------
    radius : float
        Of the rim, mm.
    rim : ndarray of shape (stitches, 3), float
        Middles of the top loops of the last round, mm.
    pitch : float
        From one of them to the next, mm.
    top : float
        Height of the highest stitch, mm.
    deep : bool
        It is a cup.
    """

    radius: float
    rim: np.ndarray
    pitch: float
    top: float
    deep: bool

    def edge(self, width: float, thick: float, turn: float, left_handed: bool, wrong_side: bool = False) -> np.ndarray:
        """Places around the rim as it lies that must be in the picture, mm, of shape (2 * stitches, 3).

        Parameters
        ----------
        width, thick : float
            Of a stitch and of the yarn, mm.
        turn, left_handed, wrong_side
            As for :func:`placing`.
        """
        edge = self.rim @ placing(turn, left_handed, wrong_side).T
        if wrong_side:
            edge[:, 2] += self.top
        outward = edge * [1, 1, 0] / np.maximum(np.linalg.norm(edge[:, :2], axis=1, keepdims=True), 1e-9)
        outer = edge + 0.7 * width * outward
        return np.vstack([outer, outer + np.array([0, 0, 2.0 * thick])])


def first_look(worked: Worked, tension: Tension, rng: np.random.Generator) -> FirstLook:
    """How large a piece becomes; the generator stands as before, so that it is laid out again just so."""
    state = rng.bit_generator.state
    trial = laid(worked, tension, rng)
    rng.bit_generator.state = state
    rim = trial.tops[trial.rim]
    pitch = float(np.median(np.linalg.norm(np.diff(rim, axis=0), axis=1)))
    top = float(trial.tops[:, 2].max())
    deep = bool(np.ptp(rim[:, 2]) > 0 and top - trial.tops[:, 2].min() > 1.2 * tension.height)
    return FirstLook(trial.rim_radius, rim, pitch, top, deep)


def shade_tags(yarn: Yarn) -> list[str]:
    """What is to be known of how light a yarn is."""
    bright = [luminance(np.asarray(colour)) for colour in yarn.seen]
    return (["dark yarn"] if max(bright) < 0.04 else []) + (["white yarn"] if min(bright) > 0.6 else [])


def work_tags(worked: Worked, end: str, left_handed: bool) -> list[str]:
    """What is to be known of how a piece was worked."""
    known = {
        "tail": end == "fastened",
        "in progress": bool(worked.open_round),
        "off plan": bool(worked.slips),
        "left-handed": left_handed,
    }
    return [tag for tag, holds in known.items() if holds]


def crocheted(
    worked: Worked,
    tension: Tension,
    yarn: Yarn,
    rng: np.random.Generator,
    *,
    end: str = "fastened",
    tail: float = 80.0,
    turn: float = 0.0,
    at: tuple[float, float] = (0.0, 0.0),
    left_handed: bool = False,
    wrong_side: bool = False,
    pixels: float = 12.0,
    name: str = "piece",
    cross: bool = False,
    lean: bool = False,
) -> Crochet:
    """Crochet a piece and lay it on the table.

    Parameters
    ----------
    worked : Worked
    tension : Tension
    yarn : Yarn
    rng : numpy.random.Generator
    end : {"fastened", "woven in", "loop"}
        What becomes of the last loop.
    tail : float
        Length of the yarn end on the table, mm.
    turn : float
        Turn of the piece on the table, radians.
    at : tuple of float
        Where its centre lies, mm.
    left_handed : bool
        True to work clockwise.
    wrong_side : bool
        True to lay the side down that faced the maker.
    pixels : float
        Thickness of the yarn in the picture, pixels; it sets how fine the mesh is.
    name : str
        Of the part.
    cross : bool
        True to let the yarn end lie across the piece.
    lean : bool
        True for the coarsest meshes that a picture of this size can't tell from finer ones.

    Returns
    -------
    Crochet
    """
    piece = laid(worked, tension, rng)
    step = float(np.clip(1.8 / pixels, 0.16, 0.3))
    sides = 10 if pixels > 22 else 8 if pixels > 14 else 6 if pixels > 9 else 5
    if lean:
        step = float(np.clip(2.4 / pixels, 0.2, 0.42))
        sides = sides - 1
    strand = (splayed_strand if tension.splay else piece_strand)(piece, yarn.diameter, rng, step=step)
    if strand.marks is None or worked.closed(len(worked.bases) - 1):
        control, loop, away = _end(piece, yarn.diameter, end, rng)
    else:
        control, loop, away = splayed_end(piece, strand.marks, yarn.diameter, end, rng)
    lift = 0.45 * yarn.diameter - float(np.percentile(-strand.path[:, 2] if wrong_side else strand.path[:, 2], 0.5))

    spin = placing(turn, left_handed, wrong_side)

    def place(points: np.ndarray, vector: bool = False) -> np.ndarray:
        return points @ spin.T + (0.0 if vector else np.array([0, 0, lift]))

    ring_angle = np.linspace(0, 2.5 * np.pi, 40)
    ring_radius = tension.ring * tension.width
    ring = np.stack(
        [
            ring_radius * np.cos(ring_angle),
            ring_radius * np.sin(ring_angle),
            np.linspace(-1.0, 0.3, 40) * yarn.diameter,
        ],
        axis=1,
    )
    ends = spline(place(control), 8)
    ends[:, 2] = np.maximum(ends[:, 2], 0.5 * yarn.diameter)
    if end != "woven in" and tail > 0:
        aside = place(away, vector=True)
        line = props.table_line(
            ends[-1],
            float(np.arctan2(aside[1], aside[0])),
            tail,
            yarn.diameter,
            rng,
            keep_out=0.0 if cross else piece.rim_radius,
        )
        if cross:
            near = np.hypot(*line[:, :2].T) < piece.rim_radius + yarn.diameter
            thick = float(place(piece.tops[piece.rim])[:, 2].mean()) + 2.2 * yarn.diameter
            lifted = np.where(near, thick, line[:, 2])
            line[:, 2] = np.convolve(np.pad(lifted, 2, mode="edge"), np.ones(5) / 5, "valid")
        ends = spline(np.vstack([ends[::3], line]), 6)

    shift = np.array([at[0], at[1], 0.0])
    lines = [place(np.vstack([ring])) + shift, place(strand.path) + shift]
    stitch_round = np.concatenate([np.zeros(len(ring), int), piece.round_of[strand.stitch]])
    body, body_round = resample(np.vstack(lines), step * yarn.diameter, stitch_round)
    rest = resample(ends, step * yarn.diameter)[0] + shift
    length = np.arange(len(body)) * step * yarn.diameter
    rest_length = length[-1] + np.arange(len(rest)) * step * yarn.diameter
    # A generator of its own: how fine the meshes are must not change what is drawn after them.
    grain = np.random.default_rng(rng.integers(2**63))
    body_colour = yarn.along(length, body_round, grain)
    rest_colour = yarn.along(rest_length, np.full(len(rest), piece.round_of[-1]), grain)

    inner = int(np.searchsorted(body_round, len(worked.bases) - 3)) if lean else 0

    def spun(line, colour, near=True):
        # The rim must show its plies; inner rounds and thin yarn can have them carved into one tube.
        carved = lean and (pixels < (8 if near else 16) or yarn.plies == 1)
        across = (12 if pixels > 14 else 9 if pixels > 8 else max(6, 2 * yarn.plies)) if carved else sides
        meshes = [
            twisted(
                line,
                yarn.diameter,
                colour,
                grain,
                plies=yarn.plies,
                pitch=yarn.pitch,
                handed=-yarn.handed if left_handed else yarn.handed,
                streaks=yarn.streaks,
                sides=across,
                relief=yarn.relief,
                pile=yarn.pile,
                carved=carved,
            )
        ]
        if yarn.halo:
            # Fibres thinner than a fifth of a pixel only add noise.
            total = len(line) * step * yarn.diameter
            most, thick = 90000, 0.01
            if lean:
                # A fibre for each few pixels of the piece, equally dense on its outer rounds and the
                # yarn end and less so further in; the pile of chenille is of short thick fibres.
                area = np.pi * (piece.rim_radius * pixels / yarn.diameter) ** 2
                most = min(56000, 0.35 * area) if yarn.pile else min(35000, 0.14 * area)
                most *= 1.0 if near else 0.3
                thick = max(0.03 if yarn.pile else 0.01, 0.1 / pixels)
                total = len(body[inner:]) * step * yarn.diameter
            per_mm = min(yarn.halo * 10 / yarn.diameter, most / total)
            meshes.append(
                fuzz(line, yarn.diameter, colour, grain, per_mm=per_mm, length=yarn.halo_length, thickness=thick)
            )
        return merged(meshes)

    if inner > 8:
        # The two lengths share a point, so that no gap shows.
        few = np.unique(np.append(np.arange(0, inner, 2 if pixels < 8 else 1), inner))
        mesh = merged([spun(body[few], body_colour[few], near=False), spun(body[inner:], body_colour[inner:])])
    else:
        mesh = spun(body, body_colour)
    parts = (Part(name, mesh, yarn.finish), Part(f"{name} end", spun(rest, rest_colour), yarn.finish))
    rim = piece.rim
    raised = strand.marks
    if raised is None:
        raised = piece.tops + 0.05 * tension.height * piece.out + 0.75 * yarn.diameter * piece.normal
    marks = place(raised) + shift
    last = len(worked.bases) - 1
    grown = [piece.starts[last] + i for i in worked.increases(last)]
    final = piece.order[-1]
    end_of_round = raised[final] + 0.5 * piece.widths[final] * piece.along[final]
    if worked.closed(last):
        end_of_round = raised[list(piece.join(last))].mean(axis=0)
    outer = place(strand.loops[rim] + 0.5 * yarn.diameter * piece.out[rim][:, None]) + shift
    return Crochet(
        parts,
        marks[rim],
        marks[grown] if grown else np.zeros((0, 3)),
        place(np.zeros((1, 3)))[0] + shift,
        place(loop[None])[0] + shift,
        place(end_of_round[None])[0] + shift,
        outer,
        tuple(marks[piece.round_of == r] for r in range(len(worked.bases))),
        end,
    )


def _clear_of_view(light: Light, camera: Camera) -> Light:
    """Move a light away along its direction, at equal brightness, until the camera can't see it."""
    across = np.linspace(-0.52, 0.52, 9)
    x, y = np.meshgrid(across * camera.size[0], across * camera.size[1])
    rays = np.stack([x.ravel() / camera.focal, y.ravel() / camera.focal, np.ones(x.size)], axis=1) @ camera.rotation
    for _ in range(24):
        place = np.asarray(light.position)
        towards = -place / np.linalg.norm(place)
        # Lines of sight meet the panel's plane here; the panel fits into a circle of 0.71 widths.
        slope = rays @ towards
        along = ((place - camera.position) @ towards) / np.where(np.abs(slope) < 1e-9, 1e-9, slope)
        miss = np.linalg.norm(camera.position + along[:, None] * rays - place, axis=1)
        lowest = place[2] - 0.5 * light.width * np.hypot(towards[0], towards[1])
        if np.all((along < 0) | (miss > 0.72 * light.width)) and lowest > 0:
            break
        further = triple(1.25 * place)
        # A panel that dips below the table or fills the sky is made smaller instead.
        light = replace(light, position=further, width=light.width * (0.9 if lowest <= 0 else 1.25))
    return light


def draw_lights(
    rng: np.random.Generator, reach: float, difficulty: str, camera: Camera
) -> tuple[tuple[Light, ...], tuple[float, float, float], list[str]]:
    kinds = {"easy": [0.6, 0.05, 0.05, 0.3], "ordinary": [0.45, 0.2, 0.1, 0.25], "hard": [0.3, 0.3, 0.25, 0.15]}[
        difficulty
    ]
    kind = str(rng.choice(["window", "lamp", "dim", "overcast"], p=kinds))
    around = rng.uniform(0, 2 * np.pi)
    tint = {
        "window": [0.95, 1.0, 1.08],
        "lamp": [1.2, 1.0, 0.72],
        "dim": [1.25, 1.0, 0.68],
        "overcast": [0.97, 1.0, 1.05],
    }[kind]
    tone = np.asarray(tint) * np.exp(rng.normal(0, 0.04, 3))
    rise = np.radians(
        {
            "window": rng.uniform(25, 55),
            "lamp": rng.uniform(30, 70),
            "dim": rng.uniform(25, 60),
            "overcast": rng.uniform(50, 75),
        }[kind]
    )
    far = reach * rng.uniform(4, 8)
    width = (
        far
        * {
            "window": rng.uniform(0.4, 1.0),
            "lamp": rng.uniform(0.02, 0.08),
            "dim": rng.uniform(0.1, 0.6),
            "overcast": rng.uniform(1.0, 1.6),
        }[kind]
    )
    position = far * np.array([np.cos(around) * np.cos(rise), np.sin(around) * np.cos(rise), np.sin(rise)])
    lights = [Light(triple(position), float(width), triple(tone))]
    ambient = {
        "window": rng.uniform(0.15, 0.4),
        "lamp": rng.uniform(0.08, 0.3),
        "dim": rng.uniform(0.15, 0.4),
        "overcast": rng.uniform(0.5, 1.0),
    }[kind]
    if rng.random() < 0.25:
        around += rng.uniform(1.5, 4.5)
        position = far * np.array([0.7 * np.cos(around), 0.7 * np.sin(around), 0.7])
        lights.append(Light(triple(position), float(0.3 * far), triple(0.35 * np.array([1.1, 1.0, 0.85]))))
    lights = [_clear_of_view(light, camera) for light in lights]
    return (
        tuple(lights),
        triple(ambient * np.array([0.97, 1.0, 1.04])),
        ["dim"] if kind == "dim" else ["lamp"] if kind == "lamp" else [],
    )


def draw_finish(rng: np.random.Generator, difficulty: str, dim: bool) -> tuple[Finish, list[str]]:
    level = {"easy": 0.35, "ordinary": 0.75, "hard": 1.3}[difficulty]
    tags = []
    blur, shake = 0.0, (0.0, 0.0)
    if rng.random() < 0.35 * level:
        blur = float(rng.uniform(0.4, 1.1) * level)
    if difficulty != "easy" and rng.random() < 0.16 * level:
        shake = (float(rng.uniform(2, 5) * level), float(rng.uniform(0, np.pi)))
    if blur > 0.7 or shake[0] > 2.5:
        tags.append("blur")
    grain = float(rng.uniform(0.004, 0.02) * level * (2.2 if dim else 1))
    if grain > 0.03:
        tags.append("noise")
    cast = np.exp(rng.normal(0, 0.045 * level, 3))
    return (
        Finish(
            exposure=float(np.clip(0.2 * np.exp(rng.normal(0, 0.22 * level)), 0.08, 0.42)),
            white=triple(cast / cast[1]),
            vignette=float(rng.uniform(0, 0.3)),
            noise=grain,
            read_noise=grain * 0.1,
            blur=blur,
            shake=shake,
            sharpen=float(rng.uniform(0.1, 0.9)),
            contrast=float(rng.uniform(0.0, 0.5)),
            saturation=float(rng.uniform(0.85, 1.25)),
            quality=int(rng.integers(62 if difficulty == "hard" else 74, 95)),
        ),
        tags,
    )


def _camera(
    rng, radius: float, size, difficulty: str, pitch: float, lift: float, bold: float
) -> tuple[Camera, list[str]]:
    tilt = {"easy": rng.uniform(0, 10), "ordinary": rng.uniform(0, 24), "hard": rng.uniform(5, 35)}[difficulty]
    share = {"easy": rng.uniform(0.62, 0.88), "ordinary": rng.uniform(0.5, 0.88), "hard": rng.uniform(0.4, 0.85)}[
        difficulty
    ]
    # A stitch must keep enough pixels that a careful person can count it.
    least = {"easy": 17.0, "ordinary": 12.5, "hard": 9.0}[difficulty]
    share = float(np.clip(max(share, least * 2 * radius / (pitch * min(size))), 0.3, 0.88)) * (0.8 + 0.2 * bold)
    room = 0.5 - 0.52 * share
    across = np.array(size) / min(size)
    offset = (
        rng.uniform(-1, 1, 2)
        * np.maximum(0.0, room + 0.5 * (across - 1))
        * (0.5 if difficulty == "easy" else 0.95)
        * bold
    )
    open_lens = 0.0 if rng.random() < 0.5 else float(rng.uniform(0.002, 0.012))
    camera = aimed(
        radius,
        size,
        share=share,
        tilt=np.radians(tilt),
        azimuth=rng.uniform(0, 2 * np.pi),
        roll=rng.uniform(0, 2 * np.pi),
        offset=tuple(offset),
        lens=rng.uniform(0.8, 1.5),
        lift=lift,
        aperture=open_lens,
    )
    return camera, ["tilt"] if tilt > 15 else []


def inside(camera: Camera, points: np.ndarray, margin: float) -> bool:
    seen = camera.project(points)
    return bool(np.all(seen > margin) and np.all(seen < np.asarray(camera.size) - 1 - margin))


def _reference(rng: np.random.Generator, kind: str, radius: float) -> Reference:
    """Lay a thing of known size beside a piece of this radius (mm), or under it."""
    turn, side = rng.uniform(0, 2 * np.pi), rng.uniform(0, 2 * np.pi)
    if kind == "mat":
        half = 0.5 * mat.RING_SIDE_MM
        corners = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
        # Makers lay the piece about in the middle.
        place = rng.uniform(-1, 1, 2) * max(0.0, min(12.0, 0.5 * mat.CLEAR_SIDE_MM - radius))
        mesh = props.printed_mat(str(rng.choice(list(mat.PAPERS))))
        height, finish = 0.1, "matte"
    elif kind == "card":
        sides = 0.5 * np.array(_CARD[:2])
        corners = sides * np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]])
        place = (radius + np.linalg.norm(sides) + rng.uniform(4, 15)) * np.array([np.cos(side), np.sin(side)])
        mesh = props.card(_CARD, _CARD_CORNER, np.array([random_shade(rng) for _ in range(3)]), rng)
        height, finish = _CARD[2], "plastic"
    else:
        twice, kind = kind.startswith("two "), kind.removeprefix("two ")
        gold, silver = from_srgb("#b8964a"), from_srgb("#b8bcc0")
        middle, ring = {"2 EUR": (gold, silver), "1 EUR": (silver, gold), "50 c": (gold, gold)}[kind]
        around = np.linspace(0, 2 * np.pi, 60, endpoint=False)
        corners = 0.5 * _EURO[kind] * np.stack([np.cos(around), -np.sin(around)], axis=1)
        place = (radius + 0.5 * _EURO[kind] + rng.uniform(4, 18)) * np.array([np.cos(side), np.sin(side)])
        mesh = props.euro(_EURO[kind], middle, ring)
        height, finish = 2.0, "metal"
        if twice:
            # About opposite each other, beside the piece.
            across = (radius + 0.5 * _EURO[kind] + rng.uniform(4, 18)) * np.array(
                [np.cos(side + 3.1), np.sin(side + 3.1)]
            )
            corners = np.concatenate([corners + place, corners + across])
            mesh = merged([moved(mesh, (*place, 0.0)), moved(mesh, (*across, 0.0))])
            place = np.zeros(2)
            turn = 0.0
    at = np.array([*place, 0.0])
    c, s = np.cos(turn), np.sin(turn)
    laid = np.c_[corners @ np.array([[c, s], [-s, c]]), np.full(len(corners), height)] + at
    return Reference(Part("reference", moved(mesh, at, turn), finish), laid, laid)


def _over(rng, points: np.ndarray, size: tuple[int, int], difficulty: str, lift: float) -> tuple[Camera, list[str]]:
    """A view of all these points (mm), as near as they may be seen from a height that is drawn, or higher."""
    tilt = {"easy": rng.uniform(0, 10), "ordinary": rng.uniform(0, 24), "hard": rng.uniform(5, 35)}[difficulty]
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    middle, radius = np.array([*(low + high) / 2, 0.0]), 0.5 * float(np.linalg.norm(high - low))
    azimuth, roll, lens = rng.uniform(0, 2 * np.pi), rng.uniform(0, 2 * np.pi), rng.uniform(0.75, 1.5)
    open_lens = 0.0 if rng.random() < 0.5 else float(rng.uniform(0.002, 0.012))
    # Whoever measures stands back: a phone is held at two hands or more, seldom nearer.
    nearest = lens * max(size) * radius / (0.5 * min(size) * rng.uniform(170, 330))
    for share in np.linspace(min(1.5, nearest), 0.2, 80):
        camera = aimed(
            radius,
            size,
            share=float(share),
            tilt=np.radians(tilt),
            azimuth=azimuth,
            roll=roll,
            offset=(0.0, 0.0),
            lens=lens,
            lift=lift,
            aperture=open_lens,
        )
        camera = replace(camera, position=camera.position + middle, target=camera.target + middle)
        if inside(camera, points, 0.02 * max(size)):
            break
    return camera, ["tilt"] if tilt > 15 else []


def draw_ground(
    rng, camera: Camera, difficulty: str, colours, kind: str | None = None
) -> tuple[np.ndarray, float, list[str]]:
    names = list(SURFACES)
    weight = np.array([0.5 if SURFACES[n][1] else 1.5 for n in names])
    if difficulty == "easy":
        weight = np.array([0.0 if SURFACES[n][1] else 1.0 for n in names])
    fixed = kind is not None
    kind = kind or str(rng.choice(names, p=weight / weight.sum()))
    corners = np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * (np.array(camera.size) - 1)
    rays = np.c_[(corners - camera.middle) / camera.focal, np.ones(4)] @ camera.rotation
    far = camera.position - rays * (camera.position[2] / rays[:, 2])[:, None]
    half = 1.1 * float(np.abs(far[:, :2]).max())
    texels = int(np.clip(1.8 * max(camera.size), 512, 2200))
    yarn = np.log([max(luminance(np.asarray(c)), 0.004) for c in colours])
    for _ in range(6):
        picture = surface(kind, np.random.default_rng(rng.integers(2**63)), texels, 2 * half / texels)
        tone = np.log(max(luminance(picture.reshape(-1, 3).mean(0)), 0.004))
        apart = np.abs(tone - yarn).min() if len(yarn) else 9.0
        if apart > {"easy": 0.7, "ordinary": 0.35, "hard": 0.0}[difficulty]:
            break
        if not fixed:
            kind = str(rng.choice(names, p=weight / weight.sum()))
    tags = ["patterned background"] if SURFACES[kind][1] else []
    return picture, half, tags + [kind]


def _size(rng: np.random.Generator, long_side: int | None) -> tuple[int, int]:
    drawn = int(rng.choice([1000, 1100, 1200, 1280]))
    long = int(long_side or drawn)
    short = int(round(long * rng.choice([0.75, 0.75, 0.75, 1.0, 0.5625, 0.667]) / 2) * 2)
    return (long, short) if rng.random() < 0.5 else (short, long)


def _blank_truth(tags: list[str], refuse: str) -> dict:
    return {
        "stitches": None,
        "rounds": None,
        "centre": None,
        "marks": [],
        "in_progress": None,
        "increases": [],
        "refuse": refuse,
        "tags": tags,
        "hidden": [],
        "round_counts": [],
        "rim": [],
        "seam": None,
        "tops": [],
        "ends": None,
    }


def _outline(crochet: Crochet, camera: Camera) -> np.ndarray:
    """Outermost point of every rim stitch's top loops in the picture; shape (stitches, 2), pixels."""
    seen = camera.project(crochet.outer)
    far = np.linalg.norm(seen - camera.project(crochet.centre), axis=2)
    return seen[np.arange(len(seen)), far.argmax(axis=1)]


def truth_of(worked: Worked, crochet: Crochet, camera: Camera, tags: list[str]) -> dict:
    """The truth of a piece; which marks are hidden is known only once the scene is traced.

    Beyond the fields that every truth file has, "rim" is the outline of the
    piece, one point a mark: the outermost point of that stitch's top loops.
    "seam" is the place on the rim right after the last stitch worked, where
    the working loop or the fastened end leaves; on whole rounds it lies between
    the last mark and the first. "round_counts" holds the stitches of every
    complete round. "tops" holds the middle of the top loops of every stitch,
    round by round, also of the last one in progress. "ends" holds the places of
    the "first" and the "last" stitch of the round worked last, in progress or
    whole, "how" the last loop ended ("loop", "fastened", "woven in"), and
    whether the round is "joined" to its own first stitch.
    """
    last = len(worked.bases) - 1

    def rounded(points):
        return np.round(points, 1).tolist()

    return {
        "stitches": len(crochet.marks),
        "rounds": len(worked.totals),
        "centre": rounded(camera.project(crochet.centre)),
        "marks": rounded(camera.project(crochet.marks)),
        "in_progress": {"done": worked.done, "left": worked.left, "loop": rounded(camera.project(crochet.loop))}
        if worked.open_round
        else None,
        "increases": rounded(camera.project(crochet.increases)) if len(crochet.increases) else [],
        "refuse": None,
        "tags": list(dict.fromkeys(tags)),
        "hidden": [],
        "round_counts": list(worked.totals),
        "rim": rounded(_outline(crochet, camera)),
        "seam": rounded(camera.project(crochet.seam)),
        "tops": [rounded(camera.project(own)) for own in crochet.tops],
        "ends": {
            "first": rounded(camera.project(crochet.marks[0])),
            "last": rounded(camera.project(crochet.marks[worked.done - 1 if worked.open_round else -1])),
            "how": crochet.end,
            "joined": worked.closed(last),
        },
    }


def _touch(thing: Part, reference: Reference) -> bool:
    """True where a thing is on or over a reference, or could be taken for one."""
    middle = reference.corners[:, :2].mean(axis=0)
    reach = np.linalg.norm(reference.corners[:, :2] - middle, axis=1).max() + 3.0
    return thing.name == "coin" or bool((np.linalg.norm(thing.mesh.points[:, :2] - middle, axis=1) < reach).any())


def _scale_truth(kind: str, reference: Reference, crochet: Crochet, camera: Camera) -> dict:
    """What a scale taken from the photo must say: lengths of the piece in mm, where the reference lies in pixels."""
    # As a ruler on the table measures: along it.
    around = np.vstack([crochet.marks, crochet.marks[:1]])[:, :2]
    return {
        "kind": kind,
        "stitch_mm": round(float(np.linalg.norm(np.diff(around, axis=0), axis=1).mean()), 4),
        "rim_height_mm": round(float(crochet.marks[:, 2].mean()), 2),
        "corners": np.round(camera.project(reference.corners), 2).tolist(),
    }


def _negative(rng: np.random.Generator, kind: str, size: tuple[int, int]) -> Scene:
    radius = 45.0
    parts: list[Part] = []
    share = rng.uniform(0.4, 0.75)
    width = 6.0
    yarn = _yarn(rng, width, "ordinary")
    offset = tuple(rng.uniform(-0.12, 0.12, 2))
    pixels = yarn.diameter * share * min(size) / (2 * radius)
    if kind == "plate":
        parts.append(
            Part(
                "plate",
                props.plate(radius, np.clip(random_shade(rng) * 0.3 + 0.55, 0, 0.9), random_shade(rng)),
                "plastic",
            )
        )
    elif kind == "coin":
        radius = 16.0
        parts.append(Part("coin", props.coin(24.0, from_srgb("#b8bcc0")), "metal"))
    elif kind == "yarn ball":
        parts.append(
            Part(
                "ball",
                props.yarn_ball(radius, yarn.diameter, lambda at: yarn.along(at, None, rng), rng, yarn.plies, 0.3),
                "yarn",
            )
        )
    elif kind == "coaster":
        parts.append(
            Part(
                "coaster",
                props.coaster(
                    radius,
                    rng.uniform(2.5, 5),
                    np.array([random_shade(rng), random_shade(rng)]),
                    rng,
                    round_shape=bool(rng.random() < 0.6),
                ),
                "yarn",
            )
        )
    elif kind == "knitted":
        parts.append(
            Part("knitted", props.knitted(rng.uniform(70, 200), rng.uniform(2.0, 3.2), random_shade(rng), rng), "yarn")
        )
    elif kind == "cut off":
        worked, ratio = random_worked(rng, difficulty="easy")
        tension = _tension(rng, width, ratio, "easy")
        piece = crocheted(worked, tension, yarn, rng, turn=rng.uniform(0, 6.28), pixels=pixels)
        parts += piece.parts
        radius = float(np.hypot(*piece.marks[:, :2].T).max())
        # The piece's centre stays in the picture and a good part of its rim does not.
        side = int(rng.integers(4))
        across = np.array(size) / min(size)
        share = rng.uniform(0.6, 0.95)
        beyond = 0.5 * across - share * rng.uniform(0.05, 0.38)
        offset = tuple([(beyond[0], 0.0), (-beyond[0], 0.0), (0.0, beyond[1]), (0.0, -beyond[1])][side])
    elif kind == "several":
        count = int(rng.choice([2, 3], p=[0.75, 0.25]))
        apart = 44.0 if count == 2 else 50.0
        for k in range(count):
            start = int(rng.integers(5, 8))
            rounds = int(rng.integers(3, 7))
            worked = work(plan_totals(start, start, rounds), rng, stacked=bool(rng.random() < 0.5))
            spot = k * 2 * np.pi / count + 0.4
            own = _yarn(rng, width, "ordinary")
            parts += crocheted(
                worked,
                _tension(rng, width, 0.92, "easy"),
                own,
                rng,
                turn=rng.uniform(0, 6.28),
                pixels=pixels,
                name=f"piece {k}",
                at=(apart * np.cos(spot), apart * np.sin(spot)),
                tail=40,
            ).parts
        radius, share, offset = apart + 40.0, 0.98, (0.0, 0.0)
    camera = aimed(
        radius,
        size,
        share=float(share),
        tilt=np.radians(rng.uniform(0, 25)),
        azimuth=rng.uniform(0, 6.28),
        roll=0.0 if kind == "cut off" else rng.uniform(0, 6.28),
        offset=offset,
        lens=rng.uniform(0.8, 1.4),
    )
    # "ground" makes no claim about contrast here: nothing has to be found.
    ground, half, ground_tags = draw_ground(rng, camera, "ordinary", [])
    lights, ambient, light_tags = draw_lights(rng, radius, "ordinary", camera)
    finish, finish_tags = draw_finish(rng, "ordinary", "dim" in light_tags)
    tags = ["ordinary", "negative", kind, *ground_tags, *light_tags, *finish_tags]
    return Scene(
        tuple(parts),
        ground,
        half,
        camera,
        lights,
        ambient,
        finish,
        np.zeros((0, 3)),
        0.0,
        _blank_truth(list(dict.fromkeys(tags)), NEGATIVES[kind]),
        int(rng.integers(2**31)),
    )


def compose(
    seed: int,
    *,
    difficulty: str | None = None,
    long_side: int | None = None,
    negative: str | None = None,
    wish: SceneRequest = SceneRequest(),
) -> Scene:
    """Draw a scene from a seed.

    Parameters
    ----------
    seed : int
        Not negative; the same seed gives the same scene.
    difficulty : {"easy", "ordinary", "hard"} or None
        None draws it: a third easy, a half ordinary, the rest hard.
    long_side : int or None
        Longer side of the picture in pixels; None draws one between 1000 and 1280.
    negative : str or None
        A key of :data:`NEGATIVES` for a photo with nothing to count.
    wish : Wish
        What the photo must show, for samples.

    Returns
    -------
    Scene
    """
    if difficulty is not None and difficulty not in DIFFICULTIES:
        raise ValueError(f"difficulty must be one of {', '.join(DIFFICULTIES)}, not {difficulty!r}")
    if negative is not None and negative not in NEGATIVES:
        raise ValueError(f"negative must be one of {', '.join(NEGATIVES)}, not {negative!r}")
    if wish.reference is not None and wish.reference not in REFERENCES:
        raise ValueError(f"the reference must be one of {', '.join(REFERENCES)}, not {wish.reference!r}")
    rng = np.random.default_rng(seed)
    difficulty = difficulty or str(rng.choice(DIFFICULTIES, p=[0.33, 0.45, 0.22]))
    size = _size(rng, long_side)
    if negative is not None:
        return _negative(rng, negative, size)

    width = float(np.exp(rng.uniform(np.log(4.0), np.log(9.0))))
    worked, ratio = random_worked(rng, difficulty=difficulty)
    yarn = _yarn(rng, width, difficulty, wish.kind)
    worked = wish.worked or worked
    if wish.colours:
        yarn = replace(yarn, colours=tuple(triple(from_srgb(c)) for c in wish.colours))
    drawn_end = str(rng.choice(["fastened", "woven in", "loop"], p=[0.5, 0.27, 0.23]))
    end = wish.end or ("loop" if worked.open_round else drawn_end)
    tension = _tension(rng, width, ratio, difficulty)
    left_handed = bool(rng.random() < 0.1)
    turn = rng.uniform(0, 2 * np.pi)
    cross = difficulty == "hard" and rng.random() < 0.25
    tail = float(width * rng.uniform(6, 34))
    look = first_look(worked, tension, rng)
    radius, lift = look.radius, float(look.rim[:, 2].mean() * 0.5)
    edge = look.edge(width, yarn.diameter, turn, left_handed)
    view_rng = np.random.default_rng([seed, 1])
    # Draw views until the whole rim is in the picture, each a little less bold than the last.
    for attempt in range(60):
        camera, tags = _camera(view_rng, radius + 0.6 * width, size, difficulty, look.pitch, lift, 1 - attempt / 59)
        if inside(camera, edge, 0.012 * max(size)):
            break
    reference = None
    if wish.reference is not None:
        reference = _reference(np.random.default_rng([seed, 4]), wish.reference, radius + 0.6 * width)
        points = np.vstack([edge, reference.edge])
        camera, tags = _over(np.random.default_rng([seed, 5]), points, size, difficulty, lift)
    distance = float(np.linalg.norm(camera.position))
    pixels = yarn.diameter * camera.focal / distance
    crochet = crocheted(
        worked, tension, yarn, rng, end=end, tail=tail, turn=turn, left_handed=left_handed, pixels=pixels, cross=cross
    )
    things, thing_tags = draw_extras(
        np.random.default_rng([seed, 2]),
        crochet,
        radius,
        tension.width,
        yarn,
        difficulty,
        end == "loop",
        max(size) / camera.focal * distance,
    )
    grounds = np.random.default_rng([seed, 3])
    ground, half, ground_tags = draw_ground(grounds, camera, difficulty, yarn.seen, wish.background)
    lights, ambient, light_tags = draw_lights(rng, radius, difficulty, camera)
    finish, finish_tags = draw_finish(rng, difficulty, "dim" in light_tags)

    tags += thing_tags + ground_tags + light_tags + finish_tags + shade_tags(yarn)
    if yarn.kind in ("stripes", "variegated", "tweed"):
        tags.append(yarn.kind)
    tags += work_tags(worked, end, left_handed)
    if look.deep:
        tags.append("cup")
    truth = truth_of(worked, crochet, camera, [difficulty, *tags])
    if reference is not None and wish.reference is not None:
        things = [reference.part, *(thing for thing in things if not _touch(thing, reference))]
        truth = {**truth, "scale": _scale_truth(wish.reference, reference, crochet, camera)}
    return Scene(
        (*crochet.parts, *things),
        ground,
        half,
        camera,
        lights,
        ambient,
        finish,
        crochet.marks,
        width,
        truth,
        int(rng.integers(2**31)),
    )
