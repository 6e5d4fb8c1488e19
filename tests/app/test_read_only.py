"""A folder that is really read-only: a file system mounted so, as root writes past permissions."""

import json
import os
import subprocess
import sys

import pytest

from visualiser.app import steps

UNSHARE = ("unshare", "--mount")


@pytest.fixture(scope="module")
def told(tmp_path_factory, pytestconfig):
    folder = tmp_path_factory.mktemp("read-only")
    try:
        may = not subprocess.run(
            [*UNSHARE, "mount", "-t", "tmpfs", "none", str(folder)],
            capture_output=True,
            check=False,
        ).returncode
    except FileNotFoundError:
        may = False
    if not may:
        pytest.skip("file systems cannot be mounted here")
    ran = subprocess.run(
        [*UNSHARE, sys.executable, "-m", "tests.app.read_only_folder", str(folder)],
        capture_output=True,
        cwd=pytestconfig.rootpath,
        env={**os.environ, "PYTHONPATH": str(pytestconfig.rootpath)},
        check=False,
        timeout=240,
    )
    assert ran.returncode == 0, ran.stderr.decode()[-2000:]
    return json.loads(ran.stdout)


@pytest.mark.parametrize("step", [step.key for step in steps.ALL])
def test_every_step_still_shows_what_is_saved(told, step):
    shown = told[f"step {step}"]
    assert shown["faults"] == 0
    assert shown["words"] == ""  # no error: what the plan of step Hang has to say is a quiet line


@pytest.mark.parametrize(
    "attempt", ["change", "photo dropped", "picture dropped", "sample job", "new job"]
)
def test_what_cannot_be_written_is_told_in_a_sentence(told, attempt):
    answer = told[attempt]
    assert answer["faults"] == 0
    assert "read-only file system" in answer["words"] or "could not be written" in answer["words"]
    assert "a fault in the program" not in answer["words"]
    assert ".lock" not in answer["words"]


def test_nothing_is_lost_and_it_is_saved_once_that_is_possible(told):
    assert (told["width shown"], told["width on disk"]) == ("5 000 mm", 4000)
    assert told["job as before"]
    assert told["after"] == {"faults": 0, "words": ""}
    assert told["width in the end"] == 5000
