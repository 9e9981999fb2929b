"""Rims laid straight, with what is true at each place, and the file that keeps them."""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

__all__ = ["ABOVE", "BELOW", "PIXELS", "Rims"]

#: Columns and rows of a strip for each stitch width.
PIXELS = 20
#: A strip reaches from outside the rim to below it, in stitch widths: as far as a
#: band at half the right scale, laid wrong by half a stitch.
ABOVE, BELOW = -2.6, 3.6
#: JPEG quality at which strips are kept.
QUALITY = 90


@dataclass(frozen=True, eq=False)
class Rims:
    """Strips one after the other, as one wide picture.

    Parameters
    ----------
    pixels : ndarray of shape (rows, columns, 3), uint8
        sRGB.
    starts : ndarray of shape (strips + 1,), int
        First column of each strip, and the number of columns.
    stitches : ndarray of shape (strips,), int
        Stitches of each rim; 0 where the strip shows no rim.
    phase : ndarray of shape (columns,), float32
        Grows by 1 a stitch; whole at marks.
    depth : ndarray of shape (columns,), float32
        Depth of the marks, in stitch widths.
    seen : ndarray of shape (columns,), float32
        0 where the rim is hidden or missing, else 1.
    seam, pair : ndarray of shape (columns,), float32
        1 near the place where the round starts and ends, and near increases.
    source : ndarray of shape (strips,), str
        Photo of each strip.
    """

    pixels: np.ndarray
    starts: np.ndarray
    stitches: np.ndarray
    phase: np.ndarray
    depth: np.ndarray
    seen: np.ndarray
    seam: np.ndarray
    pair: np.ndarray
    source: np.ndarray

    def save(self, path: str | Path) -> None:
        """Write to one file; the pictures as JPEG."""
        pictures = []
        for low, high in zip(self.starts[:-1], self.starts[1:], strict=True):
            file = io.BytesIO()
            Image.fromarray(self.pixels[:, low:high]).save(file, "JPEG", quality=QUALITY)
            pictures.append(file.getvalue())
        half = {name: getattr(self, name).astype(np.float16) for name in ("depth", "seen", "seam", "pair")}
        np.savez_compressed(
            path,
            pictures=np.frombuffer(b"".join(pictures), np.uint8),
            sizes=np.array([len(p) for p in pictures]),
            starts=self.starts,
            stitches=self.stitches,
            phase=self.phase,
            source=self.source,
            **half,
        )

    @classmethod
    def load(cls, paths: Iterable[str | Path]) -> Rims:
        """Read one or more files, one after the other."""
        parts = []
        for path in paths:
            with np.load(path) as file:
                ends = np.cumsum(file["sizes"])
                blob = file["pictures"].tobytes()
                strips = [
                    np.asarray(Image.open(io.BytesIO(blob[end - size : end])))
                    for end, size in zip(ends, file["sizes"], strict=True)
                ]
                arrays = {name: file[name].astype(np.float32) for name in ("phase", "depth", "seen", "seam", "pair")}
                parts.append(
                    cls(
                        np.concatenate(strips, axis=1),
                        file["starts"],
                        file["stitches"],
                        source=file["source"],
                        **arrays,
                    )
                )
        widths = np.concatenate([np.diff(part.starts) for part in parts])
        joined = {
            name: np.concatenate([getattr(part, name) for part in parts])
            for name in ("stitches", "phase", "depth", "seen", "seam", "pair", "source")
        }
        pixels = np.concatenate([part.pixels for part in parts], axis=1)
        return cls(pixels, np.concatenate([[0], np.cumsum(widths)]), **joined)
