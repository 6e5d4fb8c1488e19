"""Several finds in one photo: those that measure each other rightly are no rivals."""

import numpy as np
import pytest

from visualiser.errors import ReferenceNotFound
from visualiser.rectification.finder.agreement import agree
from visualiser.rectification.finder.find import convincing
from visualiser.rectification.reference import Reference

SEEN = np.array([[0.21, 0.02, 300.0], [-0.03, 0.24, 250.0], [9e-5, 2e-5, 1.0]])
"""A wall's mm to a photo's px, from somewhat to the left."""


def hung(x_mm, y_mm, width_mm=210.0, height_mm=297.0, confidence=0.9, stated=None, noise_px=0.0):
    """A find where something hangs on the wall, as of its stated size: A4 (ISO 216)."""
    corners = np.array([[0, 0], [width_mm, 0], [width_mm, height_mm], [0, height_mm]])
    mapped = np.c_[corners + [x_mm, y_mm], np.ones(4)] @ SEEN.T
    corners_px = mapped[:, :2] / mapped[:, 2:]
    corners_px += np.random.default_rng(1).normal(0, 1, (4, 2)) * noise_px
    return Reference("a4", corners_px, *(stated or (210.0, 297.0)), confidence=confidence)


def test_of_two_sheets_on_a_wall_the_likelier_is_taken():
    best = hung(0, 0)
    for other in (hung(900, 80, confidence=0.88), hung(-700, 300, noise_px=0.5)):
        assert agree(best, other)
        assert convincing([best, other]) is best


def test_a_sheet_that_lies_across_agrees_as_well():
    across = hung(600, 0, 297.0, 210.0, stated=(297.0, 210.0))
    assert agree(hung(0, 0), across)
    assert not agree(hung(0, 0), hung(600, 0, 297.0, 210.0))


@pytest.mark.parametrize(
    "other",
    [
        pytest.param(hung(900, 80, 240, 340), id="a larger canvas"),
        pytest.param(hung(900, 80, 300, 400), id="a frame of 30 x 40 cm"),
        pytest.param(hung(900, 80, 215.9, 254.0), id="as wide, but shorter"),
    ],
)
def test_something_of_another_size_stays_a_rival(other):
    with pytest.raises(ReferenceNotFound, match="Two objects"):
        convincing([hung(0, 0), other])


def test_a_sheet_of_the_wall_beside_stays_a_rival():
    """Measured by a sheet on one wall, one on the wall that meets it is too narrow or too wide."""
    beside = hung(900, 0)
    turned = beside.corners_px + [[0, 0], [-20, 9], [-20, -9], [0, 0]]
    other = Reference("a4", turned, 210.0, 297.0, confidence=0.9)
    assert not agree(hung(0, 0), other)


def test_what_lies_beyond_the_horizon_does_not_agree():
    """A floor that runs to y = 100 px at its far end, and something above it."""
    tile = np.array([[300.0, 300], [500, 300], [700, 500], [100, 500]])
    above = Reference("a4", tile + [0, -480], 210.0, 297.0)
    assert not agree(Reference("a4", tile, 210.0, 297.0), above)
