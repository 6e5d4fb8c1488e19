"""Single, pair, row, column and grid: exact places worked by hand."""

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.appearance import DIP_OF_SAME, disorder
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
        ((400, 500, 400), 0.0),  # the same from both ends, rising
        ((500, 300, 500), DIP_OF_SAME * 200 / 500),  # and dipping
        ((300, 400, 500, 500, 400), (100 + 100 + 0 + 100 + 100) / 5 / 500),  # rises and falls
        ((500, 300, 400, 500), (0 + 100 + 100 + 0) / 4 / 500 + 200 / 500),  # 300 between two 500
        ((500, 700, 400, 500), (0 + 300 + 300 + 0) / 4 / 700 + 100 / 700),
    ],
)
def test_disorder_of_a_row_worked_by_hand(heights, expected):
    assert disorder(np.array(heights, float)) == pytest.approx(expected)
    assert disorder(np.array(heights[::-1], float)) == pytest.approx(expected)


def test_large_pieces_hang_between_small_ones_and_not_beside_them():
    """Large and small turn by turn pass before a line that is unlike at its ends: practice."""
    bookends, inside = np.array([500.0, 300, 300, 500]), np.array([300.0, 500, 500, 300])
    by_turns, uneven = np.array([300.0, 500, 300, 500, 300]), np.array([300.0, 500, 500, 300, 300])
    assert disorder(inside) < disorder(bookends)
    assert disorder(by_turns) < disorder(uneven)


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


def test_terms_say_what_was_measured_in_plain_words():
    """Worked: 700 + 2 x 400 mm and two gaps of 57, 1614 mm, are 73 % of a sofa of 2200 mm."""
    wall = Survey.from_size(4200, 2500, furniture=(Furniture("sofa", Rect(1000, 0, 2200, 820)),))
    pieces = [vis.Piece("A", 700, 500), vis.Piece("B", 400, 500), vis.Piece("C", 400, 500)]
    best = vis.propose(pieces, wall, RULES, families=["triptych"], count=1)[0]
    said = {term.name: str(term.sentence) for term in best.terms}
    assert said["proportion"] == "The group takes 73 % of the sofa's width."
    assert said["focal piece"] == "What weighs most hangs in the group's middle."
    assert said["symmetry"] == "Left and right of the group match."
    assert said["weight below"] == "The visual weight lies level with the group's middle."
