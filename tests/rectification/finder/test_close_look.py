"""The close look finds a drawn sheet's sides from a rough guess, and refuses a hopeless one."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rectification.finder.test_find import A4, painted_wall
from visualiser.rectification.finder.close_look import look_closely
from visualiser.rectification.finder.light_planes import light_planes
from visualiser.rectification.finder.model import judge
from visualiser.rectification.kinds import reference_kind


def looked_at(moves):
    """The close look at a guess whose corners are moved so far, px."""
    photo, kind = painted_wall(A4), reference_kind("a4")
    planes = light_planes(photo.pixels)
    best = judge(planes, planes.to_working(A4)[None], photo, kind)[0]
    return look_closely(photo, planes, kind, replace(best, corners_px=A4 + np.array(moves)))


@pytest.mark.parametrize(
    "moves",
    [
        [[0, 0], [0, 0], [0, 0], [0, 0]],
        [[-1, -3], [2, -7], [1, -1], [-1, 0]],  # the top side turned, as onto a brick's edge
        [[0, 0], [4, 0], [6, 0], [0, 0]],
    ],
)
def test_sides_are_found_from_a_guess_with_one_side_askew(moves):
    found = looked_at(moves)
    assert all(len(side) for side in found.sides)
    # OpenCV fills a polygon to half a pixel beyond its corners.
    assert np.abs(found.corners_px - A4).max() < 0.8
    assert found.log_odds > 0


def test_a_guess_somewhere_else_stays_where_it_was_and_is_not_believed():
    moves = [[40, 40]] * 4
    found = looked_at(moves)
    assert np.abs(found.corners_px - A4 - moves).max() < 1e-9
    assert found.votes["seen close"] < -1
