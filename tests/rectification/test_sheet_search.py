"""Which outlines are taken for one thing, and what they share."""

import numpy as np

from tests.rectification.test_sheet import PAPER, rectangle, scene
from visualiser.rectification.kinds import reference_size
from visualiser.rectification.light_planes import light_planes
from visualiser.rectification.sheet_search import REPEATS, judge_sheets


def test_all_outlines_of_a_field_of_a_board_are_as_common_as_the_field():
    """An outline that takes in some of the next field looks like no other; the field does."""
    fields = [
        (rectangle(120, 150, x_mm=120 * x, y_mm=150 * y, turn_deg=0), PAPER)
        for x in range(-4, 5)
        for y in range(-2, 3)
        if (x + y) % 2
    ]
    photo = scene(fields, (24, 22, 26))
    judged = judge_sheets(light_planes(photo.pixels), photo, reference_size("letter"))
    corners = np.array([one.corners_px for one in judged])
    rare = np.array([one.votes["rare"] for one in judged])
    common = corners[rare < -3]
    assert len(common) > 5
    size = np.hypot(*np.ptp(corners, axis=1).T)
    near = np.abs(corners[:, None] - common).max(axis=(2, 3)).min(axis=1) < 0.5 * REPEATS * size
    assert rare[near].max() < 0
