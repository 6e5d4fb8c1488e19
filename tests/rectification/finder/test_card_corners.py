"""Rounded corners of a card (ISO/IEC 7810: radius 3.18 mm) against square ones, drawn."""

import cv2
import numpy as np
import pytest

from visualiser.photo.photo import Photo
from visualiser.rectification.finder.card_corners import Rounding, corner_rounding
from visualiser.rectification.finder.close_look import sampled_sides

SIZE_MM = (85.6, 53.98)
FINE = 8


def pictured(radius_mm, px_per_mm, *, seed=0, turn_deg=4.0):
    """A photo of a dark rectangle on a light wall, and its four corners."""
    half = np.array(SIZE_MM) / 2
    signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    arc = np.linspace(np.pi, 1.5 * np.pi, 20)
    outline = []
    for k, sign in enumerate(signs):
        middle = sign * (half - radius_mm)
        angles = arc + k * np.pi / 2
        outline.append(middle + radius_mm * np.c_[np.cos(angles), np.sin(angles)])
    turn = np.radians(turn_deg)
    matrix = px_per_mm * np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    centre = np.array([110.3, 90.6])
    drawn = np.concatenate(outline) @ matrix + centre
    fine = np.full((180 * FINE, 220 * FINE), 0.55, np.float32)
    at = np.round(((drawn + 0.5) * FINE - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(fine, [at], 0.12, shift=4)
    light = cv2.resize(cv2.GaussianBlur(fine, (0, 0), 0.7 * FINE), (220, 180), interpolation=3)
    coded = 255 * (1.055 * light ** (1 / 2.4) - 0.055)
    coded = coded + np.random.default_rng(seed).normal(0, 1.5, coded.shape)
    photo = Photo(np.repeat(np.round(coded)[..., None], 3, axis=2).astype(np.uint8))
    return photo, signs * half @ matrix + centre


def rounding_of(radius_mm, px_per_mm, **look):
    photo, corners = pictured(radius_mm, px_per_mm, **look)
    return corner_rounding(photo, corners, sampled_sides(photo, corners, 3.0), SIZE_MM)


@pytest.mark.parametrize("px_per_mm", [0.8, 1.2, 2.0])
@pytest.mark.parametrize("seed", [0, 1])
def test_the_share_of_a_rounding_is_its_area(px_per_mm, seed):
    """A corner of radius r lacks (1 - pi/4) r²: half the radius, a quarter of the share."""
    for radius_mm in (0.05, 3.18 / 2, 3.18):
        told = rounding_of(radius_mm, px_per_mm, seed=seed)
        assert told.share == pytest.approx((radius_mm / 3.18) ** 2, abs=2.5 * told.sigma)
        assert told.sigma < 0.5


def test_a_card_is_told_from_a_square_thing():
    assert rounding_of(3.18, 1.0).log_odds > 2
    assert rounding_of(0.05, 1.0).log_odds < -2


def test_far_away_nothing_is_said():
    assert abs(rounding_of(3.18, 0.45).log_odds) < abs(rounding_of(3.18, 1.2).log_odds)
    assert Rounding(0.0, 30.0).log_odds == pytest.approx(0.0, abs=0.1)
    assert Rounding(0.5, np.inf).log_odds == 0.0


def test_a_cushion_is_no_card():
    assert Rounding(2.8, 0.3).log_odds < 0


def test_without_sides_or_at_the_rim_nothing_is_known():
    photo, corners = pictured(3.18, 1.0)
    assert not np.isfinite(corner_rounding(photo, corners, (), SIZE_MM).sigma)
    sides = sampled_sides(photo, corners, 3.0)
    assert not np.isfinite(corner_rounding(photo, corners - corners.min(), sides, SIZE_MM).sigma)
