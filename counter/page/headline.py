"""What stands on top of a result: one count, how sure it is, one verdict and the next step."""

from __future__ import annotations

from html import escape

import streamlit as st

from counter.basics import words
from counter.basics.answer import Count
from counter.comparing.questions import Question, what_decides
from counter.comparing.verdict import MOST_EXPECTED, Verdict
from counter.page.edits import Edits
from counter.page.session import bound
from counter.page.show import EYE, NOTE, TICK, lines
from counter.showing.sentences import advice_words, remark_words, verdict_words

__all__ = ["answer", "details", "finished", "next_step", "odds", "reason", "under_way"]

#: Most rounds that can have been worked since.
MOST_SINCE = 50
#: Numbers that are shown may leave out this much of the probability before the others are named.
UNNAMED_PROBABILITY = 0.03
#: By its probability: how likely a number is, in words; a percentage beside "not sure" would speak for itself.
LIKELY = ((0.7, "most"), (0.4, "well"), (0.12, "may"), (0.0, "hardly"))


def reason(count: Count, questions: tuple[Question, ...], edits: Edits) -> str:
    """What decides whether a count is sure, in one line.

    Parameters
    ----------
    count : Count
        As it stands.
    questions : tuple of Question
        What was asked about it.
    edits : Edits

    Returns
    -------
    str
    """
    if count.sure:
        return words.SURE_DETAIL
    if edits.around is not None:
        return count.reason
    still = [question for k, question in enumerate(questions) if k not in edits.answers]
    if edits.answers:
        return words.ASKED_DETAIL.format(left=len(still))
    return remark_words(what_decides(count, still))


def answer(own: Count, count: Count, edits: Edits, by_person: bool) -> None:
    """Show the count and how sure it is.

    Parameters
    ----------
    own : Count
        The photo's own.
    count : Count
        As it stands.
    edits : Edits
    by_person : bool
        A person has decided.
    """
    numbers = sorted(count.likely)
    shown = f"<i>{words.OR.strip()}</i>".join(str(n) for n in numbers)
    if by_person:
        who, icon, state = words.YOU_SAY, TICK, words.YOURS
        same = own.likely == (count.stitches,)
        detail = "" if same else words.YOURS_DETAIL.format(numbers=words.either(own.likely))
    else:
        begun = edits.answers or edits.corrected or edits.around is not None
        who = words.SO_FAR if begun else words.PHOTO_SAYS
        icon, state = (TICK, words.SURE) if count.sure else (EYE, words.NOT_SURE)
        detail = reason(count, edits.questions, edits)
    more = [words.rounds(own.rounds)] if own.rounds else []
    detail = words.together(detail, *(words.sentence(said) for said in more))
    # Who puts the marks by hand is not told how sure the photo is of them.
    pill = "" if edits.around is not None else f'<b class="pill">{icon}{state}</b>'
    many = " many" if len(numbers) > 2 else " two" if len(numbers) > 1 else ""
    st.html(
        f'<div class="answer" role="status" tabindex="-1"><div class="who">{who}</div>'
        f'<div class="row"><div class="total{many}" data-total="{words.OR.join(map(str, numbers))}">'
        f"{shown}<small>{words.STITCHES}</small></div>"
        f"{pill}</div>"
        f'<p class="why">{escape(detail)}</p></div>'
    )


def odds(count: Count) -> None:
    """How likely each of several numbers is: as long as the bars, and in words."""
    numbers = sorted(count.likely)
    if len(numbers) < 2:
        return
    rows = [(str(n), count.posterior.get(n, 0.0)) for n in numbers]
    others = 1 - sum(chance for _, chance in rows)
    if others > UNNAMED_PROBABILITY:
        rows.append((words.OTHERS, others))
    bars = "".join(
        f'<b>{escape(said)}</b><div><div style="width:{chance:.0%}"></div></div><span>{_likely(chance)}</span>'
        for said, chance in rows
    )
    st.html(f'<div class="odds">{bars}</div>')


def _likely(chance: float) -> str:
    return words.LIKELY[next(said for least, said in LIKELY if chance >= least)]


def finished() -> None:
    """Ask whether the round is finished; a person can always say so, or not yet."""
    key, changed = bound("finished", None)
    st.segmented_control(
        words.IS_FINISHED, [True, False], key=key, on_change=changed,
        format_func=lambda finished: words.FINISHED if finished else words.NOT_YET,
    )  # fmt: skip


def under_way(done: int, left: int, expected: int | None, rest: str, by_person: bool) -> None:
    """Show how far a round is.

    Parameters
    ----------
    done, left : int
        Stitches made; stitches of the round below that nothing was worked into yet.
    expected : int or None
        What the finished round should hold.
    rest : str
        The next stitches of the pattern; empty where it doesn't tell.
    by_person : bool
        A person said how far it is.
    """
    to_go = left if expected is None else max(expected - done, 0)
    share = done / (expected or done + left)
    unit = words.TO_GO if expected is not None else words.LEFT_BELOW
    who = words.YOU_SAY if by_person else words.PHOTO_SAYS
    st.html(
        f'<div class="answer" role="status" tabindex="-1"><div class="who">{who}</div>'
        f'<div class="row"><div class="total two" data-total="{done}" data-left="{to_go}">{done}'
        f"<small>{words.MADE}</small><i>·</i>{to_go}<small>{unit}</small></div></div>"
        f'<div class="so-far" role="img" aria-label="{words.percent(min(share, 1))}">'
        f'<div style="width:{min(share, 1):.1%}"></div></div></div>'
    )
    if rest:
        st.html(f'<p class="do"><b>{escape(words.GO_ON_WITH)}</b></p>')
        st.code(rest, language=None, wrap_lines=True)


def next_step(count: Count, verdict: Verdict | None) -> None:
    """The verdict, and the one thing to do next."""
    if verdict is None:
        return
    kind, icon = {"agrees": ("agrees", TICK), "can't say": ("open", EYE)}.get(verdict.verdict, ("off", NOTE))
    expected = words.EXPECTED_SHORT.format(n=verdict.expected)
    careful = f"<p>{escape(words.CAUTION)}</p>" if kind == "off" else ""
    st.html(
        f'<div class="verdict {kind}" role="status"><h2>{icon}{escape(words.headline(verdict.off_by))}'
        f" <small>{escape(expected)}</small></h2>{careful}</div>"
    )
    advice = verdict.advice
    if advice and (count.sure or verdict.off_by is not None):
        main = next((text for text in advice_words(advice) if text != words.CAUTION), "")
        with st.container(key="next-step"):
            made_up = advice.adjusted if advice.action == "take up" else None
            if made_up and made_up not in main:
                lines([main])  # that it matches its twin comes before what to do
            st.html(f'<p class="do"><b>{escape(words.TAKE_UP if made_up else main)}</b></p>')
            if verdict.off_by:
                finished()
            if made_up:
                st.code(advice.adjusted, language=None, wrap_lines=True)
                if not st.session_state.pattern.strip():
                    lines([words.PLAIN_NEXT])


def details(count: Count, verdict: Verdict | None) -> None:
    """All else that is to be said about a count and its verdict, folded."""
    advice = verdict.advice if verdict else None
    rest = [text for text in advice_words(advice) if text != words.CAUTION][1:]
    if len(count.likely) < 2 and not rest and not (verdict and verdict.off_by):
        return
    with st.expander(words.DETAILS, icon=":material/more_horiz:", key=f"details-{st.session_state.turn}"):
        odds(count)
        if verdict is not None and not count.sure:
            lines([verdict_words(verdict)])
        with st.container(key="advice"):
            lines(rest)
            if advice and advice.adjusted and advice.action != "take up":
                st.code(advice.adjusted, language=None, wrap_lines=True)
            if verdict and verdict.off_by:
                key, changed = bound("twin", False)
                st.toggle(words.TWIN, key=key, on_change=changed)
                if st.session_state.twin:
                    key, changed = bound("twin_holds", None)
                    st.number_input(
                        words.TWIN_HOLDS, min_value=1, max_value=MOST_EXPECTED, value=None, step=1, key=key,
                        on_change=changed, placeholder=words.EXPECTED_NONE,
                    )  # fmt: skip
                key, changed = bound("since", 0)
                st.number_input(words.SINCE, min_value=0, max_value=MOST_SINCE, step=1, key=key, on_change=changed)
