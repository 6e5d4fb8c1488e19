"""Against published quantiles and a normal sample."""

import numpy as np
import pytest
from scipy.stats import norm

from visualiser.statistics import COVERAGE_95, MAD_TO_SIGMA, robust_sigma


def test_quantiles_are_those_of_the_normal_distribution():
    """JCGM 100:2008, table G.1 states 1.960; SciPy computes both."""
    assert norm.ppf(0.975) == pytest.approx(COVERAGE_95, abs=5e-4)
    assert 1 / norm.ppf(0.75) == pytest.approx(MAD_TO_SIGMA, abs=5e-5)


def test_the_median_sees_through_one_third_of_strangers():
    """Breakdown point 50 %: Rousseeuw and Croux 1993, section 1."""
    sample = np.random.default_rng(1).normal(0, 2.5, (4000, 2))
    assert robust_sigma(sample, axis=0) == pytest.approx([2.5, 2.5], rel=0.05)
    sample[::3] = 1e6
    assert np.all(robust_sigma(sample, axis=0) < 5)
    assert robust_sigma([3.0, -3.0, 3.0]) == pytest.approx(3 * MAD_TO_SIGMA)
