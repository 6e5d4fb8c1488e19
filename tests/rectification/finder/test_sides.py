"""Where sides are found, on drawn walls.

Which of several edges beside a sheet are its sides, on drawn walls.
"""

import numpy as np
import pytest

from tests.rectification.finder.test_model import FOCAL, PAPER, SIZE, rectangle, scene
from visualiser.rectification.finder.light_planes import light_planes
from visualiser.rectification.finder.shape import ViewPrior, fit_rectangles
from visualiser.rectification.finder.sides import joint_choices, snap

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


DARK_BRICK, PALE_JOINT = (110, 58, 44), (206, 198, 184)


def joint_above():
    left, right, top = (
        A4[:, 0].min() - 60,
        A4[:, 0].max() + 60,
        A4[:, 1].min(),
    )
    return [[left, top - 6], [right, top - 6], [right, top + 1], [left, top + 1]]


def lines_of_print():
    across = [150.0, 6.0]
    return [(rectangle(*across, y_mm=y, turn_deg=0, yaw_deg=0), (40, 40, 44)) for y in (-132, 132)]


def off(quads):
    return np.abs(quads - A4).max(axis=(-1, -2))


@pytest.mark.parametrize("shift_px", [0.0, 2.5, -2.5])
def test_the_edges_that_make_the_shape_are_the_sheets(shift_px):
    """A joint of bricks is over the top of it, whose other edge steps more than its own."""
    planes = light_planes(
        scene(
            [(joint_above(), PALE_JOINT), (A4, PAPER), *lines_of_print()],
            DARK_BRICK,
        ).pixels
    )
    guess = planes.to_working(A4)[None] + [0.0, shift_px]
    quads, gains = joint_choices(planes, guess, 0.08, paper=True)
    found = planes.to_photo(quads[(gains > 0).all(axis=-1)])
    right = found[off(found).argmin()]
    # In the logarithm of light a blurred edge lies up to 2 px towards the dark.
    assert off(right) < 2.5
    # What the clearest edges alone make of it, and it has another shape.
    clearest = planes.to_photo(snap(planes, guess, 0.08, paper=True))[0]
    assert off(clearest) > 4
    view = ViewPrior(FOCAL, 0.05, (SIZE[0] / 2, SIZE[1] / 2))
    chi2 = fit_rectangles(np.array([right, clearest]), (210.0, 297.0), view, 0.8).chi2
    assert chi2[0] < 2 < chi2[1]


def test_a_side_without_any_edge_offers_no_choice():
    planes = light_planes(scene([], DARK_BRICK).pixels)
    _, gains = joint_choices(planes, planes.to_working(A4)[None], 0.08, paper=True)
    assert not (gains > 0).all(axis=-1).any()


def test_all_choices_are_of_the_edges_that_are_there():
    """On a plain wall each side has one edge, and there is one choice."""
    planes = light_planes(scene([(A4, PAPER)], DARK_BRICK).pixels)
    quads, gains = joint_choices(planes, planes.to_working(A4)[None], 0.08, paper=True)
    clear = gains.min(axis=-1) > 0.1 * gains.max()
    assert clear.sum() == 1
    assert off(planes.to_photo(quads[clear])).max() < 2
