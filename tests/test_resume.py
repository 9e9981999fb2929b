"""What stands on the page survives a reload."""

import json
import signal

import pytest
from paging import PLAN, counted, fresh, handed_back, pressed, remembered, shown, size_of, told, with_plan
from PIL import Image
from touching import Held, choose, expecting, press, total, touched

from counter.basics import words
from counter.page.edits import Edits
from counter.page.resume import _take_up

sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")
expect = sync_api.expect

from browsing import CHROMIUM, DISC, added, free_port, removed, settled, started, visited  # noqa: E402

# No test touches the notebook of whoever runs it.
pytestmark = pytest.mark.usefixtures("data_folder")


def test_nothing_is_remembered_where_nothing_stands(page, address):
    assert address["remembered"]["sketch"] == "" and address["remembered"]["over"]


def test_reload_finds_photo_marks_answers_and_total(left_behind, mounted):
    page, message = left_behind
    before: Edits = page.session_state["edits"]
    after = handed_back(fresh(), message)
    assert not after.exception
    edits: Edits = after.session_state["edits"]
    assert [mark.name for mark in edits.marks] == [mark.name for mark in before.marks]
    assert edits.points == pytest.approx(before.points, abs=0.01)
    assert edits.answers == {0: 0} and edits.now.by_hand
    assert after.session_state["expected"] == 23 and words.VERDICTS["agrees"] in shown(after)
    assert len(mounted["data"]["marks"]) == 23
    # Back to what it was, step by step, and on with it.
    undone = edits.undo()
    assert len(undone.marks) == 24 and undone.answers == {0: 0} and not undone.now.by_hand
    assert not undone.undo().answers and not undone.undo().corrected and undone.redo() == edits
    after.session_state["edits"] = edits.remove(3)
    assert 'data-total="22"' in shown(after.run())


def test_reload_finds_the_round_of_the_plan(sample, page, mounted, address, make_count, monkeypatch):
    with_plan(page, hook=4)
    page = counted(page, make_count({24: 0.99, 23: 0.01}, size=size_of(sample)), monkeypatch)
    message = remembered(mounted, address)
    after = handed_back(fresh(), message)
    assert not after.exception
    assert (after.session_state["pattern"], after.session_state["hook"]) == (PLAN, 4)
    assert words.VERDICTS["agrees"] in shown(after)


def test_earlier_tab_is_offered_not_pressed_upon(left_behind, address):
    _, message = left_behind
    page = handed_back(fresh(), message, own=False)
    assert not page.exception and words.LEFT_HERE in shown(page) and words.TOTAL.format(n=23) in shown(page)
    assert not address["remembered"]["over"]  # it waits
    gone = pressed(page, words.LET_LEFT_GO)
    assert words.LEFT_HERE not in shown(gone) and address["remembered"]["over"]
    page = handed_back(fresh(), message, own=False)
    page = told(page, lambda state: _take_up(state["left"]))
    assert not page.exception and 'data-total="23"' in shown(page)


def test_new_photo_takes_the_place_of_what_was_left(left_behind, make_count, monkeypatch):
    _, message = left_behind
    page = handed_back(fresh(), message, own=False)
    page = counted(page, make_count({30: 0.99, 29: 0.01}), monkeypatch)
    pressed(page, words.AGAIN)
    assert words.LEFT_HERE not in shown(page)


def _changed(message, **what):
    sketch = json.loads(message["sketch"])
    return message | {"sketch": json.dumps(sketch | what)}


@pytest.mark.parametrize(
    "spoilt",
    [
        lambda message: None,
        lambda message: "marks",
        lambda message: message | {"sketch": "{}"},
        lambda message: message | {"sketch": "[" * 100_000},
        lambda message: message | {"sketch": message["sketch"] * 2},
        lambda message: message | {"picture": "https://example.org/round.jpg"},
        lambda message: message | {"picture": message["picture"][:2000]},
        lambda message: message | {"picture": "data:image/jpeg;base64,"},
        lambda message: message | {"sketch": 7},
        lambda message: message | {"sketch": message["sketch"].replace("marks", "Marks")},
        lambda message: _changed(message, marks=[]),
        lambda message: _changed(message, marks=[{"x": 1e9, "y": 0, "own": None}] * 4),
        lambda message: _changed(message, count=None),
    ],
)
def test_what_makes_no_sense_is_left(left_message, mounted, address, spoilt):
    page = handed_back(fresh(), spoilt(left_message))
    assert not page.exception and words.LEAD in shown(page) and words.LEFT_HERE not in shown(page)


def test_spoilt_trail_costs_only_itself(left_message, mounted, address):
    for trail in (None, 7, "steps"):
        page = handed_back(fresh(), left_message | {"trail": trail})
        assert 'data-total="23"' in shown(page) and not page.session_state["edits"].before


def test_kept_count_is_gone_on_with_as_kept(here, left_behind, mounted, address):
    page, _ = left_behind
    pressed(page, words.KEEP)
    page.session_state["edits"] = page.session_state["edits"].remove(3)
    message = remembered(mounted, address)  # as it was before that edit
    page.run()
    latest = remembered(mounted, address)
    after = handed_back(fresh(), message)
    assert not after.exception and words.KEPT in shown(after)
    assert 'data-total="22"' in shown(after)  # the notebook knows more than the browser
    assert not after.session_state["edits"].before  # whose steps led somewhere else
    after = handed_back(fresh(), latest)
    assert len(after.session_state["edits"].before) == 3


def test_shared_notebooks_leave_nothing_in_the_browser(elsewhere, left_behind, address):
    page, _ = left_behind
    assert address["remembered"]["sketch"] and not address["remembered"]["lasting"]
    page = pressed(page.run(), words.AGAIN)
    page = pressed(pressed(page, words.NOTEBOOK), words.BEGIN_BOOK)
    assert address["remembered"]["sketch"] == ""


# In a browser --------------------------------------------------------------------------


browser = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed"),
]


@pytest.mark.parametrize(("window", "theme"), [("desk", "light")], ids=["desk"])
class TestBrowser:
    pytestmark = browser

    def test_reload_restart_and_another_tab(self, chromium, tmp_path, window, theme):
        port = free_port()
        server = started(tmp_path, port, sure=False)
        try:
            with visited(chromium, window, theme) as page:
                page.goto(f"http://localhost:{port}")
                choose(page, DISC)
                total(page, 36)
                press(page, words.CONFIRM.format(n=36))
                removed(page, 5)
                total(page, 35)
                expecting(page, 35)
                expect(page.get_by_role("heading", name=words.VERDICTS["agrees"])).to_be_visible()
                settled(page)  # the browser is told last
                page.reload()
                total(page, 35)
                expect(page.get_by_role("heading", name=words.VERDICTS["agrees"])).to_be_visible()
                expect(page.get_by_label(words.EXPECTED, exact=True)).to_have_value("35")
                settled(page)
                press(page, words.UNDO)
                total(page, 36)
                press(page, words.REDO)
                total(page, 35)
                settled(page)
                # On with it, and the server dies: an edit that was seen is there again when it is back.
                added(page, 12)
                total(page, 36)
                settled(page)
                server.send_signal(signal.SIGKILL)
                server.wait(20)
                server = started(tmp_path, port)
                page.reload()
                total(page, 36)
                expect(page.locator(".who")).to_have_text(words.YOU_SAY)
                settled(page)
                # Another tab of this machine's own browser is asked.
                page.close()
                page = page.context.new_page()
                page.goto(f"http://localhost:{port}")
                press(page, words.GO_ON)
                total(page, 36)
                # Let go, it is nowhere any more.
                press(page, words.AGAIN)
                page.get_by_text(words.SAMPLES).or_(page.get_by_text(words.DROP)).first.wait_for()
                page.wait_for_function("!sessionStorage['rimtally-sketch'] && !localStorage['rimtally-sketch']")
                page.reload()
                expect(page.get_by_text(words.DROP)).to_be_visible()
                expect(page.locator(".total")).to_have_count(0)
        finally:
            server.kill()
            server.wait(20)

    @pytest.mark.parametrize("sealed", [True, False], ids=["sealed", "plain http"])
    def test_photo_that_is_just_being_counted_is_counted_after_a_reload(
        self, chromium, served_page, window, theme, sealed
    ):
        with visited(chromium, window, theme) as page:
            if not sealed:
                page.add_init_script("Object.defineProperty(Crypto.prototype, 'subtle', { value: undefined })")
            way = Held(page, until=b'class="seen"')  # the answer does not come before the tab is left
            page.goto(served_page)
            settled(page)
            choose(page, DISC)
            # The photo stands there, and what is seen in it.
            expect(page.locator(".st-key-glimpse img")).to_have_count(2)
            page.wait_for_function("JSON.parse(sessionStorage['rimtally-dropped'] ?? '{}').files?.length === 1")
            expect(page.locator(".total")).to_have_count(0)
            way.lose()
            page.reload()
            total(page, 36)
            # Once it is counted, nothing of it waits.
            page.wait_for_function("!sessionStorage['rimtally-dropped']")
            settled(page)
            page.reload()
            total(page, 36)

    def test_marks_that_are_put_by_hand_survive_a_reload(self, chromium, tmp_path, served_page, window, theme):
        both = tmp_path / "pair.jpg"
        with Image.open(DISC) as piece:
            pair = Image.new("RGB", (2 * piece.width, piece.height))
            pair.paste(piece, (0, 0))
            pair.paste(piece, (piece.width, 0))
            pair.save(both, quality=95)
        with visited(chromium, window, theme) as page:
            page.goto(served_page)
            expecting(page, 4)
            settled(page)
            choose(page, both)
            shown = page.locator(".show-piece svg")
            expect(page.locator(".show-piece .found.over")).to_have_count(2)
            box = shown.bounding_box()
            touched(page, shown, position={"x": 0.25 * box["width"], "y": 0.5 * box["height"]})
            press(page, words.SHOW_BY_HAND)
            strip = page.locator(".strip")
            for made, across in enumerate((0.1, 0.4, 0.7), start=1):
                wide = page.locator(".strip svg").bounding_box()["width"]
                strip.evaluate("(e, left) => { e.scrollLeft = left; }", across * wide - 100)
                settled(page)
                touched(page, strip, position={"x": across * wide - strip.evaluate("(e) => e.scrollLeft"), "y": 60})
                expect(page.locator(".stage .mark")).to_have_count(made)
            settled(page)
            page.reload()
            total(page, 3)
            expect(page.locator(".who")).to_have_text(words.SO_FAR)
            settled(page)
            press(page, words.CONFIRM.format(n=3))
            expect(page.get_by_role("heading", name="Short by 1")).to_be_visible()
