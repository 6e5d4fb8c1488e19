"""Openings along the outline, counted by hand and by trying every rectangle."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from visualiser.arrangement.openings import largest_opening, opening_between, openings_by_side

GAP = 50.0


def opening(boxes):
    """Of one layout of pieces given as left, right, bottom, top."""
    left, right, bottom, top = np.array(boxes, dtype=float).T
    centres = np.column_stack([left + right, bottom + top])[None] / 2
    return float(largest_opening(centres, np.column_stack([right - left, top - bottom]), GAP)[0])


def square(column, row, side=300.0):
    x, y = column * (side + GAP), row * (side + GAP)
    return x, x + side, y, y + side


GRID = [square(x, y) for x in range(3) for y in range(3)]


def test_gaps_between_frames_are_no_opening():
    assert opening(GRID) == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("missing", [(0, 0), (2, 0), (1, 0), (0, 1), (1, 2)])
def test_a_piece_left_out_at_a_corner_or_a_side_leaves_its_own_size_and_gap(missing):
    rest = [box for box in GRID if box != square(*missing)]
    assert opening(rest) == pytest.approx((300 + GAP) ** 2)


def test_a_hole_in_the_middle_does_not_touch_the_outline():
    assert opening([box for box in GRID if box != square(1, 1)]) == pytest.approx(0, abs=1e-6)


def test_rows_set_off_by_half_a_step_leave_half_a_piece_at_their_ends():
    upper = [square(x + 0.5, 1) for x in range(2)]
    assert opening([square(x, 0) for x in range(3)] + upper) == pytest.approx(175 * 350)


def every_rectangle(centres, sizes):
    """Largest empty rectangle on the grid of all sides that touches the outline."""
    low, high = centres - sizes / 2 - GAP / 2, centres + sizes / 2 + GAP / 2
    first, last = low.min(axis=0), high.max(axis=0)
    lines = [sorted({*low[:, k], *high[:, k]}) for k in (0, 1)]
    best = 0.0
    for (a, b), (c, d) in itertools.product(*(itertools.combinations(x, 2) for x in lines)):
        on_side = a == first[0] or b == last[0] or c == first[1] or d == last[1]
        inside = (low < (b - 1e-9, d - 1e-9)) & (high > (a + 1e-9, c + 1e-9))
        if on_side and not inside.all(axis=1).any():
            best = max(best, (b - a) * (d - c))
    return best


@settings(max_examples=60, deadline=None)
@given(count=st.integers(1, 7), seed=st.integers(0, 10**6))
def test_no_rectangle_along_the_outline_is_larger(count, seed):
    rng = np.random.default_rng(seed)
    centres = rng.integers(-80, 80, (3, count, 2)) * 10.0
    sizes = rng.choice([200.0, 300.0, 400.0], (3, count, 2))
    expected = [every_rectangle(c, s) for c, s in zip(centres, sizes, strict=True)]
    assert largest_opening(centres, sizes, GAP) == pytest.approx(expected, abs=1e-3)


def sides_of(boxes):
    """Lower and upper sides (N, K) along x and y of layouts (K, N, 4)."""
    left, bottom, right, top = np.moveaxis(np.asarray(boxes, float), 2, 0)
    return [left.T, bottom.T], [right.T, top.T]


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), count=st.integers(2, 9))
def test_what_a_new_piece_leaves_open_is_no_more_than_is_open_then(seed, count):
    """The opening beside which a piece is hung stays, so it bounds that of the whole group."""
    rng = np.random.default_rng(seed)
    low = rng.integers(0, 12, (40, count, 2)) * 120.0
    boxes = np.concatenate([low, low + rng.choice([100.0, 180.0, 300.0], low.shape)], axis=2)
    new = boxes[:, -1]
    by_side = list(openings_by_side(*sides_of(boxes[:, :-1]), GAP))
    largest = np.max([np.maximum(one.area, 0) for one in by_side], axis=0)
    assert largest == pytest.approx(opening_between(*sides_of(boxes[:, :-1]), GAP))
    at, own = (new[:, :2] + new[:, 2:]).T / 2, (new[:, 2:] - new[:, :2]).T / 2
    for one in by_side:
        stays = one.stays(np.arange(40), at, own)
        assert (stays <= opening_between(*sides_of(boxes), GAP) + 1e-6).all()
