"""A kill before any step on the disk costs nothing that was there, and what comes next goes on."""

import os
import zipfile
from pathlib import Path

import pytest

import visualiser as vis
from tests.faults import works
from tests.faults.stepping import killed_before
from tests.faults.works import picture
from visualiser.arrangement.arrangement import Placement
from visualiser.project.batch_list import BatchItem
from visualiser.project.document import Document, OptionEntry, PieceEntry
from visualiser.project.exchange import export_zip, import_zip
from visualiser.project.ledger import Ledger
from visualiser.project.store import create_project, open_project

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kills a process as POSIX does")
MOST_STEPS = 200


def with_photo(folder):
    job = create_project(folder, Document(name="Stair hall"))
    entry = job.add_file("photos", "hall.png", picture(), ".png")
    return job.save(job.document.changed(photo=entry))


def each_step(check, work, folder, *given):
    """Kill before step 1, 2, … until the work is done; check what each kill left."""
    for number in range(1, MOST_STEPS):
        killed = killed_before(number, work, folder, *given)
        check(number, killed)
        if not killed:
            return number - 1
    raise AssertionError("the work never ends")


def left_over(folder):
    return [p.name for p in folder.rglob("*") if ".part" in p.name or "unpacking" in p.name]


def test_taking_in_a_photo(tmp_path):
    job = with_photo(tmp_path / "job")
    document = job.document

    def check(number, killed):
        again = open_project(job.folder)
        assert again.document.revision in (document.revision, document.revision + 1)
        assert again.photo().pixels.shape == (30, 40, 3)
        for place in (job.folder / "photos").glob("*.png"):
            assert vis.load_photo(place.read_bytes())
        if again.document.revision > document.revision:  # it was saved: back to the start
            for place in job.folder.rglob("*"):
                if place.is_file():
                    place.unlink()
            for name in ("photos", "revisions"):
                (job.folder / name).rmdir()
            (job.folder / "project.json").write_bytes(b"")
            (job.folder / "project.json").unlink()
            job.folder.rmdir()
            with_photo(job.folder)

    assert each_step(check, works.take_in_a_photo, job.folder, job.folder) > 8
    one_more = open_project(job.folder)
    one_more.save(one_more.document)
    assert left_over(job.folder) == []


def test_unpacking_a_job(tmp_path):
    packed = export_zip(with_photo(tmp_path / "job"))
    there = tmp_path / "there"
    there.mkdir()

    def check(number, killed):
        if (there / "new").exists():
            assert open_project(there / "new").photo().pixels.shape == (30, 40, 3)
        if killed:
            again = there / f"again-{number}"
            assert import_zip(packed, again).document.name == "Stair hall"
        if (there / "new").exists():
            (there / "new").rename(there / f"done-{number}")

    assert each_step(check, import_zip, there, packed, there / "new") > 10


def test_packing_a_job_changes_nothing(tmp_path):
    job = with_photo(tmp_path / "job")
    out = tmp_path / "out"
    out.mkdir()
    before = {p: p.read_bytes() for p in job.folder.rglob("*") if p.is_file()}

    def check(number, killed):
        assert {p: p.read_bytes() for p in job.folder.rglob("*") if p.is_file()} == before
        if (out / "job.zip").exists():
            assert zipfile.ZipFile(out / "job.zip").testzip() is None

    assert each_step(check, works.pack, tmp_path, job.folder, out / "job.zip") >= 4


def test_a_batch(tmp_path):
    """What the ledger calls made is there and whole; a second run makes the rest."""
    document = Document(
        wall={"width_mm": 3000, "height_mm": 2500},
        pieces=(PieceEntry(id="p1", width_mm=400, height_mm=500),),
        options=(OptionEntry(id="a", placements=(Placement("p1", 1500, 1524),)),),
    )
    items = []
    for name in ("one", "two"):
        create_project(tmp_path / name, document)
        items.append(BatchItem(tmp_path / name))
    listing = tmp_path / "list"
    listing.write_text("one\ntwo\n")

    def check(number, killed):
        made = sorted(Path(tmp_path).glob("*/out/*.pdf"))
        for place in made:
            assert b"%%EOF" in place.read_bytes()[-1024:]
        with Ledger(listing) as ledger:
            kept = [item for item in items if ledger.kept(item, "plan")]
        assert len(kept) <= len(made)

    assert each_step(check, works.make_plans, tmp_path, listing, items) > 6
    with Ledger(listing) as ledger:
        assert all(ledger.kept(item, "plan") for item in items)
