"""Colour spaces against published values and against colour-science."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from visualiser.colour import colorimetry as c

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it warns of plotting parts that are not installed
    import colour

UNIT = npst.arrays(float, (7, 3), elements=st.floats(0, 1))


@pytest.mark.parametrize(
    ("rgb", "lab"),
    [
        ((255, 0, 0), (53.24, 80.09, 67.20)),
        ((0, 255, 0), (87.73, -86.18, 83.18)),
        ((0, 0, 255), (32.30, 79.19, -107.86)),
        ((128, 128, 128), (53.585, 0, 0)),
        ((255, 255, 255), (100, 0, 0)),
    ],
)
def test_lab_of_the_primaries(rgb, lab):
    """Widely published with the seven-digit matrix; the four-digit one differs by up to 0.024."""
    assert c.srgb_to_lab(np.array(rgb, np.uint8)) == pytest.approx(lab, abs=0.02)


def test_lab_agrees_with_colour_science(rng_colours):
    """colour-science 0.4: sRGB_to_XYZ (IEC four-digit matrix) and XYZ_to_Lab."""
    xyz = colour.sRGB_to_XYZ(rng_colours)
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    expected = colour.XYZ_to_Lab(xyz, white)
    assert c.srgb_to_lab(rng_colours) == pytest.approx(expected, abs=0.05)


def test_lab_formula_agrees_with_colour_science_to_the_last_digits(rng_colours):
    xyz = rng_colours @ c.LINEAR_TO_XYZ.T
    white_xy = colour.XYZ_to_xy(c.D65)
    assert c.xyz_to_lab(xyz) == pytest.approx(colour.XYZ_to_Lab(xyz, white_xy), abs=1e-9)


@pytest.mark.parametrize(
    ("rgb", "oklab"),
    [
        ((1, 0, 0), (0.6279, 0.2249, 0.1258)),
        ((0, 1, 0), (0.8665, -0.2339, 0.1794)),
        ((0, 0, 1), (0.4520, -0.0324, -0.3116)),
    ],
)
def test_oklab_of_the_primaries(rgb, oklab):
    """B. Ottosson (2020) and colour-science 0.4.7."""
    xyz = np.array(rgb, float) @ c.LINEAR_TO_XYZ.T
    assert c.xyz_to_oklab(xyz) == pytest.approx(oklab, abs=5e-4)


def test_oklab_worked_example():
    """colour-science 0.4.7 documentation of XYZ_to_Oklab."""
    xyz = [0.20654008, 0.12197225, 0.05136952]
    assert c.xyz_to_oklab(xyz) == pytest.approx([0.5163401, 0.1546950, 0.0628957], abs=1e-6)


def test_din99o_agrees_with_din99b_of_colour_science(rng_colours):
    """DIN 6176 took DIN99b (Cui et al., 2002) with 303.67 for 303.671 and 1/0.0435 for 23."""
    lab = c.srgb_to_lab(rng_colours)
    expected = colour.models.Lab_to_DIN99(lab, method="DIN99b")
    assert c.lab_to_din99(lab) == pytest.approx(expected, rel=6e-4, abs=2e-3)


def test_bradford_matrix():
    """B. Lindbloom, "Chromatic Adaptation", D65 to D50."""
    expected = [
        [1.0478112, 0.0228866, -0.0501270],
        [0.0295424, 0.9904844, -0.0170491],
        [-0.0092345, 0.0150436, 0.7521316],
    ]
    assert c.adaptation(c.D65, c.D50) == pytest.approx(np.array(expected), abs=1e-7)


def test_adaptation_keeps_white_white_and_comes_back():
    there, back = c.adaptation(c.D65, c.D50), c.adaptation(c.D50, c.D65)
    assert there @ c.D65 == pytest.approx(c.D50, abs=1e-6)
    assert back @ there == pytest.approx(np.eye(3), abs=1e-6)


@pytest.mark.parametrize(
    ("code", "ratio"),
    [("#767676", 4.5422), ("#777777", 4.4781), ("#949494", 3.0335), ("#959595", 2.9953)],
)
def test_contrast_on_white(code, ratio):
    """W3C, WCAG 2.2: (L1 + 0.05) / (L2 + 0.05) of relative luminance."""
    white = np.array([255, 255, 255], np.uint8)
    assert c.contrast_ratio(white, c.from_hex(code)) == pytest.approx(ratio, abs=5e-5)
    assert c.contrast_ratio(c.from_hex(code), white) == pytest.approx(ratio, abs=5e-5)


def test_contrast_of_black_and_white_is_21():
    assert c.contrast_ratio([0.0, 0.0, 0.0], [1.0, 1.0, 1.0]) == pytest.approx(21)


@given(UNIT)
def test_round_trips(rgb):
    assert c.encode_srgb(c.decode_srgb(rgb)) == pytest.approx(rgb, abs=1e-6)
    lab = c.srgb_to_lab(rgb)
    assert c.encode_srgb(c.lab_to_linear(lab)) == pytest.approx(rgb, abs=1e-6)
    assert c.lch_to_lab(c.lab_to_lch(lab)) == pytest.approx(lab, abs=1e-9)
    assert c.din99_to_lab(c.lab_to_din99(lab)) == pytest.approx(lab, abs=1e-9)


def test_every_grey_code_survives():
    codes = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)
    assert (c.lab_to_srgb(c.srgb_to_lab(codes)) == codes).all()


def test_hex_codes():
    assert c.to_hex(c.from_hex("#0a141e")) == "#0a141e"
    with pytest.raises(ValueError, match="rrggbb"):
        c.from_hex("#123")


@pytest.mark.parametrize("text", ["#ff 8 0", "# ff800", "ff80000", "#ff80zz"])
def test_what_is_no_six_digits_is_no_colour(text):
    with pytest.raises(ValueError, match="#rrggbb"):
        c.from_hex(text)
