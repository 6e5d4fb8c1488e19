"""What the command line states of level is a 95 % half-width (JCGM 100:2008, table G.1: 1.960)."""

import json
import re

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli import app
from visualiser.project.document import Document

SHEET_PX = [[450.0, 400.0], [555.0, 400.0], [555.0, 548.5], [450.0, 548.5]]


@pytest.fixture
def photo(tmp_path, monkeypatch):
    """A photo whose sheet is known, so that only what is said of it is looked at."""
    place = tmp_path / "wall.png"
    Image.fromarray(np.full((900, 1200, 3), 128, np.uint8)).save(place)
    sheet = vis.Reference.from_corners(np.array(SHEET_PX), 210, 297)
    monkeypatch.setattr(vis, "find_references", lambda *_, **__: [sheet])
    return place


def test_the_doubt_of_level_is_that_of_95_percent(photo):
    told = CliRunner().invoke(app, ["wall", str(photo), "--reference", "a4", "--json"])
    assert told.exit_code == 0, told.output
    data = json.loads(told.stdout[told.stdout.index("{") :])
    picture = vis.load_photo(photo.read_bytes())
    plane = vis.fit_wall_plane(picture, vis.find_references(picture, "a4"))
    assert plane.level_sigma_deg > 0.01
    assert data["level_uncertainty_deg"] == pytest.approx(1.960 * plane.level_sigma_deg, abs=6e-4)
    near = np.sqrt(np.linalg.eigvalsh(plane.covariance(np.zeros((1, 2)))[0]).max())
    assert data["uncertainty_mm"]["at_reference"] == pytest.approx(1.960 * near, rel=0.01)


def test_what_is_said_to_people_agrees(photo):
    plain = CliRunner().invoke(app, ["wall", str(photo), "--reference", "a4"]).output
    picture = vis.load_photo(photo.read_bytes())
    plane = vis.fit_wall_plane(picture, vis.find_references(picture, "a4"))
    half = float(plane.half_width(np.zeros((1, 2)))[0])
    stated = int(re.search(r"within ± (\d+) mm", plain)[1])
    assert stated == pytest.approx(half, abs=1.0)


def test_the_doubt_of_a_weight_is_that_of_95_percent(tmp_path):
    """0.5 kg as a standard uncertainty is ± 0.98 kg."""
    piece = {"id": "a", "width_mm": 400, "height_mm": 500, "weight_kg": 3, "weight_sigma_kg": 0.5}
    document = Document(
        wall={"width_mm": 3000, "height_mm": 2500},
        pieces=(piece,),
        options=({"id": "a", "placements": ({"piece_id": "a", "x_mm": 1500, "y_mm": 1524},)},),
    )
    job = vis.create_project(tmp_path / "job", document)
    out = tmp_path / "plan.pdf"
    told = CliRunner().invoke(app, ["plan", str(job.folder), "--out", str(out), "--json"])
    assert told.exit_code == 0, told.output
    data = json.loads(told.stdout[told.stdout.index("{") :])
    assert data["pieces"][0]["weight_uncertainty_kg"] == pytest.approx(0.98)
