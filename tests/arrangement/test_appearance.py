"""How groups look: worked by hand on layouts small enough to see."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from visualiser.arrangement.appearance import adrift, in_one_line, widest_void

GAP = 57.0


def corners(*boxes):
    """Lower left and upper right corners (1, N, 2) of boxes given as x, y, width, height."""
    b = np.array(boxes, np.float64)
    return b[None, :, :2], b[None, :, :2] + b[None, :, 2:]


GRID = [(x, y, 300, 300) for x in (0, 357) for y in (0, 357)]


@pytest.mark.parametrize(
    ("boxes", "side"),
    [
        (GRID, GAP),
        # Without a corner piece its cell and the gaps beside it are empty.
        (GRID[:3], 357),
        # Three by three without the middle: the cell and a gap on either side.
        ([(357 * i, 357 * j, 300, 300) for i in range(3) for j in range(3) if (i, j) != (1, 1)],
         300 + 2 * GAP),
        # A bay 100 deep and 300 wide is as broad as it is deep.
        ([(0, 0, 300, 400), (357, 0, 300, 300), (714, 0, 300, 400)], 100),
    ],
)  # fmt: skip
def test_the_widest_empty_place_is_measured_both_ways(boxes, side):
    assert widest_void(*corners(*boxes)) == pytest.approx(side)


def test_what_stands_in_an_empty_place_fills_it():
    """A thermostat of 90 in the middle cell of 300 leaves (414 - 90) / 2 on each side."""
    ring = [(357 * i, 357 * j, 300, 300) for i in range(3) for j in range(3) if (i, j) != (1, 1)]
    thermostat = np.array([[462.0, 462.0, 552.0, 552.0]])
    assert widest_void(*corners(*ring), thermostat) == pytest.approx(162)


@given(st.lists(st.tuples(*[st.integers(0, 900)] * 2, *[st.integers(50, 300)] * 2), min_size=2,
                max_size=7))  # fmt: skip
def test_a_turned_group_has_the_same_empty_place(boxes):
    low, high = corners(*boxes)
    side = widest_void(low, high)
    for signs in ((-1, 1), (1, -1), (-1, -1)):
        ends = low * signs, high * signs
        assert widest_void(np.minimum(*ends), np.maximum(*ends)) == pytest.approx(side)
    assert 0 <= side <= (high.max(axis=1) - low.min(axis=1)).min()


def test_a_small_frame_that_neighbours_hold_is_less_adrift_than_one_at_the_end():
    """One of 100 faces a neighbour along one side of four; between two it faces two."""
    at_end = corners((0, 0, 400, 400), (457, 150, 100, 100))
    share = 1 - 100**2 / ((400**2 + 100**2) / 2)
    assert adrift(*at_end, GAP) == pytest.approx(0.75 * share)
    between = corners((0, 0, 400, 400), (457, 150, 100, 100), (614, 0, 400, 400))
    share = 1 - 100**2 / ((2 * 400**2 + 100**2) / 3)
    assert adrift(*between, GAP) == pytest.approx(0.5 * share)


def test_equal_frames_are_never_adrift():
    assert adrift(*corners(*GRID[:3], (2000, 2000, 300, 300)), GAP) == 0


def test_a_row_and_a_column_are_lines_and_a_grid_is_none():
    row = corners((0, 0, 300, 400), (357, 50, 300, 300), (714, 0, 300, 400))
    assert in_one_line(*row).all()
    assert in_one_line(*(x[..., ::-1] for x in row)).all()
    assert not in_one_line(*corners(*GRID)).any()
