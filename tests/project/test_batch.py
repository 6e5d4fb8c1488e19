"""A batch: the same bytes as single commands, going on after a kill, one fault not stopping all."""

import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

import visualiser as vis
from tests.synthetic.jobs import typed_job
from visualiser.cli import app
from visualiser.project import batch, crew
from visualiser.project.batch import Failed, Made, make_item
from visualiser.project.batch_list import BatchItem
from visualiser.project.ledger import Ledger
from visualiser.project.samples import create_sample, sample_folder

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def photographed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("photographed") / "room"
    create_sample("breakfast-room", folder)
    return folder


def test_a_batch_gives_the_very_files_of_single_commands(photographed, tmp_path):
    runner = CliRunner()
    for made in make_item(BatchItem(photographed), ("mockup", "plan")):
        alone = tmp_path / made.file.name
        run = runner.invoke(app, [made.product, str(photographed), "--out", str(alone)])
        assert run.exit_code == 0
        assert alone.read_bytes() == made.file.read_bytes()


def test_the_wall_is_measured_once_for_entries_of_one_job(photographed, monkeypatch):
    measured = []
    monkeypatch.setattr(batch, "surveyed_wall", lambda job: measured.append(job) or SURVEYED(job))
    batch._wall.cache_clear()
    pictures = sorted((sample_folder() / "artworks").glob("*.jpg"))[:2]
    piece = vis.open_project(photographed).document.pieces[0].id
    for picture in pictures:
        item = BatchItem(photographed, artwork=picture, piece=piece)
        (made,) = make_item(item, ("plan",))
        assert isinstance(made, Made), made
    assert len(measured) == 1


SURVEYED = batch.surveyed_wall


def test_an_artwork_of_the_list_is_drawn_as_if_the_job_held_it(photographed, tmp_path):
    picture = next(iter(sorted((sample_folder() / "artworks").glob("*.jpg"))))
    job = vis.open_project(photographed)
    piece = job.document.pieces[0]
    (made,) = make_item(BatchItem(photographed, artwork=picture, piece=piece.id), ("mockup",))

    shutil.copytree(photographed, tmp_path / "other", ignore=shutil.ignore_patterns("out"))
    other = vis.open_project(tmp_path / "other")
    entry = other.add_file("artworks", picture.name, picture.read_bytes(), ".jpg")
    pieces = tuple(
        p.model_copy(update={"artwork": entry}) if p.id == piece.id else p
        for p in other.document.pieces
    )
    other.save(other.document.changed(pieces=pieces))
    (expected,) = make_item(BatchItem(tmp_path / "other"), ("mockup",))
    assert made.sha256 == expected.sha256


def test_what_goes_wrong_is_collected(tmp_path, monkeypatch):
    typed_job(tmp_path / "job")
    item = BatchItem(tmp_path / "job")
    no_photo, plan = make_item(item, ("mockup", "plan"))
    assert isinstance(no_photo, Failed)
    assert "no photo" in no_photo.why
    assert isinstance(plan, Made)
    for failing in (replace(item, option="z"), BatchItem(tmp_path / "none")):
        (fault,) = make_item(failing, ("plan",))
        assert isinstance(fault, Failed)
    (fault,) = make_item(replace(item, artwork=tmp_path / "none.png"), ("plan",))
    assert "which piece" in fault.why
    (fault,) = make_item(replace(item, artwork=tmp_path / "none.png", piece="a"), ("plan",))
    assert "none.png cannot be read" in fault.why

    def broken(_):
        raise ZeroDivisionError("a bug\nof two lines")

    monkeypatch.setitem(batch.PRODUCTS, "plan", ("plan.pdf", broken))
    (fault,) = make_item(item, ("plan",))
    assert "ZeroDivisionError: a bug of two lines" in fault.why
    assert "report" in fault.do


def test_the_ledger_knows_what_is_there_and_unchanged(tmp_path):
    job = typed_job(tmp_path / "job")
    item, listing = BatchItem(tmp_path / "job"), tmp_path / "list.txt"
    (made,) = make_item(item, ("plan",))
    with Ledger(listing) as ledger:
        assert ledger.kept(item, "plan") is None
        ledger.add(made)
        assert ledger.kept(item, "plan") == replace(made, kept=True)
    with ledger.place.open("ab") as file:
        file.write(b'{"file": "cut of')  # a kill in the middle of a line
    with Ledger(listing) as ledger:
        assert ledger.kept(item, "plan") == replace(made, kept=True)
        assert ledger.kept(item, "templates") is None
        ledger.add(made)
    assert all(json.loads(line) for line in ledger.place.read_text().splitlines())
    with Ledger(listing) as ledger:
        content = made.file.read_bytes()
        made.file.write_bytes(content + b" ")
        assert ledger.kept(item, "plan") is None
        made.file.write_bytes(content)
        job.save(job.document.changed(name="another"))
        assert ledger.kept(item, "plan") is None


def listed(tmp_path, count):
    for number in range(count):
        typed_job(tmp_path / f"room-{number}")
    listing = tmp_path / "list.txt"
    listing.write_text("".join(f"room-{number}\n" for number in range(count)))
    return listing


def command(listing, *more):
    return [sys.executable, "-m", "visualiser", "batch", str(listing), "--only", "plan", *more]


def files_of(listing):
    return {p: p.read_bytes() for p in sorted(listing.parent.glob("room-*/out/*"))}


def lines_of(listing):
    place = listing.with_name(listing.name + ".made")
    return place.read_bytes().split(b"\n")[:-1] if place.exists() else []


def wait_for(condition, patience_s=120):
    deadline = time.monotonic() + patience_s
    while not condition():
        assert time.monotonic() < deadline
        time.sleep(0.02)


def check_complete(listing, told, count):
    """Nothing lost and nothing doubled: each file once, as a single run would make it."""
    assert told["done"]
    assert len(told["made"]) == count
    files = files_of(listing)
    assert len(files) == count
    assert len(lines_of(listing)) == count
    assert {entry["sha256"] for entry in told["made"]} == {
        hashlib.sha256(data).hexdigest() for data in files.values()
    }
    (again,) = make_item(BatchItem(listing.parent / "room-0"), ("plan",))
    assert files[again.file] == again.file.read_bytes()


@pytest.mark.skipif(os.name != "posix", reason="kills a process as POSIX does")
def test_a_killed_batch_goes_on_where_it_was(tmp_path):
    count = 12
    listing = listed(tmp_path, count)
    first = subprocess.Popen(command(listing), cwd=ROOT, stdout=-3, stderr=-3)
    wait_for(lambda: len(lines_of(listing)) >= 3 or first.poll() is not None)
    first.kill()
    first.wait()
    before = len(lines_of(listing))
    assert before >= 3
    run = subprocess.run(command(listing, "--json"), cwd=ROOT, capture_output=True, check=True)
    told = json.loads(run.stdout)
    assert sum(entry["there_already"] for entry in told["made"]) == before
    check_complete(listing, told, count)


@pytest.mark.skipif(os.name != "posix", reason="kills a process as POSIX does")
def test_an_entry_that_kills_its_process_does_not_cost_the_others(tmp_path, monkeypatch):
    # A module of its own, since a fresh process has to find the function by name.
    (tmp_path / "deadly_work.py").write_text(
        "import os, signal\n"
        "from visualiser.project.batch import Failed\n"
        "def make_item(item, products):\n"
        "    if item.job.name == 'deadly':\n"
        "        os.kill(os.getpid(), signal.SIGKILL)\n"
        "    return [Failed(item, '', 'seen', '')]\n"
    )
    monkeypatch.syspath_prepend(tmp_path)
    import deadly_work

    monkeypatch.setattr(crew, "make_item", deadly_work.make_item)
    items = [BatchItem(Path(name)) for name in ("a", "b", "deadly", "c", "d", "e", "f")]
    outcomes = [o for some in crew.work_here(items, ("plan",), 2) for o in some]
    assert sorted(o.item.job.name for o in outcomes) == sorted(i.job.name for i in items)
    for outcome in outcomes:
        assert ("died" in outcome.why) == (outcome.item.job.name == "deadly")


@pytest.fixture
def cluster(tmp_path):
    """A scheduler and two workers, each a process of its own, on the loopback interface."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "DASK_LOGGING__DISTRIBUTED": "error"}
    contact = tmp_path / "scheduler.json"

    def started(kind, *options):
        return subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.dask_{kind}", *options],
            env=environment,
            cwd=tmp_path,
            stdout=-3,
            stderr=-3,
        )

    scheduler = started(
        "scheduler",
        "--host",
        "127.0.0.1",
        "--port",
        "0",
        "--no-dashboard",
        "--scheduler-file",
        str(contact),
    )
    wait_for(contact.exists)
    wait_for(lambda: contact.read_text().endswith("}"))
    address = json.loads(contact.read_text())["address"]
    workers = [
        started("worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard")
        for _ in range(2)
    ]
    yield address, workers
    for process in (*workers, scheduler):
        process.kill()
        process.wait()


@pytest.mark.skipif(os.name != "posix", reason="kills a process as POSIX does")
def test_a_cluster_loses_a_worker_and_nothing_else(cluster, tmp_path):
    address, workers = cluster
    count = 12
    (tmp_path / "jobs").mkdir()
    listing = listed(tmp_path / "jobs", count)
    run = subprocess.Popen(
        command(listing, "--json", "--scheduler", address), cwd=ROOT, stdout=-1, stderr=-3
    )
    wait_for(lambda: len(lines_of(listing)) >= 4 or run.poll() is not None)
    workers[0].kill()
    told = json.loads(run.communicate(timeout=200)[0])
    assert len(lines_of(listing)) > 4  # it was cut in the middle
    check_complete(listing, told, count)


def test_a_scheduler_that_is_not_there_is_told(tmp_path):
    listing = listed(tmp_path, 1)
    result = CliRunner().invoke(
        app, ["batch", str(listing), "--scheduler", "nonsense://x", "--json"]
    )
    assert result.exit_code == 1
    assert "cannot be worked with" in json.loads(result.stdout)["why"]
