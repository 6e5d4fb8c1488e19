"""Ceilings and corners of painted rooms: where they are, and not where a door or picture ends.

Doors are about 2.0 m high and 0.8 to 0.9 m wide (common practice, no source).
"""

import pytest

from tests.synthetic.painted_room import (
    CREAM,
    NAVY,
    SHEET_UP_MM,
    WHITE,
    lying,
    paint,
    plane_at,
    room,
    upright,
)
from visualiser.survey.surveying import whole_wall
from visualiser.survey.wall_ends import wall_ends

HIGH, RIGHT = 2450.0, 1700.0
DOOR = [
    (upright(900, 1700, 0, 2060, 15.0), WHITE),
    (upright(970, 1630, 0, 2000, 16.0), (180, 178, 170)),
]


def closed(wall, things=(), beside=(150, 146, 138), above=(232, 232, 230)):
    """A room with a ceiling and a wall to the right."""
    ceiling = [(x, HIGH, z) for x, _, z in lying(-4000, 4000, 0, 1900)]
    side = [(RIGHT, HIGH, 0), (RIGHT, HIGH, 1900), (RIGHT, 0, 1900), (RIGHT, 0, 0)]
    return [*room(wall), *things, (ceiling, above), (side, beside)]


def ends_of(quads, yaw_deg=-8.0):
    plane = plane_at(yaw_deg, pitch=-0.02)
    photo = paint(plane, quads)
    return wall_ends(whole_wall(photo, plane), plane.to_wall(plane.reference_corners_px))


@pytest.mark.parametrize("wall", [NAVY, CREAM])
def test_ceiling_and_corner(wall):
    ends = ends_of(closed(wall))
    assert ends.top_mm == pytest.approx(HIGH - SHEET_UP_MM, abs=5)
    assert ends.right_mm == pytest.approx(RIGHT, abs=5)
    assert ends.left_mm is None


def test_pictures_do_not_end_a_wall():
    pictures = [(upright(x, x + 500, 1300, 2000, 20.0), (40, 40, 44)) for x in (-1100, 300, 950)]
    ends = ends_of(closed(NAVY, pictures))
    assert ends.top_mm == pytest.approx(HIGH - SHEET_UP_MM, abs=5)
    assert ends.right_mm == pytest.approx(RIGHT, abs=5)


def test_a_door_is_no_corner():
    """The wall goes on over it, up to the corner or the photo's rim."""
    ends = ends_of([*room(NAVY), *DOOR])
    assert ends.right_mm is None
    assert ends.left_mm is None


def test_a_shadow_and_a_wall_of_the_same_light_are_no_corner():
    shades = [
        (
            upright(700 + 30 * k, 730 + 30 * k, 0, 3000),
            tuple(int(c * (1 - 0.01 * k)) for c in CREAM),
        )
        for k in range(30)
    ]
    assert ends_of([*room(CREAM), *shades]).right_mm is None
    assert ends_of(closed(CREAM, beside=CREAM)).right_mm is None


def test_nothing_is_told_of_a_wall_beyond_the_photo():
    ends = ends_of(room(NAVY))
    assert (ends.top_mm, ends.left_mm, ends.right_mm) == (None, None, None)
