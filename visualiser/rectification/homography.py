"""A plain plane-to-plane mapping with its covariance: for pictures of which nothing is known.

The wall is measured by a camera model, which needs fewer unknowns; this is for pairs of pictures
(a photo before and after hanging) and for judging the camera model against.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from visualiser.errors import MeasurementError
from visualiser.geometry import Covariances, Matrix, frozen

STEPS = 15


@dataclass(frozen=True, slots=True, eq=False)
class Homography:
    """Mapping x' ~ H x of one plane to another.

    Parameters
    ----------
    matrix
        (3, 3), of unit norm.
    covariance
        (9, 9) of its elements, row by row; of rank 8, since scale does not count.
    """

    matrix: Matrix
    covariance: Matrix

    def __post_init__(self) -> None:
        object.__setattr__(self, "matrix", frozen(self.matrix, (3, 3)))
        object.__setattr__(self, "covariance", frozen(self.covariance, (9, 9)))

    def map(self, points: Matrix) -> Matrix:
        """Map points (N, 2)."""
        mapped = np.c_[points, np.ones(len(points))] @ self.matrix.T
        return np.asarray(mapped[:, :2] / mapped[:, 2:])

    def propagate(self, points: Matrix, point_covariance: Covariances | None = None) -> Covariances:
        """Covariance (N, 2, 2) of mapped points, the mapping's own and that of the points.

        References
        ----------
        Criminisi, Reid & Zisserman, "A Plane Measuring Device", BMVC 1997, section 6: the
        covariance of a measured point is the sum of both contributions.
        """
        points = np.asarray(points, float)
        by_matrix, by_point = _derivatives(self.matrix, points)
        spread = by_matrix @ self.covariance @ by_matrix.transpose(0, 2, 1)
        if point_covariance is not None:
            spread = spread + by_point @ point_covariance @ by_point.transpose(0, 2, 1)
        return np.asarray(spread)


def fit_homography(source: Matrix, target: Matrix, sigma: float = 1.0) -> Homography:
    """Fit a homography to pairs of points by least squares in the target.

    Parameters
    ----------
    source, target
        Points (N, 2), four pairs or more, no three of four in a row.
    sigma
        Standard uncertainty of a target point, in x and in y.

    Raises
    ------
    MeasurementError
        If the points do not determine a mapping.

    References
    ----------
    Hartley & Zisserman, *Multiple View Geometry*, 2nd ed. 2003, algorithm 4.1 (normalisation) and
    section 5.2 (covariance of the estimate by the pseudo-inverse).
    """
    source, target = np.asarray(source, float), np.asarray(target, float)
    failed = MeasurementError(
        "The points do not determine a mapping between the two pictures.",
        hint="Choose four points or more, spread out and no three in a row.",
    )
    if len(source) < 4 or source.shape != target.shape:
        raise failed
    to_unit, from_unit = _normaliser(source), _normaliser(target)
    a, b = _apply(to_unit, source), _apply(from_unit, target)
    first = cv2.findHomography(a, b, 0)[0]
    if first is None or not np.isfinite(first).all():
        raise failed
    matrix = np.asarray(first, float) / np.linalg.norm(first)
    scale = from_unit[0, 0]
    for _ in range(STEPS):
        jacobian = _derivatives(matrix, a)[0].reshape(-1, 9)
        residual = (_apply(matrix, a) - b).ravel()
        change = np.linalg.lstsq(jacobian, -residual, rcond=1e-10)[0].reshape(3, 3)
        matrix = (matrix + change) / np.linalg.norm(matrix + change)
        if np.abs(change).max() < 1e-14:
            break
    jacobian = _derivatives(matrix, a)[0].reshape(-1, 9)
    values = np.linalg.svd(jacobian, compute_uv=False)
    # Eight of the nine count; where the eighth vanishes the points are degenerate.
    if not np.isfinite(values).all() or values[7] < 1e-7 * values[0]:
        raise failed
    spread = (
        np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-12, hermitian=True) * (sigma * scale) ** 2
    )
    # Back from normalised coordinates: H = T'^-1 H_n T, linear in the elements.
    back = np.kron(np.linalg.inv(from_unit), to_unit.T)
    full = (back @ matrix.ravel()).reshape(3, 3)
    size = np.linalg.norm(full)
    return Homography(full / size, back @ spread @ back.T / size**2)


def _normaliser(points: Matrix) -> Matrix:
    """Similarity (3, 3) that puts points about the origin at a mean distance of root two."""
    centre = points.mean(axis=0)
    spread = max(float(np.hypot(*(points - centre).T).mean()), 1e-12)
    s = np.sqrt(2) / spread
    return np.array([[s, 0, -s * centre[0]], [0, s, -s * centre[1]], [0, 0, 1.0]])


def _apply(matrix: Matrix, points: Matrix) -> Matrix:
    mapped = np.c_[points, np.ones(len(points))] @ matrix.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])


def _derivatives(matrix: Matrix, points: Matrix) -> tuple[Matrix, Matrix]:
    """Differentiate mapped points by the matrix (N, 2, 9) and by the points (N, 2, 2)."""
    homogeneous = np.c_[points, np.ones(len(points))]
    mapped = homogeneous @ matrix.T
    w = mapped[:, 2]
    place = mapped[:, :2] / w[:, None]
    by_matrix = np.zeros((len(points), 2, 9))
    for k in (0, 1):
        by_matrix[:, k, 3 * k : 3 * k + 3] = homogeneous / w[:, None]
        by_matrix[:, k, 6:] = -place[:, k, None] * homogeneous / w[:, None]
    by_point = (matrix[None, :2, :2] - place[:, :, None] * matrix[2, :2]) / w[:, None, None]
    return by_matrix, by_point
