"""Which of several edges beside a sheet are its sides, on drawn walls."""

import numpy as np
import pytest

from tests.rectification.test_sheet import FOCAL, PAPER, SIZE, rectangle, scene
from visualiser.rectification.joint_sides import joint_choices
from visualiser.rectification.light_planes import light_planes
from visualiser.rectification.rectangle_fit import ViewPrior, fit_rectangles
from visualiser.rectification.side_evidence import snap

A4 = rectangle(210, 297, turn_deg=0, yaw_deg=0)
BRICK, JOINT = (110, 58, 44), (206, 198, 184)


def joint_above():
    left, right, top = A4[:, 0].min() - 60, A4[:, 0].max() + 60, A4[:, 1].min()
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
        scene([(joint_above(), JOINT), (A4, PAPER), *lines_of_print()], BRICK).pixels
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
    planes = light_planes(scene([], BRICK).pixels)
    _, gains = joint_choices(planes, planes.to_working(A4)[None], 0.08, paper=True)
    assert not (gains > 0).all(axis=-1).any()


def test_all_choices_are_of_the_edges_that_are_there():
    """On a plain wall each side has one edge, and there is one choice."""
    planes = light_planes(scene([(A4, PAPER)], BRICK).pixels)
    quads, gains = joint_choices(planes, planes.to_working(A4)[None], 0.08, paper=True)
    clear = gains.min(axis=-1) > 0.1 * gains.max()
    assert clear.sum() == 1
    assert off(planes.to_photo(quads[clear])).max() < 2
