from pathlib import Path

import cv2
import numpy as np
import pytest

from visualiser.errors import MeasurementError
from visualiser.rectification.homography import fit_homography

GRAF = Path("/usr/share/doc/opencv-doc/examples/data")
needs_graf = pytest.mark.skipif(
    not (GRAF / "H1to3p.xml").exists(), reason="Debian's opencv-doc is not installed"
)

TRUE = np.array([[0.8, -0.1, 40.0], [0.12, 0.9, -20.0], [2e-4, -1e-4, 1.0]])
SQUARE = np.array([[100.0, 100.0], [500.0, 120.0], [480.0, 400.0], [90.0, 380.0]])


def mapped(points, matrix=TRUE):
    homogeneous = np.c_[points, np.ones(len(points))] @ matrix.T
    return homogeneous[:, :2] / homogeneous[:, 2:]


def test_exact_points_give_the_mapping_back():
    fit = fit_homography(SQUARE, mapped(SQUARE))
    assert fit.matrix / fit.matrix[2, 2] == pytest.approx(TRUE, rel=1e-8, abs=1e-9)


def test_agrees_with_scikit_image():
    """A second method: skimage.transform.ProjectiveTransform on the same noisy points."""
    from skimage.transform import ProjectiveTransform

    rng = np.random.default_rng(0)
    source = rng.uniform(0, 600, (30, 2))
    target = mapped(source) + rng.normal(0, 0.2, source.shape)
    theirs = ProjectiveTransform.from_estimate(source, target)
    ours = fit_homography(source, target)
    # Theirs minimises an algebraic error, ours the distance: they differ within the noise.
    assert np.abs(ours.map(source) - theirs(source)).max() < 0.2
    left = [np.square(m - target).sum() for m in (ours.map(source), theirs(source))]
    assert left[0] <= left[1] * (1 + 1e-9)


@needs_graf
def test_the_published_wall_is_mapped_back_within_a_pixel():
    """Mikolajczyk et al., Oxford VGG: graf 1 to 3, H1to3p.xml; four points rounded as picked."""
    storage = cv2.FileStorage(str(GRAF / "H1to3p.xml"), cv2.FILE_STORAGE_READ)
    published = storage.getFirstTopLevelNode().mat()
    picked = np.array([[150.0, 120.0], [640.0, 140.0], [620.0, 520.0], [160.0, 500.0]])
    fit = fit_homography(picked, np.round(mapped(picked, published), 1))
    grid = np.stack(np.meshgrid(np.arange(0, 800, 20.0), np.arange(0, 640, 20.0)), -1).reshape(
        -1, 2
    )
    there = mapped(grid, published)
    common = ((there >= 0) & (there <= [799, 639])).all(axis=1)
    assert common.sum() > 500
    assert np.hypot(*(fit.map(grid) - there)[common].T).max() < 1.0


def sample(count, seed=0, runs=4000, sigma=0.3):
    """Monte Carlo of the fit: mapped test point of each run."""
    rng = np.random.default_rng(seed)
    source = np.r_[SQUARE, np.random.default_rng(1).uniform(90, 480, (20, 2))][:count]
    exact = mapped(source)
    probe = np.array([[700.0, 500.0]])
    fits = [fit_homography(source, exact + rng.normal(0, sigma, exact.shape)) for _ in range(runs)]
    return np.array([f.map(probe)[0] for f in fits]), fit_homography(source, exact, sigma), probe


@pytest.mark.parametrize("count", [4, 10])
def test_first_order_covariance_agrees_with_sampling(count):
    """Protocol of Criminisi, Reid & Zisserman, BMVC 1997, figure 2: 3-sigma ellipses coincide."""
    seen, fit, probe = sample(count, runs=800)
    stated = np.linalg.eigvalsh(fit.propagate(probe)[0])
    drawn = np.linalg.eigvalsh(np.cov(seen.T))
    # A variance from 800 runs has a standard deviation of 5 %: three of them, and non-linearity.
    assert drawn == pytest.approx(stated, rel=0.18)


def test_uncertainty_falls_with_points_and_grows_with_distance():
    """Criminisi, Reid & Zisserman, BMVC 1997, section 7."""
    probe = np.array([[700.0, 500.0]])
    source = np.r_[SQUARE, np.random.default_rng(1).uniform(90, 480, (20, 2))]
    areas = []
    for count in (4, 5, 10):
        fit = fit_homography(source[:count], mapped(source[:count]))
        areas.append(np.linalg.det(fit.propagate(probe)[0]))
    assert areas[0] > areas[1] > areas[2] > 0
    ray = np.array([[500.0 + 50 * k, 400.0 + 30 * k] for k in range(6)])
    traces = np.trace(fit.propagate(ray), axis1=1, axis2=2)
    assert (np.diff(traces) > 0).all()


def test_mapping_and_point_errors_add():
    """The same paper, section 6: the third case is the sum of the first two."""
    fit = fit_homography(SQUARE, mapped(SQUARE), 0.3)
    exact = fit_homography(SQUARE, mapped(SQUARE), 0.0)
    points = np.array([[300.0, 250.0], [650.0, 480.0]])
    blur = np.broadcast_to(0.25 * np.eye(2), (2, 2, 2))
    both = fit.propagate(points, blur)
    assert both == pytest.approx(fit.propagate(points) + exact.propagate(points, blur), rel=1e-9)


@pytest.mark.parametrize(
    "points",
    [
        SQUARE[:3],
        np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [3.0, 0.0]]),
        np.zeros((4, 2)),
    ],
)
def test_degenerate_points_are_refused(points):
    with pytest.raises(MeasurementError):
        fit_homography(points, points + 1.0)
