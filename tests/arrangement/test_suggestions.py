"""Subsets, sizes to go up to, places left to fill, and colours spread over equal sizes."""

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.frame_sizes import next_size
from visualiser.arrangement.setting import piece_colours
from visualiser.arrangement.suggestions import choose_subset, fill_gap, size_up
from visualiser.geometry import Rect
from visualiser.survey.survey import Furniture, Survey

WALL = Survey.from_size(4000, 2600)
RULES = vis.Guidelines()


def test_the_odd_one_is_left_out():
    pieces = [vis.Piece(f"P{i}", 400, 500) for i in range(4)] + [vis.Piece("odd", 150, 900)]
    chosen = choose_subset(pieces, WALL, RULES, 4)
    assert {p.piece_id for p in chosen.placements} == {"P0", "P1", "P2", "P3"}


def test_what_must_hang_hangs():
    pieces = [vis.Piece(f"P{i}", 400, 500) for i in range(3)] + [vis.Piece("odd", 150, 900)]
    chosen = choose_subset(pieces, WALL, RULES, 3, must=["odd"], families=["row"])
    assert "odd" in {p.piece_id for p in chosen.placements}
    with pytest.raises(vis.ArrangementError):
        choose_subset(pieces, WALL, RULES, 9)


@pytest.mark.parametrize("count", [1, 4])
def test_so_many_hang_as_were_asked_for_and_suit_the_wall(count):
    """Too wide for the wall with any other: the banner is the one to leave out."""
    sides = [(300, 400), (400, 500), (500, 400), (250, 250), (350, 450), (2600, 300)]
    pieces = [vis.Piece(f"P{i}", *map(float, side)) for i, side in enumerate(sides)]
    chosen = choose_subset(pieces, Survey.from_size(2800, 2600), RULES, count)
    assert len(chosen.placements) == count
    assert "P5" not in {p.piece_id for p in chosen.placements}
    assert [p.piece_id for p in chosen.placements] == [
        p.piece_id
        for p in choose_subset(pieces[::-1], Survey.from_size(2800, 2600), RULES, count).placements
    ]


def test_a_pair_too_narrow_for_a_sofa_goes_up_a_size():
    """Two thirds of 2100 mm is 1400 mm: two pieces of 671.5 mm and one gap."""
    sofa = Furniture("sofa", Rect(1000, 0, 2100, 800))
    survey = Survey.from_size(4000, 2600, furniture=(sofa,))
    pieces = [vis.Piece(i, 400, 500) for i in "AB"]
    (pair,) = vis.propose(pieces, survey, RULES, families=["pair"], count=1)
    advice = size_up(pair, survey, RULES)
    assert advice.factor == pytest.approx(671.5 / 400)
    assert min(advice.sizes_mm["A"]) >= 0.98 * 671.5
    assert "543 mm narrower" in advice.sentence
    assert size_up(pair, WALL, RULES) is None


@pytest.mark.parametrize(
    ("size", "larger"),
    [
        ((210, 297), (297, 420)),  # A4 to A3: ISO 216:2007, table 1
        ((297, 210), (420, 297)),
        ((400, 500), (500, 600)),  # not 16 x 20 in, 6 mm larger
        ((250, 250), (300, 300)),
        ((300, 400), (350, 500)),
        ((8 * 25.4, 10 * 25.4), (11 * 25.4, 14 * 25.4)),
        ((16 * 25.4, 20 * 25.4), (20 * 25.4, 24 * 25.4)),
    ],
)
def test_the_next_size_is_of_one_system_and_shape(size, larger):
    """Sizes on sale, common practice; at least 15 % larger each way."""
    found = next_size(size)
    assert min(b / a for a, b in zip(size, found, strict=True)) >= 1.15
    assert (size[0] == size[1]) == (found[0] == found[1])
    assert (size[0] < size[1]) == (found[0] < found[1])
    assert found == pytest.approx(larger) or found > size


def test_the_hole_in_a_grid_is_filled():
    pieces = tuple(vis.Piece(f"P{i}", 297, 420) for i in range(3))
    pitch = (297 + 57, 420 + 57)
    corners = [(0, 0), (1, 0), (0, 1)]
    group = vis.Arrangement(
        pieces,
        tuple(
            vis.Placement(p.id, 1500 + x * pitch[0], 1300 + y * pitch[1])
            for p, (x, y) in zip(pieces, corners, strict=True)
        ),
    )
    filler = fill_gap(group, WALL, RULES)
    assert filler.size_mm == (297, 420)
    assert filler.rect.centre_mm == pytest.approx((1500 + pitch[0], 1300 + pitch[1]))


def test_equal_sizes_are_exchanged_to_spread_colours():
    """Two reds and two blues in a square hang best crosswise, as on a chessboard."""
    pieces = [vis.Piece(i, 400, 400) for i in "ABCD"]
    colours = {"A": (50, 60, 30), "B": (50, 60, 30), "C": (50, 0, -50), "D": (50, 0, -50)}
    (grid,) = vis.propose(pieces, WALL, RULES, families=["grid"], count=1, colours=colours)
    rects = grid.rects()
    across, up = (
        rects["A"].centre_mm[0] - rects["B"].centre_mm[0],
        rects["A"].centre_mm[1] - rects["B"].centre_mm[1],
    )
    assert abs(across) > 1
    assert abs(up) > 1
    assert "colour spread" in {t.name for t in grid.terms}


def test_colours_come_from_the_artworks():
    red = vis.Artwork(np.full((40, 30, 3), (255, 0, 0), np.uint8))
    found = piece_colours([vis.Piece("A", 300, 400, artwork=red), vis.Piece("B", 300, 400)])
    assert set(found) == {"A"}
    assert found["A"] == pytest.approx((53.24, 80.09, 67.20), abs=0.05)
