import numpy as np
import pytest

from visualiser.rendering.sight_lines import Region, sight_lines

REGION = Region(105, 49, 321, 259)


def pixel_grid(region):
    gy, gx = np.mgrid[region.y : region.y + region.height, region.x : region.x + region.width]
    return np.c_[gx.ravel(), gy.ravel()].astype(float)


def test_interpolated_lines_meet_the_wall_where_solved_ones_do(oblique):
    lines = sight_lines(oblique, REGION)
    shown = oblique.to_photo(np.c_[lines.x_mm.ravel(), lines.y_mm.ravel()].astype(float))
    assert np.abs(shown - pixel_grid(REGION)).max() < 0.01


@pytest.mark.parametrize("z_mm", [12.0, 45.0])
def test_planes_before_the_wall(oblique, z_mm):
    lines = sight_lines(oblique, REGION)
    x, y = lines.on_plane(z_mm)
    points = np.c_[x.ravel(), y.ravel(), np.full(x.size, z_mm)].astype(float)
    assert np.abs(oblique.project(points) - pixel_grid(REGION)).max() < 0.01


@pytest.mark.parametrize(("axis", "at_mm"), [(0, -400.0), (1, 1900.0)])
def test_planes_square_to_the_wall(oblique, axis, at_mm):
    lines = sight_lines(oblique, REGION)
    along, z = lines.on_side(axis, at_mm)
    near = (np.abs(z) < 60).ravel()
    assert near.any()
    across = np.full(near.sum(), at_mm)
    ab = (across, along.ravel()[near]) if axis == 0 else (along.ravel()[near], across)
    shown = oblique.project(np.c_[ab[0], ab[1], z.ravel()[near]].astype(float))
    assert np.abs(shown - pixel_grid(REGION)[near]).max() < 0.02


def test_pitch_is_the_gradient(oblique):
    lines = sight_lines(oblique, REGION)
    down, right = np.gradient(lines.x_mm.astype(float))
    assert np.allclose(lines.pitch_x_mm, np.hypot(down, right), rtol=0.01)


def test_a_part_agrees_with_the_whole(oblique):
    part = Region(150, 100, 50, 40)
    cut, own = sight_lines(oblique, REGION).part(part), sight_lines(oblique, part)
    assert np.allclose(cut.x_mm, own.x_mm, atol=0.02)
    assert np.allclose(cut.y_mm, own.y_mm, atol=0.02)


def test_region_is_cut_to_the_photo():
    region = Region.around(np.array([[-50.0, 10.2], [30.5, 40.0]]), 2, (100, 80, 3))
    assert region == Region(0, 8, 34, 35)
    assert Region.around(np.array([[-50.0, 10.0]]), 2, (100, 80, 3)).empty
