"""From what the network predicts along a rim to a calibrated posterior over whole numbers of stitches."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from counter.counting import band
from counter.counting.calibration import Calibration, Signs
from counter.counting.loop.evidence import Evidence, WidthModel
from counter.counting.prediction import RimPrediction
from counter.counting.reading import Reading
from counter.counting.seam import RoundTally, tally_round
from counter.counting.unwrap import length_of

__all__ = ["evidence_of", "signs_of", "tally_of"]

#: Standard deviations of the logarithm of a width: of the mean width round the predicted one, of
#: single stitches round the local width, and of the local width's change from stitch to stitch
#: (guessed; ``python tests/benchmarks/fitted.py FOLDER`` says what photos with truth have).
MEAN_SD_LOG, STITCH_SD_LOG, DRIFT_SD_LOG = 0.1, 0.16, 0.06
#: Numbers of stitches up to this factor from the supposed one are considered: three deviations of the mean width.
NUMBERS_FACTOR = 1.35


def evidence_of(seen: RimPrediction, trust: float) -> tuple[Evidence, WidthModel, int, int]:
    """A prediction as the closed loop takes it.

    Parameters
    ----------
    seen : RimPrediction
    trust : float
        Share of the log-odds that counts, :attr:`counter.counting.calibration.Calibration.trust`.

    Returns
    -------
    evidence : Evidence
        Log-odds against how often a place is a middle, or a gap, at all.
    widths : WidthModel
    n_min, n_max : int
        Fewest and most stitches to consider.
    """
    usual = np.log(band.PLACES - 1)
    evidence = Evidence(
        middle=trust * (seen.middle + usual), gap=trust * (seen.gap + usual), seen=np.ones(len(seen.gap))
    )
    widths = WidthModel(centre=band.PLACES, spread=MEAN_SD_LOG, jitter=STITCH_SD_LOG, drift=DRIFT_SD_LOG)
    return evidence, widths, max(3, int(seen.supposed / NUMBERS_FACTOR)), int(np.ceil(seen.supposed * NUMBERS_FACTOR))


def tally_of(seen: RimPrediction, calibration: Calibration) -> RoundTally:
    """The closed-loop count of a prediction, its probabilities calibrated."""
    evidence, widths, low, high = evidence_of(seen, calibration.trust)
    result = tally_round(evidence, seen.seam, widths, low, high)
    return replace(result, posterior=MappingProxyType(calibration.tempered(result.posterior)))


def signs_of(read: Reading, posterior: Mapping[int, float]) -> Signs:
    """What speaks for the most probable number of a rim.

    Parameters
    ----------
    read : Reading
    posterior : mapping of int to float
        Calibrated.

    Returns
    -------
    Signs
    """
    stitches = max(posterior, key=lambda n: (posterior[n], -n))
    by_width = read.seen.stitches_by_width
    return Signs(
        probability=posterior[stitches],
        one_width=read.one_width,
        in_view=read.seen.in_view,
        seam=float(read.seen.seam.max()),
        off_width=max(by_width, stitches) / min(by_width, stitches),
        pitch_px=length_of(read.laid.outline) / stitches,
    )
