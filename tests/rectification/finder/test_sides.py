"""Where sides are found, on drawn walls."""

import numpy as np
import pytest

from tests.rectification.finder.test_model import PAPER, rectangle, scene
from visualiser.rectification.finder.light_planes import light_planes
from visualiser.rectification.finder.sides import snap

BRICK, JOINT = (150, 90, 72), (165, 158, 148)
A4 = rectangle(210, 297, turn_deg=0, yaw_deg=0)


def snapped(shapes, *, innermost, wall=BRICK):
    planes = light_planes(scene([*shapes, (A4, PAPER)], wall).pixels)
    quads = planes.to_working(A4)[None]
    found = snap(planes, quads, 0.08, paper=True, innermost=innermost)
    return np.abs(planes.to_photo(found[0]) - A4).max()


def test_the_joint_of_bricks_below_a_sheet_is_no_part_of_it():
    left, right, bottom = A4[:, 0].min(), A4[:, 0].max(), A4[:, 1].max()
    joint = [
        [left - 90, bottom - 1],
        [right + 90, bottom - 1],
        [right + 90, bottom + 5],
        [left - 90, bottom + 5],
    ]
    assert snapped([(joint, JOINT)], innermost=True) < 2.5
    # The joint's lower edge steps more: what the clearest step alone makes of it.
    assert snapped([(joint, JOINT)], innermost=False) > 3


@pytest.mark.parametrize("innermost", [True, False])
@pytest.mark.parametrize("wall", [BRICK, (206, 200, 190), (40, 52, 80)])
# In the logarithm of light a blurred edge lies up to 2 px towards the dark.
def test_on_a_plain_wall_either_rule_finds_the_side(innermost, wall):
    assert snapped([], innermost=innermost, wall=wall) < 2
