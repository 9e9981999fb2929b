"""A coin beside the piece: its exact edge, and the plane that it lies in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

import cv2
import numpy as np

from counter.lengths.edges import MOST_OUTLINES, TableView, steps
from counter.lengths.plane import (
    FOCAL_GRID_LONG_SIDES,
    FOCAL_LOG_SD,
    FOCAL_LONG_SIDES,
    PIECE_LOG_AXIS_RATIO_SD,
    SLANT_SD_RAD,
    laid,
    moments,
    out_of_round,
)

__all__ = ["COINS", "COIN_HEIGHT_MM", "Disc", "find_discs", "plane_of_discs", "suits"]

#: Diameters of coins, mm (Council Regulation (EC) No 975/98, annex I).
COINS: Mapping[str, float] = MappingProxyType({"2 EUR": 25.75, "1 EUR": 23.25, "50 c": 24.25})
#: Height of their upper edge over the table, mm: 2.20 to 2.38 by the same annex.
COIN_HEIGHT_MM = 2.3
#: What shows as the edge is the top of a rim that is rounded: it lies so much inside of the
#: widest place, mm (from memory: the edges of struck coins are rounded by 0.1 to 0.2 mm).
COIN_ROUNDING_MM = 0.15
#: Share of the edge that must be seen.
SEEN_EDGE_SHARE = 0.75
#: Spread of the shape of a coin's edge, as the logarithm of the ratio of its axes, of the ratio of
#: the sizes of two coins, and of the size of both together: the rim of a coin is rounded, and where
#: it turns dark is as good as its edge.
COIN_LOG_AXIS_RATIO_SD, COIN_LOG_SIZE_RATIO_SD, COIN_LOG_SIZE_SD = 0.012, 0.01, 0.015
#: Least spread of lightness of a coin's face, levels of L: its relief and its gloss.
LEAST_RELIEF_LEVELS = 2.5
#: How much yellower one of two metals is than the other at least, as b over L.
LEAST_YELLOWER_RATIO = 0.1
#: How many times larger a coin may be than what was found of it first.
ENLARGEMENTS = (1.1, 1.22, 1.35, 1.5)
#: Smallest radius of a coin that can be told from another disc, px.
LEAST_COIN_RADIUS_PX = 16


def _ellipses(hulls: list[np.ndarray]) -> list[tuple[np.ndarray, np.ndarray]]:
    """Round ones among some outlines: middle, and the matrix that makes a circle of radius 1 of it."""
    found: list[tuple[np.ndarray, np.ndarray]] = []
    known = np.zeros((0, 3))  # middle and radius of each
    for hull in hulls:
        if len(hull) < 12:
            continue
        centre, spread = moments(hull)
        values, axes = np.linalg.eigh(4 * spread)
        if values[0] < 25 or values[1] > 4 * values[0]:
            continue
        to_circle = axes @ np.diag(1 / np.sqrt(values)) @ axes.T
        far = np.linalg.norm((hull - centre) @ to_circle, axis=1)
        if far.std() > 0.04:
            continue
        radius = float(values.prod() ** 0.25)
        if not np.any(
            (np.abs(known[:, :2] - centre).max(axis=1) < 0.06 * radius) & (np.abs(known[:, 2] / radius - 1) < 0.06)
        ):
            found.append((centre, to_circle))
            known = np.vstack([known, [*centre, radius]])
    return found


def _pattern(rounds: list[tuple[np.ndarray, np.ndarray]], centre: np.ndarray, to_circle: np.ndarray) -> bool:
    """True where two more discs of the same size and shape lie elsewhere: dots of a cloth, not coins."""
    radius = 1 / np.sqrt(np.linalg.det(to_circle))
    shape = np.linalg.inv(to_circle)
    places: list[np.ndarray] = [centre]
    for other, matrix in rounds:
        if np.abs(matrix @ shape - np.eye(2)).max() < 0.12 and all(
            np.linalg.norm(other - place) > 1.5 * radius for place in places
        ):
            places.append(other)
            if len(places) > 2:
                return True
    return False


@dataclass(frozen=True, eq=False)
class Disc:
    """A disc that was found.

    Parameters
    ----------
    edge : ndarray of shape (K, 2), float
        Its edge, an ellipse, px.
    seen : float
        Share of it along which the picture has an edge, 0 to 1.
    strength : float
        Of that edge, levels of colour for each pixel.
    """

    edge: np.ndarray
    seen: float
    strength: float

    @property
    def middle(self) -> np.ndarray:
        """Mean of the edge, (x, y), px."""
        return self.edge.mean(axis=0)

    @property
    def radius(self) -> float:
        """Radius of the circle of the same area, px."""
        return float(np.sqrt(cv2.contourArea(self.edge.astype(np.float32)) / np.pi))


class _Steps(NamedTuple):
    """Steps of colour along an ellipse: where, shape (N, 2), px; at which of :data:`_TURN`, (N,); how strong, (N,)."""

    points: np.ndarray
    places: np.ndarray
    strengths: np.ndarray


#: Where an ellipse is looked at, radians, and the unit circle there.
_TURN = np.linspace(0, 2 * np.pi, 96, endpoint=False)
_CIRCLE = np.stack([np.cos(_TURN), np.sin(_TURN)], axis=1)
#: How an ellipse that is near another lies off it, to first order: its size, its middle, its axes.
_WAVES = np.stack(
    [np.ones_like(_TURN), _CIRCLE[:, 0], _CIRCLE[:, 1], np.cos(2 * _TURN), np.sin(2 * _TURN)],
    axis=1,
)


def _as_disc(scene: TableView, centre: np.ndarray, to_circle: np.ndarray) -> Disc | None:
    """The exact ellipse near a rough one, if the picture has one there."""
    rough = _closer(scene, centre, to_circle, 0.12)
    exact = rough and _closer(scene, rough[1], rough[2], 0.04)
    if rough is None or exact is None:
        return None
    found, centre, to_circle = exact
    radius = 1 / np.sqrt(np.linalg.det(rough[2]))
    far = (np.linalg.norm((found.points - centre) @ to_circle, axis=1) - 1) / np.sqrt(np.linalg.det(to_circle))
    near = np.abs(far) < max(0.8, 0.01 * radius)
    share = len(np.unique(found.places[near])) / len(_TURN)
    if share < SEEN_EDGE_SHARE:
        return None
    edge = centre + _CIRCLE @ np.linalg.inv(to_circle).T
    return Disc(edge, share, float(np.median(found.strengths[near])))


def _closer(
    scene: TableView, centre: np.ndarray, to_circle: np.ndarray, reach: float
) -> tuple[_Steps, np.ndarray, np.ndarray] | None:
    """The steps near an ellipse, within so many of its radii, and the ellipse through them: centre, and to a circle."""
    radius = 1 / np.sqrt(np.linalg.det(to_circle))
    found = _steps_along(scene, centre, to_circle, max(reach * radius, 3.0), max(0.9, 0.012 * radius))
    fitted = None if found is None else _fit_ellipse(found.points)
    return None if found is None or fitted is None else (found, *fitted)


def _steps_along(
    scene: TableView, centre: np.ndarray, to_circle: np.ndarray, reach: float, near: float
) -> _Steps | None:
    """Those steps within `reach` px of an ellipse that lie on one ellipse, each at most `near` px off it."""
    points = centre + _CIRCLE @ np.linalg.inv(to_circle).T
    normals = _CIRCLE @ to_circle
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    radius = 1 / np.sqrt(np.linalg.det(to_circle))
    which, off, strength = steps(scene.lab, points, normals, reach)
    if len(off) < SEEN_EDGE_SHARE * len(_TURN):
        return None
    own = _on_one_ellipse(which, off, np.sqrt(np.minimum(strength, 12.0)), radius, reach, near)
    if own is None:
        return None
    return _Steps(points[which[own]] + off[own, None] * normals[which[own]], which[own], strength[own])


def _on_one_ellipse(
    which: np.ndarray, off: np.ndarray, worth: np.ndarray, radius: float, reach: float, near: float
) -> np.ndarray | None:
    """Which of the steps `off` px from a rough ellipse lie on the ellipse that most of them agree on."""
    most, best = 0.0, None
    for level in np.arange(-reach, reach + 0.01, 0.5 * near + 0.02 * radius):
        # From a wide look to a narrow one: what is off the ellipse loses its say.
        line = np.array([level, 0, 0, 0, 0])
        for tolerance in (0.05 * radius, 0.03 * radius, 1.5 * near, near, near):
            own = np.abs(_WAVES[which] @ line - off) < max(tolerance, near)
            if np.count_nonzero(own) < 30:
                break
            weighted = _WAVES[which[own]] * worth[own, None]
            line = np.linalg.lstsq(weighted, off[own] * worth[own], rcond=None)[0]
        own = np.abs(_WAVES[which] @ line - off) < near
        value = np.zeros(len(_TURN))
        np.maximum.at(value, which[own], worth[own])
        if value.sum() > most and np.abs(line[1:]).max() < reach:
            most, best = float(value.sum()), own
    return best


def _circle_of(disc: Disc) -> np.ndarray:
    """The matrix that makes a circle of radius 1 of a disc's edge."""
    _, spread = moments(disc.edge)
    values, axes = np.linalg.eigh(4 * spread)
    return axes @ np.diag(1 / np.sqrt(values)) @ axes.T


def _fit_ellipse(points: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    if len(points) < 30:
        return None
    (x, y), (width, height), angle = cv2.fitEllipseDirect(points.astype(np.float32))
    if not (min(width, height) > 6 and max(width, height) < 3 * min(width, height)):
        return None
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    axes = np.array([[c, -s], [s, c]])
    return np.array([x, y]), axes @ np.diag([2 / width, 2 / height]) @ axes.T


def _is_metal(scene: TableView, disc: Disc) -> bool:
    """True for a disc that stands out, in the colours of coin metals, with some relief and no holes like a button's."""
    rings = [(disc.middle + share * (disc.edge - disc.middle)).astype(np.float32) for share in (0.8, 1.2)]
    inside, outside = (
        cv2.remap(scene.lab, ring[None, :, 0], ring[None, :, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0]
        for ring in rings
    )
    if np.mean(np.linalg.norm(inside - outside, axis=1) > 8) < 0.7:
        return False
    mask = np.zeros(scene.lab.shape[:2], np.uint8)
    centre = disc.middle
    inner = centre + 0.88 * (disc.edge - centre)
    cv2.fillPoly(mask, [np.round(inner).astype(np.int32)], 1)
    colour = scene.lab[mask > 0].astype(float) - [0, 128, 128]
    chroma, hue = np.hypot(colour[:, 1], colour[:, 2]), np.degrees(np.arctan2(colour[:, 2], colour[:, 1]))
    metal = (chroma < 16) | ((hue > 35) & (hue < 110) & (chroma < 75))
    light = cv2.GaussianBlur(scene.lab[..., 0], (0, 0), max(1.0, 0.04 * disc.radius))[mask > 0]
    if metal.mean() < 0.85 or light.std() < LEAST_RELIEF_LEVELS:
        return False
    # Holes: dark spots in the inner half, each with its like on the other side of the middle.
    half = np.zeros_like(mask)
    cv2.fillPoly(half, [np.round(centre + 0.55 * (disc.edge - centre)).astype(np.int32)], 1)
    dark = ((scene.lab[..., 0] < 0.45 * np.median(light)) & (half > 0)).astype(np.uint8)
    number, _, sizes, middles = cv2.connectedComponentsWithStats(dark)
    area = np.pi * disc.radius**2
    spots = [middles[k] - centre for k in range(1, number) if 0.003 < sizes[k, cv2.CC_STAT_AREA] / area < 0.06]
    paired = [
        a
        for a in spots
        if any(np.linalg.norm(a + b) < 0.15 * disc.radius for b in spots) and np.linalg.norm(a) > 0.08 * disc.radius
    ]
    return len(paired) < 2


def _edge_of(discs: list[Disc]) -> Disc:
    """The edge of a coin among several edges at one place.

    Relief and the inner of two metals lie inside of it, all around. Its
    shadow, and its wall seen at a slant, lie outside, weaker or on one side only.
    """
    most = max(disc.seen for disc in discs)
    firm = [disc for disc in discs if disc.seen >= 0.9 * most]
    strongest = max(disc.strength for disc in firm)
    firm = sorted((disc for disc in firm if disc.strength >= 0.4 * strongest), key=lambda disc: -disc.radius)
    for disc in firm:
        inner = (own for own in firm if 0.75 * disc.radius < own.radius < disc.radius and own.strength > disc.strength)
        if not any(_crescent(disc, smaller) for smaller in inner):
            return disc
    return firm[-1]


def _crescent(disc: Disc, smaller: Disc) -> bool:
    """True where two edges touch on one side, or nearly."""
    circle = (disc.edge - smaller.middle) @ _circle_of(smaller)
    wide = np.linalg.norm(circle, axis=1) - 1
    # Narrow crescents lie between the two ends of a rounded rim.
    return bool(np.percentile(wide, 92) > 0.06 and np.percentile(wide, 8) < 0.3 * np.percentile(wide, 92))


def suits(scene: TableView, disc: Disc, coin: str) -> bool:
    """True where a disc has the metals of a coin.

    Parameters
    ----------
    scene : TableView
    disc : Disc
    coin : str
        A key of :data:`COINS`.

    Returns
    -------
    bool
        Of 2 euro the middle is yellow and the ring white, of 1 euro the other
        way round, 50 cent are yellow all over (same annex as the diameters).
    """
    edge = disc.edge

    def yellow(shares: tuple[float, ...]) -> float:
        rings = np.concatenate([disc.middle + share * (edge - disc.middle) for share in shares]).astype(np.float32)
        seen = cv2.remap(scene.lab, rings[None, :, 0], rings[None, :, 1], cv2.INTER_LINEAR)[0]
        # As a share of the lightness, for gloss and shade change both.
        return float(np.median((seen[:, 2] - 128) / np.maximum(seen[:, 0], 20)))

    inner = yellow((0.1, 0.2, 0.3, 0.4, 0.5, 0.6)) - yellow((0.8, 0.84, 0.88))
    return (
        inner > LEAST_YELLOWER_RATIO
        if coin == "2 EUR"
        else inner < -LEAST_YELLOWER_RATIO
        if coin == "1 EUR"
        else abs(inner) < LEAST_YELLOWER_RATIO
    )


def plane_of_discs(scene: TableView, discs: list[Disc], diameter: float) -> tuple[np.ndarray, float, float, float]:
    """The plane that coins of one kind lie in, as far as it can be told.

    A circle's picture leaves open how the plane lies that it is in. All slants
    and focal lengths are tried, each as likely as it makes the coins circles
    of one size and the rim of the piece nearly a circle; the length around the
    rim that they agree on is the answer, and what they disagree by its error.

    Parameters
    ----------
    scene : TableView
        With its piece.
    discs : list of Disc
        One or two.
    diameter : float
        Of each, mm.

    Returns
    -------
    homography : ndarray of shape (3, 3), float
        px -> mm, right at the piece.
    error : float
        Relative standard error of lengths there.
    height : float
        Of the camera over the plane, mm.
    lost : float
        Spread of its logarithm.
    """
    marks, outline = scene.counted()
    rim = outline[:: max(1, len(outline) // 90)]
    best, lowest, best_log = np.eye(3), np.inf, 0.0
    all_logs, all_odds, all_heights = [], [], []
    for focal in FOCAL_GRID_LONG_SIDES[2:-2:3]:
        planes = _slanted_planes(scene, float(focal))
        shape_rim, _ = out_of_round(laid(planes, rim))
        misfit = (shape_rim**2).sum(axis=1) / PIECE_LOG_AXIS_RATIO_SD**2
        radii = []
        for disc in discs:
            shape_edge, own = out_of_round(laid(planes, disc.edge[::3]))
            misfit += (shape_edge**2).sum(axis=1) / COIN_LOG_AXIS_RATIO_SD**2
            radii.append(np.log(np.maximum(own, 1e-12)))
        misfit += ((radii - np.mean(radii, axis=0)) ** 2).sum(axis=0) / COIN_LOG_SIZE_RATIO_SD**2
        misfit += (_TILT / SLANT_SD_RAD) ** 2 + (np.log(focal / FOCAL_LONG_SIDES) / FOCAL_LOG_SD) ** 2
        unit = (0.5 * diameter - COIN_ROUNDING_MM) / np.exp(np.mean(radii, axis=0))
        places = laid(planes, marks)
        length = unit * np.linalg.norm(np.roll(places, -1, axis=1) - places, axis=2).sum(axis=1)
        all_logs.append(np.log(length))
        all_odds.append(misfit)
        all_heights.append(unit)
        k = int(misfit.argmin())
        if misfit[k] < lowest:
            lowest, best_log = misfit[k], np.log(length[k])
            best = np.diag([unit[k], unit[k], 1.0]) @ planes[k]
    logs, odds, heights = np.concatenate(all_logs), np.concatenate(all_odds), np.concatenate(all_heights)
    odds = np.exp(-0.5 * (odds - odds.min()))
    odds /= odds.sum()
    mean = float((odds * logs).sum())
    spread = float(np.sqrt((odds * (logs - mean) ** 2).sum()))
    height = float(np.exp((odds * np.log(heights)).sum()))
    lost = float(np.sqrt((odds * np.log(heights / height) ** 2).sum()))
    more = np.exp(mean - best_log)
    blurred = 0.4 / np.mean([disc.radius for disc in discs])
    error = float(np.sqrt(spread**2 + blurred**2 / len(discs) + COIN_LOG_SIZE_SD**2))
    return np.diag([more, more, 1.0]) @ best, error, height, lost


#: Slants of a plane that are tried, sideways and lengthways, radians: how far it tilts, and which way.
_SLANTS = [own.ravel() for own in np.meshgrid(*[np.radians(np.arange(-42, 42.1, 2.0))] * 2)]
_TILT, _TILT_TO = np.hypot(*_SLANTS), np.arctan2(_SLANTS[1], _SLANTS[0])


def _slanted_planes(scene: TableView, focal: float) -> np.ndarray:
    """For every slant px -> plane at height 1 below a camera of that focal length (in long sides), (slants, 3, 3)."""
    # The plane's normal in camera coordinates; depth along a ray is 1 / (normal . ray).
    sine, cosine, zero = np.sin(_TILT), np.cos(_TILT), np.zeros_like(_TILT)
    normal = np.stack([sine * np.cos(_TILT_TO), sine * np.sin(_TILT_TO), cosine], axis=1)
    first = np.stack([cosine * np.cos(_TILT_TO), cosine * np.sin(_TILT_TO), -sine], axis=1)
    second = np.stack([-np.sin(_TILT_TO), np.cos(_TILT_TO), zero], axis=1)
    long = focal * scene.long
    to_ray = np.array([[1, 0, -scene.middle[0]], [0, 1, -scene.middle[1]], [0, 0, long]]) / long
    return np.stack([first, second, normal], axis=1) @ to_ray


def find_discs(scene: TableView, smallest: float, largest: float) -> list[Disc]:
    """Discs of metal that lie beside the piece.

    Parameters
    ----------
    scene : TableView
        With its piece.
    smallest, largest : float
        Radii between which a coin is believed, px.

    Returns
    -------
    list of Disc
        Each one once, by its upper edge; none that is one of many alike.
    """
    hulls, shrink = scene.hulls
    rounds = _ellipses(hulls)
    found: list[Disc] = []
    for centre, to_circle in sorted(rounds, key=lambda own: np.linalg.det(own[1]))[:MOST_OUTLINES]:
        if _pattern(rounds, centre, to_circle):
            continue
        disc = _as_disc(scene, (centre + 0.5) * shrink - 0.5, to_circle / shrink)
        if disc is None or scene.covers(disc.edge):
            continue
        # Of a coin that hardly stands out, relief or the inner of two metals is what is found first.
        around = [_as_disc(scene, disc.middle, _circle_of(disc) / larger) for larger in ENLARGEMENTS]
        found.extend(
            own
            for own in (disc, *around)
            if own is not None
            and max(LEAST_COIN_RADIUS_PX, smallest) <= own.radius <= largest
            and not scene.covers(own.edge)
            and _is_metal(scene, own)
        )
    coins: list[Disc] = []
    while found:
        first = max(found, key=lambda disc: disc.radius)
        together = [disc for disc in found if np.linalg.norm(disc.middle - first.middle) < first.radius]
        found = [disc for disc in found if not any(disc is own for own in together)]
        coins.append(_edge_of(together))
    return coins
