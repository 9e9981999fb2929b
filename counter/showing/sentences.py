"""What comparing found, put into words: codes and numbers in, sentences out, in the language that is spoken now."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from counter.basics import words
from counter.comparing.advice import Advice
from counter.comparing.check import Check
from counter.comparing.questions import Question
from counter.comparing.remarks import Remark
from counter.comparing.slips import Slip, Slips
from counter.comparing.verdict import Verdict
from counter.comparing.which import Fit, not_told_apart

__all__ = [
    *("advice_words", "answers_words", "clock_words", "no_place_words", "question_words", "remark_words"),
    *("round_words", "slip_words", "verdict_words", "which_words"),
]


def remark_words(remark: Remark) -> str:
    """A remark as a sentence or several.

    Parameters
    ----------
    remark : Remark

    Returns
    -------
    str
    """
    return _SAID[remark.code](**remark.values)


def verdict_words(verdict: Verdict) -> str:
    """A verdict as sentences for a maker.

    Parameters
    ----------
    verdict : Verdict

    Returns
    -------
    str
        What was counted and expected; where it doesn't agree, where to look, and the caution.
    """
    expected, off = verdict.expected, verdict.off_by
    if verdict.in_progress is not None:
        made, left = words.stitches(verdict.in_progress.done), verdict.in_progress.left
        return words.NOT_FINISHED.format(stitches=made, left=left, expected=expected)
    if off is None:
        told = words.UNSURE_OF if expected in verdict.likely else words.UNSURE_NOT_AMONG
        told = told.format(numbers=words.either(verdict.likely), expected=expected)
    else:
        told = words.SHORT_OF if off < 0 else words.OVER_IT if off else words.AS_EXPECTED
        told = told.format(stitches=words.stitches(expected + off), n=abs(off), expected=expected)
    if verdict.chain is not None:
        told = words.together(
            told, (words.CHAIN_WITHIN if verdict.chain else words.CHAIN_BESIDE).format(expected=expected)
        )
    if off == 0:
        return told
    if not verdict.hours:
        return words.together(told, words.CAUTION)
    where = words.all_of(map(clock_words, verdict.hours))
    return words.together(told, words.LOOK_NEAR.format(where=where), words.CAUTION_PLACES)


def advice_words(advice: Advice | None) -> tuple[str, ...]:
    """What to do next, as sentences for a maker, the action first.

    Parameters
    ----------
    advice : Advice or None

    Returns
    -------
    tuple of str
    """
    return tuple(map(remark_words, advice.remarks)) if advice else ()


def round_words(check: Check) -> tuple[str, ...]:
    """Which round of its plan a photo may show, as sentences; none where there is nothing to say.

    Parameters
    ----------
    check : Check

    Returns
    -------
    tuple of str
    """
    return tuple(map(remark_words, check.remarks))


def which_words(fits: Sequence[Fit]) -> str:
    """Say which rounds of a plan a photo may show.

    Parameters
    ----------
    fits : sequence of Fit
        As from :func:`counter.comparing.which.fitting_rounds`.

    Returns
    -------
    str
        Sentences for a maker.
    """
    if not fits:
        return words.WHICH_NONE
    best = fits[0]
    held = words.stitches(best.stitches)
    same = [fit for fit in fits if fit.stitches == best.stitches]
    close = not_told_apart(fits)
    if len(close) > 1:
        rounds = words.all_of(str(number) for number in sorted(fit.round for fit in close))
        told = [(words.WHICH_BOTH if len(close) == 2 else words.WHICH_ALL).format(rounds=rounds, stitches=held)]
    else:
        told = [words.WHICH_BEST.format(n=best.round, stitches=held, p=words.percent(best.probability))]
        if len(same) > 1:
            told.append(words.WHICH_TOO.format(n=best.stitches))
        if best.off:
            told.append((words.WHICH_MORE if best.off > 0 else words.WHICH_FEWER).format(n=abs(best.off)))
    others = [fit for fit in fits if fit.stitches != best.stitches]
    if others:
        told.append(words.WHICH_ALSO.format(rounds=words.either(fit.round for fit in others[:3])))
    return words.together(*told)


def clock_words(hour: int) -> str:
    """A place as on a clock face: "4 o'clock"."""
    return words.CLOCK.format(hour=hour)


def slip_words(slip: Slip) -> str:
    """A slip and its place as part of a sentence.

    Parameters
    ----------
    slip : Slip

    Returns
    -------
    str
        "an increase was made as one plain stitch near 4 o'clock, at mark 15".
    """
    return words.SLIP_AT.format(done=words.DONE[slip.what], where=_near(slip))


def no_place_words(slips: Slips) -> str:
    """Why a photo names no place, as a sentence; empty where it names one."""
    return remark_words(slips.why_none) if slips.why_none else ""


def question_words(question: Question) -> str:
    """What is asked about a place in doubt: "One stitch or two here?"."""
    return {
        "split": words.ASK_SPLIT,
        "narrow": words.ASK_NARROW,
        "loop": words.ASK_LOOP,
        "hidden": words.ASK_HIDDEN,
        "right": words.ASK_RIGHT,
    }[question.ask]


def answers_words(question: Question) -> tuple[tuple[str, int], ...]:
    """What may be answered to it, each with how it changes the number of stitches."""
    said = {
        "one": words.ONE,
        "two": words.TWO,
        "yes": words.YES,
        "no": words.NO,
        "stitch": words.STITCH,
        "loop": words.LOOP,
        "only the loop": words.ONLY_LOOP,
        "a stitch, too": words.STITCH_TOO,
        "as marked": words.AS_MARKED,
        "one fewer": words.ONE_FEWER,
        "one more": words.ONE_MORE,
    }
    return tuple((said[answer], change) for answer, change in question.answers)


def _near(slip: Slip) -> str:
    return words.slip_place(slip.what == "stitch skipped", clock_words(slip.hour), *slip.marks)


def _then(remark: Remark) -> str:
    """A remark as the end of another one's sentence."""
    return words.carried_on(remark_words(remark))


def _go_on(text: str, total: int | None, asks: bool) -> str:
    told = text or ("" if total is None else words.stitches(total))
    on = words.GO_ON_WRITTEN.format(text=told) if told else words.GO_ON_NEXT
    return words.GO_ON_FINISHED.format(do=words.carried_on(on)) if asks else on


def _holds_below(n: int, stitches: int, next: int, text: str, total: int | None) -> str:
    told = text or words.stitches(total or 0)
    return words.HOLDS_BEFORE.format(n=n, stitches=words.stitches(stitches), next=next, text=told)


def _near_another(n: int, stitches: int, said: int, off: int, nearer: bool) -> str:
    near = words.NEARER if nearer else words.AS_NEAR
    return words.NEAR_ANOTHER.format(near=near, n=n, stitches=words.stitches(stitches), said=said, off=off)


def _make_up(off: int, text: str | None) -> str:
    if text:
        return words.WORK_WRITTEN.format(text=text)
    return (words.WORK_MORE if off < 0 else words.WORK_FEWER).format(stitches=words.stitches(abs(off)))


def _rip_to_mark(mark: int, stitches: int | None) -> str:
    if stitches is None:
        return words.RIP_TO_MARK.format(mark=mark)
    return words.RIP_STITCHES.format(mark=mark, stitches=words.stitches(stitches))


def _count_first(n: int, expected: int | None, do: Remark) -> str:
    if expected is None:
        return words.COUNT_FIRST.format(n=n, do=_then(do))
    return words.COUNT_ROUND_FIRST.format(n=n, expected=expected, do=_then(do))


def _in_doubt(n: int) -> str:
    return words.UNSURE_ONE if n == 1 else words.UNSURE_SEVERAL.format(n=n)


def _not_compared(why: str) -> str:
    return words.sentence(why)


#: By its code: what makes a sentence of a remark's values.
_SAID: Mapping[str, Callable[..., Any]] = {
    "go on": _go_on,
    "settle": lambda: words.SETTLE,
    "count by eye": lambda: words.COUNT_BY_EYE,
    "work on": lambda: words.WORK_ON,
    "beyond the way": lambda n, expected: words.BEYOND_WAY.format(n=n, expected=expected),
    "caution": lambda: words.CAUTION,
    "finished?": lambda n: words.ASK_FINISHED.format(n=n),
    "if finished": lambda do: words.IF_FINISHED.format(do=_then(do)),
    "say finished": lambda: words.SAY_FINISHED,
    "holds the round below": _holds_below,
    "holds another round": lambda n, stitches: words.HOLDS_ANOTHER.format(n=n, stitches=words.stitches(stitches)),
    "on the way": lambda n, said, off: (
        words.WITHIN_ANOTHER.format(n=n, said=said)
        if off is None
        else words.MAY_BE_ANOTHER.format(n=n, said=said, off=off)
    ),
    "near another round": _near_another,
    "guessed round": lambda n: words.ASK_ROUND.format(n=n),
    "outside the plan": lambda n, said, off: words.OUTSIDE_PLAN.format(n=n, said=said, off=off),
    "chain marked?": lambda n, expected, counts: (words.ASK_CHAIN_SHORT if counts else words.ASK_CHAIN_OVER).format(
        n=n, expected=expected
    ),
    "twin matches": lambda stitches: words.TWIN_MATCHES.format(stitches=words.stitches(stitches)),
    "twin holds?": lambda n, expected, do: words.ASK_TWIN.format(n=n, expected=expected, do=_then(do)),
    "twin differs": lambda twin, expected: words.TWIN_DIFFERS.format(twin=twin, expected=expected),
    "twin must match": lambda do: words.TWIN_MUST_MATCH.format(do=_then(do)),
    "as you say": lambda do: words.IF_AS_SAID.format(do=_then(do)),
    "count first": _count_first,
    "make up": _make_up,
    "as written": lambda kind, do: words.AS_WRITTEN[kind].format(do=_then(do)),
    "rip to the mark": _rip_to_mark,
    "rip to the round": lambda many, n: (words.RIP_ROUND if many == 1 else words.RIP_ROUNDS).format(many=many, n=n),
    "rip to what agrees": lambda: words.RIP_TO_AGREEING,
    "most likely": lambda slip, probability: words.MOST_LIKELY_BY.format(
        slip=slip_words(slip), p=words.percent(probability)
    ),
    "perhaps": lambda slip: words.PERHAPS.format(where=_near(slip), done=words.DONE[slip.what]),
    "usual suspects": lambda off: words.USUAL_SHORT if off < 0 else words.USUAL_OVER,
    "no place: total": lambda: words.NO_PLACE_TOTAL,
    "no place: far off": lambda off: (words.NO_PLACE_SHORT if off < 0 else words.NO_PLACE_OVER).format(n=abs(off)),
    "no place: not told": lambda: words.NO_PLACE_WRITTEN,
    "no place: fits nowhere": lambda: words.NO_PLACE_FITS,
    "no place: right": lambda: words.NO_PLACE_RIGHT,
    "no place: plain": lambda: words.NO_PLACE_PLAIN,
    "no place: not seen": lambda: words.NO_PLACE_SEEN,
    "sure: nothing in doubt": lambda: words.SURE_DETAIL,
    "not sure: start": lambda: words.UNSURE_START,
    "not sure: hidden": lambda: words.UNSURE_HIDDEN,
    "not sure: places": _in_doubt,
    "not sure: unclear": lambda: words.UNSURE_UNCLEAR,
    "which round": which_words,
    "perhaps round": lambda n, stitches: words.PERHAPS_ROUND.format(n=n, stitches=words.stitches(stitches)),
    "not compared": _not_compared,
}
