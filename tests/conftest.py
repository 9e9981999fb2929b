import copy
import io
import os
import pickle
import shutil
from pathlib import Path
from types import SimpleNamespace

import making
import pytest
from browsing import CHROMIUM, DISC, FLAGS, SAMPLES, doubt_everything, served
from hypothesis import settings
from paging import DOUBTS, HOME, counted, dropped, monkeypatched_bar, remembered, shown, size_of
from PIL import Image
from streamlit.testing.v1 import AppTest

from counter.basics import words
from counter.basics.answer import Count
from counter.basics.photo import read_photo
from counter.comparing.questions import questions_of
from counter.counting.calibration import NAME
from counter.counting.count import count_photo
from counter.counting.pieces import find_worked
from counter.notebook import store as notebook
from counter.page import visitors
from counter.page.several import count_several
from counter.showing.sentences import answers_words, question_words

try:
    import fcntl
except ImportError:  # Windows: each worker may make it anew
    fcntl = None

ROOT = Path(__file__).parents[1]

# A busy machine is no fault of the program, so nothing is timed. Each run looks for new examples; the
# one that others rely on looks at the same ones each time: HYPOTHESIS_PROFILE=ci.
settings.register_profile("own", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "own"))


def pytest_collection_modifyitems(items):
    """Whatever needs the path tracer takes long."""
    for item in items:
        if item.get_closest_marker("render"):
            item.add_marker(pytest.mark.slow)


@pytest.fixture(autouse=True)
def no_own_limit(monkeypatch, tmp_path):
    """Whether a count is sure doesn't depend on what whoever runs the tests has set by their own photos."""
    for room in ("counting.calibration", "evaluation.own"):
        monkeypatch.setattr(f"counter.{room}.own_file", lambda: tmp_path / "own data" / "calibration.json")


@pytest.fixture(scope="session")
def once(tmp_path_factory):
    """Make something once for all tests of all workers: what takes long and none of them changes."""
    folder = tmp_path_factory.getbasetemp()
    folder = folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder

    def made(name, make):
        file = folder / f"once {name}.pickle"
        with (folder / f"once {name}.lock").open("w") as lock:
            if fcntl is not None:
                fcntl.flock(lock, fcntl.LOCK_EX)  # let go when the file is closed
            if not file.exists():
                half = file.with_suffix(f".{os.getpid()}")
                half.write_bytes(pickle.dumps(make()))
                half.replace(file)
        return pickle.loads(file.read_bytes())

    return made


class Samples(dict):
    """What is made of each sample, by its name, when it is first asked for."""

    def __init__(self, once, kind, make):
        self._make = lambda name: once(f"{kind} {name}", lambda: make(SAMPLES / f"{name}.jpg"))

    def __missing__(self, name):
        self[name] = self._make(name)
        return self[name]


@pytest.fixture(scope="session")
def counts_of_samples(once):
    """Counts of the samples, each counted once; a test of counting the same again counts for itself."""
    return Samples(once, "count", count_photo)


@pytest.fixture(scope="session")
def worked_samples(once):
    """The worked pieces of the samples."""
    return Samples(once, "worked", lambda path: find_worked(read_photo(path).pixels))


@pytest.fixture(scope="session")
def make_count():
    """Factory of counts whose every number is chosen by the test."""
    return making.make_count


# The page without a browser -----------------------------------------------------------------


@pytest.fixture
def sample(tmp_path, monkeypatch):
    """Bytes of the first sample that the page offers."""
    folder = tmp_path / "sample_images"
    folder.mkdir()
    shutil.copy(ROOT / "sample_images" / "green-disc-on-wood.jpg", folder)
    monkeypatch.chdir(tmp_path)
    # Samples beside the package come first; an installed package has none.
    beside = sorted((HOME.parents[2] / "sample_images").glob("*.jpg"))
    return (beside or sorted(folder.glob("*.jpg")))[0].read_bytes()


@pytest.fixture
def mounted(monkeypatch):
    """What the rim picture was last told; the browser's end is tested in a browser."""
    last = {}
    monkeypatch.setattr("counter.page.rim_picture._mount", lambda **told: last.update(told))
    monkeypatch.setattr("counter.page.rim_picture._mount_pictures", lambda *, key, data: last.update(pictures=data))
    monkeypatch.setattr("counter.page.show_piece._mount", lambda **told: last.update({"to_show": told}))
    return last


@pytest.fixture
def address(monkeypatch):
    """What the browser was last told to keep in its address."""
    last = {}

    def told(*, key, data, on_waited_change, on_went_change):
        return last.update(data)

    monkeypatch.setattr("counter.page.browser._mount", told)
    last.update(told=[], handed=[])

    def tell(*, key, data):
        if "photo" in data:
            last["handed"].append(data)
        else:
            last.update(remembered=data)
            last["told"].append(data)

    monkeypatch.setattr("counter.page.resume._mount_memory", lambda *, key, on_found_change, on_wanted_change: None)
    monkeypatch.setattr("counter.page.resume._tell", tell)
    return last


_LEFT: dict = {}


@pytest.fixture
def left_message(request):
    """What the browser remembers of :func:`left_behind`, made once a worker."""
    if not _LEFT:
        _LEFT.update(request.getfixturevalue("left_behind")[1])
    return copy.deepcopy(_LEFT)


@pytest.fixture
def page(sample, mounted, address):
    return AppTest.from_file(str(HOME), default_timeout=60).run()


@pytest.fixture
def with_photo(sample, page, make_count, monkeypatch):
    def photographed(posterior=None, **more):
        with Image.open(io.BytesIO(sample)) as picture:
            answer = make_count(posterior or {24: 0.99, 23: 0.01}, size=picture.size, **more)
        return counted(page, answer, monkeypatch), answer

    return photographed


@pytest.fixture
def with_several(page, sample, make_count, mounted):
    """The page with photos that were dropped together."""
    with Image.open(io.BytesIO(sample)) as picture:
        size = picture.size
    doubts = [(1, (300.0, 90.0), "part of the rim is hidden here")]
    unsure = make_count({24: 0.6, 25: 0.4}, sure=False, size=size, doubts=doubts)
    answers = iter([make_count({24: 0.99, 25: 0.01}, size=size), unsure, make_count({23: 0.99, 24: 0.01}, size=size)])

    def counted(photo):
        return photo if not hasattr(photo, "pixels") else next(answers)

    with monkeypatched_bar():
        files = dropped(("ada.jpg", sample), ("<b>.jpg", sample), ("cy.jpg", sample), ("letter.jpg", b"dear maker"))
        pieces = count_several(files, counted, {})
    page.session_state["pieces"] = pieces
    return page.run()


@pytest.fixture
def data_folder(tmp_path, monkeypatch):
    """No test touches the notebook of whoever runs it."""
    monkeypatch.setattr(notebook, "_folder", lambda: tmp_path / "data")
    monkeypatch.delenv(visitors.SWITCH, raising=False)
    return tmp_path / "data"


@pytest.fixture
def here(monkeypatch):
    """Every visitor sits at the machine itself."""
    monkeypatch.setattr("counter.page.door.is_local", lambda address, headers: True)


@pytest.fixture
def elsewhere(monkeypatch):
    """Visitors of a server whose operator turned the notebook on."""
    monkeypatch.setenv(visitors.SWITCH, "on")
    monkeypatch.setattr("counter.page.door.is_local", lambda address, headers: False)


@pytest.fixture
def count_of_sample(sample, make_count):
    """Factory of counts of the sample."""
    with Image.open(io.BytesIO(sample)) as picture:
        size = picture.size

    def make(posterior=None, **more):
        return make_count(posterior or {24: 0.99, 23: 0.01}, size=size, **more)

    return make


@pytest.fixture
def left_behind(sample, page, mounted, address, make_count, monkeypatch):
    """A photo whose marks were put right, held against a total: as the browser remembers it."""
    count = make_count({24: 0.6, 25: 0.4}, sure=False, doubts=DOUBTS, size=size_of(sample))
    page = counted(page, count, monkeypatch)
    page.number_input("expected-shown").set_value(23).run()
    page.session_state["edits"] = page.session_state["edits"].answer(0, 0).remove(7)
    page.session_state["confirmed"] = True
    page.run()
    assert words.VERDICTS["agrees"] in shown(page) and not page.exception
    return page, remembered(mounted, address)


# The page in a browser: one server and one Chromium for all tests of a worker ------------------


@pytest.fixture(scope="session")
def driver():
    """Playwright, once for all tests of a worker: it can't be started twice."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")
    with sync_api.sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="session")
def chromium(driver):
    """The browser; each test has a context of its own in it, see :func:`browsing.visited`."""
    browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def asked(tmp_path_factory):
    """A sample of which one thing is asked where nothing is sure, answered by "as marked" or by one more or fewer."""
    data = tmp_path_factory.mktemp("doubting")
    doubt_everything(data)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("counter.counting.calibration.own_file", lambda: data / NAME)
        for path in [SAMPLES / "white-on-paper.jpg", *sorted(SAMPLES.glob("*.jpg"))]:
            count = count_photo(path)
            questions = questions_of(count) if isinstance(count, Count) else ()
            if len(questions) == 1 and len(questions[0].answers) == 2:
                said = sorted(answers_words(questions[0]), key=lambda answer: answer[1] != 0)
                ((kept, same), (other, change)) = said
                assert same == 0
                return SimpleNamespace(path=path, count=count, ask=question_words(questions[0]), kept=kept,
                                       other=other, changed=count.stitches + change)  # fmt: skip
    pytest.fail("no sample asks one question: choose others")


@pytest.fixture(scope="session")
def served_page(tmp_path_factory):
    """Address of a page with one sample that is sure of nothing, for tests that leave nothing on the server."""
    with served(tmp_path_factory.mktemp("server"), [DISC], sure=False) as url:
        yield url
