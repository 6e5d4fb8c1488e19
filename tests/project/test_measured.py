"""What was measured is kept beside the job, and measured again when anything of it has changed."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import visualiser as vis
from visualiser.project import measured, measuring
from visualiser.project.wall_entries import MarksEntry

SHEET = ((100.0, 100.0), (184.0, 100.0), (184.0, 218.8), (100.0, 218.8))
"""A4 seen square on at 0.4 px to a mm."""


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    folder = tmp_path_factory.mktemp("job")
    pixels = np.full((480, 640, 3), (150, 158, 150), np.uint8)
    pixels[100:219, 100:184] = 235
    Image.fromarray(pixels).save(folder / "wall.png")
    job = vis.create_project(folder / "job").add_photo(folder / "wall.png")
    return job.mark(reference="a4", corners_px=SHEET, find_lines=False, reference_height_mm=1300)


@pytest.fixture
def job(filled, tmp_path):
    shutil.copytree(filled.folder, tmp_path / "job")
    return vis.open_project(tmp_path / "job")


@pytest.fixture
def count(monkeypatch):
    """How often a wall is measured."""
    times = []
    real = measuring.measure_plane
    monkeypatch.setattr(measuring, "measure_plane", lambda *a: times.append(1) or real(*a))
    return times


def same(one, other):
    points = np.array([[0.0, 1400.0], [700.0, 1800.0]])
    assert (one.to_photo(points) == other.to_photo(points)).all()
    assert (one.covariance(points) == other.covariance(points)).all()
    assert one.outline == other.outline
    assert [f.code for f in one.findings] == [f.code for f in other.findings]
    assert [f.text for f in one.plane.findings] == [f.text for f in other.plane.findings]
    assert (one.zones, one.furniture) == (other.zones, other.furniture)


def test_the_second_command_measures_nothing_and_says_the_same(job, count):
    first = job.survey()
    second = vis.open_project(job.folder).survey()
    assert len(count) == 1
    same(first, second)
    assert len(list((job.folder / "measured").glob("*.json"))) == 1


def test_what_does_not_measure_does_not_count(job, count):
    job.survey()
    job = job.mark(vis.Furniture("sofa", vis.Rect(0, 0, 900, 800)))
    assert len(job.survey().furniture) == 1
    assert len(count) == 1


@pytest.mark.parametrize(
    "change",
    [
        lambda job: job.mark(reference_height_mm=1250),
        lambda job: job.mark(corners_px=[(x + 1, y) for x, y in SHEET]),
        lambda job: job.mark(side_px=(20, 300)),
        lambda job: job.mark(vis.DrawnLine((300, 20), (300, 460), "plumb")),
    ],
)
def test_other_marks_are_measured_with(job, count, change):
    job.survey()
    change(job).survey()
    assert len(count) == 2


def test_a_changed_program_measures_again(job, count, monkeypatch):
    job.survey()
    monkeypatch.setattr(measured, "_code", lambda: "another")
    job.survey()
    assert len(count) == 2


WHOLE = json.dumps(measured._encoded(vis.Survey.from_size(3000, 2500))).encode()


@pytest.fixture
def read_back(tmp_path, monkeypatch):
    """What is found of a kept file of any content."""
    monkeypatch.setattr(measured, "_place", lambda *_: tmp_path / "kept.json")

    def read(content):
        (tmp_path / "kept.json").write_bytes(content)
        return measured.find_survey(tmp_path, "", MarksEntry())

    return read


def test_what_was_kept_reads_back_and_nothing_that_was_changed_since(read_back):
    assert read_back(measured._sealed(WHOLE)).outline.bounds.width_mm == 3000
    assert read_back(measured._sealed(WHOLE).replace(b"3000", b"3001")) is None
    assert read_back(WHOLE) is None
    assert read_back(b"") is None


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b'{"value": "os.system", "of": {}}',
        b'{"value": "subprocess.Popen", "of": {"args": "true"}}',
        b'{"value": "visualiser.survey.survey.Survey", "of": {}}',
        b'{"value": "visualiser.survey.nothing.Survey", "of": {}}',
        b'{"value": "visualiser.survey.studs.Studs", "of": {"spacing_mm": 5000}}',
        b'{"value": "visualiser.survey.survey.Survey", "of": {"outline": 3}}',
        b'{"value": "visualiser.geometry.Rect", "of": {"x_mm": 0, "y_mm": 0, "width_mm": 1,'
        b' "height_mm": 1}}',
        b'{"array": [1], "kind": "(", "shape": [1]}',
        b'{"array": [1e400], "kind": "int64", "shape": [1]}',
        b'{"array": [1], "kind": "int64", "shape": [-7]}',
        b"[" * 100_000,
        b"[" + b"[]," * 2_000_000 + b"[]]",
    ],
    ids=lambda content: content[:40].decode(),
)
def test_what_somebody_else_wrote_makes_nothing_but_a_survey(read_back, content):
    assert read_back(measured._sealed(content)) is None


def test_what_does_not_read_back_is_measured_again(job, count):
    first = job.survey()
    (kept,) = (job.folder / "measured").glob("*.json")
    kept.write_bytes(kept.read_bytes()[:-5])
    same(first, job.survey())
    assert len(count) == 2
    assert json.loads(kept.read_bytes().partition(b"\n")[2])["value"].endswith("Survey")


def test_a_missing_one_is_made_again_and_the_oldest_go(job, count):
    for height in range(1200, 1212):
        job = job.mark(reference_height_mm=height)
        job.survey()
    assert len(list((job.folder / "measured").iterdir())) == measured.MOST_KEPT
    shutil.rmtree(job.folder / "measured")
    job.survey()
    assert len(count) == 13


def test_a_folder_that_may_not_be_written_is_only_slower(job, count, monkeypatch):
    def refuse(place: Path, data: bytes) -> None:
        raise vis.ProjectError("It is full.", hint="Free some space.")

    monkeypatch.setattr(measured, "write_atomically", refuse)
    same(job.survey(), job.survey())
    assert len(count) == 2


def test_another_photo_under_the_same_name_is_noticed(job, count):
    job.survey()
    place = job.folder / job.document.photo.path
    place.write_bytes(place.read_bytes() + b" ")
    with pytest.raises(vis.ProjectError, match="not the picture"):
        job.survey()
