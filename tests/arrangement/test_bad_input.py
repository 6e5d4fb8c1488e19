"""What cannot be hung is named, with the amount and what to do; nothing is proposed."""

import pytest

import visualiser as vis
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Survey, Zone

WALL = Survey.from_size(4000, 2600)


def refused(pieces, survey=WALL, **rules):
    with pytest.raises(vis.ArrangementError) as caught:
        vis.propose(pieces, survey, vis.Guidelines(**rules))
    assert caught.value.hint
    return caught.value


def test_no_pieces():
    assert "no pieces" in refused([]).message


def test_two_pieces_of_one_id():
    error = refused([vis.Piece("A", 300, 400), vis.Piece("B", 300, 400), vis.Piece("A", 200, 200)])
    assert "share the id A" in error.message


def test_a_piece_too_wide_says_by_how_much():
    """4000 mm of wall less 100 mm at each end leave 3800: 4100 is 300 too wide."""
    error = refused([vis.Piece("banner", 4100, 500), vis.Piece("B", 300, 400)])
    assert "banner is 300 mm too wide" in error.message
    assert "Leave out banner" in error.hint


def test_a_piece_too_tall_says_by_how_much():
    """2600 mm less 100 mm below the ceiling leave 2500."""
    assert "120 mm too tall" in refused([vis.Piece("A", 500, 2620)]).message


def test_more_area_than_there_is_says_how_much_and_which_to_drop():
    """Wall 800 by 900 mm: (800 + 50) (900 + 50) mm²; each piece and gap takes 650 by 550 mm.

    Three need 1.0725 m², 0.8075 m² are there: two fit by area, so one is to be left out.
    """
    pieces = [vis.Piece(f"P{i}", 600, 500) for i in range(3)]
    error = refused(pieces, Survey.from_size(1000, 1000))
    assert "0.27 m² more" in error.message
    assert error.hint.startswith("Leave out P0,")


def test_pieces_that_fit_by_area_only_say_which_to_drop():
    """Free are 800 x 2300 mm: of three 800 mm high only two go one above the other."""
    error = refused([vis.Piece(f"P{i}", 700, 800) for i in range(3)], Survey.from_size(1000, 2400))
    assert "keeps the hard rules" in error.message
    assert "800 x 2300 mm" in error.message
    assert error.hint.startswith("Leave out P0: the others can hang")


def test_as_few_and_as_small_pieces_as_help_are_to_be_dropped():
    """The two narrow ones go beside each other; the banner above them leaves no room for more.

    Of 3000 mm the lowest edge takes 600 and the ceiling's clearance 100.
    """
    pieces = [vis.Piece("banner", 780, 900), vis.Piece("A", 300, 1300), vis.Piece("B", 300, 1300),
              vis.Piece("C", 420, 460)]  # fmt: skip
    error = refused(pieces, Survey.from_size(1000, 3000))
    assert error.hint.startswith("Leave out C: the others can hang")


@pytest.mark.parametrize(
    ("sides", "family", "words"),
    [
        # 9 x 400 + 8 x 57 mm are 4056 mm, of 4000 less 100 at each end
        ([(400, 400)] * 9, "row", "No row of all 9 pieces.*256 mm too wide"),
        # 5 x 500 + 4 x 57 mm are 2728 mm, of 2600 less 100 below the ceiling
        ([(400, 500)] * 5, "column", "No column of all 5 pieces.*228 mm too tall"),
    ],
)
def test_a_family_that_does_not_fit_says_by_how_much(sides, family, words):
    pieces = [vis.Piece(f"P{i}", *map(float, side)) for i, side in enumerate(sides)]
    with pytest.raises(vis.ArrangementError, match=words) as caught:
        vis.propose(pieces, WALL, vis.Guidelines(), families=[family])
    assert "other families" in caught.value.hint


def test_an_outline_that_crosses_itself():
    bow = Polygon(((0, 0), (4000, 2600), (4000, 0), (0, 2600)))
    error = refused([vis.Piece("A", 300, 400)], Survey(bow))
    assert "crosses itself: side 1 meets side 3" in error.message


def test_a_zone_that_crosses_itself():
    bow = Polygon(((1000, 1000), (1400, 1400), (1400, 1000), (1000, 1400)))
    error = refused([vis.Piece("A", 300, 400)], Survey.from_size(4000, 2600, zones=(
        Zone("window", bow, "little window"),)))  # fmt: skip
    assert "little window crosses itself" in error.message


@pytest.mark.parametrize(
    "rules",
    [
        {"gap_min_mm": 80, "gap_max_mm": 60, "gap_mm": 70},
        {"gap_mm": 90},
        {"furniture_share_min": 0.9, "furniture_share_max": 0.5},
        {"furniture_clearance_min_mm": 300, "furniture_clearance_max_mm": 200},
        {"gap_mm": float("nan")},
    ],
)
def test_rules_that_contradict_each_other(rules):
    error = refused([vis.Piece("A", 300, 400)], **rules)
    assert len(error.message) > 10


def test_a_wall_that_its_zones_fill():
    door = Zone("door", Polygon.from_rect(Rect(0, 0, 4000, 2600)))
    error = refused([vis.Piece("A", 300, 400)], Survey.from_size(4000, 2600, zones=(door,)))
    assert "keeps the hard rules" in error.message


@pytest.mark.parametrize(("count", "families"), [(0, None), (3, ["spiral"]), (3, ["triptych"])])
def test_questions_without_an_answer(count, families):
    with pytest.raises(vis.ArrangementError) as caught:
        vis.propose([vis.Piece("A", 300, 400)], WALL, families=families, count=count)
    assert caught.value.hint


@pytest.mark.parametrize("size", [(0, 400), (-300, 400), (float("nan"), 400)])
def test_pieces_without_a_size(size):
    with pytest.raises(vis.PieceError):
        vis.Piece("A", *size)
