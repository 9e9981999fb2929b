"""Counts made for tests, without pytest: other processes make them, too."""

import numpy as np

from counter.basics import words
from counter.basics.answer import Count, Doubt


def make_count(
    posterior,
    *,
    sure=True,
    doubts=(),
    size=(640, 640),
    centre=None,
    radius=None,
    in_progress=None,
    rounds=4,
    paired=(),
    start_seen=True,
    marks=None,
):
    """A count whose every number is chosen by the test; its marks are spread evenly round a circle unless given."""
    best = max(posterior, key=posterior.get)
    centre = centre or (size[0] / 2, size[1] / 2)
    radius = radius or 0.3125 * min(size)
    # Counter-clockwise from a little after twelve o'clock, as right-handed work runs.
    turn = -(np.arange(best) + 0.5) / best * 2 * np.pi
    own = centre + radius * np.column_stack([np.sin(turn), -np.cos(turn)])
    # `paired` are the numbers, from 1, of marks that share a base with a neighbour.
    chance = np.full(best, 0.02)
    chance[np.array(paired, int) - 1] = 0.95
    round_trip = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    outline = centre + 1.06 * radius * np.column_stack([np.sin(round_trip), -np.cos(round_trip)])
    return Count(
        posterior=posterior,
        sure=sure,
        likely=(best,) if sure else tuple(sorted(posterior, key=posterior.get, reverse=True)),
        marks=own if marks is None else np.array(marks, float),
        doubts=tuple(Doubt(*d) for d in doubts),
        centre=(float(centre[0]), float(centre[1])),
        outline=outline,
        shared=chance[np.floor(-round_trip / (2 * np.pi) * best).astype(int) % best],
        start_seen=start_seen,
        rounds=rounds,
        in_progress=in_progress,
        reason="" if sure else words.READ_IN_MORE_WAYS,
        size=size,
        seconds=0.1,
    )
