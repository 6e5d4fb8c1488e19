"""Who may ask the server, how much may be uploaded, and that nothing is asked outside."""

import asyncio
import base64
import contextlib
import http.client
import os
import re
import secrets
import signal
import socket
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest
from streamlit import config
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.runtime.forward_msg_cache import populate_hash_if_needed

from tests.app.watching import calls_outside, watched
from visualiser.app import jobs, serving
from visualiser.app.serving import Doorkeeper, hostname, is_own_host, is_own_page
from visualiser.cli.launch import lan_places
from visualiser.project.document import Document
from visualiser.project.exchange import export_zip

ROOT = Path(__file__).resolve().parents[2]
NAMES = frozenset({"studio", "studio.local"})


@pytest.mark.parametrize(
    ("host", "name"),
    [
        ("localhost:8501", "localhost"), ("LOCALHOST.", "localhost"), ("[::1]:8501", "::1"),
        ("192.0.2.7", "192.0.2.7"), (None, None), ("", None), ("a@localhost", None),
        ("localhost:port", None), ("localhost:99999", None), ("localhost/x", None),
        ("evil.example#localhost", None), ("[::1", None), (" localhost", None),
    ],
)  # fmt: skip
def test_a_host_header_is_a_name_or_nothing(host, name):
    """RFC 9110, 7.2: Host = uri-host [ ":" port ]."""
    assert hostname(host) == name


@pytest.mark.parametrize(
    ("host", "reached", "own"),
    [
        ("localhost:8501", "127.0.0.1", True),
        ("127.0.0.1", "127.0.0.1", True),
        ("[::1]:8501", "::1", True),
        ("192.0.2.7:8501", "192.0.2.7", True),
        ("192.0.2.7:8501", "::ffff:192.0.2.7", True),
        ("studio.local:8501", "192.0.2.7", True),
        ("evil.example", "127.0.0.1", False),
        ("evil.example:8501", "192.0.2.7", False),
        ("localhost.evil.example", "127.0.0.1", False),
        ("127.0.0.1.evil.example", "127.0.0.1", False),
        ("192.0.2.8", "192.0.2.7", False),
        ("192.0.2.7", "127.0.0.1", False),
        ("0.0.0.0:8501", "127.0.0.1", False),
        (None, "127.0.0.1", False),
        ("studio", None, True),
    ],
)
def test_only_this_machines_names_are_answered(host, reached, own):
    """A name of a stranger's may lead here: DNS rebinding."""
    assert is_own_host(host, reached, NAMES) == own


@pytest.mark.parametrize(
    ("origin", "own"),
    [
        (None, True), ("http://localhost:8501", True), ("https://localhost:8501", True),
        ("http://localhost:8502", False), ("http://localhost", False), ("null", False),
        ("http://evil.example", False), ("file://", False), ("", False),
    ],
)  # fmt: skip
def test_only_pages_of_this_server_may_call_it(origin, own):
    """RFC 6454, 7: the origin of what made a browser ask."""
    assert is_own_page(origin, "localhost:8501") == own


def asked(path="/", *, method="GET", kind="http", query="", **headers):
    """What a door keeper sends to one request, and whether it let the request through."""
    sent, through = [], []

    async def app(scope, receive, send):
        through.append(scope["path"])
        await send({"type": "http.response.start", "status": 200, "headers": []})

    async def send(message):
        sent.append(message)

    given = [
        (name.replace("_", "-").encode(), value.encode())
        for name, value in ({"host": "127.0.0.1:8501"} | headers).items()
    ]
    scope = {
        "type": kind, "path": path, "method": method, "headers": given, "server": ("127.0.0.1", 1),
        "query_string": query.encode(),
    }  # fmt: skip
    asyncio.run(Doorkeeper(app)(scope, None, send))
    return sent, bool(through)


def test_a_strangers_connection_is_closed_before_it_is_open():
    for headers in ({"host": "evil.example:8501"}, {"origin": "http://evil.example"}):
        sent, through = asked("/_stcore/stream", kind="websocket", **headers)
        assert not through
        assert [message["type"] for message in sent] == ["websocket.close"]


@pytest.mark.parametrize("path", ["/_stcore/metrics", "/_stcore/metrics/", "/x/_stcore/metrics"])
def test_measures_of_the_server_are_nobodys_business(path):
    sent, through = asked(path)
    assert not through
    assert sent[0]["status"] == 404


def test_no_page_of_others_shows_these_inside_itself():
    sent, through = asked("/")
    assert through
    assert (b"x-frame-options", b"SAMEORIGIN") in sent[0]["headers"]


UPLOAD = "/_stcore/upload_file/page/file"


def test_uploads_are_taken_up_to_a_bound(monkeypatch):
    held = [0]
    monkeypatch.setattr(serving, "held_bytes", lambda: held[0])
    taken = 0
    for _ in range(10):  # ten of 55 MB made a server of 759 MB
        sent, through = asked(UPLOAD, method="PUT", content_length="55000000")
        held[0] += 55_000_000 * through
        taken += through
        assert sent[0]["status"] == (200 if through else 413)
    assert taken == serving.MOST_HELD_BYTES // 55_000_000
    assert asked(UPLOAD, method="DELETE")[1]


@pytest.mark.parametrize("length", ["", "-1", "x", "9" * 400, None])
def test_an_upload_of_unknown_length_counts_as_the_longest(length, monkeypatch):
    room = serving.UPLOAD_MB * 1_048_576
    headers = {} if length is None else {"content_length": length}
    monkeypatch.setattr(serving, "held_bytes", lambda: serving.MOST_HELD_BYTES - room + 1)
    _, through = asked(UPLOAD, method="PUT", **headers)
    assert through == (length == "-1")  # which the server refuses itself, as no length


def test_uploads_under_way_count_too(monkeypatch):
    monkeypatch.setattr(serving, "held_bytes", lambda: 0)
    keeper = Doorkeeper(None)
    keeper.under_way_bytes = serving.MOST_HELD_BYTES
    assert keeper.full(1)
    assert Doorkeeper(None).full(1) == ""


@pytest.fixture
def lan():
    before = config.get_option("server.address")
    config.set_option("server.address", "0.0.0.0")
    yield
    config.set_option("server.address", before)


@pytest.mark.usefixtures("lan")
def test_a_nearly_full_disk_takes_no_uploads_of_others(monkeypatch, jobs_folder):
    from collections import namedtuple

    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(
        serving.shutil, "disk_usage", lambda _: usage(1, 1, serving.LEAST_FREE_BYTES + 10)
    )
    assert Doorkeeper(None).full(10) == ""
    assert "disk" in Doorkeeper(None).full(11)


def labels(page):
    return [button.label for button in page.button]


def test_on_the_network_no_jobs_are_listed_and_no_path_is_asked(jobs_folder, lan, opened):
    """What is kept of one person must not show up with another."""
    jobs.new_job("Stair hall")
    page = opened()
    assert not [label for label in labels(page) if "Stair hall" in label]
    assert "Open it" not in labels(page)
    assert any("opened by its own address" in part.value for part in page.caption)


def test_on_this_computer_jobs_are_listed_and_a_large_zip_has_a_way_in(
    jobs_folder, opened, tmp_path
):
    config.set_option("server.address", "127.0.0.1")
    _, project = jobs.new_job("Stair hall", Document(wall={"width_mm": 3000, "height_mm": 2500}))
    (tmp_path / "job.zip").write_bytes(export_zip(project))
    page = opened()
    assert [label for label in labels(page) if "Stair hall" in label]
    field = next(f for f in page.text_input if "on this computer" in f.label)
    field.set_value(str(tmp_path / "none.zip")).run()
    next(b for b in page.button if b.label == "Open it").click().run()
    assert "damaged" in page.error[0].value
    field = next(f for f in page.text_input if "on this computer" in f.label)
    field.set_value(str(tmp_path / "job.zip")).run()
    next(b for b in page.button if b.label == "Open it").click().run()
    assert not page.exception
    assert len(list(jobs_folder.glob("received-*/project.json"))) == 1


@pytest.fixture
def opened(room):
    from streamlit.testing.v1 import AppTest

    def open_page():
        page = AppTest.from_file(str(ROOT / "streamlit_app.py"), default_timeout=120).run()
        assert not page.exception
        return page

    return open_page


def test_what_the_page_promises_is_what_the_server_takes():
    told = (ROOT / ".streamlit" / "config.toml").read_text()
    assert int(re.search(r"maxUploadSize = (\d+)", told)[1]) == serving.UPLOAD_MB
    for place in (ROOT / "visualiser" / "app").rglob("*.py"):
        for most in re.findall(r"max_upload_size=(\d+)", place.read_text("utf-8")):
            assert int(most) <= serving.UPLOAD_MB


def test_no_part_of_the_page_is_sent_as_the_one_the_browser_has():
    """Streamlit 1.67: a browser that has let go of it meanwhile takes no further message."""
    settings = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text())
    before = config.get_option("global.minCachedMessageSize")
    config.set_option("global.minCachedMessageSize", settings["global"]["minCachedMessageSize"])
    try:
        message = ForwardMsg()
        message.delta.new_element.markdown.body = "plaster " * 1_000_000
        populate_hash_if_needed(message)
        assert message.hash
        assert not message.metadata.cacheable
    finally:
        config.set_option("global.minCachedMessageSize", before)


RUN = "from visualiser.cli import main; main()"


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture(scope="module")
def on_lan(tmp_path_factory):
    """The app as `visualiser app --lan` starts it; calls to outside are blocked and noted."""
    folder = tmp_path_factory.mktemp("watched")
    port = free_port()
    environment = watched(folder, {**os.environ, "VISUALISER_JOBS": str(folder)}, ROOT)
    said = (folder / "said").open("wb")
    process = subprocess.Popen(
        [sys.executable, "-c", RUN, "app", "--lan", "--port", str(port),
         "--no-browser"],
        cwd=ROOT, env=environment, stdout=said, stderr=said, start_new_session=True,
    )  # fmt: skip
    deadline = time.monotonic() + 60
    while True:
        with contextlib.suppress(OSError):
            socket.create_connection(("127.0.0.1", port), 1).close()
            break
        assert time.monotonic() < deadline, (folder / "said").read_text()
        time.sleep(0.2)
    yield port, folder
    os.killpg(process.pid, signal.SIGTERM)
    process.wait(20)
    said.close()


def upgraded(port, host, origin):
    """Status of an attempt to open the page's socket (RFC 6455, 4.1)."""
    key = base64.b64encode(secrets.token_bytes(16)).decode()
    lines = [
        "GET /_stcore/stream HTTP/1.1", f"Host: {host}", "Upgrade: websocket",
        "Connection: Upgrade", f"Sec-WebSocket-Key: {key}", "Sec-WebSocket-Version: 13",
        "Sec-WebSocket-Protocol: streamlit", *([f"Origin: {origin}"] if origin else []),
    ]  # fmt: skip
    with socket.create_connection(("127.0.0.1", port), 10) as connection:
        connection.sendall(("\r\n".join(lines) + "\r\n\r\n").encode())
        return int(connection.recv(1000).split()[1])


def status(port, path, host, **headers):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    connection.request("GET", path, headers={"Host": host, **headers})
    answer = connection.getresponse().status
    connection.close()
    return answer


def test_a_page_rebound_to_this_server_learns_nothing(on_lan):
    port, _ = on_lan
    assert upgraded(port, f"localhost:{port}", f"http://localhost:{port}") == 101
    assert upgraded(port, f"evil.example:{port}", f"http://evil.example:{port}") == 403
    assert upgraded(port, f"localhost:{port}", f"http://evil.example:{port}") == 403
    assert upgraded(port, f"localhost:{port}", "null") == 403
    assert status(port, "/", f"127.0.0.1:{port}") == 200
    for path in ("/", "/_stcore/health", "/_stcore/host-config", "/media/x.jpg"):
        assert status(port, path, f"evil.example:{port}") == 421
    assert status(port, "/_stcore/metrics", f"127.0.0.1:{port}") == 404
    name = socket.gethostname().partition(".")[0]
    assert status(port, "/_stcore/health", f"{name}.local:{port}") == 200


def test_nothing_outside_is_asked(on_lan):
    """Streamlit looks up its public address at a start on the network and for a foreign page."""
    port, folder = on_lan
    for origin in ("http://evil.example", "http://192.0.2.9:8501"):
        upgraded(port, f"localhost:{port}", origin)
        status(port, "/_stcore/health", f"localhost:{port}", Origin=origin)
    upgraded(port, f"localhost:{port}", f"http://localhost:{port}")
    time.sleep(1.0)
    assert calls_outside(folder, socket.gethostname().partition(".")[0]) == []
    assert (folder / "calls").read_text()  # the watch does see calls


def test_what_lan_says(on_lan):
    port, folder = on_lan
    words = (folder / "said").read_text()
    assert "Only where you trust" in words or "Anyone on this network" in words
    for place in lan_places():
        assert f"http://{place}:{port}" in words
    assert lan_places()[-1].endswith(".local")
    assert not [place for place in lan_places() if place.startswith("127.")]


def test_what_has_been_taken_is_held_no_longer(monkeypatch):
    """With Streamlit's own manager: the file stays known, its bytes go."""
    from types import SimpleNamespace

    from streamlit import runtime
    from streamlit.runtime import scriptrunner
    from streamlit.runtime.memory_uploaded_file_manager import MemoryUploadedFileManager
    from streamlit.runtime.uploaded_file_manager import UploadedFile, UploadedFileRec

    from visualiser.app.uploads import free_upload

    manager = MemoryUploadedFileManager("/x")
    monkeypatch.setattr(runtime, "exists", lambda: True)
    monkeypatch.setattr(runtime, "get_instance", lambda: SimpleNamespace(uploaded_file_mgr=manager))
    monkeypatch.setattr(
        scriptrunner, "get_script_run_ctx", lambda: SimpleNamespace(session_id="page")
    )
    record = UploadedFileRec("file", "hall.jpg", "image/jpeg", bytes(1000))
    manager.add_file("page", record)
    assert serving.held_bytes() == 1000
    free_upload(UploadedFile(record, SimpleNamespace(upload_url="", delete_url="")))
    assert serving.held_bytes() == 0
    assert [file.name for file in manager.get_files("page", ["file"])] == ["hall.jpg"]
