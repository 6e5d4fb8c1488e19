"""Distances from the side that was chosen, and what that side is called."""

import numpy as np
import pytest

from visualiser.findings import Finding
from visualiser.geometry import Rect
from visualiser.hanging.measures import Measures, measures_of, nearest_neighbour
from visualiser.survey.survey import Survey

WALL = Survey.from_size(4000, 2500)
GROUP = Rect(1000, 1200, 900, 600)


def test_both_sides_of_a_typed_wall_are_known():
    for side, away in (("left", 1500), ("right", 2500)):
        measures = measures_of(WALL, GROUP, side)
        assert measures.side_known
        assert measures.across_from == f"the {side} side"
        assert measures.from_side_mm(1500) == away


def test_a_side_elsewhere_than_at_nought_is_counted_from():
    assert Measures("left", 200.0, 0, 0, floor_known=True).from_side_mm(1500) == 1300
    assert Measures("right", 3800.0, 0, 0, floor_known=True).from_side_mm(1500) == 2300


def test_without_a_corner_neither_side_is_one():
    unsure = Finding("note", "No corner.", "", "side-from-reference")
    survey = Survey(WALL.outline, findings=(unsure,))
    for side in ("left", "right"):
        assert not measures_of(survey, GROUP, side).side_known


class Seen:
    """A measured wall that is known exactly."""

    def covariance(self, points_mm):
        return np.zeros((len(points_mm), 2, 2))


def test_the_right_end_of_what_a_photo_shows_is_no_side_of_the_wall():
    survey = Survey(WALL.outline, Seen())
    assert measures_of(survey, GROUP, "left").side_known
    right = measures_of(survey, GROUP, "right")
    assert not right.side_known
    assert right.across_from == "the right end of the usable wall"


def test_places_on_a_known_side_need_no_word_for_the_way():
    measures = measures_of(WALL, GROUP, "left")
    assert measures.across(817, "mm") == "817 mm"
    assert measures.across(-817, "mm") == "817 mm to its left"
    assert measures.across_in_words(0.0) == "0 mm (0 in) from the left side"


@pytest.mark.parametrize(
    ("side", "x", "drawn", "said"),
    [
        # A tape hooked at 2000 mm: what lies on its far side is named by the way to go.
        ("left", 2300, "300 mm to its right", "right of the middle of the sheet"),
        ("left", 1700, "300 mm to its left", "left of the middle of the sheet"),
        ("right", 1700, "300 mm", "left of the right end of the usable wall"),
        ("right", 2300, "300 mm to its right", "right of the right end of the usable wall"),
    ],
)
def test_the_way_to_go_is_said_where_a_mark_has_two_sides(side, x, drawn, said):
    measures = Measures(side, 2000.0, 0, 0, floor_known=True, side_known=False)
    assert measures.across(x, "mm") == drawn
    assert measures.across_in_words(x) == f"300 mm (11 13/16 in) {said}"


def test_beyond_a_known_right_side_is_to_its_right():
    measures = Measures("right", 3000.0, 0, 0, floor_known=True)
    assert measures.across(3012, "mm") == "12 mm to its right"
    assert measures.across_in_words(3254) == "254 mm (10 in) right of the right side"


def test_the_nearer_of_two_neighbours_is_checked_against():
    rects = {
        "own": Rect(1000, 1000, 300, 300),
        "beside": Rect(1350, 1100, 300, 300),
        "touching": Rect(1000, 1300, 300, 300),
        "corner": Rect(1310, 1310, 300, 300),
    }
    assert nearest_neighbour("own", rects) == ("touching", "below", 0)
    del rects["touching"]
    assert nearest_neighbour("own", rects) == ("beside", "left of", 50)
    del rects["beside"]
    assert nearest_neighbour("own", rects) is None  # off both ways: nothing to lay a tape along
