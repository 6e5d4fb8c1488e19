"""Free wall: bringing a group into it, against trying every place that could be the nearest."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.space import WallSpace, wall_space
from visualiser.geometry import Polygon, Rect, frozen
from visualiser.survey.survey import Survey

WALL = Rect(0, 0, 3000, 2500)


def blocked_wall(rng, count):
    low = rng.uniform(0, 1, (count, 2)) * (2600, 2100)
    blocks = np.concatenate([low, low + rng.uniform(50, 700, (count, 2))], axis=1)
    return WallSpace(WALL, frozen(blocks, (None, 4)), 1500.0, None)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), blocks=st.integers(0, 6), pieces=st.integers(1, 3))
def test_a_group_comes_to_the_nearest_free_place(seed, blocks, pieces):
    """The nearest place is the wanted one, or has each coordinate there or at some edge."""
    rng = np.random.default_rng(seed)
    space = blocked_wall(rng, blocks)
    low = rng.uniform(0, 900, (pieces, 2))
    boxes = np.concatenate([low, low + rng.uniform(100, 600, (pieces, 2))], axis=1)
    want = rng.uniform(-500, 2500, 2)
    found = space.settle(boxes, *want)
    stops = []
    for axis, length in ((0, WALL.width_mm), (1, WALL.height_mm)):
        least, most = -boxes[:, axis].min(), length - boxes[:, axis + 2].max()
        edges = [space.blocks[:, None, axis] - boxes[:, axis + 2],
                 space.blocks[:, None, axis + 2] - boxes[:, axis]]  # fmt: skip
        at = np.concatenate([*(e.ravel() for e in edges), [least, most, want[axis]]])
        stops.append(np.clip(at, least, most))
    shifts = np.stack(np.meshgrid(*stops), axis=-1).reshape(-1, 2)
    free = ~space.blocked(boxes + np.tile(shifts, 2)[:, None]).any(axis=1)
    if found is None:
        assert not free.any()
        return
    assert not space.blocked(boxes + (*found, *found)).any()
    inside = np.clip(want, [s.min() for s in stops], [s.max() for s in stops])
    best = np.hypot(*(shifts[free] - inside).T).min()
    assert np.hypot(*(found - inside)) <= best + 1e-6


def test_a_piece_below_a_wall_that_starts_above_the_floor_is_not_free():
    survey = Survey(Polygon.from_rect(Rect(0, 900, 4000, 1700)))
    space = wall_space(survey, Guidelines())
    low = space.bounds.bottom_mm
    boxes = np.array([[1000, low - 5, 1400, low + 400], [1000, low, 1400, low + 400.0]])
    assert space.blocked(boxes).tolist() == [True, False]
