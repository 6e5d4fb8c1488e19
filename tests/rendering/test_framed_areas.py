"""What hangs before a drawn wall: rectangles are pictures with all they hold, other shapes not."""

import cv2
import numpy as np
import pytest

from visualiser.rendering.framed_areas import framed_areas

STEP_MM = 5.0


def wall(*outlines):
    """Wall of 1500 x 1000 mm at 5 mm an element, with outlines (N, 2) in mm cut out of it."""
    surface = np.ones((200, 300), np.uint8)
    for outline in outlines:
        cv2.fillPoly(surface, [np.round(np.array(outline) / STEP_MM).astype(np.int32)], 0)
    y, x = np.mgrid[0:200, 0:300] * STEP_MM
    return surface > 0, x, -y


def frame(left, top, width, height, turn_deg=0.0):
    """Corners of a frame, turned about its middle as pictures hang crooked."""
    corners = cv2.boxPoints(((left + width / 2, top + height / 2), (width, height), turn_deg))
    return corners.tolist()


def things(*outlines):
    surface, x, y = wall(*outlines)
    return ~surface, x, y


@pytest.mark.parametrize("turn_deg", [0.0, 2.0])
def test_a_mat_in_the_walls_white_is_within_its_frame(turn_deg):
    outer, mat = frame(400, 200, 300, 400, turn_deg), frame(430, 230, 240, 340, turn_deg)
    surface, x, y = wall(outer)
    cut = wall(mat)[0]
    # Mat and wall are one colour: the mat is a part of the surface that the frame surrounds.
    found = framed_areas(~surface & cut, x, y)
    assert found[~cut].all()
    assert found[surface].mean() < 0.01


def test_wall_between_leaves_is_in_no_frame():
    middle = np.array([700.0, 500.0])
    turns = np.linspace(0, 2 * np.pi, 14, endpoint=False)
    reach = np.where(np.arange(14) % 2, 90.0, 380.0)
    star = middle + reach[:, None] * np.stack([np.cos(turns), np.sin(turns)], axis=1)
    assert not framed_areas(*things(star)).any()


def test_what_the_photos_edge_cuts_off_is_not_judged():
    assert not framed_areas(*things(frame(-100, 200, 300, 400))).any()
