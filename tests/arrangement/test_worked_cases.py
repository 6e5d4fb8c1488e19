"""The cases a stylist meets, with places worked by hand where geometry gives them."""

import math
from itertools import combinations, pairwise

import numpy as np
import pytest

import visualiser as vis
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Furniture, Survey, Zone

WALL = Survey.from_size(4000, 2600)
RULES = vis.Guidelines()


def made(sides, survey=WALL, family=None, rules=RULES, **kwargs):
    pieces = [vis.Piece(f"P{i}", float(w), float(h)) for i, (w, h) in enumerate(sides)]
    families = [family] if family else None
    return vis.propose(pieces, survey, rules, families=families, **kwargs)


def gaps_of(arrangement):
    from visualiser.arrangement.rules import neighbour_gaps

    return [gap for _, _, gap in neighbour_gaps(arrangement.rects())]


def test_triptych_with_a_larger_centre_comes_first():
    best = made([(700, 900), (400, 500), (400, 500)])[0]
    assert best.family == "triptych"
    rects = best.rects()
    assert rects["P0"].centre_mm == pytest.approx((2000, 1524))
    flanks = sorted(r.centre_mm for i, r in rects.items() if i != "P0")
    away = 350 + 57 + 200
    assert flanks == [pytest.approx((2000 - away, 1524)), pytest.approx((2000 + away, 1524))]


@pytest.mark.parametrize(
    ("sides", "outline"),
    [
        # 800 over two of 371.5 and a gap; heights 557 + 57 + 500
        ([(800, 557), (371.5, 500), (371.5, 500)], (800, 1114)),
        # two columns: 600 + 57 + 443 and 500 + 57 + 543 high
        ([(500, 600), (500, 443), (400, 500), (400, 543)], (957, 1100)),
        # a tall one beside two rows of two: 900 = 400 + 57 + 443
        ([(500, 900), (300, 400), (343, 400), (300, 443), (343, 443)], (1257, 900)),
    ],
)
def test_boxed_groups_of_three_four_and_five_fill_a_rectangle(sides, outline):
    """Sizes chosen so that an exact box exists; it must be found, with no corner missing."""
    boxes = made(sides, family="boxed group", count=6)
    full = [b for b in boxes if "full rectangle" in b.name]
    assert full
    sizes = [(b.bounds.width_mm, b.bounds.height_mm) for b in full]
    assert any(size == pytest.approx(outline, abs=19) for size in sizes)
    for box in full:
        assert all(50 - 1e-6 <= gap <= 75 + 1e-6 for gap in gaps_of(box))
        corners = [(r.left_mm, r.right_mm, r.bottom_mm, r.top_mm) for r in box.rects().values()]
        b = box.bounds
        for x, y in ((0, 2), (0, 3), (1, 2), (1, 3)):
            corner = ((b.left_mm, b.right_mm)[x], (b.bottom_mm, b.top_mm)[y - 2])
            assert any(abs(c[x] - corner[0]) + abs(c[y] - corner[1]) < 1e-6 for c in corners)


def test_a_box_that_closes_at_the_gap_aimed_at_keeps_it():
    """The same box as above: two columns that are equally high with gaps of 57 mm."""
    best = made([(500, 600), (500, 443), (400, 500), (400, 543)], count=1)[0]
    assert best.name == "boxed group, a full rectangle"
    assert gaps_of(best) == pytest.approx([57] * len(gaps_of(best)))


MIXED = [(700, 500), (500, 700), (400, 500), (500, 400), (300, 400), (400, 300), (250, 250),
         (600, 800), (300, 300), (210, 297), (350, 450)]  # fmt: skip


@pytest.mark.parametrize("count", [5, 6, 7, 11])
def test_salon_hangs_are_one_balanced_mass_at_one_gap(count):
    best = made(MIXED[:count], family="salon hang", count=1)[0]
    terms = {t.name: t.value for t in best.terms}
    assert terms["even gaps"] > 0.9
    assert terms["balance"] > 0.75
    assert terms["closed outline"] > 0.4
    assert terms["outline shape"] > 0.9
    assert terms["compact outline"] > 0.7
    assert np.median(gaps_of(best)) == pytest.approx(57)
    assert len({round(r.centre_mm[0]) for r in best.rects().values()}) > 2  # no mere column
    assert len({round(r.centre_mm[1]) for r in best.rects().values()}) > 1  # no mere row


@pytest.mark.parametrize("count", [5, 6])
def test_salon_hangs_of_five_and_six_have_no_opening(count):
    """Wherever two pieces face each other across less than the smallest piece, one gap is there."""
    best = made(MIXED[:count], family="salon hang", count=1)[0]
    rects = list(best.rects().values())
    smallest = min(min(side) for side in MIXED[:count])
    for one, other in combinations(rects, 2):
        away = sorted(one.gap_to(other))
        facing_mm = -away[0]
        if facing_mm > 0.12 * smallest and 0 < away[1] < smallest:
            assert away[1] <= 1.05 * 57


def test_nine_equal_pieces_hang_in_a_grid():
    best = made([(400, 400)] * 9)[0]
    assert best.family == "grid"
    assert best.score > 99


def test_nine_equal_pieces_are_set_off_by_half_a_step_where_that_is_asked_for():
    found = made([(400, 400)] * 9)
    assert "staggered" not in {a.family for a in found}
    for arrangement in made([(400, 400)] * 9, family="staggered")[:1]:
        rows = {}
        for place in arrangement.placements:
            rows.setdefault(round(place.y_mm), []).append(place.x_mm)
        starts = []
        for xs in rows.values():
            assert np.diff(sorted(xs)) == pytest.approx(457)
            starts.append(min(xs))
        assert np.abs(np.diff([starts[0], starts[1]])) == pytest.approx(457 / 2)


@pytest.mark.parametrize(
    ("count", "lengths"), [(5, [(2, 3)]), (7, [(3, 4), (2, 3, 2)]), (10, [(3, 4, 3)])]
)
def test_staggered_rows_are_one_longer_and_one_shorter_in_turn(count, lengths):
    found = made([(300, 400)] * count, family="staggered", count=12)
    rows_found = set()
    for arrangement in found:
        rows = {}
        for place in arrangement.placements:
            rows.setdefault(round(place.y_mm), []).append(place.x_mm)
        rows_found.add(tuple(len(xs) for _, xs in sorted(rows.items(), reverse=True)))
    assert rows_found >= set(lengths) or rows_found >= {row[::-1] for row in lengths}


def test_seven_up_a_stair_follow_its_slope():
    """Nosings rise 0.7 in 1; each centre hangs the centre height above the line of nosings."""
    rise = 0.7
    outline = Polygon(((0, 0), (600, 0), (4400, 600 + 2060), (4400, 5000), (0, 5000)))
    side = (4400 - 600, 2660.0)
    rise = side[1] / side[0]
    sides = [(300, 400), (400, 300), (300, 400), (400, 500), (300, 300), (400, 400), (300, 400)]
    best = made(sides, Survey(outline))[0]
    assert best.family == "stair"
    centres = np.array(sorted(r.centre_mm for r in best.rects().values()))
    slopes = np.diff(centres[:, 1]) / np.diff(centres[:, 0])
    assert slopes == pytest.approx(np.full(6, rise))
    above = centres[:, 1] - rise * (centres[:, 0] - 600)
    assert above == pytest.approx(np.full(7, RULES.centre_height_mm), abs=60)
    by_x = sorted(best.rects().values(), key=lambda r: r.left_mm)
    across = [b.left_mm - a.right_mm for a, b in pairwise(by_x)]
    assert across == pytest.approx([57] * 6)


def test_up_a_stair_two_high_each_column_keeps_to_the_slope():
    rules = vis.Guidelines(stair_slope_deg=30)
    found = made([(300, 400)] * 6, Survey.from_size(5000, 4000), "stair", rules, count=4)
    (two_high,) = [a for a in found if a.name == "stair, two high along the slope"]
    columns = {}
    for rect in two_high.rects().values():
        columns.setdefault(round(rect.left_mm), []).append(rect)
    middles = []
    for stack in columns.values():
        low, high = sorted(stack, key=lambda r: r.bottom_mm)
        assert high.bottom_mm - low.top_mm == pytest.approx(57)
        middles.append((low.centre_mm[0], (low.bottom_mm + high.top_mm) / 2))
    middles.sort()
    assert np.diff(np.array(middles), axis=0) == pytest.approx(
        np.tile([357, 357 * math.tan(math.radians(30))], (2, 1))
    )


def test_a_typed_slope_is_followed_down_to_the_right():
    rules = vis.Guidelines(stair_slope_deg=-30)
    best = made([(300, 400)] * 4, Survey.from_size(4000, 4000), "stair", rules)[0]
    centres = np.array(sorted(r.centre_mm for r in best.rects().values()))
    slopes = np.diff(centres[:, 1]) / np.diff(centres[:, 0])
    assert slopes == pytest.approx(np.full(3, math.tan(math.radians(-30))))


def test_four_above_a_sofa_span_two_thirds_to_three_quarters():
    sofa = Furniture("sofa", Rect(1000, 0, 2100, 820))
    survey = Survey.from_size(4200, 2600, furniture=(sofa,))
    best = made([(500, 700), (500, 700), (400, 300), (400, 300)], survey)[0]
    assert 2 / 3 <= best.bounds.width_mm / 2100 <= 0.76
    assert best.bounds.centre_mm[0] == pytest.approx(2050)
    assert 150 - 1e-6 <= best.bounds.bottom_mm - 820 <= 250 + 1e-6
    assert not [f for f in best.findings if f.code.startswith("furniture")]


def test_two_large_and_two_small_above_a_sofa_hang_the_same_either_side_of_its_middle():
    """The small ones between the large ones, one over the other: 500 + 57 + 400 + 57 + 500 wide."""
    sofa = Furniture("sofa", Rect(1000, 0, 2100, 820))
    survey = Survey.from_size(4200, 2600, furniture=(sofa,))
    best = made([(500, 700), (500, 700), (400, 300), (400, 300)], survey)[0]
    x = {i: r.centre_mm[0] for i, r in best.rects().items()}
    away = 200 + 57 + 250
    assert sorted((x["P0"], x["P1"])) == pytest.approx([2050 - away, 2050 + away])
    assert (x["P2"], x["P3"]) == pytest.approx((2050, 2050))


def test_four_equal_above_a_sofa_hang_in_one_row_before_a_square():
    """A row of 1771 mm follows a sofa of 2100; two over two take no more than 41 % of it."""
    sofa = Furniture("sofa", Rect(1000, 0, 2100, 820))
    found = made([(400, 500)] * 4, Survey.from_size(4200, 2600, furniture=(sofa,)))
    assert [a.family for a in found[:2]] == ["row", "grid"]
    assert made([(400, 500)] * 4)[0].family == "grid"


def test_five_around_a_mirror_balance_about_it():
    """In the wall's middle a mirror has pieces either side; a group beside it is one-sided.

    They hang as one mass about it or as two halves that weigh about the same.
    """
    mirror = Zone("other", Polygon.from_rect(Rect(1700, 1150, 600, 900)), "mirror")
    survey = Survey.from_size(4000, 2600, zones=(mirror,))
    best = made([(400, 500), (400, 500), (300, 300), (300, 300), (500, 400)], survey)[0]
    assert best.family in ("around an object", "balanced halves")
    assert best.bounds.overlaps(Rect(1700, 1150, 600, 900))
    areas = [(r.centre_mm[0] - 2000, r.area_mm2) for r in best.rects().values()]
    left = sum(a for x, a in areas if x < -1)
    right = sum(a for x, a in areas if x > 1)
    assert min(left, right) / max(left, right) > 0.5


def test_pieces_stand_on_a_shelf():
    shelf = Furniture("other", Rect(500, 1200, 2500, 30), "picture shelf")
    survey = Survey.from_size(4000, 2600, furniture=(shelf,))
    best = made([(400, 500), (300, 400), (500, 700)], survey, "ledge")[0]
    assert {round(r.bottom_mm, 6) for r in best.rects().values()} == {1230}
    assert best.bounds.centre_mm[0] == pytest.approx(1750)


def test_a_stack_beside_a_large_piece_meets_its_height():
    """Two of 400 and one gap of 60 stack to 860: the gap opens from 57 to meet the large piece."""
    best = made([(600, 860), (400, 400), (400, 400)], family="stacked pair")[0]
    rects = best.rects()
    assert max(rects["P1"].top_mm, rects["P2"].top_mm) == pytest.approx(rects["P0"].top_mm)
    assert min(rects["P1"].bottom_mm, rects["P2"].bottom_mm) == pytest.approx(rects["P0"].bottom_mm)


def test_a_symmetric_salon_is_its_own_mirror_image():
    sides = [(600, 800), (400, 500), (400, 500), (300, 300), (300, 300)]
    best = made(sides, family="symmetric salon", count=1)[0]
    places = sorted((round(r.centre_mm[0], 3), round(r.centre_mm[1], 3), r.width_mm)
                    for r in best.rects().values())  # fmt: skip
    middle = 2 * best.bounds.centre_mm[0]
    turned = sorted((round(middle - x, 3), y, w) for x, y, w in places)
    assert [pytest.approx(p) for p in places] == turned
