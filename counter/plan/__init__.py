"""Written rounds: what each should hold, whether the pattern agrees with itself, and rounds written anew."""

from counter.plan.adjust import adjusted_round
from counter.plan.read import read_plan
from counter.plan.stagger import staggered
from counter.plan.stitches import in_terms
from counter.plan.values import Finding, Plan, PlanLine, PlanPiece, PlanRound, Shaping
from counter.plan.write import plan_data, write_plan

__all__ = [
    "Finding",
    "Plan",
    "PlanLine",
    "PlanPiece",
    "PlanRound",
    "Shaping",
    "adjusted_round",
    "in_terms",
    "plan_data",
    "read_plan",
    "staggered",
    "write_plan",
]
