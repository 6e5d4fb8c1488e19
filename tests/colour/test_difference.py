"""CIEDE2000 against the published pairs, another implementation, and its own symmetries."""

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000

from visualiser.colour.colorimetry import srgb_to_lab
from visualiser.colour.difference import delta_e_2000


def test_the_34_published_pairs(published):
    """Sharma, Wu & Dalal (2005), Table 1: four decimals are given.

    Pair 14 lies exactly on the 180 degree edge, where one ulp of an arctangent decides between
    4.8045 and 4.7461; the tolerance on the edge in delta_e_2000 settles it on the table's side.
    """
    rows = [[float(v) for v in row.values()] for row in published("sharma_2005_table_1.csv")]
    table = np.array(rows)
    assert table.shape == (34, 7)
    first, second, expected = table[:, :3], table[:, 3:6], table[:, 6]
    assert np.abs(delta_e_2000(first, second) - expected).max() < 5.01e-5
    assert np.abs(delta_e_2000(second, first) - expected).max() < 5.01e-5


def test_agrees_with_scikit_image(rng_colours):
    lab = srgb_to_lab(rng_colours)
    other = lab[::-1]
    assert delta_e_2000(lab, other) == pytest.approx(deltaE_ciede2000(lab, other), abs=1e-6)


def test_is_symmetric_and_zero_for_the_same_colour(rng_colours):
    lab = srgb_to_lab(rng_colours)
    assert delta_e_2000(lab, lab).max() == 0
    assert delta_e_2000(lab, lab[::-1]) == pytest.approx(delta_e_2000(lab[::-1], lab), abs=1e-9)


def test_broadcasts():
    lab = np.arange(24, dtype=float).reshape(4, 2, 3)
    assert delta_e_2000(lab, [50, 0, 0]).shape == (4, 2)
    assert delta_e_2000(lab[:, :, None], lab[0]).shape == (4, 2, 2)
    assert delta_e_2000([50, 0, 0], [51, 0, 0]).shape == ()


def test_black_and_white_are_100_apart():
    """Closed form: the mean lightness is 50, so the lightness weight is 1."""
    assert delta_e_2000([0, 0, 0], [100, 0, 0]) == pytest.approx(100)


def test_nan_stays_nan():
    assert np.isnan(delta_e_2000([np.nan, 0, 0], [50, 0, 0]))
