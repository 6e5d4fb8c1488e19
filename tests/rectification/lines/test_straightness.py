"""Which edges are straight: space lines at every angle, seen through a lens of known distortion."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.camera.terms import BOW_SHARE, ModelTerms
from visualiser.rectification.lines.detect import RoomLine
from visualiser.rectification.lines.priors import LinePriors
from visualiser.rectification.lines.straightness import (
    BENT_BOW_SHARE,
    own_misfit,
    prices_of_bent,
    vote_on_distortion,
)
from visualiser.rectification.reference import EdgeSamples

LENS = Lens(1850.0, 1279.5, 959.5, 0.0, 0.0)
K1_SIGMA = 0.04


def seen(name, start_px, end_px, k1, bend_px=0.0, backwards=False):
    """A line between two ideal pixels, bent in space by ``bend_px``, through Brown's k1."""
    t = np.linspace(0, 1, 24)[:, None]
    start, end = np.asarray(start_px, float), np.asarray(end_px, float)
    along = (end - start) / np.hypot(*(end - start))
    normal = np.array([-along[1], along[0]])
    ideal = start + t * (end - start) + bend_px * 4 * t * (1 - t) * normal
    ray = (ideal - [LENS.centre_x_px, LENS.centre_y_px]) / LENS.focal_px
    ray = ray * (1 + k1 * (ray**2).sum(axis=1, keepdims=True))
    points = ray * LENS.focal_px + [LENS.centre_x_px, LENS.centre_y_px]
    if backwards:
        points = points[::-1]
    return RoomLine(name, EdgeSamples(points, np.tile(normal, (24, 1)), np.full(24, 0.1)))


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=40)
@given(k1=st.floats(-0.08, 0.08), turn_deg=st.floats(0, 180), backwards=st.booleans())
def test_straight_edges_at_every_angle_are_straight_and_tell_the_lens(k1, turn_deg, backwards):
    """Eight edges well off the middle, crossed either way: all say the same."""
    lines = []
    for i in range(8):
        a = np.radians(turn_deg + 45 * i)
        out = np.array([np.cos(a), np.sin(a)])
        foot = np.array([1279.5, 959.5]) + 700 * out
        run = 500 * np.array([-out[1], out[0]])
        lines.append(seen(f"line-{i}", foot - run, foot + run, k1, backwards=backwards ^ (i % 2)))
    found, straight = vote_on_distortion(lines, LENS, K1_SIGMA)
    assert straight.all()
    assert found == pytest.approx(k1, abs=0.004)


def test_an_edge_that_is_bent_itself_does_not_count():
    """Edges of real buildings bow by 0.1 % of their length, one sigma; this one by 0.6 %."""
    frame = [(200, 250), (2350, 250), (2350, 1700), (200, 1700)]
    lines = [
        seen(f"line-{i}", frame[i], frame[(i + 1) % 4], 0.05, bend_px=12.0 * (i == 2))
        for i in range(4)
    ]
    found, straight = vote_on_distortion(lines, LENS, K1_SIGMA)
    assert straight.tolist() == [True, True, False, True]
    assert found == pytest.approx(0.05, abs=0.006)


def test_a_bowed_edge_is_its_own_parabola():
    x = np.linspace(-50, 50, 30)
    sigma = np.full(30, 0.05)
    bow = np.c_[x, 1e-3 * x**2]
    normals = np.tile([0.0, 1.0], (30, 1))
    assert own_misfit(EdgeSamples(bow, normals, sigma)) == pytest.approx(0, abs=1e-6)
    noise = np.random.default_rng(3).normal(0, 0.05, (200, 30))
    misfits = [own_misfit(EdgeSamples(bow + np.c_[0 * x, n], normals, sigma)) for n in noise]
    # Chi-square's mean is its degrees of freedom: samples less the parabola's three. Huber's loss
    # takes a little off beyond two sigmas.
    assert np.mean(misfits) == pytest.approx(27, rel=0.06)


def test_noise_of_a_bent_edge_s_samples_costs_what_it_costs_on_a_straight_one():
    """Chi-square's mean (scipy's) with the samples less the parabola's three, besides the odds."""
    rng = np.random.default_rng(5)
    line = seen("a", [100, 1500], [1600, 1500], 0.0)
    count = len(line.samples)
    noisy = []
    for _ in range(100):
        noise = rng.normal(size=(count, 1)) * line.samples.sigma_px[:, None] * [0, 1]
        samples = replace(line.samples, points_px=line.samples.points_px + noise)
        noisy.append(replace(line, samples=samples))
    priors = LinePriors.of(noisy, 2560, ModelTerms())
    prices = prices_of_bent(noisy, priors)
    odds = (0.95 / 0.05) ** 2 * (BENT_BOW_SHARE / BOW_SHARE) ** 2
    bent = 2 * np.log(priors.best_density / 0.5) + np.log(odds)
    # Huber's loss takes a little off beyond two sigmas.
    assert np.mean(prices - bent) == pytest.approx(chi2.mean(count - 3), rel=0.08)
