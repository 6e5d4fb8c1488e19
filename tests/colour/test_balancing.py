"""A published chart read back under coloured light, balanced by a sheet of paper."""

import warnings

import numpy as np
import pytest

from visualiser.colour.balancing import (
    PaperWhite,
    balance_by_neutral,
    balance_by_sheet,
    unbalanced,
)
from visualiser.colour.colorimetry import (
    D50,
    D65,
    XYZ_TO_LINEAR,
    adapt_lab,
    adaptation,
    lab_to_linear,
    xyz_to_lab,
)
from visualiser.colour.difference import delta_e_2000
from visualiser.errors import ColourError
from visualiser.photo.linear_light import decode_srgb, encode_srgb

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

# Camera gains for a wrong white: incandescent, warm LED, evening, shade, greenish tube.
CASTS = [
    (1.30, 0.97, 0.62),
    (1.18, 1.0, 0.78),
    (1.08, 1.0, 0.90),
    (0.90, 1.0, 1.12),
    (0.95, 1.06, 0.85),
]


@pytest.fixture(scope="module")
def chart(published):
    """Maker's L*a*b* (D50, November 2014) brought to D65."""
    rows = published("chart_24_november_2014.csv")
    lab = np.array([[float(row[k]) for k in ("L", "a", "b")] for row in rows])
    return adapt_lab(lab, D50, D65)


def photographed(linear, gains, rng, exposure=0.85):
    """Eight-bit code values of 400 noisy pixels a patch: shot and read noise of a phone."""
    light = np.repeat((np.clip(linear, 0, None) * gains * exposure)[:, None], 400, axis=1)
    light = light + rng.normal(size=light.shape) * np.sqrt(light.clip(0) / 2500 + 1e-6)
    return np.rint(encode_srgb(light) * 255).astype(np.uint8)


def test_chart_under_five_casts_after_sheet_balancing(chart):
    """Median CIEDE2000 at most 3 and 95th percentile at most 7; without balancing far more.

    The sheet's true colour is drawn from what PaperWhite says sheets are; the balance does not
    know it.
    """
    rng = np.random.default_rng(24)
    paper = PaperWhite()
    balanced, as_taken = [], []
    for gains in CASTS:
        sheet_lab = np.array(paper.lab) + rng.normal(size=3) * paper.sigma
        sheet = photographed(lab_to_linear(sheet_lab)[None], gains, rng)
        patches = photographed(lab_to_linear(chart), gains, rng)
        balance = balance_by_sheet(decode_srgb(sheet[0]), paper)
        linear = decode_srgb(patches).mean(axis=1)
        balanced.append(delta_e_2000(balance.lab(linear), chart))
        as_taken.append(delta_e_2000(unbalanced().lab(linear), chart))
    assert np.median(balanced) <= 3
    assert np.percentile(balanced, 95) <= 7
    assert np.median(as_taken) > 2 * np.median(balanced)


def spectral(illuminant):
    """XYZ of the 24 patches and of white under a light, 400 to 700 nm, CIE 1931 observer.

    Reflectances: chart of ISO 17321-1, in colour-science; lights: CIE 15:2018, in colour-science.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        shape = colour.SpectralShape(400, 700, 10)
        observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        matching = observer.copy().align(shape).values
        light = colour.SDS_ILLUMINANTS[illuminant].copy().align(shape).values
        patches = colour.SDS_COLOURCHECKERS["ISO 17321-1"].values()
        reflectances = np.array([p.copy().align(shape).values for p in patches])
    scale = 1 / (light @ matching[:, 1])
    return scale * (reflectances * light) @ matching, scale * (light @ matching)


def test_spectral_chart_under_real_lights():
    """Metamerism included: incandescent (A), horizon and north daylight, and a phosphor LED."""
    patches, white = spectral("D65")
    truth = xyz_to_lab(patches @ adaptation(white, D65).T)
    errors, as_taken = [], []
    for illuminant in ("A", "D50", "D75", "LED-B3", "LED-B4"):
        patches, white = spectral(illuminant)
        sheet = 0.87 * white @ XYZ_TO_LINEAR.T
        balance = balance_by_neutral(sheet[None] * 0.4)
        linear = patches @ XYZ_TO_LINEAR.T
        errors.append(delta_e_2000(balance.lab(linear), truth))
        as_taken.append(delta_e_2000(unbalanced().lab(linear), truth))
    assert np.median(errors) <= 3
    assert np.percentile(errors, 95) <= 7
    assert np.median(as_taken) > 3 * np.median(errors)


def test_a_neutral_becomes_neutral_and_keeps_its_lightness():
    light = np.array([[0.5, 0.4, 0.25]])
    lab = balance_by_neutral(light).lab(light)[0]
    assert lab[1:] == pytest.approx([0, 0], abs=0.05)
    assert lab[0] == pytest.approx(
        xyz_to_lab(light @ np.linalg.inv(XYZ_TO_LINEAR).T)[0][0], abs=0.3
    )


@pytest.mark.parametrize(
    ("light", "what"),
    [
        ((1.0, 1.0, 1.0), "overexposed"),
        ((0.001, 0.001, 0.001), "too dark"),
        ((0.7, 0.02, 0.01), "too strongly coloured"),
    ],
)
def test_no_neutral_is_refused(light, what):
    with pytest.raises(ColourError, match=what):
        balance_by_sheet(np.tile(light, (50, 1)))


def test_strong_casts_are_said():
    codes = [f.code for f in balance_by_sheet([[0.6, 0.35, 0.15]]).findings]
    assert codes == ["balance-strong-cast"]
    assert unbalanced().findings[0].code == "balance-unknown"


def test_pictures_are_balanced_whole():
    pixels = np.full((4, 5, 3), (200, 180, 150), np.uint8)
    balanced = balance_by_neutral(decode_srgb(pixels)).pixels(pixels)
    assert balanced.shape == (4, 5, 3)
    assert np.ptp(balanced[0, 0].astype(int)) <= 1
