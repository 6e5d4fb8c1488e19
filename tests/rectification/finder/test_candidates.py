"""First outlines of things on drawn walls.

Which outlines are taken for one thing, and what they share.
"""

from itertools import islice

import numpy as np
import pytest

from tests.rectification.finder.test_model import PAPER, rectangle, scene
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.candidates import (
    REPEATS,
    _ladder,
    judge_outlines,
    patch_outlines,
)
from visualiser.rectification.finder.light_planes import light_planes
from visualiser.rectification.kinds import reference_kind

CARD = rectangle(85.6, 53.98, away_mm=650, turn_deg=0, yaw_deg=0)


def nearest(shapes, wall):
    planes = light_planes(scene(shapes, wall).pixels)
    quads = planes.to_photo(patch_outlines(planes))
    turns = [np.abs(np.roll(quads, turn, axis=1) - CARD).max(axis=(1, 2)) for turn in range(4)]
    return float(np.min(turns))


def test_a_blue_card_on_the_joint_of_red_bricks_has_an_outline_of_its_own():
    """Both are bluer than brick: only by how much, far beyond a card on paint, parts them."""
    middle, half = CARD.mean(axis=0), np.ptp(CARD, axis=0) / 2
    brick, joint = (190, 84, 48), (206, 190, 160)
    low, high = middle[1] - 0.8 * half[1], middle[1] - 0.4 * half[1]
    level = [[-50, low], [900, low], [900, high], [-50, high]]
    x = middle[0] + 0.1 * half[0]
    upright = [[x - 9, -50], [x + 9, -50], [x + 9, low], [x - 9, low]]
    shapes = [(level, joint), (upright, joint), (CARD, (62, 100, 132))]
    assert nearest(shapes, brick) < 3


@pytest.mark.parametrize("noise", [0.3, 0.5334, 0.8, 2.0])
def test_a_picture_of_nothing_but_grain_is_cut_at_a_few_levels(noise):
    """Where 1.5 sigmas are above the usual top, levels went down for ever and filled the memory."""
    plane = np.random.default_rng(2).normal(0, 2 * noise, (300, 400)).astype(np.float32)
    levels = list(islice(_ladder(plane, 1.5 * noise, 0.8), 200))
    assert len(levels) < 40
    assert (np.diff(levels) >= -1e-9).all()


def test_hatching_in_black_and_white_is_searched_in_no_time():
    """Stripes 2 px wide at full contrast: as grainy as a picture can be."""
    stripes = np.where(np.arange(400) // 2 % 2, 255, 0).astype(np.uint8)
    photo = Photo(np.ascontiguousarray(np.broadcast_to(stripes[:, None], (300, 400, 3))))
    planes = light_planes(photo.pixels)
    assert len(patch_outlines(planes)) < 5000


def test_all_outlines_of_a_field_of_a_board_are_as_common_as_the_field():
    """An outline that takes in some of the next field looks like no other; the field does."""
    fields = [
        (rectangle(120, 150, x_mm=120 * x, y_mm=150 * y, turn_deg=0), PAPER)
        for x in range(-4, 5)
        for y in range(-2, 3)
        if (x + y) % 2
    ]
    photo = scene(fields, (24, 22, 26))
    judged = judge_outlines(light_planes(photo.pixels), photo, reference_kind("216 x 279 mm"))
    corners = np.array([one.corners_px for one in judged])
    rare = np.array([one.votes["rare"] for one in judged])
    common = corners[rare < -3]
    assert len(common) > 5
    size = np.hypot(*np.ptp(corners, axis=1).T)
    near = np.abs(corners[:, None] - common).max(axis=(2, 3)).min(axis=1) < 0.5 * REPEATS * size
    assert rare[near].max() < 0
