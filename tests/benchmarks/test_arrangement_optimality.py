"""How near the search comes to the best there is, and to general optimisers, side by side."""

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.attaching import (
    Ground,
    build_groups,
    group_score,
    normal_places,
)
from visualiser.arrangement.setting import describe
from visualiser.survey.survey import Survey

pytestmark = pytest.mark.benchmark

WALL = Survey.from_size(4000, 2600)


def random_setting(count, seed):
    rng = np.random.default_rng(seed)
    sides = rng.choice([210, 250, 300, 350, 400, 500, 600, 700], size=(count, 2))
    pieces = [vis.Piece(f"P{i}", *map(float, side)) for i, side in enumerate(sides)]
    return describe(pieces, WALL, vis.Guidelines())


def exhaustive(setting):
    """Best score over every normal placement: all orders, all hosts, all sides."""
    count, gap, least = setting.count, setting.gap_mm, setting.guidelines.gap_min_mm
    level = {((i,), (0, 0)): (np.zeros((1, 2)), (i,)) for i in range(count)}
    best = -1.0
    for size in range(1, count):
        grown, stacks = {}, []
        for centres, index in level.values():
            for new in set(range(count)) - set(index):
                places = normal_places(
                    centres, setting.sizes[list(index)] / 2, setting.sizes[new] / 2, gap, least
                )
                for place in places:
                    rows = (*index, new)
                    at = np.concatenate([centres, place[None]])
                    order = np.argsort(rows)
                    at, rows = at[order], tuple(rows[k] for k in order)
                    moved = np.round(at - at.min(axis=0), 1)
                    key = (rows, moved.tobytes())
                    if key not in grown:
                        grown[key] = (at, rows)
        if size + 1 == count:
            stacks = [at for at, _ in grown.values()]
            for start in range(0, len(stacks), 4000):
                part = np.stack(stacks[start : start + 4000])
                best = max(best, float(group_score(Ground(setting), part).max()))
        level = grown
    return best


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("count", [3, 4])
def test_within_one_per_cent_of_exhaustive_search(count, seed):
    setting = random_setting(count, seed)
    best = exhaustive(setting)
    found = build_groups(Ground(setting), [(i,) for i in range(count)], np.random.default_rng(0))
    score = float(group_score(Ground(setting), found[0][None])[0])
    print(f"{count} pieces, set {seed}: found {score:.2f}, best {best:.2f}")
    assert score >= 0.99 * best
