"""What people mark and name in their own words: what it is follows from where it stands too.

Heights of rails and shelves are common practice, no source.
"""

import pytest

import visualiser as vis
from visualiser.arrangement.furnishings import (
    hangs_on_wall,
    is_ledge,
    is_rail,
    main_furniture,
    rail_height,
)
from visualiser.geometry import Rect
from visualiser.survey.survey import Furniture, Survey


def thing(name, bottom_mm, height_mm, kind="other"):
    return Furniture(kind, Rect(1000, bottom_mm, 1600, height_mm), name)


@pytest.mark.parametrize(
    ("item", "ledge", "rail", "on_wall"),
    [
        (thing("tv stand", 0, 500, "sideboard"), False, False, False),
        (thing("TV", 700, 700), False, False, True),
        (thing("mirror", 1000, 900), False, False, True),
        (thing("clothes rail", 0, 1600), False, False, False),
        (thing("curtain rail", 2200, 40), False, False, False),
        (thing("dado rail", 900, 60), False, False, False),
        (thing("picture rail", 2100, 40), False, True, False),
        (thing("rail", 2100, 40), False, True, False),
        (thing("bookshelf", 0, 1900), False, False, False),
        (thing("book shelf", 0, 1900), False, False, False),
        (thing("Picture shelf", 1200, 30), True, False, False),
        (thing("picture ledge", 1150, 30), True, False, False),
        (thing("mantel", 0, 1100), True, False, False),
        (thing("mantelshelf", 1100, 50), True, False, False),
    ],
)
def test_what_a_thing_is_follows_from_its_whole_words_and_its_height(item, ledge, rail, on_wall):
    assert (is_ledge(item), is_rail(item), hangs_on_wall(item)) == (ledge, rail, on_wall)


def test_a_clothes_rail_does_not_take_the_whole_wall():
    rail = Furniture("other", Rect(200, 0, 900, 1600), "clothes rail")
    survey = Survey.from_size(4000, 2600, furniture=(rail,))
    assert rail_height(survey, vis.Guidelines()) is None
    assert vis.propose([vis.Piece("A", 400.0, 500.0)], survey, count=1)


def test_a_group_hangs_above_a_television_stand():
    stand = thing("tv stand", 0, 500, "sideboard")
    survey = Survey.from_size(4000, 2600, furniture=(stand,))
    assert main_furniture(survey, vis.Guidelines()) is stand


def test_a_group_hangs_at_eye_level_beside_a_bookcase_and_not_high_above_it():
    """On a wall of 3.8 m there is room above the bookcase, where nobody looks."""
    bookcase = Furniture("other", Rect(1300, 0, 850, 1730), "bookcase")
    survey = Survey.from_size(2170, 3800, furniture=(bookcase,))
    pieces = [vis.Piece(f"P{k}", 305.0, 406.0) for k in range(4)]
    made = vis.propose(pieces, survey, families=["grid"], count=1)[0]
    assert made.bounds.centre_mm[1] == pytest.approx(1524)
    assert made.bounds.right_mm <= 1300


def test_what_fits_above_a_fireplace_only_in_three_rows_is_hung_no_higher_than_it_may():
    """Rows of 300 with gaps of 50 from 150 above 1085: the middle of three is at 1735."""
    fireplace = Furniture("other", Rect(30, 0, 1148, 1085), "fireplace")
    survey = Survey.from_size(1208, 2500, furniture=(fireplace,))
    pieces = [vis.Piece(f"P{k}", 300.0, 300.0) for k in range(7)]
    made = vis.propose(pieces, survey, count=1, effort="quick")[0]
    assert made.bounds.centre_mm[1] == pytest.approx(1735)
