"""The covariance of a fit: against NumPy's inverse where that is sound, and positive where not."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from visualiser.rectification.camera.adjustment import _inverse


@given(st.integers(0, 10_000))
def test_the_covariance_is_the_inverse_of_the_normal_matrix(seed: int) -> None:
    rng = np.random.default_rng(seed)
    jacobian = rng.normal(size=(40, 9)) * 10.0 ** rng.uniform(-4, 4, 9)
    normal = jacobian.T @ jacobian
    scale = np.sqrt(np.outer(np.diag(normal), np.diag(normal)))
    assert np.allclose(_inverse(normal) * scale, np.linalg.inv(normal / scale), rtol=1e-6)


@given(st.integers(0, 10_000))
def test_what_is_left_open_is_unsure_and_not_impossible(seed: int) -> None:
    """Two parameters that only act together: their difference has no variance but a huge one."""
    rng = np.random.default_rng(seed)
    jacobian = rng.normal(size=(40, 6))
    jacobian[:, 5] = jacobian[:, 4]
    covariance = _inverse(jacobian.T @ jacobian)
    apart = np.array([0, 0, 0, 0, 1.0, -1.0])
    assert np.linalg.eigvalsh(covariance)[0] > -1e-9 * covariance.max()
    assert apart @ covariance @ apart > 1e9
    assert covariance[0, 0] < 1
