"""Hard rules over random sets and walls, and what may not change the proposals."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import visualiser as vis
from tests.arrangement.hard_rules import area_within
from visualiser.arrangement.rules import broken_rules
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Furniture, Survey, Zone

RULES = vis.Guidelines()
SIDES = (150, 210, 250, 297, 300, 400, 420, 500, 594, 700)


def random_task(seed, fewest=1, most=9):
    """Some pieces, and a wall that may slope and hold zones and furniture."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(fewest, most + 1))
    sides = rng.choice(SIDES, size=(count, 2))
    if rng.random() < 0.3:
        sides[:] = sides[0]
    pieces = [vis.Piece(f"P{i}", float(w), float(h)) for i, (w, h) in enumerate(sides)]
    width, height = float(rng.integers(2200, 6000)), float(rng.integers(2200, 3200))
    outline = Polygon.from_rect(Rect(0, 0, width, height))
    shape = rng.random()
    if shape < 0.15:
        outline = Polygon(((0, 0), (width, 0), (width, 0.6 * height), (0.5 * width, height),
                           (0, height)))  # fmt: skip
    elif shape < 0.3:
        outline = Polygon(((0, 0), (0.3 * width, 0), (width, 0.7 * width), (width, 0.7 * width
                           + height), (0, 0.7 * width + height)))  # fmt: skip
    zones = []
    for _ in range(int(rng.integers(0, 4))):
        kind = str(rng.choice(["switch", "socket", "window", "other"]))
        size = rng.uniform(80, 120, 2) if kind in ("switch", "socket") else rng.uniform(300, 900, 2)
        corner = rng.uniform(0, 1, 2) * (width - size[0], height - size[1])
        rect = Rect(*corner, *size)
        polygon = Polygon.from_rect(rect)
        if rng.random() < 0.5:
            skew = rng.uniform(-30, 30, (4, 2))
            polygon = Polygon(tuple(map(tuple, rect.corners() + skew)))
        zones.append(Zone(kind, polygon))
    furniture = []
    if rng.random() < 0.5:
        wide = float(rng.uniform(800, 2200))
        left = float(rng.uniform(0, width - wide)) if wide < width else 0.0
        furniture.append(Furniture("sofa", Rect(left, 0, wide, float(rng.uniform(600, 1000)))))
    return pieces, Survey(outline, zones=tuple(zones), furniture=tuple(furniture))


def contour(points):
    return np.asarray(points, dtype=np.float32).reshape(-1, 1, 2)


def reach(rect, polygon_mm):
    """Signed distance of a rectangle from a polygon, by OpenCV's point test: above 0 it enters.

    Distances between apart polygons are met at a corner of one of them; points along the
    rectangle's sides find those that cross without a corner inside.
    """
    corners = rect.corners()
    sides = [a + t * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)
             for t in np.linspace(0, 1, 24)]  # fmt: skip
    there = contour(polygon_mm)
    own = max(cv2.pointPolygonTest(there, (float(x), float(y)), True) for x, y in sides)
    here = contour(corners)
    other = max(cv2.pointPolygonTest(here, (float(x), float(y)), True) for x, y in polygon_mm)
    return max(own, other)


def exact_violations(arrangement, survey, rules):
    """Second method: OpenCV's signed distances, and areas, on the placed rectangles themselves."""
    found = []
    rects = list(arrangement.rects().values())
    wall = contour(survey.outline.points_mm)
    for i, one in enumerate(rects):
        inside = min(
            cv2.pointPolygonTest(wall, (float(x), float(y)), True) for x, y in one.corners()
        )
        if inside < -0.05:
            found.append("outside")
        edge = rules.edge_clearance_mm - 0.05
        clear = Rect(one.x_mm - edge, one.y_mm + 0.05, one.width_mm + 2 * edge,
                     one.height_mm + edge - 0.05)  # fmt: skip
        box = (clear.left_mm, clear.bottom_mm, clear.right_mm, clear.top_mm)
        if area_within(survey.outline.points_mm, box) < clear.area_mm2 * (1 - 1e-9):
            found.append("edge")
        for zone in survey.zones:
            if reach(one, zone.polygon.points_mm) > -rules.zone_clearance_mm + 0.05:
                found.append("zone")
        for item in survey.furniture:
            if reach(one, item.rect.corners()) > 0.05:
                found.append("furniture")
            over = (
                one.left_mm < item.rect.right_mm - 0.05 and one.right_mm > item.rect.left_mm + 0.05
            )
            least = item.rect.top_mm + rules.furniture_clearance_min_mm - 0.05
            if over and item.rect.top_mm <= one.bottom_mm < least:
                found.append("furniture clearance")
        points = survey.outline.points_mm
        level = points[1][1] == 0.0 and points[2][0] == points[1][0]
        if level and one.bottom_mm < 600 - 0.05:
            found.append("lowest edge")
        for other in rects[:i]:
            if reach(one, other.corners()) > -rules.gap_min_mm + 0.05:
                found.append("gap")
    return found


SEARCHED_IN_FULL = 5
"""Sets up to so many pieces are searched in full here, which builds them in every way there is.

Larger ones are searched quickly: by the same steps, fewer times. The slow run searches all in full.
"""


def effort_for(pieces):
    return "full" if len(pieces) <= SEARCHED_IN_FULL else "quick"


@cache
def proposals(seed, *, fewest=1, most=9, effort=None):
    pieces, survey = random_task(seed, fewest, most)
    effort = effort or effort_for(pieces)
    try:
        return vis.propose(pieces, survey, RULES, seed=seed, effort=effort), pieces, survey
    except vis.ArrangementError as error:
        if not error.hint:
            raise
        return [], pieces, survey


@pytest.mark.parametrize("start", range(0, 12, 4))
def test_hard_rules_hold_on_random_sets_and_walls(start):
    for seed in range(start, start + 4):
        found, pieces, survey = proposals(seed)
        for arrangement in found:
            assert not broken_rules(arrangement.findings)
            assert exact_violations(arrangement, survey, RULES) == []
            assert {p.piece_id for p in arrangement.placements} == {p.id for p in pieces}


@pytest.mark.parametrize("seed", [4, 6])
def test_hard_rules_hold_for_many_pieces(seed):
    found, pieces, survey = proposals(seed, fewest=12, most=24)
    assert found
    for arrangement in found:
        assert exact_violations(arrangement, survey, RULES) == []
        assert len(arrangement.placements) == len(pieces)


def test_many_pieces_without_room_say_which_to_leave_out_and_the_others_can_hang():
    pieces, survey = random_task(3, 22, 22)
    with pytest.raises(vis.ArrangementError, match="keeps the hard rules") as caught:
        vis.propose(pieces, survey, RULES)
    out = caught.value.hint.removeprefix("Leave out ").split(":")[0].split(", ")
    rest = [p for p in pieces if p.id not in out]
    assert 0 < len(rest) < len(pieces)
    assert vis.propose(rest, survey, RULES, count=1)


@pytest.mark.slow
@pytest.mark.parametrize("start", range(12, 2012, 20))
def test_hard_rules_hold_on_two_thousand_random_sets(start):
    for seed in range(start, start + 20):
        found, _, survey = proposals(seed, effort="full")
        for arrangement in found:
            assert exact_violations(arrangement, survey, RULES) == []


def places(arrangement):
    return {p.piece_id: (p.x_mm, p.y_mm) for p in arrangement.placements}


def assert_same(ones, others, change=lambda at: at, tolerance=1e-6):
    assert [a.family for a in ones] == [b.family for b in others]
    for a, b in zip(ones, others, strict=True):
        there = places(b)
        for piece_id, at in places(a).items():
            assert change(at) == pytest.approx(there[piece_id], abs=tolerance)
        assert a.score == pytest.approx(b.score, abs=1e-6)


@pytest.mark.parametrize("seed", [0])
def test_same_input_and_seed_give_the_same_output(seed):
    """In full, with the exchanges and rounds that a quick search leaves out."""
    found, pieces, survey = proposals(seed, effort="full")
    assert_same(found, vis.propose(pieces, survey, RULES, seed=seed), tolerance=0)
    for arrangement in found:
        assert exact_violations(arrangement, survey, RULES) == []


@settings(max_examples=3, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(100, 200), order=st.randoms(use_true_random=False))
def test_the_order_of_the_pieces_changes_nothing(seed, order):
    found, pieces, survey = proposals(seed)
    if not found:
        return
    shuffled = list(pieces)
    order.shuffle(shuffled)
    effort = effort_for(pieces)
    again = vis.propose(shuffled, survey, RULES, seed=seed, effort=effort)
    assert_same(found, again, tolerance=0)


def mirrored(survey):
    bounds = survey.outline.bounds
    total = bounds.left_mm + bounds.right_mm

    def turned(polygon):
        return Polygon(tuple((total - x, y) for x, y in reversed(polygon.points_mm)))

    return replace(
        survey,
        outline=turned(survey.outline),
        zones=tuple(replace(z, polygon=turned(z.polygon)) for z in survey.zones),
        furniture=tuple(
            replace(
                f,
                rect=Rect(total - f.rect.right_mm, f.rect.y_mm, f.rect.width_mm, f.rect.height_mm),
            )
            for f in survey.furniture
        ),
    ), total


@settings(max_examples=3, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(200, 300))
def test_a_mirrored_wall_gives_mirrored_proposals(seed):
    found, pieces, survey = proposals(seed)
    other, total = mirrored(survey)
    if not found or not (survey.zones or survey.furniture):
        return  # on a symmetrical wall the mirrored task is the task itself
    again = vis.propose(pieces, other, RULES, seed=seed, effort=effort_for(pieces))
    assert_same(found, again, lambda at: (total - at[0], at[1]), tolerance=1e-3)


def scaled_rect(rect, k):
    return Rect(rect.x_mm * k, rect.y_mm * k, rect.width_mm * k, rect.height_mm * k)


@pytest.mark.parametrize("count", [1, 3, 5, 6])
def test_working_in_inches_changes_nothing(count):
    """The same numbers meant as inches: every length is 25.4 times as many millimetres."""
    k = 1 / 25.4
    sides = [(700, 500), (500, 700), (400, 500), (500, 400), (300, 400), (400, 300)][:count]
    pieces = [vis.Piece(f"P{i}", w, h) for i, (w, h) in enumerate(sides)]
    small = [vis.Piece(p.id, p.width_mm * k, p.height_mm * k, moulding=None) for p in pieces]
    sofa = Furniture("sofa", Rect(900, 0, 2000, 800))
    survey = Survey.from_size(4000, 2600, furniture=(sofa,))
    tiny = Survey.from_size(
        4000 * k, 2600 * k, furniture=(Furniture("sofa", scaled_rect(sofa.rect, k)),)
    )
    lengths = {
        name: getattr(RULES, name) * k
        for name in (
            "gap_mm", "gap_min_mm", "gap_max_mm", "centre_height_mm", "edge_clearance_mm",
            "furniture_clearance_min_mm", "furniture_clearance_max_mm", "zone_clearance_mm",
            "centre_height_tolerance_mm",
        )
    }  # fmt: skip
    found = vis.propose(pieces, survey, RULES)
    again = vis.propose(small, tiny, vis.Guidelines(**lengths))
    assert_same(found, again, lambda at: (at[0] * k, at[1] * k), tolerance=1e-4)


def test_different_families_come_before_variants():
    pieces = [vis.Piece(f"P{i}", 400, 500) for i in range(4)]
    found = vis.propose(pieces, Survey.from_size(4000, 2600), RULES, count=4)
    assert len({a.family for a in found}) == len(found)
    assert [a.score for a in found] == sorted((a.score for a in found), reverse=True)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_where_nothing_orderly_fits_pieces_are_fitted_to_the_wall(count):
    """Four corners of a wall with a large window: no two pieces side by side, none in line."""
    window = Zone("window", Polygon.from_rect(Rect(550, 1100, 900, 900)))
    survey = Survey.from_size(2000, 2500, zones=(window,))
    sides = [(320, 700), (330, 700), (800, 300), (310, 800)][:count]
    pieces = [vis.Piece(f"P{i}", *map(float, side)) for i, side in enumerate(sides)]
    found = vis.propose(pieces, survey, RULES)
    assert found
    for arrangement in found:
        assert exact_violations(arrangement, survey, RULES) == []


def test_a_set_that_fits_by_area_but_not_by_shape_is_refused_with_what_to_do():
    survey = Survey.from_size(1000, 2400)
    with pytest.raises(vis.ArrangementError, match="keeps the hard rules") as caught:
        vis.propose([vis.Piece(f"P{i}", 700, 800) for i in range(3)], survey, RULES)
    assert "Leave out" in caught.value.hint


def test_every_proposal_explains_its_score():
    pieces = [vis.Piece(f"P{i}", 300 + 50 * i, 400) for i in range(5)]
    for arrangement in vis.propose(pieces, Survey.from_size(4000, 2600), RULES):
        assert sum(t.weight for t in arrangement.terms) == pytest.approx(1)
        assert arrangement.score == pytest.approx(
            100 * sum(t.weight * t.value for t in arrangement.terms)
        )
        assert all(0 <= t.value <= 1 and t.sentence for t in arrangement.terms)
