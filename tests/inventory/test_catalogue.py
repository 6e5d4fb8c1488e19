"""The catalogue: indexing that can be cut off, changed files only, and queries with sizes."""

import os
import signal
import sqlite3
import subprocess
import sys

import numpy as np
import pytest
from PIL import Image

from visualiser.colour.colorimetry import from_hex, srgb_to_lab
from visualiser.colour.palette import palette_from_lab
from visualiser.errors import PieceError
from visualiser.inventory.catalogue import open_catalogue
from visualiser.inventory.catalogue_indexing import index_catalogue
from visualiser.inventory.catalogue_sources import from_folder, from_list


def paint(path, code, size=(60, 40), seed=0):
    rng = np.random.default_rng(seed)
    pixels = from_hex(code).astype(float) + rng.normal(0, 4, (*size[::-1], 3))
    Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8)).save(path)


@pytest.fixture
def folder(tmp_path):
    works = tmp_path / "works"
    works.mkdir()
    for i, code in enumerate(("#b5694a", "#26324a", "#a9b49a", "#efe4cb", "#7a2030")):
        paint(works / f"work {i}.png", code, seed=i)
    return works


@pytest.fixture
def database(tmp_path):
    return tmp_path / "catalogue.sqlite"


def test_a_folder_is_read_once(folder, database):
    ticks = []
    report = index_catalogue(
        database, from_folder(folder), lambda done, total: ticks.append((done, total))
    )
    assert (report.read, report.unchanged, report.removed, report.problems) == (5, 0, 0, ())
    assert ticks[-1] == (5, 5)
    report = index_catalogue(database, from_folder(folder))
    assert (report.read, report.unchanged) == (0, 5)


def test_changed_and_missing_files(folder, database):
    index_catalogue(database, from_folder(folder))
    paint(folder / "work 0.png", "#00a060", size=(61, 40))
    (folder / "work 4.png").unlink()
    report = index_catalogue(database, from_folder(folder))
    assert (report.read, report.unchanged, report.removed) == (1, 3, 1)
    catalogue = open_catalogue(database)
    assert len(catalogue) == 4
    assert "green" in catalogue.work(0).palette.swatches[0].name


def test_a_damaged_picture_is_reported_and_the_rest_read(folder, database):
    (folder / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 no picture")
    report = index_catalogue(database, from_folder(folder))
    assert report.read == 6
    assert [file for file, _ in report.problems] == ["broken.jpg"]
    assert len(open_catalogue(database)) == 5
    again = index_catalogue(database, from_folder(folder))
    assert (again.read, again.problems) == (0, report.problems)


def test_the_nearest_colour_is_found(folder, database):
    index_catalogue(database, from_folder(folder))
    catalogue = open_catalogue(database)
    navy = palette_from_lab(srgb_to_lab(from_hex("#28344c"))[None], [1.0])
    rows, distances = catalogue.nearest([navy], 2)
    assert catalogue.work(int(rows[0])).title == "work 1"
    assert distances[0] < 3 < distances[1]


def test_a_list_with_sizes(folder, database):
    table = folder / "list.csv"
    table.write_text(
        "file;title;width;height\n"
        "work 0.png;Kiln;50 cm;70 cm\n"
        "work 1.png;Night;400;500\n"
        "work 2.png;Sage;24 in;30 in\n"
        "work 3.png;Plain;;\n"
        "gone.png;Gone;500;500\n"
    )
    report = index_catalogue(database, from_list(table))
    assert report.read == 4
    assert [f for f, _ in report.problems] == ["gone.png"]
    catalogue = open_catalogue(database)
    fitting = catalogue.of_size(width_mm=(400, 600))
    assert [catalogue.work(int(r)).title for r in fitting] == ["Kiln", "Night"]
    piece = palette_from_lab(srgb_to_lab(from_hex("#30405c"))[None], [1.0])
    room = palette_from_lab(srgb_to_lab(from_hex("#e8e4da"))[None], [1.0])
    found = catalogue.suggest([piece], room, [90, 0, 5], count=20, width_mm=(400, 600))
    assert [s.work.title for s in found] == ["Night", "Kiln"]
    assert found[0].ranked.score >= found[1].ranked.score
    table.write_text(table.read_text().replace("400;500", "800;900"))
    assert index_catalogue(database, from_list(table)).read == 0
    assert open_catalogue(database).of_size(width_mm=(400, 600)).size == 1


@pytest.mark.parametrize(
    ("text", "what"),
    [("name;width\nx;1\n", "no column named file"), ("file,width\na.png,wide\n", "Line 2")],
)
def test_a_list_that_makes_no_sense(tmp_path, text, what):
    table = tmp_path / "list.csv"
    table.write_text(text)
    with pytest.raises(PieceError, match=what):
        list(from_list(table))


@pytest.mark.parametrize(
    ("text", "width"),
    [
        ("file;width;height\na.png;60;40\n", 600),  # decimal commas: centimetres
        ("file;width;height\na.png;60,5;40\n", 605),
        ("file;width;height\na.png;60;40\nb.png;120;80\n", 600),
        ("file,width,height\na.png,600,400\n", 600),
        ("file,width (cm),height (cm)\na.png,60,40\n", 600),
        ("file,width_in,height_in\na.png,24,16\n", 609.6),
        ("file;width (in);height\na.png;24;400 mm\n", 609.6),
    ],
)
def test_sizes_without_a_unit(tmp_path, text, width):
    """A list that gives 60 by 40 names no picture of 6 by 4 cm: common practice, no source."""
    table = tmp_path / "list.csv"
    table.write_text(text)
    assert next(from_list(table)).width_mm == pytest.approx(width)


def test_small_numbers_that_may_be_inches_are_asked_about(tmp_path):
    table = tmp_path / "list.csv"
    table.write_text("file,width,height\na.png,24,16\n")
    with pytest.raises(PieceError, match="do not say their unit"):
        list(from_list(table))
    assert next(from_list(table, "in")).width_mm == pytest.approx(609.6)


def test_no_catalogue(tmp_path, database):
    with pytest.raises(PieceError, match="no catalogue"):
        open_catalogue(database)
    database.write_text("this is no database, though it is long enough to look at" * 20)
    with pytest.raises(PieceError, match="cannot be used"):
        open_catalogue(database)
    other = tmp_path / "other.sqlite"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE letters (text TEXT)")
    connection.close()
    with pytest.raises(PieceError, match="no catalogue of artworks"):
        open_catalogue(other)


def test_a_newer_catalogue_is_refused(folder, database):
    index_catalogue(database, from_folder(folder))
    with sqlite3.connect(database) as connection:
        connection.execute("UPDATE about SET value='99' WHERE key='schema_version'")
    connection.close()
    with pytest.raises(PieceError, match="newer"):
        open_catalogue(database)


SLOW_INDEXING = """
import sys, time
from pathlib import Path
from visualiser.inventory.catalogue_indexing import index_catalogue
from visualiser.inventory.catalogue_sources import from_folder
def tick(done, total):
    print(done, flush=True)
    time.sleep(0.002)
index_catalogue(Path(sys.argv[2]), from_folder(Path(sys.argv[1])), tick)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a signal nothing can catch")
def test_killed_in_the_middle_it_goes_on_where_it_stopped(tmp_path, database):
    works = tmp_path / "works"
    works.mkdir()
    rng = np.random.default_rng(1)
    for i in range(120):
        code = "#" + "".join(f"{v:02x}" for v in rng.integers(0, 256, 3))
        paint(works / f"{i:03d}.png", code, size=(24, 20), seed=i)
    run = subprocess.Popen(
        [sys.executable, "-c", SLOW_INDEXING, str(works), str(database)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    for line in run.stdout:
        if int(line) == 70:
            run.send_signal(signal.SIGKILL)
            break
    run.wait(timeout=30)
    run.stdout.close()
    kept = len(open_catalogue(database))
    assert 50 <= kept < 120
    report = index_catalogue(database, from_folder(works))
    assert (report.read, report.unchanged) == (120 - kept, kept)

    whole = tmp_path / "whole.sqlite"
    index_catalogue(whole, from_folder(works))
    first, second = open_catalogue(database), open_catalogue(whole)
    assert len(first) == len(second) == 120
    assert all(first.work(i) == second.work(i) for i in range(120))
