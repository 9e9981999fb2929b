"""The page run by Streamlit's test harness, without a browser: what tests do with it and read off it."""

import contextlib
import io
import re
from html import unescape
from pathlib import Path
from types import SimpleNamespace

import pytest
import streamlit
from PIL import Image
from streamlit.testing.v1 import AppTest

from counter.basics import words
from counter.page.resume import KEY, _found
from counter.page.session import PHOTO, VISIT

HOME = Path(words.__file__).parents[1] / "page" / "home.py"


#: What the page remembers of a session.
STATE = {*PHOTO, *VISIT}


#: Rounds of our own; the total of round 5 is stated wrong.
PLAN = """R1: 6 sc in ring [6]
R2: inc x 6 [12]
R3: (sc 1, inc) x 6 [18]
R4: (sc 2, inc) x 6 [24]
R5: (sc 3, inc) x 6 [31]
R6-7: sc around [30]
R8: (sc 3, dec) x 6"""


class State(dict):
    """Session state without a session."""

    __getattr__ = dict.__getitem__


def shown(page):
    """All that the page says."""
    return unescape(" ".join(element.proto.body for element in page.get("html")))


def counted(page, answer, monkeypatch):
    """The page after a sample was chosen that has that answer."""
    made = answer if callable(answer) else lambda photo: answer
    monkeypatch.setattr("counter.counting.count.count_photo", lambda photo, **_: made(photo))
    next(button for button in page.button if button.key.startswith("sample-")).click().run()
    # Streamlit's test harness of 1.53 trips over widgets that a rerun took away.
    return kept_in(page, AppTest.from_file(str(HOME), default_timeout=60)).run()


def kept_in(page, after):
    """Hand what the page remembers to a page that is not run yet."""
    for name in STATE:
        if name in page.session_state:
            after.session_state[name] = page.session_state[name]
    return after


def pressed(page, label):
    next(button for button in page.button if button.label == label).click().run()
    assert not page.exception
    return page


def opened(page, name="pattern"):
    """The page after a run in which that panel is open.

    Older test harnesses of Streamlit close a panel with each run.
    """
    turn = page.session_state["turn"]
    page.session_state[f"{name}-open" if name in ("size", "marks") else f"{name}-open-{turn}"] = True
    return page.run()


def with_plan(page, text=PLAN, hook=None):
    page.session_state["pattern"], page.session_state["hook"] = text, hook
    return page.run()


def groups(page):
    """Heads and names of the sheet, from the top."""
    return re.findall(r'<h2 class="section">([^<]+) <span|<div><span>([^<]*)</span>', " ".join(
        element.proto.body for element in page.get("html")))  # fmt: skip


def dropped(*files):
    """Files as the page gets them from the browser."""
    return [
        SimpleNamespace(name=name, file_id=str(number), getvalue=lambda data=data: data)
        for number, (name, data) in enumerate(files)
    ]


@contextlib.contextmanager
def monkeypatched_bar():
    said = []
    with pytest.MonkeyPatch.context() as patch:
        bar = SimpleNamespace(progress=lambda share, text="": said.append((share, text)))
        patch.setattr(streamlit, "progress", lambda share: bar)
        yield said


def fresh():
    """A page of a new session."""
    return AppTest.from_file(str(HOME), default_timeout=60).run()


def listed(page):
    """The page with the notebook's list."""
    return pressed(page, words.NOTEBOOK)


def edited(page, change):
    """The page after a run that begins with changed marks, as an edit of the browser has it."""
    page.session_state["edits"] = change(page.session_state["edits"])
    page.run()
    assert not page.exception
    return page


def the_only(book):
    (line,) = book.listing().lines
    return book.entry(line.key)


class Settable(State):
    """Session state without a session, whose names can be set."""

    __setattr__ = dict.__setitem__


def told(page, do):
    """The page after something that the browser told it, or a tap, was taken in."""
    names = STATE | {"expected"}
    state = Settable({name: page.session_state[name] for name in names if name in page.session_state})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(streamlit, "session_state", state)
        do(state)
    for name in names & set(state):
        page.session_state[name] = state[name]
    return page.run()


def handed_back(page, message, own=True, sheet=None):
    """The page after the browser handed back a photo that stood by itself, or a sheet."""

    def do(state):
        state[KEY] = SimpleNamespace(found={"own": own, "photo": message, "sheet": sheet})
        _found()

    return told(page, do)


def remembered(mounted, address):
    """What the browser would hand back."""
    told = {name: address["remembered"][name] for name in ("sketch", "trail")}
    return told | {"picture": mounted["pictures"]["picture"]}


def size_of(photo):
    with Image.open(io.BytesIO(photo)) as picture:
        return picture.size


DOUBTS = (
    (1, (320.0, 60.0), words.IN_DOUBT["two"], "two"),
    (13, (320.0, 420.0), "part of the rim is hidden"),
)
