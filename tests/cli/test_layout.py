import json

import numpy as np
import pytest
from typer.testing import CliRunner

import visualiser as vis
from tests.laid_out.test_arranging import laid
from tests.laid_out.test_box import plane_from_above
from visualiser.cli import app
from visualiser.laid_out.layout import Layout
from visualiser.project.document import Document, WallEntry


@pytest.fixture
def photo(tmp_path, monkeypatch):
    """A photo, and a layout that is read off it: what is looked for is tested elsewhere."""
    found = Layout((laid(1, 150, 200, 300, 400), laid(2, 580, 205, 400, 390)), plane_from_above())
    monkeypatch.setattr(vis, "read_layout", lambda *_, **__: found)
    place = tmp_path / "floor.png"
    place.write_bytes(vis.encode_png(np.full((24, 30, 3), 90, np.uint8)))
    return place


def run(*words, code=0):
    result = CliRunner().invoke(app, [*map(str, words), "--json"])
    assert result.exit_code == code, result.output
    return json.loads(result.stdout)


def test_pieces_and_layout_are_added_to_a_job(photo, tmp_path):
    job = tmp_path / "hall"
    vis.create_project(job, Document(wall=WallEntry(width_mm=4000, height_mm=2600)))
    out = tmp_path / "found.png"
    data = run("layout", photo, "--into", job, "--leave-out", "p1", "--out", out)
    assert [piece["width_mm"] for piece in data["pieces"]] == [300, 400]
    assert data["job"] == {"option": "a", "pieces": {"p2": "p1"}}
    assert vis.open_project(job).document.chosen == "a"
    assert out.exists()


def test_people_are_told_sizes_with_their_doubt(photo):
    result = CliRunner().invoke(app, ["layout", str(photo)])
    assert "p1: 300 ± 2 x 400 ± 2 mm, 22 mm deep, moulding 18 mm, mat 30 mm" in result.output


def test_a_photo_without_a_sheet_is_refused_in_words(tmp_path):
    place = tmp_path / "blank.png"
    place.write_bytes(vis.encode_png(np.full((24, 30, 3), 90, np.uint8)))
    data = run("layout", place, code=1)
    assert data["found"] is False
    assert data["do"]
