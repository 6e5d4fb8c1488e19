import json

import numpy as np
import pytest
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli import app
from visualiser.rectification.camera.projection import FLIP, Lens
from visualiser.rectification.joined.wall import JoinedWall
from visualiser.rectification.plane import WallPlane


def plane(x_mm):
    """A camera square to the wall, 2 m before it, aimed at a place beside the sheet."""
    at = np.array([-x_mm, 0.0, 2000.0])
    spread = np.diag([1e-4] * 3 + [1.0] * 3 + [1e-3] * 3 + [1.0] * 2) ** 2
    return WallPlane(Lens(100.0, 49.5, 39.5), FLIP, at, np.full((4, 2), 40.0), 0.0, spread)


@pytest.fixture
def photos(tmp_path, monkeypatch):
    """Two photos, and the wall they show: how it is measured is tested elsewhere."""
    planes = (plane(0.0), plane(1200.0))
    covariance = np.zeros((22, 22))
    for k, one in enumerate(planes):
        covariance[11 * k : 11 * k + 11, 11 * k : 11 * k + 11] = one.parameter_covariance
    wall = JoinedWall(planes, ((100, 80),) * 2, 0, covariance, 0.0, np.zeros((2, 2)))
    monkeypatch.setattr(vis, "join_photos", lambda *_, **__: wall)
    monkeypatch.setattr(vis, "find_references", lambda *_, **__: [])
    places = [tmp_path / f"{name}.png" for name in ("left", "right")]
    for place, grey in zip(places, (90, 140), strict=True):
        place.write_bytes(vis.encode_png(np.full((80, 100, 3), grey, np.uint8)))
    return places


def test_photos_are_joined_into_one_picture(photos, tmp_path):
    out = tmp_path / "wall.png"
    result = CliRunner().invoke(app, ["join", *map(str, photos), "--out", str(out), "--json"])
    assert result.exit_code == 0, result.output
    data = json.loads(result.stdout)
    assert [one["middle_mm"] for one in data["photos"]] == [[0, 0], [1200, 0]]
    assert all(one["half_width_mm"] > 0 for one in data["photos"])
    # 3.2 m of wall at 20 mm a pixel.
    assert vis.load_photo(out.read_bytes()).width_px == pytest.approx(160, abs=5)
    assert "picture-without-doubt" in {finding["code"] for finding in data["findings"]}


def test_where_each_photo_lies_is_said_in_millimetres_and_inches(photos):
    """1200 mm is 47.244 in, 47 1/4 to the sixteenth."""
    result = CliRunner().invoke(app, ["join", *map(str, photos)])
    assert "1 200 mm (47 1/4 in) across" in result.output


def test_one_photo_is_refused_in_words(tmp_path):
    place = tmp_path / "one.png"
    place.write_bytes(vis.encode_png(np.full((80, 100, 3), 90, np.uint8)))
    result = CliRunner().invoke(app, ["join", str(place), "--json"])
    assert result.exit_code == 1
    assert json.loads(result.stdout)["do"]


def test_the_joined_picture_becomes_the_wall_of_a_new_job(photos, tmp_path):
    folder = tmp_path / "corridor"
    result = CliRunner().invoke(app, ["join", *map(str, photos), "--into", str(folder), "--json"])
    assert result.exit_code == 0, result.output
    job = vis.open_project(folder)
    assert len(job.document.marks.joined.photos) == 2
    assert [e.path.startswith("photos/") for e in job.document.pictures] == [True] * 3
    plane = job.survey().plane
    assert plane.to_wall(plane.to_photo([[600.0, 0.0]])) == pytest.approx(np.array([[600.0, 0.0]]))
