"""Scenes for training: every kind of yarn, braid, light and camera that a photo may show.

The sets of :mod:`counter.synthetic.scene` show what most photos look like.
Here each property is drawn by itself over the whole range that occurs, so that
odd ones come as often as common ones.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from counter.synthetic.camera import Camera, Finish, aimed
from counter.synthetic.extras import draw_coverings, draw_extras
from counter.synthetic.pattern import HEIGHTS, Worked, opened, random_wide
from counter.synthetic.piece import Splay, Tension
from counter.synthetic.scene import (
    Light,
    Scene,
    Yarn,
    crocheted,
    draw_finish,
    draw_ground,
    draw_lights,
    first_look,
    inside,
    shade_tags,
    truth_of,
    work_tags,
)
from counter.synthetic.shades import luminance, random_shade, triple
from counter.synthetic.splayed import can_splay

__all__ = ["compose_wide"]

#: No stitch gets fewer pixels along the rim.
LEAST_PITCH_PX = 6.0
#: Share of scenes of another look than the first make's: splayed where the stitches allow it.
OTHER_SHARE = 0.5
#: Share of scenes that are drawn with their last round in progress.
IN_PROGRESS = 0.2


def _yarn(rng: np.random.Generator, width: float) -> Yarn:
    kind = str(rng.choice(["solid", "stripes", "edge", "variegated", "tweed"], p=[0.46, 0.16, 0.16, 0.12, 0.10]))
    nature = str(rng.choice(["plied", "single", "chenille", "cotton"], p=[0.5, 0.16, 0.12, 0.22]))
    draw = rng.random()
    if draw < 0.12:
        first = np.full(3, 0.012) * rng.uniform(0.6, 1.8, 3)
    elif draw < 0.24:
        first = np.array([0.8, 0.78, 0.74]) * rng.uniform(0.9, 1.02)
    elif draw < 0.30:
        first = np.clip(np.array([0.55, 0.03, 0.03]) * np.exp(rng.normal(0, 0.2, 3)), 0, 0.8)
    else:
        first = random_shade(rng)
    more = {
        "solid": 0,
        "stripes": int(rng.integers(1, 5)),
        "edge": 1,
        "variegated": int(rng.integers(1, 5)),
        "tweed": 4,
    }[kind]
    colours = [first] + [random_shade(rng) for _ in range(more)]
    if kind == "variegated":
        repeat = float(np.exp(rng.uniform(np.log(40), np.log(1200))) * width / 6)
    else:
        repeat = float(rng.choice([1, 1, 1, 2]))
    plies = {"plied": int(rng.integers(2, 5)), "single": 1, "chenille": 1, "cotton": int(rng.integers(2, 5))}[nature]
    halo = float(rng.choice([0.0, 1.0, 3.0, 7.0], p=[0.25, 0.3, 0.25, 0.2]))
    return Yarn(
        diameter=width * float(rng.uniform(0.20, 0.48)),
        plies=plies,
        pitch=float(rng.uniform(2.4, 7.0)),
        handed=int(rng.choice([-1, 1])),
        colours=tuple(triple(c) for c in colours),
        kind=kind,
        repeat=repeat,
        streaks=float(rng.uniform(0.03, 0.2)),
        halo={"cotton": min(halo, 1.0), "chenille": 25.0}.get(nature, halo),
        halo_length=float(rng.uniform(0.3, 0.5) if nature == "chenille" else rng.uniform(0.15, 0.8)),
        relief=float(rng.uniform(0.0, 1.0)),
        pile=float(rng.uniform(0.05, 0.14)) if nature == "chenille" else 0.0,
        sheen=bool(nature == "cotton" and rng.random() < 0.8),
    )


def _tension(rng: np.random.Generator, width: float, ratio: float) -> Tension:
    return Tension(
        width=width,
        ratio=ratio,
        uneven=float(rng.uniform(0.02, 0.14)),
        drift=float(rng.uniform(0.0, 0.45)),
        ring=float(rng.choice([rng.uniform(0.08, 0.25), rng.uniform(0.25, 0.6)], p=[0.7, 0.3])),
        face=float(rng.uniform(0.1, 1.35)),
        face_spread=float(rng.uniform(0.05, 0.45)),
        loose=float(rng.uniform(0.6, 1.1)),
        swing=float(rng.uniform(0.15, 0.8)) if rng.random() < 0.55 else 0.0,
        swing_at=float(rng.uniform(0, 2 * np.pi)),
        wander=float(rng.uniform(0.0, 0.22)),
    )


def _splay(rng: np.random.Generator, width: float, diameter: float) -> Splay:
    return Splay(
        lean=float(np.radians(rng.uniform(18, 64))),
        lean_worked=float(np.radians(rng.uniform(60, 86))),
        lean_spread=float(rng.uniform(0.03, 0.14)),
        # The arms lie against each other, or thin yarn leaves the V open.
        gap=float(max(rng.uniform(0.48, 0.62), rng.uniform(0.15, 0.28) * width / diameter)),
        pinch=float(rng.uniform(0.4, 0.5)),
        tip=float(rng.uniform(0.10, 0.24)),
        neck=float(rng.uniform(0.7, 1.8)),
        bow=float(rng.uniform(0.6, 1.6)),
        hole=float(rng.uniform(0.10, 0.22)),
        foot=float(rng.uniform(0.06, 0.12)),
        belly=float(rng.uniform(0.15, 0.24)),
        head=float(rng.uniform(0.2, 0.29)),
        slant=float(rng.uniform(-0.14, 0.14)),
        crossed=bool(rng.random() < 0.2),
        drop=float(rng.uniform(0.14, 0.32)),
        post=float(rng.uniform(-0.12, 0.1)),
        back=float(rng.uniform(0.75, 1.3)),
        slack=float(rng.uniform(0.03, 0.11)),
        align=float(rng.uniform(0.05, 0.4)),
        climb=float(rng.uniform(0.2, 0.9)),
        jog=float(rng.uniform(1.0, 2.8)),
    )


def _other_look(rng: np.random.Generator, worked: Worked, tension: Tension, yarn: Yarn) -> tuple[Tension, Yarn]:
    """The second make where the stitches allow it; else a hand and a yarn further from the usual."""
    if not can_splay(worked):
        scale = float(np.exp(rng.uniform(np.log(0.8), np.log(1.2))))
        yarn = replace(yarn, diameter=float(np.clip(scale * yarn.diameter / tension.width, 0.16, 0.52) * tension.width))
        return replace(tension, habit=float(rng.uniform(0.05, 0.18))), yarn
    thick = rng.uniform(0.38, 0.53) if rng.random() < 0.75 else rng.uniform(0.24, 0.38)
    # Its plies are hardly twisted and lie well apart.
    yarn = replace(
        yarn,
        diameter=float(thick * tension.width),
        pitch=float(rng.uniform(5.0, 16.0) if rng.random() < 0.6 else rng.uniform(2.4, 6.0)),
        relief=float(rng.uniform(0.3, 1.0)),
    )
    habit = float(rng.choice([0.0, rng.uniform(0.01, 0.08)]))
    return replace(tension, splay=_splay(rng, tension.width, yarn.diameter), habit=habit), yarn


def _camera(
    rng, radius: float, stitches: int, pitch: float, deep: bool, lift: float, most: int, bold: float
) -> tuple[Camera, list[str]]:
    """A view in which a stitch has the wanted number of pixels, as far as the frame allows."""
    tilt = rng.uniform(12, 50) if deep and rng.random() < 0.7 else abs(rng.normal(0, 17))
    tilt = float(min(tilt, 50) * (0.5 + 0.5 * bold))
    wanted = np.exp(rng.uniform(np.log(LEAST_PITCH_PX + 0.5), np.log(46)))
    share = rng.uniform(0.5, 0.92) * (0.75 + 0.25 * bold)
    aspect = float(rng.choice([0.75, 0.75, 1.0, 0.5625, 0.667]))
    across = 2 * radius / pitch
    long = float(np.clip(wanted * across / share / aspect, 0.3 * most, most))
    # A piece of many stitches fills the picture, so that they keep enough pixels.
    share = float(np.clip(LEAST_PITCH_PX * across / (long * aspect), share, 0.92))
    # A piece of few stitches may lie small in a large picture.
    share = float(min(share, max(0.25, 60.0 * across / (long * aspect))))
    long, short = 2 * round(long / 2), 2 * round(long * aspect / 2)
    size = (long, short) if rng.random() < 0.5 else (short, long)
    room = np.maximum(0.0, 0.5 * np.array(size) / short - 0.54 * share)
    camera = aimed(
        radius,
        size,
        share=share,
        tilt=np.radians(tilt),
        azimuth=rng.uniform(0, 2 * np.pi),
        roll=rng.uniform(0, 2 * np.pi),
        offset=tuple(rng.uniform(-1, 1, 2) * room * bold),
        lens=rng.uniform(0.75, 1.7),
        lift=lift,
        aperture=0.0 if rng.random() < 0.45 else float(rng.uniform(0.002, 0.016)),
    )
    return camera, ["tilt"] if tilt > 15 else []


def _lights(rng, radius: float, camera: Camera) -> tuple[tuple[Light, ...], tuple[float, float, float], list[str]]:
    kind = str(rng.choice(["room", "raking", "flash"], p=[0.62, 0.22, 0.16]))
    if kind == "room":
        return draw_lights(rng, radius, str(rng.choice(["ordinary", "hard"])), camera)
    tone = np.exp(rng.normal(0, 0.05, 3))
    ambient = rng.uniform(0.04, 0.3) * np.exp(rng.normal(0, 0.05, 3))
    if kind == "raking":
        around, rise = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(7, 24))
        far = radius * rng.uniform(5, 9)
        place = far * np.array([np.cos(around) * np.cos(rise), np.sin(around) * np.cos(rise), np.sin(rise)])
        width = min(far * rng.uniform(0.03, 0.25), 1.6 * place[2])
    else:
        # A phone's flash sits beside the lens, a little behind its glass.
        right, down, ahead = camera.rotation
        turn = rng.uniform(0, 2 * np.pi)
        place = camera.position + rng.uniform(8, 25) * (np.cos(turn) * right + np.sin(turn) * down) - 12.0 * ahead
        width = rng.uniform(4, 10)
    light = Light(triple(place), float(width), triple(tone))
    return (light,), triple(ambient), [f"{kind} light"]


def _finish(rng, dim: bool, pitch: float, bright: float) -> tuple[Finish, list[str]]:
    """`pitch` is that of the stitches in pixels, `bright` the luminance of the yarn."""
    finish, tags = draw_finish(rng, str(rng.choice(["easy", "ordinary", "hard"])), dim)
    # Whoever photographs dark yarn lets in more light, or sees nothing.
    dark = 0.03 / max(bright, 0.006)
    if dark > 1:
        finish = replace(
            finish,
            exposure=min(finish.exposure * rng.uniform(1.0, dark**0.6), 0.6),
            headroom=float(rng.uniform(1.2, 3.0)),
        )
    draw = rng.random()
    if draw < 0.12 and bright > 0.05:
        finish = replace(finish, exposure=float(rng.uniform(0.35, 0.75)), headroom=float(rng.uniform(1.5, 3.2)))
        tags.append("overexposed")
    elif draw < 0.24 and bright > 0.08:
        finish = replace(finish, exposure=float(rng.uniform(0.03, 0.09)))
        tags.append("underexposed")
    most = pitch / LEAST_PITCH_PX
    if most > 1.3 and rng.random() < 0.25:
        finish = replace(finish, zoom=float(rng.uniform(1.2, min(most, 2.8))))
    return finish, tags


def compose_wide(
    seed: int, *, long_side: int | None = None, bare: bool = False, open_share: float | None = None
) -> Scene:
    """Draw a scene for training from a seed.

    Parameters
    ----------
    seed : int
        Not negative; the same seed gives the same scene.
    long_side : int or None
        The longest that the picture may be, in pixels (900); many are smaller.
    bare : bool
        True to leave away all that lies beside and on the piece.
    open_share : float or None
        Share of scenes whose last round shall be in progress, where that is
        more than the fifth that are anyway; None leaves it at that.

    Returns
    -------
    Scene
        Tagged "wide".
    """
    most = long_side or 900
    rng = np.random.default_rng([seed, 40])
    width = float(np.exp(rng.uniform(np.log(3.0), np.log(10.0))))
    worked, ratio, shape = random_wide(rng)
    yarn = _yarn(rng, width)
    tension = _tension(rng, width, ratio)
    hand = np.random.default_rng([seed, 45])
    tension = replace(tension, habit=float(hand.choice([0.0, hand.uniform(0.02, 0.11)], p=[0.3, 0.7])), habit_seed=seed)
    if open_share is not None:
        more = np.random.default_rng([seed, 49])
        if more.random() < (open_share - IN_PROGRESS) / (1 - IN_PROGRESS):
            worked = opened(replace(worked, turned=False), float(more.uniform(0.05, 0.95)))
    look = np.random.default_rng([seed, 48])
    if look.random() < OTHER_SHARE:
        tension, yarn = _other_look(look, worked, tension, yarn)
    first = len(worked.bases[0])
    # A first round of many stitches needs a ring that they fit round.
    tension = replace(tension, ring=max(tension.ring, 0.92 * first / (2 * np.pi) - ratio * HEIGHTS[worked.kind(0)]))
    end = "loop" if worked.open_round else str(rng.choice(["fastened", "woven in", "loop"], p=[0.4, 0.35, 0.25]))
    left_handed = bool(rng.random() < 0.12)
    wrong_side = bool(rng.random() < 0.16)
    turn = rng.uniform(0, 2 * np.pi)
    cross = bool(rng.random() < 0.2)
    tail = float(width * rng.uniform(4, 34))
    look_at = first_look(worked, tension, rng)
    radius, pitch, deep = look_at.radius, look_at.pitch, look_at.deep
    # A cup turned over hides its own rim.
    wrong_side = wrong_side and not deep
    edge = look_at.edge(width, yarn.diameter, turn, left_handed, wrong_side)
    lift = float(0.5 * edge[:, 2].mean())
    views = np.random.default_rng([seed, 41])
    for attempt in range(60):
        camera, tags = _camera(views, radius + 0.6 * width, len(look_at.rim), pitch, deep, lift, most, 1 - attempt / 59)
        if inside(camera, edge, 0.012 * max(camera.size)):
            break
    scale = camera.focal / float(np.linalg.norm(camera.position))
    crochet = crocheted(
        worked,
        tension,
        yarn,
        rng,
        end=end,
        tail=tail,
        turn=turn,
        left_handed=left_handed,
        wrong_side=wrong_side,
        pixels=yarn.diameter * scale,
        cross=cross,
        lean=True,
    )
    field = max(camera.size) / scale
    things, thing_tags = draw_extras(
        np.random.default_rng([seed, 42]),
        crochet,
        radius,
        tension.width,
        yarn,
        "ordinary",
        end == "loop",
        field,
        carved=True,
    )
    over = np.random.default_rng([seed, 43])
    if bare:
        things, thing_tags = [], []
    elif over.random() < 0.34:
        laid_on, more_tags = draw_coverings(over, crochet, radius, yarn, field)
        things, thing_tags = things + laid_on, thing_tags + more_tags
    grounds = np.random.default_rng([seed, 44])
    ground, half, ground_tags = draw_ground(grounds, camera, str(rng.choice(["ordinary", "hard"])), yarn.seen)
    lights, ambient, light_tags = _lights(rng, radius, camera)
    darkest = min(map(luminance, np.asarray(yarn.seen)))
    finish, finish_tags = _finish(rng, "dim" in light_tags, pitch * scale, darkest)
    tags = [
        "wide",
        *tags,
        *thing_tags,
        *ground_tags,
        *light_tags,
        *finish_tags,
        shape if shape != "flat" else "",
        yarn.kind,
    ]
    if tension.splay:
        tags.append("splayed")
    if yarn.pile:
        tags.append("chenille")
    if yarn.sheen:
        tags.append("cotton")
    tags += shade_tags(yarn) + work_tags(worked, end, left_handed)
    if wrong_side:
        tags.append("wrong side")
    tags += sorted({worked.kind(r) for r in range(len(worked.bases))} - {"single"})
    if worked.joined:
        tags.append("turned" if worked.turned else "joined")
    truth = truth_of(worked, crochet, camera, [t for t in tags if t not in ("", "solid")])
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
