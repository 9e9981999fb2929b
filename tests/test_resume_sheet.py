"""A sheet of several photos survives a reload."""

import copy
import io
import json
import signal
from types import SimpleNamespace

import pytest
from paging import fresh, groups, handed_back, pressed, shown, told, with_plan
from PIL import Image
from touching import ELSEWHERE, choose, expecting, press, total, touched

from counter.basics import words
from counter.notebook.limits import MOST_PHOTO_BYTES
from counter.notebook.store import open_own
from counter.notebook.values import Goal
from counter.page.edits import Edits
from counter.page.records import picture_of, read_sheet, sketch_of
from counter.page.resume import KEY, _go_on, _wanted
from counter.page.several import MOST_PHOTOS

sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")
expect = sync_api.expect

from browsing import CHROMIUM, DISC, SAMPLES, free_port, removed, served, settled, started, visited  # noqa: E402

# No test touches the notebook of whoever runs it.
pytestmark = pytest.mark.usefixtures("data_folder")


def pieces(page):
    return page.session_state["pieces"]


def remembered(page, address):
    """What the browser would hand back of the sheet: what it was told, as JSON."""
    sheet = address["remembered"]["sheet"]
    parts = [
        {"photo": p.key, "revision": p.revision, "sketch": sketch_of(p), "picture": picture_of(p)}
        for p in pieces(page)
        if p.key in sheet["head"]["order"]
    ]
    message = {"name": sheet["name"], "head": sheet["head"], "many": len(parts), "parts": parts}
    return json.loads(json.dumps(message))


def looks(piece):
    return piece.name, piece.key, piece.revision, piece.answer if piece.edits is None else piece.standing.likely


@pytest.fixture
def corrected(with_several):
    """A sheet with a total, whose second photo was put right and is open."""
    page = with_several
    page.number_input(key="all_total-shown").set_value(24).run()
    page.button(key="open-1").click().run()
    page.session_state["edits"] = page.session_state["edits"].answer(0, 0).remove(7).undo()
    page.run()
    assert not page.exception
    return page


def test_reload_finds_the_sheet_as_it_was(corrected, address):
    before = pieces(corrected)
    message = remembered(corrected, address)
    after = handed_back(fresh(), None, sheet=message)
    assert not after.exception
    assert [looks(piece) for piece in pieces(after)] == [looks(piece) for piece in before]
    # The one that was open is open, and what was taken back can be made again.
    edits: Edits = after.session_state["edits"]
    assert after.session_state["opened"] == 1 and edits.answers == {0: 0}
    assert len(edits.redo().marks) == 23 and not edits.undo().answers
    assert words.VERDICTS["agrees"] in shown(after)
    assert after.number_input(key="all_total-shown").value == 24
    pressed(after, words.BACK)
    assert [head or name for head, name in groups(after)] == [
        words.NEEDS_YOU, "letter", words.TO_PUT_RIGHT, "cy", words.AGREES, "&lt;b&gt;", "ada",
    ]  # fmt: skip
    # It is the same sheet for the browser, and nothing of it has to be sent again.
    told_now, told_then = address["remembered"]["sheet"], {piece.key: piece.revision for piece in before}
    assert told_now["revisions"] == told_then and not address["handed"]
    # Small pictures are there again, of the refused ones as well where they had one.
    assert [bool(piece.small) for piece in pieces(after)] == [bool(piece.small) for piece in before]


def test_opened_piece_comes_as_its_sketch(corrected, address):
    data = address["remembered"]
    piece = pieces(corrected)[1]
    assert data["sheet"]["open"] == {"photo": piece.key, "revision": piece.revision, "name": piece.name}
    mine = {"name": piece.name, "entry": json.loads(data["sketch"]), "trail": data["trail"]}
    other = sketch_of(piece) | {"entry": json.loads(sketch_of(piece)["entry"])}
    for sketch in (mine, other):
        # These are drawn at random, or belong to the sheet.
        for name in ("key", "kept", "changed", "goal"):
            del sketch["entry"][name]
    assert mine == other


def test_reload_finds_confirmed_counts_and_the_plan(with_several, address):
    page = with_plan(with_several, hook=4)
    page.button(key="open-1").click().run()
    pressed(pressed(page, words.CONFIRM.format(n=24)), words.BACK)
    message = remembered(page, address)
    after = handed_back(fresh(), None, sheet=message)
    assert not after.exception and after.session_state["opened"] is None
    assert (after.session_state["hook"], pieces(after)[1].confirmed) == (4, True)
    assert words.ROUND_OF.format(n=4, last=8) in shown(after)


def test_sheet_tells_little_with_every_run(with_several, address):
    with_several.run()
    assert len(json.dumps(address["remembered"])) < 1500 and not address["handed"]


def test_what_the_browser_lacks_is_sent_once(with_several, address):
    page = with_several
    ada, _, _, letter = pieces(page)

    def ask(state):
        state[KEY] = SimpleNamespace(wanted={ada.key: True, letter.key: False, "other": True, 7: True})
        _wanted()

    told(page, ask)
    assert not page.exception
    first, second = address["handed"]
    assert (first["photo"], first["picture"], first["sketch"]) == (ada.key, picture_of(ada), first["sketch"])
    assert (second["photo"], second["picture"]) == (letter.key, None) and second["sketch"]["code"] == "not a picture"
    assert address["remembered"]["sheet"]["handed"] == [ada.key, letter.key]
    page.run()
    assert len(address["handed"]) == 2 and not address["remembered"]["sheet"]["handed"]
    told(page, lambda state: (state.update({KEY: SimpleNamespace(wanted="all")}), _wanted()))
    assert not page.exception and len(address["handed"]) == 2


def test_photos_are_sent_while_others_are_counted(page, sample, make_count, monkeypatch, address):
    with Image.open(io.BytesIO(sample)) as picture:
        count = make_count({24: 0.99, 25: 0.01}, size=picture.size)
    monkeypatch.setattr("counter.counting.count.count_photo", lambda photo, **_: count)
    adding = page.get("file_uploader")[0]
    adding.set_value([(f"{k}.jpg", sample, "image/jpeg") for k in range(3)]).run()
    assert not page.exception and len(pieces(page)) == 3
    keys = [piece.key for piece in pieces(page)]
    handed, sheets = address["handed"], [data["sheet"] for data in address["told"] if data["sheet"]]
    assert [data["photo"] for data in handed] == keys
    heads = [sheets[0]["head"], *(data["head"] for data in handed)]
    assert [(head["order"], head["rest"]) for head in heads] == [(keys[:k], 3 - k) for k in range(4)]
    assert {data["sheet"] for data in handed} == {sheet["name"] for sheet in sheets}
    assert [data["picture"] for data in handed] == [picture_of(piece) for piece in pieces(page)]
    # All is there: nothing is handed over again.
    assert sheets[-1]["head"] == heads[-1] and not sheets[-1]["handed"]


def test_what_was_not_counted_yet_is_said(with_several, address):
    message = remembered(with_several, address)
    message["head"]["rest"] = 3
    page = handed_back(fresh(), None, sheet=message)
    assert words.UNRETURNED.format(n=3) in shown(page)
    # With none counted yet the page is where it begins.
    message |= {"parts": [], "many": 0}
    message["head"]["rest"] = 1
    page = handed_back(fresh(), None, sheet=message)
    assert not page.exception and words.UNRETURNED_ONE in shown(page) and words.LEAD in shown(page)


def test_sheet_of_an_earlier_tab_is_offered_and_fetched_when_it_is_wanted(with_several, address):
    message = remembered(with_several, address)
    first = message | {"parts": message["parts"][:1]}
    page = handed_back(fresh(), None, own=False, sheet=first)
    assert words.SHEET_LEFT_HERE in shown(page) and words.PHOTOS.format(n=4) in shown(page)
    data = address["remembered"]
    assert not data["over"] and not data["hand"] and data["sheet"] is None
    page = told(page, lambda state: _go_on(state["left"]))
    assert address["remembered"]["hand"] and not address["remembered"]["over"]
    page = handed_back(page, None, sheet=message)
    assert not page.exception and [piece.name for piece in pieces(page)] == ["ada", "<b>", "cy", "letter"]
    assert not address["remembered"]["hand"]
    # Or it is let go.
    page = pressed(handed_back(fresh(), None, own=False, sheet=first), words.LET_SHEET_GO)
    assert address["remembered"]["over"] and words.SHEET_LEFT_HERE not in shown(page)


def _part(message, **what):
    message["parts"][1] |= what


def _entry(message, **what):
    sketch = message["parts"][1]["sketch"]
    sketch["entry"] = json.dumps(json.loads(sketch["entry"]) | what)


_REMEMBERED = {}


@pytest.fixture
def message(request, monkeypatch):
    """What a browser remembered of the sheet, made once; read by itself, where there is no notebook."""
    if not _REMEMBERED:
        _REMEMBERED.update(remembered(*(request.getfixturevalue(name) for name in ("with_several", "address"))))
    monkeypatch.setattr("counter.page.records.door.kind", lambda: "off")
    return copy.deepcopy(_REMEMBERED)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda message: message["parts"].__setitem__(1, None),
        lambda message: message["parts"].__setitem__(1, "photo"),
        lambda message: message["parts"].__setitem__(1, {}),
        lambda message: _part(message, photo="../x"),
        lambda message: _part(message, photo=message["parts"][0]["photo"]),
        lambda message: _part(message, revision=-1),
        lambda message: _part(message, revision="1"),
        lambda message: _part(message, sketch=None),
        lambda message: _part(message, sketch={"name": "b"}),
        lambda message: _part(message, sketch={"name": "b", "code": "hunger", "detail": ""}),
        lambda message: _part(message, sketch={"name": "b", "code": "empty", "detail": "x" * 1000}),
        lambda message: _part(message, sketch={"name": "b", "code": "empty", "detail": ""}),
        lambda message: _part(message, picture=""),
        lambda message: _part(message, picture=None),
        lambda message: _part(message, picture="https://example.org/round.jpg"),
        lambda message: _part(message, picture=message["parts"][1]["picture"][:2000]),
        lambda message: _part(message, picture=message["parts"][1]["picture"] + "A" * 2 * MOST_PHOTO_BYTES),
        lambda message: message["parts"][1]["sketch"].update(name="x" * 1000),
        lambda message: message["parts"][1]["sketch"].update(name=7),
        lambda message: message["parts"][1]["sketch"].update(entry=None),
        lambda message: message["parts"][1]["sketch"].update(entry="[" * 100_000),
        lambda message: _entry(message, marks=[]),
        lambda message: _entry(message, count=None),
        lambda message: _entry(message, answers=[7]),
    ],
)
def test_spoilt_photo_costs_only_itself(message, spoil):
    spoil(message)
    sheet = read_sheet(message)
    assert [piece.name for piece in sheet.pieces] == ["ada", "cy", "letter"] and sheet.missing == 1


def test_spoilt_photo_is_told_and_the_browser_lets_it_go(with_several, address):
    message = remembered(with_several, address)
    message["parts"][1] = None
    page = handed_back(fresh(), None, sheet=message)
    assert not page.exception
    assert [piece.name for piece in pieces(page)] == ["ada", "cy", "letter"]
    assert words.UNRETURNED_ONE in shown(page)
    assert len(address["remembered"]["sheet"]["revisions"]) == 3


@pytest.mark.parametrize("head", [None, 7, {}, {"goal": {"expected": -3}, "opened": 3, "rest": "x", "left_out": True}])
def test_spoilt_head_leaves_the_photos(message, head):
    sheet = read_sheet(message | {"head": head})
    assert (
        len(sheet.pieces) == 4 and sheet.goal == Goal() and (sheet.opened, sheet.rest, sheet.left_out) == (None, 0, 0)
    )


@pytest.mark.parametrize("sheet", [None, 7, {}, {"name": "x", "parts": []}, {"name": "0" * 16, "parts": 7}])
def test_what_is_no_sheet_is_left(page, address, sheet):
    after = handed_back(page, None, sheet=sheet)
    assert not after.exception and words.LEAD in shown(after) and address["remembered"]["over"]


def test_no_more_photos_come_back_than_a_sheet_holds(with_several, address):
    message = remembered(with_several, address)
    parts = [copy.deepcopy(message["parts"][3]) | {"photo": f"{k:016x}"} for k in range(MOST_PHOTOS + 5)]
    page = handed_back(fresh(), None, sheet=message | {"parts": parts, "many": len(parts)})
    assert not page.exception and len(pieces(page)) == MOST_PHOTOS


def test_a_refused_photo_is_never_opened(with_several, address):
    message = remembered(with_several, address)
    message["head"]["opened"] = message["head"]["order"][3]
    page = handed_back(fresh(), None, sheet=message)
    assert not page.exception and page.session_state["opened"] is None and len(pieces(page)) == 4


def test_what_is_looked_at_goes_first(with_several, address):
    page = with_several
    before = pieces(page)
    page = handed_back(page, None, sheet=remembered(page, address))
    assert pieces(page) is before and address["remembered"]["heard"] == 1


def test_kept_counts_are_tied_again(here, with_several, address):
    page = pressed(with_several, words.KEEP_ALL)
    message = remembered(page, address)
    page.button(key="open-0").click().run()
    page.session_state["edits"] = page.session_state["edits"].remove(3)
    page.run()
    after = handed_back(fresh(), None, sheet=message)  # as it was before that edit
    assert not after.exception and words.KEPT_SOME.format(n=3, all=4) in shown(after)
    assert pieces(after)[0].standing.stitches == 23  # the notebook knows more than the browser
    after.button(key="open-0").click().run()
    after.session_state["edits"] = after.session_state["edits"].remove(4)
    after.run()
    lines = open_own().listing().lines
    assert sorted(line.stitches for line in lines) == [22, 23, 24] and len(lines) == 3


def test_shared_notebooks_leave_nothing_in_the_browser(elsewhere, with_several, address):
    page = with_several
    refused = pieces(page)[3].key
    page.session_state["door-open"] = True
    pressed(page.run(), words.BEGIN_BOOK)
    pressed(page, words.KEEP_ALL)
    sheet = address["remembered"]["sheet"]
    assert list(sheet["revisions"]) == sheet["head"]["order"] == [refused] and not address["remembered"]["lasting"]
    message = remembered(page, address)
    after = handed_back(fresh(), None, sheet=message)
    assert [piece.name for piece in pieces(after)] == ["letter"] and words.IN_BOOK.format(n=3) in shown(after)


def test_put_away_is_forgotten(with_several, address):
    page = pressed(with_several, words.PUT_SHEET_AWAY)
    assert address["remembered"]["sheet"] is None and address["remembered"]["over"]
    assert page.session_state["sheet"] == ""


def test_every_change_is_a_new_revision(corrected):
    assert [piece.revision for piece in pieces(corrected)] == [0, 1, 0, 0]
    corrected.session_state["confirmed"] = True
    corrected.run()
    assert [piece.revision for piece in pieces(corrected)] == [0, 2, 0, 0]


# In a browser --------------------------------------------------------------------------

LOOK = """async () => {
  const opening = indexedDB.open("rimtally", 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore("sheets");
  const answer = (request) => new Promise((resolve) => (request.onsuccess = () => resolve(request.result)));
  const base = await answer(opening);
  const store = base.transaction("sheets").objectStore("sheets");
  const [names, records] = [await answer(store.getAllKeys()), await answer(store.getAll())];
  base.close();
  return names.map(([, name], k) => [name, Array.from(new Uint8Array(records[k].data))]);
}"""
#: Overwrite the sealed picture of that photo of the sheet.
SPOIL = """async (photo) => {
  const answer = (request) => new Promise((resolve) => (request.onsuccess = () => resolve(request.result)));
  const base = await answer(indexedDB.open("rimtally", 1));
  const store = base.transaction("sheets", "readwrite").objectStore("sheets");
  const names = (await answer(store.getAllKeys())).filter(([, name]) => name.startsWith("photo-"));
  const record = await answer(store.get(names[photo]));
  new Uint8Array(record.data).fill(7);
  await answer(store.put(record, names[photo]));
  base.close();
}"""
#: Make every record older than a sheet may wait for its tab.
AGE = """async () => {
  const answer = (request) => new Promise((resolve) => (request.onsuccess = () => resolve(request.result)));
  const base = await answer(indexedDB.open("rimtally", 1));
  const store = base.transaction("sheets", "readwrite").objectStore("sheets");
  for (const name of await answer(store.getAllKeys())) {
    await answer(store.put({ ...(await answer(store.get(name))), at: 0 }, name));
  }
  base.close();
}"""


@pytest.fixture
def letter(tmp_path):
    path = tmp_path / "letter.jpg"
    path.write_text("dear maker")
    return path


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed")
class TestBrowser:
    @pytest.mark.parametrize(("window", "theme"), [("phone", "dark")], ids=["phone"])
    def test_reload_restart_and_another_tab(self, chromium, tmp_path, letter, window, theme):
        port = free_port()
        server = started(tmp_path, port)
        try:
            with visited(chromium, window, theme) as page:
                asked = []
                page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
                page.goto(f"http://localhost:{port}")
                settled(page)
                # What is typed before the photos are dropped holds for all of them.
                expecting(page, 24)
                settled(page)
                choose(page, [DISC, letter, SAMPLES / "blue-disc.jpg"])
                rows = page.locator(".piece")
                expect(rows).to_have_count(3)
                expect(rows.filter(has_text="blue-disc")).to_contain_text(words.VERDICTS["agrees"])
                touched(page, page.locator(".st-key-piece-2").get_by_role("button"))
                total(page, 24)
                removed(page, 5)
                total(page, 23)
                settled(page)
                page.reload()
                assert not asked  # all of it is remembered
                total(page, 23)
                press(page, words.UNDO)
                total(page, 24)
                press(page, words.REDO)
                total(page, 23)
                settled(page)
                # On with it, and the server dies: an edit that was seen is there again when it is back.
                removed(page, 5)
                total(page, 22)
                settled(page)
                server.send_signal(signal.SIGKILL)
                server.wait(20)
                server = started(tmp_path, port)
                page.reload()
                total(page, 22)
                settled(page)
                press(page, words.BACK)
                expect(rows).to_have_count(3)
                expect(rows.nth(0)).to_contain_text("letter")
                expect(rows.filter(has_text="blue-disc")).to_contain_text("Short by 2")
                settled(page)
                # Another tab does not take it away while this one is open.
                other = page.context.new_page()
                other.goto(f"http://localhost:{port}")
                other.get_by_text(words.DROP).wait_for()
                settled(other)
                expect(other.get_by_text(words.SHEET_LEFT_HERE)).to_have_count(0)
                other.close()
                # Once it is closed, the next is offered it.
                page.close()
                page = page.context.new_page()
                page.goto(f"http://localhost:{port}")
                expect(page.get_by_text(words.PHOTOS.format(n=3))).to_be_visible()
                press(page, words.GO_ON_SHEET)
                rows = page.locator(".piece")
                expect(rows.filter(has_text="blue-disc")).to_contain_text("Short by 2")
                settled(page)
                # A spoilt record costs its photo, and no other.
                page.evaluate(SPOIL, 0)
                page.reload()
                expect(page.get_by_text(words.UNRETURNED_ONE)).to_be_visible()
                expect(rows).to_have_count(2)
                settled(page)
                # Put away, it is nowhere any more.
                press(page, words.PUT_SHEET_AWAY)
                expect(page.get_by_text(words.DROP)).to_be_visible()
                settled(page)
                assert page.evaluate(LOOK) == []
                assert not page.evaluate("sessionStorage['rimtally-sheet'] || localStorage['rimtally-sheet'] || ''")
                page.reload()
                page.get_by_text(words.DROP).wait_for()
                settled(page)
                expect(rows).to_have_count(0)
                expect(page.get_by_text(words.SHEET_LEFT_HERE)).to_have_count(0)
            assert "Traceback" not in (tmp_path / "log").read_text()
        finally:
            server.kill()
            server.wait(20)

    def test_on_a_shared_server_it_goes_with_the_tab(self, chromium, tmp_path, letter):
        port = free_port()
        server = started(tmp_path, port, RIMTALLY_NOTEBOOK="on", STREAMLIT_BROWSER_SERVER_ADDRESS=ELSEWHERE)
        try:
            with visited(chromium, "desk", "dark") as page:
                asked = []
                page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
                page.goto(f"http://{ELSEWHERE}:{port}")
                choose(page, [letter, SAMPLES / "blue-disc.jpg"])
                rows = page.locator(".piece")
                expect(rows).to_have_count(2)
                touched(page, page.locator(".st-key-piece-1").get_by_role("button"))
                total(page, 24)
                press(page, words.BACK)
                expect(rows).to_have_count(2)
                settled(page)
                page.reload()
                assert asked == ["beforeunload"]  # to close the tab would forget it
                expect(rows).to_have_count(2)
                settled(page)
                assert page.evaluate("localStorage['rimtally-sheet'] || ''") == ""
                page.context.new_page()
                page.close()
                page = page.context.pages[-1]
                page.set_default_timeout(60_000)
                page.goto(f"http://{ELSEWHERE}:{port}")
                page.get_by_text(words.DROP).wait_for()
                settled(page)
                expect(page.locator(".piece")).to_have_count(0)
                # What is left there can't be read, ...
                assert page.evaluate("Object.keys(sessionStorage).filter((name) => name.startsWith('rimtally'))") == []
                found = page.evaluate(LOOK)
                assert len(found) == 5  # the head, and two of each photo
                for name, data in found:
                    assert b"blue" not in bytes(data) and b"\xff\xd8\xff" not in bytes(data)
                    assert b"data:image" not in bytes(data) and b"dear" not in bytes(data), name
                # ... and goes when nobody can come back to it.
                page.evaluate(AGE)
                page.reload()
                page.get_by_text(words.DROP).wait_for()
                settled(page)
                assert page.evaluate(LOOK) == []
            assert "Traceback" not in (tmp_path / "log").read_text()
        finally:
            server.kill()
            server.wait(20)

    def test_without_a_key_the_page_asks_and_remembers_the_open_photo(self, chromium, tmp_path, letter):
        port = free_port()
        server = started(tmp_path, port)
        try:
            with visited(chromium, "desk", "light") as page:
                # As over plain http on a network.
                page.add_init_script("Object.defineProperty(Crypto.prototype, 'subtle', { value: undefined })")
                asked = []
                page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
                page.goto(f"http://localhost:{port}")
                choose(page, [letter, SAMPLES / "blue-disc.jpg"])
                expect(page.locator(".piece")).to_have_count(2)
                touched(page, page.locator(".st-key-piece-1").get_by_role("button"))
                total(page, 24)
                removed(page, 5)
                total(page, 23)
                settled(page)
                page.reload()
                assert asked == ["beforeunload"]
                total(page, 23)
                settled(page)
                assert page.evaluate(LOOK) == []
            assert "Traceback" not in (tmp_path / "log").read_text()
        finally:
            server.kill()
            server.wait(20)

    def test_photos_that_were_not_counted_yet_are_counted_after_a_reload(self, chromium, tmp_path):
        names = ["blue-disc", "green-disc-on-wood", "rose-cup", "striped", "white-on-paper"]
        with served(tmp_path) as address, visited(chromium, "phone", "light") as page:
            page.goto(address)
            choose(page, [SAMPLES / f"{name}.jpg" for name in names])
            page.get_by_text(words.COUNTING_OF.format(n=3, all=5)).wait_for()
            page.reload()
            # They come to the same sheet, each once.
            rows = page.locator(".piece")
            expect(rows).to_have_count(5)
            settled(page)
            for name in names:
                expect(rows.filter(has_text=name)).to_have_count(1)
            expect(page.locator(".amiss")).to_have_count(0)
            page.reload()
            expect(rows).to_have_count(5)
