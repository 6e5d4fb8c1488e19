"""Tape over a sheet's corners or the middle of its top edge, and what only looks like it."""

import cv2
import numpy as np
import pytest

from visualiser import Photo
from visualiser.photo.linear_light import decode_srgb, encode_srgb
from visualiser.rectification.finder.tape import is_taped

A4 = (210.0, 297.0)
PX_PER_MM = 0.6
CORNERS = np.array([[300.0, 220.0], [426.0, 226.0], [420.0, 400.0], [297.0, 398.0]])
NAVY, CREAM, PAPER = (44, 58, 88), (214, 204, 184), (232, 235, 240)
BEIGE, BLUE = (214, 186, 132), (120, 160, 205)


def strip(middle, angle_deg, long_mm=52.0, wide_mm=19.0):
    """Corners (4, 2) of a strip of masking tape, 19 or 25 mm wide (common practice, no source)."""
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [long_mm / 2, wide_mm / 2]
    return np.array(middle) + half * PX_PER_MM @ np.array([[c, s], [-s, c]])


def photo_of(wall, shapes, grain=2.0):
    pixels = np.full((640, 800, 3), wall, np.uint8)
    for corners, rgb in shapes:
        cv2.fillConvexPoly(pixels, np.round(corners * 64).astype(np.int32), rgb, cv2.LINE_AA, 6)
    light = cv2.GaussianBlur(pixels.astype(np.float32), (0, 0), 0.9)
    light += np.random.default_rng(7).normal(0, grain, light.shape)
    return Photo(np.clip(np.round(light), 0, 255).astype(np.uint8))


def at_corners(rgb, which=range(4)):
    return [(strip(CORNERS[i], (-45, 45, -45, 45)[i]), rgb) for i in which]


@pytest.mark.parametrize("wall", [NAVY, CREAM])
@pytest.mark.parametrize("rgb", [BEIGE, BLUE])
def test_strips_at_the_corners_or_one_at_the_top(wall, rgb):
    sheet = (CORNERS, PAPER)
    assert is_taped(photo_of(wall, [sheet, *at_corners(rgb)]), CORNERS, A4)
    assert is_taped(photo_of(wall, [sheet, *at_corners(rgb, (0, 1))]), CORNERS, A4)
    top = (strip((CORNERS[0] + CORNERS[1]) / 2, 86), rgb)
    assert is_taped(photo_of(wall, [sheet, top]), CORNERS, A4)


def test_a_bare_sheet_and_one_patch_at_a_corner_are_not():
    sheet = (CORNERS, PAPER)
    assert not is_taped(photo_of(NAVY, [sheet]), CORNERS, A4)
    assert not is_taped(photo_of(CREAM, [sheet]), CORNERS, A4)
    assert not is_taped(photo_of(NAVY, [sheet, *at_corners(BEIGE, (2,))]), CORNERS, A4)


def test_a_pattern_behind_a_sheet_ends_at_its_edge():
    """Motifs of a wallpaper as large as tape, at each corner and over the top."""
    motifs = [*at_corners(BEIGE), (strip((CORNERS[0] + CORNERS[1]) / 2, 86), BEIGE)]
    assert not is_taped(photo_of(CREAM, [*motifs, (CORNERS, PAPER)]), CORNERS, A4)


def test_prints_mouldings_and_stripes_are_no_tape():
    middle = CORNERS.mean(axis=0)
    frame = [(middle + 1.12 * (CORNERS - middle), (138, 106, 69)), (CORNERS, PAPER)]
    printed = [(middle + 0.7 * (CORNERS - middle), BLUE)]
    assert not is_taped(photo_of(CREAM, [*frame, *printed]), CORNERS, A4)
    stripes = [
        (np.array([[x, 0], [x + 12, 0], [x + 12, 640], [x, 640]], float), BLUE)
        for x in range(0, 800, 24)
    ]
    assert not is_taped(photo_of(CREAM, [*stripes, (CORNERS, PAPER)]), CORNERS, A4)


def striped(colours, shapes, exposure):
    """A wallpaper of stripes, in a photo taken at a share of the usual exposure."""
    stripes = [
        (np.array([[x, 0], [x + 14, 0], [x + 14, 640], [x, 640]], float), colours[i % len(colours)])
        for i, x in enumerate(range(0, 800, 14))
    ]
    pixels = photo_of(CREAM, [*stripes, *shapes], grain=0.0).pixels
    light = encode_srgb(decode_srgb(pixels) * exposure) * 255
    noise = np.random.default_rng(3).normal(0, 2.0, light.shape)
    return Photo(np.clip(np.round(light + noise), 0, 255).astype(np.uint8))


@pytest.mark.parametrize("exposure", [1.0, 0.12])
def test_tape_is_told_from_the_stripes_that_it_lies_on(exposure):
    """Stripes darker, paler and browner than paper; the tape is bluer than any."""
    wallpaper = (CREAM, (60, 90, 98), CREAM, (120, 84, 60))
    sheet = (CORNERS, PAPER)
    taped = striped(wallpaper, [sheet, *at_corners(BLUE)], exposure)
    assert is_taped(taped, CORNERS, A4)
    assert not is_taped(striped(wallpaper, [sheet], exposure), CORNERS, A4)


def test_a_thin_stripe_of_the_wall_that_ends_at_the_tape_is_not_taken_for_it():
    """Pin stripes are 2 to 8 mm wide, masking tape 12 mm and more (common practice, no source)."""
    pins = [
        (np.array([[x, 0], [x + 4, 0], [x + 4, 640], [x, 640]], float), (96, 116, 84))
        for x in (288, 354, 438)
    ]
    sheet = (CORNERS, PAPER)
    assert is_taped(photo_of(CREAM, [*pins, sheet, *at_corners(BEIGE)]), CORNERS, A4)
    assert not is_taped(photo_of(CREAM, [*pins, sheet]), CORNERS, A4)


def test_it_is_not_known_past_the_photos_rim():
    shifted = CORNERS - [290.0, 200.0]
    photo = photo_of(NAVY, [(shifted, PAPER)])
    assert not is_taped(photo, shifted, A4)
