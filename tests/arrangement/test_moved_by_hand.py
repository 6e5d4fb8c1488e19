"""What places a group stays what it is when a frame is moved a little, whatever it is called.

What such groups are is common practice, no source; the places follow from sizes and clearances.
"""

from dataclasses import replace

import pytest

import visualiser as vis
from visualiser.arrangement.contexts import evaluate
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Furniture, Survey, Zone


def zone(kind, *box, name=""):
    return Zone(kind, Polygon.from_rect(Rect(*box)), name)


DOOR = Survey.from_size(2600, 3000, (zone("door", 850, 0, 900, 2050),))
MIRROR = Survey.from_size(4000, 2500, (zone("other", 1650, 1100, 700, 900, name="mirror"),))
BED = Survey.from_size(4400, 2500, (), (Furniture("bed", Rect(1400, 0, 1600, 1050)),))
LEDGE = Survey.from_size(
    4000, 2500, (), (Furniture("other", Rect(900, 1150, 2200, 30), "picture ledge"),)
)
RULES = vis.Guidelines()
ON_CORDS = vis.Guidelines(picture_rail_mm=2200.0)


@pytest.mark.parametrize(
    ("survey", "family", "rules"),
    [
        (DOOR, "over a door", RULES),
        (MIRROR, "flanking", RULES),
        (BED, "flanking", RULES),
        (LEDGE, "ledge", RULES),
        (Survey.from_size(4000, 2900), "picture rail", ON_CORDS),
    ],
)
def test_a_frame_moved_by_a_millimetre_keeps_the_group_what_it_is(survey, family, rules):
    pieces = [vis.Piece(f"P{i}", 250.0, 250.0) for i in range(2)]
    made = vis.propose(pieces, survey, rules, families=[family], count=1)[0]
    first, *rest = made.placements
    nudged = replace(
        made, placements=(replace(first, x_mm=first.x_mm - 1), *rest), family="by hand"
    )
    again = evaluate(nudged, survey, rules)
    assert {f.code for f in again.findings} == {f.code for f in made.findings}
    assert again.score == pytest.approx(made.score, abs=3)


def test_a_group_that_left_its_door_is_held_to_the_highest_centre():
    pieces = [vis.Piece(f"P{i}", 250.0, 250.0) for i in range(2)]
    made = vis.propose(pieces, DOOR, RULES, families=["over a door"], count=1)[0]
    aside = tuple(replace(p, x_mm=p.x_mm + 900) for p in made.placements)
    moved = evaluate(replace(made, placements=aside), DOOR, RULES)
    assert "highest-centre" in {f.code for f in moved.findings if f.severity == "broken"}


def test_a_wide_group_does_not_hang_over_a_door_for_having_its_middle_there():
    pieces = tuple(vis.Piece(f"P{i}", 500.0, 250.0) for i in range(4))
    spots = tuple(vis.Placement(p.id, 300.0 + 560 * i, 2300.0) for i, p in enumerate(pieces))
    found = vis.check_arrangement(vis.Arrangement(pieces, spots), DOOR, RULES)
    assert "highest-centre" in {f.code for f in found}
