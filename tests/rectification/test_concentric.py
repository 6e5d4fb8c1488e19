"""Prints in mats and mouldings lie in the middle of something; sheets on walls do not."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from visualiser.rectification.concentric import lies_in_the_middle

INNER = np.array([[100.0, 100.0], [160.0, 102.0], [158.0, 185.0], [99.0, 182.0]])


def grown(quad, share):
    """The same figure about its middle, larger by a share."""
    middle = quad.mean(axis=0)
    return middle + (1 + share) * (quad - middle)


def in_the_middle(outer, sigma_px=0.5):
    return lies_in_the_middle(INNER, np.array([INNER, outer]), sigma_px)


def test_a_print_in_a_mat():
    assert in_the_middle(grown(INNER, 0.5))


def test_a_mat_weighted_at_the_bottom_still_counts():
    weighted = grown(INNER, 0.5) + [0.0, 2.0]
    assert in_the_middle(weighted)


def test_a_sheet_taped_off_the_middle_of_a_door_does_not():
    assert not in_the_middle(grown(INNER, 1.0) + [12.0, 0.0])
    assert not in_the_middle(grown(INNER, 1.0) + [0.0, -20.0])


def test_nor_one_taped_askew():
    c, s = np.cos(np.radians(6)), np.sin(np.radians(6))
    middle = INNER.mean(axis=0)
    turned = (grown(INNER, 0.6) - middle) @ np.array([[c, s], [-s, c]]) + middle
    assert not in_the_middle(turned)


def test_the_same_edge_found_twice_encloses_nothing():
    assert not in_the_middle(grown(INNER, 0.05))


def test_nothing_lies_in_the_middle_of_nothing():
    assert not lies_in_the_middle(INNER, np.empty((0, 4, 2)), 0.5)


@given(st.floats(0.3, 1.2), st.floats(0, 2 * np.pi), st.floats(0.5, 4.0))
def test_only_the_inner_one_of_two(share, turn, scale):
    c, s = np.cos(turn) * scale, np.sin(turn) * scale
    inner, outer = np.array([INNER, grown(INNER, share)]) @ np.array([[c, s], [-s, c]])
    assert lies_in_the_middle(inner, outer[None], 0.5)
    assert not lies_in_the_middle(outer, inner[None], 0.5)
