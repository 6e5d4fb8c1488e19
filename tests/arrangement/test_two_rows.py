"""Two rows of mixed sizes either side of a level line."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.arrangement.mixed_sizes import SIDES, laid_out
from visualiser.arrangement.families.two_rows import TWO_ROWS


@settings(max_examples=20)
@given(st.lists(st.tuples(SIDES, SIDES), min_size=5, max_size=9))
def test_both_rows_meet_at_the_line_and_the_lower_weighs_more(sides):
    setting, groups = laid_out(TWO_ROWS, sides)
    gap = setting.gap_mm
    for centres in groups:
        boxes = setting.boxes(centres)
        upper = boxes[:, 1] > 0
        np.testing.assert_allclose(boxes[upper, 1], gap / 2, atol=1e-9)
        np.testing.assert_allclose(boxes[~upper, 3], -gap / 2, atol=1e-9)
        assert setting.masses[upper].sum() <= setting.masses[~upper].sum() + 1e-6
        for row in (boxes[upper], boxes[~upper]):
            row = row[np.argsort(row[:, 0])]
            gaps = row[1:, 0] - row[:-1, 2]
            assert np.ptp(gaps) < 1e-6
            assert gaps.min() >= gap - 1e-6
            assert gaps.max() <= 75.0 + 1e-6


def test_rows_of_one_length_are_found():
    """Worked: 600 + 400 over 500 + 500 with two gaps of 57; 300 x 400 fills either row up."""
    setting, groups = laid_out(
        TWO_ROWS, [(600, 400), (400, 400), (300, 400), (500, 500), (500, 500), (300, 500)]
    )
    boxes = setting.boxes(groups[0])
    upper = boxes[:, 1] > 0
    wide = [np.ptp([b[:, 0].min(), b[:, 2].max()]) for b in (boxes[upper], boxes[~upper])]
    assert wide == pytest.approx([1300 + 2 * 57] * 2)
    assert np.ptp(boxes[upper, 3]) == np.ptp(boxes[~upper, 1]) == 0
