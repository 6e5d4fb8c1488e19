"""What a writer leaves: whole files on the disk; half ones go with the next save, nothing else."""

import os
import sys

import pytest

import visualiser as vis
from visualiser.errors import ProjectError
from visualiser.project.batch import Made
from visualiser.project.batch_list import BatchItem
from visualiser.project.ledger import Ledger
from visualiser.project.writing import remove_partial, write_atomically, write_whole


def test_only_leftovers_of_this_place_are_removed(tmp_path):
    place = tmp_path / "plan [A].pdf"
    write_atomically(place, b"whole")
    (tmp_path / ".plan [A].pdf.0011aabb.part").write_bytes(b"half")
    others = [".plan A.pdf.0011aabb.part", ".other.pdf.0011aabb.part", "plan [A].pdf.part"]
    for name in others:
        (tmp_path / name).write_bytes(b"not ours")
    remove_partial(place)
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted([place.name, *others])
    assert place.read_bytes() == b"whole"


def test_a_half_written_photo_goes_with_the_next_save_or_photo(tmp_path):
    job = vis.create_project(tmp_path / "job")
    job.add_file("photos", "hall.jpg", b"whole", ".jpg")
    left = job.folder / "photos" / ".other-0011aabb.jpg.0011aabb.part"
    theirs = job.folder / "photos" / "mine.part"
    for next_write in (
        lambda: job.add_file("photos", "landing.jpg", b"whole", ".jpg"),
        lambda: vis.open_project(job.folder).save(job.document),
    ):
        left.write_bytes(b"half")
        theirs.write_bytes(b"not ours")
        next_write()
        assert not left.exists()
        assert theirs.exists()


@pytest.fixture
def steps(monkeypatch):
    """What happens on the disk, in order: what is flushed by its number, and renames."""
    taken = []
    flush, replace, rename = os.fsync, os.replace, os.rename

    def fsync(handle):
        taken.append(os.fstat(handle).st_ino)
        flush(handle)

    def replaced(one, other):
        taken.append("rename")
        replace(one, other)

    def renamed(one, other):
        taken.append("rename")
        rename(one, other)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(os, "replace", replaced)
    monkeypatch.setattr(os, "rename", renamed)
    return taken


posix = pytest.mark.skipif(os.name != "posix", reason="flushes folders as POSIX does")


@posix
def test_a_file_is_flushed_before_its_rename_and_its_folder_after(tmp_path, steps):
    """POSIX.1-2017, fsync: a rename is on the disk when the folder it is in has been flushed."""
    write_whole(tmp_path / "a.pdf", b"whole")
    assert steps == [(tmp_path / "a.pdf").stat().st_ino, "rename", tmp_path.stat().st_ino]


@posix
def test_every_new_folder_is_flushed(tmp_path, steps):
    job = vis.create_project(tmp_path / "job")
    assert tmp_path.stat().st_ino in steps  # where the job's folder is entered
    steps.clear()
    job.add_file("photos", "hall.jpg", b"whole", ".jpg")
    assert steps[0] == job.folder.stat().st_ino  # where photos is entered
    assert steps[-1] == (job.folder / "photos").stat().st_ino
    steps.clear()
    job.save(job.document)
    assert job.folder.stat().st_ino in steps


@posix
def test_the_ledger_is_on_the_disk_when_it_has_noted_a_file(tmp_path, steps):
    with Ledger(tmp_path / "list") as ledger:
        steps.clear()
        item = BatchItem(tmp_path)
        ledger.add(Made(item, "plan", tmp_path / "plan.pdf", "0" * 64, "x"))
        assert steps == [ledger.place.stat().st_ino]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no device files")
def test_what_is_no_file_is_never_replaced(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OSError, match="device"):
        write_whole(tmp_path / "pipe", b"x")
    with pytest.raises(ProjectError, match="device"):
        write_atomically(tmp_path / "pipe", b"x")
    (tmp_path / "link").symlink_to("/dev/null")
    with pytest.raises(OSError, match="device"):
        write_whole(tmp_path / "link", b"x")
    assert (tmp_path / "link").is_symlink()
    assert [p.name for p in tmp_path.iterdir() if "part" in p.name] == []


@pytest.mark.skipif(os.name != "posix", reason="rights as POSIX has them")
def test_a_new_job_is_its_owners_alone(tmp_path):
    before = os.umask(0o022)
    try:
        job = vis.create_project(tmp_path / "above" / "job")
    finally:
        os.umask(before)
    assert job.folder.stat().st_mode & 0o077 == 0
    assert (tmp_path / "above").stat().st_mode & 0o055 == 0o055
