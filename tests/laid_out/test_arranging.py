from dataclasses import replace

import numpy as np
import pytest

import visualiser as vis
from tests.laid_out.test_box import plane_from_above
from visualiser.laid_out.layout import LaidPiece, Layout
from visualiser.laid_out.reading import reading_order
from visualiser.project.document import Document, WallEntry
from visualiser.project.laid import add_layout, with_layout


def laid(number, x, y, width, height):
    art = vis.Artwork(np.full((30, 20, 3), 40 * number, np.uint8))
    return LaidPiece(
        f"p{number}", width, height, 22.0, x, y, 0.4, np.eye(6), np.zeros((4, 2)),
        rail_mm=18.0, mat_mm=(30.0, 30.0, 34.0, 30.0), colour="#7a5c3d", artwork=art,
    )  # fmt: skip


@pytest.fixture
def layout():
    """Three in a row, gaps 80 and 62 mm, tops nearly level."""
    pieces = laid(1, 150, 200, 300, 400), laid(2, 580, 205, 400, 390), laid(3, 917, 195, 150, 200)
    return Layout(pieces, plane_from_above())


WALL = vis.Survey.from_size(4000, 2600)


def test_a_layout_keeps_its_places_in_the_group(layout):
    hung = vis.hang_as_laid(layout, WALL, vis.Guidelines())
    places = {p.piece_id: np.array([p.x_mm, p.y_mm]) for p in hung.placements}
    assert places["p2"] - places["p1"] == pytest.approx([430, 5])
    assert places["p3"] - places["p2"] == pytest.approx([337, -10])
    assert hung.bounds.centre_mm[0] == pytest.approx(2000, abs=5)
    assert hung.family == "as laid"


def test_gaps_are_evened_on_request(layout):
    hung = vis.hang_as_laid(layout, WALL, vis.Guidelines(gap_mm=57), even_gaps=True)
    rects = hung.rects()
    assert rects["p2"].left_mm - rects["p1"].right_mm == pytest.approx(57, abs=1)
    assert rects["p3"].left_mm - rects["p2"].right_mm == pytest.approx(57, abs=1)


def test_a_wall_too_small_is_refused(layout):
    with pytest.raises(vis.ArrangementError, match="no place"):
        vis.hang_as_laid(layout, vis.Survey.from_size(700, 2600), vis.Guidelines())


def test_confirmed_pieces_and_their_layout_come_into_a_job(layout, tmp_path):
    job = vis.create_project(
        tmp_path / "hall", Document(wall=WallEntry(width_mm=4000, height_mm=2600))
    )
    job = job.add_pieces([vis.Piece("p1", 200, 200)])
    job, letter, ids = add_layout(job, layout, ["p1", "p3"])
    assert ids == {"p1": "p2", "p3": "p3"}
    pieces = {piece.id: piece for piece in job.pieces()}
    assert pieces["p2"].width_mm == 300
    assert pieces["p2"].moulding.colour == "#7a5c3d"
    assert pieces["p3"].artwork.pixels[0, 0, 0] == 120
    assert [p.piece_id for p in job.document.option(letter).placements] == ["p2", "p3"]
    with pytest.raises(vis.ProjectError, match="No piece"):
        add_layout(job, layout, [])


def test_while_nothing_is_known_of_the_wall_the_pieces_come_alone(layout, tmp_path):
    job = vis.create_project(tmp_path / "hall")
    document, letter, ids = with_layout(job.document, job.add_file, None, layout, ["p1", "p2"])
    assert (letter, document.options) == ("", ())
    assert [piece.id for piece in document.pieces] == list(ids.values())


def test_pieces_are_named_row_by_row():
    extents = np.array([[900, 500, 600], [920, 700, 0], [300, 0, 50], [880, 480, 300]], float)
    assert reading_order(extents) == [1, 3, 0, 2]


def test_a_canvas_without_frame_becomes_a_piece_without_moulding(layout):
    bare = replace(layout.pieces[0], rail_mm=0.0, mat_mm=(0.0,) * 4)
    piece = bare.as_piece()
    assert piece.moulding is None
    assert piece.depth_mm == 22
