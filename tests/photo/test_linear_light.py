import numpy as np
import pytest

from visualiser.photo.linear_light import (
    decode_srgb,
    encode_srgb,
    opponent_levels,
    shrink_linear,
    to_levels,
    to_linear,
    to_pixels,
)

ALL_LEVELS = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2)


def test_mid_grey_is_a_fifth_of_the_light():
    """W3C, relative luminance in WCAG 2.2: #767676 has contrast 4.5422 to white."""
    luminance = decode_srgb(np.array(0x76 / 255))
    assert 1.05 / (luminance + 0.05) == pytest.approx(4.5422, abs=5e-5)


def test_every_level_comes_back_unchanged():
    assert np.array_equal(to_pixels(to_linear(ALL_LEVELS)), ALL_LEVELS)


def test_table_follows_the_curve():
    light = np.linspace(0, 1, 20001, dtype=np.float32)
    exact = encode_srgb(light) * 255
    assert np.abs(to_levels(light) - exact).max() < 0.03


def test_encoding_and_decoding_are_inverse():
    values = np.linspace(0, 1, 1001)
    assert np.allclose(encode_srgb(decode_srgb(values)), values, atol=1e-6)


def test_light_is_averaged_rather_than_levels():
    stripes = np.zeros((40, 40, 3), np.uint8)
    stripes[:, ::2] = 255
    assert np.allclose(shrink_linear(stripes, 20, 20), 0.5, atol=1e-4)


def test_shrinking_keeps_the_mean_for_odd_ratios():
    pixels = np.random.default_rng(3).integers(0, 256, (301, 407, 3), dtype=np.uint8)
    assert shrink_linear(pixels, 61, 47).mean() == pytest.approx(to_linear(pixels).mean(), rel=2e-3)


def test_growing_is_refused():
    with pytest.raises(ValueError, match="cannot shrink"):
        shrink_linear(ALL_LEVELS, 300, 1)


def test_opponent_levels_of_the_primaries_are_their_differences_and_greys_have_no_tint():
    colours = np.array([[[128, 128, 128], [200, 100, 50]]], np.uint8)
    tone, red, blue = opponent_levels(to_linear(colours))[0].T
    assert tone == pytest.approx([128, 200 * 0.2126 + 100 * 0.7152 + 50 * 0.0722], abs=0.1)
    assert red == pytest.approx([0, 100], abs=0.1)
    assert blue == pytest.approx([0, -50], abs=0.1)
