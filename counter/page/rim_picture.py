"""The photo with numbered marks that can be added, moved and removed, led by the questions about it.

What is seen and touched is rim_picture.js, with the rim laid straight
(rim_strip.js) under the photo; this end says what to show and makes the edits
that come back. Each edit carries a serial number and is sent until it is known
to have arrived, so that quick taps are neither lost nor made twice. The
pictures, which no edit changes, are a component of their own (rim_pictures.js):
what is the same as before, Streamlit doesn't send again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from pathlib import Path

import cv2
import numpy as np
import streamlit as st

from counter.basics import words
from counter.basics.answer import Count, Doubt, clock_position, doubt_letter
from counter.basics.photo import Photo
from counter.comparing.questions import lettered
from counter.comparing.slips import Slip
from counter.page.edits import Edits
from counter.page.rim_strip import RimStrip, lay_rim_straight
from counter.page.session import session
from counter.page.show import data_address
from counter.showing.overlay import SLIP_SIGNS, crop_doubt
from counter.showing.sentences import answers_words, clock_words, question_words

__all__ = ["begin_strip", "beside", "browser_picture", "made_of", "requested", "rim_picture", "shown_size"]

#: Long side of the picture that travels to the browser, in pixels.
PICTURE_SIDE_PX = 1600
#: Side of an enlarged place in doubt, in pixels.
CROP_SIDE_PX = 320
HERE = Path(__file__).parent

#: Makes pictures while something else is done.
beside = ThreadPoolExecutor(2, "pictures").submit

_mount_pictures = st.components.v2.component(
    "rim_pictures",
    html="<i hidden></i>",
    js=(HERE / "rim_pictures.js").read_text(encoding="utf-8"),
)
_mount = st.components.v2.component(
    "rim_picture",
    html='<div class="rim"></div>',
    css=(HERE / "rim_picture.css").read_text(encoding="utf-8"),
    # One text: a component's script can't import another.
    js="\n".join((HERE / name).read_text(encoding="utf-8") for name in ("rim_strip.js", "rim_picture.js")),
)


def browser_picture(pixels: np.ndarray) -> str:
    """Reduce a photo for the browser.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.

    Returns
    -------
    str
        A JPEG of at most :data:`PICTURE_SIDE_PX` pixels a side, without metadata,
        as a data address.
    """
    size = shown_size(pixels.shape[1::-1])
    if size != pixels.shape[1::-1]:
        pixels = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    return data_address(pixels)


def shown_size(size: tuple[int, int]) -> tuple[int, int]:
    """(Width, height) of the picture for the browser of a photo of that width and height."""
    share = min(1.0, PICTURE_SIDE_PX / max(size))
    return max(1, round(share * size[0])), max(1, round(share * size[1]))


def made_of(message: object, seen: int) -> int | None:
    """Name of the mark that the browser says is the last stitch made, where it says so anew; else None."""
    if not isinstance(message, Sequence) or isinstance(message, str):
        return None
    said = [edit for edit in message if isinstance(edit, Mapping) and edit.get("do") == "made"]
    new = [edit.get("name") for edit in said if isinstance(edit.get("serial"), int) and edit["serial"] > seen]
    return new[-1] if new and isinstance(new[-1], int) and not isinstance(new[-1], bool) else None


def requested(edits: Edits, seen: int, message: object, size: tuple[int, int]) -> tuple[Edits, int]:
    """Make those edits of the browser's message that were not made before.

    Parameters
    ----------
    edits : Edits
        Marks as they stand.
    seen : int
        Serial number of the last edit that was made.
    message : object
        From the browser: a sequence of edits, each with its "serial".
    size : tuple of int
        (width, height) of the upright photo.

    Returns
    -------
    edits : Edits
    seen : int
    """
    if not isinstance(message, Sequence) or isinstance(message, str):
        return edits, seen
    for edit in message:
        if isinstance(edit, Mapping) and edit.get("serial") == seen + 1:
            edits, seen = edits.apply(edit, size), seen + 1
    return edits, seen


def rim_picture(
    name: str,
    picture: str,
    photo: Photo,
    count: Count,
    edits: Edits,
    slips: Sequence[Slip],
    seen: int,
    made: int | None,
    on_edits: Callable[[object], None],
) -> None:
    """Show the photo with its marks and its places in doubt.

    Parameters
    ----------
    name : str
        Changes with the photo.
    picture : str
        From :func:`browser_picture`.
    photo : Photo
        The photo.
    count : Count
        The count that is shown, the photo's own or a person's.
    edits : Edits
        Its marks as they stand.
    slips : sequence of Slip
        Where the round most likely left its plan.
    seen : int
        Serial number of the last edit that was made.
    made : int or None
        How many marks from the first on are stitches of a round that is under
        way, the others those of the round below; None where it is finished.
    on_edits : callable
        Called with the browser's message, see :func:`requested`.
    """
    total = len(edits.marks)
    # Most reruns change no mark: what was enlarged for the last one is kept.
    shown = (name, count.marks.tobytes())
    crops: dict[tuple[float, float], str] = {}
    if st.session_state.get("crops", (None,))[0] == shown:
        crops = st.session_state.crops[1]
    st.session_state.crops = (shown, crops)

    def crop(doubt: Doubt) -> str:
        if doubt.at not in crops:
            crops[doubt.at] = browser_picture(crop_doubt(photo, count, doubt, CROP_SIDE_PX))
        return crops[doubt.at]

    def clock(x: float, y: float) -> str:
        return clock_position((x, y), count.centre)

    marks = [
        {
            "name": mark.name,
            "x": mark.x,
            "y": mark.y,
            "added": mark.added,
            "label": words.MARK.format(n=number, total=total, clock=clock(mark.x, mark.y)),
        }
        for number, mark in enumerate(edits.marks, start=1)
    ]
    doubts = [
        {"x": doubt.at[0], "y": doubt.at[1], "letter": letter}
        for doubt, letter in lettered(count.doubts, edits.questions)
    ]
    asks = [
        {
            "x": question.doubt.at[0],
            "y": question.doubt.at[1],
            "letter": doubt_letter(k),
            "ask": question_words(question),
            "why": words.ASK_WHY.format(
                clock=clock(*question.doubt.at), why=words.WHY_ASKED.get(question.doubt.kind, words.WHY_ASKED[""])
            ),
            "crop": crop(question.doubt),
            "answers": [
                {"words": said, "change": change, "chosen": edits.answers.get(k) == change}
                for said, change in answers_words(question)
            ],
        }
        for k, question in enumerate(edits.questions)
    ]
    signs = [
        {
            "x": slip.at[0],
            "y": slip.at[1],
            "sign": SLIP_SIGNS[slip.what].replace("-", "\u2212"),
            "title": words.SLIP.format(
                marks=words.all_of(map(str, sorted(set(slip.marks)))), clock=clock_words(slip.hour)
            ),
            "why": words.SENTENCE.format(text=words.DONE[slip.what]),
            "crop": crop(Doubt(slip.marks[0], slip.at, "")),
        }
        for slip in slips
    ]
    with st.container(key="pictures"):
        strip = asdict(_strip(name, photo, count))
        _mount_pictures(key="pictures-sent", data={"name": name, "picture": picture, "strip": strip})
    key = f"rim-{name}"
    _mount(
        key=key,
        data={
            "name": name,
            "width": photo.width,
            "height": photo.height,
            "centre": list(count.centre),
            "marks": marks,
            "doubts": doubts,
            "asks": asks,
            "slips": signs,
            "seen": seen,
            "made": made,
            "byHand": edits.around is not None,
            "can": {"undo": bool(edits.before), "redo": bool(edits.after), "restart": edits.corrected},
            "words": {
                "picture": words.PICTURE.format(n=total),
                "undo": words.UNDO,
                "redo": words.REDO,
                "restart": words.RESTART,
                "closer": words.ZOOM_IN,
                "further": words.ZOOM_OUT,
                "whole": words.WHOLE,
                "hint": words.HINT if edits.around is None else words.BY_HAND_HINT,
                "strip": words.STRIP,
                "alongStrip": words.STRIP_HINT,
                "keys": words.KEYS,
                "doubts": words.DOUBTS,
                "slips": words.SLIPS,
                "open": words.DOUBT_OPEN,
                "stitch": words.STITCH_HERE,
                "between": words.BETWEEN_HERE,
                "remove": words.REMOVE_HERE,
                "more": words.MORE_HERE,
                "back": words.STITCH_BEFORE,
                "forth": words.STITCH_AFTER,
                "off": words.LOUPE_OFF,
                "starts": words.STARTS_HERE,
                "made": words.MADE_TO_HERE,
            },
        },
        on_edits_change=lambda: on_edits(st.session_state[key].edits),
    )


def begin_strip(name: str, photo: Photo, count: Count) -> None:
    """Begin to lay the rim straight, for :func:`rim_picture` to show.

    Parameters
    ----------
    name, photo, count
        As there.
    """
    st.session_state.strip = (name, beside(lay_rim_straight, photo, count))


def _strip(name: str, photo: Photo, count: Count) -> RimStrip:
    """The rim laid straight, made once for each photo: edits change neither the outline nor the centre."""
    state = session()
    if state.get("strip", (None,))[0] != name:
        begin_strip(name, photo, count)
    return state.strip[1].result()
