"""Feet of walls painted through a known camera: where floors are, and nothing that is not one.

A phone is held between chest and eyes, a sheet taped at eye height, skirting boards are 45 to
240 mm high and stand 15 mm off the wall: common practice, no source.
"""

import numpy as np
import pytest

from tests.synthetic.painted_room import (
    CREAM,
    NAVY,
    OAK,
    SHEET_UP_MM,
    WHITE,
    paint,
    plane_at,
    room,
    upright,
)
from visualiser import Photo
from visualiser.survey.floor import skirting_floor
from visualiser.survey.surveying import whole_wall

SOFA = [(upright(-1000, 1100, 60, 800, 700.0), (74, 104, 96))]


def floor_of(photo, plane):
    return skirting_floor(whole_wall(photo, plane), plane)


def error_mm(floor):
    """How far off the floor is; its height is the sheet's own below the plane's zero."""
    return floor.y_mm + SHEET_UP_MM


@pytest.mark.parametrize("yaw_deg", [0.0, 18.0])
@pytest.mark.parametrize("wall", [NAVY, CREAM, WHITE])
def test_the_floor_below_a_board_and_not_a_board_of_the_floor(wall, yaw_deg):
    plane = plane_at(yaw_deg)
    floor = floor_of(paint(plane, room(wall)), plane)
    assert floor is not None
    assert abs(error_mm(floor)) < 2 * floor.sigma_mm
    assert floor.sigma_mm < 12


@pytest.mark.parametrize("high_mm", [70.0, 180.0])
def test_boards_of_other_heights(high_mm):
    plane = plane_at(10.0)
    floor = floor_of(paint(plane, room(NAVY, (WHITE, high_mm))), plane)
    assert abs(error_mm(floor)) < 2 * floor.sigma_mm


def test_a_wall_without_a_board():
    plane = plane_at(10.0)
    floor = floor_of(paint(plane, room(CREAM, None)), plane)
    assert abs(error_mm(floor)) < 2 * floor.sigma_mm


def test_beside_a_sofa_and_under_a_picture():
    plane = plane_at(0.0)
    picture = (upright(900, 1500, 1000, 1700, 20.0), (30, 30, 30))
    floor = floor_of(paint(plane, room(NAVY, things=[*SOFA, picture])), plane)
    assert abs(error_mm(floor)) < 2 * floor.sigma_mm


def test_nothing_where_furniture_hides_it_or_the_photo_ends_above_it():
    plane = plane_at(0.0)
    wide = [(upright(-4000, 4000, 0, 830, 600.0), (120, 90, 60))]
    cushions = [(upright(-4000, 4000, 0, 640, 620.0), (96, 72, 48))]
    assert floor_of(paint(plane, room(CREAM, things=[*wide, *cushions])), plane) is None
    whole = paint(plane, room(NAVY))
    cut = int(plane.to_photo(np.array([[0.0, 300.0 - SHEET_UP_MM]]))[0, 1])
    assert floor_of(Photo(whole.pixels[:cut]), plane) is None


def test_not_the_floor_of_one_who_lies_on_it():
    """A plinth as high as a table, with the phone above it, would put the camera at the knee."""
    plane = plane_at(0.0)
    shelf = [
        (upright(-4000, 4000, 0, 900, 1.0), OAK),
        (upright(-4000, 4000, 900, 1010, 15.0), WHITE),
    ]
    assert floor_of(paint(plane, room(NAVY, None, things=shelf)), plane) is None
