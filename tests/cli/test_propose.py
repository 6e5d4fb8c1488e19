"""The propose command, run as a person or a program would."""

import json

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli import app
from visualiser.project.document import Document, FurnitureEntry, PieceEntry, WallEntry


@pytest.fixture
def job(tmp_path):
    pieces = tuple(PieceEntry(id=i, width_mm=400, height_mm=500) for i in ("a", "b", "c", "d"))
    document = Document(
        name="Landing", wall=WallEntry(width_mm=4000, height_mm=2600), pieces=pieces
    )
    folder = tmp_path / "job"
    vis.create_project(folder, document)
    return folder


def test_proposals_as_data_with_pictures_to_scale(job):
    result = CliRunner().invoke(app, ["propose", str(job), "--count", "2", "--json"])
    assert result.exit_code == 0, result.output
    data = json.loads(result.stdout)
    assert len(data["proposals"]) == 2
    first = data["proposals"][0]
    assert {p["piece"] for p in first["placements"]} == {"a", "b", "c", "d"}
    with Image.open(first["file"]) as picture:
        assert picture.width == 1200
    with Image.open(first["score_file"]) as chart:
        assert np.asarray(chart).std() > 5


def test_one_family_in_words(job):
    result = CliRunner().invoke(app, ["propose", str(job), "--family", "grid"])
    assert result.exit_code == 0, result.output
    assert "grid, 2 across, 2 down" in result.output
    assert "even gaps" in result.output


@pytest.mark.parametrize("family", ["spiral", "triptych"])
def test_what_does_not_suit_is_said(job, family):
    result = CliRunner().invoke(app, ["propose", str(job), "--family", family, "--json"])
    assert result.exit_code == 1
    data = json.loads(result.stdout)
    assert data["why"]
    assert data["do"]


def proposed(job, *more):
    result = CliRunner().invoke(app, ["propose", str(job), *more, "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)["proposals"]


def test_kept_proposals_are_options_that_other_commands_find(job):
    rows = proposed(job, "--count", "2", "--keep")
    assert [row["option"] for row in rows] == ["a", "b"]
    kept = vis.open_project(job)
    assert kept.document.chosen == "a"
    for row in rows:
        places = {p.piece_id: (p.x_mm, p.y_mm) for p in kept.arrangement(row["option"]).placements}
        assert places == {
            p["piece"]: pytest.approx((p["x_mm"], p["y_mm"]), abs=1e-3) for p in row["placements"]
        }


def test_what_the_person_placed_stays_and_stays_chosen(job):
    before = vis.open_project(job)
    by_hand = vis.Arrangement(before.pieces(), (vis.Placement("a", 500.0, 1500.0),), name="mine")
    document, letter = before.document.with_option(by_hand)
    before.save(document.changed(chosen=letter))
    rows = proposed(job, "--count", "2", "--keep")
    assert [row["option"] for row in rows] == ["b", "c"]
    after = vis.open_project(job).document
    assert after.chosen == "a"
    assert after.options[0] == document.options[0]


def test_without_being_asked_nothing_is_saved(job):
    proposed(job)
    assert vis.open_project(job).document.options == ()


def test_a_full_job_says_so_and_loses_nothing(job):
    project = vis.open_project(job)
    document = project.document
    one = vis.Arrangement(project.pieces(), (vis.Placement("a", 500.0, 1500.0),))
    for _ in range(25):
        document, _ = document.with_option(one)
    options = project.save(document).document.options
    result = CliRunner().invoke(app, ["propose", str(job), "--count", "2", "--keep", "--json"])
    assert result.exit_code == 1
    assert "options already" in json.loads(result.stdout)["why"]
    assert vis.open_project(job).document.options == options


def test_fewer_pieces_than_there_are(job):
    project = vis.open_project(job)
    odd = PieceEntry(id="odd", width_mm=150, height_mm=900)
    project.save(project.document.changed(pieces=(*project.document.pieces, odd)))
    result = CliRunner().invoke(app, ["propose", str(job), "--hang", "4", "--count", "1", "--json"])
    data = json.loads(result.stdout)
    assert data["left_out"] == ["odd"]
    (row,) = proposed(job, "--hang", "3", "--must", "odd", "--count", "1")
    assert "odd" in {p["piece"] for p in row["placements"]}
    assert len(row["placements"]) == 3


def test_must_needs_to_know_how_many(job):
    assert CliRunner().invoke(app, ["propose", str(job), "--must", "a"]).exit_code == 2


def test_advice_on_sizes_and_places(job):
    """Two thirds of 3 m are 2 m: a grid of two columns of 400 mm is too narrow."""
    project = vis.open_project(job)
    corners = ((500.0, 0.0), (3500.0, 0.0), (3500.0, 800.0), (500.0, 800.0))
    sofa = FurnitureEntry(kind="sofa", points_mm=corners)
    marks = project.document.marks.model_copy(update={"furniture": (sofa,)})
    project.save(project.document.changed(marks=marks))
    (row,) = proposed(job, "--family", "grid", "--advise", "--count", "1")
    assert any("1143 mm narrower" in sentence for sentence in row["advice"])
