"""Sorting room lines by what they are likely to be, before a camera that we know."""

from dataclasses import replace

import numpy as np
import pytest

from visualiser.rectification.camera.projection import (
    CameraState,
    Lens,
    rotation_from_vector,
    vector_from_rotation,
)
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.lines.classify import (
    direction_slopes,
    line_normals,
    propose_sortings,
    unless_through,
)
from visualiser.rectification.lines.detect import RoomLine
from visualiser.rectification.lines.priors import AXIS_OF, LinePriors
from visualiser.rectification.reference import EdgeSamples

LENS = Lens(1850.0, 1279.5, 959.5, 0.0, 0.0)
LONG_SIDE = 2560


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


def sorted_out(camera, lines, off_deg=(0.5, -0.6, 0.3), doubt_deg=1.0):
    off = rotation_from_vector(np.radians(off_deg))
    rough = CameraState(off @ camera.rotation, camera.translation_mm, LENS)
    covariance = np.diag([*np.full(3, np.radians(doubt_deg)), 0.01, 0.002, 0.002]) ** 2
    priors = LinePriors.of(lines, LONG_SIDE, ModelTerms())
    best = propose_sortings(lines, rough, covariance, priors)[0]
    turn = vector_from_rotation(best.camera.rotation @ camera.rotation.T)
    named = {line.name: d for line, d in zip(lines, best.directions, strict=True)}
    return named, float(np.degrees(np.linalg.norm(turn)))


@pytest.mark.parametrize("askew_deg", [-3.0, -2.0, 2.0, 3.0])
def test_what_stands_askew_before_a_wall_does_not_say_where_the_wall_runs(askew_deg):
    """Four edges of a sofa agree on another direction than the ceiling and the skirting."""
    named, left_deg = sorted_out(*room(askew_deg))
    assert [named[n].kind for n in ("ceiling", "skirting", "door", "corner")] == [
        "level", "level", "plumb", "plumb",
    ]  # fmt: skip
    assert left_deg < 0.3
    for name in ("seat", "front", "foot", "rug"):
        # What it says of level may be used; its turn about the plumb is its own.
        assert named[name].kind != "level" or named[name].askew_rad > np.radians(1), name


def test_without_knowing_what_borders_the_wall_the_sofa_would_be_believed():
    assert sorted_out(*room(2.0, told=False))[1] > 2 * sorted_out(*room(2.0))[1]


def test_what_stands_along_the_wall_helps():
    named, left_deg = sorted_out(*room(0.0))
    assert all(d.kind != "straight" for d in named.values())
    assert left_deg < 0.2
    assert named["ceiling"].askew_rad == 0.0 < named["seat"].askew_rad


def test_the_edges_of_one_askew_frame_do_not_outvote_the_ceiling():
    """Frame and mat of one picture, hung half a degree askew, stray together: one witness.

    That pictures hang so by eye is common practice, no source. The camera's turn and its axis are
    open, as in a picture that was trimmed.
    """
    camera = true_camera()
    rise = 400 * np.tan(np.radians(-0.5))
    edges = {
        "ceiling": ((-1200, 1100, 0), (1500, 1100, 0)),
        "skirting": ((-1100, -1150, 0), (400, -1150, 0)),
        "corner": ((-1250, -1100, 0), (-1250, 1050, 0)),
    }
    for name, y in (("frame", 500), ("mat", 440), ("opening", -120), ("foot", -180)):
        edges[name] = ((-300, y - rise, 20), (500, y + rise, 20))
    lines = [room_line(n, camera, a, b, beside_wall=True) for n, (a, b) in edges.items()]
    covariance = np.diag([*np.full(3, np.radians(1.5)), 0.04, 0.06, 0.06]) ** 2
    together = LinePriors.of(lines, LONG_SIDE, ModelTerms())
    turned_deg, ceilings = [], []
    for priors in (together, replace(together, alike=np.eye(len(lines)))):
        best = propose_sortings(lines, camera, covariance, priors)[0]
        turn = vector_from_rotation(best.camera.rotation @ camera.rotation.T)
        turned_deg.append(np.degrees(np.linalg.norm(turn)))
        ceilings.append(best.directions[0].kind)
    assert ceilings == ["level", "straight"]
    assert turned_deg[0] < 0.3 < turned_deg[1]


def corner(eye_level_mm=0.0):
    """Two walls that meet, their ceilings and skirtings, and a rail at eye level on either."""
    camera = true_camera()
    edges = {
        "ceiling": ((-1300, 1100, 0), (1300, 1100, 0)),
        "skirting": ((-1300, -1150, 0), (1300, -1150, 0)),
        "corner": ((-1400, -1150, 0), (-1400, 1100, 0)),
        "frame": ((900, -1100, 0), (900, 700, 0)),
        "ceiling beside": ((-1400, 1100, 50), (-1400, 1100, 1500)),
        "skirting beside": ((-1400, -1150, 50), (-1400, -1150, 1500)),
        "rail": ((-1300, eye_level_mm, 0), (300, eye_level_mm, 0)),
    }
    return camera, [
        room_line(name, camera, *ends, beside_wall=True) for name, ends in edges.items()
    ]


def test_what_runs_away_from_the_wall_is_a_direction_of_its_own():
    """The reference is 6 degrees off: line by line the adjoining wall would be level or loose."""
    named, left_deg = sorted_out(*corner(400.0), off_deg=(3.0, -4.5, 2.5), doubt_deg=4.0)
    assert {name: d.kind for name, d in named.items()} == {
        "ceiling": "level", "skirting": "level", "rail": "level", "corner": "plumb",
        "frame": "plumb", "ceiling beside": "away", "skirting beside": "away",
    }  # fmt: skip
    assert left_deg < 0.2


def test_a_line_on_the_horizon_does_not_say_which_way_it_runs():
    """At the eye's height every level direction looks the same (plain geometry)."""
    camera, lines = corner()
    # The horizon: the plane through the camera square to the plumb.
    height = -(camera.rotation.T @ camera.translation_mm)[1] * -1
    camera, lines = corner(-float(height))
    named, _ = sorted_out(camera, lines)
    assert named["rail"].kind == "straight"
    assert named["ceiling"].kind == "level"


def test_a_longer_edge_is_surer_and_chances_are_whole():
    camera, lines = corner()
    short = [
        room_line(str(x), camera, (x, 0, 0), (x, 200 + x / 4, 0), beside_wall=True)
        for x in (200, 400, 800)
    ]
    priors = LinePriors.of([*short, *lines], LONG_SIDE, ModelTerms())
    whole = (priors.true_share + priors.crooked_share).sum(axis=1) + priors.none_share
    assert whole == pytest.approx(1.0)
    assert (priors.true_sigma[0] > priors.true_sigma[len(short)]).all()
    assert (priors.true_share[0] < priors.true_share[len(short)]).all()


def test_a_trimmed_photo_of_two_walls_is_sorted_though_its_middle_is_elsewhere():
    """The principal point is 0.12 focal lengths off the middle: plumb lines look 7 degrees off."""
    camera, lines = corner(400.0)
    middle = replace(LENS, centre_x_px=LENS.centre_x_px + 220.0)
    rough = CameraState(camera.rotation, camera.translation_mm, middle)
    covariance = np.diag([*np.full(3, np.radians(4.0)), 0.05, 0.1, 0.1]) ** 2
    priors = LinePriors.of(lines, LONG_SIDE, ModelTerms())
    best = propose_sortings(lines, rough, covariance, priors)[0]
    assert {line.name: d.kind for line, d in zip(lines, best.directions, strict=True)} == {
        "ceiling": "level", "skirting": "level", "rail": "level", "corner": "plumb",
        "frame": "plumb", "ceiling beside": "away", "skirting beside": "away",
    }  # fmt: skip


def test_slopes_agree_with_small_changes_of_the_camera():
    camera, lines = corner(400.0)
    priors = LinePriors.of(lines, LONG_SIDE, ModelTerms())
    slopes = direction_slopes(lines, camera, priors)
    step = 1e-6
    for i in range(6):
        change = np.zeros(11)
        change[[0, 1, 2, 6, 9, 10][i]] = step * (LENS.focal_px if i > 3 else 1)
        moved = camera.moved(change)
        before, after = (line_normals(lines, c)[0] for c in (camera, moved))
        after = after * np.sign((before * after).sum(axis=1, keepdims=True))
        change = after @ (AXIS_OF @ moved.rotation.T).T - before @ (AXIS_OF @ camera.rotation.T).T
        assert slopes[:, :, i] == pytest.approx(change / step, abs=1e-3), i


def test_no_line_is_seen_through_its_vanishing_point():
    """Euclid's optics: what recedes nears its vanishing point and never passes it."""
    ends = np.array([[[0.0, -0.1], [0.0, 0.3]], [[0.0, 0.1], [0.0, 0.3]], [[0.0, 0.001], [0, 0.3]]])
    axes = np.diag([1.0, -1.0, -1.0])[[1, 0, 2]]  # plumb, level, away of a frontal camera
    possible = unless_through(ends[None], axes[None])[0]
    assert possible[0, 2] < 0.01  # seen on both sides of the point it would run to
    assert possible[1, 2] == possible[2, 2] == 1.0
    assert (possible[:, :2] == 1.0).all()  # those points are infinitely far away
