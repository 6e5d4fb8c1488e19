"""How far the grid of pixels pulls a side that follows it: closed forms, drawn edges."""

import numpy as np
import pytest
from scipy.special import ndtr, spherical_jn

from visualiser.photo.photo import Photo
from visualiser.rectification.edges import sample_side
from visualiser.rectification.model_terms import ModelTerms
from visualiser.rectification.pixel_lock import lock_sigmas_px, wave_px
from visualiser.rectification.reference import EdgeLook, EdgeSamples
from visualiser.rectification.side_shift import side_shift


def side(crossed_px, *, blur_px=0.5, clipped=1.0, look=True):
    y = np.linspace(0, 120, 16)
    points = np.c_[50 + np.linspace(0, crossed_px, 16), y]
    seen = EdgeLook(8.0, blur_px, clipped_share=clipped) if look else None
    return EdgeSamples(points, np.tile([1.0, 0.0], (16, 1)), np.full(16, 0.03), seen)


@pytest.mark.parametrize("crossed_px", [0.0, 0.2, 0.5, 0.8, 1.3, 2.4])
def test_a_line_fitted_to_a_wave_is_shifted_and_turned_by_its_bessel_functions(crossed_px):
    """Root mean square over all phases, against a line fitted to waves, and the closed form."""
    v = np.linspace(-1, 1, 2001)
    phases = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    waves = np.sin(np.pi * crossed_px * v + phases[:, None])
    turn, shift = np.sqrt(np.mean(np.polyfit(v, waves.T, 1) ** 2, axis=1))
    x = np.pi * crossed_px
    assert shift == pytest.approx(abs(spherical_jn(0, x)) / np.sqrt(2), abs=2e-3)
    assert turn == pytest.approx(3 * abs(spherical_jn(1, x)) / np.sqrt(2), abs=2e-3)
    sample = side(crossed_px)
    told_shift, told_turn = lock_sigmas_px(sample)
    size = wave_px(sample.look)
    # Between the zeros the bound may lie above; it never lies a fifth below.
    assert told_shift >= 0.8 * shift * size
    assert told_turn >= 0.8 * turn * size - 1e-9
    assert told_turn <= 1.35 * size / np.sqrt(2)


def test_a_side_that_crosses_many_pixels_is_hardly_moved():
    shift, turn = lock_sigmas_px(side(8.0))
    assert shift < 0.01
    assert turn < 0.03


def test_sharp_and_clipped_edges_keep_to_the_grid_most():
    assert wave_px(EdgeLook(8.0, 0.5)) > 2 * wave_px(EdgeLook(8.0, 0.8))
    assert wave_px(EdgeLook(8.0, 0.5, clipped_share=1.0)) > 2 * wave_px(EdgeLook(8.0, 0.5))
    assert lock_sigmas_px(side(0.5, look=False)) == (0.0, 0.0)


def drawn_side(rng, paper, slope):
    """Sheet (x > 100) brighter than white, its side running across ``slope`` px of 160 rows."""
    y, x = np.mgrid[0:200, 0:200]
    at = 100 + rng.uniform(-0.5, 0.5)
    light = 0.06 + (paper - 0.06) * ndtr((x - at - slope * (y - 100) / 160) / rng.uniform(0.5, 0.7))
    light = np.minimum(light + rng.normal(0, 0.004, light.shape), 1).clip(0)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055) * 255
    photo = Photo(np.repeat(np.round(coded)[..., None], 3, axis=2).astype(np.uint8))
    samples = sample_side(photo, [at - slope / 2, 20.0], [at + slope / 2, 180.0])
    off = samples.points_px[:, 0] - at - slope * (samples.points_px[:, 1] - 100) / 160
    return samples, float(np.polyfit((samples.points_px[:, 1] - 100) / 80, off, 1)[0])


def test_the_stated_turn_of_clipped_sides_along_the_grid_is_true():
    """The turn that is read off overexposed sides, in stated sigmas, is of about unit size."""
    rng = np.random.default_rng(3)
    turned, plain = [], []
    for _ in range(40):
        samples, turn = drawn_side(rng, rng.uniform(1.4, 2.2), rng.uniform(0.2, 0.9))
        told = side_shift(
            samples, 0.5, 0.1, samples.look.blur_px, ModelTerms(), inward=True
        ).twist_px
        turned.append(turn / told)
        plain.append(turn / np.sqrt(told**2 - lock_sigmas_px(samples)[1] ** 2))
    assert 0.4 < np.sqrt(np.mean(np.square(turned))) < 1.4
    assert np.mean(np.abs(turned) < 2) >= 0.92
    # What was stated before the grid was thought of: several times too little.
    assert np.sqrt(np.mean(np.square(plain))) > 2
