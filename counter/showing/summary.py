"""What was found, as plain data and as sentences."""

from __future__ import annotations

from collections.abc import Sequence

from counter.basics import words
from counter.basics.answer import Count, Refusal, clock_position, doubt_letter
from counter.basics.text import shown
from counter.comparing.check import Check
from counter.comparing.questions import questions_of, what_decides
from counter.lengths.flatness import flatness_of_plan
from counter.lengths.gauge import FOUR_INCHES_MM
from counter.lengths.pair import Pair
from counter.lengths.scale import Scale
from counter.lengths.sizing import Sizing
from counter.plan import Plan
from counter.showing.sentences import (
    advice_words,
    clock_words,
    no_place_words,
    remark_words,
    round_words,
    verdict_words,
)

__all__ = [
    *("FIELDS", "answer_data", "answer_words", "check_data", "check_words", "pair_data", "plan_words"),
    *("shown", "sizing_data"),
]

#: Fields of one photo's answer, in the order in which they are printed; what it was
#: compared with follows.
FIELDS = (
    *(
        "photo",
        "state",
        "stitches",
        "probability",
        "posterior",
        "likely",
        "rounds",
        "centre",
        "outline",
        "marks",
        "doubts",
    ),
    *("in_progress", "pieces", "reason", "hint", "seconds"),
)


def answer_data(name: str, answer: Count | Refusal, seconds: float) -> dict[str, object]:
    """One photo's answer as plain data.

    Parameters
    ----------
    name : str
        Of the photo.
    answer : Count or Refusal
    seconds : float
        Time it took.

    Returns
    -------
    dict
        The fields of :data:`FIELDS`; what a refusal does not have is null or empty.
    """
    if isinstance(answer, Refusal):
        values = dict.fromkeys(FIELDS) | {"posterior": {}, "likely": [], "outline": [], "marks": [], "doubts": []}
        lines = [[_pair(point) for point in outline] for outline in answer.outlines]
        values |= {"outline": lines[0] if len(lines) == 1 else [], "pieces": [{"outline": line} for line in lines]}
        values |= {"photo": name, "state": "refused", "reason": answer.reason, "hint": answer.hint}
        return values | {"seconds": round(seconds, 3)}
    progress = answer.in_progress
    return {
        "photo": name,
        "state": answer.state,
        "stitches": answer.stitches,
        "probability": round(float(answer.probability), 6),
        "posterior": {str(n): round(float(p), 6) for n, p in sorted(answer.posterior.items())},
        "likely": [int(n) for n in answer.likely],
        "rounds": answer.rounds,
        "centre": _pair(answer.centre),
        "outline": [_pair(point) for point in answer.outline],
        "marks": [_pair(mark) for mark in answer.marks],
        "doubts": [{"mark": d.mark, "at": _pair(d.at), "why": d.why} for d in answer.doubts],
        "in_progress": progress and {"done": progress.done, "left": progress.left, "loop": _pair(progress.loop)},
        "pieces": [],
        "reason": answer.reason,
        "hint": "" if answer.sure else words.CAUTION,
        "seconds": round(seconds, 3),
    }


def check_data(check: Check | None) -> dict[str, object]:
    """What a count was compared with and what that means, as plain data.

    Parameters
    ----------
    check : Check or None
        None where there is no count to compare.

    Returns
    -------
    dict
        "verdict", "off_by", "expected", "round", "fits", "slips", "advice".
    """
    verdict = check.verdict if check else None
    slips, advice = (verdict.slips, verdict.advice) if verdict else (None, None)
    return {
        "verdict": verdict.verdict if verdict else "can't say",
        "off_by": verdict.off_by if verdict else None,
        "expected": verdict.expected if verdict else None,
        "round": check.compared.round if check and check.compared else None,
        "fits": [
            {"round": fit.round, "probability": round(fit.probability, 6)} for fit in (check.fits if check else ())
        ],
        "slips": slips
        and {
            "round_right": round(slips.right, 6),
            "holds": slips.holds,
            "why_none": no_place_words(slips),
            "places": [
                {
                    "what": slip.what,
                    "marks": list(slip.marks),
                    "at": _pair(slip.at),
                    "clock": clock_words(slip.hour),
                    "probability": round(slip.probability, 6),
                }
                for slip in slips.places
            ],
        },
        "advice": advice
        and {"action": advice.action, "words": list(advice_words(advice)), "adjusted": advice.adjusted},
    }


def answer_words(name: str, answer: Count | Refusal) -> str:
    """One photo's answer as sentences.

    Parameters
    ----------
    name : str
        Of the photo.
    answer : Count or Refusal

    Returns
    -------
    str
        A line, and one for a round in progress.
    """
    if isinstance(answer, Refusal):
        return f"{shown(name)}: {words.REFUSED_SAID.format(reason=answer.reason, hint=answer.hint)}"
    said = (words.PIECE_ROUNDS if answer.rounds else words.PIECE_SAID).format(
        stitches=words.stitches(words.either(answer.likely)),
        rounds=words.rounds(answer.rounds or 0),
        state=words.SURE if answer.sure else words.NOT_SURE,
        why=words.carried_on(remark_words(what_decides(answer, questions_of(answer)))),
    )
    lines = [f"{shown(name)}: {said}"]
    if answer.in_progress:
        lines.append(f"  {words.ON_HOOK.format(done=answer.in_progress.done, left=answer.in_progress.left)}")
    return "\n".join(lines)


def check_words(count: Count, check: Check) -> str:
    """What the comparison says, what to do, and the places to look at, as sentences.

    Parameters
    ----------
    count : Count
    check : Check

    Returns
    -------
    str
        Indented lines; empty where there is nothing to say.
    """
    lines = list(round_words(check))
    verdict = check.verdict
    if verdict:
        # How far off it is stands in the verdict's own words.
        said = "" if verdict.off_by else words.sentence(words.said(verdict.off_by))
        lines.append(words.together(said, verdict_words(verdict)))
    elif not count.sure:
        lines.append(words.CAUTION)
    for index, doubt in enumerate(count.doubts):
        where = clock_position(doubt.at, count.centre)
        said = words.NEAR_MARK.format(clock=where, mark=doubt.mark, why=doubt.said)
        lines.append(f"{doubt_letter(index)}  {said}")
    if verdict and verdict.advice:
        # The caution stands in the verdict already.
        lines += [line for line in advice_words(verdict.advice) if line != words.CAUTION]
    return "\n".join(f"  {line}" for line in lines)


def plan_words(plan: Plan, *, uk: bool = False) -> str:
    """What there is to say about a plan beside its rounds.

    Parameters
    ----------
    plan : Plan
    uk : bool, optional
        Name stitches in UK terms.

    Returns
    -------
    str
        What should be looked at, a line each, then how the piece will lie.
    """
    lines = [words.IN_LINE.format(line=f.line, column=f.column, what=f.what, fix=f.fix).rstrip() for f in plan.findings]
    return "\n".join([*lines, *flatness_of_plan(plan, uk=uk).words])


def sizing_data(sizing: Sizing | None) -> dict[str, object] | None:
    """Size and gauge as plain data.

    Parameters
    ----------
    sizing : Sizing or None
        None where there is no count.

    Returns
    -------
    dict or None
        Lengths in mm; "stitches" and "rounds" to 10 cm and to 4 in with their standard errors.
    """
    if sizing is None:
        return None
    made, size = sizing.gauge, sizing.size
    rounds = made and made.rounds(100.0), made and made.rounds(FOUR_INCHES_MM)
    return {
        "scale": sizing.scale.kind if isinstance(sizing.scale, Scale) else None,
        "why_none": "" if isinstance(sizing.scale, Scale) else words.together(sizing.scale.reason, sizing.scale.hint),
        "diameter_mm": size and _with_error(size.diameter.mm, size.diameter.error),
        "stitch_mm": made and _with_error(made.stitch.mm, made.stitch.error),
        "round_mm": made and made.round and _with_error(made.round.mm, made.round.error),
        "stitches_10_cm": made and _with_error(*made.stitches(100.0)),
        "stitches_4_in": made and _with_error(*made.stitches(FOUR_INCHES_MM)),
        "rounds_10_cm": rounds[0] and _with_error(*rounds[0]),
        "rounds_4_in": rounds[1] and _with_error(*rounds[1]),
        "categories": [own.number for own in made.categories] if made else [],
        "perhaps": [own.number for own in made.perhaps] if made else [],
        "tension": sizing.tension.state,
        "tension_each_round": sizing.tension.share and round(sizing.tension.share, 4),
        "lies": sizing.lie.name,
        "words": list(sizing.words),
    }


def pair_data(pair: Pair) -> dict[str, object]:
    """Two pieces side by side as plain data.

    Parameters
    ----------
    pair : Pair

    Returns
    -------
    dict
    """
    return {
        "verdict": pair.verdict,
        "off_by": pair.off_by,
        "probability": round(pair.probability, 6),
        "differences": {str(k): round(float(p), 6) for k, p in pair.differences.items()},
        "rounds": {"first": pair.rounds.first, "second": pair.rounds.second, "verdict": pair.rounds.verdict},
        "words": list(pair.words),
    }


def _with_error(value: float, error: float) -> list[float]:
    return [round(float(value), 3), round(float(error), 3)]


def _pair(place: Sequence[float]) -> list[float]:
    return [round(float(v), 1) for v in place]
