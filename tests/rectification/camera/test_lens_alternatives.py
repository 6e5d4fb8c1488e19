"""Closed forms against a second method: the same adjustment made again under the other lens."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from visualiser.photo.frame import FrameEvidence
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.adjustment import Solution, adjust
from visualiser.rectification.camera.lens_alternatives import (
    LensAlternative,
    Posterior,
    lens_alternatives,
    log_evidence,
    mixed_covariance,
    posteriors,
)
from visualiser.rectification.camera.lens_profile import LensPrior
from visualiser.rectification.camera.projection import LENS, CameraState, Lens
from visualiser.rectification.camera.reference_observation import ReferenceObservation
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.edges.locate import no_samples
from visualiser.rectification.reference import Reference

MIDDLE = Lens(1500.0, 999.5, 749.5)
TERMS = ModelTerms(stand_off_sigma_mm=0.0)


def prior(centre_sigma_px, lens=MIDDLE, focal_sigma=0.02):
    sigmas = np.array([focal_sigma, 0.02, 0.01, centre_sigma_px, centre_sigma_px])
    return LensPrior(lens, np.diag(sigmas**2))


def fit(under, true_lens=MIDDLE):
    """A large target seen from the side: its marks tell a little of the centre."""
    camera = CameraState(
        np.array([[0.8, 0.1, 0.59], [0.05, -0.99, 0.1], [0.6, -0.05, -0.79]]),
        np.array([50.0, 20.0, 2500.0]),
        true_lens,
    ).moved(np.zeros(11))
    x, y = np.meshgrid(np.linspace(-600, 600, 7), np.linspace(-400, 400, 5))
    marks = np.c_[x.ravel(), y.ravel()]
    px = camera.project(np.c_[marks, np.zeros(len(marks))])[0]
    corners = px[[28, 34, 6, 0]]
    reference = Reference(
        "custom", corners, 1200.0, 800.0, marks_px=px, marks_mm=marks, size_sigma_mm=0.0
    )
    seen = ReferenceObservation(
        reference, tuple(no_samples() for _ in range(4)), True, False, TERMS
    )
    return adjust(camera, [seen], under)


@pytest.fixture(scope="module")
def narrow_fit() -> Solution:
    return fit(prior(8.0))


def test_the_other_lens_s_fit_is_foreseen(narrow_fit):
    wide = prior(60.0)
    both = (LensAlternative(0.5, prior(8.0)), LensAlternative(0.5, wide, trimmed=True))
    foreseen = posteriors(narrow_fit, both[0].prior, both)
    again = fit(wide)
    assert foreseen[0].covariance == pytest.approx(narrow_fit.covariance, rel=1e-6, abs=1e-12)
    assert np.sqrt(np.diag(foreseen[1].covariance)) == pytest.approx(
        np.sqrt(np.diag(again.covariance)), rel=0.02
    )


def test_evidence_is_foreseen_as_two_fits_have_it():
    """A lens 160 px off the middle, and two priors of its centre: Bayes' rule by Laplace."""
    lens = Lens(1500.0, 1159.5, 749.5)
    alternatives = (LensAlternative(0.7, prior(8.0)), LensAlternative(0.3, prior(120.0)))
    fits = [fit(a.prior, lens) for a in alternatives]
    logs = [
        np.log(a.chance) + log_evidence(f.cost, f.covariance, a.prior)
        for a, f in zip(alternatives, fits, strict=True)
    ]
    by_fits = 1 / (1 + np.exp(logs[0] - logs[1]))
    foreseen = posteriors(fits[0], alternatives[0].prior, alternatives)
    assert foreseen[1].chance == pytest.approx(by_fits, abs=0.03)
    assert foreseen[1].chance > 0.3
    # To first order only, over a tenth of the focal length.
    assert foreseen[1].shift[9] == pytest.approx(
        fits[1].camera.lens.centre_x_px - fits[0].camera.lens.centre_x_px, rel=0.2
    )


def test_a_photo_that_says_nothing_of_the_lens_leaves_every_chance_as_it_was():
    wide = prior(60.0)
    blank = np.eye(11)
    blank[LENS, LENS] = prior(8.0).covariance
    camera = CameraState(np.eye(3), np.array([0, 0, 1000.0]), MIDDLE)
    solution = Solution(camera, blank, (), blank, (), (), 0.0)
    both = (LensAlternative(0.9, prior(8.0)), LensAlternative(0.1, wide))
    after = posteriors(solution, both[0].prior, both)
    assert [p.chance for p in after] == pytest.approx([0.9, 0.1], abs=1e-6)
    assert after[1].covariance[LENS, LENS] == pytest.approx(wide.covariance, rel=1e-6)


def test_evidence_of_one_measured_value():
    """One value with a normal prior: the evidence is a normal density, in a textbook's form."""
    sigma, spread, value = 0.3, 2.0, 1.7
    expected = multivariate_normal(0, sigma**2 + spread**2).logpdf(value)
    posterior = 1 / (1 / sigma**2 + 1 / spread**2)
    price = value**2 / (sigma**2 + spread**2)
    unit = np.eye(11)
    unit[0, 0] = posterior
    covariance = np.eye(5)
    covariance[0, 0] = spread**2
    found = log_evidence(price, unit, LensPrior(MIDDLE, covariance))
    assert found == pytest.approx(expected + 0.5 * np.log(2 * np.pi) + np.log(sigma))


def test_mixed_covariance_is_the_second_moment():
    rng = np.random.default_rng(3)
    shift = np.zeros(11)
    shift[9] = 50.0
    parts = [Posterior(0.8, np.zeros(11), np.eye(11)), Posterior(0.2, shift, 4 * np.eye(11))]
    drawn = rng.normal(size=(200_000, 11)) * np.where(rng.random((200_000, 1)) < 0.8, 1.0, 2.0)
    mixed = mixed_covariance(parts, 0.04)
    assert mixed[0, 0] == pytest.approx(np.mean(drawn[:, 0] ** 2), rel=0.02)
    assert mixed[9, 9] == pytest.approx(0.8 + 0.2 * (4 + 50**2))
    assert mixed_covariance(parts, 0.3) == pytest.approx(np.eye(11))


@pytest.mark.parametrize(("chance", "first"), [(1.0, [False]), (0.0, [True]), (0.9, [False, True])])
def test_what_the_file_shows_decides_which_are_tried(chance, first):
    frame = FrameEvidence(chance, (100.0, 50.0), 0.1, 0.1)
    photo = Photo(np.zeros((300, 400, 3), np.uint8), 320.0, 0.02, frame=frame)
    found = lens_alternatives(photo, ModelTerms())
    assert [a.trimmed for a in found] == first
    if chance < 1:
        trimmed = found[-1].prior
        assert trimmed.lens.focal_px == pytest.approx(320 * np.exp(0.1))
        assert np.sqrt(np.diag(trimmed.covariance))[3:] == pytest.approx([100, 50], rel=0.01)


def test_a_room_twice_as_large_says_as_much_of_the_lens():
    """One picture fits a room and a sheet, or both twice as large: the evidence is the same."""
    camera = CameraState(np.eye(3), np.array([100.0, 50.0, 3000.0]), MIDDLE)
    scale = np.array([1, 1, 1, 2, 2, 2, 1, 1, 1, 1, 1.0])
    one = np.cov(np.random.default_rng(2).normal(size=(11, 40)))
    twice = CameraState(np.eye(3), 2 * camera.translation_mm, MIDDLE)
    small = Solution(camera, one, (), one, (), (), 0.0)
    large = Solution(twice, one * np.outer(scale, scale), (), one, (), (), 0.0)
    assert large.relative_covariance == pytest.approx(small.relative_covariance)
