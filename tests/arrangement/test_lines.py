"""Single, pair, row, column and grid: exact places worked by hand."""

import pytest

import visualiser as vis
from visualiser.geometry import Polygon, Rect
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


def test_a_crossed_outline_is_named():
    crossed = Polygon(((0, 0), (4000, 2600), (4000, 0), (0, 2600)))
    with pytest.raises(vis.ArrangementError, match="crosses itself"):
        vis.propose([vis.Piece("A", 500, 700)], Survey(crossed), RULES)


@pytest.mark.parametrize(
    ("pieces", "words"),
    [
        ([], "no pieces"),
        ([vis.Piece("A", 100, 100), vis.Piece("A", 100, 100)], "share the id A"),
        ([vis.Piece("A", 4000, 500)], "200 mm too wide"),
        ([vis.Piece("A", 500, 2600), vis.Piece("B", 100, 100)], "100 mm too tall"),
        ([vis.Piece(f"P{i}", 1500, 1200) for i in range(6)], "more than the free wall"),
    ],
)
def test_what_cannot_be_hung_is_named_with_what_to_do(pieces, words):
    with pytest.raises(vis.ArrangementError, match=words) as caught:
        vis.propose(pieces, WALL, RULES)
    assert caught.value.hint


def test_an_unknown_family_is_named():
    with pytest.raises(vis.ArrangementError, match="called spiral"):
        vis.propose([vis.Piece("A", 500, 700)], WALL, RULES, families=["spiral"])
