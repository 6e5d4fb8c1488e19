"""Edges a few hundredths deep on a noisy drawn wall: found if plumb or level, sharp and long."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.rendering.straight_borders import StraightBorders, straight_borders
from visualiser.rendering.wall_mask import find_wall_mask
from visualiser.survey.light import estimate_light

DOOR = (700.0, 1550.0, 0.0, 1980.0)
"""Left, right, foot and head of a leaf 850 mm wide in its lining (common practice, no source)."""


@pytest.fixture(scope="module")
def room(oblique, painted):
    """Wall with a door 5 % darker than it, and a soft shadow 20 % deep."""
    photo = painted(oblique, noise=0.012)
    gy, gx = np.mgrid[0 : photo.height_px, 0 : photo.width_px].astype(float)
    x, y = oblique.to_wall(np.c_[gx.ravel(), gy.ravel()]).T.reshape(2, *gx.shape)
    door = (x > DOOR[0]) & (x < DOOR[1]) & (y > DOOR[2]) & (y < DOOR[3])
    soft = 0.2 / (1 + np.exp((x + 2000) / 120))
    linear = to_linear(photo.pixels) * (1 - 0.05 * door - soft)[..., None]
    return replace(photo, pixels=to_pixels(linear.astype(np.float32))), x, y, door


def test_a_door_of_nearly_the_walls_paint_is_found_and_a_soft_shadow_is_not(room, oblique):
    photo, x, y, _ = room
    sheet = oblique.plane.reference_corners_px
    ring = np.zeros((photo.height_px, photo.width_px), np.uint8)
    middle = sheet.mean(axis=0)
    for times, value in ((3.0, 1), (1.4, 0)):
        cv2.fillPoly(ring, [(middle + times * (sheet - middle)).astype(np.int32)], value)
    found = straight_borders(to_linear(photo.pixels), oblique, 1.0, ring > 0).either
    for edge in DOOR[:2]:
        along = (np.abs(x - edge) < 20) & (y > 100) & (y < 1900)
        rows = np.flatnonzero(along.any(axis=1))
        assert np.mean([found[row][along[row]].any() for row in rows]) > 0.9
    elsewhere = (x < DOOR[0] - 60) & (y > 60) & (y < 2500) & (np.hypot(x + 900, y - 1450) > 300)
    assert found[elsewhere].mean() < 0.01


def test_that_door_is_offered_for_a_tap_and_not_painted(room, oblique):
    photo, _, _, door = room
    mask = find_wall_mask(photo.pixels, oblique, estimate_light(photo, oblique))
    inside = cv2.erode(door.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    small = cv2.resize(inside.astype(np.uint8), mask.wall.shape[::-1]) > 0
    assert mask.wall[small].mean() < 0.02
    assert mask.unsure[small].mean() > 0.9
    assert (mask.share(photo.pixels)[inside] > 0.5).mean() < 0.02


def test_an_edge_among_leaves_bounds_no_wall_and_a_doors_beside_a_pole_does():
    """Drawn: two plumb edges, one of a door half a pole's breadth off, one across a bush."""
    shape = (200, 200)
    plumb = np.zeros(shape, np.int32)
    plumb[:, 50:53], plumb[:, 150:153] = 1, 2
    wall = np.ones(shape, bool)
    wall[120:150, 40:48] = False
    for k in range(0, 200, 25):
        wall[k : k + 15, 140:165] = False
    found = StraightBorders(plumb, np.zeros_like(plumb), plumb > 0).along(wall)
    assert found[:, 50:53].all()
    assert not found[:, 100:].any()


def test_the_references_own_sides_bound_no_wall(oblique, painted):
    """A bare wall, and the sheet with its tape: nothing else is there to end at.

    The tape lies along the whole of two sides and 20 mm beyond, so that they are longer than
    any edge has to be that bounds a wall (A4 is 297 mm long, ISO 216).
    """
    photo = painted(oblique, noise=0.012)
    sheet = oblique.plane.reference_corners_px
    left, low = oblique.to_wall(sheet).min(axis=0)
    right, high = oblique.to_wall(sheet).max(axis=0)
    gy, gx = np.mgrid[0 : photo.height_px, 0 : photo.width_px].astype(float)
    x, y = oblique.to_wall(np.c_[gx.ravel(), gy.ravel()]).T.reshape(2, *gx.shape)
    tape = (x > left - 20) & (x < right + 20) & (y > low - 20) & (y < high + 20)
    linear = to_linear(photo.pixels) * (1 - 0.3 * (tape & ~((x > left) & (x < right))))[..., None]
    pixels = to_pixels(linear.astype(np.float32))
    ring = np.zeros((photo.height_px, photo.width_px), np.uint8)
    middle = sheet.mean(axis=0)
    for times, value in ((3.0, 1), (1.4, 0)):
        cv2.fillPoly(ring, [(middle + times * (sheet - middle)).astype(np.int32)], value)
    found = straight_borders(to_linear(pixels), oblique, 1.0, ring > 0).either
    near = (x > left - 400) & (x < right + 400) & (y > low - 400) & (y < high + 400)
    assert not found[near].any()
