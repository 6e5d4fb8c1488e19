"""Moves of single pieces: the score never falls, gaps and the wall's limits are kept."""

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.families.salons import fitted_apart
from visualiser.arrangement.measures import MeasuringContext
from visualiser.arrangement.polishing import polished
from visualiser.arrangement.scoring import WEIGHTS, score_layouts
from visualiser.arrangement.setting import describe
from visualiser.survey.survey import Survey

SALON = MeasuringContext(kind="salon")


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_group_gets_better_and_keeps_its_gaps(seed):
    rng = np.random.default_rng(seed)
    pieces = [vis.Piece(f"P{i}", *map(float, rng.choice([250, 300, 400, 500], 2)))
              for i in range(7)]  # fmt: skip
    setting = describe(pieces, Survey.from_size(4400, 2600), vis.Guidelines())
    before = next(fitted_apart(setting, rng, 0))
    score = float(score_layouts(before[None], setting, WEIGHTS, SALON).total[0])
    after, better = polished(before, setting, WEIGHTS, SALON)
    assert better > score
    assert better == pytest.approx(score_layouts(after[None], setting, WEIGHTS, SALON).total[0])
    half = setting.sizes / 2
    clear = (np.abs(after[:, None] - after[None]) - half[:, None] - half[None]).max(axis=2)
    assert clear[~np.eye(7, dtype=bool)].min() >= 50 - 1e-6
    assert not setting.space.blocked(setting.boxes(after)).any()


def test_edges_that_miss_each_other_by_little_are_brought_into_line():
    """Four squares of 300, of which one hangs 13 mm to the right and 6 mm down, make a grid."""
    pieces = [vis.Piece(f"P{i}", 300.0, 300.0) for i in range(4)]
    setting = describe(pieces, Survey.from_size(4400, 2600), vis.Guidelines())
    before = np.array([(0.0, 0.0), (357.0, 0.0), (0.0, 357.0), (370.0, 351.0)])
    after, _ = polished(before, setting, WEIGHTS, SALON)
    assert [len(np.unique(np.round(after[:, axis], 3))) for axis in (0, 1)] == [2, 2]
    assert np.ptp(after, axis=0) == pytest.approx([357.0, 357.0])
