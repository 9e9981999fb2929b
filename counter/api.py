"""Functions for scripts and notebooks that take a picture in whatever form it is at hand.

``import counter`` offers them beside the rooms' own functions.
"""

from __future__ import annotations

from importlib.metadata import version

import numpy as np

from counter.basics.answer import Count, Refusal
from counter.basics.photo import Photo, Picture, read_photo
from counter.comparing.check import Check
from counter.comparing.verdict import Verdict
from counter.examination import examine
from counter.lengths import scale as lengths
from counter.lengths.scale import NoScale, Scale
from counter.showing.overlay import draw_marks
from counter.showing.sentences import advice_words, round_words, verdict_words

__all__ = ["__version__", "count", "find_scale", "render_marks", "sentences"]

__version__ = version("rimtally")


def count(picture: Photo | Picture, *, left_handed: bool = False) -> Count | Refusal:
    """Count the stitches around the rim of the round in a photo.

    Parameters
    ----------
    picture : Photo, path, bytes, file object or ndarray of shape (H, W, 3), uint8
        As for :func:`counter.read_photo`. On the printed mat, its white middle is counted.
    left_handed : bool, optional
        Number the marks clockwise instead of counter-clockwise.

    Returns
    -------
    Count or Refusal
        A refusal where there is nothing to count, with the reason and what to do.

    Raises
    ------
    TypeError
        If the picture is nothing of that.

    Examples
    --------
    >>> import counter
    >>> answer = counter.count("sample_images/blue-disc.jpg")
    >>> answer.stitches, answer.state, answer.marks.shape
    (24, 'sure', (24, 2))
    >>> counter.count("sample_images/plate.jpg").code
    'no piece'
    """
    return examine(picture, left_handed=left_handed).answer


def find_scale(
    picture: Photo | Picture, count: Count | None = None, *, coin: str | None = None
) -> Scale | NoScale | Refusal:
    """Look for something of known size in a photo: the printed mat, a bank card, a euro coin.

    Parameters
    ----------
    picture : Photo, path, bytes, file object or ndarray of shape (H, W, 3), uint8
        As for :func:`counter.read_photo`.
    count : Count, optional
        What was counted in it; without it no coin is looked for.
    coin : str, optional
        Which coin lies there, a key of :data:`counter.lengths.scale.COINS`.

    Returns
    -------
    Scale, NoScale or Refusal
        A refusal where the picture can't be read.

    Raises
    ------
    TypeError
        If the picture is nothing of that.
    ValueError
        If there is no such coin.

    Examples
    --------
    >>> import counter
    >>> counter.find_scale("sample_images/blue-disc.jpg").code
    'nothing'
    """
    photo = picture if isinstance(picture, Photo) else read_photo(picture)
    return photo if isinstance(photo, Refusal) else lengths.find_scale(photo, count, coin=coin)


def render_marks(picture: Photo | Picture, count: Count, verdict: Verdict | None = None) -> np.ndarray:
    """Draw the numbered marks of a count on its photo.

    Parameters
    ----------
    picture : Photo, path, bytes, file object or ndarray of shape (H, W, 3), uint8
        The photo that was counted, as for :func:`counter.read_photo`.
    count : Count
        Its count.
    verdict : Verdict, optional
        The comparison with what the round should hold.

    Returns
    -------
    ndarray of shape (H, W, 3), uint8
        sRGB, with a long side of 1100 to 1600 pixels and the numbers beside it.

    Raises
    ------
    TypeError
        If the picture is nothing of that.
    ValueError
        If the picture can't be read, or is not the one that was counted.

    Examples
    --------
    >>> import counter
    >>> answer = counter.count("sample_images/blue-disc.jpg")
    >>> counter.render_marks("sample_images/blue-disc.jpg", answer).shape[2]
    3
    """
    photo = picture if isinstance(picture, Photo) else read_photo(picture)
    if isinstance(photo, Refusal):
        raise ValueError(photo.reason)
    if (photo.width, photo.height) != tuple(count.size):
        raise ValueError(
            f"the count is of a photo of {count.size[0]} x {count.size[1]} pixels, "
            f"this one has {photo.width} x {photo.height}"
        )
    return draw_marks(photo, count, verdict)


def sentences(check: Check) -> tuple[str, ...]:
    """Say what a comparison found, and what to do next: its values carry codes and numbers.

    Parameters
    ----------
    check : Check
        As of :func:`counter.check`.

    Returns
    -------
    tuple of str
        Which round it may be, whether it agrees, what to do; each sentence once, empty where nothing was compared.

    Examples
    --------
    >>> import counter
    >>> plan = counter.read_plan("start 6, add 6")
    >>> answer = counter.count("sample_images/blue-disc.jpg")
    >>> counter.sentences(counter.check(answer, plan=plan, round_number=4))
    ('24 stitches, as expected.', 'Go on with the next round: 30 stitches')
    """
    verdict = check.verdict
    said = (verdict_words(verdict), *advice_words(verdict.advice)) if verdict else ()
    return tuple(dict.fromkeys((*round_words(check), *said)))
