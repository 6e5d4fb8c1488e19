"""A job filled from a program: photo, pieces, marks, a choice, each saved."""

import io
import json

import numpy as np
import pytest
from PIL import Image

import visualiser as vis
from visualiser.inventory.piece_list import ListedPiece
from visualiser.project.document import write_document
from visualiser.survey.light_choice import LightChoice


def picture(value=120, size=(480, 320), kind="PNG"):
    buffer = io.BytesIO()
    Image.fromarray(np.full((*size, 3), value, np.uint8)).save(buffer, kind)
    return buffer.getvalue()


@pytest.fixture
def job(tmp_path):
    return vis.create_project(tmp_path / "job")


def test_the_road_without_a_photo(job):
    job = job.mark(
        vis.Zone("switch", vis.Polygon.from_rect(vis.Rect(3500, 1050, 80, 80)), "by the door"),
        vis.Furniture("sofa", vis.Rect(900, 0, 2200, 850)),
        LightChoice("left", "level", "soft"),
        width_mm=4000,
        height_mm=2500,
        wall="brick",
    )
    job = job.add_pieces([vis.Piece(i, 400, 500) for i in "abc"])
    survey = job.survey()
    assert [z.name for z in survey.zones] == ["by the door"]
    assert survey.furniture[0].rect == vis.Rect(900, 0, 2200, 850)
    assert job.document.wall.kind == "brick"
    best = vis.propose(job.pieces(), survey, job.guidelines(), count=1)[0]
    job = job.choose(best)
    assert job.document.chosen == "a"
    read = vis.open_project(job.folder)
    assert write_document(read.document) == write_document(job.document)
    plan = vis.plan_hanging(read.arrangement(), survey, wall="brick")
    assert vis.plan_pdf(plan).startswith(b"%PDF")
    assert vis.templates_pdf(plan).startswith(b"%PDF")


def test_a_photo_is_kept_under_its_name_and_content(job, tmp_path):
    (tmp_path / "Hall, north.JPG").write_bytes(picture(kind="JPEG"))
    job = job.add_photo(tmp_path / "Hall, north.JPG")
    assert job.document.photo.path.startswith("photos/hall-north-")
    assert job.photo().pixels.shape == (480, 320, 3)


@pytest.mark.parametrize("size", [(3, 3), (299, 4000)])
def test_a_photo_too_small_to_measure_a_wall_in_is_not_taken(job, tmp_path, size):
    """An A4 sheet across a tenth of a wall needs some 20 px: common practice, no source."""
    (tmp_path / "small.png").write_bytes(picture(size=size))
    with pytest.raises(vis.PhotoError, match=r"small\.png: The picture is .* pixels"):
        job.add_photo(tmp_path / "small.png")
    assert job.document.photo is None
    assert not list(job.folder.glob("photos/*"))


def test_another_photo_drops_what_was_marked_in_the_first(job):
    job = job.add_photo(picture(100))
    job = job.mark(
        vis.DrawnLine((1, 1), (1, 30), "plumb"),
        vis.Furniture("sofa", vis.Rect(900, 0, 2200, 850)),
        reference="letter",
        corners_px=[(1, 1), (9, 1), (9, 9), (1, 9)],
        reference_height_mm=1300,
        find_lines=False,
    )
    job = job.mark(LightChoice("left", "level", "soft"))
    assert job.document.marks.reference.corners_px[2] == (9, 9)
    job = job.add_photo(picture(101))
    marks = job.document.marks
    assert (marks.lines, marks.reference.corners_px) == ((), None)
    assert (marks.reference.kind, marks.reference_height_mm) == ("letter", 1300)
    assert len(marks.furniture) == 1
    assert (marks.find_lines, marks.light) == (False, LightChoice("left", "level", "soft"))


def test_a_size_typed_with_its_doubt_is_kept_as_a_standard_deviation(job):
    """95 % of a normal distribution lie within 1.96 of it (ISO 3534-1)."""
    job = job.mark(reference=(420, 297, 2))
    reference = job.document.marks.reference
    assert (reference.width_mm, reference.height_mm) == (420, 297)
    assert reference.size_sigma_mm == pytest.approx(2 / 1.96, rel=1e-4)
    assert job.mark(reference=(420, 297)).document.marks.reference.size_sigma_mm is None


def test_artworks_of_a_list_are_read_before_any_is_kept(job, tmp_path):
    (tmp_path / "a.png").write_bytes(picture(10))
    listed = [
        ListedPiece(vis.Piece("a", 400, 500), "a.png"),
        ListedPiece(vis.Piece("b", 400, 500), "missing.png"),
    ]
    with pytest.raises(vis.PieceError, match=r"missing\.png"):
        job.add_pieces(listed, tmp_path)
    assert not (job.folder / "artworks").exists()
    job = job.add_pieces(listed[:1], tmp_path)
    assert job.pieces()[0].artwork.pixels[0, 0, 0] == 10


def test_a_list_is_read_from_its_file(job, tmp_path):
    (tmp_path / "a.png").write_bytes(picture(10))
    (tmp_path / "list.csv").write_text("title;width;height;artwork\nSea;50 cm;400;a.png\n")
    (piece,) = job.add_pieces(tmp_path / "list.csv").pieces()
    assert (piece.id, piece.width_mm, piece.height_mm) == ("sea", 500, 400)
    assert piece.artwork.pixels.shape == (480, 320, 3)
    with pytest.raises(vis.PieceError, match="could not be opened"):
        job.add_pieces(tmp_path / "none.csv")


def test_artworks_may_lie_elsewhere_than_their_list(job, tmp_path):
    for name, side_px in (("lists", 4), ("pictures", 20)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.png").write_bytes(picture(side_px))
    (tmp_path / "lists" / "list.csv").write_text("title;width;height;artwork\nSea;500;400;a.png\n")
    (piece,) = job.add_pieces(tmp_path / "lists" / "list.csv", tmp_path / "pictures").pieces()
    assert piece.artwork.pixels[0, 0, 0] == 20


def test_pieces_are_replaced_only_where_that_is_said(job):
    job = job.add_pieces([vis.Piece("a", 400, 500, artwork=vis.Artwork(np.zeros((4, 4, 3), "u1")))])
    with pytest.raises(vis.PieceError, match="a piece a already"):
        job.add_pieces([vis.Piece("a", 300, 300)])
    job = job.add_pieces([vis.Piece("a", 300, 300)], replace=True)
    (piece,) = job.pieces()
    assert piece.width_mm == 300
    assert piece.artwork is not None


@pytest.mark.parametrize("values", [{"colour": "red"}, {"width_mm": -3}, {"corners_px": [(1, 2)]}])
def test_what_cannot_be_marked_is_named_and_nothing_saved(job, values):
    before = (job.folder / "project.json").read_bytes()
    with pytest.raises(vis.ProjectError):
        job.mark(**values)
    assert (job.folder / "project.json").read_bytes() == before


def test_choosing(job):
    job = job.mark(width_mm=3000, height_mm=2500).add_pieces([vis.Piece("a", 400, 500)])
    one = vis.Arrangement(job.pieces(), (vis.Placement("a", 1500, 1524),), name="one")
    job = job.choose(one).choose(one)
    assert job.document.chosen == "b"
    assert job.choose("a").document.chosen == "a"
    with pytest.raises(vis.ProjectError, match="no option z"):
        job.choose("z")
    assert json.loads((job.folder / "project.json").read_bytes())["chosen"] == "a"
