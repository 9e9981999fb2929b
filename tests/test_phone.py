"""A phone beside the desk: who gets in from the home network, what comes from there, and when it ends."""

import re
import urllib.error
import urllib.request
from types import SimpleNamespace

import pytest

from counter.basics import words
from counter.commands import page
from counter.commands.common import BAD_USE
from counter.page import phone
from counter.page.phone import GRACE_S, MOST_PHONES, MOST_WAITING, Phones, at_desk


def test_token_holds_once():
    phones = Phones("first")
    assert phones.redeem("") is None and phones.redeem("second") is None and phones.redeem("fïrst") is None
    name = phones.redeem("first")
    assert name and phones.knows(name) and not phones.knows("") and not phones.knows("first")
    assert phones.redeem("first") is None and phones.token != "first"
    other = phones.redeem(phones.token)
    assert other != name and phones.knows(name) and phones.many == 2
    for _ in range(MOST_PHONES):
        phones.redeem(phones.token)
    assert not phones.knows(name) and phones.many == MOST_PHONES


def test_door_closes_with_the_last_page_at_the_desk(monkeypatch):
    now = [1000.0]
    monkeypatch.setattr("time.monotonic", lambda: now[0])
    phones = Phones("first")
    assert phones.open  # nobody came yet: the code in the terminal must hold
    phones.desk_came()
    phones.desk_came()
    name = phones.redeem("first")
    phones.desk_went()
    now[0] += 2 * GRACE_S
    assert phones.knows(name)
    phones.desk_went()
    now[0] += GRACE_S - 1
    assert phones.knows(name)  # the page was only loaded anew
    now[0] += 2
    token = phones.token
    assert not phones.knows(name) and phones.redeem(token) is None
    # The desk opens again: with another token, and nobody inside.
    phones.desk_came()
    assert phones.open and phones.token != token and not phones.knows(name)


def test_what_waits_for_the_desk_is_taken_in_turn():
    phones = Phones()
    assert phones.take() is None
    assert all(phones.send(n) for n in range(MOST_WAITING)) and not phones.send("more")
    assert [phones.take() for _ in range(3)] == [0, 1, 2]


@pytest.mark.parametrize(
    ("host", "peer", "desk"),
    [
        ("localhost:8501", "127.0.0.1", True),
        ("127.0.0.1:8501", None, True),
        ("[::1]:8501", "::1", True),
        ("192.168.1.20:8501", "192.168.1.30", False),
        ("localhost:8501", "192.168.1.30", False),  # whatever it calls the desk, it comes from elsewhere
        ("192.168.1.20:8501", "127.0.0.1", False),
        ("", "127.0.0.1", False),
    ],
)
def test_who_sits_at_the_desk(host, peer, desk):
    assert at_desk({"host": host}, peer) == desk
    assert not at_desk({"host": host, "x-forwarded-for": "192.168.1.30"}, peer)


def test_code_says_the_link():
    cv2 = pytest.importorskip("cv2")
    numpy = pytest.importorskip("numpy")
    link = phone.invitation(8501, "a-token_1")
    modules = [[255 * (1 - cell) for cell in row] for row in phone.segno.make(link, error="m").matrix_iter(border=4)]
    picture = numpy.kron(numpy.array(modules, numpy.uint8), numpy.ones((8, 8), numpy.uint8))
    # Read by another library than the one that wrote it.
    assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == link
    assert phone.picture_of(link).startswith("data:image/svg+xml")


def test_command_shows_the_first_code(capsys, monkeypatch):
    monkeypatch.setattr(page.os, "environ", {phone.ADDRESS: "192.168.1.20"})
    monkeypatch.setattr(page.os, "execv", lambda program, line: ran.append(line))
    ran = []
    page.run(SimpleNamespace(port=8765, phone=True, public=None, address=None, no_browser=True))
    said = capsys.readouterr().out
    token = page.os.environ[phone.TOKEN]
    assert page.os.environ[phone.SWITCH] == "on" and f"http://192.168.1.20:8765/?phone={token}" in said
    assert "\u2588" in said or "\u2580" in said  # the code, in blocks
    options = dict(zip(ran[0][5::2], ran[0][6::2], strict=True))
    assert options["--server.address"] == "0.0.0.0" and options["--browser.serverAddress"] == "localhost"
    assert (
        page.run(SimpleNamespace(port=None, phone=True, public="rounds.example.org", address=None, no_browser=True))
        == BAD_USE
    )


sync_api = pytest.importorskip("playwright.sync_api", reason="the browser test needs playwright (extra 'test')")
expect = sync_api.expect

from browsing import CHROMIUM, PATIENCE, SAMPLES, served, settled, visited  # noqa: E402

#: Another address of this machine, for what a phone would call it.
ELSEWHERE = "127.0.0.2"


def status(address):
    try:
        with urllib.request.urlopen(address) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed")
def test_phone_takes_a_photo_for_the_desk(chromium, tmp_path):
    there = {phone.SWITCH: "on", phone.ADDRESS: ELSEWHERE}
    with served(tmp_path, [SAMPLES / "blue-disc.jpg"], network=True, **there) as address:
        elsewhere = address.replace("localhost", ELSEWHERE)
        for path in ("/", "/?phone=guessed", "/_stcore/health", "/static/js/index.js", "/_stcore/upload_file/a/b"):
            code, said = status(elsewhere + path)
            assert code == 403 and words.DOOR_CLOSED in said
        with (
            visited(chromium, "desk", "light") as desk,
            visited(chromium, "phone", "dark") as hand,
        ):
            desk.goto(address)
            expect(desk.locator(".scan img")).to_be_visible(timeout=PATIENCE)
            desk.locator("summary").filter(has_text=words.SCAN_OPENS).click()
            link = desk.locator(".st-key-invite code").text_content()
            assert link.startswith(f"{elsewhere}/?phone=")
            hand.goto(elsewhere)
            expect(hand.get_by_role("heading", name=words.DOOR_CLOSED)).to_be_visible()
            hand.goto(link)
            expect(hand.get_by_role("button", name=words.TAKE)).to_be_visible(timeout=PATIENCE)
            assert "phone=" not in hand.url and "guess" not in hand.content()
            expect(hand.locator(".scan")).to_have_count(0)
            expect(desk.get_by_text(words.PHONE_IN)).to_be_visible(timeout=PATIENCE)
            # It held once; the code at the desk is another one now.
            assert status(link)[0] == 403
            expect(desk.locator(".st-key-invite code")).not_to_have_text(link)
            # Without TLS the phone's own camera still opens, and what it takes is counted and sent on.
            settled(hand)
            with hand.expect_file_chooser() as choice:
                hand.get_by_role("button", name=words.TAKE).tap()
            choice.value.set_files(SAMPLES / "blue-disc.jpg")
            expect(hand.locator('.total[data-total="24"]')).to_be_visible(timeout=PATIENCE)
            hand.get_by_role("button", name=re.compile(words.SEND_ON)).tap()
            expect(hand.get_by_text(words.SENT_ON)).to_be_visible(timeout=PATIENCE)
            expect(desk.locator('.total[data-total="24"]')).to_be_visible(timeout=PATIENCE)
            expect(desk.locator(".mark")).to_have_count(24)


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed")
def test_page_can_stand_on_a_home_screen(chromium, tmp_path):
    with served(tmp_path, []) as address, visited(chromium, "phone", "light") as hand:
        hand.goto(address)
        hand.locator('link[rel="manifest"]').wait_for(state="attached")
        # As the browser itself understands it.
        link = hand.context.new_cdp_session(hand)
        told = link.send("Page.getAppManifest")
        assert told["errors"] == [] and told["url"] == f"{address}/manifest.webmanifest"
        # All but that this test's browser remembers nothing.
        left = link.send("Page.getInstallabilityErrors")["installabilityErrors"]
        assert {error["errorId"] for error in left} <= {"in-incognito"}
