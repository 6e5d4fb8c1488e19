"""What a small file may ask for: no list, depth, number or name beyond any job's."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from visualiser.errors import ProjectError
from visualiser.inventory.piece_list import MOST_PIECES
from visualiser.project.document import Document, read_document
from visualiser.project.paths import checked_path
from visualiser.project.reading import MOST_BYTES, MOST_IN_A_LIST
from visualiser.project.store import create_project

ROOT = Path(__file__).resolve().parents[2]
SMALL_ENTRIES = b'{"id":"a","placements":[' + b"{}," * 999 + b"{}]},"
STROKES = b'{"outline_px":[' + b"[]," * 999 + b'[]],"inside_px":[' + b"[]," * 999 + b"[]]},"
AMPLIFIERS = {
    "small objects": b'"pieces":[' + b"{}," * 333_000 + b"{}]",
    "more of them": b'"pieces":[' + b"{}," * 1_900_000 + b"{}]",
    "small lists": b'"pieces":[' + b"[]," * 333_000 + b"[]]",
    "as many as are allowed": b'"pieces":[' + b"{}," * (MOST_PIECES - 1) + b"{}]",
    "objects in objects": b'"options":[' + SMALL_ENTRIES * 99 + b"{}]",
    "strokes": b'"marks":{"in_front":[' + STROKES * 49 + b"{}]}",
    "keys": b",".join(b'"k%d":{}' % n for n in range(380_000)),
    "keys of a piece": b'"pieces":[{' + b",".join(b'"k%d":0' % n for n in range(900)) + b"}]",
    "nested": b'"pieces":' + b"[" * 100_000,
    "nested and closed": b'"name":' + b"[" * 500 + b"]" * 500,
}  # fmt: skip
READ = """
import sys
from tests.memory import peak_bytes
from visualiser.errors import ProjectError
from visualiser.project.document import read_document
data = sys.stdin.buffer.read()
before = peak_bytes()
try:
    read_document(data)
except ProjectError as error:
    print(peak_bytes() - before, len(str(error)))
"""


@pytest.mark.parametrize("name", AMPLIFIERS)
def test_a_small_file_takes_little_memory(name):
    """Measured apart; 1 MB of these took 950 MB once, and 3 MB took 2.7 GB."""
    done = subprocess.run(
        [sys.executable, "-c", READ],
        input=b'{"schema_version":1,' + AMPLIFIERS[name] + b"}",
        capture_output=True, check=True, cwd=ROOT, timeout=60,
    )  # fmt: skip
    grown, words = (int(part) for part in done.stdout.split())
    assert grown < 150_000_000
    assert words < 400  # and not a megabyte of complaints either


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b'"pieces":[' + b"{}," * 400_001 + b"{}]", "far more values"),
        (b'"name":' + b"[" * 12 + b"]" * 12, "nested too deeply"),
        (b'"pieces":[' + b'{"a":' * 11 + b"1" + b"}" * 11 + b"]", "nested too deeply"),
    ],
    ids=["values", "lists", "objects"],
)
def test_each_bound_is_kept_before_an_entry_is_looked_into(content, said):
    with pytest.raises(ProjectError, match=said):
        read_document(b'{"schema_version":1,' + content + b"}")


def test_the_largest_job_is_read():
    pieces = [{"id": f"p{n}", "width_mm": 400, "height_mm": 500} for n in range(MOST_PIECES)]
    places = [{"piece_id": p["id"], "x_mm": 1234.5678901, "y_mm": 1524.0} for p in pieces]
    options = [{"id": letter, "placements": places} for letter in "abcdefghijklmnopqrstuvwxyz"]
    data = json.dumps({"schema_version": 1, "pieces": pieces, "options": options}).encode()
    assert len(data) < MOST_BYTES
    assert len(read_document(data).options) == 26


def test_one_more_than_the_most_is_refused():
    pieces = [{"id": f"p{n}", "width_mm": 400, "height_mm": 500} for n in range(MOST_IN_A_LIST + 1)]
    with pytest.raises(ProjectError, match="longer than 1000"):
        read_document(json.dumps({"schema_version": 1, "pieces": pieces}).encode())
    places = [{"piece_id": "p", "x_mm": 0, "y_mm": 0}] * (MOST_PIECES + 1)
    with pytest.raises(ProjectError, match="at most 1000"):
        Document().changed(options=({"id": "a", "placements": places},))


@pytest.mark.parametrize("revision", [10**300, 10**9, 2**64, -1])
def test_a_revision_is_no_larger_than_a_file_name_can_tell(revision, tmp_path):
    data = b'{"schema_version": 1, "revision": %d}' % revision
    with pytest.raises(ProjectError, match="revision"):
        read_document(data)
    project = create_project(tmp_path / "job")
    (project.folder / "project.json").write_bytes(data)
    with pytest.raises(ProjectError):
        project.save(Document())


@pytest.mark.parametrize("version", [10**300, 10_000])
def test_a_version_far_ahead_is_no_version(version):
    with pytest.raises(ProjectError, match="missing or not a number") as caught:
        read_document(b'{"schema_version": %d}' % version)
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    "name",
    [
        "a\u202egpj.exe", "a.jpg\u200b", "a\u2066.jpg", "\ufeffa.jpg", "a.exe", "a.jpg.exe", "a.sh",
        "a", "a.jpg.lnk", "a.html", "a.svg", "a.eps", "a.desktop", "a\x85.jpg",
    ],
)  # fmt: skip
def test_a_name_that_hides_what_it_is_is_refused(name):
    """U+202E turns the rest of a line around: gpj.exe after it is shown as exe.jpg."""
    with pytest.raises(ProjectError):
        checked_path(f"photos/{name}")


@pytest.mark.parametrize("name", ["a.jpg", "A.JPG", "ä 2.HEIC", "a.tif", "a.b.webp", "写真.png"])
def test_pictures_keep_their_names(name):
    assert checked_path(f"photos/{name}") == f"photos/{name}"


def test_a_piece_with_many_faults_names_one():
    with pytest.raises(ProjectError) as caught:
        Document().changed(pieces=tuple({"id": 3} for _ in range(MOST_PIECES)))
    assert "number 1" in str(caught.value)
