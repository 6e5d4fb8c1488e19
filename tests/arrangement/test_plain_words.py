"""Sentences name what was measured, in words and units that a client reads."""

import pytest

import visualiser as vis
from visualiser.arrangement import editing
from visualiser.arrangement.contexts import evaluate
from visualiser.arrangement.editing import Bench
from visualiser.geometry import Polygon, Rect
from visualiser.inventory.hanger import Hanger
from visualiser.survey.survey import Furniture, Survey, Zone
from visualiser.wording import in_unit

WALL = Survey.from_size(4000, 2600)
SOFA = Furniture("sofa", Rect(1000, 0, 2100, 820))
OVER_SOFA = Survey.from_size(4200, 2500, furniture=(SOFA,))


def said(arrangement):
    return {term.name: term.sentence for term in arrangement.terms}


def test_gaps_are_told_beside_the_gap_that_they_were_measured_by():
    """Three of 420 open their gaps to 70 mm to take two thirds of a sofa of 2100."""
    pieces = [vis.Piece(f"P{i}", 420.0, 500.0) for i in range(3)]
    row = vis.propose(pieces, OVER_SOFA, families=["row"], count=1)[0]
    assert said(row)["even gaps"] == "Gaps differ from 70 mm by 0 mm on average."


def test_a_group_over_a_sofa_is_told_about_the_sofas_middle():
    piece = vis.Piece("A", 1400.0, 500.0)
    hung = vis.Arrangement((piece,), (vis.Placement("A", 2080.0, 1300.0),))
    made = evaluate(hung, OVER_SOFA, vis.Guidelines())
    assert said(made)["centred"] == "It hangs 30 mm off the middle of the sofa."
    alone = evaluate(hung, WALL, vis.Guidelines())
    assert said(alone)["centred"] == "It hangs 80 mm off the middle of its stretch of wall."


def test_one_picture_is_not_scored_as_a_way_of_hanging_groups():
    made = vis.propose([vis.Piece("A", 700.0, 900.0)], WALL, count=1)[0]
    assert "usual way" not in said(made)


def test_lengths_in_findings_follow_the_reader():
    rules = vis.Guidelines(viewing_distance_mm=3048.0)
    hung = vis.Arrangement((vis.Piece("A", 100.0, 100.0),), (vis.Placement("A", 2000.0, 1524.0),))
    found = [f for f in vis.check_arrangement(hung, WALL, rules) if f.code == "smallest-piece"]
    assert "from 3048 mm" in found[0].text
    assert "from 120 in" in in_unit(found[0].text, "in")


def test_values_of_rules_are_told_with_their_unit():
    with pytest.raises(vis.ArrangementError) as caught:
        vis.Guidelines(gap_min_mm=76.2, gap_mm=60.0, gap_max_mm=80.0)
    assert "gap min is 76.2 mm, above gap, 60 mm" in caught.value.message
    assert "3 in" in in_unit(caught.value.message, "in")
    with pytest.raises(vis.ArrangementError, match="-3°"):
        vis.Guidelines(smallest_angle_deg=-3.0)
    with pytest.raises(vis.ArrangementError, match="is 90 %, above furniture share max, 50 %"):
        vis.Guidelines(furniture_share_min=0.9, furniture_share_max=0.5)


def test_refusals_are_whole_sentences():
    hung = vis.Arrangement((vis.Piece("A", 300.0, 300.0),), (vis.Placement("A", 2000.0, 1524.0),))
    with pytest.raises(vis.ArrangementError, match="No piece was chosen"):
        editing.align(hung, [], "top", Bench(WALL, vis.Guidelines()))
    with pytest.raises(vis.ArrangementError, match="does not suit 1 such piece\\."):
        vis.propose([vis.Piece("A", 300.0, 300.0)], WALL, families=["grid", "row"])
    with pytest.raises(vis.ArrangementError, match="No family of arrangements was chosen"):
        vis.propose([vis.Piece("A", 300.0, 300.0)], WALL, families=[])


@pytest.mark.parametrize(("ceiling", "remedy"), [(2600.0, "Raise the group."), (1900.0, "no room")])
def test_a_group_is_to_be_raised_only_where_the_ceiling_leaves_room(ceiling, remedy):
    hung = vis.Arrangement((vis.Piece("A", 700.0, 900.0),), (vis.Placement("A", 2000.0, 1350.0),))
    found = vis.check_arrangement(hung, Survey.from_size(4000, ceiling), vis.Guidelines())
    assert [f.code for f in found] == ["centre-height"]
    assert remedy in found[0].hint


def test_findings_of_a_proposal_name_pieces_in_the_order_of_the_list():
    """A switch beside a row: cables may run level with it, through the hooks of both."""
    switch = Zone("switch", Polygon.from_rect(Rect(3700, 1560, 80, 400)), "light switch")
    pieces = [vis.Piece("A", 300.0, 300.0), vis.Piece("B", 500.0, 500.0)]
    wall = Survey.from_size(4000, 2600, zones=(switch,))
    made = vis.propose(pieces, wall, families=["pair"], count=1)[0]
    assert [f.text for f in made.findings if f.code == "cable-run"] == [
        "Hooks of A and B lie straight above, below or beside the light switch, where cables "
        "may run."
    ]


def test_a_piece_that_hangs_from_two_hooks_is_named_once():
    switch = Zone("switch", Polygon.from_rect(Rect(3700, 1300, 80, 700)), "light switch")
    rings = vis.Piece("A", 500.0, 500.0, hanger=Hanger(kind="d-rings"))
    hung = vis.Arrangement((rings,), (vis.Placement("A", 2000.0, 1524.0),))
    found = vis.check_arrangement(hung, Survey.from_size(4000, 2600, zones=(switch,)),
                                  vis.Guidelines())  # fmt: skip
    assert [f.text for f in found if f.code == "cable-run"] == [
        "Hooks of A lie straight above, below or beside the light switch, where cables may run."
    ]


def test_one_piece_that_finds_no_place_is_told_about_by_itself():
    wide = Zone("window", Polygon.from_rect(Rect(300, 400, 1400, 1700)), "window")
    survey = Survey.from_size(2000, 2300, zones=(wide,))
    with pytest.raises(vis.ArrangementError) as caught:
        vis.propose([vis.Piece("A", 700.0, 500.0)], survey)
    assert caught.value.message.startswith("A finds no place that keeps the hard rules")
    assert caught.value.hint == "Choose smaller sizes, or ask for fewer clearances."
