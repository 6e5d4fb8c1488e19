"""Ou and Luo's model: worked rows, a second writing of the formula, published range and order."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from visualiser.colour.colorimetry import lch_to_lab, srgb_to_lab
from visualiser.colour.harmony import (
    HARMONY_RANGE,
    colour_harmony,
    mutual_harmony,
    palette_harmony,
)
from visualiser.colour.palette import blend, palette_from_lab

LAB = st.tuples(st.floats(0, 100), st.floats(-80, 80), st.floats(-80, 80))


def by_the_book(lab_1, lab_2):
    """The printed equations once more, scalar and in polar form, to check the arrays against."""

    def polar(lab):
        return lab[0], math.hypot(lab[1], lab[2]), math.degrees(math.atan2(lab[2], lab[1])) % 360

    (l1, c1, h1), (l2, c2, h2) = polar(lab_1), polar(lab_2)
    dh = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(h2 - h1) / 2)
    dc = math.sqrt(dh**2 + ((c2 - c1) / 1.46) ** 2)
    total = 0.04 + 0.53 * math.tanh(0.8 - 0.045 * dc)
    total += 0.28 + 0.54 * math.tanh(-3.88 + 0.029 * (l1 + l2))
    total += 0.14 + 0.15 * math.tanh(-2 + 0.2 * abs(l1 - l2))
    for lightness, chroma, hue in ((l1, c1, h1), (l2, c2, h2)):
        ec = 0.5 + 0.5 * math.tanh(-2 + 0.5 * chroma)
        hs = -0.08 - 0.14 * math.sin(math.radians(hue + 50))
        hs -= 0.07 * math.sin(math.radians(2 * hue + 90))
        x = (90 - hue) / 10
        ey = (0.22 * lightness - 12.8) / 10 * math.exp(x - math.exp(x))
        total += ec * (hs + ey)
    return total


def test_worked_rows(published):
    rows = [[float(v) for v in row.values()] for row in published("ou_luo_2006_worked.csv")]
    table = np.array(rows)
    assert colour_harmony(table[:, :3], table[:, 3:6]) == pytest.approx(table[:, 6], abs=6e-5)


@given(LAB, LAB)
def test_agrees_with_a_second_writing_of_the_formula(lab_1, lab_2):
    assert colour_harmony(lab_1, lab_2) == pytest.approx(by_the_book(lab_1, lab_2), abs=1e-6)
    assert colour_harmony(lab_1, lab_2) == pytest.approx(float(colour_harmony(lab_2, lab_1)))


def test_published_range():
    """CH lies in -1.24 to 1.39 over the paper's colours (as quoted by D. Xu, IJCISIM 17, 2025).

    sRGB reaches beyond those 54 colours, hence 0.1 of allowance.
    """
    steps = np.linspace(0, 1, 6)
    lab = srgb_to_lab(np.stack(np.meshgrid(steps, steps, steps), -1).reshape(-1, 3))
    values = colour_harmony(lab[:, None], lab)
    low, high = HARMONY_RANGE
    assert low - 0.1 <= values.min() < -1
    assert 1.2 < values.max() <= high + 0.1


def test_blue_harmonises_most_and_red_least():
    """Published direction (Ou 2008, quoted): blue likeliest to harmonise, red least."""
    grey = np.array([60.0, 0, 0])
    by_hue = {h: float(colour_harmony(lch_to_lab([55, 40, h]), grey)) for h in range(0, 360, 5)}
    assert 220 <= max(by_hue, key=by_hue.get) <= 290
    assert 0 <= min(by_hue, key=by_hue.get) <= 50


def test_sets_do_not_depend_on_order_and_equal_pairs_give_the_pair():
    rng = np.random.default_rng(2)
    lab = np.c_[rng.uniform(20, 90, 5), rng.uniform(-40, 40, (5, 2))]
    shares = rng.dirichlet(np.ones(5))
    turned = rng.permutation(5)
    first, second = palette_from_lab(lab, shares), palette_from_lab(lab[turned], shares[turned])
    assert palette_harmony(first) == pytest.approx(palette_harmony(second))
    pair = palette_from_lab([[50, 20, 0], [70, 0, 20]], [0.5, 0.5])
    expected = float(colour_harmony([50, 20, 0], [70, 0, 20]))
    assert palette_harmony(pair) == pytest.approx(expected)
    one, other = palette_from_lab([[50, 20, 0]], [1]), palette_from_lab([[70, 0, 20]], [1])
    assert mutual_harmony(one, other) == pytest.approx(expected)
    assert palette_harmony(blend([one, other])) == pytest.approx(expected)
