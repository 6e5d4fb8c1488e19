"""Shapes on the wall against figures worked by hand."""

import math

import pytest

from visualiser.geometry import Polygon, Rect, frozen

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
