"""What is bought holds what the plan asks of it: each line worked by hand."""

from dataclasses import replace

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.geometry import Rect
from visualiser.hanging.plan import plan_hanging
from visualiser.hanging.shopping import Purchase
from visualiser.inventory.piece import Hanger, Piece
from visualiser.survey.studs import Studs
from visualiser.survey.survey import Furniture, Survey

WALL = Survey.from_size(4000, 2500)


def bought(piece, survey=WALL, kind="plasterboard", **options):
    plan = plan_hanging(
        Arrangement((piece,), (Placement(piece.id, 2000, 1524),)), survey, kind, **options
    )
    return plan.purchases


def line(purchases, what):
    return next(item for item in purchases if what in item.what)


def test_each_ring_is_rated_for_its_share_at_the_upper_end_of_the_weight():
    """4.2 + 1.96 × 0.1 = 4.396 kg on two rings, 2.198 kg each, four times that is 8.79 kg.

    8.79 kg is 19.4 lb (1 lb = 0.45359237 kg: NIST SP 811, B.8).
    """
    piece = Piece(
        "a", 500, 700, hanger=Hanger("d-rings", 90, 420), weight_kg=4.2, weight_sigma_kg=0.1
    )
    rings = line(bought(piece), "on the frame")
    assert "(2)" in rings.what
    assert "rated 9 kg (20 lb) or more each, 4 times its load" in rings.note
    assert rings.piece_ids == ("a",)
    once = line(bought(piece, safety_factor=2.0), "on the frame")
    assert "rated 5 kg (10 lb) or more each, 2 times its load" in once.note


def test_a_wire_is_rated_for_the_pull_in_it():
    """Legs of 250 mm that rise 150: each pulls 5 / (2 × 0.6) = 4.167 kg.

    At the upper end of the weight 4.33 kg, four times that is 17.32 kg or 38.2 lb.
    """
    piece = Piece(
        "a",
        600,
        800,
        hanger=Hanger("wire", None, 400, 500, 250),
        weight_kg=5.0,
        weight_sigma_kg=0.1,
    )
    wire = line(bought(piece), "picture wire")
    assert "(1)" in wire.what
    assert "rated 18 kg (39 lb) or more" in wire.note
    known = Piece("a", 600, 800, hanger=Hanger("wire", 100), weight_kg=5.0, weight_sigma_kg=0.1)
    unsaid = line(bought(known), "picture wire")
    assert "rated 21 kg (46 lb) or more" in unsaid.note  # at 30° each leg pulls all: 5.196 × 4


def test_a_wire_over_two_hooks_is_refused_by_the_rating_that_is_asked_for_in_the_shop():
    """5 kg on a wire of unknown slope, taken at 30°: 5 kg a leg (statics), four times that 20 kg.

    One rated 21 kg is enough, one rated 19 kg is not, on one hook or two.
    """
    for hooks in (1, 2):
        wire = Hanger("wire", 100, 400, hooks=hooks, rated_kg=21)
        piece = Piece("a", 600, 800, hanger=wire, weight_kg=5.0, weight_sigma_kg=0.0)
        assert "rated 20 kg" in line(bought(piece, kind="brick"), "picture wire").note
        assert not [p for p in bought(piece, kind="brick") if p.what == "no fixing named"]
        weak = replace(piece, hanger=replace(wire, rated_kg=19))
        assert line(bought(weak, kind="brick"), "no fixing named").note == "stronger hanger"


def test_every_wire_is_counted():
    """Two wires side by side on two hooks are two to check; one wire over two hooks is one."""
    two = Hanger("two wires", 60, 160, attachment_drop_mm=140, hook_spacing_mm=250)
    over_two_hooks = Hanger("wire", 60, 400, attachment_drop_mm=200, hooks=2)
    for hanger, counted in ((two, "(2)"), (over_two_hooks, "(1)")):
        piece = Piece("a", 500, 700, hanger=hanger, weight_kg=3.0)
        assert counted in line(bought(piece), "picture wire").what


def test_a_batten_as_long_as_is_bought_is_hidden_by_its_frame():
    """Its studs 20 mm inside a frame of 1000, as far out as may be: it is as long as the frame."""
    survey = replace(WALL, studs=Studs((1520.0, 2480.0)))
    heavy = Piece(
        "a", 1000, 700, hanger=Hanger("d-rings", 90, 420, rated_kg=100), weight_kg=18, depth_mm=20
    )
    (batten,) = [item for item in bought(heavy, survey) if item.what == "batten"]
    assert batten.note.startswith("1 000 mm")


def test_a_fixing_carries_the_heaviest_of_its_group():
    """1.2 + 1.96 × 0.1 = 1.396 kg on one hook, 3.1 lb."""
    piece = Piece("a", 300, 400, hanger=Hanger("sawtooth", 20), weight_kg=1.2, weight_sigma_kg=0.1)
    hook = line(bought(piece), "nail hook")
    assert hook == Purchase("1 ×", "nail hook", "each to carry 1.4 kg (3.1 lb)", ("a",))


def test_a_batten_reaches_over_both_studs():
    """Studs at 1700 and 2300 behind a frame with its rings at 1790 and 2210: 600 + 2 × 20 mm."""
    survey = replace(WALL, studs=Studs((1700.0, 2300.0)))
    heavy = Piece(
        "a", 1000, 700, hanger=Hanger("d-rings", 90, 420, rated_kg=100), weight_kg=18, depth_mm=20
    )
    batten = line(bought(heavy, survey), "batten")
    hooks = [item for item in bought(heavy, survey) if item.what == "batten"]
    assert batten.what.startswith("hook on a batten")
    assert hooks == [Purchase("1 ×", "batten", "640 mm (25 3/16 in) long", ("a",))]
    light = replace(heavy, weight_kg=1.0)
    assert not [item for item in bought(light, survey) if "batten" in item.what]


def test_a_cleat_that_does_not_reach_two_studs_needs_a_batten():
    """Its screws lie 240 mm apart, the studs 600: the cleat goes on a batten, 640 mm long."""
    survey = replace(WALL, studs=Studs((1700.0, 2300.0)))
    short = Piece(
        "a", 1000, 700, hanger=Hanger("cleat", 60, 300, rated_kg=100), weight_kg=18, depth_mm=20
    )
    lines = [item for item in bought(short, survey) if item.what == "batten"]
    assert lines == [Purchase("1 ×", "batten", "640 mm (25 3/16 in) long", ("a",))]
    assert line(bought(short, survey), "screw in a batten over two studs").amount == "2 ×"
    reaching = replace(short, hanger=Hanger("cleat", 60, 800, rated_kg=100))
    assert not [item for item in bought(reaching, survey) if item.what == "batten"]


def test_what_gets_no_fixing_is_counted_by_its_reason(three_over_nothing, wall):
    plan = plan_hanging(three_over_nothing, wall, "unknown")
    lines = [item for item in plan.purchases if item.what == "no fixing named"]
    assert [(item.amount, item.piece_ids) for item in lines] == [
        ("3 pieces", ("reeds", "heron", "shore"))
    ]
    bed = Furniture("bed", Rect(1700, 0, 400, 500))
    over_a_bed = plan_hanging(three_over_nothing, replace(wall, furniture=(bed,)), "plasterboard")
    lines = [item for item in over_a_bed.purchases if item.what == "no fixing named"]
    assert ("1 piece", ("reeds",)) in [(item.amount, item.piece_ids) for item in lines]


def test_two_corners_of_each_piece_are_held_where_earthquakes_happen(three_over_nothing, wall):
    """FEMA 528 (2014)."""
    shaken = plan_hanging(three_over_nothing, wall, "plasterboard", seismic=True)
    assert line(shaken.purchases, "corner fastener").amount == "6 ×"
    calm = plan_hanging(three_over_nothing, wall, "plasterboard")
    assert not [item for item in calm.purchases if "corner" in item.what]
