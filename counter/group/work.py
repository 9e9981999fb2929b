"""The photos of a group counted on all cores, or on the machines of a Dask cluster.

joblib hands the photos out and takes the answers in; each worker holds one photo
at a time. The same function counts a photo here and there, and it is the one path
that the command line and the page use.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import stat
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cache, partial
from importlib.metadata import version
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from typing import Any

import cv2
import joblib
import numpy as np
from joblib.externals.loky.process_executor import BrokenProcessPool
from PIL import Image, ImageOps

from counter.basics import words
from counter.basics.answer import Count, Refusal
from counter.basics.memory import give_back_large, tidy
from counter.basics.photo import MOST_BYTES, Photo, read_photo
from counter.basics.processes import end_with
from counter.comparing.questions import questions_of
from counter.counting.piece import Piece
from counter.counting.pieces import find_pieces
from counter.examination import examine
from counter.group.store import Answer, GroupFile, Part
from counter.lengths.gauge import drift
from counter.lengths.measure import measure
from counter.lengths.scale import Scale
from counter.lengths.sizing import size_up
from counter.notebook.codec import scaled
from counter.notebook.limits import PHOTO_SIDE_PX
from counter.notebook.values import Entry, Goal, KeptMark
from counter.showing.overlay import crop_doubt

__all__ = ["Job", "Progress", "Stopped", "count_bytes", "program", "run", "take_stock"]

#: Side of a small picture and of a crop in pixels, and their JPEG quality.
SMALL_SIDE_PX, CROP_SIDE_PX, JPEG_QUALITY = 360, 300, 80
#: Ground beside a piece that is counted by itself, as a share of its radius.
GROUND_RADII = 0.45
#: Times that a photo is tried which a worker process died over, each time by itself.
MOST_TRIES = 2
#: Seconds to wait for a scheduler and its workers.
CLUSTER_TIMEOUT_S = 10
#: When an answer came: it is no part of it, so that the same photo has the same answer.
UNDATED = datetime(2000, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Job:
    """What is to be done.

    Parameters
    ----------
    todo : tuple of (str, str)
        Path below the folder and content of each photo that must be counted.
    contents : mapping of str to str
        Path -> content of every photo that can be read.
    unread : mapping of str to Refusal
        Path -> why the file can't be read at all.
    """

    todo: tuple[tuple[str, str], ...]
    contents: Mapping[str, str]
    unread: Mapping[str, Refusal]


@dataclass(frozen=True)
class Progress:
    """How far it is.

    Parameters
    ----------
    done, of : int
        Photos counted in this run, of how many.
    photo : str
        The one that came last; empty before the first.
    left : float or None
        Seconds that the others will take; None while it can't be told.
    """

    done: int
    of: int
    photo: str = ""
    left: float | None = None


class Stopped(Exception):
    """The cluster or the workers can't go on; the text is one line that says what to do."""


@cache
def program() -> str:
    """What counts a photo: the program's version and those of all weights."""
    cards = sorted(files("counter.counting").joinpath("weights").iterdir(), key=lambda card: card.name)
    digest = hashlib.sha256()
    for card in cards:
        if card.name.endswith(".json"):
            digest.update(card.read_bytes())
    return f"{version('rimtally')} {digest.hexdigest()[:12]}"


# One photo ------------------------------------------------------------------


def count_bytes(source: bytes | str, content: str, *, gauge: bool = False, left_handed: bool = False) -> Answer:
    """Count every piece of one photo.

    Parameters
    ----------
    source : bytes or str
        The file's content, or where it is.
    content : str
        Its SHA-256; a file that is another one by now is counted as that one.
    gauge : bool, optional
        Look for a card, a coin or the mat.
    left_handed : bool, optional

    Returns
    -------
    Answer
        It holds no full photo.
    """
    began = time.perf_counter()
    cv2.setNumThreads(1)  # every core has a photo of its own
    give_back_large()
    try:
        data = source if isinstance(source, bytes) else Path(source).read_bytes()
        content = hashlib.sha256(data).hexdigest()
        parts = _parts(data, gauge, left_handed)
    except OSError as error:
        parts = (Part(Refusal("not a picture", (error.strerror or words.FILE_CLOSED).lower())),)
    except Exception as error:  # one photo that goes wrong must not take the others along
        parts = (Part(Refusal("not a picture", f"{words.BROKEN_ONE}: {type(error).__name__}")),)
    tidy()
    return Answer(content, program(), parts, round(time.perf_counter() - began, 3))


def _parts(data: bytes, gauge: bool, left_handed: bool) -> tuple[Part, ...]:
    photo = read_photo(data)
    if isinstance(photo, Refusal):
        return (Part(photo),)
    answer, scale = _looked(photo, gauge, left_handed)
    if not (isinstance(answer, Refusal) and answer.code == "several pieces"):
        return (_part(photo, answer, scale),)
    found = []
    for number, own in enumerate(find_pieces(photo.working), start=1):
        if not own.piece.cut_off:
            answer, scale = _looked(photo, gauge, left_handed, number)
            if isinstance(answer, Count):
                alone, box = _alone(photo, own.piece)
                found.append((own.centre, replace(_part(alone, _moved(answer, box), scale), box=box)))
    found.sort(key=lambda one: (round(2 * one[0][1] / photo.working.shape[0]), one[0][0]))  # as one reads
    return tuple(part for _, part in found) or (_part(photo, Refusal("several pieces"), None),)


def _moved(count: Count, box: tuple[int, int, int, int]) -> Count:
    """A count with its places told from the corner of a box of the photo."""
    shift = np.array(box[:2], float)

    def place(at: tuple[float, float]) -> tuple[float, float]:
        return at[0] - box[0], at[1] - box[1]

    return replace(
        count,
        marks=count.marks - shift,
        outline=count.outline - shift,
        centre=place(count.centre),
        doubts=tuple(replace(doubt, at=place(doubt.at)) for doubt in count.doubts),
        size=(box[2] - box[0], box[3] - box[1]),
    )


def _looked(photo: Photo, gauge: bool, left_handed: bool, number: int | None = None) -> tuple[Count | Refusal, object]:
    done = examine(photo, lengths=gauge, left_handed=left_handed, number=number)
    return done.answer, done.scale


def _alone(photo: Photo, piece: Piece) -> tuple[Photo, tuple[int, int, int, int]]:
    """The part of a photo that holds one piece, and where it lies."""
    points = piece.outline * photo.shrink
    ground = GROUND_RADII * piece.radius * photo.shrink
    low = np.maximum(np.floor(points.min(axis=0) - ground), 0).astype(int)
    high = np.minimum(np.ceil(points.max(axis=0) + ground), (photo.width, photo.height)).astype(int)
    box = (int(low[0]), int(low[1]), int(high[0]), int(high[1]))
    return Photo(np.ascontiguousarray(photo.pixels[box[1] : box[3], box[0] : box[2]])), box


def _part(photo: Photo, answer: Count | Refusal, scale: object) -> Part:
    picture = Image.fromarray(photo.working)
    if isinstance(answer, Refusal):
        return Part(answer, _jpeg(ImageOps.contain(picture, (SMALL_SIDE_PX, SMALL_SIDE_PX))))
    share = min(1.0, PHOTO_SIDE_PX / max(photo.width, photo.height))
    size = (max(1, round(share * photo.width)), max(1, round(share * photo.height)))
    crops = tuple(
        _jpeg(Image.fromarray(crop_doubt(photo, answer, own.doubt, CROP_SIDE_PX))) for own in questions_of(answer)
    )
    kept = scaled(replace(answer, seconds=0.0), size)
    marks = tuple(KeptMark(float(x), float(y), n) for n, (x, y) in enumerate(kept.marks, start=1))
    key = hashlib.sha256(kept.marks.tobytes()).hexdigest()[:32]
    entry = Entry(key, 1, UNDATED, UNDATED, "", "", kept, marks, False, Goal(), (), False)
    return Part(
        entry, _jpeg(ImageOps.contain(picture, (SMALL_SIDE_PX, SMALL_SIDE_PX))), crops, _sized(photo, answer, scale)
    )


def _sized(photo: Photo, count: Count, scale: object) -> dict[str, object]:
    """Tension and proportion of the stitches, and their gauge where there is a scale."""
    if isinstance(scale, Scale):
        try:
            sizing = size_up(photo, count, scale)
        except ValueError:  # a scale that makes stitches of impossible size
            return _sized(photo, count, None)
        tension, made, gauge = sizing.tension, sizing.gauge, None
        if made is not None:
            stitches, error = made.stitches(100.0)
            gauge = {"stitches_10_cm": round(float(stitches), 2), "error": round(float(error), 2)}
    else:
        tension, gauge = (
            drift([None if own is None else own.value for own in measure(photo, count).heights], what="rounds"),
            None,
        )
    change = None if tension.share is None else round(float(tension.share), 4)
    return {"tension": tension.state, "each_round": change, "gauge": gauge}


def _jpeg(picture: Image.Image) -> bytes:
    file = BytesIO()
    picture.convert("RGB").save(file, "JPEG", quality=JPEG_QUALITY)
    return file.getvalue()


# All of them ----------------------------------------------------------------


def take_stock(folder: Path, photos: Sequence[str], book: GroupFile) -> Job:
    """See what must be counted: what is new, what has changed, and what another program counted.

    Parameters
    ----------
    folder : Path
    photos : sequence of str
        Paths below it.
    book : GroupFile

    Returns
    -------
    Job
    """
    known, contents, unread, seen = book.files(), {}, {}, {}
    for photo in photos:
        try:
            found = os.stat(folder / photo)
            if not stat.S_ISREG(found.st_mode):
                raise OSError(0, words.FILE_NOT_PLAIN)
            if found.st_size > MOST_BYTES:
                raise OSError(0, words.FILE_LARGE.format(n=round(found.st_size / 1e6)))
            size, changed, content = known.get(photo, (-1, -1, ""))
            if (size, changed) != (found.st_size, found.st_mtime_ns):
                with open(folder / photo, "rb") as file:
                    content = hashlib.file_digest(file, "sha256").hexdigest()
            seen[photo] = (found.st_size, found.st_mtime_ns, content)
            contents[photo] = content
        except OSError as error:
            no_text = isinstance(error, FileNotFoundError) and "\N{REPLACEMENT CHARACTER}" in photo
            why = words.FILE_NAME_NO_TEXT if no_text else error.strerror or words.FILE_CLOSED
            unread[photo] = Refusal("not a picture", why.lower())
    if seen != known:
        book.set_files(seen)
    done = book.counted(program())
    todo: dict[str, str] = {}
    for photo, content in contents.items():
        if content not in done:
            todo.setdefault(content, photo)  # the same photo twice is counted once
    return Job(tuple((photo, content) for content, photo in todo.items()), contents, unread)


def run(
    folder: Path,
    job: Job,
    book: GroupFile,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    gauge: bool = False,
    left_handed: bool = False,
    progress: Callable[[Progress], None] = lambda _: None,
) -> None:
    """Count what is to be counted; every answer is kept as soon as it comes.

    Parameters
    ----------
    folder : Path
    job : Job
    book : GroupFile
    workers : int, optional
        Processes; one for each core by default.
    scheduler : str, optional
        Address of the scheduler of a Dask cluster that is there, which then
        counts instead ("tcp://name:8786").
    gauge, left_handed : bool, optional
        As for :func:`count_bytes`.
    progress : callable, optional
        Called before the first photo and after each.

    Raises
    ------
    Stopped
        If the cluster is out of reach.
    GroupError
        If an answer can't be kept; those before are.
    """
    if not job.todo:
        return
    began, done = time.monotonic(), 0
    progress(Progress(0, len(job.todo)))

    def came(photo: str, answer: Answer) -> None:
        nonlocal done
        if answer.program != program():
            raise Stopped(words.GROUP_OTHER_PROGRAM.format(theirs=answer.program, ours=program()))
        book.add(answer)
        done += 1
        rest = (time.monotonic() - began) / done * (len(job.todo) - done) if done > 1 else None
        progress(Progress(done, len(job.todo), photo, rest))

    one = joblib.delayed(partial(_named, gauge=gauge, left_handed=left_handed))
    if scheduler is not None:
        # The other machines may not see the folder: the photos go there, a few at a time.
        tasks = (one(photo, _read(folder / photo), content) for photo, content in job.todo)
        with _cluster(scheduler):
            for photo, answer in joblib.Parallel(return_as="generator_unordered", batch_size=1)(tasks):
                came(photo, answer)
        return
    waiting = dict.fromkeys(job.todo, 0)
    at_once = min(workers or joblib.cpu_count(), len(waiting))
    while waiting:
        # A photo over which a worker died goes by itself next time, so that it is known which one it was.
        batch = [own for own, times in waiting.items() if times][:1] or list(waiting)
        handed: list[tuple[str, str]] = []
        pool = joblib.Parallel(
            # Two at least: a single one would be this very process. No more photos than workers are handed out.
            max(2, at_once),
            backend="loky",
            return_as="generator_unordered",
            batch_size=1,
            pre_dispatch=at_once,
            # A worker ends with this process, also where it never got a photo.
            initializer=end_with,
            initargs=(os.getpid(),),
        )
        try:
            for photo, answer in pool(_handed_out(one, folder, batch, handed)):
                came(photo, answer)
                del waiting[photo, job.contents[photo]]
        except BrokenProcessPool:
            for own in handed:
                if own in waiting:
                    waiting[own] += 1
                    if waiting[own] > MOST_TRIES:
                        came(own[0], Answer(own[1], program(), (Part(Refusal("not a picture", words.BROKEN_ONE)),)))
                        del waiting[own]


def _named(photo: str, source: bytes | str, content: str, **how: bool) -> tuple[str, Answer]:
    """What a worker is asked: the answer with the photo's name."""
    return photo, count_bytes(source, content, **how)


def _handed_out(
    one: Callable[[str, str, str], Any], folder: Path, batch: Sequence[tuple[str, str]], handed: list[tuple[str, str]]
) -> Iterator[Any]:
    for photo, content in batch:
        handed.append((photo, content))
        yield one(photo, str(folder / photo), content)


def _read(path: Path) -> bytes | str:
    """A file's content; where it can't be read any more, its name, over which the worker stumbles alike."""
    try:
        return path.read_bytes()
    except OSError:
        return str(path)


@contextlib.contextmanager
def _cluster(address: str) -> Iterator[None]:
    """What joblib does within goes to a Dask cluster."""
    try:
        from distributed import Client, KilledWorker
        from distributed.comm import get_address_host_port, normalize_address
    except ImportError:
        raise Stopped(words.GROUP_NO_DASK) from None
    try:
        # A client that stumbles over its address goes on trying to close itself.
        get_address_host_port(normalize_address(address))
        client = Client(address, timeout=CLUSTER_TIMEOUT_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError, ImportError):
        raise Stopped(words.GROUP_NO_SCHEDULER.format(address=address)) from None
    try:
        with joblib.parallel_config(backend="dask", client=client, wait_for_workers_timeout=CLUSTER_TIMEOUT_S):
            yield
    except KilledWorker:
        raise Stopped(words.GROUP_KILLED) from None
    except TimeoutError:
        raise Stopped(words.GROUP_NO_WORKERS.format(address=address)) from None
    except (OSError, CancelledError):
        raise Stopped(words.GROUP_LOST.format(address=address)) from None
    finally:
        client.close()
