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


@pytest.mark.parametrize(("angle_deg", "expected"), [(0, 0.04), (45, 0.0502), (60, 0.0892)])
def test_mirroring_at_handbook_angles(angle_deg, expected):
    """Unpolarised light on crown glass of index 1.5: usual handbook values, from memory."""
    lines = lines_from(2000 * math.tan(math.radians(angle_deg)), 0.0, 2000.0)
    assert mirrored(lines, Rect(-1, -1, 2, 2)) == pytest.approx(expected, abs=5e-4)


def test_at_brewsters_angle_half_of_the_mirroring_is_gone():
    """Closed form: tan of the angle is the index; only light across the plane is mirrored."""
    lines = lines_from(1.5 * 2000.0, 0.0, 2000.0)
    expected = ((1 - 1.5**2) / (1 + 1.5**2)) ** 2 / 2
    assert mirrored(lines, Rect(-1, -1, 2, 2)) == pytest.approx(expected, rel=2e-3)


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
