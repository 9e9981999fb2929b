"""The marked picture: every stitch with its number, places in doubt boxed and lettered.

Every sign is told apart by its shape, not by its colour alone, and carries both
a light and a dark line, so that it shows on white, black and patterned yarn.
"""

from __future__ import annotations

import io
import itertools
import os
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from counter.basics import words
from counter.basics.answer import Count, Doubt, clock_position, doubt_letter
from counter.basics.decoding import BACKGROUND_RGB
from counter.basics.files import write_whole
from counter.basics.photo import Photo
from counter.comparing.questions import in_sight, questions_of, what_decides
from counter.comparing.slips import Slip
from counter.comparing.verdict import Verdict
from counter.showing.sentences import remark_words, slip_words, verdict_words

__all__ = ["crop_doubt", "draw_marks", "picture_format", "save_picture"]

#: Long side of the photo in the marked picture, in pixels: large photos are made smaller and
#: small ones larger, so that the numbers can be read on a phone.
LONGEST_PX, SHORTEST_PX = 1600, 1100
#: Ground shown around the piece, as a share of its size.
MARGIN_SHARE = 0.3
#: Light and dark of every sign, the latter also behind the words.
LIGHT_RGB, DARK_RGB = (255, 255, 255), (22, 28, 38)
#: The first stitch; places in doubt; words of less weight.
FIRST_RGB, DOUBT_RGB, SOFT_RGB = (255, 176, 0), (200, 30, 90), (176, 186, 200)
#: Behind the state or the verdict; white on each has a contrast of at least 4.5 to 1 (WCAG 2.2, 1.4.3).
GOOD_RGB, OFF_RGB, OPEN_RGB = (18, 118, 94), (176, 62, 20), (84, 96, 114)
#: What the round has more or fewer where it left its plan, by the kind of slip.
SLIP_SIGNS = {
    **dict.fromkeys(("increase left out", "stitch skipped"), "-1"),
    **dict.fromkeys(("increase too many", "decrease left out", "stitch too many"), "+1"),
}
#: Pixels beside a crop that enlarging it looks at.
CROP_MARGIN_PX = 4
#: Formats by suffix.
FORMATS = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG"}
#: Fractional bits of the places that OpenCV draws at.
PLACE_FRACTION_BITS = 4


def draw_marks(photo: Photo, count: Count, verdict: Verdict | None = None, *, by_person: bool = False) -> np.ndarray:
    """Draw the marks of a count on its photo, the answer above and a key below.

    Parameters
    ----------
    photo : Photo
        The photo that was counted.
    count : Count
        Its count.
    verdict : Verdict, optional
        The comparison with the expected total, if there is one.
    by_person : bool, optional
        True where a person has put the marks right: the picture then says so
        and gives no probability.

    Returns
    -------
    ndarray of shape (H, W, 3), uint8
        sRGB. Of the photo it shows the piece and some ground around it, with a
        long side of 1100 to 1600 pixels and the numbers beside it.
    """
    x0, y0, x1, y1 = _view(photo, count)
    longest = max(x1 - x0, y1 - y0)
    scale = float(np.clip(longest, SHORTEST_PX, LONGEST_PX)) / longest
    size = (round((x1 - x0) * scale), round((y1 - y0) * scale))
    picture = Image.fromarray(photo.pixels[y0:y1, x0:x1]).resize(size, Image.Resampling.LANCZOS, reducing_gap=3)

    def placed(points: Sequence[tuple[float, float]] | np.ndarray) -> np.ndarray:
        """The middle of the first pixel is (0, 0) in the photo and in the picture."""
        return (np.asarray(points, float).reshape(-1, 2) - (x0, y0) + 0.5) * scale - 0.5

    marks, outline, centre = placed(count.marks), placed(count.outline), placed([count.centre])[0]
    doubts = placed([doubt.at for doubt in count.doubts])
    pitch = _pitch(marks, outline)
    hub = outline.mean(axis=0)
    half = float(np.clip(0.6 * pitch, 14, 64))
    labels, font = _labels(marks, outline, hub, pitch, [(*(at - half), *(at + half)) for at in doubts])

    # Labels of a rim that nearly touches the frame need ground of their own.
    boxes = np.array([box for _, _, box in labels])
    left, top = (int(v) for v in np.ceil(np.maximum(0, 8 - boxes[:, :2].min(axis=0))))
    right, bottom = (int(v) for v in np.ceil(np.maximum(0, 8 + boxes[:, 2:].max(axis=0) - size)))
    pixels = cv2.copyMakeBorder(np.asarray(picture), top, bottom, left, right, cv2.BORDER_CONSTANT, value=DARK_RGB)
    moved = np.array([left, top])
    signs = float(np.clip(0.2 * pitch, 4, 14))
    _draw_outline(pixels, outline + moved)
    for number, at, _ in labels:
        _draw_leader(pixels, marks[number - 1] + moved, at + moved, font.size, signs)
    for number, at in enumerate(marks + moved, start=1):
        _draw_mark(pixels, at, signs, first=number == 1, full=number % 5 == 0)
    _draw_centre(pixels, centre + moved, signs)

    picture = Image.fromarray(pixels)
    draw = ImageDraw.Draw(picture)
    badges: list[Box] = []
    for index, at in enumerate(doubts + moved):
        badges.append(_draw_doubt(draw, at, hub + moved, half, doubt_letter(index), font, badges))
    slips = verdict.slips.claimed if verdict and verdict.slips else ()
    for slip in slips:
        _draw_slip(draw, placed([slip.at])[0] + moved, hub + moved, signs, SLIP_SIGNS[slip.what], font)
    for number, at, _ in labels:
        _number(draw, at + moved, number, font, pixels)
    above, below = _answer(picture.width, count, verdict, by_person), _key(picture.width, count, slips)
    return np.vstack([above, np.asarray(picture), below])


def crop_doubt(photo: Photo, count: Count, doubt: Doubt, side: int = 360) -> np.ndarray:
    """Enlarge a place in doubt, about five stitches wide, seven at the join, or less of a small round.

    Parameters
    ----------
    photo : Photo
        The photo that was counted.
    count : Count
        Its count.
    doubt : Doubt
        The place.
    side : int, optional
        Width and height of the crop in pixels.

    Returns
    -------
    ndarray of shape (side, side, 3), uint8
        sRGB, upright, with the numbered marks that lie in it; grey where the
        crop leaves the photo.
    """
    radius = np.linalg.norm(count.outline - count.outline.mean(axis=0), axis=1).mean()
    half = max(min(in_sight(doubt) * _pitch(count.marks, count.outline), 0.75 * radius), 12.0)
    corner = np.array(doubt.at) - half
    # Pillow makes a copy of what it is given: no more than the crop and what is smoothed into its edges.
    size = np.array((photo.width, photo.height))
    first = np.clip(np.floor(corner) - CROP_MARGIN_PX, 0, size - 1).astype(int)
    last = np.clip(np.ceil(corner + 2 * half) + CROP_MARGIN_PX, first, size - 1).astype(int)
    part = Image.fromarray(photo.pixels[first[1] : last[1] + 1, first[0] : last[0] + 1])
    # Pillow counts from the edge of the first pixel, the marks from its middle.
    low = corner + 0.5 - first
    crop = part.transform(
        (side, side),
        Image.Transform.EXTENT,
        (*low, *(low + 2 * half)),
        Image.Resampling.BICUBIC,
        fillcolor=BACKGROUND_RGB,
    )
    scale = side / (2 * half)
    marks = (count.marks - corner) * scale
    hub = (np.array(count.centre) - corner) * scale
    pixels = np.array(crop)
    signs = side / 45
    near = [i for i, at in enumerate(marks) if np.all((at > signs) & (at < side - signs))]
    for i in near:
        _draw_mark(pixels, marks[i], signs, first=i == 0, full=(i + 1) % 5 == 0)
    crop = Image.fromarray(pixels)
    draw = ImageDraw.Draw(crop)
    # Corners only: the place itself stays in sight.
    reach, arm = 0.13 * side, 0.05 * side
    for across, down in ((-1, -1), (-1, 1), (1, -1), (1, 1)):
        x, y = side / 2 + across * reach, side / 2 + down * reach
        corner_line = [(x - across * arm, y), (x, y), (x, y - down * arm)]
        draw.line(corner_line, LIGHT_RGB, 6)
        draw.line(corner_line, DOUBT_RGB, 3)
    font = _font(side / 20)
    for i in near:
        # Inwards, on the posts: the braid itself stays in sight.
        inwards = (hub - marks[i]) / max(np.hypot(*(hub - marks[i])), 1e-9)
        at = np.clip(marks[i] + inwards * 2.6 * signs, font.size, side - font.size)
        _number(draw, at, i + 1, font, pixels)
    return np.array(crop)


def picture_format(path: str | os.PathLike[str]) -> str:
    """Format that a file name asks for.

    Parameters
    ----------
    path : path
        Where a picture is to be written.

    Returns
    -------
    str
        Pillow's name of the format.

    Raises
    ------
    ValueError
        If the name does not end in .jpg, .jpeg or .png.
    """
    path = Path(path)
    try:
        return FORMATS[path.suffix.lower()]
    except KeyError:
        raise ValueError(f"{path.name}: the name of a marked picture must end in .jpg or .png") from None


def save_picture(path: str | os.PathLike[str], pixels: np.ndarray) -> None:
    """Write a picture whole or not at all, without metadata.

    Parameters
    ----------
    path : path
        Where to; the suffix .jpg, .jpeg or .png decides the format.
    pixels : ndarray of shape (H, W, 3), uint8
        sRGB.

    Raises
    ------
    ValueError
        If the suffix is none of these.
    OSError
        If the file can't be written.
    """
    path = Path(path)
    form = picture_format(path)
    file = io.BytesIO()
    options = {"quality": 90, "subsampling": 0} if form == "JPEG" else {}
    Image.fromarray(pixels).save(file, form, **options)
    write_whole(path, file.getvalue())


def _view(photo: Photo, count: Count) -> tuple[int, int, int, int]:
    """Left, top, right and bottom of the part of the photo that is shown: the piece and ground around it."""
    points = np.vstack([count.outline, count.marks, [doubt.at for doubt in count.doubts] or np.empty((0, 2))])
    low, high = points.min(axis=0), points.max(axis=0)
    ground = MARGIN_SHARE * (high - low).max()
    x0, y0 = (int(v) for v in np.maximum(0, np.floor(low - ground)))
    x1, y1 = (int(v) for v in np.minimum((photo.width, photo.height), np.ceil(high + ground)))
    return x0, y0, x1, y1


def _pitch(marks: np.ndarray, outline: np.ndarray) -> float:
    """Usual distance from one mark to the next; with one or two marks, from the length of the rim."""
    if len(marks) > 2:
        return float(np.median(np.linalg.norm(np.roll(marks, -1, axis=0) - marks, axis=1)))
    return float(np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1).sum() / 6)


Box = tuple[float, float, float, float]
Label = tuple[int, np.ndarray, Box]


def _labels(
    marks: np.ndarray, outline: np.ndarray, hub: np.ndarray, pitch: float, taken: list[Box]
) -> tuple[list[Label], ImageFont.FreeTypeFont]:
    """Number, middle and box of each label, and their font: all marks if there is room, else every fifth or tenth.

    The labels stand outside the rim and the boxes that are `taken`, in one row
    or in two by turns; the first arrangement in which no two touch is used.
    """
    total = len(marks)
    for every, rows in ((1, 1), (1, 2), (5, 1), (5, 2), (10, 1)):
        font = _font(float(np.clip(0.6 * pitch * min(every, 2), 17, 32)))
        numbers = [1, *range(max(2, every), total + (every == 1), every)]
        labels = [_label(n, i % rows, marks[n - 1], outline, hub, font, taken) for i, n in enumerate(numbers)]
        if every > 1:  # the last number is the total: it stands next to the 1, as far out as it must
            last = (_label(total, row, marks[-1], outline, hub, font, taken) for row in itertools.count())
            labels.append(next(one for one in last if not any(_touch(one[2], other[2]) for other in labels)))
        if not any(_touch(a[2], b[2]) for i, a in enumerate(labels) for b in labels[:i]):
            break
    return labels, font


def _label(
    number: int,
    row: int,
    mark: np.ndarray,
    outline: np.ndarray,
    hub: np.ndarray,
    font: ImageFont.FreeTypeFont,
    taken: list[Box],
) -> Label:
    away = mark - hub
    outwards = away / max(np.hypot(*away), 1e-9)
    half = np.array([font.getlength(str(number)) / 2 + 3, 0.5 * font.size + 3])
    # How far the rim reaches where the label will stand.
    rim = outline - hub
    ahead, beside = rim @ outwards, np.abs(rim @ np.array([-outwards[1], outwards[0]]))
    reach = max([np.hypot(*away), *ahead[(beside < half.max()) & (ahead > 0)]])
    at = hub + outwards * (reach + 0.35 * font.size + row * 1.5 * font.size + np.abs(outwards) @ half)
    while any(_touch((*(at - half), *(at + half)), box) for box in taken):
        at = at + outwards * 0.25 * font.size
    return number, at, (*(at - half), *(at + half))


def _font(size: float) -> ImageFont.FreeTypeFont:
    """The font that comes with Pillow, of which the wheel draws every size by FreeType; px."""
    font = ImageFont.load_default(size)
    if not isinstance(font, ImageFont.FreeTypeFont):
        raise OSError("Pillow was built without FreeType: install Pillow's own wheel")
    return font


def _touch(a: Sequence[float], b: Sequence[float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _fixed(points: np.ndarray) -> np.ndarray:
    return np.round(np.asarray(points) * 2**PLACE_FRACTION_BITS).astype(np.int32)


def _lines(pixels: np.ndarray, points: np.ndarray, colour: tuple[int, int, int], width: int, closed: bool) -> None:
    cv2.polylines(pixels, [_fixed(points).reshape(-1, 1, 2)], closed, colour, width, cv2.LINE_AA, PLACE_FRACTION_BITS)


def _draw_outline(pixels: np.ndarray, outline: np.ndarray) -> None:
    drawn = pixels.copy()
    _lines(drawn, outline, DARK_RGB, 4, True)
    _lines(drawn, outline, LIGHT_RGB, 2, True)
    cv2.addWeighted(drawn, 0.35, pixels, 0.65, 0, dst=pixels)


def _draw_leader(pixels: np.ndarray, mark: np.ndarray, label: np.ndarray, letters: float, signs: float) -> None:
    """Line from a mark towards its label, unless the label stands close by."""
    away = label - mark
    length = np.hypot(*away)
    begin, end = 1.5 * signs, length - 0.8 * letters
    if end - begin > 6:
        ends = mark + np.outer([begin / length, end / length], away)
        _lines(pixels, ends, DARK_RGB, 3, False)
        _lines(pixels, ends, LIGHT_RGB, 1, False)


def _draw_mark(pixels: np.ndarray, at: np.ndarray, size: float, *, first: bool, full: bool) -> None:
    """A diamond for the first stitch, a disc for every fifth, a ring for the others."""
    line = max(2, round(size / 3))
    if first:
        points = at + 1.7 * size * np.array([(0, -1), (1, 0), (0, 1), (-1, 0)])
        cv2.fillPoly(pixels, [_fixed(points)], FIRST_RGB, cv2.LINE_AA, PLACE_FRACTION_BITS)
        _lines(pixels, points, LIGHT_RGB, line + 3, True)
        _lines(pixels, points, DARK_RGB, line, True)
        return
    middle = tuple(int(v) for v in _fixed(at))
    radius = round(size * 2**PLACE_FRACTION_BITS)
    cv2.circle(pixels, middle, radius, DARK_RGB, line + 4, cv2.LINE_AA, PLACE_FRACTION_BITS)
    cv2.circle(pixels, middle, radius, LIGHT_RGB, cv2.FILLED if full else line, cv2.LINE_AA, PLACE_FRACTION_BITS)


def _number(
    draw: ImageDraw.ImageDraw, at: np.ndarray, number: int, font: ImageFont.FreeTypeFont, pixels: np.ndarray
) -> None:
    """A number, dark on light ground and light on dark ground, with a halo of the other."""
    reach = round(font.size)
    x, y = (max(0, round(float(v))) for v in at)
    ground = pixels[max(0, y - reach) : y + reach, max(0, x - reach) : x + reach]
    ink, halo = (DARK_RGB, LIGHT_RGB) if ground.size and ground.mean() > 140 else (LIGHT_RGB, DARK_RGB)
    draw.text(
        tuple(at), str(number), ink, font, anchor="mm", stroke_width=max(2, round(font.size / 8)), stroke_fill=halo
    )


def _draw_centre(pixels: np.ndarray, at: np.ndarray, size: float) -> None:
    arm = max(1.6 * size, 9)
    for colour, width in ((DARK_RGB, 5), (LIGHT_RGB, 2)):
        _lines(pixels, at + np.array([(-arm, 0), (arm, 0)]), colour, width, False)
        _lines(pixels, at + np.array([(0, -arm), (0, arm)]), colour, width, False)


def _draw_doubt(
    draw: ImageDraw.ImageDraw,
    at: np.ndarray,
    hub: np.ndarray,
    half: float,
    letter: str,
    font: ImageFont.FreeTypeFont,
    others: list[Box],
) -> Box:
    """A square round the place and its letter on the side of the centre; gives the box of the letter."""
    (x, y), line = at, max(3, round(half / 10))
    draw.rectangle((x - half - 2, y - half - 2, x + half + 2, y + half + 2), outline=LIGHT_RGB, width=line + 4)
    draw.rectangle((x - half, y - half, x + half, y + half), outline=DOUBT_RGB, width=line)
    inwards = (hub - at) / max(np.abs(hub - at).max(), 1e-9)
    for step in range(8):  # two places side by side: one letter goes further in
        badge = at + inwards * (half + (0.75 + step) * font.size)
        box = (*(badge - 0.8 * font.size), *(badge + 0.8 * font.size))
        if not any(_touch(box, other) for other in others):
            break
    _badge(draw, badge, letter, font)
    return box


def _badge(draw: ImageDraw.ImageDraw, at: np.ndarray, letter: str, font: ImageFont.FreeTypeFont) -> None:
    x, y = at
    half = 0.7 * font.size
    draw.rectangle((x - half, y - half, x + half, y + half), fill=DOUBT_RGB, outline=LIGHT_RGB, width=2)
    draw.text((x, y), letter, LIGHT_RGB, font, anchor="mm")


def _answer(width: int, count: Count, verdict: Verdict | None, by_person: bool) -> np.ndarray:
    """Strip above the photo: how many stitches, how sure, what that means."""
    if by_person:
        chips = [(words.STATE_YOURS, OPEN_RGB)]
    else:
        state = words.STATE_SURE if count.sure else words.STATE_NOT_SURE
        chips = [(state, GOOD_RGB if count.sure else OPEN_RGB)]
    if verdict:
        known = verdict.off_by is not None
        chips.append((words.said(verdict.off_by), OPEN_RGB if not known else OFF_RGB if verdict.off_by else GOOD_RGB))
    sentences = []
    if count.rounds:
        sentences.append(words.SENTENCE.format(text=words.complete_rounds(count.rounds)))
    if count.in_progress:
        sentences.append(words.HOOK_SAYS.format(done=count.in_progress.done, left=count.in_progress.left))
    if verdict:
        sentences.append(verdict_words(verdict))
    elif not count.sure:
        sentences += [remark_words(what_decides(count, questions_of(count))), words.CAUTION]

    edge = round(width / 50)
    big = _font(float(np.clip(width / 24, 26, 60)))
    small = _font(float(np.clip(width / 54, 15, 28)))
    lines = _wrapped(words.together(*sentences), small, width - 2 * edge)
    head = words.stitches(words.either(count.likely))
    # Chips that don't fit beside the number stand below it.
    beside = 2 * edge + big.getlength(head) + sum(small.getlength(text) + 2.4 * small.size for text, _ in chips)
    rows = 1 if beside < width else 2
    step = 1.45 * small.size
    height = round(1.6 * edge + 1.25 * big.size + (rows - 1) * 2.2 * small.size + step * len(lines))
    strip = Image.new("RGB", (width, height), DARK_RGB)
    draw = ImageDraw.Draw(strip)
    y = 0.8 * edge + 0.55 * big.size
    draw.text((edge, y), head, LIGHT_RGB, big, anchor="lm")
    x = edge + (big.getlength(head) + 0.8 * small.size if rows == 1 else 0)
    y += (rows - 1) * (0.6 * big.size + 1.2 * small.size)
    for text, colour in chips:
        wide = small.getlength(text) + 1.4 * small.size
        draw.rounded_rectangle((x, y - 0.85 * small.size, x + wide, y + 0.85 * small.size), 0.85 * small.size, colour)
        draw.text((x + wide / 2, y), text, LIGHT_RGB, small, anchor="mm")
        x += wide + 0.6 * small.size
    y = height - 0.8 * edge - step * len(lines)
    for line in lines:
        draw.text((edge, y), line, LIGHT_RGB, small, anchor="la")
        y += step
    return np.asarray(strip)


def _draw_slip(
    draw: ImageDraw.ImageDraw, at: np.ndarray, hub: np.ndarray, signs: float, text: str, font: ImageFont.FreeTypeFont
) -> None:
    """A tag inside the rim whose tip points at the place, with what the round has more or fewer there."""
    inwards = (hub - at) / max(np.hypot(*(hub - at)), 1e-9)
    beside = np.array([-inwards[1], inwards[0]])
    size = max(font.size, 20)
    tip = at + inwards * 2.2 * signs
    middle = tip + inwards * 1.6 * size
    points = [tip, tip + inwards * 0.8 * size + beside * 0.7 * size, tip + inwards * 0.8 * size - beside * 0.7 * size]
    draw.polygon([tuple(p) for p in points], OFF_RGB, LIGHT_RGB, 2)
    _tag(draw, middle, text, font, size)


def _tag(draw: ImageDraw.ImageDraw, at: np.ndarray, text: str, font: ImageFont.FreeTypeFont, size: float) -> None:
    x, y = at
    draw.ellipse((x - size, y - size, x + size, y + size), fill=OFF_RGB, outline=LIGHT_RGB, width=2)
    draw.text((x, y), text, LIGHT_RGB, font, anchor="mm")


def _key(width: int, count: Count, slips: Sequence[Slip]) -> np.ndarray:
    """Strip below the photo: what the signs mean, and why each place is in doubt."""
    edge = round(width / 50)
    font = _font(float(np.clip(width / 60, 14, 24)))
    indent = edge + round(2.2 * font.size)
    entries = []
    for index, doubt in enumerate(count.doubts):
        clock = clock_position(doubt.at, count.centre)
        text = words.LOOK_AT.format(clock=clock, mark=doubt.mark, why=doubt.said)
        entries.append((doubt_letter(index), _wrapped(text, font, width - indent - edge)))
    for slip in slips:
        text = words.MOST_LIKELY.format(slip=slip_words(slip))
        entries.append((SLIP_SIGNS[slip.what], _wrapped(text, font, width - indent - edge)))
    step = 1.5 * font.size
    total = sum(max(1, len(lines)) for _, lines in entries) + 1
    strip = np.full((round(1.2 * edge + step * total + 0.25 * step * len(entries)), width, 3), DARK_RGB, np.uint8)
    y = 0.6 * edge + step / 2
    x, signs = float(edge + 0.6 * font.size), 0.38 * font.size
    named = []
    for first, full, text in (
        *((True, False, words.KEY_FIRST), (False, False, words.KEY_STITCH)),
        (False, True, words.KEY_FIFTH),
    ):
        _draw_mark(strip, np.array([x, y]), signs, first=first, full=full)
        named.append((x + 1.1 * font.size, y, text))
        x += font.getlength(text) + 3.6 * font.size
    picture = Image.fromarray(strip)
    draw = ImageDraw.Draw(picture)
    for x, y, text in named:
        draw.text((x, y), text, SOFT_RGB, font, anchor="lm")
    y += 1.15 * step
    for letter, lines in entries:
        sign = np.array([edge + 0.7 * font.size, y])
        if letter in SLIP_SIGNS.values():
            _tag(draw, sign, letter, font, 0.75 * font.size)
        else:
            _badge(draw, sign, letter, font)
        for line in lines:
            draw.text((indent, y), line, LIGHT_RGB, font, anchor="lm")
            y += step
        y += 0.25 * step
    return np.asarray(picture)


def _wrapped(text: str, font: ImageFont.FreeTypeFont, width: float) -> list[str]:
    """Lines of a text, none wider than `width` unless a single word is."""
    lines: list[str] = []
    for word in text.split():
        if lines and font.getlength(f"{lines[-1]} {word}") <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
