"""The propose command, run as a person or a program would."""

import json

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli import app
from visualiser.project.document import Document, PieceEntry, WallEntry


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
