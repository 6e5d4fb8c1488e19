"""Shapes on the wall against figures worked by hand, and against shapely (GEOS)."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from visualiser.geometry import Polygon, Rect, bounding_rect, frozen

TRIANGLE = Polygon(((100.0, 50.0), (500.0, 50.0), (100.0, 350.0)))
"""Sides 400, 300 and 500."""


def test_area_either_way_round():
    assert TRIANGLE.area_mm2 == pytest.approx(400 * 300 / 2)
    assert Polygon(TRIANGLE.points_mm[::-1]).area_mm2 == pytest.approx(400 * 300 / 2)


def test_distance_between_two_boxes():
    """By hand: straight across, straight up, and 3, 4, 5 corner to corner."""
    box = Rect(0, 0, 100, 100)
    assert box.distance_to(Rect(140, 20, 10, 10)) == 40
    assert box.distance_to(Rect(20, -70, 10, 10)) == 60
    assert box.distance_to(Rect(103, 104, 10, 10)) == pytest.approx(5)
    assert box.distance_to(Rect(90, 104, 10, 10)) == 4
    assert box.distance_to(Rect(90, 80, 30, 10)) == -10


def test_distance_from_a_slanting_side():
    """The long side is 3x + 4y = 1700; the rectangle's nearest corner (500, 300) is off by 200."""
    assert TRIANGLE.distance_to_rect(Rect(500, 300, 50, 50)) == pytest.approx(1000 / 5)
    assert TRIANGLE.distance_to_rect(Rect(530, 10, 40, 10)) == pytest.approx(math.hypot(30, 30))
    assert TRIANGLE.distance_to_rect(Rect(0, 100, 60, 50)) == pytest.approx(40)
    assert TRIANGLE.distance_to_rect(Rect(120, 100, 10, 10)) == 0


def test_an_outline_that_crosses_or_runs_back_over_itself():
    assert TRIANGLE.crossing() is None
    assert Polygon(((0, 0), (10, 10), (10, 0), (0, 10))).crossing() is not None
    back = Polygon(((0, 0), (100, 0), (40, 0), (40, 50)))
    assert back.crossing() is not None
    onwards = Polygon(((0, 0), (100, 0), (140, 0), (140, 50), (0, 50)))
    assert onwards.crossing() is None  # a corner in the middle of a straight side
    # Sides on one line that do not touch are no crossing.
    comb = Polygon(((0, 0), (30, 0), (30, 20), (60, 20), (60, 0), (90, 0), (90, 50), (0, 50)))
    assert comb.crossing() is None


@pytest.mark.parametrize(
    ("rect", "inside", "shares"),
    [
        (Rect(120, 60, 100, 100), True, True),
        (Rect(100, 50, 50, 50), True, True),
        (Rect(300, 150, 100, 100), False, True),
        (Rect(500, 350, 10, 10), False, False),
        (Rect(0, 0, 600, 400), False, True),
    ],
)
def test_a_rectangle_in_a_triangle(rect, inside, shares):
    assert TRIANGLE.contains_rect(rect) == inside
    assert TRIANGLE.overlaps_rect(rect) == shares


@pytest.mark.parametrize("shift", [-3000.0, 0.0, 3000.0])
@pytest.mark.parametrize("turned", [False, True])
def test_a_side_may_go_on_but_not_back(shift, turned):
    """By hand: a corner in the middle of a side is none; a spike of no width is no polygon."""

    def polygon(*along):
        points = [(x + shift, 0.0) for x in along] + [(along[-1] + shift, 900.0), (shift, 900.0)]
        return Polygon(tuple((y, x) if turned else (x, y) for x, y in points))

    assert polygon(0.0, 400.0, 1000.0).crossing() is None
    assert polygon(0.0, 1000.0, 400.0).crossing() == (0, 1)


def test_values_that_are_kept_cannot_be_changed():
    given = [[1.0, 2.0]]
    kept = frozen(given, (None, 2))
    with pytest.raises(ValueError, match="read-only"):
        kept[0, 0] = 5.0


# Corners on a coarse grid: most pairs touch, share a side's line or meet in a corner, where
# tests of the inside go wrong.
GRID = st.integers(0, 6).map(float)
CORNERS = st.lists(st.tuples(GRID, GRID), min_size=3, max_size=8, unique=True)
RECTS = st.builds(
    lambda x, y, w, h: Rect(x, y, w, h), GRID, GRID, st.integers(1, 4), st.integers(1, 4)
)


def box_of(rect):
    return shapely.box(rect.left_mm, rect.bottom_mm, rect.right_mm, rect.top_mm)


@given(CORNERS)
def test_an_outline_is_simple_where_shapely_says_so(corners):
    outline = Polygon(tuple(corners))
    assert (outline.crossing() is None) == shapely.LinearRing(corners).is_simple


@given(CORNERS, RECTS)
def test_a_rectangle_and_an_outline_as_shapely_has_them(corners, rect):
    theirs, box = shapely.Polygon(corners), box_of(rect)
    assume(theirs.is_valid and theirs.area > 0)
    outline = Polygon(tuple(corners))
    assert outline.area_mm2 == pytest.approx(theirs.area)
    assert np.array_equal(list(Polygon.from_rect(outline.bounds)), outline.bounds.corners())
    assert box_of(outline.bounds).equals(theirs.envelope)
    assert outline.is_upright_rect == (
        len(corners) == 4 and theirs.area == pytest.approx(outline.bounds.area_mm2)
    )
    assert outline.contains_rect(rect) == theirs.covers(box)
    assert outline.overlaps_rect(rect) == (theirs.intersection(box).area > 1e-9)
    assert outline.distance_to_rect(rect) == pytest.approx(theirs.distance(box), abs=1e-9)


@given(CORNERS, st.tuples(st.floats(-1, 7), st.floats(-1, 7)))
def test_a_point_lies_inside_where_shapely_says_so(corners, place):
    theirs, point = shapely.Polygon(corners), shapely.Point(place)
    assume(theirs.is_valid and theirs.boundary.distance(point) > 1e-9)
    assert Polygon(tuple(corners)).contains_point(*place) == theirs.contains(point)


@given(RECTS, RECTS, st.floats(-3, 3))
def test_two_rectangles_as_shapely_has_them(one, other, margin_mm):
    ours, theirs = box_of(one), box_of(other)
    shared = ours.intersection(theirs).area
    assert one.overlaps(other) == (shared > 1e-9)
    assert one.contains(other) == ours.covers(theirs)
    if not shared:
        assert one.distance_to(other) == pytest.approx(ours.distance(theirs))
    around = bounding_rect([one, other])
    assert box_of(around).equals(shapely.union(ours, theirs).envelope)
    grown = one.grown(margin_mm)
    assert grown.centre_mm == pytest.approx(one.centre_mm)
    wanted = [max(side + 2 * margin_mm, 0) for side in (one.width_mm, one.height_mm)]
    assert [grown.width_mm, grown.height_mm] == pytest.approx(wanted)


@pytest.mark.parametrize("size", [math.inf, math.nan, -1.0])
def test_a_side_is_a_length(size):
    for sides in ((size, 100.0), (100.0, size)):
        with pytest.raises(ValueError, match="size must be"):
            Rect(0, 0, *sides)
