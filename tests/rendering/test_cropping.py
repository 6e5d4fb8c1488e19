import numpy as np
import pytest

from visualiser.rendering.cropping import cropped_to_group
from visualiser.rendering.mockup import Mockup


def test_the_crop_holds_the_group_and_its_margin():
    picture = np.random.default_rng(1).integers(0, 256, (300, 400, 3), dtype=np.uint8)
    corners = np.array([[120.0, 90], [220, 95], [218, 170], [121, 168]])
    cropped = cropped_to_group(Mockup(picture, {"a": corners}), margin=0.2)
    height, width = cropped.pixels.shape[:2]
    assert width == pytest.approx(1.4 * 100, abs=3)
    assert height == pytest.approx(80 + 0.4 * 100, abs=3)
    x, y = cropped.corners_px["a"][0].astype(int)
    assert np.array_equal(cropped.pixels[y, x], picture[90, 120])


def test_a_group_beyond_the_photo_is_cut_at_its_edge():
    picture = np.zeros((100, 100, 3), np.uint8)
    beside = np.array([[150.0, 10], [180, 10], [180, 40], [150, 40]])
    assert cropped_to_group(Mockup(picture, {"a": beside})).pixels.shape == (100, 100, 3)
    assert cropped_to_group(Mockup(picture, {})).pixels.shape == (100, 100, 3)
