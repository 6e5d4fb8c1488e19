"""Edges that a lens has bent are found where they are; the lens model is the reference."""

import cv2
import numpy as np
import pytest

from visualiser.photo.photo import Photo
from visualiser.rectification.lens import Lens
from visualiser.rectification.room_lines import find_room_lines

WIDTH, HEIGHT = 2048, 1536


def ceiling_through(lens):
    """Photo of a light ceiling over a dark wall, and the edge between them (N, 2), px."""
    x = np.linspace(-0.9, 0.9, 4001)
    edge = lens.to_pixels(np.c_[x, -0.4 + 0.04 * x])
    sub = 4
    outline = np.vstack([edge, [[WIDTH + 400, edge[-1, 1]], [WIDTH + 400, -400], [-400, -400]]])
    big = np.full((HEIGHT * sub, WIDTH * sub), 60, np.uint8)
    corners = np.rint((outline + 0.5) * sub - 0.5).astype(np.int32)
    cv2.fillPoly(big, [corners], 200)
    grey = cv2.resize(big, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    noise = np.random.default_rng(3).normal(0, 1.5, grey.shape)
    grey = cv2.GaussianBlur(grey, (0, 0), 0.9).astype(float) + noise
    pixels = np.repeat(np.clip(np.rint(grey), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return Photo(pixels), edge


@pytest.mark.parametrize("k1", [-0.08, -0.04, 0.0, 0.05])
def test_a_bent_ceiling_line_is_found(k1):
    photo, edge = ceiling_through(Lens(1600.0, (WIDTH - 1) / 2, (HEIGHT - 1) / 2, k1))
    lines = find_room_lines(photo)
    assert sum(line.length_px for line in lines) > 0.75 * WIDTH
    for line in lines:
        apart = np.linalg.norm(line.samples.points_px[:, None] - edge, axis=-1).min(axis=1)
        assert np.median(apart) < 0.5


def crossed(photo, at_px, first_px, every_px, wide_px):
    """Leaves of a wallpaper, little light and dark patches, across an edge at every so many px."""
    pixels, rng = photo.pixels.copy(), np.random.default_rng(2)
    for x in np.arange(first_px, WIDTH - wide_px, every_px):
        y = round(float(at_px(x + wide_px / 2)))
        leaves = rng.choice([70, 120, 190], (8, wide_px // 6)).astype(np.uint8)
        patch = cv2.resize(leaves, (wide_px, 48), interpolation=cv2.INTER_NEAREST)
        pixels[y - 24 : y + 24, int(x) : int(x) + wide_px] = patch[..., None]
    return Photo(cv2.GaussianBlur(pixels, (0, 0), 0.9))


def test_a_ceiling_line_crossed_by_leaves_over_half_its_length_is_found():
    photo, edge = ceiling_through(Lens(1600.0, (WIDTH - 1) / 2, (HEIGHT - 1) / 2, -0.02))
    leafy = crossed(photo, lambda x: np.interp(x, *edge.T), 60.0, 260.0, 144)
    longest = find_room_lines(leafy)[0]
    assert longest.length_px > 0.6 * WIDTH
    apart = np.linalg.norm(longest.samples.points_px[:, None] - edge, axis=-1).min(axis=1)
    assert np.median(apart) < 0.5


def test_patches_in_a_row_are_no_edge():
    plain = np.full((HEIGHT, WIDTH, 3), 120, np.uint8)
    plain = plain + np.random.default_rng(1).normal(0, 1.5, plain.shape)
    photo = Photo(np.clip(plain, 0, 255).astype(np.uint8))
    assert find_room_lines(crossed(photo, lambda x: 500.0, 60.0, 120.0, 48)) == []
