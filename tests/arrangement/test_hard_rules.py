"""Hard rules on random walls, held by a second judge that knows the rules by their text alone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

import visualiser as vis
from tests.arrangement.hard_rules import broken, corners, covers, enters, judged, within
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Furniture, Survey, Zone

RULES = vis.Guidelines()
WALL = Survey.from_size(4000, 2500)


def hung(*places, size=(300.0, 400.0)):
    pieces = tuple(vis.Piece(f"P{k}", *size) for k in range(len(places)))
    placements = tuple(vis.Placement(p.id, *at) for p, at in zip(pieces, places, strict=True))
    return vis.Arrangement(pieces, placements)


SOFA = Furniture("sofa", Rect(1000, 0, 2000, 820), "sofa")
LEDGE = Furniture("other", Rect(1000, 1150, 2000, 30), "ledge")
SWITCH = Zone("switch", Polygon.from_rect(Rect(1960, 1484, 80, 80)))
DOOR = Zone("door", Polygon.from_rect(Rect(1600, 0, 860, 2050)))
ROOF = Survey(Polygon(((0, 0), (4000, 0), (4000, 1200), (2000, 2500), (0, 2500))))
STAIR = Survey(Polygon(((0, 0), (4000, 2400), (4000, 5000), (0, 5000))))


@pytest.mark.parametrize(
    ("places", "survey", "codes"),
    [
        ([(2000, 1524)], WALL, set()),
        ([(2000, 1524), (2357, 1524)], WALL, set()),
        ([(2000, 1524), (2340, 1524)], WALL, {"gap-min"}),
        ([(2000, 1524), (2200, 1524)], WALL, {"overlap"}),
        # 30 mm across and 40 mm up are 50 mm from corner to corner.
        ([(2000, 1324), (2330, 1764)], WALL, set()),
        ([(140, 1524)], WALL, {"outside"}),
        ([(200, 1524)], WALL, {"edge-clearance"}),
        ([(251, 1524)], WALL, set()),
        ([(2000, 790)], WALL, {"lowest-edge"}),
        ([(2000, 1850)], WALL, {"highest-centre"}),
        ([(2000, 2250)], Survey.from_size(4000, 3000, zones=(DOOR,)), {"zone"}),
        ([(2000, 2350)], Survey.from_size(4000, 3000, zones=(DOOR,)), set()),
        ([(1700, 1524)], Survey.from_size(4000, 2500, zones=(SWITCH,)), set()),
        ([(1770, 1524)], Survey.from_size(4000, 2500, zones=(SWITCH,)), {"zone"}),
        ([(2000, 1100)], Survey.from_size(4000, 2500, furniture=(SOFA,)), {"furniture-clearance"}),
        ([(2000, 1000)], Survey.from_size(4000, 2500, furniture=(SOFA,)), {"furniture"}),
        ([(2000, 1180 + 200)], Survey.from_size(4000, 2500, furniture=(LEDGE,)), set()),
        ([(1400, 1380), (1600, 1380)], Survey.from_size(4000, 2500, furniture=(LEDGE,)), set()),
        (
            [(2000, 1250)],
            Survey.from_size(4000, 2500, furniture=(LEDGE,)),
            {"across a ledge", "furniture"},
        ),
        ([(3300, 1500)], ROOF, {"outside"}),
        ([(3000, 1500)], ROOF, {"edge-clearance"}),
        ([(1500, 1600)], STAIR, set()),
        ([(1500, 1220)], STAIR, {"edge-clearance"}),
    ],
)
def test_the_judge_sees_what_a_ruler_would(places, survey, codes):
    assert {code for code, _ in broken(hung(*places), survey, RULES)} == codes


@given(*[st.floats(-500, 1500) for _ in range(2)], *[st.floats(20, 800) for _ in range(2)])
def test_areas_agree_with_intervals(x, y, width, height):
    """Sides alone say whether upright rectangles overlap, and whether one holds the other."""
    box, unit = (x, y, x + width, y + height), (0.0, 0.0, 1000.0, 1000.0)
    apart = max(box[0] - 1000, -box[2], box[1] - 1000, -box[3])
    if abs(apart) > 0.2:
        assert enters(corners(unit), box) == (apart < 0)
    inside = min(box[0], box[1], 1000 - box[2], 1000 - box[3])
    if abs(inside) > 0.2:
        assert within(corners(unit), box) == (inside > 0)
    assert covers(corners(unit), x + 0.5, y + 0.5) == (0 < x + 0.5 < 1000 and 0 < y + 0.5 < 1000)


SHORT = 50_000
"""Seeds of the short run, which the long one does not use."""


def test_no_hard_rule_is_broken_on_random_walls():
    proposed = 0
    for seed in range(SHORT, SHORT + 12):
        count, faults = judged(seed, most=5)
        assert faults == []
        proposed += count
    assert proposed > 12


@pytest.mark.slow
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("start", range(0, 2000, 50))
def test_no_hard_rule_is_broken_on_two_thousand_random_walls(start):
    assert [(seed, faults) for seed in range(start, start + 50)
            if (faults := judged(seed)[1])] == []  # fmt: skip
