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
