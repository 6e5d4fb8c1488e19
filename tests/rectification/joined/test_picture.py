"""The straight-on picture of a wall in two photos."""

import cv2
import numpy as np
import pytest

from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.photo.photo import Photo
from visualiser.rectification.joined.picture import straight_on_picture
from visualiser.survey.surveying import survey_wall


@pytest.fixture(scope="module")
def picture(drawn, joined):
    return straight_on_picture(drawn.photos, joined)


def test_it_shows_the_wall_to_scale(picture):
    """Millimetres to pixels is one factor, the same everywhere: a straight-on view."""
    grid = np.array([[-400.0, 200.0], [600.0, 200.0], [1600.0, 200.0], [600.0, -300.0]])
    px = picture.plane.to_photo(grid)
    step = px[1, 0] - px[0, 0]
    assert px[2, 0] - px[1, 0] == pytest.approx(step)
    assert px[3] - px[1] == pytest.approx([0.0, step / 2])
    assert picture.plane.to_wall(px) == pytest.approx(grid)


def test_both_photos_are_in_it_and_nearly_nothing_is_left_empty(picture):
    shares = np.bincount(picture.source.ravel() + 1, minlength=3) / picture.source.size
    assert shares[0] < 0.03
    assert shares[1:].min() > 0.2


def test_the_sheet_lies_where_it_hangs(drawn, picture):
    """The true sheet's inside is brighter than the wall beside it, to a few millimetres."""
    grey = cv2.cvtColor(picture.photo.pixels, cv2.COLOR_RGB2GRAY).astype(float)
    corners = np.array([[-105.0, 148.5], [105, 148.5], [105, -148.5], [-105, -148.5]])
    for a, b in ((0, 1), (1, 2), (2, 3), (3, 0)):
        along = np.linspace(0.2, 0.8, 40)[:, None]
        edge = corners[a] + along * (corners[b] - corners[a])
        outward = edge.mean(axis=0) / np.hypot(*edge.mean(axis=0))
        inner, outer = (
            picture.plane.to_photo(edge + d * outward).round().astype(int) for d in (-12.0, 12.0)
        )
        assert grey[inner[:, 1], inner[:, 0]].mean() > grey[outer[:, 1], outer[:, 0]].mean() + 10


def test_a_photo_taken_darker_makes_the_same_picture(drawn, joined, picture):
    darker = to_pixels(to_linear(drawn.photos[1].pixels) * np.float32(0.75))
    photos = [drawn.photos[0], Photo(darker, drawn.photos[1].focal_px)]
    other = straight_on_picture(photos, joined)
    apart = other.photo.pixels.astype(float) - picture.photo.pixels
    assert abs(np.median(apart)) <= 2
    assert np.quantile(np.abs(apart), 0.9) <= 5


def test_no_point_is_stated_better_than_the_photos_know_it(drawn, joined, picture):
    x = np.linspace(drawn.left_mm + 250, drawn.right_mm - 250, 7)
    points = np.stack(np.meshgrid(x, [-500.0, 0.0, 500.0]), axis=-1).reshape(-1, 2)
    shown = picture.plane.half_width(points)
    known = joined.half_width(points)
    assert (shown > 0.95 * known).all()
    assert np.median(shown / known) < 2.5


def test_a_survey_is_made_of_it(drawn, picture):
    """The road goes on from it as from one photo: the usable wall is as long as the drawn one."""
    survey = survey_wall(picture.photo, picture.plane)
    box = np.array(survey.outline.points_mm)
    assert np.ptp(box[:, 0]) > 0.8 * (drawn.right_mm - drawn.left_mm)
