"""A small sample of the benchmark of 200 poses, with its real bounds."""

import numpy as np
import pytest

from tests.synthetic.scoring import score_scene, table


@pytest.mark.timeout(600)
def test_walls_with_lines_are_measured_to_millimetres():
    scores = [score_scene(s, lines=True, long_side=1600) for s in range(500, 506)]
    near, far = table(scores)
    assert near["median_mm"] <= 1.5
    assert near["p95_mm"] <= 5
    assert far["median_mm"] <= 3
    assert far["p95_mm"] <= 10
    assert far["ratio"] >= 8
    assert np.median([s.level_deg for s in scores]) <= 0.15


@pytest.mark.timeout(600)
def test_walls_without_lines_are_measured_to_a_few_millimetres_nearby():
    scores = [score_scene(s, lines=False, long_side=1600) for s in range(600, 604)]
    near, far = table(scores)
    assert near["median_mm"] <= 6
    assert far["ratio"] > 1.5
