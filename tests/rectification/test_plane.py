"""A small sample of the benchmark of 200 poses, with its real bounds."""

import numpy as np
import pytest

from tests.synthetic.scoring import score_scene, table
from visualiser.rectification.camera.projection import FLIP, CameraState, Lens, rotation_from_vector
from visualiser.rectification.plane import WallPlane, accuracy_map

LENS = Lens(1500.0, 999.5, 749.5, 0.03, -0.01)
SPREAD = np.array([0.002, 0.002, 0.001, 2.0, 2.0, 12.0, 0.01, 0.006, 0.004, 4.0, 4.0])


@pytest.fixture
def plane():
    rng = np.random.default_rng(2)
    mix = rng.normal(0, 1, (11, 11)) * 0.25 + np.eye(11)
    covariance = SPREAD[:, None] * (mix @ mix.T) * SPREAD * 0.1
    turn = rotation_from_vector(np.array([0.05, 0.2, 0.02])) @ FLIP
    return WallPlane(
        LENS, turn, np.array([100.0, 40.0, 2800.0]), np.zeros((4, 2)), 0.0, covariance,
        flatness_sigma_mm=0.0,
    )  # fmt: skip


def sampled(plane, points_mm, runs=1500):
    """Monte Carlo: where points at fixed pixels come to lie under other parameters."""
    rng = np.random.default_rng(3)
    pixels = plane.to_photo(points_mm)
    state = CameraState(plane.rotation, plane.translation_mm, plane.lens)
    out = []
    for change in rng.multivariate_normal(np.zeros(11), plane.parameter_covariance, runs):
        moved = state.moved(change)
        other = WallPlane(
            moved.lens, moved.rotation, moved.translation_mm, np.zeros((4, 2)), 0.0,
            plane.parameter_covariance,
        )  # fmt: skip
        out.append(other.to_wall(pixels))
    return np.array(out)


def test_covariance_agrees_with_sampling(plane):
    """Criminisi, Reid & Zisserman, BMVC 1997, figure 2, and JCGM 101:2008, clause 8."""
    points = np.array([[0.0, 0.0], [800.0, 300.0], [-1200.0, -600.0]])
    runs = sampled(plane, points)
    stated = plane.covariance(points)
    for i in range(len(points)):
        drawn = np.linalg.eigvalsh(np.cov(runs[:, i].T))
        # 1500 runs: 3.7 % on a variance; three of them, and non-linearity.
        assert drawn == pytest.approx(np.linalg.eigvalsh(stated[i]), rel=0.14)


def test_a_length_needs_the_joint_covariance(plane):
    """The independent form of Criminisi et al. is far off; the joint one agrees with sampling."""
    ends = np.array([[800.0, 300.0], [1100.0, 350.0]])
    runs = sampled(plane, ends)
    drawn = float(np.hypot(*(runs[:, 1] - runs[:, 0]).T).std())
    _, half = plane.length(*ends)
    assert half / 1.96 == pytest.approx(drawn, rel=0.08)
    along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    apart = float(np.sqrt(sum(along @ c @ along for c in plane.covariance(ends))))
    assert apart > 1.5 * drawn


def test_length_of_nothing_is_nothing(plane):
    assert plane.length([10.0, 10.0], [10.0, 10.0])[0] == 0.0


def test_flatness_adds_where_the_wall_is_seen_askew(plane):
    from dataclasses import replace

    points = np.array([plane.camera_mm[:2], [2000.0, 0.0]])
    bumpy = replace(plane, flatness_sigma_mm=2.0)
    added = np.trace(bumpy.covariance(points) - plane.covariance(points), axis1=1, axis2=2)
    assert added[0] == pytest.approx(0, abs=1e-9)
    # Closed form: a bump of z shifts what is seen by z times the slope of the line of sight.
    slope = (points[1] - plane.camera_mm[:2]) / plane.camera_mm[2]
    assert added[1] == pytest.approx(4.0 * slope @ slope, rel=1e-6)


def test_accuracy_map_grows_away_from_the_reference(plane):
    grid = accuracy_map(plane, 2000, 1500)
    assert grid.half_width_mm.shape == (36, 48)
    middle = plane.to_photo([[0.0, 0.0]])[0]
    column = int(np.abs(grid.x_px - middle[0]).argmin())
    row = int(np.abs(grid.y_px - middle[1]).argmin())
    finite = grid.half_width_mm[np.isfinite(grid.half_width_mm)]
    assert grid.half_width_mm[row, column] < np.median(finite)


def test_points_behind_the_camera_are_left_out():
    turn = rotation_from_vector(np.array([0.0, 1.2, 0.0])) @ FLIP
    steep = WallPlane(
        LENS, turn, np.array([0.0, 0.0, 2000.0]), np.zeros((4, 2)), 0.0, np.diag(SPREAD**2)
    )
    values = accuracy_map(steep, 2000, 1500).half_width_mm
    assert np.isnan(values).any()
    assert np.isfinite(values).any()


@pytest.mark.timeout(600)
def test_walls_with_lines_are_measured_to_millimetres():
    scores = [score_scene(s, lines=True, long_side=1600) for s in range(500, 506)]
    near, far = table(scores)
    assert near["median_mm"] <= 1.5
    assert near["p95_mm"] <= 5
    assert far["median_mm"] <= 3
    assert far["p95_mm"] <= 10
    assert far["ratio"] >= 8
    assert np.median([s.level_deg for s in scores]) <= 0.15


@pytest.mark.timeout(600)
def test_walls_without_lines_are_measured_to_a_few_millimetres_nearby():
    scores = [score_scene(s, lines=False, long_side=1600) for s in range(600, 604)]
    near, far = table(scores)
    assert near["median_mm"] <= 6
    assert far["ratio"] > 1.5
