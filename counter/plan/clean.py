"""Works written in the clean form, which reads back as the same works."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from counter.plan.works import Note, Repeat, Spread, Work, is_worked

__all__ = ["clean_text"]


def clean_text(nodes: Sequence, main: str, around: bool = False) -> str:
    """Write works in the clean form.

    Parameters
    ----------
    nodes : sequence
        Works, repeats and notes in order.
    main : str
        The round's main stitch, in US terms.
    around : bool, optional
        Whether a single plain work goes all the way round.

    Returns
    -------
    str
        "sc 1, inc, (sc 2, inc) x 5, sc 1".
    """
    nodes = _merged(nodes)
    works = [node for node in nodes if is_worked(node)]
    alone = works[0] if len(works) == 1 else None
    parts: list[str] = []
    lead = ""
    for node in nodes:
        if isinstance(node, Note):
            if node.text in ("BLO", "FLO"):
                lead = node.text + " "
                continue
            said = {"join": "join", "turn": "turn"}.get(node.text, node.text)
        elif node is alone and around and isinstance(node, Work) and node.kind == "plain":
            said = f"{node.stitch} around"
        else:
            said = _said(node, main)
        parts.append(lead + said)
        lead = ""
    return ", ".join(parts) if parts else lead.strip()


def _merged(nodes: Sequence) -> list:
    """Put equal neighbours together, and repeats of one work or of one repeat into one."""
    out: list = []
    for node in nodes:
        if isinstance(node, Repeat):
            body = tuple(_merged(node.body))
            only = body[0] if len(body) == 1 else None
            if node.times == 0 or not body:
                continue
            if node.times is not None and isinstance(only, Work | Repeat) and only.times is not None:
                node = replace(only, times=only.times * node.times)
            elif node.times == 1:
                for inner in body:
                    _append(out, inner)
                continue
            else:
                node = replace(node, body=body)
        _append(out, node)
    return out


def _append(out: list, node) -> None:
    last = out[-1] if out else None
    if (
        isinstance(node, Work)
        and isinstance(last, Work)
        and replace(node, times=1) == replace(last, times=1)
        and node.kind != "chain"
    ):
        out[-1] = replace(last, times=last.times + node.times)
    else:
        out.append(node)


def _said(node, main: str) -> str:
    if isinstance(node, Spread):
        return _said_spread(node, main)
    if isinstance(node, Repeat):
        return _said_repeat(node, main)
    own = "" if node.stitch == main == "sc" else f"{node.stitch} "
    return _WORKS.get(node.kind, _into)(node, own)


def _said_spread(node: Spread, main: str) -> str:
    if node.total is not None:
        return f"{node.total} {node.stitch} evenly"
    word = "inc" if node.sign > 0 else "dec"
    word = word if node.stitch == main == "sc" else f"{node.stitch} {word}"
    return f"{word} {node.change} evenly" if node.change is not None else f"{word} evenly"


def _said_repeat(node: Repeat, main: str) -> str:
    inside = clean_text(node.body, main)
    if node.times is not None:
        return f"({inside}) x {node.times}"
    end = f"to last {node.leave}" if node.leave else "around"
    work = node.body[0] if len(node.body) == 1 else None
    if isinstance(work, Work):
        if work.kind == "inc" and work.made > 2 and not node.leave:
            return f"{work.made} {work.stitch} in each st around"
        if work.times == 1 and (work.kind in ("plain", "dec") or (work.kind, work.made) == ("inc", 2)):
            return f"{inside.removesuffix(' 1')} {end}"
    return f"({inside}) {end}"


def _times(node: Work) -> str:
    return f" x {node.times}" if node.times > 1 else ""


def _where(node: Work) -> str:
    return "next st" if node.times == 1 else f"each of next {node.times} sts"


def _many(number: int) -> str:
    return f"{number} " if number > 1 else ""


def _inc(node: Work, own: str) -> str:
    return f"{own}inc{_times(node)}" if node.made == 2 else f"{node.made} {node.stitch} in {_where(node)}"


def _dec(node: Work, own: str) -> str:
    return f"{'dec' if node.base == 2 and not own else f'{node.stitch}{node.base}tog'}{_times(node)}"


def _into(node: Work, own: str) -> str:
    return f"{node.form} in {_where(node)}"


#: By the kind of work: how it is written.
_WORKS = {
    "plain": lambda node, own: f"{node.stitch} {node.times}",
    "inc": _inc,
    "dec": _dec,
    "skip": lambda node, own: f"sk {node.times}",
    "ring": lambda node, own: f"{node.times * node.made} {node.stitch} in ring",
    "space": lambda node, own: f"{node.times * node.made} {node.stitch} in ch-sp",
    "hook": lambda node, own: f"{_many(node.made)}{node.stitch} in 2nd ch from hook",
    "same": lambda node, own: f"{_many(node.made * node.times)}{node.stitch} in same st",
    "bridge": lambda node, own: f"ch {node.times}",
    "chain": lambda node, own: f"{node.form} (counts as {node.stitch})",
}
