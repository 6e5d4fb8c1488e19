"""Three rows of mixed sizes, the middle one of like heights."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.arrangement.mixed_sizes import SIDES, laid_out
from visualiser.arrangement.families.three_rows import THREE_ROWS


def rows_of(boxes):
    """Lower, middle and upper row: the middle one is what a level line at height 0 meets."""
    middle = (boxes[:, 1] < 0) & (boxes[:, 3] > 0)
    return boxes[boxes[:, 3] < 0], boxes[middle], boxes[boxes[:, 1] > 0]


@settings(max_examples=20)
@given(st.lists(st.tuples(SIDES, SIDES), min_size=7, max_size=10))
def test_rows_meet_the_middle_one_along_level_lines(sides):
    setting, groups = laid_out(THREE_ROWS, sides)
    gap, most = setting.gap_mm, setting.guidelines.gap_max_mm
    for centres in groups:
        boxes = setting.boxes(centres)
        lower, middle, upper = rows_of(boxes)
        assert len(lower) + len(middle) + len(upper) == len(sides)
        assert min(map(len, (lower, middle, upper))) >= 2
        tall = middle[:, 3] - middle[:, 1]
        assert tall.min() >= 0.85 * tall.max() - 1e-9
        np.testing.assert_allclose(middle[:, 1] + middle[:, 3], 0.0, atol=1e-9)
        np.testing.assert_allclose(upper[:, 1], tall.max() / 2 + gap, atol=1e-9)
        np.testing.assert_allclose(lower[:, 3], -tall.max() / 2 - gap, atol=1e-9)
        lengths = []
        for row in (lower, middle, upper):
            ordered = row[np.argsort(row[:, 0])]
            gaps = ordered[1:, 0] - ordered[:-1, 2]
            assert np.ptp(gaps) < 1e-6
            assert gap - 1e-6 <= gaps.min() <= gaps.max() <= most + 1e-6
            lengths.append(ordered[-1, 2] - ordered[0, 0])
            assert ordered[0, 0] + ordered[-1, 2] == pytest.approx(0, abs=1e-6)
        assert lengths[1] >= max(lengths) - gap - 1e-6
        heavy = [setting.masses[(boxes[:, None] == row).all(axis=2).any(axis=1)].sum()
                 for row in (lower, upper)]  # fmt: skip
        assert heavy[0] >= heavy[1] - 1e-6


def test_rows_of_one_length_are_found():
    """Worked: 3 of 300 over 3 of 300 over 3 of 300 with two gaps of 57 each are 1014 long."""
    sides = [(300, 250)] * 3 + [(300, 500)] * 3 + [(300, 400)] * 3
    setting, groups = laid_out(THREE_ROWS, sides)
    boxes = setting.boxes(groups[0])
    lower, middle, upper = rows_of(boxes)
    for row in (lower, middle, upper):
        assert row[:, 2].max() - row[:, 0].min() == pytest.approx(1014)
        assert np.ptp(row[:, 3] - row[:, 1]) == 0
    assert (lower[0, 3] - lower[0, 1]) >= (upper[0, 3] - upper[0, 1])
