import cv2
import numpy as np
import pytest

from visualiser.laid_out.rectangles import rectangles
from visualiser.laid_out.segments import find_corners, find_segments, merge_collinear
from visualiser.laid_out.support import EdgeField, widened
from visualiser.laid_out.window import read_front


def tilted(width, height, x, y, degrees):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    half = np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2
    return half @ np.array([[c, s], [-s, c]]) + [x, y]


def test_a_tilted_rectangle_is_found_from_its_corners():
    image = np.full((300, 400, 3), 90, np.uint8)
    drawn = tilted(160, 110, 200, 150, 4.0)
    cv2.fillPoly(image, [np.rint(drawn * 16).astype(np.int32)], (200, 180, 60), cv2.LINE_AA, 4)
    inside = np.ones((300, 400), bool)
    found = rectangles(find_corners(find_segments(image, inside)), 40, 380)
    off = np.abs(found - drawn).max(axis=(1, 2))
    assert off.min() < 1.5
    field = EdgeField(image)
    assert field.sides(drawn[None]).mean(axis=2).min() > 0.8
    assert field.sides(widened(drawn[None], np.full((1, 4), 12.0))).mean() < 0.1


def test_nothing_comes_of_nothing():
    blank = np.full((80, 90, 3), 128, np.uint8)
    ends = find_segments(blank, np.ones((80, 90), bool))
    assert ends.shape == (0, 2, 2)
    assert rectangles(find_corners(ends), 10, 90).shape == (0, 4, 2)


def test_collinear_pieces_of_an_edge_become_one_and_parallel_edges_stay_two():
    ends = np.array([[[0, 0], [50, 0]], [[58, 0.4], [110, 0.2]], [[0, 6], [110, 6.0]]], float)
    joined = merge_collinear(ends)
    assert sorted(np.ptp(joined[:, :, 0], axis=1)) == pytest.approx([110, 110], abs=0.5)
    assert len(joined) == 2


@pytest.mark.parametrize("mat", [0, 40])
def test_mat_and_window_are_read_from_without_inwards(mat):
    """A front drawn at 1 mm a sample: rail 20, mat 40 or none, a striped picture within."""
    front = np.full((300, 260, 3), (120, 80, 50), np.uint8)
    front[20:-20, 20:-20] = (240, 238, 230)
    inset = 20 + mat
    picture = front[inset:-inset, inset:-inset]
    picture[:] = (20, 60, 140)
    picture[4::7] = (200, 40, 40)
    picture[:, 3::5] = (30, 160, 60)
    found = read_front(front, 1.0, 21.0)
    assert found.lip_mm == pytest.approx([20] * 4, abs=1.1)
    assert found.window_mm == pytest.approx([inset] * 4, abs=2.1)
