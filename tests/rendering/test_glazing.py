import math

import numpy as np
import pytest

from visualiser.geometry import Rect
from visualiser.rendering.glazing import (
    behind_glass,
    coat_mirrors,
    mirrored,
    pane_mirror,
    room_brightness,
    room_towards,
    under_coat,
    view_of,
)
from visualiser.rendering.sight_lines import Region, SightLines
from visualiser.survey.main_light import MainLight

PAGE = np.full((1, 1, 3), 0.8, np.float32)


def lines_from(x, y, z):
    empty = np.zeros((1, 1), np.float32)
    return SightLines(Region(0, 0, 1, 1), (x, y, z), empty, empty, empty, empty)


@pytest.mark.parametrize(("angle_deg", "expected"), [(0, 0.04), (45, 0.0502), (60, 0.0892)])
def test_mirroring_at_handbook_angles(angle_deg, expected):
    """Unpolarised light on crown glass of index 1.5: usual handbook values, from memory."""
    lines = lines_from(2000 * math.tan(math.radians(angle_deg)), 0.0, 2000.0)
    cosine = view_of(lines, Rect(-1, -1, 2, 2))[2]
    assert mirrored(cosine) == pytest.approx(expected, abs=5e-4)


def test_at_brewsters_angle_half_of_the_mirroring_is_gone():
    """Closed form: tan of the angle is the index; only light across the plane is mirrored."""
    expected = ((1 - 1.5**2) / (1 + 1.5**2)) ** 2 / 2
    assert mirrored(math.cos(math.atan(1.5))) == pytest.approx(expected, rel=2e-3)


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


@pytest.mark.parametrize(
    "light",
    [MainLight(), MainLight(1.4, 0.1, 0.4, 0.55), MainLight(-0.4, 0.5, 0.3, 0.45)],
)
def test_what_a_coat_mirrors_is_what_lights_the_wall(light):
    """White on the wall is the room's mean over the hemisphere, weighted by the cosine: 1.

    Integrated here over the disc of directions, where equal areas count alike. Wide lights reach
    a little past the wall, so the mean falls short by what lies behind it.
    """
    x, y = np.meshgrid(np.linspace(-1, 1, 401), np.linspace(-1, 1, 401))
    on = x**2 + y**2 < 1
    z = np.sqrt(1 - x[on] ** 2 - y[on] ** 2)
    seen = room_towards(np.stack([x[on], y[on], z], axis=-1), light, unsure=0.0)
    assert seen.mean() == pytest.approx(1, abs=0.15)


def test_a_gleam_that_may_not_be_there_is_as_bright_as_an_eye_finds_the_mean_of_all_cases():
    """Cube root of CIE 15:2004, 8.2.1, averaged over drawn places of the window, and undone."""
    window, rng = MainLight(1.2, 0.1, 0.4, 0.5), np.random.default_rng(3)
    tilts = np.radians([0, 25, 50, 70])
    seen = np.stack([np.sin(tilts), 0 * tilts, np.cos(tilts)], axis=-1)
    middle = np.array([1.2, 0.1, 1.0]) / np.linalg.norm([1.2, 0.1, 1.0])
    across = np.cross([0.0, 1.0, 0.0], middle) / np.hypot(middle[0], middle[2])
    lightness = []
    for a, b in 0.25 * rng.standard_normal((800, 2)):
        x, y, z = middle + a * across + b * np.cross(middle, across)
        there = MainLight(x / max(z, 0.1), y / max(z, 0.1), 0.4, 0.5)
        lightness.append(np.cbrt(room_towards(seen, there, unsure=0.0)))
    expected = np.mean(lightness, axis=0) ** 3
    assert room_towards(seen, window) == pytest.approx(expected, rel=0.12)
    assert room_towards(seen, window)[2] < room_towards(seen, window, unsure=0.0)[2]


def test_a_facet_that_turns_to_the_wall_mirrors_it():
    """Tilted by 70 degrees and seen straight on, it looks 50 degrees into the wall."""
    steep = math.radians(70)
    normals = np.array([[math.sin(steep), 0, math.cos(steep)]] * 2)
    _, seen = coat_mirrors((0.0, 0.0, 1.0), normals, MainLight(), np.array([0.05, 0.7]))
    assert seen == pytest.approx([0.05, 0.7])


def test_a_facet_that_turns_towards_the_window_shines():
    """Seen straight on, a facet tilted by half the window's angle mirrors it; others do not."""
    window = MainLight(1.4, 0.1, 0.4, 0.55)
    half = math.atan(1.4) / 2
    normals = np.array([[math.sin(t), 0, math.cos(t)] for t in (half, 0.0, -half)])
    part, room = coat_mirrors((0.0, 0.0, 1.0), normals, window)
    assert room[0] > 2 * room[1] > 2 * room[2]
    assert part == pytest.approx(0.04, abs=0.005)
