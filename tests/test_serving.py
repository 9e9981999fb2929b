"""The page as it is served: who may speak to it, what it asks outside, how it ends."""

import asyncio
import base64
import contextlib
import getpass
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from browsing import CHROMIUM, free_port, settled, started, visited
from streamlit import net_util
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.web.server.app_discovery import discover_asgi_app
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from counter.basics import words
from counter.page import command, door, guard
from counter.page.guard import Guard, guarded, may_speak

ROOT = Path(__file__).parents[1]
PUBLIC = "rounds.example.org"


# --- who may speak ---


@pytest.mark.parametrize(
    ("origin", "host", "address", "public", "may"),
    [
        ("http://localhost:8501", "localhost:8501", "localhost", None, True),
        ("http://127.0.0.1:8501", "127.0.0.1:8501", "localhost", None, True),
        ("http://[::1]:8501", "[::1]:8501", "localhost", None, True),
        ("HTTP://LocalHost:8501", "localhost:8501", "localhost", None, True),
        ("http://localhost", "localhost", "localhost", None, True),
        ("http://localhost", "localhost:80", "localhost", None, True),
        # Another port is another page, and so is no page at all.
        ("http://localhost:9000", "localhost:8501", "localhost", None, False),
        ("http://localhost", "localhost:8501", "localhost", None, False),
        ("http://127.0.0.1:8501", "localhost:8501", "localhost", None, False),
        (None, "localhost:8501", "localhost", None, False),
        ("null", "localhost:8501", "localhost", None, False),
        ("http://localhost:x", "localhost:8501", "localhost", None, False),
        ("http://localhost:8501", None, "localhost", None, False),
        ("http://elsewhere.example", "localhost:8501", "localhost", None, False),
        # A name of elsewhere that leads here (DNS rebinding).
        ("http://elsewhere.example:8501", "elsewhere.example:8501", "localhost", None, False),
        # Served to a network on purpose.
        ("http://192.168.1.5:8501", "192.168.1.5:8501", "0.0.0.0", None, True),
        ("http://192.168.1.6:8501", "192.168.1.5:8501", "0.0.0.0", None, False),
        # Behind a proxy that says whom was asked, and behind one that doesn't.
        (f"https://{PUBLIC}", PUBLIC, "localhost", PUBLIC, True),
        (f"https://{PUBLIC}:8443", f"{PUBLIC}:8443", "localhost", PUBLIC, True),
        (f"https://{PUBLIC}", "localhost:8501", "localhost", PUBLIC, True),
        (f"https://{PUBLIC}:8443", PUBLIC, "localhost", PUBLIC, False),
        (f"https://{PUBLIC}.elsewhere.example", "localhost:8501", "localhost", PUBLIC, False),
        ("http://localhost:8501", "localhost:8501", "localhost", PUBLIC, False),
        ("http://localhost", "localhost", "localhost", PUBLIC, False),
        (None, PUBLIC, "localhost", PUBLIC, False),
        (f"https://{PUBLIC}", "elsewhere.example", "localhost", PUBLIC, False),
    ],
)
def test_who_may_speak(origin, host, address, public, may):
    assert may_speak(origin, host, address, public) is may


def test_nobody_is_at_home_where_others_are_let_in(monkeypatch):
    monkeypatch.setattr(door, "is_local", lambda address, headers: True)
    assert door.at_home()
    monkeypatch.setattr(guard.st, "get_option", lambda name: PUBLIC if name == "browser.serverAddress" else None)
    assert not door.at_home() and door.kind() == "off"


def test_the_server_never_asks_for_its_own_address(monkeypatch):
    monkeypatch.setattr(net_util, "_make_blocking_http_get", lambda *_, **__: pytest.fail("asked outside"))
    monkeypatch.setattr(socket, "socket", lambda *_: pytest.fail("asked outside"))
    guarded()
    assert net_util.get_external_ip() is None and net_util.get_internal_ip() is None


# --- what one request may do ---


def answered(path, method="GET", left=()):
    """Status that a request comes back with; 200 where it got through."""
    said = []

    async def app(scope, receive, send):
        await send({"type": "http.response.start", "status": 200, "headers": [(b"X-Frame-Options", b"ALLOW")]})

    async def send(message):
        said.append(message)

    asked = Guard(app, lambda visit: left)({"type": "http", "path": path, "method": method}, None, send)
    with ThreadPoolExecutor(1) as beside:  # a browser of the same worker has this thread's loop
        beside.submit(asyncio.run, asked).result()
    heads = dict(said[0]["headers"])
    assert heads[b"x-frame-options"] == b"DENY" and b"X-Frame-Options" not in heads
    return said[0]["status"]


@pytest.mark.parametrize("path", ["/_stcore/metrics", "/base/_stcore/metrics", "/_stcore/agent/mcp"])
def test_what_nobody_needs_is_closed(path):
    assert answered(path) == 404 and answered("/_stcore/health") == 200


def test_a_visit_leaves_only_so_much_unread():
    upload = "/_stcore/upload_file/visit/file"
    assert answered(upload, "PUT", [10**6] * 40) == 200
    assert answered(upload, "PUT", [1] * guard.MOST_FILES) == 413
    assert answered(upload, "PUT", [guard.MOST_BYTES // 10] * 10) == 413
    assert answered(upload, "DELETE", [1] * guard.MOST_FILES) == 200


# --- a real server ---

#: Writes down every question to a resolver and every way outside that the server takes.
RECORDER = """
import os, socket
log = os.environ["ASKED_OUTSIDE"]
def note(what):
    with open(log, "a") as file:
        file.write(what + "\\n")
def home(name):
    return name in (None, "", "localhost", b"localhost", "::1", "::", "0.0.0.0") or str(name).startswith("127.")
ask, way = socket.getaddrinfo, socket.socket.connect
def getaddrinfo(host, *rest, **more):
    if not home(host):
        note(f"resolver {host}")
    return ask(host, *rest, **more)
def connect(self, address):
    if isinstance(address, tuple) and not home(address[0]):
        note(f"connect {address}")
    return way(self, address)
socket.getaddrinfo, socket.socket.connect = getaddrinfo, connect
for name in ("gethostbyname", "gethostbyname_ex", "getfqdn", "gethostbyaddr"):
    def asked(*given, own=getattr(socket, name), name=name):
        note(f"{name} {given}")
        return own(*given)
    setattr(socket, name, asked)
"""


@contextlib.contextmanager
def serving(folder, *more, arguments=None):
    """A server, its port and what it asked outside."""
    folder.mkdir(exist_ok=True)
    (folder / "sitecustomize.py").write_text(RECORDER)
    (folder / "asked").touch()
    port = free_port()
    own = {
        "XDG_DATA_HOME": str(folder / "data"),
        "PYTHONPATH": os.pathsep.join([str(folder), os.environ.get("PYTHONPATH", "")]),
        "ASKED_OUTSIDE": str(folder / "asked"),
    }
    given = arguments(port) if arguments else [*command(port, headless=True), *more]
    with (folder / "log").open("w") as log:
        server = subprocess.Popen(given, cwd=folder, env=os.environ | own, stdout=log, stderr=subprocess.STDOUT)
    try:
        for _ in range(120):
            with contextlib.suppress(OSError):
                urllib.request.urlopen(f"http://localhost:{port}/_stcore/health", timeout=2).close()
                break
            time.sleep(0.5)
        yield server, port, folder / "asked"
    finally:
        server.kill()
        server.wait()
    log = (folder / "log").read_text()
    assert "Traceback" not in log, log


def visit(port, host=None, origin=None, heads=None):
    """A conversation with the server, as a browser begins it."""
    return connect(
        f"ws://{host or f'localhost:{port}'}/_stcore/stream",
        sock=socket.create_connection(("127.0.0.1", port)),
        origin=origin,
        additional_headers=heads,
        subprotocols=["streamlit"],
        max_size=None,
    )


def page_of(*who):
    """What a visitor is shown first, as one text; a status where they are not let in."""
    try:
        with visit(*who) as link:
            link.send(BackMsg(rerun_script={"query_string": ""}).SerializeToString())
            shown = b""
            while True:
                data = link.recv(timeout=60)
                shown += data
                if ForwardMsg.FromString(data).WhichOneof("type") == "script_finished":
                    return shown.decode("utf-8", "replace")
    except InvalidStatus as error:
        return error.response.status_code


@pytest.fixture(scope="module")
def at_home(tmp_path_factory):
    with serving(tmp_path_factory.mktemp("home") / "run") as served:
        yield served


@pytest.fixture(scope="module")
def told_public(tmp_path_factory):
    with serving(tmp_path_factory.mktemp("public") / "run", "--browser.serverAddress", PUBLIC) as served:
        yield served


def test_the_user_s_notebook_is_for_the_user_alone(at_home):
    _, port, _ = at_home
    assert words.NOTEBOOK in page_of(port, None, f"http://localhost:{port}")
    for origin in (None, "null", "http://localhost", f"http://localhost:{port + 1}", "https://elsewhere.example"):
        assert page_of(port, None, origin) == 403
    assert page_of(port, "elsewhere.example", f"http://elsewhere.example:{port}") == 403


def test_nobody_has_the_user_s_notebook_where_a_public_name_is_told(told_public):
    _, port, _ = told_public
    for host in (PUBLIC, None, "localhost"):
        shown = page_of(port, host, f"https://{PUBLIC}")
        assert words.LEAD in shown and words.NOTEBOOK not in shown
    for origin in (None, "http://localhost", f"http://localhost:{port}", f"http://127.0.0.1:{port}"):
        for host in (PUBLIC, None, "localhost"):
            assert page_of(port, host, origin) == 403


def test_nothing_is_asked_outside(at_home, told_public):
    for _, port, asked in (at_home, told_public):
        assert page_of(port, "elsewhere.example", "https://elsewhere.example") == 403
        urllib.request.urlopen(f"http://localhost:{port}/_stcore/health", timeout=10).close()
        assert asked.read_text() == ""


def test_what_every_answer_says(at_home):
    _, port, _ = at_home
    for path in ("/", "/_stcore/health", "/_stcore/host-config", "/static/none.js"):
        try:
            answer = urllib.request.urlopen(f"http://localhost:{port}{path}")
        except urllib.error.HTTPError as error:
            answer = error
        with answer:
            assert answer.headers["X-Content-Type-Options"] == "nosniff"
            assert answer.headers["Content-Security-Policy"] == "frame-ancestors 'none'"
    with pytest.raises(urllib.error.HTTPError, match="404") as refused:
        urllib.request.urlopen(f"http://localhost:{port}/_stcore/metrics")
    refused.value.close()


def test_app_at_the_root_is_served_alike(tmp_path):
    assert discover_asgi_app(ROOT / "app.py").is_asgi_app

    def arguments(port):
        return [
            *(sys.executable, "-m", "streamlit", "run", str(ROOT / "app.py"), "--server.headless", "true"),
            *("--server.port", str(port), "--server.address", "localhost"),
        ]

    with serving(tmp_path / "run", arguments=arguments) as (_, port, asked):
        assert words.LEAD in page_of(port, None, f"http://localhost:{port}")
        assert page_of(port, None, "https://elsewhere.example") == 403
        assert asked.read_text() == ""


@pytest.mark.skipif(os.name == "nt", reason="signals are POSIX")
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_what_ends_the_command_ends_its_server(tmp_path, how):
    def arguments(port):
        return [sys.executable, "-m", "counter", "page", "--no-browser", "--port", str(port)]

    with serving(tmp_path / "run", arguments=arguments) as (server, port, _):
        with visit(port, origin=f"http://localhost:{port}"):
            server.send_signal(how)
            server.wait(20)
        with pytest.raises(OSError):
            socket.create_connection(("127.0.0.1", port), timeout=2)


# --- a real proxy in front ---


def proxied(settings, port, into, folder):
    """The settings of the README as nginx can run them here: without a certificate, on a free port."""
    for given, here in {
        "listen 443 ssl;": f"listen 127.0.0.1:{into};",
        "http://127.0.0.1:8501": f"http://127.0.0.1:{port}",
        "/etc/nginx/rounds.htpasswd": str(folder / "passwords"),
    }.items():
        assert given in settings
        settings = settings.replace(given, here)
    settings = "\n".join(line for line in settings.splitlines() if "ssl_certificate" not in line)
    scratch = "".join(
        f"{kind}_temp_path {folder}/{kind};" for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    # Its workers read the test's folder as whoever runs the test.
    user = f"user {getpass.getuser()};" if os.geteuid() == 0 else ""
    return (
        f"{user} daemon off; pid {folder}/pid; error_log {folder}/errors;\nevents {{}}\n"
        f"http {{ access_log off; {scratch}\n{settings}\n}}\n"
    )


@pytest.mark.skipif(not shutil.which("nginx"), reason="nginx is not installed (Debian: apt install nginx-light)")
@pytest.mark.parametrize("host_handed_on", [True, False])
def test_behind_a_real_proxy(told_public, tmp_path, host_handed_on):
    _, port, asked = told_public
    settings = (ROOT / "README.md").read_text(encoding="utf-8").partition("```nginx\n")[2].partition("```")[0]
    if not host_handed_on:
        settings = settings.replace("proxy_set_header Host $http_host;", "")
    into = free_port()
    (tmp_path / "passwords").write_text("class:{PLAIN}stitches\n")
    (tmp_path / "conf").write_text(proxied(settings, port, into, tmp_path))
    nginx = subprocess.Popen(["nginx", "-p", str(tmp_path), "-c", str(tmp_path / "conf")], stderr=subprocess.DEVNULL)
    try:
        for _ in range(50):
            with contextlib.suppress(OSError):
                socket.create_connection(("127.0.0.1", into), timeout=1).close()
                break
            time.sleep(0.1)
        password = base64.b64encode(b"class:stitches").decode()
        ask = urllib.request.Request(f"http://127.0.0.1:{into}/", headers={"Host": PUBLIC})
        with pytest.raises(urllib.error.HTTPError, match="401") as refused:
            urllib.request.urlopen(ask)
        refused.value.close()
        ask.add_header("Authorization", f"Basic {password}")
        with urllib.request.urlopen(ask) as answer:
            assert answer.headers["X-Frame-Options"] == "DENY"

        opens = {"Authorization": f"Basic {password}"}
        shown = page_of(into, PUBLIC, f"https://{PUBLIC}", opens)
        assert words.LEAD in shown and words.NOTEBOOK not in shown
        for origin in (None, "http://localhost", f"http://localhost:{port}", "https://elsewhere.example"):
            for host in (PUBLIC, "localhost"):
                assert page_of(into, host, origin, opens) == 403
        assert asked.read_text() == ""
    finally:
        nginx.terminate()
        nginx.wait(10)


# --- a real browser ---


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="Debian's package 'chromium' is not installed")
def test_the_browser_says_that_the_server_is_gone_until_it_is_back(chromium, tmp_path):
    port = free_port()
    server = started(tmp_path, port)
    try:
        with visited(chromium, "desk", "light") as page:
            page.goto(f"http://localhost:{port}")
            page.locator('.st-key-browser [data-testid^="stBidiComponent"]').first.wait_for(state="attached")
            settled(page)
            server.terminate()
            server.wait(20)
            told = page.locator(".server-gone")
            told.wait_for()
            assert told.inner_text() == words.SERVER_GONE
            # Longer than Streamlit takes for a window of its own.
            page.wait_for_timeout(6000)
            assert not page.locator('[role="dialog"]:visible').count()
            server = started(tmp_path, port)
            told.wait_for(state="detached")
            page.get_by_text(words.SIZE).first.wait_for()
    finally:
        server.kill()
        server.wait()
