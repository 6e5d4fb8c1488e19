"""One piece at its place: zones widened by the ±, studs under its hooks, the order of hanging."""

from dataclasses import replace

import pytest

from visualiser.geometry import Polygon, Rect
from visualiser.hanging.measures import Measures
from visualiser.hanging.piece_plan import Conditions, in_zone, named, plan_piece, plan_pieces
from visualiser.inventory.piece import Hanger, Piece
from visualiser.survey.studs import Studs
from visualiser.survey.survey import Furniture, Survey, Zone

WALL = Survey.from_size(4000, 2500)
RINGS = Hanger("d-rings", 90, 420)


def measures(across=0.0, up=0.0):
    return Measures("left", 0.0, across, up, floor_known=True)


def given(survey=WALL, *, factor=4.0, wall="plasterboard", ratings=None, seismic=False):
    return Conditions(survey, measures(), wall, factor, ratings or {}, seismic)


def centred(width, height, x=2000.0, y=1500.0):
    return Rect(x - width / 2, y - height / 2, width, height)


@pytest.mark.parametrize(
    ("point", "across", "up"),
    [((991, 1050), 10, 0), ((1109, 1050), 10, 0), ((1050, 991), 0, 10), ((1050, 1109), 0, 10)],
)
def test_a_zone_is_as_near_as_the_measurement_doubts(point, across, up):
    """A switch from 1000 to 1100: a hole 9 mm beside it may lie in it at ± 10, not at ± 8."""
    survey = replace(WALL, zones=(Zone("switch", Polygon.from_rect(Rect(1000, 1000, 100, 100))),))
    assert in_zone([point], survey, measures(across, up))
    assert not in_zone([point], survey, measures(max(across - 2, 0), max(up - 2, 0)))
    assert not in_zone([point], survey, measures(up, across))


@pytest.mark.parametrize(
    ("off", "fit"), [(0, "under"), (12, "under"), (13, "between"), (-13, "between")]
)
def test_a_hook_bears_on_a_stud_when_its_screw_is_well_inside(off, fit):
    """A stud is 38 mm wide (common practice): 7 mm of wood are left beside the hole at 12 mm."""
    survey = replace(WALL, studs=Studs((1790.0 + off, 2210.0 + off)))
    piece = Piece("a", 500, 700, hanger=RINGS, weight_kg=4)
    plan = plan_piece(piece, centred(500, 700), given(survey))
    assert plan.hooks_mm[0][0] == 1790
    assert plan.studs == fit
    assert plan.places == ()  # nothing dangerous, and no earthquakes unless somebody says so


def test_a_stud_just_beyond_the_frame_may_be_under_an_outer_hook():
    """Rings 4 mm inside a frame of 428: the stud's middle is 8 mm outside it."""
    hanger = Hanger("d-rings", 90, 420)
    survey = replace(WALL, studs=Studs((1778.0, 2222.0)))
    piece = Piece("a", 428, 700, hanger=hanger, weight_kg=4)
    assert plan_piece(piece, centred(428, 700), given(survey)).studs == "under"


def test_a_batten_spans_the_outermost_studs_that_the_frame_hides():
    survey = replace(WALL, studs=Studs((1400.0, 1600.0, 1950.0, 2400.0)))
    piece = Piece("a", 1000, 700, hanger=RINGS, weight_kg=4)
    plan = plan_piece(piece, centred(1000, 700), given(survey))
    assert plan.batten_mm == (1600.0, 2400.0)
    one_side = replace(WALL, studs=Studs((2100.0, 2400.0)))
    assert plan_piece(piece, centred(1000, 700), given(one_side)).batten_mm is None
    for in_sight in ((1510.0, 2400.0), (1600.0, 2490.0)):  # its end would show beside the frame
        seen = replace(WALL, studs=Studs(in_sight))
        assert plan_piece(piece, centred(1000, 700), given(seen)).batten_mm is None


def test_no_batten_over_two_studs_where_only_one_is_known():
    """8.3 kg on one stud rated 8 kg over 4, so the stud's class carries 2 kg of it: no other left.

    A second stud behind the frame, on the other side of its middle, takes the batten. The limits
    are our own, common practice, no source.
    """
    piece = Piece("a", 500, 700, hanger=Hanger("sawtooth", 12, rated_kg=100), weight_kg=8.3)
    weak = {"screw or nail in a stud": 8.0}
    one = plan_piece(
        piece, centred(500, 700), given(replace(WALL, studs=Studs((2000.0,))), ratings=weak)
    )
    assert (one.studs, one.batten_mm) == ("under", None)
    assert (one.fixing.fixing, one.fixing.reasons) == (None, ("stud",))
    three = replace(WALL, studs=Studs((1800.0, 2000.0, 2200.0)))
    two = plan_piece(piece, centred(500, 700), given(three, ratings=weak))
    assert two.studs == "under"
    assert two.fixing.name == "hook on a batten screwed to two studs"


def test_studs_move_only_hooks_whose_drop_follows_from_the_wire():
    survey = replace(WALL, studs=Studs((1850.0, 2150.0)))
    rect = centred(600, 800)
    one = Piece("a", 600, 800, hanger=Hanger("wire", None, 400, 500, 250), weight_kg=4)
    assert plan_piece(one, rect, given(survey)).hooks_mm == ((2000.0, 1800.0),)


def test_the_screws_of_a_cleat_go_to_the_outermost_studs_behind_it():
    survey = replace(WALL, studs=Studs((1700.0, 1950.0, 2300.0)))
    piece = Piece("a", 1000, 700, hanger=Hanger("cleat", 60, 800), weight_kg=12)
    plan = plan_piece(piece, centred(1000, 700), given(survey))
    assert [x for x, _ in plan.hooks_mm] == [1700.0, 2300.0]


ON_SCREWS = ("keyhole", "security", "cleat")
FRAME = centred(500, 700)


@pytest.mark.parametrize("kind", ON_SCREWS)
@pytest.mark.parametrize("wall", ["plasterboard", "brick", "concrete", "timber"])
def test_plates_and_cleats_go_on_screws_and_never_on_a_nail_hook(kind, wall):
    """Common practice, no source: the slot of a keyhole plate slides over a screw's head, the
    halves of security hangers and cleats are screwed to the wall.
    """
    piece = Piece("a", 500, 700, hanger=Hanger(kind, 40, 400), weight_kg=2)
    fixing = plan_piece(piece, FRAME, given(wall=wall)).fixing
    screws = {"plasterboard": "hollow-wall anchor with screw", "timber": "wood screw"}
    assert fixing.name == screws.get(wall, "screw in a masonry plug")
    assert (fixing.count, fixing.closed) == (2, False)


def test_a_heavy_frame_on_plates_is_told_of_screws_in_studs_or_a_batten():
    """18 kg on two plates, beyond anchors' 8 kg each with the frame's lever (our own limit)."""
    piece = Piece("a", 1000, 700, hanger=Hanger("security", 40, 420), weight_kg=18)
    names = {
        (1790.0, 2210.0): "screw in a stud",
        (1700.0, 2300.0): "screw in a batten over two studs",
    }
    for found, name in names.items():
        survey = replace(WALL, studs=Studs(found))
        assert plan_piece(piece, centred(1000, 700), given(survey)).fixing.name == name


@pytest.mark.parametrize(
    ("kind", "stays"),
    [
        ("d-rings", "closed hook"), ("wire", "closed hook"), ("two wires", "closed hook"),
        ("security", "lock"), ("sawtooth", None), ("keyhole", None), ("cleat", None),
    ],
)  # fmt: skip
@pytest.mark.parametrize("place", ["bed", "earthquake"])
def test_only_what_stays_on_its_hooks_hangs_over_people_and_in_earthquakes(kind, stays, place):
    """FEMA 528 (2014): closed hooks. Common practice, no source: a closed hook goes through a ring
    or round a wire; teeth, a plate's slot and a cleat lift off; a security hanger is locked.
    """
    hanger = Hanger(kind, 60, None if kind in ("wire", "two wires") else 200, hooks=2)
    small = Piece("a", 300, 400, hanger=hanger, glazing="none", weight_kg=1.5)
    bed = (Furniture("bed", Rect(1200, 0, 1600, 600)),) if place == "bed" else ()
    survey = replace(WALL, furniture=bed)
    there = given(survey, wall="brick", seismic=place == "earthquake")
    fixing = plan_piece(small, centred(300, 400), there).fixing
    if stays is None:
        assert (fixing.fixing, fixing.reasons) == (None, ("closed hooks",))
    else:
        closed = ", with a closed hook" if stays == "closed hook" else ""
        assert fixing.name == f"screw in a masonry plug{closed}"
        assert fixing.closed == (stays == "closed hook")


def test_a_makers_rating_is_divided_before_it_is_compared():
    """2.2 kg on each ring: one for 8 / 4 = 2 kg is too weak, one for 12 / 4 = 3 kg is not."""
    weak = Piece("a", 500, 700, hanger=replace(RINGS, rated_kg=8.0), weight_kg=4.4)
    strong = replace(weak, hanger=replace(RINGS, rated_kg=12.0))
    rect = centred(500, 700)
    assert "hanger" in plan_piece(weak, rect, given()).fixing.reasons
    assert plan_piece(strong, rect, given()).fixing.fixing is not None


def test_pieces_are_hung_from_the_middle_outwards_the_upper_one_first():
    """Middles 300, 350, 400 and 400 mm from the group's; of the last two one is higher."""
    places = {
        "low": (2000.0, 1100.0), "high": (2000.0, 1900.0),
        "beside": (2300.0, 1500.0), "under": (2000.0, 1150.0),
    }  # fmt: skip
    rects = {name: centred(100, 80, x, y) for name, (x, y) in places.items()}
    pieces = {
        name: Piece(name, 100, 80, hanger=Hanger("sawtooth", 5), weight_kg=0.1) for name in places
    }
    plans = plan_pieces(pieces, rects, (2000.0, 1500.0), given())
    assert [plan.piece.id for plan in plans] == ["beside", "under", "high", "low"]
    assert named(plans[:1]).startswith("Piece ")
    assert named(plans).startswith("Pieces ")
