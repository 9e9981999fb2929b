"""Rounds as makers write them, each with what it comes to, worked out by hand.

The wording is our own. Every row was worked out on paper before it was ever
read by the program; where a row is not plain arithmetic, its comment says so.
"""

from typing import NamedTuple


class Written(NamedTuple):
    """One written round, and what it comes to."""

    number: int
    #: Stitches of the round below, None where there is none or it isn't told.
    below: int | None
    text: str
    made: int
    used: int
    #: Number of each increase's (decrease's) first stitch among the stitches made.
    increases: tuple[int, ...] = ()
    decreases: tuple[int, ...] = ()


def every(step: int, first: int, times: int) -> tuple[int, ...]:
    """`times` numbers, `step` apart, from `first`."""
    return tuple(first + step * k for k in range(times))


W = Written

#: US terms.
US = (
    # Starts: in a ring, in a chain, on a chain.
    W(1, None, "Rnd 1: 6 sc in magic ring (6)", 6, 0),
    W(1, None, "R1: MR 6 [6]", 6, 0),
    W(1, None, "Round 1 - make a magic ring, work 6 sc into the ring. (6 sts)", 6, 0),
    W(1, None, "Rd 1: 7 sc in an adjustable ring", 7, 0),
    W(1, None, "R1. sc 8 in MR (8)", 8, 0),
    W(1, None, "1) six single crochet in magic circle {6}", 6, 0),
    W(1, None, "Rnd 1: ch 2, 6 sc in 2nd ch from hook", 6, 0),
    W(1, None, "Round 1: Chain 2; work 8 single crochet in the second chain from the hook (8 stitches)", 8, 0),
    W(1, None, "Rnd 1: ch 4, join with sl st to form ring, ch 3 (counts as dc), 11 dc in ring, sl st to join (12)", 12, 0),
    W(1, None, "R1: magic loop, ch 1, 12 dc in loop, sl st in first dc <12>", 12, 0),
    W(1, None, "Rnd 1: 8 hdc in ring, join with a slip stitch in first hdc = 8", 8, 0),
    W(1, None, "R1: 6 sc (6)", 6, 0),
    W(1, None, "1. Start with 6 sc in a magic ring — 6 stitches total", 6, 0),
    # Chain of 6: 4 along one side, 3 in the end, 3 back along the other side, 2 in the last = 12.
    W(1, None, "Rnd 1: ch 6, sc in 2nd ch from hook, sc in next 3 ch, 3 sc in last ch, sc in next 3 ch, 2 sc in last ch (12)", 12, 0),
    W(1, None, "R1: In a magic ring: 5 sc, pull closed [5]", 5, 0),
    # An increase in every stitch.
    W(2, 6, "R2: inc x 6 [12]", 12, 6, every(2, 1, 6)),
    W(2, 6, "Rnd 2: 2 sc in each st around (12)", 12, 6, every(2, 1, 6)),
    W(2, 6, "Round 2: inc in every st = 12", 12, 6, every(2, 1, 6)),
    W(2, 6, "R2 - inc around - 12", 12, 6, every(2, 1, 6)),
    W(2, 6, "2) 6 inc", 12, 6, every(2, 1, 6)),
    W(2, 6, "Rnd. 2: (inc) x6 <12>", 12, 6, every(2, 1, 6)),
    W(2, 6, "R2: inc 6 times", 12, 6, every(2, 1, 6)),
    W(2, 6, "Rnd 2: Work 2 sc in every stitch. 12 sts", 12, 6, every(2, 1, 6)),
    W(2, 6, "R2: [2 sc in next st] six times", 12, 6, every(2, 1, 6)),
    W(2, 6, "R2: *2 sc in next st; rep from * around", 12, 6, every(2, 1, 6)),
    W(2, 6, "R2: increase in each stitch around: 12 sts", 12, 6, every(2, 1, 6)),
    W(2, 8, "Rnd 2: 2 hdc in each st (16)", 16, 8, every(2, 1, 8)),
    W(2, 8, "Rnd 2: hdc inc x 8 (16)", 16, 8, every(2, 1, 8)),
    W(2, 12, "Rnd 2: dc inc around (24)", 24, 12, every(2, 1, 12)),
    # The chain stands on the first stitch and shares it with one dc: the first increase of twelve.
    W(2, 12, "Rnd 2: ch 3 (counts as dc), dc in same st, 2 dc in each st around, sl st to top of ch 3 (24)", 24, 12, every(2, 1, 12)),
    W(2, 12, "Rnd 2: ch 2 (does not count as a stitch), 2 dc in each st around, join (24)", 24, 12, every(2, 1, 12)),
    W(2, 6, "R2: 3 sc in each st around (18)", 18, 6, every(3, 1, 6)),
    # Repeats with an increase.
    W(3, 12, "R3: (sc 1, inc) x 6 [18]", 18, 12, every(3, 2, 6)),
    W(3, 12, "Round 3 - *sc 1, inc; rep from * around (18 sts)", 18, 12, every(3, 2, 6)),
    W(3, 12, "Rnd 3: *1 sc in next st, 2 sc in next st, repeat from * 5 more times. [18]", 18, 12, every(3, 2, 6)),
    W(3, 12, "R3: [sc, inc] * 6 (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "R3: sc, inc, repeat around (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "r3: *sc, inc* x6 (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "RND 3: *SC IN NEXT ST, 2 SC IN NEXT ST*, REPEAT * TO * AROUND (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "R3: (inc, sc 1) × 6 [18]", 18, 12, every(3, 1, 6)),
    W(3, 12, "R3: (1 sc, 1 inc) 6x — 18", 18, 12, every(3, 2, 6)),
    W(3, 12, "3: 6 x (sc, inc)", 18, 12, every(3, 2, 6)),
    W(3, 12, "Rnd 3: sc around, inc in every other st (18)", 18, 12, every(3, 2, 6)),
    W(4, 18, "R4. (2 sc, inc) x6 = 24", 24, 18, every(4, 3, 6)),
    W(4, 18, "Rnd 4: *sc in each of next 2 sts, 2 sc in next st; rep from * to end of rnd. (24 sc)", 24, 18, every(4, 3, 6)),
    W(4, 18, "Rnd 4: *sc in next 2 sc, 2 sc in next sc, rep from * around – 24 sc", 24, 18, every(4, 3, 6)),
    W(4, 18, "R4: sc 1, inc, (sc 2, inc) x 5, sc 1 [24]", 24, 18, every(4, 2, 6)),
    W(4, 18, "R4 (24): (sc 2, inc) around", 24, 18, every(4, 3, 6)),
    W(4, 18, "Round four: [sc in the next two stitches, increase in the next stitch], six times", 24, 18, every(4, 3, 6)),
    W(4, 18, "4.) 2 sc, 1 inc, rep 6x {24}", 24, 18, every(4, 3, 6)),
    W(4, 18, "R4: sc 1, inc, *sc 2, inc; rep from * to last st, sc 1 (24)", 24, 18, every(4, 2, 6)),
    W(5, 24, "R5: sc in next 3 sts, 2 sc in next st; repeat 6 times (30)", 30, 24, every(5, 4, 6)),
    W(5, 24, "R5: (sc next 3, inc next) x 6", 30, 24, every(5, 4, 6)),
    W(5, 24, "Rnd 5: ch 1, *sc 3, inc, rep from * around, sl st to first sc, do not turn (30)", 30, 24, every(5, 4, 6)),
    W(5, 24, "Rnd 5 : ( 3 sc , inc ) * 6 ( 30 )", 30, 24, every(5, 4, 6)),
    W(5, 24, "R5: ((sc 3, inc) x 2) x 3 [30]", 30, 24, every(5, 4, 6)),
    W(6, 30, "R6: 2 sc, inc, (4 sc, inc) 5 times, 2 sc (36)", 36, 30, every(6, 3, 6)),
    W(6, 30, "R6: *sc 4, inc* repeat 6 times, [36]", 36, 30, every(6, 5, 6)),
    W(7, 36, "Rnd 7: {sc 5, inc} x 6, place marker (42)", 42, 36, every(7, 6, 6)),
    W(7, 36, "R7: sc 5, 2 sc in next; repeat to end [42]", 42, 36, every(7, 6, 6)),
    W(3, 16, "Rnd 3: (hdc 1, hdc inc) x 8 [24]", 24, 16, every(3, 2, 8)),
    W(3, 24, "Rnd 3: *dc in next st, 2 dc in next st; rep from * around. (36 dc)", 36, 24, every(3, 2, 12)),
    # Counting chain, then 1 increase (2, 3), then 11 times (1, increase) from stitch 4 on.
    W(3, 24, "Rnd 3: ch 3 (counts as first dc), 2 dc in next st, *dc in next st, 2 dc in next st; rep from * around, join [36]", 36, 24, every(3, 2, 12)),
    W(2, 6, "R2: sc 2, 3 sc in next st, sc 2, 3 sc in next st (10)", 10, 6, (3, 8)),
    W(2, 8, "R2: (sc, 3 sc in next) x 4 [16]", 16, 8, every(4, 2, 4)),
    W(2, 12, "R2: inc, sc 3, inc x 3, sc 3, inc x 2 [18]", 18, 12, (1, 6, 8, 10, 15, 17)),
    W(8, 24, "R8: sc 11, inc, sc 12", 25, 24, (12,)),
    W(3, 12, "Rnd 3: sc in first st, inc in next st, *sc in next st, inc in next st; rep from * around", 18, 12, every(3, 2, 6)),
    W(3, 12, "R3: sc in next st and 2 sc in next st x 6 (18)", 18, 12, every(3, 2, 6)),
    W(4, 18, "R4: 2 sc + inc, x6 (24)", 24, 18, every(4, 3, 6)),
    # Even rounds.
    W(5, 24, "R5: sc around (24)", 24, 24),
    W(5, 24, "R5: sc in each st around", 24, 24),
    W(9, 24, "9) sc around", 24, 24),
    W(5, 24, "Rnd 5: BLO sc in each st [24]", 24, 24),
    W(5, 24, "Rnd 5: in back loops only, sc in each stitch around (24)", 24, 24),
    W(5, 24, "R5: sc 24", 24, 24),
    W(5, 24, "R5: 24 sc", 24, 24),
    W(5, 24, "R5: work even", 24, 24),
    W(5, 24, "Round 5. Single crochet in every stitch all the way around. 24 stitches.", 24, 24),
    W(5, 24, "R5: sc x 24 (24)", 24, 24),
    W(5, 24, "Rnd 5: With colour B, sc in each st around, change to colour A in last st (24)", 24, 24),
    W(5, 24, "Rnd 5: 1 sc in each sc around = 24 sc", 24, 24),
    W(5, 24, "Rnd 5: hdc in each hdc around, join with sl st in first hdc (24 hdc)", 24, 24),
    W(5, 24, "Rnd 5: ch 3 (counts as dc), dc in each st around, sl st in top of beg ch-3 (24)", 24, 24),
    W(5, 24, "R5: FPdc around [24]", 24, 24),
    W(5, 24, "R5: sc 8, hdc 8, dc 8 (24)", 24, 24),
    W(5, 24, "R5: sc to end (24). Stuff firmly.", 24, 24),
    W(5, 24, "Rnd 5: sc 6, bobble, sc 10, bobble, sc 6 [24]", 24, 24),
    W(5, 24, "R5: sl st in each st around (24)", 24, 24),
    W(5, None, "Rnd 5: sc in each st around (24)", 24, 24),  # nothing below: the stated total says it
    W(6, None, "R6: (sc 2, inc) around [24]", 24, 18, every(4, 3, 6)),  # 6 repeats of 4 make 24
    # Decreases.
    W(8, 24, "[8]: [sc 2, dec] 6 times (18)", 18, 24, (), every(3, 3, 6)),
    W(8, 18, "R8: (sc2tog, 1 sc) * 6", 12, 18, (), every(2, 1, 6)),
    W(8, 18, "R8: (sc 1, invdec) x 6 [12]", 12, 18, (), every(2, 2, 6)),
    W(9, 12, "R9: dec x 6 (6)", 6, 12, (), every(1, 1, 6)),
    W(9, 12, "Rnd 9: sc2tog 6 times, fasten off, leave a long tail [6]", 6, 12, (), every(1, 1, 6)),
    W(9, 12, "R9: dec around (6)", 6, 12, (), every(1, 1, 6)),
    W(9, 12, "Rnd 9: *sc next 2 sts together; rep from * around (6)", 6, 12, (), every(1, 1, 6)),
    W(8, 30, "Rnd 8: *sc in next 3 sts, sc2tog; rep from * around. 24 sc.", 24, 30, (), every(4, 4, 6)),
    W(8, 30, "R8: (sc 3, inv dec) x 6 [24]", 24, 30, (), every(4, 4, 6)),
    W(8, 18, "R8: sc3tog x 6 [6]", 6, 18, (), every(1, 1, 6)),
    W(8, 36, "Rnd 8: *dc in next st, dc2tog; rep from * around (24)", 24, 36, (), every(2, 2, 12)),
    W(8, 24, "R8: (sc in next 2 sts, decrease over next 2 sts) around [18]", 18, 24, (), every(3, 3, 6)),
    W(8, 18, "R8: (sc 1, skip 1 st, sc 1) x 6 (12)", 12, 18),  # a skipped stitch joins nothing
    W(8, 12, "R8: *sk 1, sc 1* around", 6, 12),
    W(8, 24, "R8: sc 10, dec, dec, sc 10 (22)", 22, 24, (), (11, 12)),
    W(8, 22, "R8: (sc 4, inc, sc 1, dec, sc 3) x 2", 22, 22, (5, 16), (8, 19)),
    W(8, 24, "R8: dec, sc 22", 23, 24, (), (1,)),
    W(8, 20, "R8: dec twice, sc 12, dec twice [16]", 16, 20, (), (1, 2, 15, 16)),
    W(8, 14, "R8: hdc2tog 7 times", 7, 14, (), every(1, 1, 7)),
    W(8, 24, "R8: (2 sc, sc2tog) x6. (18) Add stuffing.", 18, 24, (), every(3, 3, 6)),
    # Places unknown: only the totals are.
    W(5, 24, "R5: inc 6 times evenly (30)", 30, 24),
    W(5, 24, "R5: sc around, increasing 6 sts evenly (30)", 30, 24),
    W(5, 24, "R5: dec 4 evenly around [20]", 20, 24),
    W(5, 24, "R5: sc evenly around (24)", 24, 24),
    W(5, None, "R5: inc 6 evenly (30)", 30, 24),
    # Odds and ends.
    W(5, 24, "R5: ch 1, sc in same st as join, sc 23", 24, 24),
    W(5, 20, "R5: sc 5, sc in same st, sc 15 (21)", 21, 20, (5,)),
    W(5, 24, "R5: ch 1 (does not count as a stitch), turn, sc 24, sl st in first st", 24, 24),
    W(5, 24, "• R5 – sc around ‹24›", 24, 24),
    W(5, 24, "**Rnd 5:** sc in each st around **(24)**", 24, 24),
    W(4, 18, "R4: “sc 2, inc” x 6 (24)", 24, 18, every(4, 3, 6)),
    W(4, 18, "R4: [(sc 2, inc) x 3] twice (24)", 24, 18, every(4, 3, 6)),
    W(6, 12, "R6: 12", 12, 12),
    W(6, 12, "R6: 18 sts", 18, 12),
    W(2, 6, "2nd round: 2 sc in each st around (12)", 12, 6, every(2, 1, 6)),
    W(7, 24, "Next rnd: sc 12, inc, sc 11 (25)", 25, 24, (13,)),
    W(2, 6, "R2: inc (2 sc in one st) x 6 (12)", 12, 6, every(2, 1, 6)),
    W(8, 12, "R8: dec (sc2tog) 6 times", 6, 12, (), every(1, 1, 6)),
    W(4, 18, "Rnd 4: sc in next 2 sts, 2 sc in next st (inc made), rep from * around", 24, 18, every(4, 3, 6)),
    W(5, 10, "R5: inc, 3 sc, 2 inc, 3 sc, inc (14)", 14, 10, (1, 6, 8, 13)),
    W(5, 16, "R5: sc in next 7 sts, inc twice, sc in next 7 sts", 18, 16, (8, 10)),
    W(3, 8, "R3: sc in next st, inc in next 2 sts, sc in next 2 sts, inc in next 2 sts, sc in next st (12)", 12, 8, (2, 4, 8, 10)),
)

#: Written after the program could read all of the above, as a test of what it makes of wordings it was not made for.
LATER = (
    W(1, None, "Rnd 1 – With main colour, make a MR and work 6 sc into it; pull tail to close. (6)", 6, 0),
    W(1, None, "R1) 5sc in MR [5]", 5, 0),
    W(1, None, "Round 1: Ch 3, sl st in first ch to form a ring, 8 sc into ring. (8 sc)", 8, 0),
    W(1, None, "Rnd 1: Ch 2. Work 6 sc into second ch from hook. Do not join.", 6, 0),
    W(1, None, "1st Round: 12 tr in ring, join with sl st = 12 tr", 12, 0),
    W(1, None, "rnd 1: magic ring with 6 sc (6 st)", 6, 0),
    W(1, None, "R1: Ch1, 10hdc in ring, ss to first hdc (10)", 10, 0),
    W(1, None, "Rnd 1: sc 6 into magic ring, tighten ring -- 6 sts", 6, 0),
    W(2, 6, "Rnd 2: (2 sc) in each sc around (12 sc)", 12, 6, every(2, 1, 6)),
    W(2, 6, "R2: Inc in all 6 sts (12)", 12, 6, every(2, 1, 6)),
    W(2, 6, "R2: inc, inc, inc, inc, inc, inc (12)", 12, 6, every(2, 1, 6)),
    W(2, 6, "Rd 2: two sc in each sc to end of round: 12 sc", 12, 6, every(2, 1, 6)),
    W(2, 6, "Rnd 2: [inc] x6 (12 sts), move marker up", 12, 6, every(2, 1, 6)),
    W(3, 12, "R3: 1sc, inc * 6 (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "Rnd 3: *Sc in the first st, 2 sc in the next st. Repeat from * all the way around. (18 stitches)", 18, 12, every(3, 2, 6)),
    W(3, 12, "Rnd 3: sc in next stitch, increase in next stitch; repeat this 6 times in total (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "R3: repeat (sc, inc) around: 18", 18, 12, every(3, 2, 6)),
    W(3, 12, "R3: inc every 2nd st [18]", 18, 12, every(3, 2, 6)),
    W(4, 18, "Rnd 4: Sc in next 2 st, then inc. Rep to end. [24 st]", 24, 18, every(4, 3, 6)),
    W(4, 18, "R4 = (2sc, inc)x6 = 24", 24, 18, every(4, 3, 6)),
    W(4, 18, "R.4: [ 2 sc, 1 inc ] x 6 / 24 sts", 24, 18, every(4, 3, 6)),
    W(4, 18, "Rnd 4: work (sc in next 2 sts, 2 sc in next st) six times. 24 sts on the round.", 24, 18, every(4, 3, 6)),
    W(5, 24, "R5: inc in every fourth stitch (30)", 30, 24, every(5, 4, 6)),
    W(6, 30, "R6: sc in next 2 sts, inc, *sc in next 4 sts, inc; rep from * 4 more times, sc in last 2 sts. (36)", 36, 30, every(6, 3, 6)),
    W(5, 24, "Rnd 5: sc in each of the next 24 sts", 24, 24),
    W(5, 24, "Rnd 5: Sc even (24)", 24, 24),
    W(5, 24, "Rnd 5: no increases, sc around (24)", 24, 24),
    W(5, 24, "Rnd 5: sc around in back loop only [24]", 24, 24),
    W(5, 24, "Rnd 5: switch to blue, 24 sc", 24, 24),
    W(5, 24, "R5: sc x12 in white, sc x12 in red (24)", 24, 24),
    W(5, 24, "Rnd 5: sc 10, ch 1, skip next st, sc 13 (23)", 23, 24),
    W(5, 24, "Rnd 5: sl st in next st, ch 3 (counts as first dc), dc in next 23 sts, join with sl st to top of beginning ch (24)", 24, 24),
    W(8, 24, "Rnd 8: *2 sc, dec; rep from * 5 times more (18)", 18, 24, (), every(3, 3, 6)),
    W(8, 24, "R8: sc in next two, sc next two together -> repeat 6x (18)", 18, 24, (), every(3, 3, 6)),
    W(8, 24, "Rnd 8: [Dec over next 2 sts, sc in next 2 sts] around. Begin stuffing. (18)", 18, 24, (), every(3, 1, 6)),
    W(9, 12, "R9: decrease all around until 6 sts remain", 6, 12, (), every(1, 1, 6)),
    W(8, 30, "R8: dec 6 times evenly spaced (24)", 24, 30),
    W(7, 20, "R7: sc 4, (inc, sc 4) x 3, inc (24)", 24, 20, every(6, 5, 4)),
    W(6, 16, "R6: 7 sc, 2 sc in each of the next 2 sts, 7 sc. (18)", 18, 16, (8, 10)),
    W(6, 16, "R6: hdc in each of first 7 sts, 2 hdc in each of next 2 sts, hdc in each of last 7 sts: 18 hdc", 18, 16, (8, 10)),
    W(3, 24, "Rnd 3: Ch 2 (not a stitch here), *1 dc, 2 dc in the same stitch* to end, slst to close [36]", 36, 24, every(3, 2, 12)),
    W(4, 18, "rnd 4: 24 [= (2 sc, inc) x 6]", 24, 18, every(4, 3, 6)),
)

#: A second such test, after what the first had shown was put right.
LATEST = (
    W(1, None, "Rnd 1 | 6 sc into magic ring | 6", 6, 0),
    W(1, None, "R1\t6 sc in MR\t(6)", 6, 0),
    W(1, None, "Round 1: (Make 6 sc in a magic ring) (6)", 6, 0),
    W(1, None, "Rnd 1. In a ring work: 8 dc. Close with sl st in 1st dc. (8)", 8, 0),
    W(1, None, "Rnd 1: work 6 single crochets into a magic ring. You should have 6 stitches.", 6, 0),
    W(1, None, "Rnd 1: Ch 4 (counts as first dc), 11 more dc in the 4th ch from hook, sl st in top of ch 4 (12)", 12, 0),
    W(1, None, "Rnd 1: MR, ch 2 (doesn't count), 10 hdc. [10]", 10, 0),
    W(1, None, "R1: 6 sts in magic ring", 6, 0),
    W(2, 6, "Rnd 2: sc twice in each st around. (12)", 12, 6, every(2, 1, 6)),
    W(2, 6, "R2: 2sc in each (12)", 12, 6, every(2, 1, 6)),
    W(2, 6, "R2: 6x inc [12]", 12, 6, every(2, 1, 6)),
    W(2, 6, "R2: increase 6 times, 12 sts.", 12, 6, every(2, 1, 6)),
    W(2, 6, "Rnd 2: Increase in every stitch of the previous round (12)", 12, 6, every(2, 1, 6)),
    W(2, 6, "Rnd 2: 2 sc in every sc of Rnd 1 (12)", 12, 6, every(2, 1, 6)),
    W(2, 6, "Round 2 (12 sts): Inc in each st.", 12, 6, every(2, 1, 6)),
    W(2, 10, "Rnd 2: ch 2, 2 hdc in same st, 2 hdc in each of next 9 sts, join (20)", 20, 10, every(2, 1, 10)),
    W(3, 12, "Rnd 3: {1 sc in next st, 2 sc in following st} repeat { } 6 times. (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "Rnd 3: *1 sc, inc 1; repeat from * until end of round (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "R3: ~sc 1, inc~ x 6 (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "R3: sc/inc x 6 (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "R3: 'sc, inc' repeat 6 times (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "R3: alternate sc and inc around (18)", 18, 12, every(3, 2, 6)),
    W(3, 12, "Round 3: * sc 1 stitch, increase in next stitch * repeat between * * 6 times total - 18 sts total", 18, 12, every(3, 2, 6)),
    W(4, 18, "Rnd 4: 2 sc, 2 sc in next st, *sc 2, 2 sc in next st* 5 times (24)", 24, 18, every(4, 3, 6)),
    W(4, 18, "Rnd 4: sc into next 2 sts, work 2 sc into next st - repeat to end (24 sc)", 24, 18, every(4, 3, 6)),
    W(4, 18, "Rnd 4 [24 sts]: *sc 2, inc*, repeat 6x", 24, 18, every(4, 3, 6)),
    W(4, 18, "Rnd 4: sc in first 2 sts, inc in 3rd st; repeat x5 more (24)", 24, 18, every(4, 3, 6)),
    W(5, 24, "Rnd 5: sc 1 rnd even (24)", 24, 24),
    W(5, 24, "Rnd 5: one sc in each stitch (24 sts)", 24, 24),
    W(5, 24, "Rnd 5: 24 single crochets around", 24, 24),
    W(5, 24, "Rnd 5: sc in each of the 24 sts", 24, 24),
    W(5, 24, "Rnd 5: sc all the way around (24).", 24, 24),
    W(5, 24, "Rnd 5: (blue) sc around, (24)", 24, 24),
    W(5, 24, "Rnd 5: color A: sc 12; color B: sc 12 (24)", 24, 24),
    W(5, 24, "R5: sc 6 A, sc 6 B, sc 6 A, sc 6 B (24)", 24, 24),
    W(5, 24, "Rnd 5: *hdc in next 3 sts, sl st in next st; rep from * around (24)", 24, 24),
    W(5, 24, "Rnd 5: 4 sc, ch 2, sk 2 sts, 18 sc", 22, 24),
    W(8, 24, "Rnd 8: (sc in next 2 stitches, sc 2 stitches together) 6 times (18)", 18, 24, (), every(3, 3, 6)),
    W(8, 24, "Rnd 8: *2 sc, 1 dec*, repeat *-* 6 times (18)", 18, 24, (), every(3, 3, 6)),
    W(8, 24, "Rnd 8: dec every 3rd and 4th st (18)", 18, 24, (), every(3, 3, 6)),
    W(9, 12, "Rnd 9: sc2tog x 6, close the hole", 6, 12, (), every(1, 1, 6)),
    W(9, 12, "Rnd 9: Single crochet two together around. (6 sts)", 6, 12, (), every(1, 1, 6)),
    W(9, 12, "Rnd 9: inv. dec. x 6 (6)", 6, 12, (), every(1, 1, 6)),
    W(9, 18, "R9: (dec, sc) 6 times. Sl st in next st. FO. (12)", 12, 18, (), every(2, 1, 6)),
)

#: UK terms: dc is what is sc in US terms, and so on up.
UK = (
    W(1, None, "Rnd 1: 6 dc in magic ring (6)", 6, 0),
    W(2, 6, "Rnd 2: 2 dc in each st around (12)", 12, 6, every(2, 1, 6)),
    W(3, 12, "R3: (dc 1, inc) x 6 [18]", 18, 12, every(3, 2, 6)),
    W(8, 18, "R8: (dc 1, dc2tog) x 6 [12]", 12, 18, (), every(2, 2, 6)),
    W(8, 18, "R8: (dc 1, miss 1 st, dc 1) x 6 (12)", 12, 18),
    W(2, 8, "Rnd 2: 2 htr in each st (16)", 16, 8, every(2, 1, 8)),
    W(2, 12, "Rnd 2: ch 3 (counts as tr), tr in same st, 2 tr in each st around, ss to join (24)", 24, 12, every(2, 1, 12)),
    W(4, 18, "Round 4: *1 double crochet in each of next 2 sts, 2 double crochet in next st; rep from * around", 24, 18, every(4, 3, 6)),
    W(1, None, "Rnd 1: ch 4, ss to form ring, 16 dtr in ring (16)", 16, 0),
    W(5, 24, "Rnd 5: half treble in each st around (24)", 24, 24),
)

#: Text that is no round and is left alone.
PROSE = (
    "A small round cushion",
    "With yarn A",
    "Stuff firmly.",
    "Change to colour B",
    "You need 20 g of cotton and a 3 mm hook.",
    "Place the eyes between rounds 5 and 6, about 4 stitches apart.",
    "sc = single crochet",
    "inc: 2 sc in the same stitch",
    "ch - chain, sl st - slip stitch",
    "dec = decrease",
    "Fasten off and leave a long tail for sewing.",
    "(sc 2, inc) x 6 means: work the brackets six times.",
    "Work in a spiral, do not join.",
    "1 ball of yarn, 50 g",
    "Gauge: 5 sc = 2 cm",
    "***",
    "Finished size: 12 cm x 8 cm",
    "ABBREVIATIONS",
    "Don't stop, don't turn!",
)
