"""One writer at a time where the drive keeps no locks: no lock outlives its owner."""

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time

import pytest

from visualiser.errors import ProjectError
from visualiser.project import locking
from visualiser.project.locking import held
from visualiser.project.writing import make_folder

pytestmark = pytest.mark.skipif(os.name != "posix", reason="Windows always has locks of its own")


@pytest.fixture
def no_locks(monkeypatch):
    def refuse(_):
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(locking, "_try_lock", refuse)


@pytest.fixture
def no_links(monkeypatch):
    def refuse(*_):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)


def owner_place(tmp_path):
    return tmp_path / ".lock.owner"


def write_owner(tmp_path, **changes):
    owner = {"process": os.getpid(), "computer": socket.gethostname(), "since": "today"} | changes
    owner_place(tmp_path).write_text(json.dumps(owner))


def try_briefly(tmp_path, patience_s=0.2):
    with held(tmp_path / ".lock", patience_s):
        return owner_place(tmp_path).read_text()


@pytest.mark.usefixtures("no_locks")
@pytest.mark.parametrize("links", [True, False])
def test_one_at_a_time(tmp_path, links, request):
    if not links:
        request.getfixturevalue("no_links")
    with held(tmp_path / ".lock"):
        assert json.loads(owner_place(tmp_path).read_text())["process"] == os.getpid()
        with pytest.raises(ProjectError, match=f"Process {os.getpid()} on"):
            try_briefly(tmp_path)
    assert try_briefly(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == [".lock"]


@pytest.mark.usefixtures("no_locks")
def test_who_comes_second_waits_for_the_first(tmp_path):
    begun, end = threading.Event(), threading.Event()

    def first():
        with held(tmp_path / ".lock"):
            begun.set()
            end.wait(30)

    thread = threading.Thread(target=first)
    thread.start()
    begun.wait(30)
    threading.Timer(0.1, end.set).start()
    assert try_briefly(tmp_path, patience_s=30)
    thread.join()


@pytest.mark.usefixtures("no_locks")
@pytest.mark.parametrize("content", [b"", b"{", b"[]", b"\0" * 40])
def test_a_lock_that_was_never_written_does_not_block_for_good(tmp_path, content):
    """A kill between making the file and writing into it."""
    owner_place(tmp_path).write_bytes(content)
    with pytest.raises(ProjectError):
        try_briefly(tmp_path)  # it may be being written just now
    old = time.time() - 10
    os.utime(owner_place(tmp_path), (old, old))
    assert try_briefly(tmp_path)


@pytest.mark.usefixtures("no_locks")
def test_a_dead_owner_is_taken_away_and_a_living_one_is_not(tmp_path):
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    write_owner(tmp_path, process=gone.pid)
    assert try_briefly(tmp_path)
    write_owner(tmp_path, process=os.getppid(), begun=locking._begun(os.getppid()))
    with pytest.raises(ProjectError, match="does not let go"):
        try_briefly(tmp_path)


@pytest.mark.usefixtures("no_locks")
def test_a_later_process_of_the_same_number_is_not_the_owner(tmp_path):
    write_owner(tmp_path, process=os.getppid(), begun="long before")
    assert try_briefly(tmp_path)


@pytest.mark.usefixtures("no_locks")
def test_an_owner_on_another_computer_is_left_alone(tmp_path):
    write_owner(tmp_path, process=2**22 + 1, computer="another", begun="x")
    with pytest.raises(ProjectError, match="on another"):
        try_briefly(tmp_path)


@pytest.mark.usefixtures("no_locks")
@pytest.mark.parametrize("process", [10**300, -1, 0, "1", None, 2**31])
def test_a_number_that_is_no_process_is_left_alone(tmp_path, process):
    write_owner(tmp_path, process=process)
    with pytest.raises(ProjectError):
        try_briefly(tmp_path)


def test_a_killed_holder_blocks_nobody(tmp_path):
    """Killed at many moments, with and without the link, and the next one gets in."""
    for number in range(24):
        child = os.fork()
        if child == 0:
            locking._try_lock = lambda _: (_ for _ in ()).throw(OSError(95, "no"))
            if number % 2:
                os.link = lambda *_: (_ for _ in ()).throw(PermissionError(1, "no"))
            while True:
                with held(tmp_path / ".lock"):
                    pass
        time.sleep(0.001 * (number % 8) + 0.002)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        if owner_place(tmp_path).exists():
            old = time.time() - 10
            os.utime(owner_place(tmp_path), (old, old))
        before = locking._try_lock
        locking._try_lock = lambda _: (_ for _ in ()).throw(OSError(95, "no"))
        try:
            assert try_briefly(tmp_path, 1.0)
        finally:
            locking._try_lock = before


def test_when_a_process_began_is_told_as_ps_tells_it():
    if not os.path.exists(f"/proc/{os.getpid()}/stat"):  # noqa: PTH110
        pytest.skip("this system has no /proc")
    assert locking._begun(os.getpid()) == locking._begun(os.getpid())
    assert locking._begun(os.getpid()) != locking._begun(1)
    assert locking._begun(2**31 - 1) == ""


def test_a_new_folder_is_on_the_disk_when_it_is_made(tmp_path, monkeypatch):
    flushed = []
    monkeypatch.setattr(os, "fsync", lambda handle: flushed.append(os.fstat(handle).st_ino))
    make_folder(tmp_path / "a" / "b", private=True)
    assert flushed == [tmp_path.stat().st_ino, (tmp_path / "a").stat().st_ino]
    assert (tmp_path / "a" / "b").stat().st_mode & 0o777 == 0o700
