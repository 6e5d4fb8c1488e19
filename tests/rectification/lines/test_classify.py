"""Which edges are straight: space lines at every angle, seen through a lens of known distortion.

Sorting room lines by what they are likely to be.
"""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from visualiser.rectification.camera.projection import (
    CameraState,
    Lens,
    rotation_from_vector,
    vector_from_rotation,
)
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.lines.classify import (
    _borne_out,
    propose_directions,
    vote_on_distortion,
)
from visualiser.rectification.lines.detect import RoomLine
from visualiser.rectification.reference import EdgeSamples

LENS = Lens(1850.0, 1279.5, 959.5, 0.0, 0.0)
K1_SIGMA = 0.04


def seen(name, start_px, end_px, k1, bend_px=0.0, backwards=False):
    """A line between two ideal pixels, bent in space by ``bend_px``, through Brown's k1."""
    t = np.linspace(0, 1, 24)[:, None]
    start, end = np.asarray(start_px, float), np.asarray(end_px, float)
    along = (end - start) / np.hypot(*(end - start))
    normal = np.array([-along[1], along[0]])
    ideal = start + t * (end - start) + bend_px * 4 * t * (1 - t) * normal
    ray = (ideal - [LENS.centre_x_px, LENS.centre_y_px]) / LENS.focal_px
    ray = ray * (1 + k1 * (ray**2).sum(axis=1, keepdims=True))
    points = ray * LENS.focal_px + [LENS.centre_x_px, LENS.centre_y_px]
    if backwards:
        points = points[::-1]
    return RoomLine(name, EdgeSamples(points, np.tile(normal, (24, 1)), np.full(24, 0.1)))


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=40)
@given(k1=st.floats(-0.08, 0.08), turn_deg=st.floats(0, 180), backwards=st.booleans())
def test_straight_edges_at_every_angle_are_straight_and_tell_the_lens(k1, turn_deg, backwards):
    """Eight edges well off the middle, crossed either way: all say the same."""
    lines = []
    for i in range(8):
        a = np.radians(turn_deg + 45 * i)
        out = np.array([np.cos(a), np.sin(a)])
        foot = np.array([1279.5, 959.5]) + 700 * out
        run = 500 * np.array([-out[1], out[0]])
        lines.append(seen(f"line-{i}", foot - run, foot + run, k1, backwards=backwards ^ (i % 2)))
    found, straight = vote_on_distortion(lines, LENS, K1_SIGMA)
    assert straight.all()
    assert found == pytest.approx(k1, abs=0.004)


def test_an_edge_that_is_bent_itself_does_not_count():
    frame = [(200, 250), (2350, 250), (2350, 1700), (200, 1700)]
    lines = [
        seen(f"line-{i}", frame[i], frame[(i + 1) % 4], 0.05, bend_px=6.0 * (i == 2))
        for i in range(4)
    ]
    found, straight = vote_on_distortion(lines, LENS, K1_SIGMA)
    assert straight.tolist() == [True, True, False, True]
    assert found == pytest.approx(0.05, abs=0.006)


LONG_SIDE = 2560


@pytest.mark.parametrize(
    ("kinds", "shares", "kept"),
    [
        # The edge of a shadow on the ceiling, and stripes as long as the wall is high.
        ("level plumb plumb", (0.10, 0.55, 0.12), "straight plumb plumb"),
        ("level level plumb", (0.10, 0.30, 0.60), "level level plumb"),
        ("level level", (0.10, 0.15), "straight straight"),
        ("straight plumb", (0.90, 0.40), "straight plumb"),
    ],
)
def test_a_short_line_counts_only_beside_one_of_a_buildings_length(kinds, shares, kept):
    assert _borne_out(kinds.split(), np.array(shares)) == kept.split()


def true_camera():
    """Camera 3 m before a wall, turned 18 degrees aside and 4 down; wall axes x, y up, z out."""
    facing = np.diag([1.0, -1.0, -1.0])
    turn = rotation_from_vector(np.radians([0.0, 18.0, 0.0]))
    tip = rotation_from_vector(np.radians([4.0, 0.0, 0.0]))
    return CameraState(tip @ turn @ facing, np.array([0.0, 0.0, 3000.0]), LENS)


def room_line(name, camera, start_mm, end_mm, *, beside_wall):
    t = np.linspace(0, 1, 24)[:, None]
    start, end = np.asarray(start_mm, float), np.asarray(end_mm, float)
    space = (start + t * (end - start)) @ camera.rotation.T + camera.translation_mm
    points = space[:, :2] / space[:, 2:] * LENS.focal_px + [
        LENS.centre_x_px,
        LENS.centre_y_px,
    ]
    along = (points[-1] - points[0]) / np.hypot(*(points[-1] - points[0]))
    normals = np.tile([-along[1], along[0]], (24, 1))
    samples = EdgeSamples(points, normals, np.full(24, 0.1))
    return RoomLine(name, samples, beside_wall=beside_wall)


def room(askew_deg, *, told=True):
    """Ceiling, skirting and a door before which a sofa and its rug stand askew, as one."""
    camera = true_camera()
    c, s = np.cos(np.radians(askew_deg)), np.sin(np.radians(askew_deg))
    lines = [
        room_line("ceiling", camera, (-1200, 1100, 0), (1500, 1100, 0), beside_wall=True),
        room_line("skirting", camera, (-1100, -1150, 0), (400, -1150, 0), beside_wall=True),
        room_line("door", camera, (1300, -1100, 20), (1300, 800, 20), beside_wall=True),
        room_line("corner", camera, (-1250, -1100, 0), (-1250, 1050, 0), beside_wall=True),
    ]
    for name, y, z in (
        ("seat", -800, 850), ("front", -1000, 900), ("foot", -1150, 900), ("rug", -1250, 1000),
    ):  # fmt: skip
        half = np.array([900 * c, 0, 900 * s])
        middle = np.array([100, y, z])
        lines.append(room_line(name, camera, middle - half, middle + half, beside_wall=not told))
    return camera, lines


def sorted_out(askew_deg, *, told=True):
    camera, lines = room(askew_deg, told=told)
    off = rotation_from_vector(np.radians([0.5, -0.6, 0.3]))
    rough = CameraState(off @ camera.rotation, camera.translation_mm, LENS)
    doubt = np.eye(3) * np.radians(1.0) ** 2
    directions, turned = propose_directions(lines, rough, doubt, LONG_SIDE, ModelTerms())
    left = np.degrees(np.linalg.norm(vector_from_rotation(turned.rotation @ camera.rotation.T)))
    named = {line.name: d for line, d in zip(lines, directions, strict=True)}
    return named, left


@pytest.mark.parametrize("askew_deg", [-3.0, -2.0, 2.0, 3.0])
def test_what_stands_askew_before_a_wall_does_not_say_where_the_wall_runs(askew_deg):
    """Four edges of a sofa agree on another direction than the ceiling and the skirting."""
    named, left_deg = sorted_out(askew_deg)
    assert [named[n].kind for n in ("ceiling", "skirting", "door", "corner")] == [
        "level", "level", "plumb", "plumb",
    ]  # fmt: skip
    assert left_deg < 0.3
    for name in ("seat", "front", "foot", "rug"):
        held = named[name].kind == "level" and np.degrees(named[name].sigma_rad) < 0.5
        assert not held, name


def test_without_knowing_what_borders_the_wall_the_sofa_would_be_believed():
    assert sorted_out(2.0, told=False)[1] > 2 * sorted_out(2.0)[1]


def test_what_stands_along_the_wall_helps_but_counts_as_one():
    named, left_deg = sorted_out(0.0)
    assert all(d.kind != "straight" for d in named.values())
    assert left_deg < 0.2
    free = np.degrees(named["seat"].sigma_rad)
    assert np.degrees(named["ceiling"].sigma_rad) < free < 3.0
