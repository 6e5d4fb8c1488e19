"""Gaps counted by hand."""

import numpy as np
import pytest

from visualiser.arrangement.measures import measure

GAP = 50.0


def gap_error(boxes):
    """Of one layout of pieces given as left, right, bottom, top."""
    left, right, bottom, top = np.array(boxes, dtype=float).T
    centres = np.column_stack([left + right, bottom + top])[None] / 2
    sizes = np.column_stack([right - left, top - bottom])
    return float(measure(centres, sizes, np.ones(len(boxes)), GAP).gap_error[0])


def test_even_gaps_have_no_error():
    assert gap_error([(0, 400, 0, 300), (450, 850, 0, 300), (0, 400, 350, 650)]) == 0


def test_an_opening_beside_a_nearer_neighbour_counts():
    """A wide piece over two: one gap above the left one, three above the right one.

    Three pairs face each other, at 50, 50 and 150 mm: departures 0, 0 and, cut off at a gap, 1.
    """
    two_heights = [(0, 850, 400, 700), (0, 400, 50, 350), (450, 850, -50, 250)]
    assert gap_error(two_heights) == pytest.approx(1 / 3)


def test_what_is_farther_off_than_gaps_are_seen_counts_once_a_side():
    """Two columns of two, 600 mm apart: four sides that look across, four at one gap."""
    apart = [(0, 300, 0, 300), (900, 1200, 0, 300), (0, 300, 350, 650), (900, 1200, 350, 650)]
    assert gap_error(apart) == pytest.approx(4 / (4 + 4))


def test_nobody_is_a_neighbour_through_a_third():
    """In a row of three narrow ones the outer two do not see each other."""
    assert gap_error([(0, 130, 0, 200), (180, 310, 0, 200), (360, 490, 0, 200)]) == 0
