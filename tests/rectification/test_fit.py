"""The whole fit on photographs drawn exactly: the truth is what we drew."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from tests.synthetic.edited import panorama, straightened
from tests.synthetic.wall_photo import draw_scene, render
from visualiser import (
    DrawnLine,
    Marks,
    MeasurementError,
    Photo,
    Reference,
    ReferenceNotFound,
    TapedLength,
    fit_wall_plane,
)
from visualiser.photo.frame import FrameEvidence, frame_evidence
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.fit import reference_sides

SIZE = 1400
EXACT = ModelTerms(bulge_sigma_mm=0.0, stand_off_sigma_mm=0.0, flatness_sigma_mm=0.0)
"""Drawn paper is flat and on the wall."""


def photo_of(scene):
    return Photo(render(scene), scene.focal_stated, 0.02)


def clicked(scene, corners_px=None, seed=0):
    """Corners as a finder or a person gives them: a pixel or so off."""
    corners_px = scene.sheet_corners_px if corners_px is None else corners_px
    jitter = np.random.default_rng(seed).uniform(-1, 1, (4, 2))
    return Reference("a4", corners_px + jitter, *scene.sheet_mm, size_sigma_mm=0.0)


@cache
def pictured(seed, **how):
    """A scene and its photo, drawn once."""
    scene = draw_scene(seed, long_side=SIZE, **how)
    return scene, photo_of(scene)


@pytest.fixture(scope="module")
def room():
    return pictured(1)


@pytest.fixture(scope="module")
def bare():
    return pictured(5, lines=False, clutter=False)


@pytest.fixture(scope="module")
def room_plane(room):
    scene, photo = room
    return fit_wall_plane(photo, [clicked(scene)])


@pytest.fixture(scope="module")
def exact_room_plane(room):
    scene, photo = room
    return fit_wall_plane(photo, [clicked(scene)], terms=EXACT)


@pytest.fixture(scope="module")
def bare_plane(bare):
    scene, photo = bare
    return fit_wall_plane(photo, [clicked(scene)])


def two_sheets():
    return pictured(4, lines=False, clutter=False, second=True)


def errors(scene, plane, reach_mm=1000.0):
    points = scene.grid_mm()
    points = points[np.hypot(*points.T) < reach_mm]
    return plane.to_wall(scene.to_photo(points)) - points, points


def test_a_room_is_measured_to_millimetres(room, exact_room_plane):
    (scene, _), plane = room, exact_room_plane
    off, points = errors(scene, plane)
    assert np.median(np.hypot(*off.T)) < 1.5
    assert abs(plane.reference_tilt_deg - scene.sheet_tilt_deg) < 0.15
    assert plane.level_sigma_deg < 0.15
    assert np.abs(plane.reference_corners_px - scene.sheet_corners_px).max() < 0.3
    assert (np.hypot(*off.T) < 1.3 * plane.half_width(points) + 0.5).all()


def test_there_and_back_is_the_identity(room, room_plane):
    plane = room_plane
    points = room[0].grid_mm()
    assert plane.to_wall(plane.to_photo(points)) == pytest.approx(points, abs=1e-6)


def test_same_photo_same_answer(room, room_plane):
    scene, photo = room
    first, second = room_plane, fit_wall_plane(photo, [clicked(scene)])
    assert (first.parameter_covariance == second.parameter_covariance).all()
    assert (first.rotation == second.rotation).all()


def test_without_lines_level_comes_from_the_sheet_and_is_said_so(bare_plane):
    plane = bare_plane
    assert "level-from-sheet" in {f.code for f in plane.findings}
    assert plane.level_sigma_deg > 1
    assert plane.reference_tilt_deg == pytest.approx(0, abs=0.2)


def test_a_drawn_level_line_gives_level(bare):
    scene, photo = bare
    ends = scene.project([[-900, 600, 0], [900, 600, 0]])
    line = DrawnLine(tuple(ends[0]), tuple(ends[1]), "level", sigma_px=1.0)
    plane = fit_wall_plane(photo, [clicked(scene)], Marks(lines=(line,)))
    assert abs(plane.reference_tilt_deg - scene.sheet_tilt_deg) < 0.2
    assert "level-from-sheet" not in {f.code for f in plane.findings}


def taped(scene, start, end, factor=1.0):
    ends = scene.to_photo([start, end])
    length = float(np.hypot(*np.subtract(end, start))) * factor
    return TapedLength(tuple(ends[0]), tuple(ends[1]), length, 1.0, 0.5, "door width")


def test_a_taped_length_narrows_the_scale(bare, bare_plane):
    (scene, photo), without = bare, bare_plane
    tape = taped(scene, (-700, 300), (700, 300))
    plane = fit_wall_plane(photo, [clicked(scene)], Marks(taped=(tape,)))
    before = without.length([-700, 300], [700, 300])[1]
    length, half = plane.length(*plane.to_wall([tape.start_px, tape.end_px]))
    assert half < 0.6 * before
    assert abs(length - tape.length_mm) < 2 * half


def test_a_contradicting_taped_length_is_named_and_left_out(bare, bare_plane):
    (scene, photo), without = bare, bare_plane
    tape = taped(scene, (-700, 300), (700, 300), factor=1.12)
    plane = fit_wall_plane(photo, [clicked(scene)], Marks(taped=(tape,)))
    told = [f for f in plane.findings if f.code == "tape-contradicts"]
    assert len(told) == 1
    assert "door width" in told[0].text
    assert plane.translation_mm == pytest.approx(without.translation_mm)


def test_a_second_sheet_joins_and_helps():
    scene, photo = two_sheets()
    first, second = clicked(scene), clicked(scene, scene.to_photo(scene.second_corners_mm), 1)
    far = [scene.second_sheet_mm[0], 0.0]
    alone = fit_wall_plane(photo, [first], terms=EXACT)
    both = fit_wall_plane(photo, [first, second], terms=EXACT)
    assert both.length([0, 0], far)[1] < 0.5 * alone.length([0, 0], far)[1]
    assert not [f for f in both.findings if f.code == "reference-left-out"]


def test_a_second_sheet_joins_though_its_edges_wander():
    """Samples of a faint edge scatter by more than each says of itself: no contradiction."""
    scene, photo = two_sheets()
    second = clicked(scene, scene.to_photo(scene.second_corners_mm), 1)
    rng = np.random.default_rng(3)
    faint = tuple(
        replace(
            side,
            points_px=side.points_px
            + 3.5 * (rng.normal(size=len(side)) * side.sigma_px)[:, None] * side.normals_px,
        )
        for side in reference_sides(photo, second)
    )
    plane = fit_wall_plane(photo, [clicked(scene), replace(second, sides=faint)], terms=EXACT)
    assert "reference-left-out" not in {f.code for f in plane.findings}


def small_sheet(printed_inset_px):
    """A sheet of 40 by 36 px with a grey panel printed on it; the corners are known."""
    fine, size = 8, np.array([40, 36])
    corners = np.array([60, 50]) + np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size
    picture = np.full((120 * fine, 160 * fine, 3), 200, np.uint8)
    for inset, level in ((0, 238), (printed_inset_px, 130))[: 1 + (printed_inset_px > 0)]:
        low, high = (corners[0] + inset) * fine, (corners[2] - inset) * fine - 1
        cv2.rectangle(picture, low.tolist(), high.tolist(), (level,) * 3, -1)
    seen = cv2.GaussianBlur(
        cv2.resize(picture, (160, 120), interpolation=cv2.INTER_AREA), (0, 0), 0.8
    )
    return Photo(seen), Reference("custom", corners - 0.5, 300.0, 270.0, origin="clicked")


def test_sides_all_inside_the_corners_are_of_what_is_printed_on_the_sheet():
    """On a small sheet each is near its corners; all four make it a tenth larger."""
    photo, reference = small_sheet(0)
    assert all(len(side) for side in reference_sides(photo, reference))
    moved = np.array([[1.6, -1.2], [-1.0, 1.5], [1.4, 1.1], [0.5, -1.8]])
    astray = replace(reference, corners_px=reference.corners_px + moved)
    assert all(len(side) for side in reference_sides(photo, astray))
    photo, reference = small_sheet(3)
    assert not any(len(side) for side in reference_sides(photo, reference))


def test_a_second_sheet_of_another_size_is_left_out():
    scene, photo = two_sheets()
    corners = scene.to_photo(scene.second_corners_mm)
    wrong = Reference("a3", corners, 1.414 * scene.sheet_mm[0], 1.414 * scene.sheet_mm[1])
    right = replace(clicked(scene), origin="clicked")
    plane = fit_wall_plane(photo, [right, wrong])
    alone = fit_wall_plane(photo, [right])
    assert [f.code for f in plane.findings].count("reference-left-out") == 1
    assert plane.translation_mm == pytest.approx(alone.translation_mm, abs=1e-6)


@pytest.mark.parametrize(
    ("rise_deg", "turn_deg", "told"),
    [
        (0.0, 2.0, True),  # turned the other way, at one height: an image
        (2.6, 2.0, False),  # higher
        (0.0, -1.0, False),  # turned otherwise
        (-2.0, -2.0, False),  # turned alike, in line: two sheets hung by one hand
    ],
)
def test_a_sheet_and_its_image_in_a_mirror_are_told_apart(rise_deg, turn_deg, told):
    """A mirror square to the wall shows a sheet turned by t as one turned by -t, at one height."""
    scene, _ = two_sheets()
    across = scene.second_sheet_mm[0]
    up = across * np.tan(np.radians(rise_deg))
    scene = replace(scene, sheet_tilt_deg=-2.0, second_sheet_mm=(across, up, turn_deg))
    second = clicked(scene, scene.to_photo(scene.second_corners_mm), 1)
    plane = fit_wall_plane(photo_of(scene), [clicked(scene), second])
    codes = {f.code for f in plane.findings}
    assert "reference-left-out" not in codes
    assert ("maybe-reflection" in codes) is told


def test_a_sheet_leaning_on_something_is_refused(room):
    scene, photo = room
    squat = clicked(scene)
    lean = np.radians(25)
    c, s = np.cos(lean), np.sin(lean)
    w, h = scene.sheet_mm
    leaning = np.array([[-w, h, 0], [w, h, 0], [w, -h, 0], [-w, -h, 0]]) / 2
    leaning = leaning @ np.array([[1, 0, 0], [0, c, -s], [0, s, c]]).T + [0, 0, 300]
    pixels = photo.pixels.copy()
    import cv2

    corners = scene.project(leaning)
    cv2.fillConvexPoly(pixels, np.round(scene.sheet_corners_px).astype(np.int32), (80, 80, 80))
    cv2.fillConvexPoly(
        pixels, np.round(corners * 256).astype(np.int32), (235, 235, 235), cv2.LINE_AA, 8
    )
    reference = replace(squat, corners_px=corners)
    with pytest.raises(MeasurementError, match="lean"):
        fit_wall_plane(Photo(pixels, scene.focal_stated, 0.02), [reference])


def test_crooked_distractors_do_not_decide_level(room):
    scene, photo = room
    import cv2

    pixels = photo.pixels.copy()
    for degrees, x in ((4.0, -500), (5.0, -300), (-6.0, 300)):
        t = np.radians(degrees)
        ends = scene.to_photo(
            [
                [x - 500 * np.cos(t), 250 - 500 * np.sin(t)],
                [x + 500 * np.cos(t), 250 + 500 * np.sin(t)],
            ]
        )
        a, b = (tuple(int(v) for v in np.round(p * 256)) for p in ends)
        cv2.line(pixels, a, b, (30, 30, 30), 4, cv2.LINE_AA, 8)
    plane = fit_wall_plane(Photo(pixels, scene.focal_stated, 0.02), [clicked(scene)], terms=EXACT)
    assert abs(plane.reference_tilt_deg - scene.sheet_tilt_deg) < 0.15


def test_two_found_references_that_contradict_each_other_are_refused():
    scene, photo = two_sheets()
    corners = scene.to_photo(scene.second_corners_mm)
    wrong = Reference("a4", corners, 1.2 * scene.sheet_mm[0], 1.2 * scene.sheet_mm[1])
    with pytest.raises(ReferenceNotFound, match="equally"):
        fit_wall_plane(photo, [clicked(scene), wrong])


def test_rejected_lines_are_not_used(room):
    scene, photo = room
    plane = fit_wall_plane(photo, [clicked(scene)], Marks(find_lines=False))
    assert "level-from-sheet" in {f.code for f in plane.findings}


def test_nothing_to_measure_by_is_refused(room):
    with pytest.raises(ReferenceNotFound):
        fit_wall_plane(room[1], [])


@pytest.mark.parametrize(
    "corners",
    [
        [[100, 100], [200, 100], [300, 100], [400, 100]],
        [[100, 100], [100, 100], [100, 100], [100, 100]],
        [[100, 100], [200, 200], [200, 100], [100, 200]],
    ],
)
def test_corners_that_are_no_rectangle_are_refused(bare, corners):
    with pytest.raises(MeasurementError):
        fit_wall_plane(bare[1], [Reference.from_corners(np.array(corners, float), 210, 297)])


def test_an_unknown_focal_length_widens_the_answer(bare):
    scene, photo = bare
    known = fit_wall_plane(photo, [clicked(scene)], terms=EXACT)
    unknown = fit_wall_plane(Photo(photo.pixels), [clicked(scene)], terms=EXACT)
    assert unknown.parameter_covariance[6, 6] > 4 * known.parameter_covariance[6, 6]


def test_a_trimmed_photo_is_measured_and_named(room):
    """A fifth off the left: the axis is 115 px from the middle, and the file may not say so."""
    scene, whole = room
    cut = 230
    part = np.ascontiguousarray(whole.pixels[:, cut:])
    height, width = part.shape[:2]
    # An editor that brings the size up to date makes the same equivalent mean a shorter one.
    shorter = np.hypot(width, height) / np.hypot(scene.width_px, scene.height_px)
    shift = np.array([cut, 0.0])
    reference = clicked(scene, scene.sheet_corners_px - shift)
    points = scene.grid_mm()
    points = points[np.hypot(*points.T) < 1000]
    seen = scene.to_photo(points) - shift
    points, seen = points[seen[:, 0] > 0], seen[seen[:, 0] > 0]
    errors_mm = {}
    for name, focal_share, frame in (
        ("whole", shorter, FrameEvidence()),
        ("open", shorter, frame_evidence(width, height, None, True)),
        ("noted", 1.0, frame_evidence(width, height, (scene.width_px, scene.height_px), True)),
    ):
        photo = Photo(part, scene.focal_stated * focal_share, 0.02, frame=frame)
        plane = fit_wall_plane(photo, [reference], terms=EXACT)
        off = plane.to_wall(seen) - points
        errors_mm[name] = np.median(np.hypot(*off.T))
        if name == "whole":
            continue
        assert "trimmed-photo" in {f.code for f in plane.findings}
        spread = plane.covariance(plane.to_wall(seen))
        inside = np.einsum("ni,nij,nj->n", off, np.linalg.inv(spread), off) <= 5.991
        assert inside.mean() >= 0.9
    assert max(errors_mm["open"], errors_mm["noted"]) < 0.5 * errors_mm["whole"]


def test_a_photo_that_an_editor_straightened_holds_its_regions_and_is_named(room):
    """Its plumb lines run parallel, as if the axis were far from the middle; the file is silent."""
    scene, photo = room
    made, moved = straightened(
        photo.pixels, scene.focal_px, scene.centre_px, scene.rotation @ [0.0, 1.0, 0.0]
    )
    height, width = made.shape[:2]
    frame = frame_evidence(width, height, (width, height), True)
    assert frame.whole_chance > 0.9
    reference = clicked(scene, moved(scene.sheet_corners_px))
    plane = fit_wall_plane(Photo(made, scene.focal_stated, 0.02, frame=frame), [reference])
    assert "straightened-photo" in {f.code for f in plane.findings}
    points = scene.grid_mm()
    points = points[np.hypot(*points.T) < 1000]
    off = plane.to_wall(moved(scene.to_photo(points))) - points
    spread = plane.covariance(points)
    assert (np.einsum("ni,nij,nj->n", off, np.linalg.inv(spread), off) <= 5.991).mean() >= 0.9


def test_a_panorama_is_refused_for_its_bent_edges(room):
    scene, photo = room
    made, moved = panorama(photo.pixels, scene.focal_px, scene.centre_px)
    reference = clicked(scene, moved(scene.sheet_corners_px))
    with pytest.raises(MeasurementError, match="bent in this photo"):
        fit_wall_plane(Photo(made, scene.focal_stated, 0.02), [reference])


def test_a_whole_photo_is_not_called_trimmed(room, exact_room_plane):
    scene, photo = room
    whole = replace(photo, frame=frame_evidence(photo.width_px, photo.height_px, None, True))
    plane = fit_wall_plane(whole, [clicked(scene)], terms=EXACT)
    same = exact_room_plane
    assert "trimmed-photo" not in {f.code for f in plane.findings}
    assert plane.to_wall([[100.0, 100.0]]) == pytest.approx(same.to_wall([[100.0, 100.0]]))
