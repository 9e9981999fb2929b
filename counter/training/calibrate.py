"""What is fitted once the networks are trained: trust, temperature, and what a sure count asks.

Photos with truth are set apart in three: one part fits trust and temperature and
chooses the lesser signs of a sure count, one sets the probability that it asks for
(the conformal part, which fits nothing else), and one that sets nothing says what
came of it. What the networks see in a photo is kept, so that they look only once.
"""

from __future__ import annotations

import hashlib
import json
import pickle
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from functools import partial
from importlib import resources
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize_scalar

from counter.basics.answer import Refusal
from counter.basics.files import write_whole
from counter.basics.threads import one_thread_for_algebra
from counter.counting import count as counting
from counter.counting.calibration import NAME, Calibration, shipped
from counter.evaluation.limits import CONFIDENCE, RISK, Case, case_of, figures, limit_of, promised, with_signs
from counter.evaluation.truth import Truth, read_folder

__all__ = ["PARTS", "Seen", "calibrate", "fitted", "fitted_temperature", "parted", "see", "weights_of"]

#: Share of the photos that fits, that sets the limit, and that judges.
PARTS = {"fit": 0.4, "limit": 0.3, "judge": 0.3}
#: Values of the trust that are tried, on so many photos of the part that fits at most: the likelihood is flat
#: round its best.
TRUSTS, TRIED_ON = (0.4, 0.5, 0.65, 0.8, 1.0, 1.25), 80
#: Range of the temperature.
TEMPERATURES = (0.25, 8.0)
#: A number that was not considered at all counts as this probable.
LEAST = 1e-6


@dataclass(frozen=True, eq=False)
class Seen:
    """A photo with truth, and what the networks saw in it.

    Parameters
    ----------
    photo, look : str
    true : int or None
        None where there is no piece.
    reading : Reading or None
        None where it was refused.
    """

    photo: str
    look: str
    true: int | None
    reading: counting.Reading | None


def weights_of() -> dict[str, str]:
    """SHA-256 of each network's file."""
    folder = resources.files("counter.counting") / "weights"
    files = sorted((file for file in folder.iterdir() if file.name.endswith(".onnx")), key=lambda file: file.name)
    return {file.name.removesuffix(".onnx"): hashlib.sha256(file.read_bytes()).hexdigest() for file in files}


def _fingerprint() -> str:
    """Changes with whatever may change what is seen: the networks and the code that looks."""
    room = resources.files("counter.counting")
    code = sorted((file for file in room.iterdir() if file.name.endswith(".py")), key=lambda file: file.name)
    whole = hashlib.sha256(json.dumps(weights_of()).encode())
    for file in code:
        whole.update(file.read_bytes())
    return whole.hexdigest()


@one_thread_for_algebra()
def _reading(photo: Path, kept: Path | None, fingerprint: str) -> counting.Reading | None:
    """What the networks see in a photo, from where it is kept or by a look."""
    data = photo.read_bytes()
    file = kept and kept / f"{hashlib.sha256(fingerprint.encode() + data).hexdigest()}.pickle"
    if file and file.exists():
        return pickle.loads(file.read_bytes())  # our own, named by what it holds
    read = counting.read_rim(data)
    # Neither pixels nor the piece laid straight are needed again.
    bare: Any = {"photo": None, "body": None}
    reading = None if isinstance(read, Refusal) else replace(read, **bare)
    if file:
        write_whole(file, pickle.dumps(reading))
    return reading


def _mapped(work: Callable, items: Sequence, workers: int) -> Iterator:
    """Results in order, in so many processes."""
    if workers <= 1:
        yield from map(work, items)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        yield from pool.map(work, items, chunksize=4)


def see(
    folders: Sequence[Path],
    kept: Path | None = None,
    workers: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> list[Seen]:
    """Look at every photo of some folders.

    Parameters
    ----------
    folders : sequence of Path
        With photos and truth files. What a truth file does not say of its look, its folder's name does.
    kept : Path, optional
        Folder in which what was seen is kept, made where it does not exist.
    workers : int, optional
        Processes.
    progress : callable, optional
        Called with how many are done, and of how many.

    Returns
    -------
    list of Seen

    Raises
    ------
    ValueError
        As :func:`counter.evaluation.truth.read_folder`.
    """
    if kept:
        kept.mkdir(parents=True, exist_ok=True)
    pairs: list[tuple[Path, Truth]] = [pair for folder in folders for pair in read_folder(folder)[0]]
    seen = []
    look = partial(_reading, kept=kept, fingerprint=_fingerprint())
    for (photo, truth), reading in zip(pairs, _mapped(look, [p for p, _ in pairs], workers), strict=True):
        seen.append(Seen(photo.name, truth.look or photo.resolve().parent.name, truth.stitches, reading))
        if progress:
            progress(len(seen), len(pairs))
    return seen


def parted(seen: Sequence[Seen], seed: int) -> dict[str, list[Seen]]:
    """Set photos apart in three, each look by itself, the same for the same seed and names.

    Parameters
    ----------
    seen : sequence of Seen
    seed : int

    Returns
    -------
    dict of str to list of Seen
        By the names of :data:`PARTS`.
    """
    parts: dict[str, list[Seen]] = {name: [] for name in PARTS}
    for look in sorted({one.look for one in seen}):
        own = [one for one in seen if one.look == look]
        own.sort(key=lambda one: hashlib.sha256(f"{seed} {one.photo}".encode()).digest())
        ends = np.round(np.cumsum(list(PARTS.values())) * len(own)).astype(int)
        for name, group in zip(PARTS, np.split(np.arange(len(own)), ends[:-1]), strict=True):
            parts[name] += [own[k] for k in group]
    return parts


@one_thread_for_algebra()
def _posterior(reading: counting.Reading | None, trust: float) -> Mapping[int, float] | None:
    """The closed loop's own probabilities."""
    if reading is None:
        return None
    return dict(counting.tally_of(reading.seen, replace(shipped(), trust=trust, temperature=1.0)).posterior)


def fitted_temperature(posteriors: Sequence[Mapping[int, float]], true: Sequence[int]) -> tuple[float, float]:
    """The temperature that makes the true numbers most probable.

    Parameters
    ----------
    posteriors : sequence of mapping of int to float
    true : sequence of int

    Returns
    -------
    temperature : float
    loss : float
        Mean of minus the logarithm of the true number's probability, in nats.
    """

    def loss(log_temperature: float) -> float:
        heat = replace(shipped(), temperature=float(np.exp(log_temperature)))
        told = [heat.tempered(own).get(number, 0.0) for own, number in zip(posteriors, true, strict=True)]
        return float(-np.log(np.maximum(told, LEAST)).mean())

    found = minimize_scalar(loss, bounds=tuple(np.log(TEMPERATURES)), method="bounded", options={"xatol": 1e-3})
    return round(float(np.exp(found.x)), 3), float(found.fun)


def _temperature_at(trust: float, known: Sequence[Seen], workers: int) -> tuple[float, float]:
    """The best temperature with a trust, and its loss."""
    own = list(_mapped(partial(_posterior, trust=trust), [one.reading for one in known], workers))
    return fitted_temperature(own, [one.true for one in known if one.true is not None])


def _cases(seen: Sequence[Seen], calibration: Calibration, workers: int) -> list[Case]:
    """How the photos are counted with a calibration."""
    posterior = partial(_posterior, trust=calibration.trust)
    told = _mapped(posterior, [one.reading for one in seen], workers)
    return [
        case_of(one.photo, one.look, one.true, one.reading, None if own is None else calibration.tempered(own))
        for one, own in zip(seen, told, strict=True)
    ]


def fitted(seen: Sequence[Seen], seed: int = 1, risk: float = RISK, workers: int = 1) -> dict:
    """Fit whatever is left to fit, and say what came of it.

    Parameters
    ----------
    seen : sequence of Seen
    seed : int, optional
        Of the parts.
    risk : float, optional
        Sure and wrong, as a share of all photos, that the limit is set for.
    workers : int, optional
        Processes.

    Returns
    -------
    dict
        What ``calibration.json`` holds.

    Raises
    ------
    ValueError
        If no photo of the part that fits shows a piece that was read.
    """
    parts = parted(seen, seed)
    known = [one for one in parts["fit"] if one.true is not None and one.reading is not None]
    if not known:
        raise ValueError("too few photos: none of those that fit shows a piece that was read")
    # Spread over all looks, which stand one behind the other.
    some = [known[k] for k in np.unique(np.linspace(0, len(known) - 1, min(len(known), TRIED_ON)).astype(int))]
    tried = {trust: _temperature_at(trust, some, workers) for trust in TRUSTS}
    trust = min(tried, key=lambda value: tried[value][1])
    calibration = replace(shipped(), trust=trust, temperature=_temperature_at(trust, known, workers)[0])
    counted = {name: _cases(part, calibration, workers) for name, part in parts.items()}
    calibration = with_signs(counted["fit"], calibration, risk)
    limit = limit_of(counted["limit"], calibration, risk)
    calibration = replace(calibration, sure=max(limit, calibration.sure))
    return {
        "values": asdict(calibration),
        "weights": weights_of(),
        "how": (
            "python -m counter.training calibrate: trust, temperature and the lesser signs are fitted on 'fit', the"
            " probability that a sure count asks for is set on 'limit' (conformal risk control, each look by itself,"
            " the highest of them, and no lower than 'fit' would set it); 'judge' set nothing."
            f" Bounds: Clopper-Pearson, one-sided, {CONFIDENCE:.0%}."
        ),
        "seed": seed,
        "risk": risk,
        "trusts tried": {
            str(value): {"temperature": heat, "loss": round(loss, 4)} for value, (heat, loss) in tried.items()
        },
        "promised": promised(counted["limit"], calibration),
        "figures": {name: figures(cases, calibration) for name, cases in counted.items()},
    }


def calibrate(
    folders: Sequence[Path],
    out: Path | None = None,
    *,
    seed: int = 1,
    risk: float = RISK,
    kept: Path | None = None,
    workers: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> dict:
    """Fit on folders of photos with truth and write the file.

    Parameters
    ----------
    folders : sequence of Path
    out : Path, optional
        By default beside the weights.
    seed, risk, kept, workers, progress
        As for :func:`see` and :func:`fitted`.

    Returns
    -------
    dict
        What was written.
    """
    data = fitted(see(folders, kept, workers, progress), seed, risk, workers)
    file = out or Path(str(resources.files("counter.counting"))) / "weights" / NAME
    write_whole(file, (json.dumps(data, indent=1) + "\n").encode())
    return data
