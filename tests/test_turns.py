"""The line of those whose photos are counted."""

import threading

import pytest

from counter.basics import words
from counter.page import home, turns
from counter.page.turns import Turns

#: Patience of a test on a busy machine, in seconds.
PATIENCE = 60


class Visitor(threading.Thread):
    """Comes for one turn, and keeps it until it may go."""

    def __init__(self, line, leaves_at=None, *, of_sheet=False):
        super().__init__(daemon=True)
        self.line, self.leaves_at, self.of_sheet = line, leaves_at, of_sheet
        self.told, self.served, self.go, self.waits = [], threading.Event(), threading.Event(), threading.Event()
        self.start()

    def hear(self, before):
        self.told.append(before)
        self.waits.set()
        if before == self.leaves_at:
            raise KeyError("gone")

    def run(self):
        try:
            with self.line.turn(self.hear, of_sheet=self.of_sheet):
                self.served.set()
                assert self.go.wait(PATIENCE)
        except KeyError:
            pass


@pytest.fixture
def line(monkeypatch):
    monkeypatch.setattr(turns, "LOOK_INTERVAL_S", 0.01)
    return Turns(2)


def test_no_more_at_a_time_than_may_be_and_in_the_order_in_which_they_came(line):
    first, second = Visitor(line), Visitor(line)
    assert first.served.wait(PATIENCE) and second.served.wait(PATIENCE)
    third = Visitor(line)
    assert third.waits.wait(PATIENCE)
    fourth = Visitor(line)
    assert fourth.waits.wait(PATIENCE)
    assert third.told[0] == 1 and fourth.told[0] == 2 and not third.served.is_set()
    second.go.set()
    assert third.served.wait(PATIENCE) and not fourth.served.is_set()
    first.go.set()
    assert fourth.served.wait(PATIENCE) and fourth.told[-1] in (1, 2)
    for one in (third, fourth):
        one.go.set()
        one.join(PATIENCE)
    assert not line._served and not line._line


def test_who_leaves_makes_room(line):
    busy = [Visitor(line), Visitor(line)]
    assert all(one.served.wait(PATIENCE) for one in busy)
    gone = Visitor(line, leaves_at=1)
    gone.join(PATIENCE)
    assert not gone.is_alive() and not gone.served.is_set()
    stays = Visitor(line)
    assert stays.waits.wait(PATIENCE) and stays.told[0] == 1
    busy[0].go.set()
    assert stays.served.wait(PATIENCE)
    for one in (stays, busy[1]):
        one.go.set()
        one.join(PATIENCE)
    assert not line._served


def test_what_breaks_in_a_turn_gives_it_back(line):
    for _ in range(5):
        with pytest.raises(ZeroDivisionError), line.turn(lambda before: None):
            _ = 1 / 0
    assert not line._served


def came(line, *, of_sheet):
    """A visitor who stands in the line, or is served."""
    visitor = Visitor(line, of_sheet=of_sheet)
    while not visitor.waits.is_set() and not visitor.served.is_set():
        visitor.waits.wait(0.01)
    return visitor


def next_of(visitors):
    """Who is served first of those who wait: alone, since nobody of them goes yet."""
    while not (served := [one for one in visitors if one.served.is_set()]):
        visitors[0].served.wait(0.01)
    assert len(served) == 1
    return served[0]


def test_single_photo_is_counted_before_sheets_that_came_earlier(monkeypatch):
    monkeypatch.setattr(turns, "LOOK_INTERVAL_S", 0.01)
    line = Turns(1)  # as on a machine with one core
    busy = came(line, of_sheet=True)
    waiting = {
        "sheet a": came(line, of_sheet=True),
        "sheet b": came(line, of_sheet=True),
        "single 1": came(line, of_sheet=False),
        "single 2": came(line, of_sheet=False),
    }
    assert [waiting[name].told[0] for name in waiting] == [1, 2, 1, 2]
    busy.go.set()
    order = []
    while waiting:
        one = next_of(list(waiting.values()))
        name = next(name for name, visitor in waiting.items() if visitor is one)
        del waiting[name]
        order.append(name)
        one.go.set()
        one.join(PATIENCE)
    assert order == ["single 1", "single 2", "sheet a", "sheet b"]


@pytest.mark.parametrize("most", [2, 3, 8])
def test_sheets_leave_a_place_to_a_single_photo(most, monkeypatch):
    monkeypatch.setattr(turns, "LOOK_INTERVAL_S", 0.01)
    line = Turns(most)
    sheets = [came(line, of_sheet=True) for _ in range(most + 1)]
    assert sum(one.served.is_set() for one in sheets) == most - 1
    single = came(line, of_sheet=False)
    assert single.served.wait(PATIENCE) and single.told == []  # with nobody before it
    assert sum(one.served.is_set() for one in sheets) == most - 1
    for one in (*sheets, single):
        one.go.set()
    for one in (*sheets, single):
        one.join(PATIENCE)
    assert not line._served and not line._line


def test_a_sheet_is_counted_however_many_single_photos_come(monkeypatch):
    monkeypatch.setattr(turns, "LOOK_INTERVAL_S", 0.01)
    line = Turns(1)
    busy = came(line, of_sheet=False)
    sheet = came(line, of_sheet=True)
    before = 0
    while not sheet.served.is_set():
        single = came(line, of_sheet=False)  # there is always one more
        busy.go.set()
        busy.join(PATIENCE)
        busy = next_of([sheet, single])
        before += busy is single
        assert before <= turns.MOST_OVERTAKEN
        if busy is sheet:
            sheet.go.set()
            sheet.join(PATIENCE)
            assert single.served.wait(PATIENCE)
            single.go.set()
            single.join(PATIENCE)
    assert before == turns.MOST_OVERTAKEN


def test_the_place_in_the_line_is_told(monkeypatch):
    class Step:
        said = []  # noqa: RUF012

        def html(self, text):
            self.said.append(text)

    for before in (1, 3):
        home._waiting(Step(), before)
    assert words.BEFORE_ONE in Step.said[0] and words.BEFORE_MANY.format(n=3) in Step.said[1]


def test_a_run_ends_where_its_visitor_is_gone(monkeypatch):
    class Run:
        session_id = "here"

    class Runtime:
        def is_active_session(self, name):
            return name == "here"

    stopped = []
    monkeypatch.setattr(turns, "exists", lambda: True)
    monkeypatch.setattr(turns, "get_instance", Runtime)
    monkeypatch.setattr(turns, "get_script_run_ctx", Run)
    monkeypatch.setattr(turns.st, "stop", lambda: stopped.append(True))
    turns.stop_where_nobody_is()
    assert not stopped
    Run.session_id = "gone"
    turns.stop_where_nobody_is()
    assert stopped
