"""Corners where sampled sides meet: against the square they were drawn from.

Bow of sides against the sagitta of a circle's arc, and shapes that only look like sheets.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from visualiser.errors import ReferenceNotFound
from visualiser.photo.photo import Photo
from visualiser.rectification.edges.corners import bow_share, meeting_corners
from visualiser.rectification.edges.locate import no_samples
from visualiser.rectification.finder.find import convincing, find_references
from visualiser.rectification.reference import EdgeSamples

SQUARE = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 80.0], [0.0, 80.0]])


def _side(index: int, sigma_px: float, rng: np.random.Generator) -> EdgeSamples:
    start, end = SQUARE[index], SQUARE[(index + 1) % 4]
    run = (end - start) / 80
    normal = np.array([-run[1], run[0]])
    points = start + np.linspace(10, 70, 9)[:, None] * run
    points = points + rng.normal(0, sigma_px, 9)[:, None] * normal
    return EdgeSamples(points, np.tile(normal, (9, 1)), np.full(9, sigma_px))


def test_a_block_on_tape_does_not_turn_the_side() -> None:
    sides = [_side(i, 0.05, np.random.default_rng(i)) for i in range(4)]
    taped = sides[2].points_px + np.r_[[[0.0, 1.2]], np.zeros((8, 2))]
    sides[2] = replace(sides[2], points_px=taped)
    met, _ = meeting_corners(SQUARE, tuple(sides))
    assert np.abs(met - SQUARE).max() < 0.25


def test_stated_sigma_covers_the_corners_of_one_poor_side() -> None:
    pulls = []
    for seed in range(200):
        rng = np.random.default_rng(seed)
        sides = tuple(_side(i, 0.8 if i == 2 else 0.05, rng) for i in range(4))
        met, sigma = meeting_corners(SQUARE, sides)
        pulls.append((met - SQUARE)[2:, 1] / sigma[2:, 1])
        assert sigma[:2].max() < 0.3 < sigma[2:, 1].min()
    assert np.std(pulls) < 1.5


def test_sides_without_samples_keep_the_corners() -> None:
    met, _ = meeting_corners(SQUARE, (no_samples(),) * 4)
    assert np.array_equal(met, SQUARE)


def arc(radius, chord, count=20):
    half = np.arcsin(chord / 2 / radius)
    angle = np.linspace(-half, half, count)
    points = radius * np.c_[np.sin(angle), np.cos(angle)]
    return EdgeSamples(points, np.tile([0.0, 1.0], (count, 1)), np.full(count, 0.05))


@pytest.mark.parametrize("bow", [0.005, 0.02, 0.06])
def test_the_bow_of_an_arc_is_its_sagitta(bow):
    """Radius from chord and sagitta: r = c² / 8 s + s / 2."""
    chord = 100.0
    sagitta = bow * chord
    side = arc(chord**2 / (8 * sagitta) + sagitta / 2, chord)
    assert bow_share((side,) * 4) == pytest.approx(bow, rel=0.03)


def test_one_loose_corner_does_not_bow_the_sheet():
    straight = arc(1e6, 100.0)
    assert bow_share((arc(200.0, 100.0), straight, straight, straight)) < 0.001
    assert bow_share(()) == 0.0


def ring(power):
    """A white shape of a sheet's length and width on grey: an ellipse for power 2, then squarer."""
    y, x = np.mgrid[0:640, 0:900].astype(float)
    inside = (np.abs(x - 450) / 150) ** power + (np.abs(y - 320) / 212) ** power < 1
    light = cv2.GaussianBlur(np.where(inside, 236.0, 120.0), (0, 0), 0.8)
    light += np.random.default_rng(0).normal(0, 1.5, light.shape)
    return Photo(np.repeat(np.clip(light, 0, 255)[..., None], 3, axis=2).astype(np.uint8))


@pytest.mark.parametrize("power", [2, 3, 4])
def test_the_inside_of_a_letter_is_no_sheet(power):
    with pytest.raises(ReferenceNotFound):
        convincing(find_references(ring(power), "a4"))


def test_a_sheet_of_that_size_is_one():
    assert convincing(find_references(ring(400), "a4")).kind == "a4"
