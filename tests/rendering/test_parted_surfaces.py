"""Surfaces cut by drawn borders: what encloses a part in spite of gaps, and what does not."""

import cv2
import numpy as np
import pytest

from visualiser.rendering.parted_surfaces import parted_surfaces

LEAST_PX = 40


def wall(*lines):
    """Borders (200, 300) along lines given as (x, y, x, y)."""
    borders = np.zeros((200, 300), np.uint8)
    for x0, y0, x1, y1 in lines:
        cv2.line(borders, (x0, y0), (x1, y1), 1, 2)
    return borders > 0


def parted(borders, surface=None, home=(slice(90, 110), slice(20, 40))):
    surface = np.ones(borders.shape, bool) if surface is None else surface
    place = np.zeros(borders.shape, bool)
    place[home] = True
    return parted_surfaces(surface, borders, place, LEAST_PX)


@pytest.mark.parametrize("gap", [0, 12, 24])
def test_a_door_is_parted_though_its_edge_has_a_gap(gap):
    door = wall((200, 60, 200, 110 - gap // 2), (200, 110 + gap // 2, 200, 199),
                (200, 60, 260, 60), (260, 60, 260, 199))  # fmt: skip
    found = parted(door)
    assert found[70:195, 205:255].mean() > 0.97
    assert found[:, :190].mean() == 0
    assert found[:50].mean() == 0


def test_a_line_that_bounds_nothing_parts_nothing():
    assert not parted(wall((150, 100, 150, 199))).any()
    assert not parted(wall((60, 100, 220, 100))).any()


def test_the_wall_between_two_pictures_stays_though_their_edges_go_on_across_it():
    surface = np.ones((200, 300), bool)
    surface[60:140, 100:170] = surface[60:140, 182:260] = False
    borders = wall((80, 60, 275, 60), (80, 140, 275, 140))
    assert not parted(borders, surface).any()


def test_a_sliver_in_a_doors_corner_does_not_take_the_door_along():
    """It touches the wall along less than counts, and the door along all its length."""
    door = wall((200, 60, 200, 199), (200, 60, 260, 60), (260, 60, 260, 199),
                (200, 75, 260, 75), (215, 60, 215, 199))  # fmt: skip
    found = parted(door)
    assert found[80:195, 220:255].all()
    assert found[80:195, 204:212].all()


def test_what_only_another_thing_parts_is_not_parted():
    surface = np.ones((200, 300), bool)
    surface[:, 150:154] = False
    assert not parted(wall((200, 0, 200, 20)), surface).any()


def test_without_borders_or_a_place_nothing_is_parted():
    plain = np.zeros((200, 300), bool)
    assert not parted(plain).any()
    assert not parted_surfaces(~plain, wall((150, 0, 150, 199)), plain, LEAST_PX).any()
