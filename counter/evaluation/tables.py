"""Evaluations set out as plain text: one, several side by side, and the worst photos by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from counter.evaluation.evaluate import FOUND, MEASURES, Evaluation, measures

__all__ = ["as_table", "side_by_side", "worst"]

#: Measures that the table gives for each tag; all of them are in the JSON file.
BY_TAG = (
    "photos",
    "found",
    "best guess exact",
    "within one",
    "right after two answers",
    "sure",
    "wrong while sure",
    "rounds exact",
    "refusals right",
)
#: Tags that say how hard a photo is, and the measure that is given for each other tag where sets stand side by side.
DIFFICULTIES, BRIEF = ("easy", "ordinary", "hard", "wide"), "best guess exact"
#: How many photos of a kind are named.
MOST_NAMED = 10


def as_table(evaluation: Evaluation) -> str:
    """Set an evaluation out as plain text.

    Parameters
    ----------
    evaluation : Evaluation

    Returns
    -------
    str
        All measures of all photos, the main ones for each tag, and the worst photos by name.
    """
    overall = evaluation.summary["overall"]
    lines = [f"{name:23} {_cell(name, overall[name]):>9}   {what}" for name, (_, what) in MEASURES.items()]
    tags = [name for name in evaluation.summary if name != "overall"]
    if tags:
        wide = max(map(len, tags))
        heads = [max(len(name), 6) for name in BY_TAG]
        lines += ["", " " * wide + "  " + "  ".join(f"{n:>{w}}" for n, w in zip(BY_TAG, heads, strict=True))]
        for tag in tags:
            cells = (_cell(name, evaluation.summary[tag][name]) for name in BY_TAG)
            lines.append(f"{tag:{wide}}  " + "  ".join(f"{c:>{w}}" for c, w in zip(cells, heads, strict=True)))
    lines += ["", *_named(evaluation)]
    return "\n".join(lines)


def side_by_side(evaluations: Mapping[str, Evaluation]) -> str:
    """Set several evaluations out beside each other, so that figures of one look stand beside those of another.

    Parameters
    ----------
    evaluations : mapping of str to Evaluation
        By what each is called. One that holds photos of several looks gets a column for each look.

    Returns
    -------
    str
        All measures, then the main ones for each difficulty and one for each other tag (of how many pieces), a
        column each; then each one's worst photos by name.
    """
    columns: dict[str, Sequence[dict[str, Any]]] = {}
    for name, evaluation in evaluations.items():
        looks = sorted({row["look"] for row in evaluation.rows})
        for look in looks:
            rows = [row for row in evaluation.rows if row["look"] == look]
            columns[name if len(looks) == 1 else f"{name}: {look}"] = rows
    heads = [max(len(name), 10) for name in columns]

    def block(title: str, names: Sequence[str], tag: str | None) -> list[str]:
        groups = [[row for row in rows if tag is None or tag in row["tags"]] for rows in columns.values()]
        measured = [measures(rows) if rows else {} for rows in groups]
        lines = [f"{title:23}  " + "  ".join(f"{n:>{w}}" for n, w in zip(columns, heads, strict=True))]
        for name in names:
            cells = [_cell(name, values.get(name)) for values in measured]
            lines.append(f"{name:23}  " + "  ".join(f"{c:>{w}}" for c, w in zip(cells, heads, strict=True)))
        return lines

    lines = block("", list(MEASURES), None)
    tags = sorted({tag for rows in columns.values() for row in rows for tag in row["tags"]})
    for tag in (tag for tag in DIFFICULTIES if tag in tags):
        lines += ["", *block(tag, BY_TAG, tag)]
    lines += ["", f"{BRIEF:23}  " + "  ".join(f"{n:>{w}}" for n, w in zip(columns, heads, strict=True))]
    for tag in (tag for tag in tags if tag not in DIFFICULTIES):
        groups = [[r for r in rows if tag in r["tags"] and r["refuse"] is None] for rows in columns.values()]
        cells = [f"{_cell(BRIEF, measures(rows)[BRIEF])}/{len(rows)}" if rows else "-" for rows in groups]
        lines.append(f"{tag:23}  " + "  ".join(f"{c:>{w}}" for c, w in zip(cells, heads, strict=True)))
    for name, evaluation in evaluations.items():
        lines += ["", name, *_named(evaluation)]
    return "\n".join(lines)


def worst(rows: Sequence[dict[str, Any]], most: int = MOST_NAMED) -> dict[str, list[str]]:
    """Name the photos that came out worst, of each kind of failure.

    Parameters
    ----------
    rows : sequence of dict
        From :attr:`counter.evaluation.evaluate.Evaluation.rows`.
    most : int, optional
        Photos of each kind.

    Returns
    -------
    dict of str to list of str
        Kind -> what happened on which photo, worst first; kinds of which there is none are left out.
    """
    pieces = [row for row in rows if row["refuse"] is None]
    bare = [row for row in rows if row["refuse"] is not None]
    counted = [row for row in pieces if row["stitches"] is not None]
    wrong = [row for row in counted if row["stitches"] != row["true"]]

    def named(
        rows: Sequence[dict[str, Any]], by: Callable[[dict[str, Any]], Any], said: Callable[[dict[str, Any]], str]
    ) -> list[str]:
        return [f"{Path(row['photo']).stem} {said(row)}" for row in sorted(rows, key=by, reverse=True)[:most]]

    def number(row: dict[str, Any]) -> str:
        return f"{row['stitches']} for {row['true']}"

    def chance(row: dict[str, Any]) -> str:
        return f"{number(row)} at {row['probability']:.2f}"

    asked = [r for r in counted if r["after_answers"]]
    outlined = [r for r in pieces if r["overlap"] is not None and r["overlap"] < FOUND]
    aside = [r for r in counted if r["rim_followed"] is not None and r["rim_followed"] < 1]
    rounds = [r for r in counted if None not in (r["rounds"], r["true_rounds"]) and r["rounds"] != r["true_rounds"]]
    parts = [r for r in pieces if r["true_progress"] and r["progress"] and r["progress"] != r["true_progress"]]
    kinds = {
        "wrong while sure": named([r for r in wrong if r["state"] == "sure"], lambda r: r["probability"], chance),
        "wrong and nearly sure": named([r for r in wrong if r["state"] != "sure"], lambda r: r["probability"], chance),
        "furthest off": named(wrong, lambda r: abs(r["stitches"] - r["true"]) / r["true"], number),
        "wrong after all answers": named(
            [r for r in asked if r["after_answers"][-1] != r["true"]],
            lambda r: abs(r["after_answers"][-1] - r["true"]),
            lambda r: f"{r['after_answers'][-1]} for {r['true']}",
        ),
        "outline": named(outlined, lambda r: -r["overlap"], lambda r: f"{r['overlap']:.2f}"),
        "rim": named(aside, lambda r: -r["rim_followed"], lambda r: f"{r['rim_followed']:.0%}"),
        "centre": named(
            [r for r in counted if (r["centre_error"] or 0) > 0.1],
            lambda r: r["centre_error"],
            lambda r: f"{r['centre_error']:.0%}",
        ),
        "rounds": named(
            rounds, lambda r: abs(r["rounds"] - r["true_rounds"]), lambda r: f"{r['rounds']} for {r['true_rounds']}"
        ),
        "made and left": named(
            parts,
            lambda r: abs(r["progress"][0] - r["true_progress"][0]),
            lambda r: f"{r['progress'][0]} + {r['progress'][1]} for {r['true_progress'][0]} + {r['true_progress'][1]}",
        ),
        "refused with a piece": named(
            [r for r in pieces if r["state"] == "refused"], lambda r: -(r["overlap"] or 0), lambda _: ""
        ),
        "counted without one": named(
            [r for r in bare if r["stitches"] is not None],
            lambda r: (r["state"] == "sure", r["probability"]),
            lambda r: f"{r['stitches']}, {r['state']}",
        ),
    }
    return {kind: [name.strip() for name in names] for kind, names in kinds.items() if names}


def _named(evaluation: Evaluation) -> list[str]:
    """The worst photos, those that were left out and those that broke the program."""
    lines = [f"{kind}: {', '.join(names)}" for kind, names in worst(evaluation.rows).items()]
    if lines:
        lines.insert(0, f"Worst, at most {MOST_NAMED} of each kind:")
    if evaluation.left_out:
        lines += ["", f"Left out, because no truth file stands beside them: {', '.join(evaluation.left_out)}"]
    return lines + [f"Crashed on {r['photo']}: {r['reason']}" for r in evaluation.rows if r["state"] == "crashed"]


def _cell(name: str, value: float | None) -> str:
    unit = MEASURES[name][0]
    if value is None:
        return "-"
    if unit.startswith("%"):
        return f"{value:.1%}"
    if isinstance(value, int):
        return str(value)
    return f"{value:.0f} MB" if unit == "MB" else f"{value:.2f} s" if unit == "s" else f"{value:.3f}"
