"""What the count is held against: the round on the hook of a pasted plan, or a total."""

from __future__ import annotations

from functools import lru_cache

import streamlit as st

from counter.notebook.store import Goal
from counter.plan import Plan, PlanRound, read_plan

__all__ = ["goal_of_session", "hooked", "plan_of_session", "read"]


@lru_cache(maxsize=64)
def read(text: str, uk: bool) -> Plan:
    """Written rounds as a plan; read once however often the page is drawn."""
    return read_plan(text, uk=uk)


def plan_of_session() -> Plan | None:
    """The plan that was pasted, None where it has no round that can be read."""
    plan = read(st.session_state.pattern, st.session_state.uk) if st.session_state.pattern.strip() else None
    return plan if plan and plan.rounds else None


def hooked(plan: Plan) -> PlanRound | None:
    """The round on the hook, None where the photo is to say; a number that the plan lacks is let go."""
    own = None if st.session_state.hook is None else plan.round(st.session_state.hook)
    if own is None:
        st.session_state.hook = None
    return own


def goal_of_session() -> Goal:
    """All of it, for the notebook: the plan where there is one, else the total of the photo or of the sheet."""
    state = st.session_state
    plan = plan_of_session()
    terms = {"uk": state.uk, "twin": state.twin, "since": state.get("since", 0)}
    if plan is None:
        alone = state.get("answer") is not None and state.opened is None
        total = state.get("expected") if alone else state.all_total
        return Goal(expected=total, **terms)
    own = hooked(plan)
    return Goal(plan=state.pattern, round=own and own.round, **terms)
