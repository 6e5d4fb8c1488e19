"""A side read off another edge, on walls drawn exactly; parabolas against themselves."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.synthetic.scoring import CHI_SQUARE_95, DRAWN, turned
from tests.synthetic.wall_photo import draw_scene, render
from visualiser import Marks
from visualiser.errors import MeasurementError
from visualiser.photo.photo import Photo
from visualiser.rectification.checks import NAMES
from visualiser.rectification.fit import fit_wall_plane, reference_sides
from visualiser.rectification.reference import EdgeSamples, Reference

TURN_DEG = 1.7
"""What a stripe's edge beside a crooked sheet is turned by against the sheet's own."""


@cache
def seen(seed):
    scene = draw_scene(seed, lines=True, long_side=1600)
    photo = Photo(render(scene), scene.focal_px, 0.02)
    reference = Reference("a4", scene.sheet_corners_px, *scene.sheet_mm, size_sigma_mm=0.0)
    return scene, photo, replace(reference, sides=reference_sides(photo, reference))


def with_side_turned(reference, odd, degrees=TURN_DEG):
    side = reference.sides[odd]
    middle = side.points_px.mean(axis=0)
    moved = EdgeSamples(
        turned(side.points_px - middle, degrees) + middle,
        turned(side.normals_px, degrees),
        side.sigma_px,
        side.look,
    )
    sides = [moved if i == odd else one for i, one in enumerate(reference.sides)]
    return replace(reference, sides=tuple(sides))


def near_mm(scene):
    points = scene.grid_mm()
    return points[np.hypot(*points.T) < 1000]


@pytest.mark.timeout(300)
@pytest.mark.parametrize(("seed", "odd"), [(700, 0), (705, 1), (704, 2), (703, 3)])
def test_a_side_read_off_a_stripe_is_left_out(seed, odd):
    scene, photo, reference = seen(seed)
    plane = fit_wall_plane(photo, [with_side_turned(reference, odd)], terms=DRAWN)
    told = [f for f in plane.findings if f.code == "side-left-out"]
    assert len(told) == 1
    assert NAMES[odd] in told[0].text
    points = near_mm(scene)
    off = plane.to_wall(scene.to_photo(points)) - points
    inverse = np.linalg.inv(plane.covariance(points, frame="level"))
    assert (np.einsum("ni,nij,nj->n", off, inverse, off) < CHI_SQUARE_95).mean() > 0.9
    assert np.hypot(*off.T).max() < 15
    assert abs(plane.reference_tilt_deg - scene.sheet_tilt_deg) < 0.3


@pytest.mark.timeout(300)
def test_where_two_sides_could_be_the_wrong_one_nothing_is_measured():
    """A small sheet whose left and right sides contradict each other, and no line of the room."""
    _, photo, reference = seen(701)
    with pytest.raises(MeasurementError, match="contradict each other"):
        fit_wall_plane(
            photo, [with_side_turned(reference, 1)], Marks(find_lines=False), terms=DRAWN
        )


@pytest.mark.timeout(300)
def test_few_lines_of_the_room_say_which_of_two_sides_is_wrong():
    _, photo, reference = seen(701)
    plane = fit_wall_plane(photo, [with_side_turned(reference, 1)], terms=DRAWN)
    told = [f.text for f in plane.findings if f.code == "side-left-out"]
    assert len(told) == 1
    assert "right side" in told[0]


@pytest.mark.timeout(300)
@pytest.mark.parametrize("seed", [704, 705, 706])
def test_right_sides_are_all_kept(seed):
    _, photo, reference = seen(seed)
    plane = fit_wall_plane(photo, [reference], terms=DRAWN)
    assert not [f for f in plane.findings if f.code == "side-left-out"]
