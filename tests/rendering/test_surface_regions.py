"""What merges and what stays apart: a shaded vase, a dark wall after coding, a known edge."""

import cv2
import numpy as np
import pytest

from visualiser.photo.linear_light import to_linear
from visualiser.rendering.further_parts import strange_parts
from visualiser.rendering.surface_regions import RegionTree, merge_surfaces

HOME = (slice(10, 60), slice(10, 60))
OWN_STRENGTH = 3.5
"""The least strength at which a wall ends; see `wall_mask`."""


def tree_of(pixels, lines=None):
    calm = np.zeros(pixels.shape[:2], bool)
    calm[HOME] = True
    if lines is None:
        lines = np.zeros_like(calm)
    return merge_surfaces(to_linear(pixels), calm, lines)


def barrier(tree):
    """Strength (h, w) at which each pixel's patch joins the wall."""
    home = int(np.bincount(tree.patches[HOME].ravel()).argmax())
    return tree.barrier(home)[tree.patches]


def noisy(levels, seed=0, sigma=1.0):
    rng = np.random.default_rng(seed)
    return np.clip(np.round(levels + rng.normal(0, sigma, levels.shape)), 0, 255).astype(np.uint8)


def test_a_vase_lighter_than_the_wall_on_one_side_and_darker_on_the_other_stays_apart():
    y, x = np.mgrid[0:160, 0:200].astype(float)
    vase = ((x - 130) / 30) ** 2 + ((y - 90) / 45) ** 2 < 1
    levels = np.where(vase, 150 - (x - 130) * 0.9, 150)[..., None] * np.ones(3)
    strength = barrier(tree_of(noisy(levels)))
    assert np.median(strength[vase]) > 2 * OWN_STRENGTH
    assert np.percentile(strength[~vase], 90) < OWN_STRENGTH


def test_a_dark_wall_coded_in_blocks_is_one_surface():
    """Levels of ITU-T T.81 at a quality of 75, as cameras and messengers write them."""
    x = np.linspace(1.0, 0.6, 320)[None, :, None]
    levels = np.array([52.0, 66.0, 92.0]) * x * np.ones((240, 1, 1))
    # Noise of the sensor is there before the picture is coded, and is the larger in blue.
    seen = noisy(levels, sigma=2.0)
    coded = cv2.imencode(".jpg", seen[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 75])[1]
    pixels = np.ascontiguousarray(cv2.imdecode(coded, cv2.IMREAD_COLOR)[..., ::-1])
    strength = barrier(tree_of(pixels))
    assert (strength < 2 * OWN_STRENGTH).mean() > 0.97


@pytest.mark.parametrize("known", [False, True])
def test_a_known_edge_holds_where_the_step_alone_would_not(known):
    levels = np.full((160, 200, 3), 190.0)
    levels[:70] += 1.5
    lines = np.zeros((160, 200), bool)
    lines[69:71] = known
    strength = barrier(tree_of(noisy(levels), lines))
    assert (np.median(strength[90:]) > OWN_STRENGTH) == known


def test_a_dark_cushion_joined_to_the_wall_is_no_wall_and_its_shadow_is():
    """Drawn in linear light: a shadow keeps the wall's hue at 0.4 of its light."""
    wall = np.array([0.7, 0.5, 0.45], np.float32)
    seen = np.tile(wall, (60, 60, 1))
    patches = np.zeros((60, 60), np.int32)
    seen[10:20], patches[10:20] = 0.4 * wall, 1
    seen[40:50], patches[40:50] = (0.1, 0.14, 0.2), 2
    tree = RegionTree(patches, np.array([1.0]), np.zeros((1, 3), np.int32))
    whole = np.ones(patches.shape, bool)
    found = strange_parts(tree, 0.5, whole, seen, np.tile(wall, (60, 60, 1)))
    assert np.array_equal(found, patches == 2)
