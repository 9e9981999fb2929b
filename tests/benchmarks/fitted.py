"""The numbers that were fitted to photos whose truth is known, fitted again: ``python tests/benchmarks/fitted.py FOLDER``

FOLDER holds photos with truth files, as `rimtally render dev` makes them. Each photo is counted (about 5 s), and
every number is printed beside what it says in the code, so that a change of the reader shows where it moves one. The
numbers are not changed: what is measured on rendered photos is a person's to judge.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import cv2
import numpy as np

from counter.basics.answer import Count, Refusal
from counter.basics.photo import read_photo
from counter.comparing import slips, which
from counter.counting import posterior, rounds, seam, unwrap
from counter.counting.calibration import shipped
from counter.counting.path import path_odds
from counter.counting.pieces import find_pieces
from counter.counting.reading import Reading, read_rim
from counter.evaluation.truth import Truth, read_folder
from counter.examination import examine
from counter.lengths import measure

#: What each place of room at the join may speak against it, in nats.
ROOM_NATS = (-0.6, -0.45, -0.3, -0.2, -0.1)


def shares(differences: Iterable[int]) -> str:
    """How often each difference comes, as shares."""
    seen = Counter(differences)
    whole = sum(seen.values())
    return ", ".join(f"{off:+d}: {number / whole:.3f}" for off, number in sorted(seen.items()))


def true_widths(read: Reading, truth: Truth) -> np.ndarray:
    """Widths in places between the marks of a truth file, in working order; the last one holds the seam."""
    rim = unwrap.rim_places(read.laid, len(read.seen.gap))
    places, _ = unwrap.to_strip(rim, read.centre, truth.marks / read.photo.shrink)
    return np.abs((np.diff(places, append=places[:1]) + len(rim) / 2) % len(rim) - len(rim) / 2)


def width_deviations(widths: list[np.ndarray], supposed: list[int]) -> tuple[float, float, float]:
    """Of the logarithm: the mean width round the supposed one, single stitches, the drift from stitch to stitch.

    The mean squared difference of stitches k apart is 2 stitch^2 + k drift^2, of which the line through k = 1 to 6
    tells both.
    """
    logs = [np.log(np.maximum(own[:-1], 0.5)) for own in widths]
    lags = np.arange(1, 7)
    apart = [np.mean([np.mean((own[k:] - own[:-k]) ** 2) for own in logs if len(own) > 2 * k]) for k in lags]
    slope, start = np.polyfit(lags, apart, 1)
    mean = [np.log(number / len(own)) for own, number in zip(widths, supposed, strict=True)]
    return float(np.sqrt(np.mean(np.square(mean)))), float(np.sqrt(max(start, 0) / 2)), float(np.sqrt(max(slope, 0)))


def true_chance(seen, evidence, law, low: int, high: int, stitches: int, room_nats: float) -> float:
    """Log chance of the true number with one cost of room at the join."""
    joins = seam.joins_of(evidence.gap, seen.seam, law.centre, room_nats=room_nats)
    found = path_odds(evidence.middle, evidence.gap, joins, law, low, high)
    return float(np.log(found.posterior[stitches] + 1e-9))


def rim_numbers(known: list[tuple[Path, Truth]]) -> None:
    """What the rims of photos with truth say of the closed loop and its seam."""
    widths, supposed, rooms, told = [], [], [], []
    for photo, truth in known:
        if truth.refuse is not None or len(truth.marks) < 3 or truth.in_progress is not None:
            continue
        read = read_rim(photo)
        if isinstance(read, Refusal):
            continue
        own = true_widths(read, truth)
        widths.append(own)
        supposed.append(read.seen.supposed)
        rooms.append(own[-1] / np.median(own) - 1)
        evidence, law, low, high = posterior.evidence_of(read.seen, shipped().trust)
        if low <= truth.stitches <= high:
            told.append([true_chance(read.seen, evidence, law, low, high, truth.stitches, nats) for nats in ROOM_NATS])
    law = posterior.MEAN_SD_LOG, posterior.STITCH_SD_LOG, posterior.DRIFT_SD_LOG
    print(f"counting/posterior.py MEAN_SD_LOG, STITCH_SD_LOG, DRIFT_SD_LOG = {law}")
    if widths:
        print(f"    {len(widths)} rims: " + ", ".join(f"{value:.3f}" for value in width_deviations(widths, supposed)))
        print(f"    room at the seam, 10 to 90%: {np.quantile(rooms, [0.1, 0.5, 0.9]).round(2)} stitch widths")
    print(f"counting/seam.py ROOM_NATS = {seam.ROOM_NATS}")
    if told:
        print(
            f"    {len(told)} rims, mean log chance of the true number with {ROOM_NATS}: {np.mean(told, axis=0).round(3)}"
        )


def texture_numbers(known: list[tuple[Path, Truth]]) -> None:
    """What the bodies of photos with truth say of what was worked in rounds."""
    signs = []
    for path, truth in known:
        photo = read_photo(path)
        if truth.refuse is not None or isinstance(photo, Refusal):
            continue
        for own in find_pieces(photo.working)[:1]:
            light = cv2.cvtColor(own.body, cv2.COLOR_RGB2LAB)[..., 0]
            upright, turned = rounds.texture_likeness(photo.working, own.piece, own.centre)
            signs.append(
                (rounds.contrast_share(light), upright, turned - upright, rounds.ring_lines(light.astype(float)).max())
            )
    names = ("LEAST_CONTRAST_SHARE", "ONE_CLOTH_LIKENESS", "LEAST_TURNING", "LEAST_LINES_SHARE")
    for name, values in zip(names, np.transpose(signs), strict=True) if signs else ():
        print(f"counting/rounds.py {name} = {getattr(rounds, name)}")
        print(
            f"    {len(signs)} pieces that passed, 1, 10, 50, 99%: {np.quantile(values, [0.01, 0.1, 0.5, 0.99]).round(3)}"
        )


def main(folder: str) -> int:
    """Print them."""
    known, _ = read_folder(folder)
    flat: list[int] = []
    walled: list[int] = []
    round_off: list[int] = []
    straight: list[float] = []
    for photo, truth in known:
        answer = examine(Path(photo)).answer
        if truth.refuse is not None or not isinstance(answer, Count) or truth.rounds is None:
            continue
        _, _, roundness = measure.flattened(answer.outline)
        straight.append(-np.log(roundness))
        if answer.rounds is not None and answer.in_progress is None:
            (walled if "cup" in truth.tags else flat).append(answer.rounds - truth.rounds)
            round_off.append(answer.rounds - truth.rounds)
    print(f"{len(known)} photos of {folder}")
    print(f"comparing/which.py ROUNDS_OFF_SHARES = {which.ROUNDS_OFF_SHARES}")
    print(f"    {len(flat)} pieces without a wall: {shares(flat)}")
    print(f"comparing/which.py ROUNDS_LOST_SD = {which.ROUNDS_LOST_SD}")
    if walled:
        print(f"    {len(walled)} pieces with a wall: mean {np.mean(walled):+.2f}, sd {np.std(walled):.2f}")
    print(f"lengths/measure.py ROUNDS_SD = {measure.ROUNDS_SD}")
    if round_off:
        print(f"    {len(round_off)} counted rounds: root mean square {np.sqrt(np.mean(np.square(round_off))):.2f}")
    print(f"lengths/measure.py LEAST_LOG_AXIS_RATIO = {measure.LEAST_LOG_AXIS_RATIO}")
    if straight:
        print(f"    {len(straight)} outlines: half below {np.median(straight):.3f}")
    rim_numbers(known)
    texture_numbers(known)
    print(f"comparing/slips.py MISLED_PROBABILITY = {slips.MISLED_PROBABILITY}: by tests/benchmarks/slips.py")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
