"""Two walls that meet, measured in one photo, against a drawn corner with everything known."""

import numpy as np
import pytest

from tests.rectification.drawn_corner import draw_corner
from visualiser.errors import MeasurementError, ReferenceNotFound
from visualiser.photo.photo import Photo
from visualiser.rectification.corner import measure_corner, second_wall
from visualiser.rectification.joined.picture import straight_on_picture

WITHIN_95 = 5.99
"""Chi-square of two degrees of freedom, 95th percentile: any table."""
WITHIN_999 = 13.82
"""The same, 99.9th."""


@pytest.fixture(scope="module")
def drawn():
    return draw_corner(4, side="right", long_px=800)


@pytest.fixture(scope="module")
def walls(drawn):
    return measure_corner(drawn.photo, drawn.references(), drawn.corner_px())


def places(drawn):
    grid = np.stack(np.meshgrid([150.0, 500.0, 900.0], [-500.0, 0.0, 500.0]), axis=-1)
    points = grid.reshape(-1, 2)
    px = drawn.camera.project(drawn.beyond(points))[0]
    size = [drawn.photo.width_px - 1, drawn.photo.height_px - 1]
    shown = ((px > 0) & (px < size)).all(axis=1)
    assert shown.sum() >= 6
    return points[shown], px[shown]


def test_places_beyond_the_corner_are_measured_from_this_sides_sheet(drawn, walls):
    points, px = places(drawn)
    off = walls.second.to_wall(px) - points
    assert np.median(np.hypot(*off.T)) < 12
    spread = walls.second.covariance(points)
    strays = np.einsum("ni,nij,nj->n", off, np.linalg.inv(spread), off)
    # All come of one corner and one angle: they stray together.
    assert (strays < WITHIN_999).all()


def test_where_the_corner_is_and_how_square_holds(drawn, walls):
    assert walls.side == "right"
    assert abs(walls.corner_mm - drawn.corner_mm) < 1.6 * walls.corner_half_width_mm
    assert abs(walls.off_square_deg - drawn.off_square_deg) < 1.5


def test_the_way_round_the_corner_is_both_parts_together(drawn, walls):
    start, end = np.array([[-200.0, 0.0]]), np.array([[600.0, 100.0]])
    seen = drawn.camera.project(np.c_[start, [0.0]])[0], drawn.camera.project(drawn.beyond(end))[0]
    length, half = walls.way_round(walls.first.to_wall(seen[0]), walls.second.to_wall(seen[1]))
    assert abs(length - (drawn.corner_mm + 200.0 + 600.0)) < 1.6 * half
    assert 2 < half < 60


def test_both_walls_share_their_height_in_the_corner(drawn, walls):
    """A place on the corner's edge has one height, on whichever wall it is read."""
    px = drawn.camera.project(np.array([[drawn.corner_mm, y, 0.0] for y in (-400.0, 600.0)]))[0]
    heights = walls.first.to_wall(px)[:, 1], walls.second.to_wall(px)[:, 1]
    assert heights[0] == pytest.approx(heights[1], abs=2)
    assert walls.second.to_wall(px)[:, 0] == pytest.approx(0, abs=8)


def test_the_second_wall_is_drawn_straight_on_from_the_corner(drawn, walls):
    beyond = second_wall(drawn.photo, walls)
    picture = straight_on_picture([beyond.photo], beyond.wall)
    points, px = places(drawn)
    again = picture.plane.to_wall(picture.plane.to_photo(walls.second.to_wall(px)))
    assert again == pytest.approx(walls.second.to_wall(px), abs=1e-6)
    left = picture.plane.to_wall(np.array([[0.0, 100.0]]))[0, 0]
    assert -150 < left < 150  # in the corner, however the photo leaned
    assert (picture.plane.half_width(points) > 0.95 * walls.second.half_width(points)).all()


def test_a_corner_where_nothing_is_seen_is_refused(drawn):
    blank = Photo(np.full(drawn.photo.pixels.shape, 120, np.uint8), drawn.photo.focal_px)
    with pytest.raises(MeasurementError, match="corner") as refusal:
        measure_corner(blank, drawn.references(), drawn.corner_px())
    assert refusal.value.hint


def test_without_a_sheet_no_wall_is_measured(drawn):
    with pytest.raises(ReferenceNotFound):
        measure_corner(drawn.photo, [], drawn.corner_px())
