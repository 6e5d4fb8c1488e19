"""What must not depend on which way round the search works: kept places and a typed stair."""

from dataclasses import replace

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.proposing import mirrored_survey
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Survey, Zone

SOCKET = Zone("socket", Polygon.from_rect(Rect(2600, 300, 80, 80)))


def test_a_piece_that_stays_is_not_exchanged_for_the_sake_of_colours():
    """Two dark and two light frames of one size: it would spread them to exchange two."""
    pieces = [vis.Piece(i, 300.0, 400.0) for i in "ABCD"]
    dark, light = np.array([20.0, 0, 0]), np.array([90.0, 0, 0])
    colours = {"A": dark, "B": dark, "C": light, "D": light}
    kept = {"A": (1500.0, 1524.0), "B": (1857.0, 1524.0)}
    found = vis.propose(pieces, Survey.from_size(4000, 2500), kept=kept, colours=colours)
    for proposal in found:
        there = {p.piece_id: (p.x_mm, p.y_mm) for p in proposal.placements}
        assert {i: there[i] for i in kept} == {i: pytest.approx(at) for i, at in kept.items()}


@pytest.mark.parametrize("zones", [(), (SOCKET,)])
@pytest.mark.parametrize("slope", [30.0, -30.0])
def test_a_group_follows_the_stair_as_it_was_typed(slope, zones):
    """Which of a wall and its mirror image is worked on does not turn the stair round."""
    pieces = [vis.Piece(f"P{i}", 300.0, 400.0) for i in range(3)]
    survey = Survey.from_size(5000, 3000, zones)
    rules = vis.Guidelines(stair_slope_deg=slope)
    made = vis.propose(pieces, survey, rules, families=["stair"], count=1)[0]
    centres = np.array(sorted((p.x_mm, p.y_mm) for p in made.placements))
    rise = np.diff(centres[:, 1]) / np.diff(centres[:, 0])
    assert rise == pytest.approx(np.tan(np.radians(slope)))
    other = replace(rules, stair_slope_deg=-slope)
    image = vis.propose(pieces, mirrored_survey(survey), other, families=["stair"], count=1)[0]
    across = np.array(sorted((5000 - p.x_mm, p.y_mm) for p in image.placements))
    assert across == pytest.approx(centres)
