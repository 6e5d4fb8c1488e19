"""Photos that only the floor ties are of one wall where its foot lies where it should."""

from types import SimpleNamespace

import numpy as np
import pytest

from visualiser.rectification.camera.line_observation import Direction
from visualiser.rectification.camera.projection import FLIP, CameraState, Lens, rotation_from_vector
from visualiser.rectification.camera.tie_points import TiePoints
from visualiser.rectification.joined.next_pose import Floor
from visualiser.rectification.joined.same_wall import first_unproven, foot_length, may_be_front

FLOOR = Floor(-1450.0, 3.0)


def camera(x_mm):
    rotation = rotation_from_vector(np.array([-0.2, 0.05, 0.0])) @ FLIP
    return CameraState(rotation, -rotation @ np.array([x_mm, -100.0, 2200.0]), Lens(1000.0, 0, 0))


def lines(one, *ends_mm, kind="level"):
    """The room's lines of a photo, as drawn by closed form."""
    seen = [SimpleNamespace(ends_px=one.project(np.array(ends, float))[0]) for ends in ends_mm]
    return SimpleNamespace(lines=seen, directions=[Direction(kind, 0.001)] * len(seen))


def tie(kind, count=40):
    zeros = np.zeros((count, 2))
    return TiePoints(0, 1, kind, zeros, zeros, np.ones(count))


def test_the_foot_is_as_long_as_it_is():
    one = camera(2000.0)
    foot = lines(one, [[1500, -1450, 15], [2300, -1450, 15]])
    assert foot_length(one, foot, FLOOR) == pytest.approx(800.0)


def test_a_wall_further_back_has_its_foot_elsewhere():
    one = camera(2000.0)
    back = lines(one, [[1500, -1450, -300], [2300, -1450, -300]])
    rail = lines(one, [[1500, -500, 0], [2300, -500, 0]])
    assert foot_length(one, back, FLOOR) == 0.0
    assert foot_length(one, rail, FLOOR) == 0.0


def test_the_floor_alone_proves_nothing_and_the_foot_does():
    cameras = [camera(0.0), camera(2000.0)]
    back = lines(cameras[1], [[1500, -1450, -300], [2300, -1450, -300]])
    foot = lines(cameras[1], [[1500, -1450, 0], [2300, -1450, 0]])
    ties = [tie("floor"), tie("room")]
    assert first_unproven(cameras, ties, [], {1: back}, FLOOR) == 1
    assert first_unproven(cameras, ties, [], {1: foot}, FLOOR) is None


def test_a_sheet_or_the_wall_itself_proves_it_too():
    cameras = [camera(0.0), camera(2000.0)]
    assert first_unproven(cameras, [tie("floor")], [1], {}, FLOOR) is None
    assert first_unproven(cameras, [tie("wall")], [], {}, FLOOR) is None
    assert first_unproven(cameras, [tie("wall", 3)], [], {}, FLOOR) == 1


@pytest.mark.parametrize(
    ("lowest", "highest", "stand_off", "front"),
    [
        (-1400.0, -700.0, 8.2, True),  # a sideboard of 750 mm below a sheet at 1450
        (-1400.0, -700.0, 1.5, False),  # skirting and wainscot behind what stands there
        (-300.0, 400.0, 8.2, False),  # pictures about the sheet's height
        (-1400.0, 100.0, 8.2, False),
    ],
)
def test_only_what_lies_low_may_be_the_front_of_furniture(lowest, highest, stand_off, front):
    cameras = [camera(0.0), camera(2000.0)]
    rng = np.random.default_rng(1)
    at = np.c_[rng.uniform(500, 1500, 40), np.linspace(lowest, highest, 40), np.zeros(40)]
    first, second = (one.project(at)[0] for one in cameras)
    shared = TiePoints(0, 1, "wall", first, second, np.ones(40), stand_off)
    assert may_be_front(cameras[0], shared) is front
    proven = first_unproven(cameras, [shared], [], {}, None) is None
    assert proven is not front
    assert first_unproven(cameras, [shared], [1], {}, None) is None  # a sheet in both says more
