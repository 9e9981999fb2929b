"""Everything that lengths in a photo say about a piece: size, gauge, tension, how it lies."""

from __future__ import annotations

from dataclasses import dataclass

from counter.basics import words
from counter.basics.answer import Count
from counter.basics.photo import Photo
from counter.lengths.flatness import Flatness, flatness_of_piece
from counter.lengths.gauge import Drift, Gauge, Length, PieceSize, drift, gauge, piece_size, stitch_width
from counter.lengths.measure import measure
from counter.lengths.scale import NoScale, Scale

__all__ = ["Sizing", "size_up"]


@dataclass(frozen=True)
class Sizing:
    """What lengths say about a piece.

    Parameters
    ----------
    scale : Scale or NoScale
        What lengths in millimetres follow from, or why there are none.
    size : PieceSize or None
    gauge : Gauge or None
        Both None without a scale.
    tension : Drift
        How the height of the rounds changes from the centre to the rim.
    lie : Flatness
        Whether the piece lies flat, cups or ruffles, by its numbers.
    words : tuple of str
        All of it as sentences for a maker.
    """

    scale: Scale | NoScale
    size: PieceSize | None
    gauge: Gauge | None
    tension: Drift
    lie: Flatness
    words: tuple[str, ...]


def size_up(
    photo: Photo,
    count: Count,
    scale: Scale | NoScale,
    *,
    rounds: int | None = None,
    stitch: str = "sc",
    uk: bool = False,
) -> Sizing:
    """Say what lengths in a photo tell about a counted piece.

    Parameters
    ----------
    photo : Photo
        The photo that was counted.
    count : Count
    scale : Scale or NoScale
    rounds : int, optional
        Complete rounds where a person knows them, at least 1; else the counted ones.
    stitch : str, optional
        The main stitch in US terms.
    uk : bool, optional
        Name stitches in UK terms in the words.

    Returns
    -------
    Sizing

    Raises
    ------
    ValueError
        If `rounds` is less than 1, or the scale makes stitches of impossible size.
    """
    measures = measure(photo, count, rounds=rounds)
    size = made = None
    told: list[str] = []
    if isinstance(scale, Scale):
        size = piece_size(count, scale)
        width = stitch_width(count, scale)
        height = None
        if measures.ratio is not None:
            # The piece's own ratio carries the width over to the height.
            tall = width.mm * measures.ratio.value
            height = Length(tall, tall * measures.ratio.error / measures.ratio.value)
        made = gauge(width, height, single=stitch == "sc")
        told += [words.SIZE_IS.format(size=size.words), made.words]
    else:
        told.append(words.together(scale.reason, scale.hint))
    tension = drift([None if own is None else own.value for own in measures.heights], what="rounds")
    lie = flatness_of_piece(count, rounds=rounds, stitch=stitch, uk=uk)
    told += [tension.words, *lie.words]
    return Sizing(scale, size, made, tension, lie, tuple(told))
