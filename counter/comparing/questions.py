"""Places in doubt as questions that a person answers, and what the answers leave of the probabilities."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from counter.basics.answer import Count, Doubt, doubt_letter
from counter.comparing.remarks import Remark

__all__ = [
    *(
        "MOST_QUESTIONS",
        "QUESTIONS",
        "Question",
        "in_sight",
        "lettered",
        "questions_of",
        "reweighed",
        "reweighed_number",
    ),
    "what_decides",
]

#: Most questions about one photo.
MOST_QUESTIONS = 4
#: Below this probability a number one higher or lower is not asked for.
LEAST_ASKED_PROBABILITY = 0.02
#: Numbers that are shown make up this probability, two to four of them.
SHOWN_PROBABILITY, MOST_SHOWN_NUMBERS = 0.9, 4
#: How far the picture of a place reaches to either side, in stitch widths, and where the round starts and ends: there
#: a stitch that was passed over has moved the marks of two or three others.
BESIDE, BESIDE_JOIN = 2.6, 3.6
#: Every question there is, and what may be answered. "split": one stitch or two? "narrow": a stitch of its own?
#: "loop": a stitch, or the loop? "hidden": does the loop hide a stitch? "right": are the marks right?
QUESTIONS: Mapping[str, tuple[str, ...]] = {
    "split": ("one", "two"),
    "narrow": ("yes", "no"),
    "loop": ("stitch", "loop"),
    "hidden": ("only the loop", "a stitch, too"),
    "right": ("as marked", "one fewer", "one more"),
}
#: What is asked, by the kind of a doubt, and how each answer changes the number.
_ASKED = {"end": ("split", (-1, 0)), "two": ("split", (0, 1)), "wide": ("split", (0, 1)), "narrow": ("narrow", (0, -1))}


@dataclass(frozen=True)
class Question:
    """One place in doubt, what to ask there, and what may be answered.

    Parameters
    ----------
    doubt : Doubt
    ask : str
        A key of :data:`QUESTIONS`; :func:`counter.showing.sentences.question_words` puts it into words.
    answers : tuple of (str, int)
        What may be answered, of those that stand there, and how it changes the number of stitches: 0, 1 or -1.
    """

    doubt: Doubt
    ask: str
    answers: tuple[tuple[str, int], ...]

    @property
    def changes(self) -> frozenset[int]:
        """The changes that the answers make."""
        return frozenset(change for _, change in self.answers)


def questions_of(count: Count) -> tuple[Question, ...]:
    """What to ask about a photo's own count.

    Parameters
    ----------
    count : Count

    Returns
    -------
    tuple of Question
        Most doubtful place first, at most :data:`MOST_QUESTIONS`; none where the count is sure.
    """
    if count.sure:
        return ()
    on_rim = [doubt for doubt in count.doubts if _on_rim(doubt, count)]
    return tuple(_question(doubt, count) for doubt in on_rim[:MOST_QUESTIONS])


def in_sight(doubt: Doubt) -> float:
    """How much of the braid the picture of a place in doubt has to show.

    Parameters
    ----------
    doubt : Doubt

    Returns
    -------
    float
        To either side of the place, in stitch widths.
    """
    return BESIDE_JOIN if doubt.kind == "seam" else BESIDE


def _on_rim(doubt: Doubt, count: Count) -> bool:
    """True where the photo shows a place: nobody can say what stands beyond its frame."""
    (x, y), (width, height) = doubt.at, count.size
    return 0 <= x < width and 0 <= y < height


def lettered(doubts: Sequence[Doubt], questions: Sequence[Question]) -> Iterator[tuple[Doubt, str]]:
    """Places in doubt with the letters by which they are called, which stay as answers come in.

    Parameters
    ----------
    doubts : sequence of Doubt
        Those that are still open.
    questions : sequence of Question
        What was asked about the photo's own count.

    Yields
    ------
    doubt : Doubt
    letter : str
    """
    asked = {question.doubt.at: k for k, question in enumerate(questions)}
    for index, doubt in enumerate(doubts[:MOST_QUESTIONS]):
        yield doubt, doubt_letter(asked.get(doubt.at, index))


def what_decides(count: Count, still: Sequence[Question]) -> Remark:
    """What decides whether a count is sure: a percentage would speak for itself.

    Parameters
    ----------
    count : Count
    still : sequence of Question
        What is asked about it and not answered yet.

    Returns
    -------
    Remark
    """
    if count.sure:
        return Remark.of("sure: nothing in doubt")
    kinds = {question.doubt.kind for question in still}
    if kinds == {"seam"}:
        return Remark.of("not sure: start")
    if kinds & {"hidden", "all hidden"}:
        return Remark.of("not sure: hidden")
    return Remark.of("not sure: places", n=len(still)) if still else Remark.of("not sure: unclear")


def _question(doubt: Doubt, count: Count) -> Question:
    def asked(ask: str, changes: tuple[int, ...]) -> Question:
        return Question(doubt, ask, tuple(zip(QUESTIONS[ask], changes, strict=True)))

    if doubt.kind in _ASKED:
        return asked(*_ASKED[doubt.kind])
    if doubt.kind == "seam":
        fewer, more = (count.posterior.get(count.stitches + change, 0.0) for change in (-1, 1))
        if more < LEAST_ASKED_PROBABILITY or fewer >= 4 * more:
            return asked("loop", (0, -1))
        if fewer < LEAST_ASKED_PROBABILITY or more >= 4 * fewer:
            return asked("hidden", (0, 1))
    return asked("right", (0, -1, 1))


def reweighed(
    posterior: Mapping[int, float], stitches: int, questions: tuple[Question, ...], answers: Mapping[int, int]
) -> dict[int, float]:
    """What the answers so far leave of the photo's own probabilities.

    If the number is off by k, each of the places where it may be off that way is
    taken to be as likely the reason as any other; so a look at one of m places
    finds it right with probability 1 - k/m and wrong with k/m (Bayes' rule).

    Parameters
    ----------
    posterior : mapping of int to float
        The photo's own.
    stitches : int
        Its most probable number.
    questions : tuple of Question
    answers : mapping of int to int
        Index of a question -> the change that was answered.

    Returns
    -------
    dict of int to float
        Adds up to 1. The number of the marks as answered is the most probable:
        they are what a person saw.
    """
    left = dict(posterior)
    at = stitches
    for index in sorted(answers):
        change = answers[index]
        places = {
            way: sum(way in questions[i].changes for i in range(len(questions)) if i not in answers or i >= index)
            for way in (-1, 1)
        }

        def chance(
            number: int,
            at: int = at,
            change: int = change,
            places: Mapping[int, int] = places,
            index: int = index,
        ) -> float:
            """That the answer is this one, if that were the number."""
            way = int(np.sign(number - at))
            found = min(abs(number - at) / places[way], 1.0) if way in questions[index].changes and way else 0.0
            return (1 - found) if change == 0 else found if change == way else 0.0

        left = {number: weight * chance(number) for number, weight in left.items()}
        at += change
    others = max([weight for number, weight in left.items() if number != at], default=0.0)
    left[at] = max(left.get(at, 0.0), 1.0001 * others, 1e-12)
    whole = sum(left.values())
    return {number: weight / whole for number, weight in left.items() if weight > 0}


def reweighed_number(
    count: Count, questions: tuple[Question, ...], answers: Mapping[int, int], marked: int
) -> tuple[dict[int, float], tuple[int, ...]]:
    """What a photo, the answers and the corrections so far say together.

    A stitch that a person added or took away where nothing was asked moves all
    numbers by one: what is open elsewhere stays as open as it was.

    Parameters
    ----------
    count : Count
        The photo's own count.
    questions : tuple of Question
        What is asked about it.
    answers : mapping of int to int
        Index of a question -> the change that was answered; at least one is still open.
    marked : int
        How many stitches are marked.

    Returns
    -------
    posterior : mapping of int to float
        As of :func:`reweighed`; the photo's own before the first answer. The
        most probable number is that of the marks.
    likely : tuple of int
        The numbers that are shown, most probable first.
    """
    by_hand = marked - count.stitches - sum(answers.values())
    if not answers:
        moved = {number + by_hand: chance for number, chance in count.posterior.items() if number + by_hand > 0}
        return moved, tuple(number + by_hand for number in count.likely if number + by_hand > 0)
    posterior = reweighed(count.posterior, count.stitches, questions, answers)
    posterior = {number + by_hand: chance for number, chance in posterior.items() if number + by_hand > 0}
    ranked = sorted(posterior, key=lambda number: posterior[number], reverse=True)
    enough = int(np.searchsorted(np.cumsum([posterior[n] for n in ranked]), SHOWN_PROBABILITY)) + 1
    return posterior, tuple(ranked[: max(2, min(enough, MOST_SHOWN_NUMBERS))])
