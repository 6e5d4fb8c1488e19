"""The renderer's geometry and what it draws from seeds; path tracing itself is not needed here."""

from itertools import combinations
from pathlib import Path

import cv2
import numpy as np
import pytest

RENDERER = Path(__file__).parents[2] / "sample_photos" / "renderer"


@pytest.fixture(autouse=True)
def _renderer_on_path(monkeypatch):
    monkeypatch.syspath_prepend(str(RENDERER))


@pytest.fixture
def camera():
    from camera import Camera

    position = (400.0, 1500.0, 2800.0)
    return Camera(1600, 1200, 1210.0, 803.0, 596.0, position, 17.0, -4.0, 2.5, 0.06, -0.015, 1e-3)


@pytest.fixture
def points():
    rng = np.random.default_rng(3)
    return np.c_[rng.uniform(-300, 1500, 200), rng.uniform(900, 2000, 200), rng.uniform(0, 60, 200)]


def test_projection_agrees_with_opencv(camera, points):
    turn, _ = cv2.Rodrigues(camera.rotation)
    shift = -camera.rotation @ np.array(camera.position_mm)
    lens = np.array([camera.k1, camera.k2, camera.p1, camera.p2])
    expected, _ = cv2.projectPoints(points, turn, shift, camera.k_matrix, lens)
    assert camera.project(points) == pytest.approx(expected.reshape(-1, 2), abs=1e-6)


def test_undistortion_is_the_inverse(camera, points):
    observed = camera.project(points)
    ideal = camera.project(points, observed=False)
    assert np.abs(observed - ideal).max() > 1  # there is something to invert
    assert camera.undistort(observed) == pytest.approx(ideal, abs=1e-6)


def test_homography_is_the_projection_of_the_wall(camera, points):
    on_wall = np.c_[points[:, :2], np.zeros(len(points))]
    h = np.c_[points[:, :2], np.ones(len(points))] @ camera.homography.T
    assert h[:, :2] / h[:, 2:] == pytest.approx(camera.project(on_wall, observed=False), abs=1e-6)


def rectangle(frame):
    (x, y), w, h = frame.plan_centre_mm, frame.width_mm / 2, frame.height_mm / 2
    return x - w, y - h, x + w, y + h


@pytest.mark.parametrize("seed", range(6))
def test_planned_groups_keep_their_gaps(seed):
    from families import group

    frames = group(seed, 1600).frames
    assert 3 <= len(frames) <= 9
    for one, two in combinations(map(rectangle, frames), 2):
        across = max(one[0], two[0]) - min(one[2], two[2])
        down = max(one[1], two[1]) - min(one[3], two[3])
        assert max(across, down) >= 50 - 1e-6
    for frame in frames:
        assert np.abs(frame.offset_mm).max() <= 15
        assert abs(frame.tilt_deg) <= 2
        assert min(frame.window_mm) > 0


def test_one_piece_is_missing():
    from families import group

    frames = group(3, 1600, "missing").frames
    assert sum(not frame.hung for frame in frames) == 1


def test_two_pieces_are_swapped():
    from families import group

    frames = group(3, 1600, "swapped").frames
    swapped = {k: f.swapped_with for k, f in enumerate(frames) if f.swapped_with is not None}
    assert len(swapped) == 2
    assert all(swapped[other] == k for k, other in swapped.items())
    for k, other in swapped.items():
        off = np.subtract(frames[k].hung_centre_mm, frames[other].plan_centre_mm)
        assert np.abs(off).max() <= 15


def test_a_pair_differs_in_what_hangs_only():
    from dataclasses import replace

    from families import bare_and_dressed

    bare, dressed = bare_and_dressed(2, 1600)
    assert bare.references
    assert not bare.frames
    assert len(dressed.frames) >= 3
    assert replace(dressed, family="bare", references=bare.references, frames=()) == bare


def test_walls_without_a_reference_show_rectangles():
    from families import no_reference

    specs = [no_reference(seed, 1600) for seed in range(8)]
    assert all(not spec.references and spec.decoys for spec in specs)
    assert any(spec.frames for spec in specs)


def test_the_same_seed_draws_the_same_photo():
    from drawing import sample
    from families import group

    assert sample(5, 1600) == sample(5, 1600)
    assert group(5, 1600) == group(5, 1600)
    assert group(5, 1600) != group(6, 1600)


@pytest.mark.parametrize("seed", range(8))
def test_fittings_are_in_the_picture(seed):
    from families import fitted

    spec = fitted(seed, 1600)
    kinds = [what.kind for what in spec.fittings]
    assert kinds == [["radiator"], ["window"], ["radiator", "window"], []][seed % 4]
    for what in spec.fittings:
        corners = np.c_[what.corners_mm, np.zeros(4)]
        assert spec.camera.inside(spec.camera.project(corners)).all()
        assert what.corners_mm[:, 1].min() > 0
