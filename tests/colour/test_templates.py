"""Hue templates against the published widths and by palettes drawn inside them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from visualiser.colour.colorimetry import srgb_to_lab
from visualiser.colour.palette import palette_from_lab
from visualiser.colour.templates import (
    TEMPLATES,
    best_template,
    fit_template,
    off_template,
)

BY_NAME = {t.name: t for t in TEMPLATES}


@pytest.mark.parametrize(
    ("name", "part"),
    [("i", 0.05), ("V", 0.26), ("L", 0.27), ("I", 0.10), ("T", 0.50), ("Y", 0.31), ("X", 0.52)],
)
def test_covered_part_of_the_wheel(name, part):
    """Cohen-Or et al. (2006), sector widths as restated by three implementations; L by one."""
    assert BY_NAME[name].coverage == pytest.approx(part, abs=1e-9)


def test_the_wide_sector_of_l_is_its_own():
    """Cohen-Or et al. (2006), section 3, from memory: 22 % of the wheel, a quarter turn away."""
    (_, narrow), (turn, wide) = BY_NAME["L"].sectors
    assert (narrow, turn, wide) == (18, 90, pytest.approx(0.22 * 360))


def drawn(rng, template, angle, count=8):
    sectors = [template.sectors[int(i)] for i in rng.integers(0, len(template.sectors), count)]
    return np.array([(angle + c + rng.uniform(-0.5, 0.5) * w) % 360 for c, w in sectors])


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(TEMPLATES), st.floats(0, 360), st.integers(0, 10**6))
def test_hues_drawn_inside_cost_nothing(template, angle, seed):
    rng = np.random.default_rng(seed)
    hues = drawn(rng, template, angle)
    assert off_template(hues, template, angle).max() == pytest.approx(0, abs=1e-9)
    fit = fit_template(hues, np.ones(len(hues)), template)
    assert fit.off_deg == pytest.approx(0, abs=1e-9)
    assert fit.fits


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 360), st.integers(0, 10**6))
def test_turning_the_hues_turns_the_fit(turn, seed):
    rng = np.random.default_rng(seed)
    hues, weights = rng.uniform(0, 360, 6), rng.uniform(0.1, 1, 6)
    for template in TEMPLATES:
        before = fit_template(hues, weights, template)
        after = fit_template((hues + turn) % 360, weights, template)
        assert after.off_deg == pytest.approx(before.off_deg, abs=1e-6)


def test_the_fit_is_the_best_of_a_fine_sweep():
    rng = np.random.default_rng(1)
    hues, weights = rng.uniform(0, 360, 7), rng.uniform(0.1, 1, 7)
    sweep = np.arange(0, 360, 0.25)
    for template in TEMPLATES:
        cost = off_template(hues, template, sweep) @ weights / weights.sum()
        assert fit_template(hues, weights, template).off_deg <= cost.min() + 1e-9


def hsv_palette(hues, shares=None):
    import colorsys

    rgb = np.array([colorsys.hsv_to_rgb(h / 360, 0.7, 0.8) for h in hues])
    return palette_from_lab(srgb_to_lab(rgb), shares or np.ones(len(hues)))


def test_the_smallest_figure_that_fits_is_chosen():
    assert best_template(hsv_palette([20, 24, 30])).template.name == "i"
    assert best_template(hsv_palette([20, 24, 205])).template.name == "I"
    assert best_template(hsv_palette([10, 40, 80])).template.name == "V"
    assert best_template(hsv_palette([10, 50, 85, 228])).template.name == "Y"
    assert best_template(hsv_palette([20, 24, 75, 110, 145])).template.name == "L"


def test_greys_have_no_template():
    assert best_template(palette_from_lab([[20, 0, 0], [80, 1, 0]], [0.5, 0.5])) is None


def test_weightless_hues_are_refused():
    with pytest.raises(ValueError, match="weight"):
        fit_template([10, 20], [0, 0], TEMPLATES[0])
