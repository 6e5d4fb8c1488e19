"""Shadows beside a canvas, and what is none: stripes, bricks, a dark neighbour, the picture's rim.

A thing that stands off the wall by d casts a shadow shifted by d tan(a), where a is the light's
angle to the wall's normal (plain geometry).
"""

import numpy as np
import pytest

from tests.rectification.test_sheet import PAPER, bricks, rectangle, right, scene, stripes
from visualiser.rectification.cast_shade import cast_shade
from visualiser.rectification.finding import convincing, find_references
from visualiser.rectification.light_planes import light_planes

A4 = rectangle(210, 297)
PLASTER = (176, 164, 146)
SHADED = tuple(0.8 * np.array(PLASTER))
STAND_OFF_MM = 25.0


def shadow(angle_deg, across, down, size=(210, 297), x_mm=0.0):
    shift = STAND_OFF_MM * np.tan(np.radians(angle_deg))
    return rectangle(*size, x_mm=x_mm + across * shift, y_mm=down * shift), SHADED


def shade(shapes, wall=PLASTER, outline=A4, **how):
    planes = light_planes(scene(shapes, wall, **how).pixels)
    return float(cast_shade(planes, planes.to_working(outline)[None])[0])


@pytest.mark.parametrize(("across", "down"), [(1, 0), (-1, 0), (0, 1), (0.8, 0.8), (-0.8, 0.6)])
def test_a_canvas_is_told_by_its_shadow(across, down):
    assert shade([shadow(50, across, down), (A4, PAPER)]) > 0.1


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("wall", [PLASTER, (226, 224, 219), (40, 52, 90)])
def test_paper_on_a_plain_wall_casts_none(wall, seed):
    assert shade([(A4, PAPER)], wall, seed=seed) < 0.02


def test_stripes_bricks_and_neighbours_are_no_shadow():
    red, pale = (160, 84, 74), (222, 216, 204)
    assert shade([*stripes((pale, red), 24, 0), (A4, PAPER)], pale) < 0.02
    grey, light = (120, 120, 120), (190, 190, 190)
    assert shade([*stripes((light, grey), 24, 0), (A4, PAPER)], light) < 0.02
    assert shade([*bricks(), (A4, PAPER)], (176, 168, 158)) < 0.02
    rail = (rectangle(40, 4000, x_mm=140, turn_deg=0), (60, 44, 34))
    assert shade([rail, (A4, PAPER)]) < 0.02


def test_what_lies_past_the_pictures_rim_says_nothing():
    at_rim = rectangle(210, 297, x_mm=830)
    assert shade([(at_rim, PAPER)], outline=at_rim) < 0.02


def test_of_two_alike_the_one_without_a_shadow_is_the_sheet():
    canvas = rectangle(210, 297, x_mm=520)
    paper = rectangle(210, 297, x_mm=-160)
    photo = scene([shadow(50, 0.8, 0.8, x_mm=520), (canvas, PAPER), (paper, PAPER)], PLASTER)
    assert right(convincing(find_references(photo, "a4")), paper)
