"""The pose of a further photo from exact matches, by the wall they lie on or by the floor."""

import numpy as np
import pytest

from tests.rectification.camera.test_photos_observation import (
    BESIDE,
    CAMERA,
    FLOOR_MM,
    floor_points,
    points,
)
from visualiser.rectification.joined.chain import agrees
from visualiser.rectification.joined.features import Matches
from visualiser.rectification.joined.next_pose import Floor, PairPose, pose_from_matches, runs_under

RNG_NOISE_PX = 0.2


def matches(*groups):
    rng = np.random.default_rng(4)
    xyz = np.concatenate(groups)
    seen = [
        c.project(xyz)[0] + rng.normal(0, RNG_NOISE_PX, (len(xyz), 2)) for c in (CAMERA, BESIDE)
    ]
    return Matches(*seen, np.full(len(xyz), 0.35))


def test_points_of_the_wall_place_the_next_photo():
    wall, room = points()
    pose = pose_from_matches(CAMERA, matches(wall, room))
    assert pose.on_wall[: len(wall)].mean() > 0.9
    assert pose.camera.translation_mm == pytest.approx(BESIDE.translation_mm, abs=40)
    assert agrees(pose, 2 * len(wall))


def test_without_the_wall_a_floor_of_known_height_places_it():
    """Things before the wall alone say which way the next photo was taken, not how far off."""
    (_, room), floor = points(), floor_points()
    room, floor = room + [0, 0, 300.0], floor + [0, 0, 350.0]  # well before the wall
    shared = matches(room, floor)
    height = Floor(FLOOR_MM, 5.0)
    poses = [pose_from_matches(CAMERA, shared, known) for known in (None, height)]
    off = [np.linalg.norm(p.camera.translation_mm - BESIDE.translation_mm) for p in poses]
    assert off[1] < min(40, 0.7 * off[0])
    pose = poses[1]
    assert agrees(pose, len(shared.sigma_px))
    assert pose.on_floor[len(room) :].mean() > 0.9
    assert not pose.on_floor[: len(room)].any()


@pytest.mark.parametrize("wide_mm", [160, 420])
def test_faces_before_a_plain_wall_are_not_taken_for_the_wall(wide_mm):
    """Fronts of one box or of a row, 250 mm before the wall, among things at other depths."""
    rng = np.random.default_rng(6)
    x, y = rng.uniform([700, -600], [700 + wide_mm, -390], (60, 2)).T
    front = np.c_[x, y, np.full(60, 250.0)]
    (_, room) = points()
    room = room + [0, 0, 300.0]
    shared = matches(front, room)
    pose = pose_from_matches(CAMERA, shared)
    assert pose is None or not agrees(pose, len(shared.sigma_px))
    # Spread over the wall as a wall's own marks are, as many points are one.
    assert agrees(pose_from_matches(CAMERA, matches(*points())), 80)


def test_the_front_of_a_low_bench_is_not_taken_for_the_floor_it_stands_on():
    """A strip of it lies as high as the floor at whatever distance puts it there."""
    rng = np.random.default_rng(8)
    x, y = rng.uniform([500, FLOOR_MM + 10], [1300, FLOOR_MM + 230], (400, 2)).T
    front = np.c_[x, y, np.full(400, 450.0)]
    (_, room) = points()
    shared = matches(front, room + [0, 0, 300.0])
    pose = pose_from_matches(CAMERA, shared, Floor(FLOOR_MM, 5.0))
    assert pose is None or not agrees(pose, len(shared.sigma_px))


def test_a_sideboards_front_that_stands_on_the_floor_is_not_taken_for_the_wall():
    """At another distance from photo to photo it lies where the wall does, and nothing behind."""
    rng = np.random.default_rng(8)
    x, y = rng.uniform([500, FLOOR_MM + 10], [1300, FLOOR_MM + 700], (400, 2)).T
    (_, room) = points()
    shared = matches(np.c_[x, y, np.full(400, 450.0)], room + [0, 0, 300.0])
    taken = pose_from_matches(CAMERA, shared)
    assert taken is not None
    assert taken.on_wall.sum() > 100  # where the floor is not known
    pose = pose_from_matches(CAMERA, shared, Floor(FLOOR_MM, 5.0))
    assert pose is None or not agrees(pose, len(shared.sigma_px))


def test_a_wall_above_its_floor_does_not_run_under_it():
    wall, _ = points()
    assert not runs_under(Floor(FLOOR_MM, 5.0), wall[:, :2])
    assert runs_under(Floor(float(np.median(wall[:, 1])) + 80, 5.0), wall[:, :2])


@pytest.mark.parametrize(("on_wall", "joined"), [(70, False), (300, True)])
def test_a_few_faces_of_boxes_among_many_do_not_carry_the_size(on_wall, joined):
    """At one distance from photo to photo or another, some faces lie where the wall would."""
    lies = np.arange(1200) < on_wall
    pose = PairPose(BESIDE, lies, ~lies, np.zeros(1200, bool), backs=True)
    assert agrees(pose, 1200) == joined
