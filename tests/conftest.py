import numpy as np
import pytest

from counter.answer import Count, Doubt


@pytest.fixture
def make_count():
    """Factory of counts whose every number is chosen by the test."""

    def make(posterior, *, sure=True, doubts=(), size=(640, 640)):
        best = max(posterior, key=posterior.get)
        turn = -np.arange(best) / best * 2 * np.pi
        marks = 320 + 200 * np.column_stack([np.sin(turn), -np.cos(turn)])
        return Count(
            posterior=posterior,
            sure=sure,
            likely=(best,) if sure else tuple(sorted(posterior, key=posterior.get, reverse=True)),
            marks=marks,
            doubts=tuple(Doubt(*d) for d in doubts),
            centre=(320.0, 320.0),
            outline=marks.copy(),
            rounds=4,
            in_progress=None,
            reason="" if sure else "It can be read in more than one way.",
            size=size,
            seconds=0.1,
        )

    return make
