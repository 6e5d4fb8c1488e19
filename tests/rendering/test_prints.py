import numpy as np
import pytest

from visualiser.inventory.piece import Artwork, Piece
from visualiser.photo.linear_light import to_linear
from visualiser.rendering.prints import PAPER, visible_print


def banded(size, top, bottom):
    """Picture whose upper half has one level and whose lower half another."""
    pixels = np.full((*size, 3), bottom, np.uint8)
    pixels[: size[0] // 2] = top
    return Artwork(pixels)


def canvas(artwork, fit="cut"):
    return Piece("a", 400, 400, moulding=None, artwork=artwork, artwork_fit=fit)


@pytest.mark.parametrize("scale", [0.3, 1.0, 30.0])
def test_a_picture_shown_whole_has_paper_at_two_sides(scale):
    """A picture twice as wide as high fills half of a square window: a quarter of paper each."""
    shown = visible_print(canvas(banded((300, 600), 40, 200), "whole"), scale)
    rows, columns = shown.shape[:2]
    assert rows == pytest.approx(columns, abs=2)
    assert shown[rows // 8] == pytest.approx(np.tile(PAPER, (columns, 1)), abs=1e-5)
    for row, level in ((3 * rows // 8, 40), (5 * rows // 8, 200)):
        expected = to_linear(np.full((1, 1, 3), level, np.uint8))[0, 0]
        assert shown[row, columns // 2] == pytest.approx(expected, abs=1e-4)


def test_a_picture_that_is_cut_fills_its_window():
    shown = visible_print(canvas(banded((300, 600), 40, 200)), 1.0)
    assert shown[2, 2] == pytest.approx(to_linear(np.full((1, 1, 3), 40, np.uint8))[0, 0], abs=1e-4)


def test_one_pixel_makes_a_plain_print():
    shown = visible_print(canvas(Artwork(np.full((1, 1, 3), 90, np.uint8)), "whole"), 2.0)
    assert np.ptp(shown) == 0


@pytest.mark.parametrize("scale", [0.15, 0.6])
def test_a_blank_print_is_shrunk_to_its_size_with_its_light_kept(scale):
    """Its rule is 1 mm wide: looked up at single points it would be broken or lost."""
    piece = Piece("a", 400, 600, moulding=None, name="Fern")
    near, far = (visible_print(piece, s).astype(float) for s in (30.0, scale))
    assert far.shape[:2] == (round(1.5 * scale * 600), round(1.5 * scale * 400))
    assert far.mean(axis=(0, 1)) == pytest.approx(near.mean(axis=(0, 1)), rel=0.002)
    middle = far[far.shape[0] // 2 - 1 :, far.shape[1] // 4]
    rule = near[near.shape[0] // 2 :, near.shape[1] // 4]
    assert middle.mean(axis=0) == pytest.approx(rule.mean(axis=0), rel=0.02)
