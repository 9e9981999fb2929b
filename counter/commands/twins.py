"""Compares two pieces that must match."""

from __future__ import annotations

import argparse
import json

from counter.basics.answer import Refusal
from counter.commands.common import AGREES, MISMATCH, NOT_SURE, REFUSED
from counter.examination import examine
from counter.lengths.pair import compare_pieces
from counter.showing import summary

__all__ = ["arguments", "run"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("first", metavar="FIRST", help="photo of one piece")
    parser.add_argument("second", metavar="SECOND", help="photo of the other")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--left-handed", action="store_true", help="number the marks clockwise")


def run(options: argparse.Namespace) -> int:
    """Compare two pieces; gives the exit code."""
    answers = []
    for name in (options.first, options.second):
        answer = examine(name, left_handed=options.left_handed).answer
        if isinstance(answer, Refusal):
            if options.json:
                print(json.dumps(summary.answer_data(name, answer, 0.0), allow_nan=False))
            else:
                print(summary.answer_words(name, answer))
            return REFUSED
        answers.append(answer)
    pair = compare_pieces(*answers)
    if options.json:
        rows = [
            summary.answer_data(name, own, own.seconds)
            for name, own in zip((options.first, options.second), answers, strict=True)
        ]
        print(json.dumps(summary.pair_data(pair) | {"photos": rows}, allow_nan=False))
    else:
        for name, own in zip((options.first, options.second), answers, strict=True):
            print(summary.answer_words(name, own))
        print("\n".join(f"  {line}" for line in pair.words))
    return NOT_SURE if pair.off_by is None else MISMATCH if pair.off_by or pair.rounds.verdict == "differ" else AGREES
