"""Edges that only their hue tells, in JPEGs as cameras write them.

JPEG codes 8 x 8 values a block (ITU-T T.81, A.1.3), and cameras keep hues at half the sharpness of
light (JFIF's 4:2:0), so that a block of hue is 16 px wide: a faint step sticks to its border.
"""

import io

import cv2
import numpy as np
import pytest
from PIL import Image

from visualiser import Photo
from visualiser.rectification.edges import SHARPEST_HUE_PX, sample_side

WIDTH, HEIGHT = 320, 260
WALL = np.array([206.0, 205.0, 200.0])


def hue_edge(x_px, lean_px, quality, seed, step):
    """An upright edge that leans by some px over 200, coded; samples, and errors in px: as a whole
    and at the lower end."""
    y, x = (np.mgrid[0 : 4 * HEIGHT, 0 : 4 * WIDTH] + 0.5) / 4 - 0.5
    beyond = (x > x_px + lean_px * (y - 130) / 200).astype(np.float32)
    beyond = cv2.resize(beyond, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(WALL + beyond[..., None] * np.array(step, float), (0, 0), 0.8)
    light += np.random.default_rng(seed).normal(0, 2.0, (HEIGHT, WIDTH, 1))
    coded = io.BytesIO()
    picture = Image.fromarray(np.clip(np.rint(light), 0, 255).astype(np.uint8))
    picture.save(coded, "JPEG", quality=quality, subsampling="4:2:0")
    photo = Photo(np.array(Image.open(coded).convert("RGB")))
    half = lean_px / 2
    samples = sample_side(photo, np.array([x_px - half, 30.0]), np.array([x_px + half, 230.0]))
    if not len(samples):
        return samples, np.nan, np.nan
    down = (samples.points_px[:, 1] - 130) / 100
    off = samples.points_px[:, 0] - (x_px + half * down)
    twist, whole = np.polyfit(down, off, 1)
    return samples, float(whole), float(twist)


@pytest.mark.parametrize(("quality", "step"), [(65, (0, -1, 4)), (80, (0, -1, 4))])
def test_what_is_stated_of_faint_hue_edges_is_how_far_off_they_are(quality, step):
    rng = np.random.default_rng(3)
    of_whole, of_twist, sharp = [], [], []
    for seed in range(40):
        samples, whole, twist = hue_edge(
            rng.uniform(150, 166), rng.uniform(-6, 6), quality, seed, step
        )
        if not len(samples):
            continue
        look = samples.look
        of_whole.append(whole / np.hypot(look.shared_sigma_px, look.wander_px))
        of_twist.append(twist / np.hypot(0.5 * look.shared_sigma_px, look.wander_px))
        sharp.append(look.blur_px < SHARPEST_HUE_PX)
    assert len(of_whole) >= 30
    assert np.sum(sharp) >= 10
    for share in (of_whole, of_twist):
        assert 0.5 < np.sqrt(np.mean(np.square(share))) < 1.2


def test_an_edge_on_a_border_of_blocks_is_not_believed_for_being_sharp():
    samples, _, twist = hue_edge(159.5, 6.0, 65, 1, (0, -1, 5))
    assert samples.look.blur_px < SHARPEST_HUE_PX
    assert abs(twist) > 2
    assert abs(twist) < 2.5 * samples.look.wander_px


def test_a_hue_edge_with_ample_contrast_is_told_well():
    samples, whole, twist = hue_edge(157.0, 3.0, 92, 1, (-1, -3, 18))
    assert samples.look.wander_px < 1.0
    assert max(abs(whole), abs(twist)) < 1.0
