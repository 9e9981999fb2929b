"""How long reading a written plan takes: ``python tests/benchmarks/plan.py``, on one core.

An ordinary pattern of sixty rounds, and texts made to be slow; seconds of
processor time, the best of three.
"""

from __future__ import annotations

import time

from counter.plan import read_plan

ORDINARY = "\n".join(
    ["Rnd 1: 6 sc in magic ring (6)", "Rnd 2: inc x 6 (12)"]
    + [f"Rnd {k}: *sc in next {k - 2} sts, 2 sc in next st; rep from * around ({6 * k} sts)" for k in range(3, 31)]
    + [f"Rnd {k}: (sc {59 - k}, dec) x 6 [{6 * (60 - k)}]" for k in range(31, 57)]
)
TEXTS = {
    "ordinary, 56 rounds": ORDINARY,
    "10,000 nested brackets": "(" * 10_000 + "sc" + ")" * 10_000,
    "1 MB of junk": "#@x " * 250_000,
    "39,000 signs of junk": "#@ " * 13_000,
    "numbers": "1 " * 19_000,
    "open brackets": "R1: " + "(sc, \n" * 6_000,
    "9,000 brackets": "R1: " + "(sc)" * 9_000,
    "3,900 labels": "R1: sc 6; " * 3_900,
    "3,000 wrong lines": "R1: floof\n" * 3_000,
    "repeat of repeats": "R1: " + "(" * 19 + "sc 9" + ") x 9999" * 19,
    "1,000 rounds of 10,000": "R1: 10000\nR2-1000: sc around",
    "900 rounds of increases": "R1: 5000\n"
    + "".join(f"R{k}: inc x 5000\nR{k + 1}: dec x 5000\n" for k in range(2, 900, 2)),
    "600 rounds that don't agree": "".join(
        f"R{k}: ch 3, 3 dc in next 3 sts, sc inc, 2 dc around, sl st (77)\n" for k in range(1, 600)
    ),
    "a long round 1,000 times": "R1-1000: " + "ch 3, 3 dc in next 3 sts, sc inc, 2 dc around, sl st, " * 60 + "(77)",
}


def main() -> None:
    """Read every text three times and print the best time of each."""
    read_plan("R1: sc 6")  # the grammar is made once
    for name, text in TEXTS.items():
        times = []
        for _ in range(3):
            began = time.process_time()
            plan = read_plan(text)
            times.append(time.process_time() - began)
        print(f"{min(times):7.3f} s  {name}: {len(plan.rounds)} rounds, {len(plan.findings)} findings")


if __name__ == "__main__":
    main()
