"""One row on a level line, of which some are two pieces stacked; and order in rows by design."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.arrangement.mixed_sizes import SIDES, laid_out, setting_of
from visualiser.arrangement.families.stacked_row import STACKED_ROW
from visualiser.arrangement.measures import MeasuringContext
from visualiser.arrangement.scoring import score_layouts


def parts_of(boxes):
    """Pieces that lie above one another, from left to right: plumb lines drawn through each."""
    left = sorted(range(len(boxes)), key=lambda k: (boxes[k, 0] + boxes[k, 2]) / 2)
    parts = []
    for k in left:
        if parts and boxes[k, 0] < max(boxes[j, 2] for j in parts[-1]):
            parts[-1].append(k)
        else:
            parts.append([k])
    return parts


@settings(max_examples=20)
@given(st.lists(st.tuples(SIDES, SIDES), min_size=4, max_size=9))
def test_parts_hang_on_one_level_line_a_gap_apart_and_stacks_hold_two(sides):
    setting, groups = laid_out(STACKED_ROW, sides)
    for centres in groups:
        boxes = setting.boxes(centres)
        parts = parts_of(boxes)
        assert sorted(k for part in parts for k in part) == list(range(len(sides)))
        assert max(map(len, parts)) == 2
        low = [boxes[part, 1].min() for part in parts]
        high = [boxes[part, 3].max() for part in parts]
        np.testing.assert_allclose((np.array(low) + high) / 2, 0.0, atol=1e-6)
        ends = [(boxes[part, 0].min(), boxes[part, 2].max()) for part in parts]
        between = [b[0] - a[1] for a, b in pairwise(ends)]
        np.testing.assert_allclose(between, setting.gap_mm, atol=1e-6)
        for part in parts:
            if len(part) == 2:
                below, above = sorted(part, key=lambda k: boxes[k, 1])
                assert 50 - 1e-6 <= boxes[above, 1] - boxes[below, 3] <= 75 + 1e-6
                assert setting.masses[below] >= setting.masses[above] - 1e-9
                assert np.ptp(setting.sizes[part, 0]) <= 0.2 * setting.sizes[part, 0].max() + 1e-9


def test_two_small_ones_stack_to_the_height_of_the_large_one():
    """Worked: 222 + 222 with the usual gap of 57 is 501, and 56 makes it 500."""
    setting, groups = laid_out(
        STACKED_ROW, [(400, 500), (300, 222), (300, 222), (300, 222), (300, 222)]
    )
    boxes = setting.boxes(groups[0])
    wide = boxes[:, 2].max() - boxes[:, 0].min()
    assert wide == pytest.approx(400 + 2 * 300 + 2 * 57)
    assert boxes[:, 3].max() - boxes[:, 1].min() == pytest.approx(500)
    assert np.ptp([boxes[part, 3].max() for part in parts_of(boxes)]) == pytest.approx(0, abs=1e-6)


def test_sizes_without_two_of_like_width_make_no_stacks():
    assert laid_out(STACKED_ROW, [(200, 300), (300, 300), (420, 300), (600, 300)])[1] == []


def like_sizes(kind, sides, centres):
    setting = setting_of(sides)
    # The setting sorts its pieces; find each by its id.
    order = [int(piece.id[1:]) for piece in setting.pieces]
    stack = np.array([[centres[k] for k in order]], float)
    scores = score_layouts(stack, setting, context=MeasuringContext(kind=kind))
    return float(scores.terms["like sizes"][0])


def rows_of(upper, lower, width=300.0, gap=57.0):
    """Give sizes and centres of two rows of given heights about the height 1500."""
    sides, centres = [], []
    for heights, way in ((upper, 1), (lower, -1)):
        for k, height in enumerate(heights):
            sides.append((width, height))
            centres.append((1000 + k * (width + gap), 1500 + way * (gap + height) / 2))
    return sides, centres


def test_each_of_two_rows_is_in_order_or_not():
    """By hand: a row the same from both ends is; one that is not counts its dips as well."""
    arc = like_sizes("rows", *rows_of([300, 400, 500, 400, 300], [400] * 5))
    assert arc == pytest.approx(1.0)
    uneven = like_sizes("rows", *rows_of([500, 300, 400, 300, 300], [400] * 5))
    # Ends differ by 200, 0, 0, 0, 200: 80 on average; the 300 before 400 dips by 100; of 500.
    assert uneven == pytest.approx((1 - (80 / 500 + 100 / 500) / 0.5 + 1) / 2)


def test_a_stack_counts_by_its_whole_height():
    """Two of 222 with 56 between are as tall as 500: nothing is out of order."""
    sides = [(300, 222), (300, 222), (400, 500), (300, 222), (300, 222)]
    centres = [(0, 1361), (0, 1639), (407, 1500), (814, 1361), (814, 1639)]
    assert like_sizes("stacked row", sides, centres) == pytest.approx(1.0, abs=1e-6)
    # A single one of 222 at one end instead: 278 lower than its other end, of 500.
    unlike = like_sizes("stacked row", sides[:4], [*centres[:3], (814, 1500)])
    like = 222 / 500 / 0.6
    assert unlike == pytest.approx(like * (1 - (2 * 278 / 3 / 500) / 0.5))
