"""The server ends with the command that started it."""

import os
import signal
import socket
import subprocess
import sys
import time

import pytest

from visualiser.app import jobs

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")


def answers(port):
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def until(condition, patience_s=120):
    deadline = time.monotonic() + patience_s
    while not condition():
        assert time.monotonic() < deadline
        time.sleep(0.05)


def test_ending_the_command_ends_its_server(tmp_path):
    """SIGTERM is how a service manager ends a program: POSIX.1-2024, <signal.h>."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    started = subprocess.Popen(
        [sys.executable, "-m", "visualiser", "app", "--no-browser", "--port", str(port)],
        env={**os.environ, jobs.FOLDER_VARIABLE: str(tmp_path)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        until(lambda: answers(port) or started.poll() is not None)
        assert started.poll() is None
        started.send_signal(signal.SIGTERM)
        assert started.wait(60) == 0
        until(lambda: not answers(port))
    finally:
        started.kill()
