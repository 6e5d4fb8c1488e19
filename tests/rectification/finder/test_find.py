"""Finding a sheet without a click, and refusing when in doubt."""

import cv2
import numpy as np
import pytest

from visualiser.errors import ReferenceNotFound, SizeError
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.find import convincing, find_references
from visualiser.rectification.finder.questions import questions


def painted_wall(*corners_px, wall=(170, 160, 148), sheet=(232, 234, 238), seed=0):
    """A wall with sheets, drawn with soft edges; noise added."""
    rng = np.random.default_rng(seed)
    height, width = 480, 640
    picture = np.empty((height, width, 3), np.float32)
    picture[:] = wall
    cover = np.zeros((height, width), np.uint8)
    for corners in corners_px:
        points = np.rint(corners * 256).astype(np.int32)
        cv2.fillConvexPoly(cover, points, 255, lineType=cv2.LINE_AA, shift=8)
    share = (cover / 255.0)[..., None]
    picture = picture * (1 - share) + np.array(sheet, np.float32) * share
    picture = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.8)
    picture += rng.normal(0, 3, picture.shape)
    return Photo(np.clip(np.rint(picture), 0, 255).astype(np.uint8), focal_px=520.0)


A4 = np.array([[250.0, 150], [334, 153], [331, 271], [248, 268]])


def test_a_sheet_is_found_where_it_was_drawn():
    found = convincing(find_references(painted_wall(A4), "a4"))
    assert np.abs(found.corners_px - A4).max() < 0.005 * 800
    assert (found.width_mm, found.height_mm) == (210, 297)


def test_an_empty_wall_has_no_sheet():
    photo = painted_wall(A4, wall=(180, 170, 160), sheet=(180, 170, 160))
    with pytest.raises(ReferenceNotFound):
        convincing(find_references(photo, "a4"))


@pytest.mark.parametrize("size", [(1, 1), (8, 30), (30, 8), (40, 40)])
@pytest.mark.parametrize("kind", ["a4", "card", "target"])
def test_a_photo_of_a_few_pixels_holds_none(size, kind):
    pixels = np.random.default_rng(1).integers(0, 256, (*size, 3), dtype=np.uint8)
    with pytest.raises(ReferenceNotFound):
        convincing(find_references(Photo(pixels), kind))


def test_a_square_plate_is_no_sheet():
    square = np.array([[250.0, 150], [330, 150], [330, 230], [250, 230]])
    with pytest.raises(ReferenceNotFound):
        convincing(find_references(painted_wall(square), "a4"))


def test_a_find_beside_a_likelier_sheet_of_another_size_is_asked_about():
    """Letter is 8.5 by 11 in (ANSI/ASME Y14.1 size A), A4 210 by 297 mm (ISO 216)."""
    letter = np.array([[420.0, 150], [505, 150], [505, 260], [420, 260]])
    candidates = find_references(painted_wall(A4, letter), "a4")
    with pytest.raises(
        ReferenceNotFound, match="something else in the photo looks like the Letter"
    ):
        convincing(candidates)
    asked = [one.corners_px for one in questions(candidates)]
    for sheet in (A4, letter):
        assert min(np.abs(one - sheet).max() for one in asked) < 0.005 * 800


def test_a_find_whose_sides_cannot_be_read_is_asked_about(monkeypatch):
    """Sides out of reach of the close look stand for such as tape, hands and blur break up."""
    photo = painted_wall(A4)
    assert convincing(find_references(photo, "a4")).sides
    module = "visualiser.rectification.finder.close_look.sampled_sides"
    monkeypatch.setattr(module, lambda *_, **__: None)
    found = find_references(photo, "a4")
    assert not found[0].sides
    assert np.abs(found[0].corners_px - A4).max() < 6
    with pytest.raises(ReferenceNotFound):
        convincing(found)


def test_an_unknown_kind_is_refused_with_the_known_ones():
    with pytest.raises(SizeError, match="target-letter"):
        find_references(painted_wall(A4), "a99")
