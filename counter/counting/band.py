"""The band of a rim as the network sees it: one geometry for counting and for training.

A band is laid straight along the rim at a supposed stitch width, so that at the
right supposition every stitch is :data:`PIXELS` wide, whatever the photo.
"""

from __future__ import annotations

import numpy as np

__all__ = [
    "ABOVE",
    "BELOW",
    "FAINTEST",
    "MARK_DEPTH",
    "NEARBY",
    "PIXELS",
    "PLACES",
    "ROWS",
    "SCALES",
    "STRIDE",
    "depths",
]

#: Columns and rows of a band for each supposed stitch width.
PIXELS = 16
#: A band reaches from outside the rim to below the last round, in stitch widths.
ABOVE, BELOW = -1.0, 1.5
#: Depth of the middle of the top loops below a true outline, in stitch widths.
MARK_DEPTH = 0.35
#: Rows of a band.
ROWS = round((BELOW - ABOVE) * PIXELS)
#: Columns of a band for each place that the network speaks about.
STRIDE = 2
#: Places for each supposed stitch width.
PLACES = PIXELS // STRIDE
#: The network says how the true width compares with the supposed: log2 of their ratio.
SCALES = np.linspace(-1.2, 1.2, 13)
SCALES.flags.writeable = False
#: Side of the neighbourhood that lightness is held against, in pixels: a stitch.
NEARBY = 15
#: Contrast below this is noise, in shares of full white.
FAINTEST = 0.015


def depths(supposed: float) -> np.ndarray:
    """Depths of the rows of a band, as shares of the way from the rim to the centre.

    Parameters
    ----------
    supposed : float
        Supposed number of stitches on the rim.

    Returns
    -------
    ndarray of shape (ROWS,), float
        Negative outside the rim.
    """
    return (ABOVE + (np.arange(ROWS) + 0.5) / PIXELS) * 2 * np.pi / supposed
