"""What a strip of shaded wall does to an edge: the closed form of a pulse behind a blur."""

import numpy as np
import pytest
from scipy.special import ndtr

from visualiser.photo.photo import Photo
from visualiser.rectification.edges import sample_side
from visualiser.rectification.model_terms import ModelTerms
from visualiser.rectification.reference import EdgeLook, EdgeSamples
from visualiser.rectification.side_shift import bloom_sigma_px, side_shift

TERMS = ModelTerms()


def side(contrast, blur_px=0.8, sigma_px=0.05):
    count = 12
    points = np.c_[np.arange(count, dtype=float), np.zeros(count)]
    normals = np.tile([0.0, 1.0], (count, 1))
    return EdgeSamples(points, normals, np.full(count, sigma_px), EdgeLook(contrast, blur_px))


def shift_of(contrast, *, blur_px=0.8, thickness_mm=0.1, inward=True):
    return side_shift(side(contrast, blur_px), 0.5, thickness_mm, 0.8, TERMS, inward=inward)


def drawn_photo(wall, paper, strip_px, share):
    """A sheet (x > 100) on a wall that it darkens by a share over a strip beside it."""
    y, x = np.mgrid[0:200, 0:200]
    at = 100.3
    light = wall + (paper - wall) * ndtr((x - at) / 0.8) + 0 * y
    light -= wall * share * (ndtr((x - at + strip_px) / 0.8) - ndtr((x - at) / 0.8))
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055) * 255
    coded = coded + np.random.default_rng(5).normal(0, 0.6, coded.shape)
    return Photo(np.repeat(np.round(coded)[..., None], 3, axis=2).astype(np.uint8)), at


@pytest.mark.parametrize(("wall", "paper"), [(0.43, 0.50), (0.3, 0.6), (0.5, 0.1)])
def test_a_shaded_strip_moves_the_edge_by_its_area_over_the_contrast(wall, paper):
    strip_px, share = 0.3, 0.2
    photo, at = drawn_photo(wall, paper, strip_px, share)
    samples = sample_side(photo, [100.0, 20.0], [100.0, 180.0])
    seen_outward_px = at - float(samples.points_px[:, 0].mean())
    expected = -strip_px * share / (paper / wall - 1)
    assert seen_outward_px == pytest.approx(expected, abs=0.25 * abs(expected) + 0.02)
    # What the model takes for granted is the same strip.
    terms = ModelTerms(strip_share=strip_px * share / 0.5 / 0.3, gap_mm=0.2)
    normal_into_sheet = samples.normals_px[:, 0].mean() > 0
    told = side_shift(samples, 0.5, 0.1, samples.look.blur_px, terms, inward=normal_into_sheet)
    assert told.outward_px == pytest.approx(expected, rel=0.15)


def test_a_light_sheet_looks_smaller_and_a_dark_one_larger():
    assert shift_of(0.15).outward_px < 0 < shift_of(-0.6).outward_px


def test_the_fainter_the_edge_the_less_sure_its_place():
    sigmas = [shift_of(contrast).sigma_px for contrast in (10.0, 1.0, 0.2, 0.05)]
    assert sigmas == sorted(sigmas)
    assert sigmas[0] < 0.1
    assert sigmas[-1] > 0.4


@pytest.mark.parametrize("contrast", [0.15, 1.0, -0.6])
def test_which_way_the_edge_was_crossed_does_not_matter(contrast):
    crossed = 1 / (1 + contrast) - 1
    assert shift_of(contrast).outward_px == pytest.approx(
        shift_of(crossed, inward=False).outward_px
    )


def test_a_softer_side_of_a_dark_card_is_taken_for_its_shadow():
    """Strip of half darkness, 1.4 px wide: shift 0.7 px, widening 0.7 px in quadrature."""
    sharp = shift_of(-0.8, thickness_mm=0.76)
    soft = shift_of(-0.8, blur_px=float(np.hypot(0.8, 0.7)), thickness_mm=0.76)
    assert soft.outward_px - sharp.outward_px == pytest.approx(0.7, abs=0.15)
    assert soft.sigma_px > sharp.sigma_px


def test_nothing_absurd_where_sheet_and_wall_are_alike():
    for contrast in (0.0, 1e-9, -1e-9, np.inf):
        told = shift_of(contrast)
        assert np.isfinite([told.outward_px, told.sigma_px]).all()
        assert abs(told.outward_px) < 2


def test_bloom_is_a_share_of_the_blur_where_the_contrast_is_full():
    share = TERMS.bloom_share
    assert bloom_sigma_px((side(np.inf),) * 4, TERMS) == pytest.approx(share * 0.8)
    assert bloom_sigma_px((side(1.0),) * 4, TERMS) == pytest.approx(share * 0.8 / 2)
    assert bloom_sigma_px((side(-0.5),) * 4, TERMS) == pytest.approx(share * 0.8 / 2)
    assert bloom_sigma_px((), TERMS) > 0
