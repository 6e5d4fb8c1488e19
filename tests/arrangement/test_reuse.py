"""Plans to share: written and read back, at another gap and in other sizes."""

import json

import pytest

import visualiser as vis
from visualiser.arrangement.plan_file import read_plan, write_plan
from visualiser.arrangement.reuse import hang_plan, reused
from visualiser.arrangement.slots import one_size_up, plan_of, resized, scaled
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Survey, Zone

WALL = Survey.from_size(4000, 2600)
RULES = vis.Guidelines()


def grid(count=6, width=300.0, height=400.0, gap=57.0):
    pieces = [vis.Piece(f"P{i}", width, height) for i in range(count)]
    rules = vis.Guidelines(gap_mm=gap)
    return vis.propose(pieces, WALL, rules, families=["grid"], count=1)[0]


def offsets(plan):
    return {s.id: (s.x_mm, s.y_mm) for s in plan.slots}


def test_a_plan_survives_writing_and_reading():
    plan = plan_of(grid(), 57)
    assert read_plan(write_plan(plan)) == plan


@pytest.mark.parametrize("gap", [50, 63.5, 75])
def test_a_plan_at_another_gap_is_the_arrangement_made_at_that_gap(gap):
    there = resized(plan_of(grid(), 57), {}, gap)
    direct = plan_of(grid(gap=gap), gap)
    for piece_id, at in offsets(there).items():
        assert at == pytest.approx(offsets(direct)[piece_id])


def test_a_plan_one_size_up_keeps_its_gap():
    there = scaled(plan_of(grid(), 57), 4 / 3)
    direct = plan_of(grid(width=400.0, height=400 * 4 / 3), 57)
    for piece_id, at in offsets(there).items():
        assert at == pytest.approx(offsets(direct)[piece_id])


def test_scaling_and_back_is_nothing():
    plan = plan_of(grid(), 57)
    again = scaled(scaled(plan, 1.25), 0.8)
    for piece_id, at in offsets(again).items():
        assert at == pytest.approx(offsets(plan)[piece_id])


def test_a_salon_plan_one_size_up_overlaps_nowhere():
    sides = [(700, 500), (500, 700), (400, 500), (500, 400), (300, 400), (400, 300)]
    pieces = [vis.Piece(f"P{i}", w, h) for i, (w, h) in enumerate(sides)]
    salon = vis.propose(pieces, WALL, RULES, families=["salon hang"], count=1)[0]
    plan = scaled(plan_of(salon, 57), 1.2)
    rects = [s.rect for s in plan.slots]
    assert min(a.distance_to(b) for i, a in enumerate(rects) for b in rects[:i]) >= 50 - 1e-6


def test_hanging_other_pieces_in_a_plan():
    plan = plan_of(grid(), 57)
    others = [vis.Piece(f"Q{i}", 300, 400) for i in range(6)]
    made = hang_plan(plan, others, 1500)
    assert made.bounds.centre_mm == pytest.approx((1500, 1524))
    assert len(made.placements) == 6
    with pytest.raises(vis.ArrangementError, match="6 slots for 5"):
        hang_plan(plan, others[:5], 1500)


def test_one_size_up_is_the_next_usual_size_at_the_same_gap():
    """After A4 comes A3 (ISO 216:2007, table 1), and no size of another system."""
    plan = one_size_up(plan_of(grid(width=210.0, height=297.0), 57))
    assert {(s.width_mm, s.height_mm) for s in plan.slots} == {(297, 420)}
    direct = plan_of(grid(width=297.0, height=420.0), 57)
    for piece_id, at in offsets(plan).items():
        assert at == pytest.approx(offsets(direct)[piece_id])


def test_a_plan_closes_up_to_the_pieces_and_the_gap_of_another_job():
    """A grid of 300 x 400 at 57 mm, hung with 280 x 360 at 65 mm, is that grid made afresh."""
    others = [vis.Piece(f"Q{i}", 280, 360) for i in range(7)]
    rules = vis.Guidelines(gap_mm=65)
    made = reused(plan_of(grid(), 57), others, WALL, rules)
    afresh = vis.propose(others[:6], WALL, rules, families=["grid"], count=1)[0]
    assert len(made.placements) == 6
    assert sorted((round(p.x_mm, 3), round(p.y_mm, 3)) for p in made.placements) == sorted(
        (round(p.x_mm, 3), round(p.y_mm, 3)) for p in afresh.placements
    )
    assert made.score == pytest.approx(afresh.score)


def test_a_plan_gives_way_to_what_is_to_stay_clear():
    door = Zone("door", Polygon.from_rect(Rect(1800, 0, 800, 2100)), "door")
    survey = Survey.from_size(4000, 2600, zones=(door,))
    pieces = [vis.Piece(f"Q{i}", 300, 400) for i in range(6)]
    made = reused(plan_of(grid(), 57), pieces, survey, RULES)
    assert not [f for f in made.findings if f.severity == "broken"]
    assert made.bounds.right_mm <= 1750 or made.bounds.left_mm >= 2650


def test_a_plan_that_finds_no_room_says_how_large_it_is():
    """Three of 300 mm and two gaps of 57 mm are 1014 mm wide; 100 mm stay free at each end."""
    pieces = [vis.Piece(f"Q{i}", 300, 400) for i in range(6)]
    with pytest.raises(
        vis.ArrangementError, match=r"takes 1014 x 857 mm.* 800 x 2500 mm"
    ) as caught:
        reused(plan_of(grid(), 57), pieces, Survey.from_size(1000, 2600), RULES)
    assert caught.value.hint


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"[]",
        b"{}",
        b"\xff\xfe",
        b'{"format": "hanging plan"}',
        json.dumps({"format": "hanging plan", "version": 99}).encode(),
        json.dumps(
            {"format": "hanging plan", "version": 1, "gap_mm": 57, "centre_height_mm": 1524,
             "slots": [{"id": "a", "x_mm": 0, "y_mm": 0, "width_mm": -1, "height_mm": 5}]}
        ).encode(),
    ],
)  # fmt: skip
def test_damaged_plans_are_named(content):
    with pytest.raises(vis.ArrangementError) as caught:
        read_plan(content)
    assert caught.value.hint


def test_a_plan_hangs_fewer_pieces_in_its_manner():
    others = [vis.Piece(f"Q{i}", 300, 400) for i in range(4)]
    made = reused(plan_of(grid(), 57), others, WALL, RULES)
    assert made.family == "grid"
    assert len(made.placements) == 4


def test_of_more_pieces_than_slots_the_smallest_are_left_out():
    others = [vis.Piece(f"Q{i}", 300, 400) for i in range(6)] + [vis.Piece("small", 100, 130)]
    others += [vis.Piece("large", 320, 420)]
    hung = {p.piece_id for p in hang_plan(plan_of(grid(), 57), others, 2000).placements}
    assert "large" in hung
    assert "small" not in hung


def test_a_square_of_equals_is_not_filled_with_ragged_sizes():
    sides = [(300, 400), (400, 300), (250, 250), (500, 400), (300, 300), (210, 297)]
    mixed = [vis.Piece(f"Q{i}", w, h) for i, (w, h) in enumerate(sides)]
    made = reused(plan_of(grid(), 57), mixed, WALL, RULES)
    assert made.family != "grid"
    assert not [f for f in made.findings if f.severity == "broken"]
