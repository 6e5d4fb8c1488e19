"""Order, area and convexity of quadrilaterals."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from visualiser.rectification.quadrilaterals import (
    clockwise,
    is_convex,
    side_lengths,
    signed_area,
)

SQUARE = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
turns = st.integers(0, 3)


def test_area_and_sides_of_a_square():
    assert signed_area(SQUARE) == 4
    assert signed_area(SQUARE[::-1]) == -4
    assert (side_lengths(np.stack([SQUARE, 3 * SQUARE])) == [[2] * 4, [6] * 4]).all()


@given(turns, st.booleans(), st.floats(-40, 40))
def test_any_order_of_corners_comes_out_the_same(turn, backwards, tilt_deg):
    c, s = np.cos(np.radians(tilt_deg)), np.sin(np.radians(tilt_deg))
    quad = SQUARE @ np.array([[c, s], [-s, c]])
    shuffled = np.roll(quad[::-1] if backwards else quad, turn, axis=0)
    assert np.allclose(clockwise(shuffled), quad)
    assert (clockwise(np.stack([shuffled, SQUARE]))[1] == SQUARE).all()


def test_darts_and_bow_ties_are_not_convex():
    dart = np.array([[0.0, 0], [4, 0], [1, 1], [0, 4]])
    bow_tie = SQUARE[[0, 2, 1, 3]]
    assert is_convex(np.stack([SQUARE, dart, bow_tie])).tolist() == [True, False, False]
