"""Functions for scripts and notebooks that take a picture in whatever form it is at hand.

``import counter`` offers them beside the rooms' own functions.
"""

from __future__ import annotations

from importlib.metadata import version

import numpy as np

from counter.basics.answer import Count, Refusal
from counter.basics.photo import Photo, Picture, read_photo
from counter.comparing.verdict import Verdict
from counter.examination import examine
from counter.lengths import scale as lengths
from counter.lengths.scale import NoScale, Scale
from counter.showing.overlay import draw_marks

__all__ = ["__version__", "count", "find_scale", "render_marks"]

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
