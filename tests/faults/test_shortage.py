"""Short memory, a full temporary folder, no home: told in a sentence, never as a raw error."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import cv2
import pytest
import typer
from typer.testing import CliRunner

from visualiser.app import child_process, jobs
from visualiser.cli.output import guarded
from visualiser.errors import ProjectError, VisualiserError, is_memory_short
from visualiser.project.batch import Failed, _attempt
from visualiser.project.batch_list import BatchItem
from visualiser.project.samples import create_sample

ROOT = Path(__file__).resolve().parents[2]


def test_what_opencv_says_of_short_memory_is_known():
    """In a process that may hold 700 MB; opencv2/core/base.hpp: Error::StsNoMem is -4."""
    script = """
import resource, cv2, numpy as np
from visualiser.errors import is_memory_short
small = np.zeros((4, 4, 3), np.uint8)
resource.setrlimit(resource.RLIMIT_AS, (700_000_000, 700_000_000))
try:
    cv2.resize(small, (20_000, 20_000))
except Exception as error:
    print(type(error).__name__, getattr(error, "code", None), is_memory_short(error))
"""
    if sys.platform != "linux":
        pytest.skip("limits memory as Linux does")
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT,
        env={**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    assert done.stdout.split()[-1] == "True", done.stdout


class NoMemory(cv2.error):
    code = -4


class OtherFault(cv2.error):
    code = -215


NoMemory.__module__ = OtherFault.__module__ = "cv2"


@pytest.mark.parametrize("short", [MemoryError(), NoMemory()])
def test_short_memory_is_told_by_command_line_and_batch(short):
    @guarded
    def command():
        raise short

    program = typer.Typer()
    program.command()(command)
    told = CliRunner().invoke(program)
    assert told.exit_code == 1
    assert "not enough memory" in told.output

    def step():
        raise short

    failed = _attempt(BatchItem(Path("job")), "plan", step)
    assert isinstance(failed, Failed)
    assert "memory" in failed.why
    assert "fault of the program" not in failed.do


def test_another_fault_is_not_called_short_memory():
    assert not is_memory_short(OtherFault())
    assert not is_memory_short(ValueError())

    @guarded
    def command():
        raise OtherFault

    with pytest.raises(cv2.error):
        command()


def test_a_full_temporary_folder_is_told(monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(tempfile, "TemporaryFile", full)
    with pytest.raises(VisualiserError, match="no space left") as caught:
        child_process.start_process(len, [1])
    assert "temporary files" in caught.value.hint


def test_no_home_and_no_entry_of_its_own_is_told(monkeypatch):
    """As in a container that is run under a number without a name."""
    monkeypatch.delenv(jobs.FOLDER_VARIABLE, raising=False)

    def unknown():
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(Path, "home", unknown)
    with pytest.raises(ProjectError, match="home folder") as caught:
        jobs.new_job("Stair hall")
    assert jobs.FOLDER_VARIABLE in caught.value.hint
    assert jobs.recent_jobs() == []
    assert jobs.usual_units() == "mm"
    jobs.remember_units("in")
    jobs.clear_leftovers(0.0)


@pytest.mark.skipif(os.name != "posix", reason="rights as POSIX has them")
def test_a_sample_job_is_its_owners_alone(tmp_path):
    before = os.umask(0o022)
    try:
        job = create_sample("breakfast-room", tmp_path / "job")
    finally:
        os.umask(before)
    assert job.folder.stat().st_mode & 0o077 == 0
