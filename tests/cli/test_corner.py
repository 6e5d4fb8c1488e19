import json

import numpy as np
import pytest
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli import app
from visualiser.rectification.camera.corner_observation import second_camera, second_slopes
from visualiser.rectification.camera.projection import (
    FLIP,
    CameraState,
    Lens,
    rotation_from_vector,
)
from visualiser.rectification.corner import CornerWalls
from visualiser.rectification.plane import WallPlane

CORNER_MM = 700.0
SPREAD = np.diag([1e-4] * 3 + [1.0] * 3 + [1e-3] * 3 + [1.0] * 2 + [2.0, 2e-3]) ** 2


def plane(camera, spread):
    corners = np.full((4, 2), 40.0)
    return WallPlane(camera.lens, camera.rotation, camera.translation_mm, corners, 0.0, spread)


@pytest.fixture
def photo(tmp_path, monkeypatch):
    """A photo of a corner, and its walls: how they are measured is tested elsewhere."""
    rotation = rotation_from_vector(np.array([0.0, -0.45, 0.0])) @ FLIP
    first = CameraState(rotation, -rotation @ [-900.0, 0.0, 2500.0], Lens(110.0, 59.5, 39.5))
    second = second_camera(first, "right", CORNER_MM, 0.0)
    slopes = np.zeros((23, 13))
    slopes[:11, :11], slopes[11:22], slopes[22, 11] = np.eye(11), second_slopes(first, 700.0), 1.0
    joint = slopes @ SPREAD @ slopes.T
    walls = CornerWalls(
        plane(first, joint[:11, :11]), plane(second, joint[11:22, 11:22]), "right", CORNER_MM,
        0.0, joint,
    )  # fmt: skip
    monkeypatch.setattr(vis, "measure_corner", lambda *_, **__: walls)
    monkeypatch.setattr(vis, "find_references", lambda *_, **__: [])
    place = tmp_path / "corner.png"
    place.write_bytes(vis.encode_png(np.full((80, 120, 3), 120, np.uint8)))
    return place


EDGE = ["--edge", "80,5 80,75"]


def test_the_wall_beyond_is_drawn_and_said(photo, tmp_path):
    out = tmp_path / "second.png"
    result = CliRunner().invoke(app, ["corner", str(photo), *EDGE, "--out", str(out), "--json"])
    assert result.exit_code == 0, result.output
    data = json.loads(result.stdout)
    assert (data["side"], data["corner_mm"]) == ("right", CORNER_MM)
    assert data["half_width_mm_at_1m"] > data["corner_half_width_mm"] / 2 > 0
    assert out.exists()


def test_where_the_corner_is_is_said_in_millimetres_and_inches(photo):
    """700 mm is 27.559 in, 27 9/16 to the sixteenth."""
    result = CliRunner().invoke(app, ["corner", str(photo), *EDGE])
    assert "700 mm (27 9/16 in) to the right" in result.output


def test_the_wall_beyond_becomes_the_wall_of_a_job(photo, tmp_path):
    folder = tmp_path / "beyond"
    words = ["corner", str(photo), *EDGE, "--into", str(folder), "--json"]
    result = CliRunner().invoke(app, words)
    assert result.exit_code == 0, result.output
    job = vis.open_project(folder)
    assert len(job.document.marks.joined.photos) == 1
    survey = job.survey()
    at = np.array([[500.0, 0.0]])
    assert survey.plane.to_wall(survey.plane.to_photo(at)) == pytest.approx(at)


def test_an_edge_that_is_no_edge_is_refused_in_words(photo):
    result = CliRunner().invoke(app, ["corner", str(photo), "--edge", "80", "--json"])
    assert result.exit_code == 1
    assert json.loads(result.stdout)["do"]
