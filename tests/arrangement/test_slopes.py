"""Sloping sides of a wall: a stair below, a roof above."""

import pytest

from visualiser.arrangement.slopes import floor_height, floor_rise, roof_side, stair_side
from visualiser.geometry import Polygon, Rect


def test_the_floor_follows_the_line_of_a_stairs_nosings():
    """Closed form: from (500, 300) to (3500, 2100), a rise of 3 in 5."""
    corners = ((0, 300), (500, 300), (3500, 2100), (4000, 2100), (4000, 4000), (0, 4000))
    stair = Polygon(corners)
    assert floor_rise(stair) == pytest.approx(0.6)
    assert [floor_height(stair, x) for x in (0, 500, 1500, 3500, 3900)] == pytest.approx(
        [300, 300, 900, 2100, 2100]
    )


def test_a_roof_is_the_longest_slope_above():
    """A wall under a roof that comes down to the right from 2.5 m to 1.2 m, worked by hand."""
    outline = Polygon(((0, 0), (4000, 0), (4000, 1200), (2000, 2500), (0, 2500)))
    assert roof_side(outline) == ((2000, 2500), (4000, 1200))
    assert stair_side(outline) is None
    assert floor_height(outline, 1500) == 0.0


def test_an_upright_wall_has_neither():
    outline = Polygon.from_rect(Rect(0, 0, 4000, 2500))
    assert roof_side(outline) is None
    assert stair_side(outline) is None
    assert floor_rise(outline) == 0.0
