"""Full disks and folders that may not be written: told in a sentence, and nothing is lost."""

import os
import resource
import signal
import subprocess
import sys
from contextlib import contextmanager

import pytest

import visualiser as vis
from visualiser.errors import PieceError, ProjectError
from visualiser.inventory.catalogue_indexing import index_catalogue
from visualiser.inventory.catalogue_sources import from_folder
from visualiser.project.document import Document
from visualiser.project.exchange import export_zip, import_zip
from visualiser.project.samples import sample_folder
from visualiser.project.store import create_project, open_project

ARTWORKS = sample_folder() / "artworks"


@contextmanager
def small_disk(place, size):
    """A real file system of a few hundred kilobytes; needs the right to mount one."""
    place.mkdir()
    told = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", str(place)],
        capture_output=True,
        text=True,
        check=False,
    )
    if told.returncode:
        pytest.skip(f"mounting a small disk is not permitted here: {told.stderr.strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", str(place)], check=True)


needs_linux = pytest.mark.skipif(sys.platform != "linux", reason="mounts a tmpfs, as Linux does")


def fill(disk):
    """Leave no block free."""
    with (disk / "filler").open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"\0" * 4096)
        except OSError:
            return


@needs_linux
def test_a_full_disk_costs_nothing_and_saving_goes_on_after(tmp_path):
    with small_disk(tmp_path / "disk", "400k") as disk:
        project = create_project(disk / "job", Document(name="before"))
        saved = project.save(project.document.changed(name="kept"))
        fill(disk)
        long = tuple(f"line {n} " + "x" * 100 for n in range(400))
        changed = saved.document.changed(
            marks={**dict(saved.document.marks), "rejected_lines": long}
        )
        with pytest.raises(ProjectError, match="no space left") as caught:
            saved.save(changed)
        assert "free some space" in caught.value.hint
        assert open_project(disk / "job") == saved
        with pytest.raises(ProjectError):
            saved.add_file("photos", "a.jpg", b"x" * 100_000, ".jpg")
        with pytest.raises(ProjectError, match=r"could not be (unpacked|saved)"):
            import_zip(export_zip(saved), disk / "copy")
        assert not (disk / "copy").exists()
        assert not [p for p in disk.rglob("*") if ".part" in p.name or "unpacking" in p.name]
        (disk / "filler").unlink()
        assert open_project(disk / "job").save(changed).document.revision == 2


@needs_linux
def test_a_full_disk_does_not_spoil_a_catalogue(tmp_path):
    with small_disk(tmp_path / "disk", "600k") as disk:
        works = sorted(ARTWORKS.glob("*.jpg"))[:2]
        (tmp_path / "works").mkdir()
        for work in works:
            (tmp_path / "works" / work.name).write_bytes(work.read_bytes())
        index_catalogue(disk / "works.sqlite", from_folder(tmp_path / "works"))
        fill(disk)
        with pytest.raises(PieceError, match="cannot be used"):
            index_catalogue(disk / "works.sqlite", [])  # would drop both, and has no room to
        (disk / "filler").unlink()
        from visualiser.inventory.catalogue import open_catalogue

        assert len(open_catalogue(disk / "works.sqlite")) == 2


@needs_linux
def test_a_read_only_disk_is_told_and_still_read(tmp_path):
    with small_disk(tmp_path / "disk", "400k") as disk:
        project = create_project(disk / "job", Document(name="kept"))
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        with pytest.raises(ProjectError, match="could not be saved"):
            project.save(project.document)
        with pytest.raises(ProjectError, match="could not be saved"):
            create_project(disk / "new")
        assert vis.open_project(disk / "job") == project


@pytest.mark.skipif(os.name != "posix", reason="limits a file's size as POSIX does")
def test_a_file_that_may_not_grow_is_as_good_as_a_full_disk(tmp_path):
    project = create_project(tmp_path / "job", Document(name="kept"))
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (5000, before[1]))
    try:
        with pytest.raises(ProjectError, match="could not be saved"):
            project.add_file("photos", "a.jpg", b"x" * 100_000, ".jpg")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, ignored)
    assert open_project(tmp_path / "job") == project
    assert list((tmp_path / "job" / "photos").iterdir()) == []
