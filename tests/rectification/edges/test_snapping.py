"""Marks let go near drawn edges, whose places we know, are put on them."""

import cv2
import numpy as np
import pytest

from visualiser.photo.photo import Photo
from visualiser.rectification.edges.snapping import snapped_corners, snapped_line

BOX = np.array([[300.3, 250.6], [820.7, 270.2], [790.4, 700.9], [310.8, 690.1]])


@pytest.fixture(scope="module")
def photo():
    """A light quadrilateral on a darker wall, eight times finer than its pixels; slight noise."""
    fine = np.full((900 * 8, 1200 * 8), 110, np.uint8)
    cv2.fillPoly(fine, [np.rint((BOX + 0.5) * 8 - 0.5).astype(np.int32)], 205)
    grey = cv2.GaussianBlur(
        cv2.resize(fine, (1200, 900), interpolation=cv2.INTER_AREA), (0, 0), 0.8
    )
    noisy = grey + np.random.default_rng(5).normal(0, 1.5, grey.shape)
    return Photo(np.dstack([np.clip(np.rint(noisy), 0, 255).astype(np.uint8)] * 3))


def off(points, truth):
    return np.hypot(*(np.asarray(points) - truth).T)


def test_corners_let_go_three_pixels_off_are_put_where_the_edges_meet(photo):
    hand = BOX + np.array([[2, 2], [-2, 3], [-3, -1], [1, -3]])
    snapped = snapped_corners(photo, hand, [0, 1, 2, 3])
    assert off(hand, BOX).min() > 2.5
    assert off(snapped, BOX).max() < 0.3


def test_corners_that_were_not_moved_stay(photo):
    hand = BOX + np.array([[2, 2], [0, 0.4], [0, 0], [0.3, 0]])
    snapped = snapped_corners(photo, hand, [0])
    assert off(snapped[:1], BOX[:1]).max() < 0.6  # its neighbours are a little off, and bear on it
    np.testing.assert_array_equal(snapped[1:], hand[1:])


def test_a_line_is_put_on_its_edge_and_keeps_its_length(photo):
    along = BOX[1] - BOX[0]
    ends = BOX[0] + np.array([[0.1], [0.9]]) * along
    hand = ends + [[0.0, 3.0], [0.0, -2.0]]
    snapped = snapped_line(photo, hand)
    across = np.array([-along[1], along[0]]) / np.hypot(*along)
    # The outline is drawn on a grid of 1/8 px, its border included: 1/16 px of each.
    assert np.abs((snapped - ends) @ across).max() < 0.16
    assert np.abs(snapped - hand)[:, 0].max() < 0.5


@pytest.mark.parametrize("shift", [(30, 30), (-40, 20)])
def test_out_of_reach_of_an_edge_the_hands_place_stays(photo, shift):
    hand = BOX + shift
    np.testing.assert_array_equal(snapped_corners(photo, hand, [0, 1, 2, 3]), hand)
    np.testing.assert_array_equal(snapped_line(photo, hand[:2]), hand[:2])


def test_on_a_bare_wall_nothing_snaps():
    grey = 120 + np.random.default_rng(1).normal(0, 2, (900, 1200))
    bare = Photo(np.dstack([np.rint(grey).astype(np.uint8)] * 3))
    np.testing.assert_array_equal(snapped_corners(bare, BOX, [0, 2]), BOX)
    np.testing.assert_array_equal(snapped_line(bare, BOX[:2]), BOX[:2])


def test_outlines_at_the_photos_border_and_tiny_ones_stay_finite(photo):
    corner = np.array([[-0.5, -0.5], [1199.5, -0.5], [1199.5, 899.5], [-0.5, 899.5]])
    assert np.isfinite(snapped_corners(photo, corner, [0, 1, 2, 3])).all()
    tiny = BOX[0] + np.array([[0, 0], [3, 0], [3, 3.0]])
    np.testing.assert_array_equal(snapped_corners(photo, tiny, [0, 1, 2]), tiny)
