"""How far one side may be off, against closed forms of what moves it."""

import numpy as np
import pytest

from visualiser.as_hung.edges import sharpest_px, side_doubt
from visualiser.rectification.reference import EdgeLook, EdgeSamples

BLUR_PX = 0.8


def side(blur_px, contrast=-0.7, scatter_px=0.05):
    """A plumb side of 20 blocks."""
    y = np.linspace(0.0, 140.0, 20)
    points, normals = np.c_[0 * y, y], np.tile([1.0, 0.0], (20, 1))
    look = EdgeLook(contrast, blur_px)
    return EdgeSamples(points, normals, np.full(20, scatter_px), look)


def doubt(samples, merged_px=0.0):
    return side_doubt(samples, BLUR_PX, 0.4, merged_px, rounded=False)


@pytest.mark.parametrize("width_px", [1.0, 2.0, 3.0])
@pytest.mark.parametrize("dark", [1 / 3, 1 / 2, 2 / 3])
def test_a_strip_of_shadow_moves_a_side_no_further_than_is_doubted(width_px, dark):
    """A step of which a share stands w further out: mean and spread are a coin's (Bernoulli)."""
    moved = dark * width_px
    widened = np.sqrt(BLUR_PX**2 + dark * (1 - dark) * width_px**2)
    told = doubt(side(widened))
    assert told.outward_px > 0
    assert abs(moved - told.outward_px) < 2 * told.sigma_px


def test_a_light_frame_is_not_taken_to_be_joined_by_its_shadow():
    assert doubt(side(2.0, contrast=0.7)).outward_px == 0.0


def test_a_light_frame_ends_to_the_eye_where_it_has_turned_half_way():
    """Anywhere from its end to twice as far in: mean and spread of a uniform distribution."""
    half_turned_mm, px_per_mm = 2.4, 0.4
    samples = side(BLUR_PX, contrast=0.7)
    sharp, round_ = (
        side_doubt(samples, BLUR_PX, px_per_mm, 0.0, rounded=True, half_turned_mm=mm)
        for mm in (0.0, half_turned_mm)
    )
    assert round_.outward_px == pytest.approx(-half_turned_mm * px_per_mm)
    added = np.sqrt(round_.sigma_px**2 - sharp.sigma_px**2)
    assert added == pytest.approx(2 * half_turned_mm / np.sqrt(12) * px_per_mm, rel=0.1)


def test_a_faint_side_may_be_another_line_of_the_section():
    faint, clear = doubt(side(BLUR_PX, contrast=0.1)), doubt(side(BLUR_PX, contrast=0.6))
    assert faint.sigma_px > clear.sigma_px + 0.2


def test_a_side_of_walking_blocks_is_off_and_turned_as_told():
    """Means and slopes of random walks (numpy's generator), whose steps are what scatters."""
    rng = np.random.default_rng(3)
    t = np.linspace(-1, 1, 20)
    # Each block strays with its neighbours: an autoregression of 0.9, of unit spread.
    stray = np.empty((4000, 20))
    stray[:, 0] = rng.normal(size=4000)
    for k in range(1, 20):
        stray[:, k] = 0.9 * stray[:, k - 1] + np.sqrt(1 - 0.9**2) * rng.normal(size=4000)
    slope = stray @ t / (t @ t)
    # What is left about a straight line is all the scatter that can be seen.
    left = stray - stray.mean(axis=1, keepdims=True) - slope[:, None] * t
    told = doubt(side(BLUR_PX, scatter_px=float(left.std())))
    assert told.sigma_px == pytest.approx(stray.mean(axis=1).std(), rel=0.5)
    assert told.twist_sigma_px == pytest.approx(slope.std(), rel=0.5)


def test_either_of_two_lines_moves_a_side_without_turning_it():
    plain, merged = doubt(side(BLUR_PX)), doubt(side(BLUR_PX), merged_px=1.5)
    assert merged.sigma_px > 1.5 > plain.sigma_px
    assert merged.twist_sigma_px == plain.twist_sigma_px


def test_a_photo_is_as_sharp_as_its_sharpest_sides():
    assert sharpest_px([side(b) for b in (0.8, 0.82, 1.5, 2.0, 2.2)]) == pytest.approx(
        0.8, abs=0.02
    )
