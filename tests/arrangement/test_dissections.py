"""Full rectangles of many pieces: gaps between their limits, no lot, and full ones found."""

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.families.dissections import dissected
from visualiser.arrangement.measures import measure
from visualiser.arrangement.setting import describe
from visualiser.survey.survey import Survey

RULES = vis.Guidelines()
WALL = Survey.from_size(5200, 2700)


def setting_of(sides, scale=1.0):
    pieces = [vis.Piece(f"P{i:02}", scale * w, scale * h) for i, (w, h) in enumerate(sides)]
    rules = vis.Guidelines(
        gap_mm=57 * scale, gap_min_mm=50 * scale, gap_max_mm=75 * scale,
        centre_height_mm=1524 * scale, edge_clearance_mm=100 * scale,
    )  # fmt: skip
    return describe(pieces, Survey.from_size(5200 * scale, 2700 * scale), rules)


def mixed(count, seed):
    rng = np.random.default_rng(seed)
    sizes = [(300, 400), (400, 500), (400, 300), (500, 400), (300, 300), (400, 600)]
    return [sizes[k] for k in rng.integers(len(sizes), size=count)]


@pytest.mark.parametrize("seed", [0, 1])
def test_pieces_keep_their_least_gap(seed):
    setting = setting_of(mixed(12, seed))
    for centres in dissected(setting):
        half = setting.sizes / 2
        clear = np.abs(centres[:, None] - centres[None]) - half[:, None] - half[None]
        apart = clear.max(axis=2)[~np.eye(12, dtype=bool)]
        assert apart.min() >= RULES.gap_min_mm - 1e-6


def test_columns_that_close_at_the_gap_are_found():
    """Four columns of 400 over 500 over 300 mm, all 400 mm wide, fill 1771 x 1314 mm."""
    sides = [(400, 400), (400, 500), (400, 300)] * 4
    setting = setting_of(sides)
    best = dissected(setting)[0]
    m = measure(best[None], setting.sizes, setting.masses, setting.gap_mm)
    assert m.straight[0] == pytest.approx(1)
    assert m.filled[0] == pytest.approx(1)


def test_the_unit_of_lengths_changes_nothing():
    one, other = (dissected(setting_of(mixed(11, 3), scale)) for scale in (1.0, 0.5))
    assert len(one) == len(other) > 0
    assert other[0] * 2 == pytest.approx(one[0], abs=1e-3)
