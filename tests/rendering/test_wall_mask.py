"""Painted rooms whose wall is known: a glow, a shadow, a plant, and a door of the wall's colour."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from visualiser.colour.colorimetry import hex_to_linear
from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.rendering.things_in_front import find_things_in_front
from visualiser.rendering.wall_colour import repaint_wall
from visualiser.rendering.wall_mask import WallTap, _plain, find_wall_mask
from visualiser.survey.light import estimate_light

PAINT = "#4f6d7a"
ALBEDO = np.array([0.62, 0.58, 0.5])
LEAF = np.array([0.02, 0.07, 0.015])


def leaves(survey, shape, scale=8):
    """Share (H, W) of each pixel that nine thin leaves cover, and a pot on the floor.

    Drawn eight times as large and averaged, so that the shares are known to a hundredth.
    """
    big = np.zeros((shape[0] * scale, shape[1] * scale), np.uint8)

    def at(points):
        px = survey.to_photo(np.array(points, float))
        return np.round((px + 0.5) * scale - 0.5).astype(np.int32)

    for turn in np.linspace(-1.1, 1.1, 9):
        tip = [900 + 520 * np.sin(turn), 380 + 560 * np.cos(turn)]
        cv2.fillConvexPoly(big, at([[885, 380], tip, [925, 380]]), 255)
    cv2.fillConvexPoly(big, at([[800, 400], [1010, 400], [980, -60], [830, -60]]), 255)
    return cv2.resize(big, shape[::-1], interpolation=cv2.INTER_AREA)[..., None] / 255.0


@pytest.fixture(scope="module")
def room(oblique, painted):
    """Photo, light, mask, and by name where a glow, a shadow, a door and a plant are seen."""
    photo = painted(oblique, noise=0.004)
    light = estimate_light(photo, oblique)
    linear = to_linear(photo.pixels)
    gy, gx = np.mgrid[0 : photo.height_px, 0 : photo.width_px].astype(float)
    x, y = (oblique.to_wall(np.c_[gx.ravel(), gy.ravel()])).T.reshape(2, *gx.shape)
    warm = np.exp(-(((x + 300) / 260) ** 2 + ((y - 1900) / 260) ** 2))[..., None]
    linear = linear * (1 + warm * [0.9, 0.75, 0.5])
    dark = 0.75 * np.exp(-(((y - 1300) / 90) ** 2)) * (np.abs(x - 400) < 300)
    linear = linear * (1 - cv2.GaussianBlur(dark, (0, 0), 12))[..., None]
    across, up = np.abs(x - 1700), y - 100
    door = (across < 400) & (up > 0) & (up < 1950)
    line = door & ~((across < 385) & (up > 15) & (up < 1935))
    linear[line] *= 0.75
    bare = linear.copy()
    plant = leaves(oblique, gx.shape)
    linear = linear + plant * (LEAF - linear)
    seen = cv2.GaussianBlur(linear.astype(np.float32), (0, 0), 0.6)
    photo = replace(photo, pixels=to_pixels(seen))
    places = {
        "glow": warm[..., 0] > 0.5,
        "shadow": dark > 0.5,
        "door": (across < 370) & (up > 40) & (up < 1910),
        "plant": plant[..., 0],
        "bare": bare,
    }
    return photo, light, find_wall_mask(photo.pixels, oblique, light), places


@pytest.fixture(scope="module")
def repainted(room, oblique):
    photo, light, mask, _ = room
    pixels = photo.pixels.copy()
    share = repaint_wall(pixels, oblique, light, PAINT, mask)
    return pixels, share


@pytest.mark.parametrize("part", ["glow", "shadow"])
def test_a_lamps_glow_and_a_deep_shadow_are_repainted(room, repainted, part):
    photo, _, _, places = room
    seen = places[part]
    assert seen.sum() > 400
    wanted = to_linear(photo.pixels) * hex_to_linear(PAINT) / ALBEDO
    gap = np.log(np.maximum(to_linear(repainted[0]), 1e-3) / np.maximum(wanted, 1e-3))
    near = cv2.blur(np.abs(gap).max(axis=2).astype(np.float32), (5, 5)) < 0.12
    assert near[seen].mean() > 0.95


def test_a_door_of_the_walls_colour_stays(room, repainted):
    photo, _, _, places = room
    assert places["door"].sum() > 2000
    same = (repainted[0] == photo.pixels).all(axis=2)
    assert same[places["door"]].mean() > 0.97


def test_leaves_and_pot_are_not_painted(room):
    photo, _, mask, places = room
    covered = places["plant"] > 0.95
    assert covered.sum() > 1000
    assert (mask.share(photo.pixels)[covered] > 0.5).sum() == 0


def test_a_plant_is_found_to_stand_in_front(room):
    photo, _, mask, places = room
    things = find_things_in_front(photo.pixels, mask)
    drawn = np.full_like(photo.pixels, 20)
    things.put_before(drawn, photo.pixels)
    plant = places["plant"]
    kept = np.abs(drawn[plant > 0.97].astype(int) - photo.pixels[plant > 0.97]).max(axis=1)
    assert np.percentile(kept, 95) <= 8
    assert (drawn[places["glow"]] == 20).all()


def test_a_tap_adds_a_region_and_takes_one_away(room, oblique):
    photo, light, mask, places = room
    x, y = (float(np.median(axis)) for axis in np.nonzero(places["door"])[::-1])
    added = find_wall_mask(photo.pixels, oblique, light, taps=[WallTap(x, y, True)])
    at = round(y * mask.shrink), round(x * mask.shrink)
    assert not mask.wall[at]
    assert added.wall[at]
    assert added.wall.sum() - mask.wall.sum() > 0.8 * places["door"].sum() * mask.shrink**2
    assert mask.wall[round(photo.height_px * 0.2 * mask.shrink), at[1] // 3]
    away = [WallTap(x, y, True), WallTap(x, y, False)]
    assert not find_wall_mask(photo.pixels, oblique, light, taps=away).wall[at]


def test_a_pattern_is_not_painted(oblique, painted):
    photo = painted(oblique)
    light = estimate_light(photo, oblique)
    checks = 1 - 0.4 * (np.indices((photo.height_px, photo.width_px)).sum(axis=0) // 6 % 2)
    pixels = to_pixels((to_linear(photo.pixels) * checks[..., None]).astype(np.float32))
    assert find_wall_mask(pixels, oblique, light).covered < 0.3


def test_a_lamps_glow_is_no_pattern_and_bricks_are():
    """Courses of 75 mm (BS EN 771-1 work size 65 mm, joint 10) on a ring 700 mm across."""
    whole = np.ones((120, 120), bool)
    flat = np.ones((120, 120, 3), np.float32)
    y, x = np.mgrid[0:120, 0:120].astype(np.float32) * 700 / 120
    glow = np.exp(0.6 * np.exp(-(np.hypot(x + 60, y - 350) ** 2) / 300**2))[..., None]
    assert _plain(0.4 * flat * glow, 0.4 * flat, whole, whole)
    bricks = np.where(y % 75 < 10, 1.0, np.where((y // 75) % 2, 0.4, 0.6))[..., None]
    assert not _plain(0.4 * flat * bricks * glow, 0.4 * flat, whole, whole)


def test_rows_join_without_a_seam(room):
    photo, _, mask, _ = room
    whole = mask.share(photo.pixels)
    step = 1 / mask.shrink
    rows = [
        mask.matte.rows(photo.pixels[top : top + 100], top, step).share
        for top in range(0, photo.height_px, 100)
    ]
    assert np.concatenate(rows) == pytest.approx(whole, abs=1e-5)
