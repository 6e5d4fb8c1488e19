"""Whether a plane that two photos share is the wall: mixtures and areas in closed form."""

import numpy as np
import pytest

from visualiser.rectification.camera.observation import on_wall
from visualiser.rectification.camera.projection import FLIP, CameraState, Lens
from visualiser.rectification.joined.shared_layer import (
    FRONT_MM,
    FRONTS_SHARE,
    WALL_SIGMA_MM,
    filled_share,
    stand_off_sigma,
)

SIZE = (1000, 750)


def camera(x_mm):
    lens = Lens(720.0, 499.5, 374.5)
    return CameraState(FLIP, -FLIP @ np.array([x_mm, 0.0, 1800.0]), lens)


def px_of(points_mm, one):
    return one.project(np.c_[points_mm, np.zeros(len(points_mm))])[0]


def test_without_any_sign_it_is_the_mixture_of_wall_and_fronts():
    second_moment = WALL_SIGMA_MM**2 + FRONTS_SHARE * FRONT_MM**2
    assert stand_off_sigma(0.0, backs=False) ** 2 == pytest.approx(second_moment)


def test_a_wall_seen_behind_pictures_or_all_over_is_known_as_well_as_plaster_is_flat():
    assert stand_off_sigma(0.1, backs=True) == WALL_SIGMA_MM
    assert stand_off_sigma(0.9, backs=False) == pytest.approx(WALL_SIGMA_MM, abs=0.1)


def test_the_more_it_fills_the_closer_it_is_known():
    sigmas = [stand_off_sigma(share, backs=False) for share in (0.3, 0.45, 0.55, 0.7)]
    assert sigmas == sorted(sigmas, reverse=True)


def test_texture_everywhere_fills_the_view_and_one_picture_its_own_area():
    one, other = camera(0.0), camera(1500.0)
    rng = np.random.default_rng(3)
    # Both see x from 250 to 1250 mm (half of 2500 mm each way) and y within 938 mm of the middle.
    everywhere = px_of(rng.uniform([260, -930], [1240, 930], (4000, 2)), one)
    none = np.empty((0, 2))
    assert filled_share((one, other), SIZE, everywhere, none) > 0.9
    picture = px_of(rng.uniform([500, 0], [1000, 400], (400, 2)), one)
    share = filled_share((one, other), SIZE, picture, none)
    # 0.2 of 1.88 square metres, rounded up to whole cells of 120 mm: 0.62 by 0.52 at most.
    assert 0.2 / 1.88 < share < 0.62 * 0.52 / 1.88 * 1.3


def test_what_stands_before_the_wall_does_not_count_against_it():
    one, other = camera(0.0), camera(1500.0)
    rng = np.random.default_rng(4)
    upper = px_of(rng.uniform([260, 0], [1240, 930], (2000, 2)), one)
    lower = px_of(rng.uniform([260, -930], [1240, -10], (2000, 2)), one)
    assert filled_share((one, other), SIZE, upper, np.empty((0, 2))) < 0.6
    assert filled_share((one, other), SIZE, upper, lower) > 0.85
    assert on_wall(one, upper)[:, 1].min() >= -1e-6
