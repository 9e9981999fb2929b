"""Other languages than English: each is one file of words, chosen by the browser or by a person."""

import ast
import contextlib
from pathlib import Path
from threading import Thread

import pytest
from other_words import OWN, lacking, loaded, said_in
from paging import counted, fresh, pressed, shown

from counter.basics import language, words
from counter.basics.answer import Refusal
from counter.basics.language import best_of, known, said_now, speaking
from counter.comparing.questions import questions_of
from counter.showing.sentences import question_words

OTHERS = sorted(OWN.parent.glob("words_*.py"))
#: Said alike in German: names, signs, and words that both have.
ALIKE = {
    *("TITLE", "JOIN", "COMMA", "SENTENCE", "UNKNOWN", "MM", "CM", "BOTH_UNITS", "YARN", "SECONDS"),
    *("MINUTES", "HOURS", "PIECE_SAID", "PIECE_ROUNDS", "EXPECTED_SHORT", "KEPT_PARTS['x']", "KEPT_PARTS['y']"),
}


@pytest.fixture(autouse=True)
def as_it_was():
    """Whom the words ask goes with the test."""
    asked = list(language._asked)
    yield
    language._asked[:] = asked


@pytest.mark.parametrize("path", OTHERS, ids=lambda path: path.stem)
def test_each_file_says_what_the_english_one_says(path):
    # What has no words yet stays English: that is looked for with the slow tests, all else here.
    assert [line for line in lacking(path) if not line.endswith((" is missing", " is not known"))] == []
    assert path.stem.partition("_")[2] == loaded(path).LANGUAGE


@pytest.mark.slow
@pytest.mark.parametrize("path", OTHERS, ids=lambda path: path.stem)
def test_each_file_can_take_the_place_of_the_english_one(path):
    assert lacking(path) == []


def texts(name, value):
    if isinstance(value, str):
        yield name, value
    elif isinstance(value, tuple):
        for k, one in enumerate(value):
            yield from texts(f"{name}[{k}]", one)
    else:
        for key, one in value.items():
            yield from texts(f"{name}[{key!r}]", one)


@pytest.mark.parametrize("path", OTHERS, ids=lambda path: path.stem)
def test_nothing_was_left_english(path):
    own, other = (
        dict(entry for name, value in said_in(loaded(p)).items() for entry in texts(name, value)) for p in (OWN, path)
    )
    left = {name for name, text in own.items() if other.get(name) == text and any(c.isalpha() for c in text)}
    # Single words that both languages have are no oversight; a sentence would be.
    assert not {name for name in left - ALIKE if len(own[name].split()) > 2}


def test_words_are_those_of_the_language_that_is_spoken():
    language.listen(lambda: None)
    english = words.SURE
    assert said_now() == "en" and words.stitches(1) == "1 stitch"
    with speaking("de"):
        assert english != words.SURE and words.stitches(1) == "1 Masche" and words.percent(0.5) == "50 %"
        assert Refusal("no piece").reason == known()["de"].REFUSALS["no piece"][0]
        with speaking("en"):
            assert english == words.SURE
        heard = []
        # Another thread speaks for itself.
        beside = Thread(target=lambda: heard.append(words.SURE))
        beside.start()
        beside.join()
        assert heard == [english]
    assert english == words.SURE


def test_word_that_a_language_lacks_stays_english(monkeypatch):
    language.listen(lambda: None)
    monkeypatch.delattr(known()["de"], "SURE")
    english = words.SURE
    with speaking("de"):
        assert english == words.SURE and words.NOT_SURE == known()["de"].NOT_SURE


def read_early(tree):
    """What of the words is read while a module is loaded, not when something is said."""
    todo = [tree]
    while todo:
        for node in ast.iter_child_nodes(todo.pop()):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
                todo += [*node.args.defaults, *filter(None, node.args.kw_defaults)]
                continue
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "words":
                yield node.attr
            todo.append(node)


def test_no_room_takes_words_before_it_is_known_who_reads_them():
    rooms = [path for path in OWN.parents[1].rglob("*.py") if path not in (OWN, *OTHERS)]
    early = {path.name: list(read_early(ast.parse(path.read_text(encoding="utf-8")))) for path in rooms}
    assert not {name: read for name, read in early.items() if read}


def test_key_that_a_table_lacks_stays_english():
    table, own = {"a": "A", "in": {"c": "C"}}, {"a": "a", "b": "b", "in": {"c": "c", "d": "d"}}
    language._filled(table, own)
    assert table == {"a": "A", "b": "b", "in": {"c": "C", "d": "d"}}


@pytest.mark.parametrize(
    ("wanted", "spoken"),
    [
        ("de", "de"),
        ("de-AT", "de"),
        ("DE_ch", "de"),
        ("en-GB", "en"),
        ("nds", "en"),
        ("", "en"),
        (None, "en"),
        ("../x", "en"),
    ],
)
def test_language_of_a_browser(wanted, spoken):
    assert best_of(wanted) == spoken


def test_visits_of_one_server_are_spoken_to_each_in_its_own(page, make_count, monkeypatch):
    german = known()["de"]
    other = fresh()
    other.radio(key="language-shown").set_value("de").run()
    assert german.LEAD in shown(other) and words.LEAD in shown(page.run())
    other = counted(other, make_count({24: 0.99, 23: 0.01}), monkeypatch)
    assert german.SURE in shown(other) and words.SURE not in shown(other)
    other = other.number_input("expected-shown").set_value(25).run()
    assert german.OFF_BY[-1].format(n=1) in shown(other) and german.CAUTION in shown(other)
    page = counted(page, make_count({24: 0.99, 23: 0.01}), monkeypatch)
    assert words.SURE in shown(page) and german.SURE not in shown(page)
    assert not pressed(other, german.TO_START).exception


# In a real browser -----------------------------------------------------------

sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")

from browsing import CHROMIUM, PATIENCE, settled, unfolded  # noqa: E402
from touching import choose, downloaded, expect, total  # noqa: E402


@contextlib.contextmanager
def speaks(browser, locale):
    context = browser.new_context(
        locale=locale, viewport={"width": 360, "height": 740}, has_touch=True, accept_downloads=True
    )
    try:
        page = context.new_page()
        page.set_default_timeout(PATIENCE)
        yield page
    finally:
        context.close()


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed")
def test_browser_is_answered_in_its_language_until_another_is_chosen(chromium, served_page, asked, tmp_path):
    german = known()["de"]
    language.listen(lambda: None)
    with speaking("de"):
        (question,) = questions_of(asked.count)
        ask = question_words(question)
    with speaks(chromium, "de-AT") as page:
        page.goto(served_page)
        expect(page.get_by_role("heading", name=german.LEAD)).to_be_visible()
        settled(page)
        assert page.evaluate("document.documentElement.lang") == "de"
        choose(page, asked.path)
        total(page, asked.count.stitches)
        expect(page.locator(".pill")).to_have_text(german.NOT_SURE)
        expect(page.locator(".ask")).to_contain_text(ask)
        # A file that is made beside the page is in its language, too.
        unfolded(page, german.SAVE_OR_PRINT)
        pdf = tmp_path / "page.pdf"
        pdf.write_bytes(downloaded(page, german.SAVE_PAGE))
        said = pytest.importorskip("pypdfium2").PdfDocument(pdf)[0].get_textpage().get_text_range()
        assert german.PAGE_TITLE in said
        page.get_by_role("button", name=german.TO_START).tap()
        # The choice holds over a reload, and is in the address.
        page.locator(".st-key-languages label").filter(has_text=words.LANGUAGE_NAME).tap()
        expect(page.get_by_text(words.DROP)).to_be_visible()
        page.wait_for_url("**/?language=en")
        page.reload()
        expect(page.get_by_role("heading", name=words.LEAD)).to_be_visible()
        settled(page)
        assert page.evaluate("document.documentElement.lang") == "en"
        wide = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
        assert wide[0] <= wide[1]
    with speaks(chromium, "fr-FR") as page:
        page.goto(served_page)
        expect(page.get_by_role("heading", name=words.LEAD)).to_be_visible()


def test_files_of_words_stand_side_by_side():
    assert {Path(path).stem for path in OTHERS} == {f"words_{code}" for code in known() if code != language.ENGLISH}
