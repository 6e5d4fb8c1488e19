"""Single, pair, row, column and grid: exact places worked by hand."""

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.appearance import disorder
from visualiser.arrangement.families.lines import orders
from visualiser.geometry import Rect
from visualiser.survey.survey import Furniture, Survey

WALL = Survey.from_size(4000, 2600)
RULES = vis.Guidelines()


def places(arrangement):
    return sorted((p.x_mm, p.y_mm) for p in arrangement.placements)


def test_single_hangs_at_eye_level_in_the_middle():
    (one,) = vis.propose([vis.Piece("A", 500, 700)], WALL, RULES)
    assert places(one) == [(2000, 1524)]


def test_row_of_three_equal_pieces():
    pieces = [vis.Piece(i, 400, 500) for i in "ABC"]
    (row,) = vis.propose(pieces, WALL, RULES, families=["row"], count=1)
    assert places(row) == [(1543, 1524), (2000, 1524), (2457, 1524)]
    assert row.score > 90


def test_grid_of_nine_equal_pieces_in_inches():
    """Nine 12 x 12 in frames 2 1/4 in apart: pitch 14 1/4 in, 361.95 mm."""
    pieces = [vis.Piece(f"P{i}", 304.8, 304.8) for i in range(9)]
    rules = vis.Guidelines(gap_mm=57.15)
    (grid,) = vis.propose(pieces, WALL, rules, families=["grid"], count=1)
    pitch = 14.25 * 25.4
    expected = sorted(
        (2000 + (i - 1) * pitch, 1524 + (j - 1) * pitch) for i in range(3) for j in range(3)
    )
    assert places(grid) == [pytest.approx(e) for e in expected]


def test_row_above_a_sofa_keeps_its_clearance():
    survey = Survey.from_size(4000, 2600, furniture=(Furniture("sofa", Rect(500, 0, 2000, 850)),))
    pieces = [vis.Piece(i, 400, 400) for i in "ABC"]
    (row,) = vis.propose(pieces, survey, RULES, families=["row"], count=1)
    assert row.bounds.bottom_mm == pytest.approx(850 + 250)
    assert row.bounds.centre_mm[0] == pytest.approx(1500)


@pytest.mark.parametrize(
    ("heights", "expected"),
    [
        ((400, 500, 400), 0.0),  # the same from both ends, rising or dipping
        ((500, 300, 500), 0.0),
        ((300, 400, 500, 500, 400), (100 + 100 + 0 + 100 + 100) / 5 / 500),  # rises and falls
        ((500, 300, 400, 500), (0 + 100 + 100 + 0) / 4 / 500 + 200 / 500),  # 300 between two 500
        ((500, 700, 400, 500), (0 + 300 + 300 + 0) / 4 / 700 + 100 / 700),
    ],
)
def test_disorder_of_a_row_worked_by_hand(heights, expected):
    assert disorder(np.array(heights, float)) == pytest.approx(expected)
    assert disorder(np.array(heights[::-1], float)) == pytest.approx(expected)


def test_no_small_frame_breaks_a_row_of_unlike_ones():
    """Of five heights all orders could be tried; those with a small frame between larger go."""
    sizes = np.array([(400.0, h) for h in (500.0, 400.0, 350.0, 300.0, 250.0)])
    found = list(orders(sizes))
    assert 4 <= len(found) < 60
    for order in found:
        heights = sizes[list(order), 1]
        top = int(heights.argmax())
        assert (np.diff(heights[: top + 1]) > 0).all()
        assert (np.diff(heights[top:]) < 0).all()
