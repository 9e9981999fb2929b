"""What to tell each maker of a group."""

from __future__ import annotations

from statistics import median

from counter.basics import words
from counter.group.table import Line, Table, rounds_words

__all__ = ["lines_of", "told_to"]

#: A gauge is another one than the others' where it lies this share off their middle, and a drift in tension where
#: it lies so far off a round: a stitch of gauge in twenty, and what `gauge.py` calls even.
GAUGE_APART_SHARE, DRIFT_APART_SHARE = 0.05, 0.02


def lines_of(table: Table, maker: str) -> list[Line]:
    """A maker's lines by round."""
    own = [line for line in table.lines if line.place.maker == maker]
    return sorted(own, key=lambda line: (line.place.round or 0, not line.chosen, line.place.photo, line.piece))


def told_to(table: Table, maker: str) -> list[str]:
    """Say what a maker should know.

    Parameters
    ----------
    table : Table
    maker : str

    Returns
    -------
    list of str
        Sentences: the rounds that agree, each that is off with its place and
        whether the pattern may be to blame, what isn't settled, what must be
        taken again, gauge and tension against the others.
    """
    own = lines_of(table, maker)
    agree = [line.place.number for line in own if line.need == "agrees" and line.chosen]
    told = [words.GROUP_TOLD_AGREE.format(rounds=rounds_words(agree))] if agree else []
    for line in own:
        if line.chosen:
            told += _about(table, line)
    if any(line.need == "off" and line.chosen for line in own):
        told.append(words.CAUTION)
    return [*told, _gauge(table, maker), _tension(table, maker)]


def _about(table: Table, line: Line) -> list[str]:
    number = line.place.round
    if line.need == "off":
        told = words.GROUP_TOLD_OFF.format(
            n=number, said=words.said(line.off_by), likely=words.either(line.likely), expected=line.expected
        )
        if line.where:
            told = words.together(told, words.GROUP_TOLD_WHERE.format(where=words.any_of(line.where)))
        pattern = table.pattern_off(number)
        if pattern and pattern.off == line.off_by:
            told = words.together(
                told, words.GROUP_TOLD_PATTERN.format(alike=round(pattern.alike), makers=pattern.makers)
            )
        return [told]
    if line.need == "look":
        return [words.GROUP_TOLD_LOOK.format(n=number, stitches=words.stitches(words.either(line.likely)))]
    return [words.GROUP_TOLD_AGAIN.format(n=number, why=line.words)] if line.need == "again" else []


def _middles(table: Table, maker: str, value: str) -> tuple[float | None, float | None]:
    """The middle of a maker's values, and that of the others' middles; None where there is none."""
    found: dict[str, list[float]] = {}
    for line in table.lines:
        if line.sizing and line.chosen:
            number = line.sizing[value]
            number = number["stitches_10_cm"] if isinstance(number, dict) else number
            if number is not None:
                found.setdefault(line.place.maker, []).append(float(number))
    own = found.pop(maker, None)
    others = [median(values) for values in found.values()]
    return median(own) if own else None, median(others) if others else None


def _gauge(table: Table, maker: str) -> str:
    own, others = _middles(table, maker, "gauge")
    if own is None:
        return words.GROUP_NO_GAUGE
    if others is None:
        return words.GROUP_GAUGE_ALONE.format(own=f"{own:.1f}")
    apart = own / others - 1
    how = "like" if abs(apart) < GAUGE_APART_SHARE else "tighter" if apart > 0 else "looser"
    return words.GROUP_GAUGE[how].format(own=f"{own:.1f}", others=f"{others:.1f}")


def _tension(table: Table, maker: str) -> str:
    own, others = _middles(table, maker, "each_round")
    if own is None:
        return words.GROUP_NO_TENSION
    if others is None:
        return words.GROUP_TENSION_ALONE.format(own=f"{own:+.1%}")
    how = "like" if abs(own - others) < DRIFT_APART_SHARE else "larger" if own > others else "smaller"
    return words.GROUP_TENSION[how].format(own=f"{own:+.1%}", others=f"{others:+.1%}")
