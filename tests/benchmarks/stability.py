"""Whether the same piece gives the same answer: ``python tests/benchmarks/stability.py FOLDER``.

Every photo of the folder is counted as it is and changed in ways that leave the
piece what it is: turned, mirrored, darker, lighter, smaller, saved worse, its
margin cut (where truth files say that no stitch is cut with it). A line for each
change says on how many photos the number (or that there is one) differs, of how
many sure answers the number does, how many are no longer sure, how many are another
number now, sure too, and, where the truth is known, how many are wrong while sure.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

from counter import Count, count_photo, read_photo
from counter.basics.answer import Refusal

#: A fifth darker and lighter, the smaller size, the quality of the worse file, and the margin that is cut.
DARKER, LIGHTER, SMALLER, QUALITY, MARGIN = 0.8, 1.2, 0.75, 60, 0.05
#: What must lie between a mark and the new edge, as a share of the picture: about half a stitch.
BESIDE = 0.02
#: The change that may cut off some of the piece.
TRIMMED = "5% of the margin cut"


def turned(pixels: np.ndarray, degrees: float) -> np.ndarray:
    """The whole picture turned; what lies beyond it is its mirror image."""
    high, wide = pixels.shape[:2]
    turn = cv2.getRotationMatrix2D(((wide - 1) / 2, (high - 1) / 2), degrees, 1.0)
    cos, sin = abs(turn[0, 0]), abs(turn[0, 1])
    size = (round(wide * cos + high * sin), round(wide * sin + high * cos))
    turn[:, 2] += (np.array(size) - (wide, high)) / 2
    return cv2.warpAffine(pixels, turn, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)


def lit(pixels: np.ndarray, factor: float) -> np.ndarray:
    return np.clip(np.round(pixels * factor), 0, 255).astype(np.uint8)


def worse(pixels: np.ndarray) -> np.ndarray:
    data = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, QUALITY])[1]
    return cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1]


def trimmed(pixels: np.ndarray) -> np.ndarray:
    high, wide = (round(side * MARGIN) for side in pixels.shape[:2])
    return pixels[high : pixels.shape[0] - high, wide : pixels.shape[1] - wide]


CHANGES: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "turned by 90": np.rot90,
    "turned by 180": lambda pixels: np.rot90(pixels, 2),
    "turned by 37": partial(turned, degrees=37.0),
    "mirrored": lambda pixels: pixels[:, ::-1],
    "a fifth darker": partial(lit, factor=DARKER),
    "a fifth lighter": partial(lit, factor=LIGHTER),
    "three quarters of the size": partial(cv2.resize, dsize=None, fx=SMALLER, fy=SMALLER, interpolation=cv2.INTER_AREA),
    f"JPEG {QUALITY}": worse,
    TRIMMED: trimmed,
}


def told(pixels: np.ndarray) -> tuple[int | None, bool]:
    answer = count_photo(np.ascontiguousarray(pixels))
    return (answer.stitches, answer.sure) if isinstance(answer, Count) else (None, False)


def answers(path: Path) -> dict | None:
    """The number and whether it is sure, as the photo is and after each change; None where it can't be read."""
    cv2.setNumThreads(1)
    photo = read_photo(path)
    if isinstance(photo, Refusal):
        return None
    truth = path.with_suffix(".json")
    known = json.loads(truth.read_text(encoding="utf-8")) if truth.exists() else {}
    pixels = np.asarray(photo.pixels)
    changes = dict(CHANGES)
    if cut_with_margin(np.reshape(known.get("marks") or [], (-1, 2)), pixels):
        del changes[TRIMMED]
    row = {"photo": path.stem, "true": known.get("stitches"), "known": bool(known), "as it is": told(pixels)}
    return row | {name: told(change(pixels)) for name, change in changes.items()}


def cut_with_margin(marks: np.ndarray, pixels: np.ndarray) -> bool:
    """Whether marks are cut off with the margin, or only just aren't."""
    size = np.array(pixels.shape[1::-1])
    return bool((np.abs(marks / size - 0.5) > 0.5 - MARGIN - BESIDE).any())


def main(folder: Path, most: int | None, workers: int, out: Path | None) -> None:
    paths = sorted(path for path in folder.iterdir() if path.suffix.lower() in (".jpg", ".jpeg", ".png"))[:most]
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        rows = [row for row in pool.map(answers, paths) if row]
    sure = [row for row in rows if row["as it is"][1]]
    print(f"{len(rows)} photos, {len(sure)} counted as sure as they are\n")
    heads = ("photos", "changed", "sure: changed", "no longer sure", "another, sure", "wrong while sure")
    print(f"{'':28}" + "".join(f"{head:>18}" for head in heads))
    summed = np.zeros(7)
    for name in CHANGES:
        both = [(row["as it is"], row[name], row) for row in rows if name in row]
        were = [pair for pair in both if pair[0][1]]
        figures = (
            len(both),
            sum(before[0] != after[0] for before, after, _ in both),
            len(were),
            sum(before[0] != after[0] for before, after, _ in were),
            sum(not after[1] for _, after, _ in were),
            sum(after[1] and before[0] != after[0] for before, after, _ in were),
            sum(row["known"] and after[1] and after[0] != row["true"] for _, after, row in both),
        )
        summed += figures
        print(line(name, *figures))
    print(line("all changes", *(int(value) for value in summed)))
    if out:
        out.write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")


def line(name: str, photos: int, other: int, sure: int, other_sure: int, lost: int, swapped: int, wrong: int) -> str:
    cells = (str(photos), share(other, photos), share(other_sure, sure), share(lost, sure), str(swapped), str(wrong))
    return f"{name:28}" + "".join(f"{cell:>18}" for cell in cells)


def share(part: int, whole: int) -> str:
    return f"{part / whole:.1%}" if whole else "-"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--most", type=int, help="only the first so many photos")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--json", type=Path, help="write what came out for every photo there")
    options = parser.parse_args()
    main(options.folder, options.most, options.workers, options.json)
