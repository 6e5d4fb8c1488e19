"""Grids of pixels, against OpenCV's own resizing and values computed everywhere."""

import cv2
import numpy as np
import pytest

from visualiser.raster import interpolated, node_places, resized_px


@pytest.mark.parametrize("factor", [0.25, 0.5, 2.0, 4.0])
def test_a_place_stays_where_it_is_in_a_resized_picture(factor):
    """OpenCV's resize keeps a ramp's values at their places; away from the rim it is exact."""
    size = 64
    ramp = np.tile(np.arange(size, dtype=np.float32), (size, 1))
    other = cv2.resize(ramp, None, fx=factor, fy=factor, interpolation=cv2.INTER_LINEAR)
    for x in (16.0, 31.5, 40.0):
        there = resized_px(x, factor)
        seen = np.interp(there, np.arange(other.shape[1]), other[other.shape[0] // 2])
        assert seen == pytest.approx(x, abs=1e-4)
    back = resized_px(resized_px([[3.0, 7.0]], factor), 1 / factor)
    assert np.allclose(back, [[3.0, 7.0]])


@pytest.mark.parametrize(("width", "height", "step"), [(33, 17, 8), (5, 64, 4), (8, 8, 8)])
def test_what_is_linear_is_filled_in_exactly(width, height, step):
    x, y = np.meshgrid(node_places(width, step), node_places(height, step))
    full_x, full_y = np.meshgrid(np.arange(width), np.arange(height))
    nodes = np.stack([3.0 * x - 2.0 * y, x + 0.5 * y], axis=-1)
    filled = interpolated(nodes, step, width, height)
    assert filled.shape == (height, width, 2)
    assert np.allclose(filled[..., 0], 3.0 * full_x - 2.0 * full_y, atol=1e-3)
    assert np.allclose(filled[..., 1], full_x + 0.5 * full_y, atol=1e-3)
