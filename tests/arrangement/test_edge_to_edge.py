"""Frames edge to edge: a gap of 0 is a wish like another, and frames that touch are neighbours."""

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement import editing
from visualiser.arrangement.editing import Bench
from visualiser.arrangement.rules import neighbour_gaps
from visualiser.survey.survey import Survey

WALL = Survey.from_size(4000, 2600)
TOUCHING = vis.Guidelines(gap_mm=0.0, gap_min_mm=0.0)


@pytest.mark.parametrize(
    "sides", [[(400, 500)] * 4, [(400, 500), (300, 400), (500, 400), (300, 300), (250, 350)]]
)
def test_groups_without_gaps_are_proposed_and_scored(sides):
    pieces = [vis.Piece(f"P{i}", float(w), float(h)) for i, (w, h) in enumerate(sides)]
    with np.errstate(divide="raise", invalid="raise"):
        found = vis.propose(pieces, WALL, TOUCHING, effort="quick")
    assert found
    for proposal in found:
        assert np.isfinite([proposal.score, *(t.value for t in proposal.terms)]).all()
        assert not [f for f in proposal.findings if f.severity == "broken"]


def test_a_row_without_gaps_is_even_and_one_with_gaps_is_not():
    pieces = [vis.Piece(f"P{i}", 400.0, 500.0) for i in range(3)]
    row = vis.propose(pieces, WALL, TOUCHING, families=["row"], count=1)[0]
    if any(gap > 1e-6 for _, _, gap in neighbour_gaps(row.rects())):
        pytest.fail("frames of one size were to hang edge to edge")
    even = {t.name: t.value for t in row.terms}["even gaps"]
    assert even == 1
    assert row.bounds.width_mm == pytest.approx(1200)


def test_people_do_not_look_at_the_floor():
    with pytest.raises(vis.ArrangementError, match="centre height"):
        vis.Guidelines(centre_height_mm=0.0)


def square(step_mm):
    """Four frames of 400 by 500, two by two, so far from side to side."""
    spots = [(0, 0), (400 + step_mm, 0), (0, 500 + step_mm), (400 + step_mm, 500 + step_mm)]
    pieces = tuple(vis.Piece(i, 400.0, 500.0) for i in "ABCD")
    places = tuple(
        vis.Placement(p.id, 1500 + x, 1200 + y) for p, (x, y) in zip(pieces, spots, strict=True)
    )
    return vis.Arrangement(pieces, places)


@pytest.mark.parametrize("step_mm", [5.0, 0.0, -0.3])
def test_four_that_touch_keep_two_above_two_when_their_gap_is_set(step_mm):
    made = editing.match_gap(square(step_mm), list("ABCD"), "across", Bench(WALL, TOUCHING),
                             gap_mm=57.0).arrangement  # fmt: skip
    rects = made.rects()
    assert rects["B"].left_mm - rects["A"].right_mm == pytest.approx(57)
    assert rects["D"].left_mm - rects["C"].right_mm == pytest.approx(57)
    assert rects["C"].bottom_mm - rects["A"].top_mm == pytest.approx(57)
    assert rects["D"].bottom_mm - rects["B"].top_mm == pytest.approx(57)
    assert made.bounds.centre_mm == pytest.approx(square(step_mm).bounds.centre_mm)
