"""Several photos as one observation: derivatives, and poses found again from exact points."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rectification.camera.test_observation import (
    CAMERA,
    LENS,
    PRIOR,
    edge,
    sheet,
)
from visualiser.rectification.camera.adjustment import adjust
from visualiser.rectification.camera.lens_profile import LensPrior
from visualiser.rectification.camera.line_observation import Direction, LinesObservation
from visualiser.rectification.camera.observation import HeldCamera
from visualiser.rectification.camera.photos_observation import (
    FOCUS_SIGMA,
    PhotosObservation,
    SeenIn,
)
from visualiser.rectification.camera.projection import FLIP, CameraState, rotation_from_vector
from visualiser.rectification.camera.tie_points import (
    ON_PLANE_SIGMA_MM,
    PATCH_MM,
    WAVES_MM,
    TiePoints,
    patches_of,
)

BESIDE = CameraState(
    rotation_from_vector(np.array([0.02, -0.15, -0.02])) @ FLIP,
    np.array([-1300.0, -40.0, 2700.0]),
    LENS,
)


def points(seed=0, count=40):
    """Places on the wall, and in the room before it, that both photos see."""
    rng = np.random.default_rng(seed)
    wall = np.c_[rng.uniform([300, -900], [1400, 900], (count, 2)), np.zeros(count)]
    room = wall + [0, 0, 1] * rng.uniform(100, 700, (count, 1))
    return wall, room


FLOOR_MM = -1400.0


def floor_points(seed=0, count=40):
    """Places on the floor before the wall that both photos see."""
    rng = np.random.default_rng(seed)
    x, z = rng.uniform([300, 50], [1400, 900], (count, 2)).T
    return np.c_[x, np.full(count, FLOOR_MM), z]


def ties(noise=0.0, kinds=("wall", "room"), floor_sigma_mm=0.0):
    rng = np.random.default_rng(3)
    out = []
    wall, room = points()
    for kind, xyz in {"wall": wall, "room": room, "floor": floor_points()}.items():
        seen = [c.project(xyz)[0] + rng.normal(0, 1, (len(xyz), 2)) * noise
                for c in (CAMERA, BESIDE)]  # fmt: skip
        sigma = np.full(len(xyz), max(noise, 0.3))
        plane = (floor_sigma_mm, FLOOR_MM) if kind == "floor" else (0.0, 0.0)
        if kind in kinds:
            out.append(TiePoints(0, 1, kind, *seen, sigma, *plane))
    return tuple(out)


def photos(start=BESIDE, noise=0.0):
    lines = LinesObservation.of(
        [edge([-1500, 1100, 0], [1500, 1100, 0], camera=BESIDE)],
        [Direction("level", 1e-3)],
        BESIDE,
    )
    first = sheet(noise=noise)
    return PhotosObservation((CAMERA, start), (SeenIn(0, first), SeenIn(1, lines)), ties(noise))


def test_derivatives_agree_with_central_differences():
    """At the true cameras: what moves a residual's sigma is left out, and worth nothing there."""
    every = ties(kinds=("wall", "room", "floor"), floor_sigma_mm=5.0)
    every = (replace(every[0], patch=np.arange(every[0].size // 2) % 3), *every[1:])
    observation = replace(photos(), ties=every)
    own = observation.own_start(CAMERA)
    residual, by_camera, by_own = observation.linearise(CAMERA, own)
    rows = np.r_[: len(residual)][len(observation.seen[0].observation.groups) :]
    rows = rows[12:]  # the ties; the entries have tests of their own
    assert np.abs(residual[rows]).max() < 1e-6
    for i in range(11):
        step = np.zeros(11)
        step[i] = 1e-3 if i in (3, 4, 5, 9, 10) else 1e-6
        ahead = observation.linearise(CAMERA.moved(step), own).residual
        behind = observation.linearise(CAMERA.moved(-step), own).residual
        numeric = ((ahead - behind) / (2 * step[i]))[rows]
        scale = np.abs(by_camera[rows, i]).max() + 1e-6
        assert by_camera[rows, i] == pytest.approx(numeric, abs=1e-4 * scale), f"camera {i}"
    for i in (*range(7), observation.tie_places[2], *observation.patch_places[0]):
        step = np.zeros(len(own))
        step[i] = 1e-3 if i in (3, 4, 5) else 1e-6
        ahead = observation.linearise(CAMERA, own + step).residual
        behind = observation.linearise(CAMERA, own - step).residual
        numeric = ((ahead - behind) / (2 * step[i]))[rows]
        scale = np.abs(by_own[rows, i]).max() + 1e-6
        assert by_own[rows, i] == pytest.approx(numeric, abs=1e-4 * scale), f"own {i}"


def test_the_other_photos_pose_is_found_again_from_a_start_that_is_off():
    moved = BESIDE.moved(np.array([0.02, -0.02, 0.01, 30, -20, 60, 0, 0, 0, 0, 0]))
    observation = photos(replace(moved, lens=LENS))
    prior = replace(PRIOR, lens=LENS)
    solution = adjust(CAMERA, [observation], prior)
    found = observation.cameras(solution.camera, solution.own[0])[1]
    assert found.translation_mm == pytest.approx(BESIDE.translation_mm, abs=1.5)
    assert found.rotation == pytest.approx(BESIDE.rotation, abs=2e-4)


def test_the_covariance_of_the_other_photos_camera_holds_for_drawn_noise():
    """Mean squared deviation over its variance, 24 draws: chi-square, 1 in the mean."""
    off = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        observation = photos(noise=0.05)
        noisy = tuple(
            replace(tie, first_px=tie.first_px + rng.normal(0, 0.3, tie.first_px.shape),
                    second_px=tie.second_px + rng.normal(0, 0.3, tie.second_px.shape))
            for tie in ties()
        )  # fmt: skip
        observation = replace(observation, ties=noisy)
        solution = adjust(CAMERA, [observation], replace(PRIOR, lens=LENS))
        own, free = solution.own[0], solution.own_free[0]
        slope = observation.camera_jacobian(1, own, free)
        covariance = slope @ solution.joint @ slope.T
        found = observation.cameras(solution.camera, own)[1]
        shift = found.translation_mm - BESIDE.translation_mm
        off += list(shift**2 / np.diag(covariance)[3:6])
    assert 0.2 < np.mean(off) < 2.5


def test_a_floor_of_known_height_carries_the_size_where_the_wall_shows_nothing():
    """With things before the wall alone, how far the next photo was taken from is not told."""
    moved = BESIDE.moved(np.array([0.02, -0.02, 0.01, 30, -20, 60, 0, 0, 0, 0, 0]))
    bare = photos(replace(moved, lens=LENS))
    known = replace(bare, ties=ties(kinds=("room", "floor"), floor_sigma_mm=4.0))
    loose = replace(bare, ties=ties(kinds=("room",)))
    prior = replace(PRIOR, lens=LENS)
    sigma = []
    for observation in (known, loose):
        solution = adjust(CAMERA, [observation], prior)
        own, free = solution.own[0], solution.own_free[0]
        slope = observation.camera_jacobian(1, own, free)
        sigma.append(np.sqrt(np.diag(slope @ solution.joint @ slope.T)[3]))
        if observation is known:
            found = observation.cameras(solution.camera, own)[1]
            assert found.translation_mm == pytest.approx(BESIDE.translation_mm, abs=2.0)
    assert sigma[0] < 15
    assert sigma[1] > 10 * sigma[0]


def test_there_is_one_floor_whichever_photos_show_it():
    """Two pairs that see the same floor know its height no better than one."""
    once = ties(kinds=("wall", "floor"), floor_sigma_mm=6.0)
    observation = replace(photos(), ties=(*once, once[1]))
    assert observation.tie_places[1] == observation.tie_places[2]
    assert np.count_nonzero(observation.own_sigma == 6.0) == 1


def notes_on_waves(seed):
    """Points on five notes, each with its bit of a wavy wall before or behind the plane."""
    rng = np.random.default_rng(seed)
    middles = rng.uniform([400, -800], [1300, 800], (5, 2))
    note = np.repeat(np.arange(5), 50)
    wall = middles[note] + rng.uniform(-40, 40, (250, 2))
    alone = np.sqrt(ON_PLANE_SIGMA_MM["wall"] ** 2 - WAVES_MM**2)
    xyz = np.c_[wall, rng.normal(0, WAVES_MM, 5)[note] + rng.normal(0, alone, 250)]
    focused = replace(LENS, focal_px=LENS.focal_px * np.exp(rng.normal(0, FOCUS_SIGMA)))
    cameras = CAMERA, replace(BESIDE, lens=focused)
    seen = [c.project(xyz)[0] + rng.normal(0, 0.1, wall.shape) for c in cameras]
    return seen, note


def squares_of_notes(*, patches):
    """Squared deviations of the other camera's pose over their covariance, 40 draws: mean."""
    squares = []
    for seed in range(40):
        seen, note = notes_on_waves(seed)
        tie = TiePoints(0, 1, "wall", *seen, np.full(250, 0.1), patch=note if patches else None)
        # The first camera is held where it is: what is asked is what the ties say of the other.
        held = PhotosObservation(
            (CAMERA, BESIDE), (SeenIn(0, HeldCamera(CAMERA, 1e-12 * np.eye(11))),), (tie,)
        )
        solution = adjust(CAMERA, [held], replace(PRIOR, lens=LENS))
        own, free = solution.own[0], solution.own_free[0]
        slope = held.camera_jacobian(1, own, free)
        covariance = (slope @ solution.joint @ slope.T)[3:6, 3:6]
        off = held.cameras(solution.camera, own)[1].translation_mm - BESIDE.translation_mm
        squares.append(off @ np.linalg.solve(covariance, off) / 3)
    return np.mean(squares)


def test_many_points_on_few_notes_are_few_witnesses_of_where_the_plane_is():
    """Drawn truth: each note stands off by itself. Chi-square of 120: 0.75 to 1.3 in the mean."""
    assert 0.7 < squares_of_notes(patches=True) < 1.35
    assert squares_of_notes(patches=False) > 2


def test_a_patch_is_one_whichever_pair_of_photos_sees_it():
    seen, note = notes_on_waves(0)
    one, other = (TiePoints(0, 1, "wall", *seen, np.full(250, 0.3), patch=note + k) for k in (0, 2))
    observation = PhotosObservation((CAMERA, BESIDE), (SeenIn(0, sheet()),), (one, other))
    assert list(observation.patch_places[0][2:]) == list(observation.patch_places[1][:3])
    assert observation.own_size == observation.patch_places[1][-1] + 1


def test_places_near_each_other_are_of_one_patch_and_far_ones_of_several():
    wall = np.array([[10.0, 10.0], [90.0, 90.0], [10 + PATCH_MM, 10.0], [10.0, 10 - PATCH_MM]])
    patch = patches_of(wall)
    assert patch[0] == patch[1]
    assert len({*patch}) == 3


def test_rays_that_miss_each_other_by_chance_do_not_lengthen_the_focal_length():
    """Drawn noise on things before the wall: focal lengths found are as often too short."""
    changes = []
    loose = np.diag([*[1e-12] * 6, 0.02**2, *[1e-12] * 4])
    for seed in range(24):
        rng = np.random.default_rng(seed)
        _, room = points(seed, count=300)
        seen = [c.project(room)[0] + rng.normal(0, 0.5, (300, 2)) for c in (CAMERA, BESIDE)]
        tie = TiePoints(0, 1, "room", *seen, np.full(300, 0.5))
        held = SeenIn(0, HeldCamera(CAMERA, loose))
        observation = PhotosObservation((CAMERA, BESIDE), (held,), (tie,))
        prior = LensPrior(LENS, np.diag([0.02**2, *[1e-12] * 4]))
        found = adjust(CAMERA, [observation], prior).camera.lens.focal_px
        changes.append(np.log(found / LENS.focal_px))
    assert abs(np.mean(changes)) < 3 * np.std(changes) / np.sqrt(len(changes))
    assert np.std(changes) < 0.02


def test_what_is_left_of_a_gap_moves_with_the_focal_length_as_its_derivative_says():
    (tie,) = ties(noise=1.0, kinds=("room",))
    weights = tie.weights(CAMERA, BESIDE)
    step = np.zeros(11)
    step[6] = 1e-6
    told = tie.linearise(CAMERA, BESIDE, weights).by_first[:, 6]
    ahead, behind = (
        tie.linearise(CAMERA.moved(sign * step), BESIDE, weights).residual for sign in (1, -1)
    )
    numeric = (ahead - behind) / 2e-6
    assert told == pytest.approx(numeric, abs=1e-4 * np.abs(numeric).max())
