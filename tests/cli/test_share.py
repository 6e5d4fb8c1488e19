"""Sharing a plan from one job and hanging it in another, as a person or a program would."""

import json

import pypdfium2 as pdfium
import pytest
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli import app
from visualiser.project.document import Document, PieceEntry, WallEntry


def job_of(folder, ids, size=(400, 500), **wall):
    pieces = tuple(PieceEntry(id=i, width_mm=size[0], height_mm=size[1]) for i in ids)
    walls = {"width_mm": 4000, "height_mm": 2600} | wall
    document = Document(name="Landing", wall=WallEntry(**walls), pieces=pieces)
    vis.create_project(folder, document)
    return folder


@pytest.fixture
def job(tmp_path):
    folder = job_of(tmp_path / "job", "abcd")
    result = run("propose", folder, "--family", "grid", "--count", "1", "--keep")
    assert result["done"]
    return folder


def run(command, *words, code=0):
    result = CliRunner().invoke(app, [command, *map(str, words), "--json"])
    assert result.exit_code == code, result.output
    return json.loads(result.stdout)


def test_a_shared_plan_is_a_file_and_a_page(job, tmp_path):
    data = run("share", job, "--out", tmp_path / "hall.json")
    assert (data["slots"], data["width_mm"], data["height_mm"]) == (4, 857.0, 1057.0)
    with pdfium.PdfDocument(data["page"]) as page:
        assert "grid, 2 across, 2 down" in page[0].get_textpage().get_text_bounded()
    stored = json.loads((tmp_path / "hall.json").read_text())
    assert {slot["id"] for slot in stored["slots"]} == set("abcd")


def test_a_shared_plan_is_described_in_the_jobs_unit(job, tmp_path):
    """857 mm are 33.74 in, 33 3/4 to a sixteenth."""
    assert CliRunner().invoke(app, ["job", str(job), "--units", "in"]).exit_code == 0
    said = CliRunner().invoke(app, ["share", str(job), "--out", str(tmp_path / "hall.json")])
    assert "33 3/4 in (857 mm) wide" in " ".join(said.output.split())


@pytest.mark.parametrize(
    ("words", "size"),
    [
        (("--scale", "1.5"), (2 * 600 + 57, 2 * 750 + 57)),
        (("--gap", "2 1/2 in"), (2 * 400 + 63.5, 2 * 500 + 63.5)),
        (("--up",), (2 * 500 + 57, 2 * 600 + 57)),
    ],
)
def test_a_plan_is_shared_at_another_size_or_gap(job, tmp_path, words, size):
    """After 40 x 50 cm of its shape and system comes 50 x 60 cm, not 16 x 20 in."""
    data = run("share", job, "--out", tmp_path / "hall.json", *words)
    assert (data["width_mm"], data["height_mm"]) == pytest.approx(size, abs=0.06)


def test_one_place_takes_another_size(job, tmp_path):
    file = tmp_path / "hall.json"
    run("share", job, "--out", file, "--size", "a=30 x 40 cm")
    sizes = {
        s["id"]: (s["width_mm"], s["height_mm"]) for s in json.loads(file.read_text())["slots"]
    }
    assert sizes["a"] == (300, 400)
    assert sizes["b"] == (400, 500)


@pytest.mark.parametrize("words", ["a 30 x 40 cm", "z=30 x 40 cm", "a=large"])
def test_sizes_that_cannot_be_read_are_named(job, tmp_path, words):
    data = run("share", job, "--out", tmp_path / "hall.json", "--size", words, code=1)
    assert data["why"]
    assert data["do"]
    assert not (tmp_path / "hall.json").exists()


def test_another_job_hangs_by_it(job, tmp_path):
    file = tmp_path / "hall.json"
    run("share", job, "--out", file)
    other = job_of(tmp_path / "other", "vwxyz", (300, 400), width_mm=3000)
    data = run("reuse", other, file, "--keep")
    assert data["option"] == "a"
    assert len(data["placements"]) == 4
    assert len(data["left_out"]) == 1
    places = {(p["x_mm"], p["y_mm"]) for p in data["placements"]}
    assert places == {(1500 + x * 178.5, 1524 + y * 228.5) for x in (-1, 1) for y in (-1, 1)}
    assert vis.open_project(other).document.chosen == "a"


def test_fewer_pieces_than_a_plan_has_places_hang_in_its_manner(job, tmp_path):
    """Three fill no grid of four: they hang in the way that is nearest to it."""
    file = tmp_path / "hall.json"
    run("share", job, "--out", file)
    data = run("reuse", job_of(tmp_path / "other", "xyz"), file)
    assert len(data["placements"]) == 3
    assert not [f for f in data["findings"] if f["severity"] == "broken"]


def test_a_file_that_is_no_plan_is_named(job, tmp_path):
    (tmp_path / "no.json").write_text("{}")
    assert "no hanging plan" in run("reuse", job, tmp_path / "no.json", code=1)["why"]
    assert run("reuse", job, tmp_path / "none.json", code=1)["do"]
