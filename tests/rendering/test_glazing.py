import math

import numpy as np
import pytest

from visualiser.geometry import Rect
from visualiser.rendering.glazing import (
    behind_glass,
    mirrored,
    pane_mirror,
    room_brightness,
    under_coat,
)
from visualiser.rendering.sight_lines import Region, SightLines
from visualiser.survey.light import MainLight

PAGE = np.full((1, 1, 3), 0.8, np.float32)


def lines_from(x, y, z):
    empty = np.zeros((1, 1), np.float32)
    return SightLines(Region(0, 0, 1, 1), (x, y, z), empty, empty, empty, empty)


@pytest.mark.parametrize("angle_deg", [0, 30, 45, 60, 70])
def test_mirroring_follows_fresnels_equations(angle_deg):
    """Fresnel for unpolarised light, air to index 1.5 (Born and Wolf, Principles of Optics, 1.5)."""
    inside = math.asin(math.sin(math.radians(angle_deg)) / 1.5)
    ci, ct = math.cos(math.radians(angle_deg)), math.cos(inside)
    across = ((ci - 1.5 * ct) / (ci + 1.5 * ct)) ** 2
    along = ((ct - 1.5 * ci) / (ct + 1.5 * ci)) ** 2
    lines = lines_from(2000 * math.tan(math.radians(angle_deg)), 0.0, 2000.0)
    found = mirrored(lines, Rect(-1, -1, 2, 2))
    assert found == pytest.approx((across + along) / 2, abs=0.014)


def test_a_pane_is_the_sum_of_all_reflections_between_its_surfaces():
    surface = 0.04
    through = sum((1 - surface) ** 2 * surface ** (2 * k) for k in range(30))
    assert pane_mirror(surface) == pytest.approx(1 - through, abs=1e-9)
    page = 0.8
    back = sum(through * page * (page * (1 - through)) ** k * through for k in range(40))
    assert behind_glass(PAGE, surface)[0, 0, 0] == pytest.approx(back, abs=1e-6)


def test_neither_glass_nor_coat_makes_light():
    for surface in (0.04, 0.2, 0.8):
        assert behind_glass(PAGE, surface).max() + pane_mirror(surface) <= 1
        assert under_coat(PAGE, surface).max() < 0.8
    assert room_brightness(MainLight(share=0.4)) == pytest.approx(0.6)
