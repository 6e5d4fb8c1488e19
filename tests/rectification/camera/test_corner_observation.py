"""A second wall round the corner: its camera, derivatives, and what exact edges tell of it."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rectification.camera.test_observation import CAMERA, LENS, PRIOR, edge, sheet
from visualiser.rectification.camera.adjustment import adjust
from visualiser.rectification.camera.corner_observation import (
    EDGE_OWN,
    OFF_SQUARE,
    PLACE,
    CornerObservation,
    second_camera,
    second_slopes,
)
from visualiser.rectification.camera.line_observation import Direction, LinesObservation
from visualiser.rectification.camera.projection import vector_from_rotation
from visualiser.rectification.camera.reference_observation import ReferenceObservation
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.reference import Reference

CORNER_MM, ASKEW = {"right": 1450.0, "left": -1700.0}, 0.008
SHEET = np.array([[-105, 148.5], [105, 148.5], [105, -148.5], [-105, -148.5]])


def beyond(side, points_mm):
    """Room points of places on the second wall, worked out by plain trigonometry."""
    points = np.asarray(points_mm, float)
    sign = 1.0 if side == "right" else -1.0
    out = sign * points[:, 0]
    return np.c_[CORNER_MM[side] + out * np.sin(ASKEW), points[:, 1], out * np.cos(ASKEW)]


def corner(side, noise=0.0):
    middle = np.array([700.0 if side == "right" else -700.0, 50.0])
    corners = beyond(side, SHEET + middle)
    sides = tuple(edge(corners[i], corners[(i + 1) % 4], noise=noise, seed=i) for i in range(4))
    reference = Reference("a4", CAMERA.project(corners)[0], 210.0, 297.0, sides=sides)
    on = ReferenceObservation(reference, sides, False, False, ModelTerms())
    far = 1200.0 if side == "right" else -1200.0
    levels = [
        edge(*beyond(side, [[0.1 * far, y], [far, y]]), noise=noise) for y in (1000.0, -1100.0)
    ]
    away = [Direction("away", 1e-3, 0.01)] * 2
    lines = LinesObservation.of(levels, away, CAMERA)
    x = CORNER_MM[side]
    upright = edge([x, -1200, 0], [x, 1100, 0], noise=noise, seed=9)
    return CornerObservation(side, upright, x - 6.0, lines, (on,))


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_second_walls_camera_sees_its_points_where_the_first_sees_them(side):
    points = np.array([[300.0, 200.0], [900.0, -400.0]]) * [1 if side == "right" else -1, 1]
    other = second_camera(CAMERA, side, CORNER_MM[side], ASKEW)
    seen = other.project(np.c_[points, np.zeros(2)])[0]
    assert seen == pytest.approx(CAMERA.project(beyond(side, points))[0], abs=1e-6)
    # Out of the second wall is into the room, where the camera stands.
    assert (-other.rotation.T @ other.translation_mm)[2] > 0


def test_the_second_camera_moves_as_its_slopes_say():
    slopes = second_slopes(CAMERA, 1450.0)
    first = second_camera(CAMERA, "right", 1450.0, 0.008)
    for i in range(13):
        step = 1e-3 if i in (3, 4, 5, 9, 10, 11) else 1e-6
        change = np.zeros(13)
        change[i] = step
        other = second_camera(
            CAMERA.moved(change[:11]), "right", 1450.0 + change[11], 0.008 + change[12]
        )
        turn = vector_from_rotation(other.rotation @ first.rotation.T)
        shift = other.translation_mm - first.translation_mm
        assert turn / step == pytest.approx(slopes[:3, i], abs=1e-4)
        assert shift / step == pytest.approx(slopes[3:6, i], abs=2e-2)


@pytest.mark.parametrize("side", ["left", "right"])
def test_derivatives_agree_with_central_differences(side):
    observation = corner(side)
    own = observation.own_start(CAMERA)
    own[PLACE], own[OFF_SQUARE] = 6.0, ASKEW
    on = observation.sheets[0]
    true = second_camera(CAMERA, side, CORNER_MM[side], ASKEW)
    own[-len(on.own_sigma) :] = on.own_start(true)
    residual, by_camera, by_own = observation.linearise(CAMERA, own)
    assert np.abs(residual).max() < 1e-3
    for i in range(11):
        step = np.zeros(11)
        step[i] = 1e-3 if i in (3, 4, 5, 9, 10) else 1e-6
        ahead, behind = (
            observation.linearise(CAMERA.moved(s), own).residual for s in (step, -step)
        )
        numeric = (ahead - behind) / (2 * step[i])
        scale = np.abs(by_camera[:, i]).max() + 1e-6
        assert by_camera[:, i] == pytest.approx(numeric, abs=1e-3 * scale), f"camera {i}"
    for i in range(len(own)):
        step = np.zeros(len(own))
        step[i] = 1e-5
        ahead, behind = (observation.linearise(CAMERA, own + s).residual for s in (step, -step))
        numeric = (ahead - behind) / (2 * step[i])
        scale = np.abs(by_own[:, i]).max() + 1e-6
        assert by_own[:, i] == pytest.approx(numeric, abs=1e-3 * scale), f"own {i}"


@pytest.mark.parametrize("side", ["left", "right"])
def test_corner_and_squareness_are_found_again(side):
    """Within what is stated: what is expected of corners draws it towards square, by a fifth."""
    known = replace(PRIOR, lens=LENS, covariance=PRIOR.covariance / 1e4)
    solution = adjust(CAMERA, [sheet(), corner(side)], known)
    own = solution.own[1]
    for place, true, most in ((PLACE, 6.0, 2.0), (OFF_SQUARE, ASKEW, 0.3 * ASKEW)):
        sigma = float(np.sqrt(solution.covariance_with_own(1, place)[-1, -1]))
        assert abs(own[place] - true) < min(1.5 * sigma, most)
    assert len(own) == len(corner(side).own_sigma) > EDGE_OWN
