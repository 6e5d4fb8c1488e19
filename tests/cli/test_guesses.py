"""Doubtful finds on the command line: shown with numbers, taken by number."""

import json
from io import BytesIO

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli import app
from visualiser.rectification.finder.find import convincing
from visualiser.rendering.guesses import LINE, draw_guesses

SQUARE = np.array([[60.0, 50.0], [140.0, 50.0], [140.0, 160.0], [60.0, 160.0]])


@pytest.fixture
def photo(tmp_path, monkeypatch):
    """A photo in which two things may be the sheet."""
    found = [
        vis.Reference("a4", SQUARE, 210, 297, confidence=0.5, doubt="it is small"),
        vis.Reference("a4", SQUARE + [150, 0], 210, 297, confidence=0.3, may_be=("letter",)),
    ]
    monkeypatch.setattr(vis, "find_references", lambda *_, **__: found)
    monkeypatch.setattr(vis, "fit_wall_plane", lambda _, references: convincing(references))
    out = BytesIO()
    Image.new("RGB", (400, 300), (120, 110, 100)).save(out, "JPEG")
    path = tmp_path / "wall.jpg"
    path.write_bytes(out.getvalue())
    return path


def test_guesses_are_listed_and_drawn(photo, tmp_path):
    to = tmp_path / "guesses.png"
    result = CliRunner().invoke(app, ["wall", str(photo), "--guesses", str(to), "--json"])
    assert result.exit_code == 1
    data = json.loads(result.stdout)
    assert [g["number"] for g in data["guesses"]] == [1, 2]
    assert data["guesses"][0]["doubt"] == "it is small"
    assert data["guesses"][1]["kinds"] == ["a4", "letter"]
    assert "--take" in data["do"]
    with Image.open(to) as drawn:
        assert drawn.size == (400, 300)


def test_a_number_that_is_not_there_is_refused(photo):
    result = CliRunner().invoke(app, ["wall", str(photo), "--take", "3", "--json"])
    assert result.exit_code == 1
    assert "number 3" in json.loads(result.stdout)["why"]


@pytest.mark.parametrize(("kind", "width_mm"), [("a4", 210.0), ("letter", 215.9)])
def test_the_guess_taken_is_of_the_kind_asked_for(photo, monkeypatch, kind, width_mm):
    taken = []

    def measured(_, references):
        taken.append(convincing(references))
        raise vis.VisualiserError("Enough.", hint="Go on.")

    monkeypatch.setattr(vis, "fit_wall_plane", measured)
    CliRunner().invoke(app, ["wall", str(photo), "--reference", kind, "--take", "2"])
    assert (taken[0].kind, taken[0].width_mm) == (kind, pytest.approx(width_mm))
    np.testing.assert_array_equal(taken[0].corners_px, SQUARE + [150, 0])


def test_outlines_are_drawn_where_they_lie():
    pixels = np.full((300, 400, 3), 90, np.uint8)
    drawn = draw_guesses(vis.Photo(pixels), [SQUARE])
    # The middle of the left side; 40 px beside it nothing was drawn.
    assert (drawn[105, 58:63] == LINE).all(axis=1).any()
    assert (drawn[105, 15:25] == 90).all()
