"""Ratio and squareness of rectangles, against pictures projected by a camera of our own.

Prints in mats and mouldings lie in the middle of something; sheets on walls do not.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from visualiser.rectification.finder.shape import ViewPrior, fit_rectangles

FOCAL = 2000.0
VIEW = ViewPrior(FOCAL, 0.02, (1279.5, 959.5))


def pictured(width, height, yaw_deg, pitch_deg, turn_deg, distance=3000.0):
    """Corners (1, 4, 2) of a rectangle seen by a pinhole camera, straight ahead."""
    a, b, c = np.radians([yaw_deg, pitch_deg, turn_deg])
    yaw = np.array([[np.cos(a), 0, np.sin(a)], [0, 1, 0], [-np.sin(a), 0, np.cos(a)]])
    pitch = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    turn = np.array([[np.cos(c), -np.sin(c), 0], [np.sin(c), np.cos(c), 0], [0, 0, 1]])
    flat = np.array([[-1.0, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
    room = (flat * [width / 2, height / 2, 0]) @ (yaw @ pitch @ turn).T + [150, -90, distance]
    return (FOCAL * room[:, :2] / room[:, 2:] + VIEW.centre_px)[None]


@given(
    yaw=st.floats(-45, 45),
    pitch=st.floats(-20, 20),
    turn=st.floats(-44, 44),
    distance=st.floats(800, 5000),
)
def test_the_true_rectangle_fits_from_every_side(yaw, pitch, turn, distance):
    fit = fit_rectangles(pictured(210, 297, yaw, pitch, turn, distance), (210, 297), VIEW, 0.3)
    assert fit.chi2[0] < 1e-6
    assert fit.ratio[0] == pytest.approx(210 / 297, rel=1e-6)
    assert fit.upright[0]
    centre = np.linalg.norm([150, -90, distance])
    assert fit.distance_mm[0] == pytest.approx(centre, rel=1e-6)
    normal = np.cos(np.radians(yaw)) * np.cos(np.radians(pitch))
    assert fit.tilt_deg[0] == pytest.approx(np.degrees(np.arccos(normal)), abs=1e-3)


def test_a_sheet_on_its_side_is_known_as_such():
    fit = fit_rectangles(pictured(297, 210, 20, 5, 3), (210, 297), VIEW, 0.3)
    assert not fit.upright[0]
    assert fit.chi2[0] < 1e-6


def test_a_canvas_of_three_to_four_is_no_a4_from_the_side():
    """300 x 400 mm against 210 x 297: 6 % in the ratio, told apart 3 m away at 20 degrees."""
    fit = fit_rectangles(pictured(300, 400, 20, 5, 2), (210, 297), VIEW, 0.3)
    assert fit.chi2[0] > 9.2  # 99 % of a chi-square with two degrees of freedom


def test_misfit_is_in_units_of_its_sigma():
    """Corners with noise of the stated size give a chi-square of two degrees: mean 2."""
    rng = np.random.default_rng(5)
    true = pictured(210, 297, 25, 5, 3)
    noisy = true + rng.normal(0, 2.0, (4000, 4, 2))
    exact_lens = ViewPrior(FOCAL, 1e-9, VIEW.centre_px)
    fit = fit_rectangles(noisy, (210, 297), exact_lens, 2.0)
    assert 1.5 < fit.chi2.mean() < 2.2
