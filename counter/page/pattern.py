"""Your pattern: written rounds that are pasted once, kept, and stepped through."""

from __future__ import annotations

from html import escape

import streamlit as st

from counter.basics import words
from counter.comparing.check import Check
from counter.lengths.flatness import flatness_of_plan
from counter.page import saving
from counter.page.goal import chain_matters, hooked, plan_of_session, read
from counter.page.keeping import ask_for_photo
from counter.page.link import LONGEST_TEXT, pack
from counter.page.session import bound, kept
from counter.page.show import lines, paper_for, plain
from counter.plan import Plan, PlanLine, PlanRound, in_terms, staggered, write_plan
from counter.showing.checklist import plan_page
from counter.showing.sentences import round_words

__all__ = ["choices", "next_photo", "panel", "round_card", "written"]

#: Findings that are shown, rounds that the photo may be, and rounds that are shown without scrolling.
MOST_FINDINGS, MOST_CHOICES, MOST_ROWS = 6, 4, 7
#: Height of the list where it scrolls, in pixels: half a row shows that there are more.
LIST_HEIGHT_PX = 405
#: Lines of the text that are shown with what they were taken for, and signs of each.
MOST_LINES, LONGEST_SHOWN = 300, 90


def written(text: str) -> str:
    """A round's instructions in the terms that the person reads."""
    return in_terms(text, False, st.session_state.uk)


def _named(own: PlanRound) -> str:
    return words.ROUND_ROW.format(n=own.round, total=words.UNKNOWN if own.stitches is None else own.stitches)


# The round on the hook -----------------------------------------------------


def round_card(plan: Plan, shown: PlanRound | None, short: bool = False) -> None:
    """Show one round of the plan, with a step to either side.

    Parameters
    ----------
    plan : Plan
    shown : PlanRound or None
        The round on the hook, or the one that the photo speaks for; None where
        it is open.
    short : bool, optional
        In one line: beside a count, which says more.
    """
    numbers = list(dict.fromkeys(own.round for own in plan.rounds))
    at = numbers.index(shown.round) if shown else -1
    if shown:
        head = words.ROUND_OF.format(n=shown.round, last=numbers[-1])
        total = words.NO_TOTAL if shown.stitches is None else words.TOTAL.format(n=shown.stitches)
        text = "" if short else escape(written(shown.text)) or "&nbsp;"
    else:
        head, total, text = words.WHICH, "", "" if short else escape(words.WHICH_HINT)
    with st.container(key="hook"), st.container(key="hook-line" if short else None, horizontal=short):
        who = "" if short else f'<div class="who">{words.HOOK}</div>'
        text = f"<p>{text}</p>" if text else ""
        st.html(f'<div class="hook">{who}<b>{escape(head)}</b> <span>{escape(total)}</span>{text}</div>')
        with st.container(horizontal=True, gap="small"):
            st.button(
                words.BEFORE, key="before", on_click=_hook, args=(numbers[max(at - 1, 0)],), disabled=at < 1,
                icon=":material/chevron_left:", width="stretch",
            )  # fmt: skip
            st.button(
                words.NEXT, key="next", on_click=_hook, args=(numbers[min(at + 1, len(numbers) - 1)],),
                disabled=at == len(numbers) - 1, icon=":material/chevron_right:", width="stretch",
            )  # fmt: skip


def choices(plan: Plan, check: Check) -> None:
    """Say which rounds the photo may show, best first, each to be chosen with a tap."""
    lines(round_words(check))
    near = [own for fit in check.fits[:MOST_CHOICES] if (own := plan.round(fit.round))]
    # One that is taken already is no choice.
    if near and near != [check.compared]:
        with st.container(horizontal=True, gap="small", key="choices"):
            for own in near:
                taken = check.compared is not None and check.compared.round == own.round
                st.button(
                    _named(own), key=f"fit-{own.round}", on_click=_hook, args=(own.round,),
                    icon=":material/check:" if taken else None,
                )  # fmt: skip


def _hook(number: int | None) -> None:
    st.session_state.hook = number


def following(plan: Plan, compared: PlanRound) -> PlanRound | None:
    """The round after the one that the photo shows; None where that is the last."""
    return next((own for own in plan.rounds if own.round > compared.round), None)


def next_photo(next_one: PlanRound) -> None:
    """Offer to go on: the next round, and a photo of it.

    Parameters
    ----------
    next_one : PlanRound
        The round that follows the one that the photo shows.
    """
    st.button(
        words.NEXT_PHOTO, key="next-photo", on_click=_go_on, args=(next_one.round,), width="stretch",
        icon=":material/photo_camera:", type="primary",
    )  # fmt: skip


def _go_on(number: int) -> None:
    ask_for_photo(hook=number)


# The text and its rounds ---------------------------------------------------


def panel() -> None:
    """The pattern as text, what is to be said about it, and its rounds to choose from."""
    plan = plan_of_session()
    # With each photo it begins closed: the count comes first.
    key = f"pattern-open-{st.session_state.turn}"
    with st.expander(words.PATTERN, key=key, on_change="rerun", icon=":material/notes:") as box:
        if not box.open:
            return
        key, changed = bound("pattern", "")
        st.text_area(
            words.PASTE, key=key, on_change=changed, height=170, max_chars=LONGEST_TEXT, placeholder=words.PASTE_EXAMPLE
        )
        with st.container(horizontal=True, vertical_alignment="center", horizontal_alignment="distribute"):
            # Leaving the box has it read already: the button is where a thumb goes next.
            st.button(words.READ, key="read", icon=":material/done:")
            key, changed = bound("uk", False)
            st.toggle(words.UK, key=key, on_change=changed)
        if not st.session_state.pattern.strip():
            return
        whole = read()
        _choose(whole)
        _chain()
        _findings(whole)
        if plan:
            _rounds(plan)
            lines(flatness_of_plan(plan, uk=st.session_state.uk).words)
            lines([words.LINK if pack(kept()) else words.NO_LINK])
        _line_by_line(whole, st.session_state.pattern)
        if plan:
            _copies(plan)
        st.button(words.PUT_AWAY, key="put-away", on_click=_put_away, type="tertiary", icon=":material/close:")


def _choose(plan: Plan) -> None:
    """Let a person say which piece and which size is made, where the pattern has several."""
    names = [own.name for own in plan.pieces]
    if len(names) > 1:
        if st.session_state.part not in names:
            st.session_state.part = names[0]
        many = {own.name: own.make for own in plan.pieces}
        key, changed = bound("part", names[0])
        st.selectbox(
            words.WHICH_PIECE, names, key=key, on_change=changed,
            format_func=lambda name: plain(
                words.PIECE_MAKE.format(name=name, n=many[name]) if many[name] > 1 else name
            ),
        )  # fmt: skip
    if plan.sizes:
        if st.session_state.made_size not in plan.sizes:
            st.session_state.made_size = plan.sizes[0]
        key, changed = bound("made_size", plan.sizes[0])
        st.selectbox(words.WHICH_SIZE, plan.sizes, key=key, on_change=changed, format_func=plain)


def _chain() -> None:
    """Let a person say whether the chain that rounds begin with counts, where the pattern leaves it open."""
    if not chain_matters():
        return
    key, changed = bound("chain", None)
    st.segmented_control(
        words.CHAIN_COUNTS, [True, False], key=key, on_change=changed,
        format_func=lambda counts: words.YES if counts else words.NO,
    )  # fmt: skip


def _line_by_line(plan: Plan, text: str) -> None:
    """What every line of the text was taken for."""
    if len(plan.lines) < 2:
        return
    written_lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    rows = "".join(
        f'<li class="{line.what}"><b>{line.line}</b> <span>{escape(_taken_for(line))}</span>'
        f"<i>{escape(written_lines[line.line - 1].strip()[:LONGEST_SHOWN])}</i></li>"
        for line in plan.lines[:MOST_LINES]
        if line.line <= len(written_lines)
    )
    st.html(f'<details class="taken"><summary>{escape(words.LINE_BY_LINE)}</summary><ol>{rows}</ol></details>')


def _taken_for(line: PlanLine) -> str:
    if line.what == "round":
        many = words.ROUND_N if len(line.rounds) == 1 else words.ROUNDS_N
        return many.format(n=line.rounds[0], last=line.rounds[-1])
    return words.REMARKS[line.remark] if line.what == "remark" else words.LINE_FOUND


def _copies(plan: Plan) -> None:
    """The pattern written anew: to copy, to tick off, with increases shifted where a person likes."""
    with st.container(key="clean-copy"):
        st.html(f"<h3>{escape(words.CLEAN_COPY)}</h3>")
        key, changed = bound("stagger", False)
        st.toggle(words.STAGGER, key=key, on_change=changed)
        shown = staggered(plan) if st.session_state.stagger else plan
        uk = st.session_state.uk
        st.code(write_plan(shown, uk=uk, check_list=True), language=None, wrap_lines=True)
        paper = paper_for(st.context.locale)
        saving.offer(
            "checklist", words.SAVE_LIST, lambda: plan_page(shown, title=shown.piece or "", uk=uk, paper=paper),
            words.SAVE_LIST_NAME, "application/pdf", "checklist",
        )  # fmt: skip


def _findings(plan: Plan) -> None:
    if not plan.findings:
        return
    rows = "".join(
        f"<li><b>{words.LINE.format(n=found.line)}</b> {escape(found.what)} <span>{escape(found.fix)}</span></li>"
        for found in plan.findings[:MOST_FINDINGS]
    )
    more = len(plan.findings) - MOST_FINDINGS
    rest = f"<li>{words.MORE_FINDINGS.format(n=more)}</li>" if more > 0 else ""
    st.html(f'<div class="findings" role="status"><h2>{words.FINDINGS}</h2><ul>{rows}{rest}</ul></div>')


def _rounds(plan: Plan) -> None:
    """Every round, to be tapped; the one on the hook is marked."""
    rows = {own.round: own for own in reversed(plan.rounds)}
    known = list(dict.fromkeys(own.round for own in plan.rounds))
    numbers: list[int | None] = [None, *known]
    hooked(plan)
    key, changed = bound("hook", None)
    scrolls = len(numbers) > MOST_ROWS
    with st.container(height=LIST_HEIGHT_PX if scrolls else "content", key="rounds", border=False):
        st.radio(
            words.CHOOSE,
            numbers,
            key=key,
            on_change=changed,
            format_func=lambda number: words.LET_PHOTO_SAY if number is None else plain(_named(rows[number])),
            captions=["", *(plain(written(rows[number].text)) for number in known)],
        )


def _put_away() -> None:
    st.session_state.update(pattern="", hook=None, part=None, made_size=None, chain=None)
