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

HIGH, RIGHT, LEFT = 2450.0, 1700.0, -1700.0


def door(inward):
    """A door whose frame ends where the photo does, right (1) or left (-1) of the sheet."""
    across = [sorted((inward * a, inward * b)) for a, b in ((900, 1700), (970, 1630))]
    return [
        (upright(*across[0], 0, 2060, 15.0), WHITE),
        (upright(*across[1], 0, 2000, 16.0), (180, 178, 170)),
    ]


def closed(wall, things=(), beside=(150, 146, 138), above=(232, 232, 230), at_mm=RIGHT):
    """A room with a ceiling and a wall to the right, or to the left."""
    ceiling = [(x, HIGH, z) for x, _, z in lying(-4000, 4000, 0, 1900)]
    side = [(at_mm, HIGH, 0), (at_mm, HIGH, 1900), (at_mm, 0, 1900), (at_mm, 0, 0)]
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


@pytest.mark.parametrize("wall", [NAVY, CREAM])
def test_a_corner_on_the_left(wall):
    """Positions across are measured from it."""
    ends = ends_of(closed(wall, at_mm=LEFT), yaw_deg=8.0)
    assert ends.top_mm == pytest.approx(HIGH - SHEET_UP_MM, abs=4)
    assert ends.left_mm == pytest.approx(LEFT, abs=4)
    assert ends.right_mm is None


def test_both_corners_with_pictures_between():
    pictures = [(upright(x, x + 400, 1300, 2000, 20.0), (40, 40, 44)) for x in (-900, 500)]
    both = [*closed(NAVY, pictures, at_mm=-1200.0), closed(NAVY, at_mm=1300.0)[-1]]
    ends = ends_of(both, yaw_deg=0.0)
    assert ends.left_mm == pytest.approx(-1200.0, abs=4)
    assert ends.right_mm == pytest.approx(1300.0, abs=4)


def test_pictures_do_not_end_a_wall():
    pictures = [(upright(x, x + 500, 1300, 2000, 20.0), (40, 40, 44)) for x in (-1100, 300, 950)]
    ends = ends_of(closed(NAVY, pictures))
    assert ends.top_mm == pytest.approx(HIGH - SHEET_UP_MM, abs=5)
    assert ends.right_mm == pytest.approx(RIGHT, abs=5)


@pytest.mark.parametrize("inward", [1, -1])
def test_a_door_is_no_corner(inward):
    """The wall goes on over it, up to the corner or the photo's rim."""
    ends = ends_of([*room(NAVY), *door(inward)], yaw_deg=-8.0 * inward)
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
