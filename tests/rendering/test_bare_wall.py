"""Painted rooms whose wall is known: a glow, a shadow, and a door of the wall's own colour."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from visualiser.colour.colorimetry import hex_to_linear
from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.rendering.bare_wall import find_bare_wall
from visualiser.rendering.wall_colour import repaint_wall
from visualiser.survey.light import estimate_light

PAINT = "#4f6d7a"
ALBEDO = np.array([0.62, 0.58, 0.5])


@pytest.fixture(scope="module")
def room(oblique, painted):
    """Photo, light, and by name the masks of a lamp's glow, a soft shadow and a closed door."""
    photo = painted(oblique, noise=0.004)
    light = estimate_light(photo, oblique)
    linear = to_linear(photo.pixels)
    gy, gx = np.mgrid[0 : photo.height_px, 0 : photo.width_px].astype(float)
    x, y = (oblique.to_wall(np.c_[gx.ravel(), gy.ravel()])).T.reshape(2, *gx.shape)
    warm = np.exp(-(((x + 300) / 260) ** 2 + ((y - 1900) / 260) ** 2))[..., None]
    linear = linear * (1 + warm * [0.9, 0.75, 0.5])
    dark = 0.75 * np.exp(-(((y - 700) / 90) ** 2)) * (np.abs(x - 400) < 500)
    linear = linear * (1 - cv2.GaussianBlur(dark, (0, 0), 12))[..., None]
    across, up = np.abs(x - 1700), y - 100
    door = (across < 400) & (up > 0) & (up < 1950)
    line = door & ~((across < 385) & (up > 15) & (up < 1935))
    linear[line] *= 0.75
    photo = replace(
        photo, pixels=to_pixels(cv2.GaussianBlur(linear.astype(np.float32), (0, 0), 0.6))
    )
    masks = {
        "glow": warm[..., 0] > 0.5,
        "shadow": dark > 0.5,
        "door": (across < 370) & (up > 40) & (up < 1910),
    }
    return photo, light, masks


def repainted(photo, survey, light):
    pixels = photo.pixels.copy()
    repaint_wall(pixels, survey, light, PAINT)
    wanted = to_linear(photo.pixels) * hex_to_linear(PAINT) / ALBEDO
    gap = np.abs(np.log(np.maximum(to_linear(pixels), 1e-3) / np.maximum(wanted, 1e-3))).max(axis=2)
    return cv2.blur(gap.astype(np.float32), (5, 5)) < 0.12


@pytest.mark.parametrize("part", ["glow", "shadow"])
def test_a_lamps_glow_and_a_deep_shadow_are_repainted(room, oblique, part):
    photo, light, masks = room
    seen = masks[part]
    assert seen.sum() > 400
    assert repainted(photo, oblique, light)[seen].mean() > 0.95


def test_a_door_of_the_walls_colour_stays(room, oblique):
    photo, light, masks = room
    pixels = photo.pixels.copy()
    repaint_wall(pixels, oblique, light, PAINT)
    seen = masks["door"]
    assert seen.sum() > 2000
    assert (pixels == photo.pixels).all(axis=2)[seen].mean() > 0.97


def test_a_patterned_wall_is_taken_whole(oblique, painted):
    photo = painted(oblique)
    light = estimate_light(photo, oblique)
    checks = 1 - 0.4 * (np.indices((photo.height_px, photo.width_px)).sum(axis=0) // 6 % 2)
    pixels = to_pixels((to_linear(photo.pixels) * checks[..., None]).astype(np.float32))
    bare = find_bare_wall(pixels, oblique, light)
    assert np.array_equal(bare.share, bare.usable)
    assert not bare.glow.any()


def test_rows_join_without_a_seam(room, oblique):
    photo, light, _ = room
    bare = find_bare_wall(photo.pixels, oblique, light)
    whole = bare.rows(0, photo.height_px, photo.width_px)
    strips = [bare.rows(top, 100, photo.width_px) for top in range(0, photo.height_px, 100)]
    for full, parts in zip(whole, zip(*strips, strict=True), strict=True):
        assert np.concatenate(parts) == pytest.approx(full, abs=1e-5)
