import re
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.errors import HangingError
from visualiser.findings import Finding
from visualiser.geometry import Polygon, Rect
from visualiser.hanging.measures import TapeBorder, measures_of, nearest_neighbour
from visualiser.hanging.plan import plan_hanging
from visualiser.hanging.refusals import refuse_dangers
from visualiser.inventory.piece import Hanger, Piece
from visualiser.statistics import COVERAGE_95
from visualiser.survey.studs import Studs
from visualiser.survey.survey import Furniture, Survey
from visualiser.units import format_length, parse_length

INCH = 25.4


def test_a_plan_worked_by_hand(three_over_nothing, wall):
    """Middle piece first: top 1524 + 400 = 1924; wire rise √(250² − 200²) = 150, drop 100: 1824."""
    plan = plan_hanging(three_over_nothing, wall)
    assert [p.piece.id for p in plan.pieces] == ["reeds", "heron", "shore"]
    assert plan.pieces[0].hooks_mm == ((1900, 1824),)
    assert plan.pieces[1].hooks_mm == ((1083, 1784), (1503, 1784))
    assert plan.pieces[2].hooks_mm == ((2507, 1862),)
    assert plan.pieces[1].hook_names() == ("2L", "2R")
    assert plan.pieces[0].neighbour is None  # nothing hangs before it
    assert plan.pieces[1].neighbour == ("reeds", "left of", pytest.approx(57))
    assert plan.pieces[2].neighbour == ("reeds", "right of", pytest.approx(57))
    assert plan.border.rect == Rect(1043, 1124, 1714, 800)
    assert plan.border.diagonal_mm == pytest.approx((1714**2 + 800**2) ** 0.5)


def test_from_the_right_side(three_over_nothing, wall):
    plan = plan_hanging(three_over_nothing, wall, side="right")
    assert plan.measures.from_side_mm(1900) == 2100
    assert plan_hanging(three_over_nothing, wall).measures.from_side_mm(1900) == 1900


def test_without_a_known_side_places_are_left_and_right_of_the_sheet(three_over_nothing, wall):
    """The survey's zero is then the sheet: 1083 − 1900 is 817 mm to its left."""
    unsure = Finding("note", "No left corner is seen.", "Click the side.", "side-from-reference")
    shifted = Polygon.from_rect(Rect(-1900, 0, 4000, 2500))
    survey = replace(wall, outline=shifted, findings=(unsure,))
    moved = tuple(replace(p, x_mm=p.x_mm - 1900) for p in three_over_nothing.placements)
    plan = plan_hanging(replace(three_over_nothing, placements=moved), survey)
    measures = plan.measures
    assert measures.across_from == "the middle of the sheet"
    assert measures.across(-817, "mm") == "817 mm to its left"
    assert measures.across(607, "mm") == "607 mm to its right"
    assert measures.across(0, "mm") == "0 mm"
    assert measures.across_in_words(607) == "607 mm (23 7/8 in) right of the middle of the sheet"
    assert measures.across_in_words(-817) == "817 mm (32 3/16 in) left of the middle of the sheet"
    assert "side-from-reference" in {finding.code for finding in plan.findings}
    assert plan_hanging(three_over_nothing, wall).measures.across_from == "the left side"


def test_the_surveys_uncertainty_is_carried(three_over_nothing, wall):
    plan = plan_hanging(three_over_nothing, replace(wall, floor_sigma_mm=3.0))
    assert plan.measures.up_half_width_mm == pytest.approx(3.0 * COVERAGE_95)
    assert plan.measures.across_half_width_mm == 0


def test_the_shopping_list_adds_up(three_over_nothing, wall):
    plan = plan_hanging(three_over_nothing, wall, "plasterboard")
    hooks = [p for p in plan.purchases if p.amount.endswith("×")]
    assert sum(int(p.amount.split()[0]) for p in hooks) == 4
    tape = next(p for p in plan.purchases if "tape" in p.what)
    assert tape.amount == "5.6 m (19 ft)"  # 1.1 × 2 × (1.714 + 0.800) = 5.53 m, up to 5.6
    paper = next(p for p in plan.purchases if "paper" in p.what)
    assert float(paper.amount.split()[0]) * 1000 >= plan.cuts.length_mm


@pytest.mark.parametrize("unit", ["in", "mm"])
@given(st.data())
def test_rounding_never_adds_up(unit, data):
    """Printed places, read again, put gaps and the whole width within one step of the plan."""
    step = INCH / 16 if unit == "in" else 1.0
    count = data.draw(st.integers(2, 12))
    x = data.draw(st.floats(100, 600))
    rects = {}
    for index in range(count):
        width = data.draw(st.floats(80, 900))
        rects[str(index)] = Rect(x, data.draw(st.floats(300, 1800)), width, 300)
        x += width + data.draw(st.floats(20, 120))
    bounds = Rect(rects["0"].x_mm, 0, x - rects["0"].x_mm, 1)
    measures = measures_of(Survey.from_size(x + 100, 2500), bounds, "right")

    def reread(x_mm):
        return parse_length(format_length(measures.from_side_mm(x_mm), unit))

    ids = list(rects)
    for left, right in pairwise(ids):
        gap = reread(rects[left].right_mm) - reread(rects[right].left_mm)
        assert abs(gap - rects[left].gap_to(rects[right])[0]) <= step + 1e-6
    first, last = rects[ids[0]], rects[ids[-1]]
    total = reread(first.left_mm) - reread(last.right_mm)
    assert abs(total - (last.right_mm - first.left_mm)) <= step + 1e-6


def test_neighbours():
    rects = {"a": Rect(0, 0, 100, 100), "b": Rect(150, 20, 100, 100), "c": Rect(0, 130, 100, 50)}
    assert nearest_neighbour("a", rects) == ("c", "below", 30)
    assert nearest_neighbour("b", rects) == ("a", "right of", 50)
    assert nearest_neighbour("a", {"a": rects["a"]}) is None


def test_tape_border():
    border = TapeBorder(Rect(0, 0, 300, 400))
    assert border.diagonal_mm == 500
    assert border.tape_mm == pytest.approx(1540)


@pytest.mark.parametrize(
    ("place", "options", "sentence"),
    [
        ((5000, 1500), {}, "lie off the wall"),
        ((2000, 2600), {}, "lie off the wall"),
        ((2000, 1500), {"wall": "straw"}, "straw"),
        ((2000, 1500), {"roll_width_mm": 0}, "paper roll is 0 mm wide"),
        ((3755, 1500), {}, "No paper is printed"),
        ((2000, 1500), {"safety_factor": 0.99}, "safety factor"),
        ((2000, 1500), {"safety_factor": float("inf")}, "safety factor"),
    ],
)
def test_plans_that_could_not_be_hung_are_named(wall, place, options, sentence):
    arrangement = Arrangement((Piece("a", 500, 700),), (Placement("a", *place),))
    with pytest.raises(HangingError, match=re.escape(sentence)):
        plan_hanging(arrangement, wall, **options)


def test_a_load_may_be_stated_as_it_is(wall):
    """A safety factor of 1 is none, and a class's own rating then holds alone."""
    arrangement = Arrangement((Piece("a", 500, 700),), (Placement("a", 2000, 1500),))
    assert plan_hanging(arrangement, wall, safety_factor=1).pieces


def test_a_hook_in_the_slope_of_an_attic_is_off_the_wall():
    """Knee wall 1000 mm, ridge 2500 mm: at x = 500 the slope is 1375 mm high."""
    attic = Survey(outline=Polygon(((0, 0), (4000, 0), (4000, 1000), (2000, 2500), (0, 1000))))
    piece = Piece("a", 300, 400, hanger=Hanger("sawtooth", 12), weight_kg=1.0)
    with pytest.raises(HangingError, match="lie off the wall"):
        plan_hanging(Arrangement((piece,), (Placement("a", 500, 1200),)), attic)
    inside = Arrangement((piece,), (Placement("a", 500, 1100),))
    with pytest.raises(HangingError, match="reaches past the usable wall"):  # its upper corner
        plan_hanging(inside, attic)
    assert plan_hanging(inside, attic, accepted="The corner may stand in the slope.").pieces


def test_nothing_placed_is_named(wall):
    with pytest.raises(HangingError, match="No piece has a place"):
        plan_hanging(Arrangement((Piece("a", 500, 700),), ()), wall)


def test_strips_alone_need_no_hooks(wall):
    piece = Piece("a", 300, 400, hanger=Hanger("strips"), weight_kg=1.0)
    plan = plan_hanging(Arrangement((piece,), (Placement("a", 2000, 1500),)), wall, "timber")
    assert plan.pieces[0].hooks_mm == ()
    assert plan.purchases[0].what == "adhesive strips"


def test_a_piece_wider_than_the_roll_does_not_stop_the_plan(three_over_nothing, wall):
    plan = plan_hanging(three_over_nothing, wall, roll_width_mm=550)
    assert {cut.piece_id for cut in plan.cuts.cuts} == {"heron", "shore"}
    (told,) = (f for f in plan.findings if f.code == "wider-than-roll")
    assert told.piece_ids == ("reeds",)


def test_words_for_a_danger_are_kept_and_only_then(three_over_nothing, wall):
    behind = replace(wall, furniture=(Furniture("bed", Rect(1800, 0, 300, 1200)),))
    with pytest.raises(HangingError, match="hang behind the bed"):
        plan_hanging(three_over_nothing, behind, accepted="  ")
    plan = plan_hanging(three_over_nothing, behind, accepted="The bed goes tomorrow.")
    assert plan.accepted == "The bed goes tomorrow."
    assert plan.gravest[0].code == "furniture"
    assert plan_hanging(three_over_nothing, wall, accepted="Nothing is wrong.").accepted == ""


def test_a_wall_that_nobody_named_gets_no_fixing(three_over_nothing, wall):
    plan = plan_hanging(three_over_nothing, wall)
    assert plan.wall == "unknown"
    assert all(piece.fixing.fixing is None for piece in plan.pieces)
    assert "unknown-wall" in {finding.code for finding in plan.gravest}


def test_hooks_of_a_cleat_go_to_the_studs_behind_it(wall):
    """Studs at 400 mm from 1850 on: 1850 and 2250 lie within the cleat's 1800 to 2400 mm."""
    piece = Piece("a", 900, 700, hanger=Hanger("cleat", 80, 660), weight_kg=15.0)
    arrangement = Arrangement((piece,), (Placement("a", 2100, 1500),))
    plain = plan_hanging(arrangement, wall, "plasterboard")
    assert [x for x, _ in plain.pieces[0].hooks_mm] == [1800, 2400]
    assert plain.pieces[0].fixing.reasons == ("stud",)
    plan = plan_hanging(arrangement, wall, "plasterboard", studs=Studs((1850.0,), 400.0))
    assert [x for x, _ in plan.pieces[0].hooks_mm] == [1850, 2250]
    assert plan.pieces[0].fixing.fixing.name == "screw or nail in a stud"
    # 15 kg, middle 2100: the stud at 2250 is 150 mm away of 400, so it carries 250/400 of it.
    share = plan.pieces[0].load.down_n / (15.0 * 9.80665)
    assert share == pytest.approx(250 / 400)


def test_two_hooks_under_a_wire_go_to_two_studs(wall):
    """Wire of 640 mm over 600, fixed 250 mm down; studs at 1800 and 2200 lie about the middle.

    400 mm apart its legs are 120 mm long over 100 mm: a rise of √4400 = 66.33, a drop of 183.67.
    """
    hanger = Hanger("wire", None, 600, 640, 250, hooks=2, rated_kg=200)
    piece = Piece("a", 800, 700, hanger=hanger, weight_kg=12.0)
    arrangement = Arrangement((piece,), (Placement("a", 2004, 1500),))
    plan = plan_hanging(arrangement, wall, "plasterboard", studs=Studs((1800.0,), 400.0))
    (hung,) = plan.pieces
    assert [x for x, _ in hung.hooks_mm] == [1804, 2204]  # 4 mm off their middles, in the wood
    assert hung.hooks_mm[0][1] == pytest.approx(1850 - 250 + 4400**0.5)
    assert hung.studs == "under"
    elsewhere = plan_hanging(arrangement, wall, "plasterboard", studs=Studs((1950.0,), 400.0))
    assert [x for x, _ in elsewhere.pieces[0].hooks_mm] == [1904, 2104]  # a third of 600 mm apart


def test_each_papers_cautions_are_its_own_pieces_and_the_walls():
    """A radiator's warmth concerns the piece above it; a wall that nobody named all of them."""
    bed = Furniture("bed", Rect(700, 0, 600, 500), name="Aunt's bed")
    wall = Survey.from_size(4000, 2500, furniture=(bed,))
    pieces = tuple(
        Piece(i, 300, 400, hanger=Hanger("sawtooth", 20), weight_kg=1.2) for i in ("over", "off")
    )
    placed = Arrangement(pieces, (Placement("over", 1000, 1524), Placement("off", 2500, 1524)))
    plan = plan_hanging(placed, wall, "plasterboard")
    over, off = ({f.code for f in plan.gravest_of(name)} for name in ("over", "off"))
    assert "over-bed" in over
    assert "over-bed" not in off
    assert "Aunt's bed" in " ".join(f.text for f in plan.gravest_of("over"))
    unknown = plan_hanging(placed, wall)
    for name in ("over", "off"):
        said = [f for f in unknown.gravest_of(name) if f.code == "unknown-wall"]
        assert [f.text for f in said] == ["Nobody has said what the wall is built of."]


def test_a_refusal_counts_the_dangers_that_it_does_not_name(three_over_nothing):
    dangers = [Finding("broken", f"Danger {k}.", "Move it.", "d") for k in range(3)]
    for count, more in ((1, None), (2, "and 1 more"), (3, "and 2 more")):
        with pytest.raises(HangingError) as refused:
            refuse_dangers(dangers[:count], "")
        assert "Danger 0" in refused.value.message
        assert (more or "Danger 0.") in refused.value.message
        assert ("more" in refused.value.message) == (count > 1)
