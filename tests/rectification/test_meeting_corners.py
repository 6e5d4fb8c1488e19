"""Corners where sampled sides meet: against the square they were drawn from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from visualiser.rectification.edges import no_samples
from visualiser.rectification.meeting_corners import meeting_corners
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
