import base64
import io
import logging
import re
import sys
import tomllib
import zlib
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from urllib.parse import parse_qsl

import cv2
import numpy as np
import pypdfium2
import pytest
import streamlit
from hypothesis import given
from hypothesis import strategies as st
from paging import (
    HOME,
    PLAN,
    STATE,
    State,
    counted,
    dropped,
    groups,
    kept_in,
    monkeypatched_bar,
    opened,
    pressed,
    shown,
    with_plan,
)
from PIL import Image
from streamlit.testing.v1 import AppTest

from counter.basics import words
from counter.basics.answer import InProgress, Refusal
from counter.basics.photo import read_photo
from counter.counting.count import count_photo
from counter.lengths.flatness import flatness_of_plan
from counter.lengths.mat import mat_page
from counter.lengths.pair import compare_pieces
from counter.lengths.scale import NoScale, find_scale, scale_from_diameter
from counter.lengths.sizing import size_up
from counter.page import OPTIONS, command
from counter.page.edits import Edits, persons_count
from counter.page.link import LONGEST_LINK, LONGEST_TEXT, LinkedPlan, pack, unpack
from counter.page.rim_picture import PICTURE_SIDE_PX, browser_picture, requested
from counter.page.rim_strip import lay_rim_straight
from counter.page.several import MOST_PHOTOS, count_several
from counter.page.show import plain
from counter.page.turns import Turns
from counter.plan import read_plan

ROOT = Path(__file__).parents[1]


def test_start_asks_for_a_photo(sample, page):
    assert not page.exception
    assert words.LEAD in shown(page) and words.PRIVATE in shown(page)
    assert page.toggle[0].label == words.CAMERA


def test_sample_has_the_answer_that_the_program_gives_everywhere(sample, page):
    answer = count_photo(sample)
    next(button for button in page.button if button.key.startswith("sample-")).click().run()
    assert not page.exception
    got = page.session_state["answer"]
    assert type(got) is type(answer)
    if hasattr(answer, "posterior"):
        # Sums may be taken in another order in another thread.
        assert got.posterior == pytest.approx(answer.posterior, abs=1e-6)
        assert (got.likely, got.sure, got.rounds) == (answer.likely, answer.sure, answer.rounds)
    else:
        assert got == answer


@pytest.mark.parametrize(
    ("expected", "said"),
    [(24, "It agrees"), (25, "Short by 1"), (22, "Over by 2")],
)
def test_sure_count_is_compared(sample, page, make_count, monkeypatch, expected, said):
    page = counted(page, make_count({24: 0.99, 23: 0.01}), monkeypatch)
    assert 'data-total="24"' in shown(page) and words.SURE in shown(page)
    page.number_input("expected-shown").set_value(expected).run()
    assert said in shown(page)
    assert ("before you rip" in shown(page)) == (expected != 24)


def test_unsure_count_shows_its_numbers_and_where_to_look(sample, page, make_count, monkeypatch):
    doubts = [(1, (320.0, 120.0), "one stitch or two")]
    page = counted(page, make_count({24: 0.6, 23: 0.4}, sure=False, doubts=doubts), monkeypatch)
    assert 'data-total="23 or 24"' in shown(page) and words.UNSURE_ONE in shown(page)
    page.number_input("expected-shown").set_value(24).run()
    assert words.VERDICTS["can't say"] in shown(page) and "before you rip" in shown(page)


def read(page):
    """What a person reads of the answer and of what is more about it."""
    bodies = (element.proto.body for element in page.get("html"))
    return " ".join(re.sub("<[^>]*>", " ", body) for body in bodies if 'class="answer' in body or 'class="odds' in body)


def test_no_percentage_stands_beside_sure(sample, page, make_count, monkeypatch):
    page = counted(page, make_count({24: 0.87, 23: 0.13}), monkeypatch)
    assert words.SURE in read(page) and "%" not in read(page)


def test_numbers_add_up_or_the_others_are_named(sample, page, make_count, monkeypatch):
    unsure = make_count({24: 0.6, 23: 0.3, 25: 0.06, 26: 0.04}, sure=False)
    page = counted(page, replace(unsure, likely=(24, 23)), monkeypatch)
    assert words.OTHERS in read(page) and "%" not in read(page)
    assert all(words.LIKELY[kind] in read(page) for kind in ("well", "may", "hardly"))


def test_round_under_way_says_what_is_left_and_the_next_stitches(sample, page, make_count, monkeypatch):
    with_plan(page, hook=4)  # (sc 2, inc) x 6 [24]
    count = make_count({20: 1.0}, in_progress=InProgress(12, 8, (300.0, 120.0)))
    page = counted(page, count, monkeypatch)
    assert not page.exception
    assert 'data-total="12" data-left="12"' in shown(page)
    assert page.code[0].value == "(sc 2, inc) x 3"
    # A person can always say otherwise.
    page.session_state["finished"] = True
    page.run()
    assert 'data-total="20"' in shown(page) and "Short by 4" in shown(page)
    page.session_state["finished"], page.session_state["made"] = False, 15
    page.run()
    assert 'data-total="16" data-left="8"' in shown(page) and page.code[0].value == "(sc 2, inc) x 2"


def test_person_who_looked_settles_it(sample, page, make_count, monkeypatch):
    page = counted(page, make_count({24: 0.6, 23: 0.4}, sure=False), monkeypatch)
    page.number_input("expected-shown").set_value(24).run()
    next(button for button in page.button if button.label == words.CONFIRM.format(n=24)).click().run()
    assert words.YOU_SAY in shown(page) and words.VERDICTS["agrees"] in shown(page)
    assert "23 or 24" in shown(page)  # what the photo says by itself stays there


def test_rim_picture_is_told_the_marks_and_the_places_in_doubt(sample, page, mounted, make_count, monkeypatch):
    doubts = [(n, (320.0, 120.0 + n), f"why {n}") for n in range(1, 7)]
    page = counted(page, make_count({24: 0.6, 23: 0.4}, sure=False, doubts=doubts), monkeypatch)
    assert not page.exception
    data = mounted["data"]
    assert [mark["name"] for mark in data["marks"]] == list(range(24))
    assert data["marks"][6]["label"] == "Mark 7 of 24, near 9 o'clock"
    assert [doubt["letter"] for doubt in data["doubts"]] == ["A", "B", "C", "D"]
    assert [ask["letter"] for ask in data["asks"]] == ["A", "B", "C", "D"]
    assert all(ask["ask"] == words.ASK_RIGHT for ask in data["asks"])
    assert all(ask["crop"].startswith("data:image/jpeg;base64,") for ask in data["asks"])
    assert data["can"] == {"undo": False, "redo": False, "restart": False}


def test_rim_is_laid_straight_once_for_each_photo(sample, page, mounted, make_count, monkeypatch):
    made = []

    def lay(photo, count):
        made.append(count)
        return lay_rim_straight(photo, count)

    monkeypatch.setattr("counter.page.rim_picture.lay_rim_straight", lay)
    page = counted(page, make_count({24: 0.99, 23: 0.01}), monkeypatch)
    strip = mounted["pictures"]["strip"]
    assert strip["picture"].startswith("data:image/jpeg;base64,") and len(strip["rim"]) > 24
    page.session_state["edits"] = page.session_state["edits"].remove(3)
    page.run()
    assert not page.exception and mounted["pictures"]["strip"] == strip and len(made) == 1
    next(button for button in page.button if button.label == words.AGAIN).click().run()
    assert "strip" not in page.session_state
    page = counted(page, make_count({30: 0.99, 29: 0.01}), monkeypatch)
    assert mounted["pictures"]["strip"] != strip and [count.stitches for count in made] == [24, 30]


def test_places_are_enlarged_again_only_where_marks_changed(sample, page, mounted, make_count, monkeypatch):
    doubts = [(n, (320.0, 120.0 + n), f"why {n}") for n in range(1, 4)]
    page = counted(page, make_count({24: 0.6, 23: 0.4}, sure=False, doubts=doubts), monkeypatch)
    before = [ask["crop"] for ask in mounted["data"]["asks"]]
    made = []
    monkeypatch.setattr(
        "counter.page.rim_picture.crop_doubt", lambda *given: made.append(given) or np.zeros((9, 9, 3), np.uint8)
    )
    page.number_input("expected-shown").set_value(24).run()
    assert not made and [ask["crop"] for ask in mounted["data"]["asks"]] == before
    page.session_state["edits"] = page.session_state["edits"].apply({"do": "remove", "name": 5}, (640, 480))
    page.run()
    assert len(made) == 3


def test_edits_from_the_browser_arrive(sample, page, mounted, make_count, monkeypatch):
    page = counted(page, make_count({24: 0.99, 23: 0.01}), monkeypatch)
    state = State({name: page.session_state[name] for name in STATE if name in page.session_state})
    state[mounted["key"]] = SimpleNamespace(edits=[{"serial": 1, "do": "remove", "name": 3}])
    with monkeypatch.context() as patch:
        patch.setattr(streamlit, "session_state", state)
        mounted["on_edits_change"]()
    page.session_state["edits"], page.session_state["seen"] = state.edits, state.seen
    page.run()
    assert not page.exception
    assert 'data-total="23"' in shown(page)
    assert mounted["data"]["seen"] == 1 and mounted["data"]["can"]["undo"]
    assert words.YOU_SAY in shown(page)


def test_marks_stand_in_a_table_for_those_who_do_not_see_the_picture(sample, page, make_count, monkeypatch):
    doubts = [(5, (320.0, 120.0), words.IN_DOUBT["two"], "two"), (9, (320.0, 520.0), "part of the rim is hidden")]
    with_plan(page, hook=4)
    page = counted(page, make_count({24: 0.6, 25: 0.4}, sure=False, doubts=doubts), monkeypatch)
    assert words.MARKS_CAPTION.format(n=24) not in shown(page)  # drawn only when it is unfolded
    page = opened(page, "marks")
    assert words.MARKS_CAPTION.format(n=24) in shown(page)
    page.session_state["edits"] = page.session_state["edits"].answer(0, 1)
    rows = re.findall(r'<th scope="row">(\d+)</th><td>(.*?)</td><td>(.*?)</td>', shown(opened(page, "marks")))
    numbers, near, known = zip(*rows, strict=True)
    assert list(map(int, numbers)) == list(range(1, 26))
    # Counter-clockwise from a little before twelve o'clock.
    assert near[0] == "12 o'clock" and near[24] == "12 o'clock" and near[12] == "6 o'clock"
    assert known[0].startswith(words.MARK_FIRST)
    # The place that is still open keeps its letter; the mark that the answer added is said to be the person's.
    (added,) = [k for k, mark in enumerate(page.session_state["edits"].marks) if mark.added]
    assert words.MARK_YOURS in known[added]
    assert sum("place B: part of the rim is hidden" in said for said in known) == 1
    assert not any("place A" in said for said in known)


def test_answers_settle_the_count_at_once(sample, page, mounted, make_count, monkeypatch):
    doubts = [(1, (320.0, 120.0), words.IN_DOUBT["two"], "two"), (13, (320.0, 520.0), "part of the rim is hidden")]
    page = counted(page, make_count({24: 0.6, 25: 0.4}, sure=False, doubts=doubts), monkeypatch)
    page.number_input("expected-shown").set_value(25).run()
    assert words.VERDICTS["can't say"] in shown(page)
    page.session_state["edits"] = page.session_state["edits"].answer(0, 1)
    page.run()
    assert words.ASKED_DETAIL.format(left=1) in shown(page) and words.SO_FAR in shown(page)
    assert mounted["data"]["asks"][0]["answers"][1] == {"words": words.TWO, "change": 1, "chosen": True}
    assert [doubt["letter"] for doubt in mounted["data"]["doubts"]] == ["B"]
    page.session_state["edits"] = page.session_state["edits"].answer(1, 0)
    page.run()
    assert not page.exception
    assert 'data-total="25"' in shown(page) and words.YOU_SAY in shown(page) and "It agrees" in shown(page)


def test_correction_is_the_persons_count(sample, page, make_count, monkeypatch):
    page = counted(page, make_count({24: 0.99, 23: 0.01}), monkeypatch)
    page.number_input("expected-shown").set_value(24).run()
    edits = page.session_state["edits"]
    page.session_state["edits"] = edits.remove(3)
    page.run()
    assert 'data-total="23"' in shown(page) and "Short by 1" in shown(page) and words.YOU_SAY in shown(page)
    page.session_state["edits"] = edits.remove(3).undo()
    page.run()
    assert 'data-total="24"' in shown(page) and words.PHOTO_SAYS in shown(page)


def test_another_photo_starts_afresh(sample, page, make_count, monkeypatch):
    page = counted(page, make_count({24: 1.0}), monkeypatch)
    page.number_input("expected-shown").set_value(30).run()
    next(button for button in page.button if button.label == words.AGAIN).click().run()
    assert "answer" not in page.session_state and "photo" not in page.session_state
    page = counted(page, make_count({24: 1.0}), monkeypatch)
    # A total belongs to one round: the last one's would give the next a false verdict.
    assert page.number_input("expected-shown").value is None


def test_refusal_is_said_calmly(sample, page, monkeypatch):
    refusal = read_photo(b"dear maker")
    page = counted(page, refusal, monkeypatch)
    assert not page.exception
    assert words.REFUSED in shown(page) and refusal.reason in shown(page) and refusal.hint in shown(page)
    assert page.toggle[0].label == words.CAMERA  # the next photo can be chosen at once


def test_failure_shows_nothing_of_the_inside(sample, page, monkeypatch, caplog):
    def fail(photo):
        raise RuntimeError("entrails")

    with caplog.at_level(logging.ERROR):
        page = counted(page, fail, monkeypatch)
    assert not page.exception
    assert words.BROKEN in shown(page) and "entrails" not in shown(page)
    assert "entrails" in caplog.text


def test_both_ways_of_starting_serve_alike():
    config = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text(encoding="utf-8"))

    def flat(table, before=""):
        for name, value in table.items():
            if isinstance(value, dict):
                yield from flat(value, f"{before}{name}.")
            else:
                yield before + name, str(value).lower() if isinstance(value, bool) else str(value)

    assert dict(flat(config)) == OPTIONS


def test_command_serves_this_machine_alone():
    line = command(8765, headless=True)
    assert line[:4] == [sys.executable, "-m", "streamlit", "run"] and line[4] == str(HOME.with_name("serve.py"))
    options = dict(zip(line[5::2], line[6::2], strict=True))
    assert options["--server.address"] == "localhost" and options["--server.port"] == "8765"
    assert options["--server.enableXsrfProtection"] == "true" and options["--server.maxUploadSize"] == "25"
    assert options["--client.showErrorDetails"] == "none" and options["--browser.gatherUsageStats"] == "false"


def test_picture_for_the_browser_is_small_and_bare():
    address = browser_picture(np.zeros((1500, 4000, 3), np.uint8))
    head, data = address.split(",")
    assert head == "data:image/jpeg;base64"
    with Image.open(io.BytesIO(base64.b64decode(data))) as picture:
        assert picture.size == (PICTURE_SIDE_PX, 600) and not picture.getexif()


def test_edits_that_come_twice_are_made_once(make_count):
    edits = Edits.of(make_count({24: 1.0}).marks)
    first = {"serial": 1, "do": "remove", "name": 3}
    second = {"serial": 2, "do": "undo"}
    once, seen = requested(edits, 0, [first], (640, 640))
    assert (len(once.marks), seen) == (23, 1)
    again, seen = requested(once, seen, [first], (640, 640))
    assert again is once and seen == 1
    back, seen = requested(once, seen, [first, second], (640, 640))
    assert (len(back.marks), seen) == (24, 2)


@pytest.mark.parametrize("message", [None, "remove", 3, [None], [{}], [{"serial": "1"}], [{"serial": 5, "do": "undo"}]])
def test_message_without_sense_is_left(make_count, message):
    edits = Edits.of(make_count({24: 1.0}).marks)
    assert requested(edits, 0, message, (640, 640)) == (edits, 0)


# Your pattern ----------------------------------------------------------------


def test_pasted_pattern_is_read_at_once(page, address):
    opened(page)
    page.text_area(key="pattern-shown").set_value(PLAN)
    opened(page)
    assert not page.exception
    plan = read_plan(PLAN)
    assert len(plan.findings) == 1
    assert f"Line 5</b> {plan.findings[0].what}" in shown(page) and plan.findings[0].fix in shown(page)
    rounds = page.radio(key="hook-shown")
    totals = [6, 12, 18, 24, 30, 30, 30, 24]
    named = [words.ROUND_ROW.format(n=n, total=total) for n, total in enumerate(totals, start=1)]
    assert rounds.options == [words.LET_PHOTO_SAY, *(plain(name) for name in named)]
    assert rounds.proto.captions[4] == plain("(sc 2, inc) x 6")
    # How the piece will lie is said as it is everywhere.
    assert all(line in shown(page) for line in flatness_of_plan(plan).words)
    assert words.LINK in shown(page) and address["query"].startswith("?plan=")


def test_rounds_are_stepped_through_and_tapped(page, address):
    with_plan(page)
    assert words.WHICH in shown(page) and page.button(key="before").disabled
    for number in (1, 2, 3):
        pressed(page, words.NEXT)
        assert words.ROUND_OF.format(n=number, last=8) in shown(page)
        assert f"round={number}" in address["query"]
    pressed(page, words.BEFORE)
    assert words.ROUND_OF.format(n=2, last=8) in shown(page) and "inc x 6" in shown(page)
    opened(page)
    assert page.radio(key="hook-shown").value == 2
    page.radio(key="hook-shown").set_value(8)
    opened(page)
    assert words.ROUND_OF.format(n=8, last=8) in shown(page) and page.button(key="next").disabled
    page.radio(key="hook-shown").set_value(None)
    opened(page)
    assert words.WHICH in shown(page) and "round=" not in address["query"]


def test_uk_terms_are_read_and_shown(page, address):
    # sc = dc and hdc = htr: four independent charts of US and UK terms.
    with_plan(page, "R1: 6 dc in ring (6)\nR2: 2 dc in each st around (12)", hook=1)
    opened(page)
    page.toggle(key="uk-shown").set_value(True)
    opened(page)
    assert read_plan(page.session_state["pattern"], uk=True).round(1).stitch == "sc"
    assert "6 dc in ring" in shown(page) and address["query"].endswith("terms=uk")
    page.toggle(key="uk-shown").set_value(False)
    opened(page)
    assert read_plan(page.session_state["pattern"]).round(1).stitch == "dc" and "6 dc in ring" in shown(page)


def test_pattern_is_put_away(page, address):
    with_plan(page, hook=3)
    pressed(opened(page), words.PUT_AWAY)
    opened(page)
    assert page.text_area(key="pattern-shown").value == "" and page.session_state["hook"] is None
    assert address["query"] == ""


def test_text_without_rounds_says_what_to_write(page):
    with_plan(page, "dear maker")
    opened(page)
    assert read_plan("dear maker").findings[0].fix in shown(page)
    assert "hook-shown" not in [radio.key for radio in page.radio] and words.HOOK not in shown(page)


def test_address_brings_plan_and_round_back(mounted, address):
    page = AppTest.from_file(str(HOME), default_timeout=60)
    for part in pack(LinkedPlan(PLAN, 4)).lstrip("?").split("&"):
        name, value = part.split("=")
        page.query_params[name] = value
    page.run()
    assert page.session_state["pattern"] == PLAN
    assert words.ROUND_OF.format(n=4, last=8) in shown(page) and words.TOTAL.format(n=24) in shown(page)


def test_round_that_the_plan_lacks_is_let_go(page):
    with_plan(page, hook=99)
    assert not page.exception and words.WHICH in shown(page)


def test_person_says_whether_the_chain_at_the_start_counts(page, address):
    # Common practice: three chains stand for the first double crochet, or beside it; the pattern has to say.
    text = "R1: ch 3, 11 dc in ring, sl st to join\nR2: ch 3, dc in each st around, sl st to join"

    def asked():
        return [one for one in page.get("button_group") if one.label == words.CHAIN_COUNTS]

    page = opened(with_plan(page, text))
    assert len(asked()) == 1 and words.TOTAL.format(n=11) in shown(with_plan(page, text, hook=1))
    page.session_state["chain"] = True
    page = opened(page.run())
    assert len(asked()) == 1 and words.TOTAL.format(n=12) in shown(page)
    query = dict(parse_qsl(address["query"].lstrip("?")))
    assert query["chain"] == "counts" and unpack(query).chain is True
    # A pattern that says it itself is not asked about.
    page = opened(with_plan(page, text.replace("ch 3,", "ch 3 (counts as a stitch),")))
    assert not asked()


@given(
    st.builds(
        LinkedPlan, st.text(max_size=300), st.none() | st.integers(1, 1000), st.booleans(), st.none(), st.none(),
        st.none() | st.booleans(),
    )
)  # fmt: skip
def test_link_brings_back_what_was_packed(kept):
    query = pack(kept)
    assert query is not None
    found = unpack(dict(parse_qsl(query.lstrip("?"))))
    # Half of a pair of code units is no text: it can't come from a browser.
    text = kept.text.encode("utf-8", "replace").decode()
    whole = LinkedPlan(text, kept.round, kept.uk, chain=kept.chain)
    assert found == (whole if kept.text.strip() else LinkedPlan())


def test_text_too_long_for_an_address_stays_out_of_it(page, address):
    numbers = np.random.default_rng(1).integers(1, 1000, LONGEST_TEXT // 4)
    text = ", ".join(str(n) for n in numbers)[:LONGEST_TEXT]
    assert pack(LinkedPlan(text)) is None
    with_plan(page, text, hook=2)
    assert not page.exception and address["query"] is None
    assert len(pack(LinkedPlan(PLAN * 40))) <= LONGEST_LINK  # as long, but of a kind that packs well


def bomb():
    """A little that unpacks to a great deal."""
    return base64.urlsafe_b64encode(zlib.compress(b"6, " * 1_000_000, 9)).decode().rstrip("=")


@pytest.mark.parametrize(
    "query",
    [{"plan": "%%%"}, {"plan": "eNp"}, {"plan": "A" * (LONGEST_LINK + 1)}, {"round": "4"}, {"plan": "\u0661"}],
)
def test_address_without_sense_is_left(query):
    assert unpack(query) == LinkedPlan()


def test_address_that_unpacks_to_a_great_deal_is_cut():
    found = unpack({"plan": bomb(), "round": "-1", "terms": "tr"})
    assert len(found.text) == LONGEST_TEXT and found.round is None and not found.uk


@pytest.mark.parametrize("number", ["0", "1001", "99999999", "4.0", "\u0664", ""])
def test_round_of_an_address_without_sense_is_left(number):
    good = unpack({"plan": pack(LinkedPlan(PLAN)).removeprefix("?plan="), "round": number})
    assert good == LinkedPlan(PLAN)


# A photo and a pattern ----------------------------------------------------------


def test_photo_says_which_round_it_is(sample, page, make_count, monkeypatch):
    with_plan(page, "6, 12, 18, 24, 24, 24")
    page = counted(page, make_count({24: 0.99, 23: 0.01}, rounds=None), monkeypatch)
    # Three rounds of 24 can't be told apart without counted rounds.
    assert "can't be told apart" in shown(page) and words.WHICH in shown(page)
    labels = [button.label for button in page.button if button.key and button.key.startswith("fit-")]
    assert labels == [words.ROUND_ROW.format(n=n, total=24) for n in (4, 5, 6)]
    pressed(page, labels[1])
    assert page.session_state["hook"] == 5 and words.VERDICTS["agrees"] in shown(page)
    assert not [element for element in page.number_input if element.key == "expected-shown"]


def test_photo_of_another_round_than_was_said(sample, page, make_count, monkeypatch):
    with_plan(page, hook=3)
    page = counted(page, make_count({24: 0.99, 23: 0.01}, rounds=4), monkeypatch)
    assert "Over by 6" in shown(page) and "if it is that round" in shown(page)
    pressed(page, words.ROUND_ROW.format(n=4, total=24))
    assert words.VERDICTS["agrees"] in shown(page) and page.session_state["hook"] == 4
    # What comes next is read out.
    assert "(sc 3, inc) x 6" in shown(page)


def test_round_chosen_for_one_photo_of_a_sheet_is_that_photos_only(with_several):
    page = with_plan(with_several, hook=4)  # 24
    assert f"Short by 1{words.JOIN}{words.ROUND_ROW.format(n=4, total=24)}" in shown(page)
    page.button(key="open-2").click().run()
    pressed(page, words.BEFORE)  # 18 stitches in round 3
    assert "Over by 5" in shown(page)
    page = pressed(page, words.BACK).run()
    assert f"Over by 5{words.JOIN}{words.ROUND_ROW.format(n=3, total=18)}" in shown(page)
    assert f"{words.VERDICTS['agrees']}{words.JOIN}{words.ROUND_ROW.format(n=4, total=24)}" in shown(page)
    assert page.session_state["hook"] == 4


def test_next_photo_next_round(sample, page, make_count, monkeypatch):
    with_plan(page)
    page = counted(page, make_count({18: 0.99, 17: 0.01}, rounds=3), monkeypatch)
    assert words.VERDICTS["agrees"] in shown(page)
    pressed(page, words.NEXT_PHOTO)
    assert "answer" not in page.session_state and page.session_state["hook"] == 4
    assert page.session_state["pattern"] == PLAN
    assert page.get("file_uploader")[0].proto.label == words.DROP_ROUND.format(n=4)
    page = counted(page, make_count({24: 0.99, 23: 0.01}, rounds=4), monkeypatch)
    assert words.VERDICTS["agrees"] in shown(page) and words.ROUND_OF.format(n=4, last=8) in shown(page)


def test_last_round_has_none_after_it(sample, page, make_count, monkeypatch):
    with_plan(page, hook=8)
    page = counted(page, make_count({24: 1.0}, rounds=8), monkeypatch)
    assert words.LAST_ROUND in shown(page)
    assert words.NEXT_PHOTO not in [button.label for button in page.button]


def test_place_of_a_missed_increase_and_what_to_do(sample, page, mounted, make_count, monkeypatch):
    with_plan(page, hook=4)
    # The pairs of (sc 2, inc) x 6 with the third one missing: 11 is a plain stitch.
    pairs = [3, 4, 7, 8, 14, 15, 18, 19, 22, 23]
    page = counted(page, make_count({23: 0.99, 24: 0.01}, rounds=4, paired=pairs), monkeypatch)
    assert "Short by 1" in shown(page) and "before you rip" in shown(page)
    (slip,) = mounted["data"]["slips"]
    assert slip["sign"] == "\u22121" and slip["title"].startswith("Mark 11, near ")
    assert slip["crop"].startswith("data:image/jpeg;base64,")
    assert "at mark 11" in shown(page)
    # The next round lands on its total from 23 stitches, and can be copied.
    (adjusted,) = [element.value for element in page.get("code")]
    landed = read_plan(f"R1: 23\nR2: {adjusted}").round(2)
    assert (landed.used, landed.stitches) == (23, 30)
    # Nothing is ripped as long as it may be unfinished.
    page.toggle(key="twin-shown").set_value(True).run()
    assert "Is this round finished?" in shown(page) and "Rip back" not in shown(page) and not page.get("code")
    page.session_state["finished"] = True
    page.run()
    # What the twin holds decides it, and is asked first.
    assert "If it holds 24: look at mark 11 by eye and finger first" in shown(page) and not page.get("code")
    # A twin that holds as many is matched as it is.
    assert "How many does its twin hold?" in shown(page)
    page.number_input(key="twin_holds-shown").set_value(23).run()
    assert "It matches its twin" in shown(page) and "Rip back" not in shown(page)
    page.number_input(key="twin_holds-shown").set_value(24).run()
    assert "rip back to mark 11" in shown(page) and not page.get("code")
    page.number_input(key="since-shown").set_value(2).run()
    assert "Rip back 3 rounds" in shown(page).replace("rip back", "Rip back") and "before you rip" in shown(page)


def test_place_follows_the_marks(sample, page, mounted, make_count, monkeypatch):
    with_plan(page, hook=4)
    pairs = [3, 4, 7, 8, 11, 12, 15, 16, 19, 20, 23, 24]
    page = counted(page, make_count({24: 0.99, 23: 0.01}, rounds=4, paired=pairs), monkeypatch)
    assert not mounted["data"]["slips"]
    edits = page.session_state["edits"]
    page.session_state["edits"] = edits.remove(11)  # mark 12
    page.run()
    (slip,) = mounted["data"]["slips"]
    assert "11" in slip["title"] and slip["sign"] == "\u22121"
    page.session_state["edits"] = edits.remove(11).undo()
    page.run()
    assert not mounted["data"]["slips"] and words.VERDICTS["agrees"] in shown(page)


def test_round_without_a_total_is_not_compared(sample, page, make_count, monkeypatch):
    text = "R1: 6 sc in ring [6]\nR2: shells around"
    plan = read_plan(text)
    assert plan.round(2).stitches is None
    with_plan(page, text, hook=2)
    page = counted(page, make_count({24: 1.0}), monkeypatch)
    assert not page.exception
    assert words.NO_COMPARISON in shown(page) and "write the total behind it" in shown(page)


# Size and gauge --------------------------------------------------------------------


def test_typed_size_gives_the_gauge_as_everywhere(with_photo):
    page, count = with_photo()
    page = opened(page, "size")
    page.text_input(key="wide-shown").set_value("4 in")
    opened(page, "size")
    assert not page.exception
    told = size_up(page.session_state["photo"], count, scale_from_diameter(count, 101.6))
    assert told.size.words in shown(page) and told.gauge.category_words in shown(page)
    assert told.tension.words in shown(page) and all(line in shown(page) for line in told.lie.words)
    assert f"{told.gauge.stitches(100.0)[0]:.1f}" in shown(page)
    # 4 in are 101.6 mm: one inch is 25.4 mm (international yard and pound agreement, 1959).
    assert f"{told.gauge.stitches(101.6)[0]:.1f}" in shown(page)


@pytest.mark.parametrize("typed", ["wide", "12", "-3 cm", "9 km", "9" * 5000])
def test_size_that_can_not_be_is_said_calmly(with_photo, typed):
    page, _ = with_photo()
    page = opened(page, "size")
    page.text_input(key="wide-shown").set_value(typed)
    opened(page, "size")
    assert not page.exception and 'class="amiss"' in shown(page)


def test_nothing_of_known_size_in_the_picture(with_photo):
    page, count = with_photo()
    page = opened(page, "size")
    nothing = find_scale(page.session_state["photo"], count)
    assert isinstance(nothing, NoScale)
    assert nothing.reason in shown(page) and nothing.hint in shown(page)
    assert words.MAT in shown(page)


def test_mat_in_the_picture_measures_the_piece(sample, page, monkeypatch, tmp_path, counts_of_samples):
    """The printed page at 5 pixels a millimetre, the piece of a sample 80 mm wide in its middle."""
    disc = read_photo(ROOT / "sample_images" / "green-disc-on-wood.jpg")
    count = counts_of_samples["green-disc-on-wood"]
    size = 2 * np.sqrt(cv2.contourArea(count.outline.astype(np.float32)) / np.pi)
    sheet = np.array(pypdfium2.PdfDocument(mat_page("A4"))[0].render(scale=5 * 25.4 / 72).to_pil().convert("RGB"))
    shrunk = cv2.resize(disc.pixels, None, fx=400 / size, fy=400 / size, interpolation=cv2.INTER_AREA)
    outline = np.round(count.outline * 400 / size).astype(int)
    mask = cv2.fillPoly(np.zeros(shrunk.shape[:2], np.uint8), [outline], 1)
    rows, columns = np.nonzero(mask)
    piece = shrunk[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
    inside = mask[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1, None] > 0
    # The ring of markers is 188 mm wide and begins 40 mm from the top.
    top, left = 5 * (40 + 94) - len(piece) // 2, sheet.shape[1] // 2 - piece.shape[1] // 2
    place = sheet[top : top + len(piece), left : left + piece.shape[1]]
    place[:] = np.where(inside, piece, place)
    Image.fromarray(sheet).save(tmp_path / "on-the-mat.png")
    monkeypatch.setattr("counter.basics.photo.read_photo", lambda data: read_photo(tmp_path / "on-the-mat.png"))
    next(button for button in page.button if button.key.startswith("sample-")).click().run()
    page = kept_in(page, AppTest.from_file(str(HOME), default_timeout=60)).run()
    assert page.session_state["answer"].stitches == count.stitches
    page = opened(page, "size")
    assert "Measured by the mat" in shown(page)
    across = float(shown(page).split("The piece is ")[1].split(" cm")[0])
    assert across == pytest.approx(8.0, rel=0.05)  # its rim is taken to lie a little above the paper


# Two alike ---------------------------------------------------------------------------


def test_twins_are_compared_as_everywhere(with_photo, make_count, monkeypatch):
    page, first = with_photo({24: 0.99, 23: 0.01}, rounds=4)
    pressed(opened(page, "alike"), words.KEEP_FIRST)
    opened(page, "alike")
    assert words.FIRST_KEPT in shown(page)
    # Marks put right afterwards count for the first piece.
    page.session_state["edits"] = page.session_state["edits"].remove(3)
    opened(page, "alike")
    corrected = persons_count(first, page.session_state["edits"])
    pressed(page, words.SECOND)
    assert words.FIRST_WAITS in shown(page) and words.TOTAL.format(n=23) in shown(page)
    second = make_count({25: 0.99, 24: 0.01}, size=(1000, 750), rounds=4)
    page = counted(page, second, monkeypatch)
    assert words.PAIR_OFF.format(n=2) in shown(page)
    assert all(line in shown(page) for line in compare_pieces(corrected, second).words)
    pressed(page, words.LET_GO)
    assert words.PAIR_OFF.format(n=2) not in shown(page) and page.session_state["first"] is None


def test_twins_that_match(with_photo, make_count, monkeypatch):
    page, _ = with_photo({24: 0.99, 23: 0.01}, rounds=4)
    pressed(opened(page, "alike"), words.KEEP_FIRST)
    pressed(opened(page, "alike"), words.SECOND)
    page = counted(page, make_count({24: 0.99, 25: 0.01}, size=(1000, 750), rounds=4), monkeypatch)
    assert words.PAIRS["match"] in shown(page)


# Several photos ------------------------------------------------------------------------


def test_sheet_leads_with_who_needs_a_person(with_several):
    page = with_several
    assert not page.exception
    assert [head or name for head, name in groups(page)] == [
        words.NEEDS_YOU, "letter", "&lt;b&gt;", words.COUNTED, "ada", "cy",
    ]  # fmt: skip
    page.number_input(key="all_total-shown").set_value(24).run()
    assert [head or name for head, name in groups(page)] == [
        words.NEEDS_YOU, "letter", "&lt;b&gt;", words.TO_PUT_RIGHT, "cy", words.AGREES, "ada",
    ]  # fmt: skip
    assert "Short by 1" in shown(page) and words.VERDICTS["agrees"] in shown(page)
    # A photo that was refused has nothing to open.
    assert sorted(b.key for b in page.button if b.key and b.key.startswith("open-")) == ["open-0", "open-1", "open-2"]


def test_piece_is_opened_put_right_and_stands_so_in_the_sheet(with_several, mounted):
    page = with_several
    page.number_input(key="all_total-shown").set_value(24).run()
    page.button(key="open-1").click().run()
    assert not page.exception and len(mounted["data"]["asks"]) == 1
    # Along the rim of the photo as it was reduced.
    rim, (x, y) = np.array(mounted["pictures"]["strip"]["rim"]), mounted["data"]["centre"]
    radius = 1.06 * 0.3125 * min(page.session_state["answer"].size)
    assert np.hypot(rim[:, 0] - x, rim[:, 1] - y) == pytest.approx(np.full(len(rim), radius), rel=0.02)
    assert page.number_input(key="all_total-shown").value == 24
    page.session_state["edits"] = page.session_state["edits"].answer(0, 0)
    page.run()
    assert words.VERDICTS["agrees"] in shown(page)
    pressed(page, words.BACK)
    assert [head or name for head, name in groups(page)] == [
        words.NEEDS_YOU, "letter", words.TO_PUT_RIGHT, "cy", words.AGREES, "&lt;b&gt;", "ada",
    ]  # fmt: skip
    assert "photo" not in page.session_state
    page.button(key="open-1").click().run()
    assert page.session_state["edits"].answers == {0: 0}
    pressed(pressed(page, words.BACK), words.PUT_SHEET_AWAY)
    assert words.LEAD in shown(page) and page.session_state["pieces"] == ()


def test_plan_holds_for_all(with_several):
    page = with_plan(with_several, hook=4)
    assert not page.exception and words.ROUND_OF.format(n=4, last=8) in shown(page)
    assert [head or name for head, name in groups(page)][-2:] == [words.AGREES, "ada"]
    # A round whose total can't be known says so, and nothing is claimed.
    page = with_plan(page, "R1: 6 sc in ring [6]\nR2: shells around", hook=2)
    assert not page.exception and words.AGREES not in [head for head, _ in groups(page)]


def test_total_of_a_sheet_can_be_taken_away_again(with_several):
    page = with_several
    page.number_input(key="all_total-shown").set_value(26).run()
    assert "Short by 2" in shown(page) and words.EXPECTED_SHORT.format(n=26) in shown(page)
    page.number_input(key="all_total-shown").set_value(None).run()
    assert not page.exception and page.session_state["all_total"] is None
    assert "Short by" not in shown(page) and words.VERDICTS["agrees"] not in shown(page)
    assert words.TO_PUT_RIGHT not in [head for head, _ in groups(page)]
    # Nor has it come back after one of the photos was looked at.
    page.button(key="open-0").click().run()
    pressed(page, words.BACK)
    assert page.session_state["all_total"] is None and "Short by" not in shown(page)


def test_round_that_is_chosen_for_one_photo_of_a_sheet_is_that_photos_only(with_several):
    page = with_plan(with_several, hook=4)
    row = words.ROUND_ROW.format

    def against(name):
        """What the row of a photo says that it was held against."""
        (said,) = [one for one in re.findall(r'<div class="piece.*?</em>', shown(page)) if f"<span>{name}<" in one]
        return [own for own in (4, 5) if row(n=own, total={4: 24, 5: 30}[own]) in said]

    assert against("ada") == against("cy") == [4]
    page.button(key="open-0").click().run()
    page.session_state["hook"] = 5
    page.run()
    assert "Short by 6" in shown(page)
    pressed(page, words.BACK)
    # Each row says which round it was held against; the sheet's own and the others' stays.
    assert against("ada") == [5] and against("cy") == [4] and page.session_state["hook"] == 4
    page.button(key="open-2").click().run()
    assert page.session_state["hook"] == 4
    pressed(page, words.BACK)
    page.button(key="open-0").click().run()
    assert page.session_state["hook"] == 5


def test_photo_of_several_is_kept_small(sample, make_count):
    big = io.BytesIO()
    Image.open(io.BytesIO(sample)).resize((3200, 2400)).save(big, "JPEG")
    count = make_count({24: 0.6, 25: 0.4}, sure=False, size=(3200, 2400), doubts=[(1, (1600.0, 100.0), "narrow")])
    with monkeypatched_bar() as said:
        (piece,) = count_several(dropped(("x.jpg", big.getvalue())), lambda photo: count, {})
    assert words.COUNTING_OF.format(n=1, all=1) in [text for _, text in said]
    with Image.open(io.BytesIO(piece.picture)) as picture:
        assert picture.size == (PICTURE_SIDE_PX, 1200) == piece.answer.size
    assert len(piece.picture) < 2_000_000
    # A place at a share of the photo is at the same share of the smaller one, from its edge.
    assert piece.answer.doubts[0].at == pytest.approx((799.75, 49.75))
    assert (piece.answer.marks + 0.5) * 2 == pytest.approx(count.marks + 0.5, abs=0.002)


def test_counting_that_is_broken_off_goes_on_where_it_was(sample, make_count):
    with Image.open(io.BytesIO(sample)) as picture:
        count = make_count({24: 0.99, 25: 0.01}, size=picture.size)
    files, done, looked = dropped(*[("x.jpg", sample)] * 3), {}, []

    def counted(photo):
        looked.append(photo)
        if len(looked) == 2:
            raise SystemExit  # as Streamlit stops a run in which something is tapped
        return count

    with monkeypatched_bar(), pytest.raises(SystemExit):
        count_several(files, counted, done)
    with monkeypatched_bar():
        pieces = count_several(files, counted, done)
    assert len(pieces) == 3 and len(looked) == 4  # the first is not counted again, the second is


def test_photos_are_added_to_a_sheet_until_it_is_full(with_several, sample, make_count, monkeypatch):
    page = with_several
    with Image.open(io.BytesIO(sample)) as picture:
        count = make_count({24: 0.99, 25: 0.01}, size=picture.size)
    monkeypatch.setattr("counter.counting.count.count_photo", lambda photo, **_: count)
    (adding,) = page.get("file_uploader")
    assert adding.label == words.MORE_PHOTOS
    added = adding.set_value([(f"{k}.jpg", sample, "image/jpeg") for k in range(MOST_PHOTOS)]).run()
    assert not added.exception
    assert len(page.session_state["pieces"]) == MOST_PHOTOS
    assert [piece.name for piece in page.session_state["pieces"][:5]] == ["ada", "<b>", "cy", "letter", "0"]
    assert words.LEFT_OUT.format(most=MOST_PHOTOS, n=4) in shown(page)
    assert not page.get("file_uploader")


def test_only_photos_of_a_sheet_let_single_ones_go_first(page, sample, make_count, monkeypatch):
    came = []

    class Line(Turns):
        def turn(self, told, *, of_sheet=False):
            came.append(of_sheet)
            return super().turn(told, of_sheet=of_sheet)

    monkeypatch.setattr("counter.page.turns.TURNS", Line(1))
    monkeypatch.setattr("counter.counting.count.count_photo", lambda photo, **_: Refusal("no piece"))
    sheet = AppTest.from_file(str(HOME), default_timeout=60).run()
    sheet.get("file_uploader")[0].set_value([(f"{k}.jpg", sample, "image/jpeg") for k in range(2)]).run()
    assert came == [True, True] and len(sheet.session_state["pieces"]) == 2
    counted(page, Refusal("no piece"), monkeypatch)
    assert came == [True, True, False]


def test_photo_that_goes_wrong_leaves_the_others(sample, caplog):
    def fail(photo):
        raise RuntimeError("entrails")

    with monkeypatched_bar(), caplog.at_level(logging.ERROR):
        (piece,) = count_several(dropped(("x.jpg", sample)), fail, {})
    assert piece.edits is None and "entrails" in caplog.text


# Words ---------------------------------------------------------------------------------


@given(st.text(alphabet="\\`*_{}[]()<>#+-.!|~$:abc 1", max_size=30))
def test_text_of_a_label_has_no_mark_up(text):
    assert plain(text).replace("\\\\", "\0").replace("\\", "").replace("\0", "\\") == text
