"""What the room asks for: readers of drawings hardly ever sign a group that takes no heed of it.

The expected answers are common practice, no source, and what two readers said of drawings
(tests/judged).
"""

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.contexts import evaluate
from visualiser.arrangement.families.boxes import _is_full
from visualiser.arrangement.scoring import WORST_SHARE
from visualiser.arrangement.setting import describe_hung
from visualiser.arrangement.ways import MASS
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Furniture, Survey, Zone

RULES = vis.Guidelines()
STAIR = Survey(Polygon(((0, 0), (4000, 2400), (4000, 5000), (0, 5000))))
LEDGE = Furniture("other", Rect(1000, 1150, 2000, 30), "picture ledge")
OVER_LEDGE = Survey.from_size(4000, 2600, furniture=(LEDGE,))
BED = Furniture("bed", Rect(1200, 0, 1600, 1050), "bed")
OVER_BED = Survey.from_size(4000, 2600, furniture=(BED,))


def hung(places, survey, size=(300.0, 400.0), family="by hand"):
    pieces = tuple(vis.Piece(f"P{k}", *size) for k in range(len(places)))
    placements = tuple(vis.Placement(p.id, *at) for p, at in zip(pieces, places, strict=True))
    return evaluate(vis.Arrangement(pieces, placements, family=family), survey, RULES)


def term(arrangement, name):
    return next(t for t in arrangement.terms if t.name == name)


def test_a_level_row_above_a_stair_is_spoiled_and_one_that_climbs_is_not():
    """The stair rises 0.6 for 1; so does the second row."""
    rise = [(x, 1200 + 1524 + 0.6 * (x - 2000)) for x in (1643.0, 2000.0, 2357.0)]
    level = hung([(x, 2724.0) for x, _ in rise], STAIR, family="row")
    climbs = hung(rise, STAIR, family="stair")
    assert term(level, "usual way").value == 0
    assert term(level, "usual way").weight > WORST_SHARE
    assert "stair" in term(level, "usual way").sentence
    assert term(climbs, "usual way").value == 1
    assert climbs.score > level.score + 100 * WORST_SHARE


def test_a_group_that_leaves_a_ledge_empty_is_spoiled():
    above = hung([(1822.0, 1700.0), (2178.0, 1700.0)], OVER_LEDGE)
    stands = hung([(1822.0, 1380.0), (2178.0, 1380.0)], OVER_LEDGE)
    assert term(above, "usual way").value == 0
    assert "usual way" not in [t.name for t in above.terms if t.value > 0]
    assert term(stands, "usual way").value == 1


def test_two_either_side_of_a_bed_leave_the_wall_above_it_bare():
    aside = hung([(900.0, 1524.0), (3100.0, 1524.0)], OVER_BED, family="flanking")
    assert term(aside, "usual way").value == 0
    assert "bare" in term(aside, "usual way").sentence


def test_unlike_halves_beside_a_mirror_count_less_than_mirrored_ones():
    mirror = Zone("other", Polygon.from_rect(Rect(1650, 1100, 700, 850)), "mirror")
    survey = Survey.from_size(4000, 2600, zones=(mirror,))
    places = [(1400.0, 1525.0), (2600.0, 1525.0)]
    assert term(hung(places, survey, family="flanking"), "usual way").value == 1
    unlike = [(1400.0, 1525.0), (2600.0, 1296.5), (2600.0, 1753.5)]
    value = term(hung(unlike, survey, family="balanced halves"), "usual way").value
    assert 0.5 <= value < 1


def test_a_group_beside_a_screen_in_the_walls_middle_is_off_the_middle():
    """A screen whose top is below the centre height parts the wall for a group as high."""
    screen = Zone("other", Polygon.from_rect(Rect(1400, 750, 1200, 675)), "TV")
    survey = Survey.from_size(4000, 2600, zones=(screen,))
    row = hung([(343.0, 1524.0), (700.0, 1524.0), (1057.0, 1524.0)], survey, family="row")
    assert term(row, "centred").value == 0


@pytest.mark.parametrize(("share", "value"), [(0.7, 1.0), (1.0, 0.3), (1.5, 0.0)])
def test_what_is_wider_than_the_furniture_is_hardly_in_proportion(share, value):
    """Of ten judged drawings wider than the furniture nine were rejected and none was signed."""
    wide = hung([(2000.0, 1524.0)], OVER_BED, size=(1600.0 * share, 300.0))
    assert term(wide, "proportion").value == pytest.approx(value, abs=1e-9)


def test_a_rectangle_with_a_hole_is_not_full():
    """Nine of one size in a square fill it; eight leave one cell, as broad as a frame, empty."""
    cells = np.array([(x, y) for x in range(3) for y in range(3)], np.float64)
    rest = cells[[k for k in range(9) if k != 4]]
    for places, full in ((cells, True), (rest, False)):
        pieces = [vis.Piece(f"P{k}", 300.0, 300.0) for k in range(len(places))]
        setting = describe_hung(pieces, Survey.from_size(4000, 2600), RULES)
        assert _is_full(places * (300.0 + RULES.gap_mm), setting) is full


SQUARE = [(x, y) for x in (1800.0, 2157.0) for y in (1324.0, 1781.0)]


def of_mass(places):
    survey = Survey.from_size(4000, 2800)
    return term(hung(places, survey, family="salon hang"), "usual way").value


def test_one_mass_counts_the_more_the_nearer_it_comes_to_a_full_rectangle():
    """Four of 300 x 400 at gaps of 57 fill one; one moved out by half its height leaves corners."""
    out = [*SQUARE[:3], (SQUARE[3][0], SQUARE[3][1] + 200.0)]
    values = [of_mass(places) for places in (SQUARE, out)]
    assert values[0] == MASS[1] > values[1] >= MASS[0]


def test_a_rectangle_that_uneven_gaps_fill_is_no_full_mass():
    """The same four with gaps of 57 between rows and of 75 between columns."""
    uneven = [(2000 + (x - 1978.5) * 375 / 357, y) for x, y in SQUARE]
    assert of_mass(uneven) < of_mass(SQUARE)


def test_what_hangs_in_one_line_is_judged_as_a_row_not_as_a_mass():
    line = [(1643.0, 1524.0), (2000.0, 1524.0), (2357.0, 1524.0)]
    survey = Survey.from_size(4000, 2600)
    assert term(hung(line, survey, family="salon hang"), "usual way").value == MASS[0]
    assert term(hung(line, survey, family="row"), "usual way").value == 1


@pytest.mark.parametrize(
    ("width", "remedy"),
    [(300.0, "Choose larger pieces"), (500.0, "Spread the group"), (590.0, "Choose smaller")],
)
def test_a_row_is_to_be_spread_or_drawn_together_only_as_far_as_gaps_reach(width, remedy):
    """Two thirds to three quarters of 1600 mm are 1067 to 1200.

    At gaps of 50 to 75 mm two of 300 take 650 to 675 mm, two of 500 1050 to 1075, two of 590 1230
    to 1255.
    """
    places = [(2000.0 - (width + 57) / 2, 1524.0), (2000.0 + (width + 57) / 2, 1524.0)]
    found = hung(places, OVER_BED, size=(width, 300.0)).findings
    assert any(f.hint.startswith(remedy) for f in found if f.code == "furniture-share")
