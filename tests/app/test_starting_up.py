"""What the first page loads and reads: little, so that it is there soon."""

import json
import os
import subprocess
import sys

import pytest

from visualiser.app import jobs
from visualiser.errors import ProjectError

HEAVY = ("cv2", "numpy", "pandas", "pydantic", "reportlab", "scipy", "skimage")


def test_the_first_page_loads_nothing_heavy():
    script = f"import sys, visualiser.app.main; print([m for m in {HEAVY!r} if m in sys.modules])"
    told = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True)
    assert told.stdout.split() == [b"[]"]


def test_jobs_are_listed_newest_first_by_name(jobs_folder):
    for name in ("Stair hall", "Landing"):
        jobs.new_job(name)
    assert {name for _, name, _ in jobs.recent_jobs()} == {"Stair hall", "Landing"}


def test_a_folder_without_a_job_that_can_be_read_is_left_out(jobs_folder):
    job_id, _ = jobs.new_job("Stair hall")
    for number, content in enumerate((b"", b"[]", b"\xff\xfe", b'{"name": 3}', b"[" * 100_000)):
        folder = jobs_folder / f"broken-{number:016x}"
        folder.mkdir()
        (folder / "project.json").write_bytes(content)
    assert [entry[:2] for entry in jobs.recent_jobs()] == [(job_id, "Stair hall")]


def test_the_folder_of_jobs_holds_jobs_and_nothing_that_nobody_reads(jobs_folder):
    job_id, project = jobs.new_job("Stair hall")
    jobs.find_job(job_id)
    jobs.recent_jobs()
    project.save(project.document.changed(name="Landing"))
    assert [place.name for place in jobs_folder.iterdir()] == [job_id]


def test_no_more_than_the_asked_number_is_listed(jobs_folder):
    for number in range(5):
        jobs.new_job(f"Job {number}")
    assert len(jobs.recent_jobs(3)) == 3


def test_a_listed_job_that_is_broken_inside_says_so_when_opened(jobs_folder):
    job_id, project = jobs.new_job("Stair hall")
    place = project.folder / "project.json"
    place.write_text(json.dumps({**json.loads(place.read_text()), "pieces": 7}))
    assert [entry[:2] for entry in jobs.recent_jobs()] == [(job_id, "Stair hall")]
    with pytest.raises(ProjectError):
        jobs.find_job(job_id)


def test_the_next_job_starts_in_the_unit_chosen_last(jobs_folder):
    assert jobs.new_job("First")[1].document.units == "mm"
    jobs.remember_units("in")
    assert jobs.new_job("Second")[1].document.units == "in"
    assert jobs.sample_job()[1].document.units == "in"


@pytest.mark.parametrize("content", [b"", b"furlong", b"\xff\xfe"])
def test_a_noted_unit_that_is_none_is_millimetres(jobs_folder, content):
    (jobs_folder / ".units").write_bytes(content)
    assert jobs.usual_units() == "mm"


def test_only_what_was_left_half_unpacked_long_ago_is_removed(jobs_folder):
    job_id, _ = jobs.new_job("Stair hall")
    left, busy = jobs_folder / ".unpacking-left", jobs_folder / ".unpacking-busy"
    for place in (left, busy):
        (place / "job").mkdir(parents=True)
    now_s = busy.stat().st_mtime
    os.utime(left, (now_s - 90_000, now_s - 90_000))
    os.utime(jobs_folder / job_id, (now_s - 90_000, now_s - 90_000))
    jobs.clear_leftovers(now_s)
    assert not left.exists()
    assert busy.exists()
    assert jobs.find_job(job_id).document.name == "Stair hall"
