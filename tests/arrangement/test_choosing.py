"""Three proposals are three ideas: none is another one turned over, shifted or reordered."""

from itertools import combinations

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.choosing import SAME, Candidate, likeness, varied
from visualiser.arrangement.measures import PLAIN
from visualiser.arrangement.setting import describe
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Furniture, Survey, Zone

RULES = vis.Guidelines()
WALL = Survey.from_size(4000, 2600)
SOFA = Survey.from_size(4200, 2600, furniture=(Furniture("sofa", Rect(1000, 0, 2100, 820)),))
MIRROR = Survey.from_size(
    4000, 2600, zones=(Zone("other", Polygon.from_rect(Rect(1700, 1150, 600, 900)), "mirror"),)
)
MIXED = [(700, 500), (500, 700), (400, 500), (500, 400), (300, 400), (400, 300), (250, 250)]


def pieces_of(sides):
    return [vis.Piece(f"P{i}", float(w), float(h)) for i, (w, h) in enumerate(sides)]


def setting_of(sides):
    return describe(pieces_of(sides), WALL, RULES)


ELL = np.array([[0.0, 0.0], [500.0, 0.0], [0.0, 500.0]])
"""Three squares of 400 mm in a corner."""
THREE = setting_of([(400, 400)] * 3)


@pytest.mark.parametrize("turn", [(1, 1), (-1, 1), (1, -1), (-1, -1)])
def test_a_group_turned_over_elsewhere_with_equal_pieces_exchanged_is_the_same(turn):
    other = (ELL * turn + (900.0, -300.0))[[2, 0, 1]]
    assert likeness(ELL, other, THREE) == pytest.approx(1)


def test_likeness_of_a_shifted_piece_is_the_area_that_it_shares():
    """One of three moves out by 100 of its 400 mm, and the group's middle by 50.

    Two squares then share 350 of 450 mm with where they were, the third the same.
    """
    moved = ELL + [[0, 0], [100, 0], [0, 0]]
    assert likeness(ELL, moved, THREE) == pytest.approx(350 / 450)


def test_a_row_and_a_column_are_not_alike():
    row = np.array([[0.0, 0.0], [457.0, 0.0], [914.0, 0.0]])
    assert likeness(row, row[:, ::-1], THREE) == pytest.approx(1 / 3)


def candidate(centres, score, family="salon hang", **kwargs):
    return Candidate(family, "", np.asarray(centres), score, PLAIN, **kwargs)


def test_the_mirror_image_gives_way_to_a_lower_score_of_another_kind():
    row = np.array([[0.0, 0.0], [457.0, 0.0], [914.0, 0.0]])
    items = [candidate(ELL, 90), candidate(ELL * (-1, 1), 89), candidate(row, 70, "row")]
    chosen = varied(items, 3, THREE)
    assert [item.score for item in chosen] == [90, 70]


def test_the_special_family_names_what_two_families_find():
    items = [candidate(ELL, 89.8, "boxed group"), candidate(ELL, 90, "salon hang")]
    (chosen,) = varied(items, 3, THREE)
    assert chosen.family == "boxed group"


@pytest.mark.parametrize(
    ("sides", "wall"),
    [([(400, 400)] * 9, WALL), ([(400, 500)] * 4, WALL), ([(400, 500)] * 4, SOFA),
     ([(300, 400)] * 6, WALL), ([(300, 300)] * 12, WALL), (MIXED[:5], WALL), (MIXED, WALL),
     (MIXED[2:], MIRROR), ([(700, 900), (400, 500), (400, 500)], WALL)],
)  # fmt: skip
def test_proposals_are_different_ideas(sides, wall):
    """One of a kind at most, so a set that few kinds suit gets fewer than three."""
    found = vis.propose(pieces_of(sides), wall, RULES)
    assert 1 <= len(found) <= 3
    assert len({a.family for a in found}) == len(found)
    setting = describe(pieces_of(sides), wall, RULES)
    places = [{p.piece_id: (p.x_mm, p.y_mm) for p in a.placements} for a in found]
    layouts = [np.array([there[p.id] for p in setting.pieces]) for there in places]
    for one, two in combinations(layouts, 2):
        assert likeness(one, two, setting) < SAME


@pytest.mark.parametrize("count", [4, 5, 6, 7, 8, 9, 10, 12])
def test_equal_pieces_hang_in_rows_or_columns(count):
    """Every piece but the ends of a row is one gap from those beside it, and rows are level."""
    wall = Survey.from_size(6000, 2700)
    found = vis.propose(pieces_of([(300, 400)] * count), wall, RULES, ["grid", "row", "column"])
    for arrangement in found:
        assert arrangement.family in {"grid", "row", "column", "staggered"}
        centres = np.array([(p.x_mm, p.y_mm) for p in arrangement.placements])
        lines = min(len(set(np.round(centres[:, k]))) for k in (0, 1))
        assert lines <= 4
