"""How much wall there is to hang on, from a camera square on: every figure by hand."""

import numpy as np
import pytest

from visualiser.errors import MeasurementError
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.plane import WallPlane
from visualiser.survey.outline import _clipped, shown_wall, usable_wall
from visualiser.survey.wall_ends import WallEnds

WIDTH, HEIGHT = 1201, 901
NOT_SEEN = WallEnds()


def plane(away_mm=3000.0, turned_deg=0.0):
    """1500 px of focal length: at 3000 mm a pixel is 2 mm, and the middle pixel is (0, 0)."""
    c, s = np.cos(np.radians(turned_deg)), np.sin(np.radians(turned_deg))
    rotation = np.array([[c, 0, -s], [0, -1, 0], [-s, 0, -c]])
    corners = np.array([[547.5, 375.75], [652.5, 375.75], [652.5, 524.25], [547.5, 524.25]])
    lens = Lens(1500.0, (WIDTH - 1) / 2, (HEIGHT - 1) / 2)
    return WallPlane(lens, rotation, np.array([0, 0, away_mm]), corners, 0.0, np.eye(11) * 1e-8)


def usable(floor_mm, ends=NOT_SEEN, **seen):
    box = usable_wall(plane(**seen), WIDTH, HEIGHT, floor_mm, ends).bounds
    return (box.left_mm, box.bottom_mm, box.right_mm, box.top_mm)


def test_what_the_photo_shows_is_all_there_is():
    """600 px and 450 px either way of the middle; nothing known but the sheet ends it above."""
    assert usable(None) == pytest.approx((-1200, -900, 1200, 900), abs=0.1)
    assert usable(None, away_mm=6000.0) == pytest.approx((-2400, -1800, 2400, 900), abs=0.1)


def test_the_floor_ends_it_below_and_a_low_room_above():
    """2400 mm over the floor: common practice, no source."""
    assert usable(-700.0) == pytest.approx((-1200, -700, 1200, 900), abs=0.1)
    high = usable(-1700.0, away_mm=6000.0)
    assert high == pytest.approx((-2400, -1700, 2400, 700), abs=0.1)


def test_the_ceiling_and_the_corners_that_are_seen_end_it():
    ends = WallEnds(top_mm=850.0, left_mm=-1000.0, right_mm=1100.0)
    assert usable(-700.0, ends) == pytest.approx((-1000, -700, 1100, 850), abs=0.1)
    # A ceiling that is seen goes before the one that is assumed, higher or lower.
    tall = usable(-1700.0, WallEnds(top_mm=1500.0), away_mm=6000.0)
    assert tall[3] == pytest.approx(1500)


def test_wall_beyond_six_metres_is_not_surveyed():
    """At 14 m a pixel is 9.3 mm, and the 24th part of 1200 px 487 mm: twelve and a half to 6 m."""
    shown = shown_wall(plane(away_mm=14_000.0), WIDTH, HEIGHT)
    assert 5500 < np.abs(shown[:, 0]).max() < 6000
    assert shown[:, 1].max() == pytest.approx(4200, abs=1)


def test_a_reference_that_puts_the_wall_beyond_any_room_is_refused_in_words():
    """A sheet that was said to be ten times its size."""
    with pytest.raises(MeasurementError, match="further off") as caught:
        shown_wall(plane(away_mm=30_000.0), WIDTH, HEIGHT)
    assert "size of the reference" in caught.value.hint


def test_a_wall_seen_askew_reaches_less_far_up_at_its_near_end():
    """Turned by 20°, its ends are nearer and further: what the photo shows is no rectangle."""
    shown = shown_wall(plane(turned_deg=20.0), WIDTH, HEIGHT)
    left, right = shown[:, 0].argmin(), shown[:, 0].argmax()
    assert abs(abs(shown[left, 0]) - abs(shown[right, 0])) > 200


@pytest.mark.parametrize(
    ("at", "keep_above", "left"),
    [
        (0.0, True, [(0, 0), (10, 0), (10, 10), (0, 10)]),  # along a side: that side is kept
        (10.0, False, [(0, 0), (10, 0), (10, 10), (0, 10)]),
        (4.0, True, [(10, 4), (10, 10), (0, 10), (0, 4)]),
        (4.0, False, [(0, 0), (10, 0), (10, 4), (0, 4)]),
        (11.0, True, [(0, 0), (10, 0), (10, 10), (0, 10)]),  # nothing would be left
    ],
)
def test_an_outline_is_cut_by_a_level_line(at, keep_above, left):
    square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], float)
    assert _clipped(square, axis=1, at=at, keep_above=keep_above) == pytest.approx(np.array(left))


def test_three_corners_are_an_outline():
    triangle = np.array([[0, 0], [8, 0], [4, 8]], float)
    cut = _clipped(triangle, axis=1, at=4.0, keep_above=True)
    assert cut == pytest.approx(np.array([[6, 4], [4, 8], [2, 4]]))
