"""What the count is held against: the round on the hook of a pasted plan, or a total."""

from __future__ import annotations

from functools import lru_cache

import streamlit as st

from counter.basics.language import said_now
from counter.notebook.values import Goal
from counter.page.session import session
from counter.plan import Plan, PlanRound, read_plan, write_plan

__all__ = ["chain_matters", "goal_of_session", "hooked", "plan_of_session", "read"]


@lru_cache(maxsize=64)
def _read(text: str, uk: bool, chain_counts: bool | None, piece: str | None, size: str | None, language: str) -> Plan:
    """Written rounds as a plan, with what is said about them; read once however often the page is drawn."""
    plan = read_plan(text, uk=uk, size=size, chain_counts=chain_counts)
    if len(plan.pieces) < 2:
        return plan
    names = [own.name for own in plan.pieces]
    return read_plan(text, uk=uk, piece=piece if piece in names else names[0], size=size, chain_counts=chain_counts)


def read() -> Plan:
    """The pattern of the session, for the piece and the size that are made."""
    state = session()
    return _read(state.pattern, state.uk, state.chain, state.part, state.made_size, said_now())


def chain_matters() -> bool:
    """Whether rounds of the pattern hold another number where the chain that they begin with counts as a stitch."""
    state = session()
    one, other = (
        _read(state.pattern, state.uk, counts, state.part, state.made_size, said_now()) for counts in (True, False)
    )
    return [own.stitches for own in one.rounds] != [own.stitches for own in other.rounds]


def plan_of_session() -> Plan | None:
    """The plan that was pasted, None where it has no round that can be read."""
    plan = read() if st.session_state.pattern.strip() else None
    return plan if plan and plan.rounds else None


def hooked(plan: Plan) -> PlanRound | None:
    """The round on the hook, None where the photo is to say; a number that the plan lacks is let go."""
    own = None if st.session_state.hook is None else plan.round(st.session_state.hook)
    if own is None:
        st.session_state.hook = None
    return own


def goal_of_session() -> Goal:
    """All of it, for the notebook: the plan where there is one, else the total of the photo or of the sheet."""
    state = session()
    plan = plan_of_session()
    terms = {
        "uk": state.uk, "twin": state.twin, "since": state.get("since", 0), "finished": state.get("finished"),
        "twin_holds": state.get("twin_holds") if state.twin else None,
    }  # fmt: skip
    if plan is None:
        alone = state.get("answer") is not None and state.opened is None
        total = state.get("expected") if alone else state.all_total
        return Goal(expected=total, **terms)
    own = hooked(plan)
    # Of several pieces, sizes or readings only the rounds that the count was held against go with it.
    one = len(plan.pieces) < 2 and not plan.sizes and state.chain is None
    text = state.pattern if one else write_plan(plan, uk=state.uk)
    return Goal(plan=text, round=None if own is None else own.round, **terms)
