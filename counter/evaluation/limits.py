"""From which signs on a count may be called sure, set on photos with truth, and what that promises."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import stats

from counter.counting.calibration import Calibration, Signs
from counter.counting.posterior import signs_of
from counter.counting.reading import Reading

__all__ = [
    "CONFIDENCE",
    "NEVER",
    "RISK",
    "Case",
    "allowed",
    "figures",
    "limit_of",
    "promised",
    "upper_bound",
    "with_signs",
]

#: Counts that are sure and wrong, as a share of all photos, that the limit is set for.
RISK = 0.01
#: Confidence of the bounds that are told.
CONFIDENCE = 0.95
#: A limit that no probability reaches, and the least that is ever set: nobody would call less sure, however few
#: were wrong.
NEVER, LEAST = 1.001, 0.7
#: The limit stands on whole thousandths above the wrong counts that it keeps out.
STEP = 1000
#: Values that are tried for the other signs, strictest first, and how many more counts must be sure for a change
#: of them: chosen for the most alone, they held worse on photos that set nothing (60 draws of one set).
IN_VIEW, SEAM, OFF_WIDTH = (0.9, 0.8, 0.7), (0.5, 0.3, 0.2, 0.1, 0.0), (1.03, 1.06, 1.1, 1.2)
PITCH_PX = (14.0, 12.0, 10.0, 0.0)
WORTH = 0.2


@dataclass(frozen=True)
class Case:
    """One photo with truth, counted.

    Parameters
    ----------
    photo, look : str
        What it is called, and what kind of photos it is one of.
    right : bool
        The most probable number is the true one; a number for a photo without a piece is wrong.
    signs : Signs or None
        What speaks for the number; None where the photo was refused.
    """

    photo: str
    look: str
    right: bool
    signs: Signs | None


def case_of(
    photo: str, look: str, true: int | None, reading: Reading | None, posterior: Mapping[int, float] | None
) -> Case:
    """A photo as it was counted.

    Parameters
    ----------
    photo, look : str
    true : int or None
        None where there is no piece.
    reading : Reading or None
        None where it was refused.
    posterior : mapping of int to float or None
        Calibrated; None where it was refused.

    Returns
    -------
    Case
    """
    if reading is None or posterior is None:
        return Case(photo, look, False, None)
    best = max(posterior, key=lambda n: (posterior[n], -n))
    return Case(photo, look, best == true, signs_of(reading, posterior))


def upper_bound(wrong: int, of: int, confidence: float = CONFIDENCE) -> float:
    """Largest share that is not ruled out by having found so many.

    Parameters
    ----------
    wrong, of : int
        How many were wrong, of how many.
    confidence : float, optional
        0 to 1.

    Returns
    -------
    float
        One-sided bound of C. J. Clopper and E. S. Pearson, "The use of confidence or fiducial limits
        illustrated in the case of the binomial", Biometrika 26(4), 1934; 1 where there were none to look at.
        Zero wrong of 99 says no more than 3% at 95%.
    """
    return 1.0 if wrong >= of else float(stats.beta.ppf(confidence, wrong + 1, of - wrong))


def allowed(photos: int, risk: float = RISK) -> int:
    """How many of some photos may be sure and wrong for the next one to be so with a chance of at most `risk`.

    Conformal risk control: (wrong + 1) / (photos + 1) must not exceed the risk (A. N. Angelopoulos and others,
    "Conformal risk control", ICLR 2024; the formula is from memory). Where the photos are too few to promise
    that, none may be.

    Parameters
    ----------
    photos : int
    risk : float, optional
        0 to 1.

    Returns
    -------
    int
    """
    return max(0, int(np.floor(risk * (photos + 1) + 1e-9)) - 1)


def limit_of(cases: Sequence[Case], calibration: Calibration, risk: float = RISK) -> float:
    """Least probability of a sure count with which no look has more wrong ones than it may.

    Parameters
    ----------
    cases : sequence of Case
        That set nothing else.
    calibration : Calibration
        What else a sure count asks.
    risk : float, optional
        As for :func:`allowed`.

    Returns
    -------
    float
        The highest that any look asks for, so that it may hold on one that is not among them;
        at least :data:`LEAST`, and :data:`NEVER` where there are no cases.
    """
    if not cases:
        return NEVER
    limit = LEAST
    for look in {case.look for case in cases}:
        own = [case for case in cases if case.look == look]
        open_to_all = replace(calibration, sure=0.0)
        wrong = sorted(
            (
                case.signs.probability
                for case in own
                if case.signs and not case.right and open_to_all.allows(case.signs)
            ),
            reverse=True,
        )
        most = allowed(len(own), risk)
        if len(wrong) > most:
            limit = max(limit, (np.floor(wrong[most] * STEP) + 1) / STEP)
    return float(min(limit, NEVER))


def promised(cases: Sequence[Case], calibration: Calibration) -> dict[str, float]:
    """Chance, at most, that the next photo of each look is sure and wrong.

    Parameters
    ----------
    cases : sequence of Case
        The conformal part, by which the limit was set.
    calibration : Calibration

    Returns
    -------
    dict of str to float
        (wrong + 1) / (photos + 1), see :func:`allowed`; it holds on the mean over parts that might have been drawn.
    """
    told = {}
    for look in sorted({case.look for case in cases}):
        own = [case for case in cases if case.look == look]
        wrong = sum(case.signs is not None and not case.right and calibration.allows(case.signs) for case in own)
        told[look] = round((wrong + 1) / (len(own) + 1), 4)
    return told


def with_signs(cases: Sequence[Case], calibration: Calibration, risk: float = RISK) -> Calibration:
    """Choose what a sure count asks besides its probability, so that most are sure.

    Parameters
    ----------
    cases : sequence of Case
    calibration : Calibration
    risk : float, optional
        As for :func:`allowed`.

    Returns
    -------
    Calibration
        With limits of all signs, the probability's as :func:`limit_of` sets it on these cases. Those of the
        other signs stay where no choice makes :data:`WORTH` more counts sure; of choices that are as good, the
        strictest is taken.
    """

    def sure_with(asked: Calibration) -> int:
        return sum(case.right and case.signs is not None and asked.allows(case.signs) for case in cases)

    best = replace(calibration, sure=limit_of(cases, calibration, risk))
    most = int(sure_with(best) * (1 + WORTH))
    for in_view, seam, off_width, pitch in itertools.product(IN_VIEW, SEAM, OFF_WIDTH, PITCH_PX):
        asked = replace(calibration, in_view=in_view, seam=seam, off_width=off_width, pitch_px=pitch)
        asked = replace(asked, sure=limit_of(cases, asked, risk))
        sure = sure_with(asked)
        if sure > most:
            best, most = asked, sure
    return best


def figures(cases: Sequence[Case], calibration: Calibration) -> dict[str, dict[str, Any]]:
    """What a calibration comes to on some photos.

    Parameters
    ----------
    cases : sequence of Case
    calibration : Calibration

    Returns
    -------
    dict of str to dict
        "all" and each look -> "photos", "counted right" and "sure" (how many), "wrong while sure" (how many), and
        "at most wrong of sure" (the bound of :func:`upper_bound`).
    """
    looks = sorted({case.look for case in cases})
    told = {}
    for name in ["all", *looks]:
        own = [case for case in cases if name in ("all", case.look)]
        sure = [case for case in own if case.signs is not None and calibration.allows(case.signs)]
        wrong = sum(not case.right for case in sure)
        told[name] = {
            "photos": len(own),
            "counted right": sum(case.right for case in own),
            "sure": len(sure),
            "wrong while sure": wrong,
            "at most wrong of sure": round(upper_bound(wrong, len(sure)), 4),
        }
    return told
