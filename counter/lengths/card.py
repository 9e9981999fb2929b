"""A card of the size of a bank card beside the piece.

It is told from other rectangles by its proportions under some camera that a
phone could be, and by its rounded corners.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from counter.lengths.edges import MOST_OUTLINES, TableView, corners_of
from counter.lengths.plane import (
    FOCAL_GRID_LONG_SIDES,
    FOCAL_LOG_SD,
    FOCAL_LONG_SIDES,
    PIECE_LOG_AXIS_RATIO_SD,
    SLANT_SD_RAD,
    STEEPEST_RAD,
    out_of_round,
    through,
    view_misfit,
    views,
)

__all__ = ["CARD_CORNER_MM", "CARD_SIDES_MM", "CARD_THICKNESS_MM", "Card", "find_cards"]

#: Length, width and thickness of a card, and the radius of its corners, mm (ISO/IEC 7810, format ID-1).
CARD_SIDES_MM, CARD_THICKNESS_MM, CARD_CORNER_MM = (85.60, 53.98), 0.76, 3.18
#: Share of a side along which the edge must be seen.
SEEN_SIDE_SHARE = 0.6
#: How far the proportions of a card may be off under the camera that suits it best (as a
#: share, one standard deviation), and the misfit that is still believed.
CARD_PROPORTION_SD, WORST_CARD_CHI_SQUARED = 0.008, 12.0
#: Shortest side of a card that can be told from another rectangle, px.
LEAST_CARD_SIDE_PX = 50


def _quads(hulls: list[np.ndarray]) -> list[np.ndarray]:
    """Four-sided ones among some outlines, corners clockwise in the picture, shape (4, 2)."""
    found: list[np.ndarray] = []
    for hull in hulls:
        line = hull.astype(np.float32).reshape(-1, 1, 2)
        around, area = cv2.arcLength(line, True), cv2.contourArea(line)
        for share in (0.02, 0.03, 0.045):
            corners = cv2.approxPolyDP(line, share * around, True)[:, 0].astype(float)
            if len(corners) <= 4:
                break
        if len(corners) != 4 or cv2.contourArea(corners.astype(np.float32)) < 0.9 * area:
            continue
        lengths = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        # No view of a card that can be measured is more slender than this.
        if lengths.min() < 12 or lengths.max() > 4 * lengths.min():
            continue
        turned = (corners[2] - corners[0])[0] * (corners[3] - corners[1])[1] - (corners[2] - corners[0])[1] * (
            corners[3] - corners[1]
        )[0]
        corners = corners if turned > 0 else corners[::-1]
        turns = np.stack([np.roll(corners, k, axis=0) for k in range(4)])
        if not found or np.abs(np.stack(found)[:, None] - turns).max(axis=(2, 3)).min() > 0.03 * lengths.max():
            found.append(corners)
    return sorted(found, key=lambda corners: -cv2.contourArea(corners.astype(np.float32)))[:MOST_OUTLINES]


@dataclass(frozen=True, eq=False)
class Card:
    """A card that was found.

    Parameters
    ----------
    homography : ndarray of shape (3, 3), float
        px -> mm in the plane of its face.
    corners : ndarray of shape (4, 2), float
        Where its sides meet, px.
    seen : float
        Share of its worst side along which the picture has an edge, 0 to 1.
    misfit : float
        How far from likely the camera is that it asks for, 0 for the likeliest.
    """

    homography: np.ndarray
    corners: np.ndarray
    seen: float
    misfit: float


def _as_card(scene: TableView, quad: np.ndarray) -> Card | None:
    """A card at about these four corners, if it is one."""
    corners = quad
    for narrow in (0.035, 0.012):
        lengths = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        reach = max(narrow * float(lengths.min()), 3.0)
        found = corners_of(scene.lab, corners, reach, SEEN_SIDE_SHARE)
        if found is None:
            return None
        corners, seen = found
        if not np.isfinite(corners).all() or np.abs(corners - quad).max() > 0.2 * lengths.max():
            return None
    if (
        not cv2.isContourConvex(corners.astype(np.float32))
        or lengths.min() < LEAST_CARD_SIDE_PX
        or not _stands_out(scene.lab, corners)
    ):
        return None
    best: Card | None = None
    for shape in (CARD_SIDES_MM, CARD_SIDES_MM[::-1]):
        plane = np.array([[0, 0], [shape[0], 0], shape, [0, shape[1]]], dtype=np.float32)
        homography = cv2.getPerspectiveTransform(corners.astype(np.float32), plane)
        skew, stretch, _, slant = views(homography, scene.middle, scene.long)
        ways = (
            view_misfit(skew, stretch, CARD_PROPORTION_SD)
            + (np.log(FOCAL_GRID_LONG_SIDES / FOCAL_LONG_SIDES) / FOCAL_LOG_SD) ** 2
            + (slant / SLANT_SD_RAD) ** 2
        )
        misfit = float(np.where(slant < STEEPEST_RAD, ways, np.inf).min())
        if scene.outline is not None:
            # The slant that makes a card of it must make the piece about round.
            misfit += (
                float((out_of_round(through(homography, scene.outline)[None])[0] ** 2).sum())
                / PIECE_LOG_AXIS_RATIO_SD**2
            )
        if (
            misfit <= WORST_CARD_CHI_SQUARED
            and (best is None or misfit < best.misfit)
            and _round_corners(scene.lab, homography, shape)
        ):
            best = Card(homography, corners, seen, misfit)
    return best


def _stands_out(lab: np.ndarray, corners: np.ndarray) -> bool:
    """True where there is another colour inside than outside along every side; along a drawn line there is not."""
    along = np.linspace(0.1, 0.9, 40)[:, None]
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        heading = (end - start) / np.linalg.norm(end - start)
        away = np.array([heading[1], -heading[0]]) * max(3.0, 0.012 * np.linalg.norm(end - start))
        places = start + along * (end - start)
        both = np.stack([places + away, places - away]).astype(np.float32)
        outside, inside = cv2.remap(lab, both[..., 0], both[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        if np.mean(np.linalg.norm(outside - inside, axis=1) > 6) < 0.6:
            return False
    return True


def _corner_masks() -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Places about a corner, mm inwards from where the sides would meet, and which tell what it is like."""
    u, v = (axis.ravel() for axis in np.meshgrid(np.arange(-2.4, 9.01, 0.2), np.arange(-2.4, 9.01, 0.2)))
    r = CARD_CORNER_MM
    far = np.hypot(u - r, v - r)
    in_corner = (u < r) & (v < r)
    lower, upper = np.minimum(u, v), np.maximum(u, v)
    return np.stack([u, v], axis=1), {
        "ground": (lower < -0.8) & (upper < 7),
        "card": (lower > 0.8) & (lower < 2.6) & (upper > 4.2) & (upper < 8),
        "notch": in_corner & (far > r + 0.35) & (lower > 0.15),
        "arc": in_corner & (far < r - 0.5) & (far > r - 1.6),
    }


_CORNER_PLACES, _CORNER_MASKS = _corner_masks()


def _round_corners(lab: np.ndarray, homography: np.ndarray, shape: tuple[float, float]) -> bool:
    """True where the corners are cut as round as a card's: ground outside the arc, card inside of it."""
    back = np.linalg.inv(homography)
    notch, arc = [], []
    for right in (0, 1):
        for low in (0, 1):
            u, v = _CORNER_PLACES.T
            places = np.stack([shape[0] - u if right else u, shape[1] - v if low else v], axis=1)
            px = through(back, places).astype(np.float32)
            seen = cv2.remap(lab, px[None, :, 0], px[None, :, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0]
            colour = {name: np.median(seen[mask], axis=0) for name, mask in _CORNER_MASKS.items()}
            away = colour["ground"] - colour["card"]
            if np.linalg.norm(away) < 8:
                continue
            notch.append(float((colour["notch"] - colour["card"]) @ away / (away @ away)))
            arc.append(float((colour["arc"] - colour["card"]) @ away / (away @ away)))
    if len(notch) < 3:
        return False
    return bool(np.median(notch) > 0.5 and np.sort(notch)[-3] > 0.35 and np.median(arc) < 0.5)


def find_cards(scene: TableView) -> list[Card]:
    """Cards that lie beside the piece.

    Parameters
    ----------
    scene : Scene

    Returns
    -------
    list of Card
        Each one once, best first.
    """
    hulls, shrink = scene.hulls
    found = [_as_card(scene, (quad + 0.5) * shrink - 0.5) for quad in _quads(hulls)]
    cards: list[Card] = []
    for card in sorted(
        (c for c in found if c is not None and not scene.covers(c.corners)), key=lambda c: c.misfit - 20 * c.seen
    ):
        middle = tuple(map(float, card.corners.mean(axis=0)))
        if all(cv2.pointPolygonTest(other.corners.astype(np.float32), middle, False) < 0 for other in cards):
            cards.append(card)
    return cards
