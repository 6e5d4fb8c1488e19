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
    assert main_furniture(Survey.from_size(4000, 2600, furniture=(stand,))) is stand
